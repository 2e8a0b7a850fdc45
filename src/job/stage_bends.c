#include "job/stage_bends.h"

#include "plane/arc.h"
#include "shape/bend_readings.h"

#include <math.h>
#include <string.h>

enum { MOST_LINES = 40 };

/* One reading of the bend, with what it takes for granted and the measures it comes from. */
struct bend_line {
    const char *assuming;
    struct shape_bend_read reading; /* u 0: refused, and `assuming` says why */
    const struct measure **from;
    size_t from_count;
};

struct bends {
    struct stage_run *run;
    struct bend_line line[MOST_LINES];
    size_t count;
};

/* Fresh size of a measure and its ±, mm, as the step "sizes" states it; as measured when nothing
 * can be undone. `otherwise` is the ± where the list has none. */
static void fresh_size(double *value, double *sd, const struct bends *b, const struct measure *m,
                       double otherwise) {
    const char *id = arena_printf(b->run->arena, "%s.fresh", m->id);
    const struct statement *s = id ? statement_find(b->run->said, id) : NULL;
    bool undone = s && !isnan(s->value.p50);
    *value = undone ? s->value.p50 : m->value;
    *sd = undone ? s->value.sd : measure_sd(m);
    if (isnan(m->tolerance) || !isfinite(*sd)) *sd = otherwise;
}

/* ---- the grip ------------------------------------------------------------------------------- */

/* Chamfers and length of the grip's bar as found. */
struct grip_find {
    const struct measure *angle[2], *length; /* angle[1]: NULL when one chamfer is all there is */
    double mm, u_mm;
    bool half;
};

/* sd where the list has no ±, of a chamfer on worn wood; and of half a bar's length to its break,
 * for nobody knows that it broke in the middle. Common practice, no source. */
static const double CHAMFER_U = 5 * M_PI / 180, HALF_U = 0.1;

static bool take_grip(struct grip_find *g, const struct bends *b) {
    const struct find *f = &b->run->now->find;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (!p->part || !strstr(p->part, "grip") || p->substance == SUBSTANCE_TRACE) continue;
        *g = (struct grip_find){.length = find_measure_of(f, p->id, QUANTITY_LENGTH)};
        size_t n = 0;
        for (size_t k = 0; k < f->measure_count && n < 2; k++) {
            const struct measure *m = &f->measures[k];
            if (m->quantity == QUANTITY_CHAMFER_ANGLE && !m->rival_of && !strcmp(m->piece, p->id))
                g->angle[n++] = m;
        }
        if (!n || !g->length) continue;
        g->half = g->length->end_kinds.n && !measure_is_complete(g->length);
        if (g->half) g->angle[1] = NULL; /* the other end is not there */
        fresh_size(&g->mm, &g->u_mm, b, g->length, HALF_U * g->length->value);
        if (g->half) g->u_mm = hypot(g->u_mm, HALF_U * g->mm);
        return true;
    }
    return false;
}

static double chamfer_sd(const struct measure *angle) {
    double sd = angle ? measure_sd(angle) * M_PI / 180 : NAN;
    return angle && !isfinite(sd) ? CHAMFER_U : sd;
}

static bool grip_fit(struct shape_grip_fit *out, const struct grip_find *g, double more_angle,
                     enum shape_grip_side side, double sheet) {
    const struct measure *second = g->angle[1];
    const struct shape_grip in = {.chord = NAN,
                                  .u_chord = NAN,
                                  .length = g->mm,
                                  .u_length = g->u_mm,
                                  .angle1 = g->angle[0]->value * M_PI / 180 + more_angle,
                                  .angle2 = second ? second->value * M_PI / 180 + more_angle : NAN,
                                  .u_angle1 = chamfer_sd(g->angle[0]),
                                  .u_angle2 = chamfer_sd(second),
                                  .side = side,
                                  .sheet_radius = sheet,
                                  .half = g->half};
    struct error none = {0};
    return shape_curve_grip(out, &in, &none) == 0;
}

