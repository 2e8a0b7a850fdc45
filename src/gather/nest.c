#include "gather/nest.h"

#include "gather/nest_build.h"
#include "gather/nest_rects.h"
#include "gather/nest_shape.h"
#include "num/random.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    NEST_MOST = 600,  /* copies in all */
    NEST_FINE = 40,   /* corners; a finer outline is simplified by NEST_SIMPLE mm outward */
    NEST_WIDE = 24,   /* positions sampled over the whole sheet for one move */
    NEST_NEAR = 10,   /* positions sampled near the present one */
    NEST_REFINED = 3, /* best of them that are refined */
    NEST_STALE = 120, /* sweeps without progress before an attempt is given up */
    NEST_TRIES = 8,   /* attempts at one strip length */
    NEST_BUILDS = 5,  /* times a strip is put together part by part */
    NEST_BEAM = 32    /* layouts followed at once when one is put together part by part */
};
#define NEST_SIMPLE 0.4   /* mm */
#define NEST_EFFORT 1.5e8 /* overlap tests after which a strip is not shortened further */

static double draw(struct table *t) {
    return num_random_uniform(&t->random);
}

const struct no_fit *nest_pair(struct table *t, size_t fixed, size_t moving) {
    static const struct no_fit nothing = {0};
    struct no_fit **at = &t->pair[fixed * 4 * t->parts + moving];
    if (!*at) {
        struct no_fit *made = ARENA_NEW(t->arena, struct no_fit, 1);
        if (!made || nest_no_fit_build(made, &t->shape[fixed], &t->shape[moving], t->arena)) {
            t->out_of_memory = true;
            return &nothing;
        }
        *at = made;
    }
    return *at;
}

const struct no_fit *nest_round(struct table *t, size_t moving) {
    static const struct no_fit nothing = {0};
    if (!t->round[moving]) {
        struct no_fit *made = ARENA_NEW(t->arena, struct no_fit, 1);
        if (!made || nest_no_fit_build(made, &t->obstacle, &t->shape[moving], t->arena)) {
            t->out_of_memory = true;
            return &nothing;
        }
        t->round[moving] = made;
    }
    return t->round[moving];
}

/* Where the origin of the shape may go so that its box stays in the sheet's box; false when the
 * shape is too large. */
bool nest_range(const struct table *t, size_t shape, struct box *r) {
    const struct box *b = &t->shape[shape].box;
    *r = (struct box){t->box.x0 - b->x0, t->box.y0 - b->y0, t->box.x1 - b->x1, t->box.y1 - b->y1};
    if (r->x1 < r->x0 && r->x1 > r->x0 - NEST_TOUCH) r->x1 = r->x0;
    if (r->y1 < r->y0 && r->y1 > r->y0 - NEST_TOUCH) r->y1 = r->y0;
    return r->x1 >= r->x0 && r->y1 >= r->y0;
}

/* Weighted overlap of item i were it there; gives up above `limit`. */
static double cost_at(struct table *t, size_t i, size_t shape, double x, double y, double limit) {
    const double *w = t->weight + i * (t->items + 1);
    double sum = w[t->items] * nest_depth(nest_round(t, shape), x, y);
    for (size_t k = 0; k < t->on_n && sum < limit; k++) {
        size_t j = t->on[k];
        if (j == i) continue;
        const struct item *o = &t->item[j];
        t->tests++;
        sum += w[j] * nest_depth(nest_pair(t, o->shape, shape), x - o->x, y - o->y);
    }
    return sum;
}

static double clamp(double v, double low, double high) {
    return v < low ? low : v > high ? high : v;
}

struct spot {
    size_t shape;
    double x, y, cost;
};

/* Pattern search in eight directions with a halving step (Hooke & Jeeves, J. ACM 8, 1961, 212). */
static void refine(struct table *t, size_t i, struct spot *s, double step) {
    static const double way[8][2] = {{1, 0}, {-1, 0}, {0, 1},  {0, -1},
                                     {1, 1}, {-1, 1}, {1, -1}, {-1, -1}};
    struct box r;
    if (!nest_range(t, s->shape, &r)) return;
    for (; step > NEST_TOUCH / 8 && s->cost > 0; step /= 2) {
        for (bool moved = true; moved && s->cost > 0;) {
            moved = false;
            for (int d = 0; d < 8; d++) {
                double x = clamp(s->x + step * way[d][0], r.x0, r.x1);
                double y = clamp(s->y + step * way[d][1], r.y0, r.y1);
                double c = cost_at(t, i, s->shape, x, y, s->cost);
                if (c < s->cost) {
                    *s = (struct spot){s->shape, x, y, c};
                    moved = true;
                }
            }
        }
    }
}

static void keep_best(struct spot *best, const struct spot *s) {
    size_t at = NEST_REFINED;
    while (at > 0 && s->cost < best[at - 1].cost)
        at--;
    if (at == NEST_REFINED) return;
    for (size_t k = NEST_REFINED - 1; k > at; k--)
        best[k] = best[k - 1];
    best[at] = *s;
}

