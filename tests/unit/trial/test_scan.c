/* scan: readers take what the formats allow and refuse damage; the trees find what a plain search
 * finds. */
#include "trial/scan.h"

#include "check.h"

#include "num/random.h"

static struct error err;

static const char ply_text[] = "ply\nformat ascii 1.0\ncomment made by hand\nelement vertex 4\n"
                               "property float x\nproperty float y\nproperty float z\n"
                               "property uchar red\nelement face 1\n"
                               "property list uchar int vertex_indices\nend_header\n"
                               "0 0 0 255\n10 0 0 255\n10 10 0 255\n0 10 1 255\n4 0 1 2 3\n";

static void ascii_formats(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct scan s;
    check_ok(scan_read(&s, ply_text, sizeof ply_text - 1, 1000, a, &err), &err);
    assert_int_equal(s.n, 4);
    assert_int_equal(s.triangles, 2);
    check_near(s.xyz[3], 10000, 0);
    check_near(s.xyz[11], 1000, 0);
    static const char obj[] = "# corner\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nvn 0 0 1\n"
                              "f 1/1/1 2//1 3\nf -1 -2 -3\n";
    check_ok(scan_read(&s, obj, sizeof obj - 1, 1, a, &err), &err);
    assert_int_equal(s.triangles, 2);
    assert_int_equal(s.corner[3], 3);
    static const char stl[] =
        "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n"
        "vertex 0 1 0\nendloop\nendfacet\nfacet normal 0 0 1\nouter loop\n"
        "vertex 1 0 0\nvertex 1 1 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid\n";
    check_ok(scan_read(&s, stl, sizeof stl - 1, 1, a, &err), &err);
    assert_int_equal(s.n, 4); /* shared corners become one */
    assert_int_equal(s.triangles, 2);
    arena_free(a);
}

static void binary_formats(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct scan s;
    char stl[84 + 100] = "binary";
    uint32_t two = 2;
    memcpy(stl + 80, &two, 4);
    float t[2][12] = {{0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0}, {0, 0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 0}};
    memcpy(stl + 84, t[0], 48);
    memcpy(stl + 134, t[1], 48);
    check_ok(scan_read(&s, stl, sizeof stl, 1, a, &err), &err);
    assert_int_equal(s.n, 4);
    for (int big = 0; big < 2; big++) {
        char ply[512];
        int n = snprintf(ply, sizeof ply,
                         "ply\nformat binary_%s_endian 1.0\nelement vertex 3\nproperty double x\n"
                         "property float y\nproperty short z\nelement face 1\n"
                         "property list uchar uint vertex_index\nend_header\n",
                         big ? "big" : "little");
        double x[] = {0, 2.5, -1};
        float y[] = {0, 0, 3};
        int16_t z[] = {0, -7, 5};
        unsigned char bytes[3 * 14 + 13];
        unsigned char *p = bytes;
        for (int i = 0; i < 3; i++) {
            memcpy(p, &x[i], 8);
            memcpy(p + 8, &y[i], 4);
            memcpy(p + 12, &z[i], 2);
            p += 14;
        }
        uint32_t index[] = {0, 1, 2};
        *p++ = 3;
        memcpy(p, index, 12);
        if (big) { /* turn every number round */
            static const int size[] = {8, 4, 2, 8, 4, 2, 8, 4, 2, 1, 4, 4, 4};
            p = bytes;
            for (size_t k = 0; k < 13; p += size[k++])
                for (int i = 0; i < size[k] / 2; i++) {
                    unsigned char keep = p[i];
                    p[i] = p[size[k] - 1 - i];
                    p[size[k] - 1 - i] = keep;
                }
        }
        memcpy(ply + n, bytes, sizeof bytes);
        check_ok(scan_read(&s, ply, (size_t)n + sizeof bytes, 1, a, &err), &err);
        assert_int_equal(s.triangles, 1);
        check_near(s.xyz[3], 2.5, 0);
        check_near(s.xyz[5], -7, 0);
        check_near(s.xyz[7], 3, 0);
        assert_int_not_equal(scan_read(&s, ply, (size_t)n + 20, 1, a, &err), 0); /* cut short */
    }
    arena_free(a);
}

