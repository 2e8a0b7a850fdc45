/* sizes_say: single readings brought to fresh and dry, and everything the stage says. */
#include "remains/rulers.h"
#include "remains/sizes_inside.h"

#include <ctype.h>
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- single readings ------------------------------------------------------------------------ */

/* Log moments of factor (and grain) columns met before: most readings share them. */
struct moments {
    size_t factor, grain, dry;
    double mean, sd, dry_mean, dry_sd;
};

static const struct moments *moments_of(struct moments *list, size_t *n, const struct model *m,
                                        const struct measure_size *s, size_t dry) {
    size_t factor = m->out->alterations[s->alteration].factor;
    for (size_t i = 0; i < *n; i++)
        if (list[i].factor == factor && list[i].grain == s->grain && list[i].dry == dry)
            return &list[i];
    struct moments *q = &list[(*n)++];
    size_t cols[] = {factor, s->grain};
    *q = (struct moments){.factor = factor, .grain = s->grain, .dry = dry};
    model_log_moments(m->rows, cols, s->grain == NUM_NO_COLUMN ? 1 : 2, &q->mean, &q->sd);
    if (dry != NUM_NO_COLUMN) model_log_moments(m->rows, &dry, 1, &q->dry_mean, &q->dry_sd);
    return q;
}

enum { SQUASH_POINTS = 40 };

/* ln(1 + squash) at the middles of equal shares of its weight. */
static int squash_points(double *v, const struct model *m, size_t col) {
    double p[SQUASH_POINTS];
    for (size_t k = 0; k < SQUASH_POINTS; k++)
        p[k] = ((double)k + 0.5) / SQUASH_POINTS;
    if (num_rows_quantiles(m->rows, col, p, SQUASH_POINTS, v)) return fail_memory(m->err);
    for (size_t k = 0; k < SQUASH_POINTS; k++)
        v[k] = log1p(v[k]);
    return 0;
}

/* Quantile of a lognormal times (1 + squash): bisection of the mixture of SQUASH_POINTS normals. */
static double pressed_quantile(double p, double mean, double sd, const double *v) {
    double low = mean + v[0] - 6 * sd, high = mean + v[SQUASH_POINTS - 1] + 6 * sd;
    for (int i = 0; i < 22; i++) {
        double mid = 0.5 * (low + high), sum = 0;
        for (size_t k = 0; k < SQUASH_POINTS; k++)
            sum += gsl_cdf_ugaussian_P((mid - mean - v[k]) / sd);
        if (sum < p * SQUASH_POINTS)
            low = mid;
        else
            high = mid;
    }
    return exp(0.5 * (low + high));
}

static struct spread pressed_spread(double mean, double sd, const double *v) {
    double first = 0, second = 0;
    for (size_t k = 0; k < SQUASH_POINTS; k++) {
        double f = exp(mean + v[k] + 0.5 * sd * sd);
        first += f / SQUASH_POINTS;
        second += f * f * exp(sd * sd) / SQUASH_POINTS;
    }
    return (struct spread){
        pressed_quantile(0.005, mean, sd, v), pressed_quantile(0.05, mean, sd, v),
        pressed_quantile(0.25, mean, sd, v),  pressed_quantile(0.5, mean, sd, v),
        pressed_quantile(0.75, mean, sd, v),  pressed_quantile(0.95, mean, sd, v),
        pressed_quantile(0.995, mean, sd, v), first,
        sqrt(fmax(0, second - first * first))};
}

static int measure_spread(struct measure_size *s, struct model *m, struct moments *list, size_t *n,
                          double *squash, size_t *squash_col) {
    const struct alteration *a = &m->out->alterations[s->alteration];
    const struct piece *p =
        s->piece->substance == FIELD_UNKNOWN ? model_original(m->find, s->piece) : s->piece;
    size_t dry, col = NUM_NO_COLUMN;
    int rc = model_dry_factor(&dry, m, p, a->axis);
    if (!rc && s->measure->quantity == QUANTITY_THICKNESS)
        rc = model_squash_root(&col, m, a->material);
    if (rc) return rc;
    const struct moments *q = moments_of(list, n, m, s, dry);
    double mean = log(s->value) + q->mean, sd = hypot(q->sd, s->log_sd);
    double dry_mean = mean + q->dry_mean, dry_sd = hypot(sd, q->dry_sd);
    if (col == NUM_NO_COLUMN) {
        s->fresh = remains_spread_lognormal(mean, sd);
        s->dry = remains_spread_lognormal(dry_mean, dry_sd);
        return 0;
    }
    if (col != *squash_col) {
        *squash_col = col;
        rc = squash_points(squash, m, col);
        if (rc) return rc;
    }
    s->fresh = pressed_spread(mean, sd, squash);
    s->dry = pressed_spread(dry_mean, dry_sd, squash);
    return 0;
}

/* ---- readings too coarse -------------------------------------------------------------------- */

/* Hands each caution to its reading; both lists run in the order of the measures. */
static int coarse_cautions(struct model *m) {
    size_t at = 0;
    for (size_t i = 0; i < m->better.n; i++) {
        const struct better_reading *b = &m->better.v[i];
        if (!b->reading) continue;
        while (at < m->out->measure_count && m->out->measures[at].measure != b->reading)
            at++;
        if (at == m->out->measure_count || m->out->measures[at].caution) continue;
        m->out->measures[at].caution =
            arena_printf(m->arena, "too coarse to use alone: %s; measure %s, %s", b->trouble,
                         b->instead, b->how);
        if (!m->out->measures[at].caution) return fail_memory(m->err);
    }
    return 0;
}

