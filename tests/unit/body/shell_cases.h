/* The rows of shell_cases.json: a small sheet, pulled at one end, and what is altered in it. */
#ifndef RELICT_TESTS_SHELL_CASES_H
#define RELICT_TESTS_SHELL_CASES_H

#include "body/body_methods.h"

#include "check.h"

static inline const struct method *shell_method(void) {
    for (size_t i = 0; i < body_methods.n; i++)
        if (strcmp(body_methods.v[i]->name, "shell") == 0) return body_methods.v[i];
    return NULL;
}

static inline json_t *shell_cases_read(void) {
    json_error_t trouble;
    json_t *all =
        json_load_file(check_source_path("tests/unit/body/shell_cases.json"), 0, &trouble);
    if (!all) fail_msg("shell_cases.json, line %d: %s", trouble.line, trouble.text);
    return all;
}

/* Puts value at "layers.0.e"; null takes it away, the number after the last appends. */
static inline void shell_case_put(json_t *at, const char *path, json_t *value) {
    char word[40];
    size_t n = strcspn(path, ".");
    snprintf(word, sizeof word, "%.*s", (int)n, path);
    json_t *next =
        json_is_array(at) ? json_array_get(at, (size_t)atoi(word)) : json_object_get(at, word);
    if (path[n])
        shell_case_put(next, path + n + 1, value);
    else if (json_is_array(at) && next)
        json_array_set(at, (size_t)atoi(word), value);
    else if (json_is_array(at))
        json_array_append(at, value);
    else if (json_is_null(value))
        json_object_del(at, word);
    else
        json_object_set(at, word, value);
}

/* The case of a row; a new reference. */
static inline json_t *shell_case_of(const json_t *all, const json_t *row) {
    json_t *c = json_deep_copy(json_object_get(all, "base")), *value;
    const char *path;
    json_object_foreach(json_object_get(row, "set"), path, value) shell_case_put(c, path, value);
    return c;
}

#endif
