#include "stuff/material.h"

#include "stuff/bark.h"
#include "stuff/moisture.h"
#include "stuff/shrinkage.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* ---- words ---------------------------------------------------------------------------------- */

const char *const stuff_class_words[] = {"wood", "bark",  "outer bark", "bast",
                                         "hide", "sinew", NULL};
#define NAME(id, name, unit) name,
const char *const stuff_property_words[] = {STUFF_PROPERTY_LIST(NAME) NULL};
#undef NAME
#define UNIT(id, name, unit) unit,
const char *const stuff_property_units[] = {STUFF_PROPERTY_LIST(UNIT) NULL};
#undef UNIT
const char *const stuff_direction_words[] = {"along", "around", "through", "across", NULL};
const char *const stuff_state_words[] = {"fresh", "soaked", "steamed", "dry", "ovendry", NULL};
const char *const stuff_layer_words[] = {"whole", "bast", "outer", NULL};

struct stuff_ask stuff_ask(const char *material, enum stuff_property property) {
    return (struct stuff_ask){material,       FIELD_UNKNOWN, FIELD_UNKNOWN,
                              (long)property, FIELD_UNKNOWN, FIELD_UNKNOWN};
}

static bool any_word(const char *text, const char *const *words) {
    for (; *words; words++)
        if (strcasestr(text, *words)) return true;
    return false;
}

static long class_of(const char *text) {
    static const char *const sinew[] = {"sinew", "tendon", NULL};
    static const char *const hide[] = {"hide", "skin", "leather", "gut", "parchment", NULL};
    static const char *const bast[] = {"bast", "fibre", "cord",   "rope", "nettle",
                                       "flax", "hemp",  "string", NULL};
    static const char *const wood[] = {"wood",       "rod",  "withy", "lath",   "split", "heart",
                                       "foundation", "root", "stem",  "branch", NULL};
    if (any_word(text, sinew)) return STUFF_SINEW;
    if (any_word(text, hide)) return STUFF_HIDE;
    if (strcasestr(text, "bark")) {
        bool birch = strcasestr(text, "birch") || strcasestr(text, "betula");
        return birch || strcasestr(text, "outer bark") ? STUFF_OUTER_BARK : STUFF_BARK;
    }
    if (any_word(text, wood)) return STUFF_WOOD;
    if (any_word(text, bast)) return STUFF_BAST;
    return FIELD_UNKNOWN;
}

struct stuff_material stuff_material_read(const struct stuff_shelf *shelf, const char *text) {
    static const char *const young[] = {"rod", "withy", "withies", "whip", "osier", NULL};
    struct stuff_material m = {.class = FIELD_UNKNOWN};
    if (!text) text = "";
    m.class = class_of(text);
    m.young = any_word(text, young) && !strcasestr(text, "split");
    const char *at = text;
    while (*at && m.n < STUFF_ALTERNATIVES) {
        const char * or = strcasestr(at, " or "), *slash = strchr(at, '/');
        const char *end = slash && (! or || slash < or) ? slash : or ;
        char part[160];
        snprintf(part, sizeof part, "%.*s", end ? (int)(end - at) : (int)strlen(at), at);
        struct stuff_taxon taxon = stuff_taxon_find(shelf, part);
        bool again = false;
        for (size_t i = 0; i < m.n; i++)
            again |= m.taxon[i].species == taxon.species;
        if (taxon.species && !again) m.taxon[m.n++] = taxon;
        at = end ? end + (end == slash ? 1 : 4) : "";
    }
    if (!m.n) m.n = 1; /* one alternative: unknown */
    if (m.class == FIELD_UNKNOWN && m.taxon[0].species) m.class = STUFF_WOOD;
    return m;
}

/* ---- making priors -------------------------------------------------------------------------- */

