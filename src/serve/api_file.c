/* Files and drawings. */
#include "serve/api_rows.h"

#include "show/svg.h"
#include "tell/assemble.h"

#include <string.h>

/* Photos are shown; whatever else a person stored is handed back as a file to save. */
int api_get_file(struct api_call *c, struct error *err) {
    const char *id;
    int rc = api_need(c, "id", &id, err);
    if (!rc) rc = record_file_get(&c->bytes, &c->size, job_record(c->job), id, c->arena, err);
    if (rc) return rc;
    const char *media = record_media(c->bytes, c->size);
    bool picture = strcmp(media, "image/jpeg") == 0 || strcmp(media, "image/png") == 0 ||
                   strcmp(media, "image/webp") == 0;
    c->type = picture ? media : "application/octet-stream";
    c->attachment = !picture;
    return 0;
}

static int as_svg(struct api_call *c, const struct show_drawing *d, struct error *err) {
    struct show_out out = {0};
    int rc = show_svg_write(&out, d, &(struct show_svg_options){.inside_page = true}, err);
    if (!rc && !(c->bytes = arena_copy(c->arena, out.bytes, out.n))) rc = fail_memory(err);
    c->size = out.n;
    c->type = "image/svg+xml; charset=utf-8";
    show_out_deinit(&out);
    return rc;
}

/* Drawings that are made with the whole dossier, by name: the plan back from the opening
 * ("season"), "stages", "shares", "layout", ... */
static int drawn(struct api_call *c, const char *name, struct error *err) {
    struct tell_dossier d = {0};
    int rc = strcmp(name, "season") == 0 ? tell_assemble_plan_of_season(&d, c->job, c->arena, err)
                                         : tell_assemble(&d, c->job, c->arena, err);
    const struct show_drawing *found = NULL;
    for (size_t i = 0; i < d.n_drawings && !rc; i++)
        if (d.drawings[i].name && strcmp(d.drawings[i].name, name) == 0)
            found = d.drawings[i].drawing;
    if (!rc && !found)
        rc = strcmp(name, "season")
                 ? fail(err, ERR_MISSING, "It appears when its step has been worked out.",
                        "There is no drawing of %.60s yet.", name)
                 : fail(err, ERR_MISSING, "Say from which day it is to be shown, and work it out.",
                        "There is no plan of the season yet.");
    if (!rc) rc = as_svg(c, found, err);
    tell_dossier_drop(&d);
    return rc;
}

static int named(struct api_call *c, const char *name, struct error *err) {
    struct show_drawing *d;
    int rc = tell_picture_named(&d, c->job, name, err);
    if (!rc) rc = as_svg(c, d, err);
    show_drawing_free(d);
    return rc;
}

int api_get_picture(struct api_call *c, struct error *err) {
    const char *name;
    int rc = api_need(c, "name", &name, err);
    if (rc) return rc;
    static const char *const of_dossier[] = {"season",
                                             "layout",
                                             "stages",
                                             "variants",
                                             "shares",
                                             "section-across",
                                             "section-along",
                                             "by-day-moisture",
                                             "by-day-edge_lift",
                                             "by-day-tie_pull",
                                             NULL};
    bool whole = false;
    for (size_t i = 0; of_dossier[i]; i++)
        whole |= strcmp(of_dossier[i], name) == 0;
    rc = whole ? drawn(c, name, err) : named(c, name, err);
    if (rc != ERR_MISSING) return rc;
    /* not an error: a page shows the sentence where the drawing will be */
    return api_done(c, json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy), err);
}

/* ---- papers --------------------------------------------------------------------------------- */

int api_get_checklist(struct api_call *c, struct error *err) {
    struct tell_dossier dossier = {0};
    struct tell_check *list;
    size_t n;
    int rc = tell_assemble(&dossier, c->job, c->arena, err);
    if (!rc) rc = tell_checklist(&list, &n, &dossier, c->arena, err);
    if (!rc) {
        const char *draft = tell_draft_reason(list, n, c->arena);
        rc = api_done(c,
                      json_pack("{s:o,s:s}", "points", tell_check_encode(list, n), "draft",
                                draft ? draft : ""),
                      err);
    }
    tell_dossier_drop(&dossier);
    return rc;
}

