/* import_words: what headings and words in a list stand for, and the map that is proposed. */
#include "record/import_private.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* ---- our words ------------------------------------------------------------------------------ */

static const char *const end_list[] = {"whole", "broken", "torn", "worn", NULL};

const char *const *import_words_of(const char *of) {
    if (strcmp(of, "state") == 0) return state_words;
    if (strcmp(of, "confidence") == 0) return confidence_words;
    if (strcmp(of, "end") == 0) return end_list;
    if (strcmp(of, "face") == 0) return face_words;
    if (strcmp(of, "direction") == 0) return direction_words;
    return strcmp(of, "substance") == 0 ? substance_words : NULL;
}

static long index_of(const char *const *words, const char *word) {
    for (long i = 0; words[i]; i++)
        if (cell_same(words[i], word)) return i;
    return FIELD_UNKNOWN;
}

/* Words that lists use for ours. Only these are proposed; anything else sets the row aside. */
static const struct {
    const char *of, *from, *to, *treatment;
} synonyms[] = {
    {"state", "in situ", "in ground", NULL},
    {"state", "as found", "in ground", NULL},
    {"state", "as excavated", "in ground", NULL},
    {"state", "on site", "in ground", NULL},
    {"state", "wet", "wet in lab", NULL},
    {"state", "waterlogged", "wet in lab", NULL},
    {"state", "wet in store", "wet in lab", NULL},
    {"state", "kept wet", "wet in lab", NULL},
    {"state", "treated", "after treatment", NULL},
    {"state", "conserved", "after treatment", NULL},
    {"state", "after conservation", "after treatment", NULL},
    {"state", "freeze-dried", "after treatment", "freeze-drying"},
    {"state", "after freeze-drying", "after treatment", "freeze-drying"},
    {"state", "after vacuum freeze-drying", "after treatment", "vacuum freeze-drying"},
    {"state", "after PEG", "after treatment", "PEG"},
    {"state", "after polyethylene glycol", "after treatment", "PEG"},
    {"state", "after PEG and freeze-drying", "after treatment", "PEG and freeze-drying"},
    {"state", "after sugar", "after treatment", "sugar"},
    {"state", "after supercritical drying", "after treatment", "supercritical drying"},
    {"state", "after solvent drying", "after treatment", "solvent drying"},
    {"state", "dried untreated", "dried before treatment", NULL},
    {"state", "air-dried", "dried before treatment", NULL},
    {"state", "dried out", "dried before treatment", NULL},
    {"state", "partly dried", "part-dried", NULL},
    {"state", "partly dry", "part-dried", NULL},
    {"state", "half dry", "part-dried", NULL},
    {"state", "green", "fresh", NULL},
    {"confidence", "A", "firm", NULL},
    {"confidence", "B", "likely", NULL},
    {"confidence", "C", "doubtful", NULL},
    {"confidence", "certain", "firm", NULL},
    {"confidence", "sure", "firm", NULL},
    {"confidence", "probable", "likely", NULL},
    {"confidence", "possible", "doubtful", NULL},
    {"confidence", "uncertain", "doubtful", NULL},
    {"end", "cut", "whole", NULL},
    {"end", "chamfered", "whole", NULL},
    {"end", "scarfed", "whole", NULL},
    {"end", "rounded", "whole", NULL},
    {"end", "finished", "whole", NULL},
    {"end", "flattened tongue", "whole", NULL},
    {"end", "tongue", "whole", NULL},
    {"end", "square", "whole", NULL},
    {"end", "sawn", "whole", NULL},
    {"end", "pointed", "whole", NULL},
    {"end", "trimmed", "whole", NULL},
    {"end", "original", "whole", NULL},
    {"end", "complete", "whole", NULL},
    {"end", "notched", "whole", NULL},
    {"end", "snapped", "broken", NULL},
    {"end", "fractured", "broken", NULL},
    {"end", "cracked off", "broken", NULL},
    {"end", "missing", "broken", NULL},
    {"end", "ragged", "torn", NULL},
    {"end", "ripped", "torn", NULL},
    {"end", "frayed", "torn", NULL},
    {"end", "abraded", "worn", NULL},
    {"end", "eroded", "worn", NULL},
    {"end", "rubbed", "worn", NULL},
    {"end", "decayed", "worn", NULL},
    {"face", "outside", "outer", NULL},
    {"face", "inside", "inner", NULL},
    {"face", "between", "between layers", NULL},
    {"direction", "along the grain", "along", NULL},
    {"direction", "longitudinal", "along", NULL},
    {"direction", "tangential", "around", NULL},
    {"direction", "radial", "through", NULL},
    {"direction", "across the grain", "across", NULL},
};
enum { SYNONYMS = sizeof synonyms / sizeof synonyms[0] };

