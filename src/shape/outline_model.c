/* The likelihood of one row: forms read off columns, and every kind of evidence. */
#include "base/mem.h"
#include "shape/outline_inside.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_erf.h>
#include <math.h>
#include <string.h>

const char *const shape_evidence_words[] = {"edge",   "stitches", "loose",   "rise",   "straight",
                                            "corner", "inside",   "midline", "length", "width",
                                            "chord",  "lath",     NULL};

static const double SOFT_WALL = 3;      /* mm: inference.md section 3, interior fragments */
static const double FALL = -1.7;        /* of Fourier coefficients with their order */
static const double ROUND_LEAST = 0.02; /* corner radius over half-width: no sharper */
static const double TAPER_LEAST = 0.35; /* narrow end over wide end */

/* Below 5 erfc itself keeps all its digits; from there its asymptotic series, right to 3e-6
 * (Abramowitz & Stegun 1964, 7.1.23). */
static double log_erfc(double z) {
    if (z < 5) return log(erfc(z));
    double x = 1 / (2 * z * z), sum = 1 - x * (1 - 3 * x * (1 - 5 * x * (1 - 7 * x)));
    return log(sum / (z * sqrt(M_PI))) - z * z;
}

static double phi_of(double z) {
    return gsl_cdf_ugaussian_P(z);
}

/* ---- the form of a row ----------------------------------------------------------------------- */

/* Waves of orders 3 to 7 on an ellipse. How large they are is unknown itself, from a fraction of a
 * percent of the radius to a fifth, so that readings of a nearly regular object do not pay for
 * what a wild one could be (a scale with a prior of its own: Gelman 2006, Bayesian Analysis 1,
 * 515-534). A wavy form is alike on both sides of its long axis, or of its short one: then its odd
 * orders are sines (half-round objects, one long side unlike the other). */
static void free_numbers(struct shape_form *f, const struct shape_outline_model *m,
                         const double *s) {
    double size = m->o.roughness * exp(m->o.roughness_sd * s[0]);
    bool wavy = f->family == SHAPE_WAVY, across = wavy && s[1] < 0;
    const double *c = s + (wavy ? 2 : 1);
    for (int i = 0; i < SHAPE_ORDERS; i++) {
        int k = SHAPE_ORDER_LOW + i;
        double sd = size * pow(k, FALL);
        bool sine = across && k % 2 == 1;
        f->even[i] = sine ? 0 : sd * c[i];
        f->odd[i] = sine ? sd * c[i] : wavy ? 0 : sd * c[SHAPE_ORDERS + i];
    }
}

static void shape_numbers(struct shape_form *f, const struct shape_outline_model *m,
                          const double *s) {
    switch (f->family) {
    case SHAPE_SUPERELLIPSE:
        f->exponent = fmax(m->o.exponent * exp(m->o.exponent_sd * s[0]), 1.05);
        break;
    case SHAPE_ROUNDED:
        f->corner1 = f->b * (ROUND_LEAST + (1 - ROUND_LEAST) * phi_of(s[0]));
        break;
    case SHAPE_TAPER:
        f->taper = TAPER_LEAST + (1 - TAPER_LEAST) * phi_of(s[0]);
        f->corner1 = f->b * (ROUND_LEAST + (1 - ROUND_LEAST) * phi_of(s[1]));
        f->corner2 = f->b * f->taper * (ROUND_LEAST + (1 - ROUND_LEAST) * phi_of(s[2]));
        break;
    case SHAPE_WAVY:
    case SHAPE_FREE:
        free_numbers(f, m, s);
        break;
    default:
        break;
    }
}

/* How many of s[] the family itself uses; unlike halves take the next ones in pairs. */
static const size_t own_numbers[SHAPE_FAMILIES] = {[SHAPE_SUPERELLIPSE] = 1,
                                                   [SHAPE_ROUNDED] = 1,
                                                   [SHAPE_TAPER] = 3,
                                                   [SHAPE_WAVY] = 2 + SHAPE_ORDERS,
                                                   [SHAPE_FREE] = 1 + 2 * SHAPE_ORDERS};

static bool has_axes(enum shape_family family) {
    return family != SHAPE_WAVY && family != SHAPE_FREE;
}

static bool may_be_unlike(enum shape_family family) {
    return has_axes(family) && family != SHAPE_TAPER;
}

/* ln of the ratio of two halves: 0 with the chance that they are alike, beyond it a normal tail.
 * Hand work has a broader end, a straighter side; that both are alike is a guess of its own. */
static double ratio_of(const struct shape_outline_model *m, double scale, double z) {
    double over = fabs(z) - m->alike_z;
    return over > 0 ? copysign(scale * over, z) : 0;
}

double outline_unlike_ratio(const struct shape_outline_model *m, double z) {
    return ratio_of(m, m->o.unlike, z);
}

