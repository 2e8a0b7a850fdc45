/* relict calc holes, unit, pitch. */
#include "shape/methods_inside.h"
#include "shape/seam.h"

#include <string.h>

/* ---- holes ---- */

struct holes_in {
    struct reals gaps, at;
    struct ints torn;
    double hole, edge, edge_u, centre;
};
struct holes_out {
    double pitch, pitch_u, sd, cv, net_section;
    long missing, unfit, group, torn_runs;
    struct reals missing_at, log_evidence, probability;
    struct ints multiple, torn_first, torn_count;
    int grouping_decided, net_warning, net_stop;
    const char *grouping;
    double count, count_sd, count_low, count_high;
};
static const struct field holes_in_fields[] = {
    {.name = "gaps",
     .label = "Gaps",
     .unit = "mm",
     .type = FIELD_REALS,
     .offset = offsetof(struct holes_in, gaps),
     .help = "Centre to centre along the edge, in order; or give the places in `at`.",
     .example = "[9.8, 10.4, 21.3]"},
    {.name = "at",
     .label = "Places",
     .unit = "mm",
     .type = FIELD_REALS,
     .offset = offsetof(struct holes_in, at),
     .help = "Of the holes along the edge, in order."},
    {.name = "torn",
     .label = "Torn out",
     .type = FIELD_INTS,
     .offset = offsetof(struct holes_in, torn),
     .help = "Numbers of holes (from 1) torn out to the edge."},
    IN_REAL(holes_in, hole, "Hole diameter", "mm", 0, 1000, "For the section left between holes."),
    IN_REAL(holes_in, edge, "Whole edge", "mm", 0, 1e6, "To reckon how many holes there were."),
    {.name = "edge_u",
     .label = "± of the whole edge",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct holes_in, edge_u),
     .min = 0,
     .max = 1e5,
     .help = "How far off the edge length may be."},
    IN_REAL(holes_in, centre, "Gap expected beforehand", "mm", 0, 1000,
            "Middle of the prior for grouping; the median gap when absent."),
};
static const struct field holes_out_fields[] = {
    OUT_REAL(holes_out, pitch, "Pitch", "mm", "Mean of one pitch."),
    OUT_REAL(holes_out, pitch_u, "± of the pitch", "mm", "Standard error."),
    OUT_REAL(holes_out, sd, "Spread of one pitch", "mm", "Standard deviation."),
    OUT_REAL(holes_out, cv, "Spread as a share", "", "Sewing has 0.1 to 0.3."),
    OUT_INTS(holes_out, multiple, "Pitches in each gap", "0: fits no whole number within 15 %."),
    OUT_INT(holes_out, missing, "Missing holes", "Proposed where a gap fits."),
    OUT_REALS(holes_out, missing_at, "Where they are missing", "mm", "From the first hole."),
    OUT_INT(holes_out, unfit, "Gaps that fit nothing", "No hole is proposed in these."),
    OUT_REALS(holes_out, log_evidence, "Evidence for groups of 1 to 6", "",
              "Natural logarithm, averaged over phases, order of gaps not used."),
    OUT_REALS(holes_out, probability, "Probability of groups of 1 to 6", "",
              "Prior 1/2 for even spacing; gaps between groups wider than within."),
    OUT_INT(holes_out, group, "Likeliest group", "1: even spacing."),
    OUT_FLAG(holes_out, grouping_decided, "Decided", "Probability above 0.95."),
    OUT_TEXT(holes_out, grouping, "In words", "What may be said about grouping."),
    OUT_REAL(holes_out, net_section, "Section left", "", "1 - hole/pitch."),
    OUT_FLAG(holes_out, net_warning, "Weak seam", "Section left under 0.75."),
    OUT_FLAG(holes_out, net_stop, "Will tear", "Section left under 0.60."),
    OUT_INT(holes_out, torn_runs, "Tore in line", "Runs of three or more torn holes."),
    OUT_INTS(holes_out, torn_first, "First hole of each run", "From 1."),
    OUT_INTS(holes_out, torn_count, "Holes in each run", "Torn holes in line."),
    OUT_REAL(holes_out, count, "Holes on the whole edge", "", "Edge over pitch."),
    OUT_REAL(holes_out, count_sd, "± of that", "", "Standard deviation, Student t."),
    OUT_REAL(holes_out, count_low, "At least (5 %)", "", "Five in a hundred lie below."),
    OUT_REAL(holes_out, count_high, "At most (95 %)", "", "Five in a hundred lie above."),
};
static const struct kind holes_in_kind = {"holes_in", "A row of holes or dents",
                                          sizeof(struct holes_in), FIELDS(holes_in_fields),
                                          "Gaps or places along one edge, all in one state."};
