/* job_private: what the files of this room share. */
#ifndef RELICT_JOB_JOB_PRIVATE_H
#define RELICT_JOB_JOB_PRIVATE_H

#include "base/sha256.h"
#include "job/job.h"

enum { JOB_MOST_STAGES = 16 };

struct job {
    struct record *record;
    struct record_options options;
    struct arena *arena; /* texts below */
    const char *path, *who;
    const char *when; /* fixed moment, NULL: the clock */
    char moment[32];  /* what job_when last told */
    struct what_if *what_if; /* the last one asked for, of ... */
    const char *what_if_making;
    long what_if_revision;
};

/* Keys of all stages for the project as it stands. */
struct job_keys {
    char key[JOB_MOST_STAGES][SHA256_TEXT];
};
int job_keys(struct job_keys *out, struct job *job, const struct snapshot *now, struct error *err);

/* The newest stored body of a stage, whatever its key; NULL body when there is none. */
struct job_stored {
    json_t *body; /* new reference or NULL */
    bool holds;   /* its key is the present one */
};
int job_stored(struct job_stored *out, struct job *job, size_t stage, const struct job_keys *keys,
               struct error *err);

#endif
