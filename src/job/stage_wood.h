/* stage_wood: what the material step says of trees and of what is in hand: checklists, plant
 * health, cautions, test peels, later visits, stock. Pure. */
#ifndef RELICT_JOB_STAGE_WOOD_H
#define RELICT_JOB_STAGE_WOOD_H

#include "gather/need.h"
#include "gather/stem.h"
#include "job/stage.h"

/* Before the cut: a checklist for each stem that could give the sheet or what is cleft, diseases of
 * its species, cautions of the work; what the test peels say of the season. `day`[stems]: the
 * planned one of each. */
int stage_wood_cut(struct stage_run *r, const struct sheet_want *want,
                   const struct need_list *needs, const char *const *day,
                   const struct stuff_shelf *shelf, struct error *err);

/* Later years: how wounds close, beside what was to be expected. */
int stage_wood_visits(struct stage_run *r, struct error *err);

/* What is in hand: moisture now and on the day of making, dry or not, warnings. */
int stage_wood_stock(struct stage_run *r, const char *make_day, struct error *err);

#endif
