#include "shape/seam.h"

#include "base/mem.h"
#include "num/random.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_of(double *v, size_t n) {
    qsort(v, n, sizeof *v, ascending);
    return n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

enum { MOST_PITCHES = 1000000 }; /* in one gap: more is a slip of the pen, not a multiple */

static int gaps_check(const double *gap, size_t n, size_t least, struct error *err) {
    if (n < least)
        return fail(err, ERR_MISSING, "Measure more gaps along the seam.",
                    "%zu gaps; at least %zu are needed.", n, least);
    for (size_t i = 0; i < n; i++)
        if (!(gap[i] > 0) || !isfinite(gap[i]))
            return fail(err, ERR_RANGE, "Measure the gap again or leave it out.",
                        "Gap %zu is %g mm; a gap must be above 0.", i + 1, gap[i]);
    return 0;
}

/* The median of gaps not over 1.5 times the smaller half's median: doubles must not pull it. */
static double first_pitch(const double *gap, size_t n, double *work) {
    memcpy(work, gap, n * sizeof *gap);
    double low = median_of(work, n);
    low = median_of(work, (n + 1) / 2); /* of the sorted smaller half */
    size_t k = 0;
    for (size_t i = 0; i < n; i++)
        if (gap[i] < 1.5 * low) work[k++] = gap[i];
    return median_of(work, k);
}

int shape_seam_spacing(struct shape_seam *out, const double *gap, size_t n, struct arena *arena,
                       struct error *err) {
    *out = (struct shape_seam){0};
    int rc = gaps_check(gap, n, 2, err);
    if (rc) return rc;
    double *work = ARENA_NEW(arena, double, n);
    out->multiple = ARENA_NEW(arena, long, n);
    if (!work || !out->multiple) return fail_memory(err);
    double pitch = first_pitch(gap, n, work);
    for (int round = 0; round < 20; round++) {
        double top = 0, below = 0;
        int moved = 0;
        for (size_t i = 0; i < n; i++) {
            double k = fmax(1, rint(gap[i] / pitch));
            /* Stitches vary by more than 15 %, so a single gap is one up to where a double could
             * begin to be meant. */
            bool single = k == 1 && gap[i] < (1.5 - SHAPE_SEAM_FIT) * pitch;
            bool fits = k <= MOST_PITCHES && fabs(gap[i] - k * pitch) <= SHAPE_SEAM_FIT * pitch;
            long m = single || fits ? (long)k : 0;
            moved |= m != out->multiple[i];
            out->multiple[i] = m;
            if (m) top += gap[i], below += m; /* variance of k pitches grows as k */
        }
        pitch = top / below;
        if (!moved) break;
    }
    out->pitch = pitch;
    double squares = 0, total = 0, at = 0;
    for (size_t i = 0; i < n; i++) {
        long k = out->multiple[i];
        if (!k) continue;
        squares += pow(gap[i] - k * pitch, 2) / k;
        total += k, out->gaps++, out->missing += (size_t)(k - 1);
    }
    out->sd = out->gaps > 1 ? sqrt(squares / (out->gaps - 1)) : NAN;
    out->cv = out->sd / pitch;
    out->u_pitch = out->sd / sqrt(total);
    out->missing_at = ARENA_NEW(arena, double, out->missing);
    if (!out->missing_at) return fail_memory(err);
    for (size_t i = 0, k = 0; i < n; at += gap[i], i++)
        for (long j = 1; j < out->multiple[i]; j++)
            out->missing_at[k++] = at + gap[i] * j / out->multiple[i];
    return 0;
}

/* One class of log gaps under a normal-inverse-gamma prior (Gelman et al., Bayesian Data Analysis
 * 3rd ed., 3.3): log evidence, and the posterior Student t of its mean. */
struct class_fit {
    double log_evidence, mean, scale, freedom;
};

static struct class_fit class_evidence(const double *x, size_t n, double m0) {
    const double k0 = 0.05, a0 = 2, b0 = 2 * 0.15 * 0.15;
    double mean = 0, s = 0;
    for (size_t i = 0; i < n; i++)
        mean += x[i] / n;
    for (size_t i = 0; i < n; i++)
        s += (x[i] - mean) * (x[i] - mean);
    double kn = k0 + n, an = a0 + n / 2.0;
    double bn = b0 + s / 2 + k0 * n * (mean - m0) * (mean - m0) / (2 * kn);
    struct class_fit f;
    f.log_evidence = lgamma(an) - lgamma(a0) + a0 * log(b0) - an * log(bn) + 0.5 * log(k0 / kn) -
                     n / 2.0 * log(2 * M_PI);
    f.mean = n ? (k0 * m0 + n * mean) / kn : m0;
    f.freedom = 2 * an;
    f.scale = sqrt(bn / (an * kn));
    return f;
}

