/* verify: what each hash is made of, and looking whether they still fit. */
#include "base/mem.h"
#include "record/record_private.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- hashes --------------------------------------------------------------------------------- */

/* Each part goes in with the 0 behind it, so that no two lists of parts give the same bytes. */
static void add_part(struct sha256 *s, const char *text) {
    sha256_add(s, text, strlen(text) + 1);
}

static void add_number_part(struct sha256 *s, long v) {
    char digits[24] = {
        (char)('0' + v % 10)}; /* most are 0: printing them costs more than hashing */
    int n = v >= 0 && v < 10 ? 1 : snprintf(digits, sizeof digits, "%ld", v);
    sha256_add(s, digits, (size_t)n + 1);
}

static void end(struct sha256 *s, char out[SHA256_TEXT]) {
    unsigned char hash[SHA256_BYTES];
    sha256_end(s, hash);
    sha256_hex(hash, out);
}

void record_entry_hash(const struct entry_hashed *e, char out[SHA256_TEXT]) {
    struct sha256 s;
    sha256_begin(&s);
    add_part(&s, "entry 1");
    add_part(&s, e->change_uuid);
    add_part(&s, e->kind);
    add_part(&s, e->name);
    add_part(&s, e->before_uuid);
    add_number_part(&s, e->before_nth);
    add_number_part(&s, e->gone);
    sha256_add(&s, e->body, e->body_size);
    end(&s, out);
}

void record_change_hash_begin(struct sha256 *s, const char *uuid, const char *who, const char *when,
                              const char *why, const char *undoes) {
    sha256_begin(s);
    add_part(s, "change 1");
    add_part(s, uuid);
    add_part(s, who);
    add_part(s, when);
    add_part(s, why);
    add_part(s, undoes);
}

void record_change_hash_end(struct sha256 *s, long count, char out[SHA256_TEXT]) {
    add_number_part(s, count);
    end(s, out);
}

void record_link_hash(const char *before, const char *change_hash, char out[SHA256_TEXT]) {
    struct sha256 s;
    sha256_begin(&s);
    add_part(&s, "link 1");
    add_part(&s, before);
    add_part(&s, change_hash);
    end(&s, out);
}

void record_seal_hash(const struct record_seal *seal, const char *link, char out[SHA256_TEXT]) {
    struct sha256 s;
    sha256_begin(&s);
    add_part(&s, "seal 1");
    add_part(&s, seal->uuid);
    add_part(&s, seal->kind);
    add_part(&s, seal->name);
    add_part(&s, seal->who);
    add_part(&s, seal->when);
    add_part(&s, link);
    add_part(&s, seal->body);
    end(&s, out);
}

void record_result_hash(const char *stage, const char *key, const char *body,
                        char out[SHA256_TEXT]) {
    struct sha256 s;
    sha256_begin(&s);
    add_part(&s, "result 1");
    add_part(&s, stage);
    add_part(&s, key);
    add_part(&s, body);
    end(&s, out);
}

/* ---- looking -------------------------------------------------------------------------------- */

struct looking {
    struct record *record;
    struct record_checked *out;
    record_take_fault *take;
    void *context;
    struct error *err;
};

static int tell(struct looking *l, const struct record_fault *fault) {
    l->out->faults++;
    return l->take ? l->take(fault, l->context, l->err) : 0;
}

static int tell_row(struct looking *l, const char *what, const char *kind, const char *id,
                    long revision, const char *detail) {
    return tell(l,
                &(struct record_fault){
                    .what = what, .kind = kind, .id = id, .revision = revision, .detail = detail});
}

static int look_structure(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record, "PRAGMA quick_check", l->err), step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW)
        if (strcmp(record_column(s, 0), "ok") != 0)
            rc = tell_row(l, "structure", "", "", 0, record_column(s, 0));
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    return rc;
}

