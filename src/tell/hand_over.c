#include "tell/hand_over.h"

#include "base/file.h"
#include "show/svg.h"
#include "tell/linked.h"

#include <stdio.h>
#include <string.h>

enum { MOST_MISSING = 64 };

struct hand {
    struct tell_folder *folder;
    const struct tell_dossier *d;
    const struct hand_options *o;
    struct show_shaper *shaper;
    struct arena *arena;
    struct hand_missing *missing;
    size_t n_missing;
    int code; /* memory or disk: the end */
};

struct tell_folder_words tell_words(const struct tell_dossier *d) {
    const struct handover *h = d->handover;
    return (struct tell_folder_words){
        .title = d->title,
        .text = "What is known, reckoned and guessed about the object, how a copy may be made, and "
                "everything it rests on.",
        .licence = h ? h->licence : NULL,
        .authors = h ? h->authors : NULL,
        .date = h && h->date ? h->date : d->moment,
        .identifier = h ? h->identifier : NULL,
        .contact = h ? h->contact : NULL,
        .embargo = h ? h->embargo : NULL,
        .version = d->version,
        .moment = d->moment,
        .invented = h && h->invented == 1,
    };
}

static void not_made(struct hand *h, const char *name, const struct error *why) {
    char *text =
        arena_printf(h->arena, "%s was not written: %s %s", name, why->message, why->remedy);
    if (text) tell_folder_note(h->folder, text);
    if (h->n_missing == MOST_MISSING) return;
    h->missing[h->n_missing++] =
        (struct hand_missing){arena_strdup(h->arena, name), arena_strdup(h->arena, why->message),
                              arena_strdup(h->arena, why->remedy)};
}

/* Takes what a writer made, or notes why it could not. */
static void put(struct hand *h, const char *name, const char *media, const char *title,
                struct show_out *out, int code, const struct error *trouble) {
    if (code == ERR_MEMORY || code == ERR_FILE) h->code = code;
    if (code) {
        if (trouble) not_made(h, name, trouble);
        show_out_deinit(out);
        return;
    }
    tell_folder_take(h->folder, name, media, title, out, 0, NULL);
}

static void document(struct hand *h, struct tell_doc *doc, int code, const struct error *trouble,
                     const char *name, const char *title, bool html, bool pdf) {
    struct show_out out = {0};
    struct error why = *trouble;
    char path[200];
    for (int k = 0; k < 2 && !h->code; k++) {
        if (k ? !pdf : !html) continue;
        int rc = code;
        if (!rc) error_clear(&why);
        if (!rc) rc = k ? tell_doc_pdf(&out, doc, h->shaper, &why) : tell_doc_html(&out, doc, &why);
        snprintf(path, sizeof path, "%s.%s", name, k ? "pdf" : "html");
        put(h, path, k ? "application/pdf" : "text/html", title, &out, rc, &why);
        if (rc && code) break; /* one reason for both */
    }
    tell_doc_free(doc);
}

static void papers(struct hand *h) {
    static const struct {
        int (*make)(struct tell_doc **, const struct tell_dossier *, struct error *);
        const char *name, *title;
        bool html, pdf;
    } list[] = {
        {tell_report, "argument", "The argument: all it rests on", true, true},
        {tell_book, "making-book", "How to make it", true, true},
        {tell_landowner, "landowner", "One page for whoever owns the trees", true, true},
        {tell_forms, "forms/recording-forms", "Cards to write finds on", false, true},
        {tell_wood, "wood", "The page to take to the wood", true, false},
    };
    for (size_t i = 0; i < sizeof list / sizeof list[0] && !h->code; i++) {
        struct tell_doc *doc = NULL;
        struct error trouble = {0};
        int code = list[i].make(&doc, h->d, &trouble);
        document(h, doc, code, &trouble, list[i].name, list[i].title, list[i].html, list[i].pdf);
    }
    for (int large = 0; large < 2 && !h->code; large++) {
        struct tell_doc *doc = NULL;
        struct error trouble = {0};
        int code = tell_label(&doc, h->d, large, &trouble);
        document(h, doc, code, &trouble, large ? "label-large-print" : "label",
                 large ? "Label draft, large print" : "Label draft", true, true);
    }
    for (size_t i = 0; i < h->d->n_trials && !h->code; i++) {
        struct tell_doc *doc = NULL;
        struct error trouble = {0};
        const struct tell_trial *t = &h->d->trials[i];
        int code = tell_trial_sheet(&doc, h->d, t, &trouble);
        char *safe = file_safe_name(t->id, h->arena);
        char *name = safe ? arena_printf(h->arena, "trials/trial-%s", safe) : NULL;
        document(h, doc, code, &trouble, name ? name : "trials/trial", "A trial on one page", false,
                 true);
    }
}

