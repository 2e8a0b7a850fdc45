/* bend: strains of flattening and bending, two-layer curl, and set.
 *
 * A sheet, rod, lath or rim of thickness t bent from one radius of its middle to another strains
 * its faces by half the thickness times the change of curvature; when that passes the limit of the
 * material in its state, it cracks. Curvature is 1/mm, positive as on the tree (outer face convex).
 * Limits and their standing come from stuff/. Pure; thread-safe.
 */
#ifndef RELICT_BODY_BEND_H
#define RELICT_BODY_BEND_H

#include "stuff/material.h"

/* Radius of the middle of a sheet on a stem: half the diameter over bark less half the thickness.
 */
double bend_radius_on_stem(double diameter_over_bark, double thickness);

/* Strain of the face that is stretched when thickness t goes from curvature k0 to k1, in a section
 * with its neutral line in the middle: t |k1 - k0| / 2. */
double bend_strain(double thickness, double from_curvature, double to_curvature);

/* Smallest radius at a strain: t / (2 strain) from straight. */
double bend_radius(double thickness, double strain);

/* Stretched face of two bonded layers bent by dk: distance of the farther face of each layer from
 * the neutral line, times dk. Layer 1 is the inner one. dk = k1 - k0: flattening is negative and
 * stretches the inner face. strain1 is of the inner face, strain2 of the outer one, stretch
 * positive. */
struct bend_two {
    double neutral; /* of the neutral line, mm from the inner face */
    double inner, outer;
};
struct bend_two bend_strain_two(double t1, double e1, double t2, double e2, double dk);

/* Curvature of two bonded layers that strain differently, narrow strip (Timoshenko 1925): misfit is
 * what layer 2 lengthens more than layer 1; positive curves towards layer 1. */
double bend_two_layer(double t1, double e1, double t2, double e2, double misfit);

/* One way of bending: the material in one state, and what comes of it. */
struct bend_try {
    const char *state; /* "dry", "fresh", "soaked", "steamed", "steamed with strap", "twisted" */
    double limit, limit_p05, limit_p95; /* strain */
    double cracks;                      /* probability that it cracks */
    double radius;                      /* at which half of them crack, mm */
    double radius_safe;                 /* at which one in twenty cracks, mm */
    double thickness_safe; /* that goes round the asked radius with one crack in twenty, mm */
    const char *standing, *source;
};
extern const struct kind bend_try_kind;

enum { BEND_TRIES_MOST = 8 };

struct bend_case {
    const char *material;
    long class, direction, layer; /* direction of the strain: along or around */
    double thickness, from_curvature, to_curvature;
};

/* Tries every state there is a limit for. *n of them; texts are borrowed from the shelf. */
int bend_tries(struct bend_try out[BEND_TRIES_MOST], size_t *n, double *strain,
               const struct stuff_shelf *shelf, const struct bend_case *c, struct error *err);

/* Radius of an arc from chord and rise over it: c2/(8 s) + s/2 (trade rule R101), and its range
 * when the rise is uncertain by `error` each way. INFINITY where the rise may be nothing. */
struct bend_arc {
    double radius, low, high;
};
struct bend_arc bend_arc_radius(double chord, double rise, double error);

/* What is left of a forced curvature's moment after time in a material whose share g1 relaxes with
 * time constant tau: curvature right after letting go of a strip held flat from curvature k0:
 * k0 (1 - g1 (1 - exp(-T/tau))) (mechanics.md section 7). */
double bend_after_release(double curvature, double share, double tau, double held);

#endif
