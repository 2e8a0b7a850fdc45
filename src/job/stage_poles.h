/* stage_poles: inside of the step "material" (stage_material.c): what the poles in view give. Pure.
 */
#ifndef RELICT_JOB_STAGE_POLES_H
#define RELICT_JOB_STAGE_POLES_H

#include "gather/need.h"
#include "job/stage.h"

/* Tables "poles" and "pole_waste", result "poles" (the rule and what is missing), and the poles
 * behind the sheets in result "layouts". */
int stage_poles(struct stage_run *r, const struct need_list *list, struct error *err);

#endif
