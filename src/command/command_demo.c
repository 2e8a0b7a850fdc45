#include "command/command.h"

#include "base/asset.h"
#include "job/bring.h"
#include "tell/assemble.h"

#include <errno.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

/* The days on which the invented team is said to have done its work. */
static const char *const when = "2023-05-02T09:00:00Z";

/* Order of bringing in: pieces first, then what speaks of them. */
static const char *const lists[] = {
    "finds.csv",         "source.csv",     "handling.csv",     "choice.csv",     "mark.csv",
    "stem.csv",          "handover.csv",   "outlines.geojson", "stem_fault.csv", "test_peel.csv",
    "stem_visit.csv",    "stock_item.csv", "weighing.csv",     "trial.csv",      "trial_piece.csv",
    "trial_reading.csv", "candidate.csv",  "season_plan.csv",  "as_made.csv",    "alteration.csv",
    "measure.csv"};
/* The first so many every project has; the others only where the invented team has got so far. */
enum { ALWAYS = 8 };

static int bring(struct job *job, const char *asset, const char *as, FILE *out, struct error *err) {
    size_t n;
    const char *bytes = asset_find(asset, &n), *name = strrchr(asset, '/') + 1;
    if (!bytes)
        return fail(err, ERR_DAMAGED, "Build or install the program again.",
                    "\"%s\" is missing from the program.", asset);
    json_t *report;
    const struct bring_options o = {.as = as, .bar_length = NAN, .why = "the invented example"};
    int rc = job_bring(&report, job, name, bytes, n, &o, err);
    if (!rc && !as)
        fprintf(out, "  %-18s %s\n", name, json_string_value(json_object_get(report, "sentence")));
    if (!rc) json_decref(report);
    return rc;
}

static int bring_all(struct job *job, const char *project, FILE *out, struct arena *arena,
                     struct error *err) {
    int rc = 0;
    for (size_t i = 0; i < sizeof lists / sizeof lists[0] && !rc; i++) {
        char *name = arena_printf(arena, "demo/%s/%s", project, lists[i]);
        size_t n;
        if (name && i >= ALWAYS && !asset_find(name, &n)) continue;
        rc = name ? bring(job, name, NULL, out, err) : fail_memory(err);
    }
    char *photos = arena_printf(arena, "demo/%s/files/", project);
    for (size_t i = 0; asset_name(i) && !rc; i++)
        if (photos && strncmp(asset_name(i), photos, strlen(photos)) == 0)
            rc = bring(job, asset_name(i), "file", out, err);
    return rc;
}

static int step_begun(const char *step, double share, const char *what, void *context) {
    FILE *out = context;
    if (share == 0) {
        fprintf(out, "  working on %s: %s\n", step, what);
        fflush(out);
    }
    return 0;
}

static void print_blocked(const json_t *report, FILE *out) {
    size_t i;
    const json_t *row;
    json_array_foreach(report, i, row) {
        const json_t *b = json_object_get(row, "blocked");
        if (b)
            fprintf(out, "  %s: %s %s\n", json_string_value(json_object_get(row, "step")),
                    json_string_value(json_object_get(b, "message")),
                    json_string_value(json_object_get(b, "remedy")));
    }
}

static int make(struct command_line *line, const char *project, const char *title,
                struct error *err) {
    struct arena *arena = line->arena;
    char *file = arena_printf(arena, "%s/%s.relict", line->args[0], project),
         *folder = arena_printf(arena, "%s/%s", line->args[0], project);
    if (!file || !folder) return fail_memory(err);
    struct job *job;
    const struct job_options options = {.who = "volunteer recorder (invented)", .when = when};
    FILE *out = line->json ? stderr : line->out;
    fprintf(out, "%s\n", title);
    int rc = job_new(&job, file, title, 1, 0, &options, err);
    if (rc) return rc;
    json_t *report = NULL, *written = NULL;
    rc = bring_all(job, project, out, arena, err);
    if (!rc) rc = job_compute(&report, job, NULL, step_begun, out, err);
    if (!rc) print_blocked(report, out);
    if (!rc)
        rc = tell_write_all(&written, job, folder, &(struct hand_options){.paper = PLAN_A4}, err);
    if (!rc)
        fprintf(out, "  %zu files in %s\n",
                (size_t)json_integer_value(json_object_get(written, "files")), folder);
    json_decref(report);
    json_decref(written);
    job_close(job);
    return rc;
}

int command_demo(struct command_line *line, struct error *err) {
    static const struct {
        const char *name, *title;
    } projects[] = {{"tray", "The Undlebeck tray (invented)"},
                    {"cradle", "The Skarrowmere cradle (invented)"}};
    const char *only = command_option(line, "--only"), *folder = line->args[0];
    if (only && strcmp(only, "tray") && strcmp(only, "cradle"))
        return fail(err, ERR_USAGE, "Use tray or cradle.", "There is no demo \"%.20s\".", only);
    for (const char *p = folder; (p = strchr(p + 1, '/'));) {
        char *part = arena_copy(line->arena, folder, (size_t)(p - folder));
        if (part) mkdir(part, 0777);
    }
    if (mkdir(folder, 0777) && errno != EEXIST) {
        error_place(err, folder, 0, NULL, NULL);
        return fail(err, ERR_FILE, "Choose another folder.", "The folder cannot be made: %s.",
                    strerror(errno));
    }
    int rc = 0;
    for (size_t i = 0; i < 2 && !rc; i++)
        if (!only || strcmp(only, projects[i].name) == 0)
            rc = make(line, projects[i].name, projects[i].title, err);
    if (rc) return rc;
    const char *first = only ? only : "tray";
    fprintf(line->json ? stderr : line->out,
            "\nEverything here is invented. Look at:\n"
            "  %s/%s/argument.html    the argument, every number with its why\n"
            "  %s/%s/plan/plan-a4.pdf the plan at true size\n"
            "  relict show %s/%s.relict\n"
            "  relict serve %s/%s.relict\n",
            folder, first, folder, first, folder, first, folder, first);
    if (line->json) fprintf(line->out, "{\"folder\": \"%s\"}\n", folder);
    return 0;
}
