/* dist: a distribution of one number, as a prior, an error or an answer.
 *
 * A plain value: copy it, compare it, print it. Priors come from a person (`num_dist_kind`, read
 * from JSON), from a data table that gives median, 5 % and 95 % points (`num_dist_from_points`) or
 * from code (the makers below). `score` is the standard normal number z with Phi(z) = F(x): every
 * continuous distribution becomes N(0,1) in z, which is where roots are moved.
 * Nothing here allocates; thread-safe.
 *
 *     struct num_dist d = num_dist_lognormal(7.5, 0.3);
 *     double x = num_dist_quantile(&d, 0.95);
 */
#ifndef RELICT_NUM_DIST_H
#define RELICT_NUM_DIST_H

#include "base/error.h"
#include "base/field.h"
#include "num/random.h"

#include <stdbool.h>
#include <stddef.h>

enum num_family {
    NUM_FIXED,      /* one value: a */
    NUM_NORMAL,     /* mean a, standard deviation b; cut to [low, high] when these are finite */
    NUM_UNIFORM,    /* low .. high */
    NUM_TRIANGULAR, /* low .. high, most likely at a */
    NUM_LOGNORMAL,  /* median a, standard deviation of the logarithm b */
    NUM_BETA,       /* shapes a, b on low .. high */
    NUM_STUDENT,    /* centre a, scale b, degrees of freedom c */
    NUM_DISCRETE,   /* up to NUM_VALUES values with probabilities */
    NUM_INTEGER     /* whole numbers low .. high, weighted by a normal with mean a, sd b, or evenly
                       when b is infinite */
};

enum { NUM_VALUES = 8 }; /* a rival has at most so many readings (DESIGN, "The ensemble") */

struct num_dist {
    enum num_family family;
    double a, b, c;
    double low, high; /* -INFINITY, INFINITY where there is no bound */
    size_t n;         /* NUM_DISCRETE */
    double value[NUM_VALUES], p[NUM_VALUES];
};

struct num_dist num_dist_fixed(double value);
struct num_dist num_dist_normal(double mean, double sd);
struct num_dist num_dist_truncated(double mean, double sd, double low, double high);
struct num_dist num_dist_uniform(double low, double high);
struct num_dist num_dist_triangular(double low, double mode, double high);
struct num_dist num_dist_lognormal(double median, double log_sd);
struct num_dist num_dist_beta(double a, double b, double low, double high);
struct num_dist num_dist_student(double centre, double scale, double freedom);
/* p may be NULL: all equally likely. Probabilities are scaled to sum to one. n <= NUM_VALUES. */
struct num_dist num_dist_discrete(size_t n, const double *value, const double *p);
struct num_dist num_dist_integer(double low, double high, double mean, double sd);

/* Says what is wrong with the numbers of a distribution; 0 when nothing is. */
int num_dist_check(const struct num_dist *d, struct error *err);

/* Fits a family (normal, truncated normal, lognormal, beta, triangular, uniform) to a median and
 * 5 % and 95 % points. Lognormal and normal keep the median and the ratio (the distance) of the
 * two ends exactly; the others are least squares over the three points within low .. high (give
 * NAN for none; beta then takes 0 .. 1). *misfit (may be NULL) is the worst distance of the three
 * points as a share of p95 - p05, to be shown when it is large. ERR_RANGE when the points are out
 * of order or outside the bounds. */
int num_dist_from_points(struct num_dist *out, enum num_family family, double median, double p05,
                         double p95, double low, double high, double *misfit, struct error *err);

/* Distribution function, its complement, quantile (p in (0,1)), log density (log probability for
 * discrete ones; -INFINITY outside), mean and standard deviation (NAN where there is none). */
double num_dist_cdf(const struct num_dist *d, double x);
double num_dist_tail(const struct num_dist *d, double x); /* P(X > x) */
double num_dist_quantile(const struct num_dist *d, double p);
double num_dist_log_density(const struct num_dist *d, double x);
double num_dist_mean(const struct num_dist *d);
double num_dist_sd(const struct num_dist *d);

/* z with Phi(z) = F(x), and back. Exact for normal and lognormal, otherwise through whichever tail
 * is the smaller, so that it holds to |z| = 8 and beyond. */
double num_dist_score(const struct num_dist *d, double x);
double num_dist_from_score(const struct num_dist *d, double z);

/* One value by the inverse of the distribution function: one uniform each. */
double num_dist_sample(const struct num_dist *d, struct num_random *r);

bool num_dist_is_discrete(const struct num_dist *d);
bool num_dist_equal(const struct num_dist *a, const struct num_dist *b);

/* A normal or a lognormal without bounds: what linear-Gaussian evidence can be put on. */
bool num_dist_is_gaussian(const struct num_dist *d);

/* ---- as a person enters it ------------------------------------------------------------------ */

struct num_dist_entry {
    long family; /* index into enum num_family */
    double value, mean, sd, low, high, mode, median, log_sd, p05, p95, a, b, freedom;
    struct reals values, probabilities;
};

extern const struct kind num_dist_kind;

/* Family as a word, and the family of a word as data tables have it (-1 when there is none). */
const char *num_family_name(enum num_family family);
int num_family_find(const char *word);

/* Makes a checked distribution of an entry. Where median, p05 and p95 are given these win. */
int num_dist_from_entry(struct num_dist *out, const struct num_dist_entry *entry,
                        struct error *err);

/* "normal, mean 12, sd 0.5", for a person; always terminated. */
void num_dist_text(const struct num_dist *d, char *text, size_t size);

#endif
