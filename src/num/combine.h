/* combine: several values of one thing, each with its uncertainty, made into one; or a refusal.
 *
 * Weights 1/u^2; Q = sum w (x - m)^2 on k - 1 degrees of freedom tells whether they agree. When
 * they do not (p < 0.05) the clash is to be shown first; then Birge's ratio or a random effect.
 * Pure functions; thread-safe. Sources: Birge, Phys. Rev. 40, 1932, 207-227; DerSimonian & Laird,
 * Controlled Clinical Trials 7, 1986, 177-188; Paule & Mandel, J. Res. NBS 87, 1982, 377-385;
 * Viechtbauer, J. Educ. Behav. Stat. 30, 2005, 261-293 (REML).
 */
#ifndef RELICT_NUM_COMBINE_H
#define RELICT_NUM_COMBINE_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct num_mean_u {
    double mean, u, tau2; /* tau2: variance between, 0 for fixed and Birge */
};

struct num_combined {
    size_t k;
    struct num_mean_u fixed, birge, dersimonian_laird, paule_mandel, reml;
    struct num_mean_u
        half_normal;    /* with the prior below on tau, by quadrature; NAN if not asked */
    double q, p;        /* heterogeneity and its tail probability */
    double birge_ratio; /* sqrt(Q/(k-1)); u is never made smaller by it */
    bool clash;         /* p < 0.05 */
};

/* Combines k independent values x[k] with standard uncertainties u[k]. tau_scale: standard
 * deviation of a half-normal prior on tau, wanted when k is 2 or 3; 0: none. */
int num_combine(struct num_combined *out, const double *x, const double *u, size_t k,
                double tau_scale, struct error *err);

/* Generalised least squares with covariance v[k][k]: w = V^-1 1 / (1' V^-1 1), written to w[k].
 * ERR_REFUSED when a weight is negative (a correlation above u_small/u_large): the mean would leave
 * the range of the values, and such a correlation is rarely known well enough. w is filled all the
 * same, to be shown. */
int num_combine_correlated(struct num_mean_u *out, const double *x, const double *v, size_t k,
                           double *w, struct error *err);

#endif
