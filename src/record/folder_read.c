/* folder_read: a project from the folder form. */
#include "base/file.h"
#include "base/mem.h"
#include "record/folder_private.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST_FOLDER_FILE = 900000000, MOST_FOLDER_ROWS = 20000000 };

struct folder_reading {
    struct record *record;
    const char *folder;
    json_t *manifest; /* NULL: written by hand */
    struct arena *arena;
    struct record_folder_taken *taken;
};

static char *in_folder(struct folder_reading *r, const char *name) {
    return arena_printf(r->arena, "%s/%s", r->folder, name);
}

/* The hash that relict.json gives for a file, or NULL. */
static const char *listed_hash(const json_t *manifest, const char *name) {
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(manifest, "files"), i, one) {
        const char *path = json_string_value(json_object_get(one, "path"));
        if (path && strcmp(path, name) == 0)
            return json_string_value(json_object_get(one, "sha256"));
    }
    return NULL;
}

/* Reads a file that relict.json names and checks it. */
static int read_listed(const char **bytes, size_t *n, struct folder_reading *r, const char *name,
                       struct arena *arena, struct error *err) {
    char *path = in_folder(r, name), hash[SHA256_TEXT];
    int rc = path ? file_read(bytes, n, path, MOST_FOLDER_FILE, arena, err) : fail_memory(err);
    if (rc) return rc;
    const char *listed = listed_hash(r->manifest, name);
    sha256_text(*bytes, *n, hash);
    if (listed && strcmp(listed, hash) == 0) return 0;
    error_place(err, path, 0, NULL, NULL);
    return fail(err, ERR_DAMAGED, "Take the folder from another copy; only tables may be edited.",
                "This file is not the one that relict.json lists.");
}

/* ---- history
 * ------------------------------------------------------------------------------------- */

static int insert_row(struct record *record, sqlite3_stmt *s, const struct csv_row *row,
                      int columns, struct error *err) {
    if (row->n != (size_t)columns)
        return fail(err, ERR_DAMAGED, "Take the folder from another copy.",
                    "Line %ld of the history is short.", row->line);
    for (int c = 0; c < columns; c++)
        sqlite3_bind_text(s, c + 1, folder_cell_text(row->cells[c]), -1, SQLITE_STATIC);
    int rc = sqlite3_step(s) == SQLITE_DONE ? 0 : record_fail(record, "rebuild the project", err);
    sqlite3_reset(s);
    return rc;
}

static int read_history(struct folder_reading *r, const struct folder_history *h,
                        struct error *err) {
    if (!listed_hash(r->manifest, h->file)) return 0;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    const char *bytes;
    size_t n;
    struct csv_table table;
    sqlite3_stmt *s = NULL;
    struct csv_options options = {.most_rows = MOST_FOLDER_ROWS};
    int rc = read_listed(&bytes, &n, r, h->file, arena, err);
    if (!rc) rc = csv_read(&table, bytes, n, &options, arena, err);
    if (!rc) rc = record_prepare(&s, r->record, h->insert, err);
    for (size_t i = 1; !rc && i < table.n; i++)
        rc = insert_row(r->record, s, &table.rows[i], h->columns, err);
    sqlite3_finalize(s);
    arena_free(arena);
    return rc;
}

/* ---- kept files
 * ----------------------------------------------------------------------------------- */

static int keep(struct folder_reading *r, const char *name, struct error *err) {
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    const char *bytes;
    size_t n;
    char hash[SHA256_TEXT];
    sqlite3_stmt *s = NULL;
    int rc = read_listed(&bytes, &n, r, name, arena, err);
    if (!rc)
        rc = record_prepare(&s, r->record,
                            "INSERT INTO kept(sha256, size, bytes) VALUES (?1, ?2, ?3) "
                            "ON CONFLICT (sha256) DO NOTHING",
                            err);
    if (!rc) {
        sha256_text(bytes, n, hash);
        sqlite3_bind_text(s, 1, hash, -1, SQLITE_STATIC);
        sqlite3_bind_int64(s, 2, (sqlite3_int64)n);
        sqlite3_bind_blob64(s, 3, n ? bytes : "", n, SQLITE_STATIC);
        if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(r->record, "rebuild the project", err);
    }
    sqlite3_finalize(s);
    arena_free(arena);
    return rc;
}

static int read_kept(struct folder_reading *r, struct error *err) {
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(r->manifest, "files"), i, one) {
        const char *name = json_string_value(json_object_get(one, "path"));
        if (!name || strncmp(name, "files/", 6) != 0) continue;
        int rc = keep(r, name, err);
        if (rc) return rc;
    }
    return 0;
}

