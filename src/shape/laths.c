#include "shape/laths.h"

#include <math.h>

enum { MOST_LATHS = 1000000 }; /* more is a slip of the pen */

int shape_laths_count(struct shape_laths_count *out, const struct shape_laths_find *f,
                      struct error *err) {
    *out = (struct shape_laths_count){-1, -1, -1, 0, -1};
    if (f->cut_ends >= 0) out->by_ends = (f->cut_ends + 1) / 2;
    if (f->total_length > 0 && f->full_length > 0)
        out->by_length = (long)fmin(ceil(f->total_length / f->full_length), MOST_LATHS);
    if (f->spacing > 0 && f->board > 0) {
        double w = f->width > 0 ? f->width : 0;
        if (f->board < w)
            return fail(err, ERR_RANGE, "Check the board's length and the lath's width.",
                        "A board of %g mm is shorter than a lath is wide (%g mm).", f->board, w);
        out->by_spacing = (long)fmin(floor((f->board - w) / f->spacing) + 1, MOST_LATHS);
    }
    if (out->by_ends < 0 && out->by_length < 0 && out->by_spacing < 0)
        return fail(err, ERR_MISSING,
                    "Give cut ends, or total and full length, or spacing and board.",
                    "Nothing is known from which laths could be counted.");
    /* Ends and length are lower limits; the spacing is a hypothesis about the whole board. With
     * ends and length alone there is no upper limit. */
    out->least = 1;
    if (out->by_ends > out->least) out->least = out->by_ends;
    if (out->by_length > out->least) out->least = out->by_length;
    if (out->by_spacing >= 0)
        out->most = out->by_spacing > out->least ? out->by_spacing : out->least;
    return 0;
}

size_t shape_laths_mirror(double *out, const double *place, size_t n, double near) {
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        bool taken = false;
        for (size_t j = 0; j < n; j++)
            taken |= fabs(place[j] + place[i]) <= near;
        for (size_t j = 0; j < k; j++)
            taken |= fabs(out[j] + place[i]) <= near;
        if (!taken) out[k++] = -place[i];
    }
    return k;
}

int shape_laths_rod(struct shape_laths_rod *out, double width, double angle, double u_angle,
                    double outside, struct error *err) {
    *out = (struct shape_laths_rod){0};
    if (!(width > 0) || !(angle > 0) || angle > M_PI || !(u_angle >= 0) || !(outside >= 0))
        return fail(err, ERR_RANGE,
                    "Give width above 0, ring angle above 0 and at most 180 degrees.",
                    "Width %g mm, ring angle %g degrees.", width, angle * 180 / M_PI);
    double s = sin(angle / 2);
    out->ring_radius = width / (2 * s);
    out->u_ring_radius = width * cos(angle / 2) / (4 * s * s) * u_angle;
    out->least_diameter = 2 * (out->ring_radius + outside);
    return 0;
}
