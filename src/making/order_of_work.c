/* order_of_work: the steps of a proposed making. Usual practice gives them; what crosses what on
 * the object comes first wherever it speaks, and is shown as the evidence for a step's place. */
#include "making/complete_private.h"
#include "shape/order.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- usual practice ------------------------------------------------------------------------- */

struct stage_of_work {
    const char *id, *what;
    long needs; /* part kind without which it falls away; -1 none */
    double moisture_min, moisture_max, hours, days;
    const char *measure, *right, *if_not, *cautions[3];
};

/* Common practice, no source, where nothing on the object speaks; hours are a first guess to be
 * replaced by the team's own. Moisture is the sheet's, as a share of its dry mass. */
static const struct stage_of_work usual[] = {
    {"peel",
     "Take the bark off the stem and keep it damp and flat.",
     PART_SHEET,
     0.6,
     NAN,
     4,
     0,
     "girth, length and thickness of the sheet at both ends",
     "no less than the cut size with its trim",
     "take another stem or make it of two and a seam",
     {"tree", "edge tool", NULL}},
    {"flatten",
     "Flatten it under weight, inner face down.",
     PART_SHEET,
     0.4,
     NAN,
     1,
     2,
     "rise of the sheet over a straight-edge",
     "under 10 mm",
     "warm damp cloths, more weight, more time",
     {"load", NULL}},
    {"cut",
     "Cut the sheet to the fresh outline and prick the holes.",
     PART_SHEET,
     0.3,
     NAN,
     3,
     0,
     "length and width",
     "the fresh sizes on the plan",
     "trim, or keep the larger and say so",
     {"edge tool", NULL}},
    {"split",
     "Split and shave the laths; let them dry.",
     PART_LATH,
     NAN,
     NAN,
     6,
     7,
     "width and thickness of each lath",
     "the sizes in the cut list",
     "shave again, or split another",
     {"edge tool", "dust", NULL}},
    {"insert",
     "Push the laths between the layers, from the side that will be hidden.",
     PART_LATH,
     0.3,
     NAN,
     3,
     0,
     "how far each end is from the edge",
     "the inset on the plan",
     "draw it and cut",
     {"edge tool", NULL}},
    {"bend",
     "Bend the rim round the former and let it set.",
     PART_RIM,
     NAN,
     NAN,
     3,
     3,
     "the gap to the former",
     "none by eye",
     "steam again; thin the inside of the bend",
     {"steam", NULL}},
    {"bind",
     "Tie the rim on, round by round, with wet binding.",
     PART_TIE,
     0.25,
     NAN,
     8,
     0,
     "spacing of the wraps over ten",
     "ten times the spacing on the plan",
     "push them along while wet",
     {NULL}},
    {"coil",
     "Coil and sew the round piece, then sew it on.",
     PART_CENTRE,
     NAN,
     NAN,
     9,
     0,
     "outer diameter and rounds",
     "the sizes in the cut list",
     "undo the last round",
     {NULL}},
    {"grip",
     "Chamfer the grip to its seats and fasten it.",
     PART_GRIP,
     NAN,
     0.3,
     3,
     0,
     "the chamfer at both ends",
     "the angle on the plan",
     "shave in small steps",
     {"edge tool", NULL}},
    {"dry",
     "Let the whole dry slowly, weighed down at the edges.",
     PART_SHEET,
     NAN,
     NAN,
     0,
     42,
     "mass every second day",
     "two weighings 48 h apart differ by under 0.5 %",
     "wait; more air",
     {"mould", NULL}},
    {"paint",
     "Paint.",
     PART_PAINT,
     NAN,
     0.2,
     2,
     2,
     "width of the band",
     "the width on the plan",
     "scrape and paint again",
     {"pigment", NULL}},
};

enum { USUAL = sizeof usual / sizeof usual[0] };

static bool builds(const struct makings *m, const char *making, long kind) {
    return makings_part(m, making, kind, NULL) != NULL;
}

/* ---- what crosses what ---------------------------------------------------------------------- */

/* The step that puts a thing in its place, by the words people use for it; the first that fits. A
 * sheet that lies over something was folded or laid there: that is no step of its own. */
