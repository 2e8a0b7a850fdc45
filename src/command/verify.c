#include "command/command.h"
#include "job/job.h"

static int take(const struct record_fault *f, void *context, struct error *err) {
    json_t *o = json_pack("{s:s,s:s,s:s,s:i,s:s}", "what", f->what, "kind", f->kind, "id", f->id,
                          "revision", (int)f->revision, "detail", f->detail);
    return json_array_append_new(context, o) ? fail_memory(err) : 0;
}

int command_verify(struct command_line *line, struct error *err) {
    struct job *job;
    int rc = command_open(&job, line, true, err);
    if (rc) return rc;
    struct record_checked c;
    json_t *faults = json_array();
    rc = record_verify(&c, job_record(job), take, faults, err);
    job_close(job);
    if (!rc && line->json) {
        json_t *o = json_pack("{s:i,s:i,s:i,s:i,s:i,s:O}", "entries", (int)c.entries, "changes",
                              (int)c.changes, "files", (int)c.files, "seals", (int)c.seals,
                              "results", (int)c.results, "faults", faults);
        command_print_json(o, line->out);
        json_decref(o);
    } else if (!rc) {
        fprintf(line->out,
                "%zu entries, %zu changes, %zu files, %zu seals, %zu results: %zu faults\n",
                c.entries, c.changes, c.files, c.seals, c.results, c.faults);
        size_t i;
        const json_t *f;
        json_array_foreach(faults, i, f)
            fprintf(line->out, "  %s %s %s revision %d: %s\n",
                    json_string_value(json_object_get(f, "what")),
                    json_string_value(json_object_get(f, "kind")),
                    json_string_value(json_object_get(f, "id")),
                    (int)json_integer_value(json_object_get(f, "revision")),
                    json_string_value(json_object_get(f, "detail")));
    }
    if (!rc && c.faults) line->status = 1;
    json_decref(faults);
    return rc;
}
