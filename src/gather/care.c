#include "gather/care.h"

#include "base/asset.h"
#include "base/csv.h"
#include "gather/day.h"
#include "gather/describe.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

const char *const act_words[] = {
    "fell", "peel bark", "split wood", "carve", "steam or hot water", "soak",
    "ret",  "hide",      "paint",      "load",  "touch the original", NULL};

static const struct field care_fields[] = {
    F_TEXT(care_line, what, "What", "Hazard, or what to see to."),
    F_TEXT(care_line, say, "Do", "What to do; local rules and licensed people come first."),
    F_TEXT(care_line, more, "More", "Background."),
    F_TEXT(care_line, source, "Source", "Where it comes from."),
    F_CHOICE(care_line, standing, "Standing", standing_words, "How it is known."),
    F_DATE(care_line, by, "By", "Day by which it must be seen to."),
    F_COUNT(care_line, done, "Done", 1, "1 on record, 0 missing, -1 cannot tell."),
};
const struct kind care_line_kind = {"care_line", "Something to see to", sizeof(struct care_line),
                                    FIELDS(care_fields), ""};

/* Words found in the hazard column of data/cautions.csv. */
static const char *const hazards[ACT_COUNT][5] = {
    [ACT_FELL] = {"felling", "trees and the law", "edge tools", "thorns"},
    [ACT_PEEL] = {"peeling bark", "trees and the law", "edge tools", "sensitising"},
    [ACT_SPLIT] = {"edge tools", "wood dust", "sensitising"},
    [ACT_CARVE] = {"edge tools", "wood dust", "yew"},
    [ACT_STEAM] = {"hot water and steam"},
    [ACT_SOAK] = {"soaking", "dirty water"},
    [ACT_RET] = {"retting", "dirty water"},
    [ACT_HIDE] = {"raw hide", "lime, lye", "edge tools"},
    [ACT_PAINT] = {"dry pigments", "pigments with lead", "oily rags"},
    [ACT_LOAD] = {"load and impact"},
    [ACT_ORIGINAL] = {"the original", "treated museum"},
};

int gather_cautions(struct care_list *out, const struct stuff_shelf *shelf, enum act act,
                    struct arena *arena, struct error *err) {
    *out = (struct care_list){0, ARENA_NEW(arena, struct care_line, 5)};
    if (!out->line) return fail_memory(err);
    for (size_t i = 0; i < 5 && hazards[act][i]; i++) {
        const struct stuff_caution *c = stuff_caution_find(shelf, hazards[act][i]);
        if (!c)
            return fail(err, ERR_MISSING, "Mend data/cautions.csv.", "No caution for \"%s\".",
                        hazards[act][i]);
        out->line[out->n++] =
            (struct care_line){c->hazard, c->caution, c->more, c->source, c->standing, NULL, -1};
    }
    return 0;
}

/* ---- before cutting ----------------------------------------------------------------------------
 */

static void put(struct care_list *l, const char *what, const char *say, long standing,
                const char *by, long done) {
    l->line[l->n++] =
        (struct care_line){what, say, "", "common practice, no source", standing, by, done};
}

static const char *days_before(const char *day, long days, struct arena *arena) {
    long d;
    char text[DAY_TEXT];
    struct error ignored = {0};
    if (gather_day_read(&d, day, &ignored)) return NULL;
    gather_day_write(d - days, text);
    return arena_strdup(arena, text);
}

/* 1 when the date lies on or within `days` before the day, 0 when there is none or it is older. */
static long recent(const char *date, const char *day, long days) {
    long a, b;
    struct error ignored = {0};
    if (!date || gather_day_read(&a, date, &ignored) || gather_day_read(&b, day, &ignored))
        return 0;
    return a <= b && b - a <= days;
}

static bool nesting(const char *day) {
    long d;
    struct error ignored = {0};
    /* March to August: usual advice in the United Kingdom (R107). */
    static const struct day_window nests = {3, 1, 8, 31, 0};
    return !gather_day_read(&d, day, &ignored) && gather_window_holds(&nests, d);
}

