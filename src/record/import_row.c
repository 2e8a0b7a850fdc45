/* import_row: one row of a finds list becomes a piece with its measures, or problems.
 *
 * Runs on several threads at once: touches nothing but its row and its arena. */
#include "record/import_private.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- lists in the arena -----------------------------------------------------------------------
 */

static void *grow(struct row_made *row, void *old, size_t n, size_t *room, size_t size) {
    if (n < *room) return old;
    size_t more = *room ? 2 * *room : 8;
    void *v = arena_alloc(row->arena, more, size);
    if (!v) {
        row->memory = true;
        return NULL;
    }
    if (n) memcpy(v, old, n * size);
    *room = more;
    return v;
}

void import_problem_add(struct row_made *row, const char *column, const char *value, bool doubt,
                        const char *suggestion, const char *format, ...) {
    struct import_problem *list =
        grow(row, row->problems, row->problem_count, &row->problem_room, sizeof *row->problems);
    if (!list) return;
    row->problems = list;
    char reason[300];
    va_list args;
    va_start(args, format);
    vsnprintf(reason, sizeof reason, format, args);
    va_end(args);
    struct import_problem p = {.column = arena_strdup(row->arena, column ? column : ""),
                               .value = arena_strdup(row->arena, value ? value : ""),
                               .reason = arena_strdup(row->arena, reason),
                               .suggestion = arena_strdup(row->arena, suggestion),
                               .doubt = doubt};
    if (!p.column || !p.value || !p.reason || (suggestion && !p.suggestion)) row->memory = true;
    list[row->problem_count++] = p;
}

static void remark(struct row_made *row, const char *text) {
    const char **list =
        grow(row, (void *)row->remarks, row->remark_count, &row->remark_room, sizeof *row->remarks);
    char *copy = arena_printf(row->arena, "%s: %s", row->piece.id, text);
    if (!list || !copy) {
        row->memory = true;
        return;
    }
    row->remarks = list;
    list[row->remark_count++] = copy;
}

/* ---- cells ------------------------------------------------------------------------------------
 */

const char *import_heading(const struct reading *reading, long as, long quantity) {
    for (size_t c = 0; c < reading->n_columns; c++)
        if (reading->columns[c] && reading->columns[c]->as == as &&
            (quantity == FIELD_UNKNOWN || reading->columns[c]->quantity == quantity))
            return reading->columns[c]->heading;
    return "";
}

/* Text of the first column of this sort that is not empty, or "". */
const char *import_cell(const struct reading *reading, const struct csv_row *row, long as,
                        long quantity) {
    for (size_t c = 0; c < reading->n_columns && c < row->n; c++)
        if (reading->columns[c] && reading->columns[c]->as == as && *row->cells[c] &&
            (quantity == FIELD_UNKNOWN || reading->columns[c]->quantity == quantity))
            return row->cells[c];
    return "";
}

static const char *cell(struct row_made *out, const struct reading *reading,
                        const struct csv_row *row, long as) {
    const char *text = import_cell(reading, row, as, FIELD_UNKNOWN);
    if (!*text) return NULL;
    char *trimmed = cell_trim(text, out->arena);
    if (!trimmed) out->memory = true;
    return trimmed && *trimmed ? trimmed : NULL;
}

/* A word of ours from a cell; a word that is not known sets the row aside. */
static long word(struct row_made *out, const struct reading *reading, const struct csv_row *row,
                 long as, const char *of, const char **treatment) {
    if (treatment) *treatment = NULL;
    const char *text = cell(out, reading, row, as);
    if (!text) return FIELD_UNKNOWN;
    long found = import_word_find(reading->map, of, text, treatment);
    if (found != FIELD_UNKNOWN) return found;
    const char *near = import_word_near(of, text);
    import_problem_add(out, import_heading(reading, as, FIELD_UNKNOWN), text, false, near,
                       "The %s \"%.60s\" is not known; say in the map what it stands for.", of,
                       text);
    return FIELD_UNKNOWN;
}

/* ---- state --------------------------------------------------------------------------------------
 */

