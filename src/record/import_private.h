/* import_private: what the files that bring lists in share. */
#ifndef RELICT_RECORD_IMPORT_PRIVATE_H
#define RELICT_RECORD_IMPORT_PRIVATE_H

#include "record/import.h"
#include "remains/find.h"

/* ---- import_cells.c: numbers and words in a cell ----------------------------------------------
 */

struct cell_number {
    double value, tolerance; /* in the unit; tolerance NAN when not written */
    long bound;              /* enum bound */
    const char *unit;        /* written behind the number, or NULL */
};
enum cell_trouble {
    CELL_FINE,
    CELL_COMMA,      /* a decimal comma, not switched on */
    CELL_NOT_NUMBER, /* something else than a number */
    CELL_NOT_FINITE, /* NaN, infinity */
    CELL_UNIT        /* a unit that is not known */
};
/* Reads "12.5", "12.5 mm", "<0.5", "12 +/- 1", "1.2e3". */
enum cell_trouble cell_number_read(struct cell_number *out, const char *text, bool decimal_comma);

/* Factor from a unit to the house's edge unit (mm, degrees, g, percent, 1); 0: not known. */
double cell_unit_factor(const char *unit);

/* Looks for a phrase anywhere in a text, at a word's beginning. In the phrase % stands for a number
 * (up to two, written to numbers) and & for a word (copied to word); letters without regard to
 * case. Returns where it begins, or NULL. */
const char *cell_phrase(const char *text, const char *phrase, double numbers[2], char word[64]);

/* The text without spaces at both ends, in the arena. */
char *cell_trim(const char *text, struct arena *arena);
/* Whether two texts are equal but for case, spaces, underscores and dashes. */
bool cell_same(const char *a, const char *b);

/* ---- import_words.c: what words stand for ------------------------------------------------------
 */

/* Index into `words` (NULL-terminated) or FIELD_UNKNOWN. Looks in the map first. treatment (may be
 * NULL) is set for states. */
long import_word_find(const struct import_map *map, const char *of, const char *text,
                      const char **treatment);
/* Our nearest word for a suggestion, or NULL. */
const char *import_word_near(const char *of, const char *text);
const char *const *import_words_of(const char *of);
long import_end_kind(const struct import_map *map, const char *text); /* FIELD_UNKNOWN: not known */
long import_substance(const struct import_map *map, const char *part, const char *material);
void import_taxa(const char *material, const char **taxon, const char **other, struct arena *arena,
                 bool *memory);

/* ---- import_row.c: one row ---------------------------------------------------------------------
 */

/* The list as it is being read. */
struct reading {
    const struct import_map *map;
    const struct import_column **columns; /* [n_columns] by place in the table */
    size_t n_columns;
    const struct csv_row *heading;
    const char *next_id; /* id of the row below, for "joins next" */
};

struct row_made {
    struct piece piece;
    struct measure *measures;
    size_t measure_count, measure_room;
    struct mark *marks;
    size_t mark_count, mark_room;
    struct import_problem *problems;
    size_t problem_count, problem_room;
    const char **remarks;
    size_t remark_count, remark_room;
    double size[QUANTITY_COUNT]; /* mm, as read; NAN */
    long state;
    struct arena *arena;
    bool memory; /* memory was gone: nothing here is to be trusted */
};

/* What totals need of a row. */
struct row_summary {
    bool held; /* set aside */
    const char *part;
    long state;
    double length;
};

/* Finds for each column of the table what the map says of it (import_finds.c). */
int import_resolve(struct reading *out, const struct import_map *map, const struct csv_table *table,
                   struct arena *arena, struct error *err);

/* Reads a row into pieces, measures and marks, or problems. Everything lives in the arena. */
void import_row(struct row_made *out, const struct reading *reading, const struct csv_row *row,
                struct arena *arena);
void import_problem_add(struct row_made *row, const char *column, const char *value, bool doubt,
                        const char *suggestion, const char *format, ...)
    __attribute__((format(printf, 6, 7)));
const char *import_heading(const struct reading *reading, long as, long quantity);
const char *import_cell(const struct reading *reading, const struct csv_row *row, long as,
                        long quantity);

/* ---- import_aside.c: sums by part and state ----------------------------------------------------
 */
struct names;
struct import_totals {
    struct names *names; /* of part and state together */
    struct import_total *v;
    size_t n;
};
int import_totals_new(struct import_totals *out, struct arena *arena, struct error *err);
int import_total_add(struct import_totals *totals, const struct row_summary *row,
                     struct arena *arena, struct error *err);
void import_totals_free(struct import_totals *totals);

/* ---- import_notes.c: what words of ends and notes hold ------------------------------------------
 */
void import_read_end(struct row_made *row, const char *text);
void import_read_note(struct row_made *row, const struct reading *reading);
struct measure *import_measure_add(struct row_made *row, long quantity, const char *mark,
                                   double value, double tolerance);
struct mark *import_mark_add(struct row_made *row, long kind, const char *name, const char *what);

/* ---- picture_size.c: what a picture's head says ------------------------------------------------ */

/* Pixels by the head of a PNG, JPEG or WebP; 0 where it does not say. */
double import_pixels(const void *bytes, size_t n);

#endif
