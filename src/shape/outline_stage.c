/* The stage: evidence in, columns and statements out. */
#include "base/mem.h"
#include "shape/outline_inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- columns for other rooms ------------------------------------------------------------------
 */

static void size_columns(const double *row, double *out, void *ctx) {
    const struct shape_outline_model *m = ctx;
    struct outline_view v;
    struct shape_outline_model bare = *m; /* only the form is wanted */
    bare.needs_ring = bare.needs_size = bare.needs_area = bare.needs_tightest = false;
    outline_view_make(&v, &bare, row);
    shape_form_size(&v.form, &out[0], &out[1], &out[4]);
    out[2] = shape_form_perimeter(&v.form);
    out[3] = shape_form_area(&v.form);
}

int shape_outline_columns(const struct shape_outline_model *m, struct num_rows *rows,
                          struct error *err) {
    static const char *const word[5] = {"length", "width", "perimeter", "area", "turn"};
    char text[5][128];
    const char *ids[5];
    size_t from[ROOTS], n = 0, cols[5];
    for (int i = 0; i < 5; i++) {
        snprintf(text[i], sizeof text[i], "%s.%s", m->o.prefix, word[i]);
        ids[i] = text[i];
    }
    for (size_t i = 0; i < ROOTS; i++)
        if (m->column[i] != NUM_NO_COLUMN) from[n++] = m->column[i];
    /* The rows call back with the model until they are freed; they do not change it. */
    return num_rows_derive_many(rows, ids, 5, from, n, size_columns, (void *)m, cols, err);
}

/* ---- statements ------------------------------------------------------------------------------ */

struct saying {
    const struct shape_outline_input *input;
    const struct shape_outline_result *result;
    struct statement_set *said;
    struct arena *arena;
    const char *prefix;
};

/* Many readings share a factor or a guess: each stands in the chain once. */
static int link_once(struct statement *s, const char *kind, const char *id, const char *role,
                     const struct saying *y, struct error *err) {
    const struct statement_link *l = s->rests_on.v;
    if (!id || !*id) return 0;
    for (size_t i = 0; i < s->rests_on.n; i++)
        if (strcmp(l[i].kind, kind) == 0 && strcmp(l[i].id, id) == 0) return 0;
    return statement_link_add(s, kind, id, role, y->arena, err);
}

/* A change of size is named by its column of rows; what is said of it has the sizes' name for it.
 */
static const char *said_of(const char *factor, struct arena *arena) {
    static const char column[] = "fresh_factor.";
    size_t n = sizeof column - 1;
    return factor && strncmp(factor, column, n) == 0 ? arena_printf(arena, "alter.%s", factor + n)
                                                     : factor;
}

static int link_all(struct statement *s, const struct saying *y, struct error *err) {
    int rc = 0;
    for (size_t k = 0; !rc && k < y->input->n; k++) {
        const struct shape_evidence *e = &y->input->evidence[k];
        if (e->entry && !*e->entry) continue;
        rc = link_once(s, e->entry ? e->entry : "measure", e->id ? e->id : "?", "reading", y, err);
        if (!rc) rc = link_once(s, "statement", e->guess, "assumption", y, err);
        if (!rc) rc = link_once(s, "statement", said_of(e->along, y->arena), "alteration", y, err);
        if (!rc) rc = link_once(s, "statement", said_of(e->around, y->arena), "alteration", y, err);
    }
    return rc ? rc : link_once(s, "choice", "outline.options", "prior", y, err);
}

static struct statement begin(const struct saying *y, const char *what, const char *sentence) {
    struct statement s = statement_blank();
    s.id = arena_printf(y->arena, "%s.%s", y->prefix, what);
    s.step = "outline", s.about = "object", s.quantity = what, s.sentence = sentence;
    s.footing = FOOTING_WORKED_OUT, s.state = y->input->state;
    s.rule = "All families of outline weighed by how well they fit every reading of the edge, the "
             "maker's waviness correlated along the edge.";
    s.source = "tempered sequential Monte Carlo: Del Moral, Doucet & Jasra, J. R. Stat. Soc. B 68 "
               "(2006) 411-436";
    return s;
}

static const struct spread *size_in(const struct shape_outline *o, const char *what) {
    return !strcmp(what, "length")      ? &o->length
           : !strcmp(what, "width")     ? &o->width
           : !strcmp(what, "perimeter") ? &o->perimeter
                                        : &o->area;
}

static const char *number_of(const struct saying *y, const struct spread *value, const char *unit) {
    struct statement s = statement_blank();
    s.value = *value;
    s.unit = unit;
    return statement_number(&s, y->arena);
}

/* What the size is without the readings that bear on it by a guess alone, after other rivals. */
static const char *bare_words(const struct saying *y, const char *what, const char *unit,
                              const char *before) {
    const char *gap = *before ? "; " : "";
    if (y->result->bare_refused)
        return arena_printf(y->arena, "%s%swithout what is only guessed nothing can be said: %s",
                            before, gap, y->result->why_refused);
    const char *number = number_of(y, size_in(&y->result->bare, what), unit);
    return number
               ? arena_printf(y->arena, "%s%swithout what is only guessed: %s", before, gap, number)
               : NULL;
}

