/* doc_html: plays a document as one self-contained HTML page in the look of LOOK.md. */
#include "show/svg.h"
#include "tell/doc.h"

#include <stdio.h>
#include <string.h>

static const char *const style =
    ":root{color-scheme:light dark}"
    "*{box-sizing:border-box}"
    "html{background:var(--paper);color:var(--ink);font:17px/26px 'Gentium Plus',Gentium,serif;"
    "font-variant-numeric:lining-nums tabular-nums}"
    "body{margin:0 auto;max-width:60rem;padding:30px 18px 48px}"
    "h1,h2,.title,table,.number,.footing,figcaption,summary,.foot,nav,label,button,input,select,"
    ".care,.draft,.label{font-family:Andika,'DejaVu Sans',sans-serif}"
    ".title{font-size:28px;line-height:36px;font-weight:400;margin:0}"
    "h1{font-size:20px;line-height:28px;font-weight:400;margin:0 0 12px}"
    "h2{font-size:17px;line-height:26px;font-weight:400;margin:30px 0 6px}"
    "p,ul,.said,.care,.draft{max-width:75ch;margin:0 0 12px;overflow-wrap:break-word}"
    "section{position:relative;background:var(--leaf);padding:30px 30px 18px 36px;margin:0 0 30px}"
    ".stitch{position:absolute;left:-6px;top:12px;width:16px;height:34px}"
    ".said{padding-left:0}"
    ".number{font-size:17px;white-space:nowrap}"
    ".footing{font-size:14px;color:var(--bark);white-space:nowrap}"
    ".glyph{width:20px;height:20px;vertical-align:-4px;margin:0 4px 0 10px}"
    "details{display:inline}details[open]{display:block;margin:0 0 12px}"
    "summary{display:inline;font-size:14px;line-height:44px;color:var(--sloe);cursor:pointer;"
    "text-decoration:underline;list-style:none;padding:10px 8px 10px 8px}"
    "summary::-webkit-details-marker{display:none}"
    ".why{list-style:none;margin:0;padding:0;font-size:14px;line-height:20px;"
    "font-family:Andika,'DejaVu Sans',sans-serif;overflow-wrap:anywhere}"
    ".why li{border-left:2px solid var(--bast);padding:2px 0 2px 12px;margin-left:0}"
    ".why .d1{margin-left:18px}.why .d2{margin-left:36px}.why .d3{margin-left:54px}"
    "a{color:var(--sloe)}a:focus-visible,summary:focus-visible,button:focus-visible,"
    "input:focus-visible,select:focus-visible{outline:3px solid var(--ink);outline-offset:2px}"
    ":target{background:var(--birch)}"
    ".care,.draft{border-left:3px solid var(--ink);padding-left:12px}"
    ".draft{margin:18px 0}"
    ".answer{font-size:22px;line-height:32px}"
    ".scroll{overflow-x:auto;margin:0 0 18px}"
    "table{border-collapse:collapse;font-size:14px;line-height:20px;min-width:50%}"
    "caption{text-align:left;padding:0 0 6px;color:var(--bark)}"
    "th{text-align:left;font-weight:400;color:var(--bark);border-bottom:2px solid var(--ink);"
    "padding:3px 18px 3px 0;vertical-align:bottom}"
    "td{padding:3px 18px 3px 0;vertical-align:top;max-width:22rem;overflow-wrap:break-word}"
    "tbody tr:nth-child(even){background:var(--birch)}"
    "figure{margin:0 0 18px}figure svg{max-width:100%;height:auto}"
    "figcaption,.foot,.second{font-size:14px;line-height:20px;color:var(--bark)}"
    ".blank{display:flex;gap:6px;align-items:end;min-height:44px;max-width:75ch}"
    ".blank span:last-child{flex:1;border-bottom:2px solid var(--ink)}"
    "nav ul{list-style:none;padding:0;margin:0 0 30px;columns:2}nav li{padding:3px 0}"
    "@media "
    "(max-width:600px){td.words{min-width:13rem}td:not(.words){white-space:nowrap}.number{white-"
    "space:normal}section{padding:24px "
    "12px 12px 18px}nav "
    "ul{columns:1}}"
    "@media print{html{background:#fff;color:#000;font-size:10.5pt;line-height:15pt}"
    "body{max-width:none;padding:0}section{background:#fff;padding:0;margin:0 0 9mm}.stitch,nav{"
    "display:none}details{display:block}details>*:not(summary){display:block}summary{display:none}"
    "h1,h2{break-after:avoid}.said,tr,figure,.care{break-inside:avoid}"
    "@page{margin:15mm 15mm 15mm 25mm}}";

