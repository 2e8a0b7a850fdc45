#include "show/shaper.h"

#include "base/mem.h"

#include <string.h>

struct show_shaper *show_shaper_new(void) {
    struct show_shaper *s = MEM_NEW(struct show_shaper, 1);
    if (!s) return NULL;
    s->map = pango_cairo_font_map_new();
    s->context = pango_font_map_create_context(s->map);
    /* Without these, letters are set to whole millimetres: one unit of the layout is one mm. */
    pango_context_set_round_glyph_positions(s->context, FALSE);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(s->context, options);
    cairo_font_options_destroy(options);
    s->layout = pango_layout_new(s->context);
    pango_layout_set_auto_dir(s->layout, TRUE);
    s->fonts[SHOW_ANDIKA] = pango_font_description_from_string("Andika, DejaVu Sans");
    s->fonts[SHOW_GENTIUM] = pango_font_description_from_string("Gentium Plus, DejaVu Sans");
    return s;
}

void show_shaper_free(struct show_shaper *s) {
    if (!s) return;
    for (int i = 0; i < 2; i++)
        pango_font_description_free(s->fonts[i]);
    g_object_unref(s->layout);
    g_object_unref(s->context);
    g_object_unref(s->map);
    mem_free(s);
}

static void set_type(struct show_shaper *s, struct show_type type) {
    PangoFontDescription *font = s->fonts[type.family];
    pango_font_description_set_absolute_size(font, type.size * PANGO_SCALE);
    pango_layout_set_font_description(s->layout, font);
}

PangoLayoutLine *show_shaper_line(struct show_shaper *s, struct show_type type, const char *text) {
    set_type(s, type);
    pango_layout_set_width(s->layout, -1);
    pango_layout_set_text(s->layout, text, -1);
    return pango_layout_get_line_readonly(s->layout, 0);
}

double show_text_width(struct show_shaper *s, struct show_type type, const char *text) {
    PangoRectangle box;
    pango_layout_line_get_extents(show_shaper_line(s, type, text), NULL, &box);
    return (double)box.width / PANGO_SCALE;
}

size_t show_text_break(char ***out, struct show_shaper *s, struct show_type type, const char *text,
                       double width, struct arena *arena) {
    *out = NULL;
    set_type(s, type);
    pango_layout_set_width(s->layout, (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(s->layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_text(s->layout, text, -1);
    size_t n = (size_t)pango_layout_get_line_count(s->layout);
    char **lines = ARENA_NEW(arena, char *, n ? n : 1);
    if (!lines) return 0;
    for (size_t i = 0; i < n; i++) {
        PangoLayoutLine *line = pango_layout_get_line_readonly(s->layout, (int)i);
        size_t length = (size_t)line->length;
        while (length && text[(size_t)line->start_index + length - 1] == ' ')
            length--;
        lines[i] = arena_copy(arena, text + line->start_index, length);
        if (!lines[i]) return 0;
    }
    *out = lines;
    return n;
}

static int unknown(struct show_shaper *s, struct show_type type, const char *text) {
    show_shaper_line(s, type, text);
    return pango_layout_get_unknown_glyphs_count(s->layout);
}

/* Adds the signs of `text` that cannot be shown and are not in `found` yet. */
static void add_missing(struct show_out *found, struct show_shaper *s, struct show_type type,
                        const char *text) {
    if (!unknown(s, type, text)) return;
    unsigned c;
    for (size_t step; (step = show_utf8_next(text, &c)); text += step) {
        char sign[5] = {0};
        memcpy(sign, text, step);
        if (c == 0xFFFD || (found->bytes && strstr(found->bytes, sign))) continue;
        if (unknown(s, type, sign)) show_out_text(found, sign);
    }
}

static char *finish(struct show_out *found, struct arena *arena) {
    char *text = found->failed ? NULL : arena_strdup(arena, found->bytes ? found->bytes : "");
    show_out_deinit(found);
    return text;
}

char *show_text_missing(struct show_shaper *s, struct show_type type, const char *text,
                        struct arena *arena) {
    struct show_out found = {0};
    add_missing(&found, s, type, text);
    return finish(&found, arena);
}

char *show_drawing_missing(struct show_shaper *s, const struct show_drawing *drawing,
                           struct arena *arena) {
    struct show_out found = {0};
    size_t n;
    const struct show_op *ops = show_drawing_ops(drawing, &n);
    for (size_t i = 0; i < n; i++)
        if (ops[i].kind == SHOW_OP_TEXT) add_missing(&found, s, ops[i].type, ops[i].text);
    return finish(&found, arena);
}
