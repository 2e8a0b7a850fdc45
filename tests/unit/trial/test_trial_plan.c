/* trial_plan: does not count the same twice, keeps within what is in hand, says why. */
#include "trial/trial_plan.h"

#include "check.h"

static struct error err;

static const struct ranked_trial *find(const struct trial_plan *p, const char *id) {
    const struct ranked_trial *r = p->ranked.v;
    for (size_t i = 0; i < p->ranked.n; i++)
        if (strcmp(r[i].id, id) == 0) return &r[i];
    return NULL;
}

static void plans(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct num_rows *rows;
    check_ok(num_rows_new(&rows, 1024, 5, &err), &err);
    struct num_dist shrink = num_dist_lognormal(0.06, 0.4), set = num_dist_beta(4, 2, 0, 1);
    size_t c;
    check_ok(num_rows_root(rows, "shrink", &shrink, &c, &err), &err);
    check_ok(num_rows_root(rows, "set", &set, &c, &err), &err);
    const char *about_shrink[] = {"shrink"}, *about_set[] = {"set"};
    struct candidate cand[] = {{.id = "strips",
                                .column = "shrink",
                                .about = {1, about_shrink},
                                .outcome = 0,
                                .noise = 0.3,
                                .tree_spread = 0.6,
                                .trees = 4,
                                .strips = 2,
                                .sheets = 1,
                                .hours = 3,
                                .days = 20},
                               {.id = "again",
                                .column = "shrink",
                                .about = {1, about_shrink},
                                .outcome = 0,
                                .noise = 0.3,
                                .tree_spread = 0.1,
                                .trees = 4,
                                .strips = 2,
                                .sheets = 6,
                                .hours = 3,
                                .days = 20},
                               {.id = "panel",
                                .column = "set",
                                .about = {1, about_set},
                                .outcome = 7,
                                .noise = 0.05,
                                .trees = 2,
                                .strips = 1,
                                .sheets = 2,
                                .hours = 10,
                                .days = 56},
                               {.id = "late",
                                .column = "set",
                                .about = {1, about_set},
                                .outcome = 7,
                                .noise = 0.01,
                                .trees = 2,
                                .strips = 1,
                                .from = "2030-01-01"},
                               {.id = "slow",
                                .column = "set",
                                .about = {1, about_set},
                                .outcome = 7,
                                .noise = 0.01,
                                .trees = 2,
                                .strips = 1,
                                .days = 400}};
    struct plan_limits l = {.sheets = 4,
                            .hours = 40,
                            .days = 100,
                            .to = "2028-06-30",
                            .most = FIELD_UNKNOWN,
                            .enough = 0.05,
                            .seed = 9};
    struct trial_plan p;
    check_ok(trial_plan_make(&p, cand, 5, rows, &l, a, &err), &err);
    assert_int_equal(find(&p, "strips")->place > 0, 1);
    assert_int_equal(find(&p, "panel")->place > 0, 1);
    assert_int_equal(find(&p, "again")->place, 0);
    assert_non_null(strstr(find(&p, "again")->why, "needs more"));
    assert_string_equal(find(&p, "late")->why, "out of season");
    assert_non_null(strstr(find(&p, "slow")->why, "needs more"));
    check_near(p.sheets, 3, 0);
    check_near(p.days, 56, 0);
    assert_int_equal(find(&p, "strips")->order + find(&p, "panel")->order, 3);
    /* prediction, percent: 2.5 and 97.5 % of the lognormal, 6 e^(-+1.96 x 0.4), each side widened
     * by the error of four trees of two strips beside the tree it came from, sqrt(0.6^2 (1 + 1/4) +
     * 0.3^2/8); uneven, so its middle is not the median */
    const struct ranked_trial *strips = find(&p, "strips");
    double z = 1.959964, error = z * sqrt(0.36 * 1.25 + 0.09 / 8);
    check_near(strips->predicted - strips->half, 6 - hypot(6 - 6 * exp(-z * 0.4), error), 0.1);
    check_near(strips->predicted + strips->half, 6 + hypot(6 * exp(z * 0.4) - 6, error), 0.4);
    assert_null(strstr(strips->foretold, "±"));
    assert_non_null(strstr(find(&p, "strips")->means, "supports"));
    /* with sheets enough, the better measurement of the same is taken first and the other adds
     * little */
    l.sheets = 100;
    check_ok(trial_plan_make(&p, cand, 5, rows, &l, a, &err), &err);
    double first = find(&p, "again")->place ? find(&p, "again")->gain : 0;
    double second = find(&p, "strips")->place ? find(&p, "strips")->gain : 0;
    assert_true(first + second < find(&p, "again")->nats + find(&p, "strips")->nats - 0.3);
    cand[0].column = "nothing";
    assert_int_equal(trial_plan_make(&p, cand, 5, rows, &l, a, &err), ERR_MISSING);
    num_rows_free(rows);
    arena_free(a);
}

static void repeats(void **state) {
    (void)state;
    /* R110: n = 5 gives 1.24 spreads, n = 10 0.72: a spread of 1 and a half-width of 1 need 7
     * (0.925), not 6 (1.05). */
    assert_int_equal(trial_trees_needed(1, 1), 7);
    assert_int_equal(trial_trees_needed(1, 1.24), 6);
    assert_int_equal(trial_trees_needed(1, 1.2417), 5);
    assert_int_equal(trial_trees_needed(1, 0.01), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(plans), cmocka_unit_test(repeats)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
