/* grid: fills a table of texts row by row, for the documents of this room. Sticky. */
#ifndef RELICT_TELL_GRID_H
#define RELICT_TELL_GRID_H

#include "tell/doc.h"

enum { GRID_COLUMNS = 12 };

struct grid {
    struct arena *arena;
    size_t columns, rows, room, filled; /* filled: cells of the row being made */
    const char *heads[GRID_COLUMNS];
    const char **cells, **anchors, **links;
    bool failed;
};

/* heads: NULL-terminated, at most GRID_COLUMNS. */
void grid_begin(struct grid *grid, struct arena *arena, const char *const *heads);
/* Fills the next cell (texts are borrowed); a row ends by itself. NULL is an empty cell. */
void grid_text(struct grid *grid, const char *text);
void grid_real(struct grid *grid, double value, int places);
void grid_whole(struct grid *grid, long value); /* empty for FIELD_UNKNOWN */
/* Anchor of the row whose first cell was just filled. */
void grid_anchor(struct grid *grid, const char *kind, const char *id);
void grid_anchor_whole(struct grid *grid, const char *anchor);
/* Where the first cell of the row that was just filled leads. */
void grid_link(struct grid *grid, const char *anchor);
/* Puts the table into the document under its title; an empty table, and
 * columns in which no cell says anything, are left out. */
void grid_end(struct grid *grid, struct tell_doc *doc, const char *title);

#endif
