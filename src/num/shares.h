/* shares: which inputs make a result uncertain, read off the rows themselves.
 *
 * Inputs are dependent once evidence has come in, so shares are of two kinds. Given-data main
 * effect of one input: Var E[y|x] / Var y, by grouping the rows along x (Plischke, Borgonovo &
 * Smith, Eur. J. Oper. Res. 226, 2013, 536-550). Shapley shares over a few groups of inputs, which
 * sum to what the inputs explain together (Owen, SIAM/ASA JUQ 2, 2014, 245-251; Song, Nelson &
 * Staum 2016), with Var E[y|x_S] taken from a quadratic regression on normal scores (adjusted R^2).
 * What that regression does not explain is told as `unexplained`, never spread over the groups.
 */
#ifndef RELICT_NUM_SHARES_H
#define RELICT_NUM_SHARES_H

#include "base/error.h"
#include "num/rows.h"

#include <stddef.h>

enum { NUM_SHARE_GROUPS = 8, NUM_SHARE_FEATURES = 220 };

/* Main effect of x[n] on y[n] with weights[n] (NULL: alike), corrected for chance, 0 to 1. Values
 * of x that are few (8 or fewer) are the groups; otherwise about n^(1/3) groups of equal weight.
 * *se: its standard error by halving the rows; may be NULL. */
int num_main_effect(double *out, double *se, const double *x, const double *y, const double *weight,
                    size_t n, struct error *err);

struct num_share_group {
    const char *name;
    const size_t *cols; /* columns of the rows, roots or derived */
    size_t n_cols;
};

struct num_shares {
    size_t groups;
    double shapley[NUM_SHARE_GROUPS]; /* sum to 1 - unexplained */
    double alone[NUM_SHARE_GROUPS];   /* this group by itself */
    double last[NUM_SHARE_GROUPS];    /* what it adds when all others are known */
    double unexplained;
    size_t features; /* of the regression */
    int crossed;     /* products between inputs were in it (left out when there are too many) */
};

/* Shapley shares of column y over groups. ERR_RANGE: no or too many groups, or y does not vary. */
int num_shares(struct num_shares *out, const struct num_rows *rows, size_t y,
               const struct num_share_group *groups, size_t n_groups, struct error *err);

#endif
