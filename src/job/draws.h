/* draws: the possible originals, kept beside the project in files that may be deleted.
 *
 * Each holds the rows as they were after one step, under that step's key. A file that is
 * missing, foreign or damaged is the same as none: it is made again. */
#ifndef RELICT_JOB_DRAWS_H
#define RELICT_JOB_DRAWS_H

#include "num/rows.h"

/* Loads the rows kept under `key`; *out = NULL when there are none. */
void draws_load(struct num_rows **out, const char *project, const char *step, const char *key);

/* Keeps the rows under `key`, in place of what was kept before. Trouble is no loss and not told. */
void draws_save(const struct num_rows *rows, const char *project, const char *step,
                const char *key);

#endif
