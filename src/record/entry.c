/* entry: putting, withdrawing and reading what people entered. */
#include "base/mem.h"
#include "record/record_private.h"

#include <stdlib.h>
#include <string.h>

/* ---- putting -------------------------------------------------------------------------------- */

enum { LONGEST_ID = 100 };

static int check_id(const char *kind, const char *id, struct error *err) {
    size_t n = id ? strlen(id) : 0;
    bool bad = n == 0 || n > LONGEST_ID;
    for (size_t i = 0; i < n && !bad; i++)
        bad = (unsigned char)id[i] < 0x20 || id[i] == 0x7f;
    if (!bad) return 0;
    return fail(err, ERR_INPUT, "Use a short name, as A12, of one line.",
                "\"%.60s\" cannot be the id of a %s.", id ? id : "", kind);
}

static int unknown_kind(struct record *record, const char *kind, struct error *err) {
    const char *names[200];
    size_t n = 0;
    for (; n < record->n_kinds && n < 200; n++)
        names[n] = record->kinds[n].kind->name;
    const char *near = field_nearest(kind, names, n);
    char remedy[120] = "Look at the list of kinds in the help.";
    if (near) snprintf(remedy, sizeof remedy, "Did you mean \"%s\"?", near);
    return fail(err, ERR_INPUT, remedy, "\"%.60s\" is not a kind of thing known here.", kind);
}

/* Kinds that carry their own id must carry the one they are put under. */
static int check_own_id(const struct kind *kind, const char *id, const void *body,
                        struct error *err) {
    const struct field *f = field_find(kind, "id");
    if (!f || f->type != FIELD_TEXT) return 0;
    const char *own = *(const char *const *)((const char *)body + f->offset);
    if (own && strcmp(own, id) == 0) return 0;
    return fail(err, ERR_INPUT, "Give it the same id in both places.",
                "A %s put as \"%.60s\" calls itself \"%.60s\".", kind->name, id, own ? own : "");
}

int record_put_struct(struct record *record, const struct kind *kind, const char *id,
                      const void *body, long *revision, struct error *err) {
    struct canon_kind *canon = record_canon(record, kind);
    if (!canon) return unknown_kind(record, kind->name, err);
    int rc = check_id(kind->name, id, err);
    if (!rc) rc = check_own_id(kind, id, body, err);
    if (!rc) rc = canon_check(kind, body, err);
    record->text.n = 0;
    record->text.failed = false;
    if (!rc) rc = canon_write(&record->text, canon, body, err);
    if (rc) return rc;
    return record_append(
        record,
        &(struct raw_entry){
            .kind = kind->name, .name = id, .body = record->text.v, .body_size = record->text.n},
        false, revision, err);
}

int record_put(struct record *record, const char *kind, const char *id, const json_t *body,
               long *revision, struct error *err) {
    const struct kind *k = record_kind(record, kind);
    if (!k) return unknown_kind(record, kind, err);
    struct arena *arena = arena_new();
    void *decoded = arena ? arena_alloc(arena, 1, k->size) : NULL;
    json_t *named = NULL;
    if (field_find(k, "id") && json_is_object(body) && !json_object_get(body, "id")) {
        named = json_copy((json_t *)body); /* shallow: only the id is added */
        if (!named || json_object_set_new(named, "id", json_string(id))) {
            json_decref(named);
            arena_free(arena);
            return fail(err, ERR_INPUT, "Use UTF-8.", "The id of this %s cannot be stored.", kind);
        }
    }
    int rc =
        decoded ? field_decode(k, named ? named : body, decoded, arena, err) : fail_memory(err);
    if (!rc) rc = record_put_struct(record, k, id, decoded, revision, err);
    json_decref(named);
    arena_free(arena);
    return rc;
}

int record_put_expected(struct record *record, const char *kind, const char *id, const json_t *body,
                        long expected, long *revision, struct error *err) {
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct record_entry now;
    bool found;
    int rc = record_entry_get(&now, record, kind, id, &found, arena, err);
    long is = found ? now.revision : 0;
    if (!rc && is != expected && !(expected == 0 && found && now.gone)) {
        char *yours = json_dumps(body, JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15));
        error_place(err, NULL, 0, kind, id);
        rc = found ? fail(err, ERR_CONFLICT, "Look at both, and save again what should hold.",
                          "%s %s was changed meanwhile by %s on %s: there %s%.120s, yours %.120s.",
                          kind, id, now.who, now.when, now.gone ? "withdrawn, was " : "", now.body,
                          yours ? yours : "")
                   : fail(err, ERR_MISSING, "Look at the list again.", "There is no %s %s.", kind,
                          id);
        free(yours);
    }
    arena_free(arena);
    return rc ? rc : record_put(record, kind, id, body, revision, err);
}

