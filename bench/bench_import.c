/* Speed and memory of bringing a long finds list in, and of opening the project afterwards. The
 * list is the rows of the invented tray, repeated under new numbers. */
#include "bench.h"

#include "base/file.h"
#include "record/import.h"
#include "remains/find.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static char *long_list(const char *rows, long n, struct arena *a) {
    const char *first = strchr(rows, '\n') + 1;
    char *text = arena_alloc(a, (size_t)n + 1, 260), *to = text;
    if (!text) return NULL;
    to += sprintf(to, "%.*s", (int)(first - rows), rows);
    const char *row = first;
    for (long i = 0; i < n; i++) {
        const char *end = strchr(row, '\n'), *comma = strchr(row, ',');
        to += sprintf(to, "N%06ld%.*s\n", i, (int)(end - comma), comma);
        row = end[1] ? end + 1 : first;
    }
    return text;
}

static int run(long n, const char *rows, const char *folder) {
    static const struct kind *const kinds[] = {&piece_kind, &measure_kind, &mark_kind_kind};
    char path[200], state[200];
    snprintf(path, sizeof path, "%s/%ld.relict", folder, n);
    snprintf(state, sizeof state, "%s/state", folder);
    struct record_options options = {.kinds = kinds, .n_kinds = 3, .state_folder = state};
    struct record_start start = {.title = "bench", .who = "bench", .when = "2026-01-01"};
    struct arena *a = arena_new();
    struct record *r;
    struct error err = {0};
    struct import_report out;
    struct import_list list = {.name = "list.csv", .who = "bench", .when = "2026-01-01"};
    int rc = record_new(&r, path, &start, &options, &err);
    list.bytes = rc ? NULL : long_list(rows, n, a);
    list.n = list.bytes ? strlen(list.bytes) : 0;
    double begin = bench_wall();
    if (!rc) rc = import_finds(&out, r, &list, a, &err);
    double brought = bench_wall() - begin;
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    if (!rc) rc = record_close(r, &err);
    begin = bench_wall();
    if (!rc) rc = record_open(&r, path, &options, &err);
    double opened = bench_wall() - begin;
    begin = bench_wall();
    struct record_checked checked = {0};
    if (!rc) rc = record_verify(&checked, r, NULL, NULL, &err);
    if (!rc)
        printf("%8ld rows  %8zu entries  import %6.2f s  peak %4ld MB  open %7.4f s  verify %5.2f s"
               "  faults %zu\n",
               n, checked.entries, brought, use.ru_maxrss / 1024, opened, bench_wall() - begin,
               checked.faults);
    else
        printf("%ld rows: %s\n", n, err.message);
    if (!rc && n == 100000) {
        bench_target("100,000 rows brought in", brought, 3, "s");
        bench_target("    memory at its most", (double)use.ru_maxrss / 1024, 300, "MB");
        bench_target("opening a project of 100,000 rows", opened, 0.1, "s");
    }
    if (!rc) record_close(r, NULL);
    unlink(path);
    arena_free(a);
    return rc;
}

int main(int count, char **words) {
    struct arena *a = arena_new();
    struct error err = {0};
    const char *rows, *list = count > 1 ? words[1] : "demo/tray/finds.csv";
    size_t n;
    char folder[] = "/tmp/relict-bench-XXXXXX", command[100];
    if (file_read(&rows, &n, list, 0, a, &err) || !mkdtemp(folder)) {
        printf("%s\n", err.message);
        return 1;
    }
    int rc = 0;
    for (long k = 1000; k <= 100000 && !rc; k *= 10)
        rc = run(k, rows, folder);
    snprintf(command, sizeof command, "rm -rf %s", folder);
    rc |= system(command);
    arena_free(a);
    return rc;
}
