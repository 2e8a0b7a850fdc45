#include "remains/classify.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const axis_words[] = {"along", "around", "through", "across", "plane", NULL};

static bool has(const char *text, const char *word) {
    return text && strcasestr(text, word) != NULL;
}

/* ---- state and ends ------------------------------------------------------------------------- */

long remains_state_of(const char *words, const char **treatment, long *day) {
    if (treatment) *treatment = NULL;
    if (!words || !*words) return FIELD_UNKNOWN;
    for (long s = 0; state_words[s]; s++)
        if (strcasecmp(words, state_words[s]) == 0 && s != STATE_TRIAL_DAY) return s;
    long n;
    if (sscanf(words, "trial day %ld", &n) == 1 || sscanf(words, "day %ld", &n) == 1) {
        if (day) *day = n;
        return STATE_TRIAL_DAY;
    }
    if (strncasecmp(words, "after ", 6) == 0) {
        if (treatment && strcasecmp(words + 6, "treatment") != 0) *treatment = words + 6;
        return STATE_TREATED;
    }
    if (has(words, "part-dried") || has(words, "part dried")) return STATE_PART_DRIED;
    if (has(words, "dried")) return STATE_DRIED;
    if (has(words, "ground") || has(words, "in situ")) return STATE_IN_GROUND;
    if (has(words, "wet") || has(words, "waterlogged")) return STATE_WET;
    if (has(words, "fresh") || has(words, "green")) return STATE_FRESH;
    return FIELD_UNKNOWN;
}

long remains_end_of(const char *words) {
    static const char *const whole[] = {"cut",    "rounded", "chamfer",  "scarf", "finished",
                                        "tongue", "whole",   "worked",   "sawn",  "pointed",
                                        "domed",  "intact",  "complete", "hem",   "folded"};
    if (!words || !*words) return FIELD_UNKNOWN;
    if (has(words, "broken")) return END_BROKEN;
    if (has(words, "torn")) return END_TORN;
    if (has(words, "worn") || has(words, "eroded")) return END_WORN;
    for (size_t i = 0; i < sizeof whole / sizeof *whole; i++)
        if (has(words, whole[i])) return END_WHOLE;
    return FIELD_UNKNOWN;
}

/* ---- material ------------------------------------------------------------------------------- */

/* Names of genera with the common names a list may use instead. */
static const struct {
    const char *genus, *also;
} genera[] = {{"Corylus", "hazel"},     {"Salix", "willow"},     {"Tilia", "lime"},
              {"Ulmus", "elm"},         {"Betula", "birch"},     {"Fraxinus", "ash "},
              {"Populus", "poplar"},    {"Quercus", "oak"},      {"Alnus", "alder"},
              {"Acer", "maple"},        {"Pinus", "pine"},       {"Picea", "spruce"},
              {"Cornus", "dogwood"},    {"Euonymus", "spindle"}, {"Viburnum", "wayfaring"},
              {"Taxus", "yew"},         {"Fagus", "beech"},      {"Juniperus", "juniper"},
              {"Clematis", "clematis"}, {"Prunus", "cherry"}};

/* The genera named, in the order of the text; returns how many (at most n). */
static size_t genera_in(const char *text, const char *found[], size_t n) {
    size_t k = 0;
    for (const char *p = text; p && *p && k < n; p++) {
        if (p != text && isalpha((unsigned char)p[-1])) continue;
        for (size_t i = 0; i < sizeof genera / sizeof *genera; i++)
            if (strncasecmp(p, genera[i].genus, strlen(genera[i].genus)) == 0 ||
                strncasecmp(p, genera[i].also, strlen(genera[i].also)) == 0) {
                found[k++] = p;
                break;
            }
    }
    return k;
}

/* Genus, and the species word after it unless that is "sp.", copied out. */
static char *taxon_at(const char *p, struct arena *arena) {
    const char *genus = NULL;
    for (size_t i = 0; i < sizeof genera / sizeof *genera && !genus; i++) {
        size_t n = strlen(genera[i].genus);
        if (strncasecmp(p, genera[i].genus, n) == 0) {
            const char *s = p + n;
            if (*s == ' ' && islower((unsigned char)s[1]) && strncmp(s + 1, "sp", 2) != 0) {
                size_t k = 1;
                while (islower((unsigned char)s[k]))
                    k++;
                static const char *const not_species[] = {"foundation", "rod", "bark", "bast"};
                bool species = k > 4;
                for (size_t j = 0; j < 4; j++)
                    if (strncmp(s + 1, not_species[j], k - 1) == 0) species = false;
                if (species) return arena_printf(arena, "%s%.*s", genera[i].genus, (int)k, s);
            }
            genus = genera[i].genus;
        } else if (strncasecmp(p, genera[i].also, strlen(genera[i].also)) == 0) {
            genus = genera[i].genus;
        }
    }
    return arena_strdup(arena, genus);
}

