#include "tell/write.h"

#include "show/paper.h"
#include "show/svg.h"
#include "tell/assemble.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

struct writer {
    const char *folder;
    const struct tell_dossier *dossier;
    const struct write_options *options;
    struct show_shaper *shaper;
    struct arena *arena;
    json_t *written;
    struct error *err;
};

/* Saves what was made, or tells why it was not. Only trouble with the disk or memory ends all. */
static int keep(struct writer *w, const char *name, const char *what, struct show_out *out, int rc,
                const struct error *trouble) {
    if (!rc) {
        char *path = arena_printf(w->arena, "%s/%s", w->folder, name);
        rc = path ? show_out_save(out, path, w->err) : fail_memory(w->err);
        if (!rc)
            json_array_append_new(w->written, json_pack("{s:s,s:s}", "file", name, "what", what));
    } else if (rc == ERR_MEMORY) {
        rc = fail_memory(w->err);
    } else {
        json_array_append_new(w->written,
                              json_pack("{s:s,s:s,s:s,s:s}", "file", name, "what", what, "not",
                                        trouble->message, "remedy", trouble->remedy));
        rc = 0;
    }
    show_out_deinit(out);
    return rc;
}

/* One document, as a page and on paper. */
struct document {
    const char *name, *what;
    int (*make)(struct tell_doc **out, const struct tell_dossier *dossier, struct error *err);
    bool page_only; /* it computes: paper would be no use */
};

static int plain_label(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    return tell_label(out, d, false, err);
}

static int large_label(struct tell_doc **out, const struct tell_dossier *d, struct error *err) {
    return tell_label(out, d, true, err);
}

static const struct document documents[] = {
    {"argument", "everything needed to question it", tell_report, false},
    {"making-book", "materials, cut list, order of work, cautions", tell_book, false},
    {"landowner", "one page for whoever owns the trees", tell_landowner, false},
    {"recording-forms", "blank cards as the import reads them", tell_forms, false},
    {"label", "for visitors", plain_label, false},
    {"label-large", "for visitors, large print", large_label, false},
    {"wood-page", "for a phone in the wood, works without a network", tell_wood, true},
};

static int write_document(struct writer *w, const struct document *d) {
    struct tell_doc *doc = NULL;
    struct error trouble = {0};
    struct show_out html = {0}, pdf = {0};
    int made = d->make(&doc, w->dossier, &trouble);
    char *html_name = arena_printf(w->arena, "%s.html", d->name),
         *pdf_name = arena_printf(w->arena, "%s.pdf", d->name);
    if (!html_name || !pdf_name) return fail_memory(w->err);
    int did = made ? made : tell_doc_html(&html, doc, &trouble);
    int rc = keep(w, html_name, d->what, &html, did, &trouble);
    if (!rc && !d->page_only && !made) {
        did = tell_doc_pdf(&pdf, doc, w->shaper, &trouble);
        rc = keep(w, pdf_name, d->what, &pdf, did, &trouble);
    }
    tell_doc_free(doc);
    return rc;
}

static int plan_pdf(struct show_out *out, struct writer *w, struct error *err) {
    struct plan_options o = {.paper = w->options->paper,
                             .roll_width = w->options->roll_width,
                             .measured_x = w->options->bar_x,
                             .measured_y = w->options->bar_y};
    struct show_drawing **pages;
    size_t n;
    int rc = plan_pages(&pages, &n, w->dossier->plan, &o, w->shaper, w->arena, err);
    if (rc) return rc;
    const struct show_pdf_options pdf = {.title = w->dossier->title,
                                         .subject = "Plan at true size",
                                         .date = w->dossier->moment,
                                         .theme = SHOW_PRINT};
    rc = show_pdf_write(out, (const struct show_drawing *const *)pages, n, &pdf, w->shaper, err);
    for (size_t i = 0; i < n; i++)
        show_drawing_free(pages[i]);
    return rc;
}

static int write_plan(struct writer *w) {
    static const char *const papers[] = {"a4", "a3", "letter", "roll"};
    struct error trouble = {0};
    struct show_out pdf = {0}, svg = {0}, dxf = {0};
    char *name = arena_printf(w->arena, "plan-%s.pdf", papers[w->options->paper]);
    if (!name) return fail_memory(w->err);
    int none = w->dossier->plan ? 0
                                : fail(&trouble, ERR_MISSING, "Run: relict compute FILE making",
                                       "Nothing is proposed yet that could be drawn.");
    int rc = keep(w, name, "plan at true size, in sheets", &pdf,
                  none ? none : plan_pdf(&pdf, w, &trouble), &trouble);
    if (!rc)
        rc = keep(w, "plan.svg", "plan at true size, in mm", &svg,
                  none ? none : plan_svg(&svg, w->dossier->plan, &trouble), &trouble);
    if (!rc)
        rc = keep(w, "plan-mm.dxf", "plan for a cutting table, unit mm", &dxf,
                  none ? none : plan_dxf(&dxf, w->dossier->plan, &trouble), &trouble);
    return rc;
}

static int write_drawings(struct writer *w) {
    int rc = 0;
    for (size_t i = 0; i < w->dossier->n_drawings && !rc; i++) {
        struct error trouble = {0};
        struct show_out svg = {0};
        const struct tell_part_drawing *d = &w->dossier->drawings[i];
        char *name = arena_printf(w->arena, "drawing-%s.svg", d->step);
        if (!name) return fail_memory(w->err);
        rc = keep(w, name, show_drawing_title(d->drawing), &svg,
                  show_svg_write(&svg, d->drawing, NULL, &trouble), &trouble);
    }
    return rc;
}

int tell_write_all(json_t **written, struct job *job, const char *folder,
                   const struct write_options *options, struct error *err) {
    *written = NULL;
    if (mkdir(folder, 0777) && errno != EEXIST) {
        error_place(err, folder, 0, NULL, NULL);
        return fail(err, ERR_FILE, "Choose another folder.", "The folder cannot be made: %s.",
                    strerror(errno));
    }
    struct writer w = {.folder = folder,
                       .options = options,
                       .shaper = show_shaper_new(),
                       .arena = arena_new(),
                       .written = json_array(),
                       .err = err};
    struct tell_dossier dossier = {0};
    w.dossier = &dossier;
    int rc = w.arena && w.shaper && w.written ? 0 : fail_memory(err);
    if (!rc) rc = tell_assemble(&dossier, job, w.arena, err);
    for (size_t i = 0; i < sizeof documents / sizeof documents[0] && !rc; i++)
        rc = write_document(&w, &documents[i]);
    if (!rc) rc = write_plan(&w);
    if (!rc) rc = write_drawings(&w);
    tell_dossier_drop(&dossier);
    show_shaper_free(w.shaper);
    arena_free(w.arena);
    if (rc)
        json_decref(w.written);
    else
        *written = w.written;
    return rc;
}
