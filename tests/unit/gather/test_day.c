/* day: dates there and back, windows over New Year. */
#include "gather/day.h"

#include "check.h"

static void dates_there_and_back(void **state) {
    (void)state;
    /* Julian day 2,451,545 is 2000-01-01 (the astronomers' epoch J2000.0); day 0 is 2,440,588. */
    assert_int_equal(gather_day(2000, 1, 1), 2451545 - 2440588);
    assert_int_equal(gather_day(1970, 1, 1), 0);
    for (long d = gather_day(1583, 1, 1), was = d - 1; d < gather_day(2400, 1, 1); d++) {
        long y, m, day;
        gather_day_date(d, &y, &m, &day);
        assert_int_equal(gather_day(y, m, day), d);
        assert_int_equal(was + 1, d);
        was = d;
    }
}

static void reads_only_whole_dates(void **state) {
    (void)state;
    struct error err = {0};
    long d;
    char text[DAY_TEXT];
    check_ok(gather_day_read(&d, "2028-02-29", &err), &err);
    gather_day_write(d, text);
    assert_string_equal(text, "2028-02-29");
    static const char *const bad[] = {"2027-02-29", "2027-13-01", "2027-04-31", "2027-4-1",
                                      "2027-04",    "soon",       "",           "2027-04-01x",
                                      "27-04-2001", "-027-04-01", "1500-01-01"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_not_equal(gather_day_read(&d, bad[i], &err), 0);
    assert_int_equal(gather_day_read(&d, NULL, &err), ERR_MISSING);
}

static void windows_run_over_new_year(void **state) {
    (void)state;
    struct day_window rods = {11, 1, 2, 28, 0}, bark = {5, 1, 6, 30, 0}, any = {0};
    assert_true(gather_window_holds(&rods, gather_day(2027, 1, 15)));
    assert_true(gather_window_holds(&rods, gather_day(2027, 2, 28)));
    assert_false(gather_window_holds(&rods, gather_day(2027, 3, 1)));
    assert_int_equal(gather_window_next(&rods, gather_day(2027, 3, 1)), gather_day(2027, 11, 1));
    assert_int_equal(gather_window_last(&rods, gather_day(2027, 10, 1)), gather_day(2027, 2, 28));
    assert_int_equal(gather_window_next(&bark, gather_day(2027, 7, 1)), gather_day(2028, 5, 1));
    assert_int_equal(gather_window_last(&bark, gather_day(2027, 4, 30)), gather_day(2026, 6, 30));
    assert_true(gather_window_holds(&any, gather_day(2027, 7, 1)));
    bark.later = 10;
    assert_int_equal(gather_window_next(&bark, gather_day(2027, 1, 1)), gather_day(2027, 5, 11));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(dates_there_and_back),
                                       cmocka_unit_test(reads_only_whole_dates),
                                       cmocka_unit_test(windows_run_over_new_year)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