static size_t orientation(struct table *t, const struct item *it) {
    const struct nest_part *p = &t->part[it->part];
    size_t turned = p->half_turn && draw(t) < 0.5, mirrored = p->mirror && draw(t) < 0.5;
    return 4 * it->part + turned + 2 * mirrored;
}

/* Moves item i to the least overlap found; `anywhere`: from scratch. */
static void move_item(struct table *t, size_t i, bool anywhere) {
    struct item *it = &t->item[i];
    struct spot best[NEST_REFINED];
    for (int k = 0; k < NEST_REFINED; k++)
        best[k] = (struct spot){it->shape, it->x, it->y, INFINITY};
    struct box r;
    const struct box *b = &t->shape[it->shape].box;
    double size = fmin(b->x1 - b->x0, b->y1 - b->y0);
    if (!anywhere && nest_range(t, it->shape, &r)) {
        struct spot here = {it->shape, clamp(it->x, r.x0, r.x1), clamp(it->y, r.y0, r.y1), 0};
        here.cost = cost_at(t, i, here.shape, here.x, here.y, INFINITY);
        keep_best(best, &here);
    }
    for (int k = 0; k < NEST_WIDE + NEST_NEAR; k++) {
        struct spot s = {.shape = orientation(t, it)};
        if (!nest_range(t, s.shape, &r)) continue;
        bool near = k >= NEST_WIDE && !anywhere;
        double u = draw(t), v = draw(t);
        s.x = near ? clamp(it->x + size * (u - 0.5), r.x0, r.x1) : r.x0 + u * (r.x1 - r.x0);
        s.y = near ? clamp(it->y + size * (v - 0.5), r.y0, r.y1) : r.y0 + v * (r.y1 - r.y0);
        s.cost = cost_at(t, i, s.shape, s.x, s.y, best[NEST_REFINED - 1].cost);
        keep_best(best, &s);
    }
    struct spot *least = &best[0];
    for (int k = 0; k < NEST_REFINED; k++) {
        if (isinf(best[k].cost)) continue;
        refine(t, i, &best[k], size / 8);
        if (best[k].cost < least->cost) least = &best[k];
    }
    if (isinf(least->cost)) return;
    it->shape = least->shape;
    it->x = least->x;
    it->y = least->y;
}

static double overlap_of(struct table *t, size_t i, size_t j) {
    const struct item *a = &t->item[i], *b = &t->item[j];
    return nest_depth(nest_pair(t, a->shape, b->shape), b->x - a->x, b->y - a->y);
}

static double obstacle_overlap(struct table *t, size_t i) {
    const struct item *a = &t->item[i];
    return nest_depth(nest_round(t, a->shape), a->x, a->y);
}

/* Deepest single overlap on the sheet; *sum gets their total. */
static double overlaps(struct table *t, double *sum) {
    double worst = 0;
    *sum = 0;
    for (size_t k = 0; k < t->on_n; k++) {
        double d = obstacle_overlap(t, t->on[k]);
        *sum += d;
        worst = fmax(worst, d);
        for (size_t l = k + 1; l < t->on_n; l++) {
            d = overlap_of(t, t->on[k], t->on[l]);
            *sum += d;
            worst = fmax(worst, d);
        }
    }
    return worst;
}

/* Pairs that overlap gain weight (most for the deepest), the others slowly lose it. */
static void reweigh(struct table *t, double worst) {
    for (size_t k = 0; k < t->on_n; k++) {
        size_t i = t->on[k];
        double *w = &t->weight[i * (t->items + 1) + t->items];
        double d = obstacle_overlap(t, i);
        *w = d > NEST_TOUCH ? *w * (1.2 + 0.8 * d / worst) : fmax(1, *w * 0.95);
        for (size_t l = k + 1; l < t->on_n; l++) {
            size_t j = t->on[l];
            w = &t->weight[i * (t->items + 1) + j];
            d = overlap_of(t, i, j);
            *w = d > NEST_TOUCH ? *w * (1.2 + 0.8 * d / worst) : fmax(1, *w * 0.95);
            t->weight[j * (t->items + 1) + i] = *w;
        }
    }
}

static void weights_reset(struct table *t) {
    for (size_t k = 0; k < t->items * (t->items + 1); k++)
        t->weight[k] = 1;
}

static bool is_clear(struct table *t, size_t i) {
    if (obstacle_overlap(t, i) > NEST_TOUCH) return false;
    for (size_t k = 0; k < t->on_n; k++)
        if (t->on[k] != i && overlap_of(t, t->on[k], i) > NEST_TOUCH) return false;
    return true;
}

