#include "gather/gather.h"

#include "gather/describe.h"
#include "gather/ical.h"
#include "gather/poles.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define OPTION(member) .name = #member, .offset = offsetof(struct season_plan, options.member)
static const struct field plan_fields[] = {
    F_ID(season_plan, "Short name of the plan."),
    F_REFERS(season_plan, making, "Making", "making",
             "The making it is for; empty: the leading one."),
    {OPTION(opening), .label = "Opening", .type = FIELD_DATE, .required = true,
     .help = "Day it must be ready."},
    {.name = "as_of",
     .offset = offsetof(struct season_plan, options.today),
     .label = "As of",
     .type = FIELD_DATE,
     .required = true,
     .help = "Day from which it is planned."},
    SCHEDULE_FIELDS(season_plan),
};
const struct kind season_plan_kind = {"season_plan", "An opening to be met",
                                      sizeof(struct season_plan), FIELDS(plan_fields), ""};

/* ---- statements --------------------------------------------------------------------------------
 */

struct telling {
    struct statement_set *said;
    struct arena *arena;
    struct error *err;
    int rc;
};

/* Adds one number; sticky: the first failure is kept and ends the telling. */
static void tell(struct telling *t, const char *id, const char *about, const char *quantity,
                 const char *sentence, double value, const char *unit, const char *rule,
                 const char *source, long standing, const char *part) {
    if (t->rc || !t->said || isnan(value)) return;
    struct statement s = statement_blank();
    if (!id || !sentence) {
        t->rc = fail_memory(t->err);
        return;
    }
    s.id = id;
    s.step = "material";
    s.about = about;
    s.quantity = quantity;
    s.sentence = sentence;
    s.unit = unit;
    s.state = strcmp(unit, "mm") == 0 ? "fresh" : NULL;
    s.footing = FOOTING_WORKED_OUT;
    s.standing = standing;
    s.value = spread_exact(value);
    if (!strcmp(quantity, "chance")) { /* told in words with its figure; 0 and 1 never are */
        s.value = spread_unknown();
        s.probability = value;
        s.unit = "";
    }
    s.rule = rule;
    s.source = source;
    t->rc = statement_link_add(&s, part ? "part" : "plan_step", part ? part : about, "rests on",
                               t->arena, t->err);
    if (!t->rc) t->rc = statement_add(t->said, &s, t->err);
}

int gather_needs(struct need_list *out, const struct makings *all, const char *making,
                 const struct need_options *options, struct statement_set *said,
                 struct arena *arena, struct error *err) {
    int rc = gather_need_list(out, all, making, options, arena, err);
    if (rc) return rc;
    struct telling t = {said, arena, err, 0};
    for (size_t i = 0; i < out->n && !t.rc; i++) {
        const struct need *n = &out->need[i];
        const char *about = arena_printf(arena, "part %s", n->part), *rule = n->rests_on;
        const char *sheet = "finished size / (1 - shrinkage) + trim on both sides";
        bool is_sheet = strcmp(n->what, "sheet") == 0;
        tell(&t, arena_printf(arena, "need.%s.length", n->part), about, "length to get",
             arena_printf(arena, "So long must the %s for %s be when it is cut.", n->what, n->part),
             n->length, "mm", is_sheet ? sheet : rule, "geometry", n->standing, n->part);
        tell(&t, arena_printf(arena, "need.%s.width", n->part), about, "width to get",
             arena_printf(arena, "So wide must the %s for %s be when it is cut.", n->what, n->part),
             n->width, "mm", is_sheet ? sheet : rule, "geometry", n->standing, n->part);
        tell(&t, arena_printf(arena, "need.%s.total", n->part), about, "amount",
             arena_printf(arena, "So much %s does %s take.", n->what, n->part), n->total, n->unit,
             rule, "makers' practice", n->standing, n->part);
        tell(&t, arena_printf(arena, "need.%s.get", n->part), about, "to get with the surplus",
             arena_printf(arena, "So much should be got for %s, surplus included.", n->part),
             n->get, isnan(n->total) ? "" : n->unit, "what is needed x surplus", "makers' practice",
             STANDING_COMMON_PRACTICE, n->part);
    }
    return t.rc;
}

/* ---- layout ------------------------------------------------------------------------------------
 */

