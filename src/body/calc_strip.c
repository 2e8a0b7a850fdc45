/* The methods `strip` and `girth`. */
#include "body/body_methods.h"
#include "body/calc_field.h"
#include "body/strip.h"

#include <math.h>

/* ---- strip ---------------------------------------------------------------------------------- */

struct weather {
    double until, temperature, humidity;
    int inner_open, outer_open;
};
static const struct field weather_fields[] = {
    {AT(weather, until), .label = "Until day", .type = FIELD_REAL, .min = 0, .max = 400,
     .help = "None: to the end."},
    PRESET(weather, temperature, "Temperature", "°C", "18", "Of the air."),
    {AT(weather, humidity), .label = "Relative humidity", .unit = "percent", .type = FIELD_REAL,
     .required = true, .scale = 0.01, .min = 0, .max = 99, .help = "Of the air.", .example = "55"},
    FLAG(weather, inner_open, "Inner face open", "true", "Not lying on a board or sealed."),
    FLAG(weather, outer_open, "Outer face open", "true", "Not under a weight or sealed."),
};
static const struct kind weather_kind = {"weather", "Air for some days", sizeof(struct weather),
                                         FIELDS(weather_fields), ""};

struct strip_in {
    const char *material;
    long class;
    double thickness, outer_share, width, length, stem, moisture, diffusion, shrinkage, ring_radius;
    struct records air;
    long days;
    double held_days, former;
    struct records own;
};
static const struct field strip_in_fields[] = {
    MATERIAL(strip_in, "willow bark"),
    CLASS(strip_in),
    NEED_MM(strip_in, thickness, "Thickness", "Fresh, whole.", "5"),
    {AT(strip_in, outer_share), .label = "Share of outer bark", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 97,
     .help = "Of the thickness; 0 scraped to the bast; none: as the tables have it."},
    NEED_MM(strip_in, width, "Width", "Around the stem, fresh.", "60"),
    {AT(strip_in, length), .label = "Length", .unit = "mm", .type = FIELD_REAL, .preset = "300",
     .min = 1, .max = 1e5, .help = "Along the stem, fresh."},
    SIZE_MM(strip_in, stem, "Diameter over bark", "Of the stem; none for straight wood or hide."),
    {AT(strip_in, moisture), .label = "Moisture at first", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 5, .max = 400,
     .help = "None: green moisture of the tables."},
    {AT(strip_in, diffusion), .label = "Your diffusion coefficient", .unit = "m2/s",
     .type = FIELD_REAL, .scale = 1e6, .min = 0, .max = 1e-3, .above_min = true,
     .help = "Of bast or wood, from your own weighings."},
    {AT(strip_in, shrinkage), .label = "Your shrinkage around", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 80,
     .help = "Of bast or wood, fresh to dry, from your own strips."},
    SIZE_MM(strip_in, ring_radius, "Radius of the rings",
            "In a wooden lath: it cups away from them."),
    {AT(strip_in, air), .label = "Weather", .type = FIELD_RECORDS, .sub = &weather_kind,
     .required = true, .help = "One after the other."},
    {AT(strip_in, days), .label = "Days", .type = FIELD_INT, .preset = "14", .min = 1, .max = 400,
     .help = "To follow it."},
    PRESET(strip_in, held_days, "Held on a former", "days", "0", "0: free from the beginning."),
    REAL(strip_in, former, "Radius of the former", "mm", "None: flat; positive as on the tree."),
    OWN_VALUES(strip_in),
};
static const struct kind strip_in_kind = {"strip_in", "A strip and its weather",
                                          sizeof(struct strip_in), FIELDS(strip_in_fields), ""};

