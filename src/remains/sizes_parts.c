/* sizes_parts: the typical size of each part, its length from broken pieces, and how many. */
#include "remains/sizes_inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double times(const double *row, void *ctx) {
    const size_t *c = ctx;
    return row[c[0]] * row[c[1]];
}
static double unpressed(const double *row, void *ctx) {
    const size_t *c = ctx;
    return row[c[0]] * (1 + row[c[1]]);
}

static int derive_two(size_t *col, struct model *m, const char *id, size_t a, size_t b,
                      num_row_fn *fn) {
    size_t *ctx = ARENA_NEW(m->arena, size_t, 2);
    if (!ctx) return fail_memory(m->err);
    ctx[0] = a;
    ctx[1] = b;
    return num_rows_derive(m->rows, id, ctx, 2, fn, ctx, col, m->err);
}

/* ---- thickness, width, spacing -------------------------------------------------------------- */

static int part_columns(struct part_size *p, struct model *m, const struct group *g) {
    char id[120];
    p->column = g->root;
    if (g->kind == QUANTITY_THICKNESS) {
        size_t squash;
        int rc = model_squash_root(&squash, m, p->material);
        snprintf(id, sizeof id, "size.%s.thickness", g->part);
        if (!rc && squash != NUM_NO_COLUMN)
            rc = derive_two(&p->column, m, id, g->root, squash, unpressed);
        if (rc) return rc;
    }
    size_t dry;
    int rc = model_dry_factor(&dry, m, g->example, p->axis);
    if (rc) return rc;
    snprintf(id, sizeof id, "size.%s.%s.dry", g->part, g->quantity);
    return derive_two(&p->dry_column, m, id, p->column, dry, times);
}

/* The direction a part's size runs in: that of the first reading of the piece it is named for. */
static enum axis group_axis(const struct model *m, size_t g) {
    for (size_t i = 0; i < m->reading_count; i++) {
        const struct measure_size *s = &m->out->measures[m->readings[i].measure];
        if (m->readings[i].group == g && (m->groups[g].is_pitch ? remains_is_wood(s->piece) : true))
            return m->out->alterations[s->alteration].axis;
    }
    for (size_t i = 0; i < m->reading_count; i++)
        if (m->readings[i].group == g)
            return m->out->alterations[m->out->measures[m->readings[i].measure].alteration].axis;
    return AXIS_ACROSS;
}

static size_t group_pieces(const struct model *m, size_t g) {
    size_t n = 0, pieces = m->find->piece_count;
    for (size_t i = 0; i < pieces; i++)
        n += m->read[g * pieces + i] > 0;
    return n;
}

static int part_size(struct model *m, size_t g) {
    const struct group *q = &m->groups[g];
    struct part_size *p = &m->out->parts[m->out->part_count];
    char material[SIZES_WORD];
    remains_material_word(m->find, q->example, material, sizeof material);
    *p = (struct part_size){.part = arena_strdup(m->arena, q->part),
                            .quantity = arena_strdup(m->arena, q->quantity),
                            .material = arena_strdup(m->arena, material),
                            .example = q->example,
                            .quantity_kind = q->kind,
                            .axis = group_axis(m, g),
                            .readings = q->readings,
                            .pieces = group_pieces(m, g),
                            .within = q->sigma,
                            .within_low = q->sigma_low,
                            .within_high = q->sigma_high};
    if (!p->part || !p->quantity || !p->material) return fail_memory(m->err);
    int rc = part_columns(p, m, q);
    if (rc) return rc;
    p->fresh = remains_spread(m->rows, p->column);
    p->dry = remains_spread(m->rows, p->dry_column);
    m->out->part_count++;
    return 0;
}

