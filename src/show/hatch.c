/* hatch: the cells of the five footings and the palette (LOOK.md, Hatches and Palette). */
#include "show/drawing.h"

/* Rows as in LOOK.md; the print theme is its "Paper": black on white, tints at most 15 %. */
static const struct show_rgb palette[SHOW_THEMES][SHOW_RAMP_0] = {
    [SHOW_DAY] = {[SHOW_PAPER] = {0xF7, 0xF1, 0xE3},
                  [SHOW_LEAF] = {0xFF, 0xFC, 0xF4},
                  [SHOW_BIRCH] = {0xE6, 0xDA, 0xC2},
                  [SHOW_BAST] = {0x8A, 0x6F, 0x3E},
                  [SHOW_BARK] = {0x5A, 0x41, 0x31},
                  [SHOW_INK] = {0x24, 0x1A, 0x14},
                  [SHOW_ALDER] = {0x8F, 0x32, 0x18},
                  [SHOW_SLOE] = {0x2F, 0x3A, 0x66}},
    [SHOW_LAMP] = {[SHOW_PAPER] = {0x1D, 0x17, 0x12},
                   [SHOW_LEAF] = {0x28, 0x20, 0x1A},
                   [SHOW_BIRCH] = {0x3A, 0x2F, 0x26},
                   [SHOW_BAST] = {0xB7, 0x9A, 0x66},
                   [SHOW_BARK] = {0xD9, 0xC7, 0xA8},
                   [SHOW_INK] = {0xF4, 0xEA, 0xD6},
                   [SHOW_ALDER] = {0xF0, 0xA0, 0x7E},
                   [SHOW_SLOE] = {0xB4, 0xBE, 0xF0}},
    [SHOW_SUN] = {[SHOW_PAPER] = {0xFF, 0xFF, 0xFF},
                  [SHOW_LEAF] = {0xFF, 0xFF, 0xFF},
                  [SHOW_BIRCH] = {0xFF, 0xFF, 0xFF},
                  [SHOW_BAST] = {0x4A, 0x3A, 0x1C},
                  [SHOW_BARK] = {0x2A, 0x1C, 0x12},
                  [SHOW_INK] = {0x00, 0x00, 0x00},
                  [SHOW_ALDER] = {0x6B, 0x1E, 0x08},
                  [SHOW_SLOE] = {0x16, 0x20, 0x4A}},
    [SHOW_PRINT] = {[SHOW_PAPER] = {0xFF, 0xFF, 0xFF},
                    [SHOW_LEAF] = {0xFF, 0xFF, 0xFF},
                    [SHOW_BIRCH] = {0xE6, 0xDF, 0xD0},
                    [SHOW_BAST] = {0x6B, 0x56, 0x2E},
                    [SHOW_BARK] = {0x3E, 0x2D, 0x22},
                    [SHOW_INK] = {0x00, 0x00, 0x00},
                    [SHOW_ALDER] = {0x8F, 0x32, 0x18},
                    [SHOW_SLOE] = {0x2F, 0x3A, 0x66}},
};

struct show_rgb show_rgb(enum show_colour colour, enum show_theme theme) {
    if (colour < SHOW_RAMP_0) return palette[theme][colour];
    struct show_rgb a = palette[theme][SHOW_LEAF], b = palette[theme][SHOW_BARK];
    int i = (int)colour - SHOW_RAMP_0;
    return (struct show_rgb){(unsigned char)(a.r + (b.r - a.r) * i / 6),
                             (unsigned char)(a.g + (b.g - a.g) * i / 6),
                             (unsigned char)(a.b + (b.b - a.b) * i / 6)};
}

static void to(struct show_cell *c, char kind, double x, double y) {
    c->steps[c->n++] = (struct show_step){kind, {x, y}};
}

static void curve(struct show_cell *c, double x1, double y1, double x2, double y2, double x,
                  double y) {
    c->steps[c->n++] = (struct show_step){SHOW_CURVE, {x1, y1, x2, y2, x, y}};
}

