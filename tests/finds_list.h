/* finds_list: a demo finds list as a struct find, for tests of the rooms that take one.
 *
 * A plain reader of the two demo lists, much simpler than the import: fixed headings, no map. */
#ifndef RELICT_TESTS_FINDS_LIST_H
#define RELICT_TESTS_FINDS_LIST_H

#include "base/csv.h"
#include "remains/classify.h"

#include "check.h"

struct finds_list {
    struct arena *arena;
    struct find find;
};

static inline const char *list_cell(const struct csv_table *t, size_t row, const char *heading) {
    for (size_t c = 0; c < t->rows[0].n; c++)
        if (strcmp(t->rows[0].cells[c], heading) == 0 && c < t->rows[row].n)
            return t->rows[row].cells[c];
    return "";
}

static inline struct measure *list_measure(struct finds_list *l, const struct csv_table *t,
                                           size_t row, const char *heading, const char *word,
                                           long quantity) {
    const char *cell = list_cell(t, row, heading), *id = list_cell(t, row, "id");
    if (!*cell) return NULL;
    struct measure *m = &l->find.measures[l->find.measure_count++];
    field_unknown(&measure_kind, m);
    m->id = arena_printf(l->arena, "%s.%s", id, word);
    m->piece = arena_strdup(l->arena, id);
    m->quantity = quantity;
    m->value = atof(cell);
    m->tolerance = atof(list_cell(t, row, "tol_mm"));
    const char *treatment;
    m->state = remains_state_of(list_cell(t, row, "state"), &treatment, NULL);
    m->treatment = arena_strdup(l->arena, treatment);
    m->method = arena_strdup(l->arena, list_cell(t, row, "method"));
    return m;
}

static inline void list_ends(struct finds_list *l, const struct csv_table *t, size_t row,
                             struct measure *m) {
    static const char *const heading[] = {"end_1", "end_2"};
    m->ends.v = ARENA_NEW(l->arena, const char *, 2);
    m->end_kinds.v = ARENA_NEW(l->arena, long, 2);
    for (int k = 0; k < 2; k++) {
        const char *cell = list_cell(t, row, heading[k]);
        if (!*cell) continue;
        m->ends.v[m->ends.n++] = arena_strdup(l->arena, cell);
        m->end_kinds.v[m->end_kinds.n++] = remains_end_of(cell);
    }
}

static inline void list_row(struct finds_list *l, const struct csv_table *t, size_t row) {
    struct piece *p = &l->find.pieces[l->find.piece_count++];
    field_unknown(&piece_kind, p);
    p->id = arena_strdup(l->arena, list_cell(t, row, "id"));
    p->part = arena_strdup(l->arena, list_cell(t, row, "part"));
    p->material = arena_strdup(l->arena, list_cell(t, row, "material"));
    p->zone = arena_strdup(l->arena, list_cell(t, row, "zone"));
    p->note = arena_strdup(l->arena, list_cell(t, row, "note"));
    const char *conf = list_cell(t, row, "id_conf");
    p->confidence = *conf ? *conf - 'A' : FIELD_UNKNOWN;
    bool coil = strstr(p->part, "coil") != NULL;
    struct measure *m = list_measure(l, t, row, "length_mm", "length", QUANTITY_LENGTH);
    if (m) list_ends(l, t, row, m);
    list_measure(l, t, row, "width_mm", "width", QUANTITY_WIDTH);
    list_measure(l, t, row, "thick_mm", "thickness", QUANTITY_THICKNESS);
    list_measure(l, t, row, "chord_mm", "chord", QUANTITY_CHORD);
    list_measure(l, t, row, "sagitta_mm", "rise", QUANTITY_SAGITTA);
    list_measure(l, t, row, "holes_n", coil ? "rounds" : "holes",
                 coil ? QUANTITY_ROUNDS : QUANTITY_HOLES);
    list_measure(l, t, row, "pitch_mm", coil ? "round_pitch" : "pitch",
                 coil ? QUANTITY_ROUND_PITCH : QUANTITY_PITCH);
    list_measure(l, t, row, "hole_d_mm", "hole_diameter", QUANTITY_HOLE_DIAMETER);
}

/* Reads "demo/tray/finds.csv"; free with finds_list_free. */
static inline void finds_list_read(struct finds_list *l, const char *name) {
    struct error err = {0};
    struct csv_table t;
    static char text[1 << 20];
    FILE *f = fopen(check_source_path(name), "rb");
    assert_non_null(f);
    size_t n = fread(text, 1, sizeof text, f);
    fclose(f);
    memset(l, 0, sizeof *l);
    l->arena = arena_new();
    check_ok(csv_read(&t, text, n, NULL, l->arena, &err), &err);
    l->find.pieces = ARENA_NEW(l->arena, struct piece, t.n);
    l->find.measures = ARENA_NEW(l->arena, struct measure, 8 * t.n);
    for (size_t r = 1; r < t.n; r++)
        list_row(l, &t, r);
    for (size_t i = 0; i < l->find.piece_count; i++)
        check_ok(remains_piece_classify(&l->find.pieces[i], &l->find, l->arena, &err), &err);
}

static inline void finds_list_free(struct finds_list *l) {
    arena_free(l->arena);
}

#endif
