/* Shares, emulator and information on rows, against closed forms: linear Gaussian inputs (Shapley
 * shares of two correlated ones: Owen & Prieur, SIAM/ASA JUQ 5, 2017, 986-1002, section 4), the
 * g-function's main effects, binary questions by quadrature. */
#include "base/parallel.h"
#include "num/emulator.h"
#include "num/information.h"
#include "num/random.h"
#include "num/sensitivity.h"
#include "num/shares.h"

#include "check.h"

static struct error err;

static double correlated(const double *row, void *ctx) {
    const double *c = ctx; /* root columns, rho */
    return c[2] * row[(size_t)c[0]] + sqrt(1 - c[2] * c[2]) * row[(size_t)c[1]];
}
static double linear(const double *row, void *ctx) {
    const double *c = ctx; /* columns, slopes */
    return c[2] * row[(size_t)c[0]] + c[3] * row[(size_t)c[1]];
}

static void test_shapley(void **state) {
    (void)state;
    struct num_rows *rows;
    struct num_dist z = num_dist_normal(0, 1);
    size_t a, b, x2, y, from[2];
    double rho = 0.6, b1 = 1, b2 = 0.5;
    check_ok(num_rows_new(&rows, 0, 5, &err), &err);
    check_ok(num_rows_root(rows, "a", &z, &a, &err), &err);
    check_ok(num_rows_root(rows, "b", &z, &b, &err), &err);
    double c1[] = {(double)a, (double)b, rho};
    from[0] = a, from[1] = b;
    check_ok(num_rows_derive(rows, "x2", from, 2, correlated, c1, &x2, &err), &err);
    double c2[] = {(double)a, (double)x2, b1, b2};
    from[1] = x2;
    check_ok(num_rows_derive(rows, "y", from, 2, linear, c2, &y, &err), &err);
    struct num_share_group g[] = {{"first", &a, 1}, {"second", &x2, 1}};
    struct num_shares s;
    check_ok(num_shares(&s, rows, y, g, 2, &err), &err);
    double v = b1 * b1 + b2 * b2 + 2 * rho * b1 * b2;
    double want = (b1 * b1 * (1 - rho * rho / 2) + rho * b1 * b2 + b2 * b2 * rho * rho / 2) / v;
    check_near(s.shapley[0], want, 0.015);
    check_near(s.shapley[0] + s.shapley[1] + s.unexplained, 1, 1e-9);
    check_near(s.unexplained, 0, 1e-3); /* scores of a sample are not quite its values */
    check_near(s.alone[0], (b1 + rho * b2) * (b1 + rho * b2) / v, 0.02);
    check_near(s.last[1], b2 * b2 * (1 - rho * rho) / v, 0.02);
    double share, se;
    check_ok(num_main_effect(&share, &se, num_rows_values(rows, a), num_rows_values(rows, y), NULL,
                             num_rows_count(rows), &err),
             &err);
    check_near(share, (b1 + rho * b2) * (b1 + rho * b2) / v, 0.03);
    num_rows_free(rows);
}

static double g3(const double *x) {
    static const double a[] = {0, 1, 4.5};
    double y = 1;
    for (int i = 0; i < 3; i++)
        y *= (fabs(4 * x[i] - 2) + a[i]) / (1 + a[i]);
    return y;
}

/* Given-data main effects of the g-function: V_i = 1/(3 (1 + a_i)^2), V = prod(1 + V_i) - 1. */
static void test_main_effects(void **state) {
    (void)state;
    static const double a[] = {0, 1, 4.5};
    enum { N = 4096 };
    double *u = calloc(N * 3, sizeof *u), x[N], y[N], v = 1, share;
    check_ok(num_design(u, N, 3, 1, &err), &err);
    for (int i = 0; i < N; i++)
        y[i] = g3(u + 3 * i);
    for (int k = 0; k < 3; k++)
        v *= 1 + 1 / (3 * (1 + a[k]) * (1 + a[k]));
    for (int k = 0; k < 3; k++) {
        for (int i = 0; i < N; i++)
            x[i] = u[3 * i + k];
        check_ok(num_main_effect(&share, NULL, x, y, NULL, N, &err), &err);
        check_near(share, 1 / (3 * (1 + a[k]) * (1 + a[k])) / (v - 1), 0.03);
    }
    free(u);
}

static double smooth(const double *x) {
    return sin(3 * x[0]) + x[1] * x[1] + 0.5 * x[0] * x[2] + 10;
}