/* LOOK.md, Type: large print; the wood page: text 20/30, the number 40/48. */
static const char *const style_large =
    "html{font-family:Andika,sans-serif;font-size:24px;line-height:36px}.number,.answer{font-size:"
    "30px;line-height:44px}"
    ".footing,table,figcaption,summary,.why,.foot,.second,h2{font-size:22px;line-height:32px}"
    "h1{font-size:30px;line-height:42px}.title{font-size:38px;line-height:50px}";
static const char *const style_sun =
    "html{font-family:Andika,sans-serif;font-size:20px;line-height:30px}.answer{font-size:40px;"
    "line-height:48px}"
    "h1{font-size:24px;line-height:32px}table,figcaption,summary,.foot,.second{font-size:17px;"
    "line-height:26px}"
    "button{min-height:44px;font-size:20px;padding:6px "
    "24px;background:var(--ink);color:var(--leaf);"
    "border:2px solid var(--ink);clip-path:polygon(0 0,100% 0,calc(100% - 9px) 100%,9px 100%)}"
    "input,select{font-size:30px;min-height:48px;border:0;border-bottom:2px solid var(--ink);"
    "background:transparent;color:var(--ink);width:8em}select{font-size:20px;width:auto}"
    "label{display:block;margin:18px 0 6px}";

static void colours(struct show_out *out, enum show_theme theme) {
    for (int c = SHOW_PAPER; c < SHOW_COLOURS; c++) {
        char text[16];
        show_out_format(out, "--%s:", show_colour_name((enum show_colour)c, text));
        show_out_colour(out, (enum show_colour)c, theme);
        show_out_text(out, ";");
    }
}

static void font_face(struct show_out *out, const char *family, const char *text) {
    struct show_out font = {0};
    struct error ignored = {0};
    /* A machine without the font writes a page without it: the style names what may stand in. */
    if (show_font_subset(&font, family, text, &ignored) == 0) {
        show_out_format(out, "@font-face{font-family:'%s';src:url(data:font/ttf;base64,", family);
        show_out_base64(out, font.bytes, font.n);
        show_out_text(out, ") format('truetype')}");
    }
    show_out_deinit(&font);
}

static void head(struct show_out *out, const struct tell_doc_options *o, const char *body) {
    show_out_text(out, "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
                       "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">"
                       /* no sign to fetch: the page asks nobody for anything */
                       "<link rel=\"icon\" href=\"data:,\">"
                       "<meta name=\"generator\" content=\"relict " RELICT_VERSION "\"><title>");
    if (o->object) {
        show_out_xml(out, o->object);
        show_out_text(out, ": ");
    }
    show_out_xml(out, o->title);
    show_out_text(out, "</title><style>");
    font_face(out, "Andika", body);
    if (!o->large && o->theme != SHOW_SUN) font_face(out, "Gentium Plus", body);
    show_out_text(out, ":root{");
    colours(out, o->theme == SHOW_SUN ? SHOW_SUN : SHOW_DAY);
    show_out_text(out, "}");
    if (o->theme != SHOW_SUN) {
        show_out_text(out, "@media (prefers-color-scheme:dark){:root{");
        colours(out, SHOW_LAMP);
        show_out_text(out, "}}");
    }
    show_out_text(out, "@media print{:root{");
    colours(out, SHOW_PRINT);
    show_out_text(out, "}}");
    show_out_text(out, style);
    if (o->large) show_out_text(out, style_large);
    if (o->theme == SHOW_SUN) show_out_text(out, style_sun);
    show_out_text(out, "</style></head>\n");
}

/* ---- glyphs of the footings, once at the top of the page ---- */

