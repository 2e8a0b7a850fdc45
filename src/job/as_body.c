#include "job/as_body.h"

#include <math.h>

/* N/mm: a tight lashing of bast or hide (common practice, no source; reference of mechanics gives
 * 1e2 to 1e4 for tight ones). */
static const double lashing = 200;
/* mm of way of a loose tie of which nothing else is said: it lies on and pulls only. */
static const double touching = 0.05;

double as_body_tie(double slack) {
    return 1 / (1 / lashing + fmax(slack, 0) / 10);
}

struct reading {
    const struct makings *all;
    const char *making;
    const struct as_body_stuff *stuff;
    const struct as_body_change *change;
    double sx, sy; /* outline asked for over outline laid out */
    struct body_sheet *out;
    struct body_sheet_lath *lath; /* [room]; the body's are those taken of them */
    struct arena *arena;
};

static double or_else(double v, double otherwise) {
    return isnan(v) ? otherwise : v;
}

static const struct part *first(const struct reading *r, long kind) {
    return makings_part(r->all, r->making, kind, NULL);
}

/* Cork and bast as two layers, when the making says how much cork there is or where it is gone: the
 * whole as stiff as asked for with cork's usual share (stuff_bark_stiffness turned round). */
static void put_layers(struct reading *r, const struct part *p) {
    const struct as_body_stuff *s = r->stuff;
    struct body_ply *ply = r->out->layer, whole = ply[0];
    double usual = s->outer_share, ratio = s->outer_ratio,
           share = isnan(p->cork) ? usual : fmin(p->cork, 0.95);
    if ((isnan(p->cork) && p->cork_at.n == 0) || !(usual < 1) || !(ratio > 0)) return;
    double bast = 1 / ((1 - usual) + usual * ratio);
    ply[0].e1 = whole.e1 * bast;
    ply[0].e2 = whole.e2 * bast;
    ply[0].g12 = whole.g12 * bast;
    if (!(share > 0)) return;
    ply[0].thickness = whole.thickness * (1 - share);
    /* cork is about the same all ways in its plane */
    double e = ratio * sqrt(ply[0].e1 * ply[0].e2);
    ply[1] = (struct body_ply){.e1 = e,
                               .e2 = e,
                               .nu12 = 0.2,
                               .g12 = e / 2.4,
                               .thickness = whole.thickness * share,
                               .density = whole.density};
    r->out->layers = 2;
}

static int put_places(struct reading *r, const struct part *p, struct error *err) {
    struct body_sheet *o = r->out;
    size_t thick = p->thickness_at.n, bare = o->layers > 1 ? p->cork_at.n : 0;
    struct body_sheet_place *reading = ARENA_NEW(r->arena, struct body_sheet_place, thick),
                            *bared = ARENA_NEW(r->arena, struct body_sheet_place, bare);
    if (!reading || !bared) return fail_memory(err);
    for (size_t i = 0; i < thick; i++) {
        const double *q = p->thickness_at.v + 3 * i;
        reading[i] = (struct body_sheet_place){.at = {q[0] * r->sx, q[1] * r->sy}, .value = q[2]};
    }
    for (size_t i = 0; i < bare; i++) {
        const double *q = p->cork_at.v + 4 * i;
        bared[i] = (struct body_sheet_place){
            .at = {q[0] * r->sx, q[1] * r->sy}, .radius = q[2] * r->sx, .value = q[3]};
    }
    o->reading = reading;
    o->readings = thick;
    o->bared = bared;
    o->bareds = bare;
    if (p->fissure_depth > 0 && p->fissure_spacing > 0) {
        /* a draw thinner than the sheet it was measured on keeps their share of it */
        double t = r->out->layer[0].thickness + (o->layers > 1 ? o->layer[1].thickness : 0),
               share = p->thickness > 0 ? p->fissure_depth / p->thickness : p->fissure_depth / t;
        o->fissures =
            (struct stuff_fissures){.depth = share * t,
                                    .spacing = p->fissure_spacing,
                                    .width = or_else(p->fissure_width, 0.2 * p->fissure_spacing)};
    }
    return 0;
}

