/* sizes_evidence: readings gathered into groups and classes, and conditioned on. */
#include "remains/sizes_inside.h"

#include "base/mem.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- which readings make up a part's size --------------------------------------------------- */

static bool pooled_quantity(long quantity) {
    switch (quantity) {
    case QUANTITY_WIDTH:
    case QUANTITY_THICKNESS:
    case QUANTITY_PITCH:
    case QUANTITY_ROUND_PITCH:
    case QUANTITY_HOLE_DIAMETER:
    case QUANTITY_PEG_HOLE_DIAMETER:
    case QUANTITY_SCARF_LENGTH:
    case QUANTITY_CHAMFER_LENGTH:
    case QUANTITY_TONGUE_LENGTH:
    case QUANTITY_ROW_DISTANCE:
        return true;
    default:
        return false;
    }
}

/* A weak prior for how much the pieces of a part differ (log sd): hand work repeats itself within
 * some 2 to 12 %; spacings of one seam within 2 to 15 %. Common practice, no source. */
static const double WITHIN_MEDIAN = 0.05, WITHIN_LOG_SD = 0.55;
static const double GAP_MEDIAN = 0.035, GAP_LOG_SD = 0.8;

static size_t group_of(struct model *m, const char *part, const char *quantity, long kind) {
    for (size_t g = 0; g < m->group_count; g++)
        if (strcmp(m->groups[g].part, part) == 0 && strcmp(m->groups[g].quantity, quantity) == 0)
            return g;
    struct group *g = &m->groups[m->group_count];
    snprintf(g->part, sizeof g->part, "%s", part);
    snprintf(g->quantity, sizeof g->quantity, "%s", quantity);
    g->kind = kind;
    g->is_pitch = kind == QUANTITY_PITCH;
    g->root = NUM_NO_COLUMN;
    g->sigma = g->is_pitch ? GAP_MEDIAN : WITHIN_MEDIAN;
    return m->group_count++;
}

/* Spacings of dents in rods come first: each rod part opens a group. Holes in a sheet join the
 * group whose spacing is within a quarter of theirs: the same stitches, unless a person says
 * otherwise by a mark. */
static double pitch_mean(const struct model *m, size_t group) {
    double sum = 0, n = 0;
    for (size_t i = 0; i < m->reading_count; i++)
        if (m->readings[i].group == group) {
            sum += m->readings[i].y;
            n++;
        }
    return n > 0 ? exp(sum / n) : NAN;
}

static size_t pitch_group(struct model *m, const struct piece *p, double value, const char *part) {
    if (!remains_is_wood(p)) {
        size_t best = m->group_count;
        double least = log(1.25);
        for (size_t g = 0; g < m->group_count; g++) {
            if (!m->groups[g].is_pitch || !remains_is_wood(m->groups[g].example)) continue;
            double off = fabs(log(value / pitch_mean(m, g)));
            if (off < least) {
                least = off;
                best = g;
            }
        }
        if (best < m->group_count) return best;
    }
    return group_of(m, part, "pitch", QUANTITY_PITCH);
}

static const struct mark *mark_of(const struct find *find, const struct measure *r) {
    for (size_t i = 0; r->mark && i < find->mark_count; i++)
        if (strcmp(find->marks[i].id, r->mark) == 0) return &find->marks[i];
    return NULL;
}

double model_gaps(const struct model *m, const struct measure *r) {
    size_t p = model_piece(m, r->piece);
    for (size_t i = p == NUM_NO_COLUMN ? p : m->first[p]; i != NUM_NO_COLUMN; i = m->next[i]) {
        const struct measure *h = &m->find->measures[i];
        bool same_row = !r->mark || (h->mark && strcmp(h->mark, r->mark) == 0);
        if (h->quantity == QUANTITY_HOLES && same_row) return h->value >= 2 ? h->value - 1 : 1;
    }
    return 1;
}

/* May a size of this mark stand for the part's own? Rows of holes and dents carry spacing and hole
 * size; what else is seen on a piece (wear, shadow, patch) has sizes of its own. */
