#include "num/regression.h"

#include "num/random.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <string.h>

enum { MOST_COLUMNS = 40, REFINEMENTS = 2 };

struct qr {
    long double *a; /* [n][p]: R above, vectors below and on the diagonal */
    long double *beta, *diagonal;
    size_t n, p;
};

/* Householder vectors v_k with H = I - beta v v'; R's diagonal kept apart. */
static bool decompose(struct qr *q) {
    for (size_t k = 0; k < q->p; k++) {
        long double norm = 0;
        for (size_t i = k; i < q->n; i++)
            norm += q->a[i * q->p + k] * q->a[i * q->p + k];
        norm = sqrtl(norm);
        if (!(norm > 0)) return false;
        if (q->a[k * q->p + k] > 0) norm = -norm;
        q->diagonal[k] = norm;
        q->a[k * q->p + k] -= norm;
        q->beta[k] = -1 / (norm * q->a[k * q->p + k]);
        for (size_t j = k + 1; j < q->p; j++) {
            long double dot = 0;
            for (size_t i = k; i < q->n; i++)
                dot += q->a[i * q->p + k] * q->a[i * q->p + j];
            dot *= q->beta[k];
            for (size_t i = k; i < q->n; i++)
                q->a[i * q->p + j] -= dot * q->a[i * q->p + k];
        }
    }
    return true;
}

/* x = R^-1 Q' r; r is destroyed. */
static void solve(const struct qr *q, long double *r, long double *x) {
    for (size_t k = 0; k < q->p; k++) {
        long double dot = 0;
        for (size_t i = k; i < q->n; i++)
            dot += q->a[i * q->p + k] * r[i];
        dot *= q->beta[k];
        for (size_t i = k; i < q->n; i++)
            r[i] -= dot * q->a[i * q->p + k];
    }
    for (size_t k = q->p; k-- > 0;) {
        x[k] = r[k];
        for (size_t j = k + 1; j < q->p; j++)
            x[k] -= q->a[k * q->p + j] * x[j];
        x[k] /= q->diagonal[k];
    }
}

/* diag (R'R)^-1, and the ratio of the ends of R's diagonal as a condition. */
static void inverse_diagonal(const struct qr *q, long double *out, double *condition) {
    long double column[MOST_COLUMNS], least = INFINITY, most = 0;
    memset(out, 0, q->p * sizeof *out);
    for (size_t k = 0; k < q->p; k++) {
        least = fminl(least, fabsl(q->diagonal[k]));
        most = fmaxl(most, fabsl(q->diagonal[k]));
        for (size_t i = k + 1; i-- > 0;) {
            long double sum = i == k ? 1 : 0;
            for (size_t j = i + 1; j <= k; j++)
                sum -= q->a[i * q->p + j] * column[j];
            column[i] = sum / q->diagonal[i];
            out[i] += column[i] * column[i];
        }
    }
    *condition = (double)(most / least);
}

static bool has_constant(const double *x, size_t n, size_t p) {
    for (size_t k = 0; k < p; k++) {
        size_t i = 1;
        while (i < n && x[i * p + k] == x[k])
            i++;
        if (i == n && x[k] != 0) return true;
    }
    return false;
}

static int check_line(const double *x, const double *y, const double *w, size_t n, size_t p,
                      struct error *err) {
    if (p == 0 || p > MOST_COLUMNS || n < p)
        return fail(err, ERR_RANGE, "Use at least as many points as coefficients, at most 40.",
                    "%zu points for %zu coefficients.", n, p);
    for (size_t i = 0; i < n; i++) {
        bool good = isfinite(y[i]) && (!w || (w[i] > 0 && isfinite(w[i])));
        for (size_t k = 0; k < p; k++)
            good = good && isfinite(x[i * p + k]);
        if (!good)
            return fail(err, ERR_RANGE, "Leave the point out.",
                        "Point %zu is not made of ordinary numbers.", i + 1);
    }
    return 0;
}

