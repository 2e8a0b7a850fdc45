/* calc_stem: `relict calc sheet-from-stem`, `wound-closing`, `cord-length`, `coil-length`, `paint`.
 */
#include "gather/describe.h"
#include "gather/gather_methods.h"
#include "gather/need.h"
#include "gather/stem.h"

#include <math.h>

/* ---- sheet-from-stem --------------------------------------------------------------------------
 */

static const struct field route_fields[] = {
    F_TEXT(stem_route, what, "Way", "How the sheet could be had."),
    F_TEXT(stem_route, kind, "Stem", "Kind of stem."),
    F_OUT(stem_route, pieces, "Sheets", "", "2: with a seam."),
    F_OUT_SHARE(stem_route, share, "Share of girth", "Taken."),
    F_OUT(stem_route, girth_mid, "Girth at mid thickness", "mm", "Needed."),
    F_OUT(stem_route, girth, "Girth over bark", "mm", "Needed."),
    F_OUT(stem_route, diameter, "Diameter over bark", "mm", "Needed."),
    F_OUT_SHARE(stem_route, strain, "Flattening strain", "Thickness over diameter."),
    F_OUT(stem_route, wound_width, "Wound width", "mm", "Bare wood on a living tree."),
    F_OUT(stem_route, close_usual, "Years to close", "years", "At the usual rate."),
    F_OUT(stem_route, close_fast, "Years, fast", "years", "At the fastest rate."),
    F_OUT(stem_route, close_slow, "Years, slow", "years", "At the slowest rate."),
    F_TEXT(stem_route, harm, "Harm", "To the tree or stool."),
    F_TEXT(stem_route, permit, "Needs", "Consent and approval; local law comes first."),
    F_TEXT(stem_route, conflict, "Season", "What speaks against the season."),
};
static const struct kind route_kind = {"stem_route", "A way to get a sheet",
                                       sizeof(struct stem_route), FIELDS(route_fields), ""};

struct sheet_in {
    struct sheet_want want;
    struct stem stem;
    struct reals closing;
};
#define WANT(member) .name = #member, .offset = offsetof(struct sheet_in, want.member)
static const struct field sheet_in_fields[] = {
    {WANT(around), .label = "Finished size across", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "Across the grain, new and dry."},
    {WANT(along), .label = "Finished size along", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "Along the grain, new and dry."},
    {WANT(shrink_around), .label = "Shrinkage across", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .max = 90, .required = true, .help = "Of the fresh size."},
    {WANT(shrink_along), .label = "Shrinkage along", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .max = 90, .required = true, .help = "Of the fresh size."},
    {WANT(trim_around), .label = "Trim across", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .preset = "25", .help = "On each side."},
    {WANT(trim_along), .label = "Trim along", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .preset = "50", .help = "On each side."},
    {WANT(thickness), .label = "Bark", .unit = "mm", .type = FIELD_REAL, .max = 100,
     .above_min = true, .required = true, .help = "Thickness of the fresh bark."},
    {AT(sheet_in, stem), .label = "Stem", .type = FIELD_RECORD, .sub = &stem_kind_kind,
     .help = "A stem that was measured; leave it out to see only what would be needed."},
    {AT(sheet_in, closing), .label = "Closing rates", .unit = "mm/year", .type = FIELD_REALS,
     .help = "Slow, usual, fast, of the width of wounds; left out: the tree table."},
};
static const struct kind sheet_in_kind = {"sheet_from_stem", "A sheet and a stem",
                                          sizeof(struct sheet_in), FIELDS(sheet_in_fields), ""};

