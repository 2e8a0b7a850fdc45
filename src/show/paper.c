#include "show/photo_code.h"
#include "show/shaper.h"

#include <cairo-pdf.h>
#include <cairo.h>
#include <math.h>
#include <string.h>

/* One drawing being played onto a cairo surface scaled to millimetres. */
struct player {
    cairo_t *cr;
    cairo_surface_t *pdf; /* NULL when playing to pixels */
    const struct show_drawing *drawing;
    struct show_shaper *shaper;
    enum show_theme theme;
    int page;             /* from 1 */
    int heading;          /* outline entry under which smaller ones go */
    const char *tags[64]; /* open tags, NULL for groups without */
    int depth;
};

static void source(struct player *p, enum show_colour colour) {
    struct show_rgb c = show_rgb(colour, p->theme);
    cairo_set_source_rgb(p->cr, c.r / 255.0, c.g / 255.0, c.b / 255.0);
}

static double width_of(const struct player *p, double mm) {
    return p->theme == SHOW_SUN ? 1.5 * mm : mm;
}

static void trace(cairo_t *cr, const struct show_step *s, size_t n) {
    for (size_t i = 0; i < n; i++) {
        const double *v = s[i].xy;
        if (s[i].kind == SHOW_MOVE)
            cairo_move_to(cr, v[0], v[1]);
        else if (s[i].kind == SHOW_LINE_TO)
            cairo_line_to(cr, v[0], v[1]);
        else if (s[i].kind == SHOW_CURVE)
            cairo_curve_to(cr, v[0], v[1], v[2], v[3], v[4], v[5]);
        else
            cairo_close_path(cr);
    }
}

static void trace_op(struct player *p, const struct show_op *op) {
    cairo_new_path(p->cr);
    if (op->kind == SHOW_OP_CIRCLE)
        cairo_arc(p->cr, op->x, op->y, op->size, 0, 2 * M_PI);
    else
        trace(p->cr, show_drawing_steps(p->drawing) + op->first, op->n);
}

static void shape(struct player *p, const struct show_op *op) {
    trace_op(p, op);
    cairo_set_fill_rule(p->cr,
                        op->pen.even_odd ? CAIRO_FILL_RULE_EVEN_ODD : CAIRO_FILL_RULE_WINDING);
    if (op->pen.fill != SHOW_NONE) {
        source(p, op->pen.fill);
        cairo_fill_preserve(p->cr);
    }
    if (op->pen.line != SHOW_NONE) {
        source(p, op->pen.line);
        cairo_set_line_width(p->cr, width_of(p, op->pen.width));
        cairo_stroke_preserve(p->cr);
    }
    cairo_new_path(p->cr);
}

