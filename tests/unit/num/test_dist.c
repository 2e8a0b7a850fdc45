/* Distributions: there and back, moments against quadrature, three points, refusals; random
 * streams; weighted quantiles by hand. */
#include "num/dist.h"
#include "num/random.h"
#include "num/weighted.h"

#include "check.h"

static struct error err;

static size_t all(struct num_dist *d) {
    size_t n = 0;
    double v[] = {9, 11, 13}, p[] = {1, 3, 1};
    d[n++] = num_dist_normal(12, 0.5);
    d[n++] = num_dist_truncated(1, 2, 0, INFINITY);
    d[n++] = num_dist_truncated(0, 1, 3, 5); /* far in the upper tail */
    d[n++] = num_dist_uniform(-2, 3);
    d[n++] = num_dist_triangular(0, 1, 4);
    d[n++] = num_dist_triangular(0, 0, 1); /* mode at an end */
    d[n++] = num_dist_lognormal(7.5, 0.3);
    d[n++] = num_dist_beta(2, 5, 0, 0.3);
    d[n++] = num_dist_student(10, 2, 4);
    d[n++] = num_dist_discrete(3, v, p);
    d[n++] = num_dist_integer(5, 40, 12, 3);
    d[n++] = num_dist_integer(1, 6, 0, INFINITY);
    return n;
}

static void test_round_trip(void **state) {
    (void)state;
    struct num_dist d[16];
    size_t n = all(d);
    for (size_t i = 0; i < n; i++) {
        check_ok(num_dist_check(&d[i], &err), &err);
        double mean = 0, squares = 0;
        enum { STEPS = 20000 };
        for (int k = 0; k < STEPS; k++) { /* midpoints of equal probability */
            double p = (k + 0.5) / STEPS, x = num_dist_quantile(&d[i], p);
            mean += x / STEPS;
            squares += x * x / STEPS;
            if (num_dist_is_discrete(&d[i])) continue;
            check_near(num_dist_cdf(&d[i], x), p, 1e-9);
            check_near(num_dist_tail(&d[i], x), 1 - p, 1e-9);
        }
        double sd = num_dist_sd(&d[i]);
        /* the midpoint rule loses the tails: a thousandth, three hundredths for t with 4 */
        double miss = d[i].family == NUM_STUDENT ? 0.03 : 0.001;
        check_near(mean, num_dist_mean(&d[i]), miss * sd);
        check_rel(sqrt(squares - mean * mean), sd, miss);
        if (num_dist_is_discrete(&d[i])) continue;
        for (double z = -6; z <= 6; z += 0.5)
            check_near(num_dist_score(&d[i], num_dist_from_score(&d[i], z)), z, 2e-6);
        /* density is the slope of the distribution function */
        double x = num_dist_quantile(&d[i], 0.37), h = 1e-5 * sd;
        check_rel((num_dist_cdf(&d[i], x + h) - num_dist_cdf(&d[i], x - h)) / (2 * h),
                  exp(num_dist_log_density(&d[i], x)), 1e-5);
    }
}

static void test_points(void **state) {
    (void)state;
    struct num_dist d;
    double misfit;
    /* of a known beta: its own points give it back */
    struct num_dist beta = num_dist_beta(3, 8, 0, 1);
    double q[3];
    for (int i = 0; i < 3; i++)
        q[i] = num_dist_quantile(&beta, (double[]){0.05, 0.5, 0.95}[i]);
    check_ok(num_dist_from_points(&d, NUM_BETA, q[1], q[0], q[2], NAN, NAN, &misfit, &err), &err);
    check_rel(d.a, 3, 1e-3);
    check_rel(d.b, 8, 1e-3);
    assert_true(misfit < 1e-5);
    check_ok(num_dist_from_points(&d, NUM_LOGNORMAL, 7.5, 4, 12, NAN, NAN, &misfit, &err), &err);
    check_near(num_dist_quantile(&d, 0.5), 7.5, 1e-12);
    check_rel(num_dist_quantile(&d, 0.95) / num_dist_quantile(&d, 0.05), 3, 1e-9);
    check_ok(num_dist_from_points(&d, NUM_NORMAL, 1, 0.2, 2.2, 0, NAN, &misfit, &err), &err);
    assert_true(misfit < 0.1 && d.low == 0);
    check_ok(num_dist_from_points(&d, NUM_TRIANGULAR, 5, 3, 8, NAN, NAN, &misfit, &err), &err);
    assert_true(misfit < 0.1);
    check_ok(num_dist_from_points(&d, NUM_UNIFORM, 5, 0.5, 9.5, NAN, NAN, &misfit, &err), &err);
    check_near(d.low, 0, 1e-3);
    check_near(d.high, 10, 1e-3);
    assert_int_equal(num_dist_from_points(&d, NUM_NORMAL, 5, 6, 8, NAN, NAN, NULL, &err),
                     ERR_RANGE);
    error_clear(&err);
    assert_int_equal(num_dist_from_points(&d, NUM_BETA, 0.5, 0.1, 1.2, NAN, NAN, NULL, &err),
                     ERR_RANGE);
    error_clear(&err);
}

