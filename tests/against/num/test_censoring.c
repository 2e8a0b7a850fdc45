/* Censored sizes: 6-MP leukaemia data (Freireich et al. 1963; Gehan 1965), NIST/SEMATECH
 * e-Handbook chapter 8 (20 units, stopped at 500 h), laths made for this project. Values of the
 * fits recalculated with two independent programs; see data/README.md. */
#include "num/censored.h"
#include "test_num_data.h"

static struct error err;
static json_t *data;

static size_t read_set(json_t *set, struct num_censored *v) {
    double t[64], e[64];
    size_t n = data_list(set, "times", t, 64);
    data_list(set, "event", e, 64);
    for (size_t i = 0; i < n; i++)
        v[i] = (struct num_censored){t[i], e[i] != 0 ? t[i] : INFINITY, 0};
    return n;
}

static void test_kaplan_meier(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED,
               "Freireich et al. 1963, Gehan 1965 (6-MP remission times); Kaplan & Meier 1958");
    struct arena *arena = arena_new();
    struct num_censored v[64];
    struct num_survival s;
    json_t *set = data_at(data, "leukaemia_6MP"), *km = data_at(set, "KM");
    size_t n = read_set(set, v);
    check_ok(num_survival(&s, v, n, 0.95, arena, &err), &err);
    assert_int_equal(s.n, json_array_size(km));
    for (size_t k = 0; k < s.n; k++) {
        json_t *row = json_array_get(km, k);
        check_near(s.t[k], data_number(row, "0"), 0);
        check_near(s.at_risk[k], data_number(row, "1"), 0);
        check_near(s.events[k], data_number(row, "2"), 0);
        check_near(s.s[k], data_number(row, "3"), 1e-6);
        check_near(s.se[k], data_number(row, "4"), 1e-6);
        assert_true(s.low[k] < s.s[k] && s.s[k] < s.high[k]);
    }
    check_near(s.median, data_number(set, "median_KM"), 0);
    check_from(CHECK_EXACT, "five laths made for this project, by hand");
    /* the largest lath is censored: the curve stops above 0 */
    set = data_at(data, "laths");
    n = read_set(set, v);
    check_ok(num_survival(&s, v, n, 0.95, arena, &err), &err);
    for (size_t k = 0; k < s.n; k++)
        check_near(s.s[k], data_number(json_array_get(data_at(set, "KM"), k), "3"), 1e-12);
    check_near(s.lowest, 0.2, 1e-12);
    arena_free(arena);
}

static void test_log_rank(void **state) {
    (void)state;
    check_from(CHECK_DATA, "Gehan 1965 (6-MP and control), log-rank test and Weibull regression by "
                           "two independent programs");
    struct arena *arena = arena_new();
    struct num_censored a[64], b[64];
    double control[64], chi2, p;
    json_t *set = data_at(data, "leukaemia_6MP");
    size_t n_a = read_set(set, a), n_b = data_list(set, "control", control, 64);
    for (size_t i = 0; i < n_b; i++)
        b[i] = (struct num_censored){control[i], control[i], 0};
    check_ok(num_log_rank(a, n_a, b, n_b, &chi2, &p, arena, &err), &err);
    check_near(chi2, data_number(set, "logrank_chi2"), 1e-5);
    /* Weibull regression on both groups */
    struct num_censored all[128];
    double x[256];
    for (size_t i = 0; i < n_a + n_b; i++) {
        all[i] = i < n_a ? a[i] : b[i - n_a];
        x[2 * i] = 1;
        x[2 * i + 1] = i >= n_a;
    }
    struct num_life_options o = {.family = NUM_LIFE_WEIBULL, .x = x, .p = 2};
    struct num_life_fit fit;
    check_ok(num_life_fit(&fit, all, n_a + n_b, &o, &err), &err);
    check_near(fit.beta[0], data_number(set, "weibull_two_groups.intercept"), 2e-6);
    check_near(fit.beta[1], data_number(set, "weibull_two_groups.control_effect"), 2e-6);
    check_near(log(fit.sigma), data_number(set, "weibull_two_groups.log_scale"), 2e-6);
    check_near(fit.log_like, data_number(set, "weibull_two_groups.loglik"), 2e-6);
    arena_free(arena);
}

