#include "body/hand.h"

#include <math.h>

#define GRAM_WEIGHT 0.00980665 /* N, standard gravity */
#define Z95 1.6448536269514722 /* standard normal, 95 % */

/* ---- room ----------------------------------------------------------------------------------- */

/* How far an arc of this curvature lies below its chord at x from the middle. */
static double sag(double curvature, double span, double x) {
    if (fabs(curvature) < 1e-12) return 0;
    double r = 1 / fabs(curvature), half = span / 2;
    double d = sqrt(fmax(0, r * r - x * x)) - sqrt(fmax(0, r * r - half * half));
    return curvature > 0 ? d : -d;
}

double hand_room_at(const struct hand_case *c, double x) {
    double along = 1 - 4 * x * x / (c->span * c->span); /* a bar bows as a parabola, near enough */
    return c->seat + sag(c->curvature, c->span, x) + c->bow * along;
}

/* Half the length over which there is `need` of room, sought from the middle outwards. */
static double half_length(const struct hand_case *c, double need) {
    const int steps = 2000;
    for (int i = 0; i <= steps; i++) {
        double x = c->span / 2 * i / steps;
        if (hand_room_at(c, x) < need) return i ? c->span / 2 * (i - 1) / steps : 0;
    }
    return c->span / 2;
}

static const struct stuff_fact *fact(const struct stuff_shelf *shelf, const char *quantity,
                                     const char *who) {
    struct stuff_query q = {.table = "data/hand.csv", .quantity = quantity, .material = who};
    return stuff_fact_next(shelf, &q, NULL);
}

/* Normal through the table's 5, 50 and 95 % points. */
static int people(struct num_dist *out, const struct stuff_shelf *shelf, const char *quantity,
                  const char *who, struct error *err) {
    const struct stuff_fact *f = fact(shelf, quantity, who);
    if (!f) return fail(err, ERR_DAMAGED, "Build the program again.", "No %s of %s", quantity, who);
    *out = num_dist_normal(f->value, (f->high - f->low) / (2 * Z95));
    return 0;
}

enum { DEPTHS = 64 };

/* Share of people whose knuckles find the length and whose fingers find the room. */
static double share(const struct hand_case *c, const struct num_dist *breadth,
                    const struct num_dist *depth) {
    double sum = 0;
    for (int i = 0; i < DEPTHS; i++) {
        double need = num_dist_quantile(depth, (i + 0.5) / DEPTHS) + c->glove;
        sum += num_dist_cdf(breadth, 2 * half_length(c, need));
    }
    return sum / DEPTHS;
}

/* Perimeter of an oval (Ramanujan's first approximation). */
static double oval(double a, double b) {
    double h = a / 2, k = b / 2;
    return M_PI * (3 * (h + k) - sqrt((3 * h + k) * (h + 3 * k)));
}

int hand_room(struct hand_room *out, const struct stuff_shelf *shelf, const struct hand_case *c,
              struct arena *arena, struct error *err) {
    *out = (struct hand_room){0};
    if (!(c->span > 0 && c->span < 5000) || !(c->width > 0) || !(c->thickness > 0) ||
        !isfinite(c->seat + c->curvature + c->bow))
        return fail(err, ERR_RANGE, "Measure span, seat height and section of the bar in mm.",
                    "A grip of span %g, seat %g, section %g by %g mm", c->span, c->seat, c->width,
                    c->thickness);
    if (fabs(c->curvature) * c->span / 2 >= 1)
        return fail(err, ERR_RANGE, "The sheet's radius is at least half the span.",
                    "A radius of %g mm under a span of %g mm", 1 / fabs(c->curvature), c->span);
    struct num_dist men, women, depth;
    int rc = people(&men, shelf, "hand_breadth", "men", err);
    if (!rc) rc = people(&women, shelf, "hand_breadth", "women", err);
    if (!rc) rc = people(&depth, shelf, "finger_depth", "people", err);
    if (rc) return rc;
    const struct stuff_fact *best = fact(shelf, "grip_thickness_best", "people");
    const struct stuff_fact *least = fact(shelf, "grip_length_least", "people");
    out->middle = hand_room_at(c, 0);
    out->breadth = 2 * half_length(c, num_dist_mean(&depth) + c->glove);
    out->men = share(c, &men, &depth);
    out->women = share(c, &women, &depth);
    out->perimeter = oval(c->width, c->thickness);
    out->off_best = (c->width + c->thickness) / 2 - best->value;
    if (out->breadth < least->low) {
        out->warning =
            arena_printf(arena, "%.0f mm of grip with room behind it; at least %.0f is advised",
                         out->breadth, least->low);
        if (!out->warning) return fail_memory(err);
    }
    return 0;
}

/* ---- balance -------------------------------------------------------------------------------- */

static int part_mass(double *out, const struct hand_part *p, struct error *err) {
    *out = isnan(p->mass) ? p->volume * p->density : p->mass;
    if (*out >= 0 && isfinite(*out)) return 0;
    return fail(err, ERR_MISSING, "Give its mass, or volume and density.", "Part %s has no mass",
                p->name ? p->name : "?");
}

int hand_balance(struct hand_balance *out, const struct hand_part *parts, size_t n,
                 const double held[3], double shared, struct error *err) {
    *out = (struct hand_balance){0};
    double sum_sd = 0, sum_var = 0;
    for (size_t i = 0; i < n; i++) {
        double m;
        int rc = part_mass(&m, &parts[i], err);
        if (rc) return rc;
        double sd = m * (isnan(parts[i].log_sd) ? 0 : parts[i].log_sd);
        out->mass += m;
        out->x += m * parts[i].x;
        out->y += m * parts[i].y;
        out->z += m * parts[i].z;
        sum_sd += sd;
        sum_var += sd * sd;
    }
    if (!(out->mass > 0))
        return fail(err, ERR_MISSING, "Give at least one part with a mass.", "Nothing to weigh");
    out->x /= out->mass;
    out->y /= out->mass;
    out->z /= out->mass;
    double sd = sqrt(shared * sum_sd * sum_sd + (1 - shared) * sum_var) / out->mass;
    out->p05 = out->mass * exp(-Z95 * sd);
    out->p95 = out->mass * exp(Z95 * sd);
    /* Held level by the point: the centre of mass wants to hang straight below it. */
    double aside = hypot(out->x - held[0], out->y - held[1]), below = held[2] - out->z;
    out->tilt = atan2(aside, below);
    out->torque = out->mass * GRAM_WEIGHT * aside;
    return 0;
}
