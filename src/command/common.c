/* What several commands share: opening a project for the person who calls. */
#include "command/command.h"
#include "job/job.h"

int command_open(struct job **out, struct command_line *line, bool read_only, struct error *err) {
    const struct job_options options = {.who = command_option(line, "--who"),
                                        .when = command_option(line, "--when"),
                                        .read_only = read_only};
    return job_open(out, line->args[0], &options, err);
}
