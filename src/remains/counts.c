#include "remains/counts.h"

#include <math.h>

enum { MOST_COUNTED = 1000000 }; /* more is a slip of the pen */

static int ends_argument(struct part_count *c, struct arena *arena, struct error *err) {
    struct count_argument *a = &c->ends;
    if (c->whole_ends < 1) return 0;
    a->value = (double)c->whole_ends / 2;
    a->at_least = (c->whole_ends + 1) / 2;
    a->text =
        arena_printf(arena, "at least %ld (%ld original ends / 2)", a->at_least, c->whole_ends);
    return a->text ? 0 : fail_memory(err);
}

static int length_argument(struct part_count *c, double total, struct arena *arena,
                           struct error *err) {
    struct count_argument *a = &c->length;
    if (!(total > 0) || !(c->longest_possible > 0)) return 0;
    a->value = total / c->longest_possible;
    a->at_least =
        (long)ceil(fmin(a->value, MOST_COUNTED) - 1e-9); /* an exact quotient is not rounded up */
    a->text = arena_printf(arena, "at least %ld (%.0f mm of it / %.0f mm, the longest it can be)",
                           a->at_least, total, c->longest_possible);
    return a->text ? 0 : fail_memory(err);
}

static int spacing_argument(struct part_count *c, struct arena *arena, struct error *err) {
    struct count_argument *a = &c->spaced;
    if (!(c->run > 0) || !(c->spacing > 0)) return 0;
    a->value = c->run / c->spacing;
    a->expected = (long)floor(fmin(a->value, MOST_COUNTED) + 1e-9);
    a->text = arena_printf(arena, "%ld if the spacing of %.0f mm runs the whole %.0f mm",
                           a->expected, c->spacing, c->run);
    return a->text ? 0 : fail_memory(err);
}

int remains_count_arguments(struct part_count *c, long whole_ends, double total, double longest,
                            double run, double spacing, struct arena *arena, struct error *err) {
    if (whole_ends < 0)
        return fail(err, ERR_RANGE, "Count the original ends that survive.",
                    "%ld whole ends: a count cannot be below 0.", whole_ends);
    c->whole_ends = whole_ends;
    c->longest_possible = longest;
    c->run = run;
    c->spacing = spacing;
    c->ends = c->length = c->spaced = (struct count_argument){.value = NAN};
    int rc = ends_argument(c, arena, err);
    if (!rc) rc = length_argument(c, total, arena, err);
    if (!rc) rc = spacing_argument(c, arena, err);
    c->least = 1;
    if (c->ends.at_least > c->least) c->least = c->ends.at_least;
    if (c->length.at_least > c->least) c->least = c->length.at_least;
    return rc;
}
