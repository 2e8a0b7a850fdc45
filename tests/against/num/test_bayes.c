/* Evidence, sensitivity, information, emulator: exact values (Ishigami & Homma 1990; Saltelli &
 * Sobol' 1995), Gaussian shells (Feroz, Hobson & Bridges, MNRAS 398, 2009, 1601-1614, table 2),
 * the rest closed forms; see data/README.md. */
#include "num/emulator.h"
#include "num/formula.h"
#include "num/information.h"
#include "num/rows.h"
#include "num/sensitivity.h"
#include "test_num_data.h"

static struct error err;
static json_t *data;

static double ishigami(const double *x, void *ctx) {
    (void)ctx;
    return sin(x[0]) + 7 * sin(x[1]) * sin(x[1]) + 0.1 * x[2] * x[2] * x[2] * x[2] * sin(x[0]);
}
static double g_function(const double *x, void *ctx) {
    const double *a = ctx;
    double y = 1;
    for (int i = 1; i <= (int)a[0]; i++)
        y *= (fabs(4 * x[i - 1] - 2) + a[i]) / (1 + a[i]);
    return y;
}

static void test_sensitivity(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "Ishigami & Homma 1990, exact first-order and total indices");
    struct num_sensitivity s;
    struct num_dist in[8];
    for (int i = 0; i < 3; i++)
        in[i] = num_dist_uniform(-M_PI, M_PI);
    json_t *i = data;
    json_t *ish = json_object_get(i, "ishigami_a7_b0.1");
    check_ok(num_sensitivity(&s, ishigami, NULL, in, 3, 4096, 8, 1, &err), &err);
    check_near(s.mean, data_number(ish, "mean"), 0.002);
    check_rel(s.variance, data_number(ish, "V"), 0.002);
    double first[8], total[8];
    data_list(ish, "S", first, 8);
    data_list(ish, "ST", total, 8);
    for (int k = 0; k < 3; k++) {
        check_near(s.first[k], first[k], 4 * s.first_error[k] + 5e-4);
        check_near(s.total[k], total[k], 4 * s.total_error[k] + 5e-4);
        check_near(s.first[k], first[k], 0.002);
    }
    check_from(CHECK_EXACT, "Saltelli & Sobol' 1995, g-function, exact indices");
    double a[9] = {8};
    json_t *g = data_at(data, "sobol_g");
    data_list(g, "a", a + 1, 8);
    for (int k = 0; k < 8; k++)
        in[k] = num_dist_uniform(0, 1);
    check_ok(num_sensitivity(&s, g_function, a, in, 8, 4096, 8, 1, &err), &err);
    size_t n = data_list(g, "S", first, 8);
    data_list(g, "ST", total, 8);
    check_rel(s.variance, data_number(g, "V"), 0.004);
    for (size_t k = 0; k < n; k++) {
        check_near(s.first[k], first[k], 0.004);
        check_near(s.total[k], total[k], 0.004);
    }
    double a0[4] = {3, 0, 0, 0};
    g = data_at(data, "sobol_g_000");
    check_ok(num_sensitivity(&s, g_function, a0, in, 3, 4096, 8, 1, &err), &err);
    data_list(g, "S", first, 8);
    data_list(g, "ST", total, 8);
    for (int k = 0; k < 3; k++) {
        check_near(s.first[k], first[k], 0.004);
        check_near(s.total[k], total[k], 0.004);
    }
}

