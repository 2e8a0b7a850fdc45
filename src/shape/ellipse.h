/* ellipse: best ellipses through edge points, two questions with two answers.
 *
 * Direct: least algebraic distance under 4ac - b² = 1, always an ellipse (Fitzgibbon, Pilu &
 * Fisher, IEEE Trans. PAMI 21 (1999) 476-480; in the stable form of Halir & Flusser, WSCG 1998). It
 * shrinks toward small round ellipses on short noisy arcs, so it is only where the next one starts.
 * Geometric: least sum of squared true distances (Gander, Golub & Strebel, BIT 34 (1994) 558-578).
 */
#ifndef RELICT_SHAPE_ELLIPSE_H
#define RELICT_SHAPE_ELLIPSE_H

#include "base/error.h"
#include "plane/point.h"

struct shape_ellipse {
    struct plane_point centre; /* mm */
    double a, b;               /* mm: half-axes, a >= b */
    double angle;              /* rad: of the long axis, in (-pi/2, pi/2] */
    double residual;           /* mm: root of the summed squared true distances */
    double u_a, u_b;           /* mm: first-order sd from the misfit; NAN with five points */
    int steps;                 /* of the geometric iteration */
};

/* Fits n >= 5 points by the direct fit. ERR_SOLVE when they do not fix an ellipse. */
int shape_ellipse_direct(struct shape_ellipse *out, const struct plane_point *p, size_t n,
                         struct error *err);

/* Starts from the direct fit, its rounder and longer relatives, and goes to the least sum of
 * squared distances by damped Gauss-Newton; the best end of the starts counts. ERR_SOLVE when the
 * best ellipse runs off to more than 100 times the extent of the points (an arc that may be
 * straight). */
int shape_ellipse_geometric(struct shape_ellipse *out, const struct plane_point *p, size_t n,
                            struct error *err);

/* Signed true distance of p from the ellipse (positive outside) and the foot's place in the
 * ellipse's frame; foot by bisection, safe near the axes (Eberly 2013, geometrictools note). */
double shape_ellipse_distance(const struct shape_ellipse *e, struct plane_point p,
                              struct plane_point *foot_own);

#endif
