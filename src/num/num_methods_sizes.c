/* relict calc quantiles, distribution, likelihood-words, censored, kaplan-meier, combine,
 * propagate. */
#include "num/censored.h"
#include "num/combine.h"
#include "num/dist.h"
#include "num/formula.h"
#include "num/num_fields.h"
#include "num/propagate.h"
#include "num/weighted.h"
#include "num/words.h"

#include <string.h>

/* ---- quantiles ------------------------------------------------------------------------------ */

struct quantiles_in {
    struct reals values, weights, at;
};
struct quantiles_out {
    struct reals quantiles;
    double mean, sd, effective, shortest_low, shortest_high;
};
static const struct field quantiles_in_fields[] = {
    {AT(quantiles_in, values, FIELD_REALS, "Values", "The numbers."), .required = true,
     .example = "[310, 295, 330, 322, 301]"},
    {AT(quantiles_in, weights, FIELD_REALS, "Weights", "One for each value; left out: all alike."),
     .min = 0, .max = FIELD_NO_LIMIT, .example = "[1, 1, 2, 1, 1]"},
    {AT(quantiles_in, at, FIELD_REALS, "At", "Shares from 0 to 1; left out: 0.05, 0.5, 0.95."),
     .min = 0, .max = 1, .example = "[0.05, 0.5, 0.95]"},
};
static const struct field quantiles_out_fields[] = {
    OUT_LIST(quantiles_out, quantiles, "Quantiles", "One for each share."),
    OUT(quantiles_out, mean, "Mean", "Weighted mean."),
    OUT(quantiles_out, sd, "Standard deviation",
        "Of the values as they are (divisor: the weight)."),
    OUT(quantiles_out, effective, "Effective number", "(sum w)^2 / sum w^2."),
    OUT(quantiles_out, shortest_low, "Shortest 90 %, low", "Lower end of the shortest interval."),
    OUT(quantiles_out, shortest_high, "Shortest 90 %, high", "Upper end of it."),
};
static const struct kind quantiles_in_kind = {"quantiles_in", "Weighted values",
                                              sizeof(struct quantiles_in),
                                              FIELDS(quantiles_in_fields), NULL};
static const struct kind quantiles_out_kind = {
    "quantiles_out", "Quantiles", sizeof(struct quantiles_out), FIELDS(quantiles_out_fields), NULL};

static int run_quantiles(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct quantiles_in *in = input;
    struct quantiles_out *out = output;
    static double usual[] = {0.05, 0.5, 0.95};
    size_t n = in->values.n, m = in->at.n ? in->at.n : 3;
    const double *w = in->weights.n ? in->weights.v : NULL;
    if (n == 0) return fail(err, ERR_MISSING, "Give one value or more.", "There are no values.");
    if (w && in->weights.n != n)
        return fail(err, ERR_INPUT, "Give one weight for each value.", "%zu values, %zu weights.",
                    n, in->weights.n);
    double *one = ARENA_NEW(arena, double, n);
    out->quantiles = (struct reals){m, ARENA_NEW(arena, double, m)};
    if (!one || !out->quantiles.v) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        one[i] = w ? w[i] : 1;
    int rc =
        num_quantiles(in->values.v, w, n, in->at.n ? in->at.v : usual, m, out->quantiles.v, err);
    if (rc) return rc;
    out->mean = num_mean(in->values.v, w, n);
    out->sd = num_sd(in->values.v, w, n);
    out->effective = num_effective(one, n);
    return num_shortest(in->values.v, w, n, 0.9, &out->shortest_low, &out->shortest_high, err);
}

const struct method num_method_quantiles = {
    "quantiles",
    "Weighted quantiles, mean, spread and the shortest interval of a list of numbers",
    "Hyndman & Fan 1996, The American Statistician 50, 361-365, definition 5; Kish 1965, section "
    "8.2",
    "Whole numbers (counts) are never interpolated.",
    &quantiles_in_kind,
    &quantiles_out_kind,
    run_quantiles,
    "{\"values\": [310, 295, 330, 322, 301], \"weights\": [1, 1, 2, 1, 1], \"at\": [0.05, 0.5, "
    "0.95]}"};

/* ---- distribution --------------------------------------------------------------------------- */

