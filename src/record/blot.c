/* blot: replacing what is private wherever it is stored, and keeping on record that it was done.
 *
 * The only code that alters a stored row. Steps: gather the private texts from all revisions of the
 * thing; replace them there and in every other entry, in the words of changes, in kept files and
 * seals; drop results; note both hashes of each row; vacuum, so that no free page keeps a copy.
 */
#include "base/mem.h"
#include "record/record_kinds.h"
#include "record/record_private.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/file.h"

static const char put_there[] = "blotted out";

/* Shorter texts are blotted where they stand, but not hunted for elsewhere: they would be found
 * inside other words. */
enum { SHORTEST_HUNTED = 5 };

struct blotting {
    struct record *record;
    struct record_blotted *out;
    struct arena *arena;
    const char *who, *when, *why;
    const struct kind *kind;
    const char *id, *field;
    const char **texts; /* to be hunted for */
    size_t n, room;
    long *revisions; /* rows to be looked at, gathered before any is altered */
    size_t revision_count, revision_room;
    char last[SHA256_TEXT]; /* hash of what replaced a file; never empty */
};

/* ---- on record ------------------------------------------------------------------------------ */

static int note(struct blotting *b, const char *what, const char *target, const char *before,
                const char *after, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, b->record,
                            "INSERT INTO blot(what, target, before, after, who, made, why) "
                            "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                            err);
    if (rc) return rc;
    const char *texts[] = {what, target, before, after, b->who, b->when, b->why};
    for (int i = 0; i < 7; i++)
        sqlite3_bind_text(s, i + 1, texts[i], -1, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(b->record, "note the blotting", err);
    sqlite3_finalize(s);
    return rc;
}

/* ---- gathering the private texts ------------------------------------------------------------ */

static int add_text(struct blotting *b, const char *text, struct error *err) {
    if (strlen(text) < SHORTEST_HUNTED || strcmp(text, put_there) == 0) return 0;
    for (size_t i = 0; i < b->n; i++)
        if (strcmp(b->texts[i], text) == 0) return 0;
    if (b->n == b->room) {
        size_t room = b->room ? 2 * b->room : 16;
        const char **more = mem_resize((void *)b->texts, room, sizeof *more);
        if (!more) return fail_memory(err);
        b->texts = more;
        b->room = room;
    }
    b->texts[b->n] = arena_strdup(b->arena, text);
    return b->texts[b->n] ? (b->n++, 0) : fail_memory(err);
}

static bool concerns(const struct blotting *b, const char *field) {
    return b->field ? strcmp(b->field, field) == 0 : strcmp(field, "id") != 0;
}

static int add_row(struct blotting *b, long revision, struct error *err) {
    if (b->revision_count == b->revision_room) {
        size_t room = b->revision_room ? 2 * b->revision_room : 64;
        long *more = mem_resize(b->revisions, room, sizeof *more);
        if (!more) return fail_memory(err);
        b->revisions = more;
        b->revision_room = room;
    }
    b->revisions[b->revision_count++] = revision;
    return 0;
}

static int gather_one(const struct record_entry *e, void *context, struct error *err) {
    struct blotting *b = context;
    json_t *body = json_loads(e->body, 0, NULL), *value;
    const char *key;
    int rc = body ? add_row(b, e->revision, err) : fail_memory(err);
    json_object_foreach(body, key, value) {
        const struct field *f = field_find(b->kind, key);
        if (rc || !f || f->refers || !concerns(b, key)) continue;
        if (f->type == FIELD_TEXT && json_is_string(value))
            rc = add_text(b, json_string_value(value), err);
        for (size_t i = 0; f->type == FIELD_TEXTS && i < json_array_size(value) && !rc; i++)
            rc = add_text(b, json_string_value(json_array_get(value, i)), err);
    }
    json_decref(body);
    return rc;
}

/* ---- entries -------------------------------------------------------------------------------- */

/* Stores another body under the row and notes both hashes. */
static int rewrite(struct blotting *b, long revision, const char *body, struct error *err) {
    sqlite3_stmt *s;
    int rc =
        record_prepare(&s, b->record,
                       "SELECT e.kind, e.name, e.gone, e.sha256, e.id - c.first, c.uuid, "
                       "bc.uuid, o.id - bc.first FROM entry e JOIN change c ON c.id = e.change "
                       "LEFT JOIN entry o ON o.id = e.supersedes LEFT JOIN change bc ON "
                       "bc.id = o.change WHERE e.id = ?1",
                       err);
    if (rc) return rc;
    sqlite3_bind_int64(s, 1, revision);
    char hash[SHA256_TEXT], before[SHA256_TEXT], target[80];
    if (sqlite3_step(s) == SQLITE_ROW) {
        struct entry_hashed e = {.kind = record_column(s, 0),
                                 .name = record_column(s, 1),
                                 .gone = sqlite3_column_int(s, 2),
                                 .nth = sqlite3_column_int64(s, 4),
                                 .change_uuid = record_column(s, 5),
                                 .before_uuid = record_column(s, 6),
                                 .before_nth = sqlite3_column_int64(s, 7),
                                 .body = body,
                                 .body_size = strlen(body)};
        record_entry_hash(&e, hash);
        snprintf(before, sizeof before, "%s", record_column(s, 3));
        snprintf(target, sizeof target, "%s:%ld", e.change_uuid, e.nth);
    } else
        rc = record_fail(b->record, "blot out", err);
    sqlite3_finalize(s);
    if (rc || strcmp(hash, before) == 0) return rc;
    if ((rc = record_prepare(&s, b->record, "UPDATE entry SET body = ?2, sha256 = ?3 WHERE id = ?1",
                             err)))
        return rc;
    sqlite3_bind_int64(s, 1, revision);
    sqlite3_bind_text(s, 2, body, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 3, hash, -1, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(b->record, "blot out", err);
    sqlite3_finalize(s);
    b->out->entries++;
    return rc ? rc : note(b, "entry", target, before, hash, err);
}

static int rewrite_json(struct blotting *b, long revision, const json_t *body, struct error *err) {
    struct canon_text text = {0};
    int rc = canon_write_json(&text, body, err);
    if (!rc) rc = rewrite(b, revision, text.v, err);
    canon_text_free(&text);
    return rc;
}

static int body_of(json_t **out, struct blotting *b, long revision, struct error *err) {
    *out = NULL;
    sqlite3_stmt *s = record_statement(b->record, SQL_ENTRY, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_int64(s, 1, revision);
    int rc = 0;
    if (sqlite3_step(s) != SQLITE_ROW) rc = record_fail(b->record, "blot out", err);
    if (!rc && !(*out = json_loads(record_column(s, 6), 0, NULL)))
        rc = fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                  "A stored row cannot be read.");
    sqlite3_reset(s);
    return rc;
}

/* The thing itself: texts give way to two words, numbers and the rest are taken out. */
static int blot_row(struct blotting *b, long revision, struct error *err) {
    json_t *body;
    int rc = body_of(&body, b, revision, err);
    for (size_t i = 0; i < b->kind->n && !rc; i++) {
        const struct field *f = &b->kind->fields[i];
        if (!concerns(b, f->name) || !json_object_get(body, f->name)) continue;
        if (f->type == FIELD_TEXT && !f->refers)
            rc = json_object_set_new(body, f->name, json_string(put_there)) ? fail_memory(err) : 0;
        else if (!f->required)
            json_object_del(body, f->name);
        else if (b->field)
            rc = fail(err, ERR_REFUSED, "Put another value there first, then blot out the whole.",
                      "A %s cannot be without its %s.", b->kind->name, f->name);
    }
    if (!rc) rc = rewrite_json(b, revision, body, err);
    json_decref(body);
    return rc;
}

/* ---- the same texts elsewhere --------------------------------------------------------------- */

/* `text` with every hunted text replaced; NULL when there is none in it (or memory is gone, which
 * canon_text tells). */
static bool replace(struct canon_text *out, struct blotting *b, const char *text) {
    bool any = false;
    out->n = 0;
    while (*text) {
        const char *hit = NULL;
        size_t length = 0;
        for (size_t i = 0; i < b->n; i++) {
            const char *at = strstr(text, b->texts[i]);
            if (at && (!hit || at < hit || (at == hit && strlen(b->texts[i]) > length))) {
                hit = at;
                length = strlen(b->texts[i]);
            }
        }
        if (!hit) break;
        canon_add(out, text, (size_t)(hit - text));
        canon_add(out, put_there, strlen(put_there));
        text = hit + length;
        any = true;
    }
    canon_add(out, text, strlen(text));
    return any;
}

/* Replaces inside all strings of the value but ids. Returns how many were altered. */
static size_t replace_in(struct blotting *b, json_t *json, struct canon_text *scratch) {
    size_t altered = 0;
    const char *key;
    json_t *value;
    if (json_is_string(json) && replace(scratch, b, json_string_value(json)) && !scratch->failed) {
        if (json_string_set(json, scratch->v)) scratch->failed = true;
        altered++;
    }
    for (size_t i = 0; i < json_array_size(json); i++)
        altered += replace_in(b, json_array_get(json, i), scratch);
    if (json_is_object(json))
        json_object_foreach(json, key, value) if (strcmp(key, "id") != 0) altered +=
            replace_in(b, value, scratch);
    return altered;
}

/* Rows whose stored text holds a hunted text, found by SQL with the text as JSON has it. */
static int find_rows(struct blotting *b, const char *sql, struct error *err) {
    b->revision_count = 0;
    for (size_t i = 0; i < b->n; i++) {
        struct canon_text escaped = {0};
        canon_add_string(&escaped, b->texts[i]);
        if (escaped.failed) return fail_memory(err);
        sqlite3_stmt *s;
        int rc = record_prepare(&s, b->record, sql, err), step = SQLITE_DONE;
        if (!rc) sqlite3_bind_text(s, 1, escaped.v + 1, (int)escaped.n - 2, SQLITE_TRANSIENT);
        canon_text_free(&escaped);
        while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW)
            rc = add_row(b, sqlite3_column_int64(s, 0), err);
        if (!rc && step != SQLITE_DONE) rc = record_fail(b->record, "blot out", err);
        sqlite3_finalize(s);
        if (rc) return rc;
    }
    return 0;
}

static int blot_other_entries(struct blotting *b, struct error *err) {
    struct canon_text scratch = {0};
    int rc = find_rows(b, "SELECT id FROM entry WHERE instr(body, ?1) ORDER BY id", err);
    for (size_t i = 0; i < b->revision_count && !rc; i++) {
        json_t *body;
        rc = body_of(&body, b, b->revisions[i], err);
        bool altered = !rc && replace_in(b, body, &scratch) > 0;
        if (!rc && scratch.failed) rc = fail_memory(err);
        if (!rc && altered) rc = rewrite_json(b, b->revisions[i], body, err);
        json_decref(body);
    }
    if (!rc && scratch.failed) rc = fail_memory(err);
    canon_text_free(&scratch);
    return rc;
}

/* ---- words of changes ----------------------------------------------------------------------- */

/* The hash of a change as it stands, from its own words and its entries' first hashes. */
static int rehash_change(struct blotting *b, long id, char out[SHA256_TEXT], struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(
        &s, b->record,
        "SELECT c.uuid, c.who, c.made, c.why, coalesce(c.undoes, ''), c.count, coalesce((SELECT "
        "b.before FROM blot b WHERE b.what = 'entry' AND b.target = c.uuid || ':' || "
        "(e.id - c.first) ORDER BY b.id LIMIT 1), e.sha256) FROM change c JOIN entry e ON "
        "e.id >= c.first AND e.id < c.first + c.count WHERE c.id = ?1 ORDER BY e.id",
        err);
    if (rc) return rc;
    sqlite3_bind_int64(s, 1, id);
    struct sha256 hash;
    long count = -1;
    int step;
    while ((step = sqlite3_step(s)) == SQLITE_ROW) {
        if (count < 0)
            record_change_hash_begin(&hash, record_column(s, 0), record_column(s, 1),
                                     record_column(s, 2), record_column(s, 3), record_column(s, 4));
        count = sqlite3_column_int64(s, 5);
        sha256_add(&hash, record_column(s, 6), SHA256_TEXT - 1);
    }
    if (step != SQLITE_DONE || count < 0)
        rc = record_fail(b->record, "blot out", err);
    else
        record_change_hash_end(&hash, count, out);
    sqlite3_finalize(s);
    return rc;
}

static int set_change(struct blotting *b, long id, const char *column, const char *value,
                      struct error *err) {
    char *sql =
        sqlite3_mprintf("UPDATE change SET %s = %Q WHERE id = %lld", column, value, (long long)id);
    int rc = sql ? record_run(b->record, sql, err) : fail_memory(err);
    sqlite3_free(sql);
    return rc;
}

static int blot_change(struct blotting *b, long id, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, b->record,
                            "SELECT uuid, sha256, who, why FROM change WHERE id = ?1", err);
    if (rc) return rc;
    sqlite3_bind_int64(s, 1, id);
    struct canon_text who = {0}, why = {0};
    char uuid[RECORD_UUID] = "", before[SHA256_TEXT] = "", after[SHA256_TEXT];
    bool altered = false;
    if (sqlite3_step(s) == SQLITE_ROW) {
        snprintf(uuid, sizeof uuid, "%s", record_column(s, 0));
        snprintf(before, sizeof before, "%s", record_column(s, 1));
        altered = replace(&who, b, record_column(s, 2));
        altered |= replace(&why, b, record_column(s, 3));
    } else
        rc = record_fail(b->record, "blot out", err);
    sqlite3_finalize(s);
    if (!rc && (who.failed || why.failed)) rc = fail_memory(err);
    if (!rc && altered) {
        rc = set_change(b, id, "who", who.v, err);
        if (!rc) rc = set_change(b, id, "why", why.v, err);
        if (!rc) rc = rehash_change(b, id, after, err);
        if (!rc) rc = set_change(b, id, "sha256", after, err);
        if (!rc) rc = note(b, "change", uuid, before, after, err);
    }
    canon_text_free(&who);
    canon_text_free(&why);
    return rc;
}

