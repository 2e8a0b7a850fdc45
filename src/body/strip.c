#include "body/strip.h"

#include "body/weakest.h"
#include "stuff/moisture.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { ALONG = 0, AROUND = 1, THROUGH = 2 };
#define DRY_WOOD 0.12 /* wood moisture that "dry" stands for in the tables */

struct strip_girth strip_girth_needed(double width, double shrink, double trim, double share) {
    double bark = width / (1 - shrink) + 2 * trim;
    return (struct strip_girth){bark, bark / share, bark / share / M_PI};
}

/* ---- one strip ------------------------------------------------------------------------------ */

/* Mechanics is summed at two Gauss points in each cell: exact for strains that vary evenly. */
enum { POINTS = 2 };

/* A point in one direction. */
struct depth {
    double memory; /* h */
    double links;  /* b */
    double extra;  /* E(m) - Ew when it was last looked at */
};

/* What the moisture of a cell makes of it, worked out once a step. */
struct cell {
    double e[2], shrunk[2], relaxed, tau;
};

struct plane {
    double stretch, turn; /* of the fresh strip: strain at the inner face, change of curvature */
    struct depth *at;     /* [points] */
};

struct strip_state {
    struct strip s;
    struct stuff_moist *moist;
    size_t n;    /* cells */
    double *was; /* wood moisture of each cell at the last mechanics step */
    struct cell *cell;
    struct plane plane[2];
    double fresh_curvature, fresh_moisture;
    double held; /* change of curvature it is held at; NAN: free */
};

static int check_layer(const struct strip_layer *l, struct error *err) {
    for (int d = 0; d < 3; d++)
        if (!(l->dry[d] >= -0.2 && l->dry[d] < 0.9 && l->ovendry[d] >= l->dry[d] - 1e-9 &&
              l->ovendry[d] < 0.95))
            return fail(err, ERR_RANGE,
                        "Shrinkage to ovendry is at least that to 12 %, both under 1.",
                        "A shrinkage of %g to dry and %g to ovendry", l->dry[d], l->ovendry[d]);
    for (int d = 0; d < 2; d++)
        if (!(l->e_wet[d] > 0 && l->e_dry[d] >= l->e_wet[d] * 0.999 && isfinite(l->e_dry[d])))
            return fail(err, ERR_RANGE, "Dry stiffness is at least the wet one.",
                        "A stiffness of %g MPa wet and %g dry", l->e_wet[d], l->e_dry[d]);
    if (!(l->saturation > DRY_WOOD && l->saturation < 1))
        return fail(err, ERR_RANGE, "Fibre saturation lies between 12 and 100 %.",
                    "A fibre saturation of %g", l->saturation);
    return 0;
}

static void look_at_cells(struct strip_state *s);

int strip_new(struct strip_state **out, const struct strip *s, struct arena *arena,
              struct error *err) {
    *out = NULL;
    struct stuff_moist_layer layers[STRIP_LAYERS];
    double share = 0, whole = 0;
    if (s->layers < 1 || s->layers > STRIP_LAYERS)
        return fail(err, ERR_RANGE, "Give one or two layers.", "%zu layers", s->layers);
    for (size_t i = 0; i < s->layers; i++) {
        const struct strip_layer *l = &s->layer[i];
        int rc = check_layer(l, err);
        if (rc) return rc;
        layers[i] = (struct stuff_moist_layer){.thickness = l->thickness,
                                               .diffusion = l->diffusion,
                                               .free = l->free,
                                               .saturation = l->saturation,
                                               .density = l->density,
                                               .sorption = l->sorption,
                                               .cells = 16};
        share += l->thickness * l->density * l->sorption;
        whole += l->thickness * l->density;
    }
    if (!(s->moisture > 0 && s->moisture < 5) || !(s->surface > 0) || !(s->width > 0) ||
        !(s->length > 0) || !isfinite(s->curvature + s->growth))
        return fail(
            err, ERR_RANGE, "Moisture, surface coefficient, width and length must be above 0.",
            "A strip %g by %g mm at %g %% moisture", s->length, s->width, 100 * s->moisture);
    struct strip_state *st = ARENA_NEW(arena, struct strip_state, 1);
    if (!st) return fail_memory(err);
    st->s = *s;
    int rc = stuff_moist_new(&st->moist, layers, s->layers, arena, err);
    if (rc) return rc;
    st->n = stuff_moist_cells(st->moist);
    st->was = ARENA_NEW(arena, double, st->n);
    st->cell = ARENA_NEW(arena, struct cell, st->n);
    st->plane[0].at = ARENA_NEW(arena, struct depth, POINTS * st->n);
    st->plane[1].at = ARENA_NEW(arena, struct depth, POINTS * st->n);
    if (!st->was || !st->cell || !st->plane[0].at || !st->plane[1].at) return fail_memory(err);
    double wood =
        s->moisture * whole / share; /* even wood moisture that gives the mean asked for */
    stuff_moist_fill(st->moist, wood);
    for (size_t i = 0; i < st->n; i++)
        st->was[i] = wood;
    st->fresh_moisture = wood;
    double thickness = 0;
    for (size_t i = 0; i < s->layers; i++)
        thickness += s->layer[i].thickness;
    /* The stretched outer face springs back on peeling and opens the sheet. */
    st->fresh_curvature = s->curvature - s->growth / thickness;
    st->held = NAN;
    look_at_cells(st);
    *out = st;
    return 0;
}

