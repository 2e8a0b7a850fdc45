/* nonlinear: curves through points by least squares.
 *
 * Levenberg-Marquardt with geodesic acceleration (GSL multifit_nlinear; Transtrum & Sethna 2012)
 * from each given start and from starts scattered about them; the least sum of squares wins and is
 * polished by Gauss-Newton steps in extended precision. Standard errors from the Jacobian at the
 * end: sd^2 = RSS/(n - p) diag (J'J)^-1. Not for correlated errors. Not thread-shared.
 */
#ifndef RELICT_NUM_NONLINEAR_H
#define RELICT_NUM_NONLINEAR_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Value of the model at data row i with parameters b[p]; slope[p] by the parameters, may be NULL.
 * NAN is allowed: that start is given up. */
typedef double num_curve_fn(const double *b, size_t i, double *slope, void *ctx);

struct num_curve {
    num_curve_fn *fn;
    void *ctx;
    size_t n, p;
    const double *y; /* [n] */
    const double *w; /* [n] weights 1/u^2, or NULL: all alike */
};

struct num_curve_fit {
    double *b, *sd; /* [p], in the arena */
    double *cov;    /* [p][p] */
    double rss;     /* weighted */
    double sd_residual;
    size_t freedom;
    size_t from_start; /* which of the given starts led here */
    bool converged;
    double relative_gradient; /* cosine between residuals and the nearest column of J: 0 at the
                                 minimum */
    size_t agreeing;          /* starts that ended at the same sum of squares */
    size_t tried;
};

/* Fits from n_starts starts[n_starts][p], and from `scatter` further ones about the first (each
 * parameter times exp(N(0,1)) or so, keyed by seed). ERR_SOLVE when no start leads anywhere. */
int num_curve_fit(struct num_curve_fit *out, const struct num_curve *curve, const double *starts,
                  size_t n_starts, size_t scatter, uint64_t seed, struct arena *arena,
                  struct error *err);

#endif
