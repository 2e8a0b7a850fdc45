#include "shape/shape_methods.h"

#include "shape/methods_inside.h"

static const struct method *const methods[] = {
    &shape_method_ellipse, &shape_method_outline, &shape_method_holes,  &shape_method_unit,
    &shape_method_pitch,   &shape_method_grip,    &shape_method_splits, &shape_method_bends,
    &shape_method_surface, &shape_method_coil,    &shape_method_laths,  &shape_method_order,
};
const struct method_list shape_methods = METHODS(methods);
