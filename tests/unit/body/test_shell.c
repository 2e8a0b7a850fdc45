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
    /* in a pocket with room, and sliding; bent at random some pieces bear, some do not */
    struct body_lath loose = lath;
    loose.a[1] = 70, loose.b[1] = 20;
    loose.play = loose.twist_play = 0.004;
    loose.slides = 1500;
    check_ok(body_part_lath(s, &loose, 0.99, NULL, &err), &err);
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
    struct body_rod rod = {
        .nodes = node, .n = 4, .ei = 2e5, .ei_inplane = 5e5, .ea = 3e4, .set = 0.7, .near = near};
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
    grip.bar_ei = 5e5; /* and one whose bar bends */
    check_ok(body_part_grip(s, &grip, NULL, &err), &err);
    struct body_former post = {
        .at = {40, 30, -38}, .axis = {1, 0.3, 0}, .radius = 40, .stiffness = 0.05};
    check_ok(body_part_former(s, &post, NULL, &err), &err);
    struct body_former floor = {.at = {0, 0, 1}, .axis = {0.1, 0, 1}, .stiffness = 0.05};
    check_ok(body_part_former(s, &floor, NULL, &err), &err);
    check_ok(body_shell_prepare(s, &err), &err);
    return s;
}

static void bend_some(struct body_shell *s, size_t unknowns, double places, double tilts) {
    double *d = calloc(body_shell_unknowns(s), sizeof *d);
    for (size_t i = 0; i < unknowns; i++)
        d[i] = (i < 5 * NV && i % 5 > 2 ? tilts : places) * 2 * any();
    body_shell_shift(s, d);
    free(d);
}