int model_parts(struct model *m) {
    m->out->parts = ARENA_NEW(m->arena, struct part_size, m->group_count + 1);
    if (!m->out->parts) return fail_memory(m->err);
    for (size_t g = 0; g < m->group_count; g++) {
        int rc = part_size(m, g);
        if (rc) return rc;
    }
    for (size_t i = 0; i < m->out->alteration_count; i++) {
        struct alteration *a = &m->out->alterations[i];
        struct spread f = remains_spread(m->rows, a->factor);
        /* loss = 1 - 1 / factor rises with the factor: quantiles carry over; mean and sd are
         * those of the factor to first order. */
        a->loss = (struct spread){.p005 = 1 - 1 / f.p005,
                                  .p05 = 1 - 1 / f.p05,
                                  .p25 = 1 - 1 / f.p25,
                                  .p50 = 1 - 1 / f.p50,
                                  .p75 = 1 - 1 / f.p75,
                                  .p95 = 1 - 1 / f.p95,
                                  .p995 = 1 - 1 / f.p995,
                                  .mean = 1 - 1 / f.mean,
                                  .sd = f.sd / (f.mean * f.mean)};
    }
    return 0;
}

/* ---- lengths -------------------------------------------------------------------------------- */

/* One thing that survives: pieces that join, and second readings, are one. */
struct unit_length {
    double fresh, raw;
    long whole_ends;
    bool both, several; /* of ends: both whole; of states: several */
    double weight;
    const char *measure;
    long state;
};

static double factor_median(const struct model *m, const struct measure_size *s) {
    if (s->alteration < 0) return 1;
    double mean, sd;
    model_log_moments(m->rows, &m->out->alterations[s->alteration].factor, 1, &mean, &sd);
    return exp(mean);
}

static long ends_whole(const struct measure *r) {
    long n = 0;
    for (size_t k = 0; k < r->end_kinds.n; k++)
        n += end_is_whole(r->end_kinds.v[k]);
    return n;
}

/* Lengths of the units of a part; out[pieces]. Second readings replace nothing and add nothing. */
static size_t unit_lengths(struct unit_length *out, const struct model *m, const char *part) {
    size_t n = 0;
    for (size_t p = 0; p < m->find->piece_count; p++) {
        if (m->unit[p] != p) continue;
        struct unit_length u = {.weight = 1, .state = FIELD_UNKNOWN};
        for (size_t q = p; q != NUM_NO_COLUMN; q = m->next_in_unit[q])
            for (size_t i = m->first[q]; i != NUM_NO_COLUMN; i = m->next[i]) {
                const struct measure_size *s = m->sized[i];
                char word[SIZES_WORD];
                if (!s || s->measure->quantity != QUANTITY_LENGTH || s->piece->same_as ||
                    s->measure->mark || s->measure->rival_of || s->alteration < 0 ||
                    s->piece->shape_only == 1)
                    continue;
                remains_part_word(s->piece, word, sizeof word);
                if (strcmp(word, part) != 0) continue;
                u.several = u.several || (u.measure && u.state != s->measure->state);
                u.state = s->measure->state;
                u.raw += s->measure->value;
                u.fresh += s->value * factor_median(m, s);
                u.whole_ends += ends_whole(s->measure);
                u.weight = fmin(u.weight, s->piece->belongs);
                if (!u.measure) u.measure = s->measure->id;
            }
        u.both = u.whole_ends >= 2;
        if (u.measure) out[n++] = u;
    }
    return n;
}

struct length_context {
    struct length_grid grid;
    size_t rank, spread_rank;
};

static void length_row(const double *row, double *out, void *ctx) {
    const struct length_context *c = ctx;
    double mu;
    remains_length_at(&c->grid, row[c->spread_rank], row[c->rank], &mu, &out[1]);
    out[0] = exp(mu);
}

/* Median by Kaplan & Meier (J. Am. Stat. Assoc. 53, 1958, 457-481): the first whole length at
 * which the share still longer falls to a half or below; whole before broken among equals. */
static double kaplan_meier(const struct length_reading *v, size_t n) {
    double share = 1, last = 0;
    for (;;) {
        double t = INFINITY;
        for (size_t i = 0; i < n; i++)
            if (v[i].whole && v[i].value > last && v[i].value < t) t = v[i].value;
        if (isinf(t)) return NAN;
        double at_risk = 0, whole = 0;
        for (size_t i = 0; i < n; i++) {
            at_risk += v[i].value >= t;
            whole += v[i].whole && v[i].value == t;
        }
        share *= 1 - whole / at_risk;
        if (share <= 0.5) return t;
        last = t;
    }
}

