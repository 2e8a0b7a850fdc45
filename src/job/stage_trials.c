/* trials: which few would teach most, and what the finished ones said. */
#include "job/stage.h"
#include "job/stage_scans.h"
#include "job/stage_trial_needs.h"

#include "gather/care.h"
#include "gather/day.h"
#include "trial/read_back.h"
#include "trial/simulated.h"
#include "trial/trial_plan.h"
#include "trial/trial_words.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"candidate",     "plan_limits", "trial", "trial_piece",
                                    "trial_reading", "scan",        "file",  NULL};

static const char *figure(const struct stage_run *r, double v, const char *format) {
    const char *text = isnan(v) ? "" : arena_printf(r->arena, format, v);
    return text ? text : "";
}

/* ---- open statements ------------------------------------------------------------------------ */

/* Columns behind guesses and wide statements, so that trials know what is open. */
static struct texts open_columns(struct stage_run *r) {
    static const char *const wanted[] = {
        "shape.made.rise", "shape.made.weight", "bark.set",     "bark.E.around",
        "lath.E",          "outline.length",    "outline.width"};
    struct texts list = {0, ARENA_NEW(r->arena, const char *, 64)};
    for (size_t i = 0; list.v && i < sizeof wanted / sizeof wanted[0]; i++)
        if (num_rows_find(r->rows, wanted[i]) != NUM_NO_COLUMN) list.v[list.n++] = wanted[i];
    for (size_t i = 0; list.v && i < num_rows_columns(r->rows) && list.n < 64; i++) {
        const char *id = num_rows_id(r->rows, i);
        if (strncmp(id, "dry_factor.bark", 15) == 0) list.v[list.n++] = id;
    }
    return list;
}

/* What a strip loses in drying, from the factor that takes fresh to new and dry. */
static double lost(const double *row, void *context) {
    return 1 - row[*(const size_t *)context];
}

static int loss_column(struct stage_run *r, struct error *err) {
    size_t *from = ARENA_NEW(r->arena, size_t, 1), col;
    if (!from) return fail_memory(err);
    *from = num_rows_find(r->rows, "dry_factor.bark.around");
    if (*from == NUM_NO_COLUMN) return 0;
    return num_rows_derive(r->rows, "dry_loss.bark.around", from, 1, lost, from, &col, err);
}

/* What screens draw curves from: each answer with its outcome day by day. */
static json_t *list_json(const struct kind *kind, const struct records *list) {
    json_t *out = json_array();
    for (size_t i = 0; i < list->n; i++)
        json_array_append_new(out, field_encode(kind, (const char *)list->v + i * kind->size));
    return out;
}

/* ---- what to try next ----------------------------------------------------------------------- */

/* What a team can always try, where nobody entered candidates. Errors, hours and days are first
 * guesses and are marked so; where relative, of the middle of what is foretold. */
static size_t usual_candidates(struct candidate *out, struct stage_run *r, struct texts about) {
    static const struct {
        const char *id, *title, *made, *varied, *column;
        long outcome;
        const char *unit;
        double noise, tree, ancient;
        bool relative;
        long trees, strips;
        double sheets, hours, days;
    } usual[] = {
        {"strips", "Five strips from five trees, dried", "strips 300 x 40 mm", "the tree",
         "dry_loss.bark.around", OUTCOME_SHRINK_AROUND, NULL, 0.6, 0.8, 1.0, false, 5, 1, 0.5, 4,
         28},
        {"flat", "A sheet dried flat and let go", "a sheet 300 x 200 mm under weight", "the tree",
         "bark.set", OUTCOME_VALUE, NULL, 0.05, 0.08, 0.1, false, 2, 1, 1, 6, 35},
        {"bend", "Dry strips bent under small weights", "strips 200 x 20 mm, loaded in the middle",
         "the tree", "bark.E.around", OUTCOME_VALUE, "MPa", 0.05, 0.15, 0.25, true, 3, 2, 0.25, 3,
         2},
        {"lath", "Laths bent under small weights", "split laths of the pattern", "the rod",
         "lath.E", OUTCOME_VALUE, "MPa", 0.05, 0.12, 0.15, true, 3, 2, 0, 2, 1},
        {"panel", "A panel with three laths, dried and let go", "a panel 300 x 200 mm", "the tree",
         "shape.made.rise", OUTCOME_VALUE, "mm", 3, 5, 4, false, 2, 1, 1, 14, 56},
    };
    size_t n = 0;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        size_t column = num_rows_find(r->rows, usual[i].column);
        if (column == NUM_NO_COLUMN) continue;
        double of = usual[i].relative ? fabs(num_rows_quantile(r->rows, column, 0.5)) : 1;
        field_unknown(&candidate_kind, &out[n]);
        struct candidate *c = &out[n++];
        c->id = usual[i].id;
        c->title = usual[i].title;
        c->made = usual[i].made;
        c->varied = usual[i].varied;
        c->column = usual[i].column;
        c->about = about;
        c->outcome = usual[i].outcome;
        c->unit = usual[i].unit;
        c->noise = of * usual[i].noise;
        c->tree_spread = of * usual[i].tree;
        c->modern_ancient = of * usual[i].ancient;
        c->trees = usual[i].trees;
        c->strips = usual[i].strips;
        c->sheets = usual[i].sheets;
        c->hours = usual[i].hours;
        c->days = usual[i].days;
        c->standing = STANDING_GUESS;
    }
    return n;
}

