/* better: which readings are too coarse to use and what is not known, what to measure instead, how
 * finely, and whether it means touching the piece; the conservator's yes or no is respected.
 * Pure; everything lives in the arena.
 */
#ifndef RELICT_REMAINS_BETTER_H
#define RELICT_REMAINS_BETTER_H

#include "remains/find.h"
#include "remains/sizes.h"

enum touch { TOUCH_NOT_NEEDED, TOUCH_ALLOWED, TOUCH_ASK, TOUCH_FORBIDDEN };
extern const char *const touch_words[];

/* One thing worth measuring. */
struct better_reading {
    const char *piece;             /* or the part's word, when any piece of it would do */
    const char *about;             /* measure or size it would improve */
    const struct measure *reading; /* the single reading that is too coarse, or NULL */
    const char *trouble;           /* what is wrong with what there is */
    const char *instead;           /* what to measure, and how finely */
    double finely;                 /* mm; NAN when it is not a length */
    long touch;                    /* enum touch */
    const char *how;               /* with or without touching, and what the conservator said */
};

struct better {
    struct better_reading *v;
    size_t n;
};

int remains_better(struct better *out, const struct find *find, const struct sizes *sizes,
                   struct arena *arena, struct error *err);

/* May the piece be touched: the latest handling note; *reason may be NULL. */
long remains_touch(const struct find *find, const char *piece, const char **reason);

/* How a reading may be taken, in words: by calliper, or only without touching. */
char *remains_touch_words(const struct find *find, const char *piece, struct arena *arena);

/* As a table {title, columns, rows}. New reference. */
json_t *remains_better_table(const struct better *better);

#endif
