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

/* All readings of a group of the rarer kinds as jets; returns how many unknowns they depend on. */
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
    case GROUP_CHORD:
        less(e, n, j.x[1], j.x[0]);
        unit(t, &r[0], n, e);
        break;
    case GROUP_TWIST:
        read_twist(&r[0], n, j.x, j.d);
        break;
    case GROUP_INPLANE:
        read_inplane(&r[0], n, j.x, j.d[1]);
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
    case GROUP_STRETCH:
    case GROUP_BEND:
    case GROUP_TIE:
    case GROUP_FLAT:
    case GROUP_LINEAR: /* worked out without jets */
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

/* Curvature binormal 2 e0 x e1 / q, q = |e0||e1| + e0 . e1, and what its derivatives in e0 and e1
 * are made of: w = 1/q, w1 = dw, u1[c] = d (e0 x e1)_c. */
struct binormal {
    double e[2][3], l[2], u[3], w, q1[6], w1[6], u1[3][6];
};

static void binormal_of(struct binormal *b, const struct body_shell *s, const struct group *g) {
    for (int k = 0; k < 2; k++) {
        for (int c = 0; c < 3; c++)
            b->e[k][c] = s->x[g->node[k + 1]][c] - s->x[g->node[k]][c];
        b->l[k] = sqrt(dot3(b->e[k], b->e[k]));
    }
    cross3(b->e[0], b->e[1], b->u);
    b->w = 1 / (b->l[0] * b->l[1] + dot3(b->e[0], b->e[1]));
    for (int c = 0; c < 3; c++) {
        b->q1[c] = b->l[1] / b->l[0] * b->e[0][c] + b->e[1][c];
        b->q1[3 + c] = b->l[0] / b->l[1] * b->e[1][c] + b->e[0][c];
    }
    for (int i = 0; i < 6; i++)
        b->w1[i] = -b->w * b->w * b->q1[i];
    memset(b->u1, 0, sizeof b->u1);
    for (int c = 0; c < 3; c++) {
        int j = (c + 1) % 3, k = (c + 2) % 3;
        b->u1[c][j] = b->e[1][k];
        b->u1[c][k] = -b->e[1][j];
        b->u1[c][3 + k] = b->e[0][j];
        b->u1[c][3 + j] = -b->e[0][k];
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
    case GROUP_BEND: {
        double e1[3], u[3];
        for (int c = 0; c < 3; c++) {
            e[c] = s->x[g->node[1]][c] - s->x[g->node[0]][c];
            e1[c] = s->x[g->node[2]][c] - s->x[g->node[1]][c];
        }
        cross3(e, e1, u);
        double below = sqrt(dot3(e, e) * dot3(e1, e1)) + dot3(e, e1);
        for (int c = 0; c < 3; c++)
            r[c] = 2 * u[c] / below -
                   (g->c[0] != 0 ? g->c[0] * s->n[g->node[g->n > 3 ? 3 : 1]][c] : 0);
        return;
    }
    case GROUP_FLAT: {
        struct binormal b;
        binormal_of(&b, s, g);
        r[0] = 2 * b.w * dot3(b.u, s->n[g->node[3]]);
        return;
    }
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

/* ---- the frequent kinds by hand ------------------------------------------------------------- */

/* A reading with its first derivatives in the group's own unknowns. */
struct rows_of {
    int n, at[GROUP_NODES];
    double v[GROUP_READINGS], g[GROUP_READINGS][JET_MOST];
};

/* Adds sum of f[c] times the second derivatives of the binormal, in (e0, e1), to h. */
static void binormal_second(const struct binormal *b, const double f[3], double h[6][6]) {
    double a[6] = {0}, along = dot3(f, b->u), w = b->w;
    for (int c = 0; c < 3; c++)
        for (int i = 0; i < 6; i++)
            a[i] += f[c] * b->u1[c][i];
    for (int i = 0; i < 6; i++)
        for (int j = 0; j < 6; j++) {
            int p = i / 3, q = j / 3, c = i % 3, d = j % 3;
            const double *x = b->e[p], *y = b->e[q];
            double other = b->l[1 - p];
            double q2 = p == q ? other * ((c == d) / b->l[p] - x[c] * x[d] / pow(b->l[p], 3))
                               : x[c] * y[d] / (b->l[0] * b->l[1]) + (c == d);
            h[i][j] += 2 * (a[i] * b->w1[j] + a[j] * b->w1[i] +
                            along * (2 * w * w * w * b->q1[i] * b->q1[j] - w * w * q2));
        }
    for (int c = 0; c < 3; c++) { /* (e0 x e1)_c = e0_j e1_k - e0_k e1_j */
        int j = (c + 1) % 3, k = (c + 2) % 3;
        h[j][3 + k] += 2 * w * f[c];
        h[3 + k][j] += 2 * w * f[c];
        h[k][3 + j] -= 2 * w * f[c];
        h[3 + j][k] -= 2 * w * f[c];
    }
}

/* Of e0, e1 in the places of the three nodes. */
static const double EDGE_ON[3][2] = {{-1, 0}, {1, -1}, {0, 1}};

static int turning_node(const struct group *g) {
    return g->n > 3 ? 3 : 1;
}

static void rows_bend(struct rows_of *r, const struct body_shell *s, const struct group *g,
                      const struct binormal *b) {
    for (int c = 0; c < 3; c++) {
        r->v[c] = 2 * b->u[c] * b->w;
        for (int i = 0; i < 3; i++)
            for (int d = 0; d < 3; d++)
                for (int e = 0; e < 2; e++)
                    r->g[c][r->at[i] + d] +=
                        EDGE_ON[i][e] * 2 *
                        (b->u1[c][3 * e + d] * b->w + b->u[c] * b->w1[3 * e + d]);
        if (g->c[0] == 0) continue;
        size_t v = g->node[turning_node(g)];
        int t = r->at[turning_node(g)] + 3;
        r->v[c] -= g->c[0] * s->n[v][c];
        r->g[c][t] -= g->c[0] * s->p1[v][c];
        r->g[c][t + 1] -= g->c[0] * s->p2[v][c];
    }
}

static void second_bend(const struct rows_of *r, const struct body_shell *s, const struct group *g,
                        const struct binormal *b, const double f[3], double *k) {
    double h[6][6] = {{0}};
    binormal_second(b, f, h);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            for (int p = 0; p < 2; p++)
                for (int q = 0; q < 2; q++) {
                    double w = EDGE_ON[i][p] * EDGE_ON[j][q];
                    for (int c = 0; c < 3 && w != 0; c++)
                        for (int d = 0; d < 3; d++)
                            k[(r->at[i] + c) * r->n + r->at[j] + d] += w * h[3 * p + c][3 * q + d];
                }
    if (g->c[0] == 0) return;
    int t = r->at[turning_node(g)] + 3;
    double up = g->c[0] * dot3(f, s->n[g->node[turning_node(g)]]);
    k[t * r->n + t] += up;
    k[(t + 1) * r->n + t + 1] += up;
}

/* The binormal's part along the normal of a vertex. */
static void rows_flat(struct rows_of *r, const struct body_shell *s, const struct group *g,
                      const struct binormal *b) {
    struct rows_of all = *r;
    size_t v = g->node[3];
    int t = r->at[3] + 3;
    rows_bend(&all, s, g, b); /* c[0] is 0: without a set */
    for (int c = 0; c < 3; c++) {
        r->v[0] += all.v[c] * s->n[v][c];
        for (int a = 0; a < r->n; a++)
            r->g[0][a] += all.g[c][a] * s->n[v][c];
        r->g[0][t] += all.v[c] * s->p1[v][c];
        r->g[0][t + 1] += all.v[c] * s->p2[v][c];
    }
}

static void second_flat(const struct rows_of *r, const struct body_shell *s, const struct group *g,
                        const struct binormal *b, double f, double *k) {
    size_t v = g->node[3];
    int t = r->at[3] + 3;
    struct rows_of all = {.n = r->n};
    const double fn[3] = {f * s->n[v][0], f * s->n[v][1], f * s->n[v][2]};
    memcpy(all.at, r->at, sizeof all.at);
    rows_bend(&all, s, g, b);
    second_bend(r, s, g, b, fn, k);
    for (int a = 0; a < r->n; a++)
        for (int c = 0; c < 3; c++) {
            double w1 = f * all.g[c][a] * s->p1[v][c], w2 = f * all.g[c][a] * s->p2[v][c];
            k[a * r->n + t] += w1;
            k[t * r->n + a] += w1;
            k[a * r->n + t + 1] += w2;
            k[(t + 1) * r->n + a] += w2;
        }
    k[t * r->n + t] -= f * r->v[0];
    k[(t + 1) * r->n + t + 1] -= f * r->v[0];
}

static void rows_stretch(struct rows_of *r, const struct body_shell *s, const struct group *g) {
    for (int c = 0; c < 3; c++) {
        double e = s->x[g->node[1]][c] - s->x[g->node[0]][c];
        r->v[0] += e * e;
        r->g[0][r->at[0] + c] = -2 * e;
        r->g[0][r->at[1] + c] = 2 * e;
    }
}

static void second_stretch(const struct rows_of *r, double f, double *k) {
    for (int c = 0; c < 3; c++) {
        int a = r->at[0] + c, b = r->at[1] + c;
        k[a * r->n + a] += 2 * f;
        k[b * r->n + b] += 2 * f;
        k[a * r->n + b] -= 2 * f;
        k[b * r->n + a] -= 2 * f;
    }
}

static void rows_tie(struct rows_of *r, const struct body_shell *s, const struct group *g) {
    vertex_mean(s, g, r->v);
    for (int c = 0; c < 3; c++) {
        r->g[c][r->at[3] + c] = 1;
        for (int i = 0; i < 3; i++) {
            size_t v = g->node[i];
            r->g[c][r->at[i] + c] = -g->c[i];
            r->g[c][r->at[i] + 3] = -g->c[i] * g->c[3] * s->p1[v][c];
            r->g[c][r->at[i] + 4] = -g->c[i] * g->c[3] * s->p2[v][c];
        }
    }
}

static void second_tie(const struct rows_of *r, const struct body_shell *s, const struct group *g,
                       const double f[3], double *k) {
    for (int i = 0; i < 3; i++) {
        double up = g->c[i] * g->c[3] * dot3(f, s->n[g->node[i]]);
        for (int t = r->at[i] + 3; t < r->at[i] + 5; t++)
            k[t * r->n + t] += up;
    }
}

static int by_hand(const struct group *g) {
    return g->kind == GROUP_STRETCH || g->kind == GROUP_BEND || g->kind == GROUP_TIE ||
           g->kind == GROUP_FLAT;
}

static void rows_by_hand(struct rows_of *r, struct binormal *b, const struct body_shell *s,
                         const struct group *g) {
    memset(r, 0, sizeof *r);
    r->n = starts(s, g, r->at);
    if (g->kind == GROUP_STRETCH) rows_stretch(r, s, g);
    if (g->kind == GROUP_TIE) rows_tie(r, s, g);
    if (g->kind == GROUP_BEND) {
        binormal_of(b, s, g);
        rows_bend(r, s, g, b);
    }
    if (g->kind == GROUP_FLAT) {
        binormal_of(b, s, g);
        rows_flat(r, s, g, b);
    }
}

static void derivatives_by_hand(const struct body_shell *s, const struct group *g, const double *fi,
                                double *grad, double *k) {
    struct rows_of r;
    struct binormal b;
    double bend[GROUP_READINGS] = {0};
    rows_by_hand(&r, &b, s, g);
    int n = r.n;
    memset(grad, 0, (size_t)n * sizeof *grad);
    if (k) memset(k, 0, (size_t)(n * n) * sizeof *k);
    for (int i = 0; i < g->m; i++) {
        double force = g->k * (r.v[i] - g->rest[i]);
        bend[i] = fi ? fi[i] : force;
        for (int a = 0; a < n; a++) {
            grad[a] += force * r.g[i][a];
            double w = g->k * r.g[i][a];
            for (int c = 0; k && w != 0 && c < n; c++)
                k[a * n + c] += w * r.g[i][c];
        }
    }
    if (!k) return;
    if (g->kind == GROUP_STRETCH) second_stretch(&r, bend[0], k);
    if (g->kind == GROUP_TIE) second_tie(&r, s, g, bend, k);
    if (g->kind == GROUP_BEND) second_bend(&r, s, g, &b, bend, k);
    if (g->kind == GROUP_FLAT) second_flat(&r, s, g, &b, bend[0], k);
}

/* ---- energy and its derivatives ------------------------------------------------------------- */

void group_derivatives(const struct body_shell *s, const struct group *g, const double *fi,
                       double *grad, double *k) {
    if (g->kind == GROUP_LINEAR) {
        linear_derivatives(s, g, grad, k);
        return;
    }
    if (by_hand(g)) {
        derivatives_by_hand(s, g, fi, grad, k);
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
    if (by_hand(g)) {
        struct rows_of r;
        struct binormal b;
        rows_by_hand(&r, &b, s, g);
        for (int i = 0; i < g->m; i++) {
            double v = r.v[i] - g->rest[i];
            for (int a = 0; a < r.n && d; a++)
                v += r.g[i][a] * d[a];
            fi[i] = g->k * v;
        }
        return;
    }
    struct jet r[GROUP_READINGS];
    int n = read_all(r, s, g);
    for (int i = 0; i < g->m; i++) {
        double v = r[i].v - g->rest[i];
        for (int a = 0; a < n && d; a++)
            v += r[i].g[a] * d[a];
        fi[i] = g->k * v;
    }
}
