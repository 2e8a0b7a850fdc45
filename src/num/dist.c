#include "num/dist.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_sf_erf.h>
#include <gsl/gsl_sf_gamma.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* 95 % point of the standard normal distribution. */
#define Z95 1.6448536269514722

static struct num_dist dist(enum num_family family, double a, double b, double low, double high) {
    struct num_dist d;
    memset(&d, 0, sizeof d); /* padding too: these are compared and kept as bytes */
    d.family = family;
    d.a = a;
    d.b = b;
    d.low = low;
    d.high = high;
    return d;
}

struct num_dist num_dist_fixed(double value) {
    return dist(NUM_FIXED, value, 0, value, value);
}
struct num_dist num_dist_normal(double mean, double sd) {
    return dist(NUM_NORMAL, mean, sd, -INFINITY, INFINITY);
}
struct num_dist num_dist_truncated(double mean, double sd, double low, double high) {
    return dist(NUM_NORMAL, mean, sd, low, high);
}
struct num_dist num_dist_uniform(double low, double high) {
    return dist(NUM_UNIFORM, 0, 0, low, high);
}
struct num_dist num_dist_triangular(double low, double mode, double high) {
    return dist(NUM_TRIANGULAR, mode, 0, low, high);
}
struct num_dist num_dist_lognormal(double median, double log_sd) {
    return dist(NUM_LOGNORMAL, median, log_sd, 0, INFINITY);
}
struct num_dist num_dist_beta(double a, double b, double low, double high) {
    return dist(NUM_BETA, a, b, low, high);
}
struct num_dist num_dist_student(double centre, double scale, double freedom) {
    struct num_dist d = dist(NUM_STUDENT, centre, scale, -INFINITY, INFINITY);
    d.c = freedom;
    return d;
}
struct num_dist num_dist_integer(double low, double high, double mean, double sd) {
    return dist(NUM_INTEGER, mean, sd, low, high);
}
struct num_dist num_dist_discrete(size_t n, const double *value, const double *p) {
    struct num_dist d = dist(NUM_DISCRETE, 0, 0, INFINITY, -INFINITY);
    double sum = 0;
    d.n = n < NUM_VALUES ? n : NUM_VALUES;
    for (size_t i = 0; i < d.n; i++)
        sum += p ? p[i] : 1;
    for (size_t i = 0; i < d.n; i++) {
        d.value[i] = value[i];
        d.p[i] = (p ? p[i] : 1) / (sum > 0 ? sum : 1); /* all 0: told by the check */
        d.low = fmin(d.low, value[i]);
        d.high = fmax(d.high, value[i]);
    }
    return d;
}

/* ---- checking ------------------------------------------------------------------------------- */

static const char *const family_names[] = {"fixed",     "normal", "uniform", "triangular",
                                           "lognormal", "beta",   "student", "discrete",
                                           "integer",   NULL};

const char *num_family_name(enum num_family family) {
    return family_names[family];
}

int num_family_find(const char *word) {
    for (int i = 0; word && family_names[i]; i++)
        if (strcmp(word, family_names[i]) == 0) return i;
    return -1;
}

static int check_discrete(const struct num_dist *d, struct error *err) {
    double sum = 0;
    if (d->n == 0)
        return fail(err, ERR_MISSING, "Give the possible values.",
                    "A discrete distribution has "
                    "no values.");
    for (size_t i = 0; i < d->n; i++) {
        if (!isfinite(d->value[i]) || !(d->p[i] >= 0))
            return fail(err, ERR_RANGE, "Probabilities are numbers from 0 to 1.",
                        "Value %zu of a discrete distribution: %g with probability %g.", i + 1,
                        d->value[i], d->p[i]);
        for (size_t k = 0; k < i; k++)
            if (d->value[k] == d->value[i])
                return fail(err, ERR_INPUT, "Join the two, adding their probabilities.",
                            "The value %g stands twice in a discrete distribution.", d->value[i]);
        sum += d->p[i];
    }
    if (!(fabs(sum - 1) < 1e-9))
        return fail(err, ERR_RANGE, "At least one probability must be above 0.",
                    "The probabilities of a discrete distribution sum to %g.", sum);
    return 0;
}

