/* The stand-in for the shell: against the shell itself at rows it has not seen, the same bits on
 * one and two threads, what fails is counted. */
#include "base/parallel.h"
#include "body/controls.h"
#include "num/sensitivity.h"

#include "check.h"

enum { RUNS = 48, D = 4, OUTLINE = 160 };

/* Thickness, radius of the stem, thickness of the laths, length of the sheet. */
static int make(struct body_sheet *out, const double *x, void *context, struct arena *arena,
                struct error *err) {
    double half = context ? *(const double *)context : 175;
    double *xy = ARENA_NEW(arena, double, 2 * OUTLINE);
    struct body_sheet_lath *lath = ARENA_NEW(arena, struct body_sheet_lath, 3);
    if (!xy || !lath) return fail_memory(err);
    for (int i = 0; i < OUTLINE; i++) {
        double t = 2 * M_PI * i / OUTLINE, c = cos(t), s = sin(t);
        xy[2 * i] = x[3] / 2 * copysign(pow(fabs(c), 0.8), c);
        xy[2 * i + 1] = half * copysign(pow(fabs(s), 0.8), s);
    }
    *out = (struct body_sheet){.outline = {xy, OUTLINE},
                               .layers = 1,
                               .lath = lath,
                               .laths = 3,
                               .curvature = {0, -1 / x[1], 0}};
    out->layer[0] = (struct body_ply){
        .e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = x[0], .density = 6e-4};
    for (int k = 0; k < 3; k++) {
        double at = (k - 1) * x[3] / 4;
        lath[k] = (struct body_sheet_lath){.from = {at, -180},
                                           .to = {at, 180},
                                           .width = 20,
                                           .thickness = x[2],
                                           .e = 10000,
                                           .g = 600,
                                           .density = 5e-4,
                                           .gripped = INFINITY};
    }
    return 0;
}

static void rows(double *x, size_t n, uint64_t seed) {
    struct error err = {0};
    const double lo[D] = {4, 130, 1.5, 620}, hi[D] = {8, 250, 4.5, 760};
    check_ok(num_design(x, n, D, seed, &err), &err);
    for (size_t i = 0; i < n * D; i++)
        x[i] = lo[i % D] + (hi[i % D] - lo[i % D]) * x[i];
}

/* On whatever scale an output is emulated, draws of it have the middle and the variance told. */
static void draws_agree(const struct body_controls *k, const double *at) {
    enum { DRAWS = 2001 };
    static double x[DRAWS * D], normal[DRAWS], drawn[DRAWS], scratch[DRAWS];
    struct error err = {0};
    const struct num_dist standard = num_dist_normal(0, 1);
    for (int i = 0; i < DRAWS; i++) {
        memcpy(x + i * D, at, D * sizeof *x);
        normal[i] = num_dist_quantile(&standard, (i + 0.5) / DRAWS);
    }
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        double middle, variance, sum = 0, square = 0;
        check_ok(
            body_controls_predict(k, (enum body_controls_output)q, at, 1, &middle, &variance, &err),
            &err);
        check_ok(body_controls_draw(k, (enum body_controls_output)q, x, DRAWS, normal, drawn,
                                    scratch, &err),
                 &err);
        for (int i = 0; i < DRAWS; i++)
            sum += drawn[i];
        for (int i = 0; i < DRAWS; i++)
            square += (drawn[i] - sum / DRAWS) * (drawn[i] - sum / DRAWS);
        check_about("%s", body_controls_names[q]);
        check_near(drawn[DRAWS / 2], middle, 1e-9 * fabs(middle) + 1e-15);
        check_near(square / DRAWS, variance, 0.03 * variance + 1e-18);
    }
}

static void test_stand_in(void **state) {
    (void)state;
    struct error err = {0};
    double x[RUNS * D], unseen[6 * D], mean[6], variance[6];
    rows(x, RUNS, 1);
    rows(unseen, 6, 99);
    struct body_controls_options o = {.triangles = 250, .fine = 700, .checks = 3};
    struct body_controls *k[2];
    struct body_controls_report report;
    for (unsigned t = 0; t < 2; t++) {
        parallel_set_threads(t + 1);
        check_ok(body_controls_new(&k[t], x, RUNS, D, make, NULL, &o, &err), &err);
    }
    assert_memory_equal(body_controls_runs(k[0]), body_controls_runs(k[1]),
                        RUNS * BODY_OUTPUTS * sizeof(double));
    body_controls_report(k[0], &report);
    assert_int_equal(report.failed, 0);
    assert_int_equal(report.other_branch, 0);
    for (int q = 0; q < BODY_OUTPUTS; q++)
        check_note(
            "%-24s left-out error %.3g (%.1f %% of its spread), fine less coarse %.3g +- %.3g",
            body_controls_names[q], report.output[q].rms, 100 * report.output[q].relative,
            report.output[q].shift, report.output[q].spread);
    assert_true(report.output[BODY_OUT_RISE].relative < 0.08);
    assert_true(report.output[BODY_OUT_WEIGHT].relative < 0.02);
    check_ok(body_controls_predict(k[0], BODY_OUT_RISE, unseen, 6, mean, variance, &err), &err);
    draws_agree(k[0], unseen);
    for (int i = 0; i < 6; i++) { /* against the fine mesh */
        struct arena *arena = arena_new();
        struct body_sheet sheet;
        struct body_sheet_model *m;
        struct body_sheet_out out;
        check_ok(make(&sheet, unseen + D * i, NULL, arena, &err), &err);
        check_ok(body_sheet_new(&m, &sheet, 700, &err), &err);
        check_ok(body_sheet_solve(m, &out, &err), &err);
        check_near(mean[i], out.rise, 4 * sqrt(variance[i]) + 0.5);
        check_near(mean[i], out.rise, 4);
        body_sheet_free(m);
        arena_free(arena);
    }
    body_controls_free(k[0]);
    body_controls_free(k[1]);
}

