#include "job/makings.h"

#include <math.h>

static int decode_list(const json_t *list, const struct kind *kind, void *v, size_t at,
                       struct arena *arena, struct error *err) {
    size_t i;
    const json_t *o;
    json_array_foreach(list, i, o) {
        int rc = field_decode(kind, o, (char *)v + (at + i) * kind->size, arena, err);
        if (rc) return rc;
    }
    return 0;
}

/* Room for what was entered followed by the proposal. */
static void *room(size_t *n, const void *entered, size_t count, const json_t *list,
                  const struct kind *kind, struct arena *arena) {
    *n = count + json_array_size(list);
    char *v = arena_alloc(arena, *n, kind->size);
    for (size_t i = 0; v && i < count * kind->size; i++)
        v[i] = ((const char *)entered)[i];
    return v;
}

static int add_proposal(struct makings *out, const struct makings *entered, const json_t *proposal,
                        struct arena *arena, struct error *err) {
    const json_t *m = json_object_get(proposal, "makings"), *p = json_object_get(proposal, "parts"),
                 *s = json_object_get(proposal, "steps");
    out->makings =
        room(&out->making_count, entered->makings, entered->making_count, m, &making_kind, arena);
    out->parts =
        room(&out->part_count, entered->parts, entered->part_count, p, &part_kind_kind, arena);
    out->steps = room(&out->step_count, entered->steps, entered->step_count, s, &step_kind, arena);
    if (!out->makings || !out->parts || !out->steps) return fail_memory(err);
    int rc = decode_list(m, &making_kind, out->makings, entered->making_count, arena, err);
    if (!rc) rc = decode_list(p, &part_kind_kind, out->parts, entered->part_count, arena, err);
    if (!rc) rc = decode_list(s, &step_kind, out->steps, entered->step_count, arena, err);
    return rc;
}

int job_makings(struct job_makings *out, struct job *job, struct arena *arena, struct error *err) {
    *out = (struct job_makings){.dry_along = NAN, .dry_around = NAN};
    struct snapshot now;
    int rc = job_snapshot(&now, job, arena, err);
    if (rc) return rc;
    json_t *stored;
    struct error missing;
    error_clear(&missing);
    if (job_result(&stored, job, "making", &missing)) {
        out->all = now.makings;
        return 0;
    }
    const json_t *result = json_object_get(stored, "result"), *dry = json_object_get(result, "dry");
    if (dry) {
        out->dry_along = json_number_value(json_array_get(dry, 0));
        out->dry_around = json_number_value(json_array_get(dry, 1));
    }
    rc = add_proposal(&out->all, &now.makings, json_object_get(result, "proposal"), arena, err);
    json_decref(stored);
    return rc;
}
