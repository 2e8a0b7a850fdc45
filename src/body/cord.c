#include "body/cord.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* Standard gravity: a gram weighs this many newtons. */
#define GRAM_WEIGHT 0.00980665

double cord_capstan(double friction, double angle) {
    return exp(friction * angle);
}

double cord_pressure(double tension, double diameter, double radius) {
    return tension / (diameter * radius);
}

double cord_tension(double line_load, double spacing, double legs, double angle) {
    return line_load * spacing / (legs * cos(angle));
}

struct bed_bar cord_bed(double ei, double spring, double spacing) {
    /* Hetenyi 1946, Beams on Elastic Foundation: endless bar, single push */
    struct bed_bar b;
    double bed = spring / spacing;
    b.lambda = pow(bed / (4 * ei), 0.25);
    b.stiffness = 8 * ei * b.lambda * b.lambda * b.lambda;
    b.moment = 1 / (4 * b.lambda);
    b.nearest = fmin(1, spring / b.stiffness); /* far apart the bed is no bed: one takes it all */
    return b;
}

/* ---- one tie -------------------------------------------------------------------------------- */

enum { TIE_STRENGTH, TIE_FRICTION, TIE_BEARING, TIE_COUNT };

struct tie {
    const struct cord_case *c;
    double knot; /* share of strength at the knot */
};

static const char *const tie_names[] = {"cord breaks at the knot", "cord breaks where it bends",
                                        "tail slips", "cord cuts into what it holds"};
enum { TIE_MODES = 4 };

static void tie_loads(double *load, const double *x, const void *context) {
    const struct tie *t = context;
    const struct cord_case *c = t->c;
    double legs = 2 * c->turns, whole = x[TIE_STRENGTH];
    /* The knot sits in one leg's end; wraps before it have taken part of the pull by friction. */
    double before = cord_capstan(x[TIE_FRICTION], c->wrap);
    load[0] = whole * t->knot * fmin(before, 1 / t->knot) * legs;
    /* Over a sharp edge a cord's outer fibres strain more: strength r/(r + d/2). */
    double d = c->cord.round ? c->cord.width : c->cord.thickness;
    load[1] = whole * c->radius / (c->radius + d / 2) * legs;
    /* A tail without knot, tucked under so many turns: each presses it with T d/r, friction on both
     * faces; what reaches it has been lessened round the wraps. */
    double tucked = 2 * x[TIE_FRICTION] * c->wrap / (2 * M_PI) * d / c->radius * before;
    load[2] = c->cord.knot && *c->cord.knot ? INFINITY : whole * fmin(1, tucked) * legs;
    load[3] = x[TIE_BEARING] * fmax(c->cord.width, d) * c->radius * legs;
}

static int property(struct stuff_prior *p, const struct stuff_shelf *shelf, const char *material,
                    enum stuff_property which, long direction, int wet, struct error *err) {
    struct stuff_ask ask = stuff_ask(material, which);
    ask.direction = direction;
    ask.state = wet ? STUFF_FRESH : STUFF_DRY;
    struct stuff_material m = stuff_material_read(shelf, material);
    if (m.class == FIELD_UNKNOWN || (m.class == STUFF_WOOD && strstr(material, "root")))
        ask.class = STUFF_BAST;
    return stuff_material_prior(p, shelf, &ask, err);
}

static int tie_check(const struct cord_case *c, struct error *err) {
    if (!(c->turns >= 1 && c->turns < 1000) || !(c->radius > 0) || !(c->loop > 0) ||
        !(c->wrap >= 0))
        return fail(
            err, ERR_RANGE, "Give turns from 1, the length of one turn and the edge it bears on.",
            "A tie of %g turns %g mm long over an edge of %g mm", c->turns, c->loop, c->radius);
    if (!(c->wrap > 0) && !(c->cord.knot && *c->cord.knot))
        return fail(err, ERR_MISSING, "Name the knot, or say how often the tail is wrapped under.",
                    "A tie with neither knot nor wrapped tail holds nothing");
    return 0;
}

#define NO_LIMIT 1e9 /* MPa: nothing to cut into */

