/* trials: which few would teach most, and what the finished ones said. */
#include "job/stage.h"

#include "trial/read_back.h"
#include "trial/trial_plan.h"

#include <math.h>
#include <string.h>

static const char *const kinds[] = {"candidate",   "plan_limits",   "trial",
                                    "trial_piece", "trial_reading", NULL};

static const char *figure(const struct stage_run *r, double v, const char *format) {
    const char *text = isnan(v) ? "" : arena_printf(r->arena, format, v);
    return text ? text : "";
}

/* ---- open statements ------------------------------------------------------------------------ */

/* Columns behind guesses and wide statements, so that trials know what is open. */
static struct texts open_columns(struct stage_run *r) {
    static const char *const wanted[] = {"shape.made.rise", "shape.made.weight", "stem.radius",
                                         "bark.set",        "bark.E.around",     "outline.length",
                                         "outline.width"};
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

/* ---- what to try next ----------------------------------------------------------------------- */

/* Strips that dry, and a panel that curls: what a team can always try, where nobody entered
 * candidates. Errors and hours are first guesses to be replaced by the team's own. */
static size_t usual_candidates(struct candidate *out, struct stage_run *r, struct texts about) {
    static const struct {
        const char *id, *title, *made, *column;
        long outcome;
        double noise, tree, ancient, sheets, hours, days;
    } usual[] = {
        {"strips", "Five strips from five trees, dried", "strips 300 x 40 mm",
         "dry_loss.bark.around", OUTCOME_SHRINK_AROUND, 0.6, 0.8, 1.0, 0.5, 4, 28},
        {"curl", "A sheet taken off and watched", "a sheet 300 x 200 mm, free", "stem.radius",
         OUTCOME_VALUE, 8, 15, 10, 1, 5, 14},
        {"flat", "A sheet dried flat and let go", "a sheet 300 x 200 mm under weight", "bark.set",
         OUTCOME_VALUE, 0.05, 0.08, 0.1, 1, 6, 35},
        {"panel", "A panel with three laths, dried and let go", "a panel 300 x 200 mm",
         "shape.made.rise", OUTCOME_VALUE, 3, 5, 4, 1, 14, 56},
    };
    size_t n = 0;
    for (size_t i = 0; i < sizeof usual / sizeof usual[0]; i++) {
        if (num_rows_find(r->rows, usual[i].column) == NUM_NO_COLUMN) continue;
        field_unknown(&candidate_kind, &out[n]);
        struct candidate *c = &out[n++];
        c->id = usual[i].id;
        c->title = usual[i].title;
        c->made = usual[i].made;
        c->column = usual[i].column;
        c->about = about;
        c->outcome = usual[i].outcome;
        c->noise = usual[i].noise;
        c->tree_spread = usual[i].tree;
        c->modern_ancient = usual[i].ancient;
        c->trees = i == 0 ? 5 : 2;
        c->strips = 1;
        c->sheets = usual[i].sheets;
        c->hours = usual[i].hours;
        c->days = usual[i].days;
    }
    return n;
}

static int plan(struct stage_run *r, struct texts about, struct error *err) {
    struct candidate own[8];
    const struct candidate *list = r->now->candidates;
    size_t n = r->now->candidate_count;
    if (n == 0) {
        n = usual_candidates(own, r, about);
        list = own;
    }
    if (n == 0) return 0;
    struct plan_limits limits;
    field_unknown(&plan_limits_kind, &limits);
    if (r->now->limit_count) limits = r->now->limits[0];
    if (isnan(limits.enough)) limits.enough = 0.05;
    if (limits.seed == FIELD_UNKNOWN) limits.seed = r->now->seed;
    struct trial_plan out;
    int rc = trial_plan_make(&out, list, n, r->rows, &limits, r->arena, err);
    if (rc) return rc;
    json_object_set_new(r->result, "say", json_string(out.say ? out.say : ""));
    json_t *rows =
        stage_table(r, "plan", "Trials that would teach most",
                    "trial|what|in the plan|made as number|teaches, nats|a sheet, nats|a day, nats|"
                    "foretold|trees needed|why, or why not|what each outcome would mean");
    for (size_t i = 0; rows && i < out.ranked.n; i++) {
        const struct ranked_trial *t = (const struct ranked_trial *)out.ranked.v + i;
        const char *foretold =
            isnan(t->predicted) ? "" : arena_printf(r->arena, "%.3g ± %.2g", t->predicted, t->half);
        json_array_append_new(
            rows,
            json_pack("[s,s,s,s,s,s,s,s,s,s,s]", t->id, t->title ? t->title : "",
                      t->place ? "yes" : "no", t->order ? figure(r, (double)t->order, "%.0f") : "",
                      figure(r, t->nats, "%.2f"), figure(r, t->per_sheet, "%.2f"),
                      figure(r, t->per_day, "%.3f"), foretold ? foretold : "",
                      t->trees_needed ? figure(r, (double)t->trees_needed, "%.0f") : "cannot",
                      t->why ? t->why : "", t->means ? t->means : ""));
    }
    return rows ? 0 : fail_memory(err);
}

/* ---- what they said ------------------------------------------------------------------------- */

/* What screens draw curves from: each answer with its outcome day by day. */
static json_t *list_json(const struct kind *kind, const struct records *list) {
    json_t *out = json_array();
    for (size_t i = 0; i < list->n; i++)
        json_array_append_new(out, field_encode(kind, (const char *)list->v + i * kind->size));
    return out;
}

static int answers(struct stage_run *r, struct texts watch, struct error *err) {
    const struct snapshot *n = r->now;
    const struct trial_log book = {n->trials,         n->trial_count,
                                   n->trial_pieces,   n->trial_piece_count,
                                   n->trial_readings, n->trial_reading_count};
    const struct read_back_options options = {.watch = watch.v, .n_watch = watch.n};
    struct trial_answers out;
    if (n->trial_count == 0) return 0;
    int rc = trial_read_back(&out, &book, r->rows, r->said, &options, r->arena, err);
    if (rc) return rc;
    json_t *rows =
        stage_table(r, "answers", "What the trials said",
                    "trial|question|foretold|mean|95 % range|trees|strips|verdict|in words");
    for (size_t i = 0; rows && i < out.answers.n; i++) {
        const struct trial_answer *a = (const struct trial_answer *)out.answers.v + i;
        const char *range =
            isnan(a->low) ? "" : arena_printf(r->arena, "%.3g to %.3g", a->low, a->high);
        json_array_append_new(
            rows, json_pack("[s,s,s,s,s,i,i,s,s]", a->id, a->question ? a->question : "",
                            a->foretold ? a->foretold : "", figure(r, a->mean, "%.3g"),
                            range ? range : "", (int)a->trees, (int)a->strips,
                            a->verdict ? a->verdict : "", a->say ? a->say : ""));
    }
    json_t *changes = stage_table(r, "changes", "What the trials changed",
                                  "trial|number|before|after|range left, percent");
    for (size_t i = 0; changes && i < out.changes.n; i++) {
        const struct trial_change *c = (const struct trial_change *)out.changes.v + i;
        json_array_append_new(changes,
                              json_pack("[s,s,s,s,s]", c->trial, c->column,
                                        arena_printf(r->arena, "%.4g (%.4g to %.4g)", c->before50,
                                                     c->before05, c->before95),
                                        arena_printf(r->arena, "%.4g (%.4g to %.4g)", c->after50,
                                                     c->after05, c->after95),
                                        figure(r, 100 * c->left, "%.0f")));
    }
    json_object_set_new(r->result, "answers", list_json(&trial_answer_kind, &out.answers));
    json_object_set_new(r->result, "changes", list_json(&trial_change_kind, &out.changes));
    return rows && changes ? 0 : fail_memory(err);
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

const struct stage stage_trials = {"trials", "Trials", 3, kinds, true, run};
