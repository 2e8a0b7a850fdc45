/* Rows of holes and dents, brought to the seam's own reckoning: part of the curve step. Lengths
 * stay as measured, each state by itself: what is asked is how rows of one zone compare. */
#include "job/stage_seams.h"

#include "shape/seam_stage.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* "edge torn along stitch row for 3 holes", "tear runs through 4 holes": the number before the
 * word. NAN when there is none. */
static double holes_in(const char *words) {
    const char *hole = words ? strstr(words, " hole") : NULL;
    if (!hole) return NAN;
    const char *number = hole;
    while (number > words && number[-1] >= '0' && number[-1] <= '9')
        number--;
    return number < hole ? strtod(number, NULL) : NAN;
}

static void take_tear(struct shape_seam_find *row, const struct find *f, const char *piece) {
    for (size_t i = 0; i < f->mark_count; i++) {
        const struct mark *m = &f->marks[i];
        if (m->kind != MARK_TEAR || !m->piece || strcmp(m->piece, piece) != 0) continue;
        double holes = holes_in(m->what);
        if (!isfinite(holes)) continue;
        row->torn_holes = holes;
        row->torn_mark = m->id;
        return;
    }
}

/* A row of stitches, not of lath shadows or dots of paint. */
static bool of_stitches(const struct find *f, const struct measure *pitch) {
    for (size_t i = 0; pitch->mark && i < f->mark_count; i++)
        if (strcmp(f->marks[i].id, pitch->mark) == 0)
            return f->marks[i].kind == MARK_HOLE_ROW || f->marks[i].kind == MARK_DENT_ROW;
    return true;
}

/* Another number of the same row. */
static const struct measure *beside(const struct find *f, const struct measure *pitch,
                                    long quantity) {
    for (size_t i = 0; i < f->measure_count; i++) {
        const struct measure *m = &f->measures[i];
        bool row = (!m->mark && !pitch->mark) ||
                   (m->mark && pitch->mark && strcmp(m->mark, pitch->mark) == 0);
        if (m->quantity == quantity && row && m->piece && strcmp(m->piece, pitch->piece) == 0)
            return m;
    }
    return NULL;
}

static bool usable(const struct find *f, const struct piece *p, const struct measure *pitch) {
    return p && of_stitches(f, pitch) && p->shape_only != 1 && p->belongs >= 0.5 &&
           !pitch->rival_of && pitch->quantity == QUANTITY_PITCH && pitch->value > 0 &&
           p->substance != SUBSTANCE_TRACE;
}

static struct shape_seam_find row_of(const struct find *f, const struct piece *p,
                                     const struct measure *pitch) {
    const struct measure *holes = beside(f, pitch, QUANTITY_HOLES),
                         *hole = beside(f, pitch, QUANTITY_HOLE_DIAMETER);
    bool sheet = p->substance == SUBSTANCE_BARK || p->substance == SUBSTANCE_HIDE;
    struct shape_seam_find row = {.id = pitch->id,
                                  .name = p->id,
                                  .zone = p->zone,
                                  .rod = !sheet,
                                  .pitch = pitch->value,
                                  .holes = holes ? holes->value : NAN,
                                  /* a row is measured end to end: its ± is of the whole row */
                                  .u = isfinite(pitch->tolerance) ? measure_sd(pitch) : NAN,
                                  .hole = hole && sheet ? hole->value : NAN,
                                  .torn_holes = NAN};
    take_tear(&row, f, p->id);
    return row;
}

/* ---- the table ------------------------------------------------------------------------------ */

static const struct statement *of_row(const struct stage_run *r, const struct shape_seam_find *row,
                                      const char *what) {
    const char *id = arena_printf(r->arena, "seam.%s.%s", row->name, what);
    return id ? statement_find(r->said, id) : NULL;
}

static const char *remark(const struct stage_run *r, const struct shape_seam_find *row) {
    const struct statement *torn = of_row(r, row, "torn"), *left = of_row(r, row, "section");
    if (torn) return torn->sentence;
    return left && left->caution ? left->caution : "";
}

static int table(struct stage_run *r, const struct shape_seam_find *rows, const char *const *state,
                 size_t n, struct error *err) {
    json_t *list = stage_table(r, "seams", "Rows of holes and dents, as measured",
                               "piece|zone|state|in|holes|pitch, mm|left between holes, "
                               "percent|remark");
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        const struct shape_seam_find *row = &rows[i];
        const struct statement *pitch = of_row(r, row, "pitch"), *left = of_row(r, row, "section");
        if (!pitch && !of_row(r, row, "torn")) continue;
        json_t *holes = isfinite(row->holes) ? json_real(row->holes) : json_string("");
        json_t *share = left ? json_real(round(left->value.p50)) : json_string("");
        json_array_append_new(
            list, json_pack("[s,s,s,s,o,s,o,s]", row->name, row->zone ? row->zone : "", state[i],
                            row->rod ? "rod" : "sheet", holes,
                            pitch ? stage_range(r, &pitch->value) : "", share, remark(r, row)));
    }
    return 0;
}

int stage_seams(struct stage_run *r, struct error *err) {
    const struct find *f = &r->now->find;
    struct shape_seam_find *rows = ARENA_NEW(r->arena, struct shape_seam_find, f->measure_count);
    const char **states = ARENA_NEW(r->arena, const char *, f->measure_count);
    if (!rows || !states) return fail_memory(err);
    size_t n = 0;
    int rc = 0;
    for (long state = 0; state < STATE_COUNT && !rc; state++) {
        struct shape_seam_input in = {
            .row = rows + n, .edge = NAN, .u_edge = NAN, .state = state_words[state]};
        for (size_t i = 0; i < f->measure_count; i++) {
            const struct measure *m = &f->measures[i];
            const struct piece *p = m->piece ? find_piece(f, m->piece) : NULL;
            if (m->state != state || !usable(f, p, m)) continue;
            states[n + in.n] = state_words[state];
            rows[n + in.n++] = row_of(f, p, m);
        }
        if (in.n) rc = shape_seam_stage(&in, r->said, r->arena, err);
        n += in.n;
    }
    return rc || !n ? rc : table(r, rows, states, n, err);
}
