/* The sheet pressed flat, rival by rival. A sheet bent one way flattens as it is. One bent both
 * ways cannot: the rim of a disc of radius r on a sphere R is short of 2 pi r by w = 2 pi r (1 -
 * sin(rho)/rho), rho = r/R, and either stretches by w over its length or splits; a saddle has too
 * much rim and folds (Gauss 1827; the series in shape/curve.h). So the largest piece found in one
 * says how tight a dome can have been.
 *
 * A cone is bent one way everywhere but at its tip. With half opening t, the circle at distance l
 * from the tip along the surface is 2 pi l sin t round and lacks 2 pi l (1 - sin t): the whole
 * splits from the tip to the rim, or folds double along two lines. A piece that holds the tip lacks
 * the same share at every distance (tip within); one beside it lies flat (tip outside). A flat ring
 * lies flat, coiled or not.
 */
#include "job/stage_pressed.h"

#include "shape/curve.h"
#include "stuff/material.h"

#include <math.h>
#include <string.h>

struct sheet_piece {
    const struct piece *piece;
    const struct measure *length, *width;
    double radius; /* mm: of the disc of the same area */
};

/* The largest piece of bark or hide that was measured both ways. */
static bool largest(struct sheet_piece *out, const struct find *f) {
    *out = (struct sheet_piece){0};
    for (size_t i = 0; i < f->piece_count; i++) {
        const struct piece *p = &f->pieces[i];
        bool sheet = p->substance == SUBSTANCE_BARK || p->substance == SUBSTANCE_HIDE;
        const struct measure *l = find_measure_of(f, p->id, QUANTITY_LENGTH),
                             *w = find_measure_of(f, p->id, QUANTITY_WIDTH);
        if (!sheet || p->shape_only == 1 || p->belongs < 0.5 || !l || !w) continue;
        if (!(l->value > 0) || !(w->value > 0)) continue;
        double radius = sqrt(l->value * w->value / 4); /* an oval l x w: area pi l w/4 */
        if (radius > out->radius) *out = (struct sheet_piece){p, l, w, radius};
    }
    return out->piece != NULL;
}

/* What the rim of a disc of geodesic radius r on a sphere lacks, mm; negative R: has too much. */
static double rim_lacks(double r, double R) {
    double rho = fabs(r / R), share = rho < 1e-6 ? rho * rho / 6
                                      : R > 0    ? 1 - sin(rho) / rho
                                                 : 1 - sinh(rho) / rho;
    return 2 * M_PI * r * share;
}

/* The radius at which the rim of a disc of radius r lacks the share `strain`: rho²/6 - rho⁴/120. */
static double dome_radius(double r, double strain) {
    double rho2 = 10 - sqrt(fmax(100 - 120 * strain, 0));
    return r / sqrt(rho2);
}

struct pressed {
    struct stage_run *run;
    struct sheet_piece piece;
    struct stuff_prior limit; /* strain at which wet sheet of its kind tears; fraction */
    bool has_limit;
    double whole; /* mm: radius of the disc as large as the outline; NAN unknown */
    json_t *rows;
};

static json_t *tenth_or_none(double v) {
    return isfinite(v) ? json_real(round(10 * v) / 10) : json_string("");
}

/* One form. whole: mm that the rim of the whole lacks; strain: share that the rim of the largest
 * piece lacks; either below 0: has too much, which folds and does not tear; NAN: nothing to say. */
static void row(const struct pressed *p, const char *form, double bent, double whole,
                double strain) {
    const char *apart = strstr(form, "cone") ? "splits or doubles" : "splits";
    const char *then = whole > 0.05 ? apart : whole < -0.05 ? "folds" : "lies flat";
    double chance = strain <= 0     ? 1
                    : isnan(strain) ? NAN
                    : p->has_limit  ? num_dist_tail(&p->limit.dist, strain)
                                    : NAN;
    json_array_append_new(
        p->rows,
        json_pack("[s,o,s,o,o,o]", form, tenth_or_none(fabs(bent)), isnan(whole) ? "" : then,
                  tenth_or_none(fabs(whole)), tenth_or_none(100 * fabs(strain)),
                  isnan(chance) ? json_string("") : json_real(round(100 * chance))));
}

/* Bent both ways alike; R with its sign as in rim_lacks. */
static void domed(const struct pressed *p, const char *form, double R) {
    double r = p->piece.radius;
    row(p, form, R, isnan(p->whole) ? NAN : rim_lacks(p->whole, R),
        rim_lacks(r, R) / (2 * M_PI * r));
}

