#include "shape/bend_readings.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

enum { CELLS = 1024 };

static int check(const struct shape_bend_read *r, struct error *err) {
    const char *id = r->id ? r->id : "?";
    if (!isfinite(r->value) || !(r->u > 0) || !isfinite(r->u))
        return fail(err, ERR_RANGE, "Give each reading a value and a ± above 0.",
                    "Reading %s: %g ± %g.", id, r->value, r->u);
    if (r->of == SHAPE_BEND_SET &&
        (!(r->keep_low > 0) || r->keep_high < r->keep_low || r->keep_high > 1))
        return fail(err, ERR_RANGE, "Give the share of the bend that stays, from above 0 to 1.",
                    "Kept share from %g to %g.", r->keep_low, r->keep_high);
    if (r->of == SHAPE_BEND_SPLITS && (!(r->radius > 0) || !(r->u_radius >= 0)))
        return fail(err, ERR_RANGE, "Give the radius of the piece in mm.",
                    "Reading %s: radius %g ± %g mm.", id, r->radius, r->u_radius);
    return 0;
}

/* Gap at geodesic radius r on a sphere of bend k, mm: 2 pi (r - sin(k r)/k). */
static double gap_at(double r, double k) {
    double rho = k * r;
    double share = rho < 1e-3 ? rho * rho / 6 * (1 - rho * rho / 20) : 1 - sin(rho) / rho;
    return 2 * M_PI * r * share;
}

/* Error of a gap: of the reading, and of the radius (the gap goes with its cube). */
static double gap_error(const struct shape_bend_read *r, double gap) {
    return hypot(r->u, 3 * gap * r->u_radius / r->radius);
}

/* By how many of its errors the reading is off when the bend is k; a limit that is kept by none. */
static double off(const struct shape_bend_read *r, double k) {
    double z = 0;
    if (r->of == SHAPE_BEND_SPLITS) {
        double gap = gap_at(r->radius, k);
        z = (r->value - gap) / gap_error(r, gap);
    } else if (r->of == SHAPE_BEND_SET) {
        double low = r->keep_low * k, high = r->keep_high * k;
        z = (r->value - fmin(fmax(r->value, low), high)) / r->u;
    } else
        z = (r->value - k) / r->u;
    if (r->kind == SHAPE_BEND_AT_LEAST) return fmax(z, 0);
    if (r->kind == SHAPE_BEND_AT_MOST) return fmin(z, 0);
    return z;
}

/* ln of the density of what was read when the bend is k, but for a constant. */
static double log_like(const struct shape_bend_read *r, double k) {
    double mean = k, u = r->u;
    if (r->of == SHAPE_BEND_SPLITS) {
        mean = gap_at(r->radius, k);
        u = gap_error(r, mean);
    }
    if (r->of == SHAPE_BEND_SET) { /* integral of the normal over the share, over k */
        double low = (r->keep_low * k - r->value) / u, high = (r->keep_high * k - r->value) / u,
               wide = (r->keep_high - r->keep_low) * k;
        if (r->kind == SHAPE_BEND_IS && wide > 1e-6 * u) {
            /* by the tail that is not nearly 1, lest two of them cancel */
            double mass = low > 0 ? gsl_cdf_ugaussian_Q(low) - gsl_cdf_ugaussian_Q(high)
                                  : gsl_cdf_ugaussian_P(high) - gsl_cdf_ugaussian_P(low);
            return log(mass / wide);
        }
        mean = k * (r->keep_low + r->keep_high) / 2;
    }
    double z = (r->value - mean) / u;
    if (r->kind == SHAPE_BEND_AT_LEAST) return log(gsl_cdf_ugaussian_P(-z));
    if (r->kind == SHAPE_BEND_AT_MOST) return log(gsl_cdf_ugaussian_P(z));
    return -0.5 * z * z - log(u * sqrt(2 * M_PI));
}

int shape_bend_alone(struct shape_bend_alone *out, const struct shape_bend_read *r,
                     struct error *err) {
    *out = (struct shape_bend_alone){NAN, NAN};
    int rc = check(r, err);
    if (rc) return rc;
    if (r->of == SHAPE_BEND_ITSELF) *out = (struct shape_bend_alone){r->value, r->u};
    if (r->of == SHAPE_BEND_SET) {
        double lo = r->keep_low, hi = r->keep_high;
        double one = hi > lo ? log(hi / lo) / (hi - lo) : 1 / lo, two = 1 / (lo * hi);
        out->bend = r->value * one;
        out->u = sqrt(r->value * r->value * fmax(two - one * one, 0) + r->u * r->u * two);
    }
    if (r->of != SHAPE_BEND_SPLITS) return 0;
    struct shape_splits s, more, less;
    double u = gap_error(r, fabs(r->value)), least = fmax(r->value - u, 0);
    rc = shape_curve_splits(&s, r->radius, r->value, u, err);
    if (rc) return rc;
    double top = fmin(r->value + u, 6 * r->radius); /* a rim lacks under 2 pi r */
    rc = shape_curve_splits(&more, r->radius, fmax(top, 0), u, err);
    if (!rc) rc = shape_curve_splits(&less, r->radius, least, u, err);
    if (rc) return rc;
    /* an overlap is no dome */
    out->bend = s.gauss > 0 ? 1 / s.radius : 0;
    out->u = (1 / more.radius - 1 / less.radius) / 2;
    if (!(out->u > 0)) { /* an overlap beyond its error: as wide as that of no gap */
        rc = shape_curve_splits(&more, r->radius, u, u, err);
        out->u = 1 / more.radius / 2;
    }
    return rc;
}