static void bend_at_random(struct body_shell *s, double places, double tilts) {
    bend_some(s, body_shell_unknowns(s), places, tilts);
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

/* The smoother membrane, on layers alike about the middle. */
static void test_smooth_derivatives(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    grid_fill(&g, 100, 80);
    for (int v = 0; v < NV; v++)
        g.x[v][2] = 3 * sin(g.x[v][0] / 20) * cos(g.x[v][1] / 30);
    struct body_shell *s;
    struct body_shell_mesh mesh = {NV, NF, (const double(*)[3])g.x, (const int(*)[3])g.tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    struct body_ply ply = {
        .e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = 4, .angle = 0.4};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < NF; f++) {
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, (double[3]){0.01, -0.02 + 0.001 * (double)f, 0.005},
                           (double[3]){0.001, 0.006, 0});
    }
    check_ok(body_shell_smooth(s, &err), &err);
    check_ok(body_shell_prepare(s, &err), &err);
    size_t n = body_shell_unknowns(s);
    double *grad = calloc(n, 8), *d = calloc(n, 8), *kd = calloc(n, 8), *g0 = calloc(n, 8),
           *g1 = calloc(n, 8);
    struct body_state *at;
    bend_at_random(s, 3, 0.25);
    check_ok(body_state_save(&at, s, &err), &err);
    check_ok(body_shell_gradient(s, grad, &err), &err);
    double along = 0, h = 1e-5, e[2], second = 0, want = 0;
    for (size_t i = 0; i < n; i++) {
        d[i] = any() * (i % 5 > 2 ? 0.02 : 1);
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
    for (size_t i = 0; i < n; i++) {
        second += d[i] * (g1[i] - g0[i]) / (2 * h);
        want += d[i] * kd[i];
    }
    check_rel(second, want, 1e-6);
    free(grad), free(d), free(kd), free(g0), free(g1);
    body_state_free(at);
    body_shell_free(s);
}

static void turn(double out[3], const double in[3], double mirror) {
    const double q[3][3] = {{0.36, 0.48, -0.8}, {-0.8, 0.6, 0}, {0.48, 0.64, 0.6}}; /* a rotation */
    double w[3] = {in[0], in[1] * mirror, in[2]};
    for (int r = 0; r < 3; r++)
        out[r] = q[r][0] * w[0] + q[r][1] * w[1] + q[r][2] * w[2] + 17.0 * (r + 1);
}

static void place_of(double out[3], const double w[3], int moved, double mirror) {
    if (moved)
        turn(out, w, mirror);
    else
        memcpy(out, w, 3 * sizeof *out);
}

/* Every kind of part, carried along. What has a side of the sheet changes sign in the mirror. */
static void parts_placed(struct body_shell *s, const struct grid *g, int moved, double mirror) {
    struct error err = {0};
    struct body_lath lath = {.ei = 1e5,
                             .gj = 2e4,
                             .ea = 5e4,
                             .z = 2 * mirror,
                             .curvature = 0.002 * mirror,
                             .strain = -0.01,
                             .mass = 0.01};
    place_of(lath.a, (double[3]){10, 12, 0}, moved, mirror);
    place_of(lath.b, (double[3]){88, 61, 0}, moved, mirror);
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
                                 .z = mirror,
                                 .strain = 0.01,
                                 .set_normal = 0.003 * mirror};
    check_ok(body_part_edge_rod(s, &edge, NULL, &err), &err);
    size_t node[4];
    for (int i = 0; i < 4; i++) {
        double at[3];
        near[i] = NV - 1 - i;
        const double *p = g->x[near[i]], w[3] = {p[0] + 1 + i % 2, p[1] + 3, 4};
        place_of(at, w, moved, mirror);
        check_ok(body_part_node(s, at, &node[i], &err), &err);
    }
    struct body_rod rod = {.nodes = node, .n = 4, .ei = 2e5, .ea = 3e4};
    check_ok(body_part_rod(s, &rod, NULL, &err), &err);
    struct body_tie tie = {.face = NF - 2, .bary = {0.2, 0.3, 0.5}, .off = 3 * mirror};
    if (mirror < 0) { /* the corners stand in another order */
        tie.bary[1] = 0.5;
        tie.bary[2] = 0.3;
    }
    for (int i = 0; i < 4; i++) {
        tie.node = node[i];
        tie.stiffness = 50;
        tie.cord = i == 2;
        tie.slack = i == 2 ? 3 : 0;
        check_ok(body_part_tie(s, &tie, NULL, &err), &err);
    }
    int a[2] = {0, NX + 1}, b[2] = {NX, 2 * NX + 1};
    struct body_grip grip = {.seat = {a, b},
                             .n = {2, 2},
                             .chord = 90,
                             .chord_stiffness = 400,
                             .slope = {0.2 * mirror, 0.3 * mirror},
                             .slope_stiffness = 2e4,
                             .bar_ei = 5e5};
    check_ok(body_part_grip(s, &grip, NULL, &err), &err);
    struct body_former floor = {.stiffness = 0.05};
    double origin[3], up[3];
    const double none[3] = {0}, axis[3] = {0.1, 0, 1};
    place_of(floor.at, (double[3]){0, 0, -1}, moved, mirror);
    place_of(origin, none, moved, mirror);
    place_of(up, axis, moved, mirror);
    for (int c = 0; c < 3; c++)
        floor.axis[c] = up[c] - origin[c];
    check_ok(body_part_former(s, &floor, NULL, &err), &err);
}

/* A small sheet, at rest flat, natural curvature and load; as it is, or turned, shifted and
 * mirrored. */
