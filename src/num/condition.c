/* condition: how evidence enters a table of rows (DESIGN.md, "The ensemble, exactly").
 *
 * Nothing in the table changes before everything has succeeded: the sampler works on `map` (which
 * present row each working row copies) and on the scores z of the moved roots.
 */
#include "base/mem.h"
#include "base/parallel.h"
#include "num/rows.h"
#include "num/rows_inside.h"
#include "num/weighted.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdatomic.h>
#include <string.h>

enum {
    CHUNK = 32,
    SWEEPS = 8, /* moves a stage, and more at the end: reference/inference.md, section 3 */
    LAST_SWEEPS = 16,
    MOST_STAGES = 300,
    LEAST_DONORS = 8 /* fewer rows of one's own combination of rivals: take donors from all */
};
static const double HEALTHY = 0.3;      /* share of rows effective: re-weighting is enough */
static const double CELL_HEALTHY = 0.1; /* the same for any one combination of rivals */
static const double STEP_SHARE = 0.6;   /* effective share a tempering step leaves */
static const double ACCEPT = 0.25;      /* wanted share of moves accepted */
static const double LEVEL = 0.01;       /* of the check, before it is divided */

/* ---- records of evidence -------------------------------------------------------------------- */

void rows_past_free(struct past *p) {
    if (!p) return;
    if (p->gauss) {
        mem_free(p->gauss->roots);
        mem_free(p->gauss->h);
        mem_free(p->gauss->y);
        mem_free(p->gauss->r);
        mem_free(p->gauss->precision);
        mem_free(p->gauss);
    }
    mem_free(p->id);
    mem_free(p->reads);
    mem_free(p);
}

void rows_past_drop(struct num_rows *rows, struct past *past) {
    size_t i = 0;
    while (i < rows->n_pasts && rows->pasts[i] != past)
        i++;
    if (i == rows->n_pasts) return;
    memmove(rows->pasts + i, rows->pasts + i + 1, (rows->n_pasts - i - 1) * sizeof *rows->pasts);
    rows->n_pasts--;
    rows_past_free(past);
}

struct past *rows_past_find(const struct num_rows *rows, const char *id) {
    for (size_t i = 0; i < rows->n_pasts; i++)
        if (strcmp(rows->pasts[i]->id, id) == 0) return rows->pasts[i];
    return NULL;
}

const struct num_report *num_rows_report(const struct num_rows *rows, size_t i) {
    return i < rows->n_pasts ? &rows->pasts[i]->report : NULL;
}

/* ---- evaluating a row ----------------------------------------------------------------------- */

struct sampler {
    struct num_rows *rows;
    const struct num_evidence *e;
    size_t n, d;          /* rows, moved roots */
    bool *touched, *need; /* [columns] */
    size_t n_pasts;       /* evidence that was there before this one */
    bool *past_touched;   /* [n_pasts]: used, and resting on a moved root */
    size_t *load;         /* columns to copy into a scratch row, [n_load] */
    size_t n_load;
    size_t *groups; /* first columns of derived groups to work out again, in order */
    size_t n_groups;
    double *scratch; /* [chunks][columns] */
    size_t *map;     /* [n] */
    size_t *cell;    /* [n] */
    size_t n_cells;
    double *z; /* [n][d] scores of the moved roots */
    double *like,
        *before;   /* [n] ln likelihood of this evidence, of earlier evidence on the moved */
    double *lw;    /* [n] log-weights of the working rows */
    double *share; /* [n][n_predict] */
    double beta;   /* how much of the evidence is in force */
    double scale_de, scale_gauss;
    /* of the sweep at hand */
    size_t half, sweep, stage;
    bool gaussian_step;
    size_t *donor, *donor_begin; /* rows of the other half sorted by cell; [n], [n_cells + 1] */
    double *chol;                /* [n_cells + 1][d][d] factors of covariances; the last of all */
    bool *chol_own;              /* [n_cells]: the cell has a factor of its own */
    atomic_size_t accepted, tried;
    double *proposal; /* [chunks][d] */
    double *old;      /* [n][d] scores before the moves of a stage */
    double *old_like; /* [n] */
    double memory;    /* what they left of the order of rows, 0 .. 0.95 */
    uint64_t stream;
};

static void load_row(const struct sampler *s, size_t i, double *row) {
    for (size_t k = 0; k < s->n_load; k++)
        row[s->load[k]] = s->rows->columns[s->load[k]]->value[s->map[i]];
}

