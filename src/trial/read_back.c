#include "trial/read_back.h"

#include "gather/describe.h"
#include "num/mixed.h"
#include "trial/expect.h"
#include "trial/trial_words.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Used when nobody has said better; guesses, and told as such in the answer. */
static const double tree_guess = 0.15, noise_guess = 0.05, ancient_guess = 0.10; /* of the mean */

static const struct field piece_fields[] = {
    F_REFERS(piece_outcome, piece, "Piece", "trial_piece", "Which."),
    F_TEXT(piece_outcome, tree, "Tree", "It came from."),
    F_OUT(piece_outcome, value, "Value", "", "Unit of the trial."),
    F_OUT(piece_outcome, day, "Day", "days", "Of the reading."),
    F_FLAG(piece_outcome, failed, "Failed", "It cracked, tore or came apart."),
};
static const struct kind piece_outcome_kind = {
    "piece_outcome", "What a piece gave", sizeof(struct piece_outcome), FIELDS(piece_fields), ""};
static const struct field day_fields[] = {
    F_OUT(day_mean, day, "Day", "days", "Since day 0."),
    F_OUT(day_mean, mean, "Mean", "", "Over the pieces."),
    F_OUT(day_mean, low, "Least", "", "Of a piece."),
    F_OUT(day_mean, high, "Most", "", "Of a piece."),
    F_COUNT(day_mean, pieces, "Pieces", 100000, "Read that day."),
};
static const struct kind day_mean_kind = {"day_mean", "The outcome on a day",
                                          sizeof(struct day_mean), FIELDS(day_fields), ""};
static const struct field drying_fields[] = {
    F_OUT(drying, half_days, "Half time", "days", "Until half the water that went is gone."),
    F_OUT(drying, power, "Exponent", "", "Page's; 1 is a plain exponential."),
    F_OUT(drying, tree_share, "Between trees", "",
          "Standard deviation of the logarithm of the rate."),
    F_OUT(drying, misfit, "Misfit", "", "Of the moisture ratio."),
    F_COUNT(drying, pieces, "Pieces", 100000, "Fitted."),
    F_COUNT(drying, trees, "Trees", 100000, "They came from."),
};
static const struct kind drying_kind = {"drying", "How it dried", sizeof(struct drying),
                                        FIELDS(drying_fields), ""};

static const struct field answer_fields[] = {
    F_REFERS(trial_answer, id, "Trial", "trial", "Which."),
    F_TEXT(trial_answer, question, "Question", "What it was to answer."),
    F_TEXT(trial_answer, foretold, "Foretold", "Whether the prediction counts."),
    F_TEXT(trial_answer, verdict, "Verdict", "Supports, does not support, cannot tell yet."),
    F_TEXT(trial_answer, unit, "Unit", "Of the numbers."),
    F_OUT(trial_answer, predicted, "Prediction", "", "Middle."),
    F_OUT(trial_answer, half, "Plus or minus", "", "Half-width."),
    F_OUT(trial_answer, mean, "Mean", "", "Of the means of the trees."),
    F_OUT(trial_answer, low, "From", "", "95 %, Student on the trees."),
    F_OUT(trial_answer, high, "To", "", "95 %."),
    F_OUT(trial_answer, half_width, "Half-width", "", "Of that interval."),
    F_OUT(trial_answer, pooled_low, "Pooled from", "", "If strips were repeats: not used."),
    F_OUT(trial_answer, pooled_high, "Pooled to", "", "If strips were repeats: not used."),
    F_COUNT(trial_answer, trees, "Trees", 100000, "The interval rests on."),
    F_COUNT(trial_answer, strips, "Strips", 100000, "Measured."),
    F_COUNT(trial_answer, failed, "Failed", 100000, "Pieces."),
    F_COUNT(trial_answer, missing, "Without outcome", 100000, "Pieces."),
    F_OUT(trial_answer, between, "Between trees", "", "Standard deviation."),
    F_OUT(trial_answer, within, "Within a tree", "", "Standard deviation."),
    F_OUT(trial_answer, reading_sd, "Error it went in with", "", "Standard deviation."),
    F_LIST(trial_answer, pieces, "Pieces", piece_outcome_kind, "One by one."),
    F_LIST(trial_answer, series, "In time", day_mean_kind, "Day by day."),
    {AT(trial_answer, drying), .label = "Drying", .type = FIELD_RECORD, .sub = &drying_kind,
     .help = "Fitted."},
    {AT(trial_answer, went_in), .label = "Went in", .type = FIELD_INT,
     .help = "1: the possible originals took it; 0 not; -1 held out, a person chooses."},
    F_OUT(trial_answer, log_evidence, "Log evidence", "nats",
          "Of the reading under what was thought before."),
    F_TEXT(trial_answer, say, "In words", "Whole sentences."),
    F_TEXT(trial_answer, more, "Besides", "Of them what follows the verdict."),
};
const struct kind trial_answer_kind = {"trial_answer", "What a trial said",
                                       sizeof(struct trial_answer), FIELDS(answer_fields), ""};
