/* The evidence compiled and checked, the roots in the rows, the conditioning. */
#include "shape/outline.h"

#include "base/mem.h"
#include "shape/outline_inside.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define DEGREE (M_PI / 180)

static const struct field evidence_fields[] = {
    {.name = "id",
     .label = "Mark or measure",
     .type = FIELD_TEXT,
     .required = true,
     .offset = offsetof(struct shape_evidence, id),
     .help = "Its number.",
     .example = "A20"},
    {.name = "entry",
     .label = "Kind of entry",
     .type = FIELD_TEXT,
     .preset = "measure",
     .offset = offsetof(struct shape_evidence, entry),
     .help = "measure, mark, piece: for the chain of reasons."},
    {.name = "guess",
     .label = "Taken on the guess",
     .type = FIELD_TEXT,
     .offset = offsetof(struct shape_evidence, guess),
     .help = "Statement by which alone it bears on the outline; what follows without it is told."},
    {.name = "what",
     .label = "Kind",
     .type = FIELD_CHOICE,
     .choices = shape_evidence_words,
     .required = true,
     .offset = offsetof(struct shape_evidence, what),
     .help = "What kind of reading it is.",
     .example = "rise"},
    {.name = "points",
     .label = "Points",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .offset = offsetof(struct shape_evidence, points),
     .help = "edge, stitches, inside: in the plan; loose: in any frame; chord: one point; edges in "
             "order along the edge."},
    {.name = "value",
     .label = "Value",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct shape_evidence, value),
     .min = 0,
     .max = 1e5,
     .help = "Rise, greatest rise of a straight piece, corner radius, length, width, chord, lath."},
    {.name = "chord",
     .label = "Chord",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct shape_evidence, chord),
     .min = 0,
     .max = 1e5,
     .above_min = true,
     .help = "rise and straight: distance between the ends of the piece."},
    {.name = "u",
     .label = "±",
     .unit = "mm or degrees",
     .type = FIELD_REAL,
     .offset = offsetof(struct shape_evidence, u),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "Of a point, of the value, or in degrees of the midline."},
    {.name = "offset",
     .label = "Inside the edge by",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct shape_evidence, offset),
     .min = 0,
     .max = 1e4,
     .help = "stitches; chord and lath: at either end."},
    {.name = "angle",
     .label = "Direction",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct shape_evidence, angle),
     .min = -360,
     .max = 360,
     .help = "midline, chord: counter-clockwise from x of the plan."},
    {.name = "pieces",
     .label = "Independent pieces",
     .type = FIELD_REAL,
     .offset = offsetof(struct shape_evidence, pieces),
     .min = 0,
     .max = 1e5,
     .help = "inside: how many pieces the points belong to; all points when absent."},
    {.name = "at_random",
     .label = "Survive anywhere alike",
     .type = FIELD_FLAG,
     .preset = "true",
     .offset = offsetof(struct shape_evidence, at_random),
     .help = "inside, edge, stitches: false when plainly only one region survives."},
    {.name = "at_least",
     .label = "A minimum",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct shape_evidence, at_least),
     .help = "length, width, chord: broken, so at least this."},
    {.name = "wavy",
     .label = "Cut edge that waves",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct shape_evidence, wavy),
     .help = "rise, straight: true for a cut edge; a rod keeps an even curve."},
    {.name = "turned_over",
     .label = "May be turned over",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct shape_evidence, turned_over),
     .help = "loose: either face up."},
    {.name = "along",
     .label = "Factor along the grain",
     .type = FIELD_TEXT,
     .offset = offsetof(struct shape_evidence, along),
     .help = "Column of the ensemble that brings it to the outline's state."},
    {.name = "around",
     .label = "Factor across the grain",
     .type = FIELD_TEXT,
     .offset = offsetof(struct shape_evidence, around),
     .help = "Column of the ensemble; square to the grain."},
    {.name = "grain",
     .label = "Grain",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .preset = "0",
     .offset = offsetof(struct shape_evidence, grain),
     .min = -360,
     .max = 360,
     .help = "Direction of the grain in the plan."},
};
const struct kind shape_evidence_kind = {"outline_evidence", "A reading that bears on the outline",
                                         sizeof(struct shape_evidence), FIELDS(evidence_fields),
                                         "One piece of edge, one size, one direction."};

