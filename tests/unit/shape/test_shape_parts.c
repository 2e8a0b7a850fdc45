/* shape: seams, laths, order of work, coils, methods: small exact cases and refusals. */
#include "shape/bend_readings.h"
#include "shape/coil.h"
#include "shape/curve.h"
#include "shape/family.h"
#include "shape/laths.h"
#include "shape/order.h"
#include "shape/seam.h"
#include "shape/seam_stage.h"
#include "shape/shape_methods.h"

#include "check.h"

static void missing_holes_only_where_they_fit(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct error err = {0};
    struct shape_seam s;
    /* 36 is two pitches of 18; 27 is one and a half: nothing is proposed there; 54.9 is 3.05. */
    double gap[] = {18, 18.2, 36, 17.8, 27, 18, 54.9, 18};
    check_ok(shape_seam_spacing(&s, gap, 8, arena, &err), &err);
    check_near(s.pitch, 18.1, 0.15);
    assert_int_equal(s.multiple[2], 2);
    assert_int_equal(s.multiple[4], 0);
    assert_int_equal(s.multiple[6], 3);
    assert_int_equal(s.missing, 3);
    check_near(s.missing_at[0], 18 + 18.2 + 18, 1e-9);
    double zero[] = {18, 0};
    assert_int_equal(shape_seam_spacing(&s, zero, 2, arena, &err), ERR_RANGE);
    arena_free(arena);
}

static void tears_and_sections(void **state) {
    (void)state;
    int torn[] = {0, 1, 1, 1, 0, 1, 1};
    size_t first[7], count[7];
    assert_int_equal(shape_seam_torn(first, count, torn, 7, 3), 1);
    assert_int_equal(first[0], 1);
    assert_int_equal(count[0], 3);
    /* Story 4: 2.8 in 18.0: 0.84; at 9 mm pitch 0.69, under 0.75. */
    check_near(shape_seam_net_section(2.8, 18), 0.84, 0.005);
    check_near(shape_seam_net_section(2.8, 9), 0.69, 0.005);
}

/* A row that tore, of which nobody noted which holes: all of them, some of them, too few to say. */
static void torn_rows_by_number(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct error err = {0};
    static const struct {
        double torn, holes;
        const char *words;
    } rows[] = {{3, 3, "holes 1 to 3"}, {4, 5, "4 of its 5 holes, which ones"}, {2, 5, NULL}};
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        const struct shape_seam_find row = {.id = "B.pitch",
                                            .name = "B",
                                            .pitch = 20,
                                            .holes = rows[k].holes,
                                            .u = 1,
                                            .torn_holes = rows[k].torn,
                                            .torn_mark = "B.tear"};
        struct shape_seam_input in = {1, &row, NAN, NAN, "after treatment"};
        struct statement_set *said = statement_set_new(arena);
        check_ok(shape_seam_stage(&in, said, arena, &err), &err);
        const struct statement *s = statement_find(said, "seam.B.torn");
        assert_true((s != NULL) == (rows[k].words != NULL));
        if (!s) continue;
        assert_non_null(strstr(s->sentence, rows[k].words));
        assert_int_equal(s->rests_on.n, 2); /* the mark and the reading */
    }
    arena_free(arena);
}

static void seams_as_statements(void **state) {
    (void)state;
    /* Story 4, set A, east: sheets A15, A16 (torn over its 3 holes), A18; rods A23, A24. */
    static const int torn[] = {1, 1, 1};
    struct shape_seam_find row[] = {
        {.id = "A15.pitch", .zone = "E", .pitch = 16.1, .holes = 6, .u = 1, .hole = 2.5},
        {.id = "A16.pitch",
         .zone = "E",
         .pitch = 15.4,
         .holes = 3,
         .u = 1,
         .hole = 2.5,
         .n_torn = 3,
         .torn = torn},
        {.id = "A18.pitch", .zone = "E", .pitch = 15.6, .holes = 2, .u = 1, .hole = 2.5},
        {.id = "A23.pitch", .zone = "E", .rod = true, .pitch = 18.0, .holes = 7, .u = 0.5},
        {.id = "A24.pitch", .zone = "E", .rod = true, .pitch = 17.9, .holes = 3, .u = 0.5},
    };
    struct shape_seam_input in = {5, row, 1428, 20, "dried before treatment"};
    struct arena *arena = arena_new();
    struct statement_set *said = statement_set_new(arena);
    struct error err = {0};
    check_ok(shape_seam_stage(&in, said, arena, &err), &err);
    const struct statement *s = statement_find(said, "seam.shrink.E");
    assert_non_null(s);
    check_near(s->value.p50, 12, 0.5); /* percent, 10 to 14 */
    check_near(s->value.p05, 10, 0.5);
    check_near(s->value.p95, 14, 0.5);
    assert_int_equal(s->rests_on.n, 5);
    s = statement_find(said, "seam.A16.pitch.torn");
    assert_non_null(s);
    assert_non_null(strstr(s->sentence, "holes 1 to 3"));
    s = statement_find(said, "seam.A15.pitch.section");
    check_near(s->value.p50, 100 * (1 - 2.5 / 16.1), 1e-10);
    assert_null(s->caution);
    assert_non_null(statement_find(said, "seam.count"));
    struct texts faults;
    check_ok(statement_faults(&faults, said, arena, &err), &err);
    for (size_t i = 0; i < faults.n; i++)
        fail_msg("%s", faults.v[i]);
    arena_free(arena);
}

