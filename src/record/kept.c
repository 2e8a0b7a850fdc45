/* kept: files brought in from outside, byte for byte. */
#include "base/file.h"
#include "record/record_kinds.h"
#include "record/record_private.h"

#include <ctype.h>
#include <string.h>

enum { MOST_KEPT = 400000000 };

/* ---- what the bytes are --------------------------------------------------------------------- */

static const struct {
    const char *head;
    size_t n;
    const char *media;
} heads[] = {
    {"\xFF\xD8\xFF", 3, "image/jpeg"},
    {"\x89PNG\r\n\x1A\n", 8, "image/png"},
    {"II*\0", 4, "image/tiff"},
    {"MM\0*", 4, "image/tiff"},
    {"%PDF-", 5, "application/pdf"},
    {"PK\3\4", 4, "application/zip"},
    {"ply\n", 4, "model/ply"},
    {"ply\r", 4, "model/ply"},
    {"solid ", 6, "model/stl"},
    {"glTF", 4, "model/gltf-binary"},
    {"SQLite format 3", 16, "application/vnd.sqlite3"},
};

static const char *text_media(const unsigned char *p, size_t n) {
    size_t i = 0;
    if (n >= 3 && memcmp(p, "\xEF\xBB\xBF", 3) == 0) i = 3;
    while (i < n && isspace(p[i]))
        i++;
    if (i < n && (p[i] == '{' || p[i] == '[')) return "application/json";
    for (; i < n && p[i] != '\n'; i++)
        if (p[i] == ',' || p[i] == ';') return "text/csv";
    return "text/plain";
}

const char *record_media(const void *bytes, size_t n) {
    const unsigned char *p = bytes;
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++)
        if (n >= heads[i].n && memcmp(p, heads[i].head, heads[i].n) == 0) return heads[i].media;
    if (n >= 12 && memcmp(p, "RIFF", 4) == 0 && memcmp(p + 8, "WEBP", 4) == 0) return "image/webp";
    size_t look = n < 4096 ? n : 4096;
    for (size_t i = 0; i < look; i++)
        if (p[i] < 0x20 && !strchr("\t\r\n\f", p[i])) return "application/octet-stream";
    return look ? text_media(p, look) : "text/plain";
}

/* ---- keeping -------------------------------------------------------------------------------- */

static int keep_bytes(struct record *record, const char *hash, const void *bytes, size_t n,
                      struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record,
                            "INSERT INTO kept(sha256, size, bytes) VALUES (?1, ?2, ?3) "
                            "ON CONFLICT (sha256) DO NOTHING",
                            err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, hash, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, (sqlite3_int64)n);
    sqlite3_bind_blob64(s, 3, n ? bytes : "", n, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(record, "keep the file", err);
    sqlite3_finalize(s);
    return rc;
}

/* An id from the hash; the same bytes under another name get a number behind it. */
static int choose_id(const char **id, struct record *record, const struct record_file *file,
                     struct arena *arena, struct error *err) {
    for (int i = 1; i < 1000; i++) {
        char *try = i == 1 ? arena_printf(arena, "%.12s", file->sha256)
                           : arena_printf(arena, "%.12s-%d", file->sha256, i);
        if (!try) return fail_memory(err);
        struct record_entry now;
        bool found;
        int rc = record_entry_get(&now, record, "file", try, &found, arena, err);
        if (rc) return rc;
        *id = try;
        if (!found) return 0;
        json_t *j = json_loads(now.body, 0, NULL);
        if (!j) return fail_memory(err);
        const char *name = json_string_value(json_object_get(j, "name"));
        bool same = name && strcmp(name, file->name) == 0;
        json_decref(j);
        if (same) return 0;
    }
    return fail(err, ERR_REFUSED, "Is this really wanted?", "A thousand names for one file.");
}

int record_file_add(const char **id, struct record *record, const char *name, const char *role,
                    const void *bytes, size_t n, struct arena *arena, struct error *err) {
    *id = NULL;
    if (n > MOST_KEPT)
        return fail(err, ERR_RANGE, "Keep it beside the project and note where it is.",
                    "\"%.100s\" holds %.0f MB; at most %.0f MB are kept.", name, (double)n / 1e6,
                    (double)MOST_KEPT / 1e6);
    char hash[SHA256_TEXT];
    sha256_text(bytes, n, hash);
    struct record_file file = {.name = file_name(name),
                               .media = record_media(bytes, n),
                               .role = role,
                               .sha256 = hash,
                               .size = (long)n,
                               .is_private = -1};
    if (!record->in_change)
        return fail(err, ERR_REFUSED, "Begin a change first.", "No change is open.");
    int rc = choose_id(id, record, &file, arena, err);
    if (!rc) rc = keep_bytes(record, hash, bytes, n, err);
    if (!rc) rc = record_put_struct(record, &record_file_kind, *id, &file, NULL, err);
    return rc;
}

/* ---- getting -------------------------------------------------------------------------------- */

int record_kept_get(const char **bytes, size_t *n, struct record *record, const char *sha256,
                    struct arena *arena, struct error *err) {
    *bytes = NULL;
    *n = 0;
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record, "SELECT bytes FROM kept WHERE sha256 = ?1", err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, sha256, -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    if (step == SQLITE_ROW) {
        const void *blob = sqlite3_column_blob(s, 0);
        *n = (size_t)sqlite3_column_bytes(s, 0);
        *bytes = arena_copy(arena, blob, blob ? *n : 0);
        if (!*bytes) rc = fail_memory(err);
    } else
        rc = step == SQLITE_DONE ? fail(err, ERR_MISSING, "Run \"relict verify\" on the project.",
                                        "The bytes of file %.12s are not here.", sha256)
                                 : record_fail(record, "read", err);
    if (sqlite3_finalize(s) && !rc) rc = fail_memory(err);
    char hash[SHA256_TEXT];
    if (!rc) sha256_text(*bytes, *n, hash);
    if (!rc && strcmp(hash, sha256) != 0)
        rc = fail(err, ERR_DAMAGED, "Take the file from a backup copy.",
                  "The kept file %.12s was altered: it now has the hash %.12s.", sha256, hash);
    return rc;
}

int record_file_get(const char **bytes, size_t *n, struct record *record, const char *id,
                    struct arena *arena, struct error *err) {
    struct record_entry e;
    *bytes = NULL;
    *n = 0;
    int rc = record_get(&e, record, "file", id, arena, err);
    if (rc) return rc;
    json_t *j = json_loads(e.body, 0, NULL);
    const char *hash = json_string_value(json_object_get(j, "sha256"));
    rc = hash ? record_kept_get(bytes, n, record, hash, arena, err)
              : fail(err, ERR_DAMAGED, "Run \"relict verify\" on the project.",
                     "The entry of file %s has lost its hash.", id);
    json_decref(j);
    return rc;
}
