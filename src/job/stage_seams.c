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

/* ---- single gaps ---------------------------------------------------------------------------- */

/* The mark that shows the holes of the row one by one; NULL when nobody traced them. */
static const struct mark *traced(const struct find *f, const struct measure *pitch) {
    const struct mark *found = NULL;
    size_t n = 0;
    for (size_t i = 0; i < f->mark_count; i++) {
        const struct mark *m = &f->marks[i];
        bool row = m->kind == MARK_HOLE_ROW || m->kind == MARK_DENT_ROW;
        if (!row || m->points.n < 3 || !m->piece || strcmp(m->piece, pitch->piece) != 0) continue;
        if (pitch->mark && strcmp(pitch->mark, m->id) == 0) return m;
        found = m, n++;
    }
    return !pitch->mark && n == 1 ? found : NULL;
}

/* Straight from hole to hole: over one pitch a curved edge is longer by under a thousandth. */
static int take_gaps(struct shape_seam_find *row, const struct mark *m, struct arena *arena,
                     struct error *err) {
    double *gap = ARENA_NEW(arena, double, m->points.n);
    if (!gap) return fail_memory(err);
    for (size_t i = 0; i + 1 < m->points.n; i++) {
        const double *p = m->points.v + 2 * i;
        gap[i] = hypot(p[2] - p[0], p[3] - p[1]);
        if (!(gap[i] > 0)) return 0; /* a hole marked twice: the mean pitch is left to speak */
    }
    row->gap = gap, row->n_gaps = m->points.n - 1;
    row->id = m->id, row->entry = "mark";
    return 0;
}

/* ---- over the whole edge -------------------------------------------------------------------- */

/* Pitch of a row brought to fresh by the middle of its factor; NAN when nothing brings it there. */
static double fresh_pitch(struct stage_run *r, const struct piece *p, const struct measure *pitch,
                          bool rod, struct error *err) {
    size_t col = NUM_NO_COLUMN;
    if (!r->made.sizes || remains_factor(&col, r->made.sizes, &r->now->find, r->rows, p, pitch,
                                         rod ? AXIS_ALONG : AXIS_AROUND, r->arena, err))
        return NAN;
    return col == NUM_NO_COLUMN ? pitch->value
                                : pitch->value * num_rows_quantile(r->rows, col, 0.5);
}

/* How many stitches went round: pitches and edge both fresh. The dents in rods count where there
 * are any, since a rod hardly shrinks along its grain; else the holes in the sheet. */
static int whole_edge(struct stage_run *r, const struct shape_seam_find *rows,
                      const struct measure *const *pitch, size_t n, struct error *err) {
    const struct statement *edge = statement_find(r->said, "outline.perimeter");
    struct shape_seam_find *fresh = ARENA_NEW(r->arena, struct shape_seam_find, n);
    struct statement_set *aside = statement_set_new(r->arena);
    bool rods = false;
    if (!edge || isnan(edge->value.p50)) return 0;
    if (!fresh || !aside) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        rods |= rows[i].rod;
    struct shape_seam_input in = {
        .row = fresh, .edge = edge->value.p50, .u_edge = edge->value.sd, .state = "fresh"};
    for (size_t i = 0; i < n; i++) {
        const struct piece *p = find_piece(&r->now->find, pitch[i]->piece);
        if (rows[i].rod != rods) continue;
        struct shape_seam_find row = rows[i];
        row.n_gaps = 0, row.n_torn = 0, row.torn_holes = NAN;
        row.pitch = fresh_pitch(r, p, pitch[i], rows[i].rod, err);
        if (isfinite(row.pitch)) fresh[in.n++] = row;
    }
    int rc = in.n ? shape_seam_stage(&in, aside, r->arena, err) : 0;
    const struct statement *count = rc ? NULL : statement_find(aside, "seam.count");
    if (!count) return rc;
    struct statement s = *count;
    s.rests_on = (struct records){0, NULL}; /* links grow in place: a list of its own */
    const struct statement_link *l = count->rests_on.v;
    for (size_t i = 0; i < count->rests_on.n && !rc; i++)
        rc = statement_link_add(&s, l[i].kind, l[i].id, l[i].role, r->arena, err);
    if (!rc)
        rc = statement_link_add(&s, "statement", "outline.perimeter", "reading", r->arena, err);
    if (!rods) s.caution = "from holes in the sheet, which shrank unevenly";
    return rc ? rc : statement_add(r->said, &s, err);
}

/* ---- the table ------------------------------------------------------------------------------ */

static const struct statement *of_row(const struct stage_run *r, const struct shape_seam_find *row,
                                      const char *what) {
    const char *id = arena_printf(r->arena, "seam.%s.%s", row->name, what);
    return id ? statement_find(r->said, id) : NULL;
}

static const char *remark(const struct stage_run *r, const struct shape_seam_find *row) {
    const struct statement *torn = of_row(r, row, "torn"), *left = of_row(r, row, "section"),
                           *groups = of_row(r, row, "grouping"), *gone = of_row(r, row, "missing");
    if (torn) return torn->sentence;
    if (gone) return gone->sentence;
    if (groups) return groups->caution ? groups->caution : groups->sentence;
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
    const struct measure **pitch = ARENA_NEW(r->arena, const struct measure *, f->measure_count);
    if (!rows || !states || !pitch) return fail_memory(err);
    size_t n = 0;
    int rc = 0;
    for (long state = 0; state < STATE_COUNT && !rc; state++) {
        struct shape_seam_input in = {
            .row = rows + n, .edge = NAN, .u_edge = NAN, .state = state_words[state]};
        for (size_t i = 0; i < f->measure_count; i++) {
            const struct measure *m = &f->measures[i];
            const struct piece *p = m->piece ? find_piece(f, m->piece) : NULL;
            if (m->state != state || !usable(f, p, m)) continue;
            states[n + in.n] = state_words[state], pitch[n + in.n] = m;
            struct shape_seam_find *row = &rows[n + in.n++];
            *row = row_of(f, p, m);
            const struct mark *holes = traced(f, m);
            if (holes && !rc) rc = take_gaps(row, holes, r->arena, err);
        }
        if (in.n && !rc) rc = shape_seam_stage(&in, r->said, r->arena, err);
        n += in.n;
    }
    if (!rc && n) rc = whole_edge(r, rows, pitch, n, err);
    return rc || !n ? rc : table(r, rows, states, n, err);
}
