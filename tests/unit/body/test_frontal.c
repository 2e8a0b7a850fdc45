/* The sparse factor: against the matrix itself, on plates of a grid with random weights; what is
 * not positive definite is told. Order and supernodes as the shell takes them, from CHOLMOD. */
#include "body/frontal.h"
#include "num/random.h"

#include "check.h"

#include <cholmod.h>
#include <string.h>

/* Lower half of a grid's Laplacian with weights in (0.1, 1.1), `more` on the diagonal. */
static cholmod_sparse *grid(int side, double more, cholmod_common *c) {
    int n = side * side, at = 0;
    cholmod_sparse *a =
        cholmod_allocate_sparse((size_t)n, (size_t)n, (size_t)(3 * n), 1, 1, -1, CHOLMOD_REAL, c);
    int *p = a->p, *row = a->i;
    double *x = a->x, sum[4096] = {0};
    struct num_random random;
    num_random_begin(&random, 5, num_hash("grid"), (uint64_t)side);
    for (int v = 0; v < n; v++) {
        int diagonal = at;
        p[v] = at;
        row[at++] = v;
        for (int k = 0; k < 2; k++) {
            int w = k ? v + side : v + 1;
            if (w >= n || (!k && w % side == 0)) continue;
            row[at] = w;
            x[at] = -0.1 - num_random_uniform(&random);
            sum[v] -= x[at];
            sum[w] -= x[at++];
        }
        x[diagonal] = sum[v] + more;
    }
    p[n] = at;
    return a;
}

static void run(int side, double more, int want) {
    struct error err = {0};
    cholmod_common c;
    cholmod_start(&c);
    c.supernodal = CHOLMOD_SUPERNODAL;
    cholmod_sparse *a = grid(side, more, &c);
    cholmod_factor *l = cholmod_analyze(a, &c);
    struct frontal_pattern pattern = {.n = a->nrow,
                                      .p = a->p,
                                      .row = a->i,
                                      .perm = l->Perm,
                                      .supers = l->nsuper,
                                      .super = l->super,
                                      .start = l->pi,
                                      .row_of = l->s};
    struct frontal *f;
    check_ok(frontal_new(&f, &pattern, &err), &err);
    assert_int_equal(frontal_factor(f, a->x), want);
    if (want) {
        double b[4096], x[4096], worst = 0;
        for (size_t i = 0; i < a->nrow; i++)
            b[i] = sin((double)i);
        frontal_solve(f, b, x);
        const int *p = a->p, *row = a->i;
        const double *v = a->x;
        for (size_t k = 0; k < a->ncol; k++)
            for (int t = p[k]; t < p[k + 1]; t++) {
                b[row[t]] -= v[t] * x[k];
                if ((size_t)row[t] != k) b[k] -= v[t] * x[row[t]];
            }
        for (size_t i = 0; i < a->nrow; i++)
            worst = fmax(worst, fabs(b[i]));
        assert_true(worst < 1e-11);
    }
    frontal_free(f);
    cholmod_free_sparse(&a, &c);
    cholmod_free_factor(&l, &c);
    cholmod_finish(&c);
}

static void test_solves(void **state) {
    (void)state;
    for (int side = 1; side <= 60; side += side < 12 ? 1 : 16)
        run(side, 0.01, 1);
}

static void test_not_definite(void **state) {
    (void)state;
    run(20, -0.5, 0);
    run(20, NAN, 0);
    run(20, INFINITY, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_solves),
                                       cmocka_unit_test(test_not_definite)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
