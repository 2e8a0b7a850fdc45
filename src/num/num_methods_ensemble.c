/* relict calc sensitivity, shares, information, evidence, emulator. */
#include "base/mem.h"
#include "num/emulator.h"
#include "num/formula.h"
#include "num/information.h"
#include "num/num_fields.h"
#include "num/rows.h"
#include "num/sensitivity.h"
#include "num/shares.h"

#include <string.h>

/* Named inputs with distributions, as in propagate. */
struct named {
    const char *name, *group;
    struct num_dist_entry is;
};
static const struct field named_fields[] = {
    {AT(named, name, FIELD_TEXT, "Name", "As in the formula."), .required = true, .example = "x1"},
    {AT(named, is, FIELD_RECORD, "Distribution", "What is known of it."), .required = true,
     .sub = &num_dist_kind, .example = "{\"family\": \"uniform\", \"low\": 0, \"high\": 1}"},
    {AT(named, group, FIELD_TEXT, "Group", "Shares are given for groups; left out: its own name."),
     .example = "material"},
};
static const struct kind named_kind = {"named", "A named input", sizeof(struct named),
                                       FIELDS(named_fields), NULL};

struct model {
    size_t n;
    const char **names;
    struct num_dist *dist;
    struct num_formula *f;
};

static int read_model(struct model *m, const struct records *inputs, const char *formula,
                      struct arena *arena, struct error *err) {
    const struct named *v = inputs->v;
    m->n = inputs->n;
    m->names = ARENA_NEW(arena, const char *, m->n);
    m->dist = ARENA_NEW(arena, struct num_dist, m->n);
    if (!m->names || !m->dist) return fail_memory(err);
    if (m->n == 0 || m->n > 40)
        return fail(err, ERR_RANGE, NULL, "%zu inputs; 1 to 40 can be used.", m->n);
    for (size_t i = 0; i < m->n; i++) {
        m->names[i] = v[i].name;
        int rc = num_dist_from_entry(&m->dist[i], &v[i].is, err);
        if (rc) {
            error_place(err, NULL, 0, NULL, v[i].name);
            return rc;
        }
    }
    return num_formula_read(&m->f, formula, m->names, m->n, arena, err);
}

#define INPUTS(s, what)                                                                            \
    {AT(s, formula, FIELD_TEXT, "Formula", what), .required = true, .example = "x1 + x2^2"}, {     \
        AT(s, inputs, FIELD_RECORDS, "Inputs", "Names and distributions."),                        \
            .required = true, .sub = &named_kind,                                                  \
            .example = "[{\"name\": \"x1\", \"is\": {\"family\": \"uniform\", \"low\": 0, "        \
                       "\"high\": 1}}]"                                                            \
    }
#define SEED(s)                                                                                    \
    {                                                                                              \
        AT(s, seed, FIELD_INT, "Seed", "The same seed gives the same draws."),                     \
            .min = 0, .max = 1e15, .preset = "1", .example = "1"                                   \
    }

/* ---- sensitivity ---------------------------------------------------------------------------- */

struct sensitivity_in {
    const char *formula;
    struct records inputs;
    long points, shifts, seed;
};
struct index {
    const char *name;
    double first, first_error, total, total_error;
};
struct sensitivity_out {
    struct records indices;
    double mean, variance;
    long runs;
};
static const struct field sensitivity_in_fields[] = {
    INPUTS(sensitivity_in, "Of the inputs."),
    {AT(sensitivity_in, points, FIELD_INT, "Points", "For each shift; a power of two is best."),
     .min = 8, .max = 1048576, .preset = "4096", .example = "4096"},
    {AT(sensitivity_in, shifts, FIELD_INT, "Shifts", "Independent repeats, for the errors."),
     .min = 2, .max = 1000, .preset = "8", .example = "8"},
    SEED(sensitivity_in),
};
static const struct field index_fields[] = {
    OUT_TEXT(index, name, "Input", ""),
    OUT(index, first, "First order", "Share of the variance by this input alone."),
    OUT(index, first_error, "Its standard error", "Monte Carlo."),
    OUT(index, total, "Total", "With all it does together with others."),
    OUT(index, total_error, "Its standard error", "Monte Carlo."),
};
static const struct kind index_kind = {"index", "Indices of one input", sizeof(struct index),
                                       FIELDS(index_fields), NULL};
