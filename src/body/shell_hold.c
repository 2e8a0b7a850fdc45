/* Takes away rigid motion and no more: of each sheet as many ways as nothing else takes.
 *
 * Sheets and rods count as rigid pieces with six ways each; what is fixed, springs to the ground
 * and parts that join pieces are rows over these ways. Ways that no row spans are free. Parts are
 * taken to first order as they stand; a cord joins all ways, as it does once it is taut; a former
 * joins nothing. */
#include "body/shell_parts.h"

#include "base/mem.h"

#include <math.h>
#include <string.h>

enum { WAYS = 6 };

/* Rows of unit length nearer than this to what is spanned add nothing: far above rounding, far
 * below what a part that joins does. */
static const double near_span = 1e-6;
/* A row that cancels to so much of its terms is none. */
static const double cancelled = 1e-9;

struct piece {
    double centre[3], size; /* of its nodes at rest, mm */
    size_t nodes, first;    /* its first node */
    int body, at;           /* the body it belongs to, and which of its pieces it is */
    int sheet;              /* has triangles */
};

struct hold {
    struct body_shell *s;
    size_t *up; /* [nodes] of the trees in which joined nodes share a root */
    int *piece; /* [nodes] */
    struct piece *of;
    size_t pieces;
    /* of the body under work: orthonormal rows [n][ways], and room for the one that comes */
    size_t n, ways;
    double *span, *row, terms;
};

static size_t root(size_t *up, size_t i) {
    while (up[i] != i)
        i = up[i] = up[up[i]];
    return i;
}

static void join(size_t *up, size_t a, size_t b) {
    a = root(up, a);
    b = root(up, b);
    if (a < b)
        up[b] = a;
    else
        up[a] = b;
}

/* ---- pieces and bodies ---------------------------------------------------------------------- */

static const size_t *nodes_of(const struct body_shell *s, const struct group *g) {
    return g->kind == GROUP_LINEAR ? s->list_node + g->node[0] : g->node;
}

/* Whether a group is the inside of a rod or of a grip's bar. */
static int inside_rod(const struct body_shell *s, const struct group *g) {
    if (g->kind != GROUP_STRETCH && g->kind != GROUP_BEND) return 0;
    for (int i = 0; i < g->n; i++)
        if (g->node[i] < s->nv) return 0;
    return 1;
}

static int joins(const struct body_shell *s, const struct group *g) {
    return g->k != 0 && g->kind != GROUP_FORMER && !inside_rod(s, g);
}

static void find_pieces(struct hold *h) {
    const struct body_shell *s = h->s;
    for (size_t i = 0; i < s->nodes; i++)
        h->up[i] = i;
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 2; i++)
            join(h->up, (size_t)s->tri[f][i], (size_t)s->tri[f][i + 1]);
    for (size_t k = 0; k < s->groups; k++)
        for (int i = 0; i + 1 < s->group[k].n && inside_rod(s, &s->group[k]); i++)
            join(h->up, s->group[k].node[i], s->group[k].node[i + 1]);
    for (size_t i = 0; i < s->nodes; i++) {
        size_t r = root(h->up, i); /* the least node of its piece, so its number is known */
        if (r == i) {
            h->of[h->pieces] = (struct piece){.first = i, .sheet = i < s->nv};
            h->piece[i] = (int)h->pieces++;
        } else
            h->piece[i] = h->piece[r];
        h->of[h->piece[i]].nodes++;
    }
    for (size_t i = 0; i < s->nodes; i++) {
        struct piece *p = &h->of[h->piece[i]];
        for (int c = 0; c < 3; c++)
            p->centre[c] += s->rest[i][c] / (double)p->nodes;
    }
    for (size_t i = 0; i < s->nodes; i++) {
        struct piece *p = &h->of[h->piece[i]];
        for (int c = 0; c < 3; c++)
            p->size = fmax(p->size, fabs(s->rest[i][c] - p->centre[c]));
    }
    for (size_t k = 0; k < h->pieces; k++)
        if (!(h->of[k].size > 0)) h->of[k].size = 1; /* one node */
}

