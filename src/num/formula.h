/* formula: an equation given as text, worked out with its exact slopes.
 *
 * For a specialist who wants to propagate, fit or test an equation of her own. Numbers, names,
 * + - * / ^ (right to left, binding tighter than a leading minus), brackets; functions exp log
 * (natural) log10 sqrt abs sin cos tan asin acos atan sinh cosh tanh erf min max hypot; the
 * constant pi. Bounded in length and depth, so that no text can exhaust the machine. Slopes come by
 * forward differentiation, operation by operation, with no step size.
 *
 *     const char *names[] = {"m", "s"};
 *     struct num_formula *f;
 *     num_formula_read(&f, "m / (1 - s)", names, 2, arena, err);
 *     double value = num_formula_value(f, (double[]){100, 0.08});
 *
 * A formula lives in the arena, is never changed, and may be used by several threads at once.
 */
#ifndef RELICT_NUM_FORMULA_H
#define RELICT_NUM_FORMULA_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>

struct num_formula;

enum {
    NUM_FORMULA_LENGTH = 2000, /* letters */
    NUM_FORMULA_DEPTH = 64,    /* values waiting at a time, brackets in brackets */
    NUM_FORMULA_SLOPES = 16    /* variables by which slopes can be asked for at once */
};

/* Reads the text; names[n] are the variables, in the order of the values given later. ERR_INPUT
 * says what was expected and at which letter; an unknown name suggests the nearest. */
int num_formula_read(struct num_formula **out, const char *text, const char *const *names, size_t n,
                     struct arena *arena, struct error *err);

/* Value at x[n]; NAN or infinite where the formula is (log of a negative number, 1/0). */
double num_formula_value(const struct num_formula *f, const double *x);

/* Value, and slope[n_by] by the variables with indices `by`, n_by <= NUM_FORMULA_SLOPES. */
double num_formula_slopes(const struct num_formula *f, const double *x, const size_t *by,
                          size_t n_by, double *slope);

#endif
