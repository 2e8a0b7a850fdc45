#include "shape/ellipse.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

static void frame(const struct plane_point *p, size_t n, struct plane_point *mid, double *size) {
    *mid = (struct plane_point){0, 0}, *size = 0;
    for (size_t i = 0; i < n; i++)
        mid->x += p[i].x / n, mid->y += p[i].y / n;
    for (size_t i = 0; i < n; i++)
        *size = fmax(*size, hypot(p[i].x - mid->x, p[i].y - mid->y));
}

static int invert3(double out[9], const double m[9]) {
    double t[9] = {m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
                   m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
                   m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3]};
    double det = m[0] * t[0] + m[1] * t[3] + m[2] * t[6];
    if (det == 0 || !isfinite(1 / det)) return 0;
    for (int i = 0; i < 9; i++)
        out[i] = t[i] / det;
    return 1;
}

/* Conic A x² + B xy + C y² + D x + E y + F = 0 to axes; 0 when it is no real ellipse. */
static int conic_axes(struct shape_ellipse *out, const double q[6]) {
    double A = q[0], B = q[1], C = q[2], D = q[3], E = q[4], F = q[5];
    double det = 4 * A * C - B * B;
    if (!(det > 0)) return 0;
    double x = (B * E - 2 * C * D) / det, y = (B * D - 2 * A * E) / det;
    double level = -(F + (D * x + E * y) / 2);
    double mean = (A + C) / 2, half = hypot((A - C) / 2, B / 2);
    double l1 = mean - half, l2 = mean + half; /* eigenvalues; the long axis has the smaller one */
    if (mean < 0) {
        double t = l1;
        l1 = -l2, l2 = -t, level = -level;
    }
    if (!(l1 > 0) || !(level > 0)) return 0;
    out->centre = (struct plane_point){x, y};
    out->a = sqrt(level / l1), out->b = sqrt(level / l2);
    double s = mean < 0 ? -1 : 1;
    out->angle = 0.5 * atan2(-s * B, s * (C - A));
    return 1;
}

double shape_ellipse_distance(const struct shape_ellipse *e, struct plane_point p,
                              struct plane_point *foot) {
    double c = cos(e->angle), s = sin(e->angle), dx = p.x - e->centre.x, dy = p.y - e->centre.y;
    double x = c * dx + s * dy, y = -s * dx + c * dy;
    double ax = fabs(x), ay = fabs(y), a2 = e->a * e->a, b2 = e->b * e->b, fx, fy;
    double inside = x * x / a2 + y * y / b2 < 1;
    /* Foot = (a² x/(t + a²), b² y/(t + b²)); t is the root of the secular equation above -b². */
    if (ay == 0 && ax * e->a <= a2 - b2) { /* between the centres of curvature on the long axis */
        fx = a2 * ax / (a2 - b2);
        fy = e->b * sqrt(fmax(0, 1 - fx * fx / a2));
        if (a2 == b2) fx = 0, fy = e->b;
    } else {
        double lo = fmax(e->b * ay - b2, -b2), hi = hypot(e->a * ax, e->b * ay) - b2;
        hi = fmax(hi, lo);
        for (int i = 0; i < 200; i++) {
            double t = (lo + hi) / 2;
            if (t == lo || t == hi) break;
            double u = e->a * ax / (t + a2), v = e->b * ay / (t + b2);
            if (u * u + v * v > 1)
                lo = t;
            else
                hi = t;
        }
        double t = (lo + hi) / 2;
        fx = a2 * ax / (t + a2);
        fy = ay == 0 ? 0 : b2 * ay / (t + b2);
    }
    fx = copysign(fx, x), fy = copysign(fy, y);
    if (foot) *foot = (struct plane_point){fx, fy};
    double d = hypot(x - fx, y - fy);
    return inside ? -d : d;
}

static double squares(const struct shape_ellipse *e, const struct plane_point *p, size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double d = shape_ellipse_distance(e, p[i], NULL);
        sum += d * d;
    }
    return sum;
}

