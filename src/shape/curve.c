#include "shape/curve.h"

#include "plane/arc.h"

#include <gsl/gsl_cdf.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

static const double Z95 = 1.959963984540054; /* Phi^-1(0.975) */

static int grip_check(const struct shape_grip *g, struct error *err) {
    if (isnan(g->chord) == isnan(g->length))
        return fail(err, ERR_MISSING,
                    "Give the chord between the seats, or the length of a bar found straight.",
                    "A grip needs one of chord and length.");
    double l = isnan(g->chord) ? g->length : g->chord;
    if (!(l > 0))
        return fail(err, ERR_RANGE, "Measure between the seats again.",
                    "Grip %g mm long; it must be above 0.", l);
    const double quarter = M_PI / 2;
    if (!(g->angle1 >= 0 && g->angle1 < quarter) ||
        (!isnan(g->angle2) && !(g->angle2 >= 0 && g->angle2 < quarter)))
        return fail(err, ERR_RANGE, "Measure the angle between flat and bar axis.",
                    "A chamfer must lie from 0 to under 90 degrees.");
    if (g->side != SHAPE_GRIP_FLAT && !(g->sheet_radius > l / 2))
        return fail(err, ERR_RANGE, "Give the radius of the sheet's own bow in mm.",
                    "Sheet radius %g mm cannot carry a grip of %g mm.", g->sheet_radius, l);
    return 0;
}

/* Chord of a bar of length S whose end slope is phi. */
static double chord_of(double length, double phi) {
    return phi == 0 ? length : length * sin(phi) / phi;
}

int shape_curve_grip(struct shape_grip_fit *out, const struct shape_grip *g, struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = grip_check(g, err);
    if (rc) return rc;
    bool both = !isnan(g->angle2);
    double times = g->half ? 2 : 1, theta = both ? (g->angle1 + g->angle2) / 2 : g->angle1;
    double u_theta = both ? hypot(g->u_angle1, g->u_angle2) / 2 : g->u_angle1;
    out->disagree = both ? (g->angle1 - g->angle2) / hypot(g->u_angle1, g->u_angle2) : NAN;
    out->circular = !both || fabs(out->disagree) <= 2;
    bool straight_found = isnan(g->chord);
    double S = times * g->length, L = straight_found ? S : times * g->chord;
    double u_L = times * (straight_found ? g->u_length : g->u_chord), psi = 0, u_psi = 0;
    double sign = g->side == SHAPE_GRIP_HOLLOW ? -1 : 1, phi = theta;
    /* With the length known the chord follows from phi, and phi from the chord through psi. */
    for (int i = 0; i < 100; i++) {
        psi = g->side == SHAPE_GRIP_FLAT ? 0 : asin(L / (2 * g->sheet_radius));
        phi = theta + sign * psi;
        double next = straight_found ? chord_of(S, phi) : L;
        if (fabs(next - L) < 1e-13 * L) break; /* rounding */
        L = next;
    }
    if (psi != 0) {
        double c = sqrt(4 * g->sheet_radius * g->sheet_radius - L * L);
        double by_radius = isnan(g->u_sheet_radius) ? 0 : L / g->sheet_radius * g->u_sheet_radius;
        u_psi = by_radius / c;
    }
    double u_phi = hypot(u_theta, u_psi);
    out->slope = phi, out->sheet_slope = psi, out->chord = L;
    out->bend = 2 * sin(phi) / L;
    /* First order; chord and length enter alike (dL/L = dS/S at fixed angle). */
    /* A bar found straight keeps its length: bend = 2 phi/S exactly. */
    double c = straight_found ? 2 / S : 2 * cos(phi) / L;
    out->u_bend = hypot(out->bend * u_L / L, c * u_phi);
    out->radius = out->bend > 0 ? 1 / out->bend : NAN;
    out->u_radius = out->bend > 0 ? out->u_bend / (out->bend * out->bend) : NAN;
    double lo = out->bend - Z95 * out->u_bend, hi = out->bend + Z95 * out->u_bend;
    out->radius_low = hi > 0 ? 1 / hi : NAN;
    out->radius_high = lo > 0 ? 1 / lo : INFINITY;
    out->rise = L / 2 * tan(phi / 2);
    out->arc = straight_found ? S : phi != 0 ? L * phi / sin(phi) : L;
    double sag = psi != 0 ? g->sheet_radius * (1 - cos(psi)) : 0;
    out->hand_room = out->rise - sign * sag;
    out->shallow = fabs(phi) < 8 * M_PI / 180;
    double length = straight_found ? S : L, k = 2 * sin(theta) / length,
           u_k = hypot(k * u_L / length, 2 * cos(theta) / length * u_theta);
    out->stiff_sheet_radius = theta > 0 ? 1 / k : INFINITY;
    out->stiff_low = 1 / (k + Z95 * u_k);
    out->stiff_high = k > Z95 * u_k ? 1 / (k - Z95 * u_k) : INFINITY;
    return 0;
}

