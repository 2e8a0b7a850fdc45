#include "plane/homography.h"

#include "base/mem.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

/* Shift to the centroid and scale to a mean distance of sqrt 2 (Hartley 1997, section 4.4). */
struct frame {
    double x, y, s;
};

static struct frame frame_of(const struct plane_point *p, size_t n) {
    struct frame f = {0, 0, 0};
    for (size_t i = 0; i < n; i++)
        f.x += p[i].x / n, f.y += p[i].y / n;
    double mean = 0;
    for (size_t i = 0; i < n; i++)
        mean += hypot(p[i].x - f.x, p[i].y - f.y) / n;
    f.s = mean > 0 ? M_SQRT2 / mean : 0;
    return f;
}

static void multiply(double out[9], const double a[9], const double b[9]) {
    double t[9];
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            t[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j] + a[3 * i + 2] * b[6 + j];
    memcpy(out, t, sizeof t);
}

static void invert(double out[9], const double m[9]) {
    double t[9] = {m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
                   m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
                   m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3]};
    double det = m[0] * t[0] + m[1] * t[3] + m[2] * t[6];
    for (int i = 0; i < 9; i++)
        out[i] = t[i] / det;
}

struct plane_point plane_homography_map(const double h[9], struct plane_point p) {
    double w = h[6] * p.x + h[7] * p.y + h[8];
    return (struct plane_point){(h[0] * p.x + h[1] * p.y + h[2]) / w,
                                (h[3] * p.x + h[4] * p.y + h[5]) / w};
}

static int linear_fit(double h[9], const struct plane_point *a, struct frame fa,
                      const struct plane_point *b, struct frame fb, size_t n, struct error *err) {
    size_t rows = 2 * n < 9 ? 9 : 2 * n; /* padded by zero rows so that all of V' comes out */
    double *m = MEM_NEW(double, rows * 9), s[9], vt[81], work[9];
    if (!m) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        double x = (a[i].x - fa.x) * fa.s, y = (a[i].y - fa.y) * fa.s;
        double u = (b[i].x - fb.x) * fb.s, v = (b[i].y - fb.y) * fb.s;
        double r[18] = {-x, -y, -1, 0, 0, 0, u * x, u * y, u, 0, 0, 0, -x, -y, -1, v * x, v * y, v};
        memcpy(m + 18 * i, r, sizeof r);
    }
    lapack_int info = LAPACKE_dgesvd(LAPACK_ROW_MAJOR, 'N', 'A', (lapack_int)rows, 9, m, 9, s, NULL,
                                     1, vt, 9, work);
    mem_free(m);
    /* The eighth singular value measures how far the points are from leaving a whole family. */
    if (info || !(s[7] > 1e-10 * s[0]))
        return fail(err, ERR_SOLVE, "Use four control points of which no three lie on a line.",
                    "The control points do not fix the view.");
    memcpy(h, vt + 72, 9 * sizeof *h);
    return 0;
}

/* Residuals (image, normalised) and normal equations; returns the sum of squares. */
static double normal_equations(double jtj[81], double jtr[9], const double h[9],
                               const struct plane_point *a, const struct plane_point *b, size_t n) {
    double sum = 0;
    if (jtj) memset(jtj, 0, 81 * sizeof *jtj), memset(jtr, 0, 9 * sizeof *jtr);
    for (size_t i = 0; i < n; i++) {
        double X[3] = {a[i].x, a[i].y, 1};
        double w = h[6] * X[0] + h[7] * X[1] + h[8];
        double u = (h[0] * X[0] + h[1] * X[1] + h[2]) / w;
        double v = (h[3] * X[0] + h[4] * X[1] + h[5]) / w;
        double r[2] = {u - b[i].x, v - b[i].y};
        sum += r[0] * r[0] + r[1] * r[1];
        if (!jtj) continue;
        double j[2][9] = {{0}};
        for (int k = 0; k < 3; k++) {
            j[0][k] = X[k] / w, j[0][6 + k] = -u * X[k] / w;
            j[1][3 + k] = X[k] / w, j[1][6 + k] = -v * X[k] / w;
        }
        for (int q = 0; q < 2; q++)
            for (int k = 0; k < 9; k++) {
                jtr[k] += j[q][k] * r[q];
                for (int l = 0; l < 9; l++)
                    jtj[9 * k + l] += j[q][k] * j[q][l];
            }
    }
    return sum;
}

/* J h = 0 (the scale of h is free), so adding h h' to J'J pins the scale and nothing else. */
static void pin_scale(double jtj[81], const double h[9]) {
    for (int k = 0; k < 9; k++)
        for (int l = 0; l < 9; l++)
            jtj[9 * k + l] += h[k] * h[l];
}

