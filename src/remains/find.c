#include "remains/find.h"

#include <math.h>
#include <string.h>

/* ---- words ---------------------------------------------------------------------------------- */

const char *const state_words[] = {
    "in ground",  "wet in lab", "after treatment", "dried before treatment",
    "part-dried", "trial day",  "fresh",           "new and dry",
    NULL};
const char *const direction_words[] = {"along", "around", "through", "across", NULL};
const char *const face_words[] = {"outer", "inner", "between layers", NULL};
const char *const substance_words[] = {"split wood",  "round wood", "bark",  "bast",  "hide",
                                       "coiled work", "colour",     "trace", "mixed", NULL};
const char *const end_words[] = {"whole", "broken", "torn", "worn", NULL};
const char *const quantity_words[] = {"length",
                                      "width",
                                      "thickness",
                                      "chord",
                                      "rise",
                                      "holes",
                                      "pitch",
                                      "hole diameter",
                                      "rounds",
                                      "round pitch",
                                      "chamfer length",
                                      "chamfer angle",
                                      "scarf length",
                                      "tongue length",
                                      "edge distance",
                                      "row distance",
                                      "stitches in 10 mm",
                                      "peg hole diameter",
                                      "place from end",
                                      "height",
                                      "mass",
                                      "moisture",
                                      "gap",
                                      "other",
                                      NULL};
const char *const bound_words[] = {"value", "at least", "at most", NULL};
const char *const tolerance_words[] = {"5 to 95 %", "one standard deviation", "2.5 to 97.5 %",
                                       "limits", NULL};
const char *const mark_words[] = {
    "edge",       "hole row", "hole",      "slit",     "lath shadow", "rim shadow",
    "score line", "paint",    "tool mark", "crossing", "wear",        "impression",
    "dent row",   "tear",     "knot",      "wrap",     "other",       NULL};
const char *const source_words[] = {"record", "publication", "photo", "scan",
                                    "reply",  "parallel",    "file",  NULL};

/* ---- descriptors ---------------------------------------------------------------------------- */

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define ID(of, noun)                                                                               \
    {                                                                                              \
        AT(of, id), .label = "Id", .type = FIELD_TEXT, .required = true,                           \
                    .help = "A short name for this " noun ", unique in the project."               \
    }
#define TEXT(of, member, words, tip)                                                               \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }
#define REFERS(of, member, words, to, tip)                                                         \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .refers = to, .help = tip }
#define CHOICE(of, member, words, list, tip)                                                       \
    { AT(of, member), .label = words, .type = FIELD_CHOICE, .choices = list, .help = tip }
#define DATE(of)                                                                                   \
    {                                                                                              \
        AT(of, date), .label = "Date", .type = FIELD_DATE, .help = "Year-month-day, or less.",     \
                      .example = "2024-06-03"                                                      \
    }
#define HIDDEN(of)                                                                                 \
    {                                                                                              \
        AT(of, hidden), .label = "Private", .type = FIELD_FLAG, .preset = "no",                    \
                        .help = "Private things are left out of what is handed over."              \
    }
#define SHARE(of, member, words, tip)                                                              \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,      \
                        .min = -100, .max = 99, .help = tip                                        \
    }

