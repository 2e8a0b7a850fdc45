/* In the hand: what each part is bent to and whether it takes that, and how the whole hangs from
 * its grip. Limits and their standing are the tables' (body/bend.h). What is bent is bent with the
 * sizes it was cut to. */
#include "job/strength.h"

#include "body/bend.h"
#include "body/hand.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct hand {
    struct stage_run *r;
    const struct strength_work *w;
    const struct strength_inputs *in;
    const struct stuff_shelf *shelf;
    double x[INPUTS];
    json_t *bends;
};

static const struct part *cut(const struct hand *h, long kind) {
    return makings_part(h->w->fresh, h->w->making, kind, NULL);
}

/* ---- bending -------------------------------------------------------------------------------- */

/* Chances of a crack by state, and the first state in which it goes (one crack in twenty); where
 * none does, what would do in the best one. */
static int put_bend(struct hand *h, const char *what, const struct bend_case *c,
                    struct error *err) {
    struct bend_try t[BEND_TRIES_MOST];
    struct error why = {0};
    double strain;
    size_t n = 0, best = 0;
    bool goes = false;
    int rc = bend_tries(t, &n, &strain, h->shelf, c, &why);
    if (rc == ERR_MEMORY) return fail_memory(err);
    if (rc || n == 0) {
        json_array_append_new(h->bends, json_pack("[s,s,s,s,s]", what, "",
                                                  rc ? why.message : "no limit is known", "", ""));
        return 0;
    }
    const char *cracks = "";
    for (size_t i = 0; i < n && cracks; i++) {
        cracks = arena_printf(h->r->arena, "%s%s%s %.0f %%", cracks, i ? ", " : "", t[i].state,
                              100 * t[i].cracks);
        if (!goes && t[i].cracks < t[best].cracks) best = i;
        goes |= t[best].cracks <= 0.05;
    }
    const char *instead =
        goes ? t[best].state
             : arena_printf(h->r->arena, "%s: %.2g mm thick, or to a radius of %.0f mm",
                            t[best].state, t[best].thickness_safe, t[best].radius_safe);
    if (!cracks || !instead) return fail_memory(err);
    json_array_append_new(h->bends, json_pack("[s,s,s,s,s]", what,
                                              arena_printf(h->r->arena, "%.2g", 100 * strain),
                                              cracks, instead, t[best].standing));
    return 0;
}

/* Least radius of the edge, by circles through points a twentieth of its length apart. */
static double tightest(const struct tuples *o) {
    double least = INFINITY;
    size_t step = o->n / 20 > 0 ? o->n / 20 : 1;
    for (size_t i = 0; i < o->n; i++) {
        const double *a = o->v + 2 * i, *b = o->v + 2 * ((i + step) % o->n),
                     *c = o->v + 2 * ((i + 2 * step) % o->n);
        double ab = hypot(b[0] - a[0], b[1] - a[1]), bc = hypot(c[0] - b[0], c[1] - b[1]),
               ac = hypot(c[0] - a[0], c[1] - a[1]),
               twice = fabs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
        if (twice > 0) least = fmin(least, ab * bc * ac / (2 * twice));
    }
    return least;
}

static int put_bends(struct hand *h, struct error *err) {
    const struct part *sheet = cut(h, PART_SHEET), *rim = cut(h, PART_RIM),
                      *lath = cut(h, PART_LATH), *coil = cut(h, PART_CENTRE);
    double t = h->x[IN_THICKNESS] / h->w->left.through, middle = h->x[IN_STEM] - t / 2, k;
    struct bend_case c = {.material = strength_bark(h->w, h->r->arena),
                          .class = STUFF_BARK,
                          .direction = STUFF_AROUND,
                          .layer = FIELD_UNKNOWN,
                          .thickness = t,
                          .from_curvature = 1 / middle};
    int rc =
        c.material ? put_bend(h, "the sheet flattened off its stem", &c, err) : fail_memory(err);
    c.class = STUFF_WOOD;
    c.direction = STUFF_ALONG;
    c.from_curvature = 0;
    if (!rc && rim && rim->width > 0) {
        c.material = strength_wood(rim);
        c.thickness = rim->width;
        c.to_curvature = 1 / tightest(&sheet->points);
        rc = put_bend(h,
                      arena_printf(h->r->arena, "the rim round its tightest bend, %.0f mm",
                                   1 / c.to_curvature),
                      &c, err);
    }
    size_t across = num_rows_find(h->r->rows, "shape.made.bend_across");
    if (!rc && lath && across != NUM_NO_COLUMN) {
        k = fabs(remains_spread(h->r->rows, across).p50) / 1000;
        c.material = strength_wood(lath);
        c.thickness = h->x[IN_LATH];
        c.to_curvature = k;
        if (k > 0) rc = put_bend(h, "a lath bent with the sheet, dry", &c, err);
    }
    if (!rc && coil && coil->inner_diameter > 0 && coil->thickness > 0) {
        c.material = strength_wood(coil);
        c.thickness = coil->thickness;
        c.to_curvature = 2 / (coil->inner_diameter + coil->thickness);
        rc = put_bend(h, "the coil's first round", &c, err);
    }
    return rc;
}

