#include "gather/nest_shape.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void keep_message(const char *message, void *context) {
    struct nest_geos *g = context;
    snprintf(g->why, sizeof g->why, "%s", message);
}

int nest_geos_init(struct nest_geos *g, struct error *err) {
    g->why[0] = 0;
    g->h = GEOS_init_r();
    if (!g->h) return fail_memory(err);
    GEOSContext_setErrorMessageHandler_r(g->h, keep_message, g);
    GEOSContext_setNoticeMessageHandler_r(g->h, keep_message, g);
    return 0;
}

void nest_geos_deinit(struct nest_geos *g) {
    if (g->h) GEOS_finish_r(g->h);
    g->h = NULL;
}

static GEOSGeometry *ring_geometry(struct nest_geos *g, const double *xy, size_t n) {
    GEOSCoordSequence *s = GEOSCoordSeq_create_r(g->h, (unsigned)n + 1, 2);
    for (size_t i = 0; s && i <= n; i++)
        GEOSCoordSeq_setXY_r(g->h, s, (unsigned)i, xy[2 * (i % n)], xy[2 * (i % n) + 1]);
    GEOSGeometry *line = s ? GEOSGeom_createLinearRing_r(g->h, s) : NULL;
    return line ? GEOSGeom_createPolygon_r(g->h, line, NULL, 0) : NULL;
}

int nest_polygon(GEOSGeometry **out, struct nest_geos *g, const struct nest_ring *ring,
                 const char *name, struct error *err) {
    static const char remedy[] = "Give the corners in order round the edge, in mm, at least three.";
    *out = NULL;
    if (ring->n < 3 || ring->n > 5000)
        return fail(err, ERR_RANGE, remedy, "\"%s\" has %zu corners; 3 to 5,000 can be laid out.",
                    name ? name : "", ring->n);
    for (size_t i = 0; i < 2 * ring->n; i++)
        if (!(fabs(ring->xy[i]) < 1e6))
            return fail(err, ERR_RANGE, remedy, "Corner %zu of \"%s\" is %g mm away.", i / 2 + 1,
                        name ? name : "", ring->xy[i]);
    GEOSGeometry *p = ring_geometry(g, ring->xy, ring->n);
    if (!p)
        return fail(err, ERR_INPUT, remedy, "\"%s\" is no polygon: %s", name ? name : "", g->why);
    double area = 0;
    GEOSArea_r(g->h, p, &area);
    if (GEOSisValid_r(g->h, p) != 1 || !(area > 0)) {
        char *why = GEOSisValidReason_r(g->h, p);
        int rc = fail(err, ERR_INPUT, "Mend the outline so that it does not cross or touch itself.",
                      "The outline of \"%s\" is not sound: %s", name ? name : "",
                      area > 0 && why ? why : "it has no area");
        GEOSFree_r(g->h, why);
        GEOSGeom_destroy_r(g->h, p);
        return rc;
    }
    *out = p;
    return 0;
}

static double cross3(const double *a, const double *b, const double *c) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

static double ring_area(const double *xy, size_t n) {
    double twice = 0;
    for (size_t i = 0; i < n; i++) {
        const double *p = xy + 2 * i, *q = xy + 2 * ((i + 1) % n);
        twice += p[0] * q[1] - q[0] * p[1];
    }
    return twice / 2;
}

/* Joins b to a across a shared edge when the result is convex. Triangles of one triangulation share
 * corners bit for bit, so corners are compared exactly. */
static bool join(struct convex *a, const struct convex *b, double *room) {
    for (size_t i = 0; i < a->n; i++) {
        const double *p = a->xy + 2 * i, *q = a->xy + 2 * ((i + 1) % a->n);
        for (size_t k = 0; k < b->n; k++) {
            const double *r = b->xy + 2 * k, *s = b->xy + 2 * ((k + 1) % b->n);
            if (p[0] != s[0] || p[1] != s[1] || q[0] != r[0] || q[1] != r[1]) continue;
            size_t n = 0;
            for (size_t t = 0; t < a->n; t++, n++) /* a from q round to p */
                memcpy(room + 2 * n, a->xy + 2 * ((i + 1 + t) % a->n), 2 * sizeof *room);
            for (size_t t = 2; t < b->n; t++, n++) /* b after s round to before r */
                memcpy(room + 2 * n, b->xy + 2 * ((k + t) % b->n), 2 * sizeof *room);
            double size = fabs(ring_area(room, n));
            for (size_t t = 0; t < n; t++) /* -1e-9 of the area: straight edges stay straight */
                if (cross3(room + 2 * t, room + 2 * ((t + 1) % n), room + 2 * ((t + 2) % n)) <
                    -1e-9 * size)
                    return false;
            memcpy(a->xy, room, 2 * n * sizeof *room);
            a->n = n;
            return true;
        }
    }
    return false;
}

