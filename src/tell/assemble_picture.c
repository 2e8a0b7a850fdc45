/* Drawings of a project by name. */
#include "tell/assemble.h"

#include "show/figures.h"

#include <math.h>
#include <string.h>

static const double *read_ring(const json_t *band, int which, double turn, struct arena *arena) {
    size_t n = json_array_size(band);
    double *v = ARENA_NEW(arena, double, 2 * n);
    for (size_t i = 0; v && i < n; i++) {
        double rho = json_number_value(json_array_get(json_array_get(band, i), (size_t)which));
        double a = 2 * M_PI * (double)i / (double)n - turn;
        v[2 * i] = rho * cos(a);
        v[2 * i + 1] = rho * sin(a);
    }
    return v;
}

static int missing(const char *what, struct error *err) {
    return fail(err, ERR_MISSING, "It appears when this step has been worked out.",
                "There is no drawing of %s yet.", what);
}

/* Pieces, the object, or both at one scale with the threads between them. */
static int pair(struct show_drawing **out, struct job *job, bool found, bool proposed,
                struct arena *arena, struct error *err) {
    static const struct find nothing;
    struct tell_dossier d;
    int rc = tell_assemble_bare(&d, job, arena, err);
    if (rc) return rc;
    if (proposed && !d.plan) return missing("a making", err);
    if (found && d.find->piece_count == 0) return missing("pieces", err);
    if (!proposed) {
        d.plan = NULL;
        d.makings = NULL;
    }
    if (!found) d.find = &nothing;
    *out = tell_pair(&d, false, 0, 0, arena);
    return *out ? 0 : fail_memory(err);
}

/* Shapes that a reading excludes, each struck where it does. */
static const struct figure_rival *excluded_of(size_t *n, const json_t *list, struct arena *arena) {
    struct figure_rival *out = ARENA_NEW(arena, struct figure_rival, json_array_size(list) + 1);
    const json_t *one, *p;
    size_t i, k;
    json_array_foreach(list, i, one) {
        const json_t *points = json_object_get(one, "points"), *at = json_object_get(one, "at");
        const char *by = json_string_value(json_object_get(one, "by")),
                   *family = json_string_value(json_object_get(one, "family"));
        double *xy = ARENA_NEW(arena, double, 2 * json_array_size(points) + 2);
        if (!out || !xy || !by || !family || json_array_size(at) != 2) continue;
        json_array_foreach(points, k, p) {
            xy[2 * k] = json_number_value(json_array_get(p, 0));
            xy[2 * k + 1] = json_number_value(json_array_get(p, 1));
        }
        out[(*n)++] =
            (struct figure_rival){.name = arena_strdup(arena, family),
                                  .ring = {json_array_size(points), xy},
                                  .excluded_by = arena_printf(arena, "no %s: %s", family, by),
                                  .x = json_number_value(json_array_get(at, 0)),
                                  .y = json_number_value(json_array_get(at, 1))};
    }
    return out;
}

static int outline(struct show_drawing **out, struct job *job, struct arena *arena,
                   struct error *err) {
    json_t *stored;
    int rc = job_result(&stored, job, "outline", err);
    if (rc) return rc;
    const json_t *result = json_object_get(stored, "result"),
                 *band = json_object_get(result, "band");
    double turn = json_number_value(json_object_get(result, "turn"));
    size_t n = json_array_size(band);
    if (n == 0)
        rc = missing("an outline", err);
    else {
        size_t n_out = 0;
        const struct figure_rival *excluded =
            excluded_of(&n_out, json_object_get(result, "excluded"), arena);
        const struct figure_outline f = {
            .title = "The outline, fresh",
            .words =
                "The likely edge lies on a band that holds it from 5 to 95 in 100 at each place; "
                "longer bars hold the whole edge at once in nine of ten. Thin outlines are shapes "
                "that "
                "a reading excludes, struck where it does.",
            .band = {.n = n,
                     .closed = true,
                     .likely = read_ring(band, 1, turn, arena),
                     .low = read_ring(band, 0, turn, arena),
                     .high = read_ring(band, 2, turn, arena),
                     .whole_low = read_ring(band, 3, turn, arena),
                     .whole_high = read_ring(band, 4, turn, arena)},
            .rivals = excluded,
            .n_rivals = n_out,
            .footing = FOOTING_WORKED_OUT,
            .grain = 0};
        *out = figure_outline(&f);
        if (!*out) rc = fail_memory(err);
    }
    json_decref(stored);
    return rc;
}

/* "width of the cross lath" out of the sentence "Typical width of the cross lath when cut." */
static const char *short_name(const struct statement *s, struct arena *arena) {
    const char *from = s->sentence ? s->sentence : s->id;
    if (!strncmp(from, "Typical ", 8)) from += 8;
    char *name = arena_strdup(arena, from);
    for (const char *const *end = (const char *const[]){" when cut", ",", ".", NULL}; name && *end;
         end++) {
        char *at = strstr(name, *end);
        if (at) *at = 0;
    }
    if (name && *name >= 'A' && *name <= 'Z') *name = (char)(*name - 'A' + 'a');
    return name;
}

/* Sizes of parts, fresh; a least length is no spread, and a size of no width is a plain number. */
static bool is_spread(const struct statement *s) {
    const struct spread *v = &s->value;
    return s->step && !strcmp(s->step, "sizes") && s->unit && !strcmp(s->unit, "mm") && s->state &&
           !strcmp(s->state, "fresh") && (!s->about || strncmp(s->about, "piece", 5)) &&
           isfinite(v->p50) && isfinite(v->p05) && isfinite(v->p95) && v->p95 > v->p05 &&
           !strstr(s->id, ".least");
}

static int spreads(struct show_drawing **out, struct job *job, struct arena *arena,
                   struct error *err) {
    enum { MOST = 24 };
    struct statement_set *said;
    struct figure_spread rows[MOST];
    size_t n = 0;
    int rc = job_statements(&said, job, arena, err);
    for (size_t i = 0; !rc && i < statement_count(said) && n < MOST; i++) {
        const struct statement *s = statement_at(said, i);
        if (!is_spread(s)) continue;
        rows[n++] =
            (struct figure_spread){short_name(s, arena), statement_number(s, arena), &s->value};
    }
    if (!rc && n == 0) rc = missing("sizes", err);
    if (!rc && !(*out = figure_spreads("How well each size is known, fresh", rows, n, 165)))
        rc = fail_memory(err);
    return rc;
}

int tell_picture_named(struct show_drawing **out, struct job *job, const char *name,
                       struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    int rc = strcmp(name, "found") == 0      ? pair(out, job, true, false, arena, err)
             : strcmp(name, "proposed") == 0 ? pair(out, job, false, true, arena, err)
             : strcmp(name, "making") == 0   ? pair(out, job, true, true, arena, err)
             : strcmp(name, "outline") == 0  ? outline(out, job, arena, err)
             : strcmp(name, "sizes") == 0    ? spreads(out, job, arena, err)
                                             : missing(name, err);
    arena_free(arena);
    if (!rc) rc = show_drawing_status(*out, err);
    if (rc) {
        show_drawing_free(*out);
        *out = NULL;
    }
    return rc;
}