/* Puts scores z into the row and works out what follows. */
static void set_row(const struct sampler *s, const double *z, double *row) {
    for (size_t k = 0; k < s->d; k++)
        row[s->e->moves[k]] = num_dist_from_score(&s->rows->columns[s->e->moves[k]]->prior, z[k]);
    for (size_t g = 0; g < s->n_groups; g++)
        rows_call(s->rows, s->groups[g], row);
}

static double clean(double log_like) {
    return isnan(log_like) ? -INFINITY : log_like; /* an impossible row, not a possible one */
}

static double past_like(const struct sampler *s, const double *row) {
    double sum = 0;
    for (size_t p = 0; p < s->n_pasts; p++)
        if (s->past_touched[p])
            sum += clean(s->rows->pasts[p]->log_like(row, s->rows->pasts[p]->ctx));
    return sum;
}

static void first_look(size_t begin, size_t end, size_t index, void *context) {
    struct sampler *s = context;
    double *row = s->scratch + index * s->rows->n_columns;
    for (size_t i = begin; i < end; i++) {
        load_row(s, i, row);
        s->like[i] = clean(s->e->log_like(row, s->e->ctx));
        if (s->e->predict) s->e->predict(row, s->share + i * s->e->n_predict, s->e->ctx);
        if (s->d) s->before[i] = past_like(s, row);
    }
}

/* ---- preparing ------------------------------------------------------------------------------ */

static int check_moves(const struct num_rows *rows, const struct num_evidence *e,
                       struct error *err) {
    for (size_t k = 0; k < e->n_moves; k++) {
        const struct column *c = rows->columns[e->moves[k]];
        if (c->root && !rows_rival_values(c) && c->prior.family != NUM_FIXED) continue;
        error_place(err, NULL, 0, NULL, c->id);
        return fail(err, ERR_REFUSED,
                    "Name only roots of continuous values, or of more than 8 whole numbers.",
                    "\"%.60s\" cannot be moved by evidence \"%.60s\": it is %s.", c->id, e->id,
                    c->root ? "a rival or fixed" : "derived");
    }
    return 0;
}

/* Marks a column and all it rests on. Columns rest on earlier ones only. */
static void need_all(struct sampler *s, const size_t *cols, size_t n) {
    for (size_t k = 0; k < n; k++)
        s->need[cols[k]] = true;
}

static void close_needs(struct sampler *s) {
    const struct num_rows *rows = s->rows;
    for (size_t c = rows->n_columns; c-- > 0;) {
        if (!s->need[c] || !s->touched[c] || rows->columns[c]->root) continue;
        /* An untouched derived column is loaded as it is. */
        s->need[rows->columns[c]->first] = true;
        for (size_t k = 0; k < rows->columns[c]->n_from; k++)
            s->need[rows->columns[c]->from[k]] = true;
    }
}

static int find_needs(struct sampler *s, struct error *err) {
    struct num_rows *rows = s->rows;
    for (size_t k = 0; k < s->d; k++)
        s->touched[s->e->moves[k]] = true;
    rows_spread(rows, s->touched);
    need_all(s, s->e->reads, s->e->n_reads);
    for (size_t p = 0; p < rows->n_pasts; p++) {
        struct past *past = rows->pasts[p];
        for (size_t k = 0; past->used && k < past->n_reads; k++)
            if (s->touched[past->reads[k]]) s->past_touched[p] = true;
        if (!s->past_touched[p]) continue;
        if (!past->log_like)
            return fail(err, ERR_REFUSED,
                        "Enter the earlier evidence again first, or build the "
                        "rows anew.",
                        "Evidence \"%.60s\" would move what rests on \"%.60s\", whose likelihood "
                        "is not at hand.",
                        s->e->id, past->id);
        need_all(s, past->reads, past->n_reads);
    }
    close_needs(s);
    for (size_t c = 0; c < rows->n_columns; c++) {
        const struct column *col = rows->columns[c];
        if (!s->need[c]) continue;
        if (col->root || !s->touched[c]) {
            s->load[s->n_load++] = c;
        } else if (!rows_callable(rows, col->first)) {
            error_place(err, NULL, 0, NULL, col->id);
            return fail(err, ERR_REFUSED,
                        "Give the evidence other roots to move, or columns that "
                        "can be worked out row by row.",
                        "\"%.60s\" rests on moved roots and cannot be worked out again for "
                        "evidence \"%.60s\".",
                        col->id, s->e->id);
        } else {
            s->load[s->n_load++] = c; /* its present value, for the first look */
            if (s->n_groups == 0 || s->groups[s->n_groups - 1] != col->first)
                s->groups[s->n_groups++] = col->first;
        }
    }
    for (size_t k = 0; k < s->d; k++)
        if (!s->need[s->e->moves[k]]) s->load[s->n_load++] = s->e->moves[k];
    return 0;
}

