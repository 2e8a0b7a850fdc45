/* look_line: edges, parts, bands, rivals and threads of LOOK.md, Lines. */
#include "show/look.h"

#include "base/mem.h"
#include "show/out.h"

#include <math.h>
#include <stdio.h>

/* A walk along a line: where one is after s mm of paper, and which way it runs. */
struct walk {
    size_t n, i;
    const double *xy;
    double scale;        /* paper mm for one of the frame */
    double done, length; /* paper mm before segment i; of segment i */
    bool closed;
};

static const double *vertex(const struct walk *w, size_t i) {
    return w->xy + 2 * (i % w->n);
}

static double segment(const struct walk *w, size_t i) {
    const double *a = vertex(w, i), *b = vertex(w, i + 1);
    return w->scale * hypot(b[0] - a[0], b[1] - a[1]);
}

static size_t segments(const struct walk *w) {
    return w->closed ? w->n : w->n - 1;
}

static struct walk walk_begin(const struct show_drawing *d, size_t n, const double *xy,
                              bool closed) {
    struct walk w = {.n = n, .xy = xy, .scale = show_frame_scale(d), .closed = closed && n > 2};
    if (n > 1) w.length = segment(&w, 0);
    return w;
}

static double walk_total(const struct walk *w) {
    double sum = 0;
    for (size_t i = 0; w->n > 1 && i < segments(w); i++)
        sum += segment(w, i);
    return sum;
}

/* Steps to s (which never falls); gives the segment and the fraction of it. False past the end. */
static bool walk_to(struct walk *w, double s, size_t *i, double *t) {
    if (w->n < 2) return false;
    while (w->i < segments(w) && s > w->done + w->length) {
        w->done += w->length;
        if (++w->i < segments(w)) w->length = segment(w, w->i);
    }
    if (w->i >= segments(w)) return false;
    *i = w->i;
    *t = w->length > 0 ? (s - w->done) / w->length : 0;
    return true;
}

static void between(double out[2], const double *xy, size_t n, size_t i, double t) {
    const double *a = xy + 2 * (i % n), *b = xy + 2 * ((i + 1) % n);
    out[0] = a[0] + t * (b[0] - a[0]);
    out[1] = a[1] + t * (b[1] - a[1]);
}

static double heading(const struct walk *w, size_t i) {
    const double *a = vertex(w, i), *b = vertex(w, i + 1);
    return atan2(b[1] - a[1], b[0] - a[0]);
}

void look_offset(double *out, struct look_ring line, bool closed, double mm) {
    struct walk w = {.n = line.n, .xy = line.xy, .scale = 1, .closed = closed && line.n > 2};
    for (size_t i = 0; i < line.n; i++) {
        size_t last = line.n - 1;
        size_t before = i          ? i - 1
                        : w.closed ? last
                                   : 0,
               after = i < last || w.closed ? i : last - 1;
        if (line.n < 2) before = after = 0;
        double a = heading(&w, before), b = heading(&w, after);
        double nx = -sin(a) - sin(b), ny = cos(a) + cos(b), q = nx * nx + ny * ny;
        double k = q > 0.5 ? 2 * mm / q : 0; /* a sharper corner than 139 degrees gets none */
        out[2 * i] = line.xy[2 * i] + k * nx;
        out[2 * i + 1] = line.xy[2 * i + 1] + k * ny;
    }
}

/* The line set off by `off` paper mm; free with mem_free. */
static double *set_off(struct show_drawing *d, struct look_ring line, bool closed, double off) {
    double *out = MEM_NEW(double, 2 * (line.n ? line.n : 1));
    if (out)
        look_offset(out, line, closed, off / show_frame_scale(d));
    else
        show_drawing_fail(d, ERR_MEMORY, NULL, "No memory for a line.");
    return out;
}

static void offset_line(struct show_drawing *d, struct look_ring line, bool closed, double off,
                        struct show_pen pen) {
    double *xy = set_off(d, line, closed, off);
    if (xy) show_polyline(d, NULL, line.n, xy, closed, pen);
    mem_free(xy);
}

