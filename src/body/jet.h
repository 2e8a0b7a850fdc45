/* jet: a number with its first and second derivatives in a few unknowns (forward differentiation to
 * second order). Small and exact; for the few readings that are not worth differentiating by hand.
 * Private to src/body. Hessians are kept full and symmetric.
 */
#ifndef RELICT_BODY_JET_H
#define RELICT_BODY_JET_H

#include <math.h>
#include <string.h>

enum { JET_MOST = 18 };
struct jet {
    double v, g[JET_MOST], h[JET_MOST][JET_MOST];
};

static inline void jet_constant(struct jet *out, double v) {
    memset(out, 0, sizeof *out);
    out->v = v;
}

/* out = f(a) given value and derivatives of f at a. */
static inline void jet_map(struct jet *out, int n, const struct jet *a, double f, double f1,
                           double f2) {
    struct jet r;
    r.v = f;
    for (int i = 0; i < n; i++) {
        r.g[i] = f1 * a->g[i];
        for (int j = 0; j < n; j++)
            r.h[i][j] = f1 * a->h[i][j] + f2 * a->g[i] * a->g[j];
    }
    *out = r;
}

static inline void jet_sqrt(struct jet *out, int n, const struct jet *a) {
    double r = sqrt(a->v);
    jet_map(out, n, a, r, 0.5 / r, -0.25 / (r * a->v));
}

static inline void jet_inverse(struct jet *out, int n, const struct jet *a) {
    double r = 1 / a->v;
    jet_map(out, n, a, r, -r * r, 2 * r * r * r);
}

/* out += w * a */
static inline void jet_add(struct jet *out, int n, const struct jet *a, double w) {
    out->v += w * a->v;
    for (int i = 0; i < n; i++) {
        out->g[i] += w * a->g[i];
        for (int j = 0; j < n; j++)
            out->h[i][j] += w * a->h[i][j];
    }
}

/* out += w * a * b; out may not be a or b */
static inline void jet_add_product(struct jet *out, int n, const struct jet *a, const struct jet *b,
                                   double w) {
    out->v += w * a->v * b->v;
    for (int i = 0; i < n; i++) {
        out->g[i] += w * (a->v * b->g[i] + b->v * a->g[i]);
        for (int j = 0; j < n; j++)
            out->h[i][j] +=
                w * (a->v * b->h[i][j] + b->v * a->h[i][j] + a->g[i] * b->g[j] + a->g[j] * b->g[i]);
    }
}

static inline void jet_dot(struct jet *out, int n, const struct jet a[3], const struct jet b[3]) {
    jet_constant(out, 0);
    for (int c = 0; c < 3; c++)
        jet_add_product(out, n, &a[c], &b[c], 1);
}

static inline void jet_cross(struct jet out[3], int n, const struct jet a[3],
                             const struct jet b[3]) {
    for (int c = 0; c < 3; c++) {
        int d = (c + 1) % 3, e = (c + 2) % 3;
        jet_constant(&out[c], 0);
        jet_add_product(&out[c], n, &a[d], &b[e], 1);
        jet_add_product(&out[c], n, &a[e], &b[d], -1);
    }
}

#endif