static const struct field sensitivity_out_fields[] = {
    {AT(sensitivity_out, indices, FIELD_RECORDS, "Indices", "In the order of the inputs."),
     .sub = &index_kind},
    OUT(sensitivity_out, mean, "Mean", "Of the result."),
    OUT(sensitivity_out, variance, "Variance", "Of the result."),
    OUT_COUNT(sensitivity_out, runs, "Runs", "Of the formula."),
};
static const struct kind sensitivity_in_kind = {"sensitivity_in", "A formula of independent inputs",
                                                sizeof(struct sensitivity_in),
                                                FIELDS(sensitivity_in_fields), NULL};
static const struct kind sensitivity_out_kind = {"sensitivity_out", "Sobol' indices",
                                                 sizeof(struct sensitivity_out),
                                                 FIELDS(sensitivity_out_fields), NULL};

static double formula_value(const double *x, void *ctx) {
    return num_formula_value(ctx, x);
}

static int run_sensitivity(const void *input, void *output, struct arena *arena,
                           struct error *err) {
    const struct sensitivity_in *in = input;
    struct sensitivity_out *out = output;
    struct model m;
    struct num_sensitivity s;
    int rc = read_model(&m, &in->inputs, in->formula, arena, err);
    if (!rc)
        rc = num_sensitivity(&s, formula_value, m.f, m.dist, m.n, (size_t)in->points,
                             (size_t)in->shifts, (uint64_t)in->seed, err);
    if (rc) return rc;
    struct index *v = ARENA_NEW(arena, struct index, m.n);
    if (!v) return fail_memory(err);
    for (size_t i = 0; i < m.n; i++)
        v[i] =
            (struct index){m.names[i], s.first[i], s.first_error[i], s.total[i], s.total_error[i]};
    *out = (struct sensitivity_out){{m.n, v}, s.mean, s.variance, (long)s.runs};
    return 0;
}

const struct method num_method_sensitivity = {
    "sensitivity",
    "Sobol' indices of a formula with independent inputs",
    "Saltelli et al., Comput. Phys. Commun. 181, 2010, 259-270, table 2; Jansen 1999",
    "For dependent inputs use shares. A small negative first-order index is Monte Carlo error.",
    &sensitivity_in_kind,
    &sensitivity_out_kind,
    run_sensitivity,
    "{\"formula\": \"sin(x1) + 7*sin(x2)^2 + 0.1*x3^4*sin(x1)\", \"inputs\": [{\"name\": \"x1\", "
    "\"is\": {\"family\": \"uniform\", \"low\": -3.14159265358979, \"high\": 3.14159265358979}}, "
    "{\"name\": \"x2\", \"is\": {\"family\": \"uniform\", \"low\": -3.14159265358979, \"high\": "
    "3.14159265358979}}, {\"name\": \"x3\", \"is\": {\"family\": \"uniform\", \"low\": "
    "-3.14159265358979, \"high\": 3.14159265358979}}], \"points\": 1024}"};

/* ---- shares --------------------------------------------------------------------------------- */

struct shares_in {
    struct texts names, groups;
    struct tuples x;
    struct reals y, weights;
};
struct share {
    const char *group;
    double shapley, alone, last;
};
struct main_share {
    const char *name;
    double share, error;
};
struct shares_out {
    struct records shares, inputs;
    double unexplained;
    int crossed;
};
static const struct field shares_in_fields[] = {
    {AT(shares_in, names, FIELD_TEXTS, "Names", "Of the columns of x."), .required = true,
     .example = "[\"thickness\", \"shrinkage\"]"},
    {AT(shares_in, groups, FIELD_TEXTS, "Groups",
        "Which group each column belongs to; left out: each its own."),
     .example = "[\"making\", \"material\"]"},
    {AT(shares_in, x, FIELD_TUPLES, "x", "One row of inputs for each draw; 64 draws or more."),
     .required = true, .example = "[[5.1, 0.08], [4.7, 0.06]]"},
    {AT(shares_in, y, FIELD_REALS, "y", "The result of each draw."), .required = true,
     .example = "[12.1, 11.4]"},
    {AT(shares_in, weights, FIELD_REALS, "Weights", "Of the draws; left out: alike."), .min = 0,
     .max = FIELD_NO_LIMIT, .example = "[1, 1]"},
};
static const struct field share_fields[] = {
    OUT_TEXT(share, group, "Group", ""),
    OUT(share, shapley, "Shapley share", "Of the variance; these sum to 1 - unexplained."),
    OUT(share, alone, "Alone", "What this group explains by itself."),
    OUT(share, last, "Last", "What it adds when the others are known."),
};
static const struct kind share_kind = {"share", "A group's share", sizeof(struct share),
                                       FIELDS(share_fields), NULL};
