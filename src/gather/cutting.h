/* cutting: lengths from rods, poles and laths with the least stock.
 *
 * One-dimensional cutting stock with a saw kerf and several stock lengths, each with a number in
 * hand. Column generation (Gilmore & Gomory, Operations Research 9, 1961, 849) on whole
 * millimetres gives a lower bound; an integer programme over the patterns found (all maximal
 * patterns when they are few) gives the plan. First-fit decreasing is worked out beside it, to
 * show what the plan saves. Deterministic: the search stops at a fixed number of nodes, never by
 * the clock. Not for sheets: see nest.h.
 *
 *     struct cut_piece piece[] = {{"lath 1", 620, 6}};
 *     struct cut_stock stock[] = {{"pole", 2400, -1}};
 *     struct cut_plan plan;
 *     gather_cut(&plan, piece, 1, stock, 1, 8, arena, err);
 */
#ifndef RELICT_GATHER_CUTTING_H
#define RELICT_GATHER_CUTTING_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>

struct cut_piece {
    const char *name;
    double length; /* mm, above 0; rounded up to whole mm */
    long number;   /* how many are wanted, 0 or more */
};

struct cut_stock {
    const char *name;
    double length; /* mm; rounded down to whole mm */
    long number;   /* in hand; below 0: as many as needed */
};

struct cut_pattern {
    size_t stock;  /* which stock */
    long times;    /* how often it is cut so */
    long *count;   /* [pieces] of each piece in one stock */
    double waste;  /* mm left over of one stock, kerfs included in the loss */
    double offcut; /* mm of the last usable piece */
};

struct cut_plan {
    size_t patterns;
    struct cut_pattern *pattern;
    long used;          /* stocks used */
    double used_length; /* mm of stock used */
    double bound;       /* lower bound of the objective from the linear programme */
    bool proved;        /* no plan can be better (on whole mm) */
    double waste_share; /* 1 - length of pieces / length of stock used */
    long first_fit;     /* stocks that first-fit decreasing needs; -1 when it fails */
    long *missing;      /* [pieces] how many cannot be had from the stock in hand */
    bool complete;      /* nothing is missing */
};

/* Finds a plan that uses the least length of stock (the fewest when all are alike).
 * When the stock in hand cannot give everything, the plan gives as much as it can and `missing`
 * tells the rest: that is an answer, not an error. Errors: ERR_RANGE for a length that is not
 * above 0, ERR_REFUSED for a piece longer than every stock. Cost: some knapsacks of
 * pieces x stock mm, plus an integer programme of at most CUT_NODES nodes. */
int gather_cut(struct cut_plan *out, const struct cut_piece *piece, size_t pieces,
               const struct cut_stock *stock, size_t stocks, double kerf, struct arena *arena,
               struct error *err);

#endif
