/* The methods `shrinkage`, `undo-change` and `alteration`. */
#include "stuff/alteration.h"
#include "stuff/moisture.h"
#include "stuff/shrinkage.h"
#include "stuff/stuff_methods.h"

#include <math.h>

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)
#define SHARE(of, member, words, tip)                                                              \
    {                                                                                              \
        AT(of, member), .label = words, .unit = "percent", .type = FIELD_REAL, .scale = 0.01,      \
                        .help = tip                                                                \
    }
#define WORDS(of, member, words, tip)                                                              \
    { AT(of, member), .label = words, .type = FIELD_TEXT, .help = tip }

/* ---- shrinkage ------------------------------------------------------------------------------ */

struct shrinkage_in {
    const char *material, *figures;
    double radial, tangential, ring_angle, from, to, saturation, size;
    long direction;
    struct records own;
};
static const struct field shrinkage_in_fields[] = {
    {AT(shrinkage_in, material), .label = "Wood", .type = FIELD_TEXT,
     .help = "Species or genus, English or Latin; or give the shrinkages yourself.",
     .example = "hazel"},
    {AT(shrinkage_in, figures), .label = "Figures of", .type = FIELD_TEXT,
     .help = "Whose figures to use; refused when it is another class of material."},
    {AT(shrinkage_in, radial), .label = "Radial, green to ovendry", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 60, .help = "Through the stem.",
     .example = "4.9"},
    {AT(shrinkage_in, tangential), .label = "Tangential, green to ovendry", .unit = "percent",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 80, .help = "Around the stem.",
     .example = "10.4"},
    {AT(shrinkage_in, direction), .label = "Direction", .type = FIELD_CHOICE, .preset = "around",
     .choices = stuff_direction_words, .help = "Of the size asked for; across: nobody knows."},
    {AT(shrinkage_in, ring_angle), .label = "Ring angle", .unit = "degrees", .type = FIELD_REAL,
     .scale = 0.017453292519943295, .min = 0, .max = 90,
     .help = "From around (0) towards through (90), where the size lies between.", .example = "30"},
    {AT(shrinkage_in, from), .label = "Moisture before", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 400, .preset = "100",
     .help = "Above saturation counts as green.", .example = "100"},
    {AT(shrinkage_in, to), .label = "Moisture after", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 400, .preset = "12",
     .help = "Dry indoors is 8 to 12.", .example = "12"},
    {AT(shrinkage_in, saturation), .label = "Fibre saturation", .unit = "percent of ovendry mass",
     .type = FIELD_REAL, .scale = 0.01, .min = 15, .max = 40, .preset = "30",
     .help = "The handbook's equation takes 30.", .example = "30"},
    {AT(shrinkage_in, size), .label = "Size before", .unit = "mm", .type = FIELD_REAL, .min = 0,
     .max = 1e5, .above_min = true, .preset = "100", .help = "At the moisture before.",
     .example = "25"},
    {AT(shrinkage_in, own), .label = "Your own values", .type = FIELD_RECORDS,
     .sub = &stuff_own_kind, .help = "Stand before the tables."},
};
static const struct kind shrinkage_in_kind = {"shrinkage_in", "A size and two moistures",
                                              sizeof(struct shrinkage_in),
                                              FIELDS(shrinkage_in_fields), ""};

struct shrinkage_out {
    double to_ovendry, change, size, size_p05, size_p95, coefficient;
    const char *standing, *basis, *row_source;
};
static const struct field shrinkage_out_fields[] = {
    SHARE(shrinkage_out, to_ovendry, "Green to ovendry", "In the direction asked for."),
    SHARE(shrinkage_out, change, "Shrinkage between the two moistures",
          "Of the size before; negative: it swells."),
    {AT(shrinkage_out, size), .label = "Size after", .unit = "mm", .type = FIELD_REAL,
     .help = "Middle value."},
    {AT(shrinkage_out, size_p05), .label = "5 % point", .unit = "mm", .type = FIELD_REAL,
     .help = "One in twenty is smaller."},
    {AT(shrinkage_out, size_p95), .label = "95 % point", .unit = "mm", .type = FIELD_REAL,
     .help = "One in twenty is larger."},
    {AT(shrinkage_out, coefficient), .label = "Change coefficient", .unit = "per percent moisture",
     .type = FIELD_REAL, .scale = 100,
     .help = "Of the size at about 10 % moisture, 6 to 14 % (not of the green size)."},
    WORDS(shrinkage_out, standing, "Standing", "How the figure is known."),
    WORDS(shrinkage_out, basis, "Basis", "What stood in for what."),
    WORDS(shrinkage_out, row_source, "Source of the figure", "Publication or table."),
};
static const struct kind shrinkage_out_kind = {"shrinkage_out", "Shrunken size",
                                               sizeof(struct shrinkage_out),
                                               FIELDS(shrinkage_out_fields), ""};

