/* rows_keep: a table of rows as bytes, for the file beside the project that may be deleted. */
#include "base/mem.h"
#include "num/rows.h"
#include "num/rows_inside.h"

#include <math.h>
#include <string.h>

/* Layout, all numbers little-endian as the house's machines have them:
 *   "RELICTRW" version n seed n_columns n_pasts
 *   column: text id, u64 root, prior, u64 n_from, from.., u64 first, u64 together, u64 stale,
 * value[n] log_weight[n], ancestor[n] past: text id, u64 key, u64 used, u64 n_reads, reads.., u64
 * has_gauss [n_y n_x roots h y r], report u64 hash of all before */
static const char MAGIC[8] = "RELICTRW";
enum { VERSION = 1, LONGEST_ID = 4096 };
static const uint64_t MOST = 1u << 24; /* of any count: beyond it the bytes are damaged */

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "rows are kept little-endian");

struct writer {
    char *at; /* NULL while only counting */
    size_t size;
};

static void put(struct writer *w, const void *bytes, size_t n) {
    if (w->at && n) memcpy(w->at + w->size, bytes, n);
    w->size += n;
}
static void put_u64(struct writer *w, uint64_t v) {
    put(w, &v, sizeof v);
}
static void put_indices(struct writer *w, const size_t *v, size_t n) {
    put_u64(w, n);
    for (size_t i = 0; i < n; i++)
        put_u64(w, v[i]);
}
static void put_text(struct writer *w, const char *text) {
    put_u64(w, strlen(text));
    put(w, text, strlen(text));
}

static void put_prior(struct writer *w, const struct num_dist *d) {
    put_u64(w, (uint64_t)d->family);
    double five[5] = {d->a, d->b, d->c, d->low, d->high};
    put(w, five, sizeof five);
    put_u64(w, d->n);
    put(w, d->value, sizeof d->value);
    put(w, d->p, sizeof d->p);
}

static void put_report(struct writer *w, const struct num_report *r) {
    uint64_t flags = (uint64_t)r->held_out | (uint64_t)r->surprising << 1 |
                     (uint64_t)r->checked << 2 | (uint64_t)r->exact << 3 | (uint64_t)r->thin << 4;
    double seven[7] = {r->p_predicted,     r->p_best,    r->limit,   r->log_evidence,
                       r->log_evidence_se, r->effective, r->accepted};
    put_u64(w, flags);
    put(w, seven, sizeof seven);
    put_u64(w, r->worst);
    put_u64(w, (uint64_t)r->stages);
    put_u64(w, r->distinct);
}

static void put_rows(struct writer *w, const struct num_rows *rows) {
    put(w, MAGIC, sizeof MAGIC);
    put_u64(w, VERSION);
    put_u64(w, rows->n);
    put_u64(w, rows->seed);
    put_u64(w, rows->n_columns);
    put_u64(w, rows->n_pasts);
    for (size_t i = 0; i < rows->n_columns; i++) {
        const struct column *c = rows->columns[i];
        put_text(w, c->id);
        put_u64(w, c->root);
        put_prior(w, &c->prior);
        put_indices(w, c->from, c->n_from);
        put_u64(w, c->first);
        put_u64(w, c->together);
        put_u64(w, c->stale);
        put(w, c->value, rows->n * sizeof *c->value);
    }
    put(w, rows->log_weight, rows->n * sizeof *rows->log_weight);
    put_indices(w, rows->ancestor, rows->n);
    for (size_t i = 0; i < rows->n_pasts; i++) {
        const struct past *p = rows->pasts[i];
        put_text(w, p->id);
        put_u64(w, p->key);
        put_u64(w, p->used);
        put_indices(w, p->reads, p->n_reads);
        put_u64(w, p->gauss != NULL);
        if (p->gauss) {
            const struct gauss *g = p->gauss;
            put_u64(w, g->n_y);
            put_indices(w, g->roots, g->n_x);
            put(w, g->h, g->n_y * g->n_x * sizeof *g->h);
            put(w, g->y, g->n_y * sizeof *g->y);
            put(w, g->r, g->n_y * g->n_y * sizeof *g->r);
        }
        put_report(w, &p->report);
    }
}

static uint64_t hash_bytes(const char *bytes, size_t n) {
    uint64_t h = 0xcbf29ce484222325ULL; /* FNV-1a 64 */
    for (size_t i = 0; i < n; i++)
        h = (h ^ (unsigned char)bytes[i]) * 0x100000001b3ULL;
    return h;
}

