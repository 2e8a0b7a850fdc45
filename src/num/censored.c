#include "num/censored.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_erf.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* ---- Kaplan and Meier ----------------------------------------------------------------------- */

static int check_sizes(const struct num_censored *v, size_t n, bool intervals, struct error *err) {
    for (size_t i = 0; i < n; i++) {
        error_place(err, NULL, (long)i + 1, NULL, NULL);
        if (isnan(v[i].low) || isnan(v[i].high) || v[i].low < 0 || !(v[i].high > 0) ||
            v[i].high < v[i].low || !(v[i].above >= 0) || v[i].above > v[i].high ||
            (v[i].low == v[i].high && !isfinite(v[i].low)))
            return fail(err, ERR_RANGE,
                        "A size is above 0, the lower limit not above the upper one, and longer "
                        "than the shortest that was collected.",
                        "Size %zu: from %g to %g, collected above %g.", i + 1, v[i].low, v[i].high,
                        v[i].above);
        if (!intervals && v[i].low != v[i].high && isfinite(v[i].high))
            return fail(err, ERR_REFUSED,
                        "Fit a lognormal or Weibull distribution, which can take it.",
                        "Size %zu lies between %g and %g: the step curve has no place for it.",
                        i + 1, v[i].low, v[i].high);
    }
    if (err) err->row = 0;
    return 0;
}