static const struct kind holes_out_kind = {"holes_out", "Spacing, grouping, count, weakness",
                                           sizeof(struct holes_out), FIELDS(holes_out_fields),
                                           "What the row says."};

static int gaps_of(struct reals *gap, const struct holes_in *i, struct arena *arena,
                   struct error *err) {
    *gap = i->gaps;
    if (i->gaps.n || i->at.n < 2) return 0;
    gap->n = i->at.n - 1;
    gap->v = ARENA_NEW(arena, double, gap->n);
    if (!gap->v) return fail_memory(err);
    for (size_t k = 0; k < gap->n; k++)
        gap->v[k] = i->at.v[k + 1] - i->at.v[k];
    return 0;
}

static int torn_tell(struct holes_out *o, const struct holes_in *i, size_t holes,
                     struct arena *arena, struct error *err) {
    int *flag = ARENA_NEW(arena, int, holes);
    size_t *first = ARENA_NEW(arena, size_t, holes), *count = ARENA_NEW(arena, size_t, holes);
    o->torn_first.v = ARENA_NEW(arena, long, holes);
    o->torn_count.v = ARENA_NEW(arena, long, holes);
    if (!flag || !first || !count || !o->torn_first.v || !o->torn_count.v) return fail_memory(err);
    for (size_t k = 0; k < i->torn.n; k++) {
        if (i->torn.v[k] < 1 || (size_t)i->torn.v[k] > holes)
            return fail(err, ERR_RANGE, "Number the holes from 1 in the order of the gaps.",
                        "Torn hole %ld of a row of %zu.", i->torn.v[k], holes);
        flag[i->torn.v[k] - 1] = 1;
    }
    size_t runs = shape_seam_torn(first, count, flag, holes, 3);
    o->torn_runs = (long)runs, o->torn_first.n = o->torn_count.n = runs;
    for (size_t k = 0; k < runs; k++)
        o->torn_first.v[k] = (long)first[k] + 1, o->torn_count.v[k] = (long)count[k];
    return 0;
}

static int groups_tell(struct holes_out *o, const struct reals *gap, double centre,
                       struct arena *arena, struct error *err) {
    struct shape_seam_groups g;
    int rc = shape_seam_groups(&g, gap->v, gap->n, centre, err);
    if (rc) return rc;
    o->log_evidence =
        (struct reals){SHAPE_SEAM_GROUPS, ARENA_NEW(arena, double, SHAPE_SEAM_GROUPS)};
    o->probability = (struct reals){SHAPE_SEAM_GROUPS, ARENA_NEW(arena, double, SHAPE_SEAM_GROUPS)};
    if (!o->log_evidence.v || !o->probability.v) return fail_memory(err);
    size_t known = gap->n - 1 < SHAPE_SEAM_GROUPS ? gap->n - 1 : SHAPE_SEAM_GROUPS;
    o->log_evidence.n = o->probability.n = known;
    memcpy(o->log_evidence.v, g.log_evidence, known * sizeof(double));
    memcpy(o->probability.v, g.posterior, known * sizeof(double));
    o->group = g.best, o->grouping_decided = g.decided;
    if (!g.decided)
        o->grouping = arena_printf(arena, "Undecided: groups of %ld lead with probability %.2f.",
                                   g.best, g.posterior[g.best - 1]);
    else if (g.best == 1)
        o->grouping = "Evenly spaced, not grouped.";
    else
        o->grouping = arena_printf(arena, "Grouped in %ld; gap %ld is the first between groups.",
                                   g.best, g.phase[g.best - 1] + 1);
    return o->grouping ? 0 : fail_memory(err);
}

static int holes_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct holes_in *i = in;
    struct holes_out *o = out;
    struct reals gap;
    int rc = gaps_of(&gap, i, arena, err);
    struct shape_seam s;
    if (!rc) rc = shape_seam_spacing(&s, gap.v, gap.n, arena, err);
    if (rc) return rc;
    o->pitch = s.pitch, o->pitch_u = s.u_pitch, o->sd = s.sd, o->cv = s.cv;
    o->multiple = (struct ints){gap.n, s.multiple};
    o->missing = (long)s.missing, o->missing_at = (struct reals){s.missing, s.missing_at};
    o->unfit = (long)(gap.n - s.gaps);
    rc = torn_tell(o, i, gap.n + 1, arena, err);
    if (!rc && gap.n >= 4) rc = groups_tell(o, &gap, i->centre, arena, err);
    if (rc) return rc;
    if (!isnan(i->hole)) {
        o->net_section = shape_seam_net_section(i->hole, s.pitch);
        o->net_warning = o->net_section < SHAPE_NET_WARN;
        o->net_stop = o->net_section < SHAPE_NET_STOP;
    }
    if (isnan(i->edge)) return 0;
    struct shape_seam_count c;
    rc = shape_seam_count(&c, i->edge, i->edge_u, s.pitch, s.sd, s.gaps, err);
    if (rc) return rc;
    o->count = c.expected, o->count_sd = c.sd_t, o->count_low = c.low, o->count_high = c.high;
    return 0;
}

