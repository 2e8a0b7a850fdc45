#include "body/shell_case.h"

#include "body/equilibrium.h"
#include "body/part.h"
#include "body/pocket.h"
#include "body/shell_grid.h"
#include "plane/mesh.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* Everything while one case is worked on. */
struct setup {
    const struct case_shell *c;
    struct body_rest rest;
    struct body_shell *shell;
    struct arena *arena;
    struct error *err;
    unsigned char *on_edge;     /* [nv] a free edge passes through */
    int *part;                  /* numbers of the parts in the order of the file */
    struct body_pocket *pocket; /* laths that rub */
    size_t pockets;
    size_t parts;
    int control;
};

struct pick {
    size_t n;
    int *v;
};

static double dot(const double *a, const double *b) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static int vector(const struct setup *w, const struct reals *r, const char *what, double out[3]) {
    memset(out, 0, 3 * sizeof *out);
    if (r->n != 3 && r->n != 2)
        return fail(w->err, ERR_INPUT, "Give x, y and z.", "%s needs three numbers; %zu are given.",
                    what, r->n);
    for (size_t i = 0; i < r->n; i++) {
        if (!isfinite(r->v[i]))
            return fail(w->err, ERR_INPUT, "Give numbers.", "%s is not a number.", what);
        out[i] = r->v[i];
    }
    return 0;
}

static int direction(const struct setup *w, const struct reals *r, const char *what,
                     double out[3]) {
    int rc = vector(w, r, what, out);
    double l = sqrt(dot(out, out));
    if (rc) return rc;
    if (!(l > 0)) return fail(w->err, ERR_INPUT, "Give a direction.", "%s has no length.", what);
    for (int i = 0; i < 3; i++)
        out[i] /= l;
    return 0;
}

/* ---- geometry ---- */

static double *ring(struct setup *w, double a, double b, double exponent, size_t n) {
    double *xy = ARENA_NEW(w->arena, double, 2 * n);
    for (size_t i = 0; xy && i < n; i++) {
        double t = 2 * M_PI * (double)i / (double)n, c = cos(t), s = sin(t);
        xy[2 * i] = a * copysign(pow(fabs(c), 2 / exponent), c);
        xy[2 * i + 1] = b * copysign(pow(fabs(s), 2 / exponent), s);
    }
    return xy;
}

static int meshed(struct setup *w, const struct plane_loop *loops, size_t n) {
    const struct case_geometry *g = &w->c->geometry;
    struct plane_mesh_options o = {.size = g->size > 0 ? g->size : 0,
                                   .triangles = (size_t)g->triangles,
                                   .points = g->points.v,
                                   .n_points = g->points.n};
    struct plane_mesh *m;
    int rc = plane_mesh_new(&m, loops, n, &o, w->err);
    if (rc) return rc;
    struct body_rest *r = &w->rest;
    r->nv = m->nv;
    r->nf = m->nf;
    r->x = arena_alloc(w->arena, r->nv, sizeof *r->x);
    r->uv = arena_alloc(w->arena, r->nv, sizeof *r->uv);
    r->tri = arena_alloc(w->arena, r->nf, sizeof *r->tri);
    if (!r->x || !r->uv || !r->tri) rc = fail_memory(w->err);
    for (int c = 0; c < 2; c++) {
        r->lo[c] = INFINITY;
        r->hi[c] = -INFINITY;
    }
    for (size_t v = 0; !rc && v < m->nv; v++)
        for (int c = 0; c < 2; c++) {
            r->x[v][c] = r->uv[v][c] = m->p[v][c];
            r->lo[c] = fmin(r->lo[c], m->p[v][c]);
            r->hi[c] = fmax(r->hi[c], m->p[v][c]);
        }
    if (!rc) memcpy(r->tri, m->tri, m->nf * sizeof *r->tri);
    plane_mesh_free(m);
    return rc;
}

static int flat_outline(struct setup *w, const double *xy, size_t points) {
    const struct case_geometry *g = &w->c->geometry;
    size_t n = 1 + g->holes.n + (isfinite(g->inner_radius) && g->inner_radius > 0);
    struct plane_loop *loops = ARENA_NEW(w->arena, struct plane_loop, n);
    if (!loops || !xy) return fail_memory(w->err);
    loops[0] = (struct plane_loop){xy, points};
    const struct case_hole *hole = g->holes.v;
    for (size_t i = 0; i < g->holes.n; i++)
        loops[1 + i] = (struct plane_loop){hole[i].outline.v, hole[i].outline.n};
    if (n > 1 + g->holes.n) {
        double *in = ring(w, g->inner_radius, g->inner_radius, 2, 240);
        if (!in) return fail_memory(w->err);
        loops[n - 1] = (struct plane_loop){in, 240};
    }
    return meshed(w, loops, n);
}

static int given_triangles(struct setup *w) {
    const struct case_geometry *g = &w->c->geometry;
    struct body_rest *r = &w->rest;
    if (g->vertices.n < 3 || g->faces.n < 1)
        return fail(w->err, ERR_MISSING, "Give vertices and faces.",
                    "The mesh has %zu vertices and %zu triangles.", g->vertices.n, g->faces.n);
    r->nv = g->vertices.n;
    r->nf = g->faces.n;
    r->x = (double(*)[3])g->vertices.v;
    r->uv = arena_alloc(w->arena, r->nv, sizeof *r->uv);
    r->tri = arena_alloc(w->arena, r->nf, sizeof *r->tri);
    if (!r->uv || !r->tri) return fail_memory(w->err);
    for (int c = 0; c < 2; c++) {
        r->lo[c] = INFINITY;
        r->hi[c] = -INFINITY;
        for (size_t v = 0; v < r->nv; v++) {
            r->uv[v][c] = r->x[v][c];
            r->lo[c] = fmin(r->lo[c], r->x[v][c]);
            r->hi[c] = fmax(r->hi[c], r->x[v][c]);
        }
    }
    for (size_t f = 0; f < r->nf; f++)
        for (int i = 0; i < 3; i++) {
            double k = g->faces.v[3 * f + (size_t)i];
            if (!(k >= 0) || k >= (double)r->nv || k != floor(k))
                return fail(w->err, ERR_INPUT, "Count vertices from 0.",
                            "Triangle %zu names vertex %g of %zu.", f, k, r->nv);
            r->tri[f][i] = (int)k;
        }
    return body_rest_check_flat(r, w->arena, w->err);
}

static int positive(const struct setup *w, double v, const char *name) {
    if (v > 0 && isfinite(v)) return 0;
    return fail(w->err, ERR_MISSING, "Give a size above 0.", "This shape needs %s above 0.", name);
}

