/* csv: strict reader and writer of comma-separated values (RFC 4180).
 *
 * UTF-8 with or without a byte order mark, CRLF or LF. A bare CR, a quote inside an unquoted cell,
 * text after a closing quote, an unterminated quote, a NUL and bytes that are not UTF-8 are errors
 * with row and place. Semicolon and decimal comma only by the caller's explicit switch.
 */
#ifndef RELICT_BASE_CSV_H
#define RELICT_BASE_CSV_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>
#include <stdio.h>

struct csv_row {
    size_t n;
    const char **cells; /* [n], each terminated */
    long line;          /* line in the file where the row begins, from 1 */
};

struct csv_table {
    size_t n;
    struct csv_row *rows; /* the heading row is rows[0] */
};

struct csv_options {
    char separator;               /* ',' or ';'; 0 stands for ',' */
    size_t most_rows, most_cells; /* refused beyond; 0: 1,000,000 rows, 1,000 cells a row */
};

/* Reads a whole text of n bytes. Empty lines are skipped. Rows may differ in length: the caller
 * knows the heading. Everything lives in the arena. Cost: two passes, no copy of unquoted cells
 * beyond their bytes. */
int csv_read(struct csv_table *out, const char *text, size_t n, const struct csv_options *options,
             struct arena *arena, struct error *err);

/* Writes one cell, quoted where needed. `guard` puts an apostrophe before a text that a
 * spreadsheet would take for a formula (= + - @ at the beginning, unless it is a number). */
void csv_write_cell(FILE *to, const char *text, int guard);

#endif