static const struct field change_fields[] = {
    F_REFERS(trial_change, trial, "Trial", "trial", "Which trial."),
    F_TEXT(trial_change, column, "Statement", "Column it is about."),
    F_OUT(trial_change, before05, "Before, from", "", "5 %."),
    F_OUT(trial_change, before50, "Before, middle", "", "Median."),
    F_OUT(trial_change, before95, "Before, to", "", "95 %."),
    F_OUT(trial_change, after05, "After, from", "", "5 %."),
    F_OUT(trial_change, after50, "After, middle", "", "Median."),
    F_OUT(trial_change, after95, "After, to", "", "95 %."),
    F_OUT_SHARE(trial_change, left, "Range left", "Width after over width before."),
};
const struct kind trial_change_kind = {"trial_change", "What a trial changed",
                                       sizeof(struct trial_change), FIELDS(change_fields), ""};

/* ---- outcomes ----------------------------------------------------------------------------------
 */

struct gathered {
    size_t n;
    double *value; /* [n] inside units */
    long *tree; /* [n] number of the tree; pieces without one count each as a tree of its own? no:
                   as one */
    double *tree_number; /* the same as real numbers, for num_one_way */
};

static long tree_number(const struct trial_log *book, const char *tree) {
    for (size_t i = 0; i < book->n_pieces; i++)
        if (book->pieces[i].tree && tree && strcmp(book->pieces[i].tree, tree) == 0)
            return (long)i + 1;
    return 0; /* nobody knows which tree: all of these count as one, the careful way */
}

static int gather_outcomes(struct gathered *g, struct trial_answer *a, const struct trial *t,
                           const struct trial_log *book, struct arena *arena) {
    g->value = ARENA_NEW(arena, double, book->n_pieces);
    g->tree = ARENA_NEW(arena, long, book->n_pieces);
    g->tree_number = ARENA_NEW(arena, double, book->n_pieces);
    struct piece_outcome *p = ARENA_NEW(arena, struct piece_outcome, book->n_pieces);
    if (!g->value || !g->tree || !g->tree_number || !p) return ERR_MEMORY;
    double scale = trial_outcome_scale((enum outcome)t->outcome);
    a->pieces = (struct records){0, p};
    for (size_t i = 0; i < book->n_pieces; i++) {
        const struct trial_piece *piece = &book->pieces[i];
        if (strcmp(piece->trial, t->id) != 0) continue;
        double day, v = trial_outcome(t, piece, book, &day);
        /* what a person typed in the unit of the prediction comes inside here */
        if (t->outcome == OUTCOME_VALUE) v *= scale;
        a->failed += piece->failed == 1;
        p[a->pieces.n++] =
            (struct piece_outcome){piece->id, piece->tree, v / scale, day, piece->failed};
        if (isnan(v)) {
            a->missing++;
            continue;
        }
        g->value[g->n] = v;
        g->tree[g->n] = tree_number(book, piece->tree);
        g->tree_number[g->n] = (double)g->tree[g->n];
        g->n++;
    }
    return 0;
}

