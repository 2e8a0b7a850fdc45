#include "num/nonlinear.h"

#include "num/random.h"

#include <gsl/gsl_blas.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <math.h>
#include <string.h>

enum { MOST_ITERATIONS = 2000, POLISH = 20, MOST_PARAMETERS = 16 };

static double root_weight(const struct num_curve *c, size_t i) {
    return c->w ? sqrt(c->w[i]) : 1;
}

static int residuals(const gsl_vector *b, void *context, gsl_vector *f) {
    const struct num_curve *c = context;
    for (size_t i = 0; i < c->n; i++) {
        double v = c->fn(b->data, i, NULL, c->ctx);
        if (!isfinite(v)) return GSL_EDOM;
        gsl_vector_set(f, i, root_weight(c, i) * (v - c->y[i]));
    }
    return GSL_SUCCESS;
}

static int slopes(const gsl_vector *b, void *context, gsl_matrix *j) {
    const struct num_curve *c = context;
    double s[MOST_PARAMETERS];
    for (size_t i = 0; i < c->n; i++) {
        c->fn(b->data, i, s, c->ctx);
        for (size_t k = 0; k < c->p; k++) {
            if (!isfinite(s[k])) return GSL_EDOM;
            gsl_matrix_set(j, i, k, root_weight(c, i) * s[k]);
        }
    }
    return GSL_SUCCESS;
}

/* One descent. True when it ended somewhere finite. */
static bool descend(const struct num_curve *c, const double *start, double *b, double *rss) {
    gsl_multifit_nlinear_parameters set = gsl_multifit_nlinear_default_parameters();
    set.trs = gsl_multifit_nlinear_trs_lmaccel;
    set.scale = gsl_multifit_nlinear_scale_more;
    set.solver = gsl_multifit_nlinear_solver_qr;
    gsl_multifit_nlinear_fdf fdf = {
        .f = residuals, .df = slopes, .n = c->n, .p = c->p, .params = (void *)c};
    gsl_multifit_nlinear_workspace *w =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &set, c->n, c->p);
    bool good = false;
    if (!w) return false;
    gsl_vector_const_view x = gsl_vector_const_view_array(start, c->p);
    if (gsl_multifit_nlinear_init(&x.vector, &fdf, w) == GSL_SUCCESS) {
        int info = 0;
        /* Tolerances near the last place of a double: the polish has the last word. */
        gsl_multifit_nlinear_driver(MOST_ITERATIONS, 1e-14, 1e-14, 0, NULL, NULL, &info, w);
        memcpy(b, w->x->data, c->p * sizeof *b);
        *rss = 0;
        gsl_blas_ddot(w->f, w->f, rss);
        good = isfinite(*rss);
    }
    gsl_multifit_nlinear_free(w);
    return good;
}

/* Householder QR of [J | r] in extended precision: x = argmin |J x - r|, and R on request. a is
 * [n][p + 1] row-major and destroyed. False when a column has no length of its own. */
static bool long_least_squares(long double *a, size_t n, size_t p, long double *x) {
    size_t cols = p + 1;
    for (size_t k = 0; k < p; k++) {
        long double norm = 0, dot;
        for (size_t i = k; i < n; i++)
            norm += a[i * cols + k] * a[i * cols + k];
        norm = sqrtl(norm);
        if (!(norm > 0)) return false;
        if (a[k * cols + k] > 0) norm = -norm;
        long double pivot = a[k * cols + k] - norm, beta = -1 / (norm * pivot);
        for (size_t j = k + 1; j < cols; j++) {
            dot = pivot * a[k * cols + j];
            for (size_t i = k + 1; i < n; i++)
                dot += a[i * cols + k] * a[i * cols + j];
            dot *= beta;
            a[k * cols + j] -= dot * pivot;
            for (size_t i = k + 1; i < n; i++)
                a[i * cols + j] -= dot * a[i * cols + k];
        }
        a[k * cols + k] = norm;
    }
    for (size_t k = p; k-- > 0;) {
        x[k] = a[k * cols + p];
        for (size_t j = k + 1; j < p; j++)
            x[k] -= a[k * cols + j] * x[j];
        x[k] /= a[k * cols + k];
    }
    return true;
}

static void fill_system(const struct num_curve *c, const double *b, long double *a,
                        long double *rss) {
    double s[MOST_PARAMETERS];
    *rss = 0;
    for (size_t i = 0; i < c->n; i++) {
        long double w = root_weight(c, i), r = w * ((long double)c->y[i] - c->fn(b, i, s, c->ctx));
        for (size_t k = 0; k < c->p; k++)
            a[i * (c->p + 1) + k] = w * s[k];
        a[i * (c->p + 1) + c->p] = r;
        *rss += r * r;
    }
}

/* Gauss-Newton steps while they shrink. The sum of squares is flat at its minimum and says nothing
 * beyond half the digits, so it only may not rise by more than that; the steps themselves tell. */
