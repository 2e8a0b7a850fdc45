/* figure_season: time runs down the page; months are nicks on a stick, jobs are upright laths. */
#include "show/figures.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Civil date of a day number since 1970-01-01: Fliegel
 * & Van Flandern, Comm. ACM 11, 1968, 657. */
static void civil(long day, long *year, long *month, long *of_month) {
    long l = day + 2440588 + 68569, n = 4 * l / 146097;
    l -= (146097 * n + 3) / 4;
    long i = 4000 * (l + 1) / 1461001;
    l = l - 1461 * i / 4 + 31;
    long j = 80 * l / 2447;
    *of_month = l - 2447 * j / 80;
    l = j / 11;
    *month = j + 2 - 12 * l;
    *year = 100 * (n - 49) + i + l;
}

struct down {
    double top, mm, first; /* paper y of the first day, mm a day, the first day */
};

static double at(const struct down *t, double day) {
    return t->top - t->mm * (day - t->first);
}

static void months(struct show_drawing *d, const struct down *t, double last, double x) {
    static const char *const names[] = {"January",   "February", "March",    "April",
                                        "May",       "June",     "July",     "August",
                                        "September", "October",  "November", "December"};
    show_rectangle(d, NULL, x, at(t, last), 4, at(t, t->first) - at(t, last),
                   (struct show_pen){SHOW_BARK, 0.25, SHOW_BIRCH, false});
    for (long day = (long)t->first; day <= (long)last; day++) {
        long y, m, k;
        civil(day, &y, &m, &k);
        if (k != 1 && day != (long)t->first) continue;
        double py = at(t, day);
        if (k == 1) show_rectangle(d, NULL, x, py - 0.4, 4, 0.8, SHOW_FILL(SHOW_INK));
        if (t->mm * 30 < 3.5 && m % 3 != 1) continue;
        char text[40];
        if (m == 1 || day == (long)t->first)
            snprintf(text, sizeof text, "%s %ld", names[m - 1], y);
        else
            snprintf(text, sizeof text, "%s", names[m - 1]);
        struct show_type type = LOOK_SECOND;
        type.anchor = SHOW_END;
        if (k == 1 || k < 24) show_text(d, NULL, x - 1.5, py - 2.6, type, text);
    }
}

static void window(struct show_drawing *d, const struct down *t, const struct figure_window *w,
                   double x, double width, size_t index) {
    double y1 = at(t, w->to), y2 = at(t, w->from);
    /* Leaning strokes as a band of bark: the footing hatches are kept for footings. */
    show_path_begin(d);
    show_ring(d, 4, (double[]){x, y1, x + width, y1, x + width, y2, x, y2});
    show_window_begin(d);
    show_path_begin(d);
    for (double k = x - (y2 - y1); k < x + width; k += 3) {
        show_move_to(d, k, y1);
        show_line_to(d, k + (y2 - y1), y2);
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_BAST, 0.15));
    show_window_end(d);
    show_segment(d, x, y2, x + width, y2, SHOW_LINE(SHOW_BAST, 0.25));
    show_segment(d, x, y1, x + width, y1, SHOW_LINE(SHOW_BAST, 0.25));
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_END;
    show_text(d, NULL, x + width - 1, y2 - 4 - 4.5 * (double)index, type, w->name);
}

/* The lath at its likely days; below it slack, whipped, down to the last day it may begin plus its
 * own length. */
static void job(struct show_drawing *d, const struct down *t, const struct figure_job *j,
                double x) {
    double y2 = at(t, j->begin), y1 = at(t, fmax(j->end, j->begin + 1));
    double slack = isfinite(j->latest) ? t->mm * fmax(0, j->latest - j->begin) : 0;
    if (slack > 1) {
        show_path_begin(d);
        for (double y = y1; y > y1 - slack; y -= 1) {
            show_move_to(d, x, y);
            show_line_to(d, x + 3, fmax(y - 1.7, y1 - slack));
        }
        show_path_end(d, NULL, SHOW_LINE(SHOW_BARK, 0.15));
        show_segment(d, x, y1 - slack, x + 3, y1 - slack, SHOW_LINE(SHOW_BARK, 0.1));
    }
    show_rectangle(d, NULL, x, y1, 3, y2 - y1, (struct show_pen){SHOW_INK, 0.35, SHOW_LEAF, false});
    show_text(d, NULL, x + 4, (y1 + y2) / 2 - 1, LOOK_LABEL, j->name);
}

static void span(double *first, double *last, const struct figure_season *f) {
    *first = INFINITY, *last = -INFINITY;
    for (size_t i = 0; i < f->n_jobs; i++) {
        const struct figure_job *j = &f->jobs[i];
        *first = fmin(*first, j->begin);
        *last =
            fmax(*last, fmax(j->end, isfinite(j->latest) ? j->latest + j->end - j->begin : j->end));
    }
    for (size_t i = 0; i < f->n_windows; i++) {
        *first = fmin(*first, f->windows[i].from);
        *last = fmax(*last, f->windows[i].to);
    }
    if (isfinite(f->opening)) *last = fmax(*last, f->opening + 5);
    if (!isfinite(*first) || !isfinite(*last)) *first = 0, *last = 365;
    *first = floor(*first - 5), *last = ceil(*last + 5);
}

struct show_drawing *figure_season(const struct figure_season *f) {
    double first, last, width = f->width > 0 ? f->width : 165;
    span(&first, &last, f);
    double mm = fmax(0.12, fmin(0.5, 210 / (last - first))), height = mm * (last - first) + 16;
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, f->title, f->words);
    struct down t = {height - 8, mm, first};
    double x = 32, right = width - 2;
    for (size_t i = 0; i < f->n_windows; i++)
        window(d, &t, &f->windows[i], x + 6, right - x - 6, i);
    months(d, &t, last, x);
    size_t lanes = f->n_jobs < 6 ? (f->n_jobs ? f->n_jobs : 1) : 6;
    double lane = (right - x - 42) / (double)lanes;
    for (size_t i = 0; i < f->n_jobs; i++)
        job(d, &t, &f->jobs[i], x + 10 + lane * (double)(i % lanes));
    if (isfinite(f->opening)) {
        show_rectangle(d, NULL, x, at(&t, f->opening) - 0.6, right - x, 1.2, SHOW_FILL(SHOW_INK));
        struct show_type type = LOOK_LABEL;
        type.anchor = SHOW_END;
        show_text(d, NULL, right, at(&t, f->opening) + 1.5, type, "opening");
    }
    return d;
}