/* A smooth function of four inputs, one of them idle: unseen points within the stated error. */
static void test_emulator(void **state) {
    (void)state;
    enum { N = 80, D = 4, M = 400 };
    double x[N * D], y[N], t[M * D], mean[M], var[M], one[M], sum = 0, inside = 0;
    check_ok(num_design(x, N, D, 3, &err), &err);
    check_ok(num_design(t, M, D, 99, &err), &err);
    for (int i = 0; i < N; i++)
        y[i] = smooth(x + D * i);
    struct num_emulator *e;
    struct num_emulator_check c;
    check_ok(num_emulator_fit(&e, x, y, N, D, NULL, &err), &err);
    num_emulator_check(e, &c);
    parallel_set_threads(3);
    check_ok(num_emulator_predict_many(e, t, M, mean, var, &err), &err);
    parallel_set_threads(1);
    check_ok(num_emulator_predict_many(e, t, M, one, NULL, &err), &err);
    parallel_set_threads(0);
    assert_memory_equal(mean, one, sizeof mean);
    for (int i = 0; i < M; i++) {
        double d = mean[i] - smooth(t + D * i);
        sum += d * d / M;
        inside += fabs(d) <= 1.645 * sqrt(var[i]);
    }
    check_note("emulator: rms %.4g (left out %.4g), inside 90 %%: %.2f", sqrt(sum), c.rms,
               inside / M);
    assert_true(sqrt(sum) < 0.05 && c.relative < 0.1);
    assert_true(sqrt(sum) < 3 * c.rms && inside / M > 0.7);
    double length[D];
    num_emulator_found(e, length, NULL, NULL, NULL);
    assert_true(length[3] > 2 * length[0]); /* the idle input has a long length */
    check_near(num_emulator_outside(e, (double[]){0.5, 0.5, 0.5, 3}), 2, 0.1);
    num_emulator_free(e);
    /* linear trend carries a straight line beyond its points */
    for (int i = 0; i < N; i++)
        y[i] = 1 + 2 * x[D * i] - x[D * i + 1];
    struct num_emulator_options o = {.trend = NUM_TREND_LINEAR};
    check_ok(num_emulator_fit(&e, x, y, N, D, &o, &err), &err);
    num_emulator_predict(e, (double[]){2, 2, 0.5, 0.5}, mean, var);
    check_near(mean[0], 3, 1e-3);
    num_emulator_free(e);
    y[3] = NAN;
    assert_int_equal(num_emulator_fit(&e, x, y, N, D, &o, &err), ERR_RANGE);
    error_clear(&err);
}

/* Is x ~ N(0,1) above 0? y = x + e, e ~ N(0, s^2). I = ln 2 - E[h(Phi(y/sqrt(s^2 + s^4)))] by
 * quadrature, h the entropy of a coin. */
static void test_question(void **state) {
    (void)state;
    enum { N = 4096 };
    double s = 0.5, want = log(2), sd = sqrt(1 + s * s), *x = calloc(N, sizeof *x),
           *q = calloc(N, sizeof *q);
    for (double y = -8; y <= 8; y += 1e-3) {
        double p = 0.5 * erfc(-y / sqrt(s * s + s * s * s * s) / sqrt(2));
        double h = p > 0 && p < 1 ? -p * log(p) - (1 - p) * log(1 - p) : 0;
        want -= h * exp(-0.5 * y * y / (sd * sd)) / (sd * sqrt(2 * M_PI)) * 1e-3;
    }
    struct num_dist z = num_dist_normal(0, 1);
    for (int i = 0; i < N; i++) {
        x[i] = num_dist_quantile(&z, (i + 0.5) / N);
        q[i] = x[i] > 0;
    }
    struct num_information_task t = {
        .predict = x, .sd = &s, .question = q, .n = N, .m = 1, .seed = 2};
    struct num_information info;
    check_ok(num_information(&info, &t, &err), &err);
    check_near(info.gain, want, 4 * info.error);
    check_near(info.most, log(2), 1e-12);
    assert_true(info.gain < info.most);
    /* several questions at once: the same numbers as one by one */
    double *five = calloc(N, sizeof *five);
    for (int i = 0; i < N; i++)
        five[i] = i * 5 / N;
    const double *both[] = {q, five};
    struct num_information many[2], alone;
    check_ok(num_information_many(many, &t, both, 2, &err), &err);
    check_near(many[0].gain, info.gain, 1e-10);
    check_near(many[0].bias, info.bias, 1e-10);
    check_near(many[0].error, info.error, 1e-10);
    t.question = five;
    check_ok(num_information(&alone, &t, &err), &err);
    check_near(many[1].gain, alone.gain, 1e-10);
    check_near(many[1].most, alone.most, 1e-12);
    free(five);
    free(x);
    free(q);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shapley), cmocka_unit_test(test_main_effects),
        cmocka_unit_test(test_emulator), cmocka_unit_test(test_question)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
