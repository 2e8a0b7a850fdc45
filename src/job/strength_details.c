/* What is known of the leading making's details and what not: thickness and cork by place,
 * fissures, room in the pockets, and how the binding of the rim tightens or slackens as it dries.
 * What nobody entered is taken as even and said so, as a guess with its rival. */
#include "job/strength.h"

#include "num/random.h"
#include "num/weighted.h"
#include "stuff/hide.h"
#include "stuff/material.h"
#include "stuff/shrinkage.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- steps of the making -------------------------------------------------------------------- */

const struct step *strength_step(const struct strength_work *w, size_t k) {
    for (size_t i = 0; i < w->makings->step_count; i++) {
        const struct step *s = &w->makings->steps[i];
        if (!s->making || strcmp(s->making, w->making)) continue;
        size_t before = 0;
        for (size_t j = 0; j < w->makings->step_count; j++) {
            const struct step *o = &w->makings->steps[j];
            bool earlier = o->number < s->number || (o->number == s->number && j < i);
            before += (size_t)(o->making && strcmp(o->making, w->making) == 0 && earlier);
        }
        if (before == k) return s;
    }
    return NULL;
}

bool strength_step_names(const struct strength_work *w, const struct step *s, long kind) {
    for (size_t i = 0; i < s->parts.n; i++)
        for (const struct part *p = NULL; (p = makings_part(w->makings, w->making, kind, p));)
            if (strcmp(p->id, s->parts.v[i]) == 0) return true;
    return false;
}

bool strength_step_last(const struct strength_work *w, size_t k, long kind) {
    if (!strength_step_names(w, strength_step(w, k), kind)) return false;
    const struct step *later;
    for (size_t i = k + 1; (later = strength_step(w, i)); i++)
        if (strength_step_names(w, later, kind)) return false;
    return true;
}

/* Days a thin split piece needs to come near to the room's moisture: 7 mm, both faces open, D 1e-4
 * mm2/s: 0.049 l^2 / D is 7 hours to the half (J. Crank, The Mathematics of Diffusion, 2nd ed.
 * 1975, eq 4.18), three days to within a hundredth. */
static const double drying_days = 3;

/* Whether the step that fixes it (the last to name `by`) finds a kind of part still green: no wait
 * of some days on it before. Without any order of work nobody knows: dry. */
static bool put_on_green(const struct strength_work *w, long kind, long by) {
    const struct step *s;
    double waited = 0;
    for (size_t k = 0; (s = strength_step(w, k)); k++) {
        if (strength_step_last(w, k, by)) return waited < drying_days;
        if (strength_step_names(w, s, kind) && !isnan(s->days)) waited += s->days;
    }
    return false;
}

const char *strength_bark(const struct strength_work *w, struct arena *arena) {
    const char *taxon = w->sheet->taxon;
    return taxon && *taxon ? arena_printf(arena, "%s bark", taxon) : "bark";
}

const char *strength_wood(const struct part *part) {
    return part && part->taxon && *part->taxon ? part->taxon : "Corylus avellana";
}

/* ---- figures of the tables ------------------------------------------------------------------ */

static bool known(struct stuff_prior *p, const struct stuff_shelf *shelf, const char *material,
                  enum stuff_property property, long direction, long layer) {
    struct stuff_ask ask = stuff_ask(material, property);
    struct error why = {0};
    ask.direction = direction;
    ask.layer = layer;
    ask.state = STUFF_DRY;
    return stuff_material_prior(p, shelf, &ask, &why) == 0;
}

/* Cork's usual share of the thickness and its stiffness over the bast's; NAN when not in the
 * tables. */
static void cork_figures(struct strength_work *w, const struct stuff_shelf *shelf,
                         const char *bark) {
    struct stuff_prior share, outer, bast[2];
    w->outer_share = w->outer_ratio = NAN;
    if (!known(&share, shelf, bark, STUFF_OUTER_SHARE, STUFF_THROUGH, FIELD_UNKNOWN) ||
        !known(&outer, shelf, bark, STUFF_E, STUFF_AROUND, STUFF_OUTER_LAYER) ||
        !known(&bast[0], shelf, bark, STUFF_E, STUFF_ALONG, STUFF_BAST_LAYER) ||
        !known(&bast[1], shelf, bark, STUFF_E, STUFF_AROUND, STUFF_BAST_LAYER))
        return;
    w->outer_share = share.median;
    w->outer_ratio = outer.median / sqrt(bast[0].median * bast[1].median);
}

/* ---- statements ----------------------------------------------------------------------------- */