static const struct import_word *word_in_map(const struct import_map *map, const char *of,
                                             const char *text) {
    const struct import_word *words = map ? map->words.v : NULL;
    for (size_t i = 0; map && i < map->words.n; i++)
        if (strcmp(words[i].of, of) == 0 && cell_same(words[i].from, text)) return &words[i];
    return NULL;
}

long import_word_find(const struct import_map *map, const char *of, const char *text,
                      const char **treatment) {
    const struct import_word *w = word_in_map(map, of, text);
    if (treatment) *treatment = w ? w->treatment : NULL;
    return index_of(import_words_of(of), w ? w->to : text);
}

const char *import_word_near(const char *of, const char *text) {
    const char *names[SYNONYMS + 32];
    const char *const *ours = import_words_of(of);
    size_t n = 0;
    for (; ours[n]; n++)
        names[n] = ours[n];
    for (size_t i = 0; i < SYNONYMS; i++)
        if (strcmp(synonyms[i].of, of) == 0) names[n++] = synonyms[i].from;
    return field_nearest(text, names, n);
}

/* An end is known by how its description begins: "chamfered 12 mm at 35 deg". */
long import_end_kind(const struct import_map *map, const char *text) {
    long whole = import_word_find(map, "end", text, NULL);
    if (whole != FIELD_UNKNOWN) return whole;
    for (size_t n = strlen(text); n > 0; n--) {
        if (n < strlen(text) && text[n] != ' ') continue;
        char head[80];
        snprintf(head, sizeof head, "%.*s", (int)(n < 79 ? n : 79), text);
        long kind = import_word_find(map, "end", head, NULL);
        for (size_t i = 0; kind == FIELD_UNKNOWN && i < SYNONYMS; i++)
            if (strcmp(synonyms[i].of, "end") == 0 && cell_same(synonyms[i].from, head))
                kind = index_of(end_list, synonyms[i].to);
        if (kind != FIELD_UNKNOWN) return kind;
    }
    return FIELD_UNKNOWN;
}

/* ---- materials ------------------------------------------------------------------------------ */

static bool has(const char *text, const char *word) {
    return text && cell_phrase(text, word, (double[2]){0}, (char[64]){0}) != NULL;
}

/* Coarse kinds of material by words, the more telling first: a coil has a bast stitch, a panel of
 * bark stands beside wood of the same tree. */
