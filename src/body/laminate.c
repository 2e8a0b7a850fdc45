#include "body/laminate.h"

#include <math.h>
#include <string.h>

void body_voigt_turn(double out[3], const double in[3], double angle) {
    double c = cos(angle), s = sin(angle), e11 = in[0], e22 = in[1], g = in[2];
    out[0] = c * c * e11 + s * s * e22 - c * s * g;
    out[1] = s * s * e11 + c * c * e22 + c * s * g;
    out[2] = 2 * c * s * (e11 - e22) + (c * c - s * s) * g;
}

/* Jones 1999, eqs (2.84): transformed reduced stiffnesses. */
void body_ply_stiffness(double q[9], const struct body_ply *p) {
    double nu21 = p->nu12 * p->e2 / p->e1, den = 1 - p->nu12 * nu21;
    double q11 = p->e1 / den, q22 = p->e2 / den, q12 = p->nu12 * p->e2 / den, q66 = p->g12;
    double c = cos(p->angle), s = sin(p->angle);
    double c2 = c * c, s2 = s * s, cs = c * s, c4 = c2 * c2, s4 = s2 * s2;
    q[0] = q11 * c4 + 2 * (q12 + 2 * q66) * c2 * s2 + q22 * s4;
    q[4] = q11 * s4 + 2 * (q12 + 2 * q66) * c2 * s2 + q22 * c4;
    q[1] = q[3] = (q11 + q22 - 4 * q66) * c2 * s2 + q12 * (s4 + c4);
    q[2] = q[6] = (q11 - q12 - 2 * q66) * cs * c2 + (q12 - q22 + 2 * q66) * cs * s2;
    q[5] = q[7] = (q11 - q12 - 2 * q66) * cs * s2 + (q12 - q22 + 2 * q66) * cs * c2;
    q[8] = (q11 + q22 - 2 * q12 - 2 * q66) * c2 * s2 + q66 * (s4 + c4);
}

static int check(const struct body_ply *p, size_t i, struct error *err) {
    const struct {
        const char *name;
        double v;
    } above[] = {{"thickness", p->thickness}, {"E1", p->e1}, {"E2", p->e2}, {"G12", p->g12}};
    for (int k = 0; k < 4; k++)
        if (!(above[k].v > 0) || !isfinite(above[k].v))
            return fail(err, ERR_RANGE, "Give a value above 0.",
                        "Layer %zu: %s is %g; it must be above 0.", i + 1, above[k].name,
                        above[k].v);
    double top = fmax(p->e1, p->e2), low = fmin(fmin(p->e1, p->e2), p->g12);
    if (top / low > 1e5)
        return fail(
            err, ERR_RANGE, "Check the units (MPa) of the moduli.",
            "Layer %zu: its moduli differ by a factor of %.3g; more than 1e5 is not a sheet.",
            i + 1, top / low);
    if (!isfinite(p->nu12) || p->nu12 * p->nu12 >= p->e1 / p->e2)
        return fail(err, ERR_RANGE, "Check which direction is 1 (along the grain).",
                    "Layer %zu: nu12 = %g must lie below sqrt(E1/E2) = %g.", i + 1, p->nu12,
                    sqrt(p->e1 / p->e2));
    if (!isfinite(p->angle) || !(p->density >= 0) || !isfinite(p->free1) || !isfinite(p->free2) ||
        fabs(p->free1) > 0.5 || fabs(p->free2) > 0.5)
        return fail(err, ERR_RANGE, "Give angle, density and free strains as numbers.",
                    "Layer %zu: angle, density or free strain is out of range.", i + 1);
    return 0;
}

/* Gauss elimination with row exchange for the six unknowns; returns 0 when singular. */
static int solve6(double m[6][7]) {
    for (int k = 0; k < 6; k++) {
        int best = k;
        for (int i = k + 1; i < 6; i++)
            if (fabs(m[i][k]) > fabs(m[best][k])) best = i;
        if (!(fabs(m[best][k]) > 0)) return 0;
        for (int j = 0; j < 7; j++) {
            double t = m[k][j];
            m[k][j] = m[best][j];
            m[best][j] = t;
        }
        for (int i = 0; i < 6; i++) {
            if (i == k) continue;
            double f = m[i][k] / m[k][k];
            for (int j = k; j < 7; j++)
                m[i][j] -= f * m[k][j];
        }
    }
    for (int k = 0; k < 6; k++)
        m[k][6] /= m[k][k];
    return 1;
}