static void points(struct stuff_prior *p) {
    p->median = num_dist_quantile(&p->dist, 0.5);
    p->p05 = num_dist_quantile(&p->dist, 0.05);
    p->p95 = num_dist_quantile(&p->dist, 0.95);
}

int stuff_prior_points(struct stuff_prior *out, enum num_family family, double median, double p05,
                       double p95, struct error *err) {
    int rc = 0;
    if (family == NUM_FIXED || p05 == p95)
        out->dist = num_dist_fixed(median);
    else
        rc = num_dist_from_points(&out->dist, family, median, p05, p95, NAN, NAN, NULL, err);
    if (!rc) points(out);
    return rc;
}

/* A lognormal about a median whose logarithm has this standard deviation. */
static int lognormal(struct stuff_prior *out, double median, double log_sd) {
    out->dist = num_dist_lognormal(median, log_sd);
    points(out);
    return 0;
}

int stuff_prior_pool(struct stuff_prior *out, const struct stuff_prior *of, size_t n,
                     struct error *err) {
    *out = of[0];
    if (n < 2) return 0;
    double low = of[0].p05, high = of[0].p95, sum = 0;
    bool positive = true;
    for (size_t i = 0; i < n; i++) {
        low = fmin(low, of[i].p05);
        high = fmax(high, of[i].p95);
        positive &= of[i].p05 > 0;
        if (of[i].standing > out->standing) out->standing = of[i].standing;
    }
    for (size_t i = 0; i < n; i++)
        sum += positive ? log(of[i].median) : of[i].median;
    double median = positive ? exp(sum / (double)n) : sum / (double)n;
    return stuff_prior_points(out, positive ? NUM_LOGNORMAL : NUM_NORMAL, median, low, high, err);
}

void stuff_prior_scale(struct stuff_prior *p, double k) {
    struct num_dist *d = &p->dist;
    if (k == 1) return;
    switch (d->family) {
    case NUM_LOGNORMAL:
    case NUM_FIXED:
    case NUM_TRIANGULAR:
        d->a *= k;
        break;
    case NUM_NORMAL:
    case NUM_STUDENT:
        d->a *= k;
        d->b *= k;
        break;
    default:
        break; /* uniform and beta: their bounds say it all */
    }
    d->low *= k;
    d->high *= k;
    points(p);
}

static int from_fact(struct stuff_prior *out, const struct stuff_fact *f, struct error *err) {
    double k = stuff_unit_factor(f->unit);
    int family = num_family_find(f->family);
    if (isnan(k) || (family < 0 && *f->family))
        return fail(err, ERR_DAMAGED, "Mend the row.", "%s line %ld: unit \"%s\" or family \"%s\"",
                    f->table, f->line, f->unit, f->family);
    out->standing = f->standing;
    out->table = f->table;
    out->line = f->line;
    out->source = f->source;
    out->note = f->note;
    return stuff_prior_points(out, (enum num_family)family, f->value * k, f->low * k, f->high * k,
                              err);
}

/* ---- rows of the tables of distributions ---------------------------------------------------- */

/* States of the tables: soaked and steamed bark, bast and hide count as fresh. */
static const char *table_state(long state) {
    if (state == STUFF_DRY) return "dry";
    if (state == STUFF_OVENDRY) return "ovendry";
    return "fresh";
}

static const struct stuff_fact *row(const struct stuff_shelf *shelf, const char *material,
                                    const char *layer, const char *property, const char *direction,
                                    const char *state) {
    static const char *const where[] = {"data/bark_defaults.csv", "data/material_defaults.csv"};
    for (size_t i = 0; i < 2; i++) {
        struct stuff_query q = {where[i], property, material, layer, direction, state, NULL};
        const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL);
        if (f) return f;
    }
    return NULL;
}

/* Tries the direction, then a row for the whole plane, then one without direction; and the state,
 * then one for any state. */
