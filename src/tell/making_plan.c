/* making_plan: from the parts of a making to the plan and to the picture of find and object. */
#include "show/figures.h"
#include "tell/dossier.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

static enum plan_kind kind_of(const struct part *p) {
    switch (p->kind) {
    case PART_SHEET:
        return PLAN_SHEET;
    case PART_LATH:
        return PLAN_LATH;
    case PART_RIM:
        return PLAN_RIM;
    case PART_GRIP:
        return PLAN_GRIP;
    case PART_CENTRE:
        return PLAN_RING;
    case PART_PAINT:
        return PLAN_PAINT;
    default:
        return PLAN_OTHER;
    }
}

static long face_of(const struct part *p) {
    return p->side == SIDE_INNER ? FACE_INNER : p->side == SIDE_WITHIN ? FACE_BETWEEN : FACE_OUTER;
}

/* A part without points but with middle, length and angle is a straight line; a ring is a circle.
 */
static bool points_of(struct plan_part *out, const struct part *p, struct arena *arena) {
    if (p->points.n > 1 && p->points.width == 2) {
        out->n = p->points.n;
        out->xy = p->points.v;
        const double *a = p->points.v, *b = p->points.v + 2 * (p->points.n - 1);
        out->closed = p->kind == PART_SHEET || p->kind == PART_PAINT ||
                      (out->n > 3 && hypot(a[0] - b[0], a[1] - b[1]) < 0.2 * fabs(p->length));
        return true;
    }
    double x = isfinite(p->x) ? p->x : 0, y = isfinite(p->y) ? p->y : 0;
    if (p->kind == PART_CENTRE && isfinite(p->diameter)) {
        enum { N = 72 };
        double *xy = ARENA_NEW(arena, double, 2 * N);
        for (int i = 0; xy && i < N; i++) {
            xy[2 * i] = x + p->diameter / 2 * cos(2 * M_PI * i / N);
            xy[2 * i + 1] = y + p->diameter / 2 * sin(2 * M_PI * i / N);
        }
        *out = (struct plan_part){.n = xy ? N : 0, .xy = xy, .closed = true};
        return xy != NULL;
    }
    if (!isfinite(p->length) || !isfinite(p->x) || !isfinite(p->y)) return false;
    double *xy = ARENA_NEW(arena, double, 4);
    double angle = isfinite(p->angle) ? p->angle : M_PI / 2;
    if (!xy) return false;
    for (int i = 0; i < 2; i++) {
        xy[2 * i] = x + (i - 0.5) * p->length * cos(angle);
        xy[2 * i + 1] = y + (i - 0.5) * p->length * sin(angle);
    }
    out->n = 2;
    out->xy = xy;
    return true;
}

static void sheet(struct show_plan *out, const struct part *p) {
    if (p->points.n < 3 || p->points.width != 2) return;
    bool fresh = p->state == STATE_FRESH;
    if (fresh && !out->n_fresh) out->n_fresh = p->points.n, out->fresh = p->points.v;
    if (!fresh && !out->n_dry) out->n_dry = p->points.n, out->dry = p->points.v;
    out->footing = p->footing;
    out->grain = p->grain;
}

enum { MOST_HOLES = 4000 };

/* A seam is its holes along its path: as many as are counted on a closed one, else at its pitch. */
static void add_holes(struct show_plan *out, struct plan_hole *holes, const struct plan_part *path,
                      const struct part *p) {
    size_t sides = path->n - (path->closed ? 0 : 1);
    double total = 0, at = 0;
    if (!(p->hole > 0)) return;
    for (size_t i = 0; i < sides; i++) {
        const double *a = path->xy + 2 * i, *b = path->xy + 2 * ((i + 1) % path->n);
        total += hypot(b[0] - a[0], b[1] - a[1]);
    }
    double step = path->closed && p->count > 1 ? total / (double)p->count : p->pitch;
    if (!(step > 0)) return;
    size_t most = (size_t)(total / step + (path->closed ? 0.5 : 1)), made = 0;
    for (size_t i = 0; i < sides; i++) {
        const double *a = path->xy + 2 * i, *b = path->xy + 2 * ((i + 1) % path->n);
        double l = hypot(b[0] - a[0], b[1] - a[1]);
        for (; made < most && out->n_holes < MOST_HOLES && (double)made * step <= at + l; made++) {
            double t = l > 0 ? ((double)made * step - at) / l : 0;
            holes[out->n_holes++] = (struct plan_hole){
                a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), p->hole, p->footing};
        }
        at += l;
    }
}

