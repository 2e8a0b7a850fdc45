/* look_glyph: the signs of LOOK.md, Glyphs. Their design box is 24 px of 1/4 mm: 6 mm. */
#include "show/look.h"

#include <math.h>

const char *const look_verdict_words[] = {"supports", "does not support", "cannot tell yet"};

enum show_hatch look_hatch(long footing) {
    if (footing < 0 || footing >= FOOTING_COUNT) return SHOW_NO_HATCH;
    return (enum show_hatch)(SHOW_HATCH_SEEN + footing);
}

/* Opens a frame in which one unit is one px of the 24 px box, origin in its middle; paper-upright
 * and paper-sized whatever frame it is called in. Returns the line width of 2 px in mm. */
static double box(struct show_drawing *d, double x, double y, double size) {
    show_frame_push(d, x, y, size / 24 / show_frame_scale(d), -show_frame_turn(d));
    return 2 * size / 24;
}

static void arc_up(struct show_drawing *d, double y, struct show_pen pen) {
    /* An arc 26 wide and 7 high; controls at 4/3 of the height. */
    show_path_begin(d);
    show_move_to(d, -13, y);
    show_curve_to(d, -13 / 3.0 * 2, y + 7 * 4 / 3.0, 13 / 3.0 * 2, y + 7 * 4 / 3.0, 13, y);
    show_path_end(d, NULL, pen);
}

static void lens_glyph(struct show_drawing *d) {
    show_path_begin(d);
    show_move_to(d, -9, 0);
    show_curve_to(d, -3, 4 * 4 / 3.0, 3, 4 * 4 / 3.0, 9, 0);
    show_curve_to(d, 3, -4 * 4 / 3.0, -3, -4 * 4 / 3.0, -9, 0);
    show_close(d);
    show_path_end(d, NULL, SHOW_FILL(SHOW_INK));
}

/* Two strokes over two; where one passes under, it is broken. */
static void plait_glyph(struct show_drawing *d, struct show_pen pen) {
    const double a = 4, l = 10, g = 2.6;
    show_path_begin(d);
    /* Lower-left to upper-right pair and its partners, over and under in turn. */
    for (int i = -1; i <= 1; i += 2) {
        double y = i * a;
        bool over_left = i > 0;
        show_move_to(d, -l, y);
        show_line_to(d, over_left ? a - g : -a - g, y);
        show_move_to(d, over_left ? a + g : -a + g, y);
        show_line_to(d, l, y);
        show_move_to(d, y, -l);
        show_line_to(d, y, over_left ? -a - g : a - g);
        show_move_to(d, y, over_left ? -a + g : a + g);
        show_line_to(d, y, l);
    }
    show_path_end(d, NULL, pen);
}

static void loops_glyph(struct show_drawing *d, struct show_pen pen) {
    show_path_begin(d);
    for (int i = 0; i < 2; i++) {
        double x = i ? 4.2 : -4.2;
        show_move_to(d, x - 7, -8);
        show_curve_to(d, x + 8, -8, x + 7, 8, x, 8);
        show_curve_to(d, x - 7, 8, x - 8, -8, x + 7, -8);
    }
    show_path_end(d, NULL, pen);
}

void look_footing_glyph(struct show_drawing *d, double x, double y, double size, long footing) {
    struct show_pen pen = SHOW_LINE(SHOW_INK, box(d, x, y, size));
    switch (footing) {
    case FOOTING_SEEN:
        lens_glyph(d);
        break;
    case FOOTING_WORKED_OUT:
        plait_glyph(d, pen);
        break;
    case FOOTING_PARALLEL:
        loops_glyph(d, pen);
        break;
    case FOOTING_GUESSED:
        show_circle(d, NULL, 0, 0, 6, pen);
        break;
    case FOOTING_MODERN_NEED:
        pen.width *= 1.5;
        show_polyline(d, NULL, 4, (double[]){-6, -5.5, -6, 5.5, 6, 5.5, 6, -5.5}, false, pen);
        break;
    default:
        break;
    }
    show_frame_pop(d);
}

void look_face_glyph(struct show_drawing *d, double x, double y, double size, long face) {
    struct show_pen pen = SHOW_LINE(SHOW_INK, box(d, x, y, size));
    struct show_pen bar = SHOW_FILL(SHOW_INK);
    if (face == FACE_OUTER) {
        arc_up(d, -7, pen);
        show_rectangle(d, NULL, -6, 3, 12, 3.5, bar);
    } else if (face == FACE_INNER) {
        arc_up(d, -1, pen);
        show_rectangle(d, NULL, -6, -4.5, 12, 3.5, bar);
    } else if (face == FACE_BETWEEN) {
        arc_up(d, 2, pen);
        arc_up(d, -9.5, pen);
        show_rectangle(d, NULL, -6, 1.2, 12, 3.5, bar);
    }
    show_frame_pop(d);
}

