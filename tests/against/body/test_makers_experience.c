/* Makers' experience beside what the program computes: common practice, no source. Each sweep is
 * printed with whether the two agree; nothing is tuned and a disagreement fails nothing. */
#include "body/sheet.h"
#include "job/methods.h"
#include "stuff/bark.h"
#include "stuff/material.h"

#include "check.h"

#include <jansson.h>

static json_t *ask(const char *method, json_t *in) {
    struct error err = {0};
    const struct method *m = job_method_find(method, &err);
    json_t *out = NULL;
    assert_non_null(m);
    check_ok(method_run(&out, m, in, &err), &err);
    json_decref(in);
    return out;
}

/* The example of a method, with one number set. */
static json_t *example(const char *method, const char *field, double v) {
    struct error err = {0};
    const struct method *m = job_method_find(method, &err);
    assert_non_null(m);
    json_t *in = json_loads(m->example, 0, NULL);
    if (field) json_object_set_new(in, field, json_real(v));
    return in;
}

static double get(const json_t *out, const char *name) {
    double v = json_number_value(json_object_get(out, name));
    return v;
}

/* sign 1: makers say it grows; -1: it falls. */
static void tell(const char *rule, const char *what, const double *x, const double *y, size_t n,
                 int sign) {
    char text[400];
    int at = 0, agrees = 1;
    for (size_t i = 0; i < n; i++) {
        at +=
            snprintf(text + at, sizeof text - (size_t)at, "%s%g: %.4g", i ? ", " : "", x[i], y[i]);
        agrees &= i == 0 || sign * (y[i] - y[i - 1]) > 0;
    }
    char whole[600];
    snprintf(whole, sizeof whole, "%s: %s", what, text);
    check_experience(rule, whole, agrees);
}

/* ---- laths: the curled sheet of cases/14 ------------------------------------------------------
 */

static double curl(double thickness, double share, size_t laths) {
    json_t *all = json_load_file(
        check_source_path("tests/against/body/cases/14_tray_laths_5mm.json"), 0, NULL);
    json_t *c = json_incref(json_object_get(all, "case")), *list = json_object_get(c, "laths"), *l;
    json_decref(all);
    json_object_set_new(json_object_get(c, "geometry"), "triangles", json_integer(600));
    json_object_del(json_object_get(c, "geometry"), "points");
    while (json_array_size(list) > laths)
        json_array_remove(list, json_array_size(list) - 1);
    size_t i;
    json_array_foreach(list, i, l) {
        json_object_set_new(l, "thickness", json_real(thickness));
        static const char *const ends[] = {"from", "to"};
        for (int k = 0; k < 2; k++) {
            json_t *end = json_object_get(l, ends[k]);
            json_array_set_new(end, 1,
                               json_real(share * json_number_value(json_array_get(end, 1))));
        }
    }
    json_t *k = json_pack("[{s:s,s:s}]", "name", "k", "what", "mean_curvature");
    json_object_set_new(c, "ask", k);
    json_t *out = ask("shell", c);
    json_t *answer = json_array_get(
        json_object_get(json_array_get(json_object_get(out, "steps"), 0), "answers"), 0);
    double v = json_number_value(json_array_get(json_object_get(answer, "values"), 1));
    json_decref(out);
    return 180 * v; /* 1: as curled as the sheet alone */
}

static void laths(void **state) {
    (void)state;
    double t[] = {1, 2, 3, 4, 6}, y[5], share[] = {0.4, 0.7, 1}, n[] = {0, 1, 3, 5};
    for (int i = 0; i < 5; i++)
        y[i] = curl(t[i], 1, 5);
    tell("thicker laths leave less curl", "remaining share of the curl at laths of mm", t, y, 5,
         -1);
    for (int i = 0; i < 3; i++)
        y[i] = curl(4, share[i], 5);
    tell("longer laths leave less curl", "remaining share at laths of share of the width", share, y,
         3, -1);
    for (int i = 0; i < 4; i++)
        y[i] = curl(4, 1, (size_t)n[i]);
    tell("more laths leave less curl", "remaining share at a number of laths", n, y, 4, -1);
}

/* ---- ties, pegs, stitches ---------------------------------------------------------------------
 */

