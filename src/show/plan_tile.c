/* plan_tile: how a plan falls onto sheets, what a seam's nicks spell, what a measured bar means. */
#include "show/plan.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

int plan_factor(double *out, double measured, double over, struct error *err) {
    *out = 1;
    if (!(measured > 0) || !isfinite(measured))
        return fail(err, ERR_RANGE, "Measure the 100 mm stick on the printed sheet and enter it.",
                    "A stick cannot measure %g mm.", measured);
    /* 0.1 mm is what the plan itself promises (story 3), and about what a steel rule reads. */
    if (fabs(measured - 100) <= 0.1) return 0;
    double off = (measured - 100) / 100 * over;
    if (fabs(measured - 100) > 5)
        return fail(
            err, ERR_REFUSED,
            "Print again at 100 % (true size, no fitting to the page) and measure the "
            "stick again.",
            "The 100 mm stick measures %g mm: over %g mm the plan would be %.1f mm %s. That "
            "is another printing size, not a printer's error.",
            measured, over, fabs(off), off < 0 ? "short" : "long");
    *out = 100 / measured;
    return 0;
}

static void take(double box[4], size_t n, const double *xy, double pad) {
    for (size_t i = 0; i < n; i++) {
        box[0] = fmin(box[0], xy[2 * i] - pad);
        box[1] = fmin(box[1], xy[2 * i + 1] - pad);
        box[2] = fmax(box[2], xy[2 * i] + pad);
        box[3] = fmax(box[3], xy[2 * i + 1] + pad);
    }
}

void plan_box(double box[4], const struct show_plan *plan) {
    box[0] = box[1] = INFINITY;
    box[2] = box[3] = -INFINITY;
    take(box, plan->n_fresh, plan->fresh, 0);
    take(box, plan->n_dry, plan->dry, 0);
    for (size_t i = 0; i < plan->n_parts; i++) {
        const struct plan_part *p = &plan->parts[i];
        take(box, p->n, p->xy, isfinite(p->width) ? p->width / 2 : 0);
    }
    for (size_t i = 0; i < plan->n_holes; i++) {
        const struct plan_hole *h = &plan->holes[i];
        take(box, 1, (double[]){h->x, h->y}, h->diameter / 2);
    }
    for (size_t i = 0; i < plan->n_slits; i++)
        take(box, 2, &plan->slits[i].x1, 0);
}

static void paper_size(double *w, double *h, enum plan_paper paper) {
    static const double sizes[][2] = {{210, 297}, {297, 420}, {215.9, 279.4}}; /* ISO 216; ANSI A */
    *w = sizes[paper][0];
    *h = sizes[paper][1];
}

/* Sheets needed for `length` when each shows `window` and shares `overlap` with its neighbour. */
static size_t sheets(double length, double window, double overlap) {
    if (length <= window) return 1;
    return 1 + (size_t)ceil((length - window) / (window - overlap) - 1e-9);
}

static const double clear = 3; /* mm kept round what is drawn, so that no edge lies on a border */

/* The longest side a PDF page may have: 14,400 units (ISO 32000-1, annex C), in mm. */
static const double longest_page = 5080;

static int tile_roll(struct plan_tiling *t, double w, double h, double roll, struct error *err) {
    double need_w = w + 2 * (t->margin + clear), need_h = h + 2 * (t->margin + clear);
    double least = fmin(need_w, need_h);
    if (!(roll >= least))
        return fail(err, ERR_REFUSED,
                    "Take a wider roll, or print tiles on A3 or A4 and join them by their nicks.",
                    "The plan needs a roll at least %.0f mm wide; this one is %.0f mm.",
                    ceil(least), roll);
    bool across = need_w <= roll && (need_h > roll || need_w >= need_h);
    t->sheet_width = across ? roll : fmax(need_w, 180);
    t->sheet_height = across ? fmax(need_h, 180) : roll;
    if (fmax(t->sheet_width, t->sheet_height) > longest_page)
        return fail(err, ERR_REFUSED, "Print tiles on A3 or A4 and join them by their nicks.",
                    "The plan is %.0f mm long; one page can be at most %.0f mm.", fmax(w, h),
                    longest_page);
    return 0;
}

