/* The methods `peg`, `cord` and `knock`. */
#include "body/body_methods.h"
#include "body/calc_field.h"
#include "body/cord.h"
#include "body/peg.h"

#include <math.h>

/* ---- peg ------------------------------------------------------------------------------------ */

static const struct field side_fields[] = {
    MATERIAL(peg_side, "hazel"),
    CLASS(peg_side),
    NEED_MM(peg_side, thickness, "Thickness", "Along the peg.", "11"),
    SIZE_MM(peg_side, thickness_low, "Thickness, 5 % point", "None: it is known exactly."),
    SIZE_MM(peg_side, thickness_high, "Thickness, 95 % point", "None: it is known exactly."),
    SIZE_MM(peg_side, width, "Width", "Across the load, at the peg; none: wide."),
    SIZE_MM(peg_side, edge, "Edge distance", "Peg middle to the end in the direction of the load."),
    DEGREES(peg_side, angle, "Load to grain", "0", "Angle between load and grain."),
};
static const struct kind side_kind = {"peg_side", "One of the two parts", sizeof(struct peg_side),
                                      FIELDS(side_fields), ""};
/* The case comes first, so that its fields lie where they lie in it. */
struct peg_in {
    struct peg_case c;
    struct records own;
};
static const struct field peg_in_fields[] = {
    {AT(peg_case, first), .label = "First part", .type = FIELD_RECORD, .sub = &side_kind,
     .required = true, .help = "The rim, say."},
    {AT(peg_case, second), .label = "Second part", .type = FIELD_RECORD, .sub = &side_kind,
     .required = true, .help = "The sheet, say."},
    WORDS(peg_case, peg, "Wood of the peg", "None: any hardwood."),
    NEED_MM(peg_case, diameter, "Peg diameter", "At the joint.", "5"),
    REAL(peg_case, load, "Load", "N", "One peg has to bear."),
    FLAG(peg_case, wet, "Wet", "false", "Fresh or soaked."),
    OWN_VALUES(peg_in),
};
static const struct kind peg_in_kind = {"peg_in", "A peg through two parts", sizeof(struct peg_in),
                                        FIELDS(peg_in_fields), ""};
struct peg_out {
    double load, p05, p95, a, b, c, d, e, f, holds;
    const char *first, *mode, *standing, *warning, *caveat;
    struct records modes;
};
static const struct field peg_out_fields[] = {
    REAL(peg_out, load, "Load at failure", "N", "One peg, middle."),
    REAL(peg_out, p05, "5 % point", "N", "One in twenty fails below."),
    REAL(peg_out, p95, "95 % point", "N", "One in twenty holds above."),
    WORDS(peg_out, first, "Fails first", "The likeliest."),
    MODES_OF(peg_out, modes, "Each with its load in N and its chance to be first."),
    REAL(peg_out, a, "Mode a", "N", "First part bears."),
    REAL(peg_out, b, "Mode b", "N", "Second part bears."),
    REAL(peg_out, c, "Mode c", "N", "The peg turns stiffly."),
    REAL(peg_out, d, "Mode d", "N", "One hinge, in the second part."),
    REAL(peg_out, e, "Mode e", "N", "One hinge, in the first part."),
    REAL(peg_out, f, "Mode f", "N", "Two hinges."),
    WORDS(peg_out, mode, "Least of them", "By its letter."),
    PERCENT(peg_out, holds, "Chance to bear the load", "Asked for."),
    WORDS(peg_out, standing, "Standing", "Of the weakest figure used."),
    WORDS(peg_out, warning, "Mind", "Rules of thumb it breaks."),
    WORDS(peg_out, caveat, "Caveat", "How far to trust it."),
};
static const struct kind peg_out_kind = {"peg_out", "What a peg bears", sizeof(struct peg_out),
                                         FIELDS(peg_out_fields), ""};

static int peg_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct peg_in *in = in_;
    struct peg_out *out = out_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct peg_result r;
    rc = peg_joint(&r, shelf, &in->c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    const struct peg_johansen *j = &r.modes;
    *out = (struct peg_out){r.failure.load, r.failure.p05, r.failure.p95, j->a, j->b,
                            j->c,           j->d,          j->e,          j->f, r.holds};
    out->first = r.failure.first;
    out->modes = r.failure.modes;
    out->mode = arena_printf(arena, "%c", j->mode);
    out->standing = standing_words[r.standing];
    out->warning = r.warning;
    out->caveat = r.caveat;
    return out->mode ? 0 : fail_memory(err);
}

