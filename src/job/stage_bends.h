/* stage_bends: what speaks of the bend of the sheet: the grip's chamfers, laths that kept a set,
 * splits at the edge of a piece. Called by the curve step.
 *
 * Each reading stands by itself with what it assumes; then it is asked whether they agree, and only
 * then are they put together. The grip is never among those: its chamfer shows the sheet's bow only
 * if the bar was stiff, and that is laid beside the rest. Bends are told without their direction.
 */
#ifndef RELICT_JOB_STAGE_BENDS_H
#define RELICT_JOB_STAGE_BENDS_H

#include "job/stage.h"

/* Adds the statements curve.grip.*, curve.set.keep, curve.bend (1/m) or curve.bend.clash, and the
 * tables "grip" and "bends"; nothing of which there is no reading. */
int stage_bends(struct stage_run *run, struct error *err);

#endif
