/* Running the steps: which are out of date, in what order, and what is kept of them. */
#include "job/draws.h"
#include "job/job_private.h"

#include "base/mem.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

size_t stage_index(const char *name, struct error *err) {
    const char *names[JOB_MOST_STAGES] = {0};
    for (size_t i = 0; i < stage_count; i++) {
        if (strcmp(stage_list[i]->name, name) == 0) return i;
        names[i] = stage_list[i]->name;
    }
    const char *near = field_nearest(name, names, stage_count);
    char remedy[200] = "Steps: ";
    for (size_t i = 0; i < stage_count; i++)
        snprintf(remedy + strlen(remedy), sizeof remedy - strlen(remedy), "%s%s", i ? ", " : "",
                 names[i]);
    fail(err, ERR_USAGE, remedy, "There is no step \"%.40s\".%s%s%s", name,
         near ? " Did you mean " : "", near ? near : "", near ? "?" : "");
    return stage_count;
}

/* ---- keys ----------------------------------------------------------------------------------- */

struct keying {
    struct sha256 s;
    const struct snapshot *now;
    const char *stage;
};

/* Nothing rests on a what-if, so that entering one leaves every step as it was. */
static bool of_what_if(const struct record_entry *e, const struct snapshot *now) {
    bool making = strcmp(e->kind, "making") == 0;
    if (!making && strcmp(e->kind, "part") && strcmp(e->kind, "step")) return false;
    json_t *body = making ? NULL : json_loads(e->body, 0, NULL);
    const char *id = making ? e->id : json_string_value(json_object_get(body, "making"));
    const struct making *m = id ? makings_find(&now->makings, id) : NULL;
    bool it_is = m && isnan(m->weight);
    json_decref(body);
    return it_is;
}

/* The day of the opening bears on what is to be got and when, and on no step before that: a new day
 * must not put the form in doubt. */
static bool of_opening(const struct record_entry *e, const char *stage) {
    if (strcmp(e->kind, "choice") || strcmp(stage, "material") == 0) return false;
    json_t *body = json_loads(e->body, 0, NULL);
    const char *about = json_string_value(json_object_get(body, "about"));
    bool it_is = about && strcmp(about, "opening") == 0;
    json_decref(body);
    return it_is;
}

static int add_entry(const struct record_entry *e, void *context, struct error *err) {
    (void)err;
    struct keying *k = context;
    struct sha256 *s = &k->s;
    if (of_what_if(e, k->now) || of_opening(e, k->stage)) return 0;
    sha256_add(s, e->kind, strlen(e->kind) + 1);
    sha256_add(s, e->id, strlen(e->id) + 1);
    sha256_add(s, e->body, strlen(e->body) + 1);
    return 0;
}

int job_keys(struct job_keys *out, struct job *job, const struct snapshot *now, struct error *err) {
    char text[160];
    for (size_t i = 0; i < stage_count; i++) {
        const struct stage *stage = stage_list[i];
        struct keying k = {.now = now, .stage = stage->name};
        unsigned char hash[SHA256_BYTES];
        sha256_begin(&k.s);
        int n = snprintf(text, sizeof text, "%s %d seed %ld draws %ld after %s", stage->name,
                         stage->version, now->seed, now->draws, i ? out->key[i - 1] : "");
        sha256_add(&k.s, text, (size_t)n + 1);
        for (size_t j = 0; stage->kinds[j]; j++) {
            int rc = record_each(job->record, stage->kinds[j], 0, add_entry, &k, err);
            if (rc) return rc;
        }
        sha256_end(&k.s, hash);
        sha256_hex(hash, out->key[i]);
    }
    return 0;
}

/* ---- stored results ------------------------------------------------------------------------- */

struct newest {
    const char *stage, *key, *when, *text;
    struct arena *arena;
};

static int take_newest(const char *stage, const char *key, const char *when, const char *body,
                       void *context, struct error *err) {
    struct newest *n = context;
    if (strcmp(stage, n->stage) || (n->when && strcmp(when, n->when) <= 0)) return 0;
    n->key = arena_strdup(n->arena, key);
    n->when = arena_strdup(n->arena, when);
    n->text = arena_strdup(n->arena, body);
    return n->key && n->when && n->text ? 0 : fail_memory(err);
}

int job_stored_text(struct job_stored_text *out, struct job *job, size_t stage,
                    const struct job_keys *keys, struct arena *arena, struct error *err) {
    struct newest n = {.stage = stage_list[stage]->name, .arena = arena};
    struct error missing = {0};
    *out = (struct job_stored_text){.key = keys->key[stage]};
    int rc =
        record_result_get(&out->text, &out->when, job->record, n.stage, out->key, arena, &missing);
    out->holds = !rc;
    if (rc == ERR_MISSING || rc == ERR_DAMAGED) {
        rc = record_results(job->record, take_newest, &n, err);
        out->key = n.key;
        out->when = n.when;
        out->text = n.text;
    } else if (rc && err)
        *err = missing;
    return rc;
}

