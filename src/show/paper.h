/* paper: plays drawings as PDF and PNG through cairo and pango.
 *
 * A PDF is tagged (one Document; headings, paragraphs and figures from the groups' roles), has an
 * outline, embedded subsets of the fonts and the dates it is given: same drawings, same bytes on
 * the same machine. It is not PDF/A and not PDF/UA, and nothing claims that it is. A sign for which
 * no font on the machine has a shape is found and told, not printed as a silent box. A show_shaper
 * belongs to one thread.
 */
#ifndef RELICT_SHOW_PAPER_H
#define RELICT_SHOW_PAPER_H

#include "base/arena.h"
#include "show/drawing.h"
#include "show/out.h"

/* Lays out text with the machine's fonts. */
struct show_shaper;

/* NULL when memory is gone. */
struct show_shaper *show_shaper_new(void);
void show_shaper_free(struct show_shaper *shaper);

/* Advance width of one line in mm. */
double show_text_width(struct show_shaper *shaper, struct show_type type, const char *text);

/* Breaks a paragraph into lines no wider than `width` mm, by the Unicode rules. Lines live in the
 * arena. Returns how many; 0 and NULL when memory is gone. */
size_t show_text_break(char ***out, struct show_shaper *shaper, struct show_type type,
                       const char *text, double width, struct arena *arena);

/* Signs of the text that no font here can show, once each, as a UTF-8 text in the arena; "" when
 * all can be shown. */
char *show_text_missing(struct show_shaper *shaper, struct show_type type, const char *text,
                        struct arena *arena);

/* The same for all texts of a drawing. */
char *show_drawing_missing(struct show_shaper *shaper, const struct show_drawing *drawing,
                           struct arena *arena);

struct show_pdf_options {
    const char *title, *author, *subject;
    const char *date; /* ISO 8601 with time zone, "2026-05-01T00:00:00Z"; NULL: 2000-01-01 */
    enum show_theme theme;
};

/* Appends a PDF whose pages are the drawings, each of its own size. The first failing drawing's
 * status is returned. */
int show_pdf_write(struct show_out *out, const struct show_drawing *const *pages, size_t n,
                   const struct show_pdf_options *options, struct show_shaper *shaper,
                   struct error *err);

/* Appends one drawing as PNG at `dpi` points an inch (at most 100 million pixels). */
int show_png_write(struct show_out *out, const struct show_drawing *drawing, double dpi,
                   enum show_theme theme, struct show_shaper *shaper, struct error *err);

/* File of the font family and its bytes cut down to ASCII and the signs used in `text`; appends
 * them. ERR_MISSING when the family is not on this machine. */
int show_font_subset(struct show_out *out, const char *family, const char *text, struct error *err);

#endif
