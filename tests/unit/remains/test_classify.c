/* What the words of a finds list are taken to mean. */
#include "remains/classify.h"

#include "check.h"

static void states_and_ends(void **state) {
    (void)state;
    const char *treatment;
    long day;
    assert_int_equal(remains_state_of("after treatment", &treatment, NULL), STATE_TREATED);
    assert_null(treatment);
    assert_int_equal(remains_state_of("after freeze-drying", &treatment, NULL), STATE_TREATED);
    assert_string_equal(treatment, "freeze-drying");
    assert_int_equal(remains_state_of("dried before treatment", NULL, NULL), STATE_DRIED);
    assert_int_equal(remains_state_of("part-dried", NULL, NULL), STATE_PART_DRIED);
    assert_int_equal(remains_state_of("trial day 12", NULL, &day), STATE_TRIAL_DAY);
    assert_int_equal(day, 12);
    assert_int_equal(remains_state_of("somewhen", NULL, NULL), FIELD_UNKNOWN);
    assert_int_equal(remains_end_of("scarfed 41 mm"), END_WHOLE);
    assert_int_equal(remains_end_of("chamfered 12 mm at 35 deg"), END_WHOLE);
    assert_int_equal(remains_end_of("broken"), END_BROKEN);
    assert_int_equal(remains_end_of("torn"), END_TORN);
    assert_int_equal(remains_end_of("odd"), FIELD_UNKNOWN);
}

static struct piece piece_of(const char *part, const char *material, const char *note,
                             struct arena *arena) {
    struct piece p;
    struct find none = {0};
    struct error err = {0};
    field_unknown(&piece_kind, &p);
    p.id = "X1";
    p.part = part;
    p.material = material;
    p.note = note;
    check_ok(remains_piece_classify(&p, &none, arena, &err), &err);
    return p;
}

static void materials(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct find none = {0};
    char word[40];
    struct piece p = piece_of("cross lath", "Corylus avellana (split rod)", NULL, a);
    assert_int_equal(p.substance, SUBSTANCE_SPLIT_WOOD);
    assert_string_equal(p.taxon, "Corylus avellana");
    remains_material_word(&none, &p, word, sizeof word);
    assert_string_equal(word, "corylus");
    remains_part_word(&p, word, sizeof word);
    assert_string_equal(word, "lath");
    p = piece_of("bark sheet", "Tilia sp.? / Ulmus sp.? bark", NULL, a);
    assert_int_equal(p.substance, SUBSTANCE_BARK);
    assert_string_equal(p.taxon, "Tilia");
    assert_string_equal(p.other_taxon, "Ulmus");
    p = piece_of("coiled ring", "Salix sp. rod foundation; bast stitch", NULL, a);
    assert_int_equal(p.substance, SUBSTANCE_COIL);
    assert_string_equal(p.taxon, "Salix");
    p = piece_of("rim rod (half-round)", "Corylus avellana", NULL, a);
    assert_int_equal(p.substance, SUBSTANCE_ROUND_WOOD);
    check_near(remains_roundness(&p), 0.5, 0);
    p = piece_of("lacing", "animal skin; species not fixed", NULL, a);
    assert_int_equal(p.substance, SUBSTANCE_HIDE);
    p = piece_of("photo-only piece (lost)", "bark?", "no scale in frame; size guessed", a);
    assert_int_equal(p.shape_only, 1);
    p = piece_of("thing", "resin", NULL, a);
    assert_int_equal(p.substance, FIELD_UNKNOWN);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(states_and_ends),
                                       cmocka_unit_test(materials)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
