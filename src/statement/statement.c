#include "statement/statement.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const footing_words[] = {"seen",    "worked out",  "from a parallel",
                                     "guessed", "modern need", NULL};
const char *const standing_words[] = {"measured", "standard",        "second-hand",
                                      "computed", "common practice", "analogy",
                                      "memory",   "guess",           NULL};
const char *const confidence_words[] = {"firm", "likely", "doubtful", NULL};

#define OF(type, member) .offset = offsetof(struct type, member)

static const struct field spread_fields[] = {
    {.name = "p005", .label = "0.5 %", .type = FIELD_REAL, OF(spread, p005)},
    {.name = "p05", .label = "5 %", .type = FIELD_REAL, OF(spread, p05)},
    {.name = "p25", .label = "25 %", .type = FIELD_REAL, OF(spread, p25)},
    {.name = "p50", .label = "Median", .type = FIELD_REAL, OF(spread, p50)},
    {.name = "p75", .label = "75 %", .type = FIELD_REAL, OF(spread, p75)},
    {.name = "p95", .label = "95 %", .type = FIELD_REAL, OF(spread, p95)},
    {.name = "p995", .label = "99.5 %", .type = FIELD_REAL, OF(spread, p995)},
    {.name = "mean", .label = "Mean", .type = FIELD_REAL, OF(spread, mean)},
    {.name = "sd", .label = "Standard deviation", .type = FIELD_REAL, OF(spread, sd)},
};
const struct kind spread_kind = {"spread", "A range", sizeof(struct spread), FIELDS(spread_fields),
                                 "Quantiles over the possible originals."};

static const struct field link_fields[] = {
    {.name = "kind",
     .label = "Kind",
     .type = FIELD_TEXT,
     .required = true,
     OF(statement_link, kind),
     .help = "What it rests on: measure, piece, source, statement ..."},
    {.name = "id",
     .label = "Id",
     .type = FIELD_TEXT,
     .required = true,
     OF(statement_link, id),
     .help = "The id of that entry."},
    {.name = "role", .label = "Role", .type = FIELD_TEXT, OF(statement_link, role)},
};
const struct kind statement_link_kind = {"rests_on", "One thing a statement rests on",
                                         sizeof(struct statement_link), FIELDS(link_fields), ""};

static const struct field statement_fields[] = {
    {.name = "id",
     .label = "Id",
     .type = FIELD_TEXT,
     .required = true,
     OF(statement, id),
     .help = "Stable over runs.",
     .example = "lath.thickness.fresh"},
    {.name = "step", .label = "Step", .type = FIELD_TEXT, OF(statement, step)},
    {.name = "about", .label = "About", .type = FIELD_TEXT, OF(statement, about)},
    {.name = "quantity", .label = "Quantity", .type = FIELD_TEXT, OF(statement, quantity)},
    {.name = "sentence", .label = "Sentence", .type = FIELD_TEXT, OF(statement, sentence)},
    {.name = "unit", .label = "Unit", .type = FIELD_TEXT, OF(statement, unit)},
    {.name = "state", .label = "State", .type = FIELD_TEXT, OF(statement, state)},
    {.name = "footing",
     .label = "Footing",
     .type = FIELD_CHOICE,
     .choices = footing_words,
     OF(statement, footing),
     .help = "Why it is said."},
    {.name = "standing",
     .label = "Standing",
     .type = FIELD_CHOICE,
     .choices = standing_words,
     OF(statement, standing),
     .help = "Of the weakest datum in the tables that it rests on."},
    {.name = "value",
     .label = "Range",
     .type = FIELD_RECORD,
     .sub = &spread_kind,
     OF(statement, value)},
    {.name = "probability",
     .label = "Probability",
     .type = FIELD_REAL,
     .min = 0,
     .max = 1,
     OF(statement, probability)},
    {.name = "raw", .label = "Raw reading", .type = FIELD_REAL, OF(statement, raw)},
    {.name = "raw_state",
     .label = "State of the raw reading",
     .type = FIELD_TEXT,
     OF(statement, raw_state)},
    {.name = "rule", .label = "Rule", .type = FIELD_TEXT, OF(statement, rule)},
    {.name = "source", .label = "Source", .type = FIELD_TEXT, OF(statement, source)},
    {.name = "rival", .label = "Rival", .type = FIELD_TEXT, OF(statement, rival)},
    {.name = "doubt", .label = "In doubt", .type = FIELD_TEXT, OF(statement, doubt)},
    {.name = "caution", .label = "Caution", .type = FIELD_TEXT, OF(statement, caution)},
    {.name = "column", .label = "Column", .type = FIELD_TEXT, OF(statement, column)},
    {.name = "rests_on",
     .label = "Rests on",
     .type = FIELD_RECORDS,
     .sub = &statement_link_kind,
     OF(statement, rests_on)},
};
const struct kind statement_kind = {"statement", "Something said about the object",
                                    sizeof(struct statement), FIELDS(statement_fields), ""};

