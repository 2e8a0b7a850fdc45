/* folder: a folder of files handed over, that knows what it holds.
 *
 * Each file is written whole (a neighbour first, then renamed) and its SHA-256, size, media type
 * and title are kept; closing writes the README, the list of checksums, an RO-Crate 1.1 metadata
 * file and a Data Package descriptor. Names are checked: no way out of the folder. Sticky: after
 * the first error nothing more is written and closing returns it. Not for two threads at once.
 */
#ifndef RELICT_TELL_FOLDER_H
#define RELICT_TELL_FOLDER_H

#include "base/arena.h"
#include "base/field.h"
#include "show/out.h"

struct tell_folder;

struct tell_folder_words {
    const char *title, *text, *licence, *authors, *date, *identifier, *contact, *embargo;
    const char *version; /* of the program */
    const char *moment;  /* day with which the project is made again the same; NULL */
    bool invented;
};

/* Makes the folder (it may exist when it is empty or holds an earlier handing over). */
int tell_folder_open(struct tell_folder **out, const char *path,
                     const struct tell_folder_words *words, struct error *err);

/* Writes one file; `name` may hold folders ("tables/piece.csv"). */
void tell_folder_add(struct tell_folder *folder, const char *name, const char *media,
                     const char *title, const void *bytes, size_t n);
/* The same from a writer, which is emptied. `code` other than 0 stops with `trouble`. */
void tell_folder_take(struct tell_folder *folder, const char *name, const char *media,
                      const char *title, struct show_out *out, int code,
                      const struct error *trouble);

/* A table of a kind's structs as CSV, with its columns in the dictionary. Records are
 * [n] structs of kind->size; `skip` says which are left out (NULL: none). */
void tell_folder_table(struct tell_folder *folder, const struct kind *kind, const void *records,
                       size_t n, bool (*skip)(const void *record));

/* The same for a kind that has no field for its rows' names: ids [n]; NULL: it has. */
void tell_folder_table_named(struct tell_folder *folder, const struct kind *kind,
                             const void *records, const char *const *ids, size_t n,
                             bool (*skip)(const void *record));

/* A line for the README: what was left out or coarsened. */
void tell_folder_note(struct tell_folder *folder, const char *text);

/* Writes README.txt, LICENCE.txt, dictionary, checksums and descriptors; frees. */
int tell_folder_close(struct tell_folder *folder, struct error *err);

/* How many files so far; name and title of the i-th. */
size_t tell_folder_count(const struct tell_folder *folder);
const char *tell_folder_name(const struct tell_folder *folder, size_t i, const char **title);

/* One table as CSV (RFC 4180): CRLF, UTF-8, unit in the column's name, formulas guarded. */
int tell_csv(struct show_out *out, const struct kind *kind, const void *records, size_t n,
             bool (*skip)(const void *record), struct error *err);
void tell_csv_cell(struct show_out *out, const char *text);

#endif
