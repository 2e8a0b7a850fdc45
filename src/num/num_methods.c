#include "num/num_methods.h"

#include "num/num_fields.h"

static const struct method *const methods[] = {
    &num_method_quantiles,     &num_method_distribution, &num_method_words,
    &num_method_censored,      &num_method_kaplan_meier, &num_method_combine,
    &num_method_propagate,     &num_method_regression,   &num_method_curve_fit,
    &num_method_anova,         &num_method_factorial,    &num_method_power,
    &num_method_randomisation, &num_method_run_order,    &num_method_one_way,
    &num_method_mixed,         &num_method_mixed_drying, &num_method_sensitivity,
    &num_method_shares,        &num_method_information,  &num_method_evidence,
    &num_method_emulator,
};
const struct method_list num_methods = METHODS(methods);
