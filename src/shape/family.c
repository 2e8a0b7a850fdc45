#include "shape/family.h"

#include <gsl/gsl_sf_ellint.h>
#include <math.h>
#include <stdbool.h>

const char *const shape_family_words[] = {"ellipse",           "superellipse", "pointed oval",
                                          "rounded rectangle", "stadium",      "taper",
                                          "symmetric free",    "free",         NULL};

static double length(double x, double y) {
    return sqrt(x * x + y * y);
} /* sizes are tame */

/* Two stretches of ratio exp(ln_ratio) whose mean is 1. */
static void halves(double out[2], double ln_ratio) {
    double c = 1 / cosh(ln_ratio / 2);
    out[0] = exp(ln_ratio / 2) * c, out[1] = exp(-ln_ratio / 2) * c;
}

static const double EXPONENT_LEAST = 1.05, EXPONENT_MOST = 40; /* sharper is a mere corner */

/* Each quarter has the exponent of the whole times what its end and its side make of it. */
static void squares_ready(struct shape_form *f) {
    f->quarters_differ = false;
    for (int k = 0; k < 2 && f->family == SHAPE_SUPERELLIPSE; k++)
        f->quarters_differ |= f->square_ends[k] != 0 || f->square_sides[k] != 0;
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 2; j++) {
            double n = f->exponent * exp(f->square_ends[i] + f->square_sides[j]);
            f->squares[i][j] =
                f->quarters_differ ? fmin(fmax(n, EXPONENT_LEAST), EXPONENT_MOST) : f->exponent;
        }
}

void shape_form_ready(struct shape_form *f) {
    f->cos_turn = cos(f->turn);
    f->sin_turn = sin(f->turn);
    f->log_a = log(f->a);
    f->log_b = log(f->b);
    halves(f->ends, f->unlike_ends);
    halves(f->sides, f->unlike_sides);
    squares_ready(f);
    f->unlike = f->unlike_ends != 0 || f->unlike_sides != 0 || f->quarters_differ;
    f->has_odd = false;
    for (int i = 0; i < SHAPE_ORDERS; i++)
        f->has_odd |= f->odd[i] != 0;
    if (f->family == SHAPE_POINTED) {
        f->arc_radius = (f->a * f->a + f->b * f->b) / (2 * f->b);
        f->arc_shift = f->arc_radius - f->b;
    }
    if (f->family != SHAPE_ROUNDED && f->family != SHAPE_STADIUM && f->family != SHAPE_TAPER)
        return;
    double q1 = f->family == SHAPE_STADIUM ? f->b : f->corner1, q2 = q1, b2 = f->b;
    if (f->family == SHAPE_TAPER) b2 = f->b * f->taper, q2 = f->corner2;
    f->cr[0] = q1, f->cx[0] = f->a - q1, f->cy[0] = f->b - q1;
    f->cr[1] = q2, f->cx[1] = -f->a + q2, f->cy[1] = b2 - q2;
    /* Outer tangent of the two circles: n·C1 + q1 = n·C2 + q2, |n| = 1, n upward. */
    double dx = f->cx[0] - f->cx[1], dy = f->cy[0] - f->cy[1], d2 = dx * dx + dy * dy;
    double k = q2 - q1, h = sqrt(fmax(d2 - k * k, 0));
    if (d2 > 0) {
        f->nx = (k * dx - h * dy) / d2;
        f->ny = (k * dy + h * dx) / d2;
    } else
        f->nx = 0, f->ny = 1;
    f->nc = f->nx * f->cx[0] + f->ny * f->cy[0] + q1;
}

/* Signed distance to the hull of four circles: a convex body is the cut of its half-planes, so the
 * distance is the largest of n·p - h(n) over outward normals n; h is that of the arc whose range of
 * normals holds the direction of p from its centre. Exact inside and out. */
