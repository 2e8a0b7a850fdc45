/* Two readings, rows of holes, counts: the numbers of user stories 1, 2 and 4 (trade notes 7),
 * which were worked out by hand from the demo lists. */
#include "remains/counts.h"
#include "remains/rulers.h"

#include "check.h"

static void two_readings(void **state) { /* story 2 */
    (void)state;
    struct loss l;
    struct error err = {0};
    check_ok(remains_two_readings(&l, 22.0, 0.1, 20.9, 0.1, &err), &err);
    check_near(100 * l.loss, 5.0, 0.05);
    check_near(100 * l.plus_minus, 0.6, 0.05);
    assert_false(l.coarse);
    check_ok(remains_two_readings(&l, 4.2, 0.1, 3.95, 0.1, &err), &err);
    check_near(100 * l.loss, 6.0, 0.05);
    check_near(100 * l.plus_minus, 3.4, 0.05);
    assert_true(l.coarse);
    check_ok(remains_two_readings(&l, 240, 0.1, 239, 0.1, &err), &err);
    check_near(100 * l.loss, 0.4, 0.05);
    check_near(100 * l.plus_minus, 0.06, 0.005);
    assert_false(l.coarse);
    assert_int_equal(remains_two_readings(&l, -1, 0.1, 2, 0.1, &err), ERR_RANGE);
    assert_int_equal(remains_two_readings(&l, NAN, 0.1, 2, 0.1, &err), ERR_RANGE);
}

static void pitch_ratio(void **state) { /* story 4, from the tray's list */
    (void)state;
    struct hole_row rod_e[] = {{18.0, 6, 0.5}, {17.9, 2, 0.5}};
    struct hole_row bark_e[] = {{16.1, 5, 1}, {15.4, 2, 1}, {15.6, 1, 1}};
    struct hole_row rod_w[] = {{18.3, 6, 0.5}, {18.4, 9, 0.5}, {18.0, 4, 0.5}, {18.1, 1, 0.5}};
    struct hole_row bark_w[] = {{18.0, 8, 1}, {18.2, 3, 1}, {18.1, 1, 1}};
    struct pitch_ratio r;
    struct error err = {0};
    check_ok(remains_pitch_ratio(&r, rod_e, 2, bark_e, 3, 0, &err), &err);
    check_near(r.rod, 18.0, 0.05);
    check_near(r.sheet, 15.9, 0.05);
    check_near(100 * r.loss, 12, 0.5);
    check_near(100 * r.low, 10, 0.5);
    check_near(100 * r.high, 14, 0.5);
    check_ok(remains_pitch_ratio(&r, rod_w, 4, bark_w, 3, 0, &err), &err);
    check_near(r.rod, 18.3, 0.05);
    check_near(r.sheet, 18.1, 0.05);
    check_near(100 * r.loss, 1, 0.5);
    assert_int_equal(remains_pitch_ratio(&r, rod_e, 0, bark_e, 3, 0, &err), ERR_MISSING);
    rod_e[0].gaps = 0;
    assert_int_equal(remains_pitch_ratio(&r, rod_e, 2, bark_e, 3, 0, &err), ERR_RANGE);
}

static void count(void **state) { /* story 1 */
    (void)state;
    struct arena *a = arena_new();
    struct part_count c = {0};
    struct error err = {0};
    check_ok(remains_count_arguments(&c, 8, 1595, 327, 498, 69, a, &err), &err);
    assert_int_equal(c.ends.at_least, 4);
    assert_int_equal(c.length.at_least, 5);
    assert_int_equal(c.spaced.expected, 7);
    assert_int_equal(c.least, 5);
    /* An exact quotient is not rounded up; what is missing argues nothing. */
    check_ok(remains_count_arguments(&c, 0, 981, 327, NAN, NAN, a, &err), &err);
    assert_int_equal(c.length.at_least, 3);
    assert_null(c.ends.text);
    assert_null(c.spaced.text);
    assert_int_equal(remains_count_arguments(&c, -1, 1, 1, 1, 1, a, &err), ERR_RANGE);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_readings),
                                       cmocka_unit_test(pitch_ratio), cmocka_unit_test(count)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
