#include "trial/trial.h"

#include "gather/day.h"
#include "gather/describe.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WORDS(code, words, unit, scale) words,
const char *const outcome_words[] = {OUTCOME_LIST(WORDS) NULL};
#define UNIT(code, words, unit, scale) unit,
static const char *const units[] = {OUTCOME_LIST(UNIT)};
#define SCALE(code, words, unit, scale) scale,
static const double scales[] = {OUTCOME_LIST(SCALE)};

const char *const tools_words[] = {"period", "modern", "both", NULL};
const char *const skill_words[] = {"first time", "some practice", "practised", "master", NULL};
const char *const foretold_words[] = {"foretold", "not foretold", "made before it was asked",
                                      "the prediction was changed after it was sealed", NULL};

const char *trial_outcome_unit(enum outcome o) {
    return units[o];
}
const char *trial_unit(long outcome, const char *given) {
    if (outcome == OUTCOME_VALUE || outcome < 0) return given ? given : "";
    return units[outcome];
}
double trial_outcome_scale(enum outcome o) {
    return scales[o];
}

static const struct field trial_fields[] = {
    F_ID(trial, "Short name of the trial."),
    {AT(trial, question), .label = "Question", .type = FIELD_TEXT, .required = true,
     .help = "What it is to answer."},
    F_REFERS(trial, statement, "About", "statement", "The open statement it is about."),
    F_TEXT(trial, made, "Made", "What is made."),
    F_TEXT(trial, fixed, "Fixed", "What is kept the same."),
    F_TEXT(trial, varied, "Varied", "What is changed on purpose."),
    F_TEXT(trial, species, "Species", "Latin name or genus."),
    {AT(trial, outcome), .label = "Measures", .type = FIELD_CHOICE, .choices = outcome_words,
     .required = true, .help = "What is read off each piece."},
    F_TEXT(trial, unit, "Unit", "Of a measured value."),
    F_OUT(trial, predicted, "Prediction", "", "Middle, in the unit of what is measured."),
    F_REAL(trial, half, "Plus or minus", "", 0, 1e9, "Half-width of the prediction."),
    F_REAL(trial, settle_day, "Settled on day", "days", 0, 36500,
           "Whose reading counts; empty: the last."),
    F_TEXT(trial, predicted_by, "Predicted by", "Role of who wrote it down."),
    F_DATE(trial, predicted_on, "Predicted on", "Day it was written down."),
    F_TEXT(trial, seal, "Seal", "Made by the program when the prediction is written down."),
    F_FLAG(trial, made_before_asked, "Made before it was asked", "Set once, it stays."),
    F_DATE(trial, made_on, "Made on", "Day 0."),
    F_TEXT(trial, if_supports, "If it supports", "What that would mean."),
    F_TEXT(trial, if_against, "If it does not", "What that would mean."),
    F_TEXT(trial, if_open, "If it cannot tell", "What would be done next."),
    F_TEXT(trial, column, "Foretold by", "Column of the possible originals."),
    F_TEXTS(trial, material, "Narrows", "Material roots it may narrow."),
    F_TEXTS(trial, history, "History", "Roots of history it may move, only through a trace."),
    F_TEXT(trial, trace, "Trace", "What it leaves that can be compared with the find."),
    F_REAL(trial, noise, "Error of a strip", "", 0, 1e9,
           "Standard deviation, unit of the prediction."),
    F_REAL(trial, tree_spread, "Between trees", "", 0, 1e9,
           "Standard deviation, unit of the prediction."),
    F_REAL(trial, modern_ancient, "Modern to ancient", "", 0, 1e9,
           "Standard deviation between modern and ancient material, unit of the prediction."),
    F_REAL(trial, sheets, "Sheets", "", 0, 1e4, "It uses up."),
    F_REAL(trial, hours, "Hours", "h", 0, 1e5, "Of work."),
    F_REAL(trial, days, "Days", "days", 0, 36500, "From beginning to reading."),
    F_CHOICE(trial, tools, "Tools", tools_words, "Period or modern."),
    F_CHOICE(trial, skill, "Skill", skill_words, "Of the maker at this work."),
    F_TEXT(trial, maker, "Maker", "Role; a name only with leave."),
    F_TEXT(trial, withheld, "Withheld",
           "What the maker does not tell, as far as it is known to exist."),
    F_DATE(trial, closed_on, "Closed on", "Day it was read back for good."),
    F_TEXT(trial, note, "Note", "Anything else."),
};
const struct kind trial_kind = {"trial", "A trial and its prediction", sizeof(struct trial),
                                FIELDS(trial_fields), "Superseded, never deleted."};

static const struct field piece_fields[] = {
    F_ID(trial_piece, "Short name, as written on it."),
    {AT(trial_piece, trial), .label = "Trial", .type = FIELD_TEXT, .refers = "trial",
     .required = true, .help = "The trial it belongs to."},
    F_REFERS(trial_piece, tree, "Tree", "stem", "Strips of one tree are not repeats."),
    F_TEXT(trial_piece, setting, "Setting", "What was varied, on this piece."),
    F_COUNT(trial_piece, order, "Order", 100000, "In which it was made."),
    F_DATE(trial_piece, made_on, "Made on", "Its day 0; empty: the trial's."),
    F_MM(trial_piece, around, "Across", "Day 0."),
    F_MM(trial_piece, along, "Along", "Day 0."),
    F_MM(trial_piece, through, "Thickness", "Day 0."),
    F_REAL(trial_piece, mass, "Mass", "g", 0, 1e6, "Day 0."),
    F_MM(trial_piece, chord, "Chord", "Day 0, as held."),
    F_MM(trial_piece, rise, "Rise", "Day 0, as held."),
    F_FLAG(trial_piece, failed, "Failed", "It cracked, tore or came apart."),
    F_TEXT(trial_piece, failure, "How", "What failed."),
    F_TEXT(trial_piece, note, "Note", "Anything else."),
};
const struct kind trial_piece_kind = {"trial_piece", "A piece made for a trial",
                                      sizeof(struct trial_piece), FIELDS(piece_fields), ""};

