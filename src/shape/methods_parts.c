/* relict calc ellipse, coil, laths, order. */
#include "plane/arc.h"
#include "shape/coil.h"
#include "shape/ellipse.h"
#include "shape/laths.h"
#include "shape/methods_inside.h"
#include "shape/order.h"

/* ---- ellipse ---- */

struct ellipse_in {
    struct tuples points;
};
struct ellipse_out {
    double x, y, half_length, half_width, angle, residual, half_length_u, half_width_u;
    double direct_x, direct_y, direct_half_length, direct_half_width, direct_angle, direct_residual;
    const char *caution;
};
static const struct field ellipse_in_fields[] = {
    {.name = "points",
     .label = "Edge points",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct ellipse_in, points),
     .help = "Five or more points of the edge.",
     .example = "[[1,7],[2,6],[5,8],[7,7],[9,5],[3,7],[6,2],[8,4]]"},
};
static const struct field ellipse_out_fields[] = {
    OUT_REAL(ellipse_out, x, "Centre x", "mm", "Least true distances."),
    OUT_REAL(ellipse_out, y, "Centre y", "mm", "Least true distances."),
    OUT_REAL(ellipse_out, half_length, "Half-length", "mm", "Least true distances."),
    OUT_REAL(ellipse_out, half_width, "Half-width", "mm", "Least true distances."),
    OUT_DEGREES(ellipse_out, angle, "Turn of the long axis", "Counter-clockwise from x."),
    OUT_REAL(ellipse_out, residual, "Misfit", "mm", "Root of the summed squared distances."),
    OUT_REAL(ellipse_out, half_length_u, "± of the half-length", "mm",
             "First order, points taken as independent: too small for a wavy edge."),
    OUT_REAL(ellipse_out, half_width_u, "± of the half-width", "mm", "Likewise."),
    OUT_REAL(ellipse_out, direct_x, "Centre x, direct fit", "mm", "Least algebraic distance."),
    OUT_REAL(ellipse_out, direct_y, "Centre y, direct fit", "mm", "Least algebraic distance."),
    OUT_REAL(ellipse_out, direct_half_length, "Half-length, direct fit", "mm",
             "Shrinks toward small round ellipses on short arcs."),
    OUT_REAL(ellipse_out, direct_half_width, "Half-width, direct fit", "mm", "Likewise."),
    OUT_DEGREES(ellipse_out, direct_angle, "Turn, direct fit", "Counter-clockwise from x."),
    OUT_REAL(ellipse_out, direct_residual, "Misfit, direct fit", "mm", "In true distances."),
    OUT_TEXT(ellipse_out, caution, "Caution", "What this fit does not tell."),
};
static const struct kind ellipse_in_kind = {"ellipse_in", "Edge points", sizeof(struct ellipse_in),
                                            FIELDS(ellipse_in_fields), "On one outline."};
static const struct kind ellipse_out_kind = {"ellipse_out", "Best ellipses, two ways",
                                             sizeof(struct ellipse_out), FIELDS(ellipse_out_fields),
                                             "Two best fits of different questions."};

static int ellipse_run(const void *in, void *out, struct arena *arena, struct error *err) {
    (void)arena;
    const struct ellipse_in *i = in;
    struct ellipse_out *o = out;
    struct shape_ellipse d, g;
    const struct plane_point *p = (const struct plane_point *)i->points.v;
    int rc = shape_ellipse_direct(&d, p, i->points.n, err);
    if (!rc) rc = shape_ellipse_geometric(&g, p, i->points.n, err);
    if (rc) return rc;
    *o = (struct ellipse_out){
        g.centre.x,
        g.centre.y,
        g.a,
        g.b,
        g.angle,
        g.residual,
        g.u_a,
        g.u_b,
        d.centre.x,
        d.centre.y,
        d.a,
        d.b,
        d.angle,
        d.residual,
        "A single family is confidently wrong when the outline is another one: use outline."};
    return 0;
}

