/* Readings of rods, ties, grips and formers, with their derivatives.
 *
 * Rods are chains of nodes after M. Bergou et al., ACM Trans. Graph. 27 (2008) 63: curvature
 * binormal kb = 2 e- x e+ / (|e-||e+| + e- . e+), energy EI / (2 lav) |kb - rest|^2. */
#include "body/jet.h"
#include "body/shell_parts.h"

#include <assert.h>
#include <math.h>
#include <string.h>

/* Where the unknowns of the group's nodes begin in its own list. */
static int starts(const struct body_shell *s, const struct group *g, int *at) {
    int n = 0;
    for (int i = 0; i < g->n; i++) {
        at[i] = n;
        n += node_size(s, g->node[i]);
    }
    return n;
}

int group_unknowns(const struct body_shell *s, const struct group *g, const size_t **nodes) {
    if (g->kind == GROUP_LINEAR) {
        int n = 0;
        *nodes = s->list_node + g->node[0];
        for (int i = 0; i < g->n; i++)
            n += node_size(s, (*nodes)[i]);
        return n;
    }
    int at[GROUP_NODES];
    *nodes = g->node;
    return starts(s, g, at);
}

/* Positions and normals of the group's nodes as jets. */
struct jets {
    int n, at[GROUP_NODES];
    struct jet x[GROUP_NODES][3], d[GROUP_NODES][3];
};

static void place(struct jet out[3], const struct body_shell *s, const struct group *g, int i,
                  int at) {
    for (int c = 0; c < 3; c++) {
        jet_constant(&out[c], s->x[g->node[i]][c]);
        out[c].g[at + c] = 1;
    }
}

static void normal(struct jet out[3], const struct body_shell *s, const struct group *g, int i,
                   int at) {
    size_t v = g->node[i];
    for (int c = 0; c < 3; c++) {
        jet_constant(&out[c], s->n[v][c]);
        out[c].g[at + 3] = s->p1[v][c];
        out[c].g[at + 4] = s->p2[v][c];
        out[c].h[at + 3][at + 3] = out[c].h[at + 4][at + 4] = -s->n[v][c];
    }
}

static void less(struct jet out[3], int n, const struct jet a[3], const struct jet b[3]) {
    for (int c = 0; c < 3; c++) {
        out[c] = a[c];
        jet_add(&out[c], n, &b[c], -1);
    }
}

static void unit(struct jet out[3], struct jet *length, int n, const struct jet a[3]) {
    struct jet square, inverse;
    jet_dot(&square, n, a, a);
    jet_sqrt(length, n, &square);
    jet_inverse(&inverse, n, length);
    for (int c = 0; c < 3; c++) {
        jet_constant(&out[c], 0);
        jet_add_product(&out[c], n, &a[c], &inverse, 1);
    }
}

static void read_bend(struct jet r[3], int n, const struct group *g, struct jet x[GROUP_NODES][3],
                      const struct jet d[3]) {
    struct jet e0[3], e1[3], up[3], s0, s1, l0, l1, below, inverse;
    less(e0, n, x[1], x[0]);
    less(e1, n, x[2], x[1]);
    jet_dot(&s0, n, e0, e0);
    jet_dot(&s1, n, e1, e1);
    jet_sqrt(&l0, n, &s0);
    jet_sqrt(&l1, n, &s1);
    jet_dot(&below, n, e0, e1);
    jet_add_product(&below, n, &l0, &l1, 1);
    jet_inverse(&inverse, n, &below);
    jet_cross(up, n, e0, e1);
    for (int c = 0; c < 3; c++) {
        jet_constant(&r[c], 0);
        jet_add_product(&r[c], n, &up[c], &inverse, 2);
        if (g->c[0] != 0) jet_add(&r[c], n, &d[c], -g->c[0]);
    }
}

/* (n_b x n_a) . t of an edge a-b */
static void read_twist(struct jet *r, int n, struct jet x[GROUP_NODES][3],
                       struct jet d[GROUP_NODES][3]) {
    struct jet e[3], t[3], l, turn[3];
    less(e, n, x[1], x[0]);
    unit(t, &l, n, e);
    jet_cross(turn, n, d[1], d[0]);
    jet_dot(r, n, turn, t);
}

