#include "body/shell_grid.h"

#include "plane/predicates.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* A number in -0.5 .. 0.5 from place and seed (splitmix64 mixer). */
static double shift_of(uint64_t i, unsigned seed) {
    uint64_t z = (i + 1) * 0x9E3779B97F4A7C15ull + (uint64_t)seed * 0xD1B54A32D192ED03ull;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0 - 0.5;
}

static void map_point(const struct body_grid *g, double u, double v, double x[3], double n[3]) {
    switch (g->map) {
    case BODY_GRID_RECTANGLE:
        memcpy(x, (double[3]){u, v, 0}, 24);
        memcpy(n, (double[3]){0, 0, 1}, 24);
        return;
    case BODY_GRID_ANNULUS: /* u runs so that the faces show +z: see orientation below */
        memcpy(x, (double[3]){v * cos(u), v * sin(u), 0}, 24);
        memcpy(n, (double[3]){0, 0, 1}, 24);
        return;
    case BODY_GRID_CYLINDER:
        memcpy(n, (double[3]){sin(u), 0, cos(u)}, 24);
        memcpy(x, (double[3]){g->radius * n[0], v, g->radius * n[2]}, 24);
        return;
    case BODY_GRID_SPHERE:
        memcpy(n, (double[3]){cos(v) * cos(u), cos(v) * sin(u), sin(v)}, 24);
        for (int c = 0; c < 3; c++)
            x[c] = g->radius * n[c];
        return;
    }
}

static int check(const struct body_grid *g, struct error *err) {
    if (g->nu < 1 || g->nv < 1 || g->nu > 2000 || g->nv > 2000 || (g->closed && g->nu < 3))
        return fail(err, ERR_RANGE,
                    "Ask for 1 to 2000 cells each way (3 or more round a closed one).",
                    "The grid has %zu by %zu cells.", g->nu, g->nv);
    if (!isfinite(g->u0) || !isfinite(g->u1) || !isfinite(g->v0) || !isfinite(g->v1) ||
        !(g->u1 > g->u0) || !(g->v1 > g->v0))
        return fail(err, ERR_RANGE, "Give sizes above 0.",
                    "The shape has no extent: %g to %g by %g to %g.", g->u0, g->u1, g->v0, g->v1);
    int round = g->map != BODY_GRID_RECTANGLE;
    if (round && g->u1 - g->u0 > 2 * M_PI * (1 + 1e-9))
        return fail(err, ERR_RANGE, "Give at most 360 degrees.",
                    "The shape goes more than once round.");
    if ((g->map == BODY_GRID_CYLINDER || g->map == BODY_GRID_SPHERE) &&
        (!(g->radius > 0) || !isfinite(g->radius)))
        return fail(err, ERR_RANGE, "Give a radius above 0.", "The radius is %g mm.", g->radius);
    if (g->map == BODY_GRID_ANNULUS && !(g->v0 > 0))
        return fail(err, ERR_RANGE, "Give an inner radius above 0.", "The inner radius is %g mm.",
                    g->v0);
    if (g->map == BODY_GRID_SPHERE && (g->v0 <= -M_PI / 2 || g->v1 >= M_PI / 2))
        return fail(err, ERR_RANGE, "Leave a hole at the pole.",
                    "A mapped sphere cannot reach its pole.");
    if (!(g->jitter >= 0) || g->jitter > 0.35)
        return fail(err, ERR_RANGE, "Give a jitter of 0 to 0.35 of a cell.", "The jitter is %g.",
                    g->jitter);
    return 0;
}

static void fill_faces(struct body_rest *out, const struct body_grid *g, size_t row) {
    size_t k = 0;
    int flip = g->map == BODY_GRID_ANNULUS; /* there u, v run clockwise seen from +z */
    for (size_t j = 0; j < g->nv; j++)
        for (size_t i = 0; i < g->nu; i++) {
            size_t next = g->closed && i + 1 == g->nu ? 0 : i + 1;
            int a = (int)(j * row + i), b = (int)(j * row + next);
            int c = (int)((j + 1) * row + i), d = (int)((j + 1) * row + next);
            int other = g->diagonals == 1   ? (int)((i + j) & 1)
                        : g->diagonals == 2 ? shift_of(7777 + j * g->nu + i, g->seed) > 0
                                            : 0;
            int t[2][3] = {{a, b, other ? c : d}, {other ? b : a, d, c}};
            for (int q = 0; q < 2; q++, k++)
                for (int p = 0; p < 3; p++)
                    out->tri[k][p] = t[q][flip && p ? 3 - p : p];
        }
}

