#include "job/without.h"

#include "base/arena.h"
#include "job/strength.h"

#include <math.h>
#include <string.h>

/* Few, and the same few in each run: the outer 5 in 100 are still 25 of them. */
enum { ROWS = 512, MOST_PARALLELS = 8 };
/* What comes after is shell runs: few of them, and only where an input moved. */
static const char *const last_step = "making";

const struct without_figure without_figures[] = {
    {"outline.length", "length of the outline"},
    {"outline.width", "width of the outline"},
    {"outline.family", "family of the outline"},
    {"lath.count", "number of laths"},
    {"lath.length.fresh", "length of a lath"},
    {"lath.width.fresh", "width of a lath"},
    {"lath.thickness.fresh", "thickness of a lath"},
    {"sheet.thickness.fresh", "thickness of the sheet"},
    {"rim.width.fresh", "width of the rim"},
    {"rim.thickness.fresh", "thickness of the rim"},
    {"making.rim.length", "length of the rim"},
    {"ring.thickness.fresh", "thickness of the coiled ring"},
    {"guard.thickness.fresh", "thickness of the coiled guard"},
    {"coil.form", "form of the coiled part"},
    {"coil.ring.radius", "radius of the coil as a flat ring"},
    {"coil.cone.edge", "edge radius of the coil as a cone"},
    {"coil.cone.slant", "slant of the coil as a cone"},
    {"grip.length.fresh", "length of the grip"},
    {"making.grain", "way of the grain"},
    {"shape.made.rise", "rise of the middle when dry"},
    {"shape.made.edge_lift", "lift of the edge when dry"},
    {"shape.made.bend_across", "bend across when dry"},
    {"shape.made.stiffness", "stiffness under a hand"},
    {"shape.made.weight", "weight"},
    {NULL, NULL}};

/* ---- what comes from a parallel ------------------------------------------------------------- */

struct parallel {
    const char *id;   /* of the source, or of a choice that names none */
    const char *name; /* for people */
};

static bool is_parallel_source(const struct find *f, const char *id) {
    for (size_t i = 0; id && *id && i < f->source_count; i++)
        if (f->sources[i].kind == SOURCE_PARALLEL && !strcmp(f->sources[i].id, id)) return true;
    return false;
}

/* A choice that says it comes from a parallel and cites none stands for itself. */
static bool cites(const struct find *f, const struct choice *c, const char *id) {
    bool named = is_parallel_source(f, c->source);
    return named ? !strcmp(c->source, id) : c->footing == FOOTING_PARALLEL && !strcmp(c->id, id);
}

static size_t parallels_of(struct parallel *out, const struct find *f) {
    size_t n = 0;
    for (size_t i = 0; i < f->source_count && n < MOST_PARALLELS; i++)
        if (f->sources[i].kind == SOURCE_PARALLEL && f->sources[i].hidden != 1)
            out[n++] = (struct parallel){f->sources[i].id, f->sources[i].title};
    for (size_t i = 0; i < f->choice_count && n < MOST_PARALLELS; i++) {
        const struct choice *c = &f->choices[i];
        if (c->footing == FOOTING_PARALLEL && !is_parallel_source(f, c->source))
            out[n++] = (struct parallel){c->id, c->about};
    }
    return n;
}

static bool same(const char *a, const char *b) {
    return a && b && !strcmp(a, b);
}

/* Copies the items of a list that do not cite `id` (OF says whether one does); LEFT is told. */
#define KEEP(type, list, count, OF, NAME)                                                          \
    do {                                                                                           \
        type *kept = ARENA_NEW(arena, type, f->count + 1);                                         \
        if (!kept) return fail_memory(err);                                                        \
        size_t n = 0;                                                                              \
        for (size_t i = 0; i < f->count; i++) {                                                    \
            const type *one = &f->list[i];                                                         \
            if (OF)                                                                                \
                *left = arena_printf(arena, "%s%s%s", *left, **left ? ", " : "", NAME);            \
            else                                                                                   \
                kept[n++] = *one;                                                                  \
            if (!*left) return fail_memory(err);                                                   \
        }                                                                                          \
        f->list = kept;                                                                            \
        f->count = n;                                                                              \
    } while (0)

/* The snapshot as it would be had nobody known the parallel; *left names what is not in it. */
static int leave_out(struct snapshot *out, const struct snapshot *now, const char *id,
                     const char **left, struct arena *arena, struct error *err) {
    *out = *now;
    *left = "";
    struct find *f = &out->find;
    const struct find *all = &now->find;
    KEEP(struct own_alteration, alterations, alteration_count, same(one->source, id), one->id);
    KEEP(struct measure, measures, measure_count, same(one->source, id), one->id);
    KEEP(struct piece_outline, outlines, outline_count, same(one->source, id), one->id);
    KEEP(struct choice, choices, choice_count, cites(all, one, id),
         arena_printf(arena, "the view on %s", one->about ? one->about : one->id));
    const char *text = *left; /* the source itself is no loss of its own */
    KEEP(struct source, sources, source_count, same(one->id, id), one->id);
    *left = text;
    return 0;
}

