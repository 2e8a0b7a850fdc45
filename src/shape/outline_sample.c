/* Drawing outlines against the evidence.
 *
 * A general mover sees centre, turn and size as unrelated numbers, although two arcs in place fix
 * combinations of them to millimetres; it then takes very many rows to tell families apart. Here
 * the place and size of an outline are told by where on it two points of the arcs lie: each has a
 * polar angle phi and stands e beyond the edge along its ray. In the form's own frame, taken with
 * half-length 1, point i is the complex number Q_i = (r(phi_i) + e_i) exp(i phi_i); the similarity
 * z -> m z + c that brings Q_1, Q_2 to the points A_1, A_2 of the plan has m = (A_2 - A_1)/(Q_2 -
 * Q_1) = size exp(i turn) and c the centre. The map is analytic, so dx dy dln(size) dturn =
 * |m|²/|Q_2 - Q_1|² rho_1 rho_2 dphi_1 de_1 dphi_2 de_2,  rho = r + e. Starting with small e and
 * any phi says most of what can be said before tangents are looked at. With one short arc only,
 * size keeps its prior and the turn follows from the arc's tangent; without an arc in place the
 * start is the prior.
 *
 * From that start tempered sequential Monte Carlo (Del Moral, Doucet & Jasra, JRSS B 68 (2006)
 * 411-436) runs in each family: SCOUTS candidates a row, then stages of differential-evolution
 * moves (ter Braak, Statistics and Computing 16 (2006) 239-249; whole, in part, and among
 * neighbours), mirror moves, and moves that draw one half of a form anew while the other stays.
 */
#include "base/mem.h"
#include "base/parallel.h"
#include "num/adopt.h"
#include "num/weighted.h"
#include "shape/outline_inside.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdatomic.h>
#include <string.h>

enum {
    CHUNK = 16,
    SCOUTS = 64,         /* candidates a row at the start */
    SWEEPS = 30,         /* of moves a stage, and twice as many at the end */
    SWEEPS_NOWHERE = 12, /* the same when no place is at stake */
    CELLS = 6,           /* neighbourhoods each way round, for moves among neighbours */
    MOST_STAGES = 200,
    DIMS = 9 + SHAPE_NUMBERS
};
static const double START_EPS = 8;     /* mm: waviness and pointing leave it well inside */
static const double START_DELTA = 0.2; /* rad: likewise, over a base of some 40 mm */
static const double PAIR_LEAST = 60;   /* mm between two points that are to tell the size */
static const double KEEP = 0.7;        /* effective share a tempering step leaves */
static const double ACCEPT = 0.25;
static const double OUT_OF_REACH = 10; /* ln: a family e^-10 as likely as another */

/* A point of an arc that the outline is laid against, and the ends of its tangent's base. */
struct anchor {
    size_t reading, at, before, after;
};

enum laying { LAID_NOWHERE, LAID_FREE, LAID_ONE, LAID_PAIR };

/* One draw: coordinates are standard normal at the start but for polar angles, which are even. */
struct draw {
    double z[DIMS];
    int turned;  /* LAID_ONE: which side of the arc is inside */
    size_t from; /* row it copies */
    double w;    /* ln(target/start) without tempering */
};

struct sampler {
    const struct shape_outline_model *m;
    const struct num_rows *rows;
    uint64_t stream;
    enum laying laying;
    struct anchor anchor[2];
    enum shape_family family;
    size_t d, n, n_scout;
    struct draw *draw, *scout;
    size_t *pool;  /* [n] row that belongs to each place, weights evened out */
    bool factors;  /* some reading is brought to the state by columns of its row */
    size_t *group; /* [n] of each draw's place, as of its row */
    size_t n_groups;
    double *lw;     /* [n] */
    size_t scouted; /* scouts looked at already */
    double floor;   /* a scout below it counts for nothing */
    double beta;
    double best;     /* ln evidence of the best family so far */
    double scale[3]; /* differential evolution: whole, in part, among neighbours */
    int kind; /* of the sweep: index into scale, 3 mirror, 4 another row's factors, 5 a half */
    size_t *cell, *donor, *donor_begin; /* neighbourhoods of the half that stays */
    double shift[2];                    /* of their grid */
    size_t half;
    uint64_t round;
    double *scratch; /* [chunks][columns] */
    atomic_size_t accepted;
};

/* ---- where to lay it ------------------------------------------------------------------------- */

/* Where between the points lo .. hi of an arc the edge turns least: a tip or a corner has no
 * tangent and a jumping radius. */
static struct anchor calmest(const struct reading *r, size_t reading, size_t lo, size_t hi) {
    struct anchor a = {reading, lo, lo, lo};
    double length = 0, least = INFINITY;
    for (size_t i = 0; i < r->n; i++)
        length += r->step[i];
    size_t base = (size_t)fmax(1, rint(20 * (double)(r->n - 1) / length)); /* 20 mm either way */
    if (2 * base >= r->n) base = (r->n - 1) / 2;
    for (size_t i = lo; i <= hi; i++) {
        size_t p0 = i >= base ? i - base : 0, p2 = i + base < r->n ? i + base : r->n - 1;
        struct plane_point p = r->p[p0], q = r->p[i], t = r->p[p2];
        double bend = fabs(atan2((q.x - p.x) * (t.y - q.y) - (q.y - p.y) * (t.x - q.x),
                                 (q.x - p.x) * (t.x - q.x) + (q.y - p.y) * (t.y - q.y)));
        if (p0 == i || p2 == i) bend = 0.5; /* an end of the arc: nothing is known about it */
        if (bend < least) least = bend, a = (struct anchor){reading, i, p0, p2};
    }
    return a;
}

