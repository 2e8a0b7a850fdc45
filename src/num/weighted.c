#include "num/weighted.h"

#include "base/mem.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

struct item {
    double value, weight;
};

static int by_value(const void *a, const void *b) {
    double x = ((const struct item *)a)->value, y = ((const struct item *)b)->value;
    return (x > y) - (x < y);
}

/* Sorted values of weight above 0; *whole: all are whole numbers. NULL when memory is gone. */
static struct item *sorted(const double *value, const double *weight, size_t n, size_t *count,
                           double *sum, bool *whole) {
    struct item *items = MEM_NEW(struct item, n ? n : 1);
    if (!items) return NULL;
    size_t k = 0;
    *whole = true;
    for (size_t i = 0; i < n; i++) {
        double w = weight ? weight[i] : 1;
        if (isnan(value[i]) || !(w > 0)) continue;
        items[k++] = (struct item){value[i], w};
        if (value[i] != floor(value[i])) *whole = false;
    }
    qsort(items, k, sizeof *items, by_value);
    *sum = 0;
    for (size_t i = 0; i < k; i++)
        *sum += items[i].weight;
    *count = k;
    return items;
}

static double step_quantile(const struct item *items, size_t n, double target) {
    double below = 0;
    /* The last place of the sum may differ from the sum of the places: a hair's tolerance. */
    for (size_t i = 0; i < n; i++) {
        below += items[i].weight;
        if (below >= target * (1 - 1e-12)) return items[i].value;
    }
    return items[n - 1].value;
}

static double line_quantile(const struct item *items, size_t n, double target) {
    double below = 0, last = -1;
    for (size_t i = 0; i < n; i++) {
        double here = below + items[i].weight / 2;
        if (target <= here) {
            if (i == 0) return items[0].value;
            double t = (target - last) / (here - last);
            return items[i - 1].value + t * (items[i].value - items[i - 1].value);
        }
        last = here;
        below += items[i].weight;
    }
    return items[n - 1].value;
}

int num_quantiles(const double *value, const double *weight, size_t n, const double *p, size_t n_p,
                  double *q, struct error *err) {
    size_t count;
    double sum;
    bool whole;
    struct item *items = sorted(value, weight, n, &count, &sum, &whole);
    if (!items) return fail_memory(err);
    for (size_t i = 0; i < n_p; i++)
        q[i] = count == 0 ? NAN
               : whole    ? step_quantile(items, count, p[i] * sum)
                          : line_quantile(items, count, p[i] * sum);
    mem_free(items);
    return 0;
}

double num_mean(const double *value, const double *weight, size_t n) {
    double sum = 0, w = 0, first = NAN;
    /* Differences from the first value: large common parts do not eat digits. */
    for (size_t i = 0; i < n; i++) {
        double wi = weight ? weight[i] : 1;
        if (isnan(value[i]) || !(wi > 0)) continue;
        if (isnan(first)) first = value[i];
        sum += wi * (value[i] - first);
        w += wi;
    }
    return w > 0 ? first + sum / w : NAN;
}

double num_sd(const double *value, const double *weight, size_t n) {
    double mean = num_mean(value, weight, n), sum = 0, w = 0;
    for (size_t i = 0; i < n; i++) {
        double wi = weight ? weight[i] : 1, d = value[i] - mean;
        if (isnan(value[i]) || !(wi > 0)) continue;
        sum += wi * d * d;
        w += wi;
    }
    return w > 0 ? sqrt(sum / w) : NAN;
}

double num_effective(const double *weight, size_t n) {
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        sum += weight[i];
        squares += weight[i] * weight[i];
    }
    return squares > 0 ? sum * sum / squares : 0;
}

/* End of the interval that begins at item `begin` and holds `want`; `held` and `end` carry over
 * from the begin before. False when there is not enough left. */
static bool fill_interval(const struct item *items, size_t count, double want, size_t *end,
                          double *held) {
    while (*end < count && *held < want)
        *held += items[(*end)++].weight;
    return *held >= want;
}

/* Vertex of the parabola through width against begin over [from, to], by least squares in
 * t = -1 .. 1; `fallback` when it opens downward or lies outside. */
static size_t parabola_vertex(const double *width, size_t from, size_t to, size_t fallback) {
    double s0 = 0, s2 = 0, s4 = 0, b0 = 0, b1 = 0, b2 = 0, half = (double)(to - from) / 2;
    for (size_t i = from; i <= to; i++) {
        double t = ((double)(i - from) - half) / half, w = width[i] - width[from];
        s0 += 1, s2 += t * t, s4 += t * t * t * t;
        b0 += w, b1 += w * t, b2 += w * t * t;
    }
    double a2 = (b2 - b0 * s2 / s0) / (s4 - s2 * s2 / s0), vertex = -(b1 / s2) / (2 * a2);
    if (!(a2 > 0) || !(fabs(vertex) < 1)) return fallback;
    return from + (size_t)(half + vertex * half + 0.5);
}

int num_shortest(const double *value, const double *weight, size_t n, double p, double *low,
                 double *high, struct error *err) {
    enum { SMOOTH = 1000 }; /* from so many values on, the flat minimum is smoothed */
    size_t count, end = 0, best = 0, last = 0;
    double sum, held = 0;
    bool whole;
    *low = *high = NAN;
    struct item *items = sorted(value, weight, n, &count, &sum, &whole);
    double *width = MEM_NEW(double, n + 1);
    size_t *ends = MEM_NEW(size_t, n + 1);
    int rc = items && width && ends ? 0 : fail_memory(err);
    /* The last place of the sum may differ from the sum of the places: a hair's tolerance. */
    double want = p * sum * (1 - 1e-12);
    for (size_t begin = 0; !rc && begin < count; begin++) {
        if (!fill_interval(items, count, want, &end, &held)) break;
        ends[begin] = end - 1;
        width[begin] = items[end - 1].value - items[begin].value;
        if (width[begin] < width[best]) best = begin;
        last = begin;
        held -= items[begin].weight;
    }
    if (!rc && count) {
        size_t from = best, to = best;
        /* The minimum is flat and the least width wanders along it: the middle of all begins
         * within one hundredth of it, by a parabola, wanders less. */
        while (from > 0 && width[from - 1] <= 1.01 * width[best])
            from--;
        while (to < last && width[to + 1] <= 1.01 * width[best])
            to++;
        if (count >= SMOOTH && !whole && to - from > 10)
            best = parabola_vertex(width, from, to, best);
        *low = items[best].value;
        *high = items[ends[best]].value;
    }
    mem_free(items);
    mem_free(width);
    mem_free(ends);
    return rc;
}

double num_log_sum(const double *x, size_t n) {
    double top = -INFINITY, sum = 0;
    for (size_t i = 0; i < n; i++)
        if (x[i] > top) top = x[i];
    if (isinf(top)) return top;
    for (size_t i = 0; i < n; i++)
        sum += exp(x[i] - top);
    return top + log(sum);
}

void num_covariance(const double *const *column, size_t d, const double *weight, size_t n,
                    double *out, double *means) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += weight ? weight[i] : 1;
    for (size_t a = 0; a < d; a++) {
        double ma = num_mean(column[a], weight, n);
        if (means) means[a] = ma;
        for (size_t b = 0; b <= a; b++) {
            double mb = num_mean(column[b], weight, n), s = 0;
            for (size_t i = 0; i < n; i++)
                s += (weight ? weight[i] : 1) * (column[a][i] - ma) * (column[b][i] - mb);
            out[a * d + b] = out[b * d + a] = s / sum;
        }
    }
}
