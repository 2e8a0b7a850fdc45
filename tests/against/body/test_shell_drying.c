/* The order of work on the shell: kinetics against Crank's series, set and release against the
 * closed form of one Maxwell branch, curl of two layers against Timoshenko, and sense. */
#include "body/drying.h"
#include "body/part.h"

#include "check.h"

enum { NX = 12, NY = 3, NV = (NX + 1) * (NY + 1), NF = 2 * NX * NY };

static struct body_shell *strip(const struct body_laminate *l, double curvature, int *press) {
    static double x[NV][3];
    static int tri[NF][3];
    struct error err = {0};
    for (int v = 0; v < NV; v++) {
        x[v][0] = 120.0 * (v % (NX + 1)) / NX;
        x[v][1] = 20.0 * (v / (NX + 1)) / NY;
    }
    for (int f = 0; f < NF; f += 2) {
        int a = f / 2 / NX * (NX + 1) + f / 2 % NX,
            t[2][3] = {{a, a + 1, a + NX + 2}, {a, a + NX + 2, a + NX + 1}};
        memcpy(tri[f], t, sizeof t);
    }
    struct body_shell *s;
    struct body_shell_mesh mesh = {NV, NF, (const double(*)[3])x, (const int(*)[3])tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    for (size_t f = 0; f < NF; f++) {
        body_shell_material(s, f, l);
        body_shell_natural(s, f, NULL, (double[3]){curvature, 0, 0});
    }
    for (int k = 0; press && k < 3; k++) { /* stiff straight bars hold the strip flat */
        struct body_lath bar = {.a = {0, 10 * k, 0}, .b = {120, 10 * k, 0}, .ei = 1e10};
        check_ok(body_part_lath(s, &bar, 0.99, &press[k], &err), &err);
    }
    check_ok(body_shell_prepare(s, &err), &err);
    check_ok(body_shell_hold(s, &err), &err);
    return s;
}

static struct body_drying plain(void) {
    struct body_drying d = {.zones = 1,
                            .layers = {1},
                            .surface = INFINITY,
                            .moisture = 0.28,
                            .inner_open = 1,
                            .outer_open = 1};
    d.layer[0][0] =
        (struct body_drying_layer){.ply = {.e1 = 1000, .e2 = 1000, .g12 = 500, .thickness = 6},
                                   .diffusion = 1e-4,
                                   .density = 5e-4,
                                   .saturation = 0.30,
                                   .shrink1 = 0.06,
                                   .shrink2 = 0.06};
    return d;
}

/* J. Crank, The Mathematics of Diffusion, 2nd ed. 1975, section 4.3: half of the change is done at
 * D t / l^2 = 0.1967, l half the thickness. */
static void test_kinetics(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "Crank 1975, 4.3: half of the change at D t / l^2 = 0.1967");
    struct error err = {0};
    struct body_drying d = plain();
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &d.layer[0][0].ply, 1, &err), &err);
    struct body_shell *s = strip(&l, 0, NULL);
    struct body_drying_run *run;
    check_ok(body_drying_new(&run, s, &d, &err), &err);
    double half = 0.1967 * 9 / 1e-4;
    struct body_doing wait = {
        .kind = BODY_DO_WAIT, .name = "dry", .seconds = half, .air = 0.12, .steps = 60};
    struct body_drying_day day[60];
    size_t n;
    check_ok(body_drying_do(run, &wait, 1, day, 60, &n, &err), &err);
    check_near(day[n - 1].moisture, 0.20, 0.002 * 0.16); /* 0.2 % of the change */
    check_from(CHECK_EXACT, "free shrinkage in proportion to moisture lost");
    /* shrinkage of the free sheet: 0.06 of the way from saturation to bone dry */
    check_rel(day[n - 1].strain[0], -0.06 * (0.28 - day[n - 1].moisture) / 0.30, 2e-3);
    check_near(day[n - 1].curvature[0], 0, 1e-8);
    body_drying_free(run);
    body_shell_free(s);
}

/* k(0+) = k0 (1 - g (1 - exp(-T/tau))) after being held flat for T. */
static void test_release(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "one Maxwell branch held and let go: k0 (1 - g (1 - exp(-T/tau)))");
    struct error err = {0};
    struct body_drying d = plain();
    d.branches = 1;
    d.branch[0] = (struct body_drying_branch){.share = 0.4, .tau = 5000};
    d.layer[0][0].shrink1 = d.layer[0][0].shrink2 = 0;
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &d.layer[0][0].ply, 1, &err), &err);
    const double k0 = 1.0 / 300;
    int press[3];
    struct body_shell *s = strip(&l, k0, press);
    struct body_drying_run *run;
    check_ok(body_drying_new(&run, s, &d, &err), &err);
    struct body_doing work[] = {
        {.kind = BODY_DO_SETTLE, .name = "pressed flat"},
        {.kind = BODY_DO_WAIT, .name = "held", .seconds = 7000, .air = 0.28, .steps = 10},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[0]},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[1]},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[2]}};
    struct body_drying_day day[20];
    size_t n;
    check_ok(body_drying_do(run, work, 5, day, 20, &n, &err), &err);
    assert_int_equal(n, 14);
    check_near(day[0].curvature[0], 0, 1e-3 * k0);
    check_rel(day[n - 1].curvature[0], k0 * (1 - 0.4 * (1 - exp(-7000.0 / 5000))), 1e-3);
    check_rel(day[n - 1].natural[0], day[n - 1].curvature[0], 1e-3);
    body_drying_free(run);
    body_shell_free(s);
}

