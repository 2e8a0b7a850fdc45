#include "num/mixed.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <math.h>
#include <nlopt.h>
#include <string.h>

enum { MOST_P = 12, MOST_NODES = 41 };

/* Which thing each row belongs to, in order of first appearance; returns how many. */
static size_t index_things(const double *thing, size_t n, size_t *of, double *label) {
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        size_t g = 0;
        while (g < k && label[g] != thing[i])
            g++;
        if (g == k) label[k++] = thing[i];
        of[i] = g;
    }
    return k;
}

/* ---- one way -------------------------------------------------------------------------------- */

struct one_way {
    size_t k, n;
    const double *mean, *count; /* of each thing */
    double within;              /* sum of squares inside things */
};

/* Restricted log-likelihood with the within variance profiled out, at ratio = between/within
 * variance; thing means have variance s^2 (ratio + 1/n_i). */
static double one_way_like(const struct one_way *o, double ratio, double *centre,
                           double *variance) {
    double w = 0, wm = 0, log_det = 0, squares = o->within;
    for (size_t i = 0; i < o->k; i++) {
        double wi = o->count[i] / (1 + ratio * o->count[i]);
        w += wi;
        wm += wi * (o->mean[i] - o->mean[0]);
        log_det += log1p(ratio * o->count[i]);
    }
    *centre = o->mean[0] + wm / w;
    for (size_t i = 0; i < o->k; i++)
        squares += o->count[i] / (1 + ratio * o->count[i]) * (o->mean[i] - *centre) *
                   (o->mean[i] - *centre);
    double f = (double)(o->n - 1);
    *variance = squares / f;
    return -0.5 * (f * (log(2 * M_PI * *variance) + 1) + log_det + log(w));
}

int num_one_way(struct num_one_way *out, const double *value, const double *thing, size_t n,
                struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    double *label = ARENA_NEW(arena, double, 3 * (n + 1)), *mean = label + n + 1,
           *count = mean + n + 1;
    size_t *of = ARENA_NEW(arena, size_t, n + 1);
    if (!label || !of) return fail_memory(err);
    struct one_way o = {index_things(thing, n, of, label), n, mean, count, 0};
    if (o.k < 2 || n <= o.k)
        return fail(err, ERR_MISSING, "Give two things or more, one of them read twice.",
                    "%zu readings of %zu things.", n, o.k);
    for (size_t i = 0; i < n; i++) {
        mean[of[i]] += value[i] - value[0];
        count[of[i]]++;
    }
    for (size_t g = 0; g < o.k; g++)
        mean[g] = value[0] + mean[g] / count[g];
    for (size_t i = 0; i < n; i++)
        o.within += (value[i] - mean[of[i]]) * (value[i] - mean[of[i]]);
    /* The best ratio on a logarithmic scale: golden section after a coarse look; 0 is tried too. */
    double centre, variance, best = one_way_like(&o, 0, &centre, &variance), at = -INFINITY;
    for (double l = -12; l <= 16; l += 0.5) {
        double v = one_way_like(&o, exp(l), &centre, &variance);
        if (v > best) {
            best = v;
            at = l;
        }
    }
    double ratio = 0;
    if (isfinite(at)) {
        double lo = at - 0.5, hi = at + 0.5, g = (sqrt(5) - 1) / 2;
        for (int i = 0; i < 80; i++) {
            double a = hi - g * (hi - lo), b = lo + g * (hi - lo);
            if (one_way_like(&o, exp(a), &centre, &variance) >
                one_way_like(&o, exp(b), &centre, &variance))
                hi = b;
            else
                lo = a;
        }
        ratio = exp((lo + hi) / 2);
    }
    out->log_like = one_way_like(&o, ratio, &centre, &variance);
    out->effect = ARENA_NEW(arena, double, o.k);
    if (!out->effect) return fail_memory(err);
    double w = 0;
    for (size_t g = 0; g < o.k; g++) {
        double shrink = ratio * count[g] / (1 + ratio * count[g]);
        out->effect[g] = shrink * (mean[g] - centre);
        w += count[g] / (1 + ratio * count[g]);
    }
    out->things = o.k;
    out->n = n;
    out->mean = centre;
    out->se_mean = sqrt(variance / w);
    out->sd_within = sqrt(variance);
    out->sd_between = sqrt(ratio * variance);
    out->correlation = ratio / (1 + ratio);
    return 0;
}