static double arc_length(const struct reading *r) {
    double sum = 0;
    for (size_t i = 0; i < r->n; i++)
        sum += r->step[i];
    return sum;
}

static double anchor_gap(const struct shape_outline_model *m, struct anchor a, struct anchor b) {
    struct plane_point p = m->reading[a.reading].p[a.at], q = m->reading[b.reading].p[b.at];
    return hypot(q.x - p.x, q.y - p.y);
}

/* The longest arc, and with it the arc that lies farthest from it; on a lone arc its two ends. */
static void find_anchors(struct sampler *s) {
    const struct shape_outline_model *m = s->m;
    size_t best = m->n;
    for (size_t k = 0; k < m->n; k++) {
        const struct reading *r = &m->reading[k];
        bool arc = (r->e.what == SHAPE_EDGE || r->e.what == SHAPE_STITCHES) && r->n >= 3;
        if (arc && (best == m->n || arc_length(r) > arc_length(&m->reading[best]))) best = k;
    }
    s->laying = m->placed ? LAID_FREE : LAID_NOWHERE;
    if (best == m->n) return;
    const struct reading *r = &m->reading[best];
    s->laying = LAID_ONE;
    s->anchor[0] = calmest(r, best, (r->n - 1) / 4, r->n - 1 - (r->n - 1) / 4);
    double far = PAIR_LEAST;
    for (size_t k = 0; k < m->n; k++) {
        const struct reading *q = &m->reading[k];
        if (k == best || (q->e.what != SHAPE_EDGE && q->e.what != SHAPE_STITCHES)) continue;
        struct anchor a = calmest(q, k, (q->n - 1) / 4, q->n - 1 - (q->n - 1) / 4);
        if (anchor_gap(m, s->anchor[0], a) > far)
            far = anchor_gap(m, s->anchor[0], a), s->anchor[1] = a, s->laying = LAID_PAIR;
    }
    if (s->laying == LAID_PAIR) return;
    struct anchor one = calmest(r, best, 0, (r->n - 1) / 4),
                  two = calmest(r, best, r->n - 1 - (r->n - 1) / 4, r->n - 1);
    if (anchor_gap(m, one, two) < PAIR_LEAST) return;
    s->anchor[0] = one, s->anchor[1] = two, s->laying = LAID_PAIR;
}

/* ---- one draw looked at ---------------------------------------------------------------------- */

static double phi_of(double z) {
    return gsl_cdf_ugaussian_P(z);
}

/* Coordinates: LAID_PAIR phi1 phi2 e1 e2; LAID_ONE phi e delta size; LAID_FREE x y u v size;
 * LAID_NOWHERE size alone; then ratio, wave, reach, row wave, shape. */
static const size_t place_dims[] = {
    [LAID_NOWHERE] = 1, [LAID_FREE] = 5, [LAID_ONE] = 4, [LAID_PAIR] = 4};
static const size_t angle_dims[] = {
    [LAID_NOWHERE] = 0, [LAID_FREE] = 0, [LAID_ONE] = 1, [LAID_PAIR] = 2};

static size_t dims_of(const struct sampler *s, enum shape_family family) {
    return place_dims[s->laying] + 3 + (s->m->has_rows ? 1 : 0) + outline_shapes_used(s->m, family);
}

/* Numbers of the form; its size is 1 when it will follow from the place. */
static void numbers_of(struct outline_numbers *q, const struct sampler *s, const struct draw *t) {
    const struct shape_outline_options *o = &s->m->o;
    const double *z = t->z + place_dims[s->laying];
    memset(q, 0, sizeof *q);
    q->family = s->family;
    q->size = s->laying == LAID_PAIR ? 1 : o->half_length * exp(o->half_length_sd * z[-1]);
    q->ratio = o->ratio_low + (1 - o->ratio_low) * phi_of(z[0]);
    q->wave = o->wave * exp(o->wave_sd * z[1]);
    q->reach = o->wave_length * exp(o->wave_length_sd * z[2]);
    z += 3;
    if (s->m->has_rows) q->row_wave = o->row_wave * exp(o->row_wave_sd * *z++);
    for (size_t i = 0; i < outline_shapes_used(s->m, s->family); i++)
        q->s[i] = z[i];
}

static struct plane_point anchor_point(const struct sampler *s, int i, const double *row,
                                       size_t at) {
    return outline_point(s->m, &s->m->reading[s->anchor[i].reading], row, at);
}

/* How far outside the edge the outline passes a point on average: stitch rows lie inside it. */
static double inward(const struct sampler *s, int i) {
    const struct shape_evidence *e = &s->m->reading[s->anchor[i].reading].e;
    return e->what == SHAPE_STITCHES && !isnan(e->offset) ? e->offset : 0;
}

static double centre_like(const struct sampler *s, double x, double y) {
    double sd = s->m->o.centre_sd, dx = (x - s->m->middle.x) / sd, dy = (y - s->m->middle.y) / sd;
    return -0.5 * (dx * dx + dy * dy) - log(2 * M_PI * sd * sd);
}

/* Two anchors: q holds the form at size 1 and gets its size, place and turn. Returns ln of the
 * target's measure over the start's, -INFINITY when the points fall together. */
