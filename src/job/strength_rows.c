/* Rows of holes, ties, pegs and knocks of the leading making: the load at failure with its range,
 * and what fails first. */
#include "job/strength.h"

#include "body/cord.h"
#include "body/holes.h"
#include "body/peg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct rows {
    struct stage_run *r;
    const struct strength_work *w;
    const struct stuff_shelf *shelf;
    const char *bark, *wood;
    const struct part *rim, *tie, *peg;
    struct spread thickness; /* of the sheet, over the possible originals */
    json_t *table, *groups;
};

static const char *figure(struct rows *k, double p50, double p05, double p95) {
    const struct spread s = spread_sides(p05, p50, p95);
    return stage_range(k->r, &s);
}

static const char *modes_of(struct rows *k, const struct body_failure *f) {
    const struct body_mode *m = f->modes.v;
    const char *text = "";
    for (size_t i = 0; i < f->modes.n && i < 3 && text; i++)
        if (m[i].first > 0.005)
            text = arena_printf(k->r->arena, "%s%s%s %.0f %%", text, *text ? "; " : "", m[i].name,
                                100 * m[i].first);
    return text ? text : "";
}

static void put(struct rows *k, const char *what, const char *unit, const struct body_failure *f,
                long standing, const char *mind) {
    json_array_append_new(k->table,
                          json_pack("[s,s,s,s,s,s]", what, figure(k, f->load, f->p05, f->p95), unit,
                                    modes_of(k, f), standing >= 0 ? standing_words[standing] : "",
                                    mind ? mind : ""));
}

/* A strength nobody knows is told in the row's place; only lack of memory stops the step. */
static int no_figure(struct rows *k, const char *what, int rc, const struct error *why,
                     struct error *err) {
    if (rc == ERR_MEMORY) return fail_memory(err);
    json_array_append_new(k->table,
                          json_pack("[s,s,s,s,s,s]", what, "", "", why->message, "", why->remedy));
    return 0;
}

/* ---- holes of ties and seams ---------------------------------------------------------------- */

static struct holes_case row_of(const struct rows *k, const struct part *p, long runs) {
    return (struct holes_case){
        .material = k->bark,
        .class = FIELD_UNKNOWN,
        .layer = FIELD_UNKNOWN,
        .state = STUFF_DRY,
        .runs = runs,
        .thickness = k->thickness.p50,
        .thickness_low = k->thickness.p05,
        .thickness_high = k->thickness.p95,
        .diameter = p->hole > 0 ? p->hole : 3,
        .pitch = p->pitch,
        .edge = p->edge_distance > 0 ? p->edge_distance : NAN,
        .group = 1,
        .gap = NAN,
        .cord = NAN,
        .cut = 0,
        .pull = NAN,
        .flaws = {{NAN, NAN, NAN}, NAN, NAN},
    };
}

/* The same number of stitches in groups: half the pitch within a group, the rest in the gap. */
static int grouped(struct rows *k, const char *where, struct holes_case c, struct error *err) {
    double even = c.pitch;
    for (int n = 1; n <= 6; n++) {
        struct holes_result h;
        struct error why = {0};
        c.group = n;
        c.pitch = n > 1 ? even / 2 : even;
        c.gap = n > 1 ? (n + 1) * even / 2 : NAN;
        if (c.pitch <= 1.1 * c.diameter) break; /* holes would run into each other */
        int rc = holes_row(&h, k->shelf, &c, k->r->arena, &why);
        if (rc == ERR_MEMORY) return fail_memory(err);
        if (rc) return 0;
        json_array_append_new(k->groups,
                              json_pack("[s,i,s,s,s,s]", where, n,
                                        figure(k, h.failure.load, h.failure.p05, h.failure.p95),
                                        arena_printf(k->r->arena, "%.3g", h.per_stitch),
                                        h.after_first < h.failure.load ? "yes" : "no",
                                        modes_of(k, &h.failure)));
    }
    return 0;
}

/* What a row bears, as a statement: later steps and the report set what pulls on it beside it. */
static int say_row(struct rows *k, const struct part *p, const char *name, bool around,
                   const struct holes_result *h, struct error *err) {
    struct statement s = statement_blank();
    s.id = arena_printf(k->r->arena, "strength.holes.%s.%s", p->id, around ? "around" : "along");
    s.step = "strength";
    s.about = "object";
    s.quantity = "load at failure";
    s.sentence = arena_printf(k->r->arena, "A row of holes of %s running %s bears this much.", name,
                              around ? "around the stem" : "along the stem's axis");
    s.unit = "N/mm";
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = h->standing;
    s.value = spread_unknown();
    s.value.p05 = h->failure.p05;
    s.value.p50 = h->failure.load;
    s.value.p95 = h->failure.p95;
    s.rule = "the weakest of splitting, tearing out and crushing, with the strengths of the tables "
             "and the thickness of the possible originals; holes as proposed";
    s.caution = h->warning;
    if (!s.id || !s.sentence) return fail_memory(err);
    int rc = statement_link_add(&s, "part", p->id, "row", k->r->arena, err);
    if (!rc && statement_find(k->r->said, "strength.dry"))
        rc = statement_link_add(&s, "statement", "strength.dry", "thickness", k->r->arena, err);
    return rc ? rc : statement_add(k->r->said, &s, err);
}

