#include "record/control.h"

#include <float.h>
#include <math.h>
#include <string.h>

enum { MOST_POINTS = 200 };

/* Solves the n x n system in place by elimination with row exchange (Golub & Van Loan, Matrix
 * Computations, section 3.4) for `m` right-hand sides that stand behind the matrix in each row of
 * `width` numbers. False when singular to rounding. */
static bool solve(double *a, size_t n, size_t width) {
    double largest = 0;
    for (size_t i = 0; i < n * width; i++)
        if (i % width < n) largest = fmax(largest, fabs(a[i]));
    for (size_t k = 0; k < n; k++) {
        size_t best = k;
        for (size_t i = k + 1; i < n; i++)
            if (fabs(a[i * width + k]) > fabs(a[best * width + k])) best = i;
        if (!(fabs(a[best * width + k]) > 64 * DBL_EPSILON * largest)) return false;
        for (size_t j = k; best != k && j < width; j++) {
            double t = a[k * width + j];
            a[k * width + j] = a[best * width + j];
            a[best * width + j] = t;
        }
        for (size_t i = 0; i < n; i++) {
            double f = a[i * width + k] / a[k * width + k];
            for (size_t j = k; i != k && j < width; j++)
                a[i * width + j] -= f * a[k * width + j];
        }
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = n; j < width; j++)
            a[i * width + j] /= a[i * width + i];
    return true;
}

/* r^2 log r^2, the bending of a thin plate pushed at a point (Bookstein 1989, eq. 1, up to the
 * factor that falls out). */
static double plate(double dx, double dy) {
    double r2 = dx * dx + dy * dy;
    return r2 > 0 ? r2 * log(r2) : 0;
}

/* Points other than `skip`; coordinates about their middle and in units of their spread, so that
 * the normal equations stay well conditioned. */
struct frame {
    double x0, y0, scale;
};

static struct frame frame_of(const struct control *c, size_t skip) {
    struct frame f = {0, 0, 0};
    double n = 0;
    for (size_t i = 0; i < c->n; i++)
        if (i != skip) {
            f.x0 += c->points[i].x;
            f.y0 += c->points[i].y;
            n++;
        }
    f.x0 /= n;
    f.y0 /= n;
    for (size_t i = 0; i < c->n; i++)
        if (i != skip) f.scale = fmax(f.scale, hypot(c->points[i].x - f.x0, c->points[i].y - f.y0));
    return f;
}

static bool fit_affine(double a[6], const struct control *c, size_t skip) {
    struct frame f = frame_of(c, skip);
    double m[3 * 5] = {0};
    if (!(f.scale > 0)) return false;
    for (size_t i = 0; i < c->n; i++) {
        if (i == skip) continue;
        const struct control_point *p = &c->points[i];
        double b[5] = {1, (p->x - f.x0) / f.scale, (p->y - f.y0) / f.scale, p->true_x, p->true_y};
        for (int r = 0; r < 3; r++)
            for (int k = 0; k < 5; k++)
                m[r * 5 + k] += b[r] * b[k];
    }
    /* Nearly on one line: the smaller spread under a thousandth of the larger. */
    double half = (m[6] + m[12]) / 2, off = hypot((m[6] - m[12]) / 2, m[7]);
    if (half - off < 1e-6 * (half + off) || !solve(m, 3, 5)) return false;
    for (int k = 0; k < 2; k++) {
        a[3 * k + 1] = m[5 + 3 + k] / f.scale;
        a[3 * k + 2] = m[10 + 3 + k] / f.scale;
        a[3 * k] = m[3 + k] - a[3 * k + 1] * f.x0 - a[3 * k + 2] * f.y0;
    }
    return true;
}

