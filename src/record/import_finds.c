/* import_finds: a whole list into the project, many rows at a time.
 *
 * Rows are read in batches: threads turn them into canonical bodies and hashes, each in its own
 * chunk, while one of them stores the chunks of the batch before in order. So the outcome does not
 * depend on the number of threads, and memory does not grow with the list. */
#include "base/file.h"
#include "base/mem.h"
#include "base/parallel.h"
#include "base/xlsx.h"
#include "record/import_groups.h"
#include "record/names.h"
#include "record/record_private.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    CHUNK = 64,           /* rows a thread takes at a time */
    BATCH = 64 * CHUNK,   /* rows held in memory as structs */
    MOST_TOLD = 200,      /* rows set aside and remarks repeated in the report */
    MOST_LIST = 200000000 /* bytes */
};

/* ---- reading the table ------------------------------------------------------------------------
 */

int import_table(struct csv_table *out, const char *name, const void *bytes, size_t n,
                 const char *separator, struct arena *arena, struct error *err) {
    *out = (struct csv_table){0};
    if (n > MOST_LIST)
        return fail(err, ERR_RANGE, "Split the list into parts and bring them in one by one.",
                    "The list holds %.0f MB; at most %.0f MB are taken.", (double)n / 1e6,
                    (double)MOST_LIST / 1e6);
    const char *media = record_media(bytes, n);
    static const unsigned char old[] = {0xD0, 0xCF, 0x11, 0xE0};
    bool packed = xlsx_is(bytes, n) || (n >= 4 && memcmp(bytes, old, 4) == 0);
    int rc;
    if (packed)
        rc = xlsx_read(out, NULL, bytes, n, arena, err);
    else if (strncmp(media, "text/", 5) != 0 && strcmp(media, "application/octet-stream") != 0)
        rc = fail(err, ERR_INPUT, "Choose the list itself, as CSV or XLSX.",
                  "This is no list: it looks like %s.", media);
    else {
        struct csv_options options = {.separator = separator && *separator == ';' ? ';' : ','};
        rc = csv_read(out, bytes, n, &options, arena, err);
    }
    if (!rc && out->n == 0)
        rc = fail(err, ERR_INPUT, "Look whether the right file was chosen.", "The list is empty.");
    if (rc) error_place(err, file_name(name), 0, NULL, NULL);
    return rc;
}

/* What is wrong with a line of the map, whatever the table is. */
static int check_column(const struct import_column *m, struct error *err) {
    if (m->as == IMPORT_SIZE && m->quantity == FIELD_UNKNOWN)
        return fail(err, ERR_MISSING, "Say in the map which quantity it is.",
                    "Column \"%.60s\" holds sizes, but of what?", m->heading);
    if (cell_unit_factor(m->unit ? m->unit : "") == 0)
        return fail(err, ERR_INPUT, "Use mm, cm, m, in, degrees, g, kg, percent or nothing.",
                    "Column \"%.60s\": the unit \"%.20s\" is not known.", m->heading, m->unit);
    return 0;
}

/* Finds for each column of the table what the map says of it. */
int import_resolve(struct reading *out, const struct import_map *map, const struct csv_table *table,
                   struct arena *arena, struct error *err) {
    *out = (struct reading){.map = map, .heading = &table->rows[0]};
    out->n_columns = table->rows[0].n;
    out->columns = ARENA_NEW(arena, const struct import_column *, out->n_columns);
    if (!out->columns) return fail_memory(err);
    const struct import_column *columns = map->columns.v;
    bool id = false;
    for (size_t k = 0; k < map->columns.n; k++) {
        const struct import_column *m = &columns[k];
        int rc = check_column(m, err);
        size_t c = 0;
        while (c < out->n_columns &&
               (out->columns[c] || strcmp(m->heading, out->heading->cells[c]) != 0))
            c++;
        if (!rc && c == out->n_columns)
            rc = fail(err, ERR_INPUT, "Take it out of the map, or look at how it is spelled.",
                      "The list has no column \"%.60s\", which the map names.", m->heading);
        if (rc) {
            error_place(err, NULL, 1, m->heading, NULL);
            return rc;
        }
        out->columns[c] = m;
        id |= m->as == IMPORT_ID;
    }
    if (id) return 0;
    return fail(err, ERR_MISSING, "Say in the map which column is the id.",
                "No column of the list is the number of the piece.");
}