static int holes(struct rows *k, const struct part *p, const char *name, struct error *err) {
    static const char *const where[] = {"along the stem's axis", "around the stem"};
    if (!(p->pitch > 0)) return 0;
    for (int side = 0; side < 2; side++) {
        struct holes_case c = row_of(k, p, side ? STUFF_AROUND : STUFF_ALONG);
        struct holes_result h;
        struct error why = {0};
        const char *what =
            arena_printf(k->r->arena, "holes of %s, row running %s", name, where[side]);
        if (!what) return fail_memory(err);
        int rc = holes_row(&h, k->shelf, &c, k->r->arena, &why);
        if (rc) {
            rc = no_figure(k, what, rc, &why, err);
            if (rc) return rc;
            continue;
        }
        put(k, what, "N/mm of row", &h.failure, h.standing, h.warning);
        rc = say_row(k, p, name, side, &h, err);
        if (!rc) rc = grouped(k, what, c, err);
        if (rc) return rc;
    }
    return 0;
}

/* A slit as long as a lath is wide, for laths pushed in through a face. */
static int slits(struct rows *k, struct error *err) {
    const struct part *l = makings_part(k->w->makings, k->w->making, PART_LATH, NULL),
                      *next = l ? makings_part(k->w->makings, k->w->making, PART_LATH, l) : NULL;
    if (!l || !(l->width > 0)) return 0;
    struct slit_case c = {.material = k->bark,
                          .class = FIELD_UNKNOWN,
                          .layer = FIELD_UNKNOWN,
                          .state = STUFF_DRY,
                          .runs = STUFF_ALONG,
                          .thickness = k->thickness.p50,
                          .thickness_low = k->thickness.p05,
                          .thickness_high = k->thickness.p95,
                          .length = l->width,
                          .pitch = next ? fabs(next->x - l->x) : NAN,
                          .tip = NAN,
                          .edge = NAN,
                          .pull = NAN,
                          .flaws = {{NAN, NAN, NAN}, NAN, NAN}};
    if (!(c.pitch > 1.05 * c.length)) c.pitch = NAN;
    struct slit_result s;
    struct error why = {0};
    const char *what = "slits as long as a lath is wide, cut sharp, if laths go in through a face";
    int rc = slit_row(&s, k->shelf, &c, k->r->arena, &why);
    if (rc) return no_figure(k, what, rc, &why, err);
    put(k, what, "N/mm of sheet", &s.failure, s.standing, "a hole at each end stops the split");
    return 0;
}

/* ---- ties, pegs, knocks --------------------------------------------------------------------- */

/* Bast is asked for by its tree; hide, sinew and the rest by their word. */
static const char *cord_stuff(const struct rows *k) {
    const char *taxon = k->tie->taxon;
    if (k->tie->substance == SUBSTANCE_BAST || k->tie->substance == FIELD_UNKNOWN)
        return arena_printf(k->r->arena, "%s bast", taxon && *taxon ? taxon : "lime");
    if (k->tie->substance == SUBSTANCE_HIDE) return "rawhide lacing";
    return taxon && *taxon ? taxon : "lime bast";
}

static struct cord_case tie_of(const struct rows *k) {
    const struct part *rim = k->rim;
    double thick = rim && rim->thickness > 0 ? rim->thickness : 7,
           wide = rim && rim->width > 0 ? rim->width : 14;
    return (struct cord_case){
        .cord = {.material = cord_stuff(k),
                 .width = k->tie->width > 0 ? k->tie->width : 5,
                 .thickness = k->tie->thickness > 0 ? k->tie->thickness : 0.8,
                 .strands = 1},
        .turns = 1,
        .slack = 0,
        .loop = 2 * (wide + 2 * thick + k->thickness.p50),
        .around = k->bark,
        .radius = 2,
        .wrap = 2 * M_PI,
        .load = NAN,
    };
}

static int tie(struct rows *k, struct error *err) {
    if (!k->tie) return 0;
    struct cord_case c = tie_of(k);
    struct cord_result t;
    struct error why = {0};
    if (!c.cord.material) return fail_memory(err);
    int rc = cord_tie(&t, k->shelf, &c, k->r->arena, &why);
    if (rc) return no_figure(k, "one tie of the rim", rc, &why, err);
    put(k, "one tie of the rim, once round, dry", "N on a tie", &t.failure, t.standing,
        "bast is stronger wet; wear is not in it");
    return 0;
}

