#include "num/rows.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/rows_inside.h"
#include "num/weighted.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CHUNK = 64,          /* rows a thread takes at a time: sets nothing but the pace */
    LEAST_CELL_ROWS = 32 /* combinations of rivals are kept apart while each has so many rows */
};

/* ---- making --------------------------------------------------------------------------------- */

int num_rows_new(struct num_rows **out, size_t n, uint64_t seed, struct error *err) {
    *out = NULL;
    if (n == 0) n = NUM_ROWS_N;
    if (n < 2 * NUM_VALUES || n > 1u << 22)
        return fail(err, ERR_RANGE, "Use 256 to 65,536 rows; 4096 is the usual number.",
                    "%zu rows asked for.", n);
    struct num_rows *rows = MEM_NEW(struct num_rows, 1);
    if (rows) {
        rows->n = n;
        rows->seed = seed;
        rows->log_weight = MEM_NEW(double, n);
        rows->ancestor = MEM_NEW(size_t, n);
    }
    if (!rows || !rows->log_weight || !rows->ancestor) {
        num_rows_free(rows);
        return fail_memory(err);
    }
    for (size_t i = 0; i < n; i++)
        rows->ancestor[i] = i;
    *out = rows;
    return 0;
}

static void column_free(struct column *c) {
    if (!c) return;
    mem_free(c->id);
    mem_free(c->value);
    mem_free(c->from);
    mem_free(c);
}

void num_rows_free(struct num_rows *rows) {
    if (!rows) return;
    for (size_t i = 0; i < rows->n_columns; i++)
        column_free(rows->columns[i]);
    for (size_t i = 0; i < rows->n_pasts; i++)
        rows_past_free(rows->pasts[i]);
    mem_free(rows->columns);
    mem_free(rows->pasts);
    mem_free(rows->log_weight);
    mem_free(rows->ancestor);
    mem_free(rows);
}

size_t num_rows_count(const struct num_rows *rows) {
    return rows->n;
}
size_t num_rows_columns(const struct num_rows *rows) {
    return rows->n_columns;
}
uint64_t num_rows_seed(const struct num_rows *rows) {
    return rows->seed;
}

/* ---- columns -------------------------------------------------------------------------------- */

size_t num_rows_find(const struct num_rows *rows, const char *id) {
    uint64_t hash = num_hash(id);
    for (size_t i = 0; i < rows->n_columns; i++)
        if (rows->columns[i]->hash == hash && strcmp(rows->columns[i]->id, id) == 0) return i;
    return NUM_NO_COLUMN;
}

const char *num_rows_id(const struct num_rows *rows, size_t col) {
    return rows->columns[col]->id;
}
const struct num_dist *num_rows_prior(const struct num_rows *rows, size_t col) {
    return rows->columns[col]->root ? &rows->columns[col]->prior : NULL;
}
bool num_rows_stale(const struct num_rows *rows, size_t col) {
    return rows->columns[col]->stale;
}
const size_t *num_rows_from(const struct num_rows *rows, size_t col, size_t *n) {
    *n = rows->columns[col]->n_from;
    return rows->columns[col]->from;
}
const double *num_rows_values(const struct num_rows *rows, size_t col) {
    return rows->columns[col]->value;
}
const double *num_rows_log_weights(const struct num_rows *rows) {
    return rows->log_weight;
}
const size_t *num_rows_ancestors(const struct num_rows *rows) {
    return rows->ancestor;
}

/* Room for `more` columns, so that adding them afterwards cannot fail half way. */
static int make_room(struct num_rows *rows, size_t more, struct error *err) {
    if (rows->n_columns + more <= rows->room) return 0;
    size_t room = 2 * (rows->n_columns + more);
    struct column **columns = mem_resize(rows->columns, room, sizeof *columns);
    if (!columns) return fail_memory(err);
    rows->columns = columns;
    rows->room = room;
    return 0;
}

static struct column *column_new(const struct num_rows *rows, const char *id, const size_t *from,
                                 size_t n_from) {
    struct column *c = MEM_NEW(struct column, 1);
    if (!c) return NULL;
    c->id = mem_strdup(id);
    c->hash = num_hash(id);
    c->value = MEM_NEW(double, rows->n);
    c->from = MEM_NEW(size_t, n_from);
    c->n_from = n_from;
    c->together = 1;
    if (!c->id || !c->value || !c->from) {
        column_free(c);
        return NULL;
    }
    if (n_from) memcpy(c->from, from, n_from * sizeof *from);
    return c;
}

