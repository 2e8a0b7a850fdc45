/* seal_trial: a prediction is sealed when it is written down.
 *
 * Until the day of making stands in the record a prediction may be bettered and is sealed anew;
 * from then on the seal stays, so that a number changed afterwards no longer fits it
 * (trial_foretold). "Made before it was asked" is set when the prediction is younger than the
 * making and never taken off again.
 */
#ifndef RELICT_JOB_SEAL_TRIAL_H
#define RELICT_JOB_SEAL_TRIAL_H

#include "record/project.h"

/* Completes the body of a trial that is about to be put under `id`. A body that is no trial is left
 * as it is: the record says what is wrong with it. */
int job_seal_trial(json_t *body, struct record *record, const char *id, struct arena *arena,
                   struct error *err);

#endif
