/* arc: what a chord and its rise, or points on an arc, say about the radius.
 *
 * R = c²/(8 s) + s/2 for chord c and rise (sagitta) s. The rise of a short arc is small and its
 * error matters as 1/s, so the answer is an interval, and a rise under eight times its error is
 * flagged: `weak`. Pure arithmetic; nothing allocates.
 */
#ifndef RELICT_PLANE_ARC_H
#define RELICT_PLANE_ARC_H

#include "base/error.h"
#include "plane/point.h"

#include <stdbool.h>

struct plane_arc {
    double radius;       /* mm; infinite when the rise is 0 */
    double low, high;    /* mm: with rise and chord at the ends of their ±; high may be INF */
    double u_radius;     /* mm, first order */
    double bend, u_bend; /* 1/mm: 1/R and its ±, first order; usable where R is not */
    double angle;        /* rad: the arc's turn, 2 atan(2s/c) * 2 */
    double length;       /* mm along the arc */
    bool weak;           /* rise under 8 times its error */
};

/* chord > 0, 0 <= rise <= chord/2, mm; the ± are >= 0. A rise over half the chord is refused: an
 * edge piece cannot turn more than half round, so the two numbers are likely exchanged. */
int plane_arc_from_rise(struct plane_arc *out, double chord, double rise, double u_chord,
                        double u_rise, struct error *err);

/* Rise of an arc of radius R over a chord, mm: R - sqrt(R² - c²/4); NAN when c > 2R. */
double plane_arc_rise(double radius, double chord);

struct plane_circle {
    struct plane_point centre; /* mm */
    double radius;             /* mm */
    double residual;           /* mm: root of the sum of squared distances */
    int steps;                 /* of the iteration; 0 for the algebraic fit */
};

/* Fits a circle to n >= 3 points by the linear (algebraic) fit, and with `geometric` goes on to the
 * least sum of squared distances by Gauss-Newton (Gander, Golub & Strebel, BIT 34 (1994) 558-578).
 * Points on one line are refused with ERR_SOLVE. */
int plane_circle_fit(struct plane_circle *out, const struct plane_point *p, size_t n,
                     bool geometric, struct error *err);

#endif
