/* drawing: one display list that screen SVG, PDF and PNG all play.
 *
 * A drawing is a sheet of `width` x `height` mm, origin lower left, x right, y up. Whoever draws
 * calls the functions below; players (svg.h, paper.h) read the list. Colours are names of LOOK.md,
 * settled by the theme when played. Owns everything in it. Sticky: the first error is kept and all
 * further calls are ignored; ask show_drawing_status once. Not for two threads at once.
 *
 *     struct show_drawing *d = show_drawing_new(210, 297);
 *     show_group_begin(d, &(struct show_group){.id = "rim", .title = "Rim"});
 *     show_circle(d, "rim.hole.1", 20, 30, 1.4, SHOW_LINE(SHOW_INK, 0.35));
 *     show_group_end(d);
 */
#ifndef RELICT_SHOW_DRAWING_H
#define RELICT_SHOW_DRAWING_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>

/* LOOK.md, Palette; then the ramp from leaf to bark in seven steps. */
enum show_colour {
    SHOW_NONE,
    SHOW_PAPER,
    SHOW_LEAF,
    SHOW_BIRCH,
    SHOW_BAST,
    SHOW_BARK,
    SHOW_INK,
    SHOW_ALDER,
    SHOW_SLOE,
    SHOW_RAMP_0,
    SHOW_RAMP_6 = SHOW_RAMP_0 + 6,
    SHOW_COLOURS
};

enum show_theme { SHOW_DAY, SHOW_LAMP, SHOW_SUN, SHOW_PRINT, SHOW_THEMES };

/* Red, green, blue from 0 to 255. */
struct show_rgb {
    unsigned char r, g, b;
};
struct show_rgb show_rgb(enum show_colour colour, enum show_theme theme);

/* How a path is drawn: line colour and width in mm, fill. Ends are square cut, corners mitred. */
struct show_pen {
    enum show_colour line;
    double width; /* mm on paper; not scaled by frames */
    enum show_colour fill;
    bool even_odd; /* holes by the even-odd rule */
};
#define SHOW_LINE(colour, mm)                                                                      \
    (struct show_pen) {                                                                            \
        .line = (colour), .width = (mm)                                                            \
    }
#define SHOW_FILL(colour)                                                                          \
    (struct show_pen) {                                                                            \
        .fill = (colour)                                                                           \
    }

enum show_family { SHOW_ANDIKA, SHOW_GENTIUM };
enum show_anchor { SHOW_START, SHOW_MIDDLE, SHOW_END };

struct show_type {
    enum show_family family;
    double size;             /* mm; SHOW_PT(8) */
    enum show_colour colour; /* SHOW_NONE stands for ink */
    enum show_anchor anchor;
    bool cleared; /* on a ground of leaf colour, so that lines under it do not disturb */
};
#define SHOW_PT(pt) ((pt) * (25.4 / 72.0))

/* What a group is for: a layer of a plan for cutting, or a role in a tagged document. */
enum show_layer { SHOW_NO_LAYER, SHOW_CUT, SHOW_MARK };
enum show_role { SHOW_NO_ROLE, SHOW_H1, SHOW_H2, SHOW_P, SHOW_FIGURE };

struct show_group {
    const char *id;          /* unique in the drawing; NULL: none */
    const char *title, *alt; /* name; one sentence of alternative text */
    enum show_layer layer;
    enum show_role role;
    const char *outline; /* an entry of the document's outline points here; NULL: none */
    const char *link;    /* anchor in the page that tells of this thing; NULL: none */
};

/* The five footings as hatches (LOOK.md, Hatches). */
enum show_hatch {
    SHOW_NO_HATCH,
    SHOW_HATCH_SEEN,
    SHOW_HATCH_WORKED_OUT,
    SHOW_HATCH_PARALLEL,
    SHOW_HATCH_GUESSED,
    SHOW_HATCH_MODERN,
    SHOW_HATCHES
};

struct show_drawing;

/* Makes an empty sheet; NULL when memory is gone (all calls below take NULL and do nothing, and the
 * status then says so). */
struct show_drawing *show_drawing_new(double width, double height);
void show_drawing_free(struct show_drawing *drawing);
int show_drawing_status(const struct show_drawing *drawing, struct error *err);
double show_drawing_width(const struct show_drawing *drawing);
double show_drawing_height(const struct show_drawing *drawing);

/* Title and the sentence that says what it shows and how sure it is. */
void show_drawing_name(struct show_drawing *drawing, const char *title, const char *alt);
const char *show_drawing_title(const struct show_drawing *drawing);
const char *show_drawing_alt(const struct show_drawing *drawing);

/* Keeps `code` as the drawing's error, for functions that draw and meet bad input. */
void show_drawing_fail(struct show_drawing *drawing, enum error_code code, const char *remedy,
                       const char *message);

/* Until the matching pop, coordinates are those of a thing whose origin lies at (x, y) of the
 * present frame, `scale` times as large, turned by `turn` radians anticlockwise. Line widths and
 * text sizes stay those of the paper. At most 16 deep. */
