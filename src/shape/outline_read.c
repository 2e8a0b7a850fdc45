/* What the conditioned rows say about the outline: bands, sizes, families, exclusions, what next.
 */
#include "base/mem.h"
#include "base/parallel.h"
#include "num/weighted.h"
#include "shape/outline_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void row_fill(const struct shape_outline_model *m, const struct num_rows *rows, size_t i,
                     double *row) {
    for (size_t c = 0; c < num_rows_columns(rows); c++)
        row[c] = NAN;
    for (size_t k = 0; k < ROOTS; k++)
        if (m->column[k] != NUM_NO_COLUMN)
            row[m->column[k]] = num_rows_values(rows, m->column[k])[i];
    for (size_t k = 0; k < m->n; k++) {
        size_t a = m->reading[k].along, t = m->reading[k].around;
        if (a != NUM_NO_COLUMN) row[a] = num_rows_values(rows, a)[i];
        if (t != NUM_NO_COLUMN) row[t] = num_rows_values(rows, t)[i];
    }
}

struct shape_form shape_outline_form(const struct shape_outline_model *m,
                                     const struct num_rows *rows, size_t i) {
    struct shape_form none = {0};
    double *row = MEM_NEW(double, num_rows_columns(rows));
    if (!row) return none;
    row_fill(m, rows, i, row);
    struct outline_view v;
    outline_view_make(&v, m, row);
    mem_free(row);
    return v.form;
}

double shape_outline_reading(const struct shape_outline_model *m, const struct num_rows *rows,
                             size_t i, size_t k) {
    double *row = MEM_NEW(double, num_rows_columns(rows));
    if (!row) return NAN;
    row_fill(m, rows, i, row);
    struct outline_view v;
    outline_view_make(&v, m, row);
    double like = outline_reading_like(m, &v, row, k);
    mem_free(row);
    return like;
}

/* ---- every row looked at once ---------------------------------------------------------------- */

enum { CORNERS = 360 }; /* of a draw's edge for the band */

struct survey {
    struct plane_point unit[CORNERS];
    const struct shape_outline_model *m;
    const struct num_rows *rows;
    size_t n;
    struct plane_point centre;
    double *w;         /* [n] weights */
    double *size[5];   /* length width perimeter area turn, [n] */
    double *unlike[2]; /* ln of a half of its length, of its width over the other, [n] */
    double *radius;    /* [SHAPE_BAND][n] about centre */
    double *like;      /* [readings][n] */
};

/* Radii from an outside centre: crossings of rays with a ring of corners, outermost one counts. */
static void radii_from(struct survey *s, const struct shape_form *f, size_t i) {
    struct plane_point ring[CORNERS];
    double at[CORNERS + 1];
    shape_form_quick_ring(f, ring, at, s->unit, CORNERS);
    for (int k = 0; k < CORNERS; k++) {
        double x = ring[k].x, y = ring[k].y;
        ring[k] = (struct plane_point){f->x + f->cos_turn * x - f->sin_turn * y,
                                       f->y + f->sin_turn * x + f->cos_turn * y};
    }
    double out[SHAPE_BAND];
    for (int k = 0; k < SHAPE_BAND; k++)
        out[k] = 0; /* the centre lies outside: no radius there */
    const double step = 2 * M_PI / SHAPE_BAND;
    for (int q = 0; q < CORNERS; q++) {
        double ax = ring[q].x - s->centre.x, ay = ring[q].y - s->centre.y;
        double bx = ring[(q + 1) % CORNERS].x - s->centre.x,
               by = ring[(q + 1) % CORNERS].y - s->centre.y;
        double from = atan2(ay, ax), turn = atan2(ax * by - ay * bx, ax * bx + ay * by);
        double lo = fmin(from, from + turn), hi = fmax(from, from + turn);
        for (double k = ceil(lo / step); k * step <= hi; k++) {
            double c = cos(k * step), t = sin(k * step);
            double den = c * (by - ay) - t * (bx - ax);
            if (den == 0) continue;
            double r = (ax * by - ay * bx) / den;
            int at = (int)(((long)k % SHAPE_BAND + SHAPE_BAND) % SHAPE_BAND);
            if (r > out[at]) out[at] = r;
        }
    }
    for (int k = 0; k < SHAPE_BAND; k++)
        s->radius[(size_t)k * s->n + i] = out[k];
}

/* A row that was not drawn, since one in so many was. */
static bool left_out(const struct survey *s, size_t i) {
    return s->m->thin > 1 && !(s->w[i] > 0);
}

