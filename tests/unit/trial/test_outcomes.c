/* trial: what one piece gave, for every kind of outcome; which reading counts; what cannot be read.
 */
#include "trial/trial.h"

#include "check.h"

static struct trial trial_of(long outcome) {
    struct trial t;
    field_unknown(&trial_kind, &t);
    t.id = "T";
    t.question = "?";
    t.outcome = outcome;
    return t;
}

static struct trial_piece piece(void) {
    struct trial_piece p;
    field_unknown(&trial_piece_kind, &p);
    p.id = "p", p.trial = "T", p.made_on = "2028-05-01";
    p.around = 200, p.along = 300, p.through = 4, p.mass = 80, p.chord = 100, p.rise = 20;
    return p;
}

static struct trial_reading reading(double day) {
    struct trial_reading r;
    field_unknown(&trial_reading_kind, &r);
    r.id = "r", r.piece = "p", r.day = day;
    r.around = 190, r.along = 297, r.through = 3, r.mass = 48, r.chord = 110, r.rise = 10;
    r.value = 7;
    return r;
}

static void every_outcome(void **state) {
    (void)state;
    /* A chord c and a rise s: bend 8 s/(c^2 + 4 s^2). */
    double now = 80.0 / (110 * 110 + 400), held = 160.0 / (100 * 100 + 1600);
    const struct {
        long outcome;
        double wanted;
    } of[] = {{OUTCOME_SHRINK_AROUND, 0.05},
              {OUTCOME_SHRINK_ALONG, 0.01},
              {OUTCOME_SHRINK_THROUGH, 0.25},
              {OUTCOME_MASS_LOSS, 0.4},
              {OUTCOME_CURVATURE, now},
              {OUTCOME_SPRING_BACK, 1 - now / held},
              {OUTCOME_VALUE, 7}};
    struct trial_piece p = piece();
    struct trial_reading r = reading(28);
    for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
        struct trial t = trial_of(of[i].outcome);
        struct trial_log book = {&t, 1, &p, 1, &r, 1};
        double day;
        check_near(trial_outcome(&t, &p, &book, &day), of[i].wanted, 1e-12);
        check_near(day, 28, 0);
    }
    struct trial t = trial_of(OUTCOME_FAILED);
    struct trial_log book = {&t, 1, &p, 1, &r, 1};
    double day;
    assert_true(isnan(trial_outcome(&t, &p, &book, &day))); /* nobody said */
    p.failed = 1;
    check_near(trial_outcome(&t, &p, &book, &day), 1, 0);
    p.failed = 0;
    check_near(trial_outcome(&t, &p, &book, &day), 0, 0);
    assert_string_equal(trial_unit(OUTCOME_VALUE, "N"), "N");
    assert_string_equal(trial_unit(OUTCOME_VALUE, NULL), "");
    assert_string_equal(trial_unit(OUTCOME_CURVATURE, "N"), "1/m");
    check_near(trial_outcome_scale(OUTCOME_CURVATURE), 0.001, 0);
}

/* The last reading not after the day that settles it; one without a size or a day is passed over;
 * days follow from dates, the trial's own where the piece has none. */
static void which_reading_counts(void **state) {
    (void)state;
    struct trial t = trial_of(OUTCOME_VALUE);
    struct trial_piece p = piece();
    struct trial_reading r[4] = {reading(10), reading(30), reading(60), reading(90)};
    struct trial_log book = {&t, 1, &p, 1, r, 4};
    double day;
    for (int i = 0; i < 4; i++)
        r[i].value = i;
    check_near(trial_outcome(&t, &p, &book, &day), 3, 0);
    t.settle_day = 60;
    check_near(trial_outcome(&t, &p, &book, &day), 2, 0);
    r[2].value = NAN;
    check_near(trial_outcome(&t, &p, &book, &day), 1, 0);
    check_near(day, 30, 0);
    t.settle_day = 5;
    assert_true(isnan(trial_outcome(&t, &p, &book, &day)) && isnan(day));
    t.settle_day = NAN;
    r[3].day = NAN, r[3].date = "2028-05-21";
    check_near(trial_reading_day(&r[3], &p), 20, 0);
    p.made_on = NULL;
    assert_true(isnan(trial_reading_day(&r[3], &p)));
    r[0].day = r[1].day = r[2].day = NAN;
    t.made_on = "2028-05-11";
    check_near(trial_outcome(&t, &p, &book, &day), 3, 0);
    check_near(day, 10, 0);
    r[3].date = "some day in May";
    p.made_on = "2028-05-01";
    assert_true(isnan(trial_reading_day(&r[3], &p)));
}

static void what_was_foretold(void **state) {
    (void)state;
    struct trial t = trial_of(OUTCOME_VALUE);
    char seal[SHA256_TEXT];
    assert_int_equal(trial_foretold(&t), FORETOLD_NOT);
    t.predicted = 6, t.half = 1, t.predicted_on = "2028-05-01";
    assert_int_equal(trial_foretold(&t), FORETOLD_NOT); /* not sealed */
    trial_seal(seal, &t);
    t.seal = seal;
    assert_int_equal(trial_foretold(&t), FORETOLD);
    t.made_on = "2028-04-30";
    assert_int_equal(trial_foretold(&t), FORETOLD_LATE);
    t.made_on = "later";
    assert_int_equal(trial_foretold(&t), FORETOLD);
    t.half = 2;
    assert_int_equal(trial_foretold(&t), FORETOLD_BROKEN);
    t.half = 1, t.predicted_on = "May";
    trial_seal(seal, &t);
    assert_int_equal(trial_foretold(&t),
                     FORETOLD_NOT); /* no day: nobody can say that it was first */
    t.made_before_asked = 1;
    assert_int_equal(trial_foretold(&t), FORETOLD_LATE);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_outcome),
                                       cmocka_unit_test(which_reading_counts),
                                       cmocka_unit_test(what_was_foretold)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