/* Handbook spread within a species (data/wood_shrinkage.csv, coefficient_of_variation). */
#define OWN_FIGURE_LOG_SD 0.15

static int shrinkage_given(struct stuff_prior *p, const struct shrinkage_in *in,
                           struct error *err) {
    double r = in->radial, t = in->tangential, s;
    if (!isnan(in->ring_angle) && !isnan(r) && !isnan(t))
        s = stuff_shrinkage_turned(t, r, in->ring_angle);
    else if (in->direction == STUFF_THROUGH)
        s = r;
    else if (in->direction == STUFF_AROUND)
        s = t;
    else
        s = sqrt(r * t);
    if (isnan(s))
        return fail(err, ERR_MISSING, "Give radial and tangential, or the wood.",
                    "The shrinkage in the direction asked for was not given");
    *p = (struct stuff_prior){.standing = STANDING_MEASURED, .source = "given by you"};
    p->dist = s > 0 ? num_dist_lognormal(s, OWN_FIGURE_LOG_SD) : num_dist_fixed(0);
    p->median = s;
    p->p05 = num_dist_quantile(&p->dist, 0.05);
    p->p95 = num_dist_quantile(&p->dist, 0.95);
    snprintf(p->basis, sizeof p->basis, "your figure, scatter of single pieces 15 %% of it");
    return 0;
}

static int shrinkage_looked_up(struct stuff_prior *p, const struct shrinkage_in *in,
                               struct arena *arena, struct error *err) {
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct stuff_change c = stuff_change(in->material, "fresh", "new and dry");
    c.direction = in->direction;
    c.ring_angle = in->ring_angle;
    c.moisture_new = 0;
    c.figures = in->figures;
    struct stuff_material m = stuff_material_read(shelf, in->material);
    struct stuff_alteration a;
    if (m.class != STUFF_WOOD)
        rc = fail(err, ERR_REFUSED,
                  "For bark, bast and hide use `relict calc material` or `alteration`.",
                  "\"%s\" is not taken for wood; this equation is for wood alone", in->material);
    else
        rc = stuff_alteration_prior(&a, shelf, &c, err);
    if (!rc) {
        *p = a.loss;
        p->source = arena_strdup(arena, a.loss.source);
        if (!p->source) rc = fail_memory(err);
    }
    stuff_shelf_free(shelf);
    return rc;
}

static int shrinkage_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct shrinkage_in *in = in_;
    struct shrinkage_out *out = out_;
    struct stuff_prior p;
    int rc = in->material ? shrinkage_looked_up(&p, in, arena, err) : shrinkage_given(&p, in, err);
    if (rc) return rc;
    double fsp = in->saturation;
    out->to_ovendry = p.median;
    out->size = in->size * stuff_size_ratio(p.median, in->from, in->to, fsp);
    double a = in->size * stuff_size_ratio(p.p05, in->from, in->to, fsp);
    double b = in->size * stuff_size_ratio(p.p95, in->from, in->to, fsp);
    out->size_p05 = fmin(a, b);
    out->size_p95 = fmax(a, b);
    out->change = 1 - out->size / in->size;
    out->coefficient = stuff_change_coefficient(p.median);
    out->standing = standing_words[p.standing];
    out->basis = arena_strdup(arena, p.basis);
    out->row_source = p.source;
    return out->basis ? 0 : fail_memory(err);
}

