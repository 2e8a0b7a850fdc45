#include "trial/scan.h"

#include "base/parallel.h"

#include <gsl/gsl_eigen.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

void scan_motion_apply(const struct scan_motion *m, const double p[3], double out[3]) {
    for (int i = 0; i < 3; i++)
        out[i] = m->r[3 * i] * p[0] + m->r[3 * i + 1] * p[1] + m->r[3 * i + 2] * p[2] + m->t[i];
}

static void from_quaternion(double r[9], const double q[4]) {
    double w = q[0], x = q[1], y = q[2], z = q[3];
    const double m[9] = {1 - 2 * (y * y + z * z), 2 * (x * y - w * z),     2 * (x * z + w * y),
                         2 * (x * y + w * z),     1 - 2 * (x * x + z * z), 2 * (y * z - w * x),
                         2 * (x * z - w * y),     2 * (y * z + w * x),     1 - 2 * (x * x + y * y)};
    memcpy(r, m, sizeof m);
}

/* Eigenvalues and vectors of a symmetric n x n matrix, largest first. */
static int eigen(const double *m, size_t n, double *value, double *vector) {
    gsl_matrix *a = gsl_matrix_alloc(n, n), *v = gsl_matrix_alloc(n, n);
    gsl_vector *e = gsl_vector_alloc(n);
    gsl_eigen_symmv_workspace *w = gsl_eigen_symmv_alloc(n);
    int rc = a && v && e && w ? 0 : ERR_MEMORY;
    if (!rc) {
        for (size_t i = 0; i < n * n; i++)
            a->data[i] = m[i];
        gsl_eigen_symmv(a, e, v, w);
        gsl_eigen_symmv_sort(e, v, GSL_EIGEN_SORT_VAL_DESC);
        for (size_t i = 0; i < n; i++) {
            value[i] = gsl_vector_get(e, i);
            for (size_t k = 0; vector && k < n; k++)
                vector[k * n + i] = gsl_matrix_get(v, k, i);
        }
    }
    if (a) gsl_matrix_free(a);
    if (v) gsl_matrix_free(v);
    if (e) gsl_vector_free(e);
    if (w) gsl_eigen_symmv_free(w);
    return rc;
}

static void mean_of(const double *p, size_t n, double m[3]) {
    m[0] = m[1] = m[2] = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < 3; c++)
            m[c] += p[3 * i + c] / (double)n;
}

int scan_align_pairs(struct scan_motion *out, double *rms, const double *from, const double *to,
                     size_t n, struct error *err) {
    static const char remedy[] = "Give at least three pairs of points that do not lie on a line.";
    if (n < 3) return fail(err, ERR_MISSING, remedy, "%zu pairs of points fix no position.", n);
    double a[3], b[3], s[9] = {0};
    mean_of(from, n, a);
    mean_of(to, n, b);
    for (size_t i = 0; i < n; i++)
        for (size_t r = 0; r < 3; r++)
            for (size_t c = 0; c < 3; c++)
                s[3 * r + c] += (from[3 * i + r] - a[r]) * (to[3 * i + c] - b[c]);
    /* Horn 1987, section 4.A: the quaternion is the eigenvector of the largest eigenvalue of N. */
    double nn[16] = {s[0] + s[4] + s[8],  s[5] - s[7], s[6] - s[2], s[1] - s[3], s[5] - s[7],
                     s[0] - s[4] - s[8],  s[1] + s[3], s[6] + s[2], s[6] - s[2], s[1] + s[3],
                     -s[0] + s[4] - s[8], s[5] + s[7], s[1] - s[3], s[6] + s[2], s[5] + s[7],
                     -s[0] - s[4] + s[8]};
    double value[4], vector[16];
    if (eigen(nn, 4, value, vector)) return fail_memory(err);
    /* Points on a line leave a turn about it: the two largest eigenvalues meet. */
    if (!(value[0] - value[1] > 1e-9 * fabs(value[0])))
        return fail(err, ERR_SOLVE, remedy, "The paired points lie on a line (or in one place).");
    double q[4] = {vector[0], vector[4], vector[8], vector[12]};
    from_quaternion(out->r, q);
    memset(out->t, 0, sizeof out->t);
    double turned[3], sum = 0;
    scan_motion_apply(out, a, turned);
    for (int c = 0; c < 3; c++)
        out->t[c] = b[c] - turned[c];
    for (size_t i = 0; i < n; i++) {
        scan_motion_apply(out, from + 3 * i, turned);
        for (size_t c = 0; c < 3; c++)
            sum += (turned[c] - to[3 * i + c]) * (turned[c] - to[3 * i + c]);
    }
    *rms = sqrt(sum / (double)n);
    return 0;
}