int shape_curve_splits(struct shape_splits *out, double r, double w, double u_w,
                       struct error *err) {
    *out = (struct shape_splits){0};
    if (!(r > 0) || !isfinite(w) || !(u_w >= 0))
        return fail(err, ERR_RANGE, "Give the radius above 0 and the summed gap in mm.",
                    "Radius %g mm, gap %g mm, ± %g mm.", r, w, u_w);
    double share = w / (2 * M_PI * r); /* 1 - sin(rho)/rho */
    if (share >= 1)
        return fail(err, ERR_RANGE,
                    "Add the gaps of all splits at one radius, and check the radius.",
                    "Gaps of %g mm are as long as the whole rim at %g mm.", w, r);
    if (w == 0) {
        *out = (struct shape_splits){0, INFINITY, INFINITY, 0, 0, 0};
        return 0;
    }
    double lo = 0, hi = w > 0 ? M_PI : 50; /* sinh(50)/50 covers any overlap */
    for (int i = 0; i < 200; i++) {
        double m = (lo + hi) / 2;
        /* The series for small rho, where 1 - sin(rho)/rho loses digits. */
        double f = m < 1e-3 ? m * m / 6 * (w > 0 ? 1 - m * m / 20 : 1 + m * m / 20)
                            : (w > 0 ? 1 - sin(m) / m : sinh(m) / m - 1);
        if (f < fabs(share))
            lo = m;
        else
            hi = m;
    }
    double rho = (lo + hi) / 2, s = w > 0 ? 1 : -1;
    out->rho = rho;
    out->radius = r / rho;
    out->u_radius = out->radius * u_w / (2 * fabs(w));
    out->rise = w > 0 ? out->radius * (1 - cos(rho)) : NAN;
    out->gauss = s / (out->radius * out->radius);
    out->deficit = w > 0 ? 2 * M_PI * (1 - cos(rho)) : 2 * M_PI * (1 - cosh(rho));
    return 0;
}

int shape_curve_split_growth(struct shape_split_growth *out, const double *r, const double *w,
                             const double *u, size_t n, struct error *err) {
    *out = (struct shape_split_growth){0};
    if (n < 2)
        return fail(err, ERR_MISSING, "Measure the gaps at two radii or more.",
                    "Growth of the gaps from %zu radius.", n);
    double sw = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, t3 = 0, b3 = 0, t1 = 0, b1 = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(r[i] > 0) || !(w[i] > 0) || !(u[i] > 0))
            return fail(err, ERR_RANGE, "Give radius, gap and ± above 0, mm.",
                        "Reading %zu: radius %g mm, gap %g ± %g mm.", i + 1, r[i], w[i], u[i]);
        double k = pow(w[i] / u[i], 2), x = log(r[i]), y = log(w[i]), v = 1 / (u[i] * u[i]);
        sw += k, sx += k * x, sy += k * y, sxx += k * x * x, sxy += k * x * y;
        t3 += v * w[i] * pow(r[i], 3), b3 += v * pow(r[i], 6);
        t1 += v * w[i] * r[i], b1 += v * r[i] * r[i];
    }
    double det = sw * sxx - sx * sx;
    if (!(det > 1e-12 * sw * sxx))
        return fail(err, ERR_SOLVE, "Measure the gaps at different radii.",
                    "All gaps were measured at one radius.");
    out->exponent = (sw * sxy - sx * sy) / det;
    out->u_exponent = sqrt(sw / det);
    out->cubic = t3 / b3, out->linear = t1 / b1;
    for (size_t i = 0; i < n; i++) {
        out->chi2_cubic += pow((w[i] - out->cubic * pow(r[i], 3)) / u[i], 2);
        out->chi2_linear += pow((w[i] - out->linear * r[i]) / u[i], 2);
    }
    out->p_cubic = gsl_cdf_chisq_Q(out->chi2_cubic, n - 1.0);
    out->p_linear = gsl_cdf_chisq_Q(out->chi2_linear, n - 1.0);
    return 0;
}

