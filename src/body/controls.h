/* controls: what controls the shape: a quick stand-in for the shell over a crowd of sheets.
 *
 * Each input row (thickness, moduli, stem, number and thickness of laths, spacing of ties, lengths
 * of the outline ...) is made into a sheet by the caller's function, solved on a coarse mesh, and
 * an emulator (num/emulator.h) is fitted to each output. A few rows are solved on a fine mesh too:
 * the mean difference is added to the answers, its spread to their variance. What is above 0 in all
 * runs is emulated as its logarithm, so that its errors are shares of it. Rows that end in
 * another branch (bent about the other axis) are not mixed in; they are counted. The answer does
 * not depend on the number of threads. Never changed after it is made: any number of threads may
 * predict.
 */
#ifndef RELICT_BODY_CONTROLS_H
#define RELICT_BODY_CONTROLS_H

#include "base/arena.h"
#include "base/sha256.h"
#include "body/sheet.h"
#include "num/emulator.h"

/* Makes the sheet of one input row x[d]. Called from several threads at once: what it allocates
 * (the outline) comes from the arena. Returns an error code to leave the row out. */
typedef int body_controls_make(struct body_sheet *out, const double *x, void *context,
                               struct arena *arena, struct error *err);

enum body_controls_output {
    BODY_OUT_ALONG,     /* mean curvature along x, 1/mm */
    BODY_OUT_ACROSS,    /* across */
    BODY_OUT_RISE,      /* mm */
    BODY_OUT_END_RISE,  /* mm */
    BODY_OUT_EDGE_LIFT, /* mm */
    BODY_OUT_TWIST,     /* rad */
    BODY_OUT_STIFFNESS, /* N/mm under a hand */
    BODY_OUT_WEIGHT,    /* g */
    BODY_OUTPUTS
};
extern const char *const body_controls_names[BODY_OUTPUTS];

/* What the search for an emulator's lengths found (num_emulator_searched), and of what: a hash of
 * all that went in. Where that is the same again the search is left out, with the same bits. */
struct body_controls_found {
    char of[SHA256_TEXT];
    double v[NUM_EMULATOR_INPUTS + 1];
};

/* Runs made before, of this or a neighbouring way of building, to be used again: inputs x[n][d],
 * outputs y[n][BODY_OUTPUTS] on the coarse mesh (NAN: not solved), and fine less coarse. Whoever
 * keeps them rounds nothing: they are rounded to nine digits already. */
struct body_controls_known {
    size_t n, d, first; /* first: runs of the first design; what follows was added to it */
    double *x, *y;
    double shift[BODY_OUTPUTS], spread[BODY_OUTPUTS]; /* of logarithms where they are emulated */
    struct body_controls_found found[BODY_OUTPUTS];   /* of: "" unknown */
};

struct body_controls_options {
    size_t triangles;                        /* of the runs; 0: 600 */
    size_t fine;                             /* of the check rows; 0: 2400 */
    size_t checks;                           /* rows run fine as well; 0: 6 */
    const struct body_controls_known *known; /* may be NULL */
};

struct body_controls_report {
    size_t runs, failed, other_branch; /* rows used, not solved, bent about the other axis */
    size_t searched;                   /* emulators whose lengths were searched */
    size_t reused, probes, added; /* runs of before used again; of those made again to see what the
                                     building changed; rows outside their hull, run anew */
    char first_failure[512];
    struct {
        double rms, relative, worst; /* leaving one out: in the output's unit at its usual size;
                                        over its spread; in sd */
        double inside90;
        double shift, spread;  /* fine less coarse: mean and standard deviation */
        double moved, scatter; /* building now less building then, over the probes */
    } output[BODY_OUTPUTS];
};

struct body_controls;

/* Runs the rows x[n][d] (row-major) and fits. Needs d + 8 rows that end well. Cost: the runs.
 *
 * With runs known from before, eight of them are made again as it is built now. Where that moves
 * bend across, rise, edge lift, stiffness and weight about alike (scatter under 0.15, mean under
 * half of an output's spread), the known ones serve, moved by the mean, the scatter added to the
 * variance; only rows outside their hull are run. The hull is the ellipsoid of greatest leverage,
 * x'(X'X)^-1 x (hidden extrapolation: D. C. Montgomery, E. A. Peck, G. G. Vining, Introduction to
 * Linear Regression Analysis, 5th ed. 2012, section 3.8). Otherwise all rows are run. */
int body_controls_new(struct body_controls **out, const double *x, size_t n, size_t d,
                      body_controls_make *make, void *context,
                      const struct body_controls_options *options, struct error *err);
void body_controls_free(struct body_controls *controls);
void body_controls_report(const struct body_controls *controls, struct body_controls_report *out);

/* Mean and variance (emulator, mesh and leftover together) of one output at m rows x[m][d];
 * variance may be NULL. Of what is emulated as its logarithm the middle and the variance of a
 * lognormal are told: no band of it falls below zero. */
int body_controls_predict(const struct body_controls *controls, enum body_controls_output which,
                          const double *x, size_t m, double *mean, double *variance,
                          struct error *err);

/* The same with the error drawn in: normal[m] standard normal numbers; scratch [m]. */
int body_controls_draw(const struct body_controls *controls, enum body_controls_output which,
                       const double *x, size_t m, const double *normal, double *out,
                       double *scratch, struct error *err);

/* Whether rows x[m][d] all lie in the hull (as above) of known ones [n][d], its leverage taken
 * `wider` times (1: as it is). Few known ones have a hull that many of their like lie outside of.
 */
int body_controls_inside(const double *x, size_t m, const double *known, size_t n, size_t d,
                         double wider);

/* The runs themselves: outputs [n][BODY_OUTPUTS] (the stiffness as its logarithm), NAN where a row
 * was left out. Borrowed. */
const double *body_controls_runs(const struct body_controls *controls);
/* The same for keeping: known of the next time. Borrowed. */
const struct body_controls_known *body_controls_keep(const struct body_controls *controls);

#endif
