#include "body/controls.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/emulator.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { CHUNK = 16 };

const char *const body_controls_names[BODY_OUTPUTS] = {
    "curvature along", "curvature across",       "rise",  "end rise", "edge lift",
    "twist",           "stiffness under a hand", "weight"};

struct body_controls {
    size_t n, d;
    double *y; /* [n][BODY_OUTPUTS] */
    struct num_emulator *emulator[BODY_OUTPUTS];
    double constant[BODY_OUTPUTS]; /* of an output that does not vary: it has no emulator */
    double floor[BODY_OUTPUTS];    /* variance of what the emulator leaves over */
    struct body_controls_report report;
};

struct crowd {
    const double *x;
    const size_t *row; /* which rows to run; NULL: all */
    size_t d, triangles;
    body_controls_make *make;
    void *context;
    double *y;        /* [rows][BODY_OUTPUTS] */
    char (*why)[512]; /* [rows] reason of a failure */
};

static void outputs(const struct body_sheet_out *o, double *y) {
    const double v[BODY_OUTPUTS] = {o->curvature[0], o->curvature[1], o->rise,      o->end_rise,
                                    o->edge_lift,    o->twist,        o->stiffness, o->mass};
    memcpy(y, v, sizeof v);
}

/* One row: the chunk's model is changed to it, or made anew when it cannot be. */
static int one(struct crowd *c, size_t row, struct body_sheet_model **model, double *y,
               struct error *err) {
    struct arena *arena = arena_new();
    struct body_sheet sheet = {0};
    struct body_sheet_out out;
    int rc = arena ? c->make(&sheet, c->x + row * c->d, c->context, arena, err) : fail_memory(err);
    if (!rc) {
        int changed = *model ? body_sheet_change(*model, &sheet, err) : ERR_RANGE;
        if (changed) {
            body_sheet_free(*model);
            *model = NULL;
            error_clear(err);
            rc = body_sheet_new(model, &sheet, c->triangles, err);
        }
    }
    if (!rc) rc = body_sheet_solve(*model, &out, err);
    if (!rc) outputs(&out, y);
    if (*model) body_sheet_forget_outline(*model); /* its points die with the arena */
    arena_free(arena);
    return rc;
}

static void run(size_t begin, size_t end, size_t index, void *context) {
    (void)index;
    struct crowd *c = context;
    struct body_sheet_model *model = NULL;
    struct error err = {0};
    double ignored[BODY_OUTPUTS];
    /* every chunk begins from the first row, so that its mesh is the same whoever runs it */
    one(c, 0, &model, ignored, &err);
    for (size_t i = begin; i < end; i++) {
        double *y = c->y + i * BODY_OUTPUTS;
        for (int k = 0; k < BODY_OUTPUTS; k++)
            y[k] = NAN;
        error_clear(&err);
        if (one(c, c->row ? c->row[i] : i, &model, y, &err)) {
            error_text(&err, c->why[i], sizeof c->why[i]);
            body_sheet_free(model);
            model = NULL;
        }
    }
    body_sheet_free(model);
}

/* Bent more across than along: the branch a barky sheet belongs to. */
static int bent_across(const double *y) {
    return fabs(y[BODY_OUT_ACROSS]) >= fabs(y[BODY_OUT_ALONG]);
}

/* Fine less coarse on a few rows spread over all of them. */
static int compare_meshes(struct body_controls *k, struct crowd *c,
                          const struct body_controls_options *o, struct error *err) {
    size_t want = o && o->checks ? o->checks : 6, m = 0;
    size_t *row = MEM_NEW(size_t, want);
    double *fine = MEM_NEW(double, want *BODY_OUTPUTS);
    char(*why)[512] = mem_alloc(want, sizeof *why);
    int rc = row && fine && why ? 0 : fail_memory(err);
    for (size_t i = 0; i < want && !rc; i++) {
        size_t at = i * k->n / want;
        while (at < k->n && !isfinite(k->y[at * BODY_OUTPUTS]))
            at++;
        if (at < k->n && (m == 0 || row[m - 1] != at)) row[m++] = at;
    }
    if (!rc) {
        struct crowd f = *c;
        f.triangles = o && o->fine ? o->fine : 2400;
        f.row = row;
        f.y = fine;
        f.why = why;
        parallel_for(m, 1, run, &f);
    }
    for (int q = 0; q < BODY_OUTPUTS && !rc; q++) {
        double sum = 0, sum2 = 0, n = 0;
        for (size_t i = 0; i < m; i++) {
            double d = fine[i * BODY_OUTPUTS + (size_t)q] - k->y[row[i] * BODY_OUTPUTS + (size_t)q];
            if (!isfinite(d)) continue;
            sum += d;
            sum2 += d * d;
            n++;
        }
        if (n < 1) continue;
        double mean = sum / n;
        k->report.output[q].shift = mean;
        k->report.output[q].spread =
            n > 1 ? sqrt(fmax(0, (sum2 - n * mean * mean) / (n - 1))) : fabs(mean);
    }
    mem_free(row);
    mem_free(fine);
    mem_free(why);
    return rc;
}

