/* snapshot: everything a project holds at one revision, decoded into the structs of the rooms.
 * Read in one short transaction; stages see nothing else. Lives in the arena it was read into. */
#ifndef RELICT_JOB_SNAPSHOT_H
#define RELICT_JOB_SNAPSHOT_H

#include "making/making.h"
#include "record/project.h"
#include "remains/find.h"

struct snapshot {
    long revision;
    const char *title;
    long seed, draws;
    struct find find;
    struct makings makings;
};

/* Reads the project as it stands. A body that no longer fits its kind is ERR_DAMAGED or ERR_INPUT
 * with the id; nothing is left out in silence. */
int snapshot_read(struct snapshot *out, struct record *record, struct arena *arena,
                  struct error *err);

#endif
