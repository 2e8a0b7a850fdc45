/* verdict: user story 6 of the project's trade reference, and published small-sample numbers. */
#include "trial/verdict.h"

#include "check.h"

static struct error err;

static void five_strips_from_five_trees_support(void **state) {
    (void)state;
    check_from(CHECK_ASKED, "user story 6: 95 % interval of five strips");
    /* Story 6: mean 6.1, 95 % 5.1-7.1; with the first three 4.2-7.4. */
    double v[] = {5.1, 6.4, 5.8, 7.2, 6.0};
    long five[] = {1, 2, 3, 4, 5};
    struct trial_interval i;
    check_ok(trial_interval_mean(&i, v, five, 5, &err), &err);
    check_near(i.mean, 6.1, 1e-12);
    check_near(i.low, 5.1, 0.05);
    check_near(i.high, 7.1, 0.05);
    assert_int_equal(trial_verdict(&i, 6, 1), VERDICT_SUPPORTS);
    check_ok(trial_interval_mean(&i, v, five, 3, &err), &err);
    check_near(i.low, 4.2, 0.05);
    check_near(i.high, 7.4, 0.05);
    assert_int_equal(trial_verdict(&i, 6, 1), VERDICT_OPEN);
}

static void strips_of_one_tree_are_not_repeats(void **state) {
    (void)state;
    check_from(CHECK_ASKED, "user story 6: means by tree");
    double v[] = {5.1, 6.4, 5.8, 7.2, 6.0};
    long two[] = {1, 2, 1, 2, 1};
    struct trial_interval i;
    check_ok(trial_interval_mean(&i, v, two, 5, &err), &err);
    assert_int_equal(i.trees, 2);
    check_near(i.mean, (16.9 / 3 + 6.8) / 2, 1e-12);
    assert_int_equal(trial_verdict(&i, 6, 1), VERDICT_OPEN);
    long one[] = {4, 4, 4, 4, 4};
    check_ok(trial_interval_mean(&i, v, one, 5, &err), &err);
    assert_true(isinf(i.half_width));
    assert_int_equal(trial_verdict(&i, 6, 1), VERDICT_OPEN);
    check_near(i.pooled_low, 5.1, 0.06); /* shown, not used */
}

static void three_of_five_cracked(void **state) {
    (void)state;
    check_from(CHECK_MEMORY, "Clopper & Pearson 1934, 3 of 5: 0.1466 to 0.9473");
    /* Story 6: "will bend uncracked" (at most one in ten); 3 of 5 cracked. The exact interval of
     * 3 of 5 is 0.1466 to 0.9473 (Clopper & Pearson; printed in common tables, from memory). */
    struct trial_interval i;
    check_ok(trial_interval_share(&i, 3, 5, &err), &err);
    check_near(i.low, 0.1466, 5e-5);
    check_near(i.high, 0.9473, 5e-5);
    assert_int_equal(trial_verdict(&i, 0.05, 0.05), VERDICT_AGAINST);
    check_ok(trial_interval_share(&i, 0, 5, &err), &err);
    check_from(CHECK_EXACT, "Clopper & Pearson, none of five: closed form");
    check_near(i.high, 1 - pow(0.025, 0.2), 1e-9); /* closed form for k = 0 */
    assert_int_equal(trial_verdict(&i, 0.05, 0.05), VERDICT_OPEN);
    assert_int_equal(trial_interval_share(&i, 6, 5, &err), ERR_RANGE);
}

static void half_widths_of_small_samples(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "Student t table, 0.975 points (trade rule R110, rounded)");
    /* t(0.975) from any t table: 4.303 (2 df), 2.776 (4), 2.262 (9). Trade reference R110. */
    check_near(trial_half_width(3), 4.303 / sqrt(3), 1e-3);
    check_near(trial_half_width(3), 2.5, 0.05);
    check_near(trial_half_width(5), 1.24, 0.005);
    check_near(trial_half_width(10), 0.72, 0.005);
    assert_true(isinf(trial_half_width(1)));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(five_strips_from_five_trees_support),
                                       cmocka_unit_test(strips_of_one_tree_are_not_repeats),
                                       cmocka_unit_test(three_of_five_cracked),
                                       cmocka_unit_test(half_widths_of_small_samples)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
