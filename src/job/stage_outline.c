/* outline: what closed form the edge had, from readings of the edge, over all families. */
#include "job/originals.h"
#include "job/stage.h"

#include "shape/outline.h"

#include <math.h>
#include <string.h>

enum { MOST_EVIDENCE = 400 };

static const char *const kinds[] = {"outline", "mark", "choice", NULL};

struct collect {
    struct stage_run *run;
    struct shape_evidence list[MOST_EVIDENCE];
    size_t n;
    bool free_frame; /* nothing is in place: the frame of the plan is ours to choose */
    struct error *err;
    int rc;
};

static struct shape_evidence *add(struct collect *c, const char *id, long what) {
    if (c->n == MOST_EVIDENCE) return NULL;
    struct shape_evidence *e = &c->list[c->n++];
    field_unknown(&shape_evidence_kind, e);
    e->id = id;
    e->what = what;
    return e;
}

/* Name of the column that takes a size of this piece along an axis to fresh; NULL: nothing is
 * undone (and the reading stands as it is). */
static const char *factor(struct collect *c, const struct piece *p, const struct measure *m,
                          enum axis axis) {
    size_t col = NUM_NO_COLUMN;
    if (c->rc || !c->run->made.sizes) return NULL;
    c->rc = remains_factor(&col, c->run->made.sizes, &c->run->now->find, c->run->rows, p, m, axis,
                           c->run->arena, c->err);
    return c->rc || col == NUM_NO_COLUMN ? NULL : num_rows_id(c->run->rows, col);
}

static bool part_is(const struct piece *p, const char *word) {
    return p->part && strstr(p->part, word);
}

/* Rods that ran round the edge; coiled work and grips have curves of their own. */
static bool runs_along_edge(const struct piece *p) {
    return part_is(p, "rim") || part_is(p, "hoop") || part_is(p, "edge");
}

/* Chord and rise of an edge rod, or a straight one with an upper limit for its rise. A rise that
 * is flagged as unreliable stays out. */
static void take_arc(struct collect *c, const struct piece *p) {
    const struct find *f = &c->run->now->find;
    const struct measure *chord = find_measure_of(f, p->id, QUANTITY_CHORD),
                         *rise = find_measure_of(f, p->id, QUANTITY_SAGITTA),
                         *length = find_measure_of(f, p->id, QUANTITY_LENGTH);
    if (!rise || rise->flag || isnan(rise->value)) return;
    if (!chord) chord = length;
    if (!chord) return;
    bool limit = rise->bound == BOUND_AT_MOST;
    struct shape_evidence *e = add(c, rise->id, limit ? SHAPE_STRAIGHT : SHAPE_RISE);
    if (!e) return;
    e->chord = chord->value;
    e->value = rise->value;
    e->u = isnan(rise->tolerance) ? 0.5 : measure_sd(rise);
    e->wavy = 0;
    e->along = factor(c, p, rise, AXIS_ALONG);
    e->around = e->along;
}

/* How far a crushed heap may differ from the flat object: half the 5 % to 95 % range, as a share.
 */
#define HEAP_SPREAD 0.10

/* Says beside the outline that the heap's extents were taken for the object's, and how loosely. */
static void say_heap(struct collect *c, const char *const *measure, size_t n) {
    struct statement s = statement_blank();
    s.id = "outline.heap";
    s.step = "outline";
    s.about = "object";
    s.sentence = "The object lay in the ground about as long and as wide as it had been.";
    s.footing = FOOTING_GUESSED;
    s.rule = "the length and width of the crushed whole as lifted, give or take a tenth";
    s.rival = "its pieces had drifted apart, or lay folded over one another";
    s.source = "common practice, no source";
    for (size_t i = 0; i < n && !c->rc; i++)
        c->rc = statement_link_add(&s, "measure", measure[i], "extent as lifted", c->run->arena,
                                   c->err);
    if (!c->rc) c->rc = statement_add(c->run->said, &s, c->err);
}

/* Greatest length and width of the whole as lifted. */
static void take_whole(struct collect *c, const struct piece *p) {
    static const struct {
        long quantity, what;
    } sizes[] = {{QUANTITY_LENGTH, SHAPE_LENGTH}, {QUANTITY_WIDTH, SHAPE_WIDTH}};
    const char *used[2];
    size_t n = 0;
    for (int i = 0; i < 2 && !c->rc; i++) {
        const struct measure *m = find_measure_of(&c->run->now->find, p->id, sizes[i].quantity);
        struct shape_evidence *e = m ? add(c, m->id, sizes[i].what) : NULL;
        if (!e) continue;
        e->value = m->value;
        e->u = hypot(isnan(m->tolerance) ? 5 : measure_sd(m), HEAP_SPREAD / 1.645 * m->value);
        e->guess = "outline.heap";
        used[n++] = m->id;
    }
    if (n) say_heap(c, used, n);
}

