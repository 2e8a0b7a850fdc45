/* point: a place in the plan, mm, x right and y up, seen from the outer face. */
#ifndef RELICT_PLANE_POINT_H
#define RELICT_PLANE_POINT_H

#include <stddef.h>

struct plane_point {
    double x, y; /* mm */
};

#endif
