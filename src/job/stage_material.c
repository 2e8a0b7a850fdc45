/* material: what is needed, which stem gives it, and whether the season still meets the opening. */
#include "job/stage.h"

#include "gather/care.h"
#include "gather/gather.h"
#include "gather/poles.h"
#include "job/stage_poles.h"
#include "job/stage_wood.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"stem",       "stem_fault", "test_peel", "stem_visit",
                                    "stock_item", "weighing",   "plan_step", "season_plan",
                                    "choice",     "handover",   NULL};

static const char *figure(const struct stage_run *r, double v, const char *format) {
    const char *text = isnan(v) ? "" : arena_printf(r->arena, format, v);
    return text ? text : "";
}

/* ---- what is needed ------------------------------------------------------------------------- */

static int needs(struct stage_run *r, const char *making, struct need_list *list,
                 const struct stuff_shelf *shelf, struct error *err) {
    struct need_options options = gather_need_options();
    options.shelf = shelf;
    int rc = gather_needs(list, r->made.makings, making, &options, r->said, r->arena, err);
    if (rc) return rc;
    json_t *rows = stage_table(
        r, "needs", "What has to be got",
        "part|what|species|number|length, mm|width, mm|thickness, mm|total|get|rests on|"
        "in hand|still to get|of the stock");
    long *used = ARENA_NEW(r->arena, long, r->now->stock_count);
    if (!used) return fail_memory(err);
    for (size_t i = 0; rows && i < list->n; i++) {
        const struct need *n = &list->need[i];
        const char *total =
            isnan(n->total) ? ""
                            : arena_printf(r->arena, "%.0f %s", n->total, n->unit ? n->unit : "");
        struct need_in_hand hand;
        rc = gather_need_in_hand(&hand, n, r->now->stock, r->now->stock_count, used, r->arena, err);
        if (rc) return rc;
        json_array_append_new(rows,
                              json_pack("[s,s,s,s,s,s,s,s,s,s,s,s,s]", n->part ? n->part : "",
                                        n->what ? n->what : "", n->species ? n->species : "",
                                        figure(r, n->number, "%.0f"), figure(r, n->length, "%.0f"),
                                        figure(r, n->width, "%.0f"),
                                        figure(r, n->thickness, "%.1f"), total ? total : "",
                                        figure(r, n->get, "%.0f"), n->rests_on ? n->rests_on : "",
                                        isnan(n->total) ? figure(r, hand.number, "%.0f") : "",
                                        figure(r, hand.still, "%.0f"), hand.say));
    }
    return rows ? 0 : fail_memory(err);
}

static const struct need *sheet_of(const struct need_list *list) {
    for (size_t i = 0; i < list->n; i++)
        if (list->need[i].what && strcmp(list->need[i].what, "sheet") == 0) return &list->need[i];
    return NULL;
}

/* ---- stems ---------------------------------------------------------------------------------- */

static int routes(struct stage_run *r, const struct sheet_want *want, struct error *err) {
    struct stem_route way[STEM_ROUTES];
    size_t n;
    int rc = gather_stem_routes(way, &n, want, &gather_closing_default, r->arena, err);
    if (rc) return rc;
    json_t *rows =
        stage_table(r, "ways", "Ways to get the sheet: none is chosen for you",
                    "way|diameter, mm|girth, mm|share of girth, percent|flattening strain, "
                    "percent|years to close|harm|who decides|in the way");
    for (size_t i = 0; rows && i < n; i++) {
        const struct stem_route *w = &way[i];
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,s,s,s,s]", w->what, figure(r, w->diameter, "%.0f"),
                            figure(r, w->girth, "%.0f"), figure(r, 100 * w->share, "%.0f"),
                            figure(r, 100 * w->strain, "%.1f"), figure(r, w->close_usual, "%.1f"),
                            w->harm, w->permit, w->conflict));
    }
    return rows ? 0 : fail_memory(err);
}