static const struct field main_share_fields[] = {
    OUT_TEXT(main_share, name, "Input", ""),
    OUT(main_share, share, "Main effect", "Var E[y|x] / Var y, from the draws."),
    OUT(main_share, error, "Its standard error", "By halving the draws."),
};
static const struct kind main_share_kind = {"main_share", "An input's main effect",
                                            sizeof(struct main_share), FIELDS(main_share_fields),
                                            NULL};
static const struct field shares_out_fields[] = {
    {AT(shares_out, shares, FIELD_RECORDS, "Shares", "Of the groups."), .sub = &share_kind},
    {AT(shares_out, inputs, FIELD_RECORDS, "Main effects", "Of the inputs."),
     .sub = &main_share_kind},
    OUT(shares_out, unexplained, "Unexplained", "By a quadratic of normal scores."),
    OUT_FLAG(shares_out, crossed, "Products", "Between inputs were in the regression."),
};
static const struct kind shares_in_kind = {"shares_in", "Draws of inputs and a result",
                                           sizeof(struct shares_in), FIELDS(shares_in_fields),
                                           NULL};
static const struct kind shares_out_kind = {"shares_out", "Shares of the variance",
                                            sizeof(struct shares_out), FIELDS(shares_out_fields),
                                            NULL};

/* The draws as a table of rows; col[k] of input k, col[d] of the result. */
static int table_of(struct num_rows **out, const struct shares_in *in, size_t *col,
                    struct arena *arena, struct error *err) {
    size_t n = in->y.n, d = in->x.width;
    double *v = ARENA_NEW(arena, double, n);
    if (!v) return fail_memory(err);
    int rc = num_rows_new(out, n, 1, err);
    for (size_t k = 0; !rc && k <= d; k++) {
        for (size_t i = 0; i < n; i++)
            v[i] = k < d ? in->x.v[i * d + k] : in->y.v[i];
        rc = num_rows_put(*out, k < d ? in->names.v[k] : "(result)", NULL, 0, v, &col[k], err);
    }
    return rc;
}

static size_t group_columns(const struct shares_in *in, const size_t *col,
                            struct num_share_group *groups, size_t *sorted) {
    size_t d = in->x.width, n = 0, used = 0;
    const struct texts *names = in->groups.n ? &in->groups : &in->names;
    for (size_t k = 0; k < d; k++) {
        size_t g = 0;
        while (g < n && strcmp(groups[g].name, names->v[k]) != 0)
            g++;
        if (g < n) continue;
        if (n == NUM_SHARE_GROUPS) return n + 1;
        groups[n] = (struct num_share_group){names->v[k], sorted + used, 0};
        for (size_t j = k; j < d; j++)
            if (strcmp(names->v[j], names->v[k]) == 0) {
                sorted[used++] = col[j];
                groups[n].n_cols++;
            }
        n++;
    }
    return n;
}