struct distribution_in {
    struct num_dist_entry is;
    struct reals at, below;
};
struct distribution_out {
    const char *text;
    double mean, sd, p05, median, p95, misfit;
    struct reals quantiles, shares;
};
static const struct field distribution_in_fields[] = {
    {AT(distribution_in, is, FIELD_RECORD, "Distribution", "The family and its numbers."),
     .required = true, .sub = &num_dist_kind,
     .example = "{\"family\": \"lognormal\", \"median\": 7.5, \"p05\": 4, \"p95\": 12}"},
    {AT(distribution_in, at, FIELD_REALS, "At", "Shares from 0 to 1 whose quantiles are wanted."),
     .min = 0, .max = 1, .example = "[0.01, 0.99]"},
    {AT(distribution_in, below, FIELD_REALS, "Below", "Values: the share that lies below each."),
     .example = "[5, 10]"},
};
static const struct field distribution_out_fields[] = {
    OUT_TEXT(distribution_out, text, "In words", "The distribution as it was understood."),
    OUT(distribution_out, mean, "Mean", "Left out where there is none."),
    OUT(distribution_out, sd, "Standard deviation", "Left out where there is none."),
    OUT(distribution_out, p05, "5 % point", "One in twenty lies below."),
    OUT(distribution_out, median, "Median", "Half lies below."),
    OUT(distribution_out, p95, "95 % point", "One in twenty lies above."),
    OUT(distribution_out, misfit, "Misfit",
        "When fitted to three points: the worst distance, as a share of p95 - p05."),
    OUT_LIST(distribution_out, quantiles, "Quantiles", "At the shares asked for."),
    OUT_LIST(distribution_out, shares, "Shares below", "Of the values asked for."),
};
static const struct kind distribution_in_kind = {"distribution_in", "A distribution and questions",
                                                 sizeof(struct distribution_in),
                                                 FIELDS(distribution_in_fields), NULL};
static const struct kind distribution_out_kind = {"distribution_out", "Its numbers",
                                                  sizeof(struct distribution_out),
                                                  FIELDS(distribution_out_fields), NULL};

static int run_distribution(const void *input, void *output, struct arena *arena,
                            struct error *err) {
    const struct distribution_in *in = input;
    struct distribution_out *out = output;
    struct num_dist d;
    char text[300];
    int rc = num_dist_from_entry(&d, &in->is, err);
    if (rc) return rc;
    if (!isnan(in->is.p05) && !isnan(in->is.p95) && !isnan(in->is.median))
        rc = num_dist_from_points(&d, (enum num_family)in->is.family, in->is.median, in->is.p05,
                                  in->is.p95, in->is.low, in->is.high, &out->misfit, err);
    if (rc) return rc;
    num_dist_text(&d, text, sizeof text);
    out->text = arena_strdup(arena, text);
    out->mean = num_known(num_dist_mean(&d));
    out->sd = num_known(num_dist_sd(&d));
    out->p05 = num_dist_quantile(&d, 0.05);
    out->median = num_dist_quantile(&d, 0.5);
    out->p95 = num_dist_quantile(&d, 0.95);
    out->quantiles = (struct reals){in->at.n, ARENA_NEW(arena, double, in->at.n)};
    out->shares = (struct reals){in->below.n, ARENA_NEW(arena, double, in->below.n)};
    if (!out->text || !out->quantiles.v || !out->shares.v) return fail_memory(err);
    for (size_t i = 0; i < in->at.n; i++)
        out->quantiles.v[i] = num_known(num_dist_quantile(&d, in->at.v[i]));
    for (size_t i = 0; i < in->below.n; i++)
        out->shares.v[i] = num_dist_cdf(&d, in->below.v[i]);
    return 0;
}

const struct method num_method_distribution = {
    "distribution",
    "A distribution from its numbers, or from a median with 5 and 95 % points",
    "Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions, 2nd ed. 1994-1995",
    "Fitted to three points, lognormal and normal keep the median and the ratio (distance) of the "
    "ends; the others are least squares over the three points.",
    &distribution_in_kind,
    &distribution_out_kind,
    run_distribution,
    "{\"is\": {\"family\": \"lognormal\", \"median\": 7.5, \"p05\": 4, \"p95\": 12}, \"at\": "
    "[0.01, "
    "0.99], \"below\": [5, 10]}"};

/* ---- words ---------------------------------------------------------------------------------- */

struct words_in {
    double probability;
};
struct words_out {
    const char *word, *text;
    double low, high;
};
static const struct field words_in_fields[] = {
    {AT(words_in, probability, FIELD_REAL, "Probability", "From 0 to 100."), .unit = "percent",
     .scale = 0.01, .min = 0, .max = 100, .required = true, .example = "64"},
};
static const struct field words_out_fields[] = {
    OUT_TEXT(words_out, word, "Word", "Of ICD 203."),
    OUT_TEXT(words_out, text, "As printed", "Word, figure and what the word means."),
    {AT(words_out, low, FIELD_REAL, "The word means from", "Lower end of the bin."),
     .unit = "percent", .scale = 0.01},
    {AT(words_out, high, FIELD_REAL, "to", "Upper end of the bin."), .unit = "percent",
     .scale = 0.01},
};
static const struct kind words_in_kind = {"words_in", "A probability", sizeof(struct words_in),
                                          FIELDS(words_in_fields), NULL};