/* ---- what a chunk of rows becomes
 * ---------------------------------------------------------------- */

/* New entries of one kind. */
struct new_list {
    struct canon_text text; /* their bodies, one behind the other */
    struct new_entry *v;    /* names in the chunk's arena; bodies are told when all are there */
    size_t n, room;
};

/* Entries are kept apart by kind, since they are stored fastest so. */
enum { PIECES, MARKS, MEASURES, LISTS };
struct chunk {
    struct arena *arena;
    struct new_list lists[LISTS];
    size_t n_rows;
    struct set_aside held[CHUNK];
    size_t held_count;
    struct row_summary rows[CHUNK];
    const char *remarks[CHUNK];
    size_t remark_count;
    bool memory;
};

struct batch {
    const struct reading *reading;
    const struct csv_table *table;
    const struct import_groups *groups;
    const size_t *first_of;  /* [table->n] row in which the id of this row stands first */
    const struct names *ids; /* of the list */
    const struct names *existing;
    const char *file, *change_uuid;
    const struct kind *kinds[LISTS];
    struct canon_kind *canon[LISTS];
};

static struct new_entry *next_new(struct new_list *list) {
    if (list->n == list->room) {
        size_t room = list->room ? 2 * list->room : 256;
        struct new_entry *more = mem_resize(list->v, room, sizeof *more);
        if (!more) return NULL;
        list->v = more;
        list->room = room;
    }
    return &list->v[list->n++];
}

static void make_ready(struct chunk *c, const struct batch *b, int which, const char *name,
                       const void *body) {
    struct new_list *list = &c->lists[which];
    struct new_entry *e = next_new(list);
    size_t at = list->text.n;
    if (!e || canon_write(&list->text, b->canon[which], body, NULL)) {
        c->memory = true;
        return;
    }
    *e = (struct new_entry){
        .kind = b->kinds[which]->name, .name = name, .body_size = list->text.n - at};
    record_entry_hash(&(struct entry_hashed){.change_uuid = b->change_uuid,
                                             .kind = e->kind,
                                             .name = name,
                                             .before_uuid = "",
                                             .body = list->text.v + at,
                                             .body_size = e->body_size},
                      e->hash);
}

/* The text no longer moves. */
static void tell_bodies(struct new_list *list) {
    const char *at = list->text.v;
    for (size_t i = 0; i < list->n; i++) {
        list->v[i].body = at;
        at += list->v[i].body_size;
    }
}

/* ---- one row in a thread
 * --------------------------------------------------------------------------- */

static bool exists(const struct batch *b, const struct row_made *row) {
    bool any = names_find(b->existing, row->piece.id, NULL);
    for (size_t i = 1; i < row->measure_count; i++)
        any |= names_find(b->existing, row->measures[i].id, NULL);
    for (size_t i = 0; i < row->mark_count; i++)
        any |= names_find(b->existing, row->marks[i].id, NULL);
    return any;
}

/* Checks against the descriptors, as for anything that is put. */
static void check_kinds(struct row_made *row) {
    struct error err = {0};
    int rc = canon_check(&piece_kind, &row->piece, &err);
    for (size_t i = 1; i < row->measure_count && !rc; i++)
        rc = canon_check(&measure_kind, &row->measures[i], &err);
    for (size_t i = 0; i < row->mark_count && !rc; i++)
        rc = canon_check(&mark_kind_kind, &row->marks[i], &err);
    if (rc) import_problem_add(row, err.column, "", false, err.remedy, "%s", err.message);
}