const struct method shape_method_ellipse = {
    "ellipse",
    "The best ellipse through edge points, by algebraic and by true distance",
    "Halir & Flusser, WSCG 1998; Gander, Golub & Strebel, BIT 34 (1994) 558-578",
    "The direct fit is only where the geometric one starts.",
    &ellipse_in_kind,
    &ellipse_out_kind,
    ellipse_run,
    "{\"points\": [[1,7],[2,6],[5,8],[7,7],[9,5],[3,7],[6,2],[8,4]]}"};

/* ---- coil ---- */

struct coil_piece {
    const char *id;
    double chord, rise, rise_u, rounds, lost_outside;
};
struct coil_in {
    struct records pieces;
    double pitch, stitches;
};
struct coil_out {
    double ring_radius, ring_radius_u, ring_misfit, ring_p, ring_inner, ring_rounds;
    double ring_foundation, ring_stitches;
    double cone_edge, cone_edge_u, cone_slant, cone_slant_u, cone_half_angle, cone_height;
    double cone_rounds, cone_foundation, cone_stitches, cone_misfit, cone_p;
    struct texts pressed_flat;
    int ring_excluded, cone_possible;
    double ring_share;
    const char *verdict, *settle;
};
static const struct field coil_piece_fields[] = {
    {.name = "id",
     .label = "Piece",
     .type = FIELD_TEXT,
     .required = true,
     .offset = offsetof(struct coil_piece, id),
     .help = "Its number.",
     .example = "B26"},
    {.name = "chord",
     .label = "Chord of the outer edge",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct coil_piece, chord),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "Between the ends of the edge.",
     .example = "104"},
    {.name = "rise",
     .label = "Rise",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct coil_piece, rise),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "Of the edge above the chord.",
     .example = "15.2"},
    {.name = "rise_u",
     .label = "± of the rise",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0.5",
     .offset = offsetof(struct coil_piece, rise_u),
     .min = 0,
     .max = 1e3,
     .above_min = true,
     .help = "Standard deviation."},
    {.name = "rounds",
     .label = "Rounds",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct coil_piece, rounds),
     .min = 0,
     .max = 1000,
     .help = "On the piece.",
     .example = "9"},
    {.name = "lost_outside",
     .label = "Rounds lost outside it",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct coil_piece, lost_outside),
     .min = 0,
     .max = 1000,
     .help = "0 for a finished edge."},
};
static const struct kind coil_piece_kind = {"coil_piece", "A piece of coiled work",
                                            sizeof(struct coil_piece), FIELDS(coil_piece_fields),
                                            "With a curved outer edge."};