static bool mark_speaks(const struct find *find, const struct measure *r) {
    const struct mark *k = mark_of(find, r);
    if (!r->mark) return true;
    bool row = k && (k->kind == MARK_HOLE_ROW || k->kind == MARK_DENT_ROW || k->kind == MARK_HOLE);
    return row &&
           (r->quantity == QUANTITY_PITCH || r->quantity == QUANTITY_HOLE_DIAMETER ||
            r->quantity == QUANTITY_ROW_DISTANCE || r->quantity == QUANTITY_PEG_HOLE_DIAMETER);
}

/* A slit was cut to take what filled it: a little wider (a guess: 3 %, give or take 4). */
static const double SLIT_EASE = 0.03, SLIT_EASE_SD = 0.04;

static const struct mark *slit_of(const struct find *find, const struct measure *r) {
    const struct mark *k = mark_of(find, r);
    return k && k->kind == MARK_SLIT && k->fits ? k : NULL;
}

/* The part that filled a slit: named by piece or by the part's own word. */
static const struct piece *filler_of(const struct find *find, const struct mark *slit, char *part,
                                     size_t size) {
    const struct piece *p = find_piece(find, slit->fits);
    for (size_t i = 0; !p && i < find->piece_count; i++) {
        remains_part_word(&find->pieces[i], part, size);
        if (strcasestr(slit->fits, part)) p = &find->pieces[i];
    }
    if (p) remains_part_word(p, part, size);
    return p;
}

static int reading_add(struct model *m, size_t measure, size_t group, const struct piece *example) {
    const struct measure_size *s = &m->out->measures[measure];
    struct group *g = &m->groups[group];
    struct reading *r = &m->readings[m->reading_count++];
    double gaps = g->is_pitch ? model_gaps(m, s->measure) : 1;
    const struct piece *o = model_original(m->find, s->piece);
    *r = (struct reading){.measure = measure,
                          .group = group,
                          .class = NUM_NO_COLUMN,
                          .next = NUM_NO_COLUMN,
                          .y = log(s->value),
                          .variance = s->log_sd * s->log_sd,
                          .spread = 1 / sqrt(gaps),
                          .weight = s->piece->belongs,
                          .unit = m->unit[o - m->find->pieces]};
    if (!g->example) g->example = example;
    g->readings++;
    m->out->measures[measure].in_part = true;
    m->out->alterations[s->alteration].readings++;
    return 0;
}

/* One reading, if it can speak of a part's size. */
static int gather_one(struct model *m, size_t i, bool rods) {
    const struct measure_size *s = &m->out->measures[i];
    const struct measure *r = s->measure;
    char part[SIZES_WORD], quantity[SIZES_WORD];
    const struct piece *p = model_original(m->find, s->piece);
    bool pitch = r->quantity == QUANTITY_PITCH;
    if (s->alteration < 0 || r->rival_of || s->piece->belongs < 0.5) return 0;
    if (model_contradicted(m, s)) return 0;
    const struct mark *slit = slit_of(m->find, r);
    const struct piece *filler = slit ? filler_of(m->find, slit, part, sizeof part) : NULL;
    if (filler) {
        if (rods) return 0;
        size_t g = group_of(m, part, "width", QUANTITY_WIDTH);
        int rc = reading_add(m, i, g, filler);
        struct reading *last = &m->readings[m->reading_count - 1];
        last->y -= SLIT_EASE;
        last->variance += SLIT_EASE_SD * SLIT_EASE_SD;
        last->spread = 0;
        return rc;
    }
    if (!mark_speaks(m->find, r) || s->minimum || !pooled_quantity(r->quantity)) return 0;
    if (rods != (pitch && remains_is_wood(p))) return 0;
    remains_part_word(p, part, sizeof part);
    remains_quantity_word(r->quantity, quantity, sizeof quantity);
    size_t g = pitch ? pitch_group(m, p, r->value, part) : group_of(m, part, quantity, r->quantity);
    return reading_add(m, i, g, p);
}

int model_gather(struct model *m) {
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < m->out->measure_count; i++) {
            int rc = gather_one(m, i, pass == 0);
            if (rc) return rc;
        }
    return 0;
}

/* ---- classes -------------------------------------------------------------------------------- */

