/* serve: what the gate lets in and what it refuses; tokens and sessions. The list follows the
 * rules for a local web program: one Host on a list (DNS rebinding), Origin and fetch metadata
 * (cross-site requests; W3C Fetch Metadata), no request smuggling (RFC 9112 section 6.3). */
#include "serve/gate.h"
#include "serve/keyring.h"

#include "check.h"

static const char *const hosts[] = {"127.0.0.1:8080", "localhost:8080", NULL};
static const struct gate_rules rules = {hosts, 1 << 20, 200 << 20};

static int judge(const char *method, const char *path, const char *headers) {
    static char copy[1024];
    struct gate_header h[16];
    size_t n = 0;
    snprintf(copy, sizeof copy, "%s", headers);
    for (char *p = strtok(copy, "\n"); p; p = strtok(NULL, "\n")) {
        char *colon = strchr(p, ':');
        *colon = 0;
        h[n++] = (struct gate_header){p, colon + 1};
    }
    return gate_judge(&(struct gate_request){method, path, h, n}, &rules).status;
}

#define HOST "Host:127.0.0.1:8080\n"
#define OURS HOST "Origin:http://127.0.0.1:8080\n"
#define JSON "Content-Type:application/json\n"

static void good_requests_pass(void **state) {
    (void)state;
    assert_int_equal(judge("GET", "/", HOST), 0);
    assert_int_equal(judge("GET", "/look/plain.css", "Host:LOCALHOST:8080\n"), 0);
    assert_int_equal(judge("GET", "/api/steps", HOST "Sec-Fetch-Site:same-origin\n"), 0);
    assert_int_equal(judge("POST", "/api/enter", OURS JSON "Content-Length:20\n"), 0);
    assert_int_equal(judge("PUT", "/api/file",
                           OURS "Content-Type:application/octet-stream\nContent-Length:5000000\n"),
                     0);
}

