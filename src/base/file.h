/* file: reading whole files within a limit, and writing them so that they are never half there.
 *
 * A file that is written appears complete or not at all: bytes go to a temporary neighbour, are
 * pushed to the disk, take the name in one step, and the folder is pushed too. Every refusal of
 * the system becomes an error that says what to do. Thread-safe.
 */
#ifndef RELICT_BASE_FILE_H
#define RELICT_BASE_FILE_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* Reads the whole file into the arena; a 0 follows the n bytes. A file larger than `most` bytes
 * is refused before anything is taken (most = 0: 200,000,000). */
int file_read(const char **out, size_t *n, const char *path, size_t most, struct arena *arena,
              struct error *err);

/* Writes n bytes under the name. `replace` false refuses to overwrite. */
int file_write(const char *path, const void *bytes, size_t n, bool replace, struct error *err);

/* Makes a folder, and those above it; one that is there already is fine. */
int file_folder(const char *path, struct error *err);

/* Pushes a folder's list of names to the disk (after a rename). */
int file_folder_sync(const char *path, struct error *err);

/* Whether something stands under this name; whether it is a folder. */
bool file_exists(const char *path);
bool file_is_folder(const char *path);

/* The last part of a path, borrowed; the folder of a path, in the arena ("." when none). */
const char *file_name(const char *path);
char *file_parent(const char *path, struct arena *arena);

/* A name without anything that could be taken for a path: letters, digits, point, dash and
 * underscore stay, the rest becomes _. In the arena. */
char *file_safe_name(const char *name, struct arena *arena);

/* Sets err from errno: "cannot VERB PATH: reason", with the way out. Returns the code. */
int file_fail(const char *verb, const char *path, struct error *err);

#endif
