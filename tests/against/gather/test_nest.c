/* nest: no-fit polygons with known area, a jigsaw with exactly 100 % use, and layouts made by
 * cutting a sheet up, so that 100 % use is possible. */
#include "gather/nest.h"

#include "cut_up.h"

static struct error err;

/* Worked out exactly for this project (reference check "nfp"): rectangle 4 x 3 and the triangle
 * (0,0) (2,0) (0,1): area 23. An L, [0,6]x[0,2] and [0,2]x[0,5], and a 1 x 2 rectangle: area 37,
 * perimeter 28. */
static void no_fit_polygons_have_the_known_area(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "no-fit polygons of small figures, worked out exactly");
    struct arena *a = arena_new();
    double r[] = {0, 0, 4, 0, 4, 3, 0, 3}, t[] = {0, 0, 2, 0, 0, 1};
    double l[] = {0, 0, 6, 0, 6, 2, 2, 2, 2, 5, 0, 5}, b[] = {0, 0, 1, 0, 1, 2, 0, 2};
    struct nest_ring ring_r = {4, r}, ring_t = {3, t}, ring_l = {6, l}, ring_b = {4, b};
    struct nest_no_fit f;
    check_ok(gather_no_fit(&f, &ring_r, &ring_t, a, &err), &err);
    check_near(f.area, 23, 1e-9);
    assert_int_equal(f.rings, 1);
    assert_int_equal(f.ring[0].n, 5);
    check_ok(gather_no_fit(&f, &ring_l, &ring_b, a, &err), &err);
    check_near(f.area, 37, 1e-9);
    check_near(f.perimeter, 28, 1e-9);
    arena_free(a);
}

/* Six parts cut from a 600 x 400 sheet (reference check "jigsaw"): the best length is 600. */
static void the_jigsaw_goes_together(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "six parts cut from one sheet: 100 % use is possible");
    struct arena *a = arena_new();
    static const double p[6][10] = {{0, 0, 150, 0, 200, 150, 0, 220},
                                    {150, 0, 400, 0, 450, 120, 350, 230, 200, 150},
                                    {400, 0, 600, 0, 600, 180, 450, 120},
                                    {450, 120, 600, 180, 600, 400, 420, 400, 350, 230},
                                    {350, 230, 420, 400, 240, 400, 180, 300, 200, 150},
                                    {0, 220, 200, 150, 180, 300, 240, 400, 0, 400}};
    static const size_t n[6] = {4, 5, 4, 5, 5, 5};
    struct nest_part part[6];
    for (int i = 0; i < 6; i++)
        part[i] = (struct nest_part){"piece", {n[i], p[i]}, 1, false, false};
    struct nest_options options = {.seed = 1};
    struct nest_layout l;
    check_ok(gather_nest_strip(&l, part, 6, 400, &options, a, &err), &err);
    check_note("jigsaw of 6: length %.2f of 600, use %.1f %%", l.length, 100 * l.use[0]);
    assert_true(l.complete);
    assert_true(l.worst_overlap <= NEST_TOUCH);
    check_about("share used; more than all would be a lie");
    check_between(l.use[0], 0.90, 1.0005);
    assert_true(overlap_area(&l, part) < 6 * 400 * NEST_TOUCH);
    arena_free(a);
}

static void cut_up_sheets_are_refilled_to_ninety(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "sheets cut up at random: 100 % use is possible, 90 % asked for");
    static const size_t sizes[] = {6, 8, 10, 12, 16, 20, 24};
    for (size_t k = 0; k < 7; k++) {
        struct arena *a = arena_new();
        struct cutup c;
        cut_up(&c, 900, 500, sizes[k], 7 + k);
        struct nest_part part[64];
        double total = 0;
        for (size_t i = 0; i < c.n; i++) {
            part[i] = (struct nest_part){"part", {c.corners[i], c.xy[i]}, 1, false, false};
            total += area_of(c.xy[i], c.corners[i]);
        }
        check_near(total, 450000, 1e-5); /* 100 % use is possible */
        struct nest_options options = {.seed = 3};
        struct nest_layout l;
        check_ok(gather_nest_strip(&l, part, c.n, 500, &options, a, &err), &err);
        check_note("cut up into %zu: length %.1f of 900, use %.1f %%", c.n, l.length,
                   100 * l.use[0]);
        assert_true(l.complete);
        check_about("share used, %zu parts", c.n);
        check_between(l.use[0], 0.90, 1.0005);
        assert_true(overlap_area(&l, part) < (double)c.n * 200 * NEST_TOUCH);
        arena_free(a);
    }
}

/* Along and across, as laths and panels are: up to 48 parts; half of them come turned. */
static void cut_up_panels_are_refilled_to_ninety(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "sheets cut up along and across: 100 % use is possible, 90 % asked");
    for (size_t n = 12; n <= 48; n += 12) {
        struct arena *a = arena_new();
        struct cutup c;
        cut_up_as(&c, 900, 500, n, 300 + n, true);
        struct nest_part part[64];
        for (size_t i = 0; i < c.n; i++) {
            for (size_t k = 0; i % 2 && k < 2 * c.corners[i]; k++)
                c.xy[i][k] *= -1;
            part[i] = (struct nest_part){"panel", {c.corners[i], c.xy[i]}, 1, i % 2, false};
        }
        struct nest_options options = {.seed = n};
        struct nest_layout l;
        check_ok(gather_nest_strip(&l, part, c.n, 500, &options, a, &err), &err);
        check_note("along and across into %zu: use %.1f %%", c.n, 100 * l.use[0]);
        assert_true(l.complete);
        check_about("share used, %zu panels", c.n);
        check_between(l.use[0], 0.90, 1.0005);
        assert_true(overlap_area(&l, part) < (double)c.n * 200 * NEST_TOUCH);
        for (size_t i = 0; i < l.n; i++) { /* inside the strip, by the placed corners */
            double xy[128];
            gather_nest_ring(&l.place[i], &part[l.place[i].part], xy);
            for (size_t k = 0; k < c.corners[l.place[i].part]; k++)
                assert_true(xy[2 * k] > -1e-6 && xy[2 * k] < l.length + 1e-6 &&
                            xy[2 * k + 1] > -1e-6 && xy[2 * k + 1] < 500 + 1e-6);
        }
        arena_free(a);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_fit_polygons_have_the_known_area),
                                       cmocka_unit_test(the_jigsaw_goes_together),
                                       cmocka_unit_test(cut_up_sheets_are_refilled_to_ninety),
                                       cmocka_unit_test(cut_up_panels_are_refilled_to_ninety)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
