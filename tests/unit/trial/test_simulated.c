/* simulated: a trial whose readings are the drying model's own lies in its band; half the curl does
 * not; what is not known is said. */
#include "trial/simulated.h"

#include "body/strip.h"
#include "check.h"
#include "trial/read_back.h"

static struct error err;
enum { DAYS = 14 };

static void beside_the_model(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    struct strip_air air[DAYS];
    for (int i = 0; i < DAYS; i++)
        air[i] = (struct strip_air){18, 0.6, 1, 1};
    struct strip_case c;
    memset(&c, 0, sizeof c);
    c.material = "Tilia cordata bark";
    c.class = FIELD_UNKNOWN;
    c.thickness = 4, c.width = 100, c.length = 200, c.stem = 120, c.air = air, c.days = DAYS;
    c.outer_share = c.moisture = c.diffusion = c.shrinkage = c.ring_radius = c.former = NAN;
    struct strip_outcome out[DAYS + 1];
    long standing;
    check_ok(strip_days(out, &standing, shelf, &c, a, &err), &err);
    struct trial t;
    struct trial_piece p;
    field_unknown(&trial_kind, &t);
    field_unknown(&trial_piece_kind, &p);
    t.id = "T1";
    t.question = "How does it curl?";
    t.species = "Tilia cordata";
    t.outcome = OUTCOME_CURVATURE;
    p.id = "s1";
    p.trial = "T1";
    p.around = 100, p.along = 200, p.through = 4, p.chord = 80;
    p.rise = 60 - sqrt(60.0 * 60 - 40 * 40); /* R 60 over a chord of 80 */
    struct trial_log book = {&t, 1, &p, 1, NULL, 0};
    struct day_mean m[2] = {{7, 1000 * out[7].curvature.p50, 0, 0, 1},
                            {14, 500 * out[14].curvature.p05, 0, 0, 1}};
    struct records series = {2, m}, days;
    const char *why;
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_null(why);
    assert_int_equal(days.n, 2);
    const struct simulated_day *d = days.v;
    check_rel(d[0].middle, m[0].mean, 1e-6);
    assert_int_equal(d[0].inside, 1);
    assert_int_equal(d[1].inside, 0);
    p.through = NAN;
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_int_equal(days.n, 0);
    assert_non_null(strstr(why, "thickness"));
    stuff_shelf_free(shelf);
    arena_free(a);
}

/* Losses and shrinkages in the air that was written down, and each thing that is not known. */
static void losses_and_what_is_missing(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    struct trial t;
    struct trial_piece p;
    struct trial_reading r[3];
    field_unknown(&trial_kind, &t);
    field_unknown(&trial_piece_kind, &p);
    t.id = "T1", t.question = "?", t.species = "Tilia cordata", t.made_on = "2028-05-01";
    p.id = "s1", p.trial = "T1";
    p.around = 100, p.along = 200, p.through = 4;
    for (int i = 0; i < 3; i++) {
        field_unknown(&trial_reading_kind, &r[i]);
        r[i].id = "r", r[i].piece = i < 2 ? "s1" : "of another trial";
        r[i].day = 2 + 20 * i;
        r[i].humidity = i ? 0.85 : 0.35, r[i].temperature = 20;
    }
    struct trial_log book = {&t, 1, &p, 1, r, 3};
    struct day_mean m[2] = {{20, 0, 0, 0, 1}, {40, 0, 0, 0, 1}};
    struct records series = {2, m}, days;
    const char *why;
    static const long outcomes[] = {OUTCOME_SHRINK_AROUND, OUTCOME_SHRINK_ALONG, OUTCOME_MASS_LOSS};
    for (int i = 0; i < 3; i++) {
        t.outcome = outcomes[i];
        check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
        assert_null(why);
        const struct simulated_day *d = days.v;
        assert_int_equal(days.n, 2);
        /* dry for three weeks it lost; then the damp room gave some of it back */
        assert_true(d[0].low <= d[0].middle && d[0].middle <= d[0].high);
        assert_true(d[0].middle > 0 && d[1].middle < d[0].middle);
    }
    t.outcome = OUTCOME_SPRING_BACK;
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_non_null(strstr(why, "not simulated"));
    t.outcome = OUTCOME_CURVATURE;
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_non_null(strstr(why, "chord and rise"));
    t.species = "";
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_non_null(strstr(why, "species"));
    t.species = "Tilia cordata", t.outcome = OUTCOME_MASS_LOSS,
    p.through = 400; /* thicker than long */
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_true(days.n == 0 && why && *why); /* the model's own words */
    series.n = 0;
    check_ok(trial_simulate(&days, &why, &t, &book, &series, shelf, a, &err), &err);
    assert_non_null(strstr(why, "Nothing was read"));
    stuff_shelf_free(shelf);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(beside_the_model),
                                       cmocka_unit_test(losses_and_what_is_missing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
