#include "making/complete_private.h"

#include "plane/polygon.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_PARTS = 256 };

/* ---- geometry ------------------------------------------------------------------------------- */

bool making_outline_span(const struct tuples *o, double x, double *low, double *high) {
    *low = DBL_MAX;
    *high = -DBL_MAX;
    for (size_t i = 0; i < o->n; i++) {
        const double *a = o->v + 2 * i, *b = o->v + 2 * ((i + 1) % o->n);
        if ((a[0] < x) == (b[0] < x)) continue;
        double y = a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]);
        *low = fmin(*low, y);
        *high = fmax(*high, y);
    }
    return *low < *high;
}

static void measure_outline(struct builder *b) {
    const struct tuples *o = &b->basis->outline;
    double box[4] = {DBL_MAX, -DBL_MAX, DBL_MAX, -DBL_MAX};
    for (size_t i = 0; i < o->n; i++) {
        const double *p = o->v + 2 * i, *q = o->v + 2 * ((i + 1) % o->n);
        box[0] = fmin(box[0], p[0]);
        box[1] = fmax(box[1], p[0]);
        box[2] = fmin(box[2], p[1]);
        box[3] = fmax(box[3], p[1]);
        b->perimeter += hypot(q[0] - p[0], q[1] - p[1]);
    }
    b->length = box[1] - box[0];
    b->width = box[3] - box[2];
}

/* ---- what is said --------------------------------------------------------------------------- */

static const struct statement *size_said(struct builder *b, const char *part,
                                         const char *quantity) {
    char id[128];
    snprintf(id, sizeof id, "%s.%s.fresh", part, quantity);
    const struct statement *s = statement_find(b->basis->said, id);
    if (!s) {
        snprintf(id, sizeof id, "%s.%s", part, quantity);
        s = statement_find(b->basis->said, id);
    }
    return s && !isnan(s->value.p50) ? s : NULL;
}

/* First reading of a quantity on a piece whose part mentions the word; NULL when there is none. */
static const struct measure *reading(struct builder *b, const char *word, long quantity) {
    const struct find *f = b->basis->find;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (!p->part || !strstr(p->part, word) || p->same_as) continue;
        const struct measure *m = find_measure_of(f, p->id, quantity);
        if (m && !isnan(m->value)) return m;
    }
    return NULL;
}

void builder_text(struct builder *b, struct texts *list, const char *text) {
    if (b->rc || !text) return;
    const char **more = ARENA_NEW(b->arena, const char *, list->n + 1);
    char *copy = arena_strdup(b->arena, text);
    if (!more || !copy) {
        b->rc = fail_memory(b->err);
        return;
    }
    if (list->n) memcpy((void *)more, (const void *)list->v, list->n * sizeof *more);
    more[list->n] = copy;
    *list = (struct texts){list->n + 1, more};
}

/* Median of a size, noting in the part that it rests on it; `otherwise` when nothing is said, and
 * the part becomes a guess. */
static double take(struct builder *b, struct part *p, const char *part, const char *quantity,
                   double otherwise) {
    const struct statement *s = size_said(b, part, quantity);
    if (s) {
        builder_text(b, &p->statements, s->id);
        return s->value.p50;
    }
    p->footing = FOOTING_GUESSED;
    return otherwise;
}

/* One rule that was used, as a statement. */
void builder_say(struct builder *b, const char *id, const char *sentence, const char *unit,
                 double value, long footing, const char *rule, const char *rival,
                 const char *rests_on) {
    if (b->rc) return;
    const char *kind = rests_on && find_measure(b->basis->find, rests_on) ? "measure" : "statement";
    struct statement s = statement_blank();
    s.id = id;
    s.step = "making";
    s.about = "object";
    s.sentence = sentence;
    s.unit = unit;
    s.state = "fresh";
    s.footing = footing;
    s.rule = rule;
    s.rival = rival;
    if (!isnan(value)) s.value = spread_exact(value);
    if (rests_on && (strcmp(kind, "measure") == 0 || statement_find(b->basis->said, rests_on)))
        b->rc = statement_link_add(&s, kind, rests_on, "size", b->arena, b->err);
    if (!b->rc && statement_find(b->basis->said, "outline.length"))
        b->rc = statement_link_add(&s, "statement", "outline.length", "plan", b->arena, b->err);
    if (!b->rc) b->rc = statement_add(b->basis->said, &s, b->err);
}

