/* The order of work on the leading making: off the stem, flattened, laths in, rim on, dried, then a
 * year of damp and dry rooms; its shape by day over some of the possible originals.
 *
 * Read from the making's steps: days and hours give the time, a lower limit of moisture keeps it
 * damp, an upper one or none lets it dry, the last step that names a kind of part puts it in. A
 * step whose words hold the sheet flat (held.h), or its edges, does so until the sheet is handled
 * again. What the shell does not follow is told in the table's note: the
 * coil (it is counted in the final shape, not here), growth strain. */
#include "job/strength.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "body/drying.h"
#include "body/part.h"
#include "body/strip.h"
#include "job/held.h"
#include "num/emulator.h"
#include "num/random.h"
#include "num/weighted.h"
#include "stuff/moisture.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The densities, last of the inputs, make it heavier and no other shape. */
enum { SHAPED = IN_DENSITY };
enum {
    DRAWS = 32,
    MOST = 48,
    PROBES = 3,
    DOINGS = STRENGTH_DOINGS,
    NET = 300,
    FORM_NET = 1200,
    PRESS = 6
};

enum put { PUT_NONE, PUT_LATHS, PUT_RIM, PUT_GRIP };

/* One thing in order. */
struct doing {
    const char *what;
    double days;     /* of waiting and work */
    double humidity; /* of the air it stands in, fraction; 0: wrapped, no air gets at it */
    enum held held;  /* under weights from here on */
    bool free;       /* taken out from under them */
    enum put put[3];
    size_t puts;
};

struct plan {
    const struct stage_run *r;
    const struct strength_work *work;
    const struct strength_inputs *in;
    const struct stuff_shelf *shelf;
    struct doing doing[DOINGS];
    size_t n, left_out; /* steps past the room there is */
    const char *bark;
    double outer_share; /* of the sheet's thickness; NAN: from the tables */
};

/* ---- reading the steps ---------------------------------------------------------------------- */

static double or0(double v) {
    return isnan(v) ? 0 : v;
}

/* Humidity of a room: of storage between seasons, taken as 55 % (common practice, no source). */
static const double room = 0.55;

static void read_steps(struct plan *p) {
    const struct strength_work *w = p->work;
    const struct step *s;
    bool held = false;
    for (size_t k = 0; (s = strength_step(w, k)); k++) {
        if (p->n == DOINGS - 3) {
            p->left_out++;
            continue;
        }
        bool sheet = strength_step_names(w, s, PART_SHEET);
        struct doing d = {.what = s->what ? s->what : s->id,
                          .days = or0(s->days) + or0(s->hours) / 8,
                          .humidity = isnan(s->moisture_min) && sheet ? room : 0,
                          .held = sheet ? held_by_words(s->what) : HELD_NOT};
        if (!isnan(s->moisture_max)) d.humidity = room;
        if (strength_step_last(w, k, PART_LATH)) d.put[d.puts++] = PUT_LATHS;
        bool tied = makings_part(w->makings, w->making, PART_TIE, NULL) != NULL;
        if (makings_part(w->makings, w->making, PART_RIM, NULL) &&
            strength_step_last(w, k, tied ? PART_TIE : PART_RIM))
            d.put[d.puts++] = PUT_RIM;
        if (strength_step_last(w, k, PART_GRIP)) d.put[d.puts++] = PUT_GRIP;
        /* what is done to the sheet, or with it, ends it */
        d.free = held && (sheet || d.puts || strength_step_names(w, s, PART_PAINT));
        held = d.held || (held && !d.free);
        p->doing[p->n++] = d;
    }
    p->doing[p->n++] = (struct doing){
        .what = "two months in a damp room (80 %)", .days = 60, .humidity = 0.80, .free = held};
    p->doing[p->n++] =
        (struct doing){.what = "two months in a dry room (35 %)", .days = 60, .humidity = 0.35};
    p->doing[p->n++] =
        (struct doing){.what = "two months in a store (50 %)", .days = 60, .humidity = 0.50};
}

/* ---- one sheet through it ------------------------------------------------------------------- */

enum look {
    LOOK_MOISTURE,
    LOOK_RISE,
    LOOK_EDGE_LIFT,
    LOOK_ACROSS,  /* 1/mm */
    LOOK_PULL,    /* largest of a tie by the edge it holds, N/mm */
    LOOK_BINDING, /* tighter by, a round of the rim's binding, mm; below 0: slack */
    LOOKS
};
_Static_assert((int)FORM_STATES >= DOINGS + 6, "a state of the form for each thing done");
_Static_assert((int)LOOKS == (int)STRENGTH_LOOKS, "what is looked at after each thing done");

static const struct {
    const char *id;
    double scale; /* told = scale * inside */
} looks[LOOKS] = {{"moisture", 100},     {"rise", 1},     {"edge_lift", 1},
                  {"bend_across", 1000}, {"tie_pull", 1}, {"binding", 1}};

/* Bars that hold the sheet flat both ways until they are taken away: straight and far stiffer than
 * bark. Two and two of them lie near its edges. They follow the laths. */
static int add_press(struct body_sheet *s, struct arena *arena, struct error *err) {
    struct body_sheet_lath *all = ARENA_NEW(arena, struct body_sheet_lath, s->laths + 2 * PRESS);
    if (!all) return fail_memory(err);
    for (size_t i = 0; i < s->laths; i++)
        all[i] = s->lath[i];
    double lo[2] = {INFINITY, INFINITY}, hi[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < s->outline.n; i++)
        for (int c = 0; c < 2; c++) {
            lo[c] = fmin(lo[c], s->outline.xy[2 * i + (size_t)c]);
            hi[c] = fmax(hi[c], s->outline.xy[2 * i + (size_t)c]);
        }
    for (int k = 0; k < 2 * PRESS; k++) {
        int c = k % 2, other = 1 - c; /* placed along c, lying along the other */
        double at = lo[c] + (hi[c] - lo[c]) * (k / 2 + 1) / (PRESS + 1.0);
        struct body_sheet_lath bar = {.width = 20, .thickness = 40, .e = 1e4, .g = 1e3};
        bar.from[c] = bar.to[c] = at;
        bar.from[other] = lo[other] - 1;
        bar.to[other] = hi[other] + 1;
        all[s->laths++] = bar;
    }
    s->lath = all;
    return 0;
}

