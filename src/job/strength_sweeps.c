/* What controls the shape: copies of the leading making with other laths, ties or stems, counts,
 * places and thicknesses being inputs of one stand-in (DESIGN.md, "The ensemble, exactly"). */
#include "job/strength.h"

#include "body/controls.h"
#include "num/random.h"
#include "num/weighted.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Inputs besides those of the possible originals. */
enum { LATH_LENGTH = INPUTS, LATH_COUNT, TIES, TIE_GROUP, ROOM, WIDE };

/* At most RUNS of the shell; answers over ROWS of the possible originals, evenly chosen. */
enum { RUNS = 224, ROWS = 256, VALUES = 6 };

struct swept {
    int input;
    const char *id, *title, *unit;
    double scale; /* inside = told * scale */
    double value[VALUES];
};
static const struct swept sweeps[] = {
    {IN_LATH, "lath_thickness", "thickness of the laths", "mm", 1, {1, 2, 3, 4, 5, 6}},
    {LATH_LENGTH,
     "lath_length",
     "length of the laths",
     "percent of as made",
     0.01,
     {40, 55, 70, 85, 100}},
    {LATH_COUNT, "lath_count", "number of laths", "", 1, {0}},
    {TIES, "tie_spacing", "ties apart", "mm", 1, {0, 50, 100, 150, 200}},
    {TIE_GROUP, "tie_group", "as many ties, in groups of", "", 1, {1, 2, 3, 4, 5, 6}},
    {ROOM, "lath_room", "room of the laths in their pockets", "mm", 1, {0, 0.3, 1, 2, 4}},
    {IN_STEM, "stem", "stem it came from, diameter", "mm", 0.5, {140, 180, 240, 320, 440}},
};
enum { SWEEPS = sizeof sweeps / sizeof sweeps[0] };

struct wide {
    struct strength_work work;
    int active[WIDE]; /* which inputs vary, in the order of the stand-in's */
    size_t d;
    double plain[WIDE], low[WIDE], high[WIDE]; /* the making's own; range */
};

static void full_row(double *out, const struct wide *w, const double *x) {
    memcpy(out, w->plain, sizeof w->plain);
    for (size_t k = 0; k < w->d; k++)
        out[w->active[k]] = x[k];
}

static int make(struct body_sheet *out, const double *x, void *context, struct arena *arena,
                struct error *err) {
    const struct wide *w = context;
    double row[WIDE];
    full_row(row, w, x);
    const struct as_body_stuff stuff = strength_stuff(&w->work, row);
    const struct as_body_change change = {.lath_length = row[LATH_LENGTH],
                                          .lath_count = (size_t)lround(row[LATH_COUNT]),
                                          .tie_every = exp(row[TIES]),
                                          .tie_group = (size_t)lround(row[TIE_GROUP]),
                                          .other_room = true,
                                          .room = row[ROOM]};
    return as_body_sheet(out, w->work.makings, w->work.making, &stuff, &change, arena, err);
}

static size_t laths_of(const struct strength_work *w) {
    size_t n = 0;
    for (const struct part *p = NULL; (p = makings_part(w->makings, w->making, PART_LATH, p));)
        n++;
    return n;
}

static void activate(struct wide *w, int input, double plain, double low, double high) {
    w->plain[input] = plain;
    w->low[input] = low;
    w->high[input] = high;
    if (high > low) w->active[w->d++] = input;
}

/* Laths from 1 to 6 mm, 0.35 to 1 of their length, some more or fewer of them, up to 4 mm of room;
 * ties up to 200 mm apart, as many in groups of up to 6. */
