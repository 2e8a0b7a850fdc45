/* calc_trial: `relict calc verdict`, `shrinkage-trial`, `trial-plan`. */
#include "gather/describe.h"
#include "trial/read_back.h"
#include "trial/trial_methods.h"
#include "trial/trial_plan.h"
#include "trial/verdict.h"

#include <math.h>
#include <string.h>

/* ---- verdict ----------------------------------------------------------------------------------
 */

struct verdict_in {
    struct reals values;
    struct texts trees;
    long of, failed;
    double predicted, half;
};
static const struct field verdict_in_fields[] = {
    {AT(verdict_in, values), .label = "Values", .type = FIELD_REALS,
     .help = "Of each strip, any unit."},
    F_TEXTS(verdict_in, trees, "Trees", "Which tree each strip is of; left out: each of its own."),
    F_COUNT(verdict_in, failed, "Failed", 1000000, "In place of values: how many failed ..."),
    F_COUNT(verdict_in, of, "Of", 1000000, "... of how many. The prediction is then a share."),
    {AT(verdict_in, predicted), .label = "Prediction", .type = FIELD_REAL, .required = true,
     .help = "Its middle, in the same unit."},
    {AT(verdict_in, half), .label = "Plus or minus", .type = FIELD_REAL, .max = FIELD_NO_LIMIT,
     .above_min = true, .required = true, .help = "Its half-width."},
};
static const struct kind verdict_in_kind = {
    "verdict", "Strips and a prediction", sizeof(struct verdict_in), FIELDS(verdict_in_fields), ""};
struct verdict_out {
    double mean, low, high, half_width, spread, pooled_low, pooled_high;
    long trees, strips, trees_needed;
    const char *verdict;
};
static const struct field verdict_out_fields[] = {
    F_TEXT(verdict_out, verdict, "Verdict", "Supports, does not support, cannot tell yet."),
    F_OUT(verdict_out, mean, "Mean", "", "Of the means of the trees."),
    F_OUT(verdict_out, low, "From", "", "95 %; left out with a single tree."),
    F_OUT(verdict_out, high, "To", "", "95 %."),
    F_OUT(verdict_out, half_width, "Half-width", "", "Of that interval."),
    F_OUT(verdict_out, spread, "Spread", "", "Standard deviation between trees."),
    F_OUT(verdict_out, pooled_low, "Pooled from", "", "If strips were repeats: not used."),
    F_OUT(verdict_out, pooled_high, "Pooled to", "", "If strips were repeats: not used."),
    {AT(verdict_out, trees), .label = "Trees", .type = FIELD_INT, .help = "The interval rests on."},
    {AT(verdict_out, strips), .label = "Strips", .type = FIELD_INT, .help = "Measured."},
    {AT(verdict_out, trees_needed), .label = "Trees needed", .type = FIELD_INT,
     .help = "For an interval no wider than the prediction, at this spread; 0: over 1000."},
};
static const struct kind verdict_out_kind = {
    "verdict_answer", "What they say", sizeof(struct verdict_out), FIELDS(verdict_out_fields), ""};

static double known(double v) {
    return isfinite(v) ? v : NAN;
}

/* Equal names get equal numbers. */
static int number_trees(long **out, const struct texts *names, size_t n, struct arena *arena,
                        struct error *err) {
    long *tree = ARENA_NEW(arena, long, n);
    if (!tree) return fail_memory(err);
    if (names->n && names->n != n)
        return fail(err, ERR_INPUT, "Name one tree for each value.", "%zu values and %zu trees.", n,
                    names->n);
    for (size_t i = 0; i < n; i++) {
        tree[i] = (long)i;
        for (size_t k = 0; names->n && k < i; k++)
            if (strcmp(names->v[k], names->v[i]) == 0) {
                tree[i] = tree[k];
                break;
            }
    }
    *out = tree;
    return 0;
}

