#include "remains/sizes.h"

#include "num/weighted.h"
#include "remains/sizes_inside.h"
#include "stuff/table.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- spreads -------------------------------------------------------------------------------- */

struct spread remains_spread_of(const double *value, const double *weight, size_t n) {
    static const double p[] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    double q[7];
    struct spread s = spread_unknown();
    if (num_quantiles(value, weight, n, p, 7, q, NULL) != 0) return s;
    s = (struct spread){q[0], q[1], q[2], q[3], q[4], q[5], q[6], 0, 0};
    s.mean = num_mean(value, weight, n);
    s.sd = num_sd(value, weight, n);
    return s;
}

struct spread remains_spread(const struct num_rows *rows, size_t col) {
    static const double p[] = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95, 0.995};
    double q[7];
    struct spread s = spread_unknown();
    if (col == NUM_NO_COLUMN || num_rows_quantiles(rows, col, p, 7, q) != 0) return s;
    return (struct spread){
        q[0], q[1], q[2], q[3], q[4], q[5], q[6], num_rows_mean(rows, col), num_rows_sd(rows, col)};
}

struct spread remains_spread_lognormal(double m, double sd) {
    /* Normal quantiles 99.5, 95 and 75 %. */
    static const double z995 = 2.5758293035489004, z95 = 1.6448536269514722,
                        z75 = 0.6744897501960817;
    double mean = exp(m + 0.5 * sd * sd);
    return (struct spread){
        exp(m - z995 * sd),         exp(m - z95 * sd), exp(m - z75 * sd),  exp(m),
        exp(m + z75 * sd),          exp(m + z95 * sd), exp(m + z995 * sd), mean,
        mean * sqrt(expm1(sd * sd))};
}

void model_log_moments(const struct num_rows *rows, const size_t *cols, size_t n, double *mean,
                       double *sd) {
    size_t rows_n = num_rows_count(rows);
    const double *lw = num_rows_log_weights(rows);
    const double *v[8];
    double top = -INFINITY, w_sum = 0, sum = 0, square = 0, at = 0;
    for (size_t k = 0; k < n; k++)
        v[k] = num_rows_values(rows, cols[k]);
    for (size_t i = 0; i < rows_n; i++)
        top = fmax(top, lw[i]);
    for (size_t i = 0; i < rows_n; i++) {
        double f = 1, w = lw[i] == top ? 1 : exp(lw[i] - top);
        for (size_t k = 0; k < n; k++)
            f *= v[k][i];
        f = log(f);
        if (i == 0) at = f; /* subtracted before squaring */
        w_sum += w;
        sum += w * (f - at);
        square += w * (f - at) * (f - at);
    }
    *mean = at + sum / w_sum;
    *sd = sqrt(fmax(0, square / w_sum - (sum / w_sum) * (sum / w_sum)));
}

/* ---- setting out ---------------------------------------------------------------------------- */

size_t model_piece(const struct model *m, const char *id) {
    if (!id || !m->slot_count) return NUM_NO_COLUMN;
    size_t at = num_hash(id) & (m->slot_count - 1);
    for (; m->slots[at]; at = (at + 1) & (m->slot_count - 1))
        if (strcmp(m->find->pieces[m->slots[at] - 1].id, id) == 0) return m->slots[at] - 1;
    return NUM_NO_COLUMN;
}

const struct measure *model_measure_of(const struct model *m, size_t piece, long quantity) {
    for (size_t i = m->first[piece]; i != NUM_NO_COLUMN; i = m->next[i])
        if (m->find->measures[i].quantity == quantity && !m->find->measures[i].rival_of)
            return &m->find->measures[i];
    return NULL;
}

static int index_pieces(struct model *m) {
    size_t n = m->find->piece_count;
    for (m->slot_count = 4; m->slot_count < 2 * n; m->slot_count *= 2) {
    }
    m->slots = ARENA_NEW(m->arena, size_t, m->slot_count);
    m->material = ARENA_NEW(m->arena, const char *, n + 1);
    if (!m->slots || !m->material) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++) {
        if (model_piece(m, m->find->pieces[i].id) != NUM_NO_COLUMN) continue; /* the first wins */
        size_t at = num_hash(m->find->pieces[i].id) & (m->slot_count - 1);
        while (m->slots[at])
            at = (at + 1) & (m->slot_count - 1);
        m->slots[at] = i + 1;
    }
    return 0;
}

