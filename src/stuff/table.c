#include "stuff/table.h"

#include "base/asset.h"
#include "base/csv.h"
#include "base/mem.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "stuff/shelf.h"

static const char *const tables[] = {"data/wood_shrinkage.csv",
                                     "data/wood_elastic.csv",
                                     "data/emc.csv",
                                     "data/bark.csv",
                                     "data/bark_defaults.csv",
                                     "data/bast.csv",
                                     "data/alteration.csv",
                                     "data/material_defaults.csv",
                                     "data/diffusion.csv",
                                     "data/tree.csv",
                                     "data/joints.csv",
                                     "data/pigment.csv",
                                     "data/hand.csv"};

/* ---- reading -------------------------------------------------------------------------------- */

struct reader {
    const char *name;
    struct csv_table table;
    struct arena *arena;
    struct error *err;
};

static int table_open(struct reader *r, const char *name) {
    size_t size = 0;
    const char *text = asset_find(name, &size);
    r->name = name;
    if (!text)
        return fail(r->err, ERR_DAMAGED, "Build the program again.", "%s is missing in it", name);
    int rc = csv_read(&r->table, text, size, NULL, r->arena, r->err);
    if (rc) {
        error_place(r->err, name, 0, NULL, NULL);
        return rc;
    }
    return 0;
}

/* The cell under a heading; "" when the table has no such heading or the row ends before it. */
static const char *cell(const struct reader *r, size_t row, const char *heading) {
    const struct csv_row *head = &r->table.rows[0], *at = &r->table.rows[row];
    for (size_t i = 0; i < head->n; i++)
        if (!strcmp(head->cells[i], heading)) return i < at->n ? at->cells[i] : "";
    return "";
}

static int number(const struct reader *r, size_t row, const char *heading, double *out) {
    const char *text = cell(r, row, heading);
    *out = NAN;
    if (!*text) return 0;
    char *end;
    *out = strtod(text, &end);
    if (*end) {
        int rc = fail(r->err, ERR_DAMAGED, "Mend the table and build again.", "\"%s\" is no number",
                      text);
        error_place(r->err, r->name, r->table.rows[row].line, heading, NULL);
        return rc;
    }
    return 0;
}

static int standing(const struct reader *r, size_t row, long *out) {
    const char *text = cell(r, row, "standing");
    for (*out = 0; standing_words[*out]; ++*out)
        if (!strcmp(text, standing_words[*out])) return 0;
    int rc = fail(r->err, ERR_DAMAGED, "Use one of the words listed in data/README.md.",
                  "\"%s\" is not a standing", text);
    error_place(r->err, r->name, r->table.rows[row].line, "standing", NULL);
    return rc;
}

static int fact_read(const struct reader *r, size_t row, struct stuff_fact *f) {
    const char *property = cell(r, row, "property");
    int points = *property != 0; /* a table of distributions */
    f->table = r->name;
    f->line = r->table.rows[row].line;
    f->quantity = points ? property : cell(r, row, "quantity");
    f->material = cell(r, row, "material");
    f->layer = cell(r, row, "layer");
    f->direction = cell(r, row, "direction");
    f->state = cell(r, row, "state");
    f->condition = cell(r, row, "condition");
    f->unit = cell(r, row, "unit");
    f->family = cell(r, row, "family");
    f->text = cell(r, row, "text");
    f->source = cell(r, row, "source");
    f->note = cell(r, row, "note");
    int rc = number(r, row, points ? "median" : "value", &f->value);
    if (!rc) rc = number(r, row, points ? "p05" : "low", &f->low);
    if (!rc) rc = number(r, row, points ? "p95" : "high", &f->high);
    if (!rc) rc = standing(r, row, &f->standing);
    if (!rc && !*f->source)
        rc = fail(r->err, ERR_DAMAGED, "Give the row its source.", "%s line %ld has no source",
                  f->table, f->line);
    return rc;
}

