/* import_notes: numbers that hide in the words of an end or a note.
 *
 * Only phrases that can mean one thing are read; everything else stays a note. Sizes found here get
 * the tolerance of the row: the same person measured them with the same tool. */
#include "record/import_private.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct found {
    double n[2];
    char word[64];
    const char *clause; /* the part of the note between semicolons */
};

/* The ± of the row's length, else of its first size. */
static double row_tolerance(const struct row_made *row) {
    double first = NAN;
    for (size_t i = 1; i < row->measure_count; i++) {
        if (row->measures[i].quantity == QUANTITY_LENGTH) return row->measures[i].tolerance;
        if (isnan(first)) first = row->measures[i].tolerance;
    }
    return first;
}

static struct measure *add(struct row_made *row, long quantity, const struct mark *mark,
                           double value, const char *from) {
    if (!(value > 0)) return NULL;
    struct measure *m =
        import_measure_add(row, quantity, mark ? mark->id : NULL, value, row_tolerance(row));
    if (m && !(m->note = arena_printf(row->arena, "from \"%.100s\"", from))) row->memory = true;
    return m;
}

/* ---- ends -------------------------------------------------------------------------------------
 */

void import_read_end(struct row_made *row, const char *text) {
    struct found f;
    if (cell_phrase(text, "chamfered % mm at % deg", f.n, f.word)) {
        add(row, QUANTITY_CHAMFER_LENGTH, NULL, f.n[0], text);
        struct measure *angle = add(row, QUANTITY_CHAMFER_ANGLE, NULL, f.n[1], text);
        if (angle) angle->direction = FIELD_UNKNOWN;
    } else if (cell_phrase(text, "chamfered % mm", f.n, f.word) ||
               cell_phrase(text, "chamfer % mm", f.n, f.word))
        add(row, QUANTITY_CHAMFER_LENGTH, NULL, f.n[0], text);
    else if (cell_phrase(text, "scarfed % mm", f.n, f.word) ||
             cell_phrase(text, "scarf % mm", f.n, f.word))
        add(row, QUANTITY_SCARF_LENGTH, NULL, f.n[0], text);
    else if (cell_phrase(text, "tongue % mm", f.n, f.word))
        add(row, QUANTITY_TONGUE_LENGTH, NULL, f.n[0], text);
}

/* ---- what a phrase of a note does
 * ----------------------------------------------------------------- */

static void flag(struct row_made *row, long quantity, const char *text) {
    for (size_t i = 1; i < row->measure_count; i++) {
        struct measure *m = &row->measures[i];
        if (quantity != FIELD_UNKNOWN && m->quantity != quantity) continue;
        m->flag = m->flag ? arena_printf(row->arena, "%s; %s", m->flag, text)
                          : arena_strdup(row->arena, text);
        if (!m->flag) row->memory = true;
    }
}

static void take_flag_all(struct row_made *row, const struct found *f) {
    flag(row, FIELD_UNKNOWN, f->clause);
}

static void take_flag_arc(struct row_made *row, const struct found *f) {
    flag(row, QUANTITY_SAGITTA, f->clause);
    flag(row, QUANTITY_CHORD, f->clause);
}

static void take_no_scale(struct row_made *row, const struct found *f) {
    row->piece.shape_only = 1;
    flag(row, FIELD_UNKNOWN, f->clause);
}

/* A bar of unmarked unit gives each size twice: as if the bar were the one, and the other, as a
 * rival reading. Neither is chosen. */
static void take_two_units(struct row_made *row, const struct found *f) {
    double ratio = f->n[1] * 25.4 / f->n[0];
    size_t n = row->measure_count;
    char text[100];
    snprintf(text, sizeof text, "unit of the scale bar is not marked: %g mm or %g inch", f->n[0],
             f->n[1]);
    flag(row, FIELD_UNKNOWN, text);
    for (size_t i = 1; i < n && f->n[0] > 0; i++) {
        struct measure first = row->measures[i];
        if (first.quantity > QUANTITY_SAGITTA) continue;
        struct measure *m = import_measure_add(row, first.quantity, first.mark, first.value * ratio,
                                               first.tolerance * ratio);
        if (!m) return;
        m->rival_of = first.id;
        m->flag = first.flag;
        m->ends = first.ends;
        m->end_kinds = first.end_kinds;
        m->direction = first.direction;
        m->note = arena_printf(row->arena, "if the bar is %g inch", f->n[1]);
        if (!m->note) row->memory = true;
    }
}

static void take_unmarked(struct row_made *row, const struct found *f) {
    flag(row, FIELD_UNKNOWN, f->clause);
}

static void take_joins(struct row_made *row, const struct found *f) {
    if (row->piece.joins.n) return;
    const char **v = ARENA_NEW(row->arena, const char *, 1);
    char *id = arena_strdup(row->arena, f->word);
    if (!v || !id) {
        row->memory = true;
        return;
    }
    v[0] = id;
    row->piece.joins = (struct texts){1, v};
}

