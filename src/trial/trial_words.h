/* trial_words: numbers and names of columns as a person would say them. Pure; texts in the arena.
 */
#ifndef RELICT_TRIAL_TRIAL_WORDS_H
#define RELICT_TRIAL_TRIAL_WORDS_H

#include "base/arena.h"

/* "121", "0.79", "5.5": so many figures that count, never an exponent; "?" when unknown. NULL when
 * memory is gone. */
char *trial_number(double value, int figures, struct arena *arena);

/* "120 ± 140": both to the place where the second figure of the ± stands. A unit may be "". */
char *trial_plus_minus(double middle, double half, const char *unit, struct arena *arena);

/* "4.2 to 7.4 percent". */
char *trial_range(double low, double high, const char *unit, struct arena *arena);

/* What a column of the possible originals is, in words: "dry_factor.bark.around" is "what is left
 * of bark across the grain when it is new and dry". One that is not known keeps its name. */
char *trial_column_words(const char *column, struct arena *arena);

#endif