/* ---- a run of its own ----------------------------------------------------------------------- */

/* One way through the steps up to the making, kept until the figures are compared. */
struct way {
    struct snapshot now;
    struct stage_run run;
    struct num_rows *rows;
    bool shaped; /* its shape and strength were asked for */
};

static void way_end(struct way *w) {
    if (!w) return;
    json_decref(w->run.results);
    json_decref(w->run.result);
    shape_outline_model_free(w->run.made.outline_model);
    num_rows_free(w->rows);
}

/* What a step cannot say it leaves unsaid; only memory and a stop end the whole. */
static int grave(int rc, const struct error *trouble, struct error *err) {
    if (rc != ERR_MEMORY && rc != ERR_STOPPED) return 0;
    if (err) *err = *trouble;
    return rc;
}

static int way_begin(struct way *w, struct stage_run *outer, struct error *err) {
    w->now.draws = ROWS;
    w->run = (struct stage_run){.now = &w->now,
                                .arena = outer->arena,
                                .progress = outer->progress,
                                .context = outer->context,
                                .rough = true,
                                .failures = outer->failures,
                                .said = statement_set_new(outer->arena),
                                .results = json_object()};
    int rc = w->run.said && w->run.results
                 ? num_rows_new(&w->rows, ROWS, (uint64_t)w->now.seed, err)
                 : fail_memory(err);
    w->run.rows = w->rows;
    for (size_t i = 0; i <= stage_index(last_step, NULL) && !rc; i++) {
        struct error trouble = {0};
        json_decref(w->run.result);
        w->run.result = json_object();
        rc = w->run.result ? stage_tell(&w->run, "report", NAN, "without a parallel", err)
                           : fail_memory(err);
        if (!rc) rc = grave(stage_list[i]->run(&w->run, &trouble), &trouble, err);
        json_object_set(w->run.results, stage_list[i]->name, w->run.result);
    }
    return rc;
}

/* Shape and strength from a few dozen shell runs, the same rows of the originals in every way. */
static int way_shape(struct way *w, struct error *err) {
    struct error trouble = {0};
    if (w->shaped) return 0;
    w->shaped = true;
    json_decref(w->run.result);
    w->run.result = json_object();
    int rc = w->run.result
                 ? stage_tell(&w->run, "report", NAN, "shape and strength without a parallel", err)
                 : fail_memory(err);
    return rc ? rc : grave(strength_brief(&w->run, &trouble), &trouble, err);
}

/* ---- figures -------------------------------------------------------------------------------- */

/* The number; of a view its sentence with the likelihood. */
static const char *figure(const struct statement *s, struct arena *arena) {
    const char *number = statement_number(s, arena);
    if (isfinite(s->value.p50) && number && *number) return number;
    size_t n = strlen(s->sentence); /* its full stop gives way to the likelihood */
    n -= n && s->sentence[n - 1] == '.';
    return arena_printf(arena, "%.*s%s%s", (int)n, s->sentence, number && *number ? ": " : "",
                        number ? number : "");
}

/* The same figure after the trials, where they moved it. */
static const struct statement *with_trials(const struct stage_run *run, const struct statement *s) {
    const char *id = s->column ? arena_printf(run->arena, "trials.with.%s", s->column) : NULL;
    return id ? statement_find(run->said, id) : NULL;
}

/* What a figure is without a parallel: the same, other, or gone; or not worked out again. */
static const char *compared(const struct statement *s, const struct statement_set *all,
                            const struct statement_set *without, bool moved, struct arena *arena) {
    if (!moved) return "the same"; /* all before it is, and so are its own inputs */
    const struct statement *a = statement_find(all, s->id), *b = statement_find(without, s->id);
    if (!a && !b) return "not worked out again";
    if (!b) return "open";
    const char *with = a ? figure(a, arena) : "open", *left = figure(b, arena);
    if (!with || !left) return NULL;
    return strcmp(with, left) ? arena_printf(arena, "%s, for %s", left, with) : "the same";
}

static bool is_before_shape(const struct statement *s) {
    return !s->step || strcmp(s->step, "strength") != 0;
}

