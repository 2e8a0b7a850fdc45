/* The table of rows: filling, weights, evidence against closed forms, the same bits on any number
 * of threads, and there and back as bytes. Closed forms: the normal model with known variance
 * (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 2.5). */
#include "base/mem.h"
#include "base/parallel.h"
#include "num/rows.h"

#include "check.h"

static struct error err;

static double sum_of_two(const double *row, void *ctx) {
    const size_t *c = ctx;
    return row[c[0]] + row[c[1]];
}

/* One reading of one column with a normal error. */
struct reading {
    size_t col;
    double y, u;
};
static double reading_like(const double *row, void *ctx) {
    const struct reading *r = ctx;
    double z = (r->y - row[r->col]) / r->u;
    return -0.5 * z * z - log(r->u) - 0.5 * log(2 * M_PI);
}
static void reading_below(const double *row, double *out, void *ctx) {
    const struct reading *r = ctx;
    out[0] = 0.5 * erfc(-(r->y - row[r->col]) / r->u / sqrt(2));
}
static struct num_evidence reading_evidence(const char *id, struct reading *r, const size_t *move) {
    return (struct num_evidence){.id = id,
                                 .log_like = reading_like,
                                 .ctx = r,
                                 .reads = &r->col,
                                 .n_reads = 1,
                                 .moves = move,
                                 .n_moves = move ? 1 : 0,
                                 .predict = reading_below,
                                 .n_predict = 1};
}

static struct num_rows *new_rows(size_t n) {
    struct num_rows *rows;
    check_ok(num_rows_new(&rows, n, 20260501, &err), &err);
    return rows;
}

static size_t root(struct num_rows *rows, const char *id, struct num_dist d) {
    size_t c;
    check_ok(num_rows_root(rows, id, &d, &c, &err), &err);
    return c;
}

/* Each of n strata of probability holds exactly one value; mean and sd follow closely. */
static void test_strata(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    struct num_dist d = num_dist_normal(10, 2);
    size_t c = root(rows, "a", d);
    char *seen = calloc(4096, 1);
    for (size_t i = 0; i < 4096; i++) {
        size_t k = (size_t)(4096 * num_dist_cdf(&d, num_rows_values(rows, c)[i]));
        assert_true(k < 4096 && !seen[k]);
        seen[k] = 1;
    }
    free(seen);
    check_near(num_rows_mean(rows, c), 10, 0.002);
    check_near(num_rows_sd(rows, c), 2, 0.005);
    check_near(num_rows_effective(rows), 4096, 1e-6);
    num_rows_free(rows);
}

/* Neither the order of asking nor another column changes a column's numbers. */
static void test_order(void **state) {
    (void)state;
    struct num_rows *one = new_rows(512), *two = new_rows(512);
    size_t a1 = root(one, "a", num_dist_normal(0, 1)), b1 = root(one, "b", num_dist_uniform(0, 1));
    size_t b2 = root(two, "b", num_dist_uniform(0, 1));
    root(two, "other", num_dist_beta(2, 3, 0, 1));
    size_t a2 = root(two, "a", num_dist_normal(0, 1)), c;
    assert_memory_equal(num_rows_values(one, a1), num_rows_values(two, a2), 512 * sizeof(double));
    assert_memory_equal(num_rows_values(one, b1), num_rows_values(two, b2), 512 * sizeof(double));
    struct num_dist d = num_dist_normal(0, 2);
    assert_int_equal(num_rows_root(one, "a", &d, &c, &err), ERR_CONFLICT);
    error_clear(&err);
    num_rows_free(one);
    num_rows_free(two);
}

