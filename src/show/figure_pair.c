/* figure_pair: as found and as proposed, side by side at one scale, with threads. */
#include "show/figures.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* Where a piece lies on its leaf, in mm of the find. */
struct place {
    double x, y; /* added to the outline; lower left of a box */
    double box[4];
};

enum { MOST_PIECES = 1000, MOST_THREADS = 7 };

static bool has_outline(const struct figure_piece *p) {
    return p->outline.n > 2;
}

static void ring_box(double box[4], const struct look_ring *r) {
    box[0] = box[1] = INFINITY, box[2] = box[3] = -INFINITY;
    for (size_t i = 0; i < r->n; i++) {
        box[0] = fmin(box[0], r->xy[2 * i]), box[2] = fmax(box[2], r->xy[2 * i]);
        box[1] = fmin(box[1], r->xy[2 * i + 1]), box[3] = fmax(box[3], r->xy[2 * i + 1]);
    }
}

/* Size of a piece without a place; a piece without any size is left out. */
static bool size_of(const struct figure_piece *p, double *w, double *h) {
    if (has_outline(p)) {
        double b[4];
        ring_box(b, &p->outline);
        *w = b[2] - b[0], *h = b[3] - b[1];
        return true;
    }
    *w = p->length, *h = isfinite(p->width) ? p->width : 10;
    return isfinite(p->length) && p->length > 0;
}

/* Pieces with a place keep it; the others stand in rows below, as wide as `across`. Returns the box
 * of all. */
static void lay_out(struct place *at, bool *shown, double all[4], const struct figure_pair *f,
                    double across) {
    all[0] = all[1] = INFINITY, all[2] = all[3] = -INFINITY;
    for (size_t i = 0; i < f->n_pieces; i++) {
        const struct figure_piece *p = &f->pieces[i];
        shown[i] = p->placed && has_outline(p);
        if (!shown[i]) continue;
        at[i] = (struct place){0};
        ring_box(at[i].box, &p->outline);
        all[0] = fmin(all[0], at[i].box[0]), all[1] = fmin(all[1], at[i].box[1]);
        all[2] = fmax(all[2], at[i].box[2]), all[3] = fmax(all[3], at[i].box[3]);
    }
    bool any = isfinite(all[0]);
    double left = any ? all[0] : 0, x = left, y = any ? all[1] - 30 : 0, row = 0;
    double gap = across / 40;
    if (any) across = fmax(across, all[2] - all[0]);
    for (size_t i = 0; i < f->n_pieces; i++) {
        const struct figure_piece *p = &f->pieces[i];
        double w, h;
        if (shown[i] || !size_of(p, &w, &h)) continue;
        shown[i] = true;
        if (x > left && x + w > left + across) x = left, y -= row + gap, row = 0;
        at[i] = (struct place){.box = {x, y - h, x + w, y}};
        double b[4] = {0, 0, 0, 0};
        if (has_outline(p)) ring_box(b, &p->outline);
        at[i].x = x - b[0], at[i].y = y - h - b[1];
        x += w + gap;
        row = fmax(row, h);
        all[0] = fmin(all[0], at[i].box[0]), all[1] = fmin(all[1], at[i].box[1]);
        all[2] = fmax(all[2], at[i].box[2]), all[3] = fmax(all[3], at[i].box[3]);
    }
}

static void surviving_edges(struct show_drawing *d, const struct figure_piece *p) {
    size_t n = p->outline.n;
    for (size_t i = 0; i < n; i++) {
        size_t run = 0;
        double xy[2 * 512];
        if (!p->surviving[i] || (i && p->surviving[i - 1])) continue;
        while (run < 510 && i + run < n && p->surviving[i + run])
            run++;
        for (size_t k = 0; k <= run; k++)
            memcpy(xy + 2 * k, p->outline.xy + 2 * ((i + k) % n), 16);
        look_edge_surviving(d, NULL, (struct look_ring){run + 1, xy}, false);
    }
}

/* Under this size on paper the double line of a surviving edge would fill the piece. */
static const double small_piece = 6;

/* For visitors: no hatches, a plain tint for what is old. */
static const struct show_pen plain_old = {SHOW_INK, 0.25, SHOW_BIRCH, false},
                             plain_new = {SHOW_INK, 0.35, SHOW_LEAF, false};

