#include "trial/trial_plan.h"

#include "gather/day.h"
#include "gather/describe.h"
#include "statement/statement.h"
#include "trial/trial.h"
#include "trial/trial_words.h"
#include "trial/verdict.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_CANDIDATES = 100, MOST_STATEMENTS = 40, MOST_CHOSEN = 30 };

static const struct field candidate_fields[] = {
    F_ID(candidate, "Short name."),
    F_TEXT(candidate, title, "Trial", "In a few words."),
    F_TEXT(candidate, made, "Made", "What is made."),
    F_TEXT(candidate, varied, "Varied", "What is changed on purpose."),
    {AT(candidate, column), .label = "Foretold by", .type = FIELD_TEXT, .required = true,
     .help = "Column of the possible originals."},
    F_TEXTS(candidate, about, "About", "Columns of the open statements."),
    F_CHOICE(candidate, outcome, "Measures", outcome_words, "What is read off each piece."),
    F_TEXT(candidate, unit, "Unit", "Of a measured value."),
    F_REAL(candidate, noise, "Error of a strip", "", 0, 1e9,
           "Standard deviation, unit of the outcome."),
    F_REAL(candidate, tree_spread, "Between trees", "", 0, 1e9,
           "Standard deviation, unit of the outcome."),
    F_REAL(candidate, modern_ancient, "Modern to ancient", "", 0, 1e9,
           "Standard deviation, unit of the outcome."),
    {AT(candidate, trees), .label = "Trees", .type = FIELD_INT, .min = 1, .max = 1000,
     .preset = "2", .help = "From which the strips come."},
    {AT(candidate, strips), .label = "Strips a tree", .type = FIELD_INT, .min = 1, .max = 1000,
     .preset = "1", .help = "Strips of one tree are not repeats."},
    F_REAL(candidate, sheets, "Sheets", "", 0, 1e4, "It uses up."),
    F_REAL(candidate, hours, "Hours", "h", 0, 1e5, "Of work."),
    F_REAL(candidate, days, "Days", "days", 0, 36500, "From beginning to reading."),
    F_DATE(candidate, from, "From", "It can be made from this day."),
    F_DATE(candidate, to, "To", "It can be made up to this day."),
    F_TEXTS(candidate, material, "Narrows", "Material roots it may narrow."),
    F_CHOICE(candidate, standing, "Standing", standing_words,
             "How its errors and costs are known; empty: the team's own."),
};
const struct kind candidate_kind = {"candidate", "A trial that could be made",
                                    sizeof(struct candidate), FIELDS(candidate_fields), ""};

static const struct field limits_fields[] = {
    F_ID(plan_limits, "Short name."),
    F_REAL(plan_limits, sheets, "Sheets in hand", "", 0, 1e6, "Empty: no limit."),
    F_REAL(plan_limits, hours, "Hours in hand", "h", 0, 1e6, "Of work; empty: no limit."),
    F_REAL(plan_limits, days, "Days in hand", "days", 0, 36500, "Each trial must fit them."),
    F_DATE(plan_limits, from, "From", "First day on which a trial can be made."),
    F_DATE(plan_limits, to, "To", "Last day."),
    F_COUNT(plan_limits, most, "At most", 30, "Trials."),
    {AT(plan_limits, enough), .label = "Least a trial must settle", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .max = 99, .preset = "5",
     .help = "Of what is open; a trial that settles less is not put in the plan."},
    {AT(plan_limits, seed), .label = "Seed", .type = FIELD_INT, .max = 1e15, .preset = "1",
     .help = "Of the order of making."},
};
const struct kind plan_limits_kind = {"plan_limits", "What is in hand for trials",
                                      sizeof(struct plan_limits), FIELDS(limits_fields), ""};