/* Drives the overlaps out. True when nothing overlaps by more than NEST_TOUCH. */
static bool separate(struct table *t, long sweeps) {
    weights_reset(t);
    double best = INFINITY;
    long stale = 0;
    size_t *order = ARENA_NEW(t->arena, size_t, t->on_n);
    if (!order) {
        t->out_of_memory = true;
        return false;
    }
    for (long sweep = 0; sweep < sweeps && stale < NEST_STALE; sweep++) {
        double sum, worst = overlaps(t, &sum);
        if (worst <= NEST_TOUCH) return true;
        stale = sum < 0.98 * best ? 0 : stale + 1;
        best = fmin(best, sum);
        if (sweep) reweigh(t, worst);
        memcpy(order, t->on, t->on_n * sizeof *order);
        for (size_t k = t->on_n; k > 1; k--) { /* Fisher & Yates */
            size_t l = (size_t)(draw(t) * (double)k), keep = order[k - 1];
            order[k - 1] = order[l];
            order[l] = keep;
        }
        for (size_t k = 0; k < t->on_n; k++)
            if (!is_clear(t, order[k])) move_item(t, order[k], false);
        if (t->out_of_memory) return false;
    }
    double sum;
    return overlaps(t, &sum) <= NEST_TOUCH;
}

/* The touching position lowest in x, then y: corners of the no-fit pieces, the box's corners and
 * where no-fit edges meet the box, each tried; none: false. */
struct lowest {
    struct table *t;
    size_t i;
    struct box range;
    struct spot best;
    bool any;
};

static void try_spot(struct lowest *l, size_t shape, double x, double y) {
    const double play = 1e-9 * (1 + fabs(x) + fabs(y));
    if (x < l->range.x0 - play || x > l->range.x1 + play || y < l->range.y0 - play ||
        y > l->range.y1 + play)
        return;
    double key = x - l->range.x0 + 1e-3 * (y - l->range.y0);
    if (l->any && key >= l->best.cost) return;
    if (cost_at(l->t, l->i, shape, x, y, NEST_TOUCH / 2) > NEST_TOUCH / 2) return;
    l->best = (struct spot){shape, x, y, key};
    l->any = true;
}

static void try_wedges(struct lowest *l, size_t shape, const struct no_fit *f, double dx,
                       double dy) {
    for (size_t i = 0; i < f->n; i++) {
        const struct wedge *w = &f->wedge[i];
        for (size_t e = 0; e < w->n; e++) { /* corners, as meetings of neighbouring half-planes */
            const double *a = w->plane + 3 * e, *b = w->plane + 3 * ((e + 1) % w->n);
            double det = a[0] * b[1] - a[1] * b[0];
            if (fabs(det) > 1e-12)
                try_spot(l, shape, dx + (a[2] * b[1] - a[1] * b[2]) / det,
                         dy + (a[0] * b[2] - a[2] * b[0]) / det);
            /* where the edge's line meets the four sides of the range */
            double ca = a[2] + a[0] * dx + a[1] * dy;
            if (fabs(a[0]) > 1e-9) {
                try_spot(l, shape, (ca - a[1] * l->range.y0) / a[0], l->range.y0);
                try_spot(l, shape, (ca - a[1] * l->range.y1) / a[0], l->range.y1);
            }
            if (fabs(a[1]) > 1e-9) {
                try_spot(l, shape, l->range.x0, (ca - a[0] * l->range.x0) / a[1]);
                try_spot(l, shape, l->range.x1, (ca - a[0] * l->range.x1) / a[1]);
            }
        }
    }
}

static bool put_lowest(struct table *t, size_t i) {
    struct item *it = &t->item[i];
    struct lowest l = {.t = t, .i = i};
    for (size_t o = 0; o < 4; o++) {
        const struct nest_part *p = &t->part[it->part];
        if ((o & 1 && !p->half_turn) || (o & 2 && !p->mirror)) continue;
        size_t shape = 4 * it->part + o;
        if (!nest_range(t, shape, &l.range)) continue;
        try_spot(&l, shape, l.range.x0, l.range.y0);
        try_spot(&l, shape, l.range.x0, l.range.y1);
        try_wedges(&l, shape, nest_round(t, shape), 0, 0);
        for (size_t k = 0; k < t->on_n; k++) {
            const struct item *on = &t->item[t->on[k]];
            try_wedges(&l, shape, nest_pair(t, on->shape, shape), on->x, on->y);
        }
    }
    if (!l.any) return false;
    it->shape = l.best.shape;
    it->x = l.best.x;
    it->y = l.best.y;
    return true;
}

static bool fits_box(struct table *t, size_t i) {
    struct box r;
    for (size_t o = 0; o < 4; o++)
        if (nest_range(t, 4 * t->item[i].part + o, &r)) return true;
    return false;
}

/* ---- reading parts and sheets --------------------------------------------------------------- */

