#include "body/holes.h"

#include "stuff/strength.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- stresses ------------------------------------------------------------------------------- */

double holes_factor(double e1, double e2, double g12, double nu12) {
    double inside = 2 * (sqrt(e1 / e2) - nu12) + e1 / g12;
    return 1 + sqrt(fmax(0, inside)); /* Lekhnitskii, Anisotropic Plates */
}

double holes_factor_across(double e1, double e2, double g12, double nu12) {
    return holes_factor(e2, e1, g12, nu12 * e2 / e1);
}

double holes_factor_bending(double nu) {
    return (5 + 3 * nu) / (3 + nu);
}

double holes_factor_net(double r) {
    return 3 - 3.14 * r + 3.67 * r * r - 1.53 * r * r * r; /* Peterson */
}

double holes_point_stress(double radius, double distance, double kt) {
    double x = radius / (radius + distance), x2 = x * x, x4 = x2 * x2;
    /* Whitney and Nuismer 1974, J. Composite Materials 8, 253 (orthotropic form) */
    return 2 / (2 + x2 + 3 * x4 - (kt - 3) * (5 * x4 * x2 - 7 * x4 * x4));
}

double slit_point_stress(double a, double distance) {
    double x = a / (a + distance);
    return sqrt(fmax(0, 1 - x * x)); /* Whitney and Nuismer 1974, straight crack */
}

double holes_net_share(double diameter, double pitch) {
    return 1 - diameter / pitch;
}

/* ---- strengths of a sheet ------------------------------------------------------------------- */

/* Inputs of the draws, in this order. */
enum {
    IN_TENSION_LOAD,  /* along the pull */
    IN_TENSION_CROSS, /* square to it */
    IN_SHEAR,         /* along the grain */
    IN_BEARING,
    IN_E1,
    IN_E2,
    IN_G,
    IN_NU,
    IN_DISTANCE,
    IN_TAKEN,  /* share of a hole's width that is missing fibre */
    IN_SPREAD, /* wedge force of a cord in a hole over its pull */
    IN_SHEET,  /* thickness, mm */
    IN_COUNT
};

struct sheet_ask {
    const char *material;
    long class, layer, state, load_direction;
};

static int one(struct num_dist *out, long *standing, const struct stuff_shelf *shelf,
               const struct sheet_ask *a, enum stuff_property property, long direction,
               struct error *err) {
    struct stuff_ask ask = stuff_ask(a->material, property);
    ask.class = a->class;
    ask.layer = a->layer;
    ask.state = a->state;
    ask.direction = direction;
    struct stuff_prior p;
    int rc = stuff_material_prior(&p, shelf, &ask, err);
    if (rc) return rc;
    *out = p.dist;
    if (p.standing > *standing) *standing = p.standing;
    return 0;
}

/* Characteristic length of the point-stress criterion: about 1 mm in fibre laminates; nothing
 * published for bark or hide. A guess. */
#define DISTANCE_MEDIAN 2.0
#define DISTANCE_LOG_SD 0.65
/* A cord pulling in a hole wedges the grain apart with a sixth of its pull (pin-loaded plates an
 * eighth to a fifth). A guess. */
#define SPREAD_MEDIAN 0.16
#define SPREAD_LOG_SD 0.35

