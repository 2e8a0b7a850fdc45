/* relict calc regression, curve-fit, anova, factorial, power, randomisation, run-order, one-way,
 * mixed, mixed-drying. */
#include "num/formula.h"
#include "num/mixed.h"
#include "num/nonlinear.h"
#include "num/num_fields.h"
#include "num/regression.h"

#include <string.h>

/* ---- regression ----------------------------------------------------------------------------- */

struct regression_in {
    struct tuples x;
    struct reals y, u;
    int constant;
    long degree;
    double level;
};
struct coefficient {
    const char *name;
    double value, se, low, high;
};
struct regression_out {
    struct records coefficients;
    double sd, rss, r2, f, p, condition;
    long freedom;
    struct reals residuals;
};
static const struct field regression_in_fields[] = {
    {AT(regression_in, x, FIELD_TUPLES, "x", "One row of predictors for each point."),
     .required = true, .example = "[[1], [2], [3], [4], [5]]"},
    {AT(regression_in, y, FIELD_REALS, "y", "One for each row."), .required = true,
     .example = "[1.1, 1.9, 3.2, 3.9, 5.1]"},
    {AT(regression_in, u, FIELD_REALS, "Uncertainties of y", "Weights are 1/u^2; left out: alike."),
     .min = 0, .max = FIELD_NO_LIMIT, .above_min = true, .example = "[0.1, 0.1, 0.1, 0.2, 0.2]"},
    {AT(regression_in, constant, FIELD_FLAG, "With a constant", "Adds a column of ones."),
     .preset = "yes", .example = "true"},
    {AT(regression_in, degree, FIELD_INT, "Degree", "Powers of a single predictor."), .min = 1,
     .max = 12, .preset = "1", .example = "1"},
    {AT(regression_in, level, FIELD_REAL, "Level", "Of the intervals."), .unit = "percent",
     .scale = 0.01, .min = 1, .max = 99.9, .preset = "95", .example = "95"},
};
static const struct field coefficient_fields[] = {
    OUT_TEXT(coefficient, name, "Name", "Of the coefficient."),
    OUT(coefficient, value, "Value", "Best fit."),
    OUT(coefficient, se, "Standard error", ""),
    OUT(coefficient, low, "Low", "Interval by Student's t."),
    OUT(coefficient, high, "High", "Its upper end."),
};
static const struct kind coefficient_kind = {
    "coefficient", "A coefficient", sizeof(struct coefficient), FIELDS(coefficient_fields), NULL};
static const struct field regression_out_fields[] = {
    {AT(regression_out, coefficients, FIELD_RECORDS, "Coefficients", "Constant first."),
     .sub = &coefficient_kind},
    OUT(regression_out, sd, "Residual standard deviation", ""),
    OUT(regression_out, rss, "Residual sum of squares", "Weighted."),
    OUT(regression_out, r2, "R squared", "About the mean when there is a constant."),
    OUT(regression_out, f, "F", "All slopes together."),
    OUT(regression_out, p, "p of F", ""),
    OUT(regression_out, condition, "Condition", "10^k: about k of 19 digits are lost."),
    OUT_COUNT(regression_out, freedom, "Degrees of freedom", ""),
    OUT_LIST(regression_out, residuals, "Residuals", "y minus fit."),
};
static const struct kind regression_in_kind = {
    "regression_in", "Points", sizeof(struct regression_in), FIELDS(regression_in_fields), NULL};
static const struct kind regression_out_kind = {"regression_out", "A linear fit",
                                                sizeof(struct regression_out),
                                                FIELDS(regression_out_fields), NULL};

static void design_row(const struct regression_in *in, size_t i, size_t p, double *row) {
    size_t k = 0, w = in->x.width;
    if (in->constant) row[k++] = 1;
    for (size_t j = 0; j < w; j++)
        row[k++] = in->x.v[i * w + j];
    while (k < p) { /* powers of the single predictor */
        row[k] = row[k - 1] * in->x.v[i * w];
        k++;
    }
}

static int run_regression(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct regression_in *in = input;
    struct regression_out *out = output;
    size_t n = in->y.n, w = in->x.width, extra = (size_t)in->degree - 1,
           p = w + extra + (in->constant != 0);
    if (in->x.n != n || (in->u.n && in->u.n != n))
        return fail(err, ERR_INPUT, "Give one row of x (and one u) for each y.",
                    "%zu rows of x, %zu y, %zu uncertainties.", in->x.n, n, in->u.n);
    if (extra && w != 1)
        return fail(err, ERR_INPUT, "Write the powers as columns of x.",
                    "A degree of %ld needs a single predictor; there are %zu.", in->degree, w);
    double *x = ARENA_NEW(arena, double, n *p),
           *weight = in->u.n ? ARENA_NEW(arena, double, n) : NULL;
    struct coefficient *c = ARENA_NEW(arena, struct coefficient, p);
    struct num_line_fit fit;
    if (!x || !c || (in->u.n && !weight)) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        design_row(in, i, p, x + i * p);
        if (weight) weight[i] = 1 / (in->u.v[i] * in->u.v[i]);
    }
    int rc = num_line_fit(&fit, x, in->y.v, weight, n, p, in->level, arena, err);
    if (rc) return rc;
    for (size_t k = 0; k < p; k++) {
        size_t j = k - (in->constant != 0);
        c[k] = (struct coefficient){in->constant && k == 0 ? "constant"
                                    : extra                ? arena_printf(arena, "x^%zu", j + 1)
                                                           : arena_printf(arena, "x%zu", j + 1),
                                    fit.b[k], num_known(fit.se[k]), num_known(fit.low[k]),
                                    num_known(fit.high[k])};
    }
    *out = (struct regression_out){
        {p, c},           num_known(fit.sd),  fit.rss,       num_known(fit.r2),
        num_known(fit.f), num_known(fit.f_p), fit.condition, (long)fit.freedom,
        {n, fit.residual}};
    return 0;
}

