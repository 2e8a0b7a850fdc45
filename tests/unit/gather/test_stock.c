/* stock: curves made with known numbers come back; the dry rule at its limit. */
#include "gather/stock.h"

#include "check.h"

static struct error err;

static void a_known_curve_comes_back(void **state) {
    (void)state;
    /* 100 g dry, 80 % wet, resting at 10 %: w = 110 + 70 exp(-t/60 h). */
    struct arena *a = arena_new();
    struct weighing w[7];
    static const char *const day[] = {"2028-05-01", "2028-05-02", "2028-05-03", "2028-05-05",
                                      "2028-05-08", "2028-05-12", "2028-05-20"};
    static const double at[] = {0, 24, 48, 96, 168, 264, 456};
    for (int i = 0; i < 7; i++)
        w[i] = (struct weighing){
            .id = "w", .date = day[i], .hour = NAN, .mass = 110 + 70 * exp(-at[i] / 60)};
    struct stock_item item = {.id = "S1",
                              .what = STOCK_SHEET,
                              .dry_mass = 100,
                              .start_moisture = NAN,
                              .rest_moisture = NAN,
                              .flatten_least = 0.4};
    struct stock_answer s;
    check_ok(gather_stock(&s, &item, w, 4, "2028-05-12", a, &err), &err);
    check_near(s.rest_mass, 110, 1e-3);
    check_near(s.rate, 1.0 / 60, 1e-6);
    check_near(s.half_hours, 60 * log(2), 1e-3);
    check_near(s.moisture_now, 1.10 + 0.70 * exp(-96.0 / 60) - 1, 1e-9);
    check_near(s.moisture_on, 0.10 + 0.70 * exp(-264.0 / 60), 1e-6);
    assert_int_equal(s.dry, 0);
    assert_non_null(strstr(s.say, "Not yet dry"));
    assert_non_null(strstr(s.say, "Too dry to flatten"));
    /* The rule by the curve: 70 e^(-t/60) (e^(48/60) - 1) < 0.005 w, looked for hour by hour. */
    double t = 48;
    while (fabs(exp(-t / 60) - exp(-(t - 48) / 60)) * 70 >=
           0.005 * (110 + 70 * exp(-(t - 48) / 60)))
        t += 1;
    long days = (long)floor((12 + t) / 24);
    char want[40];
    snprintf(want, sizeof want, "2028-05-%02ld", 1 + days);
    assert_string_equal(s.dry_by, want);
    /* a second way to the dry mass */
    item.dry_mass = NAN;
    item.start_moisture = 0.8;
    check_ok(gather_stock(&s, &item, w, 7, NULL, a, &err), &err);
    check_near(s.moisture_now, 0.10 + 0.70 * exp(-456.0 / 60), 1e-9);
    arena_free(a);
}

static void the_dry_rule(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stock_item item = {
        .id = "S1", .dry_mass = NAN, .start_moisture = NAN, .rest_moisture = NAN};
    struct weighing w[] = {{.date = "2028-05-01", .hour = NAN, .mass = 200},
                           {.date = "2028-05-03", .hour = NAN, .mass = 199.01}};
    struct stock_answer s;
    check_ok(gather_stock(&s, &item, w, 2, NULL, a, &err), &err);
    assert_int_equal(s.dry, 1); /* 0.495 % */
    w[1].mass = 198.99;         /* 0.505 % */
    check_ok(gather_stock(&s, &item, w, 2, NULL, a, &err), &err);
    assert_int_equal(s.dry, 0);
    assert_true(isnan(s.moisture_now));
    w[1].date = "2028-05-02";
    check_ok(gather_stock(&s, &item, w, 2, NULL, a, &err), &err);
    assert_int_equal(s.dry, -1);
    w[1].mass = 0;
    assert_int_equal(gather_stock(&s, &item, w, 2, NULL, a, &err), ERR_RANGE);
    assert_int_equal(gather_stock(&s, &item, w, 0, NULL, a, &err), ERR_MISSING);
    /* all alike: no curve, no nonsense */
    struct weighing same[] = {{.date = "2028-05-01", .hour = NAN, .mass = 50},
                              {.date = "2028-05-04", .hour = NAN, .mass = 50},
                              {.date = "2028-05-07", .hour = NAN, .mass = 50}};
    check_ok(gather_stock(&s, &item, same, 3, "2030-01-01", a, &err), &err);
    assert_int_equal(s.dry, 1);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_known_curve_comes_back),
                                       cmocka_unit_test(the_dry_rule)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
