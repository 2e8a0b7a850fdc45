/* plan_draw: the plan's own figures, and the sheets they fall on. */
#include "show/plan.h"

#include "base/mem.h"
#include "show/svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* What is seen of the plan on one sheet: box in plan mm. */
struct view {
    double box[4];
    double clear[4]; /* less the strips on which seams carry their nicks: here words may stand */
    bool whole;      /* the plan is one picture: every label stands once */
};

static bool seen(const struct view *v, double x, double y) {
    return x >= v->box[0] && x <= v->box[2] && y >= v->box[1] && y <= v->box[3];
}

/* Whether a run of points with a border of `pad` may touch the view. */
static bool touches(const struct view *v, size_t n, const double *xy, double pad) {
    double x1 = INFINITY, x2 = -INFINITY, y1 = INFINITY, y2 = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        x1 = fmin(x1, xy[2 * i]), x2 = fmax(x2, xy[2 * i]);
        y1 = fmin(y1, xy[2 * i + 1]), y2 = fmax(y2, xy[2 * i + 1]);
    }
    return x1 - pad <= v->box[2] && x2 + pad >= v->box[0] && y1 - pad <= v->box[3] &&
           y2 + pad >= v->box[1];
}

/* The point of a line at fraction `where` of its longest stretch inside the view; false if it is
 * not seen. Steps of 2 mm are fine enough to place a label; different fractions keep labels of
 * neighbouring lines apart. */
static bool point_seen(const struct view *v, size_t n, const double *xy, bool closed, double where,
                       double out[2]) {
    size_t run = 0, best = 0, steps_total = 0, end = 0;
    for (size_t i = 0; i + 1 < n + (closed ? 1 : 0); i++) {
        const double *a = xy + 2 * i, *b = xy + 2 * ((i + 1) % n);
        size_t steps = (size_t)(hypot(b[0] - a[0], b[1] - a[1]) / 2) + 1;
        for (size_t k = 0; k < steps; k++, steps_total++) {
            double t = (double)k / (double)steps;
            bool in = seen(v, a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));
            run = in ? run + 1 : 0;
            if (run > best) best = run, end = steps_total;
        }
    }
    if (!best) return false;
    size_t want = end - (size_t)((double)best * where), at = 0;
    for (size_t i = 0; i + 1 < n + (closed ? 1 : 0); i++) {
        const double *a = xy + 2 * i, *b = xy + 2 * ((i + 1) % n);
        size_t steps = (size_t)(hypot(b[0] - a[0], b[1] - a[1]) / 2) + 1;
        if (want < at + steps) {
            double t = (double)(want - at) / (double)steps;
            out[0] = a[0] + t * (b[0] - a[0]);
            out[1] = a[1] + t * (b[1] - a[1]);
            return true;
        }
        at += steps;
    }
    return false;
}

static void edge(struct show_drawing *d, const struct view *v, const char *id, size_t n,
                 const double *xy, double width) {
    if (n && touches(v, n, xy, 1)) show_polyline(d, id, n, xy, true, SHOW_LINE(SHOW_INK, width));
}