/* A share as a whole number of percent. */
static const char *percent(const struct stage_run *r, double share) {
    return isnan(share) ? "" : figure(r, 100 * share, share < 0.005 ? "%.1f" : "%.0f");
}

static const char *or_empty(const char *text) {
    return text ? text : "";
}

/* Short columns, so that it is read at a glance; what needs sentences stands in plan_facts. */
static int plan_table(struct stage_run *r, const struct trial_plan *out, struct error *err) {
    json_t *rows = stage_table(r, "plan", "Trials that would teach most",
                               "trial|what|in the plan|made as number|settles, percent of what is "
                               "open|a sheet, percent|a day, percent|trees needed");
    for (size_t i = 0; rows && i < out->ranked.n; i++) {
        const struct ranked_trial *t = (const struct ranked_trial *)out->ranked.v + i;
        json_array_append_new(
            rows,
            json_pack("[s,s,s,s,s,s,s,s]", t->id, or_empty(t->title), t->place ? "yes" : "no",
                      t->order ? figure(r, (double)t->order, "%.0f") : "", percent(r, t->settles),
                      percent(r, t->settles_sheet), percent(r, t->settles_day),
                      t->trees_needed ? figure(r, (double)t->trees_needed, "%.0f") : "cannot"));
    }
    return rows ? 0 : fail_memory(err);
}

/* What to take care of in a trial, by what is made and done. */
static const char *care_in(const struct stuff_shelf *shelf, const char *id,
                           const struct candidate *list, size_t n, struct arena *arena) {
    for (size_t i = 0; i < n; i++)
        if (!strcmp(list[i].id, id)) {
            const char *words = arena_printf(arena, "%s %s", or_empty(list[i].title),
                                             or_empty(list[i].made)),
                       *care = words ? gather_step_care(shelf, words, arena) : NULL;
            return !care || !*care ? care
                                   : arena_printf(arena,
                                                  "%s: see the cautions of Material; local "
                                                  "rules and licensed people come first",
                                                  care);
        }
    return "";
}

/* What each trial foretells and what its outcome would mean, a sentence a line. */
static int fact_table(struct stage_run *r, const struct trial_plan *out,
                      const struct candidate *list, size_t n, struct error *err) {
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_new(&shelf, err);
    if (rc) return rc;
    json_t *rows =
        stage_table(r, "plan_facts", "What each trial foretells, and what its outcome would mean",
                    "trial|about|in words");
    for (size_t i = 0; rows && i < out->ranked.n; i++) {
        const struct ranked_trial *t = (const struct ranked_trial *)out->ranked.v + i;
        const char *settles = arena_printf(
            r->arena,
            "%s percent of what is open, give or take %.1f by chance, %.1f of bias taken off; its "
            "errors are %s",
            percent(r, t->settles), 100 * t->settles_error,
            round(1000 * t->settles_bias) / 10 + 0.0, /* no minus before a nought */
            t->standing == FIELD_UNKNOWN ? "the team's own" : standing_words[t->standing]);
        const char *const fact[][2] = {{t->place ? "why" : "why not", t->why},
                                       {"foretold", t->foretold},
                                       {"outcomes", t->means},
                                       {"repeats", t->repeats},
                                       {"settles", isnan(t->settles) ? NULL : settles},
                                       {"care", care_in(shelf, t->id, list, n, r->arena)}};
        for (size_t k = 0; k < sizeof fact / sizeof fact[0]; k++)
            if (fact[k][1] && *fact[k][1])
                json_array_append_new(rows, json_pack("[s,s,s]", t->id, fact[k][0], fact[k][1]));
    }
    stuff_shelf_free(shelf);
    return rows ? 0 : fail_memory(err);
}

