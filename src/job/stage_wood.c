#include "job/stage_wood.h"

#include "gather/care.h"
#include "gather/gather.h"
#include "gather/poles.h"

#include <math.h>
#include <string.h>

static const char *figure(const struct stage_run *r, double v, const char *format) {
    const char *text = isfinite(v) ? arena_printf(r->arena, format, v) : "";
    return text ? text : "";
}

static const char *or_empty(const char *text) {
    return text ? text : "";
}

/* ---- before the cut ------------------------------------------------------------------------- */

static const char *done_word(long done) {
    return done == 1 ? "on record" : done == 0 ? "missing" : "the record cannot tell";
}

static int checklist(struct stage_run *r, const struct stem *s, double share, const char *day,
                     json_t *rows, struct error *err) {
    struct test_peel *own = ARENA_NEW(r->arena, struct test_peel, r->now->peel_count);
    size_t n = 0;
    if (!own) return fail_memory(err);
    for (size_t i = 0; i < r->now->peel_count; i++)
        if (r->now->peels[i].stem && strcmp(r->now->peels[i].stem, s->id) == 0)
            own[n++] = r->now->peels[i];
    struct care_list list;
    int rc = gather_checklist(&list, s, share, day, own, n, r->arena, err);
    for (size_t i = 0; !rc && i < list.n; i++)
        json_array_append_new(rows,
                              json_pack("[s,s,s,s,s,s]", s->id, list.line[i].what, list.line[i].say,
                                        or_empty(list.line[i].by), done_word(list.line[i].done),
                                        standing_words[list.line[i].standing]));
    return rc;
}

/* The kinds of work there will be: by the planned steps, by the order of work, by what is needed.
 */
static void acts_ahead(struct stage_run *r, const struct need_list *needs, bool is[ACT_COUNT]) {
    const json_t *tables = json_object_get(r->result, "tables"), *row;
    enum act act[ACT_COUNT];
    size_t i;
    json_array_foreach(json_object_get(json_object_get(tables, "tasks"), "rows"), i, row) {
        const char *what = json_string_value(json_array_get(row, 2));
        for (size_t n = gather_acts(act, what); n-- > 0;)
            is[act[n]] = true;
    }
    const struct makings *m = r->made.makings;
    const struct making *lead = m ? makings_leading(m) : NULL;
    for (i = 0; lead && i < m->step_count; i++)
        if (m->steps[i].making && !strcmp(m->steps[i].making, lead->id))
            for (size_t n = gather_acts(act, m->steps[i].what); n-- > 0;)
                is[act[n]] = true;
    for (i = 0; i < needs->n; i++) {
        const char *what = needs->need[i].what;
        is[ACT_PEEL] = is[ACT_PEEL] || !strcmp(what, "sheet");
        is[ACT_PAINT] = is[ACT_PAINT] || !strcmp(what, "paint");
        is[ACT_FELL] = is[ACT_FELL] || !strcmp(what, "lath") || !strcmp(what, "rod");
    }
    is[ACT_ORIGINAL] = true; /* it is measured and compared with all along */
}

static int cautions(struct stage_run *r, const struct need_list *needs,
                    const struct stuff_shelf *shelf, struct error *err) {
    bool is[ACT_COUNT] = {false};
    json_t *rows = stage_table(r, "cautions",
                               "Cautions of the work; local rules and licensed "
                               "people come first",
                               "work|hazard|what to do|source");
    int rc = rows ? 0 : fail_memory(err);
    acts_ahead(r, needs, is);
    for (int act = 0; act < ACT_COUNT && !rc; act++) {
        struct care_list list;
        if (!is[act]) continue;
        rc = gather_cautions(&list, shelf, (enum act)act, r->arena, err);
        for (size_t k = 0; !rc && k < list.n; k++)
            json_array_append_new(rows, json_pack("[s,s,s,s]", act_words[act], list.line[k].what,
                                                  list.line[k].say, or_empty(list.line[k].source)));
    }
    return rc;
}

/* What the peels of each stem say: from when to when the bark slipped. */
static int peels(struct stage_run *r, struct error *err) {
    const struct snapshot *now = r->now;
    if (now->peel_count == 0) return 0;
    json_t *rows = stage_table(r, "peels", "Test peels: when the bark slipped",
                               "stem|first day|last day|not yet on|tried|in words");
    struct test_peel *own = ARENA_NEW(r->arena, struct test_peel, now->peel_count);
    if (!rows || !own) return fail_memory(err);
    for (size_t s = 0; s < now->stem_count; s++) {
        size_t n = 0;
        for (size_t i = 0; i < now->peel_count; i++)
            if (now->peels[i].stem && strcmp(now->peels[i].stem, now->stems[s].id) == 0)
                own[n++] = now->peels[i];
        if (n == 0) continue;
        struct slip_season slip;
        int rc = gather_slip(&slip, own, n, err);
        if (rc) return rc;
        json_array_append_new(
            rows, json_pack("[s,s,s,s,i,s]", now->stems[s].id, or_empty(slip.first),
                            or_empty(slip.last), or_empty(slip.before), (int)slip.tried,
                            slip.drought ? "It did not slip in drought: try again after rain."
                            : slip.first ? "It slips."
                                         : "It has not slipped yet: try again in some days."));
    }
    return 0;
}