/* (t+ - t-) . (n x tm) of edges - and + at the middle vertex, tm = (t- + t+)/|.| */
static void read_inplane(struct jet *r, int n, struct jet x[GROUP_NODES][3],
                         const struct jet d[3]) {
    struct jet e[3], t0[3], t1[3], tm[3], sum[3], side[3], l;
    less(e, n, x[1], x[0]);
    unit(t0, &l, n, e);
    less(e, n, x[2], x[1]);
    unit(t1, &l, n, e);
    for (int c = 0; c < 3; c++) {
        sum[c] = t0[c];
        jet_add(&sum[c], n, &t1[c], 1);
    }
    unit(tm, &l, n, sum);
    jet_cross(side, n, d, tm);
    less(e, n, t1, t0);
    jet_dot(r, n, e, side);
}

/* Depth of a point in a former, 0 when outside it. */
static void read_former(struct jet *r, int n, const struct group *g, const struct jet x[3]) {
    struct jet rel[3], along;
    const double *at = g->c, *axis = g->c + 3;
    double radius = g->c[6];
    jet_constant(&along, 0);
    for (int c = 0; c < 3; c++) {
        rel[c] = x[c];
        rel[c].v -= at[c];
        jet_add(&along, n, &rel[c], axis[c]);
    }
    if (radius == 0) {
        *r = along;
    } else {
        struct jet square, far;
        jet_constant(&square, 0);
        for (int c = 0; c < 3; c++) {
            jet_add(&rel[c], n, &along, -axis[c]);
            jet_add_product(&square, n, &rel[c], &rel[c], 1);
        }
        if (square.v < 1e-18 * radius * radius)
            square.v = 1e-18 * radius * radius; /* on the axis */
        jet_sqrt(&far, n, &square);
        jet_constant(r, -fabs(radius));
        jet_add(r, n, &far, 1);
        if (radius < 0) jet_map(r, n, r, -r->v, -1, 0);
    }
    if (r->v > 0) jet_constant(r, 0);
}

static void read_tie(struct jet r[3], int n, const struct group *g, struct jet x[GROUP_NODES][3],
                     struct jet d[GROUP_NODES][3]) {
    for (int c = 0; c < 3; c++) {
        r[c] = x[3][c];
        for (int i = 0; i < 3; i++) {
            jet_add(&r[c], n, &x[i][c], -g->c[i]);
            if (g->c[3] != 0) jet_add(&r[c], n, &d[i][c], -g->c[3] * g->c[i]);
        }
    }
}

/* All readings of a group as jets; returns how many unknowns they depend on. */
static int read_all(struct jet r[GROUP_READINGS], const struct body_shell *s,
                    const struct group *g) {
    struct jets j;
    int n = starts(s, g, j.at);
    assert(n <= JET_MOST);
    for (int i = 0; i < g->n; i++) {
        place(j.x[i], s, g, i, j.at[i]);
        if (g->node[i] < s->nv) normal(j.d[i], s, g, i, j.at[i]);
    }
    struct jet e[3], t[3], l;
    switch (g->kind) {
    case GROUP_STRETCH:
        less(e, n, j.x[1], j.x[0]);
        jet_dot(&r[0], n, e, e);
        break;
    case GROUP_CHORD:
        less(e, n, j.x[1], j.x[0]);
        unit(t, &r[0], n, e);
        break;
    case GROUP_BEND:
        read_bend(r, n, g, j.x, g->n > 3 ? j.d[3] : j.d[1]);
        break;
    case GROUP_TWIST:
        read_twist(&r[0], n, j.x, j.d);
        break;
    case GROUP_INPLANE:
        read_inplane(&r[0], n, j.x, j.d[1]);
        break;
    case GROUP_TIE:
        read_tie(r, n, g, j.x, j.d);
        break;
    case GROUP_CORD:
        read_tie(e, n, g, j.x, j.d);
        jet_dot(&l, n, e, e);
        if (sqrt(l.v) <= g->c[4]) {
            jet_constant(&r[0], 0);
        } else {
            jet_sqrt(&r[0], n, &l);
            r[0].v -= g->c[4];
        }
        break;
    case GROUP_SLOPE:
        less(e, n, j.x[2], j.x[1]);
        unit(t, &l, n, e);
        jet_dot(&r[0], n, j.d[0], t);
        break;
    case GROUP_FORMER:
        read_former(&r[0], n, g, j.x[0]);
        break;
    case GROUP_LINEAR:
        assert(0);
    }
    return n;
}

int group_one_sided(const struct group *g) {
    return g->kind == GROUP_FORMER || g->kind == GROUP_CORD;
}