/* A peg through rim and sheet: the making's, or one of 6 mm that nobody proposed, for the knock. */
static int peg(struct rows *k, struct peg_result *out, bool *known, struct error *err) {
    *known = false;
    if (!k->rim || !(k->rim->thickness > 0)) return 0;
    struct peg_case c = {
        .first = {.material = k->wood,
                  .class = FIELD_UNKNOWN,
                  .thickness = k->rim->thickness,
                  .width = k->rim->width,
                  .edge = NAN,
                  .angle = M_PI / 2},
        .second = {.material = k->bark,
                   .class = FIELD_UNKNOWN,
                   .thickness = k->thickness.p50,
                   .thickness_low = k->thickness.p05,
                   .thickness_high = k->thickness.p95,
                   .width = NAN,
                   .edge = k->tie && k->tie->edge_distance > 0 ? k->tie->edge_distance : NAN,
                   .angle = M_PI / 2},
        .peg = k->peg ? k->peg->taxon : NULL,
        .diameter =
            k->peg && k->peg->diameter > 0 ? k->peg->diameter : fmin(6, 0.4 * k->rim->width),
        .load = NAN,
    };
    const char *what = arena_printf(k->r->arena, "a peg of %.3g mm through rim and sheet%s",
                                    c.diameter, k->peg ? "" : " (none is proposed)");
    struct error why = {0};
    if (!what) return fail_memory(err);
    int rc = peg_joint(out, k->shelf, &c, k->r->arena, &why);
    if (rc) return no_figure(k, what, rc, &why, err);
    *known = true;
    put(k, what, "N on a peg", &out->failure, out->standing, out->caveat);
    return 0;
}

static int knock(struct rows *k, const struct peg_result *p, struct error *err) {
    if (!k->rim || !k->tie || !(k->tie->pitch > 0)) return 0;
    size_t col = num_rows_find(k->r->rows, "shape.made.weight");
    double mass = col == NUM_NO_COLUMN ? NAN : num_rows_quantile(k->r->rows, col, 0.5);
    struct knock_case c = {.rim = k->wood,
                           .class = FIELD_UNKNOWN,
                           .width = k->rim->width,
                           .height = k->rim->thickness > 0 ? k->rim->thickness : k->rim->width / 2,
                           .tie = tie_of(k),
                           .tie_spacing = k->tie->pitch,
                           .peg_load = NAN,
                           .peg_load_p05 = NAN,
                           .peg_load_p95 = NAN,
                           .peg_stiffness = NAN,
                           .peg_spacing = NAN,
                           .sheet = NAN,
                           .mass = mass,
                           .drop = NAN};
    for (int with = 0; with < (p ? 2 : 1); with++) {
        if (with) {
            c.peg_load = p->failure.load;
            c.peg_load_p05 = p->failure.p05;
            c.peg_load_p95 = p->failure.p95;
            c.peg_spacing = 150;
        }
        struct knock_result n;
        struct error why = {0};
        const char *what = with ? "a knock on the rim, ties and a peg each 150 mm"
                                : "a knock on the rim, ties alone";
        int rc = cord_knock(&n, k->shelf, &c, k->r->arena, &why);
        if (rc) {
            rc = no_figure(k, what, rc, &why, err);
            if (rc) return rc;
            continue;
        }
        const char *mind =
            isfinite(n.drop) ? arena_printf(k->r->arena, "the whole falling %.3g mm on it", n.drop)
                             : "";
        put(k, what, "N mm", &n.energy, n.standing, mind);
    }
    return 0;
}

/* What pulls at the ties as it stands dry, from the form's own equilibrium. */
static void pull_now(struct rows *k) {
    double pull = json_number_value(json_object_get(k->r->result, "tie_pull"));
    if (!(pull > 0)) return;
    json_array_append_new(
        k->table, json_pack("[s,s,s,s,s,s]", "pull of the rim's ties as it stands, dry, at most",
                            arena_printf(k->r->arena, "%.2g", pull), "N/mm of edge", "", "computed",
                            "to lay beside the loads above"));
}

int strength_rows(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err) {
    const struct makings *all = work->makings;
    struct rows k = {
        .r = r,
        .w = work,
        .shelf = shelf,
        .bark = strength_bark(work, r->arena),
        .thickness = remains_spread(r->rows, in->col[IN_THICKNESS]),
        .rim = makings_part(all, work->making, PART_RIM, NULL),
        .tie = makings_part(all, work->making, PART_TIE, NULL),
        .peg = makings_part(all, work->making, PART_PEG, NULL),
        .table = stage_table(r, "rows", "What rows of holes, ties and pegs bear",
                             "what|load at failure|unit|fails first, chance|standing|mind"),
        .groups = stage_table(r, "groups", "Stitches evenly or in groups, the same number of them",
                              "where|in groups of|load at failure, N/mm of row|on the worst "
                              "stitch, N|tears on after the first|fails first, chance"),
    };
    k.wood = strength_wood(k.rim);
    if (!k.bark || !k.table || !k.groups) return fail_memory(err);
    struct peg_result p;
    bool pegged;
    int rc = k.tie ? holes(&k, k.tie, "the rim's ties", err) : 0;
    for (const struct part *s = NULL; !rc && (s = makings_part(all, work->making, PART_SEAM, s));)
        rc = holes(&k, s, s->name ? s->name : s->id, err);
    if (!rc) rc = slits(&k, err);
    if (!rc) rc = tie(&k, err);
    if (!rc) rc = peg(&k, &p, &pegged, err);
    if (!rc) rc = knock(&k, pegged ? &p : NULL, err);
    if (!rc) pull_now(&k);
    return rc;
}
