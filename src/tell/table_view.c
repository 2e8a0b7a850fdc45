#include "tell/table_view.h"

#include "tell/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *at(const struct tell_table *t, size_t r, size_t c) {
    const char *cell = t->cells[r * t->n_columns + c];
    return cell ? cell : "";
}

/* ---- numbers ---- */

/* "1.07e-07" of a chance, -0.0, 0.3966 and 1.22e+04 as a reader wants them. */
static const char *readable(const char *cell, struct arena *arena) {
    char *end;
    if (!cell || !strpbrk(cell, ".e")) return cell;
    double v = strtod(cell, &end), size = fabs(v);
    if (end == cell || *end || !isfinite(v) || strpbrk(cell, "xXnN")) return cell;
    if (size == 0) return "0";
    if (size < 0.001) return v < 0 ? "0" : "under 0.001";
    return arena_printf(arena, size < 1 ? "%.2g" : size < 1000 ? "%.3g" : "%.0f", v);
}

const char *table_plain_word(const char *word, struct arena *arena) {
    if (!word || !strchr(word, '_')) return word;
    char *text = arena_strdup(arena, word);
    for (char *c = text; c && *c; c++)
        if (*c == '_') *c = ' ';
    return text;
}

/* Columns of words that are names in the program and read as plain words on paper. */
static bool is_of_parts(const char *head) {
    return head && (!strcmp(head, "part") || !strcmp(head, "about"));
}

struct tell_table table_readable(const struct tell_table *t, struct arena *arena) {
    struct tell_table out = *t;
    const char **cells = ARENA_NEW(arena, const char *, t->n_columns * t->n_rows + 1);
    if (!cells) return out;
    for (size_t i = 0; i < t->n_columns * t->n_rows; i++)
        cells[i] = is_of_parts(t->columns[i % t->n_columns]) ? table_plain_word(t->cells[i], arena)
                                                             : readable(t->cells[i], arena);
    out.cells = cells;
    return out;
}

/* ---- too wide for paper ---- */

enum { WIDEST = 11, BROAD = 8, LONG_CELL = 70, SHORT_CELL = 24, FEW_ROWS = 7 };

static size_t longest(const struct tell_table *t, size_t c) {
    size_t most = 0;
    for (size_t r = 0; r < t->n_rows; r++)
        if (strlen(at(t, r, c)) > most) most = strlen(at(t, r, c));
    return most;
}

/* Few things with many short answers: the things stand side by side. */
static bool turned(struct tell_doc *doc, const struct tell_table *t) {
    const char *heads[FEW_ROWS + 2] = {t->columns[0]};
    if (t->n_rows > FEW_ROWS) return false;
    for (size_t c = 1; c < t->n_columns; c++)
        if (longest(t, c) > SHORT_CELL) return false;
    for (size_t r = 0; r < t->n_rows; r++)
        heads[r + 1] = at(t, r, 0);
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc), heads);
    for (size_t c = 1; c < t->n_columns; c++) {
        grid_text(&g, t->columns[c]);
        for (size_t r = 0; r < t->n_rows; r++)
            grid_text(&g, *at(t, r, c) ? at(t, r, c) : "\u2013");
    }
    grid_end(&g, doc, t->title);
    return true;
}

/* The columns from..to that are short, after the first. */
static void some_columns(struct tell_doc *doc, const struct tell_table *t, const size_t *which,
                         size_t n, const char *title) {
    const char *heads[BROAD + 2] = {t->columns[0]};
    for (size_t k = 0; k < n; k++)
        heads[k + 1] = t->columns[which[k]];
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc), heads);
    for (size_t r = 0; r < t->n_rows; r++) {
        grid_text(&g, at(t, r, 0));
        for (size_t k = 0; k < n; k++)
            grid_text(&g, at(t, r, which[k]));
    }
    grid_end(&g, doc, title);
}

/* "bend: what each outcome would mean: ..." */
static void sentences(struct tell_doc *doc, const struct tell_table *t) {
    for (size_t r = 0; r < t->n_rows; r++)
        for (size_t c = 1; c < t->n_columns; c++) {
            const char *text = at(t, r, c);
            size_t n = strlen(text);
            if (longest(t, c) < LONG_CELL || !n) continue;
            tell_item(doc, "%s, %s: %s%s", at(t, r, 0), t->columns[c], text,
                      strchr(".!?", text[n - 1]) ? "" : ".");
        }
}

static void in_parts(struct tell_doc *doc, const struct tell_table *t) {
    size_t which[64], n = 0;
    for (size_t c = 1; c < t->n_columns && n < 64; c++) {
        size_t most = longest(t, c);
        if (most && most < LONG_CELL) which[n++] = c;
    }
    size_t tables = (n + BROAD - 1) / BROAD, told = 0;
    for (size_t k = 0; k < tables; k++) {
        size_t share = (n - told + tables - k - 1) / (tables - k);
        some_columns(doc, t, which + told, share, k ? "The same, continued" : t->title);
        told += share;
    }
    sentences(doc, t);
}

void table_fitted(struct tell_doc *doc, const struct tell_table *t) {
    size_t used = 0;
    for (size_t c = 0; c < t->n_columns; c++)
        used += longest(t, c) > 0;
    if (used <= WIDEST && t->n_columns <= GRID_COLUMNS)
        tell_rows(doc, t);
    else if (!turned(doc, t))
        in_parts(doc, t);
}