static const struct strip_layer *layer_of(const struct strip_state *s, size_t cell) {
    return &s->s.layer[stuff_moist_layer_of(s->moist, cell)];
}

/* Shrinkage of a depth at a wood moisture. Below saturation straight through the two tabled points;
 * what is left there has gone by collapse between fresh and saturation. */
static double shrunk(const struct strip_state *s, const struct strip_layer *l, int direction,
                     double u) {
    double slope = (l->ovendry[direction] - l->dry[direction]) / DRY_WOOD;
    double collapse = l->dry[direction] - slope * (l->saturation - DRY_WOOD);
    if (collapse < 0) { /* two points that ask for less than none: one straight line to dry */
        collapse = 0;
        slope = l->ovendry[direction] / l->saturation;
    }
    if (u <= l->saturation) return collapse + slope * (l->saturation - u);
    double wet = s->fresh_moisture - l->saturation;
    return wet > 0 ? collapse * fmax(0, s->fresh_moisture - u) / wet : 0;
}

/* 0 wet to 1 dry (12 % and under), for what changes with moisture on a logarithmic scale. */
static double dryness(const struct strip_layer *l, double u) {
    return fmin(1, fmax(0, (l->saturation - u) / (l->saturation - DRY_WOOD)));
}

static double between(double wet, double dry, double share) {
    return wet * pow(dry / wet, share);
}

void strip_hold(struct strip_state *s, double curvature) {
    s->held = curvature - s->fresh_curvature;
}
void strip_release(struct strip_state *s) {
    s->held = NAN;
}

/* Curvature that the rings of a wooden lath give it: they shrink around more than through. */
static double ring_cup(const struct strip_state *s) {
    if (!(s->s.ring_radius > 0) || isinf(s->s.ring_radius)) return 0;
    const struct strip_layer *l = &s->s.layer[0];
    double u = stuff_moist_layer_mean(s->moist, 0);
    return -(shrunk(s, l, AROUND, u) - shrunk(s, l, THROUGH, u)) / s->s.ring_radius;
}

static void look_at_cells(struct strip_state *s) {
    for (size_t i = 0; i < s->n; i++) {
        const struct strip_layer *l = layer_of(s, i);
        struct cell *c = &s->cell[i];
        double u = stuff_moist_at(s->moist, i), dry = dryness(l, u);
        for (int d = 0; d < 2; d++) {
            c->e[d] = between(l->e_wet[d], l->e_dry[d], dry);
            c->shrunk[d] = shrunk(s, l, d, u);
        }
        c->relaxed = s->s.relaxed[0] * (1 - dry) + s->s.relaxed[1] * dry;
        c->tau = between(s->s.tau[0], s->s.tau[1], dry);
    }
}

/* Depth of a point from the inner face. */
static double depth_of(const struct strip_state *s, size_t point) {
    size_t cell = point / POINTS;
    double off = stuff_moist_h(s->moist, cell) / (2 * sqrt(3));
    return stuff_moist_z(s->moist, cell) + (point % POINTS ? off : -off);
}