const struct method num_method_regression = {
    "regression",
    "Linear least squares: lines, planes, polynomials",
    "Golub & Van Loan, Matrix Computations, 4th ed. 2013, 5.3; checked with NIST StRD sets",
    "Householder QR in extended precision with refinement. Errors of y are independent.",
    &regression_in_kind,
    &regression_out_kind,
    run_regression,
    "{\"x\": [[1], [2], [3], [4], [5]], \"y\": [1.1, 1.9, 3.2, 3.9, 5.1]}"};

/* ---- curve-fit ------------------------------------------------------------------------------ */

struct curve_in {
    const char *formula;
    struct texts parameters, predictors;
    struct tuples starts, x;
    struct reals y, u;
    long scatter, seed;
};
struct curve_out {
    struct records parameters;
    double rss, sd, gradient;
    long freedom, agreeing, tried;
    int converged;
};
static const struct field curve_in_fields[] = {
    {AT(curve_in, formula, FIELD_TEXT, "Formula", "Of parameters and predictors, without \"y =\"."),
     .required = true, .example = "b1*(1 - exp(-b2*x))"},
    {AT(curve_in, parameters, FIELD_TEXTS, "Parameters", "Names of what is fitted, up to 16."),
     .required = true, .example = "[\"b1\", \"b2\"]"},
    {AT(curve_in, predictors, FIELD_TEXTS, "Predictors", "Names of the columns of x."),
     .required = true, .example = "[\"x\"]"},
    {AT(curve_in, starts, FIELD_TUPLES, "Starts", "One row for each start."), .required = true,
     .example = "[[250, 0.0005]]"},
    {AT(curve_in, x, FIELD_TUPLES, "x", "One row of predictors for each point."), .required = true,
     .example = "[[77.6], [114.9]]"},
    {AT(curve_in, y, FIELD_REALS, "y", "One for each row."), .required = true,
     .example = "[10.07, 14.73]"},
    {AT(curve_in, u, FIELD_REALS, "Uncertainties of y", "Weights are 1/u^2; left out: alike."),
     .min = 0, .max = FIELD_NO_LIMIT, .above_min = true, .example = "[0.1, 0.1]"},
    {AT(curve_in, scatter, FIELD_INT, "Further starts", "Scattered about the first."), .min = 0,
     .max = 200, .preset = "8", .example = "8"},
    {AT(curve_in, seed, FIELD_INT, "Seed", "Of the further starts."), .min = 0, .max = 1e15,
     .preset = "1", .example = "1"},
};
static const struct field curve_out_fields[] = {
    {AT(curve_out, parameters, FIELD_RECORDS, "Parameters", "In the order given."),
     .sub = &coefficient_kind},
    OUT(curve_out, rss, "Residual sum of squares", "Weighted."),
    OUT(curve_out, sd, "Residual standard deviation", ""),
    OUT(curve_out, gradient, "Gradient left",
        "Cosine between residuals and model: 0 at a minimum."),
    OUT_COUNT(curve_out, freedom, "Degrees of freedom", ""),
    OUT_COUNT(curve_out, agreeing, "Starts that agree", "Ended at the same sum of squares."),
    OUT_COUNT(curve_out, tried, "Starts tried", ""),
    OUT_FLAG(curve_out, converged, "Converged", "The gradient is as good as 0."),
};
static const struct kind curve_in_kind = {"curve_in", "A curve and points", sizeof(struct curve_in),
                                          FIELDS(curve_in_fields), NULL};
static const struct kind curve_out_kind = {
    "curve_out", "The fitted curve", sizeof(struct curve_out), FIELDS(curve_out_fields), NULL};

struct formula_curve {
    const struct num_formula *f;
    const double *x;
    size_t p, k;
};

static double formula_at(const double *b, size_t i, double *slope, void *ctx) {
    const struct formula_curve *c = ctx;
    double v[16 + 40];
    size_t by[16];
    memcpy(v, b, c->p * sizeof *b);
    memcpy(v + c->p, c->x + i * c->k, c->k * sizeof *c->x);
    for (size_t k = 0; k < c->p; k++)
        by[k] = k;
    return slope ? num_formula_slopes(c->f, v, by, c->p, slope) : num_formula_value(c->f, v);
}

/* Names of parameters, (a middle name,) and predictors in one list. */
static const char **join_names(const struct texts *a, const char *middle, const struct texts *b,
                               size_t *n, struct arena *arena) {
    const char **names = ARENA_NEW(arena, const char *, a->n + b->n + 1);
    *n = 0;
    for (size_t i = 0; names && i < a->n; i++)
        names[(*n)++] = a->v[i];
    if (names && middle) names[(*n)++] = middle;
    for (size_t i = 0; names && i < b->n; i++)
        names[(*n)++] = b->v[i];
    return names;
}