const struct stuff_fact *stuff_default_row(const struct stuff_shelf *shelf, const char *material,
                                           const char *layer, const char *property, long direction,
                                           long state) {
    const char *states[] = {table_state(state), "any"};
    const char *directions[3] = {"", "", ""};
    size_t n = 0;
    if (direction != FIELD_UNKNOWN && direction != STUFF_ACROSS)
        directions[n++] = stuff_direction_words[direction];
    if (direction != STUFF_THROUGH) directions[n++] = "in plane";
    directions[n++] = "";
    for (size_t s = 0; s < 2; s++)
        for (size_t d = 0; d < n; d++) {
            const struct stuff_fact *f =
                row(shelf, material, layer, property, directions[d], states[s]);
            if (f) return f;
        }
    return NULL;
}

int stuff_default_prior(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        const char *material, const char *layer, const struct stuff_ask *ask,
                        struct error *err) {
    const char *property = stuff_property_words[ask->property];
    if (ask->property == STUFF_DENSITY)
        property = ask->state == STUFF_DRY || ask->state == STUFF_OVENDRY ? "density_dry"
                                                                          : "density_green";
    const struct stuff_fact *f =
        stuff_default_row(shelf, material, layer, property, ask->direction, ask->state);
    if (!f)
        return fail(err, ERR_MISSING, "Measure it on a strip, and enter it as a value of your own.",
                    "Nothing is known about %s of %s%s%s %s, %s",
                    stuff_property_words[ask->property], material, *layer ? ", " : "", layer,
                    ask->direction == FIELD_UNKNOWN ? "" : stuff_direction_words[ask->direction],
                    stuff_state_words[ask->state]);
    return from_fact(out, f, err);
}

/* ---- wood ----------------------------------------------------------------------------------- */

static void tell_reach(struct stuff_prior *out, const struct stuff_wood_figure *w,
                       struct stuff_taxon taxon) {
    const char *name = taxon.species ? taxon.species->name : "wood, species unknown";
    switch (w->reach) {
    case STUFF_OF_SPECIES:
        snprintf(out->basis, sizeof out->basis, "figure of %s", name);
        break;
    case STUFF_OF_GENUS:
        snprintf(out->basis, sizeof out->basis,
                 "figure of %s stands in for a species of %s that is not in the table", name,
                 taxon.species->genus);
        break;
    case STUFF_OF_RELATIVES:
        snprintf(out->basis, sizeof out->basis,
                 "average of %zu species of %s; %s itself is not known", w->species,
                 taxon.species->genus, name);
        break;
    default:
        snprintf(out->basis, sizeof out->basis,
                 "average of %zu woods: nothing nearer is known for %s", w->species, name);
    }
}

static int wood_take(struct stuff_prior *out, const struct stuff_wood_figure *w,
                     struct stuff_taxon taxon, double factor, double more_log_sd) {
    out->standing = w->standing;
    out->table = w->fact->table;
    out->line = w->fact->line;
    out->source = w->fact->source;
    out->note = w->fact->note;
    tell_reach(out, w, taxon);
    return lognormal(out, w->median * factor, hypot(w->log_sd, more_log_sd));
}

/* Tables print green and 12 %; a species often has only one of the two: then the ratio of all
 * woods takes it to the other. */
#define RATIO_LOG_SD 0.12 /* spread of green to dry ratios between species of the handbook */

static int wood_in_state(struct stuff_wood_figure *w, const struct stuff_shelf *shelf,
                         struct stuff_taxon taxon, const char *quantity, const char *direction,
                         bool dry, struct error *err) {
    const char *asked = dry ? "12% MC" : "green", *other = dry ? "green" : "12% MC";
    int rc = stuff_wood_figure(w, shelf, taxon, quantity, direction, asked, err);
    if (rc || w->reach != STUFF_OF_KIND || !taxon.species) return rc;
    struct stuff_wood_figure b, kind_a, kind_b;
    struct stuff_taxon unknown = {NULL, false};
    if (stuff_wood_figure(&b, shelf, taxon, quantity, direction, other, NULL) ||
        b.reach == STUFF_OF_KIND ||
        stuff_wood_figure(&kind_a, shelf, unknown, quantity, direction, asked, NULL) ||
        stuff_wood_figure(&kind_b, shelf, unknown, quantity, direction, other, NULL))
        return 0;
    b.median *= kind_a.median / kind_b.median;
    b.log_sd = hypot(b.log_sd, RATIO_LOG_SD);
    if (b.standing < STANDING_ANALOGY) b.standing = STANDING_ANALOGY;
    *w = b;
    return 0;
}