size_t rows_rival_values(const struct column *c) {
    if (!c->root) return 0;
    if (c->prior.family == NUM_DISCRETE) return c->prior.n > 1 ? c->prior.n : 0;
    if (c->prior.family != NUM_INTEGER) return 0;
    double k = c->prior.high - c->prior.low + 1;
    return k > 1 && k <= NUM_VALUES ? (size_t)k : 0;
}

static double rival_value(const struct num_dist *d, size_t k) {
    return d->family == NUM_DISCRETE ? d->value[k] : d->low + (double)k;
}

/* Values of a root in the original order: stratum perm[i] of n, a random place inside it (one Latin
 * hypercube column; McKay, Beckman & Conover, Technometrics 21, 1979, 239-245). A rival takes each
 * of its values n/k times and log_factor[i] = ln(p k) corrects for that. */
static int fill_root(const struct num_rows *rows, const struct column *c, double *value,
                     double *log_factor, struct error *err) {
    size_t n = rows->n, k = rows_rival_values(c);
    size_t *perm = MEM_NEW(size_t, n);
    if (!perm) return fail_memory(err);
    struct num_random r;
    num_random_begin(&r, rows->seed, c->hash, 0);
    num_random_permutation(&r, perm, n);
    for (size_t i = 0; i < n; i++) {
        log_factor[i] = 0;
        if (k) {
            value[i] = rival_value(&c->prior, perm[i] * k / n);
            log_factor[i] = num_dist_log_density(&c->prior, value[i]) + log((double)k);
        } else
            value[i] = num_dist_quantile(&c->prior,
                                         ((double)perm[i] + num_random_uniform(&r)) / (double)n);
    }
    mem_free(perm);
    return 0;
}

int num_rows_prior_values(const struct num_rows *rows, size_t col, double *value,
                          struct error *err) {
    assert(rows->columns[col]->root);
    double *factor = MEM_NEW(double, rows->n);
    if (!factor) return fail_memory(err);
    int rc = fill_root(rows, rows->columns[col], value, factor, err);
    mem_free(factor);
    return rc;
}

static int exists_otherwise(const char *id, struct error *err) {
    error_place(err, NULL, 0, NULL, id);
    return fail(err, ERR_CONFLICT, "Give one of the two another name, or build the rows anew.",
                "\"%.60s\" is already in the ensemble, made in another way.", id);
}

int num_rows_root(struct num_rows *rows, const char *id, const struct num_dist *prior, size_t *col,
                  struct error *err) {
    *col = num_rows_find(rows, id);
    if (*col != NUM_NO_COLUMN) {
        const struct column *c = rows->columns[*col];
        return c->root && num_dist_equal(&c->prior, prior) ? 0 : exists_otherwise(id, err);
    }
    int rc = num_dist_check(prior, err);
    if (rc) {
        error_place(err, NULL, 0, NULL, id);
        return rc;
    }
    if ((rc = make_room(rows, 1, err))) return rc;
    struct column *c = column_new(rows, id, NULL, 0);
    double *value = MEM_NEW(double, rows->n), *factor = MEM_NEW(double, rows->n);
    rc = c && value && factor ? 0 : fail_memory(err);
    if (!rc) {
        c->root = true;
        c->prior = *prior;
        rc = fill_root(rows, c, value, factor, err);
    }
    if (rc)
        column_free(c);
    else {
        for (size_t i = 0; i < rows->n; i++) {
            c->value[i] = value[rows->ancestor[i]];
            rows->log_weight[i] += factor[rows->ancestor[i]];
        }
        *col = c->first = rows->n_columns;
        rows->columns[rows->n_columns++] = c;
    }
    mem_free(value);
    mem_free(factor);
    return rc;
}

bool rows_callable(const struct num_rows *rows, size_t first) {
    return rows->columns[first]->fn || rows->columns[first]->many;
}

void rows_call(const struct num_rows *rows, size_t first, double *row) {
    const struct column *c = rows->columns[first];
    if (c->many)
        c->many(row, row + first, c->ctx);
    else
        row[first] = c->fn(row, c->ctx);
}

struct fill {
    struct num_rows *rows;
    size_t first;
    double *scratch; /* [chunks][n_columns], NAN */
};

