/* calc_poles: `relict calc poles`. */
#include "gather/describe.h"
#include "gather/gather_methods.h"
#include "gather/poles.h"

#include <math.h>

enum { MOST_STICKS = 200, MOST_POLES = 200 };

struct stick_in {
    const char *name, *species;
    long what, number;
    double length, width, thickness;
};
static const char *const stick_words[] = {"lath", "rod", "rim", "grip", "peg", NULL};
static const struct field stick_fields[] = {
    F_TEXT(stick_in, name, "Name", "Which part it is for."),
    {AT(stick_in, what), .label = "What", .type = FIELD_CHOICE, .choices = stick_words,
     .required = true, .help = "A rod or rim as thick as wide is a shoot in the round, not cleft."},
    {AT(stick_in, species), .label = "Species", .type = FIELD_TEXT, .required = true,
     .help = "Latin name; only poles of its genus serve."},
    {AT(stick_in, number), .label = "Number", .type = FIELD_INT, .max = 10000, .preset = "1",
     .help = "Usable ones wanted, surplus included."},
    {AT(stick_in, length), .label = "Length", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "Fresh, with what is cut off its ends."},
    {AT(stick_in, width), .label = "Width", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .above_min = true, .required = true, .help = "Fresh."},
    {AT(stick_in, thickness), .label = "Thickness", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .above_min = true, .required = true, .help = "Fresh."},
};
static const struct kind stick_in_kind = {"cleft_stick", "A lath or rod wanted",
                                          sizeof(struct stick_in), FIELDS(stick_fields), ""};

struct poles_in {
    struct records sticks, poles, faults;
    struct pole_options o;
};
#define OPTION(member) .name = #member, .offset = offsetof(struct poles_in, o.member)
static const struct field poles_in_fields[] = {
    {AT(poles_in, sticks), .label = "Wanted", .type = FIELD_RECORDS, .sub = &stick_in_kind,
     .required = true, .help = "Laths, rods, rims, grips, pegs."},
    {AT(poles_in, poles), .label = "Poles", .type = FIELD_RECORDS, .sub = &stem_kind_kind,
     .required = true, .help = "Cut in this order; each with its owner's consent."},
    F_LIST(poles_in, faults, "Faults", stem_fault_kind, "Knots and branches: they end a bolt."),
    {OPTION(saw), .label = "Saw cut", .unit = "mm", .type = FIELD_REAL, .max = 50, .preset = "3",
     .help = "Lost between bolts."},
    {OPTION(cleft), .label = "Cleft face", .unit = "mm", .type = FIELD_REAL, .max = 50,
     .preset = "2", .help = "Lost to a cleft face and its shaving."},
    {OPTION(usable), .label = "Usable", .unit = "percent", .type = FIELD_REAL, .scale = 0.01,
     .max = 100, .above_min = true, .preset = "67",
     .help = "Of the blanks: 60 to 75; a first-timer 40."},
    {OPTION(bark), .label = "Bark", .unit = "mm", .type = FIELD_REAL, .max = 100, .preset = "2",
     .help = "Of a pole whose bark nobody measured."},
};
static const struct kind poles_in_kind = {"poles", "Sticks wanted and poles in view",
                                          sizeof(struct poles_in), FIELDS(poles_in_fields), ""};

struct bolt_out {
    const char *pole, *serves;
    double from, length, thin_end, usable;
    long blanks;
};
static const struct field bolt_fields[] = {
    F_TEXT(bolt_out, pole, "Pole", "Which."),
    F_TEXT(bolt_out, serves, "For", "What its blanks serve for."),
    F_OUT(bolt_out, from, "From", "mm", "Above the lower end of the clean length."),
    F_OUT(bolt_out, length, "Long", "mm", "Between two saw cuts."),
    F_OUT(bolt_out, thin_end, "Thin end", "mm", "Wood across it, bark taken off."),
    {AT(bolt_out, blanks), .label = "Blanks", .type = FIELD_INT, .help = "That it is cleft into."},
    F_OUT(bolt_out, usable, "Usable", "", "Of them, expected."),
};
static const struct kind bolt_kind = {"pole_bolt", "A bolt", sizeof(struct bolt_out),
                                      FIELDS(bolt_fields), ""};
struct pole_out {
    const char *pole, *none;
    double left, used;
};
static const struct field pole_fields[] = {
    F_TEXT(pole_out, pole, "Pole", "Which."),
    F_OUT(pole_out, left, "Left", "mm", "Longest piece of clean length over."),
    F_OUT_SHARE(pole_out, used, "Used", "Of its wood in usable blanks; the rest is waste."),
    F_TEXT(pole_out, none, "Why none", "Where it gives nothing."),
};
static const struct kind pole_kind = {"pole_rest", "What is left of a pole",
                                      sizeof(struct pole_out), FIELDS(pole_fields), ""};
struct lacking_out {
    const char *name;
    long number;
};
static const struct field lacking_fields[] = {
    F_TEXT(lacking_out, name, "Name", "Which part it was for."),
    {AT(lacking_out, number), .label = "Number", .type = FIELD_INT, .help = "Still wanted."},
};
static const struct kind lacking_kind = {"pole_lacking", "What no pole gives",
                                         sizeof(struct lacking_out), FIELDS(lacking_fields), ""};
struct poles_out {
    struct records bolts, poles, missing;
    const char *say;
};
static const struct field poles_out_fields[] = {
    F_LIST(poles_out, bolts, "Bolts", bolt_kind, "From the butt up, pole by pole."),
    F_LIST(poles_out, poles, "Poles", pole_kind, "What is left of each."),
    F_LIST(poles_out, missing, "Missing", lacking_kind, "What no pole gives."),
    F_TEXT(poles_out, say, "In words", "What was left out, and what would give what is missing."),
};
static const struct kind poles_out_kind = {"poles_answer", "How poles are cleft",
                                           sizeof(struct poles_out), FIELDS(poles_out_fields), ""};

