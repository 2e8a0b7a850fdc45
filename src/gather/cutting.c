#include "gather/cutting.h"

#include <glpk.h>
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    CUT_MOST_MM = 100000,  /* longest stock: the knapsack keeps a table of this size */
    CUT_MOST_PIECES = 200, /* kinds of piece */
    CUT_MOST_STOCKS = 100,
    CUT_MOST_TOTAL = 20000, /* pieces in all */
    CUT_ROUNDS = 2000,      /* column generation; each round adds a column per stock */
    CUT_PATTERNS = 4000,    /* all maximal patterns are listed when there are no more than this */
    CUT_NODES = 20000       /* branch and bound stops here; the gap is told by `proved` */
};

/* One pattern: how many of each piece from one stock. */
struct column {
    size_t stock;
    long *count;
};

struct cutter {
    size_t pieces, stocks;
    long *length;   /* [pieces] whole mm, kerf added */
    long *demand;   /* [pieces] */
    long *room;     /* [stocks] whole mm, one kerf added: the last piece needs no cut after it */
    long *in_hand;  /* [stocks] */
    double *cost;   /* [stocks] */
    double penalty; /* cost of a piece that is not cut: above any stock */
    size_t columns, most;
    struct column *column;
    struct arena *arena;
};

static int add_column(struct cutter *c, size_t stock, const long *count) {
    for (size_t k = 0; k < c->columns; k++)
        if (c->column[k].stock == stock &&
            memcmp(c->column[k].count, count, c->pieces * sizeof *count) == 0)
            return 0;
    if (c->columns == c->most) {
        size_t most = c->most ? 2 * c->most : 64;
        struct column *grown = ARENA_NEW(c->arena, struct column, most);
        if (!grown) return ERR_MEMORY;
        if (c->columns) memcpy(grown, c->column, c->columns * sizeof *grown);
        c->column = grown;
        c->most = most;
    }
    long *copy = ARENA_NEW(c->arena, long, c->pieces);
    if (!copy) return ERR_MEMORY;
    memcpy(copy, count, c->pieces * sizeof *count);
    c->column[c->columns++] = (struct column){stock, copy};
    return 0;
}

/* First-fit decreasing: longest first, each into the first stock that has room; a new stock is the
 * shortest that takes the piece. Its bars are also the first columns. Returns bars, -1 when the
 * stock in hand runs out. */
static long first_fit(struct cutter *c, int *rc) {
    size_t total = 0, bars = 0;
    for (size_t i = 0; i < c->pieces; i++)
        total += (size_t)c->demand[i];
    size_t *order = ARENA_NEW(c->arena, size_t, c->pieces);
    long *left = ARENA_NEW(c->arena, long, total), *hand = ARENA_NEW(c->arena, long, c->stocks);
    size_t *of = ARENA_NEW(c->arena, size_t, total);
    long *count = ARENA_NEW(c->arena, long, total * c->pieces);
    if (!order || !left || !hand || !of || !count) {
        *rc = ERR_MEMORY;
        return -1;
    }
    memcpy(hand, c->in_hand, c->stocks * sizeof *hand);
    for (size_t i = 0; i < c->pieces; i++) { /* insertion sort, longest first, stable */
        size_t at = i;
        while (at > 0 && c->length[order[at - 1]] < c->length[i]) {
            order[at] = order[at - 1];
            at--;
        }
        order[at] = i;
    }
    bool short_of = false;
    for (size_t o = 0; o < c->pieces; o++) {
        size_t i = order[o];
        for (long k = 0; k < c->demand[i]; k++) {
            size_t b = 0;
            while (b < bars && left[b] < c->length[i])
                b++;
            if (b == bars) {
                size_t best = c->stocks;
                for (size_t s = 0; s < c->stocks; s++)
                    if (hand[s] != 0 && c->room[s] >= c->length[i] &&
                        (best == c->stocks || c->room[s] < c->room[best]))
                        best = s;
                if (best == c->stocks) {
                    short_of = true;
                    continue;
                }
                if (hand[best] > 0) hand[best]--;
                of[bars] = best;
                left[bars++] = c->room[best];
            }
            left[b] -= c->length[i];
            count[b * c->pieces + i]++;
        }
    }
    for (size_t b = 0; b < bars && !*rc; b++)
        *rc = add_column(c, of[b], count + b * c->pieces);
    return short_of ? -1 : (long)bars;
}

