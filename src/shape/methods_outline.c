/* relict calc outline. */
#include "shape/methods_inside.h"
#include "shape/outline.h"

#include <string.h>

struct outline_in {
    struct records evidence;
    struct shape_outline_options options;
    long rows, seed;
};
struct family_out {
    const char *family, *against;
    double probability, length_low, length, length_high, width_low, width, width_high;
    int excluded;
};
struct next_out {
    const char *what;
    double narrows;
    int touches;
};
struct outline_out {
    double length_low, length, length_high, width_low, width, width_high;
    double perimeter_low, perimeter, perimeter_high, area_low, area, area_high;
    double turn, edge_seen, band_width, centre_x, centre_y;
    int decided;
    struct records families, next;
    struct tuples band;
    double other_length_low, other_length, other_length_high;
    double other_width_low, other_width, other_width_high;
    long stages;
    double log_evidence;
    const char *verdict;
};

static const struct field outline_in_fields[] = {
    {.name = "evidence",
     .label = "Evidence",
     .type = FIELD_RECORDS,
     .sub = &shape_evidence_kind,
     .required = true,
     .offset = offsetof(struct outline_in, evidence),
     .help = "All readings that bear on the outline, in one plan and one state."},
    {.name = "options",
     .label = "Expected beforehand",
     .type = FIELD_RECORD,
     .sub = &shape_outline_options_kind,
     .offset = offsetof(struct outline_in, options),
     .help = "Priors; each has a preset."},
    {.name = "rows",
     .label = "Draws",
     .type = FIELD_INT,
     .preset = "4096",
     .offset = offsetof(struct outline_in, rows),
     .min = 512,
     .max = 65536,
     .help = "How many possible outlines."},
    {.name = "seed",
     .label = "Seed",
     .type = FIELD_INT,
     .preset = "1",
     .offset = offsetof(struct outline_in, seed),
     .min = 0,
     .max = 1e9,
     .help = "Of the random numbers."},
};
static const struct field family_out_fields[] = {
    OUT_TEXT(family_out, family, "Family", "Of outline."),
    OUT_REAL(family_out, probability, "Probability", "", "Given all readings."),
    OUT_FLAG(family_out, excluded, "Excluded", "Probability under 0.01."),
    OUT_TEXT(family_out, against, "What tells against it", "The reading it fits worst."),
    OUT_REAL(family_out, length_low, "Length, 5 %", "mm", "If it was this family."),
    OUT_REAL(family_out, length, "Length", "mm", "If it was this family."),
    OUT_REAL(family_out, length_high, "Length, 95 %", "mm", "If it was this family."),
    OUT_REAL(family_out, width_low, "Width, 5 %", "mm", "If it was this family."),
    OUT_REAL(family_out, width, "Width", "mm", "If it was this family."),
    OUT_REAL(family_out, width_high, "Width, 95 %", "mm", "If it was this family."),
};
static const struct kind family_out_kind = {"family_out", "One family of outline",
                                            sizeof(struct family_out), FIELDS(family_out_fields),
                                            "How likely, how long, how wide."};
static const struct field next_out_fields[] = {
    OUT_TEXT(next_out, what, "Measure", "What to measure next."),
    OUT_PERCENT(next_out, narrows, "Narrows the band by", "Expected."),
    OUT_FLAG(next_out, touches, "Touches the original", "It has to be handled."),
};
static const struct kind next_out_kind = {"next_out", "A further measurement",
                                          sizeof(struct next_out), FIELDS(next_out_fields),
                                          "What it would do to the band."};