static void window(struct player *p, const struct show_op *op) {
    cairo_save(p->cr);
    trace_op(p, op);
    cairo_set_fill_rule(p->cr, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_clip(p->cr);
}

/* Lays cells over the clip's box; the frame is the hatch's own. */
static void tile(struct player *p, const struct show_cell *cell) {
    double x1, y1, x2, y2;
    cairo_clip_extents(p->cr, &x1, &y1, &x2, &y2);
    double w = cell->width, h = cell->height;
    for (double y = floor(y1 / h) * h; y < y2; y += h)
        for (double x = floor(x1 / w) * w; x < x2; x += w) {
            cairo_save(p->cr);
            cairo_translate(p->cr, x, y);
            trace(p->cr, cell->steps, cell->n);
            cairo_restore(p->cr);
        }
    source(p, SHOW_BARK);
    cairo_set_line_width(p->cr, width_of(p, cell->line));
    if (cell->line > 0)
        cairo_stroke(p->cr);
    else
        cairo_fill(p->cr);
}

static void hatch(struct player *p, const struct show_op *op) {
    struct show_cell cell;
    show_hatch_cell(&cell, op->hatch);
    window(p, op);
    if (cell.tinted) {
        source(p, SHOW_BIRCH);
        cairo_paint(p->cr);
    }
    cairo_translate(p->cr, op->x, op->y);
    cairo_rotate(p->cr, op->turn);
    cairo_new_path(p->cr);
    tile(p, &cell);
    cairo_restore(p->cr);
}

static void text(struct player *p, const struct show_op *op) {
    static const double shift[] = {0, 0.5, 1};
    PangoLayoutLine *line = show_shaper_line(p->shaper, op->type, op->text);
    PangoRectangle box;
    pango_layout_line_get_extents(line, NULL, &box);
    cairo_save(p->cr);
    cairo_translate(p->cr, op->x - shift[op->type.anchor] * box.width / PANGO_SCALE, op->y);
    cairo_scale(p->cr, 1, -1);
    if (op->type.cleared) {
        cairo_move_to(p->cr, 0, 0);
        pango_cairo_layout_line_path(p->cr, line);
        source(p, SHOW_LEAF);
        cairo_set_line_join(p->cr, CAIRO_LINE_JOIN_ROUND);
        cairo_set_line_width(p->cr, op->type.size * 0.45);
        cairo_stroke(p->cr);
    }
    cairo_move_to(p->cr, 0, 0);
    source(p, op->type.colour);
    pango_cairo_show_layout_line(p->cr, line);
    cairo_restore(p->cr);
}

static void photo(struct player *p, const struct show_op *op) {
    bool png = show_is_png(op->text, op->n);
    /* a PDF keeps a JPEG's own bytes: only its size is wanted */
    cairo_surface_t *image = show_photo_read(op->text, op->n, 0, !p->pdf);
    if (!image) return;
    /* The bytes live as long as the drawing, which outlives the surface. */
    if (p->pdf && !png)
        cairo_surface_set_mime_data(image, CAIRO_MIME_TYPE_JPEG, (const unsigned char *)op->text,
                                    op->n, NULL, NULL);
    cairo_save(p->cr);
    cairo_translate(p->cr, op->x, op->y + op->height);
    cairo_scale(p->cr, op->width / cairo_image_surface_get_width(image),
                -op->height / cairo_image_surface_get_height(image));
    cairo_set_source_surface(p->cr, image, 0, 0);
    /* Not cairo_paint: as the first thing on a page, cairo 1.16 takes it for a new ground and drops
     * the tags that are open. */
    cairo_rectangle(p->cr, 0, 0, cairo_image_surface_get_width(image),
                    cairo_image_surface_get_height(image));
    cairo_fill(p->cr);
    cairo_restore(p->cr);
    cairo_surface_destroy(image);
}

static void group_begin(struct player *p, const struct show_group *g) {
    static const char *const tags[] = {NULL, "H1", "H2", "P", "Figure"};
    const char *tag = p->pdf ? tags[g->role] : NULL;
    if (p->depth < (int)(sizeof p->tags / sizeof p->tags[0])) p->tags[p->depth] = tag;
    p->depth++;
    if (tag) cairo_tag_begin(p->cr, tag, NULL);
    if (!p->pdf || !g->outline) return;
    char link[32];
    snprintf(link, sizeof link, "page=%d", p->page);
    int parent = g->role == SHOW_H2 ? p->heading : CAIRO_PDF_OUTLINE_ROOT;
    int entry = cairo_pdf_surface_add_outline(p->pdf, parent, g->outline, link, 0);
    if (g->role != SHOW_H2) p->heading = entry;
}

static void group_end(struct player *p) {
    p->depth--;
    if (p->depth < (int)(sizeof p->tags / sizeof p->tags[0]) && p->tags[p->depth])
        cairo_tag_end(p->cr, p->tags[p->depth]);
}

static void play(struct player *p, const struct show_op *op) {
    switch (op->kind) {
    case SHOW_OP_GROUP:
        group_begin(p, &op->group);
        break;
    case SHOW_OP_GROUP_END:
        group_end(p);
        break;
    case SHOW_OP_PATH:
    case SHOW_OP_CIRCLE:
        shape(p, op);
        break;
    case SHOW_OP_HATCH:
        hatch(p, op);
        break;
    case SHOW_OP_WINDOW:
        window(p, op);
        break;
    case SHOW_OP_WINDOW_END:
        cairo_restore(p->cr);
        break;
    case SHOW_OP_TEXT:
        text(p, op);
        break;
    case SHOW_OP_PHOTO:
        photo(p, op);
        break;
    }
}

/* `unit`: device units for one mm. */
static void play_all(struct player *p, double unit) {
    cairo_save(p->cr);
    cairo_scale(p->cr, unit, -unit);
    cairo_translate(p->cr, 0, -show_drawing_height(p->drawing));
    size_t n;
    const struct show_op *ops = show_drawing_ops(p->drawing, &n);
    for (size_t i = 0; i < n; i++)
        play(p, &ops[i]);
    cairo_restore(p->cr);
}

static cairo_status_t take(void *out, const unsigned char *bytes, unsigned n) {
    show_out_bytes(out, bytes, n);
    return ((struct show_out *)out)->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static int cairo_failed(cairo_status_t status, struct error *err) {
    if (status == CAIRO_STATUS_NO_MEMORY) return fail_memory(err);
    return fail(err, ERR_SOLVE, "Send the project's file to those who keep the program.",
                "The page could not be drawn: %s.", cairo_status_to_string(status));
}

static void metadata(cairo_surface_t *pdf, const struct show_pdf_options *o) {
    const char *date = o->date ? o->date : "2000-01-01T00:00:00Z";
    if (o->title) cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_TITLE, o->title);
    if (o->author) cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_AUTHOR, o->author);
    if (o->subject) cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_SUBJECT, o->subject);
    cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATOR, "relict " RELICT_VERSION);
    cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATE_DATE, date);
    cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_MOD_DATE, date);
}

