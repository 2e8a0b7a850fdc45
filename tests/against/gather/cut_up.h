/* cut_up: sheets cut into parts at random, so that a layout with 100 % use is known to exist, and
 * the overlap of a layout by GEOS. For the tests of nest. */
#ifndef RELICT_TESTS_CUT_UP_H
#define RELICT_TESTS_CUT_UP_H

#include "gather/nest.h"

#include "check.h"

#include <geos_c.h>

/* Cuts a rectangle by `cuts` straight lines, each through the largest piece: convex parts that
 * fill it. */
struct cutup {
    size_t n;
    size_t corners[64];
    double xy[64][64];
};

static inline double noise(uint64_t *k) {
    uint64_t z = (*k += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static inline double area_of(const double *xy, size_t n) {
    double s = 0;
    for (size_t i = 0; i < n; i++) {
        size_t j = (i + 1) % n;
        s += xy[2 * i] * xy[2 * j + 1] - xy[2 * j] * xy[2 * i + 1];
    }
    return s / 2;
}

/* As cut_up; `square`: by lines along and across only, as laths and panels are. */
static inline void cut_up_as(struct cutup *c, double length, double width, size_t parts,
                             uint64_t seed, bool square) {
    double whole[] = {0, 0, length, 0, length, width, 0, width};
    c->n = 1;
    c->corners[0] = 4;
    memcpy(c->xy[0], whole, sizeof whole);
    while (c->n < parts) {
        size_t big = 0;
        for (size_t i = 1; i < c->n; i++)
            if (area_of(c->xy[i], c->corners[i]) > area_of(c->xy[big], c->corners[big])) big = i;
        size_t n = c->corners[big];
        const double *p = c->xy[big];
        double mx = 0, my = 0;
        for (size_t i = 0; i < n; i++) {
            mx += p[2 * i] / (double)n;
            my += p[2 * i + 1] / (double)n;
        }
        double angle = M_PI * noise(&seed);
        if (square) {
            angle = angle < M_PI / 2 ? 0 : M_PI / 2;
            double share = noise(&seed) * 0.5 - 0.25; /* not through the middle: few are alike */
            mx += share * (p[4] - p[0]);
            my += share * (p[5] - p[1]);
        }
        double nx = cos(angle), ny = sin(angle), side[32];
        double q[2][64];
        size_t m[2] = {0, 0};
        for (size_t i = 0; i < n; i++)
            side[i] = nx * (p[2 * i] - mx) + ny * (p[2 * i + 1] - my);
        for (size_t i = 0; i < n; i++) {
            size_t j = (i + 1) % n, s = side[i] < 0;
            q[s][2 * m[s]] = p[2 * i];
            q[s][2 * m[s]++ + 1] = p[2 * i + 1];
            if (side[i] * side[j] >= 0) continue;
            double t = side[i] / (side[i] - side[j]);
            for (int k = 0; k < 2; k++) {
                q[k][2 * m[k]] = p[2 * i] + t * (p[2 * j] - p[2 * i]);
                q[k][2 * m[k]++ + 1] = p[2 * i + 1] + t * (p[2 * j + 1] - p[2 * i + 1]);
            }
        }
        memcpy(c->xy[big], q[0], sizeof q[0]);
        c->corners[big] = m[0];
        memcpy(c->xy[c->n], q[1], sizeof q[1]);
        c->corners[c->n++] = m[1];
    }
}

static inline void cut_up(struct cutup *c, double length, double width, size_t parts,
                          uint64_t seed) {
    cut_up_as(c, length, width, parts, seed, false);
}

/* Sum of the areas where placed parts overlap, by GEOS: nothing of ours is trusted here. */
static inline double overlap_area(const struct nest_layout *l, const struct nest_part *part) {
    GEOSContextHandle_t h = GEOS_init_r();
    GEOSGeometry **g = calloc(l->n, sizeof *g);
    for (size_t i = 0; i < l->n; i++) {
        const struct nest_part *p = &part[l->place[i].part];
        double *xy = calloc(2 * p->ring.n, sizeof *xy);
        gather_nest_ring(&l->place[i], p, xy);
        GEOSCoordSequence *s = GEOSCoordSeq_create_r(h, (unsigned)p->ring.n + 1, 2);
        for (size_t k = 0; k <= p->ring.n; k++)
            GEOSCoordSeq_setXY_r(h, s, (unsigned)k, xy[2 * (k % p->ring.n)],
                                 xy[2 * (k % p->ring.n) + 1]);
        g[i] = GEOSGeom_createPolygon_r(h, GEOSGeom_createLinearRing_r(h, s), NULL, 0);
        free(xy);
    }
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        for (size_t k = i + 1; k < l->n; k++) {
            if (l->place[i].sheet != l->place[k].sheet) continue;
            GEOSGeometry *both = GEOSIntersection_r(h, g[i], g[k]);
            double a = 0;
            GEOSArea_r(h, both, &a);
            sum += a;
            GEOSGeom_destroy_r(h, both);
        }
    for (size_t i = 0; i < l->n; i++)
        GEOSGeom_destroy_r(h, g[i]);
    free(g);
    GEOS_finish_r(h);
    return sum;
}

#endif
