#include "stuff/alteration.h"

#include "stuff/moisture.h"
#include "stuff/shrinkage.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

const char *const stuff_decay_words[] = {"slight", "middle", "bad", NULL};

struct stuff_change stuff_change(const char *material, const char *from, const char *to) {
    return (struct stuff_change){.material = material,
                                 .class = FIELD_UNKNOWN,
                                 .layer = FIELD_UNKNOWN,
                                 .direction = FIELD_UNKNOWN,
                                 .ring_angle = NAN,
                                 .from = from,
                                 .to = to,
                                 .decay = FIELD_UNKNOWN,
                                 .moisture_new = NAN};
}

/* ---- one step ------------------------------------------------------------------------------- */

enum { STEPS_MOST = 4, DRAWS = 2048 };

/* Steps of a change; each is a loss with its sign: +1 forward, -1 undone (from new and dry). */
struct steps {
    size_t n;
    struct stuff_prior of[STEPS_MOST];
    int sign[STEPS_MOST];
    double share_low[STEPS_MOST]; /* part-dried: a share between this and 1 of the step was gone */
};

/* Words of the alteration table for a class. */
static const char *table_material(long class) {
    switch (class) {
    case STUFF_WOOD:
        return "waterlogged wood";
    case STUFF_OUTER_BARK:
        return "waterlogged birch outer bark";
    case STUFF_BARK:
    case STUFF_BAST:
        return "waterlogged bark";
    default:
        return "waterlogged hide";
    }
}

static const struct stuff_fact *alteration_row(const struct stuff_shelf *shelf, long class,
                                               const char *condition, const char *direction) {
    struct stuff_query q = {.table = "data/alteration.csv",
                            .quantity = "shrinkage",
                            .material = table_material(class),
                            .condition = condition,
                            .direction = direction};
    return stuff_fact_next(shelf, &q, NULL);
}

/* A row gives a middle and a range; a range alone is taken from its geometric middle. Ranges
 * recalled without a middle are taken as 5 to 95 %. */
static int row_prior(struct stuff_prior *out, const struct stuff_fact *f, struct error *err) {
    double k = 0.01, low = f->low * k, high = f->high * k;
    double middle = isnan(f->value) ? sqrt(low * high) : f->value * k;
    *out = (struct stuff_prior){.unit = "fraction",
                                .standing = f->standing,
                                .table = f->table,
                                .line = f->line,
                                .source = f->source,
                                .note = f->note};
    bool skew = low > 0 && middle > 0;
    if (skew) return stuff_prior_points(out, NUM_LOGNORMAL, middle, low, high, err);
    /* Zero or less at one end: a normal about the middle of the range. */
    return stuff_prior_points(out, NUM_NORMAL, middle, low, high, err);
}

static int add_row(struct steps *s, const struct stuff_shelf *shelf, const struct stuff_change *c,
                   long class, const char *condition, int sign, struct error *err) {
    static const char *const directions[] = {"along", "around", "through"};
    struct stuff_prior of[2];
    size_t n = 0;
    int rc = 0;
    for (long d = 0; d < 3 && !rc; d++) {
        if (c->direction != STUFF_ACROSS && c->direction != d) continue;
        if (c->direction == STUFF_ACROSS && d == STUFF_ALONG) continue;
        const struct stuff_fact *f = alteration_row(shelf, class, condition, directions[d]);
        if (!f && d != STUFF_THROUGH) f = alteration_row(shelf, class, condition, "in plane");
        if (f) rc = row_prior(&of[n++], f, err);
    }
    if (rc || !n) return rc; /* no row: no such step for this class */
    s->sign[s->n] = sign;
    s->share_low[s->n] = 1;
    return stuff_prior_pool(&s->of[s->n++], of, n, err);
}

static int add_drying(struct steps *s, const struct stuff_shelf *shelf,
                      const struct stuff_change *c, long class, double moisture, int sign,
                      struct error *err) {
    struct stuff_ask ask = stuff_ask(c->material, STUFF_SHRINKAGE);
    ask.class = class;
    ask.layer = c->layer;
    ask.direction = c->direction;
    ask.state = STUFF_DRY;
    struct stuff_prior *p = &s->of[s->n];
    int rc;
    bool turned = class == STUFF_WOOD && !isnan(c->ring_angle) && c->direction != STUFF_ALONG;
    if (turned) {
        struct stuff_prior t, r;
        ask.direction = STUFF_AROUND;
        rc = stuff_material_prior(&t, shelf, &ask, err);
        ask.direction = STUFF_THROUGH;
        if (!rc) rc = stuff_material_prior(&r, shelf, &ask, err);
        if (rc) return rc;
        double m = stuff_shrinkage_turned(t.median, r.median, c->ring_angle);
        double log_sd = fmax(log(t.p95 / t.median), log(r.p95 / r.median)) / 1.6448536269514722;
        *p = t;
        p->dist = num_dist_lognormal(m, log_sd);
        p->median = m;
        p->p05 = num_dist_quantile(&p->dist, 0.05);
        p->p95 = num_dist_quantile(&p->dist, 0.95);
    } else {
        rc = stuff_material_prior(p, shelf, &ask, err);
        if (rc) return rc;
    }
    if (class == STUFF_WOOD && !isnan(moisture))
        stuff_prior_scale(p, stuff_shrinkage_at(1, moisture, STUFF_FIBRE_SATURATION) /
                                 stuff_shrinkage_at(1, 0.12, STUFF_FIBRE_SATURATION));
    s->sign[s->n] = sign;
    s->share_low[s->n++] = 1;
    return 0;
}