static int wood_shrinkage(struct stuff_prior *out, const struct stuff_shelf *shelf,
                          struct stuff_taxon taxon, const struct stuff_ask *ask,
                          struct error *err) {
    if (ask->state < STUFF_DRY) {
        out->standing = STANDING_STANDARD;
        out->source = "Wood Handbook ch. 4: no change of size above fibre saturation";
        snprintf(out->basis, sizeof out->basis, "wood keeps its green size while it is wet");
        out->dist = num_dist_fixed(0);
        points(out);
        return 0;
    }
    /* Air-dry is 12 %: 60 % of the whole (Eq 4-9). */
    double share =
        ask->state == STUFF_DRY ? stuff_shrinkage_at(1, 0.12, STUFF_FIBRE_SATURATION) : 1;
    if (ask->direction == STUFF_ALONG) {
        struct stuff_ask whole = *ask;
        whole.state = STUFF_OVENDRY;
        int rc = stuff_default_prior(out, shelf, "wood", "", &whole, err);
        if (!rc) stuff_prior_scale(out, share);
        snprintf(out->basis, sizeof out->basis, "all woods alike along the grain");
        return rc;
    }
    struct stuff_wood_figure w;
    int rc = stuff_wood_figure(&w, shelf, taxon, "shrinkage", stuff_direction_words[ask->direction],
                               "green to ovendry", err);
    return rc ? rc : wood_take(out, &w, taxon, share, 0);
}

/* Stiffness: bending E of the handbook x 1.10 is the true one along (ch. 5); the others by ratio.
 */
static int wood_stiffness(struct stuff_prior *out, const struct stuff_shelf *shelf,
                          struct stuff_taxon taxon, const struct stuff_ask *ask, bool dry,
                          struct error *err) {
    struct stuff_wood_figure e, ratio = {.median = 1};
    int rc = wood_in_state(&e, shelf, taxon, "E_bending", NULL, dry, err);
    if (rc) return rc;
    const char *name = NULL;
    if (ask->property == STUFF_E && ask->direction == STUFF_AROUND) name = "ET/EL";
    if (ask->property == STUFF_E && ask->direction == STUFF_THROUGH) name = "ER/EL";
    if (ask->property == STUFF_G) name = ask->direction == STUFF_THROUGH ? "GLR/EL" : "GLT/EL";
    if (name) rc = stuff_wood_figure(&ratio, shelf, taxon, "elastic_ratio", name, NULL, err);
    if (rc) return rc;
    double factor = 1.10 * ratio.median, more = ratio.log_sd;
    if (ask->state == STUFF_STEAMED) {
        const struct stuff_fact *f =
            stuff_default_row(shelf, "wood", "", "steam_softening", STUFF_ALONG, STUFF_FRESH);
        if (!f) f = row(shelf, "wood", "", "steam_softening", "along", "steamed");
        factor *= f ? f->value : 0.4;
        more = hypot(more, 0.35);
        e.standing = STANDING_MEMORY;
    }
    rc = wood_take(out, &e, taxon, factor, more);
    if (name && ratio.standing > out->standing) out->standing = ratio.standing;
    return rc;
}