static int run_verdict(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct verdict_in *i = in;
    struct verdict_out *o = out;
    struct trial_interval v;
    int rc;
    if (i->of != FIELD_UNKNOWN)
        rc = trial_interval_share(&v, i->failed == FIELD_UNKNOWN ? 0 : i->failed, i->of, err);
    else {
        long *tree = NULL;
        rc = number_trees(&tree, &i->trees, i->values.n, arena, err);
        if (!rc) rc = trial_interval_mean(&v, i->values.v, tree, i->values.n, err);
    }
    if (rc) return rc;
    *o = (struct verdict_out){.mean = v.mean,
                              .low = known(v.low),
                              .high = known(v.high),
                              .half_width = known(v.half_width),
                              .spread = v.spread,
                              .pooled_low = known(v.pooled_low),
                              .pooled_high = known(v.pooled_high),
                              .trees = (long)v.trees,
                              .strips = (long)v.strips,
                              .trees_needed = v.spread > 0 ? trial_trees_needed(v.spread, i->half)
                                                           : FIELD_UNKNOWN,
                              .verdict = verdict_words[trial_verdict(&v, i->predicted, i->half)]};
    return 0;
}

const struct method trial_method_verdict = {
    "verdict",
    "Says what strips tell about a prediction, and how many trees would settle it",
    "Student 1908, Biometrika 6, 1; shares: Clopper & Pearson 1934, Biometrika 26, 404",
    "Supports: the mean lies inside the prediction and the 95 % half-width is no wider than the "
    "prediction's. Does not "
    "support: the interval misses the prediction. Otherwise it cannot tell yet. Strips of one tree "
    "are not repeats.",
    &verdict_in_kind,
    &verdict_out_kind,
    run_verdict,
    "{\"values\": [5.1, 6.4, 5.8, 7.2, 6.0], \"trees\": [\"a\", \"b\", \"c\", \"d\", \"e\"], "
    "\"predicted\": 6.0, \"half\": "
    "1.0}",
};

/* ---- shrinkage-trial ---------------------------------------------------------------------------
 */

struct shrinkage_in {
    struct trial trial;
    struct records pieces, readings;
};
static const struct field shrinkage_in_fields[] = {
    {AT(shrinkage_in, trial), .label = "Trial", .type = FIELD_RECORD, .sub = &trial_kind,
     .required = true, .help = "With its prediction."},
    {AT(shrinkage_in, pieces), .label = "Pieces", .type = FIELD_RECORDS, .sub = &trial_piece_kind,
     .required = true, .help = "With their sizes on day 0."},
    {AT(shrinkage_in, readings), .label = "Readings", .type = FIELD_RECORDS,
     .sub = &trial_reading_kind, .required = true, .help = "On later days."},
};
static const struct kind shrinkage_in_kind = {"trial_log", "A trial with pieces and readings",
                                              sizeof(struct shrinkage_in),
                                              FIELDS(shrinkage_in_fields), ""};

static int run_shrinkage(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct shrinkage_in *i = in;
    struct trial_log book = {&i->trial, 1, i->pieces.v, i->pieces.n, i->readings.v, i->readings.n};
    struct read_back_options o = {0};
    struct trial_answers a;
    int rc = trial_read_back(&a, &book, NULL, NULL, &o, arena, err);
    if (!rc) memcpy(out, a.answers.v, sizeof(struct trial_answer));
    return rc;
}

const struct method trial_method_shrinkage = {
    "shrinkage-trial",
    "Reads a trial back: shrinkage, curl or loss of mass, in time and against its prediction",
    "Student 1908; drying: Page 1949 with the tree as a random number (Pinheiro & Bates 1995); "
    "one-way components: Pinheiro "
    "& Bates 2000",
    "A prediction counts only when it was written down and sealed before the making.",
    &shrinkage_in_kind,
    &trial_answer_kind,
    run_shrinkage,
    "{\"trial\": {\"id\": \"T1\", \"question\": \"Does lime bark shrink 6 % across?\", "
    "\"outcome\": \"shrinkage across\", "
    "\"predicted\": 6, \"half\": 1}, \"pieces\": [{\"id\": \"s1\", \"trial\": \"T1\", \"tree\": "
    "\"a\", \"around\": 200, "
    "\"mass\": 40}, {\"id\": \"s2\", \"trial\": \"T1\", \"tree\": \"b\", \"around\": 200, "
    "\"mass\": 42}], \"readings\": [{\"id\": "
    "\"r1\", \"piece\": \"s1\", \"day\": 2, \"around\": 194, \"mass\": 28}, {\"id\": \"r2\", "
    "\"piece\": \"s2\", \"day\": 2, "
    "\"around\": 195, \"mass\": 30}, {\"id\": \"r3\", \"piece\": \"s1\", \"day\": 28, \"around\": "
    "189, \"mass\": 19}, {\"id\": "
    "\"r4\", \"piece\": \"s2\", \"day\": 28, \"around\": 187, \"mass\": 20}]}",
};

