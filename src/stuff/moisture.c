#include "stuff/moisture.h"

#include <math.h>

/* Hailwood-Horrobin form with two hydrates, shared by both sets of coefficients. */
static double hailwood_horrobin(double w, double k, double k1, double k2, double h) {
    double kh = k * h, a = k1 * kh, b = k1 * k2 * kh * kh;
    return 18.0 / w * (kh / (1 - kh) + (a + 2 * b) / (1 + a + b));
}

double stuff_emc(double t, double h) {
    /* Wood Handbook FPL-GTR-282 Eq 4-5, p. 4-3 */
    return hailwood_horrobin(
        349 + 1.29 * t + 0.0135 * t * t, 0.805 + 0.000736 * t - 0.00000273 * t * t,
        6.27 - 0.00938 * t - 0.000303 * t * t, 1.91 + 0.0407 * t - 0.000293 * t * t, h);
}

double stuff_emc_f(double t, double h) {
    /* Simpson 1998, FPL-RN-0268 */
    return hailwood_horrobin(
        330 + 0.452 * t + 0.00415 * t * t, 0.791 + 0.000463 * t - 0.000000844 * t * t,
        6.34 + 0.000775 * t - 0.0000935 * t * t, 1.09 + 0.0284 * t - 0.0000904 * t * t, h);
}

/* Coefficients of Eq 4-6, T in kelvin. */
#define GLASS_A -0.000612
#define GLASS_B 2.43
#define GLASS_C 0.0577
#define GLASS_D 0.430
#define GLASS_TC 647.1

double stuff_emc_glass(double celsius, double h) {
    double t = celsius + 273.15;
    return pow(GLASS_A * t * pow(1 - t / GLASS_TC, GLASS_B) * log(1 - h),
               GLASS_C * pow(t, GLASS_D));
}

double stuff_humidity_glass(double celsius, double emc) {
    double t = celsius + 273.15;
    return 1 - exp(1 / (GLASS_A * t) * pow(1 - t / GLASS_TC, -GLASS_B) *
                   pow(emc, 1 / GLASS_C * pow(t, -GLASS_D)));
}

int stuff_humidity(double *out, double celsius, double emc, struct error *err) {
    double low = 0, high = 0.995; /* the fit is not meant for saturated air */
    *out = NAN;
    if (!(emc >= 0) || !(stuff_emc(celsius, high) >= emc))
        return fail(err, ERR_RANGE,
                    "Give a resting moisture that air can hold it at, 0 to about 28 %.",
                    "No humidity at %g C keeps wood at %g %% moisture", celsius, 100 * emc);
    while (high - low > 1e-10) {
        double middle = (low + high) / 2;
        if (stuff_emc(celsius, middle) < emc)
            low = middle;
        else
            high = middle;
    }
    *out = (low + high) / 2;
    return 0;
}

double stuff_moisture_most(double gb, double cell_wall) {
    return (cell_wall - gb) / (cell_wall * gb); /* Eq 4-3 */
}

double stuff_moisture_sinks(double gb) {
    return (1 - gb) / gb; /* Eq 4-4 */
}

double stuff_gravity_waterlogged(double moisture, double cell_wall) {
    return 1 / (moisture + 1 / cell_wall);
}

/* Volume shrinkage of wood is about 26.5 Gb per cent, green to ovendry (Eq 4-12). */
#define VOLUME_PER_GRAVITY 0.265

double stuff_gravity_at(double gb, double x) {
    double dried = fmax(0, 1 - x / STUFF_FIBRE_SATURATION);
    return gb / (1 - VOLUME_PER_GRAVITY * gb * dried); /* Eq 4-13 */
}

double stuff_gravity_basic(double gx, double x) {
    double dried = fmax(0, 1 - x / STUFF_FIBRE_SATURATION);
    return gx / (1 + VOLUME_PER_GRAVITY * gx * dried);
}

double stuff_density(double gx, double x) {
    return STUFF_WATER * gx * (1 + x); /* Eq 4-14 */
}