static int wood_bend_limit(struct stuff_prior *out, const struct stuff_shelf *shelf, bool young,
                           const struct stuff_ask *ask, struct error *err) {
    long state = ask->state == STUFF_OVENDRY ? STUFF_DRY : ask->state;
    struct stuff_query q = {.quantity = "bend_strain_limit",
                            .material = young ? "young willow or hazel rod" : "wood, general",
                            .condition = stuff_state_words[state]};
    const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL);
    if (!f)
        return fail(err, ERR_MISSING, "Bend a spare piece and note the radius at the first crack.",
                    "No limit of bending is known");
    struct stuff_fact g = *f;
    g.family = "lognormal";
    snprintf(out->basis, sizeof out->basis, "all woods alike%s", young ? "; a young rod" : "");
    return from_fact(out, &g, err);
}

static int wood_density(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        struct stuff_taxon taxon, const struct stuff_ask *ask, struct error *err) {
    bool dry = ask->state >= STUFF_DRY && ask->property == STUFF_DENSITY;
    struct stuff_wood_figure w;
    int rc = wood_in_state(&w, shelf, taxon, "specific_gravity", NULL, dry, err);
    if (rc) return rc;
    double factor = STUFF_WATER, more = 0;
    if (ask->property == STUFF_DENSITY && ask->state == STUFF_DRY) factor *= 1.12; /* Eq 4-14 */
    if (ask->property == STUFF_DENSITY && ask->state < STUFF_DRY) {
        const struct stuff_fact *f = row(shelf, "wood", "", "moisture_green", "", "fresh");
        factor *= 1 + f->value / 100;
        more = 0.18; /* green moisture 38 to 140 % about 75 %: log sd of 1 + M */
        if (w.standing < STANDING_ANALOGY) w.standing = STANDING_ANALOGY;
    }
    return wood_take(out, &w, taxon, factor, more);
}

/* Strengths: table rows of Table 5-3 where there are any. */
static int wood_strength(struct stuff_prior *out, const struct stuff_shelf *shelf,
                         struct stuff_taxon taxon, const struct stuff_ask *ask, bool dry,
                         struct error *err) {
    const char *quantity = NULL;
    bool along = ask->direction == STUFF_ALONG || ask->direction == FIELD_UNKNOWN;
    double factor = 1;
    switch (ask->property) {
    case STUFF_BENDING:
        quantity = "rupture_modulus";
        break;
    case STUFF_SHEAR:
        quantity = "shear_along";
        break;
    case STUFF_COMPRESSION:
        quantity = along ? "compression_along" : "compression_across";
        break;
    case STUFF_TENSION:
        quantity = along ? "rupture_modulus" : NULL; /* a little under tension along (ch. 5) */
        break;
    default:
        break;
    }
    if (ask->property == STUFF_BEARING) {
        /* Embedment of EN 1995-1-1 Eq 8.32 at d = 10 mm per kg/m3 of dry density; fitted to steel.
         */
        struct stuff_wood_figure w;
        int rc = wood_in_state(&w, shelf, taxon, "specific_gravity", NULL, true, err);
        if (rc) return rc;
        double fh = 0.082 * (1 - 0.01 * 10) * 1.12 * 1000;
        double k90 = along ? 1 : taxon.species && taxon.species->softwood ? 1.50 : 1.05; /* 8.33 */
        if (w.standing < STANDING_ANALOGY) w.standing = STANDING_ANALOGY;
        return wood_take(out, &w, taxon, fh / k90 * (dry ? 1 : 0.6), 0.2);
    }
    if (!quantity) {
        struct stuff_query q = {.quantity = "tension_across",
                                .material = "wood, general",
                                .condition = dry ? "12% MC" : "green"};
        struct stuff_fact f = *stuff_fact_next(shelf, &q, NULL);
        f.family = "lognormal";
        snprintf(out->basis, sizeof out->basis, "all woods alike across the grain");
        return from_fact(out, &f, err);
    }
    struct stuff_wood_figure w;
    int rc = wood_in_state(&w, shelf, taxon, quantity, NULL, dry, err);
    return rc ? rc : wood_take(out, &w, taxon, factor, 0);
}