static const struct field ranked_fields[] = {
    F_TEXT(ranked_trial, id, "Trial", "Its short name."),
    F_TEXT(ranked_trial, title, "What", "In a few words."),
    F_OUT(ranked_trial, nats, "Teaches", "nats", "About all open statements together."),
    F_OUT(ranked_trial, everything, "At most", "nats", "About everything at once."),
    F_OUT(ranked_trial, per_sheet, "A sheet", "nats", "Teaches for each sheet."),
    F_OUT(ranked_trial, per_day, "A day", "nats", "Teaches for each day."),
    F_OUT(ranked_trial, per_hour, "An hour", "nats", "Teaches for each hour of work."),
    F_TEXT(ranked_trial, about, "Says most about", "Column of that statement."),
    F_OUT_SHARE(ranked_trial, settles, "Settles", "Of what is open about that statement."),
    F_OUT_SHARE(ranked_trial, settles_bias, "Bias taken off", "Of the nested mean."),
    F_OUT_SHARE(ranked_trial, settles_error, "Its error", "Monte Carlo standard error."),
    F_OUT_SHARE(ranked_trial, settles_sheet, "Settles a sheet", "With one sheet."),
    F_OUT_SHARE(ranked_trial, settles_day, "Settles a day", "With one day."),
    F_OUT(ranked_trial, gain, "Adds", "nats", "To those chosen before it."),
    {AT(ranked_trial, place), .label = "Place", .type = FIELD_INT,
     .help = "In the plan; 0: not chosen."},
    {AT(ranked_trial, order), .label = "Order", .type = FIELD_INT,
     .help = "Of making, randomised."},
    F_TEXT(ranked_trial, why, "Why", "Why it is chosen or not."),
    F_OUT(ranked_trial, predicted, "Prediction", "", "To be sealed, in the unit of the outcome."),
    F_OUT(ranked_trial, half, "Plus or minus", "", "95 % of the mean of its trees."),
    {AT(ranked_trial, trees_needed), .label = "Trees needed", .type = FIELD_INT,
     .help = "So that it can support its prediction; 0: over 1000."},
    F_TEXT(ranked_trial, foretold, "Foretold", "In words."),
    F_TEXT(ranked_trial, means, "What it would mean", "Said beforehand."),
    F_TEXT(ranked_trial, repeats, "Repeats", "What so many trees can and cannot show."),
    F_CHOICE(ranked_trial, standing, "Standing", standing_words, "Of its errors and costs."),
};
const struct kind ranked_trial_kind = {"ranked_trial", "A candidate in its rank",
                                       sizeof(struct ranked_trial), FIELDS(ranked_fields), ""};

static const struct field taught_fields[] = {
    F_TEXT(taught, candidate, "Trial", "Its short name."),
    F_TEXT(taught, statement, "Statement", "Column it is about."),
    F_OUT(taught, nats, "Teaches", "nats", "Bias removed."),
    F_OUT(taught, error, "Its error", "nats", "Monte Carlo standard error."),
    F_OUT(taught, bias, "Bias removed", "nats", "Of the nested mean."),
    F_OUT_SHARE(taught, shrink, "Range left", "To about this share of what it is."),
};
const struct kind taught_kind = {"taught", "What a trial would teach about a statement",
                                 sizeof(struct taught), FIELDS(taught_fields), ""};

long trial_trees_needed(double spread, double half) {
    for (long n = 2; n <= 1000; n++)
        if (trial_half_width((size_t)n) * spread <= half) return n;
    return 0;
}

/* ---- normal scores -----------------------------------------------------------------------------
 */

struct planner {
    const struct candidate *candidate;
    size_t n;
    const struct num_rows *rows;
    const struct plan_limits *limits;
    size_t statements;
    size_t column[MOST_STATEMENTS]; /* of each open statement */
    size_t outcome[MOST_CANDIDATES];
    double sd[MOST_CANDIDATES]; /* of its reading, inside units */
    double *weight;             /* [rows] */
    double
        *cov; /* [(s + n)][(s + n)] of normal scores: statements, then outcomes with their error */
    struct arena *arena;
};

struct item {
    double v;
    size_t i;
};

