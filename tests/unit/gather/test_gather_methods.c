/* every method of gather/ runs its own example. */
#include "gather/gather_methods.h"

#include "check.h"

static void examples_run(void **state) {
    (void)state;
    for (size_t i = 0; i < gather_methods.n; i++) {
        const struct method *m = gather_methods.v[i];
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

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples_run)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
