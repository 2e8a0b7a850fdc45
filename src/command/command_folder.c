/* Projects as folders of open files, and copies edited apart. */
#include "command/command.h"

#include "job/job.h"
#include "job/kinds.h"
#include "record/folder.h"
#include "record/merge.h"

#include <string.h>
#include <sys/stat.h>

static bool is_folder(const char *path) {
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

/* relict export FILE FOLDER, and back: relict export FOLDER FILE */
int command_export(struct command_line *line, struct error *err) {
    const char *from = line->args[0], *to = line->args[1];
    if (is_folder(from)) {
        struct record *record;
        struct record_folder_taken taken;
        const struct record_options options = {.kinds = job_kinds, .n_kinds = job_kind_count()};
        const struct record_start start = {.title = "",
                                           .who = command_option(line, "--who"),
                                           .when = command_option(line, "--when"),
                                           .seed = 1};
        struct record_start begin = start;
        if (!begin.who) begin.who = "whoever rebuilt it";
        if (!begin.when) begin.when = "1970-01-01T00:00:00Z";
        int rc = record_folder_read(&record, &taken, from, to, &begin, &options, err);
        if (rc) return rc;
        rc = record_close(record, err);
        if (!rc)
            fprintf(line->out,
                    line->json ? "{\"things\": %zu, \"changed\": %zu}\n"
                               : "Rebuilt with its history; %zu things read from tables, %zu "
                                 "changed in the folder.\n",
                    taken.things, taken.changed);
        return rc;
    }
    struct job *job;
    struct record_folder_made made;
    int rc = command_open(&job, line, true, err);
    if (rc) return rc;
    rc = record_folder_write(&made, job_record(job), to, command_option(line, "--replace") != NULL,
                             job_when(job), err);
    job_close(job);
    if (!rc)
        fprintf(line->out,
                line->json ? "{\"files\": %zu, \"things\": %zu}\n"
                           : "Written: %zu files with %zu things.\n",
                made.files, made.things);
    return rc;
}

int command_merge(struct command_line *line, struct error *err) {
    struct job *ours, *theirs;
    int rc = command_open(&ours, line, false, err);
    if (rc) return rc;
    rc = job_open(&theirs, line->args[1], &(struct job_options){.read_only = true}, err);
    struct record_merged merged = {0};
    if (!rc)
        rc = record_merge(&merged, job_record(ours), job_record(theirs), job_who(ours),
                          job_when(ours), line->arena, err);
    if (!rc)
        fprintf(
            line->out,
            line->json
                ? "{\"taken\": %zu, \"clashes\": %zu}\n"
                : "Taken over: %zu. Changed in both and kept side by side until somebody chooses: "
                  "%zu.\n",
            merged.taken, merged.clashes.n);
    job_close(theirs);
    job_close(ours);
    return rc;
}

int command_blot(struct command_line *line, struct error *err) {
    const char *why = command_option(line, "--why");
    if (!why)
        return fail(err, ERR_USAGE, "Give it with --why \"...\".",
                    "Blotting out needs a reason on record.");
    struct job *job;
    int rc = command_open(&job, line, false, err);
    if (rc) return rc;
    struct record_blotted b;
    rc = record_blot(&b, job_record(job), line->args[1], line->args[2],
                     line->n > 3 ? line->args[3] : NULL, job_who(job), job_when(job), why,
                     line->arena, err);
    job_close(job);
    if (rc) return rc;
    fprintf(line->out,
            line->json
                ? "{\"entries\": %zu, \"files\": %zu, \"seals\": %zu}\n"
                : "Blotted out: %zu entries, %zu files, %zu seals. Both hashes stay on record.\n",
            b.entries, b.files, b.seals);
    for (size_t i = 0; i < b.backups.n && !line->json; i++)
        fprintf(line->out, "  Still in the copy %s: destroy it by hand.\n", b.backups.v[i]);
    return 0;
}
