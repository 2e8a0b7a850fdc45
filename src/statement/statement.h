/* statement: something said about the object, with its distribution, its footing and the chain
 * down to the raw measures, sources and choices it rests on.
 *
 * Stages add statements to a set; screens, reports and `relict why` read them. A set and all its
 * texts live in one arena. Not for two threads at once. The checks that keep an argument honest
 * (no footing, a guess without a rival, a worked-out number without rule or inputs) are here.
 *
 *     struct statement s = statement_blank();
 *     s.id = "lath.thickness.fresh"; s.sentence = "The laths were this thick when cut."; ...
 *     statement_link_add(&s, "measure", "A01.thickness", "reading", arena, err);
 *     statement_add(set, &s, err);
 */
#ifndef RELICT_STATEMENT_STATEMENT_H
#define RELICT_STATEMENT_STATEMENT_H

#include "base/field.h"

/* Why something is said (DESIGN: five kinds of reason, not rungs). */
enum footing {
    FOOTING_SEEN,
    FOOTING_WORKED_OUT,
    FOOTING_PARALLEL,
    FOOTING_GUESSED,
    FOOTING_MODERN_NEED,
    FOOTING_COUNT
};
extern const char *const footing_words[]; /* NULL-terminated, index = enum footing */

/* How a datum in the tables is known. */
enum standing {
    STANDING_MEASURED,
    STANDING_STANDARD,
    STANDING_SECOND_HAND,
    STANDING_COMPUTED,
    STANDING_COMMON_PRACTICE,
    STANDING_ANALOGY,
    STANDING_MEMORY,
    STANDING_GUESS,
    STANDING_COUNT
};
extern const char *const standing_words[];

/* How firm an identification is: A, B, C in finds lists. */
enum confidence { CONFIDENCE_FIRM, CONFIDENCE_LIKELY, CONFIDENCE_DOUBTFUL, CONFIDENCE_COUNT };
extern const char *const confidence_words[];

/* Quantiles of a number over the possible originals, in the statement's unit. NAN throughout when
 * the statement is in words only. */
struct spread {
    double p005, p05, p25, p50, p75, p95, p995, mean, sd;
};

/* One thing a statement rests on. */
struct statement_link {
    const char *kind; /* "measure", "piece", "mark", "source", "statement", "fact", "choice" */
    const char *id;   /* of that entry; for "fact": file and row of a data table */
    const char *role; /* "reading", "alteration", "assumption", "prior", "argument: ..." */
};

struct statement {
    const char *id;       /* "lath.thickness.fresh": stable over runs */
    const char *step;     /* found sizes outline curve making strength material trials report */
    const char *about;    /* "object", "part lath", "piece A01" */
    const char *quantity; /* "thickness", "count", "family" */
    const char *sentence; /* a whole sentence, without the number */
    const char *unit;     /* "mm", "percent", "" */
    const char *state;    /* of sizes: "fresh", "new and dry", a measured state; NULL otherwise */
    long footing;         /* enum footing */
    long standing; /* enum standing of the weakest datum it rests on; FIELD_UNKNOWN if none */
    struct spread value;
    double probability; /* of a hypothesis; NAN otherwise */
    double raw;         /* the raw reading, shown beside a corrected size; NAN otherwise */
    const char *raw_state;
    const char *rule;        /* how it was worked out, in words */
    const char *source;      /* publication behind the rule */
    const char *rival;       /* what else it could be; needed for a guess */
    const char *doubt;       /* why it is in doubt; NULL when it is not */
    const char *caution;     /* "too coarse to use: ..." ; NULL when there is none */
    const char *column;      /* of the rows it is read off; NULL when there is none */
    struct records rests_on; /* of struct statement_link */
};

extern const struct kind statement_kind, statement_link_kind, spread_kind;

/* A statement with everything unknown. */
struct statement statement_blank(void);

/* An empty spread (all NAN), and one of a single known number. */
struct spread spread_unknown(void);
struct spread spread_exact(double v);

/* A normal range about a value; sd in its unit. */
struct spread spread_normal(double mean, double sd);

/* A range of which three points are known: half a normal to either side of the middle. */
struct spread spread_sides(double p05, double p50, double p95);

/* Appends a link; texts are copied into the arena. */
int statement_link_add(struct statement *s, const char *kind, const char *id, const char *role,
                       struct arena *arena, struct error *err);

struct statement_set;

/* An empty set whose texts live in `arena`; NULL when memory is gone. */
struct statement_set *statement_set_new(struct arena *arena);

/* Copies s (and its texts) into the set. A statement of the same id takes the old one's place, so
 * that a later stage may refine an earlier one. */
int statement_add(struct statement_set *set, const struct statement *s, struct error *err);

size_t statement_count(const struct statement_set *set);
const struct statement *statement_at(const struct statement_set *set, size_t i);
const struct statement *statement_find(const struct statement_set *set, const char *id);

/* Marks every statement that rests, directly or through others, on entry (kind, id) as in doubt,
 * with `reason`. Returns how many were marked. */
size_t statement_doubt(struct statement_set *set, const char *kind, const char *id,
                       const char *reason);

/* Takes back the doubts of what this step said: it was worked out after what changed. */
void statement_hold(struct statement_set *set, const char *step);

/* What keeps an argument from being complete: one text per fault ("lath.count: a guess without a
 * rival"). out lives in the arena. */
int statement_faults(struct texts *out, const struct statement_set *set, struct arena *arena,
                     struct error *err);

/* The word for a probability (ICD 203, 2015, table in D.6.e.(2).(a)); "" for NAN. The figure always
 * stands beside it: 0 and 1 are never printed. */
const char *statement_likelihood_word(double probability);

/* "318 mm (304 to 331)": median and 5 % to 95 %, digits fitted to the width of the range. */
char *statement_number(const struct statement *s, struct arena *arena);

/* Stored form and back. */
json_t *statement_set_encode(const struct statement_set *set);
int statement_set_decode(struct statement_set *set, const json_t *list, struct error *err);

#endif
