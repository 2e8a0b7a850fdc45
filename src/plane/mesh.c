#include "plane/mesh.h"

#include "base/mem.h"
#include "plane/mesh_parts.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* A small repeatable shift, so that lattice points do not lie on common circles. */
static double jitter(size_t i) {
    uint64_t z = (i + 1) * 0x9E3779B97F4A7C15ull; /* splitmix64, S. Vigna's public-domain mixer */
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0 - 0.5;
}

/* Boundary edges sorted into rows of y, to ask quickly what lies inside, and points in cells. */
struct layout {
    const struct mesh_border *border;
    const struct mesh_size *size;
    double lo[2], hi[2], cell;
    size_t nx, ny;
    int *row_start, *row;   /* edges crossing each row of cells */
    int *first, *following; /* points in each cell: chains */
    double (*p)[2];         /* all points so far; the border's come first */
    size_t n, most;
};

static size_t follower(const struct mesh_border *b, size_t i) {
    for (size_t l = 0; l < b->loops; l++)
        if (i + 1 == b->start[l + 1]) return b->start[l];
    return i + 1;
}

static size_t before(const struct mesh_border *b, size_t i) {
    for (size_t l = 0; l < b->loops; l++)
        if (i == b->start[l]) return b->start[l + 1] - 1;
    return i - 1;
}

static long cell_of(const struct layout *g, double v, int axis) {
    long k = (long)floor((v - g->lo[axis]) / g->cell), n = (long)(axis ? g->ny : g->nx);
    return k < 0 ? 0 : k >= n ? n - 1 : k;
}

static void layout_put(struct layout *g, const double *p) {
    if (g->n >= g->most) return;
    size_t c = (size_t)(cell_of(g, p[1], 1) * (long)g->nx + cell_of(g, p[0], 0));
    memcpy(g->p[g->n], p, sizeof *g->p);
    g->following[g->n] = g->first[c];
    g->first[c] = (int)g->n++;
}

static int layout_make(struct layout *g, const struct mesh_border *border,
                       const struct mesh_size *size, size_t most, struct arena *arena,
                       struct error *err) {
    *g = (struct layout){.border = border, .size = size, .most = most + border->n};
    for (int c = 0; c < 2; c++) {
        g->lo[c] = INFINITY;
        g->hi[c] = -INFINITY;
        for (size_t i = 0; i < border->n; i++) {
            g->lo[c] = fmin(g->lo[c], border->p[i][c]);
            g->hi[c] = fmax(g->hi[c], border->p[i][c]);
        }
    }
    double side = fmax(g->hi[0] - g->lo[0], g->hi[1] - g->lo[1]);
    g->cell = fmax(fmax(size->least, side / 2000), size->most / 4);
    g->nx = (size_t)((g->hi[0] - g->lo[0]) / g->cell) + 1;
    g->ny = (size_t)((g->hi[1] - g->lo[1]) / g->cell) + 1;
    g->first = ARENA_NEW(arena, int, g->nx * g->ny);
    g->following = ARENA_NEW(arena, int, g->most);
    g->p = arena_alloc(arena, g->most, sizeof *g->p);
    g->row_start = ARENA_NEW(arena, int, g->ny + 1);
    if (!g->first || !g->following || !g->p || !g->row_start) return fail_memory(err);
    memset(g->first, -1, g->nx * g->ny * sizeof *g->first);
    for (int pass = 0; pass < 2; pass++) { /* count, then fill */
        for (size_t i = 0; i < border->n; i++) {
            double a = border->p[i][1], b = border->p[follower(border, i)][1];
            for (long r = cell_of(g, fmin(a, b), 1); r <= cell_of(g, fmax(a, b), 1); r++) {
                if (pass)
                    g->row[g->row_start[r]++] = (int)i;
                else
                    g->row_start[r + 1]++;
            }
        }
        if (pass) break;
        for (size_t r = 0; r < g->ny; r++)
            g->row_start[r + 1] += g->row_start[r];
        g->row = ARENA_NEW(arena, int, (size_t)g->row_start[g->ny] + 1);
        if (!g->row) return fail_memory(err);
    }
    for (size_t r = g->ny; r > 0; r--)
        g->row_start[r] = g->row_start[r - 1];
    g->row_start[0] = 0;
    for (size_t i = 0; i < border->n; i++)
        layout_put(g, border->p[i]);
    return 0;
}