static int taught_table(struct stage_run *r, const struct trial_plan *out, struct error *err) {
    json_t *rows = stage_table(r, "taught", "What each trial would settle, statement by statement",
                               "trial|statement|settles, percent of what is open|error, percent");
    for (size_t i = 0; rows && i < out->taught.n; i++) {
        const struct taught *t = (const struct taught *)out->taught.v + i;
        if (t->nats < 3 * t->error || t->nats < 0.01) continue; /* nothing that can be told apart */
        const char *words = trial_column_words(t->statement, r->arena);
        json_array_append_new(rows, json_pack("[s,s,s,s]", t->candidate, or_empty(words),
                                              percent(r, 1 - t->shrink),
                                              figure(r, 100 * t->shrink * t->error, "%.1f")));
    }
    return rows ? 0 : fail_memory(err);
}

/* What is in hand: as entered; the days not beyond the opening. */
static struct plan_limits limits_of(const struct stage_run *r) {
    struct plan_limits limits;
    field_unknown(&plan_limits_kind, &limits);
    if (r->now->limit_count) limits = r->now->limits[0];
    if (isnan(limits.enough)) limits.enough = 0.05;
    if (limits.seed == FIELD_UNKNOWN) limits.seed = r->now->seed;
    const char *opening =
        json_string_value(json_object_get(json_object_get(r->results, "material"), "opening"));
    if (!limits.from) limits.from = r->now->today;
    if (!limits.to) limits.to = opening;
    long from, to;
    struct error ignored = {0};
    if (isnan(limits.days) && limits.from && limits.to &&
        !gather_day_read(&from, limits.from, &ignored) &&
        !gather_day_read(&to, limits.to, &ignored) && to > from)
        limits.days = (double)(to - from);
    return limits;
}

static int plan(struct stage_run *r, struct texts about, struct error *err) {
    struct candidate own[8], *entered = NULL;
    const struct candidate *list = r->now->candidates;
    size_t n = r->now->candidate_count;
    if (n == 0) {
        n = usual_candidates(own, r, about);
        list = own;
    } else {
        entered = ARENA_NEW(r->arena, struct candidate, n);
        if (!entered) return fail_memory(err);
        memcpy(entered, list, n * sizeof *entered);
        for (size_t i = 0; i < n; i++) /* about nothing named: about all that is open */
            if (entered[i].about.n == 0) entered[i].about = about;
        list = entered;
    }
    if (n == 0) return 0;
    struct plan_limits limits = limits_of(r);
    struct trial_plan out;
    int rc = trial_plan_make(&out, list, n, r->rows, &limits, r->arena, err);
    if (rc) return rc;
    json_object_set_new(r->result, "say", json_string(or_empty(out.say)));
    json_object_set_new(r->result, "ranked", list_json(&ranked_trial_kind, &out.ranked));
    /* so that a screen can set one up as it was reckoned */
    const struct records tried = {n, (void *)list};
    json_object_set_new(r->result, "candidates", list_json(&candidate_kind, &tried));
    json_object_set_new(
        r->result, "how",
        json_string("Settles: by what share the range of the statement it says most about would "
                    "shrink, on average over what the possible originals foretell. The order of "
                    "making is drawn by lot, so that warmth, skill and bark of the day do not go "
                    "with what is varied. Errors marked as a guess are the program's first ones: "
                    "enter candidates of your own with your own."));
    rc = plan_table(r, &out, err);
    if (!rc) rc = fact_table(r, &out, list, n, err);
    return rc ? rc : taught_table(r, &out, err);
}

/* ---- what they said ------------------------------------------------------------------------- */