static void test_information(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "expected information of a linear-Gaussian experiment, 1/2 ln det");
    json_t *d = data_at(data, "eig_linear_gaussian");
    double g[6], p[4], r[3], alone[3], out;
    for (int i = 0; i < 3; i++)
        data_list(json_array_get(data_at(d, "G"), (size_t)i), "", g + 2 * i, 2);
    for (int i = 0; i < 2; i++)
        data_list(json_array_get(data_at(d, "prior_cov"), (size_t)i), "", p + 2 * i, 2);
    data_list(d, "noise_var", r, 3);
    data_list(d, "each_row_alone", alone, 3);
    check_ok(num_information_gaussian(&out, g, p, r, 3, 2, &err), &err);
    check_near(out, data_number(d, "eig_nats"), 1e-6);
    for (int i = 0; i < 3; i++) {
        check_ok(num_information_gaussian(&out, g + 2 * i, p, r + i, 1, 2, &err), &err);
        check_near(out, alone[i], 1e-7);
    }
    /* nested, on rows: within its own error, and few rows show a bias that is taken off */
    for (int few = 0; few < 2; few++) {
        size_t n = few ? 200 : 4096;
        double *h = calloc(n * 3, sizeof *h), sd[3];
        for (int k = 0; k < 3; k++)
            sd[k] = sqrt(r[k]);
        double l21 = p[1] / sqrt(p[0]), l22 = sqrt(p[3] - l21 * l21);
        for (size_t i = 0; i < n; i++) {
            struct num_random rnd;
            num_random_begin(&rnd, 7, num_hash("x"), i);
            double z1 = num_random_normal(&rnd), z2 = num_random_normal(&rnd);
            double x1 = sqrt(p[0]) * z1, x2 = l21 * z1 + l22 * z2;
            for (int k = 0; k < 3; k++)
                h[i * 3 + (size_t)k] = g[2 * k] * x1 + g[2 * k + 1] * x2;
        }
        struct num_information_task t = {.predict = h, .sd = sd, .n = n, .m = 3, .seed = 5};
        struct num_information info;
        check_ok(num_information(&info, &t, &err), &err);
        check_note("nested, %zu rows: raw %.4f, bias %.4f, gain %.4f +- %.4f (exact %.4f)", n,
                   info.raw, info.bias, info.gain, info.error, data_number(d, "eig_nats"));
        assert_true(info.bias > 0);
        check_near(info.gain, data_number(d, "eig_nats"), 4 * info.error + (few ? 0.15 : 0.02));
        free(h);
    }
}

static void test_emulator(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "Gaussian process on three points, by linear algebra");
    json_t *d = data_at(data, "gp");
    double x[3], y[3], length = 1, m[3], v[3], want[3], log_marginal, mean, variance, at = 2;
    data_list(d, "x", x, 3);
    data_list(d, "y", y, 3);
    struct num_emulator_options o = {.kernel = NUM_SQUARED_EXPONENTIAL,
                                     .trend = NUM_TREND_NONE,
                                     .lengths = &length,
                                     .variance = 1,
                                     .nugget = data_number(d, "noise_var")};
    struct num_emulator *e;
    check_ok(num_emulator_fit(&e, x, y, 3, 1, &o, &err), &err);
    num_emulator_found(e, NULL, NULL, NULL, &log_marginal);
    check_near(log_marginal, data_number(d, "log_marginal"), 1e-9);
    num_emulator_predict(e, &at, &mean, &variance);
    check_near(mean, data_number(d, "mean_at_2"), 1e-9);
    check_near(variance, data_number(d, "latent_var_at_2"), 1e-9);
    num_emulator_leave_one_out(e, m, v);
    data_list(d, "loo_mean", want, 3);
    for (int i = 0; i < 3; i++)
        check_near(m[i], want[i], 1e-8);
    data_list(d, "loo_var", want, 3);
    for (int i = 0; i < 3; i++)
        check_near(v[i], want[i], 1e-8);
    num_emulator_free(e);
}

/* ---- evidence by tempering ------------------------------------------------------------------ */

struct space {
    size_t col[32], d;
};

static double shells(const double *row, void *ctx) {
    const struct space *s = ctx;
    double l[2];
    for (int k = 0; k < 2; k++) {
        double r2 = 0, c = k ? 3.5 : -3.5;
        for (size_t i = 0; i < s->d; i++) {
            double t = row[s->col[i]] - (i ? 0 : c);
            r2 += t * t;
        }
        double z = (sqrt(r2) - 2) / 0.1;
        l[k] = -0.5 * z * z - 0.5 * log(2 * M_PI * 0.01);
    }
    return fmax(l[0], l[1]) + log1p(exp(-fabs(l[0] - l[1])));
}

static double eggbox(const double *row, void *ctx) {
    const struct space *s = ctx;
    return pow(2 + cos(row[s->col[0]] / 2) * cos(row[s->col[1]] / 2), 5);
}