static int input_check(const struct plane_point *p, size_t n, struct error *err) {
    if (n < 5)
        return fail(err, ERR_MISSING,
                    "Give at least five edge points, or more evidence by the method outline.",
                    "An ellipse has five unknowns; there are %zu points.", n);
    for (size_t i = 0; i < n; i++)
        if (!isfinite(p[i].x + p[i].y))
            return fail(err, ERR_INPUT, "Measure the point again or leave it out.",
                        "Point %zu has no place.", i + 1);
    return 0;
}

int shape_ellipse_direct(struct shape_ellipse *out, const struct plane_point *p, size_t n,
                         struct error *err) {
    *out = (struct shape_ellipse){.u_a = NAN, .u_b = NAN};
    int rc = input_check(p, n, err);
    if (rc) return rc;
    struct plane_point mid;
    double size, S1[9] = {0}, S2[9] = {0}, S3[9] = {0}, inv[9], T[9], M[9], P[9];
    frame(p, n, &mid, &size);
    if (!(size > 0)) return fail(err, ERR_SOLVE, "Spread the points.", "All points coincide.");
    for (size_t i = 0; i < n; i++) {
        double x = (p[i].x - mid.x) / size, y = (p[i].y - mid.y) / size;
        double q[3] = {x * x, x * y, y * y}, l[3] = {x, y, 1};
        for (int r = 0; r < 3; r++)
            for (int c = 0; c < 3; c++) {
                S1[3 * r + c] += q[r] * q[c];
                S2[3 * r + c] += q[r] * l[c];
                S3[3 * r + c] += l[r] * l[c];
            }
    }
    static const char *const line = "The points lie on a straight line or do not fix an ellipse.";
    if (!invert3(inv, S3))
        return fail(err, ERR_SOLVE, "Take points further round the edge.", "%s", line);
    for (int r = 0; r < 3; r++) /* T = -S3^-1 S2' */
        for (int c = 0; c < 3; c++) {
            T[3 * r + c] = 0;
            for (int k = 0; k < 3; k++)
                T[3 * r + c] -= inv[3 * r + k] * S2[3 * c + k];
        }
    for (int r = 0; r < 3; r++)
        for (int c = 0; c < 3; c++) {
            M[3 * r + c] = S1[3 * r + c];
            for (int k = 0; k < 3; k++)
                M[3 * r + c] += S2[3 * r + k] * T[3 * k + c];
        }
    for (int c = 0; c < 3; c++) /* C1^-1 M: rows (M3/2, -M2, M1/2) */
        P[c] = M[6 + c] / 2, P[3 + c] = -M[3 + c], P[6 + c] = M[c] / 2;
    double wr[3], wi[3], vr[9];
    if (LAPACKE_dgeev(LAPACK_ROW_MAJOR, 'N', 'V', 3, P, 3, wr, wi, NULL, 1, vr, 3))
        return fail(err, ERR_SOLVE, "Take points further round the edge.", "%s", line);
    int found = 0;
    for (int k = 0; k < 3 && !found; k++) {
        double v[3] = {vr[k], vr[3 + k], vr[6 + k]}, q[6];
        if (wi[k] != 0 || !(4 * v[0] * v[2] - v[1] * v[1] > 0)) continue;
        memcpy(q, v, sizeof v);
        for (int r = 0; r < 3; r++)
            q[3 + r] = T[3 * r] * v[0] + T[3 * r + 1] * v[1] + T[3 * r + 2] * v[2];
        found = conic_axes(out, q);
    }
    if (!found) return fail(err, ERR_SOLVE, "Take points further round the edge.", "%s", line);
    out->centre.x = mid.x + size * out->centre.x, out->centre.y = mid.y + size * out->centre.y;
    out->a *= size, out->b *= size;
    out->residual = sqrt(squares(out, p, n));
    return 0;
}

static void set(struct shape_ellipse *e, const double v[5]) {
    e->centre = (struct plane_point){v[0], v[1]};
    e->a = fabs(v[2]), e->b = fabs(v[3]), e->angle = v[4];
}