static int stems(struct stage_run *r, const struct need_list *list, const struct sheet_want *want,
                 struct error *err) {
    json_t *rows =
        stage_table(r, "stems", "Stems in view",
                    "stem|species|fits|share of girth, percent|flattening strain, percent|"
                    "harm|who decides|what stands in the way");
    int rc = rows ? 0 : fail_memory(err);
    for (size_t i = 0; i < r->now->stem_count && !rc; i++) {
        const struct stem *s = &r->now->stems[i];
        struct stem_answer a;
        struct error trouble = {0};
        if (!gather_gives_bark(list, s)) {
            json_array_append_new(
                rows, json_pack("[s,s,s,s,s,s,s,s]", s->id, s->species, "no", "", "", "", "",
                                "Another wood than the sheet's: it may serve for laths and rods."));
            continue;
        }
        if (gather_stem_answer(&a, s, want, &gather_closing_default, r->arena, &trouble)) {
            json_array_append_new(rows, json_pack("[s,s,s,s,s,s,s,s]", s->id,
                                                  s->species ? s->species : "", "cannot tell", "",
                                                  "", "", "", trouble.message));
            continue;
        }
        json_array_append_new(rows,
                              json_pack("[s,s,s,s,s,s,s,s]", s->id, s->species ? s->species : "",
                                        a.fits ? "yes" : "no", figure(r, 100 * a.share, "%.0f"),
                                        figure(r, 100 * a.strain, "%.1f"), a.harm, a.permit,
                                        a.say ? a.say : ""));
    }
    return rc;
}

/* ---- layout --------------------------------------------------------------------------------- */

/* A ring as [[x, y], ...], tenths of a mm. */
static json_t *ring_json(const double *xy, size_t n) {
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(
            list, json_pack("[f,f]", round(10 * xy[2 * i]) / 10, round(10 * xy[2 * i + 1]) / 10));
    return list;
}

static json_t *placed_json(const struct stem_layout *l, size_t sheet, struct arena *arena) {
    json_t *list = json_array();
    for (size_t i = 0; i < l->nest.n; i++) {
        const struct nest_place *at = &l->nest.place[i];
        if (at->sheet != sheet) continue;
        const struct nest_part *part = &l->part[at->part];
        double *xy = ARENA_NEW(arena, double, 2 * part->ring.n);
        if (!xy) continue;
        gather_nest_ring(at, part, xy);
        json_array_append_new(
            list, json_pack("{s:s,s:o}", "part", part->name, "ring", ring_json(xy, part->ring.n)));
    }
    return list;
}

/* What screens draw: each stem's bark unrolled, x round the stem and y up it, mm. */
static json_t *layouts_json(const struct stem_layout *l, struct arena *arena) {
    json_t *list = json_array();
    for (size_t i = 0; i < l->sheets; i++) {
        const struct nest_sheet *s = &l->sheet[i];
        json_t *faults = json_array();
        for (size_t k = 0; k < s->faults; k++)
            json_array_append_new(faults, ring_json(s->fault[k].xy, s->fault[k].n));
        json_array_append_new(list,
                              json_pack("{s:s,s:o,s:o,s:o,s:f,s:f,s:f}", "stem", l->stem[i]->id,
                                        "ring", ring_json(s->ring.xy, s->ring.n), "faults", faults,
                                        "parts", placed_json(l, i, arena), "share", l->share[i],
                                        "start", l->start[i], "used", l->nest.use[i]));
    }
    return list;
}

static int layout(struct stage_run *r, const struct need_list *list, struct error *err) {
    const struct snapshot *n = r->now;
    if (n->stem_count == 0) return 0;
    struct stem_layout out;
    const struct nest_options options = {.gap = 2, .seed = (uint64_t)n->seed};
    struct error trouble = {0};
    int rc = gather_layout(&out, list, n->stems, n->stem_count, n->faults, n->fault_count, &options,
                           r->arena, &trouble);
    if (rc == ERR_MEMORY) return fail_memory(err);
    json_object_set_new(r->result, "layout",
                        json_string(rc        ? trouble.message
                                    : out.say ? out.say
                                              : ""));
    if (rc) return 0; /* told; nothing else waits for it */
    json_object_set_new(r->result, "layouts", layouts_json(&out, r->arena));
    json_t *rows =
        stage_table(r, "layout", "Sheets laid out on the stems",
                    "stem|share of girth offered, percent|from the mark, mm|used, percent|"
                    "what it gives, or why it gives none");
    for (size_t i = 0; rows && i < out.sheets; i++) {
        bool gives = out.nest.use[i] > 0;
        json_array_append_new(
            rows,
            json_pack("[s,s,s,s,s]", out.stem[i]->id, figure(r, 100 * out.share[i], "%.0f"),
                      gives ? figure(r, out.start[i], "%.0f") : "",
                      gives ? figure(r, 100 * out.nest.use[i], "%.0f") : "none", out.gives[i]));
    }
    for (size_t i = 0; rows && i < out.n_left_out; i++)
        json_array_append_new(rows, json_pack("[s,s,s,s,s]", out.left_out[i]->id, "", "", "none",
                                              out.why_left_out[i]));
    return rows ? 0 : fail_memory(err);
}

