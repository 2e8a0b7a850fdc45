/* What a page asks: the project, its steps, statements, entries and journal. */
#include "serve/api_rows.h"

#include "base/method.h"
#include "job/bring.h"
#include "job/kinds.h"
#include "job/methods.h"

#include <stdlib.h>

int api_get_project(struct api_call *c, struct error *err) {
    struct record *r = job_record(c->job);
    struct record_meta meta;
    int rc = record_meta(&meta, r, c->arena, err);
    json_t *steps = NULL;
    if (!rc) rc = job_steps(&steps, c->job, err);
    if (rc) return rc;
    json_t *o = json_pack("{s:s,s:i,s:i,s:i,s:o}", "title", meta.title ? meta.title : "",
                          "revision", (int)record_revision(r), "seed", (int)meta.seed, "draws",
                          (int)meta.draws, "steps", steps);
    if (c->server) json_object_set_new(o, "running", server_state(c->server));
    return api_done(c, o, err);
}

int api_get_steps(struct api_call *c, struct error *err) {
    return job_steps(&c->out, c->job, err);
}

int api_get_statements(struct api_call *c, struct error *err) {
    struct statement_set *said;
    int rc = job_statements(&said, c->job, c->arena, err);
    if (rc) return rc;
    json_t *list = statement_set_encode(said);
    for (size_t i = 0; list && i < statement_count(said); i++) {
        char *number = statement_number(statement_at(said, i), c->arena);
        if (number && *number)
            json_object_set_new(json_array_get(list, i), "number", json_string(number));
    }
    return api_done(c, list, err);
}

int api_get_why(struct api_call *c, struct error *err) {
    const char *id;
    int rc = api_need(c, "id", &id, err);
    return rc ? rc : job_why(&c->out, c->job, id, err);
}

/* One part of a result alone, for a page that must come quickly over a slow line. */
static void keep_part(json_t *stored, const char *part) {
    json_t *one = json_incref(json_object_get(json_object_get(stored, "result"), part)),
           *result = json_object();
    if (one) json_object_set_new(result, part, one);
    json_object_set_new(stored, "result", result);
    json_object_del(stored, "statements");
}

int api_get_result(struct api_call *c, struct error *err) {
    const char *step;
    int rc = api_need(c, "step", &step, err);
    if (!rc) rc = job_result(&c->out, c->job, step, err);
    const char *part = api_word(c, "part");
    if (!rc && part) keep_part(c->out, part);
    if (rc != ERR_MISSING) return rc;
    /* not an error: the step stands empty and says what to do first */
    return api_done(c, json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy), err);
}

int api_get_kinds(struct api_call *c, struct error *err) {
    json_t *o = json_object();
    for (size_t i = 0; i < job_kind_count(); i++)
        json_object_set_new(o, job_kinds[i]->name,
                            json_pack("{s:s,s:o}", "title", job_kinds[i]->title, "fields",
                                      field_dictionary(job_kinds[i])));
    return api_done(c, o, err);
}

static int entry_json(json_t **out, const struct record_entry *e, struct error *err) {
    json_t *body = json_loads(e->body, 0, NULL);
    *out = json_pack("{s:s,s:i,s:b,s:s,s:s,s:s,s:o}", "id", e->id, "revision", (int)e->revision,
                     "gone", e->gone, "who", e->who, "when", e->when, "why", e->why ? e->why : "",
                     "body", body ? body : json_object());
    return *out ? 0 : fail_memory(err);
}

static int take_entry(const struct record_entry *e, void *context, struct error *err) {
    json_t *o;
    int rc = entry_json(&o, e, err);
    if (!rc && json_array_append_new(context, o)) rc = fail_memory(err);
    return rc;
}

int api_get_entries(struct api_call *c, struct error *err) {
    const char *kind;
    int rc = api_need(c, "kind", &kind, err);
    if (rc) return rc;
    c->out = json_array();
    return record_each(job_record(c->job), kind, 0, take_entry, c->out, err);
}

int api_get_history(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = api_need(c, "kind", &kind, err);
    if (!rc) rc = api_need(c, "id", &id, err);
    if (rc) return rc;
    c->out = json_array();
    return record_history(job_record(c->job), kind, id, take_entry, c->out, err);
}

static int take_change(const struct record_change *ch, void *context, struct error *err) {
    json_t *o = json_pack("{s:i,s:s,s:s,s:s,s:i,s:b,s:s}", "id", (int)ch->id, "who", ch->who,
                          "when", ch->when, "why", ch->why ? ch->why : "", "entries",
                          (int)ch->count, "undo", ch->undoes != NULL, "uuid", ch->uuid);
    if (o && ch->undoes) json_object_set_new(o, "undoes", json_string(ch->undoes));
    return json_array_append_new(context, o) ? fail_memory(err) : 0;
}

int api_get_changes(struct api_call *c, struct error *err) {
    c->out = json_array();
    return record_changes(job_record(c->job), true, 200, take_change, c->out, err);
}

struct before {
    long revision;
    json_t *body;
};

static int take_body(const struct record_entry *e, void *context, struct error *err) {
    struct before *b = context;
    (void)err;
    if (e->revision == b->revision && !e->gone) b->body = json_loads(e->body, 0, NULL);
    return 0;
}

/* The entries of one change, each with what stood there before it. */
struct taking {
    struct record *record;
    json_t *list;
};

static int take_before(const struct record_entry *e, void *context, struct error *err) {
    struct taking *t = context;
    json_t *o = NULL;
    int rc = entry_json(&o, e, err);
    if (rc) return rc;
    json_object_set_new(o, "kind", json_string(e->kind));
    struct before b = {.revision = e->supersedes};
    if (e->supersedes) record_history(t->record, e->kind, e->id, take_body, &b, NULL);
    if (b.body) json_object_set_new(o, "before", b.body);
    return json_array_append_new(t->list, o) ? fail_memory(err) : 0;
}

int api_get_change(struct api_call *c, struct error *err) {
    const char *id;
    int rc = api_need(c, "id", &id, err);
    if (rc) return rc;
    struct taking t = {job_record(c->job), json_array()};
    c->out = t.list;
    return record_change_entries(t.record, strtol(id, NULL, 10), take_before, &t, err);
}

int api_get_aside(struct api_call *c, struct error *err) {
    return job_aside(&c->out, c->job, err);
}

int api_get_methods(struct api_call *c, struct error *err) {
    json_t *list = json_array();
    for (size_t i = 0; job_method_at(i); i++) {
        const struct method *m = job_method_at(i);
        json_t *example = json_loads(m->example, 0, NULL);
        json_array_append_new(
            list, json_pack("{s:s,s:s,s:s,s:o,s:o,s:o}", "name", m->name, "title", m->title,
                            "source", m->source, "in", field_dictionary(m->in), "out",
                            field_dictionary(m->out), "example", example ? example : json_null()));
    }
    return api_done(c, list, err);
}