/* The part as laid out: grown by half the gap; a fine outline made coarser, outward only. */
static int read_part(struct table *t, size_t p, double gap, struct nest_geos *g,
                     struct error *err) {
    const struct nest_part *part = &t->part[p];
    GEOSGeometry *poly;
    int rc = nest_polygon(&poly, g, &part->ring, part->name, err);
    if (rc) return rc;
    double grow = gap / 2 + (part->ring.n > NEST_FINE ? NEST_SIMPLE : 0);
    if (grow > 0) {
        GEOSGeometry *wide =
            GEOSBufferWithStyle_r(g->h, poly, grow, 8, GEOSBUF_CAP_FLAT, GEOSBUF_JOIN_MITRE, 2.0);
        GEOSGeom_destroy_r(g->h, poly);
        poly = wide;
    }
    if (poly && part->ring.n > NEST_FINE) {
        GEOSGeometry *coarse = GEOSTopologyPreserveSimplify_r(g->h, poly, NEST_SIMPLE);
        GEOSGeom_destroy_r(g->h, poly);
        poly = coarse;
    }
    if (!poly)
        return fail(err, ERR_SOLVE, NULL, "\"%s\" could not be widened by the gap: %s",
                    part->name ? part->name : "", g->why);
    rc = nest_shape_cut(&t->shape[4 * p], g, poly, t->arena, err);
    GEOSGeom_destroy_r(g->h, poly);
    for (size_t o = 1; o < 4 && !rc; o++)
        if (nest_shape_turn(&t->shape[4 * p + o], &t->shape[4 * p], o & 2, o & 1, t->arena))
            rc = fail_memory(err);
    return rc;
}

static int read_parts(struct table *t, const struct nest_part *part, size_t parts, double gap,
                      struct nest_geos *g, struct error *err) {
    t->parts = parts;
    t->part = part;
    for (size_t p = 0; p < parts; p++) {
        if (part[p].number < 0 || part[p].number > NEST_MOST)
            return fail(err, ERR_RANGE, "Give how many copies are wanted.",
                        "\"%s\": %ld copies; 0 to %d can be laid out.",
                        part[p].name ? part[p].name : "", part[p].number, NEST_MOST);
        t->items += (size_t)part[p].number;
    }
    if (t->items > NEST_MOST || parts == 0)
        return fail(err, ERR_RANGE, "Lay out one group of parts at a time.",
                    "%zu parts; 1 to %d can be laid out at once.", t->items, NEST_MOST);
    if (!(gap >= 0 && gap <= 100))
        return fail(err, ERR_RANGE, "Give the gap in mm, 0 for a knife.",
                    "A gap of %g mm; it must lie between 0 and 100.", gap);
    t->shape = ARENA_NEW(t->arena, struct shape, 4 * parts);
    t->pair = ARENA_NEW(t->arena, struct no_fit *, 16 * parts * parts);
    t->item = ARENA_NEW(t->arena, struct item, t->items);
    t->on = ARENA_NEW(t->arena, size_t, t->items);
    t->weight = ARENA_NEW(t->arena, double, t->items *(t->items + 1));
    if (!t->shape || !t->pair || !t->item || !t->on || !t->weight) return fail_memory(err);
    size_t k = 0;
    for (size_t p = 0; p < parts; p++) {
        int rc = read_part(t, p, gap, g, err);
        if (rc) return rc;
        for (long c = 0; c < part[p].number; c++)
            t->item[k++] = (struct item){.part = p, .copy = (size_t)c, .shape = 4 * p};
    }
    weights_reset(t);
    return 0;
}

/* The obstacle of a sheet: a frame wide enough to push any part back in, less the sheet, and the
 * faults. *area gets the usable area; where that is 0 there is no obstacle. */
