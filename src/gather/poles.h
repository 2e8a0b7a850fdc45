/* poles: laths, rods and rims cleft from poles, from the butt up.
 *
 * A pole is sawn into bolts; each bolt is cleft along the grain into rows of blanks on both sides
 * of the pith, and the blanks are shaved. How many a bolt gives is geometry of its thin end; how
 * many of those can be used is makers' practice. The largest blanks are taken first, from the
 * thickest wood. Nothing is proved to be least waste: a pole narrows, so that a bolt is worth more
 * lower down, and that rule people follow by hand. Lengths alone are cut best by cutting.h. Pure.
 */
#ifndef RELICT_GATHER_POLES_H
#define RELICT_GATHER_POLES_H

#include "gather/need.h"
#include "gather/stem.h"

struct pole_options {
    double saw;    /* mm lost to a saw cut across: 3 (common practice, no source) */
    double cleft;  /* mm lost to a cleft face and its shaving: 2 (common practice, no source) */
    double usable; /* share of cleft blanks that become laths: 0.67, of 0.60 to 0.75 (R46) */
    double bark;   /* mm of a pole whose bark nobody measured: 2 (common practice, no source) */
};
struct pole_options gather_pole_options(void);

/* Blanks of width x thickness in a round of wood, rows parallel to the width on both sides of the
 * pith, none through it: a row with its outer face at y from the pith has the chord
 * 2 sqrt(R^2 - y^2) (geometry). All mm; 0 when none fits. */
long gather_pole_blanks(double diameter, double width, double thickness, double cleft);

/* One bolt: what lies between two saw cuts. */
struct pole_bolt {
    size_t stem, need;   /* index into what was given */
    double from, length; /* mm above the lower end of the clear length */
    double thin_end;     /* mm of wood across there */
    long blanks;
    double usable;      /* expected */
    const char *serves; /* the parts that it gives, by name: "lath.4, lath.6" */
};

struct pole_plan {
    size_t n;
    struct pole_bolt *bolt;
    size_t poles;
    size_t *pole;      /* [poles] stems that were looked at */
    double *left;      /* [poles] mm of clear length over */
    double *used;      /* [poles] share of its wood that is in usable blanks */
    const char **none; /* [poles] why it gives nothing; "" when it gives something */
    double *missing;   /* [needs] pieces wanted that no pole gives; 0 for what is not cut so */
    const char *say;   /* which poles were left out, what is missing and what would give it */
};

/* Cleaves the sticks of a need list (laths, rods, rims, grips, pegs) from the poles, cut and thrown
 * stems of their genus whose owner agreed; faults end a bolt. A round stick (as thick as wide) is
 * taken whole from wood of its own thickness, not cleft. Errors: ERR_MEMORY. */
int gather_poles(struct pole_plan *out, const struct need_list *needs, const struct stem *stems,
                 size_t n_stems, const struct stem_fault *faults, size_t n_faults,
                 const struct pole_options *options, struct arena *arena, struct error *err);

/* mm of wood across a stem at a height above ground, bark taken off. */
double gather_wood_across(const struct stem *stem, double height, double bark);

/* Whether a need is cleft from a pole or is a shoot in the round. */
bool gather_is_stick(const struct need *need);

/* Whether two names are of one genus; false when one is unknown. */
bool gather_same_genus(const char *a, const char *b);

#endif