/* Force and moment balance of one direction: stretch and turn of the strip. */
static void balance(struct strip_state *s, int direction) {
    struct plane *p = &s->plane[direction];
    double a = 0, b = 0, d = 0, n = 0, m = 0;
    for (size_t i = 0; i < s->n; i++) {
        const struct strip_layer *l = layer_of(s, i);
        const struct cell *c = &s->cell[i];
        double h = stuff_moist_h(s->moist, i) / POINTS;
        double e = c->e[direction], e_sh = -c->shrunk[direction];
        double soft = l->e_wet[direction] * c->relaxed;
        for (size_t k = POINTS * i; k < POINTS * (i + 1); k++) {
            double z = depth_of(s, k);
            double rest = e * e_sh + soft * p->at[k].memory + p->at[k].links;
            a += e * h;
            b += e * h * z;
            d += e * h * z * z;
            n += rest * h;
            m += rest * h * z;
        }
    }
    bool held = direction == AROUND && !isnan(s->held);
    if (held) {
        p->turn = s->held;
        p->stretch = (n - b * p->turn) / a;
        return;
    }
    double det = a * d - b * b;
    p->stretch = (n * d - m * b) / det;
    p->turn = (a * m - b * n) / det;
}

/* Memory and links of the points of one cell over dt, after its moisture has gone from `was` to u.
 */
static void age(struct strip_state *s, int direction, size_t cell, double dt) {
    const struct strip_layer *l = layer_of(s, cell);
    const struct plane *p = &s->plane[direction];
    const struct cell *c = &s->cell[cell];
    double u = stuff_moist_at(s->moist, cell), e_sh = -c->shrunk[direction];
    double moved = fabs(fmin(u, l->saturation) - fmin(s->was[cell], l->saturation));
    double share = 1 - exp(-dt / c->tau - s->s.sorptive * moved);
    double extra = c->e[direction] - l->e_wet[direction];
    for (size_t k = POINTS * cell; k < POINTS * (cell + 1); k++) {
        struct depth *at = &p->at[k];
        double x = p->stretch + p->turn * depth_of(s, k) - e_sh; /* mechanical strain */
        at->memory += (x - at->memory) * share;
        if (extra > at->extra)
            at->links += (extra - at->extra) * x;
        else if (at->extra > 0)
            at->links *= extra / at->extra;
        at->extra = extra;
    }
}

static void mechanics(struct strip_state *s, double dt) {
    look_at_cells(s);
    for (int d = 0; d < 2; d++) {
        balance(s, d);
        for (size_t i = 0; i < s->n; i++)
            age(s, d, i, dt);
    }
    for (size_t i = 0; i < s->n; i++)
        s->was[i] = stuff_moist_at(s->moist, i);
}

void strip_step(struct strip_state *s, double dt, const struct strip_air *air) {
    double rest = stuff_emc(air->temperature, air->humidity);
    struct stuff_moist_face inner = {air->inner_open ? s->s.surface : 0, rest};
    struct stuff_moist_face outer = {air->outer_open ? s->s.surface : 0, rest};
    stuff_moist_step(s->moist, dt, inner, outer);
    mechanics(s, dt);
}

void strip_wait(struct strip_state *s, double dt) {
    mechanics(s, dt);
}

/* Height of an arc of this length and curvature over its chord. */
static double rise_of(double arc, double curvature) {
    double angle = fabs(arc * curvature);
    if (angle >= 2 * M_PI || angle > M_PI) return NAN;
    if (angle < 1e-9) return 0;
    return (1 - cos(angle / 2)) / fabs(curvature);
}

struct strip_day strip_look(const struct strip_state *s, double day) {
    struct strip_state now = *s; /* balance writes stretch and turn only */
    balance(&now, ALONG);
    balance(&now, AROUND);
    struct strip_day d = {.day = day, .held = !isnan(s->held)};
    double thickness = 0, fresh = 0;
    for (size_t i = 0; i < s->n; i++) {
        double h = stuff_moist_h(s->moist, i);
        fresh += h;
        thickness += h * (1 - shrunk(s, layer_of(s, i), THROUGH, stuff_moist_at(s->moist, i)));
    }
    d.moisture = stuff_moist_mean(s->moist);
    d.mass = (1 + d.moisture) / (1 + s->s.moisture);
    const struct plane *a = &now.plane[ALONG], *r = &now.plane[AROUND];
    d.length = s->s.length * (1 + a->stretch + a->turn * fresh / 2);
    d.width = s->s.width * (1 + r->stretch + r->turn * fresh / 2);
    d.thickness = thickness;
    d.curvature = s->fresh_curvature + r->turn + (d.held ? 0 : ring_cup(s));
    d.bow = a->turn;
    d.rise = rise_of(d.width, d.curvature);
    return d;
}

/* ---- from the tables ------------------------------------------------------------------------ */

enum { STRIP_DRAWS = 64, STRIP_DIMENSIONS = 12, FIGURES_MOST = 48 };