bool tell_plan_of(struct show_plan *out, const struct tell_dossier *d, const struct making *m,
                  struct arena *arena) {
    *out = (struct show_plan){.object = d->title,
                              .subject = m->title,
                              .file = d->file,
                              .date = d->moment,
                              .hash = d->hash,
                              .footing = -1,
                              .grain = NAN,
                              .up = "seen from the outer face"};
    struct plan_part *parts = ARENA_NEW(arena, struct plan_part, d->makings->part_count + 1);
    struct plan_hole *holes = ARENA_NEW(arena, struct plan_hole, MOST_HOLES);
    if (!parts || !holes) return false;
    for (const struct part *p = NULL; (p = makings_part(d->makings, m->id, -1, p));) {
        if (p->kind == PART_SHEET) {
            sheet(out, p);
            continue;
        }
        struct plan_part q = {0};
        if (!points_of(&q, p, arena)) continue;
        if (p->kind == PART_SEAM || p->kind == PART_TIE) {
            add_holes(out, holes, &q, p);
            continue;
        }
        q.id = p->id;
        q.name = p->name;
        q.kind = kind_of(p);
        q.face = face_of(p);
        q.footing = p->footing;
        q.width = q.kind == PLAN_RING ? NAN : p->width; /* paint: a stripe along its path */
        q.fresh = p->state == STATE_FRESH ? p->length : NAN;
        q.dry = p->state == STATE_NEW_AND_DRY ? p->length : NAN;
        q.grain = p->grain;
        q.said = p->statements.n ? p->statements.v[0] : NULL;
        parts[out->n_parts++] = q;
    }
    out->parts = parts;
    out->holes = holes;
    out->state = out->n_fresh && out->n_dry ? "sizes fresh, and new and dry"
                 : out->n_fresh             ? "sizes fresh (cut this)"
                                            : "sizes new and dry";
    return out->n_fresh || out->n_dry || out->n_parts;
}

/* ---- flat patterns ---- */

enum { ARC = 72 };

/* A cone unrolled: a sector whose radius is the slant and whose arc is the way round the edge, that
 * is 2 pi sin(half the opening) of a turn; its middle line runs along x from (x, y). */
static bool unrolled(struct plan_part *out, const struct part *p, double x, double y,
                     struct arena *arena) {
    double edge = p->diameter / 2, slant = hypot(edge, p->height), half = M_PI * edge / slant;
    double *xy = ARENA_NEW(arena, double, 2 * (ARC + 2)), left = fmin(0, slant * cos(half));
    *out = (struct plan_part){.kind = PLAN_OTHER,
                              .face = -1,
                              .footing = p->footing,
                              .n = ARC + 2,
                              .xy = xy,
                              .closed = true,
                              .width = NAN,
                              .fresh = NAN,
                              .dry = NAN,
                              .grain = NAN,
                              .id = arena_printf(arena, "%s.pattern", p->id),
                              .name = arena_printf(arena,
                                                   "flat pattern of %s: its straight edges "
                                                   "meet",
                                                   p->name ? p->name : p->id)};
    if (!xy || !out->id || !out->name) return false;
    xy[0] = x - left;
    xy[1] = y;
    for (int i = 0; i <= ARC; i++) {
        double a = -half + 2 * half * i / ARC;
        xy[2 * i + 2] = x - left + slant * cos(a);
        xy[2 * i + 3] = y + slant * sin(a);
    }
    return true;
}

/* A line of the plan as it is cut: a curve. */
static bool curved(size_t *n, const double **xy, bool closed, struct arena *arena) {
    size_t more = plan_smooth(NULL, SIZE_MAX, *n, *xy, closed);
    double *out = ARENA_NEW(arena, double, 2 * more + 2);
    if (!out) return false;
    *n = plan_smooth(out, more, *n, *xy, closed);
    *xy = out;
    return true;
}

const struct show_plan *tell_plan_with_patterns(const struct tell_dossier *d, struct arena *arena) {
    const struct making *m = tell_leading(d);
    struct show_plan *out = ARENA_NEW(arena, struct show_plan, 1);
    if (!d->plan || !m || !out) return d->plan;
    *out = *d->plan;
    struct plan_part *parts =
        ARENA_NEW(arena, struct plan_part, d->makings->part_count + d->plan->n_parts + 1);
    if (!parts) return NULL;
    if (out->n_parts) memcpy(parts, out->parts, out->n_parts * sizeof *parts);
    out->parts = parts;
    bool ok = curved(&out->n_fresh, &out->fresh, true, arena) &&
              curved(&out->n_dry, &out->dry, true, arena);
    for (size_t i = 0; i < out->n_parts && ok; i++)
        ok = curved(&parts[i].n, &parts[i].xy, parts[i].closed, arena);
    if (!ok) return NULL;
    for (const struct part *p = NULL; (p = makings_part(d->makings, m->id, -1, p));) {
        double box[4];
        if (!(p->height > 0) || !(p->diameter > 0)) continue;
        plan_box(box, out);
        if (!unrolled(&parts[out->n_parts], p, box[2] + 20, (box[1] + box[3]) / 2, arena))
            return NULL;
        out->n_parts++;
    }
    return out;
}

/* ---- as found and as proposed ---- */

static const struct piece_outline *outline_of(const struct find *f, const char *piece) {
    const struct piece_outline *any = NULL;
    for (size_t i = 0; i < f->outline_count; i++) {
        const struct piece_outline *o = &f->outlines[i];
        if (!o->piece || strcmp(o->piece, piece) || o->points.n < 3 || o->points.width != 2)
            continue;
        if (o->frame && !strcmp(o->frame, "as found")) return o;
        any = o;
    }
    return any;
}