#define OPTION(M, LABEL, UNIT, PRESET, LOW, HIGH, HELP)                                            \
    {                                                                                              \
        .name = #M, .label = LABEL, .unit = UNIT, .type = FIELD_REAL, .preset = PRESET,            \
        .min = LOW, .max = HIGH, .offset = offsetof(struct shape_outline_options, M), .help = HELP \
    }
static const struct field option_fields[] = {
    OPTION(centre_sd, "Centre", "mm", "200", 1, 1e5, "How far from the middle of the points."),
    OPTION(half_length, "Half-length", "mm", "260", 1, 1e5, "Median expected beforehand."),
    OPTION(half_length_sd, "Spread of it", "", "0.35", 0.01, 3, "Of its logarithm."),
    OPTION(ratio_low, "Narrowest", "", "0.3", 0.05, 0.99, "Width over length at least."),
    OPTION(exponent, "Squareness", "", "2.3", 1.1, 20, "Median exponent of the superellipse."),
    OPTION(exponent_sd, "Spread of it", "", "0.35", 0.01, 2, "Of its logarithm."),
    OPTION(wave, "Waviness", "mm", "2", 0.01, 100, "How far the maker strayed; median."),
    OPTION(wave_sd, "Spread of it", "", "0.5", 0.01, 2, "Of its logarithm."),
    OPTION(wave_length, "Reach of a wave", "mm", "57", 1, 1e4, "Along the edge; median."),
    OPTION(wave_length_sd, "Spread of it", "", "0.21", 0.01, 2, "Of its logarithm; 40 to 80 mm."),
    OPTION(row_wave, "Waviness of stitch rows", "mm", "1.5", 0.01, 100, "Median."),
    OPTION(row_wave_sd, "Spread of it", "", "0.5", 0.01, 2, "Of its logarithm."),
    OPTION(roughness, "Freedom of the free outlines", "", "0.3", 0.01, 5,
           "Order k strays by this times k^-1.7; median."),
    OPTION(roughness_sd, "Spread of it", "", "1", 0.01, 3, "Of its logarithm."),
    OPTION(alike, "Both ends alike", "", "0.5", 0.01, 1,
           "Chance that the ends do not differ; and, apart from it, that the sides do not."),
    OPTION(unlike, "Difference of unlike halves", "", "0.7", 0, 3,
           "Of ends or sides, in the logarithm of their ratio: a normal of this sd beyond what the "
           "chance of being alike takes of it. 0: always alike."),
    OPTION(unlike_square, "Difference in squareness", "", "1", 0, 3,
           "Of ends or sides of a superellipse, in the logarithm of the ratio of exponents, as "
           "above. 0: halves differ in size alone."),
    {.name = "outliers",
     .label = "Allow for slips",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct shape_outline_options, outliers),
     .help = "Student t with 4 degrees of freedom in place of the normal."},
};
const struct kind shape_outline_options_kind = {
    "outline_options", "What is expected of an outline beforehand",
    sizeof(struct shape_outline_options), FIELDS(option_fields),
    "Waviness 2 mm and reach 40 to 80 mm: common practice, no source."};

struct shape_outline_options shape_outline_options_default(void) {
    return (struct shape_outline_options){.centre_sd = 200,
                                          .half_length = 260,
                                          .half_length_sd = 0.35,
                                          .ratio_low = 0.3,
                                          .exponent = 2.3,
                                          .exponent_sd = 0.35,
                                          .wave = 2,
                                          .wave_sd = 0.5,
                                          .wave_length = 57,
                                          .wave_length_sd = 0.21,
                                          .row_wave = 1.5,
                                          .row_wave_sd = 0.5,
                                          .roughness = 0.3,
                                          .roughness_sd = 1,
                                          .alike = 0.5,
                                          .unlike = 0.7,
                                          .unlike_square = 1};
}

/* ---- checking one reading -------------------------------------------------------------------- */

struct need {
    size_t least_points;
    bool value, chord, angle, u;
};

static const struct need needs[SHAPE_EVIDENCE_KINDS] = {
    [SHAPE_EDGE] = {.least_points = 1},
    [SHAPE_STITCHES] = {.least_points = 1},
    [SHAPE_LOOSE] = {.least_points = 3},
    [SHAPE_RISE] = {.value = true, .chord = true},
    [SHAPE_STRAIGHT] = {.value = true, .chord = true},
    [SHAPE_CORNER] = {.value = true, .u = true},
    [SHAPE_INSIDE] = {.least_points = 1},
    [SHAPE_MIDLINE] = {.angle = true, .u = true},
    [SHAPE_LENGTH] = {.value = true, .u = true},
    [SHAPE_WIDTH] = {.value = true, .u = true},
    [SHAPE_CHORD] = {.least_points = 1, .value = true, .angle = true, .u = true},
    [SHAPE_LATH] = {.value = true, .u = true},
};

