/* What pieces and measures are taken for. */
#include "remains/classify.h"

#include "check.h"

static struct piece piece_of(const char *part, const char *taxon, long substance) {
    struct piece p;
    field_unknown(&piece_kind, &p);
    p.id = "X1";
    p.part = part;
    p.taxon = taxon;
    p.substance = substance;
    return p;
}

static void words(void **state) {
    (void)state;
    struct piece barks[] = {piece_of("bark sheet", "Tilia", SUBSTANCE_BARK),
                            piece_of("bark sheet", "Tilia cordata", SUBSTANCE_BARK),
                            piece_of("bark sheet", "Betula", SUBSTANCE_BARK)};
    struct find f = {.pieces = barks, .piece_count = 3};
    char word[40];
    struct piece p = piece_of("cross lath", "Corylus avellana", SUBSTANCE_SPLIT_WOOD);
    remains_material_word(&f, &p, word, sizeof word);
    assert_string_equal(word, "corylus");
    remains_part_word(&p, word, sizeof word);
    assert_string_equal(word, "lath");
    remains_material_word(&f, &barks[1], word, sizeof word);
    assert_string_equal(word, "bark"); /* the one most barks are of */
    remains_material_word(&f, &barks[2], word, sizeof word);
    assert_string_equal(word, "bark_betula");
    p = piece_of("photo-only: side rod end", NULL, SUBSTANCE_ROUND_WOOD);
    remains_part_word(&p, word, sizeof word);
    assert_string_equal(word, "photo_only_side_rod_end");
    remains_material_word(&f, &p, word, sizeof word);
    assert_string_equal(word, "wood");
    p = piece_of("odd thing (two parts)", NULL, SUBSTANCE_COLOUR);
    remains_part_word(&p, word, sizeof word);
    assert_string_equal(word, "odd_thing");
    remains_material_word(&f, &p, word, sizeof word);
    assert_string_equal(word, "");
}

static void round_rods(void **state) {
    (void)state;
    struct piece p = piece_of("rim rod (half-round)", "Corylus", SUBSTANCE_SPLIT_WOOD);
    check_near(remains_roundness(&p), 0.5, 0);
    p = piece_of("side rod", "Corylus", SUBSTANCE_ROUND_WOOD);
    p.material = "Corylus avellana (whole rod)";
    check_near(remains_roundness(&p), 1, 0);
    p = piece_of("cross lath", "Corylus", SUBSTANCE_SPLIT_WOOD);
    assert_true(isnan(remains_roundness(&p)));
}

static void directions(void **state) {
    (void)state;
    struct piece lath = piece_of("cross lath", "Corylus", SUBSTANCE_SPLIT_WOOD);
    struct piece sheet = piece_of("bark sheet", "Tilia", SUBSTANCE_BARK);
    struct measure m;
    field_unknown(&measure_kind, &m);
    m.quantity = QUANTITY_WIDTH;
    assert_int_equal(remains_axis_of(&lath, &m), AXIS_ACROSS);
    assert_int_equal(remains_axis_of(&sheet, &m), AXIS_PLANE);
    assert_true(remains_is_complete(&lath, &m));
    assert_false(remains_is_complete(&sheet, &m)); /* torn all round unless its edges are told */
    m.direction = DIRECTION_AROUND;
    assert_int_equal(remains_axis_of(&lath, &m), AXIS_AROUND);
    m.direction = FIELD_UNKNOWN;
    m.quantity = QUANTITY_LENGTH;
    assert_int_equal(remains_axis_of(&lath, &m), AXIS_ALONG);
    assert_false(remains_is_complete(&lath, &m)); /* nobody described an end */
    long whole[] = {END_WHOLE, END_WHOLE}, broken[] = {END_WHOLE, END_BROKEN};
    m.end_kinds = (struct ints){2, whole};
    assert_true(remains_is_complete(&lath, &m));
    m.end_kinds.v = broken;
    assert_false(remains_is_complete(&lath, &m));
    m.quantity = QUANTITY_THICKNESS;
    m.end_kinds.n = 0;
    assert_int_equal(remains_axis_of(&sheet, &m), AXIS_THROUGH);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(words), cmocka_unit_test(round_rods),
                                       cmocka_unit_test(directions)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
