/* Lengths from broken pieces: against exact cases and brute force. */
#include "remains/lengths.h"

#include "check.h"

/* With every piece whole and a sigma all but fixed, mu is normal about the mean logarithm with
 * sd sigma / sqrt n (conjugate result, flat prior). */
static void all_whole(void **state) {
    (void)state;
    static struct length_grid g;
    struct error err = {0};
    struct length_reading v[8];
    double mean = 0;
    for (int i = 0; i < 8; i++) {
        v[i] = (struct length_reading){300 * exp(0.1 * (i - 3.5) / 2.29), true, 1};
        mean += log(v[i].value) / 8;
    }
    check_ok(remains_length_grid(&g, v, 8, 0.1, 0.001, &err), &err);
    double mu, sigma;
    remains_length_at(&g, 0.5, 0.5, &mu, &sigma);
    check_near(sigma, 0.1, 1e-3);
    check_near(mu, mean, 0.002);
    remains_length_at(&g, 0.5, 0.95, &mu, &sigma);
    check_near(mu, mean + 1.6449 * 0.1 / sqrt(8), 0.003);
}

/* Minimums push upward and never downward; nothing whole is refused. */
static void minimums(void **state) {
    (void)state;
    static struct length_grid g, h;
    struct error err = {0};
    struct length_reading v[] = {{316, true, 1}, {150, false, 1}, {320, false, 1}};
    double a, b, s;
    check_ok(remains_length_grid(&g, v, 1, 0.08, 0.5, &err), &err);
    check_ok(remains_length_grid(&h, v, 3, 0.08, 0.5, &err), &err);
    for (double p = 0.05; p < 1; p += 0.1) {
        remains_length_at(&g, 0.5, p, &a, &s);
        remains_length_at(&h, 0.5, p, &b, &s);
        assert_true(b > a);
    }
    v[0].whole = false;
    assert_int_equal(remains_length_grid(&g, v, 3, 0.08, 0.5, &err), ERR_MISSING);
    v[0].value = -3;
    assert_int_equal(remains_length_grid(&g, v, 3, 0.08, 0.5, &err), ERR_RANGE);
}

/* Ranks are strictly monotonic and cover the grid. */
static void ranks(void **state) {
    (void)state;
    static struct length_grid g;
    struct error err = {0};
    struct length_reading v[] = {{316, true, 1}, {290, true, 1}, {300, false, 1}};
    check_ok(remains_length_grid(&g, v, 3, 0.08, 0.5, &err), &err);
    double last = -INFINITY, mu, s;
    for (int i = 1; i < 1000; i++) {
        remains_length_at(&g, 0.3, i / 1000.0, &mu, &s);
        assert_true(mu > last);
        last = mu;
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(all_whole), cmocka_unit_test(minimums),
                                       cmocka_unit_test(ranks)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