static void tile_sheets(struct plan_tiling *t, double w, double h, enum plan_paper paper) {
    double a, b;
    paper_size(&a, &b, paper);
    size_t best = SIZE_MAX;
    for (int turned = 0; turned < 2; turned++) {
        double sw = turned ? b : a, sh = turned ? a : b;
        size_t n = sheets(w + 2 * clear, sw - 2 * t->margin, t->overlap) *
                   sheets(h + 2 * clear, sh - 2 * t->margin, t->overlap);
        if (n >= best) continue;
        best = n;
        t->sheet_width = sw;
        t->sheet_height = sh;
    }
}

int plan_tile(struct plan_tiling *t, const struct show_plan *plan, const struct plan_options *o,
              struct error *err) {
    *t = (struct plan_tiling){.margin = o->margin > 0 ? o->margin : 15,
                              .overlap = o->overlap > 0 ? o->overlap : 10};
    double box[4];
    plan_box(box, plan);
    if (!(box[2] > box[0] && box[3] > box[1]))
        return fail(err, ERR_MISSING, "Settle the outline or enter a part first.",
                    "There is nothing to draw on the plan.");
    double over = fmax(box[2] - box[0], box[3] - box[1]);
    int code = plan_factor(&t->factor_x, o->measured_x > 0 ? o->measured_x : 100, over, err);
    if (!code) code = plan_factor(&t->factor_y, o->measured_y > 0 ? o->measured_y : 100, over, err);
    if (code) return code;
    if (t->margin < 13 || t->margin > 40 || t->overlap < 4 || t->overlap > 40)
        return fail(err, ERR_RANGE, "Keep the margin at 13 to 40 mm and the overlap at 4 to 40 mm.",
                    "Margin %g mm, overlap %g mm: one is out of range.", t->margin, t->overlap);
    double w = (box[2] - box[0]) * t->factor_x, h = (box[3] - box[1]) * t->factor_y;
    if (o->paper == PLAN_ROLL)
        code = tile_roll(t, w, h, o->roll_width, err);
    else
        tile_sheets(t, w, h, o->paper);
    if (code) return code;
    t->window_width = t->sheet_width - 2 * t->margin;
    t->window_height = t->sheet_height - 2 * t->margin;
    t->columns = sheets(w + 2 * clear, t->window_width, t->overlap);
    t->rows = sheets(h + 2 * clear, t->window_height, t->overlap);
    if (t->columns * t->rows > 999)
        return fail(err, ERR_REFUSED, "Use larger paper or a roll.",
                    "The plan would need %zu sheets.", t->columns * t->rows);
    /* What is left over is shared out equally at both ends. */
    double span_x = t->columns * (t->window_width - t->overlap) + t->overlap;
    double span_y = t->rows * (t->window_height - t->overlap) + t->overlap;
    t->x = (box[0] + box[2]) / 2 * t->factor_x - span_x / 2;
    t->y = (box[1] + box[3]) / 2 * t->factor_y - span_y / 2;
    return 0;
}

void plan_tile_name(char name[16], const struct plan_tiling *t, size_t column, size_t row) {
    size_t from_top = t->rows - 1 - row;
    if (from_top < 26)
        snprintf(name, 16, "%c%zu", (char)('A' + from_top), column + 1);
    else
        snprintf(name, 16, "%c%c%zu", (char)('A' + from_top / 26 - 1), (char)('A' + from_top % 26),
                 column + 1);
}

size_t plan_nicks(double *out, size_t room, unsigned seam, double upto) {
    const double place = 5, twin = 1.6;
    size_t n = 0;
    for (int i = 0; (i + 1) * place <= upto; i++) {
        int k = i % 11; /* a beginning and ten places, least first */
        int nicks = k == 0 ? 3 : seam >> (k - 1) & 1 ? 2 : 1;
        for (int j = 0; j < nicks && n < room; j++)
            out[n++] = (i + 0.5) * place + (j - (nicks - 1) / 2.0) * twin;
    }
    return n;
}