static int plan_pdf(struct show_out *out, struct hand *h, const struct show_plan *drawn,
                    struct error *err) {
    const struct plan_options o = {.paper = h->o->paper,
                                   .roll_width = h->o->roll_width,
                                   .measured_x = h->o->bar_x,
                                   .measured_y = h->o->bar_y};
    struct show_drawing **pages;
    size_t n;
    int code = plan_pages(&pages, &n, drawn, &o, h->shaper, h->arena, err);
    if (code) return code;
    const struct show_pdf_options pdf = {.title = "Plan at true size",
                                         .subject = h->d->title,
                                         .date = h->d->moment,
                                         .theme = SHOW_PRINT};
    code = show_pdf_write(out, (const struct show_drawing *const *)pages, n, &pdf, h->shaper, err);
    for (size_t i = 0; i < n; i++)
        show_drawing_free(pages[i]);
    return code;
}

static void plan(struct hand *h) {
    static const char *const sheets[] = {"a4", "a3", "letter", "roll"};
    struct show_out out = {0};
    struct error why = {0};
    char name[64];
    if (!h->d->plan) {
        fail(&why, ERR_MISSING, "Run: relict compute FILE making",
             "Nothing is proposed yet that could be drawn.");
        not_made(h, "plan", &why);
        return;
    }
    snprintf(name, sizeof name, "plan/plan-%s.pdf", sheets[h->o->paper]);
    const struct show_plan *drawn = tell_plan_with_patterns(h->d, h->arena);
    if (!drawn) {
        h->code = ERR_MEMORY;
        return;
    }
    int code = plan_pdf(&out, h, drawn, &why);
    put(h, name, "application/pdf", "Plan at true size, in sheets", &out, code, &why);
    error_clear(&why);
    code = plan_svg(&out, drawn, &why);
    put(h, "plan/plan-mm.svg", "image/svg+xml", "Plan at true size", &out, code, &why);
    code = plan_dxf(&out, drawn, &why);
    put(h, "plan/plan-mm.dxf", "image/vnd.dxf", "Plan for a cutting table, unit mm", &out, code,
        &why);
    code = tell_geojson_plan(&out, drawn, &why);
    put(h, "plan/plan.geojson", "application/geo+json", "Plan, mm", &out, code, &why);
}

static void drawings(struct hand *h) {
    for (size_t i = 0; i < h->d->n_drawings && !h->code; i++) {
        const struct tell_part_drawing *p = &h->d->drawings[i];
        struct show_out out = {0};
        struct error why = {0};
        char name[100];
        if (!strcmp(p->step, "photo")) continue; /* they lie in files/ as they are */
        const char *title = show_drawing_title(p->drawing);
        const char *file = file_safe_name(p->name ? p->name : p->step, h->arena);
        if (!file) file = "drawing";
        snprintf(name, sizeof name, "drawings/%zu-%.60s.svg", i + 1, file);
        int code =
            show_svg_write(&out, p->drawing, &(struct show_svg_options){.theme = SHOW_PRINT}, &why);
        put(h, name, "image/svg+xml", title, &out, code, &why);
        snprintf(name, sizeof name, "drawings/%zu-%.60s.png", i + 1, file);
        code = show_png_write(&out, p->drawing, 150, SHOW_PRINT, h->shaper, &why);
        put(h, name, "image/png", title, &out, code, &why);
    }
}

static void solids(struct hand *h) {
    struct error why = {0};
    static const struct {
        int (*write)(struct show_out *, const struct solid *, struct error *);
        const char *name, *media, *title;
    } list[] = {
        {solid_glb, "form/form.glb", "model/gltf-binary", "Predicted form, metres, y up"},
        {solid_ply, "form/form-mm.ply", "application/octet-stream", "Predicted form, mm"},
        {solid_stl, "form/form-mm.stl", "model/stl", "Predicted form, mm"},
    };
    if (!h->d->solid) {
        fail(&why, ERR_MISSING, "Run: relict compute FILE strength",
             "The predicted form is not computed.");
        not_made(h, "form", &why);
        return;
    }
    for (int i = 0; i < 3 && !h->code; i++) {
        struct show_out out = {0};
        int code = list[i].write(&out, h->d->solid, &why);
        put(h, list[i].name, list[i].media, list[i].title, &out, code, &why);
    }
}

/* ---- data ---- */

static bool piece_hidden(const void *record) {
    return ((const struct piece *)record)->hidden == 1;
}
static bool source_hidden(const void *record) {
    return ((const struct source *)record)->hidden == 1;
}

