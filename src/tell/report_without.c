/* report_without: what is left of the argument when something is taken from it: the trials, a
 * parallel, any piece, view or trial. */
#include "tell/report_views.h"

#include "base/mem.h"
#include "job/without.h"
#include "tell/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- without the trials, without a parallel ---- */

/* "A12.length.dry": the size of one piece, told with the others of its kind. */
static bool is_of_one_piece(const char *column) {
    const char *dot = column ? strchr(column, '.') : NULL;
    return dot && dot > column && dot[-1] >= '0' && dot[-1] <= '9';
}

/* What the trials moved: figures row by row, sizes of single pieces in one sentence. */
static void moved(struct tell_doc *doc, const struct tell_table *t) {
    static const char *const wanted[] = {"trial", "number", "without it", "with it",
                                         "range left, percent"};
    enum { N = sizeof wanted / sizeof wanted[0] };
    size_t column[N], name = tell_column(t, "column"), pieces = 0;
    double least = INFINITY, most = -INFINITY;
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"trial", "what it moved", "without it", "with it",
                                     "of its range is left, percent", NULL});
    for (size_t c = 0; c < N; c++)
        column[c] = tell_column(t, wanted[c]);
    for (size_t r = 0; r < t->n_rows; r++) {
        const char *const *cells = t->cells + r * t->n_columns;
        if (name < t->n_columns && is_of_one_piece(cells[name])) {
            double left = column[N - 1] < t->n_columns ? strtod(cells[column[N - 1]], NULL) : NAN;
            least = fmin(least, left);
            most = fmax(most, left);
            pieces++;
            continue;
        }
        for (size_t c = 0; c < N; c++) {
            const char *text = column[c] < t->n_columns ? cells[column[c]] : NULL;
            for (size_t k = 0; c == 1 && without_figures[k].id; k++)
                if (text && !strcmp(text, without_figures[k].id)) text = without_figures[k].name;
            grid_text(&g, text);
        }
    }
    grid_end(&g, doc, "What the trials moved");
    char low[40], high[40];
    if (pieces)
        tell_p(doc,
               "With them moved the sizes of %zu single readings, new and dry: %s to %s percent of "
               "each range is left. They stand one by one in results/trials-changes.csv.",
               pieces, show_real(low, least, 0), show_real(high, most, 0));
}

static void without_trials(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct tell_table *t = tell_table_named(d, "trials", "changes");
    tell_h2(doc, "without-trials", "Without the trials");
    if (!d->n_trials) {
        tell_p(doc, "No trial is entered, so every number here stands without one.");
        return;
    }
    size_t on = 0, before = 0, n = d->said ? statement_count(d->said) : 0;
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(d->said, i);
        bool rests = false;
        for (size_t k = 0; k < d->n_trials && !rests; k++)
            rests = report_rests_on(d, s, "trial", d->trials[k].id, 6);
        on += rests;
        before += rests && s->step && strcmp(s->step, "trials");
    }
    tell_p(doc,
           "%zu of %zu statements rest on a trial%s. All the others would stand as they are if no "
           "trial had been made.",
           on, n, before ? "" : ", all of them in the chapter on trials");
    if (t && t->n_rows)
        moved(doc, t);
    else
        tell_p(doc, "No number has been moved by a trial.");
}

static void without_parallels(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct tell_table *left = tell_table_named(d, "report", "parallels");
    tell_h2(doc, "without-parallels", "Without each parallel");
    if (left && left->n_rows) {
        tell_p(doc, "Other objects are no evidence of this one. Each was taken away in turn, with "
                    "everything that cites it, and sizes, outline, curve and making were worked "
                    "out again, and from them shape and strength.");
        tell_rows_but(doc, left, NULL);
    } else
        tell_p(doc, "Nothing rests on another object: all would stand without any parallel.");
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"part that comes from a parallel", "rule", "else", NULL});
    for (size_t i = 0; d->makings && i < d->makings->part_count; i++) {
        const struct part *p = &d->makings->parts[i];
        if (p->footing != FOOTING_PARALLEL) continue;
        grid_text(&g, p->name ? p->name : p->id);
        grid_text(&g, p->rule);
        grid_text(&g, p->rival ? p->rival : "nothing: it would be open");
    }
    grid_end(&g, doc, NULL);
}