/* A pole that would be left out in silence among a project's stems is a mistake here. */
static int check_pole(const struct stem *s, struct error *err) {
    if (s->kind == STEM_LIVING)
        return fail(err, ERR_REFUSED, "Name it a coppice pole, or a cut or wind-thrown stem.",
                    "Pole %s is a living tree: nothing is cleft from it.", s->id);
    if (!(s->girth > 0))
        return fail(err, ERR_MISSING, "Put a tape round it over bark and enter mm.",
                    "Pole %s has no girth.", s->id);
    if (!(s->clear_length > 0))
        return fail(err, ERR_MISSING, "Measure the clean length up to the first branch.",
                    "Pole %s has no clean length.", s->id);
    return 0;
}

static int read_poles(struct need_list *list, const struct poles_in *i, struct arena *arena,
                      struct error *err) {
    const struct stick_in *s = i->sticks.v;
    if (i->sticks.n > MOST_STICKS || i->poles.n > MOST_POLES)
        return fail(err, ERR_RANGE, "Lay out one group at a time.",
                    "%zu sticks and %zu poles; at most %d and %d.", i->sticks.n, i->poles.n,
                    MOST_STICKS, MOST_POLES);
    *list =
        (struct need_list){.n = i->sticks.n, .need = ARENA_NEW(arena, struct need, i->sticks.n)};
    if (!list->need) return fail_memory(err);
    for (size_t k = 0; k < i->sticks.n; k++)
        list->need[k] = (struct need){.part = s[k].name ? s[k].name : stick_words[s[k].what],
                                      .what = stick_words[s[k].what],
                                      .species = s[k].species,
                                      .number = (double)s[k].number,
                                      .length = s[k].length,
                                      .width = s[k].width,
                                      .thickness = s[k].thickness,
                                      .total = NAN,
                                      .get = (double)s[k].number};
    int rc = 0;
    for (size_t k = 0; k < i->poles.n && !rc; k++)
        rc = check_pole((const struct stem *)i->poles.v + k, err);
    return rc;
}

static int write_poles(struct poles_out *o, const struct pole_plan *plan,
                       const struct need_list *list, const struct stem *stem, struct arena *arena) {
    struct bolt_out *bolt = ARENA_NEW(arena, struct bolt_out, plan->n);
    struct pole_out *pole = ARENA_NEW(arena, struct pole_out, plan->poles);
    struct lacking_out *lacking = ARENA_NEW(arena, struct lacking_out, list->n);
    if (!bolt || !pole || !lacking) return ERR_MEMORY;
    for (size_t k = 0; k < plan->n; k++) {
        const struct pole_bolt *b = &plan->bolt[k];
        bolt[k] = (struct bolt_out){.pole = stem[b->stem].id,
                                    .serves = b->serves,
                                    .from = b->from,
                                    .length = b->length,
                                    .thin_end = b->thin_end,
                                    .usable = b->usable,
                                    .blanks = b->blanks};
    }
    for (size_t k = 0; k < plan->poles; k++)
        pole[k] = (struct pole_out){stem[plan->pole[k]].id, *plan->none[k] ? plan->none[k] : NULL,
                                    plan->left[k], plan->used[k]};
    *o = (struct poles_out){
        .bolts = {plan->n, bolt}, .poles = {plan->poles, pole}, .say = plan->say};
    for (size_t k = 0; k < list->n; k++)
        if (plan->missing[k] > 0)
            lacking[o->missing.n++] =
                (struct lacking_out){list->need[k].part, lround(plan->missing[k])};
    o->missing.v = lacking;
    return 0;
}

static int run_poles(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct poles_in *i = in;
    struct need_list list;
    struct pole_plan plan;
    int rc = read_poles(&list, i, arena, err);
    if (!rc)
        rc = gather_poles(&plan, &list, i->poles.v, i->poles.n, i->faults.v, i->faults.n, &i->o,
                          arena, err);
    if (rc) return rc;
    return write_poles(out, &plan, &list, i->poles.v, arena) ? fail_memory(err) : 0;
}

const struct method gather_method_poles = {
    "poles",
    "Lays out laths, rods and rims on the poles they are cleft from, butt first",
    "blanks in rows beside the pith: chords of a circle; share usable: makers' practice",
    "The largest blanks are taken first, from the thickest wood; faults end a bolt. Nothing is "
    "proved to be least waste: for lengths alone see cutting. A pole without its owner's consent "
    "is left out, which is told.",
    &poles_in_kind,
    &poles_out_kind,
    run_poles,
    "{\"sticks\": [{\"name\": \"long lath\", \"what\": \"lath\", \"species\": \"Corylus "
    "avellana\", \"number\": 5, \"length\": 360, \"width\": 27, \"thickness\": 3.7}, {\"name\": "
    "\"rim\", \"what\": \"rim\", \"species\": \"Corylus avellana\", \"number\": 2, \"length\": "
    "1500, \"width\": 14, \"thickness\": 7.3}], \"poles\": [{\"id\": \"H1\", \"species\": "
    "\"Corylus avellana\", \"kind\": \"coppice pole\", \"girth\": 180, \"clear_length\": 2800, "
    "\"consent\": \"given\"}], \"faults\": [{\"id\": \"K1\", \"stem\": \"H1\", \"kind\": "
    "\"knot\", \"height\": 1400, \"length\": 40}]}",
};