static void bad_requests_do_not(void **state) {
    (void)state;
    static const struct {
        const char *method, *path, *headers;
        int status;
    } bad[] = {
        {"GET", "/", "", 400},
        {"GET", "/", HOST HOST, 400},
        {"GET", "/", "Host:evil.example\n", 421},
        {"GET", "/", "Host:127.0.0.1\n", 421},
        {"GET", "/", "Host:127.0.0.1:8080.evil.example\n", 421},
        {"GET", "/../etc/passwd", HOST, 400},
        {"GET", "/a/%2e%2e/b", HOST, 400},
        {"GET", "/a%2fb", HOST, 400},
        {"GET", "/a\\b", HOST, 400},
        {"GET", "//a", HOST, 400},
        {"GET", "/.git", HOST, 400},
        {"GET", "a", HOST, 400},
        {"DELETE", "/", OURS, 405},
        {"TRACE", "/", HOST, 405},
        {"GET", "/", HOST "Transfer-Encoding:chunked\n", 411},
        {"POST", "/api/enter", OURS JSON "Content-Length:5\nTransfer-Encoding:chunked\n", 411},
        {"POST", "/api/enter", OURS JSON "Content-Length:5\nContent-Length:6\n", 400},
        {"POST", "/api/enter", OURS JSON, 411},
        {"POST", "/api/enter", OURS JSON "Content-Length:-1\n", 400},
        {"POST", "/api/enter", OURS JSON "Content-Length:99999999999999999999\n", 400},
        {"POST", "/api/enter", OURS JSON "Content-Length:2000000\n", 413},
        {"POST", "/api/enter", OURS "Content-Length:5\n", 415},
        {"POST", "/api/enter", OURS "Content-Type:text/plain\nContent-Length:5\n", 415},
        {"POST", "/api/enter",
         OURS "Content-Type:application/x-www-form-urlencoded\nContent-Length:5\n", 415},
        {"POST", "/api/enter", OURS "Content-Type:application/jsonx\nContent-Length:5\n", 415},
        {"POST", "/api/enter", HOST JSON "Content-Length:5\n", 403},
        {"POST", "/api/enter", HOST "Origin:http://evil.example\n" JSON "Content-Length:5\n", 403},
        {"POST", "/api/enter", HOST "Origin:null\n" JSON "Content-Length:5\n", 403},
        {"POST", "/api/enter", OURS JSON "Content-Length:5\nSec-Fetch-Site:cross-site\n", 403},
        {"POST", "/api/enter", OURS JSON "Content-Length:5\nSec-Fetch-Site:same-site\n", 403},
        {"GET", "/api/steps", HOST "Sec-Fetch-Site:cross-site\n", 403},
        {"GET", "/", HOST "Content-Length:7\n", 400},
        {"GET", "/", HOST "Cookie:a=1\nCookie:b=2\n", 400},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        if (judge(bad[i].method, bad[i].path, bad[i].headers) != bad[i].status)
            fail_msg("case %zu (%s %s): %d, expected %d", i, bad[i].method, bad[i].path,
                     judge(bad[i].method, bad[i].path, bad[i].headers), bad[i].status);
}

static void cookies_are_found(void **state) {
    (void)state;
    char v[8];
    assert_true(gate_cookie("a=1; relict=abc; z=9", "relict", v, sizeof v));
    assert_string_equal(v, "abc");
    assert_false(gate_cookie("xrelict=abc", "relict", v, sizeof v));
    assert_false(gate_cookie("relict=123456789", "relict", v, sizeof v));
}

static void tokens_become_sessions(void **state) {
    (void)state;
    struct keyring *ring = keyring_new();
    char read[KEY_TEXT], write[KEY_TEXT], session[KEY_TEXT] = "";
    bool wait;
    assert_true(keyring_issue(ring, KEY_READ, 0, 100, read));
    assert_true(keyring_issue(ring, KEY_WRITE, 0, 1000, write));
    assert_int_equal(keyring_join(ring, read, "a", 1, session, &wait), KEY_READ);
    assert_int_equal(keyring_right(ring, session, 50), KEY_READ);
    assert_int_equal(keyring_right(ring, session, 101), KEY_NONE);
    assert_int_equal(keyring_join(ring, read, "a", 101, session, &wait), KEY_NONE);
    assert_int_equal(keyring_join(ring, write, "a", 102, session, &wait), KEY_WRITE);
    keyring_revoke(ring, KEY_WRITE);
    assert_int_equal(keyring_right(ring, session, 103), KEY_NONE);
    keyring_free(ring);
}

static void five_wrong_tokens_a_minute(void **state) {
    (void)state;
    struct keyring *ring = keyring_new();
    char write[KEY_TEXT], session[KEY_TEXT];
    bool wait;
    keyring_issue(ring, KEY_WRITE, 0, 1000, write);
    for (int i = 0; i < 5; i++)
        assert_int_equal(keyring_join(ring, "nonsense", "b", 1, session, &wait), KEY_NONE);
    assert_int_equal(keyring_join(ring, write, "b", 2, session, &wait), KEY_NONE);
    assert_true(wait);
    assert_int_equal(keyring_join(ring, write, "c", 2, session, &wait), KEY_WRITE);
    assert_int_equal(keyring_join(ring, write, "b", 63, session, &wait), KEY_WRITE);
    for (int i = 0; i < KEYRING_STREAMS; i++)
        assert_true(keyring_stream_begin(ring, session));
    assert_false(keyring_stream_begin(ring, session));
    keyring_stream_end(ring, session);
    assert_true(keyring_stream_begin(ring, session));
    keyring_free(ring);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_requests_pass), cmocka_unit_test(bad_requests_do_not),
        cmocka_unit_test(cookies_are_found), cmocka_unit_test(tokens_become_sessions),
        cmocka_unit_test(five_wrong_tokens_a_minute)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
