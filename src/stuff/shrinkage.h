/* shrinkage: sizes of wood between green and dry, and undoing a change of size.
 *
 * Shrinkages are fractions of the green size unless said otherwise; moisture is a fraction of
 * ovendry mass. Pure functions. The linear law holds from fibre saturation down; real curves bend
 * near it. Volume shrinkage is NOT the sum of the others (it is up to 0.022 more in the handbook,
 * measured on other specimens): never derive one from the others.
 */
#ifndef RELICT_STUFF_SHRINKAGE_H
#define RELICT_STUFF_SHRINKAGE_H

#include "base/error.h"
#include "num/dist.h"

#include <stddef.h>

/* Shrinkage from green to a moisture: Sx = S0 (1 - x/MCfs), Wood Handbook Eq 4-9; 0 above
 * saturation. saturation: 0.30 in the handbook. */
double stuff_shrinkage_at(double to_ovendry, double moisture, double saturation);

/* Size at a second moisture over size at the first: (1 - S(m1)) / (1 - S(m0)). */
double stuff_size_ratio(double to_ovendry, double from, double to, double saturation);

/* Change of size per unit of moisture between 0.06 and 0.14, as a fraction of the size at about
 * 0.10 (NOT of the green size): Wood Handbook ch. 13, C = (S0/0.30) / (1 - S0 20/30). */
double stuff_change_coefficient(double to_ovendry);

/* Shrinkage in a direction turned by `angle` (rad) from around (tangential) towards through
 * (radial): strains of a small piece turn as a tensor. */
double stuff_shrinkage_turned(double around, double through, double angle);

/* Volume shrinkage from basic gravity (Eq 4-12) and from ovendry density in g/mm3 (Eq 4-16). */
double stuff_shrinkage_volume(double basic_gravity);
double stuff_shrinkage_volume_dry(double ovendry_density);

/* Softwood boards, green (28 %) to a moisture of 0.08 to 0.19, width and thickness: Green 1989,
 * FPL-RP-489. */
double stuff_shrinkage_board_width(double moisture);
double stuff_shrinkage_board_thickness(double moisture);

/* What undoing a change gives: L = m / (1 - s). */
struct stuff_undone {
    double mean, sd, p025, p05, p50, p95, p975;
    double mean_inverted; /* m / (1 - mean s), the wrong way; shown to warn by how much it is out */
};

/* Undoes a shrinkage that is a distribution, of a measured size that is one too (independent).
 * s uniform and m fixed: closed form; otherwise the exact quantile functions on a grid, error under
 * 1e-4 of sd. ERR_RANGE when the shrinkage can reach 1. Never inverts the mean. */
int stuff_undo(struct stuff_undone *out, const struct num_dist *measured,
               const struct num_dist *shrinkage, struct error *err);

/* Shrinkage seen on one piece measured twice: s = 1 - after/before, and its standard uncertainty
 * from those of the two readings (first order, JCGM 100 5.1.2). Small sizes make poor rulers. */
double stuff_shrinkage_seen(double *uncertainty, double before, double u_before, double after,
                            double u_after);

/* Sizes that share part of their change: sum of m_i k with a common relative uncertainty and one
 * of each piece's own. Returns the standard uncertainty of the sum of n sizes. */
double stuff_sum_uncertainty(const double *size, size_t n, double common, double own);

#endif
