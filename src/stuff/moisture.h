/* moisture: how much water wood and its relatives hold, and what they weigh with it.
 *
 * Moisture is a fraction of ovendry mass, relative humidity a fraction, temperature in °C, density
 * in g/mm3. Two published fits of the resting moisture of wood stand here side by side; they differ
 * by up to 0.02 in cold damp air, so use one throughout: `stuff_emc` is the one this program uses.
 * Pure functions; NaN in gives NaN out. Sources: Wood Handbook FPL-GTR-282 ch. 4.
 */
#ifndef RELICT_STUFF_MOISTURE_H
#define RELICT_STUFF_MOISTURE_H

#include "base/error.h"

/* Density of the cell wall and of water, g/mm3. The handbook prints 1.54 in Eq 4-3, yet its range
 * 267 % at 0.30 follows 1.50: state which is used. */
#define STUFF_CELL_WALL 1.54e-3
#define STUFF_WATER 1.0e-3
/* Fibre saturation the handbook's shrinkage equation is fitted with (Eq 4-9). */
#define STUFF_FIBRE_SATURATION 0.30

/* Resting moisture of wood: Eq 4-5, Simpson's fit, °C. Humidity 0 to under 1. */
double stuff_emc(double celsius, double humidity);
/* The same with the coefficients for °F (Simpson 1998, FPL-RN-0268); agrees within 0.0002. */
double stuff_emc_f(double fahrenheit, double humidity);
/* The other fit, Eq 4-6 (Glass and others 2014), and its closed inverse Eq 4-7. */
double stuff_emc_glass(double celsius, double humidity);
double stuff_humidity_glass(double celsius, double emc);

/* Humidity at which wood rests at a moisture: inverse of stuff_emc by bisection, to 1e-10.
 * ERR_RANGE when no humidity below 0.995 gives it. */
int stuff_humidity(double *out, double celsius, double emc, struct error *err);

/* Most water wood can hold, Eq 4-3; gravity is basic (ovendry mass over green volume, as a ratio
 * to water); cell_wall as such a ratio, 1.54 or 1.50. */
double stuff_moisture_most(double basic_gravity, double cell_wall);
/* Moisture above which it sinks, Eq 4-4. */
double stuff_moisture_sinks(double basic_gravity);
/* Basic gravity of fully waterlogged wood from its water content: inverse of Eq 4-3. */
double stuff_gravity_waterlogged(double moisture, double cell_wall);
/* Gravity at a moisture from the basic one, Eq 4-13; above fibre saturation it stays basic. */
double stuff_gravity_at(double basic_gravity, double moisture);
/* The basic gravity from one at a moisture: Eq 4-13 solved for Gb. */
double stuff_gravity_basic(double gravity_at, double moisture);
/* Density with the water in it, g/mm3, Eq 4-14. */
double stuff_density(double gravity_at, double moisture);

#endif