static int put_sheet(struct reading *r, struct error *err) {
    const struct part *p = first(r, PART_SHEET);
    const struct as_body_stuff *s = r->stuff;
    if (!p || p->points.n < 3 || !(or_else(s->thickness, p->thickness) > 0))
        return fail(err, ERR_MISSING, "Give the making a sheet with an outline and a thickness.",
                    "Without a sheet there is no shape to work out.");
    r->sx = p->length > 0 ? or_else(s->length, p->length) / p->length : 1;
    r->sy = p->width > 0 ? or_else(s->width, p->width) / p->width : 1;
    double *xy = ARENA_NEW(r->arena, double, 2 * p->points.n);
    if (!xy) return fail_memory(err);
    for (size_t i = 0; i < p->points.n; i++) {
        xy[2 * i] = p->points.v[2 * i] * r->sx;
        xy[2 * i + 1] = p->points.v[2 * i + 1] * r->sy;
    }
    *r->out = (struct body_sheet){
        .outline = {xy, p->points.n}, .layers = 1, .grain = or_else(p->grain, 0)};
    /* 0.3 when pulled the stiffer way; nu21 = nu12 E2 / E1 keeps every pair of moduli possible */
    r->out->layer[0] = (struct body_ply){.e1 = s->e_along,
                                         .e2 = s->e_around,
                                         .nu12 = 0.3 * fmin(s->e_along / s->e_around, 1),
                                         .g12 = s->g,
                                         .thickness = or_else(s->thickness, p->thickness),
                                         .density = s->density};
    /* A sheet flattened and dried keeps what drying flat did not take; the outer face is convex. */
    r->out->curvature[1] = -(1 - s->set) / s->stem;
    put_layers(r, p);
    return put_places(r, p, err);
}

/* Room in a pocket: the making's, and what a lath put in green loses of its thickness. */
static double pocket_room(const struct reading *r, const struct part *p, double thickness) {
    if (p->holding != HOLDING_POCKET && p->holding != HOLDING_LOOSE) return 0;
    double made = r->change->other_room ? r->change->room : or_else(p->clearance, 0);
    return made + r->stuff->lath_shrinkage * thickness;
}

/* A lath in a pocket slides along it, rubs, or is held: the making's say, or what is asked. */
static void put_pull(struct body_sheet_lath *l, const struct reading *r, const struct part *p) {
    bool pocket = p->holding == HOLDING_POCKET || p->holding == HOLDING_LOOSE;
    enum as_body_pull pull = pocket ? r->change->pull : AS_BODY_AS_MADE;
    l->friction = pull == AS_BODY_RUBBING             ? r->change->friction
                  : pull == AS_BODY_AS_MADE && pocket ? or_else(p->friction, 0)
                                                      : 0;
    bool held = p->holding == HOLDING_SEWN || p->holding == HOLDING_PEGGED || pull == AS_BODY_HELD;
    l->gripped = held ? INFINITY : 0;
}

static void put_lath(struct reading *r, const struct part *p, double x, double thickness) {
    struct body_sheet *o = r->out;
    if (!(p->length > 0) || !(p->width > 0) || !(thickness > 0)) return;
    double a = or_else(p->angle, M_PI / 2), y = or_else(p->y, 0),
           h = p->length / 2 * (r->change->lath_length > 0 ? r->change->lath_length : 1);
    r->lath[o->laths] = (struct body_sheet_lath){
        .from = {(x - h * cos(a)) * r->sx, (y - h * sin(a)) * r->sy},
        .to = {(x + h * cos(a)) * r->sx, (y + h * sin(a)) * r->sy},
        .width = p->width,
        .thickness = thickness,
        .e = r->stuff->wood_e,
        .g = r->stuff->wood_g,
        .density = r->stuff->wood_density,
        .play = pocket_room(r, p, thickness),
        .cut = p->holding == HOLDING_POCKET ? or_else(p->cut, 0) : 0,
    };
    put_pull(&r->lath[o->laths++], r, p);
}

static double lath_thickness(const struct reading *r, const struct part *p) {
    double factor = r->change->lath_thickness > 0 ? r->change->lath_thickness : 1;
    return factor * or_else(r->stuff->lath_thickness, p->thickness);
}

