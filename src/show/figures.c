#include "show/figures.h"

#include "base/mem.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- outline ---- */

static void widen(double box[4], size_t n, const double *xy) {
    for (size_t i = 0; xy && i < n; i++) {
        box[0] = fmin(box[0], xy[2 * i]), box[2] = fmax(box[2], xy[2 * i]);
        box[1] = fmin(box[1], xy[2 * i + 1]), box[3] = fmax(box[3], xy[2 * i + 1]);
    }
}

/* A scale bar of a round length near `want` mm of paper. */
static void scale_bar(struct show_drawing *d, double x, double y, double scale, double want) {
    char text[80], number[40];
    double length = look_round_step(0, want / scale, 1), w = length * scale;
    struct show_pen pen = SHOW_LINE(SHOW_INK, 0.35);
    show_segment(d, x, y, x + w, y, pen);
    show_segment(d, x, y, x, y + 1.5, pen);
    show_segment(d, x + w, y, x + w, y + 1.5, pen);
    snprintf(text, sizeof text, "%s mm", show_real(number, length, 0));
    show_text(d, NULL, x + w + 2, y - 0.4, LOOK_SECOND, text);
}

struct show_drawing *figure_outline(const struct figure_outline *f) {
    double box[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    widen(box, f->band.n, f->band.likely);
    widen(box, f->band.n, f->band.whole_high ? f->band.whole_high : f->band.high);
    widen(box, f->band.n, f->band.whole_low ? f->band.whole_low : f->band.low);
    for (size_t i = 0; i < f->n_rivals; i++)
        widen(box, f->rivals[i].ring.n, f->rivals[i].ring.xy);
    for (size_t i = 0; i < f->n_edges; i++)
        widen(box, f->edges[i].n, f->edges[i].xy);
    double width = f->width > 0 ? f->width : 165;
    if (!(box[2] > box[0])) box[0] = box[1] = 0, box[2] = 100, box[3] = 60;
    double scale = (width - 16) / (box[2] - box[0]), height = scale * (box[3] - box[1]) + 28;
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, f->title, f->words);
    show_frame_push(d, 8 - scale * box[0], 18 - scale * box[1], scale, 0);
    if (f->band.n > 2) {
        look_fill(d, NULL, (struct look_ring){f->band.n, f->band.likely}, NULL, 0, f->footing,
                  isfinite(f->grain) ? f->grain : 0);
        look_band(d, "band", &f->band);
    }
    for (size_t i = 0; i < f->n_rivals; i++) {
        const struct figure_rival *r = &f->rivals[i];
        char id[40];
        snprintf(id, sizeof id, "rival-%zu", i + 1);
        if (r->excluded_by)
            look_excluded(d, id, r->ring, true, r->x, r->y, r->excluded_by);
        else
            look_rival(d, id, r->ring, true, (int)i + (f->band.n ? 1 : 0), r->name, r->weight);
    }
    for (size_t i = 0; i < f->n_edges; i++)
        look_edge_surviving(d, NULL, f->edges[i], false);
    show_frame_pop(d);
    scale_bar(d, 8, 5, scale, 40);
    return d;
}

/* ---- sections ---- */

struct show_drawing *figure_section(const struct figure_section *f) {
    double box[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    widen(box, f->n, f->likely);
    widen(box, f->n, f->low);
    widen(box, f->n, f->high);
    double width = f->width > 0 ? f->width : 165;
    if (!(box[2] > box[0])) box[0] = box[1] = 0, box[2] = 100, box[3] = 1;
    double scale = (width - 16) / (box[2] - box[0]);
    double height = scale * (box[3] - box[1]) + 34;
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, f->title, f->words);
    show_frame_push(d, 8 - scale * box[0], 22 - scale * box[1], scale, 0);
    if (f->low && f->high) {
        struct look_band band = {f->n, f->likely, f->low, f->high, NULL, NULL, false, SHOW_NONE};
        look_band(d, "section-band", &band);
    }
    if (isfinite(f->thickness) && f->n > 1)
        show_polyline(d, "section", f->n, f->likely, false,
                      SHOW_LINE(SHOW_INK, fmax(0.35, f->thickness * scale)));
    else
        look_edge_likely(d, "section", (struct look_ring){f->n, f->likely}, false, SHOW_INK);
    for (size_t i = 0; i < f->n_marks; i++) {
        double x = f->marks[i], y = 0;
        for (size_t k = 0; k + 1 < f->n; k++) {
            const double *a = f->likely + 2 * k, *b = a + 2;
            if (x < fmin(a[0], b[0]) || x > fmax(a[0], b[0]) || a[0] == b[0]) continue;
            y = a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
        }
        double s = 1.6 / scale;
        show_rectangle(d, NULL, x - s, y - s, 2 * s, 2 * s,
                       (struct show_pen){SHOW_INK, 0.25, SHOW_LEAF, false});
    }
    show_frame_pop(d);
    scale_bar(d, 8, 6, scale, 40);
    show_text(d, NULL, 8, height - 5, LOOK_SECOND, "Height and width at one scale.");
    return d;
}

/* ---- series ---- */