/* A broad reading re-weights, a sharp one tempers and moves: both give the closed form. */
static void test_conjugate(void **state) {
    (void)state;
    static const double us[] = {2.0, 0.05};
    for (int k = 0; k < 2; k++) {
        struct num_rows *rows = new_rows(0);
        size_t a = root(rows, "a", num_dist_normal(0, 1)),
               b = root(rows, "b", num_dist_normal(5, 1));
        size_t both[] = {a, b}, s;
        check_ok(num_rows_derive(rows, "sum", both, 2, sum_of_two, both, &s, &err), &err);
        struct reading r = {a, 1.2, us[k]};
        struct num_evidence e = reading_evidence("reading", &r, &a);
        struct num_report report;
        check_ok(num_rows_condition(rows, &e, &report, &err), &err);
        double v = 1 / (1 + 1 / (r.u * r.u)), m = v * r.y / (r.u * r.u);
        double predict_sd = sqrt(1 + r.u * r.u);
        double evidence =
            -0.5 * r.y * r.y / (predict_sd * predict_sd) - log(predict_sd) - 0.5 * log(2 * M_PI);
        assert_int_equal(report.stages > 0, k == 1);
        check_near(num_rows_mean(rows, a), m, 4 * sqrt(v / 2000) + 1e-9);
        check_rel(num_rows_sd(rows, a), sqrt(v), 0.06);
        check_near(report.log_evidence, evidence, 4 * report.log_evidence_se + 0.01);
        check_near(num_rows_mean(rows, b), 5, 0.1);
        check_near(num_rows_mean(rows, s), num_rows_mean(rows, a) + num_rows_mean(rows, b), 1e-9);
        check_near(report.p_predicted, erfc(r.y / predict_sd / sqrt(2)), 0.01);
        num_rows_free(rows);
    }
}

/* A second sharp reading that moves the same root keeps the first in force. */
static void test_earlier_evidence(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    size_t a = root(rows, "a", num_dist_normal(0, 1));
    struct reading r1 = {a, 1.0, 0.05}, r2 = {a, 1.1, 0.02};
    struct num_evidence e1 = reading_evidence("first", &r1, &a),
                        e2 = reading_evidence("second", &r2, &a);
    struct num_report report;
    check_ok(num_rows_condition(rows, &e1, &report, &err), &err);
    check_ok(num_rows_condition(rows, &e2, &report, &err), &err);
    double w1 = 1 / (0.05 * 0.05), w2 = 1 / (0.02 * 0.02), v = 1 / (1 + w1 + w2);
    check_near(num_rows_mean(rows, a), v * (w1 * 1.0 + w2 * 1.1), 0.12 * sqrt(v));
    check_rel(num_rows_sd(rows, a), sqrt(v), 0.08);
    /* Entering it again changes nothing. */
    double before = num_rows_mean(rows, a);
    check_ok(num_rows_condition(rows, &e2, &report, &err), &err);
    assert_true(before == num_rows_mean(rows, a));
    num_rows_free(rows);
}

/* A reading far outside what the rows predict is held out and nothing changes. */
static void test_held_out(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    size_t a = root(rows, "a", num_dist_normal(0, 1));
    double before = num_rows_mean(rows, a);
    struct reading r = {a, 9, 0.3};
    struct num_evidence e = reading_evidence("wild", &r, &a);
    struct num_report report;
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    assert_true(report.held_out && report.surprising && report.p_best < 0.01);
    assert_true(before == num_rows_mean(rows, a));
    e.insist = true; /* a person has chosen */
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    assert_false(report.held_out);
    check_near(num_rows_mean(rows, a), 9 / (1 + 0.09), 0.05);
    num_rows_free(rows);
}

/* Rivals: equal rows each, probability in the weight, evidence shifts it by Bayes' rule. */
static void test_rivals(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    double value[] = {0, 1, 2}, p[] = {0.6, 0.3, 0.1};
    size_t f = root(rows, "family", num_dist_discrete(3, value, p));
    size_t a = root(rows, "a", num_dist_normal(0, 1));
    size_t count[3] = {0};
    for (size_t i = 0; i < 4096; i++)
        count[(int)num_rows_values(rows, f)[i]]++;
    for (int k = 0; k < 3; k++)
        assert_in_range(count[k], 1365, 1366);
    check_near(num_rows_equal(rows, f, 0), 0.6, 1e-3);
    check_near(num_rows_effective(rows), 4096, 1e-6);
    /* mean of the reading is a + family */
    size_t both[] = {a, f}, s;
    check_ok(num_rows_derive(rows, "s", both, 2, sum_of_two, both, &s, &err), &err);
    struct reading r = {s, 1.5, 0.1};
    struct num_evidence e = reading_evidence("reading", &r, &a);
    struct num_report report;
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    double like[3], total = 0, v = 1 + 0.01;
    for (int k = 0; k < 3; k++)
        total += like[k] = p[k] * exp(-0.5 * (1.5 - k) * (1.5 - k) / v) / sqrt(2 * M_PI * v);
    /* 1365 rows a rival, a third of them effective in a first step: ln evidence of each is known
     * to about 0.05, so probabilities to about 0.25 * 0.05 * sqrt 2; four times that. */
    for (int k = 0; k < 3; k++)
        check_near(num_rows_equal(rows, f, k), like[k] / total, 0.07);
    check_near(report.log_evidence, log(total), 0.05);
    memset(count, 0, sizeof count);
    for (size_t i = 0; i < 4096; i++)
        count[(int)num_rows_values(rows, f)[i]]++;
    for (int k = 0; k < 3; k++)
        assert_in_range(count[k], 1365, 1366);
    double half = 0.5, q;
    num_rows_quantiles_given(rows, a, f, 1, &half, 1, &q);
    check_near(q, 0.5 / 1.01, 0.02);
    num_rows_free(rows);
}