/* The hash an entry had before it was first blotted out, "" if it never was. */
static int hash_before_blot(struct looking *l, sqlite3_stmt *s, const char *uuid, long nth,
                            char out[SHA256_TEXT]) {
    char target[80];
    snprintf(target, sizeof target, "%s:%ld", uuid, nth);
    *out = 0;
    sqlite3_reset(s);
    sqlite3_bind_text(s, 1, "entry", -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, target, -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    if (step == SQLITE_ROW && sqlite3_column_bytes(s, 0) == SHA256_TEXT - 1)
        strcpy(out, record_column(s, 0));
    sqlite3_reset(s);
    return step == SQLITE_ROW || step == SQLITE_DONE ? 0 : record_fail(l->record, "verify", l->err);
}

/* Columns: id, kind, name, gone, body, sha256, nth, uuid of the change, uuid and nth of what it
 * supersedes, kind and name of that. */
static int look_entry(struct looking *l, sqlite3_stmt *s) {
    char hash[SHA256_TEXT];
    const char *kind = record_column(s, 1), *name = record_column(s, 2);
    long revision = sqlite3_column_int64(s, 0);
    struct entry_hashed e = {.kind = kind,
                             .name = name,
                             .gone = sqlite3_column_int(s, 3),
                             .body = record_column(s, 4),
                             .nth = sqlite3_column_int64(s, 6),
                             .change_uuid = record_column(s, 7),
                             .before_uuid = record_column(s, 8),
                             .before_nth = sqlite3_column_int64(s, 9)};
    e.body_size = (size_t)sqlite3_column_bytes(s, 4);
    record_entry_hash(&e, hash);
    l->out->entries++;
    int rc = 0;
    if (strcmp(hash, record_column(s, 5)) != 0)
        rc = tell_row(l, "entry", kind, name, revision,
                      "This row does not fit its hash: a byte in it was changed.");
    if (!rc && *e.before_uuid &&
        (strcmp(record_column(s, 10), kind) != 0 || strcmp(record_column(s, 11), name) != 0))
        rc = tell_row(l, "entry", kind, name, revision,
                      "It replaces a revision of another thing: a row was changed.");
    return rc;
}

static const char look_entries_sql[] =
    "SELECT e.id, e.kind, e.name, e.gone, e.body, e.sha256, e.id - c.first, c.uuid, bc.uuid,"
    " b.id - bc.first, b.kind, b.name FROM change c JOIN entry e ON e.id >= c.first AND "
    "e.id < c.first + c.count LEFT JOIN entry b ON b.id = e.supersedes "
    "LEFT JOIN change bc ON bc.id = b.change WHERE c.id = ?1 ORDER BY e.id";

/* One change with its entries. Columns: id, uuid, who, made, why, undoes, count, sha256, link. */
static int look_change(struct looking *l, sqlite3_stmt *c, sqlite3_stmt *entries,
                       sqlite3_stmt *blots, char link[SHA256_TEXT]) {
    struct sha256 s;
    char hash[SHA256_TEXT], before[SHA256_TEXT], linked[SHA256_TEXT];
    const char *uuid = record_column(c, 1);
    long count = 0;
    int rc = 0, step = SQLITE_DONE;
    record_change_hash_begin(&s, uuid, record_column(c, 2), record_column(c, 3),
                             record_column(c, 4), record_column(c, 5));
    sqlite3_reset(entries);
    sqlite3_bind_int64(entries, 1, sqlite3_column_int64(c, 0));
    while (!rc && (step = sqlite3_step(entries)) == SQLITE_ROW) {
        rc = look_entry(l, entries);
        if (!rc) rc = hash_before_blot(l, blots, uuid, sqlite3_column_int64(entries, 6), before);
        const char *stored = record_column(entries, 5);
        if (!rc) sha256_add(&s, *before ? before : stored, *before ? 64 : strlen(stored));
        count++;
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    if (rc) return rc;
    l->out->changes++;
    long first = sqlite3_column_int64(c, 9);
    if (count != sqlite3_column_int64(c, 6))
        rc = tell_row(l, "change", "", uuid, first, "Entries of this change are missing.");
    record_change_hash_end(&s, count, hash);
    if (!rc && strcmp(hash, record_column(c, 7)) != 0)
        rc = tell_row(l, "change", "", uuid, first,
                      "This change does not fit its hash: who, when, why or an entry was changed.");
    record_link_hash(link, record_column(c, 7), linked);
    if (!rc && strcmp(linked, record_column(c, 8)) != 0)
        rc = tell_row(l, "change", "", uuid, first,
                      "The chain is broken here: a change before it was taken out or altered.");
    snprintf(link, SHA256_TEXT, "%s", record_column(c, 8));
    return rc;
}

static int look_changes(struct looking *l) {
    sqlite3_stmt *c, *entries = NULL, *blots = NULL;
    int step = SQLITE_DONE;
    int rc = record_prepare(&c, l->record,
                            "SELECT id, uuid, who, made, why, coalesce(undoes, ''), count, sha256, "
                            "link, first FROM change ORDER BY id",
                            l->err);
    if (!rc) rc = record_prepare(&entries, l->record, look_entries_sql, l->err);
    if (!rc)
        rc = record_prepare(&blots, l->record,
                            "SELECT before FROM blot WHERE what = ?1 AND target = ?2 ORDER BY id",
                            l->err);
    char link[SHA256_TEXT] = "";
    while (!rc && (step = sqlite3_step(c)) == SQLITE_ROW)
        rc = look_change(l, c, entries, blots, link);
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(c);
    sqlite3_finalize(entries);
    sqlite3_finalize(blots);
    return rc;
}

/* Entries that no change claims. */
static int look_strays(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record,
                            "SELECT e.id, e.kind, e.name FROM entry e LEFT JOIN change c ON "
                            "c.id = e.change WHERE c.id IS NULL OR e.id < c.first OR "
                            "e.id >= c.first + c.count",
                            l->err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW)
        rc =
            tell_row(l, "entry", record_column(s, 1), record_column(s, 2),
                     sqlite3_column_int64(s, 0), "No change accounts for this row: it was put in.");
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    return rc;
}

/* The last entry and link must be those noted at the last commit; a file cut back to an earlier
 * state of its own is whole in every other respect. */
static int look_last(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record,
                            "SELECT value, " RECORD_LAST " FROM meta WHERE name = 'last'", l->err);
    if (rc) return rc;
    int step = sqlite3_step(s);
    if (step == SQLITE_DONE)
        rc = tell_row(l, "change", "", "", 0,
                      "The note of the last change is gone: the newest changes may be too.");
    else if (step != SQLITE_ROW)
        rc = record_fail(l->record, "verify", l->err);
    else if (strcmp(record_column(s, 0), record_column(s, 1)) != 0)
        rc = tell_row(l, "change", "", "", 0,
                      "The newest changes were taken out, or rows were added behind them.");
    sqlite3_finalize(s);
    return rc;
}

