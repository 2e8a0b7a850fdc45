/* record/merge: two copies edited apart. */
#include "base/file.h"
#include "check.h"
#include "record/merge.h"
#include "remains/find.h"

static char folder[] = "/tmp/relict-merge-XXXXXX";
static char paths[2][100];
static const struct kind *const kinds[] = {&piece_kind, &source_kind};
static const struct record_options options = {.kinds = kinds, .n_kinds = 2};
static const char when[] = "2026-05-01";
static struct record *ours, *theirs;
static struct arena *a;

static void put(struct record *r, const char *id, const char *part, const char *who) {
    struct error err = {0};
    json_t *j = json_pack("{s:s}", "part", part);
    check_ok(record_change_begin(r, who, when, part, &err), &err);
    check_ok(record_put(r, "piece", id, j, NULL, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    json_decref(j);
}

static void take_away(struct record *r, const char *id) {
    struct error err = {0};
    check_ok(record_change_begin(r, "maker", when, "not ours", &err), &err);
    check_ok(record_withdraw(r, "piece", id, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
}

static void expect(struct record *r, const char *id, const char *part) {
    struct record_entry e;
    struct error err = {0};
    int rc = record_get(&e, r, "piece", id, a, &err);
    if (!part) {
        assert_int_equal(rc, ERR_MISSING);
        return;
    }
    assert_int_equal(rc, 0);
    json_t *j = json_loads(e.body, 0, NULL);
    assert_string_equal(json_string_value(json_object_get(j, "part")), part);
    json_decref(j);
}

/* Two copies of a project with three pieces. */
static int begin(void **context) {
    (void)context;
    struct error err = {0};
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    if (!mkdtemp(folder)) return -1;
    for (int i = 0; i < 2; i++)
        snprintf(paths[i], sizeof paths[i], "%s/%d.relict", folder, i);
    a = arena_new();
    struct record_start start = {.title = "T", .who = "curator", .when = when};
    if (record_new(&ours, paths[0], &start, &options, &err)) return -1;
    put(ours, "A", "lath", "curator");
    put(ours, "B", "rim", "curator");
    put(ours, "C", "bark", "curator");
    record_close(ours, NULL);
    const char *bytes;
    size_t n;
    if (file_read(&bytes, &n, paths[0], 0, a, &err) ||
        file_write(paths[1], bytes, n, false, &err) ||
        record_open(&ours, paths[0], &options, &err) ||
        record_open(&theirs, paths[1], &options, &err))
        return -1;
    return 0;
}

static int end(void **context) {
    (void)context;
    record_close(ours, NULL);
    record_close(theirs, NULL);
    arena_free(a);
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static size_t faults(struct record *r) {
    struct record_checked c;
    struct error err = {0};
    check_ok(record_verify(&c, r, NULL, NULL, &err), &err);
    return c.faults;
}

static void what_one_side_changed_is_taken(void **context) {
    (void)context;
    struct error err = {0};
    struct record_merged out;
    put(ours, "A", "cross lath", "curator");
    put(theirs, "B", "rim rod", "maker");
    put(theirs, "D", "peg", "maker");
    take_away(theirs, "C");
    check_ok(record_merge(&out, ours, theirs, "curator", when, a, &err), &err);
    assert_int_equal(out.common, 4);
    assert_int_equal(out.taken, 3);
    assert_int_equal(out.clashes.n, 0);
    expect(ours, "A", "cross lath");
    expect(ours, "B", "rim rod");
    expect(ours, "C", NULL);
    expect(ours, "D", "peg");
    assert_int_equal(faults(ours), 0);
    /* again: nothing new; and the other way round brings them level */
    check_ok(record_merge(&out, ours, theirs, "curator", when, a, &err), &err);
    assert_int_equal(out.taken, 0);
    check_ok(record_merge(&out, theirs, ours, "maker", when, a, &err), &err);
    assert_int_equal(out.taken, 1);
    expect(theirs, "A", "cross lath");
    assert_int_equal(faults(theirs), 0);
}

static void clashes_show_both_values_and_wait(void **context) {
    (void)context;
    struct error err = {0};
    struct record_merged out;
    put(ours, "A", "cross lath", "curator");
    put(theirs, "A", "long lath", "maker");
    put(ours, "B", "the same", "curator");
    put(theirs, "B", "the same", "maker");
    put(ours, "C", "bark sheet", "curator");
    take_away(theirs, "C");
    put(theirs, "D", "peg", "maker");
    check_ok(record_merge(&out, ours, theirs, "curator", when, a, &err), &err);
    assert_int_equal(out.clashes.n, 2);
    const struct record_clash *c = out.clashes.v;
    assert_string_equal(c[0].of_id, "A");
    assert_non_null(strstr(c[0].base, "\"lath\""));
    assert_non_null(strstr(c[0].ours, "cross lath"));
    assert_non_null(strstr(c[0].theirs, "long lath"));
    assert_string_equal(c[0].ours_who, "curator");
    assert_string_equal(c[0].theirs_who, "maker");
    assert_string_equal(c[1].of_id, "C");
    assert_null(c[1].theirs);
    expect(ours, "A", "cross lath"); /* goes on standing until somebody chooses */
    expect(ours, "C", "bark sheet");
    expect(ours, "D", "peg");
    assert_int_equal(faults(ours), 0);
    struct records open;
    check_ok(record_load(&open, NULL, ours, &record_clash_kind, 0, a, &err), &err);
    assert_int_equal(open.n, 2);
    assert_int_equal(((struct record_clash *)open.v)[0].open, 1);
    check_ok(record_clash_settle(ours, out.clash_ids.v[0], "theirs", NULL, "curator", when,
                                 "agreed", &err),
             &err);
    expect(ours, "A", "long lath");
    check_ok(
        record_clash_settle(ours, out.clash_ids.v[1], "theirs", NULL, "curator", when, "", &err),
        &err);
    expect(ours, "C", NULL);
    assert_int_equal(
        record_clash_settle(ours, out.clash_ids.v[1], "ours", NULL, "curator", when, "", &err),
        ERR_REFUSED);
    check_ok(record_load(&open, NULL, ours, &record_clash_kind, 0, a, &err), &err);
    assert_int_equal(((struct record_clash *)open.v)[0].open, 0);
    assert_int_equal(faults(ours), 0);
}

static void blottings_and_files_travel(void **context) {
    (void)context;
    struct error err = {0};
    struct record_merged out;
    struct record_blotted blotted;
    const char *id, *bytes;
    size_t n;
    check_ok(record_change_begin(theirs, "maker", when, "", &err), &err);
    check_ok(record_file_add(&id, theirs, "p.bin", "photo", "bytes", 5, a, &err), &err);
    check_ok(record_change_commit(theirs, NULL, &err), &err);
    check_ok(record_blot(&blotted, theirs, "piece", "A", "part", "owner", when, "asked", a, &err),
             &err);
    check_ok(record_merge(&out, ours, theirs, "curator", when, a, &err), &err);
    assert_true(out.blots > 0);
    expect(ours, "A", "blotted out");
    check_ok(record_file_get(&bytes, &n, ours, id, a, &err), &err);
    assert_int_equal(faults(ours), 0);
}

static void strangers_are_refused(void **context) {
    (void)context;
    struct error err = {0};
    struct record_merged out;
    struct record *other;
    char path[120];
    snprintf(path, sizeof path, "%s/other.relict", folder);
    struct record_start start = {.title = "T", .who = "curator", .when = when};
    check_ok(record_new(&other, path, &start, &options, &err), &err);
    assert_int_equal(record_merge(&out, ours, other, "curator", when, a, &err), ERR_REFUSED);
    record_close(other, NULL);
}

int main(void) {
#define CASE(f) cmocka_unit_test_setup_teardown(f, begin, end)
    const struct CMUnitTest tests[] = {
        CASE(what_one_side_changed_is_taken),
        CASE(clashes_show_both_values_and_wait),
        CASE(blottings_and_files_travel),
        CASE(strangers_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