/* ---- parts ---------------------------------------------------------------------------------- */

static struct part *add_part(struct builder *b, long kind, const char *id, const char *name) {
    if (!b->rc && b->out->part_count == MOST_PARTS)
        b->rc = fail(b->err, ERR_RANGE, "Check the spacings: they ask for more parts than can be.",
                     "The making has more than %d parts.", MOST_PARTS);
    struct part *p = b->rc ? &b->nowhere : &b->out->parts[b->out->part_count++];
    field_unknown(&part_kind_kind, p);
    /* Ids are unique in the project: a rival's parts carry its own before them. */
    p->id = strcmp(b->making, "proposed") == 0 ? arena_strdup(b->arena, id)
                                               : arena_printf(b->arena, "%s.%s", b->making, id);
    p->name = arena_strdup(b->arena, name);
    p->making = b->making;
    p->kind = kind;
    p->state = STATE_FRESH;
    p->footing = FOOTING_WORKED_OUT;
    if (!p->id || !p->name) b->rc = fail_memory(b->err);
    return p;
}

/* First piece whose part mentions the word, for species and to say what survives of it. */
static void take_pieces(struct builder *b, struct part *p, const char *word) {
    const struct find *f = b->basis->find;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *q = &f->pieces[i];
        if (!q->part || !strstr(q->part, word) || q->same_as) continue;
        builder_text(b, &p->pieces, q->id);
        if (!p->taxon) p->taxon = q->taxon;
        if (p->substance == FIELD_UNKNOWN) p->substance = q->substance;
    }
}

static bool has_part(struct builder *b, const char *word) {
    const struct find *f = b->basis->find;
    for (size_t i = 0; i < f->piece_count; i++)
        if (f->pieces[i].part && strstr(f->pieces[i].part, word)) return true;
    return false;
}

/* The outline moved inward by `mm`: where a part that follows the edge runs. Empty when nothing is
 * left of it. */
static struct tuples inside_edge(struct builder *b, double mm) {
    const struct tuples *o = &b->basis->outline;
    struct plane_point *ring = b->rc ? NULL : ARENA_NEW(b->arena, struct plane_point, o->n);
    struct plane_rings rings = {0};
    struct tuples path = {0};
    if (!ring) return path;
    for (size_t i = 0; i < o->n; i++)
        ring[i] = (struct plane_point){o->v[2 * i], o->v[2 * i + 1]};
    if (plane_polygon_offset(&rings, ring, o->n, -mm, b->arena, NULL) || rings.n == 0) return path;
    path = (struct tuples){rings.v[0].n, 2, ARENA_NEW(b->arena, double, 2 * rings.v[0].n)};
    if (!path.v) {
        b->rc = fail_memory(b->err);
        return (struct tuples){0};
    }
    for (size_t i = 0; i < path.n; i++) {
        path.v[2 * i] = rings.v[0].v[i].x;
        path.v[2 * i + 1] = rings.v[0].v[i].y;
    }
    return path;
}

static void add_sheet(struct builder *b) {
    struct part *p = add_part(b, PART_SHEET, "sheet", "the sheet");
    take_pieces(b, p, "bark");
    if (p->pieces.n == 0) take_pieces(b, p, "sheet");
    p->length = b->length;
    p->width = b->width;
    p->thickness = take(b, p, "sheet", "thickness", 3.5);
    p->points = b->basis->outline;
    p->grain = 0;
    p->natural_radius = b->basis->radius;
    p->x = p->y = p->angle = 0;
    builder_text(b, &p->statements, "outline.length");
    builder_text(b, &p->statements, "outline.width");
    builder_text(b, &p->statements, "making.sheet.grain");
    p->rule = "cut to the likely outline";
    builder_say(
        b, "making.sheet.grain", "The tree's axis runs along the long side of the sheet.", "", NAN,
        FOOTING_GUESSED,
        "A sheet taken off a stem can be far longer along the stem than round it, and laths laid "
        "across hold it against curling about the stem.",
        "the tree's axis across the sheet", "outline.width");
}