static const struct field coil_in_fields[] = {
    {.name = "pieces",
     .label = "Pieces",
     .type = FIELD_RECORDS,
     .sub = &coil_piece_kind,
     .required = true,
     .offset = offsetof(struct coil_in, pieces),
     .help = "All pieces of one coil, in one state."},
    {.name = "pitch",
     .label = "Pitch of the rounds",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct coil_in, pitch),
     .min = 0,
     .max = 1000,
     .above_min = true,
     .help = "Round to round.",
     .example = "5.5"},
    IN_REAL(coil_in, stitches, "Stitches", "per 10 mm", 0, 100, "Along the foundation rod."),
};
static const struct field coil_out_fields[] = {
    OUT_REAL(coil_out, ring_radius, "Flat ring: outer radius", "mm", "Weighted mean."),
    OUT_REAL(coil_out, ring_radius_u, "± of that", "mm", "If it was a ring."),
    OUT_REAL(coil_out, ring_misfit, "Flat ring: misfit", "mm", "Widest difference of two pieces."),
    OUT_REAL(coil_out, ring_p, "Flat ring: chance of such a misfit", "", "Under 0.01: excluded."),
    OUT_REAL(coil_out, ring_inner, "Flat ring: inner radius", "mm", "Innermost surviving round."),
    OUT_REAL(coil_out, ring_rounds, "Flat ring: rounds", "", "Down to that."),
    OUT_REAL(coil_out, ring_foundation, "Flat ring: foundation rod", "mm", "pi (R² - r0²)/pitch."),
    OUT_REAL(coil_out, ring_stitches, "Flat ring: stitches", "", "Over the foundation."),
    OUT_FLAG(coil_out, ring_excluded, "Flat ring excluded", "Chance under 0.01."),
    OUT_FLAG(coil_out, cone_possible, "Cone possible", "Two radii can be told apart."),
    OUT_REAL(coil_out, ring_share, "Flat ring rather than cone", "percent",
             "Even odds before; one piece in twenty may be pulled out of shape (a guess)."),
    OUT_REAL(coil_out, cone_edge, "Cone: edge radius", "mm", "As worn."),
    OUT_REAL(coil_out, cone_edge_u, "± of that", "mm", "Standard deviation."),
    OUT_REAL(coil_out, cone_slant, "Cone: slant", "mm", "Radius of pieces pressed flat."),
    OUT_REAL(coil_out, cone_slant_u, "± of that", "mm", "Standard deviation."),
    OUT_DEGREES(coil_out, cone_half_angle, "Cone: half-angle", "asin(edge/slant)."),
    OUT_REAL(coil_out, cone_height, "Cone: height", "mm", "sqrt(slant² - edge²)."),
    OUT_REAL(coil_out, cone_rounds, "Cone: rounds", "", "slant/pitch."),
    OUT_REAL(coil_out, cone_foundation, "Cone: foundation rod", "mm", "pi edge slant/pitch."),
    OUT_REAL(coil_out, cone_stitches, "Cone: stitches", "", "Over the foundation."),
    OUT_REAL(coil_out, cone_misfit, "Cone: misfit", "mm", "Widest distance of a piece."),
    OUT_REAL(coil_out, cone_p, "Cone: chance of such a misfit", "", "Left out: no piece to spare."),
    OUT_TEXTS(coil_out, pressed_flat, "Pieces taken as pressed flat", "They show the slant."),
    OUT_TEXT(coil_out, verdict, "In words", "What may be said; the two are never averaged."),
    OUT_TEXT(coil_out, settle, "What would settle it", "The next thing to measure."),
};
static const struct kind coil_in_kind = {"coil_in", "Pieces of a coil", sizeof(struct coil_in),
                                         FIELDS(coil_in_fields), "Outer edges and rounds."};
static const struct kind coil_out_kind = {"coil_out", "Flat ring and cone, side by side",
                                          sizeof(struct coil_out), FIELDS(coil_out_fields),
                                          "Two readings, never averaged."};

static int coil_pieces(struct shape_coil_piece *out, const struct coil_in *i, struct error *err) {
    const struct coil_piece *p = i->pieces.v;
    for (size_t k = 0; k < i->pieces.n; k++) {
        struct plane_arc a;
        int rc = plane_arc_from_rise(&a, p[k].chord, p[k].rise, 0, p[k].rise_u, err);
        if (rc) {
            error_place(err, NULL, 0, NULL, p[k].id);
            return rc;
        }
        out[k] = (struct shape_coil_piece){p[k].id, a.radius, a.u_radius, p[k].rounds,
                                           p[k].lost_outside};
    }
    return 0;
}

static int coil_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct coil_in *i = in;
    struct coil_out *o = out;
    size_t n = i->pieces.n;
    struct shape_coil_piece *p = ARENA_NEW(arena, struct shape_coil_piece, n);
    o->pressed_flat.v = ARENA_NEW(arena, const char *, n);
    if (!p || !o->pressed_flat.v) return fail_memory(err);
    struct shape_coil c;
    int rc = coil_pieces(p, i, err);
    if (!rc) rc = shape_coil_fit(&c, p, n, i->pitch, arena, err);
    if (rc) return rc;
    double density = i->stitches / 10; /* per mm */
    o->ring_radius = c.ring.radius, o->ring_radius_u = c.ring.u_radius;
    o->ring_misfit = c.ring.misfit, o->ring_p = c.ring.p, o->ring_inner = c.ring.inner;
    o->ring_rounds = c.ring.rounds, o->ring_foundation = c.ring.foundation;
    o->ring_stitches = c.ring.foundation * density, o->ring_excluded = c.ring_excluded;
    o->ring_share = 100 * c.ring_share;
    o->cone_possible = c.cone.possible;
    o->verdict = "One radius only: nothing tells a ring from a cone.";
    o->settle = "A second arc of known round, or the thickness of a piece at a fold.";
    if (!c.cone.possible) return 0;
    o->cone_edge = c.cone.edge, o->cone_edge_u = c.cone.u_edge;
    o->cone_slant = c.cone.slant, o->cone_slant_u = c.cone.u_slant;
    o->cone_half_angle = c.cone.half_angle, o->cone_height = c.cone.height;
    o->cone_rounds = c.cone.rounds, o->cone_foundation = c.cone.foundation;
    o->cone_stitches = c.cone.foundation * density, o->cone_misfit = c.cone.misfit;
    o->cone_p = c.cone.p;
    for (size_t k = 0; k < n; k++)
        if (c.cone.shows_slant[k]) o->pressed_flat.v[o->pressed_flat.n++] = p[k].id;
    o->verdict = c.ring_excluded
                     ? "A flat ring does not fit; a cone does. Both stay on record side by side."
                     : "A flat ring fits within its errors; a cone is not needed but not excluded.";
    o->settle = "A third arc, or the thickness at the fold of a piece taken as pressed flat.";
    return 0;
}

