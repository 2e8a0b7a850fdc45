#include "command/command.h"

#include "job/bring.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *text(const json_t *o, const char *key) {
    const char *s = json_string_value(json_object_get(o, key));
    return s ? s : "";
}

/* ---- statements ----------------------------------------------------------------------------- */

static void print_care(const char *label, const char *words, struct arena *arena, FILE *out) {
    char *line = words ? arena_printf(arena, "%s%s", label, words) : NULL;
    if (line) command_print_text(line, 4, out);
}

/* A number that a table of the step shows as well: what a part needs, how late a step may begin. */
static bool in_table(const struct statement *s) {
    return strncmp(s->id, "need.", 5) == 0 ||
           (strncmp(s->id, "plan.", 5) == 0 && s->quantity &&
            strcmp(s->quantity, "days to spare") == 0 && strcmp(s->id, "plan.slack") != 0);
}

static bool of_step(const struct statement *s, const char *step) {
    return !step || (s->step && strcmp(s->step, step) == 0 && !in_table(s));
}

static void pad(const char *words, int width, FILE *out) {
    int gap = width - command_signs(words, strlen(words));
    fprintf(out, "%s%*s", words, gap > 0 ? gap + 2 : 2, "");
}

/* Longer ones than this stand out of the column rather than push everything to the right. */
enum { WIDEST_ID = 34, WIDEST_NUMBER = 34 };

/* Steps whose statements are not told by their names: the sentence stands below each. */
static bool in_sentences(const char *step) {
    return step && strcmp(step, "strength") == 0;
}

static void print_statements(const struct statement_set *said, const char *step,
                             struct arena *arena, FILE *out) {
    int id_width = 0, number_width = 0;
    for (size_t i = 0; i < statement_count(said); i++) {
        const struct statement *s = statement_at(said, i);
        if (!of_step(s, step)) continue;
        char *number = statement_number(s, arena);
        int id = command_signs(s->id, strlen(s->id)),
            n = number ? command_signs(number, strlen(number)) : 0;
        if (id > id_width && id <= WIDEST_ID) id_width = id;
        if (n > number_width && n <= WIDEST_NUMBER) number_width = n;
    }
    for (size_t i = 0; i < statement_count(said); i++) {
        const struct statement *s = statement_at(said, i);
        if (!of_step(s, step)) continue;
        char *number = statement_number(s, arena);
        bool known = s->footing >= 0 && s->footing < FOOTING_COUNT;
        pad(s->id, id_width, out);
        pad(number && *number ? number : "(in words)", number_width, out);
        pad(s->state ? s->state : "", 11, out);
        fprintf(out, "%s\n", known ? footing_words[s->footing] : "no footing");
        if (!number || !*number || in_sentences(step)) print_care("", s->sentence, arena, out);
        print_care("Take care: ", s->caution, arena, out);
        print_care("In doubt: ", s->doubt, arena, out);
    }
    size_t tabled = 0;
    for (size_t i = 0; step && i < statement_count(said); i++) {
        const struct statement *s = statement_at(said, i);
        tabled += s->step && strcmp(s->step, step) == 0 && in_table(s);
    }
    if (tabled)
        fprintf(out,
                "%zu more stand in the tables below; all by name: relict show FILE statements\n",
                tabled);
}

static int show_statements(struct command_line *line, struct job *job, const char *step,
                           struct error *err) {
    struct statement_set *said;
    int rc = job_statements(&said, job, line->arena, err);
    if (rc) return rc;
    if (line->json) {
        json_t *list = statement_set_encode(said);
        command_print_json(list, line->out);
        json_decref(list);
    } else if (statement_count(said) == 0) {
        return fail(err, ERR_MISSING, "Run: relict compute FILE",
                    "Nothing has been worked out in this project yet.");
    } else
        print_statements(said, step, line->arena, line->out);
    return 0;
}

/* ---- steps and topics ----------------------------------------------------------------------- */

static int show_steps(struct command_line *line, struct job *job, struct error *err) {
    json_t *steps;
    int rc = job_steps(&steps, job, err);
    if (rc) return rc;
    if (line->json) command_print_json(steps, line->out);
    size_t i;
    const json_t *row;
    json_array_foreach(steps, i, row) {
        if (line->json) break;
        fprintf(line->out, "%-9s %-10s %2d open  %s\n", text(row, "step"), text(row, "state"),
                (int)json_integer_value(json_object_get(row, "open")), text(row, "why"));
        const json_t *blocked = json_object_get(row, "blocked");
        if (blocked) command_print_text(text(blocked, "message"), 10, line->out);
    }
    json_decref(steps);
    return 0;
}

