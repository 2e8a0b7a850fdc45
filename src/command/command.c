#include "command/command.h"

#include "base/field.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const struct command *command_find(const char *name) {
    for (const struct command *c = command_table; c->name; c++)
        if (strcmp(c->name, name) == 0) return c;
    return NULL;
}

static int option_index(const struct command *c, const char *name) {
    for (int i = 0; i < COMMAND_MOST_OPTIONS && c->options[i].name; i++)
        if (strcmp(c->options[i].name, name) == 0) return i;
    return -1;
}

const char *command_option(const struct command_line *line, const char *name) {
    int i = option_index(line->command, name);
    return i < 0 ? NULL : line->values[i];
}

static int unknown_command(const char *word, struct error *err) {
    const char *names[64];
    size_t n = 0;
    for (const struct command *c = command_table; c->name && n < 64; c++)
        names[n++] = c->name;
    const char *near = field_nearest(word, names, n);
    char remedy[200];
    if (near)
        snprintf(remedy, sizeof remedy, "Did you mean: relict %s ?", near);
    else
        snprintf(remedy, sizeof remedy, "`relict help` lists the commands.");
    return fail(err, ERR_USAGE, remedy, "There is no command \"%.60s\".", word);
}

static int unknown_option(const struct command *c, const char *word, struct error *err) {
    const char *names[COMMAND_MOST_OPTIONS + 1] = {"--json"};
    size_t n = 1;
    for (int i = 0; i < COMMAND_MOST_OPTIONS && c->options[i].name; i++)
        names[n++] = c->options[i].name;
    const char *near = field_nearest(word, names, n);
    char remedy[200];
    if (near)
        snprintf(remedy, sizeof remedy, "Did you mean %s ?", near);
    else
        snprintf(remedy, sizeof remedy, "`relict help %s` lists its options.", c->name);
    return fail(err, ERR_USAGE, remedy, "relict %s has no option \"%.60s\".", c->name, word);
}

static int parse(struct command_line *line, int argc, char **argv, struct error *err) {
    const struct command *c = line->command;
    bool words_only = false;
    for (int i = 0; i < argc; i++) {
        const char *word = argv[i];
        if (!words_only && strcmp(word, "--") == 0) {
            words_only = true;
        } else if (words_only || word[0] != '-' || word[1] == 0) {
            if (line->n == c->most)
                return fail(err, ERR_USAGE, c->words, "relict %s: \"%.60s\" is one word too many.",
                            c->name, word);
            line->args[line->n++] = word;
        } else if (strcmp(word, "--json") == 0) {
            line->json = true;
        } else {
            int k = option_index(c, word);
            if (k < 0) return unknown_option(c, word, err);
            if (c->options[k].value && i + 1 >= argc)
                return fail(err, ERR_USAGE, c->options[k].help, "%s needs a value: %s.", word,
                            c->options[k].value);
            line->values[k] = c->options[k].value ? argv[++i] : "";
        }
    }
    if (line->n >= c->least) return 0;
    char remedy[200];
    snprintf(remedy, sizeof remedy, "Usage: relict %s %s", c->name, c->words);
    return fail(err, ERR_USAGE, remedy, "relict %s needs %d word%s, not %d.", c->name, c->least,
                c->least == 1 ? "" : "s", line->n);
}

static void print_error(const struct error *err, bool json, FILE *out) {
    if (json) {
        json_t *o = json_pack("{s:{s:s,s:s,s:s}}", "error", "code", error_name(err->code),
                              "message", err->message, "remedy", err->remedy);
        json_t *inner = json_object_get(o, "error");
        if (*err->file) json_object_set_new(inner, "file", json_string(err->file));
        if (err->row > 0) json_object_set_new(inner, "row", json_integer(err->row));
        if (*err->column) json_object_set_new(inner, "column", json_string(err->column));
        if (*err->id) json_object_set_new(inner, "id", json_string(err->id));
        command_print_json(o, out);
        json_decref(o);
        return;
    }
    char text[1500];
    error_text(err, text, sizeof text);
    fprintf(out, "Not taken: %s\n", text);
}

int command_run(int argc, char **argv, FILE *out, FILE *errors) {
    struct error err = {0};
    struct command_line line = {.out = out, .arena = arena_new()};
    const char *word = argc > 1 ? argv[1] : "help";
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0) word = "help";
    if (strcmp(word, "--version") == 0) {
        fprintf(out, "relict %s\n", RELICT_VERSION);
        arena_free(line.arena);
        return 0;
    }
    line.command = command_find(word);
    int rc = line.arena ? 0 : fail_memory(&err);
    if (!rc && !line.command) rc = unknown_command(word, &err);
    bool asked_help = false;
    for (int i = 2; i < argc && !rc; i++)
        asked_help |= strcmp(argv[i], "--help") == 0;
    if (!rc && asked_help && strcmp(word, "calc") != 0) {
        char *help = command_help(line.command, line.arena);
        fputs(help ? help : "", out);
    } else if (!rc) {
        rc = parse(&line, argc > 2 ? argc - 2 : 0, argv + 2, &err);
        if (!rc) rc = line.command->run(&line, &err);
    }
    if (rc) print_error(&err, line.json, errors);
    if (!rc && fflush(out) != 0) {
        rc = fail(&err, ERR_FILE, "Is the disk full?", "The output could not be written: %s.",
                  strerror(errno));
        print_error(&err, line.json, errors);
    }
    arena_free(line.arena);
    return rc ? error_status((enum error_code)rc) : line.status;
}

