#include "trial/scan.h"

#include <math.h>
#include <string.h>

/* ---- points -----------------------------------------------------------------------------------
 */

struct splitter {
    const double *key; /* [.][stride] */
    size_t stride, axis;
};

static double key_of(const struct splitter *s, uint32_t i) {
    return s->key[s->stride * i + s->axis];
}

/* Puts the k-th smallest in its place, smaller ones before it: Hoare's FIND, Comm. ACM 4, 1961,
 * 321, with the middle of three as pivot. */
static void select_kth(const struct splitter *s, uint32_t *v, size_t low, size_t high, size_t k) {
    while (high - low > 1) {
        double a = key_of(s, v[low]), b = key_of(s, v[(low + high) / 2]),
               c = key_of(s, v[high - 1]);
        double pivot = a < b ? (b < c ? b : a < c ? c : a) : (a < c ? a : b < c ? c : b);
        size_t i = low, j = high - 1;
        for (;;) {
            while (key_of(s, v[i]) < pivot)
                i++;
            while (key_of(s, v[j]) > pivot)
                j--;
            if (i >= j) break;
            uint32_t keep = v[i];
            v[i++] = v[j];
            v[j--] = keep;
            if (i > j) break;
        }
        /* [low, j] <= pivot <= [i, high) with j < i, or i == j on the pivot itself */
        if (i == j) {
            if (k == i) return;
            if (k < i)
                high = i;
            else
                low = i + 1;
        } else if (k <= j)
            high = j + 1;
        else if (k >= i)
            low = i;
        else
            return;
    }
}

static size_t widest(const double *xyz, const uint32_t *order, size_t low, size_t high,
                     size_t stride) {
    double a[3] = {INFINITY, INFINITY, INFINITY}, b[3] = {-INFINITY, -INFINITY, -INFINITY};
    for (size_t i = low; i < high; i++)
        for (size_t c = 0; c < 3; c++) {
            double v = xyz[stride * order[i] + c];
            a[c] = fmin(a[c], v);
            b[c] = fmax(b[c], v);
        }
    size_t axis = 0;
    for (size_t c = 1; c < 3; c++)
        if (b[c] - a[c] > b[axis] - a[axis]) axis = c;
    return axis;
}

/* The axis goes round x, y, z with the depth: nothing to store, and a search knows it too. */
static void build(const double *xyz, uint32_t *order, size_t low, size_t high, size_t depth) {
    while (high - low > 1) {
        size_t mid = (low + high) / 2;
        struct splitter s = {xyz, 3, depth % 3};
        select_kth(&s, order, low, high, mid);
        build(xyz, order, low, mid, depth + 1);
        low = mid + 1;
        depth++;
    }
}

int scan_points_build(struct scan_points *out, const double *xyz, size_t n, struct arena *arena,
                      struct error *err) {
    *out = (struct scan_points){.n = n, .xyz = xyz};
    if (n == 0) return fail(err, ERR_MISSING, NULL, "There are no points to search.");
    out->order = ARENA_NEW(arena, uint32_t, n);
    if (!out->order) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        out->order[i] = (uint32_t)i;
    build(xyz, out->order, 0, n, 0);
    return 0;
}

struct search {
    const struct scan_points *t;
    const double *p;
    double best; /* squared */
    size_t index;
    uint32_t *list;
    size_t most, found;
};

static double distance2(const double *a, const double *b) {
    double x = a[0] - b[0], y = a[1] - b[1], z = a[2] - b[2];
    return x * x + y * y + z * z;
}

static void nearest(struct search *s, size_t low, size_t high, size_t depth) {
    if (low >= high) return;
    size_t mid = (low + high) / 2, i = s->t->order[mid], axis = depth % 3;
    double d = distance2(s->p, s->t->xyz + 3 * i), side = s->p[axis] - s->t->xyz[3 * i + axis];
    /* equal distances: the lower index, so that the answer does not hang on the tree */
    if (d < s->best || (d == s->best && i < s->index)) {
        s->best = d;
        s->index = i;
    }
    nearest(s, side < 0 ? low : mid + 1, side < 0 ? mid : high, depth + 1);
    if (side * side <= s->best)
        nearest(s, side < 0 ? mid + 1 : low, side < 0 ? high : mid, depth + 1);
}