static int by_value(const void *a, const void *b) {
    double x = ((const struct item *)a)->v, y = ((const struct item *)b)->v;
    return x < y ? -1 : x > y;
}

/* Weighted normal scores; equal values share the middle of their range. */
static int scores(double *out, const double *v, const double *weight, size_t n,
                  struct arena *arena) {
    struct item *it = ARENA_NEW(arena, struct item, n);
    if (!it) return ERR_MEMORY;
    size_t m = 0;
    double total = 0, run = 0;
    for (size_t i = 0; i < n; i++) {
        out[i] = 0;
        if (isnan(v[i])) continue;
        it[m++] = (struct item){v[i], i};
        total += weight[i];
    }
    qsort(it, m, sizeof *it, by_value);
    for (size_t k = 0; k < m;) {
        size_t e = k;
        double w = 0;
        while (e < m && it[e].v == it[k].v)
            w += weight[it[e++].i];
        double p = total > 0 ? (run + w / 2) / total : 0.5;
        run += w;
        /* 1e-9: the ends of a table of rows are no infinities */
        double z = gsl_cdf_ugaussian_Pinv(fmin(1 - 1e-9, fmax(1e-9, p)));
        for (; k < e; k++)
            out[it[k].i] = z;
    }
    return 0;
}

static double weighted_sd(const double *v, const double *w, size_t n) {
    double m = 0, s = 0, t = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i])) continue;
        m += w[i] * v[i];
        t += w[i];
    }
    m /= t;
    for (size_t i = 0; i < n; i++)
        if (!isnan(v[i])) s += w[i] * (v[i] - m) * (v[i] - m);
    return sqrt(s / t);
}

/* Covariance of scores; an outcome's score carries its error in units of its own spread. */
static int covariance(struct planner *p) {
    size_t d = p->statements + p->n, rows = num_rows_count(p->rows);
    double *z = ARENA_NEW(p->arena, double, d *rows);
    p->cov = ARENA_NEW(p->arena, double, d *d);
    if (!z || !p->cov) return ERR_MEMORY;
    for (size_t k = 0; k < d; k++) {
        size_t col = k < p->statements ? p->column[k] : p->outcome[k - p->statements];
        if (scores(z + k * rows, num_rows_values(p->rows, col), p->weight, rows, p->arena))
            return ERR_MEMORY;
    }
    for (size_t a = 0; a < d; a++)
        for (size_t b = a; b < d; b++) {
            double s = 0;
            for (size_t i = 0; i < rows; i++)
                s += p->weight[i] * z[a * rows + i] * z[b * rows + i];
            p->cov[a * d + b] = p->cov[b * d + a] = s;
        }
    for (size_t k = 0; k < p->n; k++) {
        double spread = weighted_sd(num_rows_values(p->rows, p->outcome[k]), p->weight, rows);
        size_t at = (p->statements + k) * d + p->statements + k;
        double own = p->cov[at];
        /* an outcome that does not vary over the rows teaches nothing: its error swamps it */
        p->cov[at] += spread > 0 ? own * (p->sd[k] / spread) * (p->sd[k] / spread) : 1e12;
    }
    for (size_t k = 0; k < p->statements; k++)
        p->cov[k * d + k] += 1e-6; /* two statements that are the same keep a determinant */
    return 0;
}

/* ln det of the matrix of the listed rows and columns, by Cholesky; -INFINITY when singular. */
static double log_det(const struct planner *p, const size_t *list, size_t n) {
    double l[(MOST_STATEMENTS + MOST_CHOSEN + 1) * (MOST_STATEMENTS + MOST_CHOSEN + 1)];
    size_t d = p->statements + p->n;
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double s = p->cov[list[i] * d + list[j]];
            for (size_t k = 0; k < j; k++)
                s -= l[i * n + k] * l[j * n + k];
            if (i == j) {
                if (!(s > 0)) return -INFINITY;
                l[i * n + i] = sqrt(s);
                sum += log(s);
            } else
                l[i * n + j] = s / l[j * n + j];
        }
    return sum;
}