int num_dist_check(const struct num_dist *d, struct error *err) {
    const char *name = family_names[d->family];
    bool spread = d->family == NUM_NORMAL || d->family == NUM_LOGNORMAL || d->family == NUM_STUDENT;
    if (d->family == NUM_DISCRETE) return check_discrete(d, err); /* without values no limits */
    if (isnan(d->low) || isnan(d->high) || d->low > d->high ||
        (d->low == d->high && d->family != NUM_FIXED && d->family != NUM_INTEGER))
        return fail(err, ERR_RANGE, "The lower limit must be under the upper one.",
                    "A %s distribution from %g to %g.", name, d->low, d->high);
    if (spread && !(isfinite(d->a) && d->b > 0 && isfinite(d->b)))
        return fail(err, ERR_RANGE, "Give a finite centre and a spread above 0.",
                    "A %s distribution with centre %g and spread %g.", name, d->a, d->b);
    switch (d->family) {
    case NUM_FIXED:
        if (isfinite(d->a)) return 0;
        return fail(err, ERR_RANGE, "Give an ordinary number.", "A fixed value of %g.", d->a);
    case NUM_NORMAL:
        if (num_dist_cdf(
                &(struct num_dist){
                    .family = NUM_NORMAL, .a = d->a, .b = d->b, .low = -INFINITY, .high = INFINITY},
                d->low) < 1 - 1e-12 &&
            d->high > d->a - 7 * d->b)
            return 0;
        return fail(err, ERR_RANGE, "Move the limits, or widen the spread.",
                    "A normal distribution with mean %g and sd %g has nothing between %g and %g.",
                    d->a, d->b, d->low, d->high);
    case NUM_UNIFORM:
        if (isfinite(d->low) && isfinite(d->high)) return 0;
        return fail(err, ERR_RANGE, "Give both ends.", "A uniform distribution from %g to %g.",
                    d->low, d->high);
    case NUM_TRIANGULAR:
        if (isfinite(d->low) && isfinite(d->high) && d->a >= d->low && d->a <= d->high) return 0;
        return fail(err, ERR_RANGE, "The most likely value lies between the two ends.",
                    "A triangular distribution %g, %g, %g.", d->low, d->a, d->high);
    case NUM_LOGNORMAL:
        if (d->a > 0) return 0;
        return fail(err, ERR_RANGE, "Give a median above 0.",
                    "A lognormal distribution with median %g.", d->a);
    case NUM_BETA:
        if (d->a > 0 && d->b > 0 && isfinite(d->a + d->b) && isfinite(d->low) && isfinite(d->high))
            return 0;
        return fail(err, ERR_RANGE, "Both shapes must be above 0 and both ends finite.",
                    "A beta distribution with shapes %g, %g on %g to %g.", d->a, d->b, d->low,
                    d->high);
    case NUM_STUDENT:
        if (d->c > 0) return 0;
        return fail(err, ERR_RANGE, "Give degrees of freedom above 0.",
                    "A t distribution with %g degrees of freedom.", d->c);
    case NUM_DISCRETE:
        return 0;
    case NUM_INTEGER:
        if (isfinite(d->low) && isfinite(d->high) && d->low == floor(d->low) &&
            d->high == floor(d->high) && d->high - d->low < 1e5 && d->b > 0 &&
            (isinf(d->b) || isfinite(d->a)))
            return 0;
        return fail(err, ERR_RANGE, "Give whole numbers as ends, fewer than 100,000 apart.",
                    "A whole number from %g to %g, mean %g, sd %g.", d->low, d->high, d->a, d->b);
    }
    return 0;
}

/* ---- the functions -------------------------------------------------------------------------- */

static double normal_tail_between(double lo, double hi) {
    /* P(lo < Z < hi) from whichever side keeps the digits. */
    return lo > 0 ? gsl_cdf_ugaussian_Q(lo) - gsl_cdf_ugaussian_Q(hi)
                  : gsl_cdf_ugaussian_P(hi) - gsl_cdf_ugaussian_P(lo);
}

static double integer_mass(const struct num_dist *d, double lo, double hi) {
    if (hi < lo) return 0;
    if (isinf(d->b)) return hi - lo + 1;
    return normal_tail_between((lo - 0.5 - d->a) / d->b, (hi + 0.5 - d->a) / d->b);
}

static double triangular_cdf(const struct num_dist *d, double x) {
    double w = d->high - d->low;
    if (x <= d->a) return d->a > d->low ? (x - d->low) * (x - d->low) / (w * (d->a - d->low)) : 0;
    return 1 - (d->high - x) * (d->high - x) / (w * (d->high - d->a));
}

