/* Speed and memory of paper: 1:1 plans of objects of several sizes on A4, A3 and a roll; the
 * argument of a project when one is named. Prints tables, judges nothing. Wall seconds, and beside
 * them those of the processor, for a machine that is busy otherwise; memory is the most the process
 * has held so far. */
#include "bench.h"

#include "../tests/unit/show/plan_sample.h"
#include "job/job.h"
#include "tell/assemble.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

static double most_mb(void) {
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return (double)u.ru_maxrss / 1024;
}

static void plan(double scale, enum plan_paper paper, const char *name,
                 struct show_shaper *shaper) {
    static struct plan_sample s;
    struct error err = {0};
    struct arena *arena = arena_new();
    struct show_drawing **pages;
    struct show_out pdf = {0};
    size_t n;
    plan_sample(&s, scale);
    const struct plan_options o = {.paper = paper, .roll_width = 2400};
    const struct show_pdf_options p = {.title = "Plan", .theme = SHOW_PRINT};
    clock_t busy = clock();
    double from = bench_wall();
    bench_need(plan_pages(&pages, &n, &s.plan, &o, shaper, arena, &err), &err);
    bench_need(show_pdf_write(&pdf, (const struct show_drawing *const *)pages, n, &p, shaper, &err),
               &err);
    double took = bench_wall() - from, used = (double)(clock() - busy) / CLOCKS_PER_SEC;
    bool asked = paper == PLAN_A4 && 520 * scale > 1999;
    printf("%6.0f mm  %-6s %4zu sheets  %6.2f s (%.2f of processor)  %6.0f kB  %5.0f MB%s\n",
           520 * scale, name, n, took, used, (double)pdf.n / 1024, most_mb(),
           !asked      ? ""
           : took <= 2 ? "   asked: 2 s   met"
                       : "   asked: 2 s   missed");
    for (size_t i = 0; i < n; i++)
        show_drawing_free(pages[i]);
    show_out_deinit(&pdf);
    arena_free(arena);
}

/* bench_paper [PROJECT FOLDER] */
int main(int argc, char **argv) {
    struct show_shaper *shaper = show_shaper_new();
    printf("1:1 plans, PDF\n");
    static const double scales[] = {1, 2, 2000 / 520.0};
    for (int i = 0; i < 3; i++) {
        plan(scales[i], PLAN_A4, "A4", shaper);
        plan(scales[i], PLAN_A3, "A3", shaper);
        plan(scales[i], PLAN_ROLL, "roll", shaper);
    }
    show_shaper_free(shaper);
    if (argc < 3) return 0;
    struct error err = {0};
    struct job *job;
    json_t *written;
    const struct job_options who = {.who = "bench", .read_only = true};
    const struct hand_options o = {.paper = PLAN_A4};
    double from = bench_wall();
    bench_need(job_open(&job, argv[1], &who, &err), &err);
    bench_need(tell_write_all(&written, job, argv[2], &o, &err), &err);
    printf("everything of %s: %d files  %6.2f s  %5.0f MB\n", argv[1],
           (int)json_integer_value(json_object_get(written, "files")), bench_wall() - from,
           most_mb());
    json_decref(written);
    job_close(job);
    return 0;
}