/* How a shorter half of a superellipse came about. It is the longer one drawn together, or it was
 * cut off straight across, equally likely; or it is square in its own way. An ellipse cut at the
 * share d of its half-width meets the diagonal of the box that is left at t = (1 + d²)^(-1/2) or at
 * the cut; the superellipse through that point has 2^(-1/n) = t, and ln(n/2) is 1.5, 1.6, 1.7 times
 * -ln d at d = 0.8, 0.6, 0.3. */
static const double CUT_SQUARE = 1.6;

void outline_unlike_square(double out[2], const struct shape_outline_model *m, double z_size,
                           double z_square) {
    double ratio = outline_unlike_ratio(m, z_size), z = fabs(z_square);
    out[0] = out[1] = 0;
    if (z > m->alike_z)
        out[0] = ratio_of(m, m->o.unlike_square, z_square) / 2, out[1] = -out[0];
    else if (z > m->drawn_z)
        out[ratio > 0] = CUT_SQUARE * fabs(ratio);
}

size_t outline_unlike_pairs(const struct shape_outline_model *m, enum shape_family family) {
    if (!may_be_unlike(family) || !(m->o.unlike > 0)) return 0;
    return family == SHAPE_SUPERELLIPSE && m->o.unlike_square > 0 ? 2 : 1;
}

static void unlike_numbers(struct shape_form *f, const struct shape_outline_model *m,
                           const double *s) {
    if (!outline_unlike_pairs(m, f->family)) return;
    const double *own = s + own_numbers[f->family];
    f->unlike_ends = outline_unlike_ratio(m, own[0]);
    f->unlike_sides = outline_unlike_ratio(m, own[1]);
    if (outline_unlike_pairs(m, f->family) < 2) return;
    outline_unlike_square(f->square_ends, m, own[0], own[2]);
    outline_unlike_square(f->square_sides, m, own[1], own[3]);
}

bool outline_two_axes(enum shape_family family) {
    return family != SHAPE_TAPER && family != SHAPE_WAVY && family != SHAPE_FREE;
}

size_t outline_unlike_at(const struct shape_outline_model *m, enum shape_family family) {
    return outline_unlike_pairs(m, family) ? own_numbers[family] : SIZE_MAX;
}

size_t outline_shapes_used(const struct shape_outline_model *m, enum shape_family family) {
    return own_numbers[family] + 2 * outline_unlike_pairs(m, family);
}

void outline_form_set(struct outline_view *v, const struct shape_outline_model *m,
                      const struct outline_numbers *q) {
    struct shape_form *f = &v->form;
    memset(f, 0, sizeof *f);
    f->family = q->family;
    f->x = q->x, f->y = q->y, f->turn = q->turn;
    f->a = q->size, f->b = q->size * q->ratio;
    shape_numbers(f, m, q->s);
    unlike_numbers(f, m, q->s);
    shape_form_ready(f);
    v->wave = q->wave, v->reach = q->reach;
    v->row_wave = m->has_rows ? q->row_wave : q->wave;
}

static void form_read(struct outline_view *v, const struct shape_outline_model *m,
                      const double *row) {
    const size_t *c = m->column;
    struct outline_numbers q = {.family = (enum shape_family)(int)row[c[ROOT_FAMILY]],
                                .x = row[c[ROOT_X]],
                                .y = row[c[ROOT_Y]],
                                .size = row[c[ROOT_SIZE]],
                                .ratio = row[c[ROOT_RATIO]],
                                .wave = row[c[ROOT_WAVE]],
                                .reach = row[c[ROOT_REACH]]};
    if (m->has_rows) q.row_wave = row[c[ROOT_ROW_WAVE]];
    double two = atan2(row[c[ROOT_V]], row[c[ROOT_U]]);
    q.turn = outline_two_axes(q.family) ? two / 2 : two;
    for (int i = 0; i < SHAPE_NUMBERS; i++)
        q.s[i] = row[c[ROOT_SHAPE + i]];
    outline_form_set(v, m, &q);
}

static void ring_make(struct outline_view *v, const struct shape_outline_model *m) {
    const struct shape_form *f = &v->form;
    shape_form_quick_ring(f, v->ring, v->at, m->unit, RING);
    for (int i = 0; i < RING; i++) {
        double x = v->ring[i].x, y = v->ring[i].y;
        v->ring[i] = (struct plane_point){f->x + f->cos_turn * x - f->sin_turn * y,
                                          f->y + f->sin_turn * x + f->cos_turn * y};
    }
}

