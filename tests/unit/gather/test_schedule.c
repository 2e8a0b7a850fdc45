/* schedule: circles, unknown steps, missed seasons, spring, just in time, the day list. */
#include "gather/schedule.h"

#include "check.h"

static struct error err;
static struct schedule plan;
static struct schedule_options options = {.opening = "2029-09-01",
                                          .today = "2029-03-01",
                                          .assurance = 0.9,
                                          .alarm_days = 56,
                                          .draws = 100,
                                          .seed = 1};

static void circles_and_unknown_steps_are_refused(void **state) {
    (void)state;
    struct arena *a = arena_new();
    const char *x[] = {"x"}, *y[] = {"y"}, *z[] = {"z"};
    struct plan_step s[] = {
        {.id = "x", .days_low = NAN, .days_high = NAN, .days_usual = 1, .after = {1, y}},
        {.id = "y", .days_low = NAN, .days_high = NAN, .days_usual = 1, .after = {1, x}}};
    assert_int_equal(gather_schedule_plan(&plan, s, 2, &options, a, &err), ERR_CONFLICT);
    s[0].after.v = z;
    assert_int_equal(gather_schedule_plan(&plan, s, 2, &options, a, &err), ERR_MISSING);
    s[0].after.n = 0;
    s[0].days_low = 5;
    assert_int_equal(gather_schedule_plan(&plan, s, 2, &options, a, &err), ERR_RANGE);
    s[0].days_low = NAN;
    s[0].window_from = "13-01";
    assert_int_equal(gather_schedule_plan(&plan, s, 2, &options, a, &err), ERR_INPUT);
    s[0].window_from = NULL;
    struct schedule_options o = options;
    o.opening = "2029-09";
    assert_int_equal(gather_schedule_plan(&plan, s, 2, &o, a, &err), ERR_INPUT);
    arena_free(a);
}

static void spring_moves_north_and_uphill(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct plan_step s = {.id = "peel",
                          .days_low = NAN,
                          .days_high = NAN,
                          .days_usual = 0,
                          .spring = 1,
                          .window_from = "05-01",
                          .window_to = "06-30"};
    struct schedule_options o = options;
    o.later_degrees = 2;
    o.higher_m = 240;
    check_ok(gather_schedule_plan(&plan, &s, 1, &o, a, &err), &err);
    assert_string_equal(((struct season_row *)plan.seasons.v)->opens, "2029-05-17");
    arena_free(a);
}

static void soaking_begins_just_in_time_and_is_tended(void **state) {
    (void)state;
    struct arena *a = arena_new();
    const char *soak[] = {"soak"}, *both[] = {"soak", "peel"};
    struct plan_step s[] = {
        {.id = "soak",
         .title = "Soak the rods",
         .days_low = NAN,
         .days_high = NAN,
         .days_usual = 4,
         .just_in_time = 1,
         .tend = "Keep under water",
         .tend_every = 2},
        {.id = "peel",
         .days_low = NAN,
         .days_high = NAN,
         .days_usual = 1,
         .window_from = "05-01",
         .window_to = "06-30"},
        {.id = "weave", .days_low = NAN, .days_high = NAN, .days_usual = 3, .after = {2, both}}};
    (void)soak;
    check_ok(gather_schedule_plan(&plan, s, 3, &options, a, &err), &err);
    const struct day_task *t = plan.tasks.v;
    int water = 0, begins = 0;
    for (size_t i = 0; i < plan.tasks.n; i++) {
        water += strcmp(t[i].what, "Keep under water") == 0;
        begins += strcmp(t[i].step, "soak") == 0 && strcmp(t[i].date, "2029-04-28") == 0;
    }
    assert_int_equal(water, 2);
    assert_int_equal(begins, 2); /* peel 1 May, one day; weave 2 May; soak from 28 April */
    arena_free(a);
}

static void a_date_that_cannot_be_met_is_told(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct plan_step s = {.id = "dry", .days_low = NAN, .days_high = NAN, .days_usual = 400};
    check_ok(gather_schedule_plan(&plan, &s, 1, &options, a, &err), &err);
    check_near(plan.chance, 0, 0);
    assert_true(plan.slack < 0);
    assert_non_null(strstr(plan.say, "should have begun by"));
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(circles_and_unknown_steps_are_refused),
                                       cmocka_unit_test(spring_moves_north_and_uphill),
                                       cmocka_unit_test(soaking_begins_just_in_time_and_is_tended),
                                       cmocka_unit_test(a_date_that_cannot_be_met_is_told)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