/* ---- trial-plan --------------------------------------------------------------------------------
 */

/* Priors and linear outcomes in plain numbers, so that a plan can be checked against a book. */
struct root_in {
    const char *id;
    double mean, sd;
};
static const struct field root_fields[] = {
    F_ID(root_in, "Name of what is not known."),
    {AT(root_in, mean), .label = "Mean", .type = FIELD_REAL, .required = true,
     .help = "Of its normal prior."},
    {AT(root_in, sd), .label = "Spread", .type = FIELD_REAL, .max = FIELD_NO_LIMIT,
     .above_min = true, .required = true, .help = "Standard deviation."},
};
static const struct kind root_kind = {"unknown", "Something not known", sizeof(struct root_in),
                                      FIELDS(root_fields), ""};
struct outcome_in {
    const char *id;
    struct texts of;
    struct reals slopes;
};
static const struct field outcome_fields[] = {
    F_ID(outcome_in, "Name of the outcome, for `column`."),
    {AT(outcome_in, of), .label = "Of", .type = FIELD_TEXTS, .required = true,
     .help = "Unknowns it rests on."},
    {AT(outcome_in, slopes), .label = "Slopes", .type = FIELD_REALS, .required = true,
     .help = "Change of the outcome for one of each."},
};
static const struct kind outcome_kind = {"foretold", "A linear outcome", sizeof(struct outcome_in),
                                         FIELDS(outcome_fields), ""};
struct plan_in {
    struct records unknowns, outcomes, candidates;
    struct plan_limits limits;
    long draws;
};
#define LIMIT(member) .name = #member, .offset = offsetof(struct plan_in, limits.member)
static const struct field plan_in_fields[] = {
    {AT(plan_in, unknowns), .label = "Unknowns", .type = FIELD_RECORDS, .sub = &root_kind,
     .required = true, .help = "With normal priors."},
    F_LIST(plan_in, outcomes, "Outcomes", outcome_kind,
           "Sums of unknowns; an unknown may be measured itself."),
    {AT(plan_in, candidates), .label = "Candidates", .type = FIELD_RECORDS, .sub = &candidate_kind,
     .required = true, .help = "Trials that could be made."},
    {LIMIT(sheets), .label = "Sheets in hand", .type = FIELD_REAL, .max = 1e6,
     .help = "Left out: no limit."},
    {LIMIT(hours), .label = "Hours in hand", .unit = "h", .type = FIELD_REAL, .max = 1e6,
     .help = "Of work."},
    {LIMIT(days), .label = "Days in hand", .unit = "days", .type = FIELD_REAL, .max = 36500,
     .help = "Each trial must fit them; trials run side by side."},
    {LIMIT(from), .label = "From", .type = FIELD_DATE,
     .help = "First day on which a trial can be made."},
    {LIMIT(to), .label = "To", .type = FIELD_DATE, .help = "Last day."},
    {LIMIT(most), .label = "At most", .type = FIELD_INT, .max = 30, .help = "Trials."},
    {LIMIT(enough), .label = "Least a trial must settle", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .max = 99, .preset = "5",
     .help = "Of what is open; a trial that settles less is not put in the plan."},
    {LIMIT(seed), .label = "Seed", .type = FIELD_INT, .max = 1e15, .preset = "1",
     .help = "Of the order."},
    {AT(plan_in, draws), .label = "Draws", .type = FIELD_INT, .min = 256, .max = 65536,
     .preset = "4096", .help = "Of the unknowns."},
};
static const struct kind plan_in_kind = {"trial_planning", "Unknowns and candidates",
                                         sizeof(struct plan_in), FIELDS(plan_in_fields), ""};
static const struct field plan_out_fields[] = {
    F_LIST(trial_plan, ranked, "Trials", ranked_trial_kind, "Chosen first."),
    F_LIST(trial_plan, taught, "What each teaches", taught_kind, "Candidate by statement."),
    F_OUT(trial_plan, nats, "The plan teaches", "nats", "About the open statements together."),
    F_OUT(trial_plan, sheets, "Sheets", "", "The plan uses."),
    F_OUT(trial_plan, hours, "Hours", "h", "The plan takes."),
    F_OUT(trial_plan, days, "Days", "days", "Of its longest trial."),
    F_TEXT(trial_plan, say, "Note", "In words."),
};
static const struct kind plan_out_kind = {"trial_plan", "A plan of trials",
                                          sizeof(struct trial_plan), FIELDS(plan_out_fields), ""};

