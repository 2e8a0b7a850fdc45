/* laths: how many there were, how they were spaced, what is missing, what rod they were split from.
 *
 * The count is never one number: each argument gives its own least or likely number and all are
 * kept. Completing by mirror is a rule with a rival (the missing one may not have been there).
 */
#ifndef RELICT_SHAPE_LATHS_H
#define RELICT_SHAPE_LATHS_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* What is known; every length in one state. NAN where nothing is known. */
struct shape_laths_find {
    long cut_ends;       /* original ends counted on all pieces */
    double total_length; /* mm: of all pieces of laths */
    double full_length;  /* mm: longest one lath can have been (inside width) */
    double spacing;      /* mm: centre to centre */
    double board;        /* mm: length of the board the spacing may run along */
    double width;        /* mm: of a lath */
};

struct shape_laths_count {
    long by_ends;     /* at least: ceil(cut ends / 2); -1 when unknown */
    long by_length;   /* at least: ceil(total / full) */
    long by_spacing;  /* if the spacing runs the whole board: floor((board - width)/spacing) + 1 */
    long least, most; /* the range the arguments leave */
};

int shape_laths_count(struct shape_laths_count *out, const struct shape_laths_find *find,
                      struct error *err);

/* Mirrors known places (mm from the board's middle) to the other half and drops those within
 * `near` of a known one. out has room for n; returns how many are proposed. */
size_t shape_laths_mirror(double *out, const double *place, size_t n, double near);

struct shape_laths_rod {
    double ring_radius, u_ring_radius; /* mm: of the growth ring across the lath */
    double least_diameter;             /* mm: the rod was at least this thick under bark */
};

/* Parent rod from a ring that turns by `angle` (rad) across a lath of `width`: r = w/(2 sin(a/2));
 * the rod reaches at least `outside` mm of wood beyond that ring. */
int shape_laths_rod(struct shape_laths_rod *out, double width, double angle, double u_angle,
                    double outside, struct error *err);

#endif