/* Measures are called after their piece: "A1.length". A piece "A1.row" beside a piece "A1" could
 * own a measure of the same name as that piece does. */
static void check_dots(struct row_made *row, const struct batch *b, const char *heading) {
    for (const char *dot = strchr(row->piece.id, '.'); dot; dot = strchr(dot + 1, '.')) {
        char before[64];
        snprintf(before, sizeof before, "%.*s", (int)(dot - row->piece.id), row->piece.id);
        if (!names_find(b->ids, before, NULL) && !names_find(b->existing, before, NULL)) continue;
        import_problem_add(row, heading, row->piece.id, false, "a number without a point",
                           "This number reads like something of piece %.40s.", before);
        return;
    }
}

static void check_ids(struct row_made *row, const struct batch *b, size_t r) {
    const char *heading = import_heading(b->reading, IMPORT_ID, FIELD_UNKNOWN);
    if (b->first_of[r] != r)
        import_problem_add(row, heading, row->piece.id, false,
                           "a number of its own; or say that it is a second reading",
                           "This number stands already in row %ld.",
                           b->table->rows[b->first_of[r]].line);
    else if (*row->piece.id && exists(b, row))
        import_problem_add(row, heading, row->piece.id, false,
                           "a number of its own; or change the piece that is there",
                           "This number is in the project already.");
    check_dots(row, b, heading);
}

static struct set_aside hold(const struct batch *b, const struct csv_row *csv,
                             const struct row_made *row, struct arena *arena, bool *memory) {
    struct set_aside s;
    field_unknown(&set_aside_kind, &s);
    s.id = arena_printf(arena, "%s.r%ld", b->file, csv->line);
    s.file = b->file;
    s.row = csv->line;
    s.headings = (struct texts){b->reading->heading->n, b->reading->heading->cells};
    s.cells = (struct texts){csv->n, csv->cells};
    s.problems = (struct records){row->problem_count, row->problems};
    if (!s.id) *memory = true;
    return s;
}

static void one_row(struct batch *b, struct chunk *c, size_t r, size_t place) {
    struct row_made row;
    struct reading reading = *b->reading;
    if (r + 1 < b->table->n)
        reading.next_id = import_cell(&reading, &b->table->rows[r + 1], IMPORT_ID, FIELD_UNKNOWN);
    const struct csv_row *csv = &b->table->rows[r];
    import_row(&row, &reading, csv, c->arena);
    if (row.memory) {
        c->memory = true;
        return;
    }
    check_ids(&row, b, r);
    import_groups_check(&row, b->groups, &reading, csv);
    if (row.problem_count == 0) check_kinds(&row);
    c->rows[place] = (struct row_summary){.held = row.problem_count > 0,
                                          .part = row.piece.part,
                                          .state = row.state,
                                          .length = row.size[QUANTITY_LENGTH]};
    if (row.remark_count && c->remark_count < CHUNK) c->remarks[c->remark_count++] = row.remarks[0];
    if (row.problem_count) {
        c->held[c->held_count++] = hold(b, csv, &row, c->arena, &c->memory);
    } else {
        make_ready(c, b, PIECES, row.piece.id, &row.piece);
        for (size_t i = 0; i < row.mark_count; i++)
            make_ready(c, b, MARKS, row.marks[i].id, &row.marks[i]);
        for (size_t i = 1; i < row.measure_count; i++)
            make_ready(c, b, MEASURES, row.measures[i].id, &row.measures[i]);
    }
    c->memory |= row.memory;
}

static void make_chunk(struct chunk *c, struct batch *b, size_t begin, size_t end) {
    c->held_count = c->remark_count = 0;
    for (int k = 0; k < LISTS; k++)
        c->lists[k].n = c->lists[k].text.n = 0;
    c->n_rows = end - begin;
    c->arena = arena_new();
    if (!c->arena) {
        c->memory = true;
        return;
    }
    for (size_t r = begin; r < end && !c->memory; r++)
        one_row(b, c, r, r - begin);
    for (int k = 0; k < LISTS && !c->memory; k++)
        tell_bodies(&c->lists[k]);
}