static void read_state(struct row_made *out, const struct reading *reading,
                       const struct csv_row *row, struct measure *common) {
    const char *heading = import_heading(reading, IMPORT_STATE, FIELD_UNKNOWN);
    const char *text = cell(out, reading, row, IMPORT_STATE), *treatment;
    double numbers[2];
    char scratch[64];
    out->state = FIELD_UNKNOWN;
    if (!text) {
        import_problem_add(out, heading, "", false,
                           "in ground, wet in lab, after treatment, dried before treatment",
                           "The state is empty: nobody can say whether these sizes are shrunken.");
        return;
    }
    if (cell_phrase(text, "trial day %", numbers, scratch) == text) {
        common->state = STATE_TRIAL_DAY;
        common->day = (long)numbers[0];
    } else
        common->state = word(out, reading, row, IMPORT_STATE, "state", &treatment);
    out->state = common->state;
    if (common->state != STATE_TREATED) return;
    const char *column = cell(out, reading, row, IMPORT_TREATMENT);
    common->treatment = column ? column : treatment ? treatment : reading->map->treatment;
}

/* ---- sizes
 * ---------------------------------------------------------------------------------------- */

/* Direction of a size by what the piece is, where nothing is said. Along a rod, lath, strip of bast
 * or thong nobody doubts; the length of a torn sheet may run any way, so it stays unknown.
 * `across`: either around or through, nobody knows which. */
static long usual_direction(const struct piece *piece, long quantity) {
    bool thickness = quantity == QUANTITY_THICKNESS;
    switch (piece->substance) {
    case SUBSTANCE_SPLIT_WOOD:
    case SUBSTANCE_ROUND_WOOD:
    case SUBSTANCE_BAST:
        if (quantity == QUANTITY_WIDTH || thickness || quantity == QUANTITY_HOLE_DIAMETER)
            return DIRECTION_ACROSS;
        return DIRECTION_ALONG;
    case SUBSTANCE_BARK:
    case SUBSTANCE_HIDE:
        return thickness ? DIRECTION_THROUGH : FIELD_UNKNOWN;
    default:
        return FIELD_UNKNOWN;
    }
}

static bool is_count(long quantity) {
    return quantity == QUANTITY_HOLES || quantity == QUANTITY_ROUNDS ||
           quantity == QUANTITY_STITCHES_PER_10_MM;
}

static bool is_length(long quantity) {
    return !is_count(quantity) && quantity != QUANTITY_MASS && quantity != QUANTITY_MOISTURE &&
           quantity != QUANTITY_CHAMFER_ANGLE;
}

/* "A12" and "round pitch" to "A12.round_pitch", "A12.round_pitch.2". Called for every measure. */
static char *measure_id(const char *of, long quantity, int nth, struct arena *arena) {
    const char *word = quantity_words[quantity];
    size_t n = strlen(of), k = strlen(word);
    char *id = arena_alloc(arena, n + k + 14, 1);
    if (!id) return NULL;
    memcpy(id, of, n);
    id[n] = '.';
    for (size_t i = 0; i < k; i++)
        id[n + 1 + i] = word[i] == ' ' ? '_' : word[i];
    if (nth > 1) snprintf(id + n + 1 + k, 13, ".%d", nth);
    return id;
}

struct measure *import_measure_add(struct row_made *row, long quantity, const char *mark,
                                   double value, double tolerance) {
    struct measure *list =
        grow(row, row->measures, row->measure_count, &row->measure_room, sizeof *row->measures);
    if (!list) return NULL;
    row->measures = list;
    struct measure *m = &list[row->measure_count];
    *m = list[0]; /* the first place holds what all measures of the row share */
    m->quantity = quantity;
    m->value = value;
    m->tolerance = is_length(quantity) ? tolerance : NAN;
    m->mark = mark;
    m->direction = usual_direction(&row->piece, quantity);
    const char *of = mark ? mark : row->piece.id;
    char *id = measure_id(of, quantity, 1, row->arena);
    for (int k = 2; id; k++) { /* the second of its sort gets a number */
        size_t i = 1;
        while (i < row->measure_count && strcmp(list[i].id, id) != 0)
            i++;
        if (i == row->measure_count) break;
        id = measure_id(of, quantity, k, row->arena);
    }
    if (!id) {
        row->memory = true;
        return NULL;
    }
    m->id = id;
    row->measure_count++;
    return m;
}