/* Held flat while it dries and stiffens, without creep: the moment it needed when wet is what it
 * keeps, so that let go it takes k0 E_wet / E_dry (hygro-lock: stress goes on, strain stays in). */
static void test_stiffening(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "moment kept while stiffening: k0 times wet over dry stiffness");
    struct error err = {0};
    struct body_drying d = plain();
    d.layer[0][0].shrink1 = d.layer[0][0].shrink2 = 0;
    d.layer[0][0].wet1 = d.layer[0][0].wet2 = 0.25;
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &d.layer[0][0].ply, 1, &err), &err);
    const double k0 = 1.0 / 300;
    int press[3];
    struct body_shell *s = strip(&l, k0, press);
    struct body_drying_run *run;
    check_ok(body_drying_new(&run, s, &d, &err), &err);
    struct body_doing work[] = {
        {.kind = BODY_DO_SETTLE, .name = "pressed flat, wet"},
        {.kind = BODY_DO_WAIT, .name = "held", .seconds = 4e6, .air = 0.12, .steps = 20},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[0]},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[1]},
        {.kind = BODY_DO_STRENGTH, .name = "let go", .part = press[2]}};
    struct body_drying_day day[40];
    size_t n;
    check_ok(body_drying_do(run, work, 5, day, 40, &n, &err), &err);
    check_near(day[n - 1].moisture, 0.12, 1e-4);
    double wet = pow(0.25, (0.28 - 0.12) / (0.30 - 0.12)); /* FPL-GTR-282 Eq 5-3 */
    check_rel(day[n - 1].curvature[0], k0 * wet, 5e-3);
    body_drying_free(run);
    body_shell_free(s);
}

/* Two layers that differ by 0.004 in shrinkage when bone dry: S. Timoshenko, J. Opt. Soc. Am. 11
 * (1925) 233-255, eq. (4). */
static void test_two_layers(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "Timoshenko 1925, eq. (4)");
    struct error err = {0};
    struct body_drying d = plain();
    d.layers[0] = 2;
    d.moisture = 0.30;
    d.layer[0][1] = d.layer[0][0];
    d.layer[0][0].ply = (struct body_ply){.e1 = 1000, .e2 = 1000, .g12 = 500, .thickness = 4};
    d.layer[0][1].ply = (struct body_ply){.e1 = 3000, .e2 = 3000, .g12 = 1500, .thickness = 2};
    d.layer[0][0].shrink1 = 0.010, d.layer[0][1].shrink1 = 0.014;
    d.layer[0][0].shrink2 = d.layer[0][1].shrink2 = 0;
    struct body_ply both[2] = {d.layer[0][0].ply, d.layer[0][1].ply};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, both, 2, &err), &err);
    struct body_shell *s = strip(&l, 0, NULL);
    struct body_drying_run *run;
    check_ok(body_drying_new(&run, s, &d, &err), &err);
    struct body_doing wait = {
        .kind = BODY_DO_WAIT, .name = "dry", .seconds = 1e7, .air = 0, .steps = 8};
    struct body_drying_day day[8];
    size_t n;
    check_ok(body_drying_do(run, &wait, 1, day, 8, &n, &err), &err);
    double m = 4.0 / 2, q = 1000.0 / 3000, h = 6;
    double k = 6 * 0.004 * (1 + m) * (1 + m) /
               (h * (3 * (1 + m) * (1 + m) + (1 + m * q) * (m * m + 1 / (m * q))));
    check_rel(day[n - 1].curvature[0], k, 1e-3);
    check_near(day[n - 1].curvature[1], 0, 1e-3 * k);
    body_drying_free(run);
    body_shell_free(s);
}

/* One face sealed: while it dries the open face is shorter and the strip curls towards it; at the
 * end it lies flat again. Wetting brings the first shape back when nothing was set. */
static void test_one_face(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "a sheet sealed on one face lies flat again when evenly dry");
    struct error err = {0};
    struct body_drying d = plain();
    d.inner_open = 0;
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &d.layer[0][0].ply, 1, &err), &err);
    struct body_shell *s = strip(&l, 0, NULL);
    struct body_drying_run *run;
    check_ok(body_drying_new(&run, s, &d, &err), &err);
    struct body_doing work[] = {
        {.kind = BODY_DO_WAIT, .name = "a while", .seconds = 20000, .air = 0.10, .steps = 10},
        {.kind = BODY_DO_WAIT, .name = "long", .seconds = 2e7, .air = 0.10, .steps = 10},
        {.kind = BODY_DO_WET, .name = "soaked", .value = 0.28}};
    struct body_drying_day day[30];
    size_t n;
    check_ok(body_drying_do(run, work, 3, day, 30, &n, &err), &err);
    assert_int_equal(n, 21);
    assert_true(day[9].curvature[0] > 1e-4); /* towards +n, the open outer face */
    check_near(day[19].curvature[0], 0, 1e-7);
    check_rel(day[19].strain[0], -0.06 * 0.18 / 0.30, 1e-3);
    check_near(day[20].strain[0], 0, 1e-9);
    body_drying_free(run);
    body_shell_free(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kinetics), cmocka_unit_test(test_release),
        cmocka_unit_test(test_stiffening), cmocka_unit_test(test_two_layers),
        cmocka_unit_test(test_one_face)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