/* Row: the stem's radius, the sheet's thickness as it is cut. */
static double flattening(const double *row, void *context) {
    const size_t *col = context;
    double t = row[col[1]];
    return 100 * bend_strain(t, 1 / fmax(row[col[0]] - t / 2, t), 0);
}

static int say_flattening(struct hand *h, struct error *err) {
    size_t *from = ARENA_NEW(h->r->arena, size_t, 2), col;
    if (!from) return fail_memory(err);
    from[0] = h->in->col[IN_STEM], from[1] = h->in->cut_thickness;
    int rc =
        num_rows_derive(h->r->rows, "strength.flattening", from, 2, flattening, from, &col, err);
    if (rc) return rc;
    struct statement s = statement_blank();
    s.id = "strength.flattening";
    s.step = "strength";
    s.about = "object";
    s.quantity = "strain";
    s.sentence = "Flattened off its stem, the sheet's inner face is stretched by this much.";
    s.unit = "percent";
    s.state = "fresh";
    s.footing = FOOTING_WORKED_OUT;
    s.value = remains_spread(h->r->rows, col);
    s.rule = "thickness over the diameter of its middle; the table of bends lays it beside the "
             "limits of fresh, soaked, steamed and dry bark";
    s.source = "doc/shell.md";
    s.column = "strength.flattening";
    if (statement_find(h->r->said, "strength.stem"))
        rc = statement_link_add(&s, "statement", "strength.stem", "stem", h->r->arena, err);
    return rc ? rc : statement_add(h->r->said, &s, err);
}

/* ---- balance -------------------------------------------------------------------------------- */

enum { WEIGHED = 64 };

/* Parts whose mass and place do not depend on a possible original but for its scale and density. */
struct weighed {
    size_t n;
    struct weighed_part {
        double volume, at[2]; /* mm3, mm, as proposed and dry */
        int density, size;    /* inputs: of its stuff; what its volume goes with, -1: nothing */
        bool sheet;           /* its volume goes with length and width as well */
    } part[WEIGHED];
    double held[2], middle[INPUTS];
    size_t col[INPUTS];
};

static void weigh(struct weighed *w, double volume, int density, int size, const double at[2]) {
    if (!(volume > 0) || w->n == WEIGHED) return;
    w->part[w->n++] =
        (struct weighed_part){volume, {at[0], at[1]}, density, size, size == IN_THICKNESS};
}

/* Area and its middle of a closed outline (shoelace). */
static double area_of(const struct tuples *o, double middle[2]) {
    double area = 0;
    middle[0] = middle[1] = 0;
    for (size_t i = 0; i < o->n; i++) {
        const double *a = o->v + 2 * i, *b = o->v + 2 * ((i + 1) % o->n);
        double cross = a[0] * b[1] - b[0] * a[1];
        area += cross / 2;
        for (int c = 0; c < 2; c++)
            middle[c] += cross * (a[c] + b[c]) / 6;
    }
    for (int c = 0; c < 2; c++)
        middle[c] /= area;
    return fabs(area);
}

