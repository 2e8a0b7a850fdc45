/* Taking stock, the rough list, refused means, and the methods' own examples. */
#include "base/method.h"
#include "remains/remains_methods.h"
#include "remains/stock_take.h"

#include "finds_list.h"

static struct finds_list tray, cradle;

static int setup(void **state) {
    (void)state;
    finds_list_read(&tray, "demo/tray/finds.csv");
    finds_list_read(&cradle, "demo/cradle/finds.csv");
    return 0;
}
static int teardown(void **state) {
    (void)state;
    finds_list_free(&tray);
    finds_list_free(&cradle);
    return 0;
}

static const struct stock_remark *remark_about(const struct stock_take *s, const char *about) {
    for (size_t i = 0; i < s->remark_count; i++)
        if (strcmp(s->remarks[i].about, about) == 0) return &s->remarks[i];
    fail_msg("no remark about %s", about);
    return NULL;
}

static void stock_of_the_tray(void **state) { /* story 1 */
    (void)state;
    struct stock_take s;
    struct error err = {0};
    struct statement_set *said = statement_set_new(tray.arena);
    check_ok(remains_stock_take(&s, &tray.find, said, tray.arena, &err), &err);
    assert_int_equal(s.rows, 42);
    assert_int_equal(s.shape_only, 1);
    remark_about(&s, "A42");
    assert_non_null(strstr(remark_about(&s, "lath")->what, "no sum and no mean"));
    double laths = 0;
    bool treated = false, dried = false, ground = false;
    for (size_t i = 0; i < s.line_count; i++) {
        const struct stock_line *l = &s.lines[i];
        treated |= strcmp(l->state, "after treatment") == 0;
        dried |= strcmp(l->state, "dried before treatment") == 0;
        ground |= strcmp(l->state, "in ground") == 0;
        if (strcmp(l->part, "lath") == 0) laths += l->length;
    }
    assert_true(treated && dried && ground);
    check_near(laths, 1595, 0.01);
    assert_non_null(statement_find(said, "A42.shape_only"));
    struct texts faults;
    check_ok(statement_faults(&faults, said, tray.arena, &err), &err);
    assert_int_equal(faults.n, 0);
}

static void second_reading_is_no_piece(void **state) {
    (void)state;
    struct stock_take s;
    struct error err = {0};
    check_ok(remains_stock_take(&s, &cradle.find, NULL, cradle.arena, &err), &err);
    assert_int_equal(s.rows, 38);
    assert_int_equal(s.pieces, 37);
    assert_int_equal(s.second_readings, 1);
    remark_about(&s, "B37");
}

static void rough_list(void **state) {
    (void)state;
    struct shopping s;
    struct error err = {0};
    struct statement_set *said = statement_set_new(tray.arena);
    check_ok(remains_shopping(&s, &tray.find, said, tray.arena, &err), &err);
    bool lath = false, sheet = false;
    for (size_t i = 0; i < s.line_count; i++) {
        const struct shopping_line *l = &s.lines[i];
        if (strcmp(l->part, "lath") == 0) {
            lath = true;
            assert_int_equal(l->number_low, 5);
            assert_int_equal(l->number_high, 7);
            assert_true(l->width_low < 26 && l->width_high > 26);
        }
        if (strcmp(l->part, "sheet") == 0) sheet = true;
        assert_non_null(l->guess);
    }
    assert_true(lath && sheet);
    struct texts faults;
    check_ok(statement_faults(&faults, said, tray.arena, &err), &err);
    assert_int_equal(faults.n, 0);
    json_t *t = remains_shopping_table(&s);
    assert_int_equal(json_array_size(json_object_get(t, "rows")), s.line_count);
    json_decref(t);
}

static void means(void **state) { /* story 1: refused across states, with the reason */
    (void)state;
    struct mean_size out;
    struct error err = {0};
    const struct measure *v[] = {find_measure(&tray.find, "A01.width"),
                                 find_measure(&tray.find, "A02.width"),
                                 find_measure(&tray.find, "A05.width")};
    check_ok(remains_mean(&out, &tray.find, v, 2, &err), &err);
    check_near(out.mean, 25.25, 1e-9);
    assert_int_equal(remains_mean(&out, &tray.find, v, 3, &err), ERR_REFUSED);
    assert_non_null(strstr(err.message, "never averaged"));
    assert_non_null(strstr(err.remedy, "fresh"));
    const struct measure *broken[] = {find_measure(&tray.find, "A01.length")};
    assert_int_equal(remains_mean(&out, &tray.find, broken, 1, &err), ERR_REFUSED);
    const struct measure *scaleless[] = {find_measure(&tray.find, "A42.width")};
    assert_int_equal(remains_mean(&out, &tray.find, scaleless, 1, &err), ERR_REFUSED);
}

static json_t *run(const char *name, const char *input, int want) {
    struct error err = {0};
    for (size_t i = 0; i < remains_methods.n; i++) {
        const struct method *m = remains_methods.v[i];
        if (strcmp(m->name, name) != 0) continue;
        json_t *in = json_loads(input ? input : m->example, 0, NULL), *out = NULL;
        assert_non_null(in);
        assert_int_equal(method_run(&out, m, in, &err), want);
        json_decref(in);
        return out;
    }
    fail_msg("no method %s", name);
    return NULL;
}
static double number(const json_t *o, const char *key) {
    return json_number_value(json_object_get(o, key));
}

static void methods(void **state) {
    (void)state;
    for (size_t i = 0; i < remains_methods.n; i++)
        json_decref(run(remains_methods.v[i]->name, NULL, 0));
    json_t *o = run("undo-by-reading", NULL, 0); /* story 2: 21.6 (21.0 to 22.2) */
    check_near(number(o, "fresh"), 21.6, 0.05);
    check_near(number(o, "low"), 21.0, 0.1);
    check_near(number(o, "high"), 22.2, 0.1);
    check_near(number(o, "raw"), 20.5, 1e-9);
    json_decref(o);
    /* Wood's figure is not offered to bark. */
    run("undo-by-reading",
        "{\"first\":22,\"first_pm\":0.1,\"second\":20.9,\"second_pm\":0.1,\"reading\":60,"
        "\"reading_pm\":1,\"from_substance\":\"split wood\",\"to_substance\":\"bark\","
        "\"from_taxon\":\"Salix\",\"to_taxon\":\"Betula\"}",
        ERR_REFUSED);
    run("mean-size",
        "{\"readings\":[{\"value\":25,\"state\":\"after treatment\"},"
        "{\"value\":22,\"state\":\"dried before treatment\"}]}",
        ERR_REFUSED);
    run("part-length", "{\"whole\":[],\"minimums\":[100]}", ERR_MISSING);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stock_of_the_tray), cmocka_unit_test(second_reading_is_no_piece),
        cmocka_unit_test(rough_list), cmocka_unit_test(means), cmocka_unit_test(methods)};
    return cmocka_run_group_tests(tests, setup, teardown);
}