enum { MOST_LOOSE = 250 };

static int evidence_check(const struct shape_evidence *e, struct error *err) {
    const char *id = e->id ? e->id : "?";
    error_place(err, NULL, 0, NULL, id);
    if (e->what < 0 || e->what >= SHAPE_EVIDENCE_KINDS)
        return fail(err, ERR_INPUT, "Choose one of the kinds of evidence.",
                    "Reading %s has no kind.", id);
    const struct need *n = &needs[e->what];
    const char *word = shape_evidence_words[e->what];
    if (e->points.n < n->least_points)
        return fail(err, ERR_MISSING, "Measure the points along the piece.",
                    "Reading %s (%s) has %zu points; it needs %zu.", id, word, e->points.n,
                    n->least_points);
    for (size_t i = 0; i < 2 * e->points.n; i++)
        if (!isfinite(e->points.v[i]))
            return fail(err, ERR_INPUT, "Measure the point again or leave it out.",
                        "Reading %s: point %zu has no place.", id, i / 2 + 1);
    if (e->what == SHAPE_LOOSE && e->points.n > MOST_LOOSE)
        return fail(err, ERR_RANGE, "Keep every second point.",
                    "Loose piece %s has %zu points; at most %d are used.", id, e->points.n,
                    MOST_LOOSE);
    if ((n->value && !(e->value >= 0)) || (n->chord && !(e->chord > 0)) ||
        (n->angle && !isfinite(e->angle)) || (n->u && !(e->u > 0)))
        return fail(err, ERR_MISSING, "Fill in the value, its ±, and the chord or direction.",
                    "Reading %s (%s) lacks a number.", id, word);
    bool size = e->what == SHAPE_CORNER || e->what == SHAPE_LENGTH || e->what == SHAPE_WIDTH ||
                e->what == SHAPE_CHORD || e->what == SHAPE_LATH;
    if (size && !(e->value > 0))
        return fail(err, ERR_RANGE, "Measure it again.",
                    "Reading %s: %s %g mm; it must be above 0.", id, word, e->value);
    if (e->what == SHAPE_RISE && e->value > e->chord / 2)
        return fail(err, ERR_RANGE, "Check whether chord and rise were exchanged or misread.",
                    "Reading %s: rise %g mm over a chord of %g mm.", id, e->value, e->chord);
    return 0;
}

/* ---- what the whole amounts to ----------------------------------------------------------------
 */

/* Whether points bend away from one line by more than three times what pointing explains. */
static bool points_bend(const struct plane_point *p, size_t n, double u) {
    if (n < 3) return false;
    struct plane_point a = p[0], b = p[n - 1];
    double l = hypot(b.x - a.x, b.y - a.y), most = 0;
    if (!(l > 0)) return true;
    for (size_t i = 1; i + 1 < n; i++)
        most = fmax(most, fabs((b.x - a.x) * (p[i].y - a.y) - (b.y - a.y) * (p[i].x - a.x)) / l);
    return most > 3 * u;
}

struct amount {
    size_t edge_points, in_place; /* points of edge; readings of edge in place */
    size_t bends;                 /* edge readings that show a curve */
    bool length, width, any_edge;
};

static void amount_add(struct amount *a, const struct reading *r) {
    switch ((enum shape_evidence_what)r->e.what) {
    case SHAPE_EDGE:
    case SHAPE_STITCHES:
        a->edge_points += r->n, a->in_place++, a->any_edge = true;
        a->bends += points_bend(r->p, r->n, r->e.u);
        break;
    case SHAPE_LOOSE:
        a->edge_points += r->n, a->any_edge = true;
        a->bends += points_bend(r->p, r->n, r->e.u);
        break;
    case SHAPE_RISE:
        a->edge_points += 3, a->any_edge = true;
        a->bends += r->e.value > 3 * r->e.u;
        break;
    case SHAPE_STRAIGHT:
        a->edge_points += 3, a->any_edge = true;
        break;
    case SHAPE_CORNER:
        a->bends++, a->any_edge = true;
        break;
    case SHAPE_LENGTH:
        a->length |= r->e.at_least != 1;
        break;
    case SHAPE_WIDTH:
    case SHAPE_CHORD:
        a->width |= r->e.at_least != 1;
        break;
    default:
        break;
    }
}

