#include "command/command.h"

#include "job/job.h"

#include <math.h>
#include <signal.h>
#include <string.h>
#include <unistd.h>

static volatile sig_atomic_t asked_to_stop;

static void ask_to_stop(int signal_number) {
    (void)signal_number;
    asked_to_stop = 1;
}

struct teller {
    bool json, bar;
    char step[24];
};

/* A stick in which a cut grows; one line on a terminal, one JSON object a line otherwise. */
static int tell(const char *step, double share, const char *what, void *context) {
    struct teller *t = context;
    enum { WIDTH = 30 };
    if (t->json) {
        json_t *o = json_pack("{s:s,s:s}", "step", step, "what", what);
        if (!isnan(share)) json_object_set_new(o, "share", json_real(share));
        json_dumpf(o, stderr, JSON_COMPACT | JSON_REAL_PRECISION(4));
        fputc('\n', stderr);
        json_decref(o);
    } else if (t->bar) {
        int cut = isnan(share) ? 0 : (int)(share * WIDTH + 0.5);
        fprintf(stderr, "\r%-9s |%.*s%.*s| %-36.36s", step, cut, "##############################",
                WIDTH - cut, "                              ", what);
    } else if (strcmp(step, t->step)) {
        fprintf(stderr, "%s\n", what);
    }
    snprintf(t->step, sizeof t->step, "%s", step);
    return asked_to_stop;
}

static void print_report(const json_t *report, FILE *out) {
    size_t i;
    const json_t *row;
    json_array_foreach(report, i, row) {
        fprintf(out, "%-9s %s\n", json_string_value(json_object_get(row, "step")),
                json_string_value(json_object_get(row, "state")));
        const json_t *b = json_object_get(row, "blocked");
        if (!b) continue;
        command_print_text(json_string_value(json_object_get(b, "message")), 10, out);
        command_print_text(json_string_value(json_object_get(b, "remedy")), 10, out);
    }
}

int command_compute(struct command_line *line, struct error *err) {
    struct job *job;
    const char *progress = command_option(line, "--progress");
    if (progress && strcmp(progress, "json") && strcmp(progress, "bar") && strcmp(progress, "none"))
        return fail(err, ERR_USAGE, "Use bar, json or none.", "--progress cannot be \"%.20s\".",
                    progress);
    int rc = command_open(&job, line, false, err);
    if (rc) return rc;
    struct teller teller = {.json = progress && strcmp(progress, "json") == 0,
                            .bar = progress ? strcmp(progress, "bar") == 0 : isatty(2)};
    bool quiet = progress && strcmp(progress, "none") == 0;
    struct sigaction act = {.sa_handler = ask_to_stop}, before;
    sigaction(SIGINT, &act, &before);
    json_t *report = NULL;
    rc = job_compute(&report, job, line->n > 1 ? line->args[1] : NULL, quiet ? NULL : tell, &teller,
                     err);
    sigaction(SIGINT, &before, NULL);
    if (teller.bar) fputs("\r\033[K", stderr);
    if (!rc && line->json)
        command_print_json(report, line->out);
    else if (!rc)
        print_report(report, line->out);
    json_decref(report);
    job_close(job);
    return rc;
}
