/* The form in space: a made-up making of a rectangular sheet with two laths, a rim and a grip. */
#include "job/as_body.h"
#include "job/form.h"

#include "statement/statement.h"

#include "made_up_parts.h"

static const double inner[8] = {-95, -45, 95, -45, 95, 45, -95, 45};

static void fill(struct part *p) {
    p[0] = blank(PART_SHEET, "sheet");
    p[0].points = (struct tuples){4, 2, (double *)corners};
    p[0].length = 200, p[0].width = 100, p[0].thickness = 3;
    for (int i = 1; i < 3; i++) {
        p[i] = blank(PART_LATH, i == 1 ? "lath.1" : "lath.2");
        p[i].x = i == 1 ? -40 : 40, p[i].y = 0;
        p[i].length = 80, p[i].width = 20, p[i].thickness = 2;
        p[i].side = SIDE_WITHIN;
    }
    p[3] = blank(PART_RIM, "rim");
    p[3].points = (struct tuples){4, 2, (double *)inner};
    p[3].width = 8, p[3].thickness = 4, p[3].length = 560;
    p[3].side = SIDE_BOTH;
    p[4] = blank(PART_GRIP, "grip");
    p[4].length = 120, p[4].width = 20, p[4].thickness = 15;
    p[4].side = SIDE_INNER;
}

static const struct as_body_stuff stuff = {.e_along = 1200,
                                           .e_around = 300,
                                           .g = 200,
                                           .density = 5e-4,
                                           .thickness = NAN,
                                           .stem = 120,
                                           .set = 0,
                                           .wood_e = 10000,
                                           .wood_g = 700,
                                           .wood_density = 6e-4,
                                           .lath_thickness = NAN,
                                           .length = NAN,
                                           .width = NAN,
                                           .chamfer = NAN};

/* Volume by the divergence theorem, and whether every edge is run once each way. */
static double volume(const struct form_surface *s) {
    double sum = 0;
    for (size_t i = 0; i < s->n_triangles; i++) {
        const double *a = s->points + 3 * s->triangles[3 * i],
                     *b = s->points + 3 * s->triangles[3 * i + 1],
                     *c = s->points + 3 * s->triangles[3 * i + 2];
        sum += (a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) +
                a[2] * (b[0] * c[1] - b[1] * c[0])) /
               6;
    }
    return sum;
}

static bool is_closed(const struct form_surface *s) {
    size_t n = s->n_points, twice = 0;
    short *run = calloc(n * n, sizeof *run);
    assert_non_null(run);
    for (size_t i = 0; i < 3 * s->n_triangles; i++) {
        size_t a = s->triangles[i], b = s->triangles[i - i % 3 + (i + 1) % 3];
        run[a * n + b]++;
        run[b * n + a]--;
        twice += (size_t)(run[a * n + b] > 1);
    }
    bool closed = twice == 0;
    for (size_t i = 0; i < n * n; i++)
        closed &= run[i] == 0;
    free(run);
    return closed;
}

static void make(struct form *f, struct arena *arena) {
    struct error err = {0};
    struct part *parts = ARENA_NEW(arena, struct part, 5);
    struct making *making = ARENA_NEW(arena, struct making, 1);
    fill(parts);
    making->id = "m";
    struct makings all = {making, 1, parts, 5, NULL, 0};
    const struct as_body_change change[2] = {{0}, {.no_laths = true, .no_rim = true}};
    for (int i = 0; i < 2; i++) {
        struct body_sheet sheet;
        struct body_sheet_model *m;
        struct body_sheet_out out;
        check_ok(as_body_sheet(&sheet, &all, "m", &stuff, &change[i], arena, &err), &err);
        assert_int_equal(sheet.laths, i ? 0 : 2);
        assert_int_equal(sheet.grip, 1);
        check_ok(body_sheet_new(&m, &sheet, 300, &err), &err);
        check_ok(body_sheet_solve(m, &out, &err), &err);
        if (i == 0)
            check_ok(
                form_begin(f, body_sheet_mesh(m), &all, "m", (const double[]){1, 1}, arena, &err),
                &err);
        struct form_state *s = form_state_add(f, m, i ? "other" : "made", "as made", arena);
        assert_non_null(s);
        if (i) s->without[PART_LATH] = s->without[PART_RIM] = true;
        body_sheet_free(m);
    }
    f->thickness = 3;
}