static double lay_pair(struct outline_numbers *q, const struct sampler *s, const struct draw *t,
                       const double *row) {
    const struct shape_outline_options *o = &s->m->o;
    struct outline_view unit;
    outline_form_set(&unit, s->m, q);
    double rho[2], e[2], x[2], y[2];
    for (int i = 0; i < 2; i++) {
        e[i] = (START_EPS * t->z[2 + i] - inward(s, i)) / o->half_length;
        rho[i] = shape_form_radius(&unit.form, t->z[i]) + e[i];
        if (!(rho[i] > 0)) return -INFINITY;
        x[i] = rho[i] * cos(t->z[i]), y[i] = rho[i] * sin(t->z[i]);
    }
    struct plane_point a = anchor_point(s, 0, row, s->anchor[0].at),
                       b = anchor_point(s, 1, row, s->anchor[1].at);
    double qx = x[1] - x[0], qy = y[1] - y[0], q2 = qx * qx + qy * qy;
    if (!(q2 > 1e-12)) return -INFINITY;
    double px = b.x - a.x, py = b.y - a.y;
    double mx = (px * qx + py * qy) / q2, my = (py * qx - px * qy) / q2; /* m = P/Q */
    q->size = hypot(mx, my), q->turn = atan2(my, mx);
    q->x = a.x - (mx * x[0] - my * y[0]), q->y = a.y - (mx * y[0] + my * x[0]);
    double zs = log(q->size / o->half_length) / o->half_length_sd;
    double target = centre_like(s, q->x, q->y) - log(2 * M_PI) - 0.5 * zs * zs -
                    log(sqrt(2 * M_PI) * o->half_length_sd) + 2 * log(q->size) - log(q2) +
                    log(rho[0]) + log(rho[1]);
    double sd = START_EPS / o->half_length;
    double start = -2 * log(2 * M_PI) - 0.5 * (t->z[2] * t->z[2] + t->z[3] * t->z[3]) -
                   log(2 * M_PI * sd * sd);
    return target - start;
}

/* One anchor: the turn from the arc's tangent, the size from the prior. dx dy = size² rho dphi de,
 * all taken at size 1. */
static double lay_one(struct outline_numbers *q, const struct sampler *s, const struct draw *t,
                      const double *row) {
    struct outline_view v;
    outline_form_set(&v, s->m, q);
    struct plane_point a = anchor_point(s, 0, row, s->anchor[0].at),
                       p = anchor_point(s, 0, row, s->anchor[0].before),
                       r = anchor_point(s, 0, row, s->anchor[0].after);
    double normal = atan2(-(r.x - p.x), r.y - p.y) + (t->turned ? M_PI : 0); /* right of travel */
    double nx, ny, phi = t->z[0], eps = START_EPS * t->z[1] - inward(s, 0);
    double rho = shape_form_normal(&v.form, phi, &nx, &ny) + eps;
    if (!(rho > 0)) return -INFINITY;
    q->turn = normal + START_DELTA * t->z[2] - atan2(ny, nx);
    double c = cos(q->turn), n = sin(q->turn), x = rho * cos(phi), y = rho * sin(phi);
    q->x = a.x - (c * x - n * y), q->y = a.y - (n * x + c * y);
    double target = centre_like(s, q->x, q->y) + log(rho);
    /* Side even; the turn's own prior 1/2pi cancels phi's. */
    double start = -log(2) - 0.5 * (t->z[1] * t->z[1] + t->z[2] * t->z[2]) -
                   log(2 * M_PI * START_EPS * START_DELTA);
    return target - start;
}

static double lay_free(struct outline_numbers *q, const struct sampler *s, const struct draw *t) {
    q->x = s->m->middle.x + s->m->o.centre_sd * t->z[0];
    q->y = s->m->middle.y + s->m->o.centre_sd * t->z[1];
    double two = atan2(t->z[3], t->z[2]);
    q->turn = outline_two_axes(s->family) ? two / 2 : two;
    return 0;
}

/* Columns hold the turn of a form with two axes as a line without a head. With unlike halves the
 * head counts: the same form, half a turn back and its halves exchanged, is the one they can hold.
 */
static void within_half_turn(struct outline_numbers *q, const struct sampler *s) {
    size_t at = outline_unlike_at(s->m, s->family);
    double turn = remainder(q->turn, 2 * M_PI);
    if (at == SIZE_MAX || fabs(turn) <= M_PI / 2) return;
    q->turn = turn - copysign(M_PI, turn);
    for (size_t k = 0; k < 2 * outline_unlike_pairs(s->m, s->family); k++)
        q->s[at + k] = -q->s[at + k];
}

/* All numbers of a draw; returns ln of the measure as above. */
static double draw_numbers(struct outline_numbers *q, const struct sampler *s, const struct draw *t,
                           const double *row) {
    numbers_of(q, s, t);
    double measure = 0;
    if (s->laying == LAID_PAIR) measure = lay_pair(q, s, t, row);
    if (s->laying == LAID_ONE) measure = lay_one(q, s, t, row);
    if (s->laying == LAID_FREE) measure = lay_free(q, s, t);
    if (measure > -INFINITY) within_half_turn(q, s);
    return measure;
}

static void factors_fill(const struct sampler *s, const struct draw *t, double *row) {
    const struct shape_outline_model *m = s->m;
    for (size_t k = 0; k < m->n; k++) {
        size_t a = m->reading[k].along, b = m->reading[k].around;
        if (a != NUM_NO_COLUMN) row[a] = num_rows_values(s->rows, a)[t->from];
        if (b != NUM_NO_COLUMN) row[b] = num_rows_values(s->rows, b)[t->from];
    }
}

/* ln(target/start) of a draw; below `floor`, where a move is refused anyhow, it may be -INFINITY.
 */
static double look(const struct sampler *s, const struct draw *t, double *row, double floor) {
    struct outline_numbers q;
    struct outline_view v;
    factors_fill(s, t, row);
    double measure = draw_numbers(&q, s, t, row);
    if (!(measure > -INFINITY)) return -INFINITY;
    outline_form_set(&v, s->m, &q);
    double like = outline_form_like(s->m, &v, row, floor - measure);
    return isnan(like) ? -INFINITY : like + measure;
}