/* ---- which steps ---------------------------------------------------------------------------- */

static bool is(const char *text, const char *word) {
    return text && strcasestr(text, word) != NULL;
}

/* The row of the alteration table for a treatment described in words. */
static const char *treated_row(const char *treatment, const char *state) {
    const char *both[] = {treatment, state};
    for (size_t i = 0; i < 2; i++) {
        const char *t = both[i];
        if (is(t, "ether") || is(t, "alcohol"))
            return "waterlogged to treated, alcohol-ether-resin";
        if (is(t, "sugar") || is(t, "sucrose") || is(t, "trehalose") || is(t, "lactitol") ||
            is(t, "melamine") || is(t, "resin"))
            return "waterlogged to treated, sugar or melamine resin";
        if (is(t, "freeze")) return "waterlogged to treated, PEG and freeze-dried";
        if (is(t, "PEG") || is(t, "glycol")) return "waterlogged to treated, PEG and air-dried";
        if (is(t, "air-dr") || is(t, "air dr") || is(t, "untreated"))
            return "waterlogged to air-dry, decay unknown";
    }
    return "waterlogged to treated, method unknown";
}

static const char *dried_row(long decay) {
    switch (decay) {
    case STUFF_DECAY_SLIGHT:
        return "waterlogged to air-dry, slightly decayed";
    case STUFF_DECAY_MIDDLE:
        return "waterlogged to air-dry, decayed";
    case STUFF_DECAY_BAD:
        return "waterlogged to air-dry, badly decayed";
    default:
        return "waterlogged to air-dry, decay unknown";
    }
}

/* Bark, bast and hide found wet and then dried: no row of its own, so their free drying. */
static int add_dried(struct steps *s, const struct stuff_shelf *shelf, const struct stuff_change *c,
                     long class, struct error *err) {
    size_t before = s->n;
    int rc = add_row(s, shelf, c, class, dried_row(c->decay), 1, err);
    if (rc || s->n > before) return rc;
    rc = add_drying(s, shelf, c, class, NAN, 1, err);
    if (!rc && s->of[s->n - 1].standing < STANDING_ANALOGY)
        s->of[s->n - 1].standing = STANDING_ANALOGY;
    return rc;
}

static int add_treated(struct steps *s, const struct stuff_shelf *shelf,
                       const struct stuff_change *c, long class, struct error *err) {
    const char *row = treated_row(c->treatment, c->to);
    size_t before = s->n;
    int rc = add_row(s, shelf, c, class, row, 1, err);
    if (!rc && s->n == before)
        rc = add_row(s, shelf, c, class, "waterlogged to treated, method unknown", 1, err);
    return rc;
}

static int refuse_state(const char *state, struct error *err) {
    if (is(state, "trial"))
        return fail(err, ERR_REFUSED, "Compare it with its own readings on other days.",
                    "A trial piece has its own history; no table tells how it changed");
    return fail(err, ERR_MISSING,
                "Use: in ground, wet in lab, after treatment, dried before treatment, part-dried.",
                "\"%s\" is not a state a piece is measured in", state ? state : "");
}

static int to_measured(struct steps *s, const struct stuff_shelf *shelf,
                       const struct stuff_change *c, long class, struct error *err) {
    if (is(c->to, "fresh")) return 0;
    if (is(c->to, "new and dry")) return add_drying(s, shelf, c, class, c->moisture_new, 1, err);
    bool wet = is(c->to, "ground") || is(c->to, "wet");
    bool part = is(c->to, "part");
    bool dried = is(c->to, "dried before") || part;
    bool treated = !dried && is(c->to, "after");
    if (!wet && !dried && !treated) return refuse_state(c->to, err);
    int rc = add_row(s, shelf, c, class, "fresh to waterlogged", 1, err);
    if (!rc && dried) rc = add_dried(s, shelf, c, class, err);
    if (!rc && part && s->n) s->share_low[s->n - 1] = 0;
    if (!rc && treated) rc = add_treated(s, shelf, c, class, err);
    return rc;
}

/* ---- putting steps together ----------------------------------------------------------------- */

