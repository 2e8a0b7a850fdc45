#include "record/merge.h"

#include "base/mem.h"
#include "record/names.h"
#include "record/record_private.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One change of the other copy and where its entries stand in ours. */
struct twin {
    const char *uuid;
    long theirs, ours; /* first entry there and here; ours 0: not here yet */
    long count;
    long id; /* of the change there */
};

struct merging {
    struct record *ours, *theirs;
    struct record_merged *out;
    struct arena *arena;
    struct twin *twins; /* their changes, in their order */
    size_t n, room;
    struct names *our_changes; /* uuid → first entry here */
    const char *who, *when;
    struct record_clash *clashes;
    const char **clash_ids;
    size_t clash_count, clash_room;
};

/* ---- which changes are whose
 * ---------------------------------------------------------------------- */

static int add_ours(const struct record_change *c, void *context, struct error *err) {
    struct merging *m = context;
    size_t first = (size_t)c->first;
    char *uuid = arena_strdup(m->arena, c->uuid);
    if (!uuid || names_add(m->our_changes, uuid, &first) < 0) return fail_memory(err);
    return 0;
}

static int add_twin(const struct record_change *c, void *context, struct error *err) {
    struct merging *m = context;
    if (m->n == m->room) {
        size_t room = m->room ? 2 * m->room : 64;
        struct twin *more = mem_resize(m->twins, room, sizeof *more);
        if (!more) return fail_memory(err);
        m->twins = more;
        m->room = room;
    }
    size_t ours = 0;
    bool common = names_find(m->our_changes, c->uuid, &ours);
    struct twin t = {.uuid = arena_strdup(m->arena, c->uuid),
                     .theirs = c->first,
                     .ours = common ? (long)ours : 0,
                     .count = c->count,
                     .id = c->id};
    if (!t.uuid) return fail_memory(err);
    m->out->common += common;
    m->twins[m->n++] = t;
    return 0;
}

/* Their revision in our numbering; 0 for none. Twins stand in order of their first entry. */
static long translate(const struct merging *m, long revision) {
    size_t low = 0, high = m->n;
    while (low < high) {
        size_t half = low + (high - low) / 2;
        if (m->twins[half].theirs + m->twins[half].count <= revision)
            low = half + 1;
        else
            high = half;
    }
    if (revision == 0 || low == m->n || !m->twins[low].ours) return 0;
    return m->twins[low].ours + (revision - m->twins[low].theirs);
}

/* ---- things that both have touched
 * --------------------------------------------------------------- */

/* Names of things touched by changes of one side that the other has not: "kind id" → 0. */
struct touched {
    struct names *names;
    struct arena *arena;
};

static char *thing_key(const char *kind, const char *id, struct arena *arena) {
    return arena_printf(arena, "%s %s", kind, id);
}

static int touch(const struct record_entry *e, void *context, struct error *err) {
    struct touched *t = context;
    size_t number = 0;
    char *key = thing_key(e->kind, e->id, t->arena);
    return key && names_add(t->names, key, &number) >= 0 ? 0 : fail_memory(err);
}

struct lone {
    struct merging *m;
    struct touched touched;
    struct names *theirs; /* uuids of all their changes */
};

static int touch_ours(const struct record_change *c, void *context, struct error *err) {
    struct lone *l = context;
    if (names_find(l->theirs, c->uuid, NULL)) return 0;
    return record_change_entries(l->m->ours, c->id, touch, &l->touched, err);
}

/* What only we have touched, before anything is taken. */
static int touched_here(struct names **out, struct merging *m, struct error *err) {
    struct lone l = {.m = m, .touched = {names_new(), m->arena}, .theirs = names_new()};
    *out = l.touched.names;
    int rc = *out && l.theirs ? 0 : fail_memory(err);
    for (size_t i = 0; i < m->n && !rc; i++) {
        size_t number = i;
        if (names_add(l.theirs, m->twins[i].uuid, &number) < 0) rc = fail_memory(err);
    }
    if (!rc) rc = record_changes(m->ours, false, 0, touch_ours, &l, err);
    names_free(l.theirs);
    return rc;
}