static int run_shares(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct shares_in *in = input;
    struct shares_out *out = output;
    size_t n = in->y.n, d = in->x.width;
    if (in->x.n != n || in->names.n != d || (in->groups.n && in->groups.n != d) ||
        (in->weights.n && in->weights.n != n) || n < 64)
        return fail(err, ERR_INPUT,
                    "Give 64 draws or more, a name (and a group) for each column, a y (and a "
                    "weight) for each draw.",
                    "%zu rows of %zu inputs, %zu names, %zu groups, %zu y, %zu weights.", in->x.n,
                    d, in->names.n, in->groups.n, n, in->weights.n);
    size_t *col = ARENA_NEW(arena, size_t, 2 * d + 1);
    struct share *share = ARENA_NEW(arena, struct share, NUM_SHARE_GROUPS);
    struct main_share *own = ARENA_NEW(arena, struct main_share, d);
    double *x = ARENA_NEW(arena, double, n);
    struct num_share_group groups[NUM_SHARE_GROUPS];
    struct num_rows *rows = NULL;
    struct num_shares s;
    if (!col || !share || !own || !x) return fail_memory(err);
    int rc = table_of(&rows, in, col, arena, err);
    if (!rc && in->weights.n) rc = num_rows_set_weights(rows, in->weights.v, err);
    if (!rc) {
        size_t k = group_columns(in, col, groups, col + d + 1);
        rc = num_shares(&s, rows, col[d], groups, k, err);
    }
    for (size_t k = 0; !rc && k < d; k++) {
        for (size_t i = 0; i < n; i++)
            x[i] = in->x.v[i * d + k];
        own[k].name = in->names.v[k];
        rc = num_main_effect(&own[k].share, &own[k].error, x, in->y.v,
                             in->weights.n ? in->weights.v : NULL, n, err);
    }
    for (size_t g = 0; !rc && g < s.groups; g++)
        share[g] = (struct share){groups[g].name, s.shapley[g], s.alone[g], s.last[g]};
    if (!rc) *out = (struct shares_out){{s.groups, share}, {d, own}, s.unexplained, s.crossed};
    num_rows_free(rows);
    return rc;
}

const struct method num_method_shares = {
    "shares",
    "Which inputs make a result uncertain, from draws whose inputs may depend on one another",
    "Owen, SIAM/ASA JUQ 2, 2014, 245-251; Song, Nelson & Staum 2016; Plischke, Borgonovo & Smith, "
    "Eur. J. Oper. Res. 226, 2013, 536-550",
    "Conditional means by quadratic regression on normal scores; what that does not explain is "
    "told "
    "apart.",
    &shares_in_kind,
    &shares_out_kind,
    run_shares,
    "{\"names\": [\"a\", \"b\"], \"x\": "
    "[[1,5],[2,3],[3,8],[4,1],[5,7],[6,2],[7,6],[8,4],[1,2],[2,7],"
    "[3,4],[4,6],[5,1],[6,8],[7,3],[8,5],[1,8],[2,1],[3,6],[4,3],[5,5],[6,4],[7,7],[8,2],[1,4],[2,"
    "6],"
    "[3,2],[4,8],[5,3],[6,5],[7,1],[8,7],[1,1],[2,4],[3,7],[4,2],[5,8],[6,3],[7,5],[8,6],[1,7],[2,"
    "5],"
    "[3,1],[4,4],[5,6],[6,7],[7,2],[8,8],[1,3],[2,8],[3,5],[4,7],[5,2],[6,1],[7,4],[8,3],[1,6],[2,"
    "2],"
    "[3,3],[4,5],[5,4],[6,6],[7,8],[8,1]], \"y\": "
    "[8.5,8.5,16,11,19.5,18,25,24,5,13.5,12,18,15.5,26,"
    "21.5,24.5,10,7.5,15,13.5,17.5,20,24.5,22,6,12,9,20,16.5,20.5,21.5,27.5,4.5,10,15.5,13,20,19.5,"
    "23.5,27,10.5,11.5,8.5,15,19,23.5,22,28,6.5,14,13.5,18.5,16,17.5,23,22.5,10,8,11.5,15.5,18,22,"
    "26,"
    "22.5]}"};

/* ---- information ---------------------------------------------------------------------------- */

struct information_in {
    const char *formula, *question;
    struct records inputs;
    double sd, limit;
    long draws, seed;
};
struct information_out {
    double gain, error, raw, bias, bits, most;
    const char *note;
};
static const struct field information_in_fields[] = {
    INPUTS(information_in, "What the trial would read, as a formula of what is uncertain."),
    {AT(information_in, sd, FIELD_REAL, "Error of the reading", "Standard deviation."),
     .required = true, .min = 0, .max = FIELD_NO_LIMIT, .above_min = true, .example = "0.5"},
    {AT(information_in, question, FIELD_TEXT, "Question",
        "A formula; asked is whether it is above the limit. Left out: about everything."),
     .example = "x1"},
    {AT(information_in, limit, FIELD_REAL, "Limit", "Of the question."), .example = "0.5"},
    {AT(information_in, draws, FIELD_INT, "Draws", "Of what is uncertain."), .min = 256,
     .max = 20000, .preset = "4096", .example = "4096"},
    SEED(information_in),
};
static const struct field information_out_fields[] = {
    OUT(information_out, gain, "Gain", "Expected, in nats, bias taken off."),
    OUT(information_out, bits, "Gain in bits", "The same."),
    OUT(information_out, error, "Standard error", "Monte Carlo."),
    OUT(information_out, raw, "Before the bias was taken off", ""),
    OUT(information_out, bias, "Bias taken off", "About c / draws."),
    OUT(information_out, most, "At most", "What is unknown of the question, in nats."),
    OUT_TEXT(information_out, note, "Note", "What to mind."),
};
static const struct kind information_in_kind = {"information_in", "A planned reading",
                                                sizeof(struct information_in),
                                                FIELDS(information_in_fields), NULL};
