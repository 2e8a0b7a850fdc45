/* doc_pdf: plays a document as a tagged PDF on A4 (LOOK.md, Paper): margins 15 mm, 25 mm at the
 * binding edge where the tally shows the step of the page; head and foot on every page. */
#include "base/mem.h"
#include "tell/doc.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

static const double sheet_width = 210, sheet_height = 297; /* ISO 216 A4 */
static const double left = 25, right = 195, top = 277, bottom = 20;
static const double measure = 132; /* about 75 characters of running text */

struct flow {
    struct tell_doc *doc;
    struct show_shaper *shaper;
    struct show_drawing **pages;
    int *steps; /* notch of the tally on each page */
    size_t n, room;
    struct show_drawing *d; /* the present page; NULL when memory is gone */
    double y;               /* where the next thing begins */
    int step;
    double factor;   /* of type sizes: large print */
    const char *why; /* reasons of the statement before; NULL: none */
    struct arena *arena;
};

static void new_page(struct flow *f) {
    if (f->n == f->room) {
        size_t room = f->room ? 2 * f->room : 16;
        struct show_drawing **pages = mem_resize(f->pages, room, sizeof *pages);
        if (pages) f->pages = pages;
        int *steps = pages ? mem_resize(f->steps, room, sizeof *steps) : NULL;
        if (!steps) {
            f->d = NULL;
            return;
        }
        f->steps = steps;
        f->room = room;
    }
    f->d = f->pages[f->n] = show_drawing_new(sheet_width, sheet_height);
    f->steps[f->n++] = f->step;
    f->y = top;
}

/* Sees to it that `height` mm are free on the page. */
static void need(struct flow *f, double height) {
    if (f->y - height < bottom && f->y < top) new_page(f);
}

static struct show_type sized(const struct flow *f, struct show_type type) {
    type.size *= f->factor;
    return type;
}

/* Sets a paragraph at x, `width` wide; lines `leading` mm apart; returns how many lines. With a
 * role the lines become one tagged element a page. */
static size_t paragraph(struct flow *f, double x, double width, struct show_type type,
                        double leading, enum show_role role, const char *outline,
                        const char *text) {
    char **lines;
    type = sized(f, type);
    leading *= f->factor;
    size_t n = show_text_break(&lines, f->shaper, type, text, width, f->arena);
    bool rtl = show_text_is_rtl(text), open = false;
    if (rtl) type.anchor = SHOW_END;
    for (size_t i = 0; i < n; i++) {
        if (f->y - leading < bottom && f->y < top) {
            if (open) show_group_end(f->d);
            open = false;
            new_page(f);
        }
        if (!open)
            show_group_begin(f->d,
                             &(struct show_group){.role = role, .outline = i ? NULL : outline});
        open = true;
        f->y -= leading;
        show_text(f->d, NULL, rtl ? x + width : x, f->y + leading * 0.28, type, lines[i]);
    }
    if (open) show_group_end(f->d);
    return n;
}

static const double running = SHOW_PT(15), second = SHOW_PT(11), name = SHOW_PT(18);

/* `after`: height of what must stay with the heading. */
static void heading(struct flow *f, const struct tell_block *b, double after) {
    if (b->kind == TELL_H1) {
        f->why = NULL; /* a new chapter says its reasons anew */
        f->step = b->step;
        if (f->y < top) f->y -= 8;
        need(f, 12 + fmax(after, 28 * f->factor));
        f->steps[f->n - 1] = f->step;
        paragraph(f, left, right - left, LOOK_NAME, name, SHOW_H1, b->text, b->text);
        f->y -= 2;
    } else {
        f->y -= 3;
        need(f, 9 + fmax(after, 15 * f->factor));
        struct show_type type = LOOK_NAME;
        type.size = SHOW_PT(10.5);
        paragraph(f, left, right - left, type, running, SHOW_H2, b->text, b->text);
    }
}

/* A bar on the left of what was set since `from` (on this page). */
static void bar(struct flow *f, size_t page, double from) {
    if (f->n == page)
        show_rectangle(f->d, NULL, left, f->y, 0.75, from - f->y, SHOW_FILL(SHOW_INK));
    else
        show_rectangle(f->d, NULL, left, f->y, 0.75, top - f->y, SHOW_FILL(SHOW_INK));
}

