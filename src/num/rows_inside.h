/* rows_inside: how a table of rows is laid out; for the files of num/rows only. */
#ifndef RELICT_NUM_ROWS_INSIDE_H
#define RELICT_NUM_ROWS_INSIDE_H

#include "num/rows.h"

struct column {
    char *id;
    uint64_t hash; /* of id: compared before the text */
    bool root;
    struct num_dist prior; /* roots */
    double *value;         /* [n] */
    size_t *from;          /* [n_from], derived */
    size_t n_from;
    size_t first, together; /* the group worked out by one function: columns first .. + together */
    num_row_fn *fn;         /* of a group of one; NULL when unknown */
    num_row_many_fn *many;  /* of a larger group */
    void *ctx;
    bool stale; /* what it rests on has moved and there is no function */
};

/* Linear-Gaussian evidence as kept. */
struct gauss {
    size_t n_y, n_x;
    size_t *roots;     /* [n_x] */
    double *h, *y, *r; /* [n_y][n_x], [n_y], [n_y][n_y] */
    double *precision; /* r^-1 */
    double log_norm;   /* -(ln det r + n_y ln 2 pi) / 2 */
};

struct past {
    char *id;
    uint64_t key;
    bool used;            /* false: held out */
    num_row_fn *log_like; /* NULL when read from a file and not joined yet */
    void *ctx;
    size_t *reads; /* [n_reads] */
    size_t n_reads;
    struct gauss *gauss; /* NULL unless linear-Gaussian */
    struct num_report report;
    struct num_rows *owner; /* for the likelihood of gauss */
};

struct num_rows {
    size_t n;
    uint64_t seed;
    struct column **columns;
    size_t n_columns, room;
    double *log_weight; /* [n] */
    size_t *ancestor;   /* [n] */
    struct past **pasts;
    size_t n_pasts;
};

/* How many values a rival has: 2 .. NUM_VALUES; 0 when the column is no rival. */
size_t rows_rival_values(const struct column *c);

/* cell[n]: the combination of rivals' values of each row; returns how many there can be. */
size_t rows_cells(const struct num_rows *rows, size_t *cell);

/* Effective rows of these log-weights within cells; *least (may be NULL) is the smallest share of
 * effective rows among cells that hold 0.1 % of the probability or more. scratch[3 * n_cells]. */
double rows_effective(const double *log_weight, const size_t *cell, size_t n, size_t n_cells,
                      double *scratch, double *least);

/* touched[n_columns] has the moved roots marked; marks what is derived from them. */
void rows_spread(const struct num_rows *rows, bool *touched);

/* Works out again every derived column that is touched. */
int rows_refresh(struct num_rows *rows, const bool *touched, struct error *err);

/* Calls the function of the group that begins at column `first` on this row, in place. */
void rows_call(const struct num_rows *rows, size_t first, double *row);
bool rows_callable(const struct num_rows *rows, size_t first);

/* Adds the record of evidence; takes nothing over, copies all. NULL when memory is gone. */
struct past *rows_past_add(struct num_rows *rows, const char *id, uint64_t key, const size_t *reads,
                           size_t n_reads, const struct num_gaussian *g);
struct past *rows_past_find(const struct num_rows *rows, const char *id);
void rows_past_free(struct past *past);
void rows_past_drop(struct num_rows *rows, struct past *past); /* takes it out and frees it */

/* ln N(y; H x, R) in this row; ctx is the struct past. */
double rows_gauss_log_like(const double *row, void *ctx);

#endif