static void sampler_free(struct sampler *s) {
    void *all[] = {s->touched, s->need,     s->past_touched, s->load,  s->groups,
                   s->scratch, s->map,      s->cell,         s->z,     s->like,
                   s->before,  s->lw,       s->share,        s->donor, s->donor_begin,
                   s->chol,    s->chol_own, s->proposal,     s->old,   s->old_like};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        mem_free(all[i]);
}

static int sampler_new(struct sampler *s, struct num_rows *rows, const struct num_evidence *e,
                       struct error *err) {
    size_t n = rows->n, cols = rows->n_columns, chunks = parallel_chunks(n, CHUNK);
    memset(s, 0, sizeof *s);
    s->rows = rows;
    s->e = e;
    s->n = n;
    s->d = e->n_moves;
    s->stream = num_hash_join(num_hash(e->id), num_hash("condition"));
    s->touched = MEM_NEW(bool, cols);
    s->need = MEM_NEW(bool, cols);
    s->n_pasts = rows->n_pasts;
    s->past_touched = MEM_NEW(bool, rows->n_pasts);
    s->load = MEM_NEW(size_t, cols + e->n_moves);
    s->groups = MEM_NEW(size_t, cols);
    s->scratch = MEM_NEW(double, chunks *cols);
    s->map = MEM_NEW(size_t, n);
    s->cell = MEM_NEW(size_t, n);
    s->z = MEM_NEW(double, n * e->n_moves);
    s->like = MEM_NEW(double, n);
    s->before = MEM_NEW(double, n);
    s->lw = MEM_NEW(double, n);
    s->share = MEM_NEW(double, e->predict ? n * e->n_predict : 1);
    s->proposal = MEM_NEW(double, chunks * e->n_moves);
    if (!s->touched || !s->need || !s->past_touched || !s->load || !s->groups || !s->scratch ||
        !s->map || !s->cell || !s->z || !s->like || !s->before || !s->lw || !s->share ||
        !s->proposal)
        return fail_memory(err);
    for (size_t i = 0; i < chunks * cols; i++)
        s->scratch[i] = NAN;
    for (size_t i = 0; i < n; i++)
        s->map[i] = i;
    memcpy(s->lw, rows->log_weight, n * sizeof *s->lw);
    s->n_cells = rows_cells(rows, s->cell);
    return find_needs(s, err);
}

/* Tables of the mover, made only when something is to be moved. */
static int mover_new(struct sampler *s, struct error *err) {
    s->donor = MEM_NEW(size_t, s->n);
    s->donor_begin = MEM_NEW(size_t, s->n_cells + 1);
    s->chol = MEM_NEW(double, (s->n_cells + 1) * s->d * s->d);
    s->chol_own = MEM_NEW(bool, s->n_cells);
    s->old = MEM_NEW(double, s->n * s->d);
    s->old_like = MEM_NEW(double, s->n);
    if (!s->old_like || !s->old || !s->donor || !s->donor_begin || !s->chol || !s->chol_own)
        return fail_memory(err);
    for (size_t k = 0; k < s->d; k++) {
        const struct column *c = s->rows->columns[s->e->moves[k]];
        for (size_t i = 0; i < s->n; i++) {
            double x = c->value[i];
            if (c->prior.family == NUM_INTEGER) {
                /* Any place within the step of F that belongs to this whole number: the number
                 * alone matters, the place is refreshed with each move. */
                struct num_random r;
                num_random_begin(&r, s->rows->seed, num_hash_join(s->stream, c->hash), i);
                double lo = num_dist_cdf(&c->prior, x - 1), hi = num_dist_cdf(&c->prior, x);
                s->z[i * s->d + k] =
                    gsl_cdf_ugaussian_Pinv(lo + (hi - lo) * num_random_uniform(&r));
            } else
                s->z[i * s->d + k] = num_dist_score(&c->prior, x);
        }
    }
    s->scale_de = s->scale_gauss = 1;
    return 0;
}

/* ---- moving --------------------------------------------------------------------------------- */