/* After the hash of a change was altered, the chain is laid anew. */
static int relink(struct blotting *b, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, b->record, "SELECT id, sha256 FROM change ORDER BY id", err), step;
    if (rc) return rc;
    char link[SHA256_TEXT] = "", next[SHA256_TEXT];
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        record_link_hash(link, record_column(s, 1), next);
        strcpy(link, next);
        rc = set_change(b, sqlite3_column_int64(s, 0), "link", link, err);
    }
    sqlite3_finalize(s);
    return rc;
}

static int blot_changes(struct blotting *b, struct error *err) {
    b->revision_count = 0;
    for (size_t i = 0; i < b->n; i++) {
        sqlite3_stmt *s;
        int rc = record_prepare(
            &s, b->record, "SELECT id FROM change WHERE instr(who, ?1) OR instr(why, ?1)", err);
        if (rc) return rc;
        sqlite3_bind_text(s, 1, b->texts[i], -1, SQLITE_STATIC);
        while (!rc && sqlite3_step(s) == SQLITE_ROW)
            rc = add_row(b, sqlite3_column_int64(s, 0), err);
        sqlite3_finalize(s);
        if (rc) return rc;
    }
    int rc = 0;
    for (size_t i = 0; i < b->revision_count && !rc; i++)
        rc = blot_change(b, b->revisions[i], err);
    return rc || b->revision_count == 0 ? rc : relink(b, err);
}

