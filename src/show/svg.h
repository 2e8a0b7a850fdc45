/* svg: plays a drawing as SVG 1.1 in millimetres.
 *
 * Same drawing, same bytes. Every text is escaped. Ids are those of the drawing after a prefix, so
 * that several drawings can stand in one page. Groups for cutting carry the classes `cut` and
 * `mark`. Thread-safe.
 */
#ifndef RELICT_SHOW_SVG_H
#define RELICT_SHOW_SVG_H

#include "show/drawing.h"
#include "show/out.h"

struct show_svg_options {
    enum show_theme theme;
    bool
        inside_page; /* no XML heading; colours as var(--ink, ...) so that the page's theme holds */
    const char *prefix; /* put before every id; NULL: none */
    double scale;       /* the sheet is shown this many times as large; 0: 1, true size */
    /* Whether the page has an anchor: groups that name one become links to it. NULL: no links. They
     * are for the pointer; the tables of the page hold the same links for the keyboard. */
    bool (*has_anchor)(const void *page, const char *anchor);
    const void *page;
};

/* Appends the whole <svg> element. Returns the drawing's status. options may be NULL. */
int show_svg_write(struct show_out *out, const struct show_drawing *drawing,
                   const struct show_svg_options *options, struct error *err);

/* Appends #rrggbb. */
void show_out_colour(struct show_out *out, enum show_colour colour, enum show_theme theme);

/* Name of a colour as in LOOK.md: "ink"; "ramp-3". Static or in `text` of 16 bytes. */
const char *show_colour_name(enum show_colour colour, char text[16]);

#endif