struct sheet_out {
    double around, along;
    struct records routes;
    struct stem_answer stem;
    long fits;
};
#define ANSWER(member) .name = "stem_" #member, .offset = offsetof(struct sheet_out, stem.member)
static const struct field sheet_out_fields[] = {
    F_OUT(sheet_out, around, "Bark across", "mm", "To take, fresh, at mid thickness."),
    F_OUT(sheet_out, along, "Bark along", "mm", "To take, fresh."),
    F_LIST(sheet_out, routes, "Ways", route_kind, "In a fixed order; none is preferred."),
    {AT(sheet_out, fits), .label = "This stem gives it", .type = FIELD_INT, .help = "1 yes, 0 no."},
    {ANSWER(top_girth_mid), .label = "Its girth at the top of the sheet", .unit = "mm",
     .type = FIELD_REAL, .help = "At mid thickness."},
    {ANSWER(share), .label = "Share of that", .unit = "percent", .scale = 0.01, .type = FIELD_REAL,
     .help = "Over 100: too thin."},
    {ANSWER(strain), .label = "Flattening strain", .unit = "percent", .scale = 0.01,
     .type = FIELD_REAL, .help = "Thickness over diameter."},
    {ANSWER(close_usual), .label = "Years to close", .unit = "years", .type = FIELD_REAL,
     .help = "At the usual rate; 0 when no living tree is wounded."},
    {ANSWER(harm), .label = "Harm", .type = FIELD_TEXT, .help = "To this stem."},
    {ANSWER(permit), .label = "Needs", .type = FIELD_TEXT, .help = "Consent and approval."},
    {ANSWER(conflict), .label = "Season", .type = FIELD_TEXT,
     .help = "What speaks against the season."},
    {ANSWER(say), .label = "What stands in the way", .type = FIELD_TEXT,
     .help = "And what else could be done."},
};
static const struct kind sheet_out_kind = {"sheet_from_stem_answer", "What it takes",
                                           sizeof(struct sheet_out), FIELDS(sheet_out_fields), ""};

static int read_closing(struct closing *c, const struct reals *r, struct error *err) {
    *c = gather_closing_default;
    if (r->n == 0) return 0;
    if (r->n != 3 || !(r->v[0] > 0) || !(r->v[1] >= r->v[0]) || !(r->v[2] >= r->v[1]))
        return fail(err, ERR_RANGE, "Give three rates that rise, for example [9.5, 18.4, 21.8].",
                    "Closing rates must be slow, usual and fast, above 0.");
    *c = (struct closing){r->v[0], r->v[1], r->v[2], "given"};
    return 0;
}

static int run_sheet(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct sheet_in *i = in;
    struct sheet_out *o = out;
    struct closing c;
    size_t n = 0;
    struct stem_route *route = ARENA_NEW(arena, struct stem_route, STEM_ROUTES);
    if (!route) return fail_memory(err);
    int rc = read_closing(&c, &i->closing, err);
    if (!rc) rc = gather_sheet_cut(&o->around, &o->along, &i->want, err);
    if (!rc) rc = gather_stem_routes(route, &n, &i->want, &c, arena, err);
    if (rc) return rc;
    o->routes = (struct records){n, route};
    if (i->stem.id) {
        rc = gather_stem_answer(&o->stem, &i->stem, &i->want, &c, arena, err);
        o->fits = o->stem.fits;
    } else
        o->stem.top_girth_mid = o->stem.share = o->stem.strain = o->stem.close_usual = NAN;
    return rc;
}

const struct method gather_method_sheet = {
    "sheet-from-stem",
    "Works out the bark to take for a finished sheet and every way to get it",
    "geometry; harm by share of girth: tree-care advice; "
    "closing of wounds: "
    "Univ. of Padua repository 3396935, Neely 1979",
    "The sheet is measured at mid thickness and cut in whole mm. Harm and closing are starting "
    "ranges, no "
    "verdict on a tree: owner, local law and licensed people decide.",
    &sheet_in_kind,
    &sheet_out_kind,
    run_sheet,
    "{\"around\": 340, \"along\": 520, \"shrink_around\": 6, \"shrink_along\": 0.5, "
    "\"trim_around\": 25, "
    "\"trim_along\": 50, \"thickness\": 4}",
};

