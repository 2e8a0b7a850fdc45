/* condition_gaussian: evidence that is linear in roots with normal priors (in logarithms for
 * lognormal ones) is conditioned exactly, by Matheron's rule. */
#include "base/mem.h"
#include "num/rows.h"
#include "num/rows_inside.h"

#include <gsl/gsl_cdf.h>
#include <lapacke.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double LEVEL = 0.01;

/* ---- the record ----------------------------------------------------------------------------- */

static double *copy_reals(const double *v, size_t n) {
    double *c = MEM_NEW(double, n);
    if (c && n) memcpy(c, v, n * sizeof *v);
    return c;
}

/* Inverse and log determinant of r; false when it is not positive definite. */
static bool invert(struct gauss *g) {
    lapack_int n = (lapack_int)g->n_y;
    double log_det = 0;
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', n, g->precision, n) != 0) return false;
    for (size_t i = 0; i < g->n_y; i++)
        log_det += 2 * log(g->precision[i * g->n_y + i]);
    if (LAPACKE_dpotri(LAPACK_ROW_MAJOR, 'L', n, g->precision, n) != 0) return false;
    for (size_t i = 0; i < g->n_y; i++)
        for (size_t k = i + 1; k < g->n_y; k++)
            g->precision[i * g->n_y + k] = g->precision[k * g->n_y + i];
    g->log_norm = -0.5 * (log_det + (double)g->n_y * log(2 * M_PI));
    return true;
}

static struct gauss *gauss_new(const struct num_gaussian *e) {
    struct gauss *g = MEM_NEW(struct gauss, 1);
    if (!g) return NULL;
    size_t m = e->n_y, d = e->n_x;
    g->n_y = m;
    g->n_x = d;
    g->roots = MEM_NEW(size_t, d);
    g->h = copy_reals(e->h, m * d);
    g->y = copy_reals(e->y, m);
    g->r = MEM_NEW(double, m *m);
    g->precision = MEM_NEW(double, m *m);
    if (!g->roots || !g->h || !g->y || !g->r || !g->precision) return g; /* noticed by the caller */
    memcpy(g->roots, e->roots, d * sizeof *e->roots);
    for (size_t i = 0; i < m; i++)
        for (size_t k = 0; k < m; k++)
            g->r[i * m + k] = e->r ? e->r[i * m + k] : i == k ? e->variance[i] : 0;
    memcpy(g->precision, g->r, m * m * sizeof *g->r);
    if (!invert(g)) g->log_norm = NAN;
    return g;
}

struct past *rows_past_add(struct num_rows *rows, const char *id, uint64_t key, const size_t *reads,
                           size_t n_reads, const struct num_gaussian *e) {
    struct past **pasts = mem_resize(rows->pasts, rows->n_pasts + 1, sizeof *pasts);
    if (!pasts) return NULL;
    rows->pasts = pasts;
    struct past *p = MEM_NEW(struct past, 1);
    if (!p) return NULL;
    p->id = mem_strdup(id);
    p->key = key;
    p->reads = MEM_NEW(size_t, n_reads);
    p->n_reads = n_reads;
    p->owner = rows;
    bool whole = p->id && p->reads;
    if (whole && n_reads) memcpy(p->reads, reads, n_reads * sizeof *reads);
    if (whole && e) {
        p->gauss = gauss_new(e);
        p->log_like = rows_gauss_log_like;
        p->ctx = p;
        whole = p->gauss && p->gauss->roots && p->gauss->h && p->gauss->y && p->gauss->r &&
                p->gauss->precision;
    }
    if (!whole) {
        rows_past_free(p);
        return NULL;
    }
    p->report.id = p->id;
    rows->pasts[rows->n_pasts++] = p;
    return p;
}

/* The number a linear-Gaussian reading is about: the value, or its logarithm. */
static double natural(const struct column *c, double value) {
    return c->prior.family == NUM_LOGNORMAL ? log(value) : value;
}