static size_t count_before_shape(const struct statement_set *said) {
    size_t n = 0;
    for (size_t i = 0; i < statement_count(said); i++)
        n += is_before_shape(statement_at(said, i));
    return n;
}

/* Whether anything at all came out otherwise, so that what rests on it may move too. */
static bool anything_moved(const struct statement_set *all, const struct statement_set *without) {
    if (count_before_shape(all) != count_before_shape(without)) return true;
    for (size_t i = 0; i < statement_count(all); i++) {
        const struct statement *a = statement_at(all, i), *b = statement_find(without, a->id);
        if (!is_before_shape(a)) continue;
        bool numbers = b && isfinite(a->value.p50) && a->value.p50 != b->value.p50;
        if (!b || numbers || !same(a->sentence, b->sentence)) return true;
    }
    return false;
}

struct comparison {
    size_t n;
    struct parallel from[MOST_PARALLELS];
    struct way all, without[MOST_PARALLELS];
    bool alike[MOST_PARALLELS]; /* cited for nothing: nothing to work out */
    bool moved[MOST_PARALLELS];
    const char *left[MOST_PARALLELS];
};

static const struct statement_set *said_without(const struct comparison *c, size_t i) {
    return c->alike[i] ? c->all.run.said : c->without[i].run.said;
}

static int compare(struct comparison *c, struct stage_run *run, struct error *err) {
    c->all.now = *run->now;
    c->n = parallels_of(c->from, &run->now->find);
    int rc = c->n ? way_begin(&c->all, run, err) : 0;
    for (size_t i = 0; i < c->n && !rc; i++) {
        struct way *w = &c->without[i];
        rc = leave_out(&w->now, run->now, c->from[i].id, &c->left[i], run->arena, err);
        c->alike[i] = !rc && !*c->left[i];
        if (rc || c->alike[i]) continue;
        rc = way_begin(w, run, err);
        c->moved[i] = !rc && anything_moved(c->all.run.said, w->run.said);
        /* where nothing moved the shape has the same inputs and is the same */
        if (c->moved[i] && !rc) rc = way_shape(&c->all, err);
        if (c->moved[i] && !rc) rc = way_shape(w, err);
    }
    return rc;
}

static void compare_end(struct comparison *c) {
    way_end(&c->all);
    for (size_t i = 0; i < MOST_PARALLELS; i++)
        way_end(&c->without[i]);
}

static int add_row(json_t *rows, const struct comparison *c, const struct stage_run *run,
                   const struct statement *s, const char *name, struct error *err) {
    const struct statement *after = with_trials(run, s);
    const char *bare = figure(s, run->arena), *all = after ? figure(after, run->arena) : bare;
    json_t *row = json_array();
    json_array_append_new(row, json_string(name));
    json_array_append_new(row, json_string(all));
    json_array_append_new(row, json_string(after ? bare : "the same"));
    for (size_t i = 0; i < c->n; i++)
        json_array_append_new(row, json_string(compared(s, c->all.run.said, said_without(c, i),
                                                        c->moved[i], run->arena)));
    return json_array_append_new(rows, row) ? fail_memory(err) : 0;
}

static int tables(const struct comparison *c, struct stage_run *run, struct error *err) {
    int rc = 0;
    const char *heads = "figure|with all|without the trials";
    for (size_t i = 0; i < c->n && heads; i++)
        heads = arena_printf(run->arena, "%s|without %s", heads, c->from[i].id);
    json_t *rows =
        heads ? stage_table(run, "without",
                            "Headline figures, with and without what could be doubted", heads)
              : NULL;
    if (!rows) return fail_memory(err);
    for (size_t i = 0; without_figures[i].id && !rc; i++) {
        const struct statement *s = statement_find(run->said, without_figures[i].id);
        if (s) rc = add_row(rows, c, run, s, without_figures[i].name, err);
    }
    if (rc || !c->n) return rc;
    json_t *list = stage_table(run, "parallels", "What was left out with each parallel",
                               "parallel|what it is|left out with it|what came of it");
    for (size_t i = 0; list && i < c->n; i++)
        json_array_append_new(list, json_pack("[s,s,s,s]", c->from[i].id,
                                              c->from[i].name ? c->from[i].name : "",
                                              *c->left[i] ? c->left[i] : "nothing cites it",
                                              c->moved[i] ? "figures moved" : "no figure moved"));
    return list ? 0 : fail_memory(err);
}

int without_tables(struct stage_run *run, struct error *err) {
    struct comparison *c = ARENA_NEW(run->arena, struct comparison, 1);
    if (!c) return fail_memory(err);
    *c = (struct comparison){0};
    int rc = compare(c, run, err);
    if (!rc) rc = tables(c, run, err);
    compare_end(c);
    return rc;
}