/* A lath that survives whole lies across, about a rim's width short of the edge at either end; the
 * place is a guess within the rim. */
static void take_lath(struct collect *c, const struct piece *p, double rim_width) {
    const struct measure *m = find_measure_of(&c->run->now->find, p->id, QUANTITY_LENGTH);
    if (!m || !measure_is_complete(m) || m->end_kinds.n == 0) return;
    struct shape_evidence *e = add(c, m->id, SHAPE_LATH);
    if (!e) return;
    e->value = m->value;
    e->offset = rim_width / 2;
    e->u = hypot(isnan(m->tolerance) ? 1 : measure_sd(m), rim_width / 2);
    e->along = factor(c, p, m, AXIS_ALONG);
    e->around = e->along;
}

/* ---- traced outlines ------------------------------------------------------------------------- */

static bool survives(const struct piece_outline *o, size_t side) {
    return side < o->surviving.n && o->surviving.v[side] == 1;
}

/* The column for the outline's own state, by way of a size of the piece. */
static const char *outline_factor(struct collect *c, const struct piece *p,
                                  const struct piece_outline *o, enum axis axis) {
    struct measure m = {.id = o->id,
                        .piece = p->id,
                        .quantity = QUANTITY_LENGTH,
                        .value = 1,
                        .state = o->state,
                        .direction = FIELD_UNKNOWN,
                        .face = FIELD_UNKNOWN};
    return o->state < 0 ? NULL : factor(c, p, &m, axis);
}

/* One unbroken run of original edge, sides first .. first + count - 1 of the outline: in the plan
 * as found an arc in its place, in the piece's own frame a loose one. */
static void take_run(struct collect *c, const struct piece *p, const struct piece_outline *o,
                     size_t first, size_t count) {
    enum { MOST_LOOSE_POINTS = 200 };
    size_t sides = o->points.n, n = 0, step = 1 + count / MOST_LOOSE_POINTS;
    double *edge = ARENA_NEW(c->run->arena, double, 2 * (count + 2));
    if (!edge) {
        c->rc = fail_memory(c->err);
        return;
    }
    for (size_t i = 0; i <= count; i++) {
        if (i % step && i < count) continue;
        size_t at = (first + i) % sides;
        edge[2 * n] = o->points.v[2 * at];
        edge[2 * n++ + 1] = o->points.v[2 * at + 1];
    }
    bool placed = o->frame && strcmp(o->frame, "as found") == 0;
    struct shape_evidence *e = n >= 3 ? add(c, o->id, placed ? SHAPE_EDGE : SHAPE_LOOSE) : NULL;
    if (!e) return;
    e->entry = "outline";
    e->points = (struct tuples){n, 2, edge};
    e->u = 0.7;
    e->along = outline_factor(c, p, o, AXIS_ALONG);
    e->around = placed ? outline_factor(c, p, o, AXIS_AROUND) : e->along;
}

/* Sides marked as surviving are edge, run by run; what was drawn in the plan as found lies inside
 * besides. Laths and rods have edges of their own, which are not the object's. */
static void take_outline(struct collect *c, const struct piece_outline *o) {
    const struct piece *p = o->piece ? find_piece(&c->run->now->find, o->piece) : NULL;
    size_t sides = o->points.n, gap = 0;
    if (!p || p->shape_only == 1 || p->belongs < 0.5 || sides < 3) return;
    if (p->substance != SUBSTANCE_BARK && p->substance != SUBSTANCE_HIDE) return;
    while (gap < sides && survives(o, gap))
        gap++;
    if (gap == sides) gap = 0; /* whole round: begins anywhere */
    for (size_t i = 0; i < sides && !c->rc;) {
        size_t count = 0;
        while (i + count < sides && survives(o, (gap + i + count) % sides))
            count++;
        if (count >= 2) take_run(c, p, o, gap + i, count);
        i += count + 1;
    }
    if (!o->frame || strcmp(o->frame, "as found") != 0) return;
    struct shape_evidence *e = add(c, o->piece, SHAPE_INSIDE);
    if (!e) return;
    e->entry = "piece";
    e->points = o->points;
    e->pieces = 1;
    e->at_random = 1;
}

