#include "num/propagate.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/weighted.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

enum { BATCH = 10000, LEAST_BATCHES = 10, MOST_BATCHES = 200, MOST_INPUTS = 40 };

struct run {
    const struct num_formula *f;
    const struct num_dist *inputs;
    size_t n;
    const double *chol; /* [n][n] or NULL */
    uint64_t seed;
    double level;
    double *value;   /* [batches][BATCH] */
    double *summary; /* [batches][4]: mean, u, low, high */
    int failed;
};

static void draw(const struct run *r, struct num_random *random, double *x) {
    double z[MOST_INPUTS];
    if (!r->chol) {
        for (size_t i = 0; i < r->n; i++)
            x[i] = num_dist_sample(&r->inputs[i], random);
        return;
    }
    for (size_t i = 0; i < r->n; i++)
        z[i] = num_random_normal(random);
    for (size_t i = 0; i < r->n; i++) {
        double sum = 0;
        for (size_t k = 0; k <= i; k++)
            sum += r->chol[i * r->n + k] * z[k];
        x[i] = num_dist_from_score(&r->inputs[i], sum);
    }
}

static void run_batch(size_t begin, size_t end, size_t index, void *context) {
    struct run *r = context;
    (void)index;
    for (size_t b = begin; b < end; b++) {
        double *v = r->value + b * BATCH, *s = r->summary + b * 4, x[MOST_INPUTS];
        struct num_random random;
        num_random_begin(&random, r->seed, num_hash("propagate"), b);
        for (size_t i = 0; i < BATCH; i++) {
            draw(r, &random, x);
            v[i] = num_formula_value(r->f, x);
            if (!isfinite(v[i])) v[i] = NAN;
        }
        double p[2] = {0.5 - r->level / 2, 0.5 + r->level / 2};
        s[0] = num_mean(v, NULL, BATCH);
        s[1] = num_sd(v, NULL, BATCH) * sqrt(BATCH / (BATCH - 1.0));
        if (num_quantiles(v, NULL, BATCH, p, 2, s + 2, NULL)) r->failed = 1;
    }
}

/* Standard error over batches of one of the four summaries. */
static double batch_error(const struct run *r, size_t batches, size_t which) {
    double sum = 0, squares = 0, first = r->summary[which];
    for (size_t b = 0; b < batches; b++) {
        double d = r->summary[b * 4 + which] - first;
        sum += d;
        squares += d * d;
    }
    double n = (double)batches, variance = (squares - sum * sum / n) / (n - 1);
    return sqrt(fmax(0, variance) / n);
}

/* Half a unit in the last of `digits` significant digits of u: JCGM 101, 7.9.2. */
static double tolerance(double u, int digits) {
    return u > 0 ? 0.5 * pow(10, floor(log10(u)) + 1 - digits) : 0;
}

static int factor(double *chol, const double *correlation, size_t n, struct error *err) {
    memcpy(chol, correlation, n * n * sizeof *chol);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++)
            if (correlation[i * n + k] != correlation[k * n + i] ||
                (i == k && correlation[i * n + k] != 1) || fabs(correlation[i * n + k]) > 1)
                return fail(err, ERR_RANGE, "Give numbers from -1 to 1, the same both ways.",
                            "Correlation of inputs %zu and %zu: %g.", i + 1, k + 1,
                            correlation[i * n + k]);
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', (lapack_int)n, chol, (lapack_int)n) != 0)
        return fail(err, ERR_RANGE, "Look at them together: three cannot all be strongly opposed.",
                    "The correlations do not fit together.");
    return 0;
}

