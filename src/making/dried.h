/* dried: a making new and dry, from the sizes it is cut to.
 *
 * Parts whose sizes hold fresh lose what drying takes: the sheet by its own directions in the plan
 * and through its thickness; rods, laths and bars across their grain (along it wood keeps its
 * length); what lies on the sheet moves with it. Parts whose sizes hold dry already stay.
 */
#ifndef RELICT_MAKING_DRIED_H
#define RELICT_MAKING_DRIED_H

#include "base/arena.h"
#include "making/making.h"

/* Shares of the fresh size left when dry, 1: nothing is lost. */
struct making_left {
    double x, y, through; /* of the sheet, by the axes of the plan, and of its thickness */
    double wood;          /* of wood across its grain */
};

/* ERR_MEMORY or 0. */
int part_dry(struct part *part, const struct making_left *left, struct arena *arena);

/* All parts dried; everything else is borrowed from `all`. */
int makings_dry(struct makings *out, const struct makings *all, const struct making_left *left,
                struct arena *arena, struct error *err);

#endif