static int sheet_inputs(struct num_dist in[IN_COUNT], long *standing,
                        const struct stuff_shelf *shelf, const struct sheet_ask *a, int cut,
                        struct error *err) {
    long load = a->load_direction, cross = load == STUFF_ALONG ? STUFF_AROUND : STUFF_ALONG;
    int rc = one(&in[IN_TENSION_LOAD], standing, shelf, a, STUFF_TENSION, load, err);
    if (!rc) rc = one(&in[IN_TENSION_CROSS], standing, shelf, a, STUFF_TENSION, cross, err);
    if (!rc) rc = one(&in[IN_E1], standing, shelf, a, STUFF_E, STUFF_ALONG, err);
    if (!rc) rc = one(&in[IN_E2], standing, shelf, a, STUFF_E, STUFF_AROUND, err);
    if (rc) return rc;
    /* Not every material has these: then what a sheet like it would have. */
    if (one(&in[IN_SHEAR], standing, shelf, a, STUFF_SHEAR, STUFF_ALONG, NULL)) {
        in[IN_SHEAR] = in[IN_TENSION_CROSS];
        *standing = STANDING_GUESS;
    }
    if (one(&in[IN_BEARING], standing, shelf, a, STUFF_BEARING, load, NULL)) {
        in[IN_BEARING] = in[IN_TENSION_LOAD];
        *standing = STANDING_GUESS;
    }
    if (one(&in[IN_G], standing, shelf, a, STUFF_G, STUFF_AROUND, NULL)) {
        in[IN_G] = in[IN_E2];
        in[IN_G].a *= in[IN_G].family == NUM_LOGNORMAL ? 1 / 2.6 : 1;
    }
    if (one(&in[IN_NU], standing, shelf, a, STUFF_POISSON, STUFF_AROUND, NULL))
        in[IN_NU] = num_dist_fixed(0.35);
    in[IN_DISTANCE] = num_dist_lognormal(DISTANCE_MEDIAN, DISTANCE_LOG_SD);
    in[IN_TAKEN] = cut ? num_dist_fixed(1) : num_dist_uniform(0.2, 0.8);
    in[IN_SPREAD] = num_dist_lognormal(SPREAD_MEDIAN, SPREAD_LOG_SD);
    return 0;
}

/* What fissures and flaws leave of the strengths, along and around. */
struct left {
    double tension[2], thickness; /* by direction of the pull: along, around */
    double flaw[2];               /* half a flaw square to that pull, mm */
};

static int flaws_left(struct left *out, double thickness, const struct holes_flaws *f,
                      struct error *err) {
    *out = (struct left){{1, 1}, 1, {0, 0}};
    if (f->around > 0) out->flaw[0] = f->around / 2;
    if (f->along > 0) out->flaw[1] = f->along / 2;
    if (!(f->fissures.depth > 0)) return 0;
    struct stuff_fissured x;
    int rc = stuff_bark_fissured(&x, thickness, &f->fissures, err);
    if (rc) return rc;
    out->tension[0] = x.tension_along;
    out->tension[1] = x.tension_around;
    out->thickness = x.tension_along; /* holes fall on ridges and grooves alike: the mean */
    return 0;
}

/* Tension strength of a draw in the direction of the pull, with what weakens it. */
static double weakened(const double *x, const struct left *left, long load) {
    int d = load == STUFF_ALONG ? 0 : 1;
    return x[IN_TENSION_LOAD] * left->tension[d] *
           stuff_strength_flawed(left->flaw[d], x[IN_DISTANCE]);
}

/* A pair of moduli and a ratio that no material could have is brought back to the limit. */
static double factor_of(const double *x, long load) {
    double nu = fmin(x[IN_NU], 0.95 * sqrt(x[IN_E1] / x[IN_E2]));
    return load == STUFF_ALONG ? holes_factor(x[IN_E1], x[IN_E2], x[IN_G], nu)
                               : holes_factor_across(x[IN_E1], x[IN_E2], x[IN_G], nu);
}

/* ---- a row of stitches ---------------------------------------------------------------------- */

struct row {
    const struct holes_case *c;
    double period, stitches; /* of one group and its gap */
    double share;            /* length of row that the worst stitch carries */
    long load;
    struct left left;
};

/* Length of row each stitch of a group carries; the end ones reach half way across the gap. */
static double worst_share(const struct holes_case *c) {
    if (c->group <= 1) return isnan(c->gap) ? c->pitch : c->gap;
    double end = (c->pitch + c->gap) / 2;
    return c->group > 2 ? fmax(c->pitch, end) : end;
}

