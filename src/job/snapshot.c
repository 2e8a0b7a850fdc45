#include "job/snapshot.h"

#include <string.h>

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

struct newest {
    struct arena *arena;
    const char *day;
};

static int take_day(const struct record_change *c, void *context, struct error *err) {
    struct newest *n = context;
    n->day = arena_copy(n->arena, c->when, strnlen(c->when, 10));
    return n->day ? 0 : fail_memory(err);
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
        PLACE(stem_kind_kind, out->stems, out->stem_count),
        PLACE(stem_fault_kind, out->faults, out->fault_count),
        PLACE(test_peel_kind, out->peels, out->peel_count),
        PLACE(stem_visit_kind, out->visits, out->visit_count),
        PLACE(stock_item_kind, out->stock, out->stock_count),
        PLACE(weighing_kind, out->weighings, out->weighing_count),
        PLACE(plan_step_kind, out->plan_steps, out->plan_step_count),
        PLACE(season_plan_kind, out->season_plans, out->season_plan_count),
        PLACE(candidate_kind, out->candidates, out->candidate_count),
        PLACE(plan_limits_kind, out->limits, out->limit_count),
        PLACE(trial_kind, out->trials, out->trial_count),
        PLACE(trial_piece_kind, out->trial_pieces, out->trial_piece_count),
        PLACE(trial_reading_kind, out->trial_readings, out->trial_reading_count),
        PLACE(scan_entry_kind, out->scans, out->scan_count),
        PLACE(handover_kind, out->handovers, out->handover_count),
        PLACE(as_made_kind, out->as_made, out->as_made_count),
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
        struct newest newest = {arena, ""};
        rc = record_changes(record, true, 1, take_day, &newest, err);
        out->today = newest.day;
        if (!rc) rc = load_all(places, sizeof places / sizeof places[0], record, arena, err);
    }
    record_read_end(record);
    return rc;
}

int snapshot_scans(struct snapshot *now, struct record *record, struct arena *arena,
                   struct error *err) {
    struct scan_bytes *b = ARENA_NEW(arena, struct scan_bytes, now->scan_count + 1);
    if (!b) return fail_memory(err);
    now->scan_bytes = b;
    for (size_t i = 0; i < now->scan_count; i++) {
        struct error why = {0};
        b[i].why = "It names no file.";
        if (!now->scans[i].file) continue;
        int rc = record_file_get(&b[i].bytes, &b[i].n, record, now->scans[i].file, arena, &why);
        if (rc == ERR_MEMORY) return fail_memory(err);
        if (!rc) continue;
        b[i].bytes = NULL; /* told with the scan: the other trials are read all the same */
        b[i].why = arena_printf(arena, "%s %s", why.message, why.remedy);
        if (!b[i].why) return fail_memory(err);
    }
    return 0;
}