static const double points_mm = 72.0 / 25.4; /* PDF units for one mm, ISO 32000-1, 8.3.2.3 */

int show_pdf_write(struct show_out *out, const struct show_drawing *const *pages, size_t n,
                   const struct show_pdf_options *options, struct show_shaper *shaper,
                   struct error *err) {
    for (size_t i = 0; i < n; i++) {
        int code = show_drawing_status(pages[i], err);
        if (code) return code;
    }
    if (!n) return fail(err, ERR_MISSING, NULL, "There is no page to write.");
    double w = show_drawing_width(pages[0]), h = show_drawing_height(pages[0]);
    cairo_surface_t *pdf =
        cairo_pdf_surface_create_for_stream(take, out, w * points_mm, h * points_mm);
    metadata(pdf, options);
    cairo_t *cr = cairo_create(pdf);
    pango_cairo_update_context(cr, shaper->context);
    pango_layout_context_changed(shaper->layout);
    cairo_tag_begin(cr, "Document", NULL);
    struct player p = {.cr = cr, .pdf = pdf, .shaper = shaper, .theme = options->theme};
    for (size_t i = 0; i < n; i++) {
        p.drawing = pages[i];
        p.page = (int)i + 1;
        /* Not on page 1: a change of size there would drop the tag that has just been opened. */
        if (i)
            cairo_pdf_surface_set_size(pdf, show_drawing_width(pages[i]) * points_mm,
                                       show_drawing_height(pages[i]) * points_mm);
        play_all(&p, points_mm);
        if (i + 1 == n) cairo_tag_end(cr, "Document");
        cairo_show_page(cr);
    }
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    cairo_surface_finish(pdf);
    if (!status) status = cairo_surface_status(pdf);
    cairo_surface_destroy(pdf);
    return status ? cairo_failed(status, err) : show_out_status(out, err);
}

int show_png_write(struct show_out *out, const struct show_drawing *drawing, double dpi,
                   enum show_theme theme, struct show_shaper *shaper, struct error *err) {
    int code = show_drawing_status(drawing, err);
    if (code) return code;
    double unit = dpi / 25.4;
    double w = ceil(show_drawing_width(drawing) * unit - 1e-9);
    double h = ceil(show_drawing_height(drawing) * unit - 1e-9);
    if (!(w >= 1 && h >= 1 && w * h <= 1e8))
        return fail(err, ERR_RANGE, "Ask for fewer points an inch, or write SVG or PDF.",
                    "A picture of %.0f x %.0f points is beyond 100 million.", w, h);
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)w, (int)h);
    cairo_t *cr = cairo_create(image);
    struct player p = {.cr = cr, .drawing = drawing, .shaper = shaper, .theme = theme};
    source(&p, SHOW_LEAF);
    cairo_paint(cr);
    play_all(&p, unit);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    if (!status) status = cairo_surface_write_to_png_stream(image, take, out);
    cairo_surface_destroy(image);
    return status ? cairo_failed(status, err) : show_out_status(out, err);
}