/* ---- kept files ----------------------------------------------------------------------------- */

/* Entries that name a kept file by its old hash learn the new one, in every revision. */
static int rename_kept(struct blotting *b, const char *before, const char *after, long size,
                       struct error *err) {
    sqlite3_stmt *s;
    b->revision_count = 0;
    int rc = record_prepare(&s, b->record,
                            "SELECT id FROM entry WHERE kind = 'file' AND instr(body, ?1)", err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, before, -1, SQLITE_STATIC);
    while (!rc && sqlite3_step(s) == SQLITE_ROW)
        rc = add_row(b, sqlite3_column_int64(s, 0), err);
    sqlite3_finalize(s);
    for (size_t i = 0; i < b->revision_count && !rc; i++) {
        json_t *body;
        rc = body_of(&body, b, b->revisions[i], err);
        if (!rc) {
            bool gone = json_object_set_new(body, "sha256", json_string(after)) ||
                        json_object_set_new(body, "size", json_integer(size));
            rc = gone ? fail_memory(err) : rewrite_json(b, b->revisions[i], body, err);
        }
        json_decref(body);
    }
    return rc;
}

static int replace_kept(struct blotting *b, const char *before, const char *bytes, size_t n,
                        struct error *err) {
    char after[SHA256_TEXT];
    sha256_text(bytes, n, after);
    sqlite3_stmt *s;
    int rc = record_prepare(
        &s, b->record, "UPDATE kept SET sha256 = ?2, size = ?3, bytes = ?4 WHERE sha256 = ?1", err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, before, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, after, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 3, (sqlite3_int64)n);
    sqlite3_bind_blob64(s, 4, bytes, n, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(b->record, "blot out", err);
    sqlite3_finalize(s);
    b->out->files++;
    if (!rc) rc = note(b, "kept", before, before, after, err);
    return rc ? rc : rename_kept(b, before, after, (long)n, err);
}

/* A table of text is searched byte by byte; in what is packed nobody can look. */
static bool is_plain(const char *media) {
    return strncmp(media, "text/", 5) == 0 || strcmp(media, "application/json") == 0 ||
           strcmp(media, "model/ply") == 0;
}

static size_t strike_out(struct blotting *b, char *bytes, size_t n) {
    size_t hits = 0;
    for (size_t i = 0; i < b->n; i++) {
        size_t length = strlen(b->texts[i]);
        for (char *at = bytes; (at = memmem(at, n - (size_t)(at - bytes), b->texts[i], length));
             hits++, at += length)
            memset(at, '#', length);
    }
    return hits;
}

static int add_unseen(struct blotting *b, const char *name, struct error *err) {
    struct texts *list = &b->out->unseen;
    const char **more = ARENA_NEW(b->arena, const char *, list->n + 1);
    char *copy = arena_strdup(b->arena, name);
    if (!more || !copy) return fail_memory(err);
    if (list->n) memcpy((void *)more, (const void *)list->v, list->n * sizeof *more);
    more[list->n] = copy;
    *list = (struct texts){list->n + 1, more};
    return 0;
}

static int search_file(const struct record_entry *e, void *context, struct error *err) {
    struct blotting *b = context;
    json_t *body = json_loads(e->body, 0, NULL);
    const char *hash = json_string_value(json_object_get(body, "sha256"));
    const char *media = json_string_value(json_object_get(body, "media"));
    const char *name = json_string_value(json_object_get(body, "name"));
    struct arena *arena = arena_new();
    const char *bytes;
    size_t n;
    int rc =
        arena && hash ? record_kept_get(&bytes, &n, b->record, hash, arena, err) : fail_memory(err);
    if (!rc && !is_plain(media ? media : ""))
        rc = add_unseen(b, name ? name : e->id, err);
    else if (!rc) {
        char *copy = arena_copy(arena, bytes, n);
        if (!copy)
            rc = fail_memory(err);
        else if (strike_out(b, copy, n))
            rc = replace_kept(b, hash, copy, n, err);
    }
    arena_free(arena);
    json_decref(body);
    return rc;
}

/* A file that is itself the private thing: its bytes in every revision give way. */
static int blot_file(const struct record_entry *e, void *context, struct error *err) {
    struct blotting *b = context;
    if (strstr(e->body, b->last)) return 0; /* an earlier revision had the same bytes */
    json_t *body = json_loads(e->body, 0, NULL);
    const char *hash = json_string_value(json_object_get(body, "sha256"));
    char line[120];
    int n = snprintf(line, sizeof line, "%s: %s\n", put_there, hash ? hash : "");
    int rc = hash ? replace_kept(b, hash, line, (size_t)n, err) : fail_memory(err);
    sha256_text(line, (size_t)n, b->last);
    json_decref(body);
    return rc;
}

/* ---- seals ---------------------------------------------------------------------------------- */

static int blot_seal(struct blotting *b, long id, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, b->record,
                            "SELECT uuid, kind, name, who, made, body, sha256, link FROM seal "
                            "WHERE id = ?1",
                            err);
    if (rc) return rc;
    sqlite3_bind_int64(s, 1, id);
    struct canon_text scratch = {0}, text = {0};
    char hash[SHA256_TEXT];
    if (sqlite3_step(s) != SQLITE_ROW) rc = record_fail(b->record, "blot out", err);
    json_t *body = rc ? NULL : json_loads(record_column(s, 5), JSON_DECODE_ANY, NULL);
    if (!rc && !body) rc = fail_memory(err);
    if (!rc && replace_in(b, body, &scratch)) {
        rc = scratch.failed ? fail_memory(err) : canon_write_json(&text, body, err);
        struct record_seal seal = {.uuid = record_column(s, 0),
                                   .kind = record_column(s, 1),
                                   .name = record_column(s, 2),
                                   .who = record_column(s, 3),
                                   .when = record_column(s, 4),
                                   .body = text.v};
        if (!rc) record_seal_hash(&seal, record_column(s, 7), hash);
        char *sql = rc ? NULL
                       : sqlite3_mprintf("UPDATE seal SET body = %Q, sha256 = %Q WHERE id = %lld",
                                         text.v, hash, (long long)id);
        if (!rc) rc = sql ? record_run(b->record, sql, err) : fail_memory(err);
        sqlite3_free(sql);
        if (!rc) rc = note(b, "seal", seal.uuid, record_column(s, 6), hash, err);
        b->out->seals++;
    }
    sqlite3_finalize(s);
    json_decref(body);
    canon_text_free(&scratch);
    canon_text_free(&text);
    return rc;
}