/* Room across for a whole lath at x: what both its long edges leave. */
static bool lath_span(struct builder *b, double x, double *low, double *high) {
    const struct statement *wide = size_said(b, "lath", "width");
    double half = wide ? wide->value.p50 / 2 : 12.5, l, h;
    const struct tuples *o = &b->basis->outline;
    if (!making_outline_span(o, x - half, low, high) || !making_outline_span(o, x + half, &l, &h))
        return false;
    *low = fmax(*low, l);
    *high = fmin(*high, h);
    return *low < *high;
}

/* The longest lath found whole is taken for the middle one, where the sheet is widest; a piece is
 * of one lath only, and which of the others it was nobody knows. Those are completed by the rule.
 */
static void take_lath_pieces(struct builder *b, struct part *p, long i, long n) {
    const struct find *f = b->basis->find;
    const struct piece *longest = NULL;
    double most = 0;
    for (size_t k = 0; k < f->piece_count; k++) {
        const struct piece *q = &f->pieces[k];
        if (!q->part || !strstr(q->part, "lath") || q->same_as || q->substance == SUBSTANCE_TRACE)
            continue;
        if (!p->taxon) p->taxon = q->taxon;
        if (p->substance == FIELD_UNKNOWN) p->substance = q->substance;
        const struct measure *m = find_measure_of(f, q->id, QUANTITY_LENGTH);
        if (!m || !measure_is_complete(m) || !m->end_kinds.n || m->value <= most) continue;
        most = m->value, longest = q;
    }
    if (longest && i == (n - 1) / 2) builder_text(b, &p->pieces, longest->id);
}

/* Laths lie across at even spacing about the middle, cut to the outline less one inset. */
static void add_laths(struct builder *b) {
    const struct measure *spaced = reading(b, "lath spacing", QUANTITY_PITCH);
    const struct statement *count = size_said(b, "lath", "count"),
                           *longest = size_said(b, "lath", "length");
    if (!has_part(b, "lath")) return;
    long n = count ? lround(count->value.p50) : 5;
    double low, high, middle = b->width;
    if (making_outline_span(&b->basis->outline, 0, &low, &high)) middle = high - low;
    double spacing = spaced ? spaced->value : b->length / (double)(n + 1);
    if ((double)(n - 1) * spacing > b->length - spacing / 2)
        spacing = (b->length - spacing / 2) / (double)(n > 1 ? n - 1 : 1);
    /* The longest lath lies in the middle, where the sheet is widest. */
    double inset = longest ? fmax(4, (middle - longest->value.p50) / 2) : 9;
    if (inset > middle / 8) inset = 9;
    builder_say(b, "making.lath.count", "So many laths are laid across the sheet.", "", (double)n,
                FOOTING_WORKED_OUT, "the likeliest of the counts that the arguments leave",
                "any other number in the range of lath.count", count ? count->id : NULL);
    builder_say(b, "making.lath.spacing", "The laths lie this far apart, centre to centre.", "mm",
                spacing, spaced ? FOOTING_WORKED_OUT : FOOTING_GUESSED,
                spaced ? "the spacing of the shadows, carried on to both ends about the middle"
                       : "spread evenly over the length",
                "wider at the ends",
                spaced  ? spaced->id
                : count ? count->id
                        : NULL);
    builder_say(b, "making.lath.inset", "Each lath ends this far inside the edge.", "mm", inset,
                longest ? FOOTING_WORKED_OUT : FOOTING_GUESSED,
                "half of what the longest lath is shorter than the sheet is wide",
                "laths that reach the edge under the rim", longest ? longest->id : NULL);
    for (long i = 0; i < n && !b->rc; i++) {
        char id[32], name[64];
        snprintf(id, sizeof id, "lath.%ld", i + 1);
        snprintf(name, sizeof name, "lath %ld of %ld from the left", i + 1, n);
        double x = ((double)i - (double)(n - 1) / 2) * spacing;
        if (!lath_span(b, x, &low, &high)) continue;
        struct part *p = add_part(b, PART_LATH, id, name);
        take_lath_pieces(b, p, i, n);
        p->width = take(b, p, "lath", "width", 25);
        p->thickness = take(b, p, "lath", "thickness", 3.5);
        p->length = high - low - 2 * inset;
        p->x = x;
        p->y = (low + high) / 2;
        p->angle = M_PI / 2;
        p->side = SIDE_WITHIN;
        p->holding = HOLDING_POCKET;
        p->clearance = 0.3;
        builder_text(b, &p->statements, "making.lath.count");
        builder_text(b, &p->statements, "making.lath.spacing");
        builder_text(b, &p->statements, "making.lath.inset");
        p->rule = p->pieces.n
                      ? "the lath found whole, laid where the sheet is widest"
                      : "completed: across, at even spacing about the middle; length by the "
                        "outline less the inset; broken pieces may be of it";
        p->rival = "laths stitched to one face";
    }
}