/* P(mean of `big` > mean of `small`), both Student t, by the midpoint rule over quantiles. */
static double above(const struct class_fit *big, const struct class_fit *small) {
    enum { N = 64 };
    double sum = 0;
    for (int i = 0; i < N; i++) {
        double x = big->mean + big->scale * gsl_cdf_tdist_Pinv((i + 0.5) / N, big->freedom);
        sum += gsl_cdf_tdist_P((x - small->mean) / small->scale, small->freedom);
    }
    return sum / N;
}

static void group_evidence(struct shape_seam_groups *out, const double *log_gap, size_t n, size_t g,
                           double m0, double *work) {
    double best = -INFINITY, plain = 0, ordered = 0, top = -INFINITY;
    double each[SHAPE_SEAM_GROUPS], factor[SHAPE_SEAM_GROUPS];
    for (size_t phase = 0; phase < g; phase++) {
        size_t between = 0, within = 0;
        for (size_t i = 0; i < n; i++)
            if (i % g == phase)
                work[between++] = log_gap[i];
            else
                work[n - ++within] = log_gap[i];
        struct class_fit b = class_evidence(work, between, m0);
        struct class_fit w = class_evidence(work + n - within, within, m0);
        each[phase] = b.log_evidence + w.log_evidence;
        factor[phase] = 2 * above(&b, &w);
        top = fmax(top, each[phase]);
        double score = each[phase] + log(factor[phase]);
        if (score > best) best = score, out->phase[g - 1] = (long)phase;
    }
    for (size_t phase = 0; phase < g; phase++) {
        double e = exp(each[phase] - top) / g;
        plain += e, ordered += e * factor[phase];
    }
    out->log_evidence[g - 1] = top + log(plain);
    out->ordered[g - 1] = top + log(ordered);
}

/* Even spacing has prior 1/2, the others share the rest. */
static void weigh_groups(struct shape_seam_groups *out) {
    double top = -INFINITY, sum = 0;
    for (int i = 0; i < SHAPE_SEAM_GROUPS; i++)
        top = fmax(top, out->ordered[i]);
    for (int i = 0; i < SHAPE_SEAM_GROUPS; i++) {
        double prior = i == 0 ? 0.5 : 0.5 / (SHAPE_SEAM_GROUPS - 1);
        sum += out->posterior[i] = prior * exp(out->ordered[i] - top);
    }
    out->best = 0;
    for (int i = 0; i < SHAPE_SEAM_GROUPS; i++) {
        out->posterior[i] /= sum;
        if (out->posterior[i] > out->posterior[out->best]) out->best = i;
    }
    out->decided = out->posterior[out->best] > 0.95;
    out->best++;
}

void shape_seam_groups_together(struct shape_seam_groups *out,
                                const struct shape_seam_groups *groups, size_t n) {
    memset(out, 0, sizeof *out);
    for (size_t k = 0; k < n; k++)
        for (int i = 0; i < SHAPE_SEAM_GROUPS; i++) {
            /* A row too short for groups of n says nothing about them: as even spacing has it. */
            bool says = groups[k].ordered[i] > -INFINITY;
            out->log_evidence[i] += groups[k].log_evidence[says ? i : 0];
            out->ordered[i] += groups[k].ordered[says ? i : 0];
        }
    weigh_groups(out);
}

int shape_seam_groups(struct shape_seam_groups *out, const double *gap, size_t n, double centre,
                      struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = gaps_check(gap, n, 4, err);
    if (rc) return rc;
    double *log_gap = MEM_NEW(double, n), *work = MEM_NEW(double, n);
    if (!log_gap || !work) {
        mem_free(log_gap);
        mem_free(work);
        return fail_memory(err);
    }
    for (size_t i = 0; i < n; i++)
        log_gap[i] = work[i] = log(gap[i]);
    double m0 = isnan(centre) ? median_of(work, n) : log(centre);
    out->log_evidence[0] = out->ordered[0] = class_evidence(log_gap, n, m0).log_evidence;
    for (size_t g = 2; g <= SHAPE_SEAM_GROUPS; g++)
        if (g < n)
            group_evidence(out, log_gap, n, g, m0, work);
        else
            out->log_evidence[g - 1] = out->ordered[g - 1] = -INFINITY;
    weigh_groups(out);
    mem_free(log_gap);
    mem_free(work);
    return 0;
}

