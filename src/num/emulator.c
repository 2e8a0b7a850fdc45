#include "num/emulator.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/dense.h"
#include "num/four.h"

#include <math.h>
#include <nlopt.h>
#include <string.h>

#define ALWAYS static inline __attribute__((always_inline))

enum { D = NUM_EMULATOR_INPUTS, MOST_TREND = D + 1, STEPS = 120, CHUNK = 64 };

/* Prior of ln(length / range): centre and spread. A length of half the range times sqrt(d/2) lets
 * many inputs each matter a little; a factor e^1.2 either way is loose. */
static const double LENGTH_SPREAD = 1.2;
/* Prior of ln(nugget / variance): simulators are all but exact. */
static const double NUGGET_CENTRE = -11.5, NUGGET_SPREAD = 3;

struct num_emulator {
    size_t n, d, q; /* points, inputs, columns of the trend */
    enum num_kernel kernel;
    enum num_trend trend;
    double *x, *y;       /* scaled: [n][d] to about 0 .. 1, y to mean 0, sd 1 */
    double *low, *range; /* [d] */
    double y_mean, y_sd;
    double length[D]; /* scaled */
    double variance;  /* of scaled y */
    double nugget;    /* share of variance */
    double *chol;     /* [n][n] factor of C = kernel + nugget, lower triangle, row-major */
    double *inverse;  /* [n][n] C^-1 */
    double *scratch;  /* [n][n]; while fitting, then NULL */
    double *steep;    /* [n][n] lower: see `both`; while fitting, then NULL */
    double *near;     /* [n][wide] points over lengths, filled up with 0 */
    size_t wide;      /* inputs rounded up to a multiple of four */
    double *alpha;    /* [n] C^-1 (y - H beta) */
    double *trend_h;  /* [n][q] */
    double *ch;       /* [n][q] C^-1 H */
    double beta[MOST_TREND];
    double gram[MOST_TREND * MOST_TREND]; /* (H'C^-1 H)^-1 */
    double log_marginal;
    double log_det;
};

void num_emulator_free(struct num_emulator *e) {
    if (!e) return;
    void *all[] = {e->x,     e->y,       e->low, e->range,   e->chol,  e->inverse,
                   e->alpha, e->trend_h, e->ch,  e->scratch, e->steep, e->near};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        mem_free(all[i]);
    mem_free(e);
}

/* Squared distance of two points over lengths, four inputs at a time. */
static inline double apart(const double *a, const double *b, size_t wide) {
    num_four sum = {0};
    for (size_t k = 0; k < wide; k += 4) {
        num_four t = NUM_FOUR(a + k) - NUM_FOUR(b + k);
        sum += t * t;
    }
    return num_four_sum(&sum);
}

/* Correlation at a squared distance, and the factor by which (difference/length)^2 of an input is
 * multiplied to give the slope of the correlation by the logarithm of that length. */
static double both(const struct num_emulator *e, double r2, double *steep) {
    if (e->kernel == NUM_SQUARED_EXPONENTIAL) return *steep = exp(-0.5 * r2);
    double s = sqrt(5 * r2), ex = exp(-s);
    *steep = 5.0 / 3.0 * (1 + s) * ex;
    return (1 + s + s * s / 3) * ex;
}

/* The correlation at four squared distances, in place. */
ALWAYS void correlation(const struct num_emulator *e, num_four *r2) {
    if (e->kernel == NUM_SQUARED_EXPONENTIAL) {
        *r2 *= -0.5;
        num_four_exp(r2);
        return;
    }
    num_four s, ex;
    for (int b = 0; b < 4; b++)
        s[b] = sqrt(5 * (*r2)[b]);
    ex = -s;
    num_four_exp(&ex);
    *r2 = (1 + s + s * s / 3) * ex;
}