static int sheets_to_lay(struct stem_layout *out, const struct need_list *needs,
                         struct arena *arena) {
    out->part = ARENA_NEW(arena, struct nest_part, needs->n);
    if (!out->part) return ERR_MEMORY;
    for (size_t i = 0; i < needs->n; i++) {
        const struct need *n = &needs->need[i];
        if (strcmp(n->what, "sheet") != 0) continue;
        out->part[out->parts++] = (struct nest_part){n->part,
                                                     {n->outline.n, n->outline.v},
                                                     lround(n->get > 0 ? n->get : n->number),
                                                     true,
                                                     false};
    }
    return 0;
}

static double share_offered(const struct stem *s) {
    if (s->kind != STEM_LIVING) return 1;
    return s->approval && *s->approval ? 0.5 : 0.25; /* R09 */
}

bool gather_gives_bark(const struct need_list *needs, const struct stem *s) {
    bool named = false;
    for (size_t i = 0; i < needs->n; i++) {
        const struct need *n = &needs->need[i];
        if (strcmp(n->what, "sheet") != 0) continue;
        if (!n->species || !*n->species || !s->species || !*s->species ||
            gather_same_genus(n->species, s->species))
            return true;
        named = true;
    }
    return !named;
}

static void leave_out(struct stem_layout *out, const struct stem *s, const char *why) {
    out->left_out[out->n_left_out] = s;
    out->why_left_out[out->n_left_out++] = why;
}

static int unroll_stems(struct stem_layout *out, const struct need_list *needs,
                        const struct stem *stems, size_t n_stems, const struct stem_fault *faults,
                        size_t n_faults, struct arena *arena, struct error *err) {
    struct stem_fault *own = ARENA_NEW(arena, struct stem_fault, n_faults);
    out->sheet = ARENA_NEW(arena, struct nest_sheet, n_stems);
    out->stem = ARENA_NEW(arena, const struct stem *, n_stems);
    out->share = ARENA_NEW(arena, double, n_stems);
    out->start = ARENA_NEW(arena, double, n_stems);
    out->left_out = ARENA_NEW(arena, const struct stem *, n_stems);
    out->why_left_out = (const char **)ARENA_NEW(arena, char *, n_stems);
    if (!own || !out->sheet || !out->stem || !out->share || !out->start || !out->left_out ||
        !out->why_left_out)
        return fail_memory(err);
    for (size_t i = 0; i < n_stems && out->say; i++) {
        const struct stem *s = &stems[i];
        if (!gather_gives_bark(needs, s)) {
            leave_out(out, s, "Another wood than the sheet's: it may serve for laths and rods.");
            continue;
        }
        if (s->consent != CONSENT_GIVEN) {
            const char *gap = gather_consent_gap(s->consent);
            leave_out(out, s, gap);
            out->say = arena_printf(arena, "%sStem %s is left out. %s", out->say, s->id, gap);
            continue;
        }
        size_t n = 0, k = out->sheets;
        for (size_t f = 0; f < n_faults; f++)
            if (faults[f].stem && strcmp(faults[f].stem, s->id) == 0) own[n++] = faults[f];
        struct error why = {0};
        out->share[k] = share_offered(s);
        int rc = gather_stem_unroll(&out->sheet[k], &out->start[k], s, own, n, out->share[k], arena,
                                    &why);
        if (rc == ERR_MEMORY) return fail_memory(err);
        if (rc) {
            const char *words = arena_strdup(arena, why.message);
            out->say =
                words ? arena_printf(arena, "%sStem %s is left out: %s ", out->say, s->id, words)
                      : NULL;
            leave_out(out, s, words);
            continue;
        }
        out->stem[k] = s;
        out->sheets++;
    }
    return out->say ? 0 : fail_memory(err);
}

static void ring_box(const struct nest_ring *r, double *along, double *across) {
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < 2 * r->n; i++) {
        low[i % 2] = fmin(low[i % 2], r->xy[i]);
        high[i % 2] = fmax(high[i % 2], r->xy[i]);
    }
    *along = high[0] - low[0];
    *across = high[1] - low[1];
}

