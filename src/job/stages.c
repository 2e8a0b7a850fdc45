#include "job/stage.h"

extern const struct stage stage_found, stage_sizes, stage_outline, stage_curve, stage_making,
    stage_strength, stage_material, stage_trials, stage_report;

/* In the order of the job: a step may use what those before it made. */
const struct stage *const stage_list[] = {
    &stage_found,    &stage_sizes,    &stage_outline, &stage_curve,  &stage_making,
    &stage_strength, &stage_material, &stage_trials,  &stage_report,
};
const size_t stage_count = sizeof stage_list / sizeof stage_list[0];
