#include "remains/remains_methods.h"

#include "remains/counts.h"
#include "remains/find_alteration.h"
#include "remains/lengths.h"
#include "remains/rulers.h"
#include "remains/stock_take.h"

#include <math.h>
#include <stdlib.h>

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define MM(of, member, words, tip, sample)                                                         \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .min = 0, .max = 1e6,    \
                        .required = true, .help = tip, .example = sample                           \
    }
#define PM(of, member, tip, sample)                                                                \
    {                                                                                              \
        AT(of, member), .label = "±", .unit = "mm", .type = FIELD_REAL, .min = 0, .max = 1e4,      \
                        .required = true, .help = tip, .example = sample                           \
    }
#define OUT_MM(of, member, words, tip)                                                             \
    { AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .help = tip }
#define OUT_SHARE(of, member, words, tip)                                                          \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,      \
                        .help = tip                                                                \
    }
#define OUT_TEXT(of, member, words, tip)                                                           \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }

/* ---- two-readings --------------------------------------------------------------------------- */

struct two_in {
    double first, first_pm, second, second_pm;
};
struct two_out {
    double loss, plus_minus, low, high, needed;
    int coarse;
    const char *advice;
};
static const struct field two_in_fields[] = {
    MM(two_in, first, "First reading", "The earlier size.", "22.0"),
    PM(two_in, first_pm, "Half the 5 to 95 % range.", "0.1"),
    MM(two_in, second, "Second reading", "The same size later.", "20.9"),
    PM(two_in, second_pm, "Half the 5 to 95 % range.", "0.1"),
};
static const struct field two_out_fields[] = {
    OUT_SHARE(two_out, loss, "Share lost", "1 - second / first."),
    OUT_SHARE(two_out, plus_minus, "±", "Both ± together, as a share of the first."),
    OUT_SHARE(two_out, low, "5 % point", ""),
    OUT_SHARE(two_out, high, "95 % point", ""),
    {AT(two_out, coarse), .label = "Too coarse", .type = FIELD_FLAG,
     .help = "The ± is more than a third of the loss."},
    OUT_MM(two_out, needed, "± needed", "Of each reading, for ± a fifth of the loss."),
    OUT_TEXT(two_out, advice, "Advice", ""),
};
static const struct kind two_in_kind = {"two_readings_in", "One size read twice",
                                        sizeof(struct two_in), FIELDS(two_in_fields), ""};
static const struct kind two_out_kind = {"two_readings_out", "What was lost between",
                                         sizeof(struct two_out), FIELDS(two_out_fields), ""};

static int two_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct two_in *i = in;
    struct two_out *o = out;
    struct loss l;
    int rc = remains_two_readings(&l, i->first, i->first_pm, i->second, i->second_pm, err);
    if (rc) return rc;
    *o = (struct two_out){l.loss, l.plus_minus, l.low, l.high, l.needed, l.coarse, NULL};
    o->advice =
        l.coarse ? arena_printf(arena,
                                "too coarse to use: measure a longer size of the same piece in the "
                                "same direction, or this one to ±%.2g mm; touch it only if the "
                                "conservator allows it",
                                l.needed)
                 : arena_strdup(arena, "fine enough to use");
    return o->advice ? 0 : fail_memory(err);
}

static const struct method two_readings = {
    "two-readings",
    "How much a piece lost between two readings",
    "JCGM 100:2008, 5.1.6 (relative errors add in the logarithm)",
    "Both readings must be of the same size of the same piece. The ± of the difference is given as "
    "a share of the first reading; the 5 and 95 % points are worked out in logarithms.",
    &two_in_kind,
    &two_out_kind,
    two_run,
    "{\"first\": 22.0, \"first_pm\": 0.1, \"second\": 20.9, \"second_pm\": 0.1}"};

/* ---- undo-by-reading ------------------------------------------------------------------------ */