/* Tables of what people entered: read back by `relict`, they make the project again. */
static void entered(struct hand *h) {
    for (size_t i = 0; i < h->o->n_tables; i++)
        tell_folder_table_named(h->folder, h->o->tables[i].kind, h->o->tables[i].records,
                                h->o->tables[i].ids, h->o->tables[i].n, NULL);
    char note[140];
    snprintf(note, sizeof note, "%zu private rows are left out of the tables", h->o->n_private);
    if (h->o->n_private) tell_folder_note(h->folder, note);
    for (size_t i = 0; i < h->o->n_changed; i++)
        if (h->o->changed[i]) tell_folder_note(h->folder, h->o->changed[i]);
}

static void of_dossier(struct hand *h) {
    static const struct find no_find;
    static const struct makings no_makings;
    const struct find *f = h->d->find ? h->d->find : &no_find;
    const struct makings *m = h->d->makings ? h->d->makings : &no_makings;
    struct tell_folder *to = h->folder;
    size_t hidden = 0;
    for (size_t i = 0; i < f->piece_count; i++)
        hidden += f->pieces[i].hidden == 1;
    for (size_t i = 0; i < f->source_count; i++)
        hidden += f->sources[i].hidden == 1;
    char note[100];
    snprintf(note, sizeof note, "%zu private pieces or sources are left out of the tables", hidden);
    if (hidden) tell_folder_note(to, note);
    tell_folder_table(to, &piece_kind, f->pieces, f->piece_count, piece_hidden);
    tell_folder_table(to, &measure_kind, f->measures, f->measure_count, NULL);
    tell_folder_table(to, &mark_kind_kind, f->marks, f->mark_count, NULL);
    tell_folder_table(to, &piece_outline_kind, f->outlines, f->outline_count, NULL);
    tell_folder_table(to, &source_kind, f->sources, f->source_count, source_hidden);
    tell_folder_table(to, &choice_kind, f->choices, f->choice_count, NULL);
    tell_folder_table(to, &handling_kind, f->handlings, f->handling_count, NULL);
    tell_folder_table(to, &own_alteration_kind, f->alterations, f->alteration_count, NULL);
    tell_folder_table(to, &making_kind, m->makings, m->making_count, NULL);
    tell_folder_table(to, &part_kind_kind, m->parts, m->part_count, NULL);
    tell_folder_table(to, &step_kind, m->steps, m->step_count, NULL);
    if (h->d->handover) tell_folder_table(to, &handover_kind, h->d->handover, 1, NULL);
    tell_folder_table(to, &as_made_kind, h->d->as_made, h->d->n_as_made, NULL);
}

static void tables(struct hand *h) {
    h->o->tables ? entered(h) : of_dossier(h);
    size_t n = h->d->said ? statement_count(h->d->said) : 0;
    struct statement *said = ARENA_NEW(h->arena, struct statement, n + 1);
    struct show_out out = {0};
    struct error why = {0};
    size_t kept = 0;
    for (size_t i = 0; said && i < n; i++)
        if (!tell_is_private(h->d, statement_at(h->d->said, i)))
            said[kept++] = *statement_at(h->d->said, i);
    n = kept;
    int code = said ? tell_csv(&out, &statement_kind, said, n, NULL, &why) : fail_memory(&why);
    put(h, "results/statements.csv", "text/csv", "All statements", &out, code, &why);
}

/* Tables of the steps' results, as they stand in the argument. */
static void results(struct hand *h) {
    for (size_t i = 0; i < h->d->n_tables && !h->code; i++) {
        const struct tell_part_table *p = &h->d->tables[i];
        const struct tell_table *t = &p->table;
        struct show_out out = {0};
        char name[100];
        for (size_t r = 0; r <= t->n_rows; r++) {
            for (size_t c = 0; c < t->n_columns; c++) {
                if (c) show_out_text(&out, ",");
                tell_csv_cell(&out, r ? t->cells[(r - 1) * t->n_columns + c] : t->columns[c]);
            }
            show_out_text(&out, "\r\n");
        }
        char *key = p->key ? file_safe_name(p->key, h->arena) : NULL;
        if (key)
            snprintf(name, sizeof name, "results/%.40s-%.40s.csv", p->step, key);
        else
            snprintf(name, sizeof name, "results/%zu-%.40s.csv", i + 1, p->step);
        put(h, name, "text/csv", t->title, &out, 0, NULL);
    }
}

static void stored(struct hand *h) {
    for (size_t i = 0; i < h->o->n_results && !h->code; i++) {
        struct show_out out = {0};
        char name[100];
        snprintf(name, sizeof name, "results/step-%.40s.json", h->o->results[i].step);
        show_out_text(&out, h->o->results[i].json);
        put(h, name, "application/json", "What the step worked out, as stored", &out, 0, NULL);
    }
}