void look_fill(struct show_drawing *d, const char *id, struct look_ring outer,
               const struct look_ring *holes, size_t n_holes, long footing, double grain) {
    if (!outer.n) return;
    double x1 = outer.xy[0], x2 = x1, y1 = outer.xy[1], y2 = y1;
    for (size_t i = 1; i < outer.n; i++) {
        x1 = fmin(x1, outer.xy[2 * i]), x2 = fmax(x2, outer.xy[2 * i]);
        y1 = fmin(y1, outer.xy[2 * i + 1]), y2 = fmax(y2, outer.xy[2 * i + 1]);
    }
    double scale = show_frame_scale(d);
    if ((x2 - x1) * scale < 5 && (y2 - y1) * scale < 5) {
        look_footing_glyph(d, (x1 + x2) / 2, (y1 + y2) / 2, 3, footing);
        return;
    }
    show_path_begin(d);
    show_ring(d, outer.n, outer.xy);
    for (size_t i = 0; i < n_holes; i++)
        show_ring(d, holes[i].n, holes[i].xy);
    show_hatch_end(d, id, look_hatch(footing), x1, y1, grain);
}

void look_edge_surviving(struct show_drawing *d, const char *id, struct look_ring line,
                         bool closed) {
    show_polyline(d, id, line.n, line.xy, closed, SHOW_LINE(SHOW_INK, 0.7));
    if (line.n > 1) offset_line(d, line, closed, 1.2, SHOW_LINE(SHOW_INK, 0.15));
}

void look_edge_likely(struct show_drawing *d, const char *id, struct look_ring line, bool closed,
                      enum show_colour colour) {
    show_polyline(d, NULL, line.n, line.xy, closed, SHOW_LINE(SHOW_LEAF, 0.85));
    show_polyline(d, id, line.n, line.xy, closed,
                  SHOW_LINE(colour == SHOW_NONE ? SHOW_INK : colour, 0.35));
}

void look_part_line(struct show_drawing *d, const char *id, struct look_ring line, long face) {
    if (face != FACE_INNER && face != FACE_BETWEEN) {
        show_polyline(d, id, line.n, line.xy, false, SHOW_LINE(SHOW_INK, 0.5));
        return;
    }
    if (line.n < 2) return;
    offset_line(d, line, false, 0.4, SHOW_LINE(SHOW_INK, 0.15));
    offset_line(d, line, false, -0.4, SHOW_LINE(SHOW_INK, 0.15));
    if (face != FACE_BETWEEN) return;
    struct walk w = walk_begin(d, line.n, line.xy, false);
    double t, at[2], k = 0.4 / show_frame_scale(d);
    size_t i;
    show_path_begin(d);
    for (double s = 1.5; walk_to(&w, s, &i, &t); s += 3) {
        double h = heading(&w, i);
        between(at, line.xy, line.n, i, t);
        show_move_to(d, at[0] - k * sin(h), at[1] + k * cos(h));
        show_line_to(d, at[0] + k * sin(h), at[1] - k * cos(h));
    }
    show_path_end(d, id, SHOW_LINE(SHOW_INK, 0.15));
}

void look_slit(struct show_drawing *d, const char *id, double x1, double y1, double x2, double y2) {
    double length = hypot(x2 - x1, y2 - y1), h = 0.6 / show_frame_scale(d);
    show_frame_push(d, x1, y1, 1, atan2(y2 - y1, x2 - x1));
    show_path_begin(d);
    show_move_to(d, 0, 0);
    show_curve_to(d, length / 3, h * 4 / 3, length * 2 / 3, h * 4 / 3, length, 0);
    show_curve_to(d, length * 2 / 3, -h * 4 / 3, length / 3, -h * 4 / 3, 0, 0);
    show_close(d);
    show_path_end(d, id, (struct show_pen){SHOW_INK, 0.35, SHOW_LEAF, false});
    show_frame_pop(d);
}

void look_hole(struct show_drawing *d, const char *id, double x, double y, double diameter) {
    show_circle(d, id, x, y, diameter / 2, (struct show_pen){SHOW_INK, 0.25, SHOW_LEAF, false});
    show_circle(d, NULL, x, y, 0.18 / show_frame_scale(d), SHOW_FILL(SHOW_INK));
}

