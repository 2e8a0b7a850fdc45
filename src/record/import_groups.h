/* import_groups: sizes that do not fit among those of the same part: cm among mm.
 *
 * A size is doubted when it is far from all others of its part and a shift of the decimal point
 * would bring it among them. The limits (a quarter of the middle one, five times the largest) are
 * common practice, no source. */
#ifndef RELICT_RECORD_IMPORT_GROUPS_H
#define RELICT_RECORD_IMPORT_GROUPS_H

#include "record/import_private.h"

struct import_groups;

/* Looks over the whole list. NULL when memory is gone. */
struct import_groups *import_groups_new(const struct reading *reading,
                                        const struct csv_table *table);
void import_groups_free(struct import_groups *groups);

/* Adds a doubt to the row for each size that does not fit. Several threads may call. */
void import_groups_check(struct row_made *row, const struct import_groups *groups,
                         const struct reading *reading, const struct csv_row *csv);

#endif
