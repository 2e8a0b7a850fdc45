#include "gather/schedule.h"

#include "gather/describe.h"
#include "num/dist.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_STEPS = 200, MOST_DRAWS = 100000, MOST_TASKS = 5000, SEASON_YEARS = 6 };

static const struct field step_fields[] = {
    F_ID(plan_step, "Short name of the step."),
    F_TEXT(plan_step, title, "Step", "What is done or waited for."),
    F_TEXTS(plan_step, after, "After", "Steps that must be finished first."),
    F_REAL(plan_step, days_low, "At least", "days", 0, 3650, "Shortest time it takes."),
    {AT(plan_step, days_usual), .label = "Usually", .unit = "days", .type = FIELD_REAL, .max = 3650,
     .required = true, .help = "Days of work or waiting; 0 for a moment."},
    F_REAL(plan_step, days_high, "At most", "days", 0, 3650, "Longest time it takes."),
    F_TEXT(plan_step, window_from, "Season from", "Month-day, as 05-01: it may begin only then."),
    F_TEXT(plan_step, window_to, "Season to", "Month-day, as 06-30."),
    F_FLAG(plan_step, spring, "Waits for spring", "The season comes later north and uphill."),
    F_FLAG(plan_step, just_in_time, "Just in time", "Begun as late as what follows allows."),
    F_TEXT(plan_step, tend, "To tend", "What must be done while it lasts."),
    F_REAL(plan_step, tend_every, "Every", "days", 0, 365, "How often."),
    F_TEXT(plan_step, material, "Material", "What the season is of."),
};
const struct kind plan_step_kind = {"plan_step", "A step with its season and duration",
                                    sizeof(struct plan_step), FIELDS(step_fields), ""};

static const struct field season_fields[] = {
    F_TEXT(season_row, step, "Step", "The step that has a season."),
    F_DATE(season_row, opens, "Opens", "First day."),
    F_DATE(season_row, closes, "Closes", "Last day."),
    F_OUT(season_row, slack_first, "To spare on the first day", "days", "With usual durations."),
    F_OUT(season_row, slack_last, "To spare on the last day", "days", "Negative: too late."),
    F_DATE(season_row, last, "Last day that meets the opening", "Empty: none."),
    F_OUT_SHARE(season_row, chance_first, "Chance from the first day", "Over the futures drawn."),
    F_OUT_SHARE(season_row, chance_last, "Chance from the last day", "Over the futures drawn."),
    {AT(season_row, safe), .label = "Safe", .type = FIELD_INT, .help = "1: even its last day."},
    {AT(season_row, marked), .label = "Marked", .type = FIELD_INT, .help = "1: plan for this one."},
    F_DATE(season_row, alarm, "Warn on", "Eight weeks before it opens."),
    F_TEXT(season_row, missed, "If missed", "What follows."),
};
const struct kind season_row_kind = {"season", "A season of a step", sizeof(struct season_row),
                                     FIELDS(season_fields), ""};

static const struct field row_fields[] = {
    F_TEXT(schedule_row, id, "Step", "Its short name."),
    F_TEXT(schedule_row, title, "What", "What is done."),
    F_DATE(schedule_row, begin, "Begins", "Planned."),
    F_DATE(schedule_row, end, "Ends", "Planned, with the usual duration."),
    F_DATE(schedule_row, latest, "Latest", "Last day to begin with usual durations."),
    F_DATE(schedule_row, last_safe, "Last safe", "Last day to begin at the assurance asked for."),
    F_OUT(schedule_row, slack, "Slack", "days", "From the planned to the latest day."),
    F_OUT(schedule_row, days, "Days", "days", "Usual duration."),
    F_DATE(schedule_row, alarm, "Warn on", "Eight weeks before its season."),
};
const struct kind schedule_row_kind = {"schedule_row", "A step in the plan",
                                       sizeof(struct schedule_row), FIELDS(row_fields), ""};

static const struct field task_fields[] = {
    F_DATE(day_task, date, "Day", "When."),
    F_TEXT(day_task, step, "Step", "For which step."),
    F_TEXT(day_task, what, "What", "What must be done."),
};
const struct kind day_task_kind = {"day_task", "Something to do on a day", sizeof(struct day_task),
                                   FIELDS(task_fields), ""};

