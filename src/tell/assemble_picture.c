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

static int pieces_of(struct figure_piece **out, size_t *n, const struct find *f,
                     struct arena *arena, struct error *err) {
    *out = ARENA_NEW(arena, struct figure_piece, f->piece_count);
    *n = 0;
    if (!*out) return fail_memory(err);
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->same_as || p->substance == SUBSTANCE_MIXED || p->substance == SUBSTANCE_TRACE)
            continue;
        struct figure_piece q = {.id = p->id,
                                 .length = NAN,
                                 .width = NAN,
                                 .grain = NAN,
                                 .ends = {FIELD_UNKNOWN, FIELD_UNKNOWN},
                                 .face = p->face_up,
                                 .belongs = p->belongs};
        for (size_t k = 0; k < f->outline_count; k++) {
            const struct piece_outline *o = &f->outlines[k];
            if (strcmp(o->piece, p->id) || o->points.n < 3) continue;
            q.outline = (struct look_ring){o->points.n, o->points.v};
            if (o->surviving.n == o->points.n) q.surviving = o->surviving.v;
            q.placed = o->frame &&
                       (strcmp(o->frame, "as found") == 0 || strcmp(o->frame, "in place") == 0);
        }
        const struct measure *l = find_measure_of(f, p->id, QUANTITY_LENGTH),
                             *w = find_measure_of(f, p->id, QUANTITY_WIDTH);
        if (l) q.length = l->value;
        if (w) q.width = w->value;
        for (size_t k = 0; l && k < 2 && k < l->end_kinds.n; k++)
            q.ends[k] = l->end_kinds.v[k];
        (*out)[(*n)++] = q;
    }
    return 0;
}

static int pair(struct show_drawing **out, struct job *job, bool found, bool proposed,
                const char *title, struct arena *arena, struct error *err) {
    struct snapshot now;
    struct figure_piece *pieces = NULL;
    size_t n = 0;
    struct show_plan *plan = NULL;
    int rc = job_snapshot(&now, job, arena, err);
    if (!rc && found) rc = pieces_of(&pieces, &n, &now.find, arena, err);
    if (!rc && proposed) rc = tell_assemble_plan(&plan, job, arena, err);
    if (rc) return rc;
    if ((found && !proposed && n == 0) || (proposed && !found && !plan))
        return missing(found ? "pieces" : "a making", err);
    *out = figure_pair(&(struct figure_pair){
        .title = title, .pieces = pieces, .n_pieces = n, .plan = plan, .touched = SIZE_MAX});
    return *out ? 0 : fail_memory(err);
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
        const struct figure_outline f = {
            .title = "The outline, fresh",
            .words =
                "The likely edge lies on a band that holds it from 5 to 95 in 100 at each place; "
                "longer bars hold the whole edge at once in nine of ten.",
            .band = {.n = n,
                     .closed = true,
                     .likely = read_ring(band, 1, turn, arena),
                     .low = read_ring(band, 0, turn, arena),
                     .high = read_ring(band, 2, turn, arena),
                     .whole_low = read_ring(band, 3, turn, arena),
                     .whole_high = read_ring(band, 4, turn, arena)},
            .footing = FOOTING_WORKED_OUT,
            .grain = 0};
        *out = figure_outline(&f);
        if (!*out) rc = fail_memory(err);
    }
    json_decref(stored);
    return rc;
}

static int spreads(struct show_drawing **out, struct job *job, const char *step, const char *unit,
                   const char *title, struct arena *arena, struct error *err) {
    enum { MOST = 24 };
    struct statement_set *said;
    struct figure_spread rows[MOST];
    size_t n = 0;
    int rc = job_statements(&said, job, arena, err);
    for (size_t i = 0; !rc && i < statement_count(said) && n < MOST; i++) {
        const struct statement *s = statement_at(said, i);
        if (!s->step || strcmp(s->step, step) || !s->unit || strcmp(s->unit, unit)) continue;
        if (isnan(s->value.p50) || (s->about && strncmp(s->about, "piece", 5) == 0)) continue;
        if (s->state && strcmp(s->state, "fresh")) continue;
        rows[n++] = (struct figure_spread){s->id, &s->value};
    }
    if (!rc && n == 0) rc = missing(step, err);
    if (!rc && !(*out = figure_spreads(title, unit, rows, n, 165))) rc = fail_memory(err);
    return rc;
}

int tell_picture_named(struct show_drawing **out, struct job *job, const char *name,
                       struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    int rc = strcmp(name, "found") == 0 ? pair(out, job, true, false, "As found", arena, err)
             : strcmp(name, "proposed") == 0
                 ? pair(out, job, false, true, "As proposed", arena, err)
             : strcmp(name, "making") == 0
                 ? pair(out, job, true, true, "As found and as proposed", arena, err)
             : strcmp(name, "outline") == 0 ? outline(out, job, arena, err)
             : strcmp(name, "sizes") == 0
                 ? spreads(out, job, "sizes", "mm", "Sizes of the parts, fresh", arena, err)
                 : missing(name, err);
    arena_free(arena);
    if (!rc) rc = show_drawing_status(*out, err);
    if (rc) {
        show_drawing_free(*out);
        *out = NULL;
    }
    return rc;
}
