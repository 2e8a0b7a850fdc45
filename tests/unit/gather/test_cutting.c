/* cutting: odd inputs, short stock, several lengths. */
#include "gather/cutting.h"

#include "check.h"

static struct cut_plan plan;
static struct error err;

static int cut(const struct cut_piece *p, size_t n, const struct cut_stock *s, size_t m,
               double kerf, struct arena *a) {
    error_clear(&err);
    return gather_cut(&plan, p, n, s, m, kerf, a, &err);
}

static void short_stock_is_told_not_refused(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct cut_piece p[] = {{"long", 900, 3}};
    struct cut_stock s[] = {{"pole", 1000, 2}};
    check_ok(cut(p, 1, s, 1, 3, a), &err);
    assert_false(plan.complete);
    assert_int_equal(plan.missing[0], 1);
    assert_int_equal(plan.used, 2);
    assert_int_equal(plan.first_fit, -1);
    arena_free(a);
}

static void the_kerf_counts_between_pieces_only(void **state) {
    (void)state;
    struct arena *a = arena_new();
    /* 3 x 330 + 2 cuts of 5 = 1000: fits exactly; three cuts would not. */
    struct cut_piece p[] = {{"x", 330, 3}};
    struct cut_stock s[] = {{"pole", 1000, -1}};
    check_ok(cut(p, 1, s, 1, 5, a), &err);
    assert_int_equal(plan.used, 1);
    arena_free(a);
}

static void chooses_the_shorter_stock(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct cut_piece p[] = {{"x", 500, 2}, {"y", 300, 1}};
    struct cut_stock s[] = {{"long", 2000, 5}, {"short", 1310, 5}};
    check_ok(cut(p, 2, s, 2, 4, a), &err);
    assert_int_equal(plan.used, 1);
    check_near(plan.used_length, 1310, 0);
    check_near(plan.pattern[0].waste, 10, 1e-9);
    arena_free(a);
}

static void bad_input_is_refused_with_the_reason(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct cut_stock s[] = {{"pole", 1000, -1}};
    struct cut_piece too_long[] = {{"rim", 1428, 1}};
    assert_int_equal(cut(too_long, 1, s, 1, 0, a), ERR_REFUSED);
    assert_non_null(strstr(err.message, "1428"));
    assert_non_null(strstr(err.remedy, "scarf"));
    struct cut_piece none[] = {{"x", 0, 1}};
    assert_int_equal(cut(none, 1, s, 1, 0, a), ERR_RANGE);
    struct cut_piece nan_piece[] = {{"x", NAN, 1}};
    assert_int_equal(cut(nan_piece, 1, s, 1, 0, a), ERR_RANGE);
    assert_int_equal(cut(too_long, 0, s, 1, 0, a), ERR_RANGE);
    struct cut_piece fine[] = {{"x", 10, 0}};
    check_ok(cut(fine, 1, s, 1, 0, a), &err);
    assert_int_equal(plan.used, 0);
    assert_true(plan.complete);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(short_stock_is_told_not_refused),
                                       cmocka_unit_test(the_kerf_counts_between_pieces_only),
                                       cmocka_unit_test(chooses_the_shorter_stock),
                                       cmocka_unit_test(bad_input_is_refused_with_the_reason)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
