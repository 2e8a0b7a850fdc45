/* serve: hostile requests over real sockets. The families are those of the rules for a local web
 * program: names pointed here from outside (DNS rebinding), other pages' requests (W3C Fetch
 * Metadata; OWASP cross-site request forgery sheet), smuggling (RFC 9112 section 6.3), paths,
 * sizes, trickles and half-closed connections, keys. Every listed case has the status it must get;
 * random ones must never be accepted and never change the project. RELICT_HOSTILE: how many random
 * ones (1,000). */
#include "serve/api.h"

#include "wire.h"

#include <errno.h>

#define PLAIN "Connection: close\r\n"

struct family {
    const char *name;
    size_t cases, refused;
};

static struct family families[24];
static size_t n_families;

static struct family *family(const char *name) {
    for (size_t i = 0; i < n_families; i++)
        if (strcmp(families[i].name, name) == 0) return &families[i];
    families[n_families].name = name;
    return &families[n_families++];
}

static void print_table(void) {
    size_t cases = 0, refused = 0;
    check_note("%-34s %6s %8s", "hostile requests", "cases", "refused");
    for (size_t i = 0; i < n_families; i++) {
        check_note("%-34s %6zu %8zu", families[i].name, families[i].cases, families[i].refused);
        cases += families[i].cases;
        refused += families[i].refused;
    }
    check_note("%-34s %6zu %8zu", "all", cases, refused);
}

struct hostile {
    struct wire w;
    char own[33], write[33], read[33];
    char read_token[40], write_token[40];
};

static void begin(struct hostile *h, const struct server_options *more) {
    struct server_options o = more ? *more : (struct server_options){0};
    wire_begin(&h->w, &o);
    wire_own(&h->w, h->own);
    if (!o.share) return;
    char *read = server_share_address(h->w.server, false, h->w.arena),
         *write = server_share_address(h->w.server, true, h->w.arena);
    if (!read || !write) return; /* a machine without a network */
    snprintf(h->read_token, sizeof h->read_token, "%s", wire_token(read));
    snprintf(h->write_token, sizeof h->write_token, "%s", wire_token(write));
    assert_int_equal(wire_join(&h->w, h->read_token, h->read), 200);
    assert_int_equal(wire_join(&h->w, h->write_token, h->write), 200);
}

/* The status must be one of two; 0 is a connection ended without an answer. */
static void expect(struct hostile *h, const char *of, const char *text, size_t n, int status,
                   int or) {
    struct family *f = family(of);
    int got = wire_raw(&h->w, text, n, NULL, 0);
    f->cases++;
    if (got == status || got == or)
        f->refused++;
    else
        fail_msg("%s: %d, not %d or %d, for\n%.300s", of, got, status, or, text);
}

static void expect_text(struct hostile *h, const char *of, int status, int or, const char *format,
                        ...) {
    static char text[1 << 17];
    va_list a;
    va_start(a, format);
    int n = vsnprintf(text, sizeof text, format, a);
    va_end(a);
    assert_in_range(n, 1, sizeof text - 1);
    expect(h, of, text, (size_t)n, status, or);
}

/* ---- names and pages from outside ------------------------------------------------------------ */