/* ---- point to plane ---------------------------------------------------------------------------
 */

struct pairing {
    const struct scan_surface *fixed;
    const struct scan_motion *motion;
    const double *point;  /* [n][3] of the moving scan, as used */
    double *moved, *foot; /* [n][3] */
    uint32_t *triangle;
    double *distance; /* to the surface, mm */
};

static void pair_points(size_t begin, size_t end, size_t index, void *context) {
    struct pairing *p = context;
    (void)index;
    for (size_t i = begin; i < end; i++) {
        scan_motion_apply(p->motion, p->point + 3 * i, p->moved + 3 * i);
        p->distance[i] =
            scan_surface_nearest(p->fixed, p->moved + 3 * i, p->foot + 3 * i, &p->triangle[i]);
    }
}

static int by_number(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static double median_of(double *v, size_t n) {
    qsort(v, n, sizeof *v, by_number);
    return n == 0 ? NAN : n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

struct icp {
    struct pairing pair;
    size_t n;
    double *sorted;
    double middle[3], radius; /* of the fixed surface's part that is used */
    double normal[36], right[6];
    double square;
    size_t kept;
};

/* Sums the normal equations of sum ((R p + t - q).n)^2 with R = I + [w]x about the middle, lengths
 * in units of the radius so that turns and shifts compare. Pairs beyond 3 x 1.4826 MAD are left
 * out. */
static void sum_equations(struct icp *c) {
    memcpy(c->sorted, c->pair.distance, c->n * sizeof *c->sorted);
    double median = median_of(c->sorted, c->n);
    for (size_t i = 0; i < c->n; i++)
        c->sorted[i] = fabs(c->pair.distance[i] - median);
    double mad = median_of(c->sorted, c->n);
    /* 1e-9 of the radius: when most pairs fit exactly the MAD is 0, and they must be kept */
    double most = median + 3 * 1.4826 * mad + 1e-9 * c->radius;
    memset(c->normal, 0, sizeof c->normal);
    memset(c->right, 0, sizeof c->right);
    c->square = 0;
    c->kept = 0;
    for (size_t i = 0; i < c->n; i++) {
        if (c->pair.distance[i] > most) continue;
        const double *n = c->pair.fixed->normal[c->pair.triangle[i]], *m = c->pair.moved + 3 * i;
        const double *q = c->pair.foot + 3 * i;
        double p[3], row[6];
        for (int k = 0; k < 3; k++)
            p[k] = (m[k] - c->middle[k]) / c->radius;
        row[0] = p[1] * n[2] - p[2] * n[1];
        row[1] = p[2] * n[0] - p[0] * n[2];
        row[2] = p[0] * n[1] - p[1] * n[0];
        memcpy(row + 3, n, 3 * sizeof *n);
        double off = (q[0] - m[0]) * n[0] + (q[1] - m[1]) * n[1] + (q[2] - m[2]) * n[2];
        for (int a = 0; a < 6; a++) {
            for (int b = 0; b < 6; b++)
                c->normal[6 * a + b] += row[a] * row[b];
            c->right[a] += row[a] * off / c->radius;
        }
        c->square += off * off;
        c->kept++;
    }
}

/* The step by the eigenvectors: motions the surface does not fix (eigenvalue under 1e-6 of the
 * largest) are left alone instead of running away. */
static int solve_step(const struct icp *c, double step[6], double value[6]) {
    double vector[36];
    if (eigen(c->normal, 6, value, vector)) return ERR_MEMORY;
    memset(step, 0, 6 * sizeof *step);
    for (int k = 0; k < 6; k++) {
        if (!(value[k] > 1e-6 * value[0])) continue;
        double along = 0;
        for (int a = 0; a < 6; a++)
            along += vector[6 * a + k] * c->right[a];
        for (int a = 0; a < 6; a++)
            step[a] += vector[6 * a + k] * along / value[k];
    }
    return 0;
}

/* motion <- small turn about the middle and shift, after motion. */
static void take_step(struct scan_motion *m, const struct icp *c, const double step[6]) {
    double angle = sqrt(step[0] * step[0] + step[1] * step[1] + step[2] * step[2]);
    double half = sin(angle / 2), q[4] = {cos(angle / 2), 0, 0, 0}, r[9];
    for (int k = 0; k < 3; k++)
        q[k + 1] = angle > 0 ? half * step[k] / angle : 0;
    from_quaternion(r, q);
    struct scan_motion old = *m;
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < 3; k++)
            m->r[3 * i + k] =
                r[3 * i] * old.r[k] + r[3 * i + 1] * old.r[3 + k] + r[3 * i + 2] * old.r[6 + k];
        m->t[i] = c->middle[i] + c->radius * step[3 + i];
        for (int k = 0; k < 3; k++)
            m->t[i] += r[3 * i + k] * (old.t[k] - c->middle[k]);
    }
}