/* Lists the rows of the half that stays, sorted by cell. */
static void list_donors(struct sampler *s) {
    size_t used = 0;
    for (size_t c = 0; c < s->n_cells; c++) {
        s->donor_begin[c] = used;
        for (size_t i = 1 - s->half; i < s->n; i += 2)
            if (s->cell[i] == c) s->donor[used++] = i;
    }
    s->donor_begin[s->n_cells] = used;
}

/* Cholesky factor of the covariance of z among donors[n]; a little of the variances is added to
 * the diagonal so that copies of one row still get a factor. False when there are too few. */
static bool factor_of(const struct sampler *s, const size_t *donors, size_t n, double *l) {
    size_t d = s->d;
    if (n < 4 * d + 8) return false;
    for (size_t a = 0; a < d; a++)
        for (size_t b = 0; b <= a; b++) {
            double ma = 0, mb = 0, sum = 0;
            for (size_t i = 0; i < n; i++) {
                ma += s->z[donors[i] * d + a];
                mb += s->z[donors[i] * d + b];
            }
            ma /= (double)n;
            mb /= (double)n;
            for (size_t i = 0; i < n; i++)
                sum += (s->z[donors[i] * d + a] - ma) * (s->z[donors[i] * d + b] - mb);
            l[a * d + b] = sum / (double)n;
            if (a == b) l[a * d + b] = l[a * d + b] * (1 + 1e-6) + 1e-12;
        }
    for (size_t a = 0; a < d; a++)
        for (size_t b = 0; b <= a; b++) {
            double sum = l[a * d + b];
            for (size_t k = 0; k < b; k++)
                sum -= l[a * d + k] * l[b * d + k];
            if (a == b) {
                if (!(sum > 0)) return false;
                l[a * d + a] = sqrt(sum);
            } else
                l[a * d + b] = sum / l[b * d + b];
        }
    return true;
}

static void factor_cells(struct sampler *s) {
    size_t dd = s->d * s->d;
    double *whole = s->chol + s->n_cells * dd;
    if (!factor_of(s, s->donor, s->donor_begin[s->n_cells], whole))
        for (size_t a = 0; a < s->d; a++)
            for (size_t b = 0; b <= a; b++)
                whole[a * s->d + b] = a == b ? 0.1 : 0;
    for (size_t c = 0; c < s->n_cells; c++)
        s->chol_own[c] = factor_of(s, s->donor + s->donor_begin[c],
                                   s->donor_begin[c + 1] - s->donor_begin[c], s->chol + c * dd);
}

/* Differential evolution (ter Braak, Statistics and Computing 16, 2006, 239-249) with the subset
 * of coordinates of Vrugt et al. 2009 (DREAM); donors come from the half that stays, so the target
 * is left exactly as it is. */
static void propose_de(const struct sampler *s, size_t i, struct num_random *r, double *to) {
    size_t c = s->cell[i], begin = s->donor_begin[c], count = s->donor_begin[c + 1] - begin;
    if (count < LEAST_DONORS) {
        begin = 0;
        count = s->donor_begin[s->n_cells];
    }
    size_t a = s->donor[begin + num_random_below(r, count)];
    size_t b = s->donor[begin + num_random_below(r, count)];
    double share = s->d > 4 ? (double)(1 + num_random_below(r, 3)) / 3 : 1;
    size_t chosen = 0, sure = (size_t)num_random_below(r, s->d);
    bool whole_step = num_random_uniform(r) < 0.1; /* hops between modes */
    for (size_t k = 0; k < s->d; k++) {            /* first pass marks with NAN */
        bool in = k == sure || num_random_uniform(r) < share;
        to[k] = in ? NAN : s->z[i * s->d + k];
        chosen += in;
    }
    double gamma = whole_step ? 1 : s->scale_de * 2.38 / sqrt(2.0 * (double)chosen);
    for (size_t k = 0; k < s->d; k++)
        if (isnan(to[k]))
            to[k] = s->z[i * s->d + k] + gamma * (s->z[a * s->d + k] - s->z[b * s->d + k]) +
                    1e-4 * num_random_normal(r);
}

static void propose_gauss(const struct sampler *s, size_t i, struct num_random *r, double *to) {
    size_t d = s->d, c = s->chol_own[s->cell[i]] ? s->cell[i] : s->n_cells;
    const double *l = s->chol + c * d * d;
    double step = s->scale_gauss * 2.38 / sqrt((double)d);
    for (size_t k = 0; k < d; k++)
        to[k] = s->z[i * d + k];
    for (size_t b = 0; b < d; b++) {
        double xi = step * num_random_normal(r);
        for (size_t a = b; a < d; a++)
            to[a] += l[a * d + b] * xi;
    }
}

