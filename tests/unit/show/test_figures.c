/* Whole drawings: each can be made, says what it shows, is the same twice, and takes unknown
 * numbers. RELICT_PAGES=FOLDER keeps them as PNG and SVG to be looked at. */
#include "plan_sample.h"

#include "show/figures.h"
#include "show/svg.h"

#include "check.h"

static void finish(struct show_drawing *d, const char *name) {
    struct error err = {0};
    struct show_out a = {0}, b = {0};
    check_ok(show_drawing_status(d, &err), &err);
    assert_non_null(show_drawing_title(d));
    assert_non_null(show_drawing_alt(d));
    check_ok(show_svg_write(&a, d, NULL, &err), &err);
    check_ok(show_svg_write(&b, d, NULL, &err), &err);
    assert_string_equal(a.bytes, b.bytes);
    assert_null(strstr(a.bytes, "nan"));
    const char *folder = getenv("RELICT_PAGES");
    if (folder) {
        char path[1024];
        struct show_out png = {0};
        struct show_shaper *shaper = show_shaper_new();
        check_ok(show_png_write(&png, d, 130, SHOW_PRINT, shaper, &err), &err);
        snprintf(path, sizeof path, "%s/fig-%s.png", folder, name);
        check_ok(show_out_save(&png, path, &err), &err);
        snprintf(path, sizeof path, "%s/fig-%s.svg", folder, name);
        check_ok(show_out_save(&a, path, &err), &err);
        show_shaper_free(shaper);
        show_out_deinit(&png);
    }
    show_out_deinit(&a);
    show_out_deinit(&b);
    show_drawing_free(d);
}

static void pair(void **unused) {
    (void)unused;
    struct plan_sample s;
    plan_sample(&s, 1);
    enum { PIECES = 14 };
    struct figure_piece p[PIECES];
    static const double torn[] = {0,   0,   90,  -8,  150, 12,  243, 0,   236, 70,
                                  243, 160, 120, 168, 60,  150, 10,  158, -6,  80};
    static const long surviving[] = {1, 1, 0, 0, 0, 0, 0, 0, 0, 0};
    static const char *const ids[] = {"A01", "A02", "A03", "A04", "A05", "A06", "A07",
                                      "A12", "A13", "A20", "A21", "A22", "A40", "A42"};
    for (int i = 0; i < PIECES; i++)
        p[i] = (struct figure_piece){.id = ids[i],
                                     .length = 70 + 19 * (i * 7 % 11),
                                     .width = i < 7 ? 25 : 14,
                                     .ends = {i % 4, (i + 1) % 4},
                                     .grain = NAN,
                                     .belongs = i == 13 ? 0.3 : 0.99};
    p[7].outline = (struct look_ring){10, torn};
    p[7].surviving = surviving;
    p[13].length = NAN; /* no size: left out */
    struct figure_thread t[9];
    for (size_t i = 0; i < 9; i++)
        t[i] = (struct figure_thread){i, i % 4};
    finish(figure_pair(&(struct figure_pair){.pieces = p,
                                             .n_pieces = PIECES,
                                             .plan = &s.plan,
                                             .threads = t,
                                             .n_threads = 9,
                                             .touched = 2}),
           "pair");
    finish(figure_pair(&(struct figure_pair){.pieces = p,
                                             .n_pieces = PIECES,
                                             .plan = &s.plan,
                                             .threads = t,
                                             .n_threads = 9,
                                             .numbered = true,
                                             .sheet_piece = 7,
                                             .touched = SIZE_MAX}),
           "pair-numbered");
    finish(figure_pair(&(struct figure_pair){.title = "Nothing yet", .touched = SIZE_MAX}),
           "pair-empty");
}

static void outline(void **unused) {
    (void)unused;
    enum { N = 180 };
    double likely[2 * N], low[2 * N], high[2 * N], wl[2 * N], wh[2 * N], rival[2 * N], out[2 * N];
    for (int i = 0; i < N; i++) {
        double t = 2 * M_PI * i / N, w = 3 + 9 * pow(sin(t / 2), 2);
        double x = 260 * copysign(pow(fabs(cos(t)), 2 / 2.6), cos(t));
        double y = 170 * copysign(pow(fabs(sin(t)), 2 / 2.6), sin(t)), r = hypot(x, y);
        for (int k = 0; k < 2; k++) {
            double v = k ? y : x;
            likely[2 * i + k] = v;
            low[2 * i + k] = v * (1 - w / r);
            high[2 * i + k] = v * (1 + w / r);
            wl[2 * i + k] = v * (1 - 1.7 * w / r);
            wh[2 * i + k] = v * (1 + 1.7 * w / r);
        }
        rival[2 * i] = 255 * copysign(pow(fabs(cos(t)), 2 / 4.), cos(t));
        rival[2 * i + 1] = 160 * copysign(pow(fabs(sin(t)), 2 / 4.), sin(t));
        out[2 * i] = 260 * cos(t), out[2 * i + 1] = 170 * sin(t);
    }
    double edge[2 * 20];
    for (int i = 0; i < 20; i++)
        edge[2 * i] = likely[2 * (i + 70)], edge[2 * i + 1] = likely[2 * (i + 70) + 1];
    const struct figure_rival rivals[] = {
        {"rounded rectangle", {N, rival}, 0.31, NULL, 0, 0},
        {"ellipse", {N, out}, 0, "A22.rise", out[120], out[121]},
    };
    const struct look_ring edges[] = {{20, edge}};
    finish(
        figure_outline(&(struct figure_outline){
            .title = "Outline",
            .words =
                "The likely outline with the range of each of its points and, where wider, of the "
                "whole; a rival shape; a shape that is excluded.",
            .band = {N, likely, low, high, wl, wh, true, SHOW_NONE},
            .rivals = rivals,
            .n_rivals = 2,
            .edges = edges,
            .n_edges = 1,
            .footing = FOOTING_WORKED_OUT}),
        "outline");
}