int model_measures(struct model *m) {
    struct moments *list = ARENA_NEW(m->arena, struct moments, m->out->measure_count + 1);
    double squash[SQUASH_POINTS];
    size_t n = 0, squash_col = NUM_NO_COLUMN;
    if (!list) return fail_memory(m->err);
    int got = remains_better(&m->better, m->find, m->out, m->arena, m->err);
    if (!got) got = coarse_cautions(m);
    if (got) return got;
    for (size_t i = 0; i < m->out->measure_count; i++) {
        struct measure_size *s = &m->out->measures[i];
        int rc = s->alteration >= 0 ? measure_spread(s, m, list, &n, squash, &squash_col) : 0;
        if (rc) return rc;
    }
    return 0;
}

/* ---- statements ----------------------------------------------------------------------------- */

static struct statement begin(struct model *m, const char *about, const char *quantity,
                              long footing) {
    struct statement s = statement_blank();
    s.step = "sizes";
    s.about = about;
    s.quantity = quantity;
    s.footing = footing;
    s.value = spread_unknown();
    (void)m;
    return s;
}

static char *words(struct model *m, const char *format, ...) __attribute__((format(printf, 2, 3)));
static char *words(struct model *m, const char *format, ...) {
    char text[1024];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return arena_strdup(m->arena, text);
}

/* A word of the tables as a reader wants it: "side rod" of side_rod. */
static char *plain(struct model *m, const char *word) {
    char *text = words(m, "%s", word);
    for (char *c = text; c && *c; c++)
        if (*c == '_') *c = ' ';
    return text;
}

static int rest(struct statement *s, struct model *m, const char *kind, const char *id,
                const char *role) {
    return id ? statement_link_add(s, kind, id, role, m->arena, m->err) : 0;
}

static int add(struct model *m, struct statement *s) {
    if (!s->id || !s->sentence) return fail_memory(m->err);
    return statement_add(m->said, s, m->err);
}

/* Part as the list calls it, without what stands in brackets. */
static char *part_name(struct model *m, const struct piece *p) {
    const char *t = p->part ? p->part : "piece";
    size_t n = strcspn(t, "(");
    while (n && t[n - 1] == ' ')
        n--;
    return arena_printf(m->arena, "%.*s", (int)n, t);
}

static struct spread in_percent(struct spread s) {
    double *v = &s.p005;
    for (size_t i = 0; i < sizeof s / sizeof *v; i++)
        v[i] *= 100;
    return s;
}

static const char *state_text(struct model *m, const struct measure *r) {
    if (r->state < 0 || r->state >= STATE_COUNT) return "state unknown";
    if (r->state == STATE_TREATED && r->treatment && *r->treatment)
        return words(m, "after %s", r->treatment);
    return state_words[r->state];
}

static char *alteration_statement_id(struct model *m, const struct alteration *a) {
    return words(m, "alter.%s", a->id);
}

/* "Corylus wood", "bark". */
static const char *material_name(struct model *m, const char *material) {
    static const char *const plain[] = {"wood", "bark", "bast", "hide"};
    for (int i = 0; i < 4; i++)
        if (strcmp(material, plain[i]) == 0) return plain[i];
    if (strcmp(material, "coil") == 0) return "coiled work";
    if (strncmp(material, "bark_", 5) == 0) return words(m, "bark (%s)", material + 5);
    char *name = words(m, "%s wood", material);
    if (name) name[0] = (char)toupper((unsigned char)name[0]);
    return name;
}

/* What a new-and-dry size rests on besides the fresh one. */
static int rest_on_dry(struct statement *s, struct model *m, const struct piece *p,
                       enum axis axis) {
    size_t col;
    int rc = model_dry_factor(&col, m, p, axis);
    for (size_t i = 0; !rc && i < m->dry_count; i++) {
        if (m->dry[i].col != col) continue;
        s->source = m->dry[i].source;
        if (m->dry[i].standing > s->standing) s->standing = m->dry[i].standing;
        rc = rest(s, m, "fact", m->dry[i].fact, "drying of sound material");
    }
    return rc;
}

/* How much thinner a material was pressed: worked out from rods once round, or guessed. */
static int say_squash(struct model *m, const struct squash_source *q) {
    bool known = q->rods > 0 && !q->held;
    struct spread f = remains_spread(m->rows, q->col);
    struct statement s =
        begin(m, q->material, "squash", known ? FOOTING_WORKED_OUT : FOOTING_GUESSED);
    s.id = words(m, "squash.%s", q->material);
    s.sentence = words(m, "Before it was pressed in the ground %s was this much thicker.",
                       material_name(m, q->material));
    s.unit = "percent";
    s.value = in_percent(f);
    s.column = num_rows_id(m->rows, q->col);
    s.standing = STANDING_GUESS;
    s.rival = "not pressed at all, or several times as thick when made";
    s.rule = known
                 ? words(m,
                         "%zu rods once round or half-round, now oval: width times roundness over "
                         "thickness, against a belief of mostly a little, now and then much",
                         q->rods)
                 : "mostly a little, now and then several times (median 5 %, one time in twenty "
                   "over 59 %); no rod once round speaks of it";
    if (q->held)
        s.caution = "rods once round contradict what is believed of pressing: a person chooses";
    int rc = 0;
    for (size_t i = 0; !rc && q->rods && i < m->out->measure_count; i++) {
        const struct measure_size *t = &m->out->measures[i];
        char word[SIZES_WORD];
        remains_material_word(m->find, t->piece, word, sizeof word);
        bool side =
            t->measure->quantity == QUANTITY_THICKNESS || t->measure->quantity == QUANTITY_WIDTH;
        if (side && isfinite(remains_roundness(t->piece)) && strcmp(word, q->material) == 0 &&
            !t->measure->mark)
            rc = rest(&s, m, "measure", t->measure->id, "reading");
    }
    return rc ? rc : add(m, &s);
}

