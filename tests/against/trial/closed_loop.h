/* closed_loop: hide a true object, plan a trial, simulate its outcome with noise, read it back, and
 * so on. Truth and trials are made here, outside the program's own stages, from the same stated
 * errors; what is tested is that planning and reading back use them rightly. */
#ifndef RELICT_TESTS_CLOSED_LOOP_H
#define RELICT_TESTS_CLOSED_LOOP_H

#include "trial/read_back.h"
#include "trial/trial_plan.h"

#include "check.h"
#include "honest.h"

enum { LOOP_CANDIDATES = 8, LOOP_STATEMENTS = 4, LOOP_TREES = 3 };

static const char *const loop_watch[LOOP_STATEMENTS] = {"fresh.width", "fresh.length", "curl",
                                                        "thickness"};

/* Sheet measured 300 x 480 x 2.6 mm; what it was fresh, and how it curls, hang on the roots. */
static double loop_width(const double *row, void *ctx) {
    return 300 / (1 - row[*(size_t *)ctx]);
}
static double loop_length(const double *row, void *ctx) {
    return 480 / (1 - row[*(size_t *)ctx]);
}
static double loop_thickness(const double *row, void *ctx) {
    return 2.6 / (1 - row[*(size_t *)ctx]);
}
static double loop_curl(const double *row, void *ctx) {
    const size_t *c = ctx; /* shrinkage around, set share, 1/m: two layers of about 3 mm */
    return 1000 * 0.4 * row[c[0]] * (1 - 0.8 * row[c[3]]) / 3;
}

struct loop {
    struct num_rows *rows;
    struct arena *arena;
    size_t root[5]; /* around, along, through, set, something else */
    double truth[5], statement[LOOP_STATEMENTS];
    struct candidate candidate[LOOP_CANDIDATES];
};

static const char *const loop_roots[] = {"around", "along", "through", "set", "other"};

static inline void loop_columns(struct loop *l, struct error *err) {
    const struct num_dist prior[] = {num_dist_lognormal(0.08, 0.4), num_dist_lognormal(0.014, 0.4),
                                     num_dist_lognormal(0.18, 0.3), num_dist_beta(5, 2, 0, 1),
                                     num_dist_normal(0, 1)};
    for (int k = 0; k < 5; k++)
        check_ok(num_rows_root(l->rows, loop_roots[k], &prior[k], &l->root[k], err), err);
    size_t c, curl[] = {l->root[0], l->root[3]};
    check_ok(
        num_rows_derive(l->rows, "fresh.width", &l->root[0], 1, loop_width, &l->root[0], &c, err),
        err);
    check_ok(
        num_rows_derive(l->rows, "fresh.length", &l->root[1], 1, loop_length, &l->root[1], &c, err),
        err);
    check_ok(num_rows_derive(l->rows, "curl", curl, 2, loop_curl, l->root, &c, err), err);
    check_ok(
        num_rows_derive(l->rows, "thickness", &l->root[2], 1, loop_thickness, &l->root[2], &c, err),
        err);
}

/* Eight trials: four that each say something, one that says the same less well, two of something no
 * statement rests on, one so coarse that it says next to nothing. */
static inline void loop_candidates(struct loop *l) {
    static const struct {
        const char *id, *column;
        double noise, tree, ancient;
    } made[LOOP_CANDIDATES] = {{"strips across", "around", 0.004, 0.008, 0.006},
                               {"strips along", "along", 0.001, 0.002, 0.001},
                               {"thickness", "through", 0.01, 0.015, 0.015},
                               {"panel", "curl", 0.3, 0.5, 0.5},
                               {"strips across, coarse", "around", 0.03, 0.02, 0.02},
                               {"paint", "other", 0.2, 0.1, 0.1},
                               {"smell", "other", 0.1, 0.1, 0.1},
                               {"panel, by eye", "curl", 8, 3, 3}};
    static const char *about[LOOP_STATEMENTS];
    for (int k = 0; k < LOOP_STATEMENTS; k++)
        about[k] = loop_watch[k];
    for (int k = 0; k < LOOP_CANDIDATES; k++)
        l->candidate[k] = (struct candidate){.id = made[k].id,
                                             .column = made[k].column,
                                             .about = {LOOP_STATEMENTS, about},
                                             .outcome = OUTCOME_VALUE,
                                             .noise = made[k].noise,
                                             .tree_spread = made[k].tree,
                                             .modern_ancient = made[k].ancient,
                                             .trees = LOOP_TREES,
                                             .strips = 2,
                                             .sheets = 1};
}