static void survey_chunk(size_t begin, size_t end, size_t index, void *context) {
    (void)index;
    struct survey *s = context;
    double *row = MEM_NEW(double, num_rows_columns(s->rows));
    for (size_t i = begin; i < end; i++) {
        for (int q = 0; q < 5; q++)
            s->size[q][i] = left_out(s, i) ? 0 : NAN;
        if (!row || left_out(s, i)) continue;
        row_fill(s->m, s->rows, i, row);
        struct outline_view v;
        outline_view_make(&v, s->m, row);
        shape_form_size(&v.form, &s->size[0][i], &s->size[1][i], &s->size[4][i]);
        s->size[2][i] = shape_form_perimeter(&v.form);
        s->size[3][i] = shape_form_area(&v.form);
        s->unlike[0][i] = v.form.unlike_ends;
        s->unlike[1][i] = v.form.unlike_sides;
        for (size_t k = 0; k < s->m->n; k++)
            s->like[k * s->n + i] = outline_reading_like(s->m, &v, row, k);
        /* Nothing says where it lay: the band is that of the form about its own middle. */
        if (!s->m->located) {
            double turn = s->m->placed ? v.form.turn : 0;
            shape_form_place(&v.form, 0, 0, turn);
            struct plane_point middle = shape_form_middle(&v.form);
            shape_form_place(&v.form, -middle.x, -middle.y, turn);
        }
        radii_from(s, &v.form, i);
    }
    mem_free(row);
}

static struct spread spread_of(const double *value, const double *w, size_t n, struct error *err) {
    static const double p[7] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    double q[7];
    struct spread s = spread_unknown();
    if (num_quantiles(value, w, n, p, 7, q, err)) return s;
    s.p005 = q[0], s.p05 = q[1], s.p25 = q[2], s.p50 = q[3], s.p75 = q[4], s.p95 = q[5];
    s.p995 = q[6];
    s.mean = num_mean(value, w, n), s.sd = num_sd(value, w, n);
    return s;
}

/* ---- bands ----------------------------------------------------------------------------------- */

/* All round: the factor by which the pointwise half-widths must grow so that nine draws of ten
 * stay inside in every direction. */
static int bands_make(struct shape_outline *out, const struct survey *s, struct error *err) {
    static const double p[3] = {0.05, 0.5, 0.95};
    double *worst = MEM_NEW(double, s->n), width = 0;
    int rc = worst ? 0 : fail_memory(err);
    for (int k = 0; !rc && k < SHAPE_BAND; k++) {
        double q[3];
        const double *r = s->radius + (size_t)k * s->n;
        rc = rc ? rc : num_quantiles(r, s->w, s->n, p, 3, q, err);
        out->band[k] = (struct shape_band){q[0], q[1], q[2], 0, 0};
        width += (q[2] - q[0]) / SHAPE_BAND;
        for (size_t i = 0; i < s->n; i++) {
            double d = r[i] > q[1] ? (r[i] - q[1]) / (q[2] - q[1]) : (q[1] - r[i]) / (q[1] - q[0]);
            if (isfinite(d)) worst[i] = fmax(worst[i], d);
        }
    }
    double nine[1] = {0.9}, factor[1] = {1};
    rc = rc ? rc : num_quantiles(worst, s->w, s->n, nine, 1, factor, err);
    factor[0] = fmax(factor[0], 1);
    for (int k = 0; k < SHAPE_BAND; k++) {
        struct shape_band *b = &out->band[k];
        b->low_all = fmax(0, b->middle - factor[0] * (b->middle - b->low));
        b->high_all = b->middle + factor[0] * (b->high - b->middle);
    }
    out->band_width = width / out->length.mean;
    mem_free(worst);
    return rc;
}

/* ---- families -------------------------------------------------------------------------------- */

static int likelier(const void *a, const void *b) {
    const struct shape_family_share *p = a, *q = b;
    return (p->probability < q->probability) - (p->probability > q->probability);
}

/* The reading whose mean log-likelihood under the family falls most below that under the others. */
static void name_excluder(struct shape_family_share *f, const struct survey *s,
                          const double *family) {
    for (size_t k = 0; k < s->m->n; k++) {
        double in = 0, wi = 0, out = 0, wo = 0;
        for (size_t i = 0; i < s->n; i++) {
            if (left_out(s, i)) continue;
            double l = fmax(s->like[k * s->n + i], -1e6);
            if ((int)family[i] == (int)f->family)
                in += l, wi++; /* rows of one family weigh alike after resampling */
            else
                out += s->w[i] * l, wo += s->w[i];
        }
        if (!(wi > 0) || !(wo > 0)) continue;
        double ratio = out / wo - in / wi;
        if (!f->by || ratio > f->by_log_ratio)
            f->by = s->m->reading[k].e.id, f->by_log_ratio = ratio;
    }
}