/* The last revision of a thing there that both copies have; its body, or NULL. */
static int common_body(const char **out, struct merging *m, const char *kind, const char *id,
                       struct error *err) {
    sqlite3_stmt *s;
    *out = NULL;
    int rc = record_prepare(&s, m->theirs,
                            "SELECT e.body, c.uuid, e.gone FROM entry e JOIN change c ON "
                            "c.id = e.change WHERE e.kind = ?1 AND e.name = ?2 ORDER BY e.id DESC",
                            err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, id, -1, SQLITE_STATIC);
    while (sqlite3_step(s) == SQLITE_ROW) {
        if (!names_find(m->our_changes, record_column(s, 1), NULL)) continue;
        if (!sqlite3_column_int(s, 2) && !(*out = arena_strdup(m->arena, record_column(s, 0))))
            rc = fail_memory(err);
        break;
    }
    sqlite3_finalize(s);
    return rc;
}

static int add_clash(struct merging *m, const struct record_entry *ours,
                     const struct record_entry *theirs, struct error *err) {
    if (m->clash_count == m->clash_room) {
        size_t room = m->clash_room ? 2 * m->clash_room : 16;
        struct record_clash *more = ARENA_NEW(m->arena, struct record_clash, room);
        const char **ids = ARENA_NEW(m->arena, const char *, room);
        if (!more || !ids) return fail_memory(err);
        if (m->clash_count) {
            memcpy(more, m->clashes, m->clash_count * sizeof *more);
            memcpy((void *)ids, (const void *)m->clash_ids, m->clash_count * sizeof *ids);
        }
        m->clashes = more;
        m->clash_ids = ids;
        m->clash_room = room;
    }
    struct record_clash *c = &m->clashes[m->clash_count];
    *c = (struct record_clash){.of_kind = ours->kind,
                               .of_id = ours->id,
                               .ours = ours->gone ? NULL : ours->body,
                               .theirs = theirs->gone ? NULL : theirs->body,
                               .ours_who = ours->who,
                               .ours_when = ours->when,
                               .ours_why = ours->why,
                               .theirs_who = theirs->who,
                               .theirs_when = theirs->when,
                               .theirs_why = theirs->why,
                               .open = 1};
    m->clash_ids[m->clash_count] =
        arena_printf(m->arena, "%.32s:%ld", theirs->sha256, ours->revision);
    if (!m->clash_ids[m->clash_count++]) return fail_memory(err);
    return common_body(&c->base, m, ours->kind, ours->id, err);
}

/* Looks at one thing that their own changes have touched. */
static int compare(struct merging *m, const char *kind, const char *id, struct error *err) {
    struct record_entry ours, theirs;
    bool here, there;
    int rc = record_entry_get(&ours, m->ours, kind, id, &here, m->arena, err);
    if (!rc) rc = record_entry_get(&theirs, m->theirs, kind, id, &there, m->arena, err);
    if (rc || !here || !there) return rc;
    if (ours.gone == theirs.gone && (ours.gone || strcmp(ours.body, theirs.body) == 0)) return 0;
    return add_clash(m, &ours, &theirs, err);
}

struct comparing {
    struct merging *m;
    struct names *here, *seen;
};

static int compare_entry(const struct record_entry *e, void *context, struct error *err) {
    struct comparing *c = context;
    char *key = thing_key(e->kind, e->id, c->m->arena);
    size_t number = 0;
    if (!key) return fail_memory(err);
    if (!names_find(c->here, key, NULL)) return 0;
    int new = names_add(c->seen, key, &number);
    if (new <= 0) return new < 0 ? fail_memory(err) : 0;
    return compare(c->m, e->kind, e->id, err);
}

static int find_clashes(struct merging *m, struct error *err) {
    struct comparing c = {.m = m, .seen = names_new()};
    int rc = c.seen ? touched_here(&c.here, m, err) : fail_memory(err);
    for (size_t i = 0; i < m->n && !rc; i++)
        if (!m->twins[i].ours)
            rc = record_change_entries(m->theirs, m->twins[i].id, compare_entry, &c, err);
    names_free(c.here);
    names_free(c.seen);
    return rc;
}

