#include "stuff/bast.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

double stuff_cord_section(const struct stuff_cord *c) {
    double one = c->round ? M_PI * c->width * c->width / 4 : c->width * c->thickness;
    return one * c->strands;
}

double stuff_cord_twist(double angle) {
    return cos(angle) * cos(angle);
}

double stuff_cord_section_weighed(double mass_per_length, double density) {
    return mass_per_length / density;
}

#define UNTESTED_KNOT 0.5 /* general rule: a knot costs about half (knot books) */

double stuff_knot_share(const struct stuff_shelf *shelf, const char *knot) {
    if (!knot || !*knot) return 1;
    struct stuff_query q = {.quantity = "knot_efficiency"};
    for (const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL); f;
         f = stuff_fact_next(shelf, &q, f))
        if (!strcasecmp(f->material, knot) || strcasestr(f->material, knot)) return f->value / 100;
    return NAN;
}

int stuff_cord_strength(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        const struct stuff_cord *cord, struct error *err) {
    double section = stuff_cord_section(cord);
    if (!(section > 0 && section < 1e5) || !(cord->strands >= 1) || !(fabs(cord->twist) < 1.4))
        return fail(
            err, ERR_RANGE, "Measure width and thickness of a strand, count strands from 1.",
            "A cord of %g strands %g by %g mm", cord->strands, cord->width, cord->thickness);
    struct stuff_ask ask = stuff_ask(cord->material, STUFF_TENSION);
    ask.direction = STUFF_ALONG;
    ask.state = cord->wet ? STUFF_FRESH : STUFF_DRY;
    struct stuff_material m = stuff_material_read(shelf, cord->material);
    if (m.class == STUFF_WOOD && strcasestr(cord->material, "root")) ask.class = STUFF_BAST;
    int rc = stuff_material_prior(out, shelf, &ask, err);
    if (rc) return rc;
    double knot = stuff_knot_share(shelf, cord->knot);
    bool untested = isnan(knot);
    if (untested) knot = UNTESTED_KNOT;
    stuff_prior_scale(out, section * stuff_cord_twist(cord->twist) * knot);
    out->unit = "N";
    snprintf(out->basis, sizeof out->basis, "%.3g mm2 of %s%s; twist keeps %.2f, knot %.2f%s",
             section, cord->material, cord->wet ? ", wet" : "", stuff_cord_twist(cord->twist), knot,
             untested ? " (not in the table: the general rule)" : "");
    if (untested && out->standing < STANDING_COMMON_PRACTICE)
        out->standing = STANDING_COMMON_PRACTICE;
    return 0;
}
