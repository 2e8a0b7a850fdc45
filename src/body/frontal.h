/* frontal: factors a sparse symmetric positive definite matrix, front by front.
 *
 * Multifrontal Cholesky (I. S. Duff, J. K. Reid, ACM Trans. Math. Softw. 9 (1983) 302-325; J. W. H.
 * Liu, SIAM Review 34 (1992) 82-109) with dense kernels of its own, small enough for the blocks of
 * a shell of some thousand triangles, where a general library spends its time on packing and
 * locks. Nothing is shared between handles: any number of threads may factor, each its own. The
 * order of every sum is fixed, with and without wide vectors: the same bits everywhere.
 *
 * Order and supernodes come from the caller's symbolic analysis.
 */
#ifndef RELICT_BODY_FRONTAL_H
#define RELICT_BODY_FRONTAL_H

#include "base/error.h"

#include <stddef.h>

struct frontal;

/* The matrix's lower half by columns, and what the symbolic analysis found (postordered): supernode
 * s holds the columns super[s] .. super[s+1]-1 of the new order and the rows row_of[start[s]] ..
 * row_of[start[s+1]-1], its own columns first. perm[new] = old. Everything is copied. */
struct frontal_pattern {
    size_t n;
    const int *p, *row; /* [n+1], [p[n]] */
    const int *perm;    /* [n] */
    size_t supers;
    const int *super, *start, *row_of;
};
int frontal_new(struct frontal **out, const struct frontal_pattern *pattern, struct error *err);
void frontal_free(struct frontal *f); /* NULL is fine */

/* Factors the values [p[n]]. 1: positive definite; 0: not, or not finite. */
int frontal_factor(struct frontal *f, const double *values);
/* x = K^-1 b by the last factor that went; both [n], may be the same. */
void frontal_solve(struct frontal *f, const double *b, double *x);

#endif