static const struct field piece_fields[] = {
    ID(piece, "piece"),
    TEXT(piece, part, "Taken for", "What part of the object it is taken for, in your own words."),
    TEXT(piece, material, "Material as written", "Species and kind as the identification says."),
    TEXT(piece, taxon, "Taxon", "Latin name used to look up figures; leave out when unknown."),
    TEXT(piece, other_taxon, "Could also be", "The next likely taxon."),
    CHOICE(piece, substance, "Substance", substance_words,
           "Decides which change of size may be undone for it; bark is never treated as wood."),
    CHOICE(piece, confidence, "Confidence", confidence_words, "How firm the identification is."),
    TEXT(piece, zone, "Zone", "Pieces of one zone were buried, dried and treated alike."),
    {AT(piece, belongs), .label = "Belongs", .type = FIELD_REAL, .min = 0, .max = 1,
     .preset = "0.99", .help = "Probability that the piece belongs to this object."},
    {AT(piece, shape_only), .label = "Shape only", .type = FIELD_FLAG, .preset = "no",
     .help = "No scale: kept as shape, out of every sum."},
    REFERS(piece, same_as, "Second reading of", "piece",
           "The piece of which this row is another reading."),
    {AT(piece, joins), .label = "Joins", .type = FIELD_TEXTS, .refers = "piece",
     .help = "Pieces it joins at a break."},
    {AT(piece, ring_angle), .label = "Ring angle", .unit = "degrees", .type = FIELD_REAL,
     .scale = 0.017453292519943295, .min = 0, .max = 90,
     .help = "Angle between growth rings and the wide face of split wood, 0 to 90 degrees."},
    CHOICE(piece, face_up, "Face drawn", face_words, "The face seen when it was drawn."),
    TEXT(piece, note, "Note", "As written in the list."),
    HIDDEN(piece),
};
const struct kind piece_kind = {"piece", "A surviving fragment", sizeof(struct piece),
                                FIELDS(piece_fields), "One row of a finds list."};

static const struct field measure_fields[] = {
    ID(measure, "measure"),
    {AT(measure, piece), .label = "Piece", .type = FIELD_TEXT, .refers = "piece", .required = true,
     .help = "The piece that was measured."},
    REFERS(measure, mark, "Mark", "mark", "The mark on it that was measured, if any."),
    {AT(measure, quantity), .label = "Quantity", .type = FIELD_CHOICE, .required = true,
     .choices = quantity_words, .help = "What was measured."},
    {AT(measure, value), .label = "Value", .unit = "mm", .type = FIELD_REAL, .required = true,
     .min = 0, .max = 1e5, .help = "In mm; degrees for angles, g for mass, percent for moisture."},
    {AT(measure, tolerance), .label = "±", .unit = "mm", .type = FIELD_REAL, .min = 0, .max = 1e4,
     .help = "Half the width of the range the truth lies in (5 to 95 % unless said)."},
    {AT(measure, tolerance_means), .label = "± means", .type = FIELD_CHOICE,
     .choices = tolerance_words, .preset = "5 to 95 %", .help = "How the ± is to be read."},
    {AT(measure, bound), .label = "Bound", .type = FIELD_CHOICE, .choices = bound_words,
     .preset = "value", .help = "A value, or only an upper or lower limit."},
    CHOICE(measure, direction, "Direction", direction_words,
           "Against the grain of the material; `across` when nobody knows which."),
    CHOICE(measure, state, "State", state_words, "When in the piece's life it was measured."),
    TEXT(measure, treatment, "Treatment", "Which treatment, for `after treatment`."),
    {AT(measure, day), .label = "Day", .type = FIELD_INT, .min = 0, .max = 1e5,
     .help = "Day of the trial."},
    {AT(measure, ends), .label = "Ends as written", .type = FIELD_TEXTS,
     .help = "The words for the ends or edges between which it was measured."},
    {AT(measure, end_kinds), .label = "Ends", .type = FIELD_INTS, .min = 0, .max = 3,
     .help = "0 whole, 1 broken, 2 torn, 3 worn, in the order of the ends as written."},
    CHOICE(measure, face, "Face", face_words, "The face it was measured on."),
    TEXT(measure, observer, "Observer", "Who measured, by role or initials."),
    DATE(measure),
    TEXT(measure, method, "Method", "Calliper, tape, from a photo, tracing."),
    REFERS(measure, source, "Source", "source", "Where the reading is taken from."),
    REFERS(measure, rival_of, "Contradicts", "measure", "The reading it is a rival of."),
    TEXT(measure, flag, "Reservation", "Why it should be used with care."),
    TEXT(measure, note, "Note", ""),
};
const struct kind measure_kind = {"measure", "One measured number", sizeof(struct measure),
                                  FIELDS(measure_fields),
                                  "One row of a finds list yields many measures."};