static void test_refusals(void **state) {
    (void)state;
    struct num_dist bad[] = {num_dist_normal(NAN, 1),        num_dist_normal(0, 0),
                             num_dist_normal(0, INFINITY),   num_dist_uniform(3, 2),
                             num_dist_uniform(0, INFINITY),  num_dist_triangular(0, 5, 4),
                             num_dist_lognormal(-1, 0.2),    num_dist_beta(0, 1, 0, 1),
                             num_dist_student(0, 1, 0),      num_dist_discrete(0, NULL, NULL),
                             num_dist_integer(0.5, 3, 1, 1), num_dist_truncated(0, 1, 20, 30)};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        error_clear(&err);
        assert_int_not_equal(num_dist_check(&bad[i], &err), 0);
        assert_true(strlen(err.remedy) > 0);
    }
    error_clear(&err);
}

static void test_streams(void **state) {
    (void)state;
    struct num_random a, b;
    num_random_begin(&a, 1, num_hash("x"), 5);
    num_random_begin(&b, 1, num_hash("x"), 5);
    for (int i = 0; i < 100; i++)
        assert_true(num_random_uniform(&a) == num_random_uniform(&b));
    num_random_begin(&b, 1, num_hash("y"), 5);
    assert_true(num_random_uniform(&a) != num_random_uniform(&b));
    /* chi squared of 16 cells on 160,000 draws: 15 degrees, 99.99 % point 44.3 (tables) */
    double count[16] = {0}, chi = 0;
    for (int i = 0; i < 160000; i++)
        count[(int)(16 * num_random_uniform(&a))]++;
    for (int i = 0; i < 16; i++)
        chi += (count[i] - 10000) * (count[i] - 10000) / 10000;
    assert_true(chi < 44.3);
    size_t p[100], seen[100] = {0};
    num_random_permutation(&a, p, 100);
    for (int i = 0; i < 100; i++)
        assert_true(p[i] < 100 && !seen[p[i]]++);
}

static void test_weighted(void **state) {
    (void)state;
    double v[] = {3.5, 1.5, 2.5, NAN}, w[] = {1, 1, 2, 9}, p[] = {0, 0.125, 0.25, 0.5, 1}, q[5];
    /* sorted 1.5 (1), 2.5 (2), 3.5 (1): plotting positions 1/8, 1/2, 7/8 */
    check_ok(num_quantiles(v, w, 4, p, 5, q, &err), &err);
    check_near(q[0], 1.5, 0);
    check_near(q[1], 1.5, 1e-12);
    check_near(q[2], 1.5 + 1.0 / 3, 1e-12);
    check_near(q[3], 2.5, 1e-12);
    check_near(q[4], 3.5, 0);
    double count[] = {9, 11, 11, 13}, half = 0.5;
    check_ok(num_quantiles(count, NULL, 4, &half, 1, q, &err), &err);
    check_near(q[0], 11, 0); /* whole numbers are never interpolated */
    double big[] = {1e12 + 0.4, 1e12 + 0.3, 1e12 + 0.5};
    check_near(num_sd(big, NULL, 3), sqrt(0.02 / 3), 1e-4);
    check_near(num_effective(w, 3), 16.0 / 6, 1e-12);
    double lo, hi, tri[] = {0, 1, 1.1, 1.2, 5};
    check_ok(num_shortest(tri, NULL, 5, 0.6, &lo, &hi, &err), &err);
    check_near(lo, 1, 0);
    check_near(hi, 1.2, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip), cmocka_unit_test(test_points),
        cmocka_unit_test(test_refusals), cmocka_unit_test(test_streams),
        cmocka_unit_test(test_weighted)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