static void ties_and_stitches(void **state) {
    (void)state;
    double apart[] = {50, 100, 150, 200}, y[4];
    for (int i = 0; i < 4; i++) {
        json_t *out = ask("knock", example("knock", "spacing", apart[i]));
        y[i] = get(out, "push");
        json_decref(out);
    }
    tell("ties further apart let go sooner", "push in N at ties of mm apart", apart, y, 4, -1);
    json_t *alone = ask("knock", example("knock", NULL, 0)),
           *in = example("knock", "peg_load", 400);
    json_object_set_new(in, "peg_load_p05", json_real(200));
    json_object_set_new(in, "peg_load_p95", json_real(800));
    json_object_set_new(in, "peg_spacing", json_real(160));
    json_t *pegged = ask("knock", in);
    double with[] = {0, 1}, load[] = {get(alone, "push"), get(pegged, "push")};
    json_decref(alone);
    json_decref(pegged);
    tell("pegs beside the ties bear a harder push", "push in N without (0) and with (1) pegs", with,
         load, 2, 1);
    /* The same number of stitches in the same length, one in 18 mm: groups stand 9 mm apart within,
     * so the larger the group the wider the gap after it. */
    double group[] = {1, 2, 3, 6}, held[4];
    for (int i = 0; i < 4; i++) {
        double n = group[i];
        json_t *row = example("hole-row", "group", n);
        if (n > 1) json_object_set_new(row, "pitch", json_real(9));
        if (n > 1) json_object_set_new(row, "gap", json_real(18 * n - 9 * (n - 1)));
        json_t *out = ask("hole-row", row);
        held[i] = get(out, "load");
        json_decref(out);
    }
    tell("stitches in larger groups tear out sooner than even ones",
         "load in N/mm in groups of, as many stitches as one in 18 mm", group, held, 4, -1);
}

/* ---- stems and moisture -----------------------------------------------------------------------
 */

static void stems(void **state) {
    (void)state;
    double width[] = {150, 250, 340, 450}, y[4];
    for (int i = 0; i < 4; i++) {
        json_t *out = ask("sheet-from-stem", example("sheet-from-stem", "around", width[i]));
        y[i] = get(json_array_get(json_object_get(out, "routes"), 0), "diameter");
        json_decref(out);
    }
    tell("a wider sheet wants a thicker stem", "diameter in mm for a sheet of mm", width, y, 4, 1);
    for (int i = 0; i < 4; i++) {
        json_t *out = ask("wound-closing", json_pack("{s:f}", "width", width[i]));
        y[i] = get(out, "usual");
        json_decref(out);
    }
    tell("a wider wound (a larger share of the girth) closes later", "years for a wound of mm",
         width, y, 4, 1);
    json_t *out = ask("bending", example("bending", NULL, 0));
    json_t *tries = json_object_get(out, "tries");
    double wet[] = {0, 1, 2}, cracks[3] = {NAN, NAN, NAN};
    static const char *const states[] = {"dry", "fresh", "soaked"};
    size_t i;
    json_t *one;
    json_array_foreach(tries, i,
                       one) for (int k = 0; k < 3;
                                 k++) if (strcmp(json_string_value(json_object_get(one, "state")),
                                                 states[k]) == 0) cracks[k] = get(one, "cracks");
    json_decref(out);
    tell("what is dry cracks where damp bends", "% that crack, dry (0), fresh (1), soaked (2)", wet,
         cracks, 3, -1);
}

/* ---- whole sheets ---------------------------------------------------------------------------- */

enum { OUTLINE = 120 };

/* The sheet of cases/14 with a tied rim, its ties so far apart; cork on the outer face of which a
 * share is left. */
static struct body_sheet_out sheet(double apart, double left) {
    struct error err = {0};
    double xy[2 * OUTLINE];
    for (int i = 0; i < OUTLINE; i++) {
        double t = 2 * M_PI * i / OUTLINE, c = cos(t), s = sin(t);
        xy[2 * i] = 350 * copysign(pow(fabs(c), 0.8), c);
        xy[2 * i + 1] = 175 * copysign(pow(fabs(s), 0.8), s);
    }
    const struct body_sheet_place area = {.radius = 1000, .value = left};
    struct body_sheet s = {.outline = {xy, OUTLINE},
                           .layers = 2,
                           .curvature = {0, -1.0 / 180, 0},
                           .bared = &area,
                           .bareds = 1};
    s.layer[0] = (struct body_ply){
        .e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = 4.2, .density = 6e-4};
    s.layer[1] = (struct body_ply){
        .e1 = 45, .e2 = 45, .nu12 = 0.2, .g12 = 18, .thickness = 1.8, .density = 3e-4};
    if (apart > 0) {
        s.rim = BODY_RIM_TIED;
        s.rim_diameter = 12;
        s.rim_e = 9000;
        s.rim_g = 500;
        s.rim_density = 6e-4;
        s.rim_set = 1;
        s.tie_every = apart;
        s.tie_stiffness = 200;
    }
    struct body_sheet_model *m;
    struct body_sheet_out out;
    check_ok(body_sheet_new(&m, &s, 600, &err), &err);
    check_ok(body_sheet_solve(m, &out, &err), &err);
    body_sheet_free(m);
    return out;
}

