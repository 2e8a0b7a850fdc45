#include "show/svg.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#ifndef M_PI
#define M_PI 3.14159265358979323846
#endif

/* What is being played. */
enum { DEEPEST = 64 };

struct player {
    struct show_out *out;
    const struct show_drawing *drawing;
    struct show_svg_options options;
    double top;           /* y of the upper edge: SVG counts y downwards */
    unsigned window;      /* number of the next clip path */
    size_t depth;         /* open groups and windows */
    bool linked[DEEPEST]; /* which of them stand in a link */
};

const char *show_colour_name(enum show_colour colour, char text[16]) {
    static const char *const names[] = {"none", "paper", "leaf",  "birch", "bast",
                                        "bark", "ink",   "alder", "sloe"};
    if (colour < SHOW_RAMP_0) return names[colour];
    snprintf(text, 16, "ramp-%d", ((int)colour - SHOW_RAMP_0) % 7);
    return text;
}

void show_out_colour(struct show_out *out, enum show_colour colour, enum show_theme theme) {
    struct show_rgb c = show_rgb(colour, theme);
    show_out_format(out, "#%02x%02x%02x", c.r, c.g, c.b);
}

/* Coordinates to the micrometre. */
static void real(struct player *p, double v) {
    show_out_real(p->out, v, 3);
}

static void at(struct player *p, double x, double y) {
    real(p, x);
    show_out_text(p->out, " ");
    real(p, p->top - y);
}

static void attribute(struct player *p, const char *name, double v) {
    show_out_format(p->out, " %s=\"", name);
    real(p, v);
    show_out_text(p->out, "\"");
}

static void identity(struct player *p, const char *id) {
    if (!id) return;
    show_out_text(p->out, " id=\"");
    show_out_xml(p->out, p->options.prefix);
    show_out_xml(p->out, id);
    show_out_text(p->out, "\"");
}

static void colour(struct player *p, const char *name, enum show_colour c) {
    char text[16];
    show_out_format(p->out, " %s=\"", name);
    if (c == SHOW_NONE) {
        show_out_text(p->out, "none");
    } else {
        if (p->options.inside_page)
            show_out_format(p->out, "var(--%s, ", show_colour_name(c, text));
        show_out_colour(p->out, c, p->options.theme);
        if (p->options.inside_page) show_out_text(p->out, ")");
    }
    show_out_text(p->out, "\"");
}

/* The sun theme widens every line by half (LOOK.md, Palette). */
static double width_of(const struct player *p, double mm) {
    return p->options.theme == SHOW_SUN ? 1.5 * mm : mm;
}

static void pen(struct player *p, const struct show_pen *pen) {
    colour(p, "fill", pen->fill);
    if (pen->fill != SHOW_NONE && pen->even_odd) show_out_text(p->out, " fill-rule=\"evenodd\"");
    if (pen->line == SHOW_NONE) return;
    colour(p, "stroke", pen->line);
    attribute(p, "stroke-width", width_of(p, pen->width));
}

static void steps(struct player *p, const struct show_step *s, size_t n, double top) {
    double old = p->top;
    p->top = top;
    for (size_t i = 0; i < n; i++) {
        char letter[2] = {s[i].kind, 0};
        show_out_text(p->out, letter);
        int points = s[i].kind == SHOW_CURVE ? 3 : s[i].kind == SHOW_CLOSE ? 0 : 1;
        for (int k = 0; k < points; k++) {
            if (k) show_out_text(p->out, " ");
            at(p, s[i].xy[2 * k], s[i].xy[2 * k + 1]);
        }
    }
    p->top = old;
}

static void path_data(struct player *p, const struct show_op *op) {
    show_out_text(p->out, " d=\"");
    steps(p, show_drawing_steps(p->drawing) + op->first, op->n, p->top);
    show_out_text(p->out, "\"");
}

static void open_one(struct player *p, bool linked) {
    if (p->depth < DEEPEST) p->linked[p->depth] = linked;
    p->depth++;
}

static void close_one(struct player *p) {
    if (p->depth) p->depth--;
    show_out_text(p->out, "</g>");
    if (p->depth < DEEPEST && p->linked[p->depth]) show_out_text(p->out, "</a>");
    show_out_text(p->out, "\n");
}

