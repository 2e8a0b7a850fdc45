#include "job/what_if.h"

#include "base/mem.h"
#include "job/as_body.h"
#include "job/draws.h"
#include "job/job_private.h"
#include "job/makings.h"
#include "making/dried.h"
#include "num/random.h"

#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <string.h>
#include <time.h>

/* Columns the strength step made, whose middles are taken. */
static const char *const stuff_columns[WHAT_IF_STUFFS] = {"bark.E.along", "bark.E.around", "bark.G",
                                                          "bark.set",     "stem.radius",   "lath.E",
                                                          "bark.density", "wood.density"};

/* As in the strength step: MPa across the grain of a lath in torsion. */
static const double wood_g = 700;

enum { INPUTS_MOST = 40 };

struct what_if {
    struct arena *arena;
    double stuff[WHAT_IF_STUFFS];
    struct making_left left; /* of the sizes as cut, when dry */
    struct part *parts;      /* of the making as it stands */
    size_t n_parts;
    struct body_sheet base; /* the same as a body; its outline lives in the arena */
    const char **lath_id;   /* [laths of the base] */
    size_t laths;           /* of which inputs tell; the others stay */
    size_t inputs;
    double low[INPUTS_MOST], high[INPUTS_MOST];
    uint64_t seed;

    double before[BODY_OUTPUTS]; /* from the shell */
    bool have_before;

    pthread_t thread;
    bool begun, joined;
    atomic_bool ready, halt;
    struct body_controls *controls;
    struct error trouble; /* why it could not be learned */
};

/* ---- a making as a body --------------------------------------------------------------------- */

/* Parts of one list as a body new and dry, with the likely material; what comes out lives in the
 * arena. */
static int translate(struct body_sheet *out, const struct what_if *w, const struct part *parts,
                     size_t n, struct arena *arena, struct error *err) {
    const double *stuff = w->stuff;
    struct part *own = ARENA_NEW(arena, struct part, n + 1);
    if (!own) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        own[i] = parts[i];
        own[i].making = "try";
        if (part_dry(&own[i], &w->left, arena)) return fail_memory(err);
    }
    const struct makings all = {.parts = own, .part_count = n};
    const struct as_body_stuff s = {.e_along = stuff[WHAT_IF_E_ALONG],
                                    .e_around = stuff[WHAT_IF_E_AROUND],
                                    .g = stuff[WHAT_IF_G],
                                    .density = stuff[WHAT_IF_DENSITY],
                                    .thickness = NAN,
                                    .stem = stuff[WHAT_IF_STEM],
                                    .set = stuff[WHAT_IF_SET],
                                    .wood_e = stuff[WHAT_IF_WOOD_E],
                                    .wood_g = wood_g,
                                    .wood_density = stuff[WHAT_IF_WOOD_DENSITY],
                                    .lath_thickness = NAN,
                                    .length = NAN,
                                    .width = NAN,
                                    .chamfer = NAN};
    return as_body_sheet(out, &all, "try", &s, NULL, arena, err);
}

/* The place of a lath of the list, as the body has it; false for one it does not take. */
static bool lath_place(struct body_sheet_lath *out, const struct what_if *w,
                       const struct part *cut) {
    struct part p = *cut;
    p.points.n = p.cork_at.n = p.thickness_at.n = 0; /* so that nothing has to be allocated */
    if (part_dry(&p, &w->left, NULL) || !(p.length > 0) || !(p.width > 0) || !(p.thickness > 0))
        return false;
    double a = isnan(p.angle) ? M_PI / 2 : p.angle, x = isnan(p.x) ? 0 : p.x,
           y = isnan(p.y) ? 0 : p.y, h = p.length / 2;
    *out = (struct body_sheet_lath){.from = {x - h * cos(a), y - h * sin(a)},
                                    .to = {x + h * cos(a), y + h * sin(a)},
                                    .width = p.width,
                                    .thickness = p.thickness};
    return true;
}