static int wood_poisson(struct stuff_prior *out, const struct stuff_shelf *shelf,
                        struct stuff_taxon taxon, const struct stuff_ask *ask, struct error *err) {
    struct stuff_wood_figure w;
    const char *which = ask->direction == STUFF_THROUGH ? "LR" : "LT";
    int rc = stuff_wood_figure(&w, shelf, taxon, "poisson_ratio", which, NULL, err);
    return rc ? rc : wood_take(out, &w, taxon, 1, 0);
}

static int wood_prior(struct stuff_prior *out, const struct stuff_shelf *shelf,
                      struct stuff_taxon taxon, bool young, const struct stuff_ask *ask,
                      struct error *err) {
    bool dry = ask->state >= STUFF_DRY;
    switch (ask->property) {
    case STUFF_SHRINKAGE:
        return wood_shrinkage(out, shelf, taxon, ask, err);
    case STUFF_E:
    case STUFF_G:
        return wood_stiffness(out, shelf, taxon, ask, dry, err);
    case STUFF_POISSON:
        return wood_poisson(out, shelf, taxon, ask, err);
    case STUFF_TENSION:
    case STUFF_COMPRESSION:
    case STUFF_SHEAR:
    case STUFF_BENDING:
    case STUFF_BEARING:
        return wood_strength(out, shelf, taxon, ask, dry, err);
    case STUFF_BEND_STRAIN:
        return wood_bend_limit(out, shelf, young, ask, err);
    case STUFF_DENSITY_BASIC:
    case STUFF_DENSITY:
        return wood_density(out, shelf, taxon, ask, err);
    case STUFF_WET_TO_DRY: {
        struct stuff_wood_figure w, d;
        int rc = wood_in_state(&w, shelf, taxon, "rupture_modulus", NULL, false, err);
        if (!rc) rc = wood_in_state(&d, shelf, taxon, "rupture_modulus", NULL, true, err);
        return rc ? rc : wood_take(out, &w, taxon, 1 / d.median, RATIO_LOG_SD);
    }
    default:
        snprintf(out->basis, sizeof out->basis, "all woods alike");
        return stuff_default_prior(out, shelf, "wood", "", ask, err);
    }
}

/* ---- own values ----------------------------------------------------------------------------- */

static bool agrees(const char *own, const char *asked) {
    return !*own || (asked && !strcmp(own, asked));
}

/* A value of the person's own team for this material (same class and same species or genus). */
static const struct stuff_fact *own_value(const struct stuff_shelf *shelf,
                                          const struct stuff_material *m,
                                          const struct stuff_ask *ask) {
    for (size_t i = 0;; i++) {
        const struct stuff_fact *f = stuff_own_at(shelf, i);
        if (!f) return NULL;
        if (strcmp(f->quantity, stuff_property_words[ask->property])) continue;
        struct stuff_material o = stuff_material_read(shelf, f->material);
        long layer = ask->layer == FIELD_UNKNOWN ? STUFF_WHOLE : ask->layer;
        bool same_class = o.class == m->class;
        bool same_taxon = o.taxon[0].species == m->taxon[0].species;
        bool same_direction =
            agrees(f->direction,
                   ask->direction == FIELD_UNKNOWN ? NULL : stuff_direction_words[ask->direction]);
        if (same_class && same_taxon && same_direction &&
            agrees(f->layer, stuff_layer_words[layer]) &&
            agrees(f->state, stuff_state_words[ask->state]))
            return f;
    }
}

/* ---- the door ------------------------------------------------------------------------------- */