/* Share of the weights w[n] whose halves differ by more than a twentieth. */
static double unlike_share(const double *unlike, const double *w, size_t n) {
    double share = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        all += w[i];
        if (w[i] > 0 && fabs(unlike[i]) > log(1.05)) share += w[i];
    }
    return all > 0 ? share / all : 0;
}

static int families_make(struct shape_outline *out, const struct survey *s, struct arena *arena,
                         struct error *err) {
    const double *family = num_rows_values(s->rows, s->m->column[ROOT_FAMILY]);
    double *w = MEM_NEW(double, s->n), best = 0;
    int rc = 0;
    if (!w) return fail_memory(err);
    out->n_families = s->m->n_families;
    for (size_t k = 0; k < out->n_families; k++) {
        struct shape_family_share *f = &out->family[k];
        *f = (struct shape_family_share){.family = s->m->family[k]};
        for (size_t i = 0; i < s->n; i++) {
            w[i] = (int)family[i] == (int)f->family ? s->w[i] : 0;
            f->probability += w[i];
        }
        f->length = spread_of(s->size[0], w, s->n, err);
        f->width = spread_of(s->size[1], w, s->n, err);
        f->unlike_ends = unlike_share(s->unlike[0], w, s->n);
        f->unlike_sides = unlike_share(s->unlike[1], w, s->n);
        best = fmax(best, f->probability);
    }
    for (size_t k = 0; k < out->n_families; k++) {
        struct shape_family_share *f = &out->family[k];
        f->log_evidence = f->probability > 0 ? log(f->probability / best) : -INFINITY;
        f->excluded = f->probability < 0.01;
        if (f->probability >= 0.05) continue;
        name_excluder(f, s, family);
        if (f->by && !(f->by = arena_strdup(arena, f->by))) rc = fail_memory(err);
    }
    qsort(out->family, out->n_families, sizeof *out->family, likelier);
    mem_free(w);
    return rc;
}

/* ---- what next ------------------------------------------------------------------------------- */

/* A candidate: what it would read in each row, with which error. */
struct candidate {
    const char *what;
    const double *value; /* [n] */
    double u;
    bool touches;
};

/* Expected share by which the mean radius band narrows if a number q(row) were read with error u:
 * in the Gaussian approximation var(r | q) = var(r)(1 - rho² var q/(var q + u²)). */
static double narrowing(const struct survey *s, const struct candidate *c) {
    double mean = num_mean(c->value, s->w, s->n), sd = num_sd(c->value, s->w, s->n);
    if (!(sd > 0)) return 0;
    double gain = sd * sd / (sd * sd + c->u * c->u), before = 0, after = 0;
    for (int k = 0; k < SHAPE_BAND; k += 3) {
        const double *r = s->radius + (size_t)k * s->n;
        double m = num_mean(r, s->w, s->n), t = num_sd(r, s->w, s->n), both = 0;
        if (!(t > 0)) continue;
        for (size_t i = 0; i < s->n; i++)
            both += s->w[i] * (r[i] - m) * (c->value[i] - mean);
        double rho2 = fmin(both * both / (t * t * sd * sd), 1);
        before += t, after += t * sqrt(fmax(1 - rho2 * gain, 0));
    }
    return before > 0 ? 1 - after / before : 0;
}

static int more_first(const void *a, const void *b) {
    const struct shape_next *p = a, *q = b;
    return (p->narrows < q->narrows) - (p->narrows > q->narrows);
}

static int next_make(struct shape_outline *out, const struct survey *s, struct arena *arena,
                     struct error *err) {
    enum { SIDES = 12, MOST = SIDES + 3 };
    out->next = ARENA_NEW(arena, struct shape_next, MOST);
    double *turn = ARENA_NEW(arena, double, s->n);
    if (!out->next || !turn) return fail_memory(err);
    for (size_t i = 0; i < s->n; i++) /* within a quarter turn of the middle one */
        turn[i] = remainder(s->size[4][i] - out->turn.p50, M_PI);
    struct candidate fixed[3] = {
        {"the whole width, to 2 %, from a photograph or tracing of the find in place", s->size[1],
         0.02 * out->width.p50, false},
        {"the whole length, to 2 %, from a photograph or tracing of the find in place", s->size[0],
         0.02 * out->length.p50, false},
        {"the direction of the midline, to 3 degrees, from the plan as found", turn, 3 * M_PI / 180,
         false}};
    for (size_t k = 0; k < 3; k++)
        out->next[out->n_next++] =
            (struct shape_next){fixed[k].what, narrowing(s, &fixed[k]), fixed[k].touches};
    for (int k = 0; k < SIDES; k++) {
        const double *r = s->radius + (size_t)(k * SHAPE_BAND / SIDES) * s->n;
        struct candidate c = {"", r, 2, true}; /* the waviness of a short piece of edge */
        double best = narrowing(s, &c);
        const char *what =
            arena_printf(arena, "a piece of edge, or its stitch row, %d° round from %s",
                         k * 360 / SIDES, s->m->located ? "x of the plan" : "the long axis");
        if (!what) return fail_memory(err);
        out->next[out->n_next++] = (struct shape_next){what, best, true};
    }
    qsort(out->next, out->n_next, sizeof *out->next, more_first);
    if (out->n_next > 5) out->n_next = 5;
    return 0;
}