static void unit(double h[9]) {
    double s = 0;
    for (int k = 0; k < 9; k++)
        s += h[k] * h[k];
    for (int k = 0; k < 9; k++)
        h[k] /= sqrt(s);
}

static double polish(double h[9], const struct plane_point *a, const struct plane_point *b,
                     size_t n) {
    double jtj[81], jtr[9], lambda = 1e-3, now = normal_equations(NULL, NULL, h, a, b, n);
    for (int step = 0; step < 100; step++) {
        unit(h);
        now = normal_equations(jtj, jtr, h, a, b, n);
        pin_scale(jtj, h);
        int better = 0;
        double m[81], d[9], next[9];
        for (int tries = 0; tries < 12 && !better; tries++) {
            memcpy(m, jtj, sizeof m), memcpy(d, jtr, sizeof d);
            for (int k = 0; k < 9; k++)
                m[10 * k] *= 1 + lambda;
            if (LAPACKE_dposv(LAPACK_ROW_MAJOR, 'U', 9, 1, m, 9, d, 1)) break;
            for (int k = 0; k < 9; k++)
                next[k] = h[k] - d[k];
            double then = normal_equations(NULL, NULL, next, a, b, n);
            better = then < now;
            lambda *= better ? 0.1 : 10;
            if (better) {
                /* 1e-14: sums of squares agree to rounding, nothing more to gain. */
                int done = now - then <= 1e-14 * now;
                memcpy(h, next, sizeof next);
                now = then;
                if (done) return now;
            }
        }
        if (!better) break;
    }
    unit(h);
    return now;
}

static int general_position(const struct plane_point *p, size_t n) {
    struct frame f = frame_of(p, n);
    if (!(f.s > 0)) return 0;
    for (size_t i = 0; i < n; i++) {
        /* A point is in general position when it spans triangles with the others. */
        size_t good = 0;
        for (size_t j = 0; j < n && good < 3; j++)
            for (size_t k = j + 1; k < n; k++) {
                if (j == i || k == i) continue;
                double area = ((p[j].x - p[i].x) * (p[k].y - p[i].y) -
                               (p[j].y - p[i].y) * (p[k].x - p[i].x)) *
                              f.s * f.s / 2;
                if (fabs(area) > 1e-4)
                    good++;
                else if (n == 4)
                    return 0;
            }
        if (good < 3 && n == 4) return 0;
    }
    return 1;
}

static int input_check(const struct plane_point *plane, const struct plane_point *image, size_t n,
                       struct error *err) {
    if (n < 4)
        return fail(err, ERR_MISSING,
                    "Give four control points in the plane or, better, six and more.",
                    "A view from %zu control points.", n);
    for (size_t i = 0; i < n; i++)
        if (!isfinite(plane[i].x + plane[i].y + image[i].x + image[i].y))
            return fail(err, ERR_INPUT, "Leave the point out or measure it again.",
                        "Control point %zu has no place.", i + 1);
    if (!general_position(plane, n) || !general_position(image, n))
        return fail(err, ERR_SOLVE, "Use four control points of which no three lie on a line.",
                    "Three of the control points lie on a line.");
    return 0;
}

/* Scales h and its covariance so that h[8] = 1; J of h/h8 with respect to h. */
static void scale_last(struct plane_homography *out, const double cov[81]) {
    double j[81] = {0}, t[81], h8 = out->h[8];
    for (int k = 0; k < 9; k++) {
        j[9 * k + k] += 1 / h8;
        j[9 * k + 8] -= out->h[k] / (h8 * h8);
    }
    for (int a = 0; a < 9; a++)
        for (int b = 0; b < 9; b++) {
            t[9 * a + b] = 0;
            for (int k = 0; k < 9; k++)
                t[9 * a + b] += j[9 * a + k] * cov[9 * k + b];
        }
    for (int a = 0; a < 9; a++)
        for (int b = 0; b < 9; b++) {
            out->cov[9 * a + b] = 0;
            for (int k = 0; k < 9; k++)
                out->cov[9 * a + b] += t[9 * a + k] * j[9 * b + k];
        }
    for (int k = 0; k < 9; k++)
        out->h[k] /= h8;
}

