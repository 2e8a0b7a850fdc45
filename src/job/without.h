/* without: what the headline figures would be had a parallel never been cited.
 *
 * Another object is no evidence of this one, so a reader may ask to have it taken away. For each
 * parallel in turn everything that cites it is left out (a figure of loss, a reading, an outline, a
 * choice) and sizes, outline, curve and making are worked out again, from few possible originals
 * and beside a run of the same kind with everything in, so that like stands beside like. Nothing of
 * these runs is kept but the figures. Pure: part of the step "report".
 */
#ifndef RELICT_JOB_WITHOUT_H
#define RELICT_JOB_WITHOUT_H

#include "job/stage.h"

/* The figures a reader asks for first: ids of statements and their names, ended by a NULL id. An
 * object without such a part has no such statement. */
struct without_figure {
    const char *id, *name;
};
extern const struct without_figure without_figures[];

/* Adds the tables "without" (figures with all, without the trials, without each parallel) and, if
 * something is cited from a parallel, "parallels" (what was left out for each) to the result. */
int without_tables(struct stage_run *run, struct error *err);

#endif
