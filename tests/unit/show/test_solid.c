/* GLB, PLY, STL read back byte by byte: sizes, padding, true size in metres, y up, volume. */
#include "show/solid.h"

#include "check.h"

#include <jansson.h>

/* A box 520 x 340 x 4 mm, closed, outward, in two parts of which the second is a lath. */
static const double box[8 * 3] = {0, 0, 0, 520, 0, 0, 520, 340, 0, 0, 340, 0,
                                  0, 0, 4, 520, 0, 4, 520, 340, 4, 0, 340, 4};
static const uint32_t faces[12 * 3] = {0, 2, 1, 0, 3, 2, 4, 5, 6, 4, 6, 7, 0, 1, 5, 0, 5, 4,
                                       1, 2, 6, 1, 6, 5, 2, 3, 7, 2, 7, 6, 3, 0, 4, 3, 4, 7};
static const struct solid_part parts[] = {
    {"sheet.1", "sheet <\"1\">", 1, "outline.length", 8, 12, box, faces},
    {"lath.1", NULL, 3, NULL, 8, 12, box, faces},
};
static const struct solid solid = {"Sample & co", "invented", parts, 2};

static uint32_t u32(const char *p) {
    uint32_t v;
    memcpy(&v, p, 4);
    return v;
}

static double f32(const char *p) {
    float v;
    memcpy(&v, p, 4);
    return v;
}

static void glb(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    check_ok(solid_glb(&o, &solid, &err), &err);
    assert_memory_equal(o.bytes, "glTF\2\0\0\0", 8);
    assert_int_equal(u32(o.bytes + 8), o.n);
    uint32_t json_length = u32(o.bytes + 12);
    assert_int_equal(json_length % 4, 0);
    assert_memory_equal(o.bytes + 16, "JSON", 4);
    json_error_t why;
    json_t *j = json_loadb(o.bytes + 20, json_length, JSON_REJECT_DUPLICATES, &why);
    assert_non_null(j);
    const char *bin = o.bytes + 20 + json_length;
    assert_memory_equal(bin + 4, "BIN\0", 4);
    assert_int_equal(u32(bin),
                     json_integer_value(json_object_get(
                         json_array_get(json_object_get(j, "buffers"), 0), "byteLength")));
    json_t *position = json_array_get(json_object_get(j, "accessors"), 0);
    json_t *high = json_object_get(position, "max"), *low = json_object_get(position, "min");
    check_near(json_number_value(json_array_get(high, 0)), 0.520, 1e-7);
    check_near(json_number_value(json_array_get(high, 1)), 0.004, 1e-9);
    check_near(json_number_value(json_array_get(low, 2)), -0.340, 1e-7);
    json_t *node = json_array_get(json_object_get(j, "nodes"), 0);
    assert_string_equal(json_string_value(json_object_get(node, "name")),
                        "sheet <\"1\">, worked out");
    assert_string_equal(
        json_string_value(json_object_get(json_object_get(node, "extras"), "footing")),
        "worked out");
    json_decref(j);
    show_out_deinit(&o);
}

/* Volume by the divergence theorem: both parts 520 x 340 x 4 mm. */
static void stl(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    check_ok(solid_stl(&o, &solid, &err), &err);
    uint32_t n = u32(o.bytes + 80);
    assert_int_equal(n, 24);
    assert_int_equal(o.n, 84 + 50 * n);
    double volume = 0;
    for (uint32_t t = 0; t < n; t++) {
        double v[9];
        for (size_t k = 0; k < 9; k++)
            v[k] = f32(o.bytes + 84 + 50 * t + 12 + 4 * k);
        volume += (v[0] * (v[4] * v[8] - v[5] * v[7]) - v[1] * (v[3] * v[8] - v[5] * v[6]) +
                   v[2] * (v[3] * v[7] - v[4] * v[6])) /
                  6;
    }
    check_rel(volume, 2 * 520.0 * 340 * 4, 1e-6);
    show_out_deinit(&o);
}

static void ply(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    check_ok(solid_ply(&o, &solid, &err), &err);
    const char *end = strstr(o.bytes, "end_header\n");
    assert_non_null(end);
    assert_int_equal(o.n - (size_t)(end + 11 - o.bytes), 16 * 12 + 24 * 17);
    assert_non_null(strstr(o.bytes, "comment part 1 lath.1, guessed\n"));
    const char *face = end + 11 + 16 * 12 + 12 * 17; /* first of the second part */
    assert_int_equal(face[0], 3);
    assert_int_equal(u32(face + 1), 8);
    assert_int_equal(u32(face + 13), 1);
    show_out_deinit(&o);
}

static void refused(void **unused) {
    (void)unused;
    struct error err = {0};
    struct show_out o = {0};
    struct solid none = {.title = "x"};
    assert_int_equal(solid_glb(&o, &none, &err), ERR_MISSING);
    const uint32_t bad[] = {0, 1, 9};
    const struct solid_part broken = {"p", NULL, 0, NULL, 8, 1, box, bad};
    assert_int_equal(solid_stl(&o, &(struct solid){.parts = &broken, .n_parts = 1}, &err),
                     ERR_RANGE);
    show_out_deinit(&o);
}

static void keep(void **unused) {
    (void)unused;
    const char *folder = getenv("RELICT_PAGES");
    if (!folder) return;
    struct error err = {0};
    struct show_out o = {0};
    char path[1024];
    snprintf(path, sizeof path, "%s/solid.glb", folder);
    check_ok(solid_glb(&o, &solid, &err), &err);
    check_ok(show_out_save(&o, path, &err), &err);
    show_out_deinit(&o);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(glb), cmocka_unit_test(stl),
                                       cmocka_unit_test(ply), cmocka_unit_test(refused),
                                       cmocka_unit_test(keep)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