/* ---- start ----------------------------------------------------------------------------------- */

static void scout_chunk(size_t begin, size_t end, size_t index, void *context) {
    struct sampler *s = context;
    double *row = s->scratch + index * num_rows_columns(s->rows);
    for (size_t j = begin + s->scouted; j < end + s->scouted; j++) {
        struct draw *t = &s->scout[j];
        struct num_random r;
        num_random_begin(&r, num_rows_seed(s->rows), num_hash_join(s->stream, num_hash("scout")),
                         j);
        t->from = s->draw[j % s->n].from;
        for (size_t k = 0; k < s->d; k++)
            t->z[k] = num_random_normal(&r);
        for (size_t k = 0; k < angle_dims[s->laying]; k++)
            t->z[k] = 2 * M_PI * (num_random_uniform(&r) - 0.5);
        t->turned = num_random_uniform(&r) < 0.5;
        t->w = look(s, t, row, s->floor);
    }
}

/* ---- moves ----------------------------------------------------------------------------------- */

/* Which neighbourhood a draw is in: by its polar angles, on a grid that shifts with each sweep. */
static size_t cell_of(const struct sampler *s, const struct draw *t) {
    size_t cell = 0;
    for (size_t k = 0; k < angle_dims[s->laying]; k++) {
        double turn = t->z[k] / (2 * M_PI) + s->shift[k];
        size_t at = (size_t)((turn - floor(turn)) * CELLS);
        cell = cell * CELLS + (at < CELLS ? at : CELLS - 1);
    }
    return cell;
}

static void list_donors(struct sampler *s) {
    size_t used = 0;
    for (size_t i = 1 - s->half; i < s->n; i += 2)
        s->cell[i] = cell_of(s, &s->draw[i]);
    for (size_t c = 0; c < CELLS * CELLS; c++) {
        s->donor_begin[c] = used;
        for (size_t i = 1 - s->half; i < s->n; i += 2)
            if (s->cell[i] == c) s->donor[used++] = i;
    }
    s->donor_begin[CELLS * CELLS] = used;
}

/* Difference of two draws in coordinate k; angles the short way round. */
static double apart(const struct sampler *s, const struct draw *a, const struct draw *b, size_t k) {
    double d = a->z[k] - b->z[k];
    return k < angle_dims[s->laying] ? remainder(d, 2 * M_PI) : d;
}

/* A step along the difference of two draws of the half that stays. Among neighbours both come from
 * the draw's own cell and the step must stay there, so that the way back is as likely. */
static bool propose_difference(const struct sampler *s, struct draw *t, struct num_random *r) {
    size_t a, b, cell = 0;
    if (s->kind == 2) {
        cell = cell_of(s, t);
        size_t begin = s->donor_begin[cell], count = s->donor_begin[cell + 1] - begin;
        if (count < 4) return false;
        a = s->donor[begin + num_random_below(r, count)];
        b = s->donor[begin + num_random_below(r, count)];
    } else {
        size_t others = (s->n - (1 - s->half) + 1) / 2;
        a = 2 * num_random_below(r, others) + 1 - s->half;
        b = 2 * num_random_below(r, others) + 1 - s->half;
    }
    size_t sure = (size_t)num_random_below(r, s->d), chosen = 0;
    double share = s->kind == 1 ? 0.4 : 1;
    bool pick[DIMS];
    for (size_t k = 0; k < s->d; k++) {
        pick[k] = k == sure || num_random_uniform(r) < share;
        chosen += pick[k];
    }
    double gamma = s->scale[s->kind] * 2.38 / sqrt(2.0 * (double)chosen);
    if (num_random_uniform(r) < 0.1) gamma = 1; /* hops between modes */
    for (size_t k = 0; k < s->d; k++)
        if (pick[k])
            t->z[k] += gamma * apart(s, &s->draw[a], &s->draw[b], k) + 1e-4 * num_random_normal(r);
    return s->kind != 2 || cell_of(s, t) == cell;
}

/* The same arcs laid on mirrored places of the outline, its other end, or anywhere. */
static void propose_mirror(const struct sampler *s, struct draw *t, struct num_random *r) {
    size_t angles = angle_dims[s->laying];
    if (!angles) {
        size_t k = 2 + (size_t)num_random_below(r, 2);
        t->z[k] = -t->z[k];
        return;
    }
    size_t way = (size_t)num_random_below(r, 5);
    if (way == 4) {
        size_t k = (size_t)num_random_below(r, angles);
        t->z[k] = 2 * M_PI * (num_random_uniform(r) - 0.5);
        return;
    }
    if (way == 3 && s->laying == LAID_ONE) t->turned = !t->turned;
    if (way == 3 && s->laying == LAID_PAIR) {
        double z = t->z[0];
        t->z[0] = t->z[1], t->z[1] = z;
    }
    size_t unlike = outline_unlike_at(s->m, s->family);
    if (unlike != SIZE_MAX && way < 3) { /* the larger half goes with it */
        double *z = t->z + place_dims[s->laying] + 3 + (s->m->has_rows ? 1 : 0) + unlike;
        for (size_t k = 0; k < outline_unlike_pairs(s->m, s->family); k++, z += 2) {
            if (way != 1) z[1] = -z[1];
            if (way != 0) z[0] = -z[0];
        }
    }
    for (size_t k = 0; k < angles && way < 3; k++)
        t->z[k] = way == 0 ? -t->z[k] : way == 1 ? M_PI - t->z[k] : t->z[k] + M_PI;
}

/* Stretch of half k (0: towards +) whose ratio is exp(r), as shape_form_ready has it. */
static double stretch(double r, int k) {
    return 2 / (1 + exp(k ? r : -r));
}

