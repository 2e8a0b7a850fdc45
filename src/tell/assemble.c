#include "tell/assemble.h"
#include "tell/assemble_more.h"
#include "tell/keep_back.h"
#include "tell/settle.h"

#include "base/asset.h"
#include "base/sha256.h"
#include "job/makings.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const drawing_names[] = {"making", "sizes", "outline", NULL};
static const char *const drawing_steps[] = {"found", "sizes", "outline"};
/* the making book opens with find and object itself */
static const enum tell_where drawing_where[] = {TELL_IN_ARGUMENT, TELL_IN_BOTH, TELL_IN_ARGUMENT};

/* ---- tables --------------------------------------------------------------------------------- */

static const char *cell(const json_t *v, struct arena *arena) {
    if (json_is_string(v)) return arena_strdup(arena, json_string_value(v));
    if (json_is_boolean(v)) return json_is_true(v) ? "yes" : "no";
    if (json_is_number(v)) return arena_printf(arena, "%.4g", json_number_value(v));
    return "";
}

static int add_table(struct tell_part_table *out, const char *step, const char *key,
                     const json_t *t, struct arena *arena, struct error *err) {
    const json_t *heads = json_object_get(t, "columns"), *rows = json_object_get(t, "rows");
    size_t columns = json_array_size(heads), n = json_array_size(rows);
    const char **head = ARENA_NEW(arena, const char *, columns),
               **cells = ARENA_NEW(arena, const char *, columns *n);
    if (!head || !cells) return fail_memory(err);
    for (size_t c = 0; c < columns; c++)
        head[c] = cell(json_array_get(heads, c), arena);
    for (size_t r = 0; r < n; r++)
        for (size_t c = 0; c < columns; c++)
            cells[r * columns + c] = cell(json_array_get(json_array_get(rows, r), c), arena);
    *out = (struct tell_part_table){.step = step,
                                    .key = arena_strdup(arena, key),
                                    .table = {.title = cell(json_object_get(t, "title"), arena),
                                              .n_columns = columns,
                                              .n_rows = n,
                                              .columns = head,
                                              .cells = cells}};
    return 0;
}

/* Each result is read from the project once. */
/* only: of this step alone; NULL: of all. */
static int take_stored(struct tell_dossier *out, struct job *job, const char *only,
                       struct arena *arena, struct error *err) {
    out->stored = ARENA_NEW(arena, json_t *, stage_count);
    if (!out->stored) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < stage_count && !rc; i++) {
        struct error none = {0};
        if (only && strcmp(stage_list[i]->name, only)) continue;
        if (job_result(&out->stored[i], job, stage_list[i]->name, &none))
            out->stored[i] = NULL; /* not worked out yet */
        else
            rc = keep_back_json(out->private, out->stored[i], err);
    }
    return rc;
}

const json_t *tell_stored(const struct tell_dossier *d, const char *step) {
    for (size_t i = 0; d->stored && i < stage_count; i++)
        if (!strcmp(stage_list[i]->name, step)) return d->stored[i];
    return NULL;
}

static int take_tables(struct tell_dossier *out, struct arena *arena, struct error *err) {
    enum { MOST = 64 };
    struct tell_part_table *list = ARENA_NEW(arena, struct tell_part_table, MOST);
    if (!list) return fail_memory(err);
    int rc = 0;
    for (size_t i = 0; i < stage_count && !rc; i++) {
        const char *key;
        json_t *t;
        if (!out->stored[i]) continue;
        json_object_foreach(json_object_get(json_object_get(out->stored[i], "result"), "tables"),
                            key, t) {
            if (rc || out->n_tables == MOST || json_array_size(json_object_get(t, "rows")) == 0)
                continue;
            rc = add_table(&list[out->n_tables], stage_list[i]->name, key, t, arena, err);
            /* what the step says of it in words stands under the same name */
            const char *words =
                json_string_value(json_object_get(json_object_get(out->stored[i], "result"), key));
            if (words && *words) list[out->n_tables].text = arena_strdup(arena, words);
            if (!rc) out->n_tables++;
        }
    }
    out->tables = list;
    return rc;
}

/* ---- drawings ------------------------------------------------------------------------------- */

static int take_drawings(struct tell_dossier *out, struct job *job, struct arena *arena,
                         struct error *err) {
    out->drawings = ARENA_NEW(arena, struct tell_part_drawing, TELL_MOST_DRAWINGS);
    if (!out->drawings) return fail_memory(err);
    for (size_t i = 0; drawing_names[i]; i++) {
        struct show_drawing *d;
        struct error none;
        error_clear(&none);
        int rc = 0;
        if (i == 0) /* find and object side by side, with threads */
            d = tell_pair(out, false, 165, 0, arena);
        else
            rc = tell_picture_named(&d, job, drawing_names[i], &none);
        if (rc == ERR_MEMORY) return fail_memory(err);
        if (!rc)
            rc =
                tell_add_drawing(out, drawing_steps[i], drawing_steps[i], drawing_where[i], d, err);
        if (rc == ERR_MEMORY) return rc;
    }
    return 0;
}