/* I(statements; outcomes of the set) = 1/2 (ln det S + ln det Y - ln det (S, Y)). */
static double joint(const struct planner *p, const size_t *chosen, size_t n) {
    size_t both[MOST_STATEMENTS + MOST_CHOSEN + 1];
    for (size_t k = 0; k < p->statements; k++)
        both[k] = k;
    for (size_t k = 0; k < n; k++)
        both[p->statements + k] = p->statements + chosen[k];
    if (n == 0) return 0;
    double v = 0.5 * (log_det(p, both, p->statements) + log_det(p, both + p->statements, n) -
                      log_det(p, both, p->statements + n));
    return isfinite(v) && v > 0 ? v : 0;
}

/* ---- reading -----------------------------------------------------------------------------------
 */

static int find_column(size_t *out, const struct planner *p, const char *name, const char *id,
                       struct error *err) {
    *out = num_rows_find(p->rows, name);
    if (*out != NUM_NO_COLUMN) return 0;
    return fail(err, ERR_MISSING, "Compute the steps before, or name another column.",
                "Trial %s: there is no column \"%s\" among the possible originals.", id, name);
}

static int read_candidate(struct planner *p, size_t k, struct error *err) {
    const struct candidate *c = &p->candidate[k];
    if (!c->id || !c->column)
        return fail(err, ERR_MISSING, NULL, "Candidate %zu has no id or no column.", k + 1);
    int rc = find_column(&p->outcome[k], p, c->column, c->id, err);
    for (size_t a = 0; a < c->about.n && !rc; a++) {
        size_t col, s = 0;
        rc = find_column(&col, p, c->about.v[a], c->id, err);
        while (!rc && s < p->statements && p->column[s] != col)
            s++;
        if (rc || s < p->statements) continue;
        if (p->statements == MOST_STATEMENTS)
            return fail(err, ERR_RANGE, "Plan for fewer at a time.", "Over %d open statements.",
                        MOST_STATEMENTS);
        p->column[p->statements++] = col;
    }
    if (rc) return rc;
    double scale = trial_outcome_scale(c->outcome >= 0 ? (enum outcome)c->outcome : OUTCOME_VALUE);
    double noise = c->noise > 0 ? c->noise : 0, tree = c->tree_spread > 0 ? c->tree_spread : 0;
    double discount = c->modern_ancient > 0 ? c->modern_ancient : 0;
    p->sd[k] = scale * trial_reading_sd(noise, tree, discount, (double)c->trees, (double)c->strips);
    if (!(p->sd[k] > 0) || c->trees < 1 || c->strips < 1)
        return fail(err, ERR_RANGE, "Give the error of a strip and the spread between trees.",
                    "Trial %s has no error at all.", c->id);
    return 0;
}

/* ---- choosing ----------------------------------------------------------------------------------
 */

/* Share of the dearest resource; infinite when it does not fit what is left. */
static double share_of(double cost, double left, double all) {
    if (!(cost > 0) || isnan(all)) return 0;
    return cost <= left * (1 + 1e-9) ? cost / all : INFINITY;
}

static bool in_season(const struct candidate *c, const struct plan_limits *l, struct error *err) {
    long a, b, from, to;
    bool early = c->from && l->to && !gather_day_read(&a, c->from, err) &&
                 !gather_day_read(&to, l->to, err) && a > to;
    bool late = c->to && l->from && !gather_day_read(&b, c->to, err) &&
                !gather_day_read(&from, l->from, err) && b < from;
    return !early && !late;
}

struct chosen {
    size_t list[MOST_CHOSEN];
    size_t n;
    double sheets, hours, days; /* spent */
};

static double dearest(const struct planner *p, const struct chosen *ch, const struct candidate *c) {
    const struct plan_limits *l = p->limits;
    double s = share_of(c->sheets, l->sheets - ch->sheets, l->sheets);
    double h = share_of(c->hours, l->hours - ch->hours, l->hours);
    /* Trials dry side by side: days do not add up, but each must fit the days in hand. */
    double d = share_of(c->days, l->days, l->days);
    return fmax(1e-3, fmax(s, fmax(h, isinf(d) ? d : 0)));
}

