#include "num/shares.h"

#include "base/mem.h"
#include "num/weighted.h"

#include <gsl/gsl_cdf.h>
#include <lapacke.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct item {
    double x, y, w;
    size_t at;
};

static int by_x(const void *a, const void *b) {
    const struct item *p = a, *q = b;
    return p->x != q->x ? (p->x > q->x) - (p->x < q->x) : (p->at > q->at) - (p->at < q->at);
}

static size_t few_values(const struct item *v, size_t n) {
    size_t k = n > 0;
    for (size_t i = 1; i < n && k <= NUM_VALUES + 1; i++)
        k += v[i].x != v[i - 1].x;
    return k;
}

/* Adjusted share of the variance between groups of rows along x. v is sorted. */
static double between_share(const struct item *v, size_t n) {
    double total = 0, squares = 0, mean = 0, variance = 0, between = 0;
    for (size_t i = 0; i < n; i++) {
        total += v[i].w;
        squares += v[i].w * v[i].w;
        mean += v[i].w * v[i].y;
    }
    if (!(total > 0)) return NAN;
    mean /= total;
    for (size_t i = 0; i < n; i++)
        variance += v[i].w * (v[i].y - mean) * (v[i].y - mean);
    if (!(variance > 0)) return NAN;
    double effective = total * total / squares;
    size_t values = few_values(v, n), groups = values;
    if (values > NUM_VALUES) groups = (size_t)fmax(4, floor(cbrt(effective)));
    double group_w = 0, group_y = 0, done = 0;
    size_t used = 0;
    for (size_t i = 0; i < n; i++) {
        group_w += v[i].w;
        group_y += v[i].w * v[i].y;
        bool last = i + 1 == n, ends;
        if (values <= NUM_VALUES)
            ends = last || v[i + 1].x != v[i].x;
        else /* equal values stay together */
            ends = last || (done + group_w >= total * (double)(used + 1) / (double)groups &&
                            v[i + 1].x != v[i].x);
        if (!ends) continue;
        if (group_w > 0) {
            double d = group_y / group_w - mean;
            between += group_w * d * d;
            used++;
        }
        done += group_w;
        group_w = group_y = 0;
    }
    double share = between / variance;
    if (effective <= (double)used) return NAN;
    return 1 - (1 - share) * (effective - 1) / (effective - (double)used);
}

int num_main_effect(double *out, double *se, const double *x, const double *y, const double *weight,
                    size_t n, struct error *err) {
    struct item *v = MEM_NEW(struct item, n + 1), *half = MEM_NEW(struct item, n + 1);
    int rc = v && half ? 0 : fail_memory(err);
    size_t k = 0;
    for (size_t i = 0; !rc && i < n; i++) {
        double w = weight ? weight[i] : 1;
        if (isnan(x[i]) || isnan(y[i]) || !(w > 0)) continue;
        v[k++] = (struct item){x[i], y[i], w, i};
    }
    if (!rc) {
        double part[2];
        for (size_t h = 0; h < 2; h++) {
            size_t m = 0;
            for (size_t i = h; i < k; i += 2)
                half[m++] = v[i];
            qsort(half, m, sizeof *half, by_x);
            part[h] = between_share(half, m);
        }
        qsort(v, k, sizeof *v, by_x);
        *out = fmin(1, fmax(0, between_share(v, k)));
        /* Halves differ by sqrt 2 of a half's error, which is sqrt 2 of the whole's. */
        if (se) *se = fabs(part[0] - part[1]) / 2;
        if (isnan(*out))
            rc = fail(err, ERR_RANGE, "Choose a result that varies.",
                      "The result does not vary over the rows.");
    }
    mem_free(v);
    mem_free(half);
    return rc;
}

/* ---- Shapley -------------------------------------------------------------------------------- */

/* The regression's columns: each knows which groups must be in a set for it to count. */
struct design {
    size_t n, m;
    double *f; /* [m][n] column by column, weighted root, centred */
    unsigned need[NUM_SHARE_FEATURES];
    double *gram;  /* [m][m] */
    double *right; /* [m] */
    double total, effective;
};

