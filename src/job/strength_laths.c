/* Laths in pockets: how much it matters whether they slide along, rub or are held fast. The leading
 * making is worked out as entered (a lath without a friction slides freely); this lays the other
 * ways beside it, by runs of the shell itself at the middle of the possible originals. */
#include "job/strength.h"

#include "num/weighted.h"
#include "stuff/material.h"

#include <math.h>
#include <string.h>

enum { RUBBINGS = 3, WAYS = RUBBINGS + 2 };

struct way {
    const char *words;
    struct as_body_change change;
    struct body_sheet_out out;
    bool at_rest; /* false: the rubbing did not settle */
};

static bool in_pockets(const struct part *p) {
    return p && (p->holding == HOLDING_POCKET || p->holding == HOLDING_LOOSE);
}

/* Friction of a lath against its pocket: the bark's, whole; wood on bark at low, middle, high. */
static int friction_of(double out[RUBBINGS], struct stuff_prior *p, const struct strength_work *w,
                       const struct stuff_shelf *shelf, struct arena *arena, struct error *err) {
    const char *bark = strength_bark(w, arena);
    if (!bark) return fail_memory(err);
    struct stuff_ask ask = stuff_ask(bark, STUFF_FRICTION);
    ask.state = STUFF_DRY;
    int rc = stuff_material_prior(p, shelf, &ask, err);
    static const double at[RUBBINGS] = {0.05, 0.5, 0.95};
    for (int k = 0; k < RUBBINGS && !rc; k++)
        out[k] = num_dist_quantile(&p->dist, at[k]);
    return rc;
}

/* All ways by one model: only the laths' pull differs. */
static int run_ways(struct way *way, const struct stage_run *r, const struct strength_work *work,
                    const double *x, struct error *err) {
    const struct as_body_stuff stuff = strength_stuff(work, x);
    struct body_sheet_model *model = NULL;
    int rc = 0;
    for (size_t k = 0; k < WAYS && !rc; k++) {
        struct body_sheet sheet;
        struct error why = {0};
        rc = as_body_sheet(&sheet, work->makings, work->making, &stuff, &way[k].change, r->arena,
                           err);
        if (!rc)
            rc = model ? body_sheet_change(model, &sheet, err)
                       : body_sheet_new(&model, &sheet, strength_net(r, STRENGTH_TRIANGLES), err);
        if (rc) break;
        int solved = body_sheet_solve(model, &way[k].out, &why);
        way[k].at_rest = solved == 0;
        if (solved == ERR_MEMORY) rc = fail_memory(err);
    }
    body_sheet_free(model);
    return rc;
}

static int put_ways(struct stage_run *r, const struct way *way, size_t laths, struct error *err) {
    json_t *table =
        stage_table(r, "laths", "Laths sliding, rubbing or held in their pockets, dry",
                    "laths|rise, mm|edge lift, mm|bend across, 1/m|stiffness under a hand, N/mm|"
                    "largest pull along a lath, N|laths that slide");
    if (!table) return fail_memory(err);
    for (size_t k = 0; k < WAYS; k++) {
        const struct body_sheet_out *o = &way[k].out;
        const char *sliding =
            arena_printf(r->arena, "%d of %d", (int)(k ? o->laths_sliding : laths), (int)laths);
        json_array_append_new(
            table,
            way[k].at_rest
                ? json_pack("[s,s,s,s,s,s,s]", way[k].words,
                            arena_printf(r->arena, "%.2f", o->rise),
                            arena_printf(r->arena, "%.2f", o->edge_lift),
                            arena_printf(r->arena, "%.3g", 1000 * o->curvature[1]),
                            arena_printf(r->arena, "%.3g", o->stiffness),
                            arena_printf(r->arena, "%.2g", o->lath_pull), sliding)
                : json_pack("[s,s,s,s,s,s,s]", way[k].words, "found no rest", "", "", "", "", ""));
    }
    return 0;
}

static int say_ways(struct stage_run *r, const struct way *way, const struct stuff_prior *prior,
                    const struct part *lath, struct error *err) {
    double off[RUBBINGS + 1] = {0}, low = INFINITY, high = -INFINITY;
    for (size_t k = 0; k <= RUBBINGS; k++) {
        if (!way[k + 1].at_rest) continue;
        off[k] = way[k + 1].out.rise - way[0].out.rise;
        low = fmin(low, off[k]);
        high = fmax(high, off[k]);
    }
    struct statement s = statement_blank();
    s.id = "strength.rubbing";
    s.step = "strength";
    s.about = "object";
    s.quantity = "rise";
    s.sentence = "Laths that rub in their pockets raise the middle by so much more than laths that "
                 "slide freely, dry.";
    s.unit = "mm";
    s.state = "new and dry";
    s.footing = FOOTING_GUESSED;
    s.standing = prior->standing;
    s.value = spread_sides(low, off[1], high);
    s.rule = arena_printf(
        r->arena,
        "runs of the shell at the middle of the possible originals with a friction of %.2g, %.2g "
        "and %.2g, and with laths held fast; the pull a lath takes is at most its friction times "
        "what it presses on its pocket. The numbers of this step are for laths that %s",
        way[1].change.friction, way[2].change.friction, way[3].change.friction,
        lath->friction > 0 ? arena_printf(r->arena, "rub with %.2g, as entered", lath->friction)
                           : "slide freely, since no friction was entered for them");
    s.source = prior->source;
    s.rival = "laths wedged or gummed fast in their pockets: the last row of the table";
    if (!s.rule) return fail_memory(err);
    int rc = statement_find(r->said, "strength.pockets")
                 ? statement_link_add(&s, "statement", "strength.pockets", "room", r->arena, err)
                 : statement_link_add(&s, "part", lath->id, "holding", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

int strength_laths(struct stage_run *r, const struct strength_work *work,
                   const struct strength_inputs *in, const struct stuff_shelf *shelf,
                   struct error *err) {
    const struct part *lath = makings_part(work->makings, work->making, PART_LATH, NULL);
    struct stuff_prior prior;
    struct error why = {0};
    double friction[RUBBINGS], x[INPUTS];
    struct way *way = ARENA_NEW(r->arena, struct way, WAYS);
    size_t laths = 0;
    if (!in_pockets(lath)) return 0;
    if (!way) return fail_memory(err);
    if (friction_of(friction, &prior, work, shelf, r->arena, &why))
        return 0; /* not in the tables */
    for (const struct part *p = lath; p;
         p = makings_part(work->makings, work->making, PART_LATH, p))
        laths += (size_t)in_pockets(p);
    way[0] = (struct way){"slide freely", {.pull = AS_BODY_SLIDING}, {{0}}, false};
    for (size_t k = 0; k < RUBBINGS; k++)
        way[k + 1] = (struct way){arena_printf(r->arena, "rub, friction %.2g", friction[k]),
                                  {.pull = AS_BODY_RUBBING, .friction = friction[k]},
                                  {{0}}};
    way[WAYS - 1] = (struct way){"held fast", {.pull = AS_BODY_HELD}, {{0}}};
    strength_middle(in, x);
    int rc = run_ways(way, r, work, x, err);
    if (!rc) rc = put_ways(r, way, laths, err);
    if (rc || !way[0].at_rest || !way[2].at_rest) return rc;
    return say_ways(r, way, &prior, lath, err);
}