/* Draws a ring or the two sides of a line with a width, in the line of its face. */
static void part_sides(struct show_drawing *d, const struct plan_part *p) {
    bool wide = isfinite(p->width) && p->width > 0;
    if (!wide || (p->closed && p->kind != PLAN_RIM && p->kind != PLAN_PAINT)) {
        double *ring = MEM_NEW(double, 2 * (p->n + 1));
        if (!ring) {
            show_drawing_fail(d, ERR_MEMORY, NULL, "No memory for a part.");
            return;
        }
        memcpy(ring, p->xy, 2 * p->n * sizeof *ring);
        ring[2 * p->n] = p->xy[0], ring[2 * p->n + 1] = p->xy[1];
        look_part_line(d, NULL, (struct look_ring){p->n + (p->closed ? 1 : 0), ring}, p->face);
        mem_free(ring);
        return;
    }
    double *both = MEM_NEW(double, 4 * (p->n + 1)), *a = both;
    if (!both) {
        show_drawing_fail(d, ERR_MEMORY, NULL, "No memory for a part.");
        return;
    }
    struct look_ring line = {p->n, p->xy};
    look_offset(a, line, p->closed, p->width / 2);
    if (p->closed) {
        double *b = both + 2 * (p->n + 1);
        look_offset(b, line, true, -p->width / 2);
        a[2 * p->n] = a[0], a[2 * p->n + 1] = a[1];
        b[2 * p->n] = b[0], b[2 * p->n + 1] = b[1];
        look_part_line(d, NULL, (struct look_ring){p->n + 1, a}, p->face);
        look_part_line(d, NULL, (struct look_ring){p->n + 1, b}, p->face);
    } else {
        double *b = both + 2 * p->n;
        look_offset(b, line, false, -p->width / 2);
        for (size_t i = 0; i < p->n / 2; i++)
            for (int k = 0; k < 2; k++) {
                double t = b[2 * i + k];
                b[2 * i + k] = b[2 * (p->n - 1 - i) + k];
                b[2 * (p->n - 1 - i) + k] = t;
            }
        both[4 * p->n] = a[0], both[4 * p->n + 1] = a[1];
        look_part_line(d, NULL, (struct look_ring){2 * p->n + 1, both}, p->face);
    }
    mem_free(both);
}

/* Boxes of the words on a sheet, in plan mm, so that no two of them lie on one another. */
enum { MOST_LABELS = 200 };
struct labels {
    size_t n;
    double box[MOST_LABELS][4];
};

/* Half the width that a line of 8 points takes, on the mean. */
static double half_width(size_t signs) {
    return 0.78 * (double)signs + 1;
}

static bool is_clear(const struct labels *l, const double box[4]) {
    for (size_t i = 0; i < l->n; i++) {
        const double *b = l->box[i];
        if (box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1]) return false;
    }
    return true;
}

static void take(struct labels *l, const double box[4]) {
    if (l->n < MOST_LABELS) memcpy(l->box[l->n++], box, 4 * sizeof *box);
}

/* What a label needs about the point it belongs to, and which line it belongs to. */
struct label_ask {
    double half, below, above; /* mm */
    bool outside;              /* beside a ring, on its outer side; else on the line */
    size_t first;              /* of the places to try */
    size_t n;
    const double *xy;
    bool closed;
};

static double shifted(double *low, double *high, double from, double to) {
    double by = *low < from ? from - *low : *high > to ? to - *high : 0;
    *low += by, *high += by;
    return by;
}

/* From a point of a ring to where words of half a width stand clear of it. */
static void step_out(double at[2], const struct label_ask *ask) {
    double middle[2] = {0, 0};
    for (size_t i = 0; i < ask->n; i++)
        middle[0] += ask->xy[2 * i] / (double)ask->n,
            middle[1] += ask->xy[2 * i + 1] / (double)ask->n;
    double dx = at[0] - middle[0], dy = at[1] - middle[1], far = fmax(hypot(dx, dy), 1e-9);
    at[0] += dx / far * (ask->half + 1);
    at[1] += dy / far * (ask->above + 1.5);
}

/* Where the words stand: whole on this sheet and clear of other words, as near to the line as that
 * allows; false if the line is not seen. The place is taken. */
