/* predicates: which side, inside which circle: signs that are never wrong.
 *
 * A floating-point filter answers nearly always; when rounding could change the sign, the
 * determinant is worked out exactly as a sum of doubles that do not overlap (J. R. Shewchuk,
 * Discrete Comput. Geom. 18 (1997) 305-363, sections 2 and 4). Exact as long as nothing overflows
 * or underflows: coordinates between 1e-60 and 1e60 in size, or zero. Pure, thread-safe.
 */
#ifndef RELICT_PLANE_PREDICATES_H
#define RELICT_PLANE_PREDICATES_H

/* Sign of twice the area of a, b, c ([2] each): > 0 when they turn left, 0 when in line. Its size
 * is the area only to rounding; only the sign is promised. */
double plane_orient(const double *a, const double *b, const double *c);

/* For a, b, c turning left: > 0 when d lies inside their circle, 0 on it, < 0 outside. */
double plane_incircle(const double *a, const double *b, const double *c, const double *d);

#endif
