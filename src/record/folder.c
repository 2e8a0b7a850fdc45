/* folder: writing the folder form. */
#include "base/file.h"
#include "base/mem.h"
#include "record/folder_private.h"
#include "record/record_kinds.h"

#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- cells ------------------------------------------------------------------------------------
 */

char *folder_heading(const struct field *field, struct arena *arena) {
    if (!field->unit || !*field->unit) return arena_strdup(arena, field->name);
    char *heading = arena_printf(arena, "%s_%s", field->name, field->unit);
    for (char *p = heading; p && *p; p++)
        if (!isalnum((unsigned char)*p)) *p = '_';
    return heading;
}

/* An apostrophe at the beginning is doubled, so that taking one off gives the text back. */
void folder_cell(FILE *to, const char *text) {
    if (*text != '\'') {
        csv_write_cell(to, text, 1);
        return;
    }
    fputs("\"'", to);
    for (; *text; text++) {
        if (*text == '"') fputc('"', to);
        fputc(*text, to);
    }
    fputc('"', to);
}

const char *folder_cell_text(const char *cell) {
    return *cell == '\'' ? cell + 1 : cell;
}

const struct folder_history folder_histories[] = {
    {"history/changes.csv", "change,who,when,why,undoes,count,sha256,link",
     "SELECT uuid, who, made, why, coalesce(undoes, ''), count, sha256, link FROM change ORDER BY "
     "id",
     "INSERT INTO change(uuid, who, made, why, undoes, count, sha256, link, first) VALUES (?1, ?2, "
     "?3, ?4, nullif(?5, ''), ?6, ?7, ?8, (SELECT coalesce(max(first + count), 1) FROM change))",
     8},
    {"history/entries.csv",
     "change,place,kind,id,supersedes_change,supersedes_place,gone,sha256,body",
     "SELECT c.uuid, e.id - c.first, e.kind, e.name, coalesce(bc.uuid, ''), "
     "coalesce(b.id - bc.first, ''), e.gone, e.sha256, e.body FROM entry e JOIN change c ON "
     "c.id = e.change LEFT JOIN entry b ON b.id = e.supersedes LEFT JOIN change bc ON "
     "bc.id = b.change ORDER BY e.id",
     "INSERT INTO entry(id, change, kind, name, supersedes, gone, sha256, body) SELECT "
     "c.first + ?2, c.id, ?3, ?4, CASE ?5 WHEN '' THEN NULL ELSE (SELECT first + ?6 FROM change "
     "WHERE uuid = ?5) END, ?7, ?8, ?9 FROM change c WHERE c.uuid = ?1",
     9},
    {"history/seals.csv", "seal,kind,name,who,when,link,sha256,body",
     "SELECT uuid, kind, name, who, made, link, sha256, body FROM seal ORDER BY id",
     "INSERT INTO seal(uuid, kind, name, who, made, link, sha256, body) VALUES (?1, ?2, ?3, ?4, "
     "?5, ?6, ?7, ?8)",
     8},
    {"history/blots.csv", "what,target,before,after,who,when,why",
     "SELECT what, target, before, after, who, made, why FROM blot ORDER BY id",
     "INSERT INTO blot(what, target, before, after, who, made, why) VALUES (?1, ?2, ?3, ?4, ?5, "
     "?6, ?7)",
     7},
    {"results/results.csv", "stage,key,when,sha256,body",
     "SELECT stage, key, made, sha256, body FROM result ORDER BY stage, key",
     "INSERT INTO result(stage, key, made, sha256, body) VALUES (?1, ?2, ?3, ?4, ?5)", 5},
    {NULL, NULL, NULL, NULL, 0},
};

/* ---- one file of the folder
 * ---------------------------------------------------------------------- */

struct writing {
    struct record *record;
    const char *folder;
    struct arena *arena;
    json_t *files; /* of relict.json */
    struct record_folder_made *out;
};

static int write_bytes(struct writing *w, const char *name, const void *bytes, size_t n,
                       struct error *err) {
    char *path = arena_printf(w->arena, "%s/%s", w->folder, name);
    char *parent = path ? file_parent(path, w->arena) : NULL;
    if (!parent) return fail_memory(err);
    int rc = file_folder(parent, err);
    if (!rc) rc = file_write(path, bytes, n, true, err);
    if (rc) return rc;
    char hash[SHA256_TEXT];
    sha256_text(bytes, n, hash);
    json_t *entry =
        json_pack("{s:s, s:I, s:s}", "path", name, "bytes", (json_int_t)n, "sha256", hash);
    if (!entry || json_array_append_new(w->files, entry)) return fail_memory(err);
    w->out->files++;
    w->out->bytes += n;
    return 0;
}

