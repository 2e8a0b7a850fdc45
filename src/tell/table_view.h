/* table_view: inside of tell: a table of another room made fit for paper. */
#ifndef RELICT_TELL_TABLE_VIEW_H
#define RELICT_TELL_TABLE_VIEW_H

#include "tell/doc.h"

/* Its bare numbers with the figures a reader can use, its parts in plain words; the open files keep
 * all as it is. */
struct tell_table table_readable(const struct tell_table *table, struct arena *arena);

/* "side rod" of side_rod; the word itself where nothing is to be changed. */
const char *table_plain_word(const char *word, struct arena *arena);

/* As one table where it fits; else turned, or in several with the first column again. */
void table_fitted(struct tell_doc *doc, const struct tell_table *table);

#endif
