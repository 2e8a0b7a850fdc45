/* scan, at size: half a million points laid on a surface of twenty thousand triangles; and the
 * ranking of forty candidates. Times are printed, never judged. */
#include "trial/scan.h"
#include "trial/trial.h"
#include "trial/trial_plan.h"

#include "check.h"

#include <sys/resource.h>
#include <time.h>

static struct error err;

static double seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double height(double x, double y) {
    return 2e-3 * x * x + 8e-4 * x * y - 1.5e-3 * y * y + 6e-6 * x * x * y +
           8 * sin(x / 25 + y / 20);
}

static void half_a_million_points(void **state) {
    (void)state;
    struct arena *a = arena_new();
    enum { NX = 101, NY = 101, N = 500000 };
    struct scan fixed = {NX * NY, ARENA_NEW(a, double, 3 * NX * NY), 2 * (NX - 1) * (NY - 1),
                         ARENA_NEW(a, uint32_t, 6 * (NX - 1) * (NY - 1))};
    size_t t = 0;
    for (uint32_t i = 0; i < NX; i++)
        for (uint32_t k = 0; k < NY; k++) {
            double *p = fixed.xyz + 3 * (i * NY + k);
            p[0] = -150 + 3.0 * i;
            p[1] = -100 + 2.0 * k;
            p[2] = height(p[0], p[1]);
            if (i + 1 == NX || k + 1 == NY) continue;
            uint32_t c = i * NY + k, two[6] = {c, c + NY, c + 1, c + NY, c + NY + 1, c + 1};
            memcpy(fixed.corner + t, two, sizeof two);
            t += 6;
        }
    /* through a file, as a scan comes */
    size_t size = 200 + 12 * (size_t)N;
    char *bytes = malloc(size);
    int head =
        snprintf(bytes, 200,
                 "ply\nformat binary_little_endian 1.0\nelement vertex %d\nproperty float x\n"
                 "property float y\nproperty float z\nend_header\n",
                 N);
    for (size_t i = 0; i < N; i++) {
        struct num_random r;
        num_random_begin(&r, 1, num_hash("scan"), i);
        double x = 290 * num_random_uniform(&r) - 145, y = 190 * num_random_uniform(&r) - 95;
        double z = height(x, y) + 0.1 * num_random_normal(&r);
        float p[3] = {(float)(x * 0.96 - y * 0.28 + 40), (float)(x * 0.28 + y * 0.96 - 30),
                      (float)(z + 12)};
        memcpy(bytes + head + 12 * i, p, sizeof p);
    }
    double start = seconds();
    struct scan moving;
    check_ok(scan_read(&moving, bytes, (size_t)head + 12 * (size_t)N, 1, a, &err), &err);
    double read = seconds();
    struct scan_surface surface;
    struct scan_fit fit;
    struct scan_map map;
    struct scan_align_options o = {0};
    check_ok(scan_surface_build(&surface, &fixed, a, &err), &err);
    check_ok(scan_align(&fit, &moving, &surface, &o, a, &err), &err);
    double aligned = seconds();
    check_ok(scan_map_make(&map, &moving, &fit, &surface, 0.3, 20, a, &err), &err);
    double mapped = seconds();
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    check_note(
        "500,000 points on 20,000 triangles: read %.2f s, aligned %.2f s, mapped %.2f s, all "
        "%.2f s; %ld MB",
        read - start, aligned - read, mapped - aligned, mapped - start, use.ru_maxrss / 1024);
    check_near(fit.rms, 0.1, 0.02);
    assert_true(fit.determined);
    check_near(map.median, 0, 0.02);
    free(bytes);
    arena_free(a);
}

static void forty_candidates(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct num_rows *rows;
    check_ok(num_rows_new(&rows, 4096, 1, &err), &err);
    static char id[40][16];
    const char *about[5];
    size_t c;
    struct candidate cand[40];
    for (int k = 0; k < 40; k++) {
        struct num_dist d = num_dist_lognormal(0.05 + 0.002 * k, 0.4);
        snprintf(id[k], sizeof id[k], "root %d", k);
        check_ok(num_rows_root(rows, id[k], &d, &c, &err), &err);
        if (k < 5) about[k] = id[k];
        cand[k] = (struct candidate){.id = id[k],
                                     .column = id[k],
                                     .about = {5, about},
                                     .outcome = OUTCOME_VALUE,
                                     .noise = 0.01,
                                     .tree_spread = 0.01,
                                     .trees = 3,
                                     .strips = 2,
                                     .sheets = 1};
    }
    struct plan_limits l = {
        .sheets = 10, .hours = NAN, .days = NAN, .most = FIELD_UNKNOWN, .enough = 0.05, .seed = 1};
    struct trial_plan plan;
    double start = seconds();
    check_ok(trial_plan_make(&plan, cand, 40, rows, &l, a, &err), &err);
    check_note("40 candidates about 5 statements, 4,096 rows: %.2f s", seconds() - start);
    const struct ranked_trial *r = plan.ranked.v;
    int chosen = 0;
    for (int k = 0; k < 40; k++)
        chosen += r[k].place > 0;
    assert_int_equal(chosen, 5); /* the five that say something */
    num_rows_free(rows);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(half_a_million_points),
                                       cmocka_unit_test(forty_candidates)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
