/* honest: how often stated ranges hold the truth, with errors clustered by object (its statements
 * share its luck), and the line of it for doc/calibration.md when RELICT_CALIBRATION names a file
 * (tests/calibration/plot.py). */
#ifndef RELICT_TESTS_HONEST_H
#define RELICT_TESTS_HONEST_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

struct honest {
    int no_half; /* no 50 % range is stated */
    double n, sum50, sum90, square50, square90; /* over objects, of their shares inside */
    double asked, in50, in90;                   /* of the object at hand */
};

/* One stated range of the object at hand; p25 NAN where only the 90 % range is stated. */
static inline void honest_range(struct honest *h, double p05, double p25, double p75, double p95,
                                double truth) {
    h->asked++;
    h->no_half |= isnan(p25);
    h->in50 += p25 <= truth && truth <= p75;
    h->in90 += p05 <= truth && truth <= p95;
}

/* The object at hand is done. */
static inline void honest_next(struct honest *h) {
    if (h->asked > 0) {
        double a = h->in50 / h->asked, b = h->in90 / h->asked;
        h->n++;
        h->sum50 += a;
        h->sum90 += b;
        h->square50 += a * a;
        h->square90 += b * b;
    }
    h->asked = h->in50 = h->in90 = 0;
}

static inline double honest_rate(double sum, double n) {
    return n > 0 ? sum / n : NAN;
}

/* Standard error of the mean over objects; where all objects agree, that of one miss in n. */
static inline double honest_error(double sum, double square, double n) {
    double mean = sum / n, v = (square / n - mean * mean) / (n - 1);
    return v > 1e-12 ? sqrt(v) : 1 / n;
}

static inline void honest_line(const struct honest *h, const char *group, const char *kind) {
    double a = honest_rate(h->sum50, h->n), b = honest_rate(h->sum90, h->n),
           ea = honest_error(h->sum50, h->square50, h->n),
           eb = honest_error(h->sum90, h->square90, h->n);
    if (h->no_half) a = ea = NAN;
    printf("# %s, %s, %.0f objects: 50 %%: %.3f +- %.3f; 90 %%: %.3f +- %.3f (clustered s.e.)\n",
           group, kind, h->n, a, ea, b, eb);
    const char *path = getenv("RELICT_CALIBRATION");
    FILE *f = path ? fopen(path, "a") : NULL;
    if (!f) return;
    fprintf(f, "%s\t%s\t%.0f\t%.4f\t%.4f\t%.4f\t%.4f\n", group, kind, h->n, a, b, ea, eb);
    fclose(f);
}

#endif
