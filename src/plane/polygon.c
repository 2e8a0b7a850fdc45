#include "plane/polygon.h"

#include "base/mem.h"

#include <geos_c.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static double cross(struct plane_point o, struct plane_point a, struct plane_point b) {
    return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}

double plane_polygon_area(const struct plane_point *ring, size_t n) {
    double twice = 0;
    for (size_t i = 1; i + 1 < n; i++)
        twice += cross(ring[0], ring[i], ring[i + 1]);
    return twice / 2;
}

double plane_polygon_perimeter(const struct plane_point *ring, size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        const struct plane_point *a = &ring[i], *b = &ring[(i + 1) % n];
        sum += hypot(b->x - a->x, b->y - a->y);
    }
    return sum;
}

struct plane_point plane_polygon_centroid(const struct plane_point *ring, size_t n) {
    double twice = 0, sx = 0, sy = 0, mx = 0, my = 0;
    for (size_t i = 0; i < n; i++) {
        mx += ring[i].x / n;
        my += ring[i].y / n;
    }
    for (size_t i = 1; i + 1 < n; i++) {
        double w = cross(ring[0], ring[i], ring[i + 1]);
        twice += w;
        sx += w * (ring[0].x + ring[i].x + ring[i + 1].x) / 3;
        sy += w * (ring[0].y + ring[i].y + ring[i + 1].y) / 3;
    }
    if (twice == 0) return (struct plane_point){mx, my};
    return (struct plane_point){sx / twice, sy / twice};
}

