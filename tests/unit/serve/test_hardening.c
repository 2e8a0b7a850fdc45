/* serve: what stands on every answer and on every file given back, where is listened, and how long
 * an upload may take. With test_hostile.c and test_gate.c the table in doc/server.md. Sources: W3C
 * CSP 3, Fetch (no CORS header means no other page reads), Referrer Policy, RFC 6265bis (cookies
 * are not parted by port), Fetch Metadata. */
#include "serve/api.h"

#include "base/csv.h"
#include "base/file.h"
#include "base/mem.h"
#include "wire.h"

#include <ifaddrs.h>
#include <net/if.h>
#include <strings.h>

enum { ROOM = 1 << 16 };

static char answer[ROOM];

/* The value of a header of `answer`; "" where it is absent. How often it stands there in *n. */
static const char *header(const char *name, size_t *n) {
    static char value[1024];
    size_t length = strlen(name);
    const char *end = strstr(answer, "\r\n\r\n");
    *n = 0;
    *value = 0;
    for (const char *p = answer; end && p < end; p = strstr(p, "\r\n") + 2) {
        if (strncasecmp(p, name, length) == 0 && p[length] == ':') {
            snprintf(value, sizeof value, "%.*s", (int)strcspn(p + length + 2, "\r"),
                     p + length + 2);
            ++*n;
        }
        if (strstr(p, "\r\n") == end) break;
    }
    return value;
}

static void once(const char *name, const char *part, const char *of) {
    size_t n;
    const char *value = header(name, &n);
    if (n != 1 || !strstr(value, part))
        fail_msg("%s: %s stands there %zu times: \"%s\", not \"%s\"", of, name, n, value, part);
}
static void never(const char *part, const char *of) {
    const char *end = strstr(answer, "\r\n\r\n");
    for (const char *p = answer; end && p < end; p++)
        if (strncasecmp(p, part, strlen(part)) == 0) fail_msg("%s: has %s", of, part);
}

static void all_safe(const char *of, bool data) {
    once("Content-Security-Policy", "default-src", of);
    once("Content-Security-Policy", "frame-ancestors", of);
    once("X-Content-Type-Options", "nosniff", of);
    once("Referrer-Policy", "no-referrer", of);
    once("Cross-Origin-Resource-Policy", "same-origin", of);
    once("Cross-Origin-Opener-Policy", "same-origin", of);
    if (data) once("Cache-Control", "no-store", of);
    never("Access-Control-", of);
}

struct served {
    struct wire w;
    char own[33];
};

static int open_one(void **state) {
    static struct served s;
    wire_begin(&s.w, &(struct server_options){0});
    wire_own(&s.w, s.own);
    *state = &s;
    return 0;
}
static int close_one(void **state) {
    wire_end(&((struct served *)*state)->w);
    return 0;
}

/* Its status. Our side stays open until the answer is there: a call that is worked in a thread of
 * its own is dropped when it is half-closed. */
static int ask_row(const struct served *s, const struct api_row *r, bool known) {
    char text[700], body[120] = "", cookie[80] = "";
    bool put = strcmp(r->method, "PUT") == 0;
    if (strcmp(r->method, "GET"))
        snprintf(body, sizeof body,
                 "Origin: http://%s\r\nContent-Type: application/%s\r\nContent-Length: 2\r\n",
                 s->w.host, put ? "octet-stream" : "json");
    if (known) snprintf(cookie, sizeof cookie, "Cookie: %s=%s\r\n", s->w.cookie_name, s->own);
    int n = snprintf(text, sizeof text,
                     "%s %s HTTP/1.1\r\nHost: %s\r\n%s%sConnection: close\r\n\r\n%s", r->method,
                     r->path, s->w.host, cookie, body, *body ? "{}" : ""),
        fd = wire_connect(&s->w), status = 0;
    assert_true(fd >= 0 && wire_write(fd, text, (size_t)n));
    wire_read(fd, answer, sizeof answer);
    close(fd);
    sscanf(answer, "HTTP/1.1 %d", &status);
    return status;
}

/* Every row of the interface, answered or refused, and the pages. */
static void headers_stand_on_every_answer(void **state) {
    const struct served *s = *state;
    size_t n = 0;
    for (const struct api_row *r = api_table; r->path; r++) {
        if (strcmp(r->path, "/api/compute") == 0 || strcmp(r->path, "/api/write") == 0) continue;
        for (int known = 0; known < 2; known++, n++) {
            int status = ask_row(s, r, known);
            if (known ? status < 200 : status != 401)
                fail_msg("%s %s was answered %d", r->method, r->path, status);
            all_safe(r->path, true);
        }
    }
    const char *const pages[] = {"/",         "/main.js", "/look.css",
                                 "/mark.svg", "/nothing", "/favicon.ico"};
    for (size_t i = 0; i < sizeof pages / sizeof pages[0]; i++, n++) {
        wire_get(&s->w, pages[i], NULL, answer, sizeof answer);
        all_safe(pages[i], false);
    }
    char text[300];
    int k = snprintf(text, sizeof text,
                     "OPTIONS /api/enter HTTP/1.1\r\nHost: %s\r\nOrigin: http://evil.example\r\n"
                     "Access-Control-Request-Method: POST\r\nConnection: close\r\n\r\n",
                     s->w.host);
    assert_int_equal(wire_raw(&s->w, text, (size_t)k, answer, sizeof answer), 405);
    all_safe("OPTIONS", true);
    check_note("%zu answers", n + 1);
}

