#include "trial/trial_methods.h"

static const struct method *const methods[] = {
    &trial_method_verdict,   &trial_method_shrinkage, &trial_method_plan,
    &trial_method_alignment, &trial_method_curvature,
};
const struct method_list trial_methods = METHODS(methods);