static void summarise_line(struct num_line_fit *out, const double *x, const double *y,
                           const double *w, double level) {
    size_t n = out->n, p = out->p;
    long double rss = 0, total = 0, centre = 0, weights = 0;
    bool constant = has_constant(x, n, p);
    for (size_t i = 0; constant && i < n; i++) {
        centre += (w ? w[i] : 1) * ((long double)y[i] - y[0]);
        weights += w ? w[i] : 1;
    }
    centre = constant ? y[0] + centre / weights : 0;
    for (size_t i = 0; i < n; i++) {
        long double wi = w ? w[i] : 1, d = y[i] - centre;
        rss += wi * (long double)out->residual[i] * out->residual[i];
        total += wi * d * d;
    }
    out->rss = (double)rss;
    out->freedom = n - p;
    out->sd = out->freedom ? sqrt(out->rss / (double)out->freedom) : NAN;
    out->r2 = (double)(1 - rss / total);
    size_t slopes = p - constant;
    out->f = slopes && out->freedom
                 ? (double)((total - rss) / slopes / (rss / (long double)out->freedom))
                 : NAN;
    out->f_p = isnan(out->f) ? NAN : gsl_cdf_fdist_Q(out->f, (double)slopes, (double)out->freedom);
    double t = out->freedom ? gsl_cdf_tdist_Pinv(0.5 + level / 2, (double)out->freedom) : NAN;
    for (size_t k = 0; k < p; k++) {
        out->se[k] *= out->sd;
        out->low[k] = out->b[k] - t * out->se[k];
        out->high[k] = out->b[k] + t * out->se[k];
    }
}

int num_line_fit(struct num_line_fit *out, const double *x, const double *y, const double *w,
                 size_t n, size_t p, double level, struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = check_line(x, y, w, n, p, err);
    if (rc) return rc;
    out->n = n;
    out->p = p;
    double *parts = ARENA_NEW(arena, double, 4 * p + n);
    long double *work = ARENA_NEW(arena, long double, n *p + 2 * p + n);
    if (!parts || !work) return fail_memory(err);
    out->b = parts, out->se = parts + p, out->low = parts + 2 * p, out->high = parts + 3 * p;
    out->residual = parts + 4 * p;
    struct qr q = {work, work + n * p, work + n * p + p, n, p};
    long double *r = work + n * p + 2 * p, b[MOST_COLUMNS] = {0}, d[MOST_COLUMNS];
    long double size[MOST_COLUMNS] = {0}, inverse[MOST_COLUMNS];
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < p; k++)
            size[k] += (w ? w[i] : 1) * (long double)x[i * p + k] * x[i * p + k];
    for (size_t k = 0; k < p; k++) {
        size[k] = sqrtl(size[k]);
        if (!(size[k] > 0))
            return fail(err, ERR_SOLVE, "Leave it out.", "Column %zu is 0 throughout.", k + 1);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < p; k++)
            q.a[i * p + k] = sqrtl(w ? w[i] : 1) * x[i * p + k] / size[k];
    bool whole = decompose(&q);
    if (whole) inverse_diagonal(&q, inverse, &out->condition);
    if (!whole || out->condition > 1e17)
        return fail(err, ERR_SOLVE, "Leave out a column that the others already tell.",
                    "The %zu columns depend on one another.", p);
    for (int step = 0; step <= REFINEMENTS; step++) { /* b += QR \ (y - X b) */
        for (size_t i = 0; i < n; i++) {
            long double sum = y[i];
            for (size_t k = 0; k < p; k++)
                sum -= b[k] * x[i * p + k];
            r[i] = sqrtl(w ? w[i] : 1) * sum;
        }
        solve(&q, r, d);
        for (size_t k = 0; k < p; k++)
            b[k] += d[k] / size[k];
    }
    for (size_t i = 0; i < n; i++) {
        long double sum = y[i];
        for (size_t k = 0; k < p; k++)
            sum -= b[k] * x[i * p + k];
        out->residual[i] = (double)sum;
    }
    for (size_t k = 0; k < p; k++) {
        out->b[k] = (double)b[k];
        out->se[k] = (double)(sqrtl(inverse[k]) / size[k]);
    }
    summarise_line(out, x, y, w, level);
    return 0;
}

/* ---- analysis of variance ------------------------------------------------------------------- */