struct linear {
    size_t n;
    const size_t *column;
    const double *slope;
};

static double linear_outcome(const double *row, void *ctx) {
    const struct linear *l = ctx;
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        sum += l->slope[i] * row[l->column[i]];
    return sum;
}

static int add_outcome(struct num_rows *rows, const struct outcome_in *o, struct arena *arena,
                       struct error *err) {
    struct linear *l = ARENA_NEW(arena, struct linear, 1);
    size_t *column = ARENA_NEW(arena, size_t, o->of.n), made;
    if (!l || !column) return fail_memory(err);
    if (o->of.n != o->slopes.n)
        return fail(err, ERR_INPUT, "Give one slope for each unknown.",
                    "Outcome %s: %zu unknowns, %zu slopes.", o->id, o->of.n, o->slopes.n);
    for (size_t i = 0; i < o->of.n; i++)
        if ((column[i] = num_rows_find(rows, o->of.v[i])) == NUM_NO_COLUMN)
            return fail(err, ERR_MISSING, "Add it to the unknowns.",
                        "Outcome %s rests on \"%s\", which is not there.", o->id, o->of.v[i]);
    *l = (struct linear){o->of.n, column, o->slopes.v};
    return num_rows_derive(rows, o->id, column, o->of.n, linear_outcome, l, &made, err);
}

static int run_plan(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct plan_in *i = in;
    struct num_rows *rows;
    int rc = num_rows_new(&rows, (size_t)i->draws, (uint64_t)i->limits.seed, err);
    const struct root_in *u = i->unknowns.v;
    const struct outcome_in *o = i->outcomes.v;
    for (size_t k = 0; k < i->unknowns.n && !rc; k++) {
        struct num_dist prior = num_dist_normal(u[k].mean, u[k].sd);
        size_t column;
        rc = num_rows_root(rows, u[k].id, &prior, &column, err);
    }
    for (size_t k = 0; k < i->outcomes.n && !rc; k++)
        rc = add_outcome(rows, &o[k], arena, err);
    if (!rc)
        rc = trial_plan_make(out, i->candidates.v, i->candidates.n, rows, &i->limits, arena, err);
    num_rows_free(rows);
    return rc;
}

const struct method trial_method_plan = {
    "trial-plan",
    "Ranks candidate trials by what they teach, and plans the few within what is in hand",
    "Lindley 1956, Ann. Math. Stat. 27, 986; nested Monte Carlo with its bias taken off; sets: "
    "Cover & Thomas 2006, 8.5",
    "Unknowns are normal and outcomes linear here, so that answers can be checked by hand: 1/2 "
    "ln(1 + signal variance over "
    "error variance). In a project the possible originals foretell the outcomes.",
    &plan_in_kind,
    &plan_out_kind,
    run_plan,
    "{\"unknowns\": [{\"id\": \"shrinkage\", \"mean\": 7, \"sd\": 2}, {\"id\": \"set\", \"mean\": "
    "0.7, \"sd\": 0.15}], "
    "\"outcomes\": [{\"id\": \"curl\", \"of\": [\"shrinkage\", \"set\"], \"slopes\": [0.3, -2]}], "
    "\"candidates\": [{\"id\": "
    "\"T1\", \"title\": \"Five strips\", \"column\": \"shrinkage\", \"about\": [\"shrinkage\"], "
    "\"outcome\": \"measured value\", "
    "\"noise\": 0.3, \"tree_spread\": 0.8, \"trees\": 5, \"sheets\": 1, \"hours\": 4, \"days\": "
    "28}, {\"id\": \"T4\", \"title\": "
    "\"Panel with laths\", \"column\": \"curl\", \"about\": [\"shrinkage\", \"set\"], \"outcome\": "
    "\"measured value\", \"noise\": "
    "0.2, \"tree_spread\": 0.2, \"trees\": 2, \"sheets\": 2, \"hours\": 12, \"days\": 56}], "
    "\"sheets\": 3, \"draws\": 1024}",
};