/* Why nothing lies on this sheet: too small for any part, or nothing left to lay, or its faults. */
static const char *why_none(const struct stem_layout *out, size_t sheet, struct arena *arena) {
    double l, w, least_l = INFINITY, least_w = INFINITY;
    bool fits = false, missing = false, later = false;
    ring_box(&out->sheet[sheet].ring, &l, &w);
    for (size_t p = 0; p < out->parts; p++) {
        double a, b;
        if (out->part[p].number <= 0) continue;
        ring_box(&out->part[p].ring, &a, &b);
        fits = fits || (a <= l && b <= w);
        missing = missing || out->nest.missing[p] > 0;
        least_l = fmin(least_l, a);
        least_w = fmin(least_w, b);
    }
    for (size_t i = 0; i < out->nest.n; i++)
        later = later || out->nest.place[i].sheet > sheet;
    if (fits)
        return missing || later
                   ? "None: large enough, but its faults and its taper leave no room."
                   : "None is wanted of it: all that is wanted lies on the stems above.";
    if (least_w > w)
        return arena_printf(arena,
                            "None: round it %.0f mm of bark are offered, the narrowest sheet wants "
                            "%.0f.",
                            w, least_w);
    return least_l > l ? arena_printf(arena,
                                      "None: %.0f mm of it are clear, the shortest sheet wants "
                                      "%.0f.",
                                      l, least_l)
                       : "None: what is narrow enough is too long for it.";
}

static int tell_gives(struct stem_layout *out, struct arena *arena) {
    out->gives = (const char **)ARENA_NEW(arena, char *, out->sheets);
    for (size_t i = 0; out->gives && i < out->sheets; i++) {
        const char *text = "";
        for (size_t p = 0; p < out->parts && text; p++) {
            size_t n = 0;
            for (size_t k = 0; k < out->nest.n; k++)
                n += out->nest.place[k].sheet == i && out->nest.place[k].part == p;
            if (n)
                text = arena_printf(arena, "%s%s%zu of %s", text, *text ? ", " : "", n,
                                    out->part[p].name);
        }
        out->gives[i] = text && !*text ? why_none(out, i, arena) : text;
        if (!out->gives[i]) return ERR_MEMORY;
    }
    return out->gives ? 0 : ERR_MEMORY;
}

int gather_layout(struct stem_layout *out, const struct need_list *needs, const struct stem *stems,
                  size_t n_stems, const struct stem_fault *faults, size_t n_faults,
                  const struct nest_options *options, struct arena *arena, struct error *err) {
    *out = (struct stem_layout){.say = ""};
    if (sheets_to_lay(out, needs, arena)) return fail_memory(err);
    if (out->parts == 0)
        return fail(err, ERR_MISSING, "Work out a making that has a sheet.",
                    "There is no sheet to lay out.");
    int rc = unroll_stems(out, needs, stems, n_stems, faults, n_faults, arena, err);
    if (!rc)
        rc = gather_nest(&out->nest, out->part, out->parts, out->sheet, out->sheets, options, arena,
                         err);
    for (size_t p = 0; p < out->parts && !rc; p++) {
        if (out->nest.missing[p] == 0) continue;
        out->say = arena_printf(arena,
                                "%s%ld of %s, surplus included, found no room: a bigger stem, or "
                                "two sheets and a seam. ",
                                out->say, out->nest.missing[p], out->part[p].name);
        if (!out->say) rc = fail_memory(err);
    }
    return rc ? rc : tell_gives(out, arena) ? fail_memory(err) : 0;
}

/* ---- a first plan ------------------------------------------------------------------------------
 */

static bool names(const char *species, const char *latin, const char *common) {
    return species && (strstr(species, latin) || strstr(species, common));
}

const char *gather_season_material(const struct need *n) {
    bool sheet = strcmp(n->what, "sheet") == 0, cord = strcmp(n->what, "cord") == 0;
    const char *s = n->species;
    if (cord) return "lime bast";
    if (strcmp(n->what, "paint") == 0) return "earth colour";
    if (sheet) {
        if (names(s, "Betula", "birch")) return "birch outer bark";
        if (names(s, "Salix", "willow")) return "willow bark";
        if (names(s, "Ulmus", "elm") && !names(s, "Tilia", "lime")) return "elm bark";
        return names(s, "Tilia", "lime") ? "lime bark" : NULL;
    }
    if (names(s, "Corylus", "hazel")) return "hazel rod";
    if (names(s, "Salix", "willow")) return "willow rod";
    return names(s, "Fraxinus", "ash") || names(s, "Quercus", "oak") || names(s, "Alnus", "alder")
               ? "oak, ash, alder"
               : NULL;
}

enum { DRAFT_MOST = 64 };