const struct method body_method_peg = {
    "peg",
    "What a wooden peg through rim and sheet or two pieces of wood bears",
    "EN 1995-1-1:2004 Eq 8.6, 8.31 to 8.33 (Johansen); TFEC 1 (peg shear, from memory)",
    "The equations were fitted to steel pins; the peg's own shear and yield are added. A spare "
    "pulled "
    "apart tells more.",
    &peg_in_kind,
    &peg_out_kind,
    peg_run,
    "{\"first\": {\"material\": \"hazel\", \"thickness\": 11, \"width\": 22, \"edge\": 25}, "
    "\"second\": {\"material\": \"willow bark\", \"thickness\": 5, \"edge\": 15, \"angle\": 90}, "
    "\"diameter\": 5, \"load\": 60}"};

/* ---- cord ----------------------------------------------------------------------------------- */

static const struct field strand_fields[] = {
    MATERIAL(stuff_cord, "lime bast"),
    NEED_MM(stuff_cord, width, "Width of a strand", "Or its diameter when round.", "4"),
    SIZE_MM(stuff_cord, thickness, "Thickness of a strand", "Of a flat one."),
    {AT(stuff_cord, strands), .label = "Strands", .type = FIELD_REAL, .preset = "1", .min = 1,
     .max = 1000, .help = "Side by side or twisted together."},
    DEGREES(stuff_cord, twist, "Twist", "0",
            "Angle of a strand against the cord; 0 for a flat strip."),
    WORDS(stuff_cord, knot, "Knot", "By its name; one not in the table keeps half."),
};
/* Flags that are bool in the struct are read beside it. */
static const struct kind strand_kind = {"strand", "A cord", sizeof(struct stuff_cord),
                                        FIELDS(strand_fields), ""};

struct cord_in {
    struct stuff_cord cord;
    double turns, slack, loop, radius, wrap, load, spacing, line_load;
    const char *around;
    int round, wet;
    struct records own;
};
#define TIE_FIELDS(of)                                                                             \
    {AT(of, cord),        .label = "Cord",  .type = FIELD_RECORD,                                  \
     .sub = &strand_kind, .required = true, .help = "Its stuff and section."},                     \
        FLAG(of, round, "Round", "false", "Strands are round, not flat."),                         \
        FLAG(of, wet, "Wet", "false", "Bast is stronger wet."),                                    \
        {AT(of, turns),                                                                            \
         .label = "Turns",                                                                         \
         .type = FIELD_REAL,                                                                       \
         .preset = "1",                                                                            \
         .min = 1,                                                                                 \
         .max = 1000,                                                                              \
         .help = "Times it goes round; each turn has two legs."},                                  \
        NEED_MM(of, loop, "Length of a turn", "Once round what it holds.", "60"),                  \
        {AT(of, radius), .label = "Edge radius",                                                   \
         .unit = "mm",   .type = FIELD_REAL,                                                       \
         .preset = "2",  .min = 0.01,                                                              \
         .max = 1e4,     .help = "Of the edge it bends over."},                                    \
        WORDS(of, around, "Holds", "Material it bears on, for cutting in."), {                     \
        AT(of, wrap), .label = "Tail wrapped", .unit = "turns", .type = FIELD_REAL,                \
                      .scale = 6.283185307179586, .preset = "0", .min = 0, .max = 100,             \
                      .help = "Before the knot, or tucked under instead of a knot."                \
    }
static const struct field cord_in_fields[] = {
    TIE_FIELDS(cord_in),
    REAL(cord_in, load, "Load", "N", "One tie has to bear."),
    REAL(cord_in, line_load, "Line load", "N/mm", "Instead: along the rim, with the spacing."),
    SIZE_MM(cord_in, spacing, "Spacing", "Of ties, middle to middle."),
    OWN_VALUES(cord_in),
};
static const struct kind cord_in_kind = {"cord_in", "A tie", sizeof(struct cord_in),
                                         FIELDS(cord_in_fields), ""};
