/* migrate: the schema as it should be, and the numbered steps from older forms of the file. */
#include "base/asset.h"
#include "base/file.h"
#include "base/mem.h"
#include "record/record_private.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* A later form adds its SQL to these and never edits one. Form 1 is the first; form 2 notes the
 * last entry and the last link of the chain. tests/unit/record/forms keeps a file of each form. */
static const char *const steps_now[] = {RECORD_NOTE_LAST ";"};
const struct record_form record_form_now = {.version = 2, .schema = NULL, .steps = steps_now};

const char *record_form_schema(const struct record_form *form) {
    return form->schema ? form->schema : asset_find("src/record/schema.sql", NULL);
}

/* The stored text of everything in the schema, in order of name. NULL: memory, or unreadable. */
char *record_schema_text(sqlite3 *db, struct arena *arena) {
    sqlite3_stmt *s;
    if (sqlite3_prepare_v2(db, "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY name",
                           -1, &s, NULL))
        return NULL;
    struct canon_text text = {0};
    int step;
    while ((step = sqlite3_step(s)) == SQLITE_ROW)
        for (int i = 0; i < 4; i++) {
            const char *c = record_column(s, i);
            canon_add(&text, c, strlen(c));
            canon_add(&text, "\n", 1);
        }
    sqlite3_finalize(s);
    char *copy = step == SQLITE_DONE && !text.failed
                     ? arena_copy(arena, text.v ? text.v : "", text.n)
                     : NULL;
    canon_text_free(&text);
    return copy;
}

int record_schema_check(struct record *record, const struct record_form *form, struct error *err) {
    struct arena *arena = arena_new();
    sqlite3 *model = NULL;
    char *is = NULL, *should = NULL;
    bool built = arena && sqlite3_open(":memory:", &model) == SQLITE_OK &&
                 sqlite3_exec(model, record_form_schema(form), NULL, NULL, NULL) == SQLITE_OK;
    if (built) should = record_schema_text(model, arena);
    if (should) is = record_schema_text(record->db, arena);
    bool unreadable = should && !is;
    int rc = 0;
    if (unreadable)
        rc = record_fail(record, "open the project", err);
    else if (!is)
        rc = fail_memory(err);
    else if (strcmp(is, should) != 0) {
        error_place(err, record->path, 0, NULL, NULL);
        rc = fail(err, ERR_DAMAGED,
                  "Somebody altered the inside of the file; take a copy from before that.",
                  "The tables of this project file are not those that relict makes.");
    }
    sqlite3_close(model);
    arena_free(arena);
    return rc;
}

/* Copies the open file by SQLite's backup interface; the copy is complete or absent. */
static int back_up(struct record *record, const char *to, struct error *err) {
    if (file_exists(to)) return 0; /* an earlier attempt left it; it holds the same */
    struct arena *arena = arena_new();
    char *part = arena ? arena_printf(arena, "%s.part", to) : NULL;
    char *folder = arena ? file_parent(to, arena) : NULL;
    if (!part || !folder) {
        arena_free(arena);
        return fail_memory(err);
    }
    unlink(part);
    struct record copy = {.path = part};
    int rc = 0;
    if (sqlite3_open_v2(part, &copy.db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL))
        rc = record_fail(&copy, "make a backup", err);
    sqlite3_backup *b = rc ? NULL : sqlite3_backup_init(copy.db, "main", record->db, "main");
    if (!rc && (!b || sqlite3_backup_step(b, -1) != SQLITE_DONE))
        rc = record_fail(&copy, "make a backup", err);
    if (b && sqlite3_backup_finish(b) && !rc) rc = record_fail(&copy, "make a backup", err);
    sqlite3_close(copy.db);
    if (!rc && rename(part, to)) rc = file_fail("make a backup", to, err);
    if (rc) unlink(part);
    if (!rc) rc = file_folder_sync(folder, err);
    arena_free(arena);
    return rc;
}

static int apply_steps(struct record *record, int version, const struct record_form *form,
                       const char *backup, struct error *err) {
    int rc = record_run(record, "BEGIN IMMEDIATE", err);
    if (rc) return rc;
    for (int v = version; v < form->version && !rc; v++)
        rc = record_run(record, form->steps[v - 1], err);
    char *sql = sqlite3_mprintf("INSERT INTO backup(path, version, made) VALUES (%Q, %d, '');"
                                "PRAGMA user_version = %d;",
                                file_name(backup), version, form->version);
    if (!rc) rc = sql ? record_run(record, sql, err) : fail_memory(err);
    sqlite3_free(sql);
    sqlite3_stmt *s = NULL;
    if (!rc) rc = record_prepare(&s, record, "PRAGMA foreign_key_check", err);
    if (!rc && sqlite3_step(s) != SQLITE_DONE)
        rc = fail(err, ERR_DAMAGED, "Take a backup copy.",
                  "Bringing the file up to date broke a reference; nothing was changed.");
    sqlite3_finalize(s);
    if (!rc) rc = record_schema_check(record, form, err);
    if (!rc) rc = record_run(record, "COMMIT", err);
    if (rc) sqlite3_exec(record->db, "ROLLBACK", NULL, NULL, NULL);
    return rc;
}

int record_migrate(struct record *record, int version, const struct record_form *form,
                   struct error *err) {
    struct arena *arena = arena_new();
    char *backup = arena ? arena_printf(arena, "%s.bak-v%d", record->path, version) : NULL;
    int rc = backup ? back_up(record, backup, err) : fail_memory(err);
    if (!rc) rc = apply_steps(record, version, form, backup, err);
    arena_free(arena);
    return rc;
}