static bool place_label(double out[2], const struct view *v, struct labels *labels,
                        const struct label_ask *ask) {
    static const double open_tries[] = {0.5, 0.38, 0.62, 0.28, 0.72, 0.2, 0.8, 0.12, 0.88},
                        closed_tries[] = {0.62, 0.56, 0.68, 0.5, 0.75, 0.42, 0.85, 0.3, 0.15};
    struct view inner = *v;
    memcpy(inner.box, v->clear, sizeof inner.box);
    double at[2] = {0, 0}, box[4], best[4] = {0}, least = INFINITY;
    for (size_t t = 0; t < 18; t++) { /* first on the part of the sheet that is its own */
        size_t k = (t + ask->first) % 9;
        double where = ask->closed ? closed_tries[k] : open_tries[k];
        if (t == 9 && least < 1000) break;
        if (!point_seen(t < 9 ? &inner : v, ask->n, ask->xy, ask->closed, where, at)) continue;
        if (ask->outside) step_out(at, ask);
        box[0] = at[0] - ask->half, box[1] = at[1] - ask->below;
        box[2] = at[0] + ask->half, box[3] = at[1] + ask->above;
        double off = fabs(shifted(&box[0], &box[2], v->clear[0], v->clear[2])) +
                     fabs(shifted(&box[1], &box[3], v->clear[1], v->clear[3])) +
                     (is_clear(labels, box) ? 0 : 1000);
        if (off >= least) continue;
        least = off;
        memcpy(best, box, sizeof best);
    }
    if (!isfinite(least)) return false;
    take(labels, best);
    out[0] = (best[0] + best[2]) / 2, out[1] = best[1] + ask->below;
    return true;
}

static void edge_label(struct show_drawing *d, const struct view *v, struct labels *labels,
                       size_t n, const double *xy, const char *words, bool outside) {
    double at[2];
    const struct label_ask ask = {.half = half_width(strlen(words)),
                                  .below = 2,
                                  .above = 3,
                                  .outside = outside,
                                  .first = outside ? 0 : 4,
                                  .n = n,
                                  .xy = xy,
                                  .closed = true};
    if (!n || !touches(v, n, xy, 1) || !place_label(at, v, labels, &ask)) return;
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, at[0], at[1] - 1, type, words);
}

static void part_label(struct show_drawing *d, const struct view *v, const struct plan_part *p,
                       struct labels *labels) {
    char size[40], name[80], cut[100] = "";
    snprintf(name, sizeof name, "%.60s", p->name ? p->name : p->id);
    bool is_cut = p->kind != PLAN_PAINT; /* paint is put on, not cut */
    int k = 0;
    if (is_cut && isfinite(p->fresh))
        k = snprintf(cut, sizeof cut, "cut %s mm", show_real(size, p->fresh, 0));
    if (is_cut && isfinite(p->dry))
        snprintf(cut + k, sizeof cut - (size_t)k, "%snew and dry %s mm", k ? ", " : "",
                 show_real(size, p->dry, 0));
    size_t signs = strlen(name) > strlen(cut) ? strlen(name) : strlen(cut);
    const struct label_ask ask = {.half = half_width(signs),
                                  .below = *cut ? 7.5 : 3.5,
                                  .above = 5.5,
                                  .n = p->n,
                                  .xy = p->xy,
                                  .closed = p->closed};
    double at[2];
    if (!place_label(at, v, labels, &ask)) return;
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_MIDDLE;
    look_footing_glyph(d, at[0], at[1] + 3, 3.5, p->footing);
    show_text(d, NULL, at[0], at[1] - 2.5, type, name);
    if (*cut) show_text(d, NULL, at[0], at[1] - 6.2, type, cut);
}

static void part(struct show_drawing *d, const struct view *v, const struct plan_part *p) {
    if (!p->n || !touches(v, p->n, p->xy, isfinite(p->width) ? p->width : 1)) return;
    show_group_begin(d, &(struct show_group){.id = p->id, .title = p->name, .layer = SHOW_MARK});
    part_sides(d, p);
    show_group_end(d);
}

/* Even-odd test; points on the line itself may fall either way. */
static bool inside(size_t n, const double *xy, double x, double y) {
    bool in = false;
    for (size_t i = 0, j = n - 1; i < n; j = i++) {
        const double *a = xy + 2 * i, *b = xy + 2 * j;
        if ((a[1] > y) != (b[1] > y) && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0])
            in = !in;
    }
    return in;
}

