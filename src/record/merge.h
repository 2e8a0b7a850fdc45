/* merge: two copies of one project that were edited apart become one again.
 *
 * What only one side changed is taken. What both changed to the same is no clash. What both changed
 * differently is not chosen in silence: the present copy's value goes on standing, an entry of kind
 * "clash" holds both with who, when and why, and what rests on it is in doubt until a person
 * settles it. All changes of both sides stay in the history under their own names.
 */
#ifndef RELICT_RECORD_MERGE_H
#define RELICT_RECORD_MERGE_H

#include "record/project.h"
#include "record/record_kinds.h"

struct record_merged {
    long change;    /* of the merging itself; 0 when nothing clashed */
    size_t common;  /* changes both had */
    size_t taken;   /* changes taken from the other copy */
    size_t entries; /* revisions in them */
    size_t files, seals, blots;
    struct records clashes; /* struct record_clash, in the order in which they were put */
    struct texts clash_ids; /* ids of their entries */
};

/* Takes what `theirs` has and `ours` has not. theirs is only read. ERR_REFUSED when they are copies
 * of different projects. Everything or nothing. */
int record_merge(struct record_merged *out, struct record *ours, struct record *theirs,
                 const char *who, const char *when, struct arena *arena, struct error *err);

/* Settles a clash: "ours", "theirs", or "other" with a body. One change. */
int record_clash_settle(struct record *record, const char *id, const char *choice,
                        const json_t *other, const char *who, const char *when, const char *why,
                        struct error *err);

#endif
