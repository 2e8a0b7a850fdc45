/* The triangulation itself: points in, edges fixed, outside dropped. Incremental Delaunay with
 * legalising flips (C. L. Lawson 1977); recovery of an edge by flips (S. W. Sloan, Computers &
 * Structures 47 (1993) 441-450). */
#include "plane/mesh_parts.h"
#include "plane/predicates.h"

#include <assert.h>
#include <math.h>
#include <string.h>

static int turn(int i) {
    return i == 2 ? 0 : i + 1;
}
static int back(int i) {
    return i == 0 ? 2 : i - 1;
}

int mesh_net_make(struct mesh_net *net, size_t points, const double lo[2], const double hi[2],
                  struct arena *arena, struct error *err) {
    memset(net, 0, sizeof *net);
    net->most_v = points + 3;
    net->most_f = 2 * net->most_v + 8;
    net->most_stack = 8 * net->most_v + 64;
    net->p = arena_alloc(arena, net->most_v, sizeof *net->p);
    net->tri = arena_alloc(arena, net->most_f, sizeof *net->tri);
    net->next = arena_alloc(arena, net->most_f, sizeof *net->next);
    net->fixed = ARENA_NEW(arena, unsigned char, net->most_f);
    net->of = ARENA_NEW(arena, int, net->most_v);
    net->stack = ARENA_NEW(arena, int, net->most_stack);
    if (!net->p || !net->tri || !net->next || !net->fixed || !net->of || !net->stack)
        return fail_memory(err);
    double cx = (lo[0] + hi[0]) / 2, cy = (lo[1] + hi[1]) / 2;
    double r = 64 * (hi[0] - lo[0] + hi[1] - lo[1]); /* far, so that no hull edge is bent inwards */
    const double far[3][2] = {{cx - r, cy - r}, {cx + r, cy - r}, {cx, cy + r}};
    memcpy(net->p, far, sizeof far);
    net->nv = 3;
    net->nf = 1;
    for (int i = 0; i < 3; i++) {
        net->tri[0][i] = i;
        net->next[0][i] = -1;
    }
    return 0;
}

static int corner_of(const struct mesh_net *net, int t, int v) {
    return net->tri[t][0] == v ? 0 : net->tri[t][1] == v ? 1 : 2;
}

static int side_of(const struct mesh_net *net, int t, int neighbour) {
    return net->next[t][0] == neighbour ? 0 : net->next[t][1] == neighbour ? 1 : 2;
}

static void relink(struct mesh_net *net, int t, int from, int to) {
    if (t >= 0) net->next[t][side_of(net, t, from)] = to;
}

static void set(struct mesh_net *net, int t, const int v[3], const int n[3], unsigned fixed) {
    for (int i = 0; i < 3; i++) {
        net->tri[t][i] = v[i];
        net->next[t][i] = n[i];
        net->of[v[i]] = t;
    }
    net->fixed[t] = (unsigned char)fixed;
}

static unsigned bit(const struct mesh_net *net, int t, int i) {
    return net->fixed[t] >> i & 1u;
}

/* Turns the edge of t opposite to corner i:  (a b c | c b d) becomes (a b d | a d c), with a =
 * corner i of t. Afterwards t = (a b d), its neighbour u = (a d c). */
static void flip(struct mesh_net *net, int t, int i) {
    int u = net->next[t][i], j = side_of(net, u, t);
    int a = net->tri[t][i], b = net->tri[t][turn(i)], c = net->tri[t][back(i)], d = net->tri[u][j];
    int tab = net->next[t][back(i)], tca = net->next[t][turn(i)];
    int ubd = net->next[u][turn(j)], udc = net->next[u][back(j)];
    unsigned fab = bit(net, t, back(i)), fca = bit(net, t, turn(i));
    unsigned fbd = bit(net, u, turn(j)), fdc = bit(net, u, back(j));
    /* u is (d c b) from corner j on: opposite to c lies b-d, opposite to b lies d-c */
    set(net, t, (int[3]){a, b, d}, (int[3]){ubd, u, tab}, fbd | fab << 2);
    set(net, u, (int[3]){a, d, c}, (int[3]){udc, tca, t}, fdc | fca << 1);
    relink(net, ubd, u, t);
    relink(net, tca, t, u);
}

/* Flips outward from the triangles on the stack, whose corner v is new (v < 0: any corner). */
static void legalise(struct mesh_net *net, size_t n, int v) {
    while (n) {
        int t = net->stack[--n];
        int first = 0, last = 2;
        if (v >= 0) first = last = corner_of(net, t, v);
        for (int i = first; i <= last; i++) {
            int u = net->next[t][i];
            if (u < 0 || bit(net, t, i)) continue;
            int d = net->tri[u][side_of(net, u, t)];
            const int *w = net->tri[t];
            if (plane_incircle(net->p[w[0]], net->p[w[1]], net->p[w[2]], net->p[d]) <= 0) continue;
            if (n + 2 > net->most_stack)
                return; /* cannot happen for a finite flip path; stay safe */
            flip(net, t, i);
            net->stack[n++] = u;
            net->stack[n++] = t;
            break;
        }
    }
}

