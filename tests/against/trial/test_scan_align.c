/* scan: alignment against motions that are known, curvature against surfaces whose curvature is
 * exact. */
#include "trial/scan.h"

#include "check.h"

#include "num/random.h"

static struct error err;

/* A dished and ribbed sheet with a twist, 300 x 200 mm: nothing about it is symmetric. (A sheet as
 * shallow as a tray slides on itself: then the least eigenvalue falls below the limit, rightly.) */
static double height(double x, double y) {
    return 2e-3 * x * x + 8e-4 * x * y - 1.5e-3 * y * y + 6e-6 * x * x * y +
           8 * sin(x / 25 + y / 20);
}

static struct scan sheet(size_t nx, size_t ny, double (*h)(double, double), struct arena *a) {
    struct scan s = {nx * ny, ARENA_NEW(a, double, 3 * nx * ny), 2 * (nx - 1) * (ny - 1),
                     ARENA_NEW(a, uint32_t, 6 * (nx - 1) * (ny - 1))};
    size_t t = 0;
    for (size_t i = 0; i < nx; i++)
        for (size_t k = 0; k < ny; k++) {
            double x = -150 + 300.0 * (double)i / (double)(nx - 1),
                   y = -100 + 200.0 * (double)k / (double)(ny - 1);
            double *p = s.xyz + 3 * (i * ny + k);
            p[0] = x;
            p[1] = y;
            p[2] = h(x, y);
            if (i + 1 == nx || k + 1 == ny) continue;
            uint32_t c = (uint32_t)(i * ny + k), right = c + (uint32_t)ny;
            uint32_t two[6] = {c, right, c + 1, right, right + 1, c + 1};
            memcpy(s.corner + t, two, sizeof two);
            t += 6;
        }
    return s;
}

static void turn(const double axis[3], double angle, const double shift[3], struct scan_motion *m) {
    double l = sqrt(axis[0] * axis[0] + axis[1] * axis[1] + axis[2] * axis[2]), c = cos(angle),
           s = sin(angle);
    double u[3] = {axis[0] / l, axis[1] / l, axis[2] / l};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 3; k++)
            m->r[3 * i + k] =
                c * (i == k) + (1 - c) * u[i] * u[k]; /* Rodrigues, without the cross part */
    m->r[1] -= s * u[2];
    m->r[2] += s * u[1];
    m->r[3] += s * u[2];
    m->r[5] -= s * u[0];
    m->r[6] -= s * u[1];
    m->r[7] += s * u[0];
    memcpy(m->t, shift, sizeof m->t);
}

static void pairs_give_the_motion_back(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "a known motion of four points");
    const double from[] = {0, 0, 0, 100, 0, 0, 0, 60, 0, 10, 20, 30}, axis[] = {1, 2, -1};
    const double shift[] = {12, -7, 300};
    struct scan_motion m, got;
    turn(axis, 2.1, shift, &m);
    double to[12], rms;
    for (int i = 0; i < 4; i++)
        scan_motion_apply(&m, from + 3 * i, to + 3 * i);
    check_ok(scan_align_pairs(&got, &rms, from, to, 4, &err), &err);
    check_near(rms, 0, 1e-12);
    for (int i = 0; i < 9; i++)
        check_near(got.r[i], m.r[i], 1e-12);
    const double line[] = {0, 0, 0, 1, 1, 1, 2, 2, 2};
    assert_int_equal(scan_align_pairs(&got, &rms, line, line, 3, &err), ERR_SOLVE);
}

static void a_noisy_scan_is_laid_back(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "a known motion of a noisy surface");
    struct arena *a = arena_new();
    struct scan fixed = sheet(61, 41, height, a), moving = sheet(90, 70, height, a);
    struct scan_surface surface;
    check_ok(scan_surface_build(&surface, &fixed, a, &err), &err);
    const double axis[] = {0.3, -0.5, 1}, shift[] = {400, -250, 90};
    struct scan_motion m;
    turn(axis, 2.4, shift, &m);
    struct num_random r;
    num_random_begin(&r, 4, num_hash("noise"), 0);
    for (size_t i = 0; i < moving.n; i++) {
        double p[3];
        moving.xyz[3 * i + 2] += 0.1 * num_random_normal(&r);
        if (i % 20 == 0) moving.xyz[3 * i + 2] += 30; /* one in twenty is a straw on the scan */
        scan_motion_apply(&m, moving.xyz + 3 * i, p);
        memcpy(moving.xyz + 3 * i, p, sizeof p);
    }
    struct scan_fit fit;
    struct scan_align_options o = {0};
    check_ok(scan_align(&fit, &moving, &surface, &o, a, &err), &err);
    check_note("sheet: eigenvalues %.3g .. %.3g, rms %.3f mm, kept %.2f, %d steps",
               fit.eigenvalue[0], fit.eigenvalue[5], fit.rms, fit.share_kept, fit.iterations);
    assert_true(fit.determined);
    assert_true(fit.settled);
    check_near(fit.rms, 0.1, 0.02);
    /* fit o motion is the identity: the corners come back where they were */
    for (int k = 0; k < 4; k++) {
        double p[3] = {k & 1 ? 150 : -150, k & 2 ? 100 : -100, 0}, q[3], back[3];
        p[2] = height(p[0], p[1]);
        scan_motion_apply(&m, p, q);
        scan_motion_apply(&fit.motion, q, back);
        for (int c = 0; c < 3; c++)
            check_near(back[c], p[c], 0.25);
    }
    struct scan_map map;
    check_ok(scan_map_make(&map, &moving, &fit, &surface, 0.3, 20, a, &err), &err);
    check_near(map.median, 0, 0.03);
    check_near(map.within, 0.95, 0.02);
    check_near(map.independent, surface.area / 400, 1e-6);
    arena_free(a);
}