static const struct {
    const char *word;
    long substance;
    bool in_part; /* looked for in the part, too */
} substances[] = {
    {"trace only", SUBSTANCE_TRACE, true},
    {"mixed", SUBSTANCE_MIXED, false},
    {"pigment", SUBSTANCE_COLOUR, true},
    {"paint", SUBSTANCE_COLOUR, true},
    {"earth", SUBSTANCE_COLOUR, false},
    {"coiled", SUBSTANCE_COIL, true},
    {"foundation", SUBSTANCE_COIL, false},
    {"bast", SUBSTANCE_BAST, false},
    {"bark", SUBSTANCE_BARK, false},
    {"cork", SUBSTANCE_BARK, false},
    {"skin", SUBSTANCE_HIDE, false},
    {"hide", SUBSTANCE_HIDE, false},
    {"rawhide", SUBSTANCE_HIDE, false},
    {"leather", SUBSTANCE_HIDE, false},
    {"split", SUBSTANCE_SPLIT_WOOD, true},
    {"half-round", SUBSTANCE_SPLIT_WOOD, true},
    {"lath", SUBSTANCE_SPLIT_WOOD, true},
    {"whole rod", SUBSTANCE_ROUND_WOOD, false},
    {"roundwood", SUBSTANCE_ROUND_WOOD, false},
    {"withy", SUBSTANCE_ROUND_WOOD, true},
    {"rod", SUBSTANCE_ROUND_WOOD, true},
    {"hoop", SUBSTANCE_ROUND_WOOD, true},
    {"bark", SUBSTANCE_BARK, true},
    {"bast", SUBSTANCE_BAST, true},
    {"hide", SUBSTANCE_HIDE, true},
    {"wood", SUBSTANCE_SPLIT_WOOD, false},
};

long import_substance(const struct import_map *map, const char *part, const char *material) {
    long own = material ? import_word_find(map, "substance", material, NULL) : FIELD_UNKNOWN;
    if (own != FIELD_UNKNOWN) return own;
    for (size_t i = 0; i < sizeof substances / sizeof substances[0]; i++)
        if (has(material, substances[i].word) ||
            (substances[i].in_part && has(part, substances[i].word)))
            return substances[i].substance;
    struct arena *scratch = arena_new();
    const char *taxon = NULL, *other = NULL;
    bool memory = false;
    if (scratch && material) import_taxa(material, &taxon, &other, scratch, &memory);
    arena_free(scratch);
    return taxon ? SUBSTANCE_SPLIT_WOOD : FIELD_UNKNOWN; /* a named tree, worked to shape */
}

/* English names of the woods and barks in the tables. */
static const struct {
    const char *name, *taxon;
} names[] = {
    {"willow", "Salix"},
    {"hazel", "Corylus avellana"},
    {"birch", "Betula"},
    {"lime", "Tilia"},
    {"linden", "Tilia"},
    {"elm", "Ulmus"},
    {"oak", "Quercus"},
    {"alder", "Alnus"},
    {"ash", "Fraxinus excelsior"},
    {"spruce", "Picea"},
    {"pine", "Pinus"},
    {"poplar", "Populus"},
    {"aspen", "Populus tremula"},
    {"yew", "Taxus baccata"},
    {"maple", "Acer"},
    {"larch", "Larix"},
};

/* A genus: a capital and small letters, four or more, and none of the words that also begin so. */
static size_t genus_length(const char *p) {
    static const char *const others[] = {"Bark",  "Bast",  "Wood",    "Hide",    "Skin",    "Split",
                                         "White", "Black", "Animal",  "Leather", "Unknown", "Root",
                                         "Plant", "Mixed", "Rawhide", "Whole",   "Coiled",  NULL};
    size_t n = 0;
    if (!isupper((unsigned char)*p)) return 0;
    while (isalpha((unsigned char)p[n]))
        n++;
    for (size_t i = 1; i < n; i++)
        if (!islower((unsigned char)p[i])) return 0;
    for (size_t i = 0; others[i]; i++)
        if (strlen(others[i]) == n && strncmp(others[i], p, n) == 0) return 0;
    return n >= 4 ? n : 0;
}

/* A second word that is a species: small letters, and none that describe the thing. */
static size_t species_length(const char *p) {
    static const char *const others[] = {"bark", "bast",  "wood",  "root", "rod",  "foundation",
                                         "twig", "split", "fibre", "stem", "hide", NULL};
    size_t n = 0;
    while (islower((unsigned char)p[n]))
        n++;
    if (n < 5 && !(n == 4 && p[n] == 0)) return 0;
    for (size_t i = 0; others[i]; i++)
        if (strlen(others[i]) == n && strncmp(others[i], p, n) == 0) return 0;
    return p[n] == '.' ? 0 : n;
}

