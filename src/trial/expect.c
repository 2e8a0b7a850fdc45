#include "trial/expect.h"

#include "base/parallel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

double trial_reading_sd(double noise, double tree, double discount, double trees, double strips) {
    return sqrt(tree * tree * (1 + 1 / trees) + noise * noise / (trees * strips) +
                discount * discount);
}

struct asker {
    const double *y, *weight; /* [n] foretold outcome, weight */
    const size_t *slice;      /* [n] which T */
    size_t n, outer;
    double sd;
    double *gain, *half_gain; /* [outer] with all inner rows, with half of them */
    const size_t *chosen;     /* [outer] rows that play the truth */
    const double *noise;      /* [outer] standard normal */
};

/* ln of the mean density of value y under the rows that pass, the row itself left out. Two halves
 * of the rows (even, odd) are summed apart. */
static void densities(const struct asker *a, size_t self, double y, bool same, double full[1],
                      double half[2]) {
    double sum[2] = {0, 0}, w[2] = {0, 0};
    for (size_t i = 0; i < a->n; i++) {
        if (i == self || (same && a->slice[i] != a->slice[self])) continue;
        double z = (y - a->y[i]) / a->sd;
        sum[i & 1] += a->weight[i] * exp(-0.5 * z * z);
        w[i & 1] += a->weight[i];
    }
    /* 1e-300: a value no other row can foretell gives -690, not minus infinity */
    full[0] = log((sum[0] + sum[1]) / (w[0] + w[1]) + 1e-300);
    for (int k = 0; k < 2; k++)
        half[k] = w[k] > 0 ? log(sum[k] / w[k] + 1e-300) : full[0];
}

static void ask_some(size_t begin, size_t end, size_t index, void *context) {
    struct asker *a = context;
    (void)index;
    for (size_t k = begin; k < end; k++) {
        size_t i = a->chosen[k];
        double y = a->y[i] + a->sd * a->noise[k], all, all_half[2],
               own = -0.5 * a->noise[k] * a->noise[k];
        double own_half[2] = {own, own};
        densities(a, i, y, false, &all, all_half);
        if (a->slice) densities(a, i, y, true, &own, own_half);
        a->gain[k] = own - all;
        a->half_gain[k] = (own_half[0] - all_half[0] + own_half[1] - all_half[1]) / 2;
    }
}

/* Rows that play the truth: systematic sampling by weight (Kitagawa 1996), and their errors:
 * evenly spread normal scores in a fixed random order. */
static int choose(struct asker *a, struct arena *arena) {
    size_t *chosen = ARENA_NEW(arena, size_t, a->outer);
    double *noise = ARENA_NEW(arena, double, a->outer);
    size_t *order = ARENA_NEW(arena, size_t, a->outer);
    if (!chosen || !noise || !order) return ERR_MEMORY;
    double total = 0, run = 0;
    for (size_t i = 0; i < a->n; i++)
        total += a->weight[i];
    struct num_random r;
    num_random_begin(&r, 1, num_hash("trial.expect"), a->outer);
    num_random_permutation(&r, order, a->outer);
    size_t i = 0;
    for (size_t k = 0; k < a->outer; k++) {
        double at = ((double)k + 0.5) / (double)a->outer * total;
        while (i + 1 < a->n && run + a->weight[i] < at)
            run += a->weight[i++];
        chosen[k] = i;
        struct num_dist z = num_dist_normal(0, 1);
        noise[k] = num_dist_quantile(&z, ((double)order[k] + 0.5) / (double)a->outer);
    }
    a->chosen = chosen;
    a->noise = noise;
    return 0;
}

static int ask(struct expect_info *out, struct asker *a, struct arena *arena, struct error *err) {
    a->outer = a->n < EXPECT_OUTER ? a->n : EXPECT_OUTER;
    a->gain = ARENA_NEW(arena, double, a->outer);
    a->half_gain = ARENA_NEW(arena, double, a->outer);
    if (!a->gain || !a->half_gain || choose(a, arena)) return fail_memory(err);
    parallel_for(a->outer, 16, ask_some, a);
    double sum = 0, half = 0, square = 0;
    for (size_t k = 0; k < a->outer; k++) {
        sum += a->gain[k];
        half += a->half_gain[k];
    }
    out->raw = sum / (double)a->outer;
    out->nats = 2 * out->raw - half / (double)a->outer;
    for (size_t k = 0; k < a->outer; k++) {
        double v = 2 * a->gain[k] - a->half_gain[k] - out->nats;
        square += v * v;
    }
    out->error = sqrt(square / (double)(a->outer - 1) / (double)a->outer);
    out->bias = out->raw - out->nats;
    if (out->nats < 0)
        out->nats = 0; /* information cannot be negative; the error says how far off */
    return 0;
}