/* What a person entered about a part reaches the sheet that mechanics bends. */
static void test_details(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct error err = {0};
    struct part p[6];
    fill(p);
    p[5] = blank(PART_TIE, "tie");
    p[5].pitch = 20, p[5].group = 3;
    static const double read[] = {-80, 0, 2.5, 80, 0, 3.5}, bare[] = {0, 0, 30, 0.25};
    p[0].thickness_at = (struct tuples){2, 3, (double *)read};
    p[0].cork = 0.3;
    p[0].cork_at = (struct tuples){1, 4, (double *)bare};
    p[0].fissure_depth = 1, p[0].fissure_spacing = 12;
    p[1].holding = HOLDING_POCKET, p[1].clearance = 0.4, p[1].cut = 1.5;
    p[2].holding = HOLDING_SEWN, p[2].clearance = 0.4;
    p[3].side = SIDE_OUTER;
    struct making making = {.id = "m"};
    struct makings all = {&making, 1, p, 6, NULL, 0};
    struct as_body_stuff s = stuff;
    s.outer_share = 0.3, s.outer_ratio = 0.1, s.lath_shrinkage = 0.05;
    struct body_sheet sheet;
    check_ok(as_body_sheet(&sheet, &all, "m", &s, NULL, arena, &err), &err);
    assert_int_equal(sheet.layers, 2);
    assert_int_equal(sheet.readings, 2);
    assert_int_equal(sheet.bareds, 1);
    check_near(sheet.layer[1].thickness / (sheet.layer[0].thickness + sheet.layer[1].thickness),
               0.3, 1e-12);
    check_near(sheet.bared[0].value, 0.25, 0);
    check_near(sheet.fissures.depth, 1, 1e-12);
    check_near(sheet.lath[0].play, 0.4 + 0.05 * 2, 1e-12); /* as made and shrunk since */
    check_near(sheet.lath[0].cut, 1.5, 0);
    check_near(sheet.lath[1].play, 0, 0); /* sewn: no pocket */
    /* along: slides, rubs as entered, or as asked; what is sewn stays so */
    assert_true(sheet.lath[0].friction == 0 && sheet.lath[0].gripped == 0);
    assert_true(isinf(sheet.lath[1].gripped));
    p[1].friction = 0.4;
    for (int pull = AS_BODY_AS_MADE; pull <= AS_BODY_HELD; pull++) {
        const struct as_body_change change = {.pull = (enum as_body_pull)pull, .friction = 0.2};
        check_ok(as_body_sheet(&sheet, &all, "m", &s, &change, arena, &err), &err);
        check_near(sheet.lath[0].friction,
                   pull == AS_BODY_AS_MADE   ? 0.4
                   : pull == AS_BODY_RUBBING ? 0.2
                                             : 0,
                   0);
        assert_int_equal(isinf(sheet.lath[0].gripped), pull == AS_BODY_HELD);
        assert_true(isinf(sheet.lath[1].gripped) && sheet.lath[1].friction == 0);
    }
    p[1].friction = NAN;
    check_ok(as_body_sheet(&sheet, &all, "m", &s, NULL, arena, &err), &err);
    assert_int_equal(sheet.rim_form, BODY_RIM_OUTER);
    assert_int_equal(sheet.tie_group, 3);
    /* the whole is as stiff in its plane as asked for */
    double e = (sheet.layer[0].e1 * sheet.layer[0].thickness +
                0.1 * sheet.layer[0].e1 * sheet.layer[1].thickness) /
               (sheet.layer[0].thickness + sheet.layer[1].thickness);
    check_rel(e, 1200, 1e-12);
    p[0].cork = 0; /* scraped: bast alone */
    check_ok(as_body_sheet(&sheet, &all, "m", &s, NULL, arena, &err), &err);
    assert_int_equal(sheet.layers, 1);
    assert_true(sheet.layer[0].e1 > 1200);
    struct body_sheet_model *m;
    struct body_sheet_out out;
    check_ok(body_sheet_new(&m, &sheet, 300, &err), &err);
    check_ok(body_sheet_solve(m, &out, &err), &err);
    body_sheet_free(m);
    s.e_along = 100, s.e_around = 2000; /* as outer bark of birch may be drawn */
    check_ok(as_body_sheet(&sheet, &all, "m", &s, NULL, arena, &err), &err);
    check_ok(body_sheet_new(&m, &sheet, 300, &err), &err);
    body_sheet_free(m);
    s.e_along = stuff.e_along, s.e_around = stuff.e_around;
    check_near(1 / as_body_tie(0.3), 1 / as_body_tie(0) + 0.03, 1e-12);
    /* ties: tight ones hold every way; loose ones pull only, after their way and what slackened;
     * they hold the sheet less, and more than no rim does */
    assert_true(sheet.tie_slack == 0);
    s.rim_slack = 0.5;
    check_ok(as_body_sheet(&sheet, &all, "m", &s, NULL, arena, &err), &err);
    check_near(sheet.tie_stiffness, as_body_tie(0.5), 1e-12);
    s.rim_slack = 0;
    p[5].group = 1;
    double rise[4];
    for (int k = 0; k < 4; k++) { /* tight, just touching, 2 mm of way, no rim */
        const struct as_body_change change = {.no_rim = k == 3};
        p[5].holding = k ? HOLDING_LOOSE : HOLDING_TIED;
        p[5].clearance = k == 2 ? 2 : NAN;
        if (k == 2) s.rim_slack = 0.5;
        check_ok(as_body_sheet(&sheet, &all, "m", &s, &change, arena, &err), &err);
        if (k == 2) check_near(sheet.tie_slack, 2.5, 1e-12);
        if (k == 2) check_near(sheet.tie_stiffness, as_body_tie(0), 1e-12);
        check_ok(body_sheet_new(&m, &sheet, 300, &err), &err);
        check_ok(body_sheet_solve(m, &out, &err), &err);
        rise[k] = out.rise;
        body_sheet_free(m);
    }
    check_note("rise with ties tight %.3f, touching %.3f, 2.5 mm loose %.3f, no rim %.3f mm",
               rise[0], rise[1], rise[2], rise[3]);
    assert_true(rise[0] <= rise[1] + 1e-6 && rise[1] < rise[2] && rise[2] < rise[3]);
    arena_free(arena);
}