struct undo_in {
    double first, first_pm, second, second_pm, reading, reading_pm, own;
    long from_substance, to_substance, from_state, to_state;
    const char *from_taxon, *to_taxon;
};
struct undo_out {
    double fresh, low, high, loss, raw;
    const char *caution;
};
static const struct field undo_in_fields[] = {
    MM(undo_in, first, "Ruler before", "A size of the piece read twice, wet.", "22.0"),
    PM(undo_in, first_pm, "Half the 5 to 95 % range.", "0.1"),
    MM(undo_in, second, "Ruler after", "The same size in the later state.", "20.9"),
    PM(undo_in, second_pm, "Half the 5 to 95 % range.", "0.1"),
    MM(undo_in, reading, "Reading", "Of the piece to correct, in the later state.", "20.5"),
    PM(undo_in, reading_pm, "Half the 5 to 95 % range.", "0.5"),
    {AT(undo_in, own), .label = "Differences between pieces", .unit = "percent", .type = FIELD_REAL,
     .scale = 0.01, .min = 0, .max = 50, .preset = "0.3",
     .help = "sd between pieces treated alike, of the size.", .example = "0.3"},
    {AT(undo_in, from_substance), .label = "Ruler's substance", .type = FIELD_CHOICE,
     .choices = substance_words, .required = true, .help = "What the ruler is made of.",
     .example = "split wood"},
    {AT(undo_in, to_substance), .label = "Piece's substance", .type = FIELD_CHOICE,
     .choices = substance_words, .required = true,
     .help = "What the piece is made of: bark is never corrected by wood.",
     .example = "split wood"},
    {AT(undo_in, from_taxon), .label = "Ruler's genus", .type = FIELD_TEXT, .required = true,
     .help = "Latin name.", .example = "Salix"},
    {AT(undo_in, to_taxon), .label = "Piece's genus", .type = FIELD_TEXT, .required = true,
     .help = "Latin name.", .example = "Salix"},
    {AT(undo_in, from_state), .label = "Ruler's later state", .type = FIELD_CHOICE,
     .choices = state_words, .preset = "after treatment", .help = "Of the second reading.",
     .example = "after treatment"},
    {AT(undo_in, to_state), .label = "Piece's state", .type = FIELD_CHOICE, .choices = state_words,
     .preset = "after treatment", .help = "Of the reading.", .example = "after treatment"},
};
static const struct field undo_out_fields[] = {
    OUT_MM(undo_out, fresh, "As the ruler was before", "Reading / (1 - loss)."),
    OUT_MM(undo_out, low, "5 % point", ""),
    OUT_MM(undo_out, high, "95 % point", ""),
    OUT_SHARE(undo_out, loss, "Share lost", "By the ruler."),
    OUT_MM(undo_out, raw, "Raw reading", "Kept beside the corrected size."),
    OUT_TEXT(undo_out, caution, "Caution", ""),
};
static const struct kind undo_in_kind = {"undo_by_reading_in", "A ruler and a reading",
                                         sizeof(struct undo_in), FIELDS(undo_in_fields), ""};
static const struct kind undo_out_kind = {"undo_by_reading_out", "The corrected size",
                                          sizeof(struct undo_out), FIELDS(undo_out_fields), ""};

static int undo_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct undo_in *i = in;
    struct undo_out *o = out;
    struct piece from, to;
    struct loss l;
    const char *reason;
    (void)arena;
    field_unknown(&piece_kind, &from);
    field_unknown(&piece_kind, &to);
    from.substance = i->from_substance;
    from.taxon = i->from_taxon;
    to.substance = i->to_substance;
    to.taxon = i->to_taxon;
    if (!remains_alteration_may_pass(&from, i->from_state, &to, i->to_state, &reason))
        return fail(err, ERR_REFUSED,
                    "Use a piece of the same material read twice, or a figure for that material "
                    "(relict calc alteration).",
                    "The figure of the ruler is not offered to this piece: %s.", reason);
    int rc = remains_two_readings(&l, i->first, i->first_pm, i->second, i->second_pm, err);
    if (rc) return rc;
    if (!(i->reading > 0))
        return fail(err, ERR_RANGE, "Measure it again.", "A reading of %g mm.", i->reading);
    static const double z = 1.6448536269514722; /* normal 95 % point */
    double g = log(i->first / i->second);
    double pm = hypot(i->first_pm / i->first, i->second_pm / i->second);
    /* The ruler's own difference and the piece's both count: each is one of many. */
    pm = hypot(hypot(pm, i->reading_pm / i->reading), z * i->own * sqrt(2));
    *o = (struct undo_out){i->reading * exp(g),
                           i->reading * exp(g - pm),
                           i->reading * exp(g + pm),
                           l.loss,
                           i->reading,
                           NULL};
    if (l.coarse) o->caution = "the ruler's readings are too coarse to use";
    return 0;
}

