/* body_methods: the open methods of this room. */
#ifndef RELICT_BODY_METHODS_H
#define RELICT_BODY_METHODS_H

#include "base/method.h"

extern const struct method_list body_methods;

#endif
