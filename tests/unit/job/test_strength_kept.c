/* The step "strength" of a made-up making, worked out with the shell runs of the last time and
 * without them: every table, statement and column is the same to the last bit, and fewer runs were
 * made. On coarse nets, with few possible originals. */
#include "made_up_strength.h"

enum { PARTS = 3 };

static void fill(struct part *p) {
    p[0] = blank(PART_SHEET, "sheet");
    p[0].taxon = "Tilia";
    p[0].points = (struct tuples){4, 2, (double *)corners};
    p[0].length = 200, p[0].width = 100, p[0].thickness = 3;
    for (int i = 1; i < 3; i++) {
        p[i] = blank(PART_LATH, i == 1 ? "lath.1" : "lath.2");
        p[i].x = i == 1 ? -40 : 40, p[i].y = 0;
        p[i].length = 80, p[i].width = 20, p[i].thickness = 2;
        p[i].holding = HOLDING_POCKET;
    }
}

/* The only cell that may differ: how many runs were kept. Returns their sum. */
static int take_kept(const struct answer *a) {
    json_t *rows = json_object_get(json_object_get(json_object_get(a->run.result, "tables"), "fit"),
                                   "rows"),
           *row;
    int sum = 0;
    size_t i;
    json_array_foreach(rows, i, row) {
        sum += (int)json_integer_value(json_array_get(row, 2));
        json_array_set_new(row, 2, json_null());
    }
    return sum;
}

static void same_columns(const struct answer *a, const struct answer *b) {
    assert_int_equal(num_rows_columns(a->rows), num_rows_columns(b->rows));
    for (size_t c = 0; c < num_rows_columns(a->rows); c++) {
        assert_string_equal(num_rows_id(a->rows, c), num_rows_id(b->rows, c));
        assert_memory_equal(num_rows_values(a->rows, c), num_rows_values(b->rows, c),
                            ORIGINALS * sizeof(double));
    }
}

static void same_statements(const struct answer *a, const struct answer *b) {
    size_t n = statement_count(a->run.said);
    assert_true(n > 8);
    assert_int_equal(n, statement_count(b->run.said));
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(a->run.said, i), *t = statement_at(b->run.said, i);
        assert_string_equal(s->id, t->id);
        assert_string_equal(s->sentence, t->sentence);
        assert_memory_equal(&s->value, &t->value, sizeof s->value);
    }
}

static void kept_or_not(void **state) {
    (void)state;
    struct part parts[PARTS];
    fill(parts);
    struct making making = {.id = "m", .weight = 1};
    const struct makings all = {&making, 1, parts, PARTS, NULL, 0};
    struct answer first, again;
    work_out(&first, &all, NULL);
    work_out(&again, &all, first.run.result);
    int none = take_kept(&first), kept = take_kept(&again);
    check_note("%d shell runs kept, %d the first time", kept, none);
    assert_int_equal(none, 0);
    assert_true(kept >= 6 * 28); /* five ways of building and the sweeps */
    assert_true(json_equal(first.run.result, again.run.result));
    same_columns(&first, &again);
    /* in the hand: thickness over the diameter of the middle, in percent */
    const double *strain =
                     num_rows_values(first.rows, num_rows_find(first.rows, "strength.flattening")),
                 *t = num_rows_values(first.rows,
                                      num_rows_find(first.rows, "guess.size.sheet.thickness")),
                 *stem = num_rows_values(first.rows, num_rows_find(first.rows, "stem.radius"));
    for (size_t i = 0; i < ORIGINALS; i++)
        check_rel(strain[i], 100 * t[i] / (2 * stem[i] - t[i]), 1e-9);
    same_statements(&first, &again);
    let_go(&first);
    let_go(&again);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(kept_or_not)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
