#include "gather/nest_build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BUILD_CHANCES = 6000 /* places kept for one layout; more are not looked for */ };
#define BUILD_TOUCH 1e-3 /* mm: edges nearer than this touch */
#define BUILD_ASKEW 1e-4 /* sine of the angle over which two edges are not parallel */

/* The outline of a shape: the edges of its convex pieces that no other piece shares. */
struct edge {
    double x0, y0, x1, y1; /* the inside to the left */
    double ux, uy, length; /* its direction */
};

struct rim {
    size_t n;
    struct edge *edge;
    double length;
    struct box box;
};

struct laid {
    size_t part, shape;
    double x, y;
};

/* A place where a part could go as things lie. */
struct chance {
    size_t shape;
    double x, y,
        touch; /* mm of its outline that would lie on another part, half of it on an edge */
};

struct node {
    struct laid *laid;
    size_t n;
    long *left; /* [parts] copies still to be laid */
    struct chance *chance;
    size_t chances;
    double touch, length, area; /* mm that touch, mm of outline, mm2 laid so far */
    uint64_t hash;              /* the same for the same layout, however it was reached */
};

struct step {
    double score;
    size_t node, chance;
};

struct builder {
    struct table *t;
    struct rim *rim; /* [4 parts], then the obstacle */
    double tests, most;
    struct arena *own;
    const struct nest_build_options *o;
    struct chance *room; /* [BUILD_CHANCES] of the layout being looked at */
};

/* ---- what touches --------------------------------------------------------------------------- */

static bool shared(const struct shape *s, size_t piece, const double *p, const double *q) {
    for (size_t i = 0; i < s->pieces; i++) {
        const struct convex *c = &s->piece[i];
        for (size_t k = 0; i != piece && k < c->n; k++) {
            const double *r = c->xy + 2 * k, *e = c->xy + 2 * ((k + 1) % c->n);
            if (r[0] == q[0] && r[1] == q[1] && e[0] == p[0] && e[1] == p[1]) return true;
        }
    }
    return false;
}

static int rim_of(struct rim *out, const struct shape *s, struct arena *arena) {
    size_t corners = 0;
    for (size_t i = 0; i < s->pieces; i++)
        corners += s->piece[i].n;
    *out = (struct rim){.edge = ARENA_NEW(arena, struct edge, corners + 1), .box = s->box};
    if (!out->edge) return ERR_MEMORY;
    for (size_t i = 0; i < s->pieces; i++)
        for (size_t k = 0; k < s->piece[i].n; k++) {
            const double *p = s->piece[i].xy + 2 * k;
            const double *q = s->piece[i].xy + 2 * ((k + 1) % s->piece[i].n);
            if (shared(s, i, p, q)) continue;
            double l = hypot(q[0] - p[0], q[1] - p[1]);
            out->edge[out->n++] =
                (struct edge){p[0], p[1], q[0], q[1], (q[0] - p[0]) / l, (q[1] - p[1]) / l, l};
            out->length += l;
        }
    return 0;
}

/* Length over which two edges lie on one another, running opposite ways; b is moved by (dx, dy). */
static double edges_touch(const struct edge *a, const struct edge *b, double dx, double dy) {
    if (fabs(a->ux * b->uy - a->uy * b->ux) > BUILD_ASKEW || a->ux * b->ux + a->uy * b->uy > 0)
        return 0;
    double x0 = b->x0 + dx - a->x0, y0 = b->y0 + dy - a->y0;
    double x1 = b->x1 + dx - a->x0, y1 = b->y1 + dy - a->y0;
    if (fabs(a->ux * y0 - a->uy * x0) > BUILD_TOUCH || fabs(a->ux * y1 - a->uy * x1) > BUILD_TOUCH)
        return 0;
    double from = a->ux * x1 + a->uy * y1, to = a->ux * x0 + a->uy * y0; /* b runs back along a */
    return fmax(0, fmin(a->length, to) - fmax(0, from));
}

static double rims_touch(const struct rim *a, const struct rim *b, double dx, double dy) {
    double sum = 0;
    const double play = 2 * BUILD_TOUCH;
    if (b->box.x0 + dx > a->box.x1 + play || b->box.x1 + dx < a->box.x0 - play ||
        b->box.y0 + dy > a->box.y1 + play || b->box.y1 + dy < a->box.y0 - play)
        return 0;
    for (size_t i = 0; i < a->n; i++)
        for (size_t k = 0; k < b->n; k++)
            sum += edges_touch(&a->edge[i], &b->edge[k], dx, dy);
    return sum;
}

