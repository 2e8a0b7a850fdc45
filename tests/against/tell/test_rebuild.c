/* The deposit makes the project again on an empty machine: no difference in what people entered,
 * but for what is private, which the README names (issue 6; story 7). Outside the project: the
 * finds list is the invented tray's; the comparison is of canonical JSON bodies. */
#include "base/file.h"
#include "job/bring.h"
#include "job/kinds.h"
#include "record/folder.h"
#include "tell/assemble.h"

#include "check.h"

#include <unistd.h>

struct bodies {
    json_t *all; /* "kind/id": body */
};

static int take(const struct record_entry *e, void *context, struct error *err) {
    (void)err;
    struct bodies *b = context;
    char key[300];
    /* what the record says of itself (its title, its kept files) is not entered by people */
    for (size_t i = 0; i < job_kind_count(); i++)
        if (!strcmp(job_kinds[i]->name, e->kind)) {
            snprintf(key, sizeof key, "%s/%s", e->kind, e->id);
            json_object_set_new(b->all, key, json_string(e->body));
        }
    return 0;
}

static json_t *all_of(struct record *record) {
    struct bodies b = {json_object()};
    struct error err = {0};
    check_ok(record_each(record, NULL, 0, take, &b, &err), &err);
    return b.all;
}

/* Names what differs; returns how many. */
static size_t differences(json_t *a, json_t *b, const char *but) {
    size_t n = 0;
    const char *key;
    json_t *value;
    json_object_foreach(a, key, value) {
        json_t *other = json_object_get(b, key);
        if (other && json_equal(value, other)) continue;
        if (but && strstr(key, but)) continue;
        check_note("differs: %s\n#   %s\n#   %s", key, json_string_value(value),
                   other ? json_string_value(other) : "(not there)");
        n++;
    }
    return n;
}

static void bring(struct job *job, const char *name, struct arena *arena) {
    struct error err = {0};
    const char *bytes;
    size_t n;
    char path[200];
    snprintf(path, sizeof path, "demo/tray/%s", name);
    check_ok(file_read(&bytes, &n, check_source_path(path), 0, arena, &err), &err);
    json_t *report;
    struct bring_options o = {.bar_length = NAN};
    check_ok(job_bring(&report, job, name, bytes, n, &o, &err), &err);
    json_decref(report);
}

static void there_and_back(void **unused) {
    (void)unused;
    struct error err = {0};
    struct arena *arena = arena_new();
    char base[64], path[100], out[100], again[100], command[300];
    snprintf(base, sizeof base, "/tmp/relict-rebuild-%d", (int)getpid());
    check_ok(file_folder(base, &err), &err);
    snprintf(path, sizeof path, "%s/a.relict", base);
    snprintf(out, sizeof out, "%s/out", base);
    snprintf(again, sizeof again, "%s/b.relict", base);
    struct job *job;
    const struct job_options who = {
        .who = "tester", .when = "2026-05-01T00:00:00Z", .state_folder = base};
    check_ok(job_new(&job, path, "The tray", 1, 64, &who, &err), &err);
    static const char *const files[] = {"finds.csv",  "outlines.geojson", "mark.csv",
                                        "source.csv", "choice.csv",       "handling.csv"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        bring(job, files[i], arena);
    /* texts that a spreadsheet would spoil, and one private piece */
    json_t *odd = json_pack("{s:s,s:s,s:s,s:s}", "id", "odd", "about", "=1+1", "value",
                            "'quoted', \"twice\"\nline", "reason", "-5 °C; +3");
    check_ok(job_enter(job, "choice", "odd", odd, -1, "test", NULL, &err), &err);
    json_decref(odd);
    json_t *hidden = json_pack("{s:s,s:s,s:b}", "id", "P1", "part", "private lath", "hidden", 1);
    check_ok(job_enter(job, "piece", "P1", hidden, -1, "test", NULL, &err), &err);
    json_decref(hidden);
    json_t *before = all_of(job_record(job)), *written;
    const struct hand_options o = {.paper = PLAN_A4};
    check_ok(tell_write_all(&written, job, out, &o, &err), &err);
    json_decref(written);
    job_close(job);
    snprintf(command, sizeof command,
             "! grep -rq 'private lath' %s && grep -q '1 private' %s/README.txt", out, out);
    assert_int_equal(system(command), 0);
    struct record *record;
    struct record_folder_taken taken;
    const struct record_start start = {
        .title = "again", .who = "archive", .when = "2056-01-01T00:00:00Z", .seed = 1, .draws = 64};
    const struct record_options options = {
        .kinds = job_kinds, .n_kinds = job_kind_count(), .state_folder = base};
    check_ok(record_folder_read(&record, &taken, out, again, &start, &options, &err), &err);
    json_t *after = all_of(record);
    assert_true(json_object_size(before) > 250);
    check_from(CHECK_EXACT, "a deposit read back on an empty machine: canonical bodies compared");
    check_near((double)differences(before, after, "piece/P1"), 0, 0);
    check_near((double)differences(after, before, NULL), 0, 0);
    assert_null(json_object_get(after, "piece/P1"));
    record_close(record, &err);
    json_decref(before);
    json_decref(after);
    snprintf(command, sizeof command, "rm -r %s", base);
    assert_int_equal(system(command), 0);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(there_and_back)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
