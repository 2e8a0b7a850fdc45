#include "serve/api.h"

#include "base/method.h"
#include "job/bring.h"
#include "job/kinds.h"
#include "job/methods.h"
#include "serve/api_what_if.h"
#include "show/svg.h"
#include "tell/assemble.h"

#include <math.h>

#include <string.h>

/* ---- small helpers -------------------------------------------------------------------------- */

static int need(struct api_call *c, const char *name, const char **out, struct error *err) {
    *out = c->query(c->from, name);
    if (*out && **out) return 0;
    error_place(err, NULL, 0, name, NULL);
    return fail(err, ERR_USAGE, "Add it to the address after a question mark.", "\"%s\" is needed.",
                name);
}

static int need_text(struct api_call *c, const char *name, const char **out, struct error *err) {
    *out = json_string_value(json_object_get(c->body, name));
    if (*out && **out) return 0;
    error_place(err, NULL, 0, name, NULL);
    return fail(err, ERR_USAGE, "Add it to the body.", "\"%s\" is needed and must be a text.",
                name);
}

static const char *text_of(const struct api_call *c, const char *name) {
    return json_string_value(json_object_get(c->body, name));
}

static int done(struct api_call *c, json_t *out, struct error *err) {
    c->out = out;
    return out ? 0 : fail_memory(err);
}

/* ---- reading -------------------------------------------------------------------------------- */

static int get_project(struct api_call *c, struct error *err) {
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
    return done(c, o, err);
}

static int get_steps(struct api_call *c, struct error *err) {
    return job_steps(&c->out, c->job, err);
}

static int get_statements(struct api_call *c, struct error *err) {
    struct statement_set *said;
    int rc = job_statements(&said, c->job, c->arena, err);
    if (rc) return rc;
    json_t *list = statement_set_encode(said);
    for (size_t i = 0; list && i < statement_count(said); i++) {
        char *number = statement_number(statement_at(said, i), c->arena);
        if (number && *number)
            json_object_set_new(json_array_get(list, i), "number", json_string(number));
    }
    return done(c, list, err);
}

static int get_why(struct api_call *c, struct error *err) {
    const char *id;
    int rc = need(c, "id", &id, err);
    return rc ? rc : job_why(&c->out, c->job, id, err);
}

static int get_result(struct api_call *c, struct error *err) {
    const char *step;
    int rc = need(c, "step", &step, err);
    return rc ? rc : job_result(&c->out, c->job, step, err);
}

static int get_kinds(struct api_call *c, struct error *err) {
    json_t *o = json_object();
    for (size_t i = 0; i < job_kind_count(); i++)
        json_object_set_new(o, job_kinds[i]->name,
                            json_pack("{s:s,s:o}", "title", job_kinds[i]->title, "fields",
                                      field_dictionary(job_kinds[i])));
    return done(c, o, err);
}

static int take_entry(const struct record_entry *e, void *context, struct error *err) {
    json_t *body = json_loads(e->body, 0, NULL);
    json_t *o = json_pack("{s:s,s:i,s:b,s:s,s:s,s:s,s:o}", "id", e->id, "revision",
                          (int)e->revision, "gone", e->gone, "who", e->who, "when", e->when, "why",
                          e->why ? e->why : "", "body", body ? body : json_object());
    return json_array_append_new(context, o) ? fail_memory(err) : 0;
}

static int get_entries(struct api_call *c, struct error *err) {
    const char *kind;
    int rc = need(c, "kind", &kind, err);
    if (rc) return rc;
    c->out = json_array();
    return record_each(job_record(c->job), kind, 0, take_entry, c->out, err);
}

static int get_history(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = need(c, "kind", &kind, err);
    if (!rc) rc = need(c, "id", &id, err);
    if (rc) return rc;
    c->out = json_array();
    return record_history(job_record(c->job), kind, id, take_entry, c->out, err);
}

