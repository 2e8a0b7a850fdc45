/* project: the project file. Everything a person enters is kept as append-only revisions.
 *
 * One `struct record` is one open file (SQLite, rollback journal); `job/` alone opens it. It knows
 * no kind of thing by name: the caller hands over the descriptors (`struct kind`) of all kinds and
 * bodies are checked against them. There is no clock in here: every change brings who, when and
 * why. What is superseded or withdrawn stays; undo is a new change; only blotting out replaces
 * what was stored, on record. Not for two threads at once: open one for each (one may write).
 *
 *     record_open(&r, "tray.relict", &options, err);
 *     record_change_begin(r, "A. Curator", "2026-05-01T10:00:00Z", "lath measured again", err);
 *     record_put(r, "measure", "A12.length", json, &revision, err);
 *     record_change_commit(r, &change, err);
 *     record_close(r, err);
 *
 * Texts and structs handed out live in the arena that was handed in. A failed call inside a change
 * leaves the change open and as it was before the call; commit or roll back.
 */
#ifndef RELICT_RECORD_PROJECT_H
#define RELICT_RECORD_PROJECT_H

#include "base/arena.h"
#include "base/error.h"
#include "base/field.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

struct record;

enum { RECORD_UUID = 33 }; /* 32 hexadecimal signs and a 0 */

/* ---- opening -------------------------------------------------------------------------------- */

struct record_options {
    const struct kind *const *kinds; /* [n_kinds] of everything that may be put; those of this room
                                        (record_kinds.h) need not be among them */
    size_t n_kinds;
    const char *state_folder; /* of this account on this machine: remembers which files it closed
                                 last. NULL: every file counts as foreign and is checked in depth */
    bool read_only;
};

/* What a new project begins with. */
struct record_start {
    const char *title; /* what the project is about */
    const char *who, *when;
    long seed;  /* of the possible originals */
    long draws; /* their number; 0: 4096 */
};

/* Makes a project file; ERR_FILE if the name is taken. On failure *out is NULL and no file is
 * left. */
int record_new(struct record **out, const char *path, const struct record_start *start,
               const struct record_options *options, struct error *err);

/* Opens one. Not a project, damaged or foreign with an altered schema: ERR_DAMAGED or ERR_INPUT.
 * Made by a newer program: ERR_REFUSED unless read_only. Made by an older one: a copy is set aside
 * and the file brought up to date. Cost: constant for a file closed last by this account here,
 * else a reading of the whole. */
int record_open(struct record **out, const char *path, const struct record_options *options,
                struct error *err);

/* Closes; an open change is rolled back. NULL is fine. Always frees. */
int record_close(struct record *record, struct error *err);

const char *record_path(const struct record *record);
bool record_is_foreign(const struct record *record);   /* was, when it was opened */
bool record_is_read_only(const struct record *record); /* asked for, or because it is newer */
const char *record_uuid(const struct record *record);
const struct kind *record_kind(const struct record *record, const char *name); /* NULL: unknown */
/* The i-th kind known, NULL after the last. */
const struct kind *record_kind_at(const struct record *record, size_t i);

struct record_meta {
    const char *title;
    long seed, draws;
    const char *note;
    const char *made; /* when the project was begun */
};
/* Reads and (inside a change) writes what is said about the project itself. */
int record_meta(struct record_meta *out, struct record *record, struct arena *arena,
                struct error *err);
int record_meta_put(struct record *record, const struct record_meta *meta, struct error *err);

/* ---- one snapshot --------------------------------------------------------------------------- */

/* Between these two, all reading sees the file at one moment. Keep it short. */
int record_read_begin(struct record *record, struct error *err);
void record_read_end(struct record *record);

/* ---- changing ------------------------------------------------------------------------------- */

/* Begins a change. `who` and `when` are needed. One at a time. Before the first change after
 * opening, the file is checked in depth. */
int record_change_begin(struct record *record, const char *who, const char *when, const char *why,
                        struct error *err);