/* Adds the squash of a material to what a thickness rests on. */
static int rest_on_squash(struct statement *s, struct model *m, const char *material) {
    for (size_t i = 0; i < m->squash_count; i++)
        if (strcmp(m->squash[i].material, material) == 0)
            return rest(s, m, "statement", words(m, "squash.%s", material), "pressing");
    return 0;
}

static int say_alteration(struct model *m, const struct alteration *a) {
    if (a->state == STATE_FRESH) return 0;
    struct statement s =
        begin(m, words(m, "%s, zone %s", a->material, a->zone), "loss", FOOTING_WORKED_OUT);
    s.id = alteration_statement_id(m, a);
    s.sentence = words(m, "Between cutting and being measured %s in zone %s lost this much %s.",
                       material_name(m, a->material), a->zone,
                       a->axis == AXIS_PLANE    ? "in the sheet, direction not noted"
                       : a->axis == AXIS_ACROSS ? "across the grain"
                                                : axis_words[a->axis]);
    s.unit = "percent";
    s.state = plain(m, a->state_word);
    s.value = in_percent(a->loss);
    s.standing = a->prior.standing;
    s.column = num_rows_id(m->rows, a->factor);
    s.source = a->prior.source;
    s.rule = a->readings ? words(m,
                                 "figure for the material (%.1f to %.1f %%) conditioned on %zu "
                                 "reading%s it, in logarithms, exactly",
                                 100 * a->prior.p05, 100 * a->prior.p95, a->readings,
                                 a->readings == 1 ? " of" : "s that share")
                         : words(m, "figure for the material; no reading of this find bears on it");
    if (a->axis == AXIS_PLANE)
        s.rival =
            "the row or edge ran along the grain: then the sheet shrank less across than this "
            "says, and more along";
    int rc = rest(&s, m, "fact", a->prior.fact, "prior");
    for (size_t i = 0; !rc && i < m->out->measure_count; i++) {
        const struct measure_size *q = &m->out->measures[i];
        if (q->in_part && !q->held && q->alteration == a - m->out->alterations)
            rc = rest(&s, m, "measure", q->measure->id, "reading");
    }
    return rc ? rc : add(m, &s);
}

/* What another reading of the same thing says, when the two are not used as one. */
static const char *rival_words(struct model *m, const struct measure_size *q) {
    if (!model_contradicted(m, q)) return NULL;
    for (size_t i = 0; i < m->find->measure_count; i++) {
        const struct measure *r = &m->find->measures[i];
        bool other = q->measure->rival_of ? strcmp(r->id, q->measure->rival_of) == 0
                                          : r->rival_of && strcmp(r->rival_of, q->measure->id) == 0;
        if (other)
            return words(m, "%s says %.4g mm%s%s; the two are kept side by side and never averaged",
                         r->id, r->value, r->observer ? ", by " : "",
                         r->observer ? r->observer : "");
    }
    return NULL;
}

/* One reading, fresh (which 0) or new and dry (1). */
static int say_reading(struct model *m, const struct measure_size *q, int which) {
    const struct measure *r = q->measure;
    struct statement s =
        begin(m, words(m, "piece %s", r->piece), quantity_words[r->quantity], FOOTING_WORKED_OUT);
    const struct alteration *a = &m->out->alterations[q->alteration];
    s.id = words(m, "%s.%s", r->id, which ? "dry" : "fresh");
    s.sentence = words(m, "%s of piece %s was %sthis %s.", quantity_words[r->quantity], r->piece,
                       q->minimum ? "at least " : "", which ? "when first used, dry" : "when cut");
    s.unit = "mm";
    s.state = state_words[which ? STATE_NEW_AND_DRY : STATE_FRESH];
    s.value = which ? q->dry : q->fresh;
    s.raw = r->value;
    s.raw_state = state_text(m, r);
    s.standing = a->prior.standing;
    s.caution = q->held ? "contradicts the other readings of its part: kept out until a person "
                          "chooses"
                        : q->caution;
    s.rival = rival_words(m, q);
    s.column = num_rows_id(m->rows, a->factor);
    s.rule = which ? "fresh size times new-and-dry over fresh"
                   : "reading times fresh over measured, in logarithms";
    int rc = rest(&s, m, "measure", r->id, "reading");
    if (!rc) rc = rest(&s, m, "piece", r->piece, "piece");
    if (!rc && a->state != STATE_FRESH)
        rc = rest(&s, m, "statement", alteration_statement_id(m, a), "alteration");
    if (!rc && !which && r->quantity == QUANTITY_THICKNESS) rc = rest_on_squash(&s, m, a->material);
    if (!rc && which) rc = rest(&s, m, "statement", words(m, "%s.fresh", r->id), "fresh size");
    if (!rc && which) rc = rest_on_dry(&s, m, model_original(m->find, q->piece), a->axis);
    return rc ? rc : add(m, &s);
}

