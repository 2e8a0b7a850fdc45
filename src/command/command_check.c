#include "command/command.h"
#include "job/job.h"
#include "tell/assemble.h"

#include <string.h>

/* Points of the argument only, or with --report of the whole report. */
static bool wanted(const struct tell_check *c, bool whole) {
    return whole || !strcmp(c->group, "Reasoning") || !strcmp(c->group, "Evidence");
}

static void print(const struct tell_check *list, size_t n, bool whole, FILE *out) {
    const char *group = "";
    size_t points = 0, done = 0;
    for (size_t i = 0; i < n; i++) {
        if (!wanted(&list[i], whole)) continue;
        if (strcmp(group, list[i].group)) fprintf(out, "\n%s\n", group = list[i].group);
        fprintf(out, "  %-4s %s\n",
                list[i].done == 0   ? "no"
                : list[i].done == 1 ? "yes"
                                    : "-",
                list[i].item);
        if (*list[i].missing) command_print_text(list[i].missing, 9, out);
        points++;
        done += list[i].done != 0;
    }
    fprintf(out, "\n%zu of %zu points are settled.\n", done, points);
}

int command_check(struct command_line *line, struct error *err) {
    struct job *job;
    struct tell_dossier dossier = {0};
    struct tell_check *list;
    size_t n;
    bool whole = command_option(line, "--report") != NULL;
    int rc = command_open(&job, line, true, err);
    if (rc) return rc;
    rc = tell_assemble(&dossier, job, line->arena, err);
    if (!rc) rc = tell_checklist(&list, &n, &dossier, line->arena, err);
    tell_dossier_drop(&dossier);
    job_close(job);
    if (rc) return rc;
    if (line->json) {
        json_t *out = tell_check_encode(list, n);
        command_print_json(out, line->out);
        json_decref(out);
    } else {
        print(list, n, whole, line->out);
    }
    for (size_t i = 0; i < n; i++)
        if (wanted(&list[i], whole) && list[i].done == 0) line->status = 1;
    return 0;
}