static const char *step_of(const char *thing, bool over) {
    static const struct {
        const char *word, *step;
    } does[] = {
        {"bind", "bind"}, {"wrap", "bind"},   {"lac", "bind"},     {"tie", "bind"},
        {"cord", "bind"}, {"coil", "coil"},   {"ring", "coil"},    {"guard", "coil"},
        {"grip", "grip"}, {"lath", "insert"}, {"rim", "bend"},     {"rod", "bend"},
        {"hoop", "bend"}, {"paint", "paint"}, {"colour", "paint"}, {"sheet", "cut"},
        {"panel", "cut"}, {"bark", "cut"},    {"hide", "cut"},
    };
    for (size_t i = 0; thing && i < sizeof does / sizeof does[0]; i++)
        if (strcasestr(thing, does[i].word))
            return over && strcmp(does[i].step, "cut") == 0 ? NULL : does[i].step;
    return NULL;
}

struct crossings {
    struct shape_order_crossing *v;
    const char **words; /* of the mark */
    size_t n;
    struct shape_order order;
};

/* Crossings of things that this making has steps for; what lies under was there before. */
static void read_crossings(struct builder *b, struct crossings *c) {
    const struct find *f = b->basis->find;
    *c =
        (struct crossings){.v = ARENA_NEW(b->arena, struct shape_order_crossing, f->mark_count + 1),
                           .words = ARENA_NEW(b->arena, const char *, f->mark_count + 1)};
    if (!c->v || !c->words) {
        b->rc = fail_memory(b->err);
        return;
    }
    for (size_t i = 0; i < f->mark_count; i++) {
        const struct mark *m = &f->marks[i];
        const char *before = step_of(m->under, false), *after = step_of(m->over, true);
        if (!before || !after || strcmp(before, after) == 0) continue;
        c->words[c->n] = m->what;
        c->v[c->n++] = (struct shape_order_crossing){before, after, m->id};
    }
    if (c->n) b->rc = shape_order_work(&c->order, c->v, c->n, b->arena, b->err);
}

/* Is `before` wanted ahead of `after` by a crossing that contradicts no other? */
static bool fixed(const struct crossings *c, const char *before, const char *after) {
    if (c->order.n_rings) { /* a ring: none of its crossings is believed over usual practice */
        for (size_t i = 0; i < c->order.n; i++)
            if (c->order.step[i].level < 0 && (strcmp(c->order.step[i].name, before) == 0 ||
                                               strcmp(c->order.step[i].name, after) == 0))
                return false;
    }
    for (size_t i = 0; i < c->n; i++)
        if (strcmp(c->v[i].before, before) == 0 && strcmp(c->v[i].after, after) == 0) return true;
    return false;
}

/* Usual practice, moved only where crossings ask for it: each time the first step that nothing left
 * has to precede. order[k] is an index into usual. */
static size_t sort_steps(size_t *order, struct builder *b, const struct crossings *c) {
    bool done[USUAL];
    size_t n = 0, left = 0;
    for (size_t i = 0; i < USUAL; i++) {
        done[i] = usual[i].needs >= 0 && !builds(b->out, b->making, usual[i].needs);
        left += !done[i];
    }
    while (n < left) {
        size_t pick = USUAL;
        for (size_t i = 0; i < USUAL && pick == USUAL; i++) {
            bool waits = done[i];
            for (size_t k = 0; k < USUAL && !waits; k++)
                waits = !done[k] && k != i && fixed(c, usual[k].id, usual[i].id);
            if (!waits) pick = i;
        }
        for (size_t i = 0; i < USUAL && pick == USUAL; i++) /* cannot be: rings were left out */
            if (!done[i]) pick = i;
        done[pick] = true;
        order[n++] = pick;
    }
    return n;
}

/* ---- what is said --------------------------------------------------------------------------- */

static struct statement begin(const char *id, const char *sentence, long footing) {
    struct statement s = statement_blank();
    s.id = id;
    s.step = "making";
    s.about = "object";
    s.quantity = "order of work";
    s.sentence = sentence;
    s.footing = footing;
    return s;
}

static const char *title_of(const char *step) {
    for (size_t i = 0; i < USUAL; i++)
        if (strcmp(usual[i].id, step) == 0) return usual[i].what;
    return step;
}

/* One statement for each pair that crossings put in order, with every mark that shows it. Returns
 * its id, NULL when there is none. */
