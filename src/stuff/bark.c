#include "stuff/bark.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- two layers ----------------------------------------------------------------------------- */

double stuff_bark_stiffness(double bast_e, double outer_e, double share) {
    return bast_e * (1 - share) + outer_e * share;
}

double stuff_bark_shrinkage(double bast_e, double bast_s, double outer_e, double outer_s,
                            double share) {
    double a = bast_e * (1 - share), b = outer_e * share;
    return (a * bast_s + b * outer_s) / (a + b);
}

int stuff_bark_fissured(struct stuff_fissured *out, double thickness,
                        const struct stuff_fissures *f, struct error *err) {
    if (!(thickness > 0) || !(f->depth >= 0) || f->depth >= thickness)
        return fail(err, ERR_RANGE, "Measure depth from the outer face and thickness beside it.",
                    "Fissures %g mm deep in a sheet %g mm thick", f->depth, thickness);
    if (!(f->spacing > 0) || !(f->width >= 0) || f->width >= f->spacing)
        return fail(err, ERR_RANGE, "Give spacing from middle to middle, and the open width.",
                    "Fissures %g mm wide every %g mm", f->width, f->spacing);
    double share = f->width / f->spacing, left = 1 - f->depth / thickness;
    out->tension_around = left;
    out->tension_along = 1 - share * f->depth / thickness;
    /* Around, thick and thin strips bend in series; along, they bend side by side. */
    double thin = pow(left, 3);
    out->bending_around = 1 / (share / thin + (1 - share));
    out->bending_along = (1 - share) + share * thin;
    return 0;
}

/* ---- priors --------------------------------------------------------------------------------- */

/* Row name in the table for a genus; NULL when it has none. */
static const char *table_name(struct stuff_taxon taxon) {
    static const char *const names[][2] = {
        {"Salix", "willow"}, {"Tilia", "lime"}, {"Ulmus", "elm"}, {"Populus", "poplar"}};
    for (size_t i = 0; taxon.species && i < 4; i++)
        if (!strcmp(taxon.species->genus, names[i][0])) return names[i][1];
    return NULL;
}
static const char *const known[] = {"willow", "lime", "elm", "poplar"};

static int layer_prior(struct stuff_prior *out, const struct stuff_shelf *shelf, const char *name,
                       const char *layer, struct stuff_ask ask, struct error *err) {
    return stuff_default_prior(out, shelf, name, layer, &ask, err);
}

/* The share of the layers is drawn from the middles of SHARE_STEPS equal parts of its probability:
 * a beta's quantiles are dear. */
enum { SHEET_DRAWS = 1024, SHARE_STEPS = 128 };

/* The k-th of n points in the unit cube that fill it evenly: additive recurrence with the powers of
 * the root of x^6 = x + 1 (five dimensions; Roberts 2018, a generalised golden ratio). */
