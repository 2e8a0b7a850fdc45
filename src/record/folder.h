/* folder: the project as a folder of open files, and back without a difference.
 *
 *     relict.json             what this is, with the SHA-256 of every other file
 *     tables/KIND.csv         every thing as it stands: id, revision, who, when, why, its fields
 *     outlines/KIND.geojson   the same outlines, for programs that draw (mm, frame stated)
 *     files/HASH-NAME         what was brought in, byte for byte
 *     results/                stored results of stages
 *     history/                all changes and revisions, seals, blottings: from these it is rebuilt
 *
 * Tables follow RFC 4180 in UTF-8; headings are field names with their unit; lists inside a cell
 * are JSON; a text that a spreadsheet would take for a formula has an apostrophe before it, and one
 * apostrophe is taken off when reading. Tables that a person has edited come in as one new change.
 * Files appear complete or not at all, relict.json last.
 */
#ifndef RELICT_RECORD_FOLDER_H
#define RELICT_RECORD_FOLDER_H

#include "record/project.h"

struct record_folder_made {
    size_t files, bytes, things;
};

/* Writes the folder. An existing one is refused unless it is empty, or was written from this very
 * project and `replace` is set. */
int record_folder_write(struct record_folder_made *out, struct record *record, const char *folder,
                        bool replace, const char *when, struct error *err);

struct record_folder_taken {
    size_t things;  /* read from tables */
    size_t changed; /* put as new revisions, because a table was edited or there was no history */
    long change;    /* the change that holds them, or 0 */
};

/* Rebuilds a project file from a folder: whole history where there is one, then what stands in the
 * tables. ERR_DAMAGED when a file does not fit relict.json (edited tables are welcome). A folder
 * written by hand needs only KIND.csv files, there or under tables/. */
int record_folder_read(struct record **out, struct record_folder_taken *taken, const char *folder,
                       const char *path, const struct record_start *start,
                       const struct record_options *options, struct error *err);

/* Takes the tables of a folder into an open project as one change; files named in files.csv or
 * standing under files/ are kept. */
int record_folder_take(struct record_folder_taken *taken, struct record *record, const char *folder,
                       const char *who, const char *when, const char *why, struct error *err);

/* One hash over all that people entered, what was kept, sealed, blotted out and worked out: equal
 * for two files without a difference. */
int record_digest(char out[65], struct record *record, struct error *err);

#endif