/* The least gain in nats: what narrows a normal number's range by the share asked for. */
static double least_gain(const struct plan_limits *l) {
    return -log1p(-(isnan(l->enough) ? 0.05 : l->enough));
}

static void choose(const struct planner *p, struct chosen *ch, struct ranked_trial *rank,
                   struct error *err) {
    double have = 0, enough = least_gain(p->limits);
    size_t most = p->limits->most > 0 && p->limits->most < MOST_CHOSEN ? (size_t)p->limits->most
                                                                       : MOST_CHOSEN;
    while (ch->n < most) {
        size_t best = p->n;
        double best_rate = 0, best_gain = 0;
        for (size_t k = 0; k < p->n; k++) {
            const struct candidate *c = &p->candidate[k];
            if (rank[k].place || !in_season(c, p->limits, err)) continue;
            double price = dearest(p, ch, c);
            if (isinf(price)) continue;
            ch->list[ch->n] = k;
            double gain = joint(p, ch->list, ch->n + 1) - have;
            if (gain < enough || gain / price <= best_rate) continue;
            best_rate = gain / price;
            best_gain = gain;
            best = k;
        }
        if (best == p->n) return;
        const struct candidate *c = &p->candidate[best];
        ch->list[ch->n++] = best;
        have += best_gain;
        rank[best].gain = best_gain;
        rank[best].place = (long)ch->n;
        ch->sheets += c->sheets > 0 ? c->sheets : 0;
        ch->hours += c->hours > 0 ? c->hours : 0;
        ch->days = fmax(ch->days, c->days > 0 ? c->days : 0);
    }
}

/* ---- telling -----------------------------------------------------------------------------------
 */

static void settle(struct ranked_trial *r, const struct candidate *c,
                   const struct expect_info *info) {
    r->settles = 1 - exp(-info->nats);
    r->settles_bias = exp(-info->nats) - exp(-info->raw);
    r->settles_error = exp(-info->nats) * info->error; /* first order */
    r->settles_sheet = c->sheets > 0 ? 1 - exp(-info->nats / c->sheets) : NAN;
    r->settles_day = c->days > 0 ? 1 - exp(-info->nats / c->days) : NAN;
}

static int tell_statements(struct trial_plan *out, struct planner *p, struct ranked_trial *rank,
                           size_t *top, struct error *err) {
    struct taught *t = ARENA_NEW(p->arena, struct taught, p->n * p->statements);
    if (!t) return fail_memory(err);
    size_t rows = num_rows_count(p->rows);
    out->taught = (struct records){0, t};
    for (size_t k = 0; k < p->n; k++) {
        const struct candidate *c = &p->candidate[k];
        const double *y = num_rows_values(p->rows, p->outcome[k]);
        struct expect_info info;
        int rc = trial_expect_all(&info, y, p->weight, rows, p->sd[k], p->arena, err);
        if (rc) return rc;
        rank[k].everything = info.nats;
        struct expect_question *asked = ARENA_NEW(p->arena, struct expect_question, c->about.n);
        struct expect_info *each = ARENA_NEW(p->arena, struct expect_info, c->about.n);
        if (!asked || !each) return fail_memory(err);
        for (size_t a = 0; a < c->about.n; a++) {
            size_t col = num_rows_find(p->rows, c->about.v[a]);
            const struct num_dist *prior = num_rows_prior(p->rows, col);
            asked[a] = (struct expect_question){num_rows_values(p->rows, col),
                                                prior && num_dist_is_discrete(prior)};
        }
        rc =
            trial_expect_each(each, asked, c->about.n, y, p->weight, rows, p->sd[k], p->arena, err);
        if (rc) return rc;
        double best = -1;
        for (size_t a = 0; a < c->about.n; a++) {
            info = each[a];
            t[out->taught.n++] = (struct taught){c->id,      c->about.v[a], info.nats,
                                                 info.error, info.bias,     exp(-info.nats)};
            if (info.nats > best) {
                best = info.nats;
                top[k] = a;
                settle(&rank[k], c, &info);
            }
        }
    }
    return 0;
}

