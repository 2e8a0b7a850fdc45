/* emulator: a smooth stand-in for a slow simulator, with its own error.
 *
 * Gaussian process y(x) = h(x)'beta + s Z(x) + nugget, Matern 5/2 or squared-exponential
 * correlation with one length for each input, found by maximum likelihood with a weak prior on the
 * logarithms of the lengths (so that inputs that do not matter do not run away). Mean none,
 * constant or linear by generalised least squares; its uncertainty is in the predicted variance
 * (universal kriging). Sources: Rasmussen & Williams, Gaussian Processes for Machine Learning,
 * 2006, eqs 2.25-2.26, 2.41-2.42, 4.17, 5.8-5.12; Dubrule, Math. Geology 15, 1983, 687-699 (leaving
 * one out). An emulator is never changed after it is made: any number of threads may predict.
 */
#ifndef RELICT_NUM_EMULATOR_H
#define RELICT_NUM_EMULATOR_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct num_emulator;

enum num_kernel { NUM_MATERN52, NUM_SQUARED_EXPONENTIAL };
enum num_trend { NUM_TREND_CONSTANT, NUM_TREND_LINEAR, NUM_TREND_NONE };

enum { NUM_EMULATOR_INPUTS = 40 };

struct num_emulator_options {
    enum num_kernel kernel;
    enum num_trend trend;
    /* What num_emulator_searched told for the same points, [d + 1]: the search is left out and the
     * answer the same to the last bit. NULL: searched. */
    const double *searched;
    /* All three given: nothing is fitted, inputs and output are taken as they are. */
    const double *lengths;   /* [d] or NULL */
    double variance, nugget; /* s^2, and the variance of the nugget */
    double least_nugget;     /* as a share of s^2; 0: 1e-8 */
    int most_steps;          /* of the search; 0: 120 */
};

struct num_emulator_check {
    double rms;      /* of left-out points, in the unit of y */
    double relative; /* rms over the standard deviation of y */
    double worst;    /* largest left-out error in its own standard deviations; within 3 is well */
    double inside90; /* share of left-out points inside their 90 % interval */
    size_t worst_point;
};

/* Fits to y[n] at x[n][d] row-major. ERR_RANGE: too few points (n < d + 3), not finite, or an input
 * that never changes is allowed (its length stays at the prior). Cost n^3 a step. Free with
 * num_emulator_free. */
int num_emulator_fit(struct num_emulator **out, const double *x, const double *y, size_t n,
                     size_t d, const struct num_emulator_options *options, struct error *err);
void num_emulator_free(struct num_emulator *e);

/* Mean and variance of the smooth part at x[d] (without the nugget); variance may be NULL. Cost n d
 * for the mean, n^2 for the variance. Far outside the points both return to the trend. */
void num_emulator_predict(const struct num_emulator *e, const double *x, double *mean,
                          double *variance);

/* Predictions for many points x[m][d], spread over the threads; mean[m], variance[m] may be NULL.
 */
int num_emulator_predict_many(const struct num_emulator *e, const double *x, size_t m, double *mean,
                              double *variance, struct error *err);

/* What each point would have been predicted as without it: mean[n], variance[n] (with nugget). */
void num_emulator_leave_one_out(const struct num_emulator *e, double *mean, double *variance);
void num_emulator_check(const struct num_emulator *e, struct num_emulator_check *out);

/* What was found: lengths[d] in the unit of the inputs, variance, nugget variance, log marginal
 * likelihood. Pointers may be NULL. */
void num_emulator_found(const struct num_emulator *e, double *lengths, double *variance,
                        double *nugget, double *log_marginal);

/* What the search found, [d + 1]: lengths over the range of their input, nugget over variance. */
void num_emulator_searched(const struct num_emulator *e, double *out);

/* How far outside the points x lies: 0 inside the box of the inputs, else the largest overshoot as
 * a share of an input's range. */
double num_emulator_outside(const struct num_emulator *e, const double *x);

#endif