int gather_checklist(struct care_list *out, const struct stem *s, double share, const char *day,
                     const struct test_peel *peel, size_t peels, struct arena *arena,
                     struct error *err) {
    struct care_list ill;
    int rc = gather_plant_health(&ill, s->species, arena, err);
    if (rc) return rc;
    *out = (struct care_list){0, ARENA_NEW(arena, struct care_line, 12 + ill.n)};
    if (!out->line) return fail_memory(err);
    enum permit permit = gather_permit((enum stem_kind)s->kind, share);
    put(out, "Owner's consent", "Have it in writing before any tool is taken out.",
        STANDING_STANDARD, day, s->consent == CONSENT_GIVEN);
    put(out, "Local rules",
        "Ask the authority about felling, protected trees, protected places and species; some "
        "answers "
        "take three months.",
        STANDING_STANDARD, days_before(day, 90, arena), -1);
    if (permit == PERMIT_REFUSED)
        put(out, "Share of girth",
            "Over half the girth of a living tree: not done. See the other ways.",
            STANDING_COMMON_PRACTICE, day, 0);
    if (permit == PERMIT_APPROVAL)
        put(out, "Named approval",
            "Over a quarter of the girth of a living tree: who answers for it?",
            STANDING_COMMON_PRACTICE, day, s->approval && *s->approval);
    if (nesting(day))
        put(out, "Nests",
            "Look for nests within two days before the work; when in doubt, leave the tree.",
            STANDING_COMMON_PRACTICE, days_before(day, 2, arena), recent(s->nests_checked, day, 2));
    bool slips = false;
    for (size_t i = 0; i < peels; i++)
        slips = slips || (peel[i].slips == SLIP_YES && recent(peel[i].date, day, 3));
    if (!isnan(share))
        put(out, "Test peel",
            "Lift a flap of two fingers' width: does it slip, and does it bend both ways?",
            STANDING_COMMON_PRACTICE, days_before(day, 3, arena), slips);
    put(out, "Clean tools", "Clean and disinfect blades and boots before this stem and after it.",
        STANDING_COMMON_PRACTICE, day, -1);
    put(out, "Where the bark goes",
        "Do not carry fresh bark or logs into another district before asking "
        "the plant health service.",
        STANDING_COMMON_PRACTICE, day, -1);
    if (s->kind == STEM_POLE)
        put(out, "The stool",
            "Cut low and sloping, keep deer and sheep off the shoots for some years.",
            STANDING_COMMON_PRACTICE, day, -1);
    if (s->kind == STEM_LIVING)
        put(out, "Visits",
            "Put down three yearly visits: open width, callus at sides and foot, crown.",
            STANDING_COMMON_PRACTICE, day, -1);
    if (s->kind == STEM_THROWN || s->kind == STEM_CUT)
        put(out, "Tension", "Storm-thrown and leaning stems are for trained people only.",
            STANDING_COMMON_PRACTICE, day, -1);
    for (size_t i = 0; i < ill.n; i++)
        out->line[out->n++] = ill.line[i];
    return 0;
}

/* ---- plant health ------------------------------------------------------------------------------
 */

static bool holds_word(const char *text, const char *word) {
    size_t n = strlen(word);
    for (; n && *text; text++)
        if (strncasecmp(text, word, n) == 0) return true;
    return false;
}

static long standing_of(const char *word) {
    for (long i = 0; standing_words[i]; i++)
        if (strcmp(standing_words[i], word) == 0) return i;
    return STANDING_GUESS;
}

int gather_plant_health(struct care_list *out, const char *species, struct arena *arena,
                        struct error *err) {
    *out = (struct care_list){0};
    size_t size;
    const char *text = asset_find("data/plant_health.csv", &size);
    struct csv_table t;
    if (!text)
        return fail(err, ERR_DAMAGED, NULL,
                    "The table data/plant_health.csv is not in the program.");
    int rc = csv_read(&t, text, size, NULL, arena, err);
    if (rc) return rc;
    out->line = ARENA_NEW(arena, struct care_line, t.n);
    if (!out->line) return fail_memory(err);
    for (size_t i = 1; i < t.n && species && *species; i++) {
        const char **c = t.rows[i].cells;
        if (t.rows[i].n < 6)
            return fail(err, ERR_DAMAGED, NULL, "data/plant_health.csv, line %ld is short.",
                        t.rows[i].line);
        /* columns: genus, also, what, say, source, standing */
        if (!holds_word(species, c[0]) && !(*c[1] && holds_word(species, c[1]))) continue;
        out->line[out->n++] = (struct care_line){c[2], c[3], "", c[4], standing_of(c[5]), NULL, -1};
    }
    return 0;
}