static void foreign_names_are_refused(void **state) {
    struct hostile *h = *state;
    const char *paths[] = {"/", "/main.js", "/api/project", "/api/stream"};
    char hosts[16][160];
    size_t n = 0;
    const unsigned p = h->w.port;
    const char *const names[] = {"evil.example",
                                 "127.0.0.1.evil.example",
                                 "localhost.evil",
                                 "evil.example#127.0.0.1",
                                 "127.0.0.1@evil.example",
                                 "0.0.0.0",
                                 "127.1",
                                 "2130706433",
                                 "0x7f000001",
                                 "[::ffff:127.0.0.1]"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        snprintf(hosts[n++], sizeof hosts[0], "%s:%u", names[i], p);
    snprintf(hosts[n++], sizeof hosts[0], "127.0.0.1");
    snprintf(hosts[n++], sizeof hosts[0], "127.0.0.1:%u", p == 80 ? 81 : p - 1);
    snprintf(hosts[n++], sizeof hosts[0], "127.0.0.1:%u0", p);
    snprintf(hosts[n++], sizeof hosts[0], "127.0.0.1:%u, evil.example", p);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < 4; k++)
            expect_text(h, "a foreign name (rebinding)", 421, 421,
                        "GET %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n" PLAIN "\r\n", paths[k],
                        hosts[i], h->w.cookie_name, h->own);
    for (size_t k = 0; k < 4; k++) {
        expect_text(h, "no name, or two", 400, 400, "GET %s HTTP/1.1\r\n" PLAIN "\r\n", paths[k]);
        expect_text(h, "no name, or two", 400, 400,
                    "GET %s HTTP/1.1\r\nHost: %s\r\nHost: evil.example\r\n" PLAIN "\r\n", paths[k],
                    h->w.host);
        expect_text(h, "no name, or two", 400, 421, "GET %s HTTP/1.1\r\nHost:\r\n" PLAIN "\r\n",
                    paths[k]);
    }
}

/* Each row that changes something, asked for by another page. */
static void other_pages_are_refused(void **state) {
    struct hostile *h = *state;
    const char *const origins[] = {
        "",
        "Origin: null\r\n",
        "Origin: http://evil.example\r\n",
        "Origin: https://127.0.0.1:%u\r\n",
        "Origin: http://127.0.0.1:%u.evil.example\r\n",
        "Origin: http://evil.example:%u\r\n",
        "Origin: http://127.0.0.1\r\n",
        "Origin: http://127.0.0.1:%u\r\nSec-Fetch-Site: cross-site\r\n",
        "Origin: http://127.0.0.1:%u\r\nSec-Fetch-Site: same-site\r\n",
        "Origin: http://127.0.0.1:%u/\r\n",
    };
    for (const struct api_row *r = api_table; r->path; r++) {
        if (strcmp(r->method, "GET") == 0) continue;
        for (size_t i = 0; i < sizeof origins / sizeof origins[0]; i++) {
            char origin[200];
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
            snprintf(origin, sizeof origin, origins[i], h->w.port);
#pragma GCC diagnostic pop
            expect_text(h, "another page changes (cross-site)", 403, 403,
                        "%s %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n%sContent-Type: "
                        "application/%s\r\nContent-Length: 2\r\n" PLAIN "\r\n{}",
                        r->method, r->path, h->w.host, h->w.cookie_name, h->own, origin,
                        strcmp(r->method, "PUT") ? "json" : "octet-stream");
        }
    }
    for (const struct api_row *r = api_table; r->path; r++)
        if (strcmp(r->method, "GET") == 0)
            expect_text(h, "another page reads", 403, 403,
                        "GET %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nSec-Fetch-Site: "
                        "cross-site\r\n" PLAIN "\r\n",
                        r->path, h->w.host, h->w.cookie_name, h->own);
}

/* ---- paths, methods, bodies ------------------------------------------------------------------ */