const struct method shape_method_coil = {
    "coil",
    "Flat ring or cone: what pieces of coiled work allow",
    "geometry of disc and cone",
    "A cone opened flat shows its slant as radius. The two readings are never averaged.",
    &coil_in_kind,
    &coil_out_kind,
    coil_run,
    "{\"pieces\": [{\"id\": \"B26\", \"chord\": 104, \"rise\": 15.2, \"rounds\": 9}, {\"id\": "
    "\"B28\", \"chord\": 51, \"rise\": 4.9, \"rounds\": 4}], \"pitch\": 5.5, \"stitches\": 4}"};

/* ---- laths ---- */

struct laths_in {
    long cut_ends;
    double total_length, full_length, spacing, board, width;
    struct reals places;
    double ring_angle, ring_angle_u, wood_outside;
};
struct laths_out {
    long by_ends, by_length, by_spacing, least, most;
    const char *range;
    struct reals mirrored;
    double ring_radius, ring_radius_u, rod_diameter;
};
static const struct field laths_in_fields[] = {
    {.name = "cut_ends",
     .label = "Cut ends",
     .type = FIELD_INT,
     .offset = offsetof(struct laths_in, cut_ends),
     .min = 0,
     .max = 10000,
     .help = "Original ends on all pieces."},
    IN_REAL(laths_in, total_length, "Length of all pieces", "mm", 0, 1e6, "In one state."),
    IN_REAL(laths_in, full_length, "Longest one lath can be", "mm", 0, 1e5, "Inside width."),
    IN_REAL(laths_in, spacing, "Spacing", "mm", 0, 1e5, "Centre to centre."),
    IN_REAL(laths_in, board, "Length it may run along", "mm", 0, 1e5, "Of the board."),
    IN_REAL(laths_in, width, "Width of a lath", "mm", 0, 1e4, "For the ends of the row."),
    OUT_REALS(laths_in, places, "Known places", "mm", "From the board's middle."),
    {.name = "ring_angle",
     .label = "Turn of a growth ring",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct laths_in, ring_angle),
     .min = 0,
     .max = 180,
     .help = "Across the lath's width, on its end."},
    {.name = "ring_angle_u",
     .label = "± of that",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .preset = "5",
     .offset = offsetof(struct laths_in, ring_angle_u),
     .min = 0,
     .max = 90,
     .help = "Standard deviation."},
    {.name = "wood_outside",
     .label = "Wood outside that ring",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct laths_in, wood_outside),
     .min = 0,
     .max = 1e3,
     .help = "Surviving on the lath."},
};
static const struct field laths_out_fields[] = {
    OUT_INT(laths_out, by_ends, "At least, by cut ends", "Two ends a lath."),
    OUT_INT(laths_out, by_length, "At least, by length", "Total over longest."),
    OUT_INT(laths_out, by_spacing, "If the spacing runs the whole board", "A hypothesis."),
    OUT_INT(laths_out, least, "Least", "The stronger lower limit."),
    OUT_INT(laths_out, most, "Most", "Left out when nothing limits it."),
    OUT_TEXT(laths_out, range, "In words", "The range with its arguments."),
    OUT_REALS(laths_out, mirrored, "Places proposed by mirror", "mm",
              "A rule; its rival is that there was none."),
    OUT_REAL(laths_out, ring_radius, "Radius of the ring", "mm", "From its turn."),
    OUT_REAL(laths_out, ring_radius_u, "± of that", "mm", "First order."),
    OUT_REAL(laths_out, rod_diameter, "Rod at least", "mm", "Under bark."),
};
static const struct kind laths_in_kind = {"laths_in", "What is left of the laths",
                                          sizeof(struct laths_in), FIELDS(laths_in_fields),
                                          "All lengths in one state."};