static int blot_seals(struct blotting *b, struct error *err) {
    int rc = find_rows(b, "SELECT id FROM seal WHERE instr(body, ?1) ORDER BY id", err);
    for (size_t i = 0; i < b->revision_count && !rc; i++)
        rc = blot_seal(b, b->revisions[i], err);
    return rc;
}

/* ---- the whole ------------------------------------------------------------------------------ */

static int all_steps(struct blotting *b, struct error *err) {
    bool is_file = strcmp(b->kind->name, "file") == 0 && !b->field;
    int rc = record_history(b->record, b->kind->name, b->id, gather_one, b, err);
    if (!rc && b->revision_count == 0)
        rc = fail(err, ERR_MISSING, "Look at the list for the id as it is written there.",
                  "There is no %s \"%.60s\".", b->kind->name, b->id);
    if (!rc && is_file) {
        b->n = 0; /* its name and hash are not hunted for: the bytes go */
        return record_history(b->record, "file", b->id, blot_file, b, err);
    }
    for (size_t i = 0; i < b->revision_count && !rc; i++)
        rc = blot_row(b, b->revisions[i], err);
    if (!rc) rc = blot_other_entries(b, err);
    if (!rc) rc = blot_changes(b, err);
    if (!rc && b->n) rc = record_each(b->record, "file", 0, search_file, b, err);
    if (!rc) rc = blot_seals(b, err);
    return rc;
}

