/* found: what there is, in which states it was measured, and what may be added up. */
#include "job/stage.h"

static const char *const kinds[] = {"piece",    "measure", "mark", "source",
                                    "handling", "choice",  NULL};

static int run(struct stage_run *r, struct error *err) {
    if (r->now->find.piece_count == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list: relict import FILE list.csv",
                    "There are no pieces yet.");
    return 0;
}

const struct stage stage_found = {"found", "Found", 1, kinds, false, run};
