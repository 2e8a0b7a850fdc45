/* shell_grid: rest shapes made by rule: mapped grids and meshed flat outlines. Used by the open
 * method `shell` and by tests.
 */
#ifndef RELICT_BODY_SHELL_GRID_H
#define RELICT_BODY_SHELL_GRID_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>

enum body_grid_map {
    BODY_GRID_RECTANGLE, /* u = x, v = y, mm */
    BODY_GRID_ANNULUS,   /* u = angle, v = radius; flat, open at the ends of u */
    BODY_GRID_CYLINDER, /* u = angle from the crown (rad, towards +x), v = y; axis y, crown at z = R
                         */
    BODY_GRID_SPHERE    /* u = angle round z from x, v = latitude, rad */
};

struct body_grid {
    enum body_grid_map map;
    double u0, u1, v0, v1;
    double radius; /* cylinder, sphere */
    size_t nu, nv; /* cells */
    double jitter; /* part of a cell by which inner vertices are shifted, at most 0.35 */
    int diagonals; /* 0: all one way, 1: alternating, 2: at random */
    unsigned seed;
    int closed; /* joins u1 to u0 (cylinder, sphere) */
};

/* A rest shape in an arena, with each vertex's grid coordinates (flat outlines: x, y). */
struct body_rest {
    size_t nv, nf;
    double (*x)[3];
    double (*normal)[3]; /* NULL when flat */
    double (*uv)[2];
    int (*tri)[3];
    double lo[2], hi[2]; /* range of uv */
};

int body_grid_make(struct body_rest *out, const struct body_grid *grid, struct arena *arena,
                   struct error *err);

/* Refuses triangles in one plane that are turned over against the first or lie on each other where
 * they hang together (pieces apart from each other may: a patch). Triangles in space are not looked
 * at. Cost: the square of the number of free edges; pieces with more than 20,000 of them are taken
 * as they are. */
int body_rest_check_flat(const struct body_rest *rest, struct arena *arena, struct error *err);

#endif