/* The layers of bark as the tables' draw has them, scaled so that the whole is as stiff as this row
 * of the possible originals says. */
static void dress(struct body_sheet *sheet, struct body_drying *d, const struct strip *t,
                  const struct as_body_stuff *stuff) {
    double whole = 0, e[2] = {0, 0};
    for (size_t k = 0; k < t->layers; k++)
        whole += t->layer[k].thickness;
    for (size_t k = 0; k < t->layers; k++)
        for (int c = 0; c < 2; c++)
            e[c] += t->layer[k].e_dry[c] * t->layer[k].thickness / whole;
    *d = (struct body_drying){.zones = 1,
                              .layers = {t->layers},
                              .branches = 1,
                              .surface = t->surface,
                              .moisture = fmin(t->moisture / t->layer[0].sorption, 2),
                              .sorptive = t->sorptive};
    d->branch[0].share = fmin(t->relaxed[0], 0.9);
    d->branch[0].tau = t->tau[1] * pow(t->tau[1] / t->tau[0], 0.12 / 0.18);
    d->branch[0].wet = log10(t->tau[1] / t->tau[0]) / (0.30 - 0.12);
    double thickness = sheet->layer[0].thickness, density = sheet->layer[0].density;
    sheet->layers = t->layers;
    for (size_t k = 0; k < t->layers; k++) {
        const struct strip_layer *l = &t->layer[k];
        struct body_ply ply = {.e1 = l->e_dry[0] * stuff->e_along / e[0],
                               .e2 = l->e_dry[1] * stuff->e_around / e[1],
                               .g12 = stuff->g,
                               .thickness = thickness * l->thickness / whole,
                               .density = density};
        ply.nu12 = fmin(0.3, 0.8 * sqrt(ply.e1 / ply.e2));
        sheet->layer[k] = ply;
        d->layer[0][k] = (struct body_drying_layer){.ply = ply,
                                                    .diffusion = l->diffusion,
                                                    .free = l->free,
                                                    .density = l->density,
                                                    .sorption = l->sorption,
                                                    .saturation = l->saturation,
                                                    .shrink1 = l->ovendry[0],
                                                    .shrink2 = l->ovendry[1],
                                                    .wet1 = l->e_wet[0] / l->e_dry[0],
                                                    .wet2 = l->e_wet[1] / l->e_dry[1]};
    }
}

struct sheet_of {
    struct body_sheet_model *model;
    struct body_drying_run *run;
    const struct plan *plan;
    size_t laths;                /* of the making; the press's bars follow */
    double tie_every, tie_slack; /* of the making; slack above 0: loose ties, which pull only */
    bool tied;                   /* the rim is on */
    double binding;              /* a round of its binding is tighter by, mm */
    bool settled;                /* in equilibrium, and nothing was changed since */
};

static int begin(struct sheet_of *o, const struct plan *p, const double *x, size_t draw, size_t net,
                 struct arena *arena, struct error *err) {
    struct body_sheet sheet;
    struct as_body_stuff stuff = strength_stuff_fresh(p->work, x); /* dried by the run itself */
    const struct as_body_change change = {.no_centre = true};
    stuff.rim_slack = 0; /* it comes of the drying */
    stuff.set = 0;       /* the whole bend of the stem; what is set comes of the work */
    const struct strip_case c = {.material = p->bark,
                                 .class = FIELD_UNKNOWN,
                                 .thickness = stuff.thickness,
                                 .outer_share = p->outer_share,
                                 .width = 50,
                                 .length = 200,
                                 .stem = 2 * stuff.stem + stuff.thickness,
                                 .moisture = NAN,
                                 .diffusion = NAN,
                                 .shrinkage = NAN,
                                 .ring_radius = INFINITY};
    struct strip strip;
    struct body_drying drying;
    long standing = 0;
    int rc = as_body_sheet(&sheet, p->work->fresh, p->work->making, &stuff, &change, arena, err);
    if (!rc) rc = strip_draw(&strip, &standing, p->shelf, &c, draw, err);
    if (rc) return rc;
    dress(&sheet, &drying, &strip, &stuff);
    o->plan = p;
    o->laths = sheet.laths;
    o->tie_every = sheet.tie_every;
    o->tie_slack = sheet.tie_slack;
    rc = add_press(&sheet, arena, err);
    if (!rc) rc = body_sheet_new(&o->model, &sheet, net, err);
    struct body_shell *shell = o->model ? body_sheet_shell(o->model) : NULL;
    for (size_t k = 0; !rc && k < body_part_count(shell); k++)
        body_part_strength(shell, (int)k, 0);
    if (!rc) body_sheet_hold(o->model);
    if (!rc) rc = body_drying_new(&o->run, shell, &drying, err);
    return rc;
}

static void end(struct sheet_of *o) {
    body_drying_free(o->run);
    body_sheet_free(o->model);
}

/* Whoever presses a sheet or puts a part on lays it flat for it: the search for the new shape
 * begins there, not at the curl. */
static void lay_flat(struct sheet_of *o, const struct doing *d) {
    if (!d->held && d->puts == 0) return;
    o->settled = false;
    body_shell_reset(body_sheet_shell(o->model));
    body_sheet_hold(o->model);
}