/* ---- curves --------------------------------------------------------------------------------- */

struct mixed {
    const struct num_mixed_curve *c;
    size_t things, nodes;
    const size_t *of;
    double node[MOST_NODES], log_weight[MOST_NODES];
    double *mode;   /* [things] warm start of the inner search */
    double *values; /* scratch for one evaluation of the formula */
    double held_log_sd;
    bool held;
};

/* Sum of squares of one thing at v, with first and (Gauss-Newton) second slope by v. */
static double thing_squares(const struct mixed *m, const double *b, size_t g, double v, double *d1,
                            double *d2) {
    const struct num_mixed_curve *c = m->c;
    double sum = 0;
    size_t by = c->p;
    *d1 = *d2 = 0;
    memcpy(m->values, b, c->p * sizeof *b);
    m->values[c->p] = v;
    for (size_t i = 0; i < c->n; i++) {
        if (m->of[i] != g) continue;
        memcpy(m->values + c->p + 1, c->x + i * c->k, c->k * sizeof *c->x);
        double slope, f = num_formula_slopes(c->f, m->values, &by, 1, &slope), r = c->y[i] - f;
        if (!isfinite(f)) return INFINITY;
        sum += r * r;
        *d1 -= 2 * r * slope;
        *d2 += 2 * slope * slope;
    }
    return sum;
}

/* ln of the integral over v of one thing: Gauss-Hermite about the mode, at the scale there. */
static double thing_like(const struct mixed *m, const double *b, double sd_v, double sd_e, size_t g,
                         size_t count) {
    double v = m->mode[g], e2 = sd_e * sd_e, v2 = sd_v * sd_v, d1, d2, s, value;
    s = thing_squares(m, b, g, v, &d1, &d2);
    value = s / e2 + v * v / v2;
    for (int i = 0; i < 100; i++) { /* damped Gauss-Newton to the mode */
        double step = -(d1 / e2 + 2 * v / v2) / (d2 / e2 + 2 / v2), next = INFINITY, t = v;
        for (int half = 0; half < 30; half++, step /= 2) {
            double a, c;
            t = v + step;
            next = thing_squares(m, b, g, t, &a, &c) / e2 + t * t / v2;
            if (next <= value) {
                d1 = a;
                d2 = c;
                break;
            }
        }
        if (!(next <= value)) break;
        v = t;
        value = next;
        if (fabs(step) < 1e-10 * (fabs(v) + sd_v)) break;
    }
    m->mode[g] = v;
    double scale = 1 / sqrt((d2 / e2 + 2 / v2) / 2), sum = 0, top = -INFINITY, l[MOST_NODES];
    for (size_t k = 0; k < m->nodes; k++) {
        double t = v + M_SQRT2 * scale * m->node[k], a, c;
        l[k] = m->log_weight[k] + m->node[k] * m->node[k] -
               0.5 * (thing_squares(m, b, g, t, &a, &c) / e2 + t * t / v2);
        top = fmax(top, l[k]);
    }
    for (size_t k = 0; k < m->nodes; k++)
        sum += exp(l[k] - top);
    return top + log(sum) + 0.5 * M_LN2 + log(scale) - log(sd_v) - (double)count * log(sd_e) -
           0.5 * (double)(count + 1) * log(2 * M_PI);
}

/* theta = b[p], ln sd_e, ln sd_v (left out when held). */
static double mixed_like(const struct mixed *m, const double *theta) {
    const struct num_mixed_curve *c = m->c;
    double sd_e = exp(theta[c->p]), sd_v = exp(m->held ? m->held_log_sd : theta[c->p + 1]), sum = 0;
    for (size_t g = 0; g < m->things; g++) {
        size_t count = 0;
        for (size_t i = 0; i < c->n; i++)
            count += m->of[i] == g;
        sum += thing_like(m, theta, sd_v, sd_e, g, count);
    }
    return isfinite(sum) ? sum : -1e300;
}