/* A text that is put together with stdio and then written at once. */
struct sheet {
    FILE *to;
    char *text;
    size_t n;
};

static int sheet_begin(struct sheet *s, struct error *err) {
    *s = (struct sheet){0};
    s->to = open_memstream(&s->text, &s->n);
    return s->to ? 0 : fail_memory(err);
}

static int sheet_end(struct sheet *s, struct writing *w, const char *name, int rc,
                     struct error *err) {
    bool bad = ferror(s->to) != 0;
    bad |= fclose(s->to) != 0;
    if (!rc && bad) rc = fail_memory(err);
    if (!rc) rc = write_bytes(w, name, s->text, s->n, err);
    free(s->text);
    return rc;
}

/* ---- tables of kinds
 * ------------------------------------------------------------------------------- */

struct table {
    struct writing *w;
    const struct kind *kind;
    FILE *to;
    size_t rows;
    FILE *map; /* GeoJSON beside it, or NULL */
    const struct field *points;
    size_t shapes;
};

static bool table_head(FILE *to, const struct kind *kind, struct arena *arena) {
    fputs("id,revision,who,when,why", to);
    for (size_t i = 0; i < kind->n; i++) {
        if (strcmp(kind->fields[i].name, "id") == 0) continue;
        char *heading = folder_heading(&kind->fields[i], arena);
        if (!heading) return false;
        fprintf(to, ",%s", heading);
    }
    fputs("\r\n", to);
    return true;
}

/* One value of a stored body as the text of a cell; false when memory is gone. */
static bool json_cell(FILE *to, const json_t *value) {
    if (!value || json_is_null(value)) return true;
    if (json_is_string(value))
        folder_cell(to, json_string_value(value));
    else if (json_is_boolean(value))
        fputs(json_is_true(value) ? "yes" : "no", to);
    else if (json_is_integer(value))
        fprintf(to, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
    else if (json_is_real(value))
        fprintf(to, "%.15g", json_real_value(value));
    else {
        char *text = json_dumps(value, JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15));
        if (!text) return false;
        folder_cell(to, text);
        free(text);
    }
    return true;
}

/* Outer rings run counter-clockwise and close (RFC 7946, 3.1.6). */
static void write_shape(struct table *t, const char *id, const json_t *points) {
    size_t n = json_array_size(points);
    double twice = 0;
    if (n < 3) return;
#define X(i) json_number_value(json_array_get(json_array_get(points, (i) % n), 0))
#define Y(i) json_number_value(json_array_get(json_array_get(points, (i) % n), 1))
    for (size_t i = 0; i < n; i++)
        twice += X(i) * Y(i + 1) - X(i + 1) * Y(i);
    json_t *text = json_string(id);
    char *name = json_dumps(text, JSON_ENCODE_ANY);
    json_decref(text);
    fprintf(t->map,
            "%s\n{\"type\":\"Feature\",\"id\":%s,\"properties\":{},\"geometry\":{\"type\":"
            "\"Polygon\",\"coordinates\":[[",
            t->shapes++ ? "," : "", name ? name : "\"\"");
    free(name);
    for (size_t k = 0; k <= n; k++) {
        size_t i = twice < 0 ? 2 * n - k : k;
        fprintf(t->map, "%s[%.10g,%.10g]", k ? "," : "", X(i), Y(i));
    }
#undef X
#undef Y
    fputs("]]}}", t->map);
}

static int table_row(const struct record_entry *e, void *context, struct error *err) {
    struct table *t = context;
    json_t *body = json_loads(e->body, 0, NULL);
    if (!body)
        return fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                    "%s %s: its stored fields cannot be read.", e->kind, e->id);
    int rc = 0;
    folder_cell(t->to, e->id);
    fprintf(t->to, ",%ld,", e->revision);
    folder_cell(t->to, e->who);
    fputc(',', t->to);
    folder_cell(t->to, e->when);
    fputc(',', t->to);
    folder_cell(t->to, e->why);
    for (size_t i = 0; i < t->kind->n; i++) {
        if (strcmp(t->kind->fields[i].name, "id") == 0) continue;
        fputc(',', t->to);
        if (!json_cell(t->to, json_object_get(body, t->kind->fields[i].name)))
            rc = fail_memory(err);
    }
    fputs("\r\n", t->to);
    if (t->map) write_shape(t, e->id, json_object_get(body, t->points->name));
    json_decref(body);
    t->rows++;
    return rc;
}

/* The field of a kind that is an outline in plan, if it has one. */
static const struct field *outline_field(const struct kind *kind) {
    for (size_t i = 0; i < kind->n; i++)
        if (kind->fields[i].type == FIELD_TUPLES && kind->fields[i].width == 2)
            return &kind->fields[i];
    return NULL;
}

