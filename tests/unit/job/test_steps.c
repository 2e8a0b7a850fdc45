/* job_compute: worked out step by step, each time from the file, or in one go: the same answers to
 * the last digit. */
#include "base/file.h"
#include "job/bring.h"
#include "job/job.h"

#include "check.h"

#include <math.h>
#include <unistd.h>

static char folder[] = "/tmp/relict-steps-XXXXXX";

static struct job *tray(const char *name, struct arena *a) {
    const char *bytes;
    size_t n;
    char path[600];
    struct error err = {0};
    struct job *job;
    json_t *report = NULL;
    const struct job_options options = {
        .who = "curator", .when = "2027-05-02T09:00:00Z", .state_folder = folder};
    const struct bring_options plain = {.bar_length = NAN};
    snprintf(path, sizeof path, "%s/demo/tray/finds.csv", getenv("RELICT_SOURCE"));
    check_ok(file_read(&bytes, &n, path, 0, a, &err), &err);
    snprintf(path, sizeof path, "%s/%s.relict", folder, name);
    check_ok(job_new(&job, path, "T", 1, 64, &options, &err), &err);
    check_ok(job_bring(&report, job, "finds.csv", bytes, n, &plain, &err), &err);
    json_decref(report);
    return job;
}

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
    assert_non_null(mkdtemp(folder));
    struct arena *a = arena_new();
    struct error err = {0};
    json_t *report;
    struct job *whole = tray("whole", a), *each = tray("each", a);
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
    char command[100];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    assert_int_equal(system(command), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(in_one_go_or_step_by_step)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