double num_dist_cdf(const struct num_dist *d, double x) {
    if (isnan(x)) return NAN;
    if (d->family == NUM_DISCRETE) {
        double sum = 0;
        for (size_t i = 0; i < d->n; i++)
            if (d->value[i] <= x) sum += d->p[i];
        return sum > 1 ? 1 : sum;
    }
    if (x < d->low) return 0;
    if (x >= d->high) return 1;
    switch (d->family) {
    case NUM_NORMAL: {
        double lo = (d->low - d->a) / d->b, hi = (d->high - d->a) / d->b, z = (x - d->a) / d->b;
        if (isinf(lo) && isinf(hi)) return gsl_cdf_ugaussian_P(z);
        return normal_tail_between(lo, z) / normal_tail_between(lo, hi);
    }
    case NUM_UNIFORM:
        return (x - d->low) / (d->high - d->low);
    case NUM_TRIANGULAR:
        return triangular_cdf(d, x);
    case NUM_LOGNORMAL:
        return x > 0 ? gsl_cdf_ugaussian_P(log(x / d->a) / d->b) : 0;
    case NUM_BETA:
        return gsl_cdf_beta_P((x - d->low) / (d->high - d->low), d->a, d->b);
    case NUM_STUDENT:
        return gsl_cdf_tdist_P((x - d->a) / d->b, d->c);
    case NUM_INTEGER:
        return integer_mass(d, d->low, floor(x)) / integer_mass(d, d->low, d->high);
    default:
        return 1;
    }
}

double num_dist_tail(const struct num_dist *d, double x) {
    if (isnan(x)) return NAN;
    if (d->family != NUM_DISCRETE && x < d->low) return 1;
    if (d->family != NUM_DISCRETE && x >= d->high) return 0;
    switch (d->family) {
    case NUM_NORMAL: {
        double lo = (d->low - d->a) / d->b, hi = (d->high - d->a) / d->b, z = (x - d->a) / d->b;
        if (isinf(lo) && isinf(hi)) return gsl_cdf_ugaussian_Q(z);
        return normal_tail_between(z, hi) / normal_tail_between(lo, hi);
    }
    case NUM_TRIANGULAR:
        if (x > d->a)
            return (d->high - x) * (d->high - x) / ((d->high - d->low) * (d->high - d->a));
        break;
    case NUM_UNIFORM:
        return (d->high - x) / (d->high - d->low);
    case NUM_LOGNORMAL:
        return x > 0 ? gsl_cdf_ugaussian_Q(log(x / d->a) / d->b) : 1;
    case NUM_BETA:
        return gsl_cdf_beta_Q((x - d->low) / (d->high - d->low), d->a, d->b);
    case NUM_STUDENT:
        return gsl_cdf_tdist_Q((x - d->a) / d->b, d->c);
    default:
        break;
    }
    return 1 - num_dist_cdf(d, x);
}

static double discrete_quantile(const struct num_dist *d, double p) {
    /* Values in the order given: for rivals the order has no meaning, for counts it is their size.
     */
    double sum = 0;
    for (size_t i = 0; i + 1 < d->n; i++) {
        sum += d->p[i];
        if (p < sum) return d->value[i];
    }
    return d->value[d->n - 1];
}

static double integer_quantile(const struct num_dist *d, double p) {
    double whole = integer_mass(d, d->low, d->high), lo = d->low, hi = d->high;
    while (lo < hi) { /* the least k with F(k) > p */
        double mid = floor((lo + hi) / 2);
        if (integer_mass(d, d->low, mid) / whole > p)
            hi = mid;
        else
            lo = mid + 1;
    }
    return lo;
}

static double clamp(double x, double low, double high) {
    return x < low ? low : x > high ? high : x;
}

/* Quantile from the lower probability p and the upper one q = 1 - p, of which the smaller is
 * exact. */