void report_without(struct tell_doc *doc, const struct tell_dossier *d) {
    const struct tell_table *t = tell_table_named(d, "report", "without");
    tell_h1(doc, "without", "What stands without the trials, and without each parallel", 8);
    if (t && t->n_rows) {
        tell_rows_but(doc, t, NULL);
        if (t->n_columns > 3)
            tell_p(doc,
                   "Without a parallel a figure is worked out from 512 possible originals, beside "
                   "a run of the same kind with everything in: \"the same\" means that the two "
                   "agree in every digit, \"a, for b\" that it is a without and was b with. Shape "
                   "and strength follow from 64 runs of the shell of the same originals where any "
                   "of the figures before them moved; where none did, they have the same inputs.");
    }
    without_trials(doc, d);
    without_parallels(doc, d);
}

/* ---- what falls if an input changes ---- */

/* Everything a person entered that statements rest on. */
enum input_kind { OF_PIECE, OF_CHOICE, OF_TRIAL, OF_SOURCE, INPUT_KINDS };

static const char *const input_names[INPUT_KINDS] = {"piece", "view", "trial", "source"};

struct falling {
    const struct tell_dossier *d;
    struct arena *arena;
    size_t n, inputs; /* statements; inputs of all kinds */
    size_t first[INPUT_KINDS + 1];
    bool *rests;        /* [n][inputs] */
    signed char *state; /* [n] 0 not begun, 1 under way, 2 done */
};

static size_t input_of(const struct falling *f, const struct statement_link *l) {
    const struct find *find = f->d->find;
    const char *id = l->id;
    if (!strcmp(l->kind, "measure")) {
        const struct measure *m = find_measure(find, id);
        id = m ? m->piece : NULL;
    } else if (!strcmp(l->kind, "mark")) {
        id = NULL;
        for (size_t i = 0; i < find->mark_count; i++)
            if (!strcmp(find->marks[i].id, l->id)) id = find->marks[i].piece;
    }
    for (size_t i = 0; id && i < find->piece_count; i++)
        if (!strcmp(find->pieces[i].id, id)) return f->first[OF_PIECE] + i;
    for (size_t i = 0; !strcmp(l->kind, "choice") && i < find->choice_count; i++)
        if (!strcmp(find->choices[i].id, l->id)) return f->first[OF_CHOICE] + i;
    for (size_t i = 0; !strcmp(l->kind, "trial") && i < f->d->n_trials; i++)
        if (!strcmp(f->d->trials[i].id, l->id)) return f->first[OF_TRIAL] + i;
    for (size_t i = 0; !strcmp(l->kind, "source") && i < find->source_count; i++)
        if (!strcmp(find->sources[i].id, l->id)) return f->first[OF_SOURCE] + i;
    return f->inputs;
}

static size_t index_of(const struct tell_dossier *d, const struct statement *s) {
    return (size_t)(s - statement_at(d->said, 0));
}

/* Down the chain, each statement once. */
static void gather(struct falling *f, size_t i) {
    if (f->state[i]) return;
    f->state[i] = 1;
    const struct statement *s = statement_at(f->d->said, i);
    bool *mine = f->rests + i * f->inputs;
    for (size_t k = 0; k < s->rests_on.n; k++) {
        const struct statement_link *l = (const struct statement_link *)s->rests_on.v + k;
        const struct statement *under =
            strcmp(l->kind, "statement") ? NULL : statement_find(f->d->said, l->id);
        size_t at = input_of(f, l);
        if (at < f->inputs) mine[at] = true;
        if (!under || under == s) continue;
        size_t j = index_of(f->d, under);
        gather(f, j);
        for (size_t q = 0; q < f->inputs; q++)
            mine[q] |= f->rests[j * f->inputs + q];
    }
    f->state[i] = 2;
}

static bool begin(struct falling *f, const struct tell_dossier *d, struct arena *arena) {
    *f = (struct falling){.d = d, .arena = arena, .n = d->said ? statement_count(d->said) : 0};
    if (!f->n || !d->find) return false;
    const size_t counts[INPUT_KINDS] = {d->find->piece_count, d->find->choice_count, d->n_trials,
                                        d->find->source_count};
    for (int k = 0; k < INPUT_KINDS; k++)
        f->first[k + 1] = f->first[k] + counts[k];
    f->inputs = f->first[INPUT_KINDS];
    f->rests = ARENA_NEW(arena, bool, f->n * f->inputs + 1);
    f->state = ARENA_NEW(arena, signed char, f->n);
    if (!f->rests || !f->state) return false;
    memset(f->rests, 0, f->n * f->inputs);
    memset(f->state, 0, f->n);
    for (size_t i = 0; i < f->n; i++)
        gather(f, i);
    return true;
}

