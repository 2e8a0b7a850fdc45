/* Any bytes as a request: a line "METHOD path?query", lines "Name: value", an empty line, a body.
 * The gate judges it; what it lets through is given to the row of the interface it names, on a
 * small project. What the gate must never let through is looked for again here. */
#include "serve/api.h"
#include "serve/gate.h"

#include "fuzz_scratch.h"

#include <string.h>

struct query {
    char *text;
    struct arena *arena;
};

static const char *query_of(void *from, const char *name) {
    struct query *q = from;
    size_t n = strlen(name);
    for (char *p = q->text; p && *p; p = strchr(p, '&') ? strchr(p, '&') + 1 : NULL)
        if (strncmp(p, name, n) == 0 && p[n] == '=')
            return arena_printf(q->arena, "%.*s", (int)strcspn(p + n + 1, "&"), p + n + 1);
    return NULL;
}

static void ask(const struct api_row *row, char *query, const char *body, size_t n, bool raw) {
    struct arena *a = arena_new();
    struct query q = {query, a};
    struct error err = {0};
    json_t *json = raw ? NULL : json_loadb(body, n, JSON_REJECT_DUPLICATES, NULL);
    struct api_call call = {.job = scratch(200),
                            .who = "tester",
                            .query = query_of,
                            .from = &q,
                            .body = json,
                            .raw = raw ? body : NULL,
                            .raw_size = raw ? n : 0,
                            .arena = a};
    /* open computations have a target of their own, and may take long rightly */
    if (strcmp(row->path, "/api/calc") != 0 && row->handle(&call, &err) && !*err.message) abort();
    json_decref(call.out);
    json_decref(json);
    arena_free(a);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n) {
    enum { MOST = 1 << 16 };
    static char text[MOST + 1];
    static const char *const hosts[] = {"127.0.0.1:8080", NULL};
    static const struct gate_rules rules = {hosts, MOST, MOST};
    if (n > MOST) return 0;
    memcpy(text, bytes, n);
    text[n] = 0;
    struct gate_header h[24];
    size_t headers = 0;
    char *line = text, *end = text + n, *method = text, *body = end;
    for (int k = 0; line < end; k++) {
        char *stop = memchr(line, '\n', (size_t)(end - line));
        if (!stop) stop = end;
        *stop = 0;
        if (k > 0 && !*line) {
            body = stop < end ? stop + 1 : end;
            break;
        }
        char *colon = strchr(line, ':');
        if (k > 0 && headers < 24) {
            if (colon) *colon = 0;
            h[headers++] = (struct gate_header){line, colon ? colon + 1 + (colon[1] == ' ') : NULL};
        }
        line = stop + 1;
    }
    char *path = strchr(method, ' ');
    if (!path) return 0;
    *path++ = 0;
    char *query = strchr(path, '?');
    if (query) *query++ = 0;
    struct gate_verdict v = gate_judge(&(struct gate_request){method, path, h, headers}, &rules);
    char value[64];
    for (size_t k = 0; k < headers; k++)
        if (h[k].value) gate_cookie(h[k].value, "relict", value, sizeof value);
    if (v.status) {
        if (!v.reason || !*v.reason) abort();
        return 0;
    }
    if (*path != '/' || strstr(path, "..") || strchr(path, '\\') || strchr(path, '%')) abort();
    bool known;
    const struct api_row *row = api_find(method, path, &known);
    if (row && v.raw == (strcmp(row->method, "PUT") == 0))
        ask(row, query, body, (size_t)(end - body), v.raw);
    return 0;
}
