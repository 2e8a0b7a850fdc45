#include "base/file.h"
#include "base/mem.h"
#include "record/record_kinds.h"
#include "record/record_private.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- talking to SQLite ---------------------------------------------------------------------- */

/* Whether the failure ended the transaction too; then what was in it is gone. */
static void notice_rollback(struct record *record) {
    if (record->in_change && sqlite3_get_autocommit(record->db)) record->in_change = false;
}

int record_fail(struct record *record, const char *doing, struct error *err) {
    int code = sqlite3_extended_errcode(record->db);
    const char *said = sqlite3_errmsg(record->db);
    notice_rollback(record);
    if (err) error_place(err, record->path, 0, NULL, NULL);
    switch (code & 0xff) {
    case SQLITE_NOMEM:
        return fail_memory(err);
    case SQLITE_FULL:
        return fail(
            err, ERR_FILE,
            "The disk is full: make room, then do it again. What was saved before is whole.",
            "Cannot %s: no room left on the disk.", doing);
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return fail(err, ERR_FILE,
                    "Copy the project to a folder you may write to, and open it there.",
                    "Cannot %s: the file or its folder may not be written.", doing);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return fail(err, ERR_FILE, "Close it in the other program or window, then try again.",
                    "Cannot %s: somebody else is writing to the project.", doing);
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return fail(err, ERR_DAMAGED,
                    "Take a backup copy; or export what can still be read to a folder.",
                    "Cannot %s: the project file is damaged (%s).", doing, said);
    case SQLITE_TOOBIG:
        return fail(err, ERR_RANGE, "Split it into parts.", "Cannot %s: it is too large.", doing);
    case SQLITE_CONSTRAINT:
        return fail(err, ERR_INPUT, "Look at the value that is given.",
                    "Cannot %s: the project file does not allow it (%s).", doing, said);
    default:
        return fail(err, ERR_FILE, "Look whether the disk is in order, and try again.",
                    "Cannot %s: %s.", doing, said);
    }
}

int record_prepare(sqlite3_stmt **out, struct record *record, const char *sql, struct error *err) {
    *out = NULL;
    return sqlite3_prepare_v2(record->db, sql, -1, out, NULL) ? record_fail(record, "read", err)
                                                              : 0;
}

int record_run(struct record *record, const char *sql, struct error *err) {
    return sqlite3_exec(record->db, sql, NULL, NULL, NULL) ? record_fail(record, "save", err) : 0;
}

/* id, change, kind, name, body, sha256; four times four are RECORD_AT_ONCE */
#define ONE_NEW "(?, ?, ?, ?, NULL, 0, ?, ?)"
#define FOUR_NEW ONE_NEW "," ONE_NEW "," ONE_NEW "," ONE_NEW
static const char *const statements[SQL_COUNT] = {
    [SQL_BEGIN] = "BEGIN IMMEDIATE",
    [SQL_COMMIT] = "COMMIT",
    [SQL_ROLLBACK] = "ROLLBACK",
    [SQL_LATEST] = "SELECT e.id, e.gone, e.body, c.uuid, c.first FROM entry e "
                   "JOIN change c ON c.id = e.change "
                   "WHERE e.kind = ?1 AND e.name = ?2 ORDER BY e.id DESC LIMIT 1",
    [SQL_PUT] = "INSERT INTO entry(id, change, kind, name, supersedes, gone, body, sha256) "
                "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [SQL_PUT_NEW] = "INSERT INTO entry(id, change, kind, name, supersedes, gone, body, sha256) "
                    "VALUES " FOUR_NEW "," FOUR_NEW "," FOUR_NEW "," FOUR_NEW,
    [SQL_ENTRY] = "SELECT " ENTRY_COLUMNS ENTRY_FROM "WHERE e.id = ?1",
    [SQL_CHANGE_NEW] =
        "INSERT INTO change(uuid, who, made, why, undoes, first, count, sha256, link)"
        " VALUES (?1, ?2, ?3, ?4, ?5, ?6, 0, '', '')",
    [SQL_CHANGE_END] = "UPDATE change SET count = ?2, sha256 = ?3, link = ?4 WHERE id = ?1",
    [SQL_LAST] = RECORD_NOTE_LAST,
    [SQL_CHANGE_BEFORE] = "SELECT link FROM change WHERE id < ?1 ORDER BY id DESC LIMIT 1",
};