void look_score(struct show_drawing *d, const char *id, struct look_ring line) {
    (void)id;
    if (line.n < 2) return;
    offset_line(d, line, false, 0.2, SHOW_LINE(SHOW_INK, 0.15));
    offset_line(d, line, false, -0.2, SHOW_LINE(SHOW_INK, 0.15));
}

/* ---- the whipped band ---- */

static void band_ground(struct show_drawing *d, const struct look_band *b) {
    show_path_begin(d);
    if (b->closed) {
        show_ring(d, b->n, b->low);
        show_ring(d, b->n, b->high);
    } else {
        for (size_t i = 0; i < b->n; i++)
            i ? show_line_to(d, b->low[2 * i], b->low[2 * i + 1])
              : show_move_to(d, b->low[0], b->low[1]);
        for (size_t i = b->n; i-- > 0;)
            show_line_to(d, b->high[2 * i], b->high[2 * i + 1]);
        show_close(d);
    }
    show_path_end(d, NULL, (struct show_pen){.fill = SHOW_LEAF, .even_odd = true});
}

/* A stroke across the band at the walk's place, from fraction `from` to `to` of its width, leaning
 * 60 degrees: its upper end lies further along by width / tan 60. */
struct whip {
    double low[2], high[2]; /* ends of the full stroke */
    double width;           /* of the band here, paper mm */
    double far_low[2], far_high[2];
};

static bool whip_at(struct whip *out, struct show_drawing *d, const struct look_band *b,
                    struct walk *along, double s) {
    size_t i;
    double t, other[2];
    struct walk ahead = *along;
    if (!walk_to(along, s, &i, &t)) return false;
    between(out->low, b->low, b->n, i, t);
    between(other, b->high, b->n, i, t);
    out->width = show_frame_scale(d) * hypot(other[0] - out->low[0], other[1] - out->low[1]);
    if (b->whole_low) between(out->far_low, b->whole_low, b->n, i, t);
    double lean = out->width / tan(M_PI / 3);
    ahead = *along;
    if (!walk_to(&ahead, s + lean, &i, &t)) {
        if (!b->closed) return false;
        ahead = walk_begin(d, b->n, b->likely, true);
        if (!walk_to(&ahead, fmax(0, s + lean - walk_total(&ahead)), &i, &t)) return false;
    }
    between(out->high, b->high, b->n, i, t);
    if (b->whole_high) between(out->far_high, b->whole_high, b->n, i, t);
    return true;
}

static void whip_stroke(struct show_drawing *d, const struct whip *w, bool whole) {
    double a = whole ? 0 : 0.25, c = whole ? 1 : 0.75;
    double dx = w->high[0] - w->low[0], dy = w->high[1] - w->low[1];
    show_move_to(d, w->low[0] + a * dx, w->low[1] + a * dy);
    show_line_to(d, w->low[0] + c * dx, w->low[1] + c * dy);
}

/* From the band's edge on to the edge for the whole curve, ending in a bar. */
static void whip_reach(struct show_drawing *d, const double near[2], const double far[2]) {
    double dx = far[0] - near[0], dy = far[1] - near[1], l = hypot(dx, dy);
    double mm = 1 / show_frame_scale(d);
    if (l < 0.2 * mm) return;
    show_move_to(d, near[0], near[1]);
    show_line_to(d, far[0], far[1]);
    show_move_to(d, far[0] - dy / l * 0.7 * mm, far[1] + dx / l * 0.7 * mm);
    show_line_to(d, far[0] + dy / l * 0.7 * mm, far[1] - dx / l * 0.7 * mm);
}

/* Narrower than this on paper, a band becomes tie marks with the figure (LOOK.md). */
static const double narrow = 1.5;

