/* verdict: what a dried trial says about its prediction, in three words and no more.
 *
 * supports           the mean lies inside the prediction and the 95 % half-width is no wider than
 *                    the prediction's;
 * does not support   the 95 % interval misses the prediction;
 * cannot tell yet    anything else.
 *
 * Strips of one tree are not repeats: the interval is Student's t on the means of the trees. A
 * share (how many cracked) uses the exact binomial interval. A prediction that was not written
 * down before the making is reported and never judged as a prediction. Thread-safe, no memory.
 */
#ifndef RELICT_TRIAL_VERDICT_H
#define RELICT_TRIAL_VERDICT_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

#define VERDICT_LIST(X)                                                                            \
    X(VERDICT_SUPPORTS, "supports")                                                                \
    X(VERDICT_AGAINST, "does not support")                                                         \
    X(VERDICT_OPEN, "cannot tell yet")
#define VERDICT_ENUM(code, words) code,
enum verdict { VERDICT_LIST(VERDICT_ENUM) };
#undef VERDICT_ENUM

extern const char *const verdict_words[]; /* as above, NULL-terminated */

struct trial_interval {
    double mean;                    /* mean of the tree means; or the share */
    double low, high;               /* 95 % interval; -inf and +inf when there is a single tree */
    double half_width;              /* half of high - low */
    double spread;                  /* standard deviation of the tree means; NAN with one tree */
    size_t trees;                   /* independent units the interval rests on */
    size_t strips;                  /* pieces measured */
    double pooled_low, pooled_high; /* what the interval would be if strips were repeats: shown to
                                       say why it is not used; NAN for a share */
};

/* Interval of a mean from `n` values, each from the tree named tree[i] (equal numbers = one tree).
 * Student 1908, Biometrika 6, 1. Errors: ERR_MISSING without a value, ERR_INPUT for a value that
 * is not finite. O(n^2) in trees. */
int trial_interval_mean(struct trial_interval *out, const double *value, const long *tree, size_t n,
                        struct error *err);

/* Interval of a share: k of n. Clopper & Pearson 1934, Biometrika 26, 404 (exact, by the beta
 * quantile). */
int trial_interval_share(struct trial_interval *out, long k, long n, struct error *err);

/* The rule above; the prediction is middle +- half. */
enum verdict trial_verdict(const struct trial_interval *seen, double middle, double half);

/* Half-width of a 95 % interval from n trees in units of the spread between trees:
 * t(0.975, n - 1)/sqrt(n). n = 3: 2.48, 5: 1.24, 10: 0.72. INFINITY for n < 2. */
double trial_half_width(size_t n);

#endif
