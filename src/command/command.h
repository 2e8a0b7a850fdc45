/* command: the words of the command line, one row a command.
 *
 * The table in command_table.c drives parsing, `relict help`, the manual pages and the test that
 * every example works. A command is thin: it reads its words, calls job/, prints. One file each.
 */
#ifndef RELICT_COMMAND_COMMAND_H
#define RELICT_COMMAND_COMMAND_H

#include "base/arena.h"
#include "base/error.h"

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

enum { COMMAND_MOST_ARGS = 16, COMMAND_MOST_OPTIONS = 14 };

struct command_option {
    const char *name;  /* "--progress" */
    const char *value; /* what it takes, in words ("WHO"), or NULL for a switch */
    const char *help;
};

struct command_line;

struct command {
    const char *name;
    const char *words;   /* "FILE [STEP]" */
    const char *summary; /* one line */
    const char *text;    /* some sentences */
    const char *example; /* lines that work as printed after `relict demo demo` */
    int least, most;     /* arguments */
    struct command_option options[COMMAND_MOST_OPTIONS]; /* ends with a NULL name */
    int (*run)(struct command_line *line, struct error *err);
};

struct command_line {
    const struct command *command;
    const char *args[COMMAND_MOST_ARGS];
    int n;
    const char *values[COMMAND_MOST_OPTIONS]; /* of options given; a switch has "" */
    bool json;
    struct arena *arena; /* lives as long as the command */
    FILE *out;
    int status; /* exit status when there is no error (check and verify use 1) */
};

/* All commands, ends with a NULL name. */
extern const struct command command_table[];

/* Finds a command; NULL if there is none. */
const struct command *command_find(const char *name);

/* Value of an option, "" for a switch that was given, NULL when it was not. */
const char *command_option(const struct command_line *line, const char *name);

/* Reads the words and runs the command; prints errors to `errors`. Returns the exit status. */
int command_run(int argc, char **argv, FILE *out, FILE *errors);

/* Help of one command, as text in the arena. */
char *command_help(const struct command *command, struct arena *arena);

/* Prints all of it as one manual page, with the marks of man(7). */
void command_manual(FILE *out);

/* ---- for the commands ----------------------------------------------------------------------- */

/* Reads a whole file ("-": standard input) of at most `most` bytes into the arena, 0-terminated. */
int command_read(const char **text, size_t *n, const char *path, size_t most, struct arena *arena,
                 struct error *err);

/* Reads a JSON file ("-": standard input). New reference. */
int command_read_json(json_t **out, const char *path, struct arena *arena, struct error *err);

/* Prints JSON in the house's way: sorted as made, two spaces, 15 digits. */
void command_print_json(const json_t *value, FILE *out);

/* Prints text in lines of at most 78 signs, each begun with `indent` spaces. */
void command_print_text(const char *text, int indent, FILE *out);

/* Signs that n bytes of UTF-8 show, not bytes. */
int command_signs(const char *p, size_t n);

/* Prints a table {title, columns: [...], rows: [[...]]}; cells are folded so that it is no wider
 * than the terminal, or than 120 signs where there is none. */
void command_print_table(const json_t *table, FILE *out);

/* The project a command names, opened for the person who calls. */
struct job;
int command_open(struct job **out, struct command_line *line, bool read_only, struct error *err);

/* Prints a report of job_bring, job_release or job_aside. */
void command_print_report(const json_t *report, FILE *out);

int command_new(struct command_line *line, struct error *err);
int command_import(struct command_line *line, struct error *err);
int command_export(struct command_line *line, struct error *err);
int command_enter(struct command_line *line, struct error *err);
int command_undo(struct command_line *line, struct error *err);
int command_merge(struct command_line *line, struct error *err);
int command_blot(struct command_line *line, struct error *err);
int command_compute(struct command_line *line, struct error *err);
int command_show(struct command_line *line, struct error *err);
int command_why(struct command_line *line, struct error *err);
int command_check(struct command_line *line, struct error *err);
int command_verify(struct command_line *line, struct error *err);
int command_calc(struct command_line *line, struct error *err);
int command_tell(struct command_line *line, struct error *err);
int command_demo(struct command_line *line, struct error *err);
int command_serve(struct command_line *line, struct error *err);
int command_help_show(struct command_line *line, struct error *err);

#endif
