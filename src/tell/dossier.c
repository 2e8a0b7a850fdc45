/* dossier: tables and drawings of the steps into a document. Tables that a program reads whole
 * (days one by one, a checklist stem by stem) are told shorter here; the open files keep every row.
 */
#include "tell/dossier.h"
#include "gather/gather.h"
#include "tell/grid.h"
#include "tell/table_view.h"

#include <stdio.h>
#include <string.h>

static void copy_of(struct tell_doc *doc, const struct show_drawing *from) {
    struct show_drawing *copy =
        show_drawing_new(show_drawing_width(from), show_drawing_height(from));
    show_drawing_name(copy, show_drawing_title(from), show_drawing_alt(from));
    show_drawing_place(copy, from, 0, 0);
    tell_picture(doc, copy);
}

void tell_drawings_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step,
                      enum tell_where except) {
    for (size_t i = 0; i < d->n_drawings; i++)
        if (!strcmp(d->drawings[i].step, step) && d->drawings[i].where != except)
            copy_of(doc, d->drawings[i].drawing);
}

void tell_drawing_of(struct tell_doc *doc, const struct tell_dossier *d, const char *name) {
    for (size_t i = 0; i < d->n_drawings; i++)
        if (d->drawings[i].name && !strcmp(d->drawings[i].name, name))
            copy_of(doc, d->drawings[i].drawing);
}

const struct tell_table *tell_table_named(const struct tell_dossier *d, const char *step,
                                          const char *key) {
    for (size_t i = 0; i < d->n_tables; i++)
        if (!strcmp(d->tables[i].step, step) && d->tables[i].key && !strcmp(d->tables[i].key, key))
            return &d->tables[i].table;
    return NULL;
}

size_t tell_column(const struct tell_table *t, const char *head) {
    size_t c = 0;
    while (c < t->n_columns && strcmp(t->columns[c], head))
        c++;
    return c;
}

static const char *at(const struct tell_table *t, size_t row, size_t column) {
    const char *text = column < t->n_columns ? t->cells[row * t->n_columns + column] : NULL;
    return text ? text : "";
}

void tell_rows_but(struct tell_doc *doc, const struct tell_table *given,
                   const char *const *without) {
    const struct tell_table plain = table_readable(given, tell_doc_arena(doc)), *t = &plain;
    struct grid g;
    const char *heads[GRID_COLUMNS + 1];
    size_t kept[GRID_COLUMNS], n = 0;
    for (size_t c = 0; c < t->n_columns && n < GRID_COLUMNS; c++) {
        bool out = false;
        for (const char *const *w = without; w && *w; w++)
            out |= !strcmp(*w, t->columns[c]);
        if (out) continue;
        heads[n] = t->columns[c];
        kept[n++] = c;
    }
    heads[n] = NULL;
    grid_begin(&g, tell_doc_arena(doc), heads);
    for (size_t r = 0; r < t->n_rows; r++)
        for (size_t k = 0; k < n; k++)
            grid_text(&g, at(t, r, kept[k]));
    grid_end(&g, doc, t->title);
}

/* ---- day by day: the same deed on several days is one row ---- */

static bool same_deed(const struct tell_table *t, size_t a, size_t b) {
    return !strcmp(at(t, a, 1), at(t, b, 1)) && !strcmp(at(t, a, 2), at(t, b, 2));
}

/* "every 2 days" when the days lie so; else "on 4 days". */
static const char *rhythm(const struct tell_table *t, size_t first, size_t count,
                          struct arena *arena) {
    long last = 0, step = 0;
    bool even = true;
    size_t seen = 0;
    for (size_t r = first; r < t->n_rows; r++) {
        long day;
        struct error none = {0};
        if (!same_deed(t, first, r)) continue;
        if (gather_day_read(&day, at(t, r, 0), &none)) return NULL;
        if (seen == 1) step = day - last;
        if (seen > 1) even &= day - last == step;
        last = day;
        seen++;
    }
    return !even        ? arena_printf(arena, ", on %zu days", count)
           : step == 1  ? ", every day"
           : step == 7  ? ", every week"
           : count == 2 ? ", twice"
                        : arena_printf(arena, ", every %ld days", step);
}

static void tasks(struct tell_doc *doc, const struct tell_table *t) {
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(&g, arena, (const char *const[]){"from", "to", "step", "what", NULL});
    for (size_t r = 0; r < t->n_rows; r++) {
        size_t count = 0, last = r;
        bool told = false;
        for (size_t k = 0; k < r && !told; k++)
            told = same_deed(t, k, r);
        if (told) continue;
        for (size_t k = r; k < t->n_rows; k++)
            if (same_deed(t, r, k)) count++, last = k;
        const char *how = count > 1 ? rhythm(t, r, count, arena) : "", *what = at(t, r, 2);
        grid_text(&g, at(t, r, 0));
        grid_text(&g, count > 1 ? at(t, last, 0) : NULL);
        grid_text(&g, at(t, r, 1));
        grid_text(&g, strncmp(what, "Begin: ", 7)
                          ? arena_printf(arena, "%s%s", what, how ? how : "")
                          : "begin");
    }
    grid_end(&g, doc, t->title);
}

/* ---- a checklist stem by stem: one row a point, the stems that want for it named ---- */

