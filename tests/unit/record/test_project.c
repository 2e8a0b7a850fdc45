/* record/project: revisions, changes, undo, files, seals, verifying. */
#include "base/file.h"
#include "base/mem.h"
#include "check.h"
#include "record/record_kinds.h"
#include "record/record_private.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

/* A kind with every sort of field. */
struct thing {
    double width;
    long count;
    int whole;
    const char *note, *date;
    long state;
    struct reals reals;
    struct tuples points;
    struct texts words;
    struct records parts;
    struct part {
        double angle;
        const char *name;
    } one;
    json_t *free_form;
};
static const char *const states[] = {"wet in lab", "after treatment", NULL};
static const struct field part_fields[] = {
    {.name = "angle",
     .label = "Angle",
     .unit = "degrees",
     .scale = 3.14159265358979323846 / 180,
     .type = FIELD_REAL,
     .offset = offsetof(struct part, angle)},
    {.name = "name", .label = "Name", .type = FIELD_TEXT, .offset = offsetof(struct part, name)},
};
static const struct kind part_kind = {"part", "A part", sizeof(struct part), FIELDS(part_fields),
                                      ""};
#define FIELD(member, t)                                                                           \
    .name = #member, .label = #member, .type = t, .offset = offsetof(struct thing, member)
static const struct field thing_fields[] = {
    {FIELD(width, FIELD_REAL), .unit = "mm", .min = 0, .max = 1e4, .above_min = true,
     .required = true},
    {FIELD(count, FIELD_INT)},
    {FIELD(whole, FIELD_FLAG)},
    {FIELD(note, FIELD_TEXT)},
    {FIELD(date, FIELD_DATE)},
    {FIELD(state, FIELD_CHOICE), .choices = states},
    {FIELD(reals, FIELD_REALS)},
    {FIELD(points, FIELD_TUPLES), .width = 2},
    {FIELD(words, FIELD_TEXTS)},
    {FIELD(parts, FIELD_RECORDS), .sub = &part_kind},
    {FIELD(one, FIELD_RECORD), .sub = &part_kind},
    {FIELD(free_form, FIELD_JSON)},
};
static const struct kind thing_kind = {"thing", "A thing", sizeof(struct thing),
                                       FIELDS(thing_fields), ""};
static const struct kind *const kinds[] = {&thing_kind};

static char folder[] = "/tmp/relict-project-XXXXXX";
static char path[100], state[100];
static struct record_options options;
static const char when[] = "2026-05-01T10:00:00Z";

static int begin(void **context) {
    (void)context;
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/p.relict", folder);
    snprintf(state, sizeof state, "%s/state", folder);
    options = (struct record_options){.kinds = kinds, .n_kinds = 1, .state_folder = state};
    return 0;
}

static int end(void **context) {
    (void)context;
    char command[200];
    snprintf(command, sizeof command, "chmod -R u+w %s; rm -rf %s", folder, folder);
    return system(command);
}

static struct record *make(void) {
    struct record *r;
    struct error err = {0};
    struct record_start start = {.title = "T", .who = "curator", .when = when, .seed = 7};
    check_ok(record_new(&r, path, &start, &options, &err), &err);
    return r;
}

static struct record *reopen(struct record *r) {
    struct error err = {0};
    check_ok(record_close(r, &err), &err);
    check_ok(record_open(&r, path, &options, &err), &err);
    return r;
}

static long put(struct record *r, const char *id, const char *json) {
    struct error err = {0};
    long change, revision;
    json_t *j = json_loads(json, 0, NULL);
    assert_non_null(j);
    check_ok(record_change_begin(r, "curator", when, "test", &err), &err);
    check_ok(record_put(r, "thing", id, j, &revision, &err), &err);
    check_ok(record_change_commit(r, &change, &err), &err);
    json_decref(j);
    return change;
}

static void expect_body(struct record *r, const char *id, const char *body) {
    struct arena *a = arena_new();
    struct record_entry e;
    struct error err = {0};
    check_ok(record_get(&e, r, "thing", id, a, &err), &err);
    assert_string_equal(e.body, body);
    arena_free(a);
}

static size_t faults(struct record *r) {
    struct record_checked c;
    struct error err = {0};
    check_ok(record_verify(&c, r, NULL, NULL, &err), &err);
    return c.faults;
}

