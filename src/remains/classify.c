#include "remains/classify.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

const char *const axis_words[] = {"along", "around", "through", "across", "plane", NULL};

static bool has(const char *text, const char *word) {
    return text && strcasestr(text, word) != NULL;
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
    enum { MOST = 32 };
    char names[MOST][32];
    size_t count[MOST] = {0}, n = 0, best = 0;
    out[0] = 0;
    for (size_t i = 0; i < find->piece_count; i++) {
        const struct piece *p = &find->pieces[i];
        char g[32];
        size_t k = 0;
        if (p->substance != SUBSTANCE_BARK || !p->taxon) continue;
        genus_word(p->taxon, g, sizeof g);
        while (k < n && strcmp(names[k], g) != 0)
            k++;
        if (k == MOST) continue;
        if (k == n) memcpy(names[n++], g, sizeof g);
        count[k]++;
    }
    for (size_t k = 0; k < n; k++)
        if (count[k] > best || (count[k] == best && strcmp(names[k], out) < 0)) {
            best = count[k];
            snprintf(out, size, "%.31s", names[k]);
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
        if (p->substance == SUBSTANCE_BAST) return through ? AXIS_THROUGH : AXIS_AROUND;
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
