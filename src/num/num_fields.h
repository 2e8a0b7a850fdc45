/* num_fields: shorthand for the field tables of this room's methods; for src/num/num_methods*.c
 * only.
 */
#ifndef RELICT_NUM_NUM_FIELDS_H
#define RELICT_NUM_NUM_FIELDS_H

#include "base/method.h"

#include <math.h>

/* A field of struct s; further designators follow. */
#define AT(s, member, type_, label_, help_)                                                        \
    .name = #member, .label = (label_), .type = (type_), .offset = offsetof(struct s, member),     \
    .help = (help_)

/* A number that comes out. */
#define OUT(s, member, label_, help_)                                                              \
    { AT(s, member, FIELD_REAL, label_, help_) }
#define OUT_COUNT(s, member, label_, help_)                                                        \
    { AT(s, member, FIELD_INT, label_, help_) }
#define OUT_FLAG(s, member, label_, help_)                                                         \
    { AT(s, member, FIELD_FLAG, label_, help_) }
#define OUT_TEXT(s, member, label_, help_)                                                         \
    { AT(s, member, FIELD_TEXT, label_, help_) }
#define OUT_LIST(s, member, label_, help_)                                                         \
    { AT(s, member, FIELD_REALS, label_, help_) }

/* JSON has no infinity: no limit is left out. */
static inline double num_known(double x) {
    return isfinite(x) ? x : NAN;
}

extern const struct method num_method_quantiles, num_method_distribution, num_method_words,
    num_method_censored, num_method_kaplan_meier, num_method_combine, num_method_propagate;
extern const struct method num_method_regression, num_method_curve_fit, num_method_anova,
    num_method_factorial, num_method_power, num_method_randomisation, num_method_run_order,
    num_method_mixed, num_method_mixed_drying, num_method_one_way;
extern const struct method num_method_sensitivity, num_method_shares, num_method_information,
    num_method_evidence, num_method_emulator;

#endif