/* However many laths a making has, all are there, bent and drawn, in their order. */
static void test_many_laths(void **state) {
    (void)state;
    for (size_t n = 24; n < 150; n += n == 24 ? 16 : 100) {
        struct arena *arena = arena_new();
        struct error err = {0};
        struct part *p = ARENA_NEW(arena, struct part, n + 1), few[5];
        fill(few);
        p[0] = few[0];
        for (size_t i = 1; i <= n; i++) {
            p[i] = few[1];
            p[i].id = arena_printf(arena, "lath.%zu", i);
            p[i].x = -95 + 190 * (double)i / (double)(n + 1);
            p[i].width = 1;
        }
        struct making making = {.id = "m"};
        const struct makings all = {&making, 1, p, n + 1, NULL, 0};
        struct body_sheet sheet;
        struct body_sheet_model *m;
        struct form f;
        check_ok(as_body_sheet(&sheet, &all, "m", &stuff, NULL, arena, &err), &err);
        assert_int_equal(sheet.laths, n);
        check_ok(body_sheet_new(&m, &sheet, 300, &err), &err);
        const double scale[2] = {1, 1};
        check_ok(form_begin(&f, body_sheet_mesh(m), &all, "m", scale, arena, &err), &err);
        assert_int_equal(f.n_parts, n);
        size_t laths, parts;
        body_sheet_parts(m, &laths, &parts);
        assert_int_equal(parts, n);
        for (size_t i = 0; i < n; i++) {
            check_near(sheet.lath[i].from[0], p[i + 1].x, 1e-9);
            assert_string_equal(f.part[i].id, p[i + 1].id);
        }
        const struct as_body_change more = {.lath_count = 2 * n};
        check_ok(as_body_sheet(&sheet, &all, "m", &stuff, &more, arena, &err), &err);
        assert_int_equal(sheet.laths, 2 * n);
        body_sheet_free(m);
        arena_free(arena);
    }
}

static void test_surfaces(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct form f;
    struct error err = {0};
    make(&f, arena);
    assert_int_equal(f.n_parts, 4);
    struct form_surface *s;
    size_t n;
    check_ok(form_surfaces(&s, &n, &f, &f.state[1], arena, &err), &err);
    assert_int_equal(n, 2); /* sheet and grip */
    check_rel(volume(&s[0]), 200 * 100 * 3, 0.01);
    check_ok(form_surfaces(&s, &n, &f, form_state_named(&f, "made"), arena, &err), &err);
    assert_int_equal(n, 5);
    for (size_t i = 0; i < n; i++) {
        assert_true(is_closed(&s[i]));
        assert_true(volume(&s[i]) > 0);
        for (size_t k = 0; k < 3 * s[i].n_points; k++)
            assert_true(isfinite(s[i].points[k]));
    }
    check_rel(volume(&s[1]), 80 * 20 * 2, 0.01);
    check_rel(volume(&s[3]), 120 * 20 * 15, 0.02);
    arena_free(arena);
}

/* Heights of a state: the middle lies at 0 and a sheet that is convex outside falls away from it.
 */
static void test_heights(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct form f;
    make(&f, arena);
    for (size_t i = 0; i < 2; i++) {
        double low = 0, high = 0;
        for (size_t v = 0; v < f.nv; v++) {
            low = fmin(low, f.state[i].x[v][2]);
            high = fmax(high, f.state[i].x[v][2]);
        }
        assert_true(low < -0.05 && high < 1);
        if (i) assert_true(low < -5); /* 100 mm on a stem of 120: about 10 mm */
    }
    arena_free(arena);
}

static void test_there_and_back(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct form f, back;
    struct error err = {0};
    make(&f, arena);
    f.state[1].day = 3;
    f.state[1].moisture = 0.21;
    f.footing = FOOTING_WORKED_OUT;
    json_t *json = form_encode(&f), *again;
    check_ok(form_decode(&back, json, arena, &err), &err);
    again = form_encode(&back);
    assert_true(json_equal(json, again));
    assert_true(back.state[1].without[PART_LATH] && !back.state[0].without[PART_LATH]);
    json_array_remove(json_object_get(json, "flat"), 0);
    assert_int_equal(form_decode(&back, json, arena, &err), ERR_INPUT);
    json_decref(json);
    json_decref(again);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_details), cmocka_unit_test(test_many_laths),
        cmocka_unit_test(test_surfaces), cmocka_unit_test(test_heights),
        cmocka_unit_test(test_there_and_back)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
