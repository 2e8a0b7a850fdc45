/* The mesher: quality, repeatability, narrow places, cutting lines, morphing, refusals. Expected
 * values are geometry (areas, lengths, Euler's formula), not our own output. */
#include "plane/mesh.h"
#include "plane/predicates.h"

#include "check.h"

enum { N = 240 };

static void superellipse(double *xy, double a, double b, double exponent) {
    for (int i = 0; i < N; i++) {
        double t = 2 * M_PI * i / N, c = cos(t), s = sin(t);
        xy[2 * i] = a * copysign(pow(fabs(c), 2 / exponent), c);
        xy[2 * i + 1] = b * copysign(pow(fabs(s), 2 / exponent), s);
    }
}

static double polygon_area(const double *xy, size_t n) {
    double a = 0;
    for (size_t i = 0; i < n; i++) {
        size_t j = (i + 1) % n;
        a += xy[2 * i] * xy[2 * j + 1] - xy[2 * j] * xy[2 * i + 1];
    }
    return a / 2;
}

static struct plane_mesh *make(const struct plane_loop *loops, size_t n,
                               struct plane_mesh_options options) {
    struct error err = {0};
    struct plane_mesh *m;
    check_ok(plane_mesh_new(&m, loops, n, &options, &err), &err);
    return m;
}

/* Euler's formula for a plane region with holes, neighbours that agree, triangles that turn left.
 */
static void check_sound(const struct plane_mesh *m) {
    size_t open = 0;
    for (size_t t = 0; t < m->nf; t++) {
        const int *w = m->tri[t];
        assert_true(plane_orient(m->p[w[0]], m->p[w[1]], m->p[w[2]]) > 0);
        for (int i = 0; i < 3; i++) {
            int u = m->next[t][i];
            if (u < 0) {
                open++;
                continue;
            }
            assert_true(m->next[u][0] == (int)t || m->next[u][1] == (int)t ||
                        m->next[u][2] == (int)t);
        }
    }
    assert_int_equal(open, m->nb);
    long edges = (long)(3 * m->nf + open) / 2;
    assert_int_equal((long)m->nv - edges + (long)m->nf, 2 - (long)m->loops);
}

static void test_quality(void **state) {
    (void)state;
    double xy[2 * N], hole[2 * N];
    superellipse(xy, 350, 175, 2.5);
    superellipse(hole, 60, 40, 2);
    struct plane_loop loops[2] = {{xy, N}, {hole, N}};
    for (size_t want = 150; want < 6000; want = want * 3 / 2)
        for (size_t n = 1; n <= 2; n++) {
            struct plane_mesh *m = make(loops, n, (struct plane_mesh_options){.triangles = want});
            check_sound(m);
            struct plane_mesh_quality q;
            plane_mesh_measure(&q, m);
            assert_true(q.angle_min >= 28 * M_PI / 180);
            check_rel((double)m->nf, (double)want, n == 1 ? 0.15 : 0.3);
            double whole = polygon_area(xy, N) - (n == 2 ? polygon_area(hole, N) : 0);
            check_rel(q.area, whole, 0.02);
            plane_mesh_free(m);
        }
}

static void test_same_bits(void **state) {
    (void)state;
    double xy[2 * N];
    superellipse(xy, 300, 120, 3);
    struct plane_loop loop = {xy, N};
    struct plane_mesh *a = make(&loop, 1, (struct plane_mesh_options){.triangles = 700});
    struct plane_mesh *b = make(&loop, 1, (struct plane_mesh_options){.triangles = 700});
    assert_int_equal(a->nv, b->nv);
    assert_memory_equal(a->p, b->p, a->nv * sizeof *a->p);
    assert_memory_equal(a->tri, b->tri, a->nf * sizeof *a->tri);
    plane_mesh_free(a);
    plane_mesh_free(b);
}

static void test_corners_stay(void **state) {
    (void)state;
    const double bell[] = {0,   0,   100, 0,   100, 45, 200, 45, 200, 0,   300, 0,
                           300, 100, 200, 100, 200, 55, 100, 55, 100, 100, 0,   100};
    struct plane_loop loop = {bell, 12};
    struct plane_mesh *m = make(&loop, 1, (struct plane_mesh_options){.size = 20});
    check_sound(m);
    struct plane_mesh_quality q;
    plane_mesh_measure(&q, m);
    check_near(q.area, 21000, 1e-9); /* two squares of 100 and a neck of 10 x 100 */
    size_t corners = 0;
    for (size_t i = 0; i < m->nb; i++)
        corners += m->corner[i] != 0;
    assert_int_equal(corners, 12);
    assert_true(q.angle_min > 25 * M_PI / 180);
    plane_mesh_free(m);
}