static const char *const row_names[] = {
    "holes tear out to the edge", "sheet parts along the row of holes", "cord cuts into the holes",
    "sheet splits along the grain from a hole", "a whole group of stitches pulls out"};
enum { ROW_MODES = 5 };

/* Shear planes that run round the stem cut fibres instead of parting them: three times as strong as
 * splitting. A guess from wood, whose shear across the grain is 2.5 to 3 times that along. */
#define SHEAR_ACROSS 3.0

static void row_loads(double *load, const double *x, const void *context) {
    const struct row *r = context;
    const struct holes_case *c = r->c;
    double t = x[IN_SHEET] * r->left.thickness, d = c->diameter, taken = d * x[IN_TAKEN];
    double tension = weakened(x, &r->left, r->load);
    double shear = x[IN_SHEAR] * (r->load == STUFF_ALONG ? 1 : SHEAR_ACROSS);
    double plug = isnan(c->edge) ? INFINITY : 2 * t * (c->edge - d / 2) * shear;
    load[0] = plug / r->share;
    /* Net section with the hole's own concentration, whichever is less. */
    double ratio = fmin(taken / r->period * r->stitches, 0.98);
    double kt = factor_of(x, r->load), width = fmin(taken / fmin(c->pitch, r->period), 0.98);
    double narrow = holes_factor_net(width) / (1 - width) / 3;
    double point = holes_point_stress(taken / 2, x[IN_DISTANCE], kt) / fmax(1, narrow);
    load[1] = tension * x[IN_SHEET] * fmin(1 - ratio, point);
    double cord = isnan(c->cord) ? d : fmin(c->cord, d);
    load[2] = x[IN_BEARING] * cord * t / r->share;
    double ends = isnan(c->edge) ? 10 * d : c->edge;
    load[3] = r->load == STUFF_ALONG
                  ? x[IN_TENSION_CROSS] * t * ends / 2 / x[IN_SPREAD] / r->share
                  : INFINITY; /* pulled across the grain it parts along the row: mode 2 */
    load[4] = INFINITY;
    if (c->group > 1 && isfinite(plug)) {
        double between = (c->group - 1) * (c->pitch - taken);
        load[4] = (plug + tension * x[IN_SHEET] * between) / r->period;
    }
}

static int row_check(const struct holes_case *c, struct error *err) {
    if (!(c->thickness > 0 && c->thickness < 100) || !(c->diameter > 0))
        return fail(err, ERR_RANGE, "Measure thickness and hole in mm.",
                    "Holes of %g mm in a sheet %g mm thick", c->diameter, c->thickness);
    if (!(c->pitch > c->diameter))
        return fail(err, ERR_RANGE, "Measure the pitch from middle to middle.",
                    "A pitch of %g mm with holes of %g mm: nothing is left between them", c->pitch,
                    c->diameter);
    if (c->edge <= c->diameter / 2)
        return fail(err, ERR_RANGE, "Measure from the middle of the hole to the edge.",
                    "An edge distance of %g mm with holes of %g mm: the hole is open", c->edge,
                    c->diameter);
    if (!(c->group >= 1 && c->group < 1000) || (c->group > 1 && !(c->gap >= c->pitch)))
        return fail(
            err, ERR_RANGE,
            "Give the stitches of a group and the distance across the gap, middle to middle.",
            "Groups of %g with a gap of %g mm at a pitch of %g mm", c->group, c->gap, c->pitch);
    if (c->runs != STUFF_ALONG && c->runs != STUFF_AROUND)
        return fail(err, ERR_MISSING, "Say whether the row runs along or around the stem.",
                    "The direction of the row is not known");
    return 0;
}

/* Rules R82 to R84 of the trade, common practice: warn under 0.75 of the section, stop under 0.60;
 * edge distance at least two holes; hole to cord. */