static int inside(const struct layout *g, const double *p) {
    if (p[1] < g->lo[1] || p[1] > g->hi[1]) return 0;
    long r = cell_of(g, p[1], 1);
    int in = 0;
    for (int k = g->row_start[r]; k < g->row_start[r + 1]; k++) {
        const double *a = g->border->p[g->row[k]],
                     *b = g->border->p[follower(g->border, (size_t)g->row[k])];
        if ((a[1] > p[1]) != (b[1] > p[1]) &&
            p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]))
            in = !in;
    }
    return in;
}

static double to_edge(const double *a, const double *b, const double *p) {
    double u[2] = {b[0] - a[0], b[1] - a[1]}, w[2] = {p[0] - a[0], p[1] - a[1]};
    double t = (u[0] * w[0] + u[1] * w[1]) / (u[0] * u[0] + u[1] * u[1]);
    t = fmin(fmax(t, 0), 1);
    return hypot(w[0] - t * u[0], w[1] - t * u[1]);
}

/* Whether p keeps 0.6 h from the outline and `apart` h from other points. */
static int is_free(const struct layout *g, const double *p, double h, double apart) {
    double reach = 1.3 * h;
    for (long j = cell_of(g, p[1] - reach, 1); j <= cell_of(g, p[1] + reach, 1); j++)
        for (long i = cell_of(g, p[0] - reach, 0); i <= cell_of(g, p[0] + reach, 0); i++)
            for (int k = g->first[j * (long)g->nx + i]; k >= 0; k = g->following[k]) {
                const double *q = g->p[k];
                double d = hypot(q[0] - p[0], q[1] - p[1]);
                if (d < apart * h) return 0;
                if ((size_t)k >= g->border->n || d > reach) continue;
                size_t a = (size_t)k;
                if (to_edge(q, g->border->p[follower(g->border, a)], p) < 0.6 * h) return 0;
                if (to_edge(g->border->p[before(g->border, a)], q, p) < 0.6 * h) return 0;
            }
    return 1;
}

/* Rows of equilateral triangles, to and fro so that neighbours in order are neighbours in place. */
static void lay_lattice(struct layout *g) {
    double h = g->size->most, rise = h * sqrt(3) / 2;
    size_t rows = (size_t)((g->hi[1] - g->lo[1]) / rise) + 1;
    size_t cols = (size_t)((g->hi[0] - g->lo[0]) / h) + 2;
    double y0 = (g->lo[1] + g->hi[1] - (double)(rows - 1) * rise) / 2;
    double x0 = (g->lo[0] + g->hi[0] - (double)(cols - 1) * h) / 2;
    for (size_t j = 0; j < rows; j++)
        for (size_t c = 0; c < cols; c++) {
            size_t i = j & 1 ? cols - 1 - c : c, k = 2 * (j * cols + i);
            double p[2] = {x0 + ((double)i + (j & 1 ? 0.25 : -0.25)) * h + 1e-3 * h * jitter(k),
                           y0 + (double)j * rise + 1e-3 * h * jitter(k + 1)};
            if (inside(g, p) && is_free(g, p, h, 0.6)) layout_put(g, p);
        }
}