static double flat(double x, double y) {
    return 0 * x * y;
}
static double bowl(double x, double y) {
    return 400 - sqrt(400.0 * 400 - x * x - y * y);
}

static void planes_and_spheres_leave_motions_free(void **state) {
    (void)state;
    struct arena *a = arena_new();
    double (*const shape[])(double, double) = {flat, bowl};
    for (int k = 0; k < 2; k++) {
        struct scan s = sheet(31, 21, shape[k], a);
        struct scan_surface surface;
        struct scan_fit fit;
        struct scan_align_options o = {0};
        check_ok(scan_surface_build(&surface, &s, a, &err), &err);
        check_ok(scan_align(&fit, &s, &surface, &o, a, &err), &err);
        check_note("%s: eigenvalues %.3g .. %.3g", k ? "bowl" : "plane", fit.eigenvalue[0],
                   fit.eigenvalue[5]);
        assert_false(fit.determined);
    }
    arena_free(a);
}

static void curvature_of_exact_surfaces(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "curvature of a sphere");
    struct arena *a = arena_new();
    struct scan s = sheet(121, 81, bowl, a);
    struct scan_points t;
    struct scan_curvature c;
    const double p[] = {0, 0, 0};
    check_ok(scan_points_build(&t, s.xyz, s.n, a, &err), &err);
    check_ok(scan_curvature_at(&c, &t, p, 20, &err), &err);
    check_rel(fabs(c.k1), 1.0 / 400, 0.005);
    check_rel(c.gauss, 1.0 / 160000, 0.01);
    assert_int_equal(scan_curvature_at(&c, &t, (double[]){900, 0, 0}, 20, &err), ERR_MISSING);
    check_from(CHECK_SECOND, "noisy sphere, spread found by an independent program");
    /* Sphere R 250, 0.2 mm noise, 49 points: the reference notes (inference, section 6) found, by
     * an independent program, an sd of 12 % with a patch of radius 20 mm and 3 % (bias 0.7 %) with
     * 40 mm. */
    static const double radius[] = {20, 40}, sd[] = {0.12, 0.03};
    for (int k = 0; k < 2; k++) {
        double sum = 0, square = 0;
        enum { RUNS = 400 };
        for (int run = 0; run < RUNS; run++) {
            double xyz[49 * 3];
            struct num_random r;
            num_random_begin(&r, 9, num_hash("sphere"), (uint64_t)(run + 1000 * k));
            for (int i = 0; i < 49; i++) { /* evenly over the disc: sunflower spiral */
                double q = radius[k] * sqrt((i + 0.5) / 49), phi = i * M_PI * (3 - sqrt(5));
                xyz[3 * i] = q * cos(phi);
                xyz[3 * i + 1] = q * sin(phi);
                xyz[3 * i + 2] = 250 - sqrt(250.0 * 250 - q * q) + 0.2 * num_random_normal(&r);
            }
            struct scan_points small;
            check_ok(scan_points_build(&small, xyz, 49, a, &err), &err);
            check_ok(scan_curvature_at(&c, &small, p, 1.2 * radius[k], &err), &err);
            double h = fabs(c.mean) * 250;
            sum += h;
            square += h * h;
        }
        double mean = sum / RUNS, spread = sqrt(square / RUNS - mean * mean);
        check_note("sphere, patch %g mm: bias %.1f %%, sd %.1f %%", radius[k], 100 * (mean - 1),
                   100 * spread);
        check_rel(spread, sd[k], 0.25); /* the notes give one digit and another spread of points */
        check_near(mean, 1, 0.02);
    }
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(pairs_give_the_motion_back),
                                       cmocka_unit_test(a_noisy_scan_is_laid_back),
                                       cmocka_unit_test(planes_and_spheres_leave_motions_free),
                                       cmocka_unit_test(curvature_of_exact_surfaces)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