static int geometry(struct setup *w) {
    const struct case_geometry *g = &w->c->geometry;
    struct body_grid grid = {.nu = (size_t)g->divide_u,
                             .nv = (size_t)g->divide_v,
                             .jitter = g->jitter,
                             .diagonals = (int)g->diagonals,
                             .seed = (unsigned)g->seed,
                             .closed = g->closed > 0,
                             .u0 = g->from_angle,
                             .u1 = g->to_angle,
                             .radius = g->radius};
    int rc = 0;
    switch (g->kind) {
    case 0:
        if ((rc = positive(w, g->width, "width")) || (rc = positive(w, g->height, "height")))
            return rc;
        grid.map = BODY_GRID_RECTANGLE;
        grid.u0 = 0;
        grid.u1 = g->width;
        grid.v1 = g->height;
        return body_grid_make(&w->rest, &grid, w->arena, w->err);
    case 1:
        grid.map = BODY_GRID_ANNULUS;
        grid.v0 = g->inner_radius;
        grid.v1 = g->outer_radius;
        return body_grid_make(&w->rest, &grid, w->arena, w->err);
    case 2:
        if ((rc = positive(w, g->width, "width (the length along its axis)"))) return rc;
        grid.map = BODY_GRID_CYLINDER;
        grid.v1 = g->width;
        return body_grid_make(&w->rest, &grid, w->arena, w->err);
    case 3:
        grid.map = BODY_GRID_SPHERE;
        grid.v0 = g->from_latitude;
        grid.v1 = g->to_latitude;
        return body_grid_make(&w->rest, &grid, w->arena, w->err);
    case 4:
        if ((rc = positive(w, g->width, "width")) || (rc = positive(w, g->height, "height")))
            return rc;
        return flat_outline(w, ring(w, g->width / 2, g->height / 2, g->exponent, 480), 480);
    case 5:
        if ((rc = positive(w, g->radius, "radius"))) return rc;
        return flat_outline(w, ring(w, g->radius, g->radius, 2, 480), 480);
    case 6:
        if (g->outline.n < 3)
            return fail(w->err, ERR_MISSING, "Give its points.", "The polygon has no outline.");
        return flat_outline(w, g->outline.v, g->outline.n);
    default:
        return given_triangles(w);
    }
}

/* ---- selections ---- */

static int nearest(const struct setup *w, const double *p) {
    double best = INFINITY;
    int at = 0;
    for (size_t v = 0; v < w->rest.nv; v++) {
        double d[3] = {w->rest.x[v][0] - p[0], w->rest.x[v][1] - p[1], w->rest.x[v][2] - p[2]};
        double r = dot(d, d);
        if (r < best * (1 - 1e-12)) {
            best = r;
            at = (int)v;
        }
    }
    return at;
}

static int is_empty(const struct case_select *s) {
    return !s->points.n && s->edge <= 0 && !s->box.n && !s->plane.n && !s->circle.n &&
           !s->vertices.n && s->all <= 0;
}

static int meets(const struct setup *w, const struct case_select *s, size_t v) {
    const double *x = w->rest.x[v], *uv = w->rest.uv[v];
    double size = 0;
    for (int c = 0; c < 2; c++)
        size = fmax(size, w->rest.hi[c] - w->rest.lo[c]);
    if (s->edge >= 1 && s->edge <= 4) {
        int c = s->edge > 2;
        double at = s->edge & 1 ? w->rest.lo[c] : w->rest.hi[c];
        if (fabs(uv[c] - at) > 1e-9 * size) return 0;
    }
    if (s->edge == 5 && !w->on_edge[v]) return 0;
    for (int c = 0; c < 3 && s->box.n == 6; c++) {
        double a = fmin(s->box.v[c], s->box.v[3 + c]), b = fmax(s->box.v[c], s->box.v[3 + c]);
        double slack = 1e-9 * (fabs(a) + fabs(b) + size);
        if (x[c] < a - slack || x[c] > b + slack) return 0;
    }
    if (s->plane.n == 6) {
        double d[3] = {x[0] - s->plane.v[0], x[1] - s->plane.v[1], x[2] - s->plane.v[2]};
        double far = sqrt(dot(x, x)) + size;
        if (fabs(dot(d, s->plane.v + 3)) > 1e-8 * far * sqrt(dot(s->plane.v + 3, s->plane.v + 3)))
            return 0;
    }
    if (s->circle.n == 4) {
        double d[3] = {x[0] - s->circle.v[0], x[1] - s->circle.v[1], x[2] - s->circle.v[2]};
        if (sqrt(dot(d, d)) > s->circle.v[3] * (1 + 1e-9)) return 0;
    }
    return 1;
}

static int select_vertices(const struct setup *w, const struct case_select *s, const char *what,
                           struct pick *out) {
    size_t nv = w->rest.nv;
    *out = (struct pick){0, ARENA_NEW(w->arena, int, nv + s->points.n + s->vertices.n)};
    if (!out->v) return fail_memory(w->err);
    if ((s->box.n && s->box.n != 6) || (s->plane.n && s->plane.n != 6) ||
        (s->circle.n && s->circle.n != 4))
        return fail(w->err, ERR_INPUT, "A box has 6 numbers, a plane 6, a circle 4.",
                    "%s: a box, plane or circle has the wrong count of numbers.", what);
    if (s->points.n) {
        for (size_t i = 0; i < s->points.n; i++) {
            const double *p = s->points.v + 3 * i;
            if (!isfinite(p[0] + p[1] + p[2]))
                return fail(w->err, ERR_INPUT, "Give numbers.", "%s: a point is not a number.",
                            what);
            int v = nearest(w, p);
            if (meets(w, s, (size_t)v)) out->v[out->n++] = v;
        }
    } else if (s->vertices.n) {
        for (size_t i = 0; i < s->vertices.n; i++) {
            long v = s->vertices.v[i];
            if (v < 0 || (size_t)v >= nv)
                return fail(w->err, ERR_INPUT, "Count vertices from 0.",
                            "%s: there is no vertex %ld.", what, v);
            if (meets(w, s, (size_t)v)) out->v[out->n++] = (int)v;
        }
    } else
        for (size_t v = 0; v < nv; v++)
            if (meets(w, s, v)) out->v[out->n++] = (int)v;
    if (out->n == 0)
        return fail(w->err, ERR_INPUT, "Check its rules against the geometry.",
                    "%s selects no vertex.", what);
    return 0;
}

static unsigned char *mask_of(const struct setup *w, const struct pick *p) {
    unsigned char *m = ARENA_NEW(w->arena, unsigned char, w->rest.nv);
    for (size_t i = 0; m && i < p->n; i++)
        m[p->v[i]] = 1;
    return m;
}

static int face_on(const struct setup *w, const unsigned char *m, size_t f) {
    const int *t = w->rest.tri[f];
    return m[t[0]] && m[t[1]] && m[t[2]];
}

/* ---- the sheet ---- */

static void find_edges(struct setup *w) {
    /* a free edge belongs to one triangle: count how often each vertex's neighbours come round it
     */
    struct body_rest *r = &w->rest;
    for (size_t f = 0; f < r->nf; f++)
        for (int i = 0; i < 3; i++)
            if (body_shell_across(w->shell, f, i) < 0)
                w->on_edge[r->tri[f][(i + 1) % 3]] = w->on_edge[r->tri[f][(i + 2) % 3]] = 1;
}