double rows_gauss_log_like(const double *row, void *ctx) {
    const struct past *p = ctx;
    const struct gauss *g = p->gauss;
    double sum = 0;
    /* Residuals are made anew for each pair: rows are short, and there is no scratch to share. */
    for (size_t i = 0; i < g->n_y; i++) {
        double ri = g->y[i], inner = 0;
        for (size_t j = 0; j < g->n_x; j++)
            ri -= g->h[i * g->n_x + j] * natural(p->owner->columns[g->roots[j]], row[g->roots[j]]);
        for (size_t k = 0; k < g->n_y; k++) {
            if (g->precision[i * g->n_y + k] == 0) continue;
            double rk = g->y[k];
            for (size_t j = 0; j < g->n_x; j++)
                rk -= g->h[k * g->n_x + j] *
                      natural(p->owner->columns[g->roots[j]], row[g->roots[j]]);
            inner += g->precision[i * g->n_y + k] * rk;
        }
        sum += ri * inner;
    }
    return g->log_norm - 0.5 * sum;
}

/* ---- what the rows stand for ---------------------------------------------------------------- */

/* The joint normal distribution of a set of roots as earlier exact evidence has left it. */
struct joint {
    size_t d;
    size_t *root; /* [d] columns */
    double *mean, *cov;
    size_t *place; /* [columns] index in root, or NUM_NO_COLUMN */
};

static void joint_free(struct joint *j) {
    mem_free(j->root);
    mem_free(j->mean);
    mem_free(j->cov);
    mem_free(j->place);
}

static void joint_add(struct joint *j, size_t root) {
    if (j->place[root] != NUM_NO_COLUMN) return;
    j->place[root] = j->d;
    j->root[j->d++] = root;
}

/* Takes one set of readings into mean and covariance: the Kalman update (Kalman 1960), with
 * gain[d][m] given back when wanted. s is scratch of
 * m * (m + 1), hp of m * d. */
static bool joint_update(struct joint *j, const struct gauss *g, double *gain, double *s,
                         double *hp, double *log_density) {
    size_t m = g->n_y, d = j->d;
    for (size_t i = 0; i < m; i++)
        for (size_t b = 0; b < d; b++) {
            double sum = 0;
            for (size_t k = 0; k < g->n_x; k++)
                sum += g->h[i * g->n_x + k] * j->cov[j->place[g->roots[k]] * d + b];
            hp[i * d + b] = sum;
        }
    for (size_t i = 0; i < m; i++)
        for (size_t k = 0; k < m; k++) {
            double sum = g->r[i * m + k];
            for (size_t b = 0; b < g->n_x; b++)
                sum += hp[i * d + j->place[g->roots[b]]] * g->h[k * g->n_x + b];
            s[i * m + k] = sum;
        }
    lapack_int lm = (lapack_int)m;
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', lm, s, lm) != 0) return false;
    /* gain' = S^-1 H P */
    for (size_t i = 0; i < m; i++)
        for (size_t b = 0; b < d; b++)
            gain[i * d + b] = hp[i * d + b];
    if (LAPACKE_dpotrs(LAPACK_ROW_MAJOR, 'L', lm, (lapack_int)d, s, lm, gain, (lapack_int)d) != 0)
        return false;
    double quad = 0, log_det = 0;
    double *v = s + m * m;
    for (size_t i = 0; i < m; i++) {
        v[i] = g->y[i];
        for (size_t k = 0; k < g->n_x; k++)
            v[i] -= g->h[i * g->n_x + k] * j->mean[j->place[g->roots[k]]];
        log_det += 2 * log(s[i * m + i]);
    }
    for (size_t b = 0; b < d; b++)
        for (size_t i = 0; i < m; i++)
            j->mean[b] += gain[i * d + b] * v[i];
    for (size_t i = 0; i < m; i++) { /* |L^-1 v|^2 */
        double sum = v[i];
        for (size_t k = 0; k < i; k++)
            sum -= s[i * m + k] * v[k];
        v[i] = sum / s[i * m + i];
        quad += v[i] * v[i];
    }
    for (size_t a = 0; a < d; a++)
        for (size_t b = 0; b < d; b++)
            for (size_t i = 0; i < m; i++)
                j->cov[a * d + b] -= gain[i * d + a] * hp[i * d + b];
    if (log_density) *log_density = -0.5 * (quad + log_det + (double)m * log(2 * M_PI));
    return true;
}

