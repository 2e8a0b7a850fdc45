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

/* What a person enters, word by word: taken with the numbers it was given, or refused with the name
 * of what is missing. */
static void test_entries(void **state) {
    (void)state;
    static const struct {
        const char *json, *text; /* as said to a person; NULL: refused */
        const char *refused;
    } entry[] = {
        {"{'family':'fixed','value':12}", "12", NULL},
        {"{'family':'normal','mean':12,'sd':0.5}", "normal, mean 12, sd 0.5", NULL},
        {"{'family':'normal','mean':12,'sd':0.5,'low':11,'high':14}",
         "normal, mean 12, sd 0.5, cut to 11 to 14", NULL},
        {"{'family':'uniform','low':1,'high':2}", "anywhere from 1 to 2", NULL},
        {"{'family':'triangular','low':1,'high':4,'mode':2}", "1 to 4, most likely 2", NULL},
        /* 7.5 exp(+-1.645 x 0.3) */
        {"{'family':'lognormal','median':7.5,'log_sd':0.3}",
         "lognormal, median 7.5, 5 to 95 %: 4.579 to 12.28", NULL},
        {"{'family':'beta','a':2,'b':5}", "beta (2, 5) from 0 to 1", NULL},
        {"{'family':'student','mean':1,'sd':2,'freedom':4}",
         "t with 4 degrees of freedom, centre 1, scale 2", NULL},
        {"{'family':'discrete','values':[9,11,13],'probabilities':[0.2,0.6,0.2]}",
         "9 (20 %), 11 (60 %), 13 (20 %)", NULL},
        {"{'family':'discrete','values':[1,2]}", "1 (50 %), 2 (50 %)", NULL},
        {"{'family':'integer','low':1,'high':6}", "a whole number from 1 to 6", NULL},
        {"{'family':'integer','low':1,'high':6,'mean':3,'sd':1}", "a whole number from 1 to 6",
         NULL},
        {"{'family':'uniform','median':2,'p05':1.1,'p95':2.9}", "anywhere from 1 to 3", NULL},
        {"{'family':'fixed'}", NULL, "A fixed distribution needs \"value\"."},
        {"{'family':'normal','sd':1}", NULL, "A normal distribution needs \"mean\"."},
        {"{'family':'normal','mean':1}", NULL, "A normal distribution needs \"sd\"."},
        {"{'family':'student','mean':1,'sd':1}", NULL, "A student distribution needs \"freedom\"."},
        {"{'family':'lognormal','log_sd':1}", NULL, "A lognormal distribution needs \"median\"."},
        {"{'family':'lognormal','median':1}", NULL, "A lognormal distribution needs \"log_sd\"."},
        {"{'family':'beta','b':1}", NULL, "A beta distribution needs \"a\"."},
        {"{'family':'beta','a':1}", NULL, "A beta distribution needs \"b\"."},
        {"{'family':'uniform','high':1}", NULL, "A uniform distribution needs \"low\"."},
        {"{'family':'integer','low':1}", NULL, "A integer distribution needs \"high\"."},
        {"{'family':'triangular','low':1,'high':2}", NULL,
         "A triangular distribution needs \"mode\"."},
        {"{'family':'discrete'}", NULL, "A discrete distribution has no values."},
        {"{'family':'discrete','values':[1,2,3,4,5,6,7,8,9]}", NULL, "9 values;"},
        {"{'family':'discrete','values':[1,2],'probabilities':[1]}", NULL,
         "2 values and 1 probabilities."},
        {"{'family':'discrete','values':[1,1]}", NULL, "The value 1 stands twice"},
        {"{'family':'discrete','values':[1,2],'probabilities':[0,0]}", NULL, "sum to"},
        {"{'family':'beta','a':1,'b':1,'low':2,'high':1}", NULL,
         "A beta distribution from 2 to 1."},
        {"{'family':'integer','low':1,'high':1e6}", NULL, "A whole number from 1 to 1e+06"},
        {"{'family':'normal','median':1,'p05':2,'p95':3}", NULL, ""},
        {"{'family':'lognormal','median':1,'p05':-2,'p95':3}", NULL, ""}};
    struct arena *a = arena_new();
    for (size_t i = 0; i < sizeof entry / sizeof entry[0]; i++) {
        char json[200], text[200];
        struct num_dist_entry e;
        struct num_dist d;
        snprintf(json, sizeof json, "%s", entry[i].json);
        for (char *c = json; *c; c++)
            if (*c == '\'') *c = '"';
        json_t *j = json_loads(json, 0, NULL);
        assert_non_null(j);
        error_clear(&err);
        check_ok(field_decode(&num_dist_kind, j, &e, a, &err), &err);
        json_decref(j);
        int rc = num_dist_from_entry(&d, &e, &err);
        if (!entry[i].refused) {
            check_ok(rc, &err);
            num_dist_text(&d, text, sizeof text);
            assert_string_equal(text, entry[i].text);
        } else if (!rc || !strstr(err.message, entry[i].refused) || !*err.remedy)
            fail_msg("%s: %s", json, rc ? err.message : "taken");
    }
    arena_free(a);
    error_clear(&err);
}

