/* import_aside: rows set aside: which there still are, what they would add, and mending one. */
#include "base/mem.h"
#include "record/import_private.h"
#include "record/names.h"
#include "record/record_private.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_TOTALS = 200 };

/* ---- totals -----------------------------------------------------------------------------------
 */

int import_totals_new(struct import_totals *out, struct arena *arena, struct error *err) {
    *out = (struct import_totals){.names = names_new(),
                                  .v = ARENA_NEW(arena, struct import_total, MOST_TOTALS)};
    return out->names && out->v ? 0 : fail_memory(err);
}

void import_totals_free(struct import_totals *totals) {
    names_free(totals->names);
    totals->names = NULL;
}

int import_total_add(struct import_totals *t, const struct row_summary *s, struct arena *arena,
                     struct error *err) {
    const char *state = s->state == FIELD_UNKNOWN ? "unknown" : state_words[s->state];
    char key[200];
    snprintf(key, sizeof key, "%.150s|%s", s->part ? s->part : "", state);
    size_t number;
    if (!names_find(t->names, key, &number)) {
        if (t->n == MOST_TOTALS) return 0;
        char *kept = arena_strdup(arena, key), *part = arena_strdup(arena, s->part ? s->part : "");
        number = t->n;
        if (!kept || !part || names_add(t->names, kept, &number) < 0) return fail_memory(err);
        t->v[t->n++] = (struct import_total){.part = part, .state = state};
    }
    struct import_total *total = &t->v[number];
    double length = isnan(s->length) ? 0 : s->length;
    total->rows_with++;
    total->length_with += length;
    if (s->held) return 0;
    total->rows++;
    total->length += length;
    return 0;
}

/* ---- mending one
 * ------------------------------------------------------------------------------------------- */

/* The row with the cells that were given put in; mended tells what changed. */
static int mend_cells(struct set_aside *held, const json_t *cells, struct arena *arena,
                      struct error *err) {
    const char *heading, **v = ARENA_NEW(arena, const char *, held->headings.n + held->cells.n);
    const char **mended = ARENA_NEW(arena, const char *, json_object_size(cells));
    json_t *value;
    size_t n = 0;
    if (!v || !mended) return fail_memory(err);
    for (size_t i = 0; i < held->cells.n; i++)
        v[i] = held->cells.v[i];
    for (size_t i = held->cells.n; i < held->headings.n; i++)
        v[i] = "";
    size_t width = held->cells.n > held->headings.n ? held->cells.n : held->headings.n;
    if (json_object_size(cells) > 0 && held->cells.n > held->headings.n)
        width = held->headings.n; /* a row mended cell by cell has as many as the heading */
    json_object_foreach((json_t *)cells, heading, value) {
        size_t c = 0;
        while (c < held->headings.n && strcmp(held->headings.v[c], heading) != 0)
            c++;
        if (c == held->headings.n || !json_is_string(value))
            error_place(err, NULL, held->row, heading, NULL);
        if (c == held->headings.n)
            return fail(err, ERR_INPUT, "Use the headings of the list.",
                        "The list has no column \"%.60s\".", heading);
        if (!json_is_string(value))
            return fail(err, ERR_INPUT, "Give the cell as it should have been written, in quotes.",
                        "The new cell of \"%.60s\" should be a text.", heading);
        mended[n] = arena_printf(arena, "%s: %s -> %s", heading, v[c], json_string_value(value));
        v[c] = arena_strdup(arena, json_string_value(value));
        if (!v[c] || !mended[n++]) return fail_memory(err);
    }
    held->cells = (struct texts){width, v};
    held->mended = (struct texts){n, mended};
    return 0;
}

static int read_stored(void *out, struct record *record, const struct kind *kind, const char *id,
                       struct arena *arena, struct error *err) {
    struct record_entry e;
    int rc = record_get(&e, record, kind->name, id, arena, err);
    if (rc) return rc;
    json_t *j = json_loads(e.body, 0, NULL);
    rc = j ? field_decode(kind, j, out, arena, err)
           : fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                  "The stored %s %.40s cannot be read.", kind->name, id);
    json_decref(j);
    return rc;
}

static int first_problem(const struct row_made *row, const struct set_aside *held, bool as_it_is,
                         struct error *err) {
    for (size_t i = 0; i < row->problem_count; i++) {
        const struct import_problem *p = &row->problems[i];
        if (p->doubt && as_it_is) continue;
        error_place(err, NULL, held->row, p->column, held->id);
        return fail(err, ERR_INPUT, p->suggestion, "%s", p->reason);
    }
    return 0;
}

static int already_there(struct record *record, const char *id, struct arena *arena,
                         struct error *err) {
    struct record_entry e;
    bool found;
    int rc = record_entry_get(&e, record, "piece", id, &found, arena, err);
    if (rc || !found || e.gone) return rc;
    return fail(err, ERR_INPUT, "Give it a number of its own.",
                "The number %.60s is in the project already.", id);
}

static int put_row(struct import_report *out, struct record *record, const struct row_made *row,
                   const struct set_aside *held, struct error *err) {
    int rc = record_put_struct(record, &piece_kind, row->piece.id, &row->piece, NULL, err);
    for (size_t i = 0; i < row->mark_count && !rc; i++)
        rc =
            record_put_struct(record, &mark_kind_kind, row->marks[i].id, &row->marks[i], NULL, err);
    for (size_t i = 1; i < row->measure_count && !rc; i++)
        rc = record_put_struct(record, &measure_kind, row->measures[i].id, &row->measures[i], NULL,
                               err);
    if (!rc) rc = record_put_struct(record, &set_aside_kind, held->id, held, NULL, err);
    if (!rc) rc = record_withdraw(record, set_aside_kind.name, held->id, err);
    *out = (struct import_report){.file = held->file,
                                  .rows = 1,
                                  .accepted = 1,
                                  .pieces = 1,
                                  .measures = (long)row->measure_count - 1,
                                  .marks = (long)row->mark_count};
    return rc;
}