void import_taxa(const char *material, const char **taxon, const char **other, struct arena *arena,
                 bool *memory) {
    const char **slots[2] = {taxon, other};
    size_t found = 0;
    *taxon = *other = NULL;
    for (const char *p = material; *p && found < 2; p++) {
        if (p > material && isalpha((unsigned char)p[-1])) continue;
        size_t n = genus_length(p);
        if (n == 0) continue;
        size_t s = p[n] == ' ' ? species_length(p + n + 1) : 0;
        char *name = arena_copy(arena, p, s ? n + 1 + s : n);
        if (!name) *memory = true;
        *slots[found++] = name;
    }
    for (size_t i = 0; found == 0 && i < sizeof names / sizeof names[0]; i++)
        if (has(material, names[i].name)) {
            *taxon = names[i].taxon;
            return;
        }
}

/* ---- headings ------------------------------------------------------------------------------- */

static const struct {
    const char *heading;
    long as, quantity;
} headings[] = {
    {"id", IMPORT_ID, -1},
    {"no", IMPORT_ID, -1},
    {"number", IMPORT_ID, -1},
    {"find no", IMPORT_ID, -1},
    {"find number", IMPORT_ID, -1},
    {"find", IMPORT_ID, -1},
    {"piece", IMPORT_ID, -1},
    {"piece no", IMPORT_ID, -1},
    {"fragment", IMPORT_ID, -1},
    {"part", IMPORT_PART, -1},
    {"taken for", IMPORT_PART, -1},
    {"type", IMPORT_PART, -1},
    {"object", IMPORT_PART, -1},
    {"description", IMPORT_PART, -1},
    {"material", IMPORT_MATERIAL, -1},
    {"species", IMPORT_MATERIAL, -1},
    {"wood", IMPORT_MATERIAL, -1},
    {"taxon", IMPORT_TAXON, -1},
    {"id conf", IMPORT_CONFIDENCE, -1},
    {"confidence", IMPORT_CONFIDENCE, -1},
    {"certainty", IMPORT_CONFIDENCE, -1},
    {"zone", IMPORT_ZONE, -1},
    {"area", IMPORT_ZONE, -1},
    {"half", IMPORT_ZONE, -1},
    {"state", IMPORT_STATE, -1},
    {"condition", IMPORT_STATE, -1},
    {"measured", IMPORT_STATE, -1},
    {"treatment", IMPORT_TREATMENT, -1},
    {"day", IMPORT_DAY, -1},
    {"length", IMPORT_SIZE, QUANTITY_LENGTH},
    {"len", IMPORT_SIZE, QUANTITY_LENGTH},
    {"l", IMPORT_SIZE, QUANTITY_LENGTH},
    {"width", IMPORT_SIZE, QUANTITY_WIDTH},
    {"breadth", IMPORT_SIZE, QUANTITY_WIDTH},
    {"w", IMPORT_SIZE, QUANTITY_WIDTH},
    {"b", IMPORT_SIZE, QUANTITY_WIDTH},
    {"thickness", IMPORT_SIZE, QUANTITY_THICKNESS},
    {"thick", IMPORT_SIZE, QUANTITY_THICKNESS},
    {"th", IMPORT_SIZE, QUANTITY_THICKNESS},
    {"t", IMPORT_SIZE, QUANTITY_THICKNESS},
    {"chord", IMPORT_SIZE, QUANTITY_CHORD},
    {"sagitta", IMPORT_SIZE, QUANTITY_SAGITTA},
    {"rise", IMPORT_SIZE, QUANTITY_SAGITTA},
    {"holes", IMPORT_SIZE, QUANTITY_HOLES},
    {"holes n", IMPORT_SIZE, QUANTITY_HOLES},
    {"n holes", IMPORT_SIZE, QUANTITY_HOLES},
    {"number of holes", IMPORT_SIZE, QUANTITY_HOLES},
    {"pitch", IMPORT_SIZE, QUANTITY_PITCH},
    {"spacing", IMPORT_SIZE, QUANTITY_PITCH},
    {"hole d", IMPORT_SIZE, QUANTITY_HOLE_DIAMETER},
    {"hole diameter", IMPORT_SIZE, QUANTITY_HOLE_DIAMETER},
    {"hole dia", IMPORT_SIZE, QUANTITY_HOLE_DIAMETER},
    {"rounds", IMPORT_SIZE, QUANTITY_ROUNDS},
    {"round pitch", IMPORT_SIZE, QUANTITY_ROUND_PITCH},
    {"stitches in 10 mm", IMPORT_SIZE, QUANTITY_STITCHES_PER_10_MM},
    {"chamfer length", IMPORT_SIZE, QUANTITY_CHAMFER_LENGTH},
    {"chamfer angle", IMPORT_SIZE, QUANTITY_CHAMFER_ANGLE},
    {"scarf length", IMPORT_SIZE, QUANTITY_SCARF_LENGTH},
    {"tongue length", IMPORT_SIZE, QUANTITY_TONGUE_LENGTH},
    {"edge distance", IMPORT_SIZE, QUANTITY_EDGE_DISTANCE},
    {"row distance", IMPORT_SIZE, QUANTITY_ROW_DISTANCE},
    {"peg hole diameter", IMPORT_SIZE, QUANTITY_PEG_HOLE_DIAMETER},
    {"height", IMPORT_SIZE, QUANTITY_HEIGHT},
    {"gap", IMPORT_SIZE, QUANTITY_GAP},
    {"mass", IMPORT_SIZE, QUANTITY_MASS},
    {"weight", IMPORT_SIZE, QUANTITY_MASS},
    {"moisture", IMPORT_SIZE, QUANTITY_MOISTURE},
    {"tol", IMPORT_TOLERANCE, -1},
    {"tolerance", IMPORT_TOLERANCE, -1},
    {"error", IMPORT_TOLERANCE, -1},
    {"\xC2\xB1", IMPORT_TOLERANCE, -1},
    {"+/", IMPORT_TOLERANCE, -1},
    {"uncertainty", IMPORT_TOLERANCE, -1},
    {"length tol", IMPORT_TOLERANCE, QUANTITY_LENGTH},
    {"tol length", IMPORT_TOLERANCE, QUANTITY_LENGTH},
    {"length tolerance", IMPORT_TOLERANCE, QUANTITY_LENGTH},
    {"width tol", IMPORT_TOLERANCE, QUANTITY_WIDTH},
    {"width tolerance", IMPORT_TOLERANCE, QUANTITY_WIDTH},
    {"thick tol", IMPORT_TOLERANCE, QUANTITY_THICKNESS},
    {"tol thick", IMPORT_TOLERANCE, QUANTITY_THICKNESS},
    {"thickness tolerance", IMPORT_TOLERANCE, QUANTITY_THICKNESS},
    {"tol thickness", IMPORT_TOLERANCE, QUANTITY_THICKNESS},
    {"end", IMPORT_END, -1},
    {"edge", IMPORT_EDGE, -1},
    {"method", IMPORT_METHOD, -1},
    {"measured with", IMPORT_METHOD, -1},
    {"tool", IMPORT_METHOD, -1},
    {"observer", IMPORT_OBSERVER, -1},
    {"measured by", IMPORT_OBSERVER, -1},
    {"by", IMPORT_OBSERVER, -1},
    {"who", IMPORT_OBSERVER, -1},
    {"date", IMPORT_DATE, -1},
    {"measured on", IMPORT_DATE, -1},
    {"face", IMPORT_FACE, -1},
    {"direction", IMPORT_DIRECTION, -1},
    {"grain", IMPORT_DIRECTION, -1},
    {"ring angle", IMPORT_RING_ANGLE, -1},
    {"source", IMPORT_SOURCE, -1},
    {"same as", IMPORT_SAME_AS, -1},
    {"second reading of", IMPORT_SAME_AS, -1},
    {"joins", IMPORT_JOINS, -1},
    {"note", IMPORT_NOTE, -1},
    {"notes", IMPORT_NOTE, -1},
    {"remark", IMPORT_NOTE, -1},
    {"remarks", IMPORT_NOTE, -1},
    {"comment", IMPORT_NOTE, -1},
    {"comments", IMPORT_NOTE, -1},
};

