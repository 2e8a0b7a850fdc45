#include "record/import_groups.h"

#include "base/mem.h"
#include "record/names.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SORTS = 4, FEWEST = 3 /* others needed to doubt one */ };
static const long sorts[SORTS] = {QUANTITY_LENGTH, QUANTITY_WIDTH, QUANTITY_THICKNESS,
                                  QUANTITY_CHORD};

struct group {
    struct sizes {
        double *v; /* ascending, once all are in */
        size_t n, room;
    } sizes[SORTS];
};

struct import_groups {
    struct names *parts;
    struct group *v;
    size_t n, room;
};

static const double too_small = 0.25, too_large = 5;

void import_groups_free(struct import_groups *groups) {
    if (!groups) return;
    for (size_t g = 0; g < groups->n; g++)
        for (int k = 0; k < SORTS; k++)
            mem_free(groups->v[g].sizes[k].v);
    mem_free(groups->v);
    names_free(groups->parts);
    mem_free(groups);
}

static bool push(struct sizes *s, double value) {
    if (s->n == s->room) {
        size_t room = s->room ? 2 * s->room : 16;
        double *v = mem_resize(s->v, room, sizeof *v);
        if (!v) return false;
        s->v = v;
        s->room = room;
    }
    s->v[s->n++] = value;
    return true;
}

static struct group *group_of(struct import_groups *groups, const char *part) {
    size_t number = groups->n;
    int added = names_add(groups->parts, part, &number);
    if (added < 0) return NULL;
    if (added == 0) return &groups->v[number];
    if (groups->n == groups->room) {
        size_t room = groups->room ? 2 * groups->room : 16;
        struct group *v = mem_resize(groups->v, room, sizeof *v);
        if (!v) return NULL;
        groups->v = v;
        groups->room = room;
    }
    groups->v[groups->n] = (struct group){0};
    return &groups->v[groups->n++];
}

static double size_in(const struct reading *reading, const struct csv_row *row, long quantity) {
    struct cell_number n;
    for (size_t c = 0; c < reading->n_columns && c < row->n; c++) {
        const struct import_column *column = reading->columns[c];
        if (!column || column->as != IMPORT_SIZE || column->quantity != quantity) continue;
        if (!*row->cells[c] ||
            cell_number_read(&n, row->cells[c], reading->map->decimal_comma == 1))
            return NAN;
        return n.value * cell_unit_factor(n.unit ? n.unit : column->unit ? column->unit : "");
    }
    return NAN;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static bool gather(struct import_groups *groups, const struct reading *reading,
                   const struct csv_table *table) {
    for (size_t r = 1; r < table->n; r++) {
        const char *part = import_cell(reading, &table->rows[r], IMPORT_PART, FIELD_UNKNOWN);
        struct group *g = group_of(groups, part);
        if (!g) return false;
        for (int k = 0; k < SORTS; k++) {
            double v = size_in(reading, &table->rows[r], sorts[k]);
            if (v > 0 && !push(&g->sizes[k], v)) return false;
        }
    }
    for (size_t g = 0; g < groups->n; g++)
        for (int k = 0; k < SORTS; k++)
            if (groups->v[g].sizes[k].n)
                qsort(groups->v[g].sizes[k].v, groups->v[g].sizes[k].n, sizeof(double), ascending);
    return true;
}

struct import_groups *import_groups_new(const struct reading *reading,
                                        const struct csv_table *table) {
    struct import_groups *groups = MEM_NEW(struct import_groups, 1);
    if (!groups) return NULL;
    groups->parts = names_new();
    if (groups->parts && gather(groups, reading, table)) return groups;
    import_groups_free(groups);
    return NULL;
}

/* The k-th of the others, the one at `place` being left out. */
static double other(const struct sizes *s, size_t place, size_t k) {
    return s->v[k < place ? k : k + 1];
}

/* What the value would have to be multiplied by to stand among the others; 1 when it does. */
static double misfit(const struct sizes *s, double value, double *low, double *high) {
    size_t place = 0;
    for (size_t end = s->n; place < end;) { /* the first that is not below it */
        size_t half = place + (end - place) / 2;
        if (s->v[half] < value)
            place = half + 1;
        else
            end = half;
    }
    if (s->n < FEWEST + 1 || place == s->n) return 1;
    size_t others = s->n - 1;
    double middle = other(s, place, others / 2);
    *low = other(s, place, 0);
    *high = other(s, place, others - 1);
    if (value < too_small * middle && value < *low && value * 10 >= *low && value * 10 <= 2 * *high)
        return 10;
    if (value > too_large * *high && value / 10 >= *low / 2 && value / 10 <= *high) return 0.1;
    /* Several in the wrong unit hide each other: then the middle one decides alone. */
    if (others >= 20 && value < too_small * middle && value * 10 >= middle / 2 &&
        value * 10 <= 2 * middle) {
        *low = other(s, place, others / 10);
        return 10;
    }
    return 1;
}

void import_groups_check(struct row_made *row, const struct import_groups *groups,
                         const struct reading *reading, const struct csv_row *csv) {
    const char *part = import_cell(reading, csv, IMPORT_PART, FIELD_UNKNOWN);
    size_t number;
    long substance = row->piece.substance;
    bool shapeless = substance == SUBSTANCE_COLOUR || substance == SUBSTANCE_TRACE ||
                     substance == SUBSTANCE_MIXED; /* patches come in all sizes */
    if (shapeless || !*part || !names_find(groups->parts, part, &number)) return;
    bool swapped = row->size[QUANTITY_THICKNESS] > row->size[QUANTITY_WIDTH]; /* told already */
    for (int k = 0; k < SORTS; k++) {
        double value = row->size[sorts[k]], low, high;
        bool of_both = sorts[k] == QUANTITY_WIDTH || sorts[k] == QUANTITY_THICKNESS;
        if (isnan(value) || (swapped && of_both)) continue;
        double factor = misfit(&groups->v[number].sizes[k], value, &low, &high);
        if (factor == 1) continue;
        char suggestion[60];
        snprintf(suggestion, sizeof suggestion, "%.10g", value * factor);
        import_problem_add(row, import_heading(reading, IMPORT_SIZE, sorts[k]),
                           import_cell(reading, csv, IMPORT_SIZE, sorts[k]), true, suggestion,
                           factor > 1 ? "A %s of %g mm, where other pieces of this part have %g to "
                                        "%g: perhaps in cm."
                                      : "A %s of %g mm, where other pieces of this part have %g to "
                                        "%g: perhaps ten times too large.",
                           quantity_words[sorts[k]], value, low, high);
    }
}