/* Inputs of one tie, and its stiffness. */
static int tie_inputs(struct num_dist in[TIE_COUNT], struct tie *t, struct cord_result *out,
                      const struct stuff_shelf *shelf, const struct cord_case *c,
                      struct error *err) {
    int rc = tie_check(c, err);
    if (rc) return rc;
    struct stuff_prior strength, mu, bearing, e;
    struct stuff_cord plain = c->cord;
    plain.knot = NULL;
    rc = stuff_cord_strength(&strength, shelf, &plain, err);
    if (!rc) rc = property(&e, shelf, c->cord.material, STUFF_E, STUFF_ALONG, c->cord.wet, err);
    if (rc) return rc;
    if (property(&mu, shelf, c->cord.material, STUFF_FRICTION, FIELD_UNKNOWN, c->cord.wet, NULL)) {
        mu.dist = num_dist_lognormal(0.3, 0.35); /* data/joints.csv, friction of cord; a guess */
        mu.standing = STANDING_GUESS;
    }
    in[TIE_STRENGTH] = strength.dist;
    in[TIE_FRICTION] = mu.dist;
    in[TIE_BEARING] = num_dist_fixed(NO_LIMIT);
    out->standing = strength.standing > mu.standing ? strength.standing : mu.standing;
    if (c->around &&
        !property(&bearing, shelf, c->around, STUFF_BEARING, STUFF_AROUND, c->cord.wet, NULL)) {
        in[TIE_BEARING] = bearing.dist;
        if (bearing.standing > out->standing) out->standing = bearing.standing;
    }
    double knot = stuff_knot_share(shelf, c->cord.knot);
    t->c = c;
    t->knot = isnan(knot) ? 0.5 : knot;
    /* Each turn: two legs, half the loop long each. */
    double section = stuff_cord_section(&c->cord) * stuff_cord_twist(c->cord.twist);
    out->stiffness = e.median * section * c->turns * 4 / c->loop;
    return 0;
}

int cord_tie(struct cord_result *out, const struct stuff_shelf *shelf, const struct cord_case *c,
             struct arena *arena, struct error *err) {
    *out = (struct cord_result){.holds = NAN};
    struct num_dist in[TIE_COUNT];
    struct tie t;
    int rc = tie_inputs(in, &t, out, shelf, c, err);
    if (!rc)
        rc = body_weakest(&out->failure, tie_names, TIE_MODES, in, TIE_COUNT, tie_loads, &t, arena,
                          err);
    if (rc || isnan(c->load)) return rc;
    double sd = log(out->failure.p95 / out->failure.p05) / (2 * 1.6448536269514722);
    struct num_dist f = num_dist_lognormal(out->failure.load, fmax(sd, 1e-6));
    out->holds = 1 - num_dist_cdf(&f, c->load);
    return 0;
}

/* ---- a knock -------------------------------------------------------------------------------- */

enum { KN_TIE, KN_TIE_STIFF, KN_PEG, KN_RIM_E, KN_RIM_STRENGTH, KN_COUNT };

struct knock {
    const struct knock_case *c;
    double second, section; /* of the rim: moment of area (mm4), section modulus (mm3) */
    int pegs, energy;
};

static const char *const knock_names[] = {"a tie gives way", "a peg gives way", "the rim breaks"};
enum { KNOCK_MODES = 3 };

#define PEG_STIFFNESS 300.0 /* N/mm of a peg of 5 to 8 mm in soft wood; a guess */

/* Sinking of the rim at which each gives way, then the push or the energy that takes. Slack ties
 * alone only let the rim travel freely first; beside pegs they come in late and are left out of the
 * bed until then. */
static void knock_loads(double *load, const double *x, const void *context) {
    const struct knock *k = context;
    const struct knock_case *c = k->c;
    bool slack = c->tie.slack > 0;
    double tie = x[KN_TIE_STIFF], peg = isnan(c->peg_stiffness) ? PEG_STIFFNESS : c->peg_stiffness;
    double bed = k->pegs && slack ? 0 : tie / c->tie_spacing;
    if (k->pegs) bed += peg / c->peg_spacing;
    struct bed_bar b = cord_bed(x[KN_RIM_E] * k->second, bed, 1);
    double sinks[KNOCK_MODES];
    sinks[0] = x[KN_TIE] / tie + (k->pegs && slack ? c->tie.slack : 0);
    sinks[1] = k->pegs ? x[KN_PEG] / peg : INFINITY;
    sinks[2] = x[KN_RIM_STRENGTH] * k->section / b.moment / b.stiffness;
    for (int i = 0; i < KNOCK_MODES; i++) {
        double push = sinks[i] * b.stiffness;
        double give = isnan(c->sheet) ? 0 : push / c->sheet; /* of the sheet, in series */
        load[i] = k->energy ? push * (sinks[i] + give) / 2 : push;
    }
}