static const struct field mark_fields[] = {
    ID(mark, "mark"),
    {AT(mark, piece), .label = "Piece", .type = FIELD_TEXT, .refers = "piece", .required = true,
     .help = "The piece it is seen on."},
    {AT(mark, kind), .label = "Kind", .type = FIELD_CHOICE, .choices = mark_words, .required = true,
     .help = "What was seen."},
    {AT(mark, points), .label = "Points", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .help = "Where, in the piece's own plan."},
    CHOICE(mark, face, "Face", face_words, "The face it is on."),
    TEXT(mark, over, "Over", "At a crossing: what lies above."),
    TEXT(mark, under, "Under", "At a crossing: what lies below."),
    TEXT(mark, fits, "Left by", "The mark, piece or part that left it."),
    TEXT(mark, what, "What", "In words."),
    CHOICE(mark, confidence, "Confidence", confidence_words, "How firm the reading is."),
};
const struct kind mark_kind_kind = {"mark", "Something seen on a piece", sizeof(struct mark),
                                    FIELDS(mark_fields), ""};

static const struct field outline_fields[] = {
    ID(piece_outline, "outline"),
    {AT(piece_outline, piece), .label = "Piece", .type = FIELD_TEXT, .refers = "piece",
     .required = true, .help = "The piece whose outline it is."},
    {AT(piece_outline, frame), .label = "Frame", .type = FIELD_TEXT, .preset = "as found",
     .help = "`as found` for the common plan, `own` for the piece by itself."},
    {AT(piece_outline, points), .label = "Points", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "Corners in order, x right, y up, without repeating the first."},
    {AT(piece_outline, surviving), .label = "Surviving edge", .type = FIELD_INTS, .min = 0,
     .max = 1, .help = "1 for each side that is an original edge of the object."},
    CHOICE(piece_outline, state, "State", state_words, "When it was drawn."),
    REFERS(piece_outline, source, "Source", "source", "Tracing, photo or scan."),
    {AT(piece_outline, corrected), .label = "Film corrected", .type = FIELD_FLAG, .preset = "no",
     .help = "Whether the stretch of the film was undone by control points."},
};
const struct kind piece_outline_kind = {"outline", "Outline of a piece in plan",
                                        sizeof(struct piece_outline), FIELDS(outline_fields), ""};

static const struct field source_fields[] = {
    ID(source, "source"),
    {AT(source, kind), .label = "Kind", .type = FIELD_CHOICE, .choices = source_words,
     .required = true, .help = "What sort of source."},
    TEXT(source, title, "Title", "Citation, or what it is."),
    TEXT(source, who, "Who", "By role; a name only with consent."),
    DATE(source),
    TEXT(source, text, "Text", "What it says, in its own words."),
    {AT(source, about), .label = "About", .type = FIELD_TEXTS,
     .help = "Pieces or statements it bears on."},
    TEXT(source, file, "File", "Name of the stored file."),
    {AT(source, bar_length), .label = "Scale bar", .unit = "mm", .type = FIELD_REAL,
     .above_min = true, .min = 0, .max = 1e4, .help = "Length of the bar in a photo."},
    HIDDEN(source),
};
const struct kind source_kind = {"source", "A record, publication, photo, scan or reply",
                                 sizeof(struct source), FIELDS(source_fields), ""};

static const struct field choice_fields[] = {
    ID(choice, "choice"),
    {AT(choice, about), .label = "About", .type = FIELD_TEXT, .required = true,
     .help = "The statement or question it answers."},
    TEXT(choice, value, "Chosen", "What was chosen or held."),
    TEXT(choice, rival, "Rival", "What else it could be; a guess names one."),
    TEXT(choice, reason, "Reason", "Why."),
    TEXT(choice, who, "Who", "By role."),
    DATE(choice),
    CHOICE(choice, footing, "Footing", footing_words, "What kind of reason it is."),
    {AT(choice, p05), .label = "Low (5 %)", .type = FIELD_REAL, .help = "Of a number."},
    {AT(choice, p50), .label = "Likely", .type = FIELD_REAL, .help = "Of a number."},
    {AT(choice, p95), .label = "High (95 %)", .type = FIELD_REAL, .help = "Of a number."},
    TEXT(choice, unit, "Unit", ""),
    {AT(choice, probability), .label = "Probability", .type = FIELD_REAL, .min = 0, .max = 1,
     .help = "Of the chosen among its rivals."},
    REFERS(choice, source, "Source", "source", "What it relies on."),
};
const struct kind choice_kind = {"choice", "A decision, guess or second view",
                                 sizeof(struct choice), FIELDS(choice_fields), ""};

