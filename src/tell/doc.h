/* doc: a written page as a list of blocks, that HTML and PDF both play.
 *
 * The argument, the making book, trial sheets, the landowner's page, labels and forms are all such
 * lists, so what stands on the screen stands on paper. The document owns copies of all texts and
 * takes over the drawings it is given. Sticky: the first error is kept; the writers return it. Not
 * for two threads at once.
 *
 *     struct tell_doc *doc = tell_doc_new(&(struct tell_doc_options){.title = "The argument"});
 *     tell_h1(doc, "found", "What was found", 0);
 *     tell_p(doc, "%zu pieces are kept.", n);
 *     tell_doc_html(&out, doc, err);
 *     tell_doc_free(doc);
 */
#ifndef RELICT_TELL_DOC_H
#define RELICT_TELL_DOC_H

#include "base/arena.h"
#include "show/look.h"
#include "show/out.h"
#include "show/paper.h"

/* A table of texts, cells [n_rows][n_columns]. NULL cells are empty. */
struct tell_table {
    const char *title;
    size_t n_columns, n_rows;
    const char *const *columns;
    const char *const *cells;
    const char *const *anchors; /* [n_rows] ids of rows that can be pointed at; NULL: none */
    bool to_write;              /* rows are high enough to write in */
    const char *const *links; /* [n_rows] where the first cell leads, in the same document; NULL */
};

/* One line of a why-chain. */
struct tell_why {
    int depth;
    const char *text;
    const char *link; /* anchor in the same document; NULL: none */
    long footing;     /* glyph before the line; FIELD_UNKNOWN: none */
};

/* A statement as a reader sees it. */
struct tell_said {
    const char *id, *sentence;
    const char *number; /* "318 mm (304 to 331)"; NULL when in words only */
    const char *state;
    long footing;
    const char *caution, *doubt, *rival;
    const struct tell_why *why;
    size_t n_why;
};

struct tell_doc_options {
    const char *title, *subtitle;
    const char *object, *state;              /* in the head of every page */
    const char *file, *date, *moment, *hash; /* date as 2026-05-01; moment with time, for PDF */
    const char *author;
    const char *draft;     /* why it is a draft; NULL when it is none */
    bool large;            /* large print: 18/27 points */
    bool whole;            /* what stands under a small heading is kept on one page, if it can be */
    bool contents;         /* a list of headings after the title */
    const char *script;    /* JavaScript of a page that computes (wood page, forms); NULL: none */
    enum show_theme theme; /* SHOW_SUN: a page for out of doors; else day and lamp */
};

struct tell_doc;

/* NULL when memory is gone (every call below takes NULL). */
struct tell_doc *tell_doc_new(const struct tell_doc_options *options);
void tell_doc_free(struct tell_doc *doc);
int tell_doc_status(const struct tell_doc *doc, struct error *err);
struct arena *tell_doc_arena(struct tell_doc *doc);

/* Headings; `step` is the notch of the tally that a printed page shows (-1: none). */
void tell_h1(struct tell_doc *doc, const char *anchor, const char *text, int step);
void tell_h2(struct tell_doc *doc, const char *anchor, const char *text);
void tell_p(struct tell_doc *doc, const char *format, ...) __attribute__((format(printf, 2, 3)));
void tell_item(struct tell_doc *doc, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* "Take care: ..." with a bar on its left. */
void tell_care(struct tell_doc *doc, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* A sentence set large: the answer of a page, a label's text. */
void tell_answer(struct tell_doc *doc, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
void tell_statement(struct tell_doc *doc, const struct tell_said *said);
/* The sentence with a colon for its full stop, so that its number goes on from it; in the arena. */
const char *tell_leading_to(const char *sentence, struct arena *arena);
void tell_rows(struct tell_doc *doc, const struct tell_table *table);
/* Takes the drawing over; its title and alternative text become the caption. */
void tell_picture(struct tell_doc *doc, struct show_drawing *drawing);
void tell_new_page(struct tell_doc *doc);
/* A line to write on, with its label in front. */
void tell_blank(struct tell_doc *doc, const char *label);
/* Raw HTML in the HTML form only (fields of a page that computes). Never with a user's text. */
void tell_html(struct tell_doc *doc, const char *html);

/* One self-contained page. */
int tell_doc_html(struct show_out *out, struct tell_doc *doc, struct error *err);

/* A tagged PDF on A4. Missing signs are ERR_MISSING with the signs. */
int tell_doc_pdf(struct show_out *out, struct tell_doc *doc, struct show_shaper *shaper,
                 struct error *err);

/* What the players read. */
enum tell_block_kind {
    TELL_H1,
    TELL_H2,
    TELL_P,
    TELL_ITEM,
    TELL_CARE,
    TELL_ANSWER,
    TELL_STATEMENT,
    TELL_TABLE,
    TELL_PICTURE,
    TELL_NEW_PAGE,
    TELL_BLANK,
    TELL_HTML
};
struct tell_block {
    enum tell_block_kind kind;
    const char *text, *anchor;
    int step;
    struct tell_said said;
    struct tell_table table;
    struct show_drawing *drawing;
};
const struct tell_block *tell_doc_blocks(const struct tell_doc *doc, size_t *n);
const struct tell_doc_options *tell_doc_options(const struct tell_doc *doc);

#endif