/* Room across the sheet for a lath of width w at x, mm; 0 outside. */
static double room(const struct reading *r, double x) {
    const struct tuples *o = &first(r, PART_SHEET)->points;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < o->n; i++) {
        const double *a = o->v + 2 * i, *b = o->v + 2 * ((i + 1) % o->n);
        if ((a[0] - x) * (b[0] - x) > 0 || a[0] == b[0]) continue;
        double y = a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
        low = fmin(low, y);
        high = fmax(high, y);
    }
    return high > low ? high - low : 0;
}

/* Another number of laths across: at even spacing over the same stretch, each as long as the sheet
 * is wide there less what the making's own laths leave. */
static void put_counted(struct reading *r) {
    const struct part *p = first(r, PART_LATH);
    double lo = INFINITY, hi = -INFINITY, inset = 0, n = 0;
    for (const struct part *q = p; q; q = makings_part(r->all, r->making, PART_LATH, q)) {
        lo = fmin(lo, or_else(q->x, 0));
        hi = fmax(hi, or_else(q->x, 0));
        inset += room(r, or_else(q->x, 0)) - q->length;
        n++;
    }
    double pitch = n > 1 ? (hi - lo) / (n - 1) : 0;
    double whole = (hi - lo + pitch); /* each lath serves its share of the sheet */
    for (size_t i = 0; p && i < r->change->lath_count; i++) {
        struct part one = *p;
        double x =
            (lo + hi) / 2 + whole * (((double)i + 0.5) / (double)r->change->lath_count - 0.5);
        one.length = room(r, x) - inset / n;
        put_lath(r, &one, x, lath_thickness(r, p));
    }
}

static int put_laths(struct reading *r, struct error *err) {
    if (r->change->no_laths) return 0;
    size_t room = r->change->lath_count;
    const struct part *p = NULL;
    while (!r->change->lath_count && (p = makings_part(r->all, r->making, PART_LATH, p)))
        room++;
    r->out->lath = r->lath = ARENA_NEW(r->arena, struct body_sheet_lath, room);
    if (!r->lath) return fail_memory(err);
    if (r->change->lath_count)
        put_counted(r);
    else
        while ((p = makings_part(r->all, r->making, PART_LATH, p)))
            put_lath(r, p, or_else(p->x, 0), lath_thickness(r, p));
    return 0;
}

/* A rod not much more than half as thick as it is wide was split: by the side it lies on. */
static enum body_rim_form rim_form(const struct part *p) {
    if (!(p->thickness > 0) || p->thickness > 0.65 * p->width) return BODY_RIM_ROUND;
    return p->side == SIDE_OUTER   ? BODY_RIM_OUTER
           : p->side == SIDE_INNER ? BODY_RIM_INNER
                                   : BODY_RIM_HALVES;
}

/* Rods one after another round the edge count as one of their mean stiffness: d^4 by length. Two
 * half rods, one on each face, work as one as far as their ties let them. */
static void put_rim(struct reading *r) {
    if (r->change->no_rim) return;
    double length = 0, fourth = 0, round = 0;
    enum body_rim_form form = BODY_RIM_ROUND;
    for (const struct part *p = NULL; (p = makings_part(r->all, r->making, PART_RIM, p));) {
        if (!(p->width > 0)) continue;
        double l = p->length > 0 ? p->length : 1;
        if (length == 0) form = rim_form(p);
        round += p->length > 0 ? p->length : 0;
        length += l;
        fourth += l * pow(p->width, 4);
    }
    if (!(length > 0)) return;
    const struct part *tie = first(r, PART_TIE);
    struct body_sheet *o = r->out;
    double every = r->change->tie_every > 0 ? r->change->tie_every
                   : tie && tie->pitch > 0  ? tie->pitch
                                            : 0;
    o->rim = every > 0 ? BODY_RIM_TIED : BODY_RIM_SEWN;
    o->rim_diameter = pow(fourth / length, 0.25);
    o->rim_e = r->stuff->wood_e;
    o->rim_g = r->stuff->wood_g;
    o->rim_density = r->stuff->wood_density;
    o->rim_set = 1;
    o->rim_form = form;
    o->tie_every = every;
    /* Loose ties pull only, and only when the way left to them is used up; tight ones hold every
     * way, softer where they slackened. */
    bool loose = tie && tie->holding == HOLDING_LOOSE;
    o->tie_slack = loose ? fmax(or_else(tie->clearance, 0) + r->stuff->rim_slack, touching) : 0;
    o->tie_stiffness = as_body_tie(loose ? 0 : r->stuff->rim_slack);
    o->tie_group = r->change->tie_group    ? r->change->tie_group
                   : tie && tie->group > 1 ? (size_t)tie->group
                                           : 1;
    /* half a wave of the rim's bend: a quarter of the way round */
    o->rim_joint =
        every > 0 ? body_rim_joint(o->rim_e, o->rim_diameter, every, o->tie_stiffness, round / 4)
                  : 1;
}