static void odd_paths_are_refused(void **state) {
    struct hostile *h = *state;
    const char *const paths[] = {"/../../etc/passwd",
                                 "/..",
                                 "/.",
                                 "/./main.js",
                                 "/a/../main.js",
                                 "/%2e%2e/etc/passwd",
                                 "/..%2f..%2fetc%2fpasswd",
                                 "/a%2fb",
                                 "/a%5cb",
                                 "/\\..\\..\\etc\\passwd",
                                 "/main.js%00.png",
                                 "//etc/passwd",
                                 "/main.js/",
                                 "/.git/config",
                                 "/api/../main.js",
                                 "/api//project",
                                 "/web/main.js/../x",
                                 "/%",
                                 "/%zz",
                                 "/main.js;x",
                                 "/~root",
                                 "/main.js?x=1#y",
                                 "*",
                                 "http://evil.example/",
                                 "/\xc0\xae\xc0\xae/",
                                 "/api/project%20",
                                 "/api/%70roject",
                                 "/index.html%3f",
                                 "/nothing.js",
                                 "/api/nothing",
                                 "/api/",
                                 "/proc/self/environ"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        char text[600];
        int n = snprintf(text, sizeof text,
                         "GET %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n" PLAIN "\r\n", paths[i],
                         h->w.host, h->w.cookie_name, h->own);
        int got = wire_raw(&h->w, text, (size_t)n, NULL, 0);
        struct family *f = family("paths (traversal)");
        f->cases++;
        if (strcmp(paths[i], "/main.js?x=1#y") == 0) { /* a plain query is fine */
            assert_true(got == 200 || got == 400);
            f->refused++;
        } else if (got == 400 || got == 404)
            f->refused++;
        else
            fail_msg("%s was answered %d", paths[i], got);
    }
    expect_text(h, "paths (traversal)", 404, 404,
                "GET /api/file?id=../../etc/passwd HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n" PLAIN
                "\r\n",
                h->w.host, h->w.cookie_name, h->own);
    expect_text(h, "paths (traversal)", 404, 404,
                "GET /api/paper?name=%%2e%%2e/%%2e%%2e/etc/passwd HTTP/1.1\r\nHost: %s\r\nCookie: "
                "%s=%s\r\n" PLAIN "\r\n",
                h->w.host, h->w.cookie_name, h->own);
    const char *const methods[] = {"DELETE",   "PATCH", "OPTIONS", "TRACE", "CONNECT",
                                   "PROPFIND", "get",   "FOO",     "HEADS"};
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++)
        expect_text(h, "methods", 405, 400,
                    "%s /api/project HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nOrigin: "
                    "http://%s\r\n" PLAIN "\r\n",
                    methods[i], h->w.host, h->w.cookie_name, h->own, h->w.host);
}

static void post_with(struct hostile *h, const char *of, const char *headers, const char *body,
                      int status, int or) {
    expect_text(h, of, status, or,
                "POST /api/enter HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
                "%s=%s\r\n%s" PLAIN "\r\n%s",
                h->w.host, h->w.host, h->w.cookie_name, h->own, headers, body);
}

static void smuggled_bodies_are_refused(void **state) {
    struct hostile *h = *state;
    const char *const json = "Content-Type: application/json\r\n";
    const struct {
        const char *headers;
        int status, or ;
    } bad[] = {
        {"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n", 411, 400},
        {"Transfer-Encoding: chunked\r\n", 411, 400},
        {"Transfer-Encoding: gzip, chunked\r\n", 411, 400},
        {"Transfer-Encoding: identity\r\n", 411, 400},
        {"Content-Length: 2\r\nContent-Length: 3\r\n", 400, 400},
        {"Content-Length: 2\r\nContent-Length: 2\r\n", 400, 400},
        {"Content-Length: -2\r\n", 400, 400},
        {"Content-Length: +2\r\n", 400, 400},
        {"Content-Length: 0x2\r\n", 400, 400},
        {"Content-Length: 2, 2\r\n", 400, 400},
        {"Content-Length: 18446744073709551618\r\n", 400, 413},
        {"Content-Length: 99999999999\r\n", 413, 400},
        {"Content-Length: 1048577\r\n", 413, 413},
        {"", 411, 400},
    };
    char headers[400];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        snprintf(headers, sizeof headers, "%s%s", json, bad[i].headers);
        post_with(h, "lengths (smuggling, oversized)", headers, "{}", bad[i].status, bad[i].or);
    }
    const char *const types[] = {"",
                                 "Content-Type: text/plain\r\n",
                                 "Content-Type: application/x-www-form-urlencoded\r\n",
                                 "Content-Type: multipart/form-data; boundary=x\r\n",
                                 "Content-Type: application/json5\r\n",
                                 "Content-Type: application/octet-stream\r\n",
                                 "Content-Type: application/json\r\nContent-Type: text/plain\r\n",
                                 "Content-Type: text/html\r\n"};
    for (size_t i = 0; i < sizeof types / sizeof types[0]; i++) {
        snprintf(headers, sizeof headers, "%sContent-Length: 2\r\n", types[i]);
        post_with(h, "body types", headers, "{}", 415, 400);
    }
}