/* Is the column, or anything derived from it, read by used evidence that is not exact? */
static bool moved_otherwise(const struct num_rows *rows, size_t root, bool *touched) {
    memset(touched, 0, rows->n_columns * sizeof *touched);
    touched[root] = true;
    rows_spread(rows, touched);
    for (size_t p = 0; p < rows->n_pasts; p++) {
        const struct past *past = rows->pasts[p];
        if (!past->used || (past->gauss && past->report.exact)) continue;
        for (size_t k = 0; k < past->n_reads; k++)
            if (touched[past->reads[k]]) return true;
    }
    return false;
}

/* Gathers all roots bound to these by earlier exact evidence and works out their joint
 * distribution. *exact is false when other evidence has touched one of them. */
static int joint_new(struct joint *j, const struct num_rows *rows, const struct gauss *g,
                     bool *exact, struct error *err) {
    size_t cols = rows->n_columns, most_y = g->n_y;
    memset(j, 0, sizeof *j);
    j->root = MEM_NEW(size_t, cols);
    j->place = MEM_NEW(size_t, cols);
    bool *touched = MEM_NEW(bool, cols), *in = MEM_NEW(bool, rows->n_pasts);
    int rc = j->root && j->place && touched && in ? 0 : fail_memory(err);
    for (size_t c = 0; !rc && c < cols; c++)
        j->place[c] = NUM_NO_COLUMN;
    for (size_t k = 0; !rc && k < g->n_x; k++)
        joint_add(j, g->roots[k]);
    for (bool more = !rc; more;) {
        more = false;
        for (size_t p = 0; p < rows->n_pasts; p++) {
            const struct past *past = rows->pasts[p];
            if (in[p] || !past->used || !past->gauss || !past->report.exact) continue;
            for (size_t k = 0; k < past->gauss->n_x && !in[p]; k++)
                if (j->place[past->gauss->roots[k]] != NUM_NO_COLUMN) in[p] = more = true;
            for (size_t k = 0; in[p] && k < past->gauss->n_x; k++)
                joint_add(j, past->gauss->roots[k]);
            if (in[p] && past->gauss->n_y > most_y) most_y = past->gauss->n_y;
        }
    }
    *exact = true;
    for (size_t k = 0; !rc && k < j->d && *exact; k++)
        if (moved_otherwise(rows, j->root[k], touched)) *exact = false;
    if (!rc && *exact) {
        j->mean = MEM_NEW(double, j->d);
        j->cov = MEM_NEW(double, j->d * j->d);
        double *gain = MEM_NEW(double, most_y * j->d), *hp = MEM_NEW(double, most_y * j->d);
        double *s = MEM_NEW(double, most_y *(most_y + 1));
        rc = j->mean && j->cov && gain && hp && s ? 0 : fail_memory(err);
        for (size_t k = 0; !rc && k < j->d; k++) {
            const struct num_dist *prior = &rows->columns[j->root[k]]->prior;
            j->mean[k] = prior->family == NUM_LOGNORMAL ? log(prior->a) : prior->a;
            j->cov[k * j->d + k] = prior->b * prior->b;
        }
        for (size_t p = 0; !rc && p < rows->n_pasts; p++)
            if (in[p] && !joint_update(j, rows->pasts[p]->gauss, gain, s, hp, NULL))
                rc = fail(err, ERR_SOLVE, NULL, "Earlier evidence \"%.60s\" is singular.",
                          rows->pasts[p]->id);
        mem_free(gain);
        mem_free(hp);
        mem_free(s);
    }
    mem_free(touched);
    mem_free(in);
    return rc;
}