static void glyphs(struct show_out *out) {
    struct error ignored = {0};
    show_out_text(out, "<svg width=\"0\" height=\"0\" aria-hidden=\"true\" "
                       "style=\"position:absolute\"><defs>");
    for (long f = 0; f < FOOTING_COUNT; f++) {
        struct show_drawing *d = show_drawing_new(6, 6);
        look_footing_glyph(d, 3, 3, 6, f);
        show_out_format(out, "<symbol id=\"glyph-%ld\" viewBox=\"0 0 22.677 22.677\">", f);
        show_svg_write(out, d, &(struct show_svg_options){.inside_page = true}, &ignored);
        show_out_text(out, "</symbol>");
        show_drawing_free(d);
    }
    show_out_text(out, "</defs></svg>\n");
}

static void glyph(struct show_out *out, long footing) {
    if (footing < 0 || footing >= FOOTING_COUNT) return;
    show_out_format(
        out, "<svg class=\"glyph\" aria-hidden=\"true\"><use href=\"#glyph-%ld\"/></svg>", footing);
}

/* ---- blocks ---- */

static void anchor(struct show_out *out, const char *id) {
    if (!id) return;
    show_out_text(out, " id=\"");
    show_out_xml(out, id);
    show_out_text(out, "\"");
}

static void element(struct show_out *out, const char *tag, const char *class, const char *text) {
    show_out_format(out, "<%s%s%s%s dir=\"auto\">", tag, class ? " class=\"" : "",
                    class ? class : "", class ? "\"" : "");
    show_out_xml(out, text);
    show_out_format(out, "</%s>\n", tag);
}

static void why(struct show_out *out, const struct tell_said *s) {
    if (!s->n_why) return;
    show_out_text(out, "<details><summary>why?</summary><ul class=\"why\">");
    for (size_t i = 0; i < s->n_why; i++) {
        const struct tell_why *w = &s->why[i];
        show_out_format(out, "<li class=\"d%d\" dir=\"auto\">", w->depth > 3 ? 3 : w->depth);
        glyph(out, w->footing);
        if (w->link) {
            show_out_text(out, "<a href=\"#");
            show_out_xml(out, w->link);
            show_out_text(out, "\">");
        }
        show_out_xml(out, w->text);
        show_out_text(out, w->link ? "</a></li>" : "</li>");
    }
    show_out_text(out, "</ul></details>");
}

static void statement(struct show_out *out, const struct tell_said *s) {
    show_out_text(out, "<div class=\"said\"");
    anchor(out, s->id);
    show_out_text(out, "><span dir=\"auto\">");
    show_out_xml(out, s->sentence);
    show_out_text(out, "</span> ");
    if (s->number) {
        show_out_text(out, "<span class=\"number\">");
        show_out_xml(out, s->number);
        if (s->state) {
            show_out_text(out, ", ");
            show_out_xml(out, s->state);
        }
        show_out_text(out, "</span>");
    }
    if (s->footing >= 0 && s->footing < FOOTING_COUNT) {
        show_out_text(out, " <span class=\"footing\">"); /* glyph and word on one line */
        glyph(out, s->footing);
        show_out_format(out, "%s</span>", footing_words[s->footing]);
    } else {
        show_out_text(out, " <span class=\"footing\">no footing yet</span>");
    }
    why(out, s);
    static const char *const words[] = {"Take care: ", "In doubt: ", "Else it could be: "};
    const char *texts[] = {s->caution, s->doubt, s->rival};
    for (int i = 0; i < 3; i++) {
        if (!texts[i]) continue;
        show_out_format(out, "<div class=\"%s second\" dir=\"auto\">%s", i < 2 ? "care" : "rival",
                        words[i]);
        show_out_xml(out, texts[i]);
        show_out_text(out, "</div>");
    }
    show_out_text(out, "</div>\n");
}

