/* The methods `hand` and `mass`. */
#include "body/body_methods.h"
#include "body/calc_field.h"
#include "body/hand.h"

#include <math.h>
#include <string.h>

/* ---- hand ----------------------------------------------------------------------------------- */

struct grip_in {
    double span, seat, radius, bow, width, thickness, glove;
};
static const struct field grip_in_fields[] = {
    NEED_MM(grip_in, span, "Span", "Between the seats, inside.", "180"),
    {AT(grip_in, seat), .label = "Seat height", .unit = "mm", .type = FIELD_REAL, .required = true,
     .min = -500, .max = 500, .help = "Underside of the bar over the sheet at the seats.",
     .example = "12"},
    REAL(grip_in, radius, "Radius of the sheet", "mm",
         "Across the span; positive bows away from the hand; none: flat."),
    PRESET(grip_in, bow, "Bow of the bar", "mm", "0", "At its middle, away from the sheet."),
    {AT(grip_in, width), .label = "Bar width", .unit = "mm", .type = FIELD_REAL, .preset = "33",
     .min = 1, .max = 200, .help = "Where the hand closes."},
    {AT(grip_in, thickness), .label = "Bar thickness", .unit = "mm", .type = FIELD_REAL,
     .preset = "27", .min = 1, .max = 200, .help = "Where the hand closes."},
    {AT(grip_in, glove), .label = "Glove", .unit = "mm", .type = FIELD_REAL, .preset = "0",
     .min = 0, .max = 30, .help = "Added to the depth of a finger."},
};
static const struct kind grip_in_kind = {"hand_in", "A grip across a sheet", sizeof(struct grip_in),
                                         FIELDS(grip_in_fields), ""};
static const struct field room_fields[] = {
    REAL(hand_room, middle, "Room at the middle", "mm", "Behind the bar."),
    REAL(hand_room, breadth, "Length with room", "mm", "Behind which an average finger passes."),
    PERCENT(hand_room, men, "Men whose hand goes through", "British hand breadths."),
    PERCENT(hand_room, women, "Women whose hand goes through", "British hand breadths."),
    REAL(hand_room, perimeter, "Perimeter of the bar", "mm", "As an oval."),
    REAL(hand_room, off_best, "Thicker than best", "mm", "Best for force is about 33 mm."),
    WORDS(hand_room, warning, "Mind", "What is short."),
};
static const struct kind room_kind = {"hand_room", "Room for a hand", sizeof(struct hand_room),
                                      FIELDS(room_fields), ""};

static int hand_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct grip_in *in = in_;
    struct hand_case c = {
        in->span, in->seat,  isnan(in->radius) || in->radius == 0 ? 0 : 1 / in->radius,
        in->bow,  in->width, in->thickness,
        in->glove};
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    rc = hand_room(out_, shelf, &c, arena, err);
    stuff_shelf_free(shelf);
    return rc;
}

const struct method body_method_hand = {
    "hand",
    "Room for a hand behind a grip",
    "geometry; hand sizes: data/hand.csv (second-hand and from memory)",
    "Hands of today's British adults; other people's hands may be narrower or wider.",
    &grip_in_kind,
    &room_kind,
    hand_run,
    "{\"span\": 180, \"seat\": 12, \"radius\": 400}"};

/* ---- mass ----------------------------------------------------------------------------------- */

struct part_in {
    const char *name, *material;
    double mass, volume, x, y, z;
    long class, state;
};
static const struct field part_fields[] = {
    {AT(part_in, name), .label = "Part", .type = FIELD_TEXT, .required = true, .help = "Its name.",
     .example = "sheet"},
    WORDS(part_in, material, "Material", "For its density, unless the mass is given."),
    CLASS(part_in),
    STATE(part_in, "dry"),
    REAL(part_in, mass, "Mass", "g", "When weighed."),
    {AT(part_in, volume), .label = "Volume", .unit = "cm3", .type = FIELD_REAL, .scale = 1e3,
     .min = 0, .max = 1e6, .help = "Fresh or dry, as the state says."},
    PRESET(part_in, x, "x", "mm", "0", "Of its middle, right in the plan."),
    PRESET(part_in, y, "y", "mm", "0", "Of its middle, up in the plan."),
    PRESET(part_in, z, "z", "mm", "0", "Of its middle, toward the viewer."),
};
static const struct kind part_kind = {"mass_part", "A part", sizeof(struct part_in),
                                      FIELDS(part_fields), ""};
