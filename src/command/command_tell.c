#include "command/command.h"
#include "job/job.h"
#include "tell/assemble.h"

#include <stdlib.h>
#include <string.h>

static int options_of(struct hand_options *o, struct command_line *line, struct error *err) {
    static const char *const names[] = {"a4", "a3", "letter", "roll"};
    const char *paper = command_option(line, "--paper"), *roll = command_option(line, "--roll"),
               *bar = command_option(line, "--bar");
    *o = (struct hand_options){.paper = roll ? PLAN_ROLL : PLAN_A4};
    bool known = !paper;
    for (int i = 0; paper && i < 3; i++)
        if (strcmp(paper, names[i]) == 0) {
            o->paper = (enum plan_paper)i;
            known = true;
        }
    if (!known)
        return fail(err, ERR_USAGE, "Papers: a4, a3, letter; or --roll WIDTH in mm.",
                    "There is no paper \"%.20s\".", paper);
    if (roll) o->roll_width = strtod(roll, NULL);
    if (roll && !(o->roll_width > 0))
        return fail(err, ERR_USAGE, "Give the width of the roll in mm, as 610.",
                    "--roll: \"%.20s\" is not a width.", roll);
    char *end = NULL;
    if (bar) o->bar_x = o->bar_y = strtod(bar, &end);
    if (bar && *end == ',') o->bar_y = strtod(end + 1, &end);
    if (bar && (*end || !(o->bar_x > 0) || !(o->bar_y > 0)))
        return fail(err, ERR_USAGE,
                    "Print once, measure both 100 mm bars, and give what they measured: 98.7, or "
                    "98.7,99.1 for the one along the sheet and the one up it.",
                    "--bar: \"%.20s\" is not a length.", bar);
    return 0;
}

int command_tell(struct command_line *line, struct error *err) {
    struct hand_options options;
    struct job *job;
    json_t *written;
    int rc = options_of(&options, line, err);
    if (!rc) rc = command_open(&job, line, true, err);
    if (rc) return rc;
    rc = tell_write_all(&written, job, line->args[1], &options, err);
    job_close(job);
    if (rc) return rc;
    if (line->json)
        command_print_json(written, line->out);
    else {
        fprintf(line->out, "%d files in %s\n",
                (int)json_integer_value(json_object_get(written, "files")), line->args[1]);
        size_t i;
        const json_t *o;
        json_array_foreach(json_object_get(written, "not"), i, o) fprintf(
            line->out, "not written: %s. %s %s\n", json_string_value(json_object_get(o, "name")),
            json_string_value(json_object_get(o, "why")),
            json_string_value(json_object_get(o, "remedy")));
    }
    json_decref(written);
    return 0;
}
