/* write: everything of an open project on paper and in open files, into one folder. */
#ifndef RELICT_TELL_WRITE_H
#define RELICT_TELL_WRITE_H

#include "job/job.h"
#include "show/plan.h"

struct write_options {
    enum plan_paper paper;
    double roll_width;   /* mm, of PLAN_ROLL */
    double bar_x, bar_y; /* what the 100 mm bars of a test print measured; 0: 100 */
};

/* Writes the documents into `folder` (made if need be; files of the same name are replaced).
 * *written: [{file, what}]. What cannot be made yet is told with its reason as {file, not}. */
int tell_write_all(json_t **written, struct job *job, const char *folder,
                   const struct write_options *options, struct error *err);

#endif
