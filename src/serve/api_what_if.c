/* Changing a making on trial, and keeping the try. */
#include "serve/api_what_if.h"

#include "job/what_if.h"

#include <math.h>
#include <string.h>

enum { MOST_PARTS = 200 };

/* The numbers a maker asks for, of all that the shell tells. */
static const struct number {
    enum body_controls_output which;
    const char *id, *sentence, *unit;
} numbers[] = {
    {BODY_OUT_RISE, "rise", "The middle would stand over the long edges", "mm"},
    {BODY_OUT_EDGE_LIFT, "edge_lift", "The edge would lift off a table by", "mm"},
    {BODY_OUT_STIFFNESS, "stiffness", "A hand pressed on the middle would meet", "N/mm"},
    {BODY_OUT_WEIGHT, "weight", "Sheet, laths and rim would weigh", "g"},
};

static json_t *encode(const struct what_if_answer *a, const char *by) {
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        const struct number *n = &numbers[i];
        double v = a->value[n->which], sd = a->sd[n->which];
        json_t *o = json_pack("{s:s,s:s,s:s,s:f,s:f}", "id", n->id, "sentence", n->sentence, "unit",
                              n->unit, "p50", v, "before", a->before[n->which]);
        if (!isnan(sd) && sd > 0) { /* 5 % to 95 % of a normal error */
            json_object_set_new(o, "p05", json_real(v - 1.6448536269514722 * sd));
            json_object_set_new(o, "p95", json_real(v + 1.6448536269514722 * sd));
        }
        json_array_append_new(list, o);
    }
    json_t *out = json_pack("{s:s,s:f,s:b,s:o}", "by", by, "ms", a->ms, "outside", a->outside,
                            "numbers", list);
    if (a->runs) json_object_set_new(out, "runs", json_integer((json_int_t)a->runs));
    return out;
}

static int read_parts(struct part **out, size_t *n, const json_t *list, struct arena *arena,
                      struct error *err) {
    *n = json_array_size(list);
    if (*n == 0 || *n > MOST_PARTS)
        return fail(err, ERR_INPUT, "Send the parts of one making.",
                    "A list of 1 to %d parts is needed.", (int)MOST_PARTS);
    *out = ARENA_NEW(arena, struct part, *n);
    if (!*out) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < *n && !rc; i++)
        rc = field_decode(&part_kind_kind, json_array_get(list, i), &(*out)[i], arena, err);
    return rc;
}

int api_what_if(struct api_call *c, struct error *err) {
    const char *making = json_string_value(json_object_get(c->body, "making")),
               *by = json_string_value(json_object_get(c->body, "by"));
    struct part *parts = NULL;
    size_t n;
    struct what_if *w;
    struct what_if_answer a;
    json_t *nodes = NULL;
    bool shell = by && strcmp(by, "shell") == 0;
    int rc = read_parts(&parts, &n, json_object_get(c->body, "parts"), c->arena, err);
    if (!rc) rc = job_what_if(&w, c->job, making, err);
    if (rc == ERR_MISSING) { /* not an error: an earlier step comes first */
        c->out = json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy);
        return c->out ? 0 : fail_memory(err);
    }
    if (rc) return rc;
    what_if_learn(w);
    if (!shell && !what_if_ready(w)) { /* not an error: one asks again */
        rc = what_if_quick(&a, w, parts, n, err);
        if (rc != ERR_CONFLICT) return rc;
        error_clear(err);
        c->out = json_pack("{s:s,s:b}", "by", "stand-in", "learning", 1);
        return c->out ? 0 : fail_memory(err);
    }
    rc = shell ? what_if_shell(&a, json_is_true(json_object_get(c->body, "nodes")) ? &nodes : NULL,
                               w, parts, n, err)
               : what_if_quick(&a, w, parts, n, err);
    if (rc) return rc;
    c->out = encode(&a, shell ? "shell" : "stand-in");
    if (nodes) json_object_set_new(c->out, "form", nodes);
    return c->out ? 0 : fail_memory(err);
}

int api_copy(struct api_call *c, struct error *err) {
    const char *id;
    int rc = what_if_keep(&id, c->job, c->body, c->arena, err);
    if (rc) return rc;
    c->out = json_pack("{s:s}", "making", id);
    return c->out ? 0 : fail_memory(err);
}