static void test_fits(void **state) {
    (void)state;
    check_from(CHECK_DATA, "Gehan 1965 (6-MP), maximum likelihood by two independent programs");
    struct num_censored v[64];
    struct num_life_fit fit;
    json_t *set = data_at(data, "leukaemia_6MP");
    size_t n = read_set(set, v);
    struct num_life_options o = {.family = NUM_LIFE_EXPONENTIAL};
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(exp(-fit.beta[0]), data_number(set, "exponential.rate"), 1e-8);
    check_near(fit.log_like, data_number(set, "exponential.loglik"), 1e-5);
    o.family = NUM_LIFE_WEIBULL;
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(fit.beta[0], data_number(set, "weibull.intercept"), 2e-6);
    check_near(fit.sigma, data_number(set, "weibull.scale"), 2e-6);
    check_near(1 / fit.sigma, data_number(set, "weibull.shape"), 4e-6);
    check_near(fit.log_like, data_number(set, "weibull.loglik"), 2e-6);
    o.family = NUM_LIFE_LOGNORMAL;
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(fit.beta[0], data_number(set, "lognormal.mu"), 2e-6);
    check_near(fit.sigma, data_number(set, "lognormal.sigma"), 2e-6);
    check_near(fit.log_like, data_number(set, "lognormal.loglik"), 2e-6);

    check_from(CHECK_DATA, "NIST/SEMATECH e-Handbook of Statistical Methods, ch. 8 (20 units "
                           "stopped at 500 h), refitted by two independent programs");
    set = data_at(data, "nist_type1");
    double t[32];
    size_t failed = data_list(set, "failures", t, 32);
    n = (size_t)data_number(set, "n");
    for (size_t i = 0; i < n; i++)
        v[i] = i < failed ? (struct num_censored){t[i], t[i], 0}
                          : (struct num_censored){data_number(set, "stop"), INFINITY, 0};
    o.family = NUM_LIFE_WEIBULL;
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(1 / fit.sigma, data_number(set, "weibull_shape"), 2e-6);
    check_near(exp(fit.beta[0]), data_number(set, "weibull_scale"), 1e-3);
    check_from(
        CHECK_PUBLISHED,
        "NIST/SEMATECH e-Handbook of Statistical Methods, ch. 8 (20 units stopped at 500 h)");
    check_near(1 / fit.sigma, 1.7208, 0.00005); /* as the handbook prints them */
    check_near(exp(fit.beta[0]), 606.5280, 0.001);
    check_near(fit.log_like, data_number(set, "loglik"), 1e-5);

    check_from(CHECK_SECOND, "laths made for this project, fitted by two independent programs");
    set = data_at(data, "laths");
    n = read_set(set, v);
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(fit.beta[0], data_number(set, "weibull.intercept"), 2e-6);
    check_near(fit.sigma, data_number(set, "weibull.scale"), 2e-7);
    check_near(fit.median, data_number(set, "weibull.median"), 1e-3);
    o.family = NUM_LIFE_LOGNORMAL;
    check_ok(num_life_fit(&fit, v, n, &o, &err), &err);
    check_near(fit.beta[0], data_number(set, "lognormal.mu"), 2e-6);
    check_near(fit.sigma, data_number(set, "lognormal.sigma"), 2e-7);
    check_near(fit.se[0], data_number(set, "lognormal.se_mu"), 2e-6);
    check_near(fit.se_log_sigma, data_number(set, "lognormal.se_logsigma"), 2e-5);
    check_near(fit.median, data_number(set, "lognormal.median"), 1e-3);
    /* profile limits lie further out on the censored side */
    assert_true(fit.median_high - fit.median > fit.median - fit.median_low);
}

/* Interval and truncated likelihoods against their definitions; refusals. */
static void test_edges(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "censored likelihood by its definition");
    struct num_censored v = {200, 220, 0};
    double a = 0.5 * erfc((log(200.0) - 5.3) / 0.1 / sqrt(2)),
           b = 0.5 * erfc((log(220.0) - 5.3) / 0.1 / sqrt(2));
    check_near(num_life_log_like(NUM_LIFE_LOGNORMAL, &v, 5.3, 0.1), log(a - b), 1e-12);
    v.above = 150;
    double c = 0.5 * erfc((log(150.0) - 5.3) / 0.1 / sqrt(2));
    check_near(num_life_log_like(NUM_LIFE_LOGNORMAL, &v, 5.3, 0.1), log((a - b) / c), 1e-12);
    struct num_censored low = {0, 180, 0};
    double d = 1 - 0.5 * erfc((log(180.0) - 5.3) / 0.1 / sqrt(2));
    check_near(num_life_log_like(NUM_LIFE_LOGNORMAL, &low, 5.3, 0.1), log(d), 1e-12);
    struct num_censored all[3] = {{100, INFINITY, 0}, {120, INFINITY, 0}, {90, INFINITY, 0}};
    struct num_life_fit fit;
    struct num_life_options o = {
        .family = NUM_LIFE_LOGNORMAL, .sigma_median = 0.07, .sigma_factor = 1.6};
    assert_int_equal(num_life_fit(&fit, all, 3, &o, &err), ERR_REFUSED);
    error_clear(&err);
    /* one complete piece and a prior: an estimate, most of its spread assumed */
    all[0].high = all[0].low = 130;
    check_ok(num_life_fit(&fit, all, 3, &o, &err), &err);
    assert_true(fit.assumption > 0.8 && fit.median > 120 && fit.median_low < fit.median);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_kaplan_meier),
                                       cmocka_unit_test(test_log_rank), cmocka_unit_test(test_fits),
                                       cmocka_unit_test(test_edges)};
    data = data_load("check_censoring.json");
    int rc = cmocka_run_group_tests(tests, NULL, NULL);
    json_decref(data);
    return rc;
}
