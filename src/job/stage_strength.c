/* strength: what shape the sheet takes with its laths and rim, how stiff and heavy it is, and what
 * decides that. Translates the leading making into a body and reads the possible originals off a
 * quick stand-in fitted to some hundred shell runs. */
#include "job/strength.h"

#include "body/controls.h"
#include "num/random.h"
#include "num/shares.h"
#include "stuff/material.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const kinds[] = {"choice", NULL};

static const char *const input_words[INPUTS] = {
    "thickness of the sheet", "stiffness along the grain", "stiffness around",
    "shear stiffness",        "stem it came from",         "set by drying flat",
    "thickness of the laths", "stiffness of the laths",    "length of the outline",
    "width of the outline",   "density of the sheet",      "density of the wood"};

/* Runs of the shell for one way of building, at most. */
enum { RUNS = 128 };

/* ---- one sheet ------------------------------------------------------------------------------ */

static const double wood_g = 700; /* N/mm2 in torsion of a lath */

struct as_body_stuff strength_stuff(const struct strength_work *w, const double *x) {
    return (struct as_body_stuff){.e_along = x[IN_E_ALONG],
                                  .e_around = x[IN_E_AROUND],
                                  .g = x[IN_G],
                                  .density = x[IN_DENSITY],
                                  .thickness = x[IN_THICKNESS],
                                  .stem = x[IN_STEM],
                                  .set = x[IN_SET],
                                  .wood_e = x[IN_WOOD_E],
                                  .wood_g = wood_g,
                                  .wood_density = x[IN_WOOD_DENSITY],
                                  .lath_thickness = x[IN_LATH],
                                  .length = x[IN_LENGTH],
                                  .width = x[IN_WIDTH],
                                  .lath_shrinkage = w->lath_shrinkage,
                                  .outer_share = w->outer_share,
                                  .outer_ratio = w->outer_ratio,
                                  .rim_slack =
                                      fmax(-strength_binding_tighter(&w->binding, 0.12) / 2, 0),
                                  .chamfer = NAN};
}

struct as_body_stuff strength_stuff_fresh(const struct strength_work *w, const double *x) {
    struct as_body_stuff s = strength_stuff(w, x);
    s.thickness /= w->left.through;
    s.lath_thickness /= w->left.wood;
    s.length /= w->left.x;
    s.width /= w->left.y;
    return s;
}

static int make(struct body_sheet *out, const double *x, void *context, struct arena *arena,
                struct error *err) {
    const struct strength_work *w = context;
    const struct as_body_stuff stuff = strength_stuff(w, x);
    return as_body_sheet(out, w->makings, w->making, &stuff, &w->change, arena, err);
}

/* ---- columns -------------------------------------------------------------------------------- */

static int from_tables(struct stage_run *r, const struct stuff_shelf *shelf, const char *material,
                       long property, long direction, const char *id, size_t *col, long *standing,
                       struct error *err) {
    struct stuff_ask ask = stuff_ask(material, (enum stuff_property)property);
    ask.direction = direction;
    ask.state = STUFF_DRY;
    struct stuff_prior p;
    int rc = stuff_material_prior(&p, shelf, &ask, err);
    if (rc) return rc;
    if (*standing == FIELD_UNKNOWN || p.standing > *standing) *standing = p.standing;
    return num_rows_root(r->rows, id, &p.dist, col, err);
}

/* As dry as in a room; resting bark and wood of 450 to 650 kg/m3 where the tables have none (common
 * practice, no source). */
static int density(struct stage_run *r, const struct stuff_shelf *shelf, const char *material,
                   const char *id, size_t *col, long *standing, struct error *err) {
    struct stuff_ask ask = stuff_ask(material, STUFF_DENSITY);
    ask.state = STUFF_DRY;
    struct stuff_prior p;
    struct error none = {0};
    int rc = stuff_material_prior(&p, shelf, &ask, &none);
    if (rc == ERR_MEMORY) return fail_memory(err);
    if (rc) {
        p.dist = num_dist_lognormal(0.54e-3, 0.11);
        p.standing = STANDING_COMMON_PRACTICE;
    }
    if (*standing == FIELD_UNKNOWN || p.standing > *standing) *standing = p.standing;
    return num_rows_root(r->rows, id, &p.dist, col, err);
}

