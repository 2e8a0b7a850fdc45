#include "body/controls.h"

#include "base/mem.h"
#include "base/parallel.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CHUNK = 16 };

const char *const body_controls_names[BODY_OUTPUTS] = {
    "curvature along", "curvature across",       "rise",  "end rise", "edge lift",
    "twist",           "stiffness under a hand", "weight"};

struct body_controls {
    size_t n, d;
    struct body_controls_known keep; /* y as the first building would have it */
    double *y;                       /* [n][BODY_OUTPUTS] */
    struct num_emulator *emulator[BODY_OUTPUTS];
    double constant[BODY_OUTPUTS]; /* of an output that does not vary: it has no emulator */
    double floor[BODY_OUTPUTS];    /* variance of what the emulator leaves over */
    bool curved[BODY_OUTPUTS];     /* emulated as its logarithm, though kept as it is */
    double usual[BODY_OUTPUTS];    /* of what is emulated as a logarithm: exp of its mean; else 1 */
    struct body_controls_report report;
};

/* As emulated: shares of what is curved. NAN where it has no logarithm. */
static double emulated(const bool *curved, int q, double v) {
    if (!curved[q]) return v;
    return v > 0 ? log(v) : NAN;
}
static double as_kept(const bool *curved, int q, double v) {
    return curved[q] ? exp(v) : v;
}

struct crowd {
    const double *x;
    const size_t *row; /* which rows to run; NULL: all */
    size_t d, triangles;
    body_controls_make *make;
    void *context;
    double *y;        /* [rows][BODY_OUTPUTS] */
    char (*why)[512]; /* [rows] reason of a failure */
};

/* To nine digits, so that runs kept as text are the runs themselves. */
static double round_off(double v) {
    if (!isfinite(v) || v == 0) return v;
    char text[40];
    snprintf(text, sizeof text, "%.9g", v);
    return strtod(text, NULL);
}

static void outputs(const struct body_sheet_out *o, double *y) {
    const double v[BODY_OUTPUTS] = {o->curvature[0],   o->curvature[1], o->rise,
                                    o->end_rise,       o->edge_lift,    o->twist,
                                    log(o->stiffness), o->mass};
    for (int q = 0; q < BODY_OUTPUTS; q++)
        y[q] = round_off(v[q]);
}

/* One chunk's model and the first row's sheet, whose outline gives the mesh of all rows. */
struct bench {
    struct body_sheet_model *model;
    struct body_sheet first;
    struct arena *arena; /* of the first row's outline; NULL: it has none */
};

static void bench_begin(struct bench *b, const struct crowd *c) {
    struct error err = {0};
    *b = (struct bench){.arena = arena_new()};
    if (!b->arena || c->make(&b->first, c->x, c->context, b->arena, &err) == 0) return;
    arena_free(b->arena);
    b->arena = NULL;
}

static void bench_drop(struct bench *b) {
    body_sheet_free(b->model);
    b->model = NULL;
}

/* Brings the chunk's model to the sheet: from the model as it is; else with the sheet's kinds and
 * counts of part on the first row's mesh, carried to its outline. So a row has the same mesh
 * whoever ran before it. 1: it can only have a mesh of its own. */
static int bench_fit(struct bench *b, const struct crowd *c, const struct body_sheet *sheet,
                     int *own, struct error *err) {
    struct body_sheet begin = *sheet;
    *own = 0;
    if (b->model && body_sheet_change(b->model, sheet, err) == 0) return 0;
    bench_drop(b);
    error_clear(err);
    begin.outline = b->first.outline;
    begin.holes = b->first.holes;
    memcpy(begin.hole, b->first.hole, sizeof begin.hole);
    if (b->arena && begin.holes == sheet->holes &&
        body_sheet_new(&b->model, &begin, c->triangles, err) == 0) {
        body_sheet_forget_outline(b->model); /* carried over in any case, as from any other row */
        if (body_sheet_change(b->model, sheet, err) == 0) return 0;
    }
    bench_drop(b);
    error_clear(err);
    *own = 1;
    return body_sheet_new(&b->model, sheet, c->triangles, err);
}

