/* The methods `bending`, `curl` and `release`. */
#include "body/bend.h"
#include "body/body_methods.h"
#include "body/calc_field.h"

#include <math.h>
#include <string.h>

/* ---- bending -------------------------------------------------------------------------------- */

struct bending_in {
    const char *material;
    long class, layer, direction;
    double thickness, stem, from_radius, to_radius;
    struct records own;
};
static const struct field bending_in_fields[] = {
    MATERIAL(bending_in, "willow rod"),
    CLASS(bending_in),
    LAYER(bending_in),
    CHOICE(bending_in, direction, "Direction of the strain", stuff_direction_words, NULL,
           "Along the grain for rods and laths, around for a sheet taken off a stem."),
    NEED_MM(bending_in, thickness, "Thickness", "In the plane of bending.", "11"),
    SIZE_MM(bending_in, stem, "Diameter over bark",
            "Of the stem a bark sheet comes from; it is flattened from there."),
    REAL(bending_in, from_radius, "Radius before", "mm", "Of the middle; none: straight."),
    REAL(bending_in, to_radius, "Radius after", "mm",
         "Of the middle; none: flat. Negative: bent the other way than on the tree."),
    OWN_VALUES(bending_in),
};
static const struct kind bending_in_kind = {"bending_in", "What is bent", sizeof(struct bending_in),
                                            FIELDS(bending_in_fields), ""};
struct bending_out {
    double strain, radius_before;
    struct records tries;
    const char *best, *stretched, *makers;
};
static const struct field bending_out_fields[] = {
    PERCENT(bending_out, strain, "Strain", "Of the stretched face, sound section."),
    REAL(bending_out, radius_before, "Radius before", "mm", "Of the middle."),
    WORDS(bending_out, stretched, "Stretched face", "Where a crack would open."),
    {AT(bending_out, tries), .label = "States", .type = FIELD_RECORDS, .sub = &bend_try_kind,
     .help = "What would do instead: every state with its chance and its limits."},
    WORDS(bending_out, best, "Easiest that will do", "First state with under one crack in twenty."),
    WORDS(bending_out, makers, "Makers say", "Printed beside; nothing is tuned to it."),
};
static const struct kind bending_out_kind = {"bending_out", "Strain and chances",
                                             sizeof(struct bending_out), FIELDS(bending_out_fields),
                                             ""};

#define ONE_IN_TWENTY 0.05

static double curvature(double radius) {
    return isnan(radius) || isinf(radius) ? 0 : 1 / radius;
}

/* Cold strips by a maker's table: thickness for radii (one source, second-hand). */
static const char *makers_say(double thickness, double radius, struct arena *arena) {
    static const double table[][3] = {
        {2.4, 50, 100}, {3.2, 100, 200}, {4.8, 200, 300}, {6.4, 300, 1e9}};
    if (isnan(radius)) return NULL;
    for (size_t i = 0; i < 4; i++)
        if (fabs(radius) >= table[i][1] && fabs(radius) < table[i][2])
            return arena_printf(
                arena,
                "thin strips of %.1f mm go to %.0f mm and more (one table, second-hand); "
                "yours is %.1f mm. Cold, inner radius 20 to 30 thicknesses.",
                table[i][0], table[i][1], thickness);
    return arena_printf(arena, "under 50 mm makers twist the rod or take it thinner");
}

static int bending_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct bending_in *in = in_;
    struct bending_out *out = out_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    double before = isnan(in->stem) ? curvature(in->from_radius)
                                    : 1 / bend_radius_on_stem(in->stem, in->thickness);
    long direction = in->direction;
    if (direction == FIELD_UNKNOWN) direction = isnan(in->stem) ? STUFF_ALONG : STUFF_AROUND;
    struct bend_case c = {in->material,
                          in->class,
                          direction,
                          in->layer,
                          in->thickness,
                          before,
                          curvature(in->to_radius)};
    struct bend_try tries[BEND_TRIES_MOST];
    size_t n;
    rc = bend_tries(tries, &n, &out->strain, shelf, &c, err);
    struct bend_try *kept = rc ? NULL : ARENA_NEW(arena, struct bend_try, n);
    for (size_t i = 0; kept && i < n; i++) {
        kept[i] = tries[i];
        kept[i].source = arena_strdup(arena, tries[i].source);
        if (!out->best && tries[i].cracks < ONE_IN_TWENTY) out->best = tries[i].state;
    }
    stuff_shelf_free(shelf);
    if (rc) return rc;
    if (!kept) return fail_memory(err);
    out->tries = (struct records){n, kept};
    if (!out->best) out->best = "none of these: thinner, a wider radius, or split and lay two";
    out->radius_before = before != 0 ? 1 / before : NAN;
    double change = c.to_curvature - c.from_curvature;
    out->stretched = change < 0 ? "inner (tree side)" : change > 0 ? "outer" : "none";
    out->makers = makers_say(in->thickness, in->to_radius, arena);
    return 0;
}

const struct method body_method_bending = {
    "bending",
    "Strain of bending a rod, lath or rim or of flattening bark, and what would do instead",
    "strain t |1/R1 - 1/R0| / 2; limits: tables of this program, each with its standing",
    "Twisting opens the fibres and goes further; a strap holds the outer face so that the inner "
    "one "
    "gives. Knots, lenticels and short grain crack first.",
    &bending_in_kind,
    &bending_out_kind,
    bending_run,
    "{\"material\": \"willow rod\", \"thickness\": 11, \"to_radius\": 140}"};

/* ---- curl ----------------------------------------------------------------------------------- */