static int by_number(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Distinct complete sizes in order; returns how many. */
static size_t event_sizes(const struct num_censored *v, size_t n, double *t) {
    size_t m = 0, k = 0;
    for (size_t i = 0; i < n; i++)
        if (v[i].low == v[i].high) t[m++] = v[i].low;
    qsort(t, m, sizeof *t, by_number);
    for (size_t i = 0; i < m; i++)
        if (k == 0 || t[i] != t[k - 1]) t[k++] = t[i];
    return k;
}

static void count_at(const struct num_censored *v, size_t n, double t, double *risk,
                     double *events) {
    *risk = *events = 0;
    for (size_t i = 0; i < n; i++) {
        if (v[i].above >= t) continue; /* not yet under observation at this size */
        *risk += v[i].low >= t;
        *events += v[i].low == t && v[i].high == t;
    }
}

int num_survival(struct num_survival *out, const struct num_censored *v, size_t n, double level,
                 struct arena *arena, struct error *err) {
    int rc = check_sizes(v, n, false, err);
    if (rc) return rc;
    memset(out, 0, sizeof *out);
    double *block = ARENA_NEW(arena, double, 7 * (n + 1));
    if (!block) return fail_memory(err);
    double **parts[] = {&out->t,  &out->at_risk, &out->events, &out->s,
                        &out->se, &out->low,     &out->high};
    for (size_t k = 0; k < 7; k++)
        *parts[k] = block + k * (n + 1);
    out->n = event_sizes(v, n, out->t);
    out->median = out->median_low = out->median_high = NAN;
    double s = 1, sum = 0, z = gsl_cdf_ugaussian_Pinv(0.5 + level / 2);
    for (size_t k = 0; k < out->n; k++) {
        double d, r;
        count_at(v, n, out->t[k], &r, &d);
        out->at_risk[k] = r;
        out->events[k] = d;
        s *= 1 - d / r;
        sum += r > d ? d / (r * (r - d)) : 0;
        out->s[k] = s;
        out->se[k] = s * sqrt(sum);
        /* exp(-exp(log(-log S) +- z sigma)), sigma = sqrt(sum)/|log S|: Kalbfleisch & Prentice
         * 2002, eq 1.14 */
        double w = z * sqrt(sum) / fabs(log(s));
        out->low[k] = s > 0 && s < 1 ? pow(s, exp(w)) : NAN;
        out->high[k] = s > 0 && s < 1 ? pow(s, exp(-w)) : NAN;
        /* Rounding must not decide whether the curve has come down to one half. */
        if (isnan(out->median) && s <= 0.5 * (1 + 1e-12)) out->median = out->t[k];
        if (isnan(out->median_low) && (s == 0 || out->low[k] <= 0.5)) out->median_low = out->t[k];
        if (isnan(out->median_high) && s > 0 && out->high[k] <= 0.5) out->median_high = out->t[k];
    }
    out->lowest = s;
    return 0;
}

int num_log_rank(const struct num_censored *a, size_t n_a, const struct num_censored *b, size_t n_b,
                 double *chi2, double *p, struct arena *arena, struct error *err) {
    int rc = check_sizes(a, n_a, false, err);
    if (!rc) rc = check_sizes(b, n_b, false, err);
    if (rc) return rc;
    struct num_censored *all = ARENA_NEW(arena, struct num_censored, n_a + n_b);
    double *t = ARENA_NEW(arena, double, n_a + n_b + 1);
    if (!all || !t) return fail_memory(err);
    if (n_a) memcpy(all, a, n_a * sizeof *a);
    if (n_b) memcpy(all + n_a, b, n_b * sizeof *b);
    size_t m = event_sizes(all, n_a + n_b, t);
    double excess = 0, variance = 0;
    for (size_t k = 0; k < m; k++) {
        double ra, da, rb, db;
        count_at(a, n_a, t[k], &ra, &da);
        count_at(b, n_b, t[k], &rb, &db);
        double r = ra + rb, d = da + db;
        excess += da - d * ra / r; /* hypergeometric mean and variance: Mantel 1966 */
        if (r > 1) variance += d * (ra / r) * (rb / r) * (r - d) / (r - 1);
    }
    if (!(variance > 0))
        return fail(err, ERR_REFUSED, "Both groups need complete sizes that overlap.",
                    "The two groups cannot be compared.");
    *chi2 = excess * excess / variance;
    *p = gsl_cdf_chisq_Q(*chi2, 1);
    return 0;
}

/* ---- the two error laws --------------------------------------------------------------------- */

static double log_density(enum num_life f, double z) {
    return f == NUM_LIFE_LOGNORMAL ? -0.5 * z * z - 0.5 * log(2 * M_PI) : z - exp(z);
}
static double log_density_slope(enum num_life f, double z) {
    return f == NUM_LIFE_LOGNORMAL ? -z : 1 - exp(z);
}
static double log_tail(enum num_life f, double z) {
    if (z == -INFINITY) return 0;
    return f == NUM_LIFE_LOGNORMAL ? gsl_sf_log_erfc(z / M_SQRT2) - M_LN2 : -exp(z);
}
static double log_tail_slope(enum num_life f, double z) {
    if (z == -INFINITY) return 0;
    return f == NUM_LIFE_LOGNORMAL ? -gsl_sf_hazard(z) : -exp(z);
}
static double quantile(enum num_life f, double p) {
    return f == NUM_LIFE_LOGNORMAL ? gsl_cdf_ugaussian_Pinv(p) : log(-log1p(-p));
}

/* ln likelihood of one size and its slopes in m (= x'beta) and ln sigma. */
static double one(enum num_life f, const struct num_censored *v, double m, double log_sigma,
                  double *by_m, double *by_s) {
    double sigma = exp(log_sigma), l, gz_m = 0, gz_s = 0;
    double a = v->low > 0 ? (log(v->low) - m) / sigma : -INFINITY;
    if (v->low == v->high) {
        double g = log_density_slope(f, a);
        l = log_density(f, a) - log_sigma - log(v->low);
        gz_m = -g / sigma;
        gz_s = -g * a - 1;
    } else if (isinf(v->high)) {
        double g = log_tail_slope(f, a);
        l = log_tail(f, a);
        gz_m = -g / sigma;
        gz_s = isinf(a) ? 0 : -g * a;
    } else {
        double b = (log(v->high) - m) / sigma, la = log_tail(f, a), lb = log_tail(f, b);
        double d = la + log1p(-exp(lb - la)); /* ln(S(a) - S(b)) */
        double fa = isinf(a) ? 0 : exp(log_density(f, a) - d), fb = exp(log_density(f, b) - d);
        l = d;
        gz_m = (fa - fb) / sigma;
        gz_s = (isinf(a) ? 0 : fa * a) - fb * b;
    }
    if (v->above > 0) {
        double c = (log(v->above) - m) / sigma, g = log_tail_slope(f, c);
        l -= log_tail(f, c);
        gz_m += g / sigma;
        gz_s += g * c;
    }
    if (by_m) *by_m = gz_m;
    if (by_s) *by_s = gz_s;
    return l;
}

double num_life_log_like(enum num_life family, const struct num_censored *v, double mu,
                         double sigma) {
    if (!(sigma > 0) || !isfinite(mu)) return -INFINITY;
    return one(family, v, mu, log(family == NUM_LIFE_EXPONENTIAL ? 1 : sigma), NULL, NULL);
}

/* ---- maximising ----------------------------------------------------------------------------- */

enum { P = NUM_LIFE_MOST, M = P + 1, MOST_STEPS = 200 };

enum hold { HOLD_NOTHING, HOLD_SIGMA, HOLD_QUANTILE };

/* theta = beta[p], ln sigma. A held quantile x0'beta + sigma q = value replaces beta[0]. */
struct problem {
    const struct num_censored *v;
    size_t n, p;
    const double *x;
    enum num_life family;
    double prior_mean, prior_sd; /* of ln sigma; sd 0: none */
    enum hold hold;
    double value, q;
    double at[P];
};

static double evaluate(const struct problem *b, const double *theta, double *slope) {
    double sum = 0;
    memset(slope, 0, (b->p + 1) * sizeof *slope);
    for (size_t i = 0; i < b->n; i++) {
        double m = 0, by_m, by_s;
        for (size_t k = 0; k < b->p; k++)
            m += (b->x ? b->x[i * b->p + k] : 1) * theta[k];
        sum += one(b->family, &b->v[i], m, theta[b->p], &by_m, &by_s);
        for (size_t k = 0; k < b->p; k++)
            slope[k] += (b->x ? b->x[i * b->p + k] : 1) * by_m;
        slope[b->p] += by_s;
    }
    return sum;
}

static void add_prior(const struct problem *b, const double *theta, double *value, double *slope) {
    if (!(b->prior_sd > 0)) return;
    double z = (theta[b->p] - b->prior_mean) / b->prior_sd;
    *value -= 0.5 * z * z;
    slope[b->p] -= z / b->prior_sd;
}

/* Which entries of theta are free, in order; returns how many. */
static size_t free_entries(const struct problem *b, size_t *entry) {
    size_t m = 0;
    for (size_t k = 0; k <= b->p; k++) {
        if (k == 0 && b->hold == HOLD_QUANTILE) continue;
        if (k == b->p && (b->hold == HOLD_SIGMA || b->family == NUM_LIFE_EXPONENTIAL)) continue;
        entry[m++] = k;
    }
    return m;
}

static void complete_theta(const struct problem *b, double *theta) {
    if (b->hold == HOLD_SIGMA) theta[b->p] = b->value;
    if (b->family == NUM_LIFE_EXPONENTIAL) theta[b->p] = 0;
    if (b->hold != HOLD_QUANTILE) return;
    theta[0] = b->value - exp(theta[b->p]) * b->q;
    for (size_t k = 1; k < b->p; k++)
        theta[0] -= b->at[k] * theta[k];
}

/* Value and slope in the free entries. */
static double free_slope(const struct problem *b, double *theta, const size_t *entry, size_t m,
                         double *slope) {
    double full[M];
    complete_theta(b, theta);
    double value = evaluate(b, theta, full);
    add_prior(b, theta, &value, full);
    for (size_t k = 0; k < m; k++) {
        slope[k] = full[entry[k]];
        if (b->hold == HOLD_QUANTILE)
            slope[k] -= full[0] * (entry[k] == b->p ? exp(theta[b->p]) * b->q : b->at[entry[k]]);
    }
    return value;
}

/* Curvature by central differences of the exact slope. */
static void curvature(const struct problem *b, const double *theta, const size_t *entry, size_t m,
                      double *h) {
    const double step = 1e-5; /* thetas are logarithms: of order one */
    for (size_t k = 0; k < m; k++) {
        double up[M], down[M], gu[M], gd[M];
        memcpy(up, theta, sizeof up);
        memcpy(down, theta, sizeof down);
        up[entry[k]] += step;
        down[entry[k]] -= step;
        free_slope(b, up, entry, m, gu);
        free_slope(b, down, entry, m, gd);
        for (size_t j = 0; j < m; j++)
            h[k * m + j] = (gu[j] - gd[j]) / (2 * step);
    }
    for (size_t k = 0; k < m; k++)
        for (size_t j = 0; j < k; j++)
            h[k * m + j] = h[j * m + k] = (h[k * m + j] + h[j * m + k]) / 2;
}

/* Solves (-h + ridge) x = g, or inverts -h when x is NULL and inverse is given. False when not
 * positive definite. */
static bool solve_negative(const double *h, size_t m, double ridge, const double *g, double *x,
                           double *inverse) {
    double l[M * M];
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = -h[i * m + j] + (i == j ? ridge : 0);
            for (size_t k = 0; k < j; k++)
                sum -= l[i * m + k] * l[j * m + k];
            if (i == j) {
                if (!(sum > 0)) return false;
                l[i * m + i] = sqrt(sum);
            } else
                l[i * m + j] = sum / l[j * m + j];
        }
    for (size_t c = 0; c < (inverse ? m : 1); c++) {
        double y[M];
        for (size_t i = 0; i < m; i++) {
            y[i] = inverse ? i == c : g[i];
            for (size_t k = 0; k < i; k++)
                y[i] -= l[i * m + k] * y[k];
            y[i] /= l[i * m + i];
        }
        for (size_t i = m; i-- > 0;) {
            for (size_t k = i + 1; k < m; k++)
                y[i] -= l[k * m + i] * y[k];
            y[i] /= l[i * m + i];
        }
        for (size_t i = 0; i < m; i++)
            *(inverse ? &inverse[i * m + c] : &x[i]) = y[i];
    }
    return true;
}