static int write_kind(struct writing *w, const struct kind *kind, struct error *err) {
    struct sheet csv, map = {0};
    struct table t = {.w = w, .kind = kind, .points = outline_field(kind)};
    int rc = sheet_begin(&csv, err);
    if (rc) return rc;
    if (t.points && (rc = sheet_begin(&map, err))) {
        fclose(csv.to);
        free(csv.text);
        return rc;
    }
    t.to = csv.to;
    t.map = map.to;
    rc = table_head(t.to, kind, w->arena) ? 0 : fail_memory(err);
    if (t.map)
        fputs("{\"type\":\"FeatureCollection\",\"relict:frame\":{\"unit\":\"mm\",\"x\":\"right\","
              "\"y\":\"up\",\"note\":\"not geographic: millimetres on a plan\"},\"features\":[",
              t.map);
    if (!rc) rc = record_each(w->record, kind->name, 0, table_row, &t, err);
    if (t.map) fputs("\n]}\n", t.map);
    char *name = arena_printf(w->arena, "tables/%s.csv", kind->name);
    char *shapes = arena_printf(w->arena, "outlines/%s.geojson", kind->name);
    if (!rc && (!name || !shapes)) rc = fail_memory(err);
    if (t.map && (rc || t.shapes == 0)) {
        fclose(map.to);
        free(map.text);
    } else if (t.map)
        rc = sheet_end(&map, w, shapes, rc, err);
    if (!rc && t.rows == 0) { /* no file for a kind that nobody has used */
        fclose(csv.to);
        free(csv.text);
        return 0;
    }
    w->out->things += t.rows;
    return sheet_end(&csv, w, name, rc, err);
}

/* ---- history, files
 * -------------------------------------------------------------------------------- */

static int write_history(struct writing *w, const struct folder_history *h, struct error *err) {
    struct sheet csv;
    sqlite3_stmt *s;
    int rc = record_prepare(&s, w->record, h->select, err), step = SQLITE_DONE;
    if (rc) return rc;
    size_t rows = 0;
    if ((rc = sheet_begin(&csv, err))) {
        sqlite3_finalize(s);
        return rc;
    }
    fprintf(csv.to, "%s\r\n", h->heading);
    while ((step = sqlite3_step(s)) == SQLITE_ROW) {
        for (int c = 0; c < h->columns; c++) {
            if (c) fputc(',', csv.to);
            folder_cell(csv.to, record_column(s, c));
        }
        fputs("\r\n", csv.to);
        rows++;
    }
    if (step != SQLITE_DONE) rc = record_fail(w->record, "read", err);
    sqlite3_finalize(s);
    if (!rc && rows == 0) {
        fclose(csv.to);
        free(csv.text);
        return 0;
    }
    return sheet_end(&csv, w, h->file, rc, err);
}

/* Name of a kept file in the folder: its hash, and for people the name it came with. */
static int kept_name(char **out, struct writing *w, const char *hash, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, w->record,
                            "SELECT body FROM entry WHERE kind = 'file' AND instr(body, ?1) "
                            "ORDER BY id LIMIT 1",
                            err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, hash, -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    json_t *body = step == SQLITE_ROW ? json_loads(record_column(s, 0), 0, NULL) : NULL;
    if (step != SQLITE_DONE && !body) {
        sqlite3_finalize(s);
        return fail_memory(err);
    }
    const char *name = json_string_value(json_object_get(body, "name"));
    char *safe = file_safe_name(name ? name : "file", w->arena);
    *out = safe ? arena_printf(w->arena, "files/%.16s-%s", hash, safe) : NULL;
    json_decref(body);
    sqlite3_finalize(s);
    return *out ? 0 : fail_memory(err);
}