/* ---- wound-closing ----------------------------------------------------------------------------
 */

struct closing_in {
    double width;
    struct records visits;
    struct reals closing;
};
static const struct field closing_in_fields[] = {
    F_MM(closing_in, width, "Wound width", "Of a wound that is planned or new."),
    F_LIST(closing_in, visits, "Visits", stem_visit_kind, "Widths seen in later years."),
    {AT(closing_in, closing), .label = "Closing rates", .unit = "mm/year", .type = FIELD_REALS,
     .help = "Slow, usual, fast; left out: the tree table."},
};
static const struct kind closing_in_kind = {"wound", "A wound", sizeof(struct closing_in),
                                            FIELDS(closing_in_fields), ""};
struct closing_out {
    double usual, fast, slow, rate, low, high, left, last;
    const char *word, *rates_from;
};
static const struct field closing_out_fields[] = {
    F_OUT(closing_out, usual, "Years to close", "years", "At the usual rate."),
    F_OUT(closing_out, fast, "Fast", "years", "At the fastest rate."),
    F_OUT(closing_out, slow, "Slow", "years", "At the slowest rate."),
    F_OUT(closing_out, rate, "Rate seen", "mm/year",
          "Least squares through the visits, both edges together."),
    F_OUT(closing_out, low, "Rate from", "mm/year", "95 %; left out with two visits."),
    F_OUT(closing_out, high, "Rate to", "mm/year", "95 %."),
    F_OUT(closing_out, left, "Years left", "years", "From the last visit at the rate seen."),
    F_OUT(closing_out, last, "Last width", "mm", "At the last visit."),
    F_TEXT(closing_out, word, "Healing", "As expected, slower, faster, or cannot tell yet."),
    F_TEXT(closing_out, rates_from, "Rates from", "What it is compared with."),
};
static const struct kind closing_out_kind = {
    "wound_answer", "How it closes", sizeof(struct closing_out), FIELDS(closing_out_fields), ""};

static double known(double v) {
    return isfinite(v) ? v : NAN;
}

static int run_closing(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct closing_in *i = in;
    struct closing_out *o = out;
    struct closing c;
    (void)arena;
    int rc = read_closing(&c, &i->closing, err);
    if (rc) return rc;
    if (isnan(i->width) && i->visits.n == 0)
        return fail(err, ERR_MISSING, "Give a width, or visits.",
                    "There is neither a width nor a visit.");
    o->usual = i->width / c.usual;
    o->fast = i->width / c.fast;
    o->slow = i->width / c.slow;
    o->rates_from = c.source;
    if (i->visits.n == 0) return 0;
    struct healing_fit f;
    rc = gather_healing(&f, i->visits.v, i->visits.n, &c, err);
    if (rc) return rc;
    o->rate = f.rate;
    o->low = known(f.low);
    o->high = known(f.high);
    o->left = known(f.years_left);
    o->last = f.last_width;
    o->word = healing_words[f.word];
    return 0;
}

const struct method gather_method_closing = {
    "wound-closing",
    "Works out how long a wound takes to close, and whether later visits agree",
    "wound width of oriental beech, 18.4 +- 3.4 mm a year (Univ. of Padua repository 3396935); "
    "shade trees (Neely "
    "1979, J. Arboriculture 5, 135)",
    "Width decides, not length. Wide wounds may never close: 12 % of the beech wounds had after "
    "five years.",
    &closing_in_kind,
    &closing_out_kind,
    run_closing,
    "{\"width\": 92, \"visits\": [{\"id\": \"v1\", \"date\": \"2026-06-01\", \"wound_width\": 92}, "
    "{\"id\": "
    "\"v2\", \"date\": \"2027-06-02\", \"wound_width\": 75}, {\"id\": \"v3\", \"date\": "
    "\"2028-06-01\", "
    "\"wound_width\": 57}]}",
};