static const struct kind words_out_kind = {"words_out", "A word", sizeof(struct words_out),
                                           FIELDS(words_out_fields), NULL};

static int run_words(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct words_in *in = input;
    struct words_out *out = output;
    char text[120];
    const struct num_word *w = num_word_for(in->probability);
    num_word_text(in->probability, text, sizeof text);
    out->word = w->word;
    out->low = w->low;
    out->high = w->high;
    out->text = arena_strdup(arena, text);
    return out->text ? 0 : fail_memory(err);
}

const struct method num_method_words = {
    "likelihood-words",
    "The word for a probability, with the range the word means",
    "Intelligence Community Directive 203, 2015, 6.d.(2)(a)",
    "The bins are disjoint, so that words map one to one. 0 and 100 % are never printed.",
    &words_in_kind,
    &words_out_kind,
    run_words,
    "{\"probability\": 64}"};

/* ---- censored ------------------------------------------------------------------------------- */

static const char *const life_words[] = {"lognormal", "weibull", "exponential", NULL};

struct censored_in {
    struct reals complete, at_least, at_most;
    struct tuples between;
    double collected_above, spread, spread_factor, level;
    long family;
};
struct censored_out {
    long pieces, complete;
    double median, median_low, median_high, spread, spread_low, spread_high;
    double single_low, single_high, assumption, mu, sigma, se_mu, se_log_sigma, shape, scale,
        log_like;
    const char *note;
};
#define SIZES(s)                                                                                   \
    {AT(s, complete, FIELD_REALS, "Complete sizes", "Both ends original."),                        \
     .unit = "mm",                                                                                 \
     .min = 0,                                                                                     \
     .max = FIELD_NO_LIMIT,                                                                        \
     .above_min = true,                                                                            \
     .example = "[310, 295, 330, 322]"},                                                           \
    {                                                                                              \
        AT(s, at_least, FIELD_REALS, "At least", "One end broken: longer than this."),             \
            .unit = "mm", .min = 0, .max = FIELD_NO_LIMIT, .above_min = true,                      \
            .example = "[260, 180, 240, 205, 335]"                                                 \
    }
static const struct field censored_in_fields[] = {
    SIZES(censored_in),
    {AT(censored_in, at_most, FIELD_REALS, "At most", "Shorter than this."), .unit = "mm", .min = 0,
     .max = FIELD_NO_LIMIT, .above_min = true, .example = "[350]"},
    {AT(censored_in, between, FIELD_TUPLES, "Between", "Eroded ends: from and to."), .unit = "mm",
     .width = 2, .min = 0, .max = FIELD_NO_LIMIT, .example = "[[300, 320]]"},
    {AT(censored_in, collected_above, FIELD_REAL, "Collected above",
        "Shorter pieces were never collected."),
     .unit = "mm", .min = 0, .max = FIELD_NO_LIMIT, .example = "50"},
    {AT(censored_in, family, FIELD_CHOICE, "Family", "How sizes scatter."), .choices = life_words,
     .preset = "lognormal", .example = "lognormal"},
    {AT(censored_in, spread, FIELD_REAL, "Usual spread",
        "Prior on the standard deviation of ln size; 0.03 to 0.15 is usual for one hand (common "
        "practice, no source). Left out: none."),
     .min = 0, .max = 10, .above_min = true, .example = "0.07"},
    {AT(censored_in, spread_factor, FIELD_REAL, "Give or take a factor",
        "One standard deviation of that prior."),
     .min = 1, .max = 100, .above_min = true, .preset = "1.6", .example = "1.6"},
    {AT(censored_in, level, FIELD_REAL, "Level", "Of the intervals."), .unit = "percent",
     .scale = 0.01, .min = 1, .max = 99.9, .preset = "90", .example = "90"},
};
static const struct field censored_out_fields[] = {
    OUT_COUNT(censored_out, pieces, "Sizes", "Used."),
    OUT_COUNT(censored_out, complete, "Complete sizes", "Of these."),
    {AT(censored_out, median, FIELD_REAL, "Median", "Of all such objects."), .unit = "mm"},
    {AT(censored_out, median_low, FIELD_REAL, "Median, low",
        "By profile likelihood; left out: no "
        "limit."),
     .unit = "mm"},
    {AT(censored_out, median_high, FIELD_REAL, "Median, high", "The upper end."), .unit = "mm"},
    OUT(censored_out, spread, "Spread", "Standard deviation of ln size (lognormal), sigma."),
    OUT(censored_out, spread_low, "Spread, low", "By profile likelihood."),
    OUT(censored_out, spread_high, "Spread, high", "The upper end."),
    {AT(censored_out, single_low, FIELD_REAL, "One object, 5 % point", "At the fitted numbers."),
     .unit = "mm"},
    {AT(censored_out, single_high, FIELD_REAL, "One object, 95 % point", "At the fitted numbers."),
     .unit = "mm"},
    {AT(censored_out, assumption, FIELD_REAL, "Assumption",
        "Share of what is known of the spread that comes from the prior."),
     .unit = "percent", .scale = 0.01},
    OUT(censored_out, mu, "mu", "Location of ln size."),
    OUT(censored_out, sigma, "sigma", "Scale of ln size."),
    OUT(censored_out, se_mu, "Standard error of mu", "From the curvature; for comparison only."),
    OUT(censored_out, se_log_sigma, "Standard error of ln sigma", "From the curvature."),
    OUT(censored_out, shape, "Weibull shape", "1/sigma."),
    OUT(censored_out, scale, "Weibull scale", "exp(mu)."),
    OUT(censored_out, log_like, "ln likelihood", "At its maximum, without the prior."),
    OUT_TEXT(censored_out, note, "Note", "What to mind."),
};
static const struct kind censored_in_kind = {"censored_in", "Sizes, some of them minimums",
                                             sizeof(struct censored_in), FIELDS(censored_in_fields),
                                             NULL};
