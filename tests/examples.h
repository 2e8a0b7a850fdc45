/* examples: every open computation of a room runs its own example and has a help text. */
#ifndef RELICT_TESTS_EXAMPLES_H
#define RELICT_TESTS_EXAMPLES_H

#include "base/method.h"

#include "check.h"

static inline void examples_of(const struct method_list *list) {
    for (size_t i = 0; i < list->n; i++) {
        const struct method *m = list->v[i];
        struct error err = {0};
        json_error_t j;
        json_t *in = json_loads(m->example, 0, &j), *out = NULL;
        if (!in) fail_msg("%s: example is not JSON: %s (%d)", m->name, j.text, j.position);
        check_ok(method_run(&out, m, in, &err), &err);
        char *text = json_dumps(out, JSON_COMPACT | JSON_REAL_PRECISION(6));
        check_note("%s: %.600s", m->name, text);
        assert_true(strlen(text) > 20);
        free(text);
        json_decref(in);
        json_decref(out);
        struct arena *a = arena_new();
        assert_non_null(method_help(m, a));
        arena_free(a);
    }
}

#endif