int job_stored(struct job_stored *out, struct job *job, size_t stage, const struct job_keys *keys,
               struct error *err) {
    *out = (struct job_stored){0};
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct job_stored_text stored;
    int rc = job_stored_text(&stored, job, stage, keys, arena, err);
    if (!rc && stored.text) out->body = json_loads(stored.text, 0, NULL);
    out->holds = out->body && stored.holds;
    arena_free(arena);
    return rc;
}

/* ---- running -------------------------------------------------------------------------------- */

/* What the record itself, the machine or the person refused: the whole run ends. Everything else
 * is this step's own trouble and the next may still go on. */
static bool ends_all(int rc) {
    return rc == ERR_MEMORY || rc == ERR_FILE || rc == ERR_DAMAGED || rc == ERR_STOPPED;
}

static json_t *blocked_of(const struct error *e) {
    return json_pack("{s:s,s:s,s:s}", "code", error_name(e->code), "message", e->message, "remedy",
                     e->remedy);
}

/* Statements of one step as a list. */
static json_t *statements_of(const struct statement_set *said, const char *step) {
    json_t *list = json_array();
    for (size_t i = 0; list && i < statement_count(said); i++) {
        const struct statement *s = statement_at(said, i);
        if (!s->step || strcmp(s->step, step)) continue;
        json_array_append_new(list, field_encode(&statement_kind, s));
    }
    return list;
}

/* What a step leaves, as it is stored: the text, and that text read again. Later steps see what was
 * read again, never the figures in memory: so it is the same for them whether this step ran just
 * now or last year. */
