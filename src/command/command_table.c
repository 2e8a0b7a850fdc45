#include "command/command.h"

#define WHO                                                                                        \
    { "--who", "NAME", "who signs the change (the account's name otherwise)" }
#define WHEN                                                                                       \
    { "--when", "MOMENT", "ISO 8601 moment to sign with (the clock otherwise)" }
#define WHY                                                                                        \
    { "--why", "TEXT", "why, for the journal" }

/* Examples work as printed after `relict demo demo`. */
const struct command command_table[] = {
    {"new",
     "FILE [TITLE]",
     "make an empty project",
     "A project is one file. Nothing is overwritten: the name must be free.",
     "  relict new basket.relict \"The basket\"\n",
     1,
     2,
     {WHO,
      WHEN,
      {"--seed", "N", "seed of the possible originals (1)"},
      {"--draws", "N", "how many possible originals (4096)"}},
     command_new},
    {"import",
     "FILE LIST",
     "bring in a finds list, outlines, photos or notes",
     "LIST is CSV or XLSX with one row a piece, GeoJSON outlines in mm, a photo, or a table named "
     "after\n"
     "what it holds (sources.csv, handling.csv, choice.csv). The program proposes what each "
     "heading means\n"
     "(--propose prints that to be corrected and given back with --map). Rows in which something "
     "is\n"
     "wrong are set aside with reason and suggestion; nothing is converted in silence.",
     "  relict new again.relict \"The tray again\"\n"
     "  relict import again.relict demo/tray/files/finds.csv\n"
     "  relict compute again.relict found\n"
     "  relict show again.relict aside\n",
     2,
     2,
     {WHO,
      WHEN,
      WHY,
      {"--as", "WHAT",
       "finds, outlines, photo, file or the name of a kind, where the file's name misleads"},
      {"--map", "MAP.json", "what each column means"},
      {"--propose", NULL, "only print the map that would be used"},
      {"--semicolon", NULL, "cells are separated by semicolons"},
      {"--decimal-comma", NULL, "13,2 is thirteen and a fifth"},
      {"--bar", "MM", "length of the scale bar in a photo"},
      {"--release", "ID", "mend a row set aside: LIST is a JSON object of heading and new text"},
      {"--as-it-is", NULL, "with --release: take what is merely unlikely"}},
     command_import},
    {"enter",
     "FILE KIND ID [BODY.json]",
     "enter or change one thing",
     "The body is a JSON object of the kind's fields (`-` or nothing: standard input). What was "
     "there\n"
     "before stays in the history.",
     "  echo '{\"id\":\"N1\",\"piece\":\"A01\",\"allowed\":true}' | relict enter demo/tray.relict "
     "handling N1\n",
     3,
     4,
     {WHO, WHEN, WHY},
     command_enter},
    {"undo",
     "FILE [CHANGE]",
     "take back a change (the newest otherwise)",
     "Undo is a new change; it is refused, with both values shown, if someone has touched the "
     "same\n"
     "thing since.",
     "  relict undo demo/tray.relict\n",
     1,
     2,
     {WHO, WHEN, WHY},
     command_undo},
    {"export",
     "FILE FOLDER | FOLDER FILE",
     "write the project as open files, or rebuild it",
     "A project becomes a folder of CSV, JSON, GeoJSON and the kept files, with its whole history. "
     "Given a\n"
     "folder first, it is rebuilt from it without a difference.",
     "  relict export demo/tray.relict tray-open\n"
     "  relict export tray-open tray-again.relict\n",
     2,
     2,
     {WHO, WHEN, {"--replace", NULL, "write over a folder that was written from this project"}},
     command_export},
    {"merge",
     "FILE OTHER",
     "take over what a copy has that this one has not",
     "Two copies edited apart are joined. What was changed in both is kept side by side until "
     "somebody\n"
     "chooses; nothing is chosen in silence.",
     "  cp demo/tray.relict copy.relict\n  relict merge demo/tray.relict copy.relict\n",
     2,
     2,
     {WHO, WHEN},
     command_merge},
    {"blot",
     "FILE KIND ID [FIELD]",
     "blot out something private for good",
     "Replaces it in every revision and wherever else it is stored. Both hashes, who and why stay "
     "on\n"
     "record; copies that still hold it are named.",
     "  relict blot copy.relict stem L1 owner --why \"consent withdrawn\"\n",
     3,
     4,
     {WHO, WHEN, WHY},
     command_blot},
    {"compute",
     "FILE [STEP]",
     "work out what is in doubt",
     "Runs every step up to STEP (found, sizes, outline, curve, making, strength, material, "
     "trials,\n"
     "report) that is not up to date. Ctrl-C stops it; what is finished is kept and it goes on "
     "from there.",
     "  relict compute demo/tray.relict sizes\n",
     1,
     2,
     {WHO, WHEN, {"--progress", "HOW", "bar, json (one object a line on standard error) or none"}},
     command_compute},
    {"show",
     "FILE [TOPIC]",
     "show the steps, statements or a topic",
     "Without a topic: the steps and what is open. Topics: steps, statements, the name of a step, "
     "stock,\n"
     "shopping, aside, handling, makings, parts, order, season, needs, plan.",
     "  relict show demo/tray.relict\n  relict show demo/tray.relict shopping\n",
     1,
     2,
     {{0}},
     command_show},
    {"why",
     "FILE STATEMENT",
     "what a number rests on, down to the readings",
     "Shows the statement, its rule and source, and everything it rests on. What was itself worked "
     "out\n"
     "can be asked in turn; --all opens the whole chain at once.",
     "  relict why demo/tray.relict lath.thickness.fresh\n"
     "  relict why demo/tray.relict lath.count --all\n",
     2,
     2,
     {{"--all", NULL, "the whole chain, down to the readings"}},
     command_why},
    {"verify",
     "FILE",
     "recompute every hash and look for altered bytes",
     "Exit status 1 when something is not as it was stored.",
     "  relict verify demo/tray.relict\n",
     1,
     1,
     {{0}},
     command_verify},
    {"check",
     "FILE",
     "what the argument, or the whole report, still lacks",
     "Goes through the checklist of a report: footings, rules, rivals, states, sources. With\n"
     "--report also identity, trials, replica and keeping. Exit status 1 while something is "
     "missing.",
     "  relict check demo/tray.relict --report\n",
     1,
     1,
     {{"--report", NULL, "the whole checklist, not only evidence and reasoning"}},
     command_check},
    {"tell",
     "FILE FOLDER",
     "write report, plan and data into a folder",
     "Writes the argument (HTML and PDF), the plan at true size (PDF, SVG, DXF) and the drawings. "
     "While\n"
     "something is missing each page says draft. Files of the same name are replaced.",
     "  relict tell demo/tray.relict report\n",
     2,
     2,
     {{"--paper", "NAME", "a4, a3 or letter"},
      {"--roll", "MM", "a roll of this width instead"},
      {"--bar", "MM",
       "what the 100 mm bar measured on a test print; MM,MM: along the sheet and up it"}},
     command_tell},
    {"serve",
     "FILE",
     "open the project in the browser",
     "Serves the screens on this machine alone and prints the address and how to stop. With "
     "--share\n"
     "others on the network may look or enter; each gets a sign for a phone, good for twelve "
     "hours\n"
     "unless --for says otherwise. Sharing stops with the program, or a key at a time on the "
     "screen.",
     "  relict serve demo/tray.relict\n",
     1,
     1,
     {WHO,
      {"--port", "N", "port to listen on (any free one otherwise)"},
      {"--share", NULL, "let others on the network in"},
      {"--for", "HOURS", "how long a shared key lasts (12)"},
      {"--quiet", NULL, "do not open a browser"}},
     command_serve},
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
    {"demo",
     "FOLDER",
     "do the whole job on two invented objects",
     "Makes the projects of the invented tray and cradle in FOLDER, works everything out, and "
     "writes\n"
     "report and plan beside them. Projects of the same name in FOLDER are not touched: take a new "
     "one.",
     "  relict demo demo2\n",
     1,
     1,
     {{"--only", "NAME", "tray or cradle"}},
     command_demo},
    {"help",
     "[COMMAND]",
     "what a command does, with an example",
     "Without a word: all commands. `relict help api` prints what the screens ask and tell.",
     "  relict help calc\n",
     0,
     1,
     {{"--manual", NULL, "all of it as one manual page"}},
     command_help_show},
    {0},
};
