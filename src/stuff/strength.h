/* strength: what moisture, grain angle and time under load do to a strength. Pure functions.
 * Moisture as a fraction, angles in rad, times in s, strengths in any one unit (MPa in this
 * program).
 */
#ifndef RELICT_STUFF_STRENGTH_H
#define RELICT_STUFF_STRENGTH_H

#include "base/error.h"

/* Property of clear wood at a moisture below `intersection` (Mp) from its values at 12 % and green:
 * P = P12 (P12/Pg)^((0.12 - M)/(Mp - 0.12)), Wood Handbook FPL-GTR-282 Eq 5-3; Pg from Mp up. Not
 * for work to maximum load, impact bending and tension across. ERR_RANGE unless Mp > 0.12. */
int stuff_strength_at(double *out, double at_12, double green, double moisture, double intersection,
                      struct error *err);

/* Strength at an angle to the grain (Hankinson): par perp / (par sin2 + perp cos2). */
double stuff_strength_angle(double along, double across, double angle);

/* Share of the strength of a test of about half a minute left when a load lasts: straight in log
 * time through 100 % at 28 s and 60 % at 10 years (Wood Handbook Fig 5-23, read off a curve). Below
 * 28 s it goes on rising: 1 s gives 1.09. */
double stuff_strength_lasting(double seconds);

/* Strength left in a sheet pierced by lenticels, knots or fissures of a size that starts cracks:
 * sqrt(a0 / (a0 + a)), a0 the characteristic length of the sound sheet, a half the flaw. 1 without
 * flaw; the square root of linear fracture mechanics for large ones. */
double stuff_strength_flawed(double half_flaw, double characteristic);

#endif
