/* relict calc grip, splits, surface-curvature, bends. */
#include "shape/curve.h"
#include "shape/methods_inside.h"

/* ---- grip ---- */

struct grip_in {
    double chord, chord_u, length, length_u, angle1, angle2, angle1_u, angle2_u;
    double sheet_radius, sheet_radius_u;
    long side;
    int half;
};
struct grip_out {
    double radius, radius_u, radius_low, radius_high, bend, bend_u, chord, rise, arc, hand_room;
    double slope, sheet_slope, disagree, stiff_sheet_radius, stiff_low, stiff_high;
    int circular, shallow;
    const char *caution;
};
static const char *const side_words[] = {"flat", "hollow", "bulging", NULL};
static const struct field grip_in_fields[] = {
    IN_REAL(grip_in, chord, "Between the seats", "mm", 0, 1e5,
            "Straight distance between the seats; leave out for a bar found straight."),
    {.name = "chord_u",
     .label = "± of that",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct grip_in, chord_u),
     .min = 0,
     .max = 1e4,
     .help = "Standard deviation."},
    IN_REAL(grip_in, length, "Along a bar found straight", "mm", 0, 1e5,
            "Length between the chamfers along the bar."),
    {.name = "length_u",
     .label = "± of that",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct grip_in, length_u),
     .min = 0,
     .max = 1e4,
     .help = "Standard deviation."},
    {.name = "angle1",
     .label = "Chamfer",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .required = true,
     .offset = offsetof(struct grip_in, angle1),
     .min = 0,
     .max = 89,
     .help = "Between flat and bar axis, one end.",
     .example = "14"},
    {.name = "angle2",
     .label = "Chamfer, other end",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct grip_in, angle2),
     .min = 0,
     .max = 89,
     .help = "Leave out when that end is missing: then symmetry is a guess."},
    {.name = "angle1_u",
     .label = "± of the chamfer",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .preset = "1.5",
     .offset = offsetof(struct grip_in, angle1_u),
     .min = 0,
     .max = 45,
     .help = "Standard deviation."},
    {.name = "angle2_u",
     .label = "± of the other",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .preset = "1.5",
     .offset = offsetof(struct grip_in, angle2_u),
     .min = 0,
     .max = 45,
     .help = "Standard deviation."},
    {.name = "side",
     .label = "The sheet under the bar",
     .type = FIELD_CHOICE,
     .choices = side_words,
     .preset = "flat",
     .offset = offsetof(struct grip_in, side),
     .help = "hollow: the sheet curves away under the bar."},
    IN_REAL(grip_in, sheet_radius, "Radius of the sheet's bow", "mm", 0, 1e7,
            "Needed unless the sheet is flat."),
    {.name = "sheet_radius_u",
     .label = "± of that",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct grip_in, sheet_radius_u),
     .min = 0,
     .max = 1e6,
     .help = "Standard deviation."},
    {.name = "half",
     .label = "Half a grip",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct grip_in, half),
     .help = "The length is that of one half and is doubled: a guess."},
};
static const struct field grip_out_fields[] = {
    OUT_REAL(grip_out, radius, "Radius of the bar", "mm", "Left out when the bar was straight."),
    OUT_REAL(grip_out, radius_u, "± of the radius", "mm", "First order."),
    OUT_REAL(grip_out, radius_low, "Radius at least", "mm", "95 %, by way of the bend."),
    OUT_REAL(grip_out, radius_high, "Radius at most", "mm", "Left out when it may be straight."),
    OUT_REAL(grip_out, bend, "Bend", "1/mm", "1/radius: use this when shallow."),
    OUT_REAL(grip_out, bend_u, "± of the bend", "1/mm", "First order."),
    OUT_REAL(grip_out, chord, "Between the seats", "mm", "Given or worked out."),
    OUT_REAL(grip_out, rise, "Rise of the bar", "mm", "Above the line between the seats."),
    OUT_REAL(grip_out, arc, "Length along the bar", "mm", "Between the seats."),
    OUT_REAL(grip_out, hand_room, "Room for the hand", "mm", "Between bar and sheet, middle."),
    OUT_DEGREES(grip_out, slope, "End slope of the bar", "Against its chord."),
    OUT_DEGREES(grip_out, sheet_slope, "Slope of the sheet at the seats", "From its own bow."),
    OUT_REAL(grip_out, disagree, "Disagreement of the chamfers", "", "In standard deviations."),
    OUT_FLAG(grip_out, circular, "Even arc", "Chamfers agree within 2 standard deviations."),
    OUT_FLAG(grip_out, shallow, "Shallow", "Slope under 8 degrees: report the bend only."),
    OUT_REAL(grip_out, stiff_sheet_radius, "If the bar was stiff: radius of the sheet", "mm",
             "A straight bar on a hollow sheet needs the same chamfers."),
    OUT_REAL(grip_out, stiff_low, "That at least", "mm", "95 %."),
    OUT_REAL(grip_out, stiff_high, "That at most", "mm", "95 %; left out when it may be flat."),
    OUT_TEXT(grip_out, caution, "Caution", "What the answer hangs on."),
};
static const struct kind grip_in_kind = {"grip_in", "A grip bar with chamfered ends",
                                         sizeof(struct grip_in), FIELDS(grip_in_fields),
                                         "Give chord or length."};