/* ---- one set of readings -------------------------------------------------------------------- */

static double predicted(const struct num_rows *rows, const struct gauss *g, size_t i, size_t row) {
    double sum = 0;
    for (size_t k = 0; k < g->n_x; k++) {
        const struct column *c = rows->columns[g->roots[k]];
        sum += g->h[i * g->n_x + k] * natural(c, c->value[row]);
    }
    return sum;
}

/* The check of condition.c, here with the shares known in closed form. */
static void check(const struct num_rows *rows, const struct gauss *g, struct num_report *report) {
    double top = -INFINITY, total = 0;
    report->checked = true;
    report->p_best = report->p_predicted = 1;
    for (size_t i = 0; i < rows->n; i++)
        top = fmax(top, rows->log_weight[i]);
    for (size_t i = 0; i < rows->n; i++)
        total += exp(rows->log_weight[i] - top);
    for (size_t k = 0; k < g->n_y; k++) {
        double most = 0, least = 1, mean = 0, u = sqrt(g->r[k * g->n_y + k]);
        for (size_t i = 0; i < rows->n; i++) {
            double w = exp(rows->log_weight[i] - top) / total;
            if (!(w > 0)) continue;
            double f = gsl_cdf_ugaussian_P((g->y[k] - predicted(rows, g, k, i)) / u);
            most = fmax(most, f);
            least = fmin(least, f);
            mean += w * f;
        }
        double best = fmin(1, 2 * fmin(most, 1 - least));
        if (best < report->p_best) {
            report->p_best = best;
            report->worst = k;
        }
        report->p_predicted = fmin(report->p_predicted, 2 * fmin(mean, 1 - mean));
    }
    report->held_out = report->p_best < report->limit;
    report->surprising = report->p_predicted < report->limit;
}

/* Draws of the error for every row: stratified normals, one permutation for each reading, turned
 * by the Cholesky factor of R. error[n][m]. */