static inline void loop_open(struct loop *l, int object, size_t rows, struct error *err) {
    l->arena = arena_new();
    check_ok(num_rows_new(&l->rows, rows, 100 + (uint64_t)object, err), err);
    loop_columns(l, err);
    loop_candidates(l);
    struct num_random r;
    num_random_begin(&r, 77, num_hash("truth"), (uint64_t)object);
    double row[5];
    for (int k = 0; k < 5; k++) /* the truth is a draw of the prior */
        l->truth[k] = row[k] = num_dist_sample(num_rows_prior(l->rows, l->root[k]), &r);
    size_t own[] = {0, 1, 2, 3};
    l->statement[0] = loop_width(row, &own[0]);
    l->statement[1] = loop_length(row, &own[1]);
    l->statement[2] = loop_curl(row, own);
    l->statement[3] = loop_thickness(row, &own[2]);
}

static inline void loop_close(struct loop *l) {
    num_rows_free(l->rows);
    arena_free(l->arena);
}

static inline double loop_true(const struct loop *l, const char *column) {
    for (int k = 0; k < 5; k++)
        if (strcmp(loop_roots[k], column) == 0) return l->truth[k];
    return l->statement[2];
}

/* Makes the trial and reads it back; `itself` tallies what the trial says of trees like its own.
 * bias: all its readings are too large by so many of the errors of one strip, which nobody knows. */
static inline void loop_do(struct loop *l, size_t which, int object, double bias,
                           struct honest *itself, struct error *err) {
    const struct candidate *c = &l->candidate[which];
    static const char *tree_name[] = {"a", "b", "c"};
    enum { N = 2 * LOOP_TREES };
    struct trial *t = ARENA_NEW(l->arena, struct trial, 1);
    struct trial_piece *p = ARENA_NEW(l->arena, struct trial_piece, N);
    struct trial_reading *rd = ARENA_NEW(l->arena, struct trial_reading, N);
    const char **moves = (const char **)ARENA_NEW(l->arena, char *, 4);
    for (int k = 0; k < 4; k++)
        moves[k] = loop_roots[k];
    field_unknown(&trial_kind, t);
    t->id = c->id;
    t->question = "What is it?";
    t->outcome = c->outcome;
    t->column = c->column;
    t->material = (struct texts){4, moves};
    t->noise = c->noise;
    t->tree_spread = c->tree_spread;
    t->modern_ancient = c->modern_ancient;
    struct num_random r;
    num_random_begin(&r, 78, num_hash(c->id), (uint64_t)object);
    double own = c->tree_spread * num_random_normal(&r) + c->modern_ancient * num_random_normal(&r),
           tree = 0;
    for (int i = 0; i < N; i++) {
        if (i % 2 == 0) tree = c->tree_spread * num_random_normal(&r);
        field_unknown(&trial_piece_kind, &p[i]);
        field_unknown(&trial_reading_kind, &rd[i]);
        p[i].id = rd[i].id = rd[i].piece = arena_printf(l->arena, "p%d", i);
        p[i].trial = c->id;
        p[i].tree = tree_name[i / 2];
        rd[i].day = 28;
        rd[i].value =
            loop_true(l, c->column) + own + tree + c->noise * (bias + num_random_normal(&r));
    }
    struct trial_log book = {t, 1, p, N, rd, N};
    struct read_back_options o = {loop_watch, LOOP_STATEMENTS, true};
    struct trial_answers a;
    struct statement_set *said = statement_set_new(l->arena);
    check_ok(trial_read_back(&a, &book, l->rows, said, &o, l->arena, err), err);
    const struct statement *s = statement_find(said, arena_printf(l->arena, "trial.%s", c->id));
    assert_non_null(s);
    if (itself)
        honest_range(itself, s->value.p05, s->value.p25, s->value.p75, s->value.p95,
                     loop_true(l, c->column) + own);
}

/* Mean over the statements of width (5 to 95 %) over the width at the beginning. */
static inline double loop_left(const struct loop *l, const double *first, double *width) {
    static const double at[] = {0.05, 0.95};
    double sum = 0;
    for (int k = 0; k < LOOP_STATEMENTS; k++) {
        double q[2];
        num_rows_quantiles(l->rows, num_rows_find(l->rows, loop_watch[k]), at, 2, q);
        width[k] = q[1] - q[0];
        sum += first ? width[k] / first[k] : 1;
    }
    return sum / LOOP_STATEMENTS;
}

static inline int loop_inside(const struct loop *l, struct honest *h) {
    static const double at[] = {0.05, 0.25, 0.75, 0.95};
    int n = 0;
    for (int k = 0; k < LOOP_STATEMENTS; k++) {
        double q[4];
        num_rows_quantiles(l->rows, num_rows_find(l->rows, loop_watch[k]), at, 4, q);
        n += l->statement[k] >= q[0] && l->statement[k] <= q[3];
        honest_range(h, q[0], q[1], q[2], q[3], l->statement[k]);
    }
    honest_next(h);
    return n;
}