/* Puts a new revision of the thing: its body is decoded by the kind (unknown fields, limits and
 * choices refused), normalised and stored. A body equal to the present one makes no revision.
 * revision (may be NULL): the number it has now. */
int record_put(struct record *record, const char *kind, const char *id, const json_t *body,
               long *revision, struct error *err);

/* The same, refused with ERR_CONFLICT and both values if the thing's revision is no longer
 * `expected` (0: it should not exist yet). For several people at one project. */
int record_put_expected(struct record *record, const char *kind, const char *id, const json_t *body,
                        long expected, long *revision, struct error *err);

/* The same from a struct of that kind; no JSON is made. For bringing in many. */
int record_put_struct(struct record *record, const struct kind *kind, const char *id,
                      const void *body, long *revision, struct error *err);

/* Withdraws the thing: it leaves every list and stays in the history. */
int record_withdraw(struct record *record, const char *kind, const char *id, struct error *err);

/* Ends the change. A change without entries leaves no trace (*change = 0). */
int record_change_commit(struct record *record, long *change, struct error *err);
void record_change_rollback(struct record *record);
bool record_in_change(const struct record *record);
/* How many changes with something in them this handle has committed; cannot fail. */
long record_commits(const struct record *record);

/* Takes a change back by a new one. ERR_CONFLICT with both values, and nothing done, if a later
 * change has touched one of its things. Taking back an undo does it again. */
int record_undo(struct record *record, long change, const char *who, const char *when,
                const char *why, long *made, struct error *err);

/* ---- reading -------------------------------------------------------------------------------- */

struct record_entry {
    long revision, supersedes; /* supersedes 0: the first */
    long change;
    const char *kind, *id;
    bool gone;
    const char *body;             /* canonical JSON */
    const char *who, *when, *why; /* of its change */
    const char *sha256;
};

/* Takes one entry; non-zero stops and is returned. Texts live until it returns. */
typedef int record_take(const struct record_entry *entry, void *context, struct error *err);

/* The newest revision number; 0 in an empty file. */
long record_revision(struct record *record);

/* The thing as it stands. Never put or withdrawn: ERR_MISSING. */
int record_get(struct record_entry *out, struct record *record, const char *kind, const char *id,
               struct arena *arena, struct error *err);

/* Every thing of a kind (NULL: of all kinds) as it stood at revision as_of (0: now), withdrawn ones
 * left out, in the order in which they were first put. */
int record_each(struct record *record, const char *kind, long as_of, record_take *take,
                void *context, struct error *err);

/* All revisions of one thing, oldest first. */
int record_history(struct record *record, const char *kind, const char *id, record_take *take,
                   void *context, struct error *err);

/* All things of a kind, decoded: out->v is [out->n] structs, ids (may be NULL) their names. JSON
 * values (FIELD_JSON) live until record_close. A body that no longer fits its kind is an error that
 * names it. */
int record_load(struct records *out, struct texts *ids, struct record *record,
                const struct kind *kind, long as_of, struct arena *arena, struct error *err);

struct record_change {
    long id;
    const char *uuid, *who, *when, *why;
    const char *undoes; /* uuid or NULL */
    long first, count;  /* its entries' revisions */
};
typedef int record_take_change(const struct record_change *change, void *context,
                               struct error *err);
/* The journal, newest first when `backward`. most 0: all. */
int record_changes(struct record *record, bool backward, size_t most, record_take_change *take,
                   void *context, struct error *err);
/* Entries of one change, in order. */
int record_change_entries(struct record *record, long change, record_take *take, void *context,
                          struct error *err);

/* ---- files kept ----------------------------------------------------------------------------- */

struct record_file {
    const char *name;   /* as it came, without folders */
    const char *media;  /* media type by its first bytes: "image/jpeg", "text/csv" ... */
    const char *role;   /* "finds list", "photo", ... */
    const char *sha256; /* of the bytes */
    long size;
    int is_private; /* 1: not to be handed on */
    const char *note;
};

