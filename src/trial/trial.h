/* trial: a thing made to answer a question: what was asked, foretold, set, measured, and when.
 *
 * Kinds a person enters: trial (with its prediction, sealed before the making), trial_piece (what
 * was made, with its sizes on day 0) and trial_reading (what was measured on a later day). Readings
 * are superseded, never deleted; a trial that failed stays in every list. A trial made before it
 * was asked is marked so for ever and is never judged as a prediction. Pure.
 */
#ifndef RELICT_TRIAL_TRIAL_H
#define RELICT_TRIAL_TRIAL_H

#include "base/field.h"
#include "base/sha256.h"

/* What a trial measures of one piece. */
#define OUTCOME_LIST(X)                                                                            \
    X(OUTCOME_SHRINK_AROUND, "shrinkage across", "percent", 0.01)                                  \
    X(OUTCOME_SHRINK_ALONG, "shrinkage along", "percent", 0.01)                                    \
    X(OUTCOME_SHRINK_THROUGH, "shrinkage in thickness", "percent", 0.01)                           \
    X(OUTCOME_CURVATURE, "curvature", "1/m", 0.001)                                                \
    X(OUTCOME_SPRING_BACK, "spring-back", "percent", 0.01)                                         \
    X(OUTCOME_MASS_LOSS, "loss of mass", "percent", 0.01)                                          \
    X(OUTCOME_FAILED, "share that failed", "percent", 0.01)                                        \
    X(OUTCOME_VALUE, "measured value", "", 1)
#define OUTCOME_ENUM(code, words, unit, scale) code,
enum outcome { OUTCOME_LIST(OUTCOME_ENUM) OUTCOME_COUNT };
#undef OUTCOME_ENUM
extern const char *const outcome_words[];
/* Unit at the edge, and what takes it inside (curvature is 1/mm inside, shares are fractions). */
const char *trial_outcome_unit(enum outcome o);
double trial_outcome_scale(enum outcome o);
/* The same, or of a measured value the one a person gave ("" for none). */
const char *trial_unit(long outcome, const char *given);

enum tools { TOOLS_PERIOD, TOOLS_MODERN, TOOLS_BOTH };
extern const char *const tools_words[];
enum skill { SKILL_FIRST, SKILL_SOME, SKILL_PRACTISED, SKILL_MASTER };
extern const char *const skill_words[];

struct trial {
    const char *id;
    const char *question;
    const char *statement;             /* the open statement it is about */
    const char *made, *fixed, *varied; /* in words */
    const char *species;
    long outcome;           /* enum outcome */
    const char *unit;       /* of a measured value; NULL: a plain number */
    double predicted, half; /* at the edge's unit: 6.0 and 1.0 percent */
    double settle_day;      /* the day whose reading counts; unknown: the last */
    const char *predicted_by, *predicted_on;
    const char *seal;      /* hash of the prediction, made when it was written down */
    int made_before_asked; /* 1: for ever */
    const char *made_on;
    const char *if_supports, *if_against,
        *if_open;          /* what each outcome would mean, said beforehand */
    const char *column;    /* of the possible originals, whose values foretell the outcome */
    struct texts material; /* material roots it may narrow */
    struct texts history;  /* roots of history: only through a trace */
    const char *trace;  /* what it leaves that can be compared with the find, and on which piece */
    double noise;       /* of one strip, standard deviation, edge unit */
    double tree_spread; /* between trees, standard deviation, edge unit */
    double modern_ancient; /* discount: standard deviation between modern and ancient material */
    double sheets, hours, days;
    long tools, skill;
    const char *maker, *withheld;
    const char *closed_on, *note;
};

struct trial_piece {
    const char *id, *trial;
    const char *tree; /* stem it came from: strips of one tree are not repeats */
    const char *setting;
    long order; /* in which it was made */
    const char *made_on;
    double around, along, through; /* mm, day 0 */
    double mass;                   /* g, day 0 */
    double chord, rise;            /* mm, day 0 (as held, for spring-back) */
    int failed;
    const char *failure;
    const char *note;
};

struct trial_reading {
    const char *id, *piece;
    const char *date;
    double day; /* since day 0; unknown: from the dates */
    double around, along, through, mass;
    double chord, rise; /* mm: straight-edge laid across, rise under it */
    double value;       /* OUTCOME_VALUE, edge unit */
    double humidity, temperature;
    const char *photo, *who, *note;
};

extern const struct kind trial_kind, trial_piece_kind, trial_reading_kind;

/* Everything about trials at one revision. */
struct trial_log {
    const struct trial *trials;
    size_t n_trials;
    const struct trial_piece *pieces;
    size_t n_pieces;
    const struct trial_reading *readings;
    size_t n_readings;
};

/* Hash that seals a prediction: question, statement, outcome, predicted, half, date. */
void trial_seal(char seal[SHA256_TEXT], const struct trial *t);

enum foretold { FORETOLD, FORETOLD_NOT, FORETOLD_LATE, FORETOLD_BROKEN };
extern const char *const foretold_words[];
/* Whether the prediction counts: written down and sealed before the making; no prediction; made
 * before it was asked (or predicted after the day of making); seal does not fit what stands
 * there now. */
enum foretold trial_foretold(const struct trial *t);

/* Outcome of one piece, inside units, read off its reading on `settle_day` (the last when unknown,
 * else the latest not after it). *day gets the day. NAN when sizes are missing. Curvature from
 * chord and rise: 8 s/(c^2 + 4 s^2). */
double trial_outcome(const struct trial *t, const struct trial_piece *p,
                     const struct trial_log *book, double *day);

/* Day number of a reading since the piece's day 0; NAN when dates are missing. */
double trial_reading_day(const struct trial_reading *r, const struct trial_piece *p);

#endif
