/* stem: where sheet bark comes from, what it costs the tree, and what else could be done.
 *
 * Holds the kinds a person enters about stems (stem, stem_fault, test_peel, stem_visit), turns a
 * finished sheet into the girth it needs, lists every way to get it with its harm, its flattening
 * strain and its season, and reads later visits. It chooses nothing. All rules are starting ranges
 * from makers' and foresters' practice (trade reference R01-R15, R107; tree table), to be replaced
 * by the team's own; they say nothing about what is allowed: local law, the owner and licensed
 * people decide. Pure, thread-safe; memory from the arena.
 */
#ifndef RELICT_GATHER_STEM_H
#define RELICT_GATHER_STEM_H

#include "base/field.h"
#include "gather/nest.h"

enum stem_kind { STEM_LIVING, STEM_POLE, STEM_CUT, STEM_THROWN };
extern const char *const stem_kind_words[]; /* living tree, coppice pole, cut stem, wind-thrown */

enum consent {
    CONSENT_NOT_ASKED,
    CONSENT_ASKED,
    CONSENT_GIVEN,
    CONSENT_REFUSED,
    CONSENT_WITHDRAWN
};
extern const char *const consent_words[];

struct stem {
    const char *id;
    const char *species;
    long kind;             /* enum stem_kind */
    double girth;          /* mm over bark, at girth_height */
    double girth_height;   /* mm above ground; 1,300 unless said */
    double clear_from;     /* mm above ground where usable bark begins */
    double clear_length;   /* mm of clean stem above that */
    double taper;          /* mm of diameter lost per m of height */
    double bark_thickness; /* mm; unknown: the allometric range of the bark tables */
    const char *health;
    const char *owner; /* private: may be blotted out */
    long consent;      /* enum consent */
    const char *place; /* kept coarse: "wood north of the mill" */
    const char
        *approval; /* who approved taking more than a quarter of the girth, by name and date */
    const char *nests_checked; /* date */
    const char *note;
};

enum fault_kind { FAULT_BRANCH, FAULT_FISSURE, FAULT_SCAR, FAULT_KNOT, FAULT_ROT, FAULT_OTHER };
extern const char *const fault_words[];

/* A place on the stem no part may use. */
struct stem_fault {
    const char *id;
    const char *stem;
    long kind;
    double height; /* mm above ground, lower end */
    double around; /* mm round the stem over bark, from the chalk line, to its left edge */
    double length; /* mm along */
    double width;  /* mm around */
};

enum slip { SLIP_NO, SLIP_PART, SLIP_YES };
extern const char *const slip_words[];

/* A small flap lifted to see whether the bark slips. */
struct test_peel {
    const char *id;
    const char *stem;
    const char *date;
    long slips;  /* enum slip */
    int drought; /* dry weeks before: slipping stops early */
    int bends;   /* the flap bent both ways without splitting or layers parting (R07) */
    const char *note;
};

enum crown { CROWN_FULL, CROWN_THIN, CROWN_TWIGS, CROWN_DYING };
extern const char *const crown_words[];

/* A look at the wound in a later year. */
struct stem_visit {
    const char *id;
    const char *stem;
    const char *date;
    double wound_width;               /* mm of open wood at the widest */
    double callus_left, callus_right; /* mm grown in from each side */
    double callus_foot;               /* mm up from the foot */
    long crown;
    const char *note;
};

extern const struct kind stem_kind_kind, stem_fault_kind, test_peel_kind, stem_visit_kind;

/* ---- sheet ---------------------------------------------------------------------------------- */

/* A finished sheet and how it is to be cut. */
struct sheet_want {
    double around, along;               /* mm, new and dry: across and along the grain */
    double shrink_around, shrink_along; /* fraction of the fresh size */
    double trim_around, trim_along;     /* mm added on each side */
    double thickness;                   /* mm of fresh bark */
};

/* Fresh size of bark to take, mm at mid thickness, rounded up to whole mm: finished/(1 - shrink) +
 * 2 trim (trade reference R13). */
int gather_sheet_cut(double *around, double *along, const struct sheet_want *want,
                     struct error *err);

/* What R09 says of a share of girth taken down to the wood. */
enum harm { HARM_NONE, HARM_RECOVERS, HARM_DAMAGED, HARM_POOR, HARM_DIES, HARM_STOOL };
extern const char *const harm_words[];
enum harm gather_harm(enum stem_kind kind, double share);