static void bodies_that_are_no_request_are_refused(void **state) {
    struct hostile *h = *state;
    static char deep[8000];
    strcpy(deep, "{\"kind\":\"choice\",\"id\":\"x\",\"body\":");
    for (int i = 0; i < 900; i++)
        strcat(deep, "{\"a\":");
    const char *const bodies[] = {
        "{",
        "[]",
        "null",
        "1",
        "\"x\"",
        "{\"kind\":\"choice\",\"kind\":\"choice\"}",
        "{}x",
        "{\"kind\":5}",
        "{\"kind\":\"choice\"}",
        "{\"kind\":\"nothing\",\"id\":\"x\",\"body\":{}}",
        "{\"kind\":\"choice\",\"id\":\"x\"}",
        "{\"kind\":\"choice\",\"id\":\"x\",\"body\":[]}",
        "{\"kind\":\"choice\",\"id\":\"x\",\"body\":{\"id\":\"x\",\"nonsense\":1}}",
        "{\"kind\":\"choice\",\"id\":\"../x\",\"body\":{\"id\":\"y\"}}",
        "{\"kind\":\"measure\",\"id\":\"m\",\"body\":{\"id\":\"m\",\"value\":1e400}}",
        "{\"kind\":\"measure\",\"id\":\"m\",\"body\":{\"id\":\"m\",\"value\":\"x\"}}",
        "{\"kind\":\"choice\",\"id\":\"\xff\xfe\",\"body\":{}}",
        "{\"kind\":\"choice\\u0000\",\"id\":\"x\",\"body\":{}}",
        deep};
    for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++) {
        char headers[200];
        snprintf(headers, sizeof headers,
                 "Content-Type: application/json\r\nContent-Length: %zu\r\n", strlen(bodies[i]));
        post_with(h, "bodies", headers, bodies[i], 422, 404);
    }
}

static void headers_without_end_are_refused(void **state) {
    struct hostile *h = *state;
    static char many[60000];
    for (int i = 0; i < 80; i++)
        sprintf(many + strlen(many), "X-%d: 1\r\n", i);
    expect_text(h, "headers", 431, 400, "GET /api/project HTTP/1.1\r\nHost: %s\r\n%s" PLAIN "\r\n",
                h->w.host, many);
    memset(many, 'a', sizeof many - 1);
    static const int sizes[] = {401, 3000, 50000};
    for (size_t i = 0; i < 3; i++)
        expect_text(h, "headers", 400, i == 2 ? 414 : 400,
                    "GET /%.*s HTTP/1.1\r\nHost: %s\r\n" PLAIN "\r\n", sizes[i], many, h->w.host);
    static char huge[100000];
    memset(huge, 'b', sizeof huge - 1);
    expect_text(h, "headers", 431, 413,
                "GET / HTTP/1.1\r\nHost: %s\r\nX-Long: %.90000s\r\n" PLAIN "\r\n", h->w.host, huge);
    const char *const broken[] = {"GET / HTTP/1.1\r\nHost %s\r\n\r\n",
                                  "GET /\r\n\r\n",
                                  "\r\n\r\n\r\n",
                                  "GET / HTTP/9.9\r\nHost: x\r\n\r\n",
                                  "GET / HTTP/1.1\r\n Host: x\r\n\r\n",
                                  "GET / HTTP/1.1\nHost: evil.example\n\n",
                                  "\x16\x03\x01\x02\x01\x01",
                                  "GET\t/\tHTTP/1.1\r\n\r\n"};
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++) {
        int got = wire_raw(&h->w, broken[i], strlen(broken[i]), NULL, 0);
        struct family *f = family("no HTTP");
        f->cases++;
        if (got == 0 || got >= 400)
            f->refused++;
        else
            fail_msg("\"%s\" was answered %d", broken[i], got);
    }
}

