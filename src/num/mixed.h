/* mixed: several readings of each of several things (strips of trees, days of strips).
 *
 * One-way: y = mean + thing + error, by restricted maximum likelihood (Pinheiro & Bates,
 * Mixed-Effects Models in S and S-PLUS, 2000, section 2.2; balanced: between variance
 * (MSB - MSW)/n). Curves: y = f(x; b, v) + error with v ~ N(0, s^2) one number a thing (a tree's
 * drying rate), maximum likelihood by adaptive Gauss-Hermite quadrature (Pinheiro & Bates, J. Comp.
 * Graph. Stat. 4, 1995, 12-35). Pure; results in the arena.
 */
#ifndef RELICT_NUM_MIXED_H
#define RELICT_NUM_MIXED_H

#include "base/arena.h"
#include "base/error.h"
#include "num/formula.h"

#include <stdbool.h>
#include <stddef.h>

struct num_one_way {
    size_t things, n;
    double mean, se_mean;
    double sd_between, sd_within;
    double log_like;    /* restricted */
    double correlation; /* of two readings of one thing */
    double *effect;     /* [things] best linear prediction, order of first appearance */
};

/* value[n], thing[n] any numbers; balanced or not. */
int num_one_way(struct num_one_way *out, const double *value, const double *thing, size_t n,
                struct arena *arena, struct error *err);

struct num_mixed_curve {
    const struct num_formula *f; /* variables: parameters[p], then v, then predictors[k] */
    size_t p, k, n;
    const double *x;     /* [n][k] */
    const double *y;     /* [n] */
    const double *thing; /* [n] any numbers */
    const double *start; /* [p] */
    double start_sd;     /* of v; 0: 0.2 */
    size_t nodes;        /* of the quadrature, odd, 0: 15 */
};

struct num_mixed_fit {
    size_t things, n, p;
    double *b, *se; /* [p] */
    double sd_v, sd_residual;
    double sd_v_low, sd_v_high; /* 90 % by profile; 0 and INFINITY when not limited */
    double *v;                  /* [things] most likely number of each */
    double log_like;
    bool converged;
};

/* Fits by maximum likelihood (bounded search of the likelihood, then polished). ERR_MISSING with
 * fewer than two things. */
int num_mixed_fit(struct num_mixed_fit *out, const struct num_mixed_curve *curve,
                  struct arena *arena, struct error *err);

#endif