static void collect_all(struct collect *c) {
    const struct find *f = &c->run->now->find;
    double rim_width = 15;
    for (size_t i = f->piece_count; i-- > 0;) {
        const struct measure *m = part_is(&f->pieces[i], "rim")
                                      ? find_measure_of(f, f->pieces[i].id, QUANTITY_WIDTH)
                                      : NULL;
        if (m) rim_width = m->value;
    }
    for (size_t i = 0; i < f->piece_count && !c->rc; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->shape_only == 1 || p->same_as || p->belongs < 0.5) continue;
        if (runs_along_edge(p)) take_arc(c, p);
        if (p->substance == SUBSTANCE_MIXED || part_is(p, "whole object")) take_whole(c, p);
        if (part_is(p, "lath") && p->substance != SUBSTANCE_TRACE) take_lath(c, p, rim_width);
    }
    for (size_t i = 0; i < f->outline_count && !c->rc; i++)
        take_outline(c, &f->outlines[i]);
    bool placed = false;
    for (size_t i = 0; i < c->n; i++)
        placed |= c->list[i].what == SHAPE_EDGE || c->list[i].what == SHAPE_INSIDE;
    /* With nothing in place neither direction nor middle is known: the plan is laid so that the
     * long axis is x and the middle the origin. That is a choice of frame and says nothing of the
     * object. */
    c->free_frame = c->n && !placed;
    struct shape_evidence *e = c->free_frame ? add(c, "frame", SHAPE_MIDLINE) : NULL;
    if (!e) return;
    e->entry = ""; /* rests on nothing that was found */
    e->angle = 0;
    e->u = 0.02;
}

/* ---- what goes on --------------------------------------------------------------------------- */

/* The likely outline, turned so that its long axis lies along x and its middle at the origin. */
static int likely(struct stage_run *r, const struct shape_outline *o, struct error *err) {
    double *v = ARENA_NEW(r->arena, double, 2 * SHAPE_BAND);
    if (!v) return fail_memory(err);
    double turn = isnan(o->turn.p50) ? 0 : o->turn.p50;
    for (size_t i = 0; i < SHAPE_BAND; i++) {
        double angle = 2 * M_PI * (double)i / SHAPE_BAND - turn, rho = o->band[i].middle;
        v[2 * i] = rho * cos(angle);
        v[2 * i + 1] = rho * sin(angle);
    }
    r->made.outline = (struct tuples){SHAPE_BAND, 2, v};
    return 0;
}

static json_t *band_of(const struct shape_outline *o) {
    json_t *list = json_array();
    for (size_t i = 0; i < SHAPE_BAND; i++) {
        const struct shape_band *b = &o->band[i];
        json_array_append_new(
            list, json_pack("[f,f,f,f,f]", b->low, b->middle, b->high, b->low_all, b->high_all));
    }
    return list;
}

static int fill(struct stage_run *r, const struct shape_outline *o, struct error *err) {
    json_object_set_new(r->result, "band", band_of(o));
    json_object_set_new(r->result, "turn", json_real(isnan(o->turn.p50) ? 0 : o->turn.p50));
    json_t *rows = stage_table(r, "families", "Families of outline",
                               "family|probability|length, mm|width, mm|told against by");
    for (size_t i = 0; rows && i < o->n_families; i++) {
        const struct shape_family_share *s = &o->family[i];
        json_array_append_new(rows, json_pack("[s,f,s,s,s]", shape_family_words[s->family],
                                              s->probability, stage_range(r, &s->length),
                                              stage_range(r, &s->width), s->by ? s->by : ""));
    }
    json_t *next = stage_table(r, "next", "What would narrow it most",
                               "measurement|narrows the band by, percent|touches the original");
    for (size_t i = 0; next && i < o->n_next; i++)
        json_array_append_new(next, json_pack("[s,f,b]", o->next[i].what,
                                              round(100 * o->next[i].narrows), o->next[i].touches));
    return rows && next ? 0 : fail_memory(err);
}

static int run(struct stage_run *r, struct error *err) {
    struct collect *c = ARENA_NEW(r->arena, struct collect, 1);
    struct shape_outline_result *out = ARENA_NEW(r->arena, struct shape_outline_result, 1);
    if (!c || !out) return fail_memory(err);
    c->run = r;
    c->err = err;
    collect_all(c);
    if (c->rc) return c->rc;
    struct shape_outline_options options = shape_outline_options_default();
    if (c->free_frame) options.centre_sd = 0.5;
    const struct shape_outline_input input = {
        .n = c->n, .evidence = c->list, .options = options, .state = "fresh"};
    int rc = shape_outline_stage(out, &input, r->rows, r->said, r->arena, err);
    r->made.outline_model = out->model; /* rows may call it, whatever rc */
    if (rc) return rc;
    rc = likely(r, &out->main, err);
    if (!rc) rc = fill(r, &out->main, err);
    const struct originals_ask ask = {out->model, r->rows, &out->main,
                                      c->list,    c->n,    "outline.family"};
    return rc ? rc : originals_encode(r->result, &ask, err);
}

const struct stage stage_outline = {"outline", "Outline", 12, kinds, true, run};
