/* Speed of the shell: a barky tray with five laths, from flat and from a neighbour, at several
 * sizes; 256 small runs side by side; the mesher. Prints tables, judges nothing. Process seconds of
 * one core unless said otherwise. */
#include "bench.h"

#include "base/parallel.h"
#include "body/equilibrium.h"
#include "body/part.h"
#include "plane/mesh.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { OUTLINE = 480, LATHS = 5 };

static double seconds(clockid_t clock) {
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}
#define CPU seconds(CLOCK_THREAD_CPUTIME_ID)
#define WALL seconds(CLOCK_MONOTONIC)

static struct plane_mesh *tray(size_t triangles) {
    double xy[2 * OUTLINE];
    for (int i = 0; i < OUTLINE; i++) {
        double t = 2 * M_PI * i / OUTLINE, c = cos(t), s = sin(t);
        xy[2 * i] = 350 * copysign(pow(fabs(c), 0.8), c);
        xy[2 * i + 1] = 175 * copysign(pow(fabs(s), 0.8), s);
    }
    struct plane_loop loop = {xy, OUTLINE};
    struct plane_mesh_options o = {.triangles = triangles};
    struct error err = {0};
    struct plane_mesh *m;
    bench_need(plane_mesh_new(&m, &loop, 1, &o, &err), &err);
    return m;
}

static void dress(struct body_shell *s, double tree_radius) {
    struct body_ply ply = {.e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = 6};
    struct body_laminate l;
    struct error err = {0};
    bench_need(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < body_shell_faces(s); f++) {
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, NULL, (double[3]){0, 1 / tree_radius, 0});
    }
}

static struct body_shell *shell_of(const struct plane_mesh *m) {
    struct error err = {0};
    struct body_shell *s;
    double(*x)[3] = calloc(m->nv, sizeof *x);
    for (size_t v = 0; v < m->nv; v++)
        memcpy(x[v], m->p[v], sizeof m->p[v]);
    struct body_shell_mesh mesh = {m->nv, m->nf, (const double(*)[3])x, (const int(*)[3])m->tri,
                                   NULL};
    bench_need(body_shell_new(&s, &mesh, &err), &err);
    free(x);
    dress(s, 180);
    for (int k = 0; k < LATHS; k++) {
        double at = 118.37 * (k - LATHS / 2), h = 170 * pow(1 - pow(fabs(at) / 350, 2.5), 0.4);
        struct body_lath lath = {.a = {at, -h, 0},
                                 .b = {at, h, 0},
                                 .ei = 10000 * 20 * 125 / 12.0,
                                 .gj = 600 * 20 * 125 / 3.0,
                                 .ea = 10000 * 100};
        bench_need(body_part_lath(s, &lath, 0.95, NULL, &err), &err);
    }
    return s;
}

/* What is asked of this size, symbolic work done; the net is of about the size wanted. */
static void bench_size(size_t nf, double cold, double warm, double adjoint) {
    static const struct asked {
        double size, cold, warm;
    } list[] = {{600, 0.04, 0}, {2400, 0.20, 0.09}, {5000, 0.45, 0.20}};
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        if (fabs((double)nf / list[i].size - 1) > 0.1) continue;
        bench_target("    cold from flat", cold, list[i].cold, "s");
        if (list[i].warm > 0) bench_target("    warm neighbour", warm, list[i].warm, "s");
        bench_target("    sensitivities of one answer, more", adjoint, 0.01, "s");
    }
}

static void table_sizes(void) {
    printf("tray with five laths      mesh ms  symbolic s  cold s (its)  warm s (its)  adjoint s  "
           "Mflop  entries\n");
    const size_t want[] = {600, 1200, 2400, 5000, 10000};
    double first = 0, first_n = 0;
    for (size_t k = 0; k < sizeof want / sizeof *want; k++) {
        struct error err = {0};
        struct body_solve cold, warm;
        double t0 = CPU;
        struct plane_mesh *m = tray(want[k]);
        double t_mesh = CPU - t0;
        struct body_shell *s = shell_of(m);
        t0 = CPU;
        bench_need(body_shell_prepare(s, &err), &err);
        double t_symbolic = CPU - t0, best_cold = 1e9, best_warm = 1e9, best_adjoint = 1e9, entries,
               flops;
        bench_need(body_shell_hold(s, &err), &err);
        double *h = calloc(body_shell_unknowns(s), sizeof *h),
               *a = calloc(body_shell_unknowns(s), sizeof *a);
        h[7] = 1;
        for (int rep = 0; rep < 3; rep++) {
            dress(s, 180);
            body_shell_reset(s);
            t0 = CPU;
            bench_need(body_equilibrium(&cold, s, NULL, &err), &err);
            best_cold = fmin(best_cold, CPU - t0);
            dress(s, 180 * 1.03);
            t0 = CPU;
            bench_need(body_equilibrium(&warm, s, NULL, &err), &err);
            best_warm = fmin(best_warm, CPU - t0);
            t0 = CPU;
            bench_need(body_equilibrium_adjoint(a, s, h, &err), &err);
            best_adjoint = fmin(best_adjoint, CPU - t0);
        }
        body_equilibrium_cost(s, &entries, &flops);
        printf("%6zu triangles %6zu unknowns %6.1f  %8.4f  %8.4f (%zu)  %8.4f (%zu)  %8.4f  %7.1f  "
               "%8.0f\n",
               m->nf, body_shell_unknowns(s), 1e3 * t_mesh, t_symbolic, best_cold, cold.iterations,
               best_warm, warm.iterations, best_adjoint, flops / 1e6, entries);
        bench_size(m->nf, best_cold, best_warm, best_adjoint);
        if (k == 0)
            first = best_cold, first_n = (double)m->nf;
        else
            bench_target("    exponent of cost against size since the first row",
                         log(best_cold / first) / log((double)m->nf / first_n), 1.5, "");
        free(h);
        free(a);
        body_shell_free(s);
        plane_mesh_free(m);
    }
}

struct crowd {
    const struct plane_mesh *mesh;
    double rise[256];
};

static void crowd_run(size_t begin, size_t end, size_t index, void *context) {
    (void)index;
    struct crowd *c = context;
    struct error err = {0};
    struct body_shell *s = shell_of(c->mesh);
    bench_need(body_shell_prepare(s, &err), &err);
    bench_need(body_shell_hold(s, &err), &err);
    for (size_t i = begin; i < end; i++) {
        dress(s, 120 + (double)i / 2);
        body_shell_reset(s);
        bench_need(body_equilibrium(NULL, s, NULL, &err), &err);
        c->rise[i] = body_shell_place(s)[0][2];
    }
    body_shell_free(s);
}

static void table_crowd(void) {
    struct crowd c = {.mesh = tray(600)};
    for (unsigned threads = 1; threads <= 2; threads++) {
        parallel_set_threads(threads);
        double t0 = WALL;
        parallel_for(256, 16, crowd_run, &c);
        printf("256 cold runs of %zu triangles on %u thread%s: %.2f s on the clock\n", c.mesh->nf,
               threads, threads > 1 ? "s" : "", WALL - t0);
        if (threads == 2) bench_target("    256 such runs on two cores", WALL - t0, 10, "s");
    }
    plane_mesh_free((struct plane_mesh *)c.mesh);
}

int main(void) {
    table_sizes();
    table_crowd();
    return 0;
}