static void strengthen(struct sheet_of *o, const struct doing *d) {
    struct body_shell *shell = body_sheet_shell(o->model);
    if (d->held || d->free || d->puts) o->settled = false;
    size_t laths = 0, all = 0;
    body_sheet_parts(o->model, &laths, &all);
    for (size_t k = 0; o->laths + k < laths && (d->held || d->free); k++) {
        bool outer = k / 2 == 0 || k / 2 == PRESS - 1;
        body_part_strength(shell, (int)(o->laths + k),
                           d->held == HELD_FLAT || (d->held == HELD_EDGES && outer));
    }
    for (size_t i = 0; i < d->puts; i++) {
        for (size_t k = 0; k < o->laths && d->put[i] == PUT_LATHS; k++)
            body_part_strength(shell, (int)k, 1);
        int grip = body_sheet_grip(o->model);
        for (size_t k = laths; k < all && d->put[i] == PUT_RIM; k++)
            if ((int)k != grip) body_part_strength(shell, (int)k, 1);
        if (d->put[i] == PUT_GRIP && grip >= 0) body_part_strength(shell, grip, 1);
    }
}

/* Thin strips and split rods follow the air within days; wrapped with the damp sheet they stay
 * wet. */
static void follow_binding(struct sheet_of *o, const struct doing *d) {
    for (size_t i = 0; i < d->puts; i++)
        o->tied |= d->put[i] == PUT_RIM;
    if (!o->tied || !(d->humidity > 0) || d->days < 1) return;
    double now = strength_binding_tighter(&o->plan->work->binding, stuff_emc(20, d->humidity));
    if (now == o->binding) return;
    o->settled = false;
    o->binding = now;
    if (o->tie_slack > 0)
        body_sheet_ties(o->model, 1, fmax(o->tie_slack - o->binding / 2, 1e-3));
    else
        body_sheet_ties(o->model, as_body_tie(-o->binding / 2) / as_body_tie(0), 0);
}

static int one_doing(double out[LOOKS], struct sheet_of *o, const struct doing *d,
                     struct error *err) {
    strengthen(o, d);
    follow_binding(o, d);
    lay_flat(o, d);
    const struct body_doing work[3] = {
        {.kind = BODY_DO_FACES, .name = d->what, .value = d->humidity > 0 ? 3 : 0},
        {.kind = o->settled ? BODY_DO_FACES : BODY_DO_SETTLE,
         .name = d->what,
         .value = d->humidity > 0 ? 3 : 0},
        {.kind = BODY_DO_WAIT,
         .name = d->what,
         .seconds = fmax(d->days, 0.01) * 86400,
         .air = d->humidity > 0 ? stuff_emc(20, d->humidity) : 0.3,
         .steps = d->humidity > 0 ? (d->days > 30 ? 6 : 3) : 1}};
    struct body_drying_day day[16];
    size_t n;
    int rc = body_drying_do(o->run, work, 3, day, 16, &n, err);
    if (rc) return rc;
    o->settled = true;
    struct body_sheet_out s;
    body_sheet_look(o->model, &s);
    out[LOOK_MOISTURE] = day[n < 16 ? n - 1 : 15].moisture;
    out[LOOK_RISE] = s.rise;
    out[LOOK_EDGE_LIFT] = s.edge_lift;
    out[LOOK_ACROSS] = s.curvature[1];
    out[LOOK_PULL] = o->tie_every > 0 ? body_sheet_tie_force(o->model) / o->tie_every : 0;
    out[LOOK_BINDING] = o->tied ? o->binding : 0;
    return 0;
}

static int whole_order(double (*out)[LOOKS], const struct plan *p, const double *x, size_t draw,
                       size_t net, struct error *err) {
    struct sheet_of o = {0};
    struct arena *arena = arena_new();
    int rc = arena ? begin(&o, p, x, draw, net, arena, err) : fail_memory(err);
    for (size_t k = 0; k < p->n && !rc; k++)
        rc = one_doing(out[k], &o, &p->doing[k], err);
    end(&o);
    arena_free(arena);
    return rc;
}

/* ---- over the possible originals ------------------------------------------------------------ */

struct crowd {
    const struct plan *p;
    size_t n; /* draws, MOST at most */
    double x[MOST][INPUTS];
    double look[MOST][DOINGS][LOOKS];                    /* NAN: not solved */
    double moved[DOINGS][LOOKS], scatter[DOINGS][LOOKS]; /* since the runs were made */
    const size_t *which;                                 /* draws to run */
    double (*out)[DOINGS][LOOKS];
    char (*why)[400];
    double finer[DOINGS][LOOKS]; /* over the runs' own: what the form's finer net makes of them */
    bool kept;                   /* the runs of the last time serve */
    bool compared;               /* the finer net could be laid beside the runs' own */
    size_t col[DOINGS][LOOKS];
};

static void run_draw(size_t begin_at, size_t end_at, size_t index, void *context) {
    (void)index;
    struct crowd *c = context;
    for (size_t i = begin_at; i < end_at; i++) {
        struct error err = {0};
        size_t draw = c->which[i];
        /* memory was gone: the step is refused, and no run changes that */
        int rc = mem_failures() != c->p->r->failures
                     ? fail_memory(&err)
                     : whole_order(c->out[i], c->p, c->x[draw], draw, NET, &err);
        for (size_t k = 0; k < c->p->n && rc; k++)
            for (int q = 0; q < LOOKS; q++)
                c->out[i][k][q] = NAN;
        if (rc) error_text(&err, c->why[i], sizeof c->why[i]);
    }
}

/* The inputs that shape it, of n rows of all. */
static void shaped(double *out, const double *x, size_t n) {
    for (size_t i = 0; i < n; i++)
        memcpy(out + i * SHAPED, x + i * INPUTS, SHAPED * sizeof *x);
}

static bool solved(const struct crowd *c, size_t draw) {
    return !isnan(c->look[draw][0][LOOK_RISE]);
}

