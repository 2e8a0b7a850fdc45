/* what_if_keep: a try kept as a copy of a making, without weight: one change. */
#include "job/what_if.h"

#include "job/job_private.h"
#include "job/makings.h"

#include <string.h>

/* A name no making has yet: what-if-1, what-if-2, ... */
static const char *free_name(const struct makings *all, struct arena *arena) {
    for (size_t i = 1; i <= all->making_count + 1; i++) {
        const char *id = arena_printf(arena, "what-if-%zu", i);
        if (!id || !makings_find(all, id)) return id;
    }
    return NULL;
}

static bool listed(const json_t *list, const char *id) {
    size_t i;
    const json_t *v;
    json_array_foreach(list, i, v) {
        const char *text = json_string_value(v);
        if (text && strcmp(text, id) == 0) return true;
    }
    return false;
}

/* "lath.3" of a proposal, and of a copy of a copy: ids are unique in the whole project, so a part
 * of a copy carries the copy's name before its own. */
static const char *own_name(const char *making, const char *id) {
    size_t n = strlen(making);
    return strncmp(id, making, n) == 0 && id[n] == '.' ? id + n + 1 : id;
}

static int put(struct job *job, const struct kind *kind, const void *body, const char *from,
               const char *to, const char *id, const json_t *changes, struct arena *arena,
               struct error *err) {
    json_t *o = field_encode(kind, body);
    const char *name = arena_printf(arena, "%s.%s", to, own_name(from, id));
    if (!o || !name) {
        json_decref(o);
        return fail_memory(err);
    }
    json_object_set_new(o, "id", json_string(name));
    json_object_set_new(o, "making", json_string(to));
    int rc = 0;
    if (json_is_object(changes)) rc = json_object_update(o, (json_t *)changes);
    if (rc) rc = fail_memory(err);
    if (!rc) rc = record_put(job->record, kind->name, name, o, NULL, err);
    json_decref(o);
    return rc;
}

/* A step works on the copy's own parts. */
static int put_step(struct job *job, const struct step *step, const char *from, const char *to,
                    const json_t *without, struct arena *arena, struct error *err) {
    json_t *parts = json_array(), *after = json_array();
    for (size_t i = 0; i < step->parts.n; i++) {
        if (listed(without, step->parts.v[i])) continue;
        char *name = arena_printf(arena, "%s.%s", to, own_name(from, step->parts.v[i]));
        json_array_append_new(parts, json_string(name ? name : ""));
    }
    for (size_t i = 0; i < step->after.n; i++) {
        char *name = arena_printf(arena, "%s.%s", to, own_name(from, step->after.v[i]));
        json_array_append_new(after, json_string(name ? name : ""));
    }
    json_t *changes = json_pack("{s:o,s:o}", "parts", parts, "after", after);
    int rc = changes ? put(job, &step_kind, step, from, to, step->id, changes, arena, err)
                     : fail_memory(err);
    json_decref(changes);
    return rc;
}

static int put_making(struct job *job, const struct making *of, const char *id, const json_t *body,
                      struct error *err) {
    const json_t *title = json_object_get(body, "title"),
                 *difference = json_object_get(body, "difference");
    json_t *o = field_encode(&making_kind, of);
    if (!o) return fail_memory(err);
    json_object_del(o, "weight"); /* nothing rests on a what-if */
    json_object_del(o, "reason");
    json_object_set_new(o, "id", json_string(id));
    json_object_set_new(o, "copy_of", json_string(of->id));
    if (json_is_string(title)) json_object_set(o, "title", (json_t *)title);
    if (json_is_string(difference)) json_object_set(o, "difference", (json_t *)difference);
    int rc = record_put(job->record, "making", id, o, NULL, err);
    json_decref(o);
    return rc;
}

static int put_all(struct job *job, const struct makings *all, const struct making *of,
                   const char *id, const json_t *body, struct arena *arena, struct error *err) {
    const json_t *without = json_object_get(body, "without"),
                 *changes = json_object_get(body, "changes");
    int rc = put_making(job, of, id, body, err);
    for (size_t i = 0; i < all->part_count && !rc; i++) {
        const struct part *p = &all->parts[i];
        if (strcmp(p->making, of->id) || listed(without, p->id)) continue;
        rc = put(job, &part_kind_kind, p, of->id, id, p->id, json_object_get(changes, p->id), arena,
                 err);
    }
    for (size_t i = 0; i < all->step_count && !rc; i++)
        if (strcmp(all->steps[i].making, of->id) == 0)
            rc = put_step(job, &all->steps[i], of->id, id, without, arena, err);
    return rc;
}

int what_if_keep(const char **id, struct job *job, const json_t *body, struct arena *arena,
                 struct error *err) {
    const char *of = json_string_value(json_object_get(body, "of")),
               *difference = json_string_value(json_object_get(body, "difference"));
    struct job_makings makings;
    int rc = job_makings(&makings, job, arena, err);
    if (rc) return rc;
    const struct making *from = of ? makings_find(&makings.all, of) : NULL;
    if (!from)
        return fail(err, ERR_MISSING, "Choose one of the list of makings.",
                    "There is no making \"%.60s\".", of ? of : "");
    *id = free_name(&makings.all, arena);
    if (!*id) return fail_memory(err);
    rc = record_change_begin(job->record, job->who, job_when(job),
                             difference ? difference : "a try kept as a copy", err);
    if (rc) return rc;
    rc = put_all(job, &makings.all, from, *id, body, arena, err);
    if (!rc) rc = record_change_commit(job->record, NULL, err);
    if (rc && record_in_change(job->record)) record_change_rollback(job->record);
    return rc;
}
