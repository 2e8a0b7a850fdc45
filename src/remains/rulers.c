#include "remains/rulers.h"

#include <math.h>

static const double Z95 = 1.6448536269514722; /* standard normal 95 % point */

int remains_two_readings(struct loss *out, double first, double first_pm, double second,
                         double second_pm, struct error *err) {
    if (!(first > 0) || !(second > 0) || !(first_pm >= 0) || !(second_pm >= 0))
        return fail(err, ERR_RANGE, "Give both readings in mm, above 0, each with its ±.",
                    "Readings %g ± %g and %g ± %g: a change needs two sizes above 0.", first,
                    first_pm, second, second_pm);
    out->loss = 1 - second / first;
    out->plus_minus = hypot(first_pm, second_pm) / first;
    /* Independent relative errors add in the logarithm (JCGM 100:2008, 5.1.6). */
    double g = log(first / second), pm = hypot(first_pm / first, second_pm / second);
    out->low = -expm1(-(g - pm));
    out->high = -expm1(-(g + pm));
    out->coarse = out->plus_minus * REMAINS_COARSE > fabs(out->loss);
    out->needed = fabs(out->loss) * first / (REMAINS_FINE * sqrt(2));
    return 0;
}

/* Mean spacing over all gaps, and its ±: the ends of each row are read once, and each spacing
 * scatters as it was sewn. */
static int mean_pitch(double *pitch, double *pm, double *gaps, const struct hole_row *rows,
                      size_t n, double cv, struct error *err) {
    double length = 0, count = 0, square = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(rows[i].pitch > 0) || !(rows[i].gaps >= 1) || !(rows[i].plus_minus >= 0))
            return fail(err, ERR_RANGE, "Give rows of two holes or more with a spacing above 0.",
                        "Row %zu: spacing %g mm over %g gaps cannot be used.", i + 1, rows[i].pitch,
                        rows[i].gaps);
        length += rows[i].pitch * rows[i].gaps;
        count += rows[i].gaps;
        square += rows[i].plus_minus * rows[i].plus_minus;
    }
    if (count < 1) return fail(err, ERR_MISSING, "Give one row at least.", "No row of holes.");
    *pitch = length / count;
    *gaps = count;
    *pm = hypot(sqrt(square) / count, Z95 * cv * *pitch / sqrt(count));
    return 0;
}

int remains_pitch_ratio(struct pitch_ratio *out, const struct hole_row *rods, size_t n_rods,
                        const struct hole_row *sheets, size_t n_sheets, double gap_cv,
                        struct error *err) {
    if (!(gap_cv > 0)) gap_cv = 0.02;
    int rc = mean_pitch(&out->rod, &out->rod_pm, &out->rod_gaps, rods, n_rods, gap_cv, err);
    if (!rc)
        rc = mean_pitch(&out->sheet, &out->sheet_pm, &out->sheet_gaps, sheets, n_sheets, gap_cv,
                        err);
    if (rc) return rc;
    double g = log(out->rod / out->sheet);
    double pm = hypot(out->rod_pm / out->rod, out->sheet_pm / out->sheet);
    out->loss = -expm1(-g);
    out->low = -expm1(-(g - pm));
    out->high = -expm1(-(g + pm));
    return 0;
}