static const struct method undo_by_reading = {
    "undo-by-reading",
    "Undo a change of size by a piece that was read before and after it",
    "JCGM 100:2008, 5.1.6 (relative errors add in the logarithm)",
    "The piece must be of the same genus and substance and in the same state as the ruler; "
    "anything "
    "else is refused. What comes out is the size in the ruler's first state.",
    &undo_in_kind,
    &undo_out_kind,
    undo_run,
    "{\"first\": 22.0, \"first_pm\": 0.1, \"second\": 20.9, \"second_pm\": 0.1, \"reading\": 20.5, "
    "\"reading_pm\": 0.5, \"from_substance\": \"split wood\", \"to_substance\": \"split wood\", "
    "\"from_taxon\": \"Salix\", \"to_taxon\": \"Salix\"}"};

/* ---- pitch-ratio ---------------------------------------------------------------------------- */

struct pitch_in {
    struct tuples rods, sheets;
    double gap_scatter;
};
struct pitch_out {
    double rod, sheet, loss, low, high;
};
static const struct field pitch_in_fields[] = {
    {AT(pitch_in, rods), .label = "Rows along rods", .type = FIELD_TUPLES, .width = 3,
     .required = true,
     .help = "Spacing in mm, number of spacings, ± of the whole row in mm, for each row of dents.",
     .example = "[[18.0, 6, 0.5], [17.9, 2, 0.5]]"},
    {AT(pitch_in, sheets), .label = "Rows in the sheet", .type = FIELD_TUPLES, .width = 3,
     .required = true, .help = "The same for each row of holes.",
     .example = "[[16.1, 5, 1], [15.4, 2, 1], [15.6, 1, 1]]"},
    {AT(pitch_in, gap_scatter), .label = "Scatter of a spacing", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 50, .preset = "2",
     .help = "How evenly it was sewn: sd of one spacing.", .example = "2"},
};
static const struct field pitch_out_fields[] = {
    OUT_MM(pitch_out, rod, "Spacing on the rod", "Weighted by the number of spacings."),
    OUT_MM(pitch_out, sheet, "Spacing in the sheet", "Weighted by the number of spacings."),
    OUT_SHARE(pitch_out, loss, "The sheet shrank more by", "1 - sheet / rod."),
    OUT_SHARE(pitch_out, low, "5 % point", ""),
    OUT_SHARE(pitch_out, high, "95 % point", ""),
};
static const struct kind pitch_in_kind = {"pitch_ratio_in", "Rows of the same stitches",
                                          sizeof(struct pitch_in), FIELDS(pitch_in_fields), ""};
static const struct kind pitch_out_kind = {"pitch_ratio_out", "What the rows say",
                                           sizeof(struct pitch_out), FIELDS(pitch_out_fields), ""};

static int pitch_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct pitch_in *i = in;
    struct pitch_out *o = out;
    struct pitch_ratio r;
    const struct tuples *lists[] = {&i->rods, &i->sheets};
    struct hole_row *rows[2];
    for (int k = 0; k < 2; k++) {
        rows[k] = ARENA_NEW(arena, struct hole_row, lists[k]->n + 1);
        if (!rows[k]) return fail_memory(err);
        for (size_t j = 0; j < lists[k]->n; j++) {
            const double *v = lists[k]->v + 3 * j;
            rows[k][j] = (struct hole_row){v[0], v[1], v[2]};
        }
    }
    int rc = remains_pitch_ratio(&r, rows[0], i->rods.n, rows[1], i->sheets.n, i->gap_scatter, err);
    if (rc) return rc;
    *o = (struct pitch_out){r.rod, r.sheet, r.loss, r.low, r.high};
    return 0;
}

