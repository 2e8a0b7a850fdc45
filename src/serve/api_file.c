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

int api_get_picture(struct api_call *c, struct error *err) {
    const char *name;
    struct show_drawing *d;
    int rc = api_need(c, "name", &name, err);
    if (rc) return rc;
    rc = tell_picture_named(&d, c->job, name, err);
    if (rc == ERR_MISSING) /* not an error: a page shows the sentence where the drawing will be */
        return api_done(c, json_pack("{s:s,s:s}", "missing", err->message, "remedy", err->remedy),
                        err);
    if (rc) return rc;
    struct show_out out = {0};
    rc = show_svg_write(&out, d, &(struct show_svg_options){.inside_page = true}, err);
    show_drawing_free(d);
    if (!rc && !(c->bytes = arena_copy(c->arena, out.bytes, out.n))) rc = fail_memory(err);
    c->size = out.n;
    c->type = "image/svg+xml; charset=utf-8";
    show_out_deinit(&out);
    return rc;
}