/* A tip of 14 degrees and a comb: no hang, sound, area exact. */
static void test_points(void **state) {
    (void)state;
    const double tip[] = {0, 0, 400, -50, 400, 50};
    struct plane_loop loop = {tip, 3};
    struct plane_mesh *m = make(&loop, 1, (struct plane_mesh_options){.size = 25});
    check_sound(m);
    struct plane_mesh_quality q;
    plane_mesh_measure(&q, m);
    check_near(q.area, 20000, 1e-8);
    plane_mesh_free(m);
    double comb[2 * 42]; /* teeth 10 wide and 52 long, for triangles of 30 */
    for (int i = 0; i < 20; i++) {
        comb[4 * i] = comb[4 * i + 2] = 200 - 10 * i;
        comb[4 * i + 1] = i & 1 ? 60 : 8;
        comb[4 * i + 3] = i & 1 ? 8 : 60;
    }
    comb[80] = 0, comb[81] = 0, comb[82] = 200, comb[83] = 0;
    struct plane_loop teeth = {comb, 42};
    struct error err = {0};
    struct plane_mesh_options options = {.size = 30};
    if (plane_mesh_new(&m, &teeth, 1, &options, &err) == 0) {
        check_sound(m);
        plane_mesh_free(m);
    } else
        assert_true(err.code == ERR_INPUT || err.code == ERR_RANGE);
}

static double finer_at_middle(const double *p, void *context) {
    (void)context;
    return 5 + 0.15 * hypot(p[0], p[1]);
}

static void test_size_field(void **state) {
    (void)state;
    double xy[2 * N];
    superellipse(xy, 350, 175, 2.5);
    struct plane_loop loop = {xy, N};
    struct plane_mesh *m =
        make(&loop, 1, (struct plane_mesh_options){.size = 40, .size_at = finer_at_middle});
    check_sound(m);
    struct plane_mesh_quality q;
    plane_mesh_measure(&q, m);
    assert_true(q.angle_min >= 28 * M_PI / 180);
    for (size_t t = 0; t < m->nf; t++)
        for (int i = 0; i < 3; i++) {
            const double *a = m->p[m->tri[t][i]], *b = m->p[m->tri[t][(i + 1) % 3]];
            double mid[2] = {(a[0] + b[0]) / 2, (a[1] + b[1]) / 2};
            double ratio = hypot(b[0] - a[0], b[1] - a[1]) / finer_at_middle(mid, NULL);
            assert_true(ratio > 0.35 && ratio < 2.2);
        }
    plane_mesh_free(m);
}

static void test_asked_points(void **state) {
    (void)state;
    const double square[] = {0, 0, 100, 0, 100, 100, 0, 100}, points[] = {50, 50, 13.25, 71.5};
    struct plane_loop loop = {square, 4};
    struct plane_mesh *m =
        make(&loop, 1, (struct plane_mesh_options){.size = 10, .points = points, .n_points = 2});
    check_sound(m);
    assert_memory_equal(m->p[m->nb], points, sizeof points);
    plane_mesh_free(m);
}

static void test_locate_and_cut(void **state) {
    (void)state;
    double xy[2 * N], hole[2 * N];
    superellipse(xy, 100, 100, 2);
    superellipse(hole, 30, 30, 2);
    struct plane_loop loops[2] = {{xy, N}, {hole, N}};
    struct plane_mesh *m = make(loops, 2, (struct plane_mesh_options){.size = 9});
    double p[2] = {50.25, 10.5}, bary[3], back[2] = {0, 0};
    int t = plane_mesh_locate(m, p, 0, bary);
    assert_true(t >= 0);
    for (int i = 0; i < 3; i++)
        for (int c = 0; c < 2; c++)
            back[c] += bary[i] * m->p[m->tri[t][i]][c];
    check_near(back[0], p[0], 1e-10);
    check_near(back[1], p[1], 1e-10);
    assert_int_equal(plane_mesh_locate(m, (double[2]){0, 0}, 5, bary), -1);
    struct plane_mesh_piece pieces[200];
    size_t n = plane_mesh_cut(m, (double[2]){-200, 1}, (double[2]){200, 1}, pieces, 200);
    assert_true(n > 0 && n < 200);
    double length = 0;
    for (size_t i = 0; i < n; i++) {
        length += 400 * (pieces[i].to - pieces[i].from);
        if (i) assert_true(pieces[i].from >= pieces[i - 1].from);
    }
    check_near(length, 140, 1.5); /* two chords of the ring, polygons inscribed */
    plane_mesh_free(m);
    /* along mesh edges each length is counted once */
    const double square[] = {0, 0, 100, 0, 100, 100, 0, 100};
    struct plane_loop loop = {square, 4};
    m = make(&loop, 1, (struct plane_mesh_options){.size = 10});
    n = plane_mesh_cut(m, (double[2]){0, 0}, (double[2]){100, 0}, pieces, 200);
    for (length = 0; n-- > 0;)
        length += pieces[n].to - pieces[n].from;
    check_near(length, 1, 1e-12);
    plane_mesh_free(m);
}

