/* weakest: which of several ways of failing comes first, when strengths are only known roughly.
 *
 * Uncertain inputs are distributions; each of a fixed set of evenly spread draws gives every mode
 * its load, the smallest is the load at failure of that draw. Deterministic, no memory;
 * thread-safe.
 */
#ifndef RELICT_BODY_WEAKEST_H
#define RELICT_BODY_WEAKEST_H

#include "base/error.h"
#include "base/field.h"
#include "num/dist.h"

#include <stddef.h>

enum { BODY_MODES_MOST = 12, BODY_INPUTS_MOST = 14, BODY_DRAWS = 1024 };

/* One way of failing. */
struct body_mode {
    const char *name;
    double load, p05, p95; /* at which it alone would fail; INFINITY: never */
    double first;          /* probability that it is the first */
};
extern const struct kind body_mode_kind;

struct body_failure {
    double load, p05, p95; /* at which the first of them fails */
    struct records modes;  /* of struct body_mode, likeliest first */
    const char *first;     /* name of the likeliest */
};

/* Fills loads[n modes] from one draw x[n inputs]. */
typedef void body_loads(double *loads, const double *x, const void *context);

/* Works it out. Modes' names come in `names`; the modes live in the arena. */
int body_weakest(struct body_failure *out, const char *const *names, size_t n_modes,
                 const struct num_dist *inputs, size_t n_inputs, body_loads *loads,
                 const void *context, struct arena *arena, struct error *err);

/* A size as an input: lognormal with its middle and the ratio of its 5 and 95 % points; exactly
 * known where these are NAN or 0. ERR_RANGE when they do not lie on both sides of it. `what`: for
 * the message, "thickness". */
int body_size_input(struct num_dist *out, double middle, double low, double high, const char *what,
                    struct error *err);

/* The k-th of evenly spread points in n dimensions, coordinate i: additive recurrence by powers of
 * the root of x^(n+1) = x + 1 (Roberts 2018). */
double body_even_point(size_t k, size_t n, size_t i);

/* Share of evenly spread draws for which `inputs` make yes(x) true. */
typedef int body_question(const double *x, const void *context);
double body_share(const struct num_dist *inputs, size_t n_inputs, body_question *yes,
                  const void *context);

#endif