static double even_point(size_t k, size_t dimension) {
    const double phi = 1.1347241384015194; /* real root of x^6 = x + 1 */
    double a = pow(phi, -(double)(dimension + 1)), x = 0.5 + a * (double)(k + 1);
    return x - floor(x);
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Property of the whole sheet from the two layers, drawn together. */
static int sheet_prior(struct stuff_prior *out, const struct stuff_shelf *shelf, const char *name,
                       const struct stuff_ask *ask, struct error *err) {
    struct stuff_prior be, oe, bs = {0}, os = {0}, share;
    struct stuff_ask e = *ask, s = *ask, o = *ask;
    e.property = STUFF_E;
    if (e.state == STUFF_OVENDRY) e.state = STUFF_DRY;
    s.property = STUFF_SHRINKAGE;
    o.property = STUFF_OUTER_SHARE;
    o.direction = STUFF_THROUGH;
    bool shrinks = ask->property == STUFF_SHRINKAGE;
    bool through = ask->direction == STUFF_THROUGH;
    if (through) e.direction = STUFF_AROUND; /* stiffness plays no part there */
    int rc = layer_prior(&be, shelf, name, "bast", e, err);
    if (!rc) rc = layer_prior(&oe, shelf, name, "outer", e, err);
    if (!rc) rc = layer_prior(&share, shelf, name, "whole", o, err);
    if (!rc && shrinks) rc = layer_prior(&bs, shelf, name, "bast", s, err);
    if (!rc && shrinks) {
        /* Outer bark is tabled to ovendry; to 12 % it has done 0.6 of it in the plane, 0.7 through.
         */
        struct stuff_ask whole = s;
        whole.state = STUFF_OVENDRY;
        rc = layer_prior(&os, shelf, name, "outer", whole, err);
        if (!rc && ask->state == STUFF_DRY) stuff_prior_scale(&os, through ? 0.7 : 0.6);
    }
    if (rc) return rc;
    double v[SHEET_DRAWS], shares[SHARE_STEPS];
    for (size_t i = 0; i < SHARE_STEPS; i++)
        shares[i] = num_dist_quantile(&share.dist, ((double)i + 0.5) / SHARE_STEPS);
    for (size_t k = 0; k < SHEET_DRAWS; k++) {
        double a = num_dist_quantile(&be.dist, even_point(k, 0));
        double b = num_dist_quantile(&oe.dist, even_point(k, 1));
        double w = shares[(size_t)(even_point(k, 2) * SHARE_STEPS)];
        if (!shrinks) {
            v[k] = stuff_bark_stiffness(a, b, w);
            continue;
        }
        double sa = num_dist_quantile(&bs.dist, even_point(k, 3));
        double sb = num_dist_quantile(&os.dist, even_point(k, 4));
        v[k] =
            through ? stuff_bark_shrinkage(1, sa, 1, sb, w) : stuff_bark_shrinkage(a, sa, b, sb, w);
    }
    qsort(v, SHEET_DRAWS, sizeof *v, ascending);
    *out = shrinks ? bs : be;
    out->unit = stuff_property_units[ask->property];
    out->class = STUFF_BARK;
    const struct stuff_prior *parts[] = {&be, &oe, &share, &bs, &os};
    for (size_t i = shrinks && through ? 2 : 0; i < (shrinks ? 5u : 3u); i++)
        if (parts[i]->standing > out->standing) out->standing = parts[i]->standing;
    rc = stuff_prior_points(out, NUM_LOGNORMAL, v[SHEET_DRAWS / 2], v[SHEET_DRAWS / 20],
                            v[SHEET_DRAWS - 1 - SHEET_DRAWS / 20], err);
    snprintf(out->basis, sizeof out->basis,
             "%s: bast and outer bark of %s together, by their shares of the thickness",
             stuff_property_words[ask->property], name);
    return rc;
}

/* Fresh bark keeps its size. */
static void no_change(struct stuff_prior *out) {
    out->standing = STANDING_COMPUTED;
    out->source = "by definition: shrinkage is counted from fresh";
    out->dist = num_dist_fixed(0);
    snprintf(out->basis, sizeof out->basis, "fresh against fresh");
}

static int one_bark(struct stuff_prior *out, const struct stuff_shelf *shelf, const char *name,
                    const struct stuff_ask *ask, struct error *err) {
    long layer = ask->layer == FIELD_UNKNOWN ? STUFF_WHOLE : ask->layer;
    bool of_both = ask->property == STUFF_E || ask->property == STUFF_SHRINKAGE;
    if (layer == STUFF_WHOLE && of_both) return sheet_prior(out, shelf, name, ask, err);
    struct error first = {0};
    int rc = layer_prior(out, shelf, name, stuff_layer_words[layer], *ask, &first);
    if (!rc || layer == STUFF_OUTER_LAYER) {
        if (!rc && layer == STUFF_OUTER_LAYER && ask->property == STUFF_SHRINKAGE &&
            ask->state == STUFF_DRY)
            snprintf(out->basis, sizeof out->basis, "outer bark, air-dry");
        if (rc && layer == STUFF_OUTER_LAYER && ask->property == STUFF_SHRINKAGE) {
            struct stuff_ask whole = *ask;
            whole.state = STUFF_OVENDRY;
            rc = layer_prior(out, shelf, name, "outer", whole, err);
            if (!rc) stuff_prior_scale(out, ask->direction == STUFF_THROUGH ? 0.7 : 0.6);
            return rc;
        }
        if (rc && err) *err = first;
        return rc;
    }
    /* The other layer's row, or one for all barks, with lower standing. */
    static const char *const others[] = {"bast", "whole"};
    for (size_t i = 0; i < 2 && rc; i++)
        rc = layer_prior(out, shelf, name, others[i], *ask, NULL);
    for (size_t i = 0; i < 2 && rc; i++)
        rc = layer_prior(out, shelf, "bark", others[i], *ask, NULL);
    if (rc) {
        if (err) *err = first;
        return rc;
    }
    if (out->standing < STANDING_ANALOGY) out->standing = STANDING_ANALOGY;
    snprintf(out->basis, sizeof out->basis, "the row of another layer stands in for the %s",
             stuff_layer_words[layer]);
    return 0;
}

static int birch_sheet(struct stuff_prior *out, const struct stuff_shelf *shelf,
                       const struct stuff_ask *ask, struct error *err) {
    if (ask->layer == STUFF_BAST_LAYER)
        return fail(err, ERR_MISSING,
                    "Treat the sheet as cork only, or measure the bast left on it.",
                    "The tables have no figures for the inner bark of birch");
    if (ask->property == STUFF_OUTER_SHARE) {
        out->standing = STANDING_COMPUTED;
        out->source = "by definition";
        return stuff_prior_points(out, NUM_FIXED, 1, 1, 1, err);
    }
    struct error first = {0};
    int rc = layer_prior(out, shelf, "birch outer", "sheet", *ask, &first);
    if (rc) rc = layer_prior(out, shelf, "bark", "sheet", *ask, NULL);
    if (rc) rc = layer_prior(out, shelf, "bark", "whole", *ask, NULL);
    if (rc && err) *err = first;
    if (!rc) snprintf(out->basis, sizeof out->basis, "peelable outer sheet of birch");
    return rc;
}

int stuff_bark_prior(struct stuff_prior *out, const struct stuff_shelf *shelf, long class,
                     struct stuff_taxon taxon, const struct stuff_ask *ask, struct error *err) {
    if (ask->property == STUFF_SHRINKAGE && ask->state < STUFF_DRY) {
        no_change(out);
        return 0;
    }
    bool birch = taxon.species && !strcmp(taxon.species->genus, "Betula");
    if (class == STUFF_OUTER_BARK || birch) return birch_sheet(out, shelf, ask, err);
    const char *name = table_name(taxon);
    if (name) {
        int rc = one_bark(out, shelf, name, ask, err);
        if (!rc && !*out->basis)
            snprintf(out->basis, sizeof out->basis, "starting figure for bark of %s", name);
        return rc;
    }
    struct stuff_prior of[4];
    int rc = 0;
    for (size_t i = 0; i < 4 && !rc; i++) {
        of[i] = *out;
        rc = one_bark(&of[i], shelf, known[i], ask, err);
    }
    if (!rc) rc = stuff_prior_pool(out, of, 4, err);
    if (rc) return rc;
    out->standing = STANDING_GUESS;
    snprintf(out->basis, sizeof out->basis,
             "no figures for bark of %s: wide enough for willow, lime, elm and poplar",
             taxon.species ? taxon.species->name : "an unknown tree");
    return 0;
}

/* ---- thickness on the stem ------------------------------------------------------------------ */

/* Interpolates the logarithm of a quantity between the tabled diameters; beyond them the slope of
 * the last stretch goes on. */
static double along_log(const double *x, const double *y, double at) {
    size_t i = at > x[1] ? 1 : 0;
    double t = (log(at) - log(x[i])) / (log(x[i + 1]) - log(x[i]));
    return exp(log(y[i]) + t * (log(y[i + 1]) - log(y[i])));
}

int stuff_bark_thickness(struct stuff_prior *out, const struct stuff_shelf *shelf,
                         const char *material, double diameter, struct error *err) {
    static const char *const rows[] = {"thickness_at_D150", "thickness_at_D300",
                                       "thickness_at_D500"};
    static const double at[] = {150, 300, 500};
    if (!(diameter >= 30 && diameter <= 1500))
        return fail(err, ERR_RANGE, "Give the diameter over bark in mm, 30 to 1500.",
                    "A stem of %g mm", diameter);
    struct stuff_material m = stuff_material_read(shelf, material);
    bool birch = m.class == STUFF_OUTER_BARK;
    const char *name = birch ? "birch outer" : table_name(m.taxon[0]);
    bool known_tree = name != NULL;
    if (!name) name = "willow";
    double median[3], low[3], high[3];
    *out = (struct stuff_prior){.unit = "mm", .class = m.class};
    for (size_t i = 0; i < 3; i++) {
        const struct stuff_fact *f = stuff_default_row(shelf, name, birch ? "sheet" : "whole",
                                                       rows[i], STUFF_THROUGH, STUFF_FRESH);
        if (!f)
            return fail(err, ERR_MISSING, "Measure it on the stem.", "No thickness of %s", name);
        median[i] = f->value;
        low[i] = f->low;
        high[i] = f->high;
        out->standing = f->standing;
        out->source = f->source;
        out->note = f->note;
        out->table = f->table;
        out->line = f->line;
    }
    bool inside = diameter >= 100 && diameter <= 600;
    if (!inside && out->standing < STANDING_ANALOGY) out->standing = STANDING_ANALOGY;
    if (!known_tree) out->standing = STANDING_GUESS;
    snprintf(out->basis, sizeof out->basis, "bark of %s on a stem of %.0f mm over bark%s",
             known_tree ? name : "an unknown tree, taken as willow", diameter,
             inside ? "" : ", beyond the tabled 150 to 500 mm");
    return stuff_prior_points(out, NUM_LOGNORMAL, along_log(at, median, diameter),
                              along_log(at, low, diameter), along_log(at, high, diameter), err);
}