static int one(struct bench *b, struct crowd *c, size_t row, double *y, struct error *err) {
    struct arena *arena = arena_new();
    struct body_sheet sheet = {0};
    struct body_sheet_out out;
    int own = 0,
        rc = arena ? c->make(&sheet, c->x + row * c->d, c->context, arena, err) : fail_memory(err);
    if (!rc) rc = bench_fit(b, c, &sheet, &own, err);
    if (!rc) rc = body_sheet_solve(b->model, &out, err);
    if (!rc) outputs(&out, y);
    if (b->model) body_sheet_forget_outline(b->model); /* its points die with the arena */
    if (rc || own) bench_drop(b);
    arena_free(arena);
    return rc;
}

static void run(size_t begin, size_t end, size_t index, void *context) {
    (void)index;
    struct crowd *c = context;
    struct bench bench;
    struct error err = {0};
    bench_begin(&bench, c);
    for (size_t i = begin; i < end; i++) {
        double *y = c->y + i * BODY_OUTPUTS;
        for (int k = 0; k < BODY_OUTPUTS; k++)
            y[k] = NAN;
        error_clear(&err);
        if (one(&bench, c, c->row ? c->row[i] : i, y, &err))
            error_text(&err, c->why[i], sizeof c->why[i]);
    }
    bench_drop(&bench);
    arena_free(bench.arena);
}

/* Bent more across than along: the branch a barky sheet belongs to. */
static int bent_across(const double *y) {
    return fabs(y[BODY_OUT_ACROSS]) >= fabs(y[BODY_OUT_ALONG]);
}

/* The branch most of the runs y[n] are in; *good: how many were solved. */
static int branch_of(const double *y, size_t n, size_t *good, size_t *across) {
    *good = *across = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(y[i * BODY_OUTPUTS])) {
            ++*good;
            *across += (size_t)bent_across(y + i * BODY_OUTPUTS);
        }
    return 2 * *across >= *good;
}

/* What is above 0 in all runs of the branch goes over decades as moduli and stems do, and the nets
 * differ by shares of it: then its logarithm is emulated. A thousandth of a hundredth of the
 * largest is the shell's rounding, not an answer. The stiffness is a logarithm already. */
static void choose_curved(bool *curved, const double *y, size_t n) {
    size_t good, across;
    int branch = branch_of(y, n, &good, &across);
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        double least = INFINITY, most = 0;
        for (size_t i = 0; i < n; i++) {
            const double *run = y + i * BODY_OUTPUTS;
            if (!isfinite(run[0]) || bent_across(run) != branch) continue;
            least = fmin(least, run[q]);
            most = fmax(most, run[q]);
        }
        curved[q] = q != BODY_OUT_STIFFNESS && least > 1e-5 * most;
    }
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
            double d = emulated(k->curved, q, fine[i * BODY_OUTPUTS + (size_t)q]) -
                       emulated(k->curved, q, k->y[row[i] * BODY_OUTPUTS + (size_t)q]);
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

struct fitting {
    struct body_controls *k;
    const double *x;
    const struct body_controls_found *known; /* [BODY_OUTPUTS] or NULL */
    int branch, rc[BODY_OUTPUTS];
    bool searched[BODY_OUTPUTS];
    struct error why[BODY_OUTPUTS];
};

static void hash_of(char out[SHA256_TEXT], const double *x, const double *y, size_t n, size_t d) {
    struct sha256 h;
    unsigned char bytes[SHA256_BYTES];
    sha256_begin(&h);
    sha256_add(&h, "lengths 1", 9); /* raised when the search changes */
    sha256_add(&h, &d, sizeof d);
    sha256_add(&h, x, n * d * sizeof *x);
    sha256_add(&h, y, n * sizeof *y);
    sha256_end(&h, bytes);
    sha256_hex(bytes, out);
}