static int layers(struct setup *w, double factor, struct body_laminate *out) {
    const struct case_layer *l = w->c->layers.v;
    size_t n = w->c->layers.n;
    struct body_ply *p = ARENA_NEW(w->arena, struct body_ply, n ? n : 1);
    if (!p) return fail_memory(w->err);
    for (size_t i = 0; i < n; i++) {
        double e1 = isfinite(l[i].e1) ? l[i].e1 : l[i].e, e2 = isfinite(l[i].e2) ? l[i].e2 : l[i].e,
               g = l[i].g12;
        if (isfinite(l[i].e1) != isfinite(l[i].e2) || !(isfinite(e1) && isfinite(e2)))
            return fail(w->err, ERR_MISSING, "Give e, or e1 and e2.",
                        "Layer %zu has no full set of moduli.", i + 1);
        if (!isfinite(g)) {
            if (e1 != e2)
                return fail(w->err, ERR_MISSING, "Give g12.", "Layer %zu needs g12.", i + 1);
            g = e1 / 2 / (1 + l[i].nu12);
        }
        p[i] = (struct body_ply){.e1 = e1,
                                 .e2 = e2,
                                 .nu12 = l[i].nu12,
                                 .g12 = g,
                                 .thickness = l[i].thickness * factor,
                                 .angle = l[i].angle,
                                 .density = l[i].density,
                                 .free1 = l[i].free1,
                                 .free2 = l[i].free2};
    }
    return body_laminate_make(out, p, n, w->err);
}

static double thickness_at(const struct setup *w, const double *x) {
    const struct tuples *t = &w->c->thickness_factor;
    if (!t->n) return 1;
    double f = 0;
    for (size_t i = 0; i < t->n; i++)
        f += t->v[3 * i] * pow(x[0], t->v[3 * i + 1]) * pow(x[1], t->v[3 * i + 2]);
    return f;
}

static int face_axis(struct setup *w, size_t f, const double mid[3]) {
    double a[3] = {1, 0, 0}, along;
    int rc = w->c->axis.n ? direction(w, &w->c->axis, "axis", a) : 0;
    if (rc || (w->c->axis_kind == 0 && !w->c->axis.n)) return rc;
    if (w->c->axis_kind > 0) {
        if (!w->c->axis.n) memcpy(a, (double[3]){0, 0, 1}, sizeof a);
        double r[3], t[3];
        along = dot(mid, a);
        for (int c = 0; c < 3; c++)
            r[c] = mid[c] - along * a[c];
        for (int c = 0; c < 3; c++)
            t[c] = a[(c + 1) % 3] * r[(c + 2) % 3] - a[(c + 2) % 3] * r[(c + 1) % 3];
        memcpy(a, w->c->axis_kind == 1 ? t : r, sizeof a);
    }
    return body_shell_axis(w->shell, f, a, w->err);
}

static int materials(struct setup *w) {
    struct body_laminate base, l;
    int rc = layers(w, 1, &base);
    for (size_t f = 0; !rc && f < w->rest.nf; f++) {
        double mid[3] = {0};
        for (int i = 0; i < 3; i++)
            for (int c = 0; c < 3; c++)
                mid[c] += w->rest.x[w->rest.tri[f][i]][c] / 3;
        rc = face_axis(w, f, mid);
        if (rc) return rc;
        if (w->c->thickness_factor.n) {
            double k = thickness_at(w, mid);
            if (!(k > 0) || !isfinite(k))
                return fail(w->err, ERR_RANGE, "Give a factor above 0 everywhere.",
                            "The thickness factor is %g at (%g, %g, %g).", k, mid[0], mid[1],
                            mid[2]);
            body_laminate_scale(&l, &base, k);
            body_shell_material(w->shell, f, &l);
        } else
            body_shell_material(w->shell, f, &base);
    }
    return rc;
}

/* A flat sheet that would curl by itself to more than a whole turn: it would pass through itself,
 * as a sheet wider than its tree is round. With some twist it may wind to a helix. */
static int curls_up(struct setup *w, const struct case_natural *n) {
    const double *k = n->curvature.v, *axis = w->c->axis.n == 3 ? w->c->axis.v : NULL;
    if (n->curvature.n != 3 || !is_empty(&n->where) || w->c->axis_kind > 0 || k[2] != 0) return 0;
    for (size_t v = 0; v < w->rest.nv; v++)
        if (w->rest.x[v][2] != w->rest.x[0][2]) return 0;
    double turned = (axis ? atan2(axis[1], axis[0]) : 0) + n->angle;
    for (int c = 0; c < 2; c++) {
        double a = turned + c * M_PI / 2, low = INFINITY, high = -INFINITY;
        for (size_t v = 0; v < w->rest.nv; v++) {
            double t = cos(a) * w->rest.x[v][0] + sin(a) * w->rest.x[v][1];
            low = fmin(low, t);
            high = fmax(high, t);
        }
        if (fabs(k[c]) * (high - low) > 2.02 * M_PI) /* a ring may just close */
            return fail(w->err, ERR_RANGE, "Give a gentler natural curvature or a narrower sheet.",
                        "The sheet is %.4g mm wide, but a stem of its natural radius of %.4g mm is "
                        "only %.4g mm round.",
                        high - low, 1 / fabs(k[c]), 2 * M_PI / fabs(k[c]));
    }
    return 0;
}

static int natural_state(struct setup *w) {
    const struct case_natural *n = w->c->natural.v;
    for (size_t k = 0; k < w->c->natural.n; k++) {
        double curvature[3], strain[3];
        struct pick pick;
        unsigned char *mask = NULL;
        int rc = 0;
        if ((n[k].curvature.n && n[k].curvature.n != 3) || (n[k].strain.n && n[k].strain.n != 3))
            return fail(w->err, ERR_INPUT, "Give 11, 22 and twice 12.",
                        "A natural state needs three numbers.");
        if (!is_empty(&n[k].where)) {
            rc = select_vertices(w, &n[k].where, "natural.where", &pick);
            if (!rc && !(mask = mask_of(w, &pick))) rc = fail_memory(w->err);
        }
        if (rc) return rc;
        if (n[k].curvature.n) body_voigt_turn(curvature, n[k].curvature.v, n[k].angle);
        if (n[k].strain.n) body_voigt_turn(strain, n[k].strain.v, n[k].angle);
        for (int c = 0; c < 3; c++)
            if ((n[k].curvature.n && !(fabs(curvature[c]) < 1e6)) ||
                (n[k].strain.n && !(fabs(strain[c]) < 1)))
                return fail(w->err, ERR_RANGE, "Give curvature in 1/mm and strain as a fraction.",
                            "A natural curvature or strain is out of range.");
        if ((rc = curls_up(w, &n[k]))) return rc;
        for (size_t f = 0; f < w->rest.nf; f++)
            if (!mask || face_on(w, mask, f))
                body_shell_natural(w->shell, f, n[k].strain.n ? strain : NULL,
                                   n[k].curvature.n ? curvature : NULL);
    }
    return 0;
}

/* ---- parts ---- */

static double or_else(double v, double other) {
    return isfinite(v) ? v : other;
}

