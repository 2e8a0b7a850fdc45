#include "body/shell_grid.h"

#include <math.h>
#include <stdint.h>
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
