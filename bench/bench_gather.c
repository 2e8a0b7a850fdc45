/* Speed of material and trials: sixty parts on six stems, forty candidates ranked, half a million
 * points laid on a surface. Prints figures beside what was asked for. Wall seconds. */
#include "bench.h"

#include "gather/nest.h"
#include "num/random.h"
#include "trial/scan.h"
#include "trial/trial.h"
#include "trial/trial_plan.h"

#include <math.h>
#include <string.h>
#include <sys/resource.h>

static struct error err;

static void layout(struct arena *a) {
    double panel[3][8] = {{0, 0, 400, 0, 400, 180, 0, 180},
                          {0, 0, 300, 20, 300, 160, 0, 140},
                          {0, 0, 250, 0, 230, 90, 20, 90}};
    double oval[48], round[32], stem[6][8], knot[6][8];
    for (int i = 0; i < 24; i++) {
        oval[2 * i] = 180 * cos(2 * M_PI * i / 24);
        oval[2 * i + 1] = 110 * sin(2 * M_PI * i / 24);
    }
    for (int i = 0; i < 16; i++) {
        round[2 * i] = 60 * cos(2 * M_PI * i / 16);
        round[2 * i + 1] = 60 * sin(2 * M_PI * i / 16);
    }
    struct nest_part part[] = {{"panel", {4, panel[0]}, 12, true, false},
                               {"side", {4, panel[1]}, 14, true, true},
                               {"end", {4, panel[2]}, 14, true, true},
                               {"oval", {24, oval}, 8, true, true},
                               {"ring", {16, round}, 12, true, true}};
    struct nest_ring fault[6];
    struct nest_sheet sheet[6];
    for (int s = 0; s < 6; s++) {
        double l = 1500 + 100 * s, w = 420 + 15 * s, x = 300 + 120 * s;
        double corners[] = {0, 0, l, 8, l, w - 8, 0, w};
        double hole[] = {x, 150, x + 60, 150, x + 60, 190, x, 190};
        memcpy(stem[s], corners, sizeof corners);
        memcpy(knot[s], hole, sizeof hole);
        fault[s] = (struct nest_ring){4, knot[s]};
        sheet[s] = (struct nest_sheet){"stem", {4, stem[s]}, 1, &fault[s]};
    }
    const struct nest_options options = {.gap = 3, .seed = 1};
    struct nest_layout l;
    double start = bench_wall();
    bench_need(gather_nest(&l, part, 5, sheet, 6, &options, a, &err), &err);
    bench_target("60 parts on 6 stems with faults", bench_wall() - start, 10, "s");
    printf("  %zu of 60 parts placed\n", l.n);
}

static void ranking(struct arena *a) {
    struct num_rows *rows;
    const char *about[20];
    struct candidate c[40];
    bench_need(num_rows_new(&rows, 4096, 3, &err), &err);
    for (int i = 0; i < 20; i++) {
        struct num_dist prior = num_dist_normal(10 + i, 1 + 0.1 * i);
        size_t column;
        about[i] = arena_printf(a, "open.%d", i);
        bench_need(num_rows_root(rows, about[i], &prior, &column, &err), &err);
    }
    for (int k = 0; k < 40; k++) {
        field_unknown(&candidate_kind, &c[k]);
        c[k].id = arena_printf(a, "trial %d", k);
        c[k].column = about[k % 20];
        c[k].about = (struct texts){20, about};
        c[k].outcome = OUTCOME_VALUE;
        c[k].noise = 0.3 + 0.02 * k;
        c[k].tree_spread = 0.5;
        c[k].trees = 3;
        c[k].strips = 2;
        c[k].sheets = 1;
        c[k].hours = 4;
        c[k].days = 28;
    }
    struct plan_limits limits;
    field_unknown(&plan_limits_kind, &limits);
    limits.sheets = 10;
    limits.enough = 0.05;
    limits.seed = 1;
    struct trial_plan plan;
    double start = bench_wall();
    bench_need(trial_plan_make(&plan, c, 40, rows, &limits, a, &err), &err);
    bench_target("40 candidates ranked on 20 open statements", bench_wall() - start, 20, "s");
    num_rows_free(rows);
}

static double height(double x, double y) {
    return 2e-3 * x * x + 8e-4 * x * y - 1.5e-3 * y * y + 8 * sin(x / 25 + y / 20);
}

static void laying(struct arena *a) {
    enum { SIDE = 101, N = 500000 };
    struct scan fixed = {SIDE * SIDE, ARENA_NEW(a, double, 3 * SIDE * SIDE),
                         2 * (SIDE - 1) * (SIDE - 1),
                         ARENA_NEW(a, uint32_t, 6 * (SIDE - 1) * (SIDE - 1))};
    struct scan moving = {N, ARENA_NEW(a, double, 3 * (size_t)N), 0, NULL};
    size_t t = 0;
    for (uint32_t i = 0; i < SIDE; i++)
        for (uint32_t k = 0; k < SIDE; k++) {
            double *p = fixed.xyz + 3 * (i * SIDE + k);
            p[0] = -150 + 3.0 * i;
            p[1] = -100 + 2.0 * k;
            p[2] = height(p[0], p[1]);
            if (i + 1 == SIDE || k + 1 == SIDE) continue;
            uint32_t c = i * SIDE + k, two[6] = {c, c + SIDE, c + 1, c + SIDE, c + SIDE + 1, c + 1};
            memcpy(fixed.corner + t, two, sizeof two);
            t += 6;
        }
    for (size_t i = 0; i < N; i++) {
        struct num_random r;
        num_random_begin(&r, 1, num_hash("scan"), i);
        double x = 290 * num_random_uniform(&r) - 145, y = 190 * num_random_uniform(&r) - 95;
        double *p = moving.xyz + 3 * i;
        p[0] = x * 0.96 - y * 0.28 + 40;
        p[1] = x * 0.28 + y * 0.96 - 30;
        p[2] = height(x, y) + 0.1 * num_random_normal(&r) + 12;
    }
    struct scan_surface surface;
    struct scan_fit fit;
    double start = bench_wall();
    bench_need(scan_surface_build(&surface, &fixed, a, &err), &err);
    struct scan_align_options o = {0};
    struct scan_map map;
    bench_need(scan_align(&fit, &moving, &surface, &o, a, &err), &err);
    bench_need(scan_map_make(&map, &moving, &fit, &surface, 0.3, 20, a, &err), &err);
    bench_target("500,000 points on 20,000 triangles", bench_wall() - start, 5, "s");
    struct rusage use;
    getrusage(RUSAGE_SELF, &use);
    bench_target("memory of all this", (double)use.ru_maxrss / 1024 / 1024, 1, "GB");
}

int main(void) {
    struct arena *a = arena_new();
    printf("Material and trials\n");
    layout(a);
    ranking(a);
    laying(a);
    arena_free(a);
    return 0;
}