static void move_chunk(size_t begin, size_t end, size_t index, void *context) {
    struct sampler *s = context;
    size_t d = s->d, accepted = 0;
    double *row = s->scratch + index * s->rows->n_columns, *to = s->proposal + index * d;
    for (size_t j = begin; j < end; j++) {
        size_t i = 2 * j + s->half;
        if (i >= s->n) continue;
        struct num_random r;
        num_random_begin(&r, s->rows->seed,
                         num_hash_join(s->stream, s->stage << 16 | s->sweep << 1 | s->half), i);
        if (s->gaussian_step)
            propose_gauss(s, i, &r, to);
        else
            propose_de(s, i, &r, to);
        double prior = 0, u = num_random_uniform(&r);
        for (size_t k = 0; k < d; k++)
            prior += 0.5 * (s->z[i * d + k] * s->z[i * d + k] - to[k] * to[k]);
        load_row(s, i, row);
        set_row(s, to, row);
        double before = past_like(s, row);
        if (!(prior + before - s->before[i] > log(u) - 1e3)) continue;
        double like = clean(s->e->log_like(row, s->e->ctx));
        /* 0 * -infinity: a row may wander where the evidence is impossible only while it has no
         * force. */
        double tempered = s->beta > 0 ? s->beta * (like - s->like[i]) : 0;
        if (s->beta > 0 && isinf(s->like[i]) && isinf(like)) continue;
        if (!(log(u) < prior + before - s->before[i] + tempered)) continue;
        memcpy(s->z + i * d, to, d * sizeof *to);
        s->like[i] = like;
        s->before[i] = before;
        accepted++;
    }
    atomic_fetch_add(&s->accepted, accepted);
}

static double correlation(const double *x, const double *y, size_t n, size_t stride) {
    double a = 0, b = 0, aa = 0, bb = 0, ab = 0;
    for (size_t i = 0; i < n; i++) {
        double u = x[i * stride], v = y[i * stride];
        a += u, b += v, aa += u * u, bb += v * v, ab += u * v;
    }
    double m = (double)n;
    return (ab - a * b / m) / sqrt((aa - a * a / m) * (bb - b * b / m));
}

/* Largest correlation of where rows were and where they are, over the moved roots and the
 * likelihood: how much the moves left standing. */
static double memory(const struct sampler *s) {
    double worst = correlation(s->old_like, s->like, s->n, 1);
    if (!(worst > 0)) worst = 0; /* also where a likelihood is -infinity */
    for (size_t k = 0; k < s->d; k++) {
        double r = correlation(s->old + k, s->z + k, s->n, s->d);
        if (r > worst) worst = r;
    }
    return fmin(worst, 0.95); /* rows in separate valleys stay there; beyond it says no more */
}

/* Sweeps over all rows, halves in turn. Returns the share accepted. */
static double move(struct sampler *s, size_t sweeps) {
    double share = NAN;
    memcpy(s->old, s->z, s->n * s->d * sizeof *s->z);
    memcpy(s->old_like, s->like, s->n * sizeof *s->like);
    for (s->sweep = 0; s->sweep < sweeps; s->sweep++) {
        s->gaussian_step = s->sweep % 2;
        atomic_store(&s->accepted, 0);
        for (s->half = 0; s->half < 2; s->half++) {
            list_donors(s);
            if (s->gaussian_step) factor_cells(s);
            parallel_for((s->n + 1) / 2, CHUNK, move_chunk, s);
        }
        share = (double)atomic_load(&s->accepted) / (double)s->n;
        double *scale = s->gaussian_step ? &s->scale_gauss : &s->scale_de;
        *scale *= exp(share - ACCEPT);
        *scale = fmin(fmax(*scale, 0.02), 3);
    }
    s->memory = memory(s);
    return share;
}

/* ---- resampling ----------------------------------------------------------------------------- */

/* Systematic resampling within each cell (Kitagawa 1996; Douc, Cappe & Moulines 2005): copies[i]
 * is how often row i stays. The cell's probability goes evenly on its rows. */
