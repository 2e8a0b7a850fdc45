/* calc_layout: `relict calc cutting`, `nesting`, `no-fit`. */
#include "gather/cutting.h"
#include "gather/describe.h"
#include "gather/gather_methods.h"
#include "gather/nest.h"

#include <math.h>

/* ---- cutting ----------------------------------------------------------------------------------
 */

static const struct field piece_fields[] = {
    F_TEXT(cut_piece, name, "Name", "What it is."),
    {AT(cut_piece, length), .label = "Length", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "It must be above 0."},
    {AT(cut_piece, number), .label = "Number", .type = FIELD_INT, .max = 10000, .preset = "1",
     .help = "How many."},
};
static const struct kind cut_piece_kind = {"cut_piece", "A length wanted", sizeof(struct cut_piece),
                                           FIELDS(piece_fields), ""};
static const struct field stock_fields[] = {
    F_TEXT(cut_stock, name, "Name", "Which pole."),
    {AT(cut_stock, length), .label = "Length", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true, .help = "Usable."},
    {AT(cut_stock, number), .label = "In hand", .type = FIELD_INT, .min = -1, .max = 100000,
     .preset = "-1", .help = "How many; -1: as many as needed."},
};
static const struct kind cut_stock_kind = {"cut_stock", "A pole in hand", sizeof(struct cut_stock),
                                           FIELDS(stock_fields), ""};
struct cutting_in {
    struct records pieces, stock;
    double kerf;
};
static const struct field cutting_in_fields[] = {
    {AT(cutting_in, pieces), .label = "Wanted", .type = FIELD_RECORDS, .sub = &cut_piece_kind,
     .required = true, .help = "Lengths to be cut."},
    {AT(cutting_in, stock), .label = "Stock", .type = FIELD_RECORDS, .sub = &cut_stock_kind,
     .required = true, .help = "What they are cut from."},
    {AT(cutting_in, kerf), .label = "Kerf", .unit = "mm", .type = FIELD_REAL, .max = 50,
     .preset = "0", .help = "Width of the cut; 0 for a knife."},
};
static const struct kind cutting_in_kind = {
    "cutting", "Lengths and poles", sizeof(struct cutting_in), FIELDS(cutting_in_fields), ""};
struct pattern_out {
    const char *stock;
    long times;
    struct reals lengths;
    double waste;
};
static const struct field pattern_fields[] = {
    F_TEXT(pattern_out, stock, "Stock", "Which pole."),
    {AT(pattern_out, times), .label = "Times", .type = FIELD_INT,
     .help = "How often it is cut so."},
    {AT(pattern_out, lengths), .label = "Lengths", .unit = "mm", .type = FIELD_REALS,
     .help = "Cut from one pole."},
    F_OUT(pattern_out, waste, "Waste", "mm", "Of one pole, kerfs included."),
};
static const struct kind pattern_kind = {"cut_pattern", "How a pole is cut",
                                         sizeof(struct pattern_out), FIELDS(pattern_fields), ""};
struct cutting_out {
    long used, first_fit, missing, proved;
    double used_length, bound, waste_share;
    struct records patterns;
};
static const struct field cutting_out_fields[] = {
    {AT(cutting_out, used), .label = "Poles used", .type = FIELD_INT, .help = "In this plan."},
    {AT(cutting_out, first_fit), .label = "First-fit decreasing", .type = FIELD_INT,
     .help = "Poles the usual way of cutting would take; -1: the stock runs out."},
    {AT(cutting_out, missing), .label = "Missing", .type = FIELD_INT,
     .help = "Pieces that cannot be had."},
    {AT(cutting_out, proved), .label = "Proved", .type = FIELD_INT,
     .help = "1: no plan can be better."},
    F_OUT(cutting_out, used_length, "Length used", "mm", "Of stock."),
    F_OUT(cutting_out, bound, "Lower bound", "mm", "No plan can take less."),
    F_OUT_SHARE(cutting_out, waste_share, "Waste", "Share of the stock used."),
    F_LIST(cutting_out, patterns, "Patterns", pattern_kind, "How to cut."),
};
static const struct kind cutting_out_kind = {
    "cutting_answer", "A cutting plan", sizeof(struct cutting_out), FIELDS(cutting_out_fields), ""};