/* Unbounded-by-stock, bounded-by-demand knapsack on whole mm: the pattern of stock s with the
 * greatest sum of prices. best[] is over capacity, piece after piece; take[] remembers how many. */
static double knapsack(const struct cutter *c, size_t s, const double *price, double *best,
                       short *take, long *count) {
    size_t room = (size_t)c->room[s];
    for (size_t r = 0; r <= room; r++)
        best[r] = 0;
    for (size_t i = 0; i < c->pieces; i++) {
        short *t = take + i * (room + 1);
        memset(t, 0, (room + 1) * sizeof *t);
        size_t l = (size_t)c->length[i];
        long most = c->demand[i] < (long)(room / l) ? c->demand[i] : (long)(room / l);
        if (most <= 0 || price[i] <= 0) continue;
        /* Downward over capacity keeps the table of the earlier pieces below r untouched. */
        for (size_t r = room + 1; r-- > l;) {
            double top = best[r];
            for (long k = 1; k <= most && (size_t)k * l <= r; k++) {
                double v = best[r - (size_t)k * l] + (double)k * price[i];
                if (v > top) {
                    top = v;
                    t[r] = (short)k;
                }
            }
            best[r] = top;
        }
    }
    size_t r = room;
    for (size_t i = c->pieces; i-- > 0;) {
        count[i] = take[i * (room + 1) + r];
        r -= (size_t)count[i] * (size_t)c->length[i];
    }
    return best[room];
}

/* Rows 1..pieces: demand; rows pieces+1..: stock in hand. Columns: patterns, then one "not cut"
 * column a piece with a price no stock reaches, so that the programme always has an answer. */
static glp_prob *programme(const struct cutter *c, bool whole) {
    glp_prob *p = glp_create_prob();
    glp_set_obj_dir(p, GLP_MIN);
    int np = (int)c->pieces, ns = (int)c->stocks;
    glp_add_rows(p, np + ns);
    for (int i = 1; i <= np; i++)
        glp_set_row_bnds(p, i, GLP_LO, (double)c->demand[i - 1], 0);
    for (int s = 1; s <= ns; s++) {
        if (c->in_hand[s - 1] < 0)
            glp_set_row_bnds(p, np + s, GLP_FR, 0, 0);
        else
            glp_set_row_bnds(p, np + s, GLP_UP, 0, (double)c->in_hand[s - 1]);
    }
    glp_add_cols(p, (int)c->columns + np);
    int index[CUT_MOST_PIECES + 2];
    double value[CUT_MOST_PIECES + 2];
    for (size_t k = 0; k < c->columns; k++) {
        const struct column *col = &c->column[k];
        int j = (int)k + 1, n = 0;
        for (int i = 1; i <= np; i++) {
            if (!col->count[i - 1]) continue;
            index[++n] = i;
            value[n] = (double)col->count[i - 1];
        }
        index[++n] = np + (int)col->stock + 1;
        value[n] = 1;
        glp_set_mat_col(p, j, n, index, value);
        glp_set_col_bnds(p, j, GLP_LO, 0, 0);
        glp_set_obj_coef(p, j, c->cost[col->stock]);
        if (whole) glp_set_col_kind(p, j, GLP_IV);
    }
    for (int i = 1; i <= np; i++) {
        int j = (int)c->columns + i;
        index[1] = i;
        value[1] = 1;
        glp_set_mat_col(p, j, 1, index, value);
        glp_set_col_bnds(p, j, GLP_LO, 0, 0);
        glp_set_obj_coef(p, j, c->penalty);
        if (whole) glp_set_col_kind(p, j, GLP_IV);
    }
    return p;
}

