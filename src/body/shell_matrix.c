/* The tangent: where its entries lie, filling them, factoring (order and supernodes by CHOLMOD, the
 * numbers by frontal.h; CHOLMOD's simplicial LDL' where saddles are wanted: no dense library).
 *
 * Blocks of 5 (vertices) or 3 (further nodes) unknowns; the lower half is stored by columns. All
 * five columns of a node hold the same rows: the rest of its own block, then the blocks of its
 * later neighbours in order. A fixed unknown keeps its place with 1 on the diagonal, so that
 * supports may change without new symbolic work. */
#include "base/mem.h"
#include "body/frontal.h"
#include "body/shell_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Pairs lo < hi of nodes that meet in a face or a group. */
struct pair {
    int lo, hi;
};

static int pair_order(const void *a, const void *b) {
    const struct pair *p = a, *q = b;
    if (p->lo != q->lo) return p->lo < q->lo ? -1 : 1;
    return p->hi < q->hi ? -1 : p->hi > q->hi;
}

static size_t group_pairs(const struct group *g) {
    return (size_t)(g->n * (g->n - 1) / 2);
}

static struct pair pair_of(size_t a, size_t b) {
    return a < b ? (struct pair){(int)a, (int)b} : (struct pair){(int)b, (int)a};
}

static struct pair *list_pairs(const struct body_shell *s, size_t *count) {
    size_t n = 3 * s->nf + 6 * s->smooths, k = 0;
    for (size_t i = 0; i < s->groups; i++)
        n += group_pairs(&s->group[i]);
    struct pair *p = MEM_NEW(struct pair, n);
    if (!p) return NULL;
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 3; i++)
            p[k++] = pair_of((size_t)s->tri[f][i], (size_t)s->tri[f][(i + 1) % 3]);
    for (size_t i = 0; i < s->groups; i++) {
        const size_t *node;
        group_unknowns(s, &s->group[i], &node);
        for (int a = 0; a < s->group[i].n; a++)
            for (int b = 0; b < a; b++)
                if (node[a] != node[b]) p[k++] = pair_of(node[a], node[b]);
    }
    for (size_t i = 0; i < s->smooths; i++)
        for (int a = 0; a < s->smooth[i].nodes; a++)
            for (int b = 0; b < a; b++)
                p[k++] = pair_of(s->smooth[i].node[a], s->smooth[i].node[b]);
    qsort(p, k, sizeof *p, pair_order);
    size_t m = 0;
    for (size_t i = 0; i < k; i++)
        if (i == 0 || pair_order(&p[i], &p[i - 1])) p[m++] = p[i];
    *count = m;
    return p;
}

/* Row offset of block hi within the columns of lo, counted after lo's own block. */
static int slot_of(const struct body_shell *s, const struct pair *pairs, const size_t *start,
                   size_t a, size_t b) {
    struct pair w = pair_of(a, b);
    int at = 0;
    for (size_t k = start[w.lo]; k < start[w.lo + 1]; k++) {
        if (pairs[k].hi == w.hi) return at;
        at += node_size(s, (size_t)pairs[k].hi);
    }
    return -1; /* a node with itself */
}

static int fill_pattern(struct body_shell *s, const struct pair *pairs, const size_t *start,
                        struct error *err) {
    struct matrix *m = &s->matrix;
    size_t entries = 0;
    for (size_t v = 0; v < s->nodes; v++) {
        size_t own = (size_t)node_size(s, v), later = 0;
        for (size_t k = start[v]; k < start[v + 1]; k++)
            later += (size_t)node_size(s, (size_t)pairs[k].hi);
        entries += own * (own + 1) / 2 + own * later;
    }
    m->h = cholmod_allocate_sparse(s->unknowns, s->unknowns, entries, 1, 1, -1, CHOLMOD_REAL,
                                   &m->common);
    if (!m->h) return fail_memory(err);
    int *p = m->h->p, *row = m->h->i, at = 0;
    for (size_t v = 0; v < s->nodes; v++) {
        int d = (int)node_dof(s, v), own = node_size(s, v);
        for (int c = 0; c < own; c++) {
            p[d + c] = at;
            for (int r = c; r < own; r++)
                row[at++] = d + r;
            for (size_t k = start[v]; k < start[v + 1]; k++) {
                int e = (int)node_dof(s, (size_t)pairs[k].hi);
                for (int r = 0; r < node_size(s, (size_t)pairs[k].hi); r++)
                    row[at++] = e + r;
            }
        }
    }
    p[s->unknowns] = at;
    return 0;
}