struct draft {
    struct plan_step *step;
    size_t n;
    const struct stuff_shelf *shelf;
    struct arena *arena;
    const char **ready; /* ids of the last step of each material */
    size_t n_ready;
};

static struct plan_step *add(struct draft *d, const char *id, const char *title, double low,
                             double usual, double high) {
    struct plan_step *s = &d->step[d->n++];
    *s = (struct plan_step){.id = id,
                            .title = title,
                            .days_low = low,
                            .days_usual = usual,
                            .days_high = high,
                            .tend_every = NAN,
                            .spring = 0,
                            .just_in_time = 0};
    return s;
}

static int after(struct plan_step *s, const char **ids, size_t n, struct arena *arena) {
    const char **copy = (const char **)ARENA_NEW(arena, char *, n);
    if (!copy) return ERR_MEMORY;
    for (size_t i = 0; i < n; i++)
        copy[i] = ids[i];
    s->after = (struct texts){n, copy};
    return 0;
}

/* What must be done while a step lasts, and how often (days). */
static void tend(struct plan_step *s, const char *step) {
    static const struct {
        const char *step, *what;
        double every;
    } known[] = {{"dry flat", "Turn the sheets, weigh one", 2},
                 {"wash and dry", "Turn the strips", 1},
                 {"dry", "Weigh and turn", 7},
                 {"ret", "Look at the retting, keep it under water", 2},
                 {"soak", "Keep under water", 1},
                 {"split", "Keep the ends damp until it is split", 2}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strstr(step, known[i].step)) {
            s->tend = known[i].what;
            s->tend_every = known[i].every;
            return;
        }
}

/* Which waits a material goes through: rods that are woven or coiled are stored dry and soaked;
 * what becomes laths is split within its days after cutting and dried thin. */
static bool waits(const char *step, bool split) {
    if (strcmp(step, "ret") == 0) return true;
    if (strstr(step, "before soaking")) return !split;
    if (strcmp(step, "split") == 0) return split;
    return strstr(step, "dry") != NULL;
}

/* Adds one row of the season table as a step that follows *last. */
static int draft_row(struct draft *d, const struct stuff_season *r, const char *material,
                     const char **last) {
    bool take = strcmp(r->step, "take") == 0;
    const char *id = arena_printf(d->arena, "%s %s", r->step, material);
    double low = take ? 0 : r->wait_least, high = take ? 1 : r->wait_most;
    /* Splitting is begun as soon as it may be, so that it falls within its days after cutting. */
    double usual = strcmp(r->step, "split") == 0 ? low + (high - low) / 4 : (low + high) / 2;
    struct plan_step *s = id ? add(d, id, id, low, usual, high) : NULL;
    if (!s) return ERR_MEMORY;
    s->material = material;
    if (take && !(strcmp(r->begins, "01-01") == 0 && strcmp(r->ends, "12-31") == 0)) {
        s->window_from = r->begins;
        s->window_to = r->ends;
        s->spring = strstr(material, "bark") || strstr(material, "bast");
    }
    if (strcmp(r->step, "split") == 0)
        s->title = arena_printf(d->arena, "split %s (%.0f to %.0f days after cutting)", material,
                                low, high);
    if (*last && after(s, last, 1, d->arena)) return ERR_MEMORY;
    if (!take) tend(s, r->step);
    *last = id;
    return s->title ? 0 : ERR_MEMORY;
}

/* Taking the material in its season, then its waits in the order of the table. */
static int draft_material(struct draft *d, const char *material, bool split) {
    const char *last = NULL;
    for (size_t i = 0; stuff_season_at(d->shelf, i) && d->n < DRAFT_MOST - 8; i++) {
        const struct stuff_season *r = stuff_season_at(d->shelf, i);
        bool dries = split && strcmp(r->material, "thin lath") == 0; /* laths dry as laths do */
        if (strcmp(r->material, material) != 0 && !dries) continue;
        bool take = strcmp(r->step, "take") == 0;
        bool wait = last && strncmp(r->unit, "days", 4) == 0 && !strstr(r->unit, "metre") &&
                    waits(r->step, split);
        if ((take && last) || (!take && !wait)) continue;
        if (draft_row(d, r, material, &last)) return ERR_MEMORY;
    }
    if (last) d->ready[d->n_ready++] = last;
    return 0;
}

