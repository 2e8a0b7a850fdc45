/* A project of each form the file ever had (forms/, written by the program of that time): it opens,
 * is brought up to date with a copy set aside, holds what it held, and takes more. */
#include "base/file.h"
#include "job/job.h"
#include "record/record_private.h"

#include "check.h"

#include <dirent.h>
#include <unistd.h>

static char folder[64], path[100];

static int begin(void **state) {
    (void)state;
    strcpy(folder, "/tmp/relict-forms-XXXXXX");
    if (!mkdtemp(folder)) return -1;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    return 0;
}

static int end(void **state) {
    (void)state;
    char command[100];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static void lay(int form) {
    struct arena *a = arena_new();
    struct error err = {0};
    char name[80];
    const char *bytes;
    size_t n;
    snprintf(name, sizeof name, "tests/unit/record/forms/form%d.bin", form);
    check_ok(file_read(&bytes, &n, check_source_path(name), 0, a, &err), &err);
    check_ok(file_write(path, bytes, n, true, &err), &err);
    arena_free(a);
}

static void each_form_is_brought_up_to_date(void **state) {
    (void)state;
    for (int form = 1; form <= record_form_now.version; form++) {
        lay(form);
        struct job *job;
        struct error err = {0};
        const struct job_options reading = {.who = "reader", .read_only = true},
                                 o = {.who = "tester", .when = "2026-06-01T00:00:00Z"};
        if (form < record_form_now.version) { /* reading alone changes nothing */
            assert_int_equal(job_open(&job, path, &reading, &err), ERR_REFUSED);
            assert_non_null(strstr(err.message, "older form"));
            error_clear(&err);
        }
        check_ok(job_open(&job, path, &o, &err), &err);
        struct record_checked c;
        check_ok(record_verify(&c, job_record(job), NULL, NULL, &err), &err);
        assert_int_equal(c.faults, 0);
        assert_int_equal(c.changes, 2);
        assert_int_equal(c.results, 2);
        assert_int_equal(c.files, 1);
        struct snapshot s;
        struct arena *a = arena_new();
        check_ok(job_snapshot(&s, job, a, &err), &err);
        assert_int_equal(s.find.piece_count, 2); /* the third row is set aside */
        assert_string_equal(s.find.pieces[0].id, "K1");
        assert_string_equal(s.find.pieces[0].note, "an invented piece");
        json_t *sizes, *piece = json_pack("{s:s,s:s}", "id", "K9", "part", "lath");
        check_ok(job_result(&sizes, job, "sizes", &err), &err);
        json_decref(sizes);
        check_ok(job_enter(job, "piece", "K9", piece, -1, "", NULL, &err), &err);
        json_decref(piece);
        check_ok(record_verify(&c, job_record(job), NULL, NULL, &err), &err);
        assert_int_equal(c.faults, 0);
        job_close(job);
        char copy[140];
        snprintf(copy, sizeof copy, "%s.bak-v%d", path, form);
        assert_int_equal(file_exists(copy), form < record_form_now.version);
        if (form < record_form_now.version) { /* the copy is a project of the old form */
            assert_int_equal(job_open(&job, copy, &reading, &err), ERR_REFUSED);
            error_clear(&err);
        }
        arena_free(a);
    }
}

/* A new form without a sample of the old one would go unnoticed. */
static void there_is_a_sample_of_each_form(void **state) {
    (void)state;
    DIR *d = opendir(check_source_path("tests/unit/record/forms"));
    assert_non_null(d);
    int n = 0;
    for (struct dirent *e; (e = readdir(d));)
        n += strstr(e->d_name, ".bin") != NULL;
    closedir(d);
    assert_int_equal(n, record_form_now.version);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_form_is_brought_up_to_date, begin, end),
        cmocka_unit_test(there_is_a_sample_of_each_form)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