/* Chains measures to their pieces, in order, and contradicting readings to each other. */
static int index_measures(struct model *m) {
    size_t n = m->find->piece_count, k = m->find->measure_count;
    size_t *last = ARENA_NEW(m->arena, size_t, n + 1);
    m->first = ARENA_NEW(m->arena, size_t, n + 1);
    m->next = ARENA_NEW(m->arena, size_t, k + 1);
    m->other = ARENA_NEW(m->arena, size_t, k + 1);
    if (!last || !m->first || !m->next || !m->other) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++)
        m->first[i] = NUM_NO_COLUMN;
    for (size_t i = 0; i < k; i++) {
        size_t p = model_piece(m, m->find->measures[i].piece);
        m->next[i] = m->other[i] = NUM_NO_COLUMN;
        if (p == NUM_NO_COLUMN) continue;
        if (m->first[p] == NUM_NO_COLUMN)
            m->first[p] = i;
        else
            m->next[last[p]] = i;
        last[p] = i;
    }
    for (size_t i = 0; i < k; i++) {
        const char *rival = m->find->measures[i].rival_of;
        const struct measure *r = rival ? find_measure(m->find, rival) : NULL;
        if (!r) continue;
        m->other[i] = (size_t)(r - m->find->measures);
        m->other[m->other[i]] = i;
    }
    return 0;
}

static size_t unit_of(size_t *unit, size_t i) {
    while (unit[i] != i)
        i = unit[i] = unit[unit[i]];
    return i;
}

/* Second readings and joins make pieces one; the first in the list stands for all. */
static int units(struct model *m) {
    size_t n = m->find->piece_count;
    m->unit = ARENA_NEW(m->arena, size_t, n + 1);
    if (!m->unit) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++)
        m->unit[i] = i;
    for (size_t i = 0; i < n; i++) {
        const struct piece *p = &m->find->pieces[i];
        for (size_t k = 0; k <= p->joins.n; k++) {
            size_t j = model_piece(m, k < p->joins.n ? p->joins.v[k] : p->same_as);
            if (j == NUM_NO_COLUMN) continue;
            size_t a = unit_of(m->unit, i), b = unit_of(m->unit, j);
            m->unit[a > b ? a : b] = a > b ? b : a;
        }
    }
    m->next_in_unit = ARENA_NEW(m->arena, size_t, n + 1);
    size_t *last = ARENA_NEW(m->arena, size_t, n + 1);
    if (!m->next_in_unit || !last) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++) {
        m->unit[i] = unit_of(m->unit, i);
        m->next_in_unit[i] = NUM_NO_COLUMN;
        if (m->unit[i] != i) m->next_in_unit[last[m->unit[i]]] = i;
        last[m->unit[i]] = i;
    }
    return 0;
}

static bool is_length(long quantity) {
    return quantity != QUANTITY_HOLES && quantity != QUANTITY_ROUNDS &&
           quantity != QUANTITY_CHAMFER_ANGLE && quantity != QUANTITY_STITCHES_PER_10_MM &&
           quantity != QUANTITY_MASS && quantity != QUANTITY_MOISTURE && quantity != QUANTITY_GAP &&
           quantity < QUANTITY_OTHER;
}

/* Finer than any calliper or film; and the sd of a logarithm beyond which sizes are reckoned that
 * no piece can have (e^2 = 7 times as much at 5 to 95 %). */
#define LEAST_SIZE 1e-3 /* mm */
#define MOST_LOG_SD 1.0

/* sd of the logarithm of a reading. A spacing is the length of its row over the gaps. Nothing
 * known of the ±: 1 mm is taken, and said. */
static double reading_log_sd(const struct model *m, struct measure_size *s) {
    const struct measure *r = s->measure;
    double sd = measure_sd(r) * s->plus_minus / r->tolerance; /* wider when two are taken as one */
    if (!isfinite(sd)) {
        sd = 1 / 1.6448536269514722;
        s->caution = "no ± was given; 1 mm is taken";
    }
    if (r->quantity == QUANTITY_PITCH) sd /= model_gaps(m, r);
    return sd / s->value;
}

/* The reading that contradicts r, or that r contradicts. */
static const struct measure *rival_of(const struct model *m, const struct measure *r) {
    size_t i = m->other[r - m->find->measures];
    return i == NUM_NO_COLUMN ? NULL : &m->find->measures[i];
}

/* Takes two readings that differ by less than their ± as one wider one. */
static void take_either(struct model *m, struct measure_size *s) {
    const struct measure *r = s->measure, *other = rival_of(m, r);
    s->value = r->value;
    s->plus_minus = r->tolerance;
    if (!other) return;
    double pm = fmax(r->tolerance, other->tolerance), apart = fabs(other->value - r->value);
    if (!(apart <= pm)) return;
    s->either = other;
    s->value = 0.5 * (r->value + other->value);
    s->plus_minus = pm + 0.5 * apart;
    s->caution = r->flag ? r->flag : "two readings that differ by less than their ±, used as one";
}