/* Radius of the circle through three neighbours; the least over the ring is the tightest corner. */
static double ring_tightest(const struct outline_view *v) {
    double most = 0;
    for (int i = 0; i < RING; i++) {
        struct plane_point a = v->ring[i], b = v->ring[(i + 1) % RING], c = v->ring[(i + 2) % RING];
        double ab = hypot(b.x - a.x, b.y - a.y), bc = hypot(c.x - b.x, c.y - b.y),
               ca = hypot(a.x - c.x, a.y - c.y);
        double twice = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
        most = fmax(most, 2 * twice / (ab * bc * ca)); /* 1/R = 4 area/(abc) */
    }
    return most > 0 ? 1 / most : INFINITY;
}

static double tightest_of(const struct outline_view *v) {
    const struct shape_form *f = &v->form;
    if (f->unlike && f->family != SHAPE_POINTED) return ring_tightest(v);
    switch (f->family) {
    case SHAPE_ELLIPSE:
        return f->b * f->b / f->a;
    case SHAPE_POINTED:
        return 0.5; /* the tip: as sharp as bark can be cut */
    case SHAPE_ROUNDED:
    case SHAPE_STADIUM:
        return f->cr[0];
    case SHAPE_TAPER:
        return fmin(f->cr[0], f->cr[1]);
    default:
        return ring_tightest(v);
    }
}

void outline_view_make(struct outline_view *v, const struct shape_outline_model *m,
                       const double *row) {
    form_read(v, m, row);
    outline_view_finish(v, m);
}

/* Length, width and turn as shape_form_size has them, from the ring where there are no axes. */
static void size_of(struct outline_view *v) {
    const struct shape_form *f = &v->form;
    if (has_axes(f->family)) {
        v->length = 2 * f->a, v->width = 2 * f->b, v->turn = f->turn;
        return;
    }
    double sum = 0, mx = 0, my = 0, xx = 0, xy = 0, yy = 0;
    for (int i = 0; i < RING; i++) { /* triangles about the centre */
        struct plane_point p = v->ring[i], q = v->ring[i + 1 < RING ? i + 1 : 0];
        double ax = p.x - f->x, ay = p.y - f->y, bx = q.x - f->x, by = q.y - f->y;
        double w = ax * by - ay * bx;
        sum += w, mx += w * (ax + bx), my += w * (ay + by);
        xx += w * (ax * ax + ax * bx + bx * bx), yy += w * (ay * ay + ay * by + by * by);
        xy += w * (2 * ax * ay + ax * by + bx * ay + 2 * bx * by) / 2;
    }
    mx /= 3 * sum, my /= 3 * sum;
    xx = xx / (6 * sum) - mx * mx, xy = xy / (6 * sum) - mx * my, yy = yy / (6 * sum) - my * my;
    v->turn = f->family == SHAPE_FREE ? 0.5 * atan2(2 * xy, xx - yy) : f->turn;
    double c = cos(v->turn), s = sin(v->turn), lo[2] = {1e300, 1e300}, hi[2] = {-1e300, -1e300};
    for (int i = 0; i < RING; i++) {
        double x = c * v->ring[i].x + s * v->ring[i].y, y = -s * v->ring[i].x + c * v->ring[i].y;
        lo[0] = x < lo[0] ? x : lo[0], hi[0] = x > hi[0] ? x : hi[0];
        lo[1] = y < lo[1] ? y : lo[1], hi[1] = y > hi[1] ? y : hi[1];
    }
    double along = hi[0] - lo[0], across = hi[1] - lo[1];
    v->length = fmax(along, across), v->width = fmin(along, across);
    if (across > along) v->turn += M_PI / 2;
}

void outline_view_finish(struct outline_view *v, const struct shape_outline_model *m) {
    if (m->needs_ring) ring_make(v, m);
    if (m->needs_tightest) v->tightest = tightest_of(v);
    if (m->needs_size) size_of(v);
    if (m->needs_area) v->area = shape_form_area(&v->form);
}

/* ---- points in place ------------------------------------------------------------------------- */

struct plane_point outline_point(const struct shape_outline_model *m, const struct reading *r,
                                 const double *row, size_t i) {
    struct plane_point p = r->p[i];
    if (r->along == NUM_NO_COLUMN && r->around == NUM_NO_COLUMN) return p;
    double a = r->along == NUM_NO_COLUMN ? 1 : row[r->along];
    double t = r->around == NUM_NO_COLUMN ? 1 : row[r->around];
    double dx = p.x - m->middle.x, dy = p.y - m->middle.y;
    double u = a * (r->cos_grain * dx + r->sin_grain * dy);
    double w = t * (-r->sin_grain * dx + r->cos_grain * dy);
    return (struct plane_point){m->middle.x + r->cos_grain * u - r->sin_grain * w,
                                m->middle.y + r->sin_grain * u + r->cos_grain * w};
}

static double scaled(const struct reading *r, const double *row, double value) {
    return r->along == NUM_NO_COLUMN ? value : value * row[r->along];
}