static int fill_slots(struct body_shell *s, const struct pair *pairs, const size_t *start,
                      struct error *err) {
    struct matrix *m = &s->matrix;
    size_t n = 0;
    for (size_t i = 0; i < s->groups; i++)
        n += group_pairs(&s->group[i]);
    n += 6 * s->smooths;
    m->face_slot = MEM_NEW(int, 3 * s->nf);
    m->pair_slot = MEM_NEW(int, n);
    m->diagonal = MEM_NEW(double, s->unknowns);
    if (!m->face_slot || !m->pair_slot || !m->diagonal) return fail_memory(err);
    for (size_t f = 0; f < s->nf; f++) {
        const int *v = s->tri[f];
        m->face_slot[3 * f] = slot_of(s, pairs, start, (size_t)v[1], (size_t)v[0]);
        m->face_slot[3 * f + 1] = slot_of(s, pairs, start, (size_t)v[2], (size_t)v[0]);
        m->face_slot[3 * f + 2] = slot_of(s, pairs, start, (size_t)v[2], (size_t)v[1]);
    }
    n = 0;
    for (size_t i = 0; i < s->groups; i++) {
        const size_t *node;
        group_unknowns(s, &s->group[i], &node);
        s->group[i].slot = n;
        for (int a = 0; a < s->group[i].n; a++)
            for (int b = 0; b < a; b++)
                m->pair_slot[n++] = slot_of(s, pairs, start, node[a], node[b]);
    }
    for (size_t i = 0; i < s->smooths; i++) {
        struct smooth *d = &s->smooth[i];
        d->slot = n;
        for (int a = 0; a < d->nodes; a++)
            for (int b = 0; b < a; b++)
                m->pair_slot[n++] = slot_of(s, pairs, start, d->node[a], d->node[b]);
    }
    return 0;
}

/* Orders the nodes (not the single unknowns) for little fill and hands that order to the symbolic
 * analysis. AMD, because it keeps no hidden state and gives the same order every time. */
static int analyse(struct body_shell *s, const struct pair *pairs, size_t count,
                   const size_t *start, struct error *err) {
    struct matrix *m = &s->matrix;
    cholmod_sparse *graph = cholmod_allocate_sparse(s->nodes, s->nodes, count + s->nodes, 1, 1, -1,
                                                    CHOLMOD_PATTERN, &m->common);
    int *order = MEM_NEW(int, s->nodes), *whole = MEM_NEW(int, s->unknowns);
    int rc = graph && order && whole ? 0 : fail_memory(err);
    if (!rc) {
        int *p = graph->p, *row = graph->i, at = 0, n = 0;
        for (size_t v = 0; v < s->nodes; v++) {
            p[v] = at;
            row[at++] = (int)v;
            for (size_t k = start[v]; k < start[v + 1]; k++)
                row[at++] = pairs[k].hi;
        }
        p[s->nodes] = at;
        if (!cholmod_amd(graph, NULL, 0, order, &m->common)) rc = fail_memory(err);
        for (size_t k = 0; !rc && k < s->nodes; k++)
            for (int c = 0; c < node_size(s, (size_t)order[k]); c++)
                whole[n++] = (int)node_dof(s, (size_t)order[k]) + c;
    }
    if (!rc) {
        m->common.nmethods = 1;
        m->common.method[0].ordering = CHOLMOD_GIVEN;
        m->common.postorder = 1;
        m->factor = cholmod_analyze_p(m->h, whole, NULL, 0, &m->common);
        m->rhs = cholmod_zeros(s->unknowns, 1, CHOLMOD_REAL, &m->common);
        if (!m->factor || !m->rhs || !m->factor->is_super) rc = fail_memory(err);
    }
    if (!rc) {
        const struct frontal_pattern pattern = {.n = s->unknowns,
                                                .p = m->h->p,
                                                .row = m->h->i,
                                                .perm = m->factor->Perm,
                                                .supers = m->factor->nsuper,
                                                .super = m->factor->super,
                                                .start = m->factor->pi,
                                                .row_of = m->factor->s};
        rc = frontal_new(&m->frontal, &pattern, err);
    }
    mem_free(order);
    mem_free(whole);
    cholmod_free_sparse(&graph, &m->common);
    return rc;
}