/* Pieces that parts join are one body; bodies are numbered as their first nodes come. */
static size_t find_bodies(struct hold *h) {
    const struct body_shell *s = h->s;
    for (size_t k = 0; k < s->groups; k++)
        for (int i = 0; i + 1 < s->group[k].n && joins(s, &s->group[k]); i++)
            join(h->up, nodes_of(s, &s->group[k])[i], nodes_of(s, &s->group[k])[i + 1]);
    size_t bodies = 0;
    for (size_t k = 0; k < h->pieces; k++) {
        struct piece *p = &h->of[k];
        size_t r = root(h->up, p->first);
        p->body = r == p->first ? (int)bodies++ : h->of[h->piece[r]].body;
        for (size_t j = 0; j < k; j++)
            p->at += h->of[j].body == p->body;
    }
    return bodies;
}

/* ---- rows over the ways --------------------------------------------------------------------- */

/* Adds `by` times what an unknown of a node reads: its place along `dir`, or its normal's turn
 * towards `dir`, by the ways (t, w) of its piece, t + w x (x - centre) / size and w x n / size. */
static void read_unknown(struct hold *h, size_t node, const double dir[3], int tilt, double by) {
    const struct body_shell *s = h->s;
    const struct piece *p = &h->of[h->piece[node]];
    double arm[3], turn[3], *row = h->row + WAYS * p->at, sum = 0;
    for (int c = 0; c < 3; c++)
        arm[c] = (tilt ? s->n[node][c] : s->x[node][c] - p->centre[c]) / p->size;
    cross3(arm, dir, turn);
    for (int c = 0; c < 3; c++) {
        if (!tilt) row[c] += by * dir[c];
        row[3 + c] += by * turn[c];
        sum += fabs(dir[c]) * !tilt + fabs(turn[c]);
    }
    h->terms += fabs(by) * sum;
}

static void read_dof(struct hold *h, size_t node, int c, double by) {
    const struct body_shell *s = h->s;
    double dir[3] = {c == 0, c == 1, c == 2};
    if (c > 2) memcpy(dir, c == 3 ? s->p1[node] : s->p2[node], sizeof dir);
    read_unknown(h, node, dir, c > 2, by);
}

static double length(const double *v, size_t n) {
    double l = 0;
    for (size_t i = 0; i < n; i++)
        l += v[i] * v[i];
    return sqrt(l);
}

/* Takes what is spanned out of the row; the length that is left. */
static double outside(struct hold *h) {
    for (int again = 0; again < 2; again++) /* twice is enough */
        for (size_t k = 0; k < h->n; k++) {
            double along = 0, *q = h->span + k * h->ways;
            for (size_t i = 0; i < h->ways; i++)
                along += h->row[i] * q[i];
            for (size_t i = 0; i < h->ways; i++)
                h->row[i] -= along * q[i];
        }
    return length(h->row, h->ways);
}

static void next_row(struct hold *h) {
    memset(h->row, 0, h->ways * sizeof *h->row);
    h->terms = 0;
}

/* Takes the row into the span and begins the next; 0: it was there, or is none. */
static int take_row(struct hold *h) {
    double l = length(h->row, h->ways);
    int is_new = 0;
    if (h->n < h->ways && l > cancelled * h->terms) {
        for (size_t i = 0; i < h->ways; i++)
            h->row[i] /= l;
        l = outside(h);
        is_new = l > near_span;
        for (size_t i = 0; i < h->ways && is_new; i++)
            h->span[h->n * h->ways + i] = h->row[i] / l;
        h->n += (size_t)is_new;
    }
    next_row(h);
    return is_new;
}

static int is_fixed(const struct body_shell *s, size_t node, int c) {
    return s->fixed[node_dof(s, node) + (size_t)c];
}

/* Direction c of a node's place as supports have it. */
static void support_axis(double dir[3], const struct body_shell *s, size_t node, int c) {
    for (int i = 0; i < 3; i++)
        dir[i] = s->axes_of[node] >= 0 ? s->axes[s->axes_of[node]][3 * c + i] : c == i;
}

static void read_support(struct hold *h, size_t node, int c) {
    double dir[3];
    support_axis(dir, h->s, node, c);
    if (c > 2)
        read_dof(h, node, c, 1);
    else
        read_unknown(h, node, dir, 0, 1);
}

