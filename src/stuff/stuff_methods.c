#include "stuff/stuff_methods.h"

static const struct method *const methods[] = {
    &stuff_method_emc,         &stuff_method_wood_density, &stuff_method_shrinkage,
    &stuff_method_undo_change, &stuff_method_alteration,   &stuff_method_material,
};
const struct method_list stuff_methods = METHODS(methods);
