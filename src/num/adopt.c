#include "num/adopt.h"

#include "base/mem.h"
#include "num/rows_inside.h"

#include <math.h>
#include <string.h>

size_t num_rows_cells(const struct num_rows *rows, size_t *cell) {
    return rows_cells(rows, cell);
}

int num_rows_known(struct num_rows *rows, const struct num_evidence *e, bool *known,
                   struct num_report *report, struct error *err) {
    struct past *p = rows_past_find(rows, e->id);
    *known = p && p->used;
    if (!*known) return 0;
    if (e->key && p->key && e->key != p->key) {
        error_place(err, NULL, 0, NULL, e->id);
        return fail(err, ERR_CONFLICT, "Build the rows anew from the changed readings.",
                    "Evidence \"%.60s\" is already in the ensemble with other content.", e->id);
    }
    p->log_like = e->log_like;
    p->ctx = e->ctx;
    *report = p->report;
    return 0;
}

static int check_free(const struct num_rows *rows, const struct num_evidence *e,
                      const bool *touched, struct error *err) {
    for (size_t p = 0; p < rows->n_pasts; p++)
        for (size_t k = 0; rows->pasts[p]->used && k < rows->pasts[p]->n_reads; k++)
            if (touched[rows->pasts[p]->reads[k]])
                return fail(err, ERR_REFUSED, "Build the rows anew with all evidence.",
                            "Evidence \"%.60s\" would move what \"%.60s\" rests on.", e->id,
                            rows->pasts[p]->id);
    return 0;
}

static void write_rows(struct num_rows *rows, const struct num_evidence *e,
                       const struct num_adopted *a, double *v, size_t *ancestor) {
    for (size_t c = 0; c < rows->n_columns; c++) {
        for (size_t i = 0; i < rows->n; i++)
            v[i] = rows->columns[c]->value[a->map[i]];
        memcpy(rows->columns[c]->value, v, rows->n * sizeof *v);
    }
    for (size_t k = 0; k < e->n_moves; k++)
        memcpy(rows->columns[e->moves[k]]->value, a->value[k], rows->n * sizeof *v);
    for (size_t i = 0; i < rows->n; i++)
        ancestor[i] = rows->ancestor[a->map[i]];
    memcpy(rows->ancestor, ancestor, rows->n * sizeof *ancestor);
    memcpy(rows->log_weight, a->log_weight, rows->n * sizeof *v);
}

int num_rows_adopt(struct num_rows *rows, const struct num_evidence *e, const struct num_adopted *a,
                   struct num_report *report, struct error *err) {
    *report = (struct num_report){.p_predicted = NAN,
                                  .p_best = NAN,
                                  .limit = 0.01 / (double)(e->readings ? e->readings : 1),
                                  .log_evidence = a->log_evidence,
                                  .log_evidence_se = a->log_evidence_se,
                                  .stages = a->stages,
                                  .accepted = a->accepted};
    bool *touched = MEM_NEW(bool, rows->n_columns), *seen = MEM_NEW(bool, rows->n);
    double *v = MEM_NEW(double, rows->n);
    size_t *ancestor = MEM_NEW(size_t, rows->n);
    int rc = touched && seen && v && ancestor ? 0 : fail_memory(err);
    for (size_t k = 0; !rc && k < e->n_moves; k++)
        touched[e->moves[k]] = true;
    if (!rc) rows_spread(rows, touched);
    if (!rc) rc = check_free(rows, e, touched, err);
    struct past *past = NULL;
    if (!rc) {
        past = rows_past_add(rows, e->id, e->key, e->reads, e->n_reads, NULL);
        if (!past) rc = fail_memory(err);
    }
    if (!rc) {
        write_rows(rows, e, a, v, ancestor);
        rc = rows_refresh(rows, touched, err);
        for (size_t i = 0; i < rows->n; i++) {
            report->distinct += !seen[rows->ancestor[i]];
            seen[rows->ancestor[i]] = true;
        }
        past->used = true;
        past->log_like = e->log_like;
        past->ctx = e->ctx;
        report->id = past->id;
        report->effective = num_rows_effective(rows);
        past->report = *report;
    }
    mem_free(touched);
    mem_free(seen);
    mem_free(v);
    mem_free(ancestor);
    return rc;
}
