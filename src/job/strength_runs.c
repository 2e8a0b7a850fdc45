/* Shell runs kept with the step's result and used again the next time (body/controls.h).
 *
 * Under "runs" of the result: {name: {"inputs": which inputs, in order, "first": n, "x": "...",
 * "y": "...", "shift": "...", "spread": "...", "found": [{"of": hash, "v": "..."}, ...]}}, numbers
 * as text with nine digits, what was found with all. */
#include "job/strength.h"

#include "base/mem.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Version of what a run means: raised when the shell or the translation of a making changes. */
enum { RUNS_VERSION = 7 };

char *strength_numbers_text(const double *v, size_t n, struct arena *arena) {
    size_t size = 20 * n + 1, at = 0;
    char *text = arena_alloc(arena, size, 1);
    if (!text) return NULL;
    *text = 0;
    for (size_t i = 0; i < n; i++)
        at += (size_t)snprintf(text + at, size - at, isfinite(v[i]) ? "%s%.9g" : "%s?",
                               i ? " " : "", v[i]);
    return text;
}

double *strength_numbers_read(size_t *n, const json_t *json, struct arena *arena) {
    *n = 0;
    return json_is_string(json) ? strength_numbers_text_read(n, json_string_value(json), arena)
                                : NULL;
}

double *strength_numbers_text_read(size_t *n, const char *text, struct arena *arena) {
    *n = 0;
    double *v = ARENA_NEW(arena, double, strlen(text) / 2 + 1);
    for (char *end; v && *text; text = end) {
        text += strspn(text, " ");
        bool unknown = *text == '?';
        v[*n] = unknown ? NAN : strtod(text, &end);
        if (unknown) end = (char *)text + 1;
        if (end == text) return NULL;
        ++*n;
    }
    return v;
}

/* What the emulators' searches found, to the last bit. */
static void read_found(struct body_controls_known *k, const json_t *json) {
    for (size_t q = 0; q < BODY_OUTPUTS && q < json_array_size(json); q++) {
        const json_t *one = json_array_get(json, q);
        const char *of = json_string_value(json_object_get(one, "of")),
                   *text = json_string_value(json_object_get(one, "v"));
        struct body_controls_found *f = &k->found[q];
        if (!of || !text || strlen(of) + 1 != sizeof f->of) continue;
        size_t n = 0;
        char *end;
        for (; n <= k->d && n <= NUM_EMULATOR_INPUTS; n++, text = end) {
            f->v[n] = strtod(text, &end);
            if (end == text || !(f->v[n] > 0) || !isfinite(f->v[n])) break;
        }
        if (n == k->d + 1) memcpy(f->of, of, sizeof f->of);
    }
}

static json_t *write_found(const struct body_controls_known *k, struct arena *arena) {
    json_t *all = json_array();
    for (size_t q = 0; q < BODY_OUTPUTS; q++) {
        const struct body_controls_found *f = &k->found[q];
        const char *text = "";
        for (size_t i = 0; i <= k->d && *f->of && text; i++)
            text = arena_printf(arena, "%s%s%.17g", text, i ? " " : "", f->v[i]);
        json_array_append_new(all, json_pack("{s:s,s:s}", "of", f->of, "v", text ? text : ""));
    }
    return all;
}

static bool read_known(struct body_controls_known *k, const json_t *json, const char *inputs,
                       size_t d, struct arena *arena) {
    const char *of = json_string_value(json_object_get(json, "inputs"));
    size_t nx, ny, ns[2];
    if (!of || strcmp(of, inputs) != 0 || d == 0) return false;
    k->x = strength_numbers_read(&nx, json_object_get(json, "x"), arena);
    k->y = strength_numbers_read(&ny, json_object_get(json, "y"), arena);
    const double *shift = strength_numbers_read(&ns[0], json_object_get(json, "shift"), arena),
                 *spread = strength_numbers_read(&ns[1], json_object_get(json, "spread"), arena);
    if (!k->x || !k->y || !shift || !spread || nx % d || ny % BODY_OUTPUTS ||
        nx / d != ny / BODY_OUTPUTS || ns[0] != BODY_OUTPUTS || ns[1] != BODY_OUTPUTS)
        return false;
    k->n = nx / d;
    k->d = d;
    long long first = json_integer_value(json_object_get(json, "first"));
    k->first = first > 0 ? (size_t)first : 0;
    memcpy(k->shift, shift, sizeof k->shift);
    memcpy(k->spread, spread, sizeof k->spread);
    for (size_t i = 0; i < nx; i++)
        if (!isfinite(k->x[i])) return false;
    read_found(k, json_object_get(json, "found"));
    return k->first <= k->n;
}

static int keep(struct stage_run *r, const char *name, const char *inputs,
                const struct body_controls_known *k, struct error *err) {
    json_t *all = json_object_get(r->result, "runs");
    if (!all) {
        all = json_object();
        json_object_set_new(r->result, "runs", all);
    }
    const char *x = strength_numbers_text(k->x, k->n * k->d, r->arena),
               *y = strength_numbers_text(k->y, k->n * BODY_OUTPUTS, r->arena),
               *shift = strength_numbers_text(k->shift, BODY_OUTPUTS, r->arena),
               *spread = strength_numbers_text(k->spread, BODY_OUTPUTS, r->arena);
    json_t *one = x && y && shift && spread
                      ? json_pack("{s:s,s:I,s:s,s:s,s:s,s:s,s:o}", "inputs", inputs, "first",
                                  (json_int_t)k->first, "x", x, "y", y, "shift", shift, "spread",
                                  spread, "found", write_found(k, r->arena))
                      : NULL;
    return one && json_object_set_new(all, name, one) == 0 ? 0 : fail_memory(err);
}

size_t strength_run_count(const struct stage_run *r, size_t most) {
    enum { ENOUGH = 1024, LEAST = 48, LEAST_ROUGH = 28 };
    size_t n = most * num_rows_count(r->rows) / ENOUGH, least = r->rough ? LEAST_ROUGH : LEAST;
    return n > most ? most : n < least ? least : n;
}

size_t strength_net(const struct stage_run *r, size_t triangles) {
    return r->rough ? triangles / 5 : triangles;
}

int strength_controls(struct body_controls **out, struct stage_run *r,
                      const struct strength_design *design, struct error *err) {
    struct body_controls_known known = {0};
    const char *inputs =
        arena_printf(r->arena, "%d%s: %s", RUNS_VERSION, r->rough ? " rough" : "", design->inputs);
    *out = NULL;
    if (!inputs) return fail_memory(err);
    const json_t *before = json_object_get(json_object_get(r->before, "runs"), design->name);
    struct body_controls_options options = {.triangles = strength_net(r, STRENGTH_TRIANGLES),
                                            .fine = strength_net(r, STRENGTH_FINE),
                                            .checks = STRENGTH_CHECKS};
    if (read_known(&known, before, inputs, design->d, r->arena)) options.known = &known;
    int rc = body_controls_new(out, design->x, design->n, design->d, design->make, design->context,
                               &options, err);
    if (!rc) rc = keep(r, design->name, inputs, body_controls_keep(*out), err);
    return rc;
}
