/* serve: answers over the wire packed by gzip are the plain ones, and are packed only for a browser
 * that takes it and where it helps. Unpacked by zlib, the other way of what is tried. */
#include "wire.h"

#include <zlib.h>

enum { ROOM = 400000 };

struct answer {
    char text[ROOM];
    const char *body;
    size_t n; /* bytes of the body */
    bool packed;
};

static struct answer *ask(const struct wire *w, const char *path, const char *takes) {
    char request[400];
    struct answer *a = test_calloc(1, sizeof *a);
    int k = snprintf(request, sizeof request,
                     "GET %s HTTP/1.1\r\nHost: %s\r\n%sConnection: close\r\n\r\n", path, w->host,
                     takes);
    int fd = wire_connect(w);
    assert_true(fd >= 0 && wire_write(fd, request, (size_t)k));
    size_t n = wire_read(fd, a->text, sizeof a->text);
    close(fd);
    assert_memory_equal(a->text, "HTTP/1.1 200", 12);
    const char *end = strstr(a->text, "\r\n\r\n");
    assert_non_null(end);
    a->body = end + 4;
    a->n = n - (size_t)(a->body - a->text);
    const char *coding = strstr(a->text, "Content-Encoding: gzip");
    a->packed = coding && coding < end;
    return a;
}

static void packed_is_the_same(void **state) {
    (void)state;
    static const char *const pages[] = {"/main.js", "/look.css", "/index.html"};
    static unsigned char out[ROOM];
    struct wire w;
    wire_begin(&w, &(struct server_options){0});
    size_t all = 0, less = 0;
    for (int i = 0; i < 3; i++) {
        struct answer *plain = ask(&w, pages[i], ""),
                      *packed = ask(&w, pages[i], "Accept-Encoding: gzip, deflate, br\r\n");
        assert_false(plain->packed);
        assert_true(packed->packed);
        z_stream z = {.next_in = (Bytef *)(uintptr_t)packed->body,
                      .avail_in = (uInt)packed->n,
                      .next_out = out,
                      .avail_out = sizeof out};
        assert_int_equal(inflateInit2(&z, 15 + 16), Z_OK);
        assert_int_equal(inflate(&z, Z_FINISH), Z_STREAM_END);
        assert_int_equal(z.total_out, plain->n);
        assert_memory_equal(out, plain->body, plain->n);
        inflateEnd(&z);
        all += plain->n;
        less += packed->n;
        test_free(plain);
        test_free(packed);
    }
    check_note("%zu bytes went as %zu", all, less);
    assert_true(less < all / 2);
    wire_end(&w);
}

static void not_packed_where_it_does_not_help(void **state) {
    (void)state;
    static const char *const takes[][2] = {
        {"/main.js", "Accept-Encoding: br\r\n"},
        {"/main.js", "Accept-Encoding: gzip;q=0\r\n"},
        {"/mark.svg", "Accept-Encoding: gzip\r\n"},    /* small */
        {"/andika.woff", "Accept-Encoding: gzip\r\n"}, /* packed by itself */
    };
    struct wire w;
    wire_begin(&w, &(struct server_options){0});
    for (int i = 0; i < 4; i++) {
        struct answer *a = ask(&w, takes[i][0], takes[i][1]);
        if (a->packed) fail_msg("%s was packed for \"%s\"", takes[i][0], takes[i][1]);
        test_free(a);
    }
    wire_end(&w);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(packed_is_the_same),
                                       cmocka_unit_test(not_packed_where_it_does_not_help)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
