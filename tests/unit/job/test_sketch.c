/* job_sketch: a first rough answer shows as in doubt, says that it is rough, and goes when the step
 * is worked out properly; a day of opening puts no step before the material in doubt. */
#include "project_in_folder.h"

static struct job *job;
static struct arena *a;
static struct error err;

static int begin(void **context) {
    if (folder_begin(context)) return -1;
    a = arena_new();
    job = empty_project("p", 256);
    return 0;
}

static int end(void **context) {
    job_close(job);
    arena_free(a);
    return folder_end(context);
}

/* The state of a step; *rough: from how many possible originals, 0 when it is no rough answer. */
static const char *state_of(const char *step, long *rough) {
    json_t *steps, *row;
    size_t i;
    const char *state = "";
    check_ok(job_steps(&steps, job, &err), &err);
    json_array_foreach(steps, i, row) {
        if (strcmp(json_string_value(json_object_get(row, "step")), step)) continue;
        state = arena_strdup(a, json_string_value(json_object_get(row, "state")));
        *rough = (long)json_integer_value(json_object_get(row, "rough"));
    }
    json_decref(steps);
    return state;
}

static void rough_then_proper(void **state) {
    (void)state;
    bool made;
    long rough;
    check_ok(job_sketch(&made, job, NULL, NULL, &err), &err);
    assert_false(made); /* nothing is there yet */
    bring_tray_finds(job, a);
    check_ok(job_sketch(&made, job, NULL, NULL, &err), &err);
    assert_true(made);
    assert_string_equal(state_of("making", &rough), "in doubt");
    assert_int_equal(rough, 128);
    json_t *result, *report;
    check_ok(job_result(&result, job, "making", &err), &err);
    const json_t *proposal = json_object_get(json_object_get(result, "result"), "proposal");
    assert_true(json_array_size(json_object_get(proposal, "parts")) > 5);
    json_decref(result);
    check_ok(job_sketch(&made, job, NULL, NULL, &err), &err);
    assert_false(made); /* it stands already */

    check_ok(job_compute(&report, job, "sizes", NULL, NULL, &err), &err);
    json_decref(report);
    assert_string_equal(state_of("sizes", &rough), "holds");
    assert_int_equal(rough, 0);
    assert_string_equal(state_of("outline", &rough), "in doubt");
    assert_int_equal(rough, 128);
}

static int refuse(const char *step, double share, const char *what, void *context) {
    (void)step, (void)share, (void)what, (void)context;
    return 1;
}

static void can_be_stopped(void **state) {
    (void)state;
    bool made;
    long rough;
    bring_tray_finds(job, a);
    assert_int_equal(job_sketch(&made, job, refuse, NULL, &err), ERR_STOPPED);
    assert_false(made);
    assert_string_equal(state_of("found", &rough), "can start");
}

static void opening_leaves_the_form(void **state) {
    (void)state;
    json_t *report, *body;
    long rough;
    bring_tray_finds(job, a);
    check_ok(job_compute(&report, job, "sizes", NULL, NULL, &err), &err);
    json_decref(report);
    body = json_pack("{s:s,s:s,s:s}", "id", "q", "about", "opening", "value", "2028-09-01");
    check_ok(job_enter(job, "choice", "q", body, 0, NULL, NULL, &err), &err);
    json_decref(body);
    assert_string_equal(state_of("sizes", &rough), "holds");
    body = json_pack("{s:s,s:s,s:s}", "id", "r", "about", "sheet.material", "value", "elm bark");
    check_ok(job_enter(job, "choice", "r", body, 0, NULL, NULL, &err), &err);
    json_decref(body);
    assert_string_equal(state_of("sizes", &rough), "in doubt");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(rough_then_proper, begin, end),
        cmocka_unit_test_setup_teardown(can_be_stopped, begin, end),
        cmocka_unit_test_setup_teardown(opening_leaves_the_form, begin, end)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
