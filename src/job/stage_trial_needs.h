/* stage_trial_needs: what has to be got, with the trials and without them (inside job only). */
#ifndef RELICT_JOB_STAGE_TRIAL_NEEDS_H
#define RELICT_JOB_STAGE_TRIAL_NEEDS_H

#include "job/stage.h"

/* What bark loses in drying, and the fresh outline: medians of the possible originals as they
 * stand, fractions and mm; NAN. */
struct bark_loss {
    double around, along, through;
    double length, width;
};
struct bark_loss stage_bark_loss(const struct num_rows *rows);

/* Table "needs": fresh sizes of what is made of bark by the tables (as the step Material shows
 * them), by the possible originals before the trials, and with them. */
int stage_trial_needs(struct stage_run *run, const struct bark_loss *without,
                      const struct bark_loss *with, struct error *err);

#endif
