/* sizes: how big each part was, fresh and new and dry. */
#include "job/stage.h"

#include "remains/better.h"
#include "remains/sizes.h"

#include <math.h>
#include <stdio.h>

static const char *const kinds[] = {"piece",    "measure",    "mark",   "choice",
                                    "handling", "alteration", "source", NULL};

static int parts_table(struct stage_run *r, const struct sizes *sizes, struct error *err) {
    json_t *rows = stage_table(r, "parts", "Parts",
                               "part|size|material|fresh, mm|new and dry, mm|pieces|readings");
    for (size_t i = 0; rows && i < sizes->part_count; i++) {
        const struct part_size *p = &sizes->parts[i];
        json_array_append_new(rows, json_pack("[s,s,s,s,s,i,i]", p->part, p->quantity, p->material,
                                              stage_range(r, &p->fresh), stage_range(r, &p->dry),
                                              (int)p->pieces, (int)p->readings));
    }
    return rows ? 0 : fail_memory(err);
}

static int readings_table(struct stage_run *r, const struct sizes *sizes, struct error *err) {
    json_t *rows = stage_table(r, "readings", "Every reading with what was undone",
                               "reading|read, mm|state|fresh, mm|new and dry, mm|note");
    for (size_t i = 0; rows && i < sizes->measure_count; i++) {
        const struct measure_size *m = &sizes->measures[i];
        const char *state = m->measure->state >= 0 && m->measure->state < STATE_COUNT
                                ? state_words[m->measure->state]
                                : "state unknown";
        const char *note = m->why_not ? m->why_not : m->caution ? m->caution : "";
        json_array_append_new(
            rows, json_pack("[s,f,s,s,s,s]", m->measure->id, m->measure->value, state,
                            stage_range(r, &m->fresh), stage_range(r, &m->dry),
                            m->minimum && !*note ? "a minimum: an end is missing" : note));
    }
    return rows ? 0 : fail_memory(err);
}

/* What was lost since cutting, by material, zone, direction and state. */
static int losses_table(struct stage_run *r, const struct sizes *sizes, struct error *err) {
    json_t *rows = stage_table(r, "losses", "What time took: share of the fresh size lost, percent",
                               "material|zone|state|direction|beforehand|now|readings");
    for (size_t i = 0; rows && i < sizes->alteration_count; i++) {
        const struct alteration *a = &sizes->alterations[i];
        char before[40], now[40];
        double m = a->prior.mean, pm = 1.6448536269514722 * a->prior.sd; /* as it was used */
        snprintf(before, sizeof before, "%.1f (%.1f to %.1f)", -100 * expm1(-m),
                 -100 * expm1(-(m - pm)), -100 * expm1(-(m + pm)));
        snprintf(now, sizeof now, "%.1f (%.1f to %.1f)", 100 * a->loss.p50, 100 * a->loss.p05,
                 100 * a->loss.p95);
        json_array_append_new(rows,
                              json_pack("[s,s,s,s,s,s,i]", a->material, a->zone, a->state_word,
                                        axis_words[a->axis], before, now, (int)a->readings));
    }
    return rows ? 0 : fail_memory(err);
}

static int handling_table(struct stage_run *r, const struct sizes *sizes, struct error *err) {
    struct better better;
    int rc = remains_better(&better, &r->now->find, sizes, r->arena, err);
    json_t *table = rc ? NULL : remains_better_table(&better);
    if (rc) return rc;
    return table &&
                   json_object_set_new(json_object_get(r->result, "tables"), "handling", table) == 0
               ? 0
               : fail_memory(err);
}

static int run(struct stage_run *r, struct error *err) {
    if (r->now->find.piece_count == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list first.", "There are no pieces yet.");
    struct sizes *sizes = ARENA_NEW(r->arena, struct sizes, 1);
    if (!sizes) return fail_memory(err);
    int rc = remains_sizes(sizes, &r->now->find, r->rows, r->said, r->arena, err);
    if (rc) return rc;
    r->made.sizes = sizes;
    rc = parts_table(r, sizes, err);
    if (!rc) rc = losses_table(r, sizes, err);
    if (!rc) rc = readings_table(r, sizes, err);
    return rc ? rc : handling_table(r, sizes, err);
}

const struct stage stage_sizes = {"sizes", "Sizes", 5, kinds, true, run};
