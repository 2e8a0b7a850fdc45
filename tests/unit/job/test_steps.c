/* job_compute: worked out step by step, each time from the file, or in one go: the same answers to
 * the last digit. */
#include "project_in_folder.h"

static char *answer(struct job *job, const char *step) {
    struct error err = {0};
    json_t *body;
    check_ok(job_result(&body, job, step, &err), &err);
    char *text = json_dumps(body, JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15));
    json_decref(body);
    return text;
}

static void in_one_go_or_step_by_step(void **state) {
    (void)state;
    static const char *const steps[] = {"found", "sizes", "outline", "curve", "making"};
    struct arena *a = arena_new();
    struct error err = {0};
    json_t *report;
    struct job *whole = tray_project("whole", a), *each = tray_project("each", a);
    check_ok(job_compute(&report, whole, "making", NULL, NULL, &err), &err);
    json_decref(report);
    for (size_t i = 0; i < 5; i++) {
        check_ok(job_compute(&report, each, steps[i], NULL, NULL, &err), &err);
        json_decref(report);
        char *one = answer(whole, steps[i]), *other = answer(each, steps[i]);
        assert_true(strlen(one) > 200);
        assert_string_equal(one, other);
        free(one);
        free(other);
    }
    job_close(whole);
    job_close(each);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(in_one_go_or_step_by_step)};
    return cmocka_run_group_tests(tests, folder_begin, folder_end);
}