sqlite3_stmt *record_statement(struct record *record, enum statement_name name, struct error *err) {
    if (!record->sql[name] &&
        sqlite3_prepare_v3(record->db, statements[name], -1, SQLITE_PREPARE_PERSISTENT,
                           &record->sql[name], NULL)) {
        record_fail(record, "read", err);
        return NULL;
    }
    sqlite3_reset(record->sql[name]);
    return record->sql[name];
}

const char *record_column(sqlite3_stmt *s, int column) {
    const char *text = (const char *)sqlite3_column_text(s, column);
    return text ? text : "";
}

void record_uuid_make(char out[RECORD_UUID]) {
    unsigned char bytes[16];
    size_t got = 0;
    while (got < sizeof bytes) {
        ssize_t k = getrandom(bytes + got, sizeof bytes - got, 0);
        if (k > 0) got += (size_t)k;
    }
    for (size_t i = 0; i < sizeof bytes; i++)
        snprintf(out + 2 * i, 3, "%02x", bytes[i]);
}

/* ---- kinds ---------------------------------------------------------------------------------- */

static int add_kind(struct record *record, const struct kind *kind, struct error *err) {
    for (size_t i = 0; i < record->n_kinds; i++)
        if (strcmp(record->kinds[i].kind->name, kind->name) == 0) return 0;
    struct canon_kind *canon = canon_kind_new(kind);
    if (!canon) return fail_memory(err);
    record->kinds[record->n_kinds++] = (struct record_kind_slot){kind, canon};
    return 0;
}

static int add_kinds(struct record *record, const struct record_options *options,
                     struct error *err) {
    size_t n = options ? options->n_kinds : 0, own = 0;
    while (record_kinds[own])
        own++;
    record->kinds = MEM_NEW(struct record_kind_slot, n + own);
    if (!record->kinds) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < n && !rc; i++)
        rc = add_kind(record, options->kinds[i], err);
    for (size_t i = 0; i < own && !rc; i++)
        rc = add_kind(record, record_kinds[i], err);
    return rc;
}

static struct record_kind_slot *find_slot(const struct record *record, const char *name) {
    for (size_t i = 0; i < record->n_kinds; i++)
        if (strcmp(record->kinds[i].kind->name, name) == 0) return &record->kinds[i];
    return NULL;
}

const struct kind *record_kind(const struct record *record, const char *name) {
    struct record_kind_slot *slot = find_slot(record, name);
    return slot ? slot->kind : NULL;
}

const struct kind *record_kind_at(const struct record *record, size_t i) {
    return i < record->n_kinds ? record->kinds[i].kind : NULL;
}

struct canon_kind *record_canon(struct record *record, const struct kind *kind) {
    struct record_kind_slot *slot = find_slot(record, kind->name);
    return slot ? slot->canon : NULL;
}

/* ---- which files this account closed last ---------------------------------------------------- */

/* Name of the mark of this file: by its uuid and its full path, so that a copy is foreign. */
static char *mark_path(const struct record *record, struct arena *arena) {
    char *full = realpath(record->path, NULL);
    if (!full) return NULL;
    char *key = arena_printf(arena, "%s %s", record->uuid, full), hex[SHA256_TEXT];
    free(full);
    if (!key) return NULL;
    sha256_text(key, strlen(key), hex);
    return arena_printf(arena, "%s/closed-%.32s", record->state_folder, hex);
}

/* What the file looks like from outside: size, time of last writing, and SQLite's counter of
 * changes (bytes 24..27 of the file, "file change counter", sqlite.org/fileformat2.html 1.3.7). */