static void term(struct reading_class *c, size_t col, double coef) {
    if (col == NUM_NO_COLUMN) return;
    c->terms[c->n_terms].col = col;
    c->terms[c->n_terms++].coef = coef;
}

/* Does another reading of this group stand on the same piece? Then the piece's own difference from
 * its part must be a root of its own. */
static bool read_twice(const struct model *m, size_t i) {
    const struct reading *r = &m->readings[i];
    return m->read[r->group * m->find->piece_count + r->unit] > 1;
}

static int count_readings(struct model *m) {
    size_t n = m->find->piece_count;
    m->read = ARENA_NEW(m->arena, unsigned char, m->group_count *n + 1);
    if (!m->read) return fail_memory(m->err);
    for (size_t i = 0; i < m->reading_count; i++) {
        const struct reading *r = &m->readings[i];
        unsigned char *c = &m->read[r->group * n + r->unit];
        if (r->spread > 0 && *c < 2) ++*c;
    }
    return 0;
}

static int own_root(size_t *col, struct model *m, const struct reading *r) {
    char id[160];
    const struct group *g = &m->groups[r->group];
    snprintf(id, sizeof id, "own.%s.%s", m->find->pieces[r->unit].id, g->quantity);
    struct num_dist prior = num_dist_lognormal(1, g->sigma);
    return num_rows_root(m->rows, id, &prior, col, m->err);
}

static int class_terms(struct reading_class *c, struct model *m, size_t i) {
    const struct reading *r = &m->readings[i];
    const struct measure_size *s = &m->out->measures[r->measure];
    const struct alteration *a = &m->out->alterations[s->alteration];
    size_t own = NUM_NO_COLUMN;
    int rc = r->spread > 0 && !m->groups[r->group].is_pitch && read_twice(m, i)
                 ? own_root(&own, m, r)
                 : 0;
    if (rc) return rc;
    c->group = r->group;
    term(c, m->groups[r->group].root, 1);
    term(c, own, 1);
    if (a->plane[0] != NUM_NO_COLUMN)
        for (size_t k = 0; k < 4; k++)
            term(c, a->plane[k], -(k < 2 ? ALTERATION_PLANE_AROUND : 1 - ALTERATION_PLANE_AROUND));
    term(c, a->shared, -1);
    term(c, a->local, -1);
    term(c, s->grain, -1);
    return 0;
}

static bool same_terms(const struct reading_class *a, const struct reading_class *b) {
    if (a->n_terms != b->n_terms) return false;
    for (size_t k = 0; k < a->n_terms; k++)
        if (a->terms[k].col != b->terms[k].col) return false;
    return true;
}

static int classify(struct model *m) {
    for (size_t i = 0; i < m->reading_count; i++) {
        struct reading_class c = {.first = i, .n = 0};
        int rc = class_terms(&c, m, i);
        if (rc) return rc;
        size_t k = 0;
        while (k < m->class_count && !same_terms(&m->classes[k], &c))
            k++;
        if (k == m->class_count) {
            m->classes[m->class_count++] = c;
        } else {
            m->readings[i].next = m->classes[k].first;
            m->classes[k].first = i;
        }
        m->readings[i].class = k;
        m->classes[k].n++;
    }
    return 0;
}

/* Has the class a root for the piece's own difference? Then that is not in its noise. */
static bool has_own(const struct model *m, const struct reading_class *c) {
    for (size_t k = 0; k < c->n_terms; k++)
        if (strncmp(num_rows_id(m->rows, c->terms[k].col), "own.", 4) == 0) return true;
    return false;
}

static double reading_variance(const struct reading *r, double sigma, bool own) {
    double spread = own ? 0 : r->spread * sigma;
    return (r->variance + spread * spread) / r->weight;
}