/* Normal scores of a column by weighted rank; ties share the middle. */
static int scores(const double *x, const double *w, size_t n, double *z, struct error *err) {
    struct item *v = MEM_NEW(struct item, n);
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        v[i] = (struct item){isnan(x[i]) ? 0 : x[i], 0, w[i], i};
    qsort(v, n, sizeof *v, by_x);
    double below = 0;
    for (size_t i = 0; i < n;) {
        size_t j = i;
        double here = 0;
        while (j < n && v[j].x == v[i].x)
            here += v[j++].w;
        double p = fmin(fmax(below + here / 2, 1e-9), 1 - 1e-9); /* w sums to one */
        for (size_t k = i; k < j; k++)
            z[v[k].at] = gsl_cdf_ugaussian_Pinv(p);
        below += here;
        i = j;
    }
    mem_free(v);
    return 0;
}

static void add_feature(struct design *d, const double *v, const double *w, unsigned need) {
    double *to = d->f + d->m * d->n, mean = 0;
    for (size_t i = 0; i < d->n; i++)
        mean += w[i] * v[i];
    double size = 0;
    for (size_t i = 0; i < d->n; i++) {
        to[i] = sqrt(w[i]) * (v[i] - mean);
        size += to[i] * to[i];
    }
    if (!(size > 1e-14)) return; /* it does not vary */
    for (size_t i = 0; i < d->n; i++)
        to[i] /= sqrt(size);
    d->need[d->m++] = need;
}

/* Rivals enter as one indicator a value (but one), other columns by score and its square. */
static int column_features(struct design *d, const struct num_rows *rows, size_t col,
                           unsigned group, const double *w, double *z, double *scratch,
                           struct error *err) {
    const double *x = num_rows_values(rows, col);
    double value[NUM_VALUES + 1];
    size_t k = 0;
    for (size_t i = 0; i < d->n && k <= NUM_VALUES; i++) {
        size_t j = 0;
        while (j < k && value[j] != x[i])
            j++;
        if (j == k) value[k++] = x[i];
    }
    int rc = scores(x, w, d->n, z, err);
    if (rc) return rc;
    if (k <= NUM_VALUES) {
        for (size_t j = 1; j < k; j++) {
            for (size_t i = 0; i < d->n; i++)
                scratch[i] = x[i] == value[j];
            add_feature(d, scratch, w, group);
        }
        return 0;
    }
    add_feature(d, z, w, group);
    for (size_t i = 0; i < d->n; i++)
        scratch[i] = z[i] * z[i];
    add_feature(d, scratch, w, group);
    for (size_t i = 0; i < d->n; i++)
        scratch[i] = z[i] * z[i] * z[i];
    add_feature(d, scratch, w, group);
    return 0;
}

/* Adjusted share of the variance explained by the features whose groups are all in the set. */
static double explained(const struct design *d, unsigned set, double *a, double *b) {
    size_t m = 0, pick[NUM_SHARE_FEATURES];
    for (size_t k = 0; k < d->m; k++)
        if ((d->need[k] & ~set) == 0) pick[m++] = k;
    if (m == 0) return 0;
    for (size_t i = 0; i < m; i++) {
        b[i] = d->right[pick[i]];
        for (size_t j = 0; j < m; j++)
            a[i * m + j] = d->gram[pick[i] * d->m + pick[j]] + (i == j ? 1e-8 : 0);
    }
    lapack_int lm = (lapack_int)m;
    if (LAPACKE_dposv(LAPACK_ROW_MAJOR, 'L', lm, 1, a, lm, b, 1) != 0) return NAN;
    double sum = 0;
    for (size_t i = 0; i < m; i++)
        sum += b[i] * d->right[pick[i]];
    double share = sum / d->total, free = d->effective - 1 - (double)m;
    return free > 0 ? 1 - (1 - share) * (d->effective - 1) / free : NAN;
}