static long substance_of(const struct piece *p) {
    const char *m = p->material, *part = p->part;
    if (has(m, "trace")) return SUBSTANCE_TRACE;
    if (has(m, "mixed") || has(part, "whole object")) return SUBSTANCE_MIXED;
    if (has(part, "pigment") || has(part, "paint")) return SUBSTANCE_COLOUR;
    if (has(part, "coil") || has(m, "foundation")) return SUBSTANCE_COIL;
    if (has(m, "skin") || has(m, "hide") || has(m, "leather")) return SUBSTANCE_HIDE;
    if (has(m, "bast") || has(m, "fibre")) return SUBSTANCE_BAST;
    if (has(m, "bark")) return SUBSTANCE_BARK;
    if (has(m, "split") || has(part, "lath") || has(part, "grip") || has(part, "board"))
        return SUBSTANCE_SPLIT_WOOD;
    if (has(m, "rod") || has(part, "rod") || has(part, "hoop") || has(part, "withy"))
        return SUBSTANCE_ROUND_WOOD;
    const char *found[1];
    if (has(m, "wood") || genera_in(m, found, 1)) return SUBSTANCE_SPLIT_WOOD;
    return FIELD_UNKNOWN;
}

/* The id of another piece named in the text, NULL when there is none. */
static const char *piece_named(const char *text, const struct find *find, const char *own) {
    if (!text) return NULL;
    for (size_t i = 0; i < find->piece_count; i++) {
        const char *id = find->pieces[i].id, *at = text;
        size_t n = strlen(id);
        if (strcmp(id, own) == 0) continue;
        while ((at = strstr(at, id))) {
            bool left = at == text || !isalnum((unsigned char)at[-1]);
            if (left && !isalnum((unsigned char)at[n])) return id;
            at += n;
        }
    }
    return NULL;
}

int remains_piece_classify(struct piece *p, const struct find *find, struct arena *arena,
                           struct error *err) {
    if (p->substance == FIELD_UNKNOWN) p->substance = substance_of(p);
    const char *found[2];
    size_t n = genera_in(p->material, found, 2);
    if (!p->taxon && n > 0 && !(p->taxon = taxon_at(found[0], arena))) return fail_memory(err);
    if (!p->other_taxon && n > 1 && !(p->other_taxon = taxon_at(found[1], arena)))
        return fail_memory(err);
    if (!p->same_as && has(p->part, "second reading"))
        p->same_as = arena_strdup(arena, piece_named(p->part, find, p->id));
    if (p->shape_only != 1 && has(p->note, "no scale")) p->shape_only = 1;
    if (p->joins.n == 0 && p->note && strncasecmp(p->note, "joins", 5) == 0) {
        const char *other = piece_named(p->note, find, p->id);
        size_t at = (size_t)(p - find->pieces); /* "joins next" */
        bool inside = p >= find->pieces && at + 1 < find->piece_count;
        if (!other && has(p->note, "joins next") && inside) other = find->pieces[at + 1].id;
        if (other) {
            const char **v = ARENA_NEW(arena, const char *, 1);
            if (!v) return fail_memory(err);
            v[0] = other;
            p->joins = (struct texts){1, v};
        }
    }
    return 0;
}

/* ---- words for ids -------------------------------------------------------------------------- */

/* Letters and digits of the text, lower case unless kept, everything else as one _. */
static void slug(const char *text, bool keep_case, char *out, size_t size) {
    size_t k = 0;
    for (; text && *text && *text != '(' && k + 1 < size; text++) {
        if (isalnum((unsigned char)*text))
            out[k++] = keep_case ? *text : (char)tolower((unsigned char)*text);
        else if (k && out[k - 1] != '_')
            out[k++] = '_';
    }
    while (k && out[k - 1] == '_')
        k--;
    out[k] = 0;
}

void remains_part_word(const struct piece *p, char *out, size_t size) {
    static const struct {
        const char *has, *word;
    } known[] = {{"lath spacing", "lath_spacing"},
                 {"whole object", "object"},
                 {"pigment", "colour"},
                 {"hoop end", "hoop_end"},
                 {"hoop", "hoop"},
                 {"dent", "dent"},
                 {"lath", "lath"},
                 {"rim", "rim"},
                 {"side rod", "side_rod"},
                 {"ring", "ring"},
                 {"guard", "guard"},
                 {"sheet", "sheet"},
                 {"panel", "sheet"},
                 {"binding", "binding"},
                 {"grip", "grip"},
                 {"handle", "grip"},
                 {"lacing", "lacing"},
                 {"peg", "peg"}};
    if (!has(p->part, "photo-only"))
        for (size_t i = 0; i < sizeof known / sizeof *known; i++)
            if (has(p->part, known[i].has)) {
                snprintf(out, size, "%s", known[i].word);
                return;
            }
    slug(p->part ? p->part : "piece", false, out, size);
}

bool remains_is_wood(const struct piece *p) {
    return p->substance == SUBSTANCE_SPLIT_WOOD || p->substance == SUBSTANCE_ROUND_WOOD;
}

static void genus_word(const char *taxon, char *out, size_t size) {
    slug(taxon, false, out, size);
    char *end = strchr(out, '_');
    if (end) *end = 0;
}