/* ---- from the project ----------------------------------------------------------------------- */

static int read_left(struct what_if *w, struct job *job, struct error *err) {
    json_t *result = NULL;
    int rc = job_result(&result, job, "strength", err);
    const json_t *left = json_object_get(json_object_get(result, "result"), "left");
    double v[4];
    bool known = json_array_size(left) == 4;
    for (size_t i = 0; i < 4; i++)
        v[i] = json_number_value(json_array_get(left, i));
    json_decref(result);
    if (!rc && !known)
        rc = fail(err, ERR_MISSING, "Work out Shape and strength first.",
                  "What drying leaves of the sizes is not at hand.");
    w->left = (struct making_left){v[0], v[1], v[2], v[3]};
    return rc;
}

static int read_stuff(struct what_if *w, struct job *job, struct error *err) {
    struct snapshot now;
    struct job_keys keys;
    struct num_rows *rows = NULL;
    int rc = job_snapshot(&now, job, w->arena, err);
    if (!rc) rc = job_keys(&keys, job, &now, err);
    if (rc) return rc;
    w->seed = (uint64_t)now.seed;
    size_t k = stage_index("strength", err);
    draws_load(&rows, job->path, "strength", keys.key[k]);
    if (!rows)
        return fail(err, ERR_MISSING, "Work out Shape and strength first.",
                    "The likely material is not at hand.");
    for (int i = 0; i < WHAT_IF_STUFFS && !rc; i++) {
        size_t col = num_rows_find(rows, stuff_columns[i]);
        if (col == NUM_NO_COLUMN)
            rc = fail(err, ERR_MISSING, "Work out Shape and strength first.",
                      "Nothing is known of \"%s\".", stuff_columns[i]);
        else
            w->stuff[i] = num_rows_quantile(rows, col, 0.5);
    }
    num_rows_free(rows);
    return rc ? rc : read_left(w, job, err);
}

static size_t parts_of(struct part **out, const struct makings *all, const char *making,
                       struct arena *arena) {
    size_t n = 0;
    *out = ARENA_NEW(arena, struct part, all->part_count + 1);
    for (const struct part *p = NULL; *out && (p = makings_part(all, making, -1, p));)
        (*out)[n++] = *p;
    return n;
}

/* Distance of neighbouring laths: how far one may be dragged and still be between its fellows. */
static double spacing(const struct body_sheet *s) {
    double best = 120;
    for (size_t i = 0; i < s->laths; i++)
        for (size_t k = i + 1; k < s->laths; k++) {
            double d = fabs((s->lath[i].from[0] + s->lath[i].to[0]) -
                            (s->lath[k].from[0] + s->lath[k].to[0])) /
                       2;
            if (d > 1 && d < best) best = d;
        }
    return best;
}

enum { FOR_LATH = 3 };

static double middle(const struct body_sheet_lath *l, int axis) {
    return (l->from[axis] + l->to[axis]) / 2;
}

static double ei(const struct body_sheet_lath *l) {
    return l->width * pow(l->thickness, 3);
}

/* Ends of the sheet along axis 0, a little inside. */
static void ends_of(const struct plane_loop *o, double out[2]) {
    out[0] = INFINITY, out[1] = -INFINITY;
    for (size_t i = 0; i < o->n; i++) {
        out[0] = fmin(out[0], o->xy[2 * i]);
        out[1] = fmax(out[1], o->xy[2 * i]);
    }
    double in = 0.02 * (out[1] - out[0]);
    out[0] += in, out[1] -= in;
}