static int check_curve(const struct curve_in *in, struct error *err) {
    if (in->parameters.n == 0 || in->parameters.n > 16 || in->predictors.n > 40)
        return fail(err, ERR_RANGE, NULL, "%zu parameters, %zu predictors; 1 to 16 and up to 40.",
                    in->parameters.n, in->predictors.n);
    if (in->starts.n == 0 || in->starts.width != in->parameters.n)
        return fail(err, ERR_INPUT, "Give one number for each parameter in each start.",
                    "Starts have %zu numbers for %zu parameters.", in->starts.width,
                    in->parameters.n);
    if (in->x.n != in->y.n || in->x.width != in->predictors.n || (in->u.n && in->u.n != in->y.n))
        return fail(err, ERR_INPUT, "Give one row of x for each y, one number for each predictor.",
                    "%zu rows of %zu numbers, %zu y, %zu predictors.", in->x.n, in->x.width,
                    in->y.n, in->predictors.n);
    return 0;
}

static int run_curve(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct curve_in *in = input;
    struct curve_out *out = output;
    size_t p = in->parameters.n, n = in->y.n, n_names;
    int rc = check_curve(in, err);
    if (rc) return rc;
    struct num_formula *f;
    struct num_curve_fit fit;
    const char **names = join_names(&in->parameters, NULL, &in->predictors, &n_names, arena);
    double *w = in->u.n ? ARENA_NEW(arena, double, n) : NULL;
    struct coefficient *c = ARENA_NEW(arena, struct coefficient, p);
    if (!names || !c || (in->u.n && !w)) return fail_memory(err);
    for (size_t i = 0; w && i < n; i++)
        w[i] = 1 / (in->u.v[i] * in->u.v[i]);
    if ((rc = num_formula_read(&f, in->formula, names, n_names, arena, err))) return rc;
    struct formula_curve curve = {f, in->x.v, p, in->predictors.n};
    struct num_curve task = {formula_at, &curve, n, p, in->y.v, w};
    rc = num_curve_fit(&fit, &task, in->starts.v, in->starts.n, (size_t)in->scatter,
                       (uint64_t)in->seed, arena, err);
    if (rc) return rc;
    for (size_t k = 0; k < p; k++)
        c[k] = (struct coefficient){in->parameters.v[k], fit.b[k], num_known(fit.sd[k]), NAN, NAN};
    *out = (struct curve_out){{p, c},
                              fit.rss,
                              num_known(fit.sd_residual),
                              fit.relative_gradient,
                              (long)fit.freedom,
                              (long)fit.agreeing,
                              (long)fit.tried,
                              fit.converged};
    return 0;
}

const struct method num_method_curve_fit = {
    "curve-fit",
    "Nonlinear least squares for a formula given as text",
    "Levenberg-Marquardt with geodesic acceleration: Transtrum & Sethna 2012, arXiv:1201.5885; "
    "checked with NIST StRD sets",
    "Exact slopes; several starts; Gauss-Newton polish in extended precision.",
    &curve_in_kind,
    &curve_out_kind,
    run_curve,
    "{\"formula\": \"b1*(1 - exp(-b2*x))\", \"parameters\": [\"b1\", \"b2\"], \"predictors\": "
    "[\"x\"], \"starts\": [[250, 0.0005]], \"x\": [[77.6], [114.9], [141.1], [190.8], [239.9], "
    "[289.0], [332.8], [378.4], [434.8], [477.3], [536.8], [593.1], [689.1], [760.0]], \"y\": "
    "[10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, "
    "81.78]}"};

/* ---- anova, one-way ------------------------------------------------------------------------- */

struct groups_in {
    struct reals values, groups;
};
struct anova_out {
    double between, within, freedom_between, freedom_within, f, p, r2, sd_within, sd_between;
};
static const struct field groups_in_fields[] = {
    {AT(groups_in, values, FIELD_REALS, "Values", "The readings."), .required = true,
     .example = "[62, 60, 63, 59, 63, 67, 71, 64]"},
    {AT(groups_in, groups, FIELD_REALS, "Groups", "A number for each value: which group it is of."),
     .required = true, .example = "[1, 1, 1, 1, 2, 2, 2, 2]"},
};
static const struct field anova_out_fields[] = {
    OUT(anova_out, between, "Sum of squares between", ""),
    OUT(anova_out, within, "Sum of squares within", ""),
    OUT(anova_out, freedom_between, "Degrees of freedom between", ""),
    OUT(anova_out, freedom_within, "Degrees of freedom within", ""),
    OUT(anova_out, f, "F", "Ratio of mean squares."),
    OUT(anova_out, p, "p", "Probability of an F so large if the groups are alike."),
    OUT(anova_out, r2, "R squared", "Share of the sum of squares between."),
    OUT(anova_out, sd_within, "Standard deviation within", ""),
    OUT(anova_out, sd_between, "Standard deviation between", "Component of variance."),
};
static const struct kind groups_in_kind = {
    "groups_in", "Values in groups", sizeof(struct groups_in), FIELDS(groups_in_fields), NULL};