static const struct kind laths_out_kind = {"laths_out", "Count with its arguments, spacing, rod",
                                           sizeof(struct laths_out), FIELDS(laths_out_fields),
                                           "Never one number alone."};

static const char *range_words(const struct shape_laths_count *c, struct arena *arena) {
    const char *t = c->least > 1 ? arena_printf(arena, "At least %ld", c->least) : "Some";
    if (t && c->by_ends >= 0) t = arena_printf(arena, "%s; by cut ends %ld", t, c->by_ends);
    if (t && c->by_length >= 0) t = arena_printf(arena, "%s; by length %ld", t, c->by_length);
    if (t && c->by_spacing >= 0)
        t = arena_printf(arena, "%s; %ld if the spacing runs the whole board", t, c->by_spacing);
    return t ? arena_printf(arena, "%s.", t) : NULL;
}

static int laths_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct laths_in *i = in;
    struct laths_out *o = out;
    struct shape_laths_find f = {i->cut_ends == FIELD_UNKNOWN ? -1 : i->cut_ends,
                                 i->total_length,
                                 i->full_length,
                                 i->spacing,
                                 i->board,
                                 i->width};
    struct shape_laths_count c;
    int rc = shape_laths_count(&c, &f, err);
    if (rc) return rc;
    o->by_ends = c.by_ends < 0 ? FIELD_UNKNOWN : c.by_ends;
    o->by_length = c.by_length < 0 ? FIELD_UNKNOWN : c.by_length;
    o->by_spacing = c.by_spacing < 0 ? FIELD_UNKNOWN : c.by_spacing;
    o->least = c.least, o->most = c.most < 0 ? FIELD_UNKNOWN : c.most;
    o->range = range_words(&c, arena);
    o->mirrored.v = ARENA_NEW(arena, double, i->places.n);
    if (!o->range || !o->mirrored.v) return fail_memory(err);
    double near = !isnan(i->width) ? i->width : !isnan(i->spacing) ? i->spacing / 2 : 10;
    o->mirrored.n = shape_laths_mirror(o->mirrored.v, i->places.v, i->places.n, near);
    if (isnan(i->ring_angle)) return 0;
    struct shape_laths_rod r;
    rc = shape_laths_rod(&r, i->width, i->ring_angle, i->ring_angle_u, i->wood_outside, err);
    if (rc) return rc;
    o->ring_radius = r.ring_radius, o->ring_radius_u = r.u_ring_radius;
    o->rod_diameter = r.least_diameter;
    return 0;
}

const struct method shape_method_laths = {
    "laths",
    "How many laths, where the missing ones went, what rod they were split from",
    "counting arguments; chord of a growth ring, r = w/(2 sin(a/2))",
    NULL,
    &laths_in_kind,
    &laths_out_kind,
    laths_run,
    "{\"cut_ends\": 8, \"total_length\": 1595, \"full_length\": 327, \"spacing\": 69, \"board\": "
    "498, \"width\": 25.5, \"places\": [0, 69, 138]}"};

/* ---- order ---- */