int record_withdraw(struct record *record, const char *kind, const char *id, struct error *err) {
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct record_entry now;
    int rc = record_get(&now, record, kind, id, arena, err);
    if (!rc)
        rc = record_append(record,
                           &(struct raw_entry){.kind = kind,
                                               .name = id,
                                               .body = now.body,
                                               .body_size = strlen(now.body),
                                               .gone = true},
                           false, NULL, err);
    arena_free(arena);
    return rc;
}

/* ---- reading -------------------------------------------------------------------------------- */

void record_entry_from(struct record_entry *out, sqlite3_stmt *s) {
    *out = (struct record_entry){.revision = sqlite3_column_int64(s, 0),
                                 .supersedes = sqlite3_column_int64(s, 1),
                                 .change = sqlite3_column_int64(s, 2),
                                 .kind = record_column(s, 3),
                                 .id = record_column(s, 4),
                                 .gone = sqlite3_column_int(s, 5),
                                 .body = record_column(s, 6),
                                 .sha256 = record_column(s, 7),
                                 .who = record_column(s, 8),
                                 .when = record_column(s, 9),
                                 .why = record_column(s, 10)};
}

static int copy_entry(struct record_entry *e, struct arena *arena, struct error *err) {
    const char **texts[] = {&e->kind, &e->id, &e->body, &e->sha256, &e->who, &e->when, &e->why};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        if (!(*texts[i] = arena_strdup(arena, *texts[i]))) return fail_memory(err);
    return 0;
}

