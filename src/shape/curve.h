/* curve: how curved the flattened object was: grip chamfers, splits, lengths along the surface,
 * laths that kept a set, patches of a scan; all readings of the same few bends.
 *
 * Developable sheets (Gaussian curvature 0) flatten without splits and keep lengths along the
 * surface. Doubly curved ones cannot: they split or overlap at the rim. Bends are 1/mm, positive
 * where the outer face bulges. Readings are laid side by side and a clash is shown before anything
 * is combined. Pure; no allocation.
 */
#ifndef RELICT_SHAPE_CURVE_H
#define RELICT_SHAPE_CURVE_H

#include "base/error.h"
#include "plane/point.h"

#include <stdbool.h>
#include <stddef.h>

/* ---- grip ------------------------------------------------------------------------------------ */

enum shape_grip_side { SHAPE_GRIP_FLAT, SHAPE_GRIP_HOLLOW, SHAPE_GRIP_BULGING };

struct shape_grip {
    double chord, u_chord;   /* mm between the seats; NAN: use length */
    double length, u_length; /* mm along a bar found straight; NAN: use chord */
    double angle1, angle2;   /* rad: chamfers; angle2 NAN when that end is missing */
    double u_angle1, u_angle2;
    enum shape_grip_side side;           /* where the bar sits on the sheet */
    double sheet_radius, u_sheet_radius; /* mm: the sheet's own bow; infinite or NAN when flat */
    bool half;                           /* chord or length is that of one half: doubled, a guess */
};

struct shape_grip_fit {
    double slope;                   /* rad: the bar's end slope against its chord */
    double radius, u_radius;        /* mm; NAN when the bar is straight or bows the other way */
    double radius_low, radius_high; /* mm: 95 %, from the bend; high may be infinite */
    double bend, u_bend;            /* 1/mm: 2 sin(slope)/chord */
    double chord, rise, arc;        /* mm */
    double hand_room;               /* mm between bar and sheet at the middle */
    double sheet_slope;             /* rad: psi = asin(L/(2 Rs)) */
    double disagree;                /* z of the two chamfers; NAN with one */
    bool circular;                  /* |z| <= 2, or one chamfer only (assumed) */
    bool shallow;                   /* slope under 8 degrees: use the bend, not the radius */
    double stiff_sheet_radius, stiff_low, stiff_high; /* mm: if the bar was stiff and straight, the
                                 chamfers show the sheet's own bow: Rs = L/(2 sin theta) */
};

/* R = L/(2 sin phi), rise = (L/2) tan(phi/2), arc = L phi/sin phi; phi = theta - psi on the hollow
 * side, theta + psi on the bulging side (reference: inference.md section 4). */
int shape_curve_grip(struct shape_grip_fit *out, const struct shape_grip *in, struct error *err);

/* ---- splits ---------------------------------------------------------------------------------- */

struct shape_splits {
    double rho;              /* r/R */
    double radius, u_radius; /* mm: of the sphere; u R/R = u w/(2 w) */
    double rise;             /* mm: of the cap */
    double gauss;            /* 1/mm²: curvature, negative for a saddle (overlap) */
    double deficit;          /* rad: total turn missing, integral of the curvature */
};

/* Total gap w (mm, over all radial splits; negative: overlap) at geodesic radius r from the centre
 * of a round piece: w = 2 pi r - 2 pi R sin(r/R); a saddle with sinh. Solved by bisection. */
int shape_curve_splits(struct shape_splits *out, double r, double w, double u_w, struct error *err);

struct shape_split_growth {
    double exponent, u_exponent; /* of w ~ r^k: 3 even curvature, 1 a single cone point */
    double cubic, chi2_cubic;    /* best w = cubic r³ */
    double linear, chi2_linear;  /* best w = linear r: an angle, rad */
    double p_cubic, p_linear;    /* of so large a chi2 */
};

/* How the gap grows outward, from n >= 2 radii with gaps > 0 and their ±. */
int shape_curve_split_growth(struct shape_split_growth *out, const double *r, const double *w,
                             const double *u, size_t n, struct error *err);

/* ---- lengths along the surface ----------------------------------------------------------------
 */

/* Width as worn of a sheet of flat width f bent to radius R: chord 2 R sin(f/(2R)), mm; rise (may
 * be NULL) R (1 - cos(f/(2R))). An infinite R gives f and 0. */
double shape_curve_worn_width(double flat, double radius, double *rise);

/* Radius from flat width and width as worn (worn < flat), by bisection, mm. */
int shape_curve_radius_from_widths(double *radius, double flat, double worn, struct error *err);

/* Length along the outer face over that along the middle: 1 + t/(2R). */
double shape_curve_face_factor(double thickness, double radius);

/* ---- patch of a scan ------------------------------------------------------------------------- */

struct shape_point3 {
    double x, y, z; /* mm */
};

struct shape_patch {
    double mean, gauss;             /* 1/mm, 1/mm²: H and K */
    double k1, k2;                  /* 1/mm: principal, k1 >= k2 */
    double u_k;                     /* 1/mm: sd of either from the misfit */
    double direction;               /* rad: of k1 in the patch's own frame from e1 */
    struct shape_point3 e1, normal; /* unit vectors */
    double misfit;                  /* mm: root mean square distance */
    double radius;                  /* mm: farthest point from the middle, in the tangent plane */
    double bias;                    /* share of k1 that the patch's size takes: r²/(4R²) */
};

/* Local frame by principal components, z = a x² + b xy + c y² + d x + e y + f by least squares,
 * then first and second fundamental forms (inference.md section 6). n >= 6 points. */
int shape_curve_patch(struct shape_patch *out, const struct shape_point3 *p, size_t n,
                      struct error *err);

/* ---- all readings of one bend -----------------------------------------------------------------
 */

enum shape_bend_kind { SHAPE_BEND_IS, SHAPE_BEND_AT_LEAST, SHAPE_BEND_AT_MOST };

struct shape_bend_reading {
    const char *id;
    double bend, u; /* 1/mm */
    enum shape_bend_kind kind;
};

struct shape_bend_combined {
    double q, p;    /* sum of squares about the mean, its probability */
    size_t n;       /* readings that are values, not limits */
    bool clash;     /* p under 0.05 or a limit broken by 2 sd: nothing is combined */
    size_t worst;   /* index of the reading farthest off */
    double bend, u; /* combined; NAN when they clash */
    double birge_u; /* u widened by sqrt(q/(n-1)) if one insists on combining */
};

int shape_curve_combine(struct shape_bend_combined *out, const struct shape_bend_reading *reading,
                        size_t n, struct error *err);

#endif