static void begin(struct wide *w, const struct strength_work *work,
                  const struct strength_inputs *in) {
    *w = (struct wide){.work = *work};
    double n = (double)laths_of(work);
    const struct part *tie = makings_part(work->makings, work->making, PART_TIE, NULL),
                      *rim = makings_part(work->makings, work->making, PART_RIM, NULL);
    double pitch = rim && tie && tie->pitch > 0 ? tie->pitch : NAN;
    for (int k = 0; k < INPUTS; k++) {
        double low = in->low[k], high = in->high[k];
        if (k == IN_LATH) low = fmin(low, 0.8), high = fmax(high, 6.2);
        activate(w, k, in->middle[k], low, high);
    }
    activate(w, LATH_LENGTH, 1, n > 0 ? 0.35 : 1, 1);
    activate(w, LATH_COUNT, n, n > 0 ? fmax(1, n - 4) : 0, n > 0 ? n + 4 : 0);
    bool tied = !isnan(pitch);
    activate(w, TIES, tied ? log(pitch) : 0, tied ? log(fmin(pitch, 45)) : 0,
             tied ? log(fmax(pitch, 210)) : 0);
    double group = tied && tie->group > 1 ? (double)tie->group : 1;
    activate(w, TIE_GROUP, group, tied ? 1 : group, tied ? 6 : group);
    const struct part *lath = makings_part(work->makings, work->making, PART_LATH, NULL);
    bool pocket = lath && (lath->holding == HOLDING_POCKET || lath->holding == HOLDING_LOOSE);
    double made = pocket && lath->clearance > 0 ? lath->clearance : 0;
    activate(w, ROOM, made, 0, pocket ? fmax(made, 4.2) : 0);
}

/* Inputs of the possible originals come from their rows; laths' thickness and what is none of them
 * from one stratified permutation each. */
static double *design(const struct wide *w, const struct stage_run *r,
                      const struct strength_inputs *in, size_t runs) {
    size_t n = num_rows_count(r->rows), *order = ARENA_NEW(r->arena, size_t, runs);
    double *x = ARENA_NEW(r->arena, double, runs * w->d);
    for (size_t k = 0; x && order && k < w->d; k++) {
        int input = w->active[k];
        const double *v =
            input < INPUTS && input != IN_LATH ? num_rows_values(r->rows, in->col[input]) : NULL;
        struct num_random random;
        num_random_begin(&random, num_rows_seed(r->rows), num_hash("strength.sweeps"),
                         (uint64_t)input);
        num_random_permutation(&random, order, runs);
        for (size_t i = 0; i < runs; i++) {
            double u = ((double)order[i] + num_random_uniform(&random)) / (double)runs;
            double t = v ? v[i * n / runs] : w->low[input] + u * (w->high[input] - w->low[input]);
            x[i * w->d + k] = fmin(fmax(t, w->low[input]), w->high[input]);
            if (input == LATH_COUNT || input == TIE_GROUP) x[i * w->d + k] = round(x[i * w->d + k]);
        }
    }
    return order ? x : NULL;
}

struct answers {
    struct stage_run *r;
    const struct strength_inputs *in;
    const struct wide *w;
    const struct body_controls *controls;
    double weight[ROWS];
    double *x, *mean, *variance, *all_weights; /* [ROWS][d], [ROWS], [ROWS], [rows] */
    double *all_x, *all;                       /* [rows][d], [rows] */
};

static void rows_with(struct answers *a, int input, double value) {
    size_t n = num_rows_count(a->r->rows), d = a->w->d;
    for (size_t k = 0; k < d; k++) {
        int q = a->w->active[k];
        const double *v =
            q < INPUTS && q != input ? num_rows_values(a->r->rows, a->in->col[q]) : NULL;
        for (size_t row = 0; row < n; row++) {
            double t = v ? v[row] : q == input ? value : a->w->plain[q];
            a->all_x[row * d + k] = fmin(fmax(t, a->w->low[q]), a->w->high[q]);
        }
    }
    for (size_t i = 0; i < ROWS; i++) {
        size_t row = i * n / ROWS;
        a->weight[i] = a->all_weights[row];
        memcpy(a->x + i * d, a->all_x + row * d, d * sizeof *a->x);
    }
}

