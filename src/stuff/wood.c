#include "stuff/wood.h"

#include "stuff/shelf.h"

#include <ctype.h>
#include <math.h>
#include <string.h>
#include <strings.h>

/* ---- names ---------------------------------------------------------------------------------- */

/* Does `text` hold `word` as whole words, whatever the case? */
static bool holds(const char *text, const char *word, size_t n) {
    if (!n) return false;
    for (const char *at = text; *at; at++) {
        if (strncasecmp(at, word, n)) continue;
        bool begins = at == text || !isalpha((unsigned char)at[-1]);
        bool ends = !isalpha((unsigned char)at[n]);
        if (begins && ends) return true;
    }
    return false;
}

/* Length of the longest of the names in a "; " list that text holds; 0 when none. */
static size_t longest_held(const char *text, const char *list) {
    size_t best = 0;
    while (*list) {
        size_t n = strcspn(list, ";");
        if (n > best && holds(text, list, n)) best = n;
        list += n;
        while (*list == ';' || *list == ' ')
            list++;
    }
    return best;
}

/* How well a species fits a text: longer names win, Latin before English before the bare genus. */
static size_t fit(const char *text, const struct stuff_species *s) {
    size_t latin = s->whole_genus ? 0 : strlen(s->latin), name = strlen(s->name);
    if (latin && holds(text, s->latin, latin)) return 1000 + latin;
    size_t also = longest_held(text, s->also);
    if (holds(text, s->name, name) && name >= also) return 500 + name;
    if (also) return 500 + also;
    if (holds(text, s->genus, strlen(s->genus))) return s->whole_genus ? 20 : 10;
    return 0;
}

/* A Latin epithet follows the genus name ("Salix alba", not "Salix sp." or "Salix (split)"). */
static bool names_epithet(const char *text, const char *genus) {
    const char *at = strcasestr(text, genus);
    if (!at) return false;
    at += strlen(genus);
    if (*at != ' ' || !islower((unsigned char)at[1])) return false;
    static const char *const plain[] = {"sp",   "spp",  "species",    "bark", "wood", "rod",
                                        "lath", "bast", "foundation", "or",   "stem", "split"};
    size_t n = strspn(at + 1, "abcdefghijklmnopqrstuvwxyz-");
    for (size_t i = 0; i < sizeof plain / sizeof plain[0]; i++)
        if (n == strlen(plain[i]) && !strncmp(at + 1, plain[i], n)) return false;
    return n > 2;
}

struct stuff_taxon stuff_taxon_find(const struct stuff_shelf *shelf, const char *text) {
    struct stuff_taxon best = {NULL, false};
    size_t score = 0;
    for (size_t i = 0; text && i < shelf->n_species; i++) {
        const struct stuff_species *s = &shelf->species[i];
        size_t f = fit(text, s);
        if (f <= score) continue;
        score = f;
        best.species = s;
        best.exact = f >= 500 || (s->whole_genus && !names_epithet(text, s->genus));
    }
    return best;
}

const struct stuff_species *stuff_species_at(const struct stuff_shelf *shelf, size_t i) {
    return i < shelf->n_species ? &shelf->species[i] : NULL;
}

/* ---- figures -------------------------------------------------------------------------------- */

static bool listed(const char *name, const char *list) {
    size_t want = strlen(name);
    while (*list) {
        size_t n = strcspn(list, ";");
        if (n == want && !strncmp(list, name, n)) return true;
        list += n;
        while (*list == ';' || *list == ' ')
            list++;
    }
    return false;
}

static bool is_of(const struct stuff_fact *f, const struct stuff_species *s) {
    return !strcmp(f->material, s->name) || listed(f->material, s->also);
}

static bool has_value(const struct stuff_fact *f) {
    return isfinite(f->value) && f->value > 0 && isfinite(stuff_unit_factor(f->unit));
}

/* The best-known row of one species; NULL when it has none. */
static const struct stuff_fact *best_row(const struct stuff_shelf *shelf,
                                         const struct stuff_species *s,
                                         const struct stuff_query *q) {
    const struct stuff_fact *best = NULL;
    for (const struct stuff_fact *f = stuff_fact_next(shelf, q, NULL); f;
         f = stuff_fact_next(shelf, q, f))
        if (is_of(f, s) && has_value(f) && (!best || f->standing < best->standing)) best = f;
    return best;
}

struct pool {
    size_t n;
    double sum, sum2;
    long standing;
    const struct stuff_fact *first;
};

