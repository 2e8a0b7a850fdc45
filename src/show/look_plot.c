/* look_plot: the tally, pictures of numbers and the key (LOOK.md, The tally, Pictures of numbers).
 */
#include "show/look.h"

#include "show/out.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const look_step_words[] = {"not begun", "can start", "holds", "in doubt"};
const char *const look_steps[] = {
    "Found",  "Sizes",  "Outline", "Curve", "Making", "Shape and strength", "Material and season",
    "Trials", "Report", NULL};

/* 1 px of LOOK.md is 0.25 mm on paper. The stick is 8 mm wide, split down its middle. */
static void notch(struct show_drawing *d, double x, double y, enum look_step state) {
    const double half = 4, cut = 2.5, drop = 3;
    struct show_pen ink = SHOW_FILL(SHOW_INK);
    if (state == LOOK_NOT_BEGUN)
        show_rectangle(d, NULL, x, y - 0.4, 2, 0.8, ink);
    else
        show_rectangle(d, NULL, x, y - cut / 2, half, cut, ink);
    if (state == LOOK_HOLDS) show_rectangle(d, NULL, x + half, y - cut / 2, half, cut, ink);
    if (state == LOOK_IN_DOUBT)
        show_rectangle(d, NULL, x + half, y - cut / 2 - drop, half, cut, ink);
}

static void pegs(struct show_drawing *d, double x, double y, int open) {
    char text[16];
    if (open > 5) {
        snprintf(text, sizeof text, "%d open", open);
        show_text(d, NULL, x, y - 1, LOOK_SECOND, text);
        return;
    }
    for (int i = 0; i < open; i++)
        show_rectangle(d, NULL, x + 1.5 * i, y - 1.5, 0.75, 3, SHOW_FILL(SHOW_INK));
}

void look_tally(struct show_drawing *d, double x, double y, double pitch,
                const enum look_step states[9], const int open[9], int here, bool words) {
    double height = 9 * pitch;
    show_rectangle(d, NULL, x, y - height, 8, height,
                   (struct show_pen){SHOW_BARK, 0.25, SHOW_BIRCH, false});
    show_segment(d, x + 4, y, x + 4, y - height, SHOW_LINE(SHOW_BARK, 0.25));
    for (int i = 0; i < 9; i++) {
        double at = y - (i + 0.5) * pitch;
        notch(d, x, at, states[i]);
        if (i == here)
            show_rectangle(d, NULL, x - 1.2, at - pitch * 0.4, 0.75, pitch * 0.8,
                           SHOW_FILL(SHOW_INK));
        if (!words) continue;
        char text[96];
        snprintf(text, sizeof text, "%s, %s", look_steps[i], look_step_words[states[i]]);
        show_text(d, NULL, x + 10, at - 1, LOOK_SECOND, text);
        if (open) pegs(d, x + 62, at, open[i]);
    }
}

double look_round_step(double from, double to, int count) {
    double raw = fabs(to - from) / (count > 0 ? count : 1);
    if (!(raw > 0)) return 1;
    double power = pow(10, floor(log10(raw))), m = raw / power;
    return power * (m < 1.5 ? 1 : m < 3.5 ? 2 : m < 7.5 ? 5 : 10);
}

static int places_of(double step) {
    int p = (int)ceil(-log10(step) - 1e-9);
    return p < 0 ? 0 : p > 6 ? 6 : p;
}

void look_ticks(struct show_drawing *d, double x, double y, double width, double from, double to,
                const char *unit) {
    double step = look_round_step(from, to, (int)(width / 20) + 1);
    struct show_type type = LOOK_SECOND;
    type.anchor = SHOW_MIDDLE;
    double last = floor(to / step + 1e-9) * step;
    for (double v = ceil(from / step - 1e-9) * step; v <= last + step * 1e-6; v += step) {
        double at = x + width * (v - from) / (to - from);
        char number[40], text[64];
        show_segment(d, at, y, at, y - 1.2, SHOW_LINE(SHOW_BARK, 0.25));
        show_real(number, v, places_of(step));
        bool end = v > last - step / 2 && unit && *unit;
        snprintf(text, sizeof text, "%s%s%.16s", number, end ? " " : "", end ? unit : "");
        show_text(d, NULL, at, y - 4.4, type, text);
    }
}

/* The value below which `p` of the weight lies, by straight lines between the known quantiles. */
static double quantile(const struct spread *s, double p) {
    const double ps[] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    const double vs[] = {s->p005, s->p05, s->p25, s->p50, s->p75, s->p95, s->p995};
    for (int i = 1; i < 7; i++)
        if (p <= ps[i])
            return vs[i - 1] + (vs[i] - vs[i - 1]) * (p - ps[i - 1]) / (ps[i] - ps[i - 1]);
    return vs[6];
}