int body_grid_make(struct body_rest *out, const struct body_grid *g, struct arena *arena,
                   struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = check(g, err);
    if (rc) return rc;
    size_t row = g->closed ? g->nu : g->nu + 1;
    out->nv = row * (g->nv + 1);
    out->nf = 2 * g->nu * g->nv;
    out->x = arena_alloc(arena, out->nv, sizeof *out->x);
    double(*n)[3] = arena_alloc(arena, out->nv, sizeof *n);
    out->uv = arena_alloc(arena, out->nv, sizeof *out->uv);
    out->tri = arena_alloc(arena, out->nf, sizeof *out->tri);
    if (!out->x || !n || !out->uv || !out->tri) return fail_memory(err);
    for (size_t j = 0; j <= g->nv; j++)
        for (size_t i = 0; i < row; i++) {
            size_t k = j * row + i;
            double fi = (double)i, fj = (double)j;
            if (j > 0 && j < g->nv && (g->closed || (i > 0 && i < g->nu))) {
                fi += 2 * g->jitter * shift_of(2 * k, g->seed);
                fj += 2 * g->jitter * shift_of(2 * k + 1, g->seed);
            }
            out->uv[k][0] = g->u0 + (g->u1 - g->u0) * fi / (double)g->nu;
            out->uv[k][1] = g->v0 + (g->v1 - g->v0) * fj / (double)g->nv;
            map_point(g, out->uv[k][0], out->uv[k][1], out->x[k], n[k]);
        }
    if (g->map == BODY_GRID_CYLINDER || g->map == BODY_GRID_SPHERE) out->normal = n;
    fill_faces(out, g, row);
    out->lo[0] = g->u0;
    out->hi[0] = g->u1;
    out->lo[1] = g->v0;
    out->hi[1] = g->v1;
    return 0;
}

/* ---- triangles lying on each other ---------------------------------------------------------- */

/* An edge of one triangle only, in its triangle's sense. */
struct free_edge {
    int a, b, face, piece;
};

struct flat {
    const struct body_rest *rest;
    struct free_edge *edge;
    int *piece; /* [nf] number of the piece a triangle belongs to, as a forest while it is sought */
    size_t edges;
};

static bool is_flat(const struct body_rest *r) {
    double size = 0;
    for (int c = 0; c < 2; c++)
        size = fmax(size, r->hi[c] - r->lo[c]);
    for (size_t v = 0; v < r->nv; v++)
        if (!(fabs(r->x[v][2] - r->x[0][2]) <= 1e-9 * size)) return false;
    return true;
}

static int root_of(int *piece, int f) {
    while (piece[f] != f)
        f = piece[f] = piece[piece[f]];
    return f;
}

static int edge_order(const void *a, const void *b) {
    const struct free_edge *p = a, *q = b;
    int lo = (p->a < p->b ? p->a : p->b) - (q->a < q->b ? q->a : q->b),
        hi = (p->a < p->b ? p->b : p->a) - (q->a < q->b ? q->b : q->a);
    return lo ? lo : hi ? hi : p->face - q->face;
}

static int piece_order(const void *a, const void *b) {
    const struct free_edge *p = a, *q = b;
    return p->piece != q->piece ? p->piece - q->piece : edge_order(a, b);
}