int matrix_make(struct body_shell *s, struct error *err) {
    matrix_drop(s);
    struct matrix *m = &s->matrix;
    size_t count = 0;
    struct pair *pairs = list_pairs(s, &count);
    size_t *start = MEM_NEW(size_t, s->nodes + 2);
    if (!pairs || !start) {
        mem_free(pairs);
        mem_free(start);
        return fail_memory(err);
    }
    for (size_t k = 0; k < count; k++)
        start[pairs[k].lo + 1]++;
    for (size_t v = 0; v < s->nodes; v++)
        start[v + 1] += start[v];
    cholmod_start(&m->common);
    m->common.supernodal = CHOLMOD_SUPERNODAL;
    m->common.print = 0;
    m->common.quick_return_if_not_posdef = 1;
    m->ready = 1;
    int rc = fill_pattern(s, pairs, start, err);
    if (!rc) rc = fill_slots(s, pairs, start, err);
    if (!rc) rc = analyse(s, pairs, count, start, err);
    mem_free(pairs);
    mem_free(start);
    if (rc) matrix_drop(s);
    return rc;
}

void matrix_drop(struct body_shell *s) {
    struct matrix *m = &s->matrix;
    if (!m->ready) return;
    frontal_free(m->frontal);
    cholmod_free_sparse(&m->h, &m->common);
    cholmod_free_factor(&m->factor, &m->common);
    cholmod_free_factor(&m->signed_factor, &m->common);
    cholmod_free_dense(&m->rhs, &m->common);
    cholmod_free_dense(&m->y, &m->common);
    cholmod_free_dense(&m->e, &m->common);
    cholmod_free_dense(&m->solution, &m->common);
    cholmod_finish(&m->common);
    mem_free(m->face_slot);
    mem_free(m->pair_slot);
    mem_free(m->diagonal);
    memset(m, 0, sizeof *m);
}

/* Lets the places of nodes with their own support axes count along them: rows and columns turned.
 */
static void turn_block(const struct body_shell *s, const size_t *node, int nodes, int n, double *k,
                       double *g) {
    for (int i = 0, at = 0; i < nodes; at += node_size(s, node[i]), i++) {
        if (s->axes_of[node[i]] < 0) continue;
        const double *q = s->axes[s->axes_of[node[i]]];
        double t[3] = {g[at], g[at + 1], g[at + 2]};
        for (int r = 0; r < 3; r++)
            g[at + r] = dot3(q + 3 * r, t);
        if (!k) continue;
        for (int c = 0; c < n; c++) {
            double w[3] = {k[at * n + c], k[(at + 1) * n + c], k[(at + 2) * n + c]};
            for (int r = 0; r < 3; r++)
                k[(at + r) * n + c] = dot3(q + 3 * r, w);
        }
        for (int c = 0; c < n; c++) {
            double w[3] = {k[c * n + at], k[c * n + at + 1], k[c * n + at + 2]};
            for (int r = 0; r < 3; r++)
                k[c * n + at + r] = dot3(q + 3 * r, w);
        }
    }
}

struct block {
    const size_t *node;
    int nodes, n;
    const int *slot; /* of pairs (1,0) (2,0) (2,1) ... */
};

/* Adds one diagonal or lower block of k [n][n] (lower triangle used) to the matrix. */
static void add_block(struct body_shell *s, const struct block *b, const double *k) {
    double *hx = s->matrix.h->x;
    const int *p = s->matrix.h->p;
    int pair = 0;
    for (int i = 0, ai = 0; i < b->nodes; ai += node_size(s, b->node[i]), i++) {
        size_t vi = b->node[i];
        int ni = node_size(s, vi), di = (int)node_dof(s, vi);
        for (int c = 0; c < ni; c++) {
            double *to = hx + p[di + c] - c;
            for (int r = c; r < ni; r++)
                to[r] += k[(ai + r) * b->n + ai + c];
        }
        for (int j = 0, aj = 0; j < i; aj += node_size(s, b->node[j]), j++, pair++) {
            size_t vj = b->node[j];
            int nj = node_size(s, vj), dj = (int)node_dof(s, vj), slot = b->slot[pair];
            if (vi == vj) { /* the same node twice in one list */
                for (int c = 0; c < ni; c++)
                    for (int r = c; r < ni; r++)
                        hx[p[di + c] + r - c] +=
                            k[(ai + r) * b->n + aj + c] + k[(ai + c) * b->n + aj + r];
            } else if (vi > vj) {
                for (int c = 0; c < nj; c++) {
                    double *to = hx + p[dj + c] + nj - c + slot;
                    for (int r = 0; r < ni; r++)
                        to[r] += k[(ai + r) * b->n + aj + c];
                }
            } else {
                for (int c = 0; c < ni; c++) {
                    double *to = hx + p[di + c] + ni - c + slot;
                    for (int r = 0; r < nj; r++)
                        to[r] += k[(ai + c) * b->n + aj + r];
                }
            }
        }
    }
}

