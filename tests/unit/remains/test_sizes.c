/* The sizes stage on the two demo lists: user stories 1, 2, 4, 9 and 10 with their numbers. */
#include "remains/sizes.h"

#include "finds_list.h"

struct world {
    struct finds_list list;
    struct num_rows *rows;
    struct statement_set *said;
    struct sizes sizes;
};

static void world_make(struct world *w, const char *name, uint64_t seed) {
    struct error err = {0};
    finds_list_read(&w->list, name);
    check_ok(num_rows_new(&w->rows, 0, seed, &err), &err);
    w->said = statement_set_new(w->list.arena);
    check_ok(remains_sizes(&w->sizes, &w->list.find, w->rows, w->said, w->list.arena, &err), &err);
}
static void world_free(struct world *w) {
    num_rows_free(w->rows);
    finds_list_free(&w->list);
}
static const struct statement *said(const struct world *w, const char *id) {
    const struct statement *s = statement_find(w->said, id);
    if (!s) fail_msg("nothing is said under %s", id);
    return s;
}

static struct world tray, cradle;

static int setup(void **state) {
    (void)state;
    world_make(&tray, "demo/tray/finds.csv", 1);
    world_make(&cradle, "demo/cradle/finds.csv", 1);
    return 0;
}
static int teardown(void **state) {
    (void)state;
    world_free(&tray);
    world_free(&cradle);
    return 0;
}

static void whole(const struct world *w) {
    struct error err = {0};
    struct texts faults;
    check_ok(statement_faults(&faults, w->said, w->list.arena, &err), &err);
    if (faults.n) fail_msg("%s", faults.v[0]);
    /* Every statement named in a chain is said. */
    for (size_t i = 0; i < statement_count(w->said); i++) {
        const struct statement *s = statement_at(w->said, i);
        const struct statement_link *l = s->rests_on.v;
        for (size_t k = 0; k < s->rests_on.n; k++)
            if (strcmp(l[k].kind, "statement") == 0) said(w, l[k].id);
    }
}

static void argument_is_whole(void **state) {
    (void)state;
    whole(&tray);
    whole(&cradle);
}

static void story_1(void **state) { /* take stock of the tray */
    struct world *w = &tray;
    (void)state;
    assert_int_equal(said(w, "lath.count.ends")->value.p50, 4);
    assert_int_equal(said(w, "lath.count.length")->value.p50, 5);
    assert_int_equal(said(w, "lath.count.spacing")->value.p50, 7);
    const struct statement *count = said(w, "lath.count");
    assert_true(count->value.p05 < count->value.p95); /* never one number alone */
    assert_true(count->value.p005 >= 5);
    assert_non_null(strstr(count->caution, "1595 mm"));
    const struct part_count *c = NULL;
    for (size_t i = 0; i < w->sizes.count_count; i++)
        if (strcmp(w->sizes.counts[i].part, "lath") == 0) c = &w->sizes.counts[i];
    assert_non_null(c);
    check_near(c->total_raw, 1595, 0.01);
    check_rel(c->total_fresh, 1595, 0.03); /* along the grain the difference is small */
    assert_true(c->total_fresh > 1600);
    assert_true(said(w, "A42.length.shape")->value.p50 != said(w, "A42.length.shape")->value.p50);
    assert_null(statement_find(w->said, "A42.length.fresh"));
    assert_non_null(said(w, "lath.width.mean")->caution); /* refused */
    assert_true(isnan(said(w, "lath.width.mean")->value.p50));
}

static void story_4(void **state) { /* the object's own ruler */
    struct world *w = &tray;
    (void)state;
    const struct statement *e = said(w, "ruler.rim.pitch.E"), *west = said(w, "ruler.rim.pitch.W");
    check_near(e->value.p50, 12, 0.5);
    check_near(e->value.p05, 10, 0.5);
    check_near(e->value.p95, 14, 0.5);
    check_near(west->value.p50, 1, 0.5);
}

static void story_2(void **state) { /* undo the treatment */
    struct world *w = &cradle;
    (void)state;
    check_near(said(w, "B04.width.loss")->value.p50, 5.0, 0.05);
    assert_non_null(strstr(said(w, "B04.thickness.loss")->caution, "too coarse to use"));
    assert_non_null(strstr(said(w, "B04.thickness.loss")->rule, "6.0 ± 3.4 %"));
    assert_null(said(w, "B04.width.loss")->caution);
    assert_non_null(strstr(said(w, "B04.width.loss")->rule, "5.0 ± 0.6 %"));
    const struct statement *b01 = said(w, "B01.width.fresh");
    check_near(b01->value.p50, 21.6, 0.1);
    check_near(b01->value.p05, 21.0, 0.1);
    check_near(b01->value.p95, 22.2, 0.1);
    check_near(b01->raw, 20.5, 1e-9);
    assert_string_equal(b01->raw_state, "after freeze-drying");
    const struct statement *dry = said(w, "B01.width.dry");
    assert_true(dry->value.p50 < b01->value.p50);
    assert_non_null(strstr(said(w, "offer.B04.sheet")->rule, "never used for bark"));
    for (size_t i = 0; i < w->sizes.withheld_count; i++) /* offered to willow in the same state */
        assert_true(strcmp(w->sizes.withheld[i].to, "B01") != 0);
}

