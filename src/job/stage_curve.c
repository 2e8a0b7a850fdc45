/* curve: how bent the object was: the coiled part flat or a cone, the grip's chamfer, and how much
 * narrower the sheet stood than it lies. */
#include "job/stage_pressed.h"
#include "job/stage_seams.h"

#include "plane/arc.h"
#include "shape/coil.h"
#include "shape/curve.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"choice", "mark", NULL};

enum { MOST_PIECES = 40 };

static struct statement begin(const char *id, const char *sentence, const char *unit,
                              long footing) {
    struct statement s = statement_blank();
    s.id = id;
    s.step = "curve";
    s.about = "object";
    s.sentence = sentence;
    s.unit = unit;
    s.footing = footing;
    return s;
}

/* A normal range around a value. */
static struct spread normal(double mean, double u) {
    return (struct spread){mean - 2.576 * u,
                           mean - 1.645 * u,
                           mean - 0.674 * u,
                           mean,
                           mean + 0.674 * u,
                           mean + 1.645 * u,
                           mean + 2.576 * u,
                           mean,
                           u};
}

/* ---- the coiled part ------------------------------------------------------------------------ */

struct coil_find {
    struct shape_coil_piece piece[MOST_PIECES];
    const char *measure[MOST_PIECES];
    size_t n;
    double pitch;
};

/* Most rounds on any piece: what an inner piece lacks outside it. */
static double most_rounds(const struct find *f) {
    double most = 0;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct measure *m = find_measure_of(f, f->pieces[i].id, QUANTITY_ROUNDS);
        if (m) most = fmax(most, m->value);
    }
    return most;
}

static void take_coil(struct coil_find *c, const struct find *f, const struct piece *p) {
    const struct measure *chord = find_measure_of(f, p->id, QUANTITY_CHORD),
                         *rise = find_measure_of(f, p->id, QUANTITY_SAGITTA),
                         *rounds = find_measure_of(f, p->id, QUANTITY_ROUNDS),
                         *pitch = find_measure_of(f, p->id, QUANTITY_ROUND_PITCH);
    if (pitch && isnan(c->pitch)) c->pitch = pitch->value;
    if (!chord || !rise || c->n == MOST_PIECES || rise->bound != BOUND_VALUE) return;
    /* R = c²/(8 s) + s/2; u by first order (trade practice: arcs whose rise is under 8 times its
     * error say little, which the ± shows). */
    double s = rise->value, u_s = isnan(rise->tolerance) ? 0.5 : measure_sd(rise);
    double u_c = isnan(chord->tolerance) ? 0.5 : measure_sd(chord), k = chord->value;
    struct shape_coil_piece *q = &c->piece[c->n];
    *q = (struct shape_coil_piece){.id = p->id,
                                   .radius = k * k / (8 * s) + s / 2,
                                   .u_radius =
                                       hypot((0.5 - k * k / (8 * s * s)) * u_s, k / (4 * s) * u_c),
                                   .rounds = rounds ? rounds->value : 1,
                                   .lost_outside = NAN};
    /* "three inner rounds only": the rest lay outside. */
    if (p->note && strstr(p->note, "inner") && rounds)
        q->lost_outside = most_rounds(f) - rounds->value;
    c->measure[c->n++] = rise->id;
}

static int link_pieces(struct statement *s, const struct coil_find *c, struct arena *arena,
                       struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < c->n && !rc; i++)
        rc = statement_link_add(s, "measure", c->measure[i], "reading", arena, err);
    return rc;
}

