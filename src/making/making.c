#include "making/making.h"

#include <math.h>
#include <string.h>

const char *const part_words[] = {"sheet", "lath", "rim",          "tie",   "seam",
                                  "peg",   "grip", "centre piece", "paint", NULL};
const char *const holding_words[] = {"in a pocket", "sewn", "tied", "pegged", "loose", NULL};
const char *const side_words[] = {"outer face", "inner face", "within the thickness", "both faces",
                                  NULL};

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define ID(of, tip)                                                                                \
    { AT(of, id), .label = "Id", .type = FIELD_TEXT, .required = true, .help = tip }
#define TEXT(of, member, words, tip)                                                               \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }
#define TEXTS(of, member, words, to, tip)                                                          \
    { AT(of, member), .label = words, .type = FIELD_TEXTS, .refers = to, .help = tip }
#define CHOICE(of, member, words, list, tip)                                                       \
    { AT(of, member), .label = words, .type = FIELD_CHOICE, .choices = list, .help = tip }
#define MM(of, member, words, tip)                                                                 \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .min = 0, .max = 1e5,    \
                        .above_min = true, .help = tip                                             \
    }
#define DEGREES(of, member, words, tip)                                                            \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "degrees", .type = FIELD_REAL,                     \
                        .scale = 0.017453292519943295, .min = -360, .max = 360, .help = tip        \
    }
#define COUNT(of, member, words, tip)                                                              \
    { AT(of, member), .label = words, .type = FIELD_INT, .min = 0, .max = 1e6, .help = tip }
#define PLACE(of, member, words)                                                                   \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "mm", .type = FIELD_REAL, .min = -1e5, .max = 1e5, \
                        .help = "In the plan of the making, from the middle of the sheet."         \
    }

static const struct field part_fields[] = {
    ID(part, "Kind and number, as lath.3; unique in its making."),
    {AT(part, making), .label = "Making", .type = FIELD_TEXT, .refers = "making", .required = true,
     .help = "The making it belongs to."},
    {AT(part, kind), .label = "Kind", .type = FIELD_CHOICE, .choices = part_words, .required = true,
     .help = "What sort of part it is."},
    TEXT(part, name, "Name", "For people."),
    TEXT(part, taxon, "Species", "Latin name or genus."),
    CHOICE(part, substance, "Substance", substance_words, "What it is made of."),
    CHOICE(part, state, "State", state_words, "The state in which its sizes hold."),
    MM(part, length, "Length", "Along the part; it must be above 0."),
    MM(part, width, "Width", "A width must be above 0."),
    MM(part, thickness, "Thickness", "A thickness must be above 0."),
    MM(part, diameter, "Diameter", "Outer diameter of a rod or ring."),
    MM(part, inner_diameter, "Inner diameter", "Of a ring."),
    MM(part, height, "Height", "Of a cone, from its edge to its point; left out when it is flat."),
    {AT(part, points), .label = "Points", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .help = "Outline of a sheet (closed) or path of a lath, rod or seam, x right, y up."},
    DEGREES(part, angle, "Angle", "Of its long axis, from the x axis."),
    PLACE(part, x, "Middle x"),
    PLACE(part, y, "Middle y"),
    CHOICE(part, side, "Side", side_words, "Where it lies against the sheet."),
    CHOICE(part, holding, "Held", holding_words,
           "How it is held. Ties that are loose pull only, tied ones hold every way."),
    DEGREES(part, grain, "Grain", "Direction of the tree's axis, from the x axis."),
    MM(part, natural_radius, "Own radius",
       "Radius of the stem the sheet came from, or of a bent rod."),
    MM(part, pitch, "Spacing", "Centre to centre of ties, stitches or rounds."),
    COUNT(part, count, "Count", "Stitches, ties, rounds or pegs."),
    COUNT(part, group, "In a group", "Stitches in a group; 1 when they are even."),
    MM(part, hole, "Hole", "Diameter of the holes it needs."),
    MM(part, edge_distance, "From the edge", "Distance of a seam or stripe from the edge."),
    DEGREES(part, chamfer, "Chamfer", "Angle of a grip's seat."),
    {AT(part, clearance), .label = "Clearance", .unit = "mm", .type = FIELD_REAL, .min = 0,
     .max = 100,
     .help = "Of a pocket, over the lath's thickness; of loose ties, their way before they pull."},
    MM(part, cut, "Slit depth", "Of the slits by which a pocket is entered; left out: none known."),
    {AT(part, friction), .label = "Friction", .type = FIELD_REAL, .min = 0, .max = 2,
     .help = "Of a lath against its pocket, a coefficient; left out or 0: it slides freely."},
    {AT(part, coats), .label = "Coats", .type = FIELD_REAL, .min = 0, .max = 20,
     .help = "Of paint."},
    {AT(part, cork), .label = "Cork", .unit = "percent", .type = FIELD_REAL, .scale = 0.01,
     .min = 0, .max = 100, .help = "Share of the thickness that is cork; 0 when scraped off."},
    {AT(part, cork_at), .label = "Cork by area", .unit = "mm", .type = FIELD_TUPLES, .width = 4,
     .help = "Areas of a sheet where cork was scraped or is missing: x, y, radius, share left "
             "(0 gone, 1 all)."},
    {AT(part, thickness_at), .label = "Thickness by place", .unit = "mm", .type = FIELD_TUPLES,
     .width = 3, .help = "Readings over a sheet: x, y, thickness."},
    MM(part, fissure_depth, "Fissure depth",
       "Of a sheet's outer face; left out when it is smooth."),
    MM(part, fissure_spacing, "Fissure spacing", "Middle to middle, across the grain."),
    MM(part, fissure_width, "Fissure width", "Of the open groove."),
    TEXT(part, colour, "Colour", "Of paint, as a word."),
    TEXTS(part, pieces, "Pieces", "piece", "Surviving pieces taken to be of this part."),
    TEXTS(part, statements, "Statements", "statement", "That give its sizes."),
    CHOICE(part, footing, "Footing", footing_words, "Why it is there."),
    TEXT(part, rule, "Rule", "By which it was completed."),
    TEXT(part, rival, "Rival", "What else it could be."),
};
const struct kind part_kind_kind = {"part", "A part of a making", sizeof(struct part),
                                    FIELDS(part_fields), ""};

