/* plan: the object at true size, for the bench: tiles with seams, a roll, SVG in mm, DXF R12.
 *
 * The input is a plain struct in the making's frame (x right, y up, mm, seen from the outer face),
 * so that anyone can fill it. Every sheet carries a 100 mm stick along and up; a bar that measures
 * otherwise gives a factor, and the plan is drawn again by it or refused. Neighbouring tiles share
 * a strip; the row of nicks across it spells the seam's number, so that only the right neighbour
 * matches. Pure; thread-safe.
 */
#ifndef RELICT_SHOW_PLAN_H
#define RELICT_SHOW_PLAN_H

#include "base/arena.h"
#include "show/drawing.h"
#include "show/look.h"
#include "show/out.h"
#include "show/paper.h"

enum plan_kind { PLAN_SHEET, PLAN_LATH, PLAN_RIM, PLAN_GRIP, PLAN_RING, PLAN_PAINT, PLAN_OTHER };

/* A part: a closed outline, or a line with a width (a lath, a rod). Unknown lengths are NAN. */
struct plan_part {
    const char *id, *name;
    enum plan_kind kind;
    long face;    /* enum face */
    long footing; /* enum footing */
    size_t n;
    const double *xy; /* [n][2] */
    bool closed;
    double width;      /* of a part given by its middle line */
    double fresh, dry; /* length to cut; length when new and dry; mm */
    double grain;      /* of what lies along no line; NAN: along the line */
    const char *said;  /* statement behind it, its id */
};

struct plan_hole {
    double x, y, diameter;
    long footing;
};

struct plan_slit {
    double x1, y1, x2, y2;
    long footing;
};

struct show_plan {
    const char *object, *subject, *state; /* head of each sheet */
    const char *file, *date, *hash;       /* foot: first 8 signs of the hash are shown */
    const char *up;                       /* "inner face up" */
    const char *note;                     /* a sentence for the first sheet; NULL */
    bool draft;
    size_t n_fresh, n_dry;     /* 0: not known */
    const double *fresh, *dry; /* outline to cut; outline when new and dry; [n][2], closed */
    long footing;              /* of the outline */
    double grain;              /* direction of the tree's axis, from x; NAN: unknown */
    const struct plan_part *parts;
    size_t n_parts;
    const struct plan_hole *holes;
    size_t n_holes;
    const struct plan_slit *slits;
    size_t n_slits;
};

enum plan_paper { PLAN_A4, PLAN_A3, PLAN_LETTER, PLAN_ROLL };

struct plan_options {
    enum plan_paper paper;
    double roll_width;             /* mm; of PLAN_ROLL */
    double margin;                 /* 0: 15 mm */
    double overlap;                /* 0: 10 mm */
    double measured_x, measured_y; /* what the printed 100 mm sticks measured; 0: 100 */
};

/* Factor by which the drawing must grow so that a printer whose 100 mm bar measured `measured` mm
 * puts it right: 100 / measured. Within 0.1 mm it is 1. ERR_REFUSED when the bar is off by more
 * than 5 mm (another paper setting, not a scale error) or not a length; the remedy says what to do,
 * `over` mm (may be 0) is what the error would be told for. */
int plan_factor(double *out, double measured, double over, struct error *err);

/* How the tiles lie. */
struct plan_tiling {
    double sheet_width, sheet_height; /* mm */
    double margin, overlap;
    size_t columns, rows;
    double x, y; /* lower left of tile (0, 0)'s window, plan mm on paper */
    double window_width, window_height;
    double factor_x, factor_y;
};
int plan_tile(struct plan_tiling *out, const struct show_plan *plan,
              const struct plan_options *options, struct error *err);

/* Name of a tile: row letter from the top, column number from the left: "A1". */
void plan_tile_name(char name[16], const struct plan_tiling *tiling, size_t column, size_t row);

/* Places of the nicks across a seam: distances along it, from its lower or left end, `upto` mm.
 * seam 1, 2, 3 ... each spells its own number in ten places of 5 mm, again and again: a double
 * nick for 1, a single one for 0, three nicks to begin. Returns how many (at most `room`). */
size_t plan_nicks(double *out, size_t room, unsigned seam, double upto);

/* One drawing a sheet, the first with a map of the tiles where there are several. *out is an
 * array in the arena; free each with show_drawing_free. */
int plan_pages(struct show_drawing ***out, size_t *n, const struct show_plan *plan,
               const struct plan_options *options, struct show_shaper *shaper, struct arena *arena,
               struct error *err);

/* A line through all its points, but without corners where it turns by less than 35 degrees: what
 * is laid out by a hundred points is cut as a curve, within 0.03 mm. out [room][2] may be NULL to
 * count (room SIZE_MAX). Returns the points of the new line, each given point among them. */
size_t plan_smooth(double *out, size_t room, size_t n, const double *xy, bool closed);

/* The whole plan as one SVG in mm, ids for each part, groups `cut` and `mark`. */
int plan_svg(struct show_out *out, const struct show_plan *plan, struct error *err);

/* DXF R12 (AC1009): layers KNIFE (outline, slits) and AWL (holes and all that is marked), and a
 * 100 mm line on AWL, as R12 has no unit. Put "mm" into the file's name. */
int plan_dxf(struct show_out *out, const struct show_plan *plan, struct error *err);

/* The plan's box: smallest and largest x and y of all that is drawn. */
void plan_box(double box[4], const struct show_plan *plan);

#endif