static int say(struct stage_run *r, const char *id, const char *sentence, const struct part *p,
               bool entered, const char *rule, const char *rival, struct error *err) {
    struct statement s = statement_blank();
    if (!sentence) return fail_memory(err);
    s.id = id;
    s.step = "strength";
    s.about = "object";
    s.sentence = sentence;
    s.state = "new and dry";
    s.footing = entered && p->footing != FIELD_UNKNOWN ? p->footing
                : entered                              ? FOOTING_SEEN
                                                       : FOOTING_GUESSED;
    s.value = spread_unknown();
    s.rule = rule;
    s.rival = rival;
    if (entered && p->footing == FOOTING_GUESSED && !s.rival) s.rival = "an even sheet";
    int rc = 0;
    for (size_t i = 0; entered && i < p->statements.n && !rc; i++)
        if (statement_find(r->said, p->statements.v[i]))
            rc = statement_link_add(&s, "statement", p->statements.v[i], "input", r->arena, err);
    if (!rc && entered && s.rests_on.n == 0)
        rc = statement_link_add(&s, "part", p->id, "as entered", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static int say_sheet(struct stage_run *r, const struct strength_work *w, struct error *err) {
    const struct part *p = w->sheet;
    size_t t = p->thickness_at.n, c = p->cork_at.n;
    struct arena *a = r->arena;
    bool layers = isfinite(w->outer_ratio);
    int rc =
        say(r, "strength.sheet.thickness",
            t > 1 ? arena_printf(a, "The sheet's thickness goes by %d readings over it.", (int)t)
                  : "The sheet is taken as equally thick all over.",
            p, t > 1,
            t > 1 ? "between the readings by distance; the mean stays that of the possible "
                    "originals"
                  : "no readings by place were entered for the making's sheet",
            t > 1 ? NULL : "thicker towards the foot of the stem", err);
    bool cork = c > 0 || !isnan(p->cork);
    const char *what =
        !cork ? "The sheet's cork is taken as it grew, all over."
        : !layers
            ? "The sheet's cork was entered, but no figures of its stiffness are in the tables: it "
              "is taken as it grew."
            : arena_printf(a, "The sheet has %s cork%s.",
                           isnan(p->cork) ? "its usual"
                           : p->cork == 0 ? "no"
                                          : arena_printf(a, "%.0f percent", 100 * p->cork),
                           c ? arena_printf(a, ", less in %d areas", (int)c) : "");
    if (!rc)
        rc = say(r, "strength.sheet.cork", what, p, cork && layers,
                 cork && layers ? "cork and bast as two layers; middles of the tables for their "
                                  "stiffness"
                                : "whole bark with the tables' stiffness",
                 cork && layers ? NULL : "scraped to the bast, all over or in places", err);
    bool fissured = p->fissure_depth > 0 && p->fissure_spacing > 0;
    if (!rc)
        rc = say(r, "strength.sheet.fissures",
                 fissured ? arena_printf(a,
                                         "Fissures %.2g mm deep every %.3g mm weaken the sheet "
                                         "across the grain.",
                                         p->fissure_depth, p->fissure_spacing)
                          : "The sheet is taken as smooth, without fissures.",
                 p, fissured,
                 fissured ? "strips as thick as grooves and ridges, bending one after another"
                          : "no fissures were entered for the making's sheet",
                 fissured ? NULL : "fissured bark of an old stem", err);
    return rc;
}

static int say_pockets(struct stage_run *r, const struct strength_work *w, struct error *err) {
    const struct part *p = makings_part(w->fresh, w->making, PART_LATH, NULL);
    if (!p || (p->holding != HOLDING_POCKET && p->holding != HOLDING_LOOSE)) return 0;
    double made = isnan(p->clearance) ? 0 : p->clearance,
           thin = w->lath_shrinkage * (isnan(p->thickness) ? 0 : p->thickness);
    struct statement s = statement_blank();
    s.id = "strength.pockets";
    s.step = "strength";
    s.about = "object";
    s.quantity = "room";
    s.sentence = "The laths have so much room in their pockets, dry.";
    s.unit = "mm";
    s.state = "new and dry";
    s.footing = FOOTING_GUESSED;
    s.value = spread_exact(made + thin);
    s.rule = arena_printf(r->arena,
                          "%.2g mm as made%s; a lath bears once the sheet's rise over its length "
                          "passes that%s",
                          made,
                          thin > 0 ? arena_printf(r->arena,
                                                  " and %.2g mm that laths put in green lose of "
                                                  "their thickness",
                                                  thin)
                                   : ", the laths put in dry",
                          isnan(p->cut) ? "; how deep the slits were cut is not known: none are "
                                          "reckoned with"
                                        : "; slits weaken the sheet at the laths' ends");
    s.rival = "laths wedged tight, or so loose that they bear nothing";
    if (!s.rule) return fail_memory(err);
    return statement_add(r->said, &s, err);
}

/* ---- the rim's binding ---------------------------------------------------------------------- */

static const char *binding_stuff(const struct strength_work *w, const struct part *tie,
                                 struct arena *arena) {
    if (tie->substance == SUBSTANCE_HIDE) return "rawhide lacing";
    const char *tree = tie->taxon && *tie->taxon             ? tie->taxon
                       : w->sheet->taxon && *w->sheet->taxon ? w->sheet->taxon
                                                             : "lime";
    return tie->substance == SUBSTANCE_BAST || tie->substance == FIELD_UNKNOWN
               ? arena_printf(arena, "%s bast", tree)
               : tree;
}

/* Bast along its strip shrinks as the bast of bark does where the tables have nothing of strips. */
static bool binding_shrinks(struct stuff_prior *p, const struct stuff_shelf *shelf,
                            const struct strength_work *w, const struct part *tie,
                            struct arena *arena) {
    const char *stuff = binding_stuff(w, tie, arena);
    if (!stuff) return false;
    if (known(p, shelf, stuff, STUFF_SHRINKAGE, STUFF_ALONG, FIELD_UNKNOWN)) return true;
    const char *bark = strength_bark(w, arena);
    if (!bark || tie->substance == SUBSTANCE_HIDE) return false;
    return known(p, shelf, bark, STUFF_SHRINKAGE, STUFF_ALONG, STUFF_BAST_LAYER) ||
           known(p, shelf, "bast", STUFF_SHRINKAGE, STUFF_ALONG, FIELD_UNKNOWN);
}

/* Of the sheet within the binding: of its bast, or of the sheet as peeled (birch has no bast on).
 */
static bool sheet_shrinks(struct stuff_prior *p, const struct stuff_shelf *shelf,
                          const char *bark) {
    return known(p, shelf, bark, STUFF_SHRINKAGE, STUFF_THROUGH, STUFF_BAST_LAYER) ||
           known(p, shelf, bark, STUFF_SHRINKAGE, STUFF_THROUGH, FIELD_UNKNOWN);
}

enum { DRAWS = 512 };

/* mm by which one round of the binding shortens more than what it goes round, from tying to dry: it
 * goes round the rod (pi d for round or two halves) and over both faces of the sheet. */
static void binding_draws(double out[DRAWS], const struct strength_binding *b,
                          const struct stuff_prior by[3], uint64_t seed) {
    for (size_t i = 0; i < DRAWS; i++) {
        double s[3];
        for (int k = 0; k < 3; k++) {
            struct num_random random;
            num_random_begin(&random, seed, num_hash("strength.binding"), 3 * i + (size_t)k);
            s[k] = num_dist_quantile(&by[k].dist, num_random_uniform(&random));
        }
        double rod = M_PI * b->rod, sheet = 2 * b->sheet;
        out[i] = (rod + sheet) * s[0] - (b->rod_green ? rod * s[1] : 0) - sheet * s[2];
    }
}

static int say_binding(struct stage_run *r, const struct strength_binding *b,
                       const struct part *const parts[3], const double q[3],
                       const struct stuff_prior *lash, const char *pull, struct error *err) {
    struct statement s = statement_blank();
    s.id = "strength.binding";
    s.step = "strength";
    s.about = "object";
    s.quantity = "tightening";
    s.sentence = "Tied on wet, each round of the rim's binding is tighter by so much when all is "
                 "dry; below 0 it hangs loose.";
    s.unit = "mm";
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = lash->standing;
    s.value = spread_unknown();
    s.value.p05 = q[0];
    s.value.p50 = q[1];
    s.value.p95 = q[2];
    s.rule = arena_printf(
        r->arena,
        "what the binding shortens over %.0f mm round, less what a %s rod of %.3g mm and the sheet "
        "within it lose of their thickness%s%s",
        M_PI * b->rod + 2 * b->sheet, b->rod_green ? "green" : "dry", b->rod, pull ? "; " : "",
        pull ? pull : "");
    s.source = lash->source;
    if (q[1] < -0.05)
        s.caution = "the binding goes slack as the sheet within it dries thinner: draw it up again "
                    "after drying, or wedge it";
    int rc = s.rule ? 0 : fail_memory(err);
    for (int i = 0; i < 3 && !rc; i++)
        rc = statement_link_add(&s, "part", parts[i]->id, "size", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static int say_binding_unknown(struct stage_run *r, const struct part *tie, struct error *err) {
    struct statement s = statement_blank();
    s.id = "strength.binding";
    s.step = "strength";
    s.about = "object";
    s.sentence = "How the rim's binding tightens as it dries is not known; it is taken to stay as "
                 "tight as it was tied.";
    s.state = "new and dry";
    s.footing = FOOTING_GUESSED;
    s.value = spread_unknown();
    s.rule = "the tables have no shrinkage of the binding, the rod or the sheet it goes round";
    s.rival = "a binding that hangs loose when all is dry";
    int rc = statement_link_add(&s, "part", tie->id, "binding", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static int binding(struct strength_work *w, struct stage_run *r, const struct stuff_shelf *shelf,
                   const char *wood, const char *bark, struct error *err) {
    const struct part *tie = makings_part(w->fresh, w->making, PART_TIE, NULL),
                      *rim = makings_part(w->fresh, w->making, PART_RIM, NULL),
                      *sheet = makings_part(w->fresh, w->making, PART_SHEET, NULL);
    struct strength_binding *b = &w->binding;
    struct stuff_prior by[3];
    if (!tie || !rim || !(rim->width > 0) || !(sheet->thickness > 0)) return 0;
    b->rod = rim->width;
    b->sheet = sheet->thickness;
    b->rod_green = put_on_green(w, PART_RIM, PART_TIE);
    if (!binding_shrinks(&by[0], shelf, w, tie, r->arena) ||
        !known(&by[1], shelf, wood, STUFF_SHRINKAGE, STUFF_ACROSS, FIELD_UNKNOWN) ||
        !sheet_shrinks(&by[2], shelf, bark))
        return say_binding_unknown(r, tie, err);
    double v[DRAWS], even[DRAWS], q[3];
    static const double at[3] = {0.05, 0.5, 0.95};
    for (size_t i = 0; i < DRAWS; i++)
        even[i] = 1;
    binding_draws(v, b, by, num_rows_seed(r->rows));
    int rc = num_quantiles(v, even, DRAWS, at, 3, q, err);
    if (rc) return rc;
    b->known = true;
    b->shortens = by[0].median;
    b->rod_shrinks = by[1].median;
    b->sheet_shrinks = by[2].median;
    const char *pull = NULL;
    struct stuff_tightening t;
    struct error why = {0};
    if (tie->substance == SUBSTANCE_HIDE && tie->width > 0 && tie->thickness > 0 &&
        stuff_hide_tightening(&t, shelf, "rawhide lacing", tie->width * tie->thickness, &why) == 0)
        pull = arena_printf(r->arena, "held at its wet length it would pull %.0f N (%.0f to %.0f)",
                            t.pull, t.pull_p05, t.pull_p95);
    const struct part *const parts[] = {tie, rim, sheet};
    return say_binding(r, b, parts, q, &by[0], pull, err);
}

double strength_binding_tighter(const struct strength_binding *b, double moisture) {
    /* straight from saturation (0.28) to the tables' dry (0.12): Wood Handbook Eq 4-9 */
    double part = fmin(fmax((0.28 - moisture) / (0.28 - 0.12), 0), 1.75), rod = M_PI * b->rod,
           sheet = 2 * b->sheet;
    if (!b->known) return 0;
    return part * ((rod + sheet) * b->shortens - sheet * b->sheet_shrinks -
                   (b->rod_green ? rod * b->rod_shrinks : 0));
}

int strength_details(struct strength_work *w, struct stage_run *r, const struct stuff_shelf *shelf,
                     struct error *err) {
    const char *bark = strength_bark(w, r->arena);
    const struct part *lath = makings_part(w->makings, w->making, PART_LATH, NULL);
    const char *wood = strength_wood(lath);
    struct stuff_prior p;
    if (!bark) return fail_memory(err);
    cork_figures(w, shelf, bark);
    w->lath_shrinkage = 0;
    if (lath && put_on_green(w, PART_LATH, PART_LATH) &&
        known(&p, shelf, wood, STUFF_SHRINKAGE, STUFF_ACROSS, FIELD_UNKNOWN))
        w->lath_shrinkage = p.median;
    int rc = say_sheet(r, w, err);
    if (!rc) rc = say_pockets(r, w, err);
    return rc ? rc : binding(w, r, shelf, wood, bark, err);
}