int body_laminate_solve(double strain[3], double curvature[3], const struct body_laminate *l,
                        const double n[3], const double m[3]) {
    double t = l->thickness > 0 ? l->thickness : 1,
           w[6][7]; /* scaled so that rows are alike in size */
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            w[i][j] = l->a[3 * i + j];
            w[i][3 + j] = w[3 + i][j] = l->c[3 * i + j] / t;
            w[3 + i][3 + j] = l->d[3 * i + j] / (t * t);
        }
        w[i][6] = n[i];
        w[3 + i][6] = m[i] / t;
    }
    if (!solve6(w)) return ERR_SOLVE;
    for (int i = 0; i < 3; i++) {
        strain[i] = w[i][6];
        curvature[i] = w[3 + i][6] / t;
    }
    return 0;
}

int body_laminate_make(struct body_laminate *out, const struct body_ply *plies, size_t n,
                       struct error *err) {
    memset(out, 0, sizeof *out);
    if (n == 0)
        return fail(err, ERR_MISSING, "Give at least one layer.", "The sheet has no layers.");
    for (size_t i = 0; i < n; i++) {
        int rc = check(&plies[i], i, err);
        if (rc) return rc;
        out->thickness += plies[i].thickness;
        out->mass += plies[i].thickness * plies[i].density;
    }
    double z0 = -out->thickness / 2, force[3] = {0}, moment[3] = {0};
    for (size_t i = 0; i < n; i++) {
        double z1 = z0 + plies[i].thickness, q[9], own[3] = {plies[i].free1, plies[i].free2, 0},
               e[3];
        double first = (z1 * z1 - z0 * z0) / 2, second = (z1 * z1 * z1 - z0 * z0 * z0) / 3;
        body_ply_stiffness(q, &plies[i]);
        body_voigt_turn(e, own, plies[i].angle);
        for (int k = 0; k < 9; k++) {
            out->a[k] += q[k] * (z1 - z0);
            out->c[k] -= q[k] * first;
            out->d[k] += q[k] * second;
            force[k / 3] += q[k] * e[k % 3] * (z1 - z0);
            moment[k / 3] -= q[k] * e[k % 3] * first;
        }
        z0 = z1;
    }
    double scale = 0;
    for (int k = 0; k < 9; k++)
        scale = fmax(scale, fabs(out->a[k]) * out->thickness);
    for (int k = 0; k < 9; k++) /* a symmetric stack has C = 0, not rounding */
        if (fabs(out->c[k]) < 1e-14 * scale) out->c[k] = 0;
    if (body_laminate_solve(out->strain, out->curvature, out, force, moment))
        return fail(err, ERR_SOLVE, "Check the layers.",
                    "The stiffness of the layers is singular.");
    return 0;
}

void body_laminate_weaken(struct body_laminate *l, double stretch1, double bend1, double stretch2,
                          double bend2) {
    const double s[3] = {sqrt(stretch1), sqrt(stretch2), pow(stretch1 * stretch2, 0.25)},
                 b[3] = {sqrt(bend1), sqrt(bend2), pow(bend1 * bend2, 0.25)};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            l->a[3 * i + j] *= s[i] * s[j];
            l->c[3 * i + j] *= s[i] * b[j];
            l->d[3 * i + j] *= b[i] * b[j];
        }
}

void body_laminate_scale(struct body_laminate *out, const struct body_laminate *l, double f) {
    *out = *l;
    for (int k = 0; k < 9; k++) {
        out->a[k] = l->a[k] * f;
        out->c[k] = l->c[k] * f * f;
        out->d[k] = l->d[k] * f * f * f;
    }
    out->thickness = l->thickness * f;
    out->mass = l->mass * f;
    for (int k = 0; k < 3; k++)
        out->curvature[k] = l->curvature[k] / f;
}
