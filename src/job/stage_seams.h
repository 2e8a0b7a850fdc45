/* stage_seams: what rows of stitch holes and dents say; called by the curve step. */
#ifndef RELICT_JOB_STAGE_SEAMS_H
#define RELICT_JOB_STAGE_SEAMS_H

#include "job/stage.h"

/* Adds a statement for each row and for each zone that has rows in a sheet and on a rod, and a
 * table of them. */
int stage_seams(struct stage_run *run, struct error *err);

#endif
