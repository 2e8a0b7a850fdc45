/* num: limits of a censored fit against the exponential law, whose profile is known in closed form:
 * with n complete sizes of mean m the scale theta loses n (ln(theta/m) + m/theta - 1) of ln
 * likelihood (Lawless 2003, chapter 4). */
#include "num/censored.h"

#include "check.h"

static double loss(double n, double mean, double scale) {
    return n * (log(scale / mean) + mean / scale - 1);
}

static void limits_are_where_the_profile_has_fallen(void **state) {
    (void)state;
    struct error err = {0};
    static const double sizes[] = {40, 75, 100, 120, 165};
    struct num_censored v[5];
    for (size_t i = 0; i < 5; i++)
        v[i] = (struct num_censored){sizes[i], sizes[i], 0};
    struct num_life_fit fit;
    const struct num_life_options o = {.family = NUM_LIFE_EXPONENTIAL, .level = 0.9};
    check_ok(num_life_fit(&fit, v, 5, &o, &err), &err);
    const double half_chi2 = 2.705543454095404 / 2; /* 90 %, one degree of freedom */
    check_near(fit.median, 100 * log(2), 1e-8);
    check_near(loss(5, 100, fit.median_low / log(2)), half_chi2, 1e-8);
    check_near(loss(5, 100, fit.median_high / log(2)), half_chi2, 1e-8);
    assert_true(fit.median_low < fit.median && fit.median < fit.median_high);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(limits_are_where_the_profile_has_fallen)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