#define MOISTURE(of, member, words)                                                                \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,      \
                        .min = 0, .max = 300,                                                      \
                        .help = "Moisture of the sheet in percent of its dry mass."                \
    }

static const struct field step_fields[] = {
    ID(step, "A short name, unique in its making."),
    {AT(step, making), .label = "Making", .type = FIELD_TEXT, .refers = "making", .required = true,
     .help = "The making it belongs to."},
    COUNT(step, number, "Number", "Order of work; equal numbers may go side by side."),
    TEXT(step, what, "What",
         "What is done. \"Flatten\", \"press\", \"under weight\", \"keep it flat\" or \"between "
         "boards\" hold the sheet flat until it is handled again, \"weighed down at the edges\" "
         "its edges; \"not\", \"until\", \"so that\" or \"after\" before them in a clause hold "
         "nothing."),
    TEXTS(step, parts, "Parts", "part", "The parts it works on."),
    TEXTS(step, after, "After", "step", "Steps that must come first."),
    MOISTURE(step, moisture_min, "Moisture at least"),
    MOISTURE(step, moisture_max, "Moisture at most"),
    {AT(step, hours), .label = "Hours", .unit = "h", .type = FIELD_REAL, .min = 0, .max = 1e4,
     .help = "Of work."},
    {AT(step, days), .label = "Days", .unit = "d", .type = FIELD_REAL, .min = 0, .max = 1e4,
     .help = "Of waiting."},
    TEXT(step, measure, "Measure", "What to measure then."),
    TEXT(step, right, "Right", "What value is right."),
    TEXT(step, if_not, "If not", "What to do otherwise."),
    TEXTS(step, cautions, "Cautions", NULL, "Hazards that belong to the step."),
    TEXTS(step, statements, "Statements", "statement", "Evidence for its place in the order."),
    CHOICE(step, footing, "Footing", footing_words, "Why it stands here."),
};
const struct kind step_kind = {"step", "A step of the work", sizeof(struct step),
                               FIELDS(step_fields), ""};

static const struct field making_fields[] = {
    ID(making, "A short name."),
    TEXT(making, title, "Title", "What sets this way of making apart."),
    {AT(making, weight), .label = "Weight", .type = FIELD_REAL, .min = 0, .max = 1,
     .help = "Probability among the rivals; left out for a what-if."},
    {AT(making, copy_of), .label = "Copy of", .type = FIELD_TEXT, .refers = "making",
     .help = "The making of which this what-if is a copy."},
    TEXT(making, difference, "Difference", "In which it differs from what it copies."),
    TEXT(making, purpose, "Purpose", "Display copy, trial or experiment."),
    TEXT(making, who, "Who", "By role."),
    {AT(making, date), .label = "Date", .type = FIELD_DATE, .help = "Year-month-day."},
    TEXT(making, reason, "Reason", "Why it is considered."),
};
const struct kind making_kind = {"making", "One complete way of making the object",
                                 sizeof(struct making), FIELDS(making_fields), ""};

const struct making *makings_find(const struct makings *all, const char *id) {
    for (size_t i = 0; i < all->making_count; i++)
        if (strcmp(all->makings[i].id, id) == 0) return &all->makings[i];
    return NULL;
}

const struct making *makings_leading(const struct makings *all) {
    const struct making *best = NULL;
    for (size_t i = 0; i < all->making_count; i++) {
        const struct making *m = &all->makings[i];
        if (!isnan(m->weight) && (!best || m->weight > best->weight)) best = m;
    }
    return best;
}

const struct part *makings_part(const struct makings *all, const char *making, long kind,
                                const struct part *previous) {
    size_t i = previous ? (size_t)(previous - all->parts) + 1 : 0;
    for (; i < all->part_count; i++)
        if (strcmp(all->parts[i].making, making) == 0 && (kind < 0 || all->parts[i].kind == kind))
            return &all->parts[i];
    return NULL;
}
