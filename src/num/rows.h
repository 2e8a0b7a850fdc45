/* rows: the crowd of possible originals (DESIGN.md, "The ensemble, exactly").
 *
 * A table of n rows (draws) with named columns. A column is a *root* (it has a prior and may be
 * moved by evidence) or *derived* (a pure function of its row). Each row has one log-weight.
 * Columns are made when first asked for; asking again for the same name gives the same column.
 *
 *     struct num_rows *rows;
 *     num_rows_new(&rows, 0, seed, err);
 *     num_rows_root(rows, "shrink.bark.around", &prior, &s, err);
 *     num_rows_root(rows, "lath.3.now", &measured, &m, err);
 *     size_t from[] = {s, m};
 *     num_rows_derive(rows, "lath.3.fresh", from, 2, undo_shrinkage, &ctx, &fresh, err);
 *     num_rows_condition(rows, &evidence, &report, err);
 *     double p[] = {0.05, 0.5, 0.95}, q[3];
 *     num_rows_quantiles(rows, fresh, p, 3, q);
 *
 * Roots are filled by stratified permutation keyed by (seed, name) in the original order of rows
 * and then mapped through the ancestor index, so neither an added reading nor the order of asking
 * changes another column's numbers. The same bits on any number of threads.
 *
 * Discrete roots of up to NUM_VALUES (8) values ("rivals") get the same number of rows for each
 * value; their probability sits in the weight. Effective rows and resampling are reckoned within a
 * value (within a combination of values while each combination keeps 32 rows or more).
 *
 * Ownership: rows own their columns. `ctx` pointers are borrowed and must live as long as the rows
 * (or until num_rows_forget_functions). Column pointers stay valid until num_rows_free; their
 * contents change when evidence enters. One thread at a time may change a table; functions of a
 * row run on several threads at once and must be pure.
 */
#ifndef RELICT_NUM_ROWS_H
#define RELICT_NUM_ROWS_H

#include "base/arena.h"
#include "base/error.h"
#include "num/dist.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct num_rows;

enum { NUM_ROWS_N = 4096 };
#define NUM_NO_COLUMN ((size_t)-1)

/* ---- making --------------------------------------------------------------------------------- */

/* Makes an empty table of n rows (0: NUM_ROWS_N). Free with num_rows_free. */
int num_rows_new(struct num_rows **out, size_t n, uint64_t seed, struct error *err);
void num_rows_free(struct num_rows *rows);

/* A copy that can be conditioned on its own (a what-if, a hypothetical trial). Borrows the same
 * functions and contexts. */
int num_rows_copy(struct num_rows **out, const struct num_rows *rows, struct error *err);

size_t num_rows_count(const struct num_rows *rows);   /* rows */
size_t num_rows_columns(const struct num_rows *rows); /* columns so far */
uint64_t num_rows_seed(const struct num_rows *rows);

/* ---- columns -------------------------------------------------------------------------------- */

/* Makes (or finds) the root `id` with this prior. ERR_CONFLICT when it exists with another prior,
 * or as a derived column. */
int num_rows_root(struct num_rows *rows, const char *id, const struct num_dist *prior, size_t *col,
                  struct error *err);

/* A function of one row. `row` is indexed by column; only columns named in `from` hold values,
 * all others are NAN, so a dependence that was not declared shows at once. */
typedef double num_row_fn(const double *row, void *ctx);

/* Makes (or finds) the derived column `id` from the columns `from`, which must exist already. It is
 * worked out now and again whenever a root it rests on is moved. */
int num_rows_derive(struct num_rows *rows, const char *id, const size_t *from, size_t n_from,
                    num_row_fn *fn, void *ctx, size_t *col, struct error *err);

/* The same for several columns that come out of one computation: out[n_ids]. */
typedef void num_row_many_fn(const double *row, double *out, void *ctx);
int num_rows_derive_many(struct num_rows *rows, const char *const *ids, size_t n_ids,
                         const size_t *from, size_t n_from, num_row_many_fn *fn, void *ctx,
                         size_t *cols, struct error *err);

/* Adds a column of given numbers, value[n] in the present order of rows (results of simulator
 * runs, of an emulator). It is derived but cannot be worked out again: evidence that moves what it
 * rests on marks it stale (num_rows_stale) instead. Replaces values of the same id. */
