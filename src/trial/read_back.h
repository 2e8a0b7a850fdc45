/* read_back: what the trials said, and what that changes.
 *
 * For each trial: was it foretold, what did its pieces give (strips of one tree are not repeats),
 * what does that say of the prediction, how did it dry, how did it curl. Then the outcome goes into
 * the possible originals as evidence about **material** roots, its error widened for the spread
 * between trees and between modern and ancient material; roots of **history** move only when the
 * trial leaves a trace that can be compared with the find: that it can be made so does not say that
 * it was. What moved is listed. To see the statements without the trials, read back into a copy of
 * the rows. Pure; memory from the arena.
 */
#ifndef RELICT_TRIAL_READ_BACK_H
#define RELICT_TRIAL_READ_BACK_H

#include "num/rows.h"
#include "statement/statement.h"
#include "trial/trial.h"
#include "trial/verdict.h"

/* A piece's outcome, edge unit. */
struct piece_outcome {
    const char *piece, *tree;
    double value, day;
    int failed;
};

/* Mean of what was read on a day, edge unit: the outcome in time. */
struct day_mean {
    double day, mean, low, high; /* range over the pieces */
    long pieces;
};

struct drying {
    double half_days;  /* until half the water that went is gone, a middling tree */
    double power;      /* Page's exponent: 1 is a plain exponential */
    double tree_share; /* standard deviation of ln(rate) between trees */
    double misfit;     /* of the moisture ratio */
    long pieces, trees;
};

struct trial_answer {
    const char *id, *question;
    const char *foretold; /* word of enum foretold */
    const char *verdict;  /* word of enum verdict; NULL when there is nothing to judge */
    const char *unit;
    double predicted, half; /* edge unit */
    double mean, low, high; /* edge unit; low, high NAN from a single tree */
    double half_width, pooled_low, pooled_high;
    long trees, strips, failed, missing; /* missing: pieces without an outcome */
    double between, within; /* standard deviation between trees and between strips, edge unit */
    double reading_sd;      /* with which it went in, edge unit */
    struct records pieces, series; /* struct piece_outcome, struct day_mean */
    struct drying drying;
    long went_in; /* 1: the possible originals took it; 0: not; -1: held out, a person chooses */
    double log_evidence;
    const char *say;  /* whole sentences */
    const char *more; /* of them what follows the verdict; "" or NULL: nothing */
};

struct trial_change {
    const char *trial, *column;
    double before05, before50, before95, after05, after50, after95;
    double left; /* width after over width before */
};
extern const struct kind trial_answer_kind, trial_change_kind;

struct trial_answers {
    struct records answers; /* struct trial_answer, in the order of the log */
    struct records changes; /* struct trial_change, of watched columns that moved */
    struct texts stale;     /* watched columns that rest on what moved and have to be run again */
};

struct read_back_options {
    const char *const *watch; /* columns of the open statements */
    size_t n_watch;
    bool insist; /* use what was held out */
};

/* Whether one of the trials foretells its outcome by a column that shares a root with `column`. */
bool trial_may_move(const struct trial *trials, size_t n, const struct num_rows *rows,
                    size_t column);

/* Reads all trials back. rows and said may be NULL: then nothing is conditioned, nothing stated.
 * Contexts of row functions live in `arena`, which must outlive the rows. A trial that cannot be
 * read says so in its answer and stops nobody. */
int trial_read_back(struct trial_answers *out, const struct trial_log *book, struct num_rows *rows,
                    struct statement_set *said, const struct read_back_options *options,
                    struct arena *arena, struct error *err);

#endif