static void ranges(struct what_if *w) {
    double apart = spacing(&w->base), end[2];
    ends_of(&w->base.outline, end);
    w->laths = w->base.laths;
    while (FOR_LATH * w->laths + 2 > INPUTS_MOST)
        w->laths--;
    w->inputs = FOR_LATH * w->laths + 2;
    for (size_t i = 0; i < w->laths; i++) {
        const struct body_sheet_lath *l = &w->base.lath[i];
        double *low = w->low + FOR_LATH * i, *high = w->high + FOR_LATH * i;
        low[0] = fmax(middle(l, 0) - apart, end[0]), high[0] = fmin(middle(l, 0) + apart, end[1]);
        low[1] = middle(l, 1) - 25, high[1] = middle(l, 1) + 25;
        low[2] = 0, high[2] = 2.2;
    }
    size_t k = FOR_LATH * w->laths;
    w->low[k] = 0.6 * w->base.layer[0].thickness, w->high[k] = 1.5 * w->base.layer[0].thickness;
    w->low[k + 1] = 0.3, w->high[k + 1] = 2;
}

/* Which part each lath of the body is: those that put_lath took, in order. */
static int name_laths(struct what_if *w, struct error *err) {
    size_t k = 0;
    w->lath_id = ARENA_NEW(w->arena, const char *, w->n_parts);
    if (!w->lath_id) return fail_memory(err);
    struct body_sheet_lath l;
    for (size_t i = 0; i < w->n_parts; i++)
        if (w->parts[i].kind == PART_LATH && lath_place(&l, w, &w->parts[i]))
            w->lath_id[k++] = w->parts[i].id;
    return 0;
}

static int begin(struct what_if **out, struct error *err) {
    struct what_if *w = *out = MEM_NEW(struct what_if, 1);
    if (w) w->left = (struct making_left){1, 1, 1, 1};
    if (w && (w->arena = arena_new())) return 0;
    mem_free(w);
    *out = NULL;
    return fail_memory(err);
}

/* Takes the parts as they stand; on failure all is given back. */
static int dress(struct what_if **out, struct part *parts, size_t n, struct error *err) {
    struct what_if *w = *out;
    w->parts = parts;
    w->n_parts = n;
    int rc = parts ? translate(&w->base, w, parts, n, w->arena, err) : fail_memory(err);
    if (!rc) rc = name_laths(w, err);
    if (rc) {
        what_if_free(w);
        *out = NULL;
        return rc;
    }
    ranges(w);
    return 0;
}

int what_if_of(struct what_if **out, const struct part *parts, size_t n,
               const double stuff[WHAT_IF_STUFFS], uint64_t seed, struct error *err) {
    int rc = begin(out, err);
    if (rc) return rc;
    memcpy((*out)->stuff, stuff, sizeof(*out)->stuff);
    (*out)->seed = seed;
    struct part *own = ARENA_NEW((*out)->arena, struct part, n + 1);
    if (own) memcpy(own, parts, n * sizeof *own);
    return dress(out, own, n, err);
}

int what_if_new(struct what_if **out, struct job *job, const char *making, struct error *err) {
    int rc = begin(out, err);
    if (rc) return rc;
    struct what_if *w = *out;
    struct job_makings makings;
    struct part *parts = NULL;
    size_t n = 0;
    rc = job_makings(&makings, job, w->arena, err);
    const struct making *m = rc       ? NULL
                             : making ? makings_find(&makings.all, making)
                                      : makings_leading(&makings.all);
    if (!rc && !m)
        rc = fail(err, ERR_MISSING, "Choose one of the list of makings.",
                  "There is no making \"%.60s\".", making ? making : "");
    if (!rc) rc = read_stuff(w, job, err);
    if (!rc) {
        n = parts_of(&parts, &makings.all, m->id, w->arena);
        return dress(out, parts, n, err);
    }
    what_if_free(w);
    *out = NULL;
    return rc;
}

void what_if_free(struct what_if *w) {
    if (!w) return;
    atomic_store(&w->halt, true);
    if (w->begun && !w->joined) pthread_join(w->thread, NULL);
    body_controls_free(w->controls);
    arena_free(w->arena);
    mem_free(w);
}

/* ---- the shell ------------------------------------------------------------------------------ */