static const struct kind information_out_kind = {"information_out", "What it would teach",
                                                 sizeof(struct information_out),
                                                 FIELDS(information_out_fields), NULL};

/* Draws of the inputs, x[n][d]: one stratified column for each, as roots are filled. */
static int draw_inputs(double *x, const struct model *m, size_t n, uint64_t seed,
                       struct error *err) {
    struct num_rows *rows;
    int rc = num_rows_new(&rows, n, seed, err);
    for (size_t k = 0; !rc && k < m->n; k++) {
        size_t col;
        rc = num_rows_root(rows, m->names[k], &m->dist[k], &col, err);
        for (size_t i = 0; !rc && i < n; i++)
            x[i * m->n + k] = num_rows_values(rows, col)[i];
    }
    num_rows_free(rows);
    return rc;
}

static int run_information(const void *input, void *output, struct arena *arena,
                           struct error *err) {
    const struct information_in *in = input;
    struct information_out *out = output;
    struct model m;
    struct num_formula *question = NULL;
    size_t n = (size_t)in->draws;
    int rc = read_model(&m, &in->inputs, in->formula, arena, err);
    for (size_t k = 0; !rc && k < m.n; k++)
        if (m.dist[k].family == NUM_DISCRETE)
            rc = fail(err, ERR_REFUSED, "Use an integer or a continuous distribution.",
                      "\"%.40s\": a discrete input carries its probability in weights, which this "
                      "method does not take.",
                      m.names[k]);
    if (!rc && in->question)
        rc = num_formula_read(&question, in->question, m.names, m.n, arena, err);
    if (!rc && question && isnan(in->limit))
        rc = fail(err, ERR_MISSING, "Give the limit of the question.",
                  "A question without a limit cannot be asked.");
    if (rc) return rc;
    double *x = ARENA_NEW(arena, double, n *m.n), *y = ARENA_NEW(arena, double, n),
           *q = ARENA_NEW(arena, double, n);
    if (!x || !y || !q) return fail_memory(err);
    if ((rc = draw_inputs(x, &m, n, (uint64_t)in->seed, err))) return rc;
    for (size_t i = 0; i < n; i++) {
        y[i] = num_formula_value(m.f, x + i * m.n);
        if (question) q[i] = num_formula_value(question, x + i * m.n) > in->limit;
    }
    struct num_information_task task = {.predict = y,
                                        .sd = &in->sd,
                                        .n = n,
                                        .m = 1,
                                        .question = question ? q : NULL,
                                        .seed = (uint64_t)in->seed};
    struct num_information info;
    if ((rc = num_information(&info, &task, err))) return rc;
    out->gain = info.gain;
    out->bits = info.gain / log(2);
    out->error = info.error;
    out->raw = info.raw;
    out->bias = info.bias;
    out->most = num_known(info.most);
    out->note = info.gain < 2 * info.error ? "No more than Monte Carlo error: such a trial teaches "
                                             "nothing that can be seen here."
                                           : "Compare by gain for each sheet and each day.";
    return 0;
}

const struct method num_method_information = {
    "information",
    "What a reading that is not yet made is expected to teach",
    "Lindley, Ann. Math. Stat. 27, 1956, 986-1005; nested Monte Carlo with Richardson's correction",
    "Normal error of the reading.",
    &information_in_kind,
    &information_out_kind,
    run_information,
    "{\"formula\": \"x1 + 0.5*x2\", \"inputs\": [{\"name\": \"x1\", \"is\": {\"family\": "
    "\"normal\", "
    "\"mean\": 0, \"sd\": 1}}, {\"name\": \"x2\", \"is\": {\"family\": \"normal\", \"mean\": 0, "
    "\"sd\": 0.7}}], \"sd\": 0.45, \"question\": \"x1\", \"limit\": 0}"};