static void add_rim(struct builder *b, const char *word, const char *part, const char *name,
                    double share) {
    if (!has_part(b, word)) return;
    struct part *p = add_part(b, PART_RIM, part, name);
    take_pieces(b, p, word);
    p->width = take(b, p, part, "width", 14);
    p->thickness = take(b, p, part, "thickness", 7);
    const struct statement *scarf = size_said(b, part, "scarf_length");
    double joint = scarf ? scarf->value.p50 : 6 * p->thickness;
    p->length = b->perimeter * share + joint;
    p->points = inside_edge(b, p->width / 2);
    p->side = SIDE_BOTH;
    p->holding = HOLDING_TIED;
    p->footing = share < 1 ? FOOTING_GUESSED : FOOTING_WORKED_OUT;
    p->rule = share < 1 ? "its share of the perimeter, by eye, and the length of one scarf"
                        : "once round the outline and the length of one scarf";
    p->rival = share < 1 ? "a longer or shorter share of the edge" : "two lengths with two scarfs";
    char id[64];
    snprintf(id, sizeof id, "making.%s.length", part);
    builder_say(b, id, "A rim rod of this length goes round.", "mm", p->length, p->footing, p->rule,
                p->rival, scarf ? scarf->id : "outline.perimeter");
    builder_text(b, &p->statements, id);
}

static void add_ties(struct builder *b) {
    const char *part = has_part(b, "rim") ? "rim" : has_part(b, "rod") ? "side_rod" : NULL;
    const struct statement *pitch = part ? size_said(b, part, "pitch") : NULL;
    if (!pitch) return;
    struct part *p = add_part(b, PART_TIE, "tie", "the binding of the rim");
    take_pieces(b, p, has_part(b, "binding") ? "binding" : "lacing");
    p->pitch = pitch->value.p50;
    p->count = lround(b->perimeter / p->pitch);
    p->width = take(b, p, has_part(b, "binding") ? "binding" : "lacing", "width", 5);
    p->thickness = take(b, p, has_part(b, "binding") ? "binding" : "lacing", "thickness", 0.8);
    const struct statement *hole = size_said(b, "sheet", "hole_diameter");
    p->hole = hole ? hole->value.p50 : 3;
    const struct statement *away = size_said(b, "sheet", "edge_distance");
    const struct statement *rim_width = size_said(b, part, "width");
    p->edge_distance = away ? away->value.p50 : rim_width ? rim_width->value.p50 + p->hole : 15;
    p->points = inside_edge(b, p->edge_distance);
    /* One wrap goes round rim and sheet and on by one pitch. */
    double rim_thickness = 7;
    const struct statement *t = size_said(b, part, "thickness");
    if (t) rim_thickness = t->value.p50;
    double rim_w = rim_width ? rim_width->value.p50 : 14;
    p->length = (double)p->count * (2 * (rim_w + 2 * rim_thickness) + p->pitch) * 1.3;
    p->group = 1;
    p->side = SIDE_BOTH;
    p->rule = "perimeter over the spacing of the dents; round rim and sheet, and three tenths more "
              "for joins and waste (common practice, no source)";
    p->rival = "stitches in groups";
    builder_text(b, &p->statements, pitch->id);
    builder_say(b, "making.tie.count", "So many wraps hold the rim.", "", (double)p->count,
                FOOTING_WORKED_OUT, "perimeter over the spacing of the dents", "stitches in groups",
                pitch->id);
    builder_text(b, &p->statements, "making.tie.count");
}