static int count_entry(const struct record_entry *e, void *context, struct error *err) {
    (void)e, (void)err;
    ++*(size_t *)context;
    return 0;
}

/* ---- canonical bodies ----------------------------------------------------------------------- */

static void canonical_text_is_what_jansson_writes(void **context) {
    (void)context;
    static const char *const texts[] = {
        "{\"width\": 412.35, \"note\": \"a \\\"b\\\" \\\\ \\u0007 \\n \xC3\xA9\", \"count\": -3}",
        "{\"width\": 1e-7, \"reals\": [1e22, 0.1, 123456789.125, -0.0, 3, 1e300, 2.5e-300, 0.001]}",
        "{\"width\": 1, \"whole\": true, \"state\": \"wet in lab\", \"date\": \"2026-05\","
        " \"points\": [[1,2],[3.25,-4]], \"words\": [\"x\", \"y\"], \"one\": {\"angle\": 35},"
        " \"parts\": [{\"name\": \"p\", \"angle\": 12.5}, {}],"
        " \"free_form\": {\"z\": 1, \"a\": [null, true, 2.5]}}",
    };
    struct canon_kind *canon = canon_kind_new(&thing_kind);
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct arena *a = arena_new();
        struct error err = {0};
        struct thing t;
        json_t *j = json_loads(texts[i], 0, NULL);
        assert_non_null(j);
        check_ok(field_decode(&thing_kind, j, &t, a, &err), &err);
        struct canon_text text = {0};
        check_ok(canon_write(&text, canon, &t, &err), &err);
        json_t *e = field_encode(&thing_kind, &t);
        if (json_object_size(json_object_get(e, "one")) == 0) json_object_del(e, "one");
        char *want = json_dumps(e, JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15));
        assert_string_equal(text.v, want);
        free(want);
        json_decref(e);
        json_decref(j);
        canon_text_free(&text);
        arena_free(a);
    }
    canon_kind_free(canon);
}

static void canonical_numbers_read_back_the_same(void **context) {
    (void)context;
    struct canon_kind *canon = canon_kind_new(&thing_kind);
    unsigned long x = 88172645463325252ul;
    for (int i = 0; i < 20000; i++) {
        x ^= x << 13, x ^= x >> 7, x ^= x << 17; /* Marsaglia 2003, xorshift */
        struct thing t;
        field_unknown(&thing_kind, &t);
        t.width = i % 2 ? (double)(x % 100000000) / 1000 : (double)x / 1e12;
        struct canon_text text = {0};
        canon_write(&text, canon, &t, NULL);
        char want[40];
        snprintf(want, sizeof want, "%.15g", t.width);
        check_near(strtod(text.v + strlen("{\"width\":"), NULL), strtod(want, NULL), 0);
        canon_text_free(&text);
    }
    canon_kind_free(canon);
}

/* ---- the file ------------------------------------------------------------------------------- */

static void a_project_keeps_what_is_put(void **context) {
    (void)context;
    struct record *r = make();
    put(r, "A1", "{\"width\": 20.5, \"note\": \"\", \"state\": \"wet in lab\"}");
    r = reopen(r);
    assert_false(record_is_foreign(r));
    expect_body(r, "A1", "{\"state\":\"wet in lab\",\"width\":20.5}");
    struct arena *a = arena_new();
    struct error err = {0};
    struct record_meta meta;
    check_ok(record_meta(&meta, r, a, &err), &err);
    assert_string_equal(meta.title, "T");
    assert_int_equal(meta.seed, 7);
    assert_int_equal(meta.draws, 4096);
    /* Refused: the limits of the kind, an unknown field, an unknown kind, a bad id, no change. */
    static const struct {
        const char *kind, *id, *json;
        int code;
    } bad[] = {{"thing", "A", "{\"width\": -1}", ERR_RANGE},
               {"thing", "A", "{\"widht\": 1}", ERR_INPUT},
               {"thing", "A", "{}", ERR_MISSING},
               {"thnig", "A", "{\"width\": 1}", ERR_INPUT},
               {"thing", "", "{\"width\": 1}", ERR_INPUT},
               {"thing", "a\nb", "{\"width\": 1}", ERR_INPUT}};
    check_ok(record_change_begin(r, "curator", when, NULL, &err), &err);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        error_clear(&err);
        json_t *j = json_loads(bad[i].json, 0, NULL);
        assert_int_equal(record_put(r, bad[i].kind, bad[i].id, j, NULL, &err), bad[i].code);
        assert_true(*err.remedy != 0 || bad[i].code == ERR_MISSING || bad[i].code == ERR_RANGE);
        json_decref(j);
    }
    long change;
    check_ok(record_change_commit(r, &change, &err), &err);
    assert_int_equal(change, 0); /* nothing was put: no trace */
    json_t *j = json_pack("{s:i}", "width", 1);
    assert_int_equal(record_put(r, "thing", "A", j, NULL, &err), ERR_REFUSED);
    json_decref(j);
    assert_int_equal(faults(r), 0);
    arena_free(a);
    record_close(r, NULL);
}