/* Column generation: solve, price each stock's knapsack, add what pays, until nothing does.
 * Returns the optimum of the linear programme over all patterns in *bound. */
static int generate(struct cutter *c, double *bound, struct error *err) {
    long longest = 0;
    for (size_t s = 0; s < c->stocks; s++)
        if (c->room[s] > longest) longest = c->room[s];
    double *best = ARENA_NEW(c->arena, double, (size_t)longest + 1);
    short *take = ARENA_NEW(c->arena, short, ((size_t)longest + 1) * c->pieces);
    double *price = ARENA_NEW(c->arena, double, c->pieces);
    long *count = ARENA_NEW(c->arena, long, c->pieces);
    if (!best || !take || !price || !count) return fail_memory(err);
    for (int round = 0; round < CUT_ROUNDS; round++) {
        glp_prob *p = programme(c, false);
        glp_smcp how;
        glp_init_smcp(&how);
        how.msg_lev = GLP_MSG_OFF;
        how.presolve = GLP_OFF;
        int rc = glp_simplex(p, &how);
        *bound = glp_get_obj_val(p);
        bool solved = rc == 0 && glp_get_status(p) == GLP_OPT;
        for (size_t i = 0; solved && i < c->pieces; i++)
            price[i] = glp_get_row_dual(p, (int)i + 1);
        double stock_price[CUT_MOST_STOCKS];
        for (size_t s = 0; solved && s < c->stocks; s++)
            stock_price[s] = glp_get_row_dual(p, (int)(c->pieces + s) + 1);
        glp_delete_prob(p);
        if (!solved)
            return fail(err, ERR_SOLVE, "Try with fewer kinds of piece.",
                        "The cutting programme found no answer (solver status %d).", rc);
        bool gained = false;
        for (size_t s = 0; s < c->stocks; s++) {
            double worth = knapsack(c, s, price, best, take, count);
            /* Reduced cost of the new column; 1e-9 of the cost is rounding of the simplex. */
            if (c->cost[s] - stock_price[s] - worth > -1e-9 * c->cost[s]) continue;
            size_t before = c->columns;
            if (add_column(c, s, count)) return fail_memory(err);
            gained = gained || c->columns > before;
        }
        if (!gained) return 0;
    }
    return 0;
}

/* Lists all maximal patterns of stock s, depth first; stops when there are too many. */
static int list_patterns(struct cutter *c, size_t s, size_t i, long room, long *count,
                         size_t *budget) {
    if (*budget == 0) return 0;
    if (i == c->pieces) {
        for (size_t k = 0; k < c->pieces; k++)
            if (count[k] < c->demand[k] && c->length[k] <= room) return 0; /* not maximal */
        (*budget)--;
        return add_column(c, s, count);
    }
    long most = room / c->length[i];
    if (most > c->demand[i]) most = c->demand[i];
    for (long k = most; k >= 0 && *budget; k--) {
        count[i] = k;
        int rc = list_patterns(c, s, i + 1, room - k * c->length[i], count, budget);
        if (rc) return rc;
    }
    count[i] = 0;
    return 0;
}

static void stop_after_nodes(glp_tree *tree, void *context) {
    int active, all, total;
    (void)context;
    glp_ios_tree_size(tree, &active, &all, &total);
    if (total > CUT_NODES) glp_ios_terminate(tree);
}

/* Best whole-number plan over the columns; times[k] of column k. Returns the objective, or
 * INFINITY. */
static double whole_plan(struct cutter *c, long *times) {
    glp_prob *p = programme(c, true);
    glp_smcp relaxed;
    glp_init_smcp(&relaxed);
    relaxed.msg_lev = GLP_MSG_OFF;
    glp_iocp how;
    glp_init_iocp(&how);
    how.msg_lev = GLP_MSG_OFF;
    how.cb_func = stop_after_nodes;
    how.gmi_cuts = GLP_ON;
    how.fp_heur = GLP_ON;
    double value = INFINITY;
    if (glp_simplex(p, &relaxed) == 0) {
        glp_intopt(p, &how);
        int status = glp_mip_status(p);
        if (status == GLP_OPT || status == GLP_FEAS) {
            value = glp_mip_obj_val(p);
            for (size_t k = 0; k < c->columns; k++)
                times[k] = lround(glp_mip_col_val(p, (int)k + 1));
        }
    }
    glp_delete_prob(p);
    return value;
}

