/* What can be asked of a project: states of the steps, statements, results, and why. */
#include "job/job_private.h"
#include "remains/sentence.h"

#include <stdlib.h>
#include <string.h>

/* ---- what changed since --------------------------------------------------------------------- */

struct doubts {
    struct statement_set *said;
    struct arena *arena;
    long revision; /* the oldest that a stored result was made from */
    size_t entries;
};

static int take_entry(const struct record_entry *e, void *context, struct error *err) {
    struct doubts *d = context;
    if (e->revision <= d->revision) return 0;
    char *reason =
        arena_printf(d->arena, "%s %s was %s by %s on %.10s%s%s", e->kind, e->id,
                     e->gone         ? "withdrawn"
                     : e->supersedes ? "changed"
                                     : "entered",
                     e->who, e->when, e->why && *e->why ? ": " : "", e->why ? e->why : "");
    if (!reason) return fail_memory(err);
    d->entries++;
    if (d->said) statement_doubt(d->said, e->kind, e->id, reason);
    return 0;
}

struct newer {
    struct record *record;
    struct doubts *doubts;
};

static int take_change(const struct record_change *c, void *context, struct error *err) {
    struct newer *n = context;
    if (c->first + c->count - 1 <= n->doubts->revision) return 0;
    return record_change_entries(n->record, c->id, take_entry, n->doubts, err);
}

static int mark_doubts(struct doubts *d, struct job *job, struct error *err) {
    struct newer n = {job->record, d};
    return record_changes(job->record, false, 0, take_change, &n, err);
}

/* ---- stored results of all steps ------------------------------------------------------------ */

/* Keys of the project as it stands, worked out once a revision. */
static int present_keys(struct job *job, struct error *err) {
    long revision = record_revision(job->record);
    if (job->keys_revision && job->keys_revision == revision) return 0;
    struct snapshot now;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    int rc = snapshot_read(&now, job->record, arena, err);
    if (!rc) rc = job_keys(&job->keys, job, &now, err);
    /* a revision that came in meanwhile is not taken for the one that was read */
    job->keys_revision = rc || record_revision(job->record) != revision ? 0 : revision;
    arena_free(arena);
    return rc;
}

static int all_stored(struct job_stored *out, struct job *job, struct error *err) {
    int rc = present_keys(job, err);
    for (size_t i = 0; i < stage_count && !rc; i++)
        rc = job_stored(&out[i], job, i, &job->keys, err);
    return rc;
}

static void drop_stored(struct job_stored *stored) {
    for (size_t i = 0; i < stage_count; i++)
        json_decref(stored[i].body);
}

int job_statements(struct statement_set **out, struct job *job, struct arena *arena,
                   struct error *err) {
    struct job_stored stored[JOB_MOST_STAGES] = {0};
    *out = statement_set_new(arena);
    int rc = *out ? all_stored(stored, job, err) : fail_memory(err);
    struct doubts doubts = {.said = *out, .arena = arena, .revision = -1};
    for (size_t i = 0; i < stage_count && !rc; i++) {
        if (!stored[i].body) continue;
        rc = statement_set_decode(*out, json_object_get(stored[i].body, "statements"), err);
        long made = (long)json_integer_value(json_object_get(stored[i].body, "revision"));
        if (!stored[i].holds && (doubts.revision < 0 || made < doubts.revision))
            doubts.revision = made;
    }
    if (!rc && doubts.revision >= 0) rc = mark_doubts(&doubts, job, err);
    for (size_t i = 0; i < stage_count && !rc; i++)
        if (stored[i].holds) statement_hold(*out, stage_list[i]->name);
    drop_stored(stored);
    return rc;
}

static size_t open_questions(const json_t *statements) {
    size_t i, open = 0;
    const json_t *s;
    json_array_foreach(statements, i, s) {
        const char *footing = json_string_value(json_object_get(s, "footing"));
        open += json_object_get(s, "caution") || (footing && strcmp(footing, "guessed") == 0);
    }
    return open;
}

/* Reads a stored body for its summary, unless that is the one kept. None is left of a body that
 * cannot be read: it is as good as not stored. */