int num_rows_put(struct num_rows *rows, const char *id, const size_t *from, size_t n_from,
                 const double *value, size_t *col, struct error *err);

/* Column by name, or NUM_NO_COLUMN; name of a column; prior of a root (NULL for derived). */
size_t num_rows_find(const struct num_rows *rows, const char *id);
const char *num_rows_id(const struct num_rows *rows, size_t col);
const struct num_dist *num_rows_prior(const struct num_rows *rows, size_t col);
bool num_rows_stale(const struct num_rows *rows, size_t col);

/* The columns a derived column was made from, directly: a borrowed list of *n. */
const size_t *num_rows_from(const struct num_rows *rows, size_t col, size_t *n);

/* Works out the numbers of a root as they would be before any evidence, in the original order of
 * rows: value[n]. The prior band beside the posterior one is read off this. */
int num_rows_prior_values(const struct num_rows *rows, size_t col, double *value,
                          struct error *err);

/* ---- reading -------------------------------------------------------------------------------- */

/* value[n], log_weight[n] (not normalised), ancestor[n] (which original row each row comes from).
 * Borrowed. */
const double *num_rows_values(const struct num_rows *rows, size_t col);
const double *num_rows_log_weights(const struct num_rows *rows);
const size_t *num_rows_ancestors(const struct num_rows *rows);

/* Gives the rows these weights (not all 0), for tables of draws that come from elsewhere. */
int num_rows_set_weights(struct num_rows *rows, const double *weight, struct error *err);

/* Normalised weights, weight[n], summing to one. */
void num_rows_weights(const struct num_rows *rows, double *weight);

/* Weighted quantiles q[n] at p[n] (num/weighted.h says which). NAN values are left out and their
 * weight with them; all NAN gives NAN. */
int num_rows_quantiles(const struct num_rows *rows, size_t col, const double *p, size_t n,
                       double *q);
double num_rows_quantile(const struct num_rows *rows, size_t col, double p);
double num_rows_mean(const struct num_rows *rows, size_t col);
double num_rows_sd(const struct num_rows *rows, size_t col);

/* Monte Carlo standard error of the mean, and of the p-quantile. */
double num_rows_mean_error(const struct num_rows *rows, size_t col);
double num_rows_quantile_error(const struct num_rows *rows, size_t col, double p);

/* Probability that the column is above a limit; that it equals a value (rivals, counts). */
double num_rows_above(const struct num_rows *rows, size_t col, double limit);
double num_rows_equal(const struct num_rows *rows, size_t col, double value);

/* Quantiles among the rows where column `rival` equals `value`: always shown split. */
int num_rows_quantiles_given(const struct num_rows *rows, size_t col, size_t rival, double value,
                             const double *p, size_t n, double *q);

/* Effective rows, reckoned within rivals: sum over combinations of (sum w)^2 / sum w^2. */
double num_rows_effective(const struct num_rows *rows);

/* Effective rows over the whole table, for Monte Carlo errors. */
double num_rows_effective_overall(const struct num_rows *rows);

/* Savage-Dickey ratio for the null value of a continuous root: posterior over prior density there,
 * both in scores, the posterior by a Gaussian kernel (Dickey, Ann. Math. Stat. 42, 1971, 204-223;
 * Silverman 1986, eq 3.31 for the width). Above 1 the evidence speaks for the null value. With
 * vague priors the null wins by construction: show it for half and double the prior width too. */
int num_rows_null_ratio(const struct num_rows *rows, size_t root, double null_value, double *ratio,
                        double *error, struct error *err);

/* ---- evidence ------------------------------------------------------------------------------- */

/* Tells how evidence went in. */
struct num_report {
    const char *id;      /* of the evidence; borrowed from the rows */
    bool held_out;       /* nothing was changed: a person chooses */
    bool surprising;     /* improbable as predicted, though some draw explains it */
    bool checked;        /* a check of the prediction was possible */
    bool exact;          /* by Matheron's rule */
    double p_predicted;  /* two-sided, of the reading furthest off, over all rows; NAN unchecked */
    double p_best;       /* the same for the row that comes nearest to it from the same side */
    size_t worst;        /* which reading that is */
    double limit;        /* 0.01 / number of readings */
    double log_evidence; /* ln of the density of the evidence under the rows before */
    double log_evidence_se; /* Monte Carlo standard error of it; 0 when exact */
    double effective;       /* effective rows afterwards */
    int stages;             /* 0: re-weighted or exact */
    double accepted;        /* share of moves accepted in the last stage, NAN without moves */
    size_t distinct;        /* different original rows still represented */
    bool thin;              /* effective rows under 0.3 n and nothing could be moved */
};