char *command_help(const struct command *c, struct arena *arena) {
    char *text =
        arena_printf(arena, "relict %s %s\n\n%s\n\n%s\n", c->name, c->words, c->summary, c->text);
    for (int i = 0; text && i < COMMAND_MOST_OPTIONS && c->options[i].name; i++) {
        const struct command_option *o = &c->options[i];
        text = arena_printf(arena, "%s%s  %s%s%s\n      %s\n", text, i ? "" : "\nOptions:\n",
                            o->name, o->value ? " " : "", o->value ? o->value : "", o->help);
    }
    if (text)
        text = arena_printf(arena, "%s\nEvery command takes --json.\n\nExample:\n%s", text,
                            c->example);
    return text;
}

/* ---- reading and printing ------------------------------------------------------------------- */

int command_read(const char **text, size_t *n, const char *path, size_t most, struct arena *arena,
                 struct error *err) {
    bool standard = strcmp(path, "-") == 0;
    FILE *f = standard ? stdin : fopen(path, "rb");
    if (!f) {
        error_place(err, path, 0, NULL, NULL);
        return fail(err, ERR_FILE, "Check the name and the folder.", "It cannot be opened: %s.",
                    strerror(errno));
    }
    size_t room = 65536, used = 0;
    char *bytes = malloc(room);
    int rc = bytes ? 0 : fail_memory(err);
    while (!rc) {
        size_t got = fread(bytes + used, 1, room - used, f);
        used += got;
        if (got == 0) break;
        if (used > most) {
            error_place(err, path, 0, NULL, NULL);
            rc = fail(err, ERR_RANGE, "Is it the right file? Split it into parts.",
                      "It is larger than %zu MB.", most >> 20);
        } else if (used == room) {
            char *more = realloc(bytes, room *= 2);
            if (more)
                bytes = more;
            else
                rc = fail_memory(err);
        }
    }
    if (!rc && ferror(f)) {
        error_place(err, path, 0, NULL, NULL);
        rc = fail(err, ERR_FILE, "Is it a folder, or a disk that was taken out?",
                  "It cannot be read: %s.", strerror(errno));
    }
    if (!rc) {
        *text = arena_copy(arena, bytes, used);
        *n = used;
        if (!*text) rc = fail_memory(err);
    }
    free(bytes);
    if (!standard) fclose(f);
    return rc;
}

int command_read_json(json_t **out, const char *path, struct arena *arena, struct error *err) {
    const char *text;
    size_t n;
    *out = NULL;
    int rc = command_read(&text, &n, path, 64u << 20, arena, err);
    if (rc) return rc;
    json_error_t je;
    *out = json_loadb(text, n, JSON_REJECT_DUPLICATES, &je);
    if (*out) return 0;
    error_place(err, strcmp(path, "-") ? path : "standard input", je.line, NULL, NULL);
    return fail(err, ERR_INPUT, "Mend the text there; `relict help calc` shows the form.",
                "This is not JSON: %s.", je.text);
}

void command_print_json(const json_t *value, FILE *out) {
    json_dumpf(value, out, JSON_INDENT(2) | JSON_REAL_PRECISION(15) | JSON_ENCODE_ANY);
    fputc('\n', out);
}

enum { LINE_WIDTH = 78 };

int command_signs(const char *p, size_t n) {
    int count = 0;
    for (size_t i = 0; i < n; i++)
        count += ((unsigned char)p[i] & 0xC0) != 0x80;
    return count;
}

void command_print_text(const char *text, int indent, FILE *out) {
    int at = 0;
    for (const char *p = text; *p;) {
        size_t gap = strspn(p, " "), word = strcspn(p + gap, " \n");
        int width = command_signs(p + gap, word);
        if (at && at + 1 + width > LINE_WIDTH) {
            fputc('\n', out);
            at = 0;
        }
        if (at)
            at += fprintf(out, " ");
        else
            at += fprintf(out, "%*s", indent, "");
        fwrite(p + gap, 1, word, out);
        at += width;
        p += gap + word;
        if (*p == '\n') {
            fputc('\n', out);
            at = 0;
            p++;
        }
    }
    if (at) fputc('\n', out);
}