static void test_morph(void **state) {
    (void)state;
    double xy[2 * N], other[2 * N];
    superellipse(xy, 350, 175, 2.5);
    superellipse(other, 320, 190, 2.2);
    struct plane_loop from = {xy, N}, to = {other, N};
    struct plane_mesh *m = make(&from, 1, (struct plane_mesh_options){.triangles = 600}), *moved;
    struct error err = {0};
    check_ok(plane_mesh_morph(&moved, m, &to, 1, 20 * M_PI / 180, &err), &err);
    check_sound(moved);
    assert_memory_equal(moved->tri, m->tri, m->nf * sizeof *m->tri);
    struct plane_mesh_quality q;
    plane_mesh_measure(&q, moved);
    check_rel(q.area, polygon_area(other, N), 0.01);
    plane_mesh_free(moved);
    check_ok(plane_mesh_morph(&moved, m, &from, 1, 20 * M_PI / 180, &err), &err);
    for (size_t v = 0; v < m->nv; v++) /* to itself: nothing moves */
        check_near(hypot(moved->p[v][0] - m->p[v][0], moved->p[v][1] - m->p[v][1]), 0, 1e-9);
    plane_mesh_free(moved);
    const double thin[] = {-350, 0, 350, -2, 350, 2};
    struct plane_loop bad = {thin, 3};
    assert_int_equal(plane_mesh_morph(&moved, m, &bad, 1, 20 * M_PI / 180, &err), ERR_RANGE);
    assert_null(moved);
    plane_mesh_free(m);
}

static void refused(const double *xy, size_t n, enum error_code code) {
    struct error err = {0};
    struct plane_mesh *m;
    struct plane_loop loop = {xy, n};
    struct plane_mesh_options options = {.size = 1};
    assert_int_equal(plane_mesh_new(&m, &loop, 1, &options, &err), code);
    assert_null(m);
    assert_true(err.message[0] && err.remedy[0]);
}

static void test_refusals(void **state) {
    (void)state;
    const double twice[] = {0,   0,  1.1302e-84, 0,
                            100, 60, 0,          20}; /* an edge of no length to speak of */
    const double bow[] = {0, 0, 10, 10, 10, 0, 0, 12}, line[] = {0, 0, 1, 1, 2, 2};
    const double nan[] = {0, 0, 10, 0, NAN, 5}, spike[] = {0, 0, 10, 0, 10, 10, 10, -5};
    const double vast[] = {0, 0, 1e8, 0, 0, 1e8}, two[] = {0, 0, 1, 1};
    refused(bow, 4, ERR_INPUT);
    refused(line, 3, ERR_INPUT);
    refused(nan, 3, ERR_INPUT);
    refused(spike, 4, ERR_INPUT);
    refused(two, 2, ERR_INPUT);
    refused(vast, 3, ERR_RANGE);
    refused(twice, 4, ERR_RANGE);
    const double square[] = {0, 0, 100, 0, 100, 100, 0, 100}, off[] = {200, 0, 210, 0, 205, 9};
    struct plane_loop loops[2] = {{square, 4}, {off, 3}};
    struct plane_mesh_options options = {.size = 10};
    struct error err = {0};
    struct plane_mesh *m;
    assert_int_equal(plane_mesh_new(&m, loops, 2, &options, &err), ERR_INPUT);
}

/* Points within rounding of a line or circle: the signs must be those of exact arithmetic. The
 * grids of neighbouring doubles are as in Kettner et al., Comput. Geom. 40 (2008) 61-78. */
static void test_predicates(void **state) {
    (void)state;
    double b[2] = {12, 12}, c[2] = {24, 24}, u = ldexp(1, -53);
    for (int i = 0; i < 64; i++)
        for (int j = 0; j < 64; j++) {
            double a[2] = {0.5 + i * u, 0.5 + j * u};
            double got = plane_orient(a, b, c); /* left of b-c, that is of y = x: positive */
            assert_int_equal((got > 0) - (got < 0), (a[0] < a[1]) - (a[0] > a[1]));
            assert_true(got == -plane_orient(b, a, c) || got * plane_orient(b, a, c) < 0);
        }
    double p[2] = {1, 0}, q[2] = {0, 1}, r[2] = {-1, 0};
    assert_true(plane_incircle(p, q, r, (double[2]){0, -1}) == 0);
    assert_true(plane_incircle(p, q, r, (double[2]){0, -1 + 1e-16}) > 0);
    assert_true(plane_incircle(p, q, r, (double[2]){0, nextafter(-1, -2)}) < 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_predicates),   cmocka_unit_test(test_quality),
        cmocka_unit_test(test_same_bits),    cmocka_unit_test(test_corners_stay),
        cmocka_unit_test(test_points),       cmocka_unit_test(test_size_field),
        cmocka_unit_test(test_asked_points), cmocka_unit_test(test_locate_and_cut),
        cmocka_unit_test(test_morph),        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
