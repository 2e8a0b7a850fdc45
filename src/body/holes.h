/* holes: rows of stitch holes and slits in a sheet, and what tears first.
 *
 * A seam or a lashing pulls on a row of holes; a lath lies in a slit. The load asked for is the
 * pull per length of row, in the plane of the sheet and square to the row. Strengths come from
 * stuff/ as distributions (for bark mostly guesses), so every answer is a range. Stress near holes:
 * Lekhnitskii for sheets that differ along and around, point-stress criterion for small holes
 * (Whitney and Nuismer 1974), Peterson's finite width. Lengths mm, pulls N/mm of row, strengths
 * MPa.
 */
#ifndef RELICT_BODY_HOLES_H
#define RELICT_BODY_HOLES_H

#include "body/weakest.h"
#include "stuff/bark.h"
#include "stuff/material.h"

/* ---- stresses ------------------------------------------------------------------------------- */

/* Stress at the side of one hole over the nominal one, large sheet pulled along 1 (Lekhnitskii):
 * 1 + sqrt(2 (sqrt(E1/E2) - nu12) + E1/G12); 3 for an isotropic sheet. */
double holes_factor(double e1, double e2, double g12, double nu12);
/* The same pulled along 2: nu21 = nu12 E2/E1. */
double holes_factor_across(double e1, double e2, double g12, double nu12);
/* Sheet in bending, isotropic: (5 + 3 nu)/(3 + nu). */
double holes_factor_bending(double nu);
/* Net-section factor of one hole in a strip, r = diameter/width (Peterson): 3 - 3.14 r + 3.67 r2 -
 * 1.53 r3; fair for a row with r = diameter/pitch. */
double holes_factor_net(double r);
/* Share of the strength of the sound sheet left by a small hole: point-stress criterion, `kt` the
 * factor above, `distance` the material's characteristic length. 1 for a tiny hole, 1/kt for a
 * large. */
double holes_point_stress(double radius, double distance, double kt);
/* The same for a slit of half length a: sqrt(1 - (a/(a + distance))^2). */
double slit_point_stress(double half_length, double distance);
/* Share of the section left: 1 - diameter/pitch. */
double holes_net_share(double diameter, double pitch);

/* ---- a row of stitches ---------------------------------------------------------------------- */

/* What weakens the sheet besides the holes: fissures along the stem thin it; a lenticel, knot or
 * old split of this length starts a crack square to it. NAN: none. */
struct holes_flaws {
    struct stuff_fissures fissures;
    double around, along; /* length of the worst flaw lying around, lying along, mm */
};

struct holes_case {
    const char *material;
    long class, layer, state; /* stuff enums; FIELD_UNKNOWN: as stuff takes it */
    long runs;                /* direction the row runs: STUFF_ALONG or STUFF_AROUND */
    double thickness, thickness_low, thickness_high; /* mm; 5 and 95 % points: body_size_input */
    double diameter, pitch, edge;                    /* edge: hole middle to edge; NAN: far away */
    double group, gap; /* stitches in a group, and middle to middle across the gap; 1: even */
    double cord;       /* diameter of the cord, mm; NAN: fills the hole */
    int cut;           /* 1: fibres cut away; 0: parted with an awl */
    double pull;       /* N/mm it has to bear; NAN: not asked */
    struct holes_flaws flaws;
};

struct holes_result {
    struct body_failure failure; /* loads in N/mm of row */
    double net;                  /* share of the section left */
    double kt;                   /* middle value */
    double per_stitch;           /* N on the worst stitch at failure, middle */
    double after_first;  /* N/mm that the row still bears once a stitch is gone: tears on if less */
    double even;         /* N/mm of the same number of stitches spread evenly */
    double holds;        /* probability that it bears `pull`; NAN when not asked */
    double elongation;   /* mm a hole grows at `pull`; INFINITY: the cord cuts through; NAN */
    long standing;       /* of the weakest strength used */
    const char *warning; /* rules of thumb it breaks; NULL when none */
};

int holes_row(struct holes_result *out, const struct stuff_shelf *shelf, const struct holes_case *c,
              struct arena *arena, struct error *err);

/* ---- a slit --------------------------------------------------------------------------------- */

struct slit_case {
    const char *material;
    long class, layer, state;
    long runs;                                       /* direction of the slit */
    double thickness, thickness_low, thickness_high; /* as of a row of holes */
    double length;
    double pitch; /* of slits in one line, middle to middle; NAN: a single slit */
    double tip;   /* radius of the rounded end, mm; 0 or NAN: cut sharp */
    double edge;  /* from a tip to the nearest edge in line with it; NAN: far */
    double pull;
    struct holes_flaws flaws;
};

struct slit_result {
    struct body_failure failure; /* N/mm, square to the slit */
    double holds;
    double left; /* share of the sound sheet's strength, middle */
    long standing;
};

int slit_row(struct slit_result *out, const struct stuff_shelf *shelf, const struct slit_case *c,
             struct arena *arena, struct error *err);

#endif
