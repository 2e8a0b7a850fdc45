#include "gather/nest_rects.h"

#include <math.h>
#include <string.h>

#define SAME 1e-6  /* mm: sizes nearer than this are the same */
#define FULL 1e-4  /* share: a strip nearer to full than this is not improved */
#define EFFORT 4e8 /* parts looked at in all: some seconds */
#define WARM 0.03  /* share of the least length: a worse sequence is still taken at first */
#define COLD 3e-4  /* the same in the end */
enum { RUNS = 4 }; /* annealings, each from another order */

struct rect {
    double long_, wide; /* along the strip and across it */
    double y, x;        /* where it lies */
};

/* One stretch of the skyline: from y, so wide, filled up to x. */
struct stretch {
    double y, wide, x;
};

struct rects {
    struct rect *rect;
    size_t n;
    double width, area;
    size_t *left; /* [n] of the sequence, not yet laid */
    struct stretch *line;
    size_t lines;
};

bool nest_all_rects(const struct table *t, const size_t *list, size_t n) {
    for (size_t i = 0; i < n; i++) {
        const struct shape *s = &t->shape[4 * t->item[list[i]].part];
        double box = (s->box.x1 - s->box.x0) * (s->box.y1 - s->box.y0);
        if (!(fabs(s->area - box) <= 1e-9 * box)) return false;
    }
    return n > 0;
}

static bool same(double a, double b) {
    return fabs(a - b) < SAME;
}

/* ---- the skyline ----------------------------------------------------------------------------- */

static size_t lowest(const struct rects *r) {
    size_t low = 0;
    for (size_t i = 1; i < r->lines; i++)
        if (r->line[i].x < r->line[low].x - SAME) low = i;
    return low;
}

/* How far the skyline rises beside a stretch: at the strip's edges without end. */
static double wall(const struct rects *r, size_t at, int side) {
    if (side < 0) return at ? r->line[at - 1].x - r->line[at].x : INFINITY;
    return at + 1 < r->lines ? r->line[at + 1].x - r->line[at].x : INFINITY;
}

static void merge(struct rects *r, size_t at) {
    for (size_t i = at ? at - 1 : 0; i + 1 < r->lines && i <= at;) {
        if (!same(r->line[i].x, r->line[i + 1].x)) {
            i++;
            continue;
        }
        r->line[i].wide += r->line[i + 1].wide;
        memmove(&r->line[i + 1], &r->line[i + 2], (r->lines - i - 2) * sizeof *r->line);
        r->lines--;
    }
}

/* Puts a part on a stretch, at its lower or upper end. */
static void lay(struct rects *r, size_t at, struct rect *p, bool upper) {
    struct stretch *s = &r->line[at];
    double rest = s->wide - p->wide;
    p->x = s->x;
    if (rest < SAME) {
        p->y = s->y;
        s->x += p->long_;
        merge(r, at);
        return;
    }
    p->y = upper ? s->y + rest : s->y;
    memmove(s + 1, s, (r->lines - at) * sizeof *s);
    r->lines++;
    struct stretch *own = upper ? s + 1 : s, *other = upper ? s : s + 1;
    *own = (struct stretch){p->y, p->wide, p->x + p->long_};
    *other = (struct stretch){upper ? other->y : p->y + p->wide, rest, p->x};
    merge(r, own == s ? at : at + 1);
}

/* How well a part fits a stretch: its whole width, its walls; what leaves a gap that nothing fills
 * is worth less. */
static int fit(const struct rect *p, double wide, double low, double high, double narrowest) {
    double rest = wide - p->wide;
    if (rest < SAME) return 4 + same(p->long_, low) + same(p->long_, high);
    double side = fmax(low, high);
    return 1 + same(p->long_, isinf(side) ? fmin(low, high) : side) - (rest < narrowest - SAME);
}

/* Length of the strip when the parts are laid in this order; above `enough` it is only told that it
 * is longer. */