/* A lath in a pocket: room, and how a pull along it is passed on. With room alone it is held. */
static void put_pocket(struct setup *w, const struct case_lath *l, struct body_lath *b) {
    if (!(l->room > 0) && !isfinite(l->friction) && !isfinite(l->gripped)) return;
    double d[3] = {b->b[0] - b->a[0], b->b[1] - b->a[1], b->b[2] - b->a[2]};
    const struct body_pocket_room room = {
        .play = or_else(l->room, 0),
        .width = or_else(l->width, 0),
        .span = sqrt(dot(d, d)),
        .friction = or_else(l->friction, 0),
        .gripped = or_else(l->gripped, isfinite(l->friction) ? 0 : INFINITY)};
    body_pocket_play(b, &room);
    if (room.friction > 0 && isfinite(room.gripped) && b->ea > 0)
        w->pocket[w->pockets++] = (struct body_pocket){.part = (int)w->parts,
                                                       .span = room.span,
                                                       .friction = room.friction,
                                                       .gripped = room.gripped};
}

static int add_laths(struct setup *w) {
    const struct case_lath *l = w->c->laths.v;
    for (size_t i = 0; i < w->c->laths.n; i++) {
        struct body_lath b = {.z = l[i].height, .curvature = l[i].curvature, .strain = l[i].strain};
        int rc = vector(w, &l[i].from, "lath.from", b.a);
        if (!rc) rc = vector(w, &l[i].to, "lath.to", b.b);
        if (!rc && l[i].up.n) rc = direction(w, &l[i].up, "lath.up", b.up);
        if (rc) return rc;
        double wd = l[i].width, t = l[i].thickness;
        b.ei = or_else(l[i].ei, l[i].e * wd * t * t * t / 12);
        b.ea =
            l[i].slides > 0 ? 0 : or_else(l[i].ea, isfinite(l[i].e * wd * t) ? l[i].e * wd * t : 0);
        b.gj = or_else(l[i].gj, isfinite(wd * t) ? l[i].g * wd * t * t * t / 3 : 0);
        b.mass = isfinite(wd * t) ? l[i].density * wd * t : 0;
        if (!isfinite(b.ei))
            return fail(w->err, ERR_MISSING, "Give ei, or e, width and thickness.",
                        "Lath %zu has no stiffness.", i);
        put_pocket(w, &l[i], &b);
        rc = body_part_lath(w->shell, &b, 0.98, &w->part[w->parts++], w->err);
        if (rc) return rc;
    }
    return 0;
}

/* Vertices along the free edge in order, those in the mask only. */
static size_t edge_chain(struct setup *w, const unsigned char *mask, int *chain) {
    size_t nv = w->rest.nv, n = 0;
    int *next = ARENA_NEW(w->arena, int, nv), *before = ARENA_NEW(w->arena, int, nv), start = -1;
    if (!next || !before) return 0;
    memset(next, -1, nv * sizeof *next);
    memset(before, -1, nv * sizeof *before);
    for (size_t f = 0; f < w->rest.nf; f++)
        for (int i = 0; i < 3; i++) {
            int a = w->rest.tri[f][(i + 1) % 3], b = w->rest.tri[f][(i + 2) % 3];
            if (body_shell_across(w->shell, f, i) >= 0 || (mask && (!mask[a] || !mask[b])))
                continue;
            next[a] = b;
            before[b] = a;
        }
    for (size_t v = 0; v < nv && start < 0; v++)
        if (next[v] >= 0 && before[v] < 0) start = (int)v;
    for (size_t v = 0; v < nv && start < 0; v++)
        if (next[v] >= 0) start = (int)v;
    if (start < 0) return 0;
    for (int v = start; v >= 0 && n <= nv; v = next[v]) {
        chain[n++] = v;
        if (n > 1 && v == start) break;
    }
    return n;
}

static int add_edge_rods(struct setup *w) {
    const struct case_edge_rod *r = w->c->edge_rods.v;
    for (size_t i = 0; i < w->c->edge_rods.n; i++) {
        unsigned char *mask = NULL;
        struct pick pick;
        int *chain = ARENA_NEW(w->arena, int, w->rest.nv + 1);
        if (!chain) return fail_memory(w->err);
        if (!is_empty(&r[i].on)) {
            int rc = select_vertices(w, &r[i].on, "edge_rod.on", &pick);
            if (rc) return rc;
            if (!(mask = mask_of(w, &pick))) return fail_memory(w->err);
        }
        double d2 = r[i].diameter * r[i].diameter, inertia = M_PI * d2 * d2 / 64;
        struct body_edge_rod b = {.vertices = chain,
                                  .n = edge_chain(w, mask, chain),
                                  .z = r[i].height,
                                  .strain = r[i].strain,
                                  .set_normal = r[i].curvature,
                                  .set_inplane = r[i].set};
        b.ei_normal = or_else(r[i].ei, r[i].e * inertia);
        b.ei_inplane = or_else(r[i].ei_inplane, isfinite(r[i].e * inertia) ? r[i].e * inertia : 0);
        b.gj = or_else(r[i].gj, isfinite(inertia) ? r[i].g * 2 * inertia : 0);
        b.ea = or_else(r[i].ea, isfinite(r[i].e * d2) ? r[i].e * M_PI * d2 / 4 : 0);
        if (!isfinite(b.ei_normal))
            return fail(w->err, ERR_MISSING, "Give ei, or e and diameter.",
                        "Edge rod %zu has no stiffness.", i);
        int rc = body_part_edge_rod(w->shell, &b, &w->part[w->parts++], w->err);
        if (rc) return rc;
    }
    return 0;
}

/* The triangle nearest to a point, and the point's foot in it. */
static size_t foot(const struct setup *w, const double p[3], double bary[3], double *off) {
    double best = INFINITY;
    size_t at = 0;
    for (size_t f = 0; f < w->rest.nf; f++) {
        const int *t = w->rest.tri[f];
        const double *a = w->rest.x[t[0]], *b = w->rest.x[t[1]], *c = w->rest.x[t[2]];
        double u[3], v[3], q[3], uu, uv, vv, s, r, d, far = 0, here[3];
        for (int k = 0; k < 3; k++) {
            u[k] = b[k] - a[k];
            v[k] = c[k] - a[k];
            q[k] = p[k] - a[k];
        }
        uu = dot(u, u), uv = dot(u, v), vv = dot(v, v);
        d = uu * vv - uv * uv;
        s = (vv * dot(u, q) - uv * dot(v, q)) / d;
        r = (uu * dot(v, q) - uv * dot(u, q)) / d;
        double l[3] = {1 - s - r, s, r}, sum = 0; /* pulled to the nearest edge when outside */
        for (int k = 0; k < 3; k++)
            sum += l[k] = fmax(l[k], 0);
        for (int k = 0; k < 3; k++) {
            l[k] /= sum;
        }
        for (int k = 0; k < 3; k++) {
            here[k] = p[k] - l[0] * a[k] - l[1] * b[k] - l[2] * c[k];
            far += here[k] * here[k];
        }
        if (far >= best) continue;
        double n[3] = {u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2],
                       u[0] * v[1] - u[1] * v[0]};
        best = far;
        at = f;
        memcpy(bary, l, sizeof l);
        *off = dot(here, n) / sqrt(dot(n, n));
    }
    return at;
}

