/* The open method `shell` on a sheet of 40 x 20 x 1 mm of 1000 MPa that anyone can reckon by hand:
 * every kind of part, support, load, question and shape at rest, each beside what elementary
 * statics and geometry say; and every refusal with its words. The rows stand in shell_cases.json.
 */
#include "shell_cases.h"

static double answer(json_t *out, const char *name, size_t index) {
    if (strcmp(name, "area") == 0) return json_number_value(json_object_get(out, name));
    json_t *steps = json_object_get(out, "steps"),
           *list = json_object_get(json_array_get(steps, json_array_size(steps) - 1), "answers"),
           *a;
    size_t i;
    json_array_foreach(
        list, i,
        a) if (strcmp(json_string_value(json_object_get(a, "name")), name) ==
               0) return json_number_value(json_array_get(json_object_get(a, "values"), index));
    return NAN;
}

static int outside(json_t *out, const json_t *row) {
    const char *what = json_string_value(json_object_get(row, "what"));
    json_t *want;
    size_t i;
    int n = 0;
    json_array_foreach(json_object_get(row, "want"), i, want) {
        const char *name = json_string_value(json_array_get(want, 0));
        size_t index = (size_t)json_integer_value(json_array_get(want, 1));
        double got = answer(out, name, index), is = json_number_value(json_array_get(want, 2)),
               most = json_number_value(json_array_get(want, 3));
        if (fabs(got - is) <= most) continue;
        check_note("%s: %s %zu is %.9g, not %.9g +- %.2g", what, name, index, got, is, most);
        n++;
    }
    return n;
}

static void answers_and_refusals(void **state) {
    (void)state;
    json_t *all = shell_cases_read(), *row;
    size_t i, wrong = 0;
    json_array_foreach(json_object_get(all, "rows"), i, row) {
        const char *refused = json_string_value(json_object_get(row, "refused"));
        json_t *c = shell_case_of(all, row), *out = NULL;
        struct error err = {0};
        int rc = method_run(&out, shell_method(), c, &err);
        char *text = json_dumps(json_object_get(row, "set"), JSON_COMPACT);
        if (refused ? !rc || !strstr(err.message, refused) || !*err.remedy : rc) {
            check_note("%s: %s", text, rc ? err.message : "answered");
            wrong++;
        }
        if (!rc && !refused) wrong += (size_t)outside(out, row);
        free(text);
        json_decref(out);
        json_decref(c);
    }
    json_decref(all);
    assert_int_equal(wrong, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(answers_and_refusals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