/* Weighted mean of a class, its variance, and what the scatter about it says of sigma. */
static double pool(const struct model *m, struct reading_class *c, double sigma) {
    double w = 0, wy = 0, wyy = 0, logs = 0;
    bool own = has_own(m, c);
    for (size_t i = c->first; i != NUM_NO_COLUMN; i = m->readings[i].next) {
        const struct reading *r = &m->readings[i];
        if (m->out->measures[r->measure].held) continue;
        double v = reading_variance(r, sigma, own);
        w += 1 / v;
        wy += r->y / v;
        logs += log(v);
    }
    if (!(w > 0)) {
        c->variance = NAN;
        return 0;
    }
    c->y = wy / w;
    c->variance = 1 / w;
    for (size_t i = c->first; i != NUM_NO_COLUMN; i = m->readings[i].next) {
        const struct reading *r = &m->readings[i];
        if (m->out->measures[r->measure].held) continue;
        double d = r->y - c->y;
        wyy += d * d / reading_variance(r, sigma, own);
    }
    return -0.5 * (logs + log(w) + wyy); /* within: density of the deviations from the mean */
}

/* ---- how much the pieces of a part differ --------------------------------------------------- */

/* ln of the density of the class means of one group, the typical size unknown (flat): the residual
 * likelihood of Patterson & Thompson, Biometrika 58, 1971, 545-554. */
static double between(const struct model *m, size_t group, double sigma, double *scratch,
                      double *p_value) {
    size_t n = 0;
    const struct reading_class *in[64];
    for (size_t k = 0; k < m->class_count && n < 64; k++)
        if (m->classes[k].group == group && isfinite(m->classes[k].variance))
            in[n++] = &m->classes[k];
    double *c = scratch, *z = scratch + 64 * 64, *one = z + 64;
    for (size_t a = 0; a < n; a++) {
        z[a] = in[a]->y;
        one[a] = 1;
        for (size_t b = 0; b <= a; b++) {
            double sum = a == b ? in[a]->variance : 0;
            for (size_t i = 1; i < in[a]->n_terms; i++)
                for (size_t j = 1; j < in[b]->n_terms; j++) {
                    if (in[a]->terms[i].col != in[b]->terms[j].col) continue;
                    const char *id = num_rows_id(m->rows, in[a]->terms[i].col);
                    double sd = num_rows_prior(m->rows, in[a]->terms[i].col)->b;
                    if (strncmp(id, "own.", 4) == 0) sd = sigma;
                    sum += in[a]->terms[i].coef * in[b]->terms[j].coef * sd * sd;
                }
            c[a * n + b] = sum;
        }
    }
    double log_det = 0, oo = 0, oz = 0, zz = 0;
    for (size_t a = 0; a < n; a++) { /* Cholesky, and both right sides forward */
        for (size_t b = 0; b <= a; b++) {
            double sum = c[a * n + b];
            for (size_t k = 0; k < b; k++)
                sum -= c[a * n + k] * c[b * n + k];
            c[a * n + b] = a == b ? sqrt(fmax(sum, 1e-12)) : sum / c[b * n + b];
        }
        for (size_t k = 0; k < a; k++) {
            z[a] -= c[a * n + k] * z[k];
            one[a] -= c[a * n + k] * one[k];
        }
        z[a] /= c[a * n + a];
        one[a] /= c[a * n + a];
        log_det += 2 * log(c[a * n + a]);
        oo += one[a] * one[a];
        oz += one[a] * z[a];
        zz += z[a] * z[a];
    }
    if (p_value) *p_value = n > 1 ? gsl_cdf_chisq_Q(zz - oz * oz / oo, (double)n - 1) : 1;
    return n ? -0.5 * (log_det + log(oo) + zz - oz * oz / oo) : 0;
}

enum { SIGMA_GRID = 21 };

