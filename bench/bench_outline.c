/* Speed of the outline: the geometric ellipse fit on eight points; an outline of the tray's size
 * over all families; 300 points of edge. 4096 draws, as in the job. Wall seconds. */
#include "bench.h"

#include "shape/ellipse.h"
#include "shape/outline.h"

#include <math.h>

enum { MOST = 300 };

/* n points of a squared oval 520 x 340 from polar angle a to b, with a slow wave of 1 mm. */
static struct shape_evidence arc(const char *id, double a, double b, size_t n, double *room) {
    struct shape_form f = {.family = SHAPE_SUPERELLIPSE, .a = 260, .b = 170, .exponent = 3};
    struct shape_evidence e;
    shape_form_ready(&f);
    field_unknown(&shape_evidence_kind, &e);
    for (size_t i = 0; i < n; i++) {
        double phi = a + (b - a) * (double)i / (double)(n - 1);
        struct plane_point p = shape_form_point(&f, phi);
        room[2 * i] = p.x + sin(9 * phi), room[2 * i + 1] = p.y + sin(7 * phi + 1);
    }
    e.id = id, e.what = SHAPE_EDGE, e.u = 0.7;
    e.points = (struct tuples){n, 2, room};
    return e;
}

static double outline(const struct shape_evidence *e, size_t n) {
    struct error err = {0};
    struct num_rows *rows;
    struct shape_outline_model *m;
    struct shape_outline o;
    struct arena *arena = arena_new();
    double begin = bench_wall();
    bench_need(num_rows_new(&rows, 4096, 1, &err), &err);
    bench_need(shape_outline_model_new(&m, e, n, NULL, &err), &err);
    bench_need(shape_outline_condition(m, rows, NULL, &err), &err);
    bench_need(shape_outline_read(&o, m, rows, arena, &err), &err);
    double took = bench_wall() - begin;
    num_rows_free(rows);
    shape_outline_model_free(m);
    arena_free(arena);
    return took;
}

/* What the tray has: a rod's chord and rise, a straight one, length and width, a lath. */
static double tray_like(void) {
    struct shape_evidence e[6];
    for (int i = 0; i < 6; i++)
        field_unknown(&shape_evidence_kind, &e[i]);
    e[0].id = "A20", e[0].what = SHAPE_RISE, e[0].chord = 126, e[0].value = 17, e[0].u = 0.5;
    e[1].id = "A22", e[1].what = SHAPE_STRAIGHT, e[1].chord = 97, e[1].value = 0.5, e[1].u = 0.3;
    e[2].id = "L", e[2].what = SHAPE_LENGTH, e[2].value = 490, e[2].u = 30;
    e[3].id = "W", e[3].what = SHAPE_WIDTH, e[3].value = 327, e[3].u = 20;
    e[4].id = "A04", e[4].what = SHAPE_LATH, e[4].value = 316, e[4].offset = 7, e[4].u = 7;
    e[5].id = "frame", e[5].what = SHAPE_MIDLINE, e[5].angle = 0, e[5].u = 0.02;
    return outline(e, 6);
}

static double geometric(void) {
    static const double xy[8][2] = {{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}, {6, 2}, {8, 4}};
    struct plane_point p[8];
    struct shape_ellipse e;
    struct error err = {0};
    for (int i = 0; i < 8; i++)
        p[i] = (struct plane_point){xy[i][0], xy[i][1]};
    double begin = bench_wall();
    bench_need(shape_ellipse_geometric(&e, p, 8, &err), &err);
    return bench_wall() - begin;
}

int main(void) {
    static double a[2 * MOST], b[2 * MOST];
    struct shape_evidence many[2] = {arc("a", 0.1, 2.2, 150, a), arc("b", 3.0, 5.0, 150, b)};
    bench_target("geometric ellipse on 8 points", geometric(), 0.05, "s");
    bench_target("an outline with the tray's readings, all families", tray_like(), 10, "s");
    bench_target("300 points of edge, all families", outline(many, 2), 40, "s");
    return 0;
}