/* ---- the whole ------------------------------------------------------------------------------- */

/* Mean of the middles of all draws: radii are taken from it, so it must lie well inside. */
static int find_centre(struct survey *s, struct error *err) {
    double *row = MEM_NEW(double, num_rows_columns(s->rows));
    if (!row) return fail_memory(err);
    struct shape_outline_model bare = *s->m; /* only the form is wanted */
    bare.needs_ring = bare.needs_size = bare.needs_area = bare.needs_tightest = false;
    for (size_t i = 0; i < s->n; i++) {
        if (!(s->w[i] > 0)) continue;
        struct outline_view v;
        row_fill(s->m, s->rows, i, row);
        outline_view_make(&v, &bare, row);
        struct plane_point middle = shape_form_middle(&v.form);
        s->centre.x += s->w[i] * middle.x, s->centre.y += s->w[i] * middle.y;
    }
    mem_free(row);
    return 0;
}

static int survey_new(struct survey *s, const struct shape_outline_model *m,
                      const struct num_rows *rows, struct error *err) {
    size_t n = num_rows_count(rows);
    memset(s, 0, sizeof *s);
    s->m = m, s->rows = rows, s->n = n;
    for (int i = 0; i < CORNERS; i++)
        s->unit[i] = (struct plane_point){cos(2 * M_PI * i / CORNERS), sin(2 * M_PI * i / CORNERS)};
    s->w = MEM_NEW(double, n);
    s->radius = MEM_NEW(double, (size_t)SHAPE_BAND *n);
    s->like = MEM_NEW(double, m->n *n);
    bool all = s->w && s->radius && s->like;
    for (int q = 0; q < 5; q++)
        all &= (s->size[q] = MEM_NEW(double, n)) != NULL;
    for (int q = 0; q < 2; q++)
        all &= (s->unlike[q] = MEM_NEW(double, n)) != NULL;
    if (!all) return fail_memory(err);
    num_rows_weights(rows, s->w);
    if (!m->located) return 0;
    return find_centre(s, err);
}

static void survey_free(struct survey *s) {
    mem_free(s->w);
    mem_free(s->radius);
    mem_free(s->like);
    for (int q = 0; q < 5; q++)
        mem_free(s->size[q]);
    for (int q = 0; q < 2; q++)
        mem_free(s->unlike[q]);
}

/* The turn of the long axis is a line without a head: brought within a quarter turn of its mean. */
static void turn_fold(struct survey *s) {
    double c = 0, t = 0;
    for (size_t i = 0; i < s->n; i++)
        c += s->w[i] * cos(2 * s->size[4][i]), t += s->w[i] * sin(2 * s->size[4][i]);
    double mean = atan2(t, c) / 2;
    for (size_t i = 0; i < s->n; i++)
        s->size[4][i] = mean + remainder(s->size[4][i] - mean, M_PI);
}

int shape_outline_read(struct shape_outline *out, const struct shape_outline_model *m,
                       const struct num_rows *rows, struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    struct survey s;
    int rc = survey_new(&s, m, rows, err);
    if (!rc) {
        parallel_for(s.n, 64, survey_chunk, &s);
        turn_fold(&s);
        out->centre = s.centre, out->placed = m->located;
        struct spread *to[5] = {&out->length, &out->width, &out->perimeter, &out->area, &out->turn};
        for (int q = 0; q < 5; q++)
            *to[q] = spread_of(s.size[q], s.w, s.n, err);
        rc = bands_make(out, &s, err);
    }
    if (!rc) rc = families_make(out, &s, arena, err);
    if (!rc) rc = next_make(out, &s, arena, err);
    if (!rc) {
        out->edge_seen = fmin(m->seen / out->perimeter.p50, 1);
        out->decided = out->family[0].probability > 0.95 && out->edge_seen >= 0.3;
        out->log_evidence = m->report.log_evidence;
        out->effective = num_rows_effective_overall(rows);
        out->stages = m->report.stages, out->accepted = m->report.accepted;
    }
    survey_free(&s);
    return rc;
}
