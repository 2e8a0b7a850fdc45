/* seam: rows of holes and dents: spacing, missing holes, grouping, count, unit, tearing.
 *
 * Works on gaps along the seam, measured along the edge curve after undoing shrinkage. Positions of
 * holes along one seam carry a growing error; the unit test (quantogram) wants independent lengths
 * or gaps, the gap models here are meant for seams. Nothing allocates unless an arena is asked for.
 */
#ifndef RELICT_SHAPE_SEAM_H
#define RELICT_SHAPE_SEAM_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A gap is taken as k pitches only when it lies within this share of a pitch of k pitches. Common
 * practice, no source (reference: trade.md, story 4). */
#define SHAPE_SEAM_FIT 0.15

struct shape_seam {
    double pitch, u_pitch; /* mm: mean gap of one pitch and its standard error */
    double sd, cv;         /* of one pitch: mm, share */
    size_t gaps;           /* gaps that fit a whole number of pitches */
    size_t missing;        /* holes proposed in them */
    long *multiple;        /* [n]: pitches in each gap; 0: fits none, nothing is proposed there */
    double *missing_at;    /* [missing]: place from the first hole, mm */
};

/* Pitch and missing holes from n >= 2 gaps, mm. The pitch is the median of the gaps that may be
 * single ones, refined by least squares over the multiples; repeated until the multiples stay. */
int shape_seam_spacing(struct shape_seam *out, const double *gap, size_t n, struct arena *arena,
                       struct error *err);

enum { SHAPE_SEAM_GROUPS = 6 };

struct shape_seam_groups {
    double log_evidence[SHAPE_SEAM_GROUPS]; /* of n = 1 .. 6 */
    double ordered[SHAPE_SEAM_GROUPS];      /* with gaps between groups wider than within */
    double posterior[SHAPE_SEAM_GROUPS];    /* even spacing has prior 1/2, the others share 1/2 */
    long phase[SHAPE_SEAM_GROUPS];          /* likeliest place of the first gap between groups */
    long best;                              /* likeliest n */
    bool decided;                           /* its posterior is above 0.95 */
};

/* Evidence for stitches in groups of n: every n-th gap is one between groups. Log gaps of a class
 * are normal with a normal-inverse-gamma prior m0 = ln(median gap) or given, k0 = 0.05, a0 = 2,
 * b0 = 2 * 0.15²; averaged over phases; between > within enters as the posterior probability of
 * that order over its prior 1/2. centre: exp(m0) in mm, NAN for the median. n >= 4 gaps. */
int shape_seam_groups(struct shape_seam_groups *out, const double *gap, size_t n, double centre,
                      struct error *err);

/* Rows of one seam together: each has a phase of its own, so their evidence for every n adds up.
 * groups[n] as shape_seam_groups gave them; phases in the answer are 0. n >= 1. */
void shape_seam_groups_together(struct shape_seam_groups *out,
                                const struct shape_seam_groups *groups, size_t n);

/* Cosine quantogram at unit q: sqrt(2/N) sum cos(2 pi X/q) (Kendall, Phil. Trans. R. Soc. A 276
 * (1974) 231-266). At most sqrt(2N). */
double shape_seam_quantogram(const double *x, size_t n, double q);

struct shape_seam_unit {
    double q, phi;           /* mm: where the quantogram is highest, and how high */
    double largest;          /* mm: the largest local peak within 10 % of that height */
    double p;                /* share of simulated sets without a unit that reach phi */
    double level95, level99; /* heights that one set in 20, in 100 reaches without a unit */
    size_t sets;
};

/* Scans 1/q evenly over [q_low, q_high] (2000 steps) and judges the highest point against `sets`
 * sets (0: 1000) jittered evenly by ± half the largest unit. Random numbers keyed by seed. */
int shape_seam_unit(struct shape_seam_unit *out, const double *x, size_t n, double q_low,
                    double q_high, size_t sets, uint64_t seed, struct error *err);

struct shape_seam_count {
    double expected;  /* S/m */
    double sd;        /* first order: spacing, mean from few gaps, outline */
    double sd_t;      /* with the mean's error as Student t; larger when few gaps */
    double low, high; /* 5 % and 95 % */
};

/* Number of stitches on a full edge of length S ± u from k gaps of mean m and sd s (mm):
 * var = N c² + (N c/sqrt k)² + (N u_S/S)². The quantiles are exact over a grid, not drawn. */
int shape_seam_count(struct shape_seam_count *out, double edge, double u_edge, double mean,
                     double sd, size_t gaps, struct error *err);

/* Shrinkage of a sheet against a rod that the same or like stitches went through. */
struct shape_seam_row {
    double pitch; /* mm, mean over the row */
    double gaps;  /* pitches in the row, >= 1 */
    double u;     /* mm: ± of the whole row's length */
};
struct shape_seam_shrink {
    double sheet, rod; /* mm: total length over total gaps */
    double shrink;     /* share: 1 - sheet/rod */
    double u;          /* sd of it */
    double low, high;  /* 5 % and 95 % */
};

/* cv: stitch irregularity, used when the rows are not the very same stitches (0: same stitches). */
int shape_seam_shrinkage(struct shape_seam_shrink *out, const struct shape_seam_row *sheet,
                         size_t n_sheet, const struct shape_seam_row *rod, size_t n_rod, double cv,
                         struct error *err);

/* Net section left by holes: 1 - hole/pitch. Warn under 0.75, stop under 0.60 (common practice, no
 * source: trade.md R82). */
double shape_seam_net_section(double hole, double pitch);
#define SHAPE_NET_WARN 0.75
#define SHAPE_NET_STOP 0.60

/* Runs of `least` or more torn holes in line: "tore in line". torn[n] flags; first and count (room
 * for n) take each run. Returns the number of runs. */
size_t shape_seam_torn(size_t *first, size_t *count, const int *torn, size_t n, size_t least);

#endif
