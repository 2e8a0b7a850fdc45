/* Robustness: barky sheets with laths drawn at random, each from the flat sheet in one step. No
 * failure, few iterations, every end state stable. The ranges are those a person could meet, wider
 * on the ratio of moduli. Called with the word long: 200 draws and three seeds on about 600
 * triangles, otherwise 30 draws of one. */
#include "body/equilibrium.h"
#include "body/part.h"
#include "body/pocket.h"
#include "plane/mesh.h"

#include "check.h"

enum { OUTLINE = 240, LATHS = 5 };
static int long_run;

static double draw(unsigned long long *state, double lo, double hi) {
    *state = *state * 6364136223846793005ull + 1442695040888963407ull;
    return lo + (hi - lo) * (double)(*state >> 11) / 9007199254740992.0;
}

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
    check_ok(plane_mesh_new(&m, &loop, 1, &o, &err), &err);
    return m;
}

static struct body_shell *bare(const struct plane_mesh *m) {
    struct error err = {0};
    double(*x)[3] = calloc(m->nv, sizeof *x);
    for (size_t v = 0; v < m->nv; v++)
        memcpy(x[v], m->p[v], sizeof m->p[v]);
    struct body_shell_mesh mesh = {m->nv, m->nf, (const double(*)[3])x, (const int(*)[3])m->tri,
                                   NULL};
    struct body_shell *s;
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    free(x);
    return s;
}

static void lath_at(struct body_lath *l, int k, double thickness) {
    double x = 118.37 * (k - LATHS / 2), h = 170 * pow(1 - pow(fabs(x) / 350, 2.5), 0.4);
    double inertia = 20 * thickness * thickness * thickness;
    *l = (struct body_lath){.a = {x, -h, 0},
                            .b = {x, h, 0},
                            .ei = 10000 * inertia / 12,
                            .gj = 600 * inertia / 3,
                            .ea = 10000 * 20 * thickness};
}

static void set_draw(struct body_shell *s, unsigned long long *state, int pockets) {
    struct error err = {0};
    double e1 = draw(state, 300, 3000), ratio = pow(10, draw(state, -2, 0)), t = draw(state, 2, 8);
    double r = draw(state, 90, 250), grain = draw(state, -20, 20) * M_PI / 180;
    struct body_ply ply = {
        .e1 = e1, .e2 = e1 * ratio, .nu12 = 0.35, .g12 = e1 * sqrt(ratio) / 3, .thickness = t};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < body_shell_faces(s); f++) {
        check_ok(body_shell_axis(s, f, (double[3]){cos(grain), sin(grain), 0}, &err), &err);
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, NULL, (double[3]){0, 1 / r, 0});
    }
    double thickness = draw(state, -1, 6);
    for (int k = 0; k < LATHS; k++) {
        struct body_lath lath;
        lath_at(&lath, k, thickness > 0 ? thickness : 0);
        struct body_pocket_room room = {.width = 20, .span = lath.b[1] - lath.a[1]};
        if (pockets) { /* with room up to a lath's thickness, sliding from some pull on or freely */
            room.play = draw(state, 0, 5);
            room.gripped = fmax(draw(state, -200, 400), 0);
            body_pocket_play(&lath, &room);
        }
        check_ok(body_part_lath_set(s, k, &lath, 0.95, &err), &err);
    }
}

static void draws_of(int pockets) {
    struct error err = {0};
    size_t draws = long_run ? 200 : 30, seeds = long_run ? 3 : 1, worst = 0, sum = 0;
    struct plane_mesh *m = tray(long_run ? 600 : 350);
    struct body_shell *s = bare(m);
    struct body_laminate l;
    struct body_ply ply = {.e1 = 1, .e2 = 1, .g12 = 0.5, .thickness = 1};
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < body_shell_faces(s); f++)
        body_shell_material(s, f, &l);
    for (int k = 0; k < LATHS; k++) {
        struct body_lath lath;
        lath_at(&lath, k, 3);
        check_ok(body_part_lath(s, &lath, 0.95, NULL, &err), &err);
    }
    check_ok(body_shell_prepare(s, &err), &err);
    check_ok(body_shell_hold(s, &err), &err);
    for (size_t seed = 0; seed < seeds; seed++) {
        unsigned long long state = 1 + seed;
        for (size_t k = 0; k < draws; k++) {
            struct body_solve solve;
            set_draw(s, &state, pockets);
            body_shell_reset(s);
            check_ok(body_equilibrium(&solve, s, NULL, &err), &err);
            assert_int_equal(solve.stable, 1);
            assert_true(solve.converged);
            sum += solve.iterations;
            if (solve.iterations > worst) worst = solve.iterations;
            if (solve.iterations > 15)
                check_note("seed %zu draw %zu: %zu iterations, %zu restarts", seed, k,
                           solve.iterations, solve.restarts);
        }
    }
    check_note("%zu draws%s: mean %.2f iterations, worst %zu", draws * seeds,
               pockets ? " of laths in pockets with room" : "",
               (double)sum / (double)(draws * seeds), worst);
    check_from(CHECK_ASKED, pockets ? "robustness with laths in pockets: none fails; mean under 15 "
                                      "iterations, worst under 100"
                                    : "robustness of the equilibrium over random sheets: mean "
                                      "under 10, worst under 60 iterations");
    check_between((double)sum / (double)(draws * seeds), 0, pockets ? 15 : 10);
    check_between((double)worst, 0, pockets ? 99 : 59);
    body_shell_free(s);
    plane_mesh_free(m);
}

static void test_draws(void **unused) {
    (void)unused;
    draws_of(0);
}

static void test_draws_in_pockets(void **unused) {
    (void)unused;
    draws_of(1);
}

int main(int argc, char **argv) {
    long_run = argc > 1 && strcmp(argv[1], "long") == 0;
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_draws),
                                       cmocka_unit_test(test_draws_in_pockets)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