static void order_of_work(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct error err = {0};
    struct shape_order o;
    struct shape_order_crossing c[] = {{"sheet", "rim", "A13"},
                                       {"rim", "bast", "A26"},
                                       {"sheet", "bast", "A29"},
                                       {"sheet", "lath", "A12"}};
    check_ok(shape_order_work(&o, c, 4, arena, &err), &err);
    assert_int_equal(o.n, 4);
    assert_string_equal(o.step[0].name, "sheet");
    assert_int_equal(o.n_needed, 3);   /* sheet before bast follows from the others */
    assert_int_equal(o.open_pairs, 2); /* lath against rim and bast */
    assert_int_equal(o.n_rings, 0);
    struct shape_order_crossing ring[] = {{"a", "b", "X1"}, {"b", "a", "X2"}, {"b", "c", NULL}};
    check_ok(shape_order_work(&o, ring, 3, arena, &err), &err);
    assert_int_equal(o.n_rings, 1);
    assert_non_null(strstr(o.ring[0], "X2"));
    for (size_t i = 0; i < o.n; i++)
        assert_int_equal(o.step[i].level, -1);
    arena_free(arena);
}

static void lath_arguments(void **state) {
    (void)state;
    struct shape_laths_count c;
    struct error err = {0};
    /* Story 1: 8 cut ends: 4; 1595 mm over 327: 5; 69 mm spacing along 498: 7. */
    struct shape_laths_find f = {8, 1595, 327, 69, 498, 25.5};
    check_ok(shape_laths_count(&c, &f, &err), &err);
    assert_int_equal(c.by_ends, 4);
    assert_int_equal(c.by_length, 5);
    assert_int_equal(c.by_spacing, 7);
    assert_int_equal(c.least, 5);
    assert_int_equal(c.most, 7);
    f = (struct shape_laths_find){-1, NAN, NAN, NAN, NAN, NAN};
    assert_int_equal(shape_laths_count(&c, &f, &err), ERR_MISSING);
    double place[] = {0, 69, 138, -70}, mirrored[4];
    assert_int_equal(shape_laths_mirror(mirrored, place, 4, 10), 1);
    check_near(mirrored[0], -138, 0);
}

static void splits_and_widths_there_and_back(void **state) {
    (void)state;
    struct shape_splits s;
    struct error err = {0};
    check_ok(shape_curve_splits(&s, 100, -8, 1, &err), &err); /* overlap: a saddle */
    assert_true(s.gauss < 0);
    check_near(2 * M_PI * 100 * (sinh(s.rho) / s.rho - 1), 8, 1e-9);
    assert_int_equal(shape_curve_splits(&s, 100, 700, 1, &err), ERR_RANGE);
    double rise, R, worn = shape_curve_worn_width(340, 400, &rise);
    check_ok(shape_curve_radius_from_widths(&R, 340, worn, &err), &err);
    check_rel(R, 400, 1e-9);
    assert_int_equal(shape_curve_radius_from_widths(&R, 340, 341, &err), ERR_RANGE);
}

