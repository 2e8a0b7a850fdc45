/* control: undoing the stretch of a film or photo from points whose true place is known.
 *
 *     struct control_map map;
 *     control_fit(&map, &fit, &control, arena, err);
 *     control_apply(&map, &x, &y);
 */
#ifndef RELICT_RECORD_CONTROL_H
#define RELICT_RECORD_CONTROL_H

#include "record/import.h"

struct control_map {
    double a[6];         /* x' = a0 + a1 x + a2 y, y' = a3 + a4 x + a5 y */
    size_t n;            /* spline terms, 0 for affine */
    const double *x, *y; /* [n] their centres */
    double *wx, *wy;     /* [n] their weights */
};

/* Least-squares affine map, or the thin-plate spline through all points (Bookstein 1989, IEEE
 * Transactions on Pattern Analysis and Machine Intelligence 11, 567-585). ERR_MISSING with too few
 * points, ERR_INPUT when they stand on one line. */
int control_fit(struct control_map *out, struct control_fit *fit, const struct control *control,
                struct arena *arena, struct error *err);

void control_apply(const struct control_map *map, double *x, double *y);

#endif