/* Rods that were stored dry are soaked just before the making: 3.3 days a metre and a day or two
 * wrapped (basketry course; other guides 2 to 10 days and 1). */
static int draft_soak(struct draft *d, const struct need *n) {
    if (!n->species || !names(n->species, "Salix", "willow") || isnan(n->length)) return 0;
    double days = fmin(12, ceil(3.3 * n->length / 1000));
    struct plan_step *s = add(d, "soak willow rod", "soak willow rod and let it mellow", days - 1,
                              days + 1.5, days + 3);
    const char *from = NULL;
    for (size_t i = 0; i < d->n_ready; i++)
        if (strstr(d->ready[i], "willow rod")) from = d->ready[i];
    if (from && after(s, &from, 1, d->arena)) return ERR_MEMORY;
    s->material = "willow rod";
    s->just_in_time = 1;
    tend(s, "soak");
    for (size_t i = 0; i < d->n_ready; i++)
        if (strstr(d->ready[i], "willow rod")) d->ready[i] = "soak willow rod";
    return 0;
}

/* The common end: days are trade practice (common practice, no source). */
static int draft_end(struct draft *d, bool paint) {
    static const struct {
        const char *id;
        double days[3];
        const char *tend;
        double every;
    } end[] = {{"make", {8, 10, 15}, "Keep bark and bast damp", 1},
               {"paint", {1, 2, 4}, "Next coat when the last is dry", 1},
               {"dry the object", {28, 42, 56}, "Weigh, turn, read the curl", 7},
               {"freeze", {14, 14, 14}, NULL, 0},
               {"settle", {14, 14, 14}, NULL, 0},
               {"fit in the case", {7, 14, 21}, NULL, 0}};
    const char *last = NULL;
    for (size_t i = 0; i < sizeof end / sizeof end[0]; i++) {
        if (i == 1 && !paint) continue;
        struct plan_step *s =
            add(d, end[i].id, end[i].id, end[i].days[0], end[i].days[1], end[i].days[2]);
        if (last ? after(s, &last, 1, d->arena) : after(s, d->ready, d->n_ready, d->arena))
            return ERR_MEMORY;
        s->tend = end[i].tend;
        s->tend_every = end[i].every;
        last = end[i].id;
    }
    return 0;
}

int gather_plan_draft(struct plan_step **out, size_t *n, const struct need_list *needs,
                      const struct stuff_shelf *shelf, struct arena *arena, struct error *err) {
    struct draft d = {ARENA_NEW(arena, struct plan_step, DRAFT_MOST),      0, shelf, arena,
                      (const char **)ARENA_NEW(arena, char *, DRAFT_MOST), 0};
    if (!d.step || !d.ready) return fail_memory(err);
    const char *done[DRAFT_MOST];
    size_t n_done = 0;
    bool paint = false, soaked = false;
    for (size_t i = 0; i < needs->n && n_done < 16; i++) {
        const struct need *need = &needs->need[i];
        const char *material = gather_season_material(need);
        bool known = false, split = strcmp(need->what, "rod") != 0 &&
                                    strcmp(need->what, "sheet") != 0 &&
                                    strcmp(need->what, "cord") != 0;
        paint = paint || strcmp(need->what, "paint") == 0;
        for (size_t k = 0; k < n_done; k++)
            known = known || (material && strcmp(done[k], material) == 0);
        if (!material || known) continue;
        done[n_done++] = material;
        if (draft_material(&d, material, split)) return fail_memory(err);
    }
    for (size_t i = 0; i < needs->n && !soaked; i++)
        if (strcmp(needs->need[i].what, "rod") == 0) {
            if (draft_soak(&d, &needs->need[i])) return fail_memory(err);
            soaked = true;
        }
    if (draft_end(&d, paint)) return fail_memory(err);
    *out = d.step;
    *n = d.n;
    return 0;
}

/* ---- schedule -----------------------------------------------------------------------------------
 */