/* ---- evidence ------------------------------------------------------------------------------- */

struct evidence_in {
    const char *formula;
    struct records inputs;
    long rows, seed;
};
struct posterior {
    const char *name;
    double mean, sd, p05, median, p95;
};
struct evidence_out {
    double log_evidence, error, effective;
    long stages;
    struct records inputs;
};
static const struct field evidence_in_fields[] = {
    INPUTS(evidence_in, "ln of the likelihood, of the inputs."),
    {AT(evidence_in, rows, FIELD_INT, "Rows", "Of the ensemble."), .min = 256, .max = 65536,
     .preset = "4096", .example = "4096"},
    SEED(evidence_in),
};
static const struct field posterior_fields[] = {
    OUT_TEXT(posterior, name, "Input", ""),
    OUT(posterior, mean, "Mean", "After the evidence."),
    OUT(posterior, sd, "Standard deviation", ""),
    OUT(posterior, p05, "5 % point", ""),
    OUT(posterior, median, "Median", ""),
    OUT(posterior, p95, "95 % point", ""),
};
static const struct kind posterior_kind = {"posterior", "An input after the evidence",
                                           sizeof(struct posterior), FIELDS(posterior_fields),
                                           NULL};
static const struct field evidence_out_fields[] = {
    OUT(evidence_out, log_evidence, "ln evidence",
        "ln of the likelihood averaged over the priors."),
    OUT(evidence_out, error, "Its standard error", "Monte Carlo."),
    OUT(evidence_out, effective, "Effective rows", "Afterwards."),
    OUT_COUNT(evidence_out, stages, "Stages", "Of tempering; 0: re-weighted."),
    {AT(evidence_out, inputs, FIELD_RECORDS, "Inputs", "After the evidence."),
     .sub = &posterior_kind},
};
static const struct kind evidence_in_kind = {"evidence_in", "Priors and a likelihood",
                                             sizeof(struct evidence_in), FIELDS(evidence_in_fields),
                                             NULL};
static const struct kind evidence_out_kind = {"evidence_out", "Evidence and posterior",
                                              sizeof(struct evidence_out),
                                              FIELDS(evidence_out_fields), NULL};

struct formula_like {
    const struct num_formula *f;
    const size_t *col;
    size_t n;
};

static double formula_like(const double *row, void *ctx) {
    const struct formula_like *l = ctx;
    double x[40];
    for (size_t i = 0; i < l->n; i++)
        x[i] = row[l->col[i]];
    return num_formula_value(l->f, x);
}

static int run_evidence(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct evidence_in *in = input;
    struct evidence_out *out = output;
    struct model m;
    struct num_rows *rows = NULL;
    int rc = read_model(&m, &in->inputs, in->formula, arena, err);
    if (rc) return rc;
    size_t *col = ARENA_NEW(arena, size_t, 2 * m.n), *moves = col + m.n, n_moves = 0;
    struct posterior *v = ARENA_NEW(arena, struct posterior, m.n);
    if (!col || !v) return fail_memory(err);
    rc = num_rows_new(&rows, (size_t)in->rows, (uint64_t)in->seed, err);
    for (size_t k = 0; !rc && k < m.n; k++) {
        rc = num_rows_root(rows, m.names[k], &m.dist[k], &col[k], err);
        bool still =
            m.dist[k].family == NUM_DISCRETE || m.dist[k].family == NUM_FIXED ||
            (m.dist[k].family == NUM_INTEGER && m.dist[k].high - m.dist[k].low < NUM_VALUES);
        if (!still) moves[n_moves++] = col[k];
    }
    struct formula_like like = {m.f, col, m.n};
    struct num_evidence e = {.id = "evidence",
                             .log_like = formula_like,
                             .ctx = &like,
                             .reads = col,
                             .n_reads = m.n,
                             .moves = moves,
                             .n_moves = n_moves};
    struct num_report report = {0};
    if (!rc) rc = num_rows_condition(rows, &e, &report, err);
    if (!rc && report.held_out)
        rc = fail(err, ERR_SOLVE, "Look at the priors and the formula.",
                  "The likelihood is 0 in every row.");
    static const double p[] = {0.05, 0.5, 0.95};
    for (size_t k = 0; !rc && k < m.n; k++) {
        double q[3];
        num_rows_quantiles(rows, col[k], p, 3, q);
        v[k] = (struct posterior){
            m.names[k], num_rows_mean(rows, col[k]), num_rows_sd(rows, col[k]), q[0], q[1], q[2]};
    }
    if (!rc)
        *out = (struct evidence_out){
            report.log_evidence, report.log_evidence_se, report.effective, report.stages, {m.n, v}};
    num_rows_free(rows);
    return rc;
}