static int pattern_of(struct pattern_out *out, const struct cut_pattern *p,
                      const struct cutting_in *in, struct arena *arena) {
    const struct cut_piece *piece = in->pieces.v;
    const struct cut_stock *stock = in->stock.v;
    size_t n = 0;
    for (size_t i = 0; i < in->pieces.n; i++)
        n += (size_t)p->count[i];
    *out = (struct pattern_out){
        stock[p->stock].name, p->times, {0, ARENA_NEW(arena, double, n)}, p->waste};
    if (!out->lengths.v) return ERR_MEMORY;
    for (size_t i = 0; i < in->pieces.n; i++)
        for (long k = 0; k < p->count[i]; k++)
            out->lengths.v[out->lengths.n++] = piece[i].length;
    return 0;
}

static int run_cutting(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct cutting_in *i = in;
    struct cutting_out *o = out;
    struct cut_plan plan;
    int rc =
        gather_cut(&plan, i->pieces.v, i->pieces.n, i->stock.v, i->stock.n, i->kerf, arena, err);
    if (rc) return rc;
    struct pattern_out *p = ARENA_NEW(arena, struct pattern_out, plan.patterns);
    if (!p) return fail_memory(err);
    for (size_t k = 0; k < plan.patterns; k++)
        if (pattern_of(&p[k], &plan.pattern[k], i, arena)) return fail_memory(err);
    *o = (struct cutting_out){.used = plan.used,
                              .first_fit = plan.first_fit,
                              .proved = plan.proved,
                              .used_length = plan.used_length,
                              .bound = plan.bound,
                              .waste_share = plan.waste_share,
                              .patterns = {plan.patterns, p}};
    for (size_t k = 0; k < i->pieces.n; k++)
        o->missing += plan.missing[k];
    return 0;
}

const struct method gather_method_cutting = {
    "cutting",
    "Plans how to cut lengths from poles with the least stock",
    "Gilmore & Gomory, Operations Research 9, 1961, 849; integer plan over the patterns by branch "
    "and bound",
    "Whole millimetres. Stock that runs out is told as missing pieces, not as an error.",
    &cutting_in_kind,
    &cutting_out_kind,
    run_cutting,
    "{\"pieces\": [{\"name\": \"long lath\", \"length\": 322, \"number\": 3}, {\"name\": \"short "
    "lath\", \"length\": "
    "227, \"number\": 4}], \"stock\": [{\"name\": \"split pole\", \"length\": 1800, \"number\": "
    "3}], \"kerf\": 3}",
};

/* ---- nesting ----------------------------------------------------------------------------------
 */