static void bends_clash_before_they_combine(void **state) {
    (void)state;
    struct shape_bend_combined c;
    struct error err = {0};
    struct shape_bend_reading r[] = {{"grip", 0.0041, 0.0003, SHAPE_BEND_IS},
                                     {"splits", 0.0038, 0.0003, SHAPE_BEND_IS},
                                     {"lath", 0.0020, 0.0003, SHAPE_BEND_AT_LEAST}};
    check_ok(shape_curve_combine(&c, r, 3, &err), &err);
    assert_false(c.clash);
    check_near(c.bend, 0.00395, 1e-12);
    r[2].bend = 0.0060; /* a limit well above both */
    check_ok(shape_curve_combine(&c, r, 3, &err), &err);
    assert_true(c.clash && isnan(c.bend));
    assert_int_equal(c.worst, 2);
}

/* Each reading as it was made: plain ones as the weighted mean has them, a set and a gap by closed
 * forms; what cannot be used is refused. */
static void readings_of_different_kinds(void **state) {
    (void)state;
    struct error err = {0};
    struct shape_bend_combined c;
    struct shape_bend_together t;
    struct shape_bend_alone a;
    const struct shape_bend_reading plain[] = {{"a", 0.0041, 0.0003, SHAPE_BEND_IS},
                                               {"b", 0.0036, 0.0004, SHAPE_BEND_IS}};
    struct shape_bend_read r[] = {{.id = "a", .value = 0.0041, .u = 0.0003},
                                  {.id = "b", .value = 0.0036, .u = 0.0004},
                                  {.id = "c", .value = 0.0020, .u = 0.0003, .kind = 1}};
    check_ok(shape_curve_combine(&c, plain, 2, &err), &err);
    check_ok(shape_bend_together(&t, r, 2, &err), &err);
    check_near(t.q, c.q, 1e-9);
    check_near(t.p, c.p, 1e-9);
    check_near(t.best, c.bend, 1e-9);
    check_near(t.mean, c.bend, 1e-8);
    check_near(t.sd, c.u, 1e-7);
    check_near(t.q95, c.bend + 1.644854 * c.u, 2e-7);
    check_ok(shape_bend_together(&t, r, 3, &err), &err); /* a limit that is kept */
    assert_false(t.clash);
    r[2].value = 0.0060; /* one that is broken */
    check_ok(shape_bend_together(&t, r, 3, &err), &err);
    assert_true(t.clash && isnan(t.q50) && t.worst == 2);
    assert_int_equal(shape_bend_together(&t, r + 2, 1, &err), ERR_MISSING);
    r[2].u = 0;
    assert_int_equal(shape_bend_together(&t, r, 3, &err), ERR_RANGE);

    /* A share even from 0.3 to 1 of a bend of which any is alike leaves b: density 1/k from b to
     * b/0.3, so its middle is b sqrt(1/0.3). Alone: b times the mean of 1/share. */
    struct shape_bend_read set = {.id = "laths",
                                  .of = SHAPE_BEND_SET,
                                  .value = 0.001,
                                  .u = 1e-7,
                                  .keep_low = 0.3,
                                  .keep_high = 1};
    check_ok(shape_bend_together(&t, &set, 1, &err), &err);
    check_rel(t.q50, 0.001 * sqrt(1 / 0.3), 1e-3);
    check_rel(t.q05, 0.001 * pow(1 / 0.3, 0.05), 1e-3);
    check_ok(shape_bend_alone(&a, &set, &err), &err);
    check_rel(a.bend, 0.001 * log(1 / 0.3) / 0.7, 1e-9);
    set.keep_low = 0;
    assert_int_equal(shape_bend_together(&t, &set, 1, &err), ERR_RANGE);

    /* No gap is a reading too: as bent as a gap of its error at most or so; and an overlap is no
     * dome. */
    struct shape_bend_read gap = {
        .id = "gap", .of = SHAPE_BEND_SPLITS, .value = 0, .u = 0.3, .radius = 100};
    struct shape_splits s;
    check_ok(shape_curve_splits(&s, 100, 2 * 0.3, 0.3, &err), &err);
    check_ok(shape_bend_together(&t, &gap, 1, &err), &err);
    check_between(t.q95, 0.8 / s.radius, 1 / s.radius);
    check_ok(shape_bend_alone(&a, &gap, &err), &err);
    assert_true(a.bend == 0 && a.u > 0);
    gap.value = -2;
    check_ok(shape_bend_alone(&a, &gap, &err), &err);
    assert_true(a.bend == 0 && a.u > 0);
    gap.radius = 0;
    assert_int_equal(shape_bend_together(&t, &gap, 1, &err), ERR_RANGE);
}