static int by_number(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* The outcome day by day: on each day that has readings, over the pieces read that day. */
static int make_series(struct trial_answer *a, const struct trial *t, const struct trial_log *book,
                       struct arena *arena) {
    double *day = ARENA_NEW(arena, double, book->n_readings);
    struct day_mean *m = ARENA_NEW(arena, struct day_mean, book->n_readings);
    if (!day || !m) return ERR_MEMORY;
    size_t n = 0;
    double scale = trial_outcome_scale((enum outcome)t->outcome);
    a->series = (struct records){0, m};
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < book->n_readings; i++) {
            const struct trial_reading *r = &book->readings[i];
            for (size_t k = 0; k < book->n_pieces; k++) {
                struct trial_piece p = book->pieces[k];
                if (strcmp(p.id, r->piece) != 0 || strcmp(p.trial, t->id) != 0) continue;
                if (!p.made_on) p.made_on = t->made_on;
                double d = trial_reading_day(r, &p), unused;
                struct trial_log one = {
                    book->trials, book->n_trials, book->pieces, book->n_pieces, r, 1};
                struct trial any = *t;
                any.settle_day = NAN;
                double v = trial_outcome(&any, &p, &one, &unused) / scale;
                if (t->outcome == OUTCOME_FAILED || isnan(d) || isnan(v)) continue;
                if (pass == 0) {
                    day[n++] = d;
                    continue;
                }
                for (size_t s = 0; s < a->series.n; s++) {
                    if (m[s].day != d) continue;
                    m[s].mean += v;
                    m[s].low = fmin(m[s].low, v);
                    m[s].high = fmax(m[s].high, v);
                    m[s].pieces++;
                }
            }
        }
        if (pass) break;
        qsort(day, n, sizeof *day, by_number);
        for (size_t i = 0; i < n; i++)
            if (i == 0 || day[i] != day[i - 1])
                m[a->series.n++] = (struct day_mean){day[i], 0, INFINITY, -INFINITY, 0};
    }
    for (size_t s = 0; s < a->series.n; s++)
        m[s].mean /= (double)m[s].pieces;
    return 0;
}

/* ---- drying ------------------------------------------------------------------------------------
 */

/* Page's curve with the tree as a random number: MR = exp(-exp(a + v) t^p), t in days; MR =
 * (w - w_last)/(w_0 - w_last). Page 1949 (Purdue thesis); mixed fit: num/mixed.h. */
static int fit_drying(struct trial_answer *a, const struct trial *t, const struct trial_log *book,
                      struct arena *arena) {
    a->drying = (struct drying){NAN, NAN, NAN, NAN, 0, 0};
    double *x = ARENA_NEW(arena, double, book->n_readings),
           *y = ARENA_NEW(arena, double, book->n_readings);
    double *thing = ARENA_NEW(arena, double, book->n_readings);
    if (!x || !y || !thing) return ERR_MEMORY;
    size_t n = 0;
    for (size_t k = 0; k < book->n_pieces; k++) {
        struct trial_piece p = book->pieces[k];
        if (strcmp(p.trial, t->id) != 0 || !(p.mass > 0)) continue;
        if (!p.made_on) p.made_on = t->made_on;
        double last = NAN, last_day = -1;
        size_t begin = n;
        for (size_t i = 0; i < book->n_readings; i++) {
            const struct trial_reading *r = &book->readings[i];
            double d = strcmp(r->piece, p.id) == 0 ? trial_reading_day(r, &p) : NAN;
            if (isnan(d) || isnan(r->mass) || d <= 0) continue;
            x[n] = d;
            y[n] = r->mass;
            thing[n++] = (double)tree_number(book, p.tree);
            if (d > last_day) {
                last_day = d;
                last = r->mass;
            }
        }
        size_t kept = begin;
        for (size_t i = begin; i < n;
             i++) { /* the last reading is the rest: it is 0 by definition */
            if (x[i] == last_day || !(p.mass > last)) continue;
            x[kept] = x[i];
            thing[kept] = thing[i];
            y[kept++] = (y[i] - last) / (p.mass - last);
        }
        a->drying.pieces += kept > begin;
        n = kept;
    }
    static const char *const names[] = {"a", "p", "v", "t"};
    struct num_formula *f;
    struct num_mixed_fit fit;
    struct error ignored = {0};
    double start[] = {log(0.2), 1};
    if (n < 6 || a->drying.pieces < 2 ||
        num_formula_read(&f, "exp(-exp(a + v) * t^p)", names, 4, arena, &ignored))
        return 0;
    struct num_mixed_curve c = {
        .f = f, .p = 2, .k = 1, .n = n, .x = x, .y = y, .thing = thing, .start = start};
    if (num_mixed_fit(&fit, &c, arena, &ignored))
        return ignored.code == ERR_MEMORY ? ERR_MEMORY : 0;
    a->drying.power = fit.b[1];
    a->drying.half_days = pow(log(2) / exp(fit.b[0]), 1 / fit.b[1]);
    a->drying.tree_share = fit.sd_v;
    a->drying.misfit = fit.sd_residual;
    a->drying.trees = (long)fit.things;
    return 0;
}

