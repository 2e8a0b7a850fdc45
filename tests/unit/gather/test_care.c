/* care: cautions stand with their work, the checklist tells what is missing. */
#include "gather/care.h"

#include "check.h"

static struct error err;

static const struct care_line *line(const struct care_list *l, const char *what) {
    for (size_t i = 0; i < l->n; i++)
        if (strcmp(l->line[i].what, what) == 0) return &l->line[i];
    return NULL;
}

static void every_work_has_its_cautions(void **state) {
    (void)state;
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    for (int act = 0; act < ACT_COUNT; act++) {
        struct arena *a = arena_new();
        struct care_list l;
        check_ok(gather_cautions(&l, shelf, (enum act)act, a, &err), &err);
        assert_true(l.n > 0);
        for (size_t i = 0; i < l.n; i++)
            assert_true(*l.line[i].say && *l.line[i].source);
        arena_free(a);
    }
    stuff_shelf_free(shelf);
}

static void the_checklist_knows_what_is_on_record(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct stem s = {.species = "Ulmus glabra",
                     .kind = STEM_LIVING,
                     .consent = CONSENT_GIVEN,
                     .nests_checked = "2028-05-19"};
    struct test_peel p = {.date = "2028-05-18", .slips = SLIP_YES};
    struct care_list l;
    check_ok(gather_checklist(&l, &s, 0.3, "2028-05-20", &p, 1, a, &err), &err);
    assert_int_equal(line(&l, "Owner's consent")->done, 1);
    assert_int_equal(line(&l, "Nests")->done, 1);
    assert_int_equal(line(&l, "Test peel")->done, 1);
    assert_int_equal(line(&l, "Named approval")->done, 0);
    assert_non_null(line(&l, "elm disease and bark beetles"));
    assert_non_null(line(&l, "Visits"));
    check_ok(gather_checklist(&l, &s, 0.6, "2028-11-20", NULL, 0, a, &err), &err);
    assert_null(line(&l, "Nests")); /* nobody nests in November */
    assert_int_equal(line(&l, "Share of girth")->done, 0);
    assert_int_equal(line(&l, "Test peel")->done, 0);
    /* cut for its wood: no bark is tried, all else is asked for */
    s.kind = STEM_POLE;
    s.species = "Corylus avellana";
    check_ok(gather_checklist(&l, &s, NAN, "2028-11-20", NULL, 0, a, &err), &err);
    assert_null(line(&l, "Test peel"));
    assert_non_null(line(&l, "The stool"));
    assert_non_null(line(&l, "Local rules"));
    assert_non_null(line(&l, "Clean tools"));
    assert_non_null(line(&l, "Where the bark goes"));
    assert_null(line(&l, "elm disease and bark beetles"));
    arena_free(a);
}

static void a_step_has_the_cautions_of_its_work(void **state) {
    (void)state;
    static const struct {
        const char *step;
        enum act act;
    } known[] = {{"Begin: take lime bark", ACT_PEEL},
                 {"take hazel rod", ACT_FELL},
                 {"take oak, ash, alder", ACT_FELL},
                 {"split hazel rod (7 to 90 days after cutting)", ACT_SPLIT},
                 {"ret lime bast", ACT_RET},
                 {"soak willow rod and let it mellow", ACT_SOAK},
                 {"Bend the rim round the former and let it set.", ACT_STEAM},
                 {"paint", ACT_PAINT},
                 {"Dry strips bent under small weights", ACT_LOAD},
                 {"make", ACT_CARVE},
                 {"measure the original again", ACT_ORIGINAL}};
    struct stuff_shelf *shelf;
    struct arena *a = arena_new();
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        enum act act[ACT_COUNT];
        bool found = false;
        for (size_t n = gather_acts(act, known[i].step); n-- > 0;)
            found = found || act[n] == known[i].act;
        if (!found) fail_msg("\"%s\" is no %s", known[i].step, act_words[known[i].act]);
    }
    assert_string_equal(gather_step_care(shelf, "fit in the case", a), "");
    assert_string_equal(gather_step_care(shelf, "pretty secret", a), ""); /* no retting */
    assert_non_null(strstr(gather_step_care(shelf, "take lime bark", a), "peeling bark"));
    stuff_shelf_free(shelf);
    arena_free(a);
}

static void nothing_for_a_child_a_fight_or_a_load_is_called_safe(void **state) {
    (void)state;
    assert_non_null(gather_never_safe("Cradle for the gallery"));
    assert_non_null(gather_never_safe("to be carried by visitors: load 15 kg"));
    assert_non_null(gather_never_safe("Longbow, two bows and a shield"));
    assert_non_null(gather_never_safe("for CHILDREN to play with"));
    assert_non_null(gather_never_safe("it is being loaded"));
    assert_null(gather_never_safe("display copy of a tray"));
    assert_null(gather_never_safe("wooden bowl, elbow, cotton"));
    assert_null(gather_never_safe(""));
    assert_null(gather_never_safe(NULL));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_work_has_its_cautions),
        cmocka_unit_test(a_step_has_the_cautions_of_its_work),
        cmocka_unit_test(the_checklist_knows_what_is_on_record),
        cmocka_unit_test(nothing_for_a_child_a_fight_or_a_load_is_called_safe)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