static void barred(struct flow *f, const char *words, const char *text) {
    char *whole = arena_printf(f->arena, "%s%s", words, text);
    if (!whole) return;
    need(f, 2 * running);
    size_t page = f->n;
    double from = f->y;
    paragraph(f, left + 4, measure - 4, LOOK_RUNNING, running, SHOW_P, NULL, whole);
    bar(f, page, from);
    f->y -= 2;
}

static void item(struct flow *f, const char *text) {
    need(f, running);
    show_segment(f->d, left + 1, f->y - running * f->factor * 0.55, left + 3,
                 f->y - running * f->factor * 0.55, SHOW_LINE(SHOW_INK, 0.5));
    paragraph(f, left + 5, measure - 5, LOOK_RUNNING, running, SHOW_P, NULL, text);
}

enum { MOST_WHY = 12 }; /* sentences of a chain on paper */

/* The first step of the chain, as one paragraph beside a line; the page form opens the second. */
static void why(struct flow *f, const struct tell_said *s) {
    struct show_out o = {0};
    size_t shown = 0, left_out = 0;
    for (size_t i = 0; i < s->n_why; i++) {
        const struct tell_why *w = &s->why[i];
        if (w->depth > 0 || shown == MOST_WHY || !w->text || !*w->text) {
            left_out += w->depth == 0;
            continue;
        }
        char last = w->text[strlen(w->text) - 1];
        /* "and to a guess: ..." goes on from the sentence before */
        if (o.n && !strncmp(w->text, "and ", 4) && o.bytes[o.n - 1] == '.') o.bytes[o.n - 1] = ';';
        show_out_format(&o, "%s%s%s", shown++ ? " " : "", w->text,
                        strchr(".;:!?", last) ? "" : ".");
    }
    if (left_out) show_out_format(&o, " And %zu more, in the page form.", left_out);
    const char *text = o.n ? arena_strdup(f->arena, o.bytes) : NULL;
    show_out_deinit(&o);
    if (!text) return;
    const char *told = f->why;
    f->why = text;
    if (told && !strcmp(told, text) && strlen(text) > 80)
        text = "For the same reasons as what stands before it.";
    need(f, second * f->factor);
    double x = left + 4, before = f->y;
    size_t page = f->n;
    paragraph(f, x, measure + left - x, LOOK_SECOND, second, SHOW_P, NULL, text);
    show_segment(f->d, x - 1.5, page == f->n ? before : top, x - 1.5, f->y,
                 SHOW_LINE(SHOW_BAST, 0.25));
}

static void statement(struct flow *f, const struct tell_said *s) {
    need(f, (2 * running + second) * f->factor);
    double from_y = f->y;
    size_t from_page = f->n;
    const char *state = s->number && s->state ? s->state : "";
    char *text = arena_printf(f->arena, "%s%s%s%s%s", s->sentence, s->number ? " " : "",
                              s->number ? s->number : "", *state ? ", " : "", state);
    if (!text) return;
    paragraph(f, left, measure, LOOK_RUNNING, running, SHOW_P, NULL, text);
    /* The footing stands at the right of the sentence's first line. */
    struct show_drawing *d = f->pages[from_page - 1];
    if (from_page != f->n) from_y = top;
    if (from_page != f->n) d = f->d;
    double at = from_y - running * f->factor * 0.62, x = left + measure + 5;
    bool known = s->footing >= 0 && s->footing < FOOTING_COUNT;
    if (known) look_footing_glyph(d, x, at, 4 * f->factor, s->footing);
    show_text(d, NULL, x + 4 * f->factor, at - 1, sized(f, LOOK_SECOND),
              known ? footing_words[s->footing] : "no footing yet");
    static const char *const words[] = {"Take care: ", "In doubt: ", "Else it could be: "};
    const char *texts[] = {s->caution, s->doubt, s->rival};
    for (int i = 0; i < 3; i++) {
        if (!texts[i]) continue;
        char *whole = arena_printf(f->arena, "%s%s", words[i], texts[i]);
        if (whole) paragraph(f, left + 4, measure - 4, LOOK_SECOND, second, SHOW_P, NULL, whole);
    }
    why(f, s);
    f->y -= 2.5;
}