int tell_add_drawing(struct tell_dossier *out, const char *step, const char *name,
                     enum tell_where where, struct show_drawing *drawing, struct error *err) {
    if (!drawing) return fail_memory(err);
    if (out->n_drawings == TELL_MOST_DRAWINGS) {
        show_drawing_free(drawing);
        return 0;
    }
    ((struct tell_part_drawing *)out->drawings)[out->n_drawings++] =
        (struct tell_part_drawing){step, drawing, name, where};
    return 0;
}

void tell_dossier_drop(struct tell_dossier *d) {
    for (size_t i = 0; i < d->n_drawings; i++)
        show_drawing_free((struct show_drawing *)d->drawings[i].drawing);
    d->n_drawings = 0;
    for (size_t i = 0; d->stored && i < stage_count; i++)
        json_decref(d->stored[i]);
    d->stored = NULL;
}

/* ---- questions and states ------------------------------------------------------------------- */

/* A guess is a question; what would settle it stands in its caution or is another look. */
static int take_questions(struct tell_dossier *out, struct arena *arena, struct error *err) {
    size_t n = statement_count(out->said);
    struct tell_question *list = ARENA_NEW(arena, struct tell_question, n);
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < n; i++) {
        const struct statement *s = statement_at(out->said, i);
        if (s->footing != FOOTING_GUESSED) continue;
        list[out->n_questions++] = (struct tell_question){
            arena_printf(arena, "%s Or: %s?", s->sentence, s->rival ? s->rival : "otherwise"),
            tell_settle(s), s->step};
    }
    out->questions = list;
    return 0;
}

static int take_steps(struct tell_dossier *out, struct job *job, struct error *err) {
    json_t *steps;
    int rc = job_steps(&steps, job, err);
    size_t i;
    const json_t *row;
    json_array_foreach(steps, i, row) {
        const char *name = json_string_value(json_object_get(row, "step")),
                   *state = json_string_value(json_object_get(row, "state"));
        static const char *const order[] = {"found",    "sizes",    "outline", "curve", "making",
                                            "strength", "material", "trials",  "report"};
        for (int k = 0; k < 9; k++) {
            if (strcmp(order[k], name)) continue;
            out->open[k] = (int)json_integer_value(json_object_get(row, "open"));
            for (int w = 0; w <= LOOK_IN_DOUBT; w++)
                if (strcmp(look_step_words[w], state) == 0) out->steps[k] = (enum look_step)w;
        }
    }
    json_decref(steps);
    return rc;
}

/* The hash that stands at the foot of every page: of the project's identity and revision and of
 * everything that is said. */
static const char *hash_of(struct job *job, const struct statement_set *said, struct arena *arena) {
    json_t *list = statement_set_encode(said);
    char *text = json_dumps(list, JSON_COMPACT | JSON_REAL_PRECISION(15));
    char *all = arena_printf(arena, "%s %ld %s", record_uuid(job_record(job)),
                             record_revision(job_record(job)), text ? text : "");
    char *hex = arena_alloc(arena, SHA256_TEXT, 1);
    if (hex && all) sha256_text(all, strlen(all), hex);
    free(text);
    json_decref(list);
    return hex;
}

/* ---- plan ----------------------------------------------------------------------------------- */

/* The outline when new and dry: drawn in along and across the grain. */
static const double *dry_outline(const struct show_plan *plan, const struct job_makings *m,
                                 struct arena *arena) {
    double g = isnan(plan->grain) ? 0 : plan->grain, c = cos(g), s = sin(g);
    double *v = ARENA_NEW(arena, double, 2 * plan->n_fresh);
    for (size_t i = 0; v && i < plan->n_fresh; i++) {
        const double *q = plan->fresh + 2 * i;
        double u = (c * q[0] + s * q[1]) * m->dry_along, w = (c * q[1] - s * q[0]) * m->dry_around;
        v[2 * i] = c * u - s * w;
        v[2 * i + 1] = s * u + c * w;
    }
    return v;
}

static int take_plan(struct tell_dossier *out, const struct job_makings *m, struct arena *arena,
                     struct error *err) {
    const struct making *leading = tell_leading(out);
    struct show_plan *plan = ARENA_NEW(arena, struct show_plan, 1);
    if (!plan) return fail_memory(err);
    if (!leading || !tell_plan_of(plan, out, leading, arena)) return 0;
    if (plan->n_fresh && !plan->n_dry && !isnan(m->dry_along) && !isnan(m->dry_around)) {
        plan->dry = dry_outline(plan, m, arena);
        plan->n_dry = plan->dry ? plan->n_fresh : 0;
    }
    plan->subject = "Plan at true size";
    plan->state = "fresh: cut this";
    plan->up = "outer face up";
    out->plan = plan;
    return 0;
}