static void tie_mark(struct show_drawing *d, const struct whip *w, double plus_minus) {
    char text[48], number[40];
    double x = (w->low[0] + w->high[0]) / 2, y = (w->low[1] + w->high[1]) / 2;
    double dx = w->high[0] - w->low[0], dy = w->high[1] - w->low[1], l = hypot(dx, dy);
    double mm = 1 / show_frame_scale(d);
    if (!(l > 0)) return;
    dx *= mm / l, dy *= mm / l;
    show_segment(d, x - 1.2 * dx, y - 1.2 * dy, x + 1.2 * dx, y + 1.2 * dy,
                 SHOW_LINE(SHOW_BARK, 0.35));
    snprintf(text, sizeof text, "±%s", show_real(number, plus_minus, plus_minus < 10 ? 1 : 0));
    struct show_type type = LOOK_LABEL;
    type.size = SHOW_PT(6.5);
    type.colour = SHOW_BARK;
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, x + 3.6 * dx, y + 3.6 * dy - 0.8 * mm, type, text);
}

void look_band(struct show_drawing *d, const char *id, const struct look_band *b) {
    if (b->n < 2) return;
    band_ground(d, b);
    show_polyline(d, NULL, b->n, b->low, b->closed, SHOW_LINE(SHOW_BARK, 0.1));
    show_polyline(d, NULL, b->n, b->high, b->closed, SHOW_LINE(SHOW_BARK, 0.1));
    struct walk along = walk_begin(d, b->n, b->likely, b->closed);
    struct whip w;
    long number = 0, last_tie = -20;
    show_path_begin(d);
    for (double s = 0; whip_at(&w, d, b, &along, s); s += 1, number++) {
        if (w.width < narrow) continue;
        whip_stroke(d, &w, number % 3 == 0);
        if (number % 30 == 0 && b->whole_low && b->whole_high) {
            whip_reach(d, w.low, w.far_low);
            whip_reach(d, w.high, w.far_high);
        }
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_BARK, 0.15));
    look_edge_likely(d, id, (struct look_ring){b->n, b->likely}, b->closed, b->colour);
    along = walk_begin(d, b->n, b->likely, b->closed);
    number = 0;
    for (double s = 0; whip_at(&w, d, b, &along, s); s += 1, number++) {
        if (w.width >= narrow || number - last_tie < 20) continue;
        last_tie = number;
        tie_mark(d, &w, w.width / show_frame_scale(d) / 2);
    }
}

/* ---- rivals ---- */

static void lozenge(struct show_drawing *d, double x, double y, double h) {
    show_frame_push(d, x, y, 1 / show_frame_scale(d), h);
    show_polyline(d, NULL, 4, (double[]){-1.8, 0, 0, 1, 1.8, 0, 0, -1}, true,
                  (struct show_pen){SHOW_SLOE, 0.35, SHOW_LEAF, false});
    show_frame_pop(d);
}

static void cross_bar(struct show_drawing *d, double x, double y, double h) {
    show_frame_push(d, x, y, 1 / show_frame_scale(d), h);
    show_segment(d, 0, -1.4, 0, 1.4, SHOW_LINE(SHOW_INK, 0.35));
    show_frame_pop(d);
}

void look_rival(struct show_drawing *d, const char *id, struct look_ring line, bool closed,
                int number, const char *name, double weight) {
    look_edge_likely(d, id, line, closed, number == 1 ? SHOW_SLOE : SHOW_INK);
    struct walk w = walk_begin(d, line.n, line.xy, closed);
    double t, at[2];
    size_t i;
    for (double s = 12.5; number > 0 && walk_to(&w, s, &i, &t); s += 25) {
        between(at, line.xy, line.n, i, t);
        (number == 1 ? lozenge : cross_bar)(d, at[0], at[1], heading(&w, i));
    }
    if (!name || !line.n) return;
    char text[160], share[40];
    if (isfinite(weight))
        snprintf(text, sizeof text, "%.100s, weight %s", name, show_real(share, weight, 2));
    else
        snprintf(text, sizeof text, "%.120s", name);
    struct show_type type = LOOK_LABEL;
    type.colour = number == 1 ? SHOW_SLOE : SHOW_INK;
    between(at, line.xy, line.n, line.n / 8, 0);
    double x = at[0], y = at[1];
    show_frame_point(d, &x, &y);
    if (x > 0.6 * show_drawing_width(d)) type.anchor = SHOW_END;
    show_text(d, NULL, at[0], at[1] + 1.5 / show_frame_scale(d), type, text);
}