static double hull_distance(const struct shape_form *f, double x, double y, double *gx,
                            double *gy) {
    double ay = fabs(y), best = x - f->a;
    double bx = 1, by = 0;
    if (-x - f->a > best) best = -x - f->a, bx = -1;
    double side = f->nx * x + f->ny * ay - f->nc;
    if (side > best) best = side, bx = f->nx, by = f->ny;
    for (int i = 0; i < 2; i++) {
        double dx = x - f->cx[i], dy = ay - f->cy[i];
        if (dy <= 0) continue;
        /* Normals of arc 0 turn from (1,0) to n, of arc 1 from n to (-1,0). */
        double turn = f->nx * dy - f->ny * dx; /* > 0: beyond n counter-clockwise */
        if (i == 0 ? turn > 0 : turn < 0) continue;
        double d = length(dx, dy), e = d - f->cr[i];
        if (e > best) best = e, bx = d > 0 ? dx / d : 1, by = d > 0 ? dy / d : 0;
    }
    if (gx) *gx = bx, *gy = y < 0 ? -by : by;
    return best;
}

static double pointed_distance(const struct shape_form *f, double x, double y, double *gx,
                               double *gy) {
    double ax = fabs(x), ay = fabs(y) + f->arc_shift, l;
    /* Beyond the tip the nearest point is the tip itself. */
    bool tip = ax * f->arc_shift > f->a * ay;
    if (tip) ax -= f->a, ay = fabs(y);
    l = length(ax, ay);
    if (gx)
        *gx = l > 0 ? copysign(ax / l, tip ? ax * x : x) : 1, *gy = l > 0 ? copysign(ay / l, y) : 0;
    return tip ? l : l - f->arc_radius;
}

/* r and d ln r/dphi at the direction (x, y). */
static double polar_radius(const struct shape_form *f, double x, double y, double *slope) {
    double rho = length(x, y);
    if (f->family == SHAPE_SUPERELLIPSE) {
        double lx = log(fabs(x)) - f->log_a, ly = log(fabs(y)) - f->log_b,
               n = f->squares[x < 0][y < 0];
        double p = exp(n * lx), q = exp(n * ly), sum = p + q;
        double s = (x != 0 ? p * y / x : 0) - (y != 0 ? q * x / y : 0);
        *slope = s / sum;
        return rho * exp(-log(sum) / n);
    }
    double ia = 1 / (f->a * f->a), ib = 1 / (f->b * f->b), sum = x * x * ia + y * y * ib;
    double r = rho / sqrt(sum);
    *slope = x * y * (ia - ib) / sum;
    if (f->family == SHAPE_ELLIPSE) return r;
    /* cos k phi, sin k phi by turning (c, s) step by step. */
    double value = 0, c1 = x / rho, s1 = y / rho;
    double c2 = c1 * c1 - s1 * s1, s2 = 2 * c1 * s1;
    double c = c2 * c1 - s2 * s1, s = s2 * c1 + c2 * s1;
    for (int i = 0; i < SHAPE_ORDERS; i++) {
        int k = SHAPE_ORDER_LOW + i;
        value += f->even[i] * c;
        *slope -= f->even[i] * k * s;
        if (f->has_odd) {
            value += f->odd[i] * s;
            *slope += f->odd[i] * k * c;
        }
        double t = c * c1 - s * s1;
        s = s * c1 + c * s1;
        c = t;
    }
    return r * exp(value);
}

static int is_exact(const struct shape_form *f) {
    return f->family == SHAPE_POINTED || f->family == SHAPE_ROUNDED || f->family == SHAPE_STADIUM ||
           f->family == SHAPE_TAPER;
}

/* First-order distance and the direction of the outward normal in the form's frame. */
static double near_distance(const struct shape_form *f, double x, double y, double *nx,
                            double *ny) {
    double rho = length(x, y), slope;
    if (rho < 1e-9 * f->b) { /* the centre itself has no direction: take the short axis */
        x = 0, y = 1e-9 * f->b, rho = y;
    }
    double r = polar_radius(f, x, y, &slope), w = sqrt(1 + slope * slope);
    double cx = x / rho, cy = y / rho;
    *nx = (cx + slope * cy) / w;
    *ny = (cy - slope * cx) / w;
    return (rho - r) / w;
}

/* Distance and unit normal to a form with unlike halves, first order: the place is brought to the
 * form with like halves, whose distance there has the gradient n; d/|n by the stretches|. */