static int within_spread(struct model *m, size_t group, double *scratch) {
    struct group *g = &m->groups[group];
    double median = g->is_pitch ? GAP_MEDIAN : WITHIN_MEDIAN;
    double log_sd = g->is_pitch ? GAP_LOG_SD : WITHIN_LOG_SD;
    double like[SIGMA_GRID], s[SIGMA_GRID], top = -INFINITY, total = 0, mean = 0, sum = 0;
    for (size_t k = 0; k < SIGMA_GRID; k++) {
        double z = -2.6 + 5.2 * (double)k / (SIGMA_GRID - 1);
        s[k] = median * exp(z * log_sd);
        like[k] = -0.5 * z * z;
        for (size_t c = 0; c < m->class_count; c++)
            if (m->classes[c].group == group) like[k] += pool(m, &m->classes[c], s[k]);
        like[k] += between(m, group, s[k], scratch, NULL);
        top = fmax(top, like[k]);
    }
    for (size_t k = 0; k < SIGMA_GRID; k++)
        total += like[k] = exp(like[k] - top);
    g->sigma_low = s[0];
    g->sigma_high = s[SIGMA_GRID - 1];
    for (size_t k = 0; k < SIGMA_GRID; k++) {
        mean += s[k] * s[k] * like[k] / total;
        if (sum < 0.05 && sum + like[k] / total >= 0.05) g->sigma_low = s[k];
        if (sum < 0.95 && sum + like[k] / total >= 0.95) g->sigma_high = s[k];
        sum += like[k] / total;
    }
    g->sigma = sqrt(mean); /* posterior mean of the variance: what the pooled noise needs */
    for (size_t c = 0; c < m->class_count; c++)
        if (m->classes[c].group == group) pool(m, &m->classes[c], g->sigma);
    between(m, group, g->sigma, scratch, &g->p_between);
    return 0;
}

/* A reading far from the others of its class (and there are three others at least) is kept out and
 * kept: a person chooses (DESIGN, "The ensemble"). */
static size_t hold_outliers(struct model *m) {
    size_t held = 0;
    for (size_t k = 0; k < m->class_count; k++) {
        struct reading_class *c = &m->classes[k];
        if (c->n < 4) continue;
        double all = 0, sum = 0, squares = 0, at = m->readings[c->first].y;
        for (size_t i = c->first; i != NUM_NO_COLUMN; i = m->readings[i].next) {
            double d = m->readings[i].y - at; /* subtracted before squaring */
            all++;
            sum += d;
            squares += d * d;
        }
        for (size_t i = c->first; i != NUM_NO_COLUMN; i = m->readings[i].next) {
            const struct reading *r = &m->readings[i];
            struct measure_size *s = &m->out->measures[r->measure];
            const struct group *g = &m->groups[c->group];
            /* Leave-one-out: mean and spread of the others, from the sums over all. */
            double d = r->y - at, n = all - 1, mean = (sum - d) / n, square = squares - d * d;
            if (n < 3 || s->held) continue;
            double median = g->is_pitch ? GAP_MEDIAN : WITHIN_MEDIAN;
            double seen = fmax(square / n - mean * mean, 0) * n / (n - 1);
            double v = fmax(seen, median * median) * r->spread * r->spread + r->variance;
            double p = 2 * gsl_cdf_tdist_Q(fabs(d - mean) / sqrt(v * (1 + 1 / n)), n - 1 + 4);
            if (p < 0.01 / (double)m->reading_count) {
                s->held = true;
                held++;
            }
        }
    }
    return held;
}

/* ---- conditioning --------------------------------------------------------------------------- */

static int group_roots(struct model *m) {
    for (size_t g = 0; g < m->group_count; g++) {
        struct group *q = &m->groups[g];
        bool pressed = q->kind == QUANTITY_THICKNESS;
        char id[120];
        snprintf(id, sizeof id, "%s.%s.%s", pressed ? "pressed" : "size", q->part, q->quantity);
        /* Next to nothing is said before the readings: a factor of 7 either way at one sd. */
        struct num_dist prior = num_dist_lognormal(20, 2);
        int rc = num_rows_root(m->rows, id, &prior, &q->root, m->err);
        if (rc) return rc;
    }
    return 0;
}

/* Joins classes that share a root; label[class] is the least class of its component. */
static void components(const struct model *m, size_t *label) {
    for (size_t k = 0; k < m->class_count; k++)
        label[k] = k;
    for (bool more = true; more;) {
        more = false;
        for (size_t a = 0; a < m->class_count; a++)
            for (size_t b = 0; b < a; b++) {
                if (label[a] == label[b]) continue;
                bool touch = false;
                for (size_t i = 0; i < m->classes[a].n_terms && !touch; i++)
                    for (size_t j = 0; j < m->classes[b].n_terms && !touch; j++)
                        touch = m->classes[a].terms[i].col == m->classes[b].terms[j].col;
                if (!touch) continue;
                size_t least = label[a] < label[b] ? label[a] : label[b];
                label[a] = label[b] = least;
                more = true;
            }
    }
}