static int guess_stem(struct stage_run *r, size_t *col, struct error *err) {
    struct num_dist d;
    double misfit;
    int rc = num_dist_from_points(&d, NUM_LOGNORMAL, 125, 60, 260, NAN, NAN, &misfit, err);
    if (!rc) rc = num_rows_root(r->rows, "stem.radius", &d, col, err);
    struct statement s = statement_blank();
    s.id = "strength.stem";
    s.step = "strength";
    s.about = "object";
    s.sentence = "The sheet came off a stem of this radius.";
    s.unit = "mm";
    s.footing = FOOTING_GUESSED;
    s.value = remains_spread(r->rows, *col);
    s.rule = "between a whole sleeve of a pole and a strip of a large tree";
    s.rival = "any other stem; a trial's curl off the trunk would tell";
    s.column = "stem.radius";
    return rc ? rc : statement_add(r->said, &s, err);
}

/* ---- inputs --------------------------------------------------------------------------------- */

static int find_inputs(struct strength_inputs *in, struct stage_run *r, struct strength_work *b,
                       const struct stuff_shelf *shelf, struct error *err) {
    const char *bark = strength_bark(b, r->arena);
    const struct part *lath = makings_part(b->makings, b->making, PART_LATH, NULL);
    const char *wood = strength_wood(lath);
    in->standing = FIELD_UNKNOWN;
    int rc = bark ? 0 : fail_memory(err);
    if (!rc) rc = strength_sizes(in, r, b, err);
    if (!rc)
        rc = from_tables(r, shelf, bark, STUFF_E, STUFF_ALONG, "bark.E.along", &in->col[IN_E_ALONG],
                         &in->standing, err);
    if (!rc)
        rc = from_tables(r, shelf, bark, STUFF_E, STUFF_AROUND, "bark.E.around",
                         &in->col[IN_E_AROUND], &in->standing, err);
    if (!rc)
        rc = from_tables(r, shelf, bark, STUFF_G, STUFF_ALONG, "bark.G", &in->col[IN_G],
                         &in->standing, err);
    if (!rc)
        rc = from_tables(r, shelf, bark, STUFF_SET_SHARE, STUFF_AROUND, "bark.set",
                         &in->col[IN_SET], &in->standing, err);
    if (!rc)
        rc = from_tables(r, shelf, wood, STUFF_E, STUFF_ALONG, "lath.E", &in->col[IN_WOOD_E],
                         &in->standing, err);
    if (!rc) rc = density(r, shelf, bark, "bark.density", &in->col[IN_DENSITY], &in->standing, err);
    if (!rc)
        rc = density(r, shelf, wood, "wood.density", &in->col[IN_WOOD_DENSITY], &in->standing, err);
    return rc ? rc : guess_stem(r, &in->col[IN_STEM], err);
}

/* A number outside all reason makes no sheet: the tails of guesses are cut at 1 and 99 %. */
static int all_inputs(struct strength_inputs *in, struct stage_run *r, struct error *err) {
    size_t n = num_rows_count(r->rows);
    double *x = in->all = ARENA_NEW(r->arena, double, n *INPUTS);
    static const double p[3] = {0.01, 0.5, 0.99};
    for (int k = 0; x && k < INPUTS; k++) {
        const double *v = num_rows_values(r->rows, in->col[k]);
        double q[3];
        int rc = num_rows_quantiles(r->rows, in->col[k], p, 3, q);
        if (rc) return fail_memory(err);
        in->low[k] = q[0];
        in->middle[k] = q[1];
        in->high[k] = q[2];
        for (size_t i = 0; i < n; i++)
            x[i * INPUTS + (size_t)k] = fmin(fmax(v[i], q[0]), q[2]);
    }
    return x ? 0 : fail_memory(err);
}

/* Inputs of chosen rows: every n/runs-th of the original order, so that the same rows serve again.
 */
