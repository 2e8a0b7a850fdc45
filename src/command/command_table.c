#include "command/command.h"

const struct command command_table[] = {
    {"calc",
     "[METHOD [CASE.json]]",
     "work out one thing from plain numbers",
     "Lists the methods, or runs one on a JSON file (`-` or nothing: standard input). Every "
     "method\n"
     "stands open so that a specialist can check it against a book.",
     "  relict calc\n  relict calc emc --example | relict calc emc\n",
     0,
     2,
     {{"--help", NULL, "fields, units, limits and an example of the method"},
      {"--example", NULL, "only the example input"}},
     command_calc},
    {"help",
     "[COMMAND]",
     "what a command does, with an example",
     "Without a word: all commands.",
     "  relict help calc\n",
     0,
     1,
     {{0}},
     command_help_show},
    {0},
};