static void table(struct show_out *out, const struct tell_table *t) {
    show_out_text(out, "<div class=\"scroll\" tabindex=\"0\"><table>");
    if (t->title) element(out, "caption", NULL, t->title);
    show_out_text(out, "<thead><tr>");
    for (size_t c = 0; c < t->n_columns; c++) {
        show_out_text(out, "<th scope=\"col\">");
        show_out_xml(out, t->columns[c]);
        show_out_text(out, "</th>");
    }
    show_out_text(out, "</tr></thead><tbody>\n");
    for (size_t r = 0; r < t->n_rows; r++) {
        show_out_text(out, "<tr");
        if (t->anchors) anchor(out, t->anchors[r]);
        show_out_text(out, ">");
        for (size_t c = 0; c < t->n_columns; c++) {
            const char *link = c == 0 && t->links ? t->links[r] : NULL;
            /* on a narrow screen a sentence keeps room to be read; the table scrolls by itself */
            const char *text = t->cells[r * t->n_columns + c];
            bool words = text && strlen(text) > 36;
            show_out_text(out, words ? "<td dir=\"auto\" class=\"words\">" : "<td dir=\"auto\">");
            if (link) {
                show_out_text(out, "<a href=\"#");
                show_out_xml(out, link);
                show_out_text(out, "\">");
            }
            show_out_xml(out, t->cells[r * t->n_columns + c]);
            show_out_text(out, link ? "</a></td>" : "</td>");
        }
        show_out_text(out, "</tr>\n");
    }
    show_out_text(out, "</tbody></table></div>\n");
}

/* Whether a heading, a row or a statement of the document bears this anchor. */
static bool has_anchor(const void *page, const char *anchor) {
    size_t n;
    const struct tell_block *b = tell_doc_blocks(page, &n);
    for (size_t i = 0; i < n; i++) {
        if (b[i].anchor && !strcmp(b[i].anchor, anchor)) return true;
        if (b[i].kind == TELL_STATEMENT && b[i].said.id && !strcmp(b[i].said.id, anchor))
            return true;
        for (size_t r = 0; b[i].kind == TELL_TABLE && b[i].table.anchors && r < b[i].table.n_rows;
             r++)
            if (b[i].table.anchors[r] && !strcmp(b[i].table.anchors[r], anchor)) return true;
    }
    return false;
}

static int picture(struct show_out *out, const struct tell_doc *doc, const struct show_drawing *d,
                   size_t number, struct error *err) {
    char prefix[32];
    snprintf(prefix, sizeof prefix, "f%zu-", number);
    show_out_text(out, "<figure>");
    int code = show_svg_write(out, d,
                              &(struct show_svg_options){.inside_page = true,
                                                         .prefix = prefix,
                                                         .scale = 1.3,
                                                         .has_anchor = has_anchor,
                                                         .page = doc},
                              err);
    show_out_text(out, "<figcaption dir=\"auto\">");
    show_out_xml(out, show_drawing_title(d));
    if (show_drawing_title(d) && show_drawing_alt(d)) show_out_text(out, ". ");
    show_out_xml(out, show_drawing_alt(d));
    show_out_text(out, "</figcaption></figure>\n");
    return code;
}

static void section(struct show_out *out, const struct tell_block *b, bool *open) {
    if (*open) show_out_text(out, "</section>\n");
    *open = true;
    show_out_text(out, "<section");
    anchor(out, b->anchor);
    show_out_text(out, "><svg class=\"stitch\" viewBox=\"0 0 16 34\" aria-hidden=\"true\">"
                       "<path d=\"M6 7l4-7M6 19l4-7M6 31l4-7\" stroke=\"var(--bark)\" "
                       "stroke-width=\"2\"/></svg>");
    element(out, "h1", NULL, b->text);
}

static void contents(struct show_out *out, const struct tell_block *blocks, size_t n) {
    show_out_text(out, "<nav aria-label=\"Contents\"><ul>");
    for (size_t i = 0; i < n; i++) {
        if (blocks[i].kind != TELL_H1 || !blocks[i].anchor) continue;
        show_out_text(out, "<li><a href=\"#");
        show_out_xml(out, blocks[i].anchor);
        show_out_text(out, "\">");
        show_out_xml(out, blocks[i].text);
        show_out_text(out, "</a></li>");
    }
    show_out_text(out, "</ul></nav>\n");
}

