/* stem: odd stems, unrolling round faults, visits that say nothing, test peels. */
#include "gather/stem.h"

#include "check.h"

static struct error err;
static const struct stem clean = {.id = "S1",
                                  .kind = STEM_CUT,
                                  .girth = 500,
                                  .girth_height = 1300,
                                  .clear_from = 300,
                                  .clear_length = 2000,
                                  .taper = 10,
                                  .bark_thickness = 5,
                                  .consent = CONSENT_GIVEN};

static void what_stands_in_the_way_is_told(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stem s = clean;
    struct sheet_want w = {340, 520, 0.06, 0.005, 25, 50, 5};
    struct stem_answer out;
    check_ok(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), &err);
    assert_true(out.fits);
    check_near(out.wound_width, 0, 0);
    s.kind = STEM_LIVING;
    s.consent = CONSENT_ASKED;
    check_ok(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), &err);
    assert_false(out.fits);
    assert_non_null(strstr(out.say, "refused"));
    assert_non_null(strstr(out.say, "consent is not on record"));
    assert_non_null(strstr(out.say, "Other ways"));
    s.girth = 1300;
    check_ok(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), &err);
    assert_non_null(strstr(out.say, "named approval is missing"));
    s.clear_length = 300;
    check_ok(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), &err);
    assert_non_null(strstr(out.say, "too short"));
    s.girth = 0;
    assert_int_equal(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), ERR_RANGE);
    w.thickness = NAN;
    assert_int_equal(gather_stem_answer(&out, &clean, &w, &gather_closing_default, a, &err),
                     ERR_RANGE);
    arena_free(a);
}

static void the_sleeve_is_opened_through_a_fault(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stem_fault f[] = {{.height = 1000, .around = 200, .length = 100, .width = 40}};
    struct nest_sheet sheet;
    double start;
    check_ok(gather_stem_unroll(&sheet, &start, &clean, f, 1, 1, a, &err), &err);
    check_near(start, 220, 1e-9);      /* through its middle */
    assert_int_equal(sheet.faults, 2); /* half at each edge */
    /* lower end 500 + pi 0.01 1000 = 531.4 over bark, less pi 5 */
    check_near(sheet.ring.xy[7] - sheet.ring.xy[1], 500 + M_PI * 10 - M_PI * 5, 1e-9);
    check_near(sheet.ring.xy[5] - sheet.ring.xy[3], 500 - M_PI * 10 - M_PI * 5, 1e-9);
    struct stem living = clean;
    living.kind = STEM_LIVING;
    check_ok(gather_stem_unroll(&sheet, &start, &living, f, 1, 0.25, a, &err), &err);
    assert_int_equal(sheet.faults, 0); /* the strip keeps clear of it */
    assert_int_equal(gather_stem_unroll(&sheet, &start, &living, f, 1, 0.6, a, &err), ERR_REFUSED);
    arena_free(a);
}

static void visits_and_peels(void **state) {
    (void)state;
    struct healing_fit f;
    struct stem_visit v[] = {{.date = "2026-06-01", .wound_width = 100},
                             {.date = "2027-06-01", .wound_width = 99},
                             {.date = "2028-06-01", .wound_width = 98.2}};
    assert_int_equal(gather_healing(&f, v, 1, &gather_closing_default, &err), ERR_MISSING);
    check_ok(gather_healing(&f, v, 2, &gather_closing_default, &err), &err);
    assert_int_equal(f.word, HEALING_OPEN);
    check_ok(gather_healing(&f, v, 3, &gather_closing_default, &err), &err);
    assert_int_equal(f.word, HEALING_SLOW);
    struct test_peel p[] = {{.date = "2027-04-20", .slips = SLIP_NO},
                            {.date = "2027-05-04", .slips = SLIP_YES},
                            {.date = "2027-06-20", .slips = SLIP_YES},
                            {.date = "2027-07-01", .slips = SLIP_NO, .drought = 1}};
    struct slip_season s;
    check_ok(gather_slip(&s, p, 4, &err), &err);
    assert_string_equal(s.first, "2027-05-04");
    assert_string_equal(s.last, "2027-06-20");
    assert_string_equal(s.before, "2027-04-20");
    assert_int_equal(s.drought, 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(what_stands_in_the_way_is_told),
                                       cmocka_unit_test(the_sleeve_is_opened_through_a_fault),
                                       cmocka_unit_test(visits_and_peels)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
