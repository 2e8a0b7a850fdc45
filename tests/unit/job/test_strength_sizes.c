/* With which sizes the step "strength" works: those of the leading making, new and dry. */
#include "made_up_strength.h"

static struct part sheet_of(double thickness) {
    struct part p = blank(PART_SHEET, "sheet");
    p.taxon = "Tilia";
    p.points = (struct tuples){4, 2, (double *)corners};
    p.length = 200, p.width = 100, p.thickness = thickness;
    return p;
}

static double middle(const struct answer *a, const char *id) {
    const struct statement *s = statement_find(a->run.said, id);
    assert_non_null(s);
    return s->value.p50;
}

static double column_middle(const struct answer *a, const char *id) {
    size_t col = num_rows_find(a->rows, id);
    assert_int_not_equal(col, NUM_NO_COLUMN);
    return num_rows_quantile(a->rows, col, 0.5);
}

static void work(struct answer *a, struct part *sheet, bool known) {
    struct making making = {.id = "m", .weight = 1};
    const struct makings makings = {
        .makings = &making, .making_count = 1, .parts = sheet, .part_count = 1};
    work_out_known(a, &makings, NULL, known);
}

/* A bare sheet weighs its dry volume times its dry density: within the scatter of 64 originals and
 * the stand-in. */
static void weighs_dry(void **state) {
    (void)state;
    struct part sheet = sheet_of(4);
    struct answer a;
    work(&a, &sheet, false);
    const json_t *left = json_object_get(a.run.result, "left");
    assert_int_equal(json_array_size(left), 4);
    double x = json_number_value(json_array_get(left, 0)),
           y = json_number_value(json_array_get(left, 1)),
           through = json_number_value(json_array_get(left, 2));
    assert_true(x < 1 && y < 1 && through < 0.9 && x > y && x > through);
    double dry = 200 * x * 100 * y * 4 * through * column_middle(&a, "bark.density");
    check_rel(middle(&a, "shape.made.weight"), dry, 0.08);
    assert_non_null(statement_find(a.run.said, "strength.dry"));
    let_go(&a);
}

/* A thickness a person enters counts, whatever the finds' own estimate is: the originals scatter
 * about the making's size. */
static void entered_size_counts(void **state) {
    (void)state;
    struct part thin = sheet_of(3), thick = sheet_of(6), dry = sheet_of(3);
    struct answer a, b, c;
    dry.state = STATE_NEW_AND_DRY;
    work(&a, &thin, true);
    work(&b, &thick, true);
    work(&c, &dry, true);
    check_rel(middle(&b, "shape.made.weight") / middle(&a, "shape.made.weight"), 2, 0.05);
    check_rel(middle(&b, "strength.flattening") / middle(&a, "strength.flattening"), 2, 0.05);
    check_rel(column_middle(&c, "made.size.sheet.thickness"), 3, 1e-9);
    assert_true(middle(&c, "shape.made.weight") > 1.1 * middle(&a, "shape.made.weight"));
    let_go(&a);
    let_go(&b);
    let_go(&c);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(weighs_dry),
                                       cmocka_unit_test(entered_size_counts)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