static double milliseconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static double hundredth(double v) {
    return round(v * 100) / 100;
}

static json_t *nodes_of(struct body_sheet_model *model, const struct making_left *left) {
    struct body_shell *s = body_sheet_shell(model);
    const double(*x)[3] = body_shell_place(s), (*rest)[3] = body_shell_rest_place(s);
    const int(*t)[3] = body_shell_triangles(s);
    json_t *points = json_array(), *flat = json_array(), *triangles = json_array();
    for (size_t i = 0; i < body_shell_vertices(s);
         i++) { /* +n is the outer face: towards the viewer */
        json_array_append_new(points, json_pack("[f,f,f]", hundredth(x[i][0]), hundredth(x[i][1]),
                                                hundredth(x[i][2])));
        json_array_append_new(flat, json_pack("[f,f]", hundredth(rest[i][0] / left->x),
                                              hundredth(rest[i][1] / left->y)));
    }
    for (size_t i = 0; i < body_shell_faces(s); i++)
        json_array_append_new(triangles, json_pack("[i,i,i]", t[i][0], t[i][1], t[i][2]));
    return json_pack("{s:o,s:o,s:o}", "points", points, "flat", flat, "triangles", triangles);
}

static int solve(double *value, json_t **nodes, const struct what_if *w,
                 const struct body_sheet *sheet, struct error *err) {
    struct body_sheet_model *model;
    struct body_sheet_out o;
    int rc = body_sheet_new(&model, sheet, WHAT_IF_NET, err);
    if (!rc) rc = body_sheet_solve(model, &o, err);
    if (!rc) {
        const double v[BODY_OUTPUTS] = {o.curvature[0], o.curvature[1], o.rise,      o.end_rise,
                                        o.edge_lift,    o.twist,        o.stiffness, o.mass};
        memcpy(value, v, sizeof v);
        if (nodes) *nodes = nodes_of(model, &w->left);
    }
    body_sheet_free(model);
    return rc;
}

int what_if_shell(struct what_if_answer *out, json_t **nodes, struct what_if *w,
                  const struct part *parts, size_t n, struct error *err) {
    double began = milliseconds();
    struct body_sheet sheet;
    *out = (struct what_if_answer){0};
    struct arena *arena = arena_new();
    int rc = arena ? translate(&sheet, w, parts, n, arena, err) : fail_memory(err);
    if (!rc) rc = solve(out->value, nodes, w, &sheet, err);
    arena_free(arena);
    out->ms = milliseconds() - began;
    if (!rc && !w->have_before) {
        rc = solve(w->before, NULL, w, &w->base, err);
        w->have_before = rc == 0;
    }
    memcpy(out->before, w->before, sizeof w->before);
    for (int k = 0; k < BODY_OUTPUTS; k++)
        out->sd[k] = NAN;
    return rc;
}

/* ---- the stand-in --------------------------------------------------------------------------- */

/* Input row to sheet: laths moved and thickened, sheet and rim thickened. */
static int make(struct body_sheet *out, const double *x, void *context, struct arena *arena,
                struct error *err) {
    struct what_if *w = context;
    if (atomic_load(&w->halt)) return fail(err, ERR_STOPPED, NULL, "Stopped.");
    struct body_sheet_lath *lath = ARENA_NEW(arena, struct body_sheet_lath, w->base.laths);
    if (!lath) return fail_memory(err);
    *out = w->base;
    out->lath = lath;
    for (size_t i = 0; i < w->base.laths; i++) {
        struct body_sheet_lath l = w->base.lath[i];
        if (i < w->laths) {
            const double *in = x + FOR_LATH * i;
            for (int k = 0; k < 2; k++) {
                double by = in[k] - middle(&l, k);
                l.from[k] += by;
                l.to[k] += by;
            }
            /* A lath hardly there bends with the sheet: its limit is no lath. */
            l.thickness *= cbrt(fmax(in[2], 1e-4));
        }
        lath[i] = l;
    }
    size_t k = FOR_LATH * w->laths;
    out->layer[0].thickness = x[k];
    out->rim_diameter *= sqrt(sqrt(x[k + 1])); /* EI of a round rod goes with d^4 */
    return 0;
}