/* Leaves the edges of one triangle only, piece by piece, and says which triangles hang together. */
static void find_free_edges(struct flat *f) {
    const struct body_rest *r = f->rest;
    size_t n = 3 * r->nf, kept = 0;
    for (size_t k = 0; k < r->nf; k++) {
        f->piece[k] = (int)k;
        for (int i = 0; i < 3; i++)
            f->edge[3 * k + (size_t)i] =
                (struct free_edge){r->tri[k][i], r->tri[k][(i + 1) % 3], (int)k, 0};
    }
    qsort(f->edge, n, sizeof *f->edge, edge_order);
    for (size_t i = 0, j; i < n; i = j) {
        const struct free_edge *e = &f->edge[i];
        for (j = i + 1; j < n; j++) {
            const struct free_edge *o = &f->edge[j];
            if (!((e->a == o->a && e->b == o->b) || (e->a == o->b && e->b == o->a))) break;
            f->piece[root_of(f->piece, o->face)] = root_of(f->piece, e->face);
        }
        if (j == i + 1) f->edge[kept++] = *e;
    }
    f->edges = kept;
    for (size_t i = 0; i < kept; i++)
        f->edge[i].piece = root_of(f->piece, f->edge[i].face);
    qsort(f->edge, kept, sizeof *f->edge, piece_order);
}

/* How often the edge of a piece runs round p. */
static int winding(const struct flat *f, const size_t piece[2], const double p[2]) {
    int n = 0;
    for (size_t i = piece[0]; i < piece[1]; i++) {
        const double *a = f->rest->x[f->edge[i].a], *b = f->rest->x[f->edge[i].b];
        if (a[1] <= p[1] && b[1] > p[1])
            n += plane_orient(a, b, p) > 0;
        else if (a[1] > p[1] && b[1] <= p[1])
            n -= plane_orient(a, b, p) < 0;
    }
    return n;
}

static bool cross(const double *a, const double *b, const double *c, const double *d) {
    return plane_orient(a, b, c) * plane_orient(a, b, d) < 0 &&
           plane_orient(c, d, a) * plane_orient(c, d, b) < 0;
}

/* Where sheets lie on each other, the border of that place is made of free edges with two layers
 * on their triangle's side; unless an edge lies in it only partly: then another crosses it. */
static int check_edge(const struct flat *f, const size_t piece[2], size_t i, struct error *err) {
    static const char *const remedy =
        "Give triangles that lie side by side, or places in space that keep them apart.";
    const struct free_edge *e = &f->edge[i];
    const double(*x)[3] = (const double(*)[3])f->rest->x;
    for (size_t j = piece[0]; j < i; j++)
        if (cross(x[e->a], x[e->b], x[f->edge[j].a], x[f->edge[j].b]))
            return fail(err, ERR_INPUT, remedy, "Triangles %d and %d lie on each other.",
                        f->edge[j].face, e->face);
    double p[2];
    for (int c = 0; c < 2; c++) {
        double middle = 0;
        for (int k = 0; k < 3; k++)
            middle += x[f->rest->tri[e->face][k]][c] / 3;
        p[c] = 0.999 * (x[e->a][c] + x[e->b][c]) / 2 + 0.001 * middle;
    }
    if (abs(winding(f, piece, p)) == 1) return 0;
    return fail(err, ERR_INPUT, remedy, "Triangle %d lies on others of its sheet.", e->face);
}

int body_rest_check_flat(const struct body_rest *r, struct arena *arena, struct error *err) {
    enum { MOST = 20000 };
    struct flat f = {.rest = r};
    double first = 0;
    if (r->nf == 0 || !is_flat(r)) return 0;
    for (size_t k = 0; k < r->nf; k++) {
        double side = plane_orient(r->x[r->tri[k][0]], r->x[r->tri[k][1]], r->x[r->tri[k][2]]);
        if (k == 0) first = side;
        if (side * first < 0)
            return fail(err, ERR_INPUT,
                        "Let all triangles of a flat sheet run counter-clockwise seen from the "
                        "same side.",
                        "Triangle %zu is turned over.", k);
    }
    f.edge = arena_alloc(arena, 3 * r->nf, sizeof *f.edge);
    f.piece = ARENA_NEW(arena, int, r->nf);
    if (!f.edge || !f.piece) return fail_memory(err);
    find_free_edges(&f);
    int rc = 0;
    for (size_t piece[2] = {0, 0}; piece[0] < f.edges && !rc; piece[0] = piece[1]) {
        while (piece[1] < f.edges && f.edge[piece[1]].piece == f.edge[piece[0]].piece)
            piece[1]++;
        for (size_t i = piece[0]; i < piece[1] && piece[1] - piece[0] <= MOST && !rc; i++)
            rc = check_edge(&f, piece, i, err);
    }
    return rc;
}