static char *mark_text(const struct record *record, struct arena *arena) {
    struct stat st;
    unsigned char counter[4];
    int fd = open(record->path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) return NULL;
    bool ok = fstat(fd, &st) == 0 && pread(fd, counter, 4, 24) == 4;
    close(fd);
    if (!ok) return NULL;
    return arena_printf(arena, "%lld %lld.%09ld %02x%02x%02x%02x\n", (long long)st.st_size,
                        (long long)st.st_mtim.tv_sec, st.st_mtim.tv_nsec, counter[0], counter[1],
                        counter[2], counter[3]);
}

static bool closed_here_last(const struct record *record) {
    if (!record->state_folder) return false;
    struct arena *arena = arena_new();
    if (!arena) return false;
    char *path = mark_path(record, arena), *now = mark_text(record, arena);
    const char *then = NULL;
    size_t n = 0;
    bool same =
        path && now && file_read(&then, &n, path, 200, arena, NULL) == 0 && strcmp(then, now) == 0;
    arena_free(arena);
    return same;
}

/* A mark that cannot be written costs only a deep check at the next opening. */
static void mark_closed(const struct record *record) {
    if (!record->state_folder) return;
    struct arena *arena = arena_new();
    if (!arena) return;
    char *path = mark_path(record, arena), *now = mark_text(record, arena);
    if (path && now && file_folder(record->state_folder, NULL) == 0)
        file_write(path, now, strlen(now), true, NULL);
    arena_free(arena);
}

/* ---- opening -------------------------------------------------------------------------------- */

static unsigned long big_endian(const unsigned char *p) {
    return (unsigned long)p[0] << 24 | (unsigned long)p[1] << 16 | (unsigned long)p[2] << 8 | p[3];
}

/* Looks at the first 100 bytes before SQLite does (sqlite.org/fileformat2.html 1.3): a table, a
 * scan or a photo under the wrong name gets a plain answer. */
static int check_head(const char *path, long *version, struct error *err) {
    unsigned char head[100];
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) return file_fail("read", path, err);
    ssize_t n = read(fd, head, sizeof head);
    if (n < 0) {
        int rc = file_fail("read", path, err);
        close(fd);
        return rc;
    }
    close(fd);
    bool database = n == (ssize_t)sizeof head && memcmp(head, "SQLite format 3", 16) == 0;
    bool ours = database && big_endian(head + 68) == RECORD_APPLICATION;
    if (!ours) error_place(err, path, 0, NULL, NULL);
    if (!database)
        return fail(err, ERR_INPUT, "Bring a table or a photo in with \"relict import\".",
                    "\"%.200s\" is not a project file (it looks like %s).", path,
                    n == 0 ? "an empty file" : record_media(head, (size_t)n));
    if (!ours)
        return fail(err, ERR_INPUT, "Choose a project file made by relict.",
                    "\"%.200s\" is a database, but not a project of relict.", path);
    *version = (long)big_endian(head + 60);
    return 0;
}

