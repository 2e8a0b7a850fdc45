/* scan: a surface measured in space, of a trial or of the find: read it, lay it on another, tell
 * where they differ.
 *
 * Readers for PLY (ascii, binary of either order), STL (ascii, binary) and OBJ take bytes, check
 * every count against the bytes left before anything is allocated, and refuse what is not there
 * (SCAN_POINTS, SCAN_TRIANGLES). Coordinates become mm by the `unit` the caller gives: these
 * formats do not say. Everything lives in the arena. Pure; parallel_for inside; the same bits on
 * any number of threads.
 */
#ifndef RELICT_TRIAL_SCAN_H
#define RELICT_TRIAL_SCAN_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stdint.h>

enum { SCAN_POINTS = 5000000, SCAN_TRIANGLES = 10000000 };

struct scan {
    size_t n;
    double *xyz; /* [n][3] mm */
    size_t triangles;
    uint32_t *corner; /* [triangles][3] */
};

/* Reads by what the bytes look like, not by the file's name. unit: mm of one unit of the file (1
 * for mm, 1000 for m). */
int scan_read(struct scan *out, const char *bytes, size_t size, double unit, struct arena *arena,
              struct error *err);

/* ---- nearest points ---------------------------------------------------------------------------
 */

/* A k-d tree over points (Bentley, Comm. ACM 18, 1975, 509), built by quickselect. Borrows xyz. */
struct scan_points {
    size_t n;
    const double *xyz;
    uint32_t *order; /* [n], the tree in place: the middle of each range is its root */
};
int scan_points_build(struct scan_points *out, const double *xyz, size_t n, struct arena *arena,
                      struct error *err);
/* Index of the nearest point; *distance in mm. */
size_t scan_points_nearest(const struct scan_points *t, const double p[3], double *distance);
/* Indices within `radius`, at most `most`; returns how many there are in all. */
size_t scan_points_within(const struct scan_points *t, const double p[3], double radius,
                          uint32_t *index, size_t most);

/* A tree of boxes over triangles; exact nearest point of the surface. */
struct scan_surface {
    const struct scan *scan;
    uint32_t *order;     /* [triangles] */
    double *box;         /* [nodes][6] */
    double (*normal)[3]; /* [triangles], unit; 0 for a triangle without area */
    double area;         /* mm2 */
};
int scan_surface_build(struct scan_surface *out, const struct scan *scan, struct arena *arena,
                       struct error *err);
/* Nearest point on the surface: q, its triangle; returns the distance in mm. */
double scan_surface_nearest(const struct scan_surface *s, const double p[3], double q[3],
                            uint32_t *triangle);

/* ---- alignment --------------------------------------------------------------------------------
 */

/* x -> R x + t */
struct scan_motion {
    double r[9]; /* row-major */
    double t[3]; /* mm */
};
void scan_motion_apply(const struct scan_motion *m, const double p[3], double out[3]);

/* Least-squares rigid motion of n paired points (Horn, J. Opt. Soc. Am. A 4, 1987, 629); *rms in
 * mm. ERR_SOLVE when they lie on a line. */
int scan_align_pairs(struct scan_motion *out, double *rms, const double *from, const double *to,
                     size_t n, struct error *err);

struct scan_fit {
    struct scan_motion motion;
    double rms;            /* mm, of the pairs kept, along the normals */
    double share_kept;     /* of the points used */
    double eigenvalue[6];  /* of the normal matrix with lengths in units of the scan's radius, large
                              first */
    bool determined;       /* least eigenvalue is at least 1e-3 of the largest */
    double spread;         /* mm, by which the registration may be off at the scan's radius */
    int iterations, start; /* which of the starts won */
    bool settled;          /* the last step was below a thousandth of a mm at the scan's radius */
};

struct scan_align_options {
    size_t points;                   /* used of the moving scan, 0: 4000 */
    int iterations;                  /* 0: 60 */
    const struct scan_motion *first; /* a start from paired points; NULL: only the built-in ones */
};

/* Lays the points on the surface: point-to-plane (Chen & Medioni, Image Vis. Comput. 10, 1992,
 * 145), pairs beyond 3 scaled MAD left out, from several starts (principal axes and their flips).
 * A plane, cylinder or sphere leaves motions free: `determined` is then false and nothing should
 * be read off the fit. */
int scan_align(struct scan_fit *out, const struct scan *moving, const struct scan_surface *fixed,
               const struct scan_align_options *options, struct arena *arena, struct error *err);

/* ---- differences ------------------------------------------------------------------------------
 */

struct scan_map {
    size_t n;
    double *signed_mm;  /* [n] along the surface's normal: + outside */
    double median, p95; /* mm; p95 of absolute values */
    double rms;
    double within;      /* share with |d| <= tolerance + registration spread */
    double independent; /* area / correlation length^2: how many independent readings these are */
};
int scan_map_make(struct scan_map *out, const struct scan *moving, const struct scan_fit *fit,
                  const struct scan_surface *fixed, double tolerance, double correlation,
                  struct arena *arena, struct error *err);

struct scan_curvature {
    double k1,
        k2; /* principal curvatures, 1/mm, |k1| >= |k2|; + bends toward the local normal's back */
    double mean, gauss; /* H (1/mm), K (1/mm2) */
    double normal[3];
    size_t points;
    double residual; /* mm rms of the patch fit */
};
/* Quadric fit to the points within `radius` of p in their own frame (Monge patch; formulas of any
 * text, do Carmo 1976, 3.3). ERR_MISSING under 8 points. */
int scan_curvature_at(struct scan_curvature *out, const struct scan_points *points,
                      const double p[3], double radius, struct error *err);

#endif