int num_anova(struct num_anova *out, const double *value, const double *group, size_t n,
              struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    long double *sum = ARENA_NEW(arena, long double, n + 1);
    double *label = ARENA_NEW(arena, double, n + 1), *count = ARENA_NEW(arena, double, n + 1);
    size_t *of = ARENA_NEW(arena, size_t, n + 1), k = 0;
    if (!sum || !label || !count || !of) return fail_memory(err);
    long double all = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(value[i]))
            return fail(err, ERR_RANGE, "Leave it out.", "Value %zu is not a number.", i + 1);
        size_t g = 0;
        while (g < k && label[g] != group[i])
            g++;
        if (g == k) label[k++] = group[i];
        of[i] = g;
        sum[g] += (long double)value[i] - value[0];
        all += (long double)value[i] - value[0];
        count[g]++;
    }
    if (k < 2 || n <= k)
        return fail(err, ERR_MISSING, "Give two groups or more, one of them with two values.",
                    "%zu values in %zu groups.", n, k);
    long double between = 0, within = 0, mean = all / n;
    for (size_t g = 0; g < k; g++) {
        long double d = sum[g] / count[g] - mean;
        between += count[g] * d * d;
        squares += (long double)count[g] * count[g];
    }
    for (size_t i = 0; i < n; i++) {
        long double d = ((long double)value[i] - value[0]) - sum[of[i]] / count[of[i]];
        within += d * d;
    }
    *out = (struct num_anova){.groups = k,
                              .n = n,
                              .between = (double)between,
                              .within = (double)within,
                              .freedom_between = (double)(k - 1),
                              .freedom_within = (double)(n - k)};
    long double msb = between / (k - 1), msw = within / (n - k);
    out->f = (double)(msb / msw);
    out->p = gsl_cdf_fdist_Q(out->f, out->freedom_between, out->freedom_within);
    out->r2 = (double)(between / (between + within));
    out->sd_within = (double)sqrtl(msw);
    long double size = (n - squares / n) / (k - 1); /* n0 of unequal groups: Searle 1971, ch. 10 */
    out->sd_between = (double)sqrtl(fmaxl(0, (msb - msw) / size));
    return 0;
}

/* ---- factorial ------------------------------------------------------------------------------ */

enum { MOST_FACTORS = 10 };

/* A word of letters as a set of bits; false for an unknown letter. */
static bool word_bits(const char *factors, const char *word, size_t length, unsigned *bits) {
    *bits = 0;
    for (size_t i = 0; i < length; i++) {
        const char *at = strchr(factors, word[i]);
        if (!at || word[i] == 0) return false;
        *bits ^= 1u << (at - factors);
    }
    return true;
}

static void bits_word(const char *factors, unsigned bits, char *word, size_t size) {
    size_t n = 0;
    for (size_t k = 0; factors[k] && n + 1 < size; k++)
        if (bits >> k & 1) word[n++] = factors[k];
    word[n] = 0;
}

static int count_bits(unsigned bits) {
    return __builtin_popcount(bits);
}

/* generator[k] of factor base + k as a set of base factors. */
static int read_generators(const char *factors, const char *const *text, size_t n_gen, size_t base,
                           unsigned *generator, struct error *err) {
    for (size_t k = 0; k < n_gen; k++) {
        const char *t = text[k];
        unsigned bits;
        if (!t[0] || t[1] != '=' || t[0] != factors[base + k] ||
            !word_bits(factors, t + 2, strlen(t + 2), &bits) || bits == 0 || bits >> base)
            return fail(err, ERR_INPUT,
                        "Name the base factors first, then one generator for each further factor "
                        "in order, as \"D=ABC\".",
                        "Generator %zu, \"%.20s\", does not give factor %c from the first %zu "
                        "factors.",
                        k + 1, t, factors[base + k], base);
        generator[k] = bits;
    }
    return 0;
}

/* What the words of all factors come to in base factors: equal sums are aliases. */
static unsigned reduce(unsigned bits, size_t base, const unsigned *generator, size_t n_gen) {
    unsigned sum = bits & ((1u << base) - 1);
    for (size_t k = 0; k < n_gen; k++)
        if (bits >> (base + k) & 1) sum ^= generator[k];
    return sum;
}

/* The shortest word for this contrast, and the others of up to three letters as aliases. */
static void name_effect(struct num_effect *e, const char *factors, unsigned contrast, size_t base,
                        const unsigned *generator, size_t n_gen) {
    unsigned all = 1u << (base + n_gen), best = 0;
    for (unsigned w = 1; w < all; w++)
        if (reduce(w, base, generator, n_gen) == contrast &&
            (!best || count_bits(w) < count_bits(best)))
            best = w;
    bits_word(factors, best, e->name, sizeof e->name);
    e->alias[0] = 0;
    for (unsigned w = 1; w < all; w++) {
        char word[MOST_FACTORS + 1];
        if (w == best || count_bits(w) > 3 || reduce(w, base, generator, n_gen) != contrast)
            continue;
        bits_word(factors, w, word, sizeof word);
        size_t used = strlen(e->alias);
        if (used + strlen(word) + 2 < sizeof e->alias) {
            if (used) strcat(e->alias, " ");
            strcat(e->alias, word);
        }
    }
}