static const struct kind grip_out_kind = {"grip_out", "What the chamfers say about the curve",
                                          sizeof(struct grip_out), FIELDS(grip_out_fields),
                                          "The bar bent and the sheet as given; or the bar stiff."};

static int grip_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct grip_in *i = in;
    struct grip_out *o = out;
    struct shape_grip g = {.chord = i->chord,
                           .u_chord = i->chord_u,
                           .length = i->length,
                           .u_length = i->length_u,
                           .angle1 = i->angle1,
                           .angle2 = i->angle2,
                           .u_angle1 = i->angle1_u,
                           .u_angle2 = i->angle2_u,
                           .side = (enum shape_grip_side)i->side,
                           .sheet_radius = i->sheet_radius,
                           .u_sheet_radius = i->sheet_radius_u,
                           .half = i->half == 1};
    struct shape_grip_fit f;
    int rc = shape_curve_grip(&f, &g, err);
    if (rc) return rc;
    *o = (struct grip_out){f.radius,
                           f.u_radius,
                           finite_or_unknown(f.radius_low),
                           finite_or_unknown(f.radius_high),
                           f.bend,
                           f.u_bend,
                           f.chord,
                           f.rise,
                           f.arc,
                           f.hand_room,
                           f.slope,
                           f.sheet_slope,
                           f.disagree,
                           finite_or_unknown(f.stiff_sheet_radius),
                           f.stiff_low,
                           finite_or_unknown(f.stiff_high),
                           f.circular,
                           f.shallow,
                           NULL};
    o->caution = arena_printf(
        arena, "%s%s%s%s",
        f.circular ? "" : "The chamfers disagree: not an even arc, or the ends are not original. ",
        f.shallow ? "Shallow: the radius is too skewed to use; report the bend. " : "",
        g.half || isnan(g.angle2) ? "Symmetry of the missing half is a guess. " : "",
        "Chamfers alone cannot tell a bent bar on a flat sheet from a stiff bar on a bowed one.");
    return o->caution ? 0 : fail_memory(err);
}

const struct method shape_method_grip = {
    "grip",
    "The curve of bar and sheet from a grip's chamfers",
    "plane geometry of the arc",
    "R = L/(2 sin phi); phi is the chamfer less the sheet's slope on the hollow side, plus it on "
    "the bulging side.",
    &grip_in_kind,
    &grip_out_kind,
    grip_run,
    "{\"chord\": 118, \"chord_u\": 1.5, \"angle1\": 14, \"angle2\": 14, \"angle1_u\": 1.5, "
    "\"angle2_u\": 1.5}"};

/* ---- splits ---- */