static void own_ruler_of_birch(void **state) { /* about 4 %, not 16 (trade notes 9, set B) */
    struct world *w = &cradle;
    (void)state;
    const struct alteration *foot =
        remains_alteration(&w->sizes, "bark", "foot", AXIS_PLANE, "dried");
    const struct alteration *head = remains_alteration(&w->sizes, "bark", "head", AXIS_PLANE, NULL);
    assert_non_null(foot);
    assert_non_null(head);
    double more = 100 * (foot->loss.p50 - head->loss.p50);
    assert_true(more > 1.5 && more < 5);
    assert_true(foot->loss.p95 < 0.08);
}

static void story_9(void **state) { /* never averaged */
    struct world *w = &cradle;
    (void)state;
    for (size_t i = 0; i < statement_count(w->said); i++) {
        const struct statement *s = statement_at(w->said, i);
        if (s->unit && strcmp(s->unit, "mm") == 0 && s->about && strstr(s->about, "guard"))
            assert_false(fabs(s->value.p50 - 82.7) < 0.5);
    }
    said(w, "B26.chord.fresh");
    said(w, "B26.rise.fresh");
    said(w, "B28.chord.fresh");
    said(w, "B28.rise.fresh");
}

static void story_10(void **state) { /* a bar of unmarked unit, and no bar */
    struct world *w = &cradle;
    (void)state;
    const struct statement *either = said(w, "B35.length.either");
    check_near(either->value.p50, 164, 0.5);
    check_near(0.5 * (either->value.p95 - either->value.p05), 7, 0.5);
    assert_non_null(strstr(either->rule, "163.0 or 165.6 mm"));
    assert_non_null(strstr(either->rule, "1.6 %"));
    assert_non_null(either->caution); /* the flag */
    assert_null(statement_find(w->said, "B36.length.fresh"));
    assert_true(isnan(said(w, "B36.length.shape")->value.p50));
    const struct statement *hint = said(w, "B36.length.hint");
    assert_int_equal(hint->footing, FOOTING_WORKED_OUT);
    check_near(hint->value.p05, 66, 0.5);
    check_near(hint->value.p95, 79, 0.5);
}

/* Two readings that contradict each other beyond their ± stand side by side, with a note of the
 * other, and enter no part's size. */
static void contradiction(void **state) {
    (void)state;
    struct world w;
    struct error err = {0};
    finds_list_read(&w.list, "demo/tray/finds.csv");
    struct find *f = &w.list.find;
    struct measure rival = *find_measure(f, "A04.width");
    rival.id = "A04.width.2";
    rival.value = 29;
    rival.rival_of = "A04.width";
    f->measures[f->measure_count++] = rival;
    check_ok(num_rows_new(&w.rows, 512, 1, &err), &err);
    w.said = statement_set_new(w.list.arena);
    check_ok(remains_sizes(&w.sizes, f, w.rows, w.said, w.list.arena, &err), &err);
    assert_non_null(strstr(said(&w, "A04.width.fresh")->rival, "29 mm"));
    assert_non_null(strstr(said(&w, "A04.width.2.fresh")->rival, "25.5 mm"));
    assert_false(remains_measure_size(&w.sizes, "A04.width")->in_part);
    assert_false(remains_measure_size(&w.sizes, "A04.width.2")->in_part);
    world_free(&w);
}

/* A slip of the pen among many readings is kept out, and kept. */
static void outlier(void **state) {
    (void)state;
    struct world w;
    struct error err = {0};
    finds_list_read(&w.list, "demo/tray/finds.csv");
    struct find *f = &w.list.find;
    for (size_t i = 0; i < f->measure_count; i++)
        if (strcmp(f->measures[i].id, "A07.width") == 0) f->measures[i].value = 2.2; /* in cm */
    check_ok(num_rows_new(&w.rows, 512, 1, &err), &err);
    w.said = statement_set_new(w.list.arena);
    check_ok(remains_sizes(&w.sizes, f, w.rows, w.said, w.list.arena, &err), &err);
    assert_true(remains_measure_size(&w.sizes, "A07.width")->held);
    assert_non_null(said(&w, "A07.width.fresh")->caution);
    assert_true(said(&w, "lath.width.fresh")->value.p05 > 24);
    world_free(&w);
}

