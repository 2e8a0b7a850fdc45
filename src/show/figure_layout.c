/* figure_layout: parts laid out on the sheets that stems give. */
#include "show/figures.h"
#include "show/out.h"

#include <math.h>
#include <stdio.h>

/* Words do not fit into what is lower than this, mm: they stand below it. */
static const double low = 5;

static void widen(double box[4], const struct look_ring *r) {
    for (size_t i = 0; i < r->n; i++) {
        box[0] = fmin(box[0], r->xy[2 * i]), box[2] = fmax(box[2], r->xy[2 * i]);
        box[1] = fmin(box[1], r->xy[2 * i + 1]), box[3] = fmax(box[3], r->xy[2 * i + 1]);
    }
}

static void box_of(double box[4], const struct figure_laid *s) {
    box[0] = box[1] = INFINITY, box[2] = box[3] = -INFINITY;
    widen(box, &s->sheet);
    for (size_t i = 0; i < s->n_parts; i++)
        widen(box, &s->parts[i]);
    if (!(box[2] > box[0])) box[0] = box[1] = 0, box[2] = 100, box[3] = 10;
}

/* A fault is struck through: nothing may lie there. */
static void fault(struct show_drawing *d, const struct look_ring *r) {
    double b[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    widen(b, r);
    show_polyline(d, NULL, r->n, r->xy, true, SHOW_LINE(SHOW_INK, 0.15));
    show_segment(d, b[0], b[1], b[2], b[3], SHOW_LINE(SHOW_INK, 0.15));
    show_segment(d, b[0], b[3], b[2], b[1], SHOW_LINE(SHOW_INK, 0.15));
}

struct show_drawing *figure_layout(const char *title, const char *words,
                                   const struct figure_laid *sheets, size_t n, double width) {
    if (!(width > 0)) width = 165;
    double widest = 100, height = 10;
    for (size_t i = 0; i < n; i++) {
        double b[4];
        box_of(b, &sheets[i]);
        widest = fmax(widest, b[2] - b[0]);
    }
    double scale = (width - 8) / widest;
    for (size_t i = 0; i < n; i++) {
        double b[4];
        box_of(b, &sheets[i]);
        height += scale * (b[3] - b[1]) + (scale * (b[3] - b[1]) < low ? 13 : 9);
    }
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, title, words);
    double y = height;
    for (size_t i = 0; i < n; i++) {
        const struct figure_laid *s = &sheets[i];
        double b[4];
        box_of(b, s);
        show_text(d, NULL, 4, y - 4, LOOK_SECOND, s->name);
        y -= 6 + scale * (b[3] - b[1]);
        show_frame_push(d, 4 - scale * b[0], y - scale * b[1], scale, 0);
        show_polyline(d, NULL, s->sheet.n, s->sheet.xy, true,
                      (struct show_pen){SHOW_INK, 0.35, SHOW_BIRCH, false});
        for (size_t k = 0; k < s->n_parts; k++) {
            double p[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
            widen(p, &s->parts[k]);
            show_polyline(d, NULL, s->parts[k].n, s->parts[k].xy, true,
                          (struct show_pen){SHOW_INK, 0.5, SHOW_LEAF, false});
            struct show_type type = LOOK_LABEL;
            type.anchor = SHOW_MIDDLE;
            bool below = scale * (b[3] - b[1]) < low;
            show_text(d, NULL, (p[0] + p[2]) / 2,
                      below ? b[1] - 3.5 / scale : (p[1] + p[3]) / 2 - 1 / scale, type,
                      s->part_names[k]);
        }
        for (size_t k = 0; k < s->n_faults; k++)
            fault(d, &s->faults[k]);
        show_frame_pop(d);
        y -= scale * (b[3] - b[1]) < low ? 7 : 3;
    }
    double step = look_round_step(0, 40 / scale, 1);
    char text[64], number[40];
    show_segment(d, 4, 3, 4 + step * scale, 3, SHOW_LINE(SHOW_INK, 0.35));
    for (int k = 0; k < 2; k++)
        show_segment(d, 4 + k * step * scale, 3, 4 + k * step * scale, 4.5,
                     SHOW_LINE(SHOW_INK, 0.35));
    snprintf(text, sizeof text, "%s mm", show_real(number, step, 0));
    show_text(d, NULL, 6 + step * scale, 2.4, LOOK_SECOND, text);
    return d;
}
