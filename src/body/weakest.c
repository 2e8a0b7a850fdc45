#include "body/weakest.h"

#include <math.h>
#include <stdlib.h>

#define AT(member) .name = #member, .offset = offsetof(struct body_mode, member)
static const struct field mode_fields[] = {
    {AT(name), .label = "Way of failing", .type = FIELD_TEXT, .help = "What gives way."},
    {AT(load), .label = "Load", .type = FIELD_REAL,
     .help = "At which it alone would fail, middle."},
    {AT(p05), .label = "5 % point", .type = FIELD_REAL, .help = "One in twenty fails below."},
    {AT(p95), .label = "95 % point", .type = FIELD_REAL, .help = "One in twenty holds above."},
    {AT(first), .label = "Chance to be first", .type = FIELD_REAL, .unit = "percent", .scale = 0.01,
     .help = "Among all ways."},
};
#undef AT
const struct kind body_mode_kind = {"failure_mode", "A way of failing", sizeof(struct body_mode),
                                    FIELDS(mode_fields), ""};

double body_even_point(size_t k, size_t n, size_t i) {
    double phi = 1.5;
    for (int it = 0; it < 40; it++) /* x = (1 + x)^(1/(n+1)) contracts to the root */
        phi = pow(1 + phi, 1.0 / (double)(n + 1));
    double x = 0.5 + pow(phi, -(double)(i + 1)) * (double)(k + 1);
    return x - floor(x);
}

int body_size_input(struct num_dist *out, double middle, double low, double high, const char *what,
                    struct error *err) {
    *out = num_dist_fixed(middle);
    if (!(low > 0) && !(high > 0)) return 0;
    if (!(low > 0 && low <= middle && middle <= high && isfinite(high)))
        return fail(err, ERR_RANGE, "Give the sizes that one in twenty is below and above.",
                    "A %s of %g mm does not lie between %g and %g mm", what, middle, low, high);
    if (low == high) return 0;
    return num_dist_from_points(out, NUM_LOGNORMAL, middle, low, high, NAN, NAN, NULL, err);
}

/* Steps of the recurrence, worked out once. */
static void steps_of(double *step, size_t n) {
    for (size_t i = 0; i < n; i++) {
        double x = body_even_point(0, n, i) - 0.5;
        step[i] = x - floor(x);
    }
}

static void draw(double *x, const struct num_dist *inputs, const double *step, size_t n, size_t k) {
    for (size_t i = 0; i < n; i++) {
        double p = 0.5 + step[i] * (double)(k + 1);
        p -= floor(p);
        if (p <= 0) p = 0.5 / BODY_DRAWS;
        x[i] = inputs[i].family == NUM_FIXED ? inputs[i].a : num_dist_quantile(&inputs[i], p);
    }
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void three_points(double *sorted, double *p05, double *p50, double *p95) {
    qsort(sorted, BODY_DRAWS, sizeof *sorted, ascending);
    *p05 = sorted[BODY_DRAWS / 20];
    *p50 = sorted[BODY_DRAWS / 2];
    *p95 = sorted[BODY_DRAWS - 1 - BODY_DRAWS / 20];
}

static int likeliest_first(const void *a, const void *b) {
    const struct body_mode *x = a, *y = b;
    if (x->first != y->first) return x->first < y->first ? 1 : -1;
    return (x->load > y->load) - (x->load < y->load);
}

int body_weakest(struct body_failure *out, const char *const *names, size_t n_modes,
                 const struct num_dist *inputs, size_t n_inputs, body_loads *loads,
                 const void *context, struct arena *arena, struct error *err) {
    *out = (struct body_failure){0};
    struct body_mode *modes = ARENA_NEW(arena, struct body_mode, n_modes);
    double *table = ARENA_NEW(arena, double, (n_modes + 1) * BODY_DRAWS);
    if (!modes || !table) return fail_memory(err);
    double step[BODY_INPUTS_MOST], x[BODY_INPUTS_MOST], at[BODY_MODES_MOST];
    for (size_t i = 0; i < n_inputs; i++) {
        int rc = num_dist_check(&inputs[i], err);
        if (rc) return rc;
    }
    steps_of(step, n_inputs);
    double *weakest = table + n_modes * BODY_DRAWS;
    for (size_t k = 0; k < BODY_DRAWS; k++) {
        draw(x, inputs, step, n_inputs, k);
        loads(at, x, context);
        size_t first = 0;
        for (size_t m = 0; m < n_modes; m++) {
            table[m * BODY_DRAWS + k] = at[m];
            if (at[m] < at[first]) first = m;
        }
        weakest[k] = at[first];
        modes[first].first += 1.0 / BODY_DRAWS;
    }
    three_points(weakest, &out->p05, &out->load, &out->p95);
    for (size_t m = 0; m < n_modes; m++) {
        modes[m].name = names[m];
        three_points(table + m * BODY_DRAWS, &modes[m].p05, &modes[m].load, &modes[m].p95);
    }
    qsort(modes, n_modes, sizeof *modes, likeliest_first);
    out->modes = (struct records){n_modes, modes};
    out->first = modes[0].name;
    return 0;
}

double body_share(const struct num_dist *inputs, size_t n_inputs, body_question *yes,
                  const void *context) {
    double step[BODY_INPUTS_MOST], x[BODY_INPUTS_MOST];
    size_t count = 0;
    steps_of(step, n_inputs);
    for (size_t k = 0; k < BODY_DRAWS; k++) {
        draw(x, inputs, step, n_inputs, k);
        count += yes(x, context) != 0;
    }
    return (double)count / BODY_DRAWS;
}