static bool fit_spline(struct control_map *out, const struct control *c, size_t skip,
                       struct arena *arena, bool *memory) {
    size_t n = skip < c->n ? c->n - 1 : c->n, size = n + 3, width = size + 2;
    double *m = ARENA_NEW(arena, double, size *width), *x = ARENA_NEW(arena, double, 4 * n);
    if (!m || !x) {
        *memory = true;
        return false;
    }
    double *y = x + n, *wx = y + n, *wy = wx + n;
    for (size_t i = 0, k = 0; i < c->n; i++) {
        if (i == skip) continue;
        x[k] = c->points[i].x;
        y[k] = c->points[i].y;
        m[k * width + size] = c->points[i].true_x;
        m[k * width + size + 1] = c->points[i].true_y;
        k++;
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t j = 0; j < n; j++)
            m[i * width + j] = plate(x[i] - x[j], y[i] - y[j]);
        const double p[3] = {1, x[i], y[i]};
        for (size_t k = 0; k < 3; k++)
            m[i * width + n + k] = m[(n + k) * width + i] = p[k];
    }
    if (!solve(m, size, width)) return false;
    for (size_t i = 0; i < n; i++) {
        wx[i] = m[i * width + size];
        wy[i] = m[i * width + size + 1];
    }
    for (size_t k = 0; k < 3; k++) {
        out->a[k] = m[(n + k) * width + size];
        out->a[3 + k] = m[(n + k) * width + size + 1];
    }
    out->n = n;
    out->x = x;
    out->y = y;
    out->wx = wx;
    out->wy = wy;
    return true;
}

void control_apply(const struct control_map *map, double *x, double *y) {
    const double *a = map->a;
    double px = *x, py = *y;
    *x = a[0] + a[1] * px + a[2] * py;
    *y = a[3] + a[4] * px + a[5] * py;
    for (size_t i = 0; i < map->n; i++) {
        double u = plate(px - map->x[i], py - map->y[i]);
        *x += map->wx[i] * u;
        *y += map->wy[i] * u;
    }
}

static double miss(const struct control_map *map, const struct control_point *p) {
    double x = p->x, y = p->y;
    control_apply(map, &x, &y);
    return hypot(x - p->true_x, y - p->true_y);
}

/* Root mean square error at each point, fitted without it. */
static double left_out(const struct control *c, size_t fewest, struct arena *arena, bool *memory) {
    double sum = 0;
    if (c->n <= fewest) return NAN;
    for (size_t i = 0; i < c->n; i++) {
        struct control_map map = {0};
        bool ok = c->method == CONTROL_SPLINE ? fit_spline(&map, c, i, arena, memory)
                                              : fit_affine(map.a, c, i);
        if (!ok) return NAN;
        double e = miss(&map, &c->points[i]);
        sum += e * e;
    }
    return sqrt(sum / (double)c->n);
}

int control_fit(struct control_map *out, struct control_fit *fit, const struct control *control,
                struct arena *arena, struct error *err) {
    size_t fewest = control->method == CONTROL_SPLINE ? 4 : 3;
    *out = (struct control_map){0};
    *fit = (struct control_fit){NAN, NAN, NAN, NAN};
    if (control->n < fewest || control->n > MOST_POINTS)
        return fail(err, ERR_MISSING, "Mark points all round the film whose true place is known.",
                    "%zu control points; %zu to %d are needed.", control->n, fewest, MOST_POINTS);
    for (size_t i = 0; i < control->n; i++) {
        const struct control_point *p = &control->points[i];
        if (!isfinite(p->x + p->y + p->true_x + p->true_y))
            return fail(err, ERR_RANGE, "Give all four numbers in mm.",
                        "Control point %zu is not a place.", i + 1);
    }
    double affine[6];
    bool memory = false;
    bool ok = fit_affine(affine, control, control->n);
    if (ok && control->method == CONTROL_SPLINE)
        ok = fit_spline(out, control, control->n, arena, &memory);
    else
        memcpy(out->a, affine, sizeof affine);
    if (memory) return fail_memory(err);
    if (!ok)
        return fail(err, ERR_INPUT, "Take points at the corners, not along one edge.",
                    "The control points stand on one line, or two of them at one place.");
    double sum = 0;
    for (size_t i = 0; i < control->n; i++)
        sum += pow(miss(out, &control->points[i]), 2);
    *fit = (struct control_fit){.stretch_x = hypot(affine[1], affine[4]),
                                .stretch_y = hypot(affine[2], affine[5]),
                                .residual = sqrt(sum / (double)control->n),
                                .left_out = left_out(control, fewest, arena, &memory)};
    return memory ? fail_memory(err) : 0;
}
