/* material: what is needed, which stem gives it, and whether the season still meets the opening. */
#include "job/stage.h"

#include "gather/need.h"
#include "gather/schedule.h"
#include "gather/stem.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"stem",       "stem_fault", "test_peel",
                                    "stem_visit", "stock_item", "weighing",
                                    "plan_step",  "choice",     NULL};

static const char *figure(const struct stage_run *r, double v, const char *format) {
    const char *text = isnan(v) ? "" : arena_printf(r->arena, format, v);
    return text ? text : "";
}

/* ---- what is needed ------------------------------------------------------------------------- */

static int needs(struct stage_run *r, const char *making, struct need_list *list,
                 const struct stuff_shelf *shelf, struct error *err) {
    struct need_options options = gather_need_options();
    options.shelf = shelf;
    int rc = gather_need_list(list, r->made.makings, making, &options, r->arena, err);
    if (rc) return rc;
    json_t *rows = stage_table(
        r, "needs", "What has to be got",
        "part|what|species|number|length, mm|width, mm|thickness, mm|total|get|rests on");
    for (size_t i = 0; rows && i < list->n; i++) {
        const struct need *n = &list->need[i];
        const char *total =
            isnan(n->total) ? ""
                            : arena_printf(r->arena, "%.0f %s", n->total, n->unit ? n->unit : "");
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,s,s,s,s,s]", n->part ? n->part : "", n->what ? n->what : "",
                            n->species ? n->species : "", figure(r, n->number, "%.0f"),
                            figure(r, n->length, "%.0f"), figure(r, n->width, "%.0f"),
                            figure(r, n->thickness, "%.1f"), total ? total : "",
                            figure(r, n->get, "%.0f"), n->rests_on ? n->rests_on : ""));
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