/* Figures of the tables, and which draw is being made. */
struct figures {
    const struct stuff_shelf *shelf;
    const struct strip_case *c;
    long class, standing;
    size_t draw;
    struct error *err;
    int rc;
    struct known {
        long property, layer, direction, state;
        struct num_dist dist;
    } known[FIGURES_MOST]; /* looked up once, drawn often */
    size_t n_known;
};

/* Looks a figure up, or takes the fallback where the tables have none (NAN: it is needed). */
static int look_up(struct figures *f, struct known *k, double fallback) {
    struct stuff_ask ask = stuff_ask(f->c->material, (enum stuff_property)k->property);
    ask.class = f->class;
    ask.layer = k->layer;
    ask.direction = k->direction;
    ask.state = k->state;
    struct stuff_prior p;
    struct error local = {0};
    int rc = stuff_material_prior(&p, f->shelf, &ask, &local);
    if (rc && isnan(fallback)) {
        if (f->err) *f->err = local;
        return rc;
    }
    k->dist = rc ? num_dist_fixed(fallback) : p.dist;
    long standing = rc ? STANDING_GUESS : p.standing;
    if (standing > f->standing) f->standing = standing;
    return 0;
}

/* A figure as draw number f->draw has it. Related figures (wet and dry stiffness, shrinkages of one
 * layer) share a point `same`, so that a stiff strip is stiff wet and dry. */
static double figure(struct figures *f, enum stuff_property property, long layer, long direction,
                     long state, size_t same, double fallback) {
    if (f->rc) return NAN;
    struct known *k = f->known, *end = f->known + f->n_known;
    while (k < end && (k->property != (long)property || k->layer != layer ||
                       k->direction != direction || k->state != state))
        k++;
    if (k == end) {
        assert(f->n_known < FIGURES_MOST);
        *k = (struct known){
            .property = property, .layer = layer, .direction = direction, .state = state};
        f->rc = look_up(f, k, fallback);
        if (f->rc) return NAN;
        f->n_known++;
    }
    return num_dist_quantile(&k->dist, body_even_point(f->draw, STRIP_DIMENSIONS, same));
}

static void shrinkages(struct figures *f, struct strip_layer *l, long layer, size_t same) {
    static const long directions[] = {STUFF_ALONG, STUFF_AROUND, STUFF_THROUGH};
    for (int d = 0; d < 3; d++) {
        l->dry[d] = figure(f, STUFF_SHRINKAGE, layer, directions[d], STUFF_DRY, same, NAN);
        l->ovendry[d] = figure(f, STUFF_SHRINKAGE, layer, directions[d], STUFF_OVENDRY, same, NAN);
        l->ovendry[d] = fmin(0.9, fmax(l->ovendry[d], l->dry[d]));
        l->dry[d] = fmin(l->dry[d], 0.85);
    }
}

static void layer_figures(struct figures *f, struct strip_layer *l, long layer, size_t first) {
    static const long directions[] = {STUFF_ALONG, STUFF_AROUND};
    shrinkages(f, l, layer, first);
    for (int d = 0; d < 2; d++) {
        l->e_wet[d] = figure(f, STUFF_E, layer, directions[d], STUFF_FRESH, first + 1, NAN);
        l->e_dry[d] = figure(f, STUFF_E, layer, directions[d], STUFF_DRY, first + 1, NAN);
        l->e_dry[d] = fmax(l->e_dry[d], l->e_wet[d]);
    }
    l->diffusion = figure(f, STUFF_DIFFUSION, layer, STUFF_THROUGH, STUFF_DRY, first + 2, NAN);
    l->free = figure(f, STUFF_DIFFUSION, layer, STUFF_THROUGH, STUFF_FRESH, first + 2, NAN);
    l->sorption = figure(f, STUFF_EMC_FACTOR, layer, FIELD_UNKNOWN, STUFF_DRY, first + 3, 1);
    double basic =
        figure(f, STUFF_DENSITY_BASIC, STUFF_WHOLE, FIELD_UNKNOWN, STUFF_FRESH, first + 3, 500e-6);
    l->density = basic;
    double fsp = figure(f, STUFF_SATURATION, layer, FIELD_UNKNOWN, STUFF_FRESH, first + 3, 0.28);
    /* wood moisture of the air in which the layer is saturated */
    l->saturation = fmin(0.6, fmax(0.14, fsp / l->sorption));
}

/* Pull of the memory per unit of moisture change. A guess: between none and twice this. */
#define SORPTIVE_MOST 4.0
#define SURFACE_FALLBACK 1.5e-4

