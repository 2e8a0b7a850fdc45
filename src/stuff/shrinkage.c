#include "stuff/shrinkage.h"

#include "base/mem.h"

#include <math.h>
#include <stdlib.h>

double stuff_shrinkage_at(double s0, double moisture, double saturation) {
    return s0 * fmax(0, 1 - moisture / saturation); /* Wood Handbook FPL-GTR-282 Eq 4-9 */
}

double stuff_size_ratio(double s0, double from, double to, double saturation) {
    return (1 - stuff_shrinkage_at(s0, to, saturation)) /
           (1 - stuff_shrinkage_at(s0, from, saturation));
}

double stuff_change_coefficient(double s0) {
    return s0 / 0.30 / (1 - s0 * 20.0 / 30.0); /* from Eq 4-9 with the base at 10 % moisture */
}

double stuff_shrinkage_turned(double around, double through, double angle) {
    double c = cos(angle), s = sin(angle);
    return around * c * c + through * s * s;
}

double stuff_shrinkage_volume(double gb) {
    return 0.265 * gb; /* Eq 4-12 */
}

double stuff_shrinkage_volume_dry(double rho) {
    double g = rho / 1e-3;              /* g/mm3 to a ratio to water */
    return 0.265 * g / (1 + 0.265 * g); /* Eq 4-16 */
}

double stuff_shrinkage_board_width(double m) {
    return (6.031 - 0.215 * 100 * m) / 100; /* Green 1989, FPL-RP-489 */
}

double stuff_shrinkage_board_thickness(double m) {
    return (5.062 - 0.181 * 100 * m) / 100; /* Green 1989, FPL-RP-489 */
}

/* ---- undoing -------------------------------------------------------------------------------- */

/* m fixed, s uniform on [a, b]: E L = m ln((1-a)/(1-b)) / (b-a), E L2 = m2 / ((1-a)(1-b)). */
static void undo_uniform(struct stuff_undone *out, double m, double a, double b) {
    double mean = m * log((1 - a) / (1 - b)) / (b - a);
    out->mean = mean;
    out->sd = sqrt(fmax(0, m * m / ((1 - a) * (1 - b)) - mean * mean));
    out->p025 = m / (1 - (a + 0.025 * (b - a)));
    out->p05 = m / (1 - (a + 0.05 * (b - a)));
    out->p50 = m / (1 - (a + 0.5 * (b - a)));
    out->p95 = m / (1 - (a + 0.95 * (b - a)));
    out->p975 = m / (1 - (a + 0.975 * (b - a)));
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double quantile(const double *sorted, size_t n, double p) {
    double at = p * (double)n - 0.5;
    if (at <= 0) return sorted[0];
    size_t i = (size_t)at;
    if (i + 1 >= n) return sorted[n - 1];
    return sorted[i] + (at - (double)i) * (sorted[i + 1] - sorted[i]);
}

enum { UNDO_GRID = 512 }; /* midpoints of equal shares of probability, each way */

static int undo_grid(struct stuff_undone *out, const struct num_dist *m, const struct num_dist *s,
                     struct error *err) {
    size_t nm = m->family == NUM_FIXED ? 1 : UNDO_GRID;
    size_t ns = s->family == NUM_FIXED ? 1 : UNDO_GRID;
    double *v = MEM_NEW(double, nm *ns), *factor = MEM_NEW(double, ns);
    if (!v || !factor) {
        mem_free(v);
        mem_free(factor);
        return fail_memory(err);
    }
    for (size_t j = 0; j < ns; j++)
        factor[j] = 1 / (1 - num_dist_quantile(s, ((double)j + 0.5) / (double)ns));
    double sum = 0, sum2 = 0;
    for (size_t i = 0; i < nm; i++) {
        double size = num_dist_quantile(m, ((double)i + 0.5) / (double)nm);
        for (size_t j = 0; j < ns; j++) {
            double x = size * factor[j];
            v[i * ns + j] = x;
            sum += x;
            sum2 += x * x;
        }
    }
    size_t n = nm * ns;
    qsort(v, n, sizeof *v, ascending);
    out->mean = sum / (double)n;
    out->sd = sqrt(fmax(0, sum2 / (double)n - out->mean * out->mean));
    out->p025 = quantile(v, n, 0.025);
    out->p05 = quantile(v, n, 0.05);
    out->p50 = quantile(v, n, 0.5);
    out->p95 = quantile(v, n, 0.95);
    out->p975 = quantile(v, n, 0.975);
    mem_free(v);
    mem_free(factor);
    return 0;
}

int stuff_undo(struct stuff_undone *out, const struct num_dist *m, const struct num_dist *s,
               struct error *err) {
    *out = (struct stuff_undone){0};
    int rc = num_dist_check(m, err);
    if (!rc) rc = num_dist_check(s, err);
    if (rc) return rc;
    double worst = num_dist_quantile(s, 0.9995);
    if (!(worst < 0.98))
        return fail(err, ERR_RANGE,
                    "Give the share LOST, as a fraction below 1; some publications print the size "
                    "that is left.",
                    "A shrinkage that can reach %g leaves nothing of the size", worst);
    out->mean_inverted = num_dist_mean(m) / (1 - num_dist_mean(s));
    if (m->family == NUM_FIXED && s->family == NUM_UNIFORM && s->high > s->low)
        undo_uniform(out, m->a, s->low, s->high);
    else
        rc = undo_grid(out, m, s, err);
    return rc;
}

double stuff_shrinkage_seen(double *uncertainty, double before, double u_before, double after,
                            double u_after) {
    double left = after / before;
    *uncertainty = left * hypot(u_before / before, u_after / after);
    return 1 - left;
}

double stuff_sum_uncertainty(const double *size, size_t n, double common, double own) {
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++) {
        sum += size[i];
        squares += size[i] * size[i];
    }
    return sqrt(common * common * sum * sum + own * own * squares);
}