static double unlike_distance(const struct shape_form *f, double x, double y, double *nx,
                              double *ny) {
    double kx = f->ends[x < 0], ky = f->sides[y < 0], gx, gy, d;
    if (f->family == SHAPE_POINTED)
        d = pointed_distance(f, x / kx, y / ky, &gx, &gy);
    else if (is_exact(f))
        d = hull_distance(f, x / kx, y / ky, &gx, &gy);
    else
        d = near_distance(f, x / kx, y / ky, &gx, &gy);
    gx /= kx, gy /= ky;
    double w = length(gx, gy);
    *nx = gx / w, *ny = gy / w;
    return d / w;
}

static double unlike_offset(const struct shape_form *f, double x, double y) {
    double nx, ny, d = unlike_distance(f, x, y, &nx, &ny);
    if (fabs(d) >= SHAPE_NEAR && fabs(d) <= f->b / 4) {
        double fx = x - d * nx, fy = y - d * ny, mx, my;
        double e = unlike_distance(f, fx, fy, &mx, &my);
        fx -= e * mx, fy -= e * my;
        d = copysign(length(x - fx, y - fy), d);
    }
    return d;
}

static double own_offset(const struct shape_form *f, double x, double y) {
    if (f->unlike) return unlike_offset(f, x, y);
    if (f->family == SHAPE_POINTED) return pointed_distance(f, x, y, NULL, NULL);
    if (is_exact(f)) return hull_distance(f, x, y, NULL, NULL);
    double nx, ny, d = near_distance(f, x, y, &nx, &ny);
    /* Beyond a quarter of the half-width the first-order foot may lie across the shape. */
    if (fabs(d) < SHAPE_NEAR || fabs(d) > f->b / 4) return d;
    double fx = x - d * nx, fy = y - d * ny, mx, my;
    double e = near_distance(f, fx, fy, &mx, &my);
    fx -= e * mx, fy -= e * my;
    return copysign(length(x - fx, y - fy), d);
}

static void to_own(const struct shape_form *f, struct plane_point p, double *x, double *y) {
    double dx = p.x - f->x, dy = p.y - f->y;
    *x = f->cos_turn * dx + f->sin_turn * dy;
    *y = -f->sin_turn * dx + f->cos_turn * dy;
}

static struct plane_point to_plan(const struct shape_form *f, double x, double y) {
    return (struct plane_point){f->x + f->cos_turn * x - f->sin_turn * y,
                                f->y + f->sin_turn * x + f->cos_turn * y};
}

struct plane_point shape_form_middle(const struct shape_form *f) {
    return to_plan(f, f->a * (f->ends[0] - f->ends[1]) / 2, f->b * (f->sides[0] - f->sides[1]) / 2);
}

double shape_form_offset(const struct shape_form *f, struct plane_point p) {
    double x, y;
    to_own(f, p, &x, &y);
    return own_offset(f, x, y);
}

/* Where the ray (c, s), s >= 0, leaves a hull: through the end at +x, the arc there, the side, the
 * other arc or the other end, told apart by the joints the ray passes before. */
static double hull_radius(const struct shape_form *f, double c, double s) {
    double x0 = f->cx[0] + f->cr[0] * f->nx, y0 = f->cy[0] + f->cr[0] * f->ny;
    double x1 = f->cx[1] + f->cr[1] * f->nx, y1 = f->cy[1] + f->cr[1] * f->ny;
    if (c > 0 && s * f->a <= c * f->cy[0]) return f->a / c;
    if (c < 0 && s * f->a <= -c * f->cy[1]) return -f->a / c;
    int arc = s * x0 - c * y0 <= 0 ? 0 : s * x1 - c * y1 >= 0 ? 1 : -1;
    if (arc < 0) return f->nc / (f->nx * c + f->ny * s);
    double B = f->cx[arc] * c + f->cy[arc] * s;
    double C = f->cx[arc] * f->cx[arc] + f->cy[arc] * f->cy[arc] - f->cr[arc] * f->cr[arc];
    return B + sqrt(fmax(B * B - C, 0));
}

static double pointed_radius(const struct shape_form *f, double s) {
    double e = f->arc_shift, k = e * fabs(s);
    return -k + sqrt(k * k - e * e + f->arc_radius * f->arc_radius);
}

static double exact_radius(const struct shape_form *f, double c, double s) {
    if (f->family == SHAPE_POINTED) return pointed_radius(f, s);
    return hull_radius(f, c, fabs(s));
}