static void history_and_snapshots(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    put(r, "A2", "{\"width\": 2}");
    put(r, "A1", "{\"width\": 1}");
    long then = record_revision(r);
    put(r, "A2", "{\"width\": 22}");
    put(r, "A2", "{\"width\": 22}"); /* the same: no revision */
    check_ok(record_change_begin(r, "curator", when, "not ours", &err), &err);
    check_ok(record_withdraw(r, "thing", "A1", &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    size_t n = 0;
    check_ok(record_history(r, "thing", "A2", count_entry, &n, &err), &err);
    assert_int_equal(n, 2);
    struct arena *a = arena_new();
    struct records list;
    struct texts ids;
    check_ok(record_load(&list, &ids, r, &thing_kind, then, a, &err), &err);
    assert_int_equal(list.n, 2);
    assert_string_equal(ids.v[0], "A2"); /* in the order in which they were put */
    check_near(((struct thing *)list.v)[0].width, 2, 0);
    check_ok(record_load(&list, &ids, r, &thing_kind, 0, a, &err), &err);
    assert_int_equal(list.n, 1);
    check_near(((struct thing *)list.v)[0].width, 22, 0);
    struct record_entry e;
    assert_int_equal(record_get(&e, r, "thing", "A1", a, &err), ERR_MISSING);
    assert_non_null(strstr(err.message, "withdrawn"));
    arena_free(a);
    record_close(r, NULL);
}

static void undo_is_a_new_revision(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    put(r, "A1", "{\"width\": 1}");
    long second = put(r, "A1", "{\"width\": 2}");
    long undone;
    check_ok(record_undo(r, second, "curator", when, "typing error", &undone, &err), &err);
    expect_body(r, "A1", "{\"width\":1.0}");
    /* undo of the undo */
    check_ok(record_undo(r, undone, "curator", when, "was right", NULL, &err), &err);
    expect_body(r, "A1", "{\"width\":2.0}");
    /* touched since: refused with both values, nothing done */
    long third = put(r, "A1", "{\"width\": 3}");
    long revision = record_revision(r);
    put(r, "A1", "{\"width\": 4}");
    assert_int_equal(record_undo(r, third, "curator", when, "", NULL, &err), ERR_CONFLICT);
    assert_non_null(strstr(err.message, "3.0"));
    assert_non_null(strstr(err.message, "4.0"));
    assert_int_equal(record_revision(r), revision + 1);
    assert_int_equal(record_undo(r, 999, "curator", when, "", NULL, &err), ERR_MISSING);
    /* a change that made a thing is undone by withdrawing it; several steps count as one */
    long change;
    json_t *one = json_pack("{s:i}", "width", 5), *two = json_pack("{s:i}", "width", 6);
    check_ok(record_change_begin(r, "curator", when, "", &err), &err);
    check_ok(record_put(r, "thing", "B1", one, NULL, &err), &err);
    check_ok(record_put(r, "thing", "B1", two, NULL, &err), &err);
    check_ok(record_put(r, "thing", "A1", two, NULL, &err), &err);
    check_ok(record_change_commit(r, &change, &err), &err);
    check_ok(record_undo(r, change, "curator", when, "", NULL, &err), &err);
    expect_body(r, "A1", "{\"width\":4.0}");
    struct arena *a = arena_new();
    struct record_entry e;
    assert_int_equal(record_get(&e, r, "thing", "B1", a, &err), ERR_MISSING);
    arena_free(a);
    json_decref(one);
    json_decref(two);
    assert_int_equal(faults(r), 0);
    record_close(r, NULL);
}

static void two_people_are_told_of_each_other(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    put(r, "A1", "{\"width\": 1}");
    long seen = record_revision(r);
    put(r, "A1", "{\"width\": 2}");
    json_t *j = json_pack("{s:i}", "width", 3);
    check_ok(record_change_begin(r, "maker", when, "", &err), &err);
    assert_int_equal(record_put_expected(r, "thing", "A1", j, seen, NULL, &err), ERR_CONFLICT);
    assert_non_null(strstr(err.message, "2.0"));
    assert_non_null(strstr(err.message, "3"));
    check_ok(record_put_expected(r, "thing", "A1", j, seen + 1, NULL, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    json_decref(j);
    record_close(r, NULL);
}

static void files_are_kept_byte_for_byte(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    struct arena *a = arena_new();
    char bytes[1000];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (char)(i * 7);
    const char *id, *again, *other, *got;
    size_t n;
    check_ok(record_change_begin(r, "curator", when, "", &err), &err);
    check_ok(record_file_add(&id, r, "x/scan.bin", "scan", bytes, sizeof bytes, a, &err), &err);
    check_ok(record_file_add(&again, r, "scan.bin", "scan", bytes, sizeof bytes, a, &err), &err);
    check_ok(record_file_add(&other, r, "b.bin", "scan", bytes, sizeof bytes, a, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    assert_string_equal(id, again);
    assert_string_not_equal(id, other);
    check_ok(record_file_get(&got, &n, r, other, a, &err), &err);
    assert_int_equal(n, sizeof bytes);
    assert_memory_equal(got, bytes, n);
    assert_string_equal(record_media("\xFF\xD8\xFF\xE0", 4), "image/jpeg");
    assert_string_equal(record_media("a,b\n", 4), "text/csv");
    assert_string_equal(record_media("ply\nformat", 10), "model/ply");
    arena_free(a);
    record_close(r, NULL);
}

/* ---- verifying ------------------------------------------------------------------------------ */

/* Runs SQL on the file behind the program's back, in another connection. */
static void meddle(const char *sql) {
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_changes(db) > 0, 1);
    sqlite3_close(db);
}

static void verify_finds_what_was_changed(void **context) {
    (void)context;
    static const char *const sql[] = {
        "UPDATE entry SET body = replace(body, '20.5', '20.6') WHERE name = 'A1'",
        "UPDATE entry SET name = 'A9' WHERE name = 'A1'",
        "UPDATE entry SET gone = 1 WHERE name = 'A2'",
        "UPDATE change SET who = 'nobody' WHERE id = 2",
        "UPDATE change SET made = '2020-01-01' WHERE id = 3",
        "DELETE FROM entry WHERE name = 'A2'",
        "PRAGMA foreign_keys = OFF; DELETE FROM entry WHERE change = 2; DELETE FROM change WHERE "
        "id = 2",
        "UPDATE kept SET bytes = CAST('x' || substr(bytes, 2) AS BLOB)",
        "DELETE FROM kept",
        "UPDATE seal SET body = replace(body, '6', '7')",
        "UPDATE seal SET made = 'x'",
        "UPDATE result SET body = '{}'",
        /* the newest change cut off, whole, with the seal and the file that would have told */
        "DELETE FROM entry WHERE change = (SELECT max(id) FROM change); DELETE FROM kept; DELETE "
        "FROM seal; DELETE FROM change WHERE id = (SELECT max(id) FROM change)",
        "DELETE FROM meta WHERE name = 'last'",
        "INSERT INTO entry SELECT id + 1, change, kind, 'Z', NULL, gone, body, sha256 FROM entry "
        "ORDER BY id DESC LIMIT 1",
    };
    for (size_t i = 0; i < sizeof sql / sizeof sql[0]; i++) {
        begin(NULL);
        struct record *r = make();
        struct error err = {0};
        struct arena *a = arena_new();
        put(r, "A1", "{\"width\": 20.5}");
        put(r, "A2", "{\"width\": 21}");
        const char *id;
        char uuid[RECORD_UUID];
        check_ok(record_change_begin(r, "curator", when, "", &err), &err);
        check_ok(record_file_add(&id, r, "f", "photo", "bytes", 5, a, &err), &err);
        check_ok(record_change_commit(r, NULL, &err), &err);
        json_t *j = json_pack("{s:f}", "shrinkage", 6.0);
        check_ok(record_seal_add(uuid, r, "prediction", "T1", j, "maker", when, &err), &err);
        json_decref(j);
        check_ok(record_result_put(r, "sizes", "k", when, "{\"a\":1}", &err), &err);
        assert_int_equal(faults(r), 0);
        record_close(r, NULL);
        meddle(sql[i]);
        check_ok(record_open(&r, path, &options, &err), &err);
        assert_true(record_is_foreign(r)); /* somebody else closed it last */
        if (faults(r) == 0) fail_msg("not noticed: %s", sql[i]);
        record_close(r, NULL);
        arena_free(a);
        end(NULL);
    }
    begin(NULL);
}

static void one_changed_byte_in_the_file_is_found(void **context) {
    (void)context;
    struct record *r = make();
    put(r, "A1", "{\"width\": 412, \"note\": \"unmistakable\"}");
    record_close(r, NULL);
    struct arena *a = arena_new();
    struct error err = {0};
    const char *bytes;
    size_t n;
    check_ok(file_read(&bytes, &n, path, 0, a, &err), &err);
    char *copy = arena_copy(a, bytes, n), *at = memmem(copy, n, "unmistakable", 12);
    assert_non_null(at);
    at[0] = 'U';
    check_ok(file_write(path, copy, n, true, &err), &err);
    check_ok(record_open(&r, path, &options, &err), &err);
    assert_true(faults(r) > 0);
    record_close(r, NULL);
    arena_free(a);
}

static void blotting_out_leaves_no_copy(void **context) {
    (void)context;
    static const char secret[] = "Orchard behind the chapel";
    struct record *r = make();
    struct error err = {0};
    struct arena *a = arena_new();
    put(r, "A1", "{\"width\": 1, \"note\": \"Orchard behind the chapel\"}");
    put(r, "A1", "{\"width\": 1, \"note\": \"moved\"}");
    put(r, "A2", "{\"width\": 2, \"words\": [\"near Orchard behind the chapel, east\"]}");
    const char *id;
    check_ok(record_change_begin(r, "curator", when, "from the Orchard behind the chapel", &err),
             &err);
    static const char table[] = "id,place\nA1,Orchard behind the chapel\n";
    check_ok(record_file_add(&id, r, "finds.csv", "list", table, sizeof table - 1, a, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    put(r, "A3", "{\"width\": 3}");
    char uuid[RECORD_UUID];
    json_t *j = json_pack("{s:s}", "place", secret);
    check_ok(record_seal_add(uuid, r, "report", "R1", j, "curator", when, &err), &err);
    json_decref(j);
    check_ok(record_result_put(r, "s", "k", when, "{\"a\":\"Orchard behind the chapel\"}", &err),
             &err);
    struct record_blotted out;
    assert_int_equal(record_blot(&out, r, "thing", "A1", "note", "curator", when, "", a, &err),
                     ERR_MISSING);
    check_ok(record_blot(&out, r, "thing", "A1", "note", "curator", when, "owner asked", a, &err),
             &err);
    assert_true(out.entries >= 3);
    assert_int_equal(out.files, 1);
    assert_int_equal(out.seals, 1);
    assert_int_equal(faults(r), 0);
    expect_body(r, "A2", "{\"width\":2.0,\"words\":[\"near blotted out, east\"]}");
    r = reopen(r);
    record_close(r, NULL);
    const char *bytes;
    size_t n;
    check_ok(file_read(&bytes, &n, path, 0, a, &err), &err);
    assert_null(memmem(bytes, n, secret, strlen(secret)));
    /* altering what was blotted out is found as well */
    meddle("UPDATE entry SET body = replace(body, 'blotted', 'spotted') WHERE name = 'A2'");
    check_ok(record_open(&r, path, &options, &err), &err);
    assert_true(faults(r) > 0);
    record_close(r, NULL);
    arena_free(a);
}

static void a_private_file_is_blotted_whole(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    struct arena *a = arena_new();
    const char *id, *bytes;
    size_t n;
    check_ok(record_change_begin(r, "curator", when, "", &err), &err);
    check_ok(record_file_add(&id, r, "face.jpg", "photo", "\xFF\xD8\xFFsecret", 9, a, &err), &err);
    check_ok(record_change_commit(r, NULL, &err), &err);
    struct record_blotted out;
    check_ok(record_blot(&out, r, "file", id, NULL, "curator", when, "consent", a, &err), &err);
    check_ok(record_file_get(&bytes, &n, r, id, a, &err), &err);
    assert_non_null(strstr(bytes, "blotted out"));
    assert_int_equal(faults(r), 0);
    record_close(r, NULL);
    arena_free(a);
}

/* ---- bad files ------------------------------------------------------------------------------ */

static void expect_refused(int code, const char *word) {
    struct record *r;
    struct error err = {0};
    assert_int_equal(record_open(&r, path, &options, &err), code);
    assert_null(r);
    if (!strstr(err.message, word)) fail_msg("\"%s\" not in \"%s\"", word, err.message);
    assert_true(*err.remedy != 0);
}

static void wrong_files_are_refused_in_words(void **context) {
    (void)context;
    struct error err = {0};
    expect_refused(ERR_MISSING, "No such file");
    file_write(path, "", 0, true, &err);
    expect_refused(ERR_INPUT, "empty");
    file_write(path, "id,part\n1,2\n", 12, true, &err);
    expect_refused(ERR_INPUT, "text/csv");
    unlink(path);
    sqlite3 *db;
    sqlite3_open(path, &db);
    sqlite3_exec(db, "CREATE TABLE t(a)", NULL, NULL, NULL);
    sqlite3_close(db);
    expect_refused(ERR_INPUT, "not a project");
    unlink(path);
    record_close(make(), NULL);
    meddle("CREATE TABLE extra(a); INSERT INTO extra VALUES (1)");
    expect_refused(ERR_DAMAGED, "not those that relict makes");
    meddle("INSERT INTO extra VALUES (1); DROP TABLE extra");
    meddle("INSERT INTO result(stage, key, made, body, sha256) VALUES ('a', 'b', '', '', "
           "printf('%064d', 0)); PRAGMA user_version = 99");
    expect_refused(ERR_REFUSED, "newer program");
    struct record *r;
    options.read_only = true;
    check_ok(record_open(&r, path, &options, &err), &err);
    assert_int_equal(record_change_begin(r, "curator", when, "", &err), ERR_FILE);
    record_close(r, NULL);
}

static void damaged_pages_never_crash(void **context) {
    (void)context;
    struct record *r = make();
    for (int i = 0; i < 40; i++) {
        char id[8];
        snprintf(id, sizeof id, "A%d", i);
        put(r, id, "{\"width\": 20.5, \"note\": \"some words to fill the pages with\"}");
    }
    record_close(r, NULL);
    struct arena *a = arena_new();
    struct error err = {0};
    const char *bytes;
    size_t n, opened = 0, refused = 0;
    check_ok(file_read(&bytes, &n, path, 0, a, &err), &err);
    unsigned long x = 42;
    for (int i = 0; i < 150; i++) {
        char *copy = arena_copy(a, bytes, n);
        for (int k = 0; k < 3; k++) {
            x = x * 6364136223846793005ul + 1442695040888963407ul; /* Knuth 2, MMIX */
            copy[(x >> 20) % n] = (char)(x >> 50);
        }
        file_write(path, copy, i % 10 ? n : n / 2, true, &err);
        if (record_open(&r, path, &options, &err)) {
            refused++;
            continue;
        }
        struct record_checked c;
        size_t count = 0;
        record_verify(&c, r, NULL, NULL, &err);
        record_each(r, NULL, 0, count_entry, &count, &err);
        record_close(r, NULL);
        opened++;
    }
    assert_int_equal(opened + refused, 150);
    assert_true(refused > 0);
    arena_free(a);
}

static void a_read_only_folder_is_told(void **context) {
    (void)context;
    struct error err = {0};
    record_close(make(), NULL);
    if (geteuid() == 0) return; /* root may write everywhere */
    chmod(folder, 0500);
    struct record *r;
    if (record_open(&r, path, &options, &err) == 0) {
        assert_int_not_equal(record_change_begin(r, "curator", when, "", &err), 0);
        assert_int_equal(err.code, ERR_FILE);
        record_close(r, NULL);
    }
    chmod(folder, 0700);
}

static void names_are_not_overwritten(void **context) {
    (void)context;
    struct error err = {0};
    struct record *r;
    struct record_start start = {.title = "T", .who = "curator", .when = when};
    record_close(make(), NULL);
    assert_int_equal(record_new(&r, path, &start, &options, &err), ERR_FILE);
    assert_null(r);
    assert_int_equal(file_write(path, "x", 1, false, &err), ERR_FILE);
    snprintf(path, sizeof path, "%s/no/such/p.relict", folder);
    assert_int_not_equal(record_new(&r, path, &start, &options, &err), 0);
    assert_null(r);
}

/* ---- older forms ---------------------------------------------------------------------------- */

static void older_files_are_brought_up_to_date(void **context) {
    (void)context;
    struct error err = {0};
    struct record *r = make();
    put(r, "A1", "{\"width\": 20.5}");
    record_close(r, NULL);
    struct arena *a = arena_new();
    static const char *const steps[] = {
        "SELECT 1;", "CREATE TABLE later(id INTEGER PRIMARY KEY, value TEXT NOT NULL) STRICT;"};
    struct record_form next = {.version = 3, .steps = steps};
    next.schema = arena_printf(
        a, "%s\nCREATE TABLE later(id INTEGER PRIMARY KEY, value TEXT NOT NULL) STRICT;",
        record_form_schema(&record_form_now));
    /* a step that fails leaves the file as it was */
    static const char *const broken[] = {
        "SELECT 1;", "CREATE TABLE later(id INTEGER PRIMARY KEY); SELECT nope;"};
    struct record_form bad = {.version = 3, .steps = broken, .schema = next.schema};
    assert_int_not_equal(record_open_as(&r, path, &options, &bad, &err), 0);
    check_ok(record_open(&r, path, &options, &err), &err);
    record_close(r, NULL);
    error_clear(&err);
    check_ok(record_open_as(&r, path, &options, &next, &err), &err);
    expect_body(r, "A1", "{\"width\":20.5}");
    assert_int_equal(faults(r), 0);
    record_close(r, NULL);
    char backup[140];
    snprintf(backup, sizeof backup, "%s.bak-v2", path);
    assert_true(file_exists(backup));
    assert_int_equal(record_open(&r, path, &options, &err), ERR_REFUSED); /* now it is newer */
    arena_free(a);
}

/* ---- many ----------------------------------------------------------------------------------- */

static void many_rows_open_at_once(void **context) {
    (void)context;
    struct record *r = make();
    struct error err = {0};
    check_ok(record_change_begin(r, "curator", when, "", &err), &err);
    struct thing t;
    field_unknown(&thing_kind, &t);
    for (int i = 0; i < 20000; i++) {
        char id[16];
        snprintf(id, sizeof id, "A%d", i);
        t.width = 1 + i / 7.0;
        check_ok(record_put_struct(r, &thing_kind, id, &t, NULL, &err), &err);
    }
    check_ok(record_change_commit(r, NULL, &err), &err);
    r = reopen(r);
    assert_false(record_is_foreign(r));
    struct arena *a = arena_new();
    struct records list;
    check_ok(record_load(&list, NULL, r, &thing_kind, 0, a, &err), &err);
    assert_int_equal(list.n, 20000);
    assert_int_equal(faults(r), 0);
    arena_free(a);
    record_close(r, NULL);
}

int main(void) {
#define CASE(f) cmocka_unit_test_setup_teardown(f, begin, end)
    const struct CMUnitTest tests[] = {
        CASE(canonical_text_is_what_jansson_writes),
        CASE(canonical_numbers_read_back_the_same),
        CASE(a_project_keeps_what_is_put),
        CASE(history_and_snapshots),
        CASE(undo_is_a_new_revision),
        CASE(two_people_are_told_of_each_other),
        CASE(files_are_kept_byte_for_byte),
        CASE(verify_finds_what_was_changed),
        CASE(one_changed_byte_in_the_file_is_found),
        CASE(blotting_out_leaves_no_copy),
        CASE(a_private_file_is_blotted_whole),
        CASE(wrong_files_are_refused_in_words),
        CASE(damaged_pages_never_crash),
        CASE(a_read_only_folder_is_told),
        CASE(names_are_not_overwritten),
        CASE(older_files_are_brought_up_to_date),
        CASE(many_rows_open_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