static int say_coil(struct stage_run *r, const struct coil_find *c, const char *id,
                    const char *sentence, const char *unit, struct spread value, const char *rule,
                    const char *rival, struct error *err) {
    struct statement s = begin(id, sentence, unit, FOOTING_WORKED_OUT);
    s.value = value;
    s.rule = rule;
    s.rival = rival;
    int rc = link_pieces(&s, c, r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static int ring(struct stage_run *r, const struct coil_find *c, const struct shape_coil_ring *ring,
                struct error *err) {
    static const char *const rule =
        "the pieces' edge radii brought to the outer round and averaged by "
        "their errors";
    int rc = say_coil(r, c, "coil.ring.radius", "If it is a flat ring, its outer radius was this.",
                      "mm", normal(ring->radius, ring->u_radius), rule, "a cone", err);
    if (!rc) /* as many rounds are counted off whatever the radius: the hole has its error */
        rc = say_coil(r, c, "coil.ring.inner", "If it is a flat ring, its hole had this radius.",
                      "mm", normal(ring->inner, ring->u_radius), rule, "a cone", err);
    if (!rc) { /* d(R² - r²) = 2 (R - r) dR */
        double u = 2 * M_PI * (ring->radius - ring->inner) * ring->u_radius / c->pitch;
        rc = say_coil(r, c, "coil.ring.foundation",
                      "If it is a flat ring, this much rod was coiled.", "mm",
                      normal(ring->foundation, u), "pi (R² - r²) over the pitch", "a cone", err);
    }
    if (!rc)
        rc = say_coil(r, c, "coil.ring.misfit",
                      "If it is a flat ring, two pieces disagree by this much.", "mm",
                      spread_exact(ring->misfit), "widest difference of two outer radii", "a cone",
                      err);
    return rc;
}

static int cone(struct stage_run *r, const struct coil_find *c, const struct shape_coil_cone *k,
                struct error *err) {
    static const char *const rule =
        "the smaller radii are the worn edge, the larger the slant of what was "
        "pressed flat; sine of the half angle is edge over slant";
    /* First order in the errors of edge and slant; the pitch is taken as exact. */
    double e = k->edge, l = k->slant, h = k->height, u_e = k->u_edge, u_l = k->u_slant;
    double u_angle = hypot(u_e, e / l * u_l) / h, u_height = hypot(l * u_l, e * u_e) / h;
    double u_rod = M_PI / c->pitch * hypot(l * u_e, e * u_l);
    int rc = say_coil(r, c, "coil.cone.edge", "If it is a cone, its edge had this radius.", "mm",
                      normal(k->edge, k->u_edge), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.slant", "If it is a cone, its slant was this long.", "mm",
                      normal(k->slant, k->u_slant), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.half_angle", "If it is a cone, half its opening was this.",
                      "degrees", normal(k->half_angle * 180 / M_PI, u_angle * 180 / M_PI), rule,
                      "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.height", "If it is a cone, it stood this high.", "mm",
                      normal(h, u_height), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.rounds", "If it is a cone, it had so many rounds.", "",
                      normal(k->rounds, u_l / c->pitch), "slant over pitch", "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.foundation", "If it is a cone, this much rod was coiled.",
                      "mm", normal(k->foundation, u_rod),
                      "pi times edge times slant over the pitch", "a flat ring", err);
    return rc;
}

/* Which of the two, with what would decide and who holds which. */
static int say_form(struct stage_run *r, const struct coil_find *c, const struct shape_coil *out,
                    struct error *err) {
    const struct find *f = &r->now->find;
    struct statement s =
        begin("coil.form", "The coiled part was a flat ring, not a cone.", "", FOOTING_GUESSED);
    s.probability = out->ring_share;
    s.rival = out->ring_excluded ? "a flat ring whose pieces were pulled out of shape" : "a cone";
    s.rule =
        "both are kept side by side and never averaged; even odds before, then by how well each "
        "fits the radii of the edge";
    s.caution = "what would decide: the thickness of the largest piece at its fold, or a third arc";
    int rc = link_pieces(&s, c, r->arena, err);
    for (size_t i = 0; i < f->choice_count && !rc; i++) {
        const char *about = f->choices[i].about, *dot = about ? strstr(about, ".form") : NULL;
        if (dot && dot[5] == 0)
            rc = statement_link_add(&s, "choice", f->choices[i].id, "a person's view", r->arena,
                                    err);
    }
    return rc ? rc : statement_add(r->said, &s, err);
}

/* Both forms side by side; never an average of what disagrees. */
static int coil(struct stage_run *r, struct error *err) {
    struct coil_find c = {.pitch = NAN};
    const struct find *f = &r->now->find;
    for (size_t i = 0; i < f->piece_count; i++)
        if (f->pieces[i].substance == SUBSTANCE_COIL && f->pieces[i].belongs >= 0.5)
            take_coil(&c, f, &f->pieces[i]);
    if (c.n == 0 || isnan(c.pitch)) return 0;
    struct shape_coil out;
    int rc = shape_coil_fit(&out, c.piece, c.n, c.pitch, r->arena, err);
    if (rc) return rc;
    json_t *rows =
        stage_table(r, "coil", "The coiled part: two forms side by side",
                    "form|edge radius, mm|slant, mm|height, mm|rounds|rod, mm|misfit, mm|fits");
    if (!rows) return fail_memory(err);
    json_array_append_new(rows,
                          json_pack("[s,f,s,s,f,f,f,s]", "flat ring",
                                    round(out.ring.radius * 10) / 10, "", "", out.ring.rounds,
                                    round(out.ring.foundation), round(out.ring.misfit * 10) / 10,
                                    out.ring_excluded ? "no: the pieces disagree" : "yes"));
    rc = ring(r, &c, &out.ring, err);
    if (rc || !out.cone.possible) return rc;
    json_array_append_new(rows,
                          json_pack("[s,f,f,f,f,f,f,s]", "cone", round(out.cone.edge * 10) / 10,
                                    round(out.cone.slant * 10) / 10, round(out.cone.height),
                                    round(out.cone.rounds * 10) / 10, round(out.cone.foundation),
                                    round(out.cone.misfit * 10) / 10, "yes"));
    rc = cone(r, &c, &out.cone, err);
    if (rc) return rc;
    return say_form(r, &c, &out, err);
}

/* ---- the grip ------------------------------------------------------------------------------- */

/* Chamfer and length of the grip's bar as found. */
struct grip_find {
    const struct measure *angle, *length;
    bool half;
};

static bool take_grip(struct grip_find *g, const struct find *f) {
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (!p->part || !strstr(p->part, "grip") || p->substance == SUBSTANCE_TRACE) continue;
        g->angle = find_measure_of(f, p->id, QUANTITY_CHAMFER_ANGLE);
        g->length = find_measure_of(f, p->id, QUANTITY_LENGTH);
        if (!g->angle || !g->length) continue;
        g->half = g->length->end_kinds.n && !measure_is_complete(g->length);
        return true;
    }
    return false;
}

/* ± where the list has none: of a chamfer on worn wood, and of a length to its broken end. Common
 * practice, no source. */
static const double CHAMFER_U = 5 * M_PI / 180, GRIP_LENGTH_U = 0.1;

static bool grip_fit(struct shape_grip_fit *out, const struct grip_find *g, double more_angle,
                     enum shape_grip_side side, double sheet) {
    const struct shape_grip in = {.chord = NAN,
                                  .u_chord = NAN,
                                  .length = g->length->value,
                                  .u_length = GRIP_LENGTH_U * g->length->value,
                                  .angle1 = g->angle->value * M_PI / 180 + more_angle,
                                  .angle2 = NAN,
                                  .u_angle1 = CHAMFER_U,
                                  .u_angle2 = NAN,
                                  .side = side,
                                  .sheet_radius = sheet,
                                  .half = g->half};
    struct error none = {0};
    return shape_curve_grip(out, &in, &none) == 0;
}

static int link_grip(struct statement *s, const struct stage_run *r, const struct grip_find *g,
                     struct error *err) {
    int rc = statement_link_add(s, "measure", g->angle->id, "chamfer", r->arena, err);
    if (!rc)
        rc = statement_link_add(s, "measure", g->length->id, g->half ? "half length" : "length",
                                r->arena, err);
    if (!rc && g->half)
        rc = statement_link_add(s, "statement", "curve.grip.half", "assumption", r->arena, err);
    return rc ? rc : statement_add(r->said, s, err);
}

static int say_half(struct stage_run *r, const struct grip_find *g, struct error *err) {
    struct statement s = begin("curve.grip.half",
                               "The missing half of the grip was the mirror of the half that is "
                               "there.",
                               "", FOOTING_GUESSED);
    s.rule = "it broke in the middle, and both ends had the same chamfer";
    s.rival = "it broke off the middle, or its other end sat at another angle";
    s.source = "common practice, no source";
    int rc = statement_link_add(&s, "measure", g->length->id, "half length", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* What the chamfer says if the bar bent, on a flat sheet, and if it was stiff. */
static int say_grip(struct stage_run *r, const struct grip_find *g,
                    const struct shape_grip_fit *flat, struct error *err) {
    struct shape_grip_fit more, less;
    /* The room goes with the length as it is and with the chamfer nearly so. */
    double u = GRIP_LENGTH_U * fabs(flat->hand_room);
    if (grip_fit(&more, g, CHAMFER_U, SHAPE_GRIP_FLAT, NAN) &&
        grip_fit(&less, g, -CHAMFER_U, SHAPE_GRIP_FLAT, NAN))
        u = hypot(u, (more.hand_room - less.hand_room) / 2);
    struct statement s = begin("curve.grip.rise",
                               "If the grip was bent to its chamfer on a flat sheet, a "
                               "hand had this much room under it.",
                               "mm", FOOTING_GUESSED);
    s.value = normal(flat->hand_room, u);
    s.rule = "circular bar whose end slope is the chamfer";
    s.rival = "a stiff bar whose chamfer shows the sheet's own bow (curve.grip.stiff), or a "
              "straight one whose chamfer only eased the hand";
    int rc = link_grip(&s, r, g, err);
    if (rc) return rc;
    s = begin("curve.grip.stiff",
              "If the grip was stiff and straight, the sheet under it was bent to this radius.",
              "mm", FOOTING_GUESSED);
    double bend = 1 / flat->stiff_sheet_radius;
    double u_bend = bend * hypot(GRIP_LENGTH_U, CHAMFER_U / tan(flat->slope));
    /* Even in the bend, not in the radius: quantiles change places. */
    const struct spread k = normal(bend, u_bend);
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

static int grip(struct stage_run *r, struct error *err) {
    struct grip_find g;
    struct shape_grip_fit flat;
    if (!take_grip(&g, &r->now->find) || !grip_fit(&flat, &g, 0, SHAPE_GRIP_FLAT, NAN)) return 0;
    int rc = g.half ? say_half(r, &g, err) : 0;
    if (!rc) rc = say_grip(r, &g, &flat, err);
    return rc ? rc : grip_table(r, &g, &flat, err);
}

/* ---- flat and worn -------------------------------------------------------------------------- */

/* A bent sheet is narrower than it lies: the table says by how much at some radii. */
static int worn(struct stage_run *r, struct error *err) {
    const struct statement *width = statement_find(r->said, "outline.width");
    if (!width || isnan(width->value.p50)) return 0;
    static const double radii[] = {2000, 1000, 600, 400, 250};
    json_t *rows =
        stage_table(r, "worn", "How wide the sheet stood if it was bent",
                    "bent to a radius of, mm|stood this wide, mm|middle over the edges, mm");
    for (size_t i = 0; rows && i < sizeof radii / sizeof radii[0]; i++) {
        double rise, chord = shape_curve_worn_width(width->value.p50, radii[i], &rise);
        json_array_append_new(
            rows, json_pack("[f,f,f]", radii[i], round(chord * 10) / 10, round(rise * 10) / 10));
    }
    return rows ? 0 : fail_memory(err);
}

static int run(struct stage_run *r, struct error *err) {
    if (r->now->find.piece_count == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list first.", "There are no pieces yet.");
    int rc = coil(r, err);
    if (!rc) rc = grip(r, err);
    if (!rc) rc = worn(r, err);
    if (!rc) rc = stage_pressed(r, err);
    return rc ? rc : stage_seams(r, err);
}

const struct stage stage_curve = {"curve", "Curve", 6, kinds, false, run};
