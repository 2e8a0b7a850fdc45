/* counts: how many there were of a part, as a range with each argument named.
 *
 * Never one number alone. Two arguments give lower limits (whole ends; length of all pieces against
 * what one can have been), one an expectation (a spacing seen, if it runs on).
 */
#ifndef RELICT_REMAINS_COUNTS_H
#define RELICT_REMAINS_COUNTS_H

#include "base/arena.h"
#include "remains/find.h"
#include "statement/statement.h"

/* One argument about a number of parts. NAN and 0: not available. */
struct count_argument {
    long at_least;
    long expected;
    double value; /* the quotient behind it */
    const char *text;
};

struct part_count {
    const char *part;
    long pieces;                   /* rows of the list, second readings left out */
    long units;                    /* after joining what joins */
    long whole_ends;               /* original ends that survive */
    double total_raw, total_fresh; /* mm of all pieces, as measured and brought to fresh */
    bool several_states;
    double longest_possible; /* mm, from the object as lifted; NAN unknown */
    double spacing, run;     /* mm: spacing seen and the length it may run over */
    struct count_argument ends, length, spaced;
    long least;           /* the strongest lower limit */
    struct spread number; /* over the possible originals */
    size_t column;
};

/* The three arguments from plain numbers: (whole ends + 1) / 2; total length over the longest one
 * can have been, rounded up; run over spacing, rounded down. NAN and 0 leave an argument out. */
int remains_count_arguments(struct part_count *out, long whole_ends, double total, double longest,
                            double run, double spacing, struct arena *arena, struct error *err);

#endif
