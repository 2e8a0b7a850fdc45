/* The methods `hole-row` and `slit`. */
#include "body/body_methods.h"
#include "body/calc_field.h"
#include "body/holes.h"

#include <math.h>

static const char *const run_words[] = {"along", "around", NULL};

/* Fissures of the outer face, and the longest flaw near by either way: what weakens the sheet, in
 * the struct's member `flaws`. */
#define FLAW(of, word, member, words, tip)                                                         \
    .name = word, .label = words, .unit = "mm", .type = FIELD_REAL,                                \
    .offset = offsetof(struct of, flaws.member), .min = 0, .help = tip
#define FLAWS(of)                                                                                  \
    {FLAW(of, "fissure_depth", fissures.depth, "Fissure depth", "From the outer face."),           \
     .max = 100},                                                                                  \
        {FLAW(of, "fissure_spacing", fissures.spacing, "Fissure spacing", "Middle to middle."),    \
         .max = 1000},                                                                             \
        {FLAW(of, "fissure_width", fissures.width, "Fissure width", "Open groove."), .max = 1000,  \
         .preset = "1"},                                                                           \
        {FLAW(of, "flaw_around", around, "Flaw lying around", "Longest lenticel or cut near by."), \
         .max = 1000},                                                                             \
    {                                                                                              \
        FLAW(of, "flaw_along", along, "Flaw lying along", "Longest split or knot near by."),       \
            .max = 1000                                                                            \
    }

/* ---- hole-row ------------------------------------------------------------------------------- */

/* The case comes first, so that its fields lie where they lie in it. */
struct row_in {
    struct holes_case c;
    struct records own;
};
static const struct field row_in_fields[] = {
    MATERIAL(holes_case, "willow bark"),
    CLASS(holes_case),
    LAYER(holes_case),
    STATE(holes_case, "dry"),
    CHOICE(holes_case, runs, "The row runs", run_words, "along", "Along or around the stem."),
    NEED_MM(holes_case, thickness, "Thickness", "Of the sheet at the holes.", "5"),
    SIZE_MM(holes_case, thickness_low, "Thickness, 5 % point", "None: it is known exactly."),
    SIZE_MM(holes_case, thickness_high, "Thickness, 95 % point", "None: it is known exactly."),
    NEED_MM(holes_case, diameter, "Hole diameter", "As made.", "2.8"),
    NEED_MM(holes_case, pitch, "Pitch", "Middle to middle.", "18"),
    SIZE_MM(holes_case, edge, "Edge distance", "Hole middle to edge; none: far away."),
    PRESET(holes_case, group, "Stitches in a group", "", "1", "1: evenly stitched."),
    SIZE_MM(holes_case, gap, "Gap between groups", "Middle of the last hole to that of the next."),
    SIZE_MM(holes_case, cord, "Cord diameter", "None: it fills the hole."),
    FLAG(holes_case, cut, "Cut", "false", "true: fibres cut away; false: parted with an awl."),
    {AT(holes_case, pull), .label = "Pull", .unit = "N/mm", .type = FIELD_REAL, .min = 0,
     .max = 1e5, .help = "Per length of row, square to it, in the plane of the sheet."},
    FLAWS(holes_case),
    OWN_VALUES(row_in),
};
static const struct kind row_in_kind = {"hole_row_in", "A row of stitch holes",
                                        sizeof(struct row_in), FIELDS(row_in_fields), ""};
struct row_out {
    double load, p05, p95, net, kt, per_stitch, after_first, even, holds, elongation;
    const char *first, *tears_on, *standing, *warning, *makers;
    struct records modes;
};
static const struct field row_out_fields[] = {
    REAL(row_out, load, "Load at failure", "N/mm", "Of the first way of failing, middle."),
    REAL(row_out, p05, "5 % point", "N/mm", "One in twenty fails below."),
    REAL(row_out, p95, "95 % point", "N/mm", "One in twenty holds above."),
    WORDS(row_out, first, "Fails first", "The likeliest."),
    MODES_OF(row_out, modes, "Each with its load in N/mm and its chance to be first."),
    PERCENT(row_out, net, "Section left", "Between the holes, over the whole row."),
    REAL(row_out, kt, "Stress at a hole", "", "Over the nominal one, large hole, middle."),
    REAL(row_out, per_stitch, "On the worst stitch", "N", "At failure."),
    REAL(row_out, after_first, "After the first is gone", "N/mm", "What the row then bears."),
    WORDS(row_out, tears_on, "Goes on tearing", "Whether a load that broke one breaks the next."),
    REAL(row_out, even, "Evenly stitched", "N/mm", "The same number of stitches spread evenly."),
    PERCENT(row_out, holds, "Chance to bear the pull", "Asked for."),
    REAL(row_out, elongation, "Hole grows", "mm", "At the pull; none: the cord cuts through."),
    WORDS(row_out, standing, "Standing", "Of the weakest strength used."),
    WORDS(row_out, warning, "Mind", "Rules of thumb it breaks."),
    WORDS(row_out, makers, "Makers say", "Printed beside; nothing is tuned to it."),
};
static const struct kind row_out_kind = {"hole_row_out", "What tears", sizeof(struct row_out),
                                         FIELDS(row_out_fields), ""};