static const struct kind anova_out_kind = {
    "anova_out", "Analysis of variance", sizeof(struct anova_out), FIELDS(anova_out_fields), NULL};

static int check_groups(const struct groups_in *in, struct error *err) {
    if (in->values.n == in->groups.n) return 0;
    return fail(err, ERR_INPUT, "Give one group for each value.", "%zu values, %zu groups.",
                in->values.n, in->groups.n);
}

static int run_anova(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct groups_in *in = input;
    struct num_anova a;
    int rc = check_groups(in, err);
    if (!rc) rc = num_anova(&a, in->values.v, in->groups.v, in->values.n, arena, err);
    if (rc) return rc;
    *(struct anova_out *)output = (struct anova_out){
        a.between,      a.within,        a.freedom_between, a.freedom_within, num_known(a.f),
        num_known(a.p), num_known(a.r2), a.sd_within,       a.sd_between};
    return 0;
}

const struct method num_method_anova = {
    "anova",
    "One-way analysis of variance",
    "Box, Hunter & Hunter, Statistics for Experimenters, 2nd ed. 2005, chapter 4; checked with "
    "NIST "
    "StRD sets",
    "Sums about the first value, two passes, extended precision.",
    &groups_in_kind,
    &anova_out_kind,
    run_anova,
    "{\"values\": [62, 60, 63, 59, 63, 67, 71, 64, 65, 66], \"groups\": [1, 1, 1, 1, 2, 2, 2, 2, "
    "2, "
    "2]}"};

struct one_way_out {
    double mean, se_mean, sd_between, sd_within, correlation, log_like;
    struct reals effects;
};
static const struct field one_way_out_fields[] = {
    OUT(one_way_out, mean, "Mean", "Of all things."),
    OUT(one_way_out, se_mean, "Its standard error", "Several readings of one thing count once."),
    OUT(one_way_out, sd_between, "Standard deviation between things", ""),
    OUT(one_way_out, sd_within, "Standard deviation within a thing", ""),
    OUT(one_way_out, correlation, "Correlation", "Of two readings of one thing."),
    OUT(one_way_out, log_like, "ln likelihood", "Restricted."),
    OUT_LIST(one_way_out, effects, "Things", "Best predictions, as differences from the mean."),
};
static const struct kind one_way_out_kind = {"one_way_out", "Between and within",
                                             sizeof(struct one_way_out), FIELDS(one_way_out_fields),
                                             NULL};

static int run_one_way(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct groups_in *in = input;
    struct num_one_way w;
    int rc = check_groups(in, err);
    if (!rc) rc = num_one_way(&w, in->values.v, in->groups.v, in->values.n, arena, err);
    if (rc) return rc;
    *(struct one_way_out *)output =
        (struct one_way_out){w.mean,        w.se_mean,  w.sd_between,        w.sd_within,
                             w.correlation, w.log_like, {w.things, w.effect}};
    return 0;
}

const struct method num_method_one_way = {
    "one-way",
    "Several readings of each of several things: spread between and within",
    "Pinheiro & Bates, Mixed-Effects Models in S and S-PLUS, 2000, 2.2 (restricted maximum "
    "likelihood)",
    "Several strips of one tree are one tree.",
    &groups_in_kind,
    &one_way_out_kind,
    run_one_way,
    "{\"values\": [55, 53, 54, 26, 37, 32, 78, 91, 85, 92, 100, 96, 49, 51, 50, 80, 85, 83], "
    "\"groups\": [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5, 6, 6, 6]}"};

/* ---- factorial ------------------------------------------------------------------------------ */

struct factorial_in {
    const char *factors;
    struct texts generators;
    struct reals y;
    long repeats;
    double level;
};
struct effect_out {
    const char *name, *alias;
    double effect, t, p;
};
struct factorial_out {
    double mean, pse, margin, simultaneous, pure_sd;
    struct records effects;
};
static const struct field factorial_in_fields[] = {
    {AT(factorial_in, factors, FIELD_TEXT, "Factors", "One letter each, the free ones first."),
     .required = true, .example = "ABC"},
    {AT(factorial_in, generators, FIELD_TEXTS, "Generators", "For the others, as \"D=ABC\"."),
     .example = "[\"D=ABC\"]"},
    {AT(factorial_in, y, FIELD_REALS, "Results",
        "In standard order (first factor changes fastest), repeats of a run together."),
     .required = true, .example = "[60, 72, 54, 68, 52, 83, 45, 80]"},
    {AT(factorial_in, repeats, FIELD_INT, "Repeats", "Of each run."), .min = 1, .max = 1000,
     .preset = "1", .example = "1"},
    {AT(factorial_in, level, FIELD_REAL, "Level", "Of the margins."), .unit = "percent",
     .scale = 0.01, .min = 1, .max = 99.9, .preset = "95", .example = "95"},
};
static const struct field effect_out_fields[] = {
    OUT_TEXT(effect_out, name, "Effect", "Letters of the factors."),
    OUT_TEXT(effect_out, alias, "Mixed up with", "Words of up to three letters."),
    OUT(effect_out, effect, "High minus low", ""),
    OUT(effect_out, t, "t", "By Lenth's error, or by the repeats."),
    OUT(effect_out, p, "p", "Two-sided."),
};
static const struct kind effect_out_kind = {"effect_out", "An effect", sizeof(struct effect_out),
                                            FIELDS(effect_out_fields), NULL};