static const char *row_warning(const struct holes_case *c, double net, struct arena *arena) {
    const char *text = NULL;
    if (net < 0.75)
        text = arena_printf(arena, "only %.0f %% of the section is left between holes%s", 100 * net,
                            net < 0.60 ? "; makers stop at 60 %" : "; makers want 75 %");
    if (c->edge < 2 * c->diameter)
        text = arena_printf(arena, "%s%sthe edge is %.1f holes away; makers want 2, better 3",
                            text ? text : "", text ? "; " : "", c->edge / c->diameter);
    return text;
}

/* Strain at which a test of bearing is stopped: 5 % of the diameter (ASTM D5764). */
#define BEARING_OFFSET 0.05

static double elongation(const struct holes_case *c, double bearing, double share) {
    if (isnan(c->pull)) return NAN;
    double cord = isnan(c->cord) ? c->diameter : fmin(c->cord, c->diameter);
    double used = c->pull * share / (bearing * cord * c->thickness);
    return used >= 1 ? INFINITY : BEARING_OFFSET * c->diameter * used;
}

struct pulled {
    body_loads *loads;
    const void *context;
    size_t modes;
    double pull;
};
static int bears(const double *x, const void *context) {
    const struct pulled *p = context;
    double load[BODY_MODES_MOST];
    p->loads(load, x, p->context);
    for (size_t i = 0; i < p->modes; i++)
        if (load[i] < p->pull) return 0;
    return 1;
}

static struct row row_of(const struct holes_case *c) {
    bool grouped = c->group > 1;
    return (struct row){.c = c,
                        .stitches = c->group,
                        .period = grouped ? (c->group - 1) * c->pitch + c->gap
                                          : (isnan(c->gap) ? c->pitch : c->gap),
                        .share = worst_share(c),
                        .load = c->runs == STUFF_ALONG ? STUFF_AROUND : STUFF_ALONG};
}

int holes_row(struct holes_result *out, const struct stuff_shelf *shelf, const struct holes_case *c,
              struct arena *arena, struct error *err) {
    *out = (struct holes_result){.holds = NAN, .elongation = NAN};
    int rc = row_check(c, err);
    if (rc) return rc;
    struct row r = row_of(c);
    rc = flaws_left(&r.left, c->thickness, &c->flaws, err);
    if (rc) return rc;
    struct num_dist in[IN_COUNT];
    struct sheet_ask ask = {c->material, c->class, c->layer, c->state, r.load};
    rc = sheet_inputs(in, &out->standing, shelf, &ask, c->cut, err);
    if (!rc)
        rc = body_size_input(&in[IN_SHEET], c->thickness, c->thickness_low, c->thickness_high,
                             "thickness", err);
    if (!rc)
        rc = body_weakest(&out->failure, row_names, ROW_MODES, in, IN_COUNT, row_loads, &r, arena,
                          err);
    if (rc) return rc;
    double middle[IN_COUNT];
    for (size_t i = 0; i < IN_COUNT; i++)
        middle[i] = num_dist_quantile(&in[i], 0.5);
    out->kt = factor_of(middle, r.load);
    out->net = 1 - c->group * c->diameter / r.period;
    out->per_stitch = out->failure.load * r.share;
    out->after_first = out->failure.load * r.share / (r.share + c->pitch / 2);
    out->warning = row_warning(c, holes_net_share(c->diameter, c->pitch), arena);
    out->elongation = elongation(c, middle[IN_BEARING], r.share);
    struct pulled p = {row_loads, &r, ROW_MODES, c->pull};
    if (!isnan(c->pull)) out->holds = body_share(in, IN_COUNT, bears, &p);
    struct holes_case spread = *c;
    spread.group = 1;
    spread.gap = NAN;
    spread.pitch = r.period / r.stitches;
    struct row even = row_of(&spread);
    even.left = r.left;
    struct body_failure f;
    rc = body_weakest(&f, row_names, ROW_MODES, in, IN_COUNT, row_loads, &even, arena, err);
    out->even = f.load;
    return rc;
}

/* ---- a slit --------------------------------------------------------------------------------- */

static const char *const slit_names[] = {"tears from the ends of the slit",
                                         "parts between the slits",
                                         "end of the slit tears to the edge"};