/* The smallest sum of whole stocks that is not below the bound: with stocks all alike a plan that
 * reaches it cannot be bettered. */
static double whole_bound(const struct cutter *c, double bound) {
    for (size_t s = 1; s < c->stocks; s++)
        if (c->cost[s] != c->cost[0]) return bound;
    return c->cost[0] * ceil(bound / c->cost[0] - 1e-6);
}

static int read_input(struct cutter *c, const struct cut_piece *piece,
                      const struct cut_stock *stock, double kerf, struct error *err) {
    if (!(kerf >= 0 && kerf <= 50))
        return fail(err, ERR_RANGE, "Give the width of the cut in mm, 0 for a knife.",
                    "Kerf %g mm; it must lie between 0 and 50.", kerf);
    if (c->pieces > CUT_MOST_PIECES || c->stocks > CUT_MOST_STOCKS || !c->pieces || !c->stocks)
        return fail(err, ERR_RANGE,
                    "Give at least one piece and one stock, and split a large list.",
                    "%zu kinds of piece and %zu of stock; at most %d and %d are planned at once.",
                    c->pieces, c->stocks, CUT_MOST_PIECES, CUT_MOST_STOCKS);
    long k = lround(ceil(kerf - 1e-9)), longest = 0;
    for (size_t s = 0; s < c->stocks; s++) {
        if (!(stock[s].length > 0 && stock[s].length <= CUT_MOST_MM))
            return fail(err, ERR_RANGE, "Give its length in mm.",
                        "Stock \"%s\": length %g mm; it must be above 0 and at most %d.",
                        stock[s].name ? stock[s].name : "", stock[s].length, CUT_MOST_MM);
        c->room[s] = (long)floor(stock[s].length + 1e-9) + k;
        c->in_hand[s] = stock[s].number;
        c->cost[s] = stock[s].length;
        if (c->room[s] > longest) longest = c->room[s];
    }
    for (size_t i = 0; i < c->pieces; i++) {
        if (!(piece[i].length > 0) || piece[i].number < 0 || piece[i].number > 10000)
            return fail(err, ERR_RANGE,
                        "Give a length in mm and how many are wanted, up to 10,000.",
                        "Piece \"%s\": %ld of length %g mm.", piece[i].name ? piece[i].name : "",
                        piece[i].number, piece[i].length);
        c->length[i] = (long)ceil(fmin(piece[i].length, 2.0 * CUT_MOST_MM) - 1e-9) + k;
        c->demand[i] = piece[i].number;
        if (c->length[i] > longest)
            return fail(err, ERR_REFUSED, "Get a longer pole, or join the piece with a scarf.",
                        "Piece \"%s\" of %g mm is longer than every stock.",
                        piece[i].name ? piece[i].name : "", piece[i].length);
    }
    long total = 0;
    for (size_t i = 0; i < c->pieces; i++)
        total += c->demand[i];
    if (total > CUT_MOST_TOTAL)
        return fail(err, ERR_RANGE, "Plan one part of the work at a time.",
                    "%ld pieces are wanted; at most %d are planned at once.", total,
                    CUT_MOST_TOTAL);
    c->penalty = 0;
    for (size_t s = 0; s < c->stocks; s++)
        c->penalty = fmax(c->penalty, 1000 * c->cost[s]);
    return 0;
}

