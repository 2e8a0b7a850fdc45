/* num_methods: the methods of num/ that stand open as `relict calc`. */
#ifndef RELICT_NUM_NUM_METHODS_H
#define RELICT_NUM_NUM_METHODS_H

#include "base/method.h"

extern const struct method_list num_methods;

#endif
