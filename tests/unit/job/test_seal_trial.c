/* job/seal_trial: what is foretold is sealed when it is entered; what was made first says so. */
#include "trial/trial.h"

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

static void enter(const char *text) {
    json_t *body = json_loads(text, 0, NULL);
    assert_non_null(body);
    check_ok(job_enter(job, "trial", "T1", body, -1, "test", NULL, &err), &err);
    json_decref(body);
}

static enum foretold foretold(void) {
    struct records list;
    check_ok(record_load(&list, NULL, job_record(job), &trial_kind, 0, a, &err), &err);
    assert_int_equal(list.n, 1);
    return trial_foretold(list.v);
}

static const char question[] = "\"question\": \"Does lime bark shrink 6 %?\", \"outcome\": "
                               "\"shrinkage across\", \"half\": 1";

static void trial(const char *more) {
    char text[400];
    snprintf(text, sizeof text, "{\"id\": \"T1\", %s, %s}", question, more);
    enter(text);
}

static void sealed_when_entered(void **state) {
    (void)state;
    trial("\"predicted\": 5, \"predicted_on\": \"2027-05-01\"");
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-02\""); /* bettered before the making */
    assert_int_equal(foretold(), FORETOLD);
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-02\", \"made_on\": \"2027-05-20\"");
    assert_int_equal(foretold(), FORETOLD);
    trial("\"predicted\": 6.5, \"predicted_on\": \"2027-05-02\", \"made_on\": \"2027-05-20\"");
    assert_int_equal(foretold(), FORETOLD_BROKEN);
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-02\", \"made_on\": \"2027-05-20\"");
    assert_int_equal(foretold(), FORETOLD); /* put right again: the first seal fits */
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-02\", \"made_on\": \"2027-05-20\", "
          "\"seal\": \"00\"");
    assert_int_equal(foretold(), FORETOLD); /* nobody types a seal */
}

static void made_first_is_marked_for_ever(void **state) {
    (void)state;
    trial("\"predicted\": 6, \"predicted_on\": \"2027-06-01\", \"made_on\": \"2027-05-20\"");
    assert_int_equal(foretold(), FORETOLD_LATE);
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-01\", \"made_on\": \"2027-05-20\", "
          "\"made_before_asked\": false");
    assert_int_equal(foretold(), FORETOLD_LATE);
}

static void never_deleted(void **state) {
    (void)state;
    trial("\"predicted\": 6, \"predicted_on\": \"2027-05-02\"");
    assert_int_equal(job_withdraw(job, "trial", "T1", "it failed", &err), ERR_REFUSED);
    assert_int_equal(foretold(), FORETOLD);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(sealed_when_entered, begin, end),
        cmocka_unit_test_setup_teardown(made_first_is_marked_for_ever, begin, end),
        cmocka_unit_test_setup_teardown(never_deleted, begin, end)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