static void summarize(struct job_summary *m, const struct job_stored_text *stored) {
    size_t size = strlen(stored->text);
    if (m->size == size && strcmp(m->key, stored->key) == 0 && strcmp(m->when, stored->when) == 0)
        return;
    json_decref(m->blocked);
    *m = (struct job_summary){0};
    json_t *body = json_loads(stored->text, 0, NULL);
    if (!body) return;
    m->blocked = json_incref(json_object_get(body, "blocked"));
    m->open = (long)open_questions(json_object_get(body, "statements"));
    m->revision = (long)json_integer_value(json_object_get(body, "revision"));
    m->rough = (long)json_integer_value(json_object_get(body, "rough"));
    json_decref(body);
    snprintf(m->key, sizeof m->key, "%s", stored->key);
    snprintf(m->when, sizeof m->when, "%s", stored->when);
    m->size = size;
}

/* Why what is stored does not hold any more. */
static int why_in_doubt(json_t *row, struct job *job, const struct job_summary *m,
                        struct arena *arena, struct error *err) {
    struct doubts d = {.arena = arena, .revision = m->revision};
    int rc = mark_doubts(&d, job, err);
    if (rc) return rc;
    if (m->rough) json_object_set_new(row, "rough", json_integer(m->rough));
    char *why =
        m->rough    ? arena_printf(arena,
                                   "a first rough answer from %ld possible originals; it has not been "
                                      "worked out properly yet",
                                   m->rough)
        : d.entries ? arena_printf(arena, "%zu thing%s entered or changed since it was worked out",
                                   d.entries, d.entries == 1 ? "" : "s")
                    : arena_strdup(arena, "the program works it out in another way now");
    if (!why) return fail_memory(err);
    return json_object_set_new(row, "why", json_string(why)) ? fail_memory(err) : 0;
}

static int step_row(json_t **row, struct job *job, size_t i, bool nothing, struct arena *arena,
                    struct error *err) {
    static const struct job_summary none;
    struct job_stored_text stored;
    int rc = job_stored_text(&stored, job, i, &job->keys, arena, err);
    if (rc) return rc;
    if (stored.text) summarize(&job->summary[i], &stored);
    const struct job_summary *m = stored.text ? &job->summary[i] : &none;
    const char *state = !m->size        ? nothing ? "not begun" : "can start"
                        : !stored.holds ? "in doubt"
                        : m->blocked    ? "can start"
                                        : "holds";
    *row = json_pack("{s:s,s:s,s:s,s:i}", "step", stage_list[i]->name, "title",
                     stage_list[i]->title, "state", state, "open", (int)m->open);
    if (!*row) return fail_memory(err);
    if (m->blocked) json_object_set(*row, "blocked", m->blocked);
    return m->size && !stored.holds ? why_in_doubt(*row, job, m, arena, err) : 0;
}

static int take_any(const struct record_entry *e, void *any, struct error *err) {
    (void)e;
    (void)err;
    *(bool *)any = true;
    return 0;
}

int job_steps(json_t **out, struct job *job, struct error *err) {
    struct arena *arena = arena_new();
    *out = NULL;
    if (!arena) return fail_memory(err);
    bool pieces = false;
    int rc = present_keys(job, err);
    if (!rc) rc = record_each(job->record, "piece", 0, take_any, &pieces, err);
    json_t *list = json_array();
    for (size_t i = 0; i < stage_count && !rc; i++) {
        json_t *row = NULL;
        rc = step_row(&row, job, i, !pieces, arena, err);
        if (json_array_append_new(list, row) && !rc) rc = fail_memory(err);
    }
    arena_free(arena);
    if (rc)
        json_decref(list);
    else
        *out = list;
    return rc;
}