/* ---- tables ---- */

enum { MOST_COLUMNS = 16 };

/* Width of the longest word of a text: a column should not be narrower. */
static double word_width(struct flow *f, struct show_type type, const char *text) {
    double most = 0;
    char word[64];
    while (*text) {
        size_t n = strcspn(text, " ");
        if (n && n < sizeof word) {
            memcpy(word, text, n);
            word[n] = 0;
            most = fmax(most, show_text_width(f->shaper, type, word));
        }
        text += n + (text[n] == ' ');
    }
    return most;
}

/* How high the table gets, in lines, when no column broke unevenly: every row is as high as its
 * fullest cell. `text` holds the natural width of each cell. */
static double lines_of(const double *text, size_t rows, size_t n, const double *widths,
                       double pad) {
    double sum = 0;
    for (size_t r = 0; r < rows; r++) {
        /* A smooth stand-in for the fullest cell: two cells alike full must both be seen to gain.
         */
        double most = 1;
        for (size_t c = 0; c < n; c++) {
            double lines = text[r * n + c] / fmax(1, widths[c] - pad);
            most += lines * lines * lines * lines;
        }
        sum += sqrt(sqrt(most));
    }
    return sum;
}

/* Natural widths where they fit; else each column its longest word, and what is left goes, in
 * steps, always to the column that shortens the table most. */
static void column_widths(struct flow *f, const struct tell_table *t, size_t n,
                          double widths[MOST_COLUMNS]) {
    static const double pad = 3.5, most_word = 34;
    enum { STEPS = 60, MOST_ROWS = 200 }; /* a long table is judged by its first rows */
    double room = right - left, sum = 0, sum_least = 0;
    struct show_type type = sized(f, LOOK_SECOND);
    size_t rows = t->n_rows + 1 > MOST_ROWS ? MOST_ROWS : t->n_rows + 1;
    double *text = ARENA_NEW(f->arena, double, rows *n), natural[MOST_COLUMNS] = {0};
    if (!text) return;
    for (size_t c = 0; c < n; c++) {
        widths[c] = 0;
        for (size_t r = 0; r <= t->n_rows; r++) {
            const char *cell = r ? t->cells[(r - 1) * t->n_columns + c] : t->columns[c];
            double w = cell && *cell ? show_text_width(f->shaper, type, cell) : 0;
            if (r < rows) text[r * n + c] = w;
            if (!(w > 0)) continue;
            natural[c] = fmax(natural[c], w + pad);
            widths[c] = fmax(widths[c], word_width(f, type, cell) + pad);
        }
        widths[c] = fmin(widths[c], most_word * f->factor);
        sum += natural[c];
        sum_least += widths[c];
    }
    if (sum <= room) {
        memcpy(widths, natural, n * sizeof *widths);
        return;
    }
    for (size_t c = 0; c < n && sum_least > room; c++)
        widths[c] *= room / sum_least;
    double step = fmax(0, room - sum_least) / STEPS;
    for (int k = 0; k < STEPS && step > 0; k++) {
        size_t best = SIZE_MAX;
        double least = INFINITY;
        for (size_t c = 0; c < n; c++) {
            if (widths[c] >= natural[c]) continue;
            widths[c] += step;
            double lines = lines_of(text, rows, n, widths, pad);
            widths[c] -= step;
            /* where two shorten it alike, the one that is furthest from what it would like */
            lines -= 1e-6 * natural[c] / widths[c];
            if (lines < least) least = lines, best = c;
        }
        if (best == SIZE_MAX) break;
        widths[best] += step;
    }
}

/* A row whose cells are broken into lines. */
struct set_row {
    const char *const *cells;
    char **lines[MOST_COLUMNS];
    size_t counts[MOST_COLUMNS];
    struct show_type type;
    double leading, height;
};

