/* Every open method of num/ runs its own example, and says what is wrong with an empty input. */
#include "base/method.h"
#include "num/num_methods.h"

#include "check.h"

#include <jansson.h>

static struct error err;

static json_t *run_example(const struct method *m) {
    json_error_t e;
    json_t *in = json_loads(m->example, 0, &e), *out = NULL;
    if (!in) fail_msg("%s: example is not JSON: %s", m->name, e.text);
    if (method_run(&out, m, in, &err)) {
        char text[1400];
        error_text(&err, text, sizeof text);
        fail_msg("%s: %s", m->name, text);
    }
    json_decref(in);
    return out;
}

static void test_examples(void **state) {
    (void)state;
    for (size_t i = 0; i < num_methods.n; i++) {
        const struct method *m = num_methods.v[i];
        json_t *a = run_example(m), *b = run_example(m);
        char *first = json_dumps(a, JSON_SORT_KEYS), *second = json_dumps(b, JSON_SORT_KEYS);
        assert_string_equal(first, second); /* the same numbers each time */
        assert_true(json_object_size(a) > 2);
        free(first);
        free(second);
        json_decref(a);
        json_decref(b);
        struct arena *arena = arena_new();
        assert_non_null(method_help(m, arena));
        arena_free(arena);
    }
}

static void test_empty(void **state) {
    (void)state;
    for (size_t i = 0; i < num_methods.n; i++) {
        json_t *in = json_object(), *out = NULL;
        error_clear(&err);
        assert_int_not_equal(method_run(&out, num_methods.v[i], in, &err), 0);
        assert_true(strlen(err.message) > 0 && strlen(err.remedy) > 0);
        assert_null(out);
        json_decref(in);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_examples),
                                       cmocka_unit_test(test_empty)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