static const struct method pitch_method = {
    "pitch-ratio",
    "How much more a sheet shrank than a rod that carries the same stitches",
    "geometry; relative errors by JCGM 100:2008, 5.1.6",
    "Dents along a rod lie along its grain, so their spacing hardly changes: they are the object's "
    "own ruler for the sheet. Which rows are of the same stitches is for a person to say.",
    &pitch_in_kind,
    &pitch_out_kind,
    pitch_run,
    "{\"rods\": [[18.0, 6, 0.5], [17.9, 2, 0.5]], "
    "\"sheets\": [[16.1, 5, 1], [15.4, 2, 1], [15.6, 1, 1]]}"};

/* ---- count ---------------------------------------------------------------------------------- */

struct count_in {
    long whole_ends;
    double total, longest, run, spacing;
};
struct count_out {
    long least, by_ends, by_length, by_spacing;
    const char *ends, *length, *spaced;
};
static const struct field count_in_fields[] = {
    {AT(count_in, whole_ends), .label = "Original ends", .type = FIELD_INT, .min = 0, .max = 1e6,
     .preset = "0", .help = "That survive on all pieces.", .example = "8"},
    {AT(count_in, total), .label = "Length of all pieces", .unit = "mm", .type = FIELD_REAL,
     .min = 0, .max = 1e9, .help = "All in one state.", .example = "1595"},
    {AT(count_in, longest), .label = "Longest one can be", .unit = "mm", .type = FIELD_REAL,
     .min = 0, .max = 1e6, .help = "Width of the whole, for a part that lies across it.",
     .example = "327"},
    {AT(count_in, run), .label = "Length it may run over", .unit = "mm", .type = FIELD_REAL,
     .min = 0, .max = 1e6, .help = "Length of the whole.", .example = "498"},
    {AT(count_in, spacing), .label = "Spacing seen", .unit = "mm", .type = FIELD_REAL, .min = 0,
     .max = 1e6, .help = "Between two of them.", .example = "69"},
};
static const struct field count_out_fields[] = {
    {AT(count_out, least), .label = "At least", .type = FIELD_INT,
     .help = "By the stronger limit."},
    {AT(count_out, by_ends), .label = "At least, by ends", .type = FIELD_INT, .help = ""},
    {AT(count_out, by_length), .label = "At least, by length", .type = FIELD_INT, .help = ""},
    {AT(count_out, by_spacing), .label = "If the spacing runs on", .type = FIELD_INT, .help = ""},
    OUT_TEXT(count_out, ends, "Argument of the ends", ""),
    OUT_TEXT(count_out, length, "Argument of the length", ""),
    OUT_TEXT(count_out, spaced, "Argument of the spacing", ""),
};
static const struct kind count_in_kind = {"count_in", "What survives", sizeof(struct count_in),
                                          FIELDS(count_in_fields), ""};
static const struct kind count_out_kind = {"count_out", "How many, as a range",
                                           sizeof(struct count_out), FIELDS(count_out_fields), ""};

static long or_unknown(const struct count_argument *a) {
    return a->text ? a->at_least ? a->at_least : a->expected : FIELD_UNKNOWN;
}
static int count_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct count_in *i = in;
    struct count_out *o = out;
    struct part_count c = {0};
    int rc = remains_count_arguments(&c, i->whole_ends, i->total, i->longest, i->run, i->spacing,
                                     arena, err);
    if (rc) return rc;
    *o = (struct count_out){
        c.least,     or_unknown(&c.ends), or_unknown(&c.length), or_unknown(&c.spaced),
        c.ends.text, c.length.text,       c.spaced.text};
    return 0;
}

static const struct method count_method = {
    "count",
    "How many there were of a part, by ends, by length and by spacing",
    "counting",
    "Never one number alone: two lower limits and what a spacing would give if it ran on. Lengths "
    "must stand in one state before they are added.",
    &count_in_kind,
    &count_out_kind,
    count_run,
    "{\"whole_ends\": 8, \"total\": 1595, \"longest\": 327, \"run\": 498, \"spacing\": 69}"};

/* ---- mean-size ------------------------------------------------------------------------------ */