static void first_order(struct num_propagated *out, const struct run *r,
                        const double *correlation) {
    double x[MOST_INPUTS], u[MOST_INPUTS], c[MOST_INPUTS], sum = 0;
    for (size_t i = 0; i < r->n; i++) {
        x[i] = num_dist_mean(&r->inputs[i]);
        u[i] = num_dist_sd(&r->inputs[i]);
    }
    for (size_t i = 0; i < r->n; i += NUM_FORMULA_SLOPES) {
        size_t by[NUM_FORMULA_SLOPES], m = 0;
        while (m < NUM_FORMULA_SLOPES && i + m < r->n) {
            by[m] = i + m;
            m++;
        }
        out->first_order_value = num_formula_slopes(r->f, x, by, m, c + i);
    }
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->n; k++)
            sum += c[i] * u[i] * c[k] * u[k] * (correlation ? correlation[i * r->n + k] : i == k);
    out->first_order_u = sqrt(sum);
}

static int summarise(struct num_propagated *out, const struct run *r, size_t batches,
                     struct error *err) {
    size_t n = batches * BATCH;
    double p[3] = {0.5 - r->level / 2, 0.5, 0.5 + r->level / 2}, q[3];
    for (size_t i = 0; i < n; i++)
        out->impossible += isnan(r->value[i]);
    if (out->impossible * 1000 > n)
        return fail(err, ERR_SOLVE, "Cut the inputs so that the formula always has a value.",
                    "%zu of %zu draws give no number (a root or logarithm of something negative, "
                    "or a division by 0).",
                    out->impossible, n);
    out->draws = n;
    out->mean = num_mean(r->value, NULL, n);
    out->u = num_sd(r->value, NULL, n) * sqrt((double)n / ((double)n - 1));
    int rc = num_quantiles(r->value, NULL, n, p, 3, q, err);
    if (!rc)
        rc =
            num_shortest(r->value, NULL, n, r->level, &out->shortest_low, &out->shortest_high, err);
    out->low = q[0];
    out->median = q[1];
    out->high = q[2];
    out->mean_error = batch_error(r, batches, 0);
    out->u_error = batch_error(r, batches, 1);
    out->low_error = batch_error(r, batches, 2);
    out->high_error = batch_error(r, batches, 3);
    return rc;
}

int num_propagate(struct num_propagated *out, const struct num_formula *f,
                  const struct num_dist *inputs, size_t n, const struct num_propagate_options *o,
                  struct error *err) {
    memset(out, 0, sizeof *out);
    if (n == 0 || n > MOST_INPUTS)
        return fail(err, ERR_RANGE, NULL, "%zu inputs; 1 to %d can be propagated.", n, MOST_INPUTS);
    size_t most = o->most_batches ? o->most_batches : MOST_BATCHES, batches = 0;
    if (most < LEAST_BATCHES) most = LEAST_BATCHES;
    double chol[MOST_INPUTS * MOST_INPUTS];
    struct run r = {
        .f = f, .inputs = inputs, .n = n, .seed = o->seed, .level = o->level > 0 ? o->level : 0.95};
    int rc = o->correlation ? factor(chol, o->correlation, n, err) : 0;
    if (rc) return rc;
    if (o->correlation) r.chol = chol;
    r.value = MEM_NEW(double, most *BATCH);
    r.summary = MEM_NEW(double, most * 4);
    if (!r.value || !r.summary) rc = fail_memory(err);
    while (!rc && batches < most && !out->settled) {
        /* Ten at a time: enough for both cores, and the rule looks at whole tens. */
        struct run part = r;
        size_t more = most - batches < LEAST_BATCHES ? most - batches : LEAST_BATCHES;
        part.value = r.value + batches * BATCH;
        part.summary = r.summary + batches * 4;
        part.seed = num_hash_join(o->seed, batches);
        parallel_for(more, 1, run_batch, &part);
        if (part.failed) rc = fail_memory(err);
        batches += more;
        double u = 0, worst = 0;
        for (size_t b = 0; b < batches; b++)
            u += r.summary[b * 4 + 1] / (double)batches;
        for (size_t k = 0; k < 4; k++)
            worst = fmax(worst, 2 * batch_error(&r, batches, k));
        out->settled = worst <= tolerance(u, o->digits ? o->digits : 2);
    }
    if (!rc) rc = summarise(out, &r, batches, err);
    if (!rc) first_order(out, &r, o->correlation);
    mem_free(r.value);
    mem_free(r.summary);
    return rc;
}