static struct body_shell *placed(const struct grid *g, int moved, double mirror) {
    struct error err = {0};
    struct grid h = *g;
    struct body_shell *s;
    for (int v = 0; v < NV && moved; v++)
        turn(h.x[v], g->x[v], mirror);
    for (int f = 0; f < NF && mirror < 0; f++) { /* mirrored triangles run the other way round */
        h.tri[f][1] = g->tri[f][2];
        h.tri[f][2] = g->tri[f][1];
    }
    struct body_shell_mesh mesh = {NV, NF, (const double(*)[3])h.x, (const int(*)[3])h.tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    struct body_ply ply = {.e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = 4};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    double zero[3] = {0}, origin[3], axis[3];
    const double along[3] = {0.8, 0.6, 0};
    turn(origin, zero, mirror);
    turn(axis, along, mirror);
    for (int c = 0; c < 3; c++)
        axis[c] = moved ? axis[c] - origin[c] : along[c];
    for (size_t f = 0; f < NF; f++) {
        check_ok(body_shell_axis(s, f, axis, &err), &err);
        body_shell_material(s, f, &l);
        /* a mirrored sheet shows its other face: curvature and the sense of twist change sign */
        body_shell_natural(s, f, (double[3]){0.01, 0, 0.004 * mirror},
                           (double[3]){0.001 * mirror, 0.008 * mirror, 0.002});
    }
    parts_placed(s, g, moved, mirror);
    check_ok(body_shell_prepare(s, &err), &err);
    return s;
}

static void test_turned_and_mirrored(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    grid_fill(&g, 100, 80);
    for (int kind = 0; kind < 2; kind++) {
        double mirror = kind ? -1 : 1, x[NV][3], n[NV][3], zero[3] = {0}, origin[3];
        struct body_shell *a = placed(&g, 0, 1), *b = placed(&g, 1, mirror);
        turn(origin, zero, mirror);
        bend_some(a, 5 * NV, 3, 0.2); /* the nodes of rods and bar stay where they were put */
        for (int v = 0; v < NV; v++) {
            turn(x[v], body_shell_place(a)[v], mirror);
            turn(n[v], body_shell_normal(a)[v], mirror);
            for (int c = 0; c < 3; c++)
                n[v][c] = mirror * (n[v][c] - origin[c]);
        }
        body_shell_set(b, (const double(*)[3])x, (const double(*)[3])n);
        check_rel(body_shell_energy(b, NULL), body_shell_energy(a, NULL), 1e-12);
        /* and the same solution */
        struct body_solve sa, sb;
        struct body_shell *both[2] = {a, b};
        for (int k = 0; k < 2; k++) {
            /* the former stands in space, where a held sheet may swing against it in one frame and
             * not in the other: the solution is that of a free body */
            body_part_strength(both[k], (int)body_part_count(both[k]) - 1, 0);
            body_shell_reset(both[k]);
            check_ok(body_shell_hold(both[k], &err), &err);
        }
        check_ok(body_equilibrium(&sa, a, NULL, &err), &err);
        check_ok(body_equilibrium(&sb, b, NULL, &err), &err);
        check_rel(sb.energy, sa.energy, 1e-6);
        for (int v = 1; v < NV; v += 3) {
            double da = 0, db = 0;
            for (int c = 0; c < 3; c++) {
                da += pow(body_shell_place(a)[v][c] - body_shell_place(a)[0][c], 2);
                db += pow(body_shell_place(b)[v][c] - body_shell_place(b)[0][c], 2);
            }
            check_rel(sqrt(db), sqrt(da), 1e-6);
        }
        body_shell_free(a);
        body_shell_free(b);
    }
}

/* Sensitivities of a height to thickness and natural curvature against solving again. */
static double height(struct body_shell *s, double thickness, double curvature) {
    struct error err = {0};
    struct body_ply ply = {.e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = thickness};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < NF; f++) {
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, NULL, (double[3]){0.3 * curvature, curvature, 0});
    }
    struct body_solve_options tight = {.force = 1e-12, .energy = 1e-20};
    check_ok(body_equilibrium(NULL, s, &tight, &err), &err);
    return body_shell_place(s)[NV - 1][2];
}