static int join_all(struct shape *s, struct arena *arena) {
    size_t corners = 0;
    for (size_t i = 0; i < s->pieces; i++)
        corners += s->piece[i].n;
    double *room = ARENA_NEW(arena, double, 2 * corners);
    if (!room) return ERR_MEMORY;
    for (size_t i = 0; i < s->pieces; i++) {
        double *own = ARENA_NEW(arena, double, 2 * corners);
        if (!own) return ERR_MEMORY;
        memcpy(own, s->piece[i].xy, 2 * s->piece[i].n * sizeof *own);
        s->piece[i].xy = own;
        for (size_t k = i + 1; k < s->pieces;) {
            if (!join(&s->piece[i], &s->piece[k], room)) {
                k++;
                continue;
            }
            s->piece[k] = s->piece[--s->pieces];
            k = i + 1; /* the grown piece may now take ones it could not before */
        }
    }
    return 0;
}

static void shape_measure(struct shape *s) {
    s->box = (struct box){INFINITY, INFINITY, -INFINITY, -INFINITY};
    s->area = 0;
    for (size_t i = 0; i < s->pieces; i++) {
        s->area += ring_area(s->piece[i].xy, s->piece[i].n);
        for (size_t k = 0; k < s->piece[i].n; k++) {
            const double *p = s->piece[i].xy + 2 * k;
            s->box.x0 = fmin(s->box.x0, p[0]);
            s->box.y0 = fmin(s->box.y0, p[1]);
            s->box.x1 = fmax(s->box.x1, p[0]);
            s->box.y1 = fmax(s->box.y1, p[1]);
        }
    }
}

static int take_triangle(struct convex *out, struct nest_geos *g, const GEOSGeometry *t,
                         struct arena *arena) {
    const GEOSGeometry *ring = GEOSGetExteriorRing_r(g->h, t);
    const GEOSCoordSequence *s = ring ? GEOSGeom_getCoordSeq_r(g->h, ring) : NULL;
    unsigned n = 0;
    if (!s || !GEOSCoordSeq_getSize_r(g->h, s, &n) || n < 4) return ERR_SOLVE;
    out->n = n - 1;
    out->xy = ARENA_NEW(arena, double, 2 * (size_t)n);
    if (!out->xy) return ERR_MEMORY;
    for (unsigned i = 0; i + 1 < n; i++)
        GEOSCoordSeq_getXY_r(g->h, s, i, &out->xy[2 * i], &out->xy[2 * i + 1]);
    if (ring_area(out->xy, out->n) < 0)
        for (size_t i = 0; i < out->n / 2; i++)
            for (int c = 0; c < 2; c++) {
                double keep = out->xy[2 * i + c];
                out->xy[2 * i + c] = out->xy[2 * (out->n - 1 - i) + c];
                out->xy[2 * (out->n - 1 - i) + c] = keep;
            }
    return 0;
}

int nest_shape_cut(struct shape *out, struct nest_geos *g, const GEOSGeometry *geometry,
                   struct arena *arena, struct error *err) {
    *out = (struct shape){0};
    GEOSGeometry *t = GEOSConstrainedDelaunayTriangulation_r(g->h, geometry);
    if (!t)
        return fail(err, ERR_SOLVE, "Simplify the outline a little.",
                    "An outline could not be cut into triangles: %s", g->why);
    int n = GEOSGetNumGeometries_r(g->h, t), rc = 0;
    out->piece = ARENA_NEW(arena, struct convex, (size_t)n);
    if (!out->piece) rc = ERR_MEMORY;
    for (int i = 0; i < n && !rc; i++)
        rc = take_triangle(&out->piece[out->pieces++], g, GEOSGetGeometryN_r(g->h, t, i), arena);
    GEOSGeom_destroy_r(g->h, t);
    if (!rc) rc = join_all(out, arena);
    if (rc == ERR_MEMORY) return fail_memory(err);
    if (rc) return fail(err, ERR_SOLVE, NULL, "An outline could not be cut into triangles.");
    shape_measure(out);
    return 0;
}

int nest_shape_turn(struct shape *out, const struct shape *in, bool mirrored, bool turned,
                    struct arena *arena) {
    *out = *in;
    out->piece = ARENA_NEW(arena, struct convex, in->pieces);
    if (!out->piece) return ERR_MEMORY;
    for (size_t i = 0; i < in->pieces; i++) {
        size_t n = in->piece[i].n;
        out->piece[i].n = n;
        out->piece[i].xy = ARENA_NEW(arena, double, 2 * n);
        if (!out->piece[i].xy) return ERR_MEMORY;
        double sx = turned ? -1 : 1, sy = (mirrored ? -1 : 1) * sx;
        for (size_t k = 0; k < n; k++) { /* a mirror image runs the other way round */
            const double *from = in->piece[i].xy + 2 * (mirrored ? n - 1 - k : k);
            out->piece[i].xy[2 * k] = sx * from[0];
            out->piece[i].xy[2 * k + 1] = sy * from[1];
        }
    }
    shape_measure(out);
    return 0;
}