/* A number of unlike halves drawn anew: as it is expected beforehand, or close to where alike ends
 * and unlike begins, so that draws can pass from one to the other where both halves were seen. Adds
 * to *gain ln of the density of the old over that of the new. */
static const double PRIOR_SHARE = 0.75, EDGES[2] = {0.03, 0.2}; /* of a standard normal */

static double redraw_density(double z, double edge) {
    double sum = PRIOR_SHARE * exp(-0.5 * z * z);
    for (int i = 0; i < 2 && isfinite(edge); i++)
        for (int side = -1; side <= 1; side += 2) {
            double d = (z - side * edge) / EDGES[i];
            sum += (1 - PRIOR_SHARE) / 4 * exp(-0.5 * d * d) / EDGES[i];
        }
    return sum;
}

static void redraw(double *z, const struct sampler *s, struct num_random *r, double *gain) {
    double old = *z, edge = s->m->alike_z, u = num_random_uniform(r);
    *z = num_random_normal(r);
    if (u >= PRIOR_SHARE && isfinite(edge)) {
        int which = (int)num_random_below(r, 4);
        *z = (which & 1 ? edge : -edge) + EDGES[which / 2] * *z;
    }
    *gain += log(redraw_density(old, edge) / redraw_density(*z, edge));
}

/* The ratio of two halves drawn anew, half k kept: of the sides by another ratio, of the ends by
 * another half-length and ratio. */
static bool redraw_size(const struct sampler *s, struct draw *t, double *z, int sides, int k,
                        struct num_random *r, double *gain) {
    const struct shape_outline_options *o = &s->m->o;
    double *ratio = t->z + place_dims[s->laying], old = *z, was = *ratio;
    redraw(z, s, r, gain);
    double c =
        stretch(outline_unlike_ratio(s->m, old), k) / stretch(outline_unlike_ratio(s->m, *z), k);
    double by = sides ? c : 1 / c, least = o->ratio_low / (1 - o->ratio_low);
    double share = (least + phi_of(was)) * by - least;
    if (!(share > 0 && share < 1)) return false;
    *ratio = gsl_cdf_ugaussian_Pinv(share);
    if (!isfinite(*ratio)) return false;
    *gain += log(by) + 0.5 * (*ratio * *ratio - was * was);
    if (sides) return true;
    if (s->laying != LAID_PAIR) {
        ratio[-1] += log(c) / o->half_length_sd;
        return true;
    }
    for (int i = 0; i < 2; i++) { /* how far the points stand off stays, in mm */
        double in = inward(s, i);
        t->z[2 + i] = ((START_EPS * t->z[2 + i] - in) / c + in) / START_EPS;
    }
    *gain -= 2 * log(c);
    return true;
}

/* One half drawn anew from what is expected beforehand, the other left as it is: where only one
 * half was seen, the draws forget in few moves what they were copied from. The exponent follows so
 * that the half that stays keeps its own. Adds to *gain ln of the way back over the way there, but
 * for the normal densities that every move is weighed with. */
static bool propose_half(const struct sampler *s, struct draw *t, struct num_random *r,
                         double *gain) {
    const struct shape_outline_options *o = &s->m->o;
    size_t at = outline_unlike_at(s->m, s->family);
    if (at == SIZE_MAX) return false;
    double *ratio = t->z + place_dims[s->laying], *shape = ratio + 3 + (s->m->has_rows ? 1 : 0),
           *own = shape + at;
    int sides = num_random_below(r, 2) == 1, k = num_random_below(r, 2) == 1;
    bool squares = outline_unlike_pairs(s->m, s->family) == 2;
    size_t what = squares ? (size_t)num_random_below(r, 3) : 0;
    double before[2] = {0, 0}, after[2] = {0, 0};
    if (squares) outline_unlike_square(before, s->m, own[sides], own[2 + sides]);
    if (what != 1 && !redraw_size(s, t, own + sides, sides, k, r, gain)) return false;
    if (what >= 1) redraw(own + 2 + sides, s, r, gain); /* its squareness */
    if (squares) outline_unlike_square(after, s->m, own[sides], own[2 + sides]);
    if (squares) shape[0] += (before[k] - after[k]) / o->exponent_sd;
    return true;
}

/* The same outline with the factors of another row of its group. */
static void propose_row(const struct sampler *s, size_t i, struct draw *t, struct num_random *r) {
    for (int tries = 0; tries < 64; tries++) {
        size_t j = (size_t)num_random_below(r, s->n);
        if (s->group[j] != s->group[i]) continue;
        t->from = s->pool[j];
        return;
    }
}

static void move_chunk(size_t begin, size_t end, size_t index, void *context) {
    struct sampler *s = context;
    double *row = s->scratch + index * num_rows_columns(s->rows);
    size_t accepted = 0;
    for (size_t j = begin; j < end; j++) {
        size_t i = 2 * j + s->half;
        if (i >= s->n) continue;
        struct draw *now = &s->draw[i], t = *now;
        struct num_random r;
        num_random_begin(&r, num_rows_seed(s->rows), num_hash_join(s->stream, s->round), i);
        double prior = 0;
        if (s->kind == 5 && !propose_half(s, &t, &r, &prior)) continue;
        if (s->kind == 4)
            propose_row(s, i, &t, &r);
        else if (s->kind == 3)
            propose_mirror(s, &t, &r);
        else if (s->kind < 3 && !propose_difference(s, &t, &r))
            continue;
        double u = log(num_random_uniform(&r));
        size_t angles = angle_dims[s->laying];
        for (size_t k = angles; k < s->d; k++)
            prior += 0.5 * (now->z[k] * now->z[k] - t.z[k] * t.z[k]);
        for (size_t k = 0; k < angles; k++)
            t.z[k] = remainder(t.z[k], 2 * M_PI);
        t.w = look(s, &t, row, now->w + (u - prior) / s->beta);
        if (!(u < prior + s->beta * (t.w - now->w))) continue;
        *now = t;
        accepted++;
    }
    atomic_fetch_add(&s->accepted, accepted);
}