/* Runs of before: kept while the building has hardly changed, topped up outside their hull, let go
 * when it has. What the stand-in then says is held against a stand-in made afresh. */
static void test_runs_of_before(void **state) {
    (void)state;
    struct error err = {0};
    double x[RUNS * D], next[RUNS * D], unseen[6 * D], was[6], now[6], var[2][6];
    double half = 176, narrow = 120;
    rows(x, RUNS, 1);
    rows(next, RUNS, 7);
    rows(unseen, 6, 99);
    next[0] = 10.5; /* far outside in thickness and stem at once */
    next[1] = 320;
    struct body_controls_options o = {.triangles = 250, .fine = 700, .checks = 3}, again = o;
    struct body_controls *first, *kept, *fresh, *other;
    struct body_controls_report report;
    check_ok(body_controls_new(&first, x, RUNS, D, make, NULL, &o, &err), &err);
    again.known = body_controls_keep(first);
    check_ok(body_controls_new(&kept, next, RUNS, D, make, &half, &again, &err), &err);
    body_controls_report(kept, &report);
    assert_int_equal(report.searched,
                     0); /* though rows were added: lengths are the first design's */
    assert_int_equal(report.reused, RUNS);
    assert_int_equal(report.probes, 8);
    assert_true(report.added >= 1 && report.added < RUNS / 4);
    assert_int_equal(report.runs, RUNS + report.added);
    check_note("half a sheet 1 mm wider: rise moved by %.3g +- %.2g mm, %zu rows added",
               report.output[BODY_OUT_RISE].moved, report.output[BODY_OUT_RISE].scatter,
               report.added);
    check_ok(body_controls_new(&fresh, next, RUNS, D, make, &half, &o, &err), &err);
    check_ok(body_controls_predict(kept, BODY_OUT_RISE, unseen, 6, was, var[0], &err), &err);
    check_ok(body_controls_predict(fresh, BODY_OUT_RISE, unseen, 6, now, var[1], &err), &err);
    for (int i = 0; i < 6; i++)
        assert_true(fabs(was[i] - now[i]) < 4 * sqrt(var[0][i] + var[1][i]));
    again.known = body_controls_keep(kept); /* a second time from what was kept: the same bits */
    check_ok(body_controls_new(&other, next, RUNS, D, make, &half, &again, &err), &err);
    body_controls_report(other, &report);
    assert_int_equal(report.added, 0);
    assert_memory_equal(body_controls_runs(kept), body_controls_runs(other),
                        (size_t)report.runs * BODY_OUTPUTS * sizeof(double));
    assert_int_equal(report.searched, 0);
    body_controls_free(other);
    /* with what the searches found left out or of other runs they are made again: the same bits */
    struct body_controls_known less = *again.known;
    for (int q = 0; q < BODY_OUTPUTS; q++)
        less.found[q] =
            q % 2 ? less.found[(q + 2) % BODY_OUTPUTS] : (struct body_controls_found){.of = ""};
    struct body_controls_options bare = {
        .triangles = 250, .fine = 700, .checks = 3, .known = &less};
    check_ok(body_controls_new(&other, next, RUNS, D, make, &half, &bare, &err), &err);
    body_controls_report(other, &report);
    assert_true(report.searched >= 7);
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        check_ok(body_controls_predict(kept, q, unseen, 6, was, var[0], &err), &err);
        check_ok(body_controls_predict(other, q, unseen, 6, now, var[1], &err), &err);
        assert_memory_equal(was, now, sizeof was);
        assert_memory_equal(var[0], var[1], sizeof var[0]);
    }
    body_controls_free(other);
    check_ok(body_controls_new(&other, next, RUNS, D, make, &narrow, &again, &err), &err);
    body_controls_report(other, &report);
    assert_int_equal(report.reused, 0); /* another sheet */
    body_controls_free(first);
    body_controls_free(kept);
    body_controls_free(fresh);
    body_controls_free(other);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_stand_in),
                                       cmocka_unit_test(test_runs_of_before)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
