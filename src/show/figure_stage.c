/* figure_stage: what shape the sheet has at each stage, cut across and along, all at one scale. */
#include "show/figures.h"
#include "show/out.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { CUTS = 3, NAME_SIGNS = 48 }; /* of a line of a stage's name */
static const double name_width = 72, text_line = 3.6;

static void widen(double box[4], size_t n, const double *xy) {
    for (size_t i = 0; xy && i < n; i++) {
        box[0] = fmin(box[0], xy[2 * i]), box[2] = fmax(box[2], xy[2 * i]);
        box[1] = fmin(box[1], xy[2 * i + 1]), box[3] = fmax(box[3], xy[2 * i + 1]);
    }
}

/* Breaks a name at spaces; draws it when d is not NULL. Returns how many lines. */
static size_t lines_of(struct show_drawing *d, double x, double y, const char *text) {
    size_t lines = 0;
    while (text && *text) {
        while (*text == ' ')
            text++;
        size_t n = strcspn(text, "\n"), take = n; /* a line of its own ends there */
        if (n > NAME_SIGNS) {
            take = NAME_SIGNS;
            while (take && text[take] != ' ')
                take--;
            if (!take) take = n;
        }
        char line[200];
        snprintf(line, sizeof line, "%.*s", (int)(take < 180 ? take : 180), text);
        if (take) show_text(d, NULL, x, y - text_line * (double)lines, LOOK_SECOND, line);
        lines += take > 0;
        text += take + (text[take] == '\n');
    }
    return lines;
}

struct measures {
    double scale, gap, span[CUTS], low[CUTS]; /* mm of the thing each cut, and where they begin */
};

static double row_height(const struct figure_stage *s, const struct measures *m) {
    double box[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    for (int k = 0; k < CUTS; k++)
        widen(box, s->n[k], s->cut[k]);
    double rise = box[3] > box[1] ? (box[3] - box[1]) * m->scale : 0;
    size_t lines = lines_of(NULL, 0, 0, s->name) + lines_of(NULL, 0, 0, s->number);
    return fmax(rise + 4, text_line * (double)lines + 2.5);
}

static void row(struct show_drawing *d, const struct figure_stage *s, const struct measures *m,
                double top, double height) {
    size_t lines = lines_of(d, 1, top - 4, s->name);
    lines_of(d, 1, top - 4 - text_line * (double)lines, s->number);
    double x = name_width, box[4] = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    for (int k = 0; k < CUTS; k++)
        widen(box, s->n[k], s->cut[k]);
    double middle = top - height / 2 - m->scale * (box[1] + box[3]) / 2;
    for (int k = 0; k < CUTS; k++) {
        if (s->n[k] > 1) {
            show_frame_push(d, x - m->scale * m->low[k], middle, m->scale, 0);
            show_polyline(d, NULL, s->n[k], s->cut[k], false, SHOW_LINE(SHOW_INK, 0.5));
            show_frame_pop(d);
        }
        x += m->scale * m->span[k] + m->gap;
    }
}

struct show_drawing *figure_stages(const struct figure_stages *f) {
    double width = f->width > 0 ? f->width : 165, height = 14;
    double box[CUTS][4];
    for (int k = 0; k < CUTS; k++)
        box[k][0] = box[k][1] = INFINITY, box[k][2] = box[k][3] = -INFINITY;
    for (size_t i = 0; i < f->n; i++)
        for (int k = 0; k < CUTS; k++)
            widen(box[k], f->stages[i].n[k], f->stages[i].cut[k]);
    struct measures m = {.gap = 4};
    for (int k = 0; k < CUTS; k++) {
        bool known = box[k][2] > box[k][0];
        m.low[k] = known ? box[k][0] : 0;
        m.span[k] = known ? box[k][2] - box[k][0] : 100;
    }
    m.scale = (width - name_width - m.gap * (CUTS - 1) - 2) / (m.span[0] + m.span[1] + m.span[2]);
    for (size_t i = 0; i < f->n; i++)
        height += row_height(&f->stages[i], &m);
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, f->title, f->words);
    double y = height - 5, x = name_width;
    static const char *const heads[] = {"across", "along", "corner to corner"};
    for (int k = 0; k < CUTS; k++) {
        show_text(d, NULL, x, height - 3.4, LOOK_SECOND, heads[k]);
        x += m.scale * m.span[k] + m.gap;
    }
    for (size_t i = 0; i < f->n; i++) {
        double h = row_height(&f->stages[i], &m);
        show_segment(d, 0, y, width, y, SHOW_LINE(SHOW_BAST, 0.15));
        row(d, &f->stages[i], &m, y, h);
        y -= h;
    }
    double step = look_round_step(0, 30 / m.scale, 1);
    char text[64], number[40];
    show_segment(d, name_width, 3, name_width + step * m.scale, 3, SHOW_LINE(SHOW_INK, 0.35));
    for (int k = 0; k < 2; k++)
        show_segment(d, name_width + k * step * m.scale, 3, name_width + k * step * m.scale, 4.5,
                     SHOW_LINE(SHOW_INK, 0.35));
    snprintf(text, sizeof text, "%s mm, height and width at one scale", show_real(number, step, 0));
    show_text(d, NULL, name_width + step * m.scale + 2, 2.4, LOOK_SECOND, text);
    return d;
}
