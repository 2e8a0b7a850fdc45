/* NIST Statistical Reference Datasets: nonlinear regression and analysis of variance, certified
 * values. LRE is the number of digits right, -log10 |got - certified| / |certified|. */
#include "num/formula.h"
#include "num/nonlinear.h"
#include "num/regression.h"
#include "test_num_data.h"

static struct error err;

static double lre(double got, double want) {
    if (got == want) return 15;
    double e = fabs(got - want) / fabs(want);
    return e > 0 ? fmin(15, -log10(e)) : 15;
}

struct model {
    const struct num_formula *f;
    const double *x;
    size_t p;
};

static double curve(const double *b, size_t i, double *slope, void *ctx) {
    const struct model *m = ctx;
    size_t by[16];
    double v[17];
    for (size_t k = 0; k < m->p; k++) {
        by[k] = k;
        v[k] = b[k];
    }
    v[m->p] = m->x[i];
    return slope ? num_formula_slopes(m->f, v, by, m->p, slope) : num_formula_value(m->f, v);
}

static void nonlinear_set(json_t *set) {
    const char *name = json_string_value(data_at(set, "name"));
    size_t n = (size_t)data_number(set, "n"), p = (size_t)data_number(set, "p");
    struct arena *arena = arena_new();
    double *x = ARENA_NEW(arena, double, n), *y = ARENA_NEW(arena, double, n);
    json_t *rows = data_at(set, "data");
    assert_int_equal(json_array_size(rows), n);
    for (size_t i = 0; i < n; i++) {
        y[i] = data_number(json_array_get(rows, i), "0");
        x[i] = data_number(json_array_get(rows, i), "1");
    }
    const char *names[17];
    for (size_t k = 0; k < p; k++)
        names[k] = arena_printf(arena, "b%zu", k + 1);
    names[p] = "x";
    struct num_formula *f;
    const char *text = json_string_value(data_at(set, "model"));
    check_ok(num_formula_read(&f, text + 2, names, p + 1, arena, &err), &err); /* after "y=" */
    struct model m = {f, x, p};
    struct num_curve c = {curve, &m, n, p, y, NULL};
    for (int s = 0; s < 2; s++) {
        double start[16], want[16], sd[16], least_b = 15, least_sd = 15;
        data_list(set, s ? "start2" : "start1", start, 16);
        data_list(set, "certified", want, 16);
        data_list(set, "certified_sd", sd, 16);
        struct num_curve_fit fit;
        int rc = num_curve_fit(&fit, &c, start, 1, 0, 1, arena, &err);
        if (s == 1) check_ok(rc, &err);
        error_clear(&err);
        if (rc) continue;
        for (size_t k = 0; k < p; k++) {
            least_b = fmin(least_b, lre(fit.b[k], want[k]));
            least_sd = fmin(least_sd, lre(fit.sd[k], sd[k]));
        }
        double r = lre(fit.rss, data_number(set, "rss"));
        check_note("%-9s start %d: digits right: parameters %.1f, sd %.1f, rss %.1f", name, s + 1,
                   least_b, least_sd, r);
        if (s == 0) continue; /* reported only: start 1 is far off on purpose */
        check_from(CHECK_PUBLISHED, "NIST Statistical Reference Datasets, nonlinear regression");
        check_about("%s, digits right: parameters, sum of squares, sd", name);
        check_between(least_b, 6, INFINITY);
        check_between(r, 6, INFINITY);
        check_between(least_sd, 5, INFINITY);
        assert_true(fit.converged);
    }
    arena_free(arena);
}

static void test_nonlinear(void **state) {
    (void)state;
    json_t *data = data_load("check_nist_nonlinear.json"), *sets = data_at(data, "datasets");
    for (size_t i = 0; i < json_array_size(sets); i++)
        nonlinear_set(json_array_get(sets, i));
    json_decref(data);
}

/* SmLs cells: digits as the generator in the data says. */
static size_t anova_values(json_t *set, double *v, double *g) {
    json_t *text = json_object_get(set, "data_as_text");
    size_t n = 0;
    if (text) {
        const char *key;
        json_t *cell;
        json_object_foreach(text, key, cell) for (size_t i = 0; i < json_array_size(cell); i++) {
            v[n] = atof(json_string_value(json_array_get(cell, i)));
            g[n++] = atof(key);
        }
        return n;
    }
    const char *name = json_string_value(data_at(set, "name"));
    double base = strcmp(name, "SmLs01") == 0 ? 1 : strcmp(name, "SmLs04") == 0 ? 1e6 : 1e12;
    for (int j = 1; j <= 9; j++) {
        int b = j == 1 ? 4 : j % 2 ? 5 : 3;
        for (int i = 0; i < 21; i++) {
            int tenths = i == 0 ? b : i % 2 ? b - 1 : b + 1;
            char digits[40]; /* through text, as a file has it */
            snprintf(digits, sizeof digits, "%.0f.%d", base, tenths);
            v[n] = atof(digits);
            g[n++] = j;
        }
    }
    return n;
}

