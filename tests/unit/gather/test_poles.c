/* poles: how many blanks a round of wood gives, bolts from the butt up, faults, what is missing. */
#include "gather/poles.h"

#include "check.h"

static struct error err;

static struct need stick(const char *part, const char *what, double length, double width,
                         double thickness, double get) {
    return (struct need){.part = part,
                         .what = what,
                         .species = "Corylus avellana",
                         .number = 1,
                         .length = length,
                         .width = width,
                         .thickness = thickness,
                         .total = NAN,
                         .get = get};
}

/* 54 mm over bark of 2 mm, no taper: 50 mm of wood all the way, one metre long. */
static struct stem pole(void) {
    return (struct stem){.id = "H1",
                         .species = "Corylus sp.",
                         .kind = STEM_POLE,
                         .girth = 54 * M_PI,
                         .girth_height = 1300,
                         .clear_from = 300,
                         .clear_length = 1000,
                         .taper = 0,
                         .bark_thickness = 2,
                         .consent = CONSENT_GIVEN};
}

static void blanks_by_hand(void **state) {
    (void)state;
    check_from(CHECK_ASKED, "geometry, worked by hand: chords of a circle");
    /* Rows of 3.75 + 2 mm; the chord 26.7 lies 21.1 mm from the pith of 50 mm: three rows a side.
     */
    assert_int_equal(gather_pole_blanks(50, 26.7, 3.75, 2), 6);
    assert_int_equal(gather_pole_blanks(26.6, 26.7, 3.75, 2), 0);
    /* 40 mm, 8 by 4: chords at 6, 12 and 18 mm are 38.2, 32 and 17.4: 4, 3 and 1, on two sides. */
    assert_int_equal(gather_pole_blanks(40, 8, 4, 2), 16);
    struct stem s = pole();
    s.taper = 10;
    check_near(gather_wood_across(&s, 1300, 9), 50, 1e-9);
    check_near(gather_wood_across(&s, 2300, 9), 40, 1e-9);
    s.bark_thickness = NAN;
    check_near(gather_wood_across(&s, 1300, 9), 54 - 18, 1e-9);
}

static void bolts_from_the_butt(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct need need[] = {stick("b", "lath", 250, 26.7, 3.75, 3),
                          stick("a", "lath", 300, 26.7, 3.75, 5)};
    struct need_list list = {.n = 2, .need = need};
    struct stem s = pole();
    struct pole_plan p;
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    /* Six blanks, 0.67 of them usable: 4.02 a bolt. Two bolts of the longer one give its five, and
     * what is over three of the shorter. */
    assert_int_equal(p.n, 2);
    assert_int_equal(p.bolt[0].need, 1);
    check_near(p.bolt[0].usable, 4.02, 1e-9);
    check_near(p.bolt[1].from, 303, 1e-9);
    assert_string_equal(p.bolt[1].serves, "a, b");
    check_near(p.left[0], 1000 - 606, 1e-9);
    check_near(p.used[0], (5 * 300 + 3 * 250) * 26.7 * 3.75 / (M_PI * 625 * 1000), 1e-9);
    check_near(p.missing[0] + p.missing[1], 0, 0);
    assert_string_equal(p.say, "");
    /* A knot 200 mm up: nothing begins below it, nothing lies across it. */
    const struct stem_fault knot = {.stem = "H1", .height = 500, .length = 20};
    check_ok(gather_poles(&p, &list, &s, 1, &knot, 1, NULL, a, &err), &err);
    assert_int_equal(p.n, 2);
    check_near(p.bolt[0].from, 220, 1e-3);
    check_near(p.left[0], 200, 1e-3);
    arena_free(a);
}

static void what_is_missing_is_told(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct need need[] = {stick("long", "lath", 2000, 26.7, 3.75, 2),
                          stick("hoop", "rod", 500, 30, 30, 1),
                          stick("cord", "cord", 500, 5, 1, 1)};
    struct need_list list = {.n = 3, .need = need};
    struct stem s = pole();
    struct pole_plan p;
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    /* 50 mm of wood is too thick for a hoop of 30 in the round; 44 mm would do. */
    assert_int_equal(p.n, 0);
    assert_non_null(strstr(p.none[0], "too thin, too thick or too short"));
    check_near(p.missing[0], 2, 0);
    check_near(p.missing[1], 1, 0);
    check_near(p.missing[2], 0, 0); /* no stick */
    assert_non_null(strstr(p.say, "1 of hoop: shoots of Corylus avellana"));
    s.girth = 48 * M_PI;
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    assert_int_equal(p.n, 1);
    check_near(p.bolt[0].usable, 1, 0);
    assert_string_equal(p.none[0], "");
    const struct need_list hoop = {.n = 1, .need = &need[1]};
    const struct stem two[] = {s, s};
    check_ok(gather_poles(&p, &hoop, two, 2, NULL, 0, NULL, a, &err), &err);
    assert_non_null(strstr(p.none[1], "None is wanted of it"));
    s.consent = CONSENT_ASKED;
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    assert_int_equal(p.n, 0);
    assert_non_null(strstr(p.say, "consent"));
    s.consent = CONSENT_REFUSED;
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    assert_int_equal(p.n, 0);
    assert_non_null(strstr(p.say, "refused"));
    s.consent = CONSENT_GIVEN;
    s.species = "Tilia cordata";
    check_ok(gather_poles(&p, &list, &s, 1, NULL, 0, NULL, a, &err), &err);
    assert_int_equal(p.poles, 0);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(blanks_by_hand),
                                       cmocka_unit_test(bolts_from_the_butt),
                                       cmocka_unit_test(what_is_missing_is_told)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