const struct method stuff_method_shrinkage = {
    "shrinkage",
    "Size of wood at one moisture from its size at another",
    "Wood Handbook FPL-GTR-282 Eq 4-9, Tables 4-3 and 13-5",
    "Linear from fibre saturation down. Species means scatter by 15 % from piece to piece. Not for "
    "bark, bast, hide, or decayed wood.",
    &shrinkage_in_kind,
    &shrinkage_out_kind,
    shrinkage_run,
    "{\"material\": \"hazel\", \"direction\": \"around\", \"from\": 100, \"to\": 12, \"size\": "
    "25}"};

/* ---- undo-change ---------------------------------------------------------------------------- */

struct undo_in {
    struct num_dist_entry measured, loss;
};
static const struct field undo_in_fields[] = {
    {AT(undo_in, measured), .label = "Measured size", .unit = "mm", .type = FIELD_RECORD,
     .sub = &num_dist_kind, .required = true, .help = "With its uncertainty."},
    {AT(undo_in, loss), .label = "Share lost", .type = FIELD_RECORD, .sub = &num_dist_kind,
     .required = true,
     .help = "As a fraction of the original; some publications print the size that is left."},
};
static const struct kind undo_in_kind = {"undo_in", "A size and what it lost",
                                         sizeof(struct undo_in), FIELDS(undo_in_fields), ""};
struct undo_out {
    double mean, sd, p025, p05, p50, p95, p975, mean_inverted;
};
#define SIZE(member, words, tip)                                                                   \
    { AT(undo_out, member), .label = words, .unit = "mm", .type = FIELD_REAL, .help = tip }
static const struct field undo_out_fields[] = {
    SIZE(mean, "Mean", "Of the original size."),
    SIZE(sd, "Standard uncertainty", "Of the original size."),
    SIZE(p025, "2.5 % point", "Of the original size."),
    SIZE(p05, "5 % point", "Of the original size."),
    SIZE(p50, "Median", "Of the original size."),
    SIZE(p95, "95 % point", "Of the original size."),
    SIZE(p975, "97.5 % point", "Of the original size."),
    SIZE(mean_inverted, "The wrong way", "Mean size over 1 less the mean loss: always too small."),
};
static const struct kind undo_out_kind = {"undo_out", "The original size", sizeof(struct undo_out),
                                          FIELDS(undo_out_fields), ""};

static int undo_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    (void)arena;
    const struct undo_in *in = in_;
    struct undo_out *out = out_;
    struct num_dist m, s;
    struct stuff_undone u;
    int rc = num_dist_from_entry(&m, &in->measured, err);
    if (!rc) rc = num_dist_from_entry(&s, &in->loss, err);
    if (!rc) rc = stuff_undo(&u, &m, &s, err);
    if (rc) return rc;
    *out = (struct undo_out){u.mean, u.sd, u.p025, u.p05, u.p50, u.p95, u.p975, u.mean_inverted};
    return 0;
}

const struct method stuff_method_undo_change = {
    "undo-change",
    "Original size from a measured size and a share lost, both with uncertainty",
    "JCGM 101:2008 (propagation of distributions); closed form for a uniform share",
    "L = m / (1 - s). The mean of the quotient is larger than the quotient of means.",
    &undo_in_kind,
    &undo_out_kind,
    undo_run,
    "{\"measured\": {\"family\": \"normal\", \"mean\": 100, \"sd\": 0.5}, "
    "\"loss\": {\"family\": \"uniform\", \"low\": 0.04, \"high\": 0.12}}"};

/* ---- alteration ----------------------------------------------------------------------------- */

