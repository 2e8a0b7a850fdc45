/* figure_season: time runs down the page; months are nicks on a stick, jobs are upright laths, each
 * material in a lane of its own so that no name runs over another. */
#include "show/figures.h"

#include <math.h>
#include <stdint.h>
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

/* ---- lanes ---- */

enum { MOST_LANES = 12 };

struct lanes {
    const char *names[MOST_LANES];
    size_t n;
    double x, width; /* of the first; of each */
};

static size_t lane_of(struct lanes *l, const char *name) {
    for (size_t i = 0; i < l->n; i++)
        if (!strcmp(l->names[i], name ? name : "")) return i;
    if (l->n == MOST_LANES) return MOST_LANES - 1;
    l->names[l->n] = name ? name : "";
    return l->n++;
}

static double left_of(const struct lanes *l, size_t lane) {
    return l->x + l->width * (double)lane;
}

/* Breaks a text at spaces into lines of so many signs and draws them downwards from y (d may be
 * NULL); a word longer than a line stands by itself. Returns how many lines. */
static size_t words_down(struct show_drawing *d, double x, double y, size_t signs,
                         const char *text) {
    size_t lines = 0;
    while (text && *text) {
        while (*text == ' ')
            text++;
        size_t take = strcspn(text, " "), end = take;
        while (text[end] == ' ') {
            size_t next = end + 1 + strcspn(text + end + 1, " ");
            if (next > signs) break;
            end = next;
        }
        char line[80];
        snprintf(line, sizeof line, "%.*s", (int)(end < 79 ? end : 79), text);
        if (end) show_text(d, NULL, x, y - 3.4 * (double)lines, LOOK_LABEL, line);
        lines += end > 0;
        text += end;
    }
    return lines;
}

static size_t signs_in(double width) {
    double n = width / 1.5; /* mm a sign of second text takes, on the mean */
    return n < 4 ? 4 : (size_t)n;
}

static void window(struct show_drawing *d, const struct down *t, const struct figure_window *w,
                   double x, double width) {
    double y1 = at(t, w->to), y2 = at(t, w->from);
    /* Leaning strokes as a band of bark: the footing hatches are kept for footings. */
    show_path_begin(d);
    show_ring(d, 4, (double[]){x, y1, x + width, y1, x + width, y2, x, y2});
    show_window_begin(d);
    show_path_begin(d);
    for (double k = x - (y2 - y1); k < x + width; k += 2) {
        show_move_to(d, k, y1);
        show_line_to(d, k + (y2 - y1), y2);
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_BAST, 0.15));
    show_window_end(d);
    show_segment(d, x, y2, x + width, y2, SHOW_LINE(SHOW_BAST, 0.25));
    show_segment(d, x, y1, x + width, y1, SHOW_LINE(SHOW_BAST, 0.25));
}

/* The lath at its likely days; below it slack, whipped, down to the last day it may begin plus its
 * own length, but no further than `down_to`, where the next lath of the lane begins. */
static void lath(struct show_drawing *d, const struct down *t, const struct figure_job *j, double x,
                 double down_to) {
    double y2 = at(t, j->begin), y1 = at(t, fmax(j->end, j->begin + 1));
    double end = isfinite(j->latest) ? y1 - t->mm * fmax(0, j->latest - j->begin) : y1;
    end = fmax(end, down_to);
    if (y1 - end > 1) {
        show_path_begin(d);
        for (double y = y1; y > end; y -= 1) {
            show_move_to(d, x, y);
            show_line_to(d, x + 3, fmax(y - 1.7, end));
        }
        show_path_end(d, NULL, SHOW_LINE(SHOW_BARK, 0.15));
        show_segment(d, x, end, x + 3, end, SHOW_LINE(SHOW_BARK, 0.1));
    }
    show_rectangle(d, NULL, x, y1, 3, fmax(y2 - y1, 0.5),
                   (struct show_pen){SHOW_INK, 0.35, SHOW_LEAF, false});
}