/* Below, at and above the support; by arithmetic. */
static void test_ends(void **state) {
    (void)state;
    double v[] = {9, 11, 13}, p[] = {1, 3, 1};
    struct num_dist three = num_dist_discrete(3, v, p), die = num_dist_integer(1, 6, 0, INFINITY),
                    flat = num_dist_uniform(0, 4), hill = num_dist_triangular(0, 1, 4),
                    one = num_dist_fixed(5), log = num_dist_lognormal(1, 1);
    check_near(num_dist_cdf(&three, 8), 0, 0);
    check_near(num_dist_cdf(&three, 11), 0.8, 1e-12);
    check_near(num_dist_cdf(&three, 99), 1, 0);
    check_near(num_dist_tail(&three, 11), 0.2, 1e-12);
    check_near(num_dist_cdf(&die, 3), 0.5, 1e-12);
    check_near(exp(num_dist_log_density(&die, 3)), 1.0 / 6, 1e-12);
    assert_true(isinf(num_dist_log_density(&die, 3.5)));
    check_near(exp(num_dist_log_density(&three, 11)), 0.6, 1e-12);
    assert_true(isinf(num_dist_log_density(&three, 10)));
    check_near(num_dist_cdf(&flat, -1), 0, 0);
    check_near(num_dist_tail(&flat, -1), 1, 0);
    check_near(num_dist_tail(&flat, 4), 0, 0);
    check_near(num_dist_cdf(&flat, 1), 0.25, 1e-12);
    check_near(num_dist_cdf(&hill, 1), 0.25, 1e-12); /* area of the rising side */
    check_near(num_dist_cdf(&hill, 0.5), 0.0625, 1e-12);
    check_near(exp(num_dist_log_density(&hill, 1)), 0.5, 1e-12); /* top of a triangle, base 4 */
    check_near(exp(num_dist_log_density(&hill, 2.5)), 0.25, 1e-12);
    check_near(num_dist_cdf(&one, 4.9), 0, 0);
    check_near(num_dist_cdf(&one, 5), 1, 0);
    check_near(num_dist_cdf(&log, -1), 0, 0);
    check_near(num_dist_tail(&log, 0), 1, 0);
    assert_true(isinf(num_dist_log_density(&log, 0)));
    assert_true(isnan(num_dist_cdf(&flat, NAN)) && isnan(num_dist_tail(&flat, NAN)));
    assert_true(isnan(num_dist_quantile(&flat, 1.5)) && isnan(num_dist_quantile(&flat, NAN)));
    assert_true(isinf(num_dist_log_density(&flat, NAN)));
    struct num_dist heavy = num_dist_student(0, 1, 1), heavier = num_dist_student(0, 1, 2);
    assert_true(isnan(num_dist_mean(&heavy)) && isnan(num_dist_sd(&heavier)));
    assert_true(num_dist_equal(&three, &three) && !num_dist_equal(&three, &die));
    struct num_dist other = num_dist_discrete(3, v, (const double[]){1, 1, 1});
    assert_false(num_dist_equal(&three, &other));
    struct num_dist wide = num_dist_uniform(0, 5), deep = num_dist_uniform(-1, 4);
    assert_false(num_dist_equal(&flat, &wide) || num_dist_equal(&flat, &deep));
    assert_int_equal(num_family_find("no such"), -1);
    assert_int_equal(num_family_find("beta"), NUM_BETA);
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
        cmocka_unit_test(test_refusals),   cmocka_unit_test(test_entries),
        cmocka_unit_test(test_ends),       cmocka_unit_test(test_streams),
        cmocka_unit_test(test_weighted)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
