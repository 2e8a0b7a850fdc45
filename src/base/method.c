#include "base/method.h"

#include "base/mem.h"

#include <stdio.h>
#include <string.h>

int method_run(json_t **out, const struct method *m, const json_t *in, struct error *err) {
    *out = NULL;
    long failures = mem_failures();
    struct arena *arena = arena_new();
    void *input = arena ? arena_alloc(arena, 1, m->in->size) : NULL;
    void *output = input ? arena_alloc(arena, 1, m->out->size) : NULL;
    int rc = output ? 0 : fail_memory(err);
    if (!rc) rc = field_decode(m->in, in, input, arena, err);
    if (!rc) {
        field_unknown(m->out, output);
        rc = m->run(input, output, arena, err);
        /* whatever else it says: it may say so only because something was not there */
        if (arena_failed(arena) || mem_failures() != failures) rc = fail_memory(err);
    }
    if (!rc) {
        json_t *o = field_encode(m->out, output);
        if (!o || json_object_set_new(o, "method", json_string(m->name)) ||
            json_object_set_new(o, "source", json_string(m->source)) ||
            mem_failures() != failures) { /* a figure would be missing without a word */
            json_decref(o);
            rc = fail_memory(err);
        } else
            *out = o;
    }
    arena_free(arena);
    return rc;
}

static char *fields_help(const struct kind *kind, int depth, struct arena *arena) {
    char *text = arena_strdup(arena, "");
    for (size_t i = 0; text && i < kind->n; i++) {
        const struct field *f = &kind->fields[i];
        char limits[120] = "";
        if (f->min != 0 || f->max != 0) {
            if (f->max < FIELD_NO_LIMIT)
                snprintf(limits, sizeof limits, ", %s%g to %g", f->above_min ? "above " : "",
                         f->min, f->max);
            else if (f->min > -FIELD_NO_LIMIT)
                snprintf(limits, sizeof limits, ", %s %g", f->above_min ? "above" : "at least",
                         f->min);
        }
        char *choices = arena_strdup(arena, "");
        for (size_t k = 0; f->choices && f->choices[k] && choices; k++)
            choices = arena_printf(arena, "%s%s%s", choices, k ? " | " : ": ", f->choices[k]);
        if (!choices) return NULL;
        static const char *const type_words[] = {
            "number",        "whole number", "true or false",   "text",
            "date",          "one of",       "list of numbers", "list of whole numbers",
            "list of texts", "list of rows", "object",          "list of objects",
            "anything"};
        text = arena_printf(arena, "%s%*s%-18s %s%s%s%s%s%s%s%s%s\n", text, 2 + 2 * depth, "",
                            f->name, type_words[f->type], choices, f->unit && *f->unit ? ", " : "",
                            f->unit ? f->unit : "", limits, f->required ? ", needed" : "",
                            f->preset ? ", preset " : "", f->preset ? f->preset : "", "");
        if (text && f->help)
            text = arena_printf(arena, "%s%*s%-18s %s\n", text, 2 + 2 * depth, "", "", f->help);
        if (text && f->sub) {
            char *inner = fields_help(f->sub, depth + 1, arena);
            text = inner ? arena_printf(arena, "%s%s", text, inner) : NULL;
        }
    }
    return text;
}

char *method_help(const struct method *m, struct arena *arena) {
    char *in = fields_help(m->in, 0, arena), *out = fields_help(m->out, 0, arena);
    if (!in || !out) return NULL;
    return arena_printf(
        arena,
        "%s: %s\n\n%s%sSource: %s\n\nGoes in (JSON):\n%s\nComes out:\n%s\n"
        "Example that works as it stands:\n  relict calc %s - <<'END'\n  %s\n  END\n",
        m->name, m->title, m->text ? m->text : "", m->text ? "\n" : "", m->source, in, out, m->name,
        m->example);
}