static int add_rods(struct setup *w) {
    const struct case_rod *r = w->c->rods.v;
    for (size_t i = 0; i < w->c->rods.n; i++) {
        size_t n = r[i].points.n, *node = ARENA_NEW(w->arena, size_t, n ? n : 1);
        int *near = ARENA_NEW(w->arena, int, n ? n : 1), rc = 0;
        if (!node || !near) return fail_memory(w->err);
        for (size_t k = 0; k < n && !rc; k++) {
            rc = body_part_node(w->shell, r[i].points.v + 3 * k, &node[k], w->err);
            near[k] = rc ? 0 : nearest(w, r[i].points.v + 3 * k);
        }
        double d2 = r[i].diameter * r[i].diameter;
        struct body_rod b = {.nodes = node,
                             .n = n,
                             .closed = r[i].closed > 0,
                             .set = r[i].set,
                             .strain = r[i].strain,
                             .near = near};
        b.ei = or_else(r[i].ei, r[i].e * M_PI * d2 * d2 / 64);
        b.ea = or_else(r[i].ea, r[i].e * M_PI * d2 / 4);
        if (!isfinite(b.ei) || !isfinite(b.ea))
            rc = fail(w->err, ERR_MISSING, "Give ei and ea, or e and diameter.",
                      "Rod %zu has no stiffness.", i);
        if (!rc) rc = body_part_rod(w->shell, &b, &w->part[w->parts++], w->err);
        size_t step = (size_t)fmax(1, r[i].tie_every);
        for (size_t k = 0; k < n && !rc; k += step) {
            struct body_tie t = {.node = node[k],
                                 .stiffness = r[i].tie_stiffness,
                                 .cord = r[i].cord > 0,
                                 .slack = r[i].tie_slack};
            t.face = foot(w, r[i].points.v + 3 * k, t.bary, &t.off);
            rc = body_part_tie(w->shell, &t, NULL, w->err);
        }
        if (rc) return rc;
    }
    return 0;
}

static int mean_spring(struct setup *w, const struct case_select *at, const struct reals *dir,
                       double k, double target, const char *what, int *part) {
    struct pick pick;
    double d[3];
    int rc = select_vertices(w, at, what, &pick);
    if (!rc) rc = direction(w, dir, what, d);
    if (rc) return rc;
    size_t *nodes = ARENA_NEW(w->arena, size_t, pick.n);
    double(*weight)[3] = arena_alloc(w->arena, pick.n, sizeof *weight);
    if (!nodes || !weight) return fail_memory(w->err);
    for (size_t i = 0; i < pick.n; i++) {
        nodes[i] = (size_t)pick.v[i];
        for (int c = 0; c < 3; c++)
            weight[i][c] = d[c] / (double)pick.n;
    }
    struct body_spring s = {nodes, (const double(*)[3])weight, pick.n, k, target};
    return body_part_spring(w->shell, &s, part, w->err);
}

static int add_others(struct setup *w) {
    const struct case_spring *s = w->c->springs.v;
    int rc = 0;
    for (size_t i = 0; i < w->c->springs.n && !rc; i++)
        rc = mean_spring(w, &s[i].at, &s[i].direction, s[i].stiffness, s[i].target, "springs",
                         &w->part[w->parts++]);
    const struct case_grip *g = w->c->grips.v;
    for (size_t i = 0; i < w->c->grips.n && !rc; i++) {
        struct pick a, b;
        rc = select_vertices(w, &g[i].seat_a, "grip.seat_a", &a);
        if (!rc) rc = select_vertices(w, &g[i].seat_b, "grip.seat_b", &b);
        if (rc) break;
        struct body_grip grip = {.seat = {a.v, b.v},
                                 .n = {a.n, b.n},
                                 .chord = g[i].chord,
                                 .chord_stiffness = g[i].chord_stiffness,
                                 .slope = {g[i].slope_a, g[i].slope_b},
                                 .slope_stiffness = g[i].slope_stiffness,
                                 .bar_ei = g[i].bar_ei};
        rc = body_part_grip(w->shell, &grip, &w->part[w->parts++], w->err);
    }
    const struct case_former *f = w->c->formers.v;
    for (size_t i = 0; i < w->c->formers.n && !rc; i++) {
        struct body_former former = {.radius = f[i].radius, .stiffness = f[i].stiffness};
        rc = vector(w, &f[i].at, "former.at", former.at);
        if (!rc) rc = vector(w, &f[i].axis, "former.axis", former.axis);
        if (!rc) rc = body_part_former(w->shell, &former, &w->part[w->parts++], w->err);
    }
    return rc;
}

/* ---- supports and loads ---- */

/* Keeps the normal from turning about `axis`. */
static void fix_turn(struct setup *w, size_t v, const double axis[3]) {
    const double *n = body_shell_normal(w->shell)[v];
    double t[3];
    for (int c = 0; c < 3; c++)
        t[c] = axis[(c + 1) % 3] * n[(c + 2) % 3] - axis[(c + 2) % 3] * n[(c + 1) % 3];
    if (dot(t, t) < 1e-6) return; /* a turn within the sheet moves no normal */
    if (body_shell_fixed(w->shell, v) & BODY_FIX_TILT1) {
        body_shell_fix(w->shell, v, BODY_FIX_TILT2);
    } else {
        body_shell_tangent(w->shell, v, t);
        body_shell_fix(w->shell, v, BODY_FIX_TILT1);
    }
}

static int fix_word(struct setup *w, size_t v, const char *word) {
    static const char *const words[] = {"x",          "y",          "z",         "rx",
                                        "ry",         "rz",         "pinned",    "clamped",
                                        "symmetry_x", "symmetry_y", "symmetry_z"};
    int k = -1;
    for (int i = 0; i < 11; i++)
        if (strcmp(word, words[i]) == 0) k = i;
    double axis[3] = {k % 3 == 0, k % 3 == 1, k % 3 == 2};
    if (k < 0) {
        const char *near = field_nearest(word, words, 11);
        char remedy[160];
        snprintf(remedy, sizeof remedy,
                 "%s%s%sUse x y z rx ry rz pinned clamped symmetry_x symmetry_y symmetry_z.",
                 near ? "Did you mean " : "", near ? near : "", near ? "? " : "");
        return fail(w->err, ERR_INPUT, remedy, "A support has the word \"%s\".", word);
    }
    if (k < 3)
        body_shell_fix(w->shell, v, 1u << k);
    else if (k < 6)
        fix_turn(w, v, axis);
    else if (k == 6)
        body_shell_fix(w->shell, v, BODY_FIX_PLACE);
    else if (k == 7)
        body_shell_fix(w->shell, v, BODY_FIX_ALL);
    else
        return body_shell_symmetry(w->shell, v, (double[3]){k == 8, k == 9, k == 10}, w->err);
    return 0;
}

