/* hide: skins and lacing between wet and dry.
 *
 * Rawhide laced wet shrinks and stiffens as it dries: it tightens what it binds. Figures are mostly
 * from memory and guesses and are wide; a lacing weighed and measured wet and dry replaces them.
 */
#ifndef RELICT_STUFF_HIDE_H
#define RELICT_STUFF_HIDE_H

#include "stuff/material.h"

/* What a lacing put on wet does when it dries. */
struct stuff_tightening {
    double free_shortening; /* fraction: of its wet length, if nothing holds it */
    double pull;            /* N, when it is held at its wet length and dries: middle value */
    double pull_p05, pull_p95;
    double breaks_at; /* N, its dry strength: the pull cannot be more */
    long standing;
};

/* Lacing of a wet section (mm2). Held at its length the pull is the strain it was denied times a
 * stiffness that grew from wet to dry meanwhile (their logarithmic mean), less what relaxed. */
int stuff_hide_tightening(struct stuff_tightening *out, const struct stuff_shelf *shelf,
                          const char *material, double wet_section, struct error *err);

/* Dry mass (g) of a green hide: `dry_share` of its mass is dry matter, and it rests at `moisture`.
 */
double stuff_hide_dry_mass(double green_mass, double dry_share, double moisture);

#endif
