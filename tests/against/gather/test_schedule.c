/* schedule: user story 5 of the project's trade reference. Year 3 is 2029 here. */
#include "gather/schedule.h"

#include "check.h"

static struct error err;

static struct texts after(const char **one) {
    return (struct texts){1, one};
}

static const char *peel_id[] = {"peel"}, *make_id[] = {"make"}, *dry_id[] = {"dry"},
                  *freeze_id[] = {"freeze"}, *settle_id[] = {"settle"};

static const struct schedule_row *row(const struct schedule *s, const char *id) {
    const struct schedule_row *r = s->rows.v;
    for (size_t i = 0; i < s->rows.n; i++)
        if (strcmp(r[i].id, id) == 0) return &r[i];
    fail_msg("no row %s", id);
    return NULL;
}

/* Opening 1 September of year 3, bark 1 May to 30 June, 10 days making, 8 weeks drying, 2 + 2 + 2
 * weeks of freezing, settling and fitting. */
static size_t story(struct plan_step *s) {
    struct plan_step steps[] = {
        {.id = "peel",
         .title = "Peel",
         .days_usual = 0,
         .window_from = "05-01",
         .window_to = "06-30",
         .material = "sheet bark",
         .days_low = NAN,
         .days_high = NAN},
        {.id = "make", .title = "Make", .days_usual = 10, .after = after(peel_id)},
        {.id = "dry",
         .title = "Dry",
         .days_usual = 56,
         .after = after(make_id),
         .tend = "Weigh and turn",
         .tend_every = 2},
        {.id = "freeze", .title = "Freeze", .days_usual = 14, .after = after(dry_id)},
        {.id = "settle", .title = "Settle", .days_usual = 14, .after = after(freeze_id)},
        {.id = "fit", .title = "Fit in the case", .days_usual = 14, .after = after(settle_id)},
        {.id = "label", .title = "Write the label", .days_usual = 5}};
    for (int i = 0; i < 7; i++)
        steps[i].days_low = steps[i].days_high = NAN;
    memcpy(s, steps, sizeof steps);
    return 7;
}

static void story_5(void **state) {
    (void)state;
    check_from(CHECK_ASKED, "user story 5: seasons and last dates");
    struct arena *a = arena_new();
    struct plan_step s[7];
    size_t n = story(s);
    struct schedule_options o = {.opening = "2029-09-01",
                                 .today = "2027-09-01",
                                 .assurance = 0.9,
                                 .alarm_days = 56,
                                 .draws = 200,
                                 .seed = 1};
    struct schedule plan;
    check_ok(gather_schedule_plan(&plan, s, n, &o, a, &err), &err);
    const struct season_row *r = plan.seasons.v;
    assert_int_equal(plan.seasons.n, 2);
    /* Year 3: peel on 1 May leaves 15 days; later than 16 May fails. */
    assert_string_equal(r[1].opens, "2029-05-01");
    check_near(r[1].slack_first, 15, 0);
    assert_string_equal(r[1].last, "2029-05-16");
    assert_int_equal(r[1].safe, 0);
    check_near(r[1].chance_first, 1, 0);
    check_near(r[1].chance_last, 0, 0);
    /* The plan marks year 2 and warns 8 weeks before: 1 May less 56 days is 6 March. */
    assert_string_equal(r[0].opens, "2028-05-01");
    assert_int_equal(r[0].safe, 1);
    assert_int_equal(r[0].marked, 1);
    assert_string_equal(r[0].alarm, "2028-03-06");
    assert_string_equal(row(&plan, "peel")->begin, "2028-05-01");
    assert_string_equal(row(&plan, "peel")->alarm, "2028-03-06");
    /* If missed: the next chance, about 10 months on, and what can go on meanwhile. */
    assert_non_null(strstr(r[0].missed, "2029-05-01"));
    assert_non_null(strstr(r[0].missed, "10 months"));
    assert_non_null(strstr(r[0].missed, "Write the label"));
    assert_non_null(strstr(r[0].missed, "still meets"));
    assert_non_null(strstr(r[1].missed, "too late"));
    check_near(plan.chance, 1, 0);
    arena_free(a);
}

static void random_durations_against_exact_chances(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "symmetric triangle: half meet it");
    /* One step of 10 to 30 days, most often 20, begun 20 days before the opening: a symmetric
     * triangle, so half the futures meet it (whole days rounded up: P(days <= 20) = 0.5). */
    struct arena *a = arena_new();
    struct plan_step s = {.id = "dry", .days_low = 10, .days_usual = 20, .days_high = 30};
    struct schedule_options o = {.opening = "2029-09-01",
                                 .today = "2029-08-12",
                                 .assurance = 0.9,
                                 .alarm_days = 56,
                                 .draws = 20000,
                                 .seed = 5};
    struct schedule plan;
    check_ok(gather_schedule_plan(&plan, &s, 1, &o, a, &err), &err);
    check_near(plan.chance, 0.5, 4 * plan.chance_error);
    check_near(plan.chance_error, sqrt(0.25 / 20000), 1e-4);
    /* 90 % point of the triangle: 30 - sqrt(0.1 x 20 x 10) = 25.53, so 26 days before: 6 August. */
    assert_string_equal(row(&plan, "dry")->last_safe, "2029-08-06");
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(story_5),
                                       cmocka_unit_test(random_durations_against_exact_chances)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
