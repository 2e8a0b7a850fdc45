/* describe: short forms for field descriptors that gather and trial use often (base/field.h). */
#ifndef RELICT_GATHER_DESCRIBE_H
#define RELICT_GATHER_DESCRIBE_H

#include "base/field.h"

#define AT(st_, member) .name = #member, .offset = offsetof(struct st_, member)
#define F_ID(st_, help_)                                                                           \
    { AT(st_, id), .label = "Id", .type = FIELD_TEXT, .required = true, .help = help_ }
#define F_TEXT(st_, member, label_, help_)                                                         \
    { AT(st_, member), .label = label_, .type = FIELD_TEXT, .help = help_ }
#define F_REFERS(st_, member, label_, kind_, help_)                                                \
    { AT(st_, member), .label = label_, .type = FIELD_TEXT, .refers = kind_, .help = help_ }
#define F_TEXTS(st_, member, label_, help_)                                                        \
    { AT(st_, member), .label = label_, .type = FIELD_TEXTS, .help = help_ }
#define F_DATE(st_, member, label_, help_)                                                         \
    { AT(st_, member), .label = label_, .type = FIELD_DATE, .help = help_ }
#define F_FLAG(st_, member, label_, help_)                                                         \
    { AT(st_, member), .label = label_, .type = FIELD_FLAG, .help = help_ }
#define F_CHOICE(st_, member, label_, words, help_)                                                \
    { AT(st_, member), .label = label_, .type = FIELD_CHOICE, .choices = words, .help = help_ }
#define F_REAL(st_, member, label_, unit_, low, high, help_)                                       \
    {                                                                                              \
        AT(st_, member), .label = label_, .unit = unit_, .type = FIELD_REAL, .min = low,           \
                         .max = high, .help = help_                                                \
    }
#define F_MM(st_, member, label_, help_)                                                           \
    {                                                                                              \
        AT(st_, member), .label = label_, .unit = "mm", .type = FIELD_REAL, .max = 1e6,            \
                         .help = help_                                                             \
    }
#define F_SHARE(st_, member, label_, low, high, help_)                                             \
    {                                                                                              \
        AT(st_, member), .label = label_, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,    \
                         .min = low, .max = high, .help = help_                                    \
    }
#define F_COUNT(st_, member, label_, high, help_)                                                  \
    { AT(st_, member), .label = label_, .type = FIELD_INT, .max = high, .help = help_ }
#define F_LIST(st_, member, label_, kind_, help_)                                                  \
    { AT(st_, member), .label = label_, .type = FIELD_RECORDS, .sub = &(kind_), .help = help_ }
#define F_OUT(st_, member, label_, unit_, help_)                                                   \
    { AT(st_, member), .label = label_, .unit = unit_, .type = FIELD_REAL, .help = help_ }
#define F_OUT_SHARE(st_, member, label_, help_)                                                    \
    {                                                                                              \
        AT(st_, member), .label = label_, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,    \
                         .help = help_                                                             \
    }

#endif
