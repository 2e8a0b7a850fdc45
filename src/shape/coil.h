/* coil: coiled work from its pieces: flat ring or cone, rounds, foundation, stitches.
 *
 * A piece gives the radius of its outer edge (chord and rise), how many rounds it has, the pitch of
 * the rounds and how many rounds are lost outside it. Two rival readings are reckoned side by side
 * and never averaged: a flat ring, where all pieces lie on one disc; and a cone, where some pieces
 * show the worn edge's radius and others were pressed flat and show the slant.
 */
#ifndef RELICT_SHAPE_COIL_H
#define RELICT_SHAPE_COIL_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct shape_coil_piece {
    const char *id;
    double radius, u_radius; /* mm: of the piece's outer edge */
    double rounds;           /* rounds on the piece */
    double lost_outside;     /* rounds lost outside it; 0 for a finished edge; NAN unknown: 0 */
};

struct shape_coil_ring {
    double radius, u_radius; /* mm: outer, weighted mean of the pieces' radii brought outward */
    double misfit;           /* mm: widest difference between two pieces' outer radii */
    double chi2;             /* of the pieces about the mean */
    double p;                /* of so large a chi2 if it was a ring; NAN with one piece */
    double inner, rounds;    /* mm, count: down to the innermost surviving round */
    double outward;    /* rounds by which the mean was brought outward: it goes with the pitch */
    double foundation; /* mm: pi (R² - r0²)/pitch */
};

struct shape_coil_cone {
    double edge, slant; /* mm */
    double u_edge, u_slant;
    double half_angle; /* rad: asin(edge/slant) */
    double height;     /* mm */
    double rounds;     /* slant/pitch */
    double foundation; /* mm: pi edge slant/pitch */
    double misfit;     /* mm: widest distance of a piece from the radius it is taken to show */
    double chi2, p;    /* p NAN when no piece is to spare */
    bool *shows_slant; /* [n]: which pieces were pressed flat */
    bool possible;     /* two radii can be told apart and slant > edge */
};

struct shape_coil {
    struct shape_coil_ring ring;
    struct shape_coil_cone cone;
    bool ring_excluded; /* p of the ring under 0.01 */
    double ring_share;  /* probability of the ring against the cone, even odds before; NAN when only
                           the ring was reckoned */
};

/* n >= 1 pieces, pitch of the rounds > 0 mm. With one piece only the ring is reckoned. The cone
 * takes the split of the sorted outer radii in two groups that leaves least chi2. The share weighs
 * evidence integrals: the ring's radius, and the cone's edge below its slant, evenly anywhere from
 * 10 mm to twice the largest radius; a cone's piece shows edge or slant with equal odds; a piece
 * in twenty may have been pulled out of shape (a guess). */
int shape_coil_fit(struct shape_coil *out, const struct shape_coil_piece *piece, size_t n,
                   double pitch, struct arena *arena, struct error *err);

#endif