/* ---- keys ------------------------------------------------------------------------------------ */

static void ask_row(struct hostile *h, const char *of, const struct api_row *r, const char *session,
                    int status) {
    bool get = strcmp(r->method, "GET") == 0, put = strcmp(r->method, "PUT") == 0;
    int got =
        wire_ask(&h->w, r->method, r->path, session,
                 put ? "application/octet-stream" : "application/json", get ? NULL : "{}", NULL, 0);
    struct family *f = family(of);
    f->cases++;
    if (got == status)
        f->refused++;
    else
        fail_msg("%s: %s %s was answered %d", of, r->method, r->path, got);
}

static void without_a_key_nothing_is_told(void **state) {
    struct hostile *h = *state;
    const char *const sessions[] = {NULL, "", "0", "00000000000000000000000000000000"};
    for (const struct api_row *r = api_table; r->path; r++)
        for (size_t i = 0; i < 4; i++)
            ask_row(h, "no session, or a made-up one", r, sessions[i], 401);
    char almost[33];
    strcpy(almost, h->own);
    almost[31] = almost[31] == '0' ? '1' : '0';
    for (const struct api_row *r = api_table; r->path; r++)
        ask_row(h, "no session, or a made-up one", r, almost, 401);
    assert_int_equal(wire_get(&h->w, "/api/stream", NULL, NULL, 0), 401);
    assert_int_equal(wire_get(&h->w, "/main.js", NULL, NULL, 0), 200); /* the page itself is open */
}

static void a_key_to_read_cannot_write(void **state) {
    struct hostile *h = *state;
    if (!*h->read) skip(); /* no network on this machine to share on */
    for (const struct api_row *r = api_table; r->path; r++) {
        if (r->right > KEY_READ) ask_row(h, "a key to read that writes", r, h->read, 403);
        if (r->right > KEY_WRITE)
            ask_row(h, "a key to write that hands out keys", r, h->write, 403);
    }
    assert_int_equal(wire_get(&h->w, "/api/project", h->read, NULL, 0), 200);
}

static void revoked_keys_are_over(void **state) {
    struct hostile *h = *state;
    if (!*h->read) skip();
    static char answer[4096];
    assert_int_equal(wire_get(&h->w, "/api/keys", h->own, answer, sizeof answer), 200);
    const char *at = strstr(answer, "\"right\":\"write\"");
    assert_non_null(at);
    while (strncmp(at, "\"id\":", 5))
        at--;
    char body[64], session[33];
    snprintf(body, sizeof body, "{\"key\":%ld}", strtol(at + 5, NULL, 10));
    assert_int_equal(wire_post(&h->w, "/api/revoke", h->own, body, NULL, 0), 200);
    for (const struct api_row *r = api_table; r->path; r++)
        ask_row(h, "a revoked key", r, h->write, 401);
    assert_int_equal(wire_join(&h->w, h->write_token, session), 403);
    assert_int_equal(wire_get(&h->w, "/api/project", h->read, NULL, 0), 200); /* the other holds */
    assert_int_equal(wire_post(&h->w, "/api/revoke", h->own, "{\"key\":9999}", NULL, 0), 404);
}

