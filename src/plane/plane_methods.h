/* plane_methods: what this room opens to `relict calc`: arc, polygon, similarity, homography. */
#ifndef RELICT_PLANE_METHODS_H
#define RELICT_PLANE_METHODS_H

#include "base/method.h"

extern const struct method_list plane_methods;

#endif