/* Spread of one length drawn from the same work: median times exp(sigma z), z by fixed strata. */
static int predict_one(struct length_size *l, struct model *m) {
    size_t n = num_rows_count(m->rows), cols[] = {l->column, l->spread_column};
    const double *mu = num_rows_values(m->rows, cols[0]), *s = num_rows_values(m->rows, cols[1]);
    double *value = ARENA_NEW(m->arena, double, n), *w = ARENA_NEW(m->arena, double, n);
    if (!value || !w) return fail_memory(m->err);
    num_rows_weights(m->rows, w);
    for (size_t i = 0; i < n; i++) {
        struct num_random r;
        num_random_begin(&r, num_rows_seed(m->rows), num_hash(l->part), i);
        value[i] = mu[i] * exp(s[i] * num_random_normal(&r));
    }
    l->one = remains_spread_of(value, w, n);
    return 0;
}

static const double CRAFT_MEDIAN = 0.08, CRAFT_LOG_SD = 0.5; /* 3 to 15 %: inference notes, 2 */

static int length_columns(struct length_size *l, struct model *m, const struct length_reading *v,
                          size_t n) {
    struct length_context *c = ARENA_NEW(m->arena, struct length_context, 1);
    char id[4][120];
    if (!c) return fail_memory(m->err);
    snprintf(id[0], sizeof id[0], "rank.%s.length", l->part);
    snprintf(id[1], sizeof id[1], "rank.%s.length.spread", l->part);
    snprintf(id[2], sizeof id[2], "size.%s.length", l->part);
    snprintf(id[3], sizeof id[3], "size.%s.length.spread", l->part);
    int rc = remains_length_grid(&c->grid, v, n, CRAFT_MEDIAN, CRAFT_LOG_SD, m->err);
    struct num_dist even = num_dist_uniform(0, 1);
    if (!rc) rc = num_rows_root(m->rows, id[0], &even, &c->rank, m->err);
    if (!rc) rc = num_rows_root(m->rows, id[1], &even, &c->spread_rank, m->err);
    if (rc) return rc;
    const char *ids[] = {id[2], id[3]};
    size_t from[] = {c->rank, c->spread_rank}, cols[2];
    rc = num_rows_derive_many(m->rows, ids, 2, from, 2, length_row, c, cols, m->err);
    if (rc) return rc;
    l->column = cols[0];
    l->spread_column = cols[1];
    l->fresh = remains_spread(m->rows, cols[0]);
    l->scatter = remains_spread(m->rows, cols[1]);
    return predict_one(l, m);
}

/* ---- halves --------------------------------------------------------------------------------- */

/* Where a thing that survives by half broke, as a share of its whole length: about the middle,
 * where it is held or bends most, but nobody saw it (a guess; rival: it broke elsewhere). */
static const double BREAK_AT = 0.5, BREAK_SD = 0.07;

struct half_columns {
    size_t half, at;
};
static double doubled(const double *row, void *ctx) {
    const struct half_columns *c = ctx;
    return row[c->half] / row[c->at];
}

/* A grip of which the list says "(half)" and that has one end of its own. */
static int half_length(struct length_size *l, struct model *m) {
    for (size_t i = 0; i < m->out->measure_count; i++) {
        struct measure_size *s = &m->out->measures[i];
        char word[SIZES_WORD], id[120];
        remains_part_word(s->piece, word, sizeof word);
        bool half = s->piece->part && strstr(s->piece->part, "(half)");
        if (!half || strcmp(word, l->part) != 0 || s->alteration < 0 ||
            s->measure->quantity != QUANTITY_LENGTH || ends_whole(s->measure) != 1)
            continue;
        struct half_columns *c = ARENA_NEW(m->arena, struct half_columns, 1);
        if (!c) return fail_memory(m->err);
        int rc =
            remains_measure_columns(&c->half, NULL, m->out, m->find, m->rows, s, m->arena, m->err);
        snprintf(id, sizeof id, "break.%s", l->part);
        struct num_dist d = num_dist_truncated(BREAK_AT, BREAK_SD, 0.25, 0.95);
        if (!rc) rc = num_rows_root(m->rows, id, &d, &c->at, m->err);
        size_t from[] = {c->half, c->at};
        snprintf(id, sizeof id, "size.%s.length", l->part);
        if (!rc) rc = num_rows_derive(m->rows, id, from, 2, doubled, c, &l->column, m->err);
        if (!rc) l->fresh = remains_spread(m->rows, l->column);
        l->half = s->measure->id;
        return rc;
    }
    return 0;
}

