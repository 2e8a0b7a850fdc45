#include "command/command.h"

#include "job/methods.h"

#include <string.h>

static int list_methods(const struct command_line *line, struct error *err) {
    if (line->json) {
        json_t *list = json_array();
        for (size_t i = 0; job_method_at(i); i++)
            json_array_append_new(list, json_pack("{s:s,s:s,s:s}", "method", job_method_at(i)->name,
                                                  "title", job_method_at(i)->title, "source",
                                                  job_method_at(i)->source));
        if (!list) return fail_memory(err);
        command_print_json(list, line->out);
        json_decref(list);
        return 0;
    }
    for (size_t i = 0; job_method_at(i); i++)
        fprintf(line->out, "  %-22s %s\n", job_method_at(i)->name, job_method_at(i)->title);
    fprintf(line->out, "\n`relict calc METHOD --help` shows fields, units and an example.\n");
    return 0;
}

int command_calc(struct command_line *line, struct error *err) {
    if (line->n == 0) return list_methods(line, err);
    const struct method *m = job_method_find(line->args[0], err);
    if (!m) return err->code;
    if (command_option(line, "--help")) {
        char *help = method_help(m, line->arena);
        if (!help) return fail_memory(err);
        fputs(help, line->out);
        return 0;
    }
    if (command_option(line, "--example")) {
        fprintf(line->out, "%s\n", m->example);
        return 0;
    }
    json_t *in, *out;
    int rc = command_read_json(&in, line->n > 1 ? line->args[1] : "-", line->arena, err);
    if (rc) return rc;
    rc = method_run(&out, m, in, err);
    json_decref(in);
    if (rc) return rc;
    command_print_json(out, line->out);
    json_decref(out);
    return 0;
}