static void read_group(struct hold *h, const struct group *group) {
    static const double no_force[GROUP_READINGS];
    const struct body_shell *s = h->s;
    struct group g = *group;
    if (g.kind == GROUP_LINEAR) {
        for (int i = 0; i < g.n; i++)
            for (int c = 0; c < 3; c++)
                read_dof(h, nodes_of(s, &g)[i], c, s->list_weight[g.node[0] + (size_t)i][c]);
        take_row(h);
        return;
    }
    if (g.kind == GROUP_CORD) {
        g.kind = GROUP_TIE;
        g.m = 3;
    }
    double grad[GROUP_UNKNOWNS], k[GROUP_UNKNOWNS * GROUP_UNKNOWNS];
    const size_t *node;
    int n = group_unknowns(s, &g, &node);
    group_derivatives(s, &g, no_force, grad, k);
    for (int a = 0; a < n; a++) {
        for (int i = 0, b = 0; i < g.n; i++)
            for (int c = 0; c < node_size(s, node[i]); c++, b++)
                read_dof(h, node[i], c, k[a * n + b]);
        take_row(h);
    }
}

/* A straight rod has no turn about itself, a single node none at all: those ways are nobody's. */
static void leave_empty_ways(struct hold *h, int piece) {
    const struct body_shell *s = h->s;
    const struct piece *p = &h->of[piece];
    double moved[WAYS][WAYS] = {{0}}, *row = h->row + WAYS * p->at;
    size_t before = h->n;
    for (size_t i = p->first; i < s->nodes; i++)
        for (int c = 0; c < 3 && h->piece[i] == piece; c++) {
            read_dof(h, i, c, 1);
            take_row(h);
        }
    /* what its nodes span, taken out again; the rest of its ways comes in */
    size_t spans = h->n - before;
    for (size_t k = 0; k < spans; k++)
        memcpy(moved[k], h->span + (before + k) * h->ways + WAYS * p->at, sizeof *moved);
    size_t all = spans;
    for (int c = 0; c < WAYS && all < WAYS; c++) {
        row[c] = 1;
        h->terms = 1;
        if (take_row(h)) {
            memcpy(moved[all], h->span + (h->n - 1) * h->ways + WAYS * p->at, sizeof *moved);
            all++;
        }
    }
    memset(h->span + before * h->ways, 0, (h->n - before) * h->ways * sizeof *h->span);
    h->n = before;
    for (size_t k = spans; k < all; k++, h->n++)
        memcpy(h->span + h->n * h->ways + WAYS * p->at, moved[k], sizeof *moved);
}

/* ---- holding a sheet ------------------------------------------------------------------------ */

/* The vertex nearest to the sheet's middle. */
static size_t middle_of(const struct hold *h, int piece) {
    const struct body_shell *s = h->s;
    const struct piece *p = &h->of[piece];
    double best = INFINITY;
    size_t mid = p->first;
    for (size_t v = p->first; v < s->nv; v++) {
        if (h->piece[v] != piece) continue;
        double d[3];
        for (int c = 0; c < 3; c++)
            d[c] = s->rest[v][c] - p->centre[c];
        if (dot3(d, d) < best) {
            best = dot3(d, d);
            mid = v;
        }
    }
    return mid;
}

/* The vertex farthest from the middle one, seen along its normal, of those without supports. */
static size_t far_vertex(const struct hold *h, int piece, size_t mid) {
    const struct body_shell *s = h->s;
    double far = 0;
    size_t other = mid;
    for (size_t v = h->of[piece].first; v < s->nv; v++) {
        if (h->piece[v] != piece || s->axes_of[v] >= 0 || body_shell_fixed(s, v) & BODY_FIX_PLACE)
            continue;
        double d[3];
        for (int c = 0; c < 3; c++)
            d[c] = s->x[v][c] - s->x[mid][c];
        double up = dot3(d, s->n[mid]), r = dot3(d, d) - up * up;
        if (r > far) {
            far = r;
            other = v;
        }
    }
    return other;
}