/* Evidence whose likelihood is any function of a row. */
struct num_evidence {
    const char *id;       /* names it; the random numbers are keyed by it */
    uint64_t key;         /* of its content (num_hash of it); the same id with another key is a
                             conflict, with the same key nothing new. 0: not checked */
    num_row_fn *log_like; /* ln of the density of the evidence in this row; may be -INFINITY */
    void *ctx;
    const size_t *reads; /* columns the likelihood reads: roots or derived */
    size_t n_reads;
    const size_t *moves; /* roots it may move: continuous, or integer with more than 8 values */
    size_t n_moves;
    size_t readings; /* how many readings are tested alongside: divides 0.01; 0 stands for 1 */

    /* For the check before weight is moved: for each of n_predict readings the probability, in this
     * row, that it would come out at or below what was read, as Phi((y - h(row)) / u). NULL: there
     * is no check, and the report says so. `row` as for the likelihood. */
    num_row_many_fn *predict;
    size_t n_predict;
    bool insist; /* a person has chosen to use it although it was held out */

    size_t sweeps;      /* moves a stage, 0: 8 */
    size_t last_sweeps; /* more at the end, 0: 16 */
};

/* Conditions the rows on the evidence: checks the prediction, then re-weights while effective rows
 * stay at 0.3 n or more, otherwise tempers, resamples whole rows and moves the named roots
 * (differential-evolution and Gaussian steps in scores), then works out again what is derived.
 * Earlier evidence on the moved roots stays in force. Evidence already in (same id and key) is not
 * used twice: its report is given again. */
int num_rows_condition(struct num_rows *rows, const struct num_evidence *evidence,
                       struct num_report *report, struct error *err);

/* Evidence y = H x + e, e ~ N(0, R), on roots whose priors are normal, or lognormal: then x is the
 * natural logarithm of the column. */
struct num_gaussian {
    const char *id;
    uint64_t key;
    size_t n_y, n_x;
    const size_t *roots;    /* [n_x] */
    const double *h;        /* [n_y][n_x] row-major */
    const double *y;        /* [n_y] */
    const double *variance; /* [n_y] of e; or NULL and */
    const double *r;        /* [n_y][n_y] covariance of e */
    size_t readings;        /* as in num_evidence */
    bool insist;
    /* Readings that contradict the prediction are held out one by one: out[n_y], may be NULL. */
    bool *held;
};

/* Conditions exactly, row by row: x <- x + K (y - H x - e*), K = P H' (H P H' + R)^-1, e* a draw of
 * e (Matheron's rule; Journel & Huijbregts 1978, Mining Geostatistics, VII.A.1; Doucet 2010). When
 * one of the roots has been moved by other evidence, the same evidence goes through
 * num_rows_condition with these roots movable, and report->exact is false. */
int num_rows_condition_gaussian(struct num_rows *rows, const struct num_gaussian *evidence,
                                struct num_report *report, struct error *err);

/* Reports so far, in order of entry; NULL past the last. */
const struct num_report *num_rows_report(const struct num_rows *rows, size_t i);

/* ---- keeping -------------------------------------------------------------------------------- */

/* The table as bytes (little-endian, in the arena) for the file beside the project, and back.
 * Functions are not kept: derived columns come back with their numbers; num_rows_derive with the
 * same id and num_rows_condition with the same id and key join the function to them again. Moving
 * a root whose earlier evidence has not been joined again is refused. A damaged or foreign text
 * gives ERR_DAMAGED. */
int num_rows_save(const struct num_rows *rows, char **bytes, size_t *size, struct arena *arena,
                  struct error *err);
int num_rows_load(struct num_rows **out, const char *bytes, size_t size, struct error *err);

/* Lets go of all borrowed contexts (numbers stay). */
void num_rows_forget_functions(struct num_rows *rows);

#endif