/* With what scans say of the pieces as readings of their own. */
static int log_of(struct trial_log *out, struct stage_run *r, struct error *err) {
    const struct snapshot *n = r->now;
    struct trial_reading *scanned, *all;
    size_t more;
    int rc = stage_scans(&scanned, &more, r, err);
    if (rc) return rc;
    all = ARENA_NEW(r->arena, struct trial_reading, n->trial_reading_count + more + 1);
    if (!all) return fail_memory(err);
    if (n->trial_reading_count)
        memcpy(all, n->trial_readings, n->trial_reading_count * sizeof *all);
    if (more) memcpy(all + n->trial_reading_count, scanned, more * sizeof *all);
    *out = (struct trial_log){n->trials,
                              n->trial_count,
                              n->trial_pieces,
                              n->trial_piece_count,
                              all,
                              n->trial_reading_count + more};
    return 0;
}

static const char *range_words(const struct stage_run *r, double low, double high,
                               const char *unit) {
    return isnan(low) || isnan(high) ? "" : or_empty(trial_range(low, high, unit, r->arena));
}

static int answer_table(struct stage_run *r, const struct trial_answers *out, struct error *err) {
    json_t *rows = stage_table(r, "answers", "What the trials said",
                               "trial|question|foretold|prediction|mean|95 % range|trees|strips|"
                               "failed|verdict|in words");
    for (size_t i = 0; rows && i < out->answers.n; i++) {
        const struct trial_answer *a = (const struct trial_answer *)out->answers.v + i;
        const char *said =
            isnan(a->predicted) ? "" : trial_plus_minus(a->predicted, a->half, a->unit, r->arena);
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,s,i,i,i,s,s]", a->id, or_empty(a->question),
                            or_empty(a->foretold), or_empty(said),
                            isnan(a->mean) ? "" : or_empty(trial_number(a->mean, 3, r->arena)),
                            range_words(r, a->low, a->high, a->unit), (int)a->trees, (int)a->strips,
                            (int)a->failed, or_empty(a->verdict), or_empty(a->say)));
    }
    return rows ? 0 : fail_memory(err);
}

static int drying_table(struct stage_run *r, const struct trial_answers *out, struct error *err) {
    json_t *rows = stage_table(
        r, "drying", "How the pieces dried",
        "trial|half of the water gone after, days|exponent|between trees, percent|misfit, percent|"
        "pieces|trees");
    for (size_t i = 0; rows && i < out->answers.n; i++) {
        const struct trial_answer *a = (const struct trial_answer *)out->answers.v + i;
        const struct drying *d = &a->drying;
        if (isnan(d->half_days)) continue;
        json_array_append_new(
            rows,
            json_pack("[s,s,s,s,s,i,i]", a->id, trial_number(d->half_days, 3, r->arena),
                      trial_number(d->power, 3, r->arena), figure(r, 100 * d->tree_share, "%.0f"),
                      figure(r, 100 * d->misfit, "%.1f"), (int)d->pieces, (int)d->trees));
    }
    return rows ? 0 : fail_memory(err);
}

/* Day by day, and beside it what the drying model foretells for these pieces in this air. */
static int series_table(struct stage_run *r, const struct trial_log *book,
                        const struct trial_answers *out, struct error *err) {
    struct stuff_shelf *shelf;
    int rc = stuff_shelf_new(&shelf, err);
    json_t *rows = rc ? NULL
                      : stage_table(r, "series", "Readings by day",
                                    "trial|day|mean|least|most|pieces|simulated|"
                                    "simulated, 5 to 95 %|inside");
    json_t *simulated = json_object();
    for (size_t i = 0; rows && i < out->answers.n && !rc; i++) {
        const struct trial_answer *a = (const struct trial_answer *)out->answers.v + i;
        struct records model;
        const char *why;
        rc = trial_simulate(&model, &why, &book->trials[i], book, &a->series, shelf, r->arena, err);
        if (rc) break;
        const struct day_mean *m = a->series.v;
        const struct simulated_day *s = model.v;
        for (size_t k = 0; k < a->series.n; k++) {
            bool has = k < model.n;
            json_array_append_new(
                rows,
                json_pack("[s,s,s,s,s,i,s,s,s]", a->id, trial_number(m[k].day, 3, r->arena),
                          trial_number(m[k].mean, 3, r->arena), trial_number(m[k].low, 3, r->arena),
                          trial_number(m[k].high, 3, r->arena), (int)m[k].pieces,
                          has ? trial_number(s[k].middle, 3, r->arena) : "",
                          has ? range_words(r, s[k].low, s[k].high, a->unit) : "",
                          !has          ? ""
                          : s[k].inside ? "yes"
                                        : "no"));
        }
        json_object_set_new(simulated, a->id, list_json(&simulated_day_kind, &model));
    }
    json_object_set_new(r->result, "simulated", simulated);
    stuff_shelf_free(shelf);
    return rc ? rc : rows ? 0 : fail_memory(err);
}

