#include "body/frontal.h"

#include "base/mem.h"
#include "body/wide.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* Rows go in eights and columns in fours (eights with the widest vectors): so many sums fit the
 * registers. */
enum { ROWS = 8, COLUMNS = 4 };

/* One supernode: a panel of `ld` rows (`m`, rounded up) and k columns in `l`, and the square of
 * what it passes on to its parent (m - k rows and columns, apart by `apart`) on a stack. */
struct front {
    int first, k, m, ld, apart;
    int rows;        /* offset into row[]: its m rows */
    int child, next; /* lists of children, -1 ends */
    int odd;         /* which stack its square lies on: never that of its parent's */
    size_t panel, update;
    size_t runs, run_count; /* of its further rows in its parent's list */
    size_t entries;         /* first of its matrix entries; the next front's ends them */
};

/* `n` rows of a square, from the `at`-th on, that lie side by side in the parent's list from `to`
 * on. */
struct run {
    int at, n, to;
};

struct frontal {
    size_t n, fronts, entries;
    struct front *front;
    int *row; /* of all fronts */
    struct run *run;
    int *source;    /* matrix entries front by front ... */
    uint32_t *dest; /* ... and their places in l */
    int *perm;
    double *l, *stack[2], *y;
    double *room[3]; /* l and the stacks begin at the first whole line of these */
    size_t l_size;
};

static int rounded(int n) {
    return (n + ROWS - 1) / ROWS * ROWS;
}

/* Zeroed numbers from a place in memory on where eight of them fill a line of the caches; `room` is
 * what is to be freed. */
static double *lined_up(double **room, size_t n) {
    *room = MEM_NEW(double, n + ROWS);
    size_t past = *room ? (uintptr_t)*room / sizeof(double) % ROWS : 0;
    return *room ? *room + (ROWS - past) % ROWS : NULL;
}

/* ---- dense kernels -------------------------------------------------------------------------- */

static const four nought = {0};
static const eight nought8 = {0};

/* c[8][4] -= a[8][n] b[4][n]', columns of a and b `ld` apart, of c `lc`; fresh: c was 0, whatever
 * stands there. */
INLINE void tile(double *c, int lc, const double *a, const double *b, int ld, int n, int fresh) {
    four s[4][2];
#pragma GCC unroll 4
    for (int j = 0; j < 4; j++) {
        s[j][0] = fresh ? nought : FOUR(c + (size_t)j * (size_t)lc);
        s[j][1] = fresh ? nought : FOUR(c + (size_t)j * (size_t)lc + 4);
    }
    for (int p = 0; p < n; p++, a += ld, b += ld) {
        four a0 = FOUR(a), a1 = FOUR(a + 4);
#pragma GCC unroll 4
        for (int j = 0; j < 4; j++) {
            four w = {b[j], b[j], b[j], b[j]};
            s[j][0] -= a0 * w;
            s[j][1] -= a1 * w;
        }
    }
#pragma GCC unroll 4
    for (int j = 0; j < 4; j++) {
        TO_FOUR(c + (size_t)j * (size_t)lc) = s[j][0];
        TO_FOUR(c + (size_t)j * (size_t)lc + 4) = s[j][1];
    }
}

/* The same for `w` columns, at most eight, with the widest vectors. */
INLINE void tile_wide(double *c, int lc, const double *a, const double *b, int ld, int n, int fresh,
                      const int w) {
    eight s[8];
#pragma GCC unroll 8
    for (int j = 0; j < w; j++)
        s[j] = fresh ? nought8 : EIGHT(c + (size_t)j * (size_t)lc);
    for (int p = 0; p < n; p++, a += ld, b += ld) {
        eight a0 = EIGHT(a);
#pragma GCC unroll 8
        for (int j = 0; j < w; j++)
            s[j] -= a0 * (eight){b[j], b[j], b[j], b[j], b[j], b[j], b[j], b[j]};
    }
#pragma GCC unroll 8
    for (int j = 0; j < w; j++)
        TO_EIGHT(c + (size_t)j * (size_t)lc) = s[j];
}