/* Walks towards p; returns the triangle that holds it. */
static int find(const struct mesh_net *net, const double *p) {
    int t = net->last, from = -1;
    for (size_t step = 0; step < net->nf + 8; step++) {
        int go = -1;
        for (int k = 0; k < 3 && go < 0; k++) {
            int i = (int)((step + (size_t)k) % 3), u = net->next[t][i];
            if (u < 0 || u == from) continue;
            const int *w = net->tri[t];
            if (plane_orient(net->p[w[turn(i)]], net->p[w[back(i)]], p) < 0) go = u;
        }
        if (go < 0) return t;
        from = t;
        t = go;
    }
    return t;
}

static void split_edge(struct mesh_net *net, int t, int i, int v) {
    int u = net->next[t][i], t2 = (int)net->nf++, u2 = u >= 0 ? (int)net->nf++ : -1;
    int a = net->tri[t][i], b = net->tri[t][turn(i)], c = net->tri[t][back(i)];
    unsigned f = bit(net, t, i), fab = bit(net, t, back(i)), fca = bit(net, t, turn(i));
    int tab = net->next[t][back(i)], tca = net->next[t][turn(i)];
    if (u >= 0) {
        int j = side_of(net, u, t), d = net->tri[u][j];
        int ubd = net->next[u][turn(j)], udc = net->next[u][back(j)];
        unsigned fbd = bit(net, u, turn(j)), fdc = bit(net, u, back(j));
        set(net, u, (int[3]){v, b, d}, (int[3]){ubd, u2, t}, fbd | f << 2);
        set(net, u2, (int[3]){v, d, c}, (int[3]){udc, t2, u}, fdc | f << 1);
        relink(net, udc, u, u2);
    }
    set(net, t, (int[3]){v, a, b}, (int[3]){tab, u, t2}, fab | f << 1);
    set(net, t2, (int[3]){v, c, a}, (int[3]){tca, t, u2}, fca | f << 2);
    relink(net, tca, t, t2);
}

int mesh_net_add(struct mesh_net *net, const double *p) {
    int t = find(net, p), on = -1;
    for (int i = 0; i < 3; i++) {
        const double *a = net->p[net->tri[t][turn(i)]], *b = net->p[net->tri[t][back(i)]];
        if (a[0] == p[0] && a[1] == p[1]) return net->tri[t][turn(i)];
        if (b[0] == p[0] && b[1] == p[1]) return net->tri[t][back(i)];
        if (plane_orient(a, b, p) == 0) on = i;
    }
    int v = (int)net->nv++;
    assert(net->nv <= net->most_v && net->nf + 2 <= net->most_f);
    net->p[v][0] = p[0];
    net->p[v][1] = p[1];
    size_t n = 0;
    if (on >= 0) {
        int u = net->next[t][on], t2 = (int)net->nf;
        split_edge(net, t, on, v);
        int made[4] = {t, t2, u, u >= 0 ? t2 + 1 : -1};
        for (int k = 0; k < 4; k++)
            if (made[k] >= 0) net->stack[n++] = made[k];
    } else {
        int a = net->tri[t][0], b = net->tri[t][1], c = net->tri[t][2];
        int na = net->next[t][0], nb = net->next[t][1], nc = net->next[t][2];
        unsigned f = net->fixed[t];
        int t1 = (int)net->nf++, t2 = (int)net->nf++;
        set(net, t, (int[3]){v, b, c}, (int[3]){na, t1, t2}, f & 1u);
        set(net, t1, (int[3]){v, c, a}, (int[3]){nb, t2, t}, f >> 1 & 1u);
        set(net, t2, (int[3]){v, a, b}, (int[3]){nc, t, t1}, f >> 2 & 1u);
        relink(net, nb, t, t1);
        relink(net, nc, t, t2);
        net->stack[n++] = t;
        net->stack[n++] = t1;
        net->stack[n++] = t2;
    }
    legalise(net, n, v);
    net->last = net->of[v];
    return v;
}

/* Finds the triangle and side with the directed edge a-b; -1 when there is none. */
static int edge_find(const struct mesh_net *net, int a, int b, int *side) {
    int start = net->of[a], t = start;
    for (size_t guard = 0; guard <= net->nf; guard++) {
        int i = corner_of(net, t, a);
        if (net->tri[t][turn(i)] == b) {
            *side = back(i);
            return t;
        }
        t = net->next[t][turn(i)];
        if (t == start || t < 0) break;
    }
    return -1;
}

static void edge_mark(struct mesh_net *net, int t, int i) {
    int u = net->next[t][i];
    net->fixed[t] |= (unsigned char)(1u << i);
    if (u >= 0) net->fixed[u] |= (unsigned char)(1u << side_of(net, u, t));
}