static double objective(unsigned n, const double *theta, double *slope, void *context) {
    struct mixed *m = context;
    (void)n;
    (void)slope;
    /* From the same inner start each time: the value must not depend on where one came from. */
    memset(m->mode, 0, m->things * sizeof *m->mode);
    return -mixed_like(m, theta);
}

static bool search(struct mixed *m, double *theta, size_t n, nlopt_algorithm how, double *least) {
    nlopt_opt opt = nlopt_create(how, (unsigned)n);
    double step[MOST_P + 2];
    if (!opt) return false;
    for (size_t i = 0; i < n; i++)
        step[i] = i < m->c->p ? 0.1 * fabs(theta[i]) + 1e-3 : 0.3;
    nlopt_set_min_objective(opt, objective, m);
    nlopt_set_initial_step(opt, step);
    nlopt_set_ftol_abs(opt, 1e-11); /* of a log-likelihood */
    nlopt_set_xtol_rel(opt, 1e-10);
    nlopt_set_maxeval(opt, 4000);
    nlopt_result r = nlopt_optimize(opt, theta, least);
    nlopt_destroy(opt);
    return r > 0 || r == NLOPT_ROUNDOFF_LIMITED;
}

/* Nelder-Mead, then BOBYQA from there, until neither gains. */
static double maximise(struct mixed *m, double *theta, size_t n, bool *converged) {
    double least = INFINITY, before;
    *converged = false;
    for (int round = 0; round < 6; round++) {
        before = least;
        bool a = search(m, theta, n, NLOPT_LN_NELDERMEAD, &least);
        bool b = search(m, theta, n, NLOPT_LN_BOBYQA, &least);
        if ((a || b) && before - least < 1e-8) {
            *converged = true;
            break;
        }
    }
    return -least;
}

/* Standard errors from the curvature of the log-likelihood by central differences. */
static void standard_errors(struct mixed *m, const double *theta, size_t n, double *se, size_t p) {
    double h[(MOST_P + 2) * (MOST_P + 2)], step[MOST_P + 2], t[MOST_P + 2];
    for (size_t i = 0; i < n; i++)
        step[i] = i < p ? 1e-3 * fabs(theta[i]) + 1e-6 : 1e-3;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k <= i; k++) {
            double f[4];
            for (int q = 0; q < 4; q++) {
                memcpy(t, theta, n * sizeof *t);
                t[i] += (q & 1 ? -1 : 1) * step[i];
                t[k] += (q & 2 ? -1 : 1) * step[k];
                f[q] = objective((unsigned)n, t, NULL, m);
            }
            h[i * n + k] = h[k * n + i] = (f[0] - f[1] - f[2] + f[3]) / (4 * step[i] * step[k]);
        }
    /* Gauss-Jordan inverse: a handful of rows. */
    double inv[(MOST_P + 2) * (MOST_P + 2)] = {0};
    for (size_t i = 0; i < n; i++)
        inv[i * n + i] = 1;
    for (size_t c = 0; c < n; c++) {
        double pivot = h[c * n + c];
        for (size_t k = 0; k < n; k++) {
            h[c * n + k] /= pivot;
            inv[c * n + k] /= pivot;
        }
        for (size_t r = 0; r < n; r++) {
            double f = h[r * n + c];
            for (size_t k = 0; r != c && k < n; k++) {
                h[r * n + k] -= f * h[c * n + k];
                inv[r * n + k] -= f * inv[c * n + k];
            }
        }
    }
    for (size_t i = 0; i < p; i++)
        se[i] = sqrt(inv[i * n + i]);
}