/* ---- season --------------------------------------------------------------------------------- */

static const struct choice *choice_about(const struct find *f, const char *about) {
    const struct choice *found = NULL;
    for (size_t i = 0; i < f->choice_count; i++)
        if (strcmp(f->choices[i].about, about) == 0) found = &f->choices[i];
    return found;
}

/* What to take care of where a step begins; "" on its later days. */
static const char *care_of(const struct stage_run *r, const struct stuff_shelf *shelf,
                           const struct day_task *t) {
    const char *care =
        strncmp(t->what, "Begin", 5) ? "" : gather_step_care(shelf, t->what, r->arena);
    return care ? care : "";
}

static int season_tables(struct stage_run *r, const struct schedule *s,
                         const struct stuff_shelf *shelf, struct error *err) {
    json_t *plan =
        stage_table(r, "season", "Plan back from the opening",
                    "step|begin|end|last day to begin|last safe day to begin|slack, days|"
                    "warn on");
    for (size_t i = 0; plan && i < s->rows.n; i++) {
        const struct schedule_row *w = (const struct schedule_row *)s->rows.v + i;
        json_array_append_new(
            plan, json_pack("[s,s,s,s,s,s,s]", w->title, w->begin, w->end,
                            w->latest ? w->latest : "", w->last_safe ? w->last_safe : "",
                            figure(r, w->slack, "%.0f"), w->alarm ? w->alarm : ""));
    }
    json_t *windows = stage_table(r, "windows", "Seasons of each material before the opening",
                                  "step|opens|closes|slack on the first day|slack on the last|safe|"
                                  "if it is missed");
    for (size_t i = 0; windows && i < s->seasons.n; i++) {
        const struct season_row *w = (const struct season_row *)s->seasons.v + i;
        json_array_append_new(windows, json_pack("[s,s,s,s,s,s,s]", w->step, w->opens, w->closes,
                                                 figure(r, w->slack_first, "%.0f"),
                                                 figure(r, w->slack_last, "%.0f"),
                                                 w->marked ? "yes: plan for this one"
                                                 : w->safe ? "yes"
                                                           : "no",
                                                 w->missed ? w->missed : ""));
    }
    json_t *tasks = stage_table(r, "tasks", "Day by day", "day|step|what|take care");
    for (size_t i = 0; tasks && i < s->tasks.n; i++) {
        const struct day_task *t = (const struct day_task *)s->tasks.v + i;
        json_array_append_new(
            tasks, json_pack("[s,s,s,s]", t->date, t->step, t->what, care_of(r, shelf, t)));
    }
    return plan && windows && tasks ? 0 : fail_memory(err);
}

/* Options from the entered season plan, or the opening a choice names. */
static bool season_options(struct schedule_options *o, const struct snapshot *now) {
    const struct choice *opening = choice_about(&now->find, "opening");
    if (now->season_plan_count)
        *o = now->season_plans[0].options;
    else if (opening && opening->value)
        *o = (struct schedule_options){.opening = opening->value,
                                       .assurance = 0.9,
                                       .alarm_days = 56,
                                       .draws = 4096,
                                       .seed = now->seed};
    else
        return false;
    if (!o->today) o->today = now->today;
    return o->opening != NULL;
}

/* What goes into the calendar file: the same days as the tables. */
static int calendar(struct stage_run *r, const struct schedule *s, double alarm_days,
                    struct error *err) {
    struct ical_event *e;
    size_t n;
    const char *title = r->now->title && *r->now->title ? r->now->title : "untitled";
    int rc = gather_calendar_events(&e, &n, s, alarm_days, title, r->arena, err);
    json_t *list = json_array();
    for (size_t i = 0; !rc && i < n; i++)
        json_array_append_new(list, field_encode(&ical_event_kind, &e[i]));
    json_object_set_new(r->result, "calendar", list);
    return rc;
}

/* The planned day on which a step that begins so is begun; NULL when there is none. */
static const char *begin_of(const struct schedule *s, const char *begins, const char *holds) {
    const struct schedule_row *row = s->rows.v;
    for (size_t i = 0; i < s->rows.n; i++)
        if (strncmp(row[i].id, begins, strlen(begins)) == 0 && strstr(row[i].id, holds))
            return row[i].begin;
    return NULL;
}

struct planned_days {
    const char *make;
    const char **cut; /* [stems] */
};