struct mean_reading {
    double value, tolerance;
    long state, end;
    const char *treatment;
};
struct mean_in {
    struct records readings;
};
struct mean_out {
    double mean, sd, u;
    long n;
    const char *state;
};
static const struct field mean_reading_fields[] = {
    MM(mean_reading, value, "Value", "As measured.", "25.5"),
    {AT(mean_reading, tolerance), .label = "±", .unit = "mm", .type = FIELD_REAL, .min = 0,
     .max = 1e4, .help = "Half the 5 to 95 % range.", .example = "0.5"},
    {AT(mean_reading, state), .label = "State", .type = FIELD_CHOICE, .choices = state_words,
     .required = true, .help = "When it was measured.", .example = "after treatment"},
    {AT(mean_reading, treatment), .label = "Treatment", .type = FIELD_TEXT,
     .help = "Which, for `after treatment`."},
    {AT(mean_reading, end), .label = "Ends", .type = FIELD_CHOICE, .choices = end_words,
     .preset = "whole", .help = "Anything but whole makes it a minimum."},
};
static const struct kind mean_reading_kind = {
    "mean_reading", "A reading", sizeof(struct mean_reading), FIELDS(mean_reading_fields), ""};
static const struct field mean_in_fields[] = {
    {AT(mean_in, readings), .label = "Readings", .type = FIELD_RECORDS, .sub = &mean_reading_kind,
     .required = true, .help = "All in one state."},
};
static const struct field mean_out_fields[] = {
    OUT_MM(mean_out, mean, "Mean", ""),
    OUT_MM(mean_out, sd, "Standard deviation", "Between the readings."),
    OUT_MM(mean_out, u, "Standard uncertainty", "Of the mean."),
    {AT(mean_out, n), .label = "Readings", .type = FIELD_INT, .help = ""},
    OUT_TEXT(mean_out, state, "State", "The one all stand in."),
};
static const struct kind mean_in_kind = {"mean_size_in", "Readings", sizeof(struct mean_in),
                                         FIELDS(mean_in_fields), ""};
static const struct kind mean_out_kind = {"mean_size_out", "Their mean", sizeof(struct mean_out),
                                          FIELDS(mean_out_fields), ""};

static int mean_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct mean_in *i = in;
    const struct mean_reading *r = i->readings.v;
    struct mean_out *o = out;
    size_t n = i->readings.n;
    struct measure *m = ARENA_NEW(arena, struct measure, n + 1);
    const struct measure **v = ARENA_NEW(arena, const struct measure *, n + 1);
    struct piece p;
    if (!m || !v) return fail_memory(err);
    field_unknown(&piece_kind, &p);
    p.id = "piece";
    struct find find = {.pieces = &p, .piece_count = 1};
    for (size_t k = 0; k < n; k++) {
        field_unknown(&measure_kind, &m[k]);
        m[k].id = arena_printf(arena, "reading %zu", k + 1);
        m[k].piece = p.id;
        m[k].quantity = QUANTITY_WIDTH;
        m[k].value = r[k].value;
        m[k].tolerance = r[k].tolerance;
        m[k].state = r[k].state;
        m[k].treatment = r[k].treatment;
        m[k].end_kinds.n = 1;
        m[k].end_kinds.v = ARENA_NEW(arena, long, 1);
        if (!m[k].id || !m[k].end_kinds.v) return fail_memory(err);
        m[k].end_kinds.v[0] = r[k].end;
        v[k] = &m[k];
    }
    struct mean_size s;
    int rc = remains_mean(&s, &find, v, n, err);
    if (rc) return rc;
    *o = (struct mean_out){s.mean, s.sd, s.u, (long)s.n, s.state};
    return 0;
}

static const struct method mean_method = {
    "mean-size",
    "The plain mean of readings, refused where none may be taken",
    "JCGM 100:2008, 4.2",
    "Refused across states (each state has shrunk differently), over minimums (the mean comes out "
    "too small) and over rival readings; the refusal says what can be done instead.",
    &mean_in_kind,
    &mean_out_kind,
    mean_run,
    "{\"readings\": [{\"value\": 25.5, \"tolerance\": 0.5, \"state\": \"after treatment\"}, "
    "{\"value\": 25.0, \"tolerance\": 0.5, \"state\": \"after treatment\"}]}"};

/* ---- part-length ---------------------------------------------------------------------------- */

