/* seal: what was fixed before its outcome was known; and results of stages. */
#include "record/record_private.h"

#include <string.h>

/* Hash of the last change, which must still be there when the seal is verified. */
static int present_link(char out[SHA256_TEXT], struct record *record, struct error *err) {
    *out = 0;
    sqlite3_stmt *s;
    int rc = record_prepare(
        &s, record, "SELECT sha256 FROM change WHERE sha256 <> '' ORDER BY id DESC LIMIT 1", err);
    if (rc) return rc;
    int step = sqlite3_step(s);
    if (step == SQLITE_ROW && sqlite3_column_bytes(s, 0) < SHA256_TEXT)
        strcpy(out, record_column(s, 0));
    else if (step != SQLITE_DONE)
        rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

static int insert_seal(struct record *record, const struct record_seal *seal, const char *link,
                       const char *hash, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record,
                            "INSERT INTO seal(uuid, kind, name, who, made, link, body, sha256) "
                            "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                            err);
    if (rc) return rc;
    const char *texts[] = {seal->uuid, seal->kind, seal->name, seal->who,
                           seal->when, link,       seal->body, hash};
    for (int i = 0; i < 8; i++)
        sqlite3_bind_text(s, i + 1, texts[i], -1, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(record, "seal", err);
    sqlite3_finalize(s);
    return rc;
}

int record_seal_add(char uuid[RECORD_UUID], struct record *record, const char *kind,
                    const char *name, const json_t *body, const char *who, const char *when,
                    struct error *err) {
    if (!who || !*who || !when || !*when)
        return fail(err, ERR_MISSING, "Say who seals, and when.",
                    "A seal needs a name and a time.");
    int rc = record->in_change ? 0 : record_check_writable(record, err);
    struct canon_text text = {0};
    char link[SHA256_TEXT], hash[SHA256_TEXT];
    if (!rc) rc = canon_write_json(&text, body, err);
    if (!rc) rc = present_link(link, record, err);
    record_uuid_make(uuid);
    struct record_seal seal = {
        .uuid = uuid, .kind = kind, .name = name, .who = who, .when = when, .body = text.v};
    if (!rc) record_seal_hash(&seal, link, hash);
    if (!rc) rc = insert_seal(record, &seal, link, hash, err);
    canon_text_free(&text);
    return rc;
}

int record_seals(struct record *record, const char *kind, const char *name, record_take_seal *take,
                 void *context, struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record,
                            "SELECT uuid, kind, name, who, made, body, sha256 FROM seal "
                            "WHERE (?1 IS NULL OR kind = ?1) AND (?2 IS NULL OR name = ?2) "
                            "ORDER BY id",
                            err),
        step = SQLITE_DONE;
    if (rc) return rc;
    sqlite3_bind_text(s, 1, kind, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, name, -1, SQLITE_STATIC);
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW) {
        struct record_seal seal = {.uuid = record_column(s, 0),
                                   .kind = record_column(s, 1),
                                   .name = record_column(s, 2),
                                   .who = record_column(s, 3),
                                   .when = record_column(s, 4),
                                   .body = record_column(s, 5),
                                   .sha256 = record_column(s, 6)};
        rc = take(&seal, context, err);
    }
    if (!rc && step != SQLITE_DONE) rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

/* ---- results -------------------------------------------------------------------------------- */

int record_result_put(struct record *record, const char *stage, const char *key, const char *when,
                      const char *body, struct error *err) {
    sqlite3_stmt *s;
    int rc = record->in_change ? 0 : record_check_writable(record, err);
    if (!rc)
        rc = record_prepare(&s, record,
                            "INSERT INTO result(stage, key, made, body, sha256) "
                            "VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (stage, key) DO UPDATE "
                            "SET made = ?3, body = ?4, sha256 = ?5",
                            err);
    if (rc) return rc;
    char hash[SHA256_TEXT];
    record_result_hash(stage, key, body, hash);
    const char *texts[] = {stage, key, when ? when : "", body, hash};
    for (int i = 0; i < 5; i++)
        sqlite3_bind_text(s, i + 1, texts[i], -1, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(record, "save the result", err);
    sqlite3_finalize(s);
    return rc;
}

int record_result_get(const char **body, const char **when, struct record *record,
                      const char *stage, const char *key, struct arena *arena, struct error *err) {
    sqlite3_stmt *s;
    *body = NULL;
    if (when) *when = NULL;
    int rc = record_prepare(
        &s, record, "SELECT body, made, sha256 FROM result WHERE stage = ?1 AND key = ?2", err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, stage, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, key, -1, SQLITE_STATIC);
    int step = sqlite3_step(s);
    char hash[SHA256_TEXT];
    if (step == SQLITE_ROW) {
        record_result_hash(stage, key, record_column(s, 0), hash);
        if (strcmp(hash, record_column(s, 2)) != 0)
            rc = fail(err, ERR_DAMAGED, "Compute it again.", "The stored result of %s was altered.",
                      stage);
        *body = rc ? NULL : arena_strdup(arena, record_column(s, 0));
        if (when && !rc) *when = arena_strdup(arena, record_column(s, 1));
        if (!rc && (!*body || (when && !*when))) rc = fail_memory(err);
    } else
        rc = step == SQLITE_DONE ? fail(err, ERR_MISSING, "Run \"relict compute\".",
                                        "%s is not worked out yet.", stage)
                                 : record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}

int record_result_drop(struct record *record, const char *stage, const char *keep,
                       struct error *err) {
    sqlite3_stmt *s;
    int rc = record->in_change ? 0 : record_check_writable(record, err);
    if (!rc)
        rc = record_prepare(&s, record,
                            "DELETE FROM result WHERE (?1 IS NULL OR stage = ?1) "
                            "AND (?2 IS NULL OR key <> ?2)",
                            err);
    if (rc) return rc;
    sqlite3_bind_text(s, 1, stage, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, keep, -1, SQLITE_STATIC);
    if (sqlite3_step(s) != SQLITE_DONE) rc = record_fail(record, "drop a result", err);
    sqlite3_finalize(s);
    return rc;
}

int record_results(struct record *record, record_take_result *take, void *context,
                   struct error *err) {
    sqlite3_stmt *s;
    int rc = record_prepare(&s, record,
                            "SELECT stage, key, made, body FROM result ORDER BY stage, key", err),
        step = SQLITE_DONE;
    if (rc) return rc;
    while (!rc && (step = sqlite3_step(s)) == SQLITE_ROW)
        rc = take(record_column(s, 0), record_column(s, 1), record_column(s, 2),
                  record_column(s, 3), context, err);
    if (!rc && step != SQLITE_DONE) rc = record_fail(record, "read", err);
    sqlite3_finalize(s);
    return rc;
}
