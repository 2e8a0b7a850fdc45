/* makings: the ways of making as screens and paper see them: what a person entered and the
 * proposal the making step worked out. */
#ifndef RELICT_JOB_MAKINGS_H
#define RELICT_JOB_MAKINGS_H

#include "job/job.h"

struct job_makings {
    struct makings all;
    double dry_along, dry_around; /* new and dry over fresh, of the sheet; NAN unknown */
};

/* Reads both; without a worked-out proposal only what was entered. Lives in the arena. */
int job_makings(struct job_makings *out, struct job *job, struct arena *arena, struct error *err);

#endif
