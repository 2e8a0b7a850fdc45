/* curve: how bent the object was: the coiled part flat or a cone, what speaks of the sheet's bend,
 * and how much narrower it stood than it lies. */
#include "job/stage_bends.h"
#include "job/stage_pressed.h"
#include "job/stage_seams.h"

#include "plane/arc.h"
#include "shape/coil.h"
#include "shape/curve.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"choice", "mark", NULL};

enum { MOST_PIECES = 40 };

/* ---- the coiled part ------------------------------------------------------------------------ */

struct coil_find {
    struct shape_coil_piece piece[MOST_PIECES];
    const char *measure[MOST_PIECES];
    size_t n;
    double pitch, u_pitch; /* mm: of the rounds */
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
    if (pitch && isnan(c->pitch)) {
        c->pitch = pitch->value;
        c->u_pitch = measure_sd(pitch);
        /* without a ±: half a millimetre over the rounds it was read across (common practice) */
        if (!isfinite(c->u_pitch)) c->u_pitch = 0.5 / fmax(rounds ? rounds->value : 1, 1);
    }
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

/* What is brought outward by lost rounds has the error of as many pitches too. */
static void pitch_error(struct coil_find *c) {
    for (size_t i = 0; i < c->n; i++)
        if (c->piece[i].lost_outside > 0)
            c->piece[i].u_radius =
                hypot(c->piece[i].u_radius, c->piece[i].lost_outside * c->u_pitch);
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
    struct statement s = stage_statement("curve", id, sentence, unit, FOOTING_WORKED_OUT);
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
                      "mm", spread_normal(ring->radius, ring->u_radius), rule, "a cone", err);
    double in = ring->radius - ring->inner, u_p = c->u_pitch, p = c->pitch;
    if (!rc) { /* as many pitches are counted off as rounds, less those that were added */
        double u = hypot(ring->u_radius, (in / p - ring->outward) * u_p);
        rc = say_coil(r, c, "coil.ring.inner", "If it is a flat ring, its hole had this radius.",
                      "mm", spread_normal(ring->inner, u), rule, "a cone", err);
    }
    if (!rc) { /* with n = (R - r)/p rounds it is pi n (2 R - n p): by R and by p */
        double n = in / p, u = M_PI * n * hypot(2 * ring->u_radius, (2 * ring->outward - n) * u_p);
        rc = say_coil(
            r, c, "coil.ring.foundation", "If it is a flat ring, this much rod was coiled.", "mm",
            spread_normal(ring->foundation, u), "pi (R² - r²) over the pitch", "a cone", err);
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
    /* First order in the errors of edge, slant and pitch. */
    double e = k->edge, l = k->slant, h = k->height, u_e = k->u_edge, u_l = k->u_slant;
    double u_angle = hypot(u_e, e / l * u_l) / h, u_height = hypot(l * u_l, e * u_e) / h;
    double by_pitch = c->u_pitch / c->pitch, u_rounds = hypot(u_l / c->pitch, k->rounds * by_pitch);
    double u_rod = hypot(M_PI / c->pitch * hypot(l * u_e, e * u_l), k->foundation * by_pitch);
    int rc = say_coil(r, c, "coil.cone.edge", "If it is a cone, its edge had this radius.", "mm",
                      spread_normal(k->edge, k->u_edge), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.slant", "If it is a cone, its slant was this long.", "mm",
                      spread_normal(k->slant, k->u_slant), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.half_angle", "If it is a cone, half its opening was this.",
                      "degrees", spread_normal(k->half_angle * 180 / M_PI, u_angle * 180 / M_PI),
                      rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.height", "If it is a cone, it stood this high.", "mm",
                      spread_normal(h, u_height), rule, "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.rounds", "If it is a cone, it had so many rounds.", "",
                      spread_normal(k->rounds, u_rounds), "slant over pitch", "a flat ring", err);
    if (!rc)
        rc = say_coil(r, c, "coil.cone.foundation", "If it is a cone, this much rod was coiled.",
                      "mm", spread_normal(k->foundation, u_rod),
                      "pi times edge times slant over the pitch", "a flat ring", err);
    return rc;
}

/* Which of the two, with what would decide and who holds which. */
static int say_form(struct stage_run *r, const struct coil_find *c, const struct shape_coil *out,
                    struct error *err) {
    const struct find *f = &r->now->find;
    struct statement s = stage_statement(
        "curve", "coil.form", "The coiled part was a flat ring, not a cone.", "", FOOTING_GUESSED);
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
    pitch_error(&c);
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
    if (!rc) rc = stage_bends(r, err);
    if (!rc) rc = worn(r, err);
    if (!rc) rc = stage_pressed(r, err);
    return rc ? rc : stage_seams(r, err);
}

const struct stage stage_curve = {"curve", "Curve", 8, kinds, false, run};