struct planner {
    const struct plan_step *step;
    size_t n;
    struct day_window *window;
    size_t *order;             /* predecessors first */
    size_t *before, *before_n; /* before[i * n ..]: predecessors of i */
    double *usual, *drawn;     /* [n] days; [draws][n] */
    long opening, today;
    const struct schedule_options *options;
    struct arena *arena;
};

/* ---- reading ----------------------------------------------------------------------------------
 */

static int read_month_day(long *month, long *day, const char *text, const char *step,
                          struct error *err) {
    int m, d, used = 0;
    bool shape =
        text && strlen(text) == 5 && sscanf(text, "%2d-%2d%n", &m, &d, &used) == 2 && used == 5;
    static const int most[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (!shape || m < 1 || m > 12 || d < 1 || d > most[m - 1])
        return fail(err, ERR_INPUT, "Write month and day as 05-01.",
                    "Season of step \"%s\": \"%.20s\" is no day of the year.", step ? step : "",
                    text ? text : "");
    *month = m;
    *day = m == 2 && d == 29 ? 28 : d; /* a window must exist in every year */
    return 0;
}

static int read_step(struct planner *p, size_t i, struct error *err) {
    const struct plan_step *s = &p->step[i];
    double low = isnan(s->days_low) ? s->days_usual : s->days_low;
    double high = isnan(s->days_high) ? s->days_usual : s->days_high;
    if (!(low >= 0 && low <= s->days_usual && s->days_usual <= high && high <= 3650))
        return fail(err, ERR_RANGE, "Give days as: at least, usually, at most.",
                    "Step \"%s\": %g, %g, %g days do not rise.", s->id ? s->id : "", low,
                    s->days_usual, high);
    p->usual[i] = ceil(s->days_usual - 1e-9);
    struct day_window *w = &p->window[i];
    if (s->window_from || s->window_to) {
        int rc = read_month_day(&w->from_month, &w->from_day, s->window_from, s->id, err);
        if (!rc) rc = read_month_day(&w->to_month, &w->to_day, s->window_to, s->id, err);
        if (rc) return rc;
        /* Spring: 4 days a degree of latitude and for each 120 m (Hopkins' rule; trade reference
         * 2.11, from memory). */
        double degrees = isnan(p->options->later_degrees) ? 0 : p->options->later_degrees;
        double metres = isnan(p->options->higher_m) ? 0 : p->options->higher_m;
        if (s->spring == 1) w->later = lround(4 * degrees + 4 * metres / 120);
    }
    for (size_t k = 0; k < s->after.n; k++) {
        size_t j = 0;
        while (j < p->n && strcmp(p->step[j].id, s->after.v[k]) != 0)
            j++;
        if (j == p->n)
            return fail(err, ERR_MISSING, "Add that step, or take it out of \"after\".",
                        "Step \"%s\" comes after \"%s\", which is not there.", s->id,
                        s->after.v[k]);
        p->before[i * p->n + p->before_n[i]++] = j;
    }
    /* A triangle: the least that low, usual and high say (JCGM 101:2008, 6.4.5 for equal sides). */
    struct num_dist range = num_dist_triangular(low, s->days_usual, high);
    for (long d = 0; d < p->options->draws; d++) {
        struct num_random r;
        num_random_begin(&r, (uint64_t)p->options->seed, num_hash(s->id), (uint64_t)d);
        double days = high > low ? num_dist_sample(&range, &r) : s->days_usual;
        p->drawn[(size_t)d * p->n + i] = ceil(days - 1e-9);
    }
    return 0;
}

/* Predecessors first; ERR_CONFLICT when steps wait for each other. */
static int sort_steps(struct planner *p, struct error *err) {
    bool done[MOST_STEPS] = {false};
    size_t n = 0;
    for (bool moved = true; moved;) {
        moved = false;
        for (size_t i = 0; i < p->n; i++) {
            bool ready = !done[i];
            for (size_t k = 0; k < p->before_n[i] && ready; k++)
                ready = done[p->before[i * p->n + k]];
            if (!ready) continue;
            done[i] = moved = true;
            p->order[n++] = i;
        }
    }
    if (n == p->n) return 0;
    size_t i = 0;
    while (done[i])
        i++;
    return fail(err, ERR_CONFLICT, "Take one of them out of \"after\".",
                "Step \"%s\" waits for a step that waits for it.", p->step[i].id);
}

/* ---- forward and backward ---------------------------------------------------------------------
 */

/* Latest[i]: last day on which step i may begin so that all that follows meets the opening. */
static void backward(const struct planner *p, const double *days, long *latest) {
    long *end = latest; /* first holds the latest end, then the latest beginning */
    for (size_t i = 0; i < p->n; i++)
        end[i] = p->opening;
    for (size_t k = p->n; k-- > 0;) {
        size_t i = p->order[k];
        latest[i] = gather_window_last(&p->window[i], end[i] - (long)days[i]);
        for (size_t b = 0; b < p->before_n[i]; b++) {
            size_t j = p->before[i * p->n + b];
            if (latest[i] < end[j]) end[j] = latest[i];
        }
    }
}

/* Begins each step no sooner than wish[i] and than its predecessors' ends, in its season. Returns
 * the last end. */
static long forward(const struct planner *p, const double *days, const long *wish, long *begin) {
    long last = LONG_MIN;
    for (size_t k = 0; k < p->n; k++) {
        size_t i = p->order[k];
        long at = wish[i];
        for (size_t b = 0; b < p->before_n[i]; b++) {
            size_t j = p->before[i * p->n + b];
            long end = begin[j] + (long)days[j];
            if (end > at) at = end;
        }
        begin[i] = gather_window_next(&p->window[i], at);
        if (begin[i] + (long)days[i] > last) last = begin[i] + (long)days[i];
    }
    return last;
}

static int by_size(const void *a, const void *b) {
    long x = *(const long *)a, y = *(const long *)b;
    return x < y ? -1 : x > y;
}

static char *day_text(long day, struct arena *arena) {
    char text[DAY_TEXT];
    gather_day_write(day, text);
    return arena_strdup(arena, text);
}

/* latest[i] over all futures, sorted, in late[i * draws ..]. */
static int futures(const struct planner *p, long *late) {
    long *latest = ARENA_NEW(p->arena, long, p->n);
    if (!latest) return ERR_MEMORY;
    size_t draws = (size_t)p->options->draws;
    for (size_t d = 0; d < draws; d++) {
        backward(p, p->drawn + d * p->n, latest);
        for (size_t i = 0; i < p->n; i++)
            late[i * draws + d] = latest[i];
    }
    for (size_t i = 0; i < p->n; i++)
        qsort(late + i * draws, draws, sizeof *late, by_size);
    return 0;
}

/* Share of futures whose latest beginning is not before `day`. */
static double chance_from(const long *late, size_t draws, long day) {
    size_t low = 0, high = draws;
    while (low < high) {
        size_t mid = (low + high) / 2;
        if (late[mid] < day)
            low = mid + 1;
        else
            high = mid;
    }
    return (double)(draws - low) / (double)draws;
}

/* ---- seasons ----------------------------------------------------------------------------------
 */

static char *others_meanwhile(const struct planner *p, size_t i) {
    bool *waits = ARENA_NEW(p->arena, bool, p->n);
    char *list = arena_strdup(p->arena, "");
    if (!waits || !list) return NULL;
    waits[i] = true;
    for (size_t k = 0; k < p->n && list; k++) {
        size_t j = p->order[k];
        for (size_t b = 0; b < p->before_n[j]; b++)
            waits[j] = waits[j] || waits[p->before[j * p->n + b]];
        /* what begins a chain, by its material; the steps that follow are in the plan */
        const struct plan_step *s = &p->step[j];
        const char *name = s->material && *s->material ? s->material : s->title ? s->title : s->id;
        bool told = waits[j] || p->before_n[j] || strstr(list, name);
        if (!told) list = arena_printf(p->arena, "%s%s%s", list, *list ? ", " : "", name);
    }
    return list;
}

static char *missed_text(const struct planner *p, size_t i, long closes, long next, long latest) {
    const struct plan_step *s = &p->step[i];
    const char *what = s->material ? s->material : s->title ? s->title : s->id;
    char day[DAY_TEXT];
    gather_day_write(next, day);
    char *other = others_meanwhile(p, i);
    if (!other) return NULL;
    /* Mean month of the Gregorian year: 365.2425/12 days. */
    double months = (double)(next - closes) / (365.2425 / 12);
    const char *meets = next <= latest ? "which still meets the opening"
                                       : "which is too late for the opening: move it, or use "
                                         "material in hand or another stem";
    return arena_printf(
        p->arena, "The next chance for %s is %s, %.0f months later, %s. %s%s%s", what, day, months,
        meets, *other ? "Meanwhile: " : "No other material can be got meanwhile", other, ".");
}

static int list_seasons(struct schedule *out, const struct planner *p, const long *latest,
                        const long *late) {
    size_t most = p->n * SEASON_YEARS, draws = (size_t)p->options->draws;
    struct season_row *row = ARENA_NEW(p->arena, struct season_row, most);
    if (!row) return ERR_MEMORY;
    out->seasons = (struct records){0, row};
    for (size_t i = 0; i < p->n; i++) {
        if (p->window[i].from_month == 0) continue;
        struct season_row *marked = NULL;
        long year, month, day, today_year;
        gather_day_date(p->today, &today_year, &month, &day);
        gather_day_date(p->opening, &year, &month, &day);
        for (long y = today_year - 1; y <= year; y++) {
            long opens, closes, next, end;
            gather_window_days(&p->window[i], y, &opens, &closes);
            gather_window_days(&p->window[i], y + 1, &next, &end);
            if (closes < p->today || opens > p->opening || out->seasons.n == most) continue;
            struct season_row *r = &row[out->seasons.n++];
            long first = opens > p->today ? opens : p->today;
            long last = latest[i] < closes ? latest[i] : closes;
            *r = (struct season_row){
                .step = p->step[i].id,
                .opens = day_text(opens, p->arena),
                .closes = day_text(closes, p->arena),
                .slack_first = (double)(latest[i] - first),
                .slack_last = (double)(latest[i] - closes),
                .last = last >= first ? day_text(last, p->arena) : NULL,
                .alarm = day_text(opens - lround(p->options->alarm_days), p->arena)};
            r->chance_first = chance_from(late + i * draws, draws, first);
            r->chance_last = chance_from(late + i * draws, draws, closes);
            r->safe = r->chance_last >= p->options->assurance;
            r->missed = missed_text(p, i, closes, next, latest[i]);
            if (!r->opens || !r->closes || !r->alarm || !r->missed) return ERR_MEMORY;
            if (r->safe) marked = r;
        }
        if (marked) marked->marked = 1;
    }
    return 0;
}

/* The free latest day of a windowed step, as if its own season did not bind: what "fails after
 * 16 May" means. backward() moves it into the season; this undoes that for its own step only. */
static void free_latest(const struct planner *p, const double *days, const long *latest,
                        long *loose) {
    for (size_t i = 0; i < p->n; i++)
        loose[i] = p->opening - (long)days[i];
    for (size_t j = 0; j < p->n; j++)
        for (size_t b = 0; b < p->before_n[j]; b++) {
            size_t i = p->before[j * p->n + b];
            long at = latest[j] - (long)days[i];
            if (at < loose[i]) loose[i] = at;
        }
}

/* ---- the plan ---------------------------------------------------------------------------------
 */

/* Day from which each step is wished: its marked season (or the next one), today otherwise. */
static int wishes(const struct planner *p, const struct schedule *out, long *wish) {
    const struct season_row *s = out->seasons.v;
    for (size_t i = 0; i < p->n; i++) {
        wish[i] = p->today;
        for (size_t k = 0; k < out->seasons.n; k++) {
            long opens;
            if (!s[k].marked || strcmp(s[k].step, p->step[i].id) != 0) continue;
            if (gather_day_read(&opens, s[k].opens, NULL)) return ERR_INPUT;
            if (opens > wish[i]) wish[i] = opens;
        }
    }
    return 0;
}

/* Steps begun just in time: moved to end when the first follower begins. */
static void just_in_time(const struct planner *p, long *begin) {
    for (size_t k = p->n; k-- > 0;) {
        size_t i = p->order[k];
        if (p->step[i].just_in_time != 1) continue;
        long need = LONG_MAX;
        for (size_t j = 0; j < p->n; j++)
            for (size_t b = 0; b < p->before_n[j]; b++)
                if (p->before[j * p->n + b] == i && begin[j] < need) need = begin[j];
        if (need == LONG_MAX) continue;
        long at = gather_window_last(&p->window[i], need - (long)p->usual[i]);
        if (at > begin[i]) begin[i] = at;
    }
}

static int list_rows(struct schedule *out, const struct planner *p, const long *begin,
                     const long *latest, const long *late) {
    struct schedule_row *row = ARENA_NEW(p->arena, struct schedule_row, p->n);
    if (!row) return ERR_MEMORY;
    out->rows = (struct records){p->n, row};
    size_t draws = (size_t)p->options->draws;
    for (size_t k = 0; k < p->n; k++) {
        size_t i = p->order[k];
        /* The last safe day leaves at most 1 - assurance of the futures too late. */
        size_t at = (size_t)floor((1 - p->options->assurance) * (double)draws + 1e-9);
        if (at >= draws) at = draws - 1;
        row[k] = (struct schedule_row){.id = p->step[i].id,
                                       .title = p->step[i].title,
                                       .begin = day_text(begin[i], p->arena),
                                       .end = day_text(begin[i] + (long)p->usual[i], p->arena),
                                       .latest = day_text(latest[i], p->arena),
                                       .last_safe = day_text(late[i * draws + at], p->arena),
                                       .slack = (double)(latest[i] - begin[i]),
                                       .days = p->usual[i]};
        if (p->window[i].from_month) {
            long year, month, day, opens, closes;
            gather_day_date(begin[i], &year, &month, &day);
            gather_window_days(&p->window[i], year, &opens, &closes);
            if (opens > begin[i]) gather_window_days(&p->window[i], year - 1, &opens, &closes);
            row[k].alarm = day_text(opens - lround(p->options->alarm_days), p->arena);
        }
        if (!row[k].begin || !row[k].end || !row[k].latest || !row[k].last_safe) return ERR_MEMORY;
    }
    return 0;
}

static int by_date(const void *a, const void *b) {
    const struct day_task *x = a, *y = b;
    int c = strcmp(x->date, y->date);
    return c ? c : strcmp(x->step, y->step);
}

static int list_tasks(struct schedule *out, const struct planner *p, const long *begin) {
    struct day_task *task = ARENA_NEW(p->arena, struct day_task, MOST_TASKS);
    if (!task) return ERR_MEMORY;
    size_t n = 0;
    for (size_t k = 0; k < p->n; k++) {
        size_t i = p->order[k];
        const struct plan_step *s = &p->step[i];
        const char *name = s->title ? s->title : s->id;
        if (n < MOST_TASKS) {
            task[n++] = (struct day_task){day_text(begin[i], p->arena), s->id,
                                          arena_printf(p->arena, "Begin: %s", name)};
        }
        double every = s->tend_every > 0 ? s->tend_every : 1;
        for (double d = 0; s->tend && d < p->usual[i] && n < MOST_TASKS; d += every)
            task[n++] = (struct day_task){day_text(begin[i] + (long)d, p->arena), s->id, s->tend};
    }
    for (size_t i = 0; i < n; i++)
        if (!task[i].date || !task[i].what) return ERR_MEMORY;
    qsort(task, n, sizeof *task, by_date);
    out->tasks = (struct records){n, task};
    return 0;
}

static int warnings(struct schedule *out, const struct planner *p, const long *latest) {
    char *say = arena_strdup(p->arena, "");
    for (size_t i = 0; i < p->n && say; i++) {
        if (latest[i] >= p->today) continue;
        say = arena_printf(p->arena, "%sStep \"%s\" should have begun by %s. ", say, p->step[i].id,
                           day_text(latest[i], p->arena));
    }
    const struct season_row *s = out->seasons.v;
    for (size_t k = 0; k < out->seasons.n && say; k++) {
        long opens, alarm;
        if (!s[k].marked || gather_day_read(&opens, s[k].opens, NULL) ||
            gather_day_read(&alarm, s[k].alarm, NULL))
            continue;
        if (p->today >= alarm && p->today <= opens)
            say = arena_printf(p->arena, "%sThe season of step \"%s\" opens in %ld days (%s). ",
                               say, s[k].step, opens - p->today, s[k].opens);
    }
    out->say = say;
    return say ? 0 : ERR_MEMORY;
}

static int make_plan(struct schedule *out, struct planner *p) {
    size_t draws = (size_t)p->options->draws;
    long *latest = ARENA_NEW(p->arena, long, p->n), *loose = ARENA_NEW(p->arena, long, p->n);
    long *late = ARENA_NEW(p->arena, long, p->n *draws), *wish = ARENA_NEW(p->arena, long, p->n);
    long *begin = ARENA_NEW(p->arena, long, p->n), *drawn = ARENA_NEW(p->arena, long, p->n);
    if (!latest || !loose || !late || !wish || !begin || !drawn || futures(p, late))
        return ERR_MEMORY;
    backward(p, p->usual, latest);
    free_latest(p, p->usual, latest, loose);
    if (list_seasons(out, p, loose, late) || wishes(p, out, wish)) return ERR_MEMORY;
    long ready = forward(p, p->usual, wish, begin);
    just_in_time(p, begin);
    size_t met = 0;
    for (size_t d = 0; d < draws; d++)
        met += forward(p, p->drawn + d * p->n, begin, drawn) <= p->opening;
    out->chance = (double)met / (double)draws;
    out->chance_error = sqrt(out->chance * (1 - out->chance) / (double)draws);
    out->ready = day_text(ready, p->arena);
    out->slack = (double)(p->opening - ready);
    if (!out->ready || list_rows(out, p, begin, latest, late) || list_tasks(out, p, begin) ||
        warnings(out, p, latest))
        return ERR_MEMORY;
    return 0;
}

int gather_schedule_plan(struct schedule *out, const struct plan_step *step, size_t steps,
                         const struct schedule_options *options, struct arena *arena,
                         struct error *err) {
    *out = (struct schedule){0};
    struct planner p = {.step = step, .n = steps, .options = options, .arena = arena};
    if (steps < 1 || steps > MOST_STEPS || options->draws < 1 || options->draws > MOST_DRAWS)
        return fail(err, ERR_RANGE, "Give 1 to 200 steps and 1 to 100,000 futures.",
                    "%zu steps and %ld futures cannot be planned.", steps, options->draws);
    if (!(options->assurance > 0 && options->assurance < 1))
        return fail(err, ERR_RANGE, "Give it in percent, as 90.", "Assurance of %g %%.",
                    100 * options->assurance);
    int rc = gather_day_read(&p.opening, options->opening, err);
    if (!rc) rc = gather_day_read(&p.today, options->today, err);
    if (rc) return rc;
    p.window = ARENA_NEW(arena, struct day_window, steps);
    p.order = ARENA_NEW(arena, size_t, steps);
    p.before = ARENA_NEW(arena, size_t, steps * steps);
    p.before_n = ARENA_NEW(arena, size_t, steps);
    p.usual = ARENA_NEW(arena, double, steps);
    p.drawn = ARENA_NEW(arena, double, steps *(size_t)options->draws);
    if (!p.window || !p.order || !p.before || !p.before_n || !p.usual || !p.drawn)
        return fail_memory(err);
    for (size_t i = 0; i < steps && !rc; i++) {
        if (!step[i].id || step[i].after.n > steps)
            return fail(err, ERR_MISSING, "Give each step a short name of its own.",
                        "Step %zu has no id, or waits for more steps than there are.", i + 1);
        rc = read_step(&p, i, err);
    }
    if (!rc) rc = sort_steps(&p, err);
    if (rc) return rc;
    return make_plan(out, &p) ? fail_memory(err) : 0;
}