/* ---- evidence ----------------------------------------------------------------------------------
 */

struct reading {
    size_t column;
    double value, sd; /* inside units */
    double k, n;      /* of a share: k of n failed */
    bool share;
};

/* Normal reading of the mean; binomial for a share. */
static double reading_log_like(const double *row, void *ctx) {
    const struct reading *r = ctx;
    double h = row[r->column];
    if (r->share) {
        double p = fmin(1 - 1e-9, fmax(1e-9, h));
        return r->k * log(p) + (r->n - r->k) * log1p(-p);
    }
    double z = (r->value - h) / r->sd;
    return -0.5 * z * z - log(r->sd * sqrt(2 * M_PI));
}

static void reading_predict(const double *row, double *out, void *ctx) {
    const struct reading *r = ctx;
    double h = row[r->column];
    if (r->share) { /* mid-P, so that both tails are alike */
        double p = fmin(1 - 1e-9, fmax(1e-9, h));
        unsigned n = (unsigned)r->n, k = (unsigned)r->k;
        out[0] = gsl_cdf_binomial_P(k, p, n) -
                 0.5 * exp(lgamma(r->n + 1) - lgamma(r->k + 1) - lgamma(r->n - r->k + 1) +
                           r->k * log(p) + (r->n - r->k) * log1p(-p));
        return;
    }
    out[0] = 0.5 * erfc(-(r->value - h) / (r->sd * sqrt(2)));
}

/* Roots a column rests on, itself when it is one; no more than `most`. */
static size_t roots_under(size_t *root, size_t n, size_t most, const struct num_rows *rows,
                          size_t column) {
    if (num_rows_prior(rows, column)) {
        for (size_t i = 0; i < n; i++)
            if (root[i] == column) return n;
        if (n < most) root[n++] = column;
        return n;
    }
    size_t from_n;
    const size_t *from = num_rows_from(rows, column, &from_n);
    for (size_t i = 0; i < from_n; i++)
        n = roots_under(root, n, most, rows, from[i]);
    return n;
}

/* Roots that are properties of the material by their name, where a trial names none itself. */
static bool is_material(const char *id) {
    static const char *const begins[] = {"dry_factor.", "bark.", "lath.",
                                         "wood.",       "hide.", "bast."};
    for (size_t i = 0; i < sizeof begins / sizeof begins[0]; i++)
        if (strncmp(id, begins[i], strlen(begins[i])) == 0) return true;
    return false;
}

static bool is_listed(const struct texts *list, const char *id) {
    for (size_t i = 0; i < list->n; i++)
        if (strcmp(list->v[i], id) == 0) return true;
    return false;
}

static bool may_move(const struct trial *t, const char *id) {
    if (is_listed(&t->material, id)) return true;
    if (t->trace && *t->trace && is_listed(&t->history, id)) return true;
    return t->material.n == 0 && is_material(id);
}

/* Columns the trial may move: its material roots, and history only through a trace. */
static size_t movable(size_t *moves, size_t most, const struct trial *t,
                      const struct num_rows *rows) {
    size_t n = 0;
    const struct texts *lists[] = {&t->material, &t->history};
    for (int l = 0; l < 2; l++) {
        if (l == 1 && !(t->trace && *t->trace)) break;
        for (size_t i = 0; i < lists[l]->n && n < most; i++) {
            size_t c = num_rows_find(rows, lists[l]->v[i]);
            if (c != NUM_NO_COLUMN && num_rows_prior(rows, c)) moves[n++] = c;
        }
    }
    return n;
}

/* The first root under the trial's column that it must not move; NULL: there is none. Weights act
 * on whole rows: evidence on a number that also rests on history would move that history. */
