/* expect: information against closed forms of linear-Gaussian problems. */
#include "trial/expect.h"

#include "check.h"

static struct error err;

/* Reference check "eig_linear_gaussian" (exact: 1/2 ln(1 + g' S g / v)): x ~ N(0, [[1, .3], [.3,
 * .5]]), rows of G (1, .5), (0, 2), (1, 1), error variances .2, .5, .1: 1.04747286,
 * 0.80471896, 1.54552132 nats, each alone. */
static void each_row_alone(void **state) {
    (void)state;
    check_from(CHECK_EXACT,
               "expected information of a linear-Gaussian reading, 1/2 ln(1 + g' S g / v)");
    enum { N = 4096 };
    static const double g[3][2] = {{1, 0.5}, {0, 2}, {1, 1}}, v[] = {0.2, 0.5, 0.1};
    static const double want[] = {1.04747286, 0.80471896, 1.54552132};
    struct arena *a = arena_new();
    double *x[2], *y = ARENA_NEW(a, double, N), *w = ARENA_NEW(a, double, N);
    for (int k = 0; k < 2; k++)
        x[k] = ARENA_NEW(a, double, N);
    for (size_t i = 0; i < N; i++) {
        struct num_random r;
        num_random_begin(&r, 3, num_hash("eig"), i);
        double p = num_random_normal(&r), q = num_random_normal(&r);
        x[0][i] = p; /* Cholesky of the covariance */
        x[1][i] = 0.3 * p + sqrt(0.5 - 0.09) * q;
        w[i] = 1.0 / N;
    }
    for (int k = 0; k < 3; k++) {
        for (size_t i = 0; i < N; i++)
            y[i] = g[k][0] * x[0][i] + g[k][1] * x[1][i];
        struct expect_info all, one;
        check_ok(trial_expect_all(&all, y, w, N, sqrt(v[k]), a, &err), &err);
        /* About x1 alone: -1/2 ln(1 - rho^2), rho between x1 and y with its error. */
        double c = g[k][0] + 0.3 * g[k][1];
        double s = g[k][0] * g[k][0] + 0.6 * g[k][0] * g[k][1] + 0.5 * g[k][1] * g[k][1] + v[k];
        double exact = -0.5 * log(1 - c * c / s);
        check_ok(trial_expect(&one, y, x[0], w, N, sqrt(v[k]), false, a, &err), &err);
        check_note("row %d: %.4f (bias %.4f, +- %.4f), exact %.4f; about x1 %.4f (bias %.4f, +- "
                   "%.4f), exact %.4f",
                   k, all.nats, all.bias, all.error, want[k], one.nats, one.bias, one.error, exact);
        /* 4096 rows are a sample of the prior themselves: their own spread adds about 0.02 */
        check_near(all.nats, want[k], 3 * all.error + 0.02);
        /* sixteen slices of x1 lose a little: they are a lower bound, by under 0.05 here */
        check_near(one.nats, exact, 3 * one.error + 0.05);
    }
    arena_free(a);
}

/* A rival with two equally likely readings a distance 2 d apart, error sd 1: I = ln 2 - E[...], by
 * quadrature (trapezium on a fine grid, worked out here). */
static void two_rivals(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "two rivals, information by quadrature");
    enum { N = 2048 };
    struct arena *a = arena_new();
    double *t = ARENA_NEW(a, double, N), *y = ARENA_NEW(a, double, N), *w = ARENA_NEW(a, double, N);
    for (size_t i = 0; i < N; i++) {
        t[i] = i < N / 2;
        w[i] = 1.0 / N;
    }
    for (double d = 0.25; d <= 3; d *= 2) {
        double exact = log(2);
        for (double z = -9; z <= 9; z += 1e-3) /* y = d + z under the first reading */
            exact -= 1e-3 * exp(-z * z / 2) / sqrt(2 * M_PI) * log1p(exp(-2 * d * (d + z)));
        for (size_t i = 0; i < N; i++)
            y[i] = t[i] > 0 ? d : -d;
        struct expect_info info;
        check_ok(trial_expect(&info, y, t, w, N, 1, true, a, &err), &err);
        check_note("rivals %g apart: %.4f, exact %.4f", 2 * d, info.nats, exact);
        check_near(info.nats, exact, 3 * info.error + 0.01);
    }
    /* What says nothing is worth nothing. */
    struct expect_info none;
    for (size_t i = 0; i < N; i++)
        y[i] = (double)(i * 7919 % N) / N;
    check_ok(trial_expect(&none, y, t, w, N, 0.5, true, a, &err), &err);
    check_near(none.nats, 0, 0.01);
    assert_int_equal(trial_expect(&none, y, t, w, N, 0, true, a, &err), ERR_RANGE);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(each_row_alone),
                                       cmocka_unit_test(two_rivals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
