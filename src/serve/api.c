#include "serve/api.h"

#include "serve/api_rows.h"
#include "serve/api_what_if.h"

#include <string.h>

int api_need(struct api_call *c, const char *name, const char **out, struct error *err) {
    *out = c->query(c->from, name);
    if (*out && **out) return 0;
    error_place(err, NULL, 0, name, NULL);
    return fail(err, ERR_USAGE, "Add it to the address after a question mark.", "\"%s\" is needed.",
                name);
}

int api_need_text(struct api_call *c, const char *name, const char **out, struct error *err) {
    *out = json_string_value(json_object_get(c->body, name));
    if (*out && **out) return 0;
    error_place(err, NULL, 0, name, NULL);
    return fail(err, ERR_USAGE, "Add it to the body.", "\"%s\" is needed and must be a text.",
                name);
}

const char *api_text(const struct api_call *c, const char *name) {
    return json_string_value(json_object_get(c->body, name));
}

const char *api_word(const struct api_call *c, const char *name) {
    const char *text = c->query(c->from, name);
    return text && *text ? text : NULL;
}

int api_done(struct api_call *c, json_t *out, struct error *err) {
    c->out = out;
    return out ? 0 : fail_memory(err);
}

const struct api_row api_table[] = {
    {"GET", "/api/project", KEY_READ, "title, revision and state of every step", "",
     api_get_project},
    {"GET", "/api/steps", KEY_READ, "state of every step", "", api_get_steps},
    {"GET", "/api/statements", KEY_READ, "everything that is said, with what is in doubt", "",
     api_get_statements},
    {"GET", "/api/why", KEY_READ, "a statement with all it rests on", "id", api_get_why},
    {"GET", "/api/result", KEY_READ,
     "what a step worked out: {revision, statements, result, blocked?, in_doubt?}; {missing, "
     "remedy} before; part keeps one member of the result alone",
     "step, part", api_get_result},
    {"GET", "/api/kinds", KEY_READ, "fields of every kind of thing, for forms", "", api_get_kinds},
    {"GET", "/api/entries", KEY_READ, "all things of a kind", "kind", api_get_entries},
    {"GET", "/api/history", KEY_READ, "all revisions of one thing", "kind, id", api_get_history},
    {"GET", "/api/changes", KEY_READ, "the journal, newest first", "", api_get_changes},
    {"GET", "/api/change", KEY_READ, "the entries of one change, each with what stood there before",
     "id", api_get_change},
    {"GET", "/api/aside", KEY_READ, "rows of finds lists that are set aside, and the totals", "",
     api_get_aside},
    {"GET", "/api/picture", KEY_READ,
     "a drawing as SVG: found, proposed, a step, season, layout, stages, variants, shares, "
     "section-across, section-along, by-day-moisture, by-day-edge_lift or by-day-tie_pull; "
     "{missing, remedy} while there is none",
     "name", api_get_picture},
    {"PUT", "/api/import", KEY_WRITE, "brings a file in; the body is its bytes",
     "name, as, map, separator, comma (yes), label, bar (mm), why", api_put_import},
    {"PUT", "/api/propose", KEY_READ,
     "the map that would be used for a finds list; nothing is kept", "name, separator, comma",
     api_put_propose},
    {"POST", "/api/release", KEY_WRITE,
     "mends a row set aside: cells is {heading: new text}; as_it_is takes what is merely unlikely",
     "id, cells, as_it_is, why", api_post_release},
    {"GET", "/api/file", KEY_READ, "a kept file", "id", api_get_file},
    {"GET", "/api/methods", KEY_READ, "open computations with their fields", "", api_get_methods},
    {"POST", "/api/calc", KEY_READ, "runs an open computation", "method, in", api_post_calc},
    {"POST", "/api/what_if", KEY_READ, "what a changed making would do; nothing is entered",
     "making, parts, by (stand-in or shell), nodes", api_what_if},
    {"POST", "/api/copy", KEY_WRITE, "keeps a changed making as a copy without weight",
     "of, title, difference, without, changes", api_copy},
    {"POST", "/api/enter", KEY_WRITE, "enters one thing", "kind, id, body, expected, why",
     api_post_enter},
    {"POST", "/api/enter_all", KEY_WRITE,
     "enters several things as one change; an entry with no body is withdrawn",
     "entries: [{kind, id, body, expected}], why", api_post_enter_all},
    {"POST", "/api/withdraw", KEY_WRITE, "withdraws one thing", "kind, id, why", api_post_withdraw},
    {"POST", "/api/undo", KEY_WRITE, "takes a change back (0: the newest)", "change, why",
     api_post_undo},
    {"POST", "/api/compute", KEY_WRITE, "begins to work out what is in doubt", "step",
     api_post_compute},
    {"GET", "/api/checklist", KEY_READ, "the checklist of the report, with what is missing", "",
     api_get_checklist},
    {"GET", "/api/label", KEY_READ, "the draft of the label for visitors", "", api_get_label},
    {"POST", "/api/write", KEY_READ, "begins to write every paper and open file", "",
     api_post_write},
    {"GET", "/api/papers", KEY_READ, "what was written, and what could not be", "", api_get_papers},
    {"GET", "/api/paper", KEY_READ, "one of those files, to save or to show", "name, as (show)",
     api_get_paper},
    {"GET", "/api/wood", KEY_READ, "the page to take to the wood, one file that needs no network",
     "save", api_get_wood},
    {"GET", "/api/keys", KEY_OWN, "keys handed out that still hold", "", api_get_keys},
    {"POST", "/api/share", KEY_OWN, "hands out a key for the network, with its sign", "write",
     api_post_share},
    {"POST", "/api/revoke", KEY_OWN, "ends a key and every page that came in by it", "key",
     api_post_revoke},
    {"POST", "/api/stop", KEY_WRITE, "stops what is being worked out", "", api_post_stop},
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