/* Matheron's rule against the closed form for two roots, one of them lognormal, two readings. */
static void test_matheron(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    size_t a = root(rows, "a", num_dist_normal(0.1, 0.05)); /* ln of a factor */
    size_t b = root(rows, "b", num_dist_lognormal(100, 0.2));
    size_t roots[] = {a, b};
    double h[] = {1, 1, 0, 1}, y[] = {log(120), log(110)}, v[] = {0.0004, 0.0009};
    struct num_gaussian g = {
        .id = "widths", .n_y = 2, .n_x = 2, .roots = roots, .h = h, .y = y, .variance = v};
    struct num_report report;
    check_ok(num_rows_condition_gaussian(rows, &g, &report, &err), &err);
    assert_true(report.exact && !report.held_out);
    /* Precision form: P = diag(1/s^2) + H' R^-1 H. */
    double p11 = 1 / 0.0025 + 1 / v[0], p12 = 1 / v[0], p22 = 1 / 0.04 + 1 / v[0] + 1 / v[1];
    double b1 = 0.1 / 0.0025 + y[0] / v[0], b2 = log(100) / 0.04 + y[0] / v[0] + y[1] / v[1];
    double det = p11 * p22 - p12 * p12, ma = (p22 * b1 - p12 * b2) / det,
           mb = (p11 * b2 - p12 * b1) / det;
    check_near(num_rows_mean(rows, a), ma, 4 * sqrt(p22 / det / 4096));
    check_rel(num_rows_sd(rows, a), sqrt(p22 / det), 0.05);
    check_near(log(num_rows_quantile(rows, b, 0.5)), mb, 5 * sqrt(p11 / det / 4096));
    /* ln N(y; H m, H P H' + R) in closed form for 2 x 2. */
    double s11 = 0.0025 + 0.04 + v[0], s12 = 0.04, s22 = 0.04 + v[1], sd = s11 * s22 - s12 * s12;
    double e1 = y[0] - 0.1 - log(100), e2 = y[1] - log(100);
    double want = -0.5 * (s22 * e1 * e1 - 2 * s12 * e1 * e2 + s11 * e2 * e2) / sd - 0.5 * log(sd) -
                  log(2 * M_PI);
    check_near(report.log_evidence, want, 1e-9);
    num_rows_free(rows);
}

/* The general operator and Matheron's rule agree on the same evidence. */
static void test_two_ways(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    size_t a = root(rows, "a", num_dist_normal(0, 1)), b = root(rows, "b", num_dist_normal(0, 1));
    struct reading r = {a, 0.4, 0.1};
    struct num_evidence e = reading_evidence("general", &r, &a);
    size_t both[] = {a, b};
    double h[] = {1, 1}, y = 1.0, v = 0.01;
    struct num_gaussian g = {
        .id = "sum", .n_y = 1, .n_x = 2, .roots = both, .h = h, .y = &y, .variance = &v};
    struct num_report report;
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    check_ok(num_rows_condition_gaussian(rows, &g, &report, &err), &err);
    assert_false(report.exact); /* a has been moved by general evidence */
    double p11 = 1 + 100 + 100, p12 = 100, p22 = 1 + 100, b1 = 0.4 * 100 + 100, b2 = 100;
    double det = p11 * p22 - p12 * p12;
    check_near(num_rows_mean(rows, a), (p22 * b1 - p12 * b2) / det, 0.15 * sqrt(p22 / det));
    check_near(num_rows_mean(rows, b), (p11 * b2 - p12 * b1) / det, 0.15 * sqrt(p11 / det));
    check_rel(num_rows_sd(rows, b), sqrt(p11 / det), 0.08);
    num_rows_free(rows);
}