/* What touches the sides of the box: of a strip, which has no other edge. */
static double box_touch(const struct builder *b, size_t shape, double x, double y) {
    const struct box *o = &b->t->box;
    double sum = 0;
    const struct rim *r = &b->rim[shape];
    for (size_t k = 0; k < r->n; k++) {
        const struct edge *e = &r->edge[k];
        bool along = fabs(e->uy) * e->length < BUILD_TOUCH, /* of the strip */
            across = fabs(e->ux) * e->length < BUILD_TOUCH;
        if (along &&
            (fabs(e->y0 + y - o->y0) < BUILD_TOUCH || fabs(e->y0 + y - o->y1) < BUILD_TOUCH))
            sum += e->length;
        if (across &&
            (fabs(e->x0 + x - o->x0) < BUILD_TOUCH || fabs(e->x0 + x - o->x1) < BUILD_TOUCH))
            sum += e->length;
    }
    return sum;
}

/* ---- chances -------------------------------------------------------------------------------- */

static bool clear_of(struct builder *b, const struct laid *on, size_t shape, double x, double y) {
    b->tests++;
    return nest_depth(nest_pair(b->t, on->shape, shape), x - on->x, y - on->y) <= NEST_TOUCH / 2;
}

static void look(struct builder *b, struct node *n, size_t shape, const struct box *range, double x,
                 double y) {
    const double play = 1e-7;
    if (n->chances >= BUILD_CHANCES || x < range->x0 - play || x > range->x1 + play ||
        y < range->y0 - play || y > range->y1 + play)
        return;
    struct table *t = b->t;
    for (size_t i = n->n; i-- > 0;)
        if (!clear_of(b, &n->laid[i], shape, x, y)) return;
    b->tests++;
    if (nest_depth(nest_round(t, shape), x, y) > NEST_TOUCH / 2) return;
    /* what lies on another part hides two outlines, what lies on the edge hides one */
    double touch = (t->obstacle.pieces ? rims_touch(&b->rim[4 * t->parts], &b->rim[shape], x, y)
                                       : box_touch(b, shape, x, y)) /
                   2;
    for (size_t i = 0; i < n->n; i++)
        touch += rims_touch(&b->rim[n->laid[i].shape], &b->rim[shape], x - n->laid[i].x,
                            y - n->laid[i].y);
    n->chance[n->chances++] = (struct chance){shape, x, y, touch};
}

/* Places of one shape at what lies at (dx, dy) with this rim: corner on corner, and along a side of
 * the range up to it. */
static void look_round(struct builder *b, struct node *n, size_t shape, const struct box *range,
                       const struct rim *at, const struct no_fit *f, double dx, double dy) {
    const struct rim *own = &b->rim[shape];
    for (size_t i = 0; i < at->n; i++)
        for (size_t k = 0; k < own->n; k++)
            look(b, n, shape, range, dx + at->edge[i].x0 - own->edge[k].x0,
                 dy + at->edge[i].y0 - own->edge[k].y0);
    for (size_t i = 0; i < f->n; i++)
        for (size_t e = 0; e < f->wedge[i].n; e++) {
            const double *h = f->wedge[i].plane + 3 * e;
            double c = h[2] + h[0] * dx + h[1] * dy;
            for (int s = 0; s < 2; s++) {
                double ys = s ? range->y1 : range->y0, xs = s ? range->x1 : range->x0;
                if (fabs(h[0]) > 1e-9) look(b, n, shape, range, (c - h[1] * ys) / h[0], ys);
                if (fabs(h[1]) > 1e-9) look(b, n, shape, range, xs, (c - h[0] * xs) / h[1]);
            }
        }
}

/* New chances of every part that is left, at the part laid last; of an empty table: at its edge. */
static void look_all(struct builder *b, struct node *n) {
    struct table *t = b->t;
    const struct laid *last = n->n ? &n->laid[n->n - 1] : NULL;
    for (size_t shape = 0; shape < 4 * t->parts; shape++) {
        const struct nest_part *p = &t->part[shape / 4];
        struct box r;
        if (n->left[shape / 4] <= 0 || (shape & 1 && !p->half_turn) || (shape & 2 && !p->mirror) ||
            !nest_range(t, shape, &r))
            continue;
        if (last)
            look_round(b, n, shape, &r, &b->rim[last->shape], nest_pair(t, last->shape, shape),
                       last->x, last->y);
        else {
            for (int c = 0; c < 4; c++)
                look(b, n, shape, &r, c & 1 ? r.x1 : r.x0, c & 2 ? r.y1 : r.y0);
            look_round(b, n, shape, &r, &b->rim[4 * t->parts], nest_round(t, shape), 0, 0);
        }
    }
}