/* ---- all pieces of a part -------------------------------------------------------------------- */

static int part_length(struct model *m, const char *part, struct unit_length *units) {
    struct length_size *l = &m->out->lengths[m->out->length_count];
    size_t n = unit_lengths(units, m, part), k = 0;
    struct length_reading *v = ARENA_NEW(m->arena, struct length_reading, n + 1);
    *l = (struct length_size){.part = arena_strdup(m->arena, part),
                              .kaplan_meier = NAN,
                              .column = NUM_NO_COLUMN,
                              .spread_column = NUM_NO_COLUMN,
                              .fresh = spread_unknown(),
                              .one = spread_unknown(),
                              .scatter = spread_unknown()};
    if (!v || !l->part) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++) {
        const struct unit_length *u = &units[i];
        l->whole += u->both;
        l->minimums += !u->both;
        if (u->fresh > l->longest) {
            l->longest = u->fresh;
            l->longest_id = u->measure;
        }
        /* A piece broken at both ends may be of the same lath as another: it only counts as a
         * minimum when it has an end of its own (inference notes, 2: little is lost). */
        if (u->whole_ends > 0 && u->weight >= 0.5)
            v[k++] = (struct length_reading){u->fresh, u->both, u->weight};
    }
    if (n == 0) return 0;
    m->out->length_count++;
    l->kaplan_meier = kaplan_meier(v, k);
    return l->whole > 0 ? length_columns(l, m, v, k) : half_length(l, m);
}

/* The part words of the find, each once; words[n]. Sheets have no length of their own here. */
static size_t part_words(char (*words)[SIZES_WORD], const struct model *m) {
    size_t n = 0;
    for (size_t i = 0; i < m->find->piece_count; i++) {
        const struct piece *p = &m->find->pieces[i];
        char word[SIZES_WORD];
        bool known = !*remains_alteration_class(p) || p->substance == SUBSTANCE_COIL ||
                     p->substance == SUBSTANCE_BARK || p->same_as;
        remains_part_word(p, word, sizeof word);
        for (size_t k = 0; k < n && !known; k++)
            known = strcmp(words[k], word) == 0;
        if (!known) snprintf(words[n++], SIZES_WORD, "%s", word);
    }
    return n;
}

int model_lengths(struct model *m) {
    size_t most = m->find->piece_count + 1;
    char(*words)[SIZES_WORD] = arena_alloc(m->arena, most, SIZES_WORD);
    struct unit_length *units = ARENA_NEW(m->arena, struct unit_length, most);
    m->out->lengths = ARENA_NEW(m->arena, struct length_size, most);
    if (!words || !units || !m->out->lengths) return fail_memory(m->err);
    size_t n = part_words(words, m);
    for (size_t i = 0; i < n; i++) {
        int rc = part_length(m, words[i], units);
        if (rc) return rc;
    }
    return 0;
}

/* ---- counts --------------------------------------------------------------------------------- */

/* A size of the whole as it was lifted; NAN when nobody gave one. */
static double lifted(const struct model *m, long quantity) {
    for (size_t i = 0; i < m->find->piece_count; i++) {
        if (m->find->pieces[i].substance != SUBSTANCE_MIXED) continue;
        const struct measure *r = model_measure_of(m, i, quantity);
        if (r) return r->value;
    }
    return NAN;
}

/* Is the mark a shadow that a lath left on a sheet? */
static bool is_lath_shadow(const struct model *m, const char *mark) {
    for (size_t k = 0; k < m->find->mark_count; k++)
        if (m->find->marks[k].kind == MARK_LATH_SHADOW && strcmp(m->find->marks[k].id, mark) == 0)
            return true;
    return false;
}