/* A reading with nothing to undo stands as measured; one without scale is kept as shape. */
static int say_as_measured(struct model *m, const struct measure_size *q) {
    const struct measure *r = q->measure;
    struct statement s =
        begin(m, words(m, "piece %s", r->piece), quantity_words[r->quantity], FOOTING_SEEN);
    bool shape = q->piece->shape_only == 1;
    s.id = words(m, "%s.%s", r->id, shape ? "shape" : "measured");
    s.sentence = shape ? words(m, "Piece %s has no scale: shape only, no size.", r->piece)
                       : words(m, "%s of piece %s was measured as this.",
                               quantity_words[r->quantity], r->piece);
    s.caution = q->why_not;
    s.state = state_text(m, r);
    if (!shape) {
        double sd = q->log_sd * r->value, z = 1.6448536269514722;
        s.unit = "mm";
        s.raw = r->value;
        s.raw_state = s.state;
        s.value = (struct spread){r->value - 2.5758 * sd,
                                  r->value - z * sd,
                                  r->value - 0.6745 * sd,
                                  r->value,
                                  r->value + 0.6745 * sd,
                                  r->value + z * sd,
                                  r->value + 2.5758 * sd,
                                  r->value,
                                  sd};
    }
    int rc = rest(&s, m, "measure", r->id, "reading");
    if (!rc) rc = rest(&s, m, "piece", r->piece, "piece");
    return rc ? rc : add(m, &s);
}

/* Every reading of the part was held out: what is left is what was assumed beforehand, and is said
 * to be that. */
static int rest_on_held(struct statement *s, struct model *m, const struct group *g) {
    s->footing = FOOTING_GUESSED;
    s->standing = STANDING_GUESS;
    s->caution = "every reading of it was held out as improbable: choose which of them hold";
    s->rival = "one of the readings that were held out is right after all";
    int rc = 0;
    for (size_t i = 0; !rc && i < m->reading_count; i++)
        if (&m->groups[m->readings[i].group] == g)
            rc = rest(s, m, "measure", m->out->measures[m->readings[i].measure].measure->id,
                      "held out");
    return rc;
}

static int say_part(struct model *m, const struct part_size *p, int which) {
    const char *name = part_name(m, p->example);
    struct statement s = begin(m, words(m, "part %s", p->part), p->quantity, FOOTING_WORKED_OUT);
    s.id = words(m, "%s.%s.%s", p->part, p->quantity, which ? "dry" : "fresh");
    s.sentence = words(m, "Typical %s of the %s %s.", quantity_words[p->quantity_kind], name,
                       which ? "when first used, dry" : "when cut");
    s.unit = "mm";
    s.state = state_words[which ? STATE_NEW_AND_DRY : STATE_FRESH];
    s.value = which ? p->dry : p->fresh;
    s.column = num_rows_id(m->rows, which ? p->dry_column : p->column);
    s.standing = STANDING_MEASURED;
    s.rule =
        words(m,
              "all readings of the part in one model: typical size, difference between pieces "
              "(%.1f percent, %.1f to %.1f), alteration by material, zone and grain%s",
              100 * p->within, 100 * p->within_low, 100 * p->within_high,
              p->quantity_kind == QUANTITY_THICKNESS ? ", pressing thinner in the ground" : "");
    if (which) s.rule = "fresh size times new-and-dry over fresh, as sound material dries";
    int rc = which ? rest(&s, m, "statement", words(m, "%s.%s.fresh", p->part, p->quantity),
                          "fresh size")
                   : 0;
    if (!rc && which) rc = rest_on_dry(&s, m, p->example, p->axis);
    if (!rc && !which && p->quantity_kind == QUANTITY_THICKNESS)
        rc = rest_on_squash(&s, m, p->material);
    const struct group *g = NULL;
    long seen[SIZES_MATERIALS];
    size_t n_seen = 0, used = 0;
    for (size_t i = 0; i < m->group_count; i++)
        if (strcmp(m->groups[i].part, p->part) == 0 &&
            strcmp(m->groups[i].quantity, p->quantity) == 0)
            g = &m->groups[i];
    for (size_t i = 0; !rc && !which && i < m->reading_count; i++) {
        const struct measure_size *q = &m->out->measures[m->readings[i].measure];
        if (&m->groups[m->readings[i].group] != g || q->held) continue;
        const struct alteration *a = &m->out->alterations[q->alteration];
        if (a->prior.standing > s.standing) s.standing = a->prior.standing;
        rc = rest(&s, m, "measure", q->measure->id, "reading");
        used++;
        bool before = false;
        for (size_t k = 0; k < n_seen && !before; k++)
            before = seen[k] == q->alteration;
        if (!before && n_seen < SIZES_MATERIALS) seen[n_seen++] = q->alteration;
        if (!rc && !before && a->state != STATE_FRESH)
            rc = rest(&s, m, "statement", alteration_statement_id(m, a), "alteration");
    }
    if (!rc && !which && !used) rc = rest_on_held(&s, m, g);
    return rc ? rc : add(m, &s);
}