static void fill_chunk(size_t begin, size_t end, size_t index, void *context) {
    struct fill *f = context;
    struct num_rows *rows = f->rows;
    const struct column *c = rows->columns[f->first];
    double *row = f->scratch + index * rows->n_columns;
    for (size_t i = begin; i < end; i++) {
        for (size_t k = 0; k < c->n_from; k++)
            row[c->from[k]] = rows->columns[c->from[k]]->value[i];
        rows_call(rows, f->first, row);
        for (size_t k = 0; k < c->together; k++)
            rows->columns[f->first + k]->value[i] = row[f->first + k];
    }
}

static int fill_derived(struct num_rows *rows, size_t first, struct error *err) {
    size_t all = parallel_chunks(rows->n, CHUNK) * rows->n_columns;
    struct fill f = {rows, first, MEM_NEW(double, all)};
    if (!f.scratch) return fail_memory(err);
    for (size_t i = 0; i < all; i++)
        f.scratch[i] = NAN;
    parallel_for(rows->n, CHUNK, fill_chunk, &f);
    mem_free(f.scratch);
    for (size_t k = 0; k < rows->columns[first]->together; k++)
        rows->columns[first + k]->stale = false;
    return 0;
}

/* The group is there already, perhaps read from a file: joins the function to it. */
static int join_function(struct num_rows *rows, size_t first, size_t n_ids, const size_t *from,
                         size_t n_from, num_row_fn *fn, num_row_many_fn *many, void *ctx,
                         size_t *cols, struct error *err) {
    struct column *c = rows->columns[first];
    bool same = !c->root && c->first == first && c->together == n_ids && c->n_from == n_from &&
                (n_from == 0 || memcmp(c->from, from, n_from * sizeof *from) == 0);
    if (!same) return exists_otherwise(c->id, err);
    c->fn = fn;
    c->many = many;
    c->ctx = ctx;
    for (size_t k = 0; k < n_ids; k++)
        cols[k] = first + k;
    return c->stale ? fill_derived(rows, first, err) : 0;
}

static int derive(struct num_rows *rows, const char *const *ids, size_t n_ids, const size_t *from,
                  size_t n_from, num_row_fn *fn, num_row_many_fn *many, void *ctx, size_t *cols,
                  struct error *err) {
    size_t first = num_rows_find(rows, ids[0]);
    if (first != NUM_NO_COLUMN)
        return join_function(rows, first, n_ids, from, n_from, fn, many, ctx, cols, err);
    for (size_t k = 0; k < n_ids; k++)
        if (num_rows_find(rows, ids[k]) != NUM_NO_COLUMN) return exists_otherwise(ids[k], err);
    int rc = make_room(rows, n_ids, err);
    if (rc) return rc;
    first = rows->n_columns;
    for (size_t k = 0; k < n_ids; k++) {
        struct column *c = column_new(rows, ids[k], from, n_from);
        if (!c) {
            while (rows->n_columns > first)
                column_free(rows->columns[--rows->n_columns]);
            return fail_memory(err);
        }
        c->first = first;
        c->together = n_ids;
        c->fn = fn;
        c->many = many;
        c->ctx = ctx;
        cols[k] = rows->n_columns;
        rows->columns[rows->n_columns++] = c;
    }
    if (!fn && !many) return 0;
    rc = fill_derived(rows, first, err);
    while (rc && rows->n_columns > first)
        column_free(rows->columns[--rows->n_columns]);
    return rc;
}

int num_rows_derive(struct num_rows *rows, const char *id, const size_t *from, size_t n_from,
                    num_row_fn *fn, void *ctx, size_t *col, struct error *err) {
    return derive(rows, &id, 1, from, n_from, fn, NULL, ctx, col, err);
}

int num_rows_derive_many(struct num_rows *rows, const char *const *ids, size_t n_ids,
                         const size_t *from, size_t n_from, num_row_many_fn *fn, void *ctx,
                         size_t *cols, struct error *err) {
    return derive(rows, ids, n_ids, from, n_from, NULL, fn, ctx, cols, err);
}

int num_rows_put(struct num_rows *rows, const char *id, const size_t *from, size_t n_from,
                 const double *value, size_t *col, struct error *err) {
    int rc = derive(rows, &id, 1, from, n_from, NULL, NULL, NULL, col, err);
    if (rc) return rc;
    memcpy(rows->columns[*col]->value, value, rows->n * sizeof *value);
    rows->columns[*col]->stale = false;
    return 0;
}

