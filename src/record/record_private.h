/* record_private: what the files of this room share. Nobody else includes it. */
#ifndef RELICT_RECORD_RECORD_PRIVATE_H
#define RELICT_RECORD_RECORD_PRIVATE_H

#include "base/sha256.h"
#include "record/canon.h"
#include "record/project.h"

#include <sqlite3.h>

enum { RECORD_APPLICATION = 0x72656c63 }; /* "relc", at byte 68 of the file */
enum { RECORD_AT_ONCE = 16 };             /* rows of one SQL_PUT_NEW */

/* Statements that run often are prepared once. */
enum statement_name {
    SQL_BEGIN,
    SQL_COMMIT,
    SQL_ROLLBACK,
    SQL_LATEST,
    SQL_PUT,
    SQL_PUT_NEW, /* RECORD_AT_ONCE things never put before */
    SQL_ENTRY,
    SQL_CHANGE_NEW,
    SQL_CHANGE_END,
    SQL_CHANGE_BEFORE,
    SQL_LAST,
    SQL_COUNT
};

/* A form of the file: its number, schema and the way from the form before. */
struct record_form {
    int version;
    const char *schema;       /* whole, as SQL; NULL: the embedded one */
    const char *const *steps; /* [version - 1]: SQL from version i + 1 to i + 2 */
};
extern const struct record_form record_form_now;

struct record {
    sqlite3 *db;
    sqlite3_stmt *sql[SQL_COUNT];
    char *path, *state_folder;
    char uuid[RECORD_UUID];
    bool read_only, foreign, checked, reading;
    bool joined; /* a transaction is open already: the next change joins it */

    struct record_kind_slot {
        const struct kind *kind;
        struct canon_kind *canon;
    } * kinds;
    size_t n_kinds;

    /* the change that is open */
    bool in_change;
    long change, first, next; /* its id, its first entry, the next entry's id */
    long commits;             /* changes committed since it was opened */
    char change_uuid[RECORD_UUID];
    char *who, *when, *why;
    char undoes[RECORD_UUID];
    struct sha256 change_hash; /* fed with each entry's hash */
    struct canon_text text;    /* scratch for bodies */

    json_t *held; /* list: JSON lent to structs by record_load */
};

/* project.c */
int record_fail(struct record *record, const char *doing, struct error *err); /* from SQLite */
int record_prepare(sqlite3_stmt **out, struct record *record, const char *sql, struct error *err);
int record_run(struct record *record, const char *sql, struct error *err);
sqlite3_stmt *record_statement(struct record *record, enum statement_name name, struct error *err);
int record_open_as(struct record **out, const char *path, const struct record_options *options,
                   const struct record_form *form, struct error *err);
int record_new_as(struct record **out, const char *path, const struct record_start *start,
                  const struct record_options *options, const struct record_form *form,
                  struct error *err);
int record_check_writable(struct record *record, struct error *err);
void record_uuid_make(char out[RECORD_UUID]);
struct canon_kind *record_canon(struct record *record, const struct kind *kind);
const char *record_column(sqlite3_stmt *s, int column); /* text, never NULL */

/* migrate.c */
int record_migrate(struct record *record, int version, const struct record_form *form,
                   struct error *err);
char *record_schema_text(sqlite3 *db, struct arena *arena);
int record_schema_check(struct record *record, const struct record_form *form, struct error *err);
const char *record_form_schema(const struct record_form *form);

/* entry.c */
void record_entry_from(struct record_entry *out, sqlite3_stmt *s); /* columns of ENTRY_COLUMNS */
#define ENTRY_COLUMNS                                                                              \
    "e.id, e.supersedes, e.change, e.kind, e.name, e.gone, e.body, e.sha256, c.who, c.made, c.why"
#define ENTRY_FROM " FROM entry e JOIN change c ON c.id = e.change "
int record_entry_get(struct record_entry *out, struct record *record, const char *kind,
                     const char *id, bool *found, struct arena *arena, struct error *err);

/* change.c */
struct raw_entry {
    const char *kind, *name, *body;
    size_t body_size;
    bool gone;
};
/* Adds a revision without looking at its body; *made = 0 when it equals the present one. */
int record_append(struct record *record, const struct raw_entry *raw, bool even_if_equal,
                  long *revision, struct error *err);
/* Things that were surely never put before, with their hashes worked out (by another thread,
 * perhaps). For bringing in many; fastest when things of one kind come together. */
struct new_entry {
    const char *kind, *name, *body;
    size_t body_size;
    char hash[SHA256_TEXT];
};
int record_append_new(struct record *record, const struct new_entry *entries, size_t n,
                      struct error *err);
int record_change_begin_as(struct record *record, const struct record_change *as,
                           struct error *err);

/* Writes down which entry and which link of the chain are the last, in the transaction that is
 * open: without it nobody could see that the newest changes were cut off. Call before each commit
 * that touches entries or links. */
int record_note_last(struct record *record, struct error *err);
#define RECORD_LAST                                                                                \
    "(SELECT coalesce(max(id), 0) FROM entry) || ' ' || "                                          \
    "coalesce((SELECT link FROM change ORDER BY id DESC LIMIT 1), '')"
#define RECORD_NOTE_LAST                                                                           \
    "INSERT INTO meta(name, value) VALUES ('last', " RECORD_LAST                                   \
    ") ON CONFLICT(name) DO UPDATE SET value = excluded.value"

/* verify.c: the hashes, in one place */
struct entry_hashed {
    const char *change_uuid;
    long nth; /* place in the change, from 0 */
    const char *kind, *name;
    const char *before_uuid; /* change of the revision it supersedes, "" if none */
    long before_nth;
    bool gone;
    const char *body;
    size_t body_size;
};
void record_entry_hash(const struct entry_hashed *e, char out[SHA256_TEXT]);
void record_change_hash_begin(struct sha256 *s, const char *uuid, const char *who, const char *when,
                              const char *why, const char *undoes);
void record_change_hash_end(struct sha256 *s, long count, char out[SHA256_TEXT]);
void record_link_hash(const char *before, const char *change_hash, char out[SHA256_TEXT]);
void record_seal_hash(const struct record_seal *seal, const char *link, char out[SHA256_TEXT]);
void record_result_hash(const char *stage, const char *key, const char *body,
                        char out[SHA256_TEXT]);

#endif