static int say_half(struct model *m, const struct length_size *l) {
    struct statement s = begin(m, words(m, "part %s", l->part), "length", FOOTING_GUESSED);
    s.id = words(m, "%s.length.fresh", l->part);
    s.sentence = words(m, "Length of the whole %s when cut, of which half survives.", l->part);
    s.unit = "mm";
    s.state = state_words[STATE_FRESH];
    s.value = l->fresh;
    s.column = num_rows_id(m->rows, l->column);
    s.standing = STANDING_GUESS;
    s.rule =
        "the surviving half, fresh, over the share of the whole at which it broke: 0.5, sd 0.07";
    s.source = "trade notes R90";
    s.rival =
        "it broke nearer one end: then the whole was longer, or hardly more than what survives";
    int rc = rest(&s, m, "measure", l->half, "reading");
    if (!rc) rc = rest(&s, m, "statement", words(m, "%s.fresh", l->half), "the half, fresh");
    return rc ? rc : add(m, &s);
}

static int say_length(struct model *m, const struct length_size *l) {
    struct statement s = begin(m, words(m, "part %s", l->part), "length", FOOTING_WORKED_OUT);
    bool known = l->whole > 0;
    s.id = words(m, "%s.length.%s", l->part, known ? "fresh" : "least");
    const char *name = plain(m, l->part);
    s.sentence = known ? words(m, "Typical length of a %s when cut.", name)
                       : words(m,
                               "A %s was at least this long when cut; no piece has both ends, so "
                               "nothing says how long it can have been.",
                               name);
    s.unit = "mm";
    s.state = state_words[STATE_FRESH];
    s.value = known ? l->fresh : spread_exact(l->longest);
    s.column = known ? num_rows_id(m->rows, l->column) : NULL;
    s.standing = STANDING_COMMON_PRACTICE;
    s.source = known ? "Klein & Moeschberger 2003, Survival Analysis, 3.5" : NULL;
    char km[60] = "no median: the curve stops above a half";
    if (isfinite(l->kaplan_meier)) snprintf(km, sizeof km, "median %.0f mm", l->kaplan_meier);
    s.rule = known ? words(m,
                           "%zu whole and %zu broken pieces (broken ones are minimums), lognormal, "
                           "scatter between pieces 3 to 15 %% beforehand; Kaplan-Meier beside: %s",
                           l->whole, l->minimums, km)
                   : "the longest surviving piece, brought to fresh";
    int rc = 0;
    for (size_t i = 0; !rc && i < m->out->measure_count; i++) {
        const struct measure_size *q = &m->out->measures[i];
        char word[SIZES_WORD];
        remains_part_word(q->piece, word, sizeof word);
        if (q->measure->quantity == QUANTITY_LENGTH && strcmp(word, l->part) == 0 &&
            !q->piece->same_as && q->alteration >= 0)
            rc = rest(&s, m, "measure", q->measure->id, q->minimum ? "minimum" : "reading");
    }
    if (rc) return rc;
    rc = add(m, &s);
    if (!rc && l->half) rc = say_half(m, l);
    if (rc || !known) return rc;
    struct statement one = s;
    one.id = words(m, "%s.length.one.fresh", l->part);
    one.sentence = words(m, "Length of any one %s when cut, if all were meant alike.", l->part);
    one.rival =
        "they were cut to their place: nearer the ends of a rounded outline they are shorter";
    one.value = l->one;
    one.column = NULL;
    return add(m, &one);
}

static int say_argument(struct model *m, const struct part_count *c, const struct count_argument *a,
                        const char *word, const char *sentence) {
    if (!a->text) return 0;
    struct statement s =
        begin(m, words(m, "part %s", c->part), "count argument", FOOTING_WORKED_OUT);
    s.id = words(m, "%s.count.%s", c->part, word);
    s.sentence = words(m, "%s: %s.", sentence, a->text);
    s.value = spread_exact(a->at_least ? (double)a->at_least : (double)a->expected);
    s.rule = a->text;
    int rc = 0;
    for (size_t i = 0; !rc && i < m->find->piece_count; i++) {
        char part[SIZES_WORD];
        const struct piece *p = &m->find->pieces[i];
        remains_part_word(p, part, sizeof part);
        bool shadow = strncmp(part, c->part, strlen(c->part)) == 0 && strstr(part, "_spacing");
        if (strcmp(word, "spacing") == 0 ? shadow || p->substance == SUBSTANCE_MIXED
                                         : strcmp(part, c->part) == 0 && !p->same_as)
            rc = rest(&s, m, "piece", p->id, "argument");
    }
    return rc ? rc : add(m, &s);
}