struct cord_out {
    double load, p05, p95, stiffness, holds, tension, pressure;
    const char *first, *standing;
    struct records modes;
};
static const struct field cord_out_fields[] = {
    REAL(cord_out, load, "Load at failure", "N", "One tie, middle."),
    REAL(cord_out, p05, "5 % point", "N", "One in twenty fails below."),
    REAL(cord_out, p95, "95 % point", "N", "One in twenty holds above."),
    WORDS(cord_out, first, "Fails first", "The likeliest."),
    MODES_OF(cord_out, modes, "Each with its load in N and its chance to be first."),
    REAL(cord_out, stiffness, "Stiffness", "N/mm", "Of one tie, tight, middle."),
    REAL(cord_out, tension, "Pull in a leg", "N", "Under the load."),
    REAL(cord_out, pressure, "Pressure on the edge", "MPa", "Under the load."),
    PERCENT(cord_out, holds, "Chance to bear the load", "Asked for."),
    WORDS(cord_out, standing, "Standing", "Of the weakest figure used."),
};
static const struct kind cord_out_kind = {"cord_out", "What a tie bears", sizeof(struct cord_out),
                                          FIELDS(cord_out_fields), ""};

static struct cord_case tie_of(const struct cord_in *in) {
    struct cord_case c = {.cord = in->cord,
                          .turns = in->turns,
                          .slack = in->slack,
                          .loop = in->loop,
                          .around = in->around,
                          .radius = in->radius,
                          .wrap = in->wrap,
                          .load = in->load};
    c.cord.round = in->round == 1;
    c.cord.wet = in->wet == 1;
    if (isnan(c.cord.thickness)) c.cord.thickness = c.cord.width;
    return c;
}

static int cord_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct cord_in *in = in_;
    struct cord_out *out = out_;
    struct cord_case c = tie_of(in);
    if (isnan(c.load) && !isnan(in->line_load) && !isnan(in->spacing))
        c.load = in->line_load * in->spacing;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct cord_result r;
    rc = cord_tie(&r, shelf, &c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    *out = (struct cord_out){r.failure.load, r.failure.p05, r.failure.p95, r.stiffness, r.holds};
    out->tension = cord_tension(c.load, 1, 2 * c.turns, 0);
    out->pressure = cord_pressure(out->tension, c.cord.width, c.radius);
    out->first = r.failure.first;
    out->modes = r.failure.modes;
    out->standing = standing_words[r.standing];
    return 0;
}

const struct method body_method_cord = {
    "cord",
    "What a tie of bast, hide or sinew bears, and what gives first",
    "Euler and Eytelwein (friction round a rod); Plymouth Cordage 1946 (knots); statics",
    "Wear is not in it: bast frets at sharp edges.",
    &cord_in_kind,
    &cord_out_kind,
    cord_run,
    "{\"cord\": {\"material\": \"lime bast\", \"width\": 4, \"thickness\": 0.5, \"knot\": \"reef "
    "(square) knot\"}, \"turns\": 2, \"loop\": 60, \"radius\": 2, \"around\": \"willow bark\", "
    "\"load\": 20}"};

/* ---- knock ---------------------------------------------------------------------------------- */

struct knock_in {
    const char *material, *around;
    long class;
    double width, height;
    int rim_round, rim_wet;
    struct stuff_cord cord;
    int round, wet;
    double turns, slack, loop, radius, wrap, spacing;
    double peg_load, peg_load_p05, peg_load_p95, peg_stiffness, peg_spacing;
    double sheet, mass, drop;
    struct records own;
};
static const struct field knock_in_fields[] = {
    MATERIAL(knock_in, "hazel rod"),
    CLASS(knock_in),
    SIZE_MM(knock_in, width, "Rim width", "Across the knock; none for a round rod."),
    NEED_MM(knock_in, height, "Rim height", "In the direction of the knock, or its diameter.",
            "11"),
    FLAG(knock_in, rim_round, "Rim round", "true", "A round rod."),
    FLAG(knock_in, rim_wet, "Rim wet", "false", "Fresh or soaked."),
    TIE_FIELDS(knock_in),
    PRESET(knock_in, slack, "Slack of a tie", "mm", "0", "Travel before it pulls."),
    NEED_MM(knock_in, spacing, "Ties apart", "Middle to middle.", "80"),
    REAL(knock_in, peg_load, "A peg bears", "N", "From `relict calc peg`; none: ties alone."),
    REAL(knock_in, peg_load_p05, "5 % point", "N", "From `relict calc peg`."),
    REAL(knock_in, peg_load_p95, "95 % point", "N", "From `relict calc peg`."),
    REAL(knock_in, peg_stiffness, "Stiffness of a peg", "N/mm", "None: 300, a guess."),
    SIZE_MM(knock_in, peg_spacing, "Pegs apart", "Middle to middle."),
    REAL(knock_in, sheet, "Stiffness of the sheet", "N/mm",
         "Under the push, from `relict calc shell`; none: it does not yield."),
    REAL(knock_in, mass, "Mass of the knock", "g", "Of what falls: the object itself, say."),
    SIZE_MM(knock_in, drop, "Drop", "It falls so far."),
    OWN_VALUES(knock_in),
};
static const struct kind knock_in_kind = {"knock_in", "A rim on its ties", sizeof(struct knock_in),
                                          FIELDS(knock_in_fields), ""};