/* Copies beside the project that still hold what was blotted out. */
static int name_backups(struct blotting *b, struct error *err) {
    char *folder = file_parent(b->record->path, b->arena);
    const char *name = file_name(b->record->path);
    DIR *dir = folder ? opendir(folder) : NULL;
    if (!dir) return folder ? 0 : fail_memory(err);
    struct texts *list = &b->out->backups;
    const struct dirent *d;
    int rc = 0;
    while (!rc && (d = readdir(dir))) {
        size_t n = strlen(name);
        if (strncmp(d->d_name, name, n) != 0 || strncmp(d->d_name + n, ".bak", 4) != 0) continue;
        const char **more = ARENA_NEW(b->arena, const char *, list->n + 1);
        char *copy = arena_strdup(b->arena, d->d_name);
        if (!more || !copy) {
            rc = fail_memory(err);
            break;
        }
        if (list->n) memcpy((void *)more, (const void *)list->v, list->n * sizeof *more);
        more[list->n] = copy;
        *list = (struct texts){list->n + 1, more};
    }
    closedir(dir);
    return rc;
}

static int check_request(struct blotting *b, const char *kind, struct error *err) {
    if (b->record->in_change)
        return fail(err, ERR_REFUSED, "End the open change first.", "A change is open.");
    if (!b->who || !*b->who || !b->when || !*b->when || !b->why || !*b->why)
        return fail(err, ERR_MISSING, "Say who asks for it, when and why.",
                    "Blotting out needs a name, a time and a reason.");
    if (!b->kind)
        return fail(err, ERR_INPUT, "Look at the list of kinds.", "\"%.60s\" is not a kind.", kind);
    if (b->field && (!field_find(b->kind, b->field) || strcmp(b->field, "id") == 0))
        return fail(err, ERR_INPUT, "Look at the fields of this kind.",
                    "\"%.60s\" of a %s cannot be blotted out.", b->field, kind);
    return record_check_writable(b->record, err);
}

