#include "body/peg.h"

#include "stuff/strength.h"

#include <math.h>
#include <stdio.h>

double peg_embedment(double d, double rho) {
    return 0.082 * (1 - 0.01 * d) * rho; /* EN 1995-1-1 Eq 8.32 */
}

double peg_embedment_k90(double d, int softwood) {
    return (softwood ? 1.35 : 0.90) + 0.015 * d; /* Eq 8.33 */
}

double peg_embedment_angle(double along, double k90, double angle) {
    double s = sin(angle), c = cos(angle);
    return along / (k90 * s * s + c * c); /* Eq 8.31 */
}

double peg_moment_steel(double fu, double d) {
    return 0.3 * fu * pow(d, 2.6); /* Eq 8.30 */
}

double peg_moment_wood(double mor, double d) {
    return mor * M_PI * d * d * d / 32;
}

struct peg_johansen peg_johansen(double fh1, double t1, double fh2, double t2, double d,
                                 double my) {
    struct peg_johansen j;
    double b = fh2 / fh1, r = t2 / t1, f1 = fh1 * t1 * d;
    /* EN 1995-1-1 Eq 8.6 (a) to (f) */
    j.a = f1;
    j.b = fh2 * t2 * d;
    j.c = f1 / (1 + b) * (sqrt(b + 2 * b * b * (1 + r + r * r) + b * b * b * r * r) - b * (1 + r));
    j.d = 1.05 * f1 / (2 + b) *
          (sqrt(2 * b * (1 + b) + 4 * b * (2 + b) * my / (fh1 * d * t1 * t1)) - b);
    j.e = 1.05 * fh1 * t2 * d / (1 + 2 * b) *
          (sqrt(2 * b * b * (1 + b) + 4 * b * (1 + 2 * b) * my / (fh1 * d * t2 * t2)) - b);
    j.f = 1.15 * sqrt(2 * b / (1 + b)) * sqrt(2 * my * fh1 * d);
    const double all[] = {j.a, j.b, j.c, j.d, j.e, j.f};
    j.least = all[0];
    j.mode = 'a';
    for (int i = 1; i < 6; i++)
        if (all[i] < j.least) {
            j.least = all[i];
            j.mode = (char)('a' + i);
        }
    return j;
}

double nds_bearing_along(double g) {
    return 11200 * g;
}
double nds_bearing_across(double g, double d) {
    return 6100 * pow(g, 1.45) / sqrt(d);
}
double nds_bearing_small(double g) {
    return 16600 * pow(g, 1.84);
}

double peg_shear(double peg, double timber) {
    return 4850 * peg * pow(timber, 0.75) * stuff_unit_factor("lbf/in2"); /* TFEC 1, from memory */
}

/* ---- a wooden peg --------------------------------------------------------------------------- */

enum {
    IN_FH1,
    IN_FH2,
    IN_SHEAR1,
    IN_SHEAR2,
    IN_PULL1, /* tension of the side in the direction of the load, for its net section */
    IN_PULL2,
    IN_MOR,
    IN_PEG_DENSITY,
    IN_T1, /* thickness of the sides */
    IN_T2,
    IN_MODEL, /* how well the equations hold for wooden pegs */
    IN_COUNT
};

/* Steel-pin equations on wooden pegs: NDS yield equations "work" (Schmidt and MacKay 1997); a
 * quarter either way is a guess. */
#define MODEL_LOG_SD 0.25

struct joint {
    const struct peg_case *c;
    double timber_gravity;
};

static const char *const names[] = {
    "wood bears and the peg turns or hinges", "peg shears through",
    "first side tears out behind the peg",    "second side tears out behind the peg",
    "first side breaks across the hole",      "second side breaks across the hole"};
enum { MODES = 6 };

static double tear_out(const struct peg_side *s, double thickness, double d, double shear) {
    if (isnan(s->edge)) return INFINITY;
    return 2 * thickness * (s->edge - d / 2) * shear;
}
static double net_section(const struct peg_side *s, double thickness, double d, double strength) {
    if (isnan(s->width)) return INFINITY;
    return thickness * (s->width - d) * strength;
}