/* The statement of an earlier step that is read off this column as it stands; NULL: none. What a
 * step turned into percent or another unit does not have the column's number: 1e-6 is rounding. */
static const struct statement *said_of(const struct stage_run *r, const struct trial_change *c) {
    for (size_t i = 0; i < statement_count(r->said); i++) {
        const struct statement *s = statement_at(r->said, i);
        if (!s->step || strcmp(s->step, "trials") == 0) continue;
        if (strcmp(s->id, c->column) == 0) return s; /* of one reading: named like its column */
        if (!s->column || strcmp(s->column, c->column) != 0) continue;
        if (fabs(s->value.p50 - c->before50) <= 1e-6 * (1 + fabs(c->before50))) return s;
    }
    return NULL;
}

/* One number with the trials and without them: both stay on show. */
static int state_change(struct stage_run *r, const struct trial_change *first,
                        const struct trial_change *last, json_t *moved, struct error *err) {
    struct statement s = statement_blank();
    const struct statement *was = said_of(r, first);
    const char *words = trial_column_words(first->column, r->arena);
    size_t column = num_rows_find(r->rows, first->column);
    if (!words || column == NUM_NO_COLUMN) return words ? 0 : fail_memory(err);
    s.id = arena_printf(r->arena, "trials.with.%s", first->column);
    s.step = "trials";
    s.about = was ? was->about : "object";
    s.quantity = was ? was->quantity : words;
    s.sentence =
        was ? arena_printf(r->arena, "With the trials: %s", or_empty(was->sentence))
            : arena_printf(r->arena, "With the trials this is what is known of %s.", words);
    s.unit = was ? was->unit : "";
    s.state = was ? was->state : NULL;
    s.footing = was && was->footing == FOOTING_GUESSED ? FOOTING_GUESSED : FOOTING_WORKED_OUT;
    s.rival = was ? was->rival : NULL;
    s.standing = STANDING_MEASURED;
    s.value = remains_spread(r->rows, column);
    s.column = first->column;
    s.rule = arena_printf(r->arena,
                          "the readings of the trials as evidence about the material, widened for "
                          "other trees and for "
                          "modern against ancient; without the trials: %s (%s)",
                          trial_number(first->before50, 3, r->arena),
                          range_words(r, first->before05, first->before95, ""));
    s.source = "Bayes' rule on the possible originals";
    if (!s.id || !s.sentence || !s.rule) return fail_memory(err);
    int rc = statement_link_add(&s, "trial", first->trial, "evidence", r->arena, err);
    if (!rc && strcmp(first->trial, last->trial) != 0)
        rc = statement_link_add(&s, "trial", last->trial, "evidence", r->arena, err);
    if (!rc && was) rc = statement_link_add(&s, "statement", was->id, "without", r->arena, err);
    if (rc || !was) return rc ? rc : statement_add(r->said, &s, err);
    json_array_append_new(moved,
                          json_pack("{s:s,s:s,s:s,s:s,s:s,s:s?,s:o,s:o}", "statement", was->id,
                                    "with", s.id, "step", was->step, "about", or_empty(was->about),
                                    "unit", or_empty(was->unit), "state", was->state, "before",
                                    field_encode(&spread_kind, &was->value), "after",
                                    field_encode(&spread_kind, &s.value)));
    return statement_add(r->said, &s, err);
}

