/* ical: an independent strict reader of RFC 5545 lines checks what the writer wrote. */
#include "gather/ical.h"

#include "check.h"

static struct error err;

/* Unfolds (3.1) into lines; fails on a bare CR or LF, on a line over 75 octets, on a line that ends
 * inside a letter. */
static size_t unfold(const char *text, char line[][2048], size_t most) {
    size_t n = 0;
    for (const char *p = text; *p;) {
        const char *end = strstr(p, "\r\n");
        assert_non_null(end);
        assert_true(end - p <= 75);
        for (const char *q = p; q < end; q++)
            assert_true(*q != '\r' && *q != '\n');
        if (p < end) assert_true(((unsigned char)p[*p == ' '] & 0xC0) != 0x80);
        if (*p == ' ') {
            assert_true(n > 0);
            strncat(line[n - 1], p + 1, (size_t)(end - p - 1));
        } else {
            assert_true(n < most);
            memcpy(line[n], p, (size_t)(end - p));
            line[n++][end - p] = 0;
        }
        p = end + 2;
    }
    return n;
}

static const char *value_of(char line[][2048], size_t n, const char *name) {
    for (size_t i = 0; i < n; i++)
        if (strncmp(line[i], name, strlen(name)) == 0 && line[i][strlen(name)] == ':')
            return line[i] + strlen(name) + 1;
    return NULL;
}

static void events_are_whole_days_folded_and_escaped(void **state) {
    (void)state;
    static char line[64][2048];
    struct arena *a = arena_new();
    struct ical_event e = {
        .uid = "peel-2028@undlebeck.example",
        .summary = "Bark season: lime, willow; elm",
        .text =
            "Zum Schälen: früh am Morgen, geübte Hände – Ränder feucht halten, nicht knicken, äöüß "
            "äöüß äöüß äöüß\nsecond line with a \\ sign",
        .first = "2028-05-01",
        .last = "2028-06-30",
        .category = "season",
        .alarm_days = 56};
    char *text;
    check_ok(gather_ical_write(&text, "Undlebeck", "2027-01-05", &e, 1, a, &err), &err);
    size_t n = unfold(text, line, 64);
    assert_string_equal(line[0], "BEGIN:VCALENDAR");
    assert_string_equal(line[n - 1], "END:VCALENDAR");
    assert_string_equal(value_of(line, n, "VERSION"), "2.0");
    assert_non_null(value_of(line, n, "PRODID"));
    assert_string_equal(value_of(line, n, "DTSTAMP"), "20270105T000000Z");
    assert_string_equal(value_of(line, n, "DTSTART;VALUE=DATE"), "20280501");
    assert_string_equal(value_of(line, n, "DTEND;VALUE=DATE"), "20280701");
    assert_string_equal(value_of(line, n, "SUMMARY"), "Bark season: lime\\, willow\\; elm");
    assert_non_null(
        strstr(value_of(line, n, "DESCRIPTION"), "äöüß\\nsecond line with a \\\\ sign"));
    assert_string_equal(value_of(line, n, "TRIGGER"), "-P56D");
    int depth = 0; /* BEGIN and END pair */
    for (size_t i = 0; i < n; i++) {
        depth += strncmp(line[i], "BEGIN:", 6) == 0;
        depth -= strncmp(line[i], "END:", 4) == 0;
        assert_true(depth >= 0);
    }
    assert_int_equal(depth, 0);
    arena_free(a);
}

static void bad_events_are_refused(void **state) {
    (void)state;
    struct arena *a = arena_new();
    char *text;
    struct ical_event back = {
        .uid = "u", .summary = "s", .first = "2028-05-02", .last = "2028-05-01"};
    assert_int_equal(gather_ical_write(&text, NULL, "2027-01-05", &back, 1, a, &err), ERR_RANGE);
    struct ical_event none = {
        .uid = "", .summary = "s", .first = "2028-05-02", .last = "2028-05-02"};
    assert_int_equal(gather_ical_write(&text, NULL, "2027-01-05", &none, 1, a, &err), ERR_MISSING);
    assert_int_equal(gather_ical_write(&text, NULL, "soon", &none, 0, a, &err), ERR_INPUT);
    check_ok(gather_ical_write(&text, NULL, "2027-01-05", NULL, 0, a, &err), &err);
    arena_free(a);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(events_are_whole_days_folded_and_escaped),
                                       cmocka_unit_test(bad_events_are_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