/* ln of the highest density of a normal; a t scaled to the same variance is a little higher. */
static double normal_most(double u) {
    return -log(u) - 0.5 * log(2 * M_PI) + 0.4;
}

/* ln of the density of a whitened innovation e with variance S, its -ln(S)/2 left out: normal, or
 * Student t with 4 degrees scaled to the same variance. */
static double innovation_like(double e2_S, bool outliers) {
    if (!outliers) return -0.5 * (e2_S + log(2 * M_PI));
    /* t4 has variance 2: density of sqrt(2) e/sqrt(S) times sqrt(2/S). Gamma(2.5)/(Gamma(2)
     * sqrt(4 pi)) = 0.375. */
    return log(0.375) + 0.5 * M_LN2 - 2.5 * log1p(e2_S / 2);
}

/* The most a point of an arc can give: S is never below the pointing error's square. */
static double point_most(const struct reading *r) {
    return normal_most(r->e.u);
}

/* Waviness sigma² exp(-s/reach) along the edge plus pointing error u²: one pass of the scalar
 * Kalman filter of the Ornstein-Uhlenbeck process (Rybicki & Press, Phys. Rev. Lett. 74 (1995)
 * 1060; Hartikainen & Särkkä 2010), exact and linear in the number of points. */
static double edge_like(const struct shape_outline_model *m, const struct outline_view *v,
                        const double *row, const struct reading *r, double sigma, double floor) {
    double s2 = sigma * sigma, u2 = r->e.u * r->e.u, mean = 0, P = s2, sum = 0, product = 1;
    double off = isnan(r->e.offset) ? 0 : r->e.offset;
    bool outliers = m->o.outliers == 1;
    double each = point_most(r);
    for (size_t i = 0; i < r->n; i++) {
        double d = shape_form_offset(&v->form, outline_point(m, r, row, i)) + off;
        double S = P + u2, e = d - mean, K = P / S;
        sum += innovation_like(e * e / S, outliers);
        product *= S;
        if (i % 4 == 3) { /* one logarithm for four */
            sum -= 0.5 * log(product), product = 1;
            if (sum + (double)(r->n - 1 - i) * each < floor) return -INFINITY;
        }
        mean += K * e, P -= K * P;
        double rho = exp(-r->step[i] / v->reach);
        mean *= rho, P = rho * rho * P + s2 * (1 - rho * rho);
    }
    return sum - 0.5 * log(product);
}

static double inside_like(const struct shape_outline_model *m, const struct outline_view *v,
                          const double *row, const struct reading *r) {
    double sum = 0;
    for (size_t i = 0; i < r->n; i++) {
        double d = shape_form_offset(&v->form, outline_point(m, r, row, i)) / SOFT_WALL;
        sum -= d > 30 ? d : log1p(exp(d));
    }
    bool random = m->survival_on || (r->e.at_random == 1 && !m->survival_off);
    /* Each piece lies anywhere inside alike: density 1/area. */
    return random ? sum - r->e.pieces * log(v->area) : sum;
}

/* ---- pieces laid along the ring -------------------------------------------------------------- */

/* The ring twice over, so that walks forward need not ask where it closes. */
struct twice {
    struct plane_point p[2 * RING];
};

static double gap(struct plane_point a, struct plane_point b) {
    double x = b.x - a.x, y = b.y - a.y;
    return x * x + y * y;
}

/* From ring corner k forward: where the straight distance c is reached. Returns the segment and the
 * share of it, or -1 when the outline is smaller than the chord. */
static int chord_end(const struct outline_view *v, int k, double c, double *share) {
    struct plane_point a = v->ring[k];
    double before = 0;
    /* No corner is farther straight than along the ring: those that cannot reach are skipped. */
    int first = 1;
    while (k + first + 1 <= RING && v->at[k + first + 1] - v->at[k] < c)
        first++;
    if (first > 1) {
        struct plane_point b = v->ring[k + first < RING ? k + first : 0];
        double x = b.x - a.x, y = b.y - a.y;
        before = x * x + y * y;
        first++;
    }
    for (int j = first, i = (k + first - 1) % RING; j < RING; j++) {
        i = i + 1 < RING ? i + 1 : 0;
        double x = v->ring[i].x - a.x, y = v->ring[i].y - a.y, d2 = x * x + y * y;
        if (d2 >= c * c) {
            double d = sqrt(d2);
            before = sqrt(before);
            *share = d > before ? (c - before) / (d - before) : 1;
            return j;
        }
        if (d2 < before) return -1; /* past the far side */
        before = d2;
    }
    return -1;
}

