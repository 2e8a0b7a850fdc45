/* assemble_more: what the dossier takes from trials and from the season. */
#include "tell/assemble_more.h"
#include "tell/assemble.h"

#include "gather/gather.h"
#include "job/job.h"
#include "show/figures.h"
#include "tell/keep_back.h"
#include "trial/read_back.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- trials ---- */

static int load(struct records *out, struct job *job, const struct kind *kind, struct arena *arena,
                struct error *err) {
    return record_load(out, NULL, job_record(job), kind, 0, arena, err);
}

static bool is_of(const struct trial_piece *p, const struct trial *t) {
    return p->trial && !strcmp(p->trial, t->id);
}

/* "5 pieces from 3 trees: T1a (tree 1), ..." */
static const char *copies(const struct trial_log *book, const struct trial *t,
                          struct arena *arena) {
    struct show_out o = {0};
    size_t n = 0;
    for (size_t i = 0; i < book->n_pieces; i++) {
        const struct trial_piece *p = &book->pieces[i];
        if (!p->trial || strcmp(p->trial, t->id)) continue;
        show_out_format(&o, "%s%s%s%s%s", n++ ? "; " : "", p->id, p->tree ? " from " : "",
                        p->tree ? p->tree : "", p->failed == 1 ? ", failed" : "");
    }
    const char *text = o.n ? arena_strdup(arena, o.bytes) : NULL;
    show_out_deinit(&o);
    return text;
}

/* "5.1"; "failed (ran out at a knot)"; where it was asked whether it fails, also "held". */
static const char *outcome_of(const struct trial_piece *p, bool whether, double value,
                              struct arena *arena) {
    char number[40];
    const char *read = !isfinite(value) || whether ? "" : show_real(number, value, 2);
    if (p->failed != 1) return *read ? arena_strdup(arena, read) : whether ? "held" : "not read";
    return arena_printf(arena, "%s%sfailed%s%s%s", read, *read ? ", " : "", p->failure ? " (" : "",
                        p->failure ? p->failure : "", p->failure ? ")" : "");
}

/* Tree by tree its pieces, each with its outcome: strips of one tree are not repeats. NULL when
 * none has a tree. */
static const struct tell_table *nesting(const struct trial_log *book, const struct trial *t,
                                        const struct trial_answer *a, const char *unit,
                                        struct arena *arena) {
    static const char *const heads[] = {"tree", "pieces", "outcome of each"};
    const char **cells = ARENA_NEW(arena, const char *, 3 * book->n_pieces + 3);
    struct tell_table *out = ARENA_NEW(arena, struct tell_table, 1);
    size_t rows = 0;
    if (!cells || !out) return NULL;
    for (size_t i = 0; i < book->n_pieces; i++) {
        const struct trial_piece *p = &book->pieces[i];
        const char *tree = p->tree ? p->tree : "tree not noted";
        bool told = !p->trial || strcmp(p->trial, t->id) != 0;
        for (size_t r = 0; r < rows && !told; r++)
            told = !strcmp(cells[3 * r], tree);
        if (told) continue;
        struct show_out list = {0}, values = {0};
        size_t n = 0;
        for (size_t k = i; k < book->n_pieces; k++) {
            const struct trial_piece *q = &book->pieces[k];
            if (!q->trial || strcmp(q->trial, t->id) ||
                strcmp(q->tree ? q->tree : "tree not noted", tree))
                continue;
            double value = NAN;
            for (size_t m = 0; a && m < a->pieces.n; m++) {
                const struct piece_outcome *o = (const struct piece_outcome *)a->pieces.v + m;
                if (o->piece && !strcmp(o->piece, q->id)) value = o->value;
            }
            const char *outcome = outcome_of(q, t->outcome == OUTCOME_FAILED, value, arena);
            show_out_format(&list, "%s%s", n ? ", " : "", q->id);
            show_out_format(&values, "%s%s", n++ ? "; " : "", outcome ? outcome : "");
        }
        cells[3 * rows] = tree;
        cells[3 * rows + 1] = list.bytes ? arena_strdup(arena, list.bytes) : "";
        cells[3 * rows + 2] = values.bytes ? arena_strdup(arena, values.bytes) : "";
        rows++;
        show_out_deinit(&list);
        show_out_deinit(&values);
    }
    const char *title = t->outcome == OUTCOME_FAILED ? "Trees and their pieces"
                        : unit && *unit ? arena_printf(arena, "Trees and their pieces, in %s", unit)
                                        : "Trees and their pieces, in the trial's own unit";
    *out = (struct tell_table){
        .title = title, .n_columns = 3, .n_rows = rows, .columns = heads, .cells = cells};
    return rows ? out : NULL;
}

