/* remains_methods: what `relict calc` offers of this room: two-readings, undo-by-reading,
 * pitch-ratio, count, mean-size, part-length. */
#ifndef RELICT_REMAINS_REMAINS_METHODS_H
#define RELICT_REMAINS_REMAINS_METHODS_H

#include "base/method.h"

extern const struct method_list remains_methods;

#endif
