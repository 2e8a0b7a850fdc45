/* need: what has to be got for a making.
 *
 * Goes through the parts of one making and lists sheets, laths, rods, rims, pegs, strips, cord and
 * paint: how many, how large when fresh with trim, of which species, with a stated surplus. Cord
 * follows the path of the stitches; paint the area and the coats. Sizes that are new and dry are
 * brought to the fresh state by shrinkage the caller gives (medians of the possible originals) or,
 * where it gives none, by the tables, which is said beside the number. Pure; memory from the arena.
 */
#ifndef RELICT_GATHER_NEED_H
#define RELICT_GATHER_NEED_H

#include "gather/stock.h"
#include "making/making.h"
#include "stuff/table.h"

enum stitch { STITCH_WRAPPED, STITCH_RUNNING, STITCH_DOUBLE };
extern const char *const stitch_words[];

/* Cord of n stitches. Wrapped: once round the section and on to the next hole, perimeter + pitch
 * (trade reference R54). Running: over and under, pitch + thickness of what is sewn. Double
 * running: twice that. `waste` (0.30) is for joins and ends. mm; NAN when something is unknown. */
double gather_cord_length(enum stitch stitch, double n, double pitch, double perimeter,
                          double thickness, double waste);

/* Perimeter of what a wrapped rim stitch goes round: two half-round rods of this width and height
 * with a sheet between, mm. Half ellipses by Ramanujan's second approximation (1914). */
double gather_rim_perimeter(double width, double height, double sheet);

/* Length of rod in a flat coil from radius r to R at a round pitch p: pi (R^2 - r^2)/p (R38); on a
 * cone of slant s: pi R s/p (R39). */
double gather_coil_length(double inner_radius, double outer_radius, double pitch);
double gather_cone_length(double edge_radius, double slant, double pitch);

/* Dry paint, g, for an area in mm2. */
double gather_paint(double area, double coats, double grams_per_m2);

struct need_options {
    double shrink_around, shrink_along, shrink_through; /* of bark; NAN: from the tables */
    double trim_around, trim_along;                     /* mm on each side of a sheet: 25 and 50 */
    double rod_trim;                                    /* mm on each end of a lath or rod: 20 */
    double surplus_sheet, surplus_rod, surplus_bast;    /* factors: 2, 1.5, 1.5 (R20) */
    double waste;                                       /* of cord: 0.30 (R54) */
    double paint_per_m2;                                /* g a coat: 70, of 40 to 100 (R95) */
    long stitch;                                        /* enum stitch */
    const struct stuff_shelf *shelf; /* NULL: no tables, sizes without shrinkage stay as they are */
};
/* With the figures above. */
struct need_options gather_need_options(void);

struct need {
    const char *part; /* id */
    const char *what; /* sheet, lath, rod, rim, strip, cord, peg, grip, paint */
    const char *species;
    double number;                   /* needed */
    double length, width, thickness; /* mm, fresh, with trim; NAN where there is none */
    double total;                    /* mm of cord, g of paint; else NAN */
    const char *unit;                /* of total */
    double surplus;                  /* factor */
    double get;                      /* number (or total) to get, with surplus */
    const char *rests_on;            /* what brought it to the fresh state */
    struct tuples
        outline;   /* of a sheet: closed outline when fresh with trim round it, grain along x */
    long standing; /* enum standing of the weakest figure */
};
extern const struct kind need_kind;

struct need_list {
    size_t n;
    struct need *need;
    double sheet_area; /* mm2 of bark, fresh, without surplus */
    const char *say;   /* what could not be reckoned and why */
};

/* What of a need is in hand: whole pieces of the same kind and species (genus) that are large
 * enough fresh, each counted once: used[n_stock], pieces taken of each item so far. What is kept
 * for a named use is told in `say` and not counted. */
struct need_in_hand {
    double number, still; /* pieces that serve; what is still to be got */
    const char *say;      /* "S1 would do, but is kept for: trials"; "" */
};
int gather_need_in_hand(struct need_in_hand *out, const struct need *need,
                        const struct stock_item *stock, size_t n_stock, long *used,
                        struct arena *arena, struct error *err);

int gather_need_list(struct need_list *out, const struct makings *all, const char *making,
                     const struct need_options *options, struct arena *arena, struct error *err);

#endif
