#include "body/frontal.h"

#include "base/mem.h"

#include <math.h>
#include <string.h>

/* Rows go in eights and columns in fours: eight sums of four fit the registers. */
enum { ROWS = 8, COLUMNS = 4 };

/* One supernode: a panel of `ld` rows (`m`, rounded up) and k columns in `l`, and the square of
 * what it passes on to its parent (m - k rows and columns, apart by `apart`) on the stack. */
struct front {
    int first, k, m, ld, apart;
    int rows;        /* offset into row[] and to[]: its m rows */
    int child, next; /* lists of children, -1 ends */
    size_t panel, update;
    size_t entries; /* first of its matrix entries; the next front's ends them */
};

struct frontal {
    size_t n, fronts, entries;
    struct front *front;
    int *row;     /* of all fronts */
    int *to;      /* the same rows beyond k: their places in the parent's list */
    int *source;  /* matrix entries front by front ... */
    size_t *dest; /* ... and their places in l */
    int *perm;
    double *l, *square, *stack, *y;
    size_t l_size;
};

static int rounded(int n) {
    return (n + ROWS - 1) / ROWS * ROWS;
}

/* ---- dense kernels -------------------------------------------------------------------------- */

/* Four numbers side by side, wherever they lie. */
typedef double four __attribute__((vector_size(32), aligned(8), may_alias));

#define INLINE static inline __attribute__((always_inline))

#define AT(p) (*(four *)(p))
#define GET(p) (*(const four *)(p))

/* c[8][4] -= a[8][n] b[4][n]', columns of a and b `ld` apart, of c `lc`. */
INLINE void tile(double *c, int lc, const double *a, const double *b, int ld, int n) {
    four s[COLUMNS][2];
#pragma GCC unroll 4
    for (int j = 0; j < COLUMNS; j++) {
        s[j][0] = GET(c + (size_t)j * (size_t)lc);
        s[j][1] = GET(c + (size_t)j * (size_t)lc + 4);
    }
    for (int p = 0; p < n; p++, a += ld, b += ld) {
        four a0 = GET(a), a1 = GET(a + 4);
#pragma GCC unroll 4
        for (int j = 0; j < COLUMNS; j++) {
            four w = {b[j], b[j], b[j], b[j]};
            s[j][0] -= a0 * w;
            s[j][1] -= a1 * w;
        }
    }
#pragma GCC unroll 4
    for (int j = 0; j < COLUMNS; j++) {
        AT(c + (size_t)j * (size_t)lc) = s[j][0];
        AT(c + (size_t)j * (size_t)lc + 4) = s[j][1];
    }
}

/* The same for one column. */
INLINE void strip(double *c, const double *a, const double *b, int ld, int n) {
    four s0 = GET(c), s1 = GET(c + 4);
    for (int p = 0; p < n; p++, a += ld, b += ld) {
        four w = {*b, *b, *b, *b};
        s0 -= GET(a) * w;
        s1 -= GET(a + 4) * w;
    }
    AT(c) = s0;
    AT(c + 4) = s1;
}

/* Cholesky of w columns from column j on, whose earlier columns have been taken off. */
INLINE int factor_columns(double *l, int ld, int j, int w) {
    int from = j / ROWS * ROWS;
    for (int c = j; c < j + w; c++) {
        double *x = l + (size_t)c * (size_t)ld, d = x[c];
        if (!(d > 0) || !isfinite(d)) return 0;
        double r = 1 / sqrt(d);
        four by = {r, r, r, r};
        for (int i = from; i < ld; i += 4)
            AT(x + i) = GET(x + i) * by;
        for (int e = c + 1; e < j + w; e++) {
            double *y = l + (size_t)e * (size_t)ld, t = x[e];
            four off = {t, t, t, t};
            for (int i = from; i < ld; i += 4)
                AT(y + i) = GET(y + i) - GET(x + i) * off;
        }
    }
    return 1;
}

/* Factors the panel and takes its part off the square. What lies above the diagonal is rubbish that
 * nobody reads. */
INLINE int eliminate(double *l, int ld, int k, int m, double *square, int apart) {
    for (int j = 0; j < k; j += COLUMNS) {
        int w = k - j < COLUMNS ? k - j : COLUMNS;
        for (int i = j / ROWS * ROWS; j > 0 && i < ld; i += ROWS) {
            double *c = l + (size_t)j * (size_t)ld + i;
            if (w == COLUMNS)
                tile(c, ld, l + i, l + j, ld, j);
            else
                for (int e = 0; e < w; e++)
                    strip(c + (size_t)e * (size_t)ld, l + i, l + j + e, ld, j);
        }
        if (!factor_columns(l, ld, j, w)) return 0;
    }
    int rest = m - k;
    for (int j = 0; j < rest; j += COLUMNS) {
        int w = rest - j < COLUMNS ? rest - j : COLUMNS;
        for (int i = j / ROWS * ROWS; i < rest; i += ROWS) {
            double *c = square + (size_t)j * (size_t)apart + i;
            if (w == COLUMNS)
                tile(c, apart, l + k + i, l + k + j, ld, k);
            else
                for (int e = 0; e < w; e++)
                    strip(c + (size_t)e * (size_t)apart, l + k + i, l + k + j + e, ld, k);
        }
    }
    return 1;
}

