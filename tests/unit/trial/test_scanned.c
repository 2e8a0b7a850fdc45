/* scanned: a bent sheet as a PLY file, and the same moved as an STL file with a bump: its bend, how
 * it lies on the first, where it differs, and its bend as a reading of a trial. */
#include "trial/scanned.h"

#include "check.h"

static struct error err;

enum { NX = 41, NY = 25 };

/* Sheet 200 x 120 mm, z = k x^2/2 + k y^2/8 (so that it does not slide on itself), turned by `turn`
 * about z and moved by 30 along x. */
static void point(double p[3], int i, double k, double turn, double bump) {
    double x = (double)(i % NX) * 5 - 100, y = (double)(i / NX) * 5 - 60;
    double d = hypot(x - 50, y - 20), c = cos(turn), s = sin(turn);
    p[0] = c * x - s * y + (turn != 0 ? 30 : 0);
    p[1] = s * x + c * y;
    p[2] = k * x * x / 2 + k * y * y / 8 + bump * exp(-d * d / 400);
}

static size_t write_ply(char *to, double k) {
    size_t n = (size_t)sprintf(to,
                               "ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\n"
                               "property float y\nproperty float z\nelement face %d\n"
                               "property list uchar int vertex_indices\nend_header\n",
                               NX * NY, 2 * (NX - 1) * (NY - 1));
    for (int i = 0; i < NX * NY; i++) {
        double p[3];
        point(p, i, k, 0, 0);
        n += (size_t)sprintf(to + n, "%.6f %.6f %.6f\n", p[0], p[1], p[2]);
    }
    for (int i = 0; i < NX * (NY - 1); i++)
        if (i % NX < NX - 1)
            n += (size_t)sprintf(to + n, "3 %d %d %d\n3 %d %d %d\n", i, i + 1, i + NX + 1, i,
                                 i + NX + 1, i + NX);
    return n;
}

static size_t write_stl(char *to, double k, double turn, double bump) {
    size_t n = (size_t)sprintf(to, "solid sheet\n");
    for (int i = 0; i < NX * (NY - 1); i++)
        for (int t = 0; t < 2 && i % NX < NX - 1; t++) {
            int corner[3] = {i, t ? i + NX + 1 : i + 1, t ? i + NX : i + NX + 1};
            n += (size_t)sprintf(to + n, "facet normal 0 0 0\nouter loop\n");
            for (int c = 0; c < 3; c++) {
                double p[3];
                point(p, corner[c], k, turn, bump);
                n += (size_t)sprintf(to + n, "vertex %.6f %.6f %.6f\n", p[0], p[1], p[2]);
            }
            n += (size_t)sprintf(to + n, "endloop\nendfacet\n");
        }
    return n + (size_t)sprintf(to + n, "endsolid sheet\n");
}

static struct scan_entry entry(const char *id) {
    struct scan_entry e;
    field_unknown(&scan_entry_kind, &e);
    e.id = id;
    e.file = "f";
    return e;
}

static void scans_are_laid_bent_and_read(void **state) {
    (void)state;
    static char ply[400000], stl[900000];
    struct arena *a = arena_new();
    static double place[3] = {0, 0, 0}, moved[3], pairs[18];
    struct scan_entry e[3] = {entry("S1"), entry("S2"), entry("S3")};
    static const int corner[3] = {0, NX - 1, NX * NY - 1};
    for (int i = 0; i < 3; i++) {
        point(pairs + 6 * i, corner[i], 0.004, 0.2, 0);
        point(pairs + 6 * i + 3, corner[i], 0.004, 0, 0);
    }
    /* clear of the bump, where the sheet is hardly steep: (0, -30) of its own */
    moved[0] = 30 + 30 * sin(0.2);
    moved[1] = -30 * cos(0.2);
    moved[2] = 0.45;
    e[0].piece = "A1";
    e[0].places = (struct tuples){1, 3, place};
    e[1].trial_piece = "T1.1";
    e[1].against = "S1";
    e[1].places = (struct tuples){1, 3, moved};
    e[1].pairs = (struct tuples){3, 6, pairs};
    e[1].date = "2022-07-14";
    e[2].against = "S1";
    struct scan_bytes bytes[3] = {{ply, write_ply(ply, 0.004), NULL},
                                  {stl, write_stl(stl, 0.004, 0.2, 3), NULL},
                                  {NULL, 0, "It was blotted out."}};
    struct records out;
    check_ok(trial_scans_read(&out, e, 3, bytes, a, &err), &err);
    const struct scan_answer *s = out.v;
    assert_int_equal(out.n, 3);
    assert_int_equal(s[0].points, NX * NY);
    check_near(s[0].size[0], 200, 1e-3);
    const struct scan_bend *b = s[0].bends.v;
    check_near(b[0].k1, 0.004, 1e-5);
    check_near(b[0].k2, 0.001, 1e-5);
    assert_int_equal(s[1].laid, 1);
    check_between(s[1].median, -0.05, 0.05);
    check_between(s[1].p95, 0.3, 3);
    double most = 0;
    const struct scan_cell *c = s[1].cells.v;
    for (size_t i = 0; i < s[1].cells.n; i++)
        most = fmax(most, fabs(c[i].off));
    check_between(most, 1, 3);
    assert_string_equal(s[2].say, "It was blotted out.");
    struct trial_reading *r;
    size_t n;
    check_ok(trial_scans_readings(&r, &n, e, &out, a, &err), &err);
    assert_int_equal(n, 1);
    assert_string_equal(r[0].piece, "T1.1");
    check_near(8 * r[0].rise / (r[0].chord * r[0].chord + 4 * r[0].rise * r[0].rise), 0.004, 1e-4);
    arena_free(a);
}

static void what_is_no_scan_is_told(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct scan_entry e[2] = {entry("S1"), entry("S2")};
    e[1].against = "S9";
    static char ply[400000];
    struct scan_bytes bytes[2] = {{"nothing", 7, NULL}, {ply, write_ply(ply, 0.004), NULL}};
    struct records out;
    check_ok(trial_scans_read(&out, e, 2, bytes, a, &err), &err);
    const struct scan_answer *s = out.v;
    assert_true(s[0].points == 0 && *s[0].say);
    assert_true(!s[1].laid && strstr(s[1].say, "S9"));
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(scans_are_laid_bent_and_read),
                                       cmocka_unit_test(what_is_no_scan_is_told)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
