/* plane: polygons, arcs and methods: exact shapes, refusals with their place. */
#include "plane/arc.h"
#include "plane/plane_methods.h"
#include "plane/polygon.h"

#include "check.h"

static const struct plane_point ell[] = {{0, 0}, {4, 0}, {4, 1}, {1, 1}, {1, 3}, {0, 3}};

static void measures_of_an_l(void **state) {
    (void)state;
    check_near(plane_polygon_area(ell, 6), 6, 1e-15);
    check_near(plane_polygon_perimeter(ell, 6), 14, 1e-15);
    struct plane_point c = plane_polygon_centroid(ell, 6); /* 4x1 at (2, .5), 1x2 at (.5, 2) */
    check_near(c.x, (4 * 2 + 2 * 0.5) / 6, 1e-14);
    check_near(c.y, (4 * 0.5 + 2 * 2) / 6, 1e-14);
    assert_true(plane_polygon_contains(ell, 6, (struct plane_point){0.5, 2}));
    assert_false(plane_polygon_contains(ell, 6, (struct plane_point){2, 2}));
    assert_true(plane_polygon_contains(ell, 6, (struct plane_point){4, 0.5}));
    check_near(plane_polygon_distance(ell, 6, (struct plane_point){2, 2}), 1, 1e-15);
    double along, across;
    plane_polygon_extent(&along, &across, ell, 6, 0);
    check_near(along, 4, 0);
    check_near(across, 3, 0);
    struct plane_point hull[6];
    assert_int_equal(plane_polygon_hull(hull, ell, 6), 5);
    check_near(plane_polygon_area(hull, 5), 9, 1e-14); /* 6 and the triangle 3 x 2 / 2 */
}

static void offset_of_a_square(void **state) {
    (void)state;
    struct plane_point sq[] = {{0, 0}, {0, 10}, {10, 10}, {10, 0}}; /* clockwise on purpose */
    struct arena *arena = arena_new();
    struct plane_rings r;
    struct error err = {0};
    check_ok(plane_polygon_offset(&r, sq, 4, 2, arena, &err), &err);
    assert_int_equal(r.n, 1);
    /* 100 + 4*10*2 + pi 4, the quarter circles by 16 chords each. */
    check_rel(plane_polygon_area(r.v[0].v, r.v[0].n), 100 + 80 + M_PI * 4, 2e-4);
    check_ok(plane_polygon_offset(&r, sq, 4, -2, arena, &err), &err);
    check_near(plane_polygon_area(r.v[0].v, r.v[0].n), 36, 1e-9);
    check_ok(plane_polygon_offset(&r, sq, 4, -6, arena, &err), &err);
    assert_int_equal(r.n, 0);
    arena_free(arena);
}

static void crossing_ring_is_refused(void **state) {
    (void)state;
    struct plane_point bow[] = {{0, 0}, {10, 10}, {10, 0}, {0, 10}};
    struct error err = {0};
    assert_int_equal(plane_polygon_check(bow, 4, &err), ERR_INPUT);
    assert_non_null(strstr(err.message, "x 5.00 mm, y 5.00 mm"));
    assert_int_equal(plane_polygon_check(bow, 2, &err), ERR_INPUT);
    bow[1].x = NAN;
    assert_int_equal(plane_polygon_check(bow, 4, &err), ERR_INPUT);
}

static void arc_refusals(void **state) {
    (void)state;
    struct plane_arc a;
    struct error err = {0};
    assert_int_equal(plane_arc_from_rise(&a, 20, 11, 0, 0, &err), ERR_RANGE);
    assert_int_equal(plane_arc_from_rise(&a, 0, 1, 0, 0, &err), ERR_RANGE);
    check_ok(plane_arc_from_rise(&a, 20, 10, 0, 0, &err), &err); /* half a circle */
    check_near(a.radius, 10, 1e-14);
    check_near(a.angle, M_PI, 1e-14);
    check_near(a.length, 10 * M_PI, 1e-13);
    check_ok(plane_arc_from_rise(&a, 97, 0.3, 0, 0.5, &err), &err);
    assert_true(a.weak && isinf(a.high));
}

static void examples_work(void **state) {
    (void)state;
    for (size_t i = 0; i < plane_methods.n; i++) {
        struct error err = {0};
        json_t *in = json_loads(plane_methods.v[i]->example, 0, NULL), *out = NULL;
        assert_non_null(in);
        check_ok(method_run(&out, plane_methods.v[i], in, &err), &err);
        json_decref(in);
        json_decref(out);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(measures_of_an_l),
        cmocka_unit_test(offset_of_a_square),
        cmocka_unit_test(crossing_ring_is_refused),
        cmocka_unit_test(arc_refusals),
        cmocka_unit_test(examples_work),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
