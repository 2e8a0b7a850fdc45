/* base: errors, arena, field descriptors, csv, sha256, parallel_for. */
#include "base/csv.h"
#include "base/field.h"
#include "base/mem.h"
#include "base/parallel.h"
#include "base/sha256.h"
#include "check.h"

static void sha256_matches_fips_180_4(void **state) {
    (void)state;
    char hex[SHA256_TEXT];
    /* FIPS 180-4 examples, NIST Cryptographic Toolkit, SHA256.pdf: "abc" and the empty text. */
    sha256_text("abc", 3, hex);
    assert_string_equal(hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    sha256_text("", 0, hex);
    assert_string_equal(hex, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    /* One million times "a", fed in uneven pieces. */
    static char as[1000000];
    memset(as, 'a', sizeof as);
    struct sha256 s;
    unsigned char h[SHA256_BYTES];
    sha256_begin(&s);
    for (size_t at = 0, step = 1; at < sizeof as; at += step, step = step % 97 + 1) {
        if (step > sizeof as - at) step = sizeof as - at;
        sha256_add(&s, as + at, step);
    }
    sha256_end(&s, h);
    sha256_hex(h, hex);
    assert_string_equal(hex, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

struct sample {
    double width;
    long kind;
    const char *note;
    struct tuples points;
    int flag;
};
static const char *const kinds[] = {"whole", "broken", NULL};
static const struct field sample_fields[] = {
    {.name = "width",
     .label = "Width",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct sample, width),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "A width must be above 0."},
    {.name = "kind",
     .label = "Kind",
     .type = FIELD_CHOICE,
     .choices = kinds,
     .preset = "broken",
     .offset = offsetof(struct sample, kind)},
    {.name = "note", .label = "Note", .type = FIELD_TEXT, .offset = offsetof(struct sample, note)},
    {.name = "points",
     .label = "Points",
     .type = FIELD_TUPLES,
     .width = 2,
     .offset = offsetof(struct sample, points)},
    {.name = "flag", .label = "Flag", .type = FIELD_FLAG, .offset = offsetof(struct sample, flag)},
};
static const struct kind sample_kind = {"sample", "A sample", sizeof(struct sample),
                                        FIELDS(sample_fields), ""};

static int decode(const char *text, struct sample *out, struct arena *a, struct error *err) {
    json_t *j = json_loads(text, 0, NULL);
    assert_non_null(j);
    int rc = field_decode(&sample_kind, j, out, a, err);
    json_decref(j);
    return rc;
}

static void fields_go_in_and_out(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct sample s;
    struct error err = {0};
    check_ok(
        decode("{\"width\": 412.35, \"points\": [[1,2],[3,4.5]], \"note\": \"Q\"}", &s, a, &err),
        &err);
    assert_int_equal(s.kind, 1);
    assert_int_equal(s.flag, -1);
    assert_int_equal(s.points.n, 2);
    json_t *j = field_encode(&sample_kind, &s);
    char *text = json_dumps(j, JSON_COMPACT | JSON_REAL_PRECISION(15));
    assert_string_equal(
        text,
        "{\"width\":412.35,\"kind\":\"broken\",\"note\":\"Q\",\"points\":[[1.0,2.0],[3.0,4.5]]}");
    free(text);
    json_decref(j);
    arena_free(a);
}

static void fields_refuse_and_say_what_to_do(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct sample s;
    static const struct {
        const char *json, *column, *word;
        int code;
    } bad[] = {
        {"{}", "width", "needed", ERR_MISSING},
        {"{\"width\": 0}", "width", "above 0", ERR_RANGE},
        {"{\"width\": -3}", "width", "above 0", ERR_RANGE},
        {"{\"width\": \"3\"}", "width", "a number", ERR_INPUT},
        {"{\"widht\": 3}", "widht", "not a field", ERR_INPUT},
        {"{\"width\": 3, \"kind\": \"brokn\"}", "kind", "not a word", ERR_INPUT},
        {"{\"width\": 3, \"points\": [[1,2],[3]]}", "points", "row 2", ERR_INPUT},
        {"[]", "", "object", ERR_INPUT},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error err = {0};
        assert_int_equal(decode(bad[i].json, &s, a, &err), bad[i].code);
        assert_string_equal(err.column, bad[i].column);
        assert_non_null(strstr(err.message, bad[i].word));
        assert_true(*err.remedy != 0);
    }
    arena_free(a);
}

static void dates_are_checked(void **state) {
    (void)state;
    struct {
        const char *d;
    } r;
    static const struct field f = {.name = "d", .label = "D", .type = FIELD_DATE};
    struct arena *a = arena_new();
    static const char *const good[] = {"2026", "2026-05", "2026-05-01", "2024-02-29"},
                             *const bad[] = {"26-5-1", "2026-13-01", "2025-02-29", "2026-04-31x",
                                             "yesterday"};
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(field_decode_text(&f, good[i], &r, a, NULL), 0);
    for (size_t i = 0; i < 5; i++)
        assert_int_not_equal(field_decode_text(&f, bad[i], &r, a, NULL), 0);
    arena_free(a);
}

static void csv_reads_rfc_4180(void **state) {
    (void)state;
    struct arena *a = arena_new();
    struct csv_table t;
    struct error err = {0};
    const char *text = "\xEF\xBB\xBFid,note\r\nA1,\"one, \"\"two\"\"\r\nthree\"\r\n\r\nA2,\n";
    check_ok(csv_read(&t, text, strlen(text), NULL, a, &err), &err);
    assert_int_equal(t.n, 3);
    assert_string_equal(t.rows[0].cells[0], "id");
    assert_string_equal(t.rows[1].cells[1], "one, \"two\"\r\nthree");
    assert_int_equal(t.rows[2].n, 2);
    assert_int_equal(t.rows[2].line, 5);
    static const char *const bad[] = {"a\rb\n", "a,b\"c\n", "\"a\n", "\"a\"b\n", "a,\xFFz\n"};
    for (size_t i = 0; i < 5; i++) {
        error_clear(&err);
        assert_int_equal(csv_read(&t, bad[i], strlen(bad[i]), NULL, a, &err), ERR_INPUT);
        assert_true(*err.remedy != 0);
    }
    assert_int_equal(csv_read(&t, "a\0b", 3, NULL, a, &err), ERR_INPUT);
    arena_free(a);
}

static void add_up(size_t begin, size_t end, size_t index, void *context) {
    double *sums = context, s = 0;
    for (size_t i = begin; i < end; i++)
        s += 1.0 / (double)(i + 1);
    sums[index] = s;
}

static void parallel_for_gives_the_same_bits(void **state) {
    (void)state;
    enum { N = 100000, CHUNK = 777 };
    double first = 0;
    for (unsigned threads = 1; threads <= 8; threads *= 2) {
        parallel_set_threads(threads);
        double *sums = MEM_NEW(double, parallel_chunks(N, CHUNK)), total = 0;
        parallel_for(N, CHUNK, add_up, sums);
        for (size_t i = 0; i < parallel_chunks(N, CHUNK); i++)
            total += sums[i];
        mem_free(sums);
        if (threads == 1) first = total;
        assert_memory_equal(&first, &total, sizeof total);
    }
    parallel_set_threads(0);
}

static void the_nth_allocation_can_fail(void **state) {
    (void)state;
    mem_fail_nth(2);
    void *p = mem_alloc(1, 8), *q = mem_alloc(1, 8), *r = mem_alloc(1, 8);
    assert_non_null(p);
    assert_null(q);
    assert_non_null(r);
    mem_free(p);
    mem_free(r);
    assert_null(mem_alloc((size_t)-1, 16));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sha256_matches_fips_180_4),
        cmocka_unit_test(fields_go_in_and_out),
        cmocka_unit_test(fields_refuse_and_say_what_to_do),
        cmocka_unit_test(dates_are_checked),
        cmocka_unit_test(csv_reads_rfc_4180),
        cmocka_unit_test(parallel_for_gives_the_same_bits),
        cmocka_unit_test(the_nth_allocation_can_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