/* Newton's method with a ridge where the curvature is not negative, and halved steps. Returns the
 * maximum; *steps < 0 when it was not reached. */
static double maximise(const struct problem *b, double *theta, int *steps) {
    size_t entry[M], m = free_entries(b, entry);
    double g[M], value = free_slope(b, theta, entry, m, g);
    for (*steps = 0; *steps < MOST_STEPS; ++*steps) {
        double h[M * M], x[M], most = 0, ridge = 0, trial[M], gt[M];
        curvature(b, theta, entry, m, h);
        while (!solve_negative(h, m, ridge, g, x, NULL) && ridge < 1e12)
            ridge = ridge > 0 ? 10 * ridge : 1e-3;
        for (size_t k = 0; k < m; k++)
            most = fmax(most, fabs(x[k]));
        double shrink = most > 1 ? 1 / most : 1, next = -INFINITY; /* a factor e at most */
        for (int half = 0; half < 40; half++, shrink /= 2) {
            memcpy(trial, theta, sizeof trial);
            for (size_t k = 0; k < m; k++)
                trial[entry[k]] += shrink * x[k];
            next = free_slope(b, trial, entry, m, gt);
            if (next >= value - 1e-12 * fabs(value)) break;
        }
        if (!(next >= value - 1e-12 * fabs(value))) break;
        memcpy(theta, trial, sizeof trial);
        memcpy(g, gt, sizeof gt);
        value = next;
        if (most * shrink < 1e-11) return value; /* of a logarithm: nothing left to gain */
    }
    double worst = 0;
    for (size_t k = 0; k < m; k++)
        worst = fmax(worst, fabs(g[k]));
    if (worst > 1e-5 * (1 + (double)b->n)) *steps = -1;
    return value;
}