struct mark *import_mark_add(struct row_made *row, long kind, const char *name, const char *what) {
    struct mark *list = grow(row, row->marks, row->mark_count, &row->mark_room, sizeof *row->marks);
    if (!list) return NULL;
    row->marks = list;
    struct mark *m = &list[row->mark_count];
    field_unknown(&mark_kind_kind, m);
    m->id = arena_printf(row->arena, "%s.%s", row->piece.id, name);
    for (int k = 2; m->id; k++) {
        size_t i = 0;
        while (i < row->mark_count && strcmp(list[i].id, m->id) != 0)
            i++;
        if (i == row->mark_count) break;
        m->id = arena_printf(row->arena, "%s.%s.%d", row->piece.id, name, k);
    }
    m->piece = row->piece.id;
    m->kind = kind;
    m->what = arena_strdup(row->arena, what);
    if (!m->id || (what && !m->what)) {
        row->memory = true;
        return NULL;
    }
    row->mark_count++;
    return m;
}

static void number_problem(struct row_made *out, const struct import_column *c, const char *text,
                           enum cell_trouble trouble) {
    char suggestion[80] = "";
    switch (trouble) {
    case CELL_COMMA:
        snprintf(suggestion, sizeof suggestion, "%.70s", text);
        for (char *p = suggestion; *p; p++)
            if (*p == ',') *p = '.';
        import_problem_add(out, c->heading, text, false, suggestion,
                           "A comma in a number: a decimal sign, or thousands? Decimal commas are "
                           "taken only when they are switched on.");
        break;
    case CELL_NOT_FINITE:
        import_problem_add(out, c->heading, text, false, "leave it empty when it is unknown",
                           "This is not a number that can be measured.");
        break;
    case CELL_UNIT:
        import_problem_add(out, c->heading, text, false, "mm, cm, m, in, degrees, g or kg",
                           "The unit behind the number is not known.");
        break;
    default:
        import_problem_add(out, c->heading, text, false, "leave it empty and put it in the note",
                           "This is not a number.");
        break;
    }
}

/* Limits that no size may pass, whatever it is of. */
static bool check_size(struct row_made *out, const struct import_column *c, const char *text,
                       double value) {
    if (!(value > 0)) {
        char suggestion[40];
        snprintf(suggestion, sizeof suggestion, "%.10g", fabs(value));
        import_problem_add(out, c->heading, text, false,
                           value < 0 ? suggestion : "leave it empty when it is unknown",
                           "A %s must be above 0.", quantity_words[c->quantity]);
        return false;
    }
    if (is_count(c->quantity) && c->quantity != QUANTITY_STITCHES_PER_10_MM &&
        value != floor(value)) {
        import_problem_add(out, c->heading, text, false, "a whole number",
                           "A number of %s must be whole.", quantity_words[c->quantity]);
        return false;
    }
    if (value > 1e5) {
        import_problem_add(out, c->heading, text, false, "look at the unit",
                           "%g is larger than any object this is made for.", value);
        return false;
    }
    return true;
}

/* Tolerance for a column: its own, else a column for this quantity, else the general one. */
static double tolerance_for(struct row_made *out, const struct reading *reading,
                            const struct csv_row *row, const struct import_column *c) {
    if (!isnan(c->tolerance)) return c->tolerance * cell_unit_factor(c->unit ? c->unit : "");
    const struct import_column *best = NULL;
    size_t place = 0;
    for (size_t i = 0; i < reading->n_columns && i < row->n; i++) {
        const struct import_column *t = reading->columns[i];
        if (!t || t->as != IMPORT_TOLERANCE || !*row->cells[i]) continue;
        if (t->quantity == c->quantity || (t->quantity == FIELD_UNKNOWN && !best)) {
            best = t;
            place = i;
        }
    }
    if (!best) return NAN;
    struct cell_number n;
    bool comma = reading->map->decimal_comma == 1;
    if (cell_number_read(&n, row->cells[place], comma) || !(n.value >= 0)) return NAN;
    (void)out; /* a tolerance that cannot be read is told once, by read_tolerances */
    return n.value * cell_unit_factor(n.unit ? n.unit : best->unit ? best->unit : "");
}