static const struct kind censored_out_kind = {"censored_out", "What they say of the whole",
                                              sizeof(struct censored_out),
                                              FIELDS(censored_out_fields), NULL};

static int gather_sizes(struct num_censored **out, size_t *n, const struct censored_in *in,
                        struct arena *arena, struct error *err) {
    double above = isnan(in->collected_above) ? 0 : in->collected_above;
    *n = in->complete.n + in->at_least.n + in->at_most.n + in->between.n;
    struct num_censored *v = ARENA_NEW(arena, struct num_censored, *n), *at = v;
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < in->complete.n; i++)
        *at++ = (struct num_censored){in->complete.v[i], in->complete.v[i], above};
    for (size_t i = 0; i < in->at_least.n; i++)
        *at++ = (struct num_censored){in->at_least.v[i], INFINITY, above};
    for (size_t i = 0; i < in->at_most.n; i++)
        *at++ = (struct num_censored){0, in->at_most.v[i], above};
    for (size_t i = 0; i < in->between.n; i++)
        *at++ = (struct num_censored){in->between.v[2 * i], in->between.v[2 * i + 1], above};
    *out = v;
    return 0;
}

static int run_censored(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct censored_in *in = input;
    struct censored_out *out = output;
    struct num_censored *v;
    struct num_life_fit fit;
    size_t n;
    int rc = gather_sizes(&v, &n, in, arena, err);
    if (rc) return rc;
    struct num_life_options o = {.family = (enum num_life)in->family,
                                 .sigma_median = isnan(in->spread) ? 0 : in->spread,
                                 .sigma_factor = in->spread_factor,
                                 .level = in->level};
    if ((rc = num_life_fit(&fit, v, n, &o, err))) return rc;
    out->pieces = (long)n;
    out->complete = (long)fit.complete;
    out->median = fit.median;
    out->median_low = num_known(fit.median_low);
    out->median_high = num_known(fit.median_high);
    out->spread = fit.sigma;
    out->spread_low = num_known(fit.sigma_low);
    out->spread_high = num_known(fit.sigma_high);
    out->single_low = fit.low90;
    out->single_high = fit.high90;
    out->assumption = fit.assumption;
    out->mu = fit.beta[0];
    out->sigma = fit.sigma;
    out->se_mu = fit.se[0];
    out->se_log_sigma = fit.se_log_sigma;
    if (o.family != NUM_LIFE_LOGNORMAL) {
        out->shape = 1 / fit.sigma;
        out->scale = exp(fit.beta[0]);
    }
    out->log_like = fit.log_like;
    out->note = fit.complete < 5 && !(o.sigma_median > 0)
                    ? "Fewer than five complete sizes: give a usual spread, or take the interval "
                      "with care."
                    : "Several pieces of one lath are one size, not several.";
    return 0;
}

const struct method num_method_censored = {
    "censored",
    "What broken pieces say of the whole: a fit with minimums, intervals and limits",
    "Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, chapters 4-5; "
    "Kalbfleisch & Prentice 2002, chapter 3",
    "Breaks must fall independently of length, measured from an original end.",
    &censored_in_kind,
    &censored_out_kind,
    run_censored,
    "{\"complete\": [310, 295, 330, 322], \"at_least\": [260, 180, 240, 205, 335], \"spread\": "
    "0.07}"};

/* ---- Kaplan and Meier ----------------------------------------------------------------------- */