static void the_cookie_is_ours_alone(void **state) {
    const struct served *s = *state;
    char body[100];
    const char *token = wire_token(server_address(s->w.server));
    assert_int_equal(strlen(token), 32); /* 128 bits */
    assert_int_equal(strspn(token, "0123456789abcdef"), 32);
    snprintf(body, sizeof body, "{\"token\":\"%s\"}", token);
    assert_int_equal(wire_post(&s->w, "/api/join", NULL, body, answer, sizeof answer), 200);
    char begins[40];
    snprintf(begins, sizeof begins, "relict%u=", s->w.port); /* named with the port */
    once("Set-Cookie", begins, "the cookie");
    once("Set-Cookie", "HttpOnly", "the cookie");
    once("Set-Cookie", "SameSite=Strict", "the cookie");
    assert_null(
        strstr(strstr(answer, "Set-Cookie") + 12 + strlen(begins), token)); /* not the key */
}

/* ---- where is listened ----------------------------------------------------------------------- */

static bool answers_at(const struct sockaddr *at, socklen_t n) {
    int fd = socket(at->sa_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    bool yes = fd >= 0 && connect(fd, at, n) == 0;
    if (fd >= 0) close(fd);
    return yes;
}

/* Each address of this machine on a network; how many answer. */
static size_t network_answers(unsigned short port, size_t *addresses) {
    struct ifaddrs *all = NULL;
    size_t yes = 0;
    *addresses = 0;
    if (getifaddrs(&all)) return 0;
    for (const struct ifaddrs *a = all; a; a = a->ifa_next) {
        if (!a->ifa_addr || a->ifa_addr->sa_family != AF_INET || (a->ifa_flags & IFF_LOOPBACK))
            continue;
        struct sockaddr_in at = *(const struct sockaddr_in *)(const void *)a->ifa_addr;
        at.sin_port = htons(port);
        ++*addresses;
        yes += answers_at((const struct sockaddr *)&at, sizeof at);
    }
    freeifaddrs(all);
    return yes;
}

static void only_this_machine_unless_shared(void **state) {
    const struct served *s = *state;
    const struct sockaddr_in here = {.sin_family = AF_INET,
                                     .sin_port = htons(s->w.port),
                                     .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    const struct sockaddr_in6 here6 = {
        .sin6_family = AF_INET6, .sin6_port = htons(s->w.port), .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    size_t addresses;
    assert_true(answers_at((const struct sockaddr *)&here, sizeof here));
    bool six = answers_at((const struct sockaddr *)&here6, sizeof here6);
    assert_int_equal(network_answers(s->w.port, &addresses), 0);
    check_note("::1 %s; %zu addresses on a network, none answers", six ? "answers" : "is not there",
               addresses);
    struct wire shared;
    wire_begin(&shared, &(struct server_options){.share = true});
    size_t yes = network_answers(shared.port, &addresses);
    wire_end(&shared);
    assert_int_equal(yes, addresses);
}

/* ---- files given back ------------------------------------------------------------------------ */

/* Stores bytes under a name; the id of the file that was kept last. */
static void keep(const struct served *s, const char *name, const char *bytes, size_t n,
                 char id[160]) {
    char head[600];
    int k = snprintf(
        head, sizeof head,
        "PUT /api/import?as=file&name=%s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: "
        "%s=%s\r\nContent-Type: application/octet-stream\r\nContent-Length: %zu\r\n"
        "Connection: close\r\n\r\n",
        name, s->w.host, s->w.host, s->w.cookie_name, s->own, n);
    char *text = test_malloc((size_t)k + n);
    memcpy(text, head, (size_t)k);
    memcpy(text + k, bytes, n);
    int status = wire_raw(&s->w, text, (size_t)k + n, answer, sizeof answer);
    test_free(text);
    if (status != 200) fail_msg("%s was answered %d: %s", name, status, answer);
    assert_int_equal(wire_get(&s->w, "/api/entries?kind=file", s->own, answer, sizeof answer), 200);
    const char *at = NULL;
    for (const char *p = strstr(answer, "[{"); p && (p = strstr(p, "{\"id\":\"")); p++)
        at = p;
    assert_non_null(at);
    snprintf(id, 160, "%.*s", (int)strcspn(at + 7, "\""), at + 7);
}

/* A picture is shown by its first bytes, whatever it is called; all else is saved, never shown: a
 * drawing with a script in it called picture.png is no picture. */
static void only_pictures_are_shown(void **state) {
    const struct served *s = *state;
    static const struct {
        const char *name, *bytes, *type;
    } files[] = {
        {"a.txt", "\xff\xd8\xff\xe0 a picture by its bytes", "image/jpeg"},
        {"picture.png", "<svg xmlns=\"http://www.w3.org/2000/svg\"><script>x()</script></svg>",
         NULL},
        {"drawing.svg", "<?xml version=\"1.0\"?><svg onload=\"x()\"/>", NULL},
        {"page.jpg", "<!doctype html><script>x()</script>", NULL},
        {"letter.pdf", "%PDF-1.7 and so on", NULL},
        {"script.js", "alert(1)", NULL},
        {"..%2f..%2fetc%2fpasswd", "a name that is no path", NULL},
        {"x%0d%0aSet-Cookie:%20y=1", "a name that is no header", NULL},
    };
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char id[160], path[400];
        keep(s, files[i].name, files[i].bytes, strlen(files[i].bytes), id);
        assert_null(strpbrk(id, "/\\\r\n")); /* the name became no path */
        snprintf(path, sizeof path, "/api/file?id=%s", id);
        assert_int_equal(wire_get(&s->w, path, s->own, answer, sizeof answer), 200);
        all_safe(files[i].name, true);
        size_t n;
        once("Content-Type", files[i].type ? files[i].type : "application/octet-stream",
             files[i].name);
        const char *how = header("Content-Disposition", &n);
        assert_true(files[i].type ? n == 0 : strncmp(how, "attachment", 10) == 0);
        (void)header("Set-Cookie", &n);
        assert_int_equal(n, 0);
        assert_non_null(strstr(answer, files[i].bytes));
    }
}

/* ---- caps ------------------------------------------------------------------------------------ */

/* JSON nested 64 deep is read; one deeper is not. */
static void json_is_sixty_four_deep(void **state) {
    const struct served *s = *state;
    for (int deep = 64; deep <= 65; deep++) {
        char body[800] = "{\"method\":\"no such method\",\"in\":";
        size_t n = strlen(body);
        for (int i = 0; i < deep - 2; i++) /* the body itself and the innermost value count too */
            body[n++] = '[';
        body[n++] = '1';
        for (int i = 0; i < deep - 2; i++)
            body[n++] = ']';
        body[n] = '}';
        char text[1200];
        int k = snprintf(
                text, sizeof text,
                "POST /api/calc HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: %s=%s\r\n"
                "Content-Type: application/json\r\nContent-Length: %zu\r\nConnection: "
                "close\r\n\r\n%s",
                s->w.host, s->w.host, s->w.cookie_name, s->own, strlen(body), body),
            fd = wire_connect(&s->w);
        assert_true(fd >= 0 && wire_write(fd, text, (size_t)k));
        wire_read(fd, answer, sizeof answer);
        close(fd);
        bool refused = strstr(answer, "The body is not JSON as expected.") != NULL;
        if (refused != (deep > 64)) fail_msg("%d deep: %.400s", deep, answer);
    }
}

static void a_table_has_a_million_rows(void **state) {
    (void)state;
    enum { MOST = 1000000 };
    struct csv_table table;
    for (size_t rows = MOST; rows <= MOST + 1; rows++) {
        struct arena *arena = arena_new();
        struct error err = {0};
        char *text = test_malloc(2 * rows);
        for (size_t i = 0; i < rows; i++)
            memcpy(text + 2 * i, "a\n", 2);
        int rc = csv_read(&table, text, 2 * rows, NULL, arena, &err);
        assert_int_equal(rc == 0, rows == MOST);
        if (rc) assert_non_null(strstr(err.message, "more rows than can be taken at once"));
        test_free(text);
        arena_free(arena);
    }
}

/* ---- files written --------------------------------------------------------------------------- */

static void nothing_is_written_over(void **state) {
    const struct served *s = *state;
    struct error err = {0};
    char path[160], part[200];
    const char *bytes;
    size_t n;
    snprintf(path, sizeof path, "%s/once.txt", s->w.folder);
    snprintf(part, sizeof part, "%s.part-%ld", path, (long)getpid());
    check_ok(file_write(path, "one", 3, false, &err), &err);
    assert_int_equal(file_write(path, "two", 3, false, &err), ERR_FILE);
    error_clear(&err);
    check_ok(file_read(&bytes, &n, path, 10, s->w.arena, &err), &err);
    assert_true(n == 3 && memcmp(bytes, "one", 3) == 0);
    check_ok(file_write(path, "two", 3, true, &err), &err); /* when it is asked for */
    check_ok(file_read(&bytes, &n, path, 10, s->w.arena, &err), &err);
    assert_true(n == 3 && memcmp(bytes, "two", 3) == 0);
    assert_int_not_equal(access(part, F_OK), 0);
    assert_int_not_equal(file_write(s->w.project, "two", 3, false, &err), 0); /* the open project */
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(headers_stand_on_every_answer),
                                       cmocka_unit_test(the_cookie_is_ours_alone),
                                       cmocka_unit_test(only_this_machine_unless_shared),
                                       cmocka_unit_test(only_pictures_are_shown),
                                       cmocka_unit_test(json_is_sixty_four_deep),
                                       cmocka_unit_test(a_table_has_a_million_rows),
                                       cmocka_unit_test(nothing_is_written_over)};
    return cmocka_run_group_tests(tests, open_one, close_one);
}