/* Runs draws 0 to m - 1 of `which` into `out`, rounded as they are kept. */
static int run_some(struct crowd *c, const size_t *which, size_t m, double (*out)[DOINGS][LOOKS],
                    char (*why)[400], struct arena *arena) {
    c->which = which;
    c->out = out;
    c->why = why;
    parallel_for(m, 1, run_draw, c);
    for (size_t i = 0; i < m; i++)
        for (size_t k = 0; k < c->p->n; k++) {
            size_t n;
            const char *text = strength_numbers_text(out[i][k], LOOKS, arena);
            const double *v = text ? strength_numbers_text_read(&n, text, arena) : NULL;
            if (!v) return ERR_MEMORY;
            memcpy(out[i][k], v, sizeof out[i][k]);
        }
    return 0;
}

/* DRAWS of them where there are originals enough (strength_run_count says why). */
static int choose(struct crowd *c, const struct plan *p) {
    enum { ENOUGH = 1024, LEAST = 12 };
    size_t n = num_rows_count(p->r->rows), m;
    c->n = n >= ENOUGH ? DRAWS : DRAWS * n / ENOUGH < LEAST ? LEAST : DRAWS * n / ENOUGH;
    for (size_t i = 0; i < c->n; i++) {
        size_t row = i * n / c->n;
        const char *text = strength_numbers_text(p->in->all + row * INPUTS, INPUTS, p->r->arena);
        const double *v = text ? strength_numbers_text_read(&m, text, p->r->arena) : NULL;
        if (!v) return ERR_MEMORY;
        memcpy(c->x[i], v, sizeof c->x[i]);
    }
    return 0;
}

/* ---- runs of the last time ------------------------------------------------------------------ */

/* What a run means: the order of work and the bark. */
static const char *meaning(const struct plan *p) {
    const char *text = isnan(p->outer_share)
                           ? arena_printf(p->r->arena, "4: %s", p->bark)
                           : arena_printf(p->r->arena, "4: %s %.3g", p->bark, p->outer_share);
    for (size_t k = 0; k < p->n && text; k++) {
        const struct doing *d = &p->doing[k];
        const char *numbers =
            strength_numbers_text((double[]){d->days, d->humidity}, 2, p->r->arena);
        text = numbers ? arena_printf(p->r->arena, "%s; %s %d%d", text, numbers, d->held, d->free)
                       : NULL;
        for (size_t i = 0; i < d->puts && text; i++)
            text = arena_printf(p->r->arena, "%s %d", text, d->put[i]);
    }
    return text;
}

static bool read_before(struct crowd *old, const struct crowd *now, const char *means) {
    const struct plan *p = now->p;
    const json_t *json = json_object_get(json_object_get(p->r->before, "runs"), "days");
    const char *of = json_string_value(json_object_get(json, "inputs"));
    size_t nx, ny;
    if (!of || strcmp(of, means) != 0) return false;
    const double *x = strength_numbers_read(&nx, json_object_get(json, "x"), p->r->arena),
                 *y = strength_numbers_read(&ny, json_object_get(json, "y"), p->r->arena);
    old->n = nx / INPUTS;
    if (!x || !y || old->n < now->n || old->n > MOST || nx != old->n * INPUTS ||
        ny != old->n * p->n * LOOKS)
        return false;
    old->p = p;
    memcpy(old->x, x, old->n * sizeof old->x[0]);
    for (size_t i = 0; i < old->n; i++)
        memcpy(old->look[i], y + i * p->n * LOOKS, p->n * sizeof old->look[i][0]);
    return true;
}

static int keep_runs(const struct crowd *c, const char *means, struct error *err) {
    struct stage_run *r = (struct stage_run *)c->p->r;
    size_t n = c->p->n;
    double *y = ARENA_NEW(r->arena, double, c->n *n *LOOKS);
    if (!y) return fail_memory(err);
    for (size_t i = 0; i < c->n; i++)
        memcpy(y + i * n * LOOKS, c->look[i], n * sizeof c->look[i][0]);
    const char *xs = strength_numbers_text(&c->x[0][0], c->n * INPUTS, r->arena),
               *ys = strength_numbers_text(y, c->n * n * LOOKS, r->arena);
    json_t *all = json_object_get(r->result, "runs"),
           *one = xs && ys ? json_pack("{s:s,s:s,s:s}", "inputs", means, "x", xs, "y", ys) : NULL;
    if (!all) {
        all = json_object();
        json_object_set_new(r->result, "runs", all);
    }
    return one && json_object_set_new(all, "days", one) == 0 ? 0 : fail_memory(err);
}

/* Of 32 draws in ten inputs about every fourth of another such set lies outside the hull; since no
 * answer leaves what the runs gave (`column`), only those well outside are run. */
static const double WIDER = 1.5;

/* Some of the old runs made again as it is built now; they all serve when the rises moved alike.
 * New draws outside their hull are run and added. */
static bool still_serve(struct crowd *old, const struct crowd *now, struct arena *arena) {
    size_t which[PROBES + DRAWS];
    double(*again)[DOINGS][LOOKS] = arena_alloc(arena, PROBES + DRAWS, sizeof *again);
    char(*why)[400] = arena_alloc(arena, PROBES + DRAWS, sizeof *why);
    if (!again || !why) return false;
    size_t outside[DRAWS], more = 0;
    double x[SHAPED], known[MOST * SHAPED];
    shaped(known, &old->x[0][0], old->n);
    for (size_t i = 0; i < now->n; i++) {
        shaped(x, now->x[i], 1);
        if (!body_controls_inside(x, 1, known, old->n, SHAPED, WIDER)) outside[more++] = i;
    }
    if (old->n + more > MOST) return false;
    for (size_t i = 0; i < PROBES; i++) {
        which[i] = (2 * i + 1) * now->n / (2 * PROBES);
        if (!solved(old, which[i])) return false;
    }
    for (size_t i = 0; i < more; i++) {
        which[PROBES + i] = old->n + i;
        memcpy(old->x[old->n + i], now->x[outside[i]], sizeof old->x[0]);
    }
    if (run_some(old, which, PROBES + more, again, why, arena)) return false;
    for (size_t k = 0; k < old->p->n; k++)
        for (int q = 0; q < LOOKS; q++) {
            double sum = 0, square = 0, low = INFINITY, high = -INFINITY;
            for (size_t i = 0; i < PROBES; i++) {
                double d = again[i][k][q] - old->look[which[i]][k][q];
                if (isnan(d)) return false;
                sum += d;
                square += d * d;
            }
            for (size_t i = 0; i < old->n; i++)
                if (solved(old, i)) {
                    low = fmin(low, old->look[i][k][q]);
                    high = fmax(high, old->look[i][k][q]);
                }
            double mean = sum / PROBES, spread = (high - low) / 4, /* about a standard deviation */
                scatter = sqrt(fmax(0, (square - PROBES * mean * mean) / (PROBES - 1)));
            if (q == LOOK_RISE &&
                (fabs(mean) > 0.5 * spread + 0.05 || scatter > 0.25 * spread + 0.05))
                return false;
            old->moved[k][q] = mean;
            old->scatter[k][q] = scatter;
            for (size_t i = 0; i < more; i++) /* kept as the first building would have it */
                old->look[old->n + i][k][q] = again[PROBES + i][k][q] - mean;
        }
    old->n += more;
    return old->kept = true;
}

