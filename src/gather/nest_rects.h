/* nest_rects: a strip filled with rectangles (inside gather only).
 *
 * Laths, panels and strips are rectangles along the grain; where all parts are, the general layout
 * is not needed. A sequence is laid on the skyline: the lowest stretch of it takes the part that
 * fits it best, by a score of exact fits (Leung, Zhang & Sim, Eur. J. Oper. Res. 215, 2011, 57);
 * sequences are improved by simulated annealing (Kirkpatrick, Gelatt & Vecchi, Science 220, 1983,
 * 671). Deterministic for the table's random numbers; effort is counted in sequences laid.
 */
#ifndef RELICT_GATHER_NEST_RECTS_H
#define RELICT_GATHER_NEST_RECTS_H

#include "gather/nest_build.h"

/* Whether every item of the list is a rectangle along the axes. */
bool nest_all_rects(const struct table *t, const size_t *list, size_t n);

/* Lays the rectangles list[n] into the table's box as far left as it can, none nearer the box's
 * left side than it, and tells the length; items get their places (not `placed`). NAN when memory
 * is gone or one is wider than the box. */
double nest_rects(struct table *t, const size_t *list, size_t n);

#endif
