/* asset: files that travel inside the program (data tables, screens, fonts, demo projects).
 *
 * Names are paths in the repository: "data/emc.csv". Bytes live as long as the program and are
 * followed by a 0. Thread-safe.
 */
#ifndef RELICT_BASE_ASSET_H
#define RELICT_BASE_ASSET_H

#include <stddef.h>

/* Returns the bytes and their count, or NULL when there is no such asset. */
const char *asset_find(const char *name, size_t *size);

/* Name of the i-th asset, NULL after the last. */
const char *asset_name(size_t i);

#endif