static const struct field outline_out_fields[] = {
    OUT_REAL(outline_out, length_low, "Length, 5 %", "mm", "Over all families."),
    OUT_REAL(outline_out, length, "Length", "mm", "Median over all families."),
    OUT_REAL(outline_out, length_high, "Length, 95 %", "mm", "Over all families."),
    OUT_REAL(outline_out, width_low, "Width, 5 %", "mm", "Over all families."),
    OUT_REAL(outline_out, width, "Width", "mm", "Median over all families."),
    OUT_REAL(outline_out, width_high, "Width, 95 %", "mm", "Over all families."),
    OUT_REAL(outline_out, perimeter_low, "Edge all round, 5 %", "mm", "Over all families."),
    OUT_REAL(outline_out, perimeter, "Edge all round", "mm", "Median."),
    OUT_REAL(outline_out, perimeter_high, "Edge all round, 95 %", "mm", "Over all families."),
    OUT_REAL(outline_out, area_low, "Area, 5 %", "mm²", "Over all families."),
    OUT_REAL(outline_out, area, "Area", "mm²", "Median."),
    OUT_REAL(outline_out, area_high, "Area, 95 %", "mm²", "Over all families."),
    OUT_DEGREES(outline_out, turn, "Direction of the long axis", "Median; from x of the plan."),
    OUT_PERCENT(outline_out, edge_seen, "Edge that is there", "Of the whole edge."),
    OUT_PERCENT(outline_out, band_width, "Width of the band", "Mean, of the length."),
    OUT_FLAG(outline_out, decided, "Family decided",
             "Probability above 0.95 and 30 % of the edge there."),
    OUT_TEXT(outline_out, verdict, "In words", "What may be said."),
    {.name = "families",
     .label = "Families",
     .type = FIELD_RECORDS,
     .sub = &family_out_kind,
     .offset = offsetof(struct outline_out, families),
     .help = "Likeliest first."},
    {.name = "next",
     .label = "What would narrow it most",
     .type = FIELD_RECORDS,
     .sub = &next_out_kind,
     .offset = offsetof(struct outline_out, next),
     .help = "Best first."},
    OUT_REAL(outline_out, centre_x, "Centre of the band x", "mm", "In the plan."),
    OUT_REAL(outline_out, centre_y, "Centre of the band y", "mm", "In the plan."),
    {.name = "band",
     .label = "Band",
     .unit = "degrees and mm",
     .type = FIELD_TUPLES,
     .width = 6,
     .offset = offsetof(struct outline_out, band),
     .help =
         "Direction; radius 5 %, 50 %, 95 % pointwise; low and high of the band that holds nine "
         "whole outlines of ten."},
    OUT_REAL(outline_out, other_length_low, "Length, 5 %, other assumption", "mm",
             "With pieces inside surviving not alike (or alike)."),
    OUT_REAL(outline_out, other_length, "Length, other assumption", "mm", "Likewise."),
    OUT_REAL(outline_out, other_length_high, "Length, 95 %, other assumption", "mm", "Likewise."),
    OUT_REAL(outline_out, other_width_low, "Width, 5 %, other assumption", "mm", "Likewise."),
    OUT_REAL(outline_out, other_width, "Width, other assumption", "mm", "Likewise."),
    OUT_REAL(outline_out, other_width_high, "Width, 95 %, other assumption", "mm", "Likewise."),
    OUT_INT(outline_out, stages, "Stages", "Of the sampling."),
    OUT_REAL(outline_out, log_evidence, "Evidence", "", "Natural logarithm, all families."),
};
static const struct kind outline_in_kind = {"outline_in", "What is left of an edge",
                                            sizeof(struct outline_in), FIELDS(outline_in_fields),
                                            "Evidence of every kind."};
static const struct kind outline_out_kind = {"outline_out", "The outline",
                                             sizeof(struct outline_out), FIELDS(outline_out_fields),
                                             "Bands, sizes, families, what next."};

static int lists_fill(struct outline_out *o, const struct shape_outline *s, struct arena *arena,
                      struct error *err) {
    struct family_out *f = ARENA_NEW(arena, struct family_out, s->n_families);
    struct next_out *n = ARENA_NEW(arena, struct next_out, s->n_next);
    double *b = ARENA_NEW(arena, double, 6 * SHAPE_BAND);
    if (!f || !n || !b) return fail_memory(err);
    for (size_t k = 0; k < s->n_families; k++) {
        const struct shape_family_share *q = &s->family[k];
        f[k] = (struct family_out){shape_family_words[q->family],
                                   q->by,
                                   q->probability,
                                   q->length.p05,
                                   q->length.p50,
                                   q->length.p95,
                                   q->width.p05,
                                   q->width.p50,
                                   q->width.p95,
                                   q->excluded};
    }
    for (size_t k = 0; k < s->n_next; k++)
        n[k] = (struct next_out){s->next[k].what, s->next[k].narrows, s->next[k].touches};
    for (size_t k = 0; k < SHAPE_BAND; k++) {
        const struct shape_band *q = &s->band[k];
        double row[6] = {
            360.0 * k / SHAPE_BAND, q->low, q->middle, q->high, q->low_all, q->high_all};
        memcpy(b + 6 * k, row, sizeof row);
    }
    o->families = (struct records){s->n_families, f};
    o->next = (struct records){s->n_next, n};
    o->band = (struct tuples){SHAPE_BAND, 6, b};
    return 0;
}