static void section(void **unused) {
    (void)unused;
    enum { N = 41 };
    double likely[2 * N], low[2 * N], high[2 * N];
    for (int i = 0; i < N; i++) {
        double x = -170 + 8.5 * i, z = 0.0011 * x * x;
        likely[2 * i] = low[2 * i] = high[2 * i] = x;
        likely[2 * i + 1] = z, low[2 * i + 1] = 0.7 * z - 2, high[2 * i + 1] = 1.35 * z + 2;
    }
    const double marks[] = {-100, 0, 100};
    finish(figure_section(&(struct figure_section){"Section across the middle",
                                                   "The sheet cut across, with its range.", N,
                                                   likely, low, high, 3.4, marks, 3, 0}),
           "section");
}

static void series(void **unused) {
    (void)unused;
    enum { N = 57 };
    double t[N], m[N], lo[N], hi[N];
    for (int i = 0; i < N; i++)
        t[i] = i, m[i] = 12 + 68 * exp(-i / 9.), lo[i] = m[i] * 0.9 - 1, hi[i] = m[i] * 1.12 + 1;
    const double at[] = {0, 3, 7, 14, 28}, v[] = {81, 60, 42, 27, 15}, pm[] = {2, 2, 2, 2, 1};
    finish(figure_series(&(struct figure_series){"Drying of the sheet",
                                                 "Moisture by day, predicted as a band, "
                                                 "measured as knots.",
                                                 "days", "percent moisture", N, t, m, lo, hi, 5, at,
                                                 v, pm, 0, 0}),
           "series");
}

static void season(void **unused) {
    (void)unused;
    /* Story 5: peel on 1 May of year 3, opening 1 September (days since 1970-01-01 of 2028). */
    const double may1 = 21305, sep1 = may1 + 123;
    const struct figure_job jobs[] = {{"peel", "lime bark", may1, may1 + 2, may1 + 15},
                                      {"make", "the object", may1 + 2, may1 + 12, may1 + 27},
                                      {"dry", "the object", may1 + 12, may1 + 68, may1 + 83},
                                      {"freeze, settle", "the object", may1 + 68, may1 + 96, NAN},
                                      {"fit", "the object", may1 + 96, may1 + 110, NAN}};
    const struct figure_window windows[] = {{"lime bark", may1, may1 + 60},
                                            {"birds nest", may1 - 61, may1 + 122}};
    finish(figure_season(&(struct figure_season){"Season",
                                                 "When what must be done to meet the opening.",
                                                 jobs, 5, windows, 2, sep1, 0}),
           "season");
}

static void numbers(void **unused) {
    (void)unused;
    const struct spread a = {20.1, 20.8, 21.2, 21.6, 21.9, 22.2, 23, 21.6, 0.4};
    struct spread b = a;
    b.p05 = 24, b.p25 = 25, b.p50 = 26, b.p75 = 27.5, b.p95 = 30, b.p005 = NAN, b.p995 = NAN;
    const struct figure_spread rows[] = {{"width of B01, fresh", "21.6 mm (20.8 to 22.2)", &a},
                                         {"width of A01, fresh", NULL, &b}};
    finish(figure_spreads("Widths", rows, 2, 0), "spreads");
    const struct look_share shares[] = {
        {"lath thickness", 0.46}, {"bark stiffness", 0.3}, {"shrinkage", 0.14}, {"the rest", 0.1}};
    const struct figure_rod rods[] = {{"rise", shares, 4}, {"weight", shares, 2}};
    finish(figure_shares("What the curvature hangs on", rods, 2, 0), "shares");
    double p[2 * 21 * 15], v[21 * 15];
    unsigned tri[3 * 2 * 20 * 14], m = 0;
    for (int j = 0; j < 15; j++)
        for (int i = 0; i < 21; i++) {
            int k = j * 21 + i;
            p[2 * k] = 25.0 * i, p[2 * k + 1] = 22.0 * j;
            v[k] = 30 * pow((j - 7) / 7.0, 2) + 4 * pow((i - 10) / 10.0, 2);
            if (i == 20 || j == 14) continue;
            unsigned c[6] = {(unsigned)k, (unsigned)k + 1,  (unsigned)k + 22,
                             (unsigned)k, (unsigned)k + 22, (unsigned)k + 21};
            memcpy(tri + m, c, sizeof c);
            m += 6;
        }
    const struct look_surface s = {21 * 15, m / 3, p, v, tri, 0};
    finish(figure_surface("Height over the table", "mm", &s, 120), "surface");
}

