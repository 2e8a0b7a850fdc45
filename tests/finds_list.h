/* finds_list: a demo finds list as a struct find, brought in as a person would, for tests of the
 * rooms that take one. The list is read into a project file in a temporary folder and snapped. */
#ifndef RELICT_TESTS_FINDS_LIST_H
#define RELICT_TESTS_FINDS_LIST_H

#include "job/kinds.h"
#include "job/snapshot.h"
#include "record/import.h"

#include <unistd.h>

#include "check.h"

struct finds_list {
    struct arena *arena;
    struct find find; /* measures have room for 8 more */
};

static inline void finds_list_text(struct arena *arena, const char *name, char **text, size_t *n) {
    FILE *f = fopen(check_source_path(name), "rb");
    if (!f) fail_msg("%s cannot be opened", name);
    *text = arena_alloc(arena, 1 << 20, 1);
    *n = fread(*text, 1, 1 << 20, f);
    fclose(f);
}

/* Reads "demo/tray/finds.csv"; free with finds_list_free. */
static inline void finds_list_read(struct finds_list *l, const char *name) {
    struct error err = {0};
    struct record *record;
    struct snapshot now;
    struct import_report report;
    char folder[] = "/tmp/relict-test-XXXXXX", path[64], *text;
    struct record_options options = {.kinds = job_kinds, .n_kinds = job_kind_count()};
    struct record_start start = {.title = "test", .who = "test", .when = "2026-01-01T00:00:00Z"};
    struct import_list list = {
        .name = "finds.csv", .who = "test", .when = "2026-01-01T00:00:00Z", .why = "test"};
    l->arena = arena_new();
    finds_list_text(l->arena, name, &text, &list.n);
    list.bytes = text;
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/test.relict", folder);
    check_ok(record_new(&record, path, &start, &options, &err), &err);
    check_ok(import_finds(&report, record, &list, l->arena, &err), &err);
    check_ok(snapshot_read(&now, record, l->arena, &err), &err);
    check_ok(record_close(record, &err), &err);
    unlink(path);
    rmdir(folder);
    l->find = now.find;
    struct measure *more = ARENA_NEW(l->arena, struct measure, now.find.measure_count + 8);
    memcpy(more, now.find.measures, now.find.measure_count * sizeof *more);
    l->find.measures = more;
}

static inline void finds_list_free(struct finds_list *l) {
    arena_free(l->arena);
}

#endif
