#include "remains/lengths.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_erf.h>
#include <math.h>

/* ln of the likelihood of all lengths under one (mu, sigma): density of the whole ones, tail of
 * the others (Klein & Moeschberger 2003, Survival Analysis, 3.5); a piece that may not belong
 * counts with its probability. */
static double log_like(const struct length_reading *v, size_t n, double mu, double sigma) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        double z = (log(v[i].value) - mu) / sigma;
        double term = v[i].whole ? -0.5 * z * z - log(sigma)
                                 : gsl_sf_log_erfc(z / M_SQRT2); /* S = erfc(z / sqrt 2) / 2 */
        sum += v[i].weight * term;
    }
    return sum;
}

/* Sums masses into distribution functions at the edges of the cells. */
static void sum_up(struct length_grid *g) {
    g->sigma_cdf[0] = 0;
    for (size_t s = 0; s < LENGTH_SIGMA; s++) {
        double row = 0;
        g->mu_cdf[s][0] = 0;
        for (size_t m = 0; m < LENGTH_MU; m++)
            g->mu_cdf[s][m + 1] = row += g->mass[s][m];
        for (size_t m = 0; m <= LENGTH_MU; m++)
            g->mu_cdf[s][m] /= row;
        g->sigma_cdf[s + 1] = g->sigma_cdf[s] + row;
    }
    for (size_t s = 0; s <= LENGTH_SIGMA; s++)
        g->sigma_cdf[s] /= g->sigma_cdf[LENGTH_SIGMA];
}

int remains_length_grid(struct length_grid *g, const struct length_reading *v, size_t n,
                        double sigma_median, double sigma_log_sd, struct error *err) {
    double low = INFINITY, high = 0, top = -INFINITY, total = 0;
    size_t whole = 0;
    for (size_t i = 0; i < n; i++) {
        if (!(v[i].value > 0))
            return fail(err, ERR_RANGE, "Measure it again.", "A length of %g mm.", v[i].value);
        whole += v[i].whole;
        if (v[i].whole) low = fmin(low, v[i].value);
        high = fmax(high, v[i].value);
    }
    if (!whole)
        return fail(err, ERR_MISSING, "Give one piece with both ends, or a length from a parallel.",
                    "All %zu lengths are minimums: nothing says how long it can have been.", n);
    /* Wide enough that the mass at the ends is nothing: half the shortest whole piece to three
     * times the longest of all. */
    double from = log(low) - 0.7, to = log(high) + 1.1;
    for (size_t m = 0; m < LENGTH_MU; m++)
        g->mu[m] = from + (to - from) * ((double)m + 0.5) / LENGTH_MU;
    for (size_t s = 0; s < LENGTH_SIGMA; s++) {
        double z = -3 + 6 * ((double)s + 0.5) / LENGTH_SIGMA;
        g->log_sigma[s] = log(sigma_median) + z * sigma_log_sd;
        for (size_t m = 0; m < LENGTH_MU; m++) {
            g->mass[s][m] = -0.5 * z * z + log_like(v, n, g->mu[m], exp(g->log_sigma[s]));
            top = fmax(top, g->mass[s][m]);
        }
    }
    for (size_t s = 0; s < LENGTH_SIGMA; s++)
        for (size_t m = 0; m < LENGTH_MU; m++)
            total += g->mass[s][m] = exp(g->mass[s][m] - top);
    for (size_t s = 0; s < LENGTH_SIGMA; s++)
        for (size_t m = 0; m < LENGTH_MU; m++)
            g->mass[s][m] = fmax(g->mass[s][m] / total, 1e-300); /* keeps ranks invertible */
    sum_up(g);
    return 0;
}

/* Place of a rank among n cells whose edges carry cdf[n + 1]: cell number and share of it. */
static double rank_place(const double *cdf, size_t n, double rank) {
    size_t low = 0, high = n;
    while (high - low > 1) {
        size_t mid = (low + high) / 2;
        if (cdf[mid] <= rank)
            low = mid;
        else
            high = mid;
    }
    double width = cdf[low + 1] - cdf[low];
    return (double)low + (width > 0 ? (rank - cdf[low]) / width : 0.5);
}

void remains_length_at(const struct length_grid *g, double sigma_rank, double mu_rank, double *mu,
                       double *sigma) {
    double s = rank_place(g->sigma_cdf, LENGTH_SIGMA, sigma_rank);
    double step = g->log_sigma[1] - g->log_sigma[0], mu_step = g->mu[1] - g->mu[0];
    *sigma = exp(g->log_sigma[0] + (s - 0.5) * step);
    /* mu between the two sigmas on either side, so that it moves smoothly with the rank. */
    double at = fmin(fmax(s - 0.5, 0), LENGTH_SIGMA - 1);
    size_t k = (size_t)at < LENGTH_SIGMA - 1 ? (size_t)at : LENGTH_SIGMA - 2;
    double a = rank_place(g->mu_cdf[k], LENGTH_MU, mu_rank);
    double b = rank_place(g->mu_cdf[k + 1], LENGTH_MU, mu_rank);
    double place = a + (b - a) * (at - (double)k);
    *mu = g->mu[0] + (place - 0.5) * mu_step;
}
