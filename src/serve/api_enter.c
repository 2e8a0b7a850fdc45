/* What a page tells: entries, files brought in, and what is to be worked out. */
#include "serve/api_rows.h"

#include "base/method.h"
#include "job/bring.h"
#include "job/methods.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_ENTRIES = 1000 };

/* When somebody was faster: what stands there now, beside what was sent. */
static void add_present(struct api_call *c, const char *kind, const char *id) {
    struct record_entry now;
    if (record_get(&now, job_record(c->job), kind, id, c->arena, NULL)) return;
    json_t *body = json_loads(now.body, 0, NULL);
    c->out = json_pack("{s:s,s:s,s:i,s:b,s:s,s:s,s:o}", "kind", kind, "id", id, "revision",
                       (int)now.revision, "gone", now.gone, "who", now.who, "when", now.when,
                       "body", body ? body : json_object());
}

static long expected_of(const json_t *o) {
    const json_t *expected = json_object_get(o, "expected");
    return json_is_integer(expected) ? (long)json_integer_value(expected) : -1;
}

int api_post_enter(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = api_need_text(c, "kind", &kind, err);
    if (!rc) rc = api_need_text(c, "id", &id, err);
    if (rc) return rc;
    const json_t *body = json_object_get(c->body, "body");
    long revision = 0;
    if (!json_is_object(body))
        return fail(err, ERR_INPUT, "Send its fields as \"body\".", "%.60s %.60s has no body.",
                    kind, id);
    rc =
        job_enter(c->job, kind, id, body, expected_of(c->body), api_text(c, "why"), &revision, err);
    if (rc == ERR_CONFLICT) add_present(c, kind, id);
    return rc ? rc : api_done(c, json_pack("{s:i}", "revision", (int)revision), err);
}

int api_post_enter_all(struct api_call *c, struct error *err) {
    const json_t *list = json_object_get(c->body, "entries");
    size_t n = json_array_size(list), at = 0;
    struct job_entry *entries =
        n && n <= MOST_ENTRIES ? ARENA_NEW(c->arena, struct job_entry, n) : NULL;
    if (!entries)
        return fail(err, ERR_USAGE, "Send \"entries\", a list of {kind, id, body, expected}.",
                    "From 1 to %d entries can be entered at once.", (int)MOST_ENTRIES);
    for (size_t i = 0; i < n; i++) {
        const json_t *o = json_array_get(list, i);
        entries[i] = (struct job_entry){.kind = json_string_value(json_object_get(o, "kind")),
                                        .id = json_string_value(json_object_get(o, "id")),
                                        .body = json_object_get(o, "body"),
                                        .expected = expected_of(o)};
        if (!entries[i].kind || !entries[i].id)
            return fail(err, ERR_USAGE, "Give both.", "Entry %zu has no kind or no id.", i + 1);
        if (entries[i].body && !json_is_object(entries[i].body))
            return fail(err, ERR_INPUT, "Send its fields as \"body\", or nothing to withdraw it.",
                        "The body of entry %zu is not an object.", i + 1);
    }
    int rc = job_enter_all(c->job, entries, n, api_text(c, "why"), &at, err);
    if (rc == ERR_CONFLICT) add_present(c, entries[at].kind, entries[at].id);
    if (rc) return rc;
    json_t *revisions = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(revisions, json_integer(entries[i].revision));
    return api_done(c, json_pack("{s:o}", "revisions", revisions), err);
}

int api_post_withdraw(struct api_call *c, struct error *err) {
    const char *kind, *id;
    int rc = api_need_text(c, "kind", &kind, err);
    if (!rc) rc = api_need_text(c, "id", &id, err);
    if (!rc) rc = job_withdraw(c->job, kind, id, api_text(c, "why"), err);
    return rc ? rc : api_done(c, json_object(), err);
}

int api_post_undo(struct api_call *c, struct error *err) {
    int rc = job_undo(c->job, (long)json_integer_value(json_object_get(c->body, "change")),
                      api_text(c, "why"), err);
    return rc ? rc : api_done(c, json_object(), err);
}

/* How a file is to be read, from the words of the address. */
static int options_of(struct bring_options *o, json_t **map, struct api_call *c,
                      struct error *err) {
    const char *separator = api_word(c, "separator"), *comma = api_word(c, "comma"),
               *text = api_word(c, "map"), *bar = api_word(c, "bar");
    char *end = NULL;
    *o = (struct bring_options){.as = api_word(c, "as"),
                                .separator = separator ? separator : ",",
                                .decimal_comma = comma && strcmp(comma, "yes") == 0,
                                .why = api_word(c, "why"),
                                .label = api_word(c, "label"),
                                .bar_length = bar ? strtod(bar, &end) : NAN};
    *map = text ? json_loads(text, JSON_REJECT_DUPLICATES, NULL) : NULL;
    o->map = *map;
    if (text && !*map)
        return fail(err, ERR_USAGE, "Ask for it at propose, correct it and send it back.",
                    "The map is not JSON.");
    if (bar && (*end || !(o->bar_length > 0)))
        return fail(err, ERR_USAGE, "Give the length of the bar in mm, as 100.",
                    "bar: \"%.20s\" is not a length.", bar);
    return 0;
}

int api_put_import(struct api_call *c, struct error *err) {
    const char *name;
    struct bring_options o;
    json_t *map = NULL;
    int rc = api_need(c, "name", &name, err);
    if (!rc) rc = options_of(&o, &map, c, err);
    if (!rc) rc = job_bring(&c->out, c->job, name, c->raw, c->raw_size, &o, err);
    json_decref(map);
    return rc;
}

int api_put_propose(struct api_call *c, struct error *err) {
    const char *name;
    struct bring_options o;
    json_t *map = NULL;
    int rc = api_need(c, "name", &name, err);
    if (!rc) rc = options_of(&o, &map, c, err);
    if (!rc) rc = job_propose(&c->out, name, c->raw, c->raw_size, &o, err);
    json_decref(map);
    return rc;
}

int api_post_release(struct api_call *c, struct error *err) {
    const char *id;
    int rc = api_need_text(c, "id", &id, err);
    if (rc) return rc;
    json_t *none = json_object();
    const json_t *cells = json_object_get(c->body, "cells");
    rc = job_release(&c->out, c->job, id, json_is_object(cells) ? cells : none,
                     json_is_true(json_object_get(c->body, "as_it_is")), api_text(c, "why"), err);
    json_decref(none);
    return rc;
}

int api_post_compute(struct api_call *c, struct error *err) {
    int rc = c->server ? server_compute(c->server, api_text(c, "step"), err)
                       : fail(err, ERR_REFUSED, NULL, "Nothing can be computed here.");
    return rc ? rc : api_done(c, json_object(), err);
}

int api_post_stop(struct api_call *c, struct error *err) {
    if (c->server) server_halt(c->server);
    return api_done(c, json_object(), err);
}

int api_post_calc(struct api_call *c, struct error *err) {
    const char *name;
    int rc = api_need_text(c, "method", &name, err);
    if (rc) return rc;
    const struct method *m = job_method_find(name, err);
    if (!m) return err->code;
    return method_run(&c->out, m, json_object_get(c->body, "in"), err);
}
