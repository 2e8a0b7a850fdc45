#include "trial/expect.h"

#include "num/information.h"

#include <math.h>
#include <stdlib.h>

double trial_reading_sd(double noise, double tree, double discount, double trees, double strips) {
    return sqrt(tree * tree * (1 + 1 / trees) + noise * noise / (trees * strips) +
                discount * discount);
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
static int slice(double *out, const double *t, const double *weight, size_t n, bool rival,
                 struct arena *arena) {
    struct ranked *r = ARENA_NEW(arena, struct ranked, n);
    if (!r) return ERR_MEMORY;
    double total = 0, run = 0, s = 0;
    for (size_t i = 0; i < n; i++) {
        r[i] = (struct ranked){t[i], i};
        total += weight[i];
    }
    qsort(r, n, sizeof *r, by_value);
    for (size_t k = 0; k < n; k++) {
        if (rival && k > 0 && r[k].v != r[k - 1].v) s++;
        if (!rival) s = fmin(EXPECT_SLICES - 1, floor(run / total * EXPECT_SLICES));
        run += weight[r[k].i];
        out[r[k].i] = s;
    }
    return 0;
}

/* Leaves out rows with NAN or no weight. */
static int clean(double **y, double **t, double **w, size_t *n, const double *outcome,
                 const double *statement, const double *weight, struct arena *arena) {
    size_t m = 0, all = *n, step = (all + EXPECT_ROWS - 1) / EXPECT_ROWS;
    *y = ARENA_NEW(arena, double, all);
    *t = ARENA_NEW(arena, double, all);
    *w = ARENA_NEW(arena, double, all);
    if (!*y || !*t || !*w) return ERR_MEMORY;
    for (size_t i = 0; i < all; i += step) {
        if (isnan(outcome[i]) || (statement && isnan(statement[i])) || !(weight[i] > 0)) continue;
        (*y)[m] = outcome[i];
        (*t)[m] = statement ? statement[i] : 0;
        (*w)[m++] = weight[i];
    }
    *n = m;
    return 0;
}

static int ask(struct expect_info *out, const double *y, const double *slice, const double *w,
               size_t n, double sd, struct error *err) {
    if (!(sd > 0))
        return fail(err, ERR_RANGE, "Say how well it can be measured.",
                    "An error of %g; it must be above 0.", sd);
    if (n < 100)
        return fail(err, ERR_MISSING, "Compute the steps before.",
                    "Only %zu possible originals foretell the outcome; 100 are needed.", n);
    struct num_information_task task = {.predict = y,
                                        .sd = &sd,
                                        .weight = w,
                                        .question = slice,
                                        .n = n,
                                        .m = 1,
                                        .outer = EXPECT_OUTER,
                                        .seed = 1};
    struct num_information info;
    int rc = num_information(&info, &task, err);
    if (rc) return rc;
    /* information cannot be negative; the error says how far off it may be */
    *out = (struct expect_info){fmax(0, info.gain), info.raw, info.bias, info.error, info.inner};
    return 0;
}

int trial_expect(struct expect_info *out, const double *outcome, const double *statement,
                 const double *weight, size_t n, double sd, bool rival, struct arena *arena,
                 struct error *err) {
    *out = (struct expect_info){0};
    double *y, *t, *w;
    if (clean(&y, &t, &w, &n, outcome, statement, weight, arena)) return fail_memory(err);
    double *s = ARENA_NEW(arena, double, n);
    if (!s || slice(s, t, w, n, rival, arena)) return fail_memory(err);
    return ask(out, y, s, w, n, sd, err);
}

int trial_expect_each(struct expect_info *out, const struct expect_question *question, size_t n_q,
                      const double *outcome, const double *weight, size_t n, double sd,
                      struct arena *arena, struct error *err) {
    const double **class = ARENA_NEW(arena, const double *, n_q);
    size_t *whole = ARENA_NEW(arena, size_t, n_q), shared = 0, rows = n;
    struct num_information *info = ARENA_NEW(arena, struct num_information, n_q);
    double *y, *t, *w;
    if (!class || !whole || !info || clean(&y, &t, &w, &rows, outcome, NULL, weight, arena))
        return fail_memory(err);
    for (size_t q = 0; q < n_q; q++) {
        size_t m = n;
        double *own_y, *own_w, *s;
        if (clean(&own_y, &t, &own_w, &m, outcome, question[q].statement, weight, arena))
            return fail_memory(err);
        if (m != rows) { /* rows without this statement: a table of its own */
            int rc = trial_expect(&out[q], outcome, question[q].statement, weight, n, sd,
                                  question[q].rival, arena, err);
            if (rc) return rc;
            continue;
        }
        s = ARENA_NEW(arena, double, m);
        if (!s || slice(s, t, w, m, question[q].rival, arena)) return fail_memory(err);
        class[shared] = s;
        whole[shared++] = q;
    }
    if (shared == 0) return 0;
    if (!(sd > 0) || rows < 100) /* told as for one */
        return trial_expect(out, outcome, question[0].statement, weight, n, sd, question[0].rival,
                            arena, err);
    struct num_information_task task = {
        .predict = y, .sd = &sd, .weight = w, .n = rows, .m = 1, .outer = EXPECT_OUTER, .seed = 1};
    int rc = num_information_many(info, &task, class, shared, err);
    for (size_t k = 0; k < shared && !rc; k++)
        out[whole[k]] = (struct expect_info){fmax(0, info[k].gain), info[k].raw, info[k].bias,
                                             info[k].error, info[k].inner};
    return rc;
}

int trial_expect_all(struct expect_info *out, const double *outcome, const double *weight, size_t n,
                     double sd, struct arena *arena, struct error *err) {
    *out = (struct expect_info){0};
    double *y, *t, *w;
    if (clean(&y, &t, &w, &n, outcome, NULL, weight, arena)) return fail_memory(err);
    return ask(out, y, NULL, w, n, sd, err);
}