/* Topics that are tables of one step's result, by the name under which the stage put them. */
static const struct {
    const char *topic, *step, *table, *more; /* `more`: what belongs beside it in words */
} topics[] = {
    {"stock", "found", "stock"},
    {"shopping", "found", "shopping"},
    {"handling", "sizes", "handling"},
    {"makings", "making", "makings"},
    {"parts", "making", "parts"},
    {"order", "making", "order"},
    {"season", "material", "season"},
    {"needs", "material", "needs"},
    {"plan", "trials", "plan", "plan_facts"},
};
enum { TOPICS = sizeof topics / sizeof topics[0] };

/* What the trials made of a table of an earlier step: beside it, so that both stand. */
static int show_with_trials(struct command_line *line, struct job *job, const char *table,
                            struct error *err) {
    json_t *stored;
    int rc = job_result(&stored, job, "trials", err);
    if (rc) return rc;
    const json_t *tables = json_object_get(json_object_get(stored, "result"), "tables"),
                 *also = json_object_get(tables, table), *stems = json_object_get(tables, "stems");
    if (also) command_print_table(also, line->out);
    if (also && stems) command_print_table(stems, line->out);
    json_decref(stored);
    return 0;
}

/* Prints the tables of a step's result (all, or the one named) and its statements. */
static int show_step(struct command_line *line, struct job *job, const char *step,
                     const char *table, const char *more, struct error *err) {
    json_t *stored;
    int rc = job_result(&stored, job, step, err);
    if (rc) return rc;
    const json_t *result = json_object_get(stored, "result");
    const json_t *tables = json_object_get(result, "tables"),
                 *blocked = json_object_get(stored, "blocked");
    if (line->json)
        command_print_json(table ? json_object_get(tables, table) : stored, line->out);
    else {
        if (json_object_get(stored, "in_doubt"))
            fprintf(line->out, "In doubt: something was changed since. Run: relict compute %s\n",
                    line->args[0]);
        if (blocked) {
            command_print_text(text(blocked, "message"), 0, line->out);
            command_print_text(text(blocked, "remedy"), 0, line->out);
        }
        if (!table) rc = show_statements(line, job, step, err);
        const char *key;
        json_t *t;
        json_object_foreach((json_t *)result, key, t) { /* what is told in sentences */
            const char *words = json_string_value(t);
            if (!table && words && strchr(words, ' ') && strchr(words, '.'))
                command_print_text(words, 0, line->out);
        }
        json_object_foreach((json_t *)tables, key, t) {
            if (!table || !strcmp(key, table) || (more && !strcmp(key, more)))
                command_print_table(t, line->out);
        }
        if (table && !json_object_get(tables, table))
            fprintf(line->out, "There is nothing of this yet.\n");
    }
    json_decref(stored);
    if (!rc && table && !line->json && !strcmp(table, "needs"))
        rc = show_with_trials(line, job, table, err);
    return rc;
}

static int show_aside(struct command_line *line, struct job *job, struct error *err) {
    json_t *report;
    int rc = job_aside(&report, job, err);
    if (rc) return rc;
    if (line->json)
        command_print_json(report, line->out);
    else
        command_print_report(report, line->out);
    json_decref(report);
    return 0;
}

static int unknown_topic(const char *topic, struct error *err) {
    const char *names[TOPICS + 32] = {"statements", "steps", "aside"};
    size_t n = 3;
    for (size_t i = 0; i < stage_count; i++)
        names[n++] = stage_list[i]->name;
    for (size_t i = 0; i < TOPICS; i++)
        names[n++] = topics[i].topic;
    char remedy[320] = "";
    const char *near = field_nearest(topic, names, n);
    snprintf(remedy, sizeof remedy, "%s%s%sTopics:", near ? "Did you mean " : "", near ? near : "",
             near ? "? " : "");
    for (size_t i = 0; i < n; i++)
        snprintf(remedy + strlen(remedy), sizeof remedy - strlen(remedy), " %s", names[i]);
    return fail(err, ERR_USAGE, remedy, "There is nothing called \"%.40s\" to show.", topic);
}

int command_show(struct command_line *line, struct error *err) {
    const char *topic = line->n > 1 ? line->args[1] : "steps";
    struct job *job;
    int rc = command_open(&job, line, true, err);
    if (rc) return rc;
    if (strcmp(topic, "steps") == 0)
        rc = show_steps(line, job, err);
    else if (strcmp(topic, "statements") == 0)
        rc = show_statements(line, job, NULL, err);
    else if (strcmp(topic, "aside") == 0)
        rc = show_aside(line, job, err);
    else {
        const char *step = NULL, *table = NULL, *more = NULL;
        for (size_t i = 0; i < stage_count; i++)
            if (strcmp(stage_list[i]->name, topic) == 0) step = topic;
        for (size_t i = 0; i < TOPICS && !step; i++)
            if (strcmp(topics[i].topic, topic) == 0) {
                step = topics[i].step;
                table = topics[i].table;
                more = topics[i].more;
            }
        rc = step ? show_step(line, job, step, table, more, err) : unknown_topic(topic, err);
    }
    job_close(job);
    return rc;
}