/* "1 T1.3, 2 T1.1": the order in which the copies were made; NULL when none is noted. */
static const char *order_of(const struct trial_log *book, const struct trial *t,
                            struct arena *arena) {
    struct show_out o = {0};
    for (long at = 0; at < 10000;) { /* the next number that is there */
        long next = LONG_MAX;
        for (size_t i = 0; i < book->n_pieces; i++)
            if (is_of(&book->pieces[i], t) && book->pieces[i].order > at &&
                book->pieces[i].order < next)
                next = book->pieces[i].order;
        if (next == LONG_MAX) break;
        for (size_t i = 0; i < book->n_pieces; i++)
            if (is_of(&book->pieces[i], t) && book->pieces[i].order == next)
                show_out_format(&o, "%s%ld %s", o.n ? ", " : "", next, book->pieces[i].id);
        at = next;
    }
    const char *text = o.n ? arena_strdup(arena, o.bytes) : NULL;
    show_out_deinit(&o);
    return text;
}

static bool reading_of(const struct trial_log *book, size_t reading, const struct trial *t) {
    const struct trial_reading *r = &book->readings[reading];
    for (size_t k = 0; r->piece && k < book->n_pieces; k++)
        if (is_of(&book->pieces[k], t) && !strcmp(book->pieces[k].id, r->piece)) return true;
    return false;
}

static long readings_of(const struct trial_log *book, const struct trial *t) {
    long n = 0;
    for (size_t i = 0; i < book->n_readings; i++)
        n += reading_of(book, i, t);
    for (size_t i = 0; i < book->n_pieces; i++) /* that it broke is what there is to read */
        n += is_of(&book->pieces[i], t) && book->pieces[i].failed == 1;
    return n;
}

/* Whether a photograph is listed among the sources with the name of its file. */
static bool is_kept(const struct find *find, const char *photo) {
    for (size_t i = 0; find && i < find->source_count; i++) {
        const struct source *s = &find->sources[i];
        if (s->kind == SOURCE_PHOTO && s->id && !strcmp(s->id, photo)) return s->file && *s->file;
    }
    return false;
}

/* The photographs that the readings name, each once. */
static void photos_of(struct tell_trial *out, const struct trial_log *book, const struct trial *t,
                      const struct find *find, struct arena *arena) {
    struct show_out o = {0};
    for (size_t i = 0; i < book->n_readings; i++) {
        const char *photo = book->readings[i].photo;
        bool told = !photo || !*photo || !reading_of(book, i, t);
        for (size_t k = 0; k < i && !told; k++)
            told = book->readings[k].photo && !strcmp(book->readings[k].photo, photo) &&
                   reading_of(book, k, t);
        if (told) continue;
        show_out_format(&o, "%s%s", o.n ? ", " : "", photo);
        if (!out->photo_lost && !is_kept(find, photo)) out->photo_lost = photo;
    }
    out->photos = o.n ? arena_strdup(arena, o.bytes) : NULL;
    show_out_deinit(&o);
}

static const char *room_of(const struct trial_log *book, const struct trial *t,
                           struct arena *arena) {
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < book->n_readings; i++) {
        const struct trial_reading *r = &book->readings[i];
        for (size_t k = 0; k < book->n_pieces && isfinite(r->humidity); k++)
            if (r->piece && !strcmp(book->pieces[k].id, r->piece) && book->pieces[k].trial &&
                !strcmp(book->pieces[k].trial, t->id))
                low = fmin(low, r->humidity), high = fmax(high, r->humidity);
    }
    char a[40], b[40];
    if (isfinite(low) && high - low < 0.005)
        return arena_printf(arena, "%s %% humidity", show_real(a, 100 * low, 0));
    return isfinite(low) ? arena_printf(arena, "%s to %s %% humidity", show_real(a, 100 * low, 0),
                                        show_real(b, 100 * high, 0))
                         : NULL;
}

static const char *number_of(double middle, double low, double high, const char *unit,
                             struct arena *arena) {
    char a[40], b[40], c[40];
    const char *gap = *unit ? " " : "";
    if (!isfinite(middle)) return NULL;
    if (!isfinite(low) || !isfinite(high))
        return arena_printf(arena, "%s%s%s", show_real(a, middle, 2), gap, unit);
    return arena_printf(arena, "%s%s%s (%s to %s)", show_real(a, middle, 2), gap, unit,
                        show_real(b, low, 2), show_real(c, high, 2));
}

static long verdict_of(const char *words) {
    for (long v = 0; words && v < 3; v++)
        if (!strcmp(words, look_verdict_words[v])) return v;
    return FIELD_UNKNOWN;
}

