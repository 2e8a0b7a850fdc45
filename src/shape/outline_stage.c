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

static int link_all(struct statement *s, const struct saying *y, struct error *err) {
    int rc = 0;
    for (size_t k = 0; !rc && k < y->input->n; k++) {
        const struct shape_evidence *e = &y->input->evidence[k];
        rc = statement_link_add(s, e->entry ? e->entry : "measure", e->id ? e->id : "?", "reading",
                                y->arena, err);
        if (!rc && e->along && *e->along)
            rc = statement_link_add(s, "statement", e->along, "alteration", y->arena, err);
        if (!rc && e->around && *e->around)
            rc = statement_link_add(s, "statement", e->around, "alteration", y->arena, err);
    }
    if (!rc) rc = statement_link_add(s, "choice", "outline.options", "prior", y->arena, err);
    return rc;
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

static int say_size(const struct saying *y, const char *what, const char *sentence,
                    const char *unit, const struct spread *value, struct error *err) {
    struct statement s = begin(y, what, sentence);
    s.unit = unit, s.value = *value;
    s.column = arena_printf(y->arena, "%s.%s", y->prefix, what);
    if (!s.id || !s.column) return fail_memory(err);
    if (y->result->has_other) {
        const struct spread *o = !strcmp(what, "length")      ? &y->result->other.length
                                 : !strcmp(what, "width")     ? &y->result->other.width
                                 : !strcmp(what, "perimeter") ? &y->result->other.perimeter
                                                              : &y->result->other.area;
        s.rival = arena_printf(y->arena, "%s pieces survive anywhere alike: %.4g (%.4g to %.4g) %s",
                               y->result->main_at_random ? "If it is not so that" : "If", o->p50,
                               o->p05, o->p95, unit);
        if (!s.rival) return fail_memory(err);
    }
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

static int say_family(const struct saying *y, struct error *err) {
    const struct shape_outline *o = &y->result->main;
    const struct shape_family_share *f = &o->family[0];
    struct statement s =
        begin(y, "family",
              arena_printf(y->arena, "The outline was %s %s.",
                           f->family == SHAPE_ELLIPSE ? "an" : "a", shape_family_words[f->family]));
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
            if (e->id && strcmp(e->id, f->by) == 0)
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

int shape_outline_stage(struct shape_outline_result *out, const struct shape_outline_input *in,
                        struct num_rows *rows, struct statement_set *said, struct arena *arena,
                        struct error *err) {
    memset(out, 0, sizeof *out);
    for (size_t k = 0; k < in->n; k++)
        if (in->evidence[k].what == SHAPE_INSIDE) {
            out->has_other = true;
            out->main_at_random |= in->evidence[k].at_random == 1;
        }
    int rc = shape_outline_model_new(&out->model, in->evidence, in->n, &in->options, err);
    struct num_rows *before = NULL;
    if (!rc && out->has_other) rc = num_rows_copy(&before, rows, err);
    if (!rc) rc = shape_outline_condition(out->model, rows, NULL, err);
    if (!rc) rc = shape_outline_columns(out->model, rows, err);
    if (!rc) rc = shape_outline_read(&out->main, out->model, rows, arena, err);
    if (!rc && before) rc = other_assumption(out, in, before, arena, err);
    num_rows_free(before);
    if (!rc && said) {
        struct saying y = {in, out, said, arena, out->model->o.prefix};
        rc = say_all(&y, err);
    }
    return rc; /* rows may hold columns that call the model: it stays until the caller frees it */
}
