/* record/folder: out to open files and back without a difference. */
#include "base/file.h"
#include "base/sha256.h"
#include "check.h"
#include "record/folder.h"
#include "record/import.h"
#include "remains/find.h"

#include <unistd.h>

static char folder[] = "/tmp/relict-folder-XXXXXX";
static char path[100], open_form[100], second[100];
static const struct kind *const kinds[] = {&piece_kind,         &measure_kind, &mark_kind_kind,
                                           &piece_outline_kind, &source_kind,  &handling_kind};
static const struct record_options options = {.kinds = kinds, .n_kinds = 6};
static const struct record_start start = {
    .title = "T", .who = "recorder", .when = "2026-05-01T10:00:00Z"};
static struct record *r;
static struct arena *a;

static int begin(void **context) {
    (void)context;
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    if (!mkdtemp(folder)) return -1;
    snprintf(path, sizeof path, "%s/p.relict", folder);
    snprintf(second, sizeof second, "%s/q.relict", folder);
    snprintf(open_form, sizeof open_form, "%s/open", folder);
    a = arena_new();
    return record_new(&r, path, &start, &options, NULL);
}

static int end(void **context) {
    (void)context;
    record_close(r, NULL);
    arena_free(a);
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static void put(const char *kind, const char *id, const char *json) {
    struct error err = {0};
    json_t *j = json_loads(json, 0, NULL);
    assert_non_null(j);
    check_ok(record_change_begin(r, "=curator", start.when, "it's \"so\",\nreally", &err), &err);
    check_ok(record_put(r, kind, id, j, NULL, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    json_decref(j);
}

/* A project with everything in it that can be. */
static void fill(void) {
    struct error err = {0};
    struct import_report out;
    const char *bytes;
    size_t n;
    check_ok(file_read(&bytes, &n, check_source_path("demo/tray/finds.csv"), 0, a, &err), &err);
    struct import_list list = {
        .name = "finds.csv", .bytes = bytes, .n = n, .who = "recorder", .when = start.when};
    check_ok(import_finds(&out, r, &list, a, &err), &err);
    put("piece", "A01", "{\"part\": \"'=1+1\", \"note\": \"a, \\\"b\\\"\\r\\n c; \xC3\xA9\"}");
    put("piece", "A02",
        "{\"part\": \"=cmd()\", \"joins\": [\"A01\", \"x,y\"], \"belongs\": 0.125}");
    put("piece", "A03", "{\"part\": \"'\", \"note\": \"-5\", \"ring_angle\": 33.3}");
    put("outline", "A01.outline",
        "{\"piece\": \"A01\", \"points\": [[0,0],[10.25,0],[10,5]], \"surviving\": [1,0,0]}");
    check_ok(record_change_begin(r, "curator", start.when, "", &err), &err);
    check_ok(record_withdraw(r, "measure", "A40.length", &err), &err);
    long change;
    check_ok(record_change_commit(r, &change, &err), &err);
    check_ok(record_undo(r, change, "curator", start.when, "", NULL, &err), &err);
    char uuid[RECORD_UUID];
    json_t *j = json_pack("{s:f}", "shrinkage", 0.06);
    check_ok(record_seal_add(uuid, r, "prediction", "T1", j, "maker", start.when, &err), &err);
    json_decref(j);
    struct record_blotted blotted;
    check_ok(record_blot(&blotted, r, "piece", "A04", "note", "curator", start.when, "owner asked",
                         a, &err),
             &err);
    check_ok(record_result_put(r, "sizes", "k1", start.when, "{\"a\":1.25}", &err), &err);
}

static void it_comes_back_without_a_difference(void **context) {
    (void)context;
    struct error err = {0};
    struct record_folder_made made;
    struct record_folder_taken taken;
    struct record *q;
    char before[65], after[65];
    fill();
    check_ok(record_folder_write(&made, r, open_form, false, start.when, &err), &err);
    assert_true(made.files > 8);
    check_ok(record_folder_read(&q, &taken, open_form, second, &start, &options, &err), &err);
    assert_int_equal(taken.changed, 0);
    check_ok(record_digest(before, r, &err), &err);
    check_ok(record_digest(after, q, &err), &err);
    assert_string_equal(before, after);
    assert_string_equal(record_uuid(q), record_uuid(r));
    struct record_checked c;
    check_ok(record_verify(&c, q, NULL, NULL, &err), &err);
    assert_int_equal(c.faults, 0);
    assert_int_equal(c.seals, 1);
    assert_true(c.blots > 0);
    /* the tables alone say the same as the history: reading them again changes nothing */
    check_ok(record_folder_take(&taken, q, open_form, "curator", start.when, "", &err), &err);
    assert_true(taken.things > 200);
    assert_int_equal(taken.changed, 0);
    record_close(q, NULL);
    /* written again in the same place, only when asked and only the same project */
    assert_int_equal(record_folder_write(&made, r, open_form, false, start.when, &err), ERR_FILE);
    check_ok(record_folder_write(&made, r, open_form, true, start.when, &err), &err);
    assert_int_equal(record_folder_write(&made, r, folder, true, start.when, &err), ERR_FILE);
}

static void alter(const char *name, const char *from, const char *to) {
    struct error err = {0};
    const char *bytes;
    size_t n;
    char *file = arena_printf(a, "%s/%s", open_form, name);
    check_ok(file_read(&bytes, &n, file, 0, a, &err), &err);
    char *at = memmem((void *)bytes, n, from, strlen(from));
    if (!at) fail_msg("no %s in %s", from, name);
    memcpy(at, to, strlen(to));
    check_ok(file_write(file, bytes, n, true, &err), &err);
}

static void edited_tables_are_a_new_change(void **context) {
    (void)context;
    struct error err = {0};
    struct record_folder_made made;
    struct record_folder_taken taken;
    struct record *q;
    fill();
    check_ok(record_folder_write(&made, r, open_form, false, start.when, &err), &err);
    alter("tables/measure.csv", "139.5", "139.0");
    check_ok(record_folder_read(&q, &taken, open_form, second, &start, &options, &err), &err);
    assert_int_equal(taken.changed, 1);
    assert_true(taken.change > 0);
    struct record_entry e;
    check_ok(record_get(&e, q, "measure", "A01.length", a, &err), &err);
    assert_non_null(strstr(e.body, "\"value\":139.0"));
    record_close(q, NULL);
    unlink(second);
    /* a table that cannot be read: where, and nothing is left behind */
    alter("tables/measure.csv", "139.0", "139,0");
    assert_int_equal(record_folder_read(&q, &taken, open_form, second, &start, &options, &err),
                     ERR_INPUT);
    assert_true(err.row > 1);
    assert_false(file_exists(second));
}

static void altered_history_is_refused(void **context) {
    (void)context;
    struct error err = {0};
    struct record_folder_made made;
    struct record_folder_taken taken;
    struct record *q;
    fill();
    check_ok(record_folder_write(&made, r, open_form, false, start.when, &err), &err);
    alter("history/entries.csv", "139.5", "139.6");
    assert_int_equal(record_folder_read(&q, &taken, open_form, second, &start, &options, &err),
                     ERR_DAMAGED);
    assert_null(q);
    assert_false(file_exists(second));
    /* even if somebody corrects the hash in relict.json, the row's own hash speaks */
    const char *bytes;
    size_t n;
    char hex[65], *file = arena_printf(a, "%s/history/entries.csv", open_form);
    check_ok(file_read(&bytes, &n, file, 0, a, &err), &err);
    json_t *m = json_load_file(arena_printf(a, "%s/relict.json", open_form), 0, NULL), *one;
    size_t i;
    sha256_text(bytes, n, hex);
    json_array_foreach(json_object_get(m, "files"), i,
                       one) if (strcmp(json_string_value(json_object_get(one, "path")),
                                       "history/entries.csv") == 0)
        json_object_set_new(one, "sha256", json_string(hex));
    json_dump_file(m, arena_printf(a, "%s/relict.json", open_form), 0);
    json_decref(m);
    assert_int_equal(record_folder_read(&q, &taken, open_form, second, &start, &options, &err),
                     ERR_DAMAGED);
    assert_non_null(strstr(err.message, "hashes"));
    assert_int_equal(record_folder_read(&q, &taken, "/no/such", second, &start, &options, &err),
                     ERR_MISSING);
}

static void a_folder_by_hand_is_enough(void **context) {
    (void)context;
    struct error err = {0};
    struct record_folder_taken taken;
    struct record *q;
    check_ok(file_folder(arena_printf(a, "%s/files", open_form), &err), &err);
    static const char pieces[] =
        "id,part,substance,ring_angle_degrees\r\nA1,lath,split wood,45\r\n";
    static const char sources[] = "id,kind,title\r\nS1,photo,The tray in its box\r\n";
    check_ok(file_write(arena_printf(a, "%s/piece.csv", open_form), pieces, sizeof pieces - 1,
                        false, &err),
             &err);
    check_ok(file_write(arena_printf(a, "%s/source.csv", open_form), sources, sizeof sources - 1,
                        false, &err),
             &err);
    check_ok(
        file_write(arena_printf(a, "%s/files/box.jpg", open_form), "\xFF\xD8\xFF", 3, false, &err),
        &err);
    check_ok(record_folder_read(&q, &taken, open_form, second, &start, &options, &err), &err);
    assert_int_equal(taken.things, 2);
    struct records list;
    check_ok(record_load(&list, NULL, q, &piece_kind, 0, a, &err), &err);
    check_near(((struct piece *)list.v)->ring_angle, M_PI / 4, 1e-12);
    record_close(q, NULL);
}

int main(void) {
#define CASE(f) cmocka_unit_test_setup_teardown(f, begin, end)
    const struct CMUnitTest tests[] = {
        CASE(it_comes_back_without_a_difference),
        CASE(edited_tables_are_a_new_change),
        CASE(altered_history_is_refused),
        CASE(a_folder_by_hand_is_enough),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