static int one_taxon(struct stuff_prior *out, const struct stuff_shelf *shelf, long class,
                     struct stuff_taxon taxon, bool young, const struct stuff_ask *ask,
                     struct error *err) {
    *out = (struct stuff_prior){.unit = stuff_property_units[ask->property],
                                .class = class,
                                .source = "",
                                .note = "",
                                .table = ""};
    switch (class) {
    case STUFF_WOOD:
        return wood_prior(out, shelf, taxon, young, ask, err);
    case STUFF_BARK:
    case STUFF_OUTER_BARK:
        return stuff_bark_prior(out, shelf, class, taxon, ask, err);
    default:
        return stuff_default_prior(out, shelf, stuff_class_words[class], "", ask, err);
    }
}

/* Across means: around or through, nobody knows. Only for what differs between the two. */
static int across(struct stuff_prior *out, const struct stuff_shelf *shelf, long class,
                  struct stuff_taxon taxon, bool young, const struct stuff_ask *ask,
                  struct error *err) {
    struct stuff_prior of[2];
    struct stuff_ask a = *ask;
    a.direction = STUFF_AROUND;
    int rc = one_taxon(&of[0], shelf, class, taxon, young, &a, err);
    a.direction = STUFF_THROUGH;
    struct error second = {0};
    int rc2 = rc ? rc : one_taxon(&of[1], shelf, class, taxon, young, &a, &second);
    if (rc) return rc;
    rc = stuff_prior_pool(out, of, rc2 ? 1 : 2, err);
    size_t n = strlen(out->basis);
    snprintf(out->basis + n, sizeof out->basis - n,
             "%sround or through the stem is not known: wide enough for both", n ? "; " : "");
    return rc;
}

static int checked(struct stuff_ask *ask, const struct stuff_ask *asked, struct error *err) {
    *ask = *asked;
    if (ask->state == FIELD_UNKNOWN) ask->state = STUFF_DRY;
    if (ask->property < 0 || ask->property >= STUFF_PROPERTY_COUNT)
        return fail(err, ERR_USAGE, "Name one of the properties of `relict calc material --help`.",
                    "No such property");
    bool turns = ask->property == STUFF_SHRINKAGE || ask->property == STUFF_E;
    if (turns && ask->direction == FIELD_UNKNOWN) ask->direction = STUFF_ACROSS;
    return 0;
}

int stuff_material_prior(struct stuff_prior *out, const struct stuff_shelf *shelf,
                         const struct stuff_ask *asked, struct error *err) {
    struct stuff_ask ask;
    int rc = checked(&ask, asked, err);
    if (rc) return rc;
    struct stuff_material m = stuff_material_read(shelf, ask.material);
    if (ask.class != FIELD_UNKNOWN) m.class = ask.class;
    if (m.class == FIELD_UNKNOWN)
        return fail(
            err, ERR_MISSING, "Say whether it is wood, bark, outer bark, bast, hide or sinew.",
            "\"%s\" does not say what kind of material it is", ask.material ? ask.material : "");
    const struct stuff_fact *own = own_value(shelf, &m, &ask);
    if (own) {
        *out = (struct stuff_prior){.unit = stuff_property_units[ask.property], .class = m.class};
        snprintf(out->basis, sizeof out->basis, "your own value %ld stands before the tables",
                 own->line);
        return from_fact(out, own, err);
    }
    struct stuff_prior of[STUFF_ALTERNATIVES];
    for (size_t i = 0; i < m.n && !rc; i++)
        rc = ask.direction == STUFF_ACROSS
                 ? across(&of[i], shelf, m.class, m.taxon[i], m.young, &ask, err)
                 : one_taxon(&of[i], shelf, m.class, m.taxon[i], m.young, &ask, err);
    if (rc) {
        error_place(err, NULL, 0, NULL, ask.material);
        return rc;
    }
    rc = stuff_prior_pool(out, of, m.n, err);
    if (m.n > 1)
        snprintf(out->basis, sizeof out->basis, "wide enough for each of the %zu species it may be",
                 m.n);
    return rc;
}