static uint64_t temper_seed = 11;
static struct num_report temper(num_row_fn *fn, struct space *s, size_t n, double low,
                                double high) {
    struct num_rows *rows;
    struct num_report report;
    check_ok(num_rows_new(&rows, n, temper_seed, &err), &err);
    for (size_t i = 0; i < s->d; i++) {
        char id[32];
        struct num_dist u = num_dist_uniform(low, high);
        snprintf(id, sizeof id, "x%zu", i);
        check_ok(num_rows_root(rows, id, &u, &s->col[i], &err), &err);
    }
    struct num_evidence e = {.id = "target",
                             .log_like = fn,
                             .ctx = s,
                             .reads = s->col,
                             .n_reads = s->d,
                             .moves = s->col,
                             .n_moves = s->d};
    check_ok(num_rows_condition(rows, &e, &report, &err), &err);
    num_rows_free(rows);
    return report;
}

static void test_shells(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED,
               "Feroz, Hobson & Bridges, MNRAS 398 (2009) 1601-1614, table 2 (Gaussian shells)");
    static const char *const dims[] = {"2", "5", "10"};
    for (int k = 0; k < 3; k++) {
        struct space s = {.d = (size_t)atoi(dims[k])};
        struct num_report r = temper(shells, &s, 4096, -6, 6);
        double want =
            data_number(json_object_get(data_at(data, "gaussian_shells"), "logZ"), dims[k]);
        check_note("shells in %s dimensions: %.3f +- %.3f (published %.3f), %d stages", dims[k],
                   r.log_evidence, r.log_evidence_se, want, r.stages);
        check_about("%s dimensions", dims[k]);
        check_near(r.log_evidence, want, 4 * r.log_evidence_se);
    }
}

static void test_eggbox(void **state) {
    (void)state;
    check_from(CHECK_EXACT,
               "eggbox, integral by quadrature; Feroz, Hobson & Bridges 2009 print 235.86");
    struct space s = {.d = 2};
    struct num_report r = temper(eggbox, &s, 4096, 0, 10 * M_PI);
    double want = data_number(data_at(data, "eggbox"), "logZ");
    check_note("eggbox: %.3f +- %.3f (exact %.3f)", r.log_evidence, r.log_evidence_se, want);
    check_near(r.log_evidence, want, 4 * r.log_evidence_se);
}

/* The stated error of the evidence beside the scatter over 12 seeds and the distance from the exact
 * value: not smaller than that by more than 12 seeds can tell (an sd from 12 has a relative error
 * of 1 / sqrt(22) = 0.21; two of them). */
static void test_evidence_error(void **state) {
    (void)state;
    struct space two = {.d = 2}, five = {.d = 5};
    const struct {
        const char *name;
        num_row_fn *fn;
        struct space *s;
        double low, high, want;
    } of[] = {{"shells, 2 dimensions", shells, &two, -6, 6,
               data_number(json_object_get(data_at(data, "gaussian_shells"), "logZ"), "2")},
              {"shells, 5 dimensions", shells, &five, -6, 6,
               data_number(json_object_get(data_at(data, "gaussian_shells"), "logZ"), "5")},
              {"eggbox", eggbox, &two, 0, 10 * M_PI, data_number(data_at(data, "eggbox"), "logZ")}};
    enum { SEEDS = 12 };
    for (int k = 0; k < 3; k++) {
        double squares = 0, stated = 0;
        for (temper_seed = 100; temper_seed < 100 + SEEDS; temper_seed++) {
            struct num_report r = temper(of[k].fn, of[k].s, 1024, of[k].low, of[k].high);
            squares += pow(r.log_evidence - of[k].want, 2) / SEEDS;
            stated += r.log_evidence_se * r.log_evidence_se / SEEDS;
        }
        check_note("%s: distance from the exact log evidence %.3f, stated %.3f (root mean squares)",
                   of[k].name, sqrt(squares), sqrt(stated));
        check_from(CHECK_EXACT, "stated error of the log evidence over 12 seeds, 1024 rows");
        check_about("%s: distance over stated error", of[k].name);
        check_between(sqrt(squares / stated), 0, 1.42);
    }
    temper_seed = 11;
}

