/* shape_methods: what this room opens to `relict calc`: ellipse, outline, holes, unit, pitch, grip,
 * splits, surface-curvature, bends, coil, laths, order. */
#ifndef RELICT_SHAPE_METHODS_H
#define RELICT_SHAPE_METHODS_H

#include "base/method.h"

extern const struct method_list shape_methods;

#endif