static void over_lengths(struct num_emulator *e) {
    double one[D];
    for (size_t k = 0; k < e->d; k++)
        one[k] = 1 / e->length[k];
    for (size_t i = 0; i < e->n; i++)
        for (size_t k = 0; k < e->d; k++)
            e->near[i * e->wide + k] = e->x[i * e->d + k] * one[k];
}

/* Small symmetric positive systems: inverse of g[q][q] in place. */
static bool invert_small(double *g, size_t q) {
    double l[MOST_TREND * MOST_TREND], z[MOST_TREND * MOST_TREND];
    memcpy(l, g, q * q * sizeof *g);
    if (!num_dense_factor(l, q)) return false;
    num_dense_inverse(g, l, z, q);
    return true;
}

/* Everything that follows from lengths and nugget (and variance when it is fixed). */
static bool assemble(struct num_emulator *e, bool fixed) {
    size_t n = e->n, q = e->q;
    over_lengths(e);
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < i; j++)
            e->chol[i * n + j] =
                both(e, apart(e->near + i * e->wide, e->near + j * e->wide, e->wide),
                     e->steep + i * n + j);
        e->chol[i * n + i] = 1 + e->nugget;
    }
    if (!num_dense_factor(e->chol, n)) return false;
    e->log_det = 0;
    for (size_t i = 0; i < n; i++)
        e->log_det += 2 * log(e->chol[i * n + i]);
    num_dense_inverse(e->inverse, e->chol, e->scratch, n);
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < q; c++) {
            double sum = 0;
            for (size_t j = 0; j < n; j++)
                sum += e->inverse[i * n + j] * e->trend_h[j * q + c];
            e->ch[i * q + c] = sum;
        }
    memset(e->gram, 0, sizeof e->gram);
    double right[MOST_TREND] = {0};
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < q; a++) {
            right[a] += e->ch[i * q + a] * e->y[i];
            for (size_t b = 0; b < q; b++)
                e->gram[a * q + b] += e->trend_h[i * q + a] * e->ch[i * q + b];
        }
    if (!invert_small(e->gram, q)) return false;
    for (size_t a = 0; a < q; a++) {
        e->beta[a] = 0;
        for (size_t b = 0; b < q; b++)
            e->beta[a] += e->gram[a * q + b] * right[b];
    }
    double quad = 0;
    for (size_t i = 0; i < n; i++) { /* alpha holds the residual for the moment */
        e->alpha[i] = e->y[i];
        for (size_t a = 0; a < q; a++)
            e->alpha[i] -= e->trend_h[i * q + a] * e->beta[a];
    }
    for (size_t i = 0; i < n; i++) {
        double sum = 0;
        for (size_t j = 0; j < n; j++)
            sum += e->inverse[i * n + j] * e->alpha[j];
        quad += e->alpha[i] * sum;
    }
    if (!fixed) e->variance = quad / (double)n;
    if (!(e->variance > 0)) return false;
    e->log_marginal =
        -0.5 * (quad / e->variance + e->log_det + (double)n * log(2 * M_PI * e->variance));
    num_dense_solve(e->chol, e->alpha, n);
    return true;
}

/* ---- the search ----------------------------------------------------------------------------- */

struct search {
    struct num_emulator *e;
    double centre; /* prior of ln length */
    double least;  /* smallest nugget */
};

/* -(log marginal + log prior) and its slope; theta = ln lengths[d], ln nugget. Slopes with trend
 * and variance at their best (they do not enter: the envelope theorem). R & W eq 5.9. */