static void piece(struct show_drawing *d, const struct figure_piece *p, const struct place *at,
                  bool plain) {
    char id[80];
    snprintf(id, sizeof id, "piece-%.60s", p->id);
    show_group_begin(d, &(struct show_group){.id = id, .title = p->id, .link = id});
    show_frame_push(d, at->x, at->y, 1, 0);
    double w = 0, h = 0;
    size_of(p, &w, &h);
    const double box[] = {0, 0, w, 0, w, h, 0, h};
    struct look_ring ring = has_outline(p) ? p->outline : (struct look_ring){4, box};
    double grain = isfinite(p->grain) ? p->grain : 0;
    if (plain) {
        show_polyline(d, NULL, ring.n, ring.xy, true, plain_old);
        show_frame_pop(d);
        show_group_end(d);
        return;
    }
    if (!(p->belongs < 0.5)) look_fill(d, NULL, ring, NULL, 0, FOOTING_SEEN, grain);
    if (has_outline(p)) {
        show_polyline(d, NULL, ring.n, ring.xy, true, SHOW_LINE(SHOW_INK, 0.25));
        double slim = fmin(at->box[2] - at->box[0], at->box[3] - at->box[1]);
        if (p->surviving && slim * show_frame_scale(d) > small_piece) surviving_edges(d, p);
    } else {
        show_segment(d, 0, 0, w, 0, SHOW_LINE(SHOW_INK, 0.35));
        show_segment(d, 0, h, w, h, SHOW_LINE(SHOW_INK, 0.35));
        look_end(d, 0, h / 2, M_PI, h, p->ends[0] < 0 ? END_BROKEN : p->ends[0]);
        look_end(d, w, h / 2, 0, h, p->ends[1] < 0 ? END_BROKEN : p->ends[1]);
    }
    show_frame_pop(d);
    show_group_end(d);
}

static void piece_label(struct show_drawing *d, const struct figure_piece *p,
                        const struct place *at) {
    struct show_type type = LOOK_LABEL;
    type.size = SHOW_PT(6);
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, (at->box[0] + at->box[2]) / 2,
              (at->box[1] + at->box[3]) / 2 - 0.7 / show_frame_scale(d), type, p->id);
}

/* ---- as proposed ---- */

static void ring_of_part(const struct plan_part *p, double *xy, size_t *n, size_t room) {
    *n = 0;
    if (p->n * 2 > room || !p->n) return;
    if (p->closed || !(p->width > 0)) {
        memcpy(xy, p->xy, 2 * p->n * sizeof *xy);
        *n = p->n;
        return;
    }
    look_offset(xy, (struct look_ring){p->n, p->xy}, false, p->width / 2);
    double *back = xy + 2 * p->n;
    look_offset(back, (struct look_ring){p->n, p->xy}, false, -p->width / 2);
    for (size_t i = 0; i < p->n / 2; i++)
        for (int k = 0; k < 2; k++) {
            double t = back[2 * i + k];
            back[2 * i + k] = back[2 * (p->n - 1 - i) + k];
            back[2 * (p->n - 1 - i) + k] = t;
        }
    *n = 2 * p->n;
}

/* A rod or stripe that runs all round: its footing between its two edges. */
static void round_part(struct show_drawing *d, const struct plan_part *p, bool plain) {
    double both[2][2 * 1024];
    if (p->n > 1024) {
        look_part_line(d, NULL, (struct look_ring){p->n, p->xy}, p->face);
        return;
    }
    for (int i = 0; i < 2; i++)
        look_offset(both[i], (struct look_ring){p->n, p->xy}, true, (i ? 0.5 : -0.5) * p->width);
    struct look_ring a = {p->n, both[0]}, b = {p->n, both[1]};
    show_path_begin(d);
    show_ring(d, a.n, a.xy);
    show_ring(d, b.n, b.xy);
    show_path_end(d, NULL, (struct show_pen){.fill = SHOW_LEAF, .even_odd = true});
    if (!plain) {
        show_path_begin(d);
        show_ring(d, a.n, a.xy);
        show_ring(d, b.n, b.xy);
        show_hatch_end(d, NULL, look_hatch(p->footing), 0, 0, 0);
    }
    for (int i = 0; i < 2; i++)
        show_polyline(d, NULL, p->n, both[i], true,
                      SHOW_LINE(SHOW_INK, p->kind == PLAN_PAINT ? 0.15 : 0.35));
}