double shape_curve_worn_width(double flat, double radius, double *rise) {
    double h = isinf(radius) ? 0 : flat / (2 * radius);
    if (rise) *rise = h == 0 ? 0 : radius * 2 * pow(sin(h / 2), 2);
    return h == 0 ? flat : 2 * radius * sin(h);
}

int shape_curve_radius_from_widths(double *radius, double flat, double worn, struct error *err) {
    *radius = NAN;
    if (!(flat > 0) || !(worn > 0) || worn > flat)
        return fail(err, ERR_RANGE, "Check which width is flat and bring both to one state.",
                    "Flat %g mm, as worn %g mm; a bent sheet is never wider than flat.", flat,
                    worn);
    double share = worn / flat, lo = 0, hi = M_PI; /* sin(h)/h falls from 1 to 0 */
    for (int i = 0; i < 200; i++) {
        double m = (lo + hi) / 2;
        if ((m < 1e-4 ? 1 - m * m / 6 : sin(m) / m) > share)
            lo = m;
        else
            hi = m;
    }
    *radius = worn == flat ? INFINITY : flat / (lo + hi);
    return 0;
}

double shape_curve_face_factor(double thickness, double radius) {
    return 1 + thickness / (2 * radius);
}

/* Covariance of the points; eigenvectors ascending, so column 0 is the normal. */
static int patch_frame(struct shape_patch *out, struct shape_point3 *mid, double axes[9],
                       const struct shape_point3 *p, size_t n) {
    double c[9] = {0}, w[3];
    *mid = (struct shape_point3){0, 0, 0};
    for (size_t i = 0; i < n; i++)
        mid->x += p[i].x / n, mid->y += p[i].y / n, mid->z += p[i].z / n;
    for (size_t i = 0; i < n; i++) {
        double d[3] = {p[i].x - mid->x, p[i].y - mid->y, p[i].z - mid->z};
        for (int r = 0; r < 3; r++)
            for (int q = 0; q < 3; q++)
                c[3 * r + q] += d[r] * d[q];
    }
    if (LAPACKE_dsyev(LAPACK_ROW_MAJOR, 'V', 'U', 3, c, 3, w)) return 0;
    for (int r = 0; r < 3; r++) /* axes: e1 (widest), e2, normal; right-handed */
        axes[r] = c[3 * r + 2], axes[3 + r] = c[3 * r + 1], axes[6 + r] = c[3 * r];
    double det = axes[0] * (axes[4] * axes[8] - axes[5] * axes[7]) -
                 axes[1] * (axes[3] * axes[8] - axes[5] * axes[6]) +
                 axes[2] * (axes[3] * axes[7] - axes[4] * axes[6]);
    bool flip = axes[8] < 0; /* the normal toward the viewer where it can be */
    for (int r = 0; r < 3; r++) {
        if (flip) axes[6 + r] = -axes[6 + r];
        if ((det < 0) != flip) axes[3 + r] = -axes[3 + r];
    }
    out->e1 = (struct shape_point3){axes[0], axes[1], axes[2]};
    out->normal = (struct shape_point3){axes[6], axes[7], axes[8]};
    return w[1] > 1e-12 * w[2];
}