const struct method shape_method_holes = {
    "holes",
    "Spacing, missing holes, grouping, count and weakness of a stitch row",
    "normal-inverse-gamma evidence: Gelman et al., Bayesian Data Analysis, 3rd ed., 3.3; limits of "
    "net section: common practice, no source",
    "A gap counts as several pitches only within 15 % of a pitch of a whole number.",
    &holes_in_kind,
    &holes_out_kind,
    holes_run,
    "{\"gaps\": [9.8, 10.4, 21.3, 9.5, 10.9, 19.6, 10.2, 9.9, 22.4, 10.6, 9.7, 20.1, 10.3], "
    "\"hole\": 2.8}"};

/* ---- unit ---- */

struct unit_in {
    struct reals lengths, at;
    double low, high;
    long sets, seed;
};
struct unit_out {
    double unit, height, largest, p, level95, level99, bound;
    struct reals heights;
    const char *verdict;
};
static const struct field unit_in_fields[] = {
    {.name = "lengths",
     .label = "Lengths",
     .unit = "mm",
     .type = FIELD_REALS,
     .required = true,
     .offset = offsetof(struct unit_in, lengths),
     .help = "Independent lengths, or gaps.",
     .example = "[24.3, 35.6, 48.1]"},
    {.name = "low",
     .label = "Smallest unit tried",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct unit_in, low),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "Above the error of a length.",
     .example = "6"},
    {.name = "high",
     .label = "Largest unit tried",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct unit_in, high),
     .min = 0,
     .max = 1e4,
     .above_min = true,
     .help = "Below the longest length.",
     .example = "30"},
    {.name = "at",
     .label = "Heights wanted at",
     .unit = "mm",
     .type = FIELD_REALS,
     .offset = offsetof(struct unit_in, at),
     .help = "Units whose height is to be printed."},
    {.name = "sets",
     .label = "Simulated sets",
     .type = FIELD_INT,
     .preset = "1000",
     .offset = offsetof(struct unit_in, sets),
     .min = 100,
     .max = 20000,
     .help = "To judge the height by."},
    {.name = "seed",
     .label = "Seed",
     .type = FIELD_INT,
     .preset = "1",
     .offset = offsetof(struct unit_in, seed),
     .min = 0,
     .max = 1e9,
     .help = "Of the simulation."},
};
static const struct field unit_out_fields[] = {
    OUT_REAL(unit_out, unit, "Likeliest unit", "mm", "Where the quantogram is highest."),
    OUT_REAL(unit_out, height, "Height", "", "Of the quantogram there."),
    OUT_REAL(unit_out, largest, "Largest unit nearly as high", "mm",
             "Halves and thirds of a unit also score; this is the largest within 10 %."),
    OUT_REAL(unit_out, p, "Chance of such a height without a unit", "", "By simulation."),
    OUT_REAL(unit_out, level95, "Height of one set in 20", "", "Without a unit."),
    OUT_REAL(unit_out, level99, "Height of one set in 100", "", "Without a unit."),
    OUT_REAL(unit_out, bound, "Highest possible", "", "sqrt(2 N)."),
    OUT_REALS(unit_out, heights, "Heights at the units asked for", "", "In the order given."),
    OUT_TEXT(unit_out, verdict, "In words", "What may be said."),
};
static const struct kind unit_in_kind = {"unit_in", "Lengths that may share a unit",
                                         sizeof(struct unit_in), FIELDS(unit_in_fields),
                                         "Lengths in one state."};
static const struct kind unit_out_kind = {"unit_out", "The unit and its significance",
                                          sizeof(struct unit_out), FIELDS(unit_out_fields),
                                          "Whether the lengths share a unit."};

static int unit_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct unit_in *i = in;
    struct unit_out *o = out;
    struct shape_seam_unit u;
    int rc = shape_seam_unit(&u, i->lengths.v, i->lengths.n, i->low, i->high, (size_t)i->sets,
                             (uint64_t)i->seed, err);
    if (rc) return rc;
    o->unit = u.q, o->height = u.phi, o->largest = u.largest, o->p = u.p;
    o->level95 = u.level95, o->level99 = u.level99, o->bound = sqrt(2.0 * i->lengths.n);
    o->heights = (struct reals){i->at.n, ARENA_NEW(arena, double, i->at.n)};
    if (!o->heights.v) return fail_memory(err);
    for (size_t k = 0; k < i->at.n; k++)
        o->heights.v[k] =
            i->at.v[k] > 0 ? shape_seam_quantogram(i->lengths.v, i->lengths.n, i->at.v[k]) : NAN;
    o->verdict = u.p < 0.01   ? "A shared unit is well supported."
                 : u.p < 0.05 ? "A shared unit is suggested, not shown."
                              : "No shared unit is shown.";
    return 0;
}