static int fit(struct body_controls *k, const double *x, struct error *err) {
    double *xs = MEM_NEW(double, k->n * k->d), *ys = MEM_NEW(double, k->n);
    size_t across = 0, good = 0;
    int rc = xs && ys ? 0 : fail_memory(err);
    for (size_t i = 0; i < k->n && !rc; i++)
        if (isfinite(k->y[i * BODY_OUTPUTS])) {
            good++;
            across += (size_t)bent_across(k->y + i * BODY_OUTPUTS);
        }
    int branch = 2 * across >= good;
    for (int q = 0; q < BODY_OUTPUTS && !rc; q++) {
        size_t m = 0;
        for (size_t i = 0; i < k->n; i++) {
            const double *y = k->y + i * BODY_OUTPUTS;
            if (!isfinite(y[0]) || bent_across(y) != branch || !isfinite(y[q])) continue;
            memcpy(xs + m * k->d, x + i * k->d, k->d * sizeof *x);
            ys[m++] = y[q];
        }
        if (q == 0) k->report.other_branch = good - m;
        if (m < k->d + 8) {
            rc = fail(err, ERR_SOLVE, "Ask for more rows, or look why so many fail.",
                      "Only %zu of %zu runs can be used for %zu inputs. %.300s", m, k->n, k->d,
                      k->report.first_failure);
            break;
        }
        double lo = INFINITY, hi = -INFINITY;
        for (size_t i = 0; i < m; i++) {
            lo = fmin(lo, ys[i]);
            hi = fmax(hi, ys[i]);
        }
        k->constant[q] = (lo + hi) / 2;
        k->floor[q] = pow(k->report.output[q].spread, 2);
        if (hi - lo <= 1e-7 * (fabs(lo) + fabs(hi))) continue;
        struct num_emulator_options o = {.trend = NUM_TREND_LINEAR};
        struct num_emulator_check check;
        rc = num_emulator_fit(&k->emulator[q], xs, ys, m, k->d, &o, err);
        if (rc) break;
        num_emulator_check(k->emulator[q], &check);
        k->report.output[q].rms = check.rms;
        k->report.output[q].relative = check.relative;
        k->report.output[q].worst = check.worst;
        k->report.output[q].inside90 = check.inside90;
        double nugget;
        num_emulator_found(k->emulator[q], NULL, NULL, &nugget, NULL);
        k->floor[q] += nugget;
    }
    mem_free(xs);
    mem_free(ys);
    return rc;
}

int body_controls_new(struct body_controls **out, const double *x, size_t n, size_t d,
                      body_controls_make *make, void *context,
                      const struct body_controls_options *o, struct error *err) {
    *out = NULL;
    if (n < d + 8 || d < 1 || d > NUM_EMULATOR_INPUTS || n > 4096)
        return fail(err, ERR_RANGE, "Give 1 to 40 inputs and at least 8 rows more than inputs.",
                    "There are %zu rows of %zu inputs.", n, d);
    struct body_controls *k = MEM_NEW(struct body_controls, 1);
    if (!k) return fail_memory(err);
    k->n = k->report.runs = n;
    k->d = d;
    k->y = MEM_NEW(double, n *BODY_OUTPUTS);
    char(*why)[512] = mem_alloc(n, sizeof *why);
    int rc = k->y && why ? 0 : fail_memory(err);
    struct crowd c = {.x = x,
                      .d = d,
                      .triangles = o && o->triangles ? o->triangles : 600,
                      .make = make,
                      .context = context,
                      .y = k->y,
                      .why = why};
    if (!rc) parallel_for(n, CHUNK, run, &c);
    for (size_t i = 0; i < n && !rc; i++)
        if (!isfinite(k->y[i * BODY_OUTPUTS])) {
            if (k->report.failed++ == 0)
                snprintf(k->report.first_failure, sizeof k->report.first_failure, "%.500s", why[i]);
        }
    if (!rc) rc = compare_meshes(k, &c, o, err);
    if (!rc) rc = fit(k, x, err);
    mem_free(why);
    if (rc)
        body_controls_free(k);
    else
        *out = k;
    return rc;
}

void body_controls_free(struct body_controls *k) {
    if (!k) return;
    for (int q = 0; q < BODY_OUTPUTS; q++)
        num_emulator_free(k->emulator[q]);
    mem_free(k->y);
    mem_free(k);
}

void body_controls_report(const struct body_controls *k, struct body_controls_report *out) {
    *out = k->report;
}
const double *body_controls_runs(const struct body_controls *k) {
    return k->y;
}

int body_controls_predict(const struct body_controls *k, enum body_controls_output q,
                          const double *x, size_t m, double *mean, double *variance,
                          struct error *err) {
    int rc = 0;
    if (k->emulator[q]) rc = num_emulator_predict_many(k->emulator[q], x, m, mean, variance, err);
    for (size_t i = 0; i < m && !k->emulator[q]; i++) {
        mean[i] = k->constant[q];
        if (variance) variance[i] = 0;
    }
    for (size_t i = 0; i < m && !rc; i++) {
        mean[i] += k->report.output[q].shift;
        if (variance) variance[i] += k->floor[q];
    }
    return rc;
}
