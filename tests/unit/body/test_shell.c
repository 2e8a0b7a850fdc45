/* The shell and its parts: derivatives against differences, invariance under turning and mirroring,
 * refusals. Nothing here is compared with a stored number of our own. */
#include "body/equilibrium.h"
#include "body/part.h"
#include "body/shell.h"

#include "check.h"

enum { NX = 5, NY = 4, NV = (NX + 1) * (NY + 1), NF = 2 * NX * NY };

struct grid {
    double x[NV][3];
    int tri[NF][3];
};

static unsigned long long seed_state = 7;
static double any(void) { /* repeatable numbers in -0.5 .. 0.5 */
    seed_state = seed_state * 6364136223846793005ull + 1442695040888963407ull;
    return (double)(seed_state >> 11) / 9007199254740992.0 - 0.5;
}

static void grid_fill(struct grid *g, double lx, double ly) {
    for (int j = 0; j <= NY; j++)
        for (int i = 0; i <= NX; i++) {
            double *p = g->x[j * (NX + 1) + i];
            int inner = i > 0 && i < NX && j > 0 && j < NY;
            p[0] = lx * (i + inner * 0.4 * any()) / NX;
            p[1] = ly * (j + inner * 0.4 * any()) / NY;
            p[2] = 0;
        }
    for (int j = 0, k = 0; j < NY; j++)
        for (int i = 0; i < NX; i++) {
            int a = j * (NX + 1) + i, b = a + 1, c = a + NX + 1, d = c + 1;
            const int t[2][3] = {{a, b, d}, {a, d, c}}, u[2][3] = {{a, b, c}, {b, d, c}};
            memcpy(g->tri[k], any() > 0 ? t : u, sizeof t);
            k += 2;
        }
}

static struct body_laminate two_layers(void) {
    const struct body_ply plies[2] = {{.e1 = 1200,
                                       .e2 = 500,
                                       .nu12 = 0.35,
                                       .g12 = 250,
                                       .thickness = 4,
                                       .density = 6e-4,
                                       .free2 = -0.01},
                                      {.e1 = 90,
                                       .e2 = 60,
                                       .nu12 = 0.2,
                                       .g12 = 20,
                                       .thickness = 2,
                                       .angle = 0.3,
                                       .density = 3e-4}};
    struct body_laminate l;
    struct error err = {0};
    check_ok(body_laminate_make(&l, plies, 2, &err), &err);
    return l;
}

/* A shell with every kind of part, at rest. */
static struct body_shell *everything(const struct grid *g) {
    struct error err = {0};
    struct body_shell *s;
    struct body_shell_mesh mesh = {NV, NF, g->x, g->tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    struct body_laminate l = two_layers();
    for (size_t f = 0; f < NF; f++) {
        check_ok(body_shell_axis(s, f, (double[3]){0.8, 0.6, 0}, &err), &err);
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, (double[3]){0.01, -0.02, 0.005},
                           (double[3]){0.001, 0.006, -0.002});
    }
    struct body_lath lath = {.a = {10, 12, 0},
                             .b = {88, 61, 0},
                             .ei = 1e5,
                             .gj = 2e4,
                             .ea = 5e4,
                             .z = 2,
                             .curvature = 0.002,
                             .strain = -0.01,
                             .mass = 0.01};
    check_ok(body_part_lath(s, &lath, 0.99, NULL, &err), &err);
    int chain[NX + 1], near[4];
    for (int i = 0; i <= NX; i++)
        chain[i] = i;
    struct body_edge_rod edge = {.vertices = chain,
                                 .n = NX + 1,
                                 .ei_normal = 2e5,
                                 .ei_inplane = 3e5,
                                 .gj = 1e5,
                                 .ea = 4e4,
                                 .z = 1,
                                 .strain = 0.01,
                                 .set_normal = 0.003};
    check_ok(body_part_edge_rod(s, &edge, NULL, &err), &err);
    size_t node[4];
    for (int i = 0; i < 4; i++) {
        near[i] = NV - 1 - i;
        const double *p = g->x[near[i]];
        check_ok(body_part_node(s, (double[3]){p[0] + 1 + i % 2, p[1] + 3, 4}, &node[i], &err),
                 &err);
    }
    struct body_rod rod = {.nodes = node, .n = 4, .ei = 2e5, .ea = 3e4, .set = 0.7, .near = near};
    check_ok(body_part_rod(s, &rod, NULL, &err), &err);
    struct body_tie tie = {
        .node = node[1], .face = NF - 2, .bary = {0.2, 0.3, 0.5}, .off = 3, .stiffness = 50};
    check_ok(body_part_tie(s, &tie, NULL, &err), &err);
    tie.node = node[2];
    tie.cord = 1;
    tie.slack = -3;
    check_ok(body_part_tie(s, &tie, NULL, &err), &err);
    size_t pair[2] = {3, node[0]};
    double weight[2][3] = {{1, 2, 3}, {-1, 0.5, 1}};
    struct body_spring spring = {pair, (const double(*)[3])weight, 2, 30, 2};
    check_ok(body_part_spring(s, &spring, NULL, &err), &err);
    int a[2] = {0, NX + 1}, b[2] = {NX, 2 * NX + 1};
    struct body_grip grip = {.seat = {a, b},
                             .n = {2, 2},
                             .chord = 90,
                             .chord_stiffness = 400,
                             .slope = {0.2, 0.3},
                             .slope_stiffness = 2e4};
    check_ok(body_part_grip(s, &grip, NULL, &err), &err);
    struct body_former post = {
        .at = {40, 30, -38}, .axis = {1, 0.3, 0}, .radius = 40, .stiffness = 0.05};
    check_ok(body_part_former(s, &post, NULL, &err), &err);
    struct body_former floor = {.at = {0, 0, 1}, .axis = {0.1, 0, 1}, .stiffness = 0.05};
    check_ok(body_part_former(s, &floor, NULL, &err), &err);
    check_ok(body_shell_prepare(s, &err), &err);
    return s;
}

