/* The form in space of the leading making: with and without each kind of part, off the stem. */
#include "job/strength.h"

#include <math.h>
#include <string.h>

enum { NET = 1200 }; /* triangles: fine enough to look at, some tens of milliseconds */

void strength_middle(const struct strength_inputs *in, double *x) {
    for (int k = 0; k < INPUTS; k++)
        x[k] = in->middle[k];
}

struct taking {
    struct stage_run *r;
    const struct strength_work *work;
    struct form *form;
    struct as_body_stuff stuff, stuff_fresh;
};

static const struct sight {
    const char *id, *title;
    struct as_body_change change;
    bool green; /* as it comes off the stem: its whole bend, nothing set */
} sights[] = {
    {"made", "as proposed, dry", {0}, false},
    {"no_laths", "without laths, dry", {.no_laths = true}, false},
    {"no_rim", "without the rim, dry", {.no_rim = true}, false},
    {"no_grip", "without the grip, dry", {.no_grip = true}, false},
    {"bare",
     "the sheet alone, dry",
     {.no_laths = true, .no_rim = true, .no_grip = true, .no_centre = true},
     false},
    {"off_stem",
     "the cut sheet as it comes off the stem, let go",
     {.no_laths = true, .no_rim = true, .no_grip = true, .no_centre = true},
     true},
};

static bool has(const struct strength_work *w, long kind) {
    return makings_part(w->makings, w->making, kind, NULL) != NULL;
}

/* A state that leaves out what the making does not have says nothing new. */
static bool says_something(const struct taking *t, const struct as_body_change *c) {
    return (c->no_laths && has(t->work, PART_LATH)) || (c->no_rim && has(t->work, PART_RIM)) ||
           (c->no_grip && has(t->work, PART_GRIP)) ||
           !(c->no_laths || c->no_rim || c->no_grip || c->no_centre);
}

static void mark_without(struct form_state *s, const struct sight *v) {
    bool alone = v->change.no_laths && v->change.no_rim && v->change.no_grip;
    for (int k = 0; k < PART_KIND_COUNT; k++)
        s->without[k] = alone && k != PART_SHEET;
    s->without[PART_LATH] |= v->change.no_laths;
    s->without[PART_RIM] |= v->change.no_rim;
    s->without[PART_GRIP] |= v->change.no_grip;
    s->without[PART_PEG] |= v->change.no_grip; /* they pin the grip */
}

/* The largest pull in a tie by the edge it holds, N/mm. */
static void tell_pull(const struct taking *t, const struct body_sheet *sheet,
                      const struct body_sheet_out *out) {
    if (sheet->rim == BODY_RIM_TIED)
        json_object_set_new(t->r->result, "tie_pull", json_real(out->tie_force / sheet->tie_every));
}

/* On the net of the sheet as it is cut, carried over to the dry one: the states of the order of
 * work (strength_days.c) are of the same net. */
static int model_of(struct body_sheet_model **out, const struct taking *t,
                    const struct body_sheet *sheet, const struct as_body_change *change,
                    struct error *err) {
    struct body_sheet fresh, first = *sheet;
    int rc = as_body_sheet(&fresh, t->work->fresh, t->work->making, &t->stuff_fresh, change,
                           t->r->arena, err);
    first.outline = fresh.outline;
    if (!rc) rc = body_sheet_new(out, &first, strength_net(t->r, NET), err);
    return rc ? rc : body_sheet_change(*out, sheet, err);
}

static int take(struct taking *t, const struct sight *v, struct error *err) {
    struct body_sheet sheet;
    struct body_sheet_model *model = NULL;
    struct body_sheet_out out;
    struct as_body_stuff stuff = t->stuff;
    if (v->green) stuff.set = 0;
    struct arena *arena = t->r->arena;
    int rc =
        as_body_sheet(&sheet, t->work->makings, t->work->making, &stuff, &v->change, arena, err);
    if (!rc) rc = model_of(&model, t, &sheet, &v->change, err);
    if (!rc) rc = body_sheet_solve(model, &out, err);
    if (!rc && t->form->nv == 0) {
        const struct part *p = t->work->sheet;
        const double scale[2] = {p->length > 0 ? stuff.length / p->length : 1,
                                 p->width > 0 ? stuff.width / p->width : 1};
        rc = form_begin(t->form, body_sheet_mesh(model), t->work->makings, t->work->making, scale,
                        arena, err);
        t->form->thickness = sheet.layer[0].thickness;
        t->form->note = "predicted from the middle of every guess about the material; new and dry "
                        "unless a state says otherwise";
    }
    if (!rc && v == sights) tell_pull(t, &sheet, &out);
    if (!rc) {
        struct form_state *s = form_state_add(t->form, model, v->id, v->title, arena);
        if (s)
            mark_without(s, v);
        else
            rc = fail_memory(err);
    }
    body_sheet_free(model);
    return rc;
}

int strength_form(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, struct error *err) {
    double x[INPUTS];
    strength_middle(in, x);
    struct taking t = {.r = r,
                       .work = work,
                       .form = ARENA_NEW(r->arena, struct form, 1),
                       .stuff = strength_stuff(work, x),
                       .stuff_fresh = strength_stuff_fresh(work, x)};
    if (!t.form) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < sizeof sights / sizeof sights[0] && !rc; i++) {
        if (!says_something(&t, &sights[i].change)) continue;
        struct error why = {0};
        rc = take(&t, &sights[i], &why);
        /* A state that has no equilibrium is left out; the first one must be there. */
        if (rc && (t.form->n_states == 0 || rc == ERR_MEMORY)) {
            if (err) *err = why;
            return rc;
        }
        rc = 0;
    }
    r->made.form = t.form;
    return 0;
}