static const char *must_stay(const struct trial *t, const struct num_rows *rows, size_t column) {
    enum { MOST = 64 };
    size_t root[MOST], n = roots_under(root, 0, MOST, rows, column);
    for (size_t i = 0; i < n; i++)
        if (!may_move(t, num_rows_id(rows, root[i]))) return num_rows_id(rows, root[i]);
    return NULL;
}

enum { MOST_MOVES = 32 };

static int put_in(struct trial_answer *a, const struct trial *t, struct reading *r,
                  struct num_rows *rows, bool insist, struct arena *arena, struct error *err) {
    size_t *moves = ARENA_NEW(arena, size_t, MOST_MOVES), *reads = ARENA_NEW(arena, size_t, 1);
    char *id = arena_printf(arena, "trial.%s", t->id);
    char *content =
        arena_printf(arena, "%.15g|%.15g|%g|%g|%s", r->value, r->sd, r->k, r->n, t->column);
    if (!moves || !reads || !id || !content) return fail_memory(err);
    reads[0] = r->column;
    size_t n = movable(moves, MOST_MOVES, t, rows);
    if (t->material.n == 0) n = roots_under(moves, n, MOST_MOVES, rows, r->column);
    struct num_evidence e = {.id = id,
                             .key = num_hash(content),
                             .log_like = reading_log_like,
                             .ctx = r,
                             .reads = reads,
                             .n_reads = 1,
                             .moves = moves,
                             .n_moves = n,
                             .readings = 1,
                             .predict = reading_predict,
                             .n_predict = 1,
                             .insist = insist};
    struct num_report report;
    int rc = num_rows_condition(rows, &e, &report, err);
    if (rc) return rc;
    a->went_in = report.held_out ? -1 : 1;
    a->log_evidence = report.log_evidence;
    return 0;
}

/* ---- one trial ---------------------------------------------------------------------------------
 */

static int spreads(struct trial_answer *a, const struct gathered *g, double scale,
                   struct arena *arena) {
    a->between = a->within = NAN;
    if (a->trees < 2 || (long)g->n <= a->trees) return 0;
    struct num_one_way fit;
    struct error ignored = {0};
    if (num_one_way(&fit, g->value, g->tree_number, g->n, arena, &ignored))
        return ignored.code == ERR_MEMORY ? ERR_MEMORY : 0;
    a->between = fit.sd_between / scale;
    a->within = fit.sd_within / scale;
    return 0;
}

/* Error with which the mean goes in. What nobody entered is taken from the strips, else guessed. */
static double reading_error(struct trial_answer *a, const struct trial *t, double spread,
                            const char **guessed) {
    double mean = fabs(a->mean), strips = (double)a->strips / (double)a->trees;
    double noise = t->noise >= 0 ? t->noise : a->within >= 0 ? a->within : noise_guess * mean;
    double tree = t->tree_spread >= 0 ? t->tree_spread : a->trees >= 3 ? spread : tree_guess * mean;
    double ancient = t->modern_ancient >= 0 ? t->modern_ancient : ancient_guess * mean;
    bool guess = !(t->modern_ancient >= 0) || (!(t->tree_spread >= 0) && a->trees < 3) ||
                 (!(t->noise >= 0) && !(a->within >= 0));
    *guessed = guess ? " Part of its error is a guess: enter the spread between trees and from "
                       "modern to ancient."
                     : "";
    return trial_reading_sd(noise, tree, ancient, (double)a->trees, strips);
}

static int judge(struct trial_answer *a, const struct trial *t, const struct gathered *g,
                 struct trial_interval *i, struct error *err) {
    double scale = trial_outcome_scale((enum outcome)t->outcome);
    int rc;
    if (t->outcome == OUTCOME_FAILED) {
        double k = 0;
        for (size_t m = 0; m < g->n; m++)
            k += g->value[m];
        rc = trial_interval_share(i, lround(k), (long)g->n, err);
    } else
        rc = trial_interval_mean(i, g->value, g->tree, g->n, err);
    if (rc) return rc;
    a->mean = i->mean / scale;
    a->trees = (long)i->trees;
    a->strips = (long)i->strips;
    a->low = isfinite(i->low) ? i->low / scale : NAN;
    a->high = isfinite(i->high) ? i->high / scale : NAN;
    a->half_width = isfinite(i->half_width) ? i->half_width / scale : NAN;
    a->pooled_low = isfinite(i->pooled_low) ? i->pooled_low / scale : NAN;
    a->pooled_high = isfinite(i->pooled_high) ? i->pooled_high / scale : NAN;
    if (!isnan(t->predicted) && t->half > 0)
        a->verdict = verdict_words[trial_verdict(i, t->predicted * scale, t->half * scale)];
    return 0;
}