/* ---- storing
 * -------------------------------------------------------------------------------------------- */

struct storing {
    struct record *record;
    struct import_report *out;
    struct arena *arena; /* the caller's */
    struct import_totals totals;
    struct set_aside *told; /* [MOST_TOLD] */
    const char **remarks;   /* [MOST_TOLD] */
};

static int copy_texts(struct texts *to, const struct texts *from, struct arena *arena) {
    const char **v = ARENA_NEW(arena, const char *, from->n);
    for (size_t i = 0; v && i < from->n; i++)
        if (!(v[i] = arena_strdup(arena, from->v[i]))) return -1;
    *to = (struct texts){from->n, v};
    return v ? 0 : -1;
}

/* Copies a row set aside into the caller's arena. */
static int tell_held(struct set_aside *to, const struct set_aside *from, struct arena *arena,
                     struct error *err) {
    *to = *from;
    to->id = arena_strdup(arena, from->id);
    to->file = arena_strdup(arena, from->file);
    struct import_problem *p = ARENA_NEW(arena, struct import_problem, from->problems.n);
    const struct import_problem *q = from->problems.v;
    bool ok = to->id && to->file && p && copy_texts(&to->headings, &from->headings, arena) == 0 &&
              copy_texts(&to->cells, &from->cells, arena) == 0;
    for (size_t i = 0; ok && i < from->problems.n; i++) {
        p[i] = (struct import_problem){
            arena_strdup(arena, q[i].column), arena_strdup(arena, q[i].value),
            arena_strdup(arena, q[i].reason), arena_strdup(arena, q[i].suggestion), q[i].doubt};
        ok = p[i].column && p[i].value && p[i].reason && (p[i].suggestion || !q[i].suggestion);
    }
    to->problems = (struct records){from->problems.n, p};
    return ok ? 0 : fail_memory(err);
}

static int store_chunk(struct storing *s, struct chunk *c, struct error *err) {
    int rc = c->memory ? fail_memory(err) : 0;
    for (int k = 0; k < LISTS && !rc; k++)
        rc = record_append_new(s->record, c->lists[k].v, c->lists[k].n, err);
    s->out->pieces += (long)c->lists[PIECES].n;
    s->out->marks += (long)c->lists[MARKS].n;
    s->out->measures += (long)c->lists[MEASURES].n;
    for (size_t i = 0; i < c->held_count && !rc; i++) {
        rc = record_put_struct(s->record, &set_aside_kind, c->held[i].id, &c->held[i], NULL, err);
        if (!rc && s->out->held_rows.n < MOST_TOLD)
            rc = tell_held(&s->told[s->out->held_rows.n++], &c->held[i], s->arena, err);
    }
    for (size_t i = 0; i < c->n_rows && !rc; i++) {
        s->out->rows++;
        if (c->rows[i].held)
            s->out->held++;
        else
            s->out->accepted++;
        rc = import_total_add(&s->totals, &c->rows[i], s->arena, err);
    }
    for (size_t i = 0; i < c->remark_count && !rc && s->out->remarks.n < MOST_TOLD; i++) {
        char *copy = arena_strdup(s->arena, c->remarks[i]);
        if (!copy) return fail_memory(err);
        s->remarks[s->out->remarks.n++] = copy;
    }
    return rc;
}

/* One turn: the rows [begin, end) are made ready in `making` while `stored`, those of the turn
 * before, go into the file. */
struct turn {
    struct storing *storing;
    struct batch *batch;
    size_t begin, end;
    struct chunk *making, *stored; /* [BATCH / CHUNK] */
    size_t n_stored;
    int rc;
    struct error *err;
};