/* A direction to hold: axes of its own unless it is an axis of space. */
static int fix_along(struct setup *w, size_t v, const double d[3]) {
    for (int c = 0; c < 3; c++)
        if (fabs(d[c]) > 1 - 1e-12) {
            body_shell_fix(w->shell, v, 1u << c);
            return 0;
        }
    if (body_shell_fixed(w->shell, v) & BODY_FIX_PLACE)
        return fail(w->err, ERR_INPUT, "Hold it along x, y, z or along one direction only.",
                    "Vertex %zu is held along a slanting direction and another one.", v);
    double q[3][3];
    int k = fabs(d[0]) < fabs(d[1]) ? (fabs(d[0]) < fabs(d[2]) ? 0 : 2)
                                    : (fabs(d[1]) < fabs(d[2]) ? 1 : 2);
    memcpy(q[0], d, sizeof q[0]);
    for (int c = 0; c < 3; c++)
        q[1][c] = (c == k) - d[k] * d[c];
    double l = sqrt(dot(q[1], q[1]));
    for (int c = 0; c < 3; c++)
        q[1][c] /= l;
    for (int c = 0; c < 3; c++)
        q[2][c] = q[0][(c + 1) % 3] * q[1][(c + 2) % 3] - q[0][(c + 2) % 3] * q[1][(c + 1) % 3];
    body_shell_support_axes(w->shell, v, (const double(*)[3])q);
    body_shell_fix(w->shell, v, BODY_FIX_X);
    return 0;
}

static int supports(struct setup *w) {
    const struct case_support *s = w->c->supports.v;
    for (size_t i = 0; i < w->c->supports.n; i++) {
        struct pick pick;
        double normal[3], along[3], move[3] = {0}, turn[3] = {0};
        int rc = select_vertices(w, &s[i].at, "supports.at", &pick);
        if (!rc && s[i].normal.n) rc = direction(w, &s[i].normal, "support.normal", normal);
        if (!rc && s[i].along.n) rc = direction(w, &s[i].along, "support.along", along);
        if (!rc && s[i].move.n) rc = vector(w, &s[i].move, "support.move", move);
        if (!rc && s[i].turn.n) rc = vector(w, &s[i].turn, "support.turn", turn);
        for (size_t k = 0; k < pick.n && !rc; k++) {
            size_t v = (size_t)pick.v[k];
            if (s[i].turn.n && dot(turn, turn) > 0 &&
                !(body_shell_fixed(w->shell, v) & BODY_FIX_TILT1))
                body_shell_tangent(w->shell, v, turn);
            for (size_t j = 0; j < s[i].fix.n && !rc; j++)
                rc = fix_word(w, v, s[i].fix.v[j]);
            if (!rc && s[i].normal.n) rc = body_shell_symmetry(w->shell, v, normal, w->err);
            if (!rc && s[i].along.n) rc = fix_along(w, v, along);
            if (!rc && (s[i].move.n || s[i].turn.n)) {
                double by[5] = {move[0], move[1], move[2], 0, 0}, p[2][3];
                body_shell_tangents(w->shell, v, p[0], p[1]);
                by[3] = dot(turn, p[1]);
                by[4] = -dot(turn, p[0]);
                body_shell_move(w->shell, v, by);
            }
        }
        if (rc) return rc;
    }
    const struct case_shell *c = w->c;
    int rc = c->hold > 0 ? body_shell_hold(w->shell, w->err) : 0;
    if (rc) return rc;
    if (c->loads.n && !c->supports.n && !(c->hold > 0) && !c->springs.n && !c->formers.n)
        return fail(w->err, ERR_INPUT,
                    "Give supports; hold: true when the loads are in balance by themselves.",
                    "Nothing holds the sheet against its loads.");
    return 0;
}

static double edge_length(const struct setup *w, int a, int b) {
    double d[3];
    for (int c = 0; c < 3; c++)
        d[c] = w->rest.x[b][c] - w->rest.x[a][c];
    return sqrt(dot(d, d));
}

/* Calls for each mesh edge between selected vertices once: free edges only, unless none is free. */
static void line_weights(const struct setup *w, const unsigned char *mask, double *weight) {
    for (int free_only = 1; free_only >= 0; free_only--) {
        double sum = 0;
        for (size_t f = 0; f < w->rest.nf; f++)
            for (int i = 0; i < 3; i++) {
                int a = w->rest.tri[f][(i + 1) % 3], b = w->rest.tri[f][(i + 2) % 3];
                int across = body_shell_across(w->shell, f, i);
                if (!mask[a] || !mask[b] ||
                    (free_only ? across >= 0 : across >= 0 && (size_t)across < f))
                    continue;
                double l = edge_length(w, a, b);
                weight[a] += l / 2;
                weight[b] += l / 2;
                sum += l;
            }
        if (sum > 0) return;
    }
}

static int vertex_loads(struct setup *w, const struct case_load *l, const struct pick *pick,
                        const unsigned char *mask, int set) {
    double v3[3], *weight = ARENA_NEW(w->arena, double, w->rest.nv),
                  *area = ARENA_NEW(w->arena, double, w->rest.nv);
    if (!weight || !area) return fail_memory(w->err);
    int rc = 0;
    double sum = 0;
    for (size_t f = 0; f < w->rest.nf; f++)
        for (int i = 0; i < 3; i++)
            area[w->rest.tri[f][i]] += body_shell_area(w->shell, f) / 3;
    for (size_t k = 0; k < pick->n; k++)
        sum += l->spread == 2 ? area[pick->v[k]] : 1;
    const struct {
        const struct reals *r;
        const char *name;
        int moment, line;
    } kinds[] = {{&l->force, "load.force", 0, 0},
                 {&l->moment, "load.moment", 1, 0},
                 {&l->line, "load.line", 0, 1},
                 {&l->line_moment, "load.line_moment", 1, 1}};
    line_weights(w, mask, weight);
    for (int q = 0; q < 4 && !rc; q++) {
        if (!kinds[q].r->n) continue;
        rc = vector(w, kinds[q].r, kinds[q].name, v3);
        for (size_t k = 0; k < pick->n && !rc; k++) {
            size_t v = (size_t)pick->v[k];
            double share = kinds[q].line    ? weight[v]
                           : l->spread == 1 ? 1
                                            : (l->spread == 2 ? area[v] : 1) / sum;
            double part[3] = {share * v3[0], share * v3[1], share * v3[2]};
            if (kinds[q].moment)
                body_shell_moment(w->shell, set, v, part);
            else
                body_shell_force(w->shell, set, v, part);
        }
    }
    return rc;
}

static int loads(struct setup *w) {
    const struct case_load *l = w->c->loads.v;
    for (size_t i = 0; i < w->c->loads.n; i++) {
        struct case_select at = l[i].at;
        struct pick pick;
        if (is_empty(&at)) at.all = 1;
        int rc = select_vertices(w, &at, "loads.at", &pick),
            set = l[i].steady > 0 ? BODY_LOAD_STEADY : BODY_LOAD_PATH;
        unsigned char *mask = rc ? NULL : mask_of(w, &pick);
        if (!rc && !mask) rc = fail_memory(w->err);
        if (!rc) rc = vertex_loads(w, &l[i], &pick, mask, set);
        double area[3] = {0}, g[3] = {0};
        if (!rc && l[i].area.n) rc = vector(w, &l[i].area, "load.area", area);
        if (!rc && l[i].gravity.n) rc = vector(w, &l[i].gravity, "load.gravity", g);
        if (rc) return rc;
        for (size_t f = 0; f < w->rest.nf; f++) {
            if (!face_on(w, mask, f)) continue;
            if (l[i].area.n) body_shell_spread(w->shell, set, f, area);
            if (isfinite(l[i].pressure)) body_shell_pressure(w->shell, set, f, l[i].pressure);
        }
        if (l[i].gravity.n) body_shell_gravity(w->shell, set, g);
    }
    return 0;
}