static double quantile_of(const struct num_dist *d, double p, double q) {
    switch (d->family) {
    case NUM_FIXED:
        return d->a;
    case NUM_NORMAL: {
        double lo = (d->low - d->a) / d->b, hi = (d->high - d->a) / d->b, z;
        if (isinf(lo) && isinf(hi))
            z = p < q ? gsl_cdf_ugaussian_Pinv(p) : gsl_cdf_ugaussian_Qinv(q);
        else if (lo > 0)
            z = gsl_cdf_ugaussian_Qinv(gsl_cdf_ugaussian_Q(lo) * q + gsl_cdf_ugaussian_Q(hi) * p);
        else
            z = gsl_cdf_ugaussian_Pinv(gsl_cdf_ugaussian_P(lo) * q + gsl_cdf_ugaussian_P(hi) * p);
        return clamp(d->a + d->b * z, d->low, d->high);
    }
    case NUM_UNIFORM:
        return p < q ? d->low + p * (d->high - d->low) : d->high - q * (d->high - d->low);
    case NUM_TRIANGULAR: {
        double w = d->high - d->low;
        return p < (d->a - d->low) / w ? d->low + sqrt(p * w * (d->a - d->low))
                                       : d->high - sqrt(q * w * (d->high - d->a));
    }
    case NUM_LOGNORMAL:
        return d->a * exp(d->b * (p < q ? gsl_cdf_ugaussian_Pinv(p) : gsl_cdf_ugaussian_Qinv(q)));
    case NUM_BETA:
        return d->low + (d->high - d->low) * (p < q ? gsl_cdf_beta_Pinv(p, d->a, d->b)
                                                    : gsl_cdf_beta_Qinv(q, d->a, d->b));
    case NUM_STUDENT:
        return d->a + d->b * (p < q ? gsl_cdf_tdist_Pinv(p, d->c) : gsl_cdf_tdist_Qinv(q, d->c));
    case NUM_DISCRETE:
        return discrete_quantile(d, p);
    case NUM_INTEGER:
        return integer_quantile(d, p);
    }
    return NAN;
}

double num_dist_quantile(const struct num_dist *d, double p) {
    if (!(p >= 0 && p <= 1)) return NAN;
    return quantile_of(d, p, 1 - p);
}

double num_dist_log_density(const struct num_dist *d, double x) {
    if (d->family == NUM_DISCRETE) {
        for (size_t i = 0; i < d->n; i++)
            if (d->value[i] == x) return log(d->p[i]);
        return -INFINITY;
    }
    if (isnan(x) || x < d->low || x > d->high) return -INFINITY;
    double w = d->high - d->low;
    switch (d->family) {
    case NUM_NORMAL: {
        double z = (x - d->a) / d->b, l = -0.5 * z * z - log(d->b) - 0.5 * log(2 * M_PI);
        if (isinf(d->low) && isinf(d->high)) return l;
        return l - log(normal_tail_between((d->low - d->a) / d->b, (d->high - d->a) / d->b));
    }
    case NUM_UNIFORM:
        return -log(w);
    case NUM_TRIANGULAR:
        return x < d->a   ? log(2 * (x - d->low) / (w * (d->a - d->low)))
               : x > d->a ? log(2 * (d->high - x) / (w * (d->high - d->a)))
                          : log(2 / w);
    case NUM_LOGNORMAL: {
        if (x <= 0) return -INFINITY;
        double z = log(x / d->a) / d->b;
        return -0.5 * z * z - log(d->b * x) - 0.5 * log(2 * M_PI);
    }
    case NUM_BETA: {
        double t = (x - d->low) / w;
        return (d->a - 1) * log(t) + (d->b - 1) * log1p(-t) - gsl_sf_lnbeta(d->a, d->b) - log(w);
    }
    case NUM_STUDENT:
        return log(gsl_ran_tdist_pdf((x - d->a) / d->b, d->c) / d->b);
    case NUM_INTEGER:
        if (x != floor(x)) return -INFINITY;
        return log(integer_mass(d, x, x) / integer_mass(d, d->low, d->high));
    default:
        return 0;
    }
}

/* Mean and variance of a normal cut to [lo, hi] in standard units: Johnson, Kotz & Balakrishnan,
 * Continuous Univariate Distributions 1, 2nd ed. 1994, eqs 13.134-13.135. */
static void truncated_moments(double lo, double hi, double *mean, double *variance) {
    double z = normal_tail_between(lo, hi);
    double fl = isinf(lo) ? 0 : gsl_ran_ugaussian_pdf(lo),
           fh = isinf(hi) ? 0 : gsl_ran_ugaussian_pdf(hi);
    *mean = (fl - fh) / z;
    *variance = 1 + ((isinf(lo) ? 0 : lo * fl) - (isinf(hi) ? 0 : hi * fh)) / z - *mean * *mean;
}

