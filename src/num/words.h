/* words: a word for a probability, always beside the figure.
 *
 * Bins of Intelligence Community Directive 203 (2015), 6.d.(2)(a): disjoint, so that words map one
 * to one. Below 1 % and above 99 % the outer words are used with "under 1 %" and "over 99 %": 0 and
 * 100 % are never printed.
 */
#ifndef RELICT_NUM_WORDS_H
#define RELICT_NUM_WORDS_H

#include <stddef.h>

struct num_word {
    const char *word;
    double low, high; /* the bin, as fractions */
};

/* The bins in rising order; *n of them. */
const struct num_word *num_words(size_t *n);

/* The bin of a probability; a limit belongs to the bin above it. NULL for NAN or outside 0 .. 1. */
const struct num_word *num_word_for(double p);

/* "likely (64 %; the word means 55 to 80 %)"; always terminated. */
void num_word_text(double p, char *text, size_t size);

#endif