/* Points grown from points: each asks for six neighbours at its own distance. */
static void lay_front(struct layout *g) {
    for (size_t k = 0; k < g->n && g->n < g->most; k++) {
        double from[2] = {g->p[k][0], g->p[k][1]}, h0 = mesh_size_at(g->size, from);
        double turned = k < g->border->n ? 0 : jitter(k) * 0.2;
        if (k < g->border->n) {
            const double *q = g->border->p[follower(g->border, k)];
            turned = atan2(q[1] - from[1], q[0] - from[0]);
        }
        for (int i = 0; i < 6; i++) {
            double a = turned + i * M_PI / 3;
            double mid[2] = {from[0] + 0.5 * h0 * cos(a), from[1] + 0.5 * h0 * sin(a)};
            double h = mesh_size_at(g->size, mid);
            double p[2] = {from[0] + h * cos(a), from[1] + h * sin(a)};
            if (inside(g, p) && is_free(g, p, mesh_size_at(g->size, p), 0.78)) layout_put(g, p);
        }
    }
}

/* Room for the vertices; two points that all but coincide ask for triangles without number. */
static int count_wanted(size_t *out, const struct mesh_size *z, struct error *err) {
    static const double most = 1e7;
    double n = 0;
    for (size_t k = 0; k < z->nx * z->ny; k++)
        n += z->step * z->step / (z->h[k] * z->h[k]);
    if (!(2.2 * n < most))
        return fail(err, ERR_RANGE, "Leave out points that stand on one another.",
                    "The shortest edge of the outline asks for more than %.0g vertices.", most);
    *out = (size_t)(2.2 * n) + 64;
    return 0;
}

static int copy_out(struct plane_mesh **out, const struct mesh_net *net,
                    const struct mesh_border *border, struct error *err) {
    struct plane_mesh *m = MEM_NEW(struct plane_mesh, 1);
    *out = m;
    if (!m) return fail_memory(err);
    m->nv = net->nv;
    m->nf = net->nf;
    m->nb = border->n;
    m->loops = border->loops;
    m->p = mem_alloc(m->nv, sizeof *m->p);
    m->tri = mem_alloc(m->nf, sizeof *m->tri);
    m->next = mem_alloc(m->nf, sizeof *m->next);
    m->loop_start = MEM_NEW(size_t, m->loops + 1);
    m->loop_at = MEM_NEW(double, m->nb);
    m->corner = MEM_NEW(int, m->nb);
    if (!m->p || !m->tri || !m->next || !m->loop_start || !m->loop_at || !m->corner) {
        plane_mesh_free(m);
        *out = NULL;
        return fail_memory(err);
    }
    memcpy(m->p, net->p, m->nv * sizeof *m->p);
    memcpy(m->tri, net->tri, m->nf * sizeof *m->tri);
    memcpy(m->next, net->next, m->nf * sizeof *m->next);
    memcpy(m->loop_start, border->start, (m->loops + 1) * sizeof *m->loop_start);
    memcpy(m->loop_at, border->at, m->nb * sizeof *m->loop_at);
    memcpy(m->corner, border->corner, m->nb * sizeof *m->corner);
    return 0;
}

enum { DONE, AGAIN_FINER, FAILED };