static int read_sheet(struct table *t, const struct nest_sheet *sheet, double gap, double *area,
                      struct nest_geos *g, struct error *err) {
    GEOSGeometry *free_part = NULL, *frame = NULL, *rest = NULL;
    int rc = nest_polygon(&free_part, g, &sheet->ring, sheet->name, err);
    for (size_t f = 0; f < sheet->faults && !rc; f++) {
        GEOSGeometry *fault;
        rc = nest_polygon(&fault, g, &sheet->fault[f], sheet->name, err);
        if (rc) break;
        GEOSGeometry *less = GEOSDifference_r(g->h, free_part, fault);
        GEOSGeom_destroy_r(g->h, fault);
        GEOSGeom_destroy_r(g->h, free_part);
        free_part = less;
        if (!less) rc = fail(err, ERR_SOLVE, NULL, "A fault could not be cut out: %s", g->why);
    }
    if (!rc) GEOSArea_r(g->h, free_part, area);
    if (rc || !(*area > 0)) { /* faults all over: no room is an answer */
        GEOSGeom_destroy_r(g->h, free_part);
        return rc;
    }
    if (gap > 0) { /* parts are grown by half the gap: only toward each other, not to the edge */
        GEOSGeometry *wide = GEOSBufferWithStyle_r(g->h, free_part, gap / 2, 8, GEOSBUF_CAP_FLAT,
                                                   GEOSBUF_JOIN_MITRE, 2.0);
        GEOSGeom_destroy_r(g->h, free_part);
        free_part = wide;
    }
    double x0 = 0, y0 = 0, x1 = 0, y1 = 0, margin = 1;
    for (size_t s = 0; s < 4 * t->parts; s++) {
        const struct box *b = &t->shape[s].box;
        margin = fmax(margin, fmax(b->x1 - b->x0, b->y1 - b->y0));
    }
    bool fine = free_part && GEOSGeom_getXMin_r(g->h, free_part, &x0) &&
                GEOSGeom_getYMin_r(g->h, free_part, &y0) &&
                GEOSGeom_getXMax_r(g->h, free_part, &x1) &&
                GEOSGeom_getYMax_r(g->h, free_part, &y1);
    t->box = (struct box){x0, y0, x1, y1};
    frame =
        fine ? GEOSGeom_createRectangle_r(g->h, x0 - margin, y0 - margin, x1 + margin, y1 + margin)
             : NULL;
    rest = frame ? GEOSDifference_r(g->h, frame, free_part) : NULL;
    rc = rest ? nest_shape_cut(&t->obstacle, g, rest, t->arena, err)
              : fail(err, ERR_SOLVE, "Mend the outline of the sheet.",
                     "Sheet \"%s\" has no room left: %s", sheet->name ? sheet->name : "", g->why);
    GEOSGeom_destroy_r(g->h, free_part);
    GEOSGeom_destroy_r(g->h, frame);
    GEOSGeom_destroy_r(g->h, rest);
    if (!rc && !(t->round = ARENA_NEW(t->arena, struct no_fit *, 4 * t->parts)))
        rc = fail_memory(err);
    return rc;
}

/* Items of this list, largest area first; equal ones in the order given. */
static void sort_large_first(const struct table *t, size_t *list, size_t n) {
    for (size_t i = 1; i < n; i++) {
        size_t keep = list[i], at = i;
        double area = t->shape[t->item[keep].shape].area;
        while (at > 0 && t->shape[t->item[list[at - 1]].shape].area < area) {
            list[at] = list[at - 1];
            at--;
        }
        list[at] = keep;
    }
}

static double ring_size(const struct nest_ring *r) {
    double twice = 0;
    for (size_t i = 0; i < r->n; i++) {
        const double *p = r->xy + 2 * i, *q = r->xy + 2 * ((i + 1) % r->n);
        twice += p[0] * q[1] - q[0] * p[1];
    }
    return fabs(twice) / 2;
}

static int write_layout(struct nest_layout *out, struct table *t, const size_t *sheet_of,
                        struct error *err) {
    out->place = ARENA_NEW(t->arena, struct nest_place, t->items);
    out->missing = ARENA_NEW(t->arena, long, t->parts);
    if (!out->place || !out->missing) return fail_memory(err);
    out->complete = true;
    for (size_t i = 0; i < t->items; i++) {
        const struct item *it = &t->item[i];
        if (!it->placed) {
            out->missing[it->part]++;
            out->complete = false;
            continue;
        }
        size_t o = it->shape % 4;
        out->place[out->n++] =
            (struct nest_place){it->part, it->copy, sheet_of[i], it->x, it->y, o & 1, (o & 2) != 0};
        out->part_area += ring_size(&t->part[it->part].ring);
    }
    return 0;
}

/* ---- sheets --------------------------------------------------------------------------------- */

/* Tries to take one more item by moving the others aside; all is put back when it fails. */
static bool squeeze_in(struct table *t, size_t i, long sweeps, struct item *before) {
    memcpy(before, t->item, t->items * sizeof *before);
    t->on[t->on_n++] = i;
    move_item(t, i, true);
    if (separate(t, sweeps)) return true;
    memcpy(t->item, before, t->items * sizeof *before);
    t->on_n--;
    return false;
}

static void fill_sheet(struct table *t, size_t *left, size_t left_n, double area, long sweeps,
                       struct item *before) {
    double used = 0;
    t->on_n = 0;
    weights_reset(t);
    for (size_t k = 0; k < left_n; k++)
        if (fits_box(t, left[k]) && put_lowest(t, left[k])) {
            t->on[t->on_n++] = left[k];
            t->item[left[k]].placed = true;
            used += t->shape[t->item[left[k]].shape].area;
        }
    int failures = 0; /* in a row: the sheet is full when the largest few do not go in */
    for (size_t k = 0; k < left_n && failures < 6; k++) {
        struct item *it = &t->item[left[k]];
        double size = t->shape[it->shape].area;
        if (it->placed || !fits_box(t, left[k]) || used + size > area) continue;
        it->placed = squeeze_in(t, left[k], sweeps, before);
        used += it->placed ? size : 0;
        failures = it->placed ? 0 : failures + 1;
    }
}