static int look_kept(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record, "SELECT sha256, size, bytes FROM kept ORDER BY id",
                            l->err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        char hash[SHA256_TEXT];
        const void *bytes = sqlite3_column_blob(s, 2);
        size_t n = (size_t)sqlite3_column_bytes(s, 2);
        sha256_text(n ? bytes : "", n, hash);
        l->out->files++;
        if (strcmp(hash, record_column(s, 0)) != 0 || (long)n != sqlite3_column_int64(s, 1))
            rc = tell_row(l, "file", "", record_column(s, 0), 0,
                          "The kept file does not fit its hash: a byte in it was changed.");
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    return rc;
}

/* Every file entry that holds must find its bytes. */
static int look_file_entry(const struct record_entry *e, void *context, struct error *err) {
    struct looking *l = context;
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record, "SELECT 1 FROM kept WHERE sha256 = ?1", err);
    if (rc) return rc;
    json_error_t je;
    json_t *j = json_loads(e->body, 0, &je);
    if (!j && json_error_code(&je) == json_error_out_of_memory) {
        sqlite3_finalize(s);
        return fail_memory(err);
    }
    const char *hash = json_string_value(json_object_get(j, "sha256"));
    sqlite3_bind_text(s, 1, hash ? hash : "", -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    if (step == SQLITE_DONE)
        rc = tell_row(l, "file", "file", e->id, e->revision, "The bytes of this file are missing.");
    else if (step != SQLITE_ROW)
        rc = record_fail(l->record, "verify", err);
    sqlite3_finalize(s);
    json_decref(j);
    return rc;
}

