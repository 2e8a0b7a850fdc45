/* weighted: statistics of values that carry weights.
 *
 * Pure functions on flat arrays; nothing is kept. Values that are NAN are left out together with
 * their weight. `weight` may be NULL: all alike. Weights need not sum to one. Thread-safe.
 */
#ifndef RELICT_NUM_WEIGHTED_H
#define RELICT_NUM_WEIGHTED_H

#include "base/error.h"

#include <stddef.h>

/* Quantiles q[n_p] at p[n_p], each in [0, 1]. Sorted value k sits at the plotting position
 * (W_{k-1} + w_k / 2) / W, straight lines between, the extreme values beyond (with equal weights
 * this is definition 5 of Hyndman & Fan, The American Statistician 50, 1996, 361-365). When all
 * values are whole numbers (counts, rivals): the least value whose cumulative weight reaches p W.
 * No values: NAN. Cost n log n. */
int num_quantiles(const double *value, const double *weight, size_t n, const double *p, size_t n_p,
                  double *q, struct error *err);

/* Mean and standard deviation (of the weighted values, divisor W); two passes, centred. */
double num_mean(const double *value, const double *weight, size_t n);
double num_sd(const double *value, const double *weight, size_t n);

/* (sum w)^2 / sum w^2: Kish, Survey Sampling, 1965, section 8.2. */
double num_effective(const double *weight, size_t n);

/* Shortest interval that holds the share p of the weight (JCGM 101:2008, 5.3.4): low and high. From
 * a thousand values on, its place along the flat minimum is smoothed. */
int num_shortest(const double *value, const double *weight, size_t n, double p, double *low,
                 double *high, struct error *err);

/* ln(sum exp(x)) without overflow; -INFINITY for none. */
double num_log_sum(const double *x, size_t n);

/* Weighted covariance of d columns, column[d] each of n values, out[d][d]; means[d] may be NULL. */
void num_covariance(const double *const *column, size_t d, const double *weight, size_t n,
                    double *out, double *means);

#endif