static double badness(unsigned count, const double *theta, double *slope, void *context) {
    struct search *s = context;
    struct num_emulator *e = s->e;
    size_t n = e->n, d = e->d;
    (void)count;
    for (size_t k = 0; k < d; k++)
        e->length[k] = exp(theta[k]);
    e->nugget = exp(theta[d]);
    if (!assemble(e, false)) {
        for (size_t k = 0; slope && k <= d; k++)
            slope[k] = 0;
        return 1e10;
    }
    double value = -e->log_marginal;
    for (size_t k = 0; k < d; k++) {
        double z = (theta[k] - s->centre) / LENGTH_SPREAD;
        value += 0.5 * z * z;
        if (slope) slope[k] = z / LENGTH_SPREAD;
    }
    double z = (theta[d] - NUGGET_CENTRE) / NUGGET_SPREAD;
    value += 0.5 * z * z;
    if (!slope) return value;
    slope[d] = z / NUGGET_SPREAD;
    num_four along[D / 4] = {{0}};
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < i; j++) {
            const double *a = e->near + i * e->wide, *b = e->near + j * e->wide;
            /* both (i,j) and (j,i): twice a half */
            double w = (e->inverse[i * n + j] - e->alpha[i] * e->alpha[j] / e->variance) *
                       e->steep[i * n + j];
            for (size_t k = 0; k < e->wide; k += 4) {
                num_four t = NUM_FOUR(a + k) - NUM_FOUR(b + k);
                along[k / 4] += w * t * t;
            }
        }
        slope[d] +=
            0.5 * e->nugget * (e->inverse[i * n + i] - e->alpha[i] * e->alpha[i] / e->variance);
    }
    for (size_t k = 0; k < d; k++)
        slope[k] += along[k / 4][k % 4];
    return value;
}

static int search_lengths(struct num_emulator *e, const struct num_emulator_options *o,
                          struct error *err) {
    size_t d = e->d;
    double theta[D + 1], best[D + 1], low[D + 1], high[D + 1], least = INFINITY;
    struct search s = {e, log(0.5 * sqrt(fmax(1, (double)d / 2))),
                       o->least_nugget > 0 ? o->least_nugget : 1e-8};
    for (size_t k = 0; k < d; k++) {
        low[k] = log(0.02);
        high[k] = log(60);
    }
    low[d] = log(s.least);
    high[d] = log(2);
    /* Two starts, rough and smooth: the likelihood may have a hill for each. */
    for (int start = 0; start < 2; start++) {
        double value = INFINITY;
        for (size_t k = 0; k < d; k++)
            theta[k] = s.centre + (start ? 0.9 : -0.3);
        theta[d] = fmax(NUGGET_CENTRE, low[d] + 0.1);
        nlopt_opt opt = nlopt_create(NLOPT_LD_LBFGS, (unsigned)d + 1);
        if (!opt) return fail_memory(err);
        nlopt_set_min_objective(opt, badness, &s);
        nlopt_set_lower_bounds(opt, low);
        nlopt_set_upper_bounds(opt, high);
        nlopt_set_maxeval(opt, o->most_steps ? o->most_steps : STEPS);
        nlopt_set_ftol_abs(opt, 1e-4); /* of a log-likelihood: far below what tells two apart */
        nlopt_optimize(opt, theta, &value);
        nlopt_destroy(opt);
        if (value < least && value < 1e9) {
            least = value;
            memcpy(best, theta, sizeof best);
        }
    }
    if (isinf(least))
        return fail(err, ERR_SOLVE, "Look for two equal inputs with different outputs.",
                    "The emulator of %zu runs has no likelihood.", e->n);
    for (size_t k = 0; k < d; k++)
        e->length[k] = exp(best[k]);
    e->nugget = exp(best[d]);
    return 0;
}

/* ---- making --------------------------------------------------------------------------------- */