struct km_in {
    struct reals complete, at_least;
    double level;
};
struct km_step {
    double size, at_risk, events, longer, se, low, high;
};
struct km_out {
    struct records steps;
    double median, median_low, median_high, lowest;
    const char *note;
};
static const struct field km_in_fields[] = {
    SIZES(km_in),
    {AT(km_in, level, FIELD_REAL, "Level", "Of the intervals."), .unit = "percent", .scale = 0.01,
     .min = 1, .max = 99.9, .preset = "95", .example = "95"},
};
static const struct field km_step_fields[] = {
    {AT(km_step, size, FIELD_REAL, "Size", "Where the curve steps."), .unit = "mm"},
    OUT(km_step, at_risk, "At risk", "Pieces at least so long."),
    OUT(km_step, events, "Complete", "Pieces that end here."),
    OUT(km_step, longer, "Share longer", "Of the originals."),
    OUT(km_step, se, "Greenwood's error", "Standard error of the share."),
    OUT(km_step, low, "Low", "Of the share, by the log-log transform."),
    OUT(km_step, high, "High", "The upper end."),
};
static const struct kind km_step_kind = {"km_step", "A step of the curve", sizeof(struct km_step),
                                         FIELDS(km_step_fields), NULL};
static const struct field km_out_fields[] = {
    {AT(km_out, steps, FIELD_RECORDS, "Steps", "Of the curve."), .sub = &km_step_kind},
    {AT(km_out, median, FIELD_REAL, "Median", "Left out when the curve stays above one half."),
     .unit = "mm"},
    {AT(km_out, median_low, FIELD_REAL, "Median, low", "Left out: no limit."), .unit = "mm"},
    {AT(km_out, median_high, FIELD_REAL, "Median, high", "Left out: no limit."), .unit = "mm"},
    OUT(km_out, lowest, "Where the curve ends", "Above 0: no mean and no upper limit follow."),
    OUT_TEXT(km_out, note, "Note", "What to mind."),
};
static const struct kind km_in_kind = {"km_in", "Sizes, some of them minimums",
                                       sizeof(struct km_in), FIELDS(km_in_fields), NULL};
static const struct kind km_out_kind = {"km_out", "The step curve", sizeof(struct km_out),
                                        FIELDS(km_out_fields), NULL};

static int run_km(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct km_in *in = input;
    struct km_out *out = output;
    struct censored_in sizes = {
        .complete = in->complete, .at_least = in->at_least, .collected_above = NAN};
    struct num_censored *v;
    struct num_survival s;
    size_t n;
    int rc = gather_sizes(&v, &n, &sizes, arena, err);
    if (!rc && in->complete.n == 0)
        rc = fail(err, ERR_REFUSED, "Measure one complete piece.",
                  "All %zu sizes are only minimums: there is no curve.", n);
    if (!rc) rc = num_survival(&s, v, n, in->level, arena, err);
    if (rc) return rc;
    struct km_step *step = ARENA_NEW(arena, struct km_step, s.n);
    if (!step) return fail_memory(err);
    for (size_t k = 0; k < s.n; k++)
        step[k] = (struct km_step){s.t[k],   s.at_risk[k], s.events[k], s.s[k], num_known(s.se[k]),
                                   s.low[k], s.high[k]};
    out->steps = (struct records){s.n, step};
    out->median = s.median;
    out->median_low = s.median_low;
    out->median_high = s.median_high;
    out->lowest = s.lowest;
    out->note = s.lowest > 0 ? "The longest piece is broken: the curve stops above 0, so no mean "
                               "and no upper limit follow from it."
                             : "The longest piece is complete.";
    return 0;
}

const struct method num_method_kaplan_meier = {
    "kaplan-meier",
    "The share of originals longer than a size, from complete and broken pieces",
    "Kaplan & Meier 1958, JASA 53, 457-481; Greenwood 1926; Kalbfleisch & Prentice 2002, eq 1.14",
    "No form is assumed. Ties: complete before broken.",
    &km_in_kind,
    &km_out_kind,
    run_km,
    "{\"complete\": [310, 295, 330, 322], \"at_least\": [260, 180, 240, 205, 335]}"};

/* ---- combine -------------------------------------------------------------------------------- */

