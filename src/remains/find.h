/* find: the surviving pieces, what was seen on them and what was measured, as a person enters it.
 *
 * Plain structs with a kind each; a `struct find` is one snapshot of them all, handed to stages.
 * Nothing here computes. Sizes in mm, angles in rad inside (degrees at the edge).
 *
 * Reading a ±: the half-width of the 5 % to 95 % range unless the measure says otherwise
 * (`tolerance_means`); its standard deviation as a normal error is ± / 1.645.
 */
#ifndef RELICT_REMAINS_FIND_H
#define RELICT_REMAINS_FIND_H

#include "base/field.h"
#include "statement/statement.h"

/* When something was measured, or for when it is reckoned. Sizes in different states are never
 * added or averaged. */
enum state {
    STATE_IN_GROUND,
    STATE_WET,     /* wet in lab */
    STATE_TREATED, /* after treatment (which: see `treatment`) */
    STATE_DRIED,   /* dried before treatment */
    STATE_PART_DRIED,
    STATE_TRIAL_DAY,   /* trial day n (see `day`) */
    STATE_FRESH,       /* reckoned: as cut, green */
    STATE_NEW_AND_DRY, /* reckoned: as first used */
    STATE_COUNT
};
extern const char *const state_words[];

enum direction { DIRECTION_ALONG, DIRECTION_AROUND, DIRECTION_THROUGH, DIRECTION_ACROSS };
extern const char *const direction_words[]; /* across: nobody knows which of around and through */

enum face { FACE_OUTER, FACE_INNER, FACE_BETWEEN };
extern const char *const face_words[];

/* What a thing is made of, coarsely: decides which alteration may be applied to it. */
enum substance {
    SUBSTANCE_SPLIT_WOOD,
    SUBSTANCE_ROUND_WOOD,
    SUBSTANCE_BARK,
    SUBSTANCE_BAST,
    SUBSTANCE_HIDE,
    SUBSTANCE_COIL,   /* coiled work: foundation and stitch */
    SUBSTANCE_COLOUR, /* a patch of paint or stain */
    SUBSTANCE_TRACE,  /* a dent, a shadow: no material of its own */
    SUBSTANCE_MIXED,  /* the object as a whole */
    SUBSTANCE_COUNT
};
extern const char *const substance_words[];

/* How an end or edge of a piece looks: whole ends give sizes, the others give minimums. */
enum end { END_WHOLE, END_BROKEN, END_TORN, END_WORN };
extern const char *const end_words[];
/* Broken, torn and worn ends make a length a minimum; so does an end nobody described. */
bool end_is_whole(long end);

struct piece {
    const char *id;          /* "A01" */
    const char *part;        /* what it is taken for: "cross lath", "rim rod (half-round)" */
    const char *material;    /* as written: "Tilia sp.? / Ulmus sp.? bark" */
    const char *taxon;       /* the name used for tables: "Corylus avellana", "Tilia", "" unknown */
    const char *other_taxon; /* what else it could be */
    long substance;          /* enum substance */
    long confidence;         /* enum confidence of the identification */
    const char *zone;        /* "W", "head": same burial and treatment */
    double belongs;          /* probability that it belongs to the object; presets to 0.99 */
    int shape_only;          /* 1: no scale; kept as shape, out of every sum */
    const char *same_as;     /* the piece of which this is a second reading */
    struct texts joins;      /* pieces it joins at a break */
    double ring_angle;       /* rad between growth rings and the wide face, split wood */
    long face_up;            /* enum face seen when drawn */
    const char *note;        /* the note as written */
    int hidden;              /* 1: private, leave out of what is handed over */
};

enum quantity {
    QUANTITY_LENGTH,
    QUANTITY_WIDTH,
    QUANTITY_THICKNESS,
    QUANTITY_CHORD,
    QUANTITY_SAGITTA, /* rise of an arc over its chord */
    QUANTITY_HOLES,   /* number of holes, dents or shadows in a row */
    QUANTITY_PITCH,   /* spacing of them, centre to centre */
    QUANTITY_HOLE_DIAMETER,
    QUANTITY_ROUNDS, /* rounds of coiled work */
    QUANTITY_ROUND_PITCH,
    QUANTITY_CHAMFER_LENGTH,
    QUANTITY_CHAMFER_ANGLE,
    QUANTITY_SCARF_LENGTH,
    QUANTITY_TONGUE_LENGTH,
    QUANTITY_EDGE_DISTANCE, /* of a row or stripe from the edge */
    QUANTITY_ROW_DISTANCE,  /* between two rows of holes */
    QUANTITY_STITCHES_PER_10_MM,
    QUANTITY_PEG_HOLE_DIAMETER,
    QUANTITY_PEG_HOLE_PLACE, /* distance of a peg hole or lashing dent from the end */
    QUANTITY_HEIGHT,         /* of the crushed whole */
    QUANTITY_MASS,           /* g */
    QUANTITY_MOISTURE,       /* fraction of dry mass */
    QUANTITY_GAP, /* opening of the radial splits at the edge of a piece of sheet, all together */
    QUANTITY_OTHER,
    QUANTITY_COUNT
};
extern const char *const quantity_words[];

/* How the value bounds the truth, besides what the ends say. */
enum bound { BOUND_VALUE, BOUND_AT_LEAST, BOUND_AT_MOST };
extern const char *const bound_words[];

enum tolerance_means { TOLERANCE_RANGE_90, TOLERANCE_ONE_SD, TOLERANCE_RANGE_95, TOLERANCE_LIMITS };
extern const char *const tolerance_words[];

