/* expect: what a trial would teach, before it is made.
 *
 * Expected information of an outcome y about a statement T, in nats, by nested Monte Carlo on the
 * rows (num/information.h, its bias taken off and shown): a row gives T and the outcome it
 * foretells, the trial's error is normal. T is a rival (its values) or a number, cut into
 * EXPECT_SLICES slices of equal weight, which loses a little: the answer is a lower bound. Pure;
 * the same bits on any number of threads. Above
 * EXPECT_ROWS rows every k-th is used: ranking forty candidates must not take minutes.
 */
#ifndef RELICT_TRIAL_EXPECT_H
#define RELICT_TRIAL_EXPECT_H

#include "base/arena.h"
#include "base/error.h"
#include "num/rows.h"

struct expect_info {
    double nats;  /* bias removed; never below 0 */
    double raw;   /* before that */
    double bias;  /* raw - nats as estimated */
    double error; /* Monte Carlo standard error */
    size_t inner; /* rows behind the smallest inner mean */
};

enum { EXPECT_SLICES = 16, EXPECT_OUTER = 512, EXPECT_ROWS = 2048 };

/* outcome[n], statement[n] (NAN rows are left out), weight[n] normalised; sd: of the trial's error,
 * > 0. rival: statement holds a few values, not a number on a scale. */
int trial_expect(struct expect_info *out, const double *outcome, const double *statement,
                 const double *weight, size_t n, double sd, bool rival, struct arena *arena,
                 struct error *err);

/* The same about several statements of one trial; what they share is worked out once. out[n_q]. */
struct expect_question {
    const double *statement; /* [n] */
    bool rival;
};
int trial_expect_each(struct expect_info *out, const struct expect_question *question, size_t n_q,
                      const double *outcome, const double *weight, size_t n, double sd,
                      struct arena *arena, struct error *err);

/* Information about everything at once: h(y) - h(error). No statement can gain more. */
int trial_expect_all(struct expect_info *out, const double *outcome, const double *weight, size_t n,
                     double sd, struct arena *arena, struct error *err);

/* Standard deviation of the mean of `trees` trees with `strips` strips each, as a reading of the
 * ancient piece's own value: sqrt(tree^2/k + noise^2/(k m) + tree^2 + discount^2). The third term:
 * the piece is of one tree; the fourth: modern against ancient. */
double trial_reading_sd(double noise, double tree, double discount, double trees, double strips);

#endif
