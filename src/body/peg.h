/* peg: pegs through rim and sheet, rim and lath, two timbers.
 *
 * The published equations for dowels (EN 1995-1-1 section 8, NDS) were fitted to STEEL pins in
 * building timber. For wooden pegs they are used here with the peg's own yield moment and with the
 * modes steel does not have (the peg shears or is crushed); take the answer as an order of size and
 * test a spare. Lengths mm, forces N, strengths MPa, density g/mm3, angles rad.
 */
#ifndef RELICT_BODY_PEG_H
#define RELICT_BODY_PEG_H

#include "body/weakest.h"
#include "stuff/material.h"

/* ---- EN 1995-1-1:2004 section 8, in N, mm and kg/m3 as printed ------------------------------ */

/* Embedment strength along the grain, Eq 8.32: 0.082 (1 - 0.01 d) rho, d up to 30 mm. */
double peg_embedment(double diameter, double density_kg_m3);
/* Factor across, Eq 8.33: softwood 1.35 + 0.015 d, hardwood 0.90 + 0.015 d. */
double peg_embedment_k90(double diameter, int softwood);
/* At an angle to the grain, Eq 8.31. */
double peg_embedment_angle(double along, double k90, double angle);
/* Yield moment of a steel dowel, Eq 8.30, fu in MPa; of a wooden peg, elastic, its rupture modulus
 * times pi d3 / 32. N mm. */
double peg_moment_steel(double tensile, double diameter);
double peg_moment_wood(double rupture_modulus, double diameter);

/* Loads of the modes of a single shear plane, Eq 8.6 (Johansen); no rope effect. */
struct peg_johansen {
    double a, b; /* one side bears */
    double c;    /* the dowel turns stiffly */
    double d, e; /* one hinge */
    double f;    /* two hinges */
    double least;
    char mode; /* letter of the least */
};
struct peg_johansen peg_johansen(double fh1, double t1, double fh2, double t2, double diameter,
                                 double moment);

/* ---- NDS, in lbf/in2 and inches as printed -------------------------------------------------- */

double nds_bearing_along(double gravity);                   /* 11200 G, 1/4 to 1 in */
double nds_bearing_across(double gravity, double diameter); /* 6100 G^1.45 / sqrt(D) */
double nds_bearing_small(double gravity);                   /* 16600 G^1.84, D under 1/4 in */

/* ---- a wooden peg --------------------------------------------------------------------------- */

/* Cross-grain shear of a hardwood peg, MPa (TFEC 1, from memory): 4850 Gpeg Gtimber^0.75 lbf/in2.
 */
double peg_shear(double peg_gravity, double timber_gravity);

struct peg_side {
    const char *material; /* "ash", "willow bark" */
    long class;
    double thickness;
    double width; /* of the part at the peg, across the load; NAN: wide */
    double edge;  /* from the peg's middle to the end in the direction of the load; NAN: far */
    double angle; /* between load and grain (or the tree's axis) */
    double thickness_low, thickness_high; /* 5 and 95 % points: body_size_input */
};

struct peg_case {
    struct peg_side first, second;
    const char *peg;       /* species; NULL: any hardwood */
    double diameter, load; /* N, to be borne by one peg; NAN: not asked */
    int wet;
};

struct peg_result {
    struct body_failure failure; /* N on one peg */
    struct peg_johansen modes;   /* at the middle values */
    double holds;
    long standing;
    const char *warning;
    const char *caveat;
};

int peg_joint(struct peg_result *out, const struct stuff_shelf *shelf, const struct peg_case *c,
              struct arena *arena, struct error *err);

#endif
