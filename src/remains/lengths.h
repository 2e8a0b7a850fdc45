/* lengths: how long the pieces of a part were, when most are broken.
 *
 * A broken end makes a length a minimum. ln length = mu + sigma e, e standard normal; whole pieces
 * give a density, the others a tail (right-censored likelihood). mu has a flat prior; ln sigma a
 * weak normal one, because few pieces say little of it: craft repeats itself within some 3 to 15 %
 * (inference notes, "Censored lengths"). The posterior is worked out on a grid: no asymptotics.
 * Pure; thread-safe; memory from the caller's arena.
 */
#ifndef RELICT_REMAINS_LENGTHS_H
#define RELICT_REMAINS_LENGTHS_H

#include "base/arena.h"
#include "base/error.h"
#include "statement/statement.h"

enum { LENGTH_MU = 97, LENGTH_SIGMA = 25 };

/* Posterior of (mu, ln sigma) on a grid, and its marginal and conditional distribution functions.
 */
struct length_grid {
    double mu[LENGTH_MU], log_sigma[LENGTH_SIGMA];
    double mass[LENGTH_SIGMA][LENGTH_MU]; /* sums to one */
    double sigma_cdf[LENGTH_SIGMA + 1];
    double mu_cdf[LENGTH_SIGMA][LENGTH_MU + 1];
};

/* One piece's length, already in one state. */
struct length_reading {
    double value;  /* mm */
    bool whole;    /* false: at least this long */
    double weight; /* probability that it belongs to the object */
};

/* Fills the grid. ERR_MISSING when no piece is whole (nothing bounds the length from above). */
int remains_length_grid(struct length_grid *out, const struct length_reading *v, size_t n,
                        double sigma_median, double sigma_log_sd, struct error *err);

/* mu and sigma at two ranks in (0, 1): sigma by its marginal, mu given sigma. */
void remains_length_at(const struct length_grid *grid, double sigma_rank, double mu_rank,
                       double *mu, double *sigma);

/* Typical length of a part of which pieces survive. */
struct length_size {
    const char *part;
    size_t whole, minimums;
    double longest;         /* longest minimum or whole piece, fresh, mm */
    const char *longest_id; /* measure */
    struct spread fresh;    /* of the typical (median) length; NAN when nothing is whole */
    struct spread one;      /* of one such part, drawn from the same work */
    struct spread scatter;  /* log sd between such parts */
    double kaplan_meier;    /* median by Kaplan and Meier, NAN when the curve stops above a half */
    const char *half;       /* measure of a half that was doubled, a guess; NULL otherwise */
    size_t column, spread_column;
};

#endif
