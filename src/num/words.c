#include "num/words.h"

#include <math.h>
#include <stdio.h>

static const struct num_word bins[] = {
    {"almost no chance", 0.01, 0.05},    {"very unlikely", 0.05, 0.20}, {"unlikely", 0.20, 0.45},
    {"roughly even chance", 0.45, 0.55}, {"likely", 0.55, 0.80},        {"very likely", 0.80, 0.95},
    {"almost certain", 0.95, 0.99},
};
enum { BINS = sizeof bins / sizeof bins[0] };

const struct num_word *num_words(size_t *n) {
    *n = BINS;
    return bins;
}

const struct num_word *num_word_for(double p) {
    if (!(p >= 0 && p <= 1)) return NULL;
    for (size_t i = 0; i + 1 < BINS; i++)
        if (p < bins[i].high) return &bins[i];
    return &bins[BINS - 1];
}

void num_word_text(double p, char *text, size_t size) {
    const struct num_word *w = num_word_for(p);
    char figure[24];
    if (!w) {
        snprintf(text, size, "not known");
        return;
    }
    if (p < 0.01)
        snprintf(figure, sizeof figure, "under 1 %%");
    else if (p > 0.99)
        snprintf(figure, sizeof figure, "over 99 %%");
    else
        snprintf(figure, sizeof figure, "%.0f %%", 100 * p);
    snprintf(text, size, "%s (%s; the word means %.0f to %.0f %%)", w->word, figure, 100 * w->low,
             100 * w->high);
}