static int facts_read(struct stuff_shelf *shelf, struct error *err) {
    struct reader readers[sizeof tables / sizeof tables[0]];
    size_t n = 0;
    for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++) {
        readers[t] = (struct reader){.arena = shelf->arena, .err = err};
        int rc = table_open(&readers[t], tables[t]);
        if (rc) return rc;
        n += readers[t].table.n - 1;
    }
    shelf->facts = ARENA_NEW(shelf->arena, struct stuff_fact, n);
    if (!shelf->facts) return fail_memory(err);
    for (size_t t = 0; t < sizeof tables / sizeof tables[0]; t++)
        for (size_t row = 1; row < readers[t].table.n; row++) {
            int rc = fact_read(&readers[t], row, &shelf->facts[shelf->n_facts++]);
            if (rc) return rc;
        }
    return 0;
}

static int species_read(struct stuff_shelf *shelf, struct error *err) {
    struct reader r = {.arena = shelf->arena, .err = err};
    int rc = table_open(&r, "data/wood_species.csv");
    if (rc) return rc;
    shelf->species = ARENA_NEW(shelf->arena, struct stuff_species, r.table.n);
    if (!shelf->species) return fail_memory(err);
    for (size_t row = 1; row < r.table.n; row++) {
        struct stuff_species *s = &shelf->species[shelf->n_species++];
        s->name = cell(&r, row, "name");
        s->latin = cell(&r, row, "latin");
        s->genus = cell(&r, row, "genus");
        s->also = cell(&r, row, "also");
        s->softwood = !strcmp(cell(&r, row, "kind"), "softwood");
        s->whole_genus = strstr(s->latin, " spp.") != NULL;
    }
    return 0;
}

static int cautions_read(struct stuff_shelf *shelf, struct error *err) {
    struct reader r = {.arena = shelf->arena, .err = err};
    int rc = table_open(&r, "data/cautions.csv");
    if (rc) return rc;
    shelf->cautions = ARENA_NEW(shelf->arena, struct stuff_caution, r.table.n);
    if (!shelf->cautions) return fail_memory(err);
    for (size_t row = 1; !rc && row < r.table.n; row++) {
        struct stuff_caution *c = &shelf->cautions[shelf->n_cautions++];
        c->hazard = cell(&r, row, "hazard");
        c->caution = cell(&r, row, "caution");
        c->more = cell(&r, row, "more");
        c->source = cell(&r, row, "source");
        rc = standing(&r, row, &c->standing);
    }
    return rc;
}

static int seasons_read(struct stuff_shelf *shelf, struct error *err) {
    struct reader r = {.arena = shelf->arena, .err = err};
    int rc = table_open(&r, "data/seasons.csv");
    if (rc) return rc;
    shelf->seasons = ARENA_NEW(shelf->arena, struct stuff_season, r.table.n);
    if (!shelf->seasons) return fail_memory(err);
    for (size_t row = 1; !rc && row < r.table.n; row++) {
        struct stuff_season *s = &shelf->seasons[shelf->n_seasons++];
        s->material = cell(&r, row, "material");
        s->step = cell(&r, row, "step");
        s->begins = cell(&r, row, "begins");
        s->ends = cell(&r, row, "ends");
        s->unit = cell(&r, row, "wait_unit");
        s->source = cell(&r, row, "source");
        s->note = cell(&r, row, "note");
        rc = number(&r, row, "wait_least", &s->wait_least);
        if (!rc) rc = number(&r, row, "wait_most", &s->wait_most);
        if (!rc) rc = standing(&r, row, &s->standing);
    }
    return rc;
}

int stuff_shelf_new(struct stuff_shelf **out, struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    struct stuff_shelf *shelf = arena ? ARENA_NEW(arena, struct stuff_shelf, 1) : NULL;
    if (!shelf) {
        arena_free(arena);
        return fail_memory(err);
    }
    shelf->arena = arena;
    int rc = facts_read(shelf, err);
    if (!rc) rc = species_read(shelf, err);
    if (!rc) rc = cautions_read(shelf, err);
    if (!rc) rc = seasons_read(shelf, err);
    if (rc)
        arena_free(arena);
    else
        *out = shelf;
    return rc;
}