/* The genus most barks of the find carry; the first in the alphabet among equals. */
static void main_bark(const struct find *find, char *out, size_t size) {
    size_t best = 0;
    out[0] = 0;
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        if (p->substance != SUBSTANCE_BARK || !p->taxon) continue;
        char g[32], h[32];
        size_t n = 0;
        genus_word(p->taxon, g, sizeof g);
        for (size_t k = 0; k < find->piece_count; k++) {
            const struct piece *q = &find->pieces[k];
            if (q->substance != SUBSTANCE_BARK || !q->taxon) continue;
            genus_word(q->taxon, h, sizeof h);
            n += strcmp(g, h) == 0;
        }
        if (n > best || (n == best && strcmp(g, out) < 0)) {
            best = n;
            snprintf(out, size, "%s", g);
        }
    }
}

void remains_material_word(const struct find *find, const struct piece *p, char *out, size_t size) {
    char genus[32] = "", first[32];
    if (p->taxon) genus_word(p->taxon, genus, sizeof genus);
    out[0] = 0;
    if (remains_is_wood(p))
        snprintf(out, size, "%s", genus[0] ? genus : "wood");
    else if (p->substance == SUBSTANCE_BAST)
        snprintf(out, size, "bast");
    else if (p->substance == SUBSTANCE_HIDE)
        snprintf(out, size, "hide");
    else if (p->substance == SUBSTANCE_COIL)
        snprintf(out, size, "coil");
    else if (p->substance == SUBSTANCE_BARK) {
        main_bark(find, first, sizeof first);
        if (!genus[0] || strcmp(genus, first) == 0)
            snprintf(out, size, "bark");
        else
            snprintf(out, size, "bark_%s", genus);
    }
}

void remains_zone_word(const struct piece *p, char *out, size_t size) {
    slug(p->zone && *p->zone ? p->zone : "all", true, out, size);
}

void remains_state_word(const struct measure *m, char *out, size_t size) {
    static const char *const words[STATE_COUNT] = {"ground",     "wet",   "treated", "dried",
                                                   "part_dried", "trial", "fresh",   "dry"};
    if (m->state == STATE_TREATED && m->treatment && *m->treatment)
        slug(m->treatment, false, out, size);
    else
        snprintf(out, size, "%s",
                 m->state >= 0 && m->state < STATE_COUNT ? words[m->state] : "unknown");
}

void remains_quantity_word(long quantity, char *out, size_t size) {
    slug(quantity >= 0 && quantity < QUANTITY_COUNT ? quantity_words[quantity] : "other", false,
         out, size);
}

/* ---- direction and completeness ------------------------------------------------------------- */

static bool is_sheet(const struct piece *p) {
    return p->substance == SUBSTANCE_BARK || p->substance == SUBSTANCE_HIDE;
}

enum axis remains_axis_of(const struct piece *p, const struct measure *m) {
    bool through = m->quantity == QUANTITY_THICKNESS || m->quantity == QUANTITY_HEIGHT;
    switch (m->direction) {
    case DIRECTION_ALONG:
        return AXIS_ALONG;
    case DIRECTION_AROUND:
        return AXIS_AROUND;
    case DIRECTION_THROUGH:
        return AXIS_THROUGH;
    case DIRECTION_ACROSS:
        return is_sheet(p) ? (through ? AXIS_THROUGH : AXIS_PLANE) : AXIS_ACROSS;
    default:
        break;
    }
    if (is_sheet(p)) return through ? AXIS_THROUGH : AXIS_PLANE;
    if (p->substance == SUBSTANCE_BAST)
        return through ? AXIS_THROUGH : m->quantity == QUANTITY_WIDTH ? AXIS_AROUND : AXIS_ALONG;
    switch (m->quantity) {
    case QUANTITY_WIDTH:
    case QUANTITY_THICKNESS:
    case QUANTITY_HEIGHT:
    case QUANTITY_ROUND_PITCH:
    case QUANTITY_HOLE_DIAMETER:
    case QUANTITY_PEG_HOLE_DIAMETER:
        return AXIS_ACROSS;
    default: /* length, chord, rise, pitch of dents, chamfer, scarf: along the rod */
        return AXIS_ALONG;
    }
}

bool remains_is_complete(const struct piece *p, const struct measure *m) {
    if (!measure_is_complete(m)) return false;
    if (m->end_kinds.n > 0) return true;
    bool across_coil = p->substance == SUBSTANCE_COIL && m->quantity == QUANTITY_WIDTH;
    bool in_plane = m->quantity == QUANTITY_WIDTH || m->quantity == QUANTITY_LENGTH;
    return !(across_coil || (is_sheet(p) && p->substance == SUBSTANCE_BARK && in_plane) ||
             m->quantity == QUANTITY_LENGTH);
}

double remains_roundness(const struct piece *p) {
    if (p->substance != SUBSTANCE_ROUND_WOOD && !has(p->part, "half-round")) return NAN;
    if (has(p->part, "half") || has(p->material, "half")) return 0.5;
    if (has(p->part, "tongue") || has(p->part, "end")) return NAN; /* shaped by hand */
    return has(p->material, "whole rod") || has(p->part, "round") ? 1.0 : NAN;
}