size_t scan_points_nearest(const struct scan_points *t, const double p[3], double *distance) {
    struct search s = {.t = t, .p = p, .best = INFINITY, .index = (size_t)-1};
    nearest(&s, 0, t->n, 0);
    *distance = sqrt(s.best);
    return s.index;
}

static void within(struct search *s, size_t low, size_t high, size_t depth) {
    if (low >= high) return;
    size_t mid = (low + high) / 2, i = s->t->order[mid], axis = depth % 3;
    double side = s->p[axis] - s->t->xyz[3 * i + axis];
    if (side * side <= s->best || side < 0) within(s, low, mid, depth + 1);
    if (distance2(s->p, s->t->xyz + 3 * i) <= s->best) {
        if (s->found < s->most) s->list[s->found] = (uint32_t)i;
        s->found++;
    }
    if (side * side <= s->best || side >= 0) within(s, mid + 1, high, depth + 1);
}

size_t scan_points_within(const struct scan_points *t, const double p[3], double radius,
                          uint32_t *index, size_t most) {
    struct search s = {.t = t, .p = p, .best = radius * radius, .list = index, .most = most};
    within(&s, 0, t->n, 0);
    return s.found;
}

/* ---- triangles --------------------------------------------------------------------------------
 */

enum { LEAF = 4 };

/* Nodes lie in an implicit tree: children of k are 2k + 1 and 2k + 2, ranges halve. */
static void grow(struct scan_surface *s, const double *middle, size_t node, size_t low,
                 size_t high) {
    double *b = s->box + 6 * node;
    for (int c = 0; c < 3; c++) {
        b[c] = INFINITY;
        b[3 + c] = -INFINITY;
    }
    for (size_t i = low; i < high; i++)
        for (int v = 0; v < 3; v++) {
            const double *p =
                s->scan->xyz + 3 * s->scan->corner[3 * (size_t)s->order[i] + (size_t)v];
            for (int c = 0; c < 3; c++) {
                b[c] = fmin(b[c], p[c]);
                b[3 + c] = fmax(b[3 + c], p[c]);
            }
        }
    if (high - low <= LEAF) return;
    size_t mid = (low + high) / 2;
    struct splitter split = {middle, 3, widest(middle, s->order, low, high, 3)};
    select_kth(&split, s->order, low, high, mid);
    grow(s, middle, 2 * node + 1, low, mid);
    grow(s, middle, 2 * node + 2, mid, high);
}

static size_t deepest(size_t n) {
    size_t nodes = 1;
    while (n > LEAF) {
        n = n - n / 2;
        nodes = 2 * nodes + 1;
    }
    return nodes;
}

int scan_surface_build(struct scan_surface *out, const struct scan *scan, struct arena *arena,
                       struct error *err) {
    *out = (struct scan_surface){.scan = scan};
    size_t n = scan->triangles;
    if (n == 0)
        return fail(err, ERR_MISSING, "Bring in a scan with triangles, or mesh the points first.",
                    "The surface has no triangles.");
    out->order = ARENA_NEW(arena, uint32_t, n);
    out->box = ARENA_NEW(arena, double, 6 * deepest(n));
    out->normal = arena_alloc(arena, n, sizeof *out->normal);
    double *middle = ARENA_NEW(arena, double, 3 * n);
    if (!out->order || !out->box || !out->normal || !middle) return fail_memory(err);
    for (size_t t = 0; t < n; t++) {
        const double *a = scan->xyz + 3 * scan->corner[3 * t],
                     *b = scan->xyz + 3 * scan->corner[3 * t + 1],
                     *c = scan->xyz + 3 * scan->corner[3 * t + 2];
        double u[3], v[3], *m = out->normal[t];
        for (int k = 0; k < 3; k++) {
            u[k] = b[k] - a[k];
            v[k] = c[k] - a[k];
            middle[3 * t + (size_t)k] = (a[k] + b[k] + c[k]) / 3;
        }
        m[0] = u[1] * v[2] - u[2] * v[1];
        m[1] = u[2] * v[0] - u[0] * v[2];
        m[2] = u[0] * v[1] - u[1] * v[0];
        double l = sqrt(m[0] * m[0] + m[1] * m[1] + m[2] * m[2]);
        out->area += l / 2;
        for (int k = 0; k < 3; k++)
            m[k] = l > 0 ? m[k] / l : 0;
        out->order[t] = (uint32_t)t;
    }
    grow(out, middle, 0, 0, n);
    return 0;
}

