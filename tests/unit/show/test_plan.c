/* The 1:1 plan: tiling, seams, factor, refusals, DXF read again by a strict reader, same bytes. */
#include "plan_sample.h"

#include "check.h"

struct bench {
    struct arena *arena;
    struct show_shaper *shaper;
    struct error err;
};

static void setup(struct bench *s) {
    *s = (struct bench){.arena = arena_new(), .shaper = show_shaper_new()};
}

static void done(struct bench *s) {
    arena_free(s->arena);
    show_shaper_free(s->shaper);
}

static void make_pdf(struct show_out *out, struct bench *s, const struct show_plan *plan,
                     const struct plan_options *o) {
    struct show_drawing **pages;
    size_t n;
    check_ok(plan_pages(&pages, &n, plan, o, s->shaper, s->arena, &s->err), &s->err);
    const struct show_pdf_options p = {.title = "Plan", .theme = SHOW_PRINT};
    check_ok(
        show_pdf_write(out, (const struct show_drawing *const *)pages, n, &p, s->shaper, &s->err),
        &s->err);
    for (size_t i = 0; i < n; i++)
        show_drawing_free(pages[i]);
}

/* Story 7: 99.2 mm for 100 mm is a factor 1.0081; unmended, 4.2 mm short over 520. */
static void factor(void **unused) {
    (void)unused;
    struct error err = {0};
    double f;
    check_ok(plan_factor(&f, 99.2, 520, &err), &err);
    check_near(f, 1.0081, 0.00005);
    check_near(520 - 520 / f, 4.2, 0.05);
    check_ok(plan_factor(&f, 99.95, 520, &err), &err);
    check_near(f, 1, 0);
    assert_int_equal(plan_factor(&f, 94, 520, &err), ERR_REFUSED);
    assert_non_null(strstr(err.message, "31.2 mm short"));
    assert_int_equal(plan_factor(&f, -3, 520, &err), ERR_RANGE);
    assert_int_equal(plan_factor(&f, NAN, 520, &err), ERR_RANGE);
}

/* What is laid out by points each 3 degrees is cut as a curve: on a circle no place of the line is
 * more than 0.05 mm off it (the polygon is 0.05 mm at 140 mm, 0.34 mm at 1 m); given points stay; a
 * square and an open line with a corner keep their corners; two points and twice the same do no
 * harm. Circle: plane geometry, no source needed. */
