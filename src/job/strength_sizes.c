/* With which sizes the step works: those of the leading making, new and dry, each over the possible
 * originals. A making is cut fresh; the sizes of the pieces say what drying leaves
 * (remains/sizes.h). */
#include "job/strength.h"

#include "remains/sizes.h"

#include <math.h>
#include <stdio.h>

/* Columns of what drying leaves, NUM_NO_COLUMN where the tables do not know the stuff. */
struct left_columns {
    size_t along, around, through, wood;
};

/* One of them; of a stuff the tables do not know nothing is taken away. */
static int left_column(size_t *col, struct stage_run *r, long substance, const char *taxon,
                       const char *material, enum axis axis, struct error *err) {
    static const struct find nothing;
    struct piece piece;
    struct error why = {0};
    field_unknown(&piece_kind, &piece);
    piece.substance = substance;
    piece.taxon = taxon;
    piece.material = material;
    *col = NUM_NO_COLUMN;
    int rc = remains_dry_factor(col, r->now ? &r->now->find : &nothing, r->rows, &piece, axis,
                                r->arena, &why);
    if (rc == ERR_MEMORY) return fail_memory(err);
    if (rc) *col = NUM_NO_COLUMN;
    return 0;
}

static int find_left(struct left_columns *c, struct stage_run *r, const struct strength_work *b,
                     struct error *err) {
    const struct part *lath = makings_part(b->fresh, b->making, PART_LATH, NULL);
    long stuff = b->sheet->substance == FIELD_UNKNOWN ? SUBSTANCE_BARK : b->sheet->substance;
    const char *taxon = b->sheet->taxon, *wood = strength_wood(lath),
               *bark = stuff == SUBSTANCE_BARK ? strength_bark(b, r->arena) : taxon;
    if (stuff == SUBSTANCE_BARK && !bark) return fail_memory(err);
    int rc = left_column(&c->along, r, stuff, taxon, bark, AXIS_ALONG, err);
    if (!rc) rc = left_column(&c->around, r, stuff, taxon, bark, AXIS_AROUND, err);
    if (!rc) rc = left_column(&c->through, r, stuff, taxon, bark, AXIS_THROUGH, err);
    return rc ? rc : left_column(&c->wood, r, SUBSTANCE_SPLIT_WOOD, wood, wood, AXIS_ACROSS, err);
}

/* A size of the leading making over the possible originals: the column's own scatter about the size
 * the making has, whoever gave it, times what drying leaves. */
struct dried_size {
    size_t size, left[2]; /* of a direction between two: their shares are mixed */
    double made;          /* the making's size over the middle of the column */
    double mix;           /* share of left[0], the rest of left[1] */
};

static double left_of(const double *row, const size_t left[2], double mix) {
    double sum = 0;
    for (int k = 0; k < 2; k++)
        sum += (k ? 1 - mix : mix) * (left[k] == NUM_NO_COLUMN ? 1 : row[left[k]]);
    return sum;
}

static double dried(const double *row, void *context) {
    const struct dried_size *d = context;
    return d->made * row[d->size] * left_of(row, d->left, d->mix);
}

static const size_t nothing_lost[2] = {NUM_NO_COLUMN, NUM_NO_COLUMN};

/* `id`: of the size as cut; a size that no step gave is a guess about the making's. */
static int size_input(size_t *col, struct stage_run *r, const char *id, double size,
                      const size_t left[2], double mix, struct error *err) {
    struct dried_size *d = ARENA_NEW(r->arena, struct dried_size, 1);
    char name[96];
    int rc = d ? 0 : fail_memory(err);
    if (rc) return rc;
    size_t cut = num_rows_find(r->rows, id);
    bool guess = cut == NUM_NO_COLUMN;
    if (guess) {
        const struct num_dist about = num_dist_lognormal(size, 0.15);
        snprintf(name, sizeof name, "guess.%s", id);
        rc = num_rows_root(r->rows, name, &about, &cut, err);
    }
    if (rc) return rc;
    *d = (struct dried_size){cut, {left[0], left[1]}, 1, mix};
    if (!guess && size > 0) d->made = size / num_rows_quantile(r->rows, cut, 0.5);
    size_t from[3], n = 0;
    from[n++] = cut;
    for (int k = 0; k < 2; k++)
        if (left[k] != NUM_NO_COLUMN) from[n++] = left[k];
    snprintf(name, sizeof name, "%s.%s", left == nothing_lost ? "made" : "dry", id);
    return num_rows_derive(r->rows, name, from, n, dried, d, col, err);
}