static void moments(const struct num_dist *d, double *mean, double *variance) {
    double w = d->high - d->low, m, v;
    *mean = d->a;
    *variance = 0;
    switch (d->family) {
    case NUM_FIXED:
        return;
    case NUM_NORMAL:
        truncated_moments((d->low - d->a) / d->b, (d->high - d->a) / d->b, &m, &v);
        *mean = d->a + d->b * m;
        *variance = d->b * d->b * v;
        return;
    case NUM_UNIFORM:
        *mean = (d->low + d->high) / 2;
        *variance = w * w / 12;
        return;
    case NUM_TRIANGULAR:
        *mean = (d->low + d->a + d->high) / 3;
        *variance = (w * w - (d->a - d->low) * (d->high - d->a)) / 18;
        return;
    case NUM_LOGNORMAL:
        *mean = d->a * exp(d->b * d->b / 2);
        *variance = *mean * *mean * expm1(d->b * d->b);
        return;
    case NUM_BETA:
        *mean = d->low + w * d->a / (d->a + d->b);
        *variance = w * w * d->a * d->b / ((d->a + d->b) * (d->a + d->b) * (d->a + d->b + 1));
        return;
    case NUM_STUDENT:
        *mean = d->c > 1 ? d->a : NAN;
        *variance = d->c > 2 ? d->b * d->b * d->c / (d->c - 2) : NAN;
        return;
    case NUM_DISCRETE:
        for (*mean = 0, m = 0; m < (double)d->n; m++)
            *mean += d->p[(size_t)m] * d->value[(size_t)m];
        for (size_t i = 0; i < d->n; i++)
            *variance += d->p[i] * (d->value[i] - *mean) * (d->value[i] - *mean);
        return;
    case NUM_INTEGER: {
        double whole = integer_mass(d, d->low, d->high);
        *mean = 0;
        for (double k = d->low; k <= d->high; k++)
            *mean += k * integer_mass(d, k, k) / whole;
        for (double k = d->low; k <= d->high; k++)
            *variance += (k - *mean) * (k - *mean) * integer_mass(d, k, k) / whole;
        return;
    }
    }
}

double num_dist_mean(const struct num_dist *d) {
    double mean, variance;
    moments(d, &mean, &variance);
    return mean;
}

double num_dist_sd(const struct num_dist *d) {
    double mean, variance;
    moments(d, &mean, &variance);
    return sqrt(variance);
}

double num_dist_score(const struct num_dist *d, double x) {
    if (num_dist_is_gaussian(d))
        return d->family == NUM_NORMAL ? (x - d->a) / d->b : log(x / d->a) / d->b;
    double p = num_dist_cdf(d, x), q = num_dist_tail(d, x);
    return p < q ? gsl_cdf_ugaussian_Pinv(p) : gsl_cdf_ugaussian_Qinv(q);
}

double num_dist_from_score(const struct num_dist *d, double z) {
    if (num_dist_is_gaussian(d))
        return d->family == NUM_NORMAL ? d->a + d->b * z : d->a * exp(d->b * z);
    return quantile_of(d, gsl_cdf_ugaussian_P(z), gsl_cdf_ugaussian_Q(z));
}

double num_dist_sample(const struct num_dist *d, struct num_random *r) {
    return num_dist_quantile(d, num_random_uniform(r));
}

bool num_dist_is_discrete(const struct num_dist *d) {
    return d->family == NUM_DISCRETE || d->family == NUM_INTEGER || d->family == NUM_FIXED;
}

bool num_dist_is_gaussian(const struct num_dist *d) {
    return d->family == NUM_LOGNORMAL ||
           (d->family == NUM_NORMAL && isinf(d->low) && isinf(d->high));
}

bool num_dist_equal(const struct num_dist *a, const struct num_dist *b) {
    if (a->family != b->family || a->a != b->a || a->b != b->b || a->c != b->c ||
        a->low != b->low || a->high != b->high || a->n != b->n)
        return false;
    for (size_t i = 0; i < a->n; i++)
        if (a->value[i] != b->value[i] || a->p[i] != b->p[i]) return false;
    return true;
}

/* ---- from the three points of a data table -------------------------------------------------- */

struct three_points {
    enum num_family family;
    double want[3], low, high;
};

static const double three_p[3] = {0.05, 0.5, 0.95};

/* A beta by its mean, as a share of the way between the limits, and by how narrow it is. */
static struct num_dist beta_about(double mean, double narrow, const struct three_points *t) {
    const double least = 0.005; /* of a shape: below it all stands at a limit */
    return num_dist_beta(fmax(mean * narrow, least), fmax((1 - mean) * narrow, least), t->low,
                         t->high);
}

/* Two numbers on the whole line to a distribution of the family, always a valid one. */
static struct num_dist from_line(const struct three_points *t, double u, double v) {
    double w = t->want[2] - t->want[0], m = t->want[1];
    switch (t->family) {
    case NUM_BETA:
        return beta_about(1 / (1 + exp(-u)), exp(clamp(v, -5, 13)), t);
    case NUM_UNIFORM:
        return num_dist_uniform(m + w * (u - 0.55), m + w * (u - 0.55 + 0.02 + exp(v)));
    case NUM_TRIANGULAR: {
        double mode = m;
        return num_dist_triangular(mode - w * exp(u), mode, mode + w * exp(v));
    }
    default:
        return num_dist_truncated(m + w * u, w * exp(clamp(v, -9, 9)), t->low, t->high);
    }
}