static void store_turn(struct turn *t) {
    for (size_t i = 0; i < t->n_stored; i++) {
        if (!t->rc) t->rc = store_chunk(t->storing, &t->stored[i], t->err);
        arena_free(t->stored[i].arena);
        t->stored[i].arena = NULL;
    }
}

/* Item 0 stores, the others make a chunk each. */
static void turn_body(size_t item, size_t next, size_t index, void *context) {
    (void)next, (void)index;
    struct turn *t = context;
    if (item == 0) {
        store_turn(t);
        return;
    }
    size_t begin = t->begin + (item - 1) * CHUNK, end = begin + CHUNK;
    make_chunk(&t->making[item - 1], t->batch, begin, end < t->end ? end : t->end);
}

static void free_chunks(struct chunk *chunks, size_t n) {
    for (size_t i = 0; i < n && chunks; i++) {
        arena_free(chunks[i].arena);
        for (int k = 0; k < LISTS; k++) {
            canon_text_free(&chunks[i].lists[k].text);
            mem_free(chunks[i].lists[k].v);
        }
    }
    mem_free(chunks);
}

static int store_rows(struct storing *s, struct batch *b, struct error *err) {
    size_t most = parallel_chunks(BATCH, CHUNK);
    struct turn t = {.storing = s, .batch = b, .begin = 1, .err = err};
    t.making = MEM_NEW(struct chunk, most);
    t.stored = MEM_NEW(struct chunk, most);
    if (!t.making || !t.stored) t.rc = fail_memory(err);
    while (!t.rc && (t.begin < b->table->n || t.n_stored)) {
        size_t left = b->table->n - t.begin, n = left < BATCH ? left : BATCH;
        size_t chunks = n ? parallel_chunks(n, CHUNK) : 0;
        t.end = t.begin + n;
        parallel_for(1 + chunks, 1, turn_body, &t);
        struct chunk *made = t.making;
        t.making = t.stored;
        t.stored = made;
        t.n_stored = chunks;
        t.begin = t.end;
    }
    free_chunks(t.making, most);
    free_chunks(t.stored, most);
    return t.rc;
}

/* ---- ids
 * --------------------------------------------------------------------------------------------------
 */

/* For each row, the row in which its id stands first. */
static int find_repeats(size_t *first_of, struct names *ids, const struct reading *reading,
                        const struct csv_table *table, struct arena *arena, struct error *err) {
    for (size_t r = 1; r < table->n; r++) {
        const char *id =
            cell_trim(import_cell(reading, &table->rows[r], IMPORT_ID, FIELD_UNKNOWN), arena);
        size_t first = r;
        if (!id || (*id && names_add(ids, id, &first) < 0)) return fail_memory(err);
        first_of[r] = first;
    }
    return 0;
}

/* Ids that are in the project already, withdrawn ones too: those go on with their history and are
 * put one by one by a person, not by a list. */
