#include "plane/similarity.h"

#include <math.h>

struct plane_point plane_similarity_map(const struct plane_similarity *s, struct plane_point p) {
    double c = s->scale * cos(s->angle), n = s->scale * sin(s->angle);
    double y = s->mirrored ? -p.y : p.y;
    return (struct plane_point){c * p.x - n * y + s->shift.x, n * p.x + c * y + s->shift.y};
}

int plane_similarity_fit(struct plane_similarity *out, const struct plane_point *from,
                         const struct plane_point *to, size_t n,
                         const struct plane_similarity_options *options, struct error *err) {
    static const struct plane_similarity_options none = {0};
    const struct plane_similarity_options *o = options ? options : &none;
    *out = (struct plane_similarity){.scale = 1, .mirrored = o->mirrored};
    if (n < 2)
        return fail(err, ERR_MISSING, "Give two pairs of points or more.",
                    "A fit from %zu pairs of points.", n);
    double flip = o->mirrored ? -1 : 1, total = 0, fx = 0, fy = 0, tx = 0, ty = 0;
    for (size_t i = 0; i < n; i++) {
        double w = o->weights ? o->weights[i] : 1;
        if (!(w > 0) || !isfinite(from[i].x + from[i].y + to[i].x + to[i].y))
            return fail(err, ERR_INPUT, "Leave the pair out or measure it again.",
                        "Pair %zu has no place or a weight not above 0.", i + 1);
        total += w;
        fx += w * from[i].x, fy += w * flip * from[i].y;
        tx += w * to[i].x, ty += w * to[i].y;
    }
    fx /= total, fy /= total, tx /= total, ty /= total;
    /* H = sum (y - ybar)(x - xbar)'; the best turn is atan2(H21 - H12, H11 + H22), and tr(D S) is
     * the length of that vector (Umeyama 1991, eqs 39-43, for two dimensions). */
    double along = 0, turn = 0, spread = 0;
    for (size_t i = 0; i < n; i++) {
        double w = o->weights ? o->weights[i] : 1;
        double ax = from[i].x - fx, ay = flip * from[i].y - fy, bx = to[i].x - tx,
               by = to[i].y - ty;
        along += w * (bx * ax + by * ay);
        turn += w * (by * ax - bx * ay);
        spread += w * (ax * ax + ay * ay);
    }
    if (!(spread > 0))
        return fail(err, ERR_SOLVE, "Give points that lie apart.",
                    "All points to be moved lie in one place.");
    out->angle = atan2(turn, along);
    out->scale = o->rigid ? 1 : hypot(turn, along) / spread;
    double c = out->scale * cos(out->angle), s = out->scale * sin(out->angle);
    out->shift = (struct plane_point){tx - c * fx + s * fy, ty - s * fx - c * fy};
    for (size_t i = 0; i < n; i++) {
        struct plane_point p = plane_similarity_map(out, from[i]);
        double dx = p.x - to[i].x, dy = p.y - to[i].y;
        out->squares += (o->weights ? o->weights[i] : 1) * (dx * dx + dy * dy);
    }
    out->rms = sqrt(out->squares / n);
    return 0;
}