void look_slivers(struct show_drawing *d, double x, double y, double width, double from, double to,
                  const struct spread *value, double high) {
    if (!isfinite(value->p50) || !isfinite(value->p05) || !isfinite(value->p95)) return;
    struct spread v = *value;
    if (!isfinite(v.p005)) v.p005 = v.p05;
    if (!isfinite(v.p995)) v.p995 = v.p95;
    if (!isfinite(v.p25)) v.p25 = (v.p05 + v.p50) / 2;
    if (!isfinite(v.p75)) v.p75 = (v.p95 + v.p50) / 2;
    for (int i = 0; i < 20; i++) {
        double at = x + width * (quantile(&v, (i + 0.5) / 20) - from) / (to - from);
        bool middle = i >= 5 && i < 15;
        double h = middle ? high : high * 9 / 17;
        if (at < x - 0.2 || at > x + width + 0.2)
            continue; /* beyond the axis: the figures say it */
        show_rectangle(d, NULL, at - 0.2, y, 0.4, h, SHOW_FILL(middle ? SHOW_INK : SHOW_BARK));
    }
}

void look_spread(struct show_drawing *d, const char *id, double x, double y, double width,
                 double from, double to, const struct spread *value, const char *unit) {
    if (!isfinite(value->p50) || !isfinite(value->p05) || !isfinite(value->p95)) return;
    show_group_begin(d, &(struct show_group){.id = id});
    look_slivers(d, x, y, width, from, to, value, 8.5);
    look_ticks(d, x, y, width, from, to, unit);
    show_group_end(d);
}

void look_knot(struct show_drawing *d, double x, double y, double plus_minus, bool upright) {
    if (isfinite(plus_minus) && plus_minus > 0) {
        double dx = upright ? 0 : plus_minus, dy = upright ? plus_minus : 0;
        show_segment(d, x - dx, y - dy, x + dx, y + dy, SHOW_LINE(SHOW_INK, 0.25));
    }
    show_circle(d, NULL, x, y, 0.9 / show_frame_scale(d), SHOW_FILL(SHOW_INK));
}

/* Millimetres a line of second text takes, near enough to keep names apart. */
static double text_room(const char *text) {
    return 1.55 * (double)strlen(text) + 3;
}

double look_shares(struct show_drawing *d, const char *id, double x, double y, double width,
                   const struct look_share *shares, size_t n) {
    enum { MOST = 40 };
    const double h = 6, line = 4.2;
    double from[MOST + 1], room[MOST], at = x;
    int level[MOST], deepest = 0;
    char text[MOST][128];
    if (n > MOST) n = MOST;
    for (size_t i = 0; i < n; i++) {
        from[i] = at + fmin(width * shares[i].share / 2, 3);
        snprintf(text[i], sizeof text[i], "%.90s %.0f in 100", shares[i].name,
                 100 * shares[i].share);
        room[i] = text_room(text[i]);
        at += width * shares[i].share;
    }
    /* From the right: a name that others' lines would run through stands below all of theirs. */
    for (size_t i = n; i-- > 0;) {
        level[i] = 0;
        for (size_t k = i + 1; k < n; k++)
            if (from[k] < from[i] + room[i] && level[k] >= level[i]) level[i] = level[k] + 1;
        if (level[i] > deepest) deepest = level[i];
    }
    show_group_begin(d, &(struct show_group){.id = id});
    at = x;
    for (size_t i = 0; i < n; i++) {
        double below = y - line - line * level[i];
        show_rectangle(d, NULL, at, y, width * shares[i].share, h,
                       (struct show_pen){SHOW_INK, 0.35, i % 2 ? SHOW_LEAF : SHOW_BIRCH, false});
        show_segment(d, from[i], y, from[i], below + 2.8, SHOW_LINE(SHOW_BARK, 0.15));
        show_text(d, NULL, from[i] - 0.6, below, LOOK_SECOND, text[i]);
        at += width * shares[i].share;
    }
    show_group_end(d);
    return line * (deepest + 1);
}

/* ---- contours ---- */

struct corner {
    double x, y, v;
};

/* Cuts a triangle to what lies at or above `level` (sign 1) or below (sign -1): at most 5 corners
 * after two cuts. */