int num_rows_save(const struct num_rows *rows, char **bytes, size_t *size, struct arena *arena,
                  struct error *err) {
    struct writer count = {0};
    put_rows(&count, rows);
    struct writer w = {arena_alloc(arena, count.size + sizeof(uint64_t), 1), 0};
    if (!w.at) return fail_memory(err);
    put_rows(&w, rows);
    put_u64(&w, hash_bytes(w.at, w.size));
    *bytes = w.at;
    *size = w.size;
    return 0;
}

/* ---- reading -------------------------------------------------------------------------------- */

struct reader {
    const char *at;
    size_t left;
    bool bad;
};

static void take(struct reader *r, void *to, size_t n) {
    if (r->bad || n > r->left) {
        r->bad = true;
        memset(to, 0, n);
        return;
    }
    if (n) memcpy(to, r->at, n);
    r->at += n;
    r->left -= n;
}
static uint64_t take_u64(struct reader *r) {
    uint64_t v;
    take(r, &v, sizeof v);
    return v;
}
static size_t take_count(struct reader *r, size_t each) {
    uint64_t v = take_u64(r);
    if (v > MOST || (each && v > r->left / each)) {
        r->bad = true;
        return 0;
    }
    return (size_t)v;
}

/* A list of indices below `limit`; NULL (and bad) otherwise. */
static size_t *take_indices(struct reader *r, size_t *n, size_t limit) {
    *n = take_count(r, sizeof(uint64_t));
    size_t *v = MEM_NEW(size_t, *n);
    for (size_t i = 0; v && i < *n; i++) {
        v[i] = (size_t)take_u64(r);
        if (v[i] >= limit) {
            v[i] = 0;
            r->bad = true;
        }
    }
    if (!v) r->bad = true;
    return v;
}
static char *take_text(struct reader *r) {
    size_t n = take_count(r, 1);
    if (n > LONGEST_ID) r->bad = true;
    char *text = r->bad ? NULL : mem_alloc(n + 1, 1);
    if (text)
        take(r, text, n);
    else
        r->bad = true;
    return text;
}

static void take_prior(struct reader *r, struct num_dist *d) {
    double five[5];
    memset(d, 0, sizeof *d);
    uint64_t family = take_u64(r);
    if (family > NUM_INTEGER) r->bad = true;
    d->family = (enum num_family)family;
    take(r, five, sizeof five);
    d->a = five[0], d->b = five[1], d->c = five[2], d->low = five[3], d->high = five[4];
    d->n = take_count(r, 0);
    if (d->n > NUM_VALUES) r->bad = true;
    take(r, d->value, sizeof d->value);
    take(r, d->p, sizeof d->p);
}

static void take_report(struct reader *r, struct num_report *p) {
    uint64_t flags = take_u64(r);
    double seven[7];
    take(r, seven, sizeof seven);
    *p = (struct num_report){.held_out = flags & 1,
                             .surprising = flags >> 1 & 1,
                             .checked = flags >> 2 & 1,
                             .exact = flags >> 3 & 1,
                             .thin = flags >> 4 & 1,
                             .p_predicted = seven[0],
                             .p_best = seven[1],
                             .limit = seven[2],
                             .log_evidence = seven[3],
                             .log_evidence_se = seven[4],
                             .effective = seven[5],
                             .accepted = seven[6]};
    p->worst = (size_t)take_u64(r);
    p->stages = (int)take_u64(r);
    p->distinct = (size_t)take_u64(r);
}

static void take_column(struct reader *r, struct num_rows *rows, size_t i, size_t n_columns) {
    struct column *c = MEM_NEW(struct column, 1);
    if (!c) {
        r->bad = true;
        return;
    }
    rows->columns[i] = c;
    rows->n_columns = i + 1;
    c->id = take_text(r);
    c->hash = c->id ? num_hash(c->id) : 0;
    c->root = take_u64(r) != 0;
    take_prior(r, &c->prior);
    c->from = take_indices(r, &c->n_from, i ? i : 1); /* on earlier columns only */
    c->first = (size_t)take_u64(r);
    c->together = (size_t)take_u64(r);
    c->stale = take_u64(r) != 0;
    if (c->first > i || c->together == 0 || c->first + c->together > n_columns ||
        (i == 0 && c->n_from) || (c->root && num_dist_check(&c->prior, NULL)))
        r->bad = true;
    c->value = r->bad ? NULL : MEM_NEW(double, rows->n);
    if (c->value)
        take(r, c->value, rows->n * sizeof *c->value);
    else
        r->bad = true;
}

