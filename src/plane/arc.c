#include "plane/arc.h"

#include <math.h>

static double radius_of(double c, double s) {
    return s > 0 ? c * c / (8 * s) + s / 2 : INFINITY;
}

double plane_arc_rise(double radius, double chord) {
    double q = chord / 2;
    if (!(q <= radius)) return NAN;
    /* q²/(R + sqrt(R²-q²)): the same as R - sqrt(R²-q²) without cancellation for flat arcs. */
    return isinf(radius) ? 0 : q * q / (radius + sqrt(radius * radius - q * q));
}

int plane_arc_from_rise(struct plane_arc *out, double c, double s, double u_c, double u_s,
                        struct error *err) {
    if (!(c > 0) || !isfinite(c))
        return fail(err, ERR_RANGE, "Measure the chord again.", "Chord %g mm; it must be above 0.",
                    c);
    if (!(s >= 0) || !isfinite(s))
        return fail(err, ERR_RANGE, "Measure the rise again, square to the chord.",
                    "Rise %g mm; it must not be below 0.", s);
    if (s > c / 2)
        return fail(err, ERR_RANGE, "Check whether chord and rise were exchanged or misread.",
                    "Rise %g mm over a chord of %g mm; a rise over half the chord would turn more "
                    "than half round.",
                    s, c);
    if (!(u_c >= 0) || !(u_s >= 0))
        return fail(err, ERR_RANGE, "Give each ± as 0 or more, mm.", "A ± below 0.");
    out->radius = radius_of(c, s);
    /* R falls with s and grows with c as long as s < c/2 (dR/ds = 1/2 - c²/(8 s²)). */
    out->low = radius_of(fmax(c - u_c, 0), fmin(s + u_s, fmax(c - u_c, 0) / 2));
    out->high = radius_of(c + u_c, s - u_s);
    double by_s = 0.5 - c * c / (8 * s * s), by_c = c / (4 * s);
    out->u_radius = s > 0 ? hypot(by_s * u_s, by_c * u_c) : INFINITY;
    /* 1/R = 8 s/(c² + 4 s²), smooth through s = 0. */
    double d = c * c + 4 * s * s;
    out->bend = 8 * s / d;
    out->u_bend = hypot(8 * (c * c - 4 * s * s) / (d * d) * u_s, -16 * s * c / (d * d) * u_c);
    out->angle = 4 * atan2(2 * s, c);
    out->length = s > 0 ? out->radius * out->angle : c;
    out->weak = s < 8 * u_s; /* reference/trade.md R101 */
    return 0;
}

/* Gander, Golub & Strebel 1994, section 2: a x'x + b'x + c = 0 with unit coefficient vector. That
 * fit changes with a shift of the coordinates; `shift` is taken off first (0 to match the paper).
 */
static int algebraic(struct plane_circle *out, const struct plane_point *p, size_t n,
                     struct plane_point shift, struct error *err);

static int geometric_polish(struct plane_circle *c, const struct plane_point *p, size_t n,
                            struct error *err) {
    for (c->steps = 1; c->steps <= 200; c->steps++) {
        double a[3][3] = {{0}}, g[3] = {0};
        for (size_t i = 0; i < n; i++) {
            double dx = p[i].x - c->centre.x, dy = p[i].y - c->centre.y, d = hypot(dx, dy);
            if (d == 0) continue;
            double j[3] = {-dx / d, -dy / d, -1}, r = d - c->radius;
            for (int k = 0; k < 3; k++) {
                for (int l = 0; l < 3; l++)
                    a[k][l] += j[k] * j[l];
                g[k] -= j[k] * r;
            }
        }
        for (int k = 0; k < 3; k++) { /* Gauss elimination, three unknowns */
            int best = k;
            for (int l = k + 1; l < 3; l++)
                if (fabs(a[l][k]) > fabs(a[best][k])) best = l;
            for (int l = 0; l < 3; l++) {
                double t = a[k][l];
                a[k][l] = a[best][l], a[best][l] = t;
            }
            double t = g[k];
            g[k] = g[best], g[best] = t;
            if (a[k][k] == 0)
                return fail(err, ERR_SOLVE, "Take points further round the arc.",
                            "The points do not fix a circle.");
            for (int l = k + 1; l < 3; l++) {
                double f = a[l][k] / a[k][k];
                for (int m = k; m < 3; m++)
                    a[l][m] -= f * a[k][m];
                g[l] -= f * g[k];
            }
        }
        for (int k = 3; k-- > 0;) {
            for (int l = k + 1; l < 3; l++)
                g[k] -= a[k][l] * g[l];
            g[k] /= a[k][k];
        }
        c->centre.x += g[0], c->centre.y += g[1], c->radius += g[2];
        /* 1e-12 of the radius: a hundredfold above rounding in double precision. */
        if (hypot(hypot(g[0], g[1]), g[2]) < 1e-12 * fabs(c->radius)) return 0;
    }
    return 0;
}