/* What moving fixed unknowns by `push` adds to the gradient. */
static void add_push(const struct body_shell *s, const struct block *b, const double *k,
                     const double *push, double *g) {
    int dof[64], n = 0;
    for (int i = 0; i < b->nodes; i++)
        for (int c = 0; c < node_size(s, b->node[i]); c++)
            if (n < 64) dof[n++] = (int)node_dof(s, b->node[i]) + c;
    for (int j = 0; j < n; j++) {
        double d = push[dof[j]];
        if (d == 0) continue;
        for (int i = 0; i < n; i++)
            g[dof[i]] += (i >= j ? k[i * b->n + j] : k[j * b->n + i]) * d;
    }
}

static int any_axes(const struct body_shell *s, const size_t *node, int n) {
    for (int i = 0; i < n; i++)
        if (s->axes_of[node[i]] >= 0) return 1;
    return 0;
}

static double assemble_faces(struct body_shell *s, double *g, enum tangent what,
                             const double *push) {
    double size = 0, k[FACE_DOF][FACE_DOF], gf[FACE_DOF], kp[9][9];
    for (size_t f = 0; f < s->nf; f++) {
        size_t node[3] = {(size_t)s->tri[f][0], (size_t)s->tri[f][1], (size_t)s->tri[f][2]};
        face_derivatives(s, f, what == TANGENT_INDEPENDENT ? s->face[f].fi : NULL, gf,
                         what ? k : NULL);
        if (what && pressure_tangent(s, f, kp))
            for (int a = 0; a < 9; a++)
                for (int b = 0; b < 9; b++) {
                    int i = 5 * (a / 3) + a % 3, j = 5 * (b / 3) + b % 3;
                    if (j <= i) k[i][j] += kp[a][b];
                }
        if (s->axes_n && any_axes(s, node, 3)) {
            for (int a = 0; what && a < FACE_DOF; a++)
                for (int b = 0; b < a; b++)
                    k[b][a] = k[a][b];
            turn_block(s, node, 3, FACE_DOF, what ? &k[0][0] : NULL, gf);
        }
        for (int i = 0; i < 3; i++)
            for (int c = 0; c < 5; c++) {
                g[5 * node[i] + (size_t)c] += gf[5 * i + c];
                size += gf[5 * i + c] * gf[5 * i + c];
            }
        if (!what) continue;
        struct block b = {node, 3, FACE_DOF, s->matrix.face_slot + 3 * f};
        add_block(s, &b, &k[0][0]);
        if (push) add_push(s, &b, &k[0][0], push, g);
    }
    return size;
}

static double assemble_groups(struct body_shell *s, double *g, enum tangent what,
                              const double *push) {
    double size = 0, small[GROUP_UNKNOWNS * GROUP_UNKNOWNS], small_g[GROUP_UNKNOWNS];
    for (size_t i = 0; i < s->groups; i++) {
        struct group *q = &s->group[i];
        if (q->k == 0) continue;
        const size_t *node;
        int n = group_unknowns(s, q, &node);
        double *k = small, *gg = small_g;
        if (n > GROUP_UNKNOWNS) {
            gg = MEM_NEW(double, (size_t)n *(size_t)(n + 1));
            if (!gg) continue; /* the residual will not vanish and the solver says so */
            k = gg + n;
        }
        group_derivatives(s, q, what == TANGENT_INDEPENDENT ? q->fi : NULL, gg, what ? k : NULL);
        if (s->axes_n && any_axes(s, node, q->n)) turn_block(s, node, q->n, n, what ? k : NULL, gg);
        for (int a = 0, at = 0; a < q->n; at += node_size(s, node[a]), a++)
            for (int c = 0; c < node_size(s, node[a]); c++) {
                g[node_dof(s, node[a]) + (size_t)c] += gg[at + c];
                size += gg[at + c] * gg[at + c];
            }
        if (what) {
            struct block b = {node, q->n, n, s->matrix.pair_slot + q->slot};
            add_block(s, &b, k);
            if (push && n <= 64) add_push(s, &b, k, push, g);
        }
        if (gg != small_g) mem_free(gg);
    }
    return size;
}