static void whole_figures(struct figures *f, struct strip *s) {
    long around = STUFF_AROUND;
    s->surface =
        figure(f, STUFF_SURFACE, STUFF_WHOLE, STUFF_THROUGH, STUFF_DRY, 8, SURFACE_FALLBACK);
    s->relaxed[0] = figure(f, STUFF_RELAXED_SHARE, STUFF_WHOLE, around, STUFF_FRESH, 9, 0.5);
    s->relaxed[1] = figure(f, STUFF_RELAXED_SHARE, STUFF_WHOLE, around, STUFF_DRY, 9, 0.25);
    s->tau[0] = figure(f, STUFF_RELAXATION_TIME, STUFF_WHOLE, around, STUFF_FRESH, 10, 7200);
    s->tau[1] = figure(f, STUFF_RELAXATION_TIME, STUFF_WHOLE, around, STUFF_DRY, 10, 108000);
    s->sorptive = SORPTIVE_MOST * body_even_point(f->draw, STRIP_DIMENSIONS, 11);
    s->growth = 0;
    if (f->class == STUFF_BARK || f->class == STUFF_OUTER_BARK)
        s->growth = figure(f, STUFF_GROWTH_STRAIN, STUFF_WHOLE, around, STUFF_FRESH, 11, 0);
    s->moisture = f->c->moisture;
    if (isnan(s->moisture))
        s->moisture =
            figure(f, STUFF_MOISTURE_GREEN, STUFF_WHOLE, FIELD_UNKNOWN, STUFF_FRESH, 8, 0.9);
}

/* The person's own figures stand before the tables. */
static void own_figures(const struct strip_case *c, struct strip *s) {
    struct strip_layer *l = &s->layer[0];
    if (!isnan(c->diffusion)) l->diffusion = c->diffusion;
    if (isnan(c->shrinkage)) return;
    double ratio = l->dry[AROUND] > 0 ? l->ovendry[AROUND] / l->dry[AROUND] : 1.6;
    l->dry[AROUND] = c->shrinkage;
    l->ovendry[AROUND] = fmin(0.9, c->shrinkage * ratio);
}

static int draw_strip(struct figures *f, struct strip *s) {
    const struct strip_case *c = f->c;
    *s = (struct strip){.layers = 1,
                        .width = c->width,
                        .length = c->length,
                        .ring_radius = c->ring_radius,
                        .curvature = isnan(c->stem) ? 0 : 2 / (c->stem - c->thickness)};
    double outer = 0;
    bool bark = f->class == STUFF_BARK;
    if (bark)
        outer = isnan(c->outer_share)
                    ? figure(f, STUFF_OUTER_SHARE, STUFF_WHOLE, STUFF_THROUGH, STUFF_DRY, 7, 0.35)
                    : c->outer_share;
    outer = fmin(fmax(outer, 0), 0.97);
    layer_figures(f, &s->layer[0], bark ? STUFF_BAST_LAYER : STUFF_WHOLE, 0);
    s->layer[0].thickness = c->thickness * (1 - outer);
    if (outer > 0.01) {
        s->layers = 2;
        layer_figures(f, &s->layer[1], STUFF_OUTER_LAYER, 4);
        s->layer[1].thickness = c->thickness * outer;
    } else
        s->layer[0].thickness = c->thickness;
    whole_figures(f, s);
    own_figures(c, s);
    return f->rc;
}

int strip_draw(struct strip *out, long *standing, const struct stuff_shelf *shelf,
               const struct strip_case *c, size_t draw, struct error *err) {
    struct stuff_material m = stuff_material_read(shelf, c->material);
    struct figures f = {.shelf = shelf, .c = c, .err = err, .draw = draw};
    f.class = c->class != FIELD_UNKNOWN ? c->class : m.class;
    int rc = draw_strip(&f, out);
    if (f.standing > *standing) *standing = f.standing;
    return rc;
}

enum { STEPS_A_DAY = 24 };