static void scale_data(struct num_emulator *e, const double *x, const double *y, bool as_is) {
    size_t n = e->n, d = e->d;
    for (size_t k = 0; k < d; k++) {
        double lo = INFINITY, hi = -INFINITY;
        for (size_t i = 0; i < n; i++) {
            lo = fmin(lo, x[i * d + k]);
            hi = fmax(hi, x[i * d + k]);
        }
        e->low[k] = as_is ? 0 : lo;
        e->range[k] = as_is ? 1 : hi > lo ? hi - lo : 1;
        for (size_t i = 0; i < n; i++)
            e->x[i * d + k] = (x[i * d + k] - e->low[k]) / e->range[k];
    }
    double mean = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        mean += (y[i] - y[0]) / (double)n;
    mean += y[0];
    for (size_t i = 0; i < n; i++)
        squares += (y[i] - mean) * (y[i] - mean);
    e->y_mean = as_is ? 0 : mean;
    e->y_sd = as_is ? 1 : squares > 0 ? sqrt(squares / (double)n) : 1;
    for (size_t i = 0; i < n; i++)
        e->y[i] = (y[i] - e->y_mean) / e->y_sd;
}

static void trend_row(const struct num_emulator *e, const double *x, double *h) {
    if (e->q > 0) h[0] = 1;
    for (size_t k = 1; k < e->q; k++)
        h[k] = x[k - 1];
}

static bool allocate(struct num_emulator *e) {
    size_t n = e->n;
    e->x = MEM_NEW(double, n * e->d);
    e->y = MEM_NEW(double, n);
    e->low = MEM_NEW(double, e->d);
    e->range = MEM_NEW(double, e->d);
    e->chol = MEM_NEW(double, n *n);
    e->inverse = MEM_NEW(double, n *n);
    e->alpha = MEM_NEW(double, n);
    e->trend_h = MEM_NEW(double, n *(e->q + 1));
    e->ch = MEM_NEW(double, n *(e->q + 1));
    e->scratch = MEM_NEW(double, n *n);
    e->steep = MEM_NEW(double, n *n);
    e->near = MEM_NEW(double, n * e->wide);
    return e->scratch && e->steep && e->near && e->x && e->y && e->low && e->range && e->chol &&
           e->inverse && e->alpha && e->trend_h && e->ch;
}

static int check_runs(const double *x, const double *y, size_t n, size_t d, bool as_is,
                      struct error *err) {
    if (d == 0 || d > D || (!as_is && n < d + 3) || n > 4000)
        return fail(err, ERR_RANGE, "Use 10 runs or so for each input, at most 40 inputs.",
                    "%zu runs with %zu inputs.", n, d);
    for (size_t i = 0; i < n; i++) {
        bool good = isfinite(y[i]);
        for (size_t k = 0; k < d; k++)
            good = good && isfinite(x[i * d + k]);
        if (!good)
            return fail(err, ERR_RANGE, "Leave the run out.", "Run %zu is not made of numbers.",
                        i + 1);
    }
    return 0;
}

int num_emulator_fit(struct num_emulator **out, const double *x, const double *y, size_t n,
                     size_t d, const struct num_emulator_options *o, struct error *err) {
    static const struct num_emulator_options usual = {0};
    if (!o) o = &usual;
    bool as_is = o->lengths != NULL;
    *out = NULL;
    int rc = check_runs(x, y, n, d, as_is, err);
    if (rc) return rc;
    struct num_emulator *e = MEM_NEW(struct num_emulator, 1);
    if (!e) return fail_memory(err);
    e->n = n;
    e->d = d;
    e->wide = (d + 3) / 4 * 4;
    e->kernel = o->kernel;
    e->trend = o->trend;
    e->q = o->trend == NUM_TREND_NONE ? 0 : o->trend == NUM_TREND_CONSTANT ? 1 : d + 1;
    rc = allocate(e) ? 0 : fail_memory(err);
    if (!rc) {
        scale_data(e, x, y, as_is);
        for (size_t i = 0; i < n; i++)
            trend_row(e, e->x + i * d, e->trend_h + i * e->q);
        if (as_is) {
            memcpy(e->length, o->lengths, d * sizeof *o->lengths);
            e->variance = o->variance;
            e->nugget = o->nugget / o->variance;
        } else if (o->searched) {
            memcpy(e->length, o->searched, d * sizeof *o->searched);
            e->nugget = o->searched[d];
        } else
            rc = search_lengths(e, o, err);
    }
    if (!rc && !assemble(e, as_is))
        rc = fail(err, ERR_SOLVE, "Leave out inputs that never change, or use a constant trend.",
                  "The emulator's equations are singular.");
    if (rc) {
        num_emulator_free(e);
        return rc;
    }
    double **spent[] = {&e->scratch, &e->steep};
    for (size_t i = 0; i < 2; i++) {
        mem_free(*spent[i]);
        *spent[i] = NULL;
    }
    *out = e;
    return 0;
}