static double assemble_smooth(struct body_shell *s, double *g, enum tangent what,
                              const double *push) {
    double size = 0, k[SMOOTH_DOF * SMOOTH_DOF], gd[SMOOTH_DOF];
    for (size_t i = 0; i < s->smooths; i++) {
        const struct smooth *d = &s->smooth[i];
        int n = 5 * d->nodes;
        smooth_derivatives(s, d, what == TANGENT_INDEPENDENT ? d->fi : NULL, gd, what ? k : NULL);
        if (s->axes_n && any_axes(s, d->node, d->nodes))
            turn_block(s, d->node, d->nodes, n, what ? k : NULL, gd);
        for (int a = 0; a < n; a++) {
            g[5 * d->node[a / 5] + (size_t)(a % 5)] += gd[a];
            size += gd[a] * gd[a];
        }
        if (!what) continue;
        struct block b = {d->node, d->nodes, n, s->matrix.pair_slot + d->slot};
        add_block(s, &b, k);
        if (push) add_push(s, &b, k, push, g);
    }
    return size;
}

/* Cuts fixed unknowns out: their rows and columns become those of the identity. */
static void pin(struct body_shell *s, double *g, int with_matrix) {
    for (size_t i = 0; i < s->unknowns; i++)
        if (s->fixed[i]) g[i] = 0;
    if (!with_matrix) return;
    double *hx = s->matrix.h->x;
    const int *p = s->matrix.h->p, *row = s->matrix.h->i;
    double mean = 0;
    for (size_t i = 0; i < s->unknowns; i++)
        mean += fabs(hx[p[i]]) / (double)s->unknowns;
    if (!(mean > 0)) mean = 1;
    for (size_t v = 0; v < s->nodes; v++) {
        size_t d = node_dof(s, v), own = (size_t)node_size(s, v);
        int any = 0; /* the first column holds all rows of the others */
        for (int k = p[d]; k < p[d + 1]; k++)
            any |= s->fixed[row[k]];
        for (size_t i = d; any && i < d + own; i++) {
            for (int k = p[i]; k < p[i + 1]; k++)
                if (s->fixed[i] || s->fixed[row[k]]) hx[k] = 0;
            if (s->fixed[i]) hx[p[i]] = mean;
        }
    }
}

/* A node that nothing holds (its parts were taken away) would make the matrix singular. */
static void hold_loose_nodes(struct body_shell *s) {
    double *hx = s->matrix.h->x;
    const int *p = s->matrix.h->p;
    for (size_t i = 5 * s->nv; i < s->unknowns; i++)
        if (hx[p[i]] == 0) hx[p[i]] = 1;
}

double matrix_assemble(struct body_shell *s, double *g, enum tangent what, const double *push,
                       int pinned) {
    struct matrix *m = &s->matrix;
    if (what) memset(m->h->x, 0, m->h->nzmax * sizeof(double));
    memset(g, 0, s->unknowns * sizeof *g);
    double size = assemble_faces(s, g, what, push);
    size += assemble_groups(s, g, what, push) + assemble_smooth(s, g, what, push);
    shell_load_gradient(s, g);
    if (what) hold_loose_nodes(s);
    if (pinned) pin(s, g, what != TANGENT_NONE);
    if (what) {
        m->current = what == TANGENT_TRUE && pinned;
        const int *p = m->h->p;
        for (size_t i = 0; i < s->unknowns; i++)
            m->diagonal[i] = ((double *)m->h->x)[p[i]];
    }
    return sqrt(size);
}

int matrix_factor(struct body_shell *s, double shift) {
    struct matrix *m = &s->matrix;
    double *hx = m->h->x, mean[2] = {0, 0};
    const int *p = m->h->p;
    size_t n[2] = {0, 0};
    if (shift > 0) {
        for (size_t i = 0; i < s->unknowns; i++) {
            if (s->fixed[i]) continue;
            int tilt = i < 5 * s->nv && i % 5 > 2;
            mean[tilt] += fabs(m->diagonal[i]);
            n[tilt]++;
        }
        for (int k = 0; k < 2; k++)
            if (n[k]) mean[k] /= (double)n[k];
    }
    for (size_t i = 0; i < s->unknowns; i++) {
        int tilt = i < 5 * s->nv && i % 5 > 2;
        hx[p[i]] = m->diagonal[i] + (s->fixed[i] ? 0 : shift * mean[tilt]);
        if (!isfinite(hx[p[i]])) return 0;
    }
    m->use_signed = 0;
    m->near = 0;
    return frontal_factor(m->frontal, hx);
}

