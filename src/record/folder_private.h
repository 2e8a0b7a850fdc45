/* folder_private: what writing and reading the folder form share. */
#ifndef RELICT_RECORD_FOLDER_PRIVATE_H
#define RELICT_RECORD_FOLDER_PRIVATE_H

#include "base/csv.h"
#include "record/folder.h"
#include "record/record_private.h"

/* Heading of a field in a table: "value_mm". In the arena. */
char *folder_heading(const struct field *field, struct arena *arena);

/* A text as it is written in a cell; and back (borrowed). */
void folder_cell(FILE *to, const char *text);
const char *folder_cell_text(const char *cell);

/* The tables of history: name of file, query that writes it, statement that fills it again. All
 * columns are texts in the file; `order` of columns is that of both queries. */
struct folder_history {
    const char *file, *heading, *select, *insert;
    int columns;
};
extern const struct folder_history folder_histories[]; /* ends with a NULL file */

#endif