static void expired_keys_are_over(void **state) {
    (void)state;
    struct hostile h = {0};
    begin(&h, &(struct server_options){.share = true, .share_for = 0.6});
    if (!*h.read) {
        wire_end(&h.w);
        skip();
    }
    assert_int_equal(wire_get(&h.w, "/api/project", h.read, NULL, 0), 200);
    usleep(700000);
    char session[33];
    for (const struct api_row *r = api_table; r->path; r++)
        ask_row(&h, "an expired key", r, r->right == KEY_READ ? h.read : h.write, 401);
    assert_int_equal(wire_join(&h.w, h.read_token, session), 403);
    assert_int_equal(wire_get(&h.w, "/api/project", h.own, NULL, 0), 200);
    wire_end(&h.w);
}

static void five_wrong_keys_and_one_waits(void **state) {
    (void)state;
    struct hostile h = {0};
    begin(&h, NULL);
    char session[33];
    const char *const keys[] = {"", "0", "' OR 1=1", "00000000000000000000000000000000",
                                "ffffffffffffffffffffffffffffffff"};
    struct family *f = family("wrong keys");
    for (size_t i = 0; i < 5; i++, f->cases++) {
        assert_int_equal(wire_join(&h.w, keys[i], session), 403);
        f->refused++;
    }
    /* now even the right one waits */
    assert_int_equal(wire_join(&h.w, wire_token(server_address(h.w.server)), session), 429);
    f->cases++, f->refused++;
    assert_int_equal(wire_get(&h.w, "/api/project", h.own, NULL, 0), 200);
    wire_end(&h.w);
}

/* ---- slow, half-closed, too many ------------------------------------------------------------- */

/* Seconds until the other side ends the connection; at most 10. */
static double until_ended(int fd, bool trickle) {
    double begun = wire_seconds();
    struct timeval most = {0, 100000};
    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &most, sizeof most);
    char bytes[512];
    for (;;) {
        ssize_t n = recv(fd, bytes, sizeof bytes, 0);
        double now = wire_seconds() - begun;
        if (n == 0 || (n < 0 && errno != EAGAIN && errno != EWOULDBLOCK) || now > 10) return now;
        if (trickle) send(fd, "a", 1, MSG_NOSIGNAL);
    }
}

static void slow_ones_are_ended(void **state) {
    (void)state;
    struct hostile h = {0};
    begin(&h, &(struct server_options){.silence = 1, .patience = 1.2});
    char head[400];
    int n = snprintf(head, sizeof head,
                     "POST /api/enter HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
                     "%s=%s\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{",
                     h.w.host, h.w.host, h.w.cookie_name, h.own);
    struct {
        const char *what, *sends;
        size_t n;
        bool trickle;
    } slow[] = {{"says nothing", "", 0, false},
                {"half a line", "GET / HT", 8, false},
                {"headers that trickle", "GET / HTTP/1.1\r\nX: ", 19, true},
                {"a body that stops", head, (size_t)n, false},
                {"a body that trickles", head, (size_t)n, true}};
    enum { KINDS = sizeof slow / sizeof slow[0] };
    int fd[KINDS];
    struct family *f = family("slow");
    for (size_t i = 0; i < KINDS; i++) {
        fd[i] = wire_connect(&h.w);
        assert_true(fd[i] >= 0);
        wire_write(fd[i], slow[i].sends, slow[i].n);
    }
    for (size_t i = 0; i < KINDS; i++, f->cases++) {
        double taken = until_ended(fd[i], slow[i].trickle);
        close(fd[i]);
        if (taken > 8) fail_msg("%s: still open after %.1f s", slow[i].what, taken);
        f->refused++;
    }
    assert_int_equal(wire_get(&h.w, "/api/project", h.own, NULL, 0), 200);
    wire_end(&h.w);
}