void matrix_times(const struct body_shell *s, const double *x, double *y) {
    const double *hx = s->matrix.h->x;
    const int *p = s->matrix.h->p, *row = s->matrix.h->i;
    memset(y, 0, s->unknowns * sizeof *y);
    for (size_t v = 0; v < s->nodes; v++) {
        size_t d = node_dof(s, v), own = (size_t)node_size(s, v);
        const double *column[5];
        double sum[5] = {0}, xs[5] = {0};
        for (size_t c = 0; c < own; c++) { /* its own block; the columns go on with the same rows */
            column[c] = hx + p[d + c] + own - c;
            xs[c] = x[d + c];
            sum[c] += s->matrix.diagonal[d + c] * xs[c];
            for (size_t r = c + 1; r < own; r++) {
                double k = hx[p[d + c] + (int)(r - c)];
                y[d + r] += k * xs[c];
                sum[c] += k * x[d + r];
            }
        }
        const int *rows = row + p[d] + own;
        size_t n = (size_t)(p[d + 1] - p[d]) - own;
        if (own == 5)
            for (size_t r = 0; r < n; r++) {
                double xr = x[rows[r]], yr = y[rows[r]];
#pragma GCC unroll 5
                for (int c = 0; c < 5; c++) {
                    yr += column[c][r] * xs[c];
                    sum[c] += column[c][r] * xr;
                }
                y[rows[r]] = yr;
            }
        else
            for (size_t r = 0; r < n; r++)
                for (size_t c = 0; c < own; c++) {
                    y[rows[r]] += column[c][r] * xs[c];
                    sum[c] += column[c][r] * x[rows[r]];
                }
        for (size_t c = 0; c < own; c++)
            y[d + c] += sum[c];
    }
}

int matrix_factor_signed(struct body_shell *s) {
    struct matrix *m = &s->matrix;
    double *hx = m->h->x;
    const int *p = m->h->p;
    for (size_t i = 0; i < s->unknowns; i++)
        hx[p[i]] = m->diagonal[i];
    if (!m->signed_factor) {
        m->common.supernodal = CHOLMOD_SIMPLICIAL;
        m->common.final_ll = 0;
        m->signed_factor = cholmod_analyze_p(m->h, m->factor->Perm, NULL, 0, &m->common);
        m->common.supernodal = CHOLMOD_SUPERNODAL;
        if (!m->signed_factor) return 0;
    }
    m->common.status = CHOLMOD_OK;
    m->common.supernodal = CHOLMOD_SIMPLICIAL;
    cholmod_factorize(m->h, m->signed_factor, &m->common);
    m->common.supernodal = CHOLMOD_SUPERNODAL;
    int good = m->common.status == CHOLMOD_OK && m->signed_factor->minor >= s->unknowns;
    m->common.status = CHOLMOD_OK;
    m->use_signed = good;
    return good;
}

int matrix_solve(struct body_shell *s, const double *b, double *x) {
    struct matrix *m = &s->matrix;
    if (!m->use_signed) {
        frontal_solve(m->frontal, b, x);
        return 0;
    }
    memcpy(m->rhs->x, b, s->unknowns * sizeof *b);
    if (!cholmod_solve2(CHOLMOD_A, m->signed_factor, m->rhs, NULL, &m->solution, NULL, &m->y, &m->e,
                        &m->common))
        return ERR_MEMORY;
    memcpy(x, m->solution->x, s->unknowns * sizeof *x);
    return 0;
}

int body_shell_hessian_times(struct body_shell *s, const double *d, double *out,
                             struct error *err) {
    if (!s->matrix.ready)
        return fail(err, ERR_MISSING, "Call body_shell_prepare first.", "No matrix yet.");
    double *g = MEM_NEW(double, s->unknowns);
    if (!g) return fail_memory(err);
    shell_refresh(s);
    matrix_assemble(s, g, TANGENT_TRUE, NULL, 0);
    const double *hx = s->matrix.h->x;
    const int *p = s->matrix.h->p, *row = s->matrix.h->i;
    memset(out, 0, s->unknowns * sizeof *out);
    for (size_t c = 0; c < s->unknowns; c++)
        for (int k = p[c]; k < p[c + 1]; k++) {
            out[row[k]] += hx[k] * d[c];
            if ((size_t)row[k] != c) out[c] += hx[k] * d[row[k]];
        }
    mem_free(g);
    return 0;
}
