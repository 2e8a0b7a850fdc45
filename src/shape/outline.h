/* outline: the closed outline from what is left of its edge, over all families at once.
 *
 * Evidence of every kind goes into one likelihood of a row: edge arcs in place with waviness that
 * is correlated along the edge, loose arcs laid anywhere along the edge, chord and rise, straight
 * runs, corners, stitch rows inside the edge, pieces that lie inside, midline, sizes, laths that
 * must fit. The family is a discrete root of the ensemble, the numbers of a form are continuous
 * roots, and num_rows_condition does the inference, so each outline stays paired with the shrinkage
 * its row was reckoned with. Sizes are those of one state (fresh, or new and dry): evidence
 * measured in another names the columns that bring it there.
 *
 *     struct shape_outline_model *model;
 *     shape_outline_model_new(&model, evidence, n, &options, err);
 *     shape_outline_condition(model, rows, &report, err);
 *     shape_outline_read(&outline, model, rows, arena, err);
 *
 * The model must live as long as the rows it was conditioned into (they call its likelihood).
 */
#ifndef RELICT_SHAPE_OUTLINE_H
#define RELICT_SHAPE_OUTLINE_H

#include "base/arena.h"
#include "base/field.h"
#include "num/rows.h"
#include "plane/point.h"
#include "shape/family.h"
#include "statement/statement.h"

#include <stdbool.h>

/* ---- evidence -------------------------------------------------------------------------------- */

enum shape_evidence_what {
    SHAPE_EDGE,     /* points of the edge, in place: an arc, in order along the edge */
    SHAPE_STITCHES, /* points of a row `offset` mm inside the edge, in place, in order */
    SHAPE_LOOSE,    /* points of an arc in their own frame, in order; its place is unknown */
    SHAPE_RISE,     /* `chord` and rise `value` of an edge piece whose place is unknown */
    SHAPE_STRAIGHT, /* a piece `chord` mm long whose rise is under `value` */
    SHAPE_CORNER,   /* the tightest corner has radius `value` */
    SHAPE_INSIDE,   /* points of pieces that lie inside the edge */
    SHAPE_MIDLINE,  /* the long axis has direction `angle` */
    SHAPE_LENGTH,   /* whole length `value` (at_least: a minimum) */
    SHAPE_WIDTH,    /* whole width `value` (at_least: a minimum) */
    SHAPE_CHORD,    /* edge to edge `value` along `angle` through the one point given */
    SHAPE_LATH,     /* a lath `value` long lies across, `offset` short of the edge at either end */
    SHAPE_EVIDENCE_KINDS
};
extern const char *const shape_evidence_words[];

/* One reading. mm, rad; NAN, NULL, -1 and FIELD_UNKNOWN where not given. */
struct shape_evidence {
    const char *id;    /* of the mark or measure: named in exclusions */
    const char *entry; /* kind of that entry, for the chain: "measure" (when NULL), "mark" ...;
                          "": none, a choice of frame that says nothing of the object */
    const char *guess; /* id of the statement by which alone it bears on the outline; NULL: seen */
    long what;         /* enum shape_evidence_what */
    struct tuples points; /* [n][2] mm */
    double value, chord;
    double u;        /* ±: pointing at edge points (preset 0.7), or of `value`; rad of `angle` */
    double offset;   /* stitches, chord, lath: mm inside the edge */
    double angle;    /* midline, chord: counter-clockwise from x of the plan */
    double pieces;   /* inside: how many independent pieces the points belong to */
    int at_random;   /* inside, edge, stitches: what is there survived anywhere alike */
    int at_least;    /* length, width, chord: a minimum (broken) */
    int wavy;        /* rise, straight: 1 for a cut edge that waves; rods do not (preset 0) */
    int turned_over; /* loose: may have been turned over (preset 0) */
    const char *along, *around; /* columns of the rows: factor from the measured state to the state
                                   of the outline, along and square to `grain`; NULL: 1 */
    double grain;               /* rad: direction of `along` in the plan (points); NAN: 0 */
};
extern const struct kind shape_evidence_kind;

/* ---- options --------------------------------------------------------------------------------- */

struct shape_outline_options {
    double centre_sd; /* mm: prior of the centre about the centroid of the points */
    double half_length, half_length_sd; /* mm, log: lognormal prior */
    double ratio_low;                   /* width over length is even from this to 1 */
    double exponent, exponent_sd;       /* superellipse: lognormal */
    double wave, wave_sd;               /* mm, log: the maker's waviness */
    double wave_length, wave_length_sd; /* mm, log: how far a wave reaches along the edge */
    double row_wave, row_wave_sd;       /* mm, log: waviness of stitch rows */
    double roughness, roughness_sd;     /* Fourier: sd of order k is roughness k^-1.7; log */
    double alike, unlike; /* chance that both ends, and that both sides, are alike; else ln of their
                             ratio is about `unlike` times 0.4 on average */
    double unlike_square; /* the same of the exponents of a superellipse's halves */
    int outliers;         /* 1: Student t, 4 degrees, in place of the normal */
    unsigned families;    /* bit of each family to be tried; 0: all */
    const char *prefix;   /* of column names; NULL: "outline" */
};
extern const struct kind shape_outline_options_kind;
struct shape_outline_options shape_outline_options_default(void);