/* One stratified permutation an input, as the possible originals are filled. The first rows are the
 * making itself and each lath taken away. */
static double *design(const struct what_if *w) {
    size_t n = WHAT_IF_RUNS, d = w->inputs;
    double *x = MEM_NEW(double, n *d);
    size_t *order = MEM_NEW(size_t, n);
    for (size_t k = 0; x && order && k < d; k++) {
        struct num_random random;
        num_random_begin(&random, w->seed, num_hash("what_if"), k);
        num_random_permutation(&random, order, n);
        for (size_t i = 0; i < n; i++) {
            double u = ((double)order[i] + num_random_uniform(&random)) / (double)n;
            x[i * d + k] = w->low[k] + u * (w->high[k] - w->low[k]);
        }
    }
    mem_free(order);
    for (size_t i = 0; x && i <= w->laths; i++) {
        double *row = x + i * d;
        for (size_t l = 0; l < w->laths; l++) {
            row[FOR_LATH * l] = middle(&w->base.lath[l], 0);
            row[FOR_LATH * l + 1] = middle(&w->base.lath[l], 1);
            row[FOR_LATH * l + 2] = l + 1 == i ? 0 : 1;
        }
        row[d - 2] = w->base.layer[0].thickness;
        row[d - 1] = 1;
    }
    return x;
}

static void *learn(void *context) {
    struct what_if *w = context;
    const struct body_controls_options options = {
        .triangles = WHAT_IF_NET, .fine = WHAT_IF_NET, .checks = 1};
    double *x = design(w);
    if (!x)
        fail_memory(&w->trouble);
    else if (!body_controls_new(&w->controls, x, WHAT_IF_RUNS, w->inputs, make, w, &options,
                                &w->trouble))
        atomic_store(&w->ready, true);
    mem_free(x);
    return NULL;
}

void what_if_learn(struct what_if *w) {
    if (!w->begun) w->begun = pthread_create(&w->thread, NULL, learn, w) == 0;
}

bool what_if_ready(const struct what_if *w) {
    return atomic_load(&w->ready);
}

int what_if_wait(struct what_if *w, struct error *err) {
    what_if_learn(w);
    if (w->begun && !w->joined) pthread_join(w->thread, NULL);
    w->joined = w->begun;
    if (what_if_ready(w)) return 0;
    if (err) *err = w->trouble;
    return (int)w->trouble.code ? (int)w->trouble.code : fail_memory(err);
}

static const struct part *part_named(const struct part *parts, size_t n, const char *id) {
    for (size_t i = 0; i < n; i++)
        if (strcmp(parts[i].id, id) == 0) return &parts[i];
    return NULL;
}

/* The lath of a base index as it is in the changed list; false when it was taken away. */
static bool lath_now(struct body_sheet_lath *out, const struct what_if *w, size_t i,
                     const struct part *parts, size_t n) {
    const struct part *p = part_named(parts, n, w->lath_id[i]);
    return p && lath_place(out, w, p);
}

/* Whether grip or coil is another: no input tells of them. */
static bool other_bits(const struct body_sheet *a, const struct body_sheet *b) {
    double far = 0;
    for (int k = 0; k < 2; k++)
        far = fmax(far, hypot(a->seat[k][0] - b->seat[k][0], a->seat[k][1] - b->seat[k][1]));
    const struct body_sheet_ring *r = &a->ring, *q = &b->ring;
    far = fmax(far, hypot(r->at[0] - q->at[0], r->at[1] - q->at[1]));
    far = fmax(far, fabs(r->outer - q->outer) + fabs(r->thickness - q->thickness));
    return a->grip != b->grip || far > 0.5 || fabs(a->grip_ei - b->grip_ei) > 0.01 * b->grip_ei;
}

