/* How fast the error falls with the mesh: plates of known answer on grids of 8, 16 and 32 cells,
 * plain and smoothed membrane, even and jittered; the order is that of a second-order method. */
#include "body/body_methods.h"

#include "check.h"

static double middle(const char *file, int n, double jitter, const char *membrane) {
    char path[512];
    snprintf(path, sizeof path, "tests/against/body/cases/%s", file);
    json_t *all = json_load_file(check_source_path(path), 0, NULL), *out = NULL;
    assert_non_null(all);
    json_t *c = json_object_get(all, "case"), *g = json_object_get(c, "geometry");
    json_object_set_new(g, "divide_u", json_integer(n));
    json_object_set_new(g, "divide_v", json_integer(n));
    json_object_set_new(g, "jitter", json_real(jitter));
    json_object_set_new(g, "diagonals", json_string(jitter > 0 ? "random" : "alternating"));
    json_object_set_new(c, "membrane", json_string(membrane));
    struct error err = {0};
    const struct method *shell = NULL;
    for (size_t i = 0; i < body_methods.n; i++)
        if (strcmp(body_methods.v[i]->name, "shell") == 0) shell = body_methods.v[i];
    check_ok(method_run(&out, shell, c, &err), &err);
    json_t *step = json_array_get(json_object_get(out, "steps"), 0);
    json_t *answer = json_array_get(json_object_get(step, "answers"), 0);
    double w = json_number_value(json_array_get(json_object_get(answer, "values"), 2));
    double want = json_number_value(
        json_object_get(json_array_get(json_object_get(all, "checks"), 0), "want"));
    json_decref(out);
    json_decref(all);
    return w / want - 1;
}

static void test_order(void **state) {
    (void)state;
    const char *files[] = {"01_plate_supported.json", "02_plate_clamped.json"};
    for (int f = 0; f < 2; f++)
        for (int kind = 0; kind < 2; kind++) {
            double e[3];
            for (int k = 0; k < 3; k++)
                e[k] = middle(files[f], 8 << k, 0, kind ? "smoothed" : "plain");
            check_note("%s %s: errors %.3f %.3f %.3f %%, orders %.2f %.2f", files[f],
                       kind ? "smoothed" : "plain", 100 * e[0], 100 * e[1], 100 * e[2],
                       log2(fabs(e[0] / e[1])), log2(fabs(e[1] / e[2])));
            check_from(CHECK_EXACT,
                       "second-order element: order of convergence 2 on plates of known answer");
            check_about("%s, %s membrane", files[f], kind ? "smoothed" : "plain");
            check_between(log2(fabs(e[0] / e[1])), 1.6, INFINITY);
            check_between(log2(fabs(e[1] / e[2])), 1.6, INFINITY);
        }
    double rough = fabs(middle(files[1], 8, 0.25, "plain")),
           fine = fabs(middle(files[1], 32, 0.25, "plain"));
    check_note("jittered clamped plate: %.3f and %.3f %%, order %.2f", 100 * rough, 100 * fine,
               log2(rough / fine) / 2);
    check_about("jittered clamped plate");
    check_between(log2(rough / fine) / 2, 1.5, INFINITY);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_order)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
