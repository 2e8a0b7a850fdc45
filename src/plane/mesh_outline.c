/* Sampling the outline: corners kept, edges by arc length and by how narrow and how curved the
 * place is, and the size field that follows from it. */
#include "plane/mesh_parts.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_TRIANGLES = 2000000, GRID = 96 };

static double distance(const double *a, const double *b) {
    return hypot(b[0] - a[0], b[1] - a[1]);
}

static double loop_area(const double *xy, size_t n) {
    double a = 0;
    for (size_t i = 0; i < n;
         i++) { /* from the first point, so that far-off loops lose no digits */
        const double *p = xy + 2 * i, *q = xy + 2 * ((i + 1) % n);
        a += (p[0] - xy[0]) * (q[1] - xy[1]) - (q[0] - xy[0]) * (p[1] - xy[1]);
    }
    return a / 2;
}

int mesh_walk_make(struct mesh_walk *out, const struct plane_loop *loop, int counter_clockwise,
                   struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    if (loop->n < 3)
        return fail(err, ERR_INPUT, "Give at least three points.",
                    "A loop of the outline has %zu points.", loop->n);
    out->p = arena_alloc(arena, loop->n + 1, sizeof *out->p);
    out->s = ARENA_NEW(arena, double, loop->n + 1);
    if (!out->p || !out->s) return fail_memory(err);
    for (size_t i = 0; i < 2 * loop->n; i++)
        if (!isfinite(loop->xy[i]) || fabs(loop->xy[i]) > 1e9)
            return fail(err, ERR_INPUT, "Give coordinates in mm.",
                        "Point %zu of the outline is not a number below 1e9.", i / 2 + 1);
    double a = loop_area(loop->xy, loop->n);
    if (a == 0)
        return fail(err, ERR_INPUT, "Give the points in order round the shape.",
                    counter_clockwise ? "The outline encloses no area."
                                      : "A hole encloses no area.");
    int same = (a > 0) == (counter_clockwise != 0);
    for (size_t i = 0; i < loop->n; i++) {
        const double *q = loop->xy + 2 * (same ? i : (loop->n - i) % loop->n);
        if (out->n && q[0] == out->p[out->n - 1][0] && q[1] == out->p[out->n - 1][1]) continue;
        memcpy(out->p[out->n++], q, sizeof *out->p);
    }
    while (out->n > 1 && distance(out->p[0], out->p[out->n - 1]) == 0)
        out->n--;
    if (out->n < 3)
        return fail(err, ERR_INPUT, "Give at least three points.",
                    "A loop of the outline has %zu different points.", out->n);
    memcpy(out->p[out->n], out->p[0], sizeof *out->p);
    for (size_t i = 0; i < out->n; i++)
        out->s[i + 1] = out->s[i] + distance(out->p[i], out->p[i + 1]);
    return 0;
}

void mesh_walk_at(const struct mesh_walk *walk, double s, double *p) {
    double whole = walk->s[walk->n];
    s -= floor(s / whole) * whole;
    size_t lo = 0, hi = walk->n;
    while (hi - lo > 1) {
        size_t mid = (lo + hi) / 2;
        if (walk->s[mid] <= s)
            lo = mid;
        else
            hi = mid;
    }
    double f = (s - walk->s[lo]) / (walk->s[lo + 1] - walk->s[lo]);
    for (int c = 0; c < 2; c++)
        p[c] = (1 - f) * walk->p[lo][c] + f * walk->p[lo + 1][c];
}

double mesh_walk_turn(const struct mesh_walk *walk, size_t i) {
    const double *a = walk->p[i ? i - 1 : walk->n - 1], *b = walk->p[i], *c = walk->p[i + 1];
    double u[2] = {b[0] - a[0], b[1] - a[1]}, v[2] = {c[0] - b[0], c[1] - b[1]};
    return atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]);
}

/* One straight piece of an outline, for the checks of crossing. */
struct piece {
    double a[2], b[2], lo, hi; /* lo, hi: range in x */
    size_t loop, at, n;
};

static double cross3(const double *a, const double *b, const double *c) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