/* Whether anything that is cleft or used in the round is of this wood. */
static bool gives_wood(const struct need_list *needs, const struct stem *s) {
    for (size_t i = 0; i < needs->n; i++)
        if (gather_is_stick(&needs->need[i]) &&
            gather_same_genus(needs->need[i].species, s->species))
            return s->kind != STEM_LIVING;
    return false;
}

int stage_wood_cut(struct stage_run *r, const struct sheet_want *want,
                   const struct need_list *needs, const char *const *day,
                   const struct stuff_shelf *shelf, struct error *err) {
    json_t *rows = stage_table(r, "checklist", "Before a stem is cut or peeled",
                               "stem|what|what to do|by|state|standing");
    int rc = rows ? 0 : fail_memory(err);
    for (size_t i = 0; i < r->now->stem_count && !rc; i++) {
        const struct stem *s = &r->now->stems[i];
        struct stem_answer a;
        struct error trouble = {0};
        bool peeled =
            want && gather_gives_bark(needs, s) &&
            !gather_stem_answer(&a, s, want, &gather_closing_default, r->arena, &trouble) && a.fits;
        if (peeled || gives_wood(needs, s)) /* what gives nothing is not cut */
            rc = checklist(r, s, peeled ? a.share : NAN, day[i], rows, err);
    }
    if (!rc) rc = cautions(r, needs, shelf, err);
    return rc ? rc : peels(r, err);
}

/* ---- later years ---------------------------------------------------------------------------- */

