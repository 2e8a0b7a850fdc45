#include "trial/scan.h"

#include <gsl/gsl_eigen.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

enum { PATCH_MOST = 4000 };

/* Local frame: the normal is the direction of least spread. */
static int frame_of(const double *xyz, const uint32_t *index, size_t n, double middle[3],
                    double frame[9]) {
    double cov[9] = {0}, value[3];
    memset(middle, 0, 3 * sizeof *middle);
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < 3; c++)
            middle[c] += xyz[3 * index[i] + c] / (double)n;
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < 3; a++)
            for (size_t b = 0; b < 3; b++)
                cov[3 * a + b] +=
                    (xyz[3 * index[i] + a] - middle[a]) * (xyz[3 * index[i] + b] - middle[b]);
    /* ascending eigenvalues: column 0 of cov afterwards is the normal */
    return LAPACKE_dsyev(LAPACK_ROW_MAJOR, 'V', 'U', 3, cov, 3, value)
               ? ERR_SOLVE
               : (memcpy(frame, cov, 9 * sizeof *frame), 0);
}

int scan_curvature_at(struct scan_curvature *out, const struct scan_points *points,
                      const double p[3], double radius, struct error *err) {
    uint32_t index[PATCH_MOST];
    double a[PATCH_MOST * 6], z[PATCH_MOST];
    *out = (struct scan_curvature){0};
    size_t found = scan_points_within(points, p, radius, index, PATCH_MOST);
    size_t n = found < PATCH_MOST ? found : PATCH_MOST;
    if (n < 8)
        return fail(err, ERR_MISSING, "Take a larger patch, or a denser scan.",
                    "Only %zu points within %g mm; a patch needs 8.", n, radius);
    double middle[3], f[9];
    if (frame_of(points->xyz, index, n, middle, f))
        return fail(err, ERR_SOLVE, "Take another place.",
                    "The patch has no direction of its own.");
    double x0 = 0, y0 = 0; /* p in the frame */
    for (int c = 0; c < 3; c++) {
        x0 += f[3 * c + 2] * (p[c] - middle[c]);
        y0 += f[3 * c + 1] * (p[c] - middle[c]);
    }
    for (size_t i = 0; i < n; i++) {
        double x = -x0, y = -y0, h = 0;
        for (int c = 0; c < 3; c++) {
            double d = points->xyz[3 * index[i] + (size_t)c] - middle[c];
            x += f[3 * c + 2] * d;
            y += f[3 * c + 1] * d;
            h += f[3 * c] * d;
        }
        double u = x / radius, v = y / radius; /* of order one: keeps the fit well conditioned */
        const double row[6] = {u * u, u * v, v * v, u, v, 1};
        memcpy(a + 6 * i, row, sizeof row);
        z[i] = h;
    }
    lapack_int rank;
    lapack_int pivot[6] = {0};
    if (LAPACKE_dgelsy(LAPACK_ROW_MAJOR, (lapack_int)n, 6, 1, a, 6, z, 1, pivot, 1e-10, &rank) ||
        rank < 6)
        return fail(err, ERR_SOLVE, "Take a larger patch.",
                    "The points of the patch lie along a line.");
    double aa = z[0] / (radius * radius), bb = z[1] / (radius * radius),
           cc = z[2] / (radius * radius);
    double d = z[3] / radius, e = z[4] / radius, w = sqrt(1 + d * d + e * e);
    /* First and second fundamental forms of z = a x^2 + b x y + c y^2 + d x + e y + f at (0, 0). */
    double E = 1 + d * d, F = d * e, G = 1 + e * e, L = 2 * aa / w, M = bb / w, N = 2 * cc / w;
    out->gauss = (L * N - M * M) / (E * G - F * F);
    out->mean = (E * N - 2 * F * M + G * L) / (2 * (E * G - F * F));
    double root = sqrt(fmax(0, out->mean * out->mean - out->gauss));
    out->k1 = out->mean + (out->mean < 0 ? -root : root);
    out->k2 = out->mean + (out->mean < 0 ? root : -root);
    for (int c = 0; c < 3; c++)
        out->normal[c] = f[3 * c];
    out->points = n;
    double sum = 0; /* what is left over, from the points again: a and z were overwritten */
    for (size_t i = 0; i < n; i++) {
        double x = -x0, y = -y0, h = 0;
        for (int c = 0; c < 3; c++) {
            double q = points->xyz[3 * index[i] + (size_t)c] - middle[c];
            x += f[3 * c + 2] * q;
            y += f[3 * c + 1] * q;
            h += f[3 * c] * q;
        }
        double r = h - (aa * x * x + bb * x * y + cc * y * y + d * x + e * y + z[5]);
        sum += r * r;
    }
    out->residual = sqrt(sum / (double)n);
    return 0;
}
