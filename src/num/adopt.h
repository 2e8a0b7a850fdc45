/* adopt: evidence whose draws were worked out by the caller's own sampler.
 *
 * num_rows_condition moves roots by steps that know nothing of what they mean. Where a room knows
 * better coordinates (an outline laid against an arc) it may sample itself and hand in the result;
 * the table is then as if it had been conditioned: whole rows copied, named roots replaced, derived
 * columns worked out again, the evidence on record so that later evidence keeps it in force.
 */
#ifndef RELICT_NUM_ADOPT_H
#define RELICT_NUM_ADOPT_H

#include "num/rows.h"

/* What the sampler found, in the new order of rows. */
struct num_adopted {
    const size_t *map;          /* [n]: present row each new row copies */
    const double *const *value; /* [n_moves][n]: of the moved roots */
    const double *log_weight;   /* [n] */
    double log_evidence, log_evidence_se, accepted;
    int stages;
};

/* Whether this evidence (id, key) is in already; then its function is joined again and its report
 * given. ERR_CONFLICT when it is in with another content. */
int num_rows_known(struct num_rows *rows, const struct num_evidence *evidence, bool *known,
                   struct num_report *report, struct error *err);

/* Takes the draws over. Refuses (ERR_REFUSED) to move roots that earlier evidence rests on: the
 * sampler did not know of it. */
int num_rows_adopt(struct num_rows *rows, const struct num_evidence *evidence,
                   const struct num_adopted *adopted, struct num_report *report, struct error *err);

/* The combination of rivals' values of each row: cell[n]; returns how many there can be. */
size_t num_rows_cells(const struct num_rows *rows, size_t *cell);

#endif