static void before_cutting(struct tell_doc *doc, const struct tell_table *t) {
    size_t stem = tell_column(t, "stem"), what = tell_column(t, "what"),
           deed = tell_column(t, "what to do"), by = tell_column(t, "by"),
           state = tell_column(t, "state");
    struct grid g;
    if (state == t->n_columns || deed == t->n_columns) {
        tell_rows(doc, t);
        return;
    }
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"what", "what to do", "by", "on record", "missing",
                                     "the record cannot tell", NULL});
    for (size_t r = 0; r < t->n_rows; r++) {
        bool told = false;
        for (size_t k = 0; k < r && !told; k++)
            told =
                !strcmp(at(t, k, what), at(t, r, what)) && !strcmp(at(t, k, deed), at(t, r, deed));
        if (told) continue;
        grid_text(&g, at(t, r, what));
        grid_text(&g, at(t, r, deed));
        grid_text(&g, at(t, r, by));
        static const char *const states[] = {"on record", "missing", "the record cannot tell"};
        for (int s = 0; s < 3; s++) {
            struct show_out list = {0};
            for (size_t k = r; k < t->n_rows; k++)
                if (!strcmp(at(t, k, what), at(t, r, what)) &&
                    !strcmp(at(t, k, deed), at(t, r, deed)) && !strcmp(at(t, k, state), states[s]))
                    show_out_format(&list, "%s%s", list.n ? ", " : "", at(t, k, stem));
            grid_text(&g, list.n ? arena_strdup(tell_doc_arena(doc), list.bytes) : NULL);
            show_out_deinit(&list);
        }
    }
    grid_end(&g, doc, t->title);
}

/* ---- seasons: what goes on meanwhile is the other lanes of the drawing, said once ---- */

static void windows(struct tell_doc *doc, const struct tell_table *t) {
    struct arena *arena = tell_doc_arena(doc);
    struct tell_table shorter = *t;
    const char **cells = ARENA_NEW(arena, const char *, t->n_columns * t->n_rows);
    if (!cells) return;
    for (size_t i = 0; i < t->n_columns * t->n_rows; i++) {
        const char *cut = t->cells[i] ? strstr(t->cells[i], " Meanwhile: ") : NULL;
        cells[i] =
            cut ? arena_printf(arena, "%.*s", (int)(cut - t->cells[i]), t->cells[i]) : t->cells[i];
    }
    shorter.cells = cells;
    tell_p(doc, "While one season is waited for, work on the other materials goes on: each has its "
                "own lane in the drawing.");
    tell_rows(doc, &shorter);
}

/* ---- what to measure better: readings for which the same is to be done share a row ---- */

static bool same_cells(const struct tell_table *t, size_t a, size_t b, size_t c) {
    return !strcmp(at(t, a, c), at(t, b, c));
}

static void better(struct tell_doc *doc, const struct tell_table *t) {
    static const char *const names[] = {"for", "trouble", "measure instead", "touching", "how"};
    size_t c[5];
    for (int k = 0; k < 5; k++)
        if ((c[k] = tell_column(t, names[k])) == t->n_columns) {
            tell_rows(doc, t);
            return;
        }
    struct arena *arena = tell_doc_arena(doc);
    struct grid g;
    grid_begin(
        &g, arena,
        (const char *const[]){"size", "trouble", "measure instead", "touching", "how", NULL});
    for (size_t r = 0; r < t->n_rows; r++) {
        bool told = false, alike = true;
        for (size_t k = 0; k < r && !told; k++)
            told = same_cells(t, k, r, c[3]) && same_cells(t, k, r, c[4]);
        if (told) continue;
        struct show_out list = {0};
        for (size_t k = r; k < t->n_rows; k++) {
            if (!same_cells(t, k, r, c[3]) || !same_cells(t, k, r, c[4])) continue;
            const char *to = strstr(at(t, k, c[2]), " to ±");
            show_out_format(&list, "%s%s%s", list.n ? ", " : "", at(t, k, c[0]), to ? to : "");
            alike &= same_cells(t, k, r, c[1]);
        }
        const char *what = at(t, r, c[2]), *to = strstr(what, " to ±");
        grid_text(&g, list.bytes ? arena_strdup(arena, list.bytes) : NULL);
        grid_text(&g, alike ? at(t, r, c[1])
                      : to  ? "its ± is large beside it"
                            : "nobody noted which way it runs");
        grid_text(&g, to ? arena_printf(arena, "%.*s", (int)(to - what), what) : what);
        grid_text(&g, at(t, r, c[3]));
        grid_text(&g, at(t, r, c[4]));
        show_out_deinit(&list);
    }
    grid_end(&g, doc, t->title);
}

static void one_table(struct tell_doc *doc, const struct tell_part_table *given) {
    struct tell_part_table plain = *given, *p = &plain;
    plain.table = table_readable(&given->table, tell_doc_arena(doc));
    if (p->text) tell_p(doc, "%s", p->text);
    const char *key = p->key ? p->key : "";
    bool material = !strcmp(p->step, "material");
    if (material && !strcmp(key, "tasks") && p->table.n_columns == 3)
        tasks(doc, &p->table);
    else if (material && !strcmp(key, "checklist"))
        before_cutting(doc, &p->table);
    else if (material && !strcmp(key, "windows"))
        windows(doc, &p->table);
    else if (!strcmp(p->step, "sizes") && !strcmp(key, "handling"))
        better(doc, &p->table);
    else
        table_fitted(doc, &p->table);
}

void tell_table_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step,
                   const char *key) {
    for (size_t i = 0; i < d->n_tables; i++)
        if (!strcmp(d->tables[i].step, step) && d->tables[i].key && !strcmp(d->tables[i].key, key))
            one_table(doc, &d->tables[i]);
}

void tell_tables_of(struct tell_doc *doc, const struct tell_dossier *d, const char *step) {
    for (size_t i = 0; i < d->n_tables; i++)
        if (!strcmp(d->tables[i].step, step)) one_table(doc, &d->tables[i]);
}