/* The radius of the form with like halves in the direction that (c, s) has there. */
static double unlike_radius(const struct shape_form *f, double c, double s) {
    double x = c / f->ends[c < 0], y = s / f->sides[s < 0], m = length(x, y), slope;
    double r = is_exact(f) ? exact_radius(f, x / m, y / m) : polar_radius(f, x / m, y / m, &slope);
    return r / m;
}

double shape_form_radius(const struct shape_form *f, double phi) {
    double c = cos(phi), s = sin(phi), slope;
    if (f->unlike) return unlike_radius(f, c, s);
    return is_exact(f) ? exact_radius(f, c, s) : polar_radius(f, c, s, &slope);
}

double shape_form_normal(const struct shape_form *f, double phi, double *nx, double *ny) {
    double c = cos(phi), s = sin(phi), slope;
    if (f->unlike) {
        double r = unlike_radius(f, c, s);
        unlike_distance(f, r * c, r * s, nx, ny);
        return r;
    }
    if (f->family == SHAPE_POINTED) {
        double r = exact_radius(f, c, s), x = r * c, y = fabs(r * s) + f->arc_shift;
        double l = hypot(x, y);
        *nx = x / l, *ny = copysign(y / l, s);
        return r;
    }
    if (is_exact(f)) {
        double r = exact_radius(f, c, s);
        hull_distance(f, r * c, r * s, nx, ny);
        return r;
    }
    double r = polar_radius(f, c, s, &slope), w = sqrt(1 + slope * slope);
    *nx = (c + slope * s) / w, *ny = (s - slope * c) / w;
    return r;
}

void shape_form_place(struct shape_form *f, double x, double y, double turn) {
    f->x = x, f->y = y, f->turn = turn;
    f->cos_turn = cos(turn), f->sin_turn = sin(turn);
}

struct plane_point shape_form_point(const struct shape_form *f, double phi) {
    double r = shape_form_radius(f, phi);
    return to_plan(f, r * cos(phi), r * sin(phi));
}

double shape_form_curvature(const struct shape_form *f, double phi) {
    const double h = 1e-3;
    double r0 = shape_form_radius(f, phi), r1 = shape_form_radius(f, phi + h),
           r2 = shape_form_radius(f, phi - h);
    double d = (r1 - r2) / (2 * h), dd = (r1 - 2 * r0 + r2) / (h * h), q = r0 * r0 + d * d;
    return (q + d * d - r0 * dd) / (q * sqrt(q));
}

/* Distance from p to the edge near phi by golden sections in phi (Kiefer 1953, Proc. AMS 4, 502).
 */
static double golden_distance(const struct shape_form *f, struct plane_point p, double lo,
                              double hi, double *at) {
    const double g = (sqrt(5) - 1) / 2;
    double x1 = hi - g * (hi - lo), x2 = lo + g * (hi - lo);
    struct plane_point q1 = shape_form_point(f, x1), q2 = shape_form_point(f, x2);
    double d1 = hypot(q1.x - p.x, q1.y - p.y), d2 = hypot(q2.x - p.x, q2.y - p.y);
    for (int i = 0; i < 60; i++) {
        if (d1 < d2) {
            hi = x2, x2 = x1, d2 = d1, x1 = hi - g * (hi - lo);
            q1 = shape_form_point(f, x1), d1 = hypot(q1.x - p.x, q1.y - p.y);
        } else {
            lo = x1, x1 = x2, d1 = d2, x2 = lo + g * (hi - lo);
            q2 = shape_form_point(f, x2), d2 = hypot(q2.x - p.x, q2.y - p.y);
        }
    }
    *at = (lo + hi) / 2;
    return fmin(d1, d2);
}

double shape_form_distance(const struct shape_form *f, struct plane_point p,
                           struct plane_point *foot) {
    enum { SCAN = 180 };
    double best = INFINITY, phi = 0, x, y;
    for (int i = 0; i < SCAN; i++) {
        struct plane_point q = shape_form_point(f, 2 * M_PI * i / SCAN);
        double d = hypot(q.x - p.x, q.y - p.y);
        if (d < best) best = d, phi = 2 * M_PI * i / SCAN;
    }
    best = golden_distance(f, p, phi - 2 * M_PI / SCAN, phi + 2 * M_PI / SCAN, &phi);
    if (foot) *foot = shape_form_point(f, phi);
    to_own(f, p, &x, &y);
    return hypot(x, y) < shape_form_radius(f, atan2(y, x)) ? -best : best;
}