static int iterate(struct scan_fit *fit, struct icp *c, int most) {
    double step[6];
    fit->settled = false;
    for (fit->iterations = 0; fit->iterations < most && !fit->settled; fit->iterations++) {
        c->pair.motion = &fit->motion;
        parallel_for(c->n, 256, pair_points, &c->pair);
        sum_equations(c);
        if (solve_step(c, step, fit->eigenvalue)) return ERR_MEMORY;
        double size = 0;
        for (int k = 0; k < 6; k++)
            size += step[k] * step[k];
        take_step(&fit->motion, c, step);
        fit->settled = sqrt(size) * c->radius < 1e-3; /* mm */
    }
    c->pair.motion = &fit->motion;
    parallel_for(c->n, 256, pair_points, &c->pair);
    sum_equations(c);
    if (solve_step(c, step, fit->eigenvalue)) return ERR_MEMORY;
    fit->rms = sqrt(c->square / (double)(c->kept ? c->kept : 1));
    fit->share_kept = (double)c->kept / (double)c->n;
    for (int k = 0; k < 6; k++)
        fit->eigenvalue[k] /= (double)(c->kept ? c->kept : 1);
    /* a thousandth: inference notes, section 6; below it the data leave a motion free */
    fit->determined = fit->eigenvalue[5] >= 1e-3 * fit->eigenvalue[0];
    /* worst direction: rms / sqrt(kept x least eigenvalue), in mm at the radius */
    fit->spread = fit->rms / sqrt((double)c->kept * fit->eigenvalue[5]);
    return 0;
}

/* Middle and principal axes (columns) of points; a right-handed frame. */
static int axes_of(const double *p, size_t n, double middle[3], double axis[9], double *radius) {
    double cov[9] = {0}, value[3];
    mean_of(p, n, middle);
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < 3; a++)
            for (size_t b = 0; b < 3; b++)
                cov[3 * a + b] +=
                    (p[3 * i + a] - middle[a]) * (p[3 * i + b] - middle[b]) / (double)n;
    if (eigen(cov, 3, value, axis)) return ERR_MEMORY;
    *radius = sqrt(fmax(value[0] + value[1] + value[2], 1e-12));
    double det = axis[0] * (axis[4] * axis[8] - axis[5] * axis[7]) -
                 axis[1] * (axis[3] * axis[8] - axis[5] * axis[6]) +
                 axis[2] * (axis[3] * axis[7] - axis[4] * axis[6]);
    for (int k = 0; k < 3 && det < 0; k++)
        axis[3 * k + 2] = -axis[3 * k + 2];
    return 0;
}

/* Start k: the moving axes laid on the fixed ones, with the four proper choices of sign. */
static void start_motion(struct scan_motion *m, const double am[3], const double ax[9],
                         const double bm[3], const double bx[9], int k) {
    static const double sign[4][3] = {{1, 1, 1}, {1, -1, -1}, {-1, 1, -1}, {-1, -1, 1}};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double sum = 0;
            for (int a = 0; a < 3; a++)
                sum += bx[3 * i + a] * sign[k][a] * ax[3 * j + a];
            m->r[3 * i + j] = sum;
        }
    for (int i = 0; i < 3; i++)
        m->t[i] = bm[i] - (m->r[3 * i] * am[0] + m->r[3 * i + 1] * am[1] + m->r[3 * i + 2] * am[2]);
}