/* Splits "Length (mm)", "length_mm", "Length [cm]" into words and unit; numbers at the end of
 * "end_1" fall off. */
static void split_heading(const char *heading, char name[80], char unit[16]) {
    snprintf(name, 80, "%s", heading);
    *unit = 0;
    for (char *p = name; *p; p++)
        if (strchr("()[],_", *p)) *p = ' ';
    size_t n = strlen(name);
    while (n && (name[n - 1] == ' ' || name[n - 1] == '.'))
        name[--n] = 0;
    char *last = strrchr(name, ' ');
    if (last && cell_unit_factor(last + 1) > 0 && strcasecmp(last + 1, "n") != 0 &&
        strcasecmp(last + 1, "no") != 0) {
        snprintf(unit, 16, "%s", last + 1);
        *last = 0;
    }
    for (n = strlen(name); n && (name[n - 1] == ' ' || isdigit((unsigned char)name[n - 1]));)
        name[--n] = 0;
}

static const char *preset_unit(long quantity) {
    switch (quantity) {
    case QUANTITY_HOLES:
    case QUANTITY_ROUNDS:
    case QUANTITY_STITCHES_PER_10_MM:
        return "";
    case QUANTITY_CHAMFER_ANGLE:
        return "degrees";
    case QUANTITY_MASS:
        return "g";
    case QUANTITY_MOISTURE:
        return "percent";
    default:
        return "mm";
    }
}