static int by_x_then_y(const void *a, const void *b) {
    const double *p = a, *q = b;
    if (p[0] != q[0]) return p[0] < q[0] ? -1 : 1;
    return p[1] < q[1] ? -1 : p[1] > q[1];
}

/* Convex hull by Andrew's monotone chain (Inf. Process. Lett. 9, 1979, 216); p is sorted in place,
 * the hull (counter-clockwise) goes to h with room for n + 1 points. */
static size_t hull(double *p, size_t n, double *h) {
    qsort(p, n, 2 * sizeof *p, by_x_then_y);
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        while (k >= 2 && cross3(h + 2 * (k - 2), h + 2 * (k - 1), p + 2 * i) <= 0)
            k--;
        memcpy(h + 2 * k++, p + 2 * i, 2 * sizeof *h);
    }
    for (size_t i = n - 1, low = k + 1; i-- > 0;) {
        while (k >= low && cross3(h + 2 * (k - 2), h + 2 * (k - 1), p + 2 * i) <= 0)
            k--;
        memcpy(h + 2 * k++, p + 2 * i, 2 * sizeof *h);
    }
    return k - 1;
}

int nest_no_fit_hull(struct convex *out, const struct convex *fixed, const struct convex *moving,
                     struct arena *arena) {
    size_t n = fixed->n * moving->n;
    double *sum = ARENA_NEW(arena, double, 2 * n);
    out->xy = ARENA_NEW(arena, double, 2 * (n + 1));
    if (!sum || !out->xy) return ERR_MEMORY;
    for (size_t i = 0; i < fixed->n; i++)
        for (size_t k = 0; k < moving->n; k++)
            for (int c = 0; c < 2; c++)
                sum[2 * (i * moving->n + k) + (size_t)c] =
                    fixed->xy[2 * i + (size_t)c] - moving->xy[2 * k + (size_t)c];
    out->n = hull(sum, n, out->xy);
    return 0;
}

int nest_no_fit_build(struct no_fit *out, const struct shape *fixed, const struct shape *moving,
                      struct arena *arena) {
    out->box = (struct box){INFINITY, INFINITY, -INFINITY, -INFINITY};
    out->n = 0;
    out->wedge = ARENA_NEW(arena, struct wedge, fixed->pieces * moving->pieces);
    if (!out->wedge) return ERR_MEMORY;
    for (size_t i = 0; i < fixed->pieces; i++)
        for (size_t k = 0; k < moving->pieces; k++) {
            struct convex c;
            struct wedge *w = &out->wedge[out->n++];
            if (nest_no_fit_hull(&c, &fixed->piece[i], &moving->piece[k], arena)) return ERR_MEMORY;
            w->n = c.n;
            w->plane = ARENA_NEW(arena, double, 3 * c.n);
            if (!w->plane) return ERR_MEMORY;
            w->box = (struct box){INFINITY, INFINITY, -INFINITY, -INFINITY};
            for (size_t e = 0; e < c.n; e++) {
                const double *p = c.xy + 2 * e, *q = c.xy + 2 * ((e + 1) % c.n);
                double l = hypot(q[0] - p[0], q[1] - p[1]);
                double *h = w->plane + 3 * e;
                h[0] = (q[1] - p[1]) / l;
                h[1] = -(q[0] - p[0]) / l;
                h[2] = h[0] * p[0] + h[1] * p[1];
                w->box.x0 = fmin(w->box.x0, p[0]);
                w->box.x1 = fmax(w->box.x1, p[0]);
                w->box.y0 = fmin(w->box.y0, p[1]);
                w->box.y1 = fmax(w->box.y1, p[1]);
            }
            out->box.x0 = fmin(out->box.x0, w->box.x0);
            out->box.x1 = fmax(out->box.x1, w->box.x1);
            out->box.y0 = fmin(out->box.y0, w->box.y0);
            out->box.y1 = fmax(out->box.y1, w->box.y1);
        }
    return 0;
}

static bool outside(const struct box *b, double x, double y) {
    return x <= b->x0 || x >= b->x1 || y <= b->y0 || y >= b->y1;
}

double nest_depth(const struct no_fit *f, double x, double y) {
    if (outside(&f->box, x, y)) return 0;
    double sum = 0;
    for (size_t i = 0; i < f->n; i++) {
        const struct wedge *w = &f->wedge[i];
        if (outside(&w->box, x, y)) continue;
        double least = INFINITY;
        for (size_t e = 0; e < w->n && least > 0; e++) {
            const double *h = w->plane + 3 * e;
            double d = h[2] - h[0] * x - h[1] * y;
            if (d < least) least = d;
        }
        if (least > 0) sum += least;
    }
    return sum;
}