/* How far the profile at `value` lies below the best, less the drop: the limit is where it is 0. */
static double shortfall(struct problem *b, double *theta, double value, double top, double drop) {
    int steps;
    b->value = value;
    return top - maximise(b, theta, &steps) - drop;
}

/* Walks from the best value away until the profile has fallen by `drop`, then closes in by false
 * position, halving the weight of an end that stays (the Illinois rule: Dowell & Jarratt, BIT 11,
 * 1971, 168-174). +-INFINITY when there is no limit. */
static double profile_limit(struct problem b, const double *best, double top, double value,
                            double step, double drop) {
    enum { MOST_WALK = 60, MOST_STEP = 60 };
    double theta[M], inner = value, outer = value, f_inner = -drop, f_outer = -drop;
    memcpy(theta, best, sizeof theta);
    int k = 0;
    for (; k < MOST_WALK; k++) {
        outer = inner + step;
        f_outer = shortfall(&b, theta, outer, top, drop);
        if (f_outer > 0) break;
        inner = outer;
        f_inner = f_outer;
        step *= 1.3;
    }
    if (k == MOST_WALK) return step > 0 ? INFINITY : -INFINITY;
    for (int i = 0, last = 0; i < MOST_STEP && fabs(outer - inner) > 1e-12; i++) {
        double at = isfinite(f_outer) ? (inner * f_outer - outer * f_inner) / (f_outer - f_inner)
                                      : (inner + outer) / 2;
        double f = shortfall(&b, theta, at, top, drop);
        if (fabs(f) < 1e-10) return at;
        if (f > 0) {
            outer = at;
            f_outer = f;
            if (last == 1) f_inner /= 2;
            last = 1;
        } else {
            inner = at;
            f_inner = f;
            if (last == -1) f_outer /= 2;
            last = -1;
        }
    }
    return (inner + outer) / 2;
}

/* ---- the fit -------------------------------------------------------------------------------- */

