/* report: whether the argument is complete: what has no footing, guesses without rivals; and what
 * is left of the headline figures without the trials and without each parallel. */
#include "job/stage.h"
#include "job/without.h"

#include <math.h>

static const char *const kinds[] = {"handover", "as_made", "source", NULL};

static int run(struct stage_run *r, struct error *err) {
    struct texts faults;
    int rc = statement_faults(&faults, r->said, r->arena, err);
    if (rc) return rc;
    size_t count[FOOTING_COUNT] = {0};
    for (size_t i = 0; i < statement_count(r->said); i++) {
        long f = statement_at(r->said, i)->footing;
        if (f >= 0 && f < FOOTING_COUNT) count[f]++;
    }
    if (statement_count(r->said) == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list and work it out first.",
                    "Nothing is said about the object yet.");
    json_t *rows = stage_table(r, "footings", "What the statements rest on", "footing|statements");
    for (int f = 0; rows && f < FOOTING_COUNT; f++)
        json_array_append_new(rows, json_pack("[s,i]", footing_words[f], (int)count[f]));
    json_t *list = stage_table(r, "faults", "What the argument still lacks", "statement and fault");
    for (size_t i = 0; list && i < faults.n; i++)
        json_array_append_new(list, json_pack("[s]", faults.v[i]));
    return rows && list ? without_tables(r, err) : fail_memory(err);
}

const struct stage stage_report = {"report", "Report", 4, kinds, false, run};