const struct method shape_method_unit = {
    "unit",
    "Whether lengths are multiples of a shared unit",
    "Kendall, Philosophical Transactions of the Royal Society A 276 (1974) 231-266",
    "Use independent lengths or gaps. The height is judged against sets jittered by half the "
    "largest unit either way.",
    &unit_in_kind,
    &unit_out_kind,
    unit_run,
    "{\"lengths\": [24.3, 35.6, 48.1, 59.8, 72.4, 83.7, 108.2, 120.5, 131.6, 144.3], \"low\": 6, "
    "\"high\": 30, \"at\": [12, 24, 6], \"sets\": 200}"};

/* ---- pitch ---- */

struct pitch_in {
    struct tuples sheet, rod;
    int same_stitches;
    double cv;
};
struct pitch_out {
    double sheet, rod, shrink, shrink_u, low, high;
};
static const struct field pitch_in_fields[] = {
    {.name = "sheet",
     .label = "Rows of holes in the sheet",
     .type = FIELD_TUPLES,
     .width = 3,
     .required = true,
     .offset = offsetof(struct pitch_in, sheet),
     .help = "For each row: mean pitch (mm), gaps in the row, ± of the row's length (mm).",
     .example = "[[16.1, 5, 1], [15.4, 2, 1], [15.6, 1, 1]]"},
    {.name = "rod",
     .label = "Rows of dents in the rod",
     .type = FIELD_TUPLES,
     .width = 3,
     .required = true,
     .offset = offsetof(struct pitch_in, rod),
     .help = "Likewise.",
     .example = "[[18.0, 6, 0.5], [17.9, 2, 0.5]]"},
    {.name = "same_stitches",
     .label = "The very same stitches",
     .type = FIELD_FLAG,
     .preset = "true",
     .offset = offsetof(struct pitch_in, same_stitches),
     .help = "If not, uneven stitching adds to the ±."},
    {.name = "cv",
     .label = "Unevenness of stitches",
     .unit = "percent",
     .type = FIELD_REAL,
     .scale = 0.01,
     .preset = "10",
     .offset = offsetof(struct pitch_in, cv),
     .min = 0,
     .max = 100,
     .help = "Spread of one pitch as a share; used when the stitches are not the same."},
};
static const struct field pitch_out_fields[] = {
    OUT_REAL(pitch_out, sheet, "Pitch in the sheet", "mm", "Total length over total gaps."),
    OUT_REAL(pitch_out, rod, "Pitch on the rod", "mm", "Total length over total gaps."),
    OUT_PERCENT(pitch_out, shrink, "Sheet shrank more than rod by", "1 - sheet/rod."),
    OUT_PERCENT(pitch_out, shrink_u, "± of that", "Standard deviation."),
    OUT_PERCENT(pitch_out, low, "At least (5 %)", "Five in a hundred lie below."),
    OUT_PERCENT(pitch_out, high, "At most (95 %)", "Five in a hundred lie above."),
};
static const struct kind pitch_in_kind = {
    "pitch_in", "Stitch rows on sheet and rod", sizeof(struct pitch_in), FIELDS(pitch_in_fields),
    "Dents lie along the grain of the rod and keep their spacing within about 1 % on drying."};
static const struct kind pitch_out_kind = {"pitch_out", "Shrinkage of the sheet against the rod",
                                           sizeof(struct pitch_out), FIELDS(pitch_out_fields),
                                           "With no figure from outside."};

static int pitch_run(const void *in, void *out, struct arena *arena, struct error *err) {
    (void)arena;
    const struct pitch_in *i = in;
    struct pitch_out *o = out;
    struct shape_seam_shrink s;
    int rc = shape_seam_shrinkage(&s, (const struct shape_seam_row *)i->sheet.v, i->sheet.n,
                                  (const struct shape_seam_row *)i->rod.v, i->rod.n,
                                  i->same_stitches == 1 ? 0 : i->cv, err);
    if (rc) return rc;
    *o = (struct pitch_out){s.sheet, s.rod, s.shrink, s.u, s.low, s.high};
    return 0;
}

const struct method shape_method_pitch = {
    "pitch",
    "How much a sheet shrank, from holes in it and dents of the same stitches in a rod",
    "ratio of lengths; first-order error",
    NULL,
    &pitch_in_kind,
    &pitch_out_kind,
    pitch_run,
    "{\"sheet\": [[16.1, 5, 1], [15.4, 2, 1], [15.6, 1, 1]], \"rod\": [[18.0, 6, 0.5], [17.9, 2, "
    "0.5]]}"};