/* ---- answers ---- */

static const char *const units[] = {
    "mm",   "mm", "", "1/mm", "", "N/mm", "N", "1/mm", "mm", "N", "N mm, N, 1/mm, -, N, N mm",
    "N mm", "mm"};

/* Area-weighted mean over the triangles at a vertex. */
static void feel_vertex(const struct setup *w, int v, long what, double out[3]) {
    double sum = 0;
    memset(out, 0, 3 * sizeof *out);
    for (size_t f = 0; f < w->rest.nf; f++) {
        const int *t = w->rest.tri[f];
        if (t[0] != v && t[1] != v && t[2] != v) continue;
        struct body_feel feel;
        body_shell_feel(w->shell, f, &feel);
        const double *from = what == 3   ? feel.curvature
                             : what == 4 ? feel.strain
                             : what == 5 ? feel.n
                                         : feel.m;
        double a = body_shell_area(w->shell, f);
        sum += a;
        for (int c = 0; c < 3; c++)
            out[c] += a * from[c];
    }
    for (int c = 0; c < 3; c++)
        out[c] /= sum;
}

static void mean_curvature(const struct setup *w, const unsigned char *mask, double out[3]) {
    double sum = 0;
    memset(out, 0, 3 * sizeof *out);
    for (size_t f = 0; f < w->rest.nf; f++) {
        if (mask && !face_on(w, mask, f)) continue;
        struct body_feel feel;
        body_shell_feel(w->shell, f, &feel);
        double a = body_shell_area(w->shell, f);
        sum += a;
        for (int c = 0; c < 3; c++)
            out[c] += a * feel.curvature[c];
    }
    for (int c = 0; c < 3; c++)
        out[c] = sum > 0 ? out[c] / sum : NAN;
}

static void part_answer(const struct setup *w, long k, double *v) {
    double force;
    v[0] = body_part_energy(w->shell, w->part[k], &force);
    v[1] = force;
    body_part_line(w->shell, w->part[k], &v[2], &v[3], &v[4], &v[5]);
    for (int i = 2; i < 6; i++)
        if (!isfinite(v[i])) v[i] = 0;
}

static int answer(struct setup *w, const struct case_ask *q, struct case_answer *out) {
    struct case_select at = q->at;
    struct pick pick, other;
    if (is_empty(&at)) at.all = 1;
    int rc = select_vertices(w, &at, q->name, &pick);
    if (rc) return rc;
    size_t each = q->what == 10 ? 6 : q->what == 11 ? 2 : q->what == 8 ? 1 : 3;
    int one = q->what >= 7;
    *out = (struct case_answer){.name = q->name, .unit = units[q->what]};
    out->values = (struct reals){each * (one ? 1 : pick.n),
                                 ARENA_NEW(w->arena, double, each *(one ? 1 : pick.n))};
    if (!out->values.v) return fail_memory(w->err);
    double *v = out->values.v;
    const double(*x)[3] = body_shell_place(w->shell), (*n)[3] = body_shell_normal(w->shell);
    for (size_t i = 0; i < pick.n && !one; i++)
        for (int c = 0; c < 3; c++) {
            int k = pick.v[i];
            if (q->what == 0)
                v[3 * i + (size_t)c] = x[k][c] - w->rest.x[k][c];
            else if (q->what == 1)
                v[3 * i + (size_t)c] = x[k][c];
            else if (q->what == 2)
                v[3 * i + (size_t)c] = n[k][c];
            else if (c == 0)
                feel_vertex(w, k, q->what, v + 3 * i);
        }
    if (q->what == 7) {
        unsigned char *mask = is_empty(&q->at) ? NULL : mask_of(w, &pick);
        mean_curvature(w, mask, v);
    } else if (q->what == 8) {
        rc = select_vertices(w, &q->other, q->name, &other);
        if (rc) return rc;
        double d[3];
        for (int c = 0; c < 3; c++)
            d[c] = x[pick.v[0]][c] - x[other.v[0]][c];
        v[0] = sqrt(dot(d, d));
    } else if (q->what == 9) {
        for (size_t i = 0; i < pick.n; i++) {
            double f[3];
            body_shell_reaction(w->shell, (size_t)pick.v[i], f);
            for (int c = 0; c < 3; c++)
                v[c] += f[c];
        }
    } else if (q->what == 10) {
        if (q->part < 0 || (size_t)q->part >= w->parts)
            return fail(w->err, ERR_INPUT, "Count parts from 0 in the order of the file.",
                        "There is no part %ld.", q->part);
        part_answer(w, q->part, v);
    } else if (q->what == 11) {
        v[0] = body_shell_energy(w->shell, &v[1]);
    } else if (q->what == 12) {
        for (size_t i = 0; i < pick.n; i++)
            for (int c = 0; c < 3; c++)
                v[c] += (x[pick.v[i]][c] - w->rest.x[pick.v[i]][c]) / (double)pick.n;
    }
    return 0;
}

static int step_answers(struct setup *w, struct case_step *step, const struct body_solve *s,
                        double parameter) {
    *step = (struct case_step){.parameter = parameter,
                               .energy_left = isfinite(s->step) ? s->step : 0,
                               .residual = s->residual,
                               .energy = s->energy,
                               .iterations = (long)s->iterations,
                               .factorisations = (long)s->factors,
                               .restarts = (long)s->restarts,
                               .stable = s->stable};
    const double(*x)[3] = body_shell_place(w->shell);
    for (size_t v = 0; v < w->rest.nv; v++) {
        double d[3] = {x[v][0] - w->rest.x[v][0], x[v][1] - w->rest.x[v][1],
                       x[v][2] - w->rest.x[v][2]};
        step->largest_displacement = fmax(step->largest_displacement, sqrt(dot(d, d)));
    }
    size_t n = w->c->ask.n;
    struct case_answer *a = ARENA_NEW(w->arena, struct case_answer, n ? n : 1);
    if (!a) return fail_memory(w->err);
    step->answers = (struct records){n, a};
    for (size_t i = 0; i < n; i++) {
        int rc = answer(w, &((const struct case_ask *)w->c->ask.v)[i], &a[i]);
        if (rc) return rc;
    }
    return 0;
}