/* Breaks every cell and finds the height, at least `least`. */
static struct set_row set_row(struct flow *f, const char *const *cells, size_t n,
                              const double *widths, double least) {
    struct set_row s = {.cells = cells, .type = sized(f, LOOK_SECOND)};
    size_t most = 1;
    for (size_t c = 0; c < n; c++) {
        s.counts[c] = show_text_break(&s.lines[c], f->shaper, s.type, cells[c] ? cells[c] : "",
                                      widths[c] - 2, f->arena);
        if (s.counts[c] > most) most = s.counts[c];
    }
    s.leading = second * f->factor;
    s.height = fmax(s.leading * (double)most + 1.2, least);
    return s;
}

static void draw_row(struct flow *f, struct set_row *s, size_t n, const double *widths,
                     bool tinted) {
    if (tinted)
        show_rectangle(f->d, NULL, left, f->y - s->height, right - left, s->height,
                       SHOW_FILL(SHOW_BIRCH));
    double x = left;
    show_group_begin(f->d, &(struct show_group){.role = SHOW_P});
    for (size_t c = 0; c < n; c++) {
        for (size_t i = 0; i < s->counts[c]; i++) {
            bool rtl = show_text_is_rtl(s->cells[c]);
            s->type.anchor = rtl ? SHOW_END : SHOW_START;
            show_text(f->d, NULL, rtl ? x + widths[c] - 2 : x + 0.8,
                      f->y - 0.5 - s->leading * ((double)i + 0.78), s->type, s->lines[c][i]);
        }
        x += widths[c];
    }
    show_group_end(f->d);
    f->y -= s->height;
}

static void draw_heads(struct flow *f, struct set_row *heads, size_t n, const double *widths) {
    draw_row(f, heads, n, widths, false);
    show_segment(f->d, left, f->y, right, f->y, SHOW_LINE(SHOW_INK, 0.5));
}

/* The heads never stand without a row below them, and stand again on every page. */
static void table(struct flow *f, const struct tell_table *t) {
    size_t n = t->n_columns > MOST_COLUMNS ? MOST_COLUMNS : t->n_columns;
    if (!n) return;
    double widths[MOST_COLUMNS];
    column_widths(f, t, n, widths);
    double sum = 0;
    for (size_t c = 0; c < n; c++)
        sum += widths[c];
    for (size_t c = 0; c < n && t->to_write; c++) /* all the room there is, to write in */
        widths[c] *= (right - left) / sum;
    double least = t->to_write ? 7.5 : 0, room = top - bottom;
    struct set_row heads = set_row(f, t->columns, n, widths, 0);
    /* a title may say the state of all that stands below: it stands on every page */
    size_t length = t->title ? strlen(t->title) : 0;
    bool goes_on = length > 9 && !strcmp(t->title + length - 9, "continued");
    const char *again =
        !t->title || goes_on ? t->title : arena_printf(f->arena, "%s, continued", t->title);
    double above = heads.height + (t->title ? second * f->factor + 1 : 0);
    for (size_t r = 0; r < t->n_rows; r++) {
        struct set_row s = set_row(f, t->cells + r * t->n_columns, n, widths, least);
        s.type.colour = SHOW_INK;
        size_t page = f->n;
        need(f, r ? fmin(s.height, room - above) : fmin(above + s.height, room));
        if (!r || f->n != page) {
            const char *title = r ? again : t->title;
            if (title) paragraph(f, left, right - left, LOOK_SECOND, second, SHOW_P, NULL, title);
            draw_heads(f, &heads, n, widths);
        }
        draw_row(f, &s, n, widths, r % 2 == 1);
        double x = left;
        for (size_t c = 0; c + 1 < n && t->to_write; c++)
            x += widths[c], show_segment(f->d, x, f->y, x, f->y + 7.5, SHOW_LINE(SHOW_BARK, 0.1));
    }
    f->y -= 4;
}

/* ---- pictures ---- */

static void picture(struct flow *f, const struct show_drawing *d) {
    double h = show_drawing_height(d);
    const char *title = show_drawing_title(d), *alt = show_drawing_alt(d);
    char *text = arena_printf(f->arena, "%s%s%s", title ? title : "", title && alt ? ". " : "",
                              alt ? alt : "");
    char **lines;
    size_t n =
        text ? show_text_break(&lines, f->shaper, sized(f, LOOK_SECOND), text, measure, f->arena)
             : 0; /* picture and caption stay on one page */
    need(f, fmin(h + 3 + second * f->factor * (double)n, top - bottom));
    show_group_begin(f->d, &(struct show_group){.role = SHOW_FIGURE});
    show_drawing_place(f->d, d, left, f->y - h);
    show_group_end(f->d);
    f->y -= h + 2;
    if (text && *text) paragraph(f, left, measure, LOOK_SECOND, second, SHOW_P, NULL, text);
    f->y -= 4;
}