static int meet(const struct piece *p, const struct piece *q) {
    if (fmax(p->a[1], p->b[1]) < fmin(q->a[1], q->b[1])) return 0;
    if (fmax(q->a[1], q->b[1]) < fmin(p->a[1], p->b[1])) return 0;
    double d1 = cross3(p->a, p->b, q->a), d2 = cross3(p->a, p->b, q->b);
    double d3 = cross3(q->a, q->b, p->a), d4 = cross3(q->a, q->b, p->b);
    if (d1 == 0 && d2 == 0) /* in line: they share more than an end when the ranges overlap */
        return fmin(p->hi, q->hi) >= fmax(p->lo, q->lo);
    return ((d1 >= 0) != (d2 >= 0) || d1 == 0 || d2 == 0) &&
           ((d3 >= 0) != (d4 >= 0) || d3 == 0 || d4 == 0);
}

static int joined(const struct piece *p, const struct piece *q) {
    if (p->loop != q->loop) return 0;
    size_t i = p->at, j = q->at, n = p->n;
    if ((i + 1) % n == j)
        return cross3(p->a, p->b, q->b) != 0 || /* a fold back on itself is not */
               (q->b[0] - q->a[0]) * (p->b[0] - p->a[0]) +
                       (q->b[1] - q->a[1]) * (p->b[1] - p->a[1]) >
                   0;
    if ((j + 1) % n == i) return joined(q, p);
    return 0;
}

static int by_lo(const void *a, const void *b) {
    const struct piece *p = a, *q = b;
    return p->lo < q->lo        ? -1
           : p->lo > q->lo      ? 1
           : p->loop != q->loop ? (p->loop < q->loop ? -1 : 1)
           : p->at < q->at      ? -1
                                : p->at > q->at;
}

static int inside(const struct mesh_walk *walk, const double *p) {
    int in = 0;
    for (size_t i = 0; i < walk->n; i++) {
        const double *a = walk->p[i], *b = walk->p[i + 1];
        if ((a[1] > p[1]) != (b[1] > p[1]) &&
            p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]))
            in = !in;
    }
    return in;
}

static int check_simple(const struct mesh_walk *walks, size_t n_loops, struct arena *arena,
                        struct error *err) {
    size_t n = 0, k = 0;
    for (size_t l = 0; l < n_loops; l++)
        n += walks[l].n;
    struct piece *all = ARENA_NEW(arena, struct piece, n);
    if (!all) return fail_memory(err);
    for (size_t l = 0; l < n_loops; l++)
        for (size_t i = 0; i < walks[l].n; i++) {
            const double *a = walks[l].p[i], *b = walks[l].p[i + 1];
            all[k++] = (struct piece){
                {a[0], a[1]}, {b[0], b[1]}, fmin(a[0], b[0]), fmax(a[0], b[0]), l, i, walks[l].n};
        }
    qsort(all, n, sizeof *all, by_lo);
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n && all[j].lo <= all[i].hi; j++)
            if (!joined(&all[i], &all[j]) && meet(&all[i], &all[j]))
                return fail(
                    err, ERR_INPUT, "Mend the outline so that its edges meet only at their ends.",
                    "The outline crosses or touches itself near (%.6g, %.6g) and (%.6g, %.6g) mm.",
                    all[i].a[0], all[i].a[1], all[j].a[0], all[j].a[1]);
    for (size_t l = 1; l < n_loops; l++) {
        int out = !inside(&walks[0], walks[l].p[0]);
        for (size_t m = 1; m < n_loops && !out; m++)
            if (m != l && inside(&walks[m], walks[l].p[0])) out = 2;
        if (out)
            return fail(err, ERR_INPUT, "Move the hole or leave it out.", "Hole %zu lies %s.", l,
                        out == 1 ? "outside the outline" : "inside another hole");
    }
    return 0;
}

/* Stations: fine samples of all loops with the edge length wanted there. */
struct stations {
    size_t n, *start;
    double (*p)[2], (*normal)[2], *s, *h; /* s: arc length along the loop; normal: inward */
};

static double wanted(const struct plane_mesh_options *o, double size, double finer,
                     const double *p) {
    double h = size;
    if (o->size_at) {
        double w = o->size_at(p, o->context);
        if (isfinite(w) && w > size * 1e-3) h = w;
    }
    return h / finer;
}