static double *design(struct stage_run *r, const struct strength_inputs *in, size_t runs) {
    size_t n = num_rows_count(r->rows);
    double *x = ARENA_NEW(r->arena, double, runs *INPUTS);
    for (size_t i = 0; x && i < runs; i++)
        memcpy(x + i * INPUTS, in->all + i * n / runs * INPUTS, INPUTS * sizeof *x);
    return x;
}

/* ---- reading off ---------------------------------------------------------------------------- */

const struct strength_output strength_outputs[STRENGTH_OUTPUTS] = {
    {BODY_OUT_RISE, "rise", "The middle stands this far over the long edges, dry.", "mm",
     "rise, mm", 1},
    {BODY_OUT_EDGE_LIFT, "edge_lift", "The edge lifts this far off a table, dry.", "mm",
     "edge lift, mm", 1},
    {BODY_OUT_ACROSS, "bend_across", "It is bent this much across, on the mean of the sheet, dry.",
     "1/m", "bend across, 1/m", 1000},
    {BODY_OUT_TWIST, "twist", "One end stands turned against the other, dry.", "degrees",
     "twist, degrees", 180 / M_PI},
    {BODY_OUT_STIFFNESS, "stiffness", "A hand pressed on the middle meets this stiffness.", "N/mm",
     "stiffness under a hand, N/mm", 1},
    {BODY_OUT_WEIGHT, "weight", "Sheet, laths, rim, grip and coil weigh this much.", "g",
     "weight, g", 1},
};
enum { OUTPUTS = STRENGTH_OUTPUTS };

/* One output over all rows: the stand-in's mean and a draw of its own error, kept as a column. */
static int read_off(struct stage_run *r, const struct body_controls *c,
                    const struct strength_inputs *in, const struct strength_output *o,
                    const char *variant, size_t *col, struct error *err) {
    size_t n = num_rows_count(r->rows);
    double *value = ARENA_NEW(r->arena, double, n), *normal = ARENA_NEW(r->arena, double, n),
           *scratch = ARENA_NEW(r->arena, double, n);
    if (!value || !normal || !scratch) return fail_memory(err);
    char id[64];
    snprintf(id, sizeof id, "shape.%s.%s", variant, o->id);
    uint64_t stream = num_hash(id);
    for (size_t i = 0; i < n; i++) {
        struct num_random random;
        num_random_begin(&random, num_rows_seed(r->rows), stream, i);
        normal[i] = num_random_normal(&random);
    }
    int rc = body_controls_draw(c, o->which, in->all, n, normal, value, scratch, err);
    if (rc) return rc;
    for (size_t i = 0; i < n; i++) {
        value[i] *= o->scale;
        if (fabs(value[i]) < 1e-7) value[i] = 0; /* rounding of the shell, not an answer */
        if (o->which == BODY_OUT_EDGE_LIFT || o->which == BODY_OUT_WEIGHT)
            value[i] = fmax(value[i], 0); /* the stand-in's error may not make it less than none */
    }
    return num_rows_put(r->rows, id, in->col, INPUTS, value, col, err);
}