static int say_size(const struct saying *y, const char *what, const char *sentence,
                    const char *unit, const struct spread *value, struct error *err) {
    struct statement s = begin(y, what, sentence);
    s.unit = unit, s.value = *value;
    s.column = arena_printf(y->arena, "%s.%s", y->prefix, what);
    if (!s.id || !s.column) return fail_memory(err);
    const char *rival = "";
    if (y->result->has_other) {
        const char *number = number_of(y, size_in(&y->result->other, what), unit);
        if (!number) return fail_memory(err);
        rival = arena_printf(y->arena, "%s pieces survive anywhere alike: %s",
                             y->result->main_at_random ? "If it is not so that" : "If", number);
    }
    if (rival && y->result->has_guess) rival = bare_words(y, what, unit, rival);
    if (!rival) return fail_memory(err);
    if (*rival) s.rival = rival;
    int rc = link_all(&s, y, err);
    return rc ? rc : statement_add(y->said, &s, err);
}

static const char *others_words(const struct shape_outline *o, struct arena *arena) {
    const char *text = "";
    for (size_t k = 1; text && k < o->n_families && o->family[k].probability >= 0.01; k++)
        text = arena_printf(arena, "%s%s%s %.2f", text, *text ? ", " : "",
                            shape_family_words[o->family[k].family], o->family[k].probability);
    return text && !*text ? "none above 0.01" : text;
}

/* Told with the family only where it is as sure as a family must be. */
static const char *unlike_words(const struct shape_family_share *f) {
    bool ends = f->unlike_ends > 0.95, sides = f->unlike_sides > 0.95;
    return ends && sides ? ", one end longer and one side broader than the other"
           : ends        ? ", one end longer than the other"
           : sides       ? ", one side broader than the other"
                         : "";
}

static int say_family(const struct saying *y, struct error *err) {
    const struct shape_outline *o = &y->result->main;
    const struct shape_family_share *f = &o->family[0];
    struct statement s = begin(y, "family",
                               arena_printf(y->arena, "The outline was %s %s%s.",
                                            f->family == SHAPE_ELLIPSE ? "an" : "a",
                                            shape_family_words[f->family], unlike_words(f)));
    s.probability = f->probability;
    s.rival = others_words(o, y->arena);
    if (!o->decided)
        s.caution = o->edge_seen < 0.3
                        ? "not decided: under 30 % of the edge is there"
                        : "not decided: another family is still likely enough to count";
    s.column = arena_printf(y->arena, "%s.family", y->prefix);
    if (!s.id || !s.sentence || !s.rival || !s.column) return fail_memory(err);
    int rc = link_all(&s, y, err);
    return rc ? rc : statement_add(y->said, &s, err);
}

static int say_exclusions(const struct saying *y, struct error *err) {
    const struct shape_outline *o = &y->result->main;
    for (size_t k = 0; k < o->n_families; k++) {
        const struct shape_family_share *f = &o->family[k];
        if (!f->excluded) continue;
        struct statement s = begin(
            y, arena_printf(y->arena, "excluded.%s", shape_family_words[f->family]),
            arena_printf(y->arena, "The outline was not %s %s: %s tells against it.",
                         f->family == SHAPE_ELLIPSE ? "an" : "a", shape_family_words[f->family],
                         f->by ? f->by : "the evidence together"));
        s.quantity = "family", s.probability = 1 - f->probability;
        if (!s.id || !s.sentence) return fail_memory(err);
        int rc = 0;
        for (size_t i = 0; !rc && f->by && i < y->input->n; i++) {
            const struct shape_evidence *e = &y->input->evidence[i];
            bool frame = e->entry && !*e->entry;
            if (e->id && strcmp(e->id, f->by) == 0 && !frame)
                rc = statement_link_add(&s, e->entry ? e->entry : "measure", e->id,
                                        "argument: the reading that excludes", y->arena, err);
        }
        char family[64];
        snprintf(family, sizeof family, "%s.family", y->prefix);
        if (!rc)
            rc = statement_link_add(&s, "statement", family, "argument: weighed with", y->arena,
                                    err);
        if (!rc) rc = statement_add(y->said, &s, err);
        if (rc) return rc;
    }
    return 0;
}

static int say_next(const struct saying *y, struct error *err) {
    const struct shape_outline *o = &y->result->main;
    if (!o->n_next) return 0;
    struct statement s =
        begin(y, "next",
              arena_printf(y->arena, "What would narrow the outline most is %s.", o->next[0].what));
    s.unit = "percent", s.value = spread_exact(100 * o->next[0].narrows);
    s.quantity = "narrowing of the band";
    s.caution = o->next[0].touches ? "the original has to be handled" : NULL;
    s.state = NULL;
    if (!s.id || !s.sentence) return fail_memory(err);
    int rc = link_all(&s, y, err);
    return rc ? rc : statement_add(y->said, &s, err);
}