int gather_nest(struct nest_layout *out, const struct nest_part *part, size_t parts,
                const struct nest_sheet *sheet, size_t sheets, const struct nest_options *options,
                struct arena *arena, struct error *err) {
    *out = (struct nest_layout){0};
    struct table t = {.arena = arena};
    num_random_begin(&t.random, options->seed, num_hash("nest"), 0);
    long sweeps = options->sweeps > 0 ? options->sweeps : 120;
    struct nest_geos g;
    int rc = nest_geos_init(&g, err);
    if (!rc) rc = read_parts(&t, part, parts, options->gap, &g, err);
    size_t *left = rc ? NULL : ARENA_NEW(arena, size_t, t.items);
    size_t *sheet_of = rc ? NULL : ARENA_NEW(arena, size_t, t.items);
    struct item *before = rc ? NULL : ARENA_NEW(arena, struct item, t.items);
    out->use = ARENA_NEW(arena, double, sheets);
    if (!rc && (!left || !sheet_of || !before || !out->use)) rc = fail_memory(err);
    for (size_t s = 0; s < sheets && !rc; s++) {
        size_t left_n = 0;
        for (size_t i = 0; i < t.items; i++)
            if (!t.item[i].placed) left[left_n++] = i;
        sort_large_first(&t, left, left_n);
        double area = 0, sum, net = 0;
        rc = read_sheet(&t, &sheet[s], options->gap, &area, &g, err);
        if (rc || left_n == 0 || !(area > 0)) continue;
        fill_sheet(&t, left, left_n, area, sweeps, before);
        if (t.out_of_memory) rc = fail_memory(err);
        out->worst_overlap = fmax(out->worst_overlap, overlaps(&t, &sum));
        for (size_t k = 0; k < t.on_n; k++) {
            sheet_of[t.on[k]] = s;
            net += ring_size(&part[t.item[t.on[k]].part].ring);
        }
        out->use[s] = net / area;
        out->sheet_area += t.on_n ? area : 0;
    }
    nest_geos_deinit(&g);
    return rc ? rc : write_layout(out, &t, sheet_of, err);
}

/* ---- strip ---------------------------------------------------------------------------------- */

static double right_end(const struct table *t) {
    double x = 0;
    for (size_t i = 0; i < t->items; i++)
        x = fmax(x, t->item[i].x + t->shape[t->item[i].shape].box.x1);
    return x;
}

/* Shakes a failed layout: swaps the places of a few pairs of parts. */
static void shake(struct table *t) {
    for (int k = 0; k < 3 && t->items > 1; k++) {
        struct item *a = &t->item[(size_t)(draw(t) * (double)t->items)];
        struct item *b = &t->item[(size_t)(draw(t) * (double)t->items)];
        const struct box *p = &t->shape[a->shape].box, *q = &t->shape[b->shape].box;
        double ax = a->x + p->x0, ay = a->y + p->y0;
        a->x = b->x + q->x0 - p->x0;
        a->y = b->y + q->y0 - p->y0;
        b->x = ax - q->x0;
        b->y = ay - q->y0;
    }
}

static void clamp_items(struct table *t) {
    for (size_t i = 0; i < t->items; i++) {
        struct box r;
        if (!nest_range(t, t->item[i].shape, &r)) continue;
        t->item[i].x = clamp(t->item[i].x, r.x0, r.x1);
        t->item[i].y = clamp(t->item[i].y, r.y0, r.y1);
    }
}

/* Shortens the strip step by step until several attempts at one length fail. */
static void shorten(struct table *t, double least, long sweeps, struct item *best) {
    double step = 0.04; /* share of the length; halved when it fails */
    memcpy(best, t->item, t->items * sizeof *best);
    double length = right_end(t);
    const double most = t->tests + NEST_EFFORT;
    while (step > 0.002 && length > least * 1.0005 && t->tests < most && !t->out_of_memory) {
        double target = fmax(least, length * (1 - step));
        bool done = false;
        for (int attempt = 0; attempt < NEST_TRIES && !done && t->tests < most; attempt++) {
            memcpy(t->item, best, t->items * sizeof *best);
            t->box.x1 = target;
            if (attempt) shake(t);
            clamp_items(t);
            done = separate(t, sweeps);
        }
        if (done) {
            memcpy(best, t->item, t->items * sizeof *best);
            length = right_end(t);
        } else
            step /= 2;
    }
    memcpy(t->item, best, t->items * sizeof *best);
}

static int does_not_fit(const struct table *t, size_t i, double width, struct error *err) {
    const char *name = t->part[t->item[i].part].name;
    return fail(err, ERR_REFUSED, "Take a wider strip, or cut the part in two with a seam.",
                "\"%s\" does not fit a strip %g mm wide.", name ? name : "", width);
}

/* Largest first, each as far left as it goes. */
static int lay_lowest(struct table *t, const size_t *order, double width, struct error *err) {
    for (size_t k = 0; k < t->items; k++) {
        struct item *it = &t->item[order[k]];
        if (!put_lowest(t, order[k])) return does_not_fit(t, order[k], width, err);
        it->placed = true;
        t->on[t->on_n++] = order[k];
    }
    return 0;
}

