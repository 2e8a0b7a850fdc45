/* information: how much a reading that is not yet made is expected to teach.
 *
 * Expected information gain in nats (Lindley, Ann. Math. Stat. 27, 1956, 986-1005): of the reading
 * about everything uncertain, or about one question. Linear-Gaussian models have a closed form;
 * otherwise nested Monte Carlo on rows, whose upward bias of about c/M is measured by halving the
 * inner rows and taken off (Richardson), and shown. Rank by gain over cost, and show "no trial".
 */
#ifndef RELICT_NUM_INFORMATION_H
#define RELICT_NUM_INFORMATION_H

#include "base/error.h"

#include <stddef.h>
#include <stdint.h>

/* 0.5 ln det(I + R^-1 G P G'), y = G x + e, x ~ N(., P), e ~ N(0, diag r). g[m][d], p[d][d], r[m].
 */
int num_information_gaussian(double *out, const double *g, const double *p, const double *r,
                             size_t m, size_t d, struct error *err);

struct num_information {
    double gain;  /* nats, bias taken off */
    double error; /* Monte Carlo standard error */
    double raw;   /* before the bias was taken off */
    double bias;  /* what was taken off */
    double most;  /* about a question: its entropy, which no reading can exceed; else INFINITY */
    size_t outer, inner;
};

struct num_information_task {
    const double *predict;  /* [n][m] what each row predicts for the m readings of the trial */
    const double *sd;       /* [m] error of each reading; independent */
    const double *weight;   /* [n] or NULL */
    const double *question; /* [n] class of each row (a rival, a yes or no, a range of a size), or
                               NULL: about everything that moves the prediction */
    size_t n, m;
    size_t outer; /* imagined outcomes; 0: 1024 at most */
    uint64_t seed;
};

/* Cost outer * n * m. ERR_RANGE when sd is not above 0 or n is under 100. */
int num_information(struct num_information *out, const struct num_information_task *task,
                    struct error *err);

/* The same about several questions at once, question[questions][n]; task->question is not read.
 * Likelihoods are worked out once for all: cost outer * n * (m + questions). out[questions]. */
int num_information_many(struct num_information *out, const struct num_information_task *task,
                         const double *const *question, size_t questions, struct error *err);

#endif