/* Straight line against a constant: exact evidence of both, by Matheron's rule to the last digit
 * and by tempering within its error. */
struct line {
    size_t a, b;
    double x[5], y[5], sigma;
    int slope;
};
static double line_like(const double *row, void *ctx) {
    const struct line *l = ctx;
    double sum = 0;
    for (int i = 0; i < 5; i++) {
        double z = (l->y[i] - row[l->a] - (l->slope ? row[l->b] * l->x[i] : 0)) / l->sigma;
        sum += -0.5 * z * z - log(l->sigma) - 0.5 * log(2 * M_PI);
    }
    return sum;
}
static void test_line(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "straight line against constant, multivariate normal evidence");
    json_t *d = data_at(data, "evidence_line");
    struct line l = {.sigma = data_number(d, "sigma")};
    data_list(d, "x", l.x, 5);
    data_list(d, "y", l.y, 5);
    double sd = sqrt(data_number(d, "prior_var")), h[10], v[5];
    for (l.slope = 0; l.slope < 2; l.slope++) {
        double want = data_number(d, l.slope ? "logZ_line" : "logZ_const");
        size_t m = l.slope ? 2 : 1;
        for (int exact = 0; exact < 2; exact++) {
            struct num_rows *rows;
            struct num_report r;
            struct num_dist prior = num_dist_normal(0, sd);
            check_ok(num_rows_new(&rows, 0, 3, &err), &err);
            check_ok(num_rows_root(rows, "a", &prior, &l.a, &err), &err);
            if (l.slope) check_ok(num_rows_root(rows, "b", &prior, &l.b, &err), &err);
            size_t both[] = {l.a, l.b};
            for (size_t i = 0; i < 5; i++) {
                h[i * m] = 1;
                if (l.slope) h[i * m + 1] = l.x[i];
                v[i] = l.sigma * l.sigma;
            }
            struct num_gaussian g = {.id = "points",
                                     .n_y = 5,
                                     .n_x = m,
                                     .roots = both,
                                     .h = h,
                                     .y = l.y,
                                     .variance = v,
                                     .insist = true};
            struct num_evidence e = {.id = "points",
                                     .log_like = line_like,
                                     .ctx = &l,
                                     .reads = both,
                                     .n_reads = m,
                                     .moves = both,
                                     .n_moves = m};
            if (exact)
                check_ok(num_rows_condition_gaussian(rows, &g, &r, &err), &err);
            else
                check_ok(num_rows_condition(rows, &e, &r, &err), &err);
            check_near(r.log_evidence, want, exact ? 1e-8 : 4 * r.log_evidence_se + 0.02);
            num_rows_free(rows);
        }
    }
}

/* Savage & Dickey: density at the null after over before. */
static void test_savage_dickey(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "Savage-Dickey ratio of two normal densities");
    json_t *d = data_at(data, "savage_dickey");
    struct num_rows *rows;
    size_t c;
    struct num_dist prior = num_dist_normal(0, data_number(d, "tau"));
    check_ok(num_rows_new(&rows, 0, 3, &err), &err);
    check_ok(num_rows_root(rows, "theta", &prior, &c, &err), &err);
    double h = 1, y = data_number(d, "ybar"), v = 1 / data_number(d, "n"), bf, se;
    struct num_gaussian g = {
        .id = "mean", .n_y = 1, .n_x = 1, .roots = &c, .h = &h, .y = &y, .variance = &v};
    struct num_report r;
    check_ok(num_rows_condition_gaussian(rows, &g, &r, &err), &err);
    check_ok(num_rows_null_ratio(rows, c, 0, &bf, &se, &err), &err);
    check_near(bf, data_number(d, "BF01"), 4 * se + 0.02);
    num_rows_free(rows);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sensitivity), cmocka_unit_test(test_information),
        cmocka_unit_test(test_emulator),    cmocka_unit_test(test_shells),
        cmocka_unit_test(test_eggbox),      cmocka_unit_test(test_evidence_error),
        cmocka_unit_test(test_line),        cmocka_unit_test(test_savage_dickey)};
    data = data_load("check_bayes.json");
    int rc = cmocka_run_group_tests(tests, NULL, NULL);
    json_decref(data);
    return rc;
}
