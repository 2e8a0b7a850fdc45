/* stuff_methods: the methods of stuff/ that stand open as `relict calc`. */
#ifndef RELICT_STUFF_STUFF_METHODS_H
#define RELICT_STUFF_STUFF_METHODS_H

#include "base/method.h"

extern const struct method stuff_method_emc, stuff_method_wood_density, stuff_method_shrinkage,
    stuff_method_undo_change, stuff_method_alteration, stuff_method_material,
    stuff_method_diffusion;

extern const struct method_list stuff_methods;

#endif