void show_frame_push(struct show_drawing *drawing, double x, double y, double scale, double turn);
/* The same for a frame that is only stretched, differently along and up (a printer's error). */
void show_stretch_push(struct show_drawing *drawing, double along, double up);
void show_frame_pop(struct show_drawing *drawing);
/* Paper mm for one mm of the present frame (a stretch counts with its mean); its turn in radians;
 * where a point of it lies. */
double show_frame_scale(const struct show_drawing *drawing);
double show_frame_turn(const struct show_drawing *drawing);
void show_frame_point(const struct show_drawing *drawing, double *x, double *y);

void show_group_begin(struct show_drawing *drawing, const struct show_group *group);
void show_group_end(struct show_drawing *drawing);

/* One path: begin, its strokes, end. A NULL id gives an element without one. */
void show_path_begin(struct show_drawing *drawing);
void show_move_to(struct show_drawing *drawing, double x, double y);
void show_line_to(struct show_drawing *drawing, double x, double y);
void show_curve_to(struct show_drawing *drawing, double x1, double y1, double x2, double y2,
                   double x, double y);
void show_close(struct show_drawing *drawing);
void show_path_end(struct show_drawing *drawing, const char *id, struct show_pen pen);

/* Ends the path as a window: until show_window_end only what lies inside it (even-odd) is seen. */
void show_window_begin(struct show_drawing *drawing);
void show_window_end(struct show_drawing *drawing);

/* Ends the path by filling it (even-odd) with a hatch whose cells start at (x, y) and turn with
 * `grain` radians (both of the present frame; cells keep their size on paper). */
void show_hatch_end(struct show_drawing *drawing, const char *id, enum show_hatch hatch, double x,
                    double y, double grain);

/* Shorthands. xy is [n][2]. */
void show_segment(struct show_drawing *drawing, double x1, double y1, double x2, double y2,
                  struct show_pen pen);
void show_polyline(struct show_drawing *drawing, const char *id, size_t n, const double *xy,
                   bool closed, struct show_pen pen);
void show_rectangle(struct show_drawing *drawing, const char *id, double x, double y, double width,
                    double height, struct show_pen pen);
void show_circle(struct show_drawing *drawing, const char *id, double x, double y, double radius,
                 struct show_pen pen);
/* Adds a closed ring to the path being made. */
void show_ring(struct show_drawing *drawing, size_t n, const double *xy);

/* One line of text, its base line at y. Text in a script read from right to left is set so; the
 * anchor is meant as left, middle, right all the same. */
void show_text(struct show_drawing *drawing, const char *id, double x, double y,
               struct show_type type, const char *text);

/* A photograph as JPEG or PNG bytes (kept as they are), lower left corner and size in mm. */
void show_photo(struct show_drawing *drawing, const char *id, double x, double y, double width,
                double height, const void *bytes, size_t n);
/* Whether the bytes begin as a PNG does (ISO/IEC 15948, 5.2). */
bool show_is_png(const void *bytes, size_t n);

/* Adds all of `other` with its lower left corner at (x, y) of the paper, at its own size. The
 * tags and outline entries of its groups are left out: the place where it stands says them. */
void show_drawing_place(struct show_drawing *drawing, const struct show_drawing *other, double x,
                        double y);

/* What a player reads. Points are paper mm, y up. */
enum show_op_kind {
    SHOW_OP_GROUP,
    SHOW_OP_GROUP_END,
    SHOW_OP_PATH,
    SHOW_OP_CIRCLE,
    SHOW_OP_WINDOW,
    SHOW_OP_WINDOW_END,
    SHOW_OP_HATCH,
    SHOW_OP_TEXT,
    SHOW_OP_PHOTO
};
enum { SHOW_MOVE = 'M', SHOW_LINE_TO = 'L', SHOW_CURVE = 'C', SHOW_CLOSE = 'Z' };

struct show_op {
    enum show_op_kind kind;
    const char *id;
    struct show_pen pen;
    size_t first, n;         /* path: its steps in show_drawing_steps */
    double x, y, size, turn; /* circle: size = radius; hatch: origin and grain; photo: corner */
    double width, height;    /* photo */
    enum show_hatch hatch;
    struct show_type type;
    const char *text; /* also the bytes of a photo, `n` of them */
    struct show_group group;
};

/* One stroke: a letter and up to three points. */
struct show_step {
    char kind;
    double xy[6];
};

const struct show_op *show_drawing_ops(const struct show_drawing *drawing, size_t *n);
const struct show_step *show_drawing_steps(const struct show_drawing *drawing);

/* The cell of a hatch in its own frame: x along the grain, y across; it repeats every width x
 * height. Both players tile it, so that screen and paper show the same figures. */
enum { SHOW_CELL_STEPS = 64 };
struct show_cell {
    double width, height; /* of the tile, mm */
    double line;          /* width of its lines, mm; 0: the figures are filled */
    bool tinted, upright;
    size_t n;
    struct show_step steps[SHOW_CELL_STEPS];
};
void show_hatch_cell(struct show_cell *out, enum show_hatch hatch);

#endif
