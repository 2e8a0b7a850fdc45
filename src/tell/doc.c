#include "tell/doc.h"

#include "base/mem.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

struct tell_doc {
    struct tell_doc_options options;
    struct arena *arena;
    struct error error;
    struct tell_block *blocks;
    size_t n, room;
};

static const char *keep(struct tell_doc *doc, const char *text) {
    if (!text) return NULL;
    const char *copy = arena_strdup(doc->arena, text);
    if (!copy) fail_memory(&doc->error);
    return copy;
}

struct tell_doc *tell_doc_new(const struct tell_doc_options *o) {
    struct tell_doc *doc = MEM_NEW(struct tell_doc, 1);
    if (!doc) return NULL;
    doc->arena = arena_new();
    if (!doc->arena) {
        mem_free(doc);
        return NULL;
    }
    doc->options = *o;
    const char **texts[] = {&doc->options.title,  &doc->options.subtitle, &doc->options.object,
                            &doc->options.state,  &doc->options.file,     &doc->options.date,
                            &doc->options.hash,   &doc->options.author,   &doc->options.draft,
                            &doc->options.script, &doc->options.moment};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        *texts[i] = keep(doc, *texts[i]);
    return doc;
}

void tell_doc_free(struct tell_doc *doc) {
    if (!doc) return;
    for (size_t i = 0; i < doc->n; i++)
        show_drawing_free(doc->blocks[i].drawing);
    mem_free(doc->blocks);
    arena_free(doc->arena);
    mem_free(doc);
}

int tell_doc_status(const struct tell_doc *doc, struct error *err) {
    if (!doc) return fail_memory(err);
    if (doc->error.code != ERR_NONE && err) *err = doc->error;
    return (int)doc->error.code;
}

struct arena *tell_doc_arena(struct tell_doc *doc) {
    return doc ? doc->arena : NULL;
}
const struct tell_doc_options *tell_doc_options(const struct tell_doc *doc) {
    return &doc->options;
}

const struct tell_block *tell_doc_blocks(const struct tell_doc *doc, size_t *n) {
    *n = doc ? doc->n : 0;
    return doc ? doc->blocks : NULL;
}

static struct tell_block *add(struct tell_doc *doc, enum tell_block_kind kind, const char *text) {
    if (!doc || doc->error.code != ERR_NONE) return NULL;
    if (doc->n == doc->room) {
        size_t room = doc->room ? 2 * doc->room : 64;
        struct tell_block *blocks = mem_resize(doc->blocks, room, sizeof *blocks);
        if (!blocks) return fail_memory(&doc->error), NULL;
        doc->blocks = blocks;
        doc->room = room;
    }
    struct tell_block *b = &doc->blocks[doc->n++];
    *b = (struct tell_block){.kind = kind, .text = keep(doc, text), .step = -1};
    return b;
}

void tell_h1(struct tell_doc *doc, const char *anchor, const char *text, int step) {
    struct tell_block *b = add(doc, TELL_H1, text);
    if (!b) return;
    b->anchor = keep(doc, anchor);
    b->step = step;
}

void tell_h2(struct tell_doc *doc, const char *anchor, const char *text) {
    struct tell_block *b = add(doc, TELL_H2, text);
    if (b) b->anchor = keep(doc, anchor);
}

static void add_formatted(struct tell_doc *doc, enum tell_block_kind kind, const char *format,
                          va_list args) {
    if (!doc) return;
    va_list again;
    va_copy(again, args);
    int n = vsnprintf(NULL, 0, format, again);
    va_end(again);
    char *text = n < 0 ? NULL : arena_alloc(doc->arena, (size_t)n + 1, 1);
    if (!text) {
        fail_memory(&doc->error);
        return;
    }
    vsnprintf(text, (size_t)n + 1, format, args);
    if (*text) add(doc, kind, text);
}

#define FORMATTED(name, kind)                                                                      \
    void name(struct tell_doc *doc, const char *format, ...) {                                     \
        va_list args;                                                                              \
        va_start(args, format);                                                                    \
        add_formatted(doc, kind, format, args);                                                    \
        va_end(args);                                                                              \
    }
FORMATTED(tell_p, TELL_P)
FORMATTED(tell_item, TELL_ITEM)
FORMATTED(tell_care, TELL_CARE)
FORMATTED(tell_answer, TELL_ANSWER)

void tell_new_page(struct tell_doc *doc) {
    add(doc, TELL_NEW_PAGE, NULL);
}
void tell_blank(struct tell_doc *doc, const char *label) {
    add(doc, TELL_BLANK, label);
}
void tell_html(struct tell_doc *doc, const char *html) {
    add(doc, TELL_HTML, html);
}

void tell_picture(struct tell_doc *doc, struct show_drawing *drawing) {
    if (doc && doc->error.code == ERR_NONE) show_drawing_status(drawing, &doc->error);
    struct tell_block *b = add(doc, TELL_PICTURE, NULL);
    if (b)
        b->drawing = drawing;
    else
        show_drawing_free(drawing);
}

void tell_statement(struct tell_doc *doc, const struct tell_said *said) {
    struct tell_block *b = add(doc, TELL_STATEMENT, said->sentence);
    if (!b) return;
    struct tell_why *why = ARENA_NEW(doc->arena, struct tell_why, said->n_why + 1);
    if (!why) {
        fail_memory(&doc->error);
        return;
    }
    for (size_t i = 0; i < said->n_why; i++) {
        why[i] = said->why[i];
        why[i].text = keep(doc, why[i].text);
        why[i].link = keep(doc, why[i].link);
    }
    b->said = *said;
    b->said.why = why;
    const char **texts[] = {&b->said.id,      &b->said.sentence, &b->said.number, &b->said.state,
                            &b->said.caution, &b->said.doubt,    &b->said.rival};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        *texts[i] = keep(doc, *texts[i]);
    /* "The grip was this long: 185 mm": the number belongs to the sentence */
    if (b->said.number && *b->said.number)
        b->said.sentence = tell_leading_to(said->sentence, doc->arena);
}

const char *tell_leading_to(const char *sentence, struct arena *arena) {
    size_t n = sentence ? strlen(sentence) : 0;
    if (!n || sentence[n - 1] != '.') return sentence ? arena_strdup(arena, sentence) : NULL;
    return arena_printf(arena, "%.*s:", (int)(n - 1), sentence);
}

static const char *const *keep_list(struct tell_doc *doc, const char *const *list, size_t n) {
    if (!list) return NULL;
    const char **copy = ARENA_NEW(doc->arena, const char *, n ? n : 1);
    if (!copy) return fail_memory(&doc->error), NULL;
    for (size_t i = 0; i < n; i++)
        copy[i] = keep(doc, list[i]);
    return copy;
}

void tell_rows(struct tell_doc *doc, const struct tell_table *table) {
    struct tell_block *b = add(doc, TELL_TABLE, table->title);
    if (!b) return;
    b->table = *table;
    b->table.title = b->text;
    b->table.columns = keep_list(doc, table->columns, table->n_columns);
    b->table.cells = keep_list(doc, table->cells, table->n_columns * table->n_rows);
    b->table.anchors = keep_list(doc, table->anchors, table->n_rows);
    b->table.links = keep_list(doc, table->links, table->n_rows);
}
