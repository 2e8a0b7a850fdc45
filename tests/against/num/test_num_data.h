/* test_num_data: reads the published numbers beside the tests. */
#ifndef RELICT_TESTS_NUM_DATA_H
#define RELICT_TESTS_NUM_DATA_H

#include "check.h"

#include <jansson.h>

static inline json_t *data_load(const char *name) {
    char path[256];
    json_error_t e;
    snprintf(path, sizeof path, "tests/against/num/data/%s", name);
    json_t *j = json_load_file(check_source_path(path), 0, &e);
    if (!j) fail_msg("%s: %s", name, e.text);
    return j;
}

/* "a.b.2.c" */
static inline json_t *data_at(json_t *j, const char *path) {
    char word[64];
    while (j && *path) {
        size_t n = strcspn(path, ".");
        snprintf(word, sizeof word, "%.*s", (int)n, path);
        j = json_is_array(j) ? json_array_get(j, (size_t)atoi(word)) : json_object_get(j, word);
        path += n + (path[n] == '.');
    }
    if (!j) fail_msg("no %s in the data", path);
    return j;
}

static inline double data_number(json_t *j, const char *path) {
    return json_number_value(data_at(j, path));
}

static inline size_t data_list(json_t *j, const char *path, double *v, size_t most) {
    json_t *a = data_at(j, path);
    size_t n = json_array_size(a);
    assert_true(n <= most);
    for (size_t i = 0; i < n; i++)
        v[i] = json_number_value(json_array_get(a, i));
    return n;
}

#endif