static double worst_miss(const struct three_points *t, const struct num_dist *d) {
    double worst = 0;
    for (int i = 0; i < 3; i++)
        worst = fmax(worst, fabs(num_dist_quantile(d, three_p[i]) - t->want[i]));
    return worst / (t->want[2] - t->want[0]);
}

static int misses(const gsl_vector *x, void *context, gsl_vector *out) {
    const struct three_points *t = context;
    struct num_dist d = from_line(t, gsl_vector_get(x, 0), gsl_vector_get(x, 1));
    double w = t->want[2] - t->want[0];
    for (size_t i = 0; i < 3; i++) {
        double miss = (num_dist_quantile(&d, three_p[i]) - t->want[i]) / w;
        gsl_vector_set(out, i, isfinite(miss) ? miss : 1e3);
    }
    return GSL_SUCCESS;
}

/* Least squares of the three misses: a beta's quantiles are dear, so as few of them as will do. */
static int least_miss(struct num_dist *out, struct three_points *t, double u, double v,
                      struct error *err) {
    enum { MOST_STEPS = 200 };
    const double fine = 1e-10; /* of the two numbers: far below use */
    gsl_multifit_nlinear_parameters how = gsl_multifit_nlinear_default_parameters();
    gsl_multifit_nlinear_workspace *fit =
        gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &how, 3, 2);
    gsl_multifit_nlinear_fdf f = {.f = misses, .n = 3, .p = 2, .params = t};
    double start[2] = {u, v};
    gsl_vector_view x = gsl_vector_view_array(start, 2);
    int why, rc = fit ? 0 : fail_memory(err);
    if (!rc && gsl_multifit_nlinear_init(&x.vector, &f, fit)) rc = fail_memory(err);
    if (!rc) {
        gsl_multifit_nlinear_driver(MOST_STEPS, fine, fine, 0, NULL, NULL, &why, fit);
        const gsl_vector *at = gsl_multifit_nlinear_position(fit);
        *out = from_line(t, gsl_vector_get(at, 0), gsl_vector_get(at, 1));
    }
    if (fit) gsl_multifit_nlinear_free(fit);
    return rc;
}

/* A beta with the mean and spread of the three points, as a beginning. */
static void beta_start(const struct three_points *t, double *u, double *v) {
    double w = t->high - t->low, m = clamp((t->want[1] - t->low) / w, 1e-4, 1 - 1e-4);
    double s = (t->want[2] - t->want[0]) / (2 * Z95 * w), k = m * (1 - m) / (s * s) - 1;
    if (!(k > 0.1)) k = 0.1;
    *u = log(m / (1 - m));
    *v = log(k);
}

int num_dist_from_points(struct num_dist *out, enum num_family family, double median, double p05,
                         double p95, double low, double high, double *misfit, struct error *err) {
    struct three_points t = {family, {p05, median, p95}, low, high};
    double u = 0, v = 0;
    int rc = 0;
    if (!(p05 < median && median < p95))
        return fail(err, ERR_RANGE, "The 5 % point lies under the median, the 95 % point above it.",
                    "Median %g with 5 %% point %g and 95 %% point %g.", median, p05, p95);
    if (family == NUM_BETA && isnan(low)) t.low = 0;
    if (family == NUM_BETA && isnan(high)) t.high = 1;
    if (isnan(t.low)) t.low = -INFINITY;
    if (isnan(t.high)) t.high = INFINITY;
    if (p05 <= t.low || p95 >= t.high || (family == NUM_LOGNORMAL && p05 <= 0))
        return fail(err, ERR_RANGE, "Choose another family or other limits.",
                    "A %s distribution within %g to %g cannot have the points %g and %g.",
                    family_names[family], t.low, t.high, p05, p95);
    switch (family) {
    case NUM_LOGNORMAL:
        *out = num_dist_lognormal(median, log(p95 / p05) / (2 * Z95));
        break;
    case NUM_NORMAL:
        if (isinf(t.low) && isinf(t.high)) {
            *out = num_dist_normal(median, (p95 - p05) / (2 * Z95));
            break;
        }
        v = log(1 / (2 * Z95));
        rc = least_miss(out, &t, u, v, err);
        break;
    case NUM_BETA:
        beta_start(&t, &u, &v);
        rc = least_miss(out, &t, u, v, err);
        break;
    case NUM_UNIFORM:
    case NUM_TRIANGULAR:
        rc = least_miss(out, &t, 0, 0, err);
        break;
    default:
        return fail(err, ERR_INPUT, "Use normal, lognormal, beta, triangular or uniform.",
                    "A %s distribution cannot be made from a median and two points.",
                    family_names[family]);
    }
    if (!rc && misfit) *misfit = worst_miss(&t, out);
    return rc;
}