static void half_closed_ones_change_nothing(void **state) {
    struct hostile *h = *state;
    long before = wire_revision(&h->w, h->own);
    const char *const body =
        "{\"kind\":\"choice\",\"id\":\"h\",\"body\":{\"id\":\"h\",\"about\":\"x\"}}";
    char text[900];
    for (size_t cut = 0; cut < strlen(body); cut += 5) {
        int n =
            snprintf(text, sizeof text,
                     "POST /api/enter HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
                     "%s=%s\r\nContent-Type: application/json\r\nContent-Length: "
                     "%zu\r\n\r\n%.*s",
                     h->w.host, h->w.host, h->w.cookie_name, h->own, strlen(body), (int)cut, body);
        expect(h, "half-closed in the body", text, (size_t)n, 0, 400);
    }
    /* every cut in the head too */
    int whole =
        snprintf(text, sizeof text, "GET /api/project HTTP/1.1\r\nHost: %s\r\n\r\n", h->w.host);
    for (int cut = 1; cut < whole - 1; cut += 3)
        expect(h, "half-closed in the head", text, (size_t)cut, 0, 400);
    assert_int_equal(wire_revision(&h->w, h->own), before);
}

static void a_body_is_not_taken_before_its_key(void **state) {
    struct hostile *h = *state;
    /* 200 MB are promised by nobody: refused at once, not after they came */
    double begun = wire_seconds();
    expect_text(h, "a large body from nobody", 401, 401,
                "PUT /api/import?name=x.csv HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\n"
                "Content-Type: application/octet-stream\r\nContent-Length: 200000000\r\n" PLAIN
                "\r\n",
                h->w.host, h->w.host);
    assert_true(wire_seconds() - begun < 5);
    expect_text(h, "a large body from nobody", 413, 413,
                "PUT /api/import?name=x.csv HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
                "%s=%s\r\nContent-Type: application/octet-stream\r\nContent-Length: "
                "300000000\r\n" PLAIN "\r\n",
                h->w.host, h->w.host, h->w.cookie_name, h->own);
}

static void pages_are_counted(void **state) {
    (void)state;
    struct hostile h = {0};
    begin(&h, NULL);
    enum { MOST = 32 };
    int fd[MOST + 1];
    char text[300], answer[512];
    int n =
        snprintf(text, sizeof text, "GET /api/stream HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\n\r\n",
                 h.w.host, h.w.cookie_name, h.own);
    struct family *f = family("more pages than allowed");
    for (int i = 0; i <= MOST; i++) {
        fd[i] = wire_connect(&h.w);
        wire_write(fd[i], text, (size_t)n);
        ssize_t k = recv(fd[i], answer, sizeof answer - 1, 0);
        answer[k > 0 ? k : 0] = 0;
        int status = 0;
        sscanf(answer, "HTTP/1.1 %d", &status);
        assert_int_equal(status, i < MOST ? 200 : 429);
    }
    f->cases++, f->refused++;
    for (int i = 0; i <= MOST; i++)
        close(fd[i]);
    wire_end(&h.w);
}

/* ---- random ---------------------------------------------------------------------------------- */

