/* dense: symmetric positive matrices of some hundred rows, without a library.
 *
 * Row-major, flat, lower triangle. The sums go in a fixed order whatever the machine's vectors, so
 * that the bits are the same everywhere a double is; nothing is shared: any number of threads may
 * work on their own matrices. Sources: G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed.
 * 2013, sections 4.2 (Cholesky by rows) and 3.1 (triangles).
 */
#ifndef RELICT_NUM_DENSE_H
#define RELICT_NUM_DENSE_H

#include <stdbool.h>
#include <stddef.h>

/* Factor A = L L' in place: a[n][n], only the lower triangle is read and written. False: not
 * positive. Cost n^3 / 3. */
bool num_dense_factor(double *a, size_t n);

/* Inverse of A from its factor: out[n][n], both triangles; scratch[n][n]. Cost 2 n^3 / 3. */
void num_dense_inverse(double *out, const double *l, double *scratch, size_t n);

/* Solves L x = b in place. */
void num_dense_forward(const double *l, double *x, size_t n);

/* Solves L L' x = b in place. */
void num_dense_solve(const double *l, double *x, size_t n);

#endif