static double hull_half(const struct shape_form *f) {
    double turn = atan2(f->ny, f->nx);
    double side = length(f->cx[0] - f->cx[1] + (f->cr[0] - f->cr[1]) * f->nx,
                         f->cy[0] - f->cy[1] + (f->cr[0] - f->cr[1]) * f->ny);
    return fmax(f->cy[0], 0) + f->cr[0] * turn + side + f->cr[1] * (M_PI - turn) +
           fmax(f->cy[1], 0);
}

/* Half the integral of n·p along the upper edge, twice (Green): ends, side, and over an arc of
 * radius q about C the integral of (C·n + q) q. */
static double hull_area(const struct shape_form *f) {
    double turn = atan2(f->ny, f->nx), sum = 0;
    double side = length(f->cx[0] - f->cx[1] + (f->cr[0] - f->cr[1]) * f->nx,
                         f->cy[0] - f->cy[1] + (f->cr[0] - f->cr[1]) * f->ny);
    const double from[2] = {0, turn}, to[2] = {turn, M_PI};
    for (int i = 0; i < 2; i++)
        sum += f->a * f->cy[i] +
               f->cr[i] * (f->cx[i] * (sin(to[i]) - sin(from[i])) -
                           f->cy[i] * (cos(to[i]) - cos(from[i])) + f->cr[i] * (to[i] - from[i]));
    return sum + f->nc * side;
}

enum { STEPS = 512 };

enum { QUICK_MOST = 64 };

/* Corners of a form with unlike halves: enough for 1e-4 of its area and perimeter. */
enum { CORNERS = 256 };

static double corners_of(const struct shape_form *f, struct plane_point *ring) {
    struct plane_point unit[CORNERS];
    double at[CORNERS + 1];
    for (int i = 0; i < CORNERS; i++)
        unit[i] = (struct plane_point){cos(2 * M_PI * i / CORNERS), sin(2 * M_PI * i / CORNERS)};
    shape_form_quick_ring(f, ring, at, unit, CORNERS);
    return at[CORNERS];
}

double shape_form_area(const struct shape_form *f) {
    double a = f->a, b = f->b;
    /* Unlike halves: four quarters of the same area, stretched by factors whose products sum to 4.
     */
    switch (f->family) {
    case SHAPE_ELLIPSE:
        return M_PI * a * b;
    case SHAPE_SUPERELLIPSE: { /* 4ab Gamma(1+1/n)²/Gamma(1+2/n) */
        double sum = 0;
        for (int i = 0; i < 2; i++)
            for (int j = 0; j < 2; j++) {
                double n = f->squares[i][j];
                sum += f->ends[i] * f->sides[j] * exp(2 * lgamma(1 + 1 / n) - lgamma(1 + 2 / n));
            }
        return a * b * sum;
    }
    case SHAPE_POINTED: {
        double R = f->arc_radius, e = f->arc_shift;
        return 2 * (R * R * atan2(a, e) - a * e);
    }
    case SHAPE_ROUNDED:
    case SHAPE_STADIUM:
        return 4 * a * b - (4 - M_PI) * f->cr[0] * f->cr[0];
    case SHAPE_TAPER:
        return hull_area(f);
    default: {
        double sum = 0;
        for (int i = 0; i < STEPS; i++) {
            double r = shape_form_radius(f, 2 * M_PI * i / STEPS);
            sum += r * r;
        }
        return sum * M_PI / STEPS;
    }
    }
}