/* One attempt at a given fineness. */
static int attempt(struct plane_mesh **out, const struct plane_loop *loops, size_t n_loops,
                   const struct plane_mesh_options *o, double finer, struct arena *arena,
                   struct error *err) {
    struct mesh_border border;
    struct mesh_size size;
    struct layout g;
    struct mesh_net net;
    if (mesh_border_make(&border, &size, loops, n_loops, o, finer, arena, err)) return FAILED;
    size_t wanted = 0;
    if (count_wanted(&wanted, &size, err)) return FAILED;
    if (layout_make(&g, &border, &size, wanted + o->n_points, arena, err)) return FAILED;
    for (size_t i = 0; i < o->n_points; i++) {
        const double *p = o->points + 2 * i;
        if (!isfinite(p[0]) || !isfinite(p[1]) || !inside(&g, p)) {
            fail(err, ERR_INPUT, "Leave the point out or move it inside.",
                 "Point %zu (%g, %g) that is to become a vertex lies outside the outline.", i + 1,
                 p[0], p[1]);
            return FAILED;
        }
        layout_put(&g, p);
    }
    if (size.least > 0.7 * size.most)
        lay_lattice(&g);
    else
        lay_front(&g);
    if (mesh_net_make(&net, g.n, g.lo, g.hi, arena, err)) return FAILED;
    for (size_t i = 0; i < g.n; i++)
        if (mesh_net_add(&net, g.p[i]) != (int)i + 3) { /* fell on a point already there */
            if (i >= border.n && i < border.n + o->n_points) {
                fail(
                    err, ERR_INPUT, "Leave the point out.",
                    "Point %zu that is to become a vertex stands twice or on the outline's vertex.",
                    i - border.n + 1);
                return FAILED;
            }
            return AGAIN_FINER;
        }
    for (size_t i = 0; i < border.n; i++)
        if (!mesh_net_fix(&net, (int)i + 3, (int)follower(&border, i) + 3)) return AGAIN_FINER;
    if (mesh_net_trim(&net, arena, err)) return FAILED;
    if (mesh_net_smooth(&net, border.n + o->n_points, &size, o->sweeps ? o->sweeps : 5, arena, err))
        return FAILED;
    return copy_out(out, &net, &border, err) ? FAILED : DONE;
}

int plane_mesh_new(struct plane_mesh **out, const struct plane_loop *loops, size_t n_loops,
                   const struct plane_mesh_options *options, struct error *err) {
    *out = NULL;
    double finer = 1;
    for (int k = 0; k < 5; k++, finer *= 1.6) {
        struct arena *arena = arena_new();
        if (!arena) return fail_memory(err);
        int what = attempt(out, loops, n_loops, options, finer, arena, err);
        arena_free(arena);
        if (what == DONE) return 0;
        if (what == FAILED) return err ? (int)err->code : ERR_INPUT;
    }
    return fail(err, ERR_RANGE, "Ask for smaller triangles or widen the narrow place.",
                "The outline has places too narrow for the wanted triangles.");
}

void plane_mesh_free(struct plane_mesh *m) {
    if (!m) return;
    mem_free(m->p);
    mem_free(m->tri);
    mem_free(m->next);
    mem_free(m->loop_start);
    mem_free(m->loop_at);
    mem_free(m->corner);
    mem_free(m);
}

void plane_mesh_measure(struct plane_mesh_quality *out, const struct plane_mesh *m) {
    *out = (struct plane_mesh_quality){.angle_min = M_PI, .edge_min = INFINITY};
    for (size_t t = 0; t < m->nf; t++) {
        double l[3];
        for (int i = 0; i < 3; i++) {
            const double *a = m->p[m->tri[t][(i + 1) % 3]], *b = m->p[m->tri[t][(i + 2) % 3]];
            l[i] = hypot(b[0] - a[0], b[1] - a[1]);
            out->edge_min = fmin(out->edge_min, l[i]);
            out->edge_max = fmax(out->edge_max, l[i]);
        }
        for (int i = 0; i < 3; i++) {
            double b = l[(i + 1) % 3], c = l[(i + 2) % 3];
            double angle = acos(fmin(1, fmax(-1, (b * b + c * c - l[i] * l[i]) / (2 * b * c))));
            out->angle_min = fmin(out->angle_min, angle);
            out->angle_max = fmax(out->angle_max, angle);
        }
        const double *a = m->p[m->tri[t][0]], *b = m->p[m->tri[t][1]], *c = m->p[m->tri[t][2]];
        out->area += 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
    }
}