static void proposed_part(struct show_drawing *d, const struct plan_part *p, bool plain) {
    double xy[2 * 1024];
    size_t n;
    char link[120];
    snprintf(link, sizeof link, "part-%.100s", p->id ? p->id : "");
    show_group_begin(d, &(struct show_group){.id = p->id, .title = p->name, .link = link});
    if (p->closed && p->width > 0) {
        round_part(d, p, plain);
    } else {
        ring_of_part(p, xy, &n, 1024);
        if (plain) {
            show_polyline(d, NULL, n, xy, true, plain_new);
            show_group_end(d);
            return;
        }
        /* The hatch below stops at the part: its ground is cleared first. */
        show_polyline(d, NULL, n, xy, true, (struct show_pen){SHOW_LEAF, 2, SHOW_LEAF, false});
        look_fill(d, NULL, (struct look_ring){n, xy}, NULL, 0, p->footing,
                  p->n > 1 ? atan2(p->xy[3] - p->xy[1], p->xy[2] - p->xy[0]) : 0);
        show_polyline(d, NULL, n, xy, true, SHOW_LINE(SHOW_INK, p->face == FACE_OUTER ? 0.5 : 0.2));
    }
    show_group_end(d);
}

static void proposed(struct show_drawing *d, const struct show_plan *plan, bool plain) {
    bool fresh = plan->n_dry < 3;
    struct look_ring sheet = {fresh ? plan->n_fresh : plan->n_dry, fresh ? plan->fresh : plan->dry};
    show_group_begin(d, &(struct show_group){.id = "proposed", .title = "As proposed"});
    if (sheet.n > 2 && plain) {
        show_polyline(d, "proposed-sheet", sheet.n, sheet.xy, true, plain_new);
    } else if (sheet.n > 2) {
        look_fill(d, "proposed-sheet", sheet, NULL, 0, plan->footing,
                  isfinite(plan->grain) ? plan->grain : 0);
        look_edge_likely(d, "proposed-edge", sheet, true, SHOW_INK);
    }
    for (int paint = 1; paint >= 0; paint--) /* paint lies under what lies on it */
        for (size_t i = 0; i < plan->n_parts; i++)
            if ((plan->parts[i].kind == PLAN_PAINT) == paint)
                proposed_part(d, &plan->parts[i], plain);
    for (size_t i = 0; i < plan->n_holes; i++)
        show_circle(d, NULL, plan->holes[i].x, plan->holes[i].y, plan->holes[i].diameter / 2,
                    (struct show_pen){SHOW_INK, 0.15, SHOW_LEAF, false});
    show_group_end(d);
}

/* Where the k-th of n threads ends on a part: spread along it, so that their numbers stand apart.
 */
static void part_end(const struct plan_part *p, double where, double out[2]) {
    double f = where * (double)(p->closed ? p->n : p->n - 1);
    size_t i = (size_t)f;
    const double *a = p->xy + 2 * (i % p->n), *b = p->xy + 2 * ((i + 1) % p->n);
    for (int k = 0; k < 2; k++)
        out[k] = a[k] + (f - (double)i) * (b[k] - a[k]);
    if (!p->closed || p->width > 0) return;
    out[0] = out[1] = 0; /* a ring that is a body: its middle */
    for (size_t k = 0; k < p->n; k++)
        out[0] += p->xy[2 * k] / (double)p->n, out[1] += p->xy[2 * k + 1] / (double)p->n;
}

/* ---- the two leaves ---- */

struct leaves {
    double scale, height;
    double x[2], y[2]; /* frame of each leaf */
    double found[4], made[4];
};

