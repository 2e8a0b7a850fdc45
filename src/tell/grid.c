#include "tell/grid.h"

#include <math.h>
#include <string.h>

void grid_begin(struct grid *g, struct arena *arena, const char *const *heads) {
    *g = (struct grid){.arena = arena, .failed = !arena};
    while (g->columns < GRID_COLUMNS && heads[g->columns]) {
        g->heads[g->columns] = heads[g->columns];
        g->columns++;
    }
}

/* Doubles the room; old cells are copied within the arena. */
static void grow(struct grid *g) {
    size_t room = g->room ? 2 * g->room : 16;
    const char **cells = ARENA_NEW(g->arena, const char *, room * g->columns);
    const char **anchors = ARENA_NEW(g->arena, const char *, room);
    const char **links = ARENA_NEW(g->arena, const char *, room);
    if (!cells || !anchors || !links) {
        g->failed = true;
        return;
    }
    if (g->rows) memcpy(cells, g->cells, g->rows * g->columns * sizeof *cells);
    if (g->rows) memcpy(anchors, g->anchors, g->rows * sizeof *anchors);
    if (g->rows) memcpy(links, g->links, g->rows * sizeof *links);
    g->cells = cells;
    g->anchors = anchors;
    g->links = links;
    g->room = room;
}

void grid_text(struct grid *g, const char *text) {
    if (g->failed) return;
    if (g->filled == 0 && g->rows == g->room) grow(g);
    if (g->failed) return;
    g->cells[g->rows * g->columns + g->filled++] = text;
    if (g->filled < g->columns) return;
    g->rows++;
    g->filled = 0;
}

void grid_real(struct grid *g, double value, int places) {
    char text[40];
    if (g->failed) return;
    grid_text(g, isfinite(value) ? arena_strdup(g->arena, show_real(text, value, places)) : NULL);
}

void grid_whole(struct grid *g, long value) {
    if (g->failed) return;
    grid_text(g, value == FIELD_UNKNOWN ? NULL : arena_printf(g->arena, "%ld", value));
}

void grid_anchor(struct grid *g, const char *kind, const char *id) {
    if (!g->failed) g->anchors[g->rows] = arena_printf(g->arena, "%s-%s", kind, id);
}

void grid_anchor_whole(struct grid *g, const char *anchor) {
    if (!g->failed) g->anchors[g->rows] = anchor;
}

void grid_link(struct grid *g, const char *anchor) {
    if (!g->failed) g->links[g->rows] = anchor;
}

/* Drops columns in which no cell says anything. */
static void squeeze(struct grid *g) {
    size_t kept = 0, old = g->columns;
    bool keep[GRID_COLUMNS] = {false};
    for (size_t r = 0; r < g->rows; r++)
        for (size_t c = 0; c < old; c++) {
            const char *cell = g->cells[r * old + c];
            keep[c] |= cell && *cell;
        }
    for (size_t c = 0; c < old; c++)
        if (keep[c]) g->heads[kept++] = g->heads[c];
    g->columns = kept;
    for (size_t r = 0, to = 0; r < g->rows; r++)
        for (size_t c = 0; c < old; c++)
            if (keep[c]) g->cells[to++] = g->cells[r * old + c];
}

void grid_end(struct grid *g, struct tell_doc *doc, const char *title) {
    if (g->failed || !g->rows) return;
    squeeze(g);
    struct tell_table table = {title,    g->columns, g->rows, g->heads,
                               g->cells, g->anchors, false,   g->links};
    tell_rows(doc, &table);
}