/* Whole sentences to follow the verdict, each with a space before it. */
static char *sentences(const struct trial_answer *a, const struct trial *t, enum foretold f,
                       const char *guessed, struct arena *arena) {
    const char *word = f == FORETOLD ? ""
                       : f == FORETOLD_NOT
                           ? " Nothing was foretold: the verdict is only a comparison."
                       : f == FORETOLD_LATE ? " It was made before it was asked."
                                            : " The prediction no longer fits its seal.";
    const char *means = !a->verdict                                  ? NULL
                        : strcmp(a->verdict, "supports") == 0        ? t->if_supports
                        : strcmp(a->verdict, "cannot tell yet") == 0 ? t->if_open
                                                                     : t->if_against;
    const char *few = t->outcome == OUTCOME_FAILED ? ""
                      : a->trees < 2 ? " Strips of one tree are not repeats: more trees are needed."
                      : a->trees < a->strips
                          ? " Strips of one tree are not repeats: the interval rests on the trees."
                          : "";
    const char *held = a->went_in == -1 ? " It contradicts what was thought: it is held out, both "
                                          "are kept, and a person chooses."
                                        : "";
    const char *history = t->history.n && !(t->trace && *t->trace)
                              ? " It moves no history: it leaves no trace to compare with the find."
                              : "";
    return arena_printf(arena, "%s%s%s%s%s%s%s", few, word, means ? " " : "", means ? means : "",
                        held, a->went_in == 1 ? guessed : "", history);
}

static int answer(struct trial_answer *a, const struct trial *t, const struct trial_log *book,
                  struct num_rows *rows, const struct read_back_options *o, struct arena *arena,
                  struct error *err) {
    double scale = trial_outcome_scale((enum outcome)t->outcome);
    enum foretold f = trial_foretold(t);
    *a = (struct trial_answer){.id = t->id,
                               .question = t->question,
                               .foretold = foretold_words[f],
                               .unit = trial_unit(t->outcome, t->unit),
                               .predicted = t->predicted,
                               .half = t->half,
                               .mean = NAN,
                               .low = NAN,
                               .high = NAN,
                               .half_width = NAN,
                               .pooled_low = NAN,
                               .pooled_high = NAN,
                               .between = NAN,
                               .within = NAN,
                               .reading_sd = NAN,
                               .log_evidence = NAN};
    struct gathered g = {0};
    if (gather_outcomes(&g, a, t, book, arena) || make_series(a, t, book, arena) ||
        fit_drying(a, t, book, arena))
        return fail_memory(err);
    if (g.n == 0) {
        a->say = "Nothing has been read off its pieces yet.";
        return 0;
    }
    struct trial_interval i;
    int rc = judge(a, t, &g, &i, err);
    if (rc) return rc;
    if (t->outcome != OUTCOME_FAILED && spreads(a, &g, scale, arena)) return fail_memory(err);
    const char *guessed = "";
    a->reading_sd =
        t->outcome == OUTCOME_FAILED ? NAN : reading_error(a, t, i.spread / scale, &guessed);
    size_t column = rows && t->column ? num_rows_find(rows, t->column) : NUM_NO_COLUMN;
    const char *stays = column != NUM_NO_COLUMN ? must_stay(t, rows, column) : NULL;
    if (column != NUM_NO_COLUMN && !stays) {
        struct reading *r = ARENA_NEW(arena, struct reading, 1);
        if (!r) return fail_memory(err);
        *r = (struct reading){column, i.mean, a->reading_sd * scale,
                              0,      0,      t->outcome == OUTCOME_FAILED};
        if (r->share) {
            r->k = round(i.mean * (double)g.n);
            r->n = (double)g.n;
        }
        rc = put_in(a, t, r, rows, o->insist, arena, err);
        if (rc) return rc;
    }
    char *more = sentences(a, t, f, guessed, arena);
    const char *words = stays ? trial_column_words(stays, arena) : "";
    if (more && words && stays)
        more = arena_printf(arena,
                            "%s The possible originals did not take it: what it measures also "
                            "rests on %s, which is history. Name that as history together with "
                            "the trace on the find that it compares with.",
                            more, words);
    if (!more || !words) return fail_memory(err);
    a->more = more + (*more == ' ');
    a->say = arena_printf(arena, "%s.%s",
                          a->verdict ? a->verdict : "there is no prediction to compare with", more);
    return a->say ? 0 : fail_memory(err);
}