/* Lengths over the ranges of n rows made lengths over those of m rows. */
static void other_ranges(double *v, const double *x, size_t n, size_t m, size_t d) {
    for (size_t k = 0; k < d && m > n; k++) {
        double range[2];
        for (int w = 0; w < 2; w++) {
            double lo = INFINITY, hi = -INFINITY;
            for (size_t i = 0; i < (w ? m : n); i++) {
                lo = fmin(lo, x[i * d + k]);
                hi = fmax(hi, x[i * d + k]);
            }
            range[w] = hi > lo ? hi - lo : 1;
        }
        v[k] *= range[0] / range[1];
    }
}

/* The emulator of m outputs `now`; its lengths are those of the `first` runs of the first design as
 * they are kept, `then`: they differ from now by a constant at most, so that the search need not be
 * made again while the runs serve. */
static int fit_runs(struct fitting *f, int q, const double *x, const double *then,
                    const double *now, const size_t m[2], struct error *err) {
    struct body_controls *k = f->k;
    struct body_controls_found *found = &k->keep.found[q];
    struct num_emulator_options o = {.trend = NUM_TREND_LINEAR};
    size_t all = m[1], first = m[0] >= k->d + 8 ? m[0] : all;
    double searched[NUM_EMULATOR_INPUTS + 1];
    hash_of(found->of, x, then, first, k->d);
    if (f->known && strcmp(f->known[q].of, found->of) == 0) {
        *found = f->known[q];
    } else {
        int rc = num_emulator_fit(&k->emulator[q], x, then, first, k->d, &o, err);
        if (rc) return rc;
        f->searched[q] = true;
        num_emulator_searched(k->emulator[q], found->v);
        if (first == all && memcmp(then, now, all * sizeof *now) == 0) return 0;
        num_emulator_free(k->emulator[q]);
        k->emulator[q] = NULL;
    }
    memcpy(searched, found->v, sizeof searched);
    other_ranges(searched, x, first, all, k->d);
    o.searched = searched;
    return num_emulator_fit(&k->emulator[q], x, now, all, k->d, &o, err);
}

static int fit_output(struct fitting *f, int q, struct error *err) {
    struct body_controls *k = f->k;
    double *xs = MEM_NEW(double, k->n * k->d), *ys = MEM_NEW(double, k->n),
           *then = MEM_NEW(double, k->n), lo = INFINITY, hi = -INFINITY;
    size_t m = 0, first = 0;
    int rc = xs && ys && then ? 0 : fail_memory(err);
    for (size_t i = 0; i < k->n && !rc; i++) {
        const double *y = k->y + i * BODY_OUTPUTS;
        double now = emulated(k->curved, q, y[q]);
        if (!isfinite(y[0]) || bent_across(y) != f->branch || !isfinite(now)) continue;
        memcpy(xs + m * k->d, f->x + i * k->d, k->d * sizeof *f->x);
        lo = fmin(lo, now);
        hi = fmax(hi, now);
        then[m] = emulated(k->curved, q, k->keep.y[i * BODY_OUTPUTS + (size_t)q]);
        ys[m++] = now;
        if (i < k->keep.first) first = m;
    }
    if (!rc && m < k->d + 8)
        rc = fail(err, ERR_SOLVE, "Ask for more rows, or look why so many fail.",
                  "Only %zu of %zu runs can be used for %zu inputs. %.300s", m, k->n, k->d,
                  k->report.first_failure);
    k->constant[q] = (lo + hi) / 2;
    k->floor[q] = pow(k->report.output[q].spread, 2) + pow(k->report.output[q].scatter, 2);
    if (!rc && hi - lo > 1e-7 * (fabs(lo) + fabs(hi))) {
        struct num_emulator_check check = {0};
        double nugget = 0;
        rc = fit_runs(f, q, xs, then, ys, (size_t[]){first, m}, err);
        if (!rc) num_emulator_check(k->emulator[q], &check);
        if (!rc) num_emulator_found(k->emulator[q], NULL, NULL, &nugget, NULL);
        k->report.output[q].rms = check.rms;
        k->report.output[q].relative = check.relative;
        k->report.output[q].worst = check.worst;
        k->report.output[q].inside90 = check.inside90;
        k->floor[q] += nugget;
    }
    mem_free(xs);
    mem_free(ys);
    mem_free(then);
    return rc;
}