/* The same, begun near `guess`: from corner to corner the end of a chord moves on by about one. */
static int chord_end_near(const struct twice *t, int k, double c, double *share, int guess) {
    const struct plane_point *p = t->p + k;
    double c2 = c * c, now, before;
    int j = guess < RING ? guess : RING - 1;
    before = gap(p[0], p[j - 1]);
    while (j > 1 && before >= c2)
        j--, before = gap(p[0], p[j - 1]);
    for (; j < RING; j++, before = now) {
        now = gap(p[0], p[j]);
        if (now >= c2) { /* d²(t) = before + t (now - before) - t (1 - t) segment², in two steps */
            double by = now > before ? 1 / (now - before) : 0, t0 = (c2 - before) * by;
            double t1 = t0 + t0 * (1 - t0) * gap(p[j - 1], p[j]) * by;
            *share = by > 0 ? (t1 < 1 ? t1 : 1) : 1;
            return j;
        }
        if (now < before) return -1; /* past the far side */
    }
    return -1;
}

static struct plane_point ring_at(const struct outline_view *v, int k, double share) {
    struct plane_point p = v->ring[(k - 1 + RING) % RING], q = v->ring[k % RING];
    return (struct plane_point){p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)};
}

/* Heights over a chord along the unit vector (ex, ey), outward. */
struct chord {
    const struct plane_point *p; /* corners from its beginning on */
    struct plane_point b;        /* its end: a place on the segment before corner `end` */
    double ex, ey;
    int end;
};

static inline double height(const struct chord *c, int j, double *x) {
    struct plane_point p = j == c->end ? c->b : c->p[j];
    double dx = p.x - c->p[0].x, dy = p.y - c->p[0].y;
    *x = c->ex * dx + c->ey * dy;
    return c->ey * dx - c->ex * dy; /* outward is right of travel */
}

/* Heights at three neighbouring corners. */
struct three {
    double x[3], h[3];
};

/* Top of the parabola through them, the middle one being the highest. */
static double parabola_top(const struct three *t) {
    double d1 = t->x[1] - t->x[0], d2 = t->x[2] - t->x[1], d = d1 + d2;
    double s1 = t->h[1] - t->h[0], s2 = t->h[2] - t->h[1];
    double bend = s2 * d1 - s1 * d2; /* second difference times d1 d2 */
    if (!(bend < 0 && d1 > 0 && d2 > 0)) return t->h[1];
    double slope = s1 * d2 * d + bend * d1; /* at the middle, times d1 d2 d */
    return t->h[1] - slope * slope / (4 * bend * d1 * d2 * d);
}

/* The one top over a chord of a convex form, climbed to from corner *peak. */
static double climb(const struct chord *c, int *peak) {
    struct three t;
    int j = *peak < 1 ? 1 : *peak < c->end ? *peak : c->end - 1;
    for (int i = 0; i < 3; i++)
        t.h[i] = height(c, j - 1 + i, &t.x[i]);
    while (t.h[2] > t.h[1] && j + 1 < c->end) {
        t.h[0] = t.h[1], t.x[0] = t.x[1], t.h[1] = t.h[2], t.x[1] = t.x[2];
        t.h[2] = height(c, ++j + 1, &t.x[2]);
    }
    while (t.h[0] > t.h[1] && j > 1) {
        t.h[2] = t.h[1], t.x[2] = t.x[1], t.h[1] = t.h[0], t.x[1] = t.x[0];
        t.h[0] = height(c, --j - 1, &t.x[0]);
    }
    *peak = j;
    double top = parabola_top(&t);
    return top > 0 ? top : 0;
}

/* The highest of all tops over a chord. */
static double highest(const struct chord *c) {
    struct three t = {{0}, {0}};
    double top = 0;
    for (int j = 1; j <= c->end; j++) {
        t.h[0] = t.h[1], t.x[0] = t.x[1], t.h[1] = t.h[2], t.x[1] = t.x[2];
        t.h[2] = height(c, j, &t.x[2]);
        if (t.h[2] > top) top = t.h[2];
        if (j >= 2 && t.h[1] >= t.h[0] && t.h[1] >= t.h[2]) top = fmax(top, parabola_top(&t));
    }
    return top;
}

/* Where the last chord ended and was highest, corners on from its beginning. */
struct last_chord {
    int end, peak;
};

/* Greatest height of the outline over the chord c from corner k, a parabola through the three
 * highest corners. NAN when it does not fit. Free forms are looked at all over. */
static double ring_rise(const struct outline_view *v, const struct twice *t, int k, double c,
                        struct last_chord *last) {
    double share;
    int end =
        last->end < 2 ? chord_end(v, k, c, &share) : chord_end_near(t, k, c, &share, last->end);
    last->end = end;
    if (end < 0) return NAN;
    if (end == 1) return 0;
    const struct plane_point *p = t->p + k, *q = p + end;
    struct chord d = {
        .p = p,
        .b = {q[-1].x + share * (q[0].x - q[-1].x), q[-1].y + share * (q[0].y - q[-1].y)},
        .end = end};
    double by = 1 / c;
    d.ex = (d.b.x - p->x) * by, d.ey = (d.b.y - p->y) * by;
    return has_axes(v->form.family) ? climb(&d, &last->peak) : highest(&d);
}