bool model_contradicted(const struct model *m, const struct measure_size *s) {
    return !s->either && rival_of(m, s->measure) != NULL;
}

static int set_alteration(struct model *m, struct measure_size *s) {
    const struct piece *p = model_original(m->find, s->piece);
    const struct piece *material = s->piece->substance == FIELD_UNKNOWN ? p : s->piece;
    char part[SIZES_WORD], quantity[SIZES_WORD];
    if (!(s->value >= LEAST_SIZE)) {
        s->why_not = "under a thousandth of a millimetre: not a size of anything";
        return 0;
    }
    if (!(s->log_sd <= MOST_LOG_SD)) {
        s->why_not = "its ± is larger than the size itself: it says nothing";
        return 0;
    }
    if (s->piece->shape_only == 1) {
        s->why_not = "no scale: kept as shape, out of every sum";
        return 0;
    }
    if (!*remains_alteration_class(material)) {
        s->why_not = "nothing is known that could be undone for this material";
        return 0;
    }
    if (s->measure->state == FIELD_UNKNOWN) {
        s->why_not = "the state it was measured in is not known";
        return 0;
    }
    int rc = model_alteration(&s->alteration, m, s->piece, s->measure,
                              remains_axis_of(material, s->measure));
    if (rc == ERR_MISSING) {
        s->why_not = "no figure is known for this material, state and direction";
        s->alteration = -1;
        error_clear(m->err);
        return 0;
    }
    if (rc) return rc;
    const struct alteration *a = &m->out->alterations[s->alteration];
    remains_part_word(p, part, sizeof part);
    remains_quantity_word(s->measure->quantity, quantity, sizeof quantity);
    s->log_sd = hypot(s->log_sd, a->prior.own_sd);
    return model_grain(&s->grain, m, material, s->measure, a, part, quantity);
}

static int set_out(struct model *m) {
    struct sizes *out = m->out;
    size_t n = m->find->measure_count;
    out->measures = ARENA_NEW(m->arena, struct measure_size, n + 1);
    m->sized = ARENA_NEW(m->arena, struct measure_size *, n + 1);
    m->groups = ARENA_NEW(m->arena, struct group, n + 1);
    m->readings = ARENA_NEW(m->arena, struct reading, n + 1);
    m->classes = ARENA_NEW(m->arena, struct reading_class, n + 1);
    if (!out->measures || !m->sized || !m->groups || !m->readings || !m->classes)
        return fail_memory(m->err);
    for (size_t i = 0; i < n; i++) {
        const struct measure *r = &m->find->measures[i];
        size_t at = model_piece(m, r->piece);
        if (at == NUM_NO_COLUMN || !is_length(r->quantity) || !(r->value > 0)) continue;
        const struct piece *p = &m->find->pieces[at];
        struct measure_size *s = &out->measures[out->measure_count];
        *s = (struct measure_size){.measure = r,
                                   .piece = p,
                                   .alteration = -1,
                                   .grain = NUM_NO_COLUMN,
                                   .fresh = spread_unknown(),
                                   .dry = spread_unknown(),
                                   .caution = r->flag};
        s->minimum = !remains_is_complete(p, r);
        take_either(m, s);
        s->log_sd = reading_log_sd(m, s);
        out->measure_count++;
        m->sized[i] = s;
        int rc = set_alteration(m, s);
        if (rc) return rc;
    }
    return 0;
}

/* For every piece read twice in different states: which others may use the figure, which not. */
static int offers(struct model *m) {
    size_t most = 1;
    for (size_t i = 0; i < m->find->piece_count; i++)
        if (m->find->pieces[i].same_as) most += m->find->piece_count;
    m->out->withheld = ARENA_NEW(m->arena, struct offer_withheld, most);
    if (!m->out->withheld) return fail_memory(m->err);
    for (size_t i = 0; i < m->find->piece_count; i++) {
        const struct piece *p = &m->find->pieces[i], *o = model_original(m->find, p);
        const struct measure *r = model_measure_of(m, i, QUANTITY_WIDTH);
        if (o == p || !r) continue;
        for (size_t k = 0; k < m->find->piece_count; k++) {
            const struct piece *q = &m->find->pieces[k];
            const struct measure *t = model_measure_of(m, k, QUANTITY_WIDTH);
            const char *reason;
            if (q == p || q == o || !t || !*remains_alteration_class(q)) continue;
            if (!remains_alteration_may_pass(o, r->state, q, t->state, &reason))
                m->out->withheld[m->out->withheld_count++] =
                    (struct offer_withheld){o->id, q->id, reason};
        }
    }
    return 0;
}

