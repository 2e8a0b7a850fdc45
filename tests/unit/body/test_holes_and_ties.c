/* Holes, pegs, ties, bending, hand and strip: what must hold whatever the figures are. */
#include "body/bend.h"
#include "body/body_methods.h"
#include "body/cord.h"
#include "body/hand.h"
#include "body/holes.h"
#include "body/peg.h"
#include "body/strip.h"

#include "check.h"

struct world {
    struct stuff_shelf *shelf;
    struct arena *arena;
    struct error err;
};

static struct holes_case row(void) {
    return (struct holes_case){.material = "willow bark",
                               .class = FIELD_UNKNOWN,
                               .layer = STUFF_WHOLE,
                               .state = STUFF_DRY,
                               .runs = STUFF_ALONG,
                               .thickness = 5,
                               .diameter = 2.8,
                               .pitch = 18,
                               .edge = 12,
                               .group = 1,
                               .gap = NAN,
                               .cord = NAN,
                               .pull = NAN};
}

static double load_of(struct world *w, struct holes_case c) {
    struct holes_result r;
    check_ok(holes_row(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(r.failure.p05 <= r.failure.load && r.failure.load <= r.failure.p95);
    double sum = 0;
    const struct body_mode *m = r.failure.modes.v;
    for (size_t i = 0; i < r.failure.modes.n; i++) {
        sum += m[i].first;
        assert_true(m[i].load >= r.failure.load * 0.999);
    }
    check_near(sum, 1, 1e-9);
    return r.failure.load;
}

static void rows_of_holes(void **state) {
    struct world *w = *state;
    struct holes_case c = row(), b = row();
    double base = load_of(w, c);
    b.thickness = 10; /* twice the sheet bears twice */
    check_rel(load_of(w, b), 2 * base, 1e-9);
    b = row();
    b.pitch = 9;
    assert_true(load_of(w, b) > 0 && holes_net_share(2.8, 9) < holes_net_share(2.8, 18));
    b = row();
    b.runs = STUFF_AROUND; /* pulled along the fibre: much more */
    assert_true(load_of(w, b) > 1.5 * base);
    b = row();
    b.edge = 2;
    assert_true(load_of(w, b) <= base);
    b = row();
    b.cut = 1; /* cut holes take more fibre than parted ones */
    assert_true(load_of(w, b) <= base);
    /* groups of four with a gap bear less per length than the same number evenly spread */
    struct holes_result r;
    b = row();
    b.group = 4;
    b.pitch = 8;
    b.gap = 48;
    check_ok(holes_row(&r, w->shelf, &b, w->arena, &w->err), &w->err);
    assert_true(r.failure.load < r.even);
    assert_true(r.after_first < r.failure.load);
    assert_non_null(r.warning);
    /* the chance to bear a pull falls with it, and half hold at the middle load */
    b = row();
    b.pull = base;
    check_ok(holes_row(&r, w->shelf, &b, w->arena, &w->err), &w->err);
    check_near(r.holds, 0.5, 0.01);
    b.pull = base * 20;
    check_ok(holes_row(&r, w->shelf, &b, w->arena, &w->err), &w->err);
    assert_true(r.holds < 0.01 && isinf(r.elongation));
    /* what cannot be is refused */
    struct holes_case bad[6];
    for (size_t i = 0; i < 6; i++)
        bad[i] = row();
    bad[0].thickness = 0;
    bad[1].pitch = 2;
    bad[2].edge = 1;
    bad[3].thickness = NAN;
    bad[4].group = 3;
    bad[5].runs = FIELD_UNKNOWN;
    for (size_t i = 0; i < 6; i++) {
        struct error err = {0};
        assert_int_not_equal(holes_row(&r, w->shelf, &bad[i], w->arena, &err), 0);
        assert_true(*err.message && *err.remedy);
    }
}

static void flaws_and_own_values(void **state) {
    struct world *w = *state;
    struct holes_case c = row(), b = row();
    double base = load_of(w, c);
    b.flaws.fissures = (struct stuff_fissures){.depth = 2, .spacing = 15, .width = 3};
    assert_true(load_of(w, b) < base);
    b = row();
    b.flaws.along = 40; /* an old split along the row, pulled open */
    assert_true(load_of(w, b) < base);
    b = row();
    b.flaws.around = 40; /* a lenticel lying around does nothing to a pull around */
    check_rel(load_of(w, b), base, 1e-12);
    b.flaws.fissures.depth = 9;
    struct holes_result r;
    struct error err = {0};
    assert_int_equal(holes_row(&r, w->shelf, &b, w->arena, &err), ERR_RANGE);
    /* a strength the team measured stands before the tables, and is no guess */
    struct stuff_own own[] = {
        {.material = "willow bark",
         .property = "strength_tension",
         .direction = "around",
         .median = 0.2,
         .p05 = 0.18,
         .p95 = 0.22,
         .source = "pulled strips, invented for this test"},
    };
    struct records list = {1, own};
    struct stuff_shelf *shelf;
    check_ok(stuff_shelf_with(&shelf, &list, &w->err), &w->err);
    check_ok(holes_row(&r, shelf, &c, w->arena, &w->err), &w->err);
    assert_true(r.failure.load < 0.2 * 5 && r.failure.load < base);
    assert_string_equal(r.failure.first, "sheet parts along the row of holes");
    stuff_shelf_free(shelf);
    own[0].source = "";
    assert_int_equal(stuff_shelf_with(&shelf, &list, &err), ERR_MISSING);
    assert_null(shelf);
}

static struct slit_case slit(void) {
    return (struct slit_case){.material = "willow bark",
                              .class = FIELD_UNKNOWN,
                              .layer = STUFF_WHOLE,
                              .state = STUFF_DRY,
                              .runs = STUFF_AROUND,
                              .thickness = 5,
                              .length = 24,
                              .pitch = NAN,
                              .tip = 0,
                              .edge = NAN,
                              .pull = NAN};
}

static void slits(void **state) {
    struct world *w = *state;
    struct slit_case c = slit();
    struct slit_result sharp, r;
    check_ok(slit_row(&sharp, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(sharp.left > 0 && sharp.left < 1);
    c.tip = 3; /* a hole at the end helps */
    check_ok(slit_row(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(r.failure.load >= sharp.failure.load);
    c.tip = 0;
    c.pitch = 40; /* neighbours harm */
    check_ok(slit_row(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(r.failure.load < sharp.failure.load);
    c.pitch = 1e6;
    check_ok(slit_row(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    check_rel(r.failure.load, sharp.failure.load, 1e-6);
    c.pitch = 20;
    assert_int_equal(slit_row(&r, w->shelf, &c, w->arena, &w->err), ERR_RANGE);
}

static double wide(const struct body_failure *f) {
    return log(f->p95 / f->p05);
}

/* All loads of a sheet go with its thickness: the spreads of strength and thickness add as
 * independent logarithms do. */
static void thickness_not_known(void **state) {
    struct world *w = *state;
    struct holes_case c = row(), unsure = row(), wrong = row();
    struct slit_case known_slit = slit(), unsure_slit = slit();
    struct holes_result sure, r;
    struct slit_result sure_slit, s;
    unsure.thickness_low = unsure_slit.thickness_low = 2.5;
    unsure.thickness_high = unsure_slit.thickness_high = 10;
    check_ok(holes_row(&sure, w->shelf, &c, w->arena, &w->err), &w->err);
    check_ok(holes_row(&r, w->shelf, &unsure, w->arena, &w->err), &w->err);
    check_rel(wide(&r.failure), hypot(wide(&sure.failure), log(4)), 0.05);
    check_rel(r.failure.load, sure.failure.load, 0.05);
    check_ok(slit_row(&sure_slit, w->shelf, &known_slit, w->arena, &w->err), &w->err);
    check_ok(slit_row(&s, w->shelf, &unsure_slit, w->arena, &w->err), &w->err);
    check_rel(wide(&s.failure), hypot(wide(&sure_slit.failure), log(4)), 0.05);
    wrong.thickness_low = 6;
    wrong.thickness_high = 8;
    struct error err = {0};
    assert_int_equal(holes_row(&r, w->shelf, &wrong, w->arena, &err), ERR_RANGE);
}

static void pegs(void **state) {
    struct world *w = *state;
    struct peg_case c = {.first = {"hazel", FIELD_UNKNOWN, 11, 22, 25, 0},
                         .second = {"willow bark", FIELD_UNKNOWN, 5, NAN, 15, M_PI / 2},
                         .diameter = 5,
                         .load = NAN};
    struct peg_result r, thick;
    check_ok(peg_joint(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(r.failure.load > 0 && r.caveat);
    c.second.thickness = 10;
    check_ok(peg_joint(&thick, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(thick.failure.load > r.failure.load);
    c.second.thickness_low = 3, c.second.thickness_high = 20;
    struct peg_result unsure;
    check_ok(peg_joint(&unsure, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(wide(&unsure.failure) > 1.2 * wide(&thick.failure));
    c.diameter = 25;
    struct error err = {0};
    assert_int_equal(peg_joint(&r, w->shelf, &c, w->arena, &err), ERR_RANGE);
    c.diameter = NAN;
    assert_int_equal(peg_joint(&r, w->shelf, &c, w->arena, &err), ERR_RANGE);
}

static struct cord_case bast_tie(void) {
    return (struct cord_case){.cord = {.material = "lime bast",
                                       .width = 4,
                                       .thickness = 0.5,
                                       .strands = 1,
                                       .knot = "clove hitch"},
                              .turns = 2,
                              .loop = 60,
                              .radius = 2,
                              .load = NAN};
}

static void ties_and_knocks(void **state) {
    struct world *w = *state;
    struct cord_case c = bast_tie();
    struct cord_result dry, wet, r;
    check_ok(cord_tie(&dry, w->shelf, &c, w->arena, &w->err), &w->err);
    c.cord.wet = true; /* bast goes the other way from wood */
    check_ok(cord_tie(&wet, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(wet.failure.load > dry.failure.load);
    c = bast_tie();
    c.turns = 4;
    check_ok(cord_tie(&r, w->shelf, &c, w->arena, &w->err), &w->err);
    check_rel(r.failure.load, 2 * dry.failure.load, 1e-9);
    c.cord.knot = NULL; /* neither knot nor tail */
    assert_int_equal(cord_tie(&r, w->shelf, &c, w->arena, &w->err), ERR_MISSING);
    struct knock_case k = {.rim = "hazel rod",
                           .class = FIELD_UNKNOWN,
                           .height = 11,
                           .round = 1,
                           .tie = bast_tie(),
                           .tie_spacing = 80,
                           .peg_load = NAN,
                           .peg_load_p05 = NAN,
                           .peg_load_p95 = NAN,
                           .peg_stiffness = NAN,
                           .sheet = 8,
                           .mass = 900,
                           .drop = 100};
    struct knock_result alone, with;
    check_ok(cord_knock(&alone, w->shelf, &k, w->arena, &w->err), &w->err);
    check_rel(alone.ratio, 1, 1e-12);
    assert_true(alone.survives > 0 && alone.survives < 1);
    k.peg_load = 200;
    k.peg_spacing = 80;
    check_ok(cord_knock(&with, w->shelf, &k, w->arena, &w->err), &w->err);
    assert_true(with.push.load > alone.push.load); /* pegs help against a slow push */
    k.sheet = NAN;                                 /* an unyielding sheet makes a knock far worse */
    struct knock_result stiff;
    check_ok(cord_knock(&stiff, w->shelf, &k, w->arena, &w->err), &w->err);
    assert_true(stiff.energy.load < with.energy.load / 3);
    k.height = 0;
    assert_int_equal(cord_knock(&stiff, w->shelf, &k, w->arena, &w->err), ERR_RANGE);
}

static void ways_of_bending(void **state) {
    struct world *w = *state;
    struct bend_case c = {
        "hazel lath, split", FIELD_UNKNOWN, STUFF_ALONG, FIELD_UNKNOWN, 3.5, 0, 1.0 / 140};
    struct bend_try t[BEND_TRIES_MOST];
    size_t n;
    double strain;
    check_ok(bend_tries(t, &n, &strain, w->shelf, &c, &w->err), &w->err);
    assert_int_equal(n, 6);
    check_rel(strain, 0.0125, 1e-12);
    for (size_t i = 0; i < n; i++) {
        assert_true(t[i].cracks >= 0 && t[i].cracks <= 1 && t[i].radius_safe >= t[i].radius);
        check_rel(bend_strain(t[i].thickness_safe, 0, 1.0 / 140), t[i].limit_p05, 1e-9);
    }
    /* damp bark off a stem */
    c = (struct bend_case){"willow bark",
                           FIELD_UNKNOWN,
                           STUFF_AROUND,
                           STUFF_WHOLE,
                           5,
                           1 / bend_radius_on_stem(160, 5),
                           0};
    check_ok(bend_tries(t, &n, &strain, w->shelf, &c, &w->err), &w->err);
    assert_int_equal(n, 2);
    assert_true(t[0].cracks > t[1].cracks);
    struct error err = {0};
    c.thickness = 0;
    assert_int_equal(bend_tries(t, &n, &strain, w->shelf, &c, &err), ERR_RANGE);
    c.thickness = 5;
    c.to_curvature = 1;
    assert_int_equal(bend_tries(t, &n, &strain, w->shelf, &c, &err), ERR_RANGE);
    c = (struct bend_case){"ash", FIELD_UNKNOWN, STUFF_AROUND, FIELD_UNKNOWN, 5, 0, 0.01};
    assert_int_equal(bend_tries(t, &n, &strain, w->shelf, &c, &err), ERR_REFUSED);
}

static void room_and_balance(void **state) {
    struct world *w = *state;
    struct hand_case c = {.span = 180, .seat = 30, .width = 33, .thickness = 27};
    struct hand_room flat, bowed, glove;
    check_ok(hand_room(&flat, w->shelf, &c, w->arena, &w->err), &w->err);
    check_near(flat.middle, 30, 1e-12);
    assert_true(flat.men > 0.99 && flat.women > 0.99);
    c.seat = 12;
    check_ok(hand_room(&flat, w->shelf, &c, w->arena, &w->err), &w->err);
    c.curvature = 1.0 / 300;
    check_ok(hand_room(&bowed, w->shelf, &c, w->arena, &w->err), &w->err);
    c.glove = 4;
    check_ok(hand_room(&glove, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(flat.men < 0.05 && bowed.men > 0.9 && glove.men < bowed.men);
    check_near(bowed.middle, 12 + 300 - sqrt(300.0 * 300 - 90 * 90), 1e-9);
    assert_true(hand_room_at(&c, 0) > hand_room_at(&c, 60));
    c.span = NAN;
    assert_int_equal(hand_room(&flat, w->shelf, &c, w->arena, &w->err), ERR_RANGE);
    /* a bar of two equal parts balances in the middle; the spread of what is shared adds up */
    struct hand_part parts[] = {{"a", 100, NAN, NAN, 0.1, -50, 0, 0},
                                {"b", 100, NAN, NAN, 0.1, 50, 0, 0}};
    const double held[3] = {0, 0, 10}, aside[3] = {10, 0, 10};
    struct hand_balance b, one, none;
    check_ok(hand_balance(&b, parts, 2, held, 0.5, &w->err), &w->err);
    check_near(b.x, 0, 1e-12);
    check_near(b.tilt, 0, 1e-12);
    check_ok(hand_balance(&b, parts, 2, aside, 0.5, &w->err), &w->err);
    check_near(b.tilt, M_PI / 4, 1e-12);
    check_rel(b.torque, 200 * 0.00980665 * 10, 1e-12);
    check_ok(hand_balance(&one, parts, 2, held, 1, &w->err), &w->err);
    check_ok(hand_balance(&none, parts, 2, held, 0, &w->err), &w->err);
    assert_true(one.p95 > none.p95);
    parts[0].mass = NAN;
    assert_int_equal(hand_balance(&b, parts, 2, held, 0.5, &w->err), ERR_MISSING);
}

/* Held flat while it dries a strip keeps most of its flatness; rewetting gives part of the curl
 * back; free, it curls the more. */
static void drying_on_a_former(void **state) {
    struct world *w = *state;
    enum { DAYS = 20 };
    struct strip_air air[DAYS];
    for (int i = 0; i < DAYS; i++)
        air[i] = (struct strip_air){18, 0.55, 1, 1};
    struct strip_case c = {.material = "willow bark",
                           .class = FIELD_UNKNOWN,
                           .thickness = 3,
                           .outer_share = NAN,
                           .width = 60,
                           .length = 300,
                           .stem = 160,
                           .moisture = NAN,
                           .diffusion = NAN,
                           .shrinkage = NAN,
                           .ring_radius = INFINITY,
                           .air = air,
                           .days = DAYS,
                           .former = INFINITY};
    struct strip_outcome free[DAYS + 1], held[DAYS + 1], wet[DAYS + 1];
    long standing;
    check_ok(strip_days(free, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_int_equal(standing, STANDING_GUESS);
    c.held_days = 14;
    check_ok(strip_days(held, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    for (int i = 16; i < DAYS; i++)
        air[i].humidity = 0.97;
    check_ok(strip_days(wet, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    double natural = free[0].curvature.p50;
    assert_true(natural > 0.008 && natural < 1 / 78.0);
    assert_true(free[DAYS].curvature.p50 > held[DAYS].curvature.p50);
    assert_true(held[DAYS].curvature.p50 < 0.6 * natural);
    check_near(held[10].curvature.p50, 0, 1e-12);
    assert_true(wet[DAYS].moisture.p50 > held[DAYS].moisture.p50 + 0.03);
    for (int i = 1; i <= DAYS; i++) {
        assert_true(free[i].moisture.p50 <= free[i - 1].moisture.p50 + 1e-12);
        assert_true(free[i].mass.p50 <= 1 && free[i].thickness.p50 < 3);
        assert_true(free[i].width.p05 <= free[i].width.p50);
    }
    /* same again: the same bits */
    struct strip_outcome again[DAYS + 1];
    check_ok(strip_days(again, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    for (int i = 0; i <= DAYS; i++) {
        assert_memory_equal(&again[i].curvature, &wet[i].curvature, sizeof wet[i].curvature);
        assert_memory_equal(&again[i].width, &wet[i].width, sizeof wet[i].width);
    }
    /* what cannot be is refused */
    struct strip_case bad = c;
    bad.stem = 6;
    assert_int_equal(strip_days(free, &standing, w->shelf, &bad, w->arena, &w->err), ERR_RANGE);
    bad = c;
    bad.width = 600; /* wider than the tree is round */
    assert_int_equal(strip_days(free, &standing, w->shelf, &bad, w->arena, &w->err), ERR_RANGE);
    bad = c;
    bad.thickness = NAN;
    assert_int_equal(strip_days(free, &standing, w->shelf, &bad, w->arena, &w->err), ERR_RANGE);
}

/* Outer birch bark rolls inner side out (Kluegl, Hafner & Di Pietro 2019): curvature off the tree
 * is against the tree's. Willow bark closes further when it dries free (cinnamon quills, in kind).
 */
static void curl_goes_the_way_it_is_seen(void **state) {
    struct world *w = *state;
    struct strip_air air[10];
    for (int i = 0; i < 10; i++)
        air[i] = (struct strip_air){20, 0.5, 1, 1};
    struct strip_case c = {.material = "birch bark",
                           .class = FIELD_UNKNOWN,
                           .thickness = 2,
                           .outer_share = NAN,
                           .width = 60,
                           .length = 200,
                           .stem = 200,
                           .moisture = NAN,
                           .diffusion = NAN,
                           .shrinkage = NAN,
                           .ring_radius = INFINITY,
                           .air = air,
                           .days = 10};
    struct strip_outcome o[11];
    long standing;
    check_ok(strip_days(o, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(o[0].curvature.p50 < 0);
    c.material = "willow bark";
    c.stem = 160;
    check_ok(strip_days(o, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(o[10].curvature.p50 > o[0].curvature.p50);
    /* a flat-sawn lath cups away from the heart: against the rings */
    c = (struct strip_case){.material = "hazel lath",
                            .class = FIELD_UNKNOWN,
                            .thickness = 4,
                            .outer_share = NAN,
                            .width = 25,
                            .length = 300,
                            .stem = NAN,
                            .moisture = NAN,
                            .diffusion = NAN,
                            .shrinkage = NAN,
                            .ring_radius = 30,
                            .air = air,
                            .days = 10};
    check_ok(strip_days(o, &standing, w->shelf, &c, w->arena, &w->err), &w->err);
    assert_true(o[10].curvature.p50 < 0 && o[10].width.p50 < 25);
}

/* 1,024 evenly spread points fill each coordinate evenly. */
static void even_points_are_even(void **state) {
    (void)state;
    for (size_t i = 0; i < 11; i++) {
        int seen[16] = {0};
        for (size_t k = 0; k < BODY_DRAWS; k++) {
            double x = body_even_point(k, 11, i);
            assert_true(x >= 0 && x < 1);
            seen[(int)(16 * x)]++;
        }
        for (int b = 0; b < 16; b++)
            assert_in_range(seen[b], 42, 86); /* 64 each, within what three sd of chance would be */
    }
}

static void methods_work_as_printed(void **state) {
    (void)state;
    for (size_t i = 0; i < body_methods.n; i++) {
        const struct method *m = body_methods.v[i];
        json_t *in = json_loads(m->example, 0, NULL), *out = NULL;
        struct error err = {0};
        if (!in) fail_msg("%s: example is no JSON", m->name);
        if (method_run(&out, m, in, &err)) fail_msg("%s: %s", m->name, err.message);
        assert_true(json_object_size(out) > 3);
        json_decref(in);
        json_decref(out);
    }
}

static int begin(void **state) {
    static struct world w;
    w.arena = arena_new();
    *state = &w;
    return stuff_shelf_new(&w.shelf, &w.err);
}
static int end(void **state) {
    struct world *w = *state;
    stuff_shelf_free(w->shelf);
    arena_free(w->arena);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_of_holes),
        cmocka_unit_test(flaws_and_own_values),
        cmocka_unit_test(slits),
        cmocka_unit_test(thickness_not_known),
        cmocka_unit_test(pegs),
        cmocka_unit_test(ties_and_knocks),
        cmocka_unit_test(ways_of_bending),
        cmocka_unit_test(room_and_balance),
        cmocka_unit_test(drying_on_a_former),
        cmocka_unit_test(curl_goes_the_way_it_is_seen),
        cmocka_unit_test(even_points_are_even),
        cmocka_unit_test(methods_work_as_printed),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