static int rects_on_strip(struct table *t, const size_t *order, double width, struct error *err) {
    for (size_t k = 0; k < t->items; k++)
        if (!fits_box(t, order[k])) return does_not_fit(t, order[k], width, err);
    if (isnan(nest_rects(t, order, t->items))) return fail_memory(err);
    for (size_t k = 0; k < t->items; k++) {
        t->item[order[k]].placed = true;
        t->on[t->on_n++] = order[k];
    }
    return 0;
}

/* Puts what a layout left over behind it. */
static bool lay_rest(struct table *t, const size_t *order, double room) {
    t->box.x1 = room;
    for (size_t k = 0; k < t->items; k++) {
        struct item *it = &t->item[order[k]];
        if (it->placed) continue;
        if (!put_lowest(t, order[k])) return false;
        it->placed = true;
        t->on[t->on_n++] = order[k];
    }
    return true;
}

/* The layout a strip begins with: the shortest of laying largest first and of putting together part
 * by part in the least length that has room for all, some times with judgement a little blurred;
 * where not all go in, the rest lies behind. */
static int begin_strip(struct table *t, const size_t *order, double width, double least,
                       struct item *before, struct error *err) {
    struct nest_build_options build = {.width = NEST_BEAM, .tests = 4e7};
    memcpy(before, t->item, t->items * sizeof *before);
    double room = t->box.x1;
    int rc = lay_lowest(t, order, width, err);
    if (rc) return rc;
    double length = right_end(t);
    struct item *best = ARENA_NEW(t->arena, struct item, t->items);
    if (!best) return fail_memory(err);
    memcpy(best, t->item, t->items * sizeof *best);
    for (int turn = 0; turn < NEST_BUILDS && length > least * 1.0005 && !t->out_of_memory; turn++) {
        memcpy(t->item, before, t->items * sizeof *before);
        t->on_n = 0;
        t->box.x1 = least;
        build.in_order = turn == 1;
        build.noise = turn > 1 ? 0.02 : 0;
        build.seed = (uint64_t)turn;
        nest_build(t, order, t->items, &build);
        if (!lay_rest(t, order, room) || !(right_end(t) < length)) continue;
        length = right_end(t);
        memcpy(best, t->item, t->items * sizeof *best);
    }
    memcpy(t->item, best, t->items * sizeof *best);
    t->on_n = 0;
    for (size_t k = 0; k < t->items; k++)
        t->on[t->on_n++] = order[k];
    return t->out_of_memory ? fail_memory(err) : 0;
}

int gather_nest_strip(struct nest_layout *out, const struct nest_part *part, size_t parts,
                      double width, const struct nest_options *options, struct arena *arena,
                      struct error *err) {
    *out = (struct nest_layout){0};
    if (!(width > 0 && width < 1e6))
        return fail(err, ERR_RANGE, "Give the width in mm.", "A strip %g mm wide.", width);
    struct table t = {.arena = arena};
    num_random_begin(&t.random, options->seed, num_hash("nest"), 0);
    struct nest_geos g;
    int rc = nest_geos_init(&g, err);
    if (!rc) rc = read_parts(&t, part, parts, options->gap, &g, err);
    nest_geos_deinit(&g);
    if (rc) return rc;
    double total = 0, longest = 0, run = 0;
    for (size_t i = 0; i < t.items; i++) {
        const struct shape *s = &t.shape[t.item[i].shape];
        total += s->area;
        longest = fmax(longest, s->box.x1 - s->box.x0);
        run += s->box.x1 - s->box.x0;
    }
    t.round = ARENA_NEW(arena, struct no_fit *, 4 * parts);
    t.box = (struct box){0, 0, run + 1, width};
    size_t *sheet_of = ARENA_NEW(arena, size_t, t.items), *left = ARENA_NEW(arena, size_t, t.items);
    struct item *best = ARENA_NEW(arena, struct item, t.items);
    out->use = ARENA_NEW(arena, double, 1);
    if (!t.round || !sheet_of || !left || !best || !out->use) return fail_memory(err);
    for (size_t i = 0; i < t.items; i++)
        left[i] = i;
    sort_large_first(&t, left, t.items);
    double least = fmax(longest, total / width);
    bool rects = nest_all_rects(&t, left, t.items);
    rc = rects ? rects_on_strip(&t, left, width, err)
               : begin_strip(&t, left, width, least, best, err);
    if (rc) return rc;
    if (!rects) shorten(&t, least, options->sweeps > 0 ? options->sweeps : 400, best);
    if (t.out_of_memory) return fail_memory(err);
    double sum;
    out->worst_overlap = overlaps(&t, &sum);
    out->length = right_end(&t);
    rc = write_layout(out, &t, sheet_of, err);
    out->sheet_area = out->length * width;
    out->use[0] = out->sheet_area > 0 ? out->part_area / out->sheet_area : 0;
    return rc;
}