struct statement statement_blank(void) {
    struct statement s;
    field_unknown(&statement_kind, &s);
    return s;
}

struct spread spread_unknown(void) {
    struct spread s;
    field_unknown(&spread_kind, &s);
    return s;
}

struct spread spread_exact(double v) {
    return (struct spread){v, v, v, v, v, v, v, v, 0};
}

struct spread spread_normal(double mean, double sd) {
    const double z995 = 2.5758293035489004, z95 = 1.6448536269514722, z75 = 0.6744897501960817;
    return (struct spread){mean - z995 * sd,
                           mean - z95 * sd,
                           mean - z75 * sd,
                           mean,
                           mean + z75 * sd,
                           mean + z95 * sd,
                           mean + z995 * sd,
                           mean,
                           sd};
}

struct spread spread_sides(double p05, double p50, double p95) {
    const struct spread low = spread_normal(p50, (p50 - p05) / 1.6448536269514722),
                        high = spread_normal(p50, (p95 - p50) / 1.6448536269514722);
    return (struct spread){low.p005,
                           p05,
                           low.p25,
                           p50,
                           high.p75,
                           p95,
                           high.p995,
                           p50 + (high.sd - low.sd) / sqrt(2 * M_PI),
                           (low.sd + high.sd) / 2};
}

int statement_link_add(struct statement *s, const char *kind, const char *id, const char *role,
                       struct arena *arena, struct error *err) {
    size_t n = s->rests_on.n;
    struct statement_link *old = s->rests_on.v, *more = old;
    if ((n & (n - 1)) == 0) { /* room doubles at 0, 1, 2, 4 ... */
        more = ARENA_NEW(arena, struct statement_link, n ? 2 * n : 1);
        if (!more) return fail_memory(err);
        if (n) memcpy(more, old, n * sizeof *more);
    }
    struct statement_link link = {arena_strdup(arena, kind), arena_strdup(arena, id),
                                  arena_strdup(arena, role)};
    if (!link.kind || !link.id || (role && !link.role)) return fail_memory(err);
    more[n] = link;
    s->rests_on = (struct records){n + 1, more};
    return 0;
}

/* ---- the set -------------------------------------------------------------------------------- */

struct statement_set {
    struct arena *arena;
    struct statement *v;
    size_t n, room;
    size_t *slots; /* open addressing: index + 1, 0 empty */
    size_t slot_count;
};

struct statement_set *statement_set_new(struct arena *arena) {
    struct statement_set *set = ARENA_NEW(arena, struct statement_set, 1);
    if (set) set->arena = arena;
    return set;
}

static size_t hash(const char *text) { /* FNV-1a, 64 bits: RFC draft eastlake-fnv */
    size_t h = 14695981039346656037u;
    for (; *text; text++)
        h = (h ^ (unsigned char)*text) * 1099511628211u;
    return h;
}

static size_t slot_of(const struct statement_set *set, const char *id) {
    size_t at = hash(id) & (set->slot_count - 1);
    while (set->slots[at] && strcmp(set->v[set->slots[at] - 1].id, id) != 0)
        at = (at + 1) & (set->slot_count - 1);
    return at;
}