static void data(struct hand *h) {
    struct show_out out = {0};
    struct error why = {0};
    int code = tell_jsonld(&out, h->d, &why);
    put(h, "argument.jsonld", "application/ld+json", "The argument as linked data", &out, code,
        &why);
    static const char *const frames[] = {"as found", "own"};
    static const char *const names[] = {"found/pieces-as-found.geojson",
                                        "found/pieces-own.geojson"};
    for (int i = 0; i < 2; i++) {
        code = tell_geojson_found(&out, h->d, frames[i], &why);
        put(h, names[i], "application/geo+json", "Outlines of pieces, mm", &out, code, &why);
    }
    json_t *list = json_array();
    for (size_t i = 0; h->d->said && i < statement_count(h->d->said); i++)
        if (!tell_is_private(h->d, statement_at(h->d->said, i)))
            json_array_append_new(list, field_encode(&statement_kind, statement_at(h->d->said, i)));
    char *text = list ? json_dumps(list, JSON_INDENT(1) | JSON_REAL_PRECISION(15)) : NULL;
    show_out_text(&out, text ? text : "[]");
    put(h, "results/statements.json", "application/json", "All statements with what they rest on",
        &out, 0, NULL);
    free(text);
    json_decref(list);
    if (!h->d->n_events) return;
    char *calendar = NULL;
    char day[11] = "2000-01-01";
    if (h->d->moment && strlen(h->d->moment) >= 10) memcpy(day, h->d->moment, 10);
    code = gather_ical_write(&calendar, h->d->title, day, h->d->events, h->d->n_events, h->arena,
                             &why);
    show_out_text(&out, calendar);
    put(h, "calendar.ics", "text/calendar", "What must be done when", &out, code, &why);
}

/* Files as they came; photographs without the place where they were made. */
static void files(struct hand *h) {
    size_t kept_back = 0, places = 0;
    for (size_t i = 0; i < h->o->n_files && !h->code; i++) {
        const struct hand_file *f = &h->o->files[i];
        struct show_out out = {0};
        struct error why = {0};
        size_t gps = 0;
        int code = 0;
        if (f->is_private) {
            kept_back++;
            continue;
        }
        if (f->speaks) {
            char *told = arena_printf(h->arena,
                                      "files/%s is left out: it speaks of something private, or "
                                      "cannot be looked into; its rows stand in tables/",
                                      f->name);
            if (told) tell_folder_note(h->folder, told);
            continue;
        }
        char *safe = file_safe_name(f->name, h->arena);
        bool twice = false; /* the same name again gets a number */
        for (size_t k = 0; k < i; k++)
            twice |= !strcmp(h->o->files[k].name, f->name);
        char *name = !safe   ? NULL
                     : twice ? arena_printf(h->arena, "files/%zu-%s", i + 1, safe)
                             : arena_printf(h->arena, "files/%s", safe);
        if (!name) {
            h->code = ERR_MEMORY;
            return;
        }
        if (f->media && !strcmp(f->media, "image/jpeg"))
            code = tell_jpeg_without_place(&out, f->bytes, f->n, &gps, &why);
        else
            show_out_bytes(&out, f->bytes, f->n);
        places += gps > 0;
        put(h, name, f->media, f->name, &out, code, &why);
    }
    char note[120];
    snprintf(note, sizeof note, "%zu private files are left out", kept_back);
    if (kept_back) tell_folder_note(h->folder, note);
    snprintf(note, sizeof note,
             "the place was taken out of %zu photographs; their hashes differ from the "
             "project's",
             places);
    if (places) tell_folder_note(h->folder, note);
}

int tell_hand_over(struct tell_folder *folder, const struct tell_dossier *dossier,
                   const struct hand_options *options, struct show_shaper *shaper,
                   struct hand_missing **missing, size_t *n_missing, struct arena *arena,
                   struct error *err) {
    struct hand h = {folder, dossier, options, shaper, arena, NULL, 0, 0};
    h.missing = ARENA_NEW(arena, struct hand_missing, MOST_MISSING);
    if (!h.missing) return fail_memory(err);
    void (*const parts[])(struct hand *) = {papers,  plan,   drawings, solids, tables,
                                            results, stored, data,     files};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0] && !h.code; i++)
        parts[i](&h);
    *missing = h.missing;
    *n_missing = h.n_missing;
    if (h.code == ERR_MEMORY) return fail_memory(err);
    if (h.code)
        return fail(err, ERR_FILE, "Choose another folder, or make room on the disk.",
                    "The folder could not be written.");
    return 0;
}
