#include "shape/coil.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

/* Weighted mean of the outer radii of the pieces chosen; chi2 and the widest miss beside it. */
struct level {
    double mean, u, chi2, miss;
    size_t n;
};

static struct level level_of(const struct shape_coil_piece *piece, const double *outer, size_t n,
                             const bool *flags, bool want) {
    struct level l = {0};
    double w = 0;
    for (size_t i = 0; i < n; i++) {
        if (flags && flags[i] != want) continue;
        double k = 1 / (piece[i].u_radius * piece[i].u_radius);
        w += k, l.mean += k * outer[i], l.n++;
    }
    l.mean /= w, l.u = 1 / sqrt(w);
    for (size_t i = 0; i < n; i++) {
        if (flags && flags[i] != want) continue;
        double d = outer[i] - l.mean;
        l.chi2 += d * d / (piece[i].u_radius * piece[i].u_radius);
        l.miss = fmax(l.miss, fabs(d));
    }
    return l;
}

static void ring_fit(struct shape_coil_ring *r, const struct shape_coil_piece *piece,
                     const double *outer, size_t n, double pitch) {
    struct level all = level_of(piece, outer, n, NULL, true);
    double lo = INFINITY, hi = -INFINITY, reach = 0;
    for (size_t i = 0; i < n; i++) {
        lo = fmin(lo, outer[i]), hi = fmax(hi, outer[i]);
        double lost = isnan(piece[i].lost_outside) ? 0 : piece[i].lost_outside;
        reach = fmax(reach, lost + piece[i].rounds);
        r->outward += lost * pow(all.u / piece[i].u_radius, 2);
    }
    r->radius = all.mean, r->u_radius = all.u, r->misfit = hi - lo, r->chi2 = all.chi2;
    r->p = n > 1 ? gsl_cdf_chisq_Q(all.chi2, n - 1.0) : NAN;
    r->rounds = reach;
    r->inner = fmax(0, r->radius - reach * pitch);
    r->foundation = M_PI * (r->radius * r->radius - r->inner * r->inner) / pitch;
}

static void cone_fit(struct shape_coil_cone *c, const struct shape_coil_piece *piece,
                     const double *outer, size_t n, double pitch, bool *try) {
    double best = INFINITY;
    for (size_t cut = 0; cut < n; cut++) { /* pieces not below outer[cut] show the slant */
        size_t slants = 0;
        for (size_t i = 0; i < n; i++)
            slants += try[i] = outer[i] >= outer[cut];
        if (slants == n) continue;
        struct level s = level_of(piece, outer, n, try, true);
        struct level e = level_of(piece, outer, n, try, false);
        if (s.chi2 + e.chi2 >= best) continue;
        best = s.chi2 + e.chi2;
        c->possible = true;
        c->edge = e.mean, c->u_edge = e.u, c->slant = s.mean, c->u_slant = s.u;
        c->chi2 = best, c->misfit = fmax(s.miss, e.miss);
        c->p = n > 2 ? gsl_cdf_chisq_Q(best, n - 2.0) : NAN;
        for (size_t i = 0; i < n; i++)
            c->shows_slant[i] = try[i];
    }
    if (!c->possible) return;
    c->half_angle = asin(c->edge / c->slant);
    c->height = sqrt(c->slant * c->slant - c->edge * c->edge);
    c->rounds = c->slant / pitch;
    c->foundation = M_PI * c->edge * c->slant / pitch;
}

/* ---- ring against cone ---------------------------------------------------------------------- */

static double log_normal_density(double x, double mean, double sd) {
    double z = (x - mean) / sd;
    return -0.5 * z * z - log(sd * sqrt(2 * M_PI));
}

static double log_add(double a, double b) {
    double most = fmax(a, b);
    return most == -INFINITY ? most : most + log(exp(a - most) + exp(b - most));
}

/* Bark and coils are pulled about in the ground: a piece in twenty is taken to have lost its curve,
 * by a fifth of its radius (a guess). Without it two pieces would exclude a ring beyond reason. */
#define PULLED_SHARE 0.05
#define PULLED_BY 0.2

static double log_piece(const struct shape_coil_piece *piece, double outer, double radius,
                        double step) {
    double u = hypot(piece->u_radius, step / sqrt(12));
    return log_add(log1p(-PULLED_SHARE) + log_normal_density(outer, radius, u),
                   log(PULLED_SHARE) + log_normal_density(outer, radius, PULLED_BY * outer));
}

/* Evidence by the midpoint rule on a grid finer than the smallest error of a radius. */
static double ring_share(const struct shape_coil_piece *piece, const double *outer, size_t n) {
    enum { MOST_CELLS = 400 };
    double low = 10, high = 0, finest = INFINITY;
    for (size_t i = 0; i < n; i++) {
        high = fmax(high, 2 * outer[i]);
        finest = fmin(finest, piece[i].u_radius);
    }
    if (!(high > low)) return NAN;
    double cells = ceil((high - low) / (finest / 2));
    size_t m = cells > MOST_CELLS ? MOST_CELLS : (size_t)cells;
    double step = (high - low) / (double)m, ring = -INFINITY, cone = -INFINITY;
    for (size_t a = 0; a < m; a++) {
        double r = low + ((double)a + 0.5) * step, like = 0;
        for (size_t i = 0; i < n; i++)
            like += log_piece(&piece[i], outer[i], r, step);
        ring = log_add(ring, like);
        for (size_t b = a + 1; b < m; b++) {
            double s = low + ((double)b + 0.5) * step;
            like = 0;
            for (size_t i = 0; i < n; i++)
                like += log_add(log_piece(&piece[i], outer[i], r, step),
                                log_piece(&piece[i], outer[i], s, step)) -
                        M_LN2;
            cone = log_add(cone, like);
        }
    }
    ring -= log((double)m);
    cone -= log((double)m * (double)(m - 1) / 2);
    return 1 / (1 + exp(cone - ring));
}

int shape_coil_fit(struct shape_coil *out, const struct shape_coil_piece *piece, size_t n,
                   double pitch, struct arena *arena, struct error *err) {
    *out = (struct shape_coil){0};
    if (!n)
        return fail(err, ERR_MISSING, "Give a piece with chord and rise of its outer edge.",
                    "No piece of the coil shows a curve.");
    if (!(pitch > 0))
        return fail(err, ERR_RANGE, "Measure across several rounds and divide.",
                    "Pitch of the rounds %g mm; it must be above 0.", pitch);
    double *outer = ARENA_NEW(arena, double, n);
    bool *try = ARENA_NEW(arena, bool, n);
    out->cone.shows_slant = ARENA_NEW(arena, bool, n);
    if (!outer || !try || !out->cone.shows_slant) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        if (!(piece[i].radius > 0) || !(piece[i].u_radius > 0) || !(piece[i].rounds >= 0))
            return fail(err, ERR_RANGE, "Leave the piece out or give its edge again.",
                        "Piece %s: radius %g ± %g mm, %g rounds.", piece[i].id ? piece[i].id : "?",
                        piece[i].radius, piece[i].u_radius, piece[i].rounds);
        double lost = isnan(piece[i].lost_outside) ? 0 : piece[i].lost_outside;
        outer[i] = piece[i].radius + lost * pitch;
    }
    ring_fit(&out->ring, piece, outer, n, pitch);
    if (n > 1) cone_fit(&out->cone, piece, outer, n, pitch, try);
    out->ring_excluded = out->ring.p < 0.01;
    out->ring_share = out->cone.possible ? ring_share(piece, outer, n) : NAN;
    return 0;
}