/* The same for one column. */
INLINE void strip(double *c, const double *a, const double *b, int ld, int n, int fresh) {
    four s0 = fresh ? nought : FOUR(c), s1 = fresh ? nought : FOUR(c + 4);
    for (int p = 0; p < n; p++, a += ld, b += ld) {
        four w = {*b, *b, *b, *b};
        s0 -= FOUR(a) * w;
        s1 -= FOUR(a + 4) * w;
    }
    TO_FOUR(c) = s0;
    TO_FOUR(c + 4) = s1;
}

/* Eight rows of `w` columns, at most `columns` = 4 or 8 of them. Each number is the same sum in the
 * same order whatever the width. */
INLINE void tiles(double *c, int lc, const double *a, const double *b, int ld, int n, int fresh,
                  int w, const int columns) {
    if (columns == 8) {
        switch (w) {
        case 8:
            tile_wide(c, lc, a, b, ld, n, fresh, 8);
            break;
        case 7:
            tile_wide(c, lc, a, b, ld, n, fresh, 7);
            break;
        case 6:
            tile_wide(c, lc, a, b, ld, n, fresh, 6);
            break;
        case 5:
            tile_wide(c, lc, a, b, ld, n, fresh, 5);
            break;
        case 4:
            tile_wide(c, lc, a, b, ld, n, fresh, 4);
            break;
        case 3:
            tile_wide(c, lc, a, b, ld, n, fresh, 3);
            break;
        case 2:
            tile_wide(c, lc, a, b, ld, n, fresh, 2);
            break;
        default:
            tile_wide(c, lc, a, b, ld, n, fresh, 1);
        }
        return;
    }
    if (w == 4)
        tile(c, lc, a, b, ld, n, fresh);
    else
        for (int e = 0; e < w; e++)
            strip(c + (size_t)e * (size_t)lc, a, b + e, ld, n, fresh);
}

/* Cholesky of w columns from column j on, whose earlier columns have been taken off. */
INLINE int factor_columns(double *l, int ld, int j, int w) {
    int from = j / ROWS * ROWS;
    for (int c = j; c < j + w; c++) {
        double *x = l + (size_t)c * (size_t)ld, d = x[c];
        if (!(d > 0) || !isfinite(d)) return 0;
        double r = 1 / sqrt(d);
        for (int i = from; i < ld; i += 8)
            TO_EIGHT(x + i) = EIGHT(x + i) * (eight){r, r, r, r, r, r, r, r};
        for (int e = c + 1; e < j + w; e++) {
            double *y = l + (size_t)e * (size_t)ld, t = x[e];
            for (int i = from; i < ld; i += 8)
                TO_EIGHT(y + i) = EIGHT(y + i) - EIGHT(x + i) * (eight){t, t, t, t, t, t, t, t};
        }
    }
    return 1;
}

/* Factors the panel; the square becomes minus its product. What lies above the diagonal is rubbish
 * that nobody reads. */
INLINE int eliminate(double *l, const struct front *f, double *square, const int columns) {
    int ld = f->ld, k = f->k, rest = f->m - k, apart = f->apart;
    for (int j = 0; j < k; j += columns) {
        int w = k - j < columns ? k - j : columns;
        for (int i = j / ROWS * ROWS; j > 0 && i < ld; i += ROWS)
            tiles(l + (size_t)j * (size_t)ld + i, ld, l + i, l + j, ld, j, 0, w, columns);
        if (!factor_columns(l, ld, j, w)) return 0;
    }
    for (int j = 0; j < rest; j += columns) {
        int w = rest - j < columns ? rest - j : columns;
        for (int i = j / ROWS * ROWS; i < rest; i += ROWS)
            tiles(square + (size_t)j * (size_t)apart + i, apart, l + k + i, l + k + j, ld, k, 1, w,
                  columns);
    }
    return 1;
}

#ifdef __x86_64__
__attribute__((target("avx512f"))) static int eliminate_widest(double *l, const struct front *f,
                                                               double *square) {
    return eliminate(l, f, square, 8);
}

__attribute__((target("avx2"))) static int eliminate_wide(double *l, const struct front *f,
                                                          double *square) {
    return eliminate(l, f, square, 4);
}
#endif

static int eliminate_plain(double *l, const struct front *f, double *square) {
    return eliminate(l, f, square, 4);
}

/* ---- symbolic ------------------------------------------------------------------------------- */

