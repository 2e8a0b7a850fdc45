/* bend_readings: what several readings of different kinds say together of one bend.
 *
 * Each reading is kept as it was made: a bend; what is left of the bend in laths that kept a share
 * of it; the gap of the splits of a piece. So a reading whose error is not even in the bend (a gap
 * near nothing, a share that may be anything from a third to all) goes in as what it is. First it
 * is asked whether all of them can be of one bend, and only then are they put together, any bend
 * being equally likely before. Bends are 1/mm, without direction (never below 0). Pure; no
 * allocation.
 */
#ifndef RELICT_SHAPE_BEND_READINGS_H
#define RELICT_SHAPE_BEND_READINGS_H

#include "shape/curve.h"

enum shape_bend_of { SHAPE_BEND_ITSELF, SHAPE_BEND_SET, SHAPE_BEND_SPLITS };

struct shape_bend_read {
    const char *id;
    enum shape_bend_of of;
    enum shape_bend_kind kind;  /* of the value that was read: a value or a limit */
    double value, u;            /* ITSELF and SET: 1/mm, the bend or what is left of it; SPLITS: the
                                   gap, mm; u > 0: one standard deviation */
    double keep_low, keep_high; /* SET: between these shares is left, 0 < low <= high <= 1 */
    double radius, u_radius;    /* SPLITS: geodesic radius of the piece, mm */
};

/* The bend by one reading alone, for a table: the middle and one standard deviation, 1/mm. SET:
 * mean and scatter of value / share, the share anywhere between its ends alike. SPLITS: as
 * shape_curve_splits, half the way between a gap larger and one smaller by u; 0 for no gap. */
struct shape_bend_alone {
    double bend, u;
};
int shape_bend_alone(struct shape_bend_alone *out, const struct shape_bend_read *reading,
                     struct error *err);

struct shape_bend_together {
    double best, q; /* the bend nearest to all readings; sum of squares of what they are off there,
                       in their errors, each set with the share that suits it */
    double p;       /* chance of so large a q; NAN from a single value */
    size_t n;       /* readings that are values */
    size_t worst;   /* index of the reading farthest off at `best` */
    bool clash;     /* p under 0.05 or a limit broken by 2 of its errors: nothing is combined */
    double q005, q05, q25, q50, q75, q95, q995, mean, sd; /* NAN when they clash */
};

/* Lays n readings together. The density of the bend k is the product of what each reading's own
 * error law gives it: ITSELF normal; SET the mean over the share s of a normal about s k; SPLITS a
 * normal about the gap of a sphere of radius 1/k (shape_curve_splits) widened for the radius; a
 * limit the normal's tail. Integrated on a grid.
 * ERR_MISSING when all are limits, ERR_RANGE for numbers out of range. */
int shape_bend_together(struct shape_bend_together *out, const struct shape_bend_read *reading,
                        size_t n, struct error *err);

#endif