static int look_for_branches(struct setup *w, struct case_result *out,
                             const struct body_solve_options *o) {
    struct body_branch b[5];
    size_t n;
    double size = sqrt(out->area);
    struct body_seeds seeds = {{1, 0, 0}, {0, 1, 0}, w->c->seed_curvature, 0.01 * size};
    body_shell_parameter(w->shell, 0);
    int rc = body_equilibria(b, 5, &n, w->shell, &seeds, o, w->err);
    struct case_branch *list = ARENA_NEW(w->arena, struct case_branch, 5);
    if (!rc && !list) rc = fail_memory(w->err);
    for (size_t i = 0; i < n && !rc; i++) {
        list[i].energy = b[i].energy;
        list[i].curvature = (struct reals){3, ARENA_NEW(w->arena, double, 3)};
        if (!list[i].curvature.v)
            rc = fail_memory(w->err);
        else
            memcpy(list[i].curvature.v, b[i].curvature, sizeof b[i].curvature);
    }
    for (size_t i = 0; i < n; i++)
        body_state_free(b[i].state);
    out->branches = (struct records){n, list};
    return rc;
}

static int run_steps(struct setup *w, struct case_result *out) {
    int settle = w->c->settle < 0 ? w->c->loads.n == 0 && !w->c->control.n : w->c->settle;
    struct body_solve_options o = {
        .force = w->c->tolerance, .most = (size_t)w->c->most_iterations, .saddles = !settle};
    const struct case_control *control = w->c->control.n ? w->c->control.v : NULL;
    const double once[1] = {1};
    size_t n = control ? control->values.n : w->c->steps.n ? w->c->steps.n : 1;
    const double *value = control ? control->values.v : w->c->steps.n ? w->c->steps.v : once;
    struct case_step *steps = ARENA_NEW(w->arena, struct case_step, n ? n : 1);
    if (!steps) return fail_memory(w->err);
    int rc = isfinite(w->c->seed_curvature) ? look_for_branches(w, out, &o) : 0;
    double parameter = 0;
    for (size_t k = 0; k < n && !rc; k++) {
        struct body_solve s;
        if (!isfinite(value[k]))
            return fail(w->err, ERR_INPUT, "Give numbers.", "Step %zu is not a number.", k + 1);
        if (control) {
            rc = body_equilibrium_at(&s, &parameter, w->shell, w->control, value[k], &o, w->err);
        } else {
            parameter = value[k];
            body_shell_parameter(w->shell, parameter);
            rc = w->pockets
                     ? body_pocket_settle(w->shell, w->pocket, w->pockets, &o, &s, NULL, w->err)
                     : body_equilibrium(&s, w->shell, &o, w->err);
        }
        if (rc && w->err && rc == ERR_SOLVE) {
            char why[512];
            memcpy(why, w->err->message, sizeof why);
            return fail(w->err, ERR_SOLVE, w->err->remedy, "Step %zu (%g): %.400s", k + 1, value[k],
                        why);
        }
        if (!rc) rc = step_answers(w, &steps[k], &s, parameter);
    }
    out->steps = (struct records){n, steps};
    return rc;
}

static double process_seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Loaded sheets of enough triangles take the smoother membrane unless told otherwise. */
static int choose_membrane(struct setup *w) {
    struct error ignored = {0};
    if (w->c->membrane == 0) return 0;
    if (w->c->membrane == 1) return body_shell_smooth(w->shell, w->err);
    if (w->rest.nf < 500 || (w->c->loads.n == 0 && w->c->control.n == 0)) return 0;
    if (body_shell_smooth(w->shell, &ignored) == ERR_MEMORY) return fail_memory(w->err);
    return 0;
}

static int build(struct setup *w) {
    const struct case_shell *c = w->c;
    int rc = geometry(w);
    if (rc) return rc;
    if (w->rest.nf > 60000)
        return fail(w->err, ERR_RANGE, "Use a coarser mesh.",
                    "%zu triangles are more than the 60000 taken here.", w->rest.nf);
    struct body_shell_mesh mesh = {w->rest.nv, w->rest.nf, (const double(*)[3])w->rest.x,
                                   (const int(*)[3])w->rest.tri,
                                   (const double(*)[3])w->rest.normal};
    rc = body_shell_new(&w->shell, &mesh, w->err);
    if (rc) return rc;
    w->on_edge = ARENA_NEW(w->arena, unsigned char, w->rest.nv);
    w->part = ARENA_NEW(w->arena, int,
                        c->laths.n + c->edge_rods.n + c->rods.n + c->springs.n + c->grips.n +
                            c->formers.n + 1);
    w->pocket = ARENA_NEW(w->arena, struct body_pocket, c->laths.n + 1);
    if (!w->on_edge || !w->part || !w->pocket) return fail_memory(w->err);
    find_edges(w);
    if ((rc = materials(w)) || (rc = choose_membrane(w)) || (rc = natural_state(w)) ||
        (rc = add_laths(w)) || (rc = add_edge_rods(w)) || (rc = add_rods(w)) ||
        (rc = add_others(w)))
        return rc;
    if (w->pockets && (c->control.n || isfinite(c->seed_curvature)))
        return fail(w->err, ERR_INPUT, "Give steps of the load, or laths without friction.",
                    "Laths that rub go with steps, not with control or seed_curvature.");
    if (c->control.n > 1)
        return fail(w->err, ERR_INPUT, "Control one displacement.",
                    "%zu displacements are to be controlled.", c->control.n);
    if ((rc = supports(w))) return rc;
    /* after the supports: what is controlled holds nothing */
    if (c->control.n) {
        const struct case_control *k = c->control.v;
        double stiff =
            0; /* of the order of the sheet's own, so that the tangent stays well scaled */
        struct body_laminate l;
        if ((rc = layers(w, 1, &l))) return rc;
        for (int i = 0; i < 9; i += 4)
            stiff = fmax(stiff, l.a[i]);
        rc = mean_spring(w, &k->at, &k->direction, stiff, 0, "control", &w->control);
        if (rc) return rc;
    }
    return loads(w);
}

int body_shell_case(const void *in, void *out, struct arena *arena, struct error *err) {
    struct error own = {0};
    struct case_result *r = out;
    struct setup w = {.c = in, .arena = arena, .err = err ? err : &own, .control = -1};
    int rc = build(&w);
    double t0 = process_seconds();
    if (!rc) rc = body_shell_prepare(w.shell, w.err);
    double t1 = process_seconds();
    if (!rc) {
        r->vertices = (long)w.rest.nv;
        r->triangles = (long)w.rest.nf;
        r->unknowns = (long)body_shell_unknowns(w.shell);
        r->mass = body_shell_mass(w.shell);
        r->area = 0;
        for (size_t f = 0; f < w.rest.nf; f++)
            r->area += body_shell_area(w.shell, f);
        body_equilibrium_cost(w.shell, &r->factor_entries, &r->factor_flops);
        rc = run_steps(&w, r);
    }
    if (!rc && w.c->timings > 0) {
        r->seconds_symbolic = t1 - t0;
        r->seconds_solve = process_seconds() - t1;
    }
    if (!rc && w.c->shapes > 0) {
        r->shape = (struct tuples){w.rest.nv, 3, ARENA_NEW(arena, double, 3 * w.rest.nv)};
        if (!r->shape.v)
            rc = fail_memory(w.err);
        else
            memcpy(r->shape.v, body_shell_place(w.shell), w.rest.nv * 3 * sizeof(double));
    }
    body_shell_free(w.shell);
    return rc;
}
