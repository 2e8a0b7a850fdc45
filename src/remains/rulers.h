/* rulers: what two readings say about each other, with no outside figure.
 *
 * One piece read in two states; the same stitches' dents along a rod and holes in a sheet. Every
 * ± is the half-width of the 5 % to 95 % range, in and out. Pure; thread-safe; no allocation.
 */
#ifndef RELICT_REMAINS_RULERS_H
#define RELICT_REMAINS_RULERS_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* A share lost between two readings. */
struct loss {
    double loss;       /* 1 - second / first */
    double plus_minus; /* root of the sum of the squared ± of the two, as a share of the first */
    double low, high;  /* 5 % and 95 % points of 1 - exp(ln second - ln first) */
    bool coarse;       /* ± is more than a third of the loss: too coarse to use */
    double needed;     /* ± in mm that each reading would need for ± a fifth of the loss */
};

/* Loss between two readings of one piece. ERR_RANGE unless both are above 0 with ± of 0 or more. */
int remains_two_readings(struct loss *out, double first, double first_pm, double second,
                         double second_pm, struct error *err);

/* ± beyond this share of the loss makes a reading too coarse to use (common practice, no source);
 * and the share to aim at. */
#define REMAINS_COARSE 3.0
#define REMAINS_FINE 5.0

/* One row of equally spaced dents or holes. */
struct hole_row {
    double pitch;      /* mean spacing, mm */
    double gaps;       /* number of spacings: holes - 1 */
    double plus_minus; /* ± of the length of the whole row, mm */
};

struct pitch_ratio {
    double rod, sheet;       /* mean spacings weighted by gaps, mm */
    double rod_pm, sheet_pm; /* ± of them, mm */
    double rod_gaps, sheet_gaps;
    double loss, low, high; /* by how much more the sheet shrank than the rod */
};

/* Spacing of the same stitches on a rod (`rods`) and in a sheet. gap_cv: how evenly it was sewn,
 * the standard deviation of one spacing as a share of it; 0 stands for 0.02. */
int remains_pitch_ratio(struct pitch_ratio *out, const struct hole_row *rods, size_t n_rods,
                        const struct hole_row *sheets, size_t n_sheets, double gap_cv,
                        struct error *err);

#endif
