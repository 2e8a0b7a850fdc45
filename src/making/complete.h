/* complete: a whole making from what is known, each gap filled by a stated rule.
 *
 * Sizes come from statements ("lath.width.fresh"), the plan from the outline; what neither gives is
 * completed by a rule that says so, with a rival. Every rule used is itself a statement
 * ("making.lath.count"), so that a number on the plan leads back to it. Pure.
 */
#ifndef RELICT_MAKING_COMPLETE_H
#define RELICT_MAKING_COMPLETE_H

#include "making/making.h"

struct making_basis {
    const struct find *find;
    struct statement_set *said; /* read, and added to */
    struct tuples outline;      /* [n][2] likely outline of the flat sheet, fresh, mm: closed,
                                   counter-clockwise, middle at the origin, long axis along x; n = 0
                                   when nothing is known of it */
    double radius;              /* of the stem the sheet came from; NAN unknown */
};

/* Fills `out` with one leading making "proposed" (weight 1), or, where the coiled part has two
 * rival forms, two that share it: "proposed", the likelier, and "proposed.cone" or
 * "proposed.ring". ERR_MISSING without an outline:
 * nothing can be laid out. */
int making_complete(struct makings *out, const struct making_basis *basis, struct arena *arena,
                    struct error *err);

/* Clear width of the outline across at place x: the y at which the line leaves it. False when the
 * line misses it. Of several crossings the lowest and highest count. */
bool making_outline_span(const struct tuples *outline, double x, double *low, double *high);

#endif