int scan_align(struct scan_fit *out, const struct scan *moving, const struct scan_surface *fixed,
               const struct scan_align_options *options, struct arena *arena, struct error *err) {
    *out = (struct scan_fit){0};
    size_t want = options->points ? options->points : 4000;
    size_t stride = moving->n > want ? moving->n / want : 1, n = (moving->n + stride - 1) / stride;
    if (moving->n < 6)
        return fail(err, ERR_MISSING, "Bring in a scan with more points.",
                    "%zu points cannot be laid on a surface.", moving->n);
    struct icp c = {.n = n};
    double *point = ARENA_NEW(arena, double, 3 * n);
    c.pair = (struct pairing){.fixed = fixed,
                              .point = point,
                              .moved = ARENA_NEW(arena, double, 3 * n),
                              .foot = ARENA_NEW(arena, double, 3 * n),
                              .triangle = ARENA_NEW(arena, uint32_t, n),
                              .distance = ARENA_NEW(arena, double, n)};
    c.sorted = ARENA_NEW(arena, double, n);
    if (!point || !c.pair.moved || !c.pair.foot || !c.pair.triangle || !c.pair.distance ||
        !c.sorted)
        return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        memcpy(point + 3 * i, moving->xyz + 3 * i * stride, 3 * sizeof *point);
    double am[3], ax[9], bm[3], bx[9], ar;
    if (axes_of(point, n, am, ax, &ar) ||
        axes_of(fixed->scan->xyz, fixed->scan->n, bm, bx, &c.radius))
        return fail_memory(err);
    memcpy(c.middle, bm, sizeof bm);
    int most = options->iterations ? options->iterations : 60;
    out->rms = INFINITY;
    for (int k = -2; k < 4; k++) { /* -2: what the caller gave; -1: as they lie; 0..3: axes */
        struct scan_fit fit = {.motion = {{1, 0, 0, 0, 1, 0, 0, 0, 1}, {0, 0, 0}}, .start = k};
        if (k == -2 && !options->first) continue;
        if (k == -2) fit.motion = *options->first;
        if (k >= 0) start_motion(&fit.motion, am, ax, bm, bx, k);
        if (iterate(&fit, &c, most)) return fail_memory(err);
        /* a fit that drops most points is no better for having little left over */
        if (fit.rms / fit.share_kept < out->rms / (isfinite(out->rms) ? out->share_kept : 1))
            *out = fit;
    }
    return 0;
}

/* ---- differences ------------------------------------------------------------------------------
 */

struct mapping {
    const struct scan *moving;
    const struct scan_fit *fit;
    const struct scan_surface *fixed;
    double *out;
};

static void map_points(size_t begin, size_t end, size_t index, void *context) {
    struct mapping *m = context;
    (void)index;
    for (size_t i = begin; i < end; i++) {
        double p[3], q[3];
        uint32_t t;
        scan_motion_apply(&m->fit->motion, m->moving->xyz + 3 * i, p);
        double d = scan_surface_nearest(m->fixed, p, q, &t);
        const double *n = m->fixed->normal[t];
        double side = (p[0] - q[0]) * n[0] + (p[1] - q[1]) * n[1] + (p[2] - q[2]) * n[2];
        m->out[i] = side < 0 ? -d : d;
    }
}

int scan_map_make(struct scan_map *out, const struct scan *moving, const struct scan_fit *fit,
                  const struct scan_surface *fixed, double tolerance, double correlation,
                  struct arena *arena, struct error *err) {
    *out = (struct scan_map){.n = moving->n};
    if (!(tolerance > 0) || !(correlation > 0))
        return fail(err, ERR_RANGE, "Give both in mm, above 0.",
                    "Tolerance %g mm, correlation length %g mm.", tolerance, correlation);
    out->signed_mm = ARENA_NEW(arena, double, moving->n);
    double *sorted = ARENA_NEW(arena, double, moving->n);
    if (!out->signed_mm || !sorted) return fail_memory(err);
    struct mapping m = {moving, fit, fixed, out->signed_mm};
    parallel_for(moving->n, 2048, map_points, &m);
    double square = 0, spread = fit->determined ? fit->spread : INFINITY;
    size_t inside = 0;
    memcpy(sorted, out->signed_mm, moving->n * sizeof *sorted);
    out->median = median_of(sorted, moving->n);
    for (size_t i = 0; i < moving->n; i++) {
        sorted[i] = fabs(out->signed_mm[i]);
        square += sorted[i] * sorted[i];
        inside += sorted[i] <= tolerance + spread;
    }
    qsort(sorted, moving->n, sizeof *sorted, by_number);
    out->p95 = sorted[(size_t)ceil(0.95 * (double)moving->n) - 1];
    out->rms = sqrt(square / (double)moving->n);
    out->within = (double)inside / (double)moving->n;
    out->independent = fmax(1, fmin((double)moving->n, fixed->area / (correlation * correlation)));
    return 0;
}
