/* nest_build: a first layout put together part by part (inside gather only).
 *
 * Beam search over places where a corner of a part meets a corner of what lies already, or the
 * edge of the sheet; a layout begun is judged by how much of the outlines of its parts is hidden
 * by what they touch (touching perimeter: Lodi, Martello & Vigo, INFORMS J. Comput. 11, 1999, 345;
 * beam search for outlines: Bennell & Song, J. Heuristics 16, 2010, 167). Parts cut from one sheet
 * touch all along when they lie as they lay, which nothing else does. No chance in it; effort is
 * counted in overlap tests.
 */
#ifndef RELICT_GATHER_NEST_BUILD_H
#define RELICT_GATHER_NEST_BUILD_H

#include "gather/nest_shape.h"
#include "num/random.h"

/* One copy on the table. */
struct item {
    size_t part, copy;
    size_t shape; /* present orientation */
    double x, y;
    bool placed;
};

struct table {
    size_t parts;
    const struct nest_part *part;
    struct shape *shape;   /* [4 parts]: plain, turned, mirrored, mirrored and turned */
    struct no_fit **pair;  /* [4 parts][4 parts], made when first needed: fixed, moving */
    struct shape obstacle; /* of the present sheet: faults and what lies outside it */
    struct no_fit **round; /* [4 parts] against the obstacle */
    struct box box;        /* of the present sheet */
    size_t items;
    struct item *item;
    size_t *on; /* items on the present sheet */
    size_t on_n;
    double *weight; /* [items][items + 1], symmetric; the last column is the obstacle */
    struct num_random random;
    double tests; /* overlaps looked at so far: effort is counted in them */
    struct arena *arena;
    bool out_of_memory;
};

/* No-fit pieces of two shapes, of a shape and the obstacle; made when first needed. */
const struct no_fit *nest_pair(struct table *t, size_t fixed, size_t moving);
const struct no_fit *nest_round(struct table *t, size_t moving);
/* Where the origin of the shape may go so that its box stays in the sheet's box; false when the
 * shape is too large. */
bool nest_range(const struct table *t, size_t shape, struct box *r);

struct nest_build_options {
    size_t width;  /* layouts kept at each step */
    double tests;  /* overlap tests after which one layout only is followed */
    bool in_order; /* each part fills the leftmost, lowest place: finds what squares make up */
    double
        noise; /* share by which a layout's worth is blurred, so that another run errs elsewhere */
    uint64_t seed; /* of the noise */
};

/* Lays the items list[n] into the table's box; a layout that leaves one of them no room is dropped
 * at once. How many were laid: all of them, or those of the fullest layout on the way; they are
 * placed and stand on the table. 0 and out_of_memory when memory is gone. */
size_t nest_build(struct table *t, const size_t *list, size_t n,
                  const struct nest_build_options *options);

#endif
