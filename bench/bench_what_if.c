/* Speed of a what-if on a project: the stand-in learned, asked, and the shell; and how far the two
 * are from each other on makings the stand-in has not seen. Usage: bench_what_if FILE.relict (a
 * project whose strength step is worked out); without one it says so. Judges nothing. */
#include "bench.h"

#include "base/mem.h"
#include "job/makings.h"
#include "job/what_if.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ASKED = 1000, TRIED = 24, MOST = 200 };

/* Drags lath `which` by `by` mm. */
static void drag(struct part *parts, size_t n, size_t which, double by) {
    for (size_t i = 0, k = 0; i < n; i++)
        if (parts[i].kind == PART_LATH && k++ == which) parts[i].x += by;
}

int main(int argc, char **argv) {
    if (argc < 2) {
        printf("  give a project file whose strength step is worked out\n");
        return 0;
    }
    struct error err = {0};
    struct job *job;
    struct what_if *w;
    struct arena *arena = arena_new();
    struct job_makings makings;
    bench_need(job_open(&job, argv[1], &(struct job_options){.read_only = true}, &err), &err);
    bench_need(job_makings(&makings, job, arena, &err), &err);
    double t = bench_wall();
    bench_need(what_if_new(&w, job, NULL, &err), &err);
    printf("  %8.1f ms  opening the making\n", 1e3 * (bench_wall() - t));
    static struct part base[MOST], parts[MOST];
    size_t n = 0;
    const struct making *m = makings_leading(&makings.all);
    for (const struct part *p = NULL; n < MOST && (p = makings_part(&makings.all, m->id, -1, p));)
        base[n++] = *p;
    t = bench_wall();
    bench_need(what_if_wait(w, &err), &err);
    printf("  %8.1f ms  learning the stand-in, %d runs (on a thread of its own)\n",
           1e3 * (bench_wall() - t), (int)WHAT_IF_RUNS);

    struct what_if_answer a, b;
    t = bench_wall();
    for (int i = 0; i < ASKED; i++) {
        memcpy(parts, base, n * sizeof *base);
        drag(parts, n, (size_t)i % 7, 0.01 * i);
        bench_need(what_if_quick(&a, w, parts, n, &err), &err);
    }
    bench_target("an answer of the stand-in", 1e3 * (bench_wall() - t) / ASKED, 100, "ms");

    double worst = 0, sum = 0, total = 0, inside = 0, unsure = 0;
    int tried = 0;
    for (int i = 0; i < TRIED; i++) {
        memcpy(parts, base, n * sizeof *base);
        drag(parts, n, (size_t)i % 7, -50 + 100.0 * i / (TRIED - 1));
        drag(parts, n, (size_t)(i + 3) % 7, 40 - 80.0 * i / (TRIED - 1));
        if (what_if_shell(&b, NULL, w, parts, n, &err)) { /* dragged off the sheet */
            error_clear(&err);
            continue;
        }
        tried++;
        bench_need(what_if_quick(&a, w, parts, n, &err), &err);
        double off = a.value[BODY_OUT_RISE] - b.value[BODY_OUT_RISE];
        worst = fmax(worst, b.ms);
        total += b.ms;
        sum += off * off;
        inside += fabs(off) <= 1.6449 * a.sd[BODY_OUT_RISE];
        unsure += a.sd[BODY_OUT_RISE];
    }
    bench_target("an answer of the shell, the slowest", worst, 1000, "ms");
    printf("  %8.1f ms  its mean over %d\n", total / tried, tried);
    printf("  %8.4f mm  rise: stand-in less shell, rms over %d unseen makings; it said ± %.4f (one "
           "sd), %.0f %% inside its 90 %%\n",
           sqrt(sum / tried), tried, unsure / tried, 100 * inside / tried);
    printf("  %8.4f mm  rise of the making as it stands, from the shell\n",
           b.before[BODY_OUT_RISE]);
    what_if_free(w);
    job_close(job);
    arena_free(arena);
    return 0;
}