static int propose_column(struct import_column *c, const char *heading, struct arena *arena,
                          struct error *err) {
    char name[80], unit[16];
    *c = (struct import_column){.heading = arena_strdup(arena, heading),
                                .as = IMPORT_IGNORE,
                                .quantity = FIELD_UNKNOWN,
                                .tolerance = NAN,
                                .direction = FIELD_UNKNOWN,
                                .why = "No such heading is known; say what it holds."};
    if (!c->heading) return fail_memory(err);
    split_heading(heading, name, unit);
    for (size_t i = 0; i < sizeof headings / sizeof headings[0]; i++) {
        if (!cell_same(headings[i].heading, name)) continue;
        c->as = headings[i].as;
        c->why = "By its heading.";
        if (headings[i].quantity >= 0) c->quantity = headings[i].quantity;
        break;
    }
    if (c->as != IMPORT_SIZE && c->as != IMPORT_TOLERANCE && c->as != IMPORT_RING_ANGLE) return 0;
    const char *preset = c->as == IMPORT_RING_ANGLE     ? "degrees"
                         : c->quantity != FIELD_UNKNOWN ? preset_unit(c->quantity)
                                                        : "mm";
    c->unit = *unit ? arena_strdup(arena, unit) : preset;
    if (!*unit && *preset) c->why = "By its heading; no unit is said, so the usual one.";
    return c->unit ? 0 : fail_memory(err);
}

/* A heading used twice for the same thing is taken once. */
static void drop_repeats(struct import_column *columns, size_t n) {
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < i; k++) {
            bool several = columns[i].as == IMPORT_END || columns[i].as == IMPORT_EDGE ||
                           columns[i].as == IMPORT_NOTE || columns[i].as == IMPORT_IGNORE;
            if (several || columns[i].as != columns[k].as ||
                columns[i].quantity != columns[k].quantity)
                continue;
            columns[i].as = IMPORT_IGNORE;
            columns[i].why = "Another column holds this already.";
        }
}

/* ---- words in the cells ---------------------------------------------------------------------- */

struct words_found {
    struct import_word *v;
    size_t n, room;
};