/* Next trial by the plan among those left; LOOP_CANDIDATES when it wants none. */
static inline size_t loop_planned(struct loop *l, const bool *done, struct error *err) {
    struct candidate left[LOOP_CANDIDATES];
    size_t of[LOOP_CANDIDATES], n = 0;
    for (size_t k = 0; k < LOOP_CANDIDATES; k++)
        if (!done[k]) {
            of[n] = k;
            left[n++] = l->candidate[k];
        }
    struct plan_limits limits = {
        .sheets = NAN, .hours = NAN, .days = NAN, .most = 1, .enough = 0.01, .seed = 1};
    struct trial_plan plan;
    check_ok(trial_plan_make(&plan, left, n, l->rows, &limits, l->arena, err), err);
    const struct ranked_trial *first = plan.ranked.v;
    for (size_t k = 0; k < n && first->place; k++)
        if (strcmp(left[k].id, first->id) == 0) return of[k];
    return LOOP_CANDIDATES;
}

/* Trials until the ranges are down to `goal` of what they were; all of them when they never are. */
static inline int loop_run(struct loop *l, int object, bool planned, double goal, double *left,
                           double bias, struct honest *itself, struct error *err) {
    double first[LOOP_STATEMENTS], width[LOOP_STATEMENTS];
    bool done[LOOP_CANDIDATES] = {false};
    size_t order[LOOP_CANDIDATES];
    struct num_random r;
    num_random_begin(&r, 79, num_hash("order"), (uint64_t)object);
    num_random_permutation(&r, order, LOOP_CANDIDATES);
    loop_left(l, NULL, first);
    *left = 1;
    for (int n = 0; n < LOOP_CANDIDATES; n++) {
        size_t k = planned ? loop_planned(l, done, err) : order[n];
        if (k == LOOP_CANDIDATES) return LOOP_CANDIDATES;
        done[k] = true;
        loop_do(l, k, object, bias, itself, err);
        *left = loop_left(l, first, width);
        if (*left <= goal) return n + 1;
    }
    return LOOP_CANDIDATES;
}

/* The whole experiment; prints its numbers. */
static inline void loop_experiment(int objects, size_t rows) {
    struct error err = {0};
    int inside = 0, planned = 0, random = 0;
    double left_sum = 0;
    struct honest before = {0}, after = {0}, itself = {0}, biased = {0};
    for (int o = 0; o < objects; o++) {
        struct loop l;
        double left;
        loop_open(&l, o, rows, &err);
        loop_inside(&l, &before);
        int n = loop_run(&l, o, true, 0.65, &left, 0, &itself, &err);
        honest_next(&itself);
        planned += n;
        inside += loop_inside(&l, &after);
        left_sum += left;
        loop_close(&l);
        loop_open(&l, o, rows, &err);
        double left_random;
        int m = loop_run(&l, o, false, 0.65, &left_random, 0, NULL, &err);
        random += m;
        loop_close(&l);
        loop_open(&l, o, rows, &err);
        struct num_random r;
        num_random_begin(&r, 80, num_hash("reader"), (uint64_t)o);
        loop_run(&l, o, true, 0.65, &left_random, num_random_normal(&r), NULL, &err);
        loop_inside(&l, &biased);
        loop_close(&l);
        check_note("object %d: planned %d trials (ranges to %.2f), random order %d", o + 1, n, left,
                   m);
    }
    int of = objects * LOOP_STATEMENTS;
    check_note("%d objects: truth inside its 90 %% range %d of %d (%.0f %%); ranges left %.2f; "
               "trials planned %.2f, random %.2f",
               objects, inside, of, 100.0 * inside / of, left_sum / objects,
               (double)planned / objects, (double)random / objects);
    honest_line(&before, "trials", "statements before any trial");
    honest_line(&after, "trials", "statements after the planned trials");
    honest_line(&itself, "trials", "what a trial says of trees like its own");
    honest_line(&biased, "trials, one biased reader", "statements after the planned trials");
    check_from(CHECK_ASKED, "closed loop over hidden synthetic objects");
    check_about("%d objects: width left after the plan", objects);
    check_between(left_sum / objects, 0, 0.75);
    check_about("%d objects: planned trials over trials in random order", objects);
    check_between((double)planned / random, 0, 0.999);
    /* 90 % at the stated rate: not under it by more than three standard errors of a binomial whose
     * units are objects (four statements of one object are not independent). */
    double se = sqrt(0.09 / objects);
    check_about("%d objects: share of truths inside 5 to 95 %%", objects);
    check_between((double)inside / of, 0.9 - 3 * se, 1);
    check_about("%d objects: share of trials whose 5 to 95 %% holds the mean of trees like its own",
                objects);
    check_between(honest_rate(itself.sum90, itself.n), 0.9 - 3 * se, 1);
    check_about("%d objects, readings biased by a strip's error: share of truths inside 5 to 95 %%",
                objects);
    check_between(honest_rate(biased.sum90, biased.n), 0.85 - 3 * se, 1);
}

#endif