static int make_runs(struct crowd **out, struct crowd *now, struct error *err) {
    struct stage_run *r = (struct stage_run *)now->p->r;
    struct crowd *old = ARENA_NEW(r->arena, struct crowd, 1);
    const char *means = meaning(now->p);
    size_t all[DRAWS], failed = 0;
    char(*why)[400] = arena_alloc(r->arena, MOST, sizeof *why);
    if (!old || !means || !why || choose(now, now->p)) return fail_memory(err);
    *out = now;
    if (read_before(old, now, means) && still_serve(old, now, r->arena)) {
        *out = old;
    } else {
        for (size_t i = 0; i < now->n; i++)
            all[i] = i;
        if (run_some(now, all, now->n, now->look, why, r->arena)) return fail_memory(err);
    }
    const char *first = "";
    for (size_t i = 0; i < (*out)->n; i++)
        if (!solved(*out, i) && failed++ == 0) first = why[i];
    json_object_set_new(r->result, "days_not_solved", json_integer((json_int_t)failed));
    if (failed == (*out)->n)
        return fail(err, ERR_SOLVE, "Look at the steps of the making and the sheet's thickness.",
                    "The order of work could not be followed: %.300s", first);
    return keep_runs(*out, means, err);
}

/* ---- columns -------------------------------------------------------------------------------- */

/* The solved draws' answers after one thing done, and a stand-in for their order. */
struct ordered {
    size_t m;
    double x[MOST * SHAPED], y[MOST], floor;
    struct num_emulator *e; /* NULL: too few draws, or all alike */
};

static int order_draws(struct ordered *o, const struct crowd *c, size_t k, int q, double *worst,
                       struct error *err) {
    *o = (struct ordered){0};
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < c->n; i++) {
        if (!solved(c, i)) continue;
        shaped(o->x + o->m * SHAPED, c->x[i], 1);
        o->y[o->m] = (c->look[i][k][q] + c->moved[k][q]) * c->finer[k][q];
        low = fmin(low, o->y[o->m]);
        high = fmax(high, o->y[o->m++]);
    }
    if (high - low <= 1e-7 * (fabs(low) + fabs(high)) + 1e-12 || o->m < SHAPED + 4) return 0;
    const struct num_emulator_options options = {
        .trend = o->m >= 3 * SHAPED ? NUM_TREND_LINEAR : NUM_TREND_CONSTANT, .most_steps = 40};
    struct num_emulator_check check;
    int rc = num_emulator_fit(&o->e, o->x, o->y, o->m, SHAPED, &options, err);
    if (rc) return rc;
    num_emulator_found(o->e, NULL, NULL, &o->floor, NULL);
    num_emulator_check(o->e, &check);
    if (q == LOOK_RISE) *worst = fmax(*worst, check.rms);
    o->floor += pow(c->scatter[k][q] * c->finer[k][q], 2);
    return 0;
}

static int up(const void *a, const void *b) {
    const double *p = a, *q = b;
    return (*p > *q) - (*p < *q);
}

/* Scores: the stand-in's middle and a draw of all it does not explain. The same normal number
 * serves all days of a row, so that days stay comparable. */
static int scores(double *z, double *variance, const struct ordered *o, const struct stage_run *r,
                  const double *x, size_t n, size_t of, int q, struct error *err) {
    int rc = o->e ? num_emulator_predict_many(o->e, x, n, z, variance, err) : 0;
    for (size_t i = 0; i < n && !rc; i++) {
        struct num_random random;
        num_random_begin(&random, num_rows_seed(r->rows), num_hash(looks[q].id), of + i);
        double normal = num_random_normal(&random);
        z[i] = o->e ? z[i] + sqrt(fmax(variance[i], 0) + o->floor) * normal : normal;
    }
    return rc;
}

enum { AGAIN = 32 };

/* One answer over all possible originals: the stand-in says where a row stands among the draws, the
 * draws say what stands there (quantile mapping), so that no answer leaves what the runs gave: a
 * normal error would put moisture below zero. */