static void headings(struct show_drawing *d, const struct figure_pair *f, const struct leaves *l,
                     double half) {
    if (f->n_pieces) show_text(d, NULL, 2, l->height - 5, LOOK_SECOND, "As found");
    if (f->plan && f->n_pieces)
        show_text(d, NULL, half + 12, l->height - 5, LOOK_SECOND, "As proposed, same scale");
    char text[80], number[40];
    double step = look_round_step(0, 40 / l->scale, 1);
    snprintf(text, sizeof text, "%s mm", show_real(number, step, 0));
    show_segment(d, 2, 3, 2 + step * l->scale, 3, SHOW_LINE(SHOW_INK, 0.35));
    show_segment(d, 2, 3, 2, 4.5, SHOW_LINE(SHOW_INK, 0.35));
    show_segment(d, 2 + step * l->scale, 3, 2 + step * l->scale, 4.5, SHOW_LINE(SHOW_INK, 0.35));
    show_text(d, NULL, 4 + step * l->scale, 2.6, LOOK_SECOND, text);
}

static void threads(struct show_drawing *d, const struct figure_pair *f, const struct leaves *l,
                    const struct place *at, const bool *shown, double half) {
    size_t drawn = 0;
    for (size_t i = 0; i < f->n_threads && f->plan; i++) {
        const struct figure_thread *t = &f->threads[i];
        if (t->piece >= f->n_pieces || !shown[t->piece] || t->part >= f->plan->n_parts) continue;
        if (drawn++ >= MOST_THREADS) continue;
        const double *b = at[t->piece].box;
        double end[2];
        if (!f->plan->parts[t->part].n) continue;
        part_end(&f->plan->parts[t->part], (double)drawn / (MOST_THREADS + 1), end);
        look_thread(d, l->x[0] + l->scale * (b[0] + 0.8 * (b[2] - b[0])),
                    l->y[0] + l->scale * (b[1] + b[3]) / 2, l->x[1] + l->scale * end[0],
                    l->y[1] + l->scale * end[1], f->pieces[t->piece].id, false, i == f->touched);
    }
    char text[40];
    snprintf(text, sizeof text, "and %zu more", drawn - MOST_THREADS);
    struct show_type type = LOOK_SECOND;
    type.anchor = SHOW_MIDDLE;
    if (drawn > MOST_THREADS) show_text(d, NULL, half + 5, 3, type, text);
}

/* A number in a cleared ring. */
static void number_at(struct show_drawing *d, double x, double y, size_t number) {
    char text[24];
    snprintf(text, sizeof text, "%zu", number);
    show_circle(d, NULL, x, y, 2.6, (struct show_pen){SHOW_INK, 0.35, SHOW_LEAF, false});
    struct show_type type = LOOK_LABEL;
    type.anchor = SHOW_MIDDLE;
    show_text(d, NULL, x, y - 1, type, text);
}

enum { FEATURES = 5 };
struct features {
    size_t n;
    size_t piece[FEATURES];
    size_t part[FEATURES];  /* SIZE_MAX: the sheet */
    double at[FEATURES][2]; /* paper */
};

static double clear_of(const struct features *all, double x, double y) {
    double least = INFINITY;
    for (size_t i = 0; i < all->n; i++)
        least = fmin(least, hypot(all->at[i][0] - x, all->at[i][1] - y));
    return least;
}

static bool inside(size_t n, const double *xy, double x, double y) {
    bool in = false;
    for (size_t i = 0, k = n - 1; i < n; k = i++)
        if ((xy[2 * i + 1] > y) != (xy[2 * k + 1] > y) &&
            x < xy[2 * i] +
                    (xy[2 * k] - xy[2 * i]) * (y - xy[2 * i + 1]) / (xy[2 * k + 1] - xy[2 * i + 1]))
            in = !in;
    return in;
}

/* A place on a part that is clear of the numbers before it. */
static void on_part(double out[2], const struct features *all, const struct plan_part *p,
                    const struct leaves *l) {
    static const double tries[] = {0.5, 0.12, 0.88, 0.3, 0.7, 0, 0.2, 0.4, 0.6, 0.8};
    double best = -1;
    for (size_t t = 0; t < sizeof tries / sizeof tries[0] && best < 8; t++) {
        double at[2];
        if (t && p->closed && !(p->width > 0)) { /* a body whose middle is taken: its rim */
            size_t k = (size_t)(tries[t] * (double)p->n) % p->n;
            at[0] = p->xy[2 * k], at[1] = p->xy[2 * k + 1];
        } else
            part_end(p, tries[t], at);
        double x = l->x[1] + l->scale * at[0], y = l->y[1] + l->scale * at[1],
               clear = clear_of(all, x, y);
        if (clear > best) best = clear, out[0] = x, out[1] = y;
    }
}