/* A cone of sheet; half: of its opening, rad. */
static void coned(const struct pressed *p, double half) {
    double lacks = 1 - sin(half), whole = isnan(p->whole) ? NAN : 2 * M_PI * p->whole * lacks;
    const char *form =
        arena_printf(p->run->arena, "cone of half angle %.0f°, tip within", half * 180 / M_PI);
    row(p, form ? form : "cone, tip within", NAN, whole, lacks);
    row(p, "such a cone, tip outside", NAN, whole, 0);
}

/* The coiled part, a sheet of its own: flat ring, or the cone worked out from its pieces. */
static void coiled(const struct pressed *p) {
    const struct statement *edge = statement_find(p->run->said, "coil.cone.edge"),
                           *slant = statement_find(p->run->said, "coil.cone.slant");
    if (statement_find(p->run->said, "coil.ring.radius"))
        row(p, "coiled part: flat ring", NAN, 0, NAN);
    if (edge && slant)
        row(p, "coiled part: cone", NAN, 2 * M_PI * (slant->value.p50 - edge->value.p50), NAN);
}

static int table(struct pressed *p, struct error *err) {
    static const double dome[] = {2000, 1000, 600, 400, 250}, half[] = {85, 75};
    p->rows = stage_table(p->run, "pressed", "Pressed flat in the ground, form by form",
                          "form|bent to, mm|then|open or folded round the whole rim, mm|"
                          "strain at the rim of the largest piece, percent|chance that it stayed "
                          "whole, percent");
    if (!p->rows) return fail_memory(err);
    row(p, "flat", NAN, 0, 0);
    row(p, "bent one way", 400, 0, 0);
    for (size_t i = 0; i < sizeof dome / sizeof dome[0]; i++)
        domed(p, "domed both ways", dome[i]);
    domed(p, "saddle", -600);
    for (size_t i = 0; i < sizeof half / sizeof half[0]; i++)
        coned(p, half[i] * M_PI / 180);
    coiled(p);
    return 0;
}

static int say(const struct pressed *p, struct error *err) {
    struct statement s = statement_blank();
    double *q[] = {&s.value.p005, &s.value.p05, &s.value.p25, &s.value.p50,
                   &s.value.p75,  &s.value.p95, &s.value.p995};
    static const double at[] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    s.id = "curve.pressed.dome";
    s.step = "curve";
    s.about = "object";
    s.quantity = "radius of a dome";
    s.sentence = "If the sheet was domed both ways, it was no tighter than this: the largest piece "
                 "would have split when it was pressed flat.";
    s.unit = "mm";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = p->limit.standing;
    for (int i = 0; i < 7; i++) /* the more it stretches, the tighter it may have been */
        *q[i] = dome_radius(p->piece.radius, num_dist_quantile(&p->limit.dist, 1 - at[i]));
    s.rule = "the rim of the piece would have to stretch by a sixth of the square of its radius "
             "over the dome's; wet sheet tears at the strain in the table";
    s.source = p->limit.source;
    s.rival = "it did split, and its torn edges are the splits";
    s.caution = "nobody noted whether its torn edges gape towards the rim, as such splits do";
    struct arena *arena = p->run->arena;
    int rc = statement_link_add(&s, "measure", p->piece.length->id, "reading", arena, err);
    if (!rc) rc = statement_link_add(&s, "measure", p->piece.width->id, "reading", arena, err);
    const char *fact = arena_printf(arena, "%s:%ld", p->limit.table, p->limit.line);
    if (!rc && !fact) rc = fail_memory(err);
    if (!rc && p->limit.table)
        rc = statement_link_add(&s, "fact", fact, "strain at which it tears", arena, err);
    return rc ? rc : statement_add(p->run->said, &s, err);
}

int stage_pressed(struct stage_run *r, struct error *err) {
    struct pressed p = {.run = r, .whole = NAN};
    if (!largest(&p.piece, &r->now->find)) return 0;
    const struct statement *area = statement_find(r->said, "outline.area");
    if (area && area->value.p50 > 0) p.whole = sqrt(area->value.p50 / M_PI);
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    struct stuff_ask ask =
        stuff_ask(p.piece.piece->material ? p.piece.piece->material : "", STUFF_BEND_STRAIN);
    struct error none = {0};
    ask.direction = STUFF_ALONG; /* the rim runs both ways: it tears where it gives least */
    ask.state = STUFF_FRESH;     /* wet in the ground, as when it was cut */
    p.has_limit = stuff_material_prior(&p.limit, shelf, &ask, &none) == 0;
    rc = table(&p, err);
    if (!rc && p.has_limit) rc = say(&p, err);
    stuff_shelf_free(shelf);
    return rc;
}