void stuff_shelf_free(struct stuff_shelf *shelf) {
    if (shelf) arena_free(shelf->arena);
}

/* ---- a person's own values ------------------------------------------------------------------ */

#define AT(member) .name = #member, .offset = offsetof(struct stuff_own, member)
static const struct field own_fields[] = {
    {AT(material), .label = "Material", .type = FIELD_TEXT, .required = true,
     .help = "As in the finds list: \"Tilia bark\", \"willow rod\".", .example = "willow bark"},
    {AT(layer), .label = "Layer", .type = FIELD_TEXT,
     .help = "bast, outer, sheet or whole for bark; empty for all.", .example = "bast"},
    {AT(property), .label = "Property", .type = FIELD_TEXT, .required = true,
     .help = "What was measured, as `relict calc material --help` lists them.",
     .example = "shrinkage"},
    {AT(direction), .label = "Direction", .type = FIELD_TEXT,
     .help = "along, around or through; empty for all.", .example = "around"},
    {AT(state), .label = "State", .type = FIELD_TEXT,
     .help = "fresh, soaked, steamed, dry or ovendry; empty for all.", .example = "dry"},
    {AT(median), .label = "Middle value", .type = FIELD_REAL, .required = true,
     .help = "In mm, N, MPa, g, s and fractions.", .example = "0.06"},
    {AT(p05), .label = "5 % point", .type = FIELD_REAL, .required = true,
     .help = "One in twenty lies below.", .example = "0.05"},
    {AT(p95), .label = "95 % point", .type = FIELD_REAL, .required = true,
     .help = "One in twenty lies above.", .example = "0.072"},
    {AT(family), .label = "Family", .type = FIELD_TEXT,
     .help = "Of the distribution; by itself lognormal for positive values, else normal.",
     .example = "lognormal"},
    {AT(source), .label = "Source", .type = FIELD_TEXT, .required = true,
     .help = "Who measured it, when and how.", .example = "our strips 1 to 6, May, calliper"},
};
#undef AT
const struct kind stuff_own_kind = {
    "own_value", "A value of your own", sizeof(struct stuff_own), FIELDS(own_fields),
    "Stands before the tables wherever material, layer, property, direction and state agree."};

int stuff_shelf_own(struct stuff_shelf *shelf, const struct stuff_own *own, struct error *err) {
    if (!own->source || !*own->source)
        return fail(err, ERR_MISSING, "Say who measured it, when and how.",
                    "An own value of %s has no source", own->property ? own->property : "?");
    if (!own->property || !own->material)
        return fail(err, ERR_MISSING, "Name the material and the property.",
                    "An own value from \"%s\" does not say what it is of", own->source);
    if (!(own->p05 <= own->median && own->median <= own->p95) || !isfinite(own->p05) ||
        !isfinite(own->p95))
        return fail(err, ERR_RANGE, "Give the 5 % point, the middle and the 95 % point in order.",
                    "Own %s of %s: 5 %% point %g, middle %g, 95 %% point %g", own->property,
                    own->material, own->p05, own->median, own->p95);
    if (shelf->n_own == STUFF_OWN_MOST)
        return fail(err, ERR_RANGE, "Combine readings of one property into one value.",
                    "More than %d own values", STUFF_OWN_MOST);
    struct stuff_fact *f = &shelf->own[shelf->n_own];
    const char *family = own->family && *own->family ? own->family
                         : own->p05 > 0              ? "lognormal"
                                                     : "normal";
    *f = (struct stuff_fact){.table = "own",
                             .line = (long)shelf->n_own + 1,
                             .quantity = arena_strdup(shelf->arena, own->property),
                             .material = arena_strdup(shelf->arena, own->material),
                             .layer = arena_strdup(shelf->arena, own->layer ? own->layer : ""),
                             .direction =
                                 arena_strdup(shelf->arena, own->direction ? own->direction : ""),
                             .state = arena_strdup(shelf->arena, own->state ? own->state : ""),
                             .family = arena_strdup(shelf->arena, family),
                             .source = arena_strdup(shelf->arena, own->source),
                             .condition = "",
                             .unit = "",
                             .text = "",
                             .note = "measured by the person's own team",
                             .value = own->median,
                             .low = own->p05,
                             .high = own->p95,
                             .standing = STANDING_MEASURED};
    if (!f->quantity || !f->material || !f->layer || !f->direction || !f->state || !f->family ||
        !f->source)
        return fail_memory(err);
    shelf->n_own++;
    return 0;
}

