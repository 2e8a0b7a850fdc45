/* From the leading making to a plan at true size. */
#include "tell/assemble.h"

#include "job/makings.h"
#include "plane/polygon.h"

#include <math.h>
#include <string.h>

enum { CIRCLE = 72, MOST_PARTS = 300 };

struct planner {
    struct show_plan *plan;
    struct plan_part *parts;
    struct arena *arena;
    const struct part *sheet;
    double dry_along, dry_around;
    struct error *err;
    int rc;
};

static double *points(struct planner *p, size_t n) {
    double *v = p->rc ? NULL : ARENA_NEW(p->arena, double, 2 * n);
    if (!v && !p->rc) p->rc = fail_memory(p->err);
    return v;
}

/* The sheet's outline moved inward by `mm`: the largest ring that is left; n = 0 when none is. */
static size_t inset(struct planner *p, double mm, double **out) {
    const struct tuples *o = &p->sheet->points;
    struct plane_point *ring = ARENA_NEW(p->arena, struct plane_point, o->n);
    struct plane_rings rings = {0};
    *out = NULL;
    if (p->rc || !ring) return 0;
    for (size_t i = 0; i < o->n; i++)
        ring[i] = (struct plane_point){o->v[2 * i], o->v[2 * i + 1]};
    if (plane_polygon_offset(&rings, ring, o->n, -mm, p->arena, NULL) || rings.n == 0) return 0;
    *out = points(p, rings.v[0].n);
    for (size_t i = 0; *out && i < rings.v[0].n; i++) {
        (*out)[2 * i] = rings.v[0].v[i].x;
        (*out)[2 * i + 1] = rings.v[0].v[i].y;
    }
    return *out ? rings.v[0].n : 0;
}

static long face_of(const struct part *q) {
    return q->side == SIDE_WITHIN ? FACE_BETWEEN : q->side == SIDE_INNER ? FACE_INNER : FACE_OUTER;
}

static struct plan_part *add(struct planner *p, const struct part *q, enum plan_kind kind) {
    if (p->rc || p->plan->n_parts == MOST_PARTS) return NULL;
    struct plan_part *r = &p->parts[p->plan->n_parts++];
    *r = (struct plan_part){.id = q->id,
                            .name = q->name ? q->name : q->id,
                            .kind = kind,
                            .face = face_of(q),
                            .footing = q->footing,
                            .width = q->width,
                            .fresh = q->length,
                            .dry = NAN,
                            .grain = NAN,
                            .said = q->statements.n ? q->statements.v[0] : NULL};
    return r;
}

/* A straight part by its middle line. */
static void add_line(struct planner *p, const struct part *q, enum plan_kind kind) {
    struct plan_part *r = add(p, q, kind);
    double *v = r ? points(p, 2) : NULL;
    if (!v || isnan(q->length)) return;
    double a = isnan(q->angle) ? 0 : q->angle, x = isnan(q->x) ? 0 : q->x,
           y = isnan(q->y) ? 0 : q->y;
    double cx = cos(a) * q->length / 2, cy = sin(a) * q->length / 2;
    double line[] = {x - cx, y - cy, x + cx, y + cy};
    memcpy(v, line, sizeof line);
    r->n = 2;
    r->xy = v;
}

/* A part that follows the edge, its middle `mm` inside it. */
static void add_round(struct planner *p, const struct part *q, enum plan_kind kind, double mm) {
    double *v;
    size_t n = inset(p, mm, &v);
    struct plan_part *r = n ? add(p, q, kind) : NULL;
    if (!r) return;
    r->n = n;
    r->xy = v;
    r->closed = true;
}

static void add_ring(struct planner *p, const struct part *q) {
    if (isnan(q->diameter)) return;
    struct plan_part *r = add(p, q, PLAN_RING);
    double *v = r ? points(p, CIRCLE) : NULL;
    if (!v) return;
    double inner = isnan(q->inner_diameter) ? 0 : q->inner_diameter;
    for (size_t i = 0; i < CIRCLE; i++) {
        double a = 2 * M_PI * (double)i / CIRCLE, rho = (q->diameter + inner) / 4;
        v[2 * i] = (isnan(q->x) ? 0 : q->x) + rho * cos(a);
        v[2 * i + 1] = (isnan(q->y) ? 0 : q->y) + rho * sin(a);
    }
    r->n = CIRCLE;
    r->xy = v;
    r->closed = true;
    r->width = (q->diameter - inner) / 2;
}