static const char *say_pair(struct builder *b, const struct crossings *c, const char *before,
                            const char *after) {
    if (!fixed(c, before, after)) return NULL;
    char *id = arena_printf(b->arena, "making.order.%s.%s", before, after);
    char *sentence =
        arena_printf(b->arena, "First: %s Then: %s", title_of(before), title_of(after));
    if (!id || !sentence) {
        b->rc = fail_memory(b->err);
        return NULL;
    }
    struct statement s = begin(id, sentence, FOOTING_SEEN);
    s.rule = "what lies under was there first";
    for (size_t i = 0; i < c->n && !b->rc; i++)
        if (strcmp(c->v[i].before, before) == 0 && strcmp(c->v[i].after, after) == 0)
            b->rc = statement_link_add(&s, "mark", c->v[i].evidence, "crossing", b->arena, b->err);
    if (!b->rc) b->rc = statement_add(b->basis->said, &s, b->err);
    return id;
}

static void say_order(struct builder *b, const struct crossings *c, size_t steps, size_t shown) {
    const struct shape_order *o = &c->order;
    struct statement s =
        begin("making.order", "The work goes in the order given.", FOOTING_GUESSED);
    s.rule = arena_printf(b->arena,
                          "crossings on the object fix the place of %zu of %zu steps; the others "
                          "stand by usual practice (common practice, no source)",
                          shown, steps);
    s.rival = "another order where no crossing speaks, as the rim bound before the laths go in";
    if (o->n_rings)
        s.caution = arena_printf(b->arena, "crossings contradict one another: %s", o->ring[0]);
    if (!s.rule || (o->n_rings && !s.caution)) b->rc = fail_memory(b->err);
    for (size_t i = 0; i < c->n && !b->rc; i++)
        b->rc = statement_link_add(&s, "mark", c->v[i].evidence, "crossing", b->arena, b->err);
    if (!b->rc) b->rc = statement_add(b->basis->said, &s, b->err);
}

/* ---- the steps ------------------------------------------------------------------------------ */

/* The first making's steps keep their short names; a rival's carry its own before them. */
static const char *step_name(struct builder *b, const char *id) {
    if (strcmp(b->making, "proposed") == 0) return id;
    char *name = arena_printf(b->arena, "%s.%s", b->making, id);
    if (!name) b->rc = fail_memory(b->err);
    return name;
}

static struct step *add_step(struct builder *b, const struct stage_of_work *u, long number) {
    struct step *s = &b->out->steps[b->out->step_count++];
    field_unknown(&step_kind, s);
    s->id = step_name(b, u->id);
    s->making = b->making;
    s->number = number;
    s->what = u->what;
    s->moisture_min = u->moisture_min;
    s->moisture_max = u->moisture_max;
    s->hours = u->hours;
    s->days = u->days;
    s->measure = u->measure;
    s->right = u->right;
    s->if_not = u->if_not;
    s->footing = FOOTING_GUESSED;
    for (size_t k = 0; k < 3 && u->cautions[k]; k++)
        builder_text(b, &s->cautions, u->cautions[k]);
    for (const struct part *p = NULL; (p = makings_part(b->out, b->making, u->needs, p));)
        builder_text(b, &s->parts, p->id);
    return s;
}

void builder_steps(struct builder *b) {
    struct crossings c = {0};
    size_t order[USUAL], shown = 0;
    if (!b->rc) read_crossings(b, &c);
    if (b->rc) return;
    size_t n = sort_steps(order, b, &c);
    for (size_t k = 0; k < n && !b->rc; k++) {
        struct step *s = add_step(b, &usual[order[k]], (long)k + 1);
        if (k) builder_text(b, &s->after, step_name(b, usual[order[k - 1]].id));
        for (size_t i = 0; i < k && !b->rc; i++) {
            const char *said = say_pair(b, &c, usual[order[i]].id, usual[order[k]].id);
            if (!said) continue;
            builder_text(b, &s->statements, said);
            if (i + 1 < k) builder_text(b, &s->after, step_name(b, usual[order[i]].id));
            s->footing = FOOTING_SEEN;
        }
        shown += s->footing == FOOTING_SEEN;
    }
    if (!b->rc) say_order(b, &c, n, shown);
}