/* The sheet in three stages, one of them flat, one with no cut at all. */
static void stages(void **unused) {
    (void)unused;
    double arc[2 * 30], flat[4] = {0, 0, 300, 0};
    for (int i = 0; i < 30; i++)
        arc[2 * i] = 10.0 * i, arc[2 * i + 1] = 60 * sin(M_PI * i / 29);
    const struct figure_stage list[] = {
        {"Day 1. Take the bark off the stem and keep it damp and flat.",
         "rise 60 mm (40 to 90)",
         {30, 2, 2},
         {arc, flat, flat}},
        {"Day 3. Flatten it.", NULL, {2, 2, 0}, {flat, flat, NULL}},
        {"Day 4. Nothing is known.", NULL, {0, 0, 0}, {NULL, NULL, NULL}}};
    finish(figure_stages(&(struct figure_stages){"Stages", "Three stages.", list, 3, 0}), "stages");
    finish(figure_stages(&(struct figure_stages){"Stages", "None.", NULL, 0, 0}), "stages-none");
}

/* A photograph that is the first thing on a page: cairo 1.16 drops open tags when it is painted as
 * a ground, and then stops the program. PNG and its own bytes in the SVG. */
static void photo(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out png = {0}, pdf = {0}, svg = {0};
    struct show_shaper *shaper = show_shaper_new();
    struct show_drawing *small = show_drawing_new(20, 10), *pages[3];
    show_circle(small, NULL, 10, 5, 4, SHOW_FILL(SHOW_BARK));
    check_ok(show_png_write(&png, small, 72, SHOW_PRINT, shaper, &err), &err);
    assert_true(show_is_png(png.bytes, png.n));
    for (int i = 0; i < 3; i++) {
        pages[i] = show_drawing_new(210, 297);
        show_drawing_name(pages[i], "Photographs", "One.");
        show_group_begin(pages[i], &(struct show_group){.role = SHOW_FIGURE});
        show_photo(pages[i], NULL, 20, 200, 80, 40, png.bytes, i == 2 ? 30 : png.n);
        show_group_end(pages[i]);
        show_text(pages[i], NULL, 20, 100, LOOK_SECOND, "after it");
    }
    const struct show_pdf_options o = {.title = "Photographs", .theme = SHOW_PRINT};
    check_ok(show_pdf_write(&pdf, (const struct show_drawing *const *)pages, 3, &o, shaper, &err),
             &err);
    check_ok(show_svg_write(&svg, pages[0], NULL, &err), &err);
    assert_non_null(strstr(svg.bytes, "data:image/png;base64,"));
    for (int i = 0; i < 3; i++)
        show_drawing_free(pages[i]);
    show_drawing_free(small);
    show_shaper_free(shaper);
    show_out_deinit(&png);
    show_out_deinit(&pdf);
    show_out_deinit(&svg);
}

/* Every glyph once, to be looked at. */
static void glyphs(void **unused) {
    (void)unused;
    struct show_drawing *d = show_drawing_new(120, 60);
    show_drawing_name(d, "Glyphs", "All signs.");
    for (int i = 0; i < 5; i++)
        look_footing_glyph(d, 8 + 10 * i, 52, 6, i);
    for (int i = 0; i < 3; i++)
        look_face_glyph(d, 8 + 10 * i, 40, 6, i);
    for (int i = 0; i < 4; i++)
        look_end_glyph(d, 8 + 10 * i, 28, 6, i);
    for (int i = 0; i < 3; i++)
        look_verdict_glyph(d, 8 + 10 * i, 16, 6, (enum look_verdict)i);
    look_bark_side_glyph(d, 60, 52, 6, true);
    look_bark_side_glyph(d, 72, 52, 6, false);
    look_grain(d, 60, 40, 25, 0.4);
    const enum look_step steps[9] = {LOOK_HOLDS, LOOK_HOLDS, LOOK_IN_DOUBT, LOOK_CAN_START};
    look_tally(d, 100, 56, 5.5, steps, NULL, 2, false);
    for (int i = 0; i < 5; i++) {
        const double b[] = {52.0 + 9 * i, 4, 60.0 + 9 * i, 4, 60.0 + 9 * i, 30, 52.0 + 9 * i, 30};
        look_fill(d, NULL, (struct look_ring){4, b}, NULL, 0, i, 0.5);
    }
    finish(d, "glyphs");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pair),   cmocka_unit_test(outline), cmocka_unit_test(section),
        cmocka_unit_test(series), cmocka_unit_test(season),  cmocka_unit_test(numbers),
        cmocka_unit_test(stages), cmocka_unit_test(photo),   cmocka_unit_test(glyphs)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
