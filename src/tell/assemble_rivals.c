/* assemble_rivals: the families of outline side by side, from the step "outline": of each the
 * middle one of its possible originals with some others of its kind, how likely it is, and the
 * reading that tells against it. */
#include "tell/assemble.h"
#include "tell/assemble_more.h"

#include "show/figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST = 16, OTHERS = 8 };

struct original {
    double length;
    struct look_ring ring;
};

static struct look_ring ring_of(const json_t *points, struct arena *arena) {
    size_t n = json_array_size(points), i;
    const json_t *p;
    double *xy = ARENA_NEW(arena, double, 2 * n + 2);
    if (!xy) return (struct look_ring){0};
    json_array_foreach(points, i, p) {
        xy[2 * i] = json_number_value(json_array_get(p, 0));
        xy[2 * i + 1] = json_number_value(json_array_get(p, 1));
    }
    return (struct look_ring){n, xy};
}

static int by_length(const void *a, const void *b) {
    double x = ((const struct original *)a)->length, y = ((const struct original *)b)->length;
    return (x > y) - (x < y);
}

/* The middle one by length stands for the family; the others are spread over the rest. */
static void fill(struct figure_family *out, const json_t *originals, const char *family,
                 struct arena *arena) {
    size_t n = 0, i;
    const json_t *one;
    struct original *v = ARENA_NEW(arena, struct original, json_array_size(originals) + 1);
    json_array_foreach(originals, i, one) {
        const char *of = json_string_value(json_object_get(one, "family"));
        if (!v || !of || strcmp(of, family)) continue;
        v[n++] = (struct original){json_number_value(json_object_get(one, "length")),
                                   ring_of(json_object_get(one, "points"), arena)};
    }
    if (!n) return;
    qsort(v, n, sizeof *v, by_length);
    struct look_ring *others = ARENA_NEW(arena, struct look_ring, OTHERS);
    size_t middle = n / 2, taken = 0;
    out->likely = v[middle].ring;
    for (size_t k = 0; others && k < OTHERS; k++) {
        size_t at = n <= OTHERS ? k : k * (n - 1) / (OTHERS - 1);
        if (at < n && at != middle) others[taken++] = v[at].ring;
    }
    out->others = others;
    out->n_others = others ? taken : 0;
}

/* A family of which no possible original is left is shown by its likeliest outline, struck. */
static void fill_excluded(struct figure_family *out, const json_t *excluded, const char *family,
                          struct arena *arena) {
    size_t i;
    const json_t *one;
    json_array_foreach(excluded, i, one) {
        const char *of = json_string_value(json_object_get(one, "family")),
                   *by = json_string_value(json_object_get(one, "by"));
        const json_t *at = json_object_get(one, "at");
        if (!of || strcmp(of, family)) continue;
        out->likely = ring_of(json_object_get(one, "points"), arena);
        out->excluded_by = by ? arena_strdup(arena, by) : NULL;
        out->x = json_number_value(json_array_get(at, 0));
        out->y = json_number_value(json_array_get(at, 1));
    }
}

static const char *fit_of(double p, struct arena *arena) {
    char number[40];
    if (p < 0.01) return "under 1 in 100";
    return arena_printf(arena, "%s in 100, %s", show_real(number, 100 * p, 0),
                        statement_likelihood_word(p));
}

int tell_assemble_rivals(struct tell_dossier *out, struct arena *arena, struct error *err) {
    const json_t *result = json_object_get(tell_stored(out, "outline"), "result"),
                 *table = json_object_get(json_object_get(result, "tables"), "families"), *row;
    struct figure_family *v = ARENA_NEW(arena, struct figure_family, MOST);
    size_t n = 0, i;
    if (!v) return fail_memory(err);
    json_array_foreach(json_object_get(table, "rows"), i, row) {
        const char *family = json_string_value(json_array_get(row, 0)),
                   *by = json_string_value(json_array_get(row, 4));
        if (!family || n == MOST) continue;
        struct figure_family *f = &v[n];
        *f = (struct figure_family){.name = arena_strdup(arena, family), .x = NAN, .y = NAN};
        f->fit = fit_of(json_number_value(json_array_get(row, 1)), arena);
        fill(f, json_object_get(result, "originals"), family, arena);
        if (!f->likely.n) fill_excluded(f, json_object_get(result, "excluded"), family, arena);
        if (by && *by && !f->excluded_by) f->excluded_by = arena_strdup(arena, by);
        n += f->likely.n > 2;
    }
    if (!n) return 0;
    return tell_add_drawing(
        out, "outline", "outline-rivals", TELL_IN_ARGUMENT,
        figure_families("Rival outlines, fresh, at one scale",
                        "Each family by one of its possible originals, with others of its kind as "
                        "thin lines; how well it fits every reading of the edge stands under it. A "
                        "thin outline that is struck has no possible original left: the reading "
                        "named excludes it.",
                        v, n, 165),
        err);
}