struct splits_in {
    double radius, gap, gap_u;
    struct tuples growth;
};
struct splits_out {
    double sphere_radius, sphere_radius_u, rise, curvature, deficit;
    double exponent, exponent_u, p_even, p_point;
    const char *verdict;
};
static const struct field splits_in_fields[] = {
    {.name = "radius",
     .label = "Radius of the piece",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct splits_in, radius),
     .min = 0,
     .max = 1e5,
     .above_min = true,
     .help = "From its middle along the surface to where the gaps are measured.",
     .example = "180"},
    {.name = "gap",
     .label = "Gaps together",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct splits_in, gap),
     .min = -1e5,
     .max = 1e5,
     .help = "Sum over all radial splits at that radius; overlap below 0.",
     .example = "27.5"},
    {.name = "gap_u",
     .label = "± of the gaps",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "2",
     .offset = offsetof(struct splits_in, gap_u),
     .min = 0,
     .max = 1e4,
     .help = "Standard deviation."},
    {.name = "growth",
     .label = "Gaps at several radii",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 3,
     .offset = offsetof(struct splits_in, growth),
     .help = "Radius, gaps together, ±: tells an even bowl from one sharp point.",
     .example = "[[60,1,0.5],[120,8,1],[180,27.5,2]]"},
};
static const struct field splits_out_fields[] = {
    OUT_REAL(splits_out, sphere_radius, "Radius of the bowl", "mm", "Left out without a gap."),
    OUT_REAL(splits_out, sphere_radius_u, "± of that", "mm", "First order."),
    OUT_REAL(splits_out, rise, "Depth of the bowl", "mm", "Over the piece."),
    OUT_REAL(splits_out, curvature, "Gaussian curvature", "1/mm²", "Below 0: a saddle."),
    OUT_DEGREES(splits_out, deficit, "Turn missing", "Integral of the curvature."),
    OUT_REAL(splits_out, exponent, "Growth outward", "", "3: even bowl; 1: one sharp point."),
    OUT_REAL(splits_out, exponent_u, "± of that", "", "Standard deviation."),
    OUT_REAL(splits_out, p_even, "Fit of an even bowl", "", "Chance of so bad a fit."),
    OUT_REAL(splits_out, p_point, "Fit of one sharp point", "", "Chance of so bad a fit."),
    OUT_TEXT(splits_out, verdict, "In words", "What may be said."),
};
static const struct kind splits_in_kind = {"splits_in", "Radial splits of a flattened round piece",
                                           sizeof(struct splits_in), FIELDS(splits_in_fields),
                                           "Cracks along the grain do not count."};
static const struct kind splits_out_kind = {
    "splits_out", "The double curvature behind splits", sizeof(struct splits_out),
    FIELDS(splits_out_fields),
    "An upper limit of curvature unless the splits are radial: drying cracks open too."};

static int splits_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct splits_in *i = in;
    struct splits_out *o = out;
    struct shape_splits s;
    int rc = shape_curve_splits(&s, i->radius, i->gap, i->gap_u, err);
    if (rc) return rc;
    o->sphere_radius = finite_or_unknown(s.radius);
    o->sphere_radius_u = finite_or_unknown(s.u_radius);
    o->rise = s.rise, o->curvature = s.gauss, o->deficit = s.deficit;
    o->verdict = "An upper limit unless the splits are radial: drying cracks open too.";
    size_t n = i->growth.n;
    if (!n) return 0;
    double *r = ARENA_NEW(arena, double, 3 * n), *w = r + n, *u = w + n;
    if (!r) return fail_memory(err);
    for (size_t k = 0; k < n; k++)
        r[k] = i->growth.v[3 * k], w[k] = i->growth.v[3 * k + 1], u[k] = i->growth.v[3 * k + 2];
    struct shape_split_growth g;
    rc = shape_curve_split_growth(&g, r, w, u, n, err);
    if (rc) return rc;
    o->exponent = g.exponent, o->exponent_u = g.u_exponent;
    o->p_even = g.p_cubic, o->p_point = g.p_linear;
    bool even = g.p_cubic >= 0.05, point = g.p_linear >= 0.05;
    o->verdict = even && point ? "The gaps fit an even bowl and a single sharp point alike."
                 : even        ? "The gaps grow as in an even bowl."
                 : point       ? "The gaps grow as from one sharp point or a sewn dart."
                               : "The gaps fit neither an even bowl nor one sharp point.";
    return 0;
}

const struct method shape_method_splits = {
    "splits",
    "How strongly a flattened piece was dished, from its radial splits",
    "circumference of a geodesic circle on the sphere, 2 pi R sin(r/R); Gauss-Bonnet",
    NULL,
    &splits_in_kind,
    &splits_out_kind,
    splits_run,
    "{\"radius\": 180, \"gap\": 27.5, \"gap_u\": 2}"};