int plane_circle_fit(struct plane_circle *out, const struct plane_point *p, size_t n,
                     bool geometric, struct error *err) {
    *out = (struct plane_circle){0};
    if (n < 3)
        return fail(err, ERR_MISSING, "Give three points or more, well apart along the arc.",
                    "A circle from %zu points.", n);
    struct plane_point shift = {0, 0};
    for (size_t i = 0; geometric && i < n; i++)
        shift.x += p[i].x / n, shift.y += p[i].y / n;
    int rc = algebraic(out, p, n, shift, err);
    if (!rc && geometric) rc = geometric_polish(out, p, n, err);
    if (rc) return rc;
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double r = hypot(p[i].x - out->centre.x, p[i].y - out->centre.y) - out->radius;
        sum += r * r;
    }
    out->residual = sqrt(sum);
    return 0;
}

/* Smallest eigenvector of a symmetric 4x4 by Jacobi rotations (Golub & Van Loan 4th ed. 8.5). */
static void smallest_vector(double a[4][4], double v[4]) {
    double e[4][4] = {{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}};
    for (int sweep = 0; sweep < 60; sweep++) {
        for (int p = 0; p < 3; p++)
            for (int q = p + 1; q < 4; q++) {
                if (a[p][q] == 0) continue;
                double tau = (a[q][q] - a[p][p]) / (2 * a[p][q]);
                double t = (tau >= 0 ? 1 : -1) / (fabs(tau) + sqrt(1 + tau * tau));
                double c = 1 / sqrt(1 + t * t), s = t * c;
                for (int k = 0; k < 4; k++) {
                    double x = a[k][p], y = a[k][q];
                    a[k][p] = c * x - s * y, a[k][q] = s * x + c * y;
                }
                for (int k = 0; k < 4; k++) {
                    double x = a[p][k], y = a[q][k];
                    a[p][k] = c * x - s * y, a[q][k] = s * x + c * y;
                    x = e[k][p], y = e[k][q];
                    e[k][p] = c * x - s * y, e[k][q] = s * x + c * y;
                }
            }
    }
    int best = 0;
    for (int k = 1; k < 4; k++)
        if (a[k][k] < a[best][best]) best = k;
    for (int k = 0; k < 4; k++)
        v[k] = e[k][best];
}

static int algebraic(struct plane_circle *out, const struct plane_point *p, size_t n,
                     struct plane_point shift, struct error *err) {
    double size = 0;
    for (size_t i = 0; i < n; i++)
        size = fmax(size, fmax(fabs(p[i].x - shift.x), fabs(p[i].y - shift.y)));
    double a[4][4] = {{0}}, v[4];
    for (size_t i = 0; i < n; i++) {
        double x = p[i].x - shift.x, y = p[i].y - shift.y, row[4] = {x * x + y * y, x, y, 1};
        for (int k = 0; k < 4; k++)
            for (int l = 0; l < 4; l++)
                a[k][l] += row[k] * row[l];
    }
    smallest_vector(a, v);
    double r2 = (v[1] * v[1] + v[2] * v[2]) / (4 * v[0] * v[0]) - v[3] / v[0];
    /* A leading coefficient this small means a radius of 1e6 times the extent: a straight line. */
    if (fabs(v[0]) * size < 1e-6 * hypot(v[1], v[2]) || !(r2 > 0))
        return fail(err, ERR_SOLVE, "Take points further round the arc.",
                    "The points lie on a straight line; no radius follows.");
    out->centre = (struct plane_point){shift.x - v[1] / (2 * v[0]), shift.y - v[2] / (2 * v[0])};
    out->radius = sqrt(r2);
    return 0;
}