enum permit { PERMIT_OWNER, PERMIT_APPROVAL, PERMIT_REFUSED };
extern const char *const permit_words[];
/* Up to 25 % of girth of a living tree: the owner's consent; to 50 %: a named approval as well;
 * over: refused. Other stems: the owner's consent. */
enum permit gather_permit(enum stem_kind kind, double share);

/* Closing rate of wounds, mm of width a year, both edges together: how slow, usual, how fast. */
struct closing {
    double slow, usual, fast;
    const char *source;
};
extern const struct closing gather_closing_default;

/* One way to get the sheet. */
struct stem_route {
    const char *what;   /* "Living tree, a quarter of the girth" */
    const char *kind;   /* word of enum stem_kind */
    double pieces;      /* sheets it is made of: 2 with a seam */
    double share;       /* of the girth */
    double girth_mid;   /* mm needed at mid thickness */
    double girth;       /* mm over bark */
    double diameter;    /* mm over bark */
    double strain;      /* of flattening, fraction: thickness over diameter */
    double wound_width; /* mm of fresh sheet, open wood; 0 for a stem that is cut */
    double close_usual, close_fast, close_slow; /* years to close */
    const char *harm, *permit, *conflict;
};

enum { STEM_ROUTES = 8 };
/* All ways, the gentlest first for nobody: in a fixed order, none preferred. */
int gather_stem_routes(struct stem_route *out, size_t *n, const struct sheet_want *want,
                       const struct closing *closing, struct arena *arena, struct error *err);

/* Why without this consent (enum consent) nothing may be taken, a sentence and a blank; "" where it
 * is given. */
const char *gather_consent_gap(long consent);

/* Can this stem give it? */
struct stem_answer {
    double around, along; /* mm of bark to take, fresh */
    double top_girth_mid; /* mm at mid thickness at the upper end of the sheet */
    double share;         /* of that girth; over 1: the stem is too thin for one sheet */
    double strain;
    double wound_width, close_usual, close_fast, close_slow;
    long fits; /* whether girth and clear length suffice and the share is not refused */
    const char *harm, *permit, *conflict;
    const char *say; /* sentences: what stands in the way, what could be done instead */
};
int gather_stem_answer(struct stem_answer *out, const struct stem *stem,
                       const struct sheet_want *want, const struct closing *closing,
                       struct arena *arena, struct error *err);

/* ---- the unrolled stem ----------------------------------------------------------------------- */

/* The stem's bark laid flat, grain along x from the lower end, at mid thickness, narrowing with the
 * taper; `share` of the girth (1: the whole sleeve). The opening cut (or the strip) is turned round
 * the stem to where it meets the fewest faults; *start gets its place in mm round the stem over
 * bark. */
int gather_stem_unroll(struct nest_sheet *out, double *start, const struct stem *stem,
                       const struct stem_fault *fault, size_t faults, double share,
                       struct arena *arena, struct error *err);

/* ---- later years ------------------------------------------------------------------------------
 */

enum healing { HEALING_EXPECTED, HEALING_SLOW, HEALING_FAST, HEALING_OPEN };
extern const char *const healing_words[];

struct healing_fit {
    double rate;        /* mm of width a year, both edges together */
    double low, high;   /* 95 %; infinite with two visits */
    double start_width; /* mm at the first visit, fitted */
    double years_left;  /* from the last visit until closed at the fitted rate; INFINITY */
    double last_width;  /* mm, measured */
    enum healing word;
    size_t visits;
};
/* Straight line through the widths (least squares), against the closing rate of the tables. Errors:
 * ERR_MISSING under two visits on different days. */
int gather_healing(struct healing_fit *out, const struct stem_visit *visit, size_t n,
                   const struct closing *closing, struct error *err);

/* What test peels of one stem or species say. */
struct slip_season {
    const char *first, *last; /* first and last day on which bark slipped; NULL: never yet */
    const char *before;       /* last day before `first` on which it did not */
    long tried;
    int drought; /* a failure in drought: try again after rain */
};
int gather_slip(struct slip_season *out, const struct test_peel *peel, size_t n, struct error *err);

#endif