struct mass_in {
    struct records parts, own;
    double held_x, held_y, held_z;
};
static const struct field mass_in_fields[] = {
    {AT(mass_in, parts), .label = "Parts", .type = FIELD_RECORDS, .sub = &part_kind,
     .required = true, .help = "Each with its mass, or material and volume."},
    PRESET(mass_in, held_x, "Held at x", "mm", "0", "Middle of the grip."),
    PRESET(mass_in, held_y, "Held at y", "mm", "0", "Middle of the grip."),
    PRESET(mass_in, held_z, "Held at z", "mm", "0", "Middle of the grip."),
    OWN_VALUES(mass_in),
};
static const struct kind mass_in_kind = {"mass_in", "What is weighed", sizeof(struct mass_in),
                                         FIELDS(mass_in_fields), ""};
struct mass_out {
    double mass, p05, p95, x, y, z, tilt, torque;
    const char *standing;
    struct reals parts;
};
static const struct field mass_out_fields[] = {
    REAL(mass_out, mass, "Mass", "g", "Middle."),
    REAL(mass_out, p05, "5 % point", "g", "One in twenty is lighter."),
    REAL(mass_out, p95, "95 % point", "g", "One in twenty is heavier."),
    {AT(mass_out, parts), .label = "Of each part", .unit = "g", .type = FIELD_REALS,
     .help = "In the order given."},
    REAL(mass_out, x, "Centre x", "mm", "Of the mass."),
    REAL(mass_out, y, "Centre y", "mm", "Of the mass."),
    REAL(mass_out, z, "Centre z", "mm", "Of the mass."),
    {AT(mass_out, tilt), .label = "Hangs tilted", .unit = "degrees", .type = FIELD_REAL,
     .scale = 0.017453292519943295, .help = "Held level with the viewer's side up, then let turn."},
    REAL(mass_out, torque, "On the wrist", "N mm", "To keep it level."),
    WORDS(mass_out, standing, "Standing", "Of the weakest density used."),
};
static const struct kind mass_out_kind = {"mass_out", "Mass and balance", sizeof(struct mass_out),
                                          FIELDS(mass_out_fields), ""};

/* Densities of parts of one wood come from one tree as often as not: half of the spread is shared.
 */
#define SHARED 0.5

static int part_of(struct hand_part *out, long *standing, const struct part_in *p,
                   const struct stuff_shelf *shelf, struct error *err) {
    *out = (struct hand_part){p->name, p->mass, p->volume, NAN, 0, p->x, p->y, p->z};
    if (!isnan(p->mass)) return 0;
    if (!p->material || isnan(p->volume))
        return fail(err, ERR_MISSING, "Give its mass, or material and volume.", "Part %s", p->name);
    struct stuff_ask ask = stuff_ask(p->material, STUFF_DENSITY);
    ask.class = p->class;
    ask.state = p->state;
    struct stuff_prior d;
    int rc = stuff_material_prior(&d, shelf, &ask, err);
    if (rc) return rc;
    out->density = d.median;
    out->log_sd = log(d.p95 / d.p05) / (2 * 1.6448536269514722);
    if (d.standing > *standing) *standing = d.standing;
    return 0;
}

static int mass_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct mass_in *in = in_;
    struct mass_out *out = out_;
    const struct part_in *p = in->parts.v;
    struct hand_part *parts = ARENA_NEW(arena, struct hand_part, in->parts.n ? in->parts.n : 1);
    out->parts.v = ARENA_NEW(arena, double, in->parts.n ? in->parts.n : 1);
    if (!parts || !out->parts.v) return fail_memory(err);
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    long standing = STANDING_MEASURED;
    for (size_t i = 0; i < in->parts.n && !rc; i++) {
        rc = part_of(&parts[i], &standing, &p[i], shelf, err);
        out->parts.v[i] = isnan(parts[i].mass) ? parts[i].volume * parts[i].density : parts[i].mass;
    }
    stuff_shelf_free(shelf);
    out->parts.n = in->parts.n;
    const double held[3] = {in->held_x, in->held_y, in->held_z};
    struct hand_balance b;
    if (!rc) rc = hand_balance(&b, parts, in->parts.n, held, SHARED, err);
    if (rc) return rc;
    out->mass = b.mass;
    out->p05 = b.p05;
    out->p95 = b.p95;
    out->x = b.x;
    out->y = b.y;
    out->z = b.z;
    out->tilt = b.tilt;
    out->torque = b.torque;
    out->standing = standing_words[standing];
    return 0;
}

const struct method body_method_mass = {
    "mass",
    "Mass, centre of mass and balance in the hand of a list of parts",
    "statics; densities: tables of this program",
    "Half of the spread of densities is taken as shared between parts.",
    &mass_in_kind,
    &mass_out_kind,
    mass_run,
    "{\"parts\": [{\"name\": \"sheet\", \"material\": \"willow bark\", \"volume\": 900, \"y\": "
    "10}, "
    "{\"name\": \"rim\", \"material\": \"hazel\", \"volume\": 160}, {\"name\": \"grip\", "
    "\"material\": \"ash\", \"volume\": 150, \"z\": 30}], \"held_z\": 30}"};