static int outline_fill(struct outline_out *o, const struct shape_outline_result *r,
                        struct arena *arena, struct error *err) {
    const struct shape_outline *s = &r->main;
    o->length_low = s->length.p05, o->length = s->length.p50, o->length_high = s->length.p95;
    o->width_low = s->width.p05, o->width = s->width.p50, o->width_high = s->width.p95;
    o->perimeter_low = s->perimeter.p05, o->perimeter = s->perimeter.p50;
    o->perimeter_high = s->perimeter.p95;
    o->area_low = s->area.p05, o->area = s->area.p50, o->area_high = s->area.p95;
    o->turn = s->turn.p50, o->edge_seen = s->edge_seen, o->band_width = s->band_width;
    o->centre_x = s->centre.x, o->centre_y = s->centre.y, o->decided = s->decided;
    o->stages = s->stages, o->log_evidence = s->log_evidence;
    if (r->has_other) {
        const struct shape_outline *q = &r->other;
        o->other_length_low = q->length.p05, o->other_length = q->length.p50;
        o->other_length_high = q->length.p95, o->other_width_low = q->width.p05;
        o->other_width = q->width.p50, o->other_width_high = q->width.p95;
    }
    const struct shape_family_share *f = &s->family[0];
    o->verdict = s->decided ? arena_printf(arena, "Decided: %s.", shape_family_words[f->family])
                            : arena_printf(arena, "Not decided: %s leads with probability %.2f.",
                                           shape_family_words[f->family], f->probability);
    if (!o->verdict) return fail_memory(err);
    return lists_fill(o, s, arena, err);
}

static int outline_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct outline_in *i = in;
    struct shape_evidence *e = ARENA_NEW(arena, struct shape_evidence, i->evidence.n);
    struct num_rows *rows = NULL;
    struct shape_outline_result r = {0};
    if (!e) return fail_memory(err);
    memcpy(e, i->evidence.v, i->evidence.n * sizeof *e);
    for (size_t k = 0; k < i->evidence.n; k++) {
        if (e[k].what == SHAPE_MIDLINE) e[k].u *= DEGREE; /* the one ± that is an angle */
        if ((e[k].along && *e[k].along) || (e[k].around && *e[k].around))
            return fail(err, ERR_USAGE, "Bring all readings to one state before.",
                        "Reading %s names a column of an ensemble, which `calc` does not have.",
                        e[k].id);
    }
    struct shape_outline_input input = {i->evidence.n, e, i->options, NULL};
    int rc = num_rows_new(&rows, (size_t)i->rows, (uint64_t)i->seed, err);
    if (!rc) rc = shape_outline_stage(&r, &input, rows, NULL, arena, err);
    if (!rc) rc = outline_fill(out, &r, arena, err);
    num_rows_free(rows);
    shape_outline_model_free(r.model);
    return rc;
}

const struct method shape_method_outline = {
    "outline",
    "The closed outline from arcs, straight runs, corners, stitch rows, sizes and pieces inside",
    "families of closed curves weighed by evidence; correlated waviness: Rybicki & Press, Physical "
    "Review Letters 74 (1995) 1060; sampling: Del Moral, Doucet & Jasra, J. R. Stat. Soc. B 68 "
    "(2006) "
    "411-436",
    "The family is averaged over; it is called decided only above 0.95 and with 30 % of the edge. "
    "The "
    "band assumes that the outline was like one of the families listed.",
    &outline_in_kind,
    &outline_out_kind,
    outline_run,
    "{\"evidence\": [{\"id\": \"A20\", \"what\": \"rise\", \"chord\": 126, \"value\": 17, \"u\": "
    "0.5}, "
    "{\"id\": \"A22\", \"what\": \"straight\", \"chord\": 97, \"value\": 0.5}, {\"id\": \"A40\", "
    "\"what\": \"length\", \"value\": 510, \"u\": 15}, {\"id\": \"A40 width\", \"what\": "
    "\"width\", "
    "\"value\": 335, \"u\": 12}], \"rows\": 512}"};