static void take_same_as(struct row_made *row, const struct found *f) {
    if (row->piece.same_as) return;
    row->piece.same_as = arena_strdup(row->arena, f->word);
    if (!row->piece.same_as) row->memory = true;
}

static void take_row_distance(struct row_made *row, const struct found *f) {
    add(row, QUANTITY_ROW_DISTANCE, NULL, f->n[0], f->clause);
}
static void take_edge_distance(struct row_made *row, const struct found *f) {
    add(row, QUANTITY_EDGE_DISTANCE, NULL, f->n[0], f->clause);
}
static void take_stitches(struct row_made *row, const struct found *f) {
    add(row, QUANTITY_STITCHES_PER_10_MM, NULL, f->n[0], f->clause);
}
static void take_peg_hole(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_HOLE, "peg_hole", f->clause);
    if (!mark) return;
    add(row, QUANTITY_PEG_HOLE_DIAMETER, mark, f->n[0], f->clause);
    add(row, QUANTITY_PEG_HOLE_PLACE, mark, f->n[1], f->clause);
}
static void take_dent_place(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_IMPRESSION, "dent", f->clause);
    if (mark) add(row, QUANTITY_PEG_HOLE_PLACE, mark, f->n[0], f->clause);
}

/* "sagitta under 0.5 mm": an upper bound, which is what excludes an outline. */
static void take_straight(struct row_made *row, const struct found *f) {
    struct measure *m = add(row, QUANTITY_SAGITTA, NULL, f->n[0], f->clause);
    if (!m) return;
    m->bound = BOUND_AT_MOST;
    m->tolerance = NAN;
}

static void take_shadow_spacing(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_LATH_SHADOW, "lath_shadow", f->clause);
    if (mark) add(row, QUANTITY_PITCH, mark, f->n[0], f->clause);
}
static void take_rim_shadow(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_RIM_SHADOW, "rim_shadow", f->clause);
    if (mark) add(row, QUANTITY_WIDTH, mark, f->n[0], f->clause);
}
static void take_patch(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_PAINT, "patch", f->clause);
    if (!mark) return;
    add(row, QUANTITY_LENGTH, mark, f->n[0], f->clause);
    add(row, QUANTITY_WIDTH, mark, f->n[1], f->clause);
}
static void take_dots(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_PAINT, "dots", f->clause);
    if (mark) add(row, QUANTITY_WIDTH, mark, f->n[0], f->clause);
}
static void take_bends(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_IMPRESSION, "stitch_bend", f->clause);
    if (mark) add(row, QUANTITY_PITCH, mark, f->n[0], f->clause);
}
static void take_wear(struct row_made *row, const struct found *f) {
    struct mark *mark = import_mark_add(row, MARK_WEAR, "wear", f->clause);
    if (mark && f->n[0] > 0) add(row, QUANTITY_WIDTH, mark, f->n[0], f->clause);
}
static void take_tear(struct row_made *row, const struct found *f) {
    import_mark_add(row, MARK_TEAR, "tear", f->clause);
}
static void take_wrap(struct row_made *row, const struct found *f) {
    import_mark_add(row, MARK_WRAP, "wrap", f->clause);
}
static void take_knot(struct row_made *row, const struct found *f) {
    import_mark_add(row, MARK_KNOT, "knot", f->clause);
}

/* In order; each clause of a note is read by the first that fits. */
static const struct {
    const char *phrase;
    void (*take)(struct row_made *row, const struct found *f);
} phrases[] = {
    {"no scale in frame", take_no_scale},
    {"no scale", take_no_scale},
    {"unit is not marked: % mm or % inch", take_two_units},
    {"unit is not marked", take_unmarked},
    {"unit not marked", take_unmarked},
    {"not corrected for stretch", take_flag_all},
    {"size guessed", take_flag_all},
    {"already dry", take_flag_all},
    {"sagitta not reliable", take_flag_arc},
    {"too short to trust", take_flag_arc},
    {"sagitta under % mm", take_straight},
    {"rise under % mm", take_straight},
    {"same & as &", take_same_as},
    {"second reading of &", take_same_as},
    {"rows % mm apart", take_row_distance},
    {"lath shadows % mm apart", take_shadow_spacing},
    {"stitch bends % mm apart", take_bends},
    {"rim shadow % mm wide", take_rim_shadow},
    {"patch % x % mm", take_patch},
    {"dots % mm across", take_dots},
    {"worn % mm wide", take_wear},
    {"peg hole % mm at % mm from end", take_peg_hole},
    {"dent % mm from chamfer", take_dent_place},
    {"dent % mm from end", take_dent_place},
    {"% mm from edge", take_edge_distance},
    {"% stitches per 10 mm", take_stitches},
    {"torn along stitch row", take_tear},
    {"tear runs through", take_tear},
    {"torn out to edge", take_tear},
    {"wrapped round", take_wrap},
    {"knot", take_knot},
};

