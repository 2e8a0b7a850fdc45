/* nest_shape: polygons in convex pieces, and how deep one lies in another (inside gather only). */
#ifndef RELICT_GATHER_NEST_SHAPE_H
#define RELICT_GATHER_NEST_SHAPE_H

#include "gather/nest.h"

#include <geos_c.h>

struct convex {
    size_t n;
    double *xy; /* [n][2], counter-clockwise */
};

struct box {
    double x0, y0, x1, y1;
};

/* A polygon cut into convex pieces. */
struct shape {
    size_t pieces;
    struct convex *piece;
    struct box box;
    double area;
};

/* Half-planes nx x + ny y <= c of one convex no-fit piece. */
struct wedge {
    size_t n;
    double *plane; /* [n][3]: nx, ny, c */
    struct box box;
};

struct no_fit {
    size_t n;
    struct wedge *wedge;
    struct box box;
};

/* GEOS with its messages kept, so that an error can tell why. */
struct nest_geos {
    GEOSContextHandle_t h;
    char why[200];
};
int nest_geos_init(struct nest_geos *g, struct error *err);
void nest_geos_deinit(struct nest_geos *g);

/* A GEOS polygon of the ring; `name` is for the error. The caller destroys it. */
int nest_polygon(GEOSGeometry **out, struct nest_geos *g, const struct nest_ring *ring,
                 const char *name, struct error *err);

/* Cuts any polygonal geometry into convex pieces: constrained Delaunay triangles, joined while the
 * union stays convex (Hertel & Mehlhorn 1983). */
int nest_shape_cut(struct shape *out, struct nest_geos *g, const GEOSGeometry *geometry,
                   struct arena *arena, struct error *err);

/* The shape mirrored (y -> -y) and/or turned by half a turn. */
int nest_shape_turn(struct shape *out, const struct shape *in, bool mirrored, bool turned,
                    struct arena *arena);

/* Convex no-fit pieces of `moving` (its origin) against `fixed` at its own place. */
int nest_no_fit_build(struct no_fit *out, const struct shape *fixed, const struct shape *moving,
                      struct arena *arena);

/* Convex no-fit pieces as polygons (for the union). */
int nest_no_fit_hull(struct convex *out, const struct convex *fixed, const struct convex *moving,
                     struct arena *arena);

/* Sum over the pieces of how deep the point lies in them, mm; 0 outside. */
double nest_depth(const struct no_fit *f, double x, double y);

#endif