static int play(struct show_out *out, const struct tell_doc *doc, const struct tell_block *b,
                size_t number, bool *open, bool *list, struct error *err) {
    if (*list && b->kind != TELL_ITEM) {
        show_out_text(out, "</ul>\n");
        *list = false;
    }
    switch (b->kind) {
    case TELL_H1:
        section(out, b, open);
        break;
    case TELL_H2:
        show_out_text(out, "<h2");
        anchor(out, b->anchor);
        show_out_text(out, " dir=\"auto\">");
        show_out_xml(out, b->text);
        show_out_text(out, "</h2>\n");
        break;
    case TELL_P:
        element(out, "p", NULL, b->text);
        break;
    case TELL_ANSWER:
        element(out, "p", "answer", b->text);
        break;
    case TELL_ITEM:
        if (!*list) show_out_text(out, "<ul>");
        *list = true;
        element(out, "li", NULL, b->text);
        break;
    case TELL_CARE:
        show_out_text(out, "<p class=\"care\" dir=\"auto\">Take care: ");
        show_out_xml(out, b->text);
        show_out_text(out, "</p>\n");
        break;
    case TELL_STATEMENT:
        statement(out, &b->said);
        break;
    case TELL_TABLE:
        table(out, &b->table);
        break;
    case TELL_PICTURE:
        return picture(out, doc, b->drawing, number, err);
    case TELL_BLANK:
        show_out_text(out, "<div class=\"blank\"><span>");
        show_out_xml(out, b->text);
        show_out_text(out, "</span><span></span></div>\n");
        break;
    case TELL_HTML:
        show_out_text(out, b->text);
        break;
    case TELL_NEW_PAGE:
        break;
    }
    return 0;
}

static void title(struct show_out *out, const struct tell_doc_options *o) {
    show_out_text(out, "<header>");
    if (o->object) element(out, "p", "second", o->object);
    element(out, "p", "title", o->title);
    if (o->subtitle) element(out, "p", NULL, o->subtitle);
    if (o->draft) {
        show_out_text(out, "<p class=\"draft\" dir=\"auto\">Draft: ");
        show_out_xml(out, o->draft);
        show_out_text(out, "</p>");
    }
    show_out_text(out, "</header>\n");
}

static void foot(struct show_out *out, const struct tell_doc_options *o) {
    show_out_text(out, "<footer class=\"foot\">");
    show_out_xml(out, o->file);
    if (o->date) show_out_format(out, "%s%.10s", o->file ? ", " : "", o->date);
    if (o->hash) show_out_format(out, ", %.8s", o->hash);
    if (o->draft) show_out_text(out, ". Draft.");
    show_out_text(out, "</footer>\n");
}

static int body(struct show_out *out, struct tell_doc *doc, struct error *err) {
    const struct tell_doc_options *o = tell_doc_options(doc);
    size_t n;
    const struct tell_block *blocks = tell_doc_blocks(doc, &n);
    show_out_text(out, "<body>\n");
    glyphs(out);
    title(out, o);
    if (o->contents) contents(out, blocks, n);
    show_out_text(out, "<main>\n");
    bool open = false, list = false;
    int code = 0;
    for (size_t i = 0; i < n && !code; i++)
        code = play(out, doc, &blocks[i], i, &open, &list, err);
    if (list) show_out_text(out, "</ul>\n");
    if (open) show_out_text(out, "</section>\n");
    show_out_text(out, "</main>\n");
    foot(out, o);
    if (o->script) {
        show_out_text(out, "<script>\n");
        show_out_text(out, o->script);
        show_out_text(out, "</script>\n");
    }
    show_out_text(out, "</body></html>\n");
    return code;
}

int tell_doc_html(struct show_out *out, struct tell_doc *doc, struct error *err) {
    int code = tell_doc_status(doc, err);
    if (code) return code;
    struct show_out inner = {0};
    code = body(&inner, doc, err);
    if (!code) code = show_out_status(&inner, err);
    if (!code) {
        head(out, tell_doc_options(doc), inner.bytes);
        show_out_bytes(out, inner.bytes, inner.n);
        code = show_out_status(out, err);
    }
    show_out_deinit(&inner);
    return code;
}