/* ---- surface curvature ---- */

struct surface_in {
    struct tuples points;
};
struct surface_out {
    double k1, k2, mean, gauss, k_u, direction, misfit, radius, bias;
    const char *caution;
};
static const struct field surface_in_fields[] = {
    {.name = "points",
     .label = "Points of the patch",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 3,
     .required = true,
     .offset = offsetof(struct surface_in, points),
     .help = "x, y, z of six points or more on a small patch of a scan.",
     .example = "[[0,0,0],[20,0,-0.8],[-20,0,-0.8],[0,20,-0.8],[0,-20,-0.8],[14,14,-0.8],[-14,14,-"
                "0.8]]"},
};
static const struct field surface_out_fields[] = {
    OUT_REAL(surface_out, k1, "Greater bend", "1/mm", "Positive where it bulges to the viewer."),
    OUT_REAL(surface_out, k2, "Smaller bend", "1/mm", "Square to the first."),
    OUT_REAL(surface_out, k_u, "± of the bends", "1/mm", "From the misfit."),
    OUT_REAL(surface_out, mean, "Mean curvature", "1/mm", "Half the sum."),
    OUT_REAL(surface_out, gauss, "Gaussian curvature", "1/mm²", "Product of the two."),
    OUT_DEGREES(surface_out, direction, "Direction of the greater bend",
                "From the patch's longest direction."),
    OUT_REAL(surface_out, misfit, "Misfit", "mm", "Root mean square distance."),
    OUT_REAL(surface_out, radius, "Radius of the patch", "mm", "Farthest point from its middle."),
    OUT_PERCENT(surface_out, bias, "Bias", "Share lost because the patch is not small: r²/(4R²)."),
    OUT_TEXT(surface_out, caution, "Caution", "Whether to take a smaller or wider patch."),
};
static const struct kind surface_in_kind = {"surface_in", "A patch of a scan",
                                            sizeof(struct surface_in), FIELDS(surface_in_fields),
                                            "One smooth patch without cracks."};
static const struct kind surface_out_kind = {"surface_out", "Its two bends",
                                             sizeof(struct surface_out), FIELDS(surface_out_fields),
                                             "With error and bias."};

static int surface_run(const void *in, void *out, struct arena *arena, struct error *err) {
    (void)arena;
    const struct surface_in *i = in;
    struct surface_out *o = out;
    struct shape_patch p;
    int rc = shape_curve_patch(&p, (const struct shape_point3 *)i->points.v, i->points.n, err);
    if (rc) return rc;
    *o = (struct surface_out){p.k1,        p.k2,     p.mean,   p.gauss, p.u_k,
                              p.direction, p.misfit, p.radius, p.bias,  NULL};
    double top = fmax(fabs(p.k1), fabs(p.k2)), share = p.u_k / top;
    o->caution = isnan(p.u_k)         ? "Six points leave no misfit: the ± is unknown."
                 : share > 2 * p.bias ? "Error outweighs bias: a wider patch would tell more."
                 : p.bias > 2 * share ? "Bias outweighs error: a smaller patch would tell more."
                                      : "Error and bias are in balance.";
    return 0;
}

const struct method shape_method_surface = {
    "surface-curvature",
    "The two bends of a patch of a scan",
    "first and second fundamental forms of a fitted quadric (do Carmo 1976, 3.3)",
    NULL,
    &surface_in_kind,
    &surface_out_kind,
    surface_run,
    "{\"points\": [[0,0,0],[20,0,-0.8],[-20,0,-0.8],[0,20,-0.8],[0,-20,-0.8],[14,14,-0.8],[-14,14,"
    "-0.8],[14,-14,-0.78]]}"};

/* ---- bends ---- */