/* ---- model ----------------------------------------------------------------------------------- */

struct shape_outline_model;

/* Checks and compiles the evidence (copied). Refuses (ERR_REFUSED) what cannot give an outline: no
 * edge at all, two points, a straight edge alone; the remedy says what would be needed. */
int shape_outline_model_new(struct shape_outline_model **out, const struct shape_evidence *evidence,
                            size_t n, const struct shape_outline_options *options,
                            struct error *err);
void shape_outline_model_free(struct shape_outline_model *model);

/* Makes the roots <prefix>.family, .x, .y, ... in the rows and conditions them. */
int shape_outline_condition(struct shape_outline_model *model, struct num_rows *rows,
                            struct num_report *report, struct error *err);

/* The form of row i. Ready for use. */
struct shape_form shape_outline_form(const struct shape_outline_model *model,
                                     const struct num_rows *rows, size_t i);

/* Log-likelihood of reading k alone in row i (exclusions, misfits). */
double shape_outline_reading(const struct shape_outline_model *model, const struct num_rows *rows,
                             size_t i, size_t k);

/* ---- what follows ---------------------------------------------------------------------------- */

enum { SHAPE_BAND = 120 }; /* directions */

struct shape_band {           /* radii from `centre` of the outline, one a direction, mm */
    double low, middle, high; /* pointwise 5 %, 50 %, 95 % */
    double low_all, high_all; /* holds the whole outline in 9 of 10 draws */
};

struct shape_family_share {
    enum shape_family family;
    double probability;
    double log_evidence; /* ln of mean likelihood given the family, less that of the best */
    bool excluded;       /* probability under 0.01 */
    const char *by;      /* reading that tells most against it; NULL */
    double by_log_ratio; /* by how much, ln, against the others' average */
    struct spread length, width;
    double unlike_ends, unlike_sides; /* chance, given the family, that the halves of its length, of
                                         its width differ by more than a twentieth; 0 for families
                                         whose halves are alike */
};

struct shape_next { /* one more measurement and what it would do */
    const char *what;
    double narrows; /* expected share by which the mean band width falls */
    bool touches;   /* the original has to be handled */
};

struct shape_misfit {
    const char *id;
    double log_like; /* mean over the draws */
    double z;        /* how far off in standard deviations in the draw that suits it best of 100 */
};

struct shape_outline {
    bool placed;                        /* some reading says where the outline lay */
    struct plane_point centre;          /* of the band; without a place 0 */
    struct shape_band band[SHAPE_BAND]; /* direction 2 pi i/SHAPE_BAND from x */
    double band_width;                  /* mean width of the 90 % band over the mean length */
    struct spread length, width, perimeter, area, turn;
    size_t n_families;
    struct shape_family_share family[SHAPE_FAMILIES]; /* likeliest first */
    bool decided;     /* the first has probability above 0.95 and 30 % of the edge is there */
    double edge_seen; /* share of the perimeter that evidence lies on */
    size_t n_next;
    struct shape_next *next; /* best first */
    double log_evidence, effective;
    int stages;
    double accepted;
};

int shape_outline_read(struct shape_outline *out, const struct shape_outline_model *model,
                       const struct num_rows *rows, struct arena *arena, struct error *err);

/* Derived columns <prefix>.length, .width, .perimeter, .area in the rows, for other rooms. */
int shape_outline_columns(const struct shape_outline_model *model, struct num_rows *rows,
                          struct error *err);

/* ---- stage ----------------------------------------------------------------------------------- */

struct shape_outline_input {
    size_t n;
    const struct shape_evidence *evidence;
    struct shape_outline_options options;
    const char *state; /* "fresh" or "new and dry": what the sizes are */
};

struct shape_outline_result {
    struct shape_outline main;  /* as flagged: pieces at random or not */
    bool has_other;             /* there are pieces inside: the other assumption too */
    struct shape_outline other; /* with the survival term switched */
    bool main_at_random;
    bool has_guess;            /* some readings bear on it by a guess alone */
    bool bare_refused;         /* without them nothing can be said: why_refused says why */
    struct shape_outline bare; /* without them, on a quarter of the draws */
    const char *why_refused;
    struct shape_outline_model *model; /* owned by the result: free after the rows */
};

/* The stage: evidence -> outline columns in the rows and statements "outline.length" and so on.
 * Free result->model with shape_outline_model_free when the rows are gone. */
int shape_outline_stage(struct shape_outline_result *out, const struct shape_outline_input *input,
                        struct num_rows *rows, struct statement_set *said, struct arena *arena,
                        struct error *err);

#endif