/* sd of the mean chamfer, rad. */
static double chamfers_sd(const struct grip_find *g) {
    double one = chamfer_sd(g->angle[0]);
    return g->angle[1] ? hypot(one, chamfer_sd(g->angle[1])) / 2 : one;
}

static int link_grip(struct statement *s, const struct stage_run *r, const struct grip_find *g,
                     struct error *err) {
    int rc = 0;
    for (int i = 0; i < 2 && !rc; i++)
        if (g->angle[i])
            rc = statement_link_add(s, "measure", g->angle[i]->id, "chamfer", r->arena, err);
    if (!rc)
        rc = statement_link_add(s, "measure", g->length->id, g->half ? "half length" : "length",
                                r->arena, err);
    if (!rc && g->half)
        rc = statement_link_add(s, "statement", "curve.grip.half", "assumption", r->arena, err);
    return rc ? rc : statement_add(r->said, s, err);
}

static int say_half(struct stage_run *r, const struct grip_find *g, struct error *err) {
    struct statement s =
        stage_statement("curve", "curve.grip.half",
                        "The missing half of the grip was the mirror of the half that is "
                        "there.",
                        "", FOOTING_GUESSED);
    s.rule = "it broke in the middle, and both ends had the same chamfer";
    s.rival = "it broke off the middle, or its other end sat at another angle";
    s.source = "common practice, no source";
    int rc = statement_link_add(&s, "measure", g->length->id, "half length", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* Room for a hand: it goes with the length as it is and with the chamfer nearly so. */
static int say_rise(struct stage_run *r, const struct grip_find *g,
                    const struct shape_grip_fit *flat, struct error *err) {
    struct shape_grip_fit more, less;
    double u = g->u_mm / g->mm * fabs(flat->hand_room), turn = chamfers_sd(g);
    if (grip_fit(&more, g, turn, SHAPE_GRIP_FLAT, NAN) &&
        grip_fit(&less, g, -turn, SHAPE_GRIP_FLAT, NAN))
        u = hypot(u, (more.hand_room - less.hand_room) / 2);
    struct statement s = stage_statement("curve", "curve.grip.rise",
                                         "If the grip was bent to its chamfer on a flat sheet, a "
                                         "hand had this much room under it.",
                                         "mm", FOOTING_GUESSED);
    s.value = spread_normal(flat->hand_room, u);
    s.rule = "circular bar whose end slope is the chamfer";
    s.rival = "a stiff bar whose chamfer shows the sheet's own bow (curve.grip.stiff), or a "
              "straight one whose chamfer only eased the hand";
    if (!flat->circular)
        s.caution = "its two chamfers differ by more than their errors: it was no even arc, or one "
                    "end is not the original";
    return link_grip(&s, r, g, err);
}

/* The sheet's bend if the bar was stiff, 1/mm: the chamfered ends lie flat on it. */
static struct shape_bend_read stiff_bend(const struct grip_find *g,
                                         const struct shape_grip_fit *flat) {
    double bend = 1 / flat->stiff_sheet_radius;
    return (struct shape_bend_read){.id = "grip",
                                    .value = bend,
                                    .u = bend *
                                         hypot(g->u_mm / g->mm, chamfers_sd(g) / tan(flat->slope)),
                                    .kind = SHAPE_BEND_IS};
}

static int say_stiff(struct stage_run *r, const struct grip_find *g,
                     const struct shape_grip_fit *flat, struct error *err) {
    struct statement s =
        stage_statement("curve", "curve.grip.stiff",
                        "If the grip was stiff and straight, the sheet under it was bent to "
                        "this radius.",
                        "mm", FOOTING_GUESSED);
    const struct shape_bend_read stiff = stiff_bend(g, flat);
    /* Even in the bend, not in the radius: quantiles change places. */
    const struct spread k = spread_normal(stiff.value, stiff.u);
    s.value = (struct spread){1 / k.p995,
                              1 / k.p95,
                              1 / k.p75,
                              1 / k.p50,
                              1 / fmax(k.p25, 1e-9),
                              k.p05 > 0 ? 1 / k.p05 : INFINITY,
                              k.p005 > 0 ? 1 / k.p005 : INFINITY,
                              NAN,
                              NAN};
    if (!isfinite(s.value.p95)) s.value.p95 = s.value.p995 = 1e6; /* as good as flat */
    if (!isfinite(s.value.p995)) s.value.p995 = 1e6;
    s.rule = "the chamfered ends lie flat on the sheet: radius is length over twice the sine of "
             "the chamfer";
    s.rival = "a bar that bent on a flat sheet (curve.grip.rise)";
    return link_grip(&s, r, g, err);
}

static void grip_row(json_t *rows, const struct grip_find *g, const char *bar, const char *sheet,
                     enum shape_grip_side side, double radius) {
    struct shape_grip_fit fit;
    if (!grip_fit(&fit, g, 0, side, radius)) return;
    json_t *bent = isfinite(fit.radius) ? json_real(round(fit.radius)) : json_string("straight");
    json_t *under = isfinite(radius) ? json_real(radius) : json_string("");
    json_array_append_new(
        rows, json_pack("[s,s,o,o,f]", bar, sheet, under, bent, round(fit.hand_room * 10) / 10));
}

/* Side by side: the bar bending on a flat, hollow or bulging sheet, and the bar stiff. The chamfer
 * alone cannot tell them apart. */
static int grip_table(struct stage_run *r, const struct grip_find *g,
                      const struct shape_grip_fit *flat, struct error *err) {
    static const double radii[] = {1000, 600};
    json_t *rows = stage_table(r, "grip", "The grip: what its chamfer can mean",
                               "the bar|the sheet under it|sheet bent to, mm|bar bent to, "
                               "mm|room for the hand, mm");
    if (!rows) return fail_memory(err);
    grip_row(rows, g, "bends", "flat", SHAPE_GRIP_FLAT, NAN);
    for (size_t i = 0; i < 2; i++)
        grip_row(rows, g, "bends", "hollow towards the bar", SHAPE_GRIP_HOLLOW, radii[i]);
    for (size_t i = 0; i < 2; i++)
        grip_row(rows, g, "bends", "bulging towards the bar", SHAPE_GRIP_BULGING, radii[i]);
    double sheet = flat->stiff_sheet_radius, half = flat->chord / 2;
    double sag = sheet > half ? sheet - sqrt(sheet * sheet - half * half) : NAN;
    json_array_append_new(rows, json_pack("[s,s,f,s,f]", "is stiff", "curving away from the bar",
                                          round(sheet), "straight", round(sag * 10) / 10));
    return 0;
}

static int grip(struct stage_run *r, const struct grip_find *g, const struct shape_grip_fit *flat,
                struct error *err) {
    int rc = g->half ? say_half(r, g, err) : 0;
    if (!rc) rc = say_rise(r, g, flat, err);
    if (!rc) rc = say_stiff(r, g, flat, err);
    return rc ? rc : grip_table(r, g, flat, err);
}

/* ---- laths that kept a set ------------------------------------------------------------------ */

/* Share of its bend that a lath keeps once it is free: one bent green and dried in its place keeps
 * most, one sprung in dry hardly any, and the ground takes more. Common practice, no source. */
static const double KEEPS_LOW = 0.3, KEEPS_HIGH = 1;
static const double RISE_U = 0.5; /* mm: sd of a rise by straight-edge where the list has no ± */

static int say_keep(struct stage_run *r, struct error *err) {
    struct statement s =
        stage_statement("curve", "curve.set.keep",
                        "So much of its bend does a lath keep that was bent in use and then "
                        "came free.",
                        "percent", FOOTING_GUESSED);
    double low = 100 * KEEPS_LOW, wide = 100 * (KEEPS_HIGH - KEEPS_LOW);
    s.value = (struct spread){low + 0.005 * wide, low + 0.05 * wide, low + 0.25 * wide,
                              low + 0.5 * wide,   low + 0.75 * wide, low + 0.95 * wide,
                              low + 0.995 * wide, low + 0.5 * wide,  wide / sqrt(12)};
    s.rule = "anything from a third to all of it, equally likely";
    s.source = "common practice, no source";
    s.rival = "the ground pressed it straight, or bent it";
    return statement_add(r->said, &s, err);
}

/* The laths together first, for what they keep is the same unknown for all of them. */
static int laths_set(struct bends *b, struct error *err) {
    const struct find *f = &b->run->now->find;
    struct shape_bend_reading lath[MOST_LINES];
    struct bend_line *line = &b->line[b->count];
    size_t n = 0;
    line->from = ARENA_NEW(b->run->arena, const struct measure *, 2 * (size_t)MOST_LINES);
    if (!line->from) return fail_memory(err);
    for (size_t i = 0; i < f->piece_count && n < MOST_LINES; i++) {
        const struct piece *p = &f->pieces[i];
        const struct measure *chord = find_measure_of(f, p->id, QUANTITY_CHORD),
                             *rise = find_measure_of(f, p->id, QUANTITY_SAGITTA);
        struct plane_arc arc;
        struct error none = {0};
        if (!p->part || !strstr(p->part, "lath") || p->belongs < 0.5 || !chord || !rise) continue;
        double sd = isnan(rise->tolerance) ? RISE_U : measure_sd(rise);
        if (rise->bound != BOUND_VALUE || !(sd > 0) ||
            plane_arc_from_rise(&arc, chord->value, rise->value, 0, sd, &none))
            continue;
        lath[n++] = (struct shape_bend_reading){p->id, arc.bend, arc.u_bend, SHAPE_BEND_IS};
        line->from[line->from_count++] = chord;
        line->from[line->from_count++] = rise;
    }
    struct shape_bend_combined c;
    if (n == 0) return 0;
    int rc = shape_curve_combine(&c, lath, n, err);
    if (rc) return rc;
    double left = 0; /* laths that differ among themselves: their mean, with what they scatter */
    for (size_t i = 0; c.clash && i < n; i++)
        left += lath[i].bend / (double)n;
    line->reading = (struct shape_bend_read){
        .id = arena_printf(b->run->arena, n == 1 ? "lath %s" : "laths", lath[0].id),
        .of = SHAPE_BEND_SET,
        .value = c.clash ? left : c.bend,
        .u = c.clash ? c.birge_u : c.u,
        .keep_low = KEEPS_LOW,
        .keep_high = KEEPS_HIGH};
    line->assuming = c.clash ? "they kept a third to all of it; they differ among themselves"
                             : "it kept a third to all of it";
    b->count++;
    return line->reading.id ? say_keep(b->run, err) : fail_memory(err);
}

/* ---- splits --------------------------------------------------------------------------------- */

static const double GAP_U = 1; /* mm: sd where the list has no ± */

/* A piece as a disc as large as it is: an oval l x w has the area pi l w/4. */
static int splits(struct bends *b, const struct piece *p, const struct measure *gap,
                  struct error *err) {
    const struct find *f = &b->run->now->find;
    const struct measure *from[] = {gap, find_measure_of(f, p->id, QUANTITY_LENGTH),
                                    find_measure_of(f, p->id, QUANTITY_WIDTH)};
    struct bend_line *line = &b->line[b->count];
    struct shape_splits s;
    struct error refused = {0};
    if (!from[1] || !from[2] || !(from[1]->value > 0) || !(from[2]->value > 0)) return 0;
    double l, w, u_l, u_w, sd = isnan(gap->tolerance) ? GAP_U : measure_sd(gap);
    if (!(sd > 0)) sd = GAP_U; /* nobody reads a gap without error */
    fresh_size(&l, &u_l, b, from[1], 1);
    fresh_size(&w, &u_w, b, from[2], 1);
    double r = sqrt(l * w) / 2, grown = r / (sqrt(from[1]->value * from[2]->value) / 2);
    line->reading = (struct shape_bend_read){.of = SHAPE_BEND_SPLITS, .value = gap->value * grown};
    if (shape_curve_splits(&s, r, gap->value * grown, sd * grown, &refused))
        line->assuming = arena_strdup(b->run->arena, refused.message);
    else {
        line->assuming = "it was as bent the other way too, and no shrinkage crack is among them";
        line->reading.u = sd * grown;
        line->reading.radius = r;
        line->reading.u_radius = r * hypot(u_l / l, u_w / w) / 2;
        line->reading.kind = gap->bound == BOUND_AT_MOST    ? SHAPE_BEND_AT_MOST
                             : gap->bound == BOUND_AT_LEAST ? SHAPE_BEND_AT_LEAST
                                                            : SHAPE_BEND_IS;
    }
    line->reading.id = arena_printf(b->run->arena, "splits of %s", p->id);
    line->from = ARENA_NEW(b->run->arena, const struct measure *, 3);
    if (!line->assuming || !line->reading.id || !line->from) return fail_memory(err);
    memcpy(line->from, from, sizeof from);
    line->from_count = 3;
    b->count++;
    return 0;
}

static int all_splits(struct bends *b, struct error *err) {
    const struct find *f = &b->run->now->find;
    int rc = 0;
    for (size_t i = 0; i < f->piece_count && b->count < MOST_LINES && !rc; i++) {
        const struct piece *p = &f->pieces[i];
        bool sheet = p->substance == SUBSTANCE_BARK || p->substance == SUBSTANCE_HIDE;
        const struct measure *gap = find_measure_of(f, p->id, QUANTITY_GAP);
        if (sheet && gap && p->belongs >= 0.5) rc = splits(b, p, gap, err);
    }
    return rc;
}

/* ---- side by side, and together ------------------------------------------------------------- */

static json_t *tenths(double v) {
    return isfinite(v) ? json_real(round(10 * v) / 10) : json_string("");
}

/* The readings that can be used, but for one (may be NULL). */
static size_t usable(struct shape_bend_read *out, const struct bends *b,
                     const struct bend_line *not_this) {
    size_t n = 0;
    for (size_t i = 0; i < b->count; i++)
        if (&b->line[i] != not_this && b->line[i].reading.u > 0) out[n++] = b->line[i].reading;
    return n;
}

/* "agrees", or by how many of its errors it is off: the root of what it adds to the sum of squares.
 * Empty when there is nothing to lay it beside. */
static const char *beside(const struct bends *b, const struct shape_bend_read *one,
                          const struct bend_line *not_this) {
    struct shape_bend_read rest[MOST_LINES + 1];
    struct shape_bend_together without, with;
    struct error none = {0};
    size_t n = usable(rest, b, not_this);
    if (!(one->u > 0) || !n || shape_bend_together(&without, rest, n, &none)) return "";
    if (without.clash) return "the rest clash";
    rest[n] = *one;
    if (shape_bend_together(&with, rest, n + 1, &none)) return "";
    double off = sqrt(fmax(with.q - without.q, 0));
    const char *words = arena_printf(b->run->arena, "%.1f of its errors off", off);
    return off < 2 || !words ? "agrees" : words;
}

static void bend_row(json_t *rows, const struct shape_bend_read *k, const char *name,
                     const char *assuming, const char *against) {
    static const char *const kinds[] = {"is", "at least", "at most"};
    struct shape_bend_alone a;
    struct error none = {0};
    if (shape_bend_alone(&a, k, &none)) /* flat is known without error; a refused gap has no bend */
        a.bend = k->of == SHAPE_BEND_ITSELF ? k->value : NAN;
    json_array_append_new(rows,
                          json_pack("[s,s,s,o,o,o,s]", name, assuming, kinds[k->kind],
                                    tenths(1000 * a.bend), tenths(1000 * 1.645 * a.u),
                                    a.bend > 0 ? tenths(1 / a.bend) : json_string(""), against));
}

static int bend_table(const struct bends *b, const struct grip_find *g,
                      const struct shape_grip_fit *flat, struct error *err) {
    json_t *rows = stage_table(b->run, "bends", "What speaks of the bend of the sheet",
                               "reading|taken for granted|reads as|bend, 1/m|plus or minus, 1/m|"
                               "radius, mm|beside the others");
    if (!rows) return fail_memory(err);
    for (size_t i = 0; i < b->count; i++)
        bend_row(rows, &b->line[i].reading, b->line[i].reading.id, b->line[i].assuming,
                 beside(b, &b->line[i].reading, &b->line[i]));
    if (g) {
        const struct shape_bend_read stiff = stiff_bend(g, flat),
                                     none = {.id = "grip", .kind = SHAPE_BEND_IS};
        bend_row(rows, &stiff, "grip", "the bar was stiff", beside(b, &stiff, NULL));
        bend_row(rows, &none, "grip", "the bar was bent on a flat sheet", beside(b, &none, NULL));
    }
    return 0;
}

static int say_bend(const struct bends *b, struct error *err) {
    struct stage_run *r = b->run;
    struct shape_bend_read all[MOST_LINES];
    struct shape_bend_together c;
    struct error limits_only = {0};
    size_t n = usable(all, b, NULL);
    bool guessed = false;
    if (!n || shape_bend_together(&c, all, n, &limits_only)) return 0;
    struct statement s =
        stage_statement("curve", "curve.bend",
                        "So much was the sheet bent along its laths, by all readings that "
                        "may be put together.",
                        "1/m", FOOTING_WORKED_OUT);
    if (c.clash) {
        s.id = "curve.bend.clash";
        s.sentence = "The readings of the sheet's bend contradict each other; nothing was made of "
                     "them together.";
        s.unit = "";
        s.caution =
            arena_printf(r->arena,
                         "farthest off: %s; look for a wrong state, a wrong face or a part that "
                         "moved",
                         all[c.worst].id);
        if (!s.caution) return fail_memory(err);
    } else
        s.value =
            (struct spread){1000 * c.q005, 1000 * c.q05,  1000 * c.q25,  1000 * c.q50, 1000 * c.q75,
                            1000 * c.q95,  1000 * c.q995, 1000 * c.mean, 1000 * c.sd};
    s.rule =
        "any bend alike beforehand, weighed by how well it explains each reading as it was "
        "made, with every share that the laths may have kept; together only if chance alone "
        "gives such a spread in more than 1 of 20 cases and no limit is broken. Each ± is taken to "
        "hold what its reader reads too much or too little by habit";
    s.source = "Birge, Physical Review 40 (1932) 207-227";
    s.rival = "flat, with every one of them bent in the ground";
    int rc = 0;
    for (size_t i = 0; i < b->count && !rc; i++) {
        const struct bend_line *l = &b->line[i];
        if (!(l->reading.u > 0)) continue;
        for (size_t k = 0; k < l->from_count && !rc; k++)
            rc = statement_link_add(&s, "measure", l->from[k]->id, "reading", r->arena, err);
    }
    guessed = statement_find(r->said, "curve.set.keep") != NULL;
    if (!rc && guessed)
        rc = statement_link_add(&s, "statement", "curve.set.keep", "assumption", r->arena, err);
    if (guessed) s.footing = FOOTING_GUESSED;
    return rc ? rc : statement_add(r->said, &s, err);
}

int stage_bends(struct stage_run *r, struct error *err) {
    struct bends b = {.run = r};
    struct grip_find g;
    struct shape_grip_fit flat;
    bool with_grip = take_grip(&g, &b) && grip_fit(&flat, &g, 0, SHAPE_GRIP_FLAT, NAN);
    int rc = with_grip ? grip(r, &g, &flat, err) : 0;
    if (!rc) rc = laths_set(&b, err);
    if (!rc) rc = all_splits(&b, err);
    if (!rc && (b.count || with_grip)) rc = bend_table(&b, with_grip ? &g : NULL, &flat, err);
    return rc ? rc : say_bend(&b, err);
}
