/* The manual page, made of the command table: what `relict help` says and what `man relict` says is
 * one text. The marks are those of man(7). */
#include "command/command.h"

#include <string.h>

/* Text in running lines: a backslash, a leading dot and a leading quote would be marks to man; a
 * minus is one that can be copied into a shell. */
static void put_text(const char *text, bool as_it_stands, FILE *out) {
    bool begin = true;
    for (const char *p = text; *p; p++) {
        if (begin && (*p == '.' || *p == '\'')) fputs("\\&", out);
        begin = *p == '\n';
        if (*p == '\\')
            fputs("\\e", out);
        else if (*p == '-')
            fputs("\\-", out);
        else if (*p == '\'')
            fputs("\\(aq", out);
        else if (*p == '`' && !as_it_stands)
            fputs("\\(ga", out);
        else
            fputc(*p, out);
    }
}

static void put_command(const struct command *c, FILE *out) {
    fprintf(out, ".SS ");
    put_text(c->name, false, out);
    fprintf(out, "\n.B relict %s\n", c->name);
    put_text(c->words, false, out);
    fputs("\n.PP\nTo ", out);
    put_text(c->summary, false, out);
    fputs(".\n", out);
    put_text(c->text, false, out);
    fputc('\n', out);
    for (int i = 0; i < COMMAND_MOST_OPTIONS && c->options[i].name; i++) {
        const struct command_option *o = &c->options[i];
        fputs(".TP\n\\fB", out);
        put_text(o->name, false, out);
        fputs("\\fR", out);
        if (o->value) fprintf(out, " \\fI%s\\fR", o->value);
        fputc('\n', out);
        put_text(o->help, false, out);
        fputc('\n', out);
    }
    fputs(".PP\nExample:\n.PP\n.nf\n", out);
    put_text(c->example, true, out);
    fputs(".fi\n", out);
}

void command_manual(FILE *out) {
    fprintf(
        out,
        ".TH RELICT 1 \"\" \"relict %s\" \"User commands\"\n"
        ".SH NAME\nrelict \\- from the remains of a perishable object to a justified replica\n"
        ".SH SYNOPSIS\n.B relict\n.I COMMAND\n.RI [ WORDS ]\n"
        ".RB [ \\-\\-json ]\n"
        ".SH DESCRIPTION\n"
        "relict works out what a perishable object of bark, wood, bast, hide or basketry was "
        "from its\nremains, keeps the argument behind every number, and helps to have a replica "
        "built and tried.\nIt never decides: it shows what follows, how sure, and what would "
        "settle it.\n"
        "A project is one file. Every command takes\n.B \\-\\-json\n"
        "and then prints what it says as JSON.\nBegin with\n.BR \"relict demo demo\" .\n"
        ".SH COMMANDS\n",
        RELICT_VERSION);
    for (const struct command *c = command_table; c->name; c++)
        put_command(c, out);
    fputs(".SH EXIT STATUS\n"
          "0 done, 1 faults found, 2 words, 3 input, 4 range, 5 missing, 6 conflict, 7 refused,\n"
          "8 file, 9 damaged, 10 no solution, 11 stopped, 12 memory.\n"
          ".SH FILES\n"
          "Beside a project lie files named\n.IR PROJECT \\-draws\\-STEP ;\n"
          "they hold the possible originals, may be deleted, and are worked out again.\n",
          out);
}