static int column(struct crowd *c, size_t k, int q, const double *all, double *worst,
                  struct error *err) {
    struct stage_run *r = (struct stage_run *)c->p->r;
    size_t n = num_rows_count(r->rows);
    struct ordered o;
    double *z = ARENA_NEW(r->arena, double, n), *variance = ARENA_NEW(r->arena, double, n),
           *known = ARENA_NEW(r->arena, double, MOST *AGAIN);
    int rc = z && variance && known ? order_draws(&o, c, k, q, worst, err) : fail_memory(err);
    if (rc) return rc;
    for (size_t i = 0; i < AGAIN && !rc; i++)
        rc = scores(known + i * o.m, variance, &o, r, o.x, o.m, n + i * o.m, q, err);
    if (!rc) rc = scores(z, variance, &o, r, all, n, 0, q, err);
    qsort(known, o.m * AGAIN, sizeof *known, up);
    qsort(o.y, o.m, sizeof *o.y, up);
    for (size_t i = 0; i < n && !rc; i++) {
        size_t lo = 0, hi = o.m * AGAIN;
        while (lo < hi) {
            size_t mid = (lo + hi) / 2;
            if (known[mid] < z[i])
                lo = mid + 1;
            else
                hi = mid;
        }
        double at = fmin(fmax((double)lo / AGAIN - 0.5, 0), (double)o.m - 1);
        size_t j = (size_t)fmin(at, (double)o.m - 1), next = j + 1 < o.m ? j + 1 : j;
        z[i] = looks[q].scale * (o.y[j] + (at - (double)j) * (o.y[next] - o.y[j]));
    }
    num_emulator_free(o.e);
    char id[64];
    snprintf(id, sizeof id, "day.%zu.%s", k + 1, looks[q].id);
    return rc ? rc : num_rows_put(r->rows, id, c->p->in->col, INPUTS, z, &c->col[k][q], err);
}

static int columns(struct crowd *c, struct error *err) {
    struct stage_run *r = (struct stage_run *)c->p->r;
    size_t n = num_rows_count(r->rows);
    double worst = 0, *all = ARENA_NEW(r->arena, double, n *SHAPED);
    if (!all) return fail_memory(err);
    shaped(all, c->p->in->all, n);
    int rc = 0;
    for (size_t k = 0; k < c->p->n && !rc; k++)
        for (int q = 0; q < LOOKS && !rc; q++)
            rc = column(c, k, q, all, &worst, err);
    json_object_set_new(r->result, "days_rise_error", json_real(worst));
    return rc;
}

static void quantiles(double q[3], const struct crowd *c, size_t k, enum look what) {
    static const double p[3] = {0.05, 0.5, 0.95};
    (void)num_rows_quantiles(c->p->r->rows, c->col[k][what], p, 3, q); /* NAN: no memory */
}

static const char *range(struct stage_run *r, const double q[3], enum look what) {
    if (what == LOOK_MOISTURE) /* percent: no finer than it can be weighed */
        return arena_printf(r->arena, "%.0f (%.0f to %.0f)", q[1], q[0], q[2]);
    /* nobody reads a rise under weights finer than this */
    double fine = what == LOOK_RISE || what == LOOK_EDGE_LIFT ? 0.01 : 1e-3, t[3];
    for (int i = 0; i < 3; i++)
        t[i] = round(q[i] / fine) * fine + 0.0;
    if (!(t[2] > t[0])) return arena_printf(r->arena, "%.2g", t[1]);
    const struct spread s = spread_sides(t[0], t[1], t[2]);
    return stage_range(r, &s);
}

static int tell(struct stage_run *r, const struct crowd *c, struct error *err) {
    json_t *table = stage_table(r, "days", "The order of work: shape by day",
                                "day|after|moisture, percent|rise, mm|edge lift, mm|bend across, "
                                "1/m|pull on the ties, N/mm|rim's binding tighter by, mm a round"),
           *days = json_array();
    if (json_object_set_new(r->result, "days", days) || !table) return fail_memory(err);
    double day = 0;
    for (size_t k = 0; k < c->p->n; k++) {
        day += c->p->doing[k].days;
        json_t *row = json_pack("[f,s]", round(day * 10) / 10, c->p->doing[k].what),
               *numbers = json_pack("{s:f,s:s}", "day", day, "after", c->p->doing[k].what);
        json_array_append_new(table, row);
        json_array_append_new(days, numbers);
        for (int q = 0; q < LOOKS; q++) {
            double v[3];
            quantiles(v, c, k, q);
            json_array_append_new(row, json_string(range(r, v, q)));
            json_object_set_new(numbers, looks[q].id, json_pack("[f,f,f]", v[0], v[1], v[2]));
        }
    }
    return 0;
}

/* The weakest row of holes of a tie, as said before; NULL when nothing is known of one. */
static const struct statement *weakest_row(const struct stage_run *r) {
    const struct statement *weakest = NULL;
    for (size_t i = 0; i < statement_count(r->said); i++) {
        const struct statement *s = statement_at(r->said, i);
        if (strncmp(s->id, "strength.holes.", 15) != 0 || isnan(s->value.p50)) continue;
        if (!weakest || s->value.p50 < weakest->value.p50) weakest = s;
    }
    return weakest;
}

/* What the whole order of work says of the object: low, likely, high of `quantity`. */
static struct statement of_order(const char *id, const char *quantity, const char *unit,
                                 const double range[3], const char *rule) {
    struct statement s = statement_blank();
    s.id = id;
    s.step = "strength";
    s.about = "object";
    s.quantity = quantity;
    s.unit = unit;
    s.footing = FOOTING_WORKED_OUT;
    s.value = spread_unknown();
    s.value.p05 = range[0];
    s.value.p50 = range[1];
    s.value.p95 = range[2];
    s.rule = rule;
    return s;
}

