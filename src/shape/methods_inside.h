/* methods_inside: short ways of writing field descriptors, private to this room's method files, and
 * the methods each of them offers. */
#ifndef RELICT_SHAPE_METHODS_INSIDE_H
#define RELICT_SHAPE_METHODS_INSIDE_H

#include "base/method.h"

#include <math.h>

#define DEGREE (M_PI / 180)

#define IN_REAL(S, M, LABEL, UNIT, LOW, HIGH, HELP)                                                \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = UNIT, .type = FIELD_REAL,                              \
        .offset = offsetof(struct S, M), .min = LOW, .max = HIGH, .help = HELP                     \
    }
#define OUT_REAL(S, M, LABEL, UNIT, HELP)                                                          \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = UNIT, .type = FIELD_REAL,                              \
        .offset = offsetof(struct S, M), .help = HELP                                              \
    }
#define OUT_DEGREES(S, M, LABEL, HELP)                                                             \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = "degrees", .type = FIELD_REAL, .scale = DEGREE,        \
        .offset = offsetof(struct S, M), .help = HELP                                              \
    }
#define OUT_PERCENT(S, M, LABEL, HELP)                                                             \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,          \
        .offset = offsetof(struct S, M), .help = HELP                                              \
    }
#define OUT_INT(S, M, LABEL, HELP)                                                                 \
    { .name = #M, .label = LABEL, .type = FIELD_INT, .offset = offsetof(struct S, M), .help = HELP }
#define OUT_FLAG(S, M, LABEL, HELP)                                                                \
    {                                                                                              \
        .name = #M, .label = LABEL, .type = FIELD_FLAG, .offset = offsetof(struct S, M),           \
        .help = HELP                                                                               \
    }
#define OUT_TEXT(S, M, LABEL, HELP)                                                                \
    {                                                                                              \
        .name = #M, .label = LABEL, .type = FIELD_TEXT, .offset = offsetof(struct S, M),           \
        .help = HELP                                                                               \
    }
#define OUT_REALS(S, M, LABEL, UNIT, HELP)                                                         \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = UNIT, .type = FIELD_REALS,                             \
        .offset = offsetof(struct S, M), .help = HELP                                              \
    }
#define OUT_INTS(S, M, LABEL, HELP)                                                                \
    {                                                                                              \
        .name = #M, .label = LABEL, .type = FIELD_INTS, .offset = offsetof(struct S, M),           \
        .help = HELP                                                                               \
    }
#define OUT_TEXTS(S, M, LABEL, HELP)                                                               \
    {                                                                                              \
        .name = #M, .label = LABEL, .type = FIELD_TEXTS, .offset = offsetof(struct S, M),          \
        .help = HELP                                                                               \
    }

/* An infinite number is left out of JSON. */
static inline double finite_or_unknown(double v) {
    return isfinite(v) ? v : NAN;
}

extern const struct method shape_method_ellipse, shape_method_holes, shape_method_unit,
    shape_method_pitch, shape_method_grip, shape_method_splits, shape_method_surface,
    shape_method_bends, shape_method_coil, shape_method_laths, shape_method_order,
    shape_method_outline;

#endif