static int write_kept(struct writing *w, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, w->record, "SELECT sha256, bytes FROM kept ORDER BY id", err),
        step = SQLITE_DONE;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        char *name;
        rc = kept_name(&name, w, record_column(s, 0), err);
        const void *bytes = sqlite3_column_blob(s, 1);
        size_t n = (size_t)sqlite3_column_bytes(s, 1);
        if (!rc) rc = write_bytes(w, name, n ? bytes : "", n, err);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(w->record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

/* ---- the whole
 * -------------------------------------------------------------------------------------- */

static bool is_empty(const char *folder) {
    DIR *dir = opendir(folder);
    const struct dirent *d;
    bool empty = true;
    while (dir && (d = readdir(dir)))
        if (strcmp(d->d_name, ".") != 0 && strcmp(d->d_name, "..") != 0) empty = false;
    if (dir) closedir(dir);
    return empty;
}

/* May this folder be written to? *old: relict.json of an earlier writing, or NULL. */
static int check_target(json_t **old, struct writing *w, bool replace, struct error *err) {
    *old = NULL;
    if (!file_exists(w->folder)) return 0;
    if (file_is_folder(w->folder) && is_empty(w->folder)) return 0;
    char *path = arena_printf(w->arena, "%s/relict.json", w->folder);
    const char *bytes;
    size_t n;
    if (!path) return fail_memory(err);
    if (file_read(&bytes, &n, path, 0, w->arena, NULL) == 0)
        *old = json_loadb(bytes, n, JSON_REJECT_DUPLICATES, NULL);
    const char *uuid = json_string_value(json_object_get(*old, "project"));
    if (replace && uuid && strcmp(uuid, record_uuid(w->record)) == 0) return 0;
    json_decref(*old);
    *old = NULL;
    error_place(err, w->folder, 0, NULL, NULL);
    return fail(err, ERR_FILE, "Choose a new folder, or an empty one.",
                uuid ? "This folder holds a project already." : "This folder holds other things.");
}

static bool is_listed(const json_t *files, const char *name) {
    size_t i;
    json_t *one;
    json_array_foreach(files, i, one) {
        const char *path = json_string_value(json_object_get(one, "path"));
        if (path && strcmp(path, name) == 0) return true;
    }
    return false;
}

/* Takes away what the last writing put there and this one did not. */
static void remove_stale(struct writing *w, const json_t *old) {
    size_t i;
    json_t *one;
    json_array_foreach(json_object_get(old, "files"), i, one) {
        const char *name = json_string_value(json_object_get(one, "path"));
        if (!name || *name == '/' || strstr(name, "..") || is_listed(w->files, name)) continue;
        char *path = arena_printf(w->arena, "%s/%s", w->folder, name);
        if (path) unlink(path);
    }
}

static int write_manifest(struct writing *w, const char *when, struct error *err) {
    json_t *root =
        json_pack("{s:s, s:i, s:s, s:s, s:O}", "format", "relict folder", "version", 1, "project",
                  record_uuid(w->record), "written", when ? when : "", "files", w->files);
    char *text = root ? json_dumps(root, JSON_INDENT(1)) : NULL;
    char *path = arena_printf(w->arena, "%s/relict.json", w->folder);
    int rc = text && path ? file_write(path, text, strlen(text), true, err) : fail_memory(err);
    free(text);
    json_decref(root);
    return rc;
}

static int write_all(struct writing *w, const char *when, struct error *err) {
    int rc = file_folder(w->folder, err);
    for (size_t i = 0; !rc && record_kind_at(w->record, i); i++)
        rc = write_kind(w, record_kind_at(w->record, i), err);
    for (const struct folder_history *h = folder_histories; h->file && !rc; h++)
        rc = write_history(w, h, err);
    if (!rc) rc = write_kept(w, err);
    return rc ? rc : write_manifest(w, when, err);
}

int record_folder_write(struct record_folder_made *out, struct record *record, const char *folder,
                        bool replace, const char *when, struct error *err) {
    *out = (struct record_folder_made){0};
    struct writing w = {.record = record, .folder = folder, .arena = arena_new(), .out = out};
    w.files = json_array();
    json_t *old = NULL;
    bool snapshot = !record->in_change && !record->reading;
    int rc = w.arena && w.files ? check_target(&old, &w, replace, err) : fail_memory(err);
    if (!rc && snapshot) rc = record_read_begin(record, err);
    if (!rc) rc = write_all(&w, when, err);
    if (snapshot) record_read_end(record);
    if (!rc && old) remove_stale(&w, old);
    json_decref(old);
    json_decref(w.files);
    arena_free(w.arena);
    return rc;
}

int record_digest(char out[65], struct record *record, struct error *err) {
    struct sha256 s;
    sha256_begin(&s);
    int rc = 0;
    for (const struct folder_history *h = folder_histories; h->file && !rc; h++) {
        sqlite3_stmt *q;
        int step = SQLITE_DONE;
        rc = record_prepare(&q, record, h->select, err);
        while (!rc && (step = sqlite3_step(q)) == SQLITE_ROW)
            for (int c = 0; c < h->columns; c++)
                sha256_add(&s, record_column(q, c), (size_t)sqlite3_column_bytes(q, c) + 1);
        if (!rc && step != SQLITE_DONE) rc = record_fail(record, "read", err);
        sqlite3_finalize(q);
    }
    sqlite3_stmt *q = NULL;
    if (!rc) rc = record_prepare(&q, record, "SELECT sha256 FROM kept ORDER BY sha256", err);
    while (!rc && sqlite3_step(q) == SQLITE_ROW)
        sha256_add(&s, record_column(q, 0), SHA256_TEXT);
    sqlite3_finalize(q);
    unsigned char hash[SHA256_BYTES];
    sha256_end(&s, hash);
    sha256_hex(hash, out);
    return rc;
}