static void one_trial(struct tell_trial *out, const struct trial *t, const struct trial_answer *a,
                      const struct trial_log *book, const struct find *find, struct arena *arena) {
    const char *unit = trial_unit(t->outcome, t->unit);
    *out = (struct tell_trial){.id = t->id,
                               .title = t->made ? t->made : t->id,
                               .question = t->question,
                               .prediction = number_of(t->predicted, t->predicted - t->half,
                                                       t->predicted + t->half, unit, arena),
                               .predicted_on = t->predicted_on,
                               .before = t->made_before_asked == 1 ? 0 : 1,
                               .fixed = t->fixed,
                               .varied = t->varied,
                               .copies = copies(book, t, arena),
                               .order = order_of(book, t, arena),
                               .skill = t->skill >= 0 ? skill_words[t->skill] : NULL,
                               .n_readings = readings_of(book, t),
                               .nesting = nesting(book, t, a, unit, arena),
                               .maker = t->maker,
                               .tools = t->tools >= 0 ? tools_words[t->tools] : NULL,
                               .room = room_of(book, t, arena),
                               .verdict = FIELD_UNKNOWN};
    photos_of(out, book, t, find, arena);
    if (!a) return;
    out->outcome = number_of(a->mean, a->low, a->high, unit, arena);
    out->verdict = verdict_of(a->verdict);
    /* "supports. Sheets are cut ...": the verdict itself is said apart */
    const char *say = a->say && *a->say ? a->say : NULL;
    size_t n = a->verdict ? strlen(a->verdict) : 0;
    if (say && n && !strncmp(say, a->verdict, n) && say[n] == '.') say += n + 1;
    while (say && *say == ' ')
        say++;
    out->changed = say && *say ? say : NULL;
}

/* The answers the step stored; read back here and now where it has not been worked out. */
static int answers_of(struct trial_answer **out, size_t *n, const struct tell_dossier *d,
                      const struct trial_log *book, struct arena *arena, struct error *err) {
    const json_t *list =
        json_object_get(json_object_get(tell_stored(d, "trials"), "result"), "answers");
    const json_t *one;
    size_t i;
    *n = 0;
    if (!json_is_array(list)) {
        const struct read_back_options options = {.n_watch = 0};
        struct trial_answers answers = {0};
        struct error none = {0};
        if (trial_read_back(&answers, book, NULL, NULL, &options, arena, &none)) return 0;
        *out = answers.answers.v;
        *n = answers.answers.n;
        return 0;
    }
    *out = ARENA_NEW(arena, struct trial_answer, json_array_size(list) + 1);
    if (!*out) return fail_memory(err);
    json_array_foreach(list, i, one) {
        int rc = field_decode(&trial_answer_kind, one, *out + i, arena, err);
        if (rc) return rc;
        *n = i + 1;
    }
    return 0;
}

int tell_assemble_trials(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err) {
    struct records trials, pieces, readings;
    int rc = load(&trials, job, &trial_kind, arena, err);
    if (!rc) rc = load(&pieces, job, &trial_piece_kind, arena, err);
    if (!rc) rc = load(&readings, job, &trial_reading_kind, arena, err);
    if (rc || !trials.n) return rc;
    trials.n = keep_back_records(out->private, &trial_kind, trials.v, trials.n, false);
    pieces.n = keep_back_records(out->private, &trial_piece_kind, pieces.v, pieces.n, false);
    const struct trial_log book = {trials.v, trials.n, pieces.v, pieces.n, readings.v, readings.n};
    struct trial_answer *answers;
    size_t n = 0;
    rc = answers_of(&answers, &n, out, &book, arena, err);
    if (rc) return rc;
    struct tell_trial *list = ARENA_NEW(arena, struct tell_trial, trials.n);
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < trials.n; i++) {
        const struct trial_answer *a = NULL;
        for (size_t k = 0; k < n && !a; k++)
            if (answers[k].id && !strcmp(answers[k].id, book.trials[i].id)) a = &answers[k];
        one_trial(&list[i], &book.trials[i], a, &book, out->find, arena);
    }
    out->trials = list;
    out->n_trials = trials.n;
    return 0;
}

/* ---- season ---- */

static const struct tell_table *table_with(const struct tell_dossier *d, const char *first,
                                           const char *second) {
    for (size_t i = 0; i < d->n_tables; i++) {
        const struct tell_table *t = &d->tables[i].table;
        if (!strcmp(d->tables[i].step, "material") && t->n_columns > 3 &&
            !strcmp(t->columns[0], first) && !strcmp(t->columns[1], second))
            return t;
    }
    return NULL;
}

static const char *cell(const struct tell_table *t, size_t row, const char *column) {
    for (size_t c = 0; c < t->n_columns; c++)
        if (!strcmp(t->columns[c], column)) return t->cells[row * t->n_columns + c];
    return NULL;
}

