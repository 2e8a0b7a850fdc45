/* making: parts and rules of a making completed from a plain rectangle, where every number can be
 * worked out by hand. */
#include "making/complete.h"

#include "check.h"

static struct piece piece(const char *id, const char *part) {
    struct piece p;
    field_unknown(&piece_kind, &p);
    p.id = id;
    p.part = part;
    p.taxon = "Corylus avellana";
    return p;
}

static void put(struct statement_set *said, const char *id, double value) {
    struct statement s = statement_blank();
    s.id = id;
    s.sentence = "A size.";
    s.value = spread_exact(value);
    s.footing = FOOTING_SEEN;
    assert_int_equal(statement_add(said, &s, NULL), 0);
}

static double rectangle[] = {-250, -150, 250, -150, 250, 150, -250, 150};

static void a_rectangle_with_five_laths(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct piece pieces[] = {piece("A", "cross lath"), piece("B", "rim rod"),
                             piece("C", "bark sheet"), piece("D", "lath spacing (shadows)")};
    struct measure spacing;
    field_unknown(&measure_kind, &spacing);
    spacing.id = "D.pitch";
    spacing.piece = "D";
    spacing.quantity = QUANTITY_PITCH;
    spacing.value = 80;
    struct find find = {
        .pieces = pieces, .piece_count = 4, .measures = &spacing, .measure_count = 1};
    struct statement_set *said = statement_set_new(a);
    put(said, "lath.count", 5);
    put(said, "lath.length.fresh", 280);
    put(said, "lath.width.fresh", 26);
    put(said, "rim.pitch.fresh", 20);
    put(said, "rim.width.fresh", 14);
    put(said, "rim.thickness.fresh", 7);
    struct making_basis basis = {&find, said, {4, 2, rectangle}, 70};
    struct makings m;
    struct error err = {0};
    check_ok(making_complete(&m, &basis, a, &err), &err);
    assert_string_equal(makings_leading(&m)->id, "proposed");
    const struct part *lath = makings_part(&m, "proposed", PART_LATH, NULL);
    check_near(lath->x, -160, 1e-9);
    check_near(lath->length, 280, 1e-9); /* 300 less twice an inset of 10 */
    check_near(lath->width, 26, 0);
    int laths = 0;
    for (const struct part *p = lath; p; p = makings_part(&m, "proposed", PART_LATH, p))
        laths++;
    assert_int_equal(laths, 5);
    const struct part *rim = makings_part(&m, "proposed", PART_RIM, NULL);
    check_near(rim->length, 1600 + 6 * 7, 1e-9);
    const struct part *tie = makings_part(&m, "proposed", PART_TIE, NULL);
    assert_int_equal(tie->count, 80);
    struct texts faults;
    check_ok(statement_faults(&faults, said, a, &err), &err);
    for (size_t i = 0; i < faults.n; i++)
        if (strncmp(faults.v[i], "making.", 7) == 0 && !strstr(faults.v[i], "nothing named"))
            fail_msg("%s", faults.v[i]);
    arena_free(a);
}

static struct mark crossing(const char *id, const char *over, const char *under) {
    struct mark m;
    field_unknown(&mark_kind_kind, &m);
    m.id = id;
    m.kind = MARK_CROSSING;
    m.over = over;
    m.under = under;
    return m;
}

static long number_of(const struct makings *m, const char *id) {
    for (size_t i = 0; i < m->step_count; i++)
        if (strcmp(m->steps[i].id, id) == 0) return m->steps[i].number;
    return -1;
}

/* Usual practice has the laths in before the rim is bound; a lath that lies over the binding says
 * otherwise, and two crossings that contradict one another change nothing and are told. */
static void crossings_order_the_work(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct error err = {0};
    struct piece pieces[] = {piece("A", "cross lath"), piece("B", "rim rod"),
                             piece("C", "bark sheet"), piece("D", "bast binding")};
    struct mark marks[] = {crossing("m1", "cross lath", "bast binding"),
                           crossing("m2", "bast binding", "cross lath")};
    for (size_t n = 0; n <= 2; n++) {
        struct find find = {.pieces = pieces, .piece_count = 4, .marks = marks, .mark_count = n};
        struct statement_set *said = statement_set_new(a);
        put(said, "lath.count", 3);
        put(said, "rim.pitch.fresh", 20);
        struct making_basis basis = {&find, said, {4, 2, rectangle}, 70};
        struct makings m;
        check_ok(making_complete(&m, &basis, a, &err), &err);
        long insert = number_of(&m, "insert"), bind = number_of(&m, "bind");
        assert_true(insert > 0 && bind > 0);
        assert_true(n == 1 ? bind < insert : insert < bind);
        const struct statement *order = statement_find(said, "making.order");
        assert_non_null(order);
        assert_true((order->caution != NULL) == (n == 2));
        assert_true((statement_find(said, "making.order.bind.insert") != NULL) == (n == 1));
        assert_null(statement_find(said, "making.order.insert.bind"));
    }
    arena_free(a);
}

