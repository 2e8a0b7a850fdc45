/* stage: one step of the job as the conductor sees it.
 *
 * A stage reads a snapshot and the rows as earlier stages left them, adds statements and fills a
 * result. It is pure: no record, screen or clock. Its result is kept under a key made of its name
 * and version, the key of the step before, the seed, the number of draws and the hashes of all
 * entries of the kinds it reads; so the same project gives the same key.
 */
#ifndef RELICT_JOB_STAGE_H
#define RELICT_JOB_STAGE_H

#include "job/form.h"
#include "job/snapshot.h"
#include "making/making.h"
#include "num/rows.h"
#include "remains/sizes.h"
#include "shape/outline.h"
#include "statement/statement.h"

#include <stdbool.h>

/* Called now and then with the share done (0 to 1, NAN unknown) and what is going on. A non-zero
 * answer asks the stage to stop: it returns ERR_STOPPED. */
typedef int stage_progress(const char *step, double share, const char *what, void *context);

/* What stages hand to later ones besides statements and rows; NULL until made. */
struct stage_products {
    struct sizes *sizes;
    struct tuples outline; /* likely outline, fresh, long axis along x, middle at the origin */
    struct shape_outline_model *outline_model; /* freed with the rows */
    struct makings *makings;                   /* entered ones and the proposal */
    struct form *form; /* the leading making in space (job/form.h), made by the step "strength";
                          also in its stored result as JSON under "form" */
};

struct stage_run {
    const struct snapshot *now;
    struct num_rows *rows;
    struct statement_set *said; /* of all stages so far */
    struct stage_products made;
    json_t *results;          /* object: results of all stages so far, by name; borrowed */
    json_t *result;           /* object to fill */
    const json_t *before;     /* result of this step the last time it ran, on other inputs; NULL.
                                 Only to save work: what is taken from it is checked and told */
    struct arena *arena;      /* of the whole run: contexts of row functions live here */
    bool rough;               /* few possible originals, for a first answer (job_sketch) */
    stage_progress *progress; /* may be NULL */
    void *context;
    long failures; /* mem_failures() when it began; stage_work sets it */
};

/* Adds an empty table {title, columns, rows} under `name` to the result; columns are given as one
 * text with | between. Returns the list of rows (borrowed), NULL when memory is gone. */
json_t *stage_table(struct stage_run *run, const char *name, const char *title,
                    const char *columns);

/* Makings as JSON: {makings, parts, steps}. New reference. */
json_t *stage_makings_encode(const struct makings *makings);

/* The beginning of a statement about the object; texts are borrowed. */
struct statement stage_statement(const char *step, const char *id, const char *sentence,
                                 const char *unit, long footing);

/* "318 (304 to 331)", "" when unknown. In the arena. */
const char *stage_range(const struct stage_run *run, const struct spread *value);

/* Tells how far it is; returns ERR_STOPPED when somebody asked to stop, and ERR_MEMORY when memory
 * was refused since the run began: it cannot be kept any more, so nobody waits for its end. */
int stage_tell(struct stage_run *run, const char *step, double share, const char *what,
               struct error *err);

struct stage {
    const char *name;         /* found sizes outline curve making strength material trials report */
    const char *title;        /* on screens */
    int version;              /* raise it when the same input would give another answer */
    const char *const *kinds; /* names of kinds it reads besides earlier steps; NULL-terminated */
    bool moves_rows; /* conditions the rows or makes dear columns: they are kept beside the file */
    int (*run)(struct stage_run *run, struct error *err);
};

/* The steps in order; stage_count of them. */
extern const struct stage *const stage_list[];
extern const size_t stage_count;

/* Runs one step. When memory failed meanwhile it is refused as a whole with those words, whatever
 * it says itself: it may say so only because something was not there. */
int stage_work(const struct stage *stage, struct stage_run *run, struct error *err);

/* Index of a step by name, or stage_count; the error names the nearest. */
size_t stage_index(const char *name, struct error *err);

#endif
