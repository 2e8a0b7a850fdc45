/* look: the visual language of LOOK.md, each sign a function that adds to a drawing.
 *
 * Sizes are those of print in mm. Fill says why (the hatch is the footing), edge says where (the
 * line is the face); neither uses colour, and nothing is dashed. Positions are in the drawing's
 * present frame; the signs keep their size on paper whatever the frame's scale. Errors stick to
 * the drawing.
 */
#ifndef RELICT_SHOW_LOOK_H
#define RELICT_SHOW_LOOK_H

#include "remains/find.h"
#include "show/drawing.h"
#include "statement/statement.h"

/* Print sizes (LOOK.md, Type). */
#define LOOK_RUNNING ((struct show_type){.family = SHOW_GENTIUM, .size = SHOW_PT(10.5)})
#define LOOK_SECOND                                                                                \
    ((struct show_type){.family = SHOW_ANDIKA, .size = SHOW_PT(8), .colour = SHOW_BARK})
#define LOOK_LABEL ((struct show_type){.family = SHOW_ANDIKA, .size = SHOW_PT(8), .cleared = true})
#define LOOK_ANSWER ((struct show_type){.family = SHOW_ANDIKA, .size = SHOW_PT(14)})
#define LOOK_NAME ((struct show_type){.family = SHOW_ANDIKA, .size = SHOW_PT(14)})
#define LOOK_TITLE ((struct show_type){.family = SHOW_ANDIKA, .size = SHOW_PT(20)})

/* The hatch of a footing; unknown has none. */
enum show_hatch look_hatch(long footing);

/* One closed outline, or an open line; xy is [n][2] in mm. */
struct look_ring {
    size_t n;
    const double *xy;
};

/* Fills `outer` less the `holes` with the hatch of the footing, turned with the grain; an area
 * under 5 x 5 mm on paper gets the glyph instead (LOOK.md, Hatches). */
void look_fill(struct show_drawing *drawing, const char *id, struct look_ring outer,
               const struct look_ring *holes, size_t n_holes, long footing, double grain);

/* Glyphs; (x, y) is the middle of a square box of `size` mm (6 is the usual one). */
void look_footing_glyph(struct show_drawing *drawing, double x, double y, double size,
                        long footing);
void look_face_glyph(struct show_drawing *drawing, double x, double y, double size, long face);
void look_end_glyph(struct show_drawing *drawing, double x, double y, double size, long end);
enum look_verdict { LOOK_SUPPORTS, LOOK_DOES_NOT_SUPPORT, LOOK_CANNOT_TELL };
void look_verdict_glyph(struct show_drawing *drawing, double x, double y, double size,
                        enum look_verdict verdict);
void look_bark_side_glyph(struct show_drawing *drawing, double x, double y, double size,
                          bool cork_side);

/* Grain: a line of `length` mm (on paper) from (x, y) in direction `grain`, whose butt end, the
 * start, parts into three short roots. */
void look_grain(struct show_drawing *drawing, double x, double y, double length, double grain);

/* The end of a lath or rod at (x, y) that runs on in direction `angle`; width in the frame's mm. */
void look_end(struct show_drawing *drawing, double x, double y, double angle, double width,
              long end);

/* The line set off by `mm` (of the frame) to its left, vertex by vertex, mitred: out is [n][2]. */
void look_offset(double *out, struct look_ring line, bool closed, double mm);

/* Edge that survives: a strong line with a fine one inside (left of the way it runs). */
void look_edge_surviving(struct show_drawing *drawing, const char *id, struct look_ring line,
                         bool closed);
/* Likely edge where nothing survives, cleared of what lies under it. */
void look_edge_likely(struct show_drawing *drawing, const char *id, struct look_ring line,
                      bool closed, enum show_colour colour);
/* A part by the face on which it lies, along its middle line. */
void look_part_line(struct show_drawing *drawing, const char *id, struct look_ring line, long face);
/* An open eye from (x1, y1) to (x2, y2). */
void look_slit(struct show_drawing *drawing, const char *id, double x1, double y1, double x2,
               double y2);