static void loads(double *load, const double *x, const void *context) {
    const struct joint *j = context;
    const struct peg_case *c = j->c;
    double d = c->diameter, my = peg_moment_wood(x[IN_MOR], d);
    load[0] = peg_johansen(x[IN_FH1], x[IN_T1], x[IN_FH2], x[IN_T2], d, my).least * x[IN_MODEL];
    double shear = peg_shear(x[IN_PEG_DENSITY] / 1e-3, j->timber_gravity);
    load[1] = shear * M_PI * d * d / 4 * x[IN_MODEL];
    load[2] = tear_out(&c->first, x[IN_T1], d, x[IN_SHEAR1]);
    load[3] = tear_out(&c->second, x[IN_T2], d, x[IN_SHEAR2]);
    load[4] = net_section(&c->first, x[IN_T1], d, x[IN_PULL1]);
    load[5] = net_section(&c->second, x[IN_T2], d, x[IN_PULL2]);
}

static int ask_of(struct num_dist *out, long *standing, const struct stuff_shelf *shelf,
                  const char *material, long class, enum stuff_property property, long direction,
                  int wet, struct error *err) {
    struct stuff_ask ask = stuff_ask(material, property);
    ask.class = class;
    ask.direction = direction;
    ask.state = wet ? STUFF_FRESH : STUFF_DRY;
    struct stuff_prior p;
    int rc = stuff_material_prior(&p, shelf, &ask, err);
    if (rc) return rc;
    *out = p.dist;
    if (p.standing > *standing) *standing = p.standing;
    return 0;
}

/* Strength at the angle of the load, kept as a lognormal of the two ends by Hankinson's rule. */
static int at_angle(struct num_dist *out, long *standing, const struct stuff_shelf *shelf,
                    const struct peg_side *s, enum stuff_property property, int wet,
                    struct error *err) {
    struct num_dist along, across;
    int rc =
        ask_of(&along, standing, shelf, s->material, s->class, property, STUFF_ALONG, wet, err);
    if (!rc)
        rc = ask_of(&across, standing, shelf, s->material, s->class, property, STUFF_AROUND, wet,
                    err);
    if (rc) return rc;
    double m = stuff_strength_angle(num_dist_quantile(&along, 0.5), num_dist_quantile(&across, 0.5),
                                    s->angle);
    double share = sin(s->angle) * sin(s->angle);
    double sd_along = log(num_dist_quantile(&along, 0.95) / num_dist_quantile(&along, 0.5));
    double sd_across = log(num_dist_quantile(&across, 0.95) / num_dist_quantile(&across, 0.5));
    *out = num_dist_lognormal(m, ((1 - share) * sd_along + share * sd_across) / 1.6448536269514722);
    return 0;
}

static int side(struct num_dist *fh, struct num_dist *shear, struct num_dist *pull, long *standing,
                const struct stuff_shelf *shelf, const struct peg_side *s, int wet,
                struct error *err) {
    int rc = at_angle(fh, standing, shelf, s, STUFF_BEARING, wet, err);
    if (!rc)
        rc = ask_of(shear, standing, shelf, s->material, s->class, STUFF_SHEAR, STUFF_ALONG, wet,
                    err);
    if (!rc) rc = at_angle(pull, standing, shelf, s, STUFF_TENSION, wet, err);
    return rc;
}

static int side_thickness(struct num_dist *out, const struct peg_side *s, struct error *err) {
    return body_size_input(out, s->thickness, s->thickness_low, s->thickness_high, "thickness",
                           err);
}

static int check_side(const struct peg_side *s, double d, const char *which, struct error *err) {
    if (!(s->thickness > 0 && s->thickness < 1000))
        return fail(err, ERR_RANGE, "Measure the thickness along the peg in mm.",
                    "The %s side is %g mm thick", which, s->thickness);
    if (s->width <= d || s->edge <= d / 2)
        return fail(err, ERR_RANGE, "Take a thinner peg or a wider part.",
                    "A hole of %g mm leaves nothing of the %s side (width %g, edge %g mm)", d,
                    which, s->width, s->edge);
    return 0;
}