/* A changed list of parts as inputs; tells whether something changed that is none of them. */
static bool inputs_of(double *x, const struct what_if *w, const struct body_sheet *s,
                      const struct part *parts, size_t n) {
    size_t there = 0;
    bool outside = other_bits(s, &w->base) || s->rim != w->base.rim ||
                   fabs(s->grain - w->base.grain) > 1e-6 ||
                   fabs(s->tie_every - w->base.tie_every) > 0.5;
    for (size_t i = 0; i < w->base.laths; i++) {
        const struct body_sheet_lath *was = &w->base.lath[i];
        struct body_sheet_lath l;
        bool here = lath_now(&l, w, i, parts, n);
        there += (size_t)here;
        if (!here) l = *was;
        double turn = remainder(atan2(l.to[1] - l.from[1], l.to[0] - l.from[0]) -
                                    atan2(was->to[1] - was->from[1], was->to[0] - was->from[0]),
                                M_PI),
               longer = hypot(l.to[0] - l.from[0], l.to[1] - l.from[1]) /
                        hypot(was->to[0] - was->from[0], was->to[1] - was->from[1]);
        outside |= fabs(turn) > 0.02 || fabs(longer - 1) > 0.02;
        if (i >= w->laths) {
            outside |= !here || fabs(middle(&l, 0) - middle(was, 0)) > 0.5;
            continue;
        }
        double *in = x + FOR_LATH * i;
        in[0] = middle(&l, 0), in[1] = middle(&l, 1), in[2] = here ? ei(&l) / ei(was) : 0;
    }
    outside |= s->laths != there; /* one more than there were */
    x[w->inputs - 2] = s->layer[0].thickness;
    x[w->inputs - 1] = w->base.rim_diameter > 0 && s->rim_diameter > 0
                           ? pow(s->rim_diameter / w->base.rim_diameter, 4)
                           : 1;
    for (size_t k = 0; k < w->inputs; k++)
        outside |= x[k] < w->low[k] - 1e-9 || x[k] > w->high[k] + 1e-9;
    return outside;
}

static int predict(double *value, double *sd, const struct what_if *w, const double *x,
                   struct error *err) {
    for (int k = 0; k < BODY_OUTPUTS; k++) {
        double variance;
        int rc = body_controls_predict(w->controls, (enum body_controls_output)k, x, 1, &value[k],
                                       &variance, err);
        if (rc) return rc;
        sd[k] = sqrt(fmax(0, variance));
    }
    return 0;
}

int what_if_quick(struct what_if_answer *out, struct what_if *w, const struct part *parts, size_t n,
                  struct error *err) {
    if (!what_if_ready(w)) {
        if (w->trouble.code && err) *err = w->trouble;
        return w->trouble.code ? (int)w->trouble.code
                               : fail(err, ERR_CONFLICT, "Ask again in a few seconds.",
                                      "The stand-in is still being learned.");
    }
    double began = milliseconds(), x[INPUTS_MOST], sd[BODY_OUTPUTS];
    struct body_sheet sheet;
    *out = (struct what_if_answer){.runs = WHAT_IF_RUNS};
    struct arena *arena = arena_new();
    int rc = arena ? translate(&sheet, w, parts, n, arena, err) : fail_memory(err);
    if (rc) {
        arena_free(arena);
        return rc;
    }
    inputs_of(x, w, &w->base, w->parts, w->n_parts);
    rc = predict(out->before, sd, w, x, err);
    out->outside = inputs_of(x, w, &sheet, parts, n);
    if (!rc) rc = predict(out->value, out->sd, w, x, err);
    arena_free(arena);
    out->ms = milliseconds() - began;
    return rc;
}

void what_if_report(const struct what_if *w, struct body_controls_report *out) {
    *out = (struct body_controls_report){0};
    if (w->controls) body_controls_report(w->controls, out);
}