static void fit_one(size_t begin, size_t end, size_t index, void *context) {
    struct fitting *f = context;
    (void)index;
    for (size_t q = begin; q < end; q++)
        f->rc[q] = fit_output(f, (int)q, &f->why[q]);
}

static int fit(struct body_controls *k, const double *x, const struct body_controls_known *known,
               struct error *err) {
    struct fitting f = {.k = k, .x = x, .known = known ? known->found : NULL};
    size_t across, good;
    f.branch = branch_of(k->y, k->n, &good, &across);
    k->report.other_branch = f.branch ? good - across : across;
    parallel_for(BODY_OUTPUTS, 1, fit_one, &f);
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        if (f.rc[q]) {
            if (err) *err = f.why[q];
            return f.rc[q];
        }
        k->report.searched += f.searched[q];
    }
    return 0;
}

/* ---- runs of before ------------------------------------------------------------------------- */

enum { PROBES = 8, HULL = NUM_EMULATOR_INPUTS + 1 };

/* Inputs as 1 and x in standard deviations of the known ones. */
struct hull {
    size_t d;
    double mean[HULL], sd[HULL], l[HULL][HULL], most; /* l: Cholesky factor of X'X / n */
};

static double leverage(const struct hull *h, const double *x) {
    double z[HULL], sum = 0;
    for (size_t i = 0; i <= h->d; i++) {
        z[i] = i ? (x[i - 1] - h->mean[i]) / h->sd[i] : 1;
        for (size_t j = 0; j < i; j++)
            z[i] -= h->l[i][j] * z[j];
        z[i] /= h->l[i][i];
        sum += z[i] * z[i];
    }
    return sum;
}

static void hull_make(struct hull *h, const double *x, size_t n, size_t d) {
    memset(h, 0, sizeof *h);
    h->d = d;
    for (size_t c = 1; c <= d; c++) {
        double sum = 0, square = 0;
        for (size_t i = 0; i < n; i++)
            sum += x[i * d + c - 1];
        h->mean[c] = sum / (double)n;
        for (size_t i = 0; i < n; i++)
            square += pow(x[i * d + c - 1] - h->mean[c], 2);
        h->sd[c] = fmax(sqrt(square / (double)n), 1e-9 * fabs(h->mean[c]) + 1e-300);
    }
    for (size_t r = 0; r < n; r++) {
        double z[HULL] = {1};
        for (size_t c = 1; c <= d; c++)
            z[c] = (x[r * d + c - 1] - h->mean[c]) / h->sd[c];
        for (size_t i = 0; i <= d; i++)
            for (size_t j = 0; j <= i; j++)
                h->l[i][j] += z[i] * z[j] / (double)n;
    }
    for (size_t i = 0; i <= d; i++) {
        h->l[i][i] += 1e-9; /* inputs that go together keep it positive */
        for (size_t j = 0; j <= i; j++) {
            for (size_t c = 0; c < j; c++)
                h->l[i][j] -= h->l[i][c] * h->l[j][c];
            h->l[i][j] = i == j ? sqrt(fmax(h->l[i][i], 1e-12)) : h->l[i][j] / h->l[j][j];
        }
    }
    for (size_t r = 0; r < n; r++)
        h->most = fmax(h->most, leverage(h, x + r * d));
}

/* Makes some known runs again as it is built now. 1: they serve, the report says how they moved.
 * What a regular sheet hardly does at all (twist, bend and rise along) does not decide: its scatter
 * goes into the variance. */