/* A hole at true size with a point at its middle. */
void look_hole(struct show_drawing *drawing, const char *id, double x, double y, double diameter);
/* A score line. */
void look_score(struct show_drawing *drawing, const char *id, struct look_ring line);

/* The whipped band about a curve. Points i of `likely`, `low` and `high` belong together; low and
 * high bound 5 % to 95 %; `whole_low` and `whole_high` (may be NULL) bound the whole curve at once.
 */
struct look_band {
    size_t n;
    const double *likely, *low, *high, *whole_low, *whole_high; /* [n][2] */
    bool closed;
    enum show_colour colour; /* of the likely edge; SHOW_NONE: ink */
};
void look_band(struct show_drawing *drawing, const char *id, const struct look_band *band);

/* The likely edge of the second (1) or third (2) rival, its name and weight at the line. */
void look_rival(struct show_drawing *drawing, const char *id, struct look_ring line, bool closed,
                int number, const char *name, double weight);
/* An excluded shape, struck by a cross at (x, y) with that reading's number. */
void look_excluded(struct show_drawing *drawing, const char *id, struct look_ring line, bool closed,
                   double x, double y, const char *reading);

/* A thread from (x1, y1) to (x2, y2), both in paper mm: hanging cord. The mark's number
 * stands at the end, and at the beginning too when nothing else names the mark there. */
void look_thread(struct show_drawing *drawing, double x1, double y1, double x2, double y2,
                 const char *number, bool both, bool touched);

/* A stick of 100 mm (times `factor`): deep cuts at 0, 50 and 100, nicks each 10; along the page
 * or up it. (x, y) is its start. With `measure_me`, the place to write down the measured length. */
void look_stick(struct show_drawing *drawing, const char *id, double x, double y, bool upright,
                double factor, bool measure_me);

/* The tally of nine steps from (x, y) downwards, `pitch` mm a step; states by word. */
enum look_step { LOOK_NOT_BEGUN, LOOK_CAN_START, LOOK_HOLDS, LOOK_IN_DOUBT };
extern const char *const look_step_words[];
extern const char *const look_steps[]; /* Found ... Report, NULL-terminated */
void look_tally(struct show_drawing *drawing, double x, double y, double pitch,
                const enum look_step states[9], const int open[9], int here, bool words);

/* Twenty slivers of 5 in 100 over an axis from `from` to `to` that is `width` mm wide; `value`
 * gives the quantiles, and what lies between is interpolated. Figures stand beneath. */
void look_spread(struct show_drawing *drawing, const char *id, double x, double y, double width,
                 double from, double to, const struct spread *value, const char *unit);
/* The slivers alone, the middle ten `high` mm high; what lies beyond the axis is not drawn. */
void look_slivers(struct show_drawing *drawing, double x, double y, double width, double from,
                  double to, const struct spread *value, double high);
/* A measured value with its +- as a knot. */
void look_knot(struct show_drawing *drawing, double x, double y, double plus_minus, bool upright);
/* Ticks of an axis at round numbers, figures below. */
void look_ticks(struct show_drawing *drawing, double x, double y, double width, double from,
                double to, const char *unit);
/* Step of round ticks, about `count` of them. */
double look_round_step(double from, double to, int count);

/* One rod cut into named lengths; shares sum to at most 1. */
struct look_share {
    const char *name;
    double share;
};
/* Names stand below, so that no line of one runs through another, and may reach beyond the rod's
 * right end; returns how far down. */
double look_shares(struct show_drawing *drawing, const char *id, double x, double y, double width,
                   const struct look_share *shares, size_t n);

/* A quantity over a triangulated surface seen in plan: seven steps from leaf to bark, numbered
 * contour lines between. points [n][2], triangles [m][3], values [n]. */
struct look_surface {
    size_t n_points, n_triangles;
    const double *points, *values;
    const unsigned *triangles;
    int places; /* decimals of the figures */
};
void look_contours(struct show_drawing *drawing, const char *id,
                   const struct look_surface *surface);

/* Key of the footings and faces used (bits 1 << footing); returns the height it took, downwards
 * from y. */
double look_key(struct show_drawing *drawing, double x, double y, unsigned footings,
                unsigned faces);

/* "supports" and the rest by word. */
extern const char *const look_verdict_words[];

#endif
