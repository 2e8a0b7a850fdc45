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

/* `before`: the result of the last time, or NULL; `known`: the finds gave a thickness of the sheet,
 * 4.5 mm as cut. */
static inline void work_out_known(struct answer *a, const struct makings *makings,
                                  const json_t *before, bool known) {
    struct error err = {0};
    size_t col;
    const struct num_dist thickness = num_dist_lognormal(4.5, 0.1);
    a->arena = arena_new();
    check_ok(num_rows_new(&a->rows, ORIGINALS, 7, &err), &err);
    if (known)
        check_ok(num_rows_root(a->rows, "size.sheet.thickness", &thickness, &col, &err), &err);
    a->run = (struct stage_run){.rows = a->rows,
                                .said = statement_set_new(a->arena),
                                .made.makings = (struct makings *)makings,
                                .result = json_object(),
                                .before = before,
                                .arena = a->arena,
                                .rough = true};
    check_ok(stage_work(stage_list[stage_index("strength", NULL)], &a->run, &err), &err);
}

static inline void work_out(struct answer *a, const struct makings *makings, const json_t *before) {
    work_out_known(a, makings, before, false);
}

static inline void let_go(struct answer *a) {
    json_decref(a->run.result);
    num_rows_free(a->rows);
    arena_free(a->arena);
}

#endif
