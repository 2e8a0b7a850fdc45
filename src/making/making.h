/* making: one complete way of making the object: parts, sizes, order of work.
 *
 * Makings compete. A rival making carries weight; a what-if is a copy with differences and carries
 * none. Every part says in which state its sizes hold, by which statements they stand, and what
 * completes what is missing. Lengths mm, angles rad inside (degrees at the edge), masses g.
 * Plain structs; nothing is owned beyond the arena they were made in.
 *
 * The plan frame of a making: origin at the middle of the sheet, x along the long axis, y up, seen
 * from the outer face. `grain` is the direction of the tree's axis in it, from x.
 */
#ifndef RELICT_MAKING_MAKING_H
#define RELICT_MAKING_MAKING_H

#include "remains/find.h"

enum part_kind {
    PART_SHEET,
    PART_LATH,
    PART_RIM,
    PART_TIE,
    PART_SEAM,
    PART_PEG,
    PART_GRIP,
    PART_CENTRE, /* a coiled or other piece in the middle */
    PART_PAINT,
    PART_KIND_COUNT
};
extern const char *const part_words[];

/* How a lath, rod or centre piece is held. */
enum holding { HOLDING_POCKET, HOLDING_SEWN, HOLDING_TIED, HOLDING_PEGGED, HOLDING_LOOSE };
extern const char *const holding_words[];

/* Which side of the sheet a part lies on. */
enum side { SIDE_OUTER, SIDE_INNER, SIDE_WITHIN, SIDE_BOTH };
extern const char *const side_words[];

struct part {
    const char *id; /* "lath.3": kind and number */
    const char *making;
    long kind;        /* enum part_kind */
    const char *name; /* for people: "third lath from the left" */
    const char *taxon;
    long substance;                  /* enum substance */
    long state;                      /* of the sizes: fresh or new and dry */
    double length, width, thickness; /* mm; a rod's length is along it */
    double diameter;                 /* outer diameter of a rod, ring or hole; NAN */
    double inner_diameter;           /* of a ring */
    double height;                   /* a cone's, from its edge to its point */
    struct tuples points;  /* [n][2]: outline of a sheet (closed), path of a lath, rod, seam */
    double angle;          /* of its long axis or a grip, from x */
    double x, y;           /* its middle in the plan */
    long side;             /* enum side */
    long holding;          /* enum holding */
    double grain;          /* of a sheet: direction of the tree's axis, from x */
    double natural_radius; /* of a sheet: radius of the stem it came from; of a rod: its own bend */
    double pitch;          /* spacing of ties, stitches, rounds */
    long count;            /* stitches, ties, rounds, pegs */
    long group;            /* stitches in a group; 1: even */
    double hole;           /* diameter of the holes it needs */
    double edge_distance;  /* of a seam or stripe from the edge */
    double chamfer;        /* angle at a grip's seat */
    double clearance;      /* of a pocket; way of loose ties before they pull */
    double coats;          /* of paint */
    double cut;            /* depth of the slits by which a pocket is entered, mm */
    double friction;       /* coefficient of a lath in its pocket; NAN or 0: it slides freely */
    double cork;           /* share of the thickness that is cork: 0 scraped */
    struct tuples cork_at; /* [n][4]: x, y, radius of an area, share of the cork left there */
    struct tuples thickness_at;                           /* [n][3]: x, y, thickness read there */
    double fissure_depth, fissure_spacing, fissure_width; /* of a sheet's outer face */
    const char *colour;                                   /* of paint, as a word */
    struct texts pieces;     /* surviving pieces taken to be of this part */
    struct texts statements; /* that give its sizes */
    long footing;            /* enum footing of its being there */
    const char *rule;        /* by which it was completed, "mirrored from lath.2" */
    const char *rival;
};

struct step {
    const char *id;
    const char *making;
    long number;      /* order among steps; equal numbers may go side by side */
    const char *what; /* "Push the laths between the layers." */
    struct texts parts;
    struct texts after;                /* steps that must come first */
    double moisture_min, moisture_max; /* of the sheet, fraction; NAN: any */
    double hours;                      /* of work */
    double days;                       /* of waiting */
    const char *measure;               /* what to measure then */
    const char *right;                 /* what value is right */
    const char *if_not;                /* what to do otherwise */
    struct texts cautions;             /* hazards, keys of data/cautions.csv */
    struct texts statements;           /* evidence for its place in the order */
    long footing;
};

struct making {
    const char *id;
    const char *title;
    double weight;          /* probability among rivals; NAN for a what-if */
    const char *copy_of;    /* of a what-if */
    const char *difference; /* in words */
    const char *purpose;    /* display copy, trial, experiment */
    const char *who, *date, *reason;
};

/* Makings with their parts and steps, as stages see them. */
struct makings {
    struct making *makings;
    size_t making_count;
    struct part *parts;
    size_t part_count;
    struct step *steps;
    size_t step_count;
};

extern const struct kind making_kind, part_kind_kind, step_kind;

/* The making of greatest weight, NULL when there is none. */
const struct making *makings_leading(const struct makings *all);
const struct making *makings_find(const struct makings *all, const char *id);

/* The next part of `making` after `previous` (NULL: the first) that is of `kind` (-1: any). */
const struct part *makings_part(const struct makings *all, const char *making, long kind,
                                const struct part *previous);

#endif