static int say_count(struct model *m, const struct part_count *c) {
    struct statement s = begin(m, words(m, "part %s", c->part), "count", FOOTING_WORKED_OUT);
    const char *name = plain(m, c->part);
    bool any = c->ends.text || c->length.text || c->spaced.text;
    int rc = say_argument(m, c, &c->ends, "ends", "Counting original ends");
    if (!rc) rc = say_argument(m, c, &c->length, "length", "Adding up lengths in one state");
    if (!rc) rc = say_argument(m, c, &c->spaced, "spacing", "Carrying on the spacing seen");
    if (rc) return rc;
    s.id = words(m, "%s.count", c->part);
    s.sentence = words(m, "Number of %ss, as a range.", name);
    s.value = c->number;
    s.column = num_rows_id(m->rows, c->column);
    s.standing = STANDING_GUESS;
    s.rival = "another number within the range: how likely each is above the limits is a guess";
    s.rule = words(m, "%s%s%s%s%s%s%ld pieces that make %ld%s", c->ends.text ? c->ends.text : "",
                   c->length.text ? "; " : "", c->length.text ? c->length.text : "",
                   c->spaced.text ? "; " : "", c->spaced.text ? c->spaced.text : "",
                   any ? "; " : "", c->pieces, c->units,
                   c->spaced.text ? "" : "; up to as many as there are separate pieces");
    if (c->several_states)
        s.caution =
            words(m,
                  "the pieces were measured in several states: %.0f mm as measured, %.0f mm "
                  "brought to fresh (%.1f %% more)",
                  c->total_raw, c->total_fresh, 100 * (c->total_fresh / c->total_raw - 1));
    static const char *const all[] = {"ends", "length", "spacing"};
    const struct count_argument *const given[] = {&c->ends, &c->length, &c->spaced};
    for (int i = 0; !rc && i < 3; i++)
        if (given[i]->text)
            rc = rest(&s, m, "statement", words(m, "%s.count.%s", c->part, all[i]),
                      words(m, "argument: %s", all[i]));
    for (size_t i = 0; !rc && !s.rests_on.n && i < m->find->piece_count; i++) {
        char part[SIZES_WORD];
        remains_part_word(&m->find->pieces[i], part, sizeof part);
        if (strcmp(part, c->part) == 0)
            rc = rest(&s, m, "piece", m->find->pieces[i].id, "argument");
    }
    return rc ? rc : add(m, &s);
}

/* Two readings used as one: "164 ± 7 mm", with the flag. */
static int say_either(struct model *m, const struct measure_size *q) {
    const struct measure *r = q->measure;
    if (!q->either || r->rival_of) return 0;
    double second = q->either->value;
    double sd = q->plus_minus / 1.6448536269514722;
    struct statement s =
        begin(m, words(m, "piece %s", r->piece), quantity_words[r->quantity], FOOTING_WORKED_OUT);
    s.id = words(m, "%s.either", r->id);
    s.sentence = words(m, "%s of piece %s as measured, whichever of two readings holds.",
                       quantity_words[r->quantity], r->piece);
    s.unit = "mm";
    s.state = state_text(m, r);
    s.raw = r->value;
    s.raw_state = s.state;
    s.value = (struct spread){q->value - 2.5758 * sd,
                              q->value - q->plus_minus,
                              q->value - 0.6745 * sd,
                              q->value,
                              q->value + 0.6745 * sd,
                              q->value + q->plus_minus,
                              q->value + 2.5758 * sd,
                              q->value,
                              sd};
    s.rule = words(
        m,
        "%.1f or %.1f mm: they differ by %.1f %%, less than the ± of %.3g mm, so usable as "
        "%.0f ± %.0f mm",
        r->value, second, 100 * fabs(second / r->value - 1), r->tolerance, q->value, q->plus_minus);
    s.caution = q->caution ? q->caution : "one of two readings";
    int rc = rest(&s, m, "measure", r->id, "reading");
    if (!rc) rc = rest(&s, m, "measure", q->either->id, "other reading");
    if (!rc) rc = rest(&s, m, "piece", r->piece, "piece");
    return rc ? rc : add(m, &s);
}

/* A piece without scale, of which one size is known from its neighbours: what the other sizes would
 * be. Never more than a hint, and never `seen`. */
static int say_hint(struct model *m, const struct piece *p) {
    const struct measure *length = find_measure_of(m->find, p->id, QUANTITY_LENGTH);
    const struct measure *width = find_measure_of(m->find, p->id, QUANTITY_WIDTH);
    double low = INFINITY, high = 0;
    struct statement s = begin(m, words(m, "piece %s", p->id), "length", FOOTING_WORKED_OUT);
    if (p->shape_only != 1 || !length || !width || !p->part) return 0;
    int rc = 0;
    for (size_t i = 0; !rc && i < m->out->measure_count; i++) {
        const struct measure_size *q = &m->out->measures[i];
        char word[SIZES_WORD];
        const struct piece *o = q->piece;
        if (q->measure->quantity != QUANTITY_THICKNESS || o == p || o->shape_only == 1) continue;
        remains_part_word(o, word, sizeof word);
        for (char *c = word; *c; c++)
            if (*c == '_') *c = ' ';
        if (!strcasestr(p->part, word)) continue;
        low = fmin(low, q->measure->value);
        high = fmax(high, q->measure->value);
        rc = rest(&s, m, "measure", q->measure->id, "what could give the scale");
    }
    if (rc || !(high > 0)) return rc;
    double f = length->value / width->value;
    s.id = words(m, "%s.hint", length->id);
    s.sentence = words(m,
                       "If its width is that of the same part elsewhere, piece %s was this long in "
                       "its photo.",
                       p->id);
    s.unit = "mm";
    s.value = spread_unknown();
    s.value.p05 = low * f;
    s.value.p50 = 0.5 * (low + high) * f;
    s.value.p95 = high * f;
    s.rule = words(m, "length over width in the photo, %.3g / %.3g, times %.3g to %.3g mm",
                   length->value, width->value, low, high);
    s.caution = "a hint only: the piece stays shape only, out of every sum";
    rc = rest(&s, m, "piece", p->id, "piece");
    return rc ? rc : add(m, &s);
}