/* ln of the mean over places along the edge of exp(f(rise)). Forms with two axes repeat after half
 * the ring. */
static double along_ring(const struct outline_view *v, double chord,
                         double (*f)(double rise, const double *ctx), const double *ctx) {
    int n = outline_two_axes(v->form.family) && !v->form.unlike ? RING / 2 : RING;
    double top = -INFINITY, each[RING], sum = 0;
    struct last_chord last = {0, 0};
    struct twice t;
    memcpy(t.p, v->ring, sizeof v->ring);
    memcpy(t.p + RING, v->ring, sizeof v->ring);
    for (int k = 0; k < n; k++) {
        double rise = ring_rise(v, &t, k, chord, &last);
        each[k] = isnan(rise) ? -INFINITY : f(rise, ctx);
        top = each[k] > top ? each[k] : top;
    }
    if (!(top > -INFINITY)) return -INFINITY;
    for (int k = 0; k < n; k++) { /* each corner stands for half of both its segments */
        double last = k ? v->at[k] - v->at[k - 1] : v->at[RING] - v->at[RING - 1];
        if (each[k] > top - 40) sum += exp(each[k] - top) * (v->at[k + 1] - v->at[k] + last) / 2;
    }
    return top + log(sum / v->at[n]);
}

static double rise_normal(double rise, const double *c) {
    double z = (rise - c[0]) / c[1];
    return c[2] - 0.5 * z * z;
}

/* Rise found under a limit: chance that rise plus error stays under it. */
static double rise_under(double rise, const double *c) {
    double z = (rise - c[0]) / (c[1] * M_SQRT2);
    return log_erfc(z) - M_LN2;
}

/* What waviness adds to a rise read at the middle against both ends. */
static double rise_wave(const struct outline_view *v, double chord) {
    double half = exp(-chord / 2 / v->reach);
    return v->wave * v->wave * (1.5 + 0.5 * half * half - 2 * half);
}

static double rise_like(const struct outline_view *v, const double *row, const struct reading *r) {
    double chord = scaled(r, row, r->e.chord), value = scaled(r, row, r->e.value), u = r->e.u;
    if (r->e.wavy == 1) u = sqrt(u * u + rise_wave(v, chord));
    double c[3] = {value, u, -log(u) - 0.5 * log(2 * M_PI)};
    return along_ring(v, chord, r->e.what == SHAPE_RISE ? rise_normal : rise_under, c);
}

/* A loose arc: laid with its ends on the outline at every corner of the ring, its heights over its
 * own chord against the outline's, shift and tilt left free (flat priors, integrated), waviness and
 * pointing error as in place. Whitening is the same at all places: done once. */
struct whitener {
    double S[256], K[256], rho[256]; /* per point */
    double a[256], b[256];           /* whitened 1 and x */
    double aa, ab, bb, log_norm;
};

static void whiten(const struct whitener *w, const double *e, double *out, size_t n) {
    double mean = 0;
    for (size_t i = 0; i < n; i++) {
        double d = e[i] - mean;
        out[i] = d / sqrt(w->S[i]);
        mean = w->rho[i] * (mean + w->K[i] * d);
    }
}

static void whitener_make(struct whitener *w, const struct outline_view *v, const struct reading *r,
                          double scale) {
    double s2 = v->wave * v->wave, u2 = r->e.u * r->e.u, P = s2, one[256] = {0}, x[256] = {0};
    w->log_norm = 0;
    for (size_t i = 0; i < r->n; i++) {
        w->S[i] = P + u2, w->K[i] = P / w->S[i], w->rho[i] = exp(-r->step[i] * scale / v->reach);
        P -= w->K[i] * P;
        P = w->rho[i] * w->rho[i] * P + s2 * (1 - w->rho[i] * w->rho[i]);
        w->log_norm -= 0.5 * log(2 * M_PI * w->S[i]);
        one[i] = 1, x[i] = (r->x[i] / r->length - 0.5);
    }
    whiten(w, one, w->a, r->n);
    whiten(w, x, w->b, r->n);
    w->aa = w->ab = w->bb = 0;
    for (size_t i = 0; i < r->n; i++)
        w->aa += w->a[i] * w->a[i], w->ab += w->a[i] * w->b[i], w->bb += w->b[i] * w->b[i];
    w->log_norm += log(2 * M_PI) - 0.5 * log(w->aa * w->bb - w->ab * w->ab);
}