static json_t *body_of(char **text, const struct stage *stage, const struct stage_run *run,
                       const struct error *blocked) {
    json_t *body = json_object();
    json_object_set_new(body, "revision", json_integer(run->now->revision));
    if (run->rough) json_object_set_new(body, "rough", json_integer(run->now->draws));
    json_object_set_new(body, "statements", statements_of(run->said, stage->name));
    if (blocked) json_object_set_new(body, "blocked", blocked_of(blocked));
    json_object_set(body, "result", run->result);
    *text = json_dumps(body, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(body);
    return *text ? json_loads(*text, 0, NULL) : NULL;
}

/* Fills *body; keeps it in the project under `key`, if there is one. */
static int keep(json_t **body, struct job *job, const struct stage *stage, const char *key,
                struct stage_run *run, const struct error *blocked, struct error *err) {
    char *text;
    *body = body_of(&text, stage, run, blocked);
    /* a row or a statement that found no memory is missing in it without a word */
    int rc = *body && mem_failures() == run->failures ? 0 : fail_memory(err);
    if (!rc && key) rc = record_result_put(job->record, stage->name, key, job_when(job), text, err);
    if (!rc && key) rc = record_result_drop(job->record, stage->name, key, err);
    free(text);
    return rc;
}

/* The step with its last result to hand, and a set of statements of its own that begins with those
 * of the steps before. *stored is what was kept of it under its key; NULL when nothing was. */
static int run_with_last(json_t **stored, struct job *job, size_t i, const struct job_keys *keys,
                         const struct statement_set *before, struct stage_run *run,
                         struct error *trouble) {
    struct job_stored last;
    struct error ignored = {0};
    if (job_stored(&last, job, i, keys, &ignored)) last = (struct job_stored){0};
    run->said = statement_set_new(run->arena);
    int rc = run->said ? 0 : fail_memory(trouble);
    for (size_t k = 0; k < statement_count(before) && !rc; k++)
        rc = statement_add(run->said, statement_at(before, k), trouble);
    run->before = json_object_get(last.body, "result");
    if (!rc) rc = stage_work(stage_list[i], run, trouble);
    run->before = NULL;
    *stored = last.holds ? json_incref(last.body) : NULL;
    json_decref(last.body);
    return rc;
}

/* A step whose answer stands runs all the same, for the columns and structs that later ones use;
 * what it says then is what it said when it was worked out: the rows have moved on since. */
static int run_stages(json_t *report, struct job *job, size_t last, const struct job_keys *keys,
                      const bool *stale, struct stage_run *run, struct error *err) {
    struct statement_set *said = statement_set_new(run->arena);
    int rc = said ? 0 : fail_memory(err);
    run->failures = mem_failures();
    for (size_t i = 0; i <= last && !rc; i++) {
        const struct stage *stage = stage_list[i];
        struct error trouble = {0};
        json_t *body = NULL;
        run->result = json_object();
        rc = stage_tell(run, stage->name, 0, stage->title, err);
        int did = rc ? rc : run_with_last(&body, job, i, keys, said, run, &trouble);
        if (!rc && did && ends_all(did)) {
            if (err) *err = trouble;
            rc = did;
        }
        if (!rc && (stale[i] || !body)) {
            json_decref(body);
            rc = keep(&body, job, stage, stale[i] ? keys->key[i] : NULL, run, did ? &trouble : NULL,
                      err);
        }
        if (!rc) rc = statement_set_decode(said, json_object_get(body, "statements"), err);
        if (!rc) {
            json_t *row =
                json_pack("{s:s,s:s}", "step", stage->name, "state", did ? "can start" : "holds");
            if (did) json_object_set_new(row, "blocked", blocked_of(&trouble));
            json_array_append_new(report, row);
            if (stale[i] && stage->moves_rows && !run->rough)
                draws_save(run->rows, job->path, stage->name, keys->key[i]);
            json_object_set(run->results, stage->name, json_object_get(body, "result"));
        }
        json_decref(body);
        json_decref(run->result);
    }
    return rc;
}

/* ---- a first rough answer ------------------------------------------------------------------- */

/* Enough for a middle and a rough range: of 128 the outer 5 in 100 are 6. */
enum { ROUGH_DRAWS = 128 };
static const char *const rough_last = "making";

/* Under a key of its own, so that no step takes it for the answer proper: it shows as in doubt and
 * goes when that is kept. */
static void rough_keys(struct job_keys *keys) {
    static const char mark[] = "rough ";
    for (size_t i = 0; i < stage_count; i++) {
        char proper[SHA256_TEXT];
        memcpy(proper, keys->key[i], sizeof proper);
        snprintf(keys->key[i], sizeof keys->key[i], "%s%.*s", mark,
                 (int)(sizeof proper - sizeof mark), proper);
    }
}

int job_sketch(bool *made, struct job *job, stage_progress *progress, void *context,
               struct error *err) {
    *made = false;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct snapshot now;
    struct job_keys keys;
    bool missing[JOB_MOST_STAGES], any = false;
    size_t last = stage_index(rough_last, NULL);
    int rc = snapshot_read(&now, job->record, arena, err);
    if (!rc) rc = job_keys(&keys, job, &now, err);
    for (size_t i = 0; i <= last && !rc; i++) {
        struct job_stored stored;
        rc = job_stored(&stored, job, i, &keys, err);
        missing[i] = !stored.body;
        any |= missing[i];
        json_decref(stored.body);
    }
    if (now.draws > ROUGH_DRAWS && now.find.piece_count && any && !rc) {
        struct num_rows *rows = NULL;
        struct stage_run run = {.now = &now,
                                .arena = arena,
                                .progress = progress,
                                .context = context,
                                .rough = true,
                                .results = json_object()};
        json_t *report = json_array();
        now.draws = ROUGH_DRAWS;
        rough_keys(&keys);
        rc = run.results && report ? num_rows_new(&rows, ROUGH_DRAWS, (uint64_t)now.seed, err)
                                   : fail_memory(err);
        run.rows = rows;
        if (!rc) rc = run_stages(report, job, last, &keys, missing, &run, err);
        json_decref(run.results);
        json_decref(report);
        shape_outline_model_free(run.made.outline_model);
        num_rows_free(rows);
        *made = !rc;
    }
    arena_free(arena);
    return rc;
}

/* ---- the answer proper ---------------------------------------------------------------------- */

/* Rows as the last stage that moved them left them, if they were kept; else fresh ones. */
static int begin_rows(struct num_rows **out, struct job *job, size_t last,
                      const struct job_keys *keys, const struct snapshot *now, struct error *err) {
    *out = NULL;
    for (size_t i = last + 1; i-- > 0 && !*out;)
        if (stage_list[i]->moves_rows)
            draws_load(out, job->path, stage_list[i]->name, keys->key[i]);
    if (*out) return 0;
    return num_rows_new(out, (size_t)now->draws, (uint64_t)now->seed, err);
}

int job_compute(json_t **report, struct job *job, const char *last_name, stage_progress *progress,
                void *context, struct error *err) {
    size_t last = last_name ? stage_index(last_name, err) : stage_count - 1;
    *report = NULL;
    if (last == stage_count) return err ? (int)err->code : ERR_USAGE;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct snapshot now;
    struct job_keys keys;
    bool stale[JOB_MOST_STAGES], any = false;
    struct num_rows *rows = NULL;
    int rc = snapshot_read(&now, job->record, arena, err);
    if (!rc) rc = job_keys(&keys, job, &now, err);
    for (size_t i = 0; i <= last && !rc; i++) {
        struct job_stored stored;
        rc = job_stored(&stored, job, i, &keys, err);
        stale[i] = !stored.holds;
        any |= stale[i];
        json_decref(stored.body);
    }
    size_t trials = stage_index("trials", NULL);
    if (!rc && trials <= last && stale[trials]) rc = snapshot_scans(&now, job->record, arena, err);
    json_t *list = json_array();
    if (!rc && any) {
        struct stage_run run = {.now = &now,
                                .arena = arena,
                                .progress = progress,
                                .context = context,
                                .results = json_object()};
        rc = run.results ? begin_rows(&rows, job, last, &keys, &now, err) : fail_memory(err);
        run.rows = rows;
        if (!rc) rc = run_stages(list, job, last, &keys, stale, &run, err);
        json_decref(run.results);
        shape_outline_model_free(run.made.outline_model);
    } else if (!rc) {
        json_decref(list);
        rc = job_steps(&list, job, err);
    }
    num_rows_free(rows);
    arena_free(arena);
    if (rc)
        json_decref(list);
    else
        *report = list;
    return rc;
}