/* The emptiest place of the sheet: far from every part's line and from the numbers before it. */
static bool on_sheet(double out[2], const struct features *all, const struct show_plan *plan,
                     const struct leaves *l) {
    enum { GRID = 24 };
    size_t n = plan->n_dry > 2 ? plan->n_dry : plan->n_fresh;
    const double *xy = plan->n_dry > 2 ? plan->dry : plan->fresh;
    double best = -1;
    if (n < 3) return false;
    for (int i = 0; i < GRID * GRID; i++) {
        double x = l->made[0] + (l->made[2] - l->made[0]) * (i % GRID + 0.5) / GRID,
               y = l->made[1] + (l->made[3] - l->made[1]) * (i / GRID + 0.5) / GRID;
        if (!inside(n, xy, x, y)) continue;
        double px = l->x[1] + l->scale * x, py = l->y[1] + l->scale * y,
               clear = clear_of(all, px, py) / 2;
        for (size_t k = 0; k < plan->n_parts; k++) {
            const struct plan_part *p = &plan->parts[k];
            for (size_t m = 0; m + 1 < p->n + p->closed && p->n; m++) {
                const double *a = p->xy + 2 * m, *b = p->xy + 2 * ((m + 1) % p->n);
                double lx = b[0] - a[0], ly = b[1] - a[1], ll = lx * lx + ly * ly;
                double t = ll > 0 ? ((x - a[0]) * lx + (y - a[1]) * ly) / ll : 0;
                t = fmin(1, fmax(0, t));
                clear = fmin(clear, l->scale * hypot(x - a[0] - t * lx, y - a[1] - t * ly));
            }
        }
        if (clear > best) best = clear, out[0] = px, out[1] = py;
    }
    return best >= 0;
}

static void add_feature(struct features *all, size_t piece, size_t part, const double at[2]) {
    all->piece[all->n] = piece;
    all->part[all->n] = part;
    memcpy(all->at[all->n++], at, 2 * sizeof *at);
}

/* One part of each kind that has a piece, the sheet last. */
static void choose(struct features *all, const struct figure_pair *f, const struct leaves *l,
                   const bool *shown) {
    bool sheet = f->sheet_piece < f->n_pieces && shown[f->sheet_piece];
    for (size_t i = 0; i < f->n_threads && f->plan && all->n < FEATURES - (size_t)sheet; i++) {
        const struct figure_thread *t = &f->threads[i];
        bool again = t->piece >= f->n_pieces || !shown[t->piece] || t->part >= f->plan->n_parts;
        for (size_t k = 0; k < all->n && !again; k++)
            again = f->plan->parts[all->part[k]].kind == f->plan->parts[t->part].kind;
        if (again || !f->plan->parts[t->part].n) continue;
        double at[2];
        on_part(at, all, &f->plan->parts[t->part], l);
        add_feature(all, t->piece, t->part, at);
    }
    double at[2];
    if (sheet && f->plan && on_sheet(at, all, f->plan, l))
        add_feature(all, f->sheet_piece, SIZE_MAX, at);
}

/* "lath 1 of 7 from the left" is one of the laths to whoever looks at it. */
static const char *feature_name(const struct figure_pair *f, size_t part) {
    if (part == SIZE_MAX) return "the sheet";
    const struct plan_part *p = &f->plan->parts[part];
    return p->kind == PLAN_LATH ? "one of the laths" : p->name ? p->name : p->id;
}

/* The same feature under the same number on both sides; the names stand under the object. */
static void numbers(struct show_drawing *d, const struct figure_pair *f, const struct leaves *l,
                    const struct place *at, const struct features *all) {
    struct show_type type = LOOK_LABEL;
    if (f->text > 0) type.size = f->text;
    for (size_t i = 0; i < all->n; i++) {
        const double *b = at[all->piece[i]].box;
        number_at(d, l->x[0] + l->scale * (b[0] + b[2]) / 2, l->y[0] + l->scale * (b[1] + b[3]) / 2,
                  i + 1);
        number_at(d, all->at[i][0], all->at[i][1], i + 1);
        char text[128];
        snprintf(text, sizeof text, "%zu  %.80s", i + 1, feature_name(f, all->part[i]));
        show_text(d, NULL, l->x[1] + l->scale * l->made[0] + 2,
                  l->y[1] + l->scale * l->made[1] - 4 - 1.45 * type.size * (double)(i + 1), type,
                  text);
    }
}