static void test_sensitivity(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    grid_fill(&g, 100, 80);
    struct body_shell *s = placed(&g, 0, 1);
    for (int i = 0; i <= NX; i++)
        body_shell_fix(s, (size_t)i, BODY_FIX_ALL);
    body_shell_force(s, BODY_LOAD_STEADY, NV - 1, (double[3]){0, 0, 2});
    size_t n = body_shell_unknowns(s);
    double *h = calloc(n, 8), *a = calloc(n, 8), *g0 = calloc(n, 8), *g1 = calloc(n, 8);
    const double at[2] = {4, 0.006}, step[2] = {1e-4, 1e-6};
    height(s, at[0], at[1]);
    h[5 * (NV - 1) + 2] = 1;
    check_ok(body_equilibrium_adjoint(a, s, h, &err), &err);
    struct body_state *found;
    check_ok(body_state_save(&found, s, &err), &err);
    for (int p = 0; p < 2; p++) {
        double v[2], predicted = 0;
        for (int side = 0; side < 2; side++) {
            double t = at[0] + (p == 0 ? (side ? 1 : -1) * step[0] : 0);
            double k = at[1] + (p == 1 ? (side ? 1 : -1) * step[1] : 0);
            body_state_load(s, found);
            struct body_ply ply = {.e1 = 1200, .e2 = 500, .nu12 = 0.35, .g12 = 250, .thickness = t};
            struct body_laminate l;
            check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
            for (size_t f = 0; f < NF; f++) {
                body_shell_material(s, f, &l);
                body_shell_natural(s, f, NULL, (double[3]){0.3 * k, k, 0});
            }
            check_ok(body_shell_gradient(s, side ? g1 : g0, &err), &err);
            v[side] = height(s, t, k);
        }
        for (size_t i = 0; i < n; i++)
            predicted -= a[i] * (g1[i] - g0[i]) / (2 * step[p]);
        check_rel(predicted, (v[1] - v[0]) / (2 * step[p]), 1e-5);
    }
    free(h), free(a), free(g0), free(g1);
    body_state_free(found);
    body_shell_free(s);
}

/* That K a = h with the Hessian as it is now, on what is free. */
static void check_adjoint(struct body_shell *s, const double *h) {
    struct error err = {0};
    size_t n = body_shell_unknowns(s);
    double *a = calloc(n, 8), *ka = calloc(n, 8), worst = 0;
    check_ok(body_equilibrium_adjoint(a, s, h, &err), &err);
    check_ok(body_shell_hessian_times(s, a, ka, &err), &err);
    for (size_t i = 0; i < n; i++) {
        unsigned fixed = i < 5 * NV ? body_shell_fixed(s, i / 5) >> i % 5 & 1 : 0;
        if (!fixed) worst = fmax(worst, fabs(ka[i] - h[i]));
    }
    assert_true(worst < 1e-7);
    check_ok(body_equilibrium_adjoint(a, s, h, &err), &err); /* what the next one finds */
    free(a), free(ka);
}

/* Sensitivities use what the search for the equilibrium assembled and factored. Whatever is changed
 * after it, they must be those of the shell as it stands. */