static void group(struct player *p, const struct show_group *g) {
    static const char *const layers[] = {NULL, "cut", "mark"};
    bool linked = g->link && p->options.has_anchor &&
                  p->options.has_anchor(p->options.page, g->link) && p->depth < DEEPEST;
    if (linked) {
        show_out_text(p->out, "<a tabindex=\"-1\" href=\"#");
        show_out_xml(p->out, g->link);
        show_out_text(p->out, "\">");
    }
    open_one(p, linked);
    show_out_text(p->out, "<g");
    identity(p, g->id);
    if (g->layer) show_out_format(p->out, " class=\"%s\"", layers[g->layer]);
    if (g->alt) show_out_text(p->out, " role=\"img\"");
    show_out_text(p->out, ">");
    if (g->title) {
        show_out_text(p->out, "<title>");
        show_out_xml(p->out, g->title);
        show_out_text(p->out, "</title>");
    }
    if (g->alt) {
        show_out_text(p->out, "<desc>");
        show_out_xml(p->out, g->alt);
        show_out_text(p->out, "</desc>");
    }
    show_out_text(p->out, "\n");
}

/* One tile per hatch, as two of one footing may turn differently. */
static void hatch_name(struct player *p, size_t index) {
    show_out_xml(p->out, p->options.prefix);
    show_out_format(p->out, "hatch-%zu", index);
}

static void hatch_tile(struct player *p, const struct show_op *op, size_t index) {
    struct show_cell cell;
    show_hatch_cell(&cell, op->hatch);
    show_out_text(p->out, "<pattern id=\"");
    hatch_name(p, index);
    show_out_text(p->out, "\" patternUnits=\"userSpaceOnUse\"");
    attribute(p, "width", cell.width);
    attribute(p, "height", cell.height);
    show_out_text(p->out, " patternTransform=\"translate(");
    at(p, op->x, op->y);
    show_out_text(p->out, ") rotate(");
    real(p, -op->turn * 180 / M_PI);
    show_out_text(p->out, ")\">");
    if (cell.tinted) {
        show_out_text(p->out, "<rect");
        attribute(p, "width", cell.width);
        attribute(p, "height", cell.height);
        colour(p, "fill", SHOW_BIRCH);
        show_out_text(p->out, "/>");
    }
    show_out_text(p->out, "<path d=\"");
    steps(p, cell.steps, cell.n, cell.height);
    show_out_text(p->out, "\"");
    struct show_pen ink = cell.line > 0 ? SHOW_LINE(SHOW_BARK, cell.line) : SHOW_FILL(SHOW_BARK);
    pen(p, &ink);
    show_out_text(p->out, "/></pattern>\n");
}

static void text(struct player *p, const struct show_op *op) {
    static const char *const anchors[] = {"start", "middle", "end"};
    static const char *const families[] = {"Andika", "Gentium Plus"};
    bool rtl = show_text_is_rtl(op->text);
    enum show_anchor anchor = op->type.anchor;
    if (rtl) anchor = (enum show_anchor)(SHOW_END - anchor);
    show_out_text(p->out, "<text");
    identity(p, op->id);
    attribute(p, "x", op->x);
    attribute(p, "y", p->top - op->y);
    show_out_format(p->out, " font-family=\"%s, DejaVu Sans, %s\"", families[op->type.family],
                    op->type.family == SHOW_ANDIKA ? "sans-serif" : "serif");
    attribute(p, "font-size", op->type.size);
    if (anchor != SHOW_START) show_out_format(p->out, " text-anchor=\"%s\"", anchors[anchor]);
    if (rtl) show_out_text(p->out, " direction=\"rtl\"");
    colour(p, "fill", op->type.colour);
    if (op->type.cleared) {
        colour(p, "stroke", SHOW_LEAF);
        attribute(p, "stroke-width", op->type.size * 0.45);
        show_out_text(p->out, " paint-order=\"stroke\" stroke-linejoin=\"round\"");
    }
    show_out_text(p->out, ">");
    show_out_xml(p->out, op->text);
    show_out_text(p->out, "</text>\n");
}