static int resample(struct sampler *s, struct error *err) {
    size_t n = s->n, d = s->d;
    size_t *copies = MEM_NEW(size_t, n), *from = MEM_NEW(size_t, n), *map = MEM_NEW(size_t, n);
    double *z = MEM_NEW(double, n *d), *like = MEM_NEW(double, 2 * n), *lw = MEM_NEW(double, n);
    int rc = copies && from && map && z && like && lw ? 0 : fail_memory(err);
    for (size_t c = 0; !rc && c < s->n_cells; c++) {
        double top = -INFINITY, sum = 0, below = 0;
        size_t count = 0, given = 0;
        for (size_t i = 0; i < n; i++)
            if (s->cell[i] == c) {
                top = fmax(top, s->lw[i]);
                count++;
            }
        for (size_t i = 0; i < n && isfinite(top); i++)
            if (s->cell[i] == c) sum += exp(s->lw[i] - top);
        struct num_random r;
        num_random_begin(&r, s->rows->seed, num_hash_join(s->stream, num_hash("resample")),
                         (uint64_t)s->stage * (s->n_cells + 1) + c);
        double u = num_random_uniform(&r);
        for (size_t i = 0; i < n; i++) {
            if (s->cell[i] != c) continue;
            if (isinf(top)) { /* a combination refuted outright keeps its rows, without weight */
                copies[i] = 1;
                lw[i] = -INFINITY;
                continue;
            }
            below += exp(s->lw[i] - top) / sum * (double)count;
            size_t until = below > u ? (size_t)floor(below - u) + 1 : 0;
            if (until > count) until = count;
            copies[i] = until - given;
            given = until;
            lw[i] = top + log(sum / (double)count);
        }
        /* Rounding may leave the last copy over: it belongs to the heaviest row. */
        for (size_t i = 0; i < n && given < count && isfinite(top); i++)
            if (s->cell[i] == c && s->lw[i] == top) {
                copies[i] += count - given;
                given = count;
            }
    }
    /* Rows that stay keep their place; further copies go to places that fell free. */
    size_t source = 0;
    for (size_t c = 0; !rc && c < s->n_cells; c++) {
        source = 0;
        size_t spare = 0;
        for (size_t i = 0; i < n; i++) {
            if (s->cell[i] != c) continue;
            if (copies[i]) {
                from[i] = i;
                continue;
            }
            while (spare == 0) {
                while (s->cell[source] != c || copies[source] < 2)
                    source++;
                spare = copies[source++] - 1;
            }
            from[i] = source - 1;
            spare--;
        }
    }
    for (size_t i = 0; !rc && i < n; i++) {
        map[i] = s->map[from[i]];
        memcpy(z + i * d, s->z + from[i] * d, d * sizeof *z);
        like[i] = s->like[from[i]];
        like[n + i] = s->before[from[i]];
    }
    if (!rc) {
        memcpy(s->map, map, n * sizeof *map);
        memcpy(s->z, z, n * d * sizeof *z);
        memcpy(s->like, like, n * sizeof *like);
        memcpy(s->before, like + n, n * sizeof *like);
        memcpy(s->lw, lw, n * sizeof *lw);
    }
    mem_free(copies);
    mem_free(from);
    mem_free(map);
    mem_free(z);
    mem_free(like);
    mem_free(lw);
    return rc;
}

/* ---- tempering ------------------------------------------------------------------------------ */

static void add_step(const struct sampler *s, double step, double *lw) {
    for (size_t i = 0; i < s->n; i++)
        lw[i] =
            isinf(s->like[i]) ? (step > 0 ? -INFINITY : s->lw[i]) : s->lw[i] + step * s->like[i];
}

/* ln of the mean likelihood^step under the present weights, and its Monte Carlo variance by the
 * delta method. */
static double step_evidence(const struct sampler *s, double step, double *lw, double *variance) {
    add_step(s, step, lw);
    double l0 = num_log_sum(s->lw, s->n), l1 = num_log_sum(lw, s->n), v = 0;
    for (size_t i = 0; i < s->n; i++) {
        double w0 = exp(s->lw[i] - l0), w1 = exp(lw[i] - l1);
        v += (w1 - w0) * (w1 - w0);
    }
    *variance += v;
    return l1 - l0;
}

static double effective_after(const struct sampler *s, double step, double *lw, double *scratch,
                              double *least) {
    add_step(s, step, lw);
    return rows_effective(lw, s->cell, s->n, s->n_cells, scratch, least);
}

/* Relative variance of the evidence from how few original rows the working rows go back to (Lee &
 * Whiteley, Biometrika 105, 2018, 609-625, eq 5): what the moves did not mix counts too, which the
 * sum over stages leaves out. */
