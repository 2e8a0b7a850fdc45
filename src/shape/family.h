/* family: the families of closed outline, each a curve of few numbers.
 *
 * A `struct shape_form` is one outline: family, place, turn, half-length a, half-width b and what
 * the family adds. Fill the open members, call shape_form_ready once, then ask. In its own frame
 * (x along the long axis) every form is star-shaped about its centre with polar radius r(phi):
 *
 *   ellipse       r = [(cos/a)² + (sin/b)²]^(-1/2)
 *   superellipse  r = [|cos/a|^n + |sin/b|^n]^(-1/n)
 *   pointed oval  two equal arcs through (±a, 0) and (0, ±b), R = (a² + b²)/(2b)
 *   rounded       rectangle 2a x 2b with corner radius corner1
 *   stadium       the same with corner radius b
 *   taper         hull of two pairs of equal circles: end at +x half-width b, corner radius
 * corner1; end at -x half-width taper*b, corner radius corner2 wavy, free    the ellipse times
 * exp(sum of cosines and sines), orders 3 to 7; wavy is alike on both sides of its long or of its
 * short axis
 *
 * A form of the first five families may have unlike halves: ends[] and sides[] stretch the two
 * halves of its length and of its width, so that a and b stay what they are while the broadest
 * place and the axis move; the halves meet without a kink. The halves of a superellipse may
 * differ in squareness too: half-round objects, one side straight, a blunt end and a round one.
 * Each quarter then has its own exponent. Distances are then of first order, taken again from the
 * foot point.
 *
 * Distances are positive outside, mm. Pure; no allocation; any number of threads.
 */
#ifndef RELICT_SHAPE_FAMILY_H
#define RELICT_SHAPE_FAMILY_H

#include "plane/point.h"

#include <stdbool.h>
#include <stddef.h>

enum shape_family {
    SHAPE_ELLIPSE,
    SHAPE_SUPERELLIPSE,
    SHAPE_POINTED,
    SHAPE_ROUNDED,
    SHAPE_STADIUM,
    SHAPE_TAPER,
    SHAPE_WAVY,
    SHAPE_FREE,
    SHAPE_FAMILIES
};

/* "ellipse", "superellipse", ...; NULL-terminated. */
extern const char *const shape_family_words[];

enum { SHAPE_ORDER_LOW = 3, SHAPE_ORDER_HIGH = 7, SHAPE_ORDERS = 5 };

struct shape_form {
    enum shape_family family;
    double x, y;                      /* mm: centre in the plan */
    double turn;                      /* rad: of the long axis, counter-clockwise */
    double a, b;                      /* mm: half-length, half-width; 0 < b */
    double exponent;                  /* superellipse: > 1 */
    double corner1, corner2;          /* mm: rounded, taper; 0 < corner <= half-width at that end */
    double taper;                     /* taper: half-width at -x over that at +x, (0, 1] */
    double even[SHAPE_ORDERS];        /* wavy, free: coefficients of cos k phi, k = 3..7 */
    double odd[SHAPE_ORDERS];         /* wavy, free: of sin k phi */
    double unlike_ends, unlike_sides; /* all but taper, wavy and free: ln of half-length towards +x
                                         over that towards -x; of half-width towards +y over -y */
    double square_ends[2], square_sides[2]; /* superellipse: ln of what the
                                               exponent is multiplied by towards +x, -x; +y, -y */
    /* Worked out by shape_form_ready. */
    double cos_turn, sin_turn;
    double arc_radius, arc_shift; /* pointed */
    double cx[2], cy[2], cr[2];   /* taper and rounded: the two circles above the axis */
    double nx, ny, nc;            /* their common tangent: nx x + ny y = nc */
    double log_a, log_b;
    double ends[2], sides[2]; /* stretch of the halves at +x, -x and +y, -y; mean 1 */
    double squares[2][2];     /* superellipse: exponent of each quarter, [x < 0][y < 0] */
    bool unlike;              /* the halves differ */
    bool quarters_differ;     /* some exponent of a quarter is not that of another */
    bool has_odd;             /* some odd[] is not 0 */
};

/* Works out what the other functions need. Call after every change. */
void shape_form_ready(struct shape_form *f);

/* Polar radius in the form's own frame, mm. */
double shape_form_radius(const struct shape_form *f, double phi);

/* Puts a ready form elsewhere: centre and turn only. */
void shape_form_place(struct shape_form *f, double x, double y, double turn);

/* Middle of its length and width, in the plan: the centre, unless halves are unlike. */
struct plane_point shape_form_middle(const struct shape_form *f);

/* Polar radius at phi and the outward unit normal of the edge there, in the form's own frame; one
 * step of phi is r/(n·r̂) along the edge. */
double shape_form_normal(const struct shape_form *f, double phi, double *nx, double *ny);

/* The point of the edge at polar angle phi, in the plan. */
struct plane_point shape_form_point(const struct shape_form *f, double phi);

/* Signed distance of p from the edge, mm. Exact for pointed, rounded, stadium and taper; for the
 * others first order (rho - r)/sqrt(1 + (r'/r)²), taken again from the foot point when more than
 * `SHAPE_NEAR` away. Error then under 0.02 mm at 12 mm on shapes 300 x 180 (measured, test). */
double shape_form_offset(const struct shape_form *f, struct plane_point p);
#define SHAPE_NEAR 3.0 /* mm: first-order error below it is under 0.002 mm on such shapes */

/* Signed distance by the true foot point, and the foot (may be NULL). Slower; for reports. */
double shape_form_distance(const struct shape_form *f, struct plane_point p,
                           struct plane_point *foot);

/* Curvature of the edge at polar angle phi, 1/mm, positive where it bulges. Central differences of
 * the polar radius, step 1e-3 rad; at joints of arcs and straights a mean of both sides. */
double shape_form_curvature(const struct shape_form *f, double phi);

/* Area, mm², and perimeter, mm: closed forms where they exist, otherwise the trapezium rule in phi
 * with 512 steps (relative error under 1e-5; 2e-4 for sharp-cornered tapers). */
double shape_form_area(const struct shape_form *f);
double shape_form_perimeter(const struct shape_form *f);

/* Perimeter, mm, fast: within 0.3 % for convex forms (Ramanujan for the ellipse, closed forms for
 * arcs and hulls, otherwise chords through the directions unit[n]). */
double shape_form_quick_perimeter(const struct shape_form *f, const struct plane_point *unit,
                                  size_t n);

/* n points of the edge (n even) in the form's own frame, counter-clockwise from the long axis,
 * fast: at even steps along the edge for hulls of circles, at the angles whose cos and sin are
 * unit[n] for the others. at[n + 1] takes the length along the ring of chords. */
void shape_form_quick_ring(const struct shape_form *f, struct plane_point *ring, double *at,
                           const struct plane_point *unit, size_t n);

/* n points of the edge in the plan, at even polar angles from the long axis, counter-clockwise. */
void shape_form_ring(const struct shape_form *f, struct plane_point *ring, size_t n);

/* n points at even steps along the edge from the long axis; s (may be NULL) takes the arc length
 * of each, and the perimeter is returned, mm. */
double shape_form_walk(const struct shape_form *f, struct plane_point *ring, size_t n);

/* Length and width: extents along and across the axes of the area's second moments, mm. For forms
 * with axes of their own these are 2a and 2b. turn (may be NULL): of the long axis, rad. */
void shape_form_size(const struct shape_form *f, double *length, double *width, double *turn);

#endif