/* Everything that relict.json lists must be there, or something of the project would be lost. */
static int check_list(struct folder_reading *r, struct error *err) {
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(r->manifest, "files"), i, one) {
        const char *name = json_string_value(json_object_get(one, "path"));
        const char *hash = json_string_value(json_object_get(one, "sha256"));
        bool sound =
            name && *name != '/' && !strstr(name, "..") && hash && strlen(hash) == SHA256_TEXT - 1;
        char *path = sound ? in_folder(r, name) : NULL;
        if (sound && !path) return fail_memory(err);
        if (sound && file_exists(path)) continue;
        error_place(err, r->folder, 0, NULL, NULL);
        return fail(err, ERR_DAMAGED, "Take the folder from another copy.",
                    "\"%.100s\" is listed in relict.json and not there.", name ? name : "");
    }
    return 0;
}

static int rebuild(struct folder_reading *r, struct error *err) {
    struct record_checked checked;
    int rc = record_run(r->record, "BEGIN IMMEDIATE", err);
    if (rc) return rc;
    for (const struct folder_history *h = folder_histories; h->file && !rc; h++)
        rc = read_history(r, h, err);
    if (!rc) rc = read_kept(r, err);
    if (!rc) rc = record_note_last(r->record, err);
    r->record->reading = true; /* inside one transaction already */
    if (!rc) rc = record_verify(&checked, r->record, NULL, NULL, err);
    r->record->reading = false;
    if (!rc && checked.faults)
        rc = fail(err, ERR_DAMAGED, "Take the folder from another copy.",
                  "%zu rows of the history do not fit their hashes.", checked.faults);
    if (!rc) rc = record_run(r->record, "COMMIT", err);
    if (rc) sqlite3_exec(r->record->db, "ROLLBACK", NULL, NULL, NULL);
    return rc;
}

/* ---- tables
 * ------------------------------------------------------------------------------------------ */

static const struct field *field_headed(const struct kind *kind, const char *heading,
                                        struct arena *arena) {
    for (size_t i = 0; i < kind->n; i++) {
        char *with_unit = folder_heading(&kind->fields[i], arena);
        if (strcmp(heading, kind->fields[i].name) == 0 ||
            (with_unit && strcmp(heading, with_unit) == 0))
            return &kind->fields[i];
    }
    return NULL;
}

/* A cell as the JSON value of its field; NULL with err when it is none. */
static json_t *cell_value(const struct field *f, const char *cell, struct error *err) {
    char *end;
    json_t *value = NULL;
    switch (f->type) {
    case FIELD_REAL:
    case FIELD_INT: {
        double v = strtod(cell, &end);
        if (end != cell && !*end)
            value = f->type == FIELD_INT ? json_integer((json_int_t)v) : json_real(v);
        if (value && f->type == FIELD_INT && (double)(json_int_t)v != v) {
            json_decref(value);
            value = NULL;
        }
        break;
    }
    case FIELD_FLAG:
        if (strcmp(cell, "yes") == 0 || strcmp(cell, "no") == 0)
            value = json_boolean(strcmp(cell, "yes") == 0);
        break;
    case FIELD_TEXT:
    case FIELD_DATE:
    case FIELD_CHOICE:
        value = json_string(cell);
        break;
    default:
        value = json_loads(cell, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, NULL);
        break;
    }
    if (value) return value;
    error_place(err, NULL, 0, f->name, NULL);
    fail(err, ERR_INPUT, f->help, "%s: \"%.60s\" cannot be read.", f->label, cell);
    return NULL;
}

static int take_row(struct folder_reading *r, const struct kind *kind,
                    const struct field *const *fields, const struct csv_row *row, size_t id_column,
                    struct error *err) {
    json_t *body = json_object();
    int rc = body ? 0 : fail_memory(err);
    const char *id = id_column < row->n ? folder_cell_text(row->cells[id_column]) : "";
    for (size_t c = 0; c < row->n && !rc; c++) {
        const char *cell = folder_cell_text(row->cells[c]);
        if (!fields[c] || !*cell) continue;
        json_t *value = cell_value(fields[c], cell, err);
        if (!value || json_object_set_new(body, fields[c]->name, value))
            rc = err && err->code ? (int)err->code : ERR_INPUT;
    }
    long before = r->record->next;
    if (!rc) rc = record_put(r->record, kind->name, id, body, NULL, err);
    r->taken->things += !rc;
    r->taken->changed += !rc && r->record->next > before;
    json_decref(body);
    return rc;
}