static void make_fronts(struct frontal *f, const struct frontal_pattern *p, int *super_of) {
    int at = 0;
    for (size_t s = 0; s < p->supers; s++) {
        struct front *q = &f->front[s];
        int k = p->super[s + 1] - p->super[s];
        /* the rows below its own begin on a line: they are read most, eight at a time */
        f->l_size = (f->l_size + (size_t)k + ROWS - 1) / ROWS * ROWS - (size_t)k;
        *q = (struct front){.first = p->super[s],
                            .k = k,
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

/* Places of a front's further rows in its parent's list, as runs; both ascend. 0: they are not all
 * there. */
static int map_rows(struct frontal *f, struct front *q, const struct front *parent, size_t *runs) {
    int j = 0;
    q->runs = *runs;
    for (int i = q->k; i < q->m; i++, j++) {
        int r = f->row[q->rows + i];
        while (j < parent->m && f->row[parent->rows + j] < r)
            j++;
        if (j == parent->m || f->row[parent->rows + j] != r) return 0;
        struct run *last = &f->run[*runs - (*runs > 0)];
        if (*runs > q->runs && last->to + last->n == j)
            last->n++;
        else
            f->run[(*runs)++] = (struct run){i - q->k, 1, j};
    }
    q->run_count = *runs - q->runs;
    return 1;
}

static size_t square_size(const struct front *q) {
    return (size_t)q->apart * (size_t)(q->m - q->k);
}

/* Children, and where each front's square lies: on one of two stacks in turn from the root down, so
 * that a front takes its children's squares off the top of one and puts its own on the other.
 * `most` gets the stacks' sizes. 0: the order is no post-order. */
static int plan(struct frontal *f, const int *super_of, size_t most[2]) {
    size_t top[2] = {0, 0}, runs = 0;
    for (size_t s = 0; s < f->fronts; s++) {
        struct front *q = &f->front[s];
        if (q->m == q->k) continue;
        int parent = super_of[f->row[q->rows + q->k]];
        if ((size_t)parent <= s || !map_rows(f, q, &f->front[parent], &runs)) return 0;
        q->next = f->front[parent].child;
        f->front[parent].child = (int)s;
    }
    for (size_t s = f->fronts; s-- > 0;)
        for (int c = f->front[s].child; c >= 0; c = f->front[c].next)
            f->front[c].odd = !f->front[s].odd;
    most[0] = most[1] = 1;
    for (size_t s = 0; s < f->fronts; s++) {
        struct front *q = &f->front[s];
        size_t size = 0, *own = &top[q->odd], *other = &top[!q->odd], below = *other;
        for (int c = q->child; c >= 0; c = f->front[c].next) {
            size += square_size(&f->front[c]);
            below = f->front[c].update < below ? f->front[c].update : below;
        }
        if (*other - below != size) return 0;
        *other = below;
        q->update = *own;
        *own += square_size(q);
        most[q->odd] = *own > most[q->odd] ? *own : most[q->odd];
    }
    return 1;
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
                (uint32_t)(q->panel + (size_t)(col - q->first) * (size_t)q->ld + (size_t)lo);
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
        f->run = MEM_NEW(struct run, lists + 1);
        f->source = MEM_NEW(int, f->entries + 1);
        f->dest = MEM_NEW(uint32_t, f->entries + 1);
        f->perm = MEM_NEW(int, f->n + 1);
        f->y = MEM_NEW(double, 2 * f->n + 2 * ROWS); /* y, then the rows of one front */
        if (!f->front || !f->row || !f->run || !f->source || !f->dest || !f->perm || !f->y)
            rc = fail_memory(err);
    }
    if (!rc) {
        memcpy(f->perm, p->perm, f->n * sizeof(int));
        make_fronts(f, p, super_of);
        size_t stack[2];
        if (f->l_size > UINT32_MAX)
            rc = fail(err, ERR_RANGE, "Use a coarser mesh.", "The matrix is too large.");
        else if (!plan(f, super_of, stack) || !find_dest(f, p, super_of, new_of))
            rc = fail(err, ERR_SOLVE, NULL, "The symbolic analysis does not fit the matrix.");
        if (!rc) f->l = lined_up(&f->room[2], f->l_size + ROWS); /* tiles read past the last row */
        for (int k = 0; k < 2 && !rc; k++)
            f->stack[k] = lined_up(&f->room[k], stack[k] + ROWS);
        if (!rc && (!f->l || !f->stack[0] || !f->stack[1])) rc = fail_memory(err);
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
    mem_free(f->run);
    mem_free(f->source);
    mem_free(f->dest);
    mem_free(f->perm);
    for (int k = 0; k < 3; k++)
        mem_free(f->room[k]);
    mem_free(f->y);
    mem_free(f);
}

/* ---- numbers -------------------------------------------------------------------------------- */

INLINE void add(double *to, const double *from, int n) {
    int i = 0;
    for (; i + 4 <= n; i += 4)
        TO_FOUR(to + i) = FOUR(to + i) + FOUR(from + i);
    for (; i < n; i++)
        to[i] += from[i];
}

/* Adds those columns of a child's square that fall among the parent's own (`panel`) or beyond them
 * to the parent's panel or square: `l` is the first row of the parent's first column there. */
INLINE void take(const struct frontal *f, const struct front *child, int from, int to, double *l,
                 size_t apart) {
    const double *square = f->stack[child->odd] + child->update;
    const struct run *end = f->run + child->runs + child->run_count;
    for (const struct run *r = f->run + child->runs; r < end; r++) {
        int c = r->to < from ? from - r->to : 0;
        for (; c < r->n && r->to + c < to; c++) {
            double *into = l + (size_t)(r->to + c - from) * apart;
            const double *column = square + (size_t)(r->at + c) * (size_t)child->apart;
            add(into + r->to + c, column + r->at + c, r->n - c);
            for (const struct run *q = r + 1; q < end; q++)
                add(into + q->to, column + q->at, q->n);
        }
    }
}

/* Own entries and children into the panel, elimination, and the children's part of the square. */
INLINE int factor_front(struct frontal *f, const struct front *q, const double *values,
                        int eliminate_it(double *, const struct front *, double *)) {
    double *panel = f->l + q->panel, *square = f->stack[q->odd] + q->update;
    memset(panel, 0, (size_t)q->ld * (size_t)q->k * sizeof *panel);
    for (size_t t = q->entries; t < q[1].entries; t++)
        f->l[f->dest[t]] += values[f->source[t]];
    for (int c = q->child; c >= 0; c = f->front[c].next)
        take(f, &f->front[c], 0, q->k, panel, (size_t)q->ld);
    if (!eliminate_it(panel, q, square)) return 0;
    for (int c = q->child; c >= 0; c = f->front[c].next)
        take(f, &f->front[c], q->k, q->m, square - q->k, (size_t)q->apart);
    return 1;
}

#ifdef __x86_64__
__attribute__((target("avx512f"))) static int factor_widest(struct frontal *f,
                                                            const double *values) {
    for (size_t s = 0; s < f->fronts; s++)
        if (!factor_front(f, &f->front[s], values, eliminate_widest)) return 0;
    return 1;
}

__attribute__((target("avx2"))) static int factor_wide(struct frontal *f, const double *values) {
    for (size_t s = 0; s < f->fronts; s++)
        if (!factor_front(f, &f->front[s], values, eliminate_wide)) return 0;
    return 1;
}
#endif

static int factor_plain(struct frontal *f, const double *values) {
    for (size_t s = 0; s < f->fronts; s++)
        if (!factor_front(f, &f->front[s], values, eliminate_plain)) return 0;
    return 1;
}

int frontal_factor(struct frontal *f, const double *values) {
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx512f")) return factor_widest(f, values);
    if (__builtin_cpu_supports("avx2")) return factor_wide(f, values);
#endif
    return factor_plain(f, values);
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
            four x = FOUR(w + i);
#pragma GCC unroll 4
            for (int a = 0; a < COLUMNS; a++) {
                four by = {v[a], v[a], v[a], v[a]};
                x -= FOUR(c[a] + i) * by;
            }
            TO_FOUR(w + i) = x;
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
            four x = FOUR(w + i);
#pragma GCC unroll 4
            for (int a = 0; a < COLUMNS; a++)
                sum[a] += FOUR(c[a] + i) * x;
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