/* The day on which each stem is taken: for its bark where it gives the sheet, else for its wood. */
static void cut_days(const struct stage_run *r, struct planned_days *days,
                     const struct need_list *list, const struct schedule *s) {
    for (size_t i = 0; i < r->now->stem_count; i++) {
        const struct stem *stem = &r->now->stems[i];
        const struct need of = {.what = gather_gives_bark(list, stem) ? "sheet" : "lath",
                                .species = stem->species};
        const char *material = gather_season_material(&of),
                   *day = material ? begin_of(s, "take", material) : NULL;
        if (day) days->cut[i] = day;
    }
}

static int season(struct stage_run *r, struct planned_days *days, const struct need_list *list,
                  const struct stuff_shelf *shelf, struct error *err) {
    struct schedule_options options;
    if (!season_options(&options, r->now)) {
        json_object_set_new(
            r->result, "season",
            json_string("No opening day is known. Enter a choice about \"opening\" with the "
                        "day as its value, and the season is reckoned back from it."));
        return 0;
    }
    struct plan_step *steps = r->now->plan_steps;
    size_t n = r->now->plan_step_count;
    struct schedule s;
    int rc = n ? 0 : gather_plan_draft(&steps, &n, list, shelf, r->arena, err);
    if (!rc) rc = gather_schedule(&s, steps, n, &options, r->said, r->arena, err);
    if (rc) return rc;
    json_object_set_new(r->result, "season", json_string(s.say ? s.say : ""));
    json_object_set_new(r->result, "opening", json_string(options.opening));
    json_object_set_new(r->result, "chance", json_real(s.chance));
    json_object_set_new(r->result, "ready", json_string(s.ready));
    json_object_set_new(r->result, "slack_days", json_real(s.slack));
    cut_days(r, days, list, &s);
    days->make = begin_of(&s, "make", "");
    rc = calendar(r, &s, options.alarm_days, err);
    if (rc) return rc;
    return season_tables(r, &s, shelf, err);
}

/* ---- the step ------------------------------------------------------------------------------- */

/* All that the thing is called and used for. */
static const char *called(const struct stage_run *r, const struct making *leading) {
    const char *use = r->now->handover_count ? r->now->handovers[0].used_for : NULL,
               *title = r->now->title, *way = leading->title;
    return arena_printf(r->arena, "%s %s %s", title ? title : "", way ? way : "", use ? use : "");
}

static int run(struct stage_run *r, struct error *err) {
    const struct making *leading = r->made.makings ? makings_leading(r->made.makings) : NULL;
    if (!leading)
        return fail(err, ERR_MISSING, "Work out the making first, or enter one.",
                    "Without a making nothing is known to be needed.");
    struct stuff_shelf *shelf;
    struct need_list list;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    rc = needs(r, leading->id, &list, shelf, err);
    const struct need *sheet = rc ? NULL : sheet_of(&list);
    struct planned_days days = {r->now->today,
                                (const char **)ARENA_NEW(r->arena, char *, r->now->stem_count)};
    if (!rc && !days.cut) rc = fail_memory(err);
    for (size_t i = 0; days.cut && i < r->now->stem_count; i++)
        days.cut[i] = r->now->today;
    struct sheet_want want = {.thickness = NAN};
    bool wanted = !rc && sheet && !isnan(sheet->width) && !isnan(sheet->length);
    if (wanted) {
        /* The need is fresh and has its trim: nothing is added again. */
        want = (struct sheet_want){.around = sheet->width,
                                   .along = sheet->length,
                                   .thickness = isnan(sheet->thickness) ? 4 : sheet->thickness};
        rc = routes(r, &want, err);
        if (!rc) rc = stems(r, &list, &want, err);
    }
    if (!rc && list.say) json_object_set_new(r->result, "say", json_string(list.say));
    if (!rc) rc = layout(r, &list, err);
    if (!rc) rc = stage_poles(r, &list, err);
    if (!rc) rc = season(r, &days, &list, shelf, err);
    if (!rc) rc = stage_wood_cut(r, wanted ? &want : NULL, &list, days.cut, shelf, err);
    if (!rc) rc = stage_wood_visits(r, err);
    if (!rc) rc = stage_wood_stock(r, days.make, err);
    const char *safe = gather_never_safe(called(r, leading));
    if (!rc && safe) json_object_set_new(r->result, "never_safe", json_string(safe));
    stuff_shelf_free(shelf);
    return rc;
}

const struct stage stage_material = {"material", "Material and season", 8, kinds, false, run};