/* ---- rulers and refusals -------------------------------------------------------------------- */

static int say_pair(struct model *m, const struct measure *first, const struct measure *second) {
    struct loss l;
    if (remains_two_readings(&l, first->value, first->tolerance, second->value, second->tolerance,
                             NULL) != 0)
        return 0;
    struct statement s = begin(m, words(m, "piece %s", first->piece), "loss", FOOTING_WORKED_OUT);
    double z = 1.6448536269514722, sd = l.plus_minus / z;
    s.id = words(m, "%s.loss", first->id);
    s.sentence = words(m, "%s of piece %s lost this share between %s and %s.",
                       quantity_words[first->quantity], first->piece, state_text(m, first),
                       state_text(m, second));
    s.unit = "percent";
    s.value =
        in_percent((struct spread){l.loss - 2.5758 * sd, l.low, l.loss - 0.6745 * sd, l.loss,
                                   l.loss + 0.6745 * sd, l.high, l.loss + 2.5758 * sd, l.loss, sd});
    s.rule =
        words(m, "two readings of one piece: %.1f ± %.1f %%", 100 * l.loss, 100 * l.plus_minus);
    s.source = "JCGM 100:2008, 5.1.6";
    if (l.coarse)
        s.caution = words(m,
                          "too coarse to use: the ± is %.0f %% of the loss itself. The width says "
                          "more for the same ±; or each reading to ±%.2g mm, %s",
                          100 * l.plus_minus / fabs(l.loss), l.needed,
                          remains_touch_words(m->find, first->piece, m->arena));
    int rc = rest(&s, m, "measure", first->id, "reading");
    if (!rc) rc = rest(&s, m, "measure", second->id, "reading");
    return rc ? rc : add(m, &s);
}

/* Every piece read twice in different states is a ruler of its own. */
static int say_pairs(struct model *m) {
    for (size_t i = 0; i < m->find->measure_count; i++) {
        const struct measure *second = &m->find->measures[i];
        size_t at = model_piece(m, second->piece);
        if (at == NUM_NO_COLUMN || !m->find->pieces[at].same_as) continue;
        size_t one = model_piece(m, m->find->pieces[at].same_as);
        const struct measure *first =
            one == NUM_NO_COLUMN ? NULL : model_measure_of(m, one, second->quantity);
        if (!first || first->state == second->state) continue;
        int rc = say_pair(m, first, second);
        if (rc) return rc;
    }
    return 0;
}

/* Rows of dents or holes of one pitch group in one zone, rods or sheets. */
static size_t rows_of(struct hole_row *out, const struct model *m, size_t group, bool rods,
                      const char *zone) {
    size_t n = 0;
    for (size_t i = 0; i < m->reading_count; i++) {
        const struct measure_size *q = &m->out->measures[m->readings[i].measure];
        if (m->readings[i].group != group || remains_is_wood(q->piece) != rods || q->held) continue;
        if (strcmp(m->out->alterations[q->alteration].zone, zone) != 0) continue;
        double gaps = 1 / (m->readings[i].spread * m->readings[i].spread);
        out[n++] = (struct hole_row){q->measure->value, gaps, q->measure->tolerance};
    }
    return n;
}

static int say_ruler(struct model *m, size_t group, const char *zone) {
    struct hole_row *rods = ARENA_NEW(m->arena, struct hole_row, m->reading_count + 1);
    struct hole_row *sheets = ARENA_NEW(m->arena, struct hole_row, m->reading_count + 1);
    struct pitch_ratio r;
    if (!rods || !sheets) return fail_memory(m->err);
    size_t n_rods = rows_of(rods, m, group, true, zone);
    size_t n_sheets = rows_of(sheets, m, group, false, zone);
    if (!n_rods || !n_sheets ||
        remains_pitch_ratio(&r, rods, n_rods, sheets, n_sheets, 0, NULL) != 0)
        return 0;
    const struct group *g = &m->groups[group];
    struct statement s = begin(m, words(m, "zone %s", zone), "loss", FOOTING_WORKED_OUT);
    s.id = words(m, "ruler.%s.pitch.%s", g->part, zone);
    s.sentence = words(m, "In zone %s the sheet shrank by this much more than the rod.", zone);
    s.unit = "percent";
    double sd = (r.high - r.low) / (2 * 1.6448536269514722);
    s.value =
        in_percent((struct spread){r.loss - 2.5758 * sd, r.low, r.loss - 0.6745 * sd, r.loss,
                                   r.loss + 0.6745 * sd, r.high, r.loss + 2.5758 * sd, r.loss, sd});
    s.rule = words(m,
                   "the same stitches: %.1f mm apart in the sheet (%g spacings), %.1f mm along the "
                   "rod (%g); no outside figure",
                   r.sheet, r.sheet_gaps, r.rod, r.rod_gaps);
    s.source = "trade notes R85";
    int rc = 0;
    for (size_t i = 0; !rc && i < m->reading_count; i++) {
        const struct measure_size *q = &m->out->measures[m->readings[i].measure];
        if (m->readings[i].group == group &&
            strcmp(m->out->alterations[q->alteration].zone, zone) == 0)
            rc = rest(&s, m, "measure", q->measure->id, "reading");
    }
    return rc ? rc : add(m, &s);
}