/* Every statement of the steps before that the trials moved, with and without them. */
static int moved_table(struct stage_run *r, const json_t *moved, struct error *err) {
    json_t *rows = stage_table(r, "moved", "Sizes, outline and strength with the trials",
                               "step|about|what|state|unit|without the trials|with them|"
                               "range left, percent|column");
    size_t i;
    const json_t *m;
    json_array_foreach(moved, i, m) {
        const char *id = json_string_value(json_object_get(m, "statement"));
        const struct statement *was = id ? statement_find(r->said, id) : NULL;
        const char *with_id = json_string_value(json_object_get(m, "with"));
        const struct statement *with = with_id ? statement_find(r->said, with_id) : NULL;
        if (!was || !with) continue;
        double width = was->value.p95 - was->value.p05, now = with->value.p95 - with->value.p05;
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,s,s,s,s]", was->step, or_empty(was->about),
                            or_empty(was->quantity), or_empty(was->state), or_empty(was->unit),
                            stage_range(r, &was->value), stage_range(r, &with->value),
                            width > 0 ? figure(r, 100 * now / width, "%.0f") : "", was->id));
    }
    return rows ? 0 : fail_memory(err);
}

/* What a change is of, as a person would say it: "length of piece A12, new and dry". */
static const char *change_words(const struct stage_run *r, const struct trial_change *first) {
    const struct statement *was = said_of(r, first);
    if (!was || !was->quantity || !was->about) return trial_column_words(first->column, r->arena);
    /* "A12.lath_shadow.pitch.dry": of a mark on the piece */
    const char *dot = strchr(was->id, '.'), *next = dot ? strchr(dot + 1, '.') : NULL;
    bool mark = next && strchr(next + 1, '.') && !strncmp(was->about, "piece ", 6);
    char *of = mark ? arena_copy(r->arena, dot + 1, (size_t)(next - dot - 1)) : NULL;
    for (char *c = of; c && *c; c++)
        if (*c == '_') *c = ' ';
    return arena_printf(r->arena, "%s of %s%s%s%s%s%s", was->quantity, of ? of : "",
                        of ? " of " : "", strcmp(was->about, "object") ? "" : "the ", was->about,
                        was->state ? ", " : "", or_empty(was->state));
}

static int change_table(struct stage_run *r, const struct trial_answers *out, struct error *err) {
    json_t *rows = stage_table(r, "changes", "What the trials changed",
                               "trial|number|without it|with it|range left, percent|column");
    const struct trial_change *c = out->changes.v;
    json_t *moved = json_array();
    int rc = 0;
    for (size_t i = 0; rows && i < out->changes.n && !rc; i++) {
        size_t same = 0;
        while (strcmp(c[same].column, c[i].column) != 0)
            same++;
        const char *words = change_words(r, &c[same]);
        json_array_append_new(
            rows,
            json_pack("[s,s,s,s,s,s]", c[i].trial, or_empty(words),
                      arena_printf(r->arena, "%s (%s)", trial_number(c[i].before50, 3, r->arena),
                                   range_words(r, c[i].before05, c[i].before95, "")),
                      arena_printf(r->arena, "%s (%s)", trial_number(c[i].after50, 3, r->arena),
                                   range_words(r, c[i].after05, c[i].after95, "")),
                      figure(r, 100 * c[i].left, "%.0f"), c[i].column));
        size_t first = 0, last = out->changes.n;
        while (strcmp(c[first].column, c[i].column) != 0)
            first++;
        while (strcmp(c[last - 1].column, c[i].column) != 0)
            last--;
        if (first == i) rc = state_change(r, &c[first], &c[last - 1], moved, err);
    }
    if (!rc && rows && moved) rc = moved_table(r, moved, err);
    json_object_set_new(r->result, "moved", moved);
    return rc ? rc : rows ? 0 : fail_memory(err);
}

/* Sizes of single readings, new and dry, as columns where a finished trial may have something to
 * say of their drying. Readings of whole pieces are worked out in closed form before. */
static int reading_columns(struct stage_run *r, struct texts *list, size_t room,
                           struct error *err) {
    const struct sizes *z = r->made.sizes;
    for (size_t i = 0; z && i < z->measure_count && list->n < room; i++) {
        const struct measure_size *s = &z->measures[i];
        if (s->alteration < 0 || !s->piece || isnan(s->dry.p50)) continue;
        size_t fresh, dry, factor;
        const struct alteration *a = &z->alterations[s->alteration];
        int rc =
            remains_dry_factor(&factor, &r->now->find, r->rows, s->piece, a->axis, r->arena, err);
        if (rc) return rc;
        if (factor == NUM_NO_COLUMN ||
            !trial_may_move(&r->now->trials[0], r->now->trial_count, r->rows, factor))
            continue;
        rc = remains_measure_columns(&fresh, &dry, z, &r->now->find, r->rows, s, r->arena, err);
        if (rc) return rc;
        list->v[list->n++] = num_rows_id(r->rows, dry);
    }
    return 0;
}

