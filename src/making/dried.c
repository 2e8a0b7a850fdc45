#include "making/dried.h"

#include <math.h>
#include <string.h>

/* Places and readings over the sheet: columns 0 and 1 lie in the plan, `scale` takes column 2. */
static int scaled(struct tuples *t, const struct making_left *left, double scale,
                  struct arena *arena) {
    if (t->n == 0) return 0;
    double *v = ARENA_NEW(arena, double, t->n * t->width);
    if (!v) return ERR_MEMORY;
    for (size_t i = 0; i < t->n; i++) {
        const double *from = t->v + i * t->width;
        double *to = v + i * t->width;
        memcpy(to, from, t->width * sizeof *v);
        to[0] *= left->x;
        to[1] *= left->y;
        if (t->width > 2) to[2] *= scale;
    }
    t->v = v;
    return 0;
}

int part_dry(struct part *p, const struct making_left *left, struct arena *arena) {
    if (p->state == STATE_NEW_AND_DRY) return 0;
    double plane = sqrt(left->x * left->y);
    p->state = STATE_NEW_AND_DRY;
    p->x *= left->x;
    p->y *= left->y;
    p->pitch *= plane; /* holes and pockets move with the sheet */
    p->hole *= plane;
    p->edge_distance *= plane;
    if (p->kind == PART_SHEET) {
        p->length *= left->x;
        p->width *= left->y;
        p->thickness *= left->through;
        p->fissure_depth *= left->through;
        p->fissure_spacing *= plane;
        p->fissure_width *= plane;
    } else if (p->kind == PART_LATH || p->kind == PART_RIM || p->kind == PART_GRIP ||
               p->kind == PART_CENTRE || p->kind == PART_PEG) {
        p->width *= left->wood;
        p->thickness *= left->wood;
        p->diameter *= left->wood;
        p->inner_diameter *= left->wood;
        p->height *= left->wood;
    }
    int rc = scaled(&p->points, left, 1, arena);
    if (!rc) rc = scaled(&p->cork_at, left, plane, arena);
    return rc ? rc : scaled(&p->thickness_at, left, left->through, arena);
}

int makings_dry(struct makings *out, const struct makings *all, const struct making_left *left,
                struct arena *arena, struct error *err) {
    *out = *all;
    out->parts = ARENA_NEW(arena, struct part, all->part_count + 1);
    if (!out->parts) return fail_memory(err);
    for (size_t i = 0; i < all->part_count; i++) {
        out->parts[i] = all->parts[i];
        if (part_dry(&out->parts[i], left, arena)) return fail_memory(err);
    }
    return 0;
}
