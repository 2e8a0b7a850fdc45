/* censored: sizes of which some are known only as "longer than".
 *
 * A piece with one original end and one break says L > t; an eroded end says a < L < b; pieces that
 * were too small to be collected make all others "given that L > c". Kaplan & Meier's curve makes
 * no assumption on the form; the fits assume that ln L = x'beta + sigma e with e normal
 * (lognormal) or least extreme value (Weibull: shape 1/sigma, scale exp(mu); exponential:
 * sigma = 1). Intervals are by profile likelihood, never by the standard errors alone; with a prior
 * on ln sigma the posterior takes the likelihood's place. Breaks must be independent of length,
 * measured from an original end. Pure functions; thread-safe.
 *
 * Sources: Kaplan & Meier, JASA 53, 1958, 457-481; Greenwood 1926; Kalbfleisch & Prentice, The
 * Statistical Analysis of Failure Time Data, 2nd ed. 2002, chapters 1-3; Lawless, Statistical
 * Models and Methods for Lifetime Data, 2nd ed. 2003.
 */
#ifndef RELICT_NUM_CENSORED_H
#define RELICT_NUM_CENSORED_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>

/* One size: low == high: complete; high INFINITY: at least low; low 0: at most high. */
struct num_censored {
    double low, high;
    double above; /* it could only be found if longer than this; 0: no such limit */
};

/* ---- Kaplan and Meier ----------------------------------------------------------------------- */

struct num_survival {
    size_t n;
    double *t;          /* [n] sizes at which the curve steps */
    double *at_risk;    /* [n] */
    double *events;     /* [n] */
    double *s;          /* [n] share longer than t */
    double *se;         /* [n] Greenwood */
    double *low, *high; /* [n] interval of s by the log-log transform; NAN where s is 0 */
    double median;      /* least t with s <= 1/2; NAN when the curve stays above */
    double median_low, median_high; /* where the interval's bands cross 1/2; NAN: no limit */
    double lowest; /* s at the end: above 0 there is no mean and no upper quantile */
};

/* Works out the curve; level as 0.95. Only complete, "at least" and `above` are used: ERR_REFUSED
 * for intervals. Ties: complete before censored. Lives in the arena. Cost n log n + n steps. */
int num_survival(struct num_survival *out, const struct num_censored *v, size_t n, double level,
                 struct arena *arena, struct error *err);

/* Log-rank statistic of two groups, chi squared on 1 degree of freedom, and its tail. */
int num_log_rank(const struct num_censored *a, size_t n_a, const struct num_censored *b, size_t n_b,
                 double *chi2, double *p, struct arena *arena, struct error *err);

/* ---- fits ----------------------------------------------------------------------------------- */

enum num_life { NUM_LIFE_LOGNORMAL, NUM_LIFE_WEIBULL, NUM_LIFE_EXPONENTIAL };

/* ln likelihood of one size, ln L ~ mu + sigma e. -INFINITY where impossible. For use as evidence
 * on rows. */
double num_life_log_like(enum num_life family, const struct num_censored *v, double mu,
                         double sigma);

enum { NUM_LIFE_MOST = 6 }; /* coefficients of a fit */

struct num_life_options {
    enum num_life family;
    const double *x; /* [n][p] row-major, first column 1; NULL: p = 1, a constant */
    size_t p;
    double sigma_median, sigma_factor; /* prior: ln sigma ~ N(ln median, ln factor); 0: none */
    double level;                      /* of intervals; 0: 0.9 */
    const double *at;                  /* [p] where the median is asked for; NULL: 1, 0, 0 ... */
};

struct num_life_fit {
    size_t n, complete, p;
    double beta[NUM_LIFE_MOST], se[NUM_LIFE_MOST];
    double sigma, se_log_sigma; /* standard errors from the curvature: for comparison with books */
    double log_like;            /* without the prior */
    double median, median_low, median_high;
    double sigma_low, sigma_high;
    double low90, high90; /* 5 and 95 % points of single objects at the fitted numbers */
    double assumption;    /* share of what is known of ln sigma that comes from the prior */
    int iterations;
};

/* Fits by Newton's method. INFINITY and 0 in an interval mean that the readings set no limit.
 * ERR_REFUSED: nothing complete or bounded above (no estimate from wholly censored sizes).
 * ERR_SOLVE: no maximum (all complete sizes equal and no prior). */
int num_life_fit(struct num_life_fit *out, const struct num_censored *v, size_t n,
                 const struct num_life_options *options, struct error *err);

#endif