static int say_rulers(struct model *m) {
    for (size_t g = 0; g < m->group_count; g++) {
        if (!m->groups[g].is_pitch) continue;
        for (size_t a = 0; a < m->out->alteration_count; a++) {
            const char *zone = m->out->alterations[a].zone;
            bool before = false;
            for (size_t b = 0; b < a && !before; b++)
                before = strcmp(m->out->alterations[b].zone, zone) == 0;
            int rc = before ? 0 : say_ruler(m, g, zone);
            if (rc) return rc;
        }
    }
    return 0;
}

/* Where a part's raw readings stand in several states, no mean of them is given: the refusal and
 * what can be done instead are said. */
static int say_no_mean(struct model *m, const struct part_size *p) {
    const struct measure *first = NULL;
    bool several = false;
    struct statement s = begin(m, words(m, "part %s", p->part), p->quantity, FOOTING_WORKED_OUT);
    int rc = 0;
    for (size_t i = 0; !rc && i < m->reading_count; i++) {
        const struct group *g = &m->groups[m->readings[i].group];
        const struct measure *r = m->out->measures[m->readings[i].measure].measure;
        if (strcmp(g->part, p->part) != 0 || strcmp(g->quantity, p->quantity) != 0) continue;
        if (!first) first = r;
        several = several || r->state != first->state;
        rc = rest(&s, m, "measure", r->id, "reading");
    }
    if (rc || !several) return rc;
    s.id = words(m, "%s.%s.mean", p->part, p->quantity);
    s.sentence =
        words(m, "No mean of the raw readings is given: they were taken in several states.");
    s.rule = words(m,
                   "sizes in different states are never averaged; see %s.%s.fresh, where each "
                   "reading is first brought to fresh",
                   p->part, p->quantity);
    s.caution = "refused: mean across states";
    return add(m, &s);
}

/* Offers withheld, one statement for each ruler, part and reason. */
static int say_withheld(struct model *m) {
    const struct sizes *out = m->out;
    for (size_t i = 0; i < out->withheld_count; i++) {
        const struct offer_withheld *o = &out->withheld[i];
        const struct piece *to = find_piece(m->find, o->to);
        char part[SIZES_WORD], other[SIZES_WORD];
        bool before = false;
        remains_part_word(to, part, sizeof part);
        for (size_t k = 0; k < i && !before; k++) {
            remains_part_word(find_piece(m->find, out->withheld[k].to), other, sizeof other);
            before = strcmp(out->withheld[k].from, o->from) == 0 && strcmp(part, other) == 0 &&
                     strcmp(out->withheld[k].reason, o->reason) == 0;
        }
        if (before) continue;
        struct statement s =
            begin(m, words(m, "part %s", part), "offer withheld", FOOTING_WORKED_OUT);
        const char *id = words(m, "offer.%s.%s", o->from, part);
        s.id = statement_find(m->said, id) ? words(m, "%s.2", id) : id;
        s.sentence = words(m, "The change of size read off %s is not offered to the %s pieces.",
                           o->from, part_name(m, to));
        s.rule = o->reason;
        int rc = rest(&s, m, "piece", o->from, "ruler");
        for (size_t k = i; !rc && k < out->withheld_count; k++) {
            remains_part_word(find_piece(m->find, out->withheld[k].to), other, sizeof other);
            if (strcmp(out->withheld[k].from, o->from) == 0 && strcmp(part, other) == 0 &&
                strcmp(out->withheld[k].reason, o->reason) == 0)
                rc = rest(&s, m, "piece", out->withheld[k].to, "withheld from");
        }
        if (!rc) rc = add(m, &s);
        if (rc) return rc;
    }
    return 0;
}

int model_say(struct model *m) {
    int rc = 0;
    for (size_t i = 0; !rc && i < m->out->alteration_count; i++)
        rc = say_alteration(m, &m->out->alterations[i]);
    for (size_t i = 0; !rc && i < m->squash_count; i++)
        rc = say_squash(m, &m->squash[i]);
    for (size_t i = 0; !rc && i < m->out->measure_count; i++) {
        const struct measure_size *q = &m->out->measures[i];
        if (q->alteration < 0)
            rc = say_as_measured(m, q);
        else
            for (int which = 0; !rc && which < 2; which++)
                rc = say_reading(m, q, which);
    }
    for (size_t i = 0; !rc && i < m->out->part_count; i++) {
        rc = say_part(m, &m->out->parts[i], 0);
        if (!rc) rc = say_part(m, &m->out->parts[i], 1);
        if (!rc) rc = say_no_mean(m, &m->out->parts[i]);
    }
    for (size_t i = 0; !rc && i < m->out->length_count; i++)
        rc = say_length(m, &m->out->lengths[i]);
    for (size_t i = 0; !rc && i < m->out->count_count; i++)
        rc = say_count(m, &m->out->counts[i]);
    for (size_t i = 0; !rc && i < m->out->measure_count; i++)
        rc = say_either(m, &m->out->measures[i]);
    for (size_t i = 0; !rc && i < m->find->piece_count; i++)
        rc = say_hint(m, &m->find->pieces[i]);
    if (!rc) rc = say_pairs(m);
    if (!rc) rc = say_rulers(m);
    return rc ? rc : say_withheld(m);
}