struct order_in {
    struct records crossings;
};
struct order_step {
    const char *name;
    long earliest, latest;
};
struct order_out {
    struct records steps, needed;
    struct texts contradictions;
    long open_pairs;
};
static const struct field order_crossing_fields[] = {
    {.name = "before",
     .label = "First",
     .type = FIELD_TEXT,
     .required = true,
     .offset = offsetof(struct shape_order_crossing, before),
     .help = "What lies under, or was there first.",
     .example = "bark sheet"},
    {.name = "after",
     .label = "Then",
     .type = FIELD_TEXT,
     .required = true,
     .offset = offsetof(struct shape_order_crossing, after),
     .help = "What lies over, cuts or holds it.",
     .example = "rim rod"},
    {.name = "evidence",
     .label = "Shown by",
     .type = FIELD_TEXT,
     .offset = offsetof(struct shape_order_crossing, evidence),
     .help = "Piece and what is seen.",
     .example = "A13: rim shadow on the bark"},
};
static const struct kind order_crossing_kind = {
    "crossing", "One thing before another", sizeof(struct shape_order_crossing),
    FIELDS(order_crossing_fields), "Read off what crosses, cuts or holds what."};
static const struct field order_in_fields[] = {
    {.name = "crossings",
     .label = "Crossings",
     .type = FIELD_RECORDS,
     .sub = &order_crossing_kind,
     .required = true,
     .offset = offsetof(struct order_in, crossings),
     .help = "As many as are seen, in any order."},
};
static const struct field order_step_fields[] = {
    OUT_TEXT(order_step, name, "Step", "As named."),
    OUT_INT(order_step, earliest, "Earliest place", "From 1; left out in a contradiction."),
    OUT_INT(order_step, latest, "Latest place", "From 1; left out in a contradiction."),
};
static const struct kind order_step_kind = {"order_step", "A step", sizeof(struct order_step),
                                            FIELDS(order_step_fields), "And where it can stand."};
static const struct field order_out_fields[] = {
    {.name = "steps",
     .label = "Steps",
     .type = FIELD_RECORDS,
     .sub = &order_step_kind,
     .offset = offsetof(struct order_out, steps),
     .help = "By earliest place."},
    {.name = "needed",
     .label = "Crossings that carry the order",
     .type = FIELD_RECORDS,
     .sub = &order_crossing_kind,
     .offset = offsetof(struct order_out, needed),
     .help = "No chain of others makes these needless."},
    OUT_TEXTS(order_out, contradictions, "Contradictions", "Crossings that go round in a ring."),
    OUT_INT(order_out, open_pairs, "Open pairs", "Pairs of steps whose order nothing fixes."),
};
static const struct kind order_in_kind = {"order_in", "What crosses what", sizeof(struct order_in),
                                          FIELDS(order_in_fields), "With the evidence."};
static const struct kind order_out_kind = {"order_out", "Order of work", sizeof(struct order_out),
                                           FIELDS(order_out_fields), "A partial order."};

static int order_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct order_in *i = in;
    struct order_out *o = out;
    struct shape_order w;
    int rc = shape_order_work(&w, i->crossings.v, i->crossings.n, arena, err);
    if (rc) return rc;
    struct order_step *s = ARENA_NEW(arena, struct order_step, w.n);
    if (!s) return fail_memory(err);
    for (size_t k = 0; k < w.n; k++)
        s[k] = (struct order_step){w.step[k].name,
                                   w.step[k].level < 0 ? FIELD_UNKNOWN : w.step[k].level + 1,
                                   w.step[k].latest < 0 ? FIELD_UNKNOWN : w.step[k].latest + 1};
    o->steps = (struct records){w.n, s};
    o->needed = (struct records){w.n_needed, w.needed};
    o->contradictions = (struct texts){w.n_rings, w.ring};
    o->open_pairs = (long)w.open_pairs;
    return 0;
}

const struct method shape_method_order = {
    "order",
    "The order of work from what crosses what",
    "Warshall, Journal of the ACM 9 (1962) 11-12; Aho, Garey & Ullman, SIAM J. Comput. 1 (1972) "
    "131",
    "A partial order: steps whose order nothing fixes stay open; contradictions are told.",
    &order_in_kind,
    &order_out_kind,
    order_run,
    "{\"crossings\": [{\"before\": \"bark sheet\", \"after\": \"rim rod\", \"evidence\": \"A13\"}, "
    "{\"before\": \"rim rod\", \"after\": \"binding\", \"evidence\": \"A26\"}, {\"before\": \"bark "
    "sheet\", \"after\": \"lath\"}]}"};