static void take_past(struct reader *r, struct num_rows *rows) {
    size_t n_reads = 0;
    char *id = take_text(r);
    uint64_t key = take_u64(r), used = take_u64(r);
    size_t *reads = take_indices(r, &n_reads, rows->n_columns ? rows->n_columns : 1);
    struct num_gaussian g = {0};
    size_t *roots = NULL;
    double *h = NULL, *y = NULL, *cov = NULL;
    bool gauss = take_u64(r) != 0;
    if (gauss && !r->bad) {
        g.n_y = take_count(r, sizeof(double));
        roots = take_indices(r, &g.n_x, rows->n_columns ? rows->n_columns : 1);
        if (g.n_x && g.n_y > r->left / sizeof(double) / g.n_x) r->bad = true;
        if (g.n_y && g.n_y > r->left / sizeof(double) / g.n_y) r->bad = true;
        size_t m = r->bad ? 0 : g.n_y;
        h = MEM_NEW(double, m *g.n_x);
        y = MEM_NEW(double, m);
        cov = MEM_NEW(double, m *m);
        if (h && y && cov && !r->bad) {
            take(r, h, m * g.n_x * sizeof *h);
            take(r, y, m * sizeof *y);
            take(r, cov, m * m * sizeof *cov);
        } else
            r->bad = true;
        for (size_t k = 0; !r->bad && k < g.n_x; k++)
            if (!rows->columns[roots[k]]->root) r->bad = true;
        g.roots = roots, g.h = h, g.y = y, g.r = cov;
    }
    struct past *p =
        r->bad ? NULL : rows_past_add(rows, id, key, reads, n_reads, gauss ? &g : NULL);
    if (p) {
        p->used = used != 0;
        take_report(r, &p->report);
        p->report.id = p->id;
    } else
        r->bad = true;
    mem_free(id);
    mem_free(reads);
    mem_free(roots);
    mem_free(h);
    mem_free(y);
    mem_free(cov);
}

static int damaged(struct error *err) {
    return fail(err, ERR_DAMAGED,
                "Delete the file of computed rows; it is made again from the project.",
                "The kept rows are damaged, or were not written by this program.");
}

int num_rows_load(struct num_rows **out, const char *bytes, size_t size, struct error *err) {
    *out = NULL;
    uint64_t hash;
    char magic[8];
    if (size < sizeof magic + 6 * sizeof hash) return damaged(err);
    memcpy(&hash, bytes + size - sizeof hash, sizeof hash);
    if (hash != hash_bytes(bytes, size - sizeof hash)) return damaged(err);
    struct reader r = {bytes, size - sizeof hash, false};
    take(&r, magic, sizeof magic);
    uint64_t version = take_u64(&r), n = take_u64(&r), seed = take_u64(&r);
    size_t n_columns = take_count(&r, 1), n_pasts = take_count(&r, 1);
    if (memcmp(magic, MAGIC, sizeof magic) != 0 || version != VERSION || n > MOST || r.bad)
        return damaged(err);
    struct num_rows *rows;
    int rc = num_rows_new(&rows, (size_t)n, seed, NULL);
    if (rc) return damaged(err);
    rows->columns = MEM_NEW(struct column *, n_columns);
    rows->room = n_columns;
    if (!rows->columns) r.bad = true;
    for (size_t i = 0; i < n_columns && !r.bad; i++)
        take_column(&r, rows, i, n_columns);
    take(&r, rows->log_weight, rows->n * sizeof *rows->log_weight);
    size_t n_ancestors;
    size_t *ancestor = take_indices(&r, &n_ancestors, rows->n);
    if (!r.bad && n_ancestors == rows->n)
        memcpy(rows->ancestor, ancestor, rows->n * sizeof *ancestor);
    else
        r.bad = true;
    mem_free(ancestor);
    for (size_t i = 0; i < n_pasts && !r.bad; i++)
        take_past(&r, rows);
    if (r.bad || r.left) {
        num_rows_free(rows);
        return damaged(err);
    }
    *out = rows;
    return 0;
}
