#include "job/stage.h"

#include "base/mem.h"

#include <math.h>
#include <string.h>

int stage_work(const struct stage *stage, struct stage_run *run, struct error *err) {
    run->failures = mem_failures();
    int rc = stage->run(run, err);
    return arena_failed(run->arena) || mem_failures() != run->failures ? fail_memory(err) : rc;
}

int stage_tell(struct stage_run *run, const char *step, double share, const char *what,
               struct error *err) {
    if (mem_failures() != run->failures) return fail_memory(err);
    if (!run->progress || run->progress(step, share, what, run->context) == 0) return 0;
    return fail(err, ERR_STOPPED, "Start it again to go on; what was finished is kept.",
                "Stopped while working on %s.", step);
}

json_t *stage_table(struct stage_run *run, const char *name, const char *title,
                    const char *columns) {
    json_t *tables = json_object_get(run->result, "tables");
    if (!tables) {
        tables = json_object();
        json_object_set_new(run->result, "tables", tables);
    }
    json_t *heads = json_array(), *rows = json_array();
    if (!heads || !rows) {
        json_decref(heads);
        json_decref(rows);
        return NULL;
    }
    for (const char *p = columns; *p; p += *p == '|') {
        size_t n = strcspn(p, "|");
        json_array_append_new(heads, json_stringn(p, n));
        p += n;
    }
    json_t *table = json_pack("{s:s,s:o,s:o}", "title", title, "columns", heads, "rows", rows);
    return table && json_object_set_new(tables, name, table) == 0 ? rows : NULL;
}

struct statement stage_statement(const char *step, const char *id, const char *sentence,
                                 const char *unit, long footing) {
    struct statement s = statement_blank();
    s.id = id;
    s.step = step;
    s.about = "object";
    s.sentence = sentence;
    s.unit = unit;
    s.footing = footing;
    return s;
}

const char *stage_range(const struct stage_run *run, const struct spread *value) {
    struct statement s = statement_blank();
    s.value = *value;
    const char *text = isnan(value->p50) ? NULL : statement_number(&s, run->arena);
    return text ? text : "";
}