/* The sign stands on the sheet itself, at the first of some places where all of it does. */
static void grain_sign(struct show_drawing *d, const struct show_plan *plan, const struct view *v,
                       struct labels *labels) {
    static const double tries[][2] = {{0.32, 0.4}, {0.32, 0.7}, {0.68, 0.4}, {0.68, 0.7},
                                      {0.5, 0.2},  {0.5, 0.85}, {0.2, 0.2},  {0.8, 0.8},
                                      {0.2, 0.8},  {0.8, 0.2}};
    size_t n = plan->n_fresh ? plan->n_fresh : plan->n_dry;
    const double *ring = plan->n_fresh ? plan->fresh : plan->dry;
    double grain = plan->grain, x = 0, y = 0, c = 17 * cos(grain), s = 17 * sin(grain);
    bool found = false;
    for (size_t i = 0; i < sizeof tries / sizeof tries[0] && !found; i++) {
        x = v->box[0] + tries[i][0] * (v->box[2] - v->box[0]);
        y = v->box[1] + tries[i][1] * (v->box[3] - v->box[1]);
        double half = half_width(35); /* the words below it lie on the sheet too */
        found = n < 3 || (inside(n, ring, x - c, y - s) && inside(n, ring, x + c, y + s) &&
                          inside(n, ring, x - half, y - 7) && inside(n, ring, x + half, y - 7));
    }
    if (!found) return;
    look_grain(d, x - 15 * cos(grain), y - 15 * sin(grain), 30, grain);
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, x + 4 * sin(grain), y - 4 * cos(grain) - 2.5, type,
              "grain, from butt to tip of the stem");
    double half = half_width(35);
    take(labels, (double[]){x - half, y - 7, x + half, y + 4});
}

/* Everything of the plan that the view touches, in plan mm of the present frame. */
static void figures(struct show_drawing *d, const struct show_plan *plan, const struct view *v) {
    bool fresh = plan->n_fresh > 0;
    show_group_begin(d, &(struct show_group){.id = "cut", .title = "Cut", .layer = SHOW_CUT});
    edge(d, v, "outline-fresh", plan->n_fresh, plan->fresh, 0.7);
    if (!fresh) edge(d, v, "outline-dry", plan->n_dry, plan->dry, 0.7);
    for (size_t i = 0; i < plan->n_slits; i++) {
        const struct plan_slit *s = &plan->slits[i];
        char id[40];
        snprintf(id, sizeof id, "slit-%zu", i + 1);
        if (touches(v, 2, &s->x1, 1)) look_slit(d, id, s->x1, s->y1, s->x2, s->y2);
    }
    show_group_end(d);
    show_group_begin(d, &(struct show_group){.id = "mark", .title = "Mark", .layer = SHOW_MARK});
    if (fresh) edge(d, v, "outline-dry", plan->n_dry, plan->dry, 0.25);
    for (size_t i = 0; i < plan->n_parts; i++)
        part(d, v, &plan->parts[i]);
    for (size_t i = 0; i < plan->n_holes; i++) {
        const struct plan_hole *h = &plan->holes[i];
        char id[40];
        snprintf(id, sizeof id, "hole-%zu", i + 1);
        if (touches(v, 1, &h->x, h->diameter)) look_hole(d, id, h->x, h->y, h->diameter);
    }
    struct labels labels = {0};
    if (isfinite(plan->grain)) grain_sign(d, plan, v, &labels);
    edge_label(d, v, &labels, plan->n_fresh, plan->fresh, "fresh size (cut this)", !v->whole);
    edge_label(d, v, &labels, plan->n_dry, plan->dry,
               fresh ? "new and dry size"
                     : "new and dry size: nothing is known of the fresh size yet",
               false);
    for (size_t i = 0; i < plan->n_parts; i++) /* last, so that no line runs over a word */
        if (touches(v, plan->parts[i].n, plan->parts[i].xy, 1))
            part_label(d, v, &plan->parts[i], &labels);
    show_group_end(d);
}

/* ---- seams ---- */

