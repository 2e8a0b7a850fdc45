/* keep_back: what must not leave with a paper or a deposit, and taking it out.
 *
 * Private are: pieces and sources marked so, every row that speaks of such a piece, kept files
 * marked private, the owners of trees. Places are made coarse: a pair of coordinates keeps one
 * decimal (some 10 km), a letter grid reference its first figures. One list of words, made once
 * from the project, is taken out of every text, statement, table and stored result, so that a name
 * is not carried out by a chain of reasons. What was taken out is counted and told, never named.
 * Everything lives in the arena handed in. Not for two threads at once.
 */
#ifndef RELICT_TELL_KEEP_BACK_H
#define RELICT_TELL_KEEP_BACK_H

#include "job/job.h"
#include "remains/find.h"
#include "statement/statement.h"

#define KEPT_BACK "(kept back)"

struct keep_back {
    const char **words; /* [n], longest first */
    size_t n, room;
    size_t rows, texts, places; /* left out, emptied or cut, made coarse: in what people entered */
    const char **changed;       /* [n_changed] "stem L1: owner": entries that came out otherwise */
    size_t n_changed, room_changed;
    struct arena *arena;
};

/* Gathers the private words of a project. */
int keep_back_gather(struct keep_back *out, struct job *job, const struct find *find,
                     struct arena *arena, struct error *err);

/* The text without what is private and with places made coarse; the same pointer when nothing is
 * changed, NULL when memory is gone. */
const char *keep_back_text(const struct keep_back *k, const char *text);

/* Whether the text is a private name or begins with one ("A01", "A01.width"). */
bool keep_back_names(const struct keep_back *k, const char *text);

/* Whether a kept file speaks of something private, or is packed and might. */
bool keep_back_in_file(const struct keep_back *k, const char *bytes, size_t n);

/* In place: texts are cut; an object or a row that names something private is dropped from its
 * list, as is a key that is such a name. */
int keep_back_json(const struct keep_back *k, json_t *value, struct error *err);

/* Cuts the texts of n structs in place and drops rows that are private or speak of what is; returns
 * how many are left. With `count` it is entered in k's tallies. */
size_t keep_back_records(struct keep_back *k, const struct kind *kind, void *records, size_t n,
                         bool count);

/* The pieces, marks, readings, sources, choices of a find; the statements of a set. */
void keep_back_find(struct keep_back *k, struct find *find);
int keep_back_statements(struct statement_set **out, struct keep_back *k,
                         const struct statement_set *said, struct error *err);

#endif
