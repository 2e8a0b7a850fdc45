/* Everything on paper and in open files, from an open project into one folder. */
#include "tell/assemble.h"

#include "base/asset.h"
#include "job/kinds.h"
#include "record/record_kinds.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- what people entered -------------------------------------------------------------------- */

/* Whether a row speaks of a piece that is private. */
static bool of_private_piece(const struct kind *kind, const char *record, const struct find *find) {
    const struct field *f = field_find(kind, "piece");
    if (!f || f->type != FIELD_TEXT) return false;
    const char *id = *(const char *const *)(const void *)(record + f->offset);
    const struct piece *p = id ? find_piece(find, id) : NULL;
    return p && p->hidden == 1;
}

/* Moves what is not private to the front; returns how many. */
static size_t without_private(const struct kind *kind, void *records, size_t n,
                              const struct find *find) {
    const struct field *hidden = field_find(kind, "hidden");
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        char *r = (char *)records + i * kind->size;
        if (hidden && *(const int *)(void *)(r + hidden->offset) == 1) continue;
        if (of_private_piece(kind, r, find)) continue;
        if (kept != i) memcpy((char *)records + kept * kind->size, r, kind->size);
        kept++;
    }
    return kept;
}

/* A stem's owner is nobody else's business. Returns how many were emptied. */
static size_t empty_private_fields(const struct kind *kind, void *records, size_t n) {
    const struct field *owner = field_find(kind, "owner");
    size_t emptied = 0;
    for (size_t i = 0; owner && owner->type == FIELD_TEXT && i < n; i++) {
        const char **name =
            (const char **)(void *)((char *)records + i * kind->size + owner->offset);
        emptied += *name != NULL;
        *name = NULL;
    }
    return emptied;
}

static int take_kinds(struct hand_options *o, struct job *job, const struct find *find,
                      struct arena *arena, struct error *err) {
    struct hand_table *list = ARENA_NEW(arena, struct hand_table, job_kind_count());
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < job_kind_count(); i++) {
        struct records all;
        int rc = record_load(&all, NULL, job_record(job), job_kinds[i], 0, arena, err);
        if (rc) return rc;
        size_t kept = without_private(job_kinds[i], all.v, all.n, find);
        o->n_private += all.n - kept + empty_private_fields(job_kinds[i], all.v, kept);
        if (kept) list[o->n_tables++] = (struct hand_table){job_kinds[i], all.v, kept};
    }
    o->tables = list;
    return 0;
}

static int take_results(struct hand_options *o, struct job *job, struct arena *arena,
                        struct error *err) {
    struct hand_result *list = ARENA_NEW(arena, struct hand_result, stage_count);
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < stage_count; i++) {
        json_t *stored;
        struct error none;
        error_clear(&none);
        if (job_result(&stored, job, stage_list[i]->name, &none)) continue;
        char *text = json_dumps(stored, JSON_INDENT(1) | JSON_REAL_PRECISION(15));
        const char *copy = arena_strdup(arena, text);
        free(text);
        json_decref(stored);
        if (!copy) return fail_memory(err);
        list[o->n_results++] = (struct hand_result){stage_list[i]->name, copy};
    }
    o->results = list;
    return 0;
}

/* ---- files ---------------------------------------------------------------------------------- */

struct taking {
    struct job *job;
    struct arena *arena;
    struct hand_file *files;
    size_t n, room;
};

static int take_file(const struct record_entry *e, void *context, struct error *err) {
    struct taking *t = context;
    struct record_file f;
    json_t *body = json_loads(e->body, 0, NULL);
    int rc = field_decode(&record_file_kind, body, &f, t->arena, err);
    json_decref(body);
    if (rc) return rc;
    if (t->n == t->room) {
        size_t room = t->room ? 2 * t->room : 16;
        struct hand_file *more = ARENA_NEW(t->arena, struct hand_file, room);
        if (!more) return fail_memory(err);
        if (t->n) memcpy(more, t->files, t->n * sizeof *more);
        t->files = more;
        t->room = room;
    }
    struct hand_file *to = &t->files[t->n];
    *to = (struct hand_file){.name = f.name, .media = f.media, .is_private = f.is_private == 1};
    const char *bytes = NULL;
    rc = record_file_get(&bytes, &to->n, job_record(t->job), arena_strdup(t->arena, e->id),
                         t->arena, err);
    to->bytes = bytes;
    t->n += rc == 0;
    return rc;
}

/* ---- the whole ------------------------------------------------------------------------------ */

static json_t *report(const struct tell_folder *folder, const struct hand_missing *missing,
                      size_t n) {
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, json_pack("{s:s,s:s,s:s}", "name", missing[i].name, "why",
                                              missing[i].why, "remedy", missing[i].remedy));
    json_t *files = json_array();
    for (size_t i = 0; i < tell_folder_count(folder); i++) {
        const char *title = NULL, *name = tell_folder_name(folder, i, &title);
        json_array_append_new(files,
                              json_pack("{s:s,s:s}", "name", name, "title", title ? title : ""));
    }
    return json_pack("{s:i,s:o,s:o}", "files", (int)tell_folder_count(folder), "list", files, "not",
                     list);
}

static int write_folder(json_t **written, const char *folder, const struct tell_dossier *dossier,
                        const struct hand_options *options, struct arena *arena,
                        struct error *err) {
    struct show_shaper *shaper = show_shaper_new();
    struct tell_folder *out = NULL;
    const struct tell_folder_words words = tell_words(dossier);
    struct hand_missing *missing = NULL;
    size_t n = 0;
    int rc = shaper ? tell_folder_open(&out, folder, &words, err) : fail_memory(err);
    if (!rc) rc = tell_hand_over(out, dossier, options, shaper, &missing, &n, arena, err);
    if (!rc) *written = report(out, missing, n);
    if (out) {
        int closed = tell_folder_close(out, rc ? NULL : err);
        if (!rc) rc = closed;
    }
    show_shaper_free(shaper);
    return rc;
}

int tell_write_all(json_t **written, struct job *job, const char *folder,
                   const struct hand_options *paper, struct error *err) {
    *written = NULL;
    struct arena *arena = arena_new();
    if (!arena) return fail_memory(err);
    struct tell_dossier dossier = {0};
    struct hand_options options = *paper;
    int rc = tell_assemble(&dossier, job, arena, err);
    if (!rc) rc = take_kinds(&options, job, dossier.find, arena, err);
    if (!rc) rc = take_results(&options, job, arena, err);
    struct taking files = {.job = job, .arena = arena};
    if (!rc) rc = record_each(job_record(job), record_file_kind.name, 0, take_file, &files, err);
    options.files = files.files;
    options.n_files = files.n;
    if (!rc) rc = write_folder(written, folder, &dossier, &options, arena, err);
    if (rc) {
        json_decref(*written);
        *written = NULL;
    }
    tell_dossier_drop(&dossier);
    arena_free(arena);
    return rc;
}