struct combine_in {
    struct reals values, uncertainties;
    double correlation, scatter;
};
struct combine_out {
    double mean, u, q, p, birge_ratio, birge_u, dl_mean, dl_u, dl_tau, pm_mean, pm_u, pm_tau,
        reml_mean, reml_u, reml_tau, prior_mean, prior_u;
    struct reals weights;
    int clash;
    const char *note;
};
static const struct field combine_in_fields[] = {
    {AT(combine_in, values, FIELD_REALS, "Values", "Of one and the same thing, in one state."),
     .required = true, .example = "[412, 431, 405]"},
    {AT(combine_in, uncertainties, FIELD_REALS, "Standard uncertainties", "One for each value."),
     .required = true, .min = 0, .max = FIELD_NO_LIMIT, .above_min = true,
     .example = "[12, 9, 20]"},
    {AT(combine_in, correlation, FIELD_REAL, "Correlation",
        "Of the errors, the same for each pair (one ruler, one scholar); left out: 0."),
     .min = -1, .max = 1, .example = "0"},
    {AT(combine_in, scatter, FIELD_REAL, "Scatter thought possible",
        "Scale of a half-normal prior on the scatter between values, for two or three of them."),
     .min = 0, .max = FIELD_NO_LIMIT, .example = "15"},
};
static const struct field combine_out_fields[] = {
    OUT(combine_out, mean, "Mean", "Weighted by 1/u^2, or by the inverse covariance."),
    OUT(combine_out, u, "Uncertainty", "Of that mean."),
    OUT_LIST(combine_out, weights, "Weights", "Of the values."),
    OUT(combine_out, q, "Q", "Weighted sum of squares about the mean."),
    OUT(combine_out, p, "p", "Probability of a Q so large if they agree."),
    OUT_FLAG(combine_out, clash, "Clash", "p under 0.05: show the clash before averaging."),
    OUT(combine_out, birge_ratio, "Birge's ratio", "sqrt(Q/(k-1))."),
    OUT(combine_out, birge_u, "Birge's uncertainty", "u made larger by it, never smaller."),
    OUT(combine_out, dl_mean, "DerSimonian-Laird mean", "With scatter between the values."),
    OUT(combine_out, dl_u, "Its uncertainty", ""),
    OUT(combine_out, dl_tau, "Its scatter", "Standard deviation between."),
    OUT(combine_out, pm_mean, "Paule-Mandel mean", "The scatter that makes Q = k - 1."),
    OUT(combine_out, pm_u, "Its uncertainty", ""),
    OUT(combine_out, pm_tau, "Its scatter", "Standard deviation between."),
    OUT(combine_out, reml_mean, "Restricted-likelihood mean", ""),
    OUT(combine_out, reml_u, "Its uncertainty", ""),
    OUT(combine_out, reml_tau, "Its scatter", "Standard deviation between."),
    OUT(combine_out, prior_mean, "Mean with the prior on the scatter", ""),
    OUT(combine_out, prior_u, "Its uncertainty", ""),
    OUT_TEXT(combine_out, note, "Note", "Which to use."),
};
static const struct kind combine_in_kind = {"combine_in", "Values of one thing",
                                            sizeof(struct combine_in), FIELDS(combine_in_fields),
                                            NULL};
static const struct kind combine_out_kind = {"combine_out", "Combined", sizeof(struct combine_out),
                                             FIELDS(combine_out_fields), NULL};

static int combine_correlated(const struct combine_in *in, struct combine_out *out,
                              struct arena *arena, struct error *err) {
    size_t k = in->values.n;
    double *v = ARENA_NEW(arena, double, k *k);
    struct num_mean_u m;
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++)
            v[i * k + j] =
                in->uncertainties.v[i] * in->uncertainties.v[j] * (i == j ? 1 : in->correlation);
    int rc = num_combine_correlated(&m, in->values.v, v, k, out->weights.v, err);
    out->mean = m.mean;
    out->u = m.u;
    out->note = "Correlated values: the common part of the error does not average out.";
    return rc;
}

static int run_combine(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct combine_in *in = input;
    struct combine_out *out = output;
    struct num_combined c;
    size_t k = in->values.n;
    if (in->uncertainties.n != k)
        return fail(err, ERR_INPUT, "Give one uncertainty for each value.",
                    "%zu values, %zu uncertainties.", k, in->uncertainties.n);
    int rc = num_combine(&c, in->values.v, in->uncertainties.v, k,
                         isnan(in->scatter) ? 0 : in->scatter, err);
    if (rc) return rc;
    out->weights = (struct reals){k, ARENA_NEW(arena, double, k)};
    if (!out->weights.v) return fail_memory(err);
    if (!isnan(in->correlation) && in->correlation != 0)
        return combine_correlated(in, out, arena, err);
    for (size_t i = 0; i < k; i++)
        out->weights.v[i] =
            c.fixed.u * c.fixed.u / (in->uncertainties.v[i] * in->uncertainties.v[i]);
    out->mean = c.fixed.mean;
    out->u = c.fixed.u;
    out->q = c.q;
    out->p = c.p;
    out->clash = c.clash;
    out->birge_ratio = c.birge_ratio;
    out->birge_u = c.birge.u;
    out->dl_mean = c.dersimonian_laird.mean;
    out->dl_u = c.dersimonian_laird.u;
    out->dl_tau = sqrt(c.dersimonian_laird.tau2);
    out->pm_mean = c.paule_mandel.mean;
    out->pm_u = c.paule_mandel.u;
    out->pm_tau = sqrt(c.paule_mandel.tau2);
    out->reml_mean = c.reml.mean;
    out->reml_u = c.reml.u;
    out->reml_tau = sqrt(c.reml.tau2);
    out->prior_mean = c.half_normal.mean;
    out->prior_u = c.half_normal.u;
    out->note = c.clash ? "The values contradict one another: show them side by side and ask why "
                          "before using any mean; if one must be used, one with scatter between."
                : k < 4 ? "They agree as far as so few values can tell; scatter between them can "
                          "hardly be seen with two or three."
                        : "They agree.";
    return 0;
}