static int one_strip(struct strip_day *days, const struct strip *s, const struct strip_case *c,
                     struct arena *arena, struct error *err) {
    struct strip_state *st;
    int rc = strip_new(&st, s, arena, err);
    if (rc) return rc;
    double former = isnan(c->former) || isinf(c->former) ? 0 : 1 / c->former;
    if (c->held_days > 0) strip_hold(st, former);
    strip_wait(st, 1);
    days[0] = strip_look(st, 0);
    for (size_t day = 1; day <= c->days; day++) {
        for (int k = 0; k < STEPS_A_DAY; k++) {
            double now = (double)(day - 1) + (double)k / STEPS_A_DAY;
            if (c->held_days > 0 && now >= c->held_days) strip_release(st);
            strip_step(st, 86400.0 / STEPS_A_DAY, &c->air[day - 1]);
        }
        if (c->held_days > 0 && (double)day >= c->held_days) strip_release(st);
        days[day] = strip_look(st, (double)day);
    }
    return 0;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* 5, 50 and 95 % points of one number of one day over the draws. */
static struct strip_band band(const struct strip_day *all, size_t stride, size_t day,
                              size_t offset) {
    double v[STRIP_DRAWS];
    for (size_t k = 0; k < STRIP_DRAWS; k++)
        v[k] = *(const double *)((const char *)&all[k * stride + day] + offset);
    qsort(v, STRIP_DRAWS, sizeof *v, ascending);
    /* the k-th of n draws stands at k/(n + 1): between them a new draw falls as often as said
     * (E. J. Gumbel, Statistics of Extremes, 1958; from memory) */
    double at = 0.05 * (STRIP_DRAWS + 1) - 1, part = at - floor(at);
    size_t k = (size_t)at, n = STRIP_DRAWS - 1;
    return (struct strip_band){v[k] + part * (v[k + 1] - v[k]),
                               (v[STRIP_DRAWS / 2 - 1] + v[STRIP_DRAWS / 2]) / 2,
                               v[n - k] - part * (v[n - k] - v[n - k - 1])};
}

static int case_check(const struct strip_case *c, struct error *err) {
    if (!(c->thickness > 0.05 && c->thickness < 100) || !(c->width > 0) || !(c->length > 0))
        return fail(err, ERR_RANGE, "Measure the fresh strip in mm.", "A strip %g x %g x %g mm",
                    c->length, c->width, c->thickness);
    if (c->stem <= 2 * c->thickness || c->width > M_PI * c->stem)
        return fail(err, ERR_RANGE,
                    "Check the diameter over bark; a sheet is no wider than the girth.",
                    "A strip %g mm wide and %g mm thick from a stem of %g mm", c->width,
                    c->thickness, c->stem);
    if (!c->days || c->days > 400)
        return fail(err, ERR_RANGE, "Ask for 1 to 400 days.", "%zu days", c->days);
    for (size_t i = 0; i < c->days; i++)
        if (!(c->air[i].humidity >= 0 && c->air[i].humidity < 0.995) ||
            !(c->air[i].temperature > -20 && c->air[i].temperature < 100))
            return fail(err, ERR_RANGE, "Give temperature in C and humidity below 99.5 %.",
                        "Day %zu: %g C and %g %%", i + 1, c->air[i].temperature,
                        100 * c->air[i].humidity);
    return 0;
}

int strip_days(struct strip_outcome *out, long *standing, const struct stuff_shelf *shelf,
               const struct strip_case *c, struct arena *arena, struct error *err) {
    int rc = case_check(c, err);
    if (rc) return rc;
    struct stuff_material m = stuff_material_read(shelf, c->material);
    struct figures f = {.shelf = shelf, .c = c, .err = err};
    f.class = c->class != FIELD_UNKNOWN ? c->class : m.class;
    size_t stride = c->days + 1;
    struct strip_day *all = ARENA_NEW(arena, struct strip_day, STRIP_DRAWS * stride);
    if (!all) return fail_memory(err);
    for (f.draw = 0; f.draw < STRIP_DRAWS && !rc; f.draw++) {
        struct strip s;
        struct arena *own = arena_new();
        if (!own) return fail_memory(err);
        rc = draw_strip(&f, &s);
        if (!rc) rc = one_strip(all + f.draw * stride, &s, c, own, err);
        arena_free(own);
    }
    if (rc) return rc;
    *standing = f.standing;
    for (size_t day = 0; day < stride; day++) {
        struct strip_outcome *o = &out[day];
        o->day = (double)day;
        o->held = all[day].held;
        o->moisture = band(all, stride, day, offsetof(struct strip_day, moisture));
        o->mass = band(all, stride, day, offsetof(struct strip_day, mass));
        o->width = band(all, stride, day, offsetof(struct strip_day, width));
        o->length = band(all, stride, day, offsetof(struct strip_day, length));
        o->thickness = band(all, stride, day, offsetof(struct strip_day, thickness));
        o->curvature = band(all, stride, day, offsetof(struct strip_day, curvature));
        o->rise = rise_of(o->width.p50, o->curvature.p50);
    }
    return 0;
}
