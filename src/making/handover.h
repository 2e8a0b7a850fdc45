/* handover: what a person says about the report as a whole, and about the copy as it was made.
 *
 * One entry "handover" of the id "report" holds what the program cannot know: number, authors,
 * licence, what the picture claims to be. `as_made` holds a difference between plan and copy each.
 * Plain structs; the report's checklist asks for them.
 */
#ifndef RELICT_MAKING_HANDOVER_H
#define RELICT_MAKING_HANDOVER_H

#include "base/field.h"

/* What a reader may take the picture for. */
enum claim { CLAIM_EXISTING, CLAIM_RESTORATION, CLAIM_HYPOTHESIS };
extern const char *const claim_words[];

enum copy_kind { COPY_PILOT, COPY_EXPERIMENT, COPY_REPEAT, COPY_DISPLAY };
extern const char *const copy_words[];

struct handover {
    const char *id;
    const char *number;  /* object number */
    const char *version; /* of the report */
    const char *date;
    const char *authors; /* roles where names are not wanted: "curator; conservator; maker" */
    const char *licence; /* "CC BY 4.0" */
    const char *identifier;
    long claim; /* enum claim */
    const char *purpose, *audience;
    long copy; /* enum copy_kind */
    const char *contact, *embargo, *deposit;
    const char *mark;                   /* the permanent mark as a copy, and where */
    const char *used_for;               /* what the object was for, as visitors are told */
    const char *failed;                 /* what went wrong on the way, as visitors are told */
    const char *unknown;                /* what is not known */
    const char *stock;                  /* tree and stock numbers */
    const char *aids;                   /* modern aids in the copy */
    double hours;                       /* of work in the copy */
    double mass;                        /* g, of the copy */
    long trees;                         /* used */
    double humidity_low, humidity_high; /* of the workroom, fraction */
    const char *no_trials, *no_copy;    /* why none is made; then nothing is asked about it */
    int invented; /* 1: the object and all about it are invented, and every page says so */
};

/* One difference between the plan and the copy. */
struct as_made {
    const char *id;
    const char *part;
    const char *planned, *made; /* with units */
    const char *why, *who, *date;
    const char *when; /* "as made", "after one year", "after five years" */
};

extern const struct kind handover_kind, as_made_kind;

#endif