static void bend_at_random(struct body_shell *s, double places, double tilts) {
    size_t n = body_shell_unknowns(s);
    double *d = calloc(n, sizeof *d);
    for (size_t i = 0; i < n; i++)
        d[i] = (i < 5 * NV && i % 5 > 2 ? tilts : places) * 2 * any();
    body_shell_shift(s, d);
    free(d);
}

static void test_derivatives(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    grid_fill(&g, 100, 80);
    struct body_shell *s = everything(&g);
    for (int with_axes = 0; with_axes < 2; with_axes++) {
        if (with_axes) {
            const double q[3][3] = {{0.6, 0.8, 0}, {-0.8, 0.6, 0}, {0, 0, 1}};
            for (size_t v = 2; v < NV; v += 3)
                body_shell_support_axes(s, v, q);
        }
        body_shell_force(s, BODY_LOAD_STEADY, 7, (double[3]){1, 2, 3});
        size_t n = body_shell_unknowns(s);
        double *grad = calloc(n, 8), *d = calloc(n, 8), *kd = calloc(n, 8), *g0 = calloc(n, 8),
               *g1 = calloc(n, 8);
        struct body_state *at;
        for (int k = 0; k < 5; k++) {
            body_shell_reset(s);
            bend_at_random(s, 3, 0.25);
            check_ok(body_state_save(&at, s, &err), &err);
            check_ok(body_shell_gradient(s, grad, &err), &err);
            double along = 0, h = 1e-5, e[2];
            for (size_t i = 0; i < n; i++) {
                d[i] = any() * (i < 5 * NV && i % 5 > 2 ? 0.02 : 1);
                along += grad[i] * d[i];
            }
            for (int side = 0; side < 2; side++) {
                for (size_t i = 0; i < n; i++)
                    kd[i] = (side ? h : -h) * d[i];
                body_state_load(s, at);
                body_shell_shift(s, kd);
                e[side] = body_shell_potential(s);
                check_ok(body_shell_gradient(s, side ? g1 : g0, &err), &err);
            }
            check_rel((e[1] - e[0]) / (2 * h), along, 1e-6);
            body_state_load(s, at);
            check_ok(body_shell_hessian_times(s, d, kd, &err), &err);
            /* d.K.d from differences of the gradient; the tangent axes turn with the state, which
             * adds nothing along d itself at second order */
            double second = 0, want = 0;
            for (size_t i = 0; i < n; i++) {
                second += d[i] * (g1[i] - g0[i]) / (2 * h);
                want += d[i] * kd[i];
            }
            check_rel(second, want, 1e-6);
            body_state_free(at);
        }
        free(grad), free(d), free(kd), free(g0), free(g1);
    }
    body_shell_free(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_derivatives)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