/* A root asked for after resampling takes the numbers of the rows' ancestors. */
static void test_ancestors(void **state) {
    (void)state;
    struct num_rows *early = new_rows(1024), *late = new_rows(1024);
    size_t ae = root(early, "a", num_dist_normal(0, 1)),
           be = root(early, "b", num_dist_uniform(0, 9));
    size_t al = root(late, "a", num_dist_normal(0, 1));
    struct reading re = {ae, 1, 0.05}, rl = {al, 1, 0.05};
    struct num_evidence ee = reading_evidence("r", &re, &ae), el = reading_evidence("r", &rl, &al);
    struct num_report report;
    check_ok(num_rows_condition(early, &ee, &report, &err), &err);
    check_ok(num_rows_condition(late, &el, &report, &err), &err);
    assert_true(report.stages > 0);
    size_t bl = root(late, "b", num_dist_uniform(0, 9));
    assert_memory_equal(num_rows_values(early, be), num_rows_values(late, bl),
                        1024 * sizeof(double));
    num_rows_free(early);
    num_rows_free(late);
}

static struct num_rows *whole_run(unsigned threads, struct reading *r) {
    parallel_set_threads(threads);
    struct num_rows *rows = new_rows(1000);
    double value[] = {0, 1};
    size_t f = root(rows, "f", num_dist_discrete(2, value, NULL));
    size_t a = root(rows, "a", num_dist_beta(2, 2, 0, 4));
    size_t n = root(rows, "n", num_dist_integer(0, 40, 20, INFINITY));
    size_t both[] = {a, f}, s, moves[] = {a, n};
    static size_t ctx[2];
    ctx[0] = a, ctx[1] = f;
    check_ok(num_rows_derive(rows, "s", both, 2, sum_of_two, ctx, &s, &err), &err);
    *r = (struct reading){s, 1.3, 0.02};
    struct num_evidence e = reading_evidence("r", r, moves);
    e.n_moves = 2;
    struct num_report report;
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    parallel_set_threads(0);
    return rows;
}

static void test_threads_and_bytes(void **state) {
    (void)state;
    struct reading r1, r2;
    struct num_rows *one = whole_run(1, &r1), *five = whole_run(5, &r2), *back;
    struct arena *arena = arena_new();
    char *b1, *b5, *b;
    size_t n1, n5, n;
    check_ok(num_rows_save(one, &b1, &n1, arena, &err), &err);
    check_ok(num_rows_save(five, &b5, &n5, arena, &err), &err);
    assert_int_equal(n1, n5);
    assert_memory_equal(b1, b5, n1);
    check_ok(num_rows_load(&back, b1, n1, &err), &err);
    check_ok(num_rows_save(back, &b, &n, arena, &err), &err);
    assert_int_equal(n, n1);
    assert_memory_equal(b, b1, n1);
    num_rows_free(back);
    for (size_t at = 0; at < n1; at += 997) { /* a changed byte anywhere is noticed */
        b1[at] ^= 4;
        assert_int_equal(num_rows_load(&back, b1, n1, &err), ERR_DAMAGED);
        b1[at] ^= 4;
    }
    assert_int_equal(num_rows_load(&back, b1, n1 / 2, &err), ERR_DAMAGED);
    num_rows_free(one);
    num_rows_free(five);
    arena_free(arena);
}

/* An integer root of many values is moved through its scores: against enumeration. */
static void test_integer(void **state) {
    (void)state;
    struct num_rows *rows = new_rows(0);
    size_t n = root(rows, "n", num_dist_integer(0, 1000, 500, INFINITY));
    struct reading r = {n, 420.3, 1.2};
    struct num_evidence e = reading_evidence("count", &r, &n);
    struct num_report report;
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    double sum = 0, p420 = 0;
    for (int k = 400; k < 440; k++) {
        double z = (k - 420.3) / 1.2, w = exp(-0.5 * z * z);
        sum += w;
        if (k == 420) p420 = w;
    }
    check_near(num_rows_equal(rows, n, 420), p420 / sum, 0.04);
    check_near(report.log_evidence, log(1 / 1001.0), 0.1);
    num_rows_free(rows);
}

/* The n-th allocation fails, for every n: the call says so, nothing is lost or leaked, and the
 * table is as it was. */