static const struct field factorial_out_fields[] = {
    OUT(factorial_out, mean, "Mean", "Of all runs."),
    {AT(factorial_out, effects, FIELD_RECORDS, "Effects", "Of the design."),
     .sub = &effect_out_kind},
    OUT(factorial_out, pse, "Lenth's error", "Pseudo standard error of an effect."),
    OUT(factorial_out, margin, "Margin", "An effect beyond it is real at this level, taken alone."),
    OUT(factorial_out, simultaneous, "Simultaneous margin", "The same, taken all together."),
    OUT(factorial_out, pure_sd, "Standard error from repeats", "Of an effect."),
};
static const struct kind factorial_in_kind = {"factorial_in", "A two-level design and its results",
                                              sizeof(struct factorial_in),
                                              FIELDS(factorial_in_fields), NULL};
static const struct kind factorial_out_kind = {
    "factorial_out", "Effects", sizeof(struct factorial_out), FIELDS(factorial_out_fields), NULL};

static int run_factorial(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct factorial_in *in = input;
    struct factorial_out *out = output;
    struct num_factorial f;
    if (in->generators.n >= strlen(in->factors))
        return fail(err, ERR_INPUT, "Name two factors or more beyond the generators.",
                    "%zu generators for %zu factors.", in->generators.n, strlen(in->factors));
    int rc = num_factorial(&f, in->factors, in->generators.v, in->generators.n, in->y.v, in->y.n,
                           (size_t)in->repeats, in->level, arena, err);
    if (rc) return rc;
    struct effect_out *e = ARENA_NEW(arena, struct effect_out, f.n);
    if (!e) return fail_memory(err);
    for (size_t i = 0; i < f.n; i++)
        e[i] = (struct effect_out){f.effects[i].name, f.effects[i].alias, f.effects[i].effect,
                                   num_known(f.effects[i].t), num_known(f.effects[i].p)};
    *out = (struct factorial_out){
        f.mean, f.pse, num_known(f.margin), num_known(f.simultaneous), f.pure_sd, {f.n, e}};
    return 0;
}

const struct method num_method_factorial = {
    "factorial",
    "Effects of a two-level factorial or half, quarter ... of one, with what is mixed up",
    "Box, Hunter & Hunter 2005, chapters 5-6; Lenth, Technometrics 31, 1989, 469-473",
    NULL,
    &factorial_in_kind,
    &factorial_out_kind,
    run_factorial,
    "{\"factors\": \"ABC\", \"y\": [60, 72, 54, 68, 52, 83, 45, 80]}"};

/* ---- power ---------------------------------------------------------------------------------- */

static const char *const comparison_words[] = {"two groups", "pairs", "one group", NULL};

struct power_in {
    long comparison;
    double n, difference, alpha, power;
};
struct power_out {
    double power, n, difference;
    const char *note;
};
static const struct field power_in_fields[] = {
    {AT(power_in, comparison, FIELD_CHOICE, "Comparison", "Of what."), .choices = comparison_words,
     .preset = "two groups", .example = "two groups"},
    {AT(power_in, n, FIELD_REAL, "Number", "In each group, or of pairs. Left out: worked out."),
     .min = 2, .max = 1e6, .example = "4"},
    {AT(power_in, difference, FIELD_REAL, "Difference",
        "In standard deviations (of the differences, for pairs). Left out: worked out."),
     .min = 0, .max = 1000, .above_min = true, .example = "1.5"},
    {AT(power_in, alpha, FIELD_REAL, "Level", "Risk of seeing what is not there."),
     .unit = "percent", .scale = 0.01, .min = 0.01, .max = 50, .preset = "5", .example = "5"},
    {AT(power_in, power, FIELD_REAL, "Power wanted", "Chance of seeing what is there."),
     .unit = "percent", .scale = 0.01, .min = 5, .max = 99.99, .preset = "80", .example = "80"},
};
static const struct field power_out_fields[] = {
    {AT(power_out, power, FIELD_REAL, "Power", "At this number and difference."), .unit = "percent",
     .scale = 0.01},
    OUT(power_out, n, "Number", "In each group, or of pairs, for the power wanted."),
    OUT(power_out, difference, "Difference", "That this number shows with the power wanted."),
    OUT_TEXT(power_out, note, "Note", "What to mind."),
};
static const struct kind power_in_kind = {"power_in", "A planned comparison",
                                          sizeof(struct power_in), FIELDS(power_in_fields), NULL};
static const struct kind power_out_kind = {
    "power_out", "What it can show", sizeof(struct power_out), FIELDS(power_out_fields), NULL};

static int run_power(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct power_in *in = input;
    struct power_out *out = output;
    enum num_comparison what = (enum num_comparison)in->comparison;
    (void)arena;
    if (isnan(in->n) && isnan(in->difference))
        return fail(err, ERR_MISSING, "Give the number, the difference, or both.",
                    "Neither a number nor a difference is given.");
    if (!isnan(in->n) && !isnan(in->difference))
        out->power = num_power(what, in->n, in->difference, in->alpha);
    if (!isnan(in->difference)) out->n = num_power_n(what, in->difference, in->alpha, in->power);
    if (!isnan(in->n)) out->difference = num_power_difference(what, in->n, in->alpha, in->power);
    out->note = in->n < 4 ? "So few can show only very large differences; several strips from one "
                            "tree are not repeats."
                          : "Several strips from one tree are not repeats.";
    return 0;
}