void gather_nest_ring(const struct nest_place *place, const struct nest_part *part, double *xy) {
    double sx = place->turned ? -1 : 1, sy = (place->mirrored ? -1 : 1) * sx;
    for (size_t i = 0; i < part->ring.n; i++) {
        xy[2 * i] = place->x + sx * part->ring.xy[2 * i];
        xy[2 * i + 1] = place->y + sy * part->ring.xy[2 * i + 1];
    }
}

/* ---- the no-fit polygon by itself ------------------------------------------------------------ */

static int rings_of(struct nest_no_fit *out, struct nest_geos *g, const GEOSGeometry *polygon,
                    struct arena *arena) {
    int holes = GEOSGetNumInteriorRings_r(g->h, polygon);
    for (int r = -1; r < holes; r++) {
        const GEOSGeometry *line =
            r < 0 ? GEOSGetExteriorRing_r(g->h, polygon) : GEOSGetInteriorRingN_r(g->h, polygon, r);
        const GEOSCoordSequence *s = line ? GEOSGeom_getCoordSeq_r(g->h, line) : NULL;
        unsigned n = 0;
        if (!s || !GEOSCoordSeq_getSize_r(g->h, s, &n) || n < 4) return ERR_SOLVE;
        double *xy = ARENA_NEW(arena, double, 2 * (size_t)n);
        if (!xy) return ERR_MEMORY;
        for (unsigned i = 0; i < n; i++)
            GEOSCoordSeq_getXY_r(g->h, s, i, &xy[2 * i], &xy[2 * i + 1]);
        out->ring[out->rings++] = (struct nest_ring){n - 1, xy};
    }
    return 0;
}

static int unite(struct nest_no_fit *out, struct nest_geos *g, const struct shape *fixed,
                 const struct shape *moving, struct arena *arena, struct error *err) {
    size_t n = fixed->pieces * moving->pieces, made = 0;
    GEOSGeometry **sum = ARENA_NEW(arena, GEOSGeometry *, n);
    if (!sum) return fail_memory(err);
    int rc = 0;
    for (size_t k = 0; k < n && !rc; k++) {
        struct convex c;
        if (nest_no_fit_hull(&c, &fixed->piece[k / moving->pieces],
                             &moving->piece[k % moving->pieces], arena))
            rc = fail_memory(err);
        struct nest_ring ring = {c.n, c.xy};
        if (!rc) rc = nest_polygon(&sum[made], g, &ring, "no-fit piece", err);
        made += !rc;
    }
    GEOSGeometry *all =
        made ? GEOSGeom_createCollection_r(g->h, GEOS_MULTIPOLYGON, sum, (unsigned)made) : NULL;
    GEOSGeometry *one = all && !rc ? GEOSUnaryUnion_r(g->h, all) : NULL;
    GEOSGeom_destroy_r(g->h, all);
    if (!rc && !one)
        rc = fail(err, ERR_SOLVE, "Simplify the outlines.", "No no-fit polygon: %s", g->why);
    if (!rc) {
        GEOSArea_r(g->h, one, &out->area);
        GEOSLength_r(g->h, one, &out->perimeter);
        int parts = GEOSGetNumGeometries_r(g->h, one);
        size_t rings = 0;
        for (int i = 0; i < parts; i++)
            rings += 1 + (size_t)GEOSGetNumInteriorRings_r(g->h, GEOSGetGeometryN_r(g->h, one, i));
        out->ring = ARENA_NEW(arena, struct nest_ring, rings);
        if (!out->ring) rc = fail_memory(err);
        for (int i = 0; i < parts && !rc; i++)
            if (rings_of(out, g, GEOSGetGeometryN_r(g->h, one, i), arena)) rc = fail_memory(err);
    }
    GEOSGeom_destroy_r(g->h, one);
    return rc;
}

int gather_no_fit(struct nest_no_fit *out, const struct nest_ring *fixed,
                  const struct nest_ring *moving, struct arena *arena, struct error *err) {
    *out = (struct nest_no_fit){0};
    struct nest_geos g;
    struct shape a, b;
    GEOSGeometry *p = NULL, *q = NULL;
    int rc = nest_geos_init(&g, err);
    if (rc) return rc;
    rc = nest_polygon(&p, &g, fixed, "fixed part", err);
    if (!rc) rc = nest_polygon(&q, &g, moving, "moving part", err);
    if (!rc) rc = nest_shape_cut(&a, &g, p, arena, err);
    if (!rc) rc = nest_shape_cut(&b, &g, q, arena, err);
    if (!rc) rc = unite(out, &g, &a, &b, arena, err);
    GEOSGeom_destroy_r(g.h, p);
    GEOSGeom_destroy_r(g.h, q);
    nest_geos_deinit(&g);
    return rc;
}