/* Heights of the outline at the arc's places along its chord laid from corner k. */
static bool ring_heights(const struct outline_view *v, int k, const struct reading *r, double scale,
                         bool turned, double *out) {
    double c = r->length * scale, share;
    int end = chord_end(v, k, c, &share);
    if (end < 0) return false;
    struct plane_point a = v->ring[k], b = ring_at(v, k + end, share);
    double ex = (b.x - a.x) / c, ey = (b.y - a.y) / c;
    int j = 0;
    double x0 = 0, h0 = 0, x1 = 0, h1 = 0;
    for (size_t i = 0; i < r->n; i++) {
        double want = (turned ? r->length - r->x[r->n - 1 - i] : r->x[i]) * scale;
        while (j < end && x1 <= want) {
            x0 = x1, h0 = h1, j++;
            struct plane_point p = j == end ? b : v->ring[(k + j) % RING];
            double dx = p.x - a.x, dy = p.y - a.y;
            x1 = ex * dx + ey * dy, h1 = ey * dx - ex * dy;
        }
        double t = x1 > x0 ? fmin(fmax((want - x0) / (x1 - x0), 0), 1) : 0;
        out[i] = h0 + t * (h1 - h0);
    }
    return true;
}

static double loose_like(const struct outline_view *v, const double *row, const struct reading *r) {
    double scale = r->along == NUM_NO_COLUMN ? 1 : row[r->along];
    struct whitener w;
    whitener_make(&w, v, r, scale);
    int ways = r->e.turned_over == 1 ? 2 : 1;
    double each[2 * RING], top = -INFINITY, sum = 0, e[256], z[256];
    for (int q = 0; q < ways * RING; q++) {
        each[q] = -INFINITY;
        bool turned = q >= RING;
        if (!ring_heights(v, q % RING, r, scale, turned, e)) continue;
        double zz = 0, za = 0, zb = 0;
        for (size_t i = 0; i < r->n; i++)
            e[i] = r->h[turned ? r->n - 1 - i : i] * scale - e[i];
        whiten(&w, e, z, r->n);
        for (size_t i = 0; i < r->n; i++)
            zz += z[i] * z[i], za += z[i] * w.a[i], zb += z[i] * w.b[i];
        double det = w.aa * w.bb - w.ab * w.ab;
        double fit = (w.bb * za * za - 2 * w.ab * za * zb + w.aa * zb * zb) / det;
        each[q] = w.log_norm - 0.5 * (zz - fit);
        top = fmax(top, each[q]);
    }
    if (!(top > -INFINITY)) return -INFINITY;
    for (int q = 0; q < ways * RING; q++) {
        int k = q % RING;
        sum += exp(each[q] - top) * (v->at[k + 1] - v->at[k]);
    }
    return top + log(sum / (ways * v->at[RING]));
}

/* ---- sizes ----------------------------------------------------------------------------------- */

static double size_like(double model, double value, double u, bool at_least) {
    double z = (model - value) / u;
    if (at_least) return log_erfc(-z / M_SQRT2) - M_LN2;
    return -0.5 * z * z - log(u) - 0.5 * log(2 * M_PI);
}

/* Length of the outline along a line through p, mm; 0 when the line misses. */
static double ring_chord(const struct outline_view *v, struct plane_point p, double angle) {
    double c = cos(angle), s = sin(angle), lo = INFINITY, hi = -INFINITY;
    for (int i = 0; i < RING; i++) {
        struct plane_point a = v->ring[i], b = v->ring[(i + 1) % RING];
        double ha = -s * (a.x - p.x) + c * (a.y - p.y), hb = -s * (b.x - p.x) + c * (b.y - p.y);
        if ((ha > 0) == (hb > 0)) continue;
        double t = ha / (ha - hb);
        double x = c * (a.x + t * (b.x - a.x) - p.x) + s * (a.y + t * (b.y - a.y) - p.y);
        lo = fmin(lo, x), hi = fmax(hi, x);
    }
    return hi > lo ? hi - lo : 0;
}