static int add_word(struct words_found *found, const char *of, const char *text,
                    struct arena *arena, struct error *err) {
    for (size_t i = 0; i < found->n; i++)
        if (strcmp(found->v[i].of, of) == 0 && cell_same(found->v[i].from, text)) return 0;
    for (size_t i = 0; i < SYNONYMS; i++) {
        if (strcmp(synonyms[i].of, of) != 0 || !cell_same(synonyms[i].from, text)) continue;
        if (found->n == found->room) return 0; /* more kinds of words than synonyms: cannot be */
        char *from = cell_trim(text, arena);
        if (!from) return fail_memory(err);
        found->v[found->n++] =
            (struct import_word){synonyms[i].of, from, synonyms[i].to, synonyms[i].treatment};
        return 0;
    }
    return 0;
}

/* The word before a number or a semicolon: "chamfered" of "chamfered 12 mm". */
static void first_words(const char *text, char out[64]) {
    size_t n = 0;
    while (n < 63 && text[n] && text[n] != ';' && !isdigit((unsigned char)text[n])) {
        out[n] = text[n];
        n++;
    }
    while (n && out[n - 1] == ' ')
        n--;
    out[n] = 0;
}

static int propose_words(struct import_map *map, const struct csv_table *table, struct arena *arena,
                         struct error *err) {
    static const struct {
        long as;
        const char *of;
    } kinds[] = {{IMPORT_STATE, "state"}, {IMPORT_CONFIDENCE, "confidence"},
                 {IMPORT_END, "end"},     {IMPORT_EDGE, "end"},
                 {IMPORT_FACE, "face"},   {IMPORT_DIRECTION, "direction"}};
    struct words_found found = {ARENA_NEW(arena, struct import_word, SYNONYMS), 0, SYNONYMS};
    if (!found.v) return fail_memory(err);
    const struct import_column *columns = map->columns.v;
    for (size_t c = 0; c < map->columns.n; c++)
        for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
            if (columns[c].as != kinds[k].as) continue;
            const char *before = "";
            for (size_t r = 1; r < table->n; r++) {
                const struct csv_row *row = &table->rows[r];
                if (c >= row->n || !*row->cells[c] || strcmp(row->cells[c], before) == 0) continue;
                before = row->cells[c];
                char head[64];
                first_words(before, head);
                int rc = add_word(&found, kinds[k].of,
                                  strcmp(kinds[k].of, "end") == 0 ? head : before, arena, err);
                if (rc) return rc;
            }
        }
    map->words = (struct records){found.n, found.v};
    return 0;
}

int import_propose(struct import_map *out, const struct csv_table *table, const char *separator,
                   bool decimal_comma, struct arena *arena, struct error *err) {
    field_unknown(&import_map_kind, out);
    if (table->n == 0)
        return fail(err, ERR_INPUT, "Look whether the right file was chosen.",
                    "The list is empty: there is not even a heading.");
    out->separator = separator && strcmp(separator, ";") == 0 ? ";" : ",";
    out->decimal_comma = decimal_comma;
    const struct csv_row *heading = &table->rows[0];
    if (heading->n == 1 && strchr(heading->cells[0], ';'))
        return fail(err, ERR_INPUT, "Switch on semicolons (and decimal commas, if they are used).",
                    "The heading is one cell with semicolons in it.");
    struct import_column *columns = ARENA_NEW(arena, struct import_column, heading->n);
    if (!columns) return fail_memory(err);
    bool id = false;
    int rc = 0;
    for (size_t c = 0; c < heading->n && !rc; c++)
        rc = propose_column(&columns[c], heading->cells[c], arena, err);
    if (rc) return rc;
    drop_repeats(columns, heading->n);
    for (size_t c = 0; c < heading->n; c++)
        id |= columns[c].as == IMPORT_ID;
    out->columns = (struct records){heading->n, columns};
    if (!id)
        return fail(err, ERR_MISSING, "Name a column \"id\", or say in the map which one it is.",
                    "No column of the list can be the number of the piece.");
    return propose_words(out, table, arena, err);
}
