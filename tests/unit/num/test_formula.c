/* Formulas: values against C, slopes against central differences, and every kind of bad text. */
#include "num/formula.h"

#include "check.h"

static struct error err;
static const char *const names[] = {"x", "y", "b1"};

#define CASES(X)                                                                                   \
    X("1 + 2*x - y/b1", 1 + 2 * x - y / b1)                                                        \
    X("-x^2", -x *x)                                                                               \
    X("(1 + x)^-2", 1 / ((1 + x) * (1 + x)))                                                       \
    X("2^x^2", pow(2, x *x))                                                                       \
    X("x - y - b1", x - y - b1)                                                                    \
    X("x / y / b1", x / y / b1)                                                                    \
    X("exp(-b1*x)*cos(y)", exp(-b1 *x) * cos(y))                                                   \
    X("log(x + 3) + log10(y) + sqrt(b1)", log(x + 3) + log10(y) + sqrt(b1))                        \
    X("abs(-x) + min(x, y) + max(x, y)", fabs(x) + fmin(x, y) + fmax(x, y))                        \
    X("hypot(x, y) * erf(b1)", hypot(x, y) * erf(b1))                                              \
    X("atan(x) + asin(x/3) + acos(y/9) + tan(x)", atan(x) + asin(x / 3) + acos(y / 9) + tan(x))    \
    X("sinh(x) + cosh(y) + tanh(b1) + sin(pi*x)", sinh(x) + cosh(y) + tanh(b1) + sin(M_PI * x))    \
    X("+x - -y", x + y)                                                                            \
    X("1.5e-3*x + .5", 1.5e-3 * x + .5)                                                            \
    X("x^b1", pow(x, b1))

static void test_values(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    double v[] = {0.7, 2.3, 1.4}, x = v[0], y = v[1], b1 = v[2];
    struct {
        const char *text;
        double want;
    } cases[] = {
#define ROW(text, value) {text, value},
        CASES(ROW)};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct num_formula *f;
        check_ok(num_formula_read(&f, cases[i].text, names, 3, arena, &err), &err);
        check_near(num_formula_value(f, v), cases[i].want, 1e-14 * (1 + fabs(cases[i].want)));
        size_t by[] = {0, 1, 2};
        double slope[3];
        check_near(num_formula_slopes(f, v, by, 3, slope), cases[i].want, 1e-13);
        for (int k = 0; k < 3; k++) {
            double up[3], down[3], h = 1e-6;
            memcpy(up, v, sizeof up);
            memcpy(down, v, sizeof down);
            up[k] += h;
            down[k] -= h;
            double d = (num_formula_value(f, up) - num_formula_value(f, down)) / (2 * h);
            check_near(slope[k], d, 1e-7 * (1 + fabs(d)));
        }
    }
    arena_free(arena);
}

static void test_bad(void **state) {
    (void)state;
    static const char *const bad[] = {"",    "x +",     "(x",        "x)",     "2x",     "x y",
                                      "foo", "exp x",   "min(x)",    "x ** y", "1..2",   "0x10",
                                      "x^",  "hypot()", "exp(x, y)", "#",      "x +* y", "b2"};
    struct arena *arena = arena_new();
    struct num_formula *f;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        error_clear(&err);
        if (num_formula_read(&f, bad[i], names, 3, arena, &err) == 0)
            fail_msg("\"%s\" was taken", bad[i]);
        assert_null(f);
        assert_true(strlen(err.message) > 0 && strlen(err.remedy) > 0);
    }
    char deep[1500];
    memset(deep, '(', sizeof deep);
    deep[sizeof deep - 1] = 0;
    error_clear(&err);
    assert_int_not_equal(num_formula_read(&f, deep, names, 3, arena, &err), 0);
    memset(deep, '-', sizeof deep - 1);
    assert_int_not_equal(num_formula_read(&f, deep, names, 3, arena, &err), 0);
    char right[1500] = ""; /* x^(x^(... : values wait for one another */
    for (int i = 0; i < 400; i++)
        strcat(right, "x+(");
    assert_int_not_equal(num_formula_read(&f, right, names, 3, arena, &err), 0);
    char *longer = calloc(5000, 1);
    memset(longer, '1', 4999);
    assert_int_equal(num_formula_read(&f, longer, names, 3, arena, &err), ERR_RANGE);
    free(longer);
    error_clear(&err);
    num_formula_read(&f, "bb1", names, 3, arena, &err);
    assert_non_null(strstr(err.remedy, "b1"));
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_values), cmocka_unit_test(test_bad)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
