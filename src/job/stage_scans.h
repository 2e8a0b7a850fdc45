/* stage_scans: what scans of trials and of the find say (inside job only). */
#ifndef RELICT_JOB_STAGE_SCANS_H
#define RELICT_JOB_STAGE_SCANS_H

#include "job/stage.h"

/* Reads, lays and states the scans: tables "scans" and "bends", maps as "scans" of the result, a
 * statement for each difference and bend. The bends come back as readings of the trials' pieces. */
int stage_scans(struct trial_reading **readings, size_t *n, struct stage_run *run,
                struct error *err);

#endif