double shape_form_perimeter(const struct shape_form *f) {
    double a = f->a, b = f->b;
    struct plane_point corner[CORNERS];
    if (f->unlike) return corners_of(f, corner);
    switch (f->family) {
    case SHAPE_ELLIPSE: { /* 4 a E(k), k² = 1 - b²/a² for the longer half-axis */
        double m = fmax(a, b), k = fmin(a, b) / m;
        return 4 * m * gsl_sf_ellint_Ecomp(sqrt(1 - k * k), GSL_PREC_DOUBLE);
    }
    case SHAPE_POINTED:
        return 4 * f->arc_radius * atan2(a, f->arc_shift);
    case SHAPE_ROUNDED:
    case SHAPE_STADIUM:
        return 4 * (a + b - 2 * f->cr[0]) + 2 * M_PI * f->cr[0];
    case SHAPE_TAPER:
        return 2 * hull_half(f);
    default: {
        struct plane_point first = shape_form_point(f, 0), last = first;
        double sum = 0, coarse = 0;
        struct plane_point two = first;
        for (int i = 1; i <= STEPS; i++) {
            struct plane_point p = i == STEPS ? first : shape_form_point(f, 2 * M_PI * i / STEPS);
            sum += hypot(p.x - last.x, p.y - last.y);
            last = p;
            if (i % 2 == 0) coarse += hypot(p.x - two.x, p.y - two.y), two = p;
        }
        return sum + (sum - coarse) / 3; /* Richardson: chords fall short by h² */
    }
    }
}

void shape_form_ring(const struct shape_form *f, struct plane_point *ring, size_t n) {
    for (size_t i = 0; i < n; i++)
        ring[i] = shape_form_point(f, 2 * M_PI * i / n);
}

/* Upper half of a hull by its length s from (a, 0): end, arc, side, arc, end. */
static struct plane_point hull_at(const struct shape_form *f, double turn, double s) {
    double end = fmax(f->cy[0], 0), arc = f->cr[0] * turn;
    if (s <= end) return (struct plane_point){f->a, s};
    s -= end;
    if (s <= arc) {
        double w = s / f->cr[0];
        return (struct plane_point){f->cx[0] + f->cr[0] * cos(w), f->cy[0] + f->cr[0] * sin(w)};
    }
    s -= arc;
    double x0 = f->cx[0] + f->cr[0] * f->nx, y0 = f->cy[0] + f->cr[0] * f->ny;
    double x1 = f->cx[1] + f->cr[1] * f->nx, y1 = f->cy[1] + f->cr[1] * f->ny;
    double side = length(x1 - x0, y1 - y0);
    if (s <= side)
        return (struct plane_point){x0 + (x1 - x0) * s / side, y0 + (y1 - y0) * s / side};
    s -= side;
    arc = f->cr[1] * (M_PI - turn);
    if (s <= arc) {
        double w = turn + s / f->cr[1];
        return (struct plane_point){f->cx[1] + f->cr[1] * cos(w), f->cy[1] + f->cr[1] * sin(w)};
    }
    return (struct plane_point){-f->a, fmax(f->cy[1] - (s - arc), 0)};
}

/* Corner i of a form with like halves. */
static struct plane_point plain_corner(const struct shape_form *f, struct plane_point unit) {
    double slope, r = f->family == SHAPE_POINTED ? pointed_radius(f, unit.y)
                                                 : polar_radius(f, unit.x, unit.y, &slope);
    return (struct plane_point){r * unit.x, r * unit.y};
}

/* The corners as they are before halves are stretched: a quarter is worked out
 * where both axes mirror the form, a half of a taper, all of the free forms. */
static void plain_ring(const struct shape_form *f, struct plane_point *ring,
                       const struct plane_point *unit, size_t n) {
    bool hull = is_exact(f) && f->family != SHAPE_POINTED;
    bool quarters = f->family != SHAPE_TAPER && f->family != SHAPE_WAVY &&
                    f->family != SHAPE_FREE && !f->quarters_differ;
    double half = hull ? hull_half(f) : 0, turn = hull ? atan2(f->ny, f->nx) : 0;
    size_t own = quarters && n % 4 == 0 ? n / 4 : hull ? n / 2 : n - 1;
    for (size_t i = 0; i <= own; i++)
        ring[i] =
            hull ? hull_at(f, turn, half * (double)i / (double)(n / 2)) : plain_corner(f, unit[i]);
    for (size_t i = own + 1; own == n / 4 && i <= n / 2; i++)
        ring[i] = (struct plane_point){-ring[n / 2 - i].x, ring[n / 2 - i].y};
    for (size_t i = n / 2 + 1; own < n - 1 && i < n; i++)
        ring[i] = (struct plane_point){ring[n - i].x, -ring[n - i].y};
}