static int small_run(struct num_rows **rows, struct error *e) {
    size_t a, b, s, from[2];
    static size_t ctx[2];
    double value[] = {0, 1}, h[] = {1}, y[] = {0.4, 0.5}, v[] = {0.1, 0.1};
    double h2[] = {1, 1};
    struct num_dist d = num_dist_normal(0, 1), f = num_dist_discrete(2, value, NULL);
    struct num_report report;
    int rc = num_rows_new(rows, 64, 1, e);
    if (!rc) rc = num_rows_root(*rows, "a", &d, &a, e);
    if (!rc) rc = num_rows_root(*rows, "f", &f, &b, e);
    if (rc) return rc;
    from[0] = ctx[0] = a, from[1] = ctx[1] = b;
    if ((rc = num_rows_derive(*rows, "s", from, 2, sum_of_two, ctx, &s, e))) return rc;
    struct num_gaussian g = {
        .id = "g", .n_y = 2, .n_x = 1, .roots = &a, .h = h2, .y = y, .variance = v};
    (void)h;
    if ((rc = num_rows_condition_gaussian(*rows, &g, &report, e))) return rc;
    struct reading r = {s, 0.7, 0.02};
    struct num_evidence ev = reading_evidence("r", &r, &a);
    ev.sweeps = ev.last_sweeps = 2;
    rc = num_rows_condition(*rows, &ev, &report, e);
    return rc;
}

static void test_memory(void **state) {
    (void)state;
    long n = 1;
    for (; n < 2000; n++) {
        struct num_rows *rows = NULL;
        struct error e = {0};
        mem_fail_nth(n);
        int rc = small_run(&rows, &e);
        mem_fail_nth(0);
        if (rows) {
            double w = 0;
            for (size_t i = 0; i < num_rows_count(rows); i++)
                w += exp(num_rows_log_weights(rows)[i]);
            assert_true(w > 0 && isfinite(w));
        }
        num_rows_free(rows);
        if (rc == 0) break;
        assert_int_equal(rc, ERR_MEMORY);
    }
    assert_true(n > 30 && n < 2000);
}

/* A copy can be conditioned without touching the first; forgotten functions make a move of what
 * earlier evidence rests on a refusal, not a wrong answer. */
static void test_copy_and_forget(void **state) {
    (void)state;
    struct num_rows *rows, *copy;
    check_ok(num_rows_new(&rows, 512, 9, &err), &err);
    size_t a = root(rows, "a", num_dist_normal(0, 1));
    struct reading r1 = {a, 1.0, 0.05}, r2 = {a, 1.0, 0.01};
    struct num_evidence e1 = reading_evidence("first", &r1, &a),
                        e2 = reading_evidence("second", &r2, &a);
    struct num_report report;
    check_ok(num_rows_condition(rows, &e1, &report, &err), &err);
    check_ok(num_rows_copy(&copy, rows, &err), &err);
    double before = num_rows_mean(rows, a);
    check_ok(num_rows_condition(copy, &e2, &report, &err), &err);
    assert_true(num_rows_mean(rows, a) == before);
    assert_true(num_rows_sd(copy, a) < 0.5 * num_rows_sd(rows, a));
    num_rows_forget_functions(rows);
    assert_int_equal(num_rows_condition(rows, &e2, &report, &err), ERR_REFUSED);
    error_clear(&err);
    assert_true(num_rows_mean(rows, a) == before);
    check_ok(num_rows_condition(rows, &e1, &report, &err), &err); /* joins the function again */
    check_ok(num_rows_condition(rows, &e2, &report, &err), &err);
    e2.key = 5;
    struct num_evidence other = e2;
    other.id = "third";
    check_ok(num_rows_condition(rows, &other, &report, &err), &err);
    other.key = 6;
    assert_int_equal(num_rows_condition(rows, &other, &report, &err), ERR_CONFLICT);
    error_clear(&err);
    num_rows_free(rows);
    num_rows_free(copy);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_strata),          cmocka_unit_test(test_order),
        cmocka_unit_test(test_conjugate),       cmocka_unit_test(test_earlier_evidence),
        cmocka_unit_test(test_held_out),        cmocka_unit_test(test_rivals),
        cmocka_unit_test(test_matheron),        cmocka_unit_test(test_two_ways),
        cmocka_unit_test(test_ancestors),       cmocka_unit_test(test_threads_and_bytes),
        cmocka_unit_test(test_integer),         cmocka_unit_test(test_memory),
        cmocka_unit_test(test_copy_and_forget),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