/* The next job of the lane by its beginning, after those already `done`; SIZE_MAX: none. */
static size_t next_in(const struct figure_season *f, struct lanes *l, size_t lane,
                      const bool *done) {
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < f->n_jobs; i++)
        if (!done[i] && lane_of(l, f->jobs[i].lane) == lane &&
            (best == SIZE_MAX || f->jobs[i].begin < f->jobs[best].begin))
            best = i;
    return best;
}

enum { MOST_JOBS = 64 };

/* Laths first, then their names: each beside its lath, or below the name before it, tied to its
 * lath by a hairline. */
static void lane(struct show_drawing *d, const struct figure_season *f, const struct down *t,
                 struct lanes *l, size_t lane) {
    bool done[MOST_JOBS] = {false};
    size_t order[MOST_JOBS], n = 0;
    for (size_t i; (i = next_in(f, l, lane, done)) != SIZE_MAX; done[i] = true)
        order[n++] = i;
    double x = left_of(l, lane) + 1, name = x + 6.5, free_y = INFINITY;
    for (size_t k = 0; k < n; k++)
        lath(d, t, &f->jobs[order[k]], x,
             k + 1 < n ? at(t, f->jobs[order[k + 1]].begin) : -INFINITY);
    for (size_t k = 0; k < n; k++) {
        const struct figure_job *j = &f->jobs[order[k]];
        double middle = (at(t, j->begin) + at(t, fmax(j->end, j->begin + 1))) / 2;
        size_t signs = signs_in(l->width - 8);
        double y = fmin(middle - 1, free_y);
        show_segment(d, x + 3, middle, name - 0.8, y + 1, SHOW_LINE(SHOW_BARK, 0.15));
        free_y = y - 3.4 * (double)words_down(d, name, y, signs, j->name) - 0.8;
    }
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

struct show_drawing *figure_season(const struct figure_season *given) {
    struct figure_season f = *given;
    if (f.n_jobs > MOST_JOBS) f.n_jobs = MOST_JOBS;
    double first, last, width = f.width > 0 ? f.width : 165;
    span(&first, &last, &f);
    struct lanes l = {.x = 34};
    for (size_t i = 0; i < f.n_jobs; i++)
        lane_of(&l, f.jobs[i].lane);
    for (size_t i = 0; i < f.n_windows; i++)
        lane_of(&l, f.windows[i].lane);
    l.width = (width - 2 - l.x) / (double)(l.n ? l.n : 1);
    size_t head = 1, signs = signs_in(l.width - 3);
    for (size_t i = 0; i < l.n; i++) {
        size_t lines = words_down(NULL, 0, 0, signs, l.names[i]);
        head = lines > head ? lines : head;
    }
    double top = 3.4 * (double)head + 5;
    double mm = fmax(0.12, fmin(0.5, 195 / (last - first)));
    double height = mm * (last - first) + 4 + top;
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, f.title, f.words);
    struct down t = {height - top, mm, first};
    for (size_t i = 0; i < f.n_windows; i++)
        window(d, &t, &f.windows[i], left_of(&l, lane_of(&l, f.windows[i].lane)) - 0.5,
               l.width - 1.5);
    months(d, &t, last, l.x - 6);
    for (size_t i = 0; i < l.n; i++) {
        words_down(d, left_of(&l, i) + 1, height - 4, signs, l.names[i]);
        lane(d, &f, &t, &l, i);
    }
    if (isfinite(f.opening)) {
        show_rectangle(d, NULL, l.x - 6, at(&t, f.opening) - 0.6, width - 2 - l.x + 6, 1.2,
                       SHOW_FILL(SHOW_INK));
        struct show_type type = LOOK_LABEL;
        type.anchor = SHOW_END;
        show_text(d, NULL, width - 2, at(&t, f.opening) + 1.5, type, "opening");
    }
    return d;
}