/* Keeps bytes inside the present change and puts an entry of kind "file"; its id goes to *id (in
 * the arena). The same bytes under the same name are kept once. At most 400 MB. */
int record_file_add(const char **id, struct record *record, const char *name, const char *role,
                    const void *bytes, size_t n, struct arena *arena, struct error *err);

/* The bytes of a kept file, checked against the hash (ERR_DAMAGED). */
int record_file_get(const char **bytes, size_t *n, struct record *record, const char *id,
                    struct arena *arena, struct error *err);

/* The same by hash. */
int record_kept_get(const char **bytes, size_t *n, struct record *record, const char *sha256,
                    struct arena *arena, struct error *err);

/* Media type by first bytes; never NULL ("application/octet-stream"). */
const char *record_media(const void *bytes, size_t n);

/* ---- seals and results ---------------------------------------------------------------------- */

/* Seals a JSON body with who and when; cannot be changed afterwards. *uuid is filled. Outside a
 * change. */
int record_seal_add(char uuid[RECORD_UUID], struct record *record, const char *kind,
                    const char *name, const json_t *body, const char *who, const char *when,
                    struct error *err);

struct record_seal {
    const char *uuid, *kind, *name, *who, *when;
    const char *body, *sha256;
};
typedef int record_take_seal(const struct record_seal *seal, void *context, struct error *err);
/* Seals of a kind (NULL: all) and name (NULL: all), oldest first. */
int record_seals(struct record *record, const char *kind, const char *name, record_take_seal *take,
                 void *context, struct error *err);

/* What a stage worked out. put replaces; get gives ERR_MISSING when there is none and ERR_DAMAGED
 * when it was altered. Results of a stage whose keys are not `keep` (NULL: all) can be dropped. */
int record_result_put(struct record *record, const char *stage, const char *key, const char *when,
                      const char *body, struct error *err);
int record_result_get(const char **body, const char **when, struct record *record,
                      const char *stage, const char *key, struct arena *arena, struct error *err);
int record_result_drop(struct record *record, const char *stage, const char *keep,
                       struct error *err);
typedef int record_take_result(const char *stage, const char *key, const char *when,
                               const char *body, void *context, struct error *err);
int record_results(struct record *record, record_take_result *take, void *context,
                   struct error *err);

/* ---- verifying ------------------------------------------------------------------------------ */

struct record_fault {
    const char *what;      /* "entry", "change", "file", "seal", "result", "structure" */
    const char *kind, *id; /* of the thing, or "" */
    long revision;         /* or 0 */
    const char *detail;    /* what is wrong, a sentence */
};
typedef int record_take_fault(const struct record_fault *fault, void *context, struct error *err);

struct record_checked {
    size_t entries, changes, files, seals, results, blots; /* looked at */
    size_t faults;
};

/* Recomputes every hash and looks at the structure. Faults are told one by one; the call itself
 * fails only when the file cannot be read. Cost: a reading of the whole file. */
int record_verify(struct record_checked *out, struct record *record, record_take_fault *take,
                  void *context, struct error *err);

/* ---- blotting out --------------------------------------------------------------------------- */

struct record_blotted {
    size_t entries, files, seals; /* rows replaced */
    struct texts backups;         /* copies that still hold it: to be destroyed by hand */
    struct texts unseen;          /* kept files packed so that nobody could look inside */
};

/* Blots out fields of a thing (NULL: all its fields) in every revision, and the same texts wherever
 * else they are stored: other entries, kept files, seals; results are dropped. A kept file itself
 * is blotted by kind "file". Both hashes, who and why stay on record; the file is vacuumed. Outside
 * a change; `why` is needed. */
int record_blot(struct record_blotted *out, struct record *record, const char *kind, const char *id,
                const char *field, const char *who, const char *when, const char *why,
                struct arena *arena, struct error *err);

#endif