struct alteration_in {
    const char *material, *from, *to, *treatment, *figures;
    long direction, decay;
    double ring_angle, moisture_new;
    struct records own;
};
static const struct field alteration_in_fields[] = {
    {AT(alteration_in, material), .label = "Material", .type = FIELD_TEXT, .required = true,
     .help = "As in the finds list.", .example = "Corylus avellana (split rod)"},
    {AT(alteration_in, from), .label = "Original state", .type = FIELD_TEXT, .preset = "fresh",
     .help = "fresh, or new and dry."},
    {AT(alteration_in, to), .label = "Measured state", .type = FIELD_TEXT, .required = true,
     .help = "in ground, wet in lab, after treatment, dried before treatment, part-dried.",
     .example = "after treatment"},
    {AT(alteration_in, treatment), .label = "Treatment", .type = FIELD_TEXT,
     .help = "As in the record: PEG, freeze-dried, alcohol-ether, air-dried.",
     .example = "PEG, freeze-dried"},
    {AT(alteration_in, figures), .label = "Figures of", .type = FIELD_TEXT,
     .help = "Whose figures to use; refused when it is another class of material."},
    {AT(alteration_in, direction), .label = "Direction", .type = FIELD_CHOICE, .preset = "across",
     .choices = stuff_direction_words, .help = "across: nobody knows, so wide."},
    {AT(alteration_in, decay), .label = "Decay of waterlogged wood", .type = FIELD_CHOICE,
     .choices = stuff_decay_words, .help = "Only where it was dried before treatment."},
    {AT(alteration_in, ring_angle), .label = "Ring angle", .unit = "degrees", .type = FIELD_REAL,
     .scale = 0.017453292519943295, .min = 0, .max = 90,
     .help = "From around (0) towards through (90)."},
    {AT(alteration_in, moisture_new), .label = "Moisture when new and dry",
     .unit = "percent of ovendry mass", .type = FIELD_REAL, .scale = 0.01, .min = 0, .max = 30,
     .help = "Of wood; 12 when not given."},
    {AT(alteration_in, own), .label = "Your own values", .type = FIELD_RECORDS,
     .sub = &stuff_own_kind, .help = "Stand before the tables."},
};
static const struct kind alteration_in_kind = {"alteration_in", "A piece in two states",
                                               sizeof(struct alteration_in),
                                               FIELDS(alteration_in_fields), ""};
struct alteration_out {
    double loss, p05, p95;
    const char *standing, *steps, *row_source, *note;
};
static const struct field alteration_out_fields[] = {
    SHARE(alteration_out, loss, "Share lost", "Of the original size; negative: it swelled."),
    SHARE(alteration_out, p05, "5 % point", "One in twenty lost less."),
    SHARE(alteration_out, p95, "95 % point", "One in twenty lost more."),
    WORDS(alteration_out, standing, "Standing", "Of the weakest figure in it."),
    WORDS(alteration_out, steps, "Steps", "What was put together."),
    WORDS(alteration_out, row_source, "Source", "Of the last step."),
    WORDS(alteration_out, note, "Note", "Of that row."),
};
static const struct kind alteration_out_kind = {"alteration_out", "What it lost",
                                                sizeof(struct alteration_out),
                                                FIELDS(alteration_out_fields), ""};

static int alteration_run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct alteration_in *in = in_;
    struct alteration_out *out = out_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct stuff_change c = stuff_change(in->material, in->from, in->to);
    c.treatment = in->treatment;
    c.figures = in->figures;
    c.direction = in->direction;
    c.decay = in->decay;
    c.ring_angle = in->ring_angle;
    c.moisture_new = in->moisture_new;
    struct stuff_alteration a;
    rc = stuff_alteration_prior(&a, shelf, &c, err);
    if (!rc) {
        out->loss = a.loss.median;
        out->p05 = a.loss.p05;
        out->p95 = a.loss.p95;
        out->standing = standing_words[a.loss.standing];
        out->steps = arena_strdup(arena, a.steps);
        out->row_source = arena_strdup(arena, a.loss.source);
        out->note = arena_strdup(arena, a.loss.note);
        if (!out->steps || !out->row_source || !out->note) rc = fail_memory(err);
    }
    stuff_shelf_free(shelf);
    return rc;
}

const struct method stuff_method_alteration = {
    "alteration",
    "What a piece is likely to have lost between two states, before anything is measured on it",
    "tables of this program; every step with its standing",
    "A prior only: rulers on the object itself (a stitch row against its dents, a slit against its "
    "lath) count for far more. Some conservation papers print the size that remains.",
    &alteration_in_kind,
    &alteration_out_kind,
    alteration_run,
    "{\"material\": \"Corylus avellana (split rod)\", \"to\": \"after treatment\", "
    "\"treatment\": \"PEG, freeze-dried\", \"direction\": \"around\"}"};