/* A day, NAN when the text is none. */
static double day_of(const char *text) {
    long day;
    struct error none = {0};
    return text && *text && !gather_day_read(&day, text, &none) ? (double)day : NAN;
}

/* The material of a step, by the steps that take one: "split hazel rod" is of "hazel rod" as there
 * is a "take hazel rod". What is of none is work on the object. */
static const char *lane_of(const struct tell_table *t, const char *step) {
    for (size_t r = 0; r < t->n_rows; r++) {
        const char *taken = cell(t, r, "step");
        if (taken && !strncmp(taken, "take ", 5) && strstr(step, taken + 5)) return taken + 5;
    }
    return "the object";
}

/* The step's name without its material and without what stands in brackets. */
static const char *short_name(const char *step, const char *lane, struct arena *arena) {
    const char *at = strstr(step, lane);
    if (!at) return step;
    char *s = arena_printf(arena, "%.*s%s", (int)(at - step), step, at + strlen(lane));
    if (!s) return step;
    char *bracket = strstr(s, " (");
    if (bracket) *bracket = 0;
    while (*s && s[strlen(s) - 1] == ' ')
        s[strlen(s) - 1] = 0;
    return *s ? s : step;
}

static size_t take_jobs(struct figure_job *jobs, size_t room, const struct tell_table *t,
                        struct arena *arena) {
    size_t n = 0;
    for (int object = 0; object < 2; object++) /* the object's own lane comes last */
        for (size_t r = 0; t && r < t->n_rows && n < room; r++) {
            const char *step = cell(t, r, "step");
            if (!step) continue;
            const char *lane = lane_of(t, step), *latest = cell(t, r, "last day to begin");
            if (!latest) latest = cell(t, r, "last day"); /* worked out by an older version */
            struct figure_job j = {short_name(step, lane, arena), lane, day_of(cell(t, r, "begin")),
                                   day_of(cell(t, r, "end")), day_of(latest)};
            if ((strcmp(lane, "the object") == 0) != (object == 1)) continue;
            if (isfinite(j.begin) && isfinite(j.end)) jobs[n++] = j;
        }
    return n;
}

/* The windows to plan for: one of each step. */
static size_t take_windows(struct figure_window *w, size_t room, const struct tell_table *t) {
    size_t n = 0;
    for (size_t r = 0; t && r < t->n_rows && n < room; r++) {
        const char *safe = cell(t, r, "safe");
        const char *step = cell(t, r, "step");
        struct figure_window f = {step && !strncmp(step, "take ", 5) ? step + 5 : step,
                                  day_of(cell(t, r, "opens")), day_of(cell(t, r, "closes"))};
        if (isfinite(f.from) && isfinite(f.to) && safe && !strncmp(safe, "yes:", 4)) w[n++] = f;
    }
    return n;
}

/* The calendar as the material step made it. */
static int events(struct tell_dossier *out, struct arena *arena, struct error *err) {
    const json_t *list =
        json_object_get(json_object_get(tell_stored(out, "material"), "result"), "calendar");
    const json_t *one;
    size_t i;
    if (!list) return 0;
    struct ical_event *e = ARENA_NEW(arena, struct ical_event, json_array_size(list) + 1);
    int rc = e ? 0 : fail_memory(err);
    json_array_foreach(list, i, one) {
        if (!rc) rc = field_decode(&ical_event_kind, one, &e[i], arena, err);
    }
    if (!rc) {
        out->events = e;
        out->n_events = json_array_size(list);
    }
    return rc;
}

int tell_assemble_season(struct tell_dossier *out, struct arena *arena, struct error *err) {
    enum { MOST = 40 };
    const struct tell_table *season = table_with(out, "step", "begin"),
                            *windows = table_with(out, "step", "opens");
    if (!season) return 0;
    struct figure_job jobs[MOST];
    struct figure_window w[MOST];
    struct figure_season f = {.title = "Season",
                              .words =
                                  "Time runs down; each material has its lane. Each job is a lath "
                                  "at its likely days, with its slack whipped below it as far as "
                                  "the next; hatched bands are the seasons of a material; the full "
                                  "cut is the opening. Days and last days stand in the table.",
                              .jobs = jobs,
                              .windows = w,
                              .opening = NAN};
    f.n_jobs = take_jobs(jobs, MOST, season, arena);
    f.n_windows = take_windows(w, MOST, windows);
    for (size_t i = 0; i < out->find->choice_count; i++) {
        const struct choice *c = &out->find->choices[i];
        if (c->about && !strcmp(c->about, "opening")) f.opening = day_of(c->value);
    }
    if (f.n_jobs) {
        int rc = tell_add_drawing(out, "material", "season", TELL_IN_BOTH, figure_season(&f), err);
        if (rc) return rc;
    }
    return events(out, arena, err);
}