static bool is_journal(const char *heading) {
    static const char *const words[] = {"id", "revision", "who", "when", "why"};
    for (size_t i = 0; i < 5; i++)
        if (strcmp(words[i], heading) == 0) return true;
    return false;
}

static int take_table(struct folder_reading *r, const struct kind *kind, const char *path,
                      const char *bytes, size_t n, struct arena *arena, struct error *err) {
    struct csv_table table;
    struct csv_options options = {.most_rows = MOST_FOLDER_ROWS};
    int rc = csv_read(&table, bytes, n, &options, arena, err);
    if (rc || table.n == 0) return rc;
    const struct csv_row *heading = &table.rows[0];
    const struct field **fields = ARENA_NEW(arena, const struct field *, heading->n);
    if (!fields) return fail_memory(err);
    size_t id = heading->n;
    /* A table of a project written out begins id, revision, who, when, why, for people to read; a
     * kind that has a field of such a name has it further on. A table by hand has no revision. */
    bool own = heading->n > 1 && strcmp(heading->cells[1], "revision") == 0;
    for (size_t c = 0; c < heading->n && !rc; c++) {
        bool is_id = strcmp(heading->cells[c], "id") == 0;
        if (is_id) id = c;
        bool journal = is_id || (own && is_journal(heading->cells[c]) && c < 5);
        if (!journal) fields[c] = field_headed(kind, heading->cells[c], arena);
        if (!journal && !fields[c])
            rc = fail(err, ERR_INPUT, "Head the columns with the names of the fields.",
                      "A %s has no field \"%.60s\".", kind->name, heading->cells[c]);
    }
    if (!rc && id == heading->n)
        rc = fail(err, ERR_INPUT, "Give each row a name in a column \"id\".",
                  "The table has no column \"id\".");
    long line = 1;
    for (size_t i = 1; !rc && i < table.n; i++) {
        line = table.rows[i].line;
        rc = table.rows[i].n <= heading->n ? take_row(r, kind, fields, &table.rows[i], id, err)
                                           : fail(err, ERR_INPUT, "Quote cells that hold commas.",
                                                  "More cells than the heading has.");
    }
    if (rc) error_place(err, path, line, NULL, NULL);
    return rc;
}

/* The table of a kind under tables/ or, in folders written by hand, beside relict.json. Tables that
 * are as they were written need no reading: the history has all that is in them. */
static int take_kind(struct folder_reading *r, const struct kind *kind, struct error *err) {
    char *name = arena_printf(r->arena, "tables/%s.csv", kind->name);
    char *path = name ? in_folder(r, name) : NULL;
    if (!path) return fail_memory(err);
    if (!file_exists(path)) {
        path = arena_printf(r->arena, "%s/%s.csv", r->folder, kind->name);
        if (!path) return fail_memory(err);
        if (!file_exists(path)) return 0;
    }
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    const char *bytes, *listed = listed_hash(r->manifest, name);
    size_t n;
    char hash[SHA256_TEXT];
    int rc = file_read(&bytes, &n, path, MOST_FOLDER_FILE, arena, err);
    if (!rc) sha256_text(bytes, n, hash);
    if (!rc && !(listed && strcmp(listed, hash) == 0))
        rc = take_table(r, kind, path, bytes, n, arena, err);
    arena_free(arena);
    return rc;
}

/* Files under files/ of a folder written by hand. */
static int take_files(struct folder_reading *r, struct error *err) {
    char *folder = in_folder(r, "files");
    DIR *dir = folder ? opendir(folder) : NULL;
    if (!dir) return folder ? 0 : fail_memory(err);
    struct dirent **list;
    closedir(dir);
    int n = scandir(folder, &list, NULL, alphasort),
        rc = 0; /* in an order that is always the same */
    for (int i = 0; i < n; i++) {
        char *path = *list[i]->d_name == '.'
                         ? NULL
                         : arena_printf(r->arena, "%s/%s", folder, list[i]->d_name);
        struct arena *arena = path && !rc && !file_is_folder(path) ? arena_new() : NULL;
        if (arena) {
            const char *bytes, *id;
            size_t size;
            rc = file_read(&bytes, &size, path, 0, arena, err);
            if (!rc)
                rc = record_file_add(&id, r->record, list[i]->d_name, "file", bytes, size, arena,
                                     err);
            arena_free(arena);
        }
        free(list[i]);
    }
    if (n >= 0) free(list);
    return rc;
}