/* ---- what moved --------------------------------------------------------------------------------
 */

struct watched {
    size_t column;
    double q[3];
};

static int look(struct watched *w, size_t n, const struct num_rows *rows) {
    static const double p[] = {0.05, 0.5, 0.95};
    for (size_t i = 0; i < n; i++)
        if (w[i].column != NUM_NO_COLUMN && num_rows_quantiles(rows, w[i].column, p, 3, w[i].q))
            return ERR_MEMORY;
    return 0;
}

/* Whether two columns share a root. */
static bool share_a_root(const struct num_rows *rows, const size_t *root, size_t n, size_t column) {
    enum { MOST = 64 };
    size_t other[MOST], m = roots_under(other, 0, MOST, rows, column);
    for (size_t i = 0; i < m; i++)
        for (size_t k = 0; k < n; k++)
            if (other[i] == root[k]) return true;
    return false;
}

bool trial_may_move(const struct trial *trials, size_t n, const struct num_rows *rows,
                    size_t column) {
    enum { MOST = 64 };
    for (size_t i = 0; i < n; i++) {
        size_t own = trials[i].column ? num_rows_find(rows, trials[i].column) : NUM_NO_COLUMN;
        if (own == NUM_NO_COLUMN) continue;
        size_t root[MOST], m = roots_under(root, 0, MOST, rows, own);
        if (share_a_root(rows, root, m, column)) return true;
    }
    return false;
}

static int list_changes(struct trial_answers *out, const struct trial *t, struct watched *w,
                        const struct read_back_options *o, const struct num_rows *rows,
                        size_t most) {
    enum { MOST = 64 };
    struct trial_change *c = out->changes.v;
    size_t root[MOST], n = roots_under(root, 0, MOST, rows, num_rows_find(rows, t->column));
    for (size_t i = 0; i < o->n_watch; i++) {
        if (w[i].column == NUM_NO_COLUMN || out->changes.n == most) continue;
        if (!share_a_root(rows, root, n, w[i].column)) continue;
        struct watched now = w[i];
        if (num_rows_stale(rows, w[i].column)) { /* it has to be run again: told once, apart */
            out->stale.v[out->stale.n++] = o->watch[i];
            w[i].column = NUM_NO_COLUMN;
            continue;
        }
        if (look(&now, 1, rows)) return ERR_MEMORY;
        double width = w[i].q[2] - w[i].q[0], after = now.q[2] - now.q[0];
        /* three times the Monte Carlo error of the ends: less is no change */
        double noise = 3 * hypot(num_rows_quantile_error(rows, w[i].column, 0.05),
                                 num_rows_quantile_error(rows, w[i].column, 0.95));
        if (fmax(fabs(after - width), fabs(now.q[1] - w[i].q[1])) <= noise) continue;
        c[out->changes.n++] =
            (struct trial_change){t->id,     o->watch[i], w[i].q[0],
                                  w[i].q[1], w[i].q[2],   now.q[0],
                                  now.q[1],  now.q[2],    width > 0 ? after / width : NAN};
        w[i] = now;
    }
    return 0;
}

/* The 5 % to 95 % range of what came out: Student's t with a tree each (Student 1908); of a share
 * the limits of Clopper & Pearson 1934, Biometrika 26, 404. */