/* Where the coiled pieces lay: all in one end of the object, or else the middle. */
static double centre_place(struct builder *b, const char **rule) {
    const struct find *f = b->basis->find;
    const char *zone = NULL;
    bool one = true;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        if (p->substance != SUBSTANCE_COIL || !p->zone) continue;
        one &= !zone || strcmp(zone, p->zone) == 0;
        zone = p->zone;
    }
    *rule = "all its pieces were found at the head; the head is drawn to the right";
    if (one && zone && strcmp(zone, "head") == 0) return 0.3 * b->length;
    *rule = "all its pieces were found at the foot; the foot is drawn to the left";
    if (one && zone && strcmp(zone, "foot") == 0) return -0.3 * b->length;
    *rule = "its pieces were found in the middle of the heap";
    return 0;
}

static double said_or_nan(struct builder *b, struct part *p, const char *id) {
    const struct statement *s = statement_find(b->basis->said, id);
    if (!s || isnan(s->value.p50)) return NAN;
    builder_text(b, &p->statements, id);
    return s->value.p50;
}

static void add_centre(struct builder *b) {
    const char *part = has_part(b, "coiled ring") ? "ring" : has_part(b, "coiled") ? "guard" : NULL;
    if (!part) return;
    struct part *p = add_part(b, PART_CENTRE, part, "the coiled piece");
    const struct statement *rounds = size_said(b, part, "rounds");
    const char *why;
    take_pieces(b, p, "coiled");
    p->pitch = take(b, p, part, "round_pitch", 6);
    p->thickness = take(b, p, part, "thickness", 5);
    if (b->cone) {
        p->diameter = 2 * said_or_nan(b, p, "coil.cone.edge");
        p->height = said_or_nan(b, p, "coil.cone.height");
        p->length = said_or_nan(b, p, "coil.cone.foundation");
        p->count = lround(said_or_nan(b, p, "coil.cone.rounds"));
        p->rule = "a cone: the smaller radii are its worn edge, the larger its slant pressed flat";
        p->rival = "a flat ring";
    } else {
        p->diameter = 2 * said_or_nan(b, p, "coil.ring.radius");
        p->inner_diameter = 2 * said_or_nan(b, p, "coil.ring.inner");
        p->length = said_or_nan(b, p, "coil.ring.foundation");
        p->count = rounds ? lround(rounds->value.p50) : FIELD_UNKNOWN;
        p->rule = "a flat ring";
        p->rival = "a cone";
    }
    builder_text(b, &p->statements,
                 statement_find(b->basis->said, "coil.form") ? "coil.form" : NULL);
    p->x = centre_place(b, &why);
    p->y = 0;
    p->side = SIDE_OUTER;
    p->holding = HOLDING_SEWN;
    builder_say(b, "making.centre.place", "The coiled piece has its place here.", "", NAN,
                FOOTING_GUESSED, why, "elsewhere on the sheet, or not of this object",
                statement_find(b->basis->said, "coil.ring.radius") ? "coil.ring.radius" : NULL);
    builder_text(b, &p->statements, "making.centre.place");
}

static void add_grip(struct builder *b) {
    if (!has_part(b, "grip")) return;
    struct part *p = add_part(b, PART_GRIP, "grip", "the grip");
    take_pieces(b, p, "grip");
    const struct statement *half = size_said(b, "grip", "length"); /* of the whole, from its half */
    p->width = take(b, p, "grip", "width", 30);
    p->thickness = take(b, p, "grip", "thickness", 24);
    p->length = half ? half->value.p50 : 180;
    const struct statement *angle = size_said(b, "grip", "chamfer_angle");
    if (angle) p->chamfer = angle->value.p50 * M_PI / 180;
    p->x = 0;
    p->y = 0;
    p->angle = 0;
    p->side = SIDE_INNER;
    p->holding = HOLDING_TIED;
    p->footing = FOOTING_GUESSED;
    p->rule = "twice the surviving half: it broke in the middle";
    p->rival = "longer: it broke elsewhere; a second grip";
    builder_say(b, "making.grip.length", "The grip was this long.", "mm", p->length,
                FOOTING_GUESSED, p->rule, p->rival, half ? half->id : NULL);
    builder_text(b, &p->statements, "making.grip.length");
}