/* ---- cord, coil, paint -------------------------------------------------------------------------
 */

struct cord_in {
    double stitches, pitch, perimeter, thickness, rim_width, rim_height, sheet, waste;
    long stitch;
};
static const struct field cord_in_fields[] = {
    {AT(cord_in, stitches), .label = "Stitches", .type = FIELD_REAL, .max = 1e6, .required = true,
     .help = "How many."},
    {AT(cord_in, pitch), .label = "Spacing", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .required = true, .help = "From hole to hole."},
    F_CHOICE(cord_in, stitch, "Stitch", stitch_words, "How it runs; wrapped unless said."),
    F_MM(cord_in, perimeter, "Way round", "Of the section a wrapped stitch goes round."),
    F_MM(cord_in, rim_width, "Rim width", "Of one half-round rod; in place of the way round."),
    F_MM(cord_in, rim_height, "Rim height", "Of one half-round rod."),
    F_MM(cord_in, sheet, "Sheet", "Thickness between the two rods."),
    F_MM(cord_in, thickness, "Through", "Thickness a running stitch goes through."),
    {AT(cord_in, waste), .label = "Waste", .unit = "percent", .scale = 0.01, .type = FIELD_REAL,
     .max = 500, .preset = "30", .help = "For joins and ends."},
};
static const struct kind cord_in_kind = {"cord", "A row of stitches", sizeof(struct cord_in),
                                         FIELDS(cord_in_fields), ""};
struct cord_out {
    double perimeter, length;
};
static const struct field cord_out_fields[] = {
    F_OUT(cord_out, perimeter, "Way round", "mm", "Used."),
    F_OUT(cord_out, length, "Cord", "mm", "With waste."),
};
static const struct kind cord_out_kind = {"cord_answer", "Its length", sizeof(struct cord_out),
                                          FIELDS(cord_out_fields), ""};

static int run_cord(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct cord_in *i = in;
    struct cord_out *o = out;
    (void)arena;
    enum stitch stitch = i->stitch == FIELD_UNKNOWN ? STITCH_WRAPPED : (enum stitch)i->stitch;
    o->perimeter = i->perimeter;
    if (isnan(o->perimeter) && i->rim_width > 0 && i->rim_height > 0)
        o->perimeter =
            gather_rim_perimeter(i->rim_width, i->rim_height, i->sheet > 0 ? i->sheet : 0);
    o->length =
        gather_cord_length(stitch, i->stitches, i->pitch, o->perimeter, i->thickness, i->waste);
    if (isnan(o->length))
        return fail(err, ERR_MISSING,
                    stitch == STITCH_WRAPPED
                        ? "Give the way round, or the width and height of the rim rods."
                        : "Give the thickness it goes through.",
                    "The length of cord hangs on a number that is missing.");
    return 0;
}

const struct method gather_method_cord = {
    "cord-length",
    "Works out the cord a row of stitches takes",
    "makers' rule: way round the section and the spacing, 30 % for joins; "
    "perimeter of an "
    "ellipse: Ramanujan 1914",
    NULL,
    &cord_in_kind,
    &cord_out_kind,
    run_cord,
    "{\"stitches\": 78, \"pitch\": 18.3, \"stitch\": \"wrapped\", \"rim_width\": 14, "
    "\"rim_height\": 7, \"sheet\": "
    "2.7}",
};

struct coil_in {
    double inner, outer, slant, pitch, per_10_mm;
};
static const struct field coil_in_fields[] = {
    {AT(coil_in, inner), .label = "Inner radius", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .preset = "0", .help = "Of a flat ring."},
    {AT(coil_in, outer), .label = "Outer radius", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "Of a flat ring, or the edge of a cone."},
    F_MM(coil_in, slant, "Slant", "Of a cone, from tip to edge; left out: a flat ring."),
    {AT(coil_in, pitch), .label = "Round to round", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .above_min = true, .required = true, .help = "From the middle of one round to the next."},
    F_REAL(coil_in, per_10_mm, "Stitches in 10 mm", "", 0, 100, "Along the foundation."),
};
static const struct kind coil_in_kind = {"coil", "Coiled work", sizeof(struct coil_in),
                                         FIELDS(coil_in_fields), ""};