void look_end_glyph(struct show_drawing *d, double x, double y, double size, long end) {
    double w = box(d, x, y, size);
    show_frame_pop(d);
    (void)w;
    show_frame_push(d, x, y, 1 / show_frame_scale(d), -show_frame_turn(d));
    struct show_pen pen = SHOW_LINE(SHOW_INK, size / 12);
    double h = size * 0.3;
    show_segment(d, -size / 2, h, size * 0.15, h, pen);
    show_segment(d, -size / 2, -h, size * 0.15, -h, pen);
    look_end(d, size * 0.15, 0, 0, 2 * h, end);
    show_frame_pop(d);
}

/* Three saw teeth, four strands, a half round or a square stop, `w` mm wide on paper. */
void look_end(struct show_drawing *d, double x, double y, double angle, double width, long end) {
    double w = width * show_frame_scale(d), h = w / 2;
    show_frame_push(d, x, y, 1 / show_frame_scale(d), angle);
    show_path_begin(d);
    show_move_to(d, 0, -h);
    if (end == END_BROKEN) {
        for (int i = 0; i < 3; i++) {
            show_line_to(d, w / 3, -h + w * (i + 0.5) / 3);
            show_line_to(d, 0, -h + w * (i + 1) / 3);
        }
    } else if (end == END_TORN) {
        static const double reach[] = {0.55, 0.25, 0.75, 0.4};
        for (int i = 0; i < 4; i++) {
            show_line_to(d, w * reach[i], -h + w * (i + 0.35) / 4);
            show_line_to(d, 0, -h + w * (i + 1) / 4);
        }
    } else if (end == END_WORN) {
        show_curve_to(d, h * 4 / 3, -h, h * 4 / 3, h, 0, h);
    } else {
        show_line_to(d, 0, h);
    }
    show_path_end(d, NULL, SHOW_LINE(SHOW_INK, end == END_WHOLE ? 0.7 : 0.35));
    show_frame_pop(d);
}

void look_verdict_glyph(struct show_drawing *d, double x, double y, double size,
                        enum look_verdict verdict) {
    struct show_pen pen = SHOW_LINE(SHOW_INK, box(d, x, y, size));
    struct show_pen bar = SHOW_FILL(SHOW_INK);
    show_rectangle(d, NULL, -6, -10, 4, 20, bar);
    if (verdict == LOOK_SUPPORTS) {
        show_rectangle(d, NULL, 2, -10, 4, 20, bar);
        show_rectangle(d, NULL, -9, -2, 18, 4, pen);
    } else if (verdict == LOOK_DOES_NOT_SUPPORT) {
        show_polyline(d, NULL, 4, (double[]){2, -10, 6, -10, 6, 1, 2, -2}, true, bar);
        show_polyline(d, NULL, 4, (double[]){6, 2, 10, 5, 10, 10, 6, 10}, true, bar);
    } else {
        static const double corner[4][2] = {{1, -10}, {7, -10}, {7, 10}, {1, 10}};
        for (int i = 0; i < 4; i++) {
            double sx = i == 0 || i == 3 ? 1 : -1, sy = i < 2 ? 1 : -1;
            show_polyline(d, NULL, 3,
                          (double[]){corner[i][0] + 2.2 * sx, corner[i][1], corner[i][0],
                                     corner[i][1], corner[i][0], corner[i][1] + 4 * sy},
                          false, pen);
        }
    }
    show_frame_pop(d);
}

void look_bark_side_glyph(struct show_drawing *d, double x, double y, double size, bool cork_side) {
    struct show_pen pen = SHOW_LINE(SHOW_INK, box(d, x, y, size));
    for (int i = -1; i <= 1; i++) {
        show_path_begin(d);
        if (cork_side) {
            show_move_to(d, i * 8 - 3.4, 0);
            show_curve_to(d, i * 8 - 1, 3, i * 8 + 1, 3, i * 8 + 3.4, 0);
            show_curve_to(d, i * 8 + 1, -3, i * 8 - 1, -3, i * 8 - 3.4, 0);
            show_close(d);
            show_path_end(d, NULL, SHOW_FILL(SHOW_INK));
        } else {
            show_move_to(d, -11, i * 6);
            show_curve_to(d, -7, i * 6 + 5, -4, i * 6 + 5, 0, i * 6);
            show_curve_to(d, 4, i * 6 - 5, 7, i * 6 - 5, 11, i * 6);
            show_path_end(d, NULL, pen);
        }
    }
    show_frame_pop(d);
}

void look_grain(struct show_drawing *d, double x, double y, double length, double grain) {
    show_frame_push(d, x, y, 1 / show_frame_scale(d), grain);
    struct show_pen pen = SHOW_LINE(SHOW_INK, 0.35);
    double root = fmin(4, length / 4);
    show_segment(d, 0, 0, length, 0, pen);
    for (int i = -1; i <= 1; i++)
        show_segment(d, 0, 0, -root, i * root * 0.55, pen);
    show_frame_pop(d);
}