struct strip_row {
    double day, moisture, moisture_p05, moisture_p95, mass, width, width_p05, width_p95, length,
        thickness, thickness_p05, thickness_p95, radius, curvature_p05, curvature, curvature_p95,
        rise;
    int held;
};
#define MM_OUT(member, words, tip) REAL(strip_row, member, words, "mm", tip)
static const struct field row_fields[] = {
    REAL(strip_row, day, "Day", "", "After the beginning."),
    PERCENT(strip_row, moisture, "Moisture", "Of dry mass, middle."),
    PERCENT(strip_row, moisture_p05, "5 % point", "Of the moisture."),
    PERCENT(strip_row, moisture_p95, "95 % point", "Of the moisture."),
    PERCENT(strip_row, mass, "Mass", "Of the fresh mass: lay it on the scales."),
    MM_OUT(width, "Width", "At mid thickness, round the curl."),
    MM_OUT(width_p05, "5 % point", "Of the width."),
    MM_OUT(width_p95, "95 % point", "Of the width."),
    MM_OUT(length, "Length", "Middle."),
    MM_OUT(thickness, "Thickness", "Middle."),
    MM_OUT(thickness_p05, "5 % point", "Of the thickness."),
    MM_OUT(thickness_p95, "95 % point", "Of the thickness."),
    REAL(strip_row, curvature, "Curvature", "1/mm", "Positive as on the tree; middle."),
    REAL(strip_row, curvature_p05, "5 % point", "1/mm", "Of the curvature."),
    REAL(strip_row, curvature_p95, "95 % point", "1/mm", "Of the curvature."),
    MM_OUT(radius, "Radius", "Middle; negative: rolled the other way."),
    MM_OUT(rise, "Rise", "Of the width over its chord; none past half a turn."),
    FLAG(strip_row, held, "Held", NULL, "Still on the former."),
};
static const struct kind row_kind = {"strip_day", "A day of the strip", sizeof(struct strip_row),
                                     FIELDS(row_fields), ""};
struct strip_out {
    struct records days;
    const char *standing, *note;
};
static const struct field strip_out_fields[] = {
    {AT(strip_out, days), .label = "Day by day", .type = FIELD_RECORDS, .sub = &row_kind,
     .help = "From day 0."},
    WORDS(strip_out, standing, "Standing", "Of the weakest figure used."),
    WORDS(strip_out, note, "Note", "What to do with it."),
};
static const struct kind strip_out_kind = {"strip_out", "The strip day by day",
                                           sizeof(struct strip_out), FIELDS(strip_out_fields), ""};

static int spread_weather(struct strip_air *air, size_t days, const struct records *weather,
                          struct error *err) {
    const struct weather *w = weather->v;
    size_t at = 0;
    for (size_t day = 0; day < days; day++) {
        while (at + 1 < weather->n && !isnan(w[at].until) && (double)day >= w[at].until)
            at++;
        air[day] = (struct strip_air){w[at].temperature, w[at].humidity, w[at].inner_open == 1,
                                      w[at].outer_open == 1};
    }
    for (size_t i = 1; i < weather->n; i++)
        if (!(w[i - 1].until < (isnan(w[i].until) ? INFINITY : w[i].until)))
            return fail(err, ERR_RANGE, "Let `until` rise from one to the next.",
                        "Weather %zu ends before the one before it", i + 1);
    return 0;
}

static struct strip_row row_from(const struct strip_outcome *o) {
    struct strip_row r = {.day = o->day,
                          .moisture = o->moisture.p50,
                          .moisture_p05 = o->moisture.p05,
                          .moisture_p95 = o->moisture.p95,
                          .mass = o->mass.p50,
                          .width = o->width.p50,
                          .width_p05 = o->width.p05,
                          .width_p95 = o->width.p95,
                          .length = o->length.p50,
                          .thickness = o->thickness.p50,
                          .thickness_p05 = o->thickness.p05,
                          .thickness_p95 = o->thickness.p95,
                          .curvature = o->curvature.p50,
                          .curvature_p05 = o->curvature.p05,
                          .curvature_p95 = o->curvature.p95,
                          .rise = o->rise,
                          .held = o->held};
    r.radius = fabs(r.curvature) > 1e-7 ? 1 / r.curvature : NAN;
    return r;
}