#ifdef __x86_64__
__attribute__((target("avx2"))) static int eliminate_wide(double *l, int ld, int k, int m,
                                                          double *square, int apart) {
    return eliminate(l, ld, k, m, square, apart);
}
#endif

static int eliminate_plain(double *l, int ld, int k, int m, double *square, int apart) {
    return eliminate(l, ld, k, m, square, apart);
}

static int eliminate_front(double *l, const struct front *f, double *square) {
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2"))
        return eliminate_wide(l, f->ld, f->k, f->m, square, f->apart);
#endif
    return eliminate_plain(l, f->ld, f->k, f->m, square, f->apart);
}

/* ---- symbolic ------------------------------------------------------------------------------- */

static void make_fronts(struct frontal *f, const struct frontal_pattern *p, int *super_of) {
    int at = 0;
    for (size_t s = 0; s < p->supers; s++) {
        struct front *q = &f->front[s];
        *q = (struct front){.first = p->super[s],
                            .k = p->super[s + 1] - p->super[s],
                            .m = p->start[s + 1] - p->start[s],
                            .rows = at,
                            .child = -1,
                            .next = -1,
                            .panel = f->l_size};
        q->ld = rounded(q->m);
        q->apart = rounded(q->m - q->k);
        memcpy(f->row + at, p->row_of + p->start[s], (size_t)q->m * sizeof(int));
        at += q->m;
        f->l_size += (size_t)q->ld * (size_t)q->k;
        for (int c = 0; c < q->k; c++)
            super_of[q->first + c] = (int)s;
    }
}

/* Places of a front's further rows in its parent's list; both ascend. 0: they are not all there. */
static int map_rows(struct frontal *f, const struct front *q, const struct front *parent) {
    int j = 0;
    for (int i = q->k; i < q->m; i++) {
        int r = f->row[q->rows + i];
        while (j < parent->m && f->row[parent->rows + j] < r)
            j++;
        if (j == parent->m || f->row[parent->rows + j] != r) return 0;
        f->to[q->rows + i] = j;
    }
    return 1;
}

/* Children, and where each front's square lies on the stack: a front takes its children's squares
 * off the top and puts its own there. Returns the stack's size, 0 when the order is not post-order.
 */
static size_t plan(struct frontal *f, const int *super_of) {
    size_t top = 0, most = 1;
    for (size_t s = 0; s < f->fronts; s++) {
        struct front *q = &f->front[s];
        size_t size = 0, below = top;
        for (int c = q->child; c >= 0; c = f->front[c].next) {
            const struct front *child = &f->front[c];
            size += (size_t)child->apart * (size_t)(child->m - child->k);
            below = child->update < below ? child->update : below;
        }
        if (top - below != size) return 0;
        q->update = below;
        top = below + (size_t)q->apart * (size_t)(q->m - q->k);
        most = top > most ? top : most;
        if (q->m == q->k) continue;
        int parent = super_of[f->row[q->rows + q->k]];
        if ((size_t)parent <= s || !map_rows(f, q, &f->front[parent])) return 0;
        q->next = f->front[parent].child;
        f->front[parent].child = (int)s;
    }
    return most;
}

static int find_dest(struct frontal *f, const struct frontal_pattern *p, const int *super_of,
                     int *new_of) {
    for (size_t i = 0; i < p->n; i++)
        new_of[p->perm[i]] = (int)i;
    for (size_t c = 0; c < p->n; c++)
        for (int t = p->p[c]; t < p->p[c + 1]; t++) {
            int a = new_of[c], b = new_of[p->row[t]];
            f->front[super_of[a < b ? a : b] + 1].entries++;
        }
    for (size_t s = 0; s < f->fronts; s++)
        f->front[s + 1].entries += f->front[s].entries;
    for (size_t c = 0; c < p->n; c++)
        for (int t = p->p[c]; t < p->p[c + 1]; t++) {
            int a = new_of[c], b = new_of[p->row[t]], col = a < b ? a : b, row = a < b ? b : a;
            struct front *q = &f->front[super_of[col]];
            int lo = 0, hi = q->m - 1;
            while (lo < hi) {
                int mid = (lo + hi) / 2;
                if (f->row[q->rows + mid] < row)
                    lo = mid + 1;
                else
                    hi = mid;
            }
            if (f->row[q->rows + lo] != row) return 0;
            f->source[q->entries] = t;
            f->dest[q->entries++] =
                q->panel + (size_t)(col - q->first) * (size_t)q->ld + (size_t)lo;
        }
    for (size_t s = f->fronts; s > 0; s--) /* they stand at the next one's first now */
        f->front[s].entries = f->front[s - 1].entries;
    f->front[0].entries = 0;
    return 1;
}