static int grow(struct statement_set *set, struct error *err) {
    size_t room = set->room ? 2 * set->room : 32;
    struct statement *v = ARENA_NEW(set->arena, struct statement, room);
    size_t *slots = ARENA_NEW(set->arena, size_t, 2 * room);
    if (!v || !slots) return fail_memory(err);
    if (set->n) memcpy(v, set->v, set->n * sizeof *v);
    set->v = v;
    set->room = room;
    set->slots = slots;
    set->slot_count = 2 * room;
    for (size_t i = 0; i < set->n; i++)
        set->slots[slot_of(set, set->v[i].id)] = i + 1;
    return 0;
}

static int copy_texts(struct statement *s, struct arena *arena, struct error *err) {
    for (size_t i = 0; i < statement_kind.n; i++) {
        const struct field *f = &statement_kind.fields[i];
        if (f->type != FIELD_TEXT) continue;
        const char **p = (const char **)(void *)((char *)s + f->offset);
        if (*p && !(*p = arena_strdup(arena, *p))) return fail_memory(err);
    }
    struct records links = s->rests_on;
    s->rests_on = (struct records){0};
    for (size_t i = 0; i < links.n; i++) {
        const struct statement_link *l = (const struct statement_link *)links.v + i;
        int rc = statement_link_add(s, l->kind, l->id, l->role, arena, err);
        if (rc) return rc;
    }
    return 0;
}

int statement_add(struct statement_set *set, const struct statement *s, struct error *err) {
    if (set->n == set->room) {
        int rc = grow(set, err);
        if (rc) return rc;
    }
    struct statement copy = *s;
    int rc = copy_texts(&copy, set->arena, err);
    if (rc) return rc;
    size_t at = slot_of(set, copy.id);
    if (set->slots[at]) {
        set->v[set->slots[at] - 1] = copy;
        return 0;
    }
    set->v[set->n++] = copy;
    set->slots[at] = set->n;
    return 0;
}

size_t statement_count(const struct statement_set *set) {
    return set->n;
}
const struct statement *statement_at(const struct statement_set *set, size_t i) {
    return i < set->n ? &set->v[i] : NULL;
}
const struct statement *statement_find(const struct statement_set *set, const char *id) {
    if (set->n == 0) return NULL;
    size_t i = set->slots[slot_of(set, id)];
    return i ? &set->v[i - 1] : NULL;
}

/* ---- honesty -------------------------------------------------------------------------------- */

size_t statement_doubt(struct statement_set *set, const char *kind, const char *id,
                       const char *reason) {
    size_t marked = 0;
    for (size_t i = 0; i < set->n; i++) {
        struct statement *s = &set->v[i];
        if (s->doubt) continue;
        const struct statement_link *links = s->rests_on.v;
        for (size_t k = 0; k < s->rests_on.n; k++)
            if (strcmp(links[k].kind, kind) == 0 && strcmp(links[k].id, id) == 0) {
                s->doubt = arena_strdup(set->arena, reason);
                marked += 1 + statement_doubt(set, "statement", s->id, reason);
                break;
            }
    }
    return marked;
}

void statement_hold(struct statement_set *set, const char *step) {
    for (size_t i = 0; i < set->n; i++)
        if (set->v[i].step && strcmp(set->v[i].step, step) == 0) set->v[i].doubt = NULL;
}

static const char *fault_of(const struct statement *s) {
    if (s->footing < 0 || s->footing >= FOOTING_COUNT) return "no footing";
    if (!s->sentence) return "no sentence";
    if (s->footing == FOOTING_GUESSED && !s->rival) return "a guess without a rival";
    if (s->footing == FOOTING_PARALLEL && !s->source) return "a parallel without a source";
    if (s->footing == FOOTING_WORKED_OUT && !s->rule) return "worked out, but no rule named";
    if (s->footing == FOOTING_WORKED_OUT && s->rests_on.n == 0)
        return "worked out, but from nothing named";
    if (s->footing == FOOTING_SEEN && s->rests_on.n == 0) return "seen, but on no piece named";
    return NULL;
}

int statement_faults(struct texts *out, const struct statement_set *set, struct arena *arena,
                     struct error *err) {
    *out = (struct texts){0, ARENA_NEW(arena, const char *, set->n)};
    if (!out->v) return fail_memory(err);
    for (size_t i = 0; i < set->n; i++) {
        const char *fault = fault_of(&set->v[i]);
        if (!fault) continue;
        if (!(out->v[out->n] = arena_printf(arena, "%s: %s", set->v[i].id, fault)))
            return fail_memory(err);
        out->n++;
    }
    return 0;
}