/* Seams are numbered: those that part columns first, row by row, then those that part rows. */
static unsigned seam_number(const struct plan_tiling *t, bool parts_columns, size_t column,
                            size_t row) {
    if (parts_columns) return (unsigned)(row * (t->columns - 1) + column + 1);
    return (unsigned)(t->rows * (t->columns - 1) + row * t->columns + column + 1);
}

/* Draws one seam in sheet mm: the strip lies at (x, y), runs `length` along (upright or not). */
static void seam(struct show_drawing *d, const struct plan_tiling *t, double x, double y,
                 bool upright, unsigned number) {
    double length = upright ? t->window_height : t->window_width, across = t->overlap;
    double *nicks = MEM_NEW(double, 1000);
    if (!nicks) {
        show_drawing_fail(d, ERR_MEMORY, NULL, "No memory for a seam.");
        return;
    }
    char id[40];
    snprintf(id, sizeof id, "seam-%u", number);
    size_t n = plan_nicks(nicks, 1000, number, length);
    show_path_begin(d);
    for (size_t i = 0; i < n; i++) {
        show_move_to(d, upright ? x : x + nicks[i], upright ? y + nicks[i] : y);
        show_line_to(d, upright ? x + across : x + nicks[i], upright ? y + nicks[i] : y + across);
    }
    show_path_end(d, id, SHOW_LINE(SHOW_BARK, 0.2));
    mem_free(nicks);
    double mid = across / 2;
    show_segment(d, upright ? x + mid : x, upright ? y : y + mid, upright ? x + mid : x + length,
                 upright ? y + length : y + mid, SHOW_LINE(SHOW_BARK, 0.1));
}

static void neighbour(struct show_drawing *d, const struct plan_tiling *t, double x, double y,
                      enum show_anchor anchor, size_t column, size_t row) {
    char name[16], text[40];
    plan_tile_name(name, t, column, row);
    snprintf(text, sizeof text, "joins %s", name);
    struct show_type type = LOOK_SECOND;
    type.size = SHOW_PT(7);
    type.anchor = anchor;
    show_text(d, NULL, x, y, type, text);
}

static void seams(struct show_drawing *d, const struct plan_tiling *t, size_t c, size_t r) {
    double m = t->margin, w = t->sheet_width, h = t->sheet_height, o = t->overlap;
    if (c + 1 < t->columns) {
        seam(d, t, w - m - o, m, true, seam_number(t, true, c, r));
        neighbour(d, t, w - 1.5, h / 2, SHOW_END, c + 1, r);
    }
    if (c > 0) {
        seam(d, t, m, m, true, seam_number(t, true, c - 1, r));
        neighbour(d, t, 1.5, h * 0.72, SHOW_START, c - 1, r);
    }
    if (r + 1 < t->rows) {
        seam(d, t, m, h - m - o, false, seam_number(t, false, c, r));
        neighbour(d, t, w * 0.72, h - m + 1.5, SHOW_MIDDLE, c, r + 1);
    }
    if (r > 0) {
        seam(d, t, m, m, false, seam_number(t, false, c, r - 1));
        neighbour(d, t, w - m, 12.4, SHOW_END, c, r - 1);
    }
}

/* ---- one sheet ---- */

