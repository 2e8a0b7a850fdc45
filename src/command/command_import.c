#include "command/command.h"
#include "job/bring.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_BYTES = 400 << 20 };

static int options_of(struct bring_options *o, struct command_line *line, struct error *err) {
    const char *bar = command_option(line, "--bar");
    *o = (struct bring_options){.as = command_option(line, "--as"),
                                .separator = command_option(line, "--semicolon") ? ";" : ",",
                                .decimal_comma = command_option(line, "--decimal-comma") != NULL,
                                .why = command_option(line, "--why"),
                                .bar_length = NAN};
    if (!bar) return 0;
    char *end;
    o->bar_length = strtod(bar, &end);
    if (*end || end == bar || !(o->bar_length > 0))
        return fail(err, ERR_USAGE, "Give the length of the scale bar in mm, as 100.",
                    "--bar: \"%.20s\" is not a length.", bar);
    return 0;
}

int command_import(struct command_line *line, struct error *err) {
    const char *bytes, *map = command_option(line, "--map"),
                       *release = command_option(line, "--release");
    size_t n;
    struct bring_options o;
    json_t *report = NULL, *json = NULL;
    struct job *job = NULL;
    int rc = options_of(&o, line, err);
    if (!rc && release)
        rc = command_read_json(&json, line->args[1], line->arena, err);
    else if (!rc)
        rc = command_read(&bytes, &n, line->args[1], MOST_BYTES, line->arena, err);
    if (!rc && map) rc = command_read_json(&json, map, line->arena, err);
    if (!rc && command_option(line, "--propose")) {
        rc = job_propose(&report, line->args[1], bytes, n, &o, err);
        if (!rc) command_print_json(report, line->out);
        json_decref(report);
        return rc;
    }
    if (!rc) rc = command_open(&job, line, false, err);
    o.map = map ? json : NULL;
    if (!rc && release)
        rc = job_release(&report, job, release, json, command_option(line, "--as-it-is") != NULL,
                         o.why, err);
    else if (!rc)
        rc = job_bring(&report, job, line->args[1], bytes, n, &o, err);
    job_close(job);
    json_decref(json);
    if (rc) return rc;
    if (line->json)
        command_print_json(report, line->out);
    else
        command_print_report(report, line->out);
    json_decref(report);
    return 0;
}