const struct method num_method_combine = {
    "combine",
    "Several values of one thing into one, or a refusal",
    "Birge 1932; DerSimonian & Laird 1986; Paule & Mandel 1982; Viechtbauer 2005",
    "Values must be of the same thing in the same state. Two opinions that share a source are one.",
    &combine_in_kind,
    &combine_out_kind,
    run_combine,
    "{\"values\": [412, 431, 405], \"uncertainties\": [12, 9, 20]}"};

/* ---- propagate ------------------------------------------------------------------------------ */

struct input {
    const char *name;
    struct num_dist_entry is;
};
struct pair {
    const char *a, *b;
    double r;
};
struct propagate_in {
    const char *formula;
    struct records inputs, correlations;
    double level;
    long digits, seed;
};
struct propagate_out {
    double mean, u, median, low, high, shortest_low, shortest_high;
    double mean_error, u_error, low_error, high_error, first_order_value, first_order_u;
    long draws, impossible;
    int settled;
};
static const struct field input_fields[] = {
    {AT(input, name, FIELD_TEXT, "Name", "As in the formula."), .required = true, .example = "m"},
    {AT(input, is, FIELD_RECORD, "Distribution", "What is known of it."), .required = true,
     .sub = &num_dist_kind, .example = "{\"family\": \"normal\", \"mean\": 100, \"sd\": 0.5}"},
};
static const struct kind input_kind = {"input", "A named input", sizeof(struct input),
                                       FIELDS(input_fields), NULL};
static const struct field pair_fields[] = {
    {AT(pair, a, FIELD_TEXT, "First", "Name of an input."), .required = true, .example = "m"},
    {AT(pair, b, FIELD_TEXT, "Second", "Name of an input."), .required = true, .example = "s"},
    {AT(pair, r, FIELD_REAL, "Correlation", "Of their normal scores."), .required = true, .min = -1,
     .max = 1, .example = "0.5"},
};
static const struct kind pair_kind = {"pair", "A correlation", sizeof(struct pair),
                                      FIELDS(pair_fields), NULL};
static const struct field propagate_in_fields[] = {
    {AT(propagate_in, formula, FIELD_TEXT, "Formula",
        "Of the inputs: + - * / ^, brackets, exp log sqrt sin cos tan asin acos atan sinh cosh "
        "tanh "
        "erf abs min max hypot, pi."),
     .required = true, .example = "m / (1 - s)"},
    {AT(propagate_in, inputs, FIELD_RECORDS, "Inputs", "At most 40."), .required = true,
     .sub = &input_kind,
     .example =
         "[{\"name\": \"m\", \"is\": {\"family\": \"normal\", \"mean\": 100, \"sd\": 0.5}}]"},
    {AT(propagate_in, correlations, FIELD_RECORDS, "Correlations",
        "Pairs not named are independent."),
     .sub = &pair_kind, .example = "[{\"a\": \"m\", \"b\": \"s\", \"r\": 0.5}]"},
    {AT(propagate_in, level, FIELD_REAL, "Level", "Of the intervals."), .unit = "percent",
     .scale = 0.01, .min = 1, .max = 99.9, .preset = "95", .example = "95"},
    {AT(propagate_in, digits, FIELD_INT, "Digits of u that must stand", "1 to 4."), .min = 1,
     .max = 4, .preset = "2", .example = "2"},
    {AT(propagate_in, seed, FIELD_INT, "Seed", "The same seed gives the same draws."), .min = 0,
     .max = 1e15, .preset = "1", .example = "1"},
};
static const struct field propagate_out_fields[] = {
    OUT(propagate_out, mean, "Mean", "Of the draws."),
    OUT(propagate_out, u, "Standard uncertainty", "Of the draws."),
    OUT(propagate_out, median, "Median", "Of the draws."),
    OUT(propagate_out, low, "Low", "Probabilistically symmetric interval."),
    OUT(propagate_out, high, "High", "Its upper end."),
    OUT(propagate_out, shortest_low, "Shortest, low", "The shortest interval."),
    OUT(propagate_out, shortest_high, "Shortest, high", "Its upper end."),
    OUT(propagate_out, mean_error, "Monte Carlo error of the mean", "Standard error."),
    OUT(propagate_out, u_error, "Monte Carlo error of u", "Standard error."),
    OUT(propagate_out, low_error, "Monte Carlo error of low", "Standard error."),
    OUT(propagate_out, high_error, "Monte Carlo error of high", "Standard error."),
    OUT(propagate_out, first_order_value, "First-order value", "Formula at the means."),
    OUT(propagate_out, first_order_u, "First-order uncertainty", "For comparison."),
    OUT_COUNT(propagate_out, draws, "Draws", "Made."),
    OUT_COUNT(propagate_out, impossible, "Draws without a value", "Left out."),
    OUT_FLAG(propagate_out, settled, "Settled", "The digits asked for stand."),
};
static const struct kind propagate_in_kind = {"propagate_in", "A formula and its inputs",
                                              sizeof(struct propagate_in),
                                              FIELDS(propagate_in_fields), NULL};