static void exact_distances_agree(void **state) {
    (void)state;
    /* Two roads to the same number: the family's own signed distance and a search over the edge. */
    for (int family = 0; family < SHAPE_FAMILIES; family++) {
        struct shape_form f = {.family = (enum shape_family)family,
                               .x = 10,
                               .y = -5,
                               .turn = 0.3,
                               .a = 260,
                               .b = 170,
                               .exponent = 2.7,
                               .corner1 = 90,
                               .corner2 = 50,
                               .taper = 0.7,
                               .even = {0.05, -0.03, 0.02, 0.01, 0},
                               .odd = {0.03, 0.02, 0, 0, 0.01}};
        shape_form_ready(&f);
        for (int i = 0; i < 40; i++) {
            struct plane_point a = shape_form_point(&f, 0.157 * i),
                               b = shape_form_point(&f, 0.157 * i + 1e-6);
            double tx = b.x - a.x, ty = b.y - a.y, l = hypot(tx, ty);
            for (double d = -12; d <= 12; d += 6) {
                struct plane_point p = {a.x + d * ty / l, a.y - d * tx / l};
                check_near(shape_form_offset(&f, p), shape_form_distance(&f, p, NULL), 0.05);
            }
        }
    }
}

/* A form whose halves differ: as long and as wide as before and of the same area; points of its own
 * edge lie on it, distances hold at 12 mm, and there is no kink where the halves meet. */
static void unlike_halves_agree(void **state) {
    (void)state;
    enum { N = 4000 };
    for (int family = 0; family < SHAPE_TAPER; family++) {
        struct shape_form f = {.family = (enum shape_family)family,
                               .turn = 0.3,
                               .a = 260,
                               .b = 170,
                               .exponent = 2.7,
                               .corner1 = 90,
                               .unlike_ends = 0.3,
                               .unlike_sides = -0.4,
                               .square_ends = {-0.15, 0.15},
                               .square_sides = {0, 0.6}};
        shape_form_ready(&f);
        assert_true(f.unlike);
        assert_true(f.quarters_differ == (family == SHAPE_SUPERELLIPSE));
        double area = 0, round = 0, most = 0, worst = 0, low[2] = {0, 0}, high[2] = {0, 0};
        struct plane_point last = shape_form_point(&f, 0);
        for (int i = 1; i <= N; i++) {
            double phi = 2 * M_PI * i / N, r = shape_form_radius(&f, phi);
            struct plane_point p = shape_form_point(&f, phi);
            area += r * r * M_PI / N, round += hypot(p.x - last.x, p.y - last.y);
            most = fmax(most, fabs(shape_form_offset(&f, p)));
            double own[2] = {r * cos(phi), r * sin(phi)};
            for (int k = 0; k < 2; k++)
                low[k] = fmin(low[k], own[k]), high[k] = fmax(high[k], own[k]);
            last = p;
        }
        struct plane_point middle = shape_form_middle(&f);
        double mx = (high[0] + low[0]) / 2, my = (high[1] + low[1]) / 2;
        check_near(middle.x, f.cos_turn * mx - f.sin_turn * my, 0.01);
        check_near(middle.y, f.sin_turn * mx + f.cos_turn * my, 0.01);
        check_near(high[0] - low[0], 520, 0.01);
        check_near(high[1] - low[1], 340, 0.01);
        check_near(log(high[0] / -low[0]), 0.3, 1e-3);
        check_near(log(high[1] / -low[1]), -0.4, 1e-3);
        check_rel(shape_form_area(&f), area, 1e-3);
        check_rel(shape_form_perimeter(&f), round, 1e-3);
        check_near(most, 0, 1e-6);
        for (int i = 0; i < 40; i++)
            for (double d = -12; d <= 12; d += 6) {
                double phi = 0.157 * i, nx, ny, r = shape_form_normal(&f, phi, &nx, &ny);
                double x = r * cos(phi) + d * nx, y = r * sin(phi) + d * ny;
                struct plane_point p = {f.cos_turn * x - f.sin_turn * y,
                                        f.sin_turn * x + f.cos_turn * y};
                double off = shape_form_offset(&f, p) - shape_form_distance(&f, p, NULL);
                worst = fmax(worst, fabs(off));
            }
        check_note("%s with unlike halves: distances within 12 mm right to %.2f mm",
                   shape_family_words[family], worst);
        check_near(worst, 0, 0.5);
        if (family == SHAPE_POINTED) continue;
        for (int k = 0; k < 4; k++) { /* the normal does not jump at the joints */
            double ax, ay, bx, by, at = k * M_PI / 2;
            shape_form_normal(&f, at - 1e-6, &ax, &ay);
            shape_form_normal(&f, at + 1e-6, &bx, &by);
            check_near(hypot(ax - bx, ay - by), 0, 1e-3);
        }
    }
}