struct curl_in {
    double thickness1, e1, thickness2, e2, misfit, natural;
};
static const struct field curl_in_fields[] = {
    NEED_MM(curl_in, thickness1, "Thickness, layer 1", "The inner layer.", "2"),
    {AT(curl_in, e1), .label = "Stiffness, layer 1", .unit = "MPa", .type = FIELD_REAL,
     .required = true, .min = 0, .max = 1e7, .above_min = true,
     .help = "In the direction of the curl.", .example = "200"},
    NEED_MM(curl_in, thickness2, "Thickness, layer 2", "The outer layer.", "0.5"),
    {AT(curl_in, e2), .label = "Stiffness, layer 2", .unit = "MPa", .type = FIELD_REAL,
     .required = true, .min = 0, .max = 1e7, .above_min = true,
     .help = "In the direction of the curl.", .example = "60"},
    {AT(curl_in, misfit), .label = "Misfit", .unit = "percent", .type = FIELD_REAL,
     .required = true, .scale = 0.01, .min = -100, .max = 100,
     .help = "How much more layer 1 shrinks than layer 2; negative: less.", .example = "7"},
    REAL(curl_in, natural, "Natural radius", "mm",
         "On the tree, when the sheet did not begin flat; its curvature is added."),
};
static const struct kind curl_in_kind = {"curl_in", "Two bonded layers", sizeof(struct curl_in),
                                         FIELDS(curl_in_fields), ""};
struct curl_out {
    double curvature, radius, strain_inner, strain_outer;
    const char *way;
};
static const struct field curl_out_fields[] = {
    REAL(curl_out, curvature, "Curvature", "1/mm", "Positive curls towards layer 1."),
    REAL(curl_out, radius, "Radius", "mm", "None when it stays flat."),
    PERCENT(curl_out, strain_inner, "To flatten: inner face",
            "Stretch positive, of layer 1's face."),
    PERCENT(curl_out, strain_outer, "To flatten: outer face",
            "Stretch positive, of layer 2's face."),
    WORDS(curl_out, way, "Which way", "In words."),
};
static const struct kind curl_out_kind = {"curl_out", "How it curls", sizeof(struct curl_out),
                                          FIELDS(curl_out_fields), ""};

static int curl_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    (void)err;
    const struct curl_in *in = in_;
    struct curl_out *out = out_;
    out->curvature = bend_two_layer(in->thickness1, in->e1, in->thickness2, in->e2, in->misfit) +
                     curvature(in->natural);
    if (out->curvature != 0) out->radius = fabs(1 / out->curvature);
    struct bend_two s =
        bend_strain_two(in->thickness1, in->e1, in->thickness2, in->e2, -out->curvature);
    out->strain_inner = s.inner;
    out->strain_outer = s.outer;
    out->way = out->curvature > 0   ? "towards the inner layer, as on the tree"
               : out->curvature < 0 ? "towards the outer layer"
                                    : "stays flat";
    return 0;
}

const struct method body_method_curl = {
    "curl",
    "Curvature of two bonded layers that shrink differently",
    "Timoshenko 1925, J. Opt. Soc. Am. 11, 233",
    "Narrow strip, small strains, no creep: `strip` follows a drying strip day by day. A few "
    "percent "
    "of misfit roll thin bark to the size of a fist.",
    &curl_in_kind,
    &curl_out_kind,
    curl_run,
    "{\"thickness1\": 2, \"e1\": 200, \"thickness2\": 0.5, \"e2\": 60, \"misfit\": 7}"};

/* ---- release -------------------------------------------------------------------------------- */

struct release_in {
    double natural, share, tau, held;
};
static const struct field release_in_fields[] = {
    {AT(release_in, natural), .label = "Natural radius", .unit = "mm", .type = FIELD_REAL,
     .required = true, .help = "That it would have if nothing held it.", .example = "90"},
    {AT(release_in, share), .label = "Share that relaxes", .unit = "percent", .type = FIELD_REAL,
     .required = true, .scale = 0.01, .min = 0, .max = 100, .help = "Of the stress.",
     .example = "55"},
    {AT(release_in, tau), .label = "Time constant", .unit = "h", .type = FIELD_REAL,
     .required = true, .scale = 3600, .min = 0, .max = 1e6, .above_min = true,
     .help = "Of the relaxation.", .example = "2"},
    {AT(release_in, held), .label = "Held for", .unit = "h", .type = FIELD_REAL, .required = true,
     .scale = 3600, .min = 0, .max = 1e7, .help = "Flat, at constant moisture.", .example = "24"},
};
static const struct kind release_in_kind = {
    "release_in", "A strip held flat", sizeof(struct release_in), FIELDS(release_in_fields), ""};
struct release_out {
    double curvature, radius, kept;
};
static const struct field release_out_fields[] = {
    REAL(release_out, curvature, "Curvature", "1/mm", "Right after letting go."),
    REAL(release_out, radius, "Radius", "mm", "Right after letting go."),
    PERCENT(release_out, kept, "Flatness kept", "Share of the forced change of curvature."),
};
static const struct kind release_out_kind = {
    "release_out", "After letting go", sizeof(struct release_out), FIELDS(release_out_fields), ""};

static int release_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    const struct release_in *in = in_;
    struct release_out *out = out_;
    if (in->natural == 0)
        return fail(err, ERR_RANGE, "Give a radius other than 0.", "A natural radius of 0");
    out->curvature = bend_after_release(1 / in->natural, in->share, in->tau, in->held);
    out->radius = 1 / out->curvature;
    out->kept = 1 - out->curvature * in->natural;
    return 0;
}

const struct method body_method_release = {
    "release",
    "Springback of a strip that was held flat at constant moisture",
    "one Maxwell branch beside an elastic one",
    "Drying while held sets far more than this: see `strip`.",
    &release_in_kind,
    &release_out_kind,
    release_run,
    "{\"natural\": 90, \"share\": 55, \"tau\": 2, \"held\": 24}"};