static void value_ticks(struct show_drawing *d, double x, double y, double height, double from,
                        double to, const char *unit) {
    double step = look_round_step(from, to, (int)(height / 12) + 1);
    int places = step < 1 ? (int)ceil(-log10(step) - 1e-9) : 0;
    struct show_type type = LOOK_SECOND;
    type.anchor = SHOW_END;
    double last = floor(to / step + 1e-9) * step;
    for (double v = ceil(from / step - 1e-9) * step; v <= last + 1e-6 * step; v += step) {
        double at = y + height * (v - from) / (to - from);
        char number[40];
        show_segment(d, x, at, x - 1.2, at, SHOW_LINE(SHOW_BARK, 0.25));
        show_text(d, NULL, x - 2, at - 1, type, show_real(number, v, places > 6 ? 6 : places));
    }
    type.anchor = SHOW_START;
    show_text(d, NULL, 2, y + height + 4, type, unit ? unit : "");
}

struct axes {
    double x, y, w, h, t0, t1, v0, v1;
};

static void extent(double *lo, double *hi, size_t n, const double *v) {
    for (size_t i = 0; v && i < n; i++)
        if (isfinite(v[i])) *lo = fmin(*lo, v[i]), *hi = fmax(*hi, v[i]);
}

static struct axes axes_of(const struct figure_series *f, double w, double h) {
    struct axes a = {18, 14, w - 26, h - 26, INFINITY, -INFINITY, INFINITY, -INFINITY};
    extent(&a.t0, &a.t1, f->n, f->time);
    extent(&a.t0, &a.t1, f->n_measured, f->at);
    extent(&a.v0, &a.v1, f->n, f->likely);
    extent(&a.v0, &a.v1, f->n, f->low);
    extent(&a.v0, &a.v1, f->n, f->high);
    for (size_t i = 0; i < f->n_measured; i++) {
        double pm = f->plus_minus && isfinite(f->plus_minus[i]) ? f->plus_minus[i] : 0;
        a.v0 = fmin(a.v0, f->value[i] - pm), a.v1 = fmax(a.v1, f->value[i] + pm);
    }
    if (!(a.t1 > a.t0)) a.t0 = 0, a.t1 = 1;
    if (!(a.v1 > a.v0)) a.v0 -= 1, a.v1 += 1;
    if (!isfinite(a.v0)) a.v0 = 0, a.v1 = 1;
    double pad = 0.05 * (a.v1 - a.v0);
    a.v0 -= pad, a.v1 += pad;
    return a;
}

static double *place(const struct axes *a, size_t n, const double *t, const double *v) {
    double *xy = MEM_NEW(double, 2 * n + 2);
    for (size_t i = 0; xy && i < n; i++) {
        xy[2 * i] = a->x + a->w * (t[i] - a->t0) / (a->t1 - a->t0);
        xy[2 * i + 1] = a->y + a->h * (v[i] - a->v0) / (a->v1 - a->v0);
    }
    return xy;
}

struct show_drawing *figure_series(const struct figure_series *f) {
    double w = f->width > 0 ? f->width : 130, h = f->height > 0 ? f->height : 70;
    struct show_drawing *d = show_drawing_new(w, h);
    show_drawing_name(d, f->title, f->words);
    struct axes a = axes_of(f, w, h);
    double *likely = place(&a, f->n, f->time, f->likely);
    double *low = f->low ? place(&a, f->n, f->time, f->low) : NULL;
    double *high = f->high ? place(&a, f->n, f->time, f->high) : NULL;
    if (!likely || (f->low && !low) || (f->high && !high))
        show_drawing_fail(d, ERR_MEMORY, NULL, "No memory for a curve.");
    else if (low && high)
        look_band(d, "series",
                  &(struct look_band){f->n, likely, low, high, NULL, NULL, false, SHOW_NONE});
    else
        look_edge_likely(d, "series", (struct look_ring){f->n, likely}, false, SHOW_INK);
    mem_free(likely);
    mem_free(low);
    mem_free(high);
    for (size_t i = 0; i < f->n_measured; i++) {
        double pm = f->plus_minus ? f->plus_minus[i] * a.h / (a.v1 - a.v0) : NAN;
        look_knot(d, a.x + a.w * (f->at[i] - a.t0) / (a.t1 - a.t0),
                  a.y + a.h * (f->value[i] - a.v0) / (a.v1 - a.v0), pm, true);
    }
    look_ticks(d, a.x, a.y, a.w, a.t0, a.t1, f->time_unit);
    value_ticks(d, a.x - 2, a.y, a.h, a.v0, a.v1, f->value_unit);
    return d;
}

/* ---- a quantity over the sheet ---- */

struct show_drawing *figure_surface(const char *title, const char *unit,
                                    const struct look_surface *s, double width) {
    if (!(width > 0)) width = 165;
    double box[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    widen(box, s->n_points, s->points);
    if (!(box[2] > box[0])) box[0] = box[1] = 0, box[2] = 100, box[3] = 60;
    double scale = (width - 4) / (box[2] - box[0]);
    struct show_drawing *d = show_drawing_new(width, scale * (box[3] - box[1]) + 18);
    char alt[200];
    snprintf(alt, sizeof alt,
             "Numbered contour lines over the sheet seen from the outer face, in %.40s.",
             unit && *unit ? unit : "plain numbers");
    show_drawing_name(d, title, alt);
    show_frame_push(d, 2 - scale * box[0], 14 - scale * box[1], scale, 0);
    look_contours(d, "contours", s);
    show_frame_pop(d);
    scale_bar(d, 2, 4, scale, 40);
    return d;
}