static void smooth(void **unused) {
    (void)unused;
    enum { N = 120, ROOM = 4000 };
    static double ring[2 * N], out[2 * ROOM];
    for (double radius = 140; radius < 1200; radius += 860) {
        for (int i = 0; i < N; i++) {
            ring[2 * i] = radius * cos(2 * M_PI * i / N);
            ring[2 * i + 1] = radius * sin(2 * M_PI * i / N);
        }
        size_t n = plan_smooth(NULL, SIZE_MAX, N, ring, true);
        assert_int_equal(plan_smooth(out, ROOM, N, ring, true), n);
        assert_true(n > N && n < 10 * N);
        double worst = 0;
        for (size_t i = 0; i < n; i++) {
            const double *a = out + 2 * i, *b = out + 2 * ((i + 1) % n);
            worst = fmax(worst, fabs(hypot((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) - radius));
            worst = fmax(worst, fabs(hypot(a[0], a[1]) - radius));
        }
        check_note("circle of radius %.0f mm from %d points: %zu points, within %.3f mm", radius, N,
                   n, worst);
        assert_true(worst < 0.05);
        for (size_t k = 0; k < N; k++) {
            bool there = false;
            for (size_t i = 0; i < n; i++)
                there |= !memcmp(out + 2 * i, ring + 2 * k, 2 * sizeof *out);
            assert_true(there);
        }
    }
    const double square[] = {0, 0, 100, 0, 100, 100, 0, 100}, open[] = {0, 0, 50, 0, 50, 50},
                 twice[] = {0, 0, 10, 1, 10, 1, 20, 4, 30, 9};
    assert_int_equal(plan_smooth(out, ROOM, 4, square, true), 4);
    assert_memory_equal(out, square, sizeof square);
    assert_int_equal(plan_smooth(out, ROOM, 3, open, false), 3);
    assert_memory_equal(out, open, sizeof open);
    assert_int_equal(plan_smooth(out, ROOM, 2, square, false), 2);
    size_t n = plan_smooth(out, ROOM, 5, twice, false);
    for (size_t i = 0; i < 2 * n; i++)
        assert_true(isfinite(out[i]));
    assert_memory_equal(out + 2 * (n - 1), twice + 8, 2 * sizeof *out);
}

/* Tiles cover the whole plan, and neighbours share exactly the overlap. */
static void tiles(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct error err = {0};
    double box[4];
    plan_box(box, &s.plan);
    check_near(box[2] - box[0], 520, 1e-9);
    for (int paper = PLAN_A4; paper <= PLAN_LETTER; paper++) {
        struct plan_tiling t;
        struct plan_options o = {.paper = (enum plan_paper)paper};
        check_ok(plan_tile(&t, &s.plan, &o, &err), &err);
        double x2 = t.x + (double)t.columns * (t.window_width - t.overlap) + t.overlap;
        double y2 = t.y + (double)t.rows * (t.window_height - t.overlap) + t.overlap;
        assert_true(t.x <= box[0] && t.y <= box[1] && x2 >= box[2] && y2 >= box[3]);
        assert_true(t.columns * t.rows > 1);
    }
}

/* A roll that is too narrow is refused with the width it needs; a wide one takes one page. */
static void roll(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct error err = {0};
    struct plan_tiling t;
    struct plan_options o = {.paper = PLAN_ROLL, .roll_width = 300};
    assert_int_equal(plan_tile(&t, &s.plan, &o, &err), ERR_REFUSED);
    assert_non_null(strstr(err.message, "376 mm wide"));
    assert_non_null(strstr(err.remedy, "A3"));
    o.roll_width = 420;
    check_ok(plan_tile(&t, &s.plan, &o, &err), &err);
    assert_int_equal(t.columns * t.rows, 1);
    check_near(t.sheet_height, 420, 1e-9);
    plan_sample(&s, 10);
    o.roll_width = 4000;
    assert_int_equal(plan_tile(&t, &s.plan, &o, &err), ERR_REFUSED);
}

/* No two seams spell the same row; both sheets of one seam do. */
static void nicks(void **unused) {
    (void)unused;
    double a[400], b[400];
    for (unsigned i = 1; i < 200; i++) {
        size_t n = plan_nicks(a, 400, i, 180);
        assert_int_equal(n, plan_nicks(b, 400, i, 180));
        assert_memory_equal(a, b, n * sizeof *a);
        for (unsigned j = i + 1; j < 200; j++) {
            size_t m = plan_nicks(b, 400, j, 180);
            assert_true(m != n || memcmp(a, b, n * sizeof *a));
        }
        for (size_t k = 1; k < n; k++)
            assert_true(a[k] - a[k - 1] > 1.5);
    }
}

/* The nicks of a seam, as drawn on its two sheets, lie at the same places of the plan. */
static void seams_match(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct bench st;
    setup(&st);
    struct show_drawing **pages;
    size_t n, seen = 0;
    struct plan_options o = {.paper = PLAN_A4};
    struct plan_tiling t;
    check_ok(plan_tile(&t, &s.plan, &o, &st.err), &st.err);
    check_ok(plan_pages(&pages, &n, &s.plan, &o, st.shaper, st.arena, &st.err), &st.err);
    struct found {
        const struct show_step *steps;
        size_t n;
        double dx, dy;
    } first[100] = {0};
    for (size_t p = 0; p < n; p++) {
        size_t count, row = t.rows - 1 - p / t.columns, column = p % t.columns;
        const struct show_op *ops = show_drawing_ops(pages[p], &count);
        for (size_t i = 0; i < count; i++) {
            unsigned k;
            if (!ops[i].id || sscanf(ops[i].id, "seam-%u", &k) != 1) continue;
            struct found f = {show_drawing_steps(pages[p]) + ops[i].first, ops[i].n,
                              (double)column * (t.window_width - t.overlap),
                              (double)row * (t.window_height - t.overlap)};
            if (!first[k].steps) {
                first[k] = f;
                continue;
            }
            seen++;
            assert_int_equal(f.n, first[k].n);
            for (size_t j = 0; j < f.n; j++) {
                check_near(f.steps[j].xy[0] + f.dx, first[k].steps[j].xy[0] + first[k].dx, 1e-9);
                check_near(f.steps[j].xy[1] + f.dy, first[k].steps[j].xy[1] + first[k].dy, 1e-9);
            }
        }
    }
    assert_int_equal(seen, t.rows * (t.columns - 1) + t.columns * (t.rows - 1));
    for (size_t i = 0; i < n; i++)
        show_drawing_free(pages[i]);
    done(&st);
}

/* Same plan, same bytes; a different factor, other bytes. */
static void same_bytes(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct bench st;
    setup(&st);
    struct show_out a = {0}, b = {0}, c = {0};
    make_pdf(&a, &st, &s.plan, &(struct plan_options){.paper = PLAN_A3});
    make_pdf(&b, &st, &s.plan, &(struct plan_options){.paper = PLAN_A3});
    make_pdf(&c, &st, &s.plan, &(struct plan_options){.paper = PLAN_A3, .measured_x = 99.2});
    assert_int_equal(a.n, b.n);
    assert_memory_equal(a.bytes, b.bytes, a.n);
    assert_true(c.n != a.n || memcmp(a.bytes, c.bytes, a.n));
    show_out_deinit(&a);
    show_out_deinit(&b);
    show_out_deinit(&c);
    done(&st);
}

/* ---- a strict reader of DXF R12: pairs of group code and value, nothing else ---- */

struct dxf {
    const char *at;
    int code;
    char value[128];
};

static bool dxf_next(struct dxf *d) {
    if (!*d->at) return false;
    char *end;
    long code = strtol(d->at, &end, 10);
    assert_true(end != d->at && end[0] == '\r' && end[1] == '\n');
    const char *line = end + 2, *stop = strstr(line, "\r\n");
    assert_non_null(stop);
    assert_true((size_t)(stop - line) < sizeof d->value);
    memcpy(d->value, line, (size_t)(stop - line));
    d->value[stop - line] = 0;
    d->code = (int)code;
    d->at = stop + 2;
    return true;
}

static void dxf(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct error err = {0};
    struct show_out o = {0};
    check_ok(plan_dxf(&o, &s.plan, &err), &err);
    struct dxf d = {.at = o.bytes};
    int polylines = 0, vertices = 0, circles = 0, lines = 0, version = 0, ends = 0, knife = 0;
    char entity[128] = "", layer[128] = "";
    double x = 0, longest = 0, shortest = 0;
    while (dxf_next(&d)) {
        if (d.code == 0) {
            strcpy(entity, d.value);
            polylines += !strcmp(entity, "POLYLINE");
            vertices += !strcmp(entity, "VERTEX");
            circles += !strcmp(entity, "CIRCLE");
            lines += !strcmp(entity, "LINE");
            ends += !strcmp(entity, "EOF");
        }
        version += d.code == 1 && !strcmp(d.value, "AC1009");
        if (d.code == 8) strcpy(layer, d.value);
        if (d.code == 8 && !strcmp(entity, "POLYLINE")) knife += !strcmp(layer, "KNIFE");
        if (d.code == 10) x = strtod(d.value, NULL);
        if (d.code == 10 && !strcmp(entity, "VERTEX") && !strcmp(layer, "KNIFE")) {
            longest = fmax(longest, x);
            shortest = fmin(shortest, x);
        }
        if (d.code == 11 && !strcmp(layer, "AWL")) check_near(strtod(d.value, NULL) - x, 100, 1e-3);
    }
    assert_int_equal(version, 1);
    assert_int_equal(ends, 1);
    assert_int_equal(knife, 1);
    assert_int_equal(polylines, 6); /* two outlines, three laths, one rim */
    assert_int_equal(vertices, 3 * SAMPLE_POINTS + 6);
    assert_int_equal(circles, SAMPLE_HOLES);
    assert_int_equal(lines, 7); /* six slits and the 100 mm line */
    check_near(longest - shortest, 520, 1e-3);
    show_out_deinit(&o);
}

/* Nothing to draw, and a point that is no number, are told and not drawn. */
static void refused(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    struct show_plan empty = {0};
    assert_int_equal(plan_svg(&o, &empty, &err), ERR_MISSING);
    assert_int_equal(plan_dxf(&o, &empty, &err), ERR_MISSING);
    struct show_drawing *d = show_drawing_new(10, 10);
    show_segment(d, 0, 0, NAN, 1, SHOW_LINE(SHOW_INK, 1));
    assert_int_equal(show_drawing_status(d, &err), ERR_RANGE);
    show_drawing_free(d);
    show_out_deinit(&o);
}

/* RELICT_PAGES=FOLDER writes what the tests draw, to be looked at. */
static void keep_pages(void **unused) {
    (void)unused;
    const char *folder = getenv("RELICT_PAGES");
    if (!folder) return;
    struct plan_sample s;
    plan_sample(&s, 1);
    struct bench st;
    setup(&st);
    struct show_out o = {0};
    char path[1024];
    make_pdf(&o, &st, &s.plan, &(struct plan_options){.paper = PLAN_A4});
    snprintf(path, sizeof path, "%s/plan-a4.pdf", folder);
    check_ok(show_out_save(&o, path, &st.err), &st.err);
    show_out_deinit(&o);
    make_pdf(&o, &st, &s.plan, &(struct plan_options){.paper = PLAN_ROLL, .roll_width = 610});
    snprintf(path, sizeof path, "%s/plan-roll.pdf", folder);
    check_ok(show_out_save(&o, path, &st.err), &st.err);
    show_out_deinit(&o);
    check_ok(plan_svg(&o, &s.plan, &st.err), &st.err);
    snprintf(path, sizeof path, "%s/plan.svg", folder);
    check_ok(show_out_save(&o, path, &st.err), &st.err);
    show_out_deinit(&o);
    done(&st);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(factor),     cmocka_unit_test(smooth), cmocka_unit_test(tiles),
        cmocka_unit_test(roll),       cmocka_unit_test(nicks),  cmocka_unit_test(seams_match),
        cmocka_unit_test(same_bytes), cmocka_unit_test(dxf),    cmocka_unit_test(refused),
        cmocka_unit_test(keep_pages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