/* One measured number. Value and tolerance stay as written: mm, degrees for an angle, g for a mass,
 * percent for moisture, a plain number for a count. */
struct measure {
    const char *id; /* "A01.length"; a second reading "A01.length.2" */
    const char *piece;
    const char *mark; /* the mark it belongs to, when there is one */
    long quantity;    /* enum quantity */
    double value;
    double tolerance;     /* NAN unknown */
    long tolerance_means; /* enum tolerance_means */
    long bound;           /* enum bound */
    long direction;       /* enum direction; unknown stays unknown */
    long state;           /* enum state */
    const char *treatment;
    long day;              /* of STATE_TRIAL_DAY */
    struct texts ends;     /* words for each end this size runs between, in order of the list */
    struct ints end_kinds; /* enum end of each; empty: not said */
    long face;
    const char *observer;
    const char *date;
    const char *method;
    const char *source;   /* id of the source it was taken from */
    const char *rival_of; /* the measure that this reading contradicts */
    const char *flag;     /* a reservation: "unit of the bar not marked" */
    const char *note;
};

/* Something seen on a piece. */
enum mark_kind {
    MARK_EDGE,
    MARK_HOLE_ROW,
    MARK_HOLE,
    MARK_SLIT,
    MARK_LATH_SHADOW,
    MARK_RIM_SHADOW,
    MARK_SCORE,
    MARK_PAINT,
    MARK_TOOL,
    MARK_CROSSING,
    MARK_WEAR,
    MARK_IMPRESSION,
    MARK_DENT_ROW,
    MARK_TEAR,
    MARK_KNOT,
    MARK_WRAP,
    MARK_OTHER
};
extern const char *const mark_words[];

struct mark {
    const char *id;
    const char *piece;
    long kind;            /* enum mark_kind */
    struct tuples points; /* [n][2] in the piece's own plan, mm */
    long face;
    const char *over, *under; /* crossings: parts or pieces, the upper and the lower */
    const char *fits;         /* the mark, piece or part that left it */
    const char *what;         /* in words: "torn along the stitch row for 3 holes" */
    long confidence;
};

/* Outline of a piece in plan. Frame "as found" is the common plan; "own" is the piece's. */
struct piece_outline {
    const char *id;
    const char *piece;
    const char *frame;
    struct tuples points;  /* [n][2], closed without repeating the first; counter-clockwise */
    struct ints surviving; /* 1 where side i (point i to i+1) is an original edge, else 0 */
    long state;
    const char *source;
    int corrected; /* 1: film stretch undone by control points */
};

/* A record, a publication, a photo, a scan, a person's reply. */
enum source_kind {
    SOURCE_RECORD,
    SOURCE_PUBLICATION,
    SOURCE_PHOTO,
    SOURCE_SCAN,
    SOURCE_REPLY,
    SOURCE_PARALLEL,
    SOURCE_FILE
};
extern const char *const source_words[];

struct source {
    const char *id;
    long kind;         /* enum source_kind */
    const char *title; /* citation, or what it is */
    const char *who;   /* role, not a name, in demos */
    const char *date;
    const char *text;   /* what it says, or the reply in its own words */
    struct texts about; /* pieces, statements it bears on */
    const char *file;   /* stored file's name */
    double bar_length;  /* mm of the scale bar in a photo; NAN none */
    int hidden;
};

/* A person's decision, guess or second view: kept, signed, dated. */
struct choice {
    const char *id;
    const char *about; /* statement or question: "ring.form" */
    const char *value; /* what was chosen or held */
    const char *rival; /* what else it could be */
    const char *reason;
    const char *who, *date;
    long footing;         /* enum footing */
    double p05, p50, p95; /* of a number; NAN when in words */
    const char *unit;
    double probability; /* of the chosen among rivals; NAN */
    const char *source;
};

/* May a piece be touched, and what was done with it. */
struct handling {
    const char *id;
    const char *piece;
    int allowed; /* 1 may be measured by touch, 0 not, -1 nobody asked */
    const char *reason;
    const char *what; /* what was done, or would be done */
    const char *who, *date;
};

/* An alteration measured elsewhere, or a replacement for a table figure (a person's own). */
struct own_alteration {
    const char *id;
    long substance;
    const char *taxon, *zone;
    long from, to; /* enum state */
    long direction;
    double p05, p50, p95; /* fraction lost between the two states */
    const char *source;
};

/* One snapshot, as stages see it. Arrays live in the snapshot's arena. */
struct find {
    struct piece *pieces;
    size_t piece_count;
    struct measure *measures;
    size_t measure_count;
    struct mark *marks;
    size_t mark_count;
    struct piece_outline *outlines;
    size_t outline_count;
    struct source *sources;
    size_t source_count;
    struct choice *choices;
    size_t choice_count;
    struct handling *handlings;
    size_t handling_count;
    struct own_alteration *alterations;
    size_t alteration_count;
};

extern const struct kind piece_kind, measure_kind, mark_kind_kind, piece_outline_kind, source_kind,
    choice_kind, handling_kind, own_alteration_kind;

const struct piece *find_piece(const struct find *find, const char *id);
const struct measure *find_measure(const struct find *find, const char *id);

/* First measure of that quantity on the piece that is not a rival reading; NULL if none. */
const struct measure *find_measure_of(const struct find *find, const char *piece, long quantity);

/* Standard deviation behind the stated tolerance, in the measure's unit; NAN when unknown. */
double measure_sd(const struct measure *m);

/* True when all ends it runs between are whole, so that it is a size and not a minimum. */
bool measure_is_complete(const struct measure *m);

#endif