const struct method num_method_power = {
    "power",
    "What n repeats can and cannot show",
    "Noncentral t by integration over the chi distribution; Johnson, Kotz & Balakrishnan 1995, "
    "chapter 31",
    "Two-sided t test.",
    &power_in_kind,
    &power_out_kind,
    run_power,
    "{\"comparison\": \"two groups\", \"n\": 4, \"difference\": 1.5}"};

/* ---- randomisation, run-order --------------------------------------------------------------- */

struct randomisation_in {
    struct reals a, b, differences;
    long seed;
};
struct randomisation_out {
    double difference, t, freedom, p_t, as_large, as_extreme, of, p_one, p_two, p_two_error,
        least_p;
    int exact;
};
static const struct field randomisation_in_fields[] = {
    {AT(randomisation_in, a, FIELD_REALS, "First group", "Results."),
     .example = "[29.9, 11.4, 25.3, 16.5, 21.1]"},
    {AT(randomisation_in, b, FIELD_REALS, "Second group", "Results."),
     .example = "[26.6, 23.7, 28.5, 14.2, 17.9, 24.3]"},
    {AT(randomisation_in, differences, FIELD_REALS, "Differences of pairs",
        "Instead of two groups."),
     .example = "[0.8, 0.6, 0.3, -0.1]"},
    {AT(randomisation_in, seed, FIELD_INT, "Seed", "Used beyond a million arrangements."), .min = 0,
     .max = 1e15, .preset = "1", .example = "1"},
};
static const struct field randomisation_out_fields[] = {
    OUT(randomisation_out, difference, "Difference", "Second minus first, or mean of the pairs."),
    OUT(randomisation_out, t, "t", "Student's, equal variances."),
    OUT(randomisation_out, freedom, "Degrees of freedom", ""),
    OUT(randomisation_out, p_t, "p of t", "Two-sided."),
    OUT(randomisation_out, as_large, "Arrangements as large", "In the same direction."),
    OUT(randomisation_out, as_extreme, "Arrangements as extreme", "In either direction."),
    OUT(randomisation_out, of, "Arrangements", "Looked at."),
    OUT(randomisation_out, p_one, "p, one-sided", ""),
    OUT(randomisation_out, p_two, "p, two-sided", ""),
    OUT(randomisation_out, p_two_error, "Monte Carlo error of that", "0 when all were looked at."),
    OUT(randomisation_out, least_p, "Least possible p", "Two-sided, for this design."),
    OUT_FLAG(randomisation_out, exact, "All arrangements", "Were looked at."),
};
static const struct kind randomisation_in_kind = {"randomisation_in", "Two groups or pairs",
                                                  sizeof(struct randomisation_in),
                                                  FIELDS(randomisation_in_fields), NULL};
static const struct kind randomisation_out_kind = {
    "randomisation_out", "How often chance does as much", sizeof(struct randomisation_out),
    FIELDS(randomisation_out_fields), NULL};

static int run_randomisation(const void *input, void *output, struct arena *arena,
                             struct error *err) {
    const struct randomisation_in *in = input;
    struct num_randomisation r;
    (void)arena;
    if ((in->differences.n > 0) == (in->a.n + in->b.n > 0))
        return fail(err, ERR_INPUT, "Give either both groups or the differences of pairs.",
                    "%zu and %zu results and %zu differences.", in->a.n, in->b.n,
                    in->differences.n);
    int rc =
        in->differences.n
            ? num_randomise_pairs(&r, in->differences.v, in->differences.n, (uint64_t)in->seed, err)
            : num_randomise_groups(&r, in->a.v, in->a.n, in->b.v, in->b.n, (uint64_t)in->seed, err);
    if (rc) return rc;
    *(struct randomisation_out *)output = (struct randomisation_out){
        r.difference, num_known(r.t), r.freedom, num_known(r.p_t), r.as_large, r.as_extreme,
        r.of,         r.p_one,        r.p_two,   r.p_two_error,    r.least_p,  r.exact};
    return 0;
}

const struct method num_method_randomisation = {
    "randomisation",
    "Randomisation test of two groups or of pairs: every arrangement while there are a million or "
    "fewer",
    "Fisher, The Design of Experiments, 1935; Box, Hunter & Hunter 2005, chapter 3; Phipson & "
    "Smyth "
    "2010",
    "Holds when the order of runs was drawn by lot, whatever the distribution.",
    &randomisation_in_kind,
    &randomisation_out_kind,
    run_randomisation,
    "{\"a\": [29.9, 11.4, 25.3, 16.5, 21.1], \"b\": [26.6, 23.7, 28.5, 14.2, 17.9, 24.3]}"};