int frontal_new(struct frontal **out, const struct frontal_pattern *p, struct error *err) {
    *out = NULL;
    struct frontal *f = MEM_NEW(struct frontal, 1);
    int *super_of = MEM_NEW(int, p->n + 1), *new_of = MEM_NEW(int, p->n + 1);
    size_t lists = (size_t)p->start[p->supers];
    int rc = f && super_of && new_of ? 0 : fail_memory(err);
    if (!rc) {
        f->n = p->n;
        f->fronts = p->supers;
        f->entries = (size_t)p->p[p->n];
        f->front = MEM_NEW(struct front, f->fronts + 1);
        f->row = MEM_NEW(int, lists + 1);
        f->to = MEM_NEW(int, lists + 1);
        f->source = MEM_NEW(int, f->entries + 1);
        f->dest = MEM_NEW(size_t, f->entries + 1);
        f->perm = MEM_NEW(int, f->n + 1);
        f->y = MEM_NEW(double, 2 * f->n + 2 * ROWS); /* y, then the rows of one front */
        if (!f->front || !f->row || !f->to || !f->source || !f->dest || !f->perm || !f->y)
            rc = fail_memory(err);
    }
    if (!rc) {
        memcpy(f->perm, p->perm, f->n * sizeof(int));
        make_fronts(f, p, super_of);
        size_t stack = plan(f, super_of), square = 1;
        for (size_t s = 0; s < f->fronts; s++) {
            size_t size = (size_t)f->front[s].apart * (size_t)(f->front[s].m - f->front[s].k);
            square = size > square ? size : square;
        }
        if (!stack || !find_dest(f, p, super_of, new_of))
            rc = fail(err, ERR_SOLVE, NULL, "The symbolic analysis does not fit the matrix.");
        f->l = rc ? NULL : MEM_NEW(double, f->l_size + ROWS); /* tiles read past the last row */
        f->stack = rc ? NULL : MEM_NEW(double, stack + ROWS);
        f->square = rc ? NULL : MEM_NEW(double, square + ROWS);
        if (!rc && (!f->l || !f->stack || !f->square)) rc = fail_memory(err);
    }
    mem_free(super_of);
    mem_free(new_of);
    if (rc)
        frontal_free(f);
    else
        *out = f;
    return rc;
}

void frontal_free(struct frontal *f) {
    if (!f) return;
    mem_free(f->front);
    mem_free(f->row);
    mem_free(f->to);
    mem_free(f->source);
    mem_free(f->dest);
    mem_free(f->perm);
    mem_free(f->l);
    mem_free(f->stack);
    mem_free(f->square);
    mem_free(f->y);
    mem_free(f);
}

/* ---- numbers -------------------------------------------------------------------------------- */

/* Adds a child's square into its parent's panel and square. */
static void take(struct frontal *f, const struct front *q, const struct front *child,
                 double *square) {
    const int *to = f->to + child->rows + child->k;
    int n = child->m - child->k;
    const double *from = f->stack + child->update;
    for (int j = 0; j < n; j++, from += child->apart) {
        int c = to[j];
        double *into = c < q->k ? f->l + q->panel + (size_t)c * (size_t)q->ld
                                : square + (size_t)(c - q->k) * (size_t)q->apart - q->k;
        for (int i = j; i < n; i++)
            into[to[i]] += from[i];
    }
}

int frontal_factor(struct frontal *f, const double *values) {
    for (size_t s = 0; s < f->fronts; s++) {
        const struct front *q = &f->front[s];
        double *own = f->stack + q->update, *square = q->child < 0 ? own : f->square;
        size_t size = (size_t)q->apart * (size_t)(q->m - q->k);
        memset(f->l + q->panel, 0, (size_t)q->ld * (size_t)q->k * sizeof *f->l);
        memset(square, 0, size * sizeof *square);
        for (size_t t = q->entries; t < q[1].entries; t++)
            f->l[f->dest[t]] += values[f->source[t]];
        for (int c = q->child; c >= 0; c = f->front[c].next)
            take(f, q, &f->front[c], square);
        if (!eliminate_front(f->l + q->panel, q, square)) return 0;
        if (square != own) memcpy(own, square, size * sizeof *own); /* over its children's */
    }
    return 1;
}