/* Sizes hold for the families tried: for a shape of none of them the ranges are too narrow where
 * little of the edge is left (doc/calibration.md), and the sentence says on what it stands. */
static int say_all(const struct saying *y, struct error *err) {
    const struct shape_outline *o = &y->result->main;
    int rc =
        say_size(y, "length", "If it was of a shape that was tried, the outline was this long.",
                 "mm", &o->length, err);
    if (!rc)
        rc = say_size(y, "width", "If it was of a shape that was tried, the outline was this wide.",
                      "mm", &o->width, err);
    if (!rc)
        rc = say_size(y, "perimeter",
                      "If it was of a shape that was tried, the edge was this long all round.",
                      "mm", &o->perimeter, err);
    if (!rc)
        rc = say_size(y, "area", "If it was of a shape that was tried, the outline held this area.",
                      "mm²", &o->area, err);
    if (!rc) rc = say_family(y, err);
    if (!rc) rc = say_exclusions(y, err);
    return rc ? rc : say_next(y, err);
}

/* ---- the stage ------------------------------------------------------------------------------- */

/* The same evidence with the survival term switched, on a copy of the rows as they were before. */
static int other_assumption(struct shape_outline_result *out, const struct shape_outline_input *in,
                            struct num_rows *before, struct arena *arena, struct error *err) {
    struct shape_outline_model *m;
    int rc = shape_outline_model_new(&m, in->evidence, in->n, &in->options, err);
    if (rc) return rc;
    m->survival_on = !out->main_at_random, m->survival_off = out->main_at_random;
    rc = shape_outline_condition(m, before, NULL, err);
    if (!rc) rc = shape_outline_read(&out->other, m, before, arena, err);
    shape_outline_model_free(m);
    return rc;
}

/* The outline once more without the readings that bear on it by a guess alone, on a copy of the
 * rows and a quarter of the draws: what the guess decides. */
static int without_guess(struct shape_outline_result *out, const struct shape_outline_input *in,
                         struct num_rows *before, struct arena *arena, struct error *err) {
    enum { THIN = 4 };
    struct shape_evidence *kept = ARENA_NEW(arena, struct shape_evidence, in->n);
    struct shape_outline_model *m;
    struct error none = {0};
    size_t n = 0;
    if (!kept) return fail_memory(err);
    for (size_t k = 0; k < in->n; k++)
        if (!in->evidence[k].guess) kept[n++] = in->evidence[k];
    int rc = shape_outline_model_new(&m, kept, n, &in->options, &none);
    if (rc) {
        out->bare_refused = true;
        out->why_refused = arena_strdup(arena, none.message);
        return out->why_refused ? 0 : fail_memory(err);
    }
    m->thin = THIN;
    rc = shape_outline_condition(m, before, NULL, err);
    if (!rc) rc = shape_outline_read(&out->bare, m, before, arena, err);
    shape_outline_model_free(m);
    return rc;
}

/* Whether there is something inside, and something guessed. */
static void look_over(struct shape_outline_result *out, const struct shape_outline_input *in) {
    for (size_t k = 0; k < in->n; k++) {
        const struct shape_evidence *e = &in->evidence[k];
        out->has_guess |= e->guess != NULL;
        if (e->what != SHAPE_INSIDE) continue;
        out->has_other = true;
        out->main_at_random |= e->at_random == 1;
    }
}

static bool rows_hold(const struct shape_outline_model *m, const struct num_rows *rows) {
    char id[128];
    snprintf(id, sizeof id, "%s.family", m->o.prefix);
    return num_rows_find(rows, id) != NUM_NO_COLUMN;
}

int shape_outline_stage(struct shape_outline_result *out, const struct shape_outline_input *in,
                        struct num_rows *rows, struct statement_set *said, struct arena *arena,
                        struct error *err) {
    memset(out, 0, sizeof *out);
    look_over(out, in);
    int rc = shape_outline_model_new(&out->model, in->evidence, in->n, &in->options, err);
    struct num_rows *before = NULL, *again = NULL;
    /* Rows that hold the outline from an earlier run have moved on: what stands beside it was told
     * then. */
    if (!rc && rows_hold(out->model, rows)) out->has_other = out->has_guess = false;
    if (!rc && out->has_other) rc = num_rows_copy(&before, rows, err);
    if (!rc && out->has_guess) rc = num_rows_copy(&again, rows, err);
    if (!rc) rc = shape_outline_condition(out->model, rows, NULL, err);
    if (!rc) rc = shape_outline_columns(out->model, rows, err);
    if (!rc) rc = shape_outline_read(&out->main, out->model, rows, arena, err);
    if (!rc && before) rc = other_assumption(out, in, before, arena, err);
    if (!rc && again) rc = without_guess(out, in, again, arena, err);
    num_rows_free(before);
    num_rows_free(again);
    if (!rc && said) {
        struct saying y = {in, out, said, arena, out->model->o.prefix};
        rc = say_all(&y, err);
    }
    return rc; /* rows may hold columns that call the model: it stays until the caller frees it */
}
