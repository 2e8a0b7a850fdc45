/* simulated: a trial's readings beside what the drying model foretells for its pieces.
 *
 * The strip model (body/strip.h) is given the pieces' mean sizes on day 0, the curl they had off
 * the stem, the material's figures from the tables with their ranges, and the air of the readings
 * day by day. It says what ought to have been read, with a band; it knows nothing of what was read.
 * Pure; memory from the arena.
 */
#ifndef RELICT_TRIAL_SIMULATED_H
#define RELICT_TRIAL_SIMULATED_H

#include "trial/trial.h"

struct stuff_shelf;

/* One day, edge unit of the trial's outcome. */
struct simulated_day {
    double day, measured;     /* mean over the pieces read that day */
    double low, middle, high; /* 5 %, 50 %, 95 % of the simulated */
    long inside;              /* measured lies in the band */
};
extern const struct kind simulated_day_kind;

/* What is simulated: shrinkage across or along, curvature, loss of mass; others give an empty list.
 * days: list of struct simulated_day, series: struct day_mean as read_back gives it. *why: in words
 * when the list is empty. Cost: 64 strips. */
int trial_simulate(struct records *days, const char **why, const struct trial *t,
                   const struct trial_log *book, const struct records *series,
                   const struct stuff_shelf *shelf, struct arena *arena, struct error *err);

#endif