static void polish(const struct num_curve *c, double *b, long double *a, long double *rss) {
    const long double flat = 1e-9L;
    long double x[MOST_PARAMETERS];
    double trial[MOST_PARAMETERS], last = INFINITY;
    fill_system(c, b, a, rss);
    for (int k = 0; k < POLISH; k++) {
        long double next;
        double most = 0;
        if (!long_least_squares(a, c->n, c->p, x)) return;
        for (size_t j = 0; j < c->p; j++) {
            trial[j] = (double)(b[j] + x[j]);
            most = fmax(most, fabs((double)x[j]) / fmax(fabs(b[j]), 1e-300));
        }
        if (!(most < last)) return;
        fill_system(c, trial, a, &next);
        if (!(next <= *rss * (1 + flat))) return;
        memcpy(b, trial, c->p * sizeof *b);
        *rss = next;
        last = most;
    }
}

/* (R'R)^-1 from the QR already made of J. */
static void covariance(const struct num_curve *c, const long double *a, double scale, double *cov) {
    size_t p = c->p, cols = p + 1;
    long double inverse[MOST_PARAMETERS * MOST_PARAMETERS] = {0};
    for (size_t k = 0; k < p; k++) { /* columns of R^-1 */
        for (size_t i = k + 1; i-- > 0;) {
            long double sum = i == k ? 1 : 0;
            for (size_t j = i + 1; j <= k; j++)
                sum -= a[i * cols + j] * inverse[j * p + k];
            inverse[i * p + k] = sum / a[i * cols + i];
        }
    }
    for (size_t i = 0; i < p; i++)
        for (size_t k = 0; k < p; k++) {
            long double sum = 0;
            for (size_t j = i > k ? i : k; j < p; j++)
                sum += inverse[i * p + j] * inverse[k * p + j];
            cov[i * p + k] = (double)(scale * sum);
        }
}

static int finish(struct num_curve_fit *out, const struct num_curve *c, struct arena *arena,
                  struct error *err) {
    size_t p = c->p;
    long double *a = ARENA_NEW(arena, long double, c->n *(p + 1)), x[MOST_PARAMETERS], rss;
    if (!a) return fail_memory(err);
    polish(c, out->b, a, &rss);
    fill_system(c, out->b, a, &rss);
    out->rss = (double)rss;
    out->freedom = c->n - p;
    double scale = out->freedom ? out->rss / (double)out->freedom : NAN;
    out->sd_residual = sqrt(scale);
    out->relative_gradient = 0;
    for (size_t k = 0; k < p; k++) {
        long double dot = 0, norm = 0;
        for (size_t i = 0; i < c->n; i++) {
            dot += a[i * (p + 1) + k] * a[i * (p + 1) + p];
            norm += a[i * (p + 1) + k] * a[i * (p + 1) + k];
        }
        if (norm > 0 && rss > 0)
            out->relative_gradient =
                fmax(out->relative_gradient, fabs((double)(dot / sqrtl(norm * rss))));
    }
    out->converged =
        out->relative_gradient < 1e-5; /* a thousandth of a standard error at n = 100 */
    if (!long_least_squares(a, c->n, p, x))
        return fail(err, ERR_SOLVE, "Leave out a parameter, or measure where it shows.",
                    "One of the %zu parameters has no effect on the curve at the data.", p);
    covariance(c, a, scale, out->cov);
    for (size_t k = 0; k < p; k++)
        out->sd[k] = sqrt(out->cov[k * p + k]);
    return 0;
}

int num_curve_fit(struct num_curve_fit *out, const struct num_curve *c, const double *starts,
                  size_t n_starts, size_t scatter, uint64_t seed, struct arena *arena,
                  struct error *err) {
    memset(out, 0, sizeof *out);
    if (c->p == 0 || c->p > MOST_PARAMETERS || c->n < c->p)
        return fail(err, ERR_RANGE, "Use at least as many points as parameters, at most 16.",
                    "%zu points for %zu parameters.", c->n, c->p);
    out->b = ARENA_NEW(arena, double, c->p);
    out->sd = ARENA_NEW(arena, double, c->p);
    out->cov = ARENA_NEW(arena, double, c->p * c->p);
    if (!out->b || !out->sd || !out->cov) return fail_memory(err);
    double best = INFINITY;
    for (size_t s = 0; s < n_starts + scatter; s++) {
        double start[MOST_PARAMETERS], b[MOST_PARAMETERS], rss;
        struct num_random r;
        num_random_begin(&r, seed, num_hash("curve fit"), s);
        for (size_t k = 0; k < c->p; k++) {
            start[k] = starts[(s < n_starts ? s : 0) * c->p + k];
            if (s >= n_starts) start[k] *= exp(num_random_normal(&r));
        }
        out->tried++;
        if (!descend(c, start, b, &rss)) continue;
        /* The same minimum when the sums of squares agree to a millionth. */
        if (fabs(rss - best) <= 1e-6 * best)
            out->agreeing++;
        else if (rss < best)
            out->agreeing = 1;
        if (rss < best) {
            best = rss;
            out->from_start = s;
            memcpy(out->b, b, sizeof *b * c->p);
        }
    }
    if (isinf(best))
        return fail(err, ERR_SOLVE, "Start nearer, or look at the formula.",
                    "None of the %zu starts led to a fit.", out->tried);
    return finish(out, c, arena, err);
}