static int rim_section(struct knock *k, const struct knock_case *c, struct error *err) {
    double b = c->width, h = c->height;
    if (!(h > 0 && h < 500) || (!c->round && !(b > 0 && b < 500)))
        return fail(err, ERR_RANGE, "Measure the rim's section in mm.", "A rim of %g by %g mm", b,
                    h);
    k->second = c->round ? M_PI * h * h * h * h / 64 : b * h * h * h / 12;
    k->section = k->second / (h / 2);
    return 0;
}

static int knock_inputs(struct num_dist in[KN_COUNT], struct knock_result *out,
                        const struct stuff_shelf *shelf, const struct knock_case *c,
                        struct arena *arena, struct error *err) {
    struct cord_result tie;
    struct stuff_prior e, strength;
    int rc = cord_tie(&tie, shelf, &c->tie, arena, err);
    if (rc) return rc;
    struct stuff_ask ask = stuff_ask(c->rim, STUFF_E);
    ask.class = c->class;
    ask.direction = STUFF_ALONG;
    ask.state = c->wet ? STUFF_FRESH : STUFF_DRY;
    rc = stuff_material_prior(&e, shelf, &ask, err);
    ask.property = STUFF_BENDING;
    if (!rc) rc = stuff_material_prior(&strength, shelf, &ask, err);
    if (rc) return rc;
    double z = 2 * 1.6448536269514722;
    in[KN_TIE] = num_dist_lognormal(tie.failure.load, log(tie.failure.p95 / tie.failure.p05) / z);
    in[KN_TIE_STIFF] = num_dist_lognormal(tie.stiffness, 0.6); /* E of bast: factor 3 either way */
    in[KN_RIM_E] = e.dist;
    in[KN_RIM_STRENGTH] = strength.dist;
    bool pegs = !isnan(c->peg_load);
    in[KN_PEG] = !pegs ? num_dist_fixed(1)
                 : isnan(c->peg_load_p05) || isnan(c->peg_load_p95)
                     ? num_dist_lognormal(c->peg_load, 0.35)
                     : num_dist_lognormal(c->peg_load, log(c->peg_load_p95 / c->peg_load_p05) / z);
    out->standing = tie.standing;
    if (e.standing > out->standing) out->standing = e.standing;
    out->bed = cord_bed(e.median, tie.stiffness, c->tie_spacing);
    return 0;
}

int cord_knock(struct knock_result *out, const struct stuff_shelf *shelf,
               const struct knock_case *c, struct arena *arena, struct error *err) {
    *out = (struct knock_result){.drop = NAN, .survives = NAN};
    struct knock k = {.c = c, .pegs = !isnan(c->peg_load)};
    int rc = rim_section(&k, c, err);
    if (rc) return rc;
    if (c->sheet <= 0)
        return fail(err, ERR_RANGE, "Leave it out for a sheet that does not yield.",
                    "A sheet of stiffness %g N/mm", c->sheet);
    if (!(c->tie_spacing > 0) || (k.pegs && !(c->peg_spacing > 0 && c->peg_load > 0)))
        return fail(err, ERR_RANGE, "Measure spacings from middle to middle in mm.",
                    "Ties %g mm and pegs %g mm apart", c->tie_spacing, c->peg_spacing);
    struct num_dist in[KN_COUNT];
    rc = knock_inputs(in, out, shelf, c, arena, err);
    if (rc) return rc;
    out->bed = cord_bed(num_dist_quantile(&in[KN_RIM_E], 0.5) * k.second,
                        num_dist_quantile(&in[KN_TIE_STIFF], 0.5), c->tie_spacing);
    rc = body_weakest(&out->push, knock_names, KNOCK_MODES, in, KN_COUNT, knock_loads, &k, arena,
                      err);
    k.energy = 1;
    if (!rc)
        rc = body_weakest(&out->energy, knock_names, KNOCK_MODES, in, KN_COUNT, knock_loads, &k,
                          arena, err);
    struct knock alone = k;
    alone.pegs = 0;
    struct body_failure without;
    if (!rc)
        rc = body_weakest(&without, knock_names, KNOCK_MODES, in, KN_COUNT, knock_loads, &alone,
                          arena, err);
    if (rc) return rc;
    out->energy_without = without.load;
    out->ratio = out->energy.load / without.load;
    if (isnan(c->mass)) return 0;
    out->drop = out->energy.load / (c->mass * GRAM_WEIGHT);
    if (isnan(c->drop)) return 0;
    double sd = log(out->energy.p95 / out->energy.p05) / (2 * 1.6448536269514722);
    struct num_dist f = num_dist_lognormal(out->energy.load, fmax(sd, 1e-6));
    out->survives = 1 - num_dist_cdf(&f, c->mass * GRAM_WEIGHT * c->drop);
    return 0;
}