/* Lists the edges that a-b crosses, from a on, as pairs of vertices right and left of it, in the
 * stack. Returns their number; -1 when a vertex or a fixed edge is in the way. */
static long crossings(const struct mesh_net *net, int a, int b) {
    int start = net->of[a], t = start, i = 0;
    const double *pa = net->p[a], *pb = net->p[b];
    for (size_t guard = 0;; guard++) { /* the triangle at a through which a-b leaves */
        i = corner_of(net, t, a);
        double r = plane_orient(pa, pb, net->p[net->tri[t][turn(i)]]);
        double l = plane_orient(pa, pb, net->p[net->tri[t][back(i)]]);
        if (r < 0 && l > 0) break;
        t = net->next[t][turn(i)];
        if (t < 0 || t == start || guard > net->nf) return -1;
    }
    for (long n = 0; (size_t)(2 * n + 2) <= net->most_stack;) {
        int u = net->next[t][i], r = net->tri[t][turn(i)], l = net->tri[t][back(i)];
        if (bit(net, t, i) || u < 0) return -1;
        net->stack[2 * n] = r;
        net->stack[2 * n + 1] = l;
        n++;
        int d = net->tri[u][side_of(net, u, t)];
        if (d == b) return n;
        double s = plane_orient(pa, pb, net->p[d]);
        if (s == 0) return -1;
        t = u;
        i = s > 0 ? corner_of(net, u, l) : corner_of(net, u, r);
    }
    return -1;
}

int mesh_net_fix(struct mesh_net *net, int a, int b) {
    int side, t = edge_find(net, a, b, &side);
    if (t < 0) {
        long n = crossings(net, a, b), room = (long)net->most_stack / 2, head = 0;
        if (n < 0) return 0;
        for (long guard = 0; n > 0 && guard < room; guard++) {
            int *e = net->stack + 2 * (head % room), r = e[0], l = e[1], i;
            head++;
            n--;
            t = edge_find(net, r, l, &i);
            if (t < 0) continue;
            int u = net->next[t][i], o = net->tri[t][i], d = net->tri[u][side_of(net, u, t)];
            const double *po = net->p[o], *pd = net->p[d];
            int convex = plane_orient(po, net->p[r], pd) > 0 && plane_orient(pd, net->p[l], po) > 0;
            if (convex) {
                flip(net, t, i);
                double so = plane_orient(net->p[a], net->p[b], po);
                double sd = plane_orient(net->p[a], net->p[b], pd);
                if (so * sd >= 0 || o == a || o == b || d == a || d == b) continue;
                r = so < 0 ? o : d;
                l = so < 0 ? d : o;
            }
            int *last = net->stack + 2 * ((head + n) % room);
            last[0] = r;
            last[1] = l;
            n++;
        }
        t = edge_find(net, a, b, &side);
    }
    if (t < 0) return 0;
    edge_mark(net, t, side);
    return 1;
}

void mesh_net_flip_all(struct mesh_net *net) {
    for (size_t t = 0; t < net->nf; t++) {
        net->stack[0] = (int)t;
        legalise(net, 1, -1);
    }
}

/* Whether each triangle lies inside: crossing a fixed edge changes sides. */
static void paint(const struct mesh_net *net, signed char *inside, int *queue) {
    memset(inside, -1, net->nf);
    size_t n = 0;
    int far = net->of[0];
    inside[far] = 0;
    queue[n++] = far;
    for (size_t k = 0; k < n; k++) {
        int t = queue[k];
        for (int i = 0; i < 3; i++) {
            int u = net->next[t][i];
            if (u < 0 || inside[u] >= 0) continue;
            inside[u] = (signed char)(inside[t] ^ (int)bit(net, t, i));
            queue[n++] = u;
        }
    }
}

int mesh_net_trim(struct mesh_net *net, struct arena *arena, struct error *err) {
    signed char *inside = ARENA_NEW(arena, signed char, net->nf);
    int *number = ARENA_NEW(arena, int, net->nf);
    if (!inside || !number) return fail_memory(err);
    paint(net, inside, number);
    size_t n = 0;
    for (size_t t = 0; t < net->nf; t++)
        number[t] = inside[t] > 0 ? (int)n++ : -1;
    for (size_t t = 0; t < net->nf; t++) {
        int k = number[t];
        if (k < 0) continue;
        for (int i = 0; i < 3; i++) {
            int u = net->next[t][i];
            net->tri[k][i] = net->tri[t][i] - 3;
            net->next[k][i] = u < 0 || net->fixed[t] >> i & 1 ? -1 : number[u];
        }
        net->fixed[k] = net->fixed[t];
    }
    net->nf = n;
    net->nv -= 3;
    memmove(net->p, net->p + 3, net->nv * sizeof *net->p);
    for (size_t t = 0; t < n; t++)
        for (int i = 0; i < 3; i++)
            net->of[net->tri[t][i]] = (int)t;
    return 0;
}
