/* polygon: closed outlines as rings of corners.
 *
 * A ring is an array of n >= 3 corners, not repeated at the end, either way round. The measures are
 * plain sums (no allocation); offsets and the check for crossings go through GEOS, one context a
 * call, so every function here may be called from several threads.
 *
 *     double a = plane_polygon_area(ring, n);          // positive when counter-clockwise
 *     int rc = plane_polygon_check(ring, n, err);      // says where the ring crosses itself
 */
#ifndef RELICT_PLANE_POLYGON_H
#define RELICT_PLANE_POLYGON_H

#include "base/arena.h"
#include "base/error.h"
#include "plane/point.h"

#include <stdbool.h>

/* One ring of a result. */
struct plane_ring {
    size_t n;
    struct plane_point *v; /* [n], counter-clockwise, not closed */
};

/* Several rings, largest area first. */
struct plane_rings {
    size_t n;
    struct plane_ring *v;
};

/* Area by the shoelace sum taken about the first corner; mm², negative when clockwise. */
double plane_polygon_area(const struct plane_point *ring, size_t n);

/* Length of the closed ring, mm. */
double plane_polygon_perimeter(const struct plane_point *ring, size_t n);

/* Centroid of the area; of the corners when the area is zero. */
struct plane_point plane_polygon_centroid(const struct plane_point *ring, size_t n);

/* Whether p lies inside by winding number; a point on the edge counts as inside. */
bool plane_polygon_contains(const struct plane_point *ring, size_t n, struct plane_point p);

/* Distance from p to the nearest edge of the ring, mm, >= 0. */
double plane_polygon_distance(const struct plane_point *ring, size_t n, struct plane_point p);

/* Extents of the ring along its direction `angle` and square to it: width of the two strips that
 * just hold it (Feret diameters), mm. */
void plane_polygon_extent(double *along, double *across, const struct plane_point *ring, size_t n,
                          double angle);

/* The convex hull, counter-clockwise (Andrew 1979, Inf. Process. Lett. 9, 216-219). hull has room
 * for n; returns how many. The input is not modified. n <= 0 gives 0; memory gone gives 0. */
size_t plane_polygon_hull(struct plane_point *hull, const struct plane_point *p, size_t n);

/* Refuses fewer than three corners, numbers that are not finite and rings that cross or touch
 * themselves; the message gives the reason and the place (mm). */
int plane_polygon_check(const struct plane_point *ring, size_t n, struct error *err);

/* The ring moved outward by `distance` mm (inward when negative), corners rounded by arcs of 16
 * chords a quarter turn (error of the arc at most 0.0012 of the distance). Inward the result may
 * fall apart or vanish (out->n == 0, not an error). Rings live in the arena; holes are dropped. */
int plane_polygon_offset(struct plane_rings *out, const struct plane_point *ring, size_t n,
                         double distance, struct arena *arena, struct error *err);

#endif