static int build(struct design *d, struct num_shares *out, const struct num_rows *rows, size_t y,
                 const struct num_share_group *groups, size_t n_groups, const double *w,
                 struct error *err) {
    size_t n = d->n, cols = 0, used = 0;
    for (size_t g = 0; g < n_groups; g++)
        cols += groups[g].n_cols;
    size_t simple = cols * (NUM_VALUES > 3 ? NUM_VALUES - 1 : 3);
    if (simple > NUM_SHARE_FEATURES)
        return fail(err, ERR_RANGE, "Share over fewer columns.", "%zu columns; at most %d.", cols,
                    NUM_SHARE_FEATURES / (NUM_VALUES - 1));
    double *z = MEM_NEW(double, (cols + 1) * n), *scratch = MEM_NEW(double, n);
    unsigned *group_of = MEM_NEW(unsigned, cols + 1);
    int rc = z && scratch && group_of ? 0 : fail_memory(err);
    for (size_t g = 0; !rc && g < n_groups; g++)
        for (size_t k = 0; !rc && k < groups[g].n_cols; k++, used++) {
            group_of[used] = 1u << g;
            rc =
                column_features(d, rows, groups[g].cols[k], 1u << g, w, z + used * n, scratch, err);
        }
    out->crossed = d->m + cols * (cols - 1) / 2 <= NUM_SHARE_FEATURES;
    for (size_t a = 0; !rc && out->crossed && a < cols; a++)
        for (size_t b = 0; b < a; b++) {
            for (size_t i = 0; i < n; i++)
                scratch[i] = z[a * n + i] * z[b * n + i];
            add_feature(d, scratch, w, group_of[a] | group_of[b]);
        }
    d->gram = MEM_NEW(double, d->m * d->m + 1);
    d->right = MEM_NEW(double, d->m + 1);
    if (!rc && (!d->gram || !d->right)) rc = fail_memory(err);
    if (!rc) {
        const double *v = num_rows_values(rows, y);
        double mean = num_mean(v, w, n);
        for (size_t i = 0; i < n; i++) {
            scratch[i] = sqrt(w[i]) * (isnan(v[i]) ? 0 : v[i] - mean);
            d->total += scratch[i] * scratch[i];
        }
        for (size_t a = 0; a < d->m; a++) {
            for (size_t i = 0; i < n; i++)
                d->right[a] += d->f[a * n + i] * scratch[i];
            for (size_t b = 0; b <= a; b++) {
                double sum = 0;
                for (size_t i = 0; i < n; i++)
                    sum += d->f[a * n + i] * d->f[b * n + i];
                d->gram[a * d->m + b] = d->gram[b * d->m + a] = sum;
            }
        }
        if (!(d->total > 0))
            rc = fail(err, ERR_RANGE, "Choose a result that varies.",
                      "\"%.60s\" does not vary over the rows.", num_rows_id(rows, y));
    }
    mem_free(z);
    mem_free(scratch);
    mem_free(group_of);
    return rc;
}

int num_shares(struct num_shares *out, const struct num_rows *rows, size_t y,
               const struct num_share_group *groups, size_t n_groups, struct error *err) {
    memset(out, 0, sizeof *out);
    if (n_groups == 0 || n_groups > NUM_SHARE_GROUPS)
        return fail(err, ERR_RANGE, "Join some groups.", "%zu groups; 1 to %d can be shared over.",
                    n_groups, NUM_SHARE_GROUPS);
    size_t n = num_rows_count(rows), sets = (size_t)1 << n_groups;
    struct design d = {.n = n};
    double *w = MEM_NEW(double, n), *value = MEM_NEW(double, sets);
    d.f = MEM_NEW(double, (NUM_SHARE_FEATURES + 4) * n);
    double *a = MEM_NEW(double, NUM_SHARE_FEATURES *NUM_SHARE_FEATURES);
    double *b = MEM_NEW(double, NUM_SHARE_FEATURES);
    int rc = w && value && d.f && a && b ? 0 : fail_memory(err);
    if (!rc) {
        num_rows_weights(rows, w);
        d.effective = num_effective(w, n);
        rc = build(&d, out, rows, y, groups, n_groups, w, err);
    }
    for (unsigned s = 1; !rc && s < sets; s++) {
        value[s] = explained(&d, s, a, b);
        if (isnan(value[s]))
            rc = fail(err, ERR_SOLVE, "Use more rows or fewer columns.",
                      "%zu features for %.0f effective rows.", d.m, d.effective);
    }
    if (!rc) {
        double factorial[NUM_SHARE_GROUPS + 1] = {1};
        for (size_t k = 1; k <= n_groups; k++)
            factorial[k] = factorial[k - 1] * (double)k;
        for (size_t g = 0; g < n_groups; g++) {
            unsigned bit = 1u << g;
            for (unsigned s = 0; s < sets; s++) {
                if (s & bit) continue;
                size_t size = (size_t)__builtin_popcount(s);
                out->shapley[g] += factorial[size] * factorial[n_groups - size - 1] /
                                   factorial[n_groups] * (value[s | bit] - value[s]);
            }
            out->alone[g] = value[bit];
            out->last[g] = value[sets - 1] - value[(sets - 1) & ~bit];
        }
        out->groups = n_groups;
        out->unexplained = 1 - value[sets - 1];
        out->features = d.m;
    }
    mem_free(w);
    mem_free(value);
    mem_free(d.f);
    mem_free(d.gram);
    mem_free(d.right);
    mem_free(a);
    mem_free(b);
    return rc;
}
