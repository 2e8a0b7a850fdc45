/* mesh_parts: what the files of the mesher share. Private to mesh*.c. */
#ifndef RELICT_PLANE_MESH_PARTS_H
#define RELICT_PLANE_MESH_PARTS_H

#include "base/arena.h"
#include "plane/mesh.h"

/* Edge lengths wanted, as a grid of values between which one interpolates. */
struct mesh_size {
    double x0, y0, step;
    size_t nx, ny;
    double *h; /* [ny][nx] */
    double least, most;
};
double mesh_size_at(const struct mesh_size *size, const double *p);

/* The sampled outline: points of all loops one after another. */
struct mesh_border {
    size_t n, loops;
    size_t *start;  /* [loops+1] */
    double (*p)[2]; /* [n] */
    double *at;     /* [n] part of the loop's length */
    int *corner;    /* [n] */
    double area;    /* mm2 */
};

/* Checks the loops, samples them and lays out the size field. `finer` divides all sizes: used when
 * chords of a narrow place crossed. */
int mesh_border_make(struct mesh_border *out, struct mesh_size *size,
                     const struct plane_loop *loops, size_t n_loops,
                     const struct plane_mesh_options *options, double finer, struct arena *arena,
                     struct error *err);

/* Point on a loop at a part of its length; the loop is walked in the mesh's sense. */
struct mesh_walk {
    size_t n;
    double (*p)[2]; /* [n+1] oriented copy, closed */
    double *s;      /* [n+1] arc length */
};
int mesh_walk_make(struct mesh_walk *out, const struct plane_loop *loop, int counter_clockwise,
                   struct arena *arena, struct error *err);
void mesh_walk_at(const struct mesh_walk *walk, double s, double *p);
/* Turn of the outline at its i-th point, rad, positive to the left. */
double mesh_walk_turn(const struct mesh_walk *walk, size_t i);

/* A triangulation being built. tri[t] = corners counter-clockwise; next[t][i] lies across the edge
 * opposite to corner i; bit i of fixed[t] says that this edge belongs to the outline. */
struct mesh_net {
    size_t nv, nf, most_v, most_f;
    double (*p)[2];
    int (*tri)[3];
    int (*next)[3];
    unsigned char *fixed;
    int *of; /* [nv] a triangle at the vertex */
    int *stack;
    size_t most_stack;
    int last; /* where the latest search ended */
};
int mesh_net_make(struct mesh_net *net, size_t points, const double lo[2], const double hi[2],
                  struct arena *arena, struct error *err);
/* Adds a point; returns its number (the first is 3: the net starts with three far corners), or the
 * number of the vertex already there. */
int mesh_net_add(struct mesh_net *net, const double *p);
/* Makes a-b an edge; 0 when it cannot (another fixed edge or a vertex lies across it). */
int mesh_net_fix(struct mesh_net *net, int a, int b);
/* Keeps the triangles inside the fixed loops and drops the three far corners (all numbers fall by
 * 3). */
int mesh_net_trim(struct mesh_net *net, struct arena *arena, struct error *err);
/* Flips edges until all but the fixed ones are Delaunay. */
void mesh_net_flip_all(struct mesh_net *net);

/* Moves the vertices from `first` on to better places, with flips between the sweeps. */
int mesh_net_smooth(struct mesh_net *net, size_t first, const struct mesh_size *size, size_t sweeps,
                    struct arena *arena, struct error *err);
/* The smallest angle of a triangle, as its cosine (largest cosine); 2 when turned over. */
double mesh_worst_cosine(const double *a, const double *b, const double *c);

/* Triangles at each vertex: list[start[v] .. start[v+1]-1]. */
struct mesh_star {
    int *start, *list;
};
void mesh_star_fill(struct mesh_star *star, size_t nv, size_t nf, const int (*tri)[3]);

#endif
