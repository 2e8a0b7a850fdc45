/* shaper: inside of paper.h's text layout, shared by shaper.c and paper.c only. */
#ifndef RELICT_SHOW_SHAPER_H
#define RELICT_SHOW_SHAPER_H

#include "show/paper.h"

#include <pango/pangocairo.h>

struct show_shaper {
    PangoFontMap *map;
    PangoContext *context;
    PangoLayout *layout;
    PangoFontDescription *fonts[2]; /* by enum show_family */
};

/* Sets the layout to one line of text in the type; the layout stays the shaper's. */
PangoLayoutLine *show_shaper_line(struct show_shaper *shaper, struct show_type type,
                                  const char *text);

#endif