static int stations_make(struct stations *out, const struct mesh_walk *walks, size_t n_loops,
                         const struct plane_mesh_options *o, double size, double finer,
                         struct arena *arena, struct error *err) {
    size_t n = 0;
    double step = size / finer / 3;
    for (size_t l = 0; l < n_loops; l++)
        n += walks[l].n + (size_t)(walks[l].s[walks[l].n] / step) + 1;
    out->start = ARENA_NEW(arena, size_t, n_loops + 1);
    out->p = arena_alloc(arena, n, sizeof *out->p);
    out->normal = arena_alloc(arena, n, sizeof *out->normal);
    out->s = ARENA_NEW(arena, double, n);
    out->h = ARENA_NEW(arena, double, n);
    if (!out->start || !out->p || !out->normal || !out->s || !out->h) return fail_memory(err);
    for (size_t l = 0; l < n_loops; l++) {
        const struct mesh_walk *w = &walks[l];
        for (size_t i = 0; i < w->n; i++) {
            double len = w->s[i + 1] - w->s[i];
            size_t m = 1 + (size_t)(len / step);
            for (size_t k = 0; k < m && out->n < n; k++) {
                size_t q = out->n++;
                double f = ((double)k + 0.5) / (double)m;
                for (int c = 0; c < 2; c++)
                    out->p[q][c] = (1 - f) * w->p[i][c] + f * w->p[i + 1][c];
                out->normal[q][0] = -(w->p[i + 1][1] - w->p[i][1]) / len;
                out->normal[q][1] = (w->p[i + 1][0] - w->p[i][0]) / len;
                out->s[q] = w->s[i] + f * len;
                out->h[q] = wanted(o, size, finer, out->p[q]);
            }
        }
        out->start[l + 1] = out->n;
    }
    return 0;
}

/* Length of the inward ray from a station to the next outline. */
static double width_at(const struct stations *st, size_t i, const struct mesh_walk *walks,
                       size_t n_loops, double most) {
    const double *p = st->p[i], *d = st->normal[i];
    double best = most;
    for (size_t l = 0; l < n_loops; l++)
        for (size_t k = 0; k < walks[l].n; k++) {
            const double *a = walks[l].p[k], *b = walks[l].p[k + 1];
            double sa = d[0] * (a[1] - p[1]) - d[1] * (a[0] - p[0]);
            double sb = d[0] * (b[1] - p[1]) - d[1] * (b[0] - p[0]);
            if ((sa > 0) == (sb > 0)) continue;
            double f = sa / (sa - sb);
            double t =
                d[0] * (a[0] + f * (b[0] - a[0]) - p[0]) + d[1] * (a[1] + f * (b[1] - a[1]) - p[1]);
            if (t > 1e-9 * most && t < best) best = t;
        }
    return best;
}

/* Narrow places and tight bends get shorter edges; a quarter of the wanted size is the floor. */
static void stations_limit(struct stations *st, const struct mesh_walk *walks, size_t n_loops,
                           double corner, double grading) {
    for (size_t l = 0; l < n_loops; l++) {
        size_t b = st->start[l], n = st->start[l + 1] - b;
        double whole = walks[l].s[walks[l].n];
        for (size_t i = b; i < b + n; i++) {
            double h = st->h[i], least = h / 4;
            double w = width_at(st, i, walks, n_loops, 4 * h);
            if (w < 1.05 * h) h = w / 1.05;
            double turned = 0; /* how far the outline turns within the edge, corners apart */
            for (size_t k = 1; k < n; k++) {
                size_t j = b + (i - b + k) % n, before = b + (i - b + k - 1) % n;
                double ds = st->s[j] - st->s[i];
                if (ds < 0) ds += whole;
                if (ds > st->h[i]) break;
                const double *u = st->normal[before], *v = st->normal[j];
                double t = fabs(atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]));
                if (t < corner) turned += t;
            }
            if (turned > 0.7) h = fmin(h, st->h[i] * 0.7 / turned);
            st->h[i] = fmax(h, least);
        }
        for (int pass = 0; pass < 2; pass++) /* grading along the loop, both ways, twice round */
            for (size_t k = 0; k < 4 * n; k++) {
                size_t i = k < 2 * n ? b + k % n : b + (4 * n - 1 - k) % n;
                size_t j = k < 2 * n ? b + (i - b + 1) % n : b + (i - b + n - 1) % n;
                st->h[j] = fmin(st->h[j], st->h[i] + grading * distance(st->p[i], st->p[j]));
            }
    }
}