static size_t clip(struct corner *out, const struct corner *in, size_t n, double level,
                   double sign) {
    size_t m = 0;
    for (size_t i = 0; i < n; i++) {
        struct corner a = in[i], b = in[(i + 1) % n];
        double da = sign * (a.v - level), db = sign * (b.v - level);
        if (da >= 0) out[m++] = a;
        if ((da >= 0) != (db >= 0)) {
            double t = da / (da - db);
            out[m++] = (struct corner){a.x + t * (b.x - a.x), a.y + t * (b.y - a.y), level};
        }
    }
    return m;
}

static void corners(struct corner out[3], const struct look_surface *s, size_t triangle) {
    for (int k = 0; k < 3; k++) {
        unsigned i = s->triangles[3 * triangle + k];
        out[k] = (struct corner){s->points[2 * i], s->points[2 * i + 1], s->values[i]};
    }
}

static void band_of(struct show_drawing *d, const struct look_surface *s, double low, double high,
                    enum show_colour colour) {
    show_path_begin(d);
    for (size_t t = 0; t < s->n_triangles; t++) {
        struct corner a[3], b[8], c[8];
        corners(a, s, t);
        size_t n = clip(b, a, 3, low, 1);
        n = clip(c, b, n, high, -1);
        for (size_t i = 0; i < n; i++)
            i ? show_line_to(d, c[i].x, c[i].y) : show_move_to(d, c[i].x, c[i].y);
        if (n) show_close(d);
    }
    /* A hairline of its own colour closes the seams between triangles. */
    show_path_end(d, NULL, (struct show_pen){colour, 0.1, colour, false});
}

static void contour(struct show_drawing *d, const struct look_surface *s, double level,
                    const char *text) {
    double best = 0, lx = 0, ly = 0;
    show_path_begin(d);
    for (size_t t = 0; t < s->n_triangles; t++) {
        struct corner a[3], on[4];
        corners(a, s, t);
        int n = 0;
        for (int k = 0; k < 3; k++) {
            struct corner p = a[k], q = a[(k + 1) % 3];
            if ((p.v >= level) == (q.v >= level)) continue;
            double f = (level - p.v) / (q.v - p.v);
            on[n++] = (struct corner){p.x + f * (q.x - p.x), p.y + f * (q.y - p.y), level};
        }
        if (n != 2) continue;
        show_move_to(d, on[0].x, on[0].y);
        show_line_to(d, on[1].x, on[1].y);
        double l = hypot(on[1].x - on[0].x, on[1].y - on[0].y);
        if (l > best) best = l, lx = (on[0].x + on[1].x) / 2, ly = (on[0].y + on[1].y) / 2;
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_INK, 0.2));
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_MIDDLE;
    if (best > 0) show_text(d, NULL, lx, ly - 1 / show_frame_scale(d), type, text);
}

void look_contours(struct show_drawing *d, const char *id, const struct look_surface *s) {
    if (!s->n_points) return;
    double low = s->values[0], high = low;
    for (size_t i = 1; i < s->n_points; i++)
        low = fmin(low, s->values[i]), high = fmax(high, s->values[i]);
    show_group_begin(d, &(struct show_group){.id = id});
    double step = look_round_step(low, high, 7), first = floor(low / step) * step;
    int bands = (int)ceil((high - first) / step - 1e-9);
    for (int i = 0; i < bands || i == 0; i++)
        band_of(d, s, first + i * step, first + (i + 1) * step,
                (enum show_colour)(SHOW_RAMP_0 + (bands > 1 ? i * 5 / (bands - 1) : 0)));
    for (int i = 1; i < bands; i++) {
        char text[40];
        contour(d, s, first + i * step, show_real(text, first + i * step, s->places));
    }
    show_group_end(d);
}

double look_key(struct show_drawing *d, double x, double y, unsigned footings, unsigned faces) {
    double at = y;
    for (long f = 0; f < FOOTING_COUNT; f++) {
        if (!(footings & 1u << f)) continue;
        const double box[] = {x, at - 6, x + 14, at - 6, x + 14, at, x, at};
        look_fill(d, NULL, (struct look_ring){4, box}, NULL, 0, f, 0);
        look_footing_glyph(d, x + 19, at - 3, 4, f);
        show_text(d, NULL, x + 24, at - 4, LOOK_SECOND, footing_words[f]);
        at -= 8;
    }
    static const char *const words[] = {"on the outer face", "on the inner face", "between layers"};
    for (long f = FACE_OUTER; f <= FACE_BETWEEN; f++) {
        if (!(faces & 1u << f)) continue;
        const double line[] = {x, at - 3, x + 14, at - 3};
        look_part_line(d, NULL, (struct look_ring){2, line}, f);
        look_face_glyph(d, x + 19, at - 3, 4, f);
        show_text(d, NULL, x + 24, at - 4, LOOK_SECOND, words[f]);
        at -= 8;
    }
    return y - at;
}
