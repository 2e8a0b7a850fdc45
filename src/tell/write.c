#include "tell/write.h"

#include "job/kinds.h"
#include "record/record_kinds.h"
#include "tell/assemble.h"
#include "tell/hand_over.h"

#include <stdlib.h>
#include <string.h>

enum { MOST_KINDS = 64, MOST_FILES = 20000, MOST_STEPS = 16 };

struct writer {
    struct job *job;
    struct arena *arena;
    struct tell_dossier dossier;
    struct hand_options hand;
    struct hand_table tables[MOST_KINDS];
    struct hand_result results[MOST_STEPS];
};

/* ---- what people entered ---- */

static bool is_private(const struct kind *kind, const void *record) {
    const struct field *f = field_find(kind, "hidden");
    return f && f->type == FIELD_FLAG && *(const int *)((const char *)record + f->offset) == 1;
}

/* Whether a row speaks of a piece that is private. */
static bool speaks_of_private(const struct writer *w, const struct kind *kind, const void *record) {
    const struct field *f = field_find(kind, "piece");
    if (!f || f->type != FIELD_TEXT) return false;
    const char *id = *(const char *const *)((const char *)record + f->offset);
    const struct piece *p = id ? find_piece(w->dossier.find, id) : NULL;
    return p && p->hidden == 1;
}

/* Owners are nobody's business but theirs. */
static size_t empty_private_fields(const struct kind *kind, void *record) {
    const struct field *f = field_find(kind, "owner");
    if (!f || f->type != FIELD_TEXT) return 0;
    const char **owner = (const char **)((char *)record + f->offset);
    if (!*owner) return 0;
    *owner = NULL;
    return 1;
}

static int take_tables(struct writer *w, struct error *err) {
    for (size_t k = 0; k < job_kind_count() && w->hand.n_tables < MOST_KINDS; k++) {
        const struct kind *kind = job_kinds[k];
        struct records list;
        int rc = record_load(&list, NULL, job_record(w->job), kind, 0, w->arena, err);
        if (rc) return rc;
        size_t kept = 0;
        for (size_t i = 0; i < list.n; i++) {
            char *from = (char *)list.v + i * kind->size;
            if (is_private(kind, from) || speaks_of_private(w, kind, from)) {
                w->hand.n_private++;
                continue;
            }
            w->hand.n_private += empty_private_fields(kind, from);
            if (kept != i) memcpy((char *)list.v + kept * kind->size, from, kind->size);
            kept++;
        }
        if (kept) w->tables[w->hand.n_tables++] = (struct hand_table){kind, list.v, kept};
    }
    w->hand.tables = w->tables;
    return 0;
}

/* ---- files and results ---- */

static int take_files(struct writer *w, struct error *err) {
    struct records list;
    struct texts ids;
    int rc = record_load(&list, &ids, job_record(w->job), &record_file_kind, 0, w->arena, err);
    if (rc) return rc;
    const struct record_file *files = list.v;
    struct hand_file *out = ARENA_NEW(w->arena, struct hand_file, list.n + 1);
    if (!out) return fail_memory(err);
    for (size_t i = 0; i < list.n && i < MOST_FILES && !rc; i++) {
        const char *bytes = NULL;
        size_t n = 0;
        bool hidden = files[i].is_private == 1;
        if (!hidden) rc = record_file_get(&bytes, &n, job_record(w->job), ids.v[i], w->arena, err);
        out[w->hand.n_files++] =
            (struct hand_file){files[i].name, files[i].media, hidden, bytes, n};
    }
    w->hand.files = out;
    return rc;
}

static int take_results(struct writer *w, struct error *err) {
    for (size_t i = 0; i < stage_count && w->hand.n_results < MOST_STEPS; i++) {
        json_t *stored;
        struct error none = {0};
        if (job_result(&stored, w->job, stage_list[i]->name, &none)) continue;
        char *text = json_dumps(stored, JSON_INDENT(1) | JSON_REAL_PRECISION(17) | JSON_SORT_KEYS);
        json_decref(stored);
        const char *kept = text ? arena_strdup(w->arena, text) : NULL;
        free(text);
        if (!kept) return fail_memory(err);
        w->results[w->hand.n_results++] = (struct hand_result){stage_list[i]->name, kept};
    }
    w->hand.results = w->results;
    return 0;
}

/* ---- all of it ---- */

static json_t *report_of(const struct tell_folder *folder, const struct hand_missing *missing,
                         size_t n) {
    json_t *list = json_array();
    for (size_t i = 0; i < tell_folder_count(folder); i++) {
        const char *title, *name = tell_folder_name(folder, i, &title);
        json_array_append_new(list,
                              json_pack("{s:s,s:s}", "file", name, "what", title ? title : ""));
    }
    for (size_t i = 0; i < n; i++)
        json_array_append_new(list, json_pack("{s:s,s:s,s:s,s:s}", "file", missing[i].name, "what",
                                              "left out", "not", missing[i].why, "remedy",
                                              missing[i].remedy));
    return list;
}

static int write_folder(json_t **written, struct writer *w, const char *path,
                        struct show_shaper *shaper, struct error *err) {
    struct tell_folder *folder;
    struct tell_folder_words words = tell_words(&w->dossier);
    struct hand_missing *missing = NULL;
    size_t n = 0;
    int rc = tell_folder_open(&folder, path, &words, err);
    if (rc) return rc;
    rc = tell_hand_over(folder, &w->dossier, &w->hand, shaper, &missing, &n, w->arena, err);
    json_t *list = report_of(folder, missing, n);
    struct error trouble = {0};
    int closed = tell_folder_close(folder, &trouble);
    if (!rc && closed) {
        rc = closed;
        if (err) *err = trouble;
    }
    if (!rc && !list) rc = fail_memory(err);
    if (rc)
        json_decref(list);
    else
        *written = list;
    return rc;
}

int tell_write_all(json_t **written, struct job *job, const char *folder,
                   const struct write_options *options, struct error *err) {
    *written = NULL;
    struct arena *arena = arena_new();
    struct show_shaper *shaper = show_shaper_new();
    struct writer *w = arena ? ARENA_NEW(arena, struct writer, 1) : NULL;
    int rc = w && shaper ? 0 : fail_memory(err);
    if (!rc) {
        w->job = job;
        w->arena = arena;
        w->hand = (struct hand_options){.paper = options->paper,
                                        .roll_width = options->roll_width,
                                        .bar_x = options->bar_x,
                                        .bar_y = options->bar_y};
        rc = tell_assemble(&w->dossier, job, arena, err);
    }
    if (!rc) rc = take_tables(w, err);
    if (!rc) rc = take_files(w, err);
    if (!rc) rc = take_results(w, err);
    if (!rc) rc = write_folder(written, w, folder, shaper, err);
    if (w) tell_dossier_drop(&w->dossier);
    show_shaper_free(shaper);
    arena_free(arena);
    return rc;
}
