/* mesh: triangles for a flat outline with holes, fit for mechanics.
 *
 * The outline is sampled by arc length and a size field, inner points are laid out, joined by an
 * incremental Delaunay triangulation with exact predicates, the outline's edges are recovered by
 * flips, and the inner points are smoothed with further flips. Same input, same mesh, bit for bit.
 * Corners (a turn above `corner`) are kept; necks and tips get smaller triangles. Not for outlines
 * finer than `size`: small holes (stitches) are left out by the caller.
 *
 *     struct plane_mesh *mesh;
 *     struct plane_loop loops[2] = {{outline, n}, {hole, m}};
 *     struct plane_mesh_options options = {.size = 20};
 *     if (plane_mesh_new(&mesh, loops, 2, &options, err)) return err->code;
 *     plane_mesh_free(mesh);
 *
 * A mesh is never changed after it was made; several threads may read it.
 */
#ifndef RELICT_PLANE_MESH_H
#define RELICT_PLANE_MESH_H

#include "base/error.h"

#include <stddef.h>

/* A closed polygon, [n][2] row-major, mm; the last point joins the first; either way round. */
struct plane_loop {
    const double *xy;
    size_t n;
};

struct plane_mesh_options {
    double size; /* wanted edge length, mm; 0: so that about `triangles` triangles come out */
    double (*size_at)(const double *p, void *context); /* edge length at p; NULL: size everywhere */
    void *context;
    size_t triangles; /* wanted when size is 0; 0 means 2400 */
    double corner;    /* a turn of the outline above this is a corner that stays, rad; 0: 25 deg */
    double grading;   /* edge length may grow by this much per length; 0: 0.25 */
    const double *points; /* [n_points][2] inner points that must become vertices */
    size_t n_points;
    size_t sweeps; /* of smoothing; 0: 5 */
};

/* Vertices on the outline come first, loop after loop: loop k has loop_start[k] ..
 * loop_start[k+1]-1 in order, the outer loop counter-clockwise, holes clockwise; then the asked-for
 * points in their order; then the rest. */
struct plane_mesh {
    size_t nv, nf, loops, nb; /* vertices, triangles, loops, vertices on loops */
    double (*p)[2];           /* [nv] mm */
    int (*tri)[3];            /* [nf] counter-clockwise */
    int (*next)[3];           /* [nf] triangle across the edge opposite to corner i, or -1 */
    size_t *loop_start;       /* [loops+1] */
    double *loop_at; /* [nb] arc length from the loop's first point, as part of its whole */
    int *corner;     /* [nb] 1: a corner of the outline */
};

/* Makes a mesh of the area inside loops[0] and outside loops[1..]. Fewer than 3 points, numbers
 * that are not numbers, crossing or touching loops, holes outside: ERR_INPUT; more than 2e6
 * triangles: ERR_RANGE. On failure *out is NULL. Free with plane_mesh_free. */
int plane_mesh_new(struct plane_mesh **out, const struct plane_loop *loops, size_t n_loops,
                   const struct plane_mesh_options *options, struct error *err);
void plane_mesh_free(struct plane_mesh *mesh); /* NULL is fine */

/* Moves the vertices of `mesh` to other loops of the same number and the same triangles: outline
 * vertices by their place between corners (or along the loop when the corners do not match), inner
 * ones by a spring net. *out is a new mesh with the same numbering. ERR_RANGE when the outlines are
 * too different (a triangle would turn over or fall under `least_angle`, rad): mesh afresh then. */
int plane_mesh_morph(struct plane_mesh **out, const struct plane_mesh *mesh,
                     const struct plane_loop *loops, size_t n_loops, double least_angle,
                     struct error *err);

/* Finds the triangle holding p: its number and barycentric coordinates, or -1 when p lies outside.
 * `hint` is a triangle to start from (any number). */
int plane_mesh_locate(const struct plane_mesh *mesh, const double *p, int hint, double *bary);

/* One piece of a line within one triangle: ends as parts [from, to] of the line. */
struct plane_mesh_piece {
    int tri;
    double from, to;
};
/* Cuts the line a-b at the triangles' edges: writes at most `most` pieces in order and returns how
 * many there are (which may be more than `most`). Parts outside the mesh give no piece; a line
 * along an edge is given to one of the two triangles only. */
size_t plane_mesh_cut(const struct plane_mesh *mesh, const double *a, const double *b,
                      struct plane_mesh_piece *pieces, size_t most);

/* Quality of the triangles. */
struct plane_mesh_quality {
    double angle_min, angle_max; /* rad */
    double edge_min, edge_max;   /* mm */
    double area;                 /* mm2 */
};
void plane_mesh_measure(struct plane_mesh_quality *out, const struct plane_mesh *mesh);

#endif