/* ---- as entered ----------------------------------------------------------------------------- */

#define REAL(key, text, u, lo, hi, above, words, eg)                                               \
    {                                                                                              \
        .name = #key, .label = text, .unit = u, .type = FIELD_REAL,                                \
        .offset = offsetof(struct num_dist_entry, key), .min = lo, .max = hi, .above_min = above,  \
        .help = words, .example = eg                                                               \
    }

static const struct field entry_fields[] = {
    {.name = "family",
     .label = "Family",
     .type = FIELD_CHOICE,
     .required = true,
     .offset = offsetof(struct num_dist_entry, family),
     .choices = family_names,
     .help = "Which distribution; the fields it uses follow.",
     .example = "lognormal"},
    REAL(value, "Value", "", 0, 0, false, "fixed: the value.", "12"),
    REAL(mean, "Mean", "", 0, 0, false, "normal, student, integer: the centre.", "12"),
    REAL(sd, "Standard deviation", "", 0, FIELD_NO_LIMIT, true, "normal, student (scale), integer.",
         "0.5"),
    REAL(low, "Lower limit", "", 0, 0, false, "uniform, triangular, beta, integer; cuts a normal.",
         "0"),
    REAL(high, "Upper limit", "", 0, 0, false, "uniform, triangular, beta, integer; cuts a normal.",
         "1"),
    REAL(mode, "Most likely value", "", 0, 0, false, "triangular.", "0.3"),
    REAL(median, "Median", "", 0, 0, false, "lognormal; with p05 and p95 any of five families.",
         "7.5"),
    REAL(log_sd, "Standard deviation of the logarithm", "", 0, 100, true, "lognormal.", "0.3"),
    REAL(p05, "5 % point", "", 0, 0, false, "With median and p95: the family is fitted to them.",
         "4"),
    REAL(p95, "95 % point", "", 0, 0, false, "With median and p05: the family is fitted to them.",
         "12"),
    REAL(a, "First shape", "", 0, FIELD_NO_LIMIT, true, "beta.", "2"),
    REAL(b, "Second shape", "", 0, FIELD_NO_LIMIT, true, "beta.", "5"),
    REAL(freedom, "Degrees of freedom", "", 0, FIELD_NO_LIMIT, true, "student.", "4"),
    {.name = "values",
     .label = "Values",
     .type = FIELD_REALS,
     .offset = offsetof(struct num_dist_entry, values),
     .help = "discrete: up to eight values.",
     .example = "[9, 11, 13]"},
    {.name = "probabilities",
     .label = "Probabilities",
     .type = FIELD_REALS,
     .offset = offsetof(struct num_dist_entry, probabilities),
     .min = 0,
     .max = FIELD_NO_LIMIT,
     .help = "discrete: one for each value; left out: all alike.",
     .example = "[0.2, 0.6, 0.2]"},
};
#undef REAL

const struct kind num_dist_kind = {
    "distribution", "A distribution", sizeof(struct num_dist_entry), FIELDS(entry_fields),
    "What is believed about a number, by a family and its numbers, or by its median, 5 % and 95 % "
    "points."};

static double or_else(double x, double other) {
    return isnan(x) ? other : x;
}

static int need(double x, const char *what, long family, struct error *err) {
    if (!isnan(x)) return 0;
    error_place(err, NULL, 0, what, NULL);
    return fail(err, ERR_MISSING, "Add it, or give median, p05 and p95 instead.",
                "A %s distribution needs \"%s\".", family_names[family], what);
}

static int entry_discrete(struct num_dist *out, const struct num_dist_entry *e, struct error *err) {
    if (e->values.n > NUM_VALUES)
        return fail(err, ERR_RANGE, "Use the family \"integer\" for longer ranges.",
                    "%zu values; a discrete distribution here has at most %d.", e->values.n,
                    NUM_VALUES);
    if (e->probabilities.n && e->probabilities.n != e->values.n)
        return fail(err, ERR_INPUT, "Give one probability for each value.",
                    "%zu values and %zu probabilities.", e->values.n, e->probabilities.n);
    *out =
        num_dist_discrete(e->values.n, e->values.v, e->probabilities.n ? e->probabilities.v : NULL);
    return 0;
}