struct part_in {
    const char *name;
    struct tuples outline;
    long number;
    int half_turn, mirror;
};
static const struct field part_in_fields[] = {
    F_TEXT(part_in, name, "Name", "What it is."),
    {AT(part_in, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "Corners in order, grain along x."},
    {AT(part_in, number), .label = "Number", .type = FIELD_INT, .max = 600, .preset = "1",
     .help = "How many."},
    F_FLAG(part_in, half_turn, "Half turn", "It may be turned end for end."),
    F_FLAG(part_in, mirror, "Turn over", "Its face does not matter."),
};
static const struct kind part_in_kind = {"nest_part", "A part to lay out", sizeof(struct part_in),
                                         FIELDS(part_in_fields), ""};
struct fault_in {
    struct tuples outline;
};
static const struct field fault_in_fields[] = {
    {AT(fault_in, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "Of the fault, on the sheet."},
};
static const struct kind fault_in_kind = {"nest_fault", "A fault", sizeof(struct fault_in),
                                          FIELDS(fault_in_fields), ""};
struct sheet_in {
    const char *name;
    struct tuples outline;
    struct records faults;
};
static const struct field sheet_in_fields[] = {
    F_TEXT(sheet_in, name, "Name", "Which sheet or stem."),
    {AT(sheet_in, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "Corners in order, grain along x."},
    F_LIST(sheet_in, faults, "Faults", fault_in_kind, "Places no part may use."),
};
static const struct kind nest_sheet_kind = {"nest_sheet", "A sheet", sizeof(struct sheet_in),
                                            FIELDS(sheet_in_fields), ""};
struct nesting_in {
    struct records parts, sheets;
    double strip_width, gap;
    long seed;
};
static const struct field nesting_in_fields[] = {
    {AT(nesting_in, parts), .label = "Parts", .type = FIELD_RECORDS, .sub = &part_in_kind,
     .required = true, .help = "What is to be laid out."},
    F_LIST(nesting_in, sheets, "Sheets", nest_sheet_kind, "Filled in this order."),
    F_MM(nesting_in, strip_width, "Strip width", "In place of sheets: a strip as short as can be."),
    {AT(nesting_in, gap), .label = "Gap", .unit = "mm", .type = FIELD_REAL, .max = 100,
     .preset = "0", .help = "Kept between parts."},
    {AT(nesting_in, seed), .label = "Seed", .type = FIELD_INT, .max = 1e15, .preset = "1",
     .help = "Another seed may find another layout."},
};
static const struct kind nesting_in_kind = {
    "nesting", "Parts and sheets", sizeof(struct nesting_in), FIELDS(nesting_in_fields), ""};
struct place_out {
    const char *part, *sheet;
    double x, y;
    long turned, mirrored;
    struct tuples outline;
};
static const struct field place_fields[] = {
    F_TEXT(place_out, part, "Part", "Which."),
    F_TEXT(place_out, sheet, "Sheet", "On which."),
    F_OUT(place_out, x, "x", "mm", "Added to its outline."),
    F_OUT(place_out, y, "y", "mm", "Added to its outline."),
    {AT(place_out, turned), .label = "Turned", .type = FIELD_INT, .help = "1: end for end."},
    {AT(place_out, mirrored), .label = "Turned over", .type = FIELD_INT, .help = "1: face down."},
    {AT(place_out, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .help = "As it lies on the sheet."},
};
static const struct kind place_kind = {"nest_place", "Where a part lies", sizeof(struct place_out),
                                       FIELDS(place_fields), ""};
struct nesting_out {
    struct records places;
    struct reals use;
    long missing;
    double length, used_share, worst_overlap;
};
static const struct field nesting_out_fields[] = {
    F_LIST(nesting_out, places, "Places", place_kind, "Where each part lies."),
    {AT(nesting_out, use), .label = "Use", .unit = "fraction", .type = FIELD_REALS,
     .help = "Share of each sheet that is parts."},
    {AT(nesting_out, missing), .label = "Missing", .type = FIELD_INT,
     .help = "Parts that found no room."},
    F_OUT(nesting_out, length, "Strip length", "mm", "Used."),
    F_OUT_SHARE(nesting_out, used_share, "Use in all", "Of the sheets that are used."),
    F_OUT(nesting_out, worst_overlap, "Worst overlap", "mm", "Left; under a pencil line."),
};
static const struct kind nesting_out_kind = {
    "nesting_answer", "A layout", sizeof(struct nesting_out), FIELDS(nesting_out_fields), ""};

static struct nest_ring ring_of(const struct tuples *t) {
    return (struct nest_ring){t->n, t->v};
}

static int read_nesting(struct nest_part **part, struct nest_sheet **sheet,
                        const struct nesting_in *i, struct arena *arena) {
    const struct part_in *p = i->parts.v;
    const struct sheet_in *s = i->sheets.v;
    *part = ARENA_NEW(arena, struct nest_part, i->parts.n);
    *sheet = ARENA_NEW(arena, struct nest_sheet, i->sheets.n);
    if (!*part || !*sheet) return ERR_MEMORY;
    for (size_t k = 0; k < i->parts.n; k++)
        (*part)[k] = (struct nest_part){p[k].name, ring_of(&p[k].outline), p[k].number,
                                        p[k].half_turn == 1, p[k].mirror == 1};
    for (size_t k = 0; k < i->sheets.n; k++) {
        struct nest_ring *fault = ARENA_NEW(arena, struct nest_ring, s[k].faults.n);
        if (!fault) return ERR_MEMORY;
        for (size_t f = 0; f < s[k].faults.n; f++)
            fault[f] = ring_of(&((const struct fault_in *)s[k].faults.v)[f].outline);
        (*sheet)[k] = (struct nest_sheet){s[k].name, ring_of(&s[k].outline), s[k].faults.n, fault};
    }
    return 0;
}

static int write_nesting(struct nesting_out *o, const struct nest_layout *l,
                         const struct nest_part *part, const struct nesting_in *i,
                         struct arena *arena) {
    const struct sheet_in *s = i->sheets.v;
    struct place_out *p = ARENA_NEW(arena, struct place_out, l->n);
    if (!p) return ERR_MEMORY;
    for (size_t k = 0; k < l->n; k++) {
        const struct nest_place *q = &l->place[k];
        size_t n = part[q->part].ring.n;
        p[k] = (struct place_out){
            part[q->part].name, i->sheets.n ? s[q->sheet].name : "strip", q->x, q->y, q->turned,
            q->mirrored,        {n, 2, ARENA_NEW(arena, double, 2 * n)}};
        if (!p[k].outline.v) return ERR_MEMORY;
        gather_nest_ring(q, &part[q->part], p[k].outline.v);
    }
    o->places = (struct records){l->n, p};
    o->use = (struct reals){i->sheets.n ? i->sheets.n : 1, l->use};
    o->missing = 0;
    for (size_t k = 0; k < i->parts.n; k++)
        o->missing += l->missing[k];
    o->length = l->length > 0 ? l->length : NAN;
    o->used_share = l->sheet_area > 0 ? l->part_area / l->sheet_area : 0;
    o->worst_overlap = l->worst_overlap;
    return 0;
}

static int run_nesting(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct nesting_in *i = in;
    struct nest_part *part;
    struct nest_sheet *sheet;
    struct nest_layout layout;
    if ((i->sheets.n == 0) == isnan(i->strip_width))
        return fail(err, ERR_USAGE, "Give sheets, or the width of a strip.",
                    "There must be either sheets or a strip.");
    if (read_nesting(&part, &sheet, i, arena)) return fail_memory(err);
    struct nest_options o = {.gap = i->gap, .seed = (uint64_t)i->seed};
    int rc = i->sheets.n
                 ? gather_nest(&layout, part, i->parts.n, sheet, i->sheets.n, &o, arena, err)
                 : gather_nest_strip(&layout, part, i->parts.n, i->strip_width, &o, arena, err);
    if (rc) return rc;
    return write_nesting(out, &layout, part, i, arena) ? fail_memory(err) : 0;
}

const struct method gather_method_nesting = {
    "nesting",
    "Lays parts on sheets round their faults, with the grain kept",
    "no-fit polygons; guided local search: Umetani et al., Int. Trans. Oper. Res. 16, 2009, 661; "
    "Egeblad, Nielsen & "
    "Odgaard, Eur. J. Oper. Res. 183, 2007, 1249",
    "A good layout, not a proved one: try some seeds. Parts may overlap by at most 0.02 mm.",
    &nesting_in_kind,
    &nesting_out_kind,
    run_nesting,
    "{\"parts\": [{\"name\": \"sheet\", \"outline\": [[0,0],[623,0],[623,412],[0,412]]}, "
    "{\"name\": \"strip\", "
    "\"outline\": [[0,0],[300,0],[300,40],[0,40]], \"number\": 4}], \"sheets\": [{\"name\": \"stem "
    "1\", \"outline\": "
    "[[0,0],[1500,8],[1500,492],[0,500]], \"faults\": [{\"outline\": "
    "[[700,200],[760,200],[760,240],[700,240]]}]}], "
    "\"gap\": 2}",
};

/* ---- no-fit ------------------------------------------------------------------------------------
 */

struct no_fit_in {
    struct tuples fixed, moving;
};
static const struct field no_fit_in_fields[] = {
    {AT(no_fit_in, fixed), .label = "Fixed", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "The part that lies."},
    {AT(no_fit_in, moving), .label = "Moving", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .required = true, .help = "The part that is laid beside it."},
};
static const struct kind no_fit_in_kind = {"no_fit", "Two parts", sizeof(struct no_fit_in),
                                           FIELDS(no_fit_in_fields), ""};
struct no_fit_out {
    double area, perimeter;
    struct tuples outline;
    long rings;
};
static const struct field no_fit_out_fields[] = {
    F_OUT(no_fit_out, area, "Area", "mm2", "Of the places the moving part's origin must not be."),
    F_OUT(no_fit_out, perimeter, "Perimeter", "mm", "Of it, holes included."),
    {AT(no_fit_out, rings), .label = "Rings", .type = FIELD_INT,
     .help = "More than one: it has holes."},
    {AT(no_fit_out, outline), .label = "Outline", .unit = "mm", .type = FIELD_TUPLES, .width = 2,
     .help = "Its outer ring."},
};
static const struct kind no_fit_out_kind = {"no_fit_answer", "Their no-fit polygon",
                                            sizeof(struct no_fit_out), FIELDS(no_fit_out_fields),
                                            ""};

static int run_no_fit(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct no_fit_in *i = in;
    struct no_fit_out *o = out;
    struct nest_no_fit f;
    struct nest_ring a = ring_of(&i->fixed), b = ring_of(&i->moving);
    int rc = gather_no_fit(&f, &a, &b, arena, err);
    if (rc) return rc;
    *o = (struct no_fit_out){f.area, f.perimeter, {0, 2, NULL}, (long)f.rings};
    o->outline.n = f.rings ? f.ring[0].n : 0;
    o->outline.v = f.rings ? (double *)f.ring[0].xy : NULL;
    return 0;
}

const struct method gather_method_no_fit = {
    "no-fit",
    "Works out the no-fit polygon of two parts",
    "Minkowski sum of one part with the other mirrored in its origin",
    NULL,
    &no_fit_in_kind,
    &no_fit_out_kind,
    run_no_fit,
    "{\"fixed\": [[0,0],[4,0],[4,3],[0,3]], \"moving\": [[0,0],[2,0],[0,1]]}",
};
