/* propagate: the distribution of a result whose inputs are distributions.
 *
 * JCGM 101:2008 (Supplement 1 to the GUM): draws of the inputs together, the model on each, in
 * batches of 10^4 until twice the standard error over batches of mean, u and both ends is below
 * half a unit of the last reported digit of u (7.9). Correlated inputs through a Gaussian copula:
 * the correlation given is that of the scores, which for normal inputs is the ordinary one.
 * The first-order law (JCGM 100, 5.1.2 and 5.2.2) stands beside it for comparison.
 */
#ifndef RELICT_NUM_PROPAGATE_H
#define RELICT_NUM_PROPAGATE_H

#include "base/arena.h"
#include "base/error.h"
#include "num/dist.h"
#include "num/formula.h"

#include <stddef.h>
#include <stdint.h>

struct num_propagate_options {
    double level;              /* of intervals; 0: 0.95 */
    int digits;                /* significant digits of u that must stand; 0: 2 */
    size_t most_batches;       /* 0: 200 (two million draws) */
    uint64_t seed;             /* 0 is a seed like any other */
    const double *correlation; /* [n][n] of the scores; NULL: independent */
};

struct num_propagated {
    double mean, u, median;
    double low, high;                                  /* probabilistically symmetric */
    double shortest_low, shortest_high;                /* shortest */
    double mean_error, u_error, low_error, high_error; /* Monte Carlo standard errors */
    size_t draws;
    int settled;                             /* the rule of 7.9 was met */
    double first_order_value, first_order_u; /* at the means of the inputs */
    size_t impossible; /* draws for which the formula has no value: left out, to be shown */
};

/* Propagates the inputs[n] through f. ERR_RANGE when the correlations are not possible, ERR_SOLVE
 * when more than one draw in a thousand has no value. Cost: draws times the formula, sorted once.
 */
int num_propagate(struct num_propagated *out, const struct num_formula *f,
                  const struct num_dist *inputs, size_t n,
                  const struct num_propagate_options *options, struct error *err);

#endif
