/* regression: straight-line models, analysis of variance, effects, power, randomisation.
 *
 * Small experiments with their classical answers, worked out in extended precision so that hard
 * data sets do not lose their digits. Pure functions; results live in the arena. Sources: Golub &
 * Van Loan, Matrix Computations, 4th ed. 2013 (Householder QR, refinement); NIST Statistical
 * Reference Datasets; Box, Hunter & Hunter, Statistics for Experimenters, 2nd ed. 2005; Lenth,
 * Technometrics 31, 1989, 469-473; Montgomery, Design and Analysis of Experiments.
 */
#ifndef RELICT_NUM_REGRESSION_H
#define RELICT_NUM_REGRESSION_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* ---- linear regression ---------------------------------------------------------------------- */

struct num_line_fit {
    size_t n, p;
    double *b, *se, *low, *high; /* [p] coefficients, standard errors, intervals by t */
    double *residual;            /* [n] */
    double rss, sd, r2;          /* r2 about the mean when there is a constant, else about 0 */
    double f, f_p;               /* all slopes together */
    size_t freedom;
    double condition; /* of the column-scaled R: 10^k loses about k digits of 19 */
};

/* Least squares y ~ X b, x[n][p] row-major (put a column of ones for a constant), weights w[n] or
 * NULL. Columns are scaled, QR by Householder in 64-bit mantissa with two steps of refinement.
 * level: of the intervals. ERR_SOLVE when columns depend on one another. Cost n p^2. */
int num_line_fit(struct num_line_fit *out, const double *x, const double *y, const double *w,
                 size_t n, size_t p, double level, struct arena *arena, struct error *err);

/* ---- analysis of variance ------------------------------------------------------------------- */

struct num_anova {
    size_t groups, n;
    double between, within; /* sums of squares */
    double freedom_between, freedom_within;
    double f, p, r2, sd_within;
    double sd_between; /* component of variance, sqrt(max 0); weighted group size when unequal */
};

/* One way: value[n], group[n] any numbers. Sums about the first value, two passes, extended. */
int num_anova(struct num_anova *out, const double *value, const double *group, size_t n,
              struct arena *arena, struct error *err);

/* ---- two-level factorial -------------------------------------------------------------------- */

struct num_effect {
    char name[48];       /* "A", "AB": the word of the effect */
    char alias[128];     /* words mixed up with it: "CD", or "" */
    double effect, t, p; /* high minus low; t by Lenth, or by replicates */
};

struct num_factorial {
    double mean;
    size_t n; /* effects */
    struct num_effect *effects;
    double pse, margin, simultaneous; /* Lenth's error, margin and simultaneous margin */
    double pure_sd;                   /* from replicates, NAN without */
    size_t pure_freedom;
};

/* Effects of a full or fractional two-level design in standard order (first factor fastest).
 * factors: letters of all factors, base ones first, "ABCD". generators: texts as "D=ABC", n_gen of
 * them. y[runs * repeats], the repeats of a run together. level of the margins, as 0.95. */
int num_factorial(struct num_factorial *out, const char *factors, const char *const *generators,
                  size_t n_gen, const double *y, size_t n_y, size_t repeats, double level,
                  struct arena *arena, struct error *err);

/* ---- power ---------------------------------------------------------------------------------- */

enum num_comparison { NUM_TWO_GROUPS, NUM_PAIRED, NUM_ONE_GROUP };

/* P(T <= t) of the noncentral t distribution, by integrating over the chi distribution. */
double num_noncentral_t(double t, double freedom, double shift);

/* Power of a two-sided t test at level alpha: n a group (pairs when paired), difference d in
 * standard deviations (of the differences when paired). n may be broken. */
double num_power(enum num_comparison what, double n, double d, double alpha);

/* n for a power, and the difference that n can show with a power; NAN when out of reach. */
double num_power_n(enum num_comparison what, double d, double alpha, double power);
double num_power_difference(enum num_comparison what, double n, double alpha, double power);

/* ---- randomisation -------------------------------------------------------------------------- */

struct num_randomisation {
    double difference;      /* of means: second minus first, or mean difference of pairs */
    double t, freedom, p_t; /* the t test beside it (equal variances) */
    double as_large;   /* arrangements whose difference is at least as large, same sign as wanted */
    double as_extreme; /* at least as large in size */
    double of;         /* arrangements looked at */
    bool exact;        /* all of them; else drawn at random */
    double p_one, p_two, p_two_error; /* error: Monte Carlo, 0 when exact */
    double least_p;                   /* the smallest two-sided p this design can give */
};

/* All arrangements while there are 10^6 or fewer, otherwise that many drawn by seed. */
int num_randomise_groups(struct num_randomisation *out, const double *a, size_t n_a,
                         const double *b, size_t n_b, uint64_t seed, struct error *err);
int num_randomise_pairs(struct num_randomisation *out, const double *difference, size_t n,
                        uint64_t seed, struct error *err);

/* Puts 0 .. n-1 in a random order by seed: the order of runs, kept with the plan. */
void num_run_order(size_t *order, size_t n, uint64_t seed);

#endif