static void weigh_all(struct weighed *w, const struct hand *h) {
    double middle[2], area = area_of(&h->w->sheet->points, middle);
    weigh(w, area * h->x[IN_THICKNESS], IN_DENSITY, IN_THICKNESS, middle);
    for (const struct part *p = NULL;
         (p = makings_part(h->w->makings, h->w->making, FIELD_UNKNOWN, p));) {
        double at[2] = {isnan(p->x) ? middle[0] : p->x, isnan(p->y) ? middle[1] : p->y}, d;
        if (p->kind == PART_LATH)
            weigh(w, p->length * p->width * h->x[IN_LATH], IN_WOOD_DENSITY, IN_LATH, at);
        if (p->kind == PART_GRIP)
            weigh(w, p->length * p->width * p->thickness, IN_WOOD_DENSITY, -1, at);
        if (p->kind == PART_RIM)
            weigh(w, p->length * M_PI / 4 * p->width * p->thickness, IN_WOOD_DENSITY, -1, at);
        d = isnan(p->inner_diameter) ? 0 : p->inner_diameter;
        if (p->kind == PART_CENTRE)
            weigh(w, 0.75 * M_PI / 4 * (p->diameter * p->diameter - d * d) * p->thickness,
                  IN_WOOD_DENSITY, -1, at);
    }
}

/* Balance of one possible original, x [INPUTS]. */
static bool balance(struct hand_balance *out, const struct weighed *w, const double *x) {
    struct hand_part part[WEIGHED];
    struct error why = {0};
    double sx = x[IN_LENGTH] / w->middle[IN_LENGTH], sy = x[IN_WIDTH] / w->middle[IN_WIDTH];
    const double held[3] = {w->held[0] * sx, w->held[1] * sy, 0};
    for (size_t i = 0; i < w->n; i++) {
        const struct weighed_part *p = &w->part[i];
        double volume = p->volume * (p->size < 0 ? 1 : x[p->size] / w->middle[p->size]);
        part[i] = (struct hand_part){.mass = NAN,
                                     .volume = volume * (p->sheet ? sx * sy : 1),
                                     .density = x[p->density],
                                     .x = p->at[0] * sx,
                                     .y = p->at[1] * sy};
    }
    return hand_balance(out, part, w->n, held, 0.5, &why) == 0;
}

static double torque_of(const double *row, void *context) {
    const struct weighed *w = context;
    struct hand_balance b;
    double x[INPUTS];
    for (int k = 0; k < INPUTS; k++)
        x[k] = row[w->col[k]];
    return balance(&b, w, x) ? b.torque : NAN;
}

static int say_balance(struct hand *h, struct error *err) {
    const struct part *grip = makings_part(h->w->makings, h->w->making, PART_GRIP, NULL);
    struct weighed *w = ARENA_NEW(h->r->arena, struct weighed, 1);
    struct hand_balance b;
    size_t col;
    if (!grip) return 0;
    if (!w) return fail_memory(err);
    *w = (struct weighed){.held = {isnan(grip->x) ? 0 : grip->x, isnan(grip->y) ? 0 : grip->y}};
    memcpy(w->middle, h->x, sizeof w->middle);
    memcpy(w->col, h->in->col, sizeof w->col);
    weigh_all(w, h);
    if (!balance(&b, w, h->x)) return 0;
    int rc =
        num_rows_derive(h->r->rows, "strength.balance", w->col, INPUTS, torque_of, w, &col, err);
    if (rc) return rc;
    struct statement s = statement_blank();
    s.id = "strength.balance";
    s.step = "strength";
    s.about = "object";
    s.quantity = "moment in the wrist";
    s.sentence = "Held level by the middle of its grip, it asks this moment of the wrist.";
    s.unit = "N mm";
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = h->in->standing;
    s.value = remains_spread(h->r->rows, col);
    s.rule = arena_printf(h->r->arena,
                          "%.0f g whose middle lies %.0f mm along and %.0f mm across from the "
                          "grip's, in the middle of the possible originals",
                          b.mass, b.x - w->held[0], b.y - w->held[1]);
    s.column = "strength.balance";
    if (!s.rule) return fail_memory(err);
    rc = statement_link_add(&s, "part", grip->id, "where it is held", h->r->arena, err);
    if (!rc && statement_find(h->r->said, "strength.dry"))
        rc = statement_link_add(&s, "statement", "strength.dry", "sizes", h->r->arena, err);
    return rc ? rc : statement_add(h->r->said, &s, err);
}

int strength_hand(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err) {
    struct hand h = {.r = r, .w = work, .in = in, .shelf = shelf};
    strength_middle(in, h.x);
    h.bends = stage_table(r, "bends", "What is bent in the making, and whether it takes that",
                          "what|stretched by, percent|chance of a crack, by state|bend it|"
                          "standing of the limit");
    if (!h.bends) return fail_memory(err);
    int rc = put_bends(&h, err);
    if (!rc) rc = say_flattening(&h, err);
    return rc ? rc : say_balance(&h, err);
}