int shape_curve_patch(struct shape_patch *out, const struct shape_point3 *p, size_t n,
                      struct error *err) {
    memset(out, 0, sizeof *out);
    if (n < 6)
        return fail(err, ERR_MISSING, "Take a wider patch: six points or more.",
                    "A patch of %zu points; its curve has six unknowns.", n);
    struct shape_point3 mid;
    double axes[9], m[36] = {0}, g[6] = {0}, squares = 0;
    if (!patch_frame(out, &mid, axes, p, n))
        return fail(err, ERR_SOLVE, "Take points that spread over a patch.",
                    "The points lie on one line.");
    for (size_t i = 0; i < n; i++) {
        double d[3] = {p[i].x - mid.x, p[i].y - mid.y, p[i].z - mid.z};
        double x = axes[0] * d[0] + axes[1] * d[1] + axes[2] * d[2];
        double y = axes[3] * d[0] + axes[4] * d[1] + axes[5] * d[2];
        out->radius = fmax(out->radius, hypot(x, y));
    }
    double s = out->radius, yy = 0;
    for (size_t i = 0; i < n; i++) {
        double d[3] = {p[i].x - mid.x, p[i].y - mid.y, p[i].z - mid.z};
        double x = (axes[0] * d[0] + axes[1] * d[1] + axes[2] * d[2]) / s;
        double y = (axes[3] * d[0] + axes[4] * d[1] + axes[5] * d[2]) / s;
        double z = axes[6] * d[0] + axes[7] * d[1] + axes[8] * d[2];
        double row[6] = {x * x, x * y, y * y, x, y, 1};
        for (int a = 0; a < 6; a++) {
            g[a] += row[a] * z;
            for (int b = 0; b < 6; b++)
                m[6 * a + b] += row[a] * row[b];
        }
        yy += z * z;
    }
    double rhs[6], inv[36];
    memcpy(rhs, g, sizeof rhs), memcpy(inv, m, sizeof inv);
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'U', 6, inv, 6) ||
        LAPACKE_dpotrs(LAPACK_ROW_MAJOR, 'U', 6, 1, inv, 6, rhs, 1) ||
        LAPACKE_dpotri(LAPACK_ROW_MAJOR, 'U', 6, inv, 6))
        return fail(err, ERR_SOLVE, "Take points that spread over a patch.",
                    "The points do not fix a curved surface.");
    squares = yy;
    for (int a = 0; a < 6; a++)
        squares -= rhs[a] * g[a];
    squares = fmax(squares, 0);
    out->misfit = sqrt(squares / n);
    double a = rhs[0] / (s * s), b = rhs[1] / (s * s), c = rhs[2] / (s * s), d = rhs[3] / s,
           e = rhs[4] / s;
    double E = 1 + d * d, F = d * e, G = 1 + e * e, W = sqrt(1 + d * d + e * e);
    double L = 2 * a / W, M = b / W, N = 2 * c / W;
    out->gauss = (L * N - M * M) / (E * G - F * F);
    /* z is taken along the normal toward the viewer: a bulge toward it has negative L. Sign turned
     * so that bulging outward is positive. */
    out->mean = -(E * N - 2 * F * M + G * L) / (2 * (E * G - F * F));
    double h = sqrt(fmax(out->mean * out->mean - out->gauss, 0));
    out->k1 = out->mean + h, out->k2 = out->mean - h;
    out->direction = 0.5 * atan2(-2 * M, -(L - N)); /* of k1; d, e are near 0 in this frame */
    double var = n > 6 ? squares / (n - 6.0) : NAN;
    out->u_k = 2 / (s * s) * sqrt(var * (inv[0] + inv[14]) / 2);
    out->bias = pow(s * fmax(fabs(out->k1), fabs(out->k2)), 2) / 4;
    return 0;
}

int shape_curve_combine(struct shape_bend_combined *out, const struct shape_bend_reading *reading,
                        size_t n, struct error *err) {
    *out = (struct shape_bend_combined){.p = NAN, .bend = NAN, .u = NAN, .birge_u = NAN};
    double w = 0, mean = 0, worst = -1;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(reading[i].bend) || !(reading[i].u > 0))
            return fail(err, ERR_RANGE, "Give each reading a bend and a ± above 0, 1/mm.",
                        "Reading %s: bend %g ± %g.", reading[i].id ? reading[i].id : "?",
                        reading[i].bend, reading[i].u);
        if (reading[i].kind != SHAPE_BEND_IS) continue;
        double k = 1 / (reading[i].u * reading[i].u);
        w += k, mean += k * reading[i].bend, out->n++;
    }
    if (!out->n)
        return fail(err, ERR_MISSING, "Give a reading that is a value, not only a limit.",
                    "There are only limits; no bend follows from them.");
    mean /= w;
    for (size_t i = 0; i < n; i++) {
        double z = (reading[i].bend - mean) / reading[i].u;
        if (reading[i].kind == SHAPE_BEND_IS)
            out->q += z * z;
        else {
            z /= hypot(1, 1 / sqrt(w) / reading[i].u); /* against the mean with its own error */
            if (reading[i].kind == SHAPE_BEND_AT_LEAST ? z < 0 : z > 0) z = 0;
            out->clash |= fabs(z) > 2;
        }
        if (fabs(z) > worst) worst = fabs(z), out->worst = i;
    }
    if (out->n > 1) {
        out->p = gsl_cdf_chisq_Q(out->q, out->n - 1.0);
        out->clash |= out->p < 0.05;
        out->birge_u = sqrt(fmax(1, out->q / (out->n - 1.0)) / w); /* Birge 1932 */
    }
    if (!out->clash) out->bend = mean, out->u = 1 / sqrt(w);
    return 0;
}