static int row_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct row_in *in = in_;
    struct row_out *out = out_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct holes_result r;
    rc = holes_row(&r, shelf, &in->c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    *out = (struct row_out){r.failure.load, r.failure.p05,
                            r.failure.p95,  r.net,
                            r.kt,           r.per_stitch,
                            r.after_first,  r.even,
                            r.holds,        isinf(r.elongation) ? NAN : r.elongation};
    out->first = r.failure.first;
    out->modes = r.failure.modes;
    out->standing = standing_words[r.standing];
    out->warning = r.warning;
    out->tears_on = r.after_first < r.failure.load
                        ? "yes: the next stitch bears more than the one that went"
                        : "no";
    out->makers =
        "Holes on one grain line tear: step them off the line. Keep 75 % of the section, two "
        "to three hole diameters to the edge.";
    return 0;
}

const struct method body_method_hole_row = {
    "hole-row",
    "What a row of stitch holes bears, what tears first, even or in groups",
    "Lekhnitskii, Anisotropic Plates; Whitney and Nuismer 1974; Peterson; net section and tear-out "
    "by statics",
    "Strengths of bark are mostly guesses: read the range. Lenticels, knots and old splits start "
    "the "
    "tear.",
    &row_in_kind,
    &row_out_kind,
    row_run,
    "{\"material\": \"willow bark\", \"runs\": \"along\", \"thickness\": 5, \"diameter\": 2.8, "
    "\"pitch\": 18, \"edge\": 12, \"pull\": 0.5}"};

/* ---- slit ----------------------------------------------------------------------------------- */

struct slit_in {
    struct slit_case c;
    struct records own;
};
static const struct field slit_in_fields[] = {
    MATERIAL(slit_case, "willow bark"),
    CLASS(slit_case),
    LAYER(slit_case),
    STATE(slit_case, "dry"),
    CHOICE(slit_case, runs, "The slit runs", run_words, "around", "Along or around the stem."),
    NEED_MM(slit_case, thickness, "Thickness", "Of the sheet.", "5"),
    SIZE_MM(slit_case, thickness_low, "Thickness, 5 % point", "None: it is known exactly."),
    SIZE_MM(slit_case, thickness_high, "Thickness, 95 % point", "None: it is known exactly."),
    NEED_MM(slit_case, length, "Length", "Of the slit.", "24"),
    SIZE_MM(slit_case, pitch, "Pitch",
            "Of slits in one line, middle to middle; none: a single one."),
    SIZE_MM(slit_case, tip, "Radius of the ends", "Rounded with a punch; none: cut sharp."),
    SIZE_MM(slit_case, edge, "To the edge", "From an end, in line with the slit; none: far away."),
    {AT(slit_case, pull), .label = "Pull", .unit = "N/mm", .type = FIELD_REAL, .min = 0, .max = 1e5,
     .help = "Square to the slit, per length of sheet."},
    FLAWS(slit_case),
    OWN_VALUES(slit_in),
};
static const struct kind slit_in_kind = {"slit_in", "A slit for a lath", sizeof(struct slit_in),
                                         FIELDS(slit_in_fields), ""};
struct slit_out {
    double load, p05, p95, left, holds;
    const char *first, *standing;
    struct records modes;
};
static const struct field slit_out_fields[] = {
    REAL(slit_out, load, "Load at failure", "N/mm", "Of the first way of failing, middle."),
    REAL(slit_out, p05, "5 % point", "N/mm", "One in twenty fails below."),
    REAL(slit_out, p95, "95 % point", "N/mm", "One in twenty holds above."),
    WORDS(slit_out, first, "Fails first", "The likeliest."),
    MODES_OF(slit_out, modes, "Each with its load in N/mm and its chance to be first."),
    PERCENT(slit_out, left, "Strength left", "Of the sound sheet's, middle."),
    PERCENT(slit_out, holds, "Chance to bear the pull", "Asked for."),
    WORDS(slit_out, standing, "Standing", "Of the weakest strength used."),
};
static const struct kind slit_out_kind = {"slit_out", "What tears", sizeof(struct slit_out),
                                          FIELDS(slit_out_fields), ""};

static int slit_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct slit_in *in = in_;
    struct slit_out *out = out_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct slit_result r;
    rc = slit_row(&r, shelf, &in->c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    *out = (struct slit_out){r.failure.load,
                             r.failure.p05,
                             r.failure.p95,
                             r.left,
                             r.holds,
                             r.failure.first,
                             standing_words[r.standing],
                             r.failure.modes};
    return 0;
}

const struct method body_method_slit = {
    "slit",
    "What a sheet with slits for laths bears across them",
    "Whitney and Nuismer 1974 (cracks); Inglis 1913 (rounded ends); row of cracks after Koiter "
    "1959",
    "A hole punched at each end of a slit keeps it from running on.",
    &slit_in_kind,
    &slit_out_kind,
    slit_run,
    "{\"material\": \"willow bark\", \"runs\": \"around\", \"thickness\": 5, \"length\": 24, "
    "\"pitch\": 90, \"tip\": 2}"};