static void read_clause(struct row_made *row, const char *clause) {
    struct found f = {.clause = clause};
    for (size_t i = 0; i < sizeof phrases / sizeof phrases[0]; i++) {
        f.n[0] = f.n[1] = 0;
        if (!cell_phrase(clause, phrases[i].phrase, f.n, f.word)) continue;
        phrases[i].take(row, &f);
        return;
    }
}

/* ---- relations between rows
 * ------------------------------------------------------------------------ */

static void read_relations(struct row_made *row, const struct reading *reading) {
    struct found f = {0};
    const char *note = row->piece.note;
    if (row->piece.part && cell_phrase(row->piece.part, "& second reading", f.n, f.word))
        take_same_as(row, &f);
    if (!note) return;
    if (cell_phrase(note, "joins next", f.n, f.word)) {
        if (!reading->next_id) return;
        snprintf(f.word, sizeof f.word, "%s", reading->next_id);
        take_joins(row, &f);
    } else if (cell_phrase(note, "joins &", f.n, f.word))
        take_joins(row, &f);
}

/* ---- rows of holes
 * ---------------------------------------------------------------------------------- */

static bool says(const char *text, const char *phrase) {
    double n[2];
    char word[64];
    return text && cell_phrase(text, phrase, n, word) != NULL;
}

/* A list without columns for coils puts rounds where holes go, and says so in the note. */
static void read_rounds(struct row_made *row) {
    bool rounds = says(row->piece.note, "holes_n = rounds");
    bool pitch = says(row->piece.note, "pitch_mm = round pitch");
    for (size_t i = 1; i < row->measure_count; i++) {
        struct measure *m = &row->measures[i];
        const char *word = NULL;
        if (rounds && m->quantity == QUANTITY_HOLES) {
            m->quantity = QUANTITY_ROUNDS;
            word = "rounds";
        } else if (pitch && m->quantity == QUANTITY_PITCH) {
            m->quantity = QUANTITY_ROUND_PITCH;
            word = "round_pitch";
        }
        if (!word) continue;
        m->direction = FIELD_UNKNOWN;
        m->ends = (struct texts){0};
        m->end_kinds = (struct ints){0};
        if (!(m->id = arena_printf(row->arena, "%s.%s", row->piece.id, word))) row->memory = true;
    }
}

/* What left the row: dents where the note says so, or on wood that nothing has pierced; shadows
 * where the part says so; else holes. */
static long row_kind(const struct row_made *row, bool diameter, double count) {
    const struct piece *p = &row->piece;
    bool wood = p->substance == SUBSTANCE_SPLIT_WOOD || p->substance == SUBSTANCE_ROUND_WOOD;
    if (says(p->part, "shadow") || says(p->part, "shadows") || says(p->part, "lath shadows"))
        return MARK_LATH_SHADOW;
    if (says(p->note, "dents") || says(p->note, "binding dents") || (wood && !diameter))
        return MARK_DENT_ROW;
    return count == 1 ? MARK_HOLE : MARK_HOLE_ROW;
}

static void read_hole_row(struct row_made *row) {
    bool any = false, diameter = false;
    double count = 0;
    for (size_t i = 1; i < row->measure_count; i++) {
        const struct measure *m = &row->measures[i];
        if (m->mark) continue;
        any |= m->quantity == QUANTITY_HOLES || m->quantity == QUANTITY_PITCH ||
               m->quantity == QUANTITY_HOLE_DIAMETER;
        diameter |= m->quantity == QUANTITY_HOLE_DIAMETER;
        if (m->quantity == QUANTITY_HOLES) count = m->value;
    }
    if (!any) return;
    struct mark *mark = import_mark_add(row, row_kind(row, diameter, count), "row", NULL);
    for (size_t i = 1; mark && i < row->measure_count; i++) {
        struct measure *m = &row->measures[i];
        bool of_row = m->quantity == QUANTITY_HOLES || m->quantity == QUANTITY_PITCH ||
                      m->quantity == QUANTITY_HOLE_DIAMETER || m->quantity == QUANTITY_ROW_DISTANCE;
        if (of_row && !m->mark) m->mark = mark->id;
    }
}

void import_read_note(struct row_made *row, const struct reading *reading) {
    read_rounds(row);
    read_relations(row, reading);
    if (row->piece.note) {
        char *copy = arena_strdup(row->arena, row->piece.note);
        if (!copy) {
            row->memory = true;
            return;
        }
        for (char *clause = copy, *next; clause; clause = next) {
            next = strchr(clause, ';');
            if (next) *next++ = 0;
            char *trimmed = cell_trim(clause, row->arena);
            if (!trimmed) row->memory = true;
            if (trimmed && *trimmed) read_clause(row, trimmed);
        }
    }
    read_hole_row(row);
}
