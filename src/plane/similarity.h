/* similarity: the turn, shift and scale that best lay one set of points on another.
 *
 * y = scale R x + shift, least squares (Umeyama, IEEE Trans. PAMI 13 (1991) 376-380). In the plane
 * the singular value decomposition has a closed form, used here. A piece may have been turned over:
 * ask for the mirrored fit too and compare the misfits.
 */
#ifndef RELICT_PLANE_SIMILARITY_H
#define RELICT_PLANE_SIMILARITY_H

#include "base/error.h"
#include "plane/point.h"

#include <stdbool.h>

struct plane_similarity {
    double scale;
    double angle;             /* rad, counter-clockwise; applied after the mirror */
    bool mirrored;            /* y of the source reversed first */
    struct plane_point shift; /* mm */
    double squares;           /* mm²: sum of squared misfits (weighted, when weights were given) */
    double rms;               /* mm: root of squares/n */
};

struct plane_similarity_options {
    const double *weights; /* [n], > 0; NULL: all alike */
    bool mirrored;         /* fit with the source turned over */
    bool rigid;            /* scale kept at 1 */
};

/* Fits n >= 2 points, not all in one place. options may be NULL. ERR_SOLVE when the source points
 * coincide. */
int plane_similarity_fit(struct plane_similarity *out, const struct plane_point *from,
                         const struct plane_point *to, size_t n,
                         const struct plane_similarity_options *options, struct error *err);

struct plane_point plane_similarity_map(const struct plane_similarity *s, struct plane_point p);

#endif
