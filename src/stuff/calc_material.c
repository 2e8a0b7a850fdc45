/* The method `material`: what is known beforehand of any property. */
#include "stuff/material.h"
#include "stuff/stuff_methods.h"

#define AT(of, member) .name = #member, .offset = offsetof(struct of, member)

struct material_in {
    const char *material;
    long class, layer, property, direction, state;
    struct records own;
};
static const struct field in_fields[] = {
    {AT(material_in, material), .label = "Material", .type = FIELD_TEXT, .required = true,
     .help = "As in the finds list; two species may be given with / or `or` between.",
     .example = "Tilia sp.? / Ulmus sp.? bark"},
    {AT(material_in, class), .label = "Class", .type = FIELD_CHOICE, .choices = stuff_class_words,
     .help = "Where the name does not say it."},
    {AT(material_in, layer), .label = "Layer of bark", .type = FIELD_CHOICE,
     .choices = stuff_layer_words, .preset = "whole", .help = "Whole sheet, or one of its layers."},
    {AT(material_in, property), .label = "Property", .type = FIELD_CHOICE,
     .choices = stuff_property_words, .required = true, .help = "What is asked for.",
     .example = "shrinkage"},
    {AT(material_in, direction), .label = "Direction", .type = FIELD_CHOICE,
     .choices = stuff_direction_words, .help = "across: nobody knows, so wide."},
    {AT(material_in, state), .label = "State", .type = FIELD_CHOICE, .choices = stuff_state_words,
     .preset = "dry", .help = "Dry is air-dry, about 12 % moisture."},
    {AT(material_in, own), .label = "Your own values", .type = FIELD_RECORDS,
     .sub = &stuff_own_kind, .help = "Stand before the tables."},
};
static const struct kind in_kind = {"material_in", "What is asked", sizeof(struct material_in),
                                    FIELDS(in_fields), ""};
struct material_out {
    double median, p05, p95;
    const char *unit, *distribution, *standing, *basis, *row, *row_source, *note;
};
#define NUMBER(member, words)                                                                      \
    { AT(material_out, member), .label = words, .type = FIELD_REAL, .help = "In `unit`." }
#define WORDS(member, words, tip)                                                                  \
    { AT(material_out, member), .label = words, .type = FIELD_TEXT, .help = tip }
static const struct field out_fields[] = {
    NUMBER(median, "Median"),
    NUMBER(p05, "5 % point"),
    NUMBER(p95, "95 % point"),
    WORDS(unit, "Unit", "Of the three numbers; none for a ratio."),
    WORDS(distribution, "Distribution", "In words."),
    WORDS(standing, "Standing", "How it is known; a guess is wide and says so."),
    WORDS(basis, "Basis", "What stood in for what."),
    WORDS(row, "Row", "File and line of the table."),
    WORDS(row_source, "Source", "Behind the row."),
    WORDS(note, "Note", "Of the row."),
};
static const struct kind out_kind = {"material_out", "What is known", sizeof(struct material_out),
                                     FIELDS(out_fields), ""};

static int fill(struct material_out *out, const struct stuff_prior *p, struct arena *arena,
                struct error *err) {
    char text[160];
    num_dist_text(&p->dist, text, sizeof text);
    out->median = p->median;
    out->p05 = p->p05;
    out->p95 = p->p95;
    out->unit = p->unit;
    out->distribution = arena_strdup(arena, text);
    out->standing = standing_words[p->standing];
    out->basis = arena_strdup(arena, p->basis);
    out->row = p->table && *p->table ? arena_printf(arena, "%s line %ld", p->table, p->line) : NULL;
    out->row_source = arena_strdup(arena, p->source);
    out->note = arena_strdup(arena, p->note);
    return out->distribution && out->basis ? 0 : fail_memory(err);
}

static int run(const void *in_, void *out_, struct arena *arena, struct error *err) {
    const struct material_in *in = in_;
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_with(&shelf, &in->own, err);
    if (rc) return rc;
    struct stuff_ask ask = {in->material, in->class,     in->layer,
                            in->property, in->direction, in->state};
    struct stuff_prior p;
    if (!rc) rc = stuff_material_prior(&p, shelf, &ask, err);
    if (!rc) rc = fill(out_, &p, arena, err);
    stuff_shelf_free(shelf);
    return rc;
}

const struct method stuff_method_material = {
    "material",
    "What is known beforehand of a property of a wood, bark, bast, hide or sinew",
    "tables of this program; the row's own source stands beside the answer",
    "Units are mm, N, MPa, g, s and fractions. A value your own team measured stands before the "
    "tables. Wood's figures are never given for bark.",
    &in_kind,
    &out_kind,
    run,
    "{\"material\": \"willow bark\", \"property\": \"shrinkage\", \"direction\": \"around\"}"};
