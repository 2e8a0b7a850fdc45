#include "remains/better.h"

#include "remains/rulers.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const touch_words[] = {"not needed", "allowed", "ask first", "forbidden", NULL};

/* ± beyond this share of a thickness is coarse; a rise must be this many times its own ±. */
static const double COARSE_SHARE = 0.1; /* common practice, no source */
static const double ARC_LEAST = 8;      /* trade notes R101 */

long remains_touch(const struct find *find, const char *piece, const char **reason) {
    const struct handling *h = NULL;
    for (size_t i = 0; i < find->handling_count; i++)
        if (strcmp(find->handlings[i].piece, piece) == 0) h = &find->handlings[i];
    *reason = h ? h->reason : NULL;
    return !h || h->allowed < 0 ? TOUCH_ASK : h->allowed ? TOUCH_ALLOWED : TOUCH_FORBIDDEN;
}

char *remains_touch_words(const struct find *find, const char *piece, struct arena *arena) {
    const char *reason;
    switch (remains_touch(find, piece, &reason)) {
    case TOUCH_ALLOWED:
        return arena_printf(arena, "with a calliper: the conservator allows it%s%s",
                            reason ? ", " : "", reason ? reason : "");
    case TOUCH_FORBIDDEN:
        return arena_printf(
            arena,
            "without touching only, from a scan or a photo square on with two scale "
            "bars: the conservator says no%s%s",
            reason ? ", " : "", reason ? reason : "");
    default:
        return arena_printf(arena, "with a calliper only if the conservator allows it (nobody has "
                                   "asked); without touching from a scan or a photo square on with "
                                   "two scale bars");
    }
}

static int put(struct better *b, const struct find *find, struct better_reading r, bool look_only,
               struct arena *arena, struct error *err) {
    const char *reason;
    r.touch = look_only ? TOUCH_NOT_NEEDED : remains_touch(find, r.piece, &reason);
    r.how = look_only ? "by looking, with a lens; nothing is touched"
                      : remains_touch_words(find, r.piece, arena);
    if (!r.how || !r.trouble || !r.instead) return fail_memory(err);
    b->v[b->n++] = r;
    return 0;
}

static int coarse_pair(struct better *b, const struct find *find, const struct piece *p,
                       const struct measure *second, struct arena *arena, struct error *err) {
    const struct measure *first = find_measure_of(find, p->same_as, second->quantity);
    struct loss l;
    if (!first || first->state == second->state) return 0;
    if (remains_two_readings(&l, first->value, first->tolerance, second->value, second->tolerance,
                             NULL) ||
        !l.coarse)
        return 0;
    struct better_reading r = {.piece = first->piece, .about = first->id, .finely = l.needed};
    r.trouble = arena_printf(arena, "its change of %.1f ± %.1f %% is too coarse to use",
                             100 * l.loss, 100 * l.plus_minus);
    r.instead = arena_printf(arena,
                             "its width, which says more for the same ±; or each reading to "
                             "±%.2g mm",
                             l.needed);
    return put(b, find, r, false, arena, err);
}

static int coarse_reading(struct better *b, const struct find *find, const struct measure_size *s,
                          struct arena *arena, struct error *err) {
    const struct measure *m = s->measure;
    double pm = m->tolerance;
    struct better_reading r = {.piece = m->piece, .about = m->id, .reading = m};
    if (!(pm > 0) || s->piece->shape_only == 1) return 0;
    if (m->quantity == QUANTITY_SAGITTA && m->value < ARC_LEAST * pm) {
        r.finely = m->value / ARC_LEAST;
        r.trouble = arena_printf(arena, "a rise of %.3g mm is under %g times its ± of %.2g mm",
                                 m->value, ARC_LEAST, pm);
        r.instead =
            arena_printf(arena, "the rise to ±%.1g mm, or a longer arc of the same edge", r.finely);
        return put(b, find, r, false, arena, err);
    }
    if (m->quantity != QUANTITY_THICKNESS || pm <= COARSE_SHARE * m->value) return 0;
    r.finely = 0.03 * m->value;
    r.trouble = arena_printf(arena, "± is %.0f %% of %.3g mm", 100 * pm / m->value, m->value);
    r.instead = arena_printf(arena, "its thickness to ±%.1g mm", r.finely);
    return put(b, find, r, false, arena, err);
}

/* Which of around and through a size runs in, and which way a row of holes runs, can be seen. */
static int unknown_direction(struct better *b, const struct find *find, const struct part_size *p,
                             struct arena *arena, struct error *err) {
    bool wood = p->axis == AXIS_ACROSS, plane = p->axis == AXIS_PLANE;
    if (!wood && !plane) return 0;
    struct better_reading r = {.piece = p->part, .finely = NAN};
    r.about = arena_printf(arena, "%s.%s.fresh", p->part, p->quantity);
    r.trouble = wood ? "nobody noted whether it runs around or through the stem"
                     : "nobody noted whether it runs along or around the stem";
    r.instead = wood ? "the angle of the growth rings to the wide face, at a clean end"
                     : "the direction of the lenticels or fibres against the row or edge";
    if (!r.about) return fail_memory(err);
    return put(b, find, r, true, arena, err);
}

int remains_better(struct better *out, const struct find *find, const struct sizes *sizes,
                   struct arena *arena, struct error *err) {
    size_t most = 2 * find->measure_count + sizes->part_count + 1;
    *out = (struct better){ARENA_NEW(arena, struct better_reading, most), 0};
    if (!out->v) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        for (size_t k = 0; p->same_as && !rc && k < find->measure_count; k++)
            if (strcmp(find->measures[k].piece, p->id) == 0)
                rc = coarse_pair(out, find, p, &find->measures[k], arena, err);
    }
    for (size_t i = 0; !rc && i < sizes->part_count; i++)
        rc = unknown_direction(out, find, &sizes->parts[i], arena, err);
    for (size_t i = 0; !rc && i < sizes->measure_count; i++)
        rc = coarse_reading(out, find, &sizes->measures[i], arena, err);
    return rc;
}

json_t *remains_better_table(const struct better *b) {
    json_t *rows = json_array();
    for (size_t i = 0; i < b->n; i++) {
        const struct better_reading *r = &b->v[i];
        json_array_append_new(rows, json_pack("[s,s,s,s,s,s]", r->piece, r->about, r->trouble,
                                              r->instead, touch_words[r->touch], r->how));
    }
    return json_pack("{s:s,s:[s,s,s,s,s,s],s:o}", "title",
                     "What to measure better, and whether it means touching the piece", "columns",
                     "piece", "for", "trouble", "measure instead", "touching", "how", "rows", rows);
}