/* The three answers people ask most after become columns over all rows: the stand-in's middle there
 * with the errors drawn for the chosen rows, dealt out again and again. Others stay with those. */
static bool as_column(const struct strength_output *o) {
    return o->which == BODY_OUT_RISE || o->which == BODY_OUT_EDGE_LIFT ||
           o->which == BODY_OUT_STIFFNESS;
}

/* The stand-in's error may not make a height over the table or a weight less than none. */
static double no_less(const struct strength_output *o, double v) {
    return o->which == BODY_OUT_EDGE_LIFT || o->which == BODY_OUT_WEIGHT ? fmax(v, 0) : v;
}

static int put_column(struct answers *a, const struct strength_output *o, const char *id,
                      double told, struct error *err) {
    size_t n = num_rows_count(a->r->rows), col;
    double error[ROWS];
    int rc = body_controls_predict(a->controls, o->which, a->all_x, n, a->all, NULL, err);
    if (rc) return rc;
    bool share = o->which == BODY_OUT_STIFFNESS;
    for (size_t i = 0; i < ROWS; i++) {
        double middle = o->scale * a->all[i * n / ROWS];
        error[i] = share ? a->mean[i] / middle : a->mean[i] - middle;
    }
    for (size_t i = 0; i < n; i++) {
        double v = o->scale * a->all[i];
        a->all[i] = no_less(o, share ? v * error[i % ROWS] : v + error[i % ROWS]);
    }
    char name[96];
    snprintf(name, sizeof name, "sweep.%s.%.4g.%s", id, told, o->id);
    return num_rows_put(a->r->rows, name, a->in->col, INPUTS, a->all, &col, err);
}

/* Quantiles of one output with the stand-in's own error drawn in. */
static int answer(double q[3], struct answers *a, const struct strength_output *o, const char *id,
                  struct error *err) {
    static const double p[3] = {0.05, 0.5, 0.95};
    double normal[ROWS];
    for (size_t i = 0; i < ROWS; i++) {
        struct num_random random; /* the same for all values of a sweep: they stay comparable */
        num_random_begin(&random, num_rows_seed(a->r->rows), num_hash(id), i);
        normal[i] = num_random_normal(&random);
    }
    int rc =
        body_controls_draw(a->controls, o->which, a->x, ROWS, normal, a->mean, a->variance, err);
    for (size_t i = 0; i < ROWS && !rc; i++)
        a->mean[i] = no_less(o, a->mean[i] * o->scale);
    return rc ? rc : num_quantiles(a->mean, a->weight, ROWS, p, 3, q, err);
}

static const char *range(struct stage_run *r, const double q[3]) {
    const struct spread s = spread_sides(q[0], q[1], q[2]);
    return stage_range(r, &s);
}

/* One value of one sweep: a row of the table and numbers for the screens. */
static int one_value(struct answers *a, const struct swept *s, double told, json_t *table,
                     json_t *numbers, struct error *err) {
    double inside = s->input == TIES ? log(told) : told * s->scale;
    if (inside < a->w->low[s->input] - 1e-9 || inside > a->w->high[s->input] + 1e-9) return 0;
    json_t *cells =
               json_pack("[s,s]", s->title,
                         arena_printf(a->r->arena, "%.4g%s%s", told, *s->unit ? " " : "", s->unit)),
           *outputs = json_object();
    rows_with(a, s->input, inside);
    int rc = 0;
    for (size_t k = 0; k < STRENGTH_OUTPUTS && !rc; k++) {
        double q[3];
        rc = answer(q, a, &strength_outputs[k], s->id, err);
        if (!rc && as_column(&strength_outputs[k]))
            rc = put_column(a, &strength_outputs[k], s->id, told, err);
        if (rc) break;
        json_array_append_new(cells, json_string(range(a->r, q)));
        json_object_set_new(outputs, strength_outputs[k].id,
                            json_pack("[f,f,f]", q[0], q[1], q[2]));
    }
    if (!rc) {
        json_array_append(table, cells);
        json_array_append_new(numbers, json_pack("{s:f,s:O}", "value", told, "outputs", outputs));
    }
    json_decref(cells);
    json_decref(outputs);
    return rc;
}

