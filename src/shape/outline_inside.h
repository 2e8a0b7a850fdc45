/* outline_inside: the compiled evidence of an outline; for the files of shape/outline only. */
#ifndef RELICT_SHAPE_OUTLINE_INSIDE_H
#define RELICT_SHAPE_OUTLINE_INSIDE_H

#include "shape/outline.h"

/* Columns of the rows that make up a form. */
enum outline_root {
    ROOT_FAMILY,
    ROOT_X,
    ROOT_Y,
    ROOT_U, /* turn = atan2(v, u)/2, or whole for forms with one axis only */
    ROOT_V,
    ROOT_SIZE,
    ROOT_RATIO,
    ROOT_WAVE,
    ROOT_REACH,
    ROOT_ROW_WAVE,
    ROOT_SHAPE, /* standard normals that mean another thing in each family */
    SHAPE_NUMBERS = 2 * SHAPE_ORDERS + 1,
    ROOTS = ROOT_SHAPE + SHAPE_NUMBERS
};

enum { RING = 96, FEW = 32 }; /* corners of a ring, even */

/* One reading, compiled. */
struct reading {
    struct shape_evidence e; /* texts and points are copies */
    size_t along, around;    /* columns, NUM_NO_COLUMN: 1 */
    double cos_grain, sin_grain;
    size_t n;
    struct plane_point *p; /* [n] */
    double *step;          /* [n]: mm along the piece to the next point */
    /* LOOSE: straightened to its own chord: place along and height above it. */
    double *x, *h; /* [n] */
    double length; /* mm: chord of the arc */
};

struct shape_outline_model {
    size_t n;
    struct reading *reading;
    struct shape_outline_options o;
    struct plane_point middle; /* of all points in place: anchor of scales, centre's prior */
    size_t column[ROOTS];
    size_t n_families;
    enum shape_family family[SHAPE_FAMILIES];
    bool has_rows, needs_ring, needs_size, needs_area, needs_tightest;
    double arcs; /* readings of the edge in place, which may have survived anywhere along it */
    size_t
        thin; /* one row in so many of each family is drawn, the others carry no weight; 0: all */
    double alike_z; /* standard normals within it mean that two halves are alike */
    double
        drawn_z; /* within it a shorter half is the longer one drawn together, beyond it cut off */
    bool survival_off, survival_on; /* override of at_random */
    double seen;                    /* mm of edge that evidence lies on, unscaled */
    struct plane_point unit[RING];  /* cos and sin of even angles */
    struct plane_point few[FEW];    /* the same, fewer: for perimeters */
    bool placed;                    /* some reading depends on how the outline lies in the plan */
    bool located;                   /* and not on its direction alone */
    struct arena *arena;
    struct num_report report;
};

/* A form and what evidence needs of it. */
struct outline_view {
    struct shape_form form;
    double wave, reach, row_wave;
    struct plane_point ring[RING]; /* in the plan, counter-clockwise from the long axis */
    double at[RING + 1];           /* mm along the ring */
    double length, width, turn, tightest, area;
};

/* The numbers of a form as the roots hold them. */
struct outline_numbers {
    enum shape_family family;
    double x, y, turn; /* rad, as it stands: not halved */
    double size, ratio, wave, reach, row_wave;
    double s[SHAPE_NUMBERS]; /* standard normals */
};

/* Whether the forms of a family repeat after half a turn. */
bool outline_two_axes(enum shape_family family);

/* How many of s[] the family uses. */
size_t outline_shapes_used(const struct shape_outline_model *m, enum shape_family family);

/* How many pairs of numbers of unlike halves the family has: sizes, and for some squareness too. */
size_t outline_unlike_pairs(const struct shape_outline_model *m, enum shape_family family);

/* Where among s[] those pairs begin (ends, then sides); SIZE_MAX when it has none. */
size_t outline_unlike_at(const struct shape_outline_model *m, enum shape_family family);

/* ln of the ratio of two halves' sizes that a standard normal stands for. */
double outline_unlike_ratio(const struct shape_outline_model *m, double z);

/* ln of what the exponents of two halves are multiplied by, from the normals of size and
 * squareness. */
void outline_unlike_square(double out[2], const struct shape_outline_model *m, double z_size,
                           double z_square);

/* The form, ready, at its place; then what the model needs of it. */
void outline_form_set(struct outline_view *v, const struct shape_outline_model *m,
                      const struct outline_numbers *numbers);
void outline_view_finish(struct outline_view *v, const struct shape_outline_model *m);

/* Sum of all readings; `row` is read for the columns of factors only. */
double outline_view_like(const struct shape_outline_model *m, const struct outline_view *v,
                         const double *row);

/* From a form set but not finished: the same sum when it is above `floor`; below it may be
 * -INFINITY as soon as what is left to look at cannot make up for it. -INFINITY as floor: always
 * whole. */
double outline_form_like(const struct shape_outline_model *m, struct outline_view *v,
                         const double *row, double floor);

/* Point i of a reading brought to the outline's state. */
struct plane_point outline_point(const struct shape_outline_model *m, const struct reading *r,
                                 const double *row, size_t i);

/* Draws the outlines against the evidence, in coordinates laid against the longest arc, and puts
 * them into the rows. */
struct num_evidence;
int outline_sample(struct shape_outline_model *m, struct num_rows *rows,
                   const struct num_evidence *e, struct error *err);

/* Reads the form off a row (indexed by column) and works out what the model needs. */
void outline_view_make(struct outline_view *v, const struct shape_outline_model *m,
                       const double *row);

/* Log-likelihood of reading k. */
double outline_reading_like(const struct shape_outline_model *m, const struct outline_view *v,
                            const double *row, size_t k);

/* Sum over all readings; a num_row_fn with ctx the model. */
double outline_like(const double *row, void *ctx);

#endif