static uint64_t seed = 20261125;
static uint64_t next(void) { /* splitmix64 (Steele, Lea & Flood 2014) */
    uint64_t z = (seed += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}
static size_t below(size_t n) {
    return (size_t)(next() % n);
}

/* A change as our own page would send it, but for one thing that must be there and is not, and then
 * a few bytes anywhere else changed. */
enum { LACKS = 6, FAULTS = 8 }; /* from 6 on the fault is a header too many */

static size_t random_request(char *text, size_t size, const struct hostile *h, size_t faults) {
    size_t fault = below(faults);
    const char *const hosts[] = {"evil.example", "127.0.0.1", "localhost:1", "x"};
    char other[80];
    snprintf(other, sizeof other, "%s", hosts[below(4)]);
    const char *host = fault == 0 ? other : h->w.host, *origin = fault == 1 ? other : h->w.host;
    char session[33];
    snprintf(session, sizeof session, "%s", h->own);
    if (fault == 2) session[below(32)] ^= 1 + (char)below(7);
    const char *type = fault == 3 ? "text/plain" : "application/json";
    const char *const body =
        "{\"kind\":\"choice\",\"id\":\"r\",\"body\":{\"id\":\"r\",\"about\":\"x\"}}";
    size_t length = strlen(body) + (fault == 4 ? 1 + below(1000) : 0);
    const char *path = fault == 5 ? "/api/../api/enter" : "/api/enter";
    const char *more = fault == 6   ? "Transfer-Encoding: chunked\r\n"
                       : fault == 7 ? "Sec-Fetch-Site: cross-site\r\n"
                                    : "";
    int n = snprintf(text, size,
                     "POST %s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
                     "%s=%s\r\n%sContent-Type: %s\r\nContent-Length: %zu\r\n" PLAIN "\r\n%s",
                     path, host, origin, h->w.cookie_name, session, more, type, length, body);
    return (size_t)n;
}

/* Only of requests that lack something: a header too many whose name is spoilt is no fault any
 * more. */
static size_t random_bytes(char *text, size_t size, const struct hostile *h) {
    size_t n = random_request(text, size, h, LACKS);
    for (size_t k = 1 + below(20); k; k--) {
        size_t at = below(n);
        switch (below(4)) {
        case 0:
            text[at] = (char)below(256);
            break;
        case 1:
            n = at + 1; /* cut */
            break;
        case 2:
            text[at] = "\r\n :;/%\0"[below(8)];
            break;
        default:
            memmove(text + at, text + at / 2, n - at); /* doubled stretch */
        }
    }
    return n;
}

static void random_ones_change_nothing(void **state) {
    struct hostile *h = *state;
    const char *wanted = getenv("RELICT_HOSTILE");
    size_t n = wanted ? (size_t)strtoul(wanted, NULL, 10) : 1000;
    long before = wire_revision(&h->w, h->own);
    static char text[4096];
    struct family *one = family("random: one thing missing"), *many = family("random: bytes");
    for (size_t i = 0; i < n; i++) {
        bool bytes = i % 2;
        size_t size = bytes ? random_bytes(text, sizeof text, h)
                            : random_request(text, sizeof text, h, FAULTS);
        int got = wire_raw(&h->w, text, size, NULL, 0);
        struct family *f = bytes ? many : one;
        f->cases++;
        if (got == 0 || got >= 400)
            f->refused++;
        else
            fail_msg("random %zu was answered %d:\n%.600s", i, got, text);
    }
    assert_int_equal(wire_revision(&h->w, h->own), before);
}

static int open_all(void **state) {
    static struct hostile h;
    begin(&h, &(struct server_options){.share = true});
    *state = &h;
    return 0;
}

static int close_all(void **state) {
    struct hostile *h = *state;
    wire_end(&h->w);
    print_table();
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(foreign_names_are_refused),
                                       cmocka_unit_test(other_pages_are_refused),
                                       cmocka_unit_test(odd_paths_are_refused),
                                       cmocka_unit_test(smuggled_bodies_are_refused),
                                       cmocka_unit_test(bodies_that_are_no_request_are_refused),
                                       cmocka_unit_test(headers_without_end_are_refused),
                                       cmocka_unit_test(without_a_key_nothing_is_told),
                                       cmocka_unit_test(a_key_to_read_cannot_write),
                                       cmocka_unit_test(half_closed_ones_change_nothing),
                                       cmocka_unit_test(a_body_is_not_taken_before_its_key),
                                       cmocka_unit_test(random_ones_change_nothing),
                                       cmocka_unit_test(revoked_keys_are_over),
                                       cmocka_unit_test(expired_keys_are_over),
                                       cmocka_unit_test(five_wrong_keys_and_one_waits),
                                       cmocka_unit_test(slow_ones_are_ended),
                                       cmocka_unit_test(pages_are_counted)};
    return cmocka_run_group_tests(tests, open_all, close_all);
}