/* The columns of one reading agree with what is said of it. */
static void columns_of_a_reading(void **state) {
    struct world *w = &tray;
    (void)state;
    struct error err = {0};
    static const char *const ids[] = {"A01.width", "A01.thickness", "A12.length",
                                      "A30.round_pitch"};
    for (int i = 0; i < 4; i++) {
        const struct measure_size *m = remains_measure_size(&w->sizes, ids[i]);
        size_t fresh, dry;
        assert_non_null(m);
        check_ok(remains_measure_columns(&fresh, &dry, &w->sizes, &w->list.find, w->rows, m,
                                         w->list.arena, &err),
                 &err);
        check_rel(num_rows_quantile(w->rows, fresh, 0.5), m->fresh.p50, 0.006);
        check_rel(num_rows_quantile(w->rows, fresh, 0.95), m->fresh.p95, 0.02);
        check_rel(num_rows_quantile(w->rows, dry, 0.5), m->dry.p50, 0.01);
    }
    size_t col, other;
    const struct piece *p = find_piece(&w->list.find, "A15");
    const struct measure *m = find_measure(&w->list.find, "A15.pitch");
    check_ok(remains_factor(&col, &w->sizes, &w->list.find, w->rows, p, m, AXIS_AROUND,
                            w->list.arena, &err),
             &err);
    check_ok(remains_factor(&other, &w->sizes, &w->list.find, w->rows, p, m, AXIS_ALONG,
                            w->list.arena, &err),
             &err);
    assert_string_equal(num_rows_id(w->rows, col), "fresh_factor.bark.E.around.dried");
    assert_true(num_rows_quantile(w->rows, col, 0.5) > num_rows_quantile(w->rows, other, 0.5));
}

/* The same project gives the same bits; another seed the same within Monte Carlo error. */
static void repeatable(void **state) {
    struct world *w = &tray, again, other;
    (void)state;
    world_make(&again, "demo/tray/finds.csv", 1);
    world_make(&other, "demo/tray/finds.csv", 2);
    for (size_t i = 0; i < statement_count(w->said); i++) {
        const struct statement *s = statement_at(w->said, i);
        const struct statement *t = statement_find(again.said, s->id);
        const struct statement *u = statement_find(other.said, s->id);
        assert_memory_equal(&s->value, &t->value, sizeof s->value);
        if (isfinite(s->value.p50))
            check_near(u->value.p50, s->value.p50, 0.12 * s->value.sd + 1e-3 * s->value.p50);
    }
    world_free(&again);
    world_free(&other);
}

/* A find with nothing in it, and one whose pieces cannot be used, are no failure. */
static void nothing_usable(void **state) {
    (void)state;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct num_rows *rows;
    struct sizes s;
    struct piece p;
    struct measure m;
    field_unknown(&piece_kind, &p);
    field_unknown(&measure_kind, &m);
    p.id = m.piece = "X";
    m.id = "X.length";
    m.quantity = QUANTITY_LENGTH;
    m.value = 12;
    struct find f = {0};
    check_ok(num_rows_new(&rows, 256, 1, &err), &err);
    struct statement_set *set = statement_set_new(arena);
    check_ok(remains_sizes(&s, &f, rows, set, arena, &err), &err);
    assert_int_equal(statement_count(set), 0);
    f = (struct find){.pieces = &p, .piece_count = 1, .measures = &m, .measure_count = 1};
    check_ok(remains_sizes(&s, &f, rows, set, arena, &err), &err);
    assert_non_null(statement_find(set, "X.length.measured"));
    m.piece = "not there";
    check_ok(remains_sizes(&s, &f, rows, set, arena, &err), &err);
    num_rows_free(rows);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(argument_is_whole),
                                       cmocka_unit_test(story_1),
                                       cmocka_unit_test(story_2),
                                       cmocka_unit_test(story_4),
                                       cmocka_unit_test(own_ruler_of_birch),
                                       cmocka_unit_test(story_9),
                                       cmocka_unit_test(story_10),
                                       cmocka_unit_test(contradiction),
                                       cmocka_unit_test(outlier),
                                       cmocka_unit_test(columns_of_a_reading),
                                       cmocka_unit_test(repeatable),
                                       cmocka_unit_test(nothing_usable)};
    return cmocka_run_group_tests(tests, setup, teardown);
}