static double middle_of(const struct stage_run *r, size_t col) {
    return col == NUM_NO_COLUMN ? 1 : num_rows_quantile(r->rows, col, 0.5);
}

int strength_sizes(struct strength_inputs *in, struct stage_run *r, struct strength_work *b,
                   struct error *err) {
    const struct part *sheet = b->sheet, *lath = makings_part(b->fresh, b->making, PART_LATH, NULL);
    struct left_columns c;
    int rc = find_left(&c, r, b, err);
    if (rc) return rc;
    double grain = isnan(sheet->grain) ? 0 : sheet->grain, along = pow(cos(grain), 2);
    const size_t plane[2] = {c.along, c.around}, through[2] = {c.through, c.through},
                 wood[2] = {c.wood, c.wood};
    double a = middle_of(r, c.along), s = middle_of(r, c.around);
    b->left = (struct making_left){.x = along * a + (1 - along) * s,
                                   .y = along * s + (1 - along) * a,
                                   .through = middle_of(r, c.through),
                                   .wood = middle_of(r, c.wood)};
    /* a making may have been entered with sizes that are dry already */
    bool dry = sheet->state == STATE_NEW_AND_DRY,
         lath_dry = lath && lath->state == STATE_NEW_AND_DRY;
    rc = size_input(&in->col[IN_THICKNESS], r, "size.sheet.thickness", sheet->thickness,
                    dry ? nothing_lost : through, 1, err);
    if (!rc)
        rc = size_input(&in->cut_thickness, r, "size.sheet.thickness", sheet->thickness,
                        nothing_lost, 1, err);
    if (!rc)
        rc = size_input(&in->col[IN_LATH], r, "size.lath.thickness", lath ? lath->thickness : 4,
                        lath_dry ? nothing_lost : wood, 1, err);
    if (!rc)
        rc = size_input(&in->col[IN_LENGTH], r, "outline.length", sheet->length,
                        dry ? nothing_lost : plane, along, err);
    if (!rc)
        rc = size_input(&in->col[IN_WIDTH], r, "outline.width", sheet->width,
                        dry ? nothing_lost : plane, 1 - along, err);
    return rc;
}

int strength_say_dry(struct stage_run *r, const struct strength_work *b, struct error *err) {
    struct statement s = statement_blank();
    s.id = "strength.dry";
    s.step = "strength";
    s.about = "object";
    s.sentence =
        arena_printf(r->arena,
                     "What is told new and dry here has %.1f percent of the length the "
                     "sheet is cut to, %.1f of its width, %.0f of its thickness; wood has "
                     "%.0f percent across its grain.",
                     100 * b->left.x, 100 * b->left.y, 100 * b->left.through, 100 * b->left.wood);
    s.state = "new and dry";
    s.footing = FOOTING_WORKED_OUT;
    s.value = spread_unknown();
    s.rule = "middles of what drying leaves, as in the sizes of the pieces; each possible original "
             "has its own of the sheet and of a lath's thickness. Wood keeps its length; holes and "
             "pockets move with the sheet";
    s.source = "doc/sizes.md";
    if (!s.sentence) return fail_memory(err);
    json_object_set_new(
        r->result, "left",
        json_pack("[f,f,f,f]", b->left.x, b->left.y, b->left.through, b->left.wood));
    static const char *const rests[] = {"sheet.thickness.fresh", "lath.thickness.fresh",
                                        "outline.length", "outline.width"};
    int rc = 0;
    for (size_t i = 0; i < sizeof rests / sizeof rests[0] && !rc; i++)
        if (statement_find(r->said, rests[i]))
            rc = statement_link_add(&s, "statement", rests[i], "as cut", r->arena, err);
    if (!rc && s.rests_on.n == 0)
        rc = statement_link_add(&s, "part", b->sheet->id, "as cut", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}