static const struct kind propagate_out_kind = {"propagate_out", "Distribution of the result",
                                               sizeof(struct propagate_out),
                                               FIELDS(propagate_out_fields), NULL};

static size_t find_input(const struct input *v, size_t n, const char *name) {
    size_t i = 0;
    while (i < n && strcmp(v[i].name, name) != 0)
        i++;
    return i;
}

static int read_correlations(double **out, const struct propagate_in *in, struct arena *arena,
                             struct error *err) {
    size_t n = in->inputs.n;
    const struct pair *p = in->correlations.v;
    double *r = ARENA_NEW(arena, double, n *n);
    if (!r) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        r[i * n + i] = 1;
    for (size_t k = 0; k < in->correlations.n; k++) {
        size_t a = find_input(in->inputs.v, n, p[k].a), b = find_input(in->inputs.v, n, p[k].b);
        if (a == n || b == n || a == b)
            return fail(err, ERR_INPUT, "Name two different inputs.",
                        "Correlation %zu is between \"%.40s\" and \"%.40s\".", k + 1, p[k].a,
                        p[k].b);
        r[a * n + b] = r[b * n + a] = p[k].r;
    }
    *out = r;
    return 0;
}

static int run_propagate(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct propagate_in *in = input;
    struct propagate_out *out = output;
    const struct input *v = in->inputs.v;
    size_t n = in->inputs.n;
    const char **names = ARENA_NEW(arena, const char *, n);
    struct num_dist *d = ARENA_NEW(arena, struct num_dist, n);
    if (!names || !d) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < n && !rc; i++) {
        names[i] = v[i].name;
        rc = num_dist_from_entry(&d[i], &v[i].is, err);
        if (rc) {
            error_place(err, NULL, 0, NULL, v[i].name);
            return rc;
        }
    }
    struct num_formula *f;
    struct num_propagated p;
    double *correlation = NULL;
    if (!rc && in->correlations.n) rc = read_correlations(&correlation, in, arena, err);
    if (!rc) rc = num_formula_read(&f, in->formula, names, n, arena, err);
    struct num_propagate_options o = {.level = in->level,
                                      .digits = (int)in->digits,
                                      .seed = (uint64_t)in->seed,
                                      .correlation = correlation};
    if (!rc) rc = num_propagate(&p, f, d, n, &o, err);
    if (rc) return rc;
    *out = (struct propagate_out){p.mean,
                                  p.u,
                                  p.median,
                                  p.low,
                                  p.high,
                                  p.shortest_low,
                                  p.shortest_high,
                                  p.mean_error,
                                  p.u_error,
                                  p.low_error,
                                  p.high_error,
                                  p.first_order_value,
                                  num_known(p.first_order_u),
                                  (long)p.draws,
                                  (long)p.impossible,
                                  p.settled};
    return 0;
}

const struct method num_method_propagate = {
    "propagate",
    "The distribution of a formula's result when its inputs are uncertain",
    "JCGM 101:2008, 5-7; JCGM 100:2008, 5.1.2 and 5.2.2",
    "Draws in batches of ten thousand until the digits asked for stand (7.9). The mean of m/(1-s) "
    "is "
    "not m/(1 - mean of s): the draws know that, the first-order law does not.",
    &propagate_in_kind,
    &propagate_out_kind,
    run_propagate,
    "{\"formula\": \"m / (1 - s)\", \"inputs\": [{\"name\": \"m\", \"is\": {\"family\": "
    "\"normal\", "
    "\"mean\": 100, \"sd\": 0.5}}, {\"name\": \"s\", \"is\": {\"family\": \"uniform\", \"low\": "
    "0.04, \"high\": 0.12}}]}"};
