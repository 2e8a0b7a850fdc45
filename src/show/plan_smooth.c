#include "show/plan.h"

#include <math.h>

/* Where the line turns by more than this it has a corner, and keeps it. */
static const double corner = 35 * M_PI / 180;
/* How far a chord may leave the curve: a third of the thinnest line (LOOK.md, Lines: 0.1 mm). */
static const double sagitta = 0.03;
/* Points of a stretch at most. */
enum { MOST_STEPS = 24 };

static double turn(const double *a, const double *b, const double *c) {
    double ux = b[0] - a[0], uy = b[1] - a[1], vx = c[0] - b[0], vy = c[1] - b[1];
    return atan2(ux * vy - uy * vx, ux * vx + uy * vy);
}

/* Between a and b of two points at knots s < t. */
static void between(double out[2], const double *a, const double *b, double s, double t, double u) {
    for (int k = 0; k < 2; k++)
        out[k] = ((t - u) * a[k] + (u - s) * b[k]) / (t - s);
}

/* The stretch from p[1] to p[2]: a Catmull-Rom curve with centripetal knots, which makes no loop
 * and no cusp within a stretch; P. J. Barry, R. N. Goldman 1988 for the pyramid (from memory),
 * C. Yuksel, S. Schaefer, J. Keyser 2011, Computer-Aided Design 43, 747-755 (from memory). */
static void on_stretch(double out[2], const double p[4][2], const double knot[4], double share) {
    double u = knot[1] + share * (knot[2] - knot[1]), a[3][2], b[2][2];
    for (int i = 0; i < 3; i++)
        between(a[i], p[i], p[i + 1], knot[i], knot[i + 1], u);
    for (int i = 0; i < 2; i++)
        between(b[i], a[i], a[i + 1], knot[i], knot[i + 2], u);
    between(out, b[0], b[1], knot[1], knot[2], u);
}

/* A neighbour beyond a corner or an open end has no say: the point mirrored. */
static void mirrored(double out[2], const double at[2], const double other[2]) {
    for (int k = 0; k < 2; k++)
        out[k] = 2 * at[k] - other[k];
}

size_t plan_smooth(double *out, size_t room, size_t n, const double *xy, bool closed) {
    size_t made = 0, stretches = closed ? n : n - 1;
    if (n < 3) stretches = 0;
    for (size_t i = 0; i < stretches; i++) {
        const double *a = xy + 2 * ((i + n - 1) % n), *b = xy + 2 * i, *c = xy + 2 * ((i + 1) % n),
                     *d = xy + 2 * ((i + 2) % n);
        double p[4][2] = {{a[0], a[1]}, {b[0], b[1]}, {c[0], c[1]}, {d[0], d[1]}}, knot[4] = {0};
        double before = turn(a, b, c), after = turn(b, c, d);
        bool first = !closed && i == 0, last = !closed && i + 2 == n;
        if (first || fabs(before) > corner) mirrored(p[0], b, c), before = 0;
        if (last || fabs(after) > corner) mirrored(p[3], c, b), after = 0;
        bool apart = true;
        for (int k = 1; k < 4; k++) {
            double step = hypot(p[k][0] - p[k - 1][0], p[k][1] - p[k - 1][1]);
            knot[k] = knot[k - 1] + sqrt(step);
            apart &= step > 1e-9;
        }
        /* chord times turn over 8 is how far an arc rises over its chord */
        double far = hypot(c[0] - b[0], c[1] - b[1]) * fmax(fabs(before), fabs(after)) / 8;
        size_t steps = apart ? (size_t)fmin(ceil(sqrt(far / sagitta)), MOST_STEPS) : 1;
        if (steps < 1) steps = 1;
        for (size_t k = 0; k < steps && made < room; k++, made++) {
            double at[2] = {b[0], b[1]};
            if (k) on_stretch(at, p, knot, (double)k / (double)steps);
            if (out) out[2 * made] = at[0], out[2 * made + 1] = at[1];
        }
    }
    size_t rest = stretches ? (closed ? 0 : 1) : n; /* the last point of an open line */
    for (size_t k = n - rest; k < n && made < room; k++, made++)
        if (out) out[2 * made] = xy[2 * k], out[2 * made + 1] = xy[2 * k + 1];
    return made;
}