static double profile_sd(struct mixed *m, const double *best, size_t n, double top, double from,
                         double step) {
    double drop = gsl_cdf_chisq_Pinv(0.9, 1) / 2, inner = from, outer = from, theta[MOST_P + 2];
    bool ok;
    memcpy(theta, best, n * sizeof *theta);
    m->held = true;
    int k = 0;
    for (; k < 12; k++) {
        outer = inner + step;
        m->held_log_sd = outer;
        if (top - maximise(m, theta, n - 1, &ok) > drop) break;
        inner = outer;
        step *= 1.5;
    }
    for (int i = 0; i < 12 && k < 12; i++) {
        m->held_log_sd = (inner + outer) / 2;
        *(top - maximise(m, theta, n - 1, &ok) > drop ? &outer : &inner) = m->held_log_sd;
    }
    m->held = false;
    return k < 12 ? exp((inner + outer) / 2) : step > 0 ? INFINITY : 0;
}

static int quadrature(struct mixed *m, size_t nodes, struct error *err) {
    gsl_integration_fixed_workspace *w =
        gsl_integration_fixed_alloc(gsl_integration_fixed_hermite, nodes, 0, 1, 0, 0);
    if (!w) return fail_memory(err);
    m->nodes = nodes;
    for (size_t i = 0; i < nodes; i++) {
        m->node[i] = gsl_integration_fixed_nodes(w)[i];
        m->log_weight[i] = log(gsl_integration_fixed_weights(w)[i]);
    }
    gsl_integration_fixed_free(w);
    return 0;
}

int num_mixed_fit(struct num_mixed_fit *out, const struct num_mixed_curve *c, struct arena *arena,
                  struct error *err) {
    memset(out, 0, sizeof *out);
    size_t nodes = c->nodes ? c->nodes : 15, n = c->p + 2;
    if (c->p == 0 || c->p > MOST_P || nodes > MOST_NODES)
        return fail(err, ERR_RANGE, "Use 1 to 12 parameters and up to 41 nodes.",
                    "%zu parameters, %zu nodes.", c->p, nodes);
    struct mixed m = {.c = c};
    size_t *of = ARENA_NEW(arena, size_t, c->n + 1);
    double *label = ARENA_NEW(arena, double, c->n + 1), theta[MOST_P + 2];
    if (!of || !label) return fail_memory(err);
    m.of = of;
    m.things = index_things(c->thing, c->n, of, label);
    if (m.things < 2 || c->n < m.things + c->p)
        return fail(err, ERR_MISSING, "Give two things or more with several readings each.",
                    "%zu readings of %zu things for %zu parameters.", c->n, m.things, c->p);
    m.mode = ARENA_NEW(arena, double, m.things);
    m.values = ARENA_NEW(arena, double, c->p + 1 + c->k);
    out->b = ARENA_NEW(arena, double, c->p);
    out->se = ARENA_NEW(arena, double, c->p);
    out->v = ARENA_NEW(arena, double, m.things);
    if (!m.mode || !m.values || !out->b || !out->se || !out->v) return fail_memory(err);
    int rc = quadrature(&m, nodes, err);
    if (rc) return rc;
    double squares = 0, d1, d2;
    for (size_t g = 0; g < m.things; g++)
        squares += thing_squares(&m, c->start, g, 0, &d1, &d2);
    if (!isfinite(squares))
        return fail(err, ERR_SOLVE, "Start nearer, or look at the formula.",
                    "The formula has no value at the start.");
    memcpy(theta, c->start, c->p * sizeof *theta);
    theta[c->p] = 0.5 * log(squares / (double)c->n / 2 + 1e-12);
    theta[c->p + 1] = log(c->start_sd > 0 ? c->start_sd : 0.2);
    out->log_like = maximise(&m, theta, n, &out->converged);
    memcpy(out->b, theta, c->p * sizeof *theta);
    out->sd_residual = exp(theta[c->p]);
    out->sd_v = exp(theta[c->p + 1]);
    objective((unsigned)n, theta, NULL, &m);
    memcpy(out->v, m.mode, m.things * sizeof *m.mode);
    standard_errors(&m, theta, n, out->se, c->p);
    out->sd_v_low = profile_sd(&m, theta, n, out->log_like, theta[c->p + 1], -0.3);
    out->sd_v_high = profile_sd(&m, theta, n, out->log_like, theta[c->p + 1], 0.3);
    out->things = m.things;
    out->n = c->n;
    out->p = c->p;
    return 0;
}