static void whole_sheets(void **state) {
    (void)state;
    double apart[] = {50, 100, 150, 200}, left[] = {0, 0.5, 1}, y[4], stiff[3];
    for (int i = 0; i < 4; i++)
        y[i] = sheet(apart[i], 1).edge_lift;
    tell("with ties further apart the edge lifts more", "edge lift in mm at ties of mm apart",
         apart, y, 4, 1);
    for (int i = 0; i < 3; i++) {
        struct body_sheet_out out = sheet(0, left[i]);
        y[i] = out.mass;
        stiff[i] = out.stiffness;
    }
    tell("cork kept weighs more", "weight in g at share of the cork left", left, y, 3, 1);
    tell("cork kept stiffens", "N/mm under a hand at share of the cork left", left, stiff, 3, 1);
}

/* The outer bark of the tables is as deep as fissures can go. */
static void thick_stems(void **state) {
    (void)state;
    struct error err = {0};
    struct stuff_shelf *shelf;
    double d[] = {150, 300, 450}, width[3], depth[3], around[3];
    check_ok(stuff_shelf_new(&shelf, &err), &err);
    for (int i = 0; i < 3; i++) {
        struct stuff_prior t, share;
        struct stuff_fissured left;
        struct stuff_ask ask = stuff_ask("lime bark", STUFF_OUTER_SHARE);
        ask.direction = STUFF_THROUGH;
        check_ok(stuff_bark_thickness(&t, shelf, "lime bark", d[i], &err), &err);
        check_ok(stuff_material_prior(&share, shelf, &ask, &err), &err);
        width[i] = M_PI * (d[i] - t.median);
        depth[i] = share.median * t.median;
        struct stuff_fissures f = {.depth = depth[i], .spacing = 15, .width = 3};
        check_ok(stuff_bark_fissured(&left, t.median, &f, &err), &err);
        around[i] = t.median * left.tension_around;
    }
    tell("a thicker stem gives a wider sheet", "whole width in mm at a stem of mm", d, width, 3, 1);
    tell("a thicker stem has deeper fissures",
         "mm of outer bark, all a fissure can be, at a stem of "
         "mm",
         d, depth, 3, 1);
    tell("its sheet is still the stronger across, between fissures to the bast",
         "mm that carry at a stem of mm", d, around, 3, 1);
    stuff_shelf_free(shelf);
}

static void soaked_and_dried(void **state) {
    (void)state;
    json_t *out = ask("strip", json_pack("{s:s,s:i,s:i,s:i,s:i,s:[{s:i,s:i},{s:i,s:i},{s:i}]}",
                                         "material", "lime bark", "thickness", 5, "width", 120,
                                         "stem", 180, "days", 63, "air", "until", 21, "humidity",
                                         55, "until", 42, "humidity", 98, "humidity", 55));
    json_t *days = json_object_get(out, "days");
    const size_t at[4] = {0, 21, 42, 63};
    double when[4], bend[4], wide[4];
    for (int i = 0; i < 4; i++) {
        json_t *day = json_array_get(days, at[i]);
        when[i] = (double)at[i];
        bend[i] = 1000 * get(day, "curvature");
        wide[i] = get(day, "width");
    }
    json_decref(out);
    tell("a strip curls up as it dries", "curl in 1/m at day", when, bend, 2, 1);
    tell("soaked it opens again", "curl in 1/m at day", when + 1, bend + 1, 2, -1);
    tell("dried again it curls up again", "curl in 1/m at day", when + 2, bend + 2, 2, 1);
    tell("it shrinks across as it dries", "width in mm at day", when, wide, 2, -1);
    tell("soaked it swells", "width in mm at day", when + 1, wide + 1, 2, 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(laths),       cmocka_unit_test(ties_and_stitches),
        cmocka_unit_test(stems),       cmocka_unit_test(whole_sheets),
        cmocka_unit_test(thick_stems), cmocka_unit_test(soaked_and_dried)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