static void read_tolerances(struct row_made *out, const struct reading *reading,
                            const struct csv_row *row) {
    for (size_t i = 0; i < reading->n_columns && i < row->n; i++) {
        const struct import_column *t = reading->columns[i];
        if (!t || t->as != IMPORT_TOLERANCE || !*row->cells[i]) continue;
        struct cell_number n;
        enum cell_trouble trouble =
            cell_number_read(&n, row->cells[i], reading->map->decimal_comma == 1);
        if (trouble)
            number_problem(out, t, row->cells[i], trouble);
        else if (n.value < 0)
            import_problem_add(out, t->heading, row->cells[i], false, NULL,
                               "A tolerance must not be below 0.");
    }
}

static void read_size(struct row_made *out, const struct reading *reading,
                      const struct csv_row *row, const struct import_column *c, const char *text) {
    struct cell_number n;
    enum cell_trouble trouble = cell_number_read(&n, text, reading->map->decimal_comma == 1);
    if (trouble) {
        number_problem(out, c, text, trouble);
        return;
    }
    double factor = cell_unit_factor(n.unit ? n.unit : c->unit ? c->unit : "");
    double value = n.value * factor;
    if (!check_size(out, c, text, value)) return;
    double tolerance =
        isnan(n.tolerance) ? tolerance_for(out, reading, row, c) : n.tolerance * factor;
    out->size[c->quantity] = value;
    struct measure *m = import_measure_add(out, c->quantity, NULL, value, tolerance);
    if (!m) return;
    m->bound = n.bound;
    if (c->direction != FIELD_UNKNOWN) m->direction = c->direction;
    if (factor != 1)
        m->note = arena_printf(out->arena, "written as %.40s%s%s", text, n.unit ? "" : " ",
                               n.unit ? "" : c->unit);
    if (factor != 1 && !m->note) out->memory = true;
}

/* ---- a row that does not hold together ----------------------------------------------------------
 */

static void cross_check(struct row_made *out, const struct reading *reading,
                        const struct csv_row *row) {
    const double *s = out->size;
    double chord = s[QUANTITY_CHORD], rise = s[QUANTITY_SAGITTA], length = s[QUANTITY_LENGTH];
    double width = s[QUANTITY_WIDTH], thick = s[QUANTITY_THICKNESS];
    double slack = 0;
    for (size_t i = 1; i < out->measure_count; i++)
        if (out->measures[i].tolerance > slack) slack = out->measures[i].tolerance;
    if (rise > chord / 2)
        import_problem_add(out, import_heading(reading, IMPORT_SIZE, QUANTITY_SAGITTA),
                           import_cell(reading, row, IMPORT_SIZE, QUANTITY_SAGITTA), true,
                           "look at the decimal point, or whether chord and rise are swapped",
                           "A rise of %g over a chord of %g is more than half of it: more than a "
                           "half circle.",
                           rise, chord);
    if (chord > length + 2 * slack)
        import_problem_add(out, import_heading(reading, IMPORT_SIZE, QUANTITY_CHORD),
                           import_cell(reading, row, IMPORT_SIZE, QUANTITY_CHORD), true,
                           "look at chord and length",
                           "The chord (%g) is longer than the piece (%g).", chord, length);
    if (thick > width + 2 * slack) {
        char suggestion[80];
        snprintf(suggestion, sizeof suggestion, "width %g, thickness %g", thick, width);
        import_problem_add(out, import_heading(reading, IMPORT_SIZE, QUANTITY_THICKNESS),
                           import_cell(reading, row, IMPORT_SIZE, QUANTITY_THICKNESS), true,
                           suggestion, "Thicker (%g) than wide (%g): the two may be swapped.",
                           thick, width);
    }
}

/* ---- the row as a whole
 * --------------------------------------------------------------------------- */