int num_dist_from_entry(struct num_dist *out, const struct num_dist_entry *e, struct error *err) {
    long f = e->family;
    int rc = 0;
    if (!isnan(e->p05) && !isnan(e->p95) && !isnan(e->median))
        return num_dist_from_points(out, (enum num_family)f, e->median, e->p05, e->p95, e->low,
                                    e->high, NULL, err);
    switch ((enum num_family)f) {
    case NUM_FIXED:
        if ((rc = need(e->value, "value", f, err))) return rc;
        *out = num_dist_fixed(e->value);
        break;
    case NUM_NORMAL:
    case NUM_STUDENT:
        if ((rc = need(e->mean, "mean", f, err)) || (rc = need(e->sd, "sd", f, err))) return rc;
        if (f == NUM_STUDENT && (rc = need(e->freedom, "freedom", f, err))) return rc;
        *out = f == NUM_STUDENT ? num_dist_student(e->mean, e->sd, e->freedom)
                                : num_dist_truncated(e->mean, e->sd, or_else(e->low, -INFINITY),
                                                     or_else(e->high, INFINITY));
        break;
    case NUM_LOGNORMAL:
        if ((rc = need(e->median, "median", f, err)) || (rc = need(e->log_sd, "log_sd", f, err)))
            return rc;
        *out = num_dist_lognormal(e->median, e->log_sd);
        break;
    case NUM_BETA:
        if ((rc = need(e->a, "a", f, err)) || (rc = need(e->b, "b", f, err))) return rc;
        *out = num_dist_beta(e->a, e->b, or_else(e->low, 0), or_else(e->high, 1));
        break;
    case NUM_DISCRETE:
        if ((rc = entry_discrete(out, e, err))) return rc;
        break;
    case NUM_UNIFORM:
    case NUM_TRIANGULAR:
    case NUM_INTEGER:
        if ((rc = need(e->low, "low", f, err)) || (rc = need(e->high, "high", f, err))) return rc;
        if (f == NUM_TRIANGULAR && (rc = need(e->mode, "mode", f, err))) return rc;
        *out = f == NUM_UNIFORM ? num_dist_uniform(e->low, e->high)
               : f == NUM_TRIANGULAR
                   ? num_dist_triangular(e->low, e->mode, e->high)
                   : num_dist_integer(e->low, e->high, or_else(e->mean, (e->low + e->high) / 2),
                                      or_else(e->sd, INFINITY));
        break;
    }
    return num_dist_check(out, err);
}

void num_dist_text(const struct num_dist *d, char *text, size_t size) {
    switch (d->family) {
    case NUM_FIXED:
        snprintf(text, size, "%g", d->a);
        return;
    case NUM_NORMAL:
        if (isinf(d->low) && isinf(d->high))
            snprintf(text, size, "normal, mean %.4g, sd %.3g", d->a, d->b);
        else
            snprintf(text, size, "normal, mean %.4g, sd %.3g, cut to %.4g to %.4g", d->a, d->b,
                     d->low, d->high);
        return;
    case NUM_UNIFORM:
        snprintf(text, size, "anywhere from %.4g to %.4g", d->low, d->high);
        return;
    case NUM_TRIANGULAR:
        snprintf(text, size, "%.4g to %.4g, most likely %.4g", d->low, d->high, d->a);
        return;
    case NUM_LOGNORMAL:
        snprintf(text, size, "lognormal, median %.4g, 5 to 95 %%: %.4g to %.4g", d->a,
                 d->a * exp(-Z95 * d->b), d->a * exp(Z95 * d->b));
        return;
    case NUM_BETA:
        snprintf(text, size, "beta (%.3g, %.3g) from %.4g to %.4g", d->a, d->b, d->low, d->high);
        return;
    case NUM_STUDENT:
        snprintf(text, size, "t with %.3g degrees of freedom, centre %.4g, scale %.3g", d->c, d->a,
                 d->b);
        return;
    case NUM_DISCRETE: {
        size_t used = 0;
        for (size_t i = 0; i < d->n && used < size; i++) {
            int w = snprintf(text + used, size - used, "%s%.4g (%.0f %%)", i ? ", " : "",
                             d->value[i], 100 * d->p[i]);
            if (w > 0) used += (size_t)w;
        }
        return;
    }
    case NUM_INTEGER:
        snprintf(text, size, "a whole number from %g to %g", d->low, d->high);
        return;
    }
}