/* Gathers the logarithms of one figure over species: of a genus, or of all hard- or softwoods. */
static struct pool gather(const struct stuff_shelf *shelf, const struct stuff_species *like,
                          bool same_genus, const struct stuff_query *q) {
    struct pool p = {0};
    for (size_t i = 0; i < shelf->n_species; i++) {
        const struct stuff_species *s = &shelf->species[i];
        if (same_genus && strcmp(s->genus, like->genus)) continue;
        if (like && s->softwood != like->softwood) continue;
        const struct stuff_fact *f = best_row(shelf, s, q);
        if (!f) continue;
        double x = log(f->value * stuff_unit_factor(f->unit));
        p.n++;
        p.sum += x;
        p.sum2 += x * x;
        if (!p.first) p.first = f;
        if (f->standing > p.standing) p.standing = f->standing;
    }
    return p;
}

static double pool_sd(const struct pool *p) {
    if (p->n < 2) return 0;
    double mean = p->sum / (double)p->n;
    return sqrt(fmax(0, (p->sum2 - (double)p->n * mean * mean) / (double)(p->n - 1)));
}

/* Spread of single pieces about the mean of their species: Wood Handbook ch. 4 (shrinkage 15 %)
 * and Table 5-6 (the others), rows of the tables. Ratios: 20 %, a guess. */
static double within_species(const struct stuff_shelf *shelf, const char *quantity) {
    struct stuff_query q = {.quantity = "coefficient_of_variation", .condition = quantity};
    const struct stuff_fact *f = stuff_fact_next(shelf, &q, NULL);
    return f ? f->value / 100 : 0.20;
}

/* Two or three species say little about the spread of a genus; below this it is not believed. */
#define LEAST_BETWEEN_SPECIES 0.12
#define LEAST_BETWEEN_GENERA 0.25

int stuff_wood_figure(struct stuff_wood_figure *out, const struct stuff_shelf *shelf,
                      struct stuff_taxon taxon, const char *quantity, const char *direction,
                      const char *condition, struct error *err) {
    struct stuff_query q = {.quantity = quantity, .direction = direction, .condition = condition};
    const struct stuff_species *s = taxon.species;
    double within = within_species(shelf, quantity);
    *out = (struct stuff_wood_figure){.species = 1, .reach = STUFF_OF_SPECIES};
    struct pool genus = {0};
    if (s) genus = gather(shelf, s, true, &q);
    double between = fmax(pool_sd(&genus), LEAST_BETWEEN_SPECIES);
    const struct stuff_fact *row = s ? best_row(shelf, s, &q) : NULL;
    if (row) {
        out->fact = row;
        out->median = row->value * stuff_unit_factor(row->unit);
        out->standing = row->standing;
        bool afar = !taxon.exact;
        if (afar) out->reach = STUFF_OF_GENUS;
        if (afar && out->standing < STANDING_ANALOGY) out->standing = STANDING_ANALOGY;
        out->log_sd = afar || s->whole_genus ? hypot(within, between) : within;
        return 0;
    }
    if (genus.n) {
        out->fact = genus.first;
        out->median = exp(genus.sum / (double)genus.n);
        out->reach = STUFF_OF_RELATIVES;
        out->species = genus.n;
        out->standing = genus.standing > STANDING_ANALOGY ? genus.standing : STANDING_ANALOGY;
        out->log_sd = hypot(within, between);
        return 0;
    }
    struct pool kind = gather(shelf, s, false, &q);
    if (!kind.n) kind = gather(shelf, NULL, false, &q);
    if (!kind.n)
        return fail(err, ERR_MISSING, "Measure it, and enter it as a value of your own.",
                    "No wood in the tables has %s%s%s%s%s", quantity, direction ? " " : "",
                    direction ? direction : "", condition ? ", " : "", condition ? condition : "");
    out->fact = kind.first;
    out->median = exp(kind.sum / (double)kind.n);
    out->reach = STUFF_OF_KIND;
    out->species = kind.n;
    out->standing = STANDING_GUESS;
    out->log_sd = hypot(within, fmax(pool_sd(&kind), LEAST_BETWEEN_GENERA));
    return 0;
}

double stuff_wood_intersection(const struct stuff_shelf *shelf, struct stuff_taxon taxon) {
    struct stuff_query q = {.quantity = "intersection_moisture_content_Mp"};
    const struct stuff_fact *f =
        taxon.species && taxon.exact ? best_row(shelf, taxon.species, &q) : NULL;
    if (f) return f->value / 100;
    q.quantity = "default_Mp";
    f = stuff_fact_next(shelf, &q, NULL);
    return f ? f->value / 100 : 0.25;
}