static double dot3(const double *a, const double *b) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/* Nearest point of a triangle by the regions of its corners, edges and face (Ericson, Real-Time
 * Collision Detection, 2005, 5.1.5). */
static double to_triangle(const double *p, const double *a, const double *b, const double *c,
                          double q[3]) {
    double ab[3], ac[3], ap[3], bp[3], cp[3], v = 0, w = 0;
    for (int k = 0; k < 3; k++) {
        ab[k] = b[k] - a[k];
        ac[k] = c[k] - a[k];
        ap[k] = p[k] - a[k];
        bp[k] = p[k] - b[k];
        cp[k] = p[k] - c[k];
    }
    double d1 = dot3(ab, ap), d2 = dot3(ac, ap), d3 = dot3(ab, bp), d4 = dot3(ac, bp),
           d5 = dot3(ab, cp), d6 = dot3(ac, cp);
    double va = d3 * d6 - d5 * d4, vb = d5 * d2 - d1 * d6, vc = d1 * d4 - d3 * d2;
    if (d1 <= 0 && d2 <= 0) {
        ; /* at a */
    } else if (d3 >= 0 && d4 <= d3) {
        v = 1;
    } else if (vc <= 0 && d1 >= 0 && d3 <= 0) {
        v = d1 / (d1 - d3);
    } else if (d6 >= 0 && d5 <= d6) {
        w = 1;
    } else if (vb <= 0 && d2 >= 0 && d6 <= 0) {
        w = d2 / (d2 - d6);
    } else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        v = 1 - w;
    } else {
        double sum = va + vb + vc;
        v = vb / sum;
        w = vc / sum;
    }
    for (int k = 0; k < 3; k++)
        q[k] = a[k] + v * ab[k] + w * ac[k];
    return distance2(p, q);
}

struct seek {
    const struct scan_surface *s;
    const double *p;
    double best, *q;
    uint32_t triangle;
};

static double to_box(const double *b, const double *p) {
    double sum = 0;
    for (int c = 0; c < 3; c++) {
        double d = p[c] < b[c] ? b[c] - p[c] : p[c] > b[3 + c] ? p[c] - b[3 + c] : 0;
        sum += d * d;
    }
    return sum;
}

static void seek(struct seek *k, size_t node, size_t low, size_t high) {
    if (high - low <= LEAF) {
        for (size_t i = low; i < high; i++) {
            const struct scan *m = k->s->scan;
            uint32_t t = k->s->order[i];
            double q[3], d = to_triangle(k->p, m->xyz + 3 * m->corner[3 * (size_t)t],
                                         m->xyz + 3 * m->corner[3 * (size_t)t + 1],
                                         m->xyz + 3 * m->corner[3 * (size_t)t + 2], q);
            if (d < k->best) {
                k->best = d;
                memcpy(k->q, q, sizeof q);
                k->triangle = t;
            }
        }
        return;
    }
    size_t mid = (low + high) / 2;
    double left = to_box(k->s->box + 6 * (2 * node + 1), k->p);
    double right = to_box(k->s->box + 6 * (2 * node + 2), k->p);
    for (int turn = 0; turn < 2; turn++) {
        bool first = (left <= right) == (turn == 0);
        if (first && left < k->best) seek(k, 2 * node + 1, low, mid);
        if (!first && right < k->best) seek(k, 2 * node + 2, mid, high);
    }
}

double scan_surface_nearest(const struct scan_surface *s, const double p[3], double q[3],
                            uint32_t *triangle) {
    struct seek k = {.s = s, .p = p, .best = INFINITY, .q = q};
    seek(&k, 0, 0, s->scan->triangles);
    *triangle = k.triangle;
    return sqrt(k.best);
}