struct run_order_in {
    long runs, seed;
};
struct run_order_out {
    struct ints order;
};
static const struct field run_order_in_fields[] = {
    {AT(run_order_in, runs, FIELD_INT, "Runs", "How many."), .required = true, .min = 1,
     .max = 10000, .example = "8"},
    {AT(run_order_in, seed, FIELD_INT, "Seed", "Kept with the plan."), .min = 0, .max = 1e15,
     .preset = "1", .example = "1"},
};
static const struct field run_order_out_fields[] = {
    {AT(run_order_out, order, FIELD_INTS, "Order", "Which run comes first, second ...")},
};
static const struct kind run_order_in_kind = {"run_order_in", "Runs to be ordered",
                                              sizeof(struct run_order_in),
                                              FIELDS(run_order_in_fields), NULL};
static const struct kind run_order_out_kind = {"run_order_out", "A random order",
                                               sizeof(struct run_order_out),
                                               FIELDS(run_order_out_fields), NULL};

static int run_run_order(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct run_order_in *in = input;
    struct run_order_out *out = output;
    size_t n = (size_t)in->runs, *order = ARENA_NEW(arena, size_t, n);
    out->order = (struct ints){n, ARENA_NEW(arena, long, n)};
    if (!order || !out->order.v) return fail_memory(err);
    num_run_order(order, n, (uint64_t)in->seed);
    for (size_t i = 0; i < n; i++)
        out->order.v[i] = (long)order[i] + 1;
    return 0;
}

const struct method num_method_run_order = {
    "run-order",
    "Runs in a random order that the seed gives again",
    "Durstenfeld, CACM 7, 1964, 420; Salmon et al., SC'11, 2011",
    "Without a random order a drift of the weather or of the maker's hand looks like an effect.",
    &run_order_in_kind,
    &run_order_out_kind,
    run_run_order,
    "{\"runs\": 8, \"seed\": 1}"};

/* ---- mixed ---------------------------------------------------------------------------------- */

struct mixed_in {
    const char *formula, *own;
    struct texts parameters, predictors;
    struct reals start, y, things;
    struct tuples x;
    double start_sd;
};
struct mixed_out {
    struct records parameters;
    double sd_own, sd_own_low, sd_own_high, sd_residual, log_like;
    struct reals own;
    long things;
    int converged;
};
static const struct field mixed_in_fields[] = {
    {AT(mixed_in, formula, FIELD_TEXT, "Formula",
        "Of parameters, the thing's own number, and predictors."),
     .required = true, .example = "exp(-k*exp(v)*t^n)"},
    {AT(mixed_in, parameters, FIELD_TEXTS, "Parameters", "Names of what is fitted, up to 12."),
     .required = true, .example = "[\"k\", \"n\"]"},
    {AT(mixed_in, own, FIELD_TEXT, "Own number", "Name of the number each thing has of its own."),
     .preset = "v", .example = "v"},
    {AT(mixed_in, predictors, FIELD_TEXTS, "Predictors", "Names of the columns of x."),
     .required = true, .example = "[\"t\"]"},
    {AT(mixed_in, start, FIELD_REALS, "Start", "One for each parameter."), .required = true,
     .example = "[0.1, 1]"},
    {AT(mixed_in, start_sd, FIELD_REAL, "Start of the spread", "Of the own number."), .min = 0,
     .max = FIELD_NO_LIMIT, .above_min = true, .example = "0.3"},
    {AT(mixed_in, x, FIELD_TUPLES, "x", "One row of predictors for each reading."),
     .required = true, .example = "[[2], [8], [24]]"},
    {AT(mixed_in, y, FIELD_REALS, "y", "One for each row."), .required = true,
     .example = "[0.846, 0.558, 0.221]"},
    {AT(mixed_in, things, FIELD_REALS, "Things", "A number for each reading: which thing."),
     .required = true, .example = "[1, 1, 1]"},
};
static const struct field mixed_out_fields[] = {
    {AT(mixed_out, parameters, FIELD_RECORDS, "Parameters", "In the order given."),
     .sub = &coefficient_kind},
    OUT(mixed_out, sd_own, "Spread of the own number", "Standard deviation between things."),
    OUT(mixed_out, sd_own_low, "Spread, low", "90 % by profile likelihood."),
    OUT(mixed_out, sd_own_high, "Spread, high", "Left out: no limit."),
    OUT(mixed_out, sd_residual, "Residual standard deviation", ""),
    OUT(mixed_out, log_like, "ln likelihood", "At its maximum."),
    OUT_LIST(mixed_out, own, "Own numbers", "Most likely, in order of appearance."),
    OUT_COUNT(mixed_out, things, "Things", ""),
    OUT_FLAG(mixed_out, converged, "Converged", ""),
};
static const struct kind mixed_in_kind = {"mixed_in", "A curve that differs from thing to thing",
                                          sizeof(struct mixed_in), FIELDS(mixed_in_fields), NULL};
static const struct kind mixed_out_kind = {"mixed_out", "The curve and its spread",
                                           sizeof(struct mixed_out), FIELDS(mixed_out_fields),
                                           NULL};

static int mixed_answer(const struct num_mixed_curve *curve, const char *const *names,
                        struct mixed_out *out, struct arena *arena, struct error *err) {
    struct num_mixed_fit fit;
    struct coefficient *c = ARENA_NEW(arena, struct coefficient, curve->p);
    if (!c) return fail_memory(err);
    int rc = num_mixed_fit(&fit, curve, arena, err);
    if (rc) return rc;
    for (size_t k = 0; k < curve->p; k++)
        c[k] = (struct coefficient){names[k], fit.b[k], num_known(fit.se[k]), NAN, NAN};
    *out = (struct mixed_out){
        {curve->p, c},   fit.sd_v,     fit.sd_v_low,        num_known(fit.sd_v_high),
        fit.sd_residual, fit.log_like, {fit.things, fit.v}, (long)fit.things,
        fit.converged};
    return 0;
}

