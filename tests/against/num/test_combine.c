/* Combining values: BCG trials (Colditz et al. 1994; DerSimonian-Laird, Paule-Mandel and REML as
 * published for them), small sets with exact answers, ICD 203 words. */
#include "num/combine.h"
#include "num/words.h"
#include "test_num_data.h"

static struct error err;
static json_t *data;

static void test_small(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "three widths made for this project, by hand");
    struct num_combined c;
    double x[3], u[3];
    json_t *s = data_at(data, "three_widths_agree");
    data_list(s, "x", x, 3);
    data_list(s, "u", u, 3);
    check_ok(num_combine(&c, x, u, 3, 10, &err), &err);
    check_near(c.fixed.mean, data_number(s, "mean"), 1e-6);
    check_near(c.fixed.u, data_number(s, "u_mean"), 1e-6);
    check_near(c.q, data_number(s, "Q"), 1e-6);
    check_near(c.p, data_number(s, "p"), 1e-6);
    check_near(c.dersimonian_laird.tau2, data_number(s, "DL_tau2"), 1e-3);
    check_near(c.dersimonian_laird.mean, data_number(s, "DL_mean"), 1e-5);
    check_near(c.dersimonian_laird.u, data_number(s, "DL_u"), 1e-5);
    assert_false(c.clash);
    s = data_at(data, "three_widths_clash");
    data_list(s, "x", x, 3);
    data_list(s, "u", u, 3);
    check_ok(num_combine(&c, x, u, 3, 0, &err), &err);
    check_near(c.fixed.mean, data_number(s, "mean"), 1e-6);
    check_near(c.q, data_number(s, "Q"), 1e-6);
    check_near(c.p, data_number(s, "p"), 1e-6);
    check_near(c.birge_ratio, data_number(s, "birge"), 1e-6);
    check_near(c.dersimonian_laird.tau2, data_number(s, "DL_tau2"), 1e-3);
    check_near(c.dersimonian_laird.mean, data_number(s, "DL_mean"), 1e-5);
    check_near(c.dersimonian_laird.u, data_number(s, "DL_u"), 1e-4);
    assert_true(c.clash);
}

static void test_correlated(void **state) {
    (void)state;
    check_from(CHECK_EXACT, "two correlated widths, by hand");
    json_t *s = data_at(data, "correlated");
    double x[2], u[2], w[2];
    data_list(s, "x", x, 2);
    data_list(s, "u", u, 2);
    struct num_mean_u m;
    double v[] = {u[0] * u[0], 0.5 * u[0] * u[1], 0.5 * u[0] * u[1], u[1] * u[1]};
    json_t *r = json_object_get(s, "rho0.5");
    check_ok(num_combine_correlated(&m, x, v, 2, w, &err), &err);
    check_near(m.mean, data_number(r, "mean"), 1e-6);
    check_near(m.u, data_number(r, "u"), 1e-5);
    check_near(w[0], data_number(r, "w.0"), 1e-6);
    v[1] = v[2] = 0.9 * u[0] * u[1];
    r = json_object_get(s, "rho0.9");
    assert_int_equal(num_combine_correlated(&m, x, v, 2, w, &err), ERR_REFUSED);
    check_near(w[0], data_number(r, "w.0"), 1e-6);
    check_near(m.mean, data_number(r, "mean"), 1e-5);
    error_clear(&err);
}

static void test_bcg(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "Colditz et al. 1994 (BCG trials); published fixed-effect, "
                                "DerSimonian-Laird, Paule-Mandel and REML results");
    json_t *s = data_at(data, "bcg");
    double tp[13], tn[13], cp[13], cn[13], x[13], u[13];
    data_list(s, "tpos", tp, 13);
    data_list(s, "tneg", tn, 13);
    data_list(s, "cpos", cp, 13);
    data_list(s, "cneg", cn, 13);
    for (int i = 0; i < 13; i++) {
        x[i] = log(tp[i] / (tp[i] + tn[i]) / (cp[i] / (cp[i] + cn[i])));
        u[i] = sqrt(1 / tp[i] - 1 / (tp[i] + tn[i]) + 1 / cp[i] - 1 / (cp[i] + cn[i]));
    }
    struct num_combined c;
    check_ok(num_combine(&c, x, u, 13, 0, &err), &err);
    check_near(c.fixed.mean, data_number(s, "FE.0"), 1e-6);
    check_near(c.fixed.u, data_number(s, "FE.1"), 1e-6);
    check_near(c.q, data_number(s, "Q"), 1e-5);
    check_near(c.dersimonian_laird.tau2, data_number(s, "DL.tau2"), 1e-5);
    check_near(c.dersimonian_laird.mean, data_number(s, "DL.mu"), 1e-5);
    check_near(c.dersimonian_laird.u, data_number(s, "DL.se"), 1e-5);
    check_near(c.paule_mandel.tau2, data_number(s, "PM.tau2"), 1e-5);
    check_near(c.paule_mandel.mean, data_number(s, "PM.mu"), 1e-5);
    check_near(c.paule_mandel.u, data_number(s, "PM.se"), 1e-5);
    check_near(c.reml.tau2, data_number(s, "REML.tau2"), 1e-5);
    check_near(c.reml.mean, data_number(s, "REML.mu"), 1e-5);
    check_near(c.reml.u, data_number(s, "REML.se"), 1e-5);
}

static void test_words(void **state) {
    (void)state;
    check_from(CHECK_PUBLISHED, "ICD 203 (2015), words of estimative probability");
    json_t *bins = data_at(data, "words.ICD203");
    size_t n;
    const struct num_word *w = num_words(&n);
    assert_int_equal(n, json_array_size(bins));
    for (size_t i = 0; i < n; i++) {
        json_t *b = json_array_get(bins, i);
        assert_string_equal(w[i].word, json_string_value(json_array_get(b, 0)));
        check_near(w[i].low, data_number(b, "1"), 0);
        check_near(w[i].high, data_number(b, "2"), 0);
    }
    assert_string_equal(num_word_for(0.64)->word, "likely");
    assert_string_equal(num_word_for(0.80)->word, "very likely");
    char text[100];
    num_word_text(0, text, sizeof text);
    assert_non_null(strstr(text, "under 1 %"));
    num_word_text(1, text, sizeof text);
    assert_non_null(strstr(text, "over 99 %"));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_small),
                                       cmocka_unit_test(test_correlated),
                                       cmocka_unit_test(test_bcg), cmocka_unit_test(test_words)};
    data = data_load("check_combine.json");
    int rc = cmocka_run_group_tests(tests, NULL, NULL);
    json_decref(data);
    return rc;
}
