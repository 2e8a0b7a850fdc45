#include "job/snapshot.h"

/* One row: where the structs of a kind go. */
struct place {
    const struct kind *kind;
    void **v;
    size_t *n;
};

static int load_all(const struct place *places, size_t n, struct record *record,
                    struct arena *arena, struct error *err) {
    for (size_t i = 0; i < n; i++) {
        struct records list;
        int rc = record_load(&list, NULL, record, places[i].kind, 0, arena, err);
        if (rc) return rc;
        *places[i].v = list.v;
        *places[i].n = list.n;
    }
    return 0;
}

#define PLACE(kind_of, list, count)                                                                \
    { &(kind_of), (void **)&(list), &(count) }

int snapshot_read(struct snapshot *out, struct record *record, struct arena *arena,
                  struct error *err) {
    *out = (struct snapshot){0};
    struct find *f = &out->find;
    struct makings *m = &out->makings;
    const struct place places[] = {
        PLACE(piece_kind, f->pieces, f->piece_count),
        PLACE(measure_kind, f->measures, f->measure_count),
        PLACE(mark_kind_kind, f->marks, f->mark_count),
        PLACE(piece_outline_kind, f->outlines, f->outline_count),
        PLACE(source_kind, f->sources, f->source_count),
        PLACE(choice_kind, f->choices, f->choice_count),
        PLACE(handling_kind, f->handlings, f->handling_count),
        PLACE(own_alteration_kind, f->alterations, f->alteration_count),
        PLACE(making_kind, m->makings, m->making_count),
        PLACE(part_kind_kind, m->parts, m->part_count),
        PLACE(step_kind, m->steps, m->step_count),
    };
    struct record_meta meta;
    int rc = record_read_begin(record, err);
    if (rc) return rc;
    rc = record_meta(&meta, record, arena, err);
    if (!rc) {
        out->title = meta.title;
        out->seed = meta.seed;
        out->draws = meta.draws;
        out->revision = record_revision(record);
        rc = load_all(places, sizeof places / sizeof places[0], record, arena, err);
    }
    record_read_end(record);
    return rc;
}