static int say_healing(struct stage_run *r, const struct stem *stem, const struct healing_fit *f,
                       struct error *err) {
    struct statement s = statement_blank();
    s.id = arena_printf(r->arena, "stem.%s.closing", stem->id);
    s.step = "material";
    s.about = arena_printf(r->arena, "stem %s", stem->id);
    s.quantity = "closing of the wound";
    s.sentence = arena_printf(r->arena, "The wound of stem %s closes by so much a year, %s.",
                              stem->id, healing_words[f->word]);
    s.unit = "mm";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = STANDING_MEASURED;
    s.value = spread_exact(f->rate);
    s.rule = "straight line through the widths of the visits, both edges together";
    s.source = gather_closing_default.source;
    s.caution =
        isfinite(f->years_left)
            ? arena_printf(r->arena, "At this rate it is closed in %.1f years.", f->years_left)
            : "At this rate it does not close.";
    if (!s.id || !s.about || !s.sentence || !s.caution) return fail_memory(err);
    int rc = statement_link_add(&s, "stem", stem->id, "rests on", r->arena, err);
    for (size_t i = 0; i < r->now->visit_count && !rc; i++)
        if (r->now->visits[i].stem && strcmp(r->now->visits[i].stem, stem->id) == 0)
            rc = statement_link_add(&s, "stem_visit", r->now->visits[i].id, "measured", r->arena,
                                    err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static void visit_row(struct stage_run *r, const struct stem *stem, const struct healing_fit *f,
                      const struct stem_visit *last, json_t *rows) {
    json_array_append_new(
        rows,
        json_pack("[s,i,s,s,s,s,s,s,s,s,s,s,s]", stem->id, (int)f->visits,
                  figure(r, f->start_width, "%.0f"), figure(r, f->last_width, "%.0f"),
                  figure(r, last->callus_left, "%.0f"), figure(r, last->callus_right, "%.0f"),
                  figure(r, last->callus_foot, "%.0f"),
                  last->crown >= 0 ? crown_words[last->crown] : "", figure(r, f->rate, "%.1f"),
                  isfinite(f->low) ? arena_printf(r->arena, "%.1f to %.1f", f->low, f->high) : "",
                  arena_printf(r->arena, "%.1f (%.1f to %.1f)", gather_closing_default.usual,
                               gather_closing_default.slow, gather_closing_default.fast),
                  healing_words[f->word],
                  isfinite(f->years_left) ? figure(r, f->years_left, "%.1f") : "never"));
}

int stage_wood_visits(struct stage_run *r, struct error *err) {
    const struct snapshot *now = r->now;
    if (now->visit_count == 0) return 0;
    json_t *rows = stage_table(
        r, "visits", "Visits in later years",
        "stem|visits|width at first, mm|width now, mm|callus left, mm|callus right, mm|"
        "callus at the foot, mm|crown|closes, mm a year|95 % range|to be expected|healing|years "
        "left");
    struct stem_visit *own = ARENA_NEW(r->arena, struct stem_visit, now->visit_count);
    if (!rows || !own) return fail_memory(err);
    for (size_t s = 0; s < now->stem_count; s++) {
        size_t n = 0, last = 0;
        for (size_t i = 0; i < now->visit_count; i++) {
            if (!now->visits[i].stem || strcmp(now->visits[i].stem, now->stems[s].id)) continue;
            if (n && strcmp(now->visits[i].date, own[last].date) > 0) last = n;
            own[n++] = now->visits[i];
        }
        struct healing_fit f;
        struct error trouble = {0};
        if (n == 0) continue;
        if (gather_healing(&f, own, n, &gather_closing_default, &trouble)) {
            json_array_append_new(rows, json_pack("[s,i,s,s,s,s,s,s,s,s,s,s,s]", now->stems[s].id,
                                                  (int)n, "", "", "", "", "", "", "", "", "",
                                                  trouble.message, trouble.remedy));
            continue;
        }
        visit_row(r, &now->stems[s], &f, &own[last], rows);
        int rc = say_healing(r, &now->stems[s], &f, err);
        if (rc) return rc;
    }
    return 0;
}

/* ---- stock ---------------------------------------------------------------------------------- */

static int say_moisture(struct stage_run *r, const struct stock_item *item,
                        const struct stock_answer *a, struct error *err) {
    struct statement s = statement_blank();
    if (isnan(a->moisture_now)) return 0;
    s.id = arena_printf(r->arena, "stock.%s.moisture", item->id);
    s.step = "material";
    s.about = arena_printf(r->arena, "stock %s", item->id);
    s.quantity = "moisture";
    s.sentence = arena_printf(
        r->arena, "So much water for its dry mass was in %s at its last weighing.", item->id);
    s.unit = "percent";
    s.footing = FOOTING_WORKED_OUT;
    s.standing = STANDING_MEASURED;
    s.value = spread_exact(100 * a->moisture_now);
    s.rule = a->basis;
    s.source = "its own weighings; curve: Lewis, Ind. Eng. Chem. 13, 1921, 427";
    s.caution = a->say && *a->say ? a->say : NULL;
    if (!s.id || !s.about || !s.sentence) return fail_memory(err);
    int rc = statement_link_add(&s, "stock_item", item->id, "weighed", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

static void stock_row(struct stage_run *r, const struct stock_item *item,
                      const struct stock_answer *now, const struct stock_answer *then,
                      json_t *rows) {
    const char *on =
        then && isfinite(then->moisture_on)
            ? isfinite(then->moisture_low)
                  ? arena_printf(r->arena, "%.0f (%.0f to %.0f)", 100 * then->moisture_on,
                                 100 * then->moisture_low, 100 * then->moisture_high)
                  : figure(r, 100 * then->moisture_on, "%.0f")
            : "";
    json_array_append_new(rows, json_pack("[s,s,s,s,i,s,s,s,s,s,s,s]", item->id,
                                          item->what >= 0 ? stock_what_words[item->what] : "",
                                          or_empty(item->species), or_empty(item->taken),
                                          (int)now->weighings, figure(r, now->mass_now, "%.0f"),
                                          figure(r, 100 * now->moisture_now, "%.0f"), or_empty(on),
                                          figure(r, 100 * now->change_48, "%.2f"),
                                          now->dry == 1   ? "yes"
                                          : now->dry == 0 ? "not yet"
                                                          : "cannot tell",
                                          or_empty(now->dry_by), or_empty(now->say)));
}

int stage_wood_stock(struct stage_run *r, const char *make_day, struct error *err) {
    const struct snapshot *n = r->now;
    if (n->stock_count == 0) return 0;
    const char *heads =
        arena_printf(r->arena,
                     "item|what|species|taken|weighings|mass, g|moisture, percent|moisture on %s, "
                     "percent|change in 48 h, percent|dry|dry by|warning",
                     make_day ? make_day : "the last day");
    json_t *rows = heads ? stage_table(r, "stock", "Material in hand", heads) : NULL;
    struct weighing *own = ARENA_NEW(r->arena, struct weighing, n->weighing_count);
    if (!rows || !own) return fail_memory(err);
    for (size_t i = 0; i < n->stock_count; i++) {
        const struct stock_item *item = &n->stock[i];
        size_t k = 0;
        for (size_t w = 0; w < n->weighing_count; w++)
            if (n->weighings[w].item && strcmp(n->weighings[w].item, item->id) == 0)
                own[k++] = n->weighings[w];
        struct stock_answer now, then;
        struct error trouble = {0};
        int rc = gather_stock(&now, item, own, k, NULL, r->arena, &trouble);
        if (rc == ERR_MEMORY) return fail_memory(err);
        if (rc) {
            json_array_append_new(rows,
                                  json_pack("[s,s,s,s,i,s,s,s,s,s,s,s]", item->id,
                                            item->what >= 0 ? stock_what_words[item->what] : "",
                                            or_empty(item->species), or_empty(item->taken), (int)k,
                                            "", "", "", "", "", "", trouble.message));
            continue;
        }
        bool ahead = make_day && !gather_stock(&then, item, own, k, make_day, r->arena, &trouble);
        stock_row(r, item, &now, ahead ? &then : NULL, rows);
        if ((rc = say_moisture(r, item, &now, err))) return rc;
    }
    return 0;
}