int plane_homography_fit(struct plane_homography *out, const struct plane_point *plane,
                         const struct plane_point *image, size_t n, double pointing,
                         struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = input_check(plane, image, n, err);
    if (rc) return rc;
    struct frame fa = frame_of(plane, n), fb = frame_of(image, n);
    double h[9];
    rc = linear_fit(h, plane, fa, image, fb, n, err);
    if (rc) return rc;
    struct plane_point *a = MEM_NEW(struct plane_point, 2 * n), *b = a + n;
    if (!a) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        a[i] = (struct plane_point){(plane[i].x - fa.x) * fa.s, (plane[i].y - fa.y) * fa.s};
        b[i] = (struct plane_point){(image[i].x - fb.x) * fb.s, (image[i].y - fb.y) * fb.s};
    }
    double squares = n > 4 ? polish(h, a, b, n) : normal_equations(NULL, NULL, h, a, b, n);
    unit(h);
    double jtj[81], jtr[9];
    normal_equations(jtj, jtr, h, a, b, n);
    mem_free(a);
    out->n = n;
    out->rms = n > 4 ? sqrt(squares / n) / fb.s : 0;
    out->pointing = n > 4 ? sqrt(squares / (2.0 * n - 8)) / fb.s : pointing;
    pin_scale(jtj, h);
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'U', 9, jtj, 9) ||
        LAPACKE_dpotri(LAPACK_ROW_MAJOR, 'U', 9, jtj, 9))
        return fail(err, ERR_SOLVE, "Spread the control points over the field.",
                    "The control points barely fix the view.");
    double cov[81], s2 = pow(out->pointing * fb.s, 2);
    for (int k = 0; k < 9; k++)
        for (int l = 0; l < 9; l++)
            cov[9 * k + l] = s2 * (jtj[k <= l ? 9 * k + l : 9 * l + k] - h[k] * h[l]);
    /* Back to the given coordinates: H = B^-1 h A, linear in h; the covariance goes along. */
    double A[9] = {fa.s, 0, -fa.s * fa.x, 0, fa.s, -fa.s * fa.y, 0, 0, 1};
    double B[9] = {1 / fb.s, 0, fb.x, 0, 1 / fb.s, fb.y, 0, 0, 1}, T[81], t[81], moved[81];
    for (int k = 0; k < 9; k++) {
        double e[9] = {0};
        e[k] = 1;
        multiply(e, e, A), multiply(e, B, e);
        for (int r = 0; r < 9; r++)
            T[9 * r + k] = e[r];
    }
    multiply(h, h, A), multiply(out->h, B, h);
    for (int r = 0; r < 9; r++)
        for (int c = 0; c < 9; c++) {
            t[9 * r + c] = 0;
            for (int k = 0; k < 9; k++)
                t[9 * r + c] += T[9 * r + k] * cov[9 * k + c];
        }
    for (int r = 0; r < 9; r++)
        for (int c = 0; c < 9; c++) {
            moved[9 * r + c] = 0;
            for (int k = 0; k < 9; k++)
                moved[9 * r + c] += t[9 * r + k] * T[9 * c + k];
        }
    scale_last(out, moved);
    invert(out->inverse, out->h);
    return 0;
}

struct plane_point plane_homography_measure(const struct plane_homography *h, struct plane_point p,
                                            double *u) {
    struct plane_point x = plane_homography_map(h->inverse, p);
    if (!u) return x;
    /* Implicit differentiation of f(h, X) = p: dX = M^-1 (dp - df/dh dh), M = df/dX. */
    double w = h->h[6] * x.x + h->h[7] * x.y + h->h[8], X[3] = {x.x, x.y, 1};
    double M[4] = {(h->h[0] - p.x * h->h[6]) / w, (h->h[1] - p.x * h->h[7]) / w,
                   (h->h[3] - p.y * h->h[6]) / w, (h->h[4] - p.y * h->h[7]) / w};
    double det = M[0] * M[3] - M[1] * M[2], j[2][9] = {{0}}, total = 0;
    for (int k = 0; k < 3; k++) {
        double fu = X[k] / w, gu = -p.x * X[k] / w, gv = -p.y * X[k] / w;
        j[0][k] = M[3] * fu / det, j[1][k] = -M[2] * fu / det;
        j[0][3 + k] = -M[1] * fu / det, j[1][3 + k] = M[0] * fu / det;
        j[0][6 + k] = (M[3] * gu - M[1] * gv) / det, j[1][6 + k] = (M[0] * gv - M[2] * gu) / det;
    }
    for (int q = 0; q < 2; q++)
        for (int a = 0; a < 9; a++)
            for (int b = 0; b < 9; b++)
                total += j[q][a] * h->cov[9 * a + b] * j[q][b];
    double own = (M[0] * M[0] + M[1] * M[1] + M[2] * M[2] + M[3] * M[3]) / (det * det);
    *u = sqrt(total + own * h->pointing * h->pointing);
    return x;
}