static double linear_reading(const struct body_shell *s, const struct group *g) {
    double r = 0;
    for (int i = 0; i < g->n; i++) {
        size_t k = g->node[0] + (size_t)i, v = s->list_node[k];
        for (int c = 0; c < 3; c++)
            r += s->list_weight[k][c] * (s->x[v][c] - s->rest[v][c]);
    }
    return r;
}

static void vertex_mean(const struct body_shell *s, const struct group *g, double r[3]) {
    for (int c = 0; c < 3; c++) {
        r[c] = s->x[g->node[3]][c];
        for (int i = 0; i < 3; i++)
            r[c] -= g->c[i] * (s->x[g->node[i]][c] + g->c[3] * s->n[g->node[i]][c]);
    }
}

/* Values alone, for energies: the cheap kinds straight, the others through their jets. */
void group_readings(const struct body_shell *s, const struct group *g, double r[GROUP_READINGS]) {
    double e[3];
    switch (g->kind) {
    case GROUP_LINEAR:
        r[0] = linear_reading(s, g);
        return;
    case GROUP_STRETCH:
    case GROUP_CHORD:
        for (int c = 0; c < 3; c++)
            e[c] = s->x[g->node[1]][c] - s->x[g->node[0]][c];
        r[0] = dot3(e, e);
        if (g->kind == GROUP_CHORD) r[0] = sqrt(r[0]);
        return;
    case GROUP_TIE:
        vertex_mean(s, g, r);
        return;
    case GROUP_CORD:
        vertex_mean(s, g, e);
        r[0] = fmax(sqrt(dot3(e, e)) - g->c[4], 0);
        return;
    default: {
        struct jet j[GROUP_READINGS];
        read_all(j, s, g);
        for (int i = 0; i < g->m; i++)
            r[i] = j[i].v;
    }
    }
}

double group_energy(const struct body_shell *s, const struct group *g) {
    if (g->k == 0) return 0;
    double r[GROUP_READINGS], w = 0;
    group_readings(s, g, r);
    for (int i = 0; i < g->m; i++)
        w += 0.5 * g->k * (r[i] - g->rest[i]) * (r[i] - g->rest[i]);
    return w;
}

static void linear_derivatives(const struct body_shell *s, const struct group *g, double *grad,
                               double *k) {
    const size_t *nodes;
    int n = group_unknowns(s, g, &nodes), at = 0;
    double force = g->k * (linear_reading(s, g) - g->rest[0]);
    memset(grad, 0, (size_t)n * sizeof *grad);
    for (int i = 0; i < g->n; i++) {
        for (int c = 0; c < 3; c++)
            grad[at + c] = s->list_weight[g->node[0] + (size_t)i][c];
        at += node_size(s, nodes[i]);
    }
    for (int a = 0; k && a < n; a++)
        for (int b = 0; b < n; b++)
            k[a * n + b] = g->k * grad[a] * grad[b];
    for (int a = 0; a < n; a++)
        grad[a] *= force;
}

void group_derivatives(const struct body_shell *s, const struct group *g, const double *fi,
                       double *grad, double *k) {
    if (g->kind == GROUP_LINEAR) {
        linear_derivatives(s, g, grad, k);
        return;
    }
    struct jet r[GROUP_READINGS];
    int n = read_all(r, s, g);
    memset(grad, 0, (size_t)n * sizeof *grad);
    if (k) memset(k, 0, (size_t)(n * n) * sizeof *k);
    for (int i = 0; i < g->m; i++) {
        double force = g->k * (r[i].v - g->rest[i]),
               bend = fi && !group_one_sided(g) ? fi[i] : force;
        for (int a = 0; a < n; a++) {
            grad[a] += force * r[i].g[a];
            for (int b = 0; k && b < n; b++)
                k[a * n + b] += g->k * r[i].g[a] * r[i].g[b] + bend * r[i].h[a][b];
        }
    }
}

void group_forces_ahead(const struct body_shell *s, const struct group *g, const double *d,
                        double *fi) {
    if (g->kind == GROUP_LINEAR) return;
    struct jet r[GROUP_READINGS];
    int n = read_all(r, s, g);
    for (int i = 0; i < g->m; i++) {
        double v = r[i].v - g->rest[i];
        for (int a = 0; a < n && d; a++)
            v += r[i].g[a] * d[a];
        fi[i] = g->k * v;
    }
}
