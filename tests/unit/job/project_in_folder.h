/* For tests of job/: projects in a folder of their own under /tmp, that goes away with the test. */
#ifndef RELICT_TESTS_PROJECT_IN_FOLDER_H
#define RELICT_TESTS_PROJECT_IN_FOLDER_H

#include "base/file.h"
#include "job/bring.h"
#include "job/job.h"

#include "check.h"

#include <math.h>
#include <unistd.h>

static char folder[] = "/tmp/relict-job-XXXXXX";

static inline int folder_begin(void **unused) {
    (void)unused;
    strcpy(folder + strlen(folder) - 6, "XXXXXX"); /* another one for each test */
    return mkdtemp(folder) ? 0 : -1;
}

static inline int folder_end(void **unused) {
    (void)unused;
    char command[100];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

static inline struct job *empty_project(const char *name, long draws) {
    char path[200];
    struct error err = {0};
    struct job *job;
    const struct job_options options = {
        .who = "curator", .when = "2027-05-02T09:00:00Z", .state_folder = folder};
    snprintf(path, sizeof path, "%s/%s.relict", folder, name);
    check_ok(job_new(&job, path, "T", 1, draws, &options, &err), &err);
    return job;
}

static inline void bring_list(struct job *job, const char *name, const char *bytes, size_t n) {
    struct error err = {0};
    json_t *report = NULL;
    const struct bring_options plain = {.bar_length = NAN};
    check_ok(job_bring(&report, job, name, bytes, n, &plain, &err), &err);
    json_decref(report);
}

static inline void bring_tray_finds(struct job *job, struct arena *a) {
    const char *bytes;
    size_t n;
    struct error err = {0};
    check_ok(file_read(&bytes, &n, check_source_path("demo/tray/finds.csv"), 0, a, &err), &err);
    bring_list(job, "finds.csv", bytes, n);
}

/* The finds list of the invented tray, 64 possible originals. */
static inline struct job *tray_project(const char *name, struct arena *a) {
    struct job *job = empty_project(name, 64);
    bring_tray_finds(job, a);
    return job;
}

#endif
