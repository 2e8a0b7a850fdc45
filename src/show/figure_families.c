/* figure_families: rival outlines side by side. */
#include "show/figures.h"
#include "show/out.h"

#include <math.h>
#include <stdio.h>

enum { IN_A_ROW = 4 };
static const double gap = 5, words_under = 12, edge = 1; /* edge: room for half a line */

static void widen(double box[4], const struct look_ring *r) {
    for (size_t i = 0; i < r->n; i++) {
        box[0] = fmin(box[0], r->xy[2 * i]), box[2] = fmax(box[2], r->xy[2 * i]);
        box[1] = fmin(box[1], r->xy[2 * i + 1]), box[3] = fmax(box[3], r->xy[2 * i + 1]);
    }
}

static void box_of(double box[4], const struct figure_family *f) {
    box[0] = box[1] = INFINITY, box[2] = box[3] = -INFINITY;
    widen(box, &f->likely);
    for (size_t i = 0; i < f->n_others; i++)
        widen(box, &f->others[i]);
    if (!(box[2] > box[0])) box[0] = box[1] = -50, box[2] = box[3] = 50;
}

/* The name is the rival's; an excluded one is a thin line, struck where a reading excludes it. */
static void cell(struct show_drawing *d, const struct figure_family *f, double x, double y,
                 double scale) {
    show_frame_push(d, x, y, scale, 0);
    for (size_t i = 0; i < f->n_others; i++)
        show_polyline(d, NULL, f->others[i].n, f->others[i].xy, true, SHOW_LINE(SHOW_BARK, 0.1));
    if (f->excluded_by && isfinite(f->x) && isfinite(f->y))
        look_excluded(d, NULL, f->likely, true, f->x, f->y, "");
    else
        show_polyline(d, NULL, f->likely.n, f->likely.xy, true, SHOW_LINE(SHOW_INK, 0.35));
    show_frame_pop(d);
}

static void words(struct show_drawing *d, const struct figure_family *f, double x, double y) {
    show_text(d, NULL, x, y, LOOK_SECOND, f->name);
    if (f->fit) show_text(d, NULL, x, y - 4, LOOK_SECOND, f->fit);
    char text[96];
    snprintf(text, sizeof text, "against it: %s", f->excluded_by ? f->excluded_by : "");
    if (f->excluded_by) show_text(d, NULL, x, y - 8, LOOK_SECOND, text);
}

struct show_drawing *figure_families(const char *title, const char *alt,
                                     const struct figure_family *families, size_t n, double width) {
    if (!(width > 0)) width = 165;
    double wide = 1, high = 1;
    for (size_t i = 0; i < n; i++) {
        double b[4];
        box_of(b, &families[i]);
        wide = fmax(wide, b[2] - b[0]);
        high = fmax(high, b[3] - b[1]);
    }
    double each = (width - 2 * edge - gap * (IN_A_ROW - 1)) / IN_A_ROW, scale = each / wide,
           row = scale * high + words_under + gap, rows = (double)((n + IN_A_ROW - 1) / IN_A_ROW);
    struct show_drawing *d = show_drawing_new(width, edge + rows * row + 8);
    show_drawing_name(d, title, alt);
    for (size_t i = 0; i < n; i++) {
        double b[4], x = edge + (each + gap) * (double)(i % IN_A_ROW),
                     top = show_drawing_height(d) - edge - row * (double)(i / IN_A_ROW);
        box_of(b, &families[i]);
        cell(d, &families[i], x + each / 2 - scale * (b[0] + b[2]) / 2,
             top - scale * high / 2 - scale * (b[1] + b[3]) / 2, scale);
        words(d, &families[i], x, top - scale * high - 4);
    }
    double step = look_round_step(0, 40 / scale, 1);
    char text[64], number[40];
    show_segment(d, edge, 3, edge + step * scale, 3, SHOW_LINE(SHOW_INK, 0.35));
    for (int k = 0; k < 2; k++)
        show_segment(d, edge + k * step * scale, 3, edge + k * step * scale, 4.5,
                     SHOW_LINE(SHOW_INK, 0.35));
    snprintf(text, sizeof text, "%s mm", show_real(number, step, 0));
    show_text(d, NULL, edge + 2 + step * scale, 2.4, LOOK_SECOND, text);
    return d;
}