/* ---- copying rows
 * ---------------------------------------------------------------------------------- */

/* Runs a query there and a statement here with the same columns; columns may be altered before.
 * Counts rows that were new. */
struct copying {
    const char *select, *insert;
    int columns;
};

static void bind_value(sqlite3_stmt *to, int place, sqlite3_stmt *from, int column) {
    sqlite3_bind_value(to, place, sqlite3_column_value(from, column));
}

static int copy_rows(size_t *count, struct merging *m, const struct copying *c, struct error *err) {
    sqlite3_stmt *from = NULL, *to = NULL;
    int step = SQLITE_DONE;
    int rc = record_prepare(&from, m->theirs, c->select, err);
    if (!rc) rc = record_prepare(&to, m->ours, c->insert, err);
    while (!rc && (step = sqlite3_step(from)) == SQLITE_ROW) {
        for (int i = 0; i < c->columns; i++)
            bind_value(to, i + 1, from, i);
        if (sqlite3_step(to) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
        *count += (size_t)sqlite3_changes(m->ours->db);
        sqlite3_reset(to);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(m->theirs, "read the other copy", err);
    sqlite3_finalize(from);
    sqlite3_finalize(to);
    return rc;
}

static const struct copying kept_rows = {
    "SELECT sha256, size, bytes FROM kept ORDER BY id",
    /* what was blotted out here does not come back by the other copy */
    "INSERT INTO kept(sha256, size, bytes) SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1 FROM blot "
    "WHERE what = 'kept' AND before = ?1) ON CONFLICT (sha256) DO NOTHING",
    3};
static const struct copying seal_rows = {
    "SELECT uuid, kind, name, who, made, link, body, sha256 FROM seal ORDER BY id",
    "INSERT INTO seal(uuid, kind, name, who, made, link, body, sha256) VALUES (?1, ?2, ?3, ?4, ?5, "
    "?6, ?7, ?8) ON CONFLICT (uuid) DO NOTHING",
    8};

static int copy_entries(struct merging *m, struct twin *t, long change, struct error *err) {
    sqlite3_stmt *from = NULL, *to = NULL;
    int step = SQLITE_DONE;
    long nth = 0;
    int rc = record_prepare(&from, m->theirs,
                            "SELECT e.kind, e.name, e.gone, e.body, e.sha256, e.supersedes FROM "
                            "change c JOIN entry e ON e.id >= c.first AND e.id < c.first + c.count "
                            "WHERE c.id = ?1 ORDER BY e.id",
                            err);
    if (!rc)
        rc = record_prepare(&to, m->ours,
                            "INSERT INTO entry(kind, name, gone, body, sha256, supersedes, change, "
                            "id) VALUES (?1, ?2, ?3, ?4, ?5, nullif(?6, 0), ?7, ?8)",
                            err);
    if (!rc) sqlite3_bind_int64(from, 1, t->id);
    while (!rc && (step = sqlite3_step(from)) == SQLITE_ROW) {
        for (int i = 0; i < 5; i++)
            bind_value(to, i + 1, from, i);
        sqlite3_bind_int64(to, 6, translate(m, sqlite3_column_int64(from, 5)));
        sqlite3_bind_int64(to, 7, change);
        sqlite3_bind_int64(to, 8, t->ours + nth++);
        if (sqlite3_step(to) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
        sqlite3_reset(to);
        m->out->entries++;
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(m->theirs, "read the other copy", err);
    sqlite3_finalize(from);
    sqlite3_finalize(to);
    return rc;
}

/* One change of theirs at the end of ours, under its own name and hash. */
static int copy_change(struct merging *m, struct twin *t, struct error *err) {
    sqlite3_stmt *from = NULL, *to = NULL;
    int rc = record_prepare(&from, m->theirs,
                            "SELECT uuid, who, made, why, undoes, count, sha256 FROM change WHERE "
                            "id = ?1",
                            err);
    if (!rc)
        rc = record_prepare(&to, m->ours,
                            "INSERT INTO change(uuid, who, made, why, undoes, count, sha256, link, "
                            "first) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, '', (SELECT "
                            "coalesce(max(id), 0) + 1 FROM entry)) RETURNING id, first",
                            err);
    if (!rc) sqlite3_bind_int64(from, 1, t->id);
    if (!rc && sqlite3_step(from) != SQLITE_ROW)
        rc = record_fail(m->theirs, "read the other copy", err);
    for (int i = 0; i < 7 && !rc; i++)
        bind_value(to, i + 1, from, i);
    long change = 0;
    if (!rc && sqlite3_step(to) == SQLITE_ROW) {
        change = sqlite3_column_int64(to, 0);
        t->ours = sqlite3_column_int64(to, 1);
    } else if (!rc)
        rc = record_fail(m->ours, "merge", err);
    if (!rc && sqlite3_step(to) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
    sqlite3_finalize(from);
    sqlite3_finalize(to);
    m->out->taken++;
    return rc ? rc : copy_entries(m, t, change, err);
}

/* ---- blottings made there
 * ---------------------------------------------------------------------------- */

/* Puts the row as it stands there in place of ours. The row is found by a name that both share. */
static const struct {
    const char *what, *select, *update;
    int columns;
} blotted_rows[] = {
    {"entry",
     "SELECT c.uuid, e.id - c.first, e.body, e.sha256 FROM change c JOIN entry e ON e.id = c.first "
     "+ "
     "CAST(substr(?1, 34) AS INTEGER) WHERE c.uuid = substr(?1, 1, 32)",
     "UPDATE entry SET body = ?3, sha256 = ?4 WHERE id = (SELECT first + ?2 FROM change WHERE "
     "uuid = ?1)",
     4},
    {"change", "SELECT uuid, who, why, sha256 FROM change WHERE uuid = ?1",
     "UPDATE change SET who = ?2, why = ?3, sha256 = ?4 WHERE uuid = ?1", 4},
    {"seal", "SELECT uuid, body, sha256 FROM seal WHERE uuid = ?1",
     "UPDATE seal SET body = ?2, sha256 = ?3 WHERE uuid = ?1", 3},
    {"kept", NULL, "DELETE FROM kept WHERE sha256 = ?1", 1},
};

static int apply_blot(struct merging *m, const char *what, const char *target, struct error *err) {
    sqlite3_stmt *from = NULL, *to = NULL;
    size_t i = 0;
    while (i < 4 && strcmp(blotted_rows[i].what, what) != 0)
        i++;
    if (i == 4) return 0;
    int rc = record_prepare(&to, m->ours, blotted_rows[i].update, err);
    bool row = true;
    if (!rc && blotted_rows[i].select) {
        rc = record_prepare(&from, m->theirs, blotted_rows[i].select, err);
        if (!rc) sqlite3_bind_text(from, 1, target, -1, SQLITE_STATIC);
        row = !rc && sqlite3_step(from) == SQLITE_ROW;
        for (int c = 0; row && c < blotted_rows[i].columns; c++)
            bind_value(to, c + 1, from, c);
    } else if (!rc)
        sqlite3_bind_text(to, 1, target, -1, SQLITE_STATIC);
    if (!rc && row && sqlite3_step(to) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
    sqlite3_finalize(from);
    sqlite3_finalize(to);
    return rc;
}

static int copy_blots(struct merging *m, struct error *err) {
    sqlite3_stmt *from = NULL, *to = NULL;
    int step = SQLITE_DONE;
    int rc = record_prepare(
        &from, m->theirs,
        "SELECT what, target, before, after, who, made, why FROM blot ORDER BY id", err);
    if (!rc)
        rc = record_prepare(&to, m->ours,
                            "INSERT INTO blot(what, target, before, after, who, made, why) VALUES "
                            "(?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (what, target, after) DO "
                            "NOTHING",
                            err);
    while (!rc && (step = sqlite3_step(from)) == SQLITE_ROW) {
        for (int i = 0; i < 7; i++)
            bind_value(to, i + 1, from, i);
        if (sqlite3_step(to) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
        sqlite3_reset(to);
        if (rc || sqlite3_changes(m->ours->db) == 0) continue;
        m->out->blots++;
        rc = apply_blot(m, record_column(from, 0), record_column(from, 1), err);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(m->theirs, "read the other copy", err);
    sqlite3_finalize(from);
    sqlite3_finalize(to);
    return rc;
}

/* Lays the chain of changes anew over all that now stand. */
static int relink(struct merging *m, struct error *err) {
    sqlite3_stmt *s = NULL, *set = NULL;
    char link[SHA256_TEXT] = "", next[SHA256_TEXT];
    int rc = record_prepare(&s, m->ours,
                            "SELECT id, sha256 FROM change WHERE sha256 <> '' "
                            "ORDER BY id",
                            err);
    if (!rc) rc = record_prepare(&set, m->ours, "UPDATE change SET link = ?2 WHERE id = ?1", err);
    while (!rc && sqlite3_step(s) == SQLITE_ROW) {
        record_link_hash(link, record_column(s, 1), next);
        memcpy(link, next, sizeof link);
        sqlite3_bind_int64(set, 1, sqlite3_column_int64(s, 0));
        sqlite3_bind_text(set, 2, link, -1, SQLITE_STATIC);
        if (sqlite3_step(set) != SQLITE_DONE) rc = record_fail(m->ours, "merge", err);
        sqlite3_reset(set);
    }
    sqlite3_finalize(s);
    sqlite3_finalize(set);
    return rc;
}

/* ---- the whole
 * ------------------------------------------------------------------------------------------ */

static int take_rows(struct merging *m, struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < m->n && !rc; i++)
        if (!m->twins[i].ours) rc = copy_change(m, &m->twins[i], err);
    if (!rc) rc = copy_rows(&m->out->files, m, &kept_rows, err);
    if (!rc) rc = copy_rows(&m->out->seals, m, &seal_rows, err);
    if (!rc) rc = copy_blots(m, err);
    if (!rc && m->out->blots) rc = record_run(m->ours, "DELETE FROM result", err);
    return rc ? rc : relink(m, err);
}

/* Ours goes on standing, and the clash is put beside it. */
static int put_clashes(struct merging *m, struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < m->clash_count && !rc; i++) {
        const struct record_clash *c = &m->clashes[i];
        const char *body = c->ours ? c->ours : c->theirs;
        rc = record_append(m->ours,
                           &(struct raw_entry){.kind = c->of_kind,
                                               .name = c->of_id,
                                               .body = body,
                                               .body_size = strlen(body),
                                               .gone = !c->ours},
                           true, NULL, err);
        if (!rc) rc = record_put_struct(m->ours, &record_clash_kind, m->clash_ids[i], c, NULL, err);
    }
    return rc;
}

static int merge_rows(struct merging *m, struct error *err) {
    char why[120];
    int rc = take_rows(m, err);
    if (rc) return rc;
    snprintf(why, sizeof why, "merged with another copy: %zu changes taken, %zu clashes",
             m->out->taken, m->clash_count);
    rc = record_change_begin(m->ours, m->who, m->when, why, err); /* joins the open transaction */
    if (!rc) rc = put_clashes(m, err);
    return rc;
}

static int merge(struct merging *m, struct error *err) {
    int rc = record_check_writable(m->ours, err);
    if (!rc) rc = record_changes(m->ours, false, 0, add_ours, m, err);
    if (!rc) rc = record_changes(m->theirs, false, 0, add_twin, m, err);
    if (!rc && m->out->common == 0)
        rc = fail(err, ERR_REFUSED, "Export the other one and bring in what is wanted.",
                  "The two files have no history in common.");
    if (!rc) rc = find_clashes(m, err);
    if (!rc) rc = record_run(m->ours, "BEGIN IMMEDIATE", err);
    if (rc) return rc;
    m->ours->joined = true;
    rc = merge_rows(m, err);
    m->ours->joined = false;
    if (!rc) {
        rc = record_change_commit(m->ours, &m->out->change, err);
        /* what was blotted out there must not linger in free pages here */
        return rc || m->out->blots == 0 ? rc : record_run(m->ours, "VACUUM", err);
    }
    if (m->ours->in_change)
        record_change_rollback(m->ours);
    else
        sqlite3_exec(m->ours->db, "ROLLBACK", NULL, NULL, NULL);
    return rc;
}

int record_merge(struct record_merged *out, struct record *ours, struct record *theirs,
                 const char *who, const char *when, struct arena *arena, struct error *err) {
    *out = (struct record_merged){0};
    if (ours->in_change)
        return fail(err, ERR_REFUSED, "End the open change first.", "A change is open.");
    if (strcmp(record_uuid(ours), record_uuid(theirs)) != 0)
        return fail(err, ERR_REFUSED, "Export the other one and bring in what is wanted.",
                    "These are two different projects, not two copies of one.");
    struct merging m = {.ours = ours,
                        .theirs = theirs,
                        .out = out,
                        .arena = arena,
                        .our_changes = names_new(),
                        .who = who,
                        .when = when};
    record_read_end(ours);
    bool snapshot = !theirs->reading;
    int rc = m.our_changes ? 0 : fail_memory(err);
    if (!rc && snapshot) rc = record_read_begin(theirs, err);
    if (!rc) rc = merge(&m, err);
    if (snapshot) record_read_end(theirs);
    mem_free(m.twins);
    names_free(m.our_changes);
    out->clashes = (struct records){m.clash_count, m.clashes};
    out->clash_ids = (struct texts){m.clash_count, m.clash_ids};
    return rc;
}

/* ---- settling
 * -------------------------------------------------------------------------------------------- */

static int put_body(struct record *record, const struct record_clash *c, const char *body,
                    struct error *err) {
    if (!body) {
        int rc = record_withdraw(record, c->of_kind, c->of_id, err);
        return rc == ERR_MISSING ? 0 : rc; /* it is withdrawn already */
    }
    json_t *j = json_loads(body, 0, NULL);
    int rc = j ? record_put(record, c->of_kind, c->of_id, j, NULL, err)
               : fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                      "The value of a clash cannot be read.");
    json_decref(j);
    return rc;
}

static int settle(struct record *record, const char *id, struct record_clash *c, const char *choice,
                  const json_t *other, struct error *err) {
    int rc;
    if (strcmp(choice, "ours") == 0)
        rc = put_body(record, c, c->ours, err);
    else if (strcmp(choice, "theirs") == 0)
        rc = put_body(record, c, c->theirs, err);
    else
        rc = record_put(record, c->of_kind, c->of_id, other, NULL, err);
    c->open = 0;
    c->chosen = choice;
    return rc ? rc : record_put_struct(record, &record_clash_kind, id, c, NULL, err);
}

int record_clash_settle(struct record *record, const char *id, const char *choice,
                        const json_t *other, const char *who, const char *when, const char *why,
                        struct error *err) {
    struct record_entry e;
    struct record_clash c;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    bool is_other = strcmp(choice, "other") == 0;
    json_t *body = NULL;
    int rc = record_get(&e, record, "clash", id, arena, err);
    if (!rc && strcmp(choice, "ours") != 0 && strcmp(choice, "theirs") != 0 && !(is_other && other))
        rc = fail(err, ERR_INPUT, "Choose ours, theirs, or other with a value.",
                  "\"%.20s\" settles nothing.", choice);
    if (!rc) body = json_loads(e.body, 0, NULL);
    if (!rc) rc = body ? field_decode(&record_clash_kind, body, &c, arena, err) : fail_memory(err);
    if (!rc && c.open != 1)
        rc = fail(err, ERR_REFUSED, "Change the thing itself.", "This clash is settled already.");
    if (!rc && !(rc = record_change_begin(record, who, when, why, err))) {
        rc = settle(record, id, &c, choice, other, err);
        if (rc)
            record_change_rollback(record);
        else
            rc = record_change_commit(record, NULL, err);
    }
    json_decref(body);
    arena_free(arena);
    return rc;
}