/* What trials are watched for: the open statements and whatever else earlier steps read off the
 * possible originals, so that sizes, outline and strength are listed when a trial moves them. */
static int watched_columns(struct texts *list, struct stage_run *r, struct texts open,
                           struct error *err) {
    size_t n = statement_count(r->said), columns = num_rows_columns(r->rows),
           room = open.n + n + (r->made.sizes ? r->made.sizes->measure_count : 0);
    *list = (struct texts){0, ARENA_NEW(r->arena, const char *, room)};
    bool *taken = ARENA_NEW(r->arena, bool, columns);
    if (!list->v || !taken) return fail_memory(err);
    for (size_t i = 0; i < open.n + n; i++) {
        const char *id = i < open.n ? open.v[i] : statement_at(r->said, i - open.n)->column;
        size_t column = id ? num_rows_find(r->rows, id) : NUM_NO_COLUMN;
        if (column == NUM_NO_COLUMN || taken[column]) continue;
        taken[column] = true;
        list->v[list->n++] = id;
    }
    return reading_columns(r, list, room, err);
}

/* Numbers of the shell cannot follow a root that a trial moved until the shell is run again. */
static int tell_stale(struct stage_run *r, const struct texts *stale, struct error *err) {
    if (stale->n == 0) return 0;
    const char *list = "";
    json_t *rows =
        stage_table(r, "stale", "Numbers that still stand without the trials", "number|why");
    for (size_t i = 0; i < stale->n && list; i++) {
        const char *words = trial_column_words(stale->v[i], r->arena);
        json_array_append_new(rows, json_pack("[s,s]", or_empty(words),
                                              "the trials moved what it rests on; it has to be "
                                              "run again with that to follow"));
        list = words ? arena_printf(r->arena, "%s%s%s", list, i ? "; " : "", words) : NULL;
    }
    const char *text =
        list ? arena_printf(r->arena,
                            "The trials moved what these rest on, but they were run before and "
                            "still stand without the trials: %s.",
                            list)
             : NULL;
    if (!text) return fail_memory(err);
    json_object_set_new(r->result, "stale", json_string(text));
    return 0;
}

static int answers(struct stage_run *r, struct texts watch, struct error *err) {
    struct trial_log book;
    struct trial_answers out;
    int rc = log_of(&book, r, err);
    if (rc || book.n_trials == 0) return rc;
    rc = watched_columns(&watch, r, watch, err);
    if (rc) return rc;
    const struct read_back_options options = {.watch = watch.v, .n_watch = watch.n};
    const struct bark_loss without = stage_bark_loss(r->rows);
    rc = trial_read_back(&out, &book, r->rows, r->said, &options, r->arena, err);
    if (rc) return rc;
    const struct bark_loss with = stage_bark_loss(r->rows);
    rc = stage_trial_needs(r, &without, &with, err);
    if (!rc) rc = tell_stale(r, &out.stale, err);
    if (rc) return rc;
    json_object_set_new(r->result, "answers", list_json(&trial_answer_kind, &out.answers));
    json_object_set_new(r->result, "changes", list_json(&trial_change_kind, &out.changes));
    rc = answer_table(r, &out, err);
    if (!rc) rc = change_table(r, &out, err);
    if (!rc) rc = series_table(r, &book, &out, err);
    return rc ? rc : drying_table(r, &out, err);
}

static int run(struct stage_run *r, struct error *err) {
    if (r->now->find.piece_count == 0)
        return fail(err, ERR_MISSING, "Bring in a finds list first.",
                    "There is nothing to ask of a trial yet.");
    struct texts about = open_columns(r);
    if (!about.v) return fail_memory(err);
    int rc = loss_column(r, err);
    if (!rc) rc = answers(r, about, err);
    if (!rc) rc = stage_tell(r, "trials", 0.5, "what each trial would teach", err);
    return rc ? rc : plan(r, about, err);
}

const struct stage stage_trials = {"trials", "Trials", 11, kinds, true, run};