static int set_up(struct record *record, bool read_only, struct error *err) {
    sqlite3_extended_result_codes(record->db, 1);
    sqlite3_busy_timeout(record->db, 5000);
    sqlite3_db_config(record->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    sqlite3_db_config(record->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    sqlite3_db_config(record->db, SQLITE_DBCONFIG_ENABLE_LOAD_EXTENSION, 0, NULL);
    sqlite3_db_config(record->db, SQLITE_DBCONFIG_ENABLE_FKEY, 1, NULL);
    int rc = record_run(record,
                        "PRAGMA cell_size_check = ON; PRAGMA synchronous = EXTRA;"
                        "PRAGMA cache_size = -32768; PRAGMA temp_store = MEMORY;",
                        err);
    if (!rc && !read_only)
        rc = record_run(record, "PRAGMA journal_mode = DELETE; PRAGMA secure_delete = ON;", err);
    return rc;
}

static int deep_check(struct record *record, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record, "PRAGMA quick_check(1)", err);
    if (rc) return rc;
    int step = sqlite3_step(s);
    if (step != SQLITE_ROW)
        rc = record_fail(record, "check the project", err);
    else if (strcmp(record_column(s, 0), "ok") != 0) {
        error_place(err, record->path, 0, NULL, NULL);
        rc = fail(err, ERR_DAMAGED,
                  "Take a backup copy; or export what can still be read to a folder.",
                  "The project file is damaged: %.200s.", record_column(s, 0));
    }
    sqlite3_finalize(s);
    if (!rc) record->checked = true;
    return rc;
}

static int read_uuid(struct record *record, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record, "SELECT value FROM meta WHERE name = 'uuid'", err);
    if (rc) return rc;
    int step = sqlite3_step(s);
    if (step == SQLITE_ROW && strlen(record_column(s, 0)) == RECORD_UUID - 1)
        snprintf(record->uuid, sizeof record->uuid, "%s", record_column(s, 0));
    else
        rc = step == SQLITE_ROW || step == SQLITE_DONE
                 ? fail(err, ERR_DAMAGED, "Take a backup copy.", "The project has lost its name.")
                 : record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

static int newer(struct record *record, long version, const struct record_form *form,
                 bool read_only, struct error *err) {
    record->read_only = true;
    if (read_only) return 0;
    error_place(err, record->path, 0, NULL, NULL);
    return fail(err, ERR_REFUSED,
                "Open it read-only, or with the newer program. Nothing was changed.",
                "This project was written by a newer program (form %ld; this one knows %d).",
                version, form->version);
}

/* A change that a power cut or a full disk broke off lies half in the file, and beside it what
 * stood there before, as FILE-journal. SQLite puts that back at the next opening for writing
 * (sqlite.org/atomiccommit.html, "Rollback") but cannot when opened for reading only; so the file
 * is opened for writing once, when there is such a journal, before anything in it is believed. */
static int take_back(struct record *record, struct error *err) {
    struct arena *arena = arena_new();
    char *journal = arena ? arena_printf(arena, "%s-journal", record->path) : NULL;
    struct stat st;
    bool broken_off = journal && stat(journal, &st) == 0 && st.st_size > 0;
    bool memory = !journal;
    arena_free(arena);
    if (memory) return fail_memory(err);
    if (!broken_off) return 0;
    sqlite3 *db = NULL;
    int bad = sqlite3_open_v2(record->path, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL);
    if (!bad) sqlite3_busy_timeout(db, 5000);
    /* Reading is enough. Where nothing may be written this fails, unless the journal is that of
     * somebody who is writing just now; then the opening below waits or goes on. */
    if (!bad) bad = sqlite3_exec(db, "SELECT count(*) FROM sqlite_schema", NULL, NULL, NULL);
    sqlite3_close(db);
    if (!bad) return 0;
    error_place(err, record->path, 0, NULL, NULL);
    return fail(err, ERR_FILE,
                "Copy the project together with the file beside it that ends in \"-journal\" to a "
                "folder you may write to, where there is room, and open it there.",
                "The last change was broken off half way (a power cut, a full disk) and must be "
                "taken back before the project can be read; here it cannot.");
}

static int open_steps(struct record *record, const struct record_options *options,
                      const struct record_form *form, struct error *err) {
    bool read_only = options && options->read_only;
    long version = 0;
    int rc = check_head(record->path, &version, err);
    if (!rc) rc = take_back(record, err);
    if (!rc) rc = check_head(record->path, &version, err); /* the version may have gone back too */
    if (rc) return rc;
    record->read_only = read_only;
    if (version > form->version && (rc = newer(record, version, form, read_only, err))) return rc;
    if (version < 1)
        return fail(err, ERR_DAMAGED, "Take a backup copy.", "The project file has no version.");
    int flags = record->read_only ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE;
    if (sqlite3_open_v2(record->path, &record->db, flags | SQLITE_OPEN_NOMUTEX, NULL))
        return record->db ? record_fail(record, "open the project", err) : fail_memory(err);
    if (!record->read_only && sqlite3_db_readonly(record->db, "main") == 1)
        record->read_only = true; /* readable only: told when somebody wants to write */
    if ((rc = set_up(record, record->read_only, err))) return rc;
    /* The uuid is read after the schema is known to be ours; a foreign file is checked first. */
    if (version == form->version && (rc = record_schema_check(record, form, err))) return rc;
    if (version < form->version && record->read_only)
        return fail(
            err, ERR_REFUSED, "Run \"relict compute\" on it once; a copy is set aside first.",
            "This project has an older form (%ld) and must be brought up to date.", version);
    if (version < form->version &&
        ((rc = deep_check(record, err)) || (rc = record_migrate(record, (int)version, form, err))))
        return rc;
    if ((rc = read_uuid(record, err))) return rc;
    record->foreign = !closed_here_last(record);
    return record->foreign && !record->checked ? deep_check(record, err) : 0;
}

int record_open_as(struct record **out, const char *path, const struct record_options *options,
                   const struct record_form *form, struct error *err) {
    *out = NULL;
    struct record *record = MEM_NEW(struct record, 1);
    if (!record) return fail_memory(err);
    record->path = mem_strdup(path);
    const char *state = options ? options->state_folder : NULL;
    record->state_folder = mem_strdup(state);
    int rc = !record->path || (state && !record->state_folder) ? fail_memory(err)
                                                               : add_kinds(record, options, err);
    if (!rc) rc = open_steps(record, options, form, err);
    if (rc) {
        record->foreign = true; /* leave no mark of a file that was refused */
        mem_free(record->state_folder);
        record->state_folder = NULL;
        record_close(record, NULL);
        return rc;
    }
    *out = record;
    return 0;
}

int record_open(struct record **out, const char *path, const struct record_options *options,
                struct error *err) {
    return record_open_as(out, path, options, &record_form_now, err);
}

int record_close(struct record *record, struct error *err) {
    if (!record) return 0;
    record_read_end(record);
    record_change_rollback(record);
    for (int i = 0; i < SQL_COUNT; i++)
        sqlite3_finalize(record->sql[i]);
    int rc = sqlite3_close(record->db) ? fail(err, ERR_FILE, "Open it again and look.",
                                              "The project could not be closed in order.")
                                       : 0;
    if (!rc && (!record->foreign || record->checked)) mark_closed(record);
    for (size_t i = 0; i < record->n_kinds; i++)
        canon_kind_free(record->kinds[i].canon);
    json_decref(record->held);
    canon_text_free(&record->text);
    mem_free(record->kinds);
    mem_free(record->path);
    mem_free(record->state_folder);
    mem_free(record);
    return rc;
}

const char *record_path(const struct record *record) {
    return record->path;
}
bool record_is_foreign(const struct record *record) {
    return record->foreign;
}
bool record_is_read_only(const struct record *record) {
    return record->read_only;
}
const char *record_uuid(const struct record *record) {
    return record->uuid;
}

int record_check_writable(struct record *record, struct error *err) {
    if (record->read_only) {
        error_place(err, record->path, 0, NULL, NULL);
        return fail(err, ERR_FILE,
                    "Copy the project to a folder you may write to, and open it there.",
                    "The project is open for reading only.");
    }
    /* A transaction that could not be ended when reading or after a failure would take in what is
     * written now and lose it at closing. */
    if (!record->in_change && !record->joined && !sqlite3_get_autocommit(record->db)) {
        record->reading = false;
        int rc = record_run(record, "ROLLBACK", err);
        if (rc) return rc;
    }
    return record->checked ? 0 : deep_check(record, err);
}

/* ---- making --------------------------------------------------------------------------------- */

static int write_start(sqlite3 *db, const struct record_start *start, char uuid[RECORD_UUID],
                       const struct record_form *form) {
    char pragmas[120];
    snprintf(pragmas, sizeof pragmas, "PRAGMA application_id = %d; PRAGMA user_version = %d;",
             RECORD_APPLICATION, form->version);
    if (sqlite3_exec(db, "PRAGMA page_size = 8192; PRAGMA synchronous = EXTRA; BEGIN", NULL, NULL,
                     NULL) ||
        sqlite3_exec(db, pragmas, NULL, NULL, NULL) ||
        sqlite3_exec(db, record_form_schema(form), NULL, NULL, NULL))
        return -1;
    char *sql = sqlite3_mprintf("INSERT INTO meta(name, value) VALUES ('uuid', %Q), ('made', %Q)",
                                uuid, start->when);
    int bad = !sql || sqlite3_exec(db, sql, NULL, NULL, NULL);
    sqlite3_free(sql);
    return bad || sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) ? -1 : 0;
}