static void blank(struct flow *f, const char *label) {
    double height = 9 * f->factor;
    struct show_type type = sized(f, LOOK_SECOND);
    double w = label && *label ? show_text_width(f->shaper, type, label) + 2 : 0;
    bool above = w > 0.6 * (right - left); /* a long label stands over its line */
    need(f, above ? 2.2 * height : height);
    if (above) {
        f->y -= 3 * f->factor;
        paragraph(f, left, right - left, LOOK_SECOND, second, SHOW_P, NULL, label);
    }
    f->y -= above ? 0.8 * height : height;
    if (!above) show_text(f->d, NULL, left, f->y + 1, type, label ? label : "");
    show_segment(f->d, above ? left : left + w, f->y, right, f->y, SHOW_LINE(SHOW_INK, 0.35));
    f->y -= 2 * f->factor; /* so that what follows does not stand on the line */
}

static void title_page(struct flow *f) {
    const struct tell_doc_options *o = tell_doc_options(f->doc);
    new_page(f);
    if (o->object) paragraph(f, left, right - left, LOOK_SECOND, second, SHOW_P, NULL, o->object);
    paragraph(f, left, right - left, LOOK_TITLE, SHOW_PT(26), SHOW_H1, o->title, o->title);
    f->y -= 2;
    if (o->subtitle) paragraph(f, left, measure, LOOK_RUNNING, running, SHOW_P, NULL, o->subtitle);
    f->y -= 2;
    if (o->draft) barred(f, "Draft: ", o->draft);
    if (o->draft) f->y -= 3;
}

static void play(struct flow *f, const struct tell_block *b, const struct tell_block *next) {
    bool list_ends = b->kind == TELL_ITEM && next && next->kind != TELL_ITEM;
    switch (b->kind) {
    case TELL_H1:
    case TELL_H2:
        heading(f, b, next && next->drawing ? show_drawing_height(next->drawing) + 12 : 0);
        break;
    case TELL_P:
        paragraph(f, left, measure, LOOK_RUNNING, running, SHOW_P, NULL, b->text);
        f->y -= 2;
        break;
    case TELL_ANSWER:
        paragraph(f, left, measure, LOOK_ANSWER, SHOW_PT(20), SHOW_P, NULL, b->text);
        f->y -= 3;
        break;
    case TELL_ITEM:
        item(f, b->text);
        if (list_ends) f->y -= 2;
        break;
    case TELL_CARE:
        barred(f, "Take care: ", b->text);
        break;
    case TELL_STATEMENT:
        statement(f, &b->said);
        break;
    case TELL_TABLE:
        table(f, &b->table);
        break;
    case TELL_PICTURE:
        picture(f, b->drawing);
        break;
    case TELL_NEW_PAGE:
        if (f->y < top) new_page(f);
        break;
    case TELL_BLANK:
        blank(f, b->text);
        break;
    case TELL_HTML:
        break;
    }
}

/* The tally at the binding edge: nine notches, the one of this page cut through. */
static void edge_tally(struct show_drawing *d, int step) {
    if (step < 0 || step > 8) return;
    enum look_step states[9] = {LOOK_NOT_BEGUN};
    states[step] = LOOK_HOLDS;
    look_tally(d, 8, 215, 14, states, NULL, step, false);
}

