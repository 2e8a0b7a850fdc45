#include "command/command.h"
#include "job/job.h"

#include <stdlib.h>

/* A whole number given as an option; `otherwise` when it is not given. */
static int number(struct command_line *line, const char *name, long otherwise, long least,
                  long most, long *out, struct error *err) {
    const char *text = command_option(line, name);
    char *end;
    *out = text ? strtol(text, &end, 10) : otherwise;
    if (text && (*end || end == text || *out < least || *out > most))
        return fail(err, ERR_USAGE, "Leave it out for the usual value.",
                    "%s must be a whole number from %ld to %ld, not \"%.40s\".", name, least, most,
                    text);
    return 0;
}

int command_new(struct command_line *line, struct error *err) {
    long seed, draws;
    int rc = number(line, "--seed", 1, 0, 2147483647, &seed, err);
    if (!rc) rc = number(line, "--draws", 4096, 64, 65536, &draws, err);
    if (rc) return rc;
    const struct job_options options = {.who = command_option(line, "--who"),
                                        .when = command_option(line, "--when")};
    struct job *job;
    rc = job_new(&job, line->args[0], line->n > 1 ? line->args[1] : "", seed, draws, &options, err);
    if (rc) return rc;
    job_close(job);
    if (line->json)
        fprintf(line->out, "{\"made\": true}\n");
    else
        fprintf(line->out, "Made %s. Next: relict import %s finds.csv\n", line->args[0],
                line->args[0]);
    return 0;
}