static size_t root_place(size_t *roots, size_t *n, size_t col) {
    for (size_t k = 0; k < *n; k++)
        if (roots[k] == col) return k;
    roots[*n] = col;
    return (*n)++;
}

/* Key of the content, so that the same evidence is not used twice. */
static uint64_t content_key(const double *y, const double *v, size_t n) {
    uint64_t key = 1469598103934665603u;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < 2; k++) {
            uint64_t bits;
            memcpy(&bits, k ? &v[i] : &y[i], sizeof bits);
            key = num_hash_join(key, bits);
        }
    return key ? key : 1;
}

static void mark_held(struct model *m, const struct reading_class *c) {
    for (size_t i = c->first; i != NUM_NO_COLUMN; i = m->readings[i].next)
        m->out->measures[m->readings[i].measure].held = true;
}

static int condition_component(struct model *m, const size_t *label, size_t which) {
    size_t n = 0, n_x = 0, most = m->class_count * SIZES_TERMS;
    size_t *in = ARENA_NEW(m->arena, size_t, m->class_count),
           *roots = ARENA_NEW(m->arena, size_t, most);
    if (!in || !roots) return fail_memory(m->err);
    for (size_t k = 0; k < m->class_count; k++) {
        if (label[k] != which || !isfinite(m->classes[k].variance)) continue;
        in[n++] = k;
        for (size_t t = 0; t < m->classes[k].n_terms; t++)
            root_place(roots, &n_x, m->classes[k].terms[t].col);
    }
    if (n == 0) return 0;
    double *h = ARENA_NEW(m->arena, double, n *n_x), *y = ARENA_NEW(m->arena, double, n);
    double *v = ARENA_NEW(m->arena, double, n);
    bool *held = ARENA_NEW(m->arena, bool, n);
    if (!h || !y || !v || !held) return fail_memory(m->err);
    for (size_t i = 0; i < n; i++) {
        const struct reading_class *c = &m->classes[in[i]];
        y[i] = c->y;
        v[i] = c->variance;
        for (size_t t = 0; t < c->n_terms; t++)
            h[i * n_x + root_place(roots, &n_x, c->terms[t].col)] += c->terms[t].coef;
    }
    const struct group *g = &m->groups[m->classes[in[0]].group];
    /* Agreeing readings go in at once; where those of a part clash beyond what the alterations
     * allow, one after the other, so that the one that contradicts is held out alone. */
    bool clash = false;
    for (size_t i = 0; i < n; i++)
        clash = clash || m->groups[m->classes[in[i]].group].p_between < 0.01 / (double)n;
    double *r = clash ? NULL : ARENA_NEW(m->arena, double, n *n);
    if (!clash && !r) return fail_memory(m->err);
    for (size_t i = 0; r && i < n; i++)
        r[i * n + i] = v[i];
    struct num_gaussian e = {.id = arena_printf(m->arena, "readings.%s.%s", g->part, g->quantity),
                             .key = content_key(y, v, n),
                             .n_y = n,
                             .n_x = n_x,
                             .roots = roots,
                             .h = h,
                             .y = y,
                             .variance = v,
                             .r = r,
                             .readings = n,
                             .held = held};
    struct num_report report;
    if (!e.id) return fail_memory(m->err);
    int rc = num_rows_condition_gaussian(m->rows, &e, &report, m->err);
    for (size_t i = 0; !rc && i < n; i++)
        if (held[i]) mark_held(m, &m->classes[in[i]]);
    return rc;
}

int model_condition(struct model *m) {
    int rc = group_roots(m);
    if (!rc) rc = count_readings(m);
    if (!rc) rc = classify(m);
    if (rc) return rc;
    hold_outliers(m);
    size_t *label = ARENA_NEW(m->arena, size_t, m->class_count + 1);
    double *scratch = ARENA_NEW(m->arena, double, 64 * 66);
    if (!label || !scratch) return fail_memory(m->err);
    for (size_t g = 0; g < m->group_count; g++)
        within_spread(m, g, scratch);
    components(m, label);
    for (size_t k = 0; !rc && k < m->class_count; k++)
        if (label[k] == k) rc = condition_component(m, label, k);
    return rc;
}

