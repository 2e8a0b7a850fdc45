/* statement: sets, chains, doubt, words for likelihood, stored form. */
#include "statement/statement.h"

#include "check.h"

static struct statement make(const char *id, long footing) {
    struct statement s = statement_blank();
    s.id = id;
    s.sentence = "The laths were this thick.";
    s.footing = footing;
    return s;
}

static void doubt_follows_the_chain(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct statement_set *set = statement_set_new(a);
    struct error err = {0};
    struct statement s = make("lath.thickness", FOOTING_WORKED_OUT);
    check_ok(statement_link_add(&s, "measure", "A01.thickness", "reading", a, &err), &err);
    check_ok(statement_add(set, &s, &err), &err);
    s = make("lath.stiffness", FOOTING_WORKED_OUT);
    check_ok(statement_link_add(&s, "statement", "lath.thickness", "", a, &err), &err);
    check_ok(statement_add(set, &s, &err), &err);
    s = make("rim.width", FOOTING_SEEN);
    check_ok(statement_add(set, &s, &err), &err);
    assert_int_equal(statement_doubt(set, "measure", "A01.thickness", "read again"), 2);
    assert_string_equal(statement_find(set, "lath.stiffness")->doubt, "read again");
    assert_null(statement_find(set, "rim.width")->doubt);
    arena_free(a);
}

static void faults_are_found(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct statement_set *set = statement_set_new(a);
    struct statement s = make("one", FOOTING_GUESSED);
    statement_add(set, &s, NULL);
    s = make("two", FOOTING_GUESSED);
    s.rival = "four pegs";
    statement_add(set, &s, NULL);
    s = make("three", FIELD_UNKNOWN);
    statement_add(set, &s, NULL);
    struct texts faults;
    assert_int_equal(statement_faults(&faults, set, a, NULL), 0);
    assert_int_equal(faults.n, 2);
    assert_string_equal(faults.v[0], "one: a guess without a rival");
    assert_string_equal(faults.v[1], "three: no footing");
    arena_free(a);
}

static void many_statements_and_their_stored_form(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct statement_set *set = statement_set_new(a), *again = statement_set_new(a);
    struct error err = {0};
    char id[32];
    for (int i = 0; i < 1000; i++) {
        snprintf(id, sizeof id, "s%d", i % 500);
        struct statement s = make(id, FOOTING_SEEN);
        s.value = spread_exact(i);
        statement_link_add(&s, "piece", "A01", NULL, a, NULL);
        check_ok(statement_add(set, &s, &err), &err);
    }
    assert_int_equal(statement_count(set), 500);
    check_near(statement_find(set, "s7")->value.p50, 507, 0);
    json_t *stored = statement_set_encode(set);
    check_ok(statement_set_decode(again, stored, &err), &err);
    json_t *second = statement_set_encode(again);
    assert_true(json_equal(stored, second));
    json_decref(stored);
    json_decref(second);
    arena_free(a);
}

static void numbers_and_words(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct statement s = statement_blank();
    s.unit = "mm";
    s.value = (struct spread){.p05 = 304.21, .p50 = 318.4, .p95 = 331.3};
    assert_string_equal(statement_number(&s, a), "318 mm (304 to 331)");
    /* counts have no parts, and what rounds to nothing has no sign */
    struct statement count = statement_blank();
    count.value = spread_exact(7);
    count.value.p05 = 5;
    count.value.p95 = 9;
    assert_string_equal(statement_number(&count, a), "7 (5 to 9)");
    count.unit = "mm";
    count.value.p50 = 0.04;
    count.value.p05 = -0.03;
    count.value.p95 = 4;
    assert_string_equal(statement_number(&count, a), "0.0 mm (0.0 to 4.0)");
    /* ICD 203 (2015): likely 55-80, very likely 80-95, almost certain 95-99. */
    assert_string_equal(statement_likelihood_word(0.7), "likely");
    assert_string_equal(statement_likelihood_word(0.9), "very likely");
    assert_string_equal(statement_likelihood_word(0.04), "almost no chance");
    s.value = spread_unknown();
    s.probability = 0.9999;
    assert_string_equal(statement_number(&s, a), "almost certain (over 99 %)");
    arena_free(a);
}

/* Normal quantiles: 0.6745, 1.6449, 2.5758 (any table; NIST/SEMATECH e-Handbook 1.3.6.7.1). Half a
 * normal of each side, half the weight each: the mean is off the middle by the difference of the
 * two sd over sqrt(2 pi). */
static void ranges(void **state) {
    (void)state;
    const struct spread n = spread_normal(10, 2), both = spread_sides(n.p05, 10, n.p95),
                        off = spread_sides(9, 10, 13);
    check_near(n.p75, 10 + 2 * 0.6745, 1e-4);
    check_near(n.p95, 10 + 2 * 1.6449, 1e-4);
    check_near(n.p005, 10 - 2 * 2.5758, 1e-4);
    check_near(both.p25, n.p25, 1e-9);
    check_near(both.p995, n.p995, 1e-9);
    check_near(both.sd, 2, 1e-9);
    check_near(off.p25, 10 - 0.6745 / 1.6449, 1e-4);
    check_near(off.p75, 10 + 3 * 0.6745 / 1.6449, 1e-4);
    check_near(off.mean, 10 + 2 / 1.6449 / 2.5066, 1e-4);
    assert_true(off.p005 < off.p05 && off.p05 < off.p25 && off.p95 < off.p995);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ranges), cmocka_unit_test(doubt_follows_the_chain),
        cmocka_unit_test(faults_are_found), cmocka_unit_test(many_statements_and_their_stored_form),
        cmocka_unit_test(numbers_and_words)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