/* Points between two corners at s0 and s1, spaced evenly in the measure ds/h. */
static void sample_section(struct mesh_border *out, const struct mesh_walk *walk,
                           const struct stations *st, size_t loop, double s0, double s1,
                           int corner) {
    size_t b = st->start[loop], n = st->start[loop + 1] - b;
    double whole = walk->s[walk->n], total = 0;
    for (int pass = 0; pass < 2; pass++) {
        double want = 0, unit = 0, run = 0;
        size_t pieces = 0, k = 0;
        if (pass) {
            pieces = (size_t)fmax(1, floor(total + 0.5));
            if (s1 - s0 >= whole * (1 - 1e-12) && pieces < 8) pieces = 8;
            unit = total / (double)pieces;
            want = 0;
        }
        for (size_t turn = 0; turn < 2 * n + 2; turn++) {
            size_t i = b + turn % n, j = b + (turn + 1) % n;
            double base = (double)(turn / n) * whole, a = st->s[i] + base;
            double e = st->s[j] + ((turn + 1) / n) * whole; /* from station to station */
            double lo = fmax(a, s0), hi = fmin(e, s1);
            if (turn == 0 && st->s[b] > s0) lo = s0; /* before the first station */
            if (hi <= lo) {
                if (a > s1) break;
                continue;
            }
            double h = (st->h[i] + st->h[j]) / 2, part = (hi - lo) / h;
            while (pass && k < pieces && want <= run + part + 1e-12 * total) {
                double s = fmin(lo + (want - run) * h, s1);
                size_t q = out->n++;
                mesh_walk_at(walk, s, out->p[q]);
                out->at[q] = s / whole - floor(s / whole);
                out->corner[q] = k == 0 && corner;
                k++;
                want = unit * (double)k;
            }
            run += part;
        }
        total = run;
    }
}

/* Upper bound of the number of samples. */
static size_t sample_bound(const struct stations *st, const struct mesh_walk *walks,
                           size_t n_loops) {
    size_t n = 0;
    for (size_t l = 0; l < n_loops; l++) {
        double least = st->h[st->start[l]];
        for (size_t i = st->start[l]; i < st->start[l + 1]; i++)
            least = fmin(least, st->h[i]);
        n += (size_t)(walks[l].s[walks[l].n] / least) + 2 * walks[l].n + 16;
    }
    return n;
}

static int border_sample(struct mesh_border *out, const struct mesh_walk *walks, size_t n_loops,
                         const struct stations *st, double corner, struct arena *arena,
                         struct error *err) {
    size_t most = sample_bound(st, walks, n_loops);
    out->start = ARENA_NEW(arena, size_t, n_loops + 1);
    out->p = arena_alloc(arena, most, sizeof *out->p);
    out->at = ARENA_NEW(arena, double, most);
    out->corner = ARENA_NEW(arena, int, most);
    if (!out->start || !out->p || !out->at || !out->corner) return fail_memory(err);
    out->loops = n_loops;
    for (size_t l = 0; l < n_loops; l++) {
        const struct mesh_walk *w = &walks[l];
        double first = -1, last = -1;
        for (size_t i = 0; i < w->n; i++) {
            if (fabs(mesh_walk_turn(w, i)) < corner) continue;
            if (first < 0)
                first = w->s[i];
            else
                sample_section(out, w, st, l, last, w->s[i], 1);
            last = w->s[i];
        }
        if (first < 0)
            sample_section(out, w, st, l, 0, w->s[w->n], 0);
        else
            sample_section(out, w, st, l, last, first + w->s[w->n], 1);
        out->start[l + 1] = out->n;
    }
    return 0;
}

double mesh_size_at(const struct mesh_size *z, const double *p) {
    double fx = (p[0] - z->x0) / z->step, fy = (p[1] - z->y0) / z->step;
    fx = fmin(fmax(fx, 0), (double)z->nx - 1.000001);
    fy = fmin(fmax(fy, 0), (double)z->ny - 1.000001);
    size_t i = (size_t)fx, j = (size_t)fy;
    fx -= (double)i;
    fy -= (double)j;
    const double *h = z->h + j * z->nx + i;
    return (1 - fy) * ((1 - fx) * h[0] + fx * h[1]) +
           fy * ((1 - fx) * h[z->nx] + fx * h[z->nx + 1]);
}

/* Lets no value exceed a neighbour's by more than the grading; two pairs of sweeps reach all. */
static void size_grade(struct mesh_size *z, double grading) {
    long nx = (long)z->nx, ny = (long)z->ny;
    for (int sweep = 0; sweep < 4; sweep++)
        for (long r = 0; r < ny; r++)
            for (long c = 0; c < nx; c++) {
                long j = sweep & 1 ? ny - 1 - r : r, i = sweep & 2 ? nx - 1 - c : c;
                double *h = z->h + j * nx + i;
                for (int k = 0; k < 4; k++) {
                    long a = i + (k == 0) - (k == 1), b = j + (k == 2) - (k == 3);
                    if (a < 0 || b < 0 || a >= nx || b >= ny) continue;
                    *h = fmin(*h, z->h[b * nx + a] + grading * z->step);
                }
            }
}

