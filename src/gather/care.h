/* care: what to see to before a cut, which cautions belong to which work, and plant health.
 *
 * Everything here defers: to the owner, to local law and rules, to licensed people, to the
 * conservator. It never says that an act is allowed or that a thing is safe. Texts are borrowed
 * from the shelf of tables or are constant.
 */
#ifndef RELICT_GATHER_CARE_H
#define RELICT_GATHER_CARE_H

#include "gather/stem.h"
#include "stuff/table.h"

/* Kinds of work that have cautions of their own. */
enum act {
    ACT_FELL,
    ACT_PEEL,
    ACT_SPLIT,
    ACT_CARVE,
    ACT_STEAM,
    ACT_SOAK,
    ACT_RET,
    ACT_HIDE,
    ACT_PAINT,
    ACT_LOAD,
    ACT_ORIGINAL,
    ACT_COUNT
};
extern const char *const act_words[];

struct care_line {
    const char *what; /* the hazard, or what to see to */
    const char *say;  /* what to do */
    const char *more, *source;
    long standing;  /* enum standing */
    const char *by; /* day by which it must be seen to; NULL */
    long done;      /* 1 on record, 0 missing, -1 the record cannot tell */
};
extern const struct kind care_line_kind;

struct care_list {
    size_t n;
    struct care_line *line;
};

/* Cautions of a kind of work. */
int gather_cautions(struct care_list *out, const struct stuff_shelf *shelf, enum act act,
                    struct arena *arena, struct error *err);

/* The kinds of work a step or a trial is, read off its words ("take lime bark", "Split and shave
 * the laths"): out has room for ACT_COUNT; how many are found, in the order of enum act. */
size_t gather_acts(enum act out[ACT_COUNT], const char *words);

/* The hazards of a step of these words, by their names in data/cautions.csv: "peeling bark; edge
 * tools". "" where no kind of work is found; NULL when memory is gone. */
const char *gather_step_care(const struct stuff_shelf *shelf, const char *words,
                             struct arena *arena);

/* What to see to before stem `s` is cut or peeled on `day`: consent, law, nests, approval, test
 * peel, tools clean, disease of the species, bark not moved. `share` of the girth peeled; NAN: it
 * is cut for its wood and nothing is peeled. */
int gather_checklist(struct care_list *out, const struct stem *s, double share, const char *day,
                     const struct test_peel *peel, size_t peels, struct arena *arena,
                     struct error *err);

/* Known diseases and pests of the species (data/plant_health.csv); none: an empty list. */
int gather_plant_health(struct care_list *out, const char *species, struct arena *arena,
                        struct error *err);

/* The words that stand wherever a thing made is for a child, a fight or a load, by what it is
 * called or used for. NULL when the text names none of these. */
const char *gather_never_safe(const char *use);

#endif