void rows_spread(const struct num_rows *rows, bool *touched) {
    for (size_t c = 0; c < rows->n_columns; c++)
        for (size_t k = 0; k < rows->columns[c]->n_from; k++)
            if (touched[rows->columns[c]->from[k]]) touched[c] = true;
}

int rows_refresh(struct num_rows *rows, const bool *touched, struct error *err) {
    for (size_t c = 0; c < rows->n_columns; c++) {
        if (!touched[c] || rows->columns[c]->root) continue;
        if (!rows_callable(rows, rows->columns[c]->first))
            rows->columns[c]->stale = true;
        else if (rows->columns[c]->first == c) {
            int rc = fill_derived(rows, c, err);
            if (rc) return rc;
        }
    }
    return 0;
}

void num_rows_forget_functions(struct num_rows *rows) {
    for (size_t i = 0; i < rows->n_columns; i++) {
        rows->columns[i]->fn = NULL;
        rows->columns[i]->many = NULL;
        rows->columns[i]->ctx = NULL;
    }
    for (size_t i = 0; i < rows->n_pasts; i++)
        if (!rows->pasts[i]->gauss) {
            rows->pasts[i]->log_like = NULL;
            rows->pasts[i]->ctx = NULL;
        }
}

/* ---- reading -------------------------------------------------------------------------------- */

size_t rows_cells(const struct num_rows *rows, size_t *cell) {
    size_t cells = 1;
    for (size_t i = 0; i < rows->n; i++)
        cell[i] = 0;
    for (size_t c = 0; c < rows->n_columns; c++) {
        const struct column *col = rows->columns[c];
        size_t k = rows_rival_values(col);
        if (!k || cells * k * LEAST_CELL_ROWS > rows->n) continue;
        for (size_t i = 0; i < rows->n; i++) {
            size_t v = 0;
            while (v + 1 < k && rival_value(&col->prior, v) != col->value[i])
                v++;
            cell[i] = cell[i] * k + v;
        }
        cells *= k;
    }
    return cells;
}

double rows_effective(const double *log_weight, const size_t *cell, size_t n, size_t n_cells,
                      double *scratch, double *least) {
    double *sum = scratch, *squares = scratch + n_cells, *count = scratch + 2 * n_cells;
    double top = -INFINITY, total = 0, effective = 0;
    for (size_t i = 0; i < n; i++)
        top = fmax(top, log_weight[i]);
    for (size_t k = 0; k < 3 * n_cells; k++)
        scratch[k] = 0;
    if (least) *least = 1;
    if (isinf(top)) {
        if (least) *least = 0;
        return 0;
    }
    for (size_t i = 0; i < n; i++) {
        double w = exp(log_weight[i] - top);
        sum[cell[i]] += w;
        squares[cell[i]] += w * w;
        count[cell[i]]++;
        total += w;
    }
    for (size_t k = 0; k < n_cells; k++) {
        if (!(squares[k] > 0)) continue;
        double e = sum[k] * sum[k] / squares[k];
        effective += e;
        if (least && sum[k] >= 1e-3 * total) *least = fmin(*least, e / count[k]);
    }
    return effective;
}

double num_rows_effective(const struct num_rows *rows) {
    size_t *cell = MEM_NEW(size_t, rows->n);
    double *scratch = MEM_NEW(double, 3 * rows->n), e = NAN;
    if (cell && scratch) {
        size_t cells = rows_cells(rows, cell);
        e = rows_effective(rows->log_weight, cell, rows->n, cells, scratch, NULL);
    }
    mem_free(cell);
    mem_free(scratch);
    return e;
}

int num_rows_set_weights(struct num_rows *rows, const double *weight, struct error *err) {
    double sum = 0;
    for (size_t i = 0; i < rows->n; i++) {
        if (!(weight[i] >= 0) || !isfinite(weight[i]))
            return fail(err, ERR_RANGE, "Give numbers of 0 or more.", "Weight %zu is %g.", i + 1,
                        weight[i]);
        sum += weight[i];
    }
    if (!(sum > 0)) return fail(err, ERR_RANGE, "Give some above 0.", "All weights are 0.");
    for (size_t i = 0; i < rows->n; i++)
        rows->log_weight[i] = log(weight[i]);
    return 0;
}