int api_get_label(struct api_call *c, struct error *err) {
    struct tell_dossier d;
    size_t words = 0, longest = 0;
    int rc = tell_assemble_bare(&d, c->job, c->arena, err);
    if (rc) return rc;
    const char *text = tell_label_text(&d, &words, &longest, c->arena);
    return api_done(c,
                    json_pack("{s:s,s:i,s:i}", "text", text ? text : "", "words", (int)words,
                              "longest", (int)longest),
                    err);
}

int api_get_papers(struct api_call *c, struct error *err) {
    json_t *written = c->server ? server_written(c->server) : NULL;
    json_t *out = written ? written : json_object();
    json_object_set_new(out, "written", json_boolean(written != NULL));
    json_object_set_new(out, "now", json_integer(record_revision(job_record(c->job))));
    return api_done(c, out, err);
}

int api_post_write(struct api_call *c, struct error *err) {
    int rc = c->server ? server_write(c->server, err)
                       : fail(err, ERR_REFUSED, NULL, "Nothing can be written here.");
    return rc ? rc : api_done(c, json_object(), err);
}

static const struct {
    const char *end, *type;
} paper_types[] = {{".html", "text/html; charset=utf-8"},
                   {".svg", "image/svg+xml"},
                   {".png", "image/png"},
                   {".pdf", "application/pdf"},
                   {".txt", "text/plain; charset=utf-8"},
                   {".csv", "text/csv; charset=utf-8"},
                   {".json", "application/json"},
                   {".ics", "text/calendar; charset=utf-8"}};

static const char *type_of_name(const char *name) {
    const char *dot = strrchr(name, '.');
    for (size_t i = 0; dot && i < sizeof paper_types / sizeof paper_types[0]; i++)
        if (strcmp(dot, paper_types[i].end) == 0) return paper_types[i].type;
    return "application/octet-stream";
}

/* A name to save under: what stands after the last slash, plain signs only. */
static const char *plain_name(const char *name, struct arena *arena) {
    const char *slash = strrchr(name, '/');
    char *copy = arena_strdup(arena, slash ? slash + 1 : name);
    for (char *p = copy; p && *p; p++)
        if (!strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.", *p))
            *p = '_';
    return copy;
}

int api_get_paper(struct api_call *c, struct error *err) {
    const char *name, *as = api_word(c, "as");
    int rc = api_need(c, "name", &name, err);
    if (!rc && !c->server) rc = fail(err, ERR_MISSING, NULL, "Nothing was written here.");
    if (!rc) rc = server_paper(&c->bytes, &c->size, c->server, name, c->arena, err);
    if (rc) return rc;
    c->type = type_of_name(name);
    /* only what our own writers made is shown; copies of what people brought in are saved */
    bool shown = as && strcmp(as, "show") == 0 && strncmp(name, "files/", 6) != 0;
    c->attachment = !shown;
    c->page = shown;
    c->name = plain_name(name, c->arena);
    return 0;
}

/* The page to take to the wood, as the report has it: one file that needs nobody. */
int api_get_wood(struct api_call *c, struct error *err) {
    struct tell_dossier d;
    struct tell_doc *doc = NULL;
    struct show_out out = {0};
    int rc = tell_assemble_bare(&d, c->job, c->arena, err);
    if (!rc) rc = tell_wood(&doc, &d, err);
    if (!rc) rc = tell_doc_html(&out, doc, err);
    if (rc == ERR_MISSING) {
        tell_doc_free(doc);
        return api_done(c, json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy),
                        err);
    }
    if (!rc && !(c->bytes = arena_copy(c->arena, out.bytes, out.n))) rc = fail_memory(err);
    c->size = out.n;
    c->type = "text/html; charset=utf-8";
    c->page = true;
    c->attachment = api_word(c, "save") != NULL;
    c->name = "wood.html";
    show_out_deinit(&out);
    tell_doc_free(doc);
    return rc;
}