static void bary_of(const struct plane_mesh *m, int t, const double *p, double *bary) {
    const double *v[3] = {m->p[m->tri[t][0]], m->p[m->tri[t][1]], m->p[m->tri[t][2]]};
    double area[3], sum = 0;
    for (int i = 0; i < 3; i++) {
        const double *a = v[(i + 1) % 3], *b = v[(i + 2) % 3];
        area[i] = (a[0] - p[0]) * (b[1] - p[1]) - (a[1] - p[1]) * (b[0] - p[0]);
        sum += area[i];
    }
    for (int i = 0; i < 3; i++)
        bary[i] = area[i] / sum;
}

int plane_mesh_locate(const struct plane_mesh *m, const double *p, int hint, double *bary) {
    double b[3];
    const double slack =
        -1e-9; /* of barycentric weight: a point on an edge belongs to either side */
    if (!isfinite(p[0]) || !isfinite(p[1])) return -1;
    int t = hint >= 0 && (size_t)hint < m->nf ? hint : 0;
    for (size_t step = 0; step < m->nf; step++) { /* a straight walk; holes may stop it */
        bary_of(m, t, p, b);
        int worst = b[0] < b[1] ? (b[0] < b[2] ? 0 : 2) : (b[1] < b[2] ? 1 : 2);
        if (b[worst] >= slack) goto found;
        if (m->next[t][worst] < 0) break;
        t = m->next[t][worst];
    }
    for (t = 0; (size_t)t < m->nf; t++) {
        bary_of(m, t, p, b);
        if (b[0] >= slack && b[1] >= slack && b[2] >= slack) goto found;
    }
    return -1;
found:
    if (bary) memcpy(bary, b, sizeof b);
    return t;
}

/* The part of a-b within triangle t; returns 0 when there is none. */
static int cut_one(const struct plane_mesh *m, size_t t, const double *a, const double *b,
                   double *from, double *to) {
    double lo = 0, hi = 1;
    for (int i = 0; i < 3; i++) {
        const double *p = m->p[m->tri[t][(i + 1) % 3]], *q = m->p[m->tri[t][(i + 2) % 3]];
        double u[2] = {q[0] - p[0], q[1] - p[1]};
        double da = u[0] * (a[1] - p[1]) - u[1] * (a[0] - p[0]);
        double db = u[0] * (b[1] - p[1]) - u[1] * (b[0] - p[0]);
        double zero = 1e-12 * (fabs(u[0]) + fabs(u[1])) * (fabs(u[0]) + fabs(u[1]));
        if (fabs(da) <= zero && fabs(db) <= zero) { /* along this edge: the lower number has it */
            if (m->next[t][i] >= 0 && (size_t)m->next[t][i] < t) return 0;
            continue;
        }
        if (da < 0 && db < 0) return 0;
        if (da < 0)
            lo = fmax(lo, da / (da - db));
        else if (db < 0)
            hi = fmin(hi, da / (da - db));
    }
    *from = lo;
    *to = hi;
    return hi - lo > 1e-12;
}

size_t plane_mesh_cut(const struct plane_mesh *m, const double *a, const double *b,
                      struct plane_mesh_piece *pieces, size_t most) {
    size_t n = 0;
    double lo[2] = {fmin(a[0], b[0]), fmin(a[1], b[1])},
           hi[2] = {fmax(a[0], b[0]), fmax(a[1], b[1])};
    for (size_t t = 0; t < m->nf; t++) {
        const double *p = m->p[m->tri[t][0]], *q = m->p[m->tri[t][1]], *r = m->p[m->tri[t][2]];
        int off = 0;
        for (int c = 0; c < 2; c++)
            off |= fmax(fmax(p[c], q[c]), r[c]) < lo[c] || fmin(fmin(p[c], q[c]), r[c]) > hi[c];
        double from, to;
        if (off || !cut_one(m, t, a, b, &from, &to)) continue;
        size_t k = n < most ? n : most;
        for (; k > 0 && pieces[k - 1].from > from; k--)
            if (k < most) pieces[k] = pieces[k - 1];
        if (k < most) pieces[k] = (struct plane_mesh_piece){(int)t, from, to};
        n++;
    }
    return n;
}
