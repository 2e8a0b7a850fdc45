#include "stuff/strength.h"

#include <math.h>

int stuff_strength_at(double *out, double at_12, double green, double moisture, double mp,
                      struct error *err) {
    if (!(mp > 0.12) || !(at_12 > 0) || !(green > 0) || !(moisture >= 0))
        return fail(err, ERR_RANGE,
                    "Give positive strengths and an intersection moisture above 12 %.",
                    "Strengths %g and %g at %g %% moisture, intersection %g %%", at_12, green,
                    100 * moisture, 100 * mp);
    *out = moisture >= mp
               ? green
               : at_12 * pow(at_12 / green, (0.12 - moisture) / (mp - 0.12)); /* Eq 5-3 */
    return 0;
}

double stuff_strength_angle(double along, double across, double angle) {
    double s = sin(angle), c = cos(angle);
    return along * across / (along * s * s + across * c * c);
}

double stuff_strength_lasting(double seconds) {
    const double begin = 28, end = 10 * 365.25 * 86400;
    return 1 - 0.4 * log(seconds / begin) / log(end / begin);
}

double stuff_strength_flawed(double half_flaw, double characteristic) {
    return sqrt(characteristic / (characteristic + half_flaw));
}