static const struct field handling_fields[] = {
    ID(handling, "note"),
    {AT(handling, piece), .label = "Piece", .type = FIELD_TEXT, .refers = "piece", .required = true,
     .help = "The piece it is about."},
    {AT(handling, allowed), .label = "May be touched", .type = FIELD_FLAG,
     .help = "The conservator's yes or no; respected in what is proposed."},
    TEXT(handling, reason, "Reason", "Why it may or may not."),
    TEXT(handling, what, "What", "What was done, or would be."),
    TEXT(handling, who, "Who", "By role."),
    DATE(handling),
};
const struct kind handling_kind = {"handling", "May it be touched, and what was done",
                                   sizeof(struct handling), FIELDS(handling_fields), ""};

static const struct field own_alteration_fields[] = {
    ID(own_alteration, "alteration"),
    CHOICE(own_alteration, substance, "Substance", substance_words, "What it holds for."),
    TEXT(own_alteration, taxon, "Taxon", "Empty: any."),
    TEXT(own_alteration, zone, "Zone", "Empty: any."),
    CHOICE(own_alteration, from, "From state", state_words, "The earlier state."),
    CHOICE(own_alteration, to, "To state", state_words, "The later state."),
    CHOICE(own_alteration, direction, "Direction", direction_words, ""),
    SHARE(own_alteration, p05, "Low (5 %)", "Share of the earlier size that was lost."),
    SHARE(own_alteration, p50, "Likely", "Share of the earlier size that was lost."),
    SHARE(own_alteration, p95, "High (95 %)", "Share of the earlier size that was lost."),
    TEXT(own_alteration, source, "Source", "Where the figure comes from."),
};
const struct kind own_alteration_kind = {"alteration", "A change of size measured elsewhere",
                                         sizeof(struct own_alteration),
                                         FIELDS(own_alteration_fields), ""};

/* ---- small questions ------------------------------------------------------------------------ */

bool end_is_whole(long end) {
    return end == END_WHOLE;
}

const struct piece *find_piece(const struct find *find, const char *id) {
    for (size_t i = 0; i < find->piece_count; i++)
        if (strcmp(find->pieces[i].id, id) == 0) return &find->pieces[i];
    return NULL;
}

const struct measure *find_measure(const struct find *find, const char *id) {
    for (size_t i = 0; i < find->measure_count; i++)
        if (strcmp(find->measures[i].id, id) == 0) return &find->measures[i];
    return NULL;
}

const struct measure *find_measure_of(const struct find *find, const char *piece, long quantity) {
    for (size_t i = 0; i < find->measure_count; i++) {
        const struct measure *m = &find->measures[i];
        if (m->quantity == quantity && !m->rival_of && strcmp(m->piece, piece) == 0) return m;
    }
    return NULL;
}

double measure_sd(const struct measure *m) {
    /* Normal quantiles: 95 % point 1.6449, 97.5 % point 1.9600; limits are a rectangle of that
     * half-width, whose standard deviation is half-width / sqrt 3 (JCGM 100:2008, 4.3.7). */
    switch (m->tolerance_means) {
    case TOLERANCE_ONE_SD:
        return m->tolerance;
    case TOLERANCE_RANGE_95:
        return m->tolerance / 1.959963984540054;
    case TOLERANCE_LIMITS:
        return m->tolerance / sqrt(3);
    default:
        return m->tolerance / 1.6448536269514722;
    }
}

bool measure_is_complete(const struct measure *m) {
    if (m->bound != BOUND_VALUE || m->end_kinds.n == 0) return m->bound == BOUND_VALUE;
    for (size_t i = 0; i < m->end_kinds.n; i++)
        if (!end_is_whole(m->end_kinds.v[i])) return false;
    return true;
}
