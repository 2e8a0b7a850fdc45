/* order: the order of work read off what crosses what.
 *
 * Each crossing says that one thing was done before another and why (it passes under, its hole is
 * cut by, its dent underlies ...). The result is a partial order: levels, and which pairs stay
 * open. Crossings that go round in a ring contradict each other; the ring is told, nothing is
 * dropped silently.
 */
#ifndef RELICT_SHAPE_ORDER_H
#define RELICT_SHAPE_ORDER_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

struct shape_order_crossing {
    const char *before, *after; /* names of things or steps */
    const char *evidence;       /* id or words of what shows it */
};

struct shape_order_step {
    const char *name;
    long level;  /* 0: can come first; -1: in or behind a contradiction */
    long latest; /* the last level it can have without pushing the end out; -1 likewise */
};

struct shape_order {
    size_t n;
    struct shape_order_step *step; /* [n], by level, then as first named */
    size_t n_needed;
    struct shape_order_crossing *needed; /* crossings that no chain of others makes needless */
    size_t n_rings;
    const char **ring; /* [n_rings]: "a before b (A12), b before a (A15)" */
    size_t open_pairs; /* pairs of steps whose order nothing fixes */
};

int shape_order_work(struct shape_order *out, const struct shape_order_crossing *crossing, size_t n,
                     struct arena *arena, struct error *err);

#endif