/* All points in place on one line within what pointing explains. */
static bool one_line(const struct shape_outline_model *m) {
    const struct plane_point *a = NULL, *b = NULL;
    double far = 0, most = 0, u = 0;
    for (size_t k = 0; k < m->n; k++) {
        const struct reading *r = &m->reading[k];
        if (r->e.what != SHAPE_EDGE && r->e.what != SHAPE_STITCHES) continue;
        u = fmax(u, r->e.u);
        if (!a) a = &r->p[0];
        for (size_t i = 0; i < r->n; i++) {
            double d = hypot(r->p[i].x - a->x, r->p[i].y - a->y);
            if (d > far) far = d, b = &r->p[i];
        }
    }
    if (!b) return true;
    for (size_t k = 0; k < m->n; k++) {
        const struct reading *r = &m->reading[k];
        if (r->e.what != SHAPE_EDGE && r->e.what != SHAPE_STITCHES) continue;
        for (size_t i = 0; i < r->n; i++)
            most = fmax(most, fabs((b->x - a->x) * (r->p[i].y - a->y) -
                                   (b->y - a->y) * (r->p[i].x - a->x)) /
                                  far);
    }
    return most <= 3 * u;
}

static int amount_check(const struct shape_outline_model *m, struct error *err) {
    struct amount a = {0};
    for (size_t k = 0; k < m->n; k++)
        amount_add(&a, &m->reading[k]);
    if (!a.any_edge && !(a.length && a.width))
        return fail(err, ERR_REFUSED,
                    "Give an arc of the edge (three points or chord and rise), or whole length and "
                    "width.",
                    "Nothing among %zu readings says where or how the edge ran.", m->n);
    if (a.length && a.width) return 0;
    if (a.edge_points < 3 && !a.bends)
        return fail(err, ERR_REFUSED,
                    "Measure at least a third point on a curved part of the edge, or a whole width "
                    "and length.",
                    "Two points of an edge lie on countless outlines; nothing can be said.");
    bool straight = !a.bends && (a.in_place < 2 || one_line(m));
    if (straight)
        return fail(
            err, ERR_REFUSED,
            "Give a piece of edge that curves or a corner, a second edge across the object, "
            "or a whole width and length.",
            "The edge is straight as far as it is there: a straight edge alone gives no "
            "outline.");
    return 0;
}

/* ---- compiling ------------------------------------------------------------------------------- */

static int copy_points(struct reading *r, struct arena *arena, struct error *err) {
    r->n = r->e.points.n;
    r->p = ARENA_NEW(arena, struct plane_point, r->n);
    r->step = ARENA_NEW(arena, double, r->n);
    if (!r->p || !r->step) return fail_memory(err);
    if (r->n) memcpy(r->p, r->e.points.v, r->n * sizeof *r->p);
    for (size_t i = 0; i + 1 < r->n; i++)
        r->step[i] = hypot(r->p[i + 1].x - r->p[i].x, r->p[i + 1].y - r->p[i].y);
    r->e.points.v = (double *)r->p;
    return 0;
}

/* Places along and heights above the arc's own chord, bulge to the right of travel. */
static int straighten(struct reading *r, struct arena *arena, struct error *err) {
    r->x = ARENA_NEW(arena, double, r->n);
    r->h = ARENA_NEW(arena, double, r->n);
    if (!r->x || !r->h) return fail_memory(err);
    struct plane_point a = r->p[0], b = r->p[r->n - 1];
    r->length = hypot(b.x - a.x, b.y - a.y);
    if (!(r->length > 0))
        return fail(err, ERR_INPUT, "Give the arc's points in order from one end to the other.",
                    "Loose piece %s begins and ends in one place.", r->e.id);
    double sum = 0;
    for (size_t i = 0; i < r->n; i++) {
        double dx = r->p[i].x - a.x, dy = r->p[i].y - a.y;
        r->x[i] = ((b.x - a.x) * dx + (b.y - a.y) * dy) / r->length;
        r->h[i] = ((b.y - a.y) * dx - (b.x - a.x) * dy) / r->length;
        sum += r->h[i];
    }
    if (sum >= 0) return 0;
    for (size_t i = 0; i < r->n; i++)
        r->h[i] = -r->h[i];
    for (size_t i = 0, k = r->n; i < --k; i++) { /* seen from the other end */
        double t = r->x[i];
        r->x[i] = r->x[k], r->x[k] = t;
        t = r->h[i], r->h[i] = r->h[k], r->h[k] = t;
    }
    for (size_t i = 0; i < r->n; i++)
        r->x[i] = r->length - r->x[i];
    for (size_t i = 0; i + 1 < r->n; i++)
        r->step[i] = hypot(r->x[i + 1] - r->x[i], r->h[i + 1] - r->h[i]);
    return 0;
}