/* A bend that no reading goes beyond. */
static double beyond(const struct shape_bend_read *r) {
    double most = fmax(r->value, 0) + 9 * r->u;
    if (r->of == SHAPE_BEND_SET) return most / r->keep_low;
    if (r->of == SHAPE_BEND_ITSELF) return most;
    double lo = 0, hi = M_PI / r->radius; /* half a great circle: the gap is the whole rim */
    for (int i = 0; i < 60; i++) {
        double m = (lo + hi) / 2, gap = gap_at(r->radius, m);
        if ((gap - r->value) / gap_error(r, gap) < 9)
            lo = m;
        else
            hi = m;
    }
    return hi;
}

static double squares(const struct shape_bend_read *reading, size_t n, double k) {
    double q = 0;
    for (size_t i = 0; i < n; i++)
        q += pow(off(&reading[i], k), 2);
    return q;
}

/* The bend nearest to all: the middle of the best cells of a grid, then by golden section; where a
 * set leaves it open over a stretch, the middle of that. */
static double nearest(const struct shape_bend_read *reading, size_t n, double top) {
    double best = INFINITY, from = 0, to = 0, step = top / CELLS;
    for (int i = 0; i <= CELLS; i++) {
        double k = i * step, q = squares(reading, n, k);
        if (q > best + 1e-12) continue;
        if (q < best - 1e-12) best = q, from = k;
        to = k;
    }
    if (to > from) return (from + to) / 2;
    double a = fmax(from - step, 0), b = from + step;
    const double part = 0.3819660112501051; /* 2 less the golden ratio */
    for (int i = 0; i < 60; i++) {
        double x = a + part * (b - a), y = b - part * (b - a);
        if (squares(reading, n, x) < squares(reading, n, y))
            b = y;
        else
            a = x;
    }
    return (a + b) / 2;
}

/* Quantiles by the midpoint rule, straight within a cell. */
static void integrate(struct shape_bend_together *out, const struct shape_bend_read *reading,
                      size_t n, double top) {
    static const double at[7] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    double *const q[7] = {&out->q005, &out->q05, &out->q25, &out->q50,
                          &out->q75,  &out->q95, &out->q995};
    double w[CELLS], most = -INFINITY, sum = 0, mean = 0, square = 0, low = 0;
    /* The readings together are narrower than the widest of them: look where they are. */
    for (int round = 0; round < 2; round++) {
        double step = (top - low) / CELLS;
        most = -INFINITY, sum = 0;
        for (int i = 0; i < CELLS; i++) {
            w[i] = 0;
            for (size_t k = 0; k < n; k++)
                w[i] += log_like(&reading[k], low + (i + 0.5) * step);
            most = fmax(most, w[i]);
        }
        int first = CELLS, last = 0;
        for (int i = 0; i < CELLS; i++) {
            w[i] = exp(w[i] - most);
            sum += w[i];
            if (w[i] < 1e-9) continue; /* nine digits: under what quantiles are told to */
            first = i < first ? i : first;
            last = i;
        }
        if (round) break;
        double bottom = low + fmax(first - 1, 0) * step;
        top = low + fmin(last + 2, CELLS) * step;
        low = bottom;
    }
    double step = (top - low) / CELLS, so_far = 0;
    int next = 0;
    for (int i = 0; i < CELLS; i++) {
        double k = low + (i + 0.5) * step, share = w[i] / sum;
        mean += share * k;
        square += share * k * k;
        for (; next < 7 && so_far + share >= at[next]; next++)
            *q[next] = low + (i + (at[next] - so_far) / share) * step;
        so_far += share;
    }
    for (; next < 7; next++)
        *q[next] = top;
    out->mean = mean;
    out->sd = sqrt(fmax(square - mean * mean, 0));
}

int shape_bend_together(struct shape_bend_together *out, const struct shape_bend_read *reading,
                        size_t n, struct error *err) {
    *out = (struct shape_bend_together){.best = NAN,
                                        .p = NAN,
                                        .q005 = NAN,
                                        .q05 = NAN,
                                        .q25 = NAN,
                                        .q50 = NAN,
                                        .q75 = NAN,
                                        .q95 = NAN,
                                        .q995 = NAN,
                                        .mean = NAN,
                                        .sd = NAN};
    double top = 0, worst = -1, least_radius = INFINITY;
    for (size_t i = 0; i < n; i++) {
        int rc = check(&reading[i], err);
        if (rc) return rc;
        out->n += reading[i].kind == SHAPE_BEND_IS;
        if (reading[i].kind == SHAPE_BEND_IS) top = fmax(top, beyond(&reading[i]));
        if (reading[i].of == SHAPE_BEND_SPLITS)
            least_radius = fmin(least_radius, reading[i].radius);
    }
    if (!out->n)
        return fail(err, ERR_MISSING, "Give a reading that is a value, not only a limit.",
                    "There are only limits; no bend follows from them.");
    if (isfinite(least_radius)) top = fmin(top, M_PI / least_radius); /* no sphere is smaller */
    out->best = nearest(reading, n, top);
    for (size_t i = 0; i < n; i++) {
        double z = off(&reading[i], out->best);
        if (reading[i].kind == SHAPE_BEND_IS)
            out->q += z * z;
        else
            out->clash |= fabs(z) > 2;
        if (fabs(z) > worst) worst = fabs(z), out->worst = i;
    }
    if (out->n > 1) out->p = gsl_cdf_chisq_Q(out->q, (double)out->n - 1);
    out->clash |= out->p < 0.05;
    if (!out->clash) integrate(out, reading, n, top);
    return 0;
}