const char *statement_likelihood_word(double p) {
    if (isnan(p)) return "";
    return p < 0.05   ? "almost no chance"
           : p < 0.20 ? "very unlikely"
           : p < 0.45 ? "unlikely"
           : p < 0.55 ? "roughly even"
           : p < 0.80 ? "likely"
           : p < 0.95 ? "very likely"
                      : "almost certain";
}

static bool whole(double v) {
    return v == floor(v) && fabs(v) < 1e9;
}

/* What rounds to nothing has no sign. */
static double unsigned_zero(double v, int digits) {
    return fabs(v) < 0.5 * pow(10, -digits) ? 0 : v;
}

/* A number without a range claims three figures, and no fewer than its whole ones; a count keeps
 * all of its own. */
static char *single_number(double v, const char *gap, const char *unit, struct arena *arena) {
    if (whole(v) && fabs(v) < 1e5) return arena_printf(arena, "%.0f%s%s", v, gap, unit);
    if (fabs(v) >= 1e5 && fabs(v) < 1e12) {
        double step = pow(10, floor(log10(fabs(v))) - 2);
        return arena_printf(arena, "%.0f%s%s", round(v / step) * step, gap, unit);
    }
    return arena_printf(arena, fabs(v) >= 1000 ? "%.0f%s%s" : "%.3g%s%s", v, gap, unit);
}

/* Median and range with two figures of the half-width, which are all it can bear; of lengths never
 * more than hundredths of a millimetre. */
static char *ranged_number(const struct spread *v, const char *gap, const char *unit,
                           struct arena *arena) {
    int digits = (int)ceil(1 - log10((v->p95 - v->p05) / 2)), most = strcmp(unit, "mm") ? 6 : 2;
    double step = digits < 0 ? pow(10, -digits) : 1;
    digits = digits < 0 ? 0 : digits > most ? most : digits;
    /* A count has no parts. */
    if (!*unit && whole(v->p05) && whole(v->p50) && whole(v->p95)) digits = 0, step = 1;
    double middle = round(v->p50 / step) * step, low = round(v->p05 / step) * step,
           high = round(v->p95 / step) * step;
    if (digits) middle = v->p50, low = v->p05, high = v->p95;
    return arena_printf(arena, "%.*f%s%s (%.*f to %.*f)", digits, unsigned_zero(middle, digits),
                        gap, unit, digits, unsigned_zero(low, digits), digits,
                        unsigned_zero(high, digits));
}

char *statement_number(const struct statement *s, struct arena *arena) {
    const char *unit = s->unit ? s->unit : "", *gap = *unit ? " " : "";
    if (!isnan(s->value.p50)) {
        double width = s->value.p95 - s->value.p05;
        return isnan(width) || width == 0 ? single_number(s->value.p50, gap, unit, arena)
                                          : ranged_number(&s->value, gap, unit, arena);
    }
    if (!isnan(s->probability)) {
        double p = fmin(fmax(s->probability, 0.01), 0.99);
        const char *side = s->probability < 0.01 ? "under " : s->probability > 0.99 ? "over " : "";
        return arena_printf(arena, "%s (%s%.0f %%)", statement_likelihood_word(s->probability),
                            side, 100 * p);
    }
    return arena_strdup(arena, "");
}

/* ---- stored form ---------------------------------------------------------------------------- */

json_t *statement_set_encode(const struct statement_set *set) {
    json_t *list = json_array();
    for (size_t i = 0; list && i < set->n; i++) {
        json_t *o = field_encode(&statement_kind, &set->v[i]);
        if (!o || json_array_append_new(list, o)) {
            json_decref(list);
            return NULL;
        }
    }
    return list;
}

int statement_set_decode(struct statement_set *set, const json_t *list, struct error *err) {
    size_t i;
    json_t *o;
    json_array_foreach((json_t *)list, i, o) {
        struct statement s;
        int rc = field_decode(&statement_kind, o, &s, set->arena, err);
        if (!rc) rc = statement_add(set, &s, err);
        if (rc) return rc;
    }
    return 0;
}