int import_release(struct import_report *out, struct record *record, const char *id,
                   const json_t *cells, bool as_it_is, const char *who, const char *when,
                   const char *why, struct arena *arena, struct error *err) {
    struct set_aside held;
    struct import_map map;
    *out = (struct import_report){0};
    int rc = read_stored(&held, record, &set_aside_kind, id, arena, err);
    if (!rc) rc = read_stored(&map, record, &import_map_kind, held.file, arena, err);
    if (!rc) rc = mend_cells(&held, cells, arena, err);
    if (rc) return rc;
    struct csv_row rows[2] = {{held.headings.n, held.headings.v, 1},
                              {held.cells.n, held.cells.v, held.row}};
    struct csv_table table = {2, rows};
    struct reading reading;
    struct row_made row;
    if ((rc = import_resolve(&reading, &map, &table, arena, err))) return rc;
    import_row(&row, &reading, &rows[1], arena);
    if (row.memory) return fail_memory(err);
    if ((rc = first_problem(&row, &held, as_it_is, err))) return rc;
    if ((rc = already_there(record, row.piece.id, arena, err))) return rc;
    if ((rc = record_change_begin(record, who, when, why && *why ? why : "a row mended", err)))
        return rc;
    rc = put_row(out, record, &row, &held, err);
    if (rc)
        record_change_rollback(record);
    else
        rc = record_change_commit(record, &out->change, err);
    return rc;
}

/* ---- which there still are --------------------------------------------------------------------
 */

/* The row as it stands, read by the map of its list. */
static int read_row(struct row_made *row, struct record *record, const struct set_aside *held,
                    struct arena *arena, struct error *err) {
    struct import_map *map = ARENA_NEW(arena, struct import_map, 1);
    struct reading *reading = ARENA_NEW(arena, struct reading, 1);
    struct csv_row *rows = ARENA_NEW(arena, struct csv_row, 2);
    if (!map || !reading || !rows) return fail_memory(err);
    int rc = read_stored(map, record, &import_map_kind, held->file, arena, err);
    if (rc) return rc;
    rows[0] = (struct csv_row){held->headings.n, held->headings.v, 1};
    rows[1] = (struct csv_row){held->cells.n, held->cells.v, held->row};
    const struct csv_table table = {2, rows};
    if ((rc = import_resolve(reading, map, &table, arena, err))) return rc;
    import_row(row, reading, &rows[1], arena);
    return row->memory ? fail_memory(err) : 0;
}

/* Sums what is in the project, a row a piece: its state and its first plain length. */
static int total_taken(struct import_totals *t, const struct find *taken, struct arena *arena,
                       struct error *err) {
    struct names *ids = names_new();
    struct row_summary *rows = MEM_NEW(struct row_summary, taken->piece_count + 1);
    int rc = ids && rows ? 0 : fail_memory(err);
    size_t number;
    for (size_t i = 0; i < taken->piece_count && !rc; i++) {
        rows[i] = (struct row_summary){
            .part = taken->pieces[i].part, .state = FIELD_UNKNOWN, .length = NAN};
        number = i;
        if (names_add(ids, taken->pieces[i].id, &number) < 0) rc = fail_memory(err);
    }
    for (size_t i = 0; i < taken->measure_count && !rc; i++) {
        const struct measure *m = &taken->measures[i];
        if (!m->piece || m->rival_of || !names_find(ids, m->piece, &number)) continue;
        struct row_summary *row = &rows[number];
        if (row->state == FIELD_UNKNOWN) row->state = m->state;
        if (m->quantity == QUANTITY_LENGTH && !m->mark && isnan(row->length))
            row->length = m->value;
    }
    for (size_t i = 0; i < taken->piece_count && !rc; i++)
        rc = import_total_add(t, &rows[i], arena, err);
    mem_free(rows);
    names_free(ids);
    return rc;
}

int import_aside(struct import_report *out, struct record *record, const struct find *taken,
                 struct arena *arena, struct error *err) {
    struct import_totals totals = {0};
    field_unknown(&import_report_kind, out);
    *out = (struct import_report){.pieces = (long)taken->piece_count,
                                  .measures = (long)taken->measure_count,
                                  .marks = (long)taken->mark_count};
    int rc = record_load(&out->held_rows, NULL, record, &set_aside_kind, 0, arena, err);
    if (!rc) rc = import_totals_new(&totals, arena, err);
    if (!rc) rc = total_taken(&totals, taken, arena, err);
    const struct set_aside *held = out->held_rows.v;
    for (size_t i = 0; i < out->held_rows.n && !rc; i++) {
        struct row_made row;
        rc = read_row(&row, record, &held[i], arena, err);
        struct row_summary s = {.held = true};
        if (!rc) {
            s.part = row.piece.part;
            s.state = row.state;
            s.length = row.size[QUANTITY_LENGTH];
            rc = import_total_add(&totals, &s, arena, err);
        }
    }
    import_totals_free(&totals);
    out->totals = (struct records){totals.n, totals.v};
    out->held = (long)out->held_rows.n;
    out->accepted = out->pieces;
    out->rows = out->accepted + out->held;
    return rc;
}