/* ---- using ---------------------------------------------------------------------------------- */

/* Four points at once, one in each place of a vector: c [4 n] is scratch. */
ALWAYS void predict_any(const struct num_emulator *e, const double *const x[4], double mean[4],
                        double *variance, double *c) {
    size_t n = e->n, q = e->q, wide = e->wide;
    num_four at[D], h[MOST_TREND], m = {0}, v = {1, 1, 1, 1}, *k4 = (num_four *)c;
    if (q > 0) h[0] = (num_four){1, 1, 1, 1};
    for (size_t k = 0; k < e->d; k++) {
        for (int b = 0; b < 4; b++)
            at[k][b] = (x[b][k] - e->low[k]) / e->range[k];
        if (k + 1 < q) h[k + 1] = at[k];
        at[k] *= 1 / e->length[k];
    }
    for (size_t a = 0; a < q; a++)
        m += h[a] * e->beta[a];
    for (size_t i = 0; i < n; i++) {
        num_four r2 = {0};
        for (size_t k = 0; k < e->d; k++) {
            num_four t = at[k] - e->near[i * wide + k];
            r2 += t * t;
        }
        correlation(e, &r2);
        m += r2 * e->alpha[i];
        k4[i] = r2;
    }
    for (int b = 0; b < 4; b++)
        mean[b] = e->y_mean + e->y_sd * m[b];
    if (!variance) return;
    /* 1 - |L^-1 c|^2 + u'(H'C^-1 H)^-1 u, u = h - H'C^-1 c */
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < q; a++)
            h[a] -= e->ch[i * q + a] * k4[i];
    for (size_t a = 0; a < q; a++)
        for (size_t b = 0; b < q; b++)
            v += h[a] * e->gram[a * q + b] * h[b];
    for (size_t i = 0; i < n; i++) {
        const double *row = e->chol + i * n;
        num_four sum[4] = {{0}};
        size_t j = 0;
        for (; j + 4 <= i; j += 4)
            for (int b = 0; b < 4; b++)
                sum[b] += row[j + (size_t)b] * k4[j + (size_t)b];
        for (; j < i; j++)
            sum[0] += row[j] * k4[j];
        k4[i] = (k4[i] - ((sum[0] + sum[1]) + (sum[2] + sum[3]))) / row[i];
        v -= k4[i] * k4[i];
    }
    for (int b = 0; b < 4; b++)
        variance[b] = fmax(0, v[b]) * e->variance * e->y_sd * e->y_sd;
}

#ifdef __x86_64__
__attribute__((target("avx2"))) static void predict_wide(const struct num_emulator *e,
                                                         const double *const x[4], double mean[4],
                                                         double *variance, double *c) {
    predict_any(e, x, mean, variance, c);
}
#endif

/* Up to four points x[count][d]; what one is told does not depend on the others. */
static void predict(const struct num_emulator *e, const double *x, size_t count, double *mean,
                    double *variance, double *c) {
    const double *at[4];
    double m[4], v[4];
    for (size_t b = 0; b < 4; b++)
        at[b] = x + (b < count ? b : 0) * e->d;
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2"))
        predict_wide(e, at, m, variance ? v : NULL, c);
    else
#endif
        predict_any(e, at, m, variance ? v : NULL, c);
    memcpy(mean, m, count * sizeof *m);
    if (variance) memcpy(variance, v, count * sizeof *v);
}

