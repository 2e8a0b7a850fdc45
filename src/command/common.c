/* What several commands share: opening a project for the person who calls, telling what was brought
 * in. */
#include "command/command.h"
#include "job/job.h"

int command_open(struct job **out, struct command_line *line, bool read_only, struct error *err) {
    const struct job_options options = {.who = command_option(line, "--who"),
                                        .when = command_option(line, "--when"),
                                        .read_only = read_only};
    return job_open(out, line->args[0], &options, err);
}

static const char *text(const json_t *o, const char *key) {
    const char *s = json_string_value(json_object_get(o, key));
    return s ? s : "";
}

/* Only sums that the rows set aside would change. */
static void print_totals(const json_t *totals, FILE *out) {
    size_t i, shown = 0;
    const json_t *t;
    json_array_foreach((json_t *)totals, i, t) {
        long rows = (long)json_integer_value(json_object_get(t, "rows"));
        long with = (long)json_integer_value(json_object_get(t, "rows_with"));
        if (rows == with) continue;
        if (!shown++) fprintf(out, "Totals without and with them:\n");
        fprintf(out, "  %s, %s: %ld or %ld rows; lengths added %.6g or %.6g mm\n", text(t, "part"),
                text(t, "state"), rows, with, json_number_value(json_object_get(t, "length")),
                json_number_value(json_object_get(t, "length_with")));
    }
}

void command_print_report(const json_t *report, FILE *out) {
    command_print_text(text(report, "sentence"), 0, out);
    size_t i;
    const json_t *row, *aside = json_object_get(report, "aside");
    json_array_foreach(json_object_get(report, "remarks"), i, row)
        command_print_text(json_string_value(row), 2, out);
    json_array_foreach((json_t *)aside, i, row) {
        fprintf(out, "Set aside (%s):\n", text(row, "id"));
        command_print_text(text(row, "sentence"), 2, out);
    }
    if (json_array_size(aside) == 0) return;
    print_totals(json_object_get(report, "totals"), out);
    fprintf(out, "Mend a row with: relict import FILE cells.json --release ID\n"
                 "where cells.json holds the new text, as {\"length_mm\": \"132\"}.\n");
}
