/* Moving positions and normals, and keeping copies of them. */
#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <string.h>

static void normalise(double *a) {
    double l = sqrt(dot3(a, a));
    for (int c = 0; c < 3; c++)
        a[c] /= l;
}

/* Any tangent axes for vertex v: p1 along the space axis that lies flattest. */
void shell_frame(struct body_shell *s, size_t v) {
    const double *n = s->n[v];
    int k = fabs(n[0]) < fabs(n[1]) ? (fabs(n[0]) < fabs(n[2]) ? 0 : 2)
                                    : (fabs(n[1]) < fabs(n[2]) ? 1 : 2);
    double dir[3] = {0};
    dir[k] = 1;
    body_shell_tangent(s, v, dir);
}

void body_shell_tangent(struct body_shell *s, size_t v, const double dir[3]) {
    shell_touch(s);
    const double *n = s->n[v];
    double up = dot3(dir, n);
    for (int c = 0; c < 3; c++)
        s->p1[v][c] = dir[c] - up * n[c];
    normalise(s->p1[v]);
    cross3(n, s->p1[v], s->p2[v]);
    memcpy(s->rest_p1[v], s->p1[v], sizeof *s->p1);
}

/* x0 + a d, and n0 turned by the tilts along the great circle; the tangent axes are carried along.
 */
void shell_move(struct body_shell *s, const double *d, double a, const double (*x0)[3],
                const double (*n0)[3], const double (*p0)[3], const double (*r0)[3]) {
    shell_touch(s);
    for (size_t v = 0; v < s->nodes; v++) {
        const double *dv = d + node_dof(s, v);
        double dx[3] = {a * dv[0], a * dv[1], a * dv[2]};
        if (s->axes_of[v] >= 0) { /* unknowns count along the support's axes */
            const double *q = s->axes[s->axes_of[v]];
            double t[3] = {dx[0], dx[1], dx[2]};
            for (int c = 0; c < 3; c++)
                dx[c] = q[c] * t[0] + q[3 + c] * t[1] + q[6 + c] * t[2];
        }
        for (int c = 0; c < 3; c++)
            s->x[v][c] = x0[v][c] + dx[c];
        if (v >= s->nv) continue;
        double t1 = a * dv[3], t2 = a * dv[4], t = hypot(t1, t2);
        double cosine = cos(t), sine = t > 0 ? sin(t) / t : 1, n[3];
        for (int c = 0; c < 3; c++)
            n[c] = cosine * n0[v][c] + sine * (t1 * p0[v][c] + t2 * r0[v][c]);
        normalise(n);
        double k = dot3(p0[v], n) / (1 + dot3(n0[v], n));
        for (int c = 0; c < 3; c++)
            s->p1[v][c] = p0[v][c] - k * (n0[v][c] + n[c]);
        memcpy(s->n[v], n, sizeof n);
        double slip = dot3(s->p1[v], n);
        for (int c = 0; c < 3; c++)
            s->p1[v][c] -= slip * n[c];
        normalise(s->p1[v]);
        cross3(n, s->p1[v], s->p2[v]);
    }
}

void state_store(struct body_state *t, const struct body_shell *s) {
    memcpy(t->x, s->x, s->nodes * sizeof *t->x);
    memcpy(t->n, s->n, s->nv * sizeof *t->n);
    memcpy(t->p1, s->p1, s->nv * sizeof *t->p1);
    memcpy(t->p2, s->p2, s->nv * sizeof *t->p2);
    t->lambda = s->lambda;
    t->moved = s->moved;
}

void state_recall(struct body_shell *s, const struct body_state *t) {
    shell_touch(s);
    memcpy(s->x, t->x, s->nodes * sizeof *t->x);
    memcpy(s->n, t->n, s->nv * sizeof *t->n);
    memcpy(s->p1, t->p1, s->nv * sizeof *t->p1);
    memcpy(s->p2, t->p2, s->nv * sizeof *t->p2);
    s->lambda = t->lambda;
    s->moved = t->moved;
}

int body_state_save(struct body_state **out, const struct body_shell *s, struct error *err) {
    struct body_state *t = MEM_NEW(struct body_state, 1);
    *out = t;
    if (!t) return fail_memory(err);
    t->nv = s->nv;
    t->nodes = s->nodes;
    t->x = mem_alloc(s->nodes, sizeof *t->x);
    t->n = mem_alloc(s->nv, sizeof *t->n);
    t->p1 = mem_alloc(s->nv, sizeof *t->p1);
    t->p2 = mem_alloc(s->nv, sizeof *t->p2);
    if (!t->x || !t->n || !t->p1 || !t->p2) {
        body_state_free(t);
        *out = NULL;
        return fail_memory(err);
    }
    state_store(t, s);
    return 0;
}

void body_state_load(struct body_shell *s, const struct body_state *t) {
    if (t->nv == s->nv && t->nodes == s->nodes) state_recall(s, t);
}

void body_state_free(struct body_state *t) {
    if (!t) return;
    mem_free(t->x);
    mem_free(t->n);
    mem_free(t->p1);
    mem_free(t->p2);
    mem_free(t);
}

void body_shell_set(struct body_shell *s, const double (*x)[3], const double (*n)[3]) {
    shell_touch(s);
    memcpy(s->x, x, s->nv * sizeof *x);
    for (size_t v = 0; n && v < s->nv; v++) {
        double p[3];
        memcpy(p, s->p1[v], sizeof p);
        memcpy(s->n[v], n[v], sizeof *n);
        normalise(s->n[v]);
        if (fabs(dot3(p, s->n[v])) < 0.99)
            body_shell_tangent(s, v, p);
        else
            shell_frame(s, v);
    }
}

void body_shell_shift(struct body_shell *s, const double *d) {
    shell_touch(s);
    /* in place: each node's new state needs only its own old one, copied first */
    for (size_t v = 0; v < s->nodes; v++) {
        struct body_shell one = *s;
        double x[1][3], n[1][3], p[1][3], r[1][3];
        memcpy(x[0], s->x[v], sizeof x);
        if (v < s->nv) {
            memcpy(n[0], s->n[v], sizeof n);
            memcpy(p[0], s->p1[v], sizeof p);
            memcpy(r[0], s->p2[v], sizeof r);
        }
        one.x = s->x + v;
        one.n = s->n + v;
        one.p1 = s->p1 + v;
        one.p2 = s->p2 + v;
        one.axes_of = s->axes_of + v;
        one.nodes = 1;
        one.nv = v < s->nv;
        shell_move(&one, d + node_dof(s, v), 1, (const double(*)[3])x, (const double(*)[3])n,
                   (const double(*)[3])p, (const double(*)[3])r);
    }
}
