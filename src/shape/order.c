#include "shape/order.h"

#include <stdlib.h>
#include <string.h>

/* Names to numbers in the order first named. Object lists are short: linear search. */
struct graph {
    size_t n, m;
    const char **name;
    size_t *from, *to;     /* [m] */
    const char **evidence; /* [m] */
    unsigned char *reach;  /* [n][n]: a chain of crossings leads from row to column */
};

static size_t name_index(struct graph *g, const char *name) {
    size_t i = 0;
    while (i < g->n && strcmp(g->name[i], name) != 0)
        i++;
    if (i == g->n) g->name[g->n++] = name;
    return i;
}

static int graph_make(struct graph *g, const struct shape_order_crossing *c, size_t n,
                      struct arena *arena, struct error *err) {
    g->m = n;
    g->name = ARENA_NEW(arena, const char *, 2 * n);
    g->from = ARENA_NEW(arena, size_t, n);
    g->to = ARENA_NEW(arena, size_t, n);
    g->evidence = ARENA_NEW(arena, const char *, n);
    if (!g->name || !g->from || !g->to || !g->evidence) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        if (!c[i].before || !c[i].after || !*c[i].before || !*c[i].after)
            return fail(err, ERR_INPUT, "Name what came before and what came after.",
                        "Crossing %zu names only one thing.", i + 1);
        g->from[i] = name_index(g, c[i].before);
        g->to[i] = name_index(g, c[i].after);
        g->evidence[i] = c[i].evidence ? c[i].evidence : "";
    }
    g->reach = ARENA_NEW(arena, unsigned char, g->n * g->n);
    if (!g->reach) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        g->reach[g->from[i] * g->n + g->to[i]] = 1;
    for (size_t k = 0; k < g->n; k++) /* Warshall 1962, J. ACM 9, 11-12 */
        for (size_t i = 0; i < g->n; i++)
            if (g->reach[i * g->n + k])
                for (size_t j = 0; j < g->n; j++)
                    g->reach[i * g->n + j] |= g->reach[k * g->n + j];
    return 0;
}

static bool in_ring(const struct graph *g, size_t i) {
    return g->reach[i * g->n + i];
}

/* One text for each set of steps that all lead to one another. */
static int rings_tell(struct shape_order *out, const struct graph *g, struct arena *arena,
                      struct error *err) {
    out->ring = ARENA_NEW(arena, const char *, g->n);
    if (!out->ring) return fail_memory(err);
    for (size_t i = 0; i < g->n; i++) {
        bool first = in_ring(g, i);
        for (size_t j = 0; j < i && first; j++)
            first = !(g->reach[i * g->n + j] && g->reach[j * g->n + i]);
        if (!first) continue;
        const char *text = "";
        for (size_t e = 0; e < g->m && text; e++) {
            size_t a = g->from[e], b = g->to[e];
            bool inside = (a == i || (g->reach[i * g->n + a] && g->reach[a * g->n + i])) &&
                          (b == i || (g->reach[i * g->n + b] && g->reach[b * g->n + i]));
            if (!inside) continue;
            text = arena_printf(arena, "%s%s%s before %s%s%s%s", text, *text ? "; " : "",
                                g->name[a], g->name[b], *g->evidence[e] ? " (" : "", g->evidence[e],
                                *g->evidence[e] ? ")" : "");
        }
        if (!text) return fail_memory(err);
        out->ring[out->n_rings++] = text;
    }
    return 0;
}

static long longest(const struct graph *g, size_t i, long *memo, bool forward) {
    if (memo[i] >= -1) return memo[i];
    long best = 0;
    for (size_t e = 0; e < g->m; e++) {
        size_t here = forward ? g->to[e] : g->from[e], there = forward ? g->from[e] : g->to[e];
        if (here != i) continue;
        long l = longest(g, there, memo, forward);
        if (l + 1 > best) best = l + 1;
    }
    return memo[i] = best;
}

static int by_level(const void *a, const void *b) {
    const struct shape_order_step *p = a, *q = b;
    unsigned long x = (unsigned long)p->level, y = (unsigned long)q->level; /* -1 goes last */
    return (x > y) - (x < y);
}

static int levels_make(struct shape_order *out, const struct graph *g, struct arena *arena,
                       struct error *err) {
    long *down = ARENA_NEW(arena, long, g->n), *up = ARENA_NEW(arena, long, g->n), last = 0;
    out->step = ARENA_NEW(arena, struct shape_order_step, g->n);
    if (!down || !up || !out->step) return fail_memory(err);
    for (size_t i = 0; i < g->n; i++) {
        down[i] = up[i] = -2;
        bool behind = in_ring(g, i);
        for (size_t j = 0; j < g->n; j++)
            behind |= in_ring(g, j) && (g->reach[j * g->n + i] || g->reach[i * g->n + j]);
        if (behind) down[i] = up[i] = -1;
    }
    for (size_t i = 0; i < g->n; i++) {
        long l = longest(g, i, down, true);
        longest(g, i, up, false);
        if (l > last) last = l;
    }
    out->n = g->n;
    for (size_t i = 0; i < g->n; i++)
        out->step[i] =
            (struct shape_order_step){g->name[i], down[i], up[i] < 0 ? -1 : last - up[i]};
    for (size_t i = 1; i < g->n; i++) /* insertion: keeps the order first named within a level */
        for (size_t j = i; j > 0 && by_level(&out->step[j], &out->step[j - 1]) < 0; j--) {
            struct shape_order_step t = out->step[j];
            out->step[j] = out->step[j - 1], out->step[j - 1] = t;
        }
    return 0;
}

int shape_order_work(struct shape_order *out, const struct shape_order_crossing *crossing, size_t n,
                     struct arena *arena, struct error *err) {
    *out = (struct shape_order){0};
    if (!n)
        return fail(err, ERR_MISSING, "Enter what lies over or cuts what.",
                    "No crossing is known.");
    struct graph g = {0};
    int rc = graph_make(&g, crossing, n, arena, err);
    if (!rc) rc = rings_tell(out, &g, arena, err);
    if (!rc) rc = levels_make(out, &g, arena, err);
    if (rc) return rc;
    out->needed = ARENA_NEW(arena, struct shape_order_crossing, n);
    if (!out->needed) return fail_memory(err);
    for (size_t e = 0; e < n; e++) { /* transitive reduction (Aho, Garey & Ullman 1972) */
        bool needless = false;
        for (size_t k = 0; k < g.n && !in_ring(&g, g.from[e]); k++)
            needless |= k != g.from[e] && k != g.to[e] && g.reach[g.from[e] * g.n + k] &&
                        g.reach[k * g.n + g.to[e]];
        if (!needless) out->needed[out->n_needed++] = crossing[e];
    }
    for (size_t i = 0; i < g.n; i++)
        for (size_t j = 0; j < i; j++)
            out->open_pairs += !g.reach[i * g.n + j] && !g.reach[j * g.n + i];
    return 0;
}