double shape_seam_quantogram(const double *x, size_t n, double q) {
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += cos(2 * M_PI * x[i] / q);
    return sqrt(2.0 / n) * sum;
}

enum { SCAN = 2000 };

static double scan_q(double q_low, double q_high, int i) {
    return 1 / (1 / q_high + (1 / q_low - 1 / q_high) * i / (SCAN - 1));
}

static double highest(const double *x, size_t n, double q_low, double q_high, int *at) {
    double best = -INFINITY;
    for (int i = 0; i < SCAN; i++) {
        double phi = shape_seam_quantogram(x, n, scan_q(q_low, q_high, i));
        if (phi > best) {
            best = phi;
            if (at) *at = i;
        }
    }
    return best;
}

/* Largest local peak whose height is within 10 % of the highest. */
static double largest_peak(const double *x, size_t n, double q_low, double q_high, double top) {
    double before = -INFINITY, now = shape_seam_quantogram(x, n, q_high);
    for (int i = 0; i < SCAN; i++) {
        double after =
            i + 1 < SCAN ? shape_seam_quantogram(x, n, scan_q(q_low, q_high, i + 1)) : -INFINITY;
        if (now >= before && now >= after && now >= 0.9 * top) return scan_q(q_low, q_high, i);
        before = now, now = after;
    }
    return NAN;
}

int shape_seam_unit(struct shape_seam_unit *out, const double *x, size_t n, double q_low,
                    double q_high, size_t sets, uint64_t seed, struct error *err) {
    *out = (struct shape_seam_unit){.sets = sets ? sets : 1000};
    int rc = gaps_check(x, n, 4, err);
    if (rc) return rc;
    if (!(0 < q_low && q_low < q_high))
        return fail(err, ERR_RANGE, "Give a range of units, smaller one first, above 0.",
                    "Units from %g to %g mm.", q_low, q_high);
    int at = 0;
    out->phi = highest(x, n, q_low, q_high, &at);
    double lo = scan_q(q_low, q_high, at + 1 < SCAN ? at + 1 : at);
    double hi = scan_q(q_low, q_high, at > 0 ? at - 1 : at);
    for (int i = 0; i < 60; i++) { /* thirds: the peak is smooth and single between neighbours */
        double a = lo + (hi - lo) / 3, b = hi - (hi - lo) / 3;
        if (shape_seam_quantogram(x, n, a) > shape_seam_quantogram(x, n, b))
            hi = b;
        else
            lo = a;
    }
    out->q = (lo + hi) / 2;
    out->phi = fmax(out->phi, shape_seam_quantogram(x, n, out->q));
    out->largest = largest_peak(x, n, q_low, q_high, out->phi);
    if (fabs(out->largest / out->q - 1) < 2.0 / SCAN) out->largest = out->q;
    double *y = MEM_NEW(double, n), *height = MEM_NEW(double, out->sets);
    if (!y || !height)
        rc = fail_memory(err);
    else {
        size_t reached = 0;
        for (size_t k = 0; k < out->sets; k++) {
            struct num_random r;
            num_random_begin(&r, seed, num_hash("seam.unit"), k);
            for (size_t i = 0; i < n; i++)
                y[i] = x[i] + q_high * (num_random_uniform(&r) - 0.5);
            height[k] = highest(y, n, q_low, q_high, NULL);
            reached += height[k] >= out->phi;
        }
        qsort(height, out->sets, sizeof *height, ascending);
        out->p = (reached + 1.0) / (out->sets + 1.0); /* never 0: Davison & Hinkley 1997, 4.2 */
        out->level95 = height[(size_t)(0.95 * (out->sets - 1))];
        out->level99 = height[(size_t)(0.99 * (out->sets - 1))];
    }
    mem_free(y);
    mem_free(height);
    return rc;
}