static const char *why_of(const struct planner *p, size_t k, const struct ranked_trial *r,
                          const struct chosen *ch, size_t top, struct error *err) {
    const struct candidate *c = &p->candidate[k];
    if (r->place && c->about.n) {
        const char *words = trial_column_words(c->about.v[top], p->arena);
        return words ? arena_printf(p->arena, "says most about %s", words) : NULL;
    }
    if (r->place) return "chosen";
    if (!in_season(c, p->limits, err)) return "out of season";
    if (isinf(dearest(p, ch, c))) return "needs more sheets, hours or days than are left";
    size_t with[MOST_CHOSEN + 1];
    memcpy(with, ch->list, ch->n * sizeof *with);
    with[ch->n] = k;
    double enough = least_gain(p->limits);
    if (joint(p, with, ch->n + 1) - joint(p, with, ch->n) < enough)
        return ch->n ? "adds next to nothing to those chosen" : "teaches next to nothing";
    return "fewer trials are wanted";
}

static int foretell(const struct planner *p, size_t k, struct ranked_trial *r) {
    const struct candidate *c = &p->candidate[k];
    enum outcome o = c->outcome >= 0 ? (enum outcome)c->outcome : OUTCOME_VALUE;
    double scale = trial_outcome_scale(o), q[3];
    static const double at[] = {0.025, 0.5, 0.975};
    if (num_rows_quantiles(p->rows, p->outcome[k], at, 3, q)) return ERR_MEMORY;
    /* Each side by itself: a stiffness known to a factor has a long side up, and none under 0. */
    double z = 1.959963984540054; /* 97.5 % point of the normal */
    double low = (q[1] - hypot(q[1] - q[0], z * p->sd[k])) / scale,
           high = (q[1] + hypot(q[2] - q[1], z * p->sd[k])) / scale;
    r->half = (high - low) / 2;
    bool even = fabs((low + high) / 2 - q[1] / scale) < 0.1 * r->half;
    r->predicted = even ? q[1] / scale : (low + high) / 2;
    double one = sqrt((c->tree_spread > 0 ? c->tree_spread * c->tree_spread : 0) +
                      (c->noise > 0 ? c->noise * c->noise / (double)c->strips : 0));
    r->trees_needed = trial_trees_needed(one, r->half);
    double half = trial_half_width((size_t)c->trees) * one;
    const char *unit = trial_unit(o, c->unit);
    const char *range = trial_range(r->predicted - r->half, r->predicted + r->half, unit, p->arena);
    r->foretold = even ? trial_plus_minus(r->predicted, r->half, unit, p->arena) : range;
    const char *wide = trial_number(r->half, 2, p->arena),
               *few = isfinite(half) ? trial_number(half, 2, p->arena) : "";
    if (!r->foretold || !range || !wide || !few) return ERR_MEMORY;
    r->means = arena_printf(p->arena,
                            "A mean of %s with an interval no wider than ± %s supports it; an "
                            "interval wholly outside does not; anything else cannot tell yet.",
                            range, wide);
    if (c->trees < 2)
        r->repeats = "One tree alone can show nothing of other trees, however many strips.";
    else
        r->repeats = arena_printf(p->arena,
                                  "%ld trees would give about ± %s: %s. A difference smaller than "
                                  "that they cannot show%s.",
                                  c->trees, few,
                                  half <= r->half       ? "enough to support it"
                                  : r->trees_needed > 0 ? "too few to support it"
                                                        : "no number of repeats settles it",
                                  c->strips > 1 ? "; strips of one tree are not repeats" : "");
    return r->means && r->repeats ? 0 : ERR_MEMORY;
}

