#include "command/command.h"
#include "job/job.h"

#include <stdlib.h>

/* relict enter FILE KIND ID BODY.json */
int command_enter(struct command_line *line, struct error *err) {
    struct job *job;
    json_t *body;
    int rc = command_read_json(&body, line->n > 3 ? line->args[3] : "-", line->arena, err);
    if (rc) return rc;
    rc = command_open(&job, line, false, err);
    long revision = 0;
    if (!rc)
        rc = job_enter(job, line->args[1], line->args[2], body, -1, command_option(line, "--why"),
                       &revision, err);
    json_decref(body);
    job_close(rc ? NULL : job);
    if (rc) return rc;
    if (line->json)
        fprintf(line->out, "{\"revision\": %ld}\n", revision);
    else
        fprintf(line->out, "Entered %s %s as revision %ld.\n", line->args[1], line->args[2],
                revision);
    return 0;
}

int command_undo(struct command_line *line, struct error *err) {
    struct job *job;
    int rc = command_open(&job, line, false, err);
    if (rc) return rc;
    rc = job_undo(job, line->n > 1 ? strtol(line->args[1], NULL, 10) : 0,
                  command_option(line, "--why"), err);
    job_close(job);
    if (!rc) fprintf(line->out, line->json ? "{\"undone\": true}\n" : "Taken back.\n");
    return rc;
}