enum { SLIT_MODES = 3 };

struct slit {
    const struct slit_case *c;
    long load;
    struct left left;
};

/* Cracks in one line at a pitch attract each other: sqrt(tan(x)/x), x = pi L / (2 pitch) (exact for
 * an endless row). Towards an edge a distance e from the tip counts as a row at pitch L + 2 e. */
static double neighbours(double length, double pitch) {
    if (isnan(pitch)) return 1;
    double x = M_PI * length / (2 * pitch);
    return sqrt(tan(x) / x);
}

static void slit_loads(double *load, const double *x, const void *context) {
    const struct slit *s = context;
    const struct slit_case *c = s->c;
    double a = c->length / 2, strength = weakened(x, &s->left, s->load) * x[IN_SHEET];
    double left = slit_point_stress(a, x[IN_DISTANCE]);
    if (c->tip > 0) {
        /* Rounded ends: Inglis 1 + 2 sqrt(a/tip), stretched to this sheet by Lekhnitskii's factor.
         */
        double kt = 1 + (factor_of(x, s->load) - 1) * sqrt(a / c->tip);
        left = fmax(left, 1 / kt);
    }
    load[0] = strength * left / neighbours(c->length, c->pitch);
    load[1] = isnan(c->pitch) ? INFINITY : strength * (1 - c->length / c->pitch);
    load[2] = isnan(c->edge)
                  ? INFINITY
                  : strength * fmin(left / neighbours(c->length, c->length + 2 * c->edge),
                                    2 * c->edge / (c->length + 2 * c->edge));
}

static int slit_check(const struct slit_case *c, struct error *err) {
    if (!(c->thickness > 0 && c->thickness < 100) || !(c->length > 0 && c->length < 1e4))
        return fail(err, ERR_RANGE, "Measure the length of the slit and the thickness in mm.",
                    "A slit of %g mm in a sheet %g mm thick", c->length, c->thickness);
    if (c->pitch <= c->length)
        return fail(err, ERR_RANGE, "Measure the pitch from middle to middle of the slits.",
                    "Slits of %g mm at a pitch of %g mm run into each other", c->length, c->pitch);
    if (c->edge <= 0)
        return fail(err, ERR_RANGE, "Measure from the tip to the edge.", "A slit open to the edge");
    if (c->runs != STUFF_ALONG && c->runs != STUFF_AROUND)
        return fail(err, ERR_MISSING, "Say whether the slit runs along or around the stem.",
                    "The direction of the slit is not known");
    return 0;
}

int slit_row(struct slit_result *out, const struct stuff_shelf *shelf, const struct slit_case *c,
             struct arena *arena, struct error *err) {
    *out = (struct slit_result){.holds = NAN};
    int rc = slit_check(c, err);
    if (rc) return rc;
    struct slit s = {.c = c, .load = c->runs == STUFF_ALONG ? STUFF_AROUND : STUFF_ALONG};
    rc = flaws_left(&s.left, c->thickness, &c->flaws, err);
    if (rc) return rc;
    struct num_dist in[IN_COUNT];
    struct sheet_ask ask = {c->material, c->class, c->layer, c->state, s.load};
    rc = sheet_inputs(in, &out->standing, shelf, &ask, 1, err);
    if (!rc)
        rc = body_size_input(&in[IN_SHEET], c->thickness, c->thickness_low, c->thickness_high,
                             "thickness", err);
    if (!rc)
        rc = body_weakest(&out->failure, slit_names, SLIT_MODES, in, IN_COUNT, slit_loads, &s,
                          arena, err);
    if (rc) return rc;
    double strength = num_dist_quantile(&in[IN_TENSION_LOAD], 0.5) * c->thickness;
    out->left = out->failure.load / strength;
    struct pulled p = {slit_loads, &s, SLIT_MODES, c->pull};
    if (!isnan(c->pull)) out->holds = body_share(in, IN_COUNT, bears, &p);
    return 0;
}
