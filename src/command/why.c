#include "command/command.h"

#include "job/job.h"

#include <stdlib.h>
#include <string.h>

static const char *text(const json_t *o, const char *key) {
    const char *s = json_string_value(json_object_get(o, key));
    return s ? s : "";
}

struct telling {
    bool all; /* the whole chain, not only two steps */
    json_t *told;
    struct arena *arena;
    FILE *out;
};

static void labelled(struct telling *t, const char *label, const char *value, int indent) {
    char *line = *value ? arena_printf(t->arena, "%s%s", label, value) : NULL;
    if (line) command_print_text(line, indent, t->out);
}

static bool same(const json_t *a, const json_t *b, const char *key) {
    return strcmp(text(a, key), text(b, key)) == 0;
}

/* Who entered something is said once for a run of things entered together. */
static void print_hand(struct telling *t, const json_t *entry, int indent) {
    if (!entry) return;
    char *hand =
        arena_printf(t->arena, "(entered by %s, %.10s)", text(entry, "who"), text(entry, "when"));
    if (hand) command_print_text(hand, indent, t->out);
}

static bool is_statement(const json_t *link) {
    return json_object_get(link, "statement") != NULL;
}

/* The readings, pieces, choices and table rows at this end of the chain, a line each. */
static void print_ends(struct telling *t, const json_t *links, int indent) {
    size_t i;
    const json_t *l, *entry = NULL;
    json_array_foreach((json_t *)links, i, l) {
        if (is_statement(l)) continue;
        const json_t *next = json_object_get(l, "entry");
        if (entry && (!next || !same(entry, next, "who") || !same(entry, next, "when")))
            print_hand(t, entry, indent + 2);
        const char *words = text(l, "words"), *role = text(l, "role");
        char *line = *words ? arena_printf(t->arena, "%s: %s", text(l, "id"), words)
                            : arena_printf(t->arena, "%s %s%s%s", text(l, "kind"), text(l, "id"),
                                           *role ? ", as " : "", role);
        if (line) command_print_text(line, indent, t->out);
        entry = next;
    }
    print_hand(t, entry, indent + 2);
}

static void print_answer(struct telling *t, const json_t *s, int indent) {
    const char *number = text(s, "number"), *state = text(s, "state");
    fprintf(t->out, "%*s%s%s%s%s%s\n", indent, "", number, *number ? ", " : "", state,
            *state ? ", " : "", text(s, "footing"));
    labelled(t, "Rule: ", text(s, "rule"), indent);
    labelled(t, "Source: ", text(s, "source"), indent);
    labelled(t, "Rival: ", text(s, "rival"), indent);
    labelled(t, "Take care: ", text(s, "caution"), indent);
    labelled(t, "In doubt: ", text(s, "doubt"), indent);
}

static size_t count(const json_t *links, bool statements) {
    size_t i, n = 0;
    const json_t *l;
    json_array_foreach((json_t *)links, i, l) n += is_statement(l) == statements;
    return n;
}

static void print_statement(struct telling *t, const json_t *s, int depth);

static void print_inner(struct telling *t, const json_t *link, int depth) {
    const json_t *s = json_object_get(link, "statement");
    int indent = 4 * depth;
    bool again = json_object_get(t->told, text(link, "id")) != NULL;
    char *head = arena_printf(t->arena, "%s: %s%s", text(link, "id"), text(s, "sentence"),
                              again ? " (opened above)" : "");
    if (head) command_print_text(head, indent, t->out);
    if (!again) print_statement(t, s, depth);
}

/* One statement and what it rests on; deeper than two steps only its own ends are counted. */
static void print_statement(struct telling *t, const json_t *s, int depth) {
    int indent = 4 * depth + (depth ? 2 : 0);
    const json_t *links = json_object_get(s, "rests_on"), *l;
    size_t i, ends = count(links, false), inner = count(links, true);
    json_object_set_new(t->told, text(s, "id"), json_true());
    print_answer(t, s, indent);
    if (depth && !t->all) {
        if (ends + inner)
            fprintf(t->out, "%*sRests on %zu more: relict why FILE %s\n", indent, "", ends + inner,
                    text(s, "id"));
        return;
    }
    if (ends) fprintf(t->out, "%*sIt rests on:\n", indent, "");
    print_ends(t, links, indent + 2);
    if (inner)
        fprintf(t->out, "%*s%s on what was worked out before:\n", indent, "",
                ends ? "and" : "It rests");
    json_array_foreach((json_t *)links, i, l) if (is_statement(l)) print_inner(t, l, depth + 1);
}

int command_why(struct command_line *line, struct error *err) {
    struct job *job;
    json_t *why;
    int rc = command_open(&job, line, true, err);
    if (rc) return rc;
    rc = job_why(&why, job, line->args[1], err);
    job_close(job);
    if (rc) return rc;
    if (line->json)
        command_print_json(why, line->out);
    else {
        struct telling t = {.all = command_option(line, "--all") != NULL,
                            .told = json_object(),
                            .arena = line->arena,
                            .out = line->out};
        labelled(&t, "", text(why, "sentence"), 0);
        print_statement(&t, why, 0);
        json_decref(t.told);
    }
    json_decref(why);
    return 0;
}
