#include "plane/predicates.h"

#include <float.h>
#include <math.h>
#include <stddef.h>

/* An exact number as a sum of doubles, smallest first, no two of which overlap. The longest we meet
 * is the in-circle determinant: 3 products of a 16-term by a 16-term sum, 512 terms each. */
enum { MOST = 1536 };
struct sum {
    size_t n;
    double v[MOST];
};

/* a + b exactly as x + y (Knuth). */
static double two_sum(double a, double b, double *y) {
    double x = a + b, bv = x - a, av = x - bv;
    *y = (a - av) + (b - bv);
    return x;
}

/* Adds one double to a sum; terms that come out zero are dropped. Shewchuk 1997, figure 6. */
static void sum_grow(struct sum *s, double b) {
    size_t n = 0;
    double q = b;
    for (size_t i = 0; i < s->n; i++) {
        double y;
        q = two_sum(q, s->v[i], &y);
        if (y != 0) s->v[n++] = y;
    }
    if (q != 0) s->v[n++] = q;
    s->n = n;
}

static void sum_add(struct sum *s, const struct sum *b, double sign) {
    for (size_t i = 0; i < b->n; i++)
        sum_grow(s, sign * b->v[i]);
}

/* out += a * b, term by term; fma gives the rounding error of each product exactly. */
static void sum_add_product(struct sum *out, const struct sum *a, const struct sum *b,
                            double sign) {
    for (size_t i = 0; i < a->n; i++)
        for (size_t j = 0; j < b->n; j++) {
            double p = a->v[i] * b->v[j], e = fma(a->v[i], b->v[j], -p);
            sum_grow(out, sign * e);
            sum_grow(out, sign * p);
        }
}

static void sum_difference(struct sum *out, double a, double b) {
    out->n = 0;
    sum_grow(out, a);
    sum_grow(out, -b);
}

/* The largest term carries the sign. */
static double sum_sign(const struct sum *s) {
    return s->n ? s->v[s->n - 1] : 0;
}

static double orient_exact(const double *a, const double *b, const double *c) {
    struct sum ax, ay, bx, by, d = {0};
    sum_difference(&ax, a[0], c[0]);
    sum_difference(&ay, a[1], c[1]);
    sum_difference(&bx, b[0], c[0]);
    sum_difference(&by, b[1], c[1]);
    sum_add_product(&d, &ax, &by, 1);
    sum_add_product(&d, &ay, &bx, -1);
    return sum_sign(&d);
}

double plane_orient(const double *a, const double *b, const double *c) {
    double l = (a[0] - c[0]) * (b[1] - c[1]), r = (a[1] - c[1]) * (b[0] - c[0]), d = l - r;
    double bound =
        (3 + 16 * DBL_EPSILON) * 0.5 * DBL_EPSILON * (fabs(l) + fabs(r)); /* ccwerrboundA */
    return fabs(d) > bound ? d : orient_exact(a, b, c);
}

/* det += sign * (p x q) * |r|^2 with p, q, r pairs of exact differences. */
static void incircle_part(struct sum *det, const struct sum p[2], const struct sum q[2],
                          const struct sum r[2]) {
    struct sum cross = {0}, lift = {0};
    sum_add_product(&cross, &p[0], &q[1], 1);
    sum_add_product(&cross, &p[1], &q[0], -1);
    sum_add_product(&lift, &r[0], &r[0], 1);
    sum_add_product(&lift, &r[1], &r[1], 1);
    struct sum part = {0};
    sum_add_product(&part, &cross, &lift, 1);
    sum_add(det, &part, 1);
}

static double incircle_exact(const double *a, const double *b, const double *c, const double *d) {
    struct sum p[3][2], det = {0};
    const double *v[3] = {a, b, c};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 2; k++)
            sum_difference(&p[i][k], v[i][k], d[k]);
    for (int i = 0; i < 3; i++)
        incircle_part(&det, p[(i + 1) % 3], p[(i + 2) % 3], p[i]);
    return sum_sign(&det);
}

double plane_incircle(const double *a, const double *b, const double *c, const double *d) {
    double ax = a[0] - d[0], ay = a[1] - d[1], bx = b[0] - d[0], by = b[1] - d[1];
    double cx = c[0] - d[0], cy = c[1] - d[1];
    double bc = bx * cy, cb = cx * by, ca = cx * ay, ac = ax * cy, ab = ax * by, ba = bx * ay;
    double la = ax * ax + ay * ay, lb = bx * bx + by * by, lc = cx * cx + cy * cy;
    double det = la * (bc - cb) + lb * (ca - ac) + lc * (ab - ba);
    double size =
        (fabs(bc) + fabs(cb)) * la + (fabs(ca) + fabs(ac)) * lb + (fabs(ab) + fabs(ba)) * lc;
    double bound = (10 + 96 * DBL_EPSILON) * 0.5 * DBL_EPSILON * size; /* iccerrboundA */
    return fabs(det) > bound ? det : incircle_exact(a, b, c, d);
}