int stuff_shelf_with(struct stuff_shelf **out, const struct records *own, struct error *err) {
    int rc = stuff_shelf_new(out, err);
    const struct stuff_own *v = own->v;
    for (size_t i = 0; i < own->n && !rc; i++)
        rc = stuff_shelf_own(*out, &v[i], err);
    if (rc) {
        stuff_shelf_free(*out);
        *out = NULL;
    }
    return rc;
}

/* ---- looking up ----------------------------------------------------------------------------- */

static int same(const char *wanted, const char *has) {
    return !wanted || !strcmp(wanted, has);
}

const struct stuff_fact *stuff_fact_next(const struct stuff_shelf *shelf,
                                         const struct stuff_query *q,
                                         const struct stuff_fact *after) {
    size_t i = after ? (size_t)(after - shelf->facts) + 1 : 0;
    for (; i < shelf->n_facts; i++) {
        const struct stuff_fact *f = &shelf->facts[i];
        if (same(q->quantity, f->quantity) && same(q->material, f->material) &&
            same(q->direction, f->direction) && same(q->layer, f->layer) &&
            same(q->state, f->state) && same(q->table, f->table) &&
            (!q->condition || !strncmp(f->condition, q->condition, strlen(q->condition))))
            return f;
    }
    return NULL;
}

const struct stuff_fact *stuff_own_at(const struct stuff_shelf *shelf, size_t i) {
    return i < shelf->n_own ? &shelf->own[i] : NULL;
}

const struct stuff_caution *stuff_caution_at(const struct stuff_shelf *shelf, size_t i) {
    return i < shelf->n_cautions ? &shelf->cautions[i] : NULL;
}

const struct stuff_season *stuff_season_at(const struct stuff_shelf *shelf, size_t i) {
    return i < shelf->n_seasons ? &shelf->seasons[i] : NULL;
}

const struct stuff_caution *stuff_caution_find(const struct stuff_shelf *shelf, const char *word) {
    for (size_t i = 0; i < shelf->n_cautions; i++)
        if (strcasestr(shelf->cautions[i].hazard, word)) return &shelf->cautions[i];
    return NULL;
}

double stuff_unit_factor(const char *unit) {
    static const struct {
        const char *unit;
        double factor;
    } units[] = {
        {"", 1},
        {"fraction", 1},
        {"strain", 1},
        {"ratio", 1},
        {"mm", 1},
        {"MPa", 1},
        {"N/mm2", 1},
        {"N", 1},
        {"%", 0.01},
        {"% MC", 0.01},
        {"% of ovendry mass", 0.01},
        {"GPa", 1e3},
        {"kPa", 1e-3},
        {"kg/m3", 1e-6},
        {"g/cm3", 1e-3},
        {"m2/s", 1e6},
        {"m/s", 1e3},
        {"h", 3600},
        {"s", 1},
        {"lbf/in2", 0.00689475729}, /* 4.4482216152605 N over (25.4 mm)^2, exact by definition */
    };
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (!strcmp(unit, units[i].unit)) return units[i].factor;
    return NAN;
}
