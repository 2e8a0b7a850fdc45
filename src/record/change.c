/* change: the journal. A change gathers entries between begin and commit in one transaction. */
#include "base/mem.h"
#include "record/record_private.h"

#include <string.h>

/* ---- begin and end -------------------------------------------------------------------------- */

static void forget_words(struct record *record) {
    mem_free(record->who);
    mem_free(record->when);
    mem_free(record->why);
    record->who = record->when = record->why = NULL;
    record->in_change = false;
}

static int next_entry(struct record *record, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record, "SELECT coalesce(max(id), 0) + 1 FROM entry", err);
    if (rc) return rc;
    if (sqlite3_step(s) == SQLITE_ROW)
        record->first = record->next = sqlite3_column_int64(s, 0);
    else
        rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

static int write_change_row(struct record *record, struct error *err) {
    sqlite3_stmt *s = record_statement(record, SQL_CHANGE_NEW, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_text(s, 1, record->change_uuid, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, record->who, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 3, record->when, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 4, record->why, -1, SQLITE_STATIC);
    if (*record->undoes)
        sqlite3_bind_text(s, 5, record->undoes, -1, SQLITE_STATIC);
    else
        sqlite3_bind_null(s, 5);
    sqlite3_bind_int64(s, 6, record->first);
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "save", err);
    sqlite3_reset(s);
    record->change = sqlite3_last_insert_rowid(record->db);
    return rc;
}

int record_change_begin_as(struct record *record, const struct record_change *as,
                           struct error *err) {
    if (record->in_change)
        return fail(err, ERR_REFUSED, "End the change that is open first.",
                    "A change is open already.");
    if (!as->who || !*as->who || !as->when || !*as->when)
        return fail(err, ERR_MISSING, "Give a name or a role, and the time.",
                    "A change needs somebody who makes it, and a time.");
    record_read_end(record);
    int rc = record_check_writable(record, err);
    if (rc) return rc;
    record->who = mem_strdup(as->who);
    record->when = mem_strdup(as->when);
    record->why = mem_strdup(as->why ? as->why : "");
    if (as->uuid)
        memcpy(record->change_uuid, as->uuid, RECORD_UUID);
    else
        record_uuid_make(record->change_uuid);
    memset(record->undoes, 0, sizeof record->undoes);
    if (as->undoes) memcpy(record->undoes, as->undoes, RECORD_UUID);
    if (!record->who || !record->when || !record->why) rc = fail_memory(err);
    if (!rc && !record->joined) rc = record_run(record, "BEGIN IMMEDIATE", err);
    if (rc) {
        forget_words(record);
        return rc;
    }
    record->in_change = true;
    record_change_hash_begin(&record->change_hash, record->change_uuid, record->who, record->when,
                             record->why, record->undoes);
    if ((rc = next_entry(record, err)) || (rc = write_change_row(record, err)))
        record_change_rollback(record);
    return rc;
}

int record_change_begin(struct record *record, const char *who, const char *when, const char *why,
                        struct error *err) {
    return record_change_begin_as(
        record, &(struct record_change){.who = who, .when = when, .why = why}, err);
}

static int write_change_end(struct record *record, struct error *err) {
    char hash[SHA256_TEXT], link[SHA256_TEXT] = "";
    sqlite3_stmt *s = record_statement(record, SQL_CHANGE_BEFORE, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_int64(s, 1, record->change);
    int step = sqlite3_step(s);
    if (step == SQLITE_ROW && strlen(record_column(s, 0)) < sizeof link)
        strcpy(link, record_column(s, 0));
    sqlite3_reset(s);
    if (step != SQLITE_ROW && step != SQLITE_DONE) return record_fail(record, "save", err);
    record_change_hash_end(&record->change_hash, record->next - record->first, hash);
    char linked[SHA256_TEXT];
    record_link_hash(link, hash, linked);
    if (!(s = record_statement(record, SQL_CHANGE_END, err))) return ERR_FILE;
    sqlite3_bind_int64(s, 1, record->change);
    sqlite3_bind_int64(s, 2, record->next - record->first);
    sqlite3_bind_text(s, 3, hash, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 4, linked, -1, SQLITE_STATIC);
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "save", err);
    sqlite3_reset(s);
    return rc;
}

int record_note_last(struct record *record, struct error *err) {
    sqlite3_stmt *s = record_statement(record, SQL_LAST, err);
    if (!s) return ERR_FILE;
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "save", err);
    sqlite3_reset(s);
    return rc;
}

static int no_change(struct error *err) {
    return fail(err, ERR_REFUSED, "Begin a change, or begin the lost one again.",
                "No change is open (a full disk or a damaged file ends the one that was).");
}

int record_change_commit(struct record *record, long *change, struct error *err) {
    if (change) *change = 0;
    if (!record->in_change) {
        forget_words(record);
        return no_change(err);
    }
    bool empty = record->next == record->first;
    int rc = empty ? record_run(record, "DELETE FROM change WHERE count = 0 AND sha256 = ''", err)
                   : write_change_end(record, err);
    if (!rc) rc = record_note_last(record, err);
    if (!rc) rc = record_run(record, "COMMIT", err);
    if (rc) {
        record_change_rollback(record);
        return rc;
    }
    if (change && !empty) *change = record->change;
    record->commits += !empty;
    forget_words(record);
    return 0;
}