static int say_output(struct stage_run *r, const struct strength_output *o, const char *id,
                      size_t col, const struct strength_inputs *in, struct error *err) {
    struct statement s = statement_blank();
    s.id = id;
    s.step = "strength";
    s.about = "object";
    s.quantity = o->id;
    s.sentence = o->sentence;
    s.unit = o->unit;
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = in->standing;
    s.value = remains_spread(r->rows, col);
    s.rule =
        "equilibrium of the sheet with its laths and rim, read off a stand-in fitted to shell runs "
        "whose error is in the range";
    s.source = "doc/shell.md; figures of bark are mostly guesses until a trial replaces them";
    s.column = id;
    static const char *const rests[] = {"outline.length", "strength.dry", "strength.stem",
                                        "making.lath.count"};
    int rc = 0;
    for (size_t i = 0; i < sizeof rests / sizeof rests[0] && !rc; i++)
        if (statement_find(r->said, rests[i]))
            rc = statement_link_add(&s, "statement", rests[i], "input", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static double sensible(double v) {
    double unit = pow(10, floor(log10(fmax(fabs(v), 1e-12))) - 2);
    return round(v / unit) * unit;
}

/* Which runs had no answer, and why the first of them. */
static void say_failures(struct stage_run *r, const char *words,
                         const struct body_controls_report *report) {
    json_t *table =
        json_object_get(json_object_get(json_object_get(r->result, "tables"), "failures"), "rows");
    if (!table)
        table = stage_table(r, "failures", "Runs of the shell without an answer",
                            "built|runs|why, "
                            "the first of them");
    json_array_append_new(
        table, json_pack("[s,i,s]", words, (int)report->failed,
                         *report->first_failure ? report->first_failure : "as when they were run"));
}

void strength_fit_row(struct stage_run *r, json_t *table, const char *words,
                      const struct body_controls *controls) {
    struct body_controls_report report;
    body_controls_report(controls, &report);
    json_t *row = json_pack("[s,i,i,i,i]", words, (int)report.runs, (int)report.reused,
                            (int)report.failed, (int)report.other_branch);
    for (size_t k = 0; k < STRENGTH_OUTPUTS; k++)
        json_array_append_new(row,
                              json_real(sensible(strength_outputs[k].scale *
                                                 report.output[strength_outputs[k].which].rms)));
    json_array_append_new(row, json_real(round(100 * report.output[BODY_OUT_RISE].inside90)));
    json_array_append_new(row, json_real(sensible(report.output[BODY_OUT_RISE].shift)));
    json_array_append_new(row, json_real(sensible(report.output[BODY_OUT_RISE].spread)));
    json_array_append_new(table, row);
    if (report.failed) say_failures(r, words, &report);
}

/* ---- variants ------------------------------------------------------------------------------- */

static const struct variant {
    const char *id, *words;
    struct as_body_change change;
} variants[] = {{"made", "as proposed", {0}},
                {"no_laths", "without laths", {.no_laths = true}},
                {"no_rim", "without the rim", {.no_rim = true}},
                {"no_grip", "without the grip", {.no_grip = true}},
                {"bare",
                 "the sheet alone",
                 {.no_laths = true, .no_rim = true, .no_grip = true, .no_centre = true}}};
enum { VARIANTS = sizeof variants / sizeof variants[0] };

static int run_variant(struct stage_run *r, struct strength_work *b,
                       const struct strength_inputs *in, const struct variant *v, json_t *table,
                       json_t *fit, struct error *err) {
    struct body_controls *c = NULL;
    b->change = v->change;
    size_t n = strength_run_count(r, RUNS);
    double *x = design(r, in, n);
    if (!x) return fail_memory(err);
    const struct strength_design runs = {v->id, "of the possible originals", x, n, INPUTS, make, b};
    int rc = strength_controls(&c, r, &runs, err);
    const char *cells[OUTPUTS];
    for (size_t k = 0; k < OUTPUTS && !rc; k++) {
        size_t col;
        rc = read_off(r, c, in, &strength_outputs[k], v->id, &col, err);
        struct spread spread = rc ? spread_unknown() : remains_spread(r->rows, col);
        cells[k] = spread.p95 - spread.p05 < 1e-4 ? arena_printf(r->arena, "%.2g", spread.p50 + 0.0)
                                                  : stage_range(r, &spread);
        if (!rc && !cells[k]) rc = fail_memory(err);
        if (!rc && strcmp(v->id, "made") == 0) {
            char *id = arena_printf(r->arena, "shape.made.%s", strength_outputs[k].id);
            rc = id ? say_output(r, &strength_outputs[k], id, col, in, err) : fail_memory(err);
        }
    }
    if (!rc) {
        json_t *row = json_pack("[s]", v->words);
        for (size_t k = 0; k < OUTPUTS; k++)
            json_array_append_new(row, json_string(cells[k]));
        json_array_append_new(table, row);
        strength_fit_row(r, fit, v->words, c);
    }
    body_controls_free(c);
    return rc;
}

/* Which answers the table of shares tells of. */
static const char *const shared[] = {"rise",  "edge_lift", "bend_across",
                                     "twist", "stiffness", "weight"};
enum { SHARED = sizeof shared / sizeof shared[0] };

static int shares(struct stage_run *r, const struct strength_inputs *in, struct error *err) {
    size_t n = num_rows_count(r->rows);
    json_t *rows =
        stage_table(r, "shares", "What decides it: share of the spread by itself, percent",
                    "input|rise|edge lift|bend across|twist|stiffness|weight");
    double *weight = ARENA_NEW(r->arena, double, n);
    if (!weight || !rows) return fail_memory(err);
    num_rows_weights(r->rows, weight);
    for (int k = 0; k < INPUTS; k++) {
        json_t *row = json_pack("[s]", input_words[k]);
        for (size_t q = 0; q < SHARED; q++) {
            char id[64];
            snprintf(id, sizeof id, "shape.made.%s", shared[q]);
            size_t y = num_rows_find(r->rows, id);
            double share = NAN;
            int rc = num_main_effect(&share, NULL, num_rows_values(r->rows, in->col[k]),
                                     num_rows_values(r->rows, y), weight, n, err);
            json_array_append_new(row, json_real(round(100 * share)));
            if (!rc) continue;
            json_decref(row);
            return rc;
        }
        json_array_append_new(rows, row);
    }
    return 0;
}

/* The lath at which laths and sheet are equally stiff: t* = (12 D22 s / (E b))^(1/3), over the
 * possible originals (mechanics: beams at spacing s over a plate strip). */
struct equal {
    size_t col[INPUTS];
    double spacing, width;
};

static double equal_lath(const double *row, void *context) {
    const struct equal *e = context;
    double t = row[e->col[IN_THICKNESS]], d22 = row[e->col[IN_E_AROUND]] * t * t * t / 12;
    return cbrt(12 * d22 * e->spacing / (row[e->col[IN_WOOD_E]] * e->width));
}

static int say_equal_lath(struct stage_run *r, const struct strength_work *b,
                          const struct strength_inputs *in, struct error *err) {
    const struct part *one = makings_part(b->makings, b->making, PART_LATH, NULL);
    const struct part *two = one ? makings_part(b->makings, b->making, PART_LATH, one) : NULL;
    if (!two) return 0;
    struct equal *e = ARENA_NEW(r->arena, struct equal, 1);
    if (!e) return fail_memory(err);
    memcpy(e->col, in->col, sizeof e->col);
    e->spacing = hypot(two->x - one->x, two->y - one->y);
    e->width = one->width;
    size_t col;
    int rc =
        num_rows_derive(r->rows, "shape.equal_lath", in->col, INPUTS, equal_lath, e, &col, err);
    if (rc) return rc;
    const struct strength_output o = {
        0,    "equal_lath", "Laths of this thickness would be as stiff across as the sheet.",
        "mm", "",           1};
    return say_output(r, &o, "shape.equal_lath", col, in, err);
}

/* Whether all columns came back with the rows: then nothing has changed and no run is needed. */
static bool all_known(const struct stage_run *r) {
    for (size_t v = 0; v < VARIANTS; v++)
        for (size_t k = 0; k < OUTPUTS; k++) {
            char id[64];
            snprintf(id, sizeof id, "shape.%s.%s", variants[v].id, strength_outputs[k].id);
            size_t col = num_rows_find(r->rows, id);
            if (col == NUM_NO_COLUMN || num_rows_stale(r->rows, col)) return false;
        }
    return true;
}

/* The leading making, with a sheet that has an outline. */
static int leading(struct strength_work *b, const struct stage_run *r, struct error *err) {
    const struct making *first = r->made.makings ? makings_leading(r->made.makings) : NULL;
    *b = (struct strength_work){
        .makings = r->made.makings, .fresh = r->made.makings, .making = first ? first->id : NULL};
    if (first) b->sheet = makings_part(b->makings, b->making, PART_SHEET, NULL);
    if (b->sheet && b->sheet->points.n >= 3) return 0;
    return fail(err, ERR_MISSING, "Work out the making first, or enter one with a sheet.",
                "Without a sheet there is no shape to work out.");
}

int strength_begin(struct strength_work *b, struct strength_inputs *in, struct stage_run *r,
                   const struct stuff_shelf *shelf, struct error *err) {
    struct makings *dry = ARENA_NEW(r->arena, struct makings, 1);
    int rc = dry ? leading(b, r, err) : fail_memory(err);
    if (!rc) rc = find_inputs(in, r, b, shelf, err);
    if (!rc) rc = all_inputs(in, r, err);
    if (!rc) rc = strength_say_dry(r, b, err);
    if (!rc) rc = makings_dry(dry, b->fresh, &b->left, r->arena, err);
    if (rc) return rc;
    b->makings = dry;
    b->sheet = makings_part(b->makings, b->making, PART_SHEET, NULL);
    return strength_details(b, r, shelf, err);
}

int strength_brief(struct stage_run *r, struct error *err) {
    struct strength_work b;
    struct strength_inputs in;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    rc = strength_begin(&b, &in, r, shelf, err);
    json_t *none = json_array(); /* its tables stand nowhere */
    if (!rc) rc = none ? run_variant(r, &b, &in, &variants[0], none, none, err) : fail_memory(err);
    json_decref(none);
    stuff_shelf_free(shelf);
    return rc;
}

static int run(struct stage_run *r, struct error *err) {
    struct strength_work b;
    struct stuff_shelf *shelf;
    struct strength_inputs in;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    rc = strength_begin(&b, &in, r, shelf, err);
    if (!rc) rc = strength_form(r, &b, &in, err);
    char heads[300] = "built";
    for (size_t k = 0; k < OUTPUTS; k++)
        snprintf(heads + strlen(heads), sizeof heads - strlen(heads), "|%s",
                 strength_outputs[k].head);
    json_t *table =
        stage_table(r, "variants", "With and without each part, put together dry", heads);
    json_t *fit = stage_table(
        r, "fit", "How well the stand-in follows the shell",
        "built|runs|of them kept from before|not solved|bent the other way|a run left out is met "
        "within: rise, mm|edge lift, mm|bend across, 1/m|twist, degrees|stiffness, N/mm|weight, g|"
        "left-out rises inside their 90 % range, percent|rise on a net of 2,400 triangles less one "
        "of 600, mm (added)|its scatter, mm (joined to the range)");
    if (!rc && (!table || !fit)) rc = fail_memory(err);
    bool known = !rc && all_known(r);
    for (size_t i = 0; known && i < OUTPUTS && !rc; i++) {
        char *id = arena_printf(r->arena, "shape.made.%s", strength_outputs[i].id);
        rc = id ? say_output(r, &strength_outputs[i], id, num_rows_find(r->rows, id), &in, err)
                : fail_memory(err);
    }
    for (size_t i = 0; i < VARIANTS && !rc && !known; i++) {
        rc = stage_tell(r, "strength", (double)i / VARIANTS, variants[i].words, err);
        if (!rc) rc = run_variant(r, &b, &in, &variants[i], table, fit, err);
    }
    if (!rc) rc = stage_tell(r, "strength", 0.8, "laths, ties and stem changed", err);
    if (!rc && !known) rc = strength_sweeps(r, &b, &in, fit, err);
    if (!rc) rc = strength_makings(r, &b, &in, err);
    if (!rc) rc = strength_branches(r, &b, &in, err);
    if (!rc) rc = strength_laths(r, &b, &in, shelf, err);
    if (!rc) rc = strength_hand(r, &b, &in, shelf, err);
    if (!rc) rc = strength_rows(r, &b, &in, shelf, err);
    if (!rc) rc = stage_tell(r, "strength", 0.9, "the order of work, day by day", err);
    if (!rc) rc = strength_days(r, &b, &in, shelf, err);
    if (!rc && r->made.form) json_object_set_new(r->result, "form", form_encode(r->made.form));
    stuff_shelf_free(shelf);
    if (!rc) rc = shares(r, &in, err);
    return rc ? rc : say_equal_lath(r, &b, &in, err);
}

const struct stage stage_strength = {"strength", "Shape and strength", 20, kinds, true, run};