/* One damped Gauss-Newton run from *e; fills jtj at the end. */
static double descend(struct shape_ellipse *e, const struct plane_point *p, size_t n,
                      double jtj[25]) {
    double v[5] = {e->centre.x, e->centre.y, e->a, e->b, e->angle}, lambda = 1e-2;
    double now = squares(e, p, n);
    for (e->steps = 0; e->steps < 300; e->steps++) {
        double g[5] = {0};
        memset(jtj, 0, 25 * sizeof *jtj);
        double c = cos(v[4]), s = sin(v[4]);
        for (size_t i = 0; i < n; i++) {
            struct plane_point f;
            double d = shape_ellipse_distance(e, p[i], &f);
            /* Outward unit normal at the foot, own frame; then d d/d(parameters), foot held. */
            double nx = f.x / (e->a * e->a), ny = f.y / (e->b * e->b), l = hypot(nx, ny);
            nx /= l, ny /= l;
            double j[5] = {-(c * nx - s * ny), -(s * nx + c * ny), -nx * f.x / e->a,
                           -ny * f.y / e->b, nx * f.y - ny * f.x};
            for (int a = 0; a < 5; a++) {
                g[a] += j[a] * d;
                for (int b = 0; b < 5; b++)
                    jtj[5 * a + b] += j[a] * j[b];
            }
        }
        int better = 0, done = 0;
        for (int tries = 0; tries < 15 && !better; tries++) {
            double m[25], d[5], w[5];
            memcpy(m, jtj, sizeof m), memcpy(d, g, sizeof d);
            for (int k = 0; k < 5; k++)
                m[6 * k] += lambda * (m[6 * k] + 1e-12);
            if (LAPACKE_dposv(LAPACK_ROW_MAJOR, 'U', 5, 1, m, 5, d, 1)) {
                lambda *= 10;
                continue;
            }
            for (int k = 0; k < 5; k++)
                w[k] = v[k] - d[k];
            struct shape_ellipse t = *e;
            set(&t, w);
            double then = t.a > 0 && t.b > 0 ? squares(&t, p, n) : INFINITY;
            better = then < now;
            lambda *= better ? 0.2 : 5;
            if (better) {
                done = now - then <= 1e-15 * now; /* rounding */
                now = then, *e = t, memcpy(v, w, sizeof w);
                v[2] = t.a, v[3] = t.b;
            }
        }
        if (!better || done) break;
    }
    return now;
}

int shape_ellipse_geometric(struct shape_ellipse *out, const struct plane_point *p, size_t n,
                            struct error *err) {
    struct shape_ellipse start;
    int rc = shape_ellipse_direct(&start, p, n, err);
    if (rc) return rc;
    /* The direct fit may sit in the wrong valley on short arcs: also begin longer and rounder. */
    static const double stretch[][2] = {{1, 1}, {1.6, 1}, {1.6, 1.6}, {1, 0.7}};
    double best = INFINITY, jtj[25], keep[25] = {0};
    for (size_t k = 0; k < sizeof stretch / sizeof *stretch; k++) {
        struct shape_ellipse e = start;
        e.a *= stretch[k][0], e.b *= stretch[k][1];
        double s = descend(&e, p, n, jtj);
        if (s < best) best = s, *out = e, memcpy(keep, jtj, sizeof keep);
    }
    double size;
    struct plane_point mid;
    frame(p, n, &mid, &size);
    if (fmax(out->a, out->b) > 100 * size)
        return fail(
            err, ERR_SOLVE,
            "Take points further round the edge, or add a width or a midline and use the "
            "method outline.",
            "The best ellipse is over 100 times longer than the points reach: as far as they "
            "tell, the edge may be straight.");
    int swap = out->b > out->a;
    if (swap) {
        double t = out->a;
        out->a = out->b, out->b = t, out->angle += M_PI / 2;
    }
    out->angle = remainder(out->angle, M_PI);
    if (out->angle <= -M_PI / 2) out->angle += M_PI;
    out->residual = sqrt(best);
    out->u_a = out->u_b = NAN;
    double eye[25] = {1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1};
    if (n > 5 && !LAPACKE_dposv(LAPACK_ROW_MAJOR, 'U', 5, 5, keep, 5, eye, 5)) {
        double s2 = best / (n - 5.0);
        out->u_a = sqrt(s2 * eye[swap ? 18 : 12]), out->u_b = sqrt(s2 * eye[swap ? 12 : 18]);
    }
    return 0;
}