static int by_rank(const void *a, const void *b) {
    const struct ranked_trial *x = a, *y = b;
    if ((x->place > 0) != (y->place > 0)) return x->place > 0 ? -1 : 1;
    if (x->place != y->place) return x->place < y->place ? -1 : 1;
    if (x->nats != y->nats) return x->nats > y->nats ? -1 : 1;
    return strcmp(x->id, y->id);
}

static int make_order(const struct planner *p, const struct chosen *ch, struct ranked_trial *rank) {
    size_t *order = ARENA_NEW(p->arena, size_t, ch->n);
    if (!order) return ERR_MEMORY;
    struct num_random r;
    num_random_begin(&r, (uint64_t)p->limits->seed, num_hash("trial.order"), 0);
    num_random_permutation(&r, order, ch->n);
    for (size_t k = 0; k < ch->n; k++)
        rank[ch->list[k]].order = (long)order[k] + 1;
    return 0;
}

static double rate(double nats, double cost) {
    return cost > 0 ? nats / cost : NAN;
}

int trial_plan_make(struct trial_plan *out, const struct candidate *candidate, size_t n,
                    const struct num_rows *rows, const struct plan_limits *limits,
                    struct arena *arena, struct error *err) {
    *out = (struct trial_plan){.say = ""};
    if (n < 1 || n > MOST_CANDIDATES)
        return fail(err, ERR_RANGE, "Enter candidate trials, at most 100.", "%zu candidates.", n);
    struct planner p = {
        .candidate = candidate, .n = n, .rows = rows, .limits = limits, .arena = arena};
    struct chosen ch = {.n = 0};
    p.weight = ARENA_NEW(arena, double, num_rows_count(rows));
    struct ranked_trial *rank = ARENA_NEW(arena, struct ranked_trial, n);
    size_t *top = ARENA_NEW(arena, size_t, n);
    if (!p.weight || !rank || !top) return fail_memory(err);
    for (size_t k = 0; k < n; k++)
        rank[k].settles = rank[k].settles_bias = rank[k].settles_error = rank[k].settles_sheet =
            rank[k].settles_day = NAN;
    num_rows_weights(rows, p.weight);
    for (size_t k = 0; k < n; k++) {
        int rc = read_candidate(&p, k, err);
        if (rc) return rc;
    }
    if (p.statements == 0)
        return fail(err, ERR_MISSING, "Say which open statements the candidates are about.",
                    "No candidate is about anything.");
    if (covariance(&p)) return fail_memory(err);
    int rc = tell_statements(out, &p, rank, top, err);
    if (rc) return rc;
    struct error season = {0};
    for (size_t k = 0; k < n; k++) {
        const struct candidate *c = &candidate[k];
        rank[k].id = c->id;
        rank[k].title = c->title ? c->title : c->id;
        rank[k].nats = joint(&p, &k, 1);
        rank[k].gain = NAN;
        rank[k].about = c->about.n ? c->about.v[top[k]] : NULL;
        rank[k].standing = c->standing;
        rank[k].per_sheet = rate(rank[k].nats, c->sheets);
        rank[k].per_day = rate(rank[k].nats, c->days);
        rank[k].per_hour = rate(rank[k].nats, c->hours);
    }
    choose(&p, &ch, rank, &season);
    if (season.code) {
        if (err) *err = season;
        return season.code;
    }
    for (size_t k = 0; k < n; k++) {
        rank[k].why = why_of(&p, k, &rank[k], &ch, top[k], &season);
        if (!rank[k].why || foretell(&p, k, &rank[k])) return fail_memory(err);
    }
    if (make_order(&p, &ch, rank)) return fail_memory(err);
    out->sheets = ch.sheets;
    out->hours = ch.hours;
    out->days = ch.days;
    out->nats = joint(&p, ch.list, ch.n);
    qsort(rank, n, sizeof *rank, by_rank);
    out->ranked = (struct records){n, rank};
    if (ch.n == 0) out->say = "No candidate fits what is in hand and teaches enough.";
    return 0;
}
