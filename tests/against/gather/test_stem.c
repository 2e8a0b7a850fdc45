/* stem: the numbers of user story 5 and of the tree table in the project's reference. */
#include "gather/stem.h"

#include "check.h"

static struct error err;

/* Story 5: sheet 520 x 340 new and dry, 6 % across, 0.5 % along, trim 25 across and 50 along, bark
 * 4 mm. */
static const struct sheet_want tray = {340, 520, 0.06, 0.005, 25, 50, 4};

static void the_sheet_of_story_5(void **state) {
    (void)state;
    check_from(CHECK_ASKED, "user story 5: sheet from a stem");
    double around, along;
    check_ok(gather_sheet_cut(&around, &along, &tray, &err), &err);
    check_near(around, 412, 0);
    check_near(along, 623, 0);
    struct stem_route r[STEM_ROUTES];
    size_t n;
    check_ok(gather_stem_routes(r, &n, &tray, &gather_closing_default, NULL, &err), &err);
    assert_true(n >= 4);
    check_near(r[0].diameter, 529, 0.5); /* standing at 25 % */
    check_near(100 * r[0].strain, 0.8, 0.05);
    check_near(r[1].diameter, 401, 0.5); /* 33 % */
    check_near(r[3].diameter, 135, 0.5); /* whole sleeve of a cut stem */
    check_near(100 * r[3].strain, 3.0, 0.05);
    assert_string_equal(r[0].permit, "owner's consent");
    assert_non_null(strstr(r[1].permit, "named approval"));
    for (size_t i = 0; i < n; i++) { /* each with its harm and its own conflict */
        assert_non_null(r[i].harm);
        assert_non_null(r[i].conflict);
    }
    check_from(CHECK_EXACT, "girth from finished width (trade rule R14)");
    /* R14: finished 410, 6 %, 25 mm trim: 486 mm of bark; 25 %: girth 1,945 (rounded up here: 487).
     */
    struct sheet_want r14 = {410, 500, 0.06, 0, 25, 0, 4};
    check_ok(gather_sheet_cut(&around, &along, &r14, &err), &err);
    check_near(around, 486, 1);
    check_near(around / 0.25, 1945, 4);
}

static void over_a_quarter_needs_a_name_and_over_half_is_refused(void **state) {
    (void)state;
    assert_int_equal(gather_permit(STEM_LIVING, 0.25), PERMIT_OWNER);
    assert_int_equal(gather_permit(STEM_LIVING, 0.26), PERMIT_APPROVAL);
    assert_int_equal(gather_permit(STEM_LIVING, 0.50), PERMIT_APPROVAL);
    assert_int_equal(gather_permit(STEM_LIVING, 0.51), PERMIT_REFUSED);
    assert_int_equal(gather_permit(STEM_CUT, 1), PERMIT_OWNER);
    assert_int_equal(gather_harm(STEM_LIVING, 0.2), HARM_RECOVERS);
    assert_int_equal(gather_harm(STEM_LIVING, 0.4), HARM_DAMAGED);
    assert_int_equal(gather_harm(STEM_LIVING, 0.6), HARM_POOR);
    assert_int_equal(gather_harm(STEM_LIVING, 1), HARM_DIES);
}

static void a_beech_wound_of_92_mm_closes_in_5_years(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "wound closure of oriental beech, Padua study (data/tree.csv)");
    /* 18.4 mm a year: 92 mm in 5.0 years (reference check 24, rate from the Padua study). */
    struct arena *a = arena_new();
    struct stem s = {.id = "B1",
                     .kind = STEM_LIVING,
                     .girth = 1000,
                     .girth_height = 1300,
                     .clear_from = 500,
                     .clear_length = 2000,
                     .taper = 0,
                     .bark_thickness = 4,
                     .consent = CONSENT_GIVEN};
    struct sheet_want w = {92, 400, 0, 0, 0, 0, 4};
    struct stem_answer out;
    check_ok(gather_stem_answer(&out, &s, &w, &gather_closing_default, a, &err), &err);
    check_near(out.close_usual, 5.0, 0.01);
    assert_true(out.fits);
    /* and a visit series made with that rate gives it back */
    struct stem_visit v[] = {{.date = "2026-06-01", .wound_width = 92},
                             {.date = "2027-06-01", .wound_width = 73.6},
                             {.date = "2028-05-31", .wound_width = 55.2},
                             {.date = "2029-05-31", .wound_width = 36.8}};
    struct healing_fit f;
    check_ok(gather_healing(&f, v, 4, &gather_closing_default, &err), &err);
    check_near(f.rate, 18.4, 0.05);
    assert_int_equal(f.word, HEALING_EXPECTED);
    check_near(f.years_left, 2, 0.01);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sheet_of_story_5),
        cmocka_unit_test(over_a_quarter_needs_a_name_and_over_half_is_refused),
        cmocka_unit_test(a_beech_wound_of_92_mm_closes_in_5_years)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