static void presets(struct shape_evidence *e) {
    static const double POINTING = 0.7; /* mm: tracing on film; common practice, no source */
    bool points = e->what == SHAPE_EDGE || e->what == SHAPE_STITCHES || e->what == SHAPE_LOOSE;
    if (!(e->u > 0)) {
        if (points) e->u = POINTING;
        if (e->what == SHAPE_RISE) e->u = 0.5;
        if (e->what == SHAPE_STRAIGHT) e->u = fmax(e->value / 2, 0.1);
        if (e->what == SHAPE_INSIDE) e->u = POINTING;
    }
    if (e->what == SHAPE_INSIDE && !(e->pieces >= 0)) e->pieces = (double)e->points.n;
    if (isnan(e->grain)) e->grain = 0;
}

static int compile(struct shape_outline_model *m, struct reading *r, const struct shape_evidence *e,
                   struct error *err) {
    int rc = evidence_check(e, err);
    if (rc) return rc;
    r->e = *e;
    presets(&r->e);
    r->e.id = arena_strdup(m->arena, e->id ? e->id : "?");
    r->e.guess = arena_strdup(m->arena, e->guess);
    r->e.along = arena_strdup(m->arena, e->along);
    r->e.around = arena_strdup(m->arena, e->around);
    r->along = r->around = NUM_NO_COLUMN;
    r->cos_grain = cos(r->e.grain), r->sin_grain = sin(r->e.grain);
    if (!r->e.id) return fail_memory(err);
    rc = copy_points(r, m->arena, err);
    if (!rc && e->what == SHAPE_LOOSE) rc = straighten(r, m->arena, err);
    if (rc) return rc;
    enum shape_evidence_what w = (enum shape_evidence_what)e->what;
    m->has_rows |= w == SHAPE_STITCHES;
    m->needs_ring |= w == SHAPE_LOOSE || w == SHAPE_RISE || w == SHAPE_STRAIGHT ||
                     w == SHAPE_CORNER || w == SHAPE_CHORD;
    m->needs_size |= w == SHAPE_LENGTH || w == SHAPE_WIDTH || w == SHAPE_LATH || w == SHAPE_MIDLINE;
    m->needs_ring |= m->needs_size || w == SHAPE_INSIDE; /* forms without axes: measured on it */
    m->needs_tightest |= w == SHAPE_CORNER;
    m->needs_area |= w == SHAPE_INSIDE;
    m->located |= w == SHAPE_EDGE || w == SHAPE_STITCHES || w == SHAPE_INSIDE || w == SHAPE_CHORD;
    m->placed |= m->located || w == SHAPE_MIDLINE;
    if (w == SHAPE_EDGE || w == SHAPE_STITCHES || w == SHAPE_LOOSE)
        for (size_t i = 0; i < r->n; i++)
            m->seen += r->step[i];
    if ((w == SHAPE_EDGE || w == SHAPE_STITCHES) && e->at_random != 0) m->arcs++;
    if (w == SHAPE_RISE || w == SHAPE_STRAIGHT) m->seen += r->e.chord;
    return 0;
}

/* Centroid of the points in place, edge before inside. */
static void find_middle(struct shape_outline_model *m) {
    double x = 0, y = 0, n = 0;
    for (int pass = 0; pass < 2 && n == 0; pass++)
        for (size_t k = 0; k < m->n; k++) {
            const struct reading *r = &m->reading[k];
            bool edge = r->e.what == SHAPE_EDGE || r->e.what == SHAPE_STITCHES;
            bool other = r->e.what == SHAPE_INSIDE || r->e.what == SHAPE_CHORD;
            if (pass == 0 ? !edge : !other) continue;
            for (size_t i = 0; i < r->n; i++)
                x += r->p[i].x, y += r->p[i].y, n++;
        }
    if (n > 0) m->middle = (struct plane_point){x / n, y / n};
}