static void stroke(struct show_cell *c, double x1, double y1, double x2, double y2) {
    to(c, SHOW_MOVE, x1, y1);
    to(c, SHOW_LINE_TO, x2, y2);
}

/* A lens about (x, y): two arcs that meet in points, long axis across the grain. */
static void lens(struct show_cell *c, double x, double y, double along, double across) {
    double w = along / 2, h = across / 2;
    to(c, SHOW_MOVE, x, y - h);
    /* Control points at 4/3 of the half width make the arc's middle touch it. */
    curve(c, x + w * 4 / 3, y - h / 3, x + w * 4 / 3, y + h / 3, x, y + h);
    curve(c, x - w * 4 / 3, y + h / 3, x - w * 4 / 3, y - h / 3, x, y - h);
    c->steps[c->n++] = (struct show_step){.kind = SHOW_CLOSE};
}

/* A pair of strokes 1.5 long and 0.75 apart about (x, y). */
static void pair(struct show_cell *c, double x, double y, int along) {
    for (int side = -1; side <= 1; side += 2) {
        double off = side * 0.375;
        if (along)
            stroke(c, x - 0.75, y + off, x + 0.75, y + off);
        else
            stroke(c, x + off, y - 0.75, x + off, y + 0.75);
    }
}

static void ring(struct show_cell *c, double x, double y, double r) {
    const double k = 0.5522847498 * r; /* Bezier quarter circle, 4/3 (sqrt 2 - 1) */
    to(c, SHOW_MOVE, x + r, y);
    curve(c, x + r, y + k, x + k, y + r, x, y + r);
    curve(c, x - k, y + r, x - r, y + k, x - r, y);
    curve(c, x - r, y - k, x - k, y - r, x, y - r);
    curve(c, x + k, y - r, x + r, y - k, x + r, y);
    c->steps[c->n++] = (struct show_step){.kind = SHOW_CLOSE};
}

/* One open loop standing on (x, y), 4 wide: up, round over itself, and down to the next. */
static void loop(struct show_cell *c, double x, double y) {
    to(c, SHOW_MOVE, x, y + 0.4);
    curve(c, x + 3.9, y + 0.3, x + 3.7, y + 3.0, x + 2, y + 3.0);
    curve(c, x + 0.3, y + 3.0, x + 0.1, y + 0.3, x + 4, y + 0.4);
}

void show_hatch_cell(struct show_cell *c, enum show_hatch hatch) {
    *c = (struct show_cell){.line = 0.25};
    switch (hatch) {
    case SHOW_HATCH_SEEN:
        c->width = 3, c->height = 5, c->line = 0, c->tinted = true;
        lens(c, 0.75, 1.25, 0.75, 2.5);
        lens(c, 2.25, 3.75, 0.75, 2.5);
        break;
    case SHOW_HATCH_WORKED_OUT:
        c->width = 4, c->height = 4;
        pair(c, 1, 1, 1);
        pair(c, 3, 1, 0);
        pair(c, 1, 3, 0);
        pair(c, 3, 3, 1);
        break;
    case SHOW_HATCH_PARALLEL:
        c->width = 4, c->height = 7;
        loop(c, 0, 0);
        loop(c, -2, 3.5);
        loop(c, 2, 3.5);
        break;
    case SHOW_HATCH_GUESSED:
        c->width = 6, c->height = 5;
        ring(c, 1.5, 1.25, 0.7);
        ring(c, 4.5, 3.75, 0.7);
        break;
    case SHOW_HATCH_MODERN:
        c->width = 5, c->height = 5, c->line = 0.4, c->upright = true;
        to(c, SHOW_MOVE, 1.5, 1.75);
        to(c, SHOW_LINE_TO, 1.5, 3.25);
        to(c, SHOW_LINE_TO, 3.5, 3.25);
        to(c, SHOW_LINE_TO, 3.5, 1.75);
        break;
    default:
        break;
    }
}
