/* gather: from a making to needs, layout, draft plan, schedule and calendar. */
#include "gather/gather.h"

#include "check.h"

static struct error err;

static void blank(struct part *p, const char *id, long kind, long substance, const char *taxon) {
    field_unknown(&part_kind_kind, p);
    p->id = id;
    p->making = "m";
    p->kind = kind;
    p->substance = substance;
    p->taxon = taxon;
    p->state = STATE_NEW_AND_DRY;
}

static void a_making_becomes_a_plan(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    struct part p[3];
    blank(&p[0], "sheet.1", PART_SHEET, SUBSTANCE_BARK, "Tilia");
    p[0].length = 300;
    p[0].width = 200;
    p[0].thickness = 3;
    p[0].grain = 0;
    blank(&p[1], "lath.1", PART_LATH, SUBSTANCE_SPLIT_WOOD, "Corylus avellana");
    p[1].length = 300;
    p[1].width = 25;
    p[1].thickness = 3.5;
    blank(&p[2], "rim.1", PART_RIM, SUBSTANCE_SPLIT_WOOD, "Corylus avellana");
    p[2].length = 900;
    p[2].width = 14;
    p[2].thickness = 7;
    struct makings all = {.parts = p, .part_count = 3};
    struct need_options o = gather_need_options();
    o.shelf = shelf;
    struct need_list needs;
    struct statement_set *said = statement_set_new(a);
    check_ok(gather_needs(&needs, &all, "m", &o, said, a, &err), &err);
    assert_int_equal(needs.n, 3);
    assert_true(needs.need[0].width > 250 + 10);             /* grown by the tables, plus trim */
    assert_true(needs.need[0].standing > STANDING_STANDARD); /* bark: an analogy or a guess, told */
    assert_non_null(statement_find(said, "need.sheet.1.width"));
    struct texts faults;
    check_ok(statement_faults(&faults, said, a, &err), &err);
    for (size_t i = 0; i < faults.n; i++)
        check_note("%s", faults.v[i]);
    assert_int_equal(faults.n, 0);

    struct stem stems[] = {{.id = "S1",
                            .kind = STEM_CUT,
                            .girth = 500,
                            .girth_height = 1300,
                            .clear_from = 300,
                            .clear_length = 1500,
                            .taper = 10,
                            .bark_thickness = 4,
                            .consent = CONSENT_GIVEN},
                           {.id = "S2",
                            .kind = STEM_CUT,
                            .girth = 500,
                            .girth_height = 1300,
                            .clear_from = 300,
                            .clear_length = 1500,
                            .taper = 10,
                            .bark_thickness = 4,
                            .consent = CONSENT_ASKED}};
    struct stem_fault fault = {
        .stem = "S1", .height = 500, .around = 10, .length = 80, .width = 60};
    struct stem_layout l;
    struct nest_options n = {.gap = 2, .seed = 1};
    check_ok(gather_layout(&l, &needs, stems, 2, &fault, 1, &n, a, &err), &err);
    assert_true(l.nest.complete);
    assert_int_equal(l.sheets, 1);
    assert_non_null(strstr(l.say, "S2"));

    struct plan_step *step;
    size_t steps;
    check_ok(gather_plan_draft(&step, &steps, &needs, shelf, a, &err), &err);
    for (size_t i = 0; i < steps; i++)
        check_note("step %s %g-%g %s..%s", step[i].id, step[i].days_low, step[i].days_high,
                   step[i].window_from ? step[i].window_from : "",
                   step[i].window_to ? step[i].window_to : "");
    assert_string_equal(step[0].id, "take lime bark");
    assert_string_equal(step[0].window_from, "05-01");
    assert_int_equal(step[0].spring, 1);
    struct schedule_options so = {.opening = "2029-09-01",
                                  .today = "2027-09-01",
                                  .assurance = 0.9,
                                  .alarm_days = 56,
                                  .draws = 500,
                                  .seed = 1};
    struct schedule plan;
    check_ok(gather_schedule(&plan, step, steps, &so, said, a, &err), &err);
    assert_true(plan.chance > 0.95);
    assert_non_null(statement_find(said, "plan.chance"));
    char *ics;
    check_ok(gather_calendar(&ics, &plan, "tray", "2027-09-01", a, &err), &err);
    assert_non_null(strstr(ics, "SUMMARY:Season: take lime bark (planned)"));
    stuff_shelf_free(shelf);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_making_becomes_a_plan)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