int shape_seam_count(struct shape_seam_count *out, double edge, double u_edge, double mean,
                     double sd, size_t gaps, struct error *err) {
    *out = (struct shape_seam_count){0};
    if (!(edge > 0) || !(u_edge >= 0) || !(mean > 0) || !(sd >= 0))
        return fail(err, ERR_RANGE, "Give edge and mean gap above 0 and ± not below 0, in mm.",
                    "Edge %g ± %g mm, gap %g mm, sd %g mm.", edge, u_edge, mean, sd);
    if (gaps < 2)
        return fail(err, ERR_MISSING, "Measure two gaps or more.",
                    "A count over the edge from %zu gap.", gaps);
    double N = edge / mean, c = sd / mean, k = (double)gaps;
    out->expected = N;
    out->sd = sqrt(N * c * c + pow(N * c / sqrt(k), 2) + pow(N * u_edge / edge, 2));
    /* Exact over a grid: mean gap by Student t with k-1 degrees, edge normal, counting noise
     * normal. 201 x 21 x 41 equally likely cells; sorted. */
    enum { T = 201, E = 21, C = 41 };
    size_t cells = 0, edges = u_edge > 0 ? E : 1;
    double *v = MEM_NEW(double, (size_t)T *E *C), sum = 0, squares = 0;
    if (!v) return fail_memory(err);
    for (int t = 0; t < T; t++) {
        double m = mean + sd / sqrt(k) * gsl_cdf_tdist_Pinv((t + 0.5) / T, k - 1);
        if (!(m > 0)) continue;
        for (size_t e = 0; e < edges; e++) {
            double S = edge + (edges > 1 ? u_edge * gsl_cdf_ugaussian_Pinv((e + 0.5) / E) : 0);
            for (int q = 0; q < C; q++)
                v[cells++] =
                    S / m + c * sqrt(fmax(S, 0) / m) * gsl_cdf_ugaussian_Pinv((q + 0.5) / C);
        }
    }
    for (size_t i = 0; i < cells; i++)
        sum += v[i] / cells;
    for (size_t i = 0; i < cells; i++)
        squares += (v[i] - sum) * (v[i] - sum) / cells;
    out->sd_t = sqrt(squares);
    qsort(v, cells, sizeof *v, ascending);
    out->low = v[(size_t)(0.05 * (cells - 1))], out->high = v[(size_t)(0.95 * (cells - 1))];
    mem_free(v);
    return 0;
}

static int rows_total(double *pitch, double *relative, const struct shape_seam_row *row, size_t n,
                      double cv, const char *what, struct error *err) {
    double length = 0, gaps = 0, var = 0;
    if (!n)
        return fail(err, ERR_MISSING, "Give at least one row of each.", "No row on the %s.", what);
    for (size_t i = 0; i < n; i++) {
        if (!(row[i].pitch > 0) || !(row[i].gaps >= 1) || !(row[i].u >= 0))
            return fail(err, ERR_RANGE,
                        "A row needs a pitch above 0, one gap or more, a ± not below 0.",
                        "Row %zu on the %s: pitch %g mm, %g gaps, ± %g mm.", i + 1, what,
                        row[i].pitch, row[i].gaps, row[i].u);
        length += row[i].pitch * row[i].gaps, gaps += row[i].gaps, var += row[i].u * row[i].u;
    }
    *pitch = length / gaps;
    *relative = sqrt(var / (length * length) + cv * cv / gaps);
    return 0;
}

int shape_seam_shrinkage(struct shape_seam_shrink *out, const struct shape_seam_row *sheet,
                         size_t n_sheet, const struct shape_seam_row *rod, size_t n_rod, double cv,
                         struct error *err) {
    *out = (struct shape_seam_shrink){0};
    double us, ur;
    int rc = rows_total(&out->sheet, &us, sheet, n_sheet, cv, "sheet", err);
    if (!rc) rc = rows_total(&out->rod, &ur, rod, n_rod, cv, "rod", err);
    if (rc) return rc;
    double ratio = out->sheet / out->rod;
    out->shrink = 1 - ratio;
    out->u = ratio * hypot(us, ur);
    const double z = 1.6448536269514722; /* Phi^-1(0.95) */
    out->low = out->shrink - z * out->u, out->high = out->shrink + z * out->u;
    return 0;
}

double shape_seam_net_section(double hole, double pitch) {
    return 1 - hole / pitch;
}

size_t shape_seam_torn(size_t *first, size_t *count, const int *torn, size_t n, size_t least) {
    size_t runs = 0;
    for (size_t i = 0; i < n;) {
        size_t j = i;
        while (j < n && torn[j] == 1)
            j++;
        if (j - i >= least && j > i) first[runs] = i, count[runs++] = j - i;
        i = j > i ? j : i + 1;
    }
    return runs;
}