/* ---- layouts begun -------------------------------------------------------------------------- */

static uint64_t mix(uint64_t z) {
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* Of one part at one place, to a tenth of a mm. */
static uint64_t hash_of(size_t shape, double x, double y) {
    uint64_t a = (uint64_t)(int64_t)llround(10 * x), b = (uint64_t)(int64_t)llround(10 * y);
    return mix(mix(a * 0x9E3779B97F4A7C15u + shape) + b);
}

/* Its chances are gathered in the builder's room and kept by node_keep. */
static int node_new(struct node *out, const struct builder *b, size_t items, struct arena *arena) {
    *out = (struct node){.chance = b->room};
    out->laid = ARENA_NEW(arena, struct laid, items);
    out->left = ARENA_NEW(arena, long, b->t->parts);
    return out->laid && out->left ? 0 : ERR_MEMORY;
}

static int node_keep(struct node *n, struct arena *arena) {
    struct chance *own = ARENA_NEW(arena, struct chance, n->chances);
    if (!own) return ERR_MEMORY;
    if (n->chances) memcpy(own, n->chance, n->chances * sizeof *own);
    n->chance = own;
    return 0;
}

static int follow(struct builder *b, struct node *out, const struct node *from,
                  const struct chance *c, size_t items, struct arena *arena) {
    struct table *t = b->t;
    if (node_new(out, b, items, arena)) return ERR_MEMORY;
    memcpy(out->laid, from->laid, from->n * sizeof *out->laid);
    memcpy(out->left, from->left, t->parts * sizeof *out->left);
    const struct laid last = {c->shape / 4, c->shape, c->x, c->y};
    out->laid[from->n] = last;
    out->n = from->n + 1;
    out->left[last.part]--;
    out->touch = from->touch + c->touch;
    out->length = from->length + b->rim[c->shape].length;
    out->area = from->area + t->shape[c->shape].area;
    out->hash = from->hash + hash_of(c->shape, c->x, c->y);
    for (size_t i = 0; i < from->chances; i++) { /* what is still free of the new part */
        struct chance k = from->chance[i];
        if (out->left[k.shape / 4] <= 0 || !clear_of(b, &last, k.shape, k.x, k.y)) continue;
        k.touch += rims_touch(&b->rim[last.shape], &b->rim[k.shape], k.x - last.x, k.y - last.y);
        out->chance[out->chances++] = k;
    }
    look_all(b, out);
    return node_keep(out, arena);
}

static bool has_room(const struct builder *b, const struct node *n) {
    for (size_t p = 0; p < b->t->parts; p++) {
        bool any = n->left[p] <= 0;
        for (size_t i = 0; i < n->chances && !any; i++)
            any = n->chance[i].shape / 4 == p;
        if (!any) return false;
    }
    return true;
}

static int better_first(const void *a, const void *b) {
    const struct step *p = a, *q = b;
    if (p->score != q->score) return p->score > q->score ? -1 : 1;
    if (p->node != q->node) return p->node < q->node ? -1 : 1;
    return p->chance < q->chance ? -1 : p->chance > q->chance;
}

/* How far left, then how low, a part there begins. */
static double begins_at(const struct builder *b, const struct chance *c) {
    const struct box *box = &b->t->shape[c->shape].box;
    return c->x + box->x0 + 1e-3 * (c->y + box->y0);
}

/* A number in [0, 1) that the layout and the builder's seed give. */
static double unit_of(const struct builder *b, const struct node *n, const struct chance *c) {
    return (double)(mix(n->hash + hash_of(c->shape, c->x, c->y) + b->o->seed) >> 11) * 0x1p-53;
}

/* Every step from every layout, the best first; NULL when memory is gone. `in_order`: only those
 * that fill the leftmost, lowest place. */
static struct step *steps_of(const struct builder *b, const struct node *node, size_t n,
                             bool in_order, size_t *count, struct arena *arena) {
    size_t all = 0;
    for (size_t i = 0; i < n; i++)
        all += node[i].chances;
    struct step *s = ARENA_NEW(arena, struct step, all + 1);
    *count = 0;
    for (size_t i = 0; s && i < n; i++) {
        double least = INFINITY;
        for (size_t k = 0; k < node[i].chances && in_order; k++)
            least = fmin(least, begins_at(b, &node[i].chance[k]));
        for (size_t k = 0; k < node[i].chances; k++) {
            const struct chance *c = &node[i].chance[k];
            if (in_order && begins_at(b, c) > least + BUILD_TOUCH) continue;
            double length = node[i].length + b->rim[c->shape].length;
            double score = (node[i].touch + c->touch) / length;
            if (b->o->noise >
                0) /* the same for the same layout, so that it is no matter of order */
                score *= 1 + b->o->noise * unit_of(b, &node[i], c);
            s[(*count)++] = (struct step){score, i, k};
        }
    }
    if (s) qsort(s, *count, sizeof *s, better_first);
    return s;
}

/* One part more on the best of the layouts; *n of them are left. */
static struct node *next_level(struct builder *b, const struct node *node, size_t *n, size_t width,
                               const struct nest_build_options *o, size_t items,
                               struct arena *arena) {
    size_t count, made = 0;
    struct step *s = steps_of(b, node, *n, o->in_order, &count, arena);
    struct node *next = ARENA_NEW(arena, struct node, width);
    if (!s || !next) return NULL;
    for (size_t i = 0; i < count && made < width; i++) {
        const struct node *from = &node[s[i].node];
        const struct chance *c = &from->chance[s[i].chance];
        uint64_t hash = from->hash + hash_of(c->shape, c->x, c->y);
        bool known = false;
        for (size_t k = 0; k < made && !known; k++)
            known = next[k].hash == hash;
        if (known) continue;
        if (follow(b, &next[made], from, c, items, arena)) return NULL;
        if (has_room(b, &next[made])) made++;
        if (b->tests > b->most) width = made ? made : 1;
    }
    *n = made;
    return next;
}

static void put_on_table(struct table *t, const struct node *n, const size_t *list, size_t items) {
    for (size_t i = 0; i < n->n; i++)
        for (size_t k = 0; k < items; k++) {
            struct item *it = &t->item[list[k]];
            if (it->placed || it->part != n->laid[i].part) continue;
            it->shape = n->laid[i].shape;
            it->x = n->laid[i].x;
            it->y = n->laid[i].y;
            it->placed = true;
            t->on[t->on_n++] = list[k];
            break;
        }
}

static int begin(struct builder *b, struct node *root, const size_t *list, size_t n) {
    struct table *t = b->t;
    b->rim = ARENA_NEW(b->own, struct rim, 4 * t->parts + 1);
    b->room = ARENA_NEW(b->own, struct chance, BUILD_CHANCES);
    if (!b->rim || !b->room || node_new(root, b, n, b->own)) return ERR_MEMORY;
    for (size_t s = 0; s < 4 * t->parts; s++)
        if (rim_of(&b->rim[s], &t->shape[s], b->own)) return ERR_MEMORY;
    if (rim_of(&b->rim[4 * t->parts], &t->obstacle, b->own)) return ERR_MEMORY;
    for (size_t i = 0; i < n; i++)
        root->left[t->item[list[i]].part]++;
    look_all(b, root);
    return node_keep(root, b->own);
}

size_t nest_build(struct table *t, const size_t *list, size_t n,
                  const struct nest_build_options *options) {
    struct arena *level[2] = {arena_new(), NULL};
    struct builder b = {.t = t, .most = options->tests, .own = arena_new(), .o = options};
    struct node root, best = {0}, *node = &root;
    size_t nodes = 1, at = 0;
    bool fine = b.own && level[0] && begin(&b, &root, list, n) == 0;
    while (fine && nodes > 0) {
        for (size_t i = 0; i < nodes; i++)
            if (node[i].area > best.area) { /* copied: its level is freed */
                struct laid *laid = best.laid ? best.laid : ARENA_NEW(b.own, struct laid, n);
                if (!laid)
                    fine = false;
                else
                    memcpy(laid, node[i].laid, node[i].n * sizeof *laid);
                best = node[i];
                best.laid = laid;
            }
        if (best.n == n || !fine) break;
        size_t next = 1 - at;
        arena_free(level[next]);
        level[next] = arena_new();
        size_t width = b.tests > b.most ? 1 : options->width;
        node = level[next] ? next_level(&b, node, &nodes, width, options, n, level[next]) : NULL;
        fine = node != NULL;
        at = next;
    }
    if (!fine) t->out_of_memory = true;
    if (fine && best.n > 0) put_on_table(t, &best, list, n);
    arena_free(level[0]);
    arena_free(level[1]);
    arena_free(b.own);
    return fine ? best.n : 0;
}
