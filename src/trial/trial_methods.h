/* trial_methods: the methods of trial/ that stand open as `relict calc`. */
#ifndef RELICT_TRIAL_TRIAL_METHODS_H
#define RELICT_TRIAL_TRIAL_METHODS_H

#include "base/method.h"

extern const struct method trial_method_verdict, trial_method_shrinkage, trial_method_plan,
    trial_method_alignment, trial_method_curvature;

extern const struct method_list trial_methods;

#endif
