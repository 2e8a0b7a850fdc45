/* serve: the page of the interface is the one that is in doc/, and every row of it is whole. */
#include "serve/api.h"

#include "base/file.h"

#include "check.h"

static void the_page_is_current(void **state) {
    (void)state;
    struct arena *arena = arena_new();
    struct error err = {0};
    const char *stored;
    size_t n;
    char path[600];
    snprintf(path, sizeof path, "%s/doc/api.md", getenv("RELICT_SOURCE"));
    if (file_read(&stored, &n, path, 0, arena, &err)) fail_msg("%s", err.message);
    const char *now = api_document(arena);
    assert_non_null(now);
    if (strcmp(stored, now)) fail_msg("doc/api.md is old: build/relict help api >doc/api.md");
    arena_free(arena);
}

static void every_row_says_what_it_does(void **state) {
    (void)state;
    size_t n = 0;
    for (const struct api_row *r = api_table; r->path; r++, n++) {
        bool known;
        assert_non_null(r->handle);
        assert_true(*r->summary && r->takes);
        assert_true(r->right > KEY_NONE);
        assert_ptr_equal(api_find(r->method, r->path, &known), r);
        /* what only reads is a GET, or computes without entering */
        if (strcmp(r->method, "GET") == 0) assert_true(r->right != KEY_WRITE);
    }
    check_note("%zu rows", n);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_page_is_current),
                                       cmocka_unit_test(every_row_says_what_it_does)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