static const struct field reading_fields[] = {
    F_ID(trial_reading, "Short name."),
    {AT(trial_reading, piece), .label = "Piece", .type = FIELD_TEXT, .refers = "trial_piece",
     .required = true, .help = "What was measured."},
    F_DATE(trial_reading, date, "Date", "When."),
    F_REAL(trial_reading, day, "Day", "days", 0, 36500, "Since day 0; empty: from the dates."),
    F_MM(trial_reading, around, "Across", "Measured."),
    F_MM(trial_reading, along, "Along", "Measured."),
    F_MM(trial_reading, through, "Thickness", "Measured."),
    F_REAL(trial_reading, mass, "Mass", "g", 0, 1e6, "Measured."),
    F_MM(trial_reading, chord, "Chord", "Straight-edge laid across."),
    F_REAL(trial_reading, rise, "Rise", "mm", -1e4, 1e4,
           "Under the straight-edge; negative: the other way."),
    F_OUT(trial_reading, value, "Value", "", "In the unit of the prediction."),
    F_SHARE(trial_reading, humidity, "Humidity", 0, 100, "Of the room."),
    F_REAL(trial_reading, temperature, "Temperature", "°C", -40, 120, "Of the room."),
    F_TEXT(trial_reading, photo, "Photo", "Id of the source."),
    F_TEXT(trial_reading, who, "Who", "Role of who measured."),
    F_TEXT(trial_reading, note, "Note", "Anything else."),
};
const struct kind trial_reading_kind = {"trial_reading", "A reading of a piece on a later day",
                                        sizeof(struct trial_reading), FIELDS(reading_fields), ""};

void trial_seal(char seal[SHA256_TEXT], const struct trial *t) {
    struct sha256 s;
    unsigned char hash[SHA256_BYTES];
    char numbers[96];
    const char *parts[] = {t->id, t->question, t->statement, t->predicted_on};
    sha256_begin(&s);
    for (size_t i = 0; i < 4;
         i++) { /* each part with its ending 0, so that they cannot run together */
        const char *text = parts[i] ? parts[i] : "";
        sha256_add(&s, text, strlen(text) + 1);
    }
    int n = snprintf(numbers, sizeof numbers, "%ld|%.15g|%.15g", t->outcome, t->predicted, t->half);
    sha256_add(&s, numbers, (size_t)n);
    sha256_end(&s, hash);
    sha256_hex(hash, seal);
}

enum foretold trial_foretold(const struct trial *t) {
    if (t->made_before_asked == 1) return FORETOLD_LATE;
    if (isnan(t->predicted) || isnan(t->half) || !t->predicted_on || !t->seal) return FORETOLD_NOT;
    char seal[SHA256_TEXT];
    trial_seal(seal, t);
    if (strcmp(seal, t->seal) != 0) return FORETOLD_BROKEN;
    long asked, made;
    struct error ignored = {0};
    if (gather_day_read(&asked, t->predicted_on, &ignored)) return FORETOLD_NOT;
    if (t->made_on && !gather_day_read(&made, t->made_on, &ignored) && asked > made)
        return FORETOLD_LATE;
    return FORETOLD;
}

double trial_reading_day(const struct trial_reading *r, const struct trial_piece *p) {
    if (!isnan(r->day)) return r->day;
    long a, b;
    struct error ignored = {0};
    if (!r->date || !p->made_on || gather_day_read(&a, r->date, &ignored) ||
        gather_day_read(&b, p->made_on, &ignored))
        return NAN;
    return (double)(a - b);
}

static double curvature(double chord, double rise) {
    /* R = c^2/(8 s) + s/2; its inverse, which stays finite for a flat piece. */
    return 8 * rise / (chord * chord + 4 * rise * rise);
}

static double read_outcome(const struct trial *t, const struct trial_piece *p,
                           const struct trial_reading *r) {
    switch (t->outcome) {
    case OUTCOME_SHRINK_AROUND:
        return 1 - r->around / p->around;
    case OUTCOME_SHRINK_ALONG:
        return 1 - r->along / p->along;
    case OUTCOME_SHRINK_THROUGH:
        return 1 - r->through / p->through;
    case OUTCOME_MASS_LOSS:
        return 1 - r->mass / p->mass;
    case OUTCOME_CURVATURE:
        return curvature(r->chord, r->rise);
    case OUTCOME_SPRING_BACK:
        return 1 - curvature(r->chord, r->rise) / curvature(p->chord, p->rise);
    default:
        return r->value;
    }
}

double trial_outcome(const struct trial *t, const struct trial_piece *p,
                     const struct trial_log *book, double *day) {
    *day = NAN;
    if (t->outcome == OUTCOME_FAILED) return p->failed == 1 ? 1 : p->failed == 0 ? 0 : NAN;
    double best = -INFINITY, value = NAN;
    for (size_t i = 0; i < book->n_readings; i++) {
        const struct trial_reading *r = &book->readings[i];
        if (strcmp(r->piece, p->id) != 0) continue;
        struct trial_piece with = *p;
        if (!with.made_on) with.made_on = t->made_on;
        double d = trial_reading_day(r, &with), v = read_outcome(t, p, r);
        if (isnan(d) || isnan(v) || d < best || (!isnan(t->settle_day) && d > t->settle_day))
            continue;
        best = d;
        value = v;
    }
    if (!isnan(value)) *day = best;
    return value;
}
