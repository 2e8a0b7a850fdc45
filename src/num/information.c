#include "num/information.h"

#include "base/mem.h"
#include "base/parallel.h"
#include "num/random.h"

#include <lapacke.h>
#include <math.h>
#include <string.h>

enum { OUTER = 1024, CHUNK = 16, MOST_CLASSES = 64, LEAST_ROWS = 100 };

int num_information_gaussian(double *out, const double *g, const double *p, const double *r,
                             size_t m, size_t d, struct error *err) {
    double *s = MEM_NEW(double, m *m), *gp = MEM_NEW(double, m *d);
    int rc = s && gp ? 0 : fail_memory(err);
    for (size_t i = 0; !rc && i < m; i++)
        for (size_t k = 0; k < d; k++)
            for (size_t j = 0; j < d; j++)
                gp[i * d + k] += g[i * d + j] * p[j * d + k];
    for (size_t i = 0; !rc && i < m; i++) {
        if (!(r[i] > 0))
            rc = fail(err, ERR_RANGE, "Give each reading an error above 0.",
                      "Reading %zu has the error variance %g.", i + 1, r[i]);
        for (size_t k = 0; k < m; k++) { /* R^-1/2 G P G' R^-1/2 + I: symmetric */
            double sum = 0;
            for (size_t j = 0; j < d; j++)
                sum += gp[i * d + j] * g[k * d + j];
            s[i * m + k] = sum / sqrt(r[i] * r[k]) + (i == k);
        }
    }
    if (!rc && LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', (lapack_int)m, s, (lapack_int)m) != 0)
        rc = fail(err, ERR_RANGE, NULL, "The prior covariance is not positive.");
    *out = 0;
    for (size_t i = 0; !rc && i < m; i++)
        *out += log(s[i * m + i]);
    mem_free(s);
    mem_free(gp);
    return rc;
}

struct work {
    const struct num_information_task *t;
    size_t outer, n, classes;
    size_t *of;        /* [n] class */
    const size_t *row; /* [outer] row each outcome comes from */
    double *w;         /* [n] normalised */
    double *half;      /* [outer][3]: gain with all inner rows, with even ones, with odd ones */
};

/* ln sum of w exp(l) over inner rows, kept as a running top and sum. */
struct mix {
    double top, sum, w;
};
static void mix_add(struct mix *m, double l, double w) {
    m->w += w;
    if (l > m->top) {
        m->sum = m->sum * exp(m->top - l) + w;
        m->top = l;
    } else
        m->sum += w * exp(l - m->top);
}
static double mix_log(const struct mix *m) {
    return m->sum > 0 ? m->top + log(m->sum / m->w) : -INFINITY;
}

/* One imagined outcome: y = prediction of its row + error. The row itself is left out of the inner
 * rows. Without a question the gain is ln p(y|row) - ln p(y), with one ln p(y|class) - ln p(y). */
static void outcomes(size_t begin, size_t end, size_t index, void *context) {
    struct work *k = context;
    const struct num_information_task *t = k->t;
    (void)index;
    for (size_t o = begin; o < end; o++) {
        size_t me = k->row[o];
        struct num_random r;
        num_random_begin(&r, t->seed, num_hash("information"), o);
        double y[64], own = 0;
        for (size_t j = 0; j < t->m; j++) {
            double z = num_random_normal(&r);
            y[j] = t->predict[me * t->m + j] + t->sd[j] * z;
            own -= 0.5 * z * z;
        }
        struct mix all[2] = {{-INFINITY, 0, 0}, {-INFINITY, 0, 0}}, same[2] = {all[0], all[0]};
        for (size_t i = 0; i < k->n; i++) {
            if (i == me || !(k->w[i] > 0)) continue;
            double l = 0;
            for (size_t j = 0; j < t->m; j++) {
                double z = (y[j] - t->predict[i * t->m + j]) / t->sd[j];
                l -= 0.5 * z * z;
            }
            mix_add(&all[i & 1], l, k->w[i]);
            if (t->question && k->of[i] == k->of[me]) mix_add(&same[i & 1], l, k->w[i]);
        }
        for (int h = 0; h < 3; h++) {
            struct mix a, s;
            if (h == 0) {
                a = all[0], s = same[0];
                if (all[1].sum > 0) mix_add(&a, all[1].top + log(all[1].sum / all[1].w), all[1].w);
                if (same[1].sum > 0)
                    mix_add(&s, same[1].top + log(same[1].sum / same[1].w), same[1].w);
            } else
                a = all[h - 1], s = same[h - 1];
            k->half[o * 3 + (size_t)h] = (t->question ? mix_log(&s) : own) - mix_log(&a);
        }
    }
}

static int classes(struct work *k, struct num_information *out, struct error *err) {
    double label[MOST_CLASSES], p[MOST_CLASSES] = {0};
    out->most = INFINITY;
    if (!k->t->question) return 0;
    for (size_t i = 0; i < k->n; i++) {
        size_t c = 0;
        while (c < k->classes && label[c] != k->t->question[i])
            c++;
        if (c == MOST_CLASSES)
            return fail(err, ERR_RANGE, "Put the values in a few ranges.",
                        "The question has over %d answers.", MOST_CLASSES);
        if (c == k->classes) label[k->classes++] = k->t->question[i];
        k->of[i] = c;
        p[c] += k->w[i];
    }
    out->most = 0;
    for (size_t c = 0; c < k->classes; c++)
        if (p[c] > 0) out->most -= p[c] * log(p[c]);
    return 0;
}

/* ---- several questions of one trial ---------------------------------------------------------- */

/* Gains of one imagined outcome about each question: the likelihoods of the rows are the same for
 * all of them (common random numbers) and so are worked out once. half[outer][questions][3]. */
struct many {
    struct work *work;
    size_t questions;
    const size_t *const *of; /* [questions][n] class of each row */
    double *like;            /* [chunks][n] */
    double *half;
};

/* ln of the mean likelihood over the rows of one class (of all when `of` is NULL), even, odd and
 * all: like[i] is w exp(l - top). */
static void class_means(double out[3], const struct many *m, const double *like, const size_t *of,
                        size_t me, double top) {
    const struct work *k = m->work;
    double sum[2] = {0, 0}, w[2] = {0, 0};
    for (size_t i = 0; i < k->n; i++) {
        if (i == me || (of && of[i] != of[me])) continue;
        sum[i & 1] += like[i];
        w[i & 1] += k->w[i];
    }
    out[0] = top + log((sum[0] + sum[1]) / (w[0] + w[1]));
    out[1] = top + log(sum[0] / w[0]);
    out[2] = top + log(sum[1] / w[1]);
}

static void many_outcomes(size_t begin, size_t end, size_t index, void *context) {
    struct many *m = context;
    struct work *k = m->work;
    const struct num_information_task *t = k->t;
    double *like = m->like + index * k->n;
    for (size_t o = begin; o < end; o++) {
        size_t me = k->row[o];
        struct num_random r;
        num_random_begin(&r, t->seed, num_hash("information"), o);
        double y[64], top = -INFINITY, all[3], same[3];
        for (size_t j = 0; j < t->m; j++)
            y[j] = t->predict[me * t->m + j] + t->sd[j] * num_random_normal(&r);
        for (size_t i = 0; i < k->n; i++) {
            double l = 0;
            for (size_t j = 0; j < t->m; j++) {
                double z = (y[j] - t->predict[i * t->m + j]) / t->sd[j];
                l -= 0.5 * z * z;
            }
            like[i] = l;
            if (i != me && k->w[i] > 0 && l > top) top = l;
        }
        for (size_t i = 0; i < k->n; i++)
            like[i] = k->w[i] > 0 ? k->w[i] * exp(like[i] - top) : 0;
        class_means(all, m, like, NULL, me, top);
        for (size_t q = 0; q < m->questions; q++) {
            class_means(same, m, like, m->of[q], me, top);
            for (int h = 0; h < 3; h++)
                m->half[(o * m->questions + q) * 3 + (size_t)h] = same[h] - all[h];
        }
    }
}

static void gather_gain(struct num_information *out, const double *half, size_t outer, size_t step,
                        size_t n) {
    double sum = 0, squares = 0, halves = 0, used = 0;
    for (size_t o = 0; o < outer; o++) {
        const double *h = half + o * step * 3;
        double whole = h[0], part = (h[1] + h[2]) / 2;
        if (!isfinite(whole) || !isfinite(part)) continue; /* no neighbour at all: told by used */
        double corrected = 2 * whole - part;               /* bias c/M: 2 I(M) - I(M/2) */
        sum += corrected;
        squares += corrected * corrected;
        out->raw += whole;
        halves += part;
        used++;
    }
    out->outer = (size_t)used;
    out->inner = n - 1;
    out->raw /= used;
    out->gain = sum / used;
    out->bias = halves / used - out->raw;
    out->error = sqrt(fmax(0, squares / used - out->gain * out->gain) / used);
}

/* Rows that the imagined outcomes come from, in proportion to their weight. */
static void outcome_rows(size_t *row, struct work *k) {
    double total = 0, below = 0;
    size_t o = 0, n = k->n;
    for (size_t i = 0; i < n; i++)
        total += k->t->weight ? k->t->weight[i] : 1;
    for (size_t i = 0; i < n; i++)
        k->w[i] = (k->t->weight ? k->t->weight[i] : 1) / total;
    for (size_t i = 0; i < n; i++) {
        below += k->w[i];
        while (o < k->outer && ((double)o + 0.5) / (double)k->outer <= below + 1e-12)
            row[o++] = i;
    }
    while (o < k->outer)
        row[o++] = n - 1;
    k->row = row;
}

static int task_check(const struct num_information_task *t, struct error *err) {
    if (t->n < LEAST_ROWS || t->m == 0 || t->m > 64)
        return fail(err, ERR_RANGE, "Use 100 rows or more and 1 to 64 readings.",
                    "%zu rows, %zu readings.", t->n, t->m);
    for (size_t j = 0; j < t->m; j++)
        if (!(t->sd[j] > 0))
            return fail(err, ERR_RANGE, "Give each reading an error above 0.",
                        "Reading %zu has the error %g.", j + 1, t->sd[j]);
    return 0;
}

int num_information_many(struct num_information *out, const struct num_information_task *task,
                         const double *const *question, size_t questions, struct error *err) {
    memset(out, 0, questions * sizeof *out);
    int rc = task_check(task, err);
    if (rc || questions == 0) return rc;
    struct work k = {.t = task, .n = task->n, .outer = task->outer ? task->outer : OUTER};
    size_t chunks = (k.outer + CHUNK - 1) / CHUNK;
    size_t *row = MEM_NEW(size_t, k.outer), *of = MEM_NEW(size_t, questions * k.n);
    const size_t **each = MEM_NEW(const size_t *, questions);
    struct many m = {.work = &k, .questions = questions, .of = each};
    m.like = MEM_NEW(double, chunks *k.n);
    m.half = MEM_NEW(double, 3 * k.outer * questions);
    k.w = MEM_NEW(double, k.n);
    if (!row || !of || !each || !m.like || !m.half || !k.w) rc = fail_memory(err);
    if (!rc) outcome_rows(row, &k);
    for (size_t q = 0; q < questions && !rc; q++) {
        struct num_information_task one = *task;
        one.question = question[q];
        struct work of_one = k;
        of_one.t = &one;
        of_one.of = of + q * k.n;
        of_one.classes = 0;
        each[q] = of_one.of;
        rc = classes(&of_one, &out[q], err);
    }
    if (!rc) {
        parallel_for(k.outer, CHUNK, many_outcomes, &m);
        for (size_t q = 0; q < questions && !rc; q++) {
            gather_gain(&out[q], m.half + 3 * q, k.outer, questions, k.n);
            if (!out[q].outer)
                rc = fail(err, ERR_SOLVE, "Use more rows, or a wider error.",
                          "The rows are too few for readings as sharp as these.");
        }
    }
    mem_free(row);
    mem_free(of);
    mem_free(each);
    mem_free(m.like);
    mem_free(m.half);
    mem_free(k.w);
    return rc;
}

int num_information(struct num_information *out, const struct num_information_task *t,
                    struct error *err) {
    memset(out, 0, sizeof *out);
    int rc = task_check(t, err);
    if (rc) return rc;
    struct work k = {.t = t, .n = t->n, .outer = t->outer ? t->outer : OUTER};
    size_t *row = MEM_NEW(size_t, k.outer);
    k.of = MEM_NEW(size_t, t->n);
    k.w = MEM_NEW(double, t->n);
    k.half = MEM_NEW(double, 3 * k.outer);
    rc = row && k.of && k.w && k.half ? 0 : fail_memory(err);
    if (!rc) {
        outcome_rows(row, &k);
        rc = classes(&k, out, err);
    }
    if (!rc) {
        parallel_for(k.outer, CHUNK, outcomes, &k);
        gather_gain(out, k.half, k.outer, 1, t->n);
        if (!out->outer)
            rc = fail(err, ERR_SOLVE, "Use more rows, or a wider error.",
                      "The rows are too few for readings as sharp as these.");
    }
    mem_free(row);
    mem_free(k.of);
    mem_free(k.w);
    mem_free(k.half);
    return rc;
}