static int draw_errors(const struct num_rows *rows, const struct past *p, double *error,
                       struct error *err) {
    const struct gauss *g = p->gauss;
    size_t m = g->n_y, n = rows->n;
    double *l = copy_reals(g->r, m * m), *z = MEM_NEW(double, m);
    size_t *perm = MEM_NEW(size_t, n);
    int rc = l && z && perm ? 0 : fail_memory(err);
    if (!rc && LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', (lapack_int)m, l, (lapack_int)m) != 0)
        rc = fail(err, ERR_SOLVE, NULL, "The errors of \"%.60s\" are singular.", p->id);
    for (size_t k = 0; !rc && k < m; k++) {
        struct num_random r;
        num_random_begin(&r, rows->seed, num_hash_join(num_hash(p->id), num_hash("error")), k);
        num_random_permutation(&r, perm, n);
        for (size_t i = 0; i < n; i++)
            error[i * m + k] =
                gsl_cdf_ugaussian_Pinv(((double)perm[i] + num_random_uniform(&r)) / (double)n);
    }
    for (size_t i = 0; !rc && i < n; i++) {
        memcpy(z, error + i * m, m * sizeof *z);
        for (size_t a = 0; a < m; a++) {
            error[i * m + a] = 0;
            for (size_t b = 0; b <= a; b++)
                error[i * m + a] += l[a * m + b] * z[b];
        }
    }
    mem_free(l);
    mem_free(z);
    mem_free(perm);
    return rc;
}

static int matheron(struct num_rows *rows, struct past *p, struct joint *j,
                    struct num_report *report, struct error *err) {
    const struct gauss *g = p->gauss;
    size_t m = g->n_y, d = j->d, n = rows->n;
    double *gain = MEM_NEW(double, m *d), *hp = MEM_NEW(double, m *d),
           *s = MEM_NEW(double, m *(m + 1));
    double *e = MEM_NEW(double, n *m);
    bool *touched = MEM_NEW(bool, rows->n_columns);
    int rc = gain && hp && s && e && touched ? 0 : fail_memory(err);
    if (!rc) rc = draw_errors(rows, p, e, err);
    if (!rc && !joint_update(j, g, gain, s, hp, &report->log_evidence))
        rc = fail(err, ERR_SOLVE, "Give each reading an uncertainty above 0.",
                  "The readings of \"%.60s\" are singular.", p->id);
    for (size_t i = 0; !rc && i < n; i++) {
        for (size_t k = 0; k < m; k++)
            e[i * m + k] = g->y[k] - predicted(rows, g, k, i) - e[i * m + k];
        for (size_t b = 0; b < d; b++) {
            struct column *c = rows->columns[j->root[b]];
            double x = natural(c, c->value[i]);
            for (size_t k = 0; k < m; k++)
                x += gain[k * d + b] * e[i * m + k];
            c->value[i] = c->prior.family == NUM_LOGNORMAL ? exp(x) : x;
            touched[j->root[b]] = true;
        }
    }
    if (!rc) {
        rows_spread(rows, touched);
        rc = rows_refresh(rows, touched, err);
    }
    mem_free(gain);
    mem_free(hp);
    mem_free(s);
    mem_free(e);
    mem_free(touched);
    return rc;
}

/* ---- the door ------------------------------------------------------------------------------- */

static int check_input(const struct num_rows *rows, const struct num_gaussian *e,
                       struct error *err) {
    error_place(err, NULL, 0, NULL, e->id);
    if (e->n_y == 0 || e->n_x == 0)
        return fail(err, ERR_MISSING, NULL, "Evidence \"%.60s\" has no readings or no roots.",
                    e->id);
    for (size_t k = 0; k < e->n_x; k++) {
        const struct column *c = rows->columns[e->roots[k]];
        if (!c->root || !num_dist_is_gaussian(&c->prior))
            return fail(err, ERR_REFUSED, "Use num_rows_condition for other distributions.",
                        "\"%.60s\" is not a root with a normal or lognormal prior.", c->id);
    }
    for (size_t i = 0; i < e->n_y; i++) {
        double v = e->r ? e->r[i * e->n_y + i] : e->variance[i];
        if (!isfinite(e->y[i]) || !(v > 0) || !isfinite(v))
            return fail(err, ERR_RANGE, "Give a finite reading with an uncertainty above 0.",
                        "Reading %zu of \"%.60s\": %g, variance %g.", i + 1, e->id, e->y[i], v);
    }
    return 0;
}

/* The same evidence by the general operator. */
static int by_moving(struct num_rows *rows, struct past *p, const struct num_gaussian *e,
                     struct num_report *report, struct error *err) {
    /* The record is made already: a throw-away name keeps the operator from finding it. */
    char name[160];
    snprintf(name, sizeof name, "%.140s (moving)", p->id);
    struct num_evidence general = {.id = name,
                                   .log_like = rows_gauss_log_like,
                                   .ctx = p,
                                   .reads = p->gauss->roots,
                                   .n_reads = p->gauss->n_x,
                                   .moves = p->gauss->roots,
                                   .n_moves = p->gauss->n_x,
                                   .readings = e->readings,
                                   .insist = true};
    int rc = num_rows_condition(rows, &general, report, err);
    struct past *extra = rows_past_find(rows, name);
    if (extra) rows_past_drop(rows, extra); /* p itself carries the likelihood from now on */
    return rc;
}

static size_t distinct(const struct num_rows *rows) {
    bool *seen = MEM_NEW(bool, rows->n);
    size_t count = 0;
    for (size_t i = 0; seen && i < rows->n; i++) {
        count += !seen[rows->ancestor[i]];
        seen[rows->ancestor[i]] = true;
    }
    mem_free(seen);
    return count;
}

/* Readings that belong together: checked together, taken in or held out together. */
static int one_set(struct num_rows *rows, const struct num_gaussian *e, struct num_report *report,
                   struct error *err) {
    struct past *p = rows_past_find(rows, e->id);
    if (p && e->key && p->key && e->key != p->key)
        return fail(err, ERR_CONFLICT, "Build the rows anew from the changed readings.",
                    "Evidence \"%.60s\" is already in the ensemble with other content.", e->id);
    if (p && (p->used || !e->insist)) {
        *report = p->report;
        return 0;
    }
    if (!p) p = rows_past_add(rows, e->id, e->key, e->roots, e->n_x, e);
    if (!p) return fail_memory(err);
    if (isnan(p->gauss->log_norm)) {
        rows_past_drop(rows, p);
        return fail(err, ERR_RANGE, "Look at the correlations: none may be 1 or beyond.",
                    "The errors of \"%.60s\" have a covariance that is not positive.", e->id);
    }
    struct num_report r = {.id = p->id,
                           .accepted = NAN,
                           .log_evidence = -INFINITY,
                           .limit = LEVEL / (double)(e->readings ? e->readings : e->n_y)};
    check(rows, p->gauss, &r);
    if (e->insist) r.held_out = false;
    struct joint j = {0};
    bool exact = false;
    int rc = r.held_out ? 0 : joint_new(&j, rows, p->gauss, &exact, err);
    if (!rc && !r.held_out && exact) {
        rc = matheron(rows, p, &j, &r, err);
        r.exact = true;
    } else if (!rc && !r.held_out) {
        struct num_report g;
        rc = by_moving(rows, p, e, &g, err);
        if (!rc) {
            r.log_evidence = g.log_evidence;
            r.log_evidence_se = g.log_evidence_se;
            r.stages = g.stages;
            r.accepted = g.accepted;
            r.thin = g.thin;
            r.held_out = g.held_out;
        }
    }
    joint_free(&j);
    if (rc) {
        rows_past_drop(rows, p);
        return rc;
    }
    p->used = !r.held_out;
    r.effective = num_rows_effective(rows);
    r.distinct = distinct(rows);
    p->report = r;
    *report = r;
    return 0;
}

int num_rows_condition_gaussian(struct num_rows *rows, const struct num_gaussian *e,
                                struct num_report *report, struct error *err) {
    int rc = check_input(rows, e, err);
    if (rc) return rc;
    if (e->r || e->n_y == 1) {
        rc = one_set(rows, e, report, err);
        for (size_t i = 0; !rc && e->held && i < e->n_y; i++)
            e->held[i] = report->held_out;
        return rc;
    }
    /* Independent errors: one reading after the other, which is the same and lets a reading that
     * contradicts those before it be held out alone. */
    struct num_report whole = {.exact = true,
                               .checked = true,
                               .p_best = 1,
                               .p_predicted = 1,
                               .accepted = NAN,
                               .held_out = true};
    for (size_t i = 0; i < e->n_y; i++) {
        char name[160];
        snprintf(name, sizeof name, "%.120s #%zu", e->id, i + 1);
        struct num_gaussian one = *e;
        one.id = name;
        one.n_y = 1;
        one.h = e->h + i * e->n_x;
        one.y = e->y + i;
        one.variance = e->variance + i;
        one.readings = e->readings ? e->readings : e->n_y;
        if ((rc = one_set(rows, &one, report, err))) return rc;
        if (e->held) e->held[i] = report->held_out;
        if (report->p_best < whole.p_best) {
            whole.p_best = report->p_best;
            whole.worst = i;
        }
        whole.p_predicted = fmin(whole.p_predicted, report->p_predicted);
        whole.surprising |= report->surprising;
        whole.limit = report->limit;
        if (report->held_out) continue;
        whole.held_out = false;
        whole.exact &= report->exact;
        whole.log_evidence += report->log_evidence;
        whole.log_evidence_se = hypot(whole.log_evidence_se, report->log_evidence_se);
        if (report->stages > whole.stages) whole.stages = report->stages;
        whole.thin |= report->thin;
    }
    whole.id = report->id;
    whole.effective = report->effective;
    whole.distinct = report->distinct;
    *report = whole;
    return 0;
}