static int strip_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct strip_in *in = in_;
    struct strip_out *out = out_;
    if (!in->air.n) return fail(err, ERR_MISSING, "Give at least one weather.", "No air to dry in");
    size_t days = (size_t)in->days;
    struct strip_air *air = ARENA_NEW(arena, struct strip_air, days);
    struct strip_outcome *o = ARENA_NEW(arena, struct strip_outcome, days + 1);
    struct strip_row *rows = ARENA_NEW(arena, struct strip_row, days + 1);
    if (!air || !o || !rows) return fail_memory(err);
    int rc = spread_weather(air, days, &in->air, err);
    struct strip_case c = {.material = in->material,
                           .class = in->class,
                           .thickness = in->thickness,
                           .outer_share = in->outer_share,
                           .width = in->width,
                           .length = in->length,
                           .stem = in->stem,
                           .moisture = in->moisture,
                           .diffusion = in->diffusion,
                           .shrinkage = in->shrinkage,
                           .ring_radius = isnan(in->ring_radius) ? INFINITY : in->ring_radius,
                           .air = air,
                           .days = days,
                           .held_days = in->held_days,
                           .former = in->former};
    struct stuff_shelf *shelf;
    if (!rc) rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    long standing = 0;
    rc = strip_days(o, &standing, shelf, &c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    for (size_t i = 0; i <= days; i++)
        rows[i] = row_from(&o[i]);
    out->days = (struct records){days + 1, rows};
    out->standing = standing_words[standing];
    out->note =
        "Lay a strip beside it: weigh it and measure width, thickness and rise each day. Your own "
        "diffusion and shrinkage then replace the tables'.";
    return 0;
}

const struct method body_method_strip = {
    "strip",
    "A strip drying day by day: moisture, mass, width, thickness and curl, with a band",
    "finite volumes through the thickness; two layers that shrink, stiffen, creep and set "
    "(Timoshenko 1925 in increments); figures: tables of this program",
    "The band is that of the tables over 64 strips: for bark it is wide. Curvature is positive as "
    "on the "
    "tree. Dries through the faces only.",
    &strip_in_kind,
    &strip_out_kind,
    strip_run,
    "{\"material\": \"willow bark\", \"thickness\": 5, \"width\": 60, \"stem\": 160, \"air\": "
    "[{\"humidity\": 60}], \"days\": 14, \"held_days\": 7}"};

/* ---- girth ---------------------------------------------------------------------------------- */

struct girth_in {
    double width, shrink, trim, share;
};
static const struct field girth_in_fields[] = {
    NEED_MM(girth_in, width, "Finished width", "Of the dry sheet.", "410"),
    {AT(girth_in, shrink), .label = "Shrinkage around", .unit = "percent", .type = FIELD_REAL,
     .required = true, .scale = 0.01, .min = 0, .max = 60, .help = "Fresh to dry.", .example = "6"},
    {AT(girth_in, trim), .label = "Trim", .unit = "mm", .type = FIELD_REAL, .preset = "25",
     .min = 0, .max = 1000, .help = "At each side."},
    {AT(girth_in, share), .label = "Share of the girth", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .preset = "100", .min = 1, .max = 100,
     .help = "That may be taken: 100 from a cut stem, at most 25 from a standing tree."},
};
static const struct kind girth_in_kind = {"girth_in", "A sheet that is wanted",
                                          sizeof(struct girth_in), FIELDS(girth_in_fields), ""};
struct girth_out {
    double bark, girth, diameter;
};
static const struct field girth_out_fields[] = {
    REAL(girth_out, bark, "Bark to cut", "mm", "Around, fresh, at mid thickness."),
    REAL(girth_out, girth, "Girth", "mm",
         "At mid thickness; over bark it is more by pi times the thickness."),
    REAL(girth_out, diameter, "Diameter", "mm", "At mid thickness."),
};
static const struct kind girth_out_kind = {"girth_out", "The stem it takes",
                                           sizeof(struct girth_out), FIELDS(girth_out_fields), ""};

static int girth_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    (void)err;
    const struct girth_in *in = in_;
    struct strip_girth g = strip_girth_needed(in->width, in->shrink, in->trim, in->share);
    *(struct girth_out *)out_ = (struct girth_out){g.bark, g.girth, g.diameter};
    return 0;
}

const struct method body_method_girth = {
    "girth",
    "Girth of stem that a sheet of finished width takes",
    "geometry: width / (1 - shrinkage) + two trims, over the share of the girth",
    "Bark taken all round a standing tree kills it. Owner's consent, local rules and nests come "
    "first.",
    &girth_in_kind,
    &girth_out_kind,
    girth_run,
    "{\"width\": 410, \"shrink\": 6, \"trim\": 25, \"share\": 25}"};