/* Whether the text has the word, alone or with a common ending: "bows", not "bowl". */
static bool has_word(const char *text, const char *word) {
    static const char *const endings[] = {"", "s", "es", "ing", "ed", "er", "ers", "ren"};
    size_t n = strlen(word);
    for (const char *at = text; at && (at = strcasestr(at, word)); at++) {
        const char *end = at + n;
        size_t left = 0;
        if (at > text && isalpha((unsigned char)at[-1])) continue;
        while (isalpha((unsigned char)end[left]))
            left++;
        for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++)
            if (left == strlen(endings[i]) && strncasecmp(end, endings[i], left) == 0) return true;
    }
    return false;
}

/* ---- care by step ---------------------------------------------------------------------------- */

/* A step is this kind of work when it has one of the words, and one of the others where some are
 * given: bark is taken by peeling, all else by felling or cutting. */
static const struct {
    enum act act;
    const char *any[6], *with[4];
} work_words[] = {
    {ACT_FELL, {"fell", "coppice", "pollard"}, {NULL}},
    {ACT_FELL, {"take"}, {"rod", "oak", "ash", "pole"}},
    {ACT_PEEL, {"peel", "take", "strip"}, {"bark", "bast", "sheet"}},
    {ACT_SPLIT, {"split", "cleave", "cleft", "rive"}, {NULL}},
    {ACT_CARVE, {"carve", "shave", "cut", "trim", "chamfer", "make"}, {NULL}},
    {ACT_STEAM, {"steam", "boil", "hot"}, {NULL}},
    {ACT_STEAM, {"bend"}, {"rim", "former"}},
    {ACT_SOAK, {"soak"}, {NULL}},
    {ACT_RET, {"ret", "retting", "retted"}, {NULL}},
    {ACT_HIDE, {"hide", "skin", "lime pit"}, {NULL}},
    {ACT_PAINT, {"paint", "pigment", "coat", "colour"}, {NULL}},
    {ACT_LOAD, {"load", "weight", "knock", "drop", "break"}, {NULL}},
    {ACT_LOAD, {"bent", "bend"}, {"strip", "lath", "strips", "laths"}},
    {ACT_ORIGINAL, {"original"}, {NULL}},
};

size_t gather_acts(enum act out[ACT_COUNT], const char *words) {
    bool is[ACT_COUNT] = {false};
    size_t n = 0;
    for (size_t i = 0; words && i < sizeof work_words / sizeof work_words[0]; i++) {
        bool any = false, with = !work_words[i].with[0];
        for (size_t k = 0; k < 6 && work_words[i].any[k]; k++)
            any = any || has_word(words, work_words[i].any[k]);
        for (size_t k = 0; k < 4 && work_words[i].with[k]; k++)
            with = with || has_word(words, work_words[i].with[k]);
        is[work_words[i].act] = is[work_words[i].act] || (any && with);
    }
    for (int act = 0; act < ACT_COUNT; act++)
        if (is[act]) out[n++] = (enum act)act;
    return n;
}

const char *gather_step_care(const struct stuff_shelf *shelf, const char *words,
                             struct arena *arena) {
    enum act act[ACT_COUNT];
    size_t n = gather_acts(act, words);
    const char *text = "", *told[5 * ACT_COUNT];
    size_t n_told = 0;
    for (size_t i = 0; i < n && text; i++)
        for (size_t k = 0; k < 5 && hazards[act[i]][k] && text; k++) {
            const struct stuff_caution *c = stuff_caution_find(shelf, hazards[act[i]][k]);
            bool known = !c;
            for (size_t t = 0; t < n_told && !known; t++)
                known = !strcmp(told[t], c->hazard);
            if (known) continue;
            told[n_told++] = c->hazard;
            text = arena_printf(arena, "%s%s%s", text, *text ? "; " : "", c->hazard);
        }
    return text;
}

const char *gather_never_safe(const char *use) {
    static const char *const words[] = {
        "child",  "infant", "baby",  "babies", "cradle", "toy",  "play",  "fight",   "weapon",
        "bow",    "arrow",  "spear", "shield", "armour", "load", "carry", "carried", "climb",
        "ladder", "seat",   "boat",  "canoe",  "float",  "raft", "lift",  "sling"};
    for (size_t i = 0; use && i < sizeof words / sizeof words[0]; i++)
        if (has_word(use, words[i]))
            return "Nothing here says that it is safe for a child, a fight or a load: that is for "
                   "people who are licensed to test it, under local rules.";
    return NULL;
}