static void test_sensitivity_of_now(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    grid_fill(&g, 100, 80);
    struct body_shell *s;
    struct body_shell_mesh mesh = {NV, NF, g.x, g.tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    struct body_lath lath = {.a = {10, 12, 0}, .b = {88, 61, 0}, .ei = 1e5, .gj = 2e4, .ea = 5e4};
    int chain[NX + 1];
    for (int i = 0; i <= NX; i++)
        chain[i] = NV - 1 - i;
    struct body_edge_rod edge = {
        .vertices = chain, .n = NX + 1, .ei_normal = 2e5, .ei_inplane = 3e5, .gj = 1e5, .ea = 4e4};
    check_ok(body_part_lath(s, &lath, 0.99, NULL, &err), &err);
    check_ok(body_part_edge_rod(s, &edge, NULL, &err), &err);
    size_t pair[2] = {NV - 1, NV - NX};
    const double weight[2][3] = {{0, 0, 1}, {0, 0, 1}};
    struct body_spring spring = {pair, weight, 2, 30, 2};
    check_ok(body_part_spring(s, &spring, NULL, &err), &err);
    struct body_laminate l = two_layers();
    for (size_t f = 0; f < NF; f++)
        body_shell_material(s, f, &l);
    check_ok(body_shell_prepare(s, &err), &err);
    for (int i = 0; i <= NX; i++)
        body_shell_fix(s, (size_t)i, BODY_FIX_ALL);
    body_shell_force(s, BODY_LOAD_STEADY, NV - 1, (double[3]){0, 0, 2});
    size_t n = body_shell_unknowns(s);
    double *h = calloc(n, 8), *d = calloc(n, 8);
    h[5 * (NV - 1) + 2] = 1;
    height(s, 4, 0.006);
    check_adjoint(s, h);
    for (int again = 0; again < 2; again++) { /* the second time from another state */
        for (size_t k = 0; k < body_part_count(s); k++) {
            body_part_strength(s, (int)k, again ? 1.5 : 0.5);
            check_adjoint(s, h);
        }
        for (size_t v = 0; v < NV; v++) /* all of it turned a little */
            d[5 * v + 2] = 1e-3 * g.x[v][0];
        body_shell_shift(s, d);
        check_adjoint(s, h);
        body_shell_fix(s, NV - 2, BODY_FIX_X);
        check_adjoint(s, h);
        body_shell_release(s, NV - 2, BODY_FIX_X);
        check_adjoint(s, h);
        body_shell_natural(s, NF / 2, NULL, (double[3]){0, 0.008, 0});
        check_adjoint(s, h);
        body_shell_pressure(s, BODY_LOAD_PATH, NF / 2, 0.01);
        check_adjoint(s, h);
        body_shell_parameter(s, 3);
        check_adjoint(s, h);
        body_shell_unload(s, BODY_LOAD_PATH);
        check_adjoint(s, h);
        if (again == 0) check_ok(body_equilibrium(NULL, s, NULL, &err), &err);
    }
    free(h), free(d);
    body_shell_free(s);
}

static void test_refusals(void **state) {
    (void)state;
    struct error err = {0};
    struct grid g;
    struct body_shell *s;
    grid_fill(&g, 100, 80);
    struct body_shell_mesh mesh = {NV, NF, (const double(*)[3])g.x, (const int(*)[3])g.tri, NULL};
    g.x[3][1] = NAN;
    assert_int_equal(body_shell_new(&s, &mesh, &err), ERR_INPUT);
    assert_null(s);
    grid_fill(&g, 100, 80);
    g.tri[4][1] = NV;
    assert_int_equal(body_shell_new(&s, &mesh, &err), ERR_INPUT);
    grid_fill(&g, 100, 80);
    int t = g.tri[4][1];
    g.tri[4][1] = g.tri[4][2];
    g.tri[4][2] = t;
    assert_int_equal(body_shell_new(&s, &mesh, &err), ERR_INPUT); /* turned about */
    g.tri[4][2] = g.tri[4][1];
    assert_int_equal(body_shell_new(&s, &mesh, &err), ERR_INPUT); /* no area */
    grid_fill(&g, 100, 80);
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    assert_int_equal(body_shell_prepare(s, &err), ERR_MISSING); /* no material */
    struct body_laminate l = two_layers();
    for (size_t f = 0; f < NF; f++)
        body_shell_material(s, f, &l);
    assert_int_equal(body_shell_axis(s, 0, (double[3]){0, 0, 1}, &err), ERR_INPUT);
    struct body_lath lath = {.a = {-200, 10, 0}, .b = {50, 10, 0}, .ei = 1e5};
    assert_int_equal(body_part_lath(s, &lath, 0.95, NULL, &err), ERR_RANGE); /* outside the sheet */
    assert_int_equal(body_shell_smooth(s, &err), ERR_REFUSED);               /* layers not alike */
    body_shell_free(s);
    const struct body_ply bad[] = {{.e1 = 1, .e2 = 1, .g12 = 1, .thickness = 0},
                                   {.e1 = 1e6, .e2 = 1, .g12 = 1, .thickness = 1},
                                   {.e1 = 1, .e2 = 1, .g12 = NAN, .thickness = 1},
                                   {.e1 = 1, .e2 = 4, .nu12 = 0.6, .g12 = 1, .thickness = 1}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        error_clear(&err);
        assert_int_equal(body_laminate_make(&l, &bad[i], 1, &err), ERR_RANGE);
        assert_true(err.message[0] && err.remedy[0]);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_derivatives),         cmocka_unit_test(test_smooth_derivatives),
        cmocka_unit_test(test_turned_and_mirrored), cmocka_unit_test(test_sensitivity),
        cmocka_unit_test(test_sensitivity_of_now),  cmocka_unit_test(test_refusals)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