static void add_pegs(struct builder *b) {
    if (!has_part(b, "peg")) return;
    struct part *p = add_part(b, PART_PEG, "peg", "the pegs");
    take_pieces(b, p, "peg");
    p->diameter = take(b, p, "peg", "width", 6.5);
    p->length = take(b, p, "peg", "length", 24);
    p->count = 2;
    p->footing = FOOTING_GUESSED;
    p->rule = "one at each end of the grip, as at the end that survives";
    p->rival = "one peg only";
}

/* A piece whose note has this word; NULL. */
static const struct piece *noted(struct builder *b, const char *part, const char *word) {
    const struct find *f = b->basis->find;
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *q = &f->pieces[i];
        if (q->part && q->note && strstr(q->part, part) && strstr(q->note, word)) return q;
    }
    return NULL;
}

/* The area a part of paint covers, as a statement. */
static void say_area(struct builder *b, struct part *p, const char *id, double area,
                     const char *rule, const char *rests_on) {
    builder_say(b, id, "The paint covers this area.", "mm²", area, FOOTING_GUESSED, rule,
                "patches only where they were found", rests_on);
    builder_text(b, &p->statements, id);
}

/* A band parallel to the rim, if patches of colour lie at one distance from the edge. */
static void add_band(struct builder *b) {
    const struct measure *away = reading(b, "pigment", QUANTITY_EDGE_DISTANCE), *wide = NULL;
    if (away) wide = find_measure_of(b->basis->find, away->piece, QUANTITY_WIDTH);
    if (!wide) wide = reading(b, "pigment", QUANTITY_WIDTH);
    struct part *p = add_part(b, PART_PAINT, "paint", "the painted band");
    take_pieces(b, p, "pigment");
    p->edge_distance = away ? away->value : 25;
    p->width = wide ? wide->value : 10;
    p->coats = 2;
    p->points = inside_edge(b, p->edge_distance + p->width / 2);
    p->side = SIDE_OUTER;
    p->footing = FOOTING_GUESSED;
    double inward = 1 - 2 * M_PI * (p->edge_distance + p->width / 2) / b->perimeter;
    p->length = b->perimeter * (inward > 0 ? inward : 0);
    p->rule = "a band all round, parallel to the rim, through the patches that survive";
    p->rival = "patches only where they were found";
    p->colour = noted(b, "pigment", "red band") ? "red" : "white";
    builder_say(b, "making.paint.band", "A painted band runs all round, this far from the edge.",
                "mm", p->edge_distance, FOOTING_GUESSED, p->rule, p->rival, away ? away->id : NULL);
    builder_text(b, &p->statements, "making.paint.band");
    say_area(b, p, "making.paint.area", p->length * p->width,
             "length of the band's middle line times its width", wide ? wide->id : NULL);
}

/* The number before a word, "black dots 4 mm across; 15 mm apart": 4 before "mm across", 15 before
 * "mm apart". NAN when there is none. */
static double number_before(const char *text, const char *word) {
    const char *at = text ? strstr(text, word) : NULL;
    if (!at) return NAN;
    while (at > text && at[-1] == ' ')
        at--;
    const char *end = at;
    while (at > text && ((at[-1] >= '0' && at[-1] <= '9') || at[-1] == '.'))
        at--;
    return at < end ? strtod(at, NULL) : NAN;
}

/* A row of dots all round, when a piece shows dots with their size and spacing. The row's distance
 * from the edge is seldom known: beside the band, then. */