static double lay_all(struct rects *r, const size_t *order, double enough) {
    double lost = 0, end = 0;
    size_t left = r->n;
    memcpy(r->left, order, left * sizeof *order);
    r->line[0] = (struct stretch){0, r->width, 0};
    r->lines = 1;
    while (left) {
        size_t at = lowest(r), best = left;
        struct stretch *s = &r->line[at];
        double low = wall(r, at, -1), high = wall(r, at, 1), narrowest = INFINITY;
        int score = -1;
        for (size_t i = 0; i < left; i++)
            narrowest = fmin(narrowest, r->rect[r->left[i]].wide);
        for (size_t i = 0; i < left && narrowest < s->wide + SAME; i++) {
            const struct rect *p = &r->rect[r->left[i]];
            if (p->wide > s->wide + SAME) continue;
            int f = fit(p, s->wide, low, high, narrowest);
            if (f <= score) continue;
            score = f;
            best = i;
        }
        if (best == left) { /* nothing goes in: filled up to the lower wall */
            double up = fmin(low, high);
            if (isinf(up)) return INFINITY;
            lost += up * s->wide;
            if ((r->area + lost) / r->width >= enough) return INFINITY;
            s->x += up;
            merge(r, at);
            continue;
        }
        struct rect *p = &r->rect[r->left[best]];
        lay(r, at, p, high > low);
        end = fmax(end, p->x + p->long_);
        if (end >= enough) return INFINITY;
        memmove(&r->left[best], &r->left[best + 1], (left - best - 1) * sizeof *r->left);
        left--;
    }
    return end;
}

/* ---- sequences ------------------------------------------------------------------------------- */

static double key(const struct rect *p, int run) {
    switch (run) {
    case 0:
        return p->wide;
    case 1:
        return p->long_ * p->wide;
    case 2:
        return p->long_;
    default:
        return p->long_ + p->wide;
    }
}

static void sort_by(const struct rects *r, size_t *order, int run) {
    for (size_t i = 0; i < r->n; i++) {
        size_t at = i;
        for (; at > 0 && key(&r->rect[order[at - 1]], run) < key(&r->rect[i], run); at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

static void swap(size_t *order, size_t a, size_t b) {
    size_t keep = order[a];
    order[a] = order[b];
    order[b] = keep;
}

/* One annealing from an order; best[] and *length are bettered where it can. */
static void anneal(struct rects *r, struct num_random *random, size_t *order, size_t *best,
                   double *length, double least, double steps) {
    double now = lay_all(r, order, INFINITY), warm = WARM * least,
           cooling = pow(COLD / WARM, 1 / steps);
    if (now < *length) {
        *length = now;
        memcpy(best, order, r->n * sizeof *best);
    }
    for (double k = 0; k<steps && * length> least * (1 + FULL); k++, warm *= cooling) {
        size_t a = (size_t)(num_random_uniform(random) * (double)r->n),
               b = (size_t)(num_random_uniform(random) * (double)r->n);
        /* the threshold is drawn first, so that a longer one need not be laid to its end */
        double most = now - warm * log(num_random_uniform(random) + 1e-300);
        if (a == b) continue;
        swap(order, a, b);
        double then = lay_all(r, order, most);
        if (!(then < most)) {
            swap(order, a, b);
            continue;
        }
        now = then;
        if (now >= *length) continue;
        *length = now;
        memcpy(best, order, r->n * sizeof *best);
    }
}

double nest_rects(struct table *t, const size_t *list, size_t n) {
    struct rects r = {.n = n, .width = t->box.y1 - t->box.y0};
    r.rect = ARENA_NEW(t->arena, struct rect, n);
    r.left = ARENA_NEW(t->arena, size_t, n);
    r.line = ARENA_NEW(t->arena, struct stretch, n + 2);
    size_t *order = ARENA_NEW(t->arena, size_t, n), *best = ARENA_NEW(t->arena, size_t, n);
    if (!r.rect || !r.left || !r.line || !order || !best) return NAN;
    double longest = 0;
    for (size_t i = 0; i < n; i++) {
        const struct box *b = &t->shape[4 * t->item[list[i]].part].box;
        r.rect[i] = (struct rect){.long_ = b->x1 - b->x0, .wide = b->y1 - b->y0};
        if (r.rect[i].wide > r.width + SAME) return NAN;
        r.area += r.rect[i].long_ * r.rect[i].wide;
        longest = fmax(longest, r.rect[i].long_);
    }
    double least = fmax(longest, r.area / r.width), length = INFINITY,
           steps = EFFORT / RUNS / ((double)n * (double)n + 10);
    for (int run = 0; run < RUNS && length > least * (1 + FULL); run++) {
        sort_by(&r, order, run);
        anneal(&r, &t->random, order, best, &length, least, steps);
    }
    lay_all(&r, best, INFINITY);
    for (size_t i = 0; i < n; i++) {
        struct item *it = &t->item[list[i]];
        it->shape = 4 * it->part;
        const struct box *b = &t->shape[it->shape].box;
        it->x = t->box.x0 + r.rect[i].x - b->x0;
        it->y = t->box.y0 + r.rect[i].y - b->y0;
    }
    return length;
}
