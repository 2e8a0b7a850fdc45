/* The invented projects: every file of the folders comes in, and the drawn outlines have the sizes
 * of the lists. */
#include "job/kinds.h"
#include "job/snapshot.h"
#include "record/import.h"

#include <unistd.h>

#include "check.h"

static struct arena *arena;

static void file_text(struct import_more *more, const char *folder, const char *name) {
    char path[128];
    snprintf(path, sizeof path, "demo/%s/%s", folder, name);
    FILE *f = fopen(check_source_path(path), "rb");
    if (!f) fail_msg("%s cannot be opened", path);
    char *text = arena_alloc(arena, 1 << 18, 1);
    *more = (struct import_more){.name = arena_strdup(arena, name),
                                 .bytes = text,
                                 .n = fread(text, 1, 1 << 18, f),
                                 .who = "test",
                                 .when = "2026-01-01T00:00:00Z",
                                 .why = "test"};
    fclose(f);
}

static void outlines_fit(const struct find *f) {
    for (size_t i = 0; i < f->outline_count; i++) {
        const struct piece_outline *o = &f->outlines[i];
        const struct measure *l = find_measure_of(f, o->piece, QUANTITY_LENGTH);
        const struct measure *w = find_measure_of(f, o->piece, QUANTITY_WIDTH);
        double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
        assert_int_equal(o->surviving.n, o->points.n);
        if (find_measure_of(f, o->piece, QUANTITY_SAGITTA)) continue; /* bent: drawn by its arc */
        for (size_t k = 0; k < o->points.n; k++)
            for (int c = 0; c < 2; c++) {
                low[c] = fmin(low[c], o->points.v[2 * k + c]);
                high[c] = fmax(high[c], o->points.v[2 * k + c]);
            }
        if (fabs(high[0] - low[0] - l->value) > 0.05 || fabs(high[1] - low[1] - w->value) > 0.05)
            fail_msg("%s is drawn %.1f x %.1f", o->piece, high[0] - low[0], high[1] - low[1]);
    }
}

static void take_folder(const char *folder, long rows) {
    static const char *const tables[][2] = {{"source", "source.csv"},
                                            {"handling", "handling.csv"},
                                            {"choice", "choice.csv"},
                                            {"mark", "mark.csv"}};
    struct error err = {0};
    struct record *record;
    struct snapshot now;
    struct import_more more;
    struct import_report report;
    char temp[] = "/tmp/relict-test-XXXXXX", path[64];
    struct record_options options = {.kinds = job_kinds, .n_kinds = job_kind_count()};
    struct record_start start = {.title = "test", .who = "test", .when = "2026-01-01T00:00:00Z"};
    arena = arena_new();
    assert_non_null(mkdtemp(temp));
    snprintf(path, sizeof path, "%s/test.relict", temp);
    check_ok(record_new(&record, path, &start, &options, &err), &err);
    file_text(&more, folder, "finds.csv");
    struct import_list list = {more.name, more.bytes, more.n,    NULL,    NULL,
                               false,     more.who,   more.when, more.why};
    check_ok(import_finds(&report, record, &list, arena, &err), &err);
    assert_int_equal(report.accepted, rows);
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        long count;
        file_text(&more, folder, tables[i][1]);
        check_ok(import_entries(&count, record, tables[i][0], &more, arena, &err), &err);
        assert_true(count > 0);
    }
    long outlines;
    struct control_fit fit;
    file_text(&more, folder, "outlines.geojson");
    check_ok(import_outlines(&outlines, &fit, record, &more, NULL, arena, &err), &err);
    assert_true(outlines > 30);
    check_ok(snapshot_read(&now, record, arena, &err), &err);
    outlines_fit(&now.find);
    for (size_t i = 0; i < now.find.source_count; i++) { /* photos lie beside */
        const struct source *s = &now.find.sources[i];
        char name[80];
        if (s->kind != SOURCE_PHOTO) continue;
        snprintf(name, sizeof name, "files/%s", s->file);
        file_text(&more, folder, name);
        assert_memory_equal(more.bytes, "\x89PNG", 4);
        /* of a piece of the find; that of a trial is named by the trial's readings */
        assert_true(s->about.n >= 1 || strstr(s->title, " of trial "));
        for (size_t k = 0; k < s->about.n; k++)
            assert_non_null(find_piece(&now.find, s->about.v[k]));
    }
    for (size_t i = 0; i < now.find.choice_count;
         i++) { /* a guess names a rival, and who holds it */
        assert_non_null(now.find.choices[i].rival);
        assert_non_null(now.find.choices[i].who);
    }
    check_ok(record_close(record, &err), &err);
    unlink(path);
    rmdir(temp);
    arena_free(arena);
}

static void tray_comes_in(void **state) {
    (void)state;
    take_folder("tray", 42);
}
static void cradle_comes_in(void **state) {
    (void)state;
    take_folder("cradle", 38);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(tray_comes_in),
                                       cmocka_unit_test(cradle_comes_in)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
