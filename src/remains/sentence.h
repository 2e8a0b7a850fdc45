/* sentence: one thing a person entered, said in one line of plain words.
 *
 * What `relict why`, the argument and the screens show for a reading, a piece, a source or a choice
 * at the end of a chain. Without its id, which stands beside it.
 */
#ifndef RELICT_REMAINS_SENTENCE_H
#define RELICT_REMAINS_SENTENCE_H

#include "remains/find.h"

/* "width 25.5 ± 0.5 mm, across, after treatment; calliper; illustrator, 2026-03-02" */
char *measure_sentence(const struct measure *m, struct arena *arena);

/* "cross lath, Corylus avellana (split rod), zone W" */
char *piece_sentence(const struct piece *p, struct arena *arena);

/* The same for whatever is called `id` among the pieces, measures, marks, sources, choices and
 * handling notes of a find; NULL when there is no such thing or memory is gone. */
char *find_sentence(const struct find *find, const char *kind, const char *id, struct arena *arena);

#endif