int job_result(json_t **out, struct job *job, const char *step, struct error *err) {
    *out = NULL;
    size_t i = stage_index(step, err);
    if (i == stage_count) return err ? (int)err->code : ERR_USAGE;
    struct job_stored stored = {0};
    int rc = present_keys(job, err);
    if (!rc) rc = job_stored(&stored, job, i, &job->keys, err);
    if (!rc && !stored.body)
        rc = fail(err, ERR_MISSING, "Run: relict compute FILE", "%s has not been worked out yet.",
                  stage_list[i]->title);
    if (rc) return rc;
    if (!stored.holds) json_object_set_new(stored.body, "in_doubt", json_true());
    *out = stored.body;
    return 0;
}

/* ---- why ------------------------------------------------------------------------------------ */

enum { WHY_DEEPEST = 12 };

struct asking {
    struct job *job;
    struct snapshot now;
    struct statement_set *said;
    struct arena *arena;
    const char *path[WHY_DEEPEST]; /* ids being opened, against circles */
};

static json_t *entry_of(struct asking *a, const char *kind, const char *id) {
    struct record_entry e;
    if (record_get(&e, a->job->record, kind, id, a->arena, NULL)) return NULL;
    json_t *body = json_loads(e.body, 0, NULL);
    if (!body) return NULL;
    return json_pack("{s:s,s:s,s:s,s:s,s:o}", "kind", kind, "id", id, "who", e.who, "when", e.when,
                     "body", body);
}

static json_t *open_statement(struct asking *a, const struct statement *s, int depth);

static json_t *open_link(struct asking *a, const struct statement_link *l, int depth) {
    json_t *o = json_pack("{s:s,s:s}", "kind", l->kind, "id", l->id);
    if (l->role) json_object_set_new(o, "role", json_string(l->role));
    bool circle = depth >= WHY_DEEPEST;
    for (int i = 0; i < depth && !circle; i++)
        circle = strcmp(a->path[i], l->id) == 0;
    if (strcmp(l->kind, "statement") == 0) {
        const struct statement *s = circle ? NULL : statement_find(a->said, l->id);
        if (s) json_object_set_new(o, "statement", open_statement(a, s, depth));
        return o;
    }
    json_t *entry = entry_of(a, l->kind, l->id);
    if (entry) json_object_set_new(o, "entry", entry);
    char *words = find_sentence(&a->now.find, l->kind, l->id, a->arena);
    if (words) json_object_set_new(o, "words", json_string(words));
    return o;
}

static json_t *open_statement(struct asking *a, const struct statement *s, int depth) {
    json_t *o = field_encode(&statement_kind, s), *list = json_array();
    char *number = statement_number(s, a->arena);
    if (number && *number) json_object_set_new(o, "number", json_string(number));
    a->path[depth] = s->id;
    const struct statement_link *links = s->rests_on.v;
    for (size_t i = 0; i < s->rests_on.n; i++)
        json_array_append_new(list, open_link(a, &links[i], depth + 1));
    json_object_set_new(o, "rests_on", list);
    return o;
}

static const char *nearest_id(const struct statement_set *said, const char *id,
                              struct arena *arena) {
    size_t n = statement_count(said);
    const char **ids = ARENA_NEW(arena, const char *, n);
    for (size_t i = 0; ids && i < n; i++)
        ids[i] = statement_at(said, i)->id;
    return ids ? field_nearest(id, ids, n) : NULL;
}

int job_why(json_t **out, struct job *job, const char *id, struct error *err) {
    *out = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct asking a = {.job = job, .arena = arena};
    int rc = job_statements(&a.said, job, arena, err);
    if (!rc) rc = snapshot_read(&a.now, job->record, arena, err);
    const struct statement *s = rc ? NULL : statement_find(a.said, id);
    if (!rc && !s) {
        const char *near = nearest_id(a.said, id, arena);
        char *remedy = near ? arena_printf(arena, "Did you mean \"%s\"?", near) : NULL;
        rc = fail(err, ERR_MISSING,
                  statement_count(a.said) == 0 ? "Run: relict compute FILE"
                  : remedy                     ? remedy
                                               : "`relict show FILE statements` lists them.",
                  "There is no statement \"%.60s\".", id);
    }
    if (!rc && !(*out = open_statement(&a, s, 0))) rc = fail_memory(err);
    arena_free(arena);
    return rc;
}