void record_change_rollback(struct record *record) {
    if (record->in_change) sqlite3_exec(record->db, "ROLLBACK", NULL, NULL, NULL);
    forget_words(record);
}

long record_commits(const struct record *record) {
    return record->commits;
}

bool record_in_change(const struct record *record) {
    return record->in_change;
}

/* ---- adding a revision ---------------------------------------------------------------------- */

/* The thing as it stands, as far as a new revision needs it. */
struct present {
    long revision; /* 0: never put */
    bool gone, equal;
    char uuid[RECORD_UUID]; /* of its change */
    long nth;
};

static int look_up(struct record *record, const struct raw_entry *raw, struct present *out,
                   struct error *err) {
    *out = (struct present){0};
    sqlite3_stmt *s = record_statement(record, SQL_LATEST, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_text(s, 1, raw->kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, raw->name, -1, SQLITE_STATIC);
    int step = sqlite3_step(s), rc = 0;
    if (step == SQLITE_ROW) {
        out->revision = sqlite3_column_int64(s, 0);
        out->gone = sqlite3_column_int(s, 1);
        out->equal = (size_t)sqlite3_column_bytes(s, 2) == raw->body_size &&
                     memcmp(record_column(s, 2), raw->body, raw->body_size) == 0;
        if (strlen(record_column(s, 3)) == RECORD_UUID - 1) strcpy(out->uuid, record_column(s, 3));
        out->nth = out->revision - sqlite3_column_int64(s, 4);
    } else if (step != SQLITE_DONE)
        rc = record_fail(record, "read", err);
    if (sqlite3_reset(s) && !rc) rc = record_fail(record, "read", err);
    return rc;
}

static int insert(struct record *record, const struct raw_entry *raw, long supersedes,
                  const char *hash, struct error *err) {
    sqlite3_stmt *s = record_statement(record, SQL_PUT, err);
    if (!s) return ERR_FILE;
    sqlite3_bind_int64(s, 1, record->next);
    sqlite3_bind_int64(s, 2, record->change);
    sqlite3_bind_text(s, 3, raw->kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 4, raw->name, -1, SQLITE_STATIC);
    if (supersedes)
        sqlite3_bind_int64(s, 5, supersedes);
    else
        sqlite3_bind_null(s, 5);
    sqlite3_bind_int(s, 6, raw->gone);
    sqlite3_bind_text(s, 7, raw->body, (int)raw->body_size, SQLITE_STATIC);
    sqlite3_bind_text(s, 8, hash, SHA256_TEXT - 1, SQLITE_STATIC);
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "save", err);
    sqlite3_reset(s);
    return rc;
}

int record_append(struct record *record, const struct raw_entry *raw, bool even_if_equal,
                  long *revision, struct error *err) {
    if (!record->in_change) return no_change(err);
    struct present is;
    int rc = look_up(record, raw, &is, err);
    if (rc) return rc;
    if (is.revision && is.equal && is.gone == raw->gone && !even_if_equal) {
        if (revision) *revision = is.revision;
        return 0;
    }
    char hash[SHA256_TEXT];
    record_entry_hash(&(struct entry_hashed){.change_uuid = record->change_uuid,
                                             .nth = record->next - record->first,
                                             .kind = raw->kind,
                                             .name = raw->name,
                                             .before_uuid = is.uuid,
                                             .before_nth = is.nth,
                                             .gone = raw->gone,
                                             .body = raw->body,
                                             .body_size = raw->body_size},
                      hash);
    rc = insert(record, raw, is.revision, hash, err);
    if (rc) return rc;
    sha256_add(&record->change_hash, hash, SHA256_TEXT - 1);
    if (revision) *revision = record->next;
    record->next++;
    return 0;
}

/* One statement for many: from one row to the next it finds its place in the index near by. */
static int insert_new(struct record *record, const struct new_entry *e, struct error *err) {
    sqlite3_stmt *s = record_statement(record, SQL_PUT_NEW, err);
    if (!s) return ERR_FILE;
    int at = 0;
    for (const struct new_entry *end = e + RECORD_AT_ONCE; e < end; e++) {
        sqlite3_bind_int64(s, ++at, record->next++);
        sqlite3_bind_int64(s, ++at, record->change);
        sqlite3_bind_text(s, ++at, e->kind, -1, SQLITE_STATIC);
        sqlite3_bind_text(s, ++at, e->name, -1, SQLITE_STATIC);
        sqlite3_bind_text(s, ++at, e->body, (int)e->body_size, SQLITE_STATIC);
        sqlite3_bind_text(s, ++at, e->hash, SHA256_TEXT - 1, SQLITE_STATIC);
        sha256_add(&record->change_hash, e->hash, SHA256_TEXT - 1);
    }
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "save", err);
    sqlite3_reset(s);
    return rc;
}

