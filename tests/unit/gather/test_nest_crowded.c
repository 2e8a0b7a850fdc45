/* Layouts that do not come out at once: parts cut from one sheet at random go back onto a sheet a
 * little larger, others must move aside for the last; and every refusal with its words. Overlaps
 * and what sticks out are looked for by GEOS and by coordinates, not by nest. */
#include "../../against/gather/cut_up.h"

static struct error err;

static struct nest_part *parts_of(struct cutup *c, bool mirror, struct arena *a) {
    struct nest_part *part = ARENA_NEW(a, struct nest_part, c->n);
    for (size_t i = 0; i < c->n; i++)
        part[i] = (struct nest_part){.name = "part",
                                     .ring = {c->corners[i], c->xy[i]},
                                     .number = 1,
                                     .half_turn = true,
                                     .mirror = mirror};
    return part;
}

/* mm by which anything sticks out of the rectangle. */
static double sticks_out(const struct nest_layout *l, const struct nest_part *part, double length,
                         double width) {
    double most = 0, xy[128];
    for (size_t i = 0; i < l->n; i++) {
        const struct nest_part *p = &part[l->place[i].part];
        gather_nest_ring(&l->place[i], p, xy);
        for (size_t k = 0; k < p->ring.n; k++)
            most = fmax(most, fmax(fmax(-xy[2 * k], xy[2 * k] - length),
                                   fmax(-xy[2 * k + 1], xy[2 * k + 1] - width)));
    }
    return most;
}

static void a_crowded_sheet(void **state) {
    (void)state;
    struct arena *a = arena_new();
    size_t placed = 0, all = 0;
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct cutup c;
        struct nest_layout l;
        cut_up_as(&c, 300, 200, 7, seed, false);
        struct nest_part *part = parts_of(&c, seed == 2, a);
        const double ring[] = {0, 0, 315, 0, 315, 208, 0, 208}, knot[] = {0, 0, 4, 0, 4, 4, 0, 4};
        const struct nest_ring fault = {4, knot};
        const struct nest_sheet sheet = {
            .name = "one", .ring = {4, ring}, .faults = seed == 3, .fault = &fault};
        const struct nest_options o = {.seed = seed, .sweeps = 60};
        check_ok(gather_nest(&l, part, c.n, &sheet, 1, &o, a, &err), &err);
        assert_true(overlap_area(&l, part) < (double)c.n * 200 * NEST_TOUCH);
        check_near(sticks_out(&l, part, 315, 208), 0, 2 * NEST_TOUCH);
        long missing = 0;
        double area = 0;
        for (size_t i = 0; i < c.n; i++)
            missing += l.missing[i];
        for (size_t i = 0; i < l.n; i++)
            area += fabs(area_of(c.xy[l.place[i].part], c.corners[l.place[i].part]));
        assert_int_equal(l.n + (size_t)missing, c.n); /* nothing is lost */
        assert_int_equal(l.complete, missing == 0);
        check_rel(l.part_area, area, 1e-9);
        check_rel(l.use[0], area / (315 * 208 - (seed == 3 ? 16 : 0)), 1e-3);
        placed += l.n;
        all += c.n;
    }
    check_note("%zu of %zu parts find room again", placed, all);
    arena_free(a);
}

static void a_crowded_strip(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct cutup c;
    struct nest_layout l;
    cut_up_as(&c, 300, 100, 6, 5, false);
    struct nest_part *part = parts_of(&c, false, a);
    const struct nest_options o = {.seed = 2, .sweeps = 40, .gap = 1};
    check_ok(gather_nest_strip(&l, part, c.n, 100 + 2, &o, a, &err), &err);
    assert_true(l.complete);
    assert_true(l.length >= 30000.0 / 102); /* no strip is shorter than its parts' area */
    check_near(overlap_area(&l, part), 0, 0);
    check_near(sticks_out(&l, part, l.length, 102), 0, 2 * NEST_TOUCH);
    arena_free(a);
}

static void refused(int rc, const char *words) {
    if (!rc || !strstr(err.message, words) || !*err.remedy)
        fail_msg("\"%s\" wanted: %s", words, rc ? err.message : "taken");
    error_clear(&err);
}

static void refusals(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct nest_layout l;
    double square[] = {0, 0, 10, 0, 10, 10, 0, 10}, bow[] = {0, 0, 10, 10, 10, 0, 0, 10};
    struct nest_part p = {.name = "rim", .ring = {4, square}, .number = 1};
    const struct nest_sheet sheet = {.name = "B1", .ring = {4, square}},
                            crossed = {.name = "B2", .ring = {4, bow}};
    const struct nest_ring all = {4, (const double[]){-1, -1, 11, -1, 11, 11, -1, 11}};
    const struct nest_sheet eaten = {.name = "B3", .ring = {4, square}, .faults = 1, .fault = &all};
    struct nest_options o = {.seed = 1}, wide = {.gap = 101}, minus = {.gap = -1};
    p.number = -1;
    refused(gather_nest(&l, &p, 1, &sheet, 1, &o, a, &err), "\"rim\": -1 copies");
    p.number = 601;
    refused(gather_nest(&l, &p, 1, &sheet, 1, &o, a, &err), "\"rim\": 601 copies");
    p.number = 1;
    refused(gather_nest(&l, &p, 0, &sheet, 1, &o, a, &err), "0 parts; 1 to 600");
    refused(gather_nest(&l, &p, 1, &sheet, 1, &wide, a, &err), "A gap of 101 mm");
    refused(gather_nest(&l, &p, 1, &sheet, 1, &minus, a, &err), "A gap of -1 mm");
    refused(gather_nest(&l, &p, 1, &crossed, 1, &o, a, &err), "B2");
    refused(gather_nest_strip(&l, &p, 1, 0, &o, a, &err), "A strip 0 mm wide");
    refused(gather_nest_strip(&l, &p, 1, 5, &o, a, &err), "\"rim\" does not fit a strip 5 mm wide");
    p.ring.xy = bow;
    refused(gather_nest(&l, &p, 1, &sheet, 1, &o, a, &err), "rim");
    p.ring = (struct nest_ring){2, square};
    refused(gather_nest(&l, &p, 1, &sheet, 1, &o, a, &err), "rim");
    p.ring = (struct nest_ring){4, square};
    /* no room is an answer */
    check_ok(gather_nest(&l, &p, 1, &eaten, 1, &o, a, &err), &err);
    assert_int_equal(l.missing[0], 1);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_crowded_sheet),
                                       cmocka_unit_test(a_crowded_strip),
                                       cmocka_unit_test(refusals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