/* One front's part of L y = b: `w` holds the front's rows, the first k of them solved here. Columns
 * go in fours, so that each row is fetched and put back once for four of them. */
INLINE void forward(const double *l, const struct front *f, double *w) {
    int ld = f->ld, j = 0;
    for (; j + COLUMNS <= f->k; j += COLUMNS, l += COLUMNS * (size_t)ld) {
        const double *c[COLUMNS] = {l, l + ld, l + 2 * (size_t)ld, l + 3 * (size_t)ld};
        double v[COLUMNS];
        for (int a = 0; a < COLUMNS; a++) {
            v[a] = w[j + a];
            for (int b = 0; b < a; b++)
                v[a] -= c[b][j + a] * v[b];
            w[j + a] = v[a] /= c[a][j + a];
        }
        for (int i = j + COLUMNS; i < ld; i += 4) {
            four x = GET(w + i);
#pragma GCC unroll 4
            for (int a = 0; a < COLUMNS; a++) {
                four by = {v[a], v[a], v[a], v[a]};
                x -= GET(c[a] + i) * by;
            }
            AT(w + i) = x;
        }
    }
    for (; j < f->k; j++, l += ld) {
        double v = w[j] /= l[j];
        for (int i = j + 1; i < f->m; i++)
            w[i] -= l[i] * v;
    }
}

/* One front's part of L' x = y: `w` holds the front's rows, all but the first k known. */
INLINE void backward(const double *l, const struct front *f, double *w) {
    int ld = f->ld, j = f->k;
    for (; j % COLUMNS; j--) {
        const double *c = l + (size_t)(j - 1) * (size_t)ld;
        double v = w[j - 1];
        for (int i = j; i < f->m; i++)
            v -= c[i] * w[i];
        w[j - 1] = v / c[j - 1];
    }
    while ((j -= COLUMNS) >= 0) {
        const double *c[COLUMNS] = {l + (size_t)j * (size_t)ld};
        four sum[COLUMNS] = {{0}};
        for (int a = 1; a < COLUMNS; a++)
            c[a] = c[a - 1] + ld;
        for (int i = j + COLUMNS; i < ld; i += 4) {
            four x = GET(w + i);
#pragma GCC unroll 4
            for (int a = 0; a < COLUMNS; a++)
                sum[a] += GET(c[a] + i) * x;
        }
        for (int a = COLUMNS; a-- > 0;) {
            double v = w[j + a] - ((sum[a][0] + sum[a][1]) + (sum[a][2] + sum[a][3]));
            for (int b = a + 1; b < COLUMNS; b++)
                v -= c[a][j + b] * w[j + b];
            w[j + a] = v / c[a][j + a];
        }
    }
}

/* Both ways over all fronts, y in the new order. A front's rows are gathered side by side first
 * (beyond the last: 0, as in its panel). */
INLINE void substitute(const struct frontal *f, double *y, double *w) {
    for (size_t s = 0; s < f->fronts; s++) {
        const struct front *q = &f->front[s];
        const int *row = f->row + q->rows;
        memcpy(w, y + q->first, (size_t)q->k * sizeof *w);
        for (int i = q->k; i < q->m; i++)
            w[i] = y[row[i]];
        for (int i = q->m; i < q->ld; i++)
            w[i] = 0;
        forward(f->l + q->panel, q, w);
        memcpy(y + q->first, w, (size_t)q->k * sizeof *w);
        for (int i = q->k; i < q->m; i++)
            y[row[i]] = w[i];
    }
    for (size_t s = f->fronts; s-- > 0;) {
        const struct front *q = &f->front[s];
        const int *row = f->row + q->rows;
        memcpy(w, y + q->first, (size_t)q->k * sizeof *w);
        for (int i = q->k; i < q->m; i++)
            w[i] = y[row[i]];
        for (int i = q->m; i < q->ld; i++)
            w[i] = 0;
        backward(f->l + q->panel, q, w);
        memcpy(y + q->first, w, (size_t)q->k * sizeof *w);
    }
}

#ifdef __x86_64__
__attribute__((target("avx2"))) static void substitute_wide(const struct frontal *f, double *y,
                                                            double *w) {
    substitute(f, y, w);
}
#endif

static void substitute_plain(const struct frontal *f, double *y, double *w) {
    substitute(f, y, w);
}

void frontal_solve(struct frontal *f, const double *b, double *x) {
    double *y = f->y, *w = f->y + f->n;
    for (size_t i = 0; i < f->n; i++)
        y[i] = b[f->perm[i]];
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2"))
        substitute_wide(f, y, w);
    else
#endif
        substitute_plain(f, y, w);
    for (size_t i = 0; i < f->n; i++)
        x[f->perm[i]] = y[i];
}
