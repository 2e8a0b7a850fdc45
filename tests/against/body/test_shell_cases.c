/* Runs every file in cases/: a problem as `relict calc shell` takes it, with what is known of its
 * answer from elsewhere. Each file names its source. Files of suite "long" run only when the
 * program is called with the word long. */
#include "body/body_methods.h"

#include <dirent.h>

#include "check.h"

static int want_long;

static const struct method *shell_method(void) {
    for (size_t i = 0; i < body_methods.n; i++)
        if (strcmp(body_methods.v[i]->name, "shell") == 0) return body_methods.v[i];
    return NULL;
}

static json_t *answer_of(json_t *step, const char *name) {
    size_t i;
    json_t *a;
    json_array_foreach(json_object_get(step, "answers"), i,
                       a) if (strcmp(json_string_value(json_object_get(a, "name")), name) ==
                              0) return json_object_get(a, "values");
    return NULL;
}

static double number(json_t *object, const char *key) {
    return json_number_value(json_object_get(object, key));
}

static void check_answer(const char *file, json_t *check, json_t *step) {
    const char *name = json_string_value(json_object_get(check, "answer"));
    json_t *values = answer_of(step, name), *sum = json_object_get(check, "sum"), *i;
    if (!values) fail_msg("%s: no answer %s", file, name);
    double got = 0, want = number(check, "want");
    size_t k;
    if (sum) {
        json_array_foreach(sum, k, i) got +=
            json_number_value(json_array_get(values, (size_t)json_integer_value(i)));
    } else
        got = json_number_value(
            json_array_get(values, (size_t)json_integer_value(json_object_get(check, "index"))));
    double most = json_object_get(check, "absolute") ? number(check, "absolute")
                                                     : number(check, "relative") * fabs(want);
    if (json_object_get(check, "size")) got = fabs(got);
    check_note("%-30s %-10s %14.8g want %14.8g  %+8.4f %% of %.4f %%", file, name, got, want,
               want != 0 ? 100 * (got / want - 1) : 0, want != 0 ? 100 * most / fabs(want) : 0);
    check_about("%.*s: %s", (int)strlen(file) - 5, file, name);
    check_near(got, want, most);
}

static enum check_known how_known(json_t *all, const char *file) {
    const char *word = json_string_value(json_object_get(all, "known"));
    for (size_t k = 0; word && k < sizeof check_known_words / sizeof *check_known_words; k++)
        if (strcmp(word, check_known_words[k]) == 0) return (enum check_known)k;
    fail_msg("%s: say under \"known\" how the answer is known", file);
    return CHECK_ASKED;
}

static void run_file(const char *file) {
    char path[512];
    snprintf(path, sizeof path, "tests/against/body/cases/%s", file);
    json_error_t trouble;
    json_t *all = json_load_file(check_source_path(path), 0, &trouble), *out, *check;
    if (!all) fail_msg("%s: %s", file, trouble.text);
    const char *suite = json_string_value(json_object_get(all, "suite"));
    if ((suite && strcmp(suite, "long") == 0) != want_long) {
        json_decref(all);
        return;
    }
    assert_true(json_string_length(json_object_get(all, "source")) > 10);
    check_from(how_known(all, file), json_string_value(json_object_get(all, "source")));
    struct error err = {0};
    check_ok(method_run(&out, shell_method(), json_object_get(all, "case"), &err), &err);
    json_t *steps = json_object_get(out, "steps");
    size_t i, iterations = 0;
    json_array_foreach(steps, i, check) iterations += (size_t)number(check, "iterations");
    check_note("%-30s %g triangles, %zu iterations in %zu steps", file, number(out, "triangles"),
               iterations, json_array_size(steps));
    json_array_foreach(json_object_get(all, "checks"), i, check) {
        json_t *step = json_array_get(steps, (size_t)number(check, "step"));
        check_about("%.*s", (int)strlen(file) - 5, file);
        if (json_object_get(check, "iterations_at_most"))
            check_between(number(step, "iterations"), 0, number(check, "iterations_at_most"));
        else if (json_object_get(check, "energy_at_most"))
            check_between(number(step, "energy"), -INFINITY, number(check, "energy_at_most"));
        else if (json_object_get(check, "parameter"))
            check_rel(number(step, "parameter"), number(check, "parameter"),
                      number(check, "relative"));
        else if (json_object_get(check, "branches"))
            check_near((double)json_array_size(json_object_get(out, "branches")),
                       number(check, "branches"), 0);
        else
            check_answer(file, check, step);
    }
    json_decref(out);
    json_decref(all);
}

static int by_name(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void test_files(void **state) {
    (void)state;
    DIR *dir = opendir(check_source_path("tests/against/body/cases"));
    assert_non_null(dir);
    char *name[200];
    size_t n = 0;
    for (struct dirent *e; (e = readdir(dir)) && n < 200;)
        if (strlen(e->d_name) > 5 && strcmp(e->d_name + strlen(e->d_name) - 5, ".json") == 0)
            name[n++] = strdup(e->d_name);
    closedir(dir);
    assert_true(n > 10);
    qsort(name, n, sizeof *name, by_name);
    for (size_t i = 0; i < n; i++) {
        run_file(name[i]);
        free(name[i]);
    }
}

int main(int argc, char **argv) {
    want_long = argc > 1 && strcmp(argv[1], "long") == 0;
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_files)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