static int find_existing(struct names *out, struct record *record, struct arena *arena,
                         struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record,
                            "SELECT DISTINCT name FROM entry WHERE kind IN "
                            "('piece', 'measure', 'mark')",
                            err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        size_t number = 0;
        char *name = arena_strdup(arena, record_column(s, 0));
        if (!name || names_add(out, name, &number) < 0) rc = fail_memory(err);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

/* ---- the whole
 * --------------------------------------------------------------------------------------------- */

static int refuse_twice(struct record *record, const char *file, struct arena *arena,
                        struct error *err) {
    struct record_entry e;
    bool found;
    int rc = record_entry_get(&e, record, "import_map", file, &found, arena, err);
    if (rc || !found || e.gone) return rc;
    return fail(err, ERR_CONFLICT,
                "Undo that change first, if it is to be brought in anew with another map.",
                "This very list was brought in by %s on %s (change %ld).", e.who, e.when, e.change);
}

static int store_list(struct storing *s, const struct import_list *list, struct batch *b,
                      struct arena *scratch, struct error *err) {
    const char *file;
    int rc = record_file_add(&file, s->record, list->name, "finds list", list->bytes, list->n,
                             s->arena, err);
    if (!rc) rc = refuse_twice(s->record, file, scratch, err);
    if (!rc) rc = record_put_struct(s->record, &import_map_kind, file, b->reading->map, NULL, err);
    if (rc) return rc;
    s->out->file = b->file = file;
    b->change_uuid = s->record->change_uuid;
    for (int k = 0; k < LISTS; k++) {
        b->kinds[k] = (const struct kind *[]){&piece_kind, &mark_kind_kind, &measure_kind}[k];
        b->canon[k] = record_canon(s->record, b->kinds[k]);
        if (!b->canon[k])
            return fail(err, ERR_REFUSED, "Open the project with this kind.",
                        "The project was opened without the kind \"%s\".", b->kinds[k]->name);
    }
    return store_rows(s, b, err);
}

static int import_in_change(struct storing *s, const struct import_list *list, struct batch *b,
                            struct arena *scratch, struct error *err) {
    int rc =
        record_change_begin(s->record, list->who, list->when,
                            list->why && *list->why ? list->why : "finds list brought in", err);
    if (rc) return rc;
    rc = store_list(s, list, b, scratch, err);
    if (rc)
        record_change_rollback(s->record);
    else
        rc = record_change_commit(s->record, &s->out->change, err);
    return rc;
}

static int with_table(struct storing *s, const struct import_list *list, struct arena *scratch,
                      struct error *err) {
    struct csv_table table;
    struct import_map proposed;
    const struct import_map *map = list->map;
    int rc = import_table(&table, list->name, list->bytes, list->n,
                          map ? map->separator : list->separator, scratch, err);
    if (!rc && !map) {
        rc = import_propose(&proposed, &table, list->separator, list->decimal_comma, scratch, err);
        map = &proposed;
    }
    struct reading reading;
    if (!rc) rc = import_resolve(&reading, map, &table, scratch, err);
    if (rc) return rc;
    if (table.n == 1)
        return fail(err, ERR_INPUT, "Look whether the right file was chosen.",
                    "The list has a heading and no rows.");
    size_t *first_of = ARENA_NEW(scratch, size_t, table.n);
    struct names *existing = names_new(), *ids = names_new();
    struct import_groups *groups = import_groups_new(&reading, &table);
    if (!first_of || !existing || !ids || !groups) rc = fail_memory(err);
    if (!rc) rc = find_repeats(first_of, ids, &reading, &table, scratch, err);
    if (!rc) rc = find_existing(existing, s->record, scratch, err);
    struct batch b = {.reading = &reading,
                      .table = &table,
                      .groups = groups,
                      .first_of = first_of,
                      .ids = ids,
                      .existing = existing};
    if (!rc) rc = import_in_change(s, list, &b, scratch, err);
    import_groups_free(groups);
    names_free(existing);
    names_free(ids);
    return rc;
}

int import_finds(struct import_report *out, struct record *record, const struct import_list *list,
                 struct arena *arena, struct error *err) {
    field_unknown(&import_report_kind, out);
    *out = (struct import_report){0};
    struct storing s = {.record = record, .out = out, .arena = arena};
    s.told = ARENA_NEW(arena, struct set_aside, MOST_TOLD);
    s.remarks = ARENA_NEW(arena, const char *, MOST_TOLD);
    out->held_rows.v = s.told;
    out->remarks.v = s.remarks;
    struct arena *scratch = arena_new();
    int rc = import_totals_new(&s.totals, arena, err);
    if (!rc)
        rc = s.told && s.remarks && scratch ? with_table(&s, list, scratch, err) : fail_memory(err);
    out->totals = (struct records){s.totals.n, s.totals.v};
    arena_free(scratch);
    import_totals_free(&s.totals);
    if (rc) *out = (struct import_report){0};
    return rc;
}