struct show_drawing *figure_pair(const struct figure_pair *f) {
    static const double blank[4] = {0, 0, 100, 60};
    double width = f->width > 0 ? f->width : 165;
    bool alone = !f->plan || !f->n_pieces; /* only the find, or only the object */
    double half = alone ? width : (width - 10) / 2;
    struct place at[MOST_PIECES];
    bool shown[MOST_PIECES];
    struct figure_pair part = *f;
    if (part.n_pieces > MOST_PIECES) part.n_pieces = MOST_PIECES;
    struct leaves l;
    memcpy(l.made, blank, sizeof blank);
    if (f->plan) plan_box(l.made, f->plan);
    if (!(l.made[2] > l.made[0])) memcpy(l.made, blank, sizeof blank);
    /* Rows as wide as the object, or as makes the find a little wider than high. */
    double area = 0, pw, ph;
    for (size_t i = 0; i < part.n_pieces; i++)
        if (size_of(&part.pieces[i], &pw, &ph)) area += (pw + 10) * (ph + 10);
    lay_out(at, shown, l.found, &part, fmax(l.made[2] - l.made[0], 1.3 * sqrt(area)));
    if (!(l.found[2] > l.found[0])) memcpy(l.found, blank, sizeof blank);
    l.scale = (half - 4) / fmax(l.found[2] - l.found[0], f->plan ? l.made[2] - l.made[0] : 0);
    double high = fmax(l.found[3] - l.found[1], l.made[3] - l.made[1]);
    l.scale = fmin(l.scale, 190 / high); /* so that it stands on one page */
    double size = f->text > 0 ? f->text : SHOW_PT(8);
    double names = f->numbered ? 1.45 * size * FEATURES + 8 : 0; /* under the object */
    l.height =
        fmax(l.scale * (l.found[3] - l.found[1]), l.scale * (l.made[3] - l.made[1]) + names) + 26;
    l.x[0] = 2 - l.scale * l.found[0];
    l.x[1] = (alone ? 2 : half + 12) - l.scale * l.made[0];
    l.y[0] = l.height - 12 - l.scale * l.found[3];
    l.y[1] = l.height - 12 - l.scale * l.made[3];
    struct show_drawing *d = show_drawing_new(width, l.height);
    char alt[300];
    snprintf(
        alt, sizeof alt,
        f->plan && alone
            ? "The object as proposed, %zu parts%s; the hatch inside a thing says why it is there."
        : f->plan ? "Left, %zu pieces as found; right, the object as proposed, both at one scale; "
                    "%s."
                  : "%zu pieces as found, at one scale%s.",
        f->plan && alone ? f->plan->n_parts : part.n_pieces,
        alone         ? ""
        : f->numbered ? "the same features bear the same number"
                      : "threads tie a piece to the part it became; the hatch inside a thing says "
                        "why it is there");
    show_drawing_name(d,
                      f->title  ? f->title
                      : f->plan ? "As found and as proposed"
                                : "As found",
                      alt);
    headings(d, f, &l, half);
    show_frame_push(d, l.x[0], l.y[0], l.scale, 0);
    for (size_t i = 0; i < part.n_pieces; i++)
        if (shown[i]) piece(d, &f->pieces[i], &at[i], f->numbered);
    for (size_t i = 0; i < part.n_pieces && !f->numbered; i++)
        if (shown[i]) piece_label(d, &f->pieces[i], &at[i]);
    show_frame_pop(d);
    show_frame_push(d, l.x[1], l.y[1], l.scale, 0);
    if (f->plan) proposed(d, f->plan, f->numbered);
    show_frame_pop(d);
    if (f->numbered) {
        struct features all = {0};
        choose(&all, &part, &l, shown);
        numbers(d, &part, &l, at, &all);
    } else
        threads(d, &part, &l, at, shown, half);
    return d;
}