/* Values of a sweep as told: counts about the making's own, ties from its own on. */
static size_t values_of(double out[VALUES], const struct wide *w, const struct swept *s) {
    size_t n = 0;
    for (int i = 0; i < VALUES; i++) {
        double v = s->value[i];
        if (s->input == LATH_COUNT) v = w->plain[LATH_COUNT] + 2 * (i - 2);
        if (s->input == LATH_COUNT && (i > 4 || v < 1)) continue;
        if (s->input == TIES && i == 0) v = exp(w->plain[TIES]);
        if (v > 0 || (s->input == ROOM && i == 0)) out[n++] = v;
    }
    return n;
}

static bool is_active(const struct wide *w, int input) {
    for (size_t k = 0; k < w->d; k++)
        if (w->active[k] == input) return true;
    return false;
}

static int tell(struct answers *a, struct error *err) {
    char heads[400] = "what is changed|to";
    for (size_t k = 0; k < STRENGTH_OUTPUTS; k++)
        snprintf(heads + strlen(heads), sizeof heads - strlen(heads), "|%s",
                 strength_outputs[k].head);
    json_t *table = stage_table(a->r, "sweeps",
                                "One thing changed, all else as proposed, put together dry", heads),
           *list = json_array();
    int rc = table && list ? 0 : fail_memory(err);
    for (size_t i = 0; i < SWEEPS && !rc; i++) {
        const struct swept *s = &sweeps[i];
        double value[VALUES];
        size_t n = values_of(value, a->w, s);
        json_t *numbers = json_array();
        for (size_t k = 0; k < n && is_active(a->w, s->input) && !rc; k++)
            rc = one_value(a, s, value[k], table, numbers, err);
        if (!rc && json_array_size(numbers))
            json_array_append_new(list, json_pack("{s:s,s:s,s:s,s:O}", "id", s->id, "title",
                                                  s->title, "unit", s->unit, "values", numbers));
        json_decref(numbers);
    }
    json_object_set_new(a->r->result, "sweeps", list);
    return rc;
}

int strength_sweeps(struct stage_run *r, const struct strength_work *work,
                    const struct strength_inputs *in, json_t *fit, struct error *err) {
    struct wide w;
    begin(&w, work, in);
    struct answers a = {.r = r,
                        .in = in,
                        .w = &w,
                        .x = ARENA_NEW(r->arena, double, ROWS *w.d),
                        .mean = ARENA_NEW(r->arena, double, ROWS),
                        .variance = ARENA_NEW(r->arena, double, ROWS),
                        .all_weights = ARENA_NEW(r->arena, double, num_rows_count(r->rows)),
                        .all_x = ARENA_NEW(r->arena, double, num_rows_count(r->rows) * w.d),
                        .all = ARENA_NEW(r->arena, double, num_rows_count(r->rows))};
    size_t count = strength_run_count(r, RUNS);
    double *x = design(&w, r, in, count);
    if (!x || !a.x || !a.mean || !a.variance || !a.all_weights || !a.all_x || !a.all)
        return fail_memory(err);
    num_rows_weights(r->rows, a.all_weights);
    const char *active = "";
    for (size_t k = 0; k < w.d && active; k++)
        active = arena_printf(r->arena, "%s%s%d", active, k ? " " : "", w.active[k]);
    if (!active) return fail_memory(err);
    const struct strength_design runs = {"sweeps", active, x, count, w.d, make, &w};
    struct body_controls *c = NULL;
    int rc = strength_controls(&c, r, &runs, err);
    a.controls = c;
    if (!rc) rc = tell(&a, err);
    if (!rc) strength_fit_row(r, fit, "one thing changed", c);
    body_controls_free(c);
    return rc;
}
