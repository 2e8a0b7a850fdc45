#include "gather/gather_methods.h"

static const struct method *const methods[] = {
    &gather_method_sheet,  &gather_method_closing,  &gather_method_cutting, &gather_method_nesting,
    &gather_method_no_fit, &gather_method_schedule, &gather_method_stock,   &gather_method_cord,
    &gather_method_coil,   &gather_method_paint,    &gather_method_poles,
};
const struct method_list gather_methods = METHODS(methods);
