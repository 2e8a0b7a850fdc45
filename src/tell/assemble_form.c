/* assemble_form: the predicted form from the strength step, as closed surfaces with names. */
#include "tell/assemble_more.h"

#include "job/form.h"

#include <string.h>

/* The statement a part's sizes stand on, for its extras; NULL when there is none. */
static const char *said_of(const struct makings *makings, const char *id) {
    for (size_t i = 0; i < makings->part_count; i++) {
        const struct part *p = &makings->parts[i];
        if (strcmp(p->id, id) == 0) return p->statements.n ? p->statements.v[0] : NULL;
    }
    return NULL;
}

static int fill(struct tell_dossier *out, const struct form *form, struct arena *arena,
                struct error *err) {
    const struct form_state *made = form_state_named(form, "made");
    struct form_surface *surface;
    struct solid *solid = ARENA_NEW(arena, struct solid, 1);
    size_t n = 0;
    if (!made) return 0;
    if (!solid) return fail_memory(err);
    int rc = form_surfaces(&surface, &n, form, made, arena, err);
    struct solid_part *parts = rc ? NULL : ARENA_NEW(arena, struct solid_part, n + 1);
    if (rc) return rc;
    if (!parts) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        parts[i] = (struct solid_part){.id = surface[i].id,
                                       .name = surface[i].name,
                                       .footing = surface[i].footing,
                                       .said = said_of(out->makings, surface[i].id),
                                       .n_points = surface[i].n_points,
                                       .n_triangles = surface[i].n_triangles,
                                       .points = surface[i].points,
                                       .triangles = surface[i].triangles};
    *solid = (struct solid){.title = out->title, .note = form->note, .parts = parts, .n_parts = n};
    out->solid = n ? solid : NULL;
    return 0;
}

int tell_assemble_form(struct tell_dossier *out, struct arena *arena, struct error *err) {
    const json_t *result = json_object_get(tell_stored(out, "strength"), "result"),
                 *json = json_object_get(result, "form");
    if (!result) return 0; /* not worked out: told as missing */
    struct form *form = json ? ARENA_NEW(arena, struct form, 1) : NULL;
    int rc = json && !form ? fail_memory(err) : 0;
    if (form && !rc) rc = form_decode(form, json, arena, err);
    if (form && !rc) rc = fill(out, form, arena, err);
    return rc ? rc : tell_assemble_sections(out, form, result, arena, err);
}
