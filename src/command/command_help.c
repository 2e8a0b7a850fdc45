#include "command/command.h"
#include "serve/api.h"

#include <string.h>

int command_help_show(struct command_line *line, struct error *err) {
    if (line->n && strcmp(line->args[0], "api") == 0) {
        char *page = api_document(line->arena);
        if (!page) return fail_memory(err);
        fputs(page, line->out);
        return 0;
    }
    if (command_option(line, "--manual")) {
        command_manual(line->out);
        return 0;
    }
    if (line->n) {
        const struct command *c = command_find(line->args[0]);
        if (!c)
            return fail(err, ERR_USAGE, "`relict help` lists the commands.",
                        "There is no command \"%.60s\".", line->args[0]);
        char *help = command_help(c, line->arena);
        if (!help) return fail_memory(err);
        fputs(help, line->out);
        return 0;
    }
    fprintf(line->out,
            "relict works out what a perishable object was from its remains, keeps the argument\n"
            "behind every number, and helps to have a replica built and tried.\n\n");
    for (const struct command *c = command_table; c->name; c++)
        fprintf(line->out, "  %-9s %-26s %s\n", c->name, c->words, c->summary);
    fprintf(line->out,
            "\nBegin with:  relict demo demo\n"
            "More:        relict help COMMAND\n"
            "Exit status: 0 done, 1 faults found, 2 words, 3 input, 4 range, 5 missing,\n"
            "             6 conflict, 7 refused, 8 file, 9 damaged, 10 no solution,\n"
            "             11 stopped, 12 memory\n");
    return 0;
}