/* ---- rods once round ------------------------------------------------------------------------ */

/* One material's rods: mean of ln(1 + squash) as they show it. */
struct oval {
    double mean, variance;
    size_t n, squash;
};

/* How round a rod grows, and how evenly one splits in half: of ln(thickness / width), one sd; the
 * second number is what all rods of an object share. Guesses. */
static const double ROUND_OWN = 0.04, ROUND_SHARED = 0.02, HALF_OWN = 0.07, HALF_SHARED = 0.08;

static int oval_of(struct oval *o, struct model *m, const char *material) {
    double w_sum = 0, sum = 0, shared = 0;
    *o = (struct oval){0};
    for (size_t i = 0; i < m->out->measure_count; i++) {
        const struct measure_size *t = &m->out->measures[i], *w = NULL;
        char word[SIZES_WORD];
        double round = remains_roundness(t->piece);
        if (t->measure->quantity != QUANTITY_THICKNESS || !isfinite(round) || t->held) continue;
        remains_material_word(m->find, t->piece, word, sizeof word);
        if (strcmp(word, material) != 0 || t->alteration < 0) continue;
        for (size_t k = 0; k < m->out->measure_count && !w; k++)
            if (m->out->measures[k].piece == t->piece &&
                m->out->measures[k].measure->quantity == QUANTITY_WIDTH &&
                m->out->measures[k].measure->state == t->measure->state)
                w = &m->out->measures[k];
        if (!w) continue;
        double own = round < 1 ? HALF_OWN : ROUND_OWN;
        double v = own * own + t->log_sd * t->log_sd + w->log_sd * w->log_sd;
        sum += log(w->value * round / t->value) / v;
        w_sum += 1 / v;
        shared = fmax(shared, round < 1 ? HALF_SHARED : ROUND_SHARED);
        o->n++;
    }
    if (o->n == 0) return 0;
    o->mean = sum / w_sum;
    o->variance = 1 / w_sum + shared * shared;
    return model_squash_root(&o->squash, m, material);
}

static double oval_log_like(const double *row, void *ctx) {
    const struct oval *o = ctx;
    double d = o->mean - log1p(row[o->squash]);
    return -0.5 * (d * d / o->variance + log(2 * M_PI * o->variance));
}
static void oval_predict(const double *row, double *out, void *ctx) {
    const struct oval *o = ctx;
    out[0] = gsl_cdf_ugaussian_P((o->mean - log1p(row[o->squash])) / sqrt(o->variance));
}

int model_squash(struct model *m) {
    char done[32][SIZES_WORD];
    size_t n_done = 0;
    for (size_t i = 0; i < m->find->piece_count && n_done < 32; i++) {
        char material[SIZES_WORD];
        bool known = false;
        remains_material_word(m->find, &m->find->pieces[i], material, sizeof material);
        for (size_t k = 0; k < n_done; k++)
            known = known || strcmp(done[k], material) == 0;
        if (known || !remains_is_wood(&m->find->pieces[i])) continue;
        snprintf(done[n_done++], SIZES_WORD, "%s", material);
        struct oval *o = ARENA_NEW(m->arena, struct oval, 1);
        if (!o) return fail_memory(m->err);
        int rc = oval_of(o, m, material);
        if (rc) return rc;
        if (o->n == 0 || o->squash == NUM_NO_COLUMN) continue;
        struct num_evidence e = {.id = arena_printf(m->arena, "roundness.%s", material),
                                 .key = content_key(&o->mean, &o->variance, 1),
                                 .log_like = oval_log_like,
                                 .predict = oval_predict,
                                 .n_predict = 1,
                                 .ctx = o,
                                 .reads = &o->squash,
                                 .n_reads = 1,
                                 .moves = &o->squash,
                                 .n_moves = 1};
        struct num_report report;
        if (!e.id) return fail_memory(m->err);
        rc = num_rows_condition(m->rows, &e, &report, m->err);
        if (rc) return rc;
        for (size_t k = 0; k < m->squash_count; k++)
            if (m->squash[k].col == o->squash) {
                m->squash[k].rods = o->n;
                m->squash[k].held = report.held_out;
            }
    }
    return 0;
}
