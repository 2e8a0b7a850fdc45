#include "num/sensitivity.h"

#include "base/mem.h"
#include "base/parallel.h"

#include <gsl/gsl_qrng.h>
#include <math.h>
#include <string.h>

int num_design(double *u, size_t n, size_t d, uint64_t seed, struct error *err) {
    double shift[40];
    if (d == 0 || d > 40)
        return fail(err, ERR_RANGE, "Fix some inputs.", "%zu inputs; the sequence has 40.", d);
    gsl_qrng *q = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)d);
    if (!q) return fail_memory(err);
    struct num_random r;
    num_random_begin(&r, seed, num_hash("design"), 0);
    for (size_t k = 0; k < d; k++)
        shift[k] = num_random_uniform(&r);
    for (size_t k = 0; k < d; k++)
        u[k] = shift[k]; /* the origin, which the generator leaves out */
    for (size_t i = 1; i < n; i++) {
        gsl_qrng_get(q, u + i * d);
        for (size_t k = 0; k < d; k++) {
            double v = u[i * d + k] + shift[k];
            u[i * d + k] = v >= 1 ? v - 1 : v;
        }
    }
    gsl_qrng_free(q);
    return 0;
}

struct runs {
    num_model_fn *fn;
    void *ctx;
    const struct num_dist *inputs;
    size_t d, points;
    const double *u; /* [points][2 d] */
    double *f;       /* [points][d + 2]: A, B, AB_1 ... */
};

static double quantile(const struct num_dist *d, double u) {
    const double edge = 0x1p-54; /* a shifted point may land on 0 */
    return num_dist_quantile(d, u < edge ? edge : u);
}

static void run_points(size_t begin, size_t end, size_t index, void *context) {
    struct runs *r = context;
    size_t d = r->d;
    double a[NUM_SENSITIVITY_INPUTS], b[NUM_SENSITIVITY_INPUTS];
    (void)index;
    for (size_t i = begin; i < end; i++) {
        double *f = r->f + i * (d + 2);
        for (size_t k = 0; k < d; k++) {
            a[k] = quantile(&r->inputs[k], r->u[i * 2 * d + k]);
            b[k] = quantile(&r->inputs[k], r->u[i * 2 * d + d + k]);
        }
        f[0] = r->fn(a, r->ctx);
        f[1] = r->fn(b, r->ctx);
        for (size_t k = 0; k < d; k++) {
            double keep = a[k];
            a[k] = b[k];
            f[2 + k] = r->fn(a, r->ctx);
            a[k] = keep;
        }
    }
}

static void add_value(double *sum, double *squares, double v) {
    *sum += v;
    *squares += v * v;
}

static double spread(double sum, double squares, size_t n) {
    double m = sum / (double)n;
    return sqrt(fmax(0, squares / (double)n - m * m) / (double)(n - 1));
}

int num_sensitivity(struct num_sensitivity *out, num_model_fn *fn, void *ctx,
                    const struct num_dist *inputs, size_t d, size_t points, size_t shifts,
                    uint64_t seed, struct error *err) {
    memset(out, 0, sizeof *out);
    if (d == 0 || d > NUM_SENSITIVITY_INPUTS || points < 8 || points > 1u << 20 || shifts < 2 ||
        shifts > 1000)
        return fail(err, ERR_RANGE, "Use 1 to 20 inputs, 8 points or more and 2 shifts or more.",
                    "%zu inputs, %zu points, %zu shifts.", d, points, shifts);
    double *u = MEM_NEW(double, points * 2 * d), *f = MEM_NEW(double, points *(d + 2));
    double s1[NUM_SENSITIVITY_INPUTS] = {0}, q1[NUM_SENSITIVITY_INPUTS] = {0};
    double s2[NUM_SENSITIVITY_INPUTS] = {0}, q2[NUM_SENSITIVITY_INPUTS] = {0};
    int rc = u && f ? 0 : fail_memory(err);
    for (size_t s = 0; !rc && s < shifts; s++) {
        rc = num_design(u, points, 2 * d, num_hash_join(seed, s), err);
        struct runs r = {fn, ctx, inputs, d, points, u, f};
        if (!rc) parallel_for(points, 64, run_points, &r);
        double mean = 0, variance = 0;
        for (size_t i = 0; !rc && i < points; i++)
            mean += (f[i * (d + 2)] + f[i * (d + 2) + 1]) / 2 / (double)points;
        for (size_t i = 0; !rc && i < points; i++)
            for (size_t k = 0; k < 2; k++)
                variance +=
                    (f[i * (d + 2) + k] - mean) * (f[i * (d + 2) + k] - mean) / 2 / (double)points;
        if (!rc && !(variance > 0 && isfinite(variance)))
            rc = fail(err, ERR_RANGE, "Look at the formula and the inputs.",
                      "The result does not vary, or is not a number somewhere.");
        for (size_t k = 0; !rc && k < d; k++) {
            double first = 0, total = 0;
            for (size_t i = 0; i < points; i++) {
                const double *g = f + i * (d + 2);
                /* centred: the mean would only add noise */
                first += (g[1] - mean) * (g[2 + k] - g[0]) / (double)points;
                total += (g[0] - g[2 + k]) * (g[0] - g[2 + k]) / 2 / (double)points;
            }
            add_value(&s1[k], &q1[k], first / variance);
            add_value(&s2[k], &q2[k], total / variance);
        }
        out->mean += mean / (double)shifts;
        out->variance += variance / (double)shifts;
    }
    for (size_t k = 0; k < d; k++) {
        out->first[k] = s1[k] / (double)shifts;
        out->total[k] = s2[k] / (double)shifts;
        out->first_error[k] = spread(s1[k], q1[k], shifts);
        out->total_error[k] = spread(s2[k], q2[k], shifts);
    }
    out->d = d;
    out->runs = points * shifts * (d + 2);
    mem_free(u);
    mem_free(f);
    return rc;
}