struct part_in {
    struct reals whole, minimums;
    double scatter_median, scatter_log_sd;
};
struct part_out {
    double median, low, high, scatter, scatter_low, scatter_high;
};
static const struct field part_in_fields[] = {
    {AT(part_in, whole), .label = "Whole lengths", .unit = "mm", .type = FIELD_REALS,
     .required = true, .help = "With both ends, one at least; all in one state.",
     .example = "[317.5]"},
    {AT(part_in, minimums), .label = "Minimums", .unit = "mm", .type = FIELD_REALS,
     .help = "With one end broken: at least this long.", .example = "[268, 189, 140, 114]"},
    {AT(part_in, scatter_median), .label = "Scatter beforehand", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0.1, .max = 100, .preset = "8",
     .help = "How much such parts differ in length: middle guess.", .example = "8"},
    {AT(part_in, scatter_log_sd), .label = "How sure", .type = FIELD_REAL, .min = 0.01, .max = 2,
     .preset = "0.5", .help = "sd of its logarithm: 0.5 is a factor of 2.3 either way at 90 %.",
     .example = "0.5"},
};
static const struct field part_out_fields[] = {
    OUT_MM(part_out, median, "Typical length", "Posterior median."),
    OUT_MM(part_out, low, "5 % point", "Of the typical length."),
    OUT_MM(part_out, high, "95 % point", "Of the typical length."),
    OUT_SHARE(part_out, scatter, "Scatter", "Log sd between parts, posterior median."),
    OUT_SHARE(part_out, scatter_low, "5 % point", "Of the scatter."),
    OUT_SHARE(part_out, scatter_high, "95 % point", "Of the scatter."),
};
static const struct kind part_in_kind = {"part_length_in", "Lengths of one part",
                                         sizeof(struct part_in), FIELDS(part_in_fields), ""};
static const struct kind part_out_kind = {"part_length_out", "How long it was",
                                          sizeof(struct part_out), FIELDS(part_out_fields), ""};

static int compare(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}
static int part_run(const void *in, void *out, struct arena *arena, struct error *err) {
    enum { N = 64 };
    const struct part_in *i = in;
    struct part_out *o = out;
    size_t n = i->whole.n + i->minimums.n;
    struct length_reading *v = ARENA_NEW(arena, struct length_reading, n + 1);
    struct length_grid *g = ARENA_NEW(arena, struct length_grid, 1);
    double *mu = ARENA_NEW(arena, double, N *N), s;
    if (!v || !g || !mu) return fail_memory(err);
    for (size_t k = 0; k < n; k++)
        v[k] = k < i->whole.n ? (struct length_reading){i->whole.v[k], true, 1}
                              : (struct length_reading){i->minimums.v[k - i->whole.n], false, 1};
    int rc = remains_length_grid(g, v, n, i->scatter_median, i->scatter_log_sd, err);
    if (rc) return rc;
    for (size_t a = 0; a < N; a++)
        for (size_t b = 0; b < N; b++)
            remains_length_at(g, ((double)a + 0.5) / N, ((double)b + 0.5) / N, &mu[a * N + b], &s);
    qsort(mu, N * N, sizeof *mu, compare);
    o->median = exp(mu[N * N / 2]);
    o->low = exp(mu[N * N / 20]);
    o->high = exp(mu[N * N - 1 - N * N / 20]);
    remains_length_at(g, 0.5, 0.5, &s, &o->scatter);
    remains_length_at(g, 0.05, 0.5, &s, &o->scatter_low);
    remains_length_at(g, 0.95, 0.5, &s, &o->scatter_high);
    return 0;
}

static const struct method part_length = {
    "part-length",
    "Typical length of a part from whole and broken pieces",
    "Klein & Moeschberger 2003, Survival Analysis, 3.5 (right-censored likelihood)",
    "Lognormal; broken pieces only say `at least`. Flat prior on the length, a weak one on the "
    "scatter, posterior on a grid. Breaks must fall independently of length; pieces of one "
    "original "
    "must not be counted as several.",
    &part_in_kind,
    &part_out_kind,
    part_run,
    "{\"whole\": [317.5], \"minimums\": [268, 189, 140, 118, 114, 91]}"};

static const struct method *const methods[] = {&two_readings, &undo_by_reading, &pitch_method,
                                               &count_method, &mean_method,     &part_length};
const struct method_list remains_methods = METHODS(methods);