/* The empty file is made under another name, so that a half-made one never has the right one. */
static int make_empty(const char *path, const struct record_start *start,
                      const struct record_form *form, struct error *err) {
    struct arena *arena = arena_new();
    char *temporary = arena ? arena_printf(arena, "%s.part-%ld", path, (long)getpid()) : NULL;
    char *folder = arena ? file_parent(path, arena) : NULL;
    if (!temporary || !folder) {
        arena_free(arena);
        return fail_memory(err);
    }
    unlink(temporary);
    struct record half = {.path = (char *)path};
    char uuid[RECORD_UUID];
    record_uuid_make(uuid);
    int rc = 0;
    if (sqlite3_open_v2(temporary, &half.db,
                        SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX, NULL) ||
        write_start(half.db, start, uuid, form))
        rc = half.db ? record_fail(&half, "make the project", err) : fail_memory(err);
    sqlite3_close(half.db);
    if (!rc && link(temporary, path)) {
        if (errno != EEXIST && !file_exists(path) && rename(temporary, path) == 0)
            rc = 0; /* a file system without links */
        else
            rc = file_fail("make the project", path, err);
    }
    unlink(temporary);
    if (!rc) rc = file_folder_sync(folder, err);
    arena_free(arena);
    return rc;
}

int record_new_as(struct record **out, const char *path, const struct record_start *start,
                  const struct record_options *options, const struct record_form *form,
                  struct error *err) {
    *out = NULL;
    if (!start->who || !*start->who || !start->when || !*start->when)
        return fail(err, ERR_MISSING, "Say who begins the project.",
                    "A project needs somebody who begins it, and a date.");
    if (file_exists(path)) {
        errno = EEXIST;
        return file_fail("make the project", path, err);
    }
    int rc = make_empty(path, start, form, err);
    struct record_options writing = options ? *options : (struct record_options){0};
    writing.read_only = false;
    if (!rc) rc = record_open_as(out, path, &writing, form, err);
    struct record_meta meta = {.title = start->title && *start->title ? start->title : "Untitled",
                               .seed = start->seed,
                               .draws = start->draws ? start->draws : 4096,
                               .made = start->when};
    if (!rc) rc = record_change_begin(*out, start->who, start->when, "begun", err);
    if (!rc) rc = record_meta_put(*out, &meta, err);
    if (!rc) rc = record_change_commit(*out, NULL, err);
    if (!rc) {
        (*out)->foreign = false; /* made here and now */
        return 0;
    }
    if (*out) {
        record_close(*out, NULL);
        *out = NULL;
        unlink(path);
    }
    return rc;
}