static double move(struct sampler *s, size_t sweeps) {
    static const int kinds[] = {2, 1, 5, 0, 4, 2, 5, 3, 1, 2, 5, 4};
    double share = 0;
    bool halves = outline_unlike_pairs(s->m, s->family) > 0;
    for (size_t q = 0; q < sweeps; q++) {
        s->kind = kinds[q % (sizeof kinds / sizeof kinds[0])];
        if (s->kind == 3 && s->laying == LAID_NOWHERE) continue;
        if ((s->kind == 4 && !s->factors) || (s->kind == 5 && !halves)) continue;
        atomic_store(&s->accepted, 0);
        struct num_random r;
        num_random_begin(&r, num_rows_seed(s->rows), num_hash_join(s->stream, num_hash("grid")),
                         s->round);
        s->shift[0] = num_random_uniform(&r), s->shift[1] = num_random_uniform(&r);
        for (s->half = 0; s->half < 2; s->half++) {
            s->round++;
            if (s->kind == 2) list_donors(s);
            parallel_for((s->n + 1) / 2, CHUNK, move_chunk, s);
        }
        if (s->kind >= 3) continue;
        share = (double)atomic_load(&s->accepted) / (double)s->n;
        double *scale = &s->scale[s->kind];
        *scale = fmin(fmax(*scale * exp(share - ACCEPT), 0.02), 3);
    }
    return share;
}

/* ---- resampling ------------------------------------------------------------------------------ */

/* Systematic resampling of `from` candidates into the places of each group; candidate j belongs to
 * the group of place j % n. lw[j]: log-weights. Adds each group's ln mean weight to gain[group]. */
static int resample(struct sampler *s, const struct draw *from, size_t count, const double *lw,
                    double *gain, struct error *err) {
    struct draw *next = MEM_NEW(struct draw, s->n);
    if (!next) return fail_memory(err);
    for (size_t g = 0; g < s->n_groups; g++) {
        double top = -INFINITY, sum = 0;
        size_t places = 0, members = 0;
        for (size_t i = 0; i < s->n; i++)
            places += s->group[i] == g;
        for (size_t j = 0; j < count; j++)
            if (s->group[j % s->n] == g) top = fmax(top, lw[j]), members++;
        if (!places) continue;
        if (!(top > -INFINITY)) { /* refuted outright: keeps its rows, without weight */
            gain[g] = -INFINITY;
            for (size_t i = 0; i < s->n; i++)
                if (s->group[i] == g) next[i] = s->draw[i];
            continue;
        }
        for (size_t j = 0; j < count; j++)
            if (s->group[j % s->n] == g) sum += exp(lw[j] - top);
        gain[g] += top + log(sum / (double)members);
        struct num_random r;
        num_random_begin(&r, num_rows_seed(s->rows), num_hash_join(s->stream, ++s->round), g);
        double u = num_random_uniform(&r), below = 0;
        size_t place = 0, given = 0, last = 0;
        for (size_t j = 0; j < count && given < places; j++) {
            if (s->group[j % s->n] != g) continue;
            below += exp(lw[j] - top) / sum * (double)places;
            if (lw[j] > -INFINITY) last = j;
            while (given < places && below > u + (double)given) {
                while (s->group[place] != g)
                    place++;
                next[place++] = from[j], given++;
            }
        }
        for (; given < places; given++) { /* rounding left the last place over */
            while (s->group[place] != g)
                place++;
            next[place++] = from[last];
        }
    }
    memcpy(s->draw, next, s->n * sizeof *next);
    mem_free(next);
    return 0;
}

/* Effective number of weights exp(step w + lw). */
static double effective(const struct draw *t, size_t n, double step) {
    double top = -INFINITY, sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        top = fmax(top, step * t[i].w);
    if (!(top > -INFINITY)) return 0;
    for (size_t i = 0; i < n; i++) {
        double w = exp(step * t[i].w - top);
        sum += w, squares += w * w;
    }
    return sum * sum / squares;
}

/* Largest step in (0, rest] that leaves `want` effective. */
static double step_for(const struct draw *t, size_t n, double rest, double want) {
    if (effective(t, n, rest) >= want) return rest;
    double lo = 0, hi = rest;
    for (int k = 0; k < 50; k++) {
        double mid = (lo + hi) / 2;
        if (effective(t, n, mid) < want)
            hi = mid;
        else
            lo = mid;
    }
    return fmax(lo, 1e-9);
}

/* ---- one family ------------------------------------------------------------------------------ */

/* The first eighth of the scouts tells about how far the first step will go; of the others, those
 * that would weigh less than e^-40 of the best are not looked at to their end. */
static void send_scouts(struct sampler *s) {
    size_t first = s->n_scout / 8;
    s->scouted = 0, s->floor = -INFINITY;
    parallel_for(first, CHUNK, scout_chunk, s);
    double step = step_for(s->scout, first, 1, (double)s->n / 8), top = -INFINITY;
    for (size_t j = 0; j < first; j++)
        top = fmax(top, s->scout[j].w);
    s->scouted = first, s->floor = top - 40 / step;
    parallel_for(s->n_scout - first, CHUNK, scout_chunk, s);
}