static int size_make(struct mesh_size *z, const struct mesh_border *border,
                     const struct plane_mesh_options *o, double size, double finer, double grading,
                     struct arena *arena, struct error *err) {
    double lo[2] = {INFINITY, INFINITY}, hi[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < border->n; i++)
        for (int c = 0; c < 2; c++) {
            lo[c] = fmin(lo[c], border->p[i][c]);
            hi[c] = fmax(hi[c], border->p[i][c]);
        }
    double side = fmax(hi[0] - lo[0], hi[1] - lo[1]);
    z->step = fmax(size / finer, side / GRID);
    z->x0 = lo[0] - z->step;
    z->y0 = lo[1] - z->step;
    z->nx = (size_t)((hi[0] - lo[0]) / z->step) + 4;
    z->ny = (size_t)((hi[1] - lo[1]) / z->step) + 4;
    z->h = ARENA_NEW(arena, double, z->nx * z->ny);
    if (!z->h) return fail_memory(err);
    for (size_t j = 0; j < z->ny; j++)
        for (size_t i = 0; i < z->nx; i++) {
            double p[2] = {z->x0 + (double)i * z->step, z->y0 + (double)j * z->step};
            z->h[j * z->nx + i] = wanted(o, size, finer, p);
        }
    for (size_t l = 0; l < border->loops; l++)
        for (size_t a = border->start[l], n = border->start[l + 1] - a, k = 0; k < n; k++) {
            const double *p = border->p[a + k], *q = border->p[a + (k + 1) % n];
            double h = distance(p, q), m[2] = {(p[0] + q[0]) / 2, (p[1] + q[1]) / 2};
            size_t i = (size_t)((m[0] - z->x0) / z->step + 0.5);
            size_t j = (size_t)((m[1] - z->y0) / z->step + 0.5);
            double *c = z->h + j * z->nx + i;
            if (h < 0.9 * *c) *c = h;
        }
    size_grade(z, grading);
    z->least = z->most = z->h[0];
    for (size_t k = 0; k < z->nx * z->ny; k++) {
        z->least = fmin(z->least, z->h[k]);
        z->most = fmax(z->most, z->h[k]);
    }
    return 0;
}

int mesh_border_make(struct mesh_border *out, struct mesh_size *z, const struct plane_loop *loops,
                     size_t n_loops, const struct plane_mesh_options *o, double finer,
                     struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    memset(z, 0, sizeof *z);
    struct mesh_walk *walks = ARENA_NEW(arena, struct mesh_walk, n_loops ? n_loops : 1);
    if (!walks) return fail_memory(err);
    if (n_loops == 0)
        return fail(err, ERR_INPUT, "Give an outline.", "There is no outline to mesh.");
    for (size_t l = 0; l < n_loops; l++) {
        int rc = mesh_walk_make(&walks[l], &loops[l], l == 0, arena, err);
        if (rc) return rc;
        double a = fabs(loop_area(loops[l].xy, loops[l].n));
        out->area += l ? -a : a;
    }
    int rc = check_simple(walks, n_loops, arena, err);
    if (rc) return rc;
    double wish = o->triangles ? (double)o->triangles : 2400;
    double size = o->size > 0 ? o->size : sqrt(out->area / wish * 4 / sqrt(3));
    if (!(size > 0) || !isfinite(size) || out->area / (size * size) * 2.4 > MOST_TRIANGLES)
        return fail(err, ERR_RANGE, "Ask for larger triangles.",
                    "An edge length of %g mm on %g mm2 gives too many triangles.", size, out->area);
    double corner = o->corner > 0 ? o->corner : 25 * M_PI / 180;
    double grading = o->grading > 0 ? o->grading : 0.25;
    struct stations st = {0};
    rc = stations_make(&st, walks, n_loops, o, size, finer, arena, err);
    if (rc) return rc;
    stations_limit(&st, walks, n_loops, corner, grading);
    rc = border_sample(out, walks, n_loops, &st, corner, arena, err);
    if (rc) return rc;
    return size_make(z, out, o, size, finer, grading, arena, err);
}
