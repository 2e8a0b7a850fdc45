/* Everything on paper and in open files, from an open project into one folder. */
#include "tell/assemble.h"

#include "base/asset.h"
#include "job/kinds.h"
#include "record/import.h"
#include "record/record_kinds.h"
#include "tell/keep_back.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- what people entered -------------------------------------------------------------------- */

/* What is said of the project itself, how a list was read and which of its rows wait to be mended:
 * without these the rebuilt project would not be the same. Their rows are named apart. */
static int take_own(struct hand_options *o, struct hand_table *list, struct job *job,
                    struct keep_back *private, struct arena *arena, struct error *err) {
    const struct kind *const own[] = {&record_meta_kind, &import_map_kind, &set_aside_kind};
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
        struct records all;
        struct texts ids;
        int rc = record_load(&all, &ids, job_record(job), own[i], 0, arena, err);
        if (rc) return rc;
        const char **kept = ARENA_NEW(arena, const char *, all.n + 1);
        if (!kept) return fail_memory(err);
        size_t n = 0;
        for (size_t k = 0; k < all.n; k++) {
            char *one = (char *)all.v + k * own[i]->size;
            if (!keep_back_records(private, own[i], one, 1, true)) continue;
            memmove((char *)all.v + n * own[i]->size, one, own[i]->size);
            kept[n++] = ids.v[k];
        }
        if (n)
            list[o->n_tables++] =
                (struct hand_table){own[i], all.v, n, field_find(own[i], "id") ? NULL : kept};
    }
    return 0;
}

static int take_kinds(struct hand_options *o, struct job *job, struct keep_back *private,
                      struct arena *arena, struct error *err) {
    struct hand_table *list = ARENA_NEW(arena, struct hand_table, job_kind_count() + 3);
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < job_kind_count(); i++) {
        struct records all;
        int rc = record_load(&all, NULL, job_record(job), job_kinds[i], 0, arena, err);
        if (rc) return rc;
        size_t kept = keep_back_records(private, job_kinds[i], all.v, all.n, true);
        if (kept) list[o->n_tables++] = (struct hand_table){job_kinds[i], all.v, kept, NULL};
    }
    int rc = take_own(o, list, job, private, arena, err);
    if (rc) return rc;
    o->tables = list;
    o->n_private = private->rows;
    o->changed = private->changed;
    o->n_changed = private->n_changed;
    return 0;
}

static int take_results(struct hand_options *o, const struct tell_dossier *d, struct arena *arena,
                        struct error *err) {
    struct hand_result *list = ARENA_NEW(arena, struct hand_result, stage_count);
    if (!list) return fail_memory(err);
    for (size_t i = 0; i < stage_count; i++) {
        const json_t *stored = tell_stored(d, stage_list[i]->name);
        if (!stored) continue;
        char *text = json_dumps(stored, JSON_INDENT(1) | JSON_REAL_PRECISION(15));
        const char *copy = text ? arena_strdup(arena, text) : NULL;
        free(text);
        if (!copy) return fail_memory(err);
        list[o->n_results++] = (struct hand_result){stage_list[i]->name, copy};
    }
    o->results = list;
    return 0;
}

/* ---- files ---------------------------------------------------------------------------------- */

struct taking {
    struct job *job;
    const struct keep_back *private;
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
    /* a file that a private source cites is private too */
    *to =
        (struct hand_file){.name = f.name,
                           .media = f.media,
                           .is_private = f.is_private == 1 || keep_back_names(t->private, f.name)};
    const char *bytes = NULL;
    rc = record_file_get(&bytes, &to->n, job_record(t->job), arena_strdup(t->arena, e->id),
                         t->arena, err);
    to->bytes = bytes;
    to->speaks = !rc && !to->is_private && keep_back_in_file(t->private, bytes, to->n);
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
    if (!rc) rc = take_kinds(&options, job, dossier.private, arena, err);
    if (!rc) rc = take_results(&options, &dossier, arena, err);
    struct taking files = {.job = job, .private = dossier.private, .arena = arena};
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
