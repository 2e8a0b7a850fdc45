/* Rigid motion taken away: of each sheet as many ways as nothing else takes. How many ways are free
 * is statics: six of a free sheet, less what holds it. */
#include "body/equilibrium.h"
#include "body/part.h"
#include "body/shell.h"

#include "check.h"

enum { NX = 6, NY = 4, NV = (NX + 1) * (NY + 1), NF = 2 * NX * NY };
static const double length = 120, width = 60;

/* So many sheets along x, `apart` between them, that curl by themselves. */
static struct body_shell *row_of_sheets(int sheets, double apart) {
    struct error err = {0};
    double(*x)[3] = calloc((size_t)(sheets * NV), sizeof *x);
    int(*tri)[3] = calloc((size_t)(sheets * NF), sizeof *tri);
    assert_true(x && tri);
    for (int k = 0; k < sheets; k++)
        for (int j = 0; j <= NY; j++)
            for (int i = 0; i <= NX; i++) {
                double *p = x[k * NV + j * (NX + 1) + i];
                p[0] = k * (length + apart) + length * i / NX;
                p[1] = width * j / NY;
            }
    for (int k = 0, f = 0; k < sheets; k++)
        for (int j = 0; j < NY; j++)
            for (int i = 0; i < NX; i++, f += 2) {
                int a = k * NV + j * (NX + 1) + i, c = a + NX + 1;
                memcpy(tri[f], (int[3]){a, a + 1, c + 1}, sizeof *tri);
                memcpy(tri[f + 1], (int[3]){a, c + 1, c}, sizeof *tri);
            }
    struct body_shell *s;
    struct body_shell_mesh mesh = {(size_t)(sheets * NV), (size_t)(sheets * NF),
                                   (const double(*)[3])x, (const int(*)[3])tri, NULL};
    check_ok(body_shell_new(&s, &mesh, &err), &err);
    const struct body_ply ply = {.e1 = 1200, .e2 = 300, .nu12 = 0.3, .g12 = 200, .thickness = 3};
    struct body_laminate l;
    check_ok(body_laminate_make(&l, &ply, 1, &err), &err);
    for (size_t f = 0; f < mesh.nf; f++) {
        body_shell_material(s, f, &l);
        body_shell_natural(s, f, NULL, (double[3]){0.001, 0.006, 0});
    }
    free(x);
    free(tri);
    return s;
}

/* Springs along all axes that keep two vertices together. */
static void tie(struct body_shell *s, size_t a, size_t b) {
    struct error err = {0};
    for (int c = 0; c < 3; c++) {
        double weight[2][3] = {{0}};
        weight[0][c] = 1, weight[1][c] = -1;
        const struct body_spring spring = {.nodes = (size_t[]){a, b},
                                           .weight = (const double(*)[3])weight,
                                           .n = 2,
                                           .stiffness = 100};
        check_ok(body_part_spring(s, &spring, NULL, &err), &err);
    }
}

static int fixed(const struct body_shell *s, int sheet) {
    int n = 0;
    for (size_t v = (size_t)(sheet * NV); v < (size_t)((sheet + 1) * NV); v++)
        for (unsigned which = body_shell_fixed(s, v); which; which >>= 1)
            n += which & 1;
    return n;
}

static void hold(struct body_shell *s) {
    struct error err = {0};
    check_ok(body_shell_hold(s, &err), &err);
}

static struct body_solve solve(struct body_shell *s) {
    struct error err = {0};
    struct body_solve out;
    check_ok(body_shell_prepare(s, &err), &err);
    check_ok(body_equilibrium(&out, s, NULL, &err), &err);
    assert_true(out.stable);
    return out;
}