/* "A01, cross lath"; NULL: it is private. */
static const char *name_of(const struct falling *f, int kind, size_t i) {
    const struct find *find = f->d->find;
    switch (kind) {
    case OF_PIECE:
        return find->pieces[i].hidden == 1 ? NULL : find->pieces[i].id;
    case OF_CHOICE:
        return arena_printf(f->arena, "%s is %s",
                            find->choices[i].about ? find->choices[i].about : "it",
                            find->choices[i].value ? find->choices[i].value : "so");
    case OF_TRIAL:
        return f->d->trials[i].id;
    default:
        return find->sources[i].hidden == 1 ? NULL
               : find->sources[i].title     ? find->sources[i].title
                                            : find->sources[i].id;
    }
}

static bool is_of_shape(size_t figure) {
    return !strncmp(without_figures[figure].id, "shape.made.", 11);
}

/* The headline figures that rest on input `at`; what is predicted of the shape goes together. */
static const char *headlines(const struct falling *f, size_t at) {
    struct show_out list = {0};
    bool shape = false;
    for (size_t k = 0; without_figures[k].id; k++) {
        const struct statement *s = statement_find(f->d->said, without_figures[k].id);
        if (!s || tell_is_private(f->d, s) || !f->rests[index_of(f->d, s) * f->inputs + at])
            continue;
        if (is_of_shape(k))
            shape = true;
        else
            show_out_format(&list, "%s%s", list.n ? ", " : "", without_figures[k].name);
    }
    if (shape) show_out_format(&list, "%spredicted shape and weight", list.n ? ", " : "");
    const char *text = list.n ? arena_strdup(f->arena, list.bytes) : "none of the headline figures";
    show_out_deinit(&list);
    return text;
}

struct fallen {
    const char *name, *what; /* of an input, and the figures that rest on it */
    size_t count;            /* statements */
};

/* Inputs on which the same figures rest share a row. */
static void fall(struct grid *g, const struct falling *f, int kind) {
    size_t n = f->first[kind + 1] - f->first[kind];
    struct fallen *v = ARENA_NEW(f->arena, struct fallen, n + 1);
    for (size_t i = 0; v && i < n; i++) {
        size_t at = f->first[kind] + i, count = 0;
        for (size_t k = 0; k < f->n; k++)
            count += f->rests[k * f->inputs + at];
        v[i] = (struct fallen){count ? name_of(f, kind, i) : NULL, headlines(f, at), count};
    }
    for (size_t i = 0; v && i < n; i++) {
        size_t alike = 0, low = v[i].count, high = low;
        struct show_out names = {0};
        for (size_t k = i; v[i].name && k < n; k++) {
            if (!v[k].name || !v[k].what || strcmp(v[k].what, v[i].what)) continue;
            show_out_format(&names, "%s%s", alike++ ? "; " : "", v[k].name);
            low = v[k].count < low ? v[k].count : low;
            high = v[k].count > high ? v[k].count : high;
            if (k > i) v[k].name = NULL;
        }
        if (alike) {
            grid_text(g, arena_printf(f->arena, "%s%s %s", input_names[kind], alike > 1 ? "s" : "",
                                      names.bytes ? names.bytes : ""));
            grid_text(g, v[i].what);
            grid_text(g, low == high ? arena_printf(f->arena, "%zu", low)
                                     : arena_printf(f->arena, "%zu to %zu", low, high));
        }
        show_out_deinit(&names);
    }
}

void report_falls(struct tell_doc *doc, const struct tell_dossier *d) {
    struct falling f;
    struct grid g;
    grid_begin(&g, tell_doc_arena(doc),
               (const char *const[]){"if this changes", "these headline figures are in doubt",
                                     "statements in all, each", NULL});
    if (begin(&f, d, tell_doc_arena(doc)))
        for (int kind = 0; kind < INPUT_KINDS; kind++)
            fall(&g, &f, kind);
    tell_h1(doc, "falls", "What falls if something changes", 8);
    if (g.rows)
        tell_p(doc, "Every piece, view, trial and source on which a number rests, through however "
                    "many steps. What an input moves is put in doubt and worked out again; "
                    "\"relict why FILE NAME\" opens the chain of any one number.");
    else
        tell_p(doc, "No statement rests on another yet.");
    grid_end(&g, doc, NULL);
}