/* Evenly spread points (additive recurrence; Roberts 2018) in up to 2 x STEPS_MOST dimensions. */
static double even_point(size_t k, size_t dimension) {
    const double phi = 1.0850702454914508; /* real root of x^9 = x + 1: eight dimensions */
    double x = 0.5 + pow(phi, -(double)(dimension + 1)) * (double)(k + 1);
    return x - floor(x);
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* ln(measured / original) of one draw. */
static double log_ratio(const struct steps *s, size_t k) {
    double sum = 0;
    for (size_t i = 0; i < s->n; i++) {
        double loss = num_dist_quantile(&s->of[i].dist, even_point(k, i));
        double share = s->share_low[i] + (1 - s->share_low[i]) * even_point(k, STEPS_MOST + i);
        loss = fmin(loss * share, 0.95); /* no size shrinks to nothing */
        sum += s->sign[i] * log1p(-loss);
    }
    return sum;
}

static int together(struct stuff_alteration *out, const struct steps *s, struct error *err) {
    if (!s->n) {
        out->loss.dist = num_dist_fixed(0);
        out->loss.standing = STANDING_COMPUTED;
        out->loss.source = "no change between these states";
        return 0;
    }
    double v[DRAWS], sum = 0, sum2 = 0;
    for (size_t k = 0; k < DRAWS; k++) {
        v[k] = log_ratio(s, k);
        sum += v[k];
        sum2 += v[k] * v[k];
    }
    out->log_mean = sum / DRAWS;
    out->log_sd = sqrt(fmax(0, sum2 / DRAWS - out->log_mean * out->log_mean));
    qsort(v, DRAWS, sizeof *v, ascending);
    double p05 = -expm1(v[DRAWS - 1 - DRAWS / 20]), p95 = -expm1(v[DRAWS / 20]);
    double median = -expm1(v[DRAWS / 2]);
    out->loss = s->of[s->n - 1]; /* the last step is the largest and gives the source */
    for (size_t i = 0; i < s->n; i++)
        if (s->of[i].standing > out->loss.standing) out->loss.standing = s->of[i].standing;
    bool skew = p05 > 0;
    return stuff_prior_points(&out->loss, skew ? NUM_LOGNORMAL : NUM_NORMAL, median, p05, p95, err);
}

static void tell(struct stuff_alteration *out, const struct stuff_change *c,
                 const struct steps *s) {
    size_t n = (size_t)snprintf(out->steps, sizeof out->steps, "%s to %s:", c->from, c->to);
    for (size_t i = 0; i < s->n && n < sizeof out->steps; i++)
        n += (size_t)snprintf(out->steps + n, sizeof out->steps - n,
                              "%s %.1f %% (%.1f to %.1f, %s)", i ? " then" : "",
                              100 * s->sign[i] * s->of[i].median, 100 * s->sign[i] * s->of[i].p05,
                              100 * s->sign[i] * s->of[i].p95, standing_words[s->of[i].standing]);
    snprintf(out->loss.basis, sizeof out->loss.basis, "%.200s", out->steps);
}

static int refuse_figures(const struct stuff_shelf *shelf, const struct stuff_change *c, long class,
                          struct error *err) {
    if (!c->figures || !*c->figures) return 0;
    struct stuff_material m = stuff_material_read(shelf, c->figures);
    if (m.class == class) return 0;
    return fail(err, ERR_REFUSED,
                "Use figures of the material itself, or measure them on a strip in a trial.",
                "Figures of %s (%s) do not hold for %s (%s): they shrink differently", c->figures,
                m.class == FIELD_UNKNOWN ? "unknown" : stuff_class_words[m.class], c->material,
                stuff_class_words[class]);
}

int stuff_alteration_prior(struct stuff_alteration *out, const struct stuff_shelf *shelf,
                           const struct stuff_change *change, struct error *err) {
    *out = (struct stuff_alteration){0};
    struct stuff_change c = *change;
    if (c.direction == FIELD_UNKNOWN) c.direction = STUFF_ACROSS;
    struct stuff_material m = stuff_material_read(shelf, c.material);
    long class = c.class != FIELD_UNKNOWN ? c.class : m.class;
    if (class == FIELD_UNKNOWN)
        return fail(
            err, ERR_MISSING, "Say whether it is wood, bark, outer bark, bast, hide or sinew.",
            "\"%s\" does not say what kind of material it is", c.material ? c.material : "");
    int rc = refuse_figures(shelf, &c, class, err);
    if (rc) return rc;
    struct steps s = {0};
    bool from_dry = is(c.from, "new and dry");
    if (!from_dry && !is(c.from, "fresh"))
        return fail(err, ERR_REFUSED, "Reckon from fresh or from new and dry.",
                    "\"%s\" is not the state of an original", c.from ? c.from : "");
    bool same = from_dry && is(c.to, "new and dry");
    if (from_dry && !same) rc = add_drying(&s, shelf, &c, class, c.moisture_new, -1, err);
    if (!rc && !same) rc = to_measured(&s, shelf, &c, class, err);
    if (!rc) rc = together(out, &s, err);
    if (rc) return rc;
    out->loss.unit = "fraction";
    out->loss.class = class;
    if (!out->loss.note) out->loss.note = "";
    if (!out->loss.table) out->loss.table = "";
    tell(out, &c, &s);
    return 0;
}
