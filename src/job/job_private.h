/* job_private: what the files of this room share. */
#ifndef RELICT_JOB_JOB_PRIVATE_H
#define RELICT_JOB_JOB_PRIVATE_H

#include "base/sha256.h"
#include "job/job.h"

enum { JOB_MOST_STAGES = 16 };

/* Keys of all stages for the project as it stands. */
struct job_keys {
    char key[JOB_MOST_STAGES][SHA256_TEXT];
};

/* What the list of steps shows of a stored result, kept since reading a large one takes long. */
struct job_summary {
    char key[SHA256_TEXT], when[32];
    size_t size; /* bytes of the body; 0: nothing is kept */
    json_t *blocked;
    long open, revision, rough;
};

struct job {
    struct record *record;
    struct record_options options;
    struct arena *arena; /* texts below */
    const char *path, *who;
    const char *when;        /* fixed moment, NULL: the clock */
    char moment[32];         /* what job_when last told */
    struct what_if *what_if; /* the last one asked for, of ... */
    const char *what_if_making;
    long what_if_revision;
    struct job_keys keys; /* of ... */
    long keys_revision;   /* 0: of none yet */
    struct job_summary summary[JOB_MOST_STAGES];
};

int job_keys(struct job_keys *out, struct job *job, const struct snapshot *now, struct error *err);

/* The stored body of a stage: the present one, else the newest whatever its key; texts in the
 * arena, NULL when there is none. */
struct job_stored_text {
    const char *text, *key, *when;
    bool holds; /* its key is the present one */
};
int job_stored_text(struct job_stored_text *out, struct job *job, size_t stage,
                    const struct job_keys *keys, struct arena *arena, struct error *err);

/* The same, read. */
struct job_stored {
    json_t *body; /* new reference or NULL */
    bool holds;
};
int job_stored(struct job_stored *out, struct job *job, size_t stage, const struct job_keys *keys,
               struct error *err);

#endif
