#include "job/stage.h"

extern const struct stage stage_found, stage_sizes, stage_outline, stage_making, stage_material;

const struct stage *const stage_list[] = {
    &stage_found, &stage_sizes, &stage_outline, &stage_making, &stage_material,
};
const size_t stage_count = sizeof stage_list / sizeof stage_list[0];
