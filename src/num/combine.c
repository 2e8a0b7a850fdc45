#include "num/combine.h"

#include "base/mem.h"

#include <gsl/gsl_cdf.h>
#include <lapacke.h>
#include <math.h>
#include <string.h>

struct set {
    const double *x, *u;
    size_t k;
};

/* Mean, its u and Q with tau2 added to each variance. */
static struct num_mean_u weighted(const struct set *s, double tau2, double *q) {
    double sum = 0, total = 0, first = s->x[0];
    for (size_t i = 0; i < s->k; i++) {
        double w = 1 / (s->u[i] * s->u[i] + tau2);
        sum += w * (s->x[i] - first);
        total += w;
    }
    struct num_mean_u m = {first + sum / total, 1 / sqrt(total), tau2};
    if (q) {
        *q = 0;
        for (size_t i = 0; i < s->k; i++)
            *q += (s->x[i] - m.mean) * (s->x[i] - m.mean) / (s->u[i] * s->u[i] + tau2);
    }
    return m;
}

static double dersimonian_laird(const struct set *s, double q) {
    double w1 = 0, w2 = 0;
    for (size_t i = 0; i < s->k; i++) {
        double w = 1 / (s->u[i] * s->u[i]);
        w1 += w;
        w2 += w * w;
    }
    return fmax(0, (q - (double)(s->k - 1)) / (w1 - w2 / w1));
}

/* Q(tau2) = k - 1; Q falls steadily, so the bracket is halved. */
static double paule_mandel(const struct set *s) {
    double want = (double)(s->k - 1), q, lo = 0, hi = 1;
    weighted(s, 0, &q);
    if (q <= want) return 0;
    for (weighted(s, hi, &q); q > want && hi < 1e300; weighted(s, hi, &q))
        hi *= 4;
    for (int i = 0; i < 200; i++) {
        double mid = (lo + hi) / 2;
        weighted(s, mid, &q);
        *(q > want ? &lo : &hi) = mid;
    }
    return (lo + hi) / 2;
}

/* Fixed-point form: Viechtbauer 2005, eq 16. */
static double reml(const struct set *s, double tau2) {
    for (int i = 0; i < 10000; i++) {
        struct num_mean_u m = weighted(s, tau2, NULL);
        double top = 0, bottom = 0, total = 0;
        for (size_t k = 0; k < s->k; k++) {
            double v = s->u[k] * s->u[k], w = 1 / (v + tau2), d = s->x[k] - m.mean;
            top += w * w * (d * d - v);
            bottom += w * w;
            total += w;
        }
        double next = fmax(0, top / bottom + 1 / total);
        bool done = fabs(next - tau2) <= 1e-13 * (next + 1e-300);
        tau2 = next;
        if (done) break;
    }
    return tau2;
}

/* Posterior over tau with a half-normal prior and a flat mean, by the trapezium rule on 0 .. 6
 * scales; mean and variance of the mean by the laws of total expectation and variance. */
static struct num_mean_u half_normal(const struct set *s, double scale) {
    enum { POINTS = 2000 };
    double top = -INFINITY, sum = 0, m1 = 0, m2 = 0, t2 = 0;
    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i <= POINTS; i++) {
            double tau = 6 * scale * i / POINTS, q, l = -0.5 * (tau / scale) * (tau / scale);
            struct num_mean_u m = weighted(s, tau * tau, &q);
            for (size_t k = 0; k < s->k; k++)
                l -= 0.5 * log(s->u[k] * s->u[k] + tau * tau);
            l += -0.5 * q + log(m.u);
            if (pass == 0) {
                top = fmax(top, l);
                continue;
            }
            double w = exp(l - top) * (i == 0 || i == POINTS ? 0.5 : 1), d = m.mean - s->x[0];
            sum += w;
            m1 += w * d;
            m2 += w * (m.u * m.u + d * d);
            t2 += w * tau * tau;
        }
    m1 /= sum;
    return (struct num_mean_u){s->x[0] + m1, sqrt(m2 / sum - m1 * m1), t2 / sum};
}

int num_combine(struct num_combined *out, const double *x, const double *u, size_t k,
                double tau_scale, struct error *err) {
    struct set s = {x, u, k};
    memset(out, 0, sizeof *out);
    if (k < 2) return fail(err, ERR_MISSING, "Give two values or more.", "%zu values.", k);
    for (size_t i = 0; i < k; i++)
        if (!isfinite(x[i]) || !(u[i] > 0) || !isfinite(u[i]))
            return fail(err, ERR_RANGE, "Give each value a standard uncertainty above 0.",
                        "Value %zu: %g with uncertainty %g.", i + 1, x[i], u[i]);
    out->k = k;
    out->fixed = weighted(&s, 0, &out->q);
    out->p = gsl_cdf_chisq_Q(out->q, (double)(k - 1));
    out->clash = out->p < 0.05;
    out->birge_ratio = sqrt(out->q / (double)(k - 1));
    out->birge = out->fixed;
    out->birge.u *= fmax(1, out->birge_ratio);
    out->dersimonian_laird = weighted(&s, dersimonian_laird(&s, out->q), NULL);
    out->paule_mandel = weighted(&s, paule_mandel(&s), NULL);
    out->reml = weighted(&s, reml(&s, out->paule_mandel.tau2), NULL);
    out->half_normal = (struct num_mean_u){NAN, NAN, NAN};
    if (tau_scale > 0) out->half_normal = half_normal(&s, tau_scale);
    return 0;
}

int num_combine_correlated(struct num_mean_u *out, const double *x, const double *v, size_t k,
                           double *w, struct error *err) {
    *out = (struct num_mean_u){NAN, NAN, 0};
    double *copy = MEM_NEW(double, k *k);
    if (!copy) return fail_memory(err);
    for (size_t i = 0; i < k * k; i++)
        copy[i] = v[i];
    for (size_t i = 0; i < k; i++)
        w[i] = 1;
    lapack_int rc =
        LAPACKE_dposv(LAPACK_ROW_MAJOR, 'L', (lapack_int)k, 1, copy, (lapack_int)k, w, 1);
    mem_free(copy);
    if (rc)
        return fail(err, ERR_RANGE,
                    "No correlation may be 1 or beyond, and they must fit together.",
                    "The covariance of the %zu values is not positive definite.", k);
    double total = 0, mean = 0;
    size_t negative = k;
    for (size_t i = 0; i < k; i++)
        total += w[i];
    for (size_t i = 0; i < k; i++) {
        w[i] /= total;
        mean += w[i] * (x[i] - x[0]);
        if (w[i] < 0) negative = i;
    }
    *out = (struct num_mean_u){x[0] + mean, 1 / sqrt(total), 0};
    if (negative == k) return 0;
    return fail(
        err, ERR_REFUSED,
        "Say how sure the correlation is, or keep the values side by side: a correlation "
        "above the ratio of the smaller to the larger uncertainty does this.",
        "Value %zu (%g) would get the negative weight %.3g, and the mean %g would leave the "
        "range of the values.",
        negative + 1, x[negative], w[negative], out->mean);
}