/* Beginning: mean and spread of the logarithms of what is known of each size. */
static void start(const struct problem *b, double *theta) {
    double sum = 0, squares = 0;
    for (size_t i = 0; i < b->n; i++) {
        double hi = isinf(b->v[i].high) ? b->v[i].low : b->v[i].high;
        double l = log(b->v[i].low > 0 ? sqrt(b->v[i].low * hi) : hi / 2);
        sum += l;
        squares += l * l;
    }
    memset(theta, 0, M * sizeof *theta);
    theta[0] = sum / (double)b->n;
    double variance = squares / (double)b->n - theta[0] * theta[0];
    theta[b->p] = 0.5 * log(fmax(variance, 1e-6));
}

static void intervals(struct num_life_fit *out, struct problem b, const double *best, double top,
                      double level) {
    double drop = gsl_cdf_chisq_Pinv(level, 1) / 2, sigma = out->sigma;
    double spread = fmax(sigma / sqrt((double)out->complete + 1), 1e-3);
    double median = log(out->median);
    b.hold = HOLD_QUANTILE;
    out->median_low = exp(profile_limit(b, best, top, median, -spread, drop));
    out->median_high = exp(profile_limit(b, best, top, median, spread, drop));
    out->sigma_low = out->sigma_high = sigma;
    if (b.family == NUM_LIFE_EXPONENTIAL) return;
    b.hold = HOLD_SIGMA;
    out->sigma_low = exp(profile_limit(b, best, top, log(sigma), -0.2, drop));
    out->sigma_high = exp(profile_limit(b, best, top, log(sigma), 0.2, drop));
}

int num_life_fit(struct num_life_fit *out, const struct num_censored *v, size_t n,
                 const struct num_life_options *o, struct error *err) {
    struct problem b = {.v = v, .n = n, .p = o->x ? o->p : 1, .x = o->x, .family = o->family};
    memset(out, 0, sizeof *out);
    int rc = check_sizes(v, n, true, err);
    if (rc) return rc;
    if (b.p == 0 || b.p > P)
        return fail(err, ERR_RANGE, NULL, "%zu coefficients; 1 to %d can be fitted.", b.p, P);
    size_t bounded = 0;
    for (size_t i = 0; i < n; i++) {
        out->complete += v[i].low == v[i].high;
        bounded += isfinite(v[i].high);
    }
    if (bounded == 0)
        return fail(err, ERR_REFUSED,
                    "Measure one complete piece, or state an upper limit for one.",
                    "All %zu sizes are only minimums: there is no estimate.", n);
    if (o->sigma_median > 0 && o->sigma_factor > 1) {
        b.prior_mean = log(o->sigma_median);
        b.prior_sd = log(o->sigma_factor);
    }
    for (size_t k = 0; k < b.p; k++)
        b.at[k] = o->at ? o->at[k] : k == 0;
    b.q = quantile(o->family, 0.5);
    double theta[M], h[M * M], inverse[M * M], ignored[M];
    size_t entry[M], m = free_entries(&b, entry);
    start(&b, theta);
    double top = maximise(&b, theta, &out->iterations);
    curvature(&b, theta, entry, m, h);
    if (out->iterations < 0 || theta[b.p] < -12 || !solve_negative(h, m, 0, NULL, NULL, inverse))
        return fail(err, ERR_SOLVE,
                    "Add sizes, or a prior on the spread (0.03 to 0.15 is usual for one hand).",
                    "The %zu complete and %zu other sizes do not settle a spread.", out->complete,
                    n - out->complete);
    out->n = n;
    out->p = b.p;
    out->sigma = exp(theta[b.p]);
    out->log_like = evaluate(&b, theta, ignored);
    double centre = 0;
    for (size_t k = 0; k < b.p; k++) {
        out->beta[k] = theta[k];
        out->se[k] = sqrt(inverse[k * m + k]);
        centre += b.at[k] * theta[k];
    }
    if (m > b.p) {
        out->se_log_sigma = sqrt(inverse[b.p * m + b.p]);
        if (b.prior_sd > 0) out->assumption = 1 / (b.prior_sd * b.prior_sd) / -h[b.p * m + b.p];
    }
    out->median = exp(centre + out->sigma * b.q);
    out->low90 = exp(centre + out->sigma * quantile(o->family, 0.05));
    out->high90 = exp(centre + out->sigma * quantile(o->family, 0.95));
    intervals(out, b, theta, top, o->level > 0 ? o->level : 0.9);
    return 0;
}