static int take_change(const struct record_change *ch, void *context, struct error *err) {
    json_t *o = json_pack("{s:i,s:s,s:s,s:s,s:i,s:b}", "id", (int)ch->id, "who", ch->who, "when",
                          ch->when, "why", ch->why ? ch->why : "", "entries", (int)ch->count,
                          "undo", ch->undoes != NULL);
    return json_array_append_new(context, o) ? fail_memory(err) : 0;
}

static int get_changes(struct api_call *c, struct error *err) {
    c->out = json_array();
    return record_changes(job_record(c->job), true, 200, take_change, c->out, err);
}

/* Photos are shown; whatever else a person stored is handed back as a file to save. */
static int get_file(struct api_call *c, struct error *err) {
    const char *id;
    int rc = need(c, "id", &id, err);
    if (!rc) rc = record_file_get(&c->bytes, &c->size, job_record(c->job), id, c->arena, err);
    if (rc) return rc;
    const char *media = record_media(c->bytes, c->size);
    bool picture = strcmp(media, "image/jpeg") == 0 || strcmp(media, "image/png") == 0 ||
                   strcmp(media, "image/webp") == 0;
    c->type = picture ? media : "application/octet-stream";
    c->attachment = !picture;
    return 0;
}

static int get_picture(struct api_call *c, struct error *err) {
    const char *name;
    struct show_drawing *d;
    int rc = need(c, "name", &name, err);
    if (!rc) rc = tell_picture_named(&d, c->job, name, err);
    if (rc) return rc;
    struct show_out out = {0};
    rc = show_svg_write(&out, d, &(struct show_svg_options){.inside_page = true}, err);
    show_drawing_free(d);
    if (!rc && !(c->bytes = arena_copy(c->arena, out.bytes, out.n))) rc = fail_memory(err);
    c->size = out.n;
    c->type = "image/svg+xml; charset=utf-8";
    show_out_deinit(&out);
    return rc;
}

static int get_methods(struct api_call *c, struct error *err) {
    json_t *list = json_array();
    for (size_t i = 0; job_method_at(i); i++) {
        const struct method *m = job_method_at(i);
        json_t *example = json_loads(m->example, 0, NULL);
        json_array_append_new(
            list, json_pack("{s:s,s:s,s:s,s:o,s:o,s:o}", "name", m->name, "title", m->title,
                            "source", m->source, "in", field_dictionary(m->in), "out",
                            field_dictionary(m->out), "example", example ? example : json_null()));
    }
    return done(c, list, err);
}

/* ---- telling -------------------------------------------------------------------------------- */

static int post_enter(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = need_text(c, "kind", &kind, err);
    if (!rc) rc = need_text(c, "id", &id, err);
    if (rc) return rc;
    const json_t *body = json_object_get(c->body, "body");
    const json_t *expected = json_object_get(c->body, "expected");
    long revision = 0;
    rc = job_enter(c->job, kind, id, body ? body : json_object_get(c->body, "fields"),
                   json_is_integer(expected) ? (long)json_integer_value(expected) : -1,
                   text_of(c, "why"), &revision, err);
    return rc ? rc : done(c, json_pack("{s:i}", "revision", (int)revision), err);
}

static int post_withdraw(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = need_text(c, "kind", &kind, err);
    if (!rc) rc = need_text(c, "id", &id, err);
    if (!rc) rc = job_withdraw(c->job, kind, id, text_of(c, "why"), err);
    return rc ? rc : done(c, json_object(), err);
}

static int post_undo(struct api_call *c, struct error *err) {
    int rc = job_undo(c->job, (long)json_integer_value(json_object_get(c->body, "change")),
                      text_of(c, "why"), err);
    return rc ? rc : done(c, json_object(), err);
}

static int put_import(struct api_call *c, struct error *err) {
    const char *name;
    int rc = need(c, "name", &name, err);
    if (rc) return rc;
    const char *as = c->query(c->from, "as");
    const struct bring_options o = {
        .as = as && *as ? as : NULL, .separator = ",", .bar_length = NAN};
    return job_bring(&c->out, c->job, name, c->raw, c->raw_size, &o, err);
}