/* A bar over two seats a bar's width long at its ends; lashings at both sides of a seat hold the
 * sheet to it with 2 k (w/2)^2 a radian. Pegs, seams and glue keep the seats' distance, ties let
 * them slide. */
static void put_grip(struct reading *r) {
    const struct part *p = first(r, PART_GRIP);
    if (!p || r->change->no_grip || !(p->length > 0) || !(p->width > 0)) return;
    struct body_sheet *o = r->out;
    double a = or_else(p->angle, 0), x = or_else(p->x, 0), y = or_else(p->y, 0),
           w = fmin(p->width, p->length / 3), h = (p->length - w) / 2;
    o->grip = 1;
    for (int k = 0; k < 2; k++) {
        o->seat[k][0] = (x + (k ? h : -h) * cos(a)) * r->sx;
        o->seat[k][1] = (y + (k ? h : -h) * sin(a)) * r->sy;
    }
    o->seat_radius = w / 2;
    bool held = p->holding == HOLDING_PEGGED || p->holding == HOLDING_SEWN;
    o->grip_chord = held ? hypot(o->seat[1][0] - o->seat[0][0], o->seat[1][1] - o->seat[0][1]) : 0;
    o->grip_slope = or_else(r->stuff->chamfer, 0);
    o->grip_moment = 2 * lashing * w * w / 4;
    o->grip_hold = held ? 10 * lashing : 0; /* pegs give less than cord */
    if (p->thickness > 0) {
        o->grip_ei = r->stuff->wood_e * p->width * pow(p->thickness, 3) / 12;
        o->other_mass += r->stuff->wood_density * p->length * p->width * p->thickness;
    }
}

/* A flat coil sewn on: its rods run round and are bound side by side, so that it is as stiff round
 * as wood filled to three quarters and far less so across its rounds (a tenth: a guess between
 * loose and glued rounds). One lying over the middle of a grip's ground still counts whole. */
static void put_centre(struct reading *r) {
    const struct part *p = first(r, PART_CENTRE);
    if (!p || r->change->no_centre || !(p->diameter > 0) || !(p->thickness > 0)) return;
    double e = 0.75 * r->stuff->wood_e, inner = or_else(p->inner_diameter, 0) / 2;
    if (!(p->diameter / 2 > inner)) return;
    r->out->ring = (struct body_sheet_ring){.at = {or_else(p->x, 0), or_else(p->y, 0)},
                                            .inner = inner,
                                            .outer = p->diameter / 2,
                                            .thickness = p->thickness,
                                            .e_round = e,
                                            .e_radial = e / 10,
                                            .g = e / 16,
                                            .density = 0.75 * r->stuff->wood_density};
}

int as_body_sheet(struct body_sheet *out, const struct makings *makings, const char *making,
                  const struct as_body_stuff *stuff, const struct as_body_change *change,
                  struct arena *arena, struct error *err) {
    static const struct as_body_change none;
    struct reading r = {.all = makings,
                        .making = making,
                        .stuff = stuff,
                        .change = change ? change : &none,
                        .out = out,
                        .arena = arena};
    int rc = put_sheet(&r, err);
    if (!rc) rc = put_laths(&r, err);
    if (rc) return rc;
    put_rim(&r);
    put_grip(&r);
    put_centre(&r);
    return 0;
}
