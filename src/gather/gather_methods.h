/* gather_methods: the methods of gather/ that stand open as `relict calc`. */
#ifndef RELICT_GATHER_GATHER_METHODS_H
#define RELICT_GATHER_GATHER_METHODS_H

#include "base/method.h"

extern const struct method gather_method_sheet, gather_method_closing, gather_method_cutting,
    gather_method_nesting, gather_method_no_fit, gather_method_schedule, gather_method_stock,
    gather_method_cord, gather_method_coil, gather_method_paint, gather_method_poles;

extern const struct method_list gather_methods;

#endif
