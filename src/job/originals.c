#include "job/originals.h"

#include "base/mem.h"

#include <math.h>
#include <string.h>

static double tenth(double v) {
    return round(v * 10) / 10;
}

/* From the plan to the making's frame: middle at the origin, long axis along x. */
struct frame {
    double x, y, c, s;
};

static struct frame frame_of(const struct shape_outline *o) {
    double turn = isnan(o->turn.p50) ? 0 : o->turn.p50;
    return (struct frame){o->centre.x, o->centre.y, cos(turn), sin(turn)};
}

static struct plane_point into(const struct frame *f, struct plane_point p) {
    double x = p.x - f->x, y = p.y - f->y;
    return (struct plane_point){f->c * x + f->s * y, -f->s * x + f->c * y};
}

/* The outline of a row. Where nothing says where it lay, its place is chance: it is laid as the
 * band is, with its middle at the origin. */
static struct shape_form form_of(const struct originals_ask *a, size_t row) {
    struct shape_form form = shape_outline_form(a->model, a->rows, row);
    if (a->outline->placed) return form;
    shape_form_place(&form, 0, 0, form.turn);
    struct plane_point middle = shape_form_middle(&form);
    shape_form_place(&form, -middle.x, -middle.y, form.turn);
    return form;
}

static json_t *pair(struct plane_point p) {
    return json_pack("[f,f]", tenth(p.x), tenth(p.y));
}

static json_t *points_of(const struct shape_form *form, const struct frame *frame) {
    json_t *list = json_array();
    for (int i = 0; list && i < ORIGINALS_POINTS; i++) {
        double phi = 2 * M_PI * i / ORIGINALS_POINTS;
        json_array_append_new(list, pair(into(frame, shape_form_point(form, phi))));
    }
    return list;
}

/* ---- one by one ----------------------------------------------------------------------------- */

/* Greatest length and width in the making's frame: a free form is not what its axes say. */
static void extent_of(double out[2], const struct shape_form *form, const struct frame *frame) {
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (int i = 0; i < 4 * ORIGINALS_POINTS; i++) {
        struct plane_point p =
            into(frame, shape_form_point(form, 2 * M_PI * i / (4 * ORIGINALS_POINTS)));
        const double v[2] = {p.x, p.y};
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], v[k]);
            high[k] = fmax(high[k], v[k]);
        }
    }
    out[0] = high[0] - low[0];
    out[1] = high[1] - low[1];
}

static json_t *one(const struct originals_ask *a, const struct frame *frame, size_t row) {
    struct shape_form form = form_of(a, row);
    double size[2];
    extent_of(size, &form, frame);
    return json_pack("{s:s,s:f,s:f,s:o}", "family", shape_family_words[form.family], "length",
                     tenth(size[0]), "width", tenth(size[1]), "points", points_of(&form, frame));
}

/* Evenly through the summed weights; then in an order that mixes sizes: by a fixed stride, so that
 * neighbours in the list differ as any two do. */
static json_t *by_weight(const struct originals_ask *a, const struct frame *frame,
                         const double *weight) {
    size_t n = num_rows_count(a->rows), row = 0;
    enum { STRIDE = 19 }; /* no divisor in common with ORIGINALS_SHOWN */
    size_t chosen[ORIGINALS_SHOWN];
    double sum = weight[0];
    for (size_t k = 0; k < ORIGINALS_SHOWN; k++) {
        double want = ((double)k + 0.5) / ORIGINALS_SHOWN;
        while (sum < want && row + 1 < n)
            sum += weight[++row];
        chosen[k] = row;
    }
    json_t *list = json_array();
    for (size_t k = 0; list && k < ORIGINALS_SHOWN; k++)
        json_array_append_new(list, one(a, frame, chosen[k * STRIDE % ORIGINALS_SHOWN]));
    return list;
}

/* ---- excluded ------------------------------------------------------------------------------- */

static size_t likeliest(const struct originals_ask *a, enum shape_family family,
                        const double *weight) {
    size_t best = SIZE_MAX, n = num_rows_count(a->rows), col = num_rows_find(a->rows, a->family);
    const double *of = col == NUM_NO_COLUMN ? NULL : num_rows_values(a->rows, col);
    for (size_t i = 0; of && i < n; i++)
        if ((int)of[i] == (int)family && (best == SIZE_MAX || weight[i] > weight[best])) best = i;
    return best;
}

static const struct shape_evidence *reading(const struct originals_ask *a, const char *id) {
    for (size_t i = 0; i < a->n; i++)
        if (a->evidence[i].id && strcmp(a->evidence[i].id, id) == 0 &&
            a->evidence[i].points.n > 0 && a->evidence[i].what != SHAPE_LOOSE)
            return &a->evidence[i];
    return NULL;
}

/* The point of a placed reading that lies farthest from the outline. */
static struct plane_point farthest_reading(const struct shape_evidence *e,
                                           const struct shape_form *form) {
    struct plane_point worst = {e->points.v[0], e->points.v[1]};
    double most = -1;
    for (size_t i = 0; i < e->points.n; i++) {
        struct plane_point p = {e->points.v[2 * i], e->points.v[2 * i + 1]};
        double off = fabs(shape_form_offset(form, p));
        if (off > most) most = off, worst = p;
    }
    return worst;
}

/* Where the outline lies farthest from the likely one. */
static struct plane_point farthest_edge(const struct shape_outline *o,
                                        const struct shape_form *form) {
    struct plane_point worst = o->centre;
    double most = -1;
    for (int i = 0; i < SHAPE_BAND; i++) {
        double a = 2 * M_PI * i / SHAPE_BAND, rho = o->band[i].middle;
        struct plane_point p = {o->centre.x + rho * cos(a), o->centre.y + rho * sin(a)};
        double off = fabs(shape_form_offset(form, p));
        if (off <= most) continue;
        most = off;
        worst = shape_form_point(form, a - form->turn);
    }
    return worst;
}

static json_t *excluded(const struct originals_ask *a, const struct frame *frame,
                        const double *weight) {
    json_t *list = json_array();
    for (size_t k = 0; list && k < a->outline->n_families; k++) {
        const struct shape_family_share *f = &a->outline->family[k];
        if (!f->excluded || !f->by) continue;
        size_t row = likeliest(a, f->family, weight);
        if (row == SIZE_MAX) continue;
        struct shape_form form = form_of(a, row);
        const struct shape_evidence *e = reading(a, f->by);
        struct plane_point at = e ? farthest_reading(e, &form) : farthest_edge(a->outline, &form);
        json_array_append_new(list,
                              json_pack("{s:s,s:s,s:f,s:o,s:o,s:b}", "family",
                                        shape_family_words[f->family], "by", f->by, "ratio",
                                        tenth(f->by_log_ratio), "points", points_of(&form, frame),
                                        "at", pair(into(frame, at)), "placed", e != NULL));
    }
    return list;
}

int originals_encode(json_t *result, const struct originals_ask *a, struct error *err) {
    double *weight = MEM_NEW(double, num_rows_count(a->rows));
    if (!weight) return fail_memory(err);
    num_rows_weights(a->rows, weight);
    const struct frame frame = frame_of(a->outline);
    json_t *shown = by_weight(a, &frame, weight), *out = excluded(a, &frame, weight);
    mem_free(weight);
    if (!shown || !out) {
        json_decref(shown);
        json_decref(out);
        return fail_memory(err);
    }
    int failed = json_object_set_new(result, "originals", shown);
    failed |= json_object_set_new(result, "excluded", out);
    return failed ? fail_memory(err) : 0;
}
