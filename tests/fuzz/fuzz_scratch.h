/* fuzz_scratch: a project in memory-backed storage for targets that need one, made anew now and
 * then so that it stays small. */
#ifndef RELICT_TESTS_FUZZ_SCRATCH_H
#define RELICT_TESTS_FUZZ_SCRATCH_H

#include "job/job.h"
#include "record/project.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static inline const char *scratch_folder(void) {
    static char folder[80];
    if (!*folder) {
        snprintf(folder, sizeof folder, "%s/relict-fuzz-%ld",
                 access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm", (long)getpid());
        mkdir(folder, 0700);
    }
    return folder;
}

static struct job *scratch_job;
static char scratch_path[120];

static inline void scratch_end(void) {
    job_close(scratch_job);
    scratch_job = NULL;
    unlink(scratch_path);
    char command[200];
    snprintf(command, sizeof command, "rm -rf %s", scratch_folder());
    if (system(command) != 0) return;
}

/* A job on an empty project with pieces A01 and A02; the same one for `runs` calls. */
static inline struct job *scratch(unsigned runs) {
    static unsigned used;
    if (scratch_job && used++ < runs) return scratch_job;
    if (scratch_job) {
        job_close(scratch_job);
        unlink(scratch_path);
    } else {
        atexit(scratch_end);
        snprintf(scratch_path, sizeof scratch_path, "%s/p.relict", scratch_folder());
    }
    used = 0;
    static struct job_options o = {.who = "tester", .when = "2026-05-01T00:00:00Z"};
    o.state_folder = scratch_folder();
    struct error err = {0};
    if (job_new(&scratch_job, scratch_path, "T", 1, 64, &o, &err)) abort();
    for (int k = 1; k <= 2; k++) {
        char id[8];
        snprintf(id, sizeof id, "A%02d", k);
        json_t *j = json_pack("{s:s,s:s}", "id", id, "part", "lath");
        job_enter(scratch_job, "piece", id, j, -1, "", NULL, &err);
        json_decref(j);
    }
    return scratch_job;
}

#endif
