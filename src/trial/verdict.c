#include "trial/verdict.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#define VERDICT_WORDS(code, words) words,
const char *const verdict_words[] = {VERDICT_LIST(VERDICT_WORDS) NULL};

double trial_half_width(size_t n) {
    if (n < 2) return INFINITY;
    return gsl_cdf_tdist_Pinv(0.975, (double)(n - 1)) / sqrt((double)n);
}

/* Mean and standard deviation in two passes, so that close values keep their digits. */
static void mean_spread(const double *v, size_t n, double *mean, double *spread) {
    double sum = 0, square = 0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    *mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        square += (v[i] - *mean) * (v[i] - *mean);
    *spread = n > 1 ? sqrt(square / (double)(n - 1)) : NAN;
}

/* Mean of the strips of the tree whose first strip is i; 0 strips when i is not a first one. */
static size_t tree_mean(const double *value, const long *tree, size_t n, size_t i, double *mean) {
    for (size_t k = 0; k < i; k++)
        if (tree[k] == tree[i]) return 0;
    size_t strips = 0;
    double sum = 0;
    for (size_t k = i; k < n; k++) {
        if (tree[k] != tree[i]) continue;
        sum += value[k];
        strips++;
    }
    *mean = sum / (double)strips;
    return strips;
}

int trial_interval_mean(struct trial_interval *out, const double *value, const long *tree, size_t n,
                        struct error *err) {
    if (n == 0)
        return fail(err, ERR_MISSING, "Enter at least one measured strip.",
                    "There is no measured value to read back.");
    double sum = 0, square = 0, m = NAN;
    size_t trees = 0;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(value[i]))
            return fail(err, ERR_INPUT, "Leave the strip out, or enter its number.",
                        "Strip %zu has no number.", i + 1);
        if (tree_mean(value, tree, n, i, &m) == 0) continue;
        sum += m;
        trees++;
    }
    double mean = sum / (double)trees;
    for (size_t i = 0; i < n; i++)
        if (tree_mean(value, tree, n, i, &m) > 0) square += (m - mean) * (m - mean);
    double spread = trees > 1 ? sqrt(square / (double)(trees - 1)) : NAN;
    double half = trees > 1 ? trial_half_width(trees) * spread : INFINITY;
    double pooled, pooled_spread;
    mean_spread(value, n, &pooled, &pooled_spread);
    double pooled_half = n > 1 ? trial_half_width(n) * pooled_spread : INFINITY;
    *out = (struct trial_interval){.mean = mean,
                                   .low = mean - half,
                                   .high = mean + half,
                                   .half_width = half,
                                   .spread = spread,
                                   .trees = trees,
                                   .strips = n,
                                   .pooled_low = pooled - pooled_half,
                                   .pooled_high = pooled + pooled_half};
    return 0;
}

int trial_interval_share(struct trial_interval *out, long k, long n, struct error *err) {
    if (n < 1 || k < 0 || k > n)
        return fail(err, ERR_RANGE, "Give how many were tried and how many of them did it.",
                    "%ld of %ld cannot be.", k, n);
    double low = k == 0 ? 0 : gsl_cdf_beta_Pinv(0.025, (double)k, (double)(n - k + 1));
    double high = k == n ? 1 : gsl_cdf_beta_Pinv(0.975, (double)(k + 1), (double)(n - k));
    *out = (struct trial_interval){.mean = (double)k / (double)n,
                                   .low = low,
                                   .high = high,
                                   .half_width = (high - low) / 2,
                                   .spread = NAN,
                                   .trees = (size_t)n,
                                   .strips = (size_t)n,
                                   .pooled_low = NAN,
                                   .pooled_high = NAN};
    return 0;
}

enum verdict trial_verdict(const struct trial_interval *seen, double middle, double half) {
    /* Prediction and half-width are typed numbers (6.0 +- 1.0): equality must not hang on the
     * last bit, hence one part in 10^9. */
    double slack = 1e-9 * (fabs(middle) + half);
    if (seen->low > middle + half + slack || seen->high < middle - half - slack)
        return VERDICT_AGAINST;
    bool inside = fabs(seen->mean - middle) <= half + slack;
    return inside && seen->half_width <= half + slack ? VERDICT_SUPPORTS : VERDICT_OPEN;
}