static int probe(struct body_controls *k, struct crowd c, const struct body_controls_known *known) {
    double y[PROBES * BODY_OUTPUTS];
    char why[PROBES][512];
    size_t row[PROBES], m = 0;
    for (size_t i = 0; i < PROBES; i++) {
        size_t at = i * known->n / PROBES;
        while (at < known->n && !isfinite(known->y[at * BODY_OUTPUTS]))
            at++;
        if (at < known->n && (m == 0 || row[m - 1] < at)) row[m++] = at;
    }
    if (m < PROBES) return 0;
    choose_curved(k->curved, known->y, known->first);
    c.x = known->x;
    c.row = row;
    c.y = y;
    c.why = why;
    parallel_for(m, PROBES / 2, run, &c);
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        double sum = 0, square = 0, all = 0, all2 = 0, n = 0;
        for (size_t i = 0; i < m; i++) {
            double d = emulated(k->curved, q, y[i * BODY_OUTPUTS + (size_t)q]) -
                       emulated(k->curved, q, known->y[row[i] * BODY_OUTPUTS + (size_t)q]);
            if (!isfinite(d)) return 0;
            sum += d;
            square += d * d;
        }
        for (size_t i = 0; i < known->n; i++) {
            double v = emulated(k->curved, q, known->y[i * BODY_OUTPUTS + (size_t)q]);
            if (!isfinite(v)) continue;
            all += v;
            all2 += v * v;
            n++;
        }
        double mean = sum / (double)m,
               scatter = sqrt(fmax(0, (square - (double)m * mean * mean) / (double)(m - 1))),
               spread = sqrt(fmax(0, all2 / n - all / n * all / n));
        bool told = q == BODY_OUT_ACROSS || q == BODY_OUT_RISE || q == BODY_OUT_EDGE_LIFT ||
                    q == BODY_OUT_STIFFNESS || q == BODY_OUT_WEIGHT;
        if (told && (scatter > 0.15 * spread + 1e-9 || fabs(mean) > 0.5 * spread + 1e-9)) return 0;
        k->report.output[q].moved = mean;
        k->report.output[q].scatter = scatter;
    }
    k->report.probes = m;
    return 1;
}

static int hold(struct body_controls *k, size_t n, struct error *err) {
    k->n = n;
    k->y = MEM_NEW(double, n *BODY_OUTPUTS);
    k->keep.x = MEM_NEW(double, n * k->d);
    k->keep.y = MEM_NEW(double, n *BODY_OUTPUTS);
    k->keep.n = n;
    k->keep.d = k->d;
    return k->y && k->keep.x && k->keep.y ? 0 : fail_memory(err);
}

/* Takes the known runs and runs those rows of x that lie outside their hull. */
static int reuse(struct body_controls *k, struct crowd *c, const double *x, size_t n,
                 const struct body_controls_known *known, struct error *err) {
    struct hull h;
    size_t *row = MEM_NEW(size_t, n), more = 0, d = k->d;
    if (!row) return fail_memory(err);
    hull_make(&h, known->x, known->n, d);
    for (size_t i = 0; i < n; i++)
        if (leverage(&h, x + i * d) > h.most) row[more++] = i;
    k->report.reused = known->n;
    k->report.added = more;
    k->keep.first = known->first;
    int rc = hold(k, known->n + more, err);
    char(*why)[512] = mem_alloc(more + 1, sizeof *why);
    if (!rc && !why) rc = fail_memory(err);
    if (!rc) {
        memcpy(k->keep.x, known->x, known->n * d * sizeof *x);
        memcpy(k->keep.y, known->y, known->n * BODY_OUTPUTS * sizeof *x);
        for (size_t i = 0; i < more; i++) {
            memcpy(k->keep.x + (known->n + i) * d, x + row[i] * d, d * sizeof *x);
            row[i] = known->n + i;
        }
        c->x = k->keep.x; /* whose first row gave the mesh */
        c->row = row;
        c->y = k->keep.y + known->n * BODY_OUTPUTS;
        c->why = why;
        if (more) parallel_for(more, CHUNK, run, c);
    }
    for (size_t i = 0; i < k->n && !rc; i++)
        for (int q = 0; q < BODY_OUTPUTS; q++) {
            double *then = &k->keep.y[i * BODY_OUTPUTS + (size_t)q],
                   moved = k->report.output[q].moved;
            if (i >= known->n)
                *then = round_off(as_kept(k->curved, q, emulated(k->curved, q, *then) - moved));
            k->y[i * BODY_OUTPUTS + (size_t)q] =
                as_kept(k->curved, q, emulated(k->curved, q, *then) + moved);
        }
    for (int q = 0; q < BODY_OUTPUTS && !rc; q++) {
        k->keep.shift[q] = k->report.output[q].shift = known->shift[q];
        k->keep.spread[q] = k->report.output[q].spread = known->spread[q];
    }
    mem_free(row);
    mem_free(why);
    return rc;
}

