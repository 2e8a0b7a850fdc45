/* sensitivity: Sobol' indices of a function of independent inputs.
 *
 * Matrices A, B and AB_i from a Sobol' sequence of 2 d dimensions with independent random shifts
 * (Cranley & Patterson 1976), S_i = mean f_B (f_ABi - f_A) / V (Saltelli et al., Comput. Phys.
 * Commun. 181, 2010, 259-270, table 2b), ST_i = mean (f_A - f_ABi)^2 / (2 V) (Jansen 1999, 2f). The
 * spread over the shifts gives the errors. For dependent inputs use num/shares.h.
 */
#ifndef RELICT_NUM_SENSITIVITY_H
#define RELICT_NUM_SENSITIVITY_H

#include "base/error.h"
#include "num/dist.h"

#include <stddef.h>
#include <stdint.h>

enum { NUM_SENSITIVITY_INPUTS = 20 }; /* the sequence ends at 40 dimensions */

typedef double num_model_fn(const double *x, void *ctx);

struct num_sensitivity {
    size_t d, runs;
    double mean, variance;
    double first[NUM_SENSITIVITY_INPUTS], first_error[NUM_SENSITIVITY_INPUTS];
    double total[NUM_SENSITIVITY_INPUTS], total_error[NUM_SENSITIVITY_INPUTS];
};

/* points: a power of two for each shift; shifts: 2 or more. Runs: points * shifts * (d + 2). */
int num_sensitivity(struct num_sensitivity *out, num_model_fn *fn, void *ctx,
                    const struct num_dist *inputs, size_t d, size_t points, size_t shifts,
                    uint64_t seed, struct error *err);

/* A space-filling design for runs of a simulator: u[n][d] in (0,1), shifted Sobol' points, d <= 40.
 */
int num_design(double *u, size_t n, size_t d, uint64_t seed, struct error *err);

#endif