static double segment_distance(struct plane_point a, struct plane_point b, struct plane_point p) {
    double dx = b.x - a.x, dy = b.y - a.y, l2 = dx * dx + dy * dy;
    double t = l2 > 0 ? ((p.x - a.x) * dx + (p.y - a.y) * dy) / l2 : 0;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    return hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

double plane_polygon_distance(const struct plane_point *ring, size_t n, struct plane_point p) {
    double best = INFINITY;
    for (size_t i = 0; i < n; i++)
        best = fmin(best, segment_distance(ring[i], ring[(i + 1) % n], p));
    return best;
}

/* Winding number without angles (Sunday 2001; crossings counted by the sign of a cross product). */
bool plane_polygon_contains(const struct plane_point *ring, size_t n, struct plane_point p) {
    long winding = 0;
    for (size_t i = 0; i < n; i++) {
        struct plane_point a = ring[i], b = ring[(i + 1) % n];
        double side = cross(a, b, p);
        if (side == 0 && fmin(a.x, b.x) <= p.x && p.x <= fmax(a.x, b.x) && fmin(a.y, b.y) <= p.y &&
            p.y <= fmax(a.y, b.y))
            return true;
        if (a.y <= p.y && b.y > p.y && side > 0) winding++;
        if (a.y > p.y && b.y <= p.y && side < 0) winding--;
    }
    return winding != 0;
}

void plane_polygon_extent(double *along, double *across, const struct plane_point *ring, size_t n,
                          double angle) {
    double c = cos(angle), s = sin(angle);
    double lo[2] = {INFINITY, INFINITY}, hi[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < n; i++) {
        double u = c * ring[i].x + s * ring[i].y, v = -s * ring[i].x + c * ring[i].y;
        lo[0] = fmin(lo[0], u), hi[0] = fmax(hi[0], u);
        lo[1] = fmin(lo[1], v), hi[1] = fmax(hi[1], v);
    }
    *along = hi[0] - lo[0];
    *across = hi[1] - lo[1];
}

static int by_x(const void *a, const void *b) {
    const struct plane_point *p = a, *q = b;
    if (p->x != q->x) return p->x < q->x ? -1 : 1;
    return p->y < q->y ? -1 : p->y > q->y;
}

size_t plane_polygon_hull(struct plane_point *hull, const struct plane_point *p, size_t n) {
    if (n == 0) return 0;
    struct plane_point *sorted = MEM_NEW(struct plane_point, n);
    struct plane_point *chain = MEM_NEW(struct plane_point, 2 * n);
    size_t k = 0;
    if (sorted && chain) {
        memcpy(sorted, p, n * sizeof *p);
        qsort(sorted, n, sizeof *sorted, by_x);
        for (size_t i = 0; i < n; i++) { /* lower chain */
            while (k >= 2 && cross(chain[k - 2], chain[k - 1], sorted[i]) <= 0)
                k--;
            chain[k++] = sorted[i];
        }
        size_t lower = k + 1;
        for (size_t i = n - 1; i-- > 0;) { /* upper chain */
            while (k >= lower && cross(chain[k - 2], chain[k - 1], sorted[i]) <= 0)
                k--;
            chain[k++] = sorted[i];
        }
        if (k > 1) k--; /* the first corner came twice */
        memcpy(hull, chain, k * sizeof *hull);
    }
    mem_free(sorted);
    mem_free(chain);
    return k;
}

static void quiet(const char *message, void *context) {
    (void)message;
    (void)context;
}

static GEOSContextHandle_t geos_begin(void) {
    GEOSContextHandle_t g = GEOS_init_r();
    if (g) {
        GEOSContext_setErrorMessageHandler_r(g, quiet, NULL);
        GEOSContext_setNoticeMessageHandler_r(g, quiet, NULL);
    }
    return g;
}

static GEOSGeometry *geos_polygon(GEOSContextHandle_t g, const struct plane_point *ring, size_t n) {
    GEOSCoordSequence *s = GEOSCoordSeq_create_r(g, (unsigned)n + 1, 2);
    if (!s) return NULL;
    for (size_t i = 0; i <= n; i++)
        GEOSCoordSeq_setXY_r(g, s, (unsigned)i, ring[i % n].x, ring[i % n].y);
    GEOSGeometry *shell = GEOSGeom_createLinearRing_r(g, s);
    return shell ? GEOSGeom_createPolygon_r(g, shell, NULL, 0) : NULL;
}

static int numbers_check(const struct plane_point *ring, size_t n, struct error *err) {
    if (n < 3)
        return fail(err, ERR_INPUT, "Give at least three corners.", "An outline of %zu corners.",
                    n);
    for (size_t i = 0; i < n; i++)
        if (!isfinite(ring[i].x) || !isfinite(ring[i].y))
            return fail(err, ERR_INPUT, "Measure the corner again or leave it out.",
                        "Corner %zu of the outline has no place.", i + 1);
    return 0;
}

int plane_polygon_check(const struct plane_point *ring, size_t n, struct error *err) {
    int rc = numbers_check(ring, n, err);
    if (rc) return rc;
    GEOSContextHandle_t g = geos_begin();
    GEOSGeometry *poly = g ? geos_polygon(g, ring, n) : NULL, *where = NULL;
    char *reason = NULL;
    if (!poly)
        rc = fail_memory(err);
    else {
        char valid = GEOSisValidDetail_r(g, poly, 0, &reason, &where);
        double x = NAN, y = NAN;
        if (where) {
            GEOSGeomGetX_r(g, where, &x);
            GEOSGeomGetY_r(g, where, &y);
        }
        if (valid != 1)
            rc = fail(err, ERR_INPUT,
                      "Draw the edge again so that it does not cross or touch itself.",
                      "The outline is not a simple ring: %s at x %.2f mm, y %.2f mm.",
                      reason ? reason : "it cannot be read", x, y);
    }
    if (g) {
        if (reason) GEOSFree_r(g, reason);
        GEOSGeom_destroy_r(g, where);
        GEOSGeom_destroy_r(g, poly);
        GEOS_finish_r(g);
    }
    return rc;
}

static int ring_take(struct plane_ring *out, GEOSContextHandle_t g, const GEOSGeometry *polygon,
                     struct arena *arena, struct error *err) {
    const GEOSGeometry *shell = GEOSGetExteriorRing_r(g, polygon);
    const GEOSCoordSequence *s = shell ? GEOSGeom_getCoordSeq_r(g, shell) : NULL;
    unsigned size = 0;
    if (!s || !GEOSCoordSeq_getSize_r(g, s, &size) || size < 4) {
        *out = (struct plane_ring){0};
        return 0;
    }
    out->n = size - 1;
    out->v = ARENA_NEW(arena, struct plane_point, out->n);
    if (!out->v) return fail_memory(err);
    for (unsigned i = 0; i < size - 1; i++)
        GEOSCoordSeq_getXY_r(g, s, i, &out->v[i].x, &out->v[i].y);
    if (plane_polygon_area(out->v, out->n) < 0)
        for (size_t i = 0, k = out->n; i < --k; i++) {
            struct plane_point t = out->v[i];
            out->v[i] = out->v[k], out->v[k] = t;
        }
    return 0;
}

static int larger_first(const void *a, const void *b) {
    const struct plane_ring *p = a, *q = b;
    double x = plane_polygon_area(p->v, p->n), y = plane_polygon_area(q->v, q->n);
    return (x < y) - (x > y);
}

int plane_polygon_offset(struct plane_rings *out, const struct plane_point *ring, size_t n,
                         double distance, struct arena *arena, struct error *err) {
    *out = (struct plane_rings){0};
    int rc = plane_polygon_check(ring, n, err);
    if (rc) return rc;
    if (!isfinite(distance))
        return fail(err, ERR_RANGE, "Give the distance in mm.", "The offset has no value.");
    GEOSContextHandle_t g = geos_begin();
    GEOSGeometry *poly = g ? geos_polygon(g, ring, n) : NULL;
    /* 16 chords to a quarter circle: sagitta of one chord 1 - cos(pi/64) = 0.0012 of the radius. */
    GEOSGeometry *moved = poly ? GEOSBuffer_r(g, poly, distance, 16) : NULL;
    if (!moved)
        rc = fail_memory(err);
    else if (!GEOSisEmpty_r(g, moved)) {
        int parts = GEOSGetNumGeometries_r(g, moved);
        out->v = ARENA_NEW(arena, struct plane_ring, (size_t)parts);
        if (!out->v) rc = fail_memory(err);
        for (int i = 0; !rc && i < parts; i++) {
            rc = ring_take(&out->v[out->n], g, GEOSGetGeometryN_r(g, moved, i), arena, err);
            if (!rc && out->v[out->n].n) out->n++;
        }
        if (!rc) qsort(out->v, out->n, sizeof *out->v, larger_first);
    }
    if (g) {
        GEOSGeom_destroy_r(g, moved);
        GEOSGeom_destroy_r(g, poly);
        GEOS_finish_r(g);
    }
    return rc;
}