/* Holes of the binding: evenly along the edge's inner line. */
static void add_holes(struct planner *p, const struct part *q) {
    double *line;
    size_t n = isnan(q->edge_distance) || q->count < 2 ? 0 : inset(p, q->edge_distance, &line);
    if (n < 3) return;
    struct plan_hole *holes = ARENA_NEW(p->arena, struct plan_hole, (size_t)q->count);
    if (!holes) return;
    double total = 0, at = 0;
    for (size_t i = 0; i < n; i++)
        total += hypot(line[2 * ((i + 1) % n)] - line[2 * i],
                       line[2 * ((i + 1) % n) + 1] - line[2 * i + 1]);
    double step = total / (double)q->count;
    size_t made = 0;
    for (size_t i = 0; i < n && made < (size_t)q->count; i++) {
        const double *a = line + 2 * i, *b = line + 2 * ((i + 1) % n);
        double l = hypot(b[0] - a[0], b[1] - a[1]);
        for (; made < (size_t)q->count && (double)made * step < at + l; made++) {
            double t = l > 0 ? ((double)made * step - at) / l : 0;
            holes[made] = (struct plan_hole){a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]),
                                             q->hole, q->footing};
        }
        at += l;
    }
    p->plan->holes = holes;
    p->plan->n_holes = made;
}

static void add_sheet(struct planner *p) {
    const struct tuples *o = &p->sheet->points;
    p->plan->fresh = o->v;
    p->plan->n_fresh = o->n;
    p->plan->footing = p->sheet->footing;
    p->plan->grain = p->sheet->grain;
    if (isnan(p->dry_along) || isnan(p->dry_around)) return;
    double g = isnan(p->sheet->grain) ? 0 : p->sheet->grain, c = cos(g), s = sin(g);
    double *v = points(p, o->n);
    for (size_t i = 0; v && i < o->n; i++) {
        const double *q = o->v + 2 * i;
        double u = (c * q[0] + s * q[1]) * p->dry_along, w = (c * q[1] - s * q[0]) * p->dry_around;
        v[2 * i] = c * u - s * w;
        v[2 * i + 1] = s * u + c * w;
    }
    p->plan->dry = v;
    p->plan->n_dry = v ? o->n : 0;
}

static void add_part(struct planner *p, const struct part *q) {
    switch (q->kind) {
    case PART_LATH:
        add_line(p, q, PLAN_LATH);
        break;
    case PART_GRIP:
        add_line(p, q, PLAN_GRIP);
        break;
    case PART_RIM:
        add_round(p, q, PLAN_RIM, q->width / 2);
        break;
    case PART_CENTRE:
        add_ring(p, q);
        break;
    case PART_PAINT:
        add_round(p, q, PLAN_PAINT, q->edge_distance + q->width / 2);
        break;
    case PART_TIE:
        add_holes(p, q);
        break;
    default:
        break;
    }
}

int tell_assemble_plan(struct show_plan **out, struct job *job, struct arena *arena,
                       struct error *err) {
    struct job_makings m;
    *out = NULL;
    int rc = job_makings(&m, job, arena, err);
    const struct making *leading = rc ? NULL : makings_leading(&m.all);
    if (!leading) return rc;
    struct planner p = {.arena = arena,
                        .err = err,
                        .dry_along = m.dry_along,
                        .dry_around = m.dry_around,
                        .sheet = makings_part(&m.all, leading->id, PART_SHEET, NULL)};
    if (!p.sheet || p.sheet->points.n < 3) return 0;
    p.plan = ARENA_NEW(arena, struct show_plan, 1);
    p.parts = ARENA_NEW(arena, struct plan_part, MOST_PARTS);
    if (!p.plan || !p.parts) return fail_memory(err);
    *p.plan = (struct show_plan){.subject = "Plan at true size",
                                 .state = "fresh: cut this",
                                 .up = "outer face up",
                                 .parts = p.parts};
    add_sheet(&p);
    for (const struct part *q = NULL; (q = makings_part(&m.all, leading->id, -1, q)) && !p.rc;)
        add_part(&p, q);
    *out = p.rc ? NULL : p.plan;
    return p.rc;
}