void shape_form_quick_ring(const struct shape_form *f, struct plane_point *ring, double *at,
                           const struct plane_point *unit, size_t n) {
    plain_ring(f, ring, unit, n);
    if (f->unlike)
        for (size_t i = 0; i < n; i++)
            ring[i].x *= f->ends[ring[i].x < 0], ring[i].y *= f->sides[ring[i].y < 0];
    at[0] = 0;
    for (size_t i = 0; i < n; i++) {
        struct plane_point p = ring[i], q = ring[i + 1 < n ? i + 1 : 0];
        at[i + 1] = at[i] + length(q.x - p.x, q.y - p.y);
    }
}

double shape_form_quick_perimeter(const struct shape_form *f, const struct plane_point *unit,
                                  size_t n) {
    if (!f->unlike) {
        if (f->family == SHAPE_POINTED) return 4 * f->arc_radius * atan2(f->a, f->arc_shift);
        if (is_exact(f)) return 2 * hull_half(f);
        if (f->family == SHAPE_ELLIPSE) { /* Ramanujan 1914, Quart. J. Math. 45, 350-372 */
            double h = (f->a - f->b) / (f->a + f->b);
            h *= h;
            return M_PI * (f->a + f->b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h)));
        }
    }
    struct plane_point ring[QUICK_MOST];
    double at[QUICK_MOST + 1];
    shape_form_quick_ring(f, ring, at, unit, n);
    return at[n];
}

double shape_form_walk(const struct shape_form *f, struct plane_point *ring, size_t n) {
    enum { FINE = 720 };
    struct plane_point fine[FINE];
    double at[FINE + 1];
    shape_form_ring(f, fine, FINE);
    at[0] = 0;
    for (int i = 0; i < FINE; i++) {
        struct plane_point p = fine[i], q = fine[(i + 1) % FINE];
        at[i + 1] = at[i] + hypot(q.x - p.x, q.y - p.y);
    }
    double total = at[FINE];
    for (size_t i = 0, k = 0; i < n; i++) {
        double s = total * i / n;
        while (k + 1 < FINE && at[k + 1] <= s)
            k++;
        double t = (s - at[k]) / (at[k + 1] - at[k]);
        struct plane_point p = fine[k], q = fine[(k + 1) % FINE];
        ring[i] = (struct plane_point){p.x + t * (q.x - p.x), p.y + t * (q.y - p.y)};
    }
    return total;
}

void shape_form_size(const struct shape_form *f, double *along, double *across, double *turn) {
    if (f->family != SHAPE_FREE && f->family != SHAPE_WAVY) {
        *along = 2 * fmax(f->a, f->b), *across = 2 * fmin(f->a, f->b);
        if (turn) *turn = f->a >= f->b ? f->turn : f->turn + M_PI / 2;
        return;
    }
    enum { N = 180 };
    double px[N], py[N], cx = 0, cy = 0, area = 0, xx = 0, xy = 0, yy = 0;
    for (int i = 0; i < N; i++) {
        double phi = 2 * M_PI * i / N, r = shape_form_radius(f, phi);
        px[i] = r * cos(phi), py[i] = r * sin(phi);
        area += r * r / 2, cx += r * r * px[i] / 3, cy += r * r * py[i] / 3;
        xx += r * r * px[i] * px[i] / 4, xy += r * r * px[i] * py[i] / 4,
            yy += r * r * py[i] * py[i] / 4;
    }
    cx /= area, cy /= area;
    xx = xx / area - cx * cx, xy = xy / area - cx * cy, yy = yy / area - cy * cy;
    double t = f->family == SHAPE_FREE ? 0.5 * atan2(2 * xy, xx - yy) : 0;
    double c = cos(t), s = sin(t), lo[2] = {1e300, 1e300}, hi[2] = {-1e300, -1e300};
    for (int i = 0; i < N; i++) {
        double u = c * px[i] + s * py[i], v = -s * px[i] + c * py[i];
        lo[0] = fmin(lo[0], u), hi[0] = fmax(hi[0], u);
        lo[1] = fmin(lo[1], v), hi[1] = fmax(hi[1], v);
    }
    double u = hi[0] - lo[0], v = hi[1] - lo[1];
    *along = fmax(u, v), *across = fmin(u, v);
    if (turn) *turn = f->turn + t + (u >= v ? 0 : M_PI / 2);
}