static int run_mixed(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct mixed_in *in = input;
    size_t n = in->y.n, n_names;
    struct num_formula *f;
    if (in->start.n != in->parameters.n || in->x.n != n || in->things.n != n ||
        in->x.width != in->predictors.n)
        return fail(
            err, ERR_INPUT,
            "Give one start for each parameter, and for each y a row of x and a thing.",
            "%zu starts for %zu parameters, %zu rows of %zu numbers for %zu predictors, %zu "
            "y, %zu things.",
            in->start.n, in->parameters.n, in->x.n, in->x.width, in->predictors.n, n, in->things.n);
    const char **names = join_names(&in->parameters, in->own, &in->predictors, &n_names, arena);
    if (!names) return fail_memory(err);
    int rc = num_formula_read(&f, in->formula, names, n_names, arena, err);
    if (rc) return rc;
    struct num_mixed_curve curve = {f,
                                    in->parameters.n,
                                    in->predictors.n,
                                    n,
                                    in->x.v,
                                    in->y.v,
                                    in->things.v,
                                    in->start.v,
                                    isnan(in->start_sd) ? 0 : in->start_sd,
                                    0};
    return mixed_answer(&curve, in->parameters.v, output, arena, err);
}

#define DRYING_EXAMPLE                                                                             \
    "\"t\": [2, 4, 8, 24, 48, 2, 4, 8, 24, 48, 2, 4, 8, 24, 48], \"ratio\": [0.846, 0.731, "       \
    "0.558, "                                                                                      \
    "0.221, 0.073, 0.80, 0.66, 0.47, 0.14, 0.03, 0.89, 0.79, 0.65, 0.33, 0.14], \"trees\": [1, "   \
    "1, "                                                                                          \
    "1, 1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3]"

const struct method num_method_mixed = {
    "mixed",
    "A curve given as text whose one number differs from thing to thing",
    "Pinheiro & Bates, J. Comp. Graph. Stat. 4, 1995, 12-35 (adaptive Gauss-Hermite quadrature)",
    "The own number is normal about 0; put it where it acts, as exp(v) for a factor.",
    &mixed_in_kind,
    &mixed_out_kind,
    run_mixed,
    "{\"formula\": \"exp(-k*exp(v)*t^n)\", \"parameters\": [\"k\", \"n\"], \"own\": \"v\", "
    "\"predictors\": [\"t\"], \"start\": [0.1, 1], \"x\": [[2], [8], [24], [2], [8], [24], [2], "
    "[8], "
    "[24]], \"y\": [0.846, 0.558, 0.221, 0.80, 0.47, 0.14, 0.89, 0.65, 0.33], \"things\": [1, 1, "
    "1, "
    "2, 2, 2, 3, 3, 3]}"};

struct drying_in {
    struct reals t, ratio, trees;
};
static const struct field drying_in_fields[] = {
    {AT(drying_in, t, FIELD_REALS, "Time", "Since the beginning of drying."), .unit = "hours",
     .required = true, .min = 0, .max = FIELD_NO_LIMIT, .example = "[2, 8, 24]"},
    {AT(drying_in, ratio, FIELD_REALS, "Moisture ratio",
        "(M - Mend)/(Mbegin - Mend), one for each time."),
     .required = true, .example = "[0.846, 0.558, 0.221]"},
    {AT(drying_in, trees, FIELD_REALS, "Tree", "A number for each reading: which tree."),
     .required = true, .example = "[1, 1, 1]"},
};
static const struct kind drying_in_kind = {"drying_in", "Drying readings of several trees",
                                           sizeof(struct drying_in), FIELDS(drying_in_fields),
                                           NULL};

static int run_drying(const void *input, void *output, struct arena *arena, struct error *err) {
    static const char *const names[] = {"k", "n", "v", "t"};
    static const double start[] = {0.1, 1};
    const struct drying_in *in = input;
    struct num_formula *f;
    if (in->ratio.n != in->t.n || in->trees.n != in->t.n)
        return fail(err, ERR_INPUT, "Give a ratio and a tree for each time.",
                    "%zu times, %zu ratios, %zu trees.", in->t.n, in->ratio.n, in->trees.n);
    int rc = num_formula_read(&f, "exp(-k*exp(v)*t^n)", names, 4, arena, err);
    if (rc) return rc;
    struct num_mixed_curve curve = {f,           2,           1,     in->t.n, in->t.v,
                                    in->ratio.v, in->trees.v, start, 0.3,     0};
    return mixed_answer(&curve, names, output, arena, err);
}

const struct method num_method_mixed_drying = {
    "mixed-drying",
    "Drying curves of several trees together: the usual curve and how trees differ",
    "Page 1949 (thesis, Purdue University): MR = exp(-k t^n); Pinheiro & Bates 1995",
    "ln k of a tree is normal about ln k of all. k is per hour to the power n.",
    &drying_in_kind,
    &mixed_out_kind,
    run_drying,
    "{" DRYING_EXAMPLE "}"};