/* Turns column counts into the plan; pieces cut beyond the demand are taken off again. */
static int write_plan(struct cut_plan *out, struct cutter *c, const long *times,
                      const struct cut_piece *piece, const struct cut_stock *stock) {
    long *left = ARENA_NEW(c->arena, long, c->pieces);
    size_t rows = 0;
    for (size_t k = 0; k < c->columns; k++)
        rows += (size_t)times[k];
    out->pattern = ARENA_NEW(c->arena, struct cut_pattern, rows);
    if (!left || !out->pattern) return ERR_MEMORY;
    memcpy(left, c->demand, c->pieces * sizeof *left);
    double made = 0;
    for (size_t k = 0; k < c->columns; k++) {
        for (long t = 0; t < times[k]; t++) {
            struct cut_pattern next = {.stock = c->column[k].stock, .times = 1};
            next.count = ARENA_NEW(c->arena, long, c->pieces);
            if (!next.count) return ERR_MEMORY;
            double net = 0;
            long gross = 0;
            for (size_t i = 0; i < c->pieces; i++) {
                long n = c->column[k].count[i] < left[i] ? c->column[k].count[i] : left[i];
                next.count[i] = n;
                left[i] -= n;
                net += (double)n * piece[i].length;
                gross += n * c->length[i];
            }
            if (gross == 0) continue;
            made += net;
            next.waste = stock[next.stock].length - net;
            next.offcut = fmax(0, (double)(c->room[next.stock] - gross));
            out->used++;
            out->used_length += stock[next.stock].length;
            struct cut_pattern *last = out->patterns ? &out->pattern[out->patterns - 1] : NULL;
            if (last && last->stock == next.stock &&
                memcmp(last->count, next.count, c->pieces * sizeof *next.count) == 0)
                last->times++;
            else
                out->pattern[out->patterns++] = next;
        }
    }
    out->missing = left;
    out->complete = true;
    for (size_t i = 0; i < c->pieces; i++)
        out->complete = out->complete && left[i] == 0;
    out->waste_share = out->used_length > 0 ? 1 - made / out->used_length : 0;
    return 0;
}

int gather_cut(struct cut_plan *out, const struct cut_piece *piece, size_t pieces,
               const struct cut_stock *stock, size_t stocks, double kerf, struct arena *arena,
               struct error *err) {
    *out = (struct cut_plan){0};
    struct cutter c = {.pieces = pieces, .stocks = stocks, .arena = arena};
    c.length = ARENA_NEW(arena, long, pieces);
    c.demand = ARENA_NEW(arena, long, pieces);
    c.room = ARENA_NEW(arena, long, stocks);
    c.in_hand = ARENA_NEW(arena, long, stocks);
    c.cost = ARENA_NEW(arena, double, stocks);
    if (!c.length || !c.demand || !c.room || !c.in_hand || !c.cost) return fail_memory(err);
    int rc = read_input(&c, piece, stock, kerf, err);
    if (rc) return rc;
    int full = 0;
    out->first_fit = first_fit(&c, &full);
    if (full) return fail_memory(err);
    double bound = 0;
    if ((rc = generate(&c, &bound, err))) return rc;
    long *times = ARENA_NEW(arena, long, c.columns);
    if (!times) return fail_memory(err);
    double value = whole_plan(&c, times), least = whole_bound(&c, bound);
    if (value > least * (1 + 1e-9)) { /* not proved: offer every maximal pattern when few */
        size_t before = c.columns, budget = CUT_PATTERNS;
        long *count = ARENA_NEW(arena, long, pieces);
        if (!count) return fail_memory(err);
        for (size_t s = 0; s < stocks && budget; s++)
            if (list_patterns(&c, s, 0, c.room[s], count, &budget)) return fail_memory(err);
        if (budget == 0) c.columns = before;
        long *more = ARENA_NEW(arena, long, c.columns);
        if (!more) return fail_memory(err);
        double better = budget ? whole_plan(&c, more) : INFINITY;
        if (better < value) {
            value = better;
            times = more;
        } else
            c.columns = before;
    }
    if (!isfinite(value))
        return fail(err, ERR_SOLVE, "Split the list into two and plan each.",
                    "No whole-number cutting plan was found within %d nodes.", CUT_NODES);
    out->bound = bound;
    out->proved = value <= least * (1 + 1e-9);
    return write_plan(out, &c, times, piece, stock) ? fail_memory(err) : 0;
}
