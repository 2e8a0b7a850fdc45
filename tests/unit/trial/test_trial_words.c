/* trial_words: plain figures and plain names. */
#include "trial/trial_words.h"

#include "check.h"

static void figures(void **state) {
    (void)state;
    struct arena *a = arena_new();
    assert_string_equal(trial_number(121.4, 3, a), "121");
    assert_string_equal(trial_number(0.7949, 3, a), "0.795");
    assert_string_equal(trial_number(6.1, 3, a), "6.1");
    assert_string_equal(trial_number(12345, 2, a), "12000");
    assert_string_equal(trial_number(0, 3, a), "0");
    assert_string_equal(trial_number(NAN, 3, a), "?");
    assert_string_equal(trial_plus_minus(121, 137, "", a), "120 ± 140");
    assert_string_equal(trial_plus_minus(5.49, 5.54, "percent", a), "5.5 ± 5.5 percent");
    assert_string_equal(trial_plus_minus(-0.001, 15, "", a), "0 ± 15");
    assert_string_equal(trial_range(4.2271, 7.3729, "percent", a), "4.2 to 7.4 percent");
    arena_free(a);
}

static void names(void **state) {
    (void)state;
    struct arena *a = arena_new();
    assert_string_equal(trial_column_words("dry_factor.bark.around", a),
                        "what drying leaves of bark across the grain");
    assert_string_equal(trial_column_words("lath.E", a), "the stiffness of the laths");
    assert_string_equal(trial_column_words("some.column", a), "some.column");
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(figures), cmocka_unit_test(names)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