static void damage_is_refused(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct scan s;
    static const char *const bad[] = {
        "",
        "hello",
        "ply\n",
        "ply\nformat ascii 1.0\nend_header\n",
        "ply\nformat ascii 1.0\nelement vertex 99999999999\nproperty float x\nend_header\n",
        "ply\nformat ascii 1.0\nelement vertex 4000000\nproperty float x\nend_header\n1\n",
        "ply\nformat ascii 1.0\nelement vertex -1\nend_header\n",
        "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
        "property float z\nend_header\n0 nan 0\n",
        "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty "
        "float z\n"
        "element face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n3 0 0 9\n",
        "ply\nformat ascii 1.0\nelement face 1\nproperty list float int "
        "vertex_indices\nend_header\n",
        "v 1 2\n",
        "v 1 2 3\nf 1 2 0\n",
        "v 1 2 3\nf 1 1 7\n",
        "v 1e300 0 0\n",
        "solid x\nvertex 1 2\nvertex 0 0 0\nvertex 1 1 1\n",
        "solid x\nvertex 1 2 3\n"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        error_clear(&err);
        if (scan_read(&s, bad[i], strlen(bad[i]), 1, a, &err) == 0) fail_msg("took \"%s\"", bad[i]);
        assert_true(err.message[0]);
    }
    /* Every cut and every changed byte of a good file: no crash; what is taken is sound. */
    char copy[sizeof ply_text];
    for (size_t cut = 0; cut < sizeof ply_text; cut++) {
        if (scan_read(&s, ply_text, cut, 1, a, &err) == 0)
            for (size_t k = 0; k < 3 * s.triangles; k++)
                assert_true(s.corner[k] < s.n);
        for (int v = 0; v < 256; v += 17) {
            memcpy(copy, ply_text, sizeof copy);
            copy[cut] = (char)v;
            if (scan_read(&s, copy, sizeof copy - 1, 1, a, &err) == 0)
                for (size_t k = 0; k < 3 * s.triangles; k++)
                    assert_true(s.corner[k] < s.n);
        }
    }
    arena_free(a);
}

static void trees_agree_with_a_plain_search(void **state) {
    (void)state;
    struct arena *a = arena_new();
    enum { N = 700 };
    double *xyz = ARENA_NEW(a, double, 3 * N);
    struct num_random r;
    num_random_begin(&r, 1, num_hash("scan test"), 0);
    for (size_t i = 0; i < 3 * N; i++) /* many equal coordinates, to try the splitting */
        xyz[i] = floor(20 * num_random_uniform(&r)) / 2;
    struct scan_points t;
    check_ok(scan_points_build(&t, xyz, N, a, &err), &err);
    struct scan s = {N, xyz, 400, ARENA_NEW(a, uint32_t, 1200)};
    for (size_t i = 0; i < 1200; i++)
        s.corner[i] = (uint32_t)num_random_below(&r, N);
    struct scan_surface f;
    check_ok(scan_surface_build(&f, &s, a, &err), &err);
    for (int k = 0; k < 300; k++) {
        double p[3], best = INFINITY, d, q[3];
        for (int c = 0; c < 3; c++)
            p[c] = 14 * num_random_uniform(&r) - 2;
        size_t inside = 0;
        for (size_t i = 0; i < N; i++) {
            d = hypot(hypot(p[0] - xyz[3 * i], p[1] - xyz[3 * i + 1]), p[2] - xyz[3 * i + 2]);
            best = fmin(best, d);
            inside += d <= 2.3;
        }
        scan_points_nearest(&t, p, &d);
        check_near(d, best, 1e-12);
        uint32_t list[N], tri;
        assert_int_equal(scan_points_within(&t, p, 2.3, list, N), inside);
        /* Surface: no point of any triangle, sampled finely, lies nearer than the answer. */
        d = scan_surface_nearest(&f, p, q, &tri);
        check_near(hypot(hypot(p[0] - q[0], p[1] - q[1]), p[2] - q[2]), d, 1e-12);
        for (size_t i = 0; i < 400; i++)
            for (int u = 0; u <= 4; u++)
                for (int v = 0; u + v <= 4; v++) {
                    double x[3];
                    for (int c = 0; c < 3; c++)
                        x[c] = (xyz[3 * s.corner[3 * i] + (size_t)c] * (4 - u - v) +
                                xyz[3 * s.corner[3 * i + 1] + (size_t)c] * u +
                                xyz[3 * s.corner[3 * i + 2] + (size_t)c] * v) /
                               4;
                    assert_true(hypot(hypot(p[0] - x[0], p[1] - x[1]), p[2] - x[2]) >= d - 1e-9);
                }
    }
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ascii_formats), cmocka_unit_test(binary_formats),
        cmocka_unit_test(damage_is_refused), cmocka_unit_test(trees_agree_with_a_plain_search)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