void look_excluded(struct show_drawing *d, const char *id, struct look_ring line, bool closed,
                   double x, double y, const char *reading) {
    show_polyline(d, id, line.n, line.xy, closed, SHOW_LINE(SHOW_INK, 0.15));
    double mm = 1 / show_frame_scale(d);
    struct show_pen pen = SHOW_LINE(SHOW_INK, 0.35);
    show_segment(d, x - 1.2 * mm, y - 1.2 * mm, x + 1.2 * mm, y + 1.2 * mm, pen);
    show_segment(d, x - 1.2 * mm, y + 1.2 * mm, x + 1.2 * mm, y - 1.2 * mm, pen);
    /* The words stand where the sheet has room for them. */
    double px = x, py = y;
    show_frame_point(d, &px, &py);
    struct show_type type = LOOK_LABEL;
    bool right = px > 0.6 * show_drawing_width(d);
    if (right) type.anchor = SHOW_END;
    show_text(d, NULL, x + (right ? -2 : 2) * mm, y + 1 * mm, type, reading);
}

void look_thread(struct show_drawing *d, double x1, double y1, double x2, double y2,
                 const char *number, bool both, bool touched) {
    /* A parabola with sag 8 % of the span: the control points hang 4/3 as deep. */
    double sag = 0.08 * hypot(x2 - x1, y2 - y1) * 4 / 3, dx = (x2 - x1) / 3, dy = (y2 - y1) / 3;
    for (int pass = touched ? 0 : 1; pass < 2; pass++) {
        show_path_begin(d);
        show_move_to(d, x1, y1);
        show_curve_to(d, x1 + dx, y1 + dy - sag, x1 + 2 * dx, y1 + 2 * dy - sag, x2, y2);
        struct show_pen ink = touched ? SHOW_LINE(SHOW_ALDER, 0.5) : SHOW_LINE(SHOW_INK, 0.25);
        show_path_end(d, NULL, pass ? ink : SHOW_LINE(SHOW_LEAF, 1.5));
    }
    show_circle(d, NULL, x1, y1, touched ? 1.25 : 0.7, SHOW_FILL(touched ? SHOW_ALDER : SHOW_INK));
    struct show_type type = LOOK_LABEL;
    type.size = SHOW_PT(6);
    type.anchor = x2 < x1 ? SHOW_END : SHOW_START;
    show_text(d, NULL, x2 + (x2 < x1 ? -1.2 : 1.2), y2 - 0.7, type, number);
    type.anchor = x2 < x1 ? SHOW_START : SHOW_END;
    if (both) show_text(d, NULL, x1 + (x2 < x1 ? 1.4 : -1.4), y1 - 0.7, type, number);
}

/* ---- the stick of 100 mm ---- */

void look_stick(struct show_drawing *d, const char *id, double x, double y, bool upright,
                double factor, bool measure_me) {
    double turn = upright ? M_PI / 2 : 0;
    show_group_begin(d, &(struct show_group){.id = id, .title = "Stick of 100 mm"});
    show_frame_push(d, x, y, 1, turn);
    show_path_begin(d);
    show_move_to(d, 0, 0);
    show_line_to(d, 100 * factor, 0);
    for (int i = 0; i <= 10; i++) {
        double at = 10 * i * factor;
        show_move_to(d, at, 0);
        show_line_to(d, at, i % 5 ? 2 : 4);
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_INK, 0.25));
    show_frame_pop(d);
    struct show_type type = LOOK_SECOND;
    type.size = SHOW_PT(7);
    type.anchor = upright ? SHOW_END : SHOW_MIDDLE;
    for (int i = 0; i <= 100; i += 50) {
        char text[16];
        snprintf(text, sizeof text, i == 100 && !upright ? "%d mm" : "%d", i);
        double at = i * factor;
        show_text(d, NULL, upright ? x - 4.4 : x + at, upright ? y + at - 0.9 : y + 4.6, type,
                  text);
    }
    if (measure_me && !upright) {
        type.anchor = SHOW_START;
        show_text(d, NULL, x + 100 * factor + 6, y + 0.4, type, "measure me: _______ mm");
    }
    show_group_end(d);
}
