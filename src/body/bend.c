#include "body/bend.h"

#include "body/weakest.h"

#include <math.h>
#include <string.h>

double bend_radius_on_stem(double diameter, double thickness) {
    return (diameter - thickness) / 2;
}

double bend_strain(double thickness, double k0, double k1) {
    return thickness * fabs(k1 - k0) / 2;
}

double bend_radius(double thickness, double strain) {
    return thickness / (2 * strain);
}

struct bend_two bend_strain_two(double t1, double e1, double t2, double e2, double dk) {
    double z = (e1 * t1 * t1 / 2 + e2 * t2 * (t1 + t2 / 2)) / (e1 * t1 + e2 * t2);
    return (struct bend_two){z, -dk * z, dk * (t1 + t2 - z)};
}

double bend_two_layer(double h1, double e1, double h2, double e2, double misfit) {
    /* Timoshenko 1925, J. Opt. Soc. Am. 11, 233: rectangular strip of two layers */
    double a = e1 * h1 * h1, b = e2 * h2 * h2;
    double down = a * a + 4 * e1 * e2 * h1 * h1 * h1 * h2 + 6 * e1 * e2 * h1 * h1 * h2 * h2 +
                  4 * e1 * e2 * h1 * h2 * h2 * h2 + b * b;
    return 6 * e1 * e2 * h1 * h2 * (h1 + h2) * misfit / down;
}

static double arc_radius(double c, double s) {
    return s > 0 ? c * c / (8 * s) + s / 2 : INFINITY;
}

struct bend_arc bend_arc_radius(double chord, double rise, double error) {
    return (struct bend_arc){arc_radius(chord, rise), arc_radius(chord, rise + error),
                             arc_radius(chord, rise - error)};
}

double bend_after_release(double curvature, double share, double tau, double held) {
    return curvature * (1 - share * (1 - exp(-held / tau)));
}

/* ---- trying states -------------------------------------------------------------------------- */

#define AT(member) .name = #member, .offset = offsetof(struct bend_try, member)
#define MM(member, words, tip)                                                                     \
    { AT(member), .label = words, .unit = "mm", .type = FIELD_REAL, .help = tip }
#define PERCENT(member, words, tip)                                                                \
    {                                                                                              \
        AT(member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,          \
                    .help = tip                                                                    \
    }
static const struct field try_fields[] = {
    {AT(state), .label = "State", .type = FIELD_TEXT, .help = "Of the material when it is bent."},
    PERCENT(limit, "Limit", "Strain at which half of them crack."),
    PERCENT(limit_p05, "5 % point", "One in twenty cracks below."),
    PERCENT(limit_p95, "95 % point", "One in twenty holds above."),
    PERCENT(cracks, "Chance of a crack", "At the radius asked for."),
    MM(radius, "Radius, even chance", "Of the middle; half of them crack."),
    MM(radius_safe, "Radius, one crack in twenty", "Of the middle."),
    MM(thickness_safe, "Thickness, one crack in twenty", "At the radius asked for."),
    {AT(standing), .label = "Standing", .type = FIELD_TEXT, .help = "How the limit is known."},
    {AT(source), .label = "Source", .type = FIELD_TEXT, .help = "Of the limit."},
};
const struct kind bend_try_kind = {"bend_try", "A way of bending", sizeof(struct bend_try),
                                   FIELDS(try_fields), ""};

static void judge(struct bend_try *t, const struct stuff_prior *p, const struct bend_case *c,
                  double strain) {
    double change = fabs(c->to_curvature - c->from_curvature);
    t->limit = p->median;
    t->limit_p05 = p->p05;
    t->limit_p95 = p->p95;
    t->cracks = num_dist_cdf(&p->dist, strain);
    t->radius = bend_radius(c->thickness, p->median);
    t->radius_safe = bend_radius(c->thickness, p->p05);
    t->thickness_safe = 2 * p->p05 / change;
    t->standing = standing_words[p->standing];
    t->source = p->source;
}

/* Wood can also be held by a strap, or twisted: rows of the table that are no plain states. */
static int more_for_wood(struct bend_try *out, size_t *n, const struct stuff_shelf *shelf,
                         const struct bend_case *c, double strain, struct error *err) {
    static const char *const ways[] = {"steamed with strap", "twisted"};
    for (size_t i = 0; i < 2; i++) {
        struct stuff_query q = {
            .quantity = "bend_strain_limit", .material = "wood, general", .condition = ways[i]};
        const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL);
        if (!f) continue;
        struct stuff_prior p = {.standing = f->standing, .source = f->source};
        int rc =
            stuff_prior_points(&p, NUM_LOGNORMAL, f->value / 100, f->low / 100, f->high / 100, err);
        if (rc) return rc;
        out[*n].state = ways[i];
        judge(&out[(*n)++], &p, c, strain);
    }
    return 0;
}

int bend_tries(struct bend_try out[BEND_TRIES_MOST], size_t *n, double *strain,
               const struct stuff_shelf *shelf, const struct bend_case *c, struct error *err) {
    static const long states[] = {STUFF_DRY, STUFF_FRESH, STUFF_SOAKED, STUFF_STEAMED};
    *n = 0;
    if (!(c->thickness > 0 && c->thickness < 1000) || !isfinite(c->from_curvature) ||
        !isfinite(c->to_curvature))
        return fail(err, ERR_RANGE, "Measure the thickness in the plane of bending in mm.",
                    "A thickness of %g mm from curvature %g to %g", c->thickness, c->from_curvature,
                    c->to_curvature);
    double worst = fmax(fabs(c->from_curvature), fabs(c->to_curvature)) * c->thickness / 2;
    if (worst >= 1)
        return fail(err, ERR_RANGE, "The radius of the middle must be over half the thickness.",
                    "A radius of %g mm for a thickness of %g mm",
                    1 / fmax(fabs(c->from_curvature), fabs(c->to_curvature)), c->thickness);
    *strain = bend_strain(c->thickness, c->from_curvature, c->to_curvature);
    struct stuff_material m = stuff_material_read(shelf, c->material);
    if (c->class != FIELD_UNKNOWN) m.class = c->class;
    struct stuff_ask ask = stuff_ask(c->material, STUFF_BEND_STRAIN);
    ask.class = m.class;
    ask.layer = c->layer;
    ask.direction = c->direction == FIELD_UNKNOWN ? STUFF_ALONG : c->direction;
    if (m.class == STUFF_WOOD && ask.direction != STUFF_ALONG)
        return fail(err, ERR_REFUSED, "Bend wood so that its grain runs round the bend.",
                    "No limit is known for wood bent across its grain; it splits at once");
    bool wood = m.class == STUFF_WOOD;
    for (size_t i = 0; i < (wood ? 4u : 2u); i++) {
        struct stuff_prior p;
        ask.state = states[i];
        int rc = stuff_material_prior(&p, shelf, &ask, err);
        if (rc) return rc;
        out[*n].state = wood || i == 0 ? stuff_state_words[states[i]] : "damp or soaked";
        judge(&out[(*n)++], &p, c, *strain);
    }
    return wood ? more_for_wood(out, n, shelf, c, *strain, err) : 0;
}