static void head_and_foot(struct show_drawing *d, const struct show_plan *plan,
                          const struct plan_tiling *t, const char *name, size_t page,
                          size_t pages) {
    double w = t->sheet_width, h = t->sheet_height, m = t->margin;
    char text[400];
    struct show_type type = LOOK_SECOND;
    snprintf(text, sizeof text, "%.80s. %.80s, %.80s%s%.60s%s", plan->object ? plan->object : "",
             plan->subject ? plan->subject : "", plan->state ? plan->state : "",
             plan->up ? ", " : "", plan->up ? plan->up : "",
             plan->draft ? ". Draft: the argument is not complete" : "");
    show_text(d, NULL, m, h - 9, type, text);
    struct show_type large = LOOK_NAME;
    large.anchor = SHOW_END;
    show_text(d, NULL, w - m, h - 10, large, name);
    type.size = SHOW_PT(7);
    type.anchor = SHOW_START;
    double left = m + 100 * t->factor_x + 6;
    if (t->factor_x == 1 && t->factor_y == 1)
        snprintf(text, sizeof text, "Print at 100 %%, true size.%s",
                 t->columns * t->rows > 1 ? " All nicks must meet." : "");
    else
        snprintf(text, sizeof text,
                 "Drawn %.4f and %.4f times as large: made up for in the printing.", t->factor_x,
                 t->factor_y);
    show_text(d, NULL, left, 9.7, type, text);
    /* beside the place to write what the bar measures (look_stick) */
    if (w - left > 75) show_text(d, NULL, left + 34, 6.9, type, "Not 100? Factor 100 / that:");
    if (w - left > 75) show_text(d, NULL, left + 34, 4.1, type, "relict tell ... --bar THAT");
    snprintf(text, sizeof text, "%.60s, %.10s, %.8s, page %zu of %zu", plan->file ? plan->file : "",
             plan->date ? plan->date : "", plan->hash ? plan->hash : "", page, pages);
    /* At the foot where the sheet is wide enough for it beside the stick, else under the head. */
    bool wide = w - left > 110;
    type.anchor = wide ? SHOW_END : SHOW_START;
    show_text(d, NULL, wide ? w - m : m, wide ? 6.9 : h - 12.8, type, text);
}

/* A small map of the tiles, this one filled. */
static void map(struct show_drawing *d, const struct plan_tiling *t, size_t column, size_t row) {
    if (t->columns * t->rows < 2) return;
    double cell = fmin(3, 30.0 / (double)(t->columns > t->rows ? t->columns : t->rows));
    double x = t->sheet_width - t->margin - 18 - cell * (double)t->columns;
    double y = t->sheet_height - 4 - fmin(cell, 9.0 / (double)t->rows) * (double)t->rows;
    double high = fmin(cell, 9.0 / (double)t->rows);
    for (size_t r = 0; r < t->rows; r++)
        for (size_t c = 0; c < t->columns; c++)
            show_rectangle(d, NULL, x + cell * (double)c, y + high * (double)r, cell, high,
                           (struct show_pen){SHOW_BARK, 0.15,
                                             c == column && r == row ? SHOW_INK : SHOW_NONE,
                                             false});
}

static struct show_drawing *sheet(const struct show_plan *plan, const struct plan_tiling *t,
                                  size_t c, size_t r, size_t page) {
    struct show_drawing *d = show_drawing_new(t->sheet_width, t->sheet_height);
    double m = t->margin;
    double x = t->x + (double)c * (t->window_width - t->overlap);
    double y = t->y + (double)r * (t->window_height - t->overlap);
    char name[16], title[200], alt[400];
    plan_tile_name(name, t, c, r);
    snprintf(title, sizeof title, "%.80s, plan at true size, sheet %s",
             plan->object ? plan->object : "Plan", name);
    snprintf(
        alt, sizeof alt,
        "Sheet %s of %zu by %zu of the plan at true size: outline, holes, slits and parts, with "
        "a 100 mm stick along and up; the outline is %s.",
        name, t->columns, t->rows,
        plan->footing >= 0 && plan->footing < FOOTING_COUNT ? footing_words[plan->footing]
                                                            : "of no stated footing");
    show_drawing_name(d, title, alt);
    show_group_begin(d, &(struct show_group){.id = "sheet", .role = SHOW_FIGURE, .outline = name});
    struct view v = {.box = {x / t->factor_x, y / t->factor_y, (x + t->window_width) / t->factor_x,
                             (y + t->window_height) / t->factor_y}};
    double o = t->overlap;
    memcpy(v.clear, v.box, sizeof v.clear);
    if (c > 0) v.clear[0] += o / t->factor_x;
    if (c + 1 < t->columns) v.clear[2] -= o / t->factor_x;
    if (r > 0) v.clear[1] += o / t->factor_y;
    if (r + 1 < t->rows) v.clear[3] -= o / t->factor_y;
    show_path_begin(d);
    show_ring(d, 4,
              (double[]){m, m, m + t->window_width, m, m + t->window_width, m + t->window_height, m,
                         m + t->window_height});
    show_window_begin(d);
    show_frame_push(d, m - x, m - y, 1, 0);
    show_stretch_push(d, t->factor_x, t->factor_y);
    figures(d, plan, &v);
    show_frame_pop(d);
    show_frame_pop(d);
    show_window_end(d);
    seams(d, t, c, r);
    look_stick(d, "stick-along", m, 6.5, false, t->factor_x, true);
    look_stick(d, "stick-up", m - 1.5, m + 3, true, t->factor_y, false);
    show_group_end(d);
    head_and_foot(d, plan, t, name, page, t->columns * t->rows);
    map(d, t, c, r);
    return d;
}

