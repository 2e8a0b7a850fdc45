/* stage_pressed: what each way of being curved would have done when the ground pressed it flat;
 * called by the curve step. */
#ifndef RELICT_JOB_STAGE_PRESSED_H
#define RELICT_JOB_STAGE_PRESSED_H

#include "job/stage.h"

/* Adds a table, form by form: splits or overlap round the rim of the whole, the stretch at the rim
 * of the largest piece of sheet, and the chance that this piece had stayed as whole as it is; and
 * the statement "curve.pressed.dome", how tight a dome that piece allows. Nothing without a piece
 * of sheet. */
int stage_pressed(struct stage_run *run, struct error *err);

#endif
