/* bast: strips and cord of bast, hide and sinew as tie and thread.
 *
 * Bast goes the other way from wood: it is stronger wet. A cord is so many strands of a section
 * each; twist and knots take their share. Loads in N, sections in mm2.
 */
#ifndef RELICT_STUFF_BAST_H
#define RELICT_STUFF_BAST_H

#include "stuff/material.h"

struct stuff_cord {
    const char *material;    /* "lime bast", "rawhide lacing", "sinew" */
    double width, thickness; /* of one strand, mm; a round strand: both its diameter */
    bool round;
    double strands;   /* laid side by side or twisted together; 1 and more */
    double twist;     /* rad, of the strands against the cord's axis; 0 for a flat strip */
    const char *knot; /* "reef (square) knot", "clove hitch"; NULL for none */
    bool wet;
};

/* Section that carries, mm2. */
double stuff_cord_section(const struct stuff_cord *cord);

/* Share of the strength left by twist: cos2 of the angle (fibres at an angle, Gegauff 1907, small
 * friction); strands that lie at 20 degrees keep 0.88. */
double stuff_cord_twist(double angle);

/* Share left by a knot by its name (Plymouth Cordage 1946, manila); NAN when not in the table. A
 * knot nobody has tested keeps 0.5: the general rule. */
double stuff_knot_share(const struct stuff_shelf *shelf, const char *knot);

/* Breaking load of a cord, N, with its standing. ERR_RANGE for a section that is none. */
int stuff_cord_strength(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        const struct stuff_cord *cord, struct error *err);

/* Section of a cord from its mass per length (g/mm) and the density of its stuff (g/mm3). */
double stuff_cord_section_weighed(double mass_per_length, double density);

#endif