struct bends_reading {
    const char *id;
    double bend, u;
    long kind;
};
struct bends_in {
    struct records readings;
};
struct bends_out {
    double bend, bend_u, radius, q, p, insisted_u;
    int clash;
    const char *farthest, *verdict;
};
static const char *const bend_words[] = {"is", "at least", "at most", NULL};
static const struct field bends_reading_fields[] = {
    {.name = "id",
     .label = "What it comes from",
     .type = FIELD_TEXT,
     .required = true,
     .offset = offsetof(struct bends_reading, id),
     .help = "Grip, splits, lath, scan ...",
     .example = "grip"},
    {.name = "bend",
     .label = "Bend",
     .unit = "1/mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct bends_reading, bend),
     .min = -10,
     .max = 10,
     .help = "1/radius.",
     .example = "0.0041"},
    {.name = "u",
     .label = "±",
     .unit = "1/mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct bends_reading, u),
     .min = 0,
     .max = 10,
     .above_min = true,
     .help = "Standard deviation.",
     .example = "0.0003"},
    {.name = "kind",
     .label = "Reads as",
     .type = FIELD_CHOICE,
     .choices = bend_words,
     .preset = "is",
     .offset = offsetof(struct bends_reading, kind),
     .help = "A value or a limit."},
};
static const struct kind bends_reading_kind = {"bend_reading", "One reading of a bend",
                                               sizeof(struct bends_reading),
                                               FIELDS(bends_reading_fields), "Value or limit."};
static const struct field bends_in_fields[] = {
    {.name = "readings",
     .label = "Readings",
     .type = FIELD_RECORDS,
     .sub = &bends_reading_kind,
     .required = true,
     .offset = offsetof(struct bends_in, readings),
     .help = "All readings of the same bend, in one state."},
};
static const struct field bends_out_fields[] = {
    OUT_REAL(bends_out, bend, "Bend together", "1/mm", "Left out when the readings clash."),
    OUT_REAL(bends_out, bend_u, "± of that", "1/mm", "Standard deviation."),
    OUT_REAL(bends_out, radius, "Radius together", "mm", "1/bend."),
    OUT_REAL(bends_out, q, "Sum of squares", "", "Of the readings about their mean."),
    OUT_REAL(bends_out, p, "Chance of such a spread", "", "If all read the same bend."),
    OUT_FLAG(bends_out, clash, "Clash", "Chance under 0.05, or a limit broken."),
    OUT_TEXT(bends_out, farthest, "Farthest off", "The reading to look at first."),
    OUT_REAL(bends_out, insisted_u, "± if one insists on a mean", "1/mm", "Widened (Birge)."),
    OUT_TEXT(bends_out, verdict, "In words", "What may be said."),
};
static const struct kind bends_in_kind = {"bends_in", "Readings of one bend",
                                          sizeof(struct bends_in), FIELDS(bends_in_fields),
                                          "From different kinds of evidence."};
static const struct kind bends_out_kind = {"bends_out", "Whether they agree, and then their mean",
                                           sizeof(struct bends_out), FIELDS(bends_out_fields),
                                           "A clash is shown before anything is combined."};

static int bends_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct bends_in *i = in;
    struct bends_out *o = out;
    const struct bends_reading *r = i->readings.v;
    struct shape_bend_reading *b = ARENA_NEW(arena, struct shape_bend_reading, i->readings.n);
    if (!b) return fail_memory(err);
    for (size_t k = 0; k < i->readings.n; k++)
        b[k] = (struct shape_bend_reading){r[k].id, r[k].bend, r[k].u,
                                           (enum shape_bend_kind)r[k].kind};
    struct shape_bend_combined c;
    int rc = shape_curve_combine(&c, b, i->readings.n, err);
    if (rc) return rc;
    *o = (struct bends_out){c.bend,  c.u,           finite_or_unknown(1 / c.bend),
                            c.q,     c.p,           c.birge_u,
                            c.clash, r[c.worst].id, NULL};
    o->verdict = c.clash
                     ? "The readings clash and are not combined: both are kept; look for a wrong "
                       "state, a wrong face or a part that moved."
                     : "The readings agree within their errors.";
    return 0;
}

const struct method shape_method_bends = {
    "bends",
    "Whether several readings of one bend agree, and their mean if they do",
    "weighted mean and chi-squared; Birge, Physical Review 40 (1932) 207-227",
    NULL,
    &bends_in_kind,
    &bends_out_kind,
    bends_run,
    "{\"readings\": [{\"id\": \"grip\", \"bend\": 0.0041, \"u\": 0.0003}, {\"id\": \"splits\", "
    "\"bend\": 0.0035, \"u\": 0.0004}]}"};
