/* calc_field: short ways to write the descriptors of body's methods; for its calc_*.c only. */
#ifndef RELICT_BODY_CALC_FIELD_H
#define RELICT_BODY_CALC_FIELD_H

#include "base/field.h"
#include "stuff/material.h"

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)

/* A size in mm above 0: needed, or one that may be unknown. */
#define NEED_MM(of, member, words, tip, sample)                                                    \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .required = true,        \
                        .min = 0, .max = 1e5, .above_min = true, .help = tip, .example = sample    \
    }
#define SIZE_MM(of, member, words, tip)                                                            \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .min = 0, .max = 1e5,    \
                        .help = tip                                                                \
    }
#define REAL(of, member, words, u, tip)                                                            \
    { AT(of, member), .label = words, .unit = u, .type = FIELD_REAL, .help = tip }
#define PRESET(of, member, words, u, value, tip)                                                   \
    { AT(of, member), .label = words, .unit = u, .type = FIELD_REAL, .preset = value, .help = tip }
#define PERCENT(of, member, words, tip)                                                            \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,      \
                        .help = tip                                                                \
    }
#define DEGREES(of, member, words, value, tip)                                                     \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "degrees", .type = FIELD_REAL,                     \
                        .scale = 0.017453292519943295, .preset = value, .help = tip                \
    }
#define WORDS(of, member, words, tip)                                                              \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }
#define FLAG(of, member, words, value, tip)                                                        \
    { AT(of, member), .label = words, .type = FIELD_FLAG, .preset = value, .help = tip }
#define CHOICE(of, member, words, list, value, tip)                                                \
    {                                                                                              \
        AT(of, member), .label = words, .type = FIELD_CHOICE, .choices = list, .preset = value,    \
                        .help = tip                                                                \
    }
#define MODES_OF(of, member, tip)                                                                  \
    {                                                                                              \
        AT(of, member), .label = "Ways of failing", .type = FIELD_RECORDS, .sub = &body_mode_kind, \
                        .help = tip                                                                \
    }

/* A person's own values, in the struct's member `own`. */
#define OWN_VALUES(of)                                                                             \
    {                                                                                              \
        AT(of, own), .label = "Your own values", .type = FIELD_RECORDS, .sub = &stuff_own_kind,    \
                     .help = "Stand before the tables."                                            \
    }

#define MATERIAL(of, sample)                                                                       \
    {                                                                                              \
        AT(of, material), .label = "Material", .type = FIELD_TEXT, .required = true,               \
                          .help = "As in the finds list.", .example = sample                       \
    }
#define CLASS(of)                                                                                  \
    CHOICE(of, class, "Class", stuff_class_words, NULL, "Where the name does not say it.")
#define LAYER(of)                                                                                  \
    CHOICE(of, layer, "Layer of bark", stuff_layer_words, "whole", "Whole sheet or one layer.")
#define STATE(of, value)                                                                           \
    CHOICE(of, state, "State", stuff_state_words, value, "Of the material under the load.")

#endif