int tell_assemble_bare(struct tell_dossier *out, struct job *job, struct arena *arena,
                       struct error *err) {
    *out = (struct tell_dossier){0};
    struct snapshot *now = ARENA_NEW(arena, struct snapshot, 1);
    struct job_makings *m = ARENA_NEW(arena, struct job_makings, 1);
    struct statement_set *said = NULL;
    int rc = now && m ? job_snapshot(now, job, arena, err) : fail_memory(err);
    if (!rc) rc = job_statements(&said, job, arena, err);
    if (!rc) rc = job_makings(m, job, arena, err);
    if (rc) return rc;
    const char *slash = strrchr(job_path(job), '/');
    out->title = now->title && *now->title ? now->title : "Untitled";
    out->file = slash ? slash + 1 : job_path(job);
    out->moment =
        arena_printf(arena, "%sT00:00:00Z", now->today && *now->today ? now->today : "2000-01-01");
    out->hash = hash_of(job, said, arena);
    out->version = RELICT_VERSION;
    out->uuid = arena_strdup(arena, record_uuid(job_record(job)));
    out->seed = now->seed;
    out->draws = now->draws;
    out->revision = now->revision;
    out->handover = now->handover_count ? &now->handovers[0] : NULL;
    out->find = &now->find;
    out->makings = &m->all;
    out->said = said;
    out->as_made = now->as_made;
    out->n_as_made = now->as_made_count;
    rc = take_plan(out, m, arena, err);
    return rc;
}

/* From here on nothing private is in the dossier. */
static int take_private(struct tell_dossier *out, struct job *job, struct arena *arena,
                        struct error *err) {
    struct keep_back *k = ARENA_NEW(arena, struct keep_back, 1);
    struct find *find = ARENA_NEW(arena, struct find, 1);
    struct makings *m = ARENA_NEW(arena, struct makings, 1);
    struct statement_set *said = NULL;
    if (!k || !find || !m) return fail_memory(err);
    int rc = keep_back_gather(k, job, out->find, arena, err);
    if (!rc) rc = keep_back_statements(&said, k, out->said, err);
    if (rc) return rc;
    *find = *out->find;
    *m = *out->makings;
    keep_back_find(k, find);
    m->making_count = keep_back_records(k, &making_kind, m->makings, m->making_count, false);
    m->part_count = keep_back_records(k, &part_kind_kind, m->parts, m->part_count, false);
    m->step_count = keep_back_records(k, &step_kind, m->steps, m->step_count, false);
    struct handover *h = out->handover ? ARENA_NEW(arena, struct handover, 1) : NULL;
    if (out->handover && !h) return fail_memory(err);
    if (h) {
        *h = *out->handover;
        keep_back_records(k, &handover_kind, h, 1, false);
        out->handover = h;
    }
    out->n_as_made =
        keep_back_records(k, &as_made_kind, (void *)out->as_made, out->n_as_made, false);
    out->private = k;
    out->find = find;
    out->makings = m;
    out->said = said;
    return 0;
}

int tell_assemble_plan_of_season(struct tell_dossier *out, struct job *job, struct arena *arena,
                                 struct error *err) {
    int rc = tell_assemble_bare(out, job, arena, err);
    if (!rc) rc = take_private(out, job, arena, err);
    if (!rc) rc = take_stored(out, job, "material", arena, err);
    if (!rc) rc = take_tables(out, arena, err);
    if (!rc && !(out->drawings = ARENA_NEW(arena, struct tell_part_drawing, TELL_MOST_DRAWINGS)))
        rc = fail_memory(err);
    return rc ? rc : tell_assemble_season(out, arena, err);
}

int tell_assemble(struct tell_dossier *out, struct job *job, struct arena *arena,
                  struct error *err) {
    int rc = tell_assemble_bare(out, job, arena, err);
    if (rc) return rc;
    out->cautions = asset_find("data/cautions.csv", &out->cautions_size);
    rc = take_private(out, job, arena, err);
    if (!rc) rc = take_stored(out, job, NULL, arena, err);
    if (!rc) rc = take_tables(out, arena, err);
    if (!rc) rc = take_questions(out, arena, err);
    if (!rc) rc = take_steps(out, job, err);
    if (!rc) rc = take_drawings(out, job, arena, err);
    if (!rc) rc = tell_assemble_rivals(out, arena, err);
    if (!rc) rc = tell_assemble_layout(out, arena, err);
    if (!rc) rc = tell_assemble_season(out, arena, err);
    if (!rc) rc = tell_assemble_trials(out, job, arena, err);
    if (!rc) rc = tell_assemble_form(out, arena, err);
    if (!rc) rc = tell_assemble_series(out, arena, err);
    if (!rc) rc = tell_assemble_photos(out, job, arena, err);
    /* each sheet of the plan says draft while a point of the checklist is open, as all pages do */
    struct tell_check *list;
    size_t n;
    if (!rc) rc = tell_checklist(&list, &n, out, arena, err);
    if (!rc && out->plan)
        ((struct show_plan *)out->plan)->draft = tell_draft_reason(list, n, arena) != NULL;
    return rc;
}
