/* figure_numbers: spreads about their likely values, and rods cut into shares (LOOK.md, Pictures of
 * numbers). */
#include "show/figures.h"
#include "show/out.h"

#include <math.h>
#include <stdio.h>

/* How far the row reaches from its likely value, as a share of it. */
static double reach(const struct spread *s) {
    double middle = fabs(s->p50);
    if (!(middle > 0) || !isfinite(s->p05) || !isfinite(s->p95)) return 0;
    return fmax(s->p95 - s->p50, s->p50 - s->p05) / middle;
}

struct show_drawing *figure_spreads(const char *title, const struct figure_spread *rows, size_t n,
                                    double width) {
    enum { NAME = 54, NUMBER = 46 };
    const double row = 7.5;
    if (!(width > 0)) width = 165;
    double far = 0.1;
    for (size_t i = 0; i < n; i++)
        far = fmax(far, reach(rows[i].value));
    far = fmin(0.5, ceil(far * 10) / 10);
    double height = row * (double)n + 16, x = NAME + NUMBER, w = width - x - 6;
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(
        d, title,
        "Each row is cut into twenty slivers that hold five in a hundred each, the "
        "middle ten the taller, and lies about its own likely value: the wider a row, "
        "the less that size is known.");
    show_segment(d, x + w / 2, 9, x + w / 2, height - 1, SHOW_LINE(SHOW_BAST, 0.25));
    for (size_t i = 0; i < n; i++) {
        double y = height - row * (double)(i + 1);
        const struct spread *s = rows[i].value;
        show_text(d, NULL, 1, y + 1, LOOK_SECOND, rows[i].name);
        if (rows[i].number) show_text(d, NULL, NAME, y + 1, LOOK_SECOND, rows[i].number);
        double a = s->p50 - far * fabs(s->p50), b = s->p50 + far * fabs(s->p50);
        if (b > a) look_slivers(d, x, y, w, a, b, s, 5.1);
    }
    look_ticks(d, x, 8, w, -100 * far, 100 * far, "");
    struct show_type type = LOOK_SECOND;
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, x + w / 2, 0.4, type, "percent of the likely size");
    return d;
}

struct show_drawing *figure_shares(const char *title, const struct figure_rod *rods, size_t n,
                                   double width) {
    enum { NAME = 56 }; /* room for the last name beyond the rod */
    if (!(width > 0)) width = 165;
    /* drawn once on a sheet that is thrown away, to see how deep the names reach */
    struct show_drawing *trial = show_drawing_new(width, 40);
    double height = 2;
    for (size_t i = 0; i < n; i++)
        height += 17 + look_shares(trial, NULL, 1, 20, width - NAME, rods[i].shares, rods[i].n);
    show_drawing_free(trial);
    struct show_drawing *d = show_drawing_new(width, height);
    show_drawing_name(d, title,
                      "Each rod stands for the spread of one result and is cut into lengths: each "
                      "length is the share that one input decides by itself.");
    double y = height - 2;
    for (size_t i = 0; i < n; i++) {
        char id[40];
        snprintf(id, sizeof id, "shares-%zu", i + 1);
        show_text(d, NULL, 1, y - 3.4, LOOK_LABEL, rods[i].name);
        y -= 12;
        y -= 5 + look_shares(d, id, 1, y, width - NAME, rods[i].shares, rods[i].n);
    }
    return d;
}