static void stop_swing(struct hold *h, size_t mid, size_t other) {
    struct body_shell *s = h->s;
    double q[3][3], d[3];
    for (int c = 0; c < 3; c++)
        d[c] = s->x[other][c] - s->x[mid][c];
    cross3(s->n[mid], d, q[0]); /* the way it would swing */
    double l = sqrt(dot3(q[0], q[0]));
    for (int c = 0; c < 3; c++)
        q[0][c] /= l;
    read_unknown(h, other, q[0], 0, 1);
    if (!take_row(h)) return;
    shell_complete(q, 1);
    body_shell_support_axes(s, other, (const double(*)[3])q);
    body_shell_fix(s, other, BODY_FIX_X);
}

static int still_free(struct hold *h, int piece) {
    double most = 0;
    for (int c = 0; c < WAYS; c++) {
        h->row[WAYS * h->of[piece].at + c] = 1;
        most = fmax(most, outside(h));
        next_row(h);
    }
    return most > near_span;
}

/* Fixes the one place that holds it best, along axes that its vertex has. */
static int fix_best(struct hold *h, int piece) {
    struct body_shell *s = h->s;
    double best = 0;
    size_t at = 0;
    int way = 0;
    for (size_t v = h->of[piece].first; v < s->nv; v++)
        for (int c = 0; c < 3 && h->piece[v] == piece; c++) {
            read_support(h, v, c);
            double left = outside(h);
            next_row(h);
            if (left > best) {
                best = left;
                at = v;
                way = c;
            }
        }
    read_support(h, at, way);
    if (!take_row(h)) return 0;
    body_shell_fix(s, at, 1u << way);
    return 1;
}

static void hold_sheet(struct hold *h, int piece) {
    size_t mid = middle_of(h, piece), other;
    for (int c = 0; c < 5; c++) {
        read_support(h, mid, c);
        if (take_row(h)) body_shell_fix(h->s, mid, 1u << c);
    }
    if ((other = far_vertex(h, piece, mid)) != mid) stop_swing(h, mid, other);
    while (still_free(h, piece) && fix_best(h, piece))
        ;
}

static int hold_body(struct hold *h, int body, struct error *err) {
    struct body_shell *s = h->s;
    size_t pieces = 0;
    for (size_t k = 0; k < h->pieces; k++)
        pieces += h->of[k].body == body;
    h->n = 0;
    h->ways = WAYS * pieces;
    h->span = MEM_NEW(double, h->ways * h->ways);
    h->row = MEM_NEW(double, h->ways);
    if (!h->span || !h->row) return fail_memory(err);
    for (size_t k = 0; k < h->pieces; k++)
        if (h->of[k].body == body && !h->of[k].sheet) leave_empty_ways(h, (int)k);
    for (size_t i = 0; i < s->nodes; i++)
        for (int c = 0; c < node_size(s, i) && h->of[h->piece[i]].body == body; c++)
            if (is_fixed(s, i, c)) {
                read_support(h, i, c);
                take_row(h);
            }
    for (size_t k = 0; k < s->groups; k++) {
        const struct group *g = &s->group[k];
        if (joins(s, g) && h->of[h->piece[nodes_of(s, g)[0]]].body == body) read_group(h, g);
    }
    for (size_t k = 0; k < h->pieces; k++)
        if (h->of[k].body == body && h->of[k].sheet) hold_sheet(h, (int)k);
    return 0;
}

int body_shell_hold(struct body_shell *s, struct error *err) {
    struct hold h = {.s = s,
                     .up = MEM_NEW(size_t, s->nodes),
                     .piece = MEM_NEW(int, s->nodes),
                     .of = MEM_NEW(struct piece, s->nodes)};
    int rc = h.up && h.piece && h.of ? 0 : fail_memory(err);
    size_t bodies = 0;
    if (!rc) {
        find_pieces(&h);
        bodies = find_bodies(&h);
    }
    for (size_t b = 0; b < bodies && !rc; b++) {
        rc = hold_body(&h, (int)b, err);
        mem_free(h.span);
        mem_free(h.row);
        h.span = h.row = NULL;
    }
    mem_free(h.up);
    mem_free(h.piece);
    mem_free(h.of);
    return rc;
}