int shape_outline_model_new(struct shape_outline_model **out, const struct shape_evidence *evidence,
                            size_t n, const struct shape_outline_options *options,
                            struct error *err) {
    *out = NULL;
    if (!n)
        return fail(err, ERR_REFUSED, "Give an arc of the edge, or whole length and width.",
                    "There is no reading that bears on the outline.");
    struct shape_outline_model *m = MEM_NEW(struct shape_outline_model, 1);
    if (!m) return fail_memory(err);
    m->arena = arena_new();
    m->o = options ? *options : shape_outline_options_default();
    m->n = n;
    m->reading = m->arena ? ARENA_NEW(m->arena, struct reading, n) : NULL;
    int rc = m->reading ? 0 : fail_memory(err);
    if (!rc) {
        m->o.prefix = arena_strdup(m->arena, m->o.prefix ? m->o.prefix : "outline");
        if (!m->o.prefix) rc = fail_memory(err);
    }
    for (size_t k = 0; !rc && k < n; k++)
        rc = compile(m, &m->reading[k], &evidence[k], err);
    if (!rc) rc = amount_check(m, err);
    for (int f = 0; f < SHAPE_FAMILIES; f++)
        if (!m->o.families || m->o.families >> f & 1) m->family[m->n_families++] = f;
    if (!rc && !m->n_families)
        rc = fail(err, ERR_INPUT, "Choose at least one family.", "No family is to be tried.");
    if (rc) {
        shape_outline_model_free(m);
        return rc;
    }
    find_middle(m);
    m->drawn_z = gsl_cdf_ugaussian_Pinv(0.5 + m->o.alike / 4);
    m->alike_z = m->o.alike < 1 ? gsl_cdf_ugaussian_Pinv(0.5 + m->o.alike / 2) : INFINITY;
    for (int i = 0; i < RING; i++)
        m->unit[i] = (struct plane_point){cos(2 * M_PI * i / RING), sin(2 * M_PI * i / RING)};
    for (int i = 0; i < FEW; i++)
        m->few[i] = (struct plane_point){cos(2 * M_PI * i / FEW), sin(2 * M_PI * i / FEW)};
    *out = m;
    return 0;
}

void shape_outline_model_free(struct shape_outline_model *m) {
    if (!m) return;
    arena_free(m->arena);
    mem_free(m);
}

/* ---- rows ------------------------------------------------------------------------------------ */

static struct num_dist prior_of(const struct shape_outline_model *m, size_t root) {
    const struct shape_outline_options *o = &m->o;
    double value[SHAPE_FAMILIES];
    for (size_t i = 0; i < m->n_families; i++)
        value[i] = m->family[i];
    switch (root) {
    case ROOT_FAMILY:
        return m->n_families > 1 ? num_dist_discrete(m->n_families, value, NULL)
                                 : num_dist_fixed(value[0]);
    case ROOT_X:
        return num_dist_normal(m->middle.x, o->centre_sd);
    case ROOT_Y:
        return num_dist_normal(m->middle.y, o->centre_sd);
    case ROOT_SIZE:
        return num_dist_lognormal(o->half_length, o->half_length_sd);
    case ROOT_RATIO:
        return num_dist_uniform(o->ratio_low, 1);
    case ROOT_WAVE:
        return num_dist_lognormal(o->wave, o->wave_sd);
    case ROOT_REACH:
        return num_dist_lognormal(o->wave_length, o->wave_length_sd);
    case ROOT_ROW_WAVE:
        return num_dist_lognormal(o->row_wave, o->row_wave_sd);
    default:
        return num_dist_normal(0, 1);
    }
}

static int make_roots(struct shape_outline_model *m, struct num_rows *rows, struct error *err) {
    static const char *const name[] = {"family",      "x",     "y",    "turn_u",      "turn_v",
                                       "half_length", "ratio", "wave", "wave_length", "row_wave"};
    for (size_t i = 0; i < ROOTS; i++) {
        char id[128];
        m->column[i] = NUM_NO_COLUMN;
        if (i == ROOT_ROW_WAVE && !m->has_rows) continue;
        if (i < ROOT_SHAPE)
            snprintf(id, sizeof id, "%s.%s", m->o.prefix, name[i]);
        else
            snprintf(id, sizeof id, "%s.shape_%zu", m->o.prefix, i - ROOT_SHAPE + 1);
        struct num_dist prior = prior_of(m, i);
        int rc = num_rows_root(rows, id, &prior, &m->column[i], err);
        if (rc) return rc;
    }
    return 0;
}