/* Rows of one seam: what each leaves open they may settle together, whatever their phases. */
static void rows_together_say_more(void **state) {
    (void)state;
    static const double row[3][7] = {{10.1, 9.7, 14.1, 10.4, 9.6, 14.6, 9.9},
                                     {14.4, 10.3, 9.8, 13.9, 9.5, 10.2, 14.5},
                                     {9.8, 14.2, 10.2, 9.9, 14.4, 10.4, 9.7}};
    struct shape_seam_groups one[3], all, same;
    struct error err = {0};
    for (int k = 0; k < 3; k++)
        check_ok(shape_seam_groups(&one[k], row[k], 7, NAN, &err), &err);
    shape_seam_groups_together(&all, one, 3);
    check_note("groups of three: %.2f %.2f %.2f alone, %.3f together", one[0].posterior[2],
               one[1].posterior[2], one[2].posterior[2], all.posterior[2]);
    assert_int_equal(all.best, 3);
    assert_true(all.decided);
    for (int k = 0; k < 3; k++) {
        assert_true(one[k].posterior[2] < all.posterior[2]);
        assert_int_equal(one[k].phase[2], k == 0 ? 2 : k == 1 ? 0 : 1);
    }
    shape_seam_groups_together(&same, one, 1);
    for (int i = 0; i < SHAPE_SEAM_GROUPS; i++)
        check_near(same.posterior[i], one[0].posterior[i], 1e-12);
}

static void examples_work(void **state) {
    (void)state;
    for (size_t i = 0; i < shape_methods.n; i++) {
        struct error err = {0};
        json_t *in = json_loads(shape_methods.v[i]->example, 0, NULL), *out = NULL;
        assert_non_null(in);
        check_ok(method_run(&out, shape_methods.v[i], in, &err), &err);
        json_decref(in);
        json_decref(out);
    }
}

/* Two pieces: the ring's evidence is an integral over one radius, the cone's over edge and slant,
 * so agreeing pieces favour the ring and the further they part the less. Swapping them changes
 * nothing. */
static void ring_against_cone(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct error err = {0};
    double before = 1;
    for (int k = 0; k < 4; k++) {
        static const double apart[] = {0, 3, 8, 28};
        struct shape_coil_piece two[] = {{"a", 90, 2, 5, 0}, {"b", 90 - apart[k], 2, 5, 0}},
                                turned[] = {two[1], two[0]};
        struct shape_coil c, d;
        check_ok(shape_coil_fit(&c, two, 2, 5.5, a, &err), &err);
        check_ok(shape_coil_fit(&d, turned, 2, 5.5, a, &err), &err);
        if (k == 0) {
            assert_true(isnan(c.ring_share)); /* one radius alone: no cone can be told apart */
            continue;
        }
        check_near(c.ring_share, d.ring_share, 1e-12);
        assert_true(c.ring_share > 0 && c.ring_share < before);
        assert_true(k != 1 || c.ring_share > 0.5);
        assert_true(k != 3 || c.ring_share < 0.3);
        before = c.ring_share;
    }
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(missing_holes_only_where_they_fit),
        cmocka_unit_test(tears_and_sections),
        cmocka_unit_test(ring_against_cone),
        cmocka_unit_test(order_of_work),
        cmocka_unit_test(torn_rows_by_number),
        cmocka_unit_test(seams_as_statements),
        cmocka_unit_test(lath_arguments),
        cmocka_unit_test(splits_and_widths_there_and_back),
        cmocka_unit_test(bends_clash_before_they_combine),
        cmocka_unit_test(readings_of_different_kinds),
        cmocka_unit_test(exact_distances_agree),
        cmocka_unit_test(unlike_halves_agree),
        cmocka_unit_test(rows_together_say_more),
        cmocka_unit_test(examples_work),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