void num_rows_weights(const struct num_rows *rows, double *weight) {
    double total = num_log_sum(rows->log_weight, rows->n);
    for (size_t i = 0; i < rows->n; i++)
        weight[i] = exp(rows->log_weight[i] - total);
}

double num_rows_effective_overall(const struct num_rows *rows) {
    double *w = MEM_NEW(double, rows->n), e = NAN;
    if (w) {
        num_rows_weights(rows, w);
        e = num_effective(w, rows->n);
    }
    mem_free(w);
    return e;
}

int num_rows_quantiles(const struct num_rows *rows, size_t col, const double *p, size_t n,
                       double *q) {
    double *w = MEM_NEW(double, rows->n);
    int rc = w ? 0 : ERR_MEMORY;
    for (size_t i = 0; i < n; i++)
        q[i] = NAN;
    if (!rc) {
        num_rows_weights(rows, w);
        rc = num_quantiles(rows->columns[col]->value, w, rows->n, p, n, q, NULL);
    }
    mem_free(w);
    return rc;
}

double num_rows_quantile(const struct num_rows *rows, size_t col, double p) {
    double q = NAN;
    num_rows_quantiles(rows, col, &p, 1, &q);
    return q;
}

int num_rows_quantiles_given(const struct num_rows *rows, size_t col, size_t rival, double value,
                             const double *p, size_t n, double *q) {
    double *w = MEM_NEW(double, rows->n);
    int rc = w ? 0 : ERR_MEMORY;
    for (size_t i = 0; i < n; i++)
        q[i] = NAN;
    if (!rc) {
        /* From the log-weights: a rival all but refuted still has its own quantiles. */
        double top = -INFINITY;
        for (size_t i = 0; i < rows->n; i++)
            if (rows->columns[rival]->value[i] == value) top = fmax(top, rows->log_weight[i]);
        for (size_t i = 0; i < rows->n; i++)
            w[i] = rows->columns[rival]->value[i] == value && isfinite(top)
                       ? exp(rows->log_weight[i] - top)
                       : 0;
        rc = num_quantiles(rows->columns[col]->value, w, rows->n, p, n, q, NULL);
    }
    mem_free(w);
    return rc;
}

/* One statistic of a column under the normalised weights; NAN when memory is gone. */
static double with_weights(const struct num_rows *rows, size_t col,
                           double (*statistic)(const double *, const double *, size_t, double),
                           double argument) {
    double *w = MEM_NEW(double, rows->n), answer = NAN;
    if (w) {
        num_rows_weights(rows, w);
        answer = statistic(rows->columns[col]->value, w, rows->n, argument);
    }
    mem_free(w);
    return answer;
}

static double stat_mean(const double *v, const double *w, size_t n, double unused) {
    (void)unused;
    return num_mean(v, w, n);
}
static double stat_sd(const double *v, const double *w, size_t n, double unused) {
    (void)unused;
    return num_sd(v, w, n);
}
static double stat_above(const double *v, const double *w, size_t n, double limit) {
    double above = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i])) continue;
        all += w[i];
        if (v[i] > limit) above += w[i];
    }
    return all > 0 ? above / all : NAN;
}
static double stat_equal(const double *v, const double *w, size_t n, double value) {
    double equal = 0, all = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i])) continue;
        all += w[i];
        if (v[i] == value) equal += w[i];
    }
    return all > 0 ? equal / all : NAN;
}
static double stat_mean_error(const double *v, const double *w, size_t n, double unused) {
    (void)unused;
    return num_sd(v, w, n) / sqrt(num_effective(w, n));
}
/* sqrt(p(1-p)/n_eff) carried to the value by the quantiles one such step to either side
 * (Woodruff, JASA 47, 1952, 635-646). */
static double stat_quantile_error(const double *v, const double *w, size_t n, double p) {
    double s = sqrt(p * (1 - p) / num_effective(w, n)), q[2];
    double at[2] = {fmax(p - s, 0), fmin(p + s, 1)};
    return num_quantiles(v, w, n, at, 2, q, NULL) ? NAN : (q[1] - q[0]) / 2;
}