static int find_scales(struct shape_outline_model *m, struct num_rows *rows, struct error *err) {
    for (size_t k = 0; k < m->n; k++) {
        struct reading *r = &m->reading[k];
        const char *const ids[2] = {r->e.along, r->e.around};
        size_t *const to[2] = {&r->along, &r->around};
        for (int q = 0; q < 2; q++) {
            if (!ids[q] || !*ids[q]) continue;
            *to[q] = num_rows_find(rows, ids[q]);
            if (*to[q] == NUM_NO_COLUMN) {
                error_place(err, NULL, 0, NULL, r->e.id);
                return fail(err, ERR_MISSING, "Work out the sizes first.",
                            "Reading %s rests on the column \"%s\", which is not there.", r->e.id,
                            ids[q]);
            }
        }
    }
    return 0;
}

/* Content of the evidence as a key: the same readings in any order give the same key, so that the
 * order of rows changes nothing. */
static uint64_t content_key(const struct shape_outline_model *m) {
    uint64_t sum = 0x6f75746c696e65;
    for (size_t k = 0; k < m->n; k++) {
        const struct reading *r = &m->reading[k];
        uint64_t h = num_hash(r->e.id);
        const double v[] = {(double)r->e.what,
                            r->e.value,
                            r->e.chord,
                            r->e.u,
                            r->e.offset,
                            r->e.angle,
                            r->e.pieces,
                            r->e.grain,
                            (double)r->e.at_random,
                            (double)r->e.at_least,
                            (double)r->e.wavy,
                            (double)r->e.turned_over};
        for (size_t i = 0; i < sizeof v / sizeof *v + 2 * r->n; i++) {
            double x = i < sizeof v / sizeof *v ? v[i] : ((double *)r->p)[i - sizeof v / sizeof *v];
            uint64_t bits = 0;
            if (!isnan(x)) memcpy(&bits, &x, sizeof bits);
            h = num_hash_join(h, bits);
        }
        sum += h;
    }
    return sum;
}

int shape_outline_condition(struct shape_outline_model *m, struct num_rows *rows,
                            struct num_report *report, struct error *err) {
    int rc = make_roots(m, rows, err);
    if (!rc) rc = find_scales(m, rows, err);
    if (rc) return rc;
    size_t moves[ROOTS], n_reads = 0, n_moves = 0;
    size_t *all = ARENA_NEW(m->arena, size_t, ROOTS + 2 * m->n);
    if (!all) return fail_memory(err);
    size_t most = 0; /* shape columns that some family uses */
    for (size_t i = 0; i < m->n_families; i++)
        if (outline_shapes_used(m, m->family[i]) > most)
            most = outline_shapes_used(m, m->family[i]);
    for (size_t i = 0; i < ROOTS; i++) {
        if (m->column[i] == NUM_NO_COLUMN) continue;
        all[n_reads++] = m->column[i];
        if (i != ROOT_FAMILY && i < ROOT_SHAPE + most) moves[n_moves++] = m->column[i];
    }
    for (size_t k = 0; k < m->n; k++) {
        if (m->reading[k].along != NUM_NO_COLUMN) all[n_reads++] = m->reading[k].along;
        if (m->reading[k].around != NUM_NO_COLUMN) all[n_reads++] = m->reading[k].around;
    }
    char id[128];
    snprintf(id, sizeof id, "%s.evidence", m->o.prefix);
    struct num_evidence e = {.id = id,
                             .key = content_key(m),
                             .log_like = outline_like,
                             .ctx = m,
                             .reads = all,
                             .n_reads = n_reads,
                             .moves = moves,
                             .n_moves = n_moves,
                             .readings = m->n};
    rc = outline_sample(m, rows, &e, err);
    if (rc) return rc;
    if (report) *report = m->report;
    if (m->report.held_out)
        return fail(err, ERR_CONFLICT,
                    "Leave out one reading at a time to find which one does not belong, or check "
                    "the state they were measured in.",
                    "No outline of any family fits all %zu readings together.", m->n);
    return 0;
}