int record_append_new(struct record *record, const struct new_entry *entries, size_t n,
                      struct error *err) {
    if (!record->in_change) return no_change(err);
    int rc = 0;
    for (; n >= RECORD_AT_ONCE && !rc; n -= RECORD_AT_ONCE, entries += RECORD_AT_ONCE)
        rc = insert_new(record, entries, err);
    for (; n && !rc; n--, entries++) {
        const struct raw_entry raw = {.kind = entries->kind,
                                      .name = entries->name,
                                      .body = entries->body,
                                      .body_size = entries->body_size};
        rc = insert(record, &raw, 0, entries->hash, err);
        if (!rc) sha256_add(&record->change_hash, entries->hash, SHA256_TEXT - 1);
        record->next += !rc;
    }
    return rc;
}

/* ---- undo ----------------------------------------------------------------------------------- */

/* One thing of the change that is to be taken back. */
struct undone {
    const char *kind, *name;
    const char *body; /* it gets again */
    bool gone;
};

struct undo {
    struct record *record;
    struct arena *arena;
    long change;
    struct undone *things; /* [count of the change] */
    size_t n;
};

static int clash(const struct record_entry *mine, const struct record_entry *now,
                 struct error *err) {
    error_place(err, NULL, 0, mine->kind, mine->id);
    return fail(err, ERR_CONFLICT, "Change it by hand, or take the later change back first.",
                "%s %s was changed again by %s on %s: then %.120s, now %s%.120s.", mine->kind,
                mine->id, now->who, now->when, mine->body, now->gone ? "withdrawn, was " : "",
                now->body);
}

/* What the thing was before the change: the first of its revisions in the change tells. */
static int plan_one(const struct record_entry *e, void *context, struct error *err) {
    struct undo *u = context;
    struct record_entry now, before;
    bool found;
    int rc = record_entry_get(&now, u->record, e->kind, e->id, &found, u->arena, err);
    if (rc) return rc;
    if (found && now.change != u->change) return clash(e, &now, err);
    struct undone t = {.kind = arena_strdup(u->arena, e->kind),
                       .name = arena_strdup(u->arena, e->id),
                       .body = arena_strdup(u->arena, e->body),
                       .gone = true};
    if (!t.kind || !t.name || !t.body) return fail_memory(err);
    if (e->supersedes) {
        sqlite3_stmt *s = record_statement(u->record, SQL_ENTRY, err);
        if (!s) return ERR_FILE;
        sqlite3_bind_int64(s, 1, e->supersedes);
        if (sqlite3_step(s) != SQLITE_ROW) return record_fail(u->record, "read", err);
        record_entry_from(&before, s);
        bool same_change = before.change == u->change;
        t.gone = before.gone;
        t.body = arena_strdup(u->arena, before.body);
        sqlite3_reset(s);
        if (same_change) return 0; /* an earlier revision of this change has planned it */
        if (!t.body) return fail_memory(err);
    }
    u->things[u->n++] = t;
    return 0;
}

static int find_change(const struct record_change *c, void *context, struct error *err) {
    (void)err;
    struct record_change *want = context;
    if (c->id != want->id) return 0;
    want->count = c->count;
    memcpy((char *)want->uuid, c->uuid, RECORD_UUID);
    return -1; /* found: stop */
}

static int do_undo(struct undo *u, const struct record_change *as, long *made, struct error *err) {
    int rc = record_change_entries(u->record, u->change, plan_one, u, err);
    if (!rc) rc = record_change_begin_as(u->record, as, err);
    if (rc) return rc;
    for (size_t i = 0; i < u->n && !rc; i++)
        rc = record_append(u->record,
                           &(struct raw_entry){.kind = u->things[i].kind,
                                               .name = u->things[i].name,
                                               .body = u->things[i].body,
                                               .body_size = strlen(u->things[i].body),
                                               .gone = u->things[i].gone},
                           false, NULL, err);
    if (rc)
        record_change_rollback(u->record);
    else
        rc = record_change_commit(u->record, made, err);
    return rc;
}

int record_undo(struct record *record, long change, const char *who, const char *when,
                const char *why, long *made, struct error *err) {
    char uuid[RECORD_UUID] = "";
    struct record_change want = {.id = change, .uuid = uuid};
    if (made) *made = 0;
    if (record->in_change)
        return fail(err, ERR_REFUSED, "End the open change first.", "A change is open.");
    int rc = record_changes(record, true, 0, find_change, &want, err);
    if (rc > 0) return rc;
    if (!*uuid)
        return fail(err, ERR_MISSING, "Look at the list of changes.", "There is no change %ld.",
                    change);
    struct undo u = {.record = record, .change = change, .arena = arena_new()};
    if (u.arena) u.things = ARENA_NEW(u.arena, struct undone, (size_t)want.count);
    if (u.things)
        rc = do_undo(&u,
                     &(struct record_change){.who = who, .when = when, .why = why, .undoes = uuid},
                     made, err);
    else
        rc = fail_memory(err);
    arena_free(u.arena);
    return rc;
}