void num_emulator_predict(const struct num_emulator *e, const double *x, double *mean,
                          double *variance) {
    enum { SMALL = 512 };
    double small[4 * SMALL], *c = e->n <= SMALL ? small : MEM_NEW(double, 4 * e->n);
    if (!c) {
        *mean = NAN;
        if (variance) *variance = NAN;
        return;
    }
    predict(e, x, 1, mean, variance, c);
    if (c != small) mem_free(c);
}

struct many {
    const struct num_emulator *e;
    const double *x;
    double *mean, *variance, *scratch;
};

static void many_chunk(size_t begin, size_t end, size_t index, void *context) {
    struct many *m = context;
    for (size_t i = begin; i < end; i += 4)
        predict(m->e, m->x + i * m->e->d, end - i < 4 ? end - i : 4, &m->mean[i],
                m->variance ? &m->variance[i] : NULL, m->scratch + 4 * index * m->e->n);
}

int num_emulator_predict_many(const struct num_emulator *e, const double *x, size_t m, double *mean,
                              double *variance, struct error *err) {
    struct many all = {e, x, mean, variance, MEM_NEW(double, parallel_chunks(m, CHUNK) * 4 * e->n)};
    if (!all.scratch) return fail_memory(err);
    parallel_for(m, CHUNK, many_chunk, &all);
    mem_free(all.scratch);
    return 0;
}

/* Q = C^-1 - C^-1 H (H'C^-1 H)^-1 H'C^-1; Q y = alpha */
static double leave_out(const struct num_emulator *e, size_t i, double *variance) {
    size_t n = e->n, q = e->q;
    double qii = e->inverse[i * n + i];
    for (size_t a = 0; a < q; a++)
        for (size_t b = 0; b < q; b++)
            qii -= e->ch[i * q + a] * e->gram[a * q + b] * e->ch[i * q + b];
    *variance = e->variance / qii * e->y_sd * e->y_sd;
    return e->y_mean + e->y_sd * (e->y[i] - e->alpha[i] / qii);
}

void num_emulator_leave_one_out(const struct num_emulator *e, double *mean, double *variance) {
    for (size_t i = 0; i < e->n; i++)
        mean[i] = leave_out(e, i, &variance[i]);
}

void num_emulator_check(const struct num_emulator *e, struct num_emulator_check *out) {
    static const double Z90 = 1.6448536269514722;
    size_t n = e->n, inside = 0;
    double sum = 0;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < n; i++) {
        double v, m = leave_out(e, i, &v);
        double d = e->y_mean + e->y_sd * e->y[i] - m, z = fabs(d) / sqrt(v);
        sum += d * d;
        inside += z <= Z90;
        if (z > out->worst) {
            out->worst = z;
            out->worst_point = i;
        }
    }
    out->rms = sqrt(sum / (double)n);
    out->relative = out->rms / e->y_sd;
    out->inside90 = (double)inside / (double)n;
}

void num_emulator_found(const struct num_emulator *e, double *lengths, double *variance,
                        double *nugget, double *log_marginal) {
    double s2 = e->variance * e->y_sd * e->y_sd;
    for (size_t k = 0; lengths && k < e->d; k++)
        lengths[k] = e->length[k] * e->range[k];
    if (variance) *variance = s2;
    if (nugget) *nugget = e->nugget * s2;
    /* ln p of y itself: the scaled density divided by y_sd^n */
    if (log_marginal) *log_marginal = e->log_marginal - (double)e->n * log(e->y_sd);
}

void num_emulator_searched(const struct num_emulator *e, double *out) {
    memcpy(out, e->length, e->d * sizeof *out);
    out[e->d] = e->nugget;
}

double num_emulator_outside(const struct num_emulator *e, const double *x) {
    double most = 0;
    for (size_t k = 0; k < e->d; k++) {
        double t = (x[k] - e->low[k]) / e->range[k];
        most = fmax(most, fmax(-t, t - 1));
    }
    return most;
}