int record_blot(struct record_blotted *out, struct record *record, const char *kind, const char *id,
                const char *field, const char *who, const char *when, const char *why,
                struct arena *arena, struct error *err) {
    *out = (struct record_blotted){0};
    struct blotting b = {.record = record,
                         .out = out,
                         .arena = arena,
                         .who = who,
                         .when = when,
                         .why = why,
                         .kind = record_kind(record, kind),
                         .id = id,
                         .field = field,
                         .last = "none"};
    int rc = check_request(&b, kind, err);
    if (rc) return rc;
    record_read_end(record);
    rc = record_run(record, "BEGIN IMMEDIATE", err);
    if (rc) return rc;
    record->reading = true; /* one snapshot already: record_each opens no other */
    rc = all_steps(&b, err);
    record->reading = false;
    if (!rc) rc = record_run(record, "DELETE FROM result", err);
    if (!rc) rc = record_note_last(record, err);
    if (!rc) rc = record_run(record, "COMMIT", err);
    if (rc) sqlite3_exec(record->db, "ROLLBACK", NULL, NULL, NULL);
    if (!rc) rc = record_run(record, "VACUUM", err); /* no free page keeps a copy */
    if (!rc) rc = name_backups(&b, err);
    mem_free((void *)b.texts);
    mem_free(b.revisions);
    return rc;
}
