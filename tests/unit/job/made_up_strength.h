/* The step "strength" of a made-up making alone, on coarse nets, with few possible originals. */
#ifndef RELICT_TESTS_MADE_UP_STRENGTH_H
#define RELICT_TESTS_MADE_UP_STRENGTH_H

#include "job/strength.h"

#include "made_up_parts.h"

enum { ORIGINALS = 64 };

/* Statements, tables and columns of the step. */
struct answer {
    struct arena *arena;
    struct num_rows *rows;
    struct stage_run run;
};

/* `before`: the result of the last time, or NULL. */
static inline void work_out(struct answer *a, const struct makings *makings, const json_t *before) {
    struct error err = {0};
    a->arena = arena_new();
    check_ok(num_rows_new(&a->rows, ORIGINALS, 7, &err), &err);
    a->run = (struct stage_run){.rows = a->rows,
                                .said = statement_set_new(a->arena),
                                .made.makings = (struct makings *)makings,
                                .result = json_object(),
                                .before = before,
                                .arena = a->arena,
                                .rough = true};
    check_ok(stage_work(stage_list[stage_index("strength", NULL)], &a->run, &err), &err);
}

static inline void let_go(struct answer *a) {
    json_decref(a->run.result);
    num_rows_free(a->rows);
    arena_free(a->arena);
}

#endif