static int post_compute(struct api_call *c, struct error *err) {
    int rc = c->server ? server_compute(c->server, text_of(c, "step"), err)
                       : fail(err, ERR_REFUSED, NULL, "Nothing can be computed here.");
    return rc ? rc : done(c, json_object(), err);
}

static int post_stop(struct api_call *c, struct error *err) {
    if (c->server) server_halt(c->server);
    return done(c, json_object(), err);
}

static int post_calc(struct api_call *c, struct error *err) {
    const char *name;
    int rc = need_text(c, "method", &name, err);
    if (rc) return rc;
    const struct method *m = job_method_find(name, err);
    if (!m) return err->code;
    return method_run(&c->out, m, json_object_get(c->body, "in"), err);
}

const struct api_row api_table[] = {
    {"GET", "/api/project", KEY_READ, "title, revision and state of every step", "", get_project},
    {"GET", "/api/steps", KEY_READ, "state of every step", "", get_steps},
    {"GET", "/api/statements", KEY_READ, "everything that is said, with what is in doubt", "",
     get_statements},
    {"GET", "/api/why", KEY_READ, "a statement with all it rests on", "id", get_why},
    {"GET", "/api/result", KEY_READ, "what a step worked out", "step", get_result},
    {"GET", "/api/kinds", KEY_READ, "fields of every kind of thing, for forms", "", get_kinds},
    {"GET", "/api/entries", KEY_READ, "all things of a kind", "kind", get_entries},
    {"GET", "/api/history", KEY_READ, "all revisions of one thing", "kind, id", get_history},
    {"GET", "/api/changes", KEY_READ, "the journal, newest first", "", get_changes},
    {"GET", "/api/picture", KEY_READ, "a drawing as SVG: found, proposed or a step", "name",
     get_picture},
    {"PUT", "/api/import", KEY_WRITE, "brings a file in; the body is its bytes", "name, as",
     put_import},
    {"GET", "/api/file", KEY_READ, "a kept file", "id", get_file},
    {"GET", "/api/methods", KEY_READ, "open computations with their fields", "", get_methods},
    {"POST", "/api/calc", KEY_READ, "runs an open computation", "method, in", post_calc},
    {"POST", "/api/what_if", KEY_READ, "what a changed making would do; nothing is entered",
     "making, parts, by (stand-in or shell), nodes", api_what_if},
    {"POST", "/api/copy", KEY_WRITE, "keeps a changed making as a copy without weight",
     "of, title, difference, without, changes", api_copy},
    {"POST", "/api/enter", KEY_WRITE, "enters one thing", "kind, id, body, expected, why",
     post_enter},
    {"POST", "/api/withdraw", KEY_WRITE, "withdraws one thing", "kind, id, why", post_withdraw},
    {"POST", "/api/undo", KEY_WRITE, "takes a change back (0: the newest)", "change, why",
     post_undo},
    {"POST", "/api/compute", KEY_WRITE, "begins to work out what is in doubt", "step",
     post_compute},
    {"POST", "/api/stop", KEY_WRITE, "stops what is being worked out", "", post_stop},
    {0},
};

const struct api_row *api_find(const char *method, const char *path, bool *known) {
    *known = false;
    for (const struct api_row *r = api_table; r->path; r++) {
        if (strcmp(r->path, path)) continue;
        *known = true;
        if (strcmp(r->method, strcmp(method, "HEAD") ? method : "GET") == 0) return r;
    }
    return NULL;
}

int api_status(int code) {
    switch (code) {
    case 0:
        return 200;
    case ERR_MISSING:
        return 404;
    case ERR_CONFLICT:
        return 409;
    case ERR_FILE:
    case ERR_DAMAGED:
    case ERR_MEMORY:
        return 500;
    default:
        return 422;
    }
}