double num_rows_mean(const struct num_rows *rows, size_t col) {
    return with_weights(rows, col, stat_mean, 0);
}
double num_rows_sd(const struct num_rows *rows, size_t col) {
    return with_weights(rows, col, stat_sd, 0);
}
double num_rows_mean_error(const struct num_rows *rows, size_t col) {
    return with_weights(rows, col, stat_mean_error, 0);
}
double num_rows_quantile_error(const struct num_rows *rows, size_t col, double p) {
    return with_weights(rows, col, stat_quantile_error, p);
}
double num_rows_above(const struct num_rows *rows, size_t col, double limit) {
    return with_weights(rows, col, stat_above, limit);
}
double num_rows_equal(const struct num_rows *rows, size_t col, double value) {
    return with_weights(rows, col, stat_equal, value);
}

int num_rows_null_ratio(const struct num_rows *rows, size_t root, double null_value, double *ratio,
                        double *error, struct error *err) {
    const struct column *c = rows->columns[root];
    if (!c->root || num_dist_is_discrete(&c->prior))
        return fail(err, ERR_RANGE, "Choose a continuous root; for rivals compare probabilities.",
                    "\"%.60s\" has no density.", c->id);
    double z0 = num_dist_score(&c->prior, null_value), density = 0, squares = 0;
    if (!isfinite(z0))
        return fail(err, ERR_RANGE, "Choose a value inside the prior.", "\"%.60s\" cannot be %g.",
                    c->id, null_value);
    double *w = MEM_NEW(double, rows->n), *z = MEM_NEW(double, rows->n);
    int rc = w && z ? 0 : fail_memory(err);
    if (!rc) {
        num_rows_weights(rows, w);
        for (size_t i = 0; i < rows->n; i++)
            z[i] = num_dist_score(&c->prior, c->value[i]);
        double n = num_effective(w, rows->n), width = 0.9 * num_sd(z, w, rows->n) * pow(n, -0.2);
        for (size_t i = 0; i < rows->n; i++) {
            double t = (z[i] - z0) / width, k = exp(-0.5 * t * t) / (width * sqrt(2 * M_PI));
            density += w[i] * k;
            squares += w[i] * k * k;
        }
        double before = exp(-0.5 * z0 * z0) / sqrt(2 * M_PI);
        *ratio = density / before;
        *error = sqrt(fmax(0, squares - density * density) / n) / before;
    }
    mem_free(w);
    mem_free(z);
    return rc;
}

/* ---- copying -------------------------------------------------------------------------------- */

static struct column *column_copy(const struct num_rows *rows, const struct column *c) {
    struct column *d = column_new(rows, c->id, c->from, c->n_from);
    if (!d) return NULL;
    memcpy(d->value, c->value, rows->n * sizeof *c->value);
    d->root = c->root;
    d->prior = c->prior;
    d->first = c->first;
    d->together = c->together;
    d->fn = c->fn;
    d->many = c->many;
    d->ctx = c->ctx;
    d->stale = c->stale;
    return d;
}

static struct past *past_copy(struct num_rows *to, const struct past *p) {
    struct num_gaussian g = {0};
    if (p->gauss)
        g = (struct num_gaussian){.n_y = p->gauss->n_y,
                                  .n_x = p->gauss->n_x,
                                  .roots = p->gauss->roots,
                                  .h = p->gauss->h,
                                  .y = p->gauss->y,
                                  .r = p->gauss->r};
    struct past *q = rows_past_add(to, p->id, p->key, p->reads, p->n_reads, p->gauss ? &g : NULL);
    if (!q) return NULL;
    q->used = p->used;
    q->report = p->report;
    q->report.id = q->id;
    if (!p->gauss) {
        q->log_like = p->log_like;
        q->ctx = p->ctx;
    }
    return q;
}

int num_rows_copy(struct num_rows **out, const struct num_rows *rows, struct error *err) {
    int rc = num_rows_new(out, rows->n, rows->seed, err);
    if (!rc) rc = make_room(*out, rows->n_columns, err);
    for (size_t i = 0; !rc && i < rows->n_columns; i++) {
        struct column *c = column_copy(rows, rows->columns[i]);
        if (c)
            (*out)->columns[(*out)->n_columns++] = c;
        else
            rc = fail_memory(err);
    }
    for (size_t i = 0; !rc && i < rows->n_pasts; i++)
        if (!past_copy(*out, rows->pasts[i])) rc = fail_memory(err);
    if (rc) {
        num_rows_free(*out);
        *out = NULL;
        return rc;
    }
    memcpy((*out)->log_weight, rows->log_weight, rows->n * sizeof *rows->log_weight);
    memcpy((*out)->ancestor, rows->ancestor, rows->n * sizeof *rows->ancestor);
    return 0;
}