const struct method num_method_evidence = {
    "evidence",
    "What evidence does to priors, and how well they had predicted it",
    "Del Moral, Doucet & Jasra, JRSS B 68, 2006, 411-436 (tempered sequential Monte Carlo); ter "
    "Braak, Statistics and Computing 16, 2006, 239-249; Lee & Whiteley 2018 (error)",
    "The operator by which every reading enters the ensemble. The ratio of two evidences is the "
    "Bayes factor; show it for half and double the prior widths.",
    &evidence_in_kind,
    &evidence_out_kind,
    run_evidence,
    "{\"formula\": \"-0.5*((1.2 - a - b)/0.1)^2 - log(0.1) - 0.5*log(2*pi)\", \"inputs\": "
    "[{\"name\": "
    "\"a\", \"is\": {\"family\": \"normal\", \"mean\": 0, \"sd\": 1}}, {\"name\": \"b\", \"is\": "
    "{\"family\": \"uniform\", \"low\": 0, \"high\": 2}}]}"};

/* ---- emulator ------------------------------------------------------------------------------- */

static const char *const kernel_words[] = {"matern 5/2", "squared exponential", NULL};
static const char *const trend_words[] = {"constant", "linear", "none", NULL};

struct emulator_in {
    struct tuples x, at;
    struct reals y, lengths;
    double variance, nugget;
    long kernel, trend;
};
struct emulator_out {
    struct reals mean, sd, lengths, left_out, left_out_sd, outside;
    double variance, nugget, log_marginal, rms, relative, worst, inside90;
};
static const struct field emulator_in_fields[] = {
    {AT(emulator_in, x, FIELD_TUPLES, "Inputs of the runs", "One row for each run."),
     .required = true, .example = "[[0], [1], [3]]"},
    {AT(emulator_in, y, FIELD_REALS, "Results", "One for each run."), .required = true,
     .example = "[0.5, 0.2, -0.4]"},
    {AT(emulator_in, at, FIELD_TUPLES, "Asked for", "Rows of inputs to be predicted."),
     .example = "[[2]]"},
    {AT(emulator_in, kernel, FIELD_CHOICE, "Kernel", "How smooth."), .choices = kernel_words,
     .preset = "matern 5/2", .example = "matern 5/2"},
    {AT(emulator_in, trend, FIELD_CHOICE, "Trend", "What it returns to far away."),
     .choices = trend_words, .preset = "constant", .example = "constant"},
    {AT(emulator_in, lengths, FIELD_REALS, "Lengths",
        "Fixed, with variance and nugget; left out: fitted."),
     .min = 0, .max = FIELD_NO_LIMIT, .above_min = true, .example = "[1]"},
    {AT(emulator_in, variance, FIELD_REAL, "Variance", "With fixed lengths."), .min = 0,
     .max = FIELD_NO_LIMIT, .above_min = true, .example = "1"},
    {AT(emulator_in, nugget, FIELD_REAL, "Nugget", "Variance of the noise, with fixed lengths."),
     .min = 0, .max = FIELD_NO_LIMIT, .example = "0.01"},
};
static const struct field emulator_out_fields[] = {
    OUT_LIST(emulator_out, mean, "Mean", "Of what was asked for."),
    OUT_LIST(emulator_out, sd, "Standard deviation", "Of the smooth part there."),
    OUT_LIST(emulator_out, outside, "Outside",
             "Overshoot beyond the runs, as a share of the range."),
    OUT_LIST(emulator_out, lengths, "Lengths", "In the unit of the inputs."),
    OUT(emulator_out, variance, "Variance", ""),
    OUT(emulator_out, nugget, "Nugget", "A variance."),
    OUT(emulator_out, log_marginal, "ln marginal likelihood", ""),
    OUT_LIST(emulator_out, left_out, "Left out", "What each run would have been predicted as."),
    OUT_LIST(emulator_out, left_out_sd, "Left out, standard deviation", ""),
    OUT(emulator_out, rms, "Error", "Root mean square of the left-out errors."),
    OUT(emulator_out, relative, "Relative error", "That over the spread of the results."),
    OUT(emulator_out, worst, "Worst", "In its own standard deviations; within 3 is well."),
    OUT(emulator_out, inside90, "Inside 90 %", "Share of left-out runs."),
};
static const struct kind emulator_in_kind = {"emulator_in", "Runs of a simulator",
                                             sizeof(struct emulator_in), FIELDS(emulator_in_fields),
                                             NULL};