static double genealogy_variance(const struct sampler *s, double *share) {
    double total = num_log_sum(s->lw, s->n), sum = 0;
    memset(share, 0, s->n * sizeof *share);
    for (size_t i = 0; i < s->n; i++)
        share[s->map[i]] += exp(s->lw[i] - total);
    for (size_t i = 0; i < s->n; i++)
        sum += share[i] * share[i];
    return sum - (double)(s->stage + 1) / (double)s->n;
}

static int temper(struct sampler *s, struct num_report *report, double *lw, double *scratch,
                  struct error *err) {
    size_t sweeps = s->e->sweeps ? s->e->sweeps : SWEEPS;
    double variance = 0;
    int rc = mover_new(s, err);
    if (!rc && rows_effective(s->lw, s->cell, s->n, s->n_cells, scratch, NULL) <
                   STEP_SHARE * (double)s->n) {
        rc = resample(s, err);
        if (!rc) move(s, sweeps);
    }
    report->log_evidence = 0;
    while (!rc && s->beta < 1) {
        if (++s->stage > MOST_STAGES)
            return fail(err, ERR_SOLVE,
                        "Look at the likelihood: it may be a step, or far too narrow.",
                        "Evidence \"%.60s\" came in only to %.3g of its force in %d stages.",
                        s->e->id, s->beta, MOST_STAGES);
        double rest = 1 - s->beta, step = rest;
        double want = STEP_SHARE * effective_after(s, 1e-12 * rest, lw, scratch, NULL);
        if (effective_after(s, rest, lw, scratch, NULL) < want) {
            double lo = 0, hi = rest;
            for (int k = 0; k < 60; k++) { /* halves the interval: 60 exhaust a double */
                step = (lo + hi) / 2;
                if (effective_after(s, step, lw, scratch, NULL) < want)
                    hi = step;
                else
                    lo = step;
            }
            step = lo > 0 ? lo : hi;
        }
        double stage = 0;
        report->log_evidence += step_evidence(s, step, lw, &stage);
        /* Rows that still remember where they were err alike in the next stage: the variance of the
         * mean of a first-order autoregression (Geyer, Statist. Sci. 7, 1992, 473-483). */
        variance += stage * (1 + s->memory) / (1 - s->memory);
        s->beta = step == rest ? 1 : s->beta + step;
        memcpy(s->lw, lw, s->n * sizeof *lw);
        rc = resample(s, err);
        if (!rc) report->accepted = move(s, sweeps);
    }
    s->stage++;
    if (!rc) report->accepted = move(s, s->e->last_sweeps ? s->e->last_sweeps : LAST_SWEEPS);
    report->stages = (int)s->stage - 1;
    report->log_evidence_se = sqrt(fmax(variance, genealogy_variance(s, lw)));
    return rc;
}

/* ---- committing ----------------------------------------------------------------------------- */

/* Writes the working rows into the table. Everything that can fail is done on copies first. */
static int commit(struct sampler *s, struct error *err) {
    struct num_rows *rows = s->rows;
    size_t n = s->n, d = s->d;
    double *v = MEM_NEW(double, n);
    size_t *ancestor = MEM_NEW(size_t, n);
    if (!v || !ancestor) {
        mem_free(v);
        mem_free(ancestor);
        return fail_memory(err);
    }
    for (size_t c = 0; c < rows->n_columns; c++) {
        for (size_t i = 0; i < n; i++)
            v[i] = rows->columns[c]->value[s->map[i]];
        memcpy(rows->columns[c]->value, v, n * sizeof *v);
    }
    for (size_t k = 0; k < d; k++) {
        struct column *c = rows->columns[s->e->moves[k]];
        for (size_t i = 0; i < n; i++)
            c->value[i] = num_dist_from_score(&c->prior, s->z[i * d + k]);
    }
    for (size_t i = 0; i < n; i++)
        ancestor[i] = rows->ancestor[s->map[i]];
    memcpy(rows->ancestor, ancestor, n * sizeof *ancestor);
    memcpy(rows->log_weight, s->lw, n * sizeof *s->lw);
    mem_free(v);
    mem_free(ancestor);
    return rows_refresh(rows, s->touched, err);
}

static size_t distinct_ancestors(const struct num_rows *rows) {
    size_t count = 0;
    bool *seen = MEM_NEW(bool, rows->n);
    for (size_t i = 0; seen && i < rows->n; i++) {
        count += !seen[rows->ancestor[i]];
        seen[rows->ancestor[i]] = true;
    }
    mem_free(seen);
    return count;
}