static void read_piece(struct row_made *out, const struct reading *reading,
                       const struct csv_row *row) {
    struct piece *p = &out->piece;
    field_unknown(&piece_kind, p);
    p->id = cell(out, reading, row, IMPORT_ID);
    if (!p->id) {
        import_problem_add(out, import_heading(reading, IMPORT_ID, FIELD_UNKNOWN), "", false, NULL,
                           "The number of the piece is missing.");
        p->id = "";
    } else if (strlen(p->id) > 60)
        import_problem_add(out, import_heading(reading, IMPORT_ID, FIELD_UNKNOWN), p->id, false,
                           "a short number, as A12", "The number of the piece is too long.");
    p->part = cell(out, reading, row, IMPORT_PART);
    p->material = cell(out, reading, row, IMPORT_MATERIAL);
    p->zone = cell(out, reading, row, IMPORT_ZONE);
    p->note = cell(out, reading, row, IMPORT_NOTE);
    p->same_as = cell(out, reading, row, IMPORT_SAME_AS);
    p->confidence = word(out, reading, row, IMPORT_CONFIDENCE, "confidence", NULL);
    p->face_up = word(out, reading, row, IMPORT_FACE, "face", NULL);
    p->substance = import_substance(reading->map, p->part, p->material);
    const char *taxon = cell(out, reading, row, IMPORT_TAXON);
    if (taxon)
        p->taxon = taxon;
    else if (p->material)
        import_taxa(p->material, &p->taxon, &p->other_taxon, out->arena, &out->memory);
    const char *joins = cell(out, reading, row, IMPORT_JOINS);
    if (joins) {
        const char **v = ARENA_NEW(out->arena, const char *, 1);
        if (!v) {
            out->memory = true;
            return;
        }
        v[0] = joins;
        p->joins = (struct texts){1, v};
    }
}

static void read_angle(struct row_made *out, const struct reading *reading,
                       const struct csv_row *row) {
    const char *text = import_cell(reading, row, IMPORT_RING_ANGLE, FIELD_UNKNOWN);
    struct cell_number n;
    if (!*text) return;
    if (cell_number_read(&n, text, reading->map->decimal_comma == 1) || n.value < 0 || n.value > 90)
        import_problem_add(out, import_heading(reading, IMPORT_RING_ANGLE, FIELD_UNKNOWN), text,
                           false, "0 to 90 degrees", "This is not an angle of growth rings.");
    else
        out->piece.ring_angle = n.value * 0.017453292519943295; /* to rad */
}

static void read_date(struct row_made *out, const struct reading *reading,
                      const struct csv_row *row, struct measure *common) {
    const char *text = cell(out, reading, row, IMPORT_DATE);
    common->date = reading->map->date;
    if (!text) return;
    struct measure scratch;
    if (field_decode_text(field_find(&measure_kind, "date"), text, &scratch, out->arena, NULL))
        import_problem_add(out, import_heading(reading, IMPORT_DATE, FIELD_UNKNOWN), text, false,
                           "year-month-day, as 2026-05-01", "This is not a date.");
    else
        common->date = text;
}

/* What all measures of the row share; kept in the first place of the list, which is no measure. */
static void read_common(struct row_made *out, const struct reading *reading,
                        const struct csv_row *row) {
    struct measure *list = grow(out, NULL, 0, &out->measure_room, sizeof *out->measures);
    if (!list) return;
    out->measures = list;
    out->measure_count = 1;
    struct measure *common = list;
    field_unknown(&measure_kind, common);
    common->id = "";
    common->piece = out->piece.id;
    common->tolerance_means = reading->map->tolerance_means;
    common->method = cell(out, reading, row, IMPORT_METHOD);
    if (!common->method) common->method = reading->map->method;
    common->observer = cell(out, reading, row, IMPORT_OBSERVER);
    if (!common->observer) common->observer = reading->map->observer;
    common->source = cell(out, reading, row, IMPORT_SOURCE);
    common->face = out->piece.face_up;
    read_state(out, reading, row, common);
    read_date(out, reading, row, common);
}

static void read_sizes(struct row_made *out, const struct reading *reading,
                       const struct csv_row *row) {
    for (size_t c = 0; c < reading->n_columns && c < row->n; c++) {
        const struct import_column *column = reading->columns[c];
        if (column && column->as == IMPORT_SIZE && column->quantity != FIELD_UNKNOWN &&
            *row->cells[c])
            read_size(out, reading, row, column, row->cells[c]);
    }
    long along = word(out, reading, row, IMPORT_DIRECTION, "direction", NULL);
    for (size_t i = 1; along != FIELD_UNKNOWN && i < out->measure_count; i++)
        if (out->measures[i].quantity == QUANTITY_LENGTH) out->measures[i].direction = along;
}