static const struct kind emulator_out_kind = {"emulator_out", "Predictions and checks",
                                              sizeof(struct emulator_out),
                                              FIELDS(emulator_out_fields), NULL};

static struct reals new_list(size_t n, struct arena *arena) {
    return (struct reals){n, ARENA_NEW(arena, double, n)};
}

static int check_emulator(const struct emulator_in *in, struct error *err) {
    if (in->x.n != in->y.n || (in->at.n && in->at.width != in->x.width) ||
        (in->lengths.n && in->lengths.n != in->x.width))
        return fail(err, ERR_INPUT, "Give a result for each run, and rows of the same width.",
                    "%zu runs of %zu inputs, %zu results, %zu lengths.", in->x.n, in->x.width,
                    in->y.n, in->lengths.n);
    if (in->lengths.n && (isnan(in->variance) || isnan(in->nugget)))
        return fail(err, ERR_MISSING, "Give variance and nugget too, or leave the lengths out.",
                    "Lengths are fixed, variance or nugget is not given.");
    return 0;
}

static int run_emulator(const void *input, void *output, struct arena *arena, struct error *err) {
    const struct emulator_in *in = input;
    struct emulator_out *out = output;
    struct num_emulator *e;
    struct num_emulator_check check;
    size_t n = in->y.n, d = in->x.width, m = in->at.n;
    int rc = check_emulator(in, err);
    if (rc) return rc;
    struct num_emulator_options o = {.kernel = (enum num_kernel)in->kernel,
                                     .trend = (enum num_trend)in->trend,
                                     .lengths = in->lengths.n ? in->lengths.v : NULL,
                                     .variance = in->variance,
                                     .nugget = in->nugget};
    out->mean = new_list(m, arena);
    out->sd = new_list(m, arena);
    out->outside = new_list(m, arena);
    out->lengths = new_list(d, arena);
    out->left_out = new_list(n, arena);
    out->left_out_sd = new_list(n, arena);
    if (!out->mean.v || !out->sd.v || !out->outside.v || !out->lengths.v || !out->left_out.v ||
        !out->left_out_sd.v)
        return fail_memory(err);
    if ((rc = num_emulator_fit(&e, in->x.v, in->y.v, n, d, &o, err))) return rc;
    rc = num_emulator_predict_many(e, in->at.v, m, out->mean.v, out->sd.v, err);
    for (size_t i = 0; i < m; i++) {
        out->sd.v[i] = sqrt(out->sd.v[i]);
        out->outside.v[i] = num_emulator_outside(e, in->at.v + i * d);
    }
    num_emulator_leave_one_out(e, out->left_out.v, out->left_out_sd.v);
    for (size_t i = 0; i < n; i++)
        out->left_out_sd.v[i] = sqrt(out->left_out_sd.v[i]);
    num_emulator_check(e, &check);
    num_emulator_found(e, out->lengths.v, &out->variance, &out->nugget, &out->log_marginal);
    out->rms = check.rms;
    out->relative = check.relative;
    out->worst = check.worst;
    out->inside90 = check.inside90;
    num_emulator_free(e);
    return rc;
}

const struct method num_method_emulator = {
    "emulator",
    "A Gaussian process through runs of a slow simulator, with its own error",
    "Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, chapters 2, 4, 5; "
    "Dubrule "
    "1983",
    "One length for each input, by maximum likelihood with a weak prior.",
    &emulator_in_kind,
    &emulator_out_kind,
    run_emulator,
    "{\"x\": [[0], [1], [3]], \"y\": [0.5, 0.2, -0.4], \"at\": [[2]], \"kernel\": \"squared "
    "exponential\", \"trend\": \"none\", \"lengths\": [1], \"variance\": 1, \"nugget\": 0.01}"};