static double size_of(const struct find *f, const char *piece, long quantity) {
    const struct measure *m = find_measure_of(f, piece, quantity);
    return m ? m->value : NAN;
}

static void one_piece(struct figure_piece *out, const struct find *f, const struct piece *p) {
    const struct piece_outline *o = outline_of(f, p->id);
    *out = (struct figure_piece){.id = p->id,
                                 .length =
                                     p->shape_only == 1 ? NAN : size_of(f, p->id, QUANTITY_LENGTH),
                                 .width = size_of(f, p->id, QUANTITY_WIDTH),
                                 .ends = {-1, -1},
                                 .face = p->face_up,
                                 .grain = NAN,
                                 .belongs = p->belongs};
    const struct measure *m = find_measure_of(f, p->id, QUANTITY_LENGTH);
    for (size_t k = 0; m && k < 2 && k < m->end_kinds.n; k++)
        out->ends[k] = m->end_kinds.v[k];
    if (!o) return;
    out->outline = (struct look_ring){o->points.n, o->points.v};
    if (o->surviving.n == o->points.n) out->surviving = o->surviving.v;
    out->placed = o->frame && !strcmp(o->frame, "as found");
}

/* Something one could lay on a table: not a trace, a patch of colour or the find as a whole. */
static bool is_body(const struct piece *p) {
    return p->substance != SUBSTANCE_MIXED && p->substance != SUBSTANCE_TRACE &&
           p->substance != SUBSTANCE_COLOUR;
}

static size_t piece_index(const struct figure_piece *pieces, size_t n, const char *id) {
    for (size_t i = 0; i < n; i++)
        if (!strcmp(pieces[i].id, id)) return i;
    return SIZE_MAX;
}

/* First one thread for each part, to a piece that has none yet, then the others: so that the few
 * that are drawn tell most. */
static size_t thread_list(struct figure_thread *out, size_t room, const struct tell_dossier *d,
                          const struct making *m, const struct show_plan *plan,
                          const struct figure_piece *pieces, size_t n) {
    size_t count = 0;
    for (int rest = 0; rest < 2; rest++)
        for (const struct part *p = NULL; m && (p = makings_part(d->makings, m->id, -1, p));) {
            size_t part = SIZE_MAX;
            bool had_one = false;
            for (size_t i = 0; i < plan->n_parts; i++)
                if (!strcmp(plan->parts[i].id, p->id)) part = i;
            for (size_t k = 0; part != SIZE_MAX && k < p->pieces.n && count < room; k++) {
                size_t piece = piece_index(pieces, n, p->pieces.v[k]);
                bool used = piece == SIZE_MAX, same = false;
                for (size_t t = 0; t < count; t++) {
                    used |= out[t].piece == piece;
                    same |= out[t].piece == piece && out[t].part == part;
                }
                if (piece == SIZE_MAX || same || (!rest && (used || had_one))) continue;
                out[count++] = (struct figure_thread){piece, part};
                had_one = true;
            }
        }
    return count;
}

/* The largest piece of the sheet, as it is drawn. */
static size_t sheet_piece(const struct tell_dossier *d, const struct making *m,
                          const struct figure_piece *pieces, size_t n) {
    const struct part *sheet = m ? makings_part(d->makings, m->id, PART_SHEET, NULL) : NULL;
    size_t best = SIZE_MAX;
    double most = 0;
    for (size_t k = 0; sheet && k < sheet->pieces.n; k++) {
        size_t i = piece_index(pieces, n, sheet->pieces.v[k]);
        double area = i == SIZE_MAX ? 0 : pieces[i].length * pieces[i].width;
        if (i != SIZE_MAX && (best == SIZE_MAX || area > most)) best = i, most = area;
    }
    return best;
}

struct show_drawing *tell_pair(const struct tell_dossier *d, bool numbered, double width,
                               double text, struct arena *arena) {
    static const struct find none;
    const struct find *f = d->find ? d->find : &none;
    struct figure_piece *pieces = ARENA_NEW(arena, struct figure_piece, f->piece_count + 1);
    enum { THREADS = 400 };
    struct figure_thread *threads = ARENA_NEW(arena, struct figure_thread, THREADS);
    if (!pieces || !threads) return NULL;
    size_t n = 0;
    for (size_t i = 0; i < f->piece_count; i++)
        if (f->pieces[i].hidden != 1 && !f->pieces[i].same_as && is_body(&f->pieces[i]))
            one_piece(&pieces[n++], f, &f->pieces[i]);
    const struct making *m = tell_leading(d);
    struct show_plan own;
    const struct show_plan *plan = d->plan;
    if (!plan && m && tell_plan_of(&own, d, m, arena)) plan = &own;
    struct figure_pair pair = {.pieces = pieces,
                               .n_pieces = n,
                               .plan = plan,
                               .threads = threads,
                               .numbered = numbered,
                               .sheet_piece = sheet_piece(d, m, pieces, n),
                               .text = text,
                               .width = width,
                               .touched = SIZE_MAX};
    if (plan) pair.n_threads = thread_list(threads, THREADS, d, m, plan, pieces, n);
    return figure_pair(&pair);
}