/* Sheets that nothing joins curl alike, each about its own middle. */
static void unjoined(void **state) {
    (void)state;
    struct body_shell *one = row_of_sheets(1, 0), *three = row_of_sheets(3, 40);
    hold(one);
    hold(three);
    for (int k = 0; k < 3; k++)
        assert_int_equal(fixed(three, k), 6);
    struct body_solve a = solve(one), b = solve(three);
    check_rel(b.energy, 3 * a.energy, 1e-6);
    for (int k = 0; k < 3; k++)
        for (size_t v = 0; v < NV; v++)
            for (int c = 0; c < 3; c++)
                check_near(body_shell_place(three)[(size_t)k * NV + v][c] -
                               body_shell_place(one)[v][c],
                           c == 0 ? k * (length + 40) : 0, 1e-5);
    body_shell_free(one);
    body_shell_free(three);
}

/* Sheets held some ways: only what is left is taken. The last is held upright at all vertices, so
 * that none is free of supports. */
static void partly_held(void **state) {
    (void)state;
    struct body_shell *s = row_of_sheets(4, 40);
    body_shell_fix(s, 0, BODY_FIX_ALL);
    body_shell_fix(s, NX, BODY_FIX_Y);
    for (size_t v = 0; v < 3; v++)
        body_shell_fix(s, NV + (v == 0 ? 0 : v == 1 ? NX : NV - 1), BODY_FIX_Z);
    for (size_t v = 0; v < NV; v++)
        body_shell_fix(s, 3 * NV + v, BODY_FIX_Z);
    hold(s);
    assert_int_equal(fixed(s, 0), 6);      /* as it was */
    assert_int_equal(fixed(s, 1), 3 + 3);  /* on three points: along, across and round */
    assert_int_equal(fixed(s, 2), 6);      /* nothing held it */
    assert_int_equal(fixed(s, 3), NV + 3); /* in a plane */
    solve(s);
    body_shell_free(s);
}

/* Joined at a point and along a line: three ways and one are left between two sheets. A spring to
 * the ground takes one of six. */
static void joined(void **state) {
    (void)state;
    static const struct { int ties, free; } known[] = {{0, 6}, {1, 3}, {2, 1}, {5, 1}};
    for (int k = 0; k < 4; k++) {
        struct body_shell *s = row_of_sheets(2, 0);
        for (int j = 0; j < known[k].ties; j++)
            tie(s, (size_t)(j * (NX + 1) + NX), (size_t)(NV + j * (NX + 1)));
        hold(s);
        assert_int_equal(fixed(s, 0), 6);
        assert_int_equal(fixed(s, 1), known[k].free);
        solve(s);
        body_shell_free(s);
    }
    struct body_shell *s = row_of_sheets(1, 0);
    const struct body_spring ground = {
        .nodes = (size_t[]){3}, .weight = (const double[][3]){{0, 0, 1}}, .n = 1, .stiffness = 5};
    struct error err = {0};
    check_ok(body_part_spring(s, &ground, NULL, &err), &err);
    hold(s);
    assert_int_equal(fixed(s, 0), 5);
    solve(s);
    body_shell_free(s);
}

/* A straight rod tied to two sheets at two places of each: they turn about it, and not against each
 * other otherwise. Its own turn about itself is nobody's. */
static void joined_by_a_rod(void **state) {
    (void)state;
    struct error err = {0};
    struct body_shell *s = row_of_sheets(2, 40);
    size_t node[4];
    const size_t vertex[4] = {0, NX, NV, NV + NX}; /* along one line */
    for (int i = 0; i < 4; i++) {
        double at[3];
        memcpy(at, body_shell_rest_place(s)[vertex[i]], sizeof at);
        check_ok(body_part_node(s, at, &node[i], &err), &err);
    }
    const struct body_rod rod = {.nodes = node, .n = 4, .ei = 1e5, .ea = 1e5};
    check_ok(body_part_rod(s, &rod, NULL, &err), &err);
    for (int i = 0; i < 4; i++)
        tie(s, vertex[i], node[i]);
    hold(s);
    assert_int_equal(fixed(s, 0), 6);
    assert_int_equal(fixed(s, 1), 1);
    body_shell_free(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(unjoined), cmocka_unit_test(partly_held),
                                       cmocka_unit_test(joined), cmocka_unit_test(joined_by_a_rod)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