struct coil_out {
    double length, rounds, stitches, half_angle;
};
static const struct field coil_out_fields[] = {
    F_OUT(coil_out, length, "Foundation", "mm", "Length of rod."),
    F_OUT(coil_out, rounds, "Rounds", "", "How many."),
    F_OUT(coil_out, stitches, "Stitches", "", "In all."),
    {AT(coil_out, half_angle), .label = "Half angle", .unit = "degrees", .type = FIELD_REAL,
     .scale = 0.017453292519943295, .help = "Of a cone."},
};
static const struct kind coil_out_kind = {"coil_answer", "What it takes", sizeof(struct coil_out),
                                          FIELDS(coil_out_fields), ""};

static int run_coil(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct coil_in *i = in;
    struct coil_out *o = out;
    (void)arena;
    bool cone = i->slant > 0;
    if ((cone && i->slant < i->outer) || (!cone && i->inner >= i->outer))
        return fail(err, ERR_RANGE, "Check the radii and the slant.",
                    cone ? "The slant %g mm is shorter than the edge radius %g mm."
                         : "The inner radius %g mm is not under the outer one, %g mm.",
                    cone ? i->slant : i->inner, i->outer);
    o->length = cone ? gather_cone_length(i->outer, i->slant, i->pitch)
                     : gather_coil_length(i->inner, i->outer, i->pitch);
    o->rounds = (cone ? i->slant : i->outer - i->inner) / i->pitch;
    o->stitches = o->length * i->per_10_mm / 10;
    o->half_angle = cone ? asin(i->outer / i->slant) : NAN;
    return 0;
}

const struct method gather_method_coil = {
    "coil-length", "Works out rod and stitches of coiled work, flat or as a cone",
    "geometry",    NULL,
    &coil_in_kind, &coil_out_kind,
    run_coil,      "{\"inner\": 20, \"outer\": 59, \"pitch\": 6.5, \"per_10_mm\": 5}",
};

struct paint_in {
    double area_cm2, coats, grams;
};
static const struct field paint_in_fields[] = {
    {AT(paint_in, area_cm2), .label = "Area", .unit = "cm2", .type = FIELD_REAL, .max = 1e6,
     .required = true, .help = "To be painted."},
    {AT(paint_in, coats), .label = "Coats", .type = FIELD_REAL, .max = 20, .preset = "2",
     .help = "How many."},
    {AT(paint_in, grams), .label = "Earth a coat", .unit = "g/m2", .type = FIELD_REAL, .max = 1000,
     .preset = "70", .help = "Dry; 40 to 100 on bark."},
};
static const struct kind paint_in_kind = {"paint", "A painted area", sizeof(struct paint_in),
                                          FIELDS(paint_in_fields), ""};
struct paint_out {
    double grams;
};
static const struct field paint_out_fields[] = {
    F_OUT(paint_out, grams, "Dry earth", "g", "In all.")};
static const struct kind paint_out_kind = {"paint_answer", "Paint", sizeof(struct paint_out),
                                           FIELDS(paint_out_fields), ""};

static int run_paint(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct paint_in *i = in;
    (void)arena;
    (void)err;
    ((struct paint_out *)out)->grams = gather_paint(i->area_cm2 * 100, i->coats, i->grams);
    return 0;
}

const struct method gather_method_paint = {
    "paint",
    "Works out the dry earth a painted area takes",
    "common practice, no source",
    NULL,
    &paint_in_kind,
    &paint_out_kind,
    run_paint,
    "{\"area_cm2\": 1500, \"coats\": 2, \"grams\": 70}",
};