/* As outline_reading_like; below `floor` it may be -INFINITY instead. */
static double reading_above(const struct shape_outline_model *m, const struct outline_view *v,
                            const double *row, size_t k, double floor) {
    const struct reading *r = &m->reading[k];
    double value = scaled(r, row, r->e.value), off = isnan(r->e.offset) ? 0 : r->e.offset;
    bool least = r->e.at_least == 1;
    switch ((enum shape_evidence_what)r->e.what) {
    case SHAPE_EDGE:
        return edge_like(m, v, row, r, v->wave, floor);
    case SHAPE_STITCHES:
        return edge_like(m, v, row, r, v->row_wave, floor);
    case SHAPE_LOOSE:
        return loose_like(v, row, r);
    case SHAPE_RISE:
    case SHAPE_STRAIGHT:
        return rise_like(v, row, r);
    case SHAPE_CORNER: { /* normal in ln R: sd u/R */
        double u = r->e.u / r->e.value;
        return size_like(log(v->tightest), log(value), u, false);
    }
    case SHAPE_INSIDE:
        return inside_like(m, v, row, r);
    case SHAPE_MIDLINE: { /* von Mises in twice the angle: the line has no head */
        double kappa = 1 / (4 * r->e.u * r->e.u);
        return kappa * (cos(2 * (v->turn - r->e.angle)) - 1);
    }
    case SHAPE_LENGTH:
        return size_like(v->length, value, r->e.u, least);
    case SHAPE_WIDTH:
        return size_like(v->width, value, r->e.u, least);
    case SHAPE_CHORD:
        return size_like(ring_chord(v, outline_point(m, r, row, 0), r->e.angle), value + 2 * off,
                         r->e.u, least);
    case SHAPE_LATH: /* lies somewhere across: no longer than the width inside the rim */
        return size_like(v->width, value + 2 * off, r->e.u, true);
    default:
        return 0;
    }
}

double outline_reading_like(const struct shape_outline_model *m, const struct outline_view *v,
                            const double *row, size_t k) {
    return reading_above(m, v, row, k, -INFINITY);
}

/* Arcs in place survived somewhere along the edge: each has density 1/perimeter there, as a loose
 * arc has that is laid at every place and averaged, and as a piece inside has 1/area. Without it
 * an outline may grow freely behind the arcs. */
static double places_like(const struct shape_outline_model *m, const struct outline_view *v) {
    if (!(m->arcs > 0) || m->survival_off) return 0;
    return -m->arcs * log(shape_form_quick_perimeter(&v->form, m->few, FEW));
}

double outline_view_like(const struct shape_outline_model *m, const struct outline_view *v,
                         const double *row) {
    double sum = places_like(m, v);
    for (size_t k = 0; k < m->n; k++) {
        sum += outline_reading_like(m, v, row, k);
        if (!(sum > -INFINITY)) return -INFINITY;
    }
    return sum;
}

/* The most that a reading can give to any form; INFINITY where no limit is at hand. */
static double reading_most(const struct reading *r) {
    switch ((enum shape_evidence_what)r->e.what) {
    case SHAPE_EDGE:
    case SHAPE_STITCHES:
        return (double)r->n * point_most(r);
    case SHAPE_RISE:
        return normal_most(r->e.u);
    case SHAPE_LENGTH:
    case SHAPE_WIDTH:
    case SHAPE_CHORD:
        return r->e.at_least == 1 ? 0 : normal_most(r->e.u);
    case SHAPE_CORNER:
        return normal_most(r->e.u / r->e.value);
    case SHAPE_STRAIGHT:
    case SHAPE_MIDLINE:
    case SHAPE_LATH:
        return 0;
    default:
        return INFINITY;
    }
}

/* Whether a reading asks for the form's own sizes alone. */
static bool is_size(const struct reading *r) {
    return r->e.what == SHAPE_LENGTH || r->e.what == SHAPE_WIDTH || r->e.what == SHAPE_LATH ||
           r->e.what == SHAPE_MIDLINE;
}

double outline_form_like(const struct shape_outline_model *m, struct outline_view *v,
                         const double *row, double floor) {
    enum { MOST = 64 };
    double each[MOST], rest = 0, sum, places;
    if (m->n > MOST || !(floor > -INFINITY)) {
        outline_view_finish(v, m);
        return outline_view_like(m, v, row);
    }
    places = places_like(m, v);
    floor -= 1e-6 * (1 + fabs(floor)) + places; /* sums in another order differ by rounding */
    sum = places;
    bool plain = has_axes(v->form.family);
    if (plain && m->needs_size) size_of(v);
    for (size_t k = 0; k < m->n; k++) {
        bool now = plain && is_size(&m->reading[k]);
        rest += each[k] = now ? outline_reading_like(m, v, row, k) : reading_most(&m->reading[k]);
    }
    if (rest < floor) return -INFINITY;
    outline_view_finish(v, m);
    for (size_t k = 0; k < m->n; k++) {
        if (plain && is_size(&m->reading[k])) continue;
        double others = 0;
        for (size_t j = 0; j < m->n; j++)
            others += j == k ? 0 : each[j];
        each[k] = reading_above(m, v, row, k, floor - others);
        if (others + each[k] < floor) return -INFINITY;
    }
    for (size_t k = 0; k < m->n; k++) {
        sum += each[k];
        if (!(sum > -INFINITY)) return -INFINITY;
    }
    return sum;
}

double outline_like(const double *row, void *ctx) {
    const struct shape_outline_model *m = ctx;
    struct outline_view v;
    outline_view_make(&v, m, row);
    return outline_view_like(m, &v, row);
}