int remains_sizes(struct sizes *out, const struct find *find, struct num_rows *rows,
                  struct statement_set *said, struct arena *arena, struct error *err) {
    *out = (struct sizes){0};
    struct model m = {
        .out = out, .find = find, .rows = rows, .said = said, .arena = arena, .err = err};
    int rc = index_pieces(&m);
    if (!rc) rc = index_measures(&m);
    if (!rc) rc = units(&m);
    if (!rc) rc = set_out(&m);
    if (!rc) rc = model_gather(&m);
    if (!rc) rc = model_condition(&m);
    if (!rc) rc = model_squash(&m);
    if (!rc) rc = model_parts(&m);
    if (!rc) rc = model_lengths(&m);
    if (!rc) rc = model_counts(&m);
    if (!rc) rc = offers(&m);
    if (!rc && said) rc = model_measures(&m);
    if (!rc && said) rc = model_say(&m);
    stuff_shelf_free(m.shelf);
    return rc;
}

/* ---- finding -------------------------------------------------------------------------------- */

const struct part_size *remains_part_size(const struct sizes *s, const char *part,
                                          const char *quantity) {
    for (size_t i = 0; i < s->part_count; i++)
        if (strcmp(s->parts[i].part, part) == 0 && strcmp(s->parts[i].quantity, quantity) == 0)
            return &s->parts[i];
    return NULL;
}

const struct measure_size *remains_measure_size(const struct sizes *s, const char *measure) {
    for (size_t i = 0; i < s->measure_count; i++)
        if (strcmp(s->measures[i].measure->id, measure) == 0) return &s->measures[i];
    return NULL;
}

const struct alteration *remains_alteration(const struct sizes *s, const char *material,
                                            const char *zone, enum axis axis,
                                            const char *state_word) {
    for (size_t i = 0; i < s->alteration_count; i++) {
        const struct alteration *a = &s->alterations[i];
        if (a->axis == axis && strcmp(a->material, material) == 0 && strcmp(a->zone, zone) == 0 &&
            (!state_word || strcmp(a->state_word, state_word) == 0))
            return a;
    }
    return NULL;
}

/* ---- columns of one reading ----------------------------------------------------------------- */

struct reading_columns {
    size_t error, factor, grain, squash, dry;
};

static double reading_fresh(const double *row, void *ctx) {
    const struct reading_columns *c = ctx;
    double v = row[c->error] * row[c->factor];
    if (c->grain != NUM_NO_COLUMN) v *= row[c->grain];
    return c->squash != NUM_NO_COLUMN ? v * (1 + row[c->squash]) : v;
}
static double reading_dry(const double *row, void *ctx) {
    const struct reading_columns *c = ctx;
    return row[c->error] * row[c->dry]; /* error: here the fresh column */
}

int remains_measure_columns(size_t *fresh, size_t *dry, const struct sizes *sizes,
                            const struct find *find, struct num_rows *rows,
                            const struct measure_size *s, struct arena *arena, struct error *err) {
    if (s->alteration < 0)
        return fail(err, ERR_MISSING, NULL, "%s: %s.", s->measure->id, s->why_not);
    struct reading_columns *c = ARENA_NEW(arena, struct reading_columns, 2);
    if (!c) return fail_memory(err);
    const struct alteration *a = &sizes->alterations[s->alteration];
    struct model m = {.find = find, .rows = rows, .arena = arena, .err = err};
    char id[200];
    struct num_dist d = num_dist_lognormal(s->value, fmax(s->log_sd, 1e-6));
    c[0] =
        (struct reading_columns){.factor = a->factor, .grain = s->grain, .squash = NUM_NO_COLUMN};
    snprintf(id, sizeof id, "reading.%s", s->measure->id);
    int rc = num_rows_root(rows, id, &d, &c[0].error, err);
    if (!rc && s->measure->quantity == QUANTITY_THICKNESS)
        rc = model_squash_root(&c[0].squash, &m, a->material);
    size_t from[4] = {c[0].error, c[0].factor}, n = 2;
    if (c[0].grain != NUM_NO_COLUMN) from[n++] = c[0].grain;
    if (c[0].squash != NUM_NO_COLUMN) from[n++] = c[0].squash;
    snprintf(id, sizeof id, "%s.fresh", s->measure->id);
    if (!rc) rc = num_rows_derive(rows, id, from, n, reading_fresh, &c[0], fresh, err);
    if (rc || !dry) return rc;
    rc = remains_dry_factor(&c[1].dry, find, rows, s->piece, a->axis, arena, err);
    c[1].error = *fresh;
    size_t two[] = {*fresh, c[1].dry};
    snprintf(id, sizeof id, "%s.dry", s->measure->id);
    return rc ? rc : num_rows_derive(rows, id, two, 2, reading_dry, &c[1], dry, err);
}
