#include "num/dense.h"

#include "num/four.h"

#include <math.h>
#include <string.h>

#define ALWAYS static inline __attribute__((always_inline))

enum { BLOCK = 4 };

/* Products of one row with four others over k numbers. */
ALWAYS void dots(double out[BLOCK], const double *row, const double *const other[BLOCK], size_t k) {
    num_four sum[BLOCK] = {{0}};
    size_t i = 0;
    for (; i + 4 <= k; i += 4) {
        num_four r = NUM_FOUR(row + i);
        for (int b = 0; b < BLOCK; b++)
            sum[b] += r * NUM_FOUR(other[b] + i);
    }
    for (int b = 0; b < BLOCK; b++) {
        out[b] = num_four_sum(&sum[b]);
        for (size_t j = i; j < k; j++)
            out[b] += row[j] * other[b][j];
    }
}

/* Rows in turn; columns of a row four at a time, those before the four by products. */
ALWAYS bool factor_any(double *a, size_t n) {
    for (size_t i = 0; i < n; i++) {
        double *row = a + i * n;
        for (size_t j = 0; j <= i; j += BLOCK) {
            size_t wide = j + BLOCK <= i + 1 ? BLOCK : i + 1 - j;
            const double *other[BLOCK];
            double sum[BLOCK];
            for (size_t b = 0; b < BLOCK; b++)
                other[b] = a + (b < wide ? j + b : j) * n;
            dots(sum, row, other, j);
            for (size_t b = 0; b < wide; b++) {
                double v = row[j + b] - sum[b];
                for (size_t k = j; k < j + b; k++)
                    v -= row[k] * other[b][k];
                if (j + b < i) {
                    row[j + b] = v / other[b][j + b];
                } else {
                    if (!(v > 0)) return false;
                    row[j + b] = sqrt(v);
                }
            }
        }
    }
    return true;
}

/* to[0..m) += w[b] from[b][0..m) */
ALWAYS void add_rows(double *to, const double w[BLOCK], const double *const from[BLOCK], size_t m) {
    size_t j = 0;
    for (; j + 4 <= m; j += 4) {
        num_four t = NUM_FOUR(to + j);
        for (int b = 0; b < BLOCK; b++)
            t += w[b] * NUM_FOUR(from[b] + j);
        *(num_four *)(to + j) = t;
    }
    for (; j < m; j++)
        for (int b = 0; b < BLOCK; b++)
            to[j] += w[b] * from[b][j];
}

/* Rows k to k + 3 of a lower triangle, those past the end as nothing; rows are full of zeros beyond
 * the diagonal. */
ALWAYS void take_rows(const double *from[BLOCK], double w[BLOCK], const double *m, size_t n,
                      size_t k, size_t end, const double *weight, size_t step, double sign) {
    for (size_t b = 0; b < BLOCK; b++) {
        from[b] = m + (k + b < end ? k + b : k) * n;
        w[b] = k + b < end ? sign * weight[(k + b) * step] : 0;
    }
}

ALWAYS void inverse_any(double *out, const double *l, double *z, size_t n) {
    const double *from[BLOCK];
    double w[BLOCK];
    memset(z, 0, n * n * sizeof *z);
    memset(out, 0, n * n * sizeof *out);
    for (size_t i = 0; i < n; i++) { /* z = L^-1, row by row */
        for (size_t k = 0; k < i; k += BLOCK) {
            take_rows(from, w, z, n, k, i, l + i * n, 1, -1);
            add_rows(z + i * n, w, from, k + BLOCK < i ? k + BLOCK : i);
        }
        double d = 1 / l[i * n + i];
        for (size_t j = 0; j < i; j++)
            z[i * n + j] *= d;
        z[i * n + i] = d;
    }
    for (size_t k = 0; k < n; k += BLOCK) { /* z' z */
        size_t end = k + BLOCK < n ? k + BLOCK : n;
        for (size_t i = 0; i < end; i++) {
            take_rows(from, w, z, n, k, end, z + i, n, 1);
            add_rows(out + i * n, w, from, i + 1);
        }
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            out[j * n + i] = out[i * n + j];
}

#ifdef __x86_64__
__attribute__((target("avx2"))) static bool factor_wide(double *a, size_t n) {
    return factor_any(a, n);
}
__attribute__((target("avx2"))) static void inverse_wide(double *out, const double *l, double *z,
                                                         size_t n) {
    inverse_any(out, l, z, n);
}
#endif

bool num_dense_factor(double *a, size_t n) {
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2")) return factor_wide(a, n);
#endif
    return factor_any(a, n);
}

void num_dense_inverse(double *out, const double *l, double *scratch, size_t n) {
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2")) {
        inverse_wide(out, l, scratch, n);
        return;
    }
#endif
    inverse_any(out, l, scratch, n);
}

void num_dense_forward(const double *l, double *x, size_t n) {
    for (size_t i = 0; i < n; i++) {
        const double *row = l + i * n;
        num_four sum = {0};
        size_t k = 0;
        for (; k + 4 <= i; k += 4)
            sum += NUM_FOUR(row + k) * NUM_FOUR(x + k);
        x[i] -= num_four_sum(&sum);
        for (; k < i; k++)
            x[i] -= row[k] * x[k];
        x[i] /= row[i];
    }
}

void num_dense_solve(const double *l, double *x, size_t n) {
    num_dense_forward(l, x, n);
    for (size_t i = n; i-- > 0;) {
        x[i] /= l[i * n + i];
        for (size_t k = 0; k < i; k++)
            x[k] -= l[i * n + k] * x[i];
    }
}