/* Runs all rows, and some of them on a finer mesh. */
static int run_all(struct body_controls *k, struct crowd *c, const double *x, size_t n,
                   const struct body_controls_options *o, struct error *err) {
    int rc = hold(k, n, err);
    char(*why)[512] = mem_alloc(n, sizeof *why);
    if (!rc && !why) rc = fail_memory(err);
    if (!rc) {
        c->y = k->y;
        c->why = why;
        parallel_for(n, CHUNK, run, c);
        for (size_t i = 0; i < n; i++)
            if (!isfinite(k->y[i * BODY_OUTPUTS]) && !*k->report.first_failure)
                snprintf(k->report.first_failure, sizeof k->report.first_failure, "%.500s", why[i]);
        choose_curved(k->curved, k->y, n);
        rc = compare_meshes(k, c, o, err);
    }
    mem_free(why);
    if (rc) return rc;
    k->keep.first = n;
    memcpy(k->keep.x, x, n * k->d * sizeof *x);
    memcpy(k->keep.y, k->y, n * BODY_OUTPUTS * sizeof *x);
    for (int q = 0; q < BODY_OUTPUTS; q++) {
        k->report.output[q].moved = k->report.output[q].scatter = 0;
        k->keep.shift[q] = k->report.output[q].shift = round_off(k->report.output[q].shift);
        k->keep.spread[q] = k->report.output[q].spread = round_off(k->report.output[q].spread);
    }
    return 0;
}

/* Known runs to which as many were added again are let go: the design would be all corners. */
static bool usable(const struct body_controls_known *known, size_t n, size_t d) {
    return known && known->d == d && known->first >= n && known->n <= 2 * known->first &&
           known->n >= d + 8;
}

/* exp of the mean of an output that is emulated as a logarithm, 1 of others. */
static double usual(const struct body_controls *k, int q) {
    double sum = 0, count = 0;
    for (size_t i = 0; i < k->n; i++) {
        double v = emulated(k->curved, q, k->y[i * BODY_OUTPUTS + (size_t)q]);
        if (!isfinite(v)) continue;
        sum += v;
        count++;
    }
    if (!k->curved[q] && q != BODY_OUT_STIFFNESS) return 1;
    return count > 0 ? exp(sum / count) : 0;
}

int body_controls_new(struct body_controls **out, const double *given, size_t n, size_t d,
                      body_controls_make *make, void *context,
                      const struct body_controls_options *o, struct error *err) {
    *out = NULL;
    if (n < d + 8 || d < 1 || d > NUM_EMULATOR_INPUTS || n > 4096)
        return fail(err, ERR_RANGE, "Give 1 to 40 inputs and at least 8 rows more than inputs.",
                    "There are %zu rows of %zu inputs.", n, d);
    struct body_controls *k = MEM_NEW(struct body_controls, 1);
    double *x = MEM_NEW(double, n *d);
    int rc = k && x ? 0 : fail_memory(err);
    for (size_t i = 0; i < n * d && !rc; i++)
        x[i] = round_off(given[i]);
    if (!rc) {
        k->d = d;
        struct crowd c = {.x = x,
                          .d = d,
                          .triangles = o && o->triangles ? o->triangles : 600,
                          .make = make,
                          .context = context};
        const struct body_controls_known *known = o ? o->known : NULL;
        if (usable(known, n, d) && probe(k, c, known))
            rc = reuse(k, &c, x, n, known, err);
        else
            rc = run_all(k, &c, x, n, o, err);
    }
    if (!rc) {
        k->report.runs = k->n;
        for (int q = 0; q < BODY_OUTPUTS; q++)
            k->usual[q] = usual(k, q);
        for (size_t i = 0; i < k->n; i++)
            k->report.failed += (size_t)!isfinite(k->y[i * BODY_OUTPUTS]);
        rc = fit(k, k->keep.x, o ? o->known : NULL, err);
    }
    mem_free(x);
    if (rc)
        body_controls_free(k);
    else
        *out = k;
    return rc;
}