static void photo(struct player *p, const struct show_op *op) {
    show_out_text(p->out, "<image");
    identity(p, op->id);
    attribute(p, "x", op->x);
    attribute(p, "y", p->top - op->y - op->height);
    attribute(p, "width", op->width);
    attribute(p, "height", op->height);
    show_out_text(p->out, " preserveAspectRatio=\"none\" xlink:href=\"data:image/");
    show_out_text(p->out, show_is_png(op->text, op->n) ? "png;base64," : "jpeg;base64,");
    show_out_base64(p->out, op->text, op->n);
    show_out_text(p->out, "\"/>\n");
}

static void window(struct player *p, const struct show_op *op) {
    unsigned number = p->window++;
    open_one(p, false);
    show_out_text(p->out, "<clipPath id=\"");
    show_out_xml(p->out, p->options.prefix);
    show_out_format(p->out, "window-%u\"><path clip-rule=\"evenodd\"", number);
    path_data(p, op);
    show_out_text(p->out, "/></clipPath><g clip-path=\"url(#");
    show_out_xml(p->out, p->options.prefix);
    show_out_format(p->out, "window-%u)\">\n", number);
}

static void shape(struct player *p, const struct show_op *op, size_t index) {
    bool round = op->kind == SHOW_OP_CIRCLE;
    show_out_text(p->out, round ? "<circle" : "<path");
    identity(p, op->id);
    if (round) {
        attribute(p, "cx", op->x);
        attribute(p, "cy", p->top - op->y);
        attribute(p, "r", op->size);
    } else {
        path_data(p, op);
    }
    if (op->kind == SHOW_OP_HATCH) {
        show_out_text(p->out, " fill-rule=\"evenodd\" fill=\"url(#");
        hatch_name(p, index);
        show_out_text(p->out, ")\"");
    } else {
        pen(p, &op->pen);
    }
    show_out_text(p->out, "/>\n");
}

static void play(struct player *p, const struct show_op *op, size_t index) {
    switch (op->kind) {
    case SHOW_OP_GROUP:
        group(p, &op->group);
        break;
    case SHOW_OP_GROUP_END:
    case SHOW_OP_WINDOW_END:
        close_one(p);
        break;
    case SHOW_OP_PATH:
    case SHOW_OP_CIRCLE:
        shape(p, op, index);
        break;
    case SHOW_OP_HATCH:
        hatch_tile(p, op, index);
        shape(p, op, index);
        break;
    case SHOW_OP_WINDOW:
        window(p, op);
        break;
    case SHOW_OP_TEXT:
        text(p, op);
        break;
    case SHOW_OP_PHOTO:
        photo(p, op);
        break;
    }
}

static void heading(struct player *p) {
    double w = show_drawing_width(p->drawing), h = show_drawing_height(p->drawing);
    double scale = p->options.scale > 0 ? p->options.scale : 1;
    if (!p->options.inside_page)
        show_out_text(p->out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    show_out_text(p->out, "<svg xmlns=\"http://www.w3.org/2000/svg\" "
                          "xmlns:xlink=\"http://www.w3.org/1999/xlink\" version=\"1.1\" "
                          "role=\"img\" width=\"");
    real(p, w * scale);
    show_out_text(p->out, "mm\" height=\"");
    real(p, h * scale);
    show_out_text(p->out, "mm\" viewBox=\"0 0 ");
    real(p, w);
    show_out_text(p->out, " ");
    real(p, h);
    show_out_text(p->out, "\">\n");
    if (show_drawing_title(p->drawing)) {
        show_out_text(p->out, "<title>");
        show_out_xml(p->out, show_drawing_title(p->drawing));
        show_out_text(p->out, "</title>\n");
    }
    if (show_drawing_alt(p->drawing)) {
        show_out_text(p->out, "<desc>");
        show_out_xml(p->out, show_drawing_alt(p->drawing));
        show_out_text(p->out, "</desc>\n");
    }
}

int show_svg_write(struct show_out *out, const struct show_drawing *drawing,
                   const struct show_svg_options *options, struct error *err) {
    int code = show_drawing_status(drawing, err);
    if (code) return code;
    struct player p = {.out = out, .drawing = drawing, .top = show_drawing_height(drawing)};
    if (options) p.options = *options;
    heading(&p);
    size_t n;
    const struct show_op *ops = show_drawing_ops(drawing, &n);
    for (size_t i = 0; i < n; i++)
        play(&p, &ops[i], i);
    show_out_text(out, "</svg>\n");
    return show_out_status(out, err);
}