static void range_of(struct spread *out, const struct trial_answer *a, const struct trial *t) {
    out->p50 = out->mean = a->mean;
    double n = (double)a->strips, k = n * a->mean / 100, df = (double)a->trees - 1;
    if (t->outcome == OUTCOME_FAILED && n > 0) {
        out->p05 = k > 0.5 ? 100 * gsl_cdf_beta_Pinv(0.05, k, n - k + 1) : 0;
        out->p95 = k < n - 0.5 ? 100 * gsl_cdf_beta_Pinv(0.95, k + 1, n - k) : 100;
    } else if (df >= 1 && isfinite(a->low) && isfinite(a->high)) {
        double half = (a->high - a->low) / 2 * gsl_cdf_tdist_Pinv(0.95, df) /
                      gsl_cdf_tdist_Pinv(0.975, df); /* low and high are its 95 % limits */
        out->p05 = a->mean - half;
        out->p95 = a->mean + half;
    }
}

/* A verdict as a whole sentence. */
static const char *verdict_sentence(const char *verdict) {
    return !verdict                              ? "Not judged"
           : !strcmp(verdict, "supports")        ? "The trial supports what was foretold"
           : !strcmp(verdict, "cannot tell yet") ? "The trial cannot tell yet"
                                                 : "The trial does not support what was foretold";
}

static int state_it(struct statement_set *said, const struct trial_answer *a, const struct trial *t,
                    struct arena *arena, struct error *err) {
    struct statement s = statement_blank();
    s.id = arena_printf(arena, "trial.%s", t->id);
    s.step = "trials";
    s.about = t->made ? t->made : "trial";
    s.quantity = outcome_words[t->outcome];
    s.sentence = arena_printf(arena, "%s %s. It came out at this.", t->question,
                              verdict_sentence(a->verdict));
    s.unit = a->unit;
    s.footing = FOOTING_WORKED_OUT;
    s.standing = STANDING_MEASURED;
    s.value = spread_unknown();
    range_of(&s.value, a, t);
    bool share = t->outcome == OUTCOME_FAILED;
    s.rule = share ? "share of the pieces that failed, with its exact limits"
                   : "mean of the means of the trees, with Student's t; strips of one tree are not "
                     "repeats";
    s.source =
        share ? "Clopper & Pearson 1934, Biometrika 26, 404" : "Student 1908, Biometrika 6, 1";
    /* the verdict stands in the sentence */
    s.caution = !a->verdict ? a->say : a->more && *a->more ? a->more : NULL;
    if (!s.id || !s.sentence) return fail_memory(err);
    int rc = statement_link_add(&s, "trial", t->id, "trial", arena, err);
    const struct piece_outcome *p = a->pieces.v;
    for (size_t i = 0; i < a->pieces.n && !rc; i++)
        rc = statement_link_add(&s, "trial_piece", p[i].piece, "reading", arena, err);
    return rc ? rc : statement_add(said, &s, err);
}

int trial_read_back(struct trial_answers *out, const struct trial_log *book, struct num_rows *rows,
                    struct statement_set *said, const struct read_back_options *options,
                    struct arena *arena, struct error *err) {
    *out = (struct trial_answers){0};
    size_t most = book->n_trials * options->n_watch;
    struct trial_answer *a = ARENA_NEW(arena, struct trial_answer, book->n_trials);
    struct watched *w = ARENA_NEW(arena, struct watched, options->n_watch);
    out->changes.v = ARENA_NEW(arena, struct trial_change, most);
    out->stale.v = ARENA_NEW(arena, const char *, options->n_watch);
    if (!a || !w || !out->changes.v || !out->stale.v) return fail_memory(err);
    out->answers = (struct records){0, a};
    for (size_t i = 0; rows && i < options->n_watch; i++)
        w[i].column = num_rows_find(rows, options->watch[i]);
    if (rows && look(w, options->n_watch, rows)) return fail_memory(err);
    for (size_t i = 0; i < book->n_trials; i++) {
        const struct trial *t = &book->trials[i];
        int rc = answer(&a[i], t, book, rows, options, arena, err);
        if (rc) return rc;
        out->answers.n++;
        if (rows && a[i].went_in == 1 && list_changes(out, t, w, options, rows, most))
            return fail_memory(err);
        if (said && a[i].strips && (rc = state_it(said, &a[i], t, arena, err))) return rc;
    }
    return 0;
}