/* ---- ends and edges
 * ------------------------------------------------------------------------------- */

struct ends {
    const char *text[8];
    long kind[8];
    size_t n;
};

static void gather_ends(struct row_made *out, const struct reading *reading,
                        const struct csv_row *row, long as, struct ends *ends) {
    size_t columns = 0, given = 0;
    ends->n = 0;
    for (size_t c = 0; c < reading->n_columns; c++) {
        if (!reading->columns[c] || reading->columns[c]->as != as || ends->n == 8) continue;
        columns++;
        const char *text = c < row->n ? cell_trim(row->cells[c], out->arena) : "";
        if (!text) {
            out->memory = true;
            return;
        }
        given += *text != 0;
        long kind = *text ? import_end_kind(reading->map, text) : END_BROKEN;
        if (kind == FIELD_UNKNOWN) {
            char line[160];
            snprintf(line, sizeof line,
                     "\"%.60s\" is no word for an end that is known; its size is "
                     "taken as a minimum.",
                     text);
            remark(out, line);
            kind = END_BROKEN;
        }
        ends->text[ends->n] = *text ? text : "not described";
        ends->kind[ends->n++] = kind;
    }
    if (given == 0) ends->n = 0; /* nobody spoke of ends at all */
}

static void attach(struct row_made *out, struct measure *m, const struct ends *ends) {
    if (ends->n == 0) return;
    const char **texts = ARENA_NEW(out->arena, const char *, ends->n);
    long *kinds = ARENA_NEW(out->arena, long, ends->n);
    if (!texts || !kinds) {
        out->memory = true;
        return;
    }
    memcpy((void *)texts, (const void *)ends->text, ends->n * sizeof *texts);
    memcpy(kinds, ends->kind, ends->n * sizeof *kinds);
    m->ends = (struct texts){ends->n, texts};
    m->end_kinds = (struct ints){ends->n, kinds};
}

/* Lengths, rows of holes and counts run between the ends; widths between the edges. The edges of a
 * torn sheet that nobody described make its width a minimum, too. */
static void read_ends(struct row_made *out, const struct reading *reading,
                      const struct csv_row *row) {
    struct ends ends, edges;
    gather_ends(out, reading, row, IMPORT_END, &ends);
    gather_ends(out, reading, row, IMPORT_EDGE, &edges);
    bool sheet = out->piece.substance == SUBSTANCE_BARK || out->piece.substance == SUBSTANCE_COIL;
    bool torn = false;
    for (size_t i = 0; i < ends.n; i++)
        torn |= ends.kind[i] == END_TORN;
    if (edges.n == 0 && sheet && torn)
        edges = (struct ends){{"edges not described"}, {END_TORN}, 1};
    for (size_t i = 1; i < out->measure_count; i++) {
        struct measure *m = &out->measures[i];
        if (m->quantity == QUANTITY_LENGTH || m->quantity == QUANTITY_HOLES)
            attach(out, m, &ends);
        else if (m->quantity == QUANTITY_WIDTH || m->quantity == QUANTITY_ROUNDS)
            attach(out, m, &edges);
    }
    for (size_t i = 0; i < ends.n; i++)
        import_read_end(out, ends.text[i]);
}

void import_row(struct row_made *out, const struct reading *reading, const struct csv_row *row,
                struct arena *arena) {
    *out = (struct row_made){.arena = arena, .state = FIELD_UNKNOWN};
    for (size_t q = 0; q < QUANTITY_COUNT; q++)
        out->size[q] = NAN;
    read_piece(out, reading, row);
    if (row->n > reading->n_columns) {
        char suggestion[80];
        snprintf(suggestion, sizeof suggestion, "a decimal comma or a comma in a text? Quote it");
        import_problem_add(out, "", row->cells[reading->n_columns], false, suggestion,
                           "%zu cells where the heading has %zu.", row->n, reading->n_columns);
        return; /* what stands in which column is anybody's guess */
    }
    read_common(out, reading, row);
    if (out->memory) return;
    read_tolerances(out, reading, row);
    read_angle(out, reading, row);
    read_sizes(out, reading, row);
    cross_check(out, reading, row);
    read_ends(out, reading, row);
    import_read_note(out, reading);
}