static int check_signs(struct show_drawing *d, struct show_shaper *shaper, struct arena *arena,
                       struct error *err) {
    char *missing = show_drawing_missing(shaper, d, arena);
    if (!missing) return fail_memory(err);
    if (!*missing) return 0;
    return fail(
        err, ERR_MISSING,
        "Install a font that has them (the Noto families cover most scripts), or change the "
        "text.",
        "No font on this machine can show: %.200s", missing);
}

int plan_pages(struct show_drawing ***out, size_t *n, const struct show_plan *plan,
               const struct plan_options *options, struct show_shaper *shaper, struct arena *arena,
               struct error *err) {
    *out = NULL;
    *n = 0;
    struct plan_tiling t;
    int code = plan_tile(&t, plan, options, err);
    if (code) return code;
    size_t count = t.columns * t.rows;
    struct show_drawing **pages = ARENA_NEW(arena, struct show_drawing *, count);
    if (!pages) return fail_memory(err);
    for (size_t r = t.rows; r-- > 0;) /* top row first, as one lays them out */
        for (size_t c = 0; c < t.columns && !code; c++) {
            struct show_drawing *d = pages[*n] = sheet(plan, &t, c, r, *n + 1);
            (*n)++;
            code = show_drawing_status(d, err);
            if (!code) code = check_signs(d, shaper, arena, err);
        }
    if (!code) {
        *out = pages;
        return 0;
    }
    for (size_t i = 0; i < *n; i++)
        show_drawing_free(pages[i]);
    *n = 0;
    return code;
}

int plan_svg(struct show_out *out, const struct show_plan *plan, struct error *err) {
    double box[4];
    plan_box(box, plan);
    if (!(box[2] > box[0] && box[3] > box[1]))
        return fail(err, ERR_MISSING, "Settle the outline or enter a part first.",
                    "There is nothing to draw on the plan.");
    double w = fmax(box[2] - box[0] + 20, 130), h = box[3] - box[1] + 36;
    struct show_drawing *d = show_drawing_new(w, h);
    char title[200];
    snprintf(title, sizeof title, "%.100s, plan at true size, %.60s",
             plan->object ? plan->object : "Plan", plan->state ? plan->state : "");
    show_drawing_name(d, title,
                      "The plan at true size in millimetres: outline, holes, slits and "
                      "parts, with a 100 mm stick.");
    show_frame_push(d, 10 - box[0], 26 - box[1], 1, 0);
    struct view v = {.box = {box[0], box[1], box[2], box[3]}, .whole = true};
    memcpy(v.clear, v.box, sizeof v.clear);
    figures(d, plan, &v);
    show_frame_pop(d);
    look_stick(d, "stick-along", 10, 6.5, false, 1, false);
    int code = show_svg_write(out, d, &(struct show_svg_options){.theme = SHOW_PRINT}, err);
    show_drawing_free(d);
    return code;
}
