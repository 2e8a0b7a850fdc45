/* The outline step takes the original edge of traced bark: in the plan as found as arcs in their
 * place, in a piece's own frame as loose ones. */
#include "project_in_folder.h"

static struct job *tray(const char *name, const char *outlines, struct arena *a) {
    struct error err = {0};
    json_t *report = NULL;
    struct job *job = tray_project(name, a);
    bring_list(job, "outlines.geojson", outlines, strlen(outlines));
    check_ok(job_compute(&report, job, "outline", NULL, NULL, &err), &err);
    json_decref(report);
    return job;
}

/* A piece with 8 sides of edge of an ellipse 520 x 340 from angle `from` on, and a broken back. */
static json_t *piece(const char *id, const char *frame, double from) {
    json_t *ring = json_array(), *survives = json_array();
    enum { SIDES = 8 };
    for (int i = 0; i <= SIDES; i++) {
        double phi = from + 0.9 * i / SIDES;
        json_array_append_new(ring, json_pack("[f,f]", 260 * cos(phi), 170 * sin(phi)));
        json_array_append_new(survives, json_integer(i < SIDES));
    }
    double middle = from + 0.45;
    json_array_append_new(ring, json_pack("[f,f]", 150 * cos(middle), 90 * sin(middle)));
    json_array_append_new(survives, json_integer(0));
    json_array_append(ring, json_array_get(ring, 0));
    return json_pack("{s:s,s:s,s:{s:s,s:s,s:s,s:o},s:{s:s,s:[o]}}", "type", "Feature", "id", id,
                     "properties", "piece", id, "frame", frame, "state", "after treatment",
                     "surviving", survives, "geometry", "type", "Polygon", "coordinates", ring);
}

static char *traced(const char *frame) {
    json_t *all = json_pack("{s:s,s:{s:s,s:s,s:s},s:[o,o]}", "type", "FeatureCollection",
                            "relict:frame", "unit", "mm", "x", "right", "y", "up", "features",
                            piece("A12", frame, 0.3), piece("A14", frame, 3.6));
    char *text = json_dumps(all, 0);
    json_decref(all);
    return text;
}

static const json_t *statement(const json_t *body, const char *id) {
    size_t i;
    const json_t *s;
    json_array_foreach(json_object_get(body, "statements"), i,
                       s) if (strcmp(json_string_value(json_object_get(s, "id")), id) ==
                              0) return s;
    return NULL;
}

static int rests_on(const json_t *s, const char *kind, const char *id) {
    size_t i;
    const json_t *l;
    json_array_foreach(json_object_get(s, "rests_on"), i,
                       l) if (strcmp(json_string_value(json_object_get(l, "kind")), kind) == 0 &&
                              strcmp(json_string_value(json_object_get(l, "id")), id) ==
                                  0) return 1;
    return 0;
}

static double middle_of(const json_t *s) {
    return json_number_value(json_object_get(json_object_get(s, "value"), "p50"));
}

/* The row of the table "pressed" that begins with these words. */
static const json_t *pressed_row(const json_t *body, const char *words) {
    size_t i;
    const json_t *r,
        *t = json_object_get(json_object_get(json_object_get(body, "result"), "tables"), "pressed");
    json_array_foreach(json_object_get(t, "rows"), i,
                       r) if (strncmp(json_string_value(json_array_get(r, 0)), words,
                                      strlen(words)) == 0) return r;
    return NULL;
}

/* What stands beside each other in the curve step: the grip both ways, the count round the edge,
 * and how tight a dome the largest piece allows. */
static void curve_step(struct job *job) {
    struct error err = {0};
    json_t *report, *body;
    check_ok(job_compute(&report, job, "curve", NULL, NULL, &err), &err);
    json_decref(report);
    check_ok(job_result(&body, job, "curve", &err), &err);
    const json_t *dome = statement(body, "curve.pressed.dome");
    assert_non_null(dome);
    /* A12 is 243 x 167.5: as a disc 100.9 mm in radius; strain is rho²/6, of which the table's
     * median for lime is 0.04. */
    check_rel(middle_of(dome), 100.87 / sqrt(6 * 0.04), 0.02);
    assert_true(rests_on(dome, "measure", "A12.length"));
    /* A cone of half angle t lacks 1 - sin t of every circle about its tip. */
    const json_t *within = pressed_row(body, "cone of half angle 75"),
                 *beside = pressed_row(body, "such a cone");
    assert_non_null(within);
    check_near(json_number_value(json_array_get(within, 4)), 100 * (1 - sin(75 * M_PI / 180)),
               0.06);
    assert_true(json_number_value(json_array_get(within, 5)) < 100);
    assert_true(json_number_value(json_array_get(beside, 4)) == 0);
    const json_t *bends = statement(body, "curve.grip.rise"),
                 *stiff = statement(body, "curve.grip.stiff"),
                 *count = statement(body, "seam.count");
    assert_true(rests_on(bends, "statement", "curve.grip.half"));
    /* A34: 92 mm of half a bar, 35 degrees: 184/(2 sin 35°) if stiff. */
    check_rel(middle_of(stiff), 184 / (2 * sin(35 * M_PI / 180)), 0.01);
    assert_true(rests_on(count, "statement", "outline.perimeter"));
    assert_true(middle_of(count) > 65 && middle_of(count) < 95);
    json_decref(body);
}

static void traced_edges_are_evidence(void **state) {
    (void)state;
    static const char *const frames[] = {"own", "as found"};
    struct arena *a = arena_new();
    for (int k = 0; k < 2; k++) {
        struct error err = {0};
        json_t *body;
        char *outlines = traced(frames[k]);
        struct job *job = tray(frames[k], outlines, a);
        check_ok(job_result(&body, job, "outline", &err), &err);
        const json_t *width = statement(body, "outline.width");
        assert_non_null(width);
        assert_true(rests_on(width, "outline", "A12.outline") &&
                    rests_on(width, "outline", "A14.outline"));
        /* Only what lies in the plan as found is inside the outline. */
        assert_int_equal(rests_on(width, "piece", "A12"), k);
        check_note("%s: %.0f wide", frames[k], middle_of(width));
        /* The traced object is 340 wide as treated, and was a few percent wider fresh. */
        assert_true(middle_of(width) > 320 && middle_of(width) < 390);
        json_decref(body);
        if (k == 0) curve_step(job);
        free(outlines);
        job_close(job);
    }
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(traced_edges_are_evidence)};
    return cmocka_run_group_tests(tests, folder_begin, folder_end);
}
