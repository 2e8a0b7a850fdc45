/* trial_plan: which few trials to make, and in which order.
 *
 * Each candidate foretells its outcome through a column of the possible originals. What it would
 * teach about each open statement is worked out one by one (expect.h); what a set would teach
 * together is reckoned on normal scores of statements and outcomes, where information is
 * 1/2 ln det ratios (Cover & Thomas 2006, 8.5), so that two trials that say the same are not
 * counted twice. The plan takes greedily what teaches most for its dearest resource, within sheets,
 * hands, days and the season; the order of making is a permutation with a stored seed. It also says
 * what each outcome would mean and how many trees would settle it. Pure.
 */
#ifndef RELICT_TRIAL_TRIAL_PLAN_H
#define RELICT_TRIAL_TRIAL_PLAN_H

#include "base/field.h"
#include "num/rows.h"
#include "trial/expect.h"

struct candidate {
    const char *id, *title;
    const char *made, *varied;
    const char *column; /* whose values foretell the outcome, inside units */
    struct texts about; /* columns of the open statements */
    long outcome;       /* enum outcome: words and unit of what is measured */
    const char *unit;   /* of a measured value; NULL: a plain number */
    double noise, tree_spread, modern_ancient; /* standard deviations, edge unit of the outcome */
    long trees, strips;                        /* trees, and strips of each */
    double sheets, hours, days;
    const char *from, *to; /* may be made only between these days; NULL: any time */
    struct texts material; /* roots it may narrow */
    long standing; /* enum standing: how its errors and costs are known; unknown: the team's */
};
extern const struct kind candidate_kind;

struct plan_limits {
    const char *id;
    double sheets, hours, days; /* in hand; NAN: no limit */
    const char *from, *to;      /* days in which trials can be made; NULL: no limit */
    long most;                  /* trials at most; FIELD_UNKNOWN: as many as fit */
    double enough; /* share of what is open that a trial must settle at least; NAN: 0.05 */
    long seed;     /* of the order */
};

extern const struct kind plan_limits_kind;

struct taught {
    const char *candidate, *statement;
    double nats, error, bias;
    double shrink; /* the range of the statement would shrink to about this share: e^-nats */
};

struct ranked_trial {
    const char *id, *title;
    double nats;       /* about all open statements together (normal scores) */
    double everything; /* about everything at once, nested Monte Carlo: the most it can be */
    double per_sheet, per_day, per_hour; /* nats; NAN when it costs none */
    /* The same in plain words: what share of what is open about `about`, the statement it says most
     * of, it would settle: 1 - e^-nats, the share by which the range of a normal number shrinks
     * (Cover & Thomas 2006, 8.5). Bias taken off; with what was taken off and the Monte Carlo
     * error. */
    const char *about;
    double settles, settles_bias, settles_error;
    double settles_sheet, settles_day; /* for one sheet, for one day; NAN when it costs none */
    double gain;     /* nats it adds to those chosen before it; NAN when not chosen */
    long place;      /* in the plan, from 1; 0 when not chosen */
    long order;      /* in which it is made, from 1 (randomised); 0 when not chosen */
    const char *why; /* why not: too dear, out of season, nothing new; or which statement most */
    double predicted, half; /* edge unit: prediction to be sealed, 95 % of the mean of its trees */
    long trees_needed;      /* so that the interval is no wider than the prediction; 0: cannot */
    const char *foretold;   /* the prediction in words: "5.5 ± 5.5 percent" */
    const char *means;      /* what each outcome would mean */
    const char *repeats;    /* what so many trees can and cannot show */
    long standing;          /* of the candidate */
};
extern const struct kind ranked_trial_kind, taught_kind;

struct trial_plan {
    struct records ranked;            /* struct ranked_trial, chosen first, then by nats */
    struct records taught;            /* struct taught: candidate by statement */
    double sheets, hours, days, nats; /* of the plan */
    const char *say;
};

/* Errors: ERR_MISSING for a column that is not there, ERR_RANGE for errors that are not above 0.
 * Cost: candidates x statements x 512 x 2048. */
int trial_plan_make(struct trial_plan *out, const struct candidate *candidate, size_t n,
                    const struct num_rows *rows, const struct plan_limits *limits,
                    struct arena *arena, struct error *err);

/* Trees needed so that a 95 % interval is no wider than +- half: least n with t(0.975, n-1)/sqrt(n)
 * * spread <= half; 0 when over 1000. */
long trial_trees_needed(double spread, double half);

#endif