int record_new(struct record **out, const char *path, const struct record_start *start,
               const struct record_options *options, struct error *err) {
    return record_new_as(out, path, start, options, &record_form_now, err);
}

/* ---- meta ----------------------------------------------------------------------------------- */

int record_meta(struct record_meta *out, struct record *record, struct arena *arena,
                struct error *err) {
    struct records list;
    int rc = record_load(&list, NULL, record, &record_meta_kind, 0, arena, err);
    if (rc) return rc;
    if (list.n == 0)
        return fail(err, ERR_DAMAGED, "Take a backup copy.", "The project's own entry is missing.");
    *out = *(struct record_meta *)list.v;
    return 0;
}

int record_meta_put(struct record *record, const struct record_meta *meta, struct error *err) {
    return record_put_struct(record, &record_meta_kind, "project", meta, NULL, err);
}

/* ---- snapshots ------------------------------------------------------------------------------ */

int record_read_begin(struct record *record, struct error *err) {
    if (record->in_change || record->reading) return 0; /* one moment already */
    int rc = record_run(record, "BEGIN", err);
    record->reading = !rc;
    return rc;
}

void record_read_end(struct record *record) {
    if (!record->reading) return;
    sqlite3_exec(record->db, "ROLLBACK", NULL, NULL, NULL);
    record->reading = false;
}