int body_controls_inside(const double *x, size_t m, const double *known, size_t n, size_t d,
                         double wider) {
    struct hull h;
    if (d >= HULL || n < d + 2) return 0;
    hull_make(&h, known, n, d);
    for (size_t i = 0; i < m; i++)
        if (leverage(&h, x + i * d) > wider * h.most) return 0;
    return 1;
}

const struct body_controls_known *body_controls_keep(const struct body_controls *k) {
    return &k->keep;
}

void body_controls_free(struct body_controls *k) {
    if (!k) return;
    for (int q = 0; q < BODY_OUTPUTS; q++)
        num_emulator_free(k->emulator[q]);
    mem_free(k->keep.x);
    mem_free(k->keep.y);
    mem_free(k->y);
    mem_free(k);
}

void body_controls_report(const struct body_controls *k, struct body_controls_report *out) {
    *out = k->report;
    for (int q = 0; q < BODY_OUTPUTS; q++) { /* from shares to the unit, at its usual size */
        out->output[q].rms *= k->usual[q];
        out->output[q].shift *= k->usual[q];
        out->output[q].spread *= k->usual[q];
        out->output[q].moved *= k->usual[q];
        out->output[q].scatter *= k->usual[q];
    }
}
const double *body_controls_runs(const struct body_controls *k) {
    return k->y;
}

/* As emulated: what is told below as it is may be its logarithm here. */
static int predict(const struct body_controls *k, enum body_controls_output q, const double *x,
                   size_t m, double *mean, double *variance, struct error *err) {
    int rc = 0;
    if (k->emulator[q]) rc = num_emulator_predict_many(k->emulator[q], x, m, mean, variance, err);
    for (size_t i = 0; i < m && !k->emulator[q]; i++) {
        mean[i] = k->constant[q];
        if (variance) variance[i] = 0;
    }
    for (size_t i = 0; i < m && !rc; i++) {
        mean[i] += k->report.output[q].shift;
        if (variance) variance[i] = fmax(variance[i], 0) + k->floor[q];
    }
    return rc;
}

int body_controls_predict(const struct body_controls *k, enum body_controls_output q,
                          const double *x, size_t m, double *mean, double *variance,
                          struct error *err) {
    int rc = predict(k, q, x, m, mean, variance, err);
    bool logarithm = q == BODY_OUT_STIFFNESS || k->curved[q];
    for (size_t i = 0; logarithm && i < m && !rc; i++) {
        /* middle of a lognormal, and its variance: N. L. Johnson, S. Kotz, N. Balakrishnan,
         * Continuous Univariate Distributions 1, 2nd ed. 1994, eq. (14.8) */
        mean[i] = exp(mean[i]);
        if (variance) variance[i] = mean[i] * mean[i] * expm1(variance[i]) * exp(variance[i]);
    }
    return rc;
}

int body_controls_draw(const struct body_controls *k, enum body_controls_output q, const double *x,
                       size_t m, const double *normal, double *out, double *scratch,
                       struct error *err) {
    int rc = predict(k, q, x, m, out, scratch, err);
    for (size_t i = 0; i < m && !rc; i++) {
        out[i] += sqrt(scratch[i]) * normal[i];
        if (q == BODY_OUT_STIFFNESS || k->curved[q]) out[i] = exp(out[i]);
    }
    return rc;
}