struct knock_out {
    double energy, energy_p05, energy_p95, push, push_p05, push_p95, drop, survives, energy_without,
        ratio, reach;
    const char *first, *standing;
    struct records modes, push_modes;
};
static const struct field knock_out_fields[] = {
    REAL(knock_out, energy, "Energy to the first failure", "N mm", "Middle."),
    REAL(knock_out, energy_p05, "5 % point", "N mm", "One in twenty fails below."),
    REAL(knock_out, energy_p95, "95 % point", "N mm", "One in twenty holds above."),
    WORDS(knock_out, first, "Fails first", "The likeliest under a knock."),
    MODES_OF(knock_out, modes, "Under a knock, in N mm."),
    REAL(knock_out, push, "Slow push to the first failure", "N", "Middle."),
    REAL(knock_out, push_p05, "5 % point", "N", "One in twenty fails below."),
    REAL(knock_out, push_p95, "95 % point", "N", "One in twenty holds above."),
    MODES_OF(knock_out, push_modes, "Under a slow push, in N."),
    REAL(knock_out, drop, "Drop it stands", "mm", "Of the mass given, middle."),
    PERCENT(knock_out, survives, "Chance to survive", "The knock given."),
    REAL(knock_out, energy_without, "Ties alone", "N mm", "The same rim without pegs."),
    REAL(knock_out, ratio, "With pegs over without", "",
         "Of the energy; under 1: pegs make it stiffer and worse."),
    REAL(knock_out, reach, "Reach", "mm", "Length of rim that shares the knock: 1/lambda."),
    WORDS(knock_out, standing, "Standing", "Of the weakest figure used."),
};
static const struct kind knock_out_kind = {"knock_out", "What a knock needs",
                                           sizeof(struct knock_out), FIELDS(knock_out_fields), ""};

static int knock_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct knock_in *in = in_;
    struct knock_out *out = out_;
    struct cord_in tie = {.cord = in->cord,
                          .turns = in->turns,
                          .slack = in->slack,
                          .loop = in->loop,
                          .radius = in->radius,
                          .wrap = in->wrap,
                          .load = NAN,
                          .around = in->around,
                          .round = in->round,
                          .wet = in->wet};
    struct knock_case c = {.rim = in->material,
                           .class = in->class,
                           .width = in->width,
                           .height = in->height,
                           .round = in->rim_round == 1,
                           .wet = in->rim_wet == 1,
                           .tie = tie_of(&tie),
                           .tie_spacing = in->spacing,
                           .peg_load = in->peg_load,
                           .peg_load_p05 = in->peg_load_p05,
                           .peg_load_p95 = in->peg_load_p95,
                           .peg_stiffness = in->peg_stiffness,
                           .peg_spacing = in->peg_spacing,
                           .sheet = in->sheet,
                           .mass = in->mass,
                           .drop = in->drop};
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct knock_result r;
    rc = cord_knock(&r, shelf, &c, arena, err);
    stuff_shelf_free(shelf);
    if (rc) return rc;
    *out = (struct knock_out){r.energy.load,    r.energy.p05, r.energy.p95,    r.push.load,
                              r.push.p05,       r.push.p95,   r.drop,          r.survives,
                              r.energy_without, r.ratio,      1 / r.bed.lambda};
    out->first = r.energy.first;
    out->modes = r.energy.modes;
    out->push_modes = r.push.modes;
    out->standing = standing_words[r.standing];
    return 0;
}

const struct method body_method_knock = {
    "knock",
    "What a knock on a tied rim needs to break something, with ties alone and with pegs",
    "Hetenyi 1946, Beams on Elastic Foundation; energy balance",
    "Linear up to the first failure. Most of a knock goes into the sheet that gives: give its "
    "stiffness, or the answer is that of an unyielding one.",
    &knock_in_kind,
    &knock_out_kind,
    knock_run,
    "{\"material\": \"hazel rod\", \"height\": 11, \"cord\": {\"material\": \"lime bast\", "
    "\"width\": "
    "4, \"thickness\": 0.5, \"knot\": \"clove hitch\"}, \"turns\": 2, \"loop\": 60, \"around\": "
    "\"willow bark\", \"spacing\": 80, \"sheet\": 8, \"mass\": 900, \"drop\": 300}"};