static int stems(struct stage_run *r, const struct sheet_want *want, struct error *err) {
    json_t *rows =
        stage_table(r, "stems", "Stems in view",
                    "stem|species|fits|share of girth, percent|flattening strain, percent|"
                    "harm|who decides|what stands in the way");
    int rc = rows ? 0 : fail_memory(err);
    for (size_t i = 0; i < r->now->stem_count && !rc; i++) {
        const struct stem *s = &r->now->stems[i];
        struct stem_answer a;
        struct error trouble = {0};
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

static int sheet_statement(struct stage_run *r, const struct need *sheet, struct error *err) {
    struct statement s = statement_blank();
    s.id = "material.sheet.around";
    s.step = "material";
    s.about = "object";
    s.quantity = "width of bark";
    s.sentence = "A sheet of bark this wide, fresh and with trim, has to be taken round the stem.";
    s.unit = "mm";
    s.state = "fresh";
    s.footing = FOOTING_WORKED_OUT;
    s.value = spread_exact(sheet->width);
    s.rule = "the fresh width of the sheet and the trim on both sides";
    s.source = "geometry; trim is common practice, no source";
    int rc = statement_link_add(&s, "statement", "outline.width", "size", r->arena, err);
    return rc ? rc : statement_add(r->said, &s, err);
}

/* ---- season --------------------------------------------------------------------------------- */

/* The usual chain from bark to opening, where nobody entered their own: durations of trade
 * practice, to be replaced by the team's. */
static const struct plan_step usual[] = {
    {"peel",
     "Take the bark",
     {0, NULL},
     1,
     1,
     2,
     "05-01",
     "06-30",
     1,
     0,
     "keep the sheet damp and flat",
     1,
     "sheet bark"},
    {"make", "Make it", {0, NULL}, 8, 10, 14, NULL, NULL, 0, 0, NULL, NAN, NULL},
    {"dry", "Let it dry", {0, NULL}, 42, 56, 70, NULL, NULL, 0, 0, "weigh it", 2, NULL},
    {"freeze", "Freeze and let settle", {0, NULL}, 14, 14, 21, NULL, NULL, 0, 0, NULL, NAN, NULL},
    {"settle",
     "Let it settle in the room",
     {0, NULL},
     14,
     14,
     21,
     NULL,
     NULL,
     0,
     0,
     NULL,
     NAN,
     NULL},
    {"fit", "Mount it in the case", {0, NULL}, 7, 14, 21, NULL, NULL, 0, 0, NULL, NAN, NULL},
};
enum { USUAL = sizeof usual / sizeof usual[0] };

static int usual_steps(struct plan_step **out, struct stage_run *r, struct error *err) {
    *out = ARENA_NEW(r->arena, struct plan_step, USUAL);
    if (!*out) return fail_memory(err);
    for (size_t i = 0; i < USUAL; i++) {
        (*out)[i] = usual[i];
        const char **after = ARENA_NEW(r->arena, const char *, 1);
        if (!after) return fail_memory(err);
        if (i) {
            after[0] = usual[i - 1].id;
            (*out)[i].after = (struct texts){1, after};
        }
    }
    return 0;
}

static const struct choice *choice_about(const struct find *f, const char *about) {
    const struct choice *found = NULL;
    for (size_t i = 0; i < f->choice_count; i++)
        if (strcmp(f->choices[i].about, about) == 0) found = &f->choices[i];
    return found;
}

static int season(struct stage_run *r, struct error *err) {
    const struct choice *opening = choice_about(&r->now->find, "opening");
    if (!opening || !opening->value) {
        json_object_set_new(
            r->result, "season",
            json_string("No opening day is known. Enter a choice about \"opening\" with the "
                        "day as its value, and the season is reckoned back from it."));
        return 0;
    }
    struct plan_step *own = r->now->plan_steps;
    size_t n = r->now->plan_step_count;
    int rc = n ? 0 : usual_steps(&own, r, err);
    if (n == 0) n = USUAL;
    const struct schedule_options options = {.opening = opening->value,
                                             .today = r->now->today,
                                             .assurance = 0.9,
                                             .alarm_days = 56,
                                             .draws = 4096,
                                             .seed = r->now->seed};
    struct schedule s;
    if (!rc) rc = gather_schedule_plan(&s, own, n, &options, r->arena, err);
    if (rc) return rc;
    json_object_set_new(r->result, "season", json_string(s.say ? s.say : ""));
    json_object_set_new(r->result, "opening", json_string(opening->value));
    json_t *plan = stage_table(r, "season", "Plan back from the opening",
                               "step|begin|end|last day|last safe day|slack, days|warn on");
    for (size_t i = 0; plan && i < s.rows.n; i++) {
        const struct schedule_row *w = (const struct schedule_row *)s.rows.v + i;
        json_array_append_new(
            plan, json_pack("[s,s,s,s,s,s,s]", w->title, w->begin, w->end,
                            w->latest ? w->latest : "", w->last_safe ? w->last_safe : "",
                            figure(r, w->slack, "%.0f"), w->alarm ? w->alarm : ""));
    }
    json_t *windows =
        stage_table(r, "windows", "Seasons of each material before the opening",
                    "step|opens|closes|slack on the first day|slack on the last|safe|missed");
    for (size_t i = 0; windows && i < s.seasons.n; i++) {
        const struct season_row *w = (const struct season_row *)s.seasons.v + i;
        json_array_append_new(windows, json_pack("[s,s,s,s,s,s,s]", w->step, w->opens, w->closes,
                                                 figure(r, w->slack_first, "%.0f"),
                                                 figure(r, w->slack_last, "%.0f"),
                                                 w->marked ? "yes: plan for this one"
                                                 : w->safe ? "yes"
                                                           : "no",
                                                 w->missed ? w->missed : ""));
    }
    struct statement st = statement_blank();
    st.id = "season.chance";
    st.step = "material";
    st.about = "object";
    st.sentence = "The opening is met if the work begins as planned.";
    st.probability = s.chance;
    st.footing = FOOTING_WORKED_OUT;
    st.rule = "durations drawn at random within their ranges, one after the other";
    st.source = "windows and durations: common practice, no source, where nobody entered their own";
    rc = statement_link_add(&st, "choice", opening->id, "opening day", r->arena, err);
    return rc ? rc : statement_add(r->said, &st, err);
}

/* ---- the step ------------------------------------------------------------------------------- */

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
    if (sheet && !isnan(sheet->width) && !isnan(sheet->length)) {
        /* The need is fresh and has its trim: nothing is added again. */
        const struct sheet_want want = {.around = sheet->width,
                                        .along = sheet->length,
                                        .thickness =
                                            isnan(sheet->thickness) ? 4 : sheet->thickness};
        rc = routes(r, &want, err);
        if (!rc) rc = stems(r, &want, err);
        if (!rc) rc = sheet_statement(r, sheet, err);
    }
    if (!rc && list.say) json_object_set_new(r->result, "say", json_string(list.say));
    if (!rc) rc = season(r, err);
    stuff_shelf_free(shelf);
    return rc;
}

const struct stage stage_material = {"material", "Material and season", 1, kinds, false, run};