static double evidence_of(const struct sampler *s, const double *gain) {
    double sum = 0, top = -INFINITY;
    for (size_t i = 0; i < s->n; i++)
        top = fmax(top, gain[s->group[i]]);
    if (!(top > -INFINITY)) return top;
    for (size_t i = 0; i < s->n; i++)
        sum += exp(gain[s->group[i]] - top);
    return top + log(sum / (double)s->n);
}

/* How many sweeps: ln evidence still grows by the mean of w over what is left of the tempering, and
 * a mean of w at beta lies d/(2 beta) below the highest where the target is normal in d
 * coordinates; twice that is allowed here. Where even so a family stays out of reach of the best
 * one so far, its draws are moved a quarter as often: they tell why it is excluded, and carry no
 * weight. */
static size_t sweeps_worth(const struct sampler *s, const double *gain, size_t sweeps) {
    double sum = 0, n = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->draw[i].w > -INFINITY) sum += s->draw[i].w, n++;
    double most = sum / n + (double)s->d / s->beta;
    bool lost = evidence_of(s, gain) + (1 - s->beta) * most < s->best - OUT_OF_REACH;
    return lost ? (sweeps + 3) / 4 : sweeps;
}

static int run_family(struct sampler *s, double *gain, int *stages, double *accepted,
                      struct error *err) {
    double *lw = MEM_NEW(double, s->n_scout);
    int rc = lw ? 0 : fail_memory(err);
    s->beta = 0, s->round = 0;
    s->scale[0] = s->scale[1] = s->scale[2] = 1;
    if (!rc) {
        send_scouts(s);
        double step = step_for(s->scout, s->n_scout, 1, (double)s->n);
        for (size_t j = 0; j < s->n_scout; j++)
            lw[j] = isinf(s->scout[j].w) ? -INFINITY : step * s->scout[j].w;
        rc = resample(s, s->scout, s->n_scout, lw, gain, err);
        s->beta = step;
        *stages = 1;
    }
    size_t sweeps = s->m->located ? SWEEPS : SWEEPS_NOWHERE;
    if (!rc) *accepted = move(s, sweeps_worth(s, gain, sweeps));
    while (!rc && s->beta < 1) {
        if (++*stages > MOST_STAGES)
            rc = fail(err, ERR_SOLVE, "Check the ± of the readings: one may be far too small.",
                      "The outline came in only to %.3g of the evidence in %d stages.", s->beta,
                      MOST_STAGES);
        if (rc) break;
        double rest = 1 - s->beta, step = step_for(s->draw, s->n, rest, KEEP * (double)s->n);
        for (size_t i = 0; i < s->n; i++)
            lw[i] = isinf(s->draw[i].w) ? -INFINITY : step * s->draw[i].w;
        s->beta = step == rest ? 1 : s->beta + step;
        rc = resample(s, s->draw, s->n, lw, gain, err);
        if (!rc) *accepted = move(s, sweeps_worth(s, gain, sweeps));
    }
    if (!rc) *accepted = move(s, sweeps_worth(s, gain, 2 * sweeps));
    /* Where the rows' other columns had no say, each place takes its own row again: nothing of them
     * is lost. */
    for (size_t i = 0; !rc && !s->factors && i < s->n; i++)
        s->draw[i].from = s->pool[i];
    mem_free(lw);
    return rc;
}

/* ---- all families ---------------------------------------------------------------------------- */

struct whole {
    size_t n, n_cells;
    size_t *cell, *map;
    double *value[ROOTS];
    double *lw;
};

static int whole_new(struct whole *w, const struct num_rows *rows, const struct num_evidence *e,
                     struct error *err) {
    memset(w, 0, sizeof *w);
    w->n = num_rows_count(rows);
    w->cell = MEM_NEW(size_t, w->n);
    w->map = MEM_NEW(size_t, w->n);
    w->lw = MEM_NEW(double, w->n);
    bool all = w->cell && w->map && w->lw;
    for (size_t k = 0; k < e->n_moves; k++)
        all &= (w->value[k] = MEM_NEW(double, w->n)) != NULL;
    if (!all) return fail_memory(err);
    for (size_t i = 0; i < w->n; i++) { /* what no draw takes over stays as it is, without weight */
        w->map[i] = i, w->lw[i] = -INFINITY;
        for (size_t k = 0; k < e->n_moves; k++)
            w->value[k][i] = num_rows_values(rows, e->moves[k])[i];
    }
    w->n_cells = num_rows_cells(rows, w->cell);
    return 0;
}

static void whole_free(struct whole *w) {
    mem_free(w->cell);
    mem_free(w->map);
    mem_free(w->lw);
    for (size_t k = 0; k < ROOTS; k++)
        mem_free(w->value[k]);
}

/* Value of root `which` for a finished draw; those the family does not use keep their row's. */
static double root_value(const struct sampler *s, const struct draw *t,
                         const struct outline_numbers *q, enum outline_root which) {
    const size_t *c = s->m->column;
    double old = num_rows_values(s->rows, c[which])[t->from];
    if (s->laying == LAID_NOWHERE && which <= ROOT_V) return old;
    switch (which) {
    case ROOT_X:
        return q->x;
    case ROOT_Y:
        return q->y;
    case ROOT_U:
    case ROOT_V: {
        if (s->laying == LAID_FREE) return t->z[which == ROOT_U ? 2 : 3];
        /* The length of (u, v) means nothing: the row's own is kept. */
        double u = num_rows_values(s->rows, c[ROOT_U])[t->from];
        double w = num_rows_values(s->rows, c[ROOT_V])[t->from], l = hypot(u, w);
        double two = outline_two_axes(s->family) ? 2 * q->turn : q->turn;
        return l * (which == ROOT_U ? cos(two) : sin(two));
    }
    case ROOT_SIZE:
        return q->size;
    case ROOT_RATIO:
        return q->ratio;
    case ROOT_WAVE:
        return q->wave;
    case ROOT_REACH:
        return q->reach;
    case ROOT_ROW_WAVE:
        return q->row_wave;
    default: {
        size_t k = (size_t)which - ROOT_SHAPE;
        return k < outline_shapes_used(s->m, s->family) ? q->s[k] : old;
    }
    }
}