static void add_dots(struct builder *b) {
    const struct piece *q = noted(b, "", "dots");
    double across = q ? number_before(q->note, "mm across") : NAN,
           apart = q ? number_before(q->note, "mm apart") : NAN;
    if (!(across > 0) || !(apart > across)) return;
    double band = 0;
    for (const struct part *p = NULL; (p = makings_part(b->out, b->making, PART_PAINT, p)) != NULL;)
        band = fmax(band, p->edge_distance + p->width);
    struct part *p = add_part(b, PART_PAINT, "dots", "the painted dots");
    builder_text(b, &p->pieces, q->id);
    p->edge_distance = band + apart / 2;
    p->points = inside_edge(b, p->edge_distance + across / 2);
    for (size_t i = 0; i < p->points.n; i++) {
        const double *a = p->points.v + 2 * i, *c = p->points.v + 2 * ((i + 1) % p->points.n);
        p->length = (i ? p->length : 0) + hypot(c[0] - a[0], c[1] - a[1]);
    }
    p->width = p->diameter = across;
    p->pitch = apart;
    p->count = isnan(p->length) ? FIELD_UNKNOWN : lround(p->length / apart);
    p->coats = 1;
    p->side = SIDE_OUTER;
    p->footing = FOOTING_GUESSED;
    p->colour = strstr(q->note, "black") ? "black" : strstr(q->note, "red") ? "red" : NULL;
    p->rule = "one row all round inside the band, at the spacing of the dots that survive";
    p->rival = "dots only where they were found, or a field of them";
    double each = M_PI * across * across / 4;
    builder_say(b, "making.dots.count", "So many dots go round.", "", (double)p->count,
                FOOTING_GUESSED, p->rule, p->rival, "outline.perimeter");
    builder_text(b, &p->statements, "making.dots.count");
    say_area(b, p, "making.dots.area", (double)p->count * each,
             "number of dots times the area of one", "making.dots.count");
}

static void add_paint(struct builder *b) {
    if (has_part(b, "pigment") || has_part(b, "paint")) add_band(b);
    add_dots(b);
}

/* ---- the whole ------------------------------------------------------------------------------ */

static void build(struct builder *b, const char *id, const char *title, const char *difference,
                  double weight, bool cone) {
    struct making *m = &b->out->makings[b->out->making_count++];
    field_unknown(&making_kind, m);
    m->id = b->making = id;
    m->title = title;
    m->difference = difference;
    m->weight = weight;
    m->purpose = "display copy";
    m->reason = "worked out from the statements";
    b->cone = cone;
    add_sheet(b);
    add_laths(b);
    add_rim(b, "rim", "rim", "the rim", 1);
    add_rim(b, "side rod", "side_rod", "the side rods", 0.72);
    add_rim(b, "head hoop", "hoop", "the head hoop", 0.28);
    add_ties(b);
    add_centre(b);
    add_grip(b);
    add_pegs(b);
    add_paint(b);
    builder_steps(b);
}

int making_complete(struct makings *out, const struct making_basis *basis, struct arena *arena,
                    struct error *err) {
    *out = (struct makings){0};
    if (basis->outline.n < 3)
        return fail(err, ERR_MISSING, "Work out the outline first, or enter a making by hand.",
                    "Without an outline no part can be laid out.");
    struct builder b = {.basis = basis, .out = out, .arena = arena, .err = err};
    out->makings = ARENA_NEW(arena, struct making, 2);
    out->parts = ARENA_NEW(arena, struct part, MOST_PARTS);
    out->steps = ARENA_NEW(arena, struct step, 2 * MOST_STEPS);
    if (!out->makings || !out->parts || !out->steps) return fail_memory(err);
    measure_outline(&b);
    const struct statement *form = statement_find(basis->said, "coil.form");
    if (!form || isnan(form->probability) || !has_part(&b, "coiled")) {
        build(&b, "proposed", "As proposed: likely sizes, gaps filled by stated rules", NULL, 1,
              false);
        return b.rc;
    }
    /* The likelier form is "proposed": its parts carry the short names that a maker reads. */
    bool cone = form->probability < 0.5;
    for (int k = 0; k < 2; k++, cone = !cone)
        build(&b,
              k == 0 ? "proposed"
              : cone ? "proposed.cone"
                     : "proposed.ring",
              cone ? "As proposed, the coiled part a cone"
                   : "As proposed, the coiled part a flat ring",
              cone ? "the coiled part is a cone" : "the coiled part is a flat ring",
              cone ? 1 - form->probability : form->probability, cone);
    return b.rc;
}
