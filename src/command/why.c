#include "command/command.h"

#include "job/job.h"

#include <stdlib.h>
#include <string.h>

static const char *text(const json_t *o, const char *key) {
    const char *s = json_string_value(json_object_get(o, key));
    return s ? s : "";
}

static void labelled(const char *label, const char *value, int indent, FILE *out) {
    if (!*value) return;
    char *line = NULL;
    size_t n;
    FILE *f = open_memstream(&line, &n);
    fprintf(f, "%s%s", label, value);
    fclose(f);
    command_print_text(line, indent, out);
    free(line);
}

static void print_entry(const json_t *entry, int indent, FILE *out) {
    const json_t *body = json_object_get(entry, "body");
    const char *key;
    json_t *v;
    fprintf(out, "%*s", indent, "");
    int shown = 0;
    json_object_foreach((json_t *)body, key, v) {
        if (strcmp(key, "id") == 0 || json_is_array(v) || json_is_object(v)) continue;
        fprintf(out, "%s%s ", shown++ ? ", " : "", key);
        if (json_is_string(v))
            fputs(json_string_value(v), out);
        else if (json_is_boolean(v))
            fputs(json_is_true(v) ? "yes" : "no", out);
        else
            fprintf(out, "%.6g", json_number_value(v));
    }
    fprintf(out, " (entered by %s, %.10s)\n", text(entry, "who"), text(entry, "when"));
}

static void print_statement(const json_t *s, int indent, FILE *out) {
    labelled("", text(s, "sentence"), indent, out);
    const char *number = text(s, "number"), *state = text(s, "state");
    fprintf(out, "%*s%s%s%s%s%s\n", indent, "", number, *number ? "  " : "", state,
            *state ? "  " : "", text(s, "footing"));
    labelled("rule: ", text(s, "rule"), indent, out);
    labelled("source: ", text(s, "source"), indent, out);
    labelled("rival: ", text(s, "rival"), indent, out);
    labelled("Take care: ", text(s, "caution"), indent, out);
    labelled("In doubt: ", text(s, "doubt"), indent, out);
    size_t i;
    const json_t *l;
    json_array_foreach(json_object_get(s, "rests_on"), i, l) {
        const char *role = text(l, "role");
        fprintf(out, "%*s- %s %s%s%s\n", indent, "", text(l, "kind"), text(l, "id"),
                *role ? ": " : "", role);
        const json_t *inner = json_object_get(l, "statement"), *entry = json_object_get(l, "entry");
        if (inner) print_statement(inner, indent + 4, out);
        if (entry) print_entry(entry, indent + 4, out);
    }
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
    else
        print_statement(why, 0, line->out);
    json_decref(why);
    return 0;
}