static int take_tables(struct folder_reading *r, const char *who, const char *when, const char *why,
                       struct error *err) {
    int rc = record_change_begin(r->record, who, when, why, err);
    if (rc) return rc;
    for (size_t i = 0; !rc && record_kind_at(r->record, i); i++)
        rc = take_kind(r, record_kind_at(r->record, i), err);
    if (!rc && !r->manifest) rc = take_files(r, err);
    if (rc)
        record_change_rollback(r->record);
    else
        rc = record_change_commit(r->record, &r->taken->change, err);
    return rc;
}

/* ---- the whole
 * ------------------------------------------------------------------------------------- */

static int read_manifest(struct folder_reading *r, struct error *err) {
    char *path = in_folder(r, "relict.json");
    const char *bytes;
    size_t n;
    if (!path) return fail_memory(err);
    if (!file_is_folder(r->folder)) {
        error_place(err, r->folder, 0, NULL, NULL);
        return fail(err, ERR_MISSING, "Look at the name of the folder.",
                    "There is no such folder.");
    }
    if (!file_exists(path)) return 0;
    int rc = file_read(&bytes, &n, path, 0, r->arena, err);
    json_error_t je;
    if (!rc) r->manifest = json_loadb(bytes, n, JSON_REJECT_DUPLICATES, &je);
    if (!rc && !r->manifest) {
        error_place(err, path, je.line, NULL, NULL);
        return fail(err, ERR_INPUT, "Take the folder from another copy.",
                    "relict.json cannot be read: %s.", je.text);
    }
    long version = (long)json_integer_value(json_object_get(r->manifest, "version"));
    if (!rc && version > 1)
        return fail(err, ERR_REFUSED, "Open it with the newer program.",
                    "This folder was written by a newer program (version %ld).", version);
    return rc;
}

int record_folder_take(struct record_folder_taken *taken, struct record *record, const char *folder,
                       const char *who, const char *when, const char *why, struct error *err) {
    *taken = (struct record_folder_taken){0};
    struct folder_reading r = {
        .record = record, .folder = folder, .arena = arena_new(), .taken = taken};
    int rc = r.arena ? read_manifest(&r, err) : fail_memory(err);
    json_t *manifest = r.manifest;
    r.manifest = NULL; /* every table is read, edited or not */
    if (!rc) rc = take_tables(&r, who, when, why, err);
    json_decref(manifest);
    arena_free(r.arena);
    return rc;
}

/* Gives the fresh file the project's own name and takes away what record_new put in. */
static int become(struct record *record, const char *uuid, struct error *err) {
    char *sql = sqlite3_mprintf("DELETE FROM entry; DELETE FROM change; "
                                "UPDATE meta SET value = %Q WHERE name = 'uuid';",
                                uuid);
    int rc = sql ? record_run(record, sql, err) : fail_memory(err);
    sqlite3_free(sql);
    if (!rc) snprintf(record->uuid, RECORD_UUID, "%s", uuid);
    return rc;
}

static int fill(struct folder_reading *r, const struct record_start *start, struct error *err) {
    const char *uuid = json_string_value(json_object_get(r->manifest, "project"));
    bool history = listed_hash(r->manifest, "history/changes.csv") != NULL;
    if (r->manifest && (!uuid || strlen(uuid) != RECORD_UUID - 1 || !history))
        return fail(err, ERR_DAMAGED,
                    "Take the folder from another copy, or take relict.json out of it: then only "
                    "its tables are read.",
                    "relict.json does not say whose folder this is, or lists no history.");
    int rc = history ? check_list(r, err) : 0;
    if (history && !rc) rc = become(r->record, uuid, err);
    if (history && !rc) rc = rebuild(r, err);
    if (rc) return rc;
    return take_tables(r, start->who, start->when,
                       history ? "tables edited in the folder form" : "from a folder", err);
}

int record_folder_read(struct record **out, struct record_folder_taken *taken, const char *folder,
                       const char *path, const struct record_start *start,
                       const struct record_options *options, struct error *err) {
    *out = NULL;
    *taken = (struct record_folder_taken){0};
    struct folder_reading r = {.folder = folder, .arena = arena_new(), .taken = taken};
    int rc = r.arena ? read_manifest(&r, err) : fail_memory(err);
    if (!rc) rc = record_new(&r.record, path, start, options, err);
    if (!rc) {
        rc = fill(&r, start, err);
        if (rc) {
            record_close(r.record, NULL);
            unlink(path);
        } else
            *out = r.record;
    }
    json_decref(r.manifest);
    arena_free(r.arena);
    return rc;
}