/* A spacing of shadows that a part left: "lath_spacing" for "lath", or shadows on a sheet. */
static double spacing_of(const struct model *m, const char *part) {
    char want[80], word[SIZES_WORD];
    snprintf(want, sizeof want, "%s_spacing", part);
    for (size_t i = 0; i < m->find->piece_count; i++) {
        const struct measure *r = model_measure_of(m, i, QUANTITY_PITCH);
        remains_part_word(&m->find->pieces[i], word, sizeof word);
        if (r && m->find->pieces[i].shape_only != 1 && strcmp(word, want) == 0) return r->value;
    }
    for (size_t i = 0; strcmp(part, "lath") == 0 && i < m->find->measure_count; i++) {
        const struct measure *r = &m->find->measures[i];
        if (r->quantity == QUANTITY_PITCH && r->mark && is_lath_shadow(m, r->mark)) return r->value;
    }
    return NAN;
}

/* Probability over whole numbers: the strongest lower limit is hard; about the spacing's number
 * where there is one, else up to as many as there are separate pieces. A guess, and says so. */
static int count_column(struct part_count *c, struct model *m) {
    char id[80];
    double low = (double)c->least, mean = c->spaced.expected, sd = 1;
    if (!c->spaced.expected) {
        double most = fmax(low, (double)c->units);
        mean = 0.5 * (low + most);
        sd = fmax(0.7, 0.5 * (most - low));
    }
    mean = fmax(mean, low);
    struct num_dist d = num_dist_integer(low, fmax(low + 9, mean + 5), mean, sd);
    snprintf(id, sizeof id, "count.%s", c->part);
    int rc = num_rows_root(m->rows, id, &d, &c->column, m->err);
    if (!rc) c->number = remains_spread(m->rows, c->column);
    return rc;
}

static bool of_part(const struct model *m, size_t piece, const char *part) {
    char word[SIZES_WORD];
    const struct piece *p = &m->find->pieces[piece];
    remains_part_word(p, word, sizeof word);
    return !p->same_as && p->shape_only != 1 && strcmp(word, part) == 0;
}

static int part_count(struct model *m, const char *part, struct unit_length *units) {
    struct part_count *c = &m->out->counts[m->out->count_count];
    size_t n = unit_lengths(units, m, part);
    long whole = 0, state = FIELD_UNKNOWN;
    *c = (struct part_count){
        .part = arena_strdup(m->arena, part), .number = spread_unknown(), .column = NUM_NO_COLUMN};
    if (!c->part) return fail_memory(m->err);
    for (size_t i = 0; i < m->find->piece_count; i++)
        c->pieces += of_part(m, i, part);
    for (size_t i = 0; i < n; i++) {
        if (units[i].weight >= 0.5) whole += units[i].whole_ends < 2 ? units[i].whole_ends : 2;
        c->total_raw += units[i].raw;
        c->total_fresh += units[i].fresh;
        c->several_states =
            c->several_states || units[i].several || (i > 0 && units[i].state != state);
        state = units[i].state;
        c->units++;
    }
    if (c->units < 2 && whole < 2) return 0; /* one piece argues nothing */
    bool cross = strcmp(part, "lath") == 0;  /* a cross lath is no longer than the whole is wide */
    double longest = cross ? lifted(m, QUANTITY_WIDTH) : NAN;
    int rc = remains_count_arguments(c, whole, c->total_fresh, longest,
                                     cross ? lifted(m, QUANTITY_LENGTH) : NAN, spacing_of(m, part),
                                     m->arena, m->err);
    if (rc) return rc;
    m->out->count_count++;
    return count_column(c, m);
}

int model_counts(struct model *m) {
    size_t most = m->find->piece_count + 1;
    char(*words)[SIZES_WORD] = arena_alloc(m->arena, most, SIZES_WORD);
    struct unit_length *units = ARENA_NEW(m->arena, struct unit_length, most);
    m->out->counts = ARENA_NEW(m->arena, struct part_count, most);
    if (!words || !units || !m->out->counts) return fail_memory(m->err);
    size_t n = part_words(words, m);
    for (size_t i = 0; i < n; i++) {
        bool wood = false;
        for (size_t p = 0; p < m->find->piece_count && !wood; p++)
            wood = of_part(m, p, words[i]) && remains_is_wood(&m->find->pieces[p]);
        int rc = wood ? part_count(m, words[i], units) : 0;
        if (rc) return rc;
    }
    return 0;
}