/* ---- the check of the prediction ------------------------------------------------------------ */

/* A reading contradicts when every row puts it far out on the same side: with F the share below
 * it, p_best = 2 min(max F, 1 - min F). p_predicted = 2 min(F, 1 - F) with F averaged over the
 * rows: the prior predictive probability (Box, JRSS A 143, 1980, 383-430). */
static void check_prediction(const struct sampler *s, struct num_report *report) {
    size_t m = s->e->n_predict;
    double total = num_log_sum(s->lw, s->n);
    report->p_best = report->p_predicted = 1;
    report->checked = true;
    for (size_t k = 0; k < m; k++) {
        double most = 0, least = 1, mean = 0;
        for (size_t i = 0; i < s->n; i++) {
            double f = s->share[i * m + k], w = exp(s->lw[i] - total);
            if (!(w > 0) || isnan(f)) continue;
            most = fmax(most, f);
            least = fmin(least, f);
            mean += w * f;
        }
        double best = fmin(1, 2 * fmin(most, 1 - least));
        double predicted = fmin(1, 2 * fmin(mean, 1 - mean));
        if (best < report->p_best || (best == report->p_best && predicted < report->p_predicted)) {
            report->p_best = best;
            report->worst = k;
        }
        report->p_predicted = fmin(report->p_predicted, predicted);
    }
    report->held_out = report->p_best < report->limit;
    report->surprising = report->p_predicted < report->limit;
}

static bool all_impossible(const struct sampler *s) {
    for (size_t i = 0; i < s->n; i++)
        if (s->like[i] > -INFINITY && s->lw[i] > -INFINITY) return false;
    return true;
}

/* ---- the operator --------------------------------------------------------------------------- */

static int take_in(struct sampler *s, struct num_report *report, struct error *err) {
    double *lw = MEM_NEW(double, s->n), *scratch = MEM_NEW(double, 3 * s->n_cells), least;
    int rc = lw && scratch ? 0 : fail_memory(err);
    if (!rc) {
        double effective = effective_after(s, 1, lw, scratch, &least), variance = 0;
        bool healthy = effective >= HEALTHY * (double)s->n && least >= CELL_HEALTHY;
        if (healthy || s->d == 0) {
            report->log_evidence = step_evidence(s, 1, lw, &variance);
            report->log_evidence_se = sqrt(variance);
            memcpy(s->rows->log_weight, lw, s->n * sizeof *lw);
            report->thin = !healthy;
        } else {
            rc = temper(s, report, lw, scratch, err);
            if (!rc) rc = commit(s, err);
        }
    }
    mem_free(lw);
    mem_free(scratch);
    return rc;
}

static int already_in(struct past *p, const struct num_evidence *e, struct num_report *report,
                      struct error *err) {
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

int num_rows_condition(struct num_rows *rows, const struct num_evidence *e,
                       struct num_report *report, struct error *err) {
    struct past *past = rows_past_find(rows, e->id);
    if (past && (past->used || !e->insist)) return already_in(past, e, report, err);
    struct sampler s;
    *report = (struct num_report){.p_predicted = NAN,
                                  .p_best = NAN,
                                  .accepted = NAN,
                                  .log_evidence = -INFINITY,
                                  .limit = LEVEL / (double)(e->readings ? e->readings : 1)};
    int rc = check_moves(rows, e, err);
    if (rc) return rc;
    rc = sampler_new(&s, rows, e, err);
    if (!rc) {
        parallel_for(s.n, CHUNK, first_look, &s);
        if (e->predict) check_prediction(&s, report);
        if (e->insist) report->held_out = false;
        /* Nothing to choose between: even an insisting person cannot have it. */
        if (all_impossible(&s)) report->held_out = true;
        if (!past) past = rows_past_add(rows, e->id, e->key, e->reads, e->n_reads, NULL);
        if (!past) rc = fail_memory(err);
    }
    if (!rc && !report->held_out) rc = take_in(&s, report, err);
    sampler_free(&s);
    if (rc) {
        if (past) rows_past_drop(rows, past);
        return rc;
    }
    past->used = !report->held_out;
    past->log_like = e->log_like;
    past->ctx = e->ctx;
    report->id = past->id;
    report->effective = num_rows_effective(rows);
    report->distinct = distinct_ancestors(rows);
    past->report = *report;
    return 0;
}