/* Of two forms the likelier is the proposal, and both carry their share. */
static void rival_forms_share_the_proposal(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct error err = {0};
    struct piece pieces[] = {piece("A", "bark sheet"), piece("B", "coiled ring")};
    struct find find = {.pieces = pieces, .piece_count = 2};
    for (int k = 0; k < 2; k++) {
        double ring = k ? 0.3 : 0.8;
        struct statement_set *said = statement_set_new(a);
        put(said, "coil.cone.edge", 50);
        put(said, "coil.cone.rounds", 9);
        put(said, "coil.ring.radius", 60);
        struct statement form = statement_blank();
        form.id = "coil.form";
        form.sentence = "A ring.";
        form.footing = FOOTING_GUESSED;
        form.probability = ring;
        assert_int_equal(statement_add(said, &form, NULL), 0);
        struct making_basis basis = {&find, said, {4, 2, rectangle}, 70};
        struct makings m;
        check_ok(making_complete(&m, &basis, a, &err), &err);
        assert_int_equal(m.making_count, 2);
        const struct making *lead = makings_leading(&m);
        assert_string_equal(lead->id, "proposed");
        check_near(lead->weight, fmax(ring, 1 - ring), 1e-12);
        const struct part *centre = makings_part(&m, "proposed", PART_CENTRE, NULL);
        assert_non_null(centre);
        check_near(centre->diameter, k ? 100 : 120, 1e-12);
        const char *rival = k ? "proposed.ring" : "proposed.cone";
        centre = makings_part(&m, rival, PART_CENTRE, NULL);
        assert_non_null(centre);
        check_near(centre->diameter, k ? 120 : 100, 1e-12);
    }
    arena_free(a);
}

/* The longest of two whole laths is taken for the middle one; the others are completed and name no
 * piece. Areas: a
 * band is length times width; dots are their number times the area of one. */
static void laths_and_paint(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct piece pieces[] = {piece("A", "cross lath"), piece("B", "cross lath"),
                             piece("C", "bark sheet"), piece("P", "pigment patch")};
    pieces[2].note = "black dots 4 mm across; 15 mm apart";
    long ends[2] = {END_WHOLE, END_WHOLE};
    struct measure m[3];
    for (int i = 0; i < 3; i++)
        field_unknown(&measure_kind, &m[i]);
    m[0].id = "A.length", m[0].piece = "A", m[0].quantity = QUANTITY_LENGTH, m[0].value = 280;
    m[0].end_kinds = (struct ints){2, ends};
    m[2] = m[0], m[2].id = "B.length", m[2].piece = "B", m[2].value = 270;
    m[1].id = "P.width", m[1].piece = "P", m[1].quantity = QUANTITY_WIDTH, m[1].value = 8;
    struct find find = {.pieces = pieces, .piece_count = 4, .measures = m, .measure_count = 3};
    struct statement_set *said = statement_set_new(a);
    put(said, "lath.count", 5);
    struct making_basis basis = {&find, said, {4, 2, rectangle}, NAN};
    struct makings all;
    struct error err = {0};
    check_ok(making_complete(&all, &basis, a, &err), &err);
    int k = 0;
    for (const struct part *p = NULL; (p = makings_part(&all, "proposed", PART_LATH, p)); k++) {
        assert_int_equal(p->pieces.n, k == 2 ? 1 : 0);
        if (k == 2) assert_string_equal(p->pieces.v[0], "A");
    }
    assert_int_equal(k, 5);
    const struct part *band = makings_part(&all, "proposed", PART_PAINT, NULL),
                      *dots = makings_part(&all, "proposed", PART_PAINT, band);
    check_rel(statement_find(said, "making.paint.area")->value.p50, band->length * 8, 1e-12);
    /* A row parallel to a rectangle's sides, d inside: perimeter less 8 d. */
    check_near(dots->length, 1600 - 8 * (dots->edge_distance + 2), 1e-6);
    assert_int_equal(dots->count, lround(dots->length / 15));
    check_rel(statement_find(said, "making.dots.area")->value.p50, (double)dots->count * M_PI * 4,
              1e-12);
    assert_string_equal(dots->colour, "black");
    arena_free(a);
}

static void no_outline_no_making(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct find find = {0};
    struct making_basis basis = {&find, statement_set_new(a), {0}, NAN};
    struct makings m;
    struct error err = {0};
    assert_int_equal(making_complete(&m, &basis, a, &err), ERR_MISSING);
    assert_true(*err.remedy != 0);
    arena_free(a);
}

static void parts_go_in_and_out_as_json(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct part p, q;
    field_unknown(&part_kind_kind, &p);
    p.id = "lath.1";
    p.making = "proposed";
    p.kind = PART_LATH;
    p.angle = M_PI / 2;
    json_t *j = field_encode(&part_kind_kind, &p);
    check_near(json_number_value(json_object_get(j, "angle")), 90, 1e-9);
    struct error err = {0};
    check_ok(field_decode(&part_kind_kind, j, &q, a, &err), &err);
    check_near(q.angle, M_PI / 2, 1e-12);
    json_decref(j);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_rectangle_with_five_laths),
                                       cmocka_unit_test(crossings_order_the_work),
                                       cmocka_unit_test(rival_forms_share_the_proposal),
                                       cmocka_unit_test(laths_and_paint),
                                       cmocka_unit_test(no_outline_no_making),
                                       cmocka_unit_test(parts_go_in_and_out_as_json)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