static void test_anova(void **state) {
    (void)state;
    json_t *data = data_load("check_nist_anova.json"), *sets = data_at(data, "datasets");
    struct arena *arena = arena_new();
    for (size_t i = 0; i < json_array_size(sets); i++) {
        json_t *set = json_array_get(sets, i);
        const char *name = json_string_value(data_at(set, "name"));
        double v[256], g[256];
        size_t n = anova_values(set, v, g);
        assert_int_equal(n, (size_t)data_number(set, "N"));
        struct num_anova a;
        check_ok(num_anova(&a, v, g, n, arena, &err), &err);
        double d = lre(a.f, atof(json_string_value(data_at(set, "F"))));
        check_note("%-8s F: %.1f digits right", name, d);
        double want = strcmp(name, "SiRstv") == 0 || strcmp(name, "SmLs01") == 0 ? 9
                      : strcmp(name, "SmLs07") == 0                              ? 2
                                                                                 : 7;
        check_from(CHECK_PUBLISHED, "NIST Statistical Reference Datasets, analysis of variance");
        check_about("%s, digits of F right", name);
        check_between(d, want, INFINITY);
    }
    arena_free(arena);
    json_decref(data);
}

/* Longley 1967 and Wampler 1970, NIST StRD linear regression; Longley's data and certified values
 * from memory (a wrong digit in either would show), Wampler's made by formula: y = 1 + x + ... +
 * x^5 for x = 0 .. 20, and y = sum (0.1 x)^k. */
static void test_linear(void **state) {
    (void)state;
    static const double longley[16][7] = {{60323, 83.0, 234289, 2356, 1590, 107608, 1947},
                                          {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
                                          {60171, 88.2, 258054, 3682, 1616, 109773, 1949},
                                          {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
                                          {63221, 96.2, 328975, 2099, 3099, 112075, 1951},
                                          {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
                                          {64989, 99.0, 365385, 1870, 3547, 115094, 1953},
                                          {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
                                          {66019, 101.2, 397469, 2904, 3048, 117388, 1955},
                                          {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
                                          {68169, 108.4, 442769, 2936, 2798, 120445, 1957},
                                          {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
                                          {68655, 112.6, 482704, 3813, 2552, 123366, 1959},
                                          {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
                                          {69331, 115.7, 518173, 4806, 2572, 127852, 1961},
                                          {70551, 116.9, 554894, 4007, 2827, 130081, 1962}};
    static const double b[] = {-3482258.63459582, 15.0618722713733,  -0.358191792925910E-01,
                               -2.02022980381683, -1.03322686717359, -0.511041056535807E-01,
                               1829.15146461355};
    struct arena *arena = arena_new();
    double x[16 * 7], y[21], w[21 * 6];
    for (int i = 0; i < 16; i++) {
        y[i] = longley[i][0];
        x[i * 7] = 1;
        for (int k = 1; k < 7; k++)
            x[i * 7 + k] = longley[i][k];
    }
    struct num_line_fit fit;
    check_ok(num_line_fit(&fit, x, y, NULL, 16, 7, 0.95, arena, &err), &err);
    double least = 15;
    for (int k = 0; k < 7; k++)
        least = fmin(least, lre(fit.b[k], b[k]));
    check_note("Longley: %.1f digits right", least);
    check_from(CHECK_MEMORY,
               "Longley 1967, NIST Statistical Reference Datasets, linear regression");
    check_about("Longley, digits right");
    check_between(least, 11, INFINITY);
    check_about("Longley");
    check_rel(fit.sd, 304.854073561965, 1e-10);
    check_rel(fit.r2, 0.995479004577296, 1e-12);
    check_rel(fit.f, 330.285339234588, 1e-10);
    for (int which = 0; which < 2; which++) {
        for (int i = 0; i < 21; i++) {
            y[i] = 0;
            for (int k = 0; k < 6; k++) {
                w[i * 6 + k] = pow(i, k);
                y[i] += which ? pow(0.1 * i, k) : pow(i, k);
            }
        }
        check_ok(num_line_fit(&fit, w, y, NULL, 21, 6, 0.95, arena, &err), &err);
        least = 15;
        for (int k = 0; k < 6; k++)
            least = fmin(least, lre(fit.b[k], which ? pow(0.1, k) : 1));
        check_note("Wampler%d: %.1f digits right", which + 1, least);
        check_from(CHECK_EXACT, "Wampler 1970, polynomials (NIST Statistical Reference Datasets)");
        check_about("Wampler%d, digits right", which + 1);
        check_between(least, 9, INFINITY);
    }
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_nonlinear),
                                       cmocka_unit_test(test_anova), cmocka_unit_test(test_linear)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