static void take_over(struct whole *w, const struct sampler *s, const struct num_evidence *e,
                      const size_t *place, double *row) {
    for (size_t i = 0; i < s->n; i++) {
        const struct draw *t = &s->draw[i];
        struct outline_numbers q;
        factors_fill(s, t, row);
        draw_numbers(&q, s, t, row);
        w->map[place[i]] = t->from;
        for (size_t k = 0; k < e->n_moves; k++)
            for (enum outline_root c = ROOT_X; c < ROOTS; c++)
                if (s->m->column[c] == e->moves[k]) w->value[k][place[i]] = root_value(s, t, &q, c);
    }
}

/* The rows of one family, sampled; their weights are the family's share spread evenly. */
static int one_family(struct whole *w, struct sampler *s, const struct num_evidence *e,
                      enum shape_family family, int *stages, double *accepted, struct error *err) {
    const double *of = num_rows_values(s->rows, s->m->column[ROOT_FAMILY]);
    const double *lw = num_rows_log_weights(s->rows);
    size_t n = 0, members = 0, columns = num_rows_columns(s->rows);
    size_t thin = s->m->thin ? s->m->thin : 1;
    for (size_t i = 0; i < w->n; i++)
        if ((int)of[i] == (int)family) n += members++ % thin == 0;
    s->family = family, s->n = n,
    s->n_scout = (s->laying == LAID_NOWHERE ? SCOUTS / 4 : SCOUTS) * n, s->n_groups = w->n_cells;
    s->d = dims_of(s, family);
    s->stream = num_hash_join(num_hash(e->id), num_hash(shape_family_words[family]));
    s->draw = MEM_NEW(struct draw, n);
    s->scout = MEM_NEW(struct draw, s->n_scout);
    s->group = MEM_NEW(size_t, n);
    s->scratch = MEM_NEW(double, parallel_chunks(s->n_scout, CHUNK) * columns);
    s->cell = MEM_NEW(size_t, n);
    s->donor = MEM_NEW(size_t, n);
    s->pool = MEM_NEW(size_t, n);
    s->donor_begin = MEM_NEW(size_t, CELLS * CELLS + 1);
    size_t *place = MEM_NEW(size_t, n);
    double *gain = MEM_NEW(double, w->n_cells), *prior = MEM_NEW(double, n);
    bool all = s->draw && s->scout && s->group && s->scratch && s->cell && s->donor &&
               s->donor_begin && s->pool && place && gain && prior;
    int rc = all ? 0 : fail_memory(err);
    for (size_t i = 0, k = 0, q = 0; !rc && i < w->n; i++)
        if ((int)of[i] == (int)family && q++ % thin == 0)
            place[k] = i, s->group[k] = w->cell[i], s->draw[k].from = i, prior[k++] = lw[i];
    /* Rows that carry unequal weights from earlier evidence are evened out first. */
    if (!rc) rc = resample(s, s->draw, n, prior, gain, err);
    for (size_t i = 0; !rc && i < n; i++)
        s->pool[i] = s->draw[i].from;
    if (!rc) rc = run_family(s, gain, stages, accepted, err);
    if (!rc) s->best = fmax(s->best, evidence_of(s, gain));
    if (!rc) {
        take_over(w, s, e, place, s->scratch);
        for (size_t i = 0; i < n; i++)
            w->lw[place[i]] = gain[s->group[i]];
    }
    mem_free(s->draw);
    mem_free(s->scout);
    mem_free(s->group);
    mem_free(s->scratch);
    mem_free(s->cell);
    mem_free(s->donor);
    mem_free(s->pool);
    mem_free(s->donor_begin);
    mem_free(place);
    mem_free(gain);
    mem_free(prior);
    return rc;
}

int outline_sample(struct shape_outline_model *m, struct num_rows *rows,
                   const struct num_evidence *e, struct error *err) {
    bool known;
    int rc = num_rows_known(rows, e, &known, &m->report, err), stages = 0;
    if (rc || known) return rc;
    struct whole w;
    struct sampler s = {.m = m, .rows = rows, .best = -INFINITY};
    find_anchors(&s);
    for (size_t k = 0; k < m->n; k++)
        s.factors |= m->reading[k].along != NUM_NO_COLUMN || m->reading[k].around != NUM_NO_COLUMN;
    double accepted = NAN;
    rc = whole_new(&w, rows, e, err);
    for (size_t f = 0; !rc && f < m->n_families; f++) {
        int own = 0;
        rc = one_family(&w, &s, e, m->family[f], &own, &accepted, err);
        if (own > stages) stages = own;
    }
    if (!rc) {
        double before = num_log_sum(num_rows_log_weights(rows), w.n),
               after = num_log_sum(w.lw, w.n);
        if (!(after > -INFINITY)) {
            m->report = (struct num_report){.held_out = true, .log_evidence = -INFINITY};
        } else {
            struct num_adopted a = {.map = w.map,
                                    .value = (const double *const *)w.value,
                                    .log_weight = w.lw,
                                    .log_evidence = after - before,
                                    .log_evidence_se = NAN,
                                    .accepted = accepted,
                                    .stages = stages};
            rc = num_rows_adopt(rows, e, &a, &m->report, err);
        }
    }
    whole_free(&w);
    return rc;
}