static const char *warning(const struct peg_case *c, struct arena *arena) {
    double d = c->diameter;
    const struct peg_side *s[] = {&c->first, &c->second};
    for (int i = 0; i < 2; i++) {
        if (s[i]->edge < 3 * d)
            return arena_printf(arena, "edge distance %.1f pegs on the %s side; makers want 3",
                                s[i]->edge / d, i ? "second" : "first");
        if (s[i]->width < 3 * d)
            return arena_printf(arena, "the peg takes %.0f %% of the width of the %s side",
                                100 * d / s[i]->width, i ? "second" : "first");
    }
    return NULL;
}

int peg_joint(struct peg_result *out, const struct stuff_shelf *shelf, const struct peg_case *c,
              struct arena *arena, struct error *err) {
    *out = (struct peg_result){.holds = NAN};
    if (!(c->diameter > 0 && c->diameter <= 30))
        return fail(err, ERR_RANGE, "The equations hold up to 30 mm.", "A peg of %g mm",
                    c->diameter);
    int rc = check_side(&c->first, c->diameter, "first", err);
    if (!rc) rc = check_side(&c->second, c->diameter, "second", err);
    if (rc) return rc;
    struct num_dist in[IN_COUNT], timber;
    long *st = &out->standing;
    const char *peg = c->peg && *c->peg ? c->peg : "wood peg";
    rc = side(&in[IN_FH1], &in[IN_SHEAR1], &in[IN_PULL1], st, shelf, &c->first, c->wet, err);
    if (!rc)
        rc = side(&in[IN_FH2], &in[IN_SHEAR2], &in[IN_PULL2], st, shelf, &c->second, c->wet, err);
    if (!rc)
        rc = ask_of(&in[IN_MOR], st, shelf, peg, STUFF_WOOD, STUFF_BENDING, STUFF_ALONG, c->wet,
                    err);
    if (!rc)
        rc = ask_of(&in[IN_PEG_DENSITY], st, shelf, peg, STUFF_WOOD, STUFF_DENSITY_BASIC,
                    FIELD_UNKNOWN, 0, err);
    struct joint j = {c, 0.5};
    if (!rc && !ask_of(&timber, st, shelf, c->first.material, c->first.class, STUFF_DENSITY_BASIC,
                       FIELD_UNKNOWN, 0, NULL))
        j.timber_gravity = num_dist_quantile(&timber, 0.5) / 1e-3;
    in[IN_MODEL] = num_dist_lognormal(1, MODEL_LOG_SD);
    if (!rc) rc = side_thickness(&in[IN_T1], &c->first, err);
    if (!rc) rc = side_thickness(&in[IN_T2], &c->second, err);
    if (!rc) rc = body_weakest(&out->failure, names, MODES, in, IN_COUNT, loads, &j, arena, err);
    if (rc) return rc;
    double mid[IN_COUNT];
    for (size_t i = 0; i < IN_COUNT; i++)
        mid[i] = num_dist_quantile(&in[i], 0.5);
    out->modes = peg_johansen(mid[IN_FH1], c->first.thickness, mid[IN_FH2], c->second.thickness,
                              c->diameter, peg_moment_wood(mid[IN_MOR], c->diameter));
    out->warning = warning(c, arena);
    out->caveat =
        "The equations were fitted to steel pins in building timber. Size end and edge so "
        "that the peg goes first, and test a spare.";
    if (!isnan(c->load)) {
        double below = 0;
        /* share of draws that fail below the load, from the three points of the failure load */
        double sd = log(out->failure.p95 / out->failure.p05) / (2 * 1.6448536269514722);
        struct num_dist f = num_dist_lognormal(out->failure.load, fmax(sd, 1e-6));
        below = num_dist_cdf(&f, c->load);
        out->holds = 1 - below;
    }
    return 0;
}