int gather_schedule(struct schedule *out, const struct plan_step *step, size_t n,
                    const struct schedule_options *options, struct statement_set *said,
                    struct arena *arena, struct error *err) {
    int rc = gather_schedule_plan(out, step, n, options, arena, err);
    if (rc) return rc;
    struct telling t = {said, arena, err, 0};
    tell(&t, "plan.chance", "the plan", "chance", "Everything is ready by the opening.",
         out->chance, "", "share of drawn futures that meet the opening",
         "critical path with random durations", STANDING_COMMON_PRACTICE, NULL);
    tell(&t, "plan.slack", "the plan", "days to spare",
         "So many days are left between being ready and the opening.", out->slack, "days",
         "opening less the planned end, usual durations", "critical path", STANDING_COMMON_PRACTICE,
         NULL);
    const struct schedule_row *r = out->rows.v;
    for (size_t i = 0; i < out->rows.n && !t.rc; i++)
        tell(&t, arena_printf(arena, "plan.%s.slack", r[i].id), r[i].id, "days to spare",
             arena_printf(arena, "%s may begin so many days later than planned (last safe day %s).",
                          r[i].title ? r[i].title : r[i].id, r[i].last_safe),
             r[i].slack, "days", "latest beginning less the planned one, usual durations",
             "critical path", STANDING_COMMON_PRACTICE, NULL);
    return t.rc;
}

/* ---- calendar -----------------------------------------------------------------------------------
 */

static const struct field event_fields[] = {
    F_TEXT(ical_event, uid, "Id", "The same on every export."),
    F_TEXT(ical_event, summary, "What", "One line."),
    F_TEXT(ical_event, text, "More", "In words."),
    F_DATE(ical_event, first, "From", "First day."),
    F_DATE(ical_event, last, "To", "Last day, included."),
    F_TEXT(ical_event, category, "Kind", "season, step or task."),
    F_COUNT(ical_event, alarm_days, "Alarm", 1000, "So many days before; 0: none."),
};
const struct kind ical_event_kind = {"ical_event", "A day in the calendar",
                                     sizeof(struct ical_event), FIELDS(event_fields), ""};

static const char *title_of(const struct schedule *plan, const char *id) {
    const struct schedule_row *r = plan->rows.v;
    for (size_t i = 0; i < plan->rows.n; i++)
        if (strcmp(r[i].id, id) == 0 && r[i].title) return r[i].title;
    return id;
}

int gather_calendar_events(struct ical_event **out, size_t *n_out, const struct schedule *plan,
                           double alarm_days, const char *project, struct arena *arena,
                           struct error *err) {
    size_t most = plan->seasons.n + plan->rows.n + plan->tasks.n, n = 0;
    struct ical_event *e = ARENA_NEW(arena, struct ical_event, most);
    if (!e) return fail_memory(err);
    const struct season_row *s = plan->seasons.v;
    const struct schedule_row *r = plan->rows.v;
    const struct day_task *d = plan->tasks.v;
    for (size_t i = 0; i < plan->seasons.n; i++)
        e[n++] = (struct ical_event){
            arena_printf(arena, "season-%s-%s@%s", s[i].step, s[i].opens, project),
            arena_printf(arena, "Season: %s%s", title_of(plan, s[i].step),
                         s[i].marked ? " (planned)" : ""),
            s[i].missed,
            s[i].opens,
            s[i].closes,
            "season",
            s[i].marked ? lround(alarm_days) : 0};
    for (size_t i = 0; i < plan->rows.n; i++)
        e[n++] =
            (struct ical_event){arena_printf(arena, "step-%s@%s", r[i].id, project),
                                r[i].title ? r[i].title : r[i].id,
                                arena_printf(arena, "Last day to begin: %s; last safe day: %s.",
                                             r[i].latest, r[i].last_safe),
                                r[i].begin,
                                r[i].end,
                                "step",
                                0};
    for (size_t i = 0; i < plan->tasks.n; i++)
        e[n++] = (struct ical_event){arena_printf(arena, "task-%zu-%s@%s", i, d[i].date, project),
                                     d[i].what,
                                     d[i].step,
                                     d[i].date,
                                     d[i].date,
                                     "task",
                                     0};
    for (size_t i = 0; i < n; i++)
        if (!e[i].uid || !e[i].summary) return fail_memory(err);
    *out = e;
    *n_out = n;
    return 0;
}

int gather_calendar(char **out, const struct schedule *plan, const char *project, const char *stamp,
                    struct arena *arena, struct error *err) {
    struct ical_event *e;
    size_t n;
    const char *place = arena_printf(arena, "%s.relict", project);
    int rc = place ? gather_calendar_events(&e, &n, plan, 56, place, arena, err) : fail_memory(err);
    return rc ? rc : gather_ical_write(out, project, stamp, e, n, arena, err);
}