static double median(double *v, size_t n) {
    for (size_t i = 1; i < n; i++) /* insertion: a few dozen effects */
        for (size_t k = i; k > 0 && v[k] < v[k - 1]; k--) {
            double t = v[k];
            v[k] = v[k - 1];
            v[k - 1] = t;
        }
    return n == 0 ? NAN : n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

/* Lenth 1989: s0 = 1.5 median|e|, PSE = 1.5 median of |e| < 2.5 s0, on m/3 degrees. */
static int lenth(struct num_factorial *out, double level, struct arena *arena, struct error *err) {
    size_t m = out->n, k = 0;
    double *size = ARENA_NEW(arena, double, m + 1), *small = ARENA_NEW(arena, double, m + 1);
    if (!size || !small) return fail_memory(err);
    for (size_t i = 0; i < m; i++)
        size[i] = fabs(out->effects[i].effect);
    double s0 = 1.5 * median(size, m);
    for (size_t i = 0; i < m; i++)
        if (size[i] < 2.5 * s0) small[k++] = size[i];
    out->pse = 1.5 * median(small, k);
    double freedom = (double)m / 3, all = (1 + pow(level, 1 / (double)m)) / 2;
    out->margin = gsl_cdf_tdist_Pinv(0.5 + level / 2, freedom) * out->pse;
    out->simultaneous = gsl_cdf_tdist_Pinv(all, freedom) * out->pse;
    for (size_t i = 0; i < m; i++) {
        double se = out->pure_freedom ? out->pure_sd : out->pse;
        double f = out->pure_freedom ? (double)out->pure_freedom : freedom;
        out->effects[i].t = out->effects[i].effect / se;
        out->effects[i].p = 2 * gsl_cdf_tdist_Q(fabs(out->effects[i].t), f);
    }
    return 0;
}

int num_factorial(struct num_factorial *out, const char *factors, const char *const *generators,
                  size_t n_gen, const double *y, size_t n_y, size_t repeats, double level,
                  struct arena *arena, struct error *err) {
    memset(out, 0, sizeof *out);
    size_t k = strlen(factors);
    unsigned generator[MOST_FACTORS];
    if (repeats == 0) repeats = 1;
    if (k > MOST_FACTORS || n_gen + 2 > k)
        return fail(err, ERR_RANGE, "Use 2 to 10 factors, two or more of them free.",
                    "%zu factors with %zu generators.", k, n_gen);
    size_t base = k - n_gen, runs = (size_t)1 << base;
    if (n_y != runs * repeats)
        return fail(err, ERR_INPUT, "Give the results in standard order, repeats together.",
                    "%zu results; %zu runs with %zu repeats make %zu.", n_y, runs, repeats,
                    runs * repeats);
    int rc = read_generators(factors, generators, n_gen, base, generator, err);
    if (rc) return rc;
    double *mean = ARENA_NEW(arena, double, runs), within = 0;
    out->n = runs - 1;
    out->effects = ARENA_NEW(arena, struct num_effect, out->n);
    if (!mean || !out->effects) return fail_memory(err);
    for (size_t r = 0; r < runs; r++) {
        for (size_t j = 0; j < repeats; j++)
            mean[r] += y[r * repeats + j] / (double)repeats;
        for (size_t j = 0; j < repeats; j++)
            within += (y[r * repeats + j] - mean[r]) * (y[r * repeats + j] - mean[r]);
        out->mean += mean[r] / (double)runs;
    }
    for (unsigned c = 1; c < runs; c++) {
        struct num_effect *e = &out->effects[c - 1];
        for (unsigned r = 0; r < runs; r++) {
            /* product of the levels of the factors in the contrast */
            int minus = (count_bits(c) - count_bits(c & r)) % 2;
            e->effect += (minus ? -mean[r] : mean[r]) / (double)(runs / 2);
        }
        name_effect(e, factors, c, base, generator, n_gen);
    }
    out->pure_freedom = runs * (repeats - 1);
    /* Standard error of an effect: difference of two means of runs/2 * repeats values. */
    out->pure_sd = out->pure_freedom
                       ? sqrt(within / (double)out->pure_freedom * 4 / (double)(runs * repeats))
                       : NAN;
    return lenth(out, level, arena, err);
}

/* ---- power ---------------------------------------------------------------------------------- */

/* P(T <= t) = int P(Z <= t s - shift) f(s) ds, s^2 f ~ chi^2_f; Simpson's rule over the range that
 * holds all but 1e-15 of s, which is smooth: 2000 steps give 1e-12. */
double num_noncentral_t(double t, double freedom, double shift) {
    enum { STEPS = 2000 };
    double lo = sqrt(gsl_cdf_chisq_Pinv(1e-16, freedom) / freedom),
           hi = sqrt(gsl_cdf_chisq_Qinv(1e-16, freedom) / freedom), h = (hi - lo) / STEPS, sum = 0;
    double norm = log(2) + freedom / 2 * log(freedom / 2) - lgamma(freedom / 2);
    for (int i = 0; i <= STEPS; i++) {
        double s = lo + h * i, w = i == 0 || i == STEPS ? 1 : i % 2 ? 4 : 2;
        double density = s > 0 ? exp(norm + (freedom - 1) * log(s) - freedom * s * s / 2)
                               : (freedom == 1 ? exp(norm) : 0);
        sum += w * density * gsl_cdf_ugaussian_P(t * s - shift);
    }
    return sum * h / 3;
}

double num_power(enum num_comparison what, double n, double d, double alpha) {
    double freedom = what == NUM_TWO_GROUPS ? 2 * n - 2 : n - 1;
    double shift = d * sqrt(what == NUM_TWO_GROUPS ? n / 2 : n);
    if (!(freedom > 0)) return NAN;
    double c = gsl_cdf_tdist_Qinv(alpha / 2, freedom);
    return 1 - num_noncentral_t(c, freedom, shift) + num_noncentral_t(-c, freedom, shift);
}

double num_power_n(enum num_comparison what, double d, double alpha, double power) {
    double lo = what == NUM_TWO_GROUPS ? 1.01 : 1.01, hi = 1e6;
    if (!(fabs(d) > 0) || num_power(what, hi, d, alpha) < power) return NAN;
    if (num_power(what, 2, d, alpha) >= power) return 2;
    for (int i = 0; i < 200; i++) {
        double mid = (lo + hi) / 2;
        *(num_power(what, mid, d, alpha) < power ? &lo : &hi) = mid;
    }
    return (lo + hi) / 2;
}

double num_power_difference(enum num_comparison what, double n, double alpha, double power) {
    double lo = 0, hi = 1;
    while (hi < 1e4 && num_power(what, n, hi, alpha) < power)
        hi *= 2;
    if (!(hi < 1e4)) return NAN;
    for (int i = 0; i < 100; i++) {
        double mid = (lo + hi) / 2;
        *(num_power(what, n, mid, alpha) < power ? &lo : &hi) = mid;
    }
    return (lo + hi) / 2;
}

/* ---- randomisation -------------------------------------------------------------------------- */

static const double MOST_ARRANGEMENTS = 1e6;

struct tally {
    double observed, hair; /* sums within a hair of one another are ties */
    double large, extreme, of;
};

static void tally_one(struct tally *t, double sum) {
    t->of++;
    if (t->observed >= 0 ? sum >= t->observed - t->hair : sum <= t->observed + t->hair) t->large++;
    if (fabs(sum) >= fabs(t->observed) - t->hair) t->extreme++;
}

static void close_tally(struct num_randomisation *out, const struct tally *t, double all) {
    out->as_large = t->large;
    out->as_extreme = t->extreme;
    out->of = t->of;
    out->exact = t->of == all;
    /* Drawn at random, the arrangement seen counts as one of them: Phipson & Smyth 2010. */
    double extra = out->exact ? 0 : 1;
    out->p_one = (t->large + extra) / (t->of + extra);
    out->p_two = (t->extreme + extra) / (t->of + extra);
    out->p_two_error = out->exact ? 0 : sqrt(out->p_two * (1 - out->p_two) / t->of);
}

int num_randomise_pairs(struct num_randomisation *out, const double *d, size_t n, uint64_t seed,
                        struct error *err) {
    memset(out, 0, sizeof *out);
    if (n < 2 || n > 10000) return fail(err, ERR_RANGE, "Give 2 to 10,000 pairs.", "%zu pairs.", n);
    struct tally t = {0};
    double size = 0, squares = 0, mean = 0, all = pow(2, (double)n);
    for (size_t i = 0; i < n; i++) {
        t.observed += d[i];
        size += fabs(d[i]);
    }
    mean = t.observed / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (d[i] - mean) * (d[i] - mean);
    t.hair = 1e-12 * size;
    if (all <= MOST_ARRANGEMENTS)
        for (uint32_t signs = 0; signs < (uint32_t)all; signs++) {
            double sum = 0;
            for (size_t i = 0; i < n; i++)
                sum += signs >> i & 1 ? -d[i] : d[i];
            tally_one(&t, sum);
        }
    else {
        struct num_random r;
        num_random_begin(&r, seed, num_hash("randomise pairs"), 0);
        for (double k = 0; k < MOST_ARRANGEMENTS; k++) {
            double sum = 0;
            for (size_t i = 0; i < n; i++)
                sum += num_random_bits(&r) & 1 ? -d[i] : d[i];
            tally_one(&t, sum);
        }
    }
    out->difference = mean;
    out->freedom = (double)(n - 1);
    out->t = mean / sqrt(squares / out->freedom / (double)n);
    out->p_t = 2 * gsl_cdf_tdist_Q(fabs(out->t), out->freedom);
    out->least_p = 2 / all;
    close_tally(out, &t, all);
    return 0;
}

static double choose(size_t n, size_t k) {
    double c = 1;
    for (size_t i = 1; i <= k; i++)
        c = c * (double)(n - k + i) / (double)i;
    return floor(c + 0.5);
}

/* All ways to choose n_b of n values, in lexicographic order of indices. */
static void all_choices(struct tally *t, const double *v, size_t n, size_t n_b, double scale_b,
                        double total, double scale_a) {
    size_t pick[64];
    for (size_t i = 0; i < n_b; i++)
        pick[i] = i;
    for (;;) {
        double sum = 0;
        for (size_t i = 0; i < n_b; i++)
            sum += v[pick[i]];
        tally_one(t, sum * scale_b - (total - sum) * scale_a);
        size_t i = n_b;
        while (i > 0 && pick[i - 1] == n - n_b + i - 1)
            i--;
        if (i == 0) return;
        pick[i - 1]++;
        for (; i < n_b; i++)
            pick[i] = pick[i - 1] + 1;
    }
}

int num_randomise_groups(struct num_randomisation *out, const double *a, size_t n_a,
                         const double *b, size_t n_b, uint64_t seed, struct error *err) {
    enum { MOST = 2000 };
    memset(out, 0, sizeof *out);
    size_t n = n_a + n_b, perm[MOST];
    if (n_a < 1 || n_b < 1 || n < 3 || n > MOST)
        return fail(err, ERR_RANGE, "Give 3 to 2000 values in two groups.", "%zu and %zu values.",
                    n_a, n_b);
    double v[MOST], mean_a = 0, mean_b = 0, squares = 0, size = 0, total = 0;
    for (size_t i = 0; i < n; i++) { /* from the first value on: common parts take no digits */
        v[i] = (i < n_a ? a[i] : b[i - n_a]) - a[0];
        size += fabs(v[i]);
        total += v[i];
        *(i < n_a ? &mean_a : &mean_b) += v[i] / (double)(i < n_a ? n_a : n_b);
    }
    for (size_t i = 0; i < n; i++) {
        double d = v[i] - (i < n_a ? mean_a : mean_b);
        squares += d * d;
    }
    struct tally t = {.observed = mean_b - mean_a, .hair = 1e-12 * size};
    double all = n_a <= 64 && n_b <= 64 ? choose(n, n_b < n_a ? n_b : n_a) : INFINITY;
    if (all <= MOST_ARRANGEMENTS)
        all_choices(&t, v, n, n_b, 1 / (double)n_b, total, 1 / (double)n_a);
    else {
        struct num_random r;
        num_random_begin(&r, seed, num_hash("randomise groups"), 0);
        for (double k = 0; k < MOST_ARRANGEMENTS; k++) {
            double sum = 0;
            num_random_permutation(&r, perm, n);
            for (size_t i = 0; i < n_b; i++)
                sum += v[perm[i]];
            tally_one(&t, sum / (double)n_b - (total - sum) / (double)n_a);
        }
    }
    out->difference = t.observed;
    out->freedom = (double)(n - 2);
    out->t = t.observed / sqrt(squares / out->freedom * (1 / (double)n_a + 1 / (double)n_b));
    out->p_t = 2 * gsl_cdf_tdist_Q(fabs(out->t), out->freedom);
    out->least_p = (n_a == n_b ? 2 : 1) / all;
    close_tally(out, &t, all);
    return 0;
}

void num_run_order(size_t *order, size_t n, uint64_t seed) {
    struct num_random r;
    num_random_begin(&r, seed, num_hash("run order"), 0);
    num_random_permutation(&r, order, n);
}
