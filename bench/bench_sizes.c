/* Speed of the sizes: the tray, and the tray's list repeated over and over as one find, so that its
 * growth is seen. Prints a table, judges nothing. Wall seconds. */
#include "bench.h"

#include "job/kinds.h"
#include "job/snapshot.h"
#include "record/import.h"
#include "remains/sizes.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void tray(struct find *find, struct arena *arena) {
    struct error err = {0};
    struct record *record;
    struct snapshot now;
    struct import_report report;
    char folder[] = "/tmp/relict-bench-XXXXXX", path[64];
    const char *root = getenv("RELICT_SOURCE");
    char *text = arena_alloc(arena, 1 << 16, 1), *name;
    name = arena_printf(arena, "%s/demo/tray/finds.csv", root ? root : ".");
    FILE *f = fopen(name, "rb");
    if (!f || !mkdtemp(folder)) exit(1);
    struct record_options options = {.kinds = job_kinds, .n_kinds = job_kind_count()};
    struct record_start start = {.title = "bench", .who = "bench", .when = "2026-01-01T00:00:00Z"};
    struct import_list list = {.name = "finds.csv",
                               .bytes = text,
                               .who = "bench",
                               .when = "2026-01-01T00:00:00Z",
                               .why = "bench"};
    list.n = fread(text, 1, 1 << 16, f);
    fclose(f);
    snprintf(path, sizeof path, "%s/bench.relict", folder);
    bench_need(record_new(&record, path, &start, &options, &err), &err);
    bench_need(import_finds(&report, record, &list, arena, &err), &err);
    bench_need(snapshot_read(&now, record, arena, &err), &err);
    bench_need(record_close(record, &err), &err);
    unlink(path);
    rmdir(folder);
    *find = now.find;
}

static char *id(struct arena *arena, const char *old, size_t copy) {
    return old ? arena_printf(arena, "%zu_%s", copy, old) : NULL;
}

/* The find `times` over, every id its own. */
static struct find repeated(const struct find *f, size_t times, struct arena *arena) {
    struct find out = {.pieces = ARENA_NEW(arena, struct piece, times * f->piece_count),
                       .measures = ARENA_NEW(arena, struct measure, times * f->measure_count),
                       .marks = ARENA_NEW(arena, struct mark, times * f->mark_count)};
    for (size_t t = 0; t < times; t++) {
        for (size_t i = 0; i < f->piece_count; i++) {
            struct piece *p = &out.pieces[out.piece_count++];
            *p = f->pieces[i];
            p->id = id(arena, p->id, t);
            p->joins = (struct texts){0};
        }
        for (size_t i = 0; i < f->measure_count; i++) {
            struct measure *m = &out.measures[out.measure_count++];
            *m = f->measures[i];
            m->id = id(arena, m->id, t);
            m->piece = id(arena, m->piece, t);
            m->mark = id(arena, m->mark, t);
        }
        for (size_t i = 0; i < f->mark_count; i++) {
            struct mark *k = &out.marks[out.mark_count++];
            *k = f->marks[i];
            k->id = id(arena, k->id, t);
            k->piece = id(arena, k->piece, t);
        }
    }
    return out;
}

int main(void) {
    struct error err = {0};
    struct arena *keep = arena_new();
    struct find one;
    tray(&one, keep);
    double first = 0, before = 0;
    printf("%8s %10s %12s %10s %10s %9s\n", "rows", "measures", "statements", "columns", "seconds",
           "exponent");
    for (size_t times = 1; times <= 64; times *= 4) {
        struct arena *arena = arena_new();
        struct find f = times == 1 ? one : repeated(&one, times, arena);
        struct num_rows *rows;
        struct sizes sizes;
        struct statement_set *said = statement_set_new(arena);
        bench_need(num_rows_new(&rows, 0, 1, &err), &err);
        double begin = bench_wall();
        bench_need(remains_sizes(&sizes, &f, rows, said, arena, &err), &err);
        double took = bench_wall() - begin;
        if (times == 1) first = took;
        printf("%8zu %10zu %12zu %10zu %10.3f", f.piece_count, f.measure_count,
               statement_count(said), num_rows_columns(rows), took);
        if (times > 1) printf(" %9.2f", log(took / before) / log(4));
        printf("\n");
        before = took;
        num_rows_free(rows);
        arena_free(arena);
    }
    bench_target("sizes of the tray", first, 0.3, "s");
    arena_free(keep);
    return 0;
}