static int entry_by_revision(struct record_entry *out, struct record *record, long revision,
                             struct arena *arena, struct error *err) {
    sqlite3_stmt *s = record_statement(record, SQL_ENTRY, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_int64(s, 1, revision);
    int rc = sqlite3_step(s) == SQLITE_ROW ? 0 : record_fail(record, "read", err);
    if (!rc) {
        record_entry_from(out, s);
        rc = copy_entry(out, arena, err);
    }
    /* a text that memory did not suffice for came as "": the reset tells */
    if (sqlite3_reset(s) && !rc) rc = record_fail(record, "read", err);
    return rc;
}

int record_entry_get(struct record_entry *out, struct record *record, const char *kind,
                     const char *id, bool *found, struct arena *arena, struct error *err) {
    *found = false;
    sqlite3_stmt *s = record_statement(record, SQL_LATEST, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_text(s, 1, kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, id, -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    long revision = step == SQLITE_ROW ? (long)sqlite3_column_int64(s, 0) : 0;
    sqlite3_reset(s);
    if (step == SQLITE_DONE) return 0;
    if (step != SQLITE_ROW) return record_fail(record, "read", err);
    *found = true;
    return entry_by_revision(out, record, revision, arena, err);
}

int record_get(struct record_entry *out, struct record *record, const char *kind, const char *id,
               struct arena *arena, struct error *err) {
    bool found;
    int rc = record_entry_get(out, record, kind, id, &found, arena, err);
    if (rc) return rc;
    if (!found || out->gone) error_place(err, NULL, 0, NULL, id);
    if (!found)
        return fail(err, ERR_MISSING, "Look at the list for the id as it is written there.",
                    "There is no %s \"%.60s\".", kind, id);
    if (out->gone)
        return fail(err, ERR_MISSING, "Look at its history; undo the withdrawal to have it back.",
                    "%s \"%.60s\" was withdrawn by %s on %s.", kind, id, out->who, out->when);
    return 0;
}

long record_revision(struct record *record) {
    sqlite3_stmt *s;
    if (record_prepare(&s, record, "SELECT coalesce(max(id), 0) FROM entry", NULL)) return 0;
    long id = sqlite3_step(s) == SQLITE_ROW ? (long)sqlite3_column_int64(s, 0) : 0;
    sqlite3_finalize(s);
    return id;
}

/* Runs a query of ENTRY_COLUMNS and hands over each row. */
static int each_row(struct record *record, sqlite3_stmt *s, record_take *take, void *context,
                    struct error *err) {
    int step = SQLITE_DONE, rc = 0;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        struct record_entry e;
        record_entry_from(&e, s);
        rc = take(&e, context, err);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

/* What holds at a revision: the last of each thing, in order of the first of each thing. The
 * query walks the index (kind, name, id); names that repeat stand side by side. */
struct standing {
    long first, last;
};
static int by_first(const void *a, const void *b) {
    long x = ((const struct standing *)a)->first, y = ((const struct standing *)b)->first;
    return (x > y) - (x < y);
}

static int find_standing(struct standing **out, size_t *n, struct record *record, const char *kind,
                         long as_of, struct error *err) {
    sqlite3_stmt *s;
    size_t room = 0;
    *out = NULL;
    *n = 0;
    int rc = record_prepare(&s, record,
                            kind ? "SELECT min(id), max(id) FROM entry WHERE kind = ?1 "
                                   "AND id <= ?2 GROUP BY kind, name"
                                 : "SELECT min(id), max(id) FROM entry WHERE id <= ?2 "
                                   "GROUP BY kind, name",
                            err);
    if (rc) return rc;
    if (kind) sqlite3_bind_text(s, 1, kind, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, as_of > 0 ? as_of : INT64_MAX);
    int step;
    while ((step = sqlite3_step(s)) == SQLITE_ROW) {
        if (*n == room) {
            room = room ? 2 * room : 256;
            struct standing *more = mem_resize(*out, room, sizeof *more);
            if (!more) break;
            *out = more;
        }
        (*out)[(*n)++] = (struct standing){sqlite3_column_int64(s, 0), sqlite3_column_int64(s, 1)};
    }
    if (step == SQLITE_ROW)
        rc = fail_memory(err);
    else if (step != SQLITE_DONE)
        rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    if (*n) qsort(*out, *n, sizeof **out, by_first);
    return rc;
}

int record_each(struct record *record, const char *kind, long as_of, record_take *take,
                void *context, struct error *err) {
    struct standing *list;
    size_t n;
    sqlite3_stmt *s = NULL;
    bool snapshot = !record->in_change && !record->reading;
    int rc = snapshot ? record_read_begin(record, err) : 0;
    if (rc) return rc;
    rc = find_standing(&list, &n, record, kind, as_of, err);
    if (!rc)
        rc = record_prepare(&s, record, "SELECT " ENTRY_COLUMNS ENTRY_FROM "WHERE e.id = ?1", err);
    for (size_t i = 0; i < n && !rc; i++) {
        sqlite3_bind_int64(s, 1, list[i].last);
        if (sqlite3_step(s) != SQLITE_ROW) {
            rc = record_fail(record, "read", err);
            break;
        }
        struct record_entry e;
        record_entry_from(&e, s);
        if (!e.gone) rc = take(&e, context, err);
        if (sqlite3_reset(s) && !rc) rc = record_fail(record, "read", err);
    }
    sqlite3_finalize(s);
    mem_free(list);
    if (snapshot) record_read_end(record);
    return rc;
}

int record_history(struct record *record, const char *kind, const char *id, record_take *take,
                   void *context, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(
        &s, record,
        "SELECT " ENTRY_COLUMNS ENTRY_FROM "WHERE e.kind = ?1 AND e.name = ?2 ORDER BY e.id", err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, id, -1, SQLITE_STATIC);
    return each_row(record, s, take, context, err);
}

int record_change_entries(struct record *record, long change, record_take *take, void *context,
                          struct error *err) {
    sqlite3_stmt *s;
    int rc =
        record_prepare(&s, record,
                       "SELECT " ENTRY_COLUMNS " FROM change c JOIN entry e ON e.id >= c.first "
                       "AND e.id < c.first + c.count WHERE c.id = ?1 ORDER BY e.id",
                       err);
    if (rc) return rc;
    sqlite3_bind_int64(s, 1, change);
    return each_row(record, s, take, context, err);
}

int record_changes(struct record *record, bool backward, size_t most, record_take_change *take,
                   void *context, struct error *err) {
    sqlite3_stmt *s;
    const char *sql = backward ? "SELECT id, uuid, who, made, why, undoes, first, count FROM change"
                                 " ORDER BY id DESC"
                               : "SELECT id, uuid, who, made, why, undoes, first, count FROM change"
                                 " ORDER BY id";
    int rc = record_prepare(&s, record, sql, err), step = SQLITE_DONE;
    if (rc) return rc;
    for (size_t i = 0; !rc && (most == 0 || i < most) && (step = sqlite3_step(s)) == SQLITE_ROW;
         i++) {
        struct record_change c = {.id = sqlite3_column_int64(s, 0),
                                  .uuid = record_column(s, 1),
                                  .who = record_column(s, 2),
                                  .when = record_column(s, 3),
                                  .why = record_column(s, 4),
                                  .undoes = (const char *)sqlite3_column_text(s, 5),
                                  .first = sqlite3_column_int64(s, 6),
                                  .count = sqlite3_column_int64(s, 7)};
        rc = take(&c, context, err);
    }
    if (!rc && step != SQLITE_DONE && step != SQLITE_ROW) rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

/* ---- loading into structs ------------------------------------------------------------------- */

struct loading {
    struct record *record;
    const struct kind *kind;
    struct arena *arena;
    struct canon_text structs; /* [n * kind->size] bytes, grows */
    const char **ids;
    size_t n, room;
    bool holds; /* the kind has FIELD_JSON, so parsed JSON must stay */
};

static bool has_json(const struct kind *kind) {
    for (size_t i = 0; i < kind->n; i++)
        if (kind->fields[i].type == FIELD_JSON ||
            (kind->fields[i].sub && has_json(kind->fields[i].sub)))
            return true;
    return false;
}

static int hold(struct loading *l, json_t *json, struct error *err) {
    if (!l->record->held) l->record->held = json_array();
    if (!l->record->held || json_array_append(l->record->held, json)) return fail_memory(err);
    return 0;
}

static int remember_id(struct loading *l, const char *id, struct error *err) {
    if (l->n == l->room) {
        size_t room = l->room ? 2 * l->room : 64;
        const char **more = mem_resize((void *)l->ids, room, sizeof *more);
        if (!more) return fail_memory(err);
        l->ids = more;
        l->room = room;
    }
    l->ids[l->n] = arena_strdup(l->arena, id);
    return l->ids[l->n] ? 0 : fail_memory(err);
}

static int load_one(const struct record_entry *e, void *context, struct error *err) {
    struct loading *l = context;
    json_error_t je;
    json_t *json = json_loads(e->body, JSON_REJECT_DUPLICATES, &je);
    if (!json) {
        error_place(err, NULL, 0, NULL, e->id);
        return fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                    "%s %s: its stored fields cannot be read (%s).", e->kind, e->id, je.text);
    }
    void *one = arena_alloc(l->arena, 1, l->kind->size);
    int rc = one ? field_decode(l->kind, json, one, l->arena, err) : fail_memory(err);
    if (rc) error_place(err, NULL, 0, NULL, e->id);
    if (!rc && l->holds) rc = hold(l, json, err);
    json_decref(json);
    if (!rc) rc = remember_id(l, e->id, err);
    if (!rc) canon_add(&l->structs, one, l->kind->size);
    if (!rc && l->structs.failed) rc = fail_memory(err);
    l->n += !rc;
    return rc;
}

int record_load(struct records *out, struct texts *ids, struct record *record,
                const struct kind *kind, long as_of, struct arena *arena, struct error *err) {
    *out = (struct records){0};
    if (ids) *ids = (struct texts){0};
    struct loading l = {.record = record, .kind = kind, .arena = arena, .holds = has_json(kind)};
    int rc = record_each(record, kind->name, as_of, load_one, &l, err);
    void *v = rc ? NULL : arena_alloc(arena, l.n, kind->size);
    const char **names = rc ? NULL : ARENA_NEW(arena, const char *, l.n);
    if (!rc && (!v || !names)) rc = fail_memory(err);
    if (!rc) {
        if (l.n) memcpy(v, l.structs.v, l.n * kind->size);
        if (l.n) memcpy((void *)names, (void *)l.ids, l.n * sizeof *names);
        *out = (struct records){l.n, v};
        if (ids) *ids = (struct texts){l.n, names};
    }
    canon_text_free(&l.structs);
    mem_free((void *)l.ids);
    return rc;
}