static int look_seals(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record,
                            "SELECT uuid, kind, name, who, made, body, sha256, link, link = '' OR "
                            "EXISTS (SELECT 1 FROM change c WHERE c.sha256 = seal.link) OR EXISTS "
                            "(SELECT 1 FROM blot b WHERE b.what = 'change' AND "
                            "b.before = seal.link) FROM seal "
                            "ORDER BY id",
                            l->err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        struct record_seal seal = {.uuid = record_column(s, 0),
                                   .kind = record_column(s, 1),
                                   .name = record_column(s, 2),
                                   .who = record_column(s, 3),
                                   .when = record_column(s, 4),
                                   .body = record_column(s, 5)};
        char hash[SHA256_TEXT];
        record_seal_hash(&seal, record_column(s, 7), hash);
        l->out->seals++;
        if (strcmp(hash, record_column(s, 6)) != 0)
            rc = tell_row(l, "seal", seal.kind, seal.name, 0,
                          "The seal is broken: something in it was changed.");
        else if (!sqlite3_column_int(s, 8))
            rc = tell_row(l, "seal", seal.kind, seal.name, 0,
                          "The change before this seal was taken out or altered.");
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    return rc;
}

static int look_results(struct looking *l) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record,
                            "SELECT stage, key, body, sha256 FROM result ORDER BY id", l->err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        char hash[SHA256_TEXT];
        record_result_hash(record_column(s, 0), record_column(s, 1), record_column(s, 2), hash);
        l->out->results++;
        if (strcmp(hash, record_column(s, 3)) != 0)
            rc = tell_row(l, "result", record_column(s, 0), record_column(s, 1), 0,
                          "The stored result was changed; compute it again.");
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    return rc;
}

/* What was blotted out must still be what the blotting left. */
static int look_blots(struct looking *l) {
    static const char sql[] =
        "SELECT b.what, b.target FROM blot b WHERE NOT EXISTS (SELECT 1 FROM blot d WHERE "
        "d.what = b.what AND d.target = b.target AND d.id > b.id) AND NOT CASE b.what "
        "WHEN 'kept' THEN EXISTS (SELECT 1 FROM kept k WHERE k.sha256 = b.after) "
        " OR EXISTS (SELECT 1 FROM blot d WHERE d.what = 'kept' AND d.target = b.after) "
        "WHEN 'seal' THEN EXISTS (SELECT 1 FROM seal s WHERE s.uuid = b.target AND "
        " s.sha256 = b.after) "
        "WHEN 'change' THEN EXISTS (SELECT 1 FROM change c WHERE c.uuid = b.target AND "
        " c.sha256 = b.after) "
        "ELSE EXISTS (SELECT 1 FROM change c JOIN entry e ON "
        " e.id = c.first + CAST(substr(b.target, 34) AS INTEGER) "
        " WHERE c.uuid = substr(b.target, 1, 32) AND e.sha256 = b.after) END";
    sqlite3_stmt *s;
    int rc = record_prepare(&s, l->record, sql, l->err), step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW)
        rc = tell_row(l, "entry", record_column(s, 0), record_column(s, 1), 0,
                      "What was blotted out was changed afterwards.");
    if (!rc && step != SQLITE_DONE) rc = record_fail(l->record, "verify", l->err);
    sqlite3_finalize(s);
    if (rc || (rc = record_prepare(&s, l->record, "SELECT count(*) FROM blot", l->err))) return rc;
    if (sqlite3_step(s) == SQLITE_ROW) l->out->blots = (size_t)sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return 0;
}

int record_verify(struct record_checked *out, struct record *record, record_take_fault *take,
                  void *context, struct error *err) {
    *out = (struct record_checked){0};
    struct looking l = {record, out, take, context, err};
    bool snapshot = !record->in_change && !record->reading;
    int rc = snapshot ? record_read_begin(record, err) : 0;
    if (!rc) rc = look_structure(&l);
    if (!rc) rc = look_changes(&l);
    if (!rc) rc = look_strays(&l);
    if (!rc) rc = look_last(&l);
    if (!rc) rc = look_kept(&l);
    if (!rc) rc = record_each(record, "file", 0, look_file_entry, &l, err);
    if (!rc) rc = look_seals(&l);
    if (!rc) rc = look_results(&l);
    if (!rc) rc = look_blots(&l);
    if (snapshot) record_read_end(record);
    return rc;
}