struct ranked {
    double v;
    size_t i;
};

static int by_value(const void *a, const void *b) {
    const struct ranked *x = a, *y = b;
    if (x->v != y->v) return x->v < y->v ? -1 : 1;
    return x->i < y->i ? -1 : x->i > y->i;
}

/* Slices of equal weight for a number; one slice a value for a rival. */
static int slice(size_t *out, const double *t, const double *weight, size_t n, bool rival,
                 size_t *least, struct arena *arena) {
    struct ranked *r = ARENA_NEW(arena, struct ranked, n);
    size_t *count = ARENA_NEW(arena, size_t, n + EXPECT_SLICES + 1);
    if (!r || !count) return ERR_MEMORY;
    double total = 0, run = 0;
    for (size_t i = 0; i < n; i++) {
        r[i] = (struct ranked){t[i], i};
        total += weight[i];
    }
    qsort(r, n, sizeof *r, by_value);
    size_t s = 0;
    for (size_t k = 0; k < n; k++) {
        if (rival && k > 0 && r[k].v != r[k - 1].v) s++;
        if (!rival) s = (size_t)fmin(EXPECT_SLICES - 1, floor(run / total * EXPECT_SLICES));
        run += weight[r[k].i];
        out[r[k].i] = s;
        count[s]++;
    }
    *least = n;
    for (size_t k = 0; k <= s; k++)
        if (count[k] && count[k] < *least) *least = count[k];
    return 0;
}

/* Leaves out rows with NAN or no weight. */
static int clean(double **y, double **t, double **w, size_t *n, const double *outcome,
                 const double *statement, const double *weight, struct arena *arena) {
    size_t m = 0, all = *n;
    *y = ARENA_NEW(arena, double, all);
    *t = ARENA_NEW(arena, double, all);
    *w = ARENA_NEW(arena, double, all);
    if (!*y || !*t || !*w) return ERR_MEMORY;
    for (size_t i = 0; i < all; i++) {
        if (isnan(outcome[i]) || (statement && isnan(statement[i])) || !(weight[i] > 0)) continue;
        (*y)[m] = outcome[i];
        (*t)[m] = statement ? statement[i] : 0;
        (*w)[m++] = weight[i];
    }
    *n = m;
    return 0;
}

static int check_input(size_t n, double sd, struct error *err) {
    if (!(sd > 0))
        return fail(err, ERR_RANGE, "Say how well it can be measured.",
                    "An error of %g; it must be above 0.", sd);
    if (n < 64)
        return fail(err, ERR_MISSING, "Compute the steps before.",
                    "Only %zu possible originals foretell the outcome; 64 are needed.", n);
    return 0;
}

int trial_expect(struct expect_info *out, const double *outcome, const double *statement,
                 const double *weight, size_t n, double sd, bool rival, struct arena *arena,
                 struct error *err) {
    *out = (struct expect_info){0};
    double *y, *t, *w;
    if (clean(&y, &t, &w, &n, outcome, statement, weight, arena)) return fail_memory(err);
    int rc = check_input(n, sd, err);
    if (rc) return rc;
    size_t *s = ARENA_NEW(arena, size_t, n);
    if (!s || slice(s, t, w, n, rival, &out->inner, arena)) return fail_memory(err);
    struct asker a = {.y = y, .weight = w, .slice = s, .n = n, .sd = sd};
    return ask(out, &a, arena, err);
}

int trial_expect_all(struct expect_info *out, const double *outcome, const double *weight, size_t n,
                     double sd, struct arena *arena, struct error *err) {
    *out = (struct expect_info){0};
    double *y, *t, *w;
    if (clean(&y, &t, &w, &n, outcome, NULL, weight, arena)) return fail_memory(err);
    int rc = check_input(n, sd, err);
    if (rc) return rc;
    out->inner = n;
    struct asker a = {.y = y, .weight = w, .n = n, .sd = sd};
    return ask(out, &a, arena, err);
}