/* The hardest pull of the whole order of work beside what the holes bear. */
static int say_pull(struct stage_run *r, const struct crowd *c, struct error *err) {
    double most[3] = {0}, v[3];
    size_t when = 0;
    for (size_t k = 0; k < c->p->n; k++) {
        quantiles(v, c, k, LOOK_PULL);
        if (!(v[1] > most[1])) continue;
        memcpy(most, v, sizeof most);
        when = k;
    }
    if (!(most[1] > 0)) return 0;
    const struct statement *row = weakest_row(r);
    struct statement s = of_order("strength.order.pull", "pull on the ties", "N/mm", most,
                                  "the order of work followed on some of the possible originals "
                                  "and read off for all; a rim tied on while the sheet is damp "
                                  "does not shrink with it");
    s.sentence = arena_printf(r->arena, "In this order of work the ties pull hardest after: %s",
                              c->p->doing[when].what);
    if (row && most[1] > row->value.p50)
        s.caution =
            arena_printf(r->arena,
                         "more than the holes are likely to bear (%.2g N/mm, %.2g to %.2g): "
                         "the ties would probably tear out. Let the sheet dry before the "
                         "rim is tied on, or leave the ties loose until it has",
                         row->value.p50, row->value.p05, row->value.p95);
    else if (row && most[2] > row->value.p05)
        s.caution =
            arena_printf(r->arena, "it may be more than the holes bear (%.2g N/mm, %.2g to %.2g)",
                         row->value.p50, row->value.p05, row->value.p95);
    if (!s.sentence) return fail_memory(err);
    int rc =
        row ? statement_link_add(&s, "statement", row->id, "what the holes bear", r->arena, err)
            : 0;
    if (!rc && statement_find(r->said, "making.order"))
        rc = statement_link_add(&s, "statement", "making.order", "order of work", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* What the seasons do to it: its rise after the dry room less that after the damp one, row by row.
 */
static int say_seasons(struct stage_run *r, const struct crowd *c, struct error *err) {
    static const double p[3] = {0.05, 0.5, 0.95};
    size_t n = num_rows_count(r->rows), last = c->p->n - 1;
    double q[3], *change = ARENA_NEW(r->arena, double, n), *weight = ARENA_NEW(r->arena, double, n);
    if (!change || !weight) return fail_memory(err);
    const double *dry = num_rows_values(r->rows, c->col[last - 1][LOOK_RISE]),
                 *damp = num_rows_values(r->rows, c->col[last - 2][LOOK_RISE]);
    for (size_t i = 0; i < n; i++)
        change[i] = dry[i] - damp[i];
    num_rows_weights(r->rows, weight);
    int rc = num_quantiles(change, weight, n, p, 3, q, err);
    if (rc) return rc;
    struct statement s =
        of_order("strength.order.seasons", "change of rise", "mm", q,
                 "the order of work and a year of rooms after it followed on some of the possible "
                 "originals and read off for all");
    s.sentence =
        "From a damp room (80 %) to a dry one (35 %), two months each, its rise changes by "
        "this much.";
    double stands = num_rows_quantile(r->rows, c->col[last][LOOK_RISE], 0.5),
           most = fmax(fabs(q[0]), fabs(q[2]));
    if (most > 0.1 * fabs(stands) && most > 1)
        s.caution =
            "more than a tenth of its rise: a stand or case must let it move, and shapes are "
            "compared at one humidity only";
    static const char *const rests[] = {"making.order", "sheet.thickness.fresh", "strength.stem"};
    for (size_t i = 0; i < sizeof rests / sizeof rests[0] && !rc; i++)
        if (statement_find(r->said, rests[i]))
            rc = statement_link_add(&s, "statement", rests[i], "input", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* The likely sheet through it once more, on the form's net: a state after each thing that moves it.
 * Side by side with the runs of the draws, so in an arena of its own. */
struct walk {
    const struct plan *plan;
    double look[DOINGS][LOOKS], coarse[DOINGS][LOOKS]; /* on the form's net and on the runs' */
    bool compared;
    struct form *form; /* NULL: there is none */
    struct arena *arena;
    int rc;
    struct error why;
};

static int form_days(struct walk *w) {
    double x[INPUTS], day = 0;
    struct sheet_of o = {0};
    const struct plan *p = w->plan;
    struct form *f = w->form;
    strength_middle(p->in, x);
    bool on[4] = {true, false, false, false};
    int rc = f ? begin(&o, p, x, 0, FORM_NET, w->arena, &w->why) : 0;
    bool same = f && o.model && body_sheet_mesh(o.model)->nv == f->nv;
    for (size_t k = 0; k < p->n && same && !rc; k++) {
        double *look = w->look[k];
        rc = one_doing(look, &o, &p->doing[k], &w->why);
        day += p->doing[k].days;
        for (size_t i = 0; i < p->doing[k].puts; i++)
            on[p->doing[k].put[i]] = true;
        if (rc || p->doing[k].days < 0.05) continue;
        const char *id = arena_printf(w->arena, "day.%zu", k + 1);
        struct form_state *s =
            id ? form_state_add(f, o.model, id, p->doing[k].what, w->arena) : NULL;
        if (!s) break;
        s->day = day;
        s->moisture = look[LOOK_MOISTURE];
        s->without[PART_LATH] = !on[PUT_LATHS];
        s->without[PART_RIM] = !on[PUT_RIM];
        s->without[PART_GRIP] = s->without[PART_PEG] = !on[PUT_GRIP];
        s->without[PART_CENTRE] = s->without[PART_PAINT] = k + 3 < p->n;
    }
    end(&o);
    if (same && !rc) rc = whole_order(w->coarse, p, x, 0, NET, &w->why);
    w->compared = same && !rc;
    return rc == ERR_SOLVE ? 0 : rc; /* what was reached stays */
}

/* The runs of the draws and the walk of the form, one thread each where there are two. */
struct both {
    struct crowd **crowd, *now;
    struct walk walk;
    int rc;
    struct error why;
};

static void one_of_both(size_t begin_at, size_t end_at, size_t index, void *context) {
    (void)index;
    struct both *b = context;
    for (size_t i = begin_at; i < end_at; i++)
        if (i == 0)
            b->walk.rc = b->walk.arena ? form_days(&b->walk) : fail_memory(&b->walk.why);
        else
            b->rc = make_runs(b->crowd, b->now, &b->why);
}

/* What the finer net makes of the likely sheet, as shares of what the runs' net does: bends and
 * heights go over decades, and a coarse net misses a like share of each. Lying flat has none. */
static void compare_nets(struct crowd *c, const struct walk *w) {
    double most[LOOKS] = {0};
    for (size_t k = 0; k < c->p->n && w->compared; k++)
        for (int q = 0; q < LOOKS; q++)
            most[q] = fmax(most[q], fabs(w->coarse[k][q]));
    for (size_t k = 0; k < c->p->n; k++)
        for (int q = 0; q < LOOKS; q++) {
            bool told = q == LOOK_RISE || q == LOOK_EDGE_LIFT || q == LOOK_ACROSS || q == LOOK_PULL;
            c->finer[k][q] = 1;
            if (!w->compared || !told || !(w->coarse[k][q] > 0.01 * most[q])) continue;
            if (w->look[k][q] > 0) c->finer[k][q] = w->look[k][q] / w->coarse[k][q];
        }
}

/* The walk's states from `first` on, taken over into the arena of the run. */
static int keep_states(struct form *f, size_t first, struct arena *arena, struct error *err) {
    for (size_t i = first; f && i < f->n_states; i++) {
        struct form_state *s = &f->state[i];
        double(*x)[3] = arena_alloc(arena, f->nv, sizeof *x);
        s->id = arena_strdup(arena, s->id);
        s->title = arena_strdup(arena, s->title);
        if (!x || !s->id || !s->title) return fail_memory(err);
        memcpy(x, s->x, f->nv * sizeof *x);
        s->x = x;
    }
    return 0;
}

static int run_both(struct stage_run *r, struct crowd **c, struct error *err) {
    struct form *f = r->made.form;
    size_t first = f ? f->n_states : 0;
    struct both b = {
        .crowd = c, .now = *c, .walk = {.plan = (*c)->p, .form = f, .arena = arena_new()}};
    parallel_for(2, 1, one_of_both, &b);
    if (b.rc || b.walk.rc) {
        if (f) f->n_states = first; /* their places die with the arena */
        if (err) *err = b.rc ? b.why : b.walk.why;
        b.rc = b.rc ? b.rc : b.walk.rc;
    } else
        b.rc = keep_states(f, first, r->arena, err);
    if (!b.rc) compare_nets(*c, &b.walk);
    (*c)->compared = b.walk.compared;
    arena_free(b.walk.arena);
    return b.rc;
}

static int begin_plan(struct plan *p, struct stage_run *r, const struct strength_work *work,
                      const struct strength_inputs *in, const struct stuff_shelf *shelf,
                      struct error *err) {
    *p = (struct plan){.r = r,
                       .work = work,
                       .in = in,
                       .shelf = shelf,
                       .bark = strength_bark(work, r->arena),
                       .outer_share = work->sheet->cork};
    if (!p->bark) return fail_memory(err);
    read_steps(p);
    return 0;
}

int strength_days_once(double out[STRENGTH_DOINGS][STRENGTH_LOOKS], size_t *n, struct stage_run *r,
                       const struct strength_work *work, const double *x, size_t draw, size_t net,
                       const struct stuff_shelf *shelf, struct error *err) {
    struct plan p;
    int rc = begin_plan(&p, r, work, NULL, shelf, err);
    *n = rc ? 0 : p.n;
    return rc ? rc : whole_order(out, &p, x, draw, net, err);
}

/* "here flat in step 1, 2" */
static const char *held_steps(const struct plan *p, struct arena *arena) {
    static const struct {
        enum held held;
        const char *words;
    } ways[] = {{HELD_FLAT, "flat"}, {HELD_EDGES, "at its edges"}};
    const char *text = "";
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        size_t found = 0;
        for (size_t k = 0; k < p->n && text; k++)
            if (p->doing[k].held == ways[i].held)
                text = found++ ? arena_printf(arena, "%s, %zu", text, k + 1)
                               : arena_printf(arena, "%s%s %s in step %zu", text,
                                              *text ? "," : "here", ways[i].words, k + 1);
    }
    return !text ? "" : *text ? text : "here no step does";
}

int strength_days(struct stage_run *r, const struct strength_work *work,
                  const struct strength_inputs *in, const struct stuff_shelf *shelf,
                  struct error *err) {
    struct plan p;
    struct crowd *c = ARENA_NEW(r->arena, struct crowd, 1);
    if (!c) return fail_memory(err);
    if (!strength_step(work, 0)) return 0; /* no order of work was entered */
    int rc = begin_plan(&p, r, work, in, shelf, err);
    if (rc) return rc;
    c->p = &p;
    rc = run_both(r, &c, err);
    if (!rc) rc = columns(c, err);
    if (rc) return rc;
    double error = json_real_value(json_object_get(r->result, "days_rise_error"));
    json_object_set_new(
        r->result, "days_note",
        json_string(arena_printf(
            r->arena,
            "Day by day: %d of the possible originals were taken through the order of work on a "
            "coarse net%s%s. A "
            "stand-in says where each of all the others stands among them (a rise "
            "left out is met within %.2g mm, root mean square, on the worst day), the runs what "
            "stands there. The other tables are of parts put together dry; here each goes on as "
            "damp "
            "as its day has it, and a rim tied on while the sheet is damp does not shrink with it: "
            "lay the pull on the ties beside what their holes bear. A step whose words hold the "
            "sheet flat (flattened, pressed, kept flat, under weight, between boards) or its "
            "edges (weighed down there) does so until the sheet is handled again: %s. Not "
            "followed: the coil, ties that slip or cut in, cracks%s.",
            (int)c->n,
            c->kept ? " (the runs of the last time still serve: some were made again)" : "",
            c->compared ? "; what a finer one makes of the likely sheet was laid on all of them"
                        : "; a finer one could not be laid beside it",
            error, held_steps(&p, r->arena),
            p.left_out ? arena_printf(r->arena, ", the last %zu steps (%d are followed)",
                                      p.left_out, DOINGS - 3)
                       : "")));
    rc = tell(r, c, err);
    if (!rc) rc = say_pull(r, c, err);
    return rc ? rc : say_seasons(r, c, err);
}