static void head_and_foot(struct flow *f, size_t i) {
    const struct tell_doc_options *o = tell_doc_options(f->doc);
    struct show_drawing *d = f->pages[i];
    struct show_type type = LOOK_SECOND;
    char text[400];
    snprintf(text, sizeof text, "%.100s%s%.100s%s%.80s", o->object ? o->object : "",
             o->object ? ". " : "", o->title ? o->title : "", o->state ? ". " : "",
             o->state ? o->state : "");
    show_text(d, NULL, left, sheet_height - 11, type, text);
    if (o->draft) {
        type.anchor = SHOW_END;
        show_text(d, NULL, right, sheet_height - 11, type, "Draft");
        type.anchor = SHOW_START;
    }
    snprintf(text, sizeof text, "%.80s%s%.10s%s%.8s", o->file ? o->file : "", o->date ? ", " : "",
             o->date ? o->date : "", o->hash ? ", " : "", o->hash ? o->hash : "");
    show_text(d, NULL, left, 9, type, text);
    snprintf(text, sizeof text, "page %zu of %zu", i + 1, f->n);
    type.anchor = SHOW_END;
    show_text(d, NULL, right, 9, type, text);
    edge_tally(d, f->steps[i]);
}

static int missing(struct flow *f, struct error *err) {
    struct show_out all = {0};
    for (size_t i = 0; i < f->n; i++) {
        char *signs = show_drawing_missing(f->shaper, f->pages[i], f->arena);
        if (!signs) {
            show_out_deinit(&all);
            return fail_memory(err);
        }
        if (all.n < 100) show_out_text(&all, signs);
    }
    int code = 0;
    if (all.n)
        code = fail(err, ERR_MISSING,
                    "Install a font that has them (the Noto families cover most scripts), or "
                    "change the text.",
                    "No font on this machine can show: %.200s", all.bytes);
    show_out_deinit(&all);
    return code;
}

static int finish(struct show_out *out, struct flow *f, struct error *err) {
    const struct tell_doc_options *o = tell_doc_options(f->doc);
    for (size_t i = 0; i < f->n; i++)
        head_and_foot(f, i);
    int code = missing(f, err);
    struct show_pdf_options pdf = {.title = o->title,
                                   .author = o->author,
                                   .subject = o->object,
                                   .date = o->moment,
                                   .theme = SHOW_PRINT};
    if (!code)
        code = show_pdf_write(out, (const struct show_drawing *const *)f->pages, f->n, &pdf,
                              f->shaper, err);
    return code;
}

/* How much of a page the blocks from `first` on take, up to the next heading; INFINITY when they
 * need more than one. Set on pages that are thrown away. */
static double height_of(const struct flow *f, const struct tell_block *blocks, size_t n,
                        size_t first) {
    struct flow trial = *f;
    trial.pages = NULL;
    trial.steps = NULL;
    trial.n = trial.room = 0;
    new_page(&trial);
    for (size_t i = first; i < n && trial.d && trial.n == 1; i++) {
        bool heads = blocks[i].kind == TELL_H1 || blocks[i].kind == TELL_H2;
        if (i > first && (heads || blocks[i].kind == TELL_NEW_PAGE)) break;
        play(&trial, &blocks[i], i + 1 < n ? &blocks[i + 1] : NULL);
    }
    double height = trial.n == 1 ? top - trial.y : INFINITY;
    for (size_t i = 0; i < trial.n; i++)
        show_drawing_free(trial.pages[i]);
    mem_free(trial.pages);
    mem_free(trial.steps);
    return height;
}

int tell_doc_pdf(struct show_out *out, struct tell_doc *doc, struct show_shaper *shaper,
                 struct error *err) {
    int code = tell_doc_status(doc, err);
    if (code) return code;
    struct flow f = {.doc = doc, .shaper = shaper, .step = -1, .arena = arena_new()};
    if (!f.arena) return fail_memory(err);
    f.factor = tell_doc_options(doc)->large ? 18 / 10.5 : 1; /* LOOK.md, Type: 18/27 */
    title_page(&f);
    size_t n;
    const struct tell_block *blocks = tell_doc_blocks(doc, &n);
    bool whole = tell_doc_options(doc)->whole;
    for (size_t i = 0; i < n && f.d; i++) {
        double height = whole && blocks[i].kind == TELL_H2 ? height_of(&f, blocks, n, i) : 0;
        if (isfinite(height)) need(&f, height);
        play(&f, &blocks[i], i + 1 < n ? &blocks[i + 1] : NULL);
    }
    code = f.d ? finish(out, &f, err) : fail_memory(err);
    for (size_t i = 0; i < f.n; i++)
        show_drawing_free(f.pages[i]);
    mem_free(f.pages);
    mem_free(f.steps);
    arena_free(f.arena);
    return code;
}
