#include "show/drawing.h"

#include "base/arena.h"
#include "base/mem.h"
#include "show/out.h"

#include <assert.h>
#include <math.h>
#include <string.h>

enum { FRAMES = 16 };

/* (x, y) of a frame lies at (a x + c y + e, b x + d y + f) on the paper. */
struct frame {
    double a, b, c, d, e, f;
};

struct show_drawing {
    double width, height;
    const char *title, *alt;
    struct error error;
    struct arena *arena; /* texts */
    struct show_op *ops;
    size_t n, room;
    struct show_step *steps;
    size_t n_steps, steps_room;
    size_t path; /* first step of the path being made */
    struct frame frames[FRAMES + 1];
    int depth, groups, windows;
};

struct show_drawing *show_drawing_new(double width, double height) {
    struct show_drawing *d = MEM_NEW(struct show_drawing, 1);
    if (!d) return NULL;
    d->arena = arena_new();
    if (!d->arena) {
        mem_free(d);
        return NULL;
    }
    d->width = width;
    d->height = height;
    d->frames[0] = (struct frame){.a = 1, .d = 1};
    return d;
}

void show_drawing_free(struct show_drawing *d) {
    if (!d) return;
    arena_free(d->arena);
    mem_free(d->ops);
    mem_free(d->steps);
    mem_free(d);
}

int show_drawing_status(const struct show_drawing *d, struct error *err) {
    if (!d) return fail_memory(err);
    if (d->error.code == ERR_NONE) {
        assert(d->groups == 0 && d->windows == 0 && d->depth == 0);
        return 0;
    }
    if (err) *err = d->error;
    return (int)d->error.code;
}

double show_drawing_width(const struct show_drawing *d) {
    return d ? d->width : 0;
}
double show_drawing_height(const struct show_drawing *d) {
    return d ? d->height : 0;
}
const char *show_drawing_title(const struct show_drawing *d) {
    return d ? d->title : NULL;
}
const char *show_drawing_alt(const struct show_drawing *d) {
    return d ? d->alt : NULL;
}

static bool is_dead(const struct show_drawing *d) {
    return !d || d->error.code != ERR_NONE;
}

void show_drawing_fail(struct show_drawing *d, enum error_code code, const char *remedy,
                       const char *message) {
    if (!is_dead(d)) fail(&d->error, code, remedy, "%s", message);
}

/* Copies a text into the drawing; NULL stays NULL. */
static const char *keep(struct show_drawing *d, const char *text) {
    if (!text) return NULL;
    const char *copy = arena_strdup(d->arena, text);
    if (!copy) fail_memory(&d->error);
    return copy;
}

/* Copies a text that will be laid out: control characters become spaces, broken UTF-8 U+FFFD. */
static const char *keep_clean(struct show_drawing *d, const char *text) {
    struct show_out out = {0};
    unsigned c;
    for (size_t step; (step = show_utf8_next(text, &c)); text += step)
        show_out_codepoint(&out, c < 0x20 || (c >= 0x7F && c < 0xA0) ? ' ' : c);
    const char *copy = out.failed || !out.bytes ? NULL : keep(d, out.bytes);
    if (!copy) fail_memory(&d->error);
    show_out_deinit(&out);
    return copy;
}

void show_drawing_name(struct show_drawing *d, const char *title, const char *alt) {
    if (is_dead(d)) return;
    d->title = keep(d, title);
    d->alt = keep(d, alt);
}

static struct show_op *add(struct show_drawing *d, enum show_op_kind kind, const char *id) {
    if (is_dead(d)) return NULL;
    if (d->n == d->room) {
        size_t room = d->room ? 2 * d->room : 64;
        struct show_op *ops = mem_resize(d->ops, room, sizeof *ops);
        if (!ops) return fail_memory(&d->error), NULL;
        d->ops = ops;
        d->room = room;
    }
    struct show_op *op = &d->ops[d->n++];
    *op = (struct show_op){.kind = kind, .id = keep(d, id)};
    return op;
}

static void step(struct show_drawing *d, char kind, int points, const double *xy) {
    if (is_dead(d)) return;
    if (d->n_steps == d->steps_room) {
        size_t room = d->steps_room ? 2 * d->steps_room : 256;
        struct show_step *steps = mem_resize(d->steps, room, sizeof *steps);
        if (!steps) {
            fail_memory(&d->error);
            return;
        }
        d->steps = steps;
        d->steps_room = room;
    }
    struct show_step *s = &d->steps[d->n_steps++];
    *s = (struct show_step){.kind = kind};
    for (int i = 0; i < points; i++) {
        double x = xy[2 * i], y = xy[2 * i + 1];
        show_frame_point(d, &x, &y);
        if (!isfinite(x) || !isfinite(y)) {
            fail(&d->error, ERR_RANGE, "Look at the sizes and places that were entered.",
                 "A point of the drawing has no place (not a number).");
            return;
        }
        s->xy[2 * i] = x;
        s->xy[2 * i + 1] = y;
    }
}

/* Opens a frame: `inner` within the present one. */
static void push(struct show_drawing *d, struct frame inner) {
    if (is_dead(d)) return;
    assert(d->depth < FRAMES);
    struct frame o = d->frames[d->depth];
    d->frames[++d->depth] = (struct frame){.a = o.a * inner.a + o.c * inner.b,
                                           .b = o.b * inner.a + o.d * inner.b,
                                           .c = o.a * inner.c + o.c * inner.d,
                                           .d = o.b * inner.c + o.d * inner.d,
                                           .e = o.a * inner.e + o.c * inner.f + o.e,
                                           .f = o.b * inner.e + o.d * inner.f + o.f};
}

void show_frame_push(struct show_drawing *d, double x, double y, double scale, double turn) {
    double c = scale * cos(turn), s = scale * sin(turn);
    push(d, (struct frame){.a = c, .b = s, .c = -s, .d = c, .e = x, .f = y});
}

void show_stretch_push(struct show_drawing *d, double along, double up) {
    push(d, (struct frame){.a = along, .d = up});
}

void show_frame_pop(struct show_drawing *d) {
    if (is_dead(d)) return;
    assert(d->depth > 0);
    d->depth--;
}

double show_frame_scale(const struct show_drawing *d) {
    if (!d) return 1;
    const struct frame *f = &d->frames[d->depth];
    return sqrt(fabs(f->a * f->d - f->b * f->c));
}

double show_frame_turn(const struct show_drawing *d) {
    return d ? atan2(d->frames[d->depth].b, d->frames[d->depth].a) : 0;
}

void show_frame_point(const struct show_drawing *d, double *x, double *y) {
    if (!d) return;
    const struct frame *f = &d->frames[d->depth];
    double px = *x, py = *y;
    *x = f->a * px + f->c * py + f->e;
    *y = f->b * px + f->d * py + f->f;
}

void show_group_begin(struct show_drawing *d, const struct show_group *group) {
    struct show_op *op = add(d, SHOW_OP_GROUP, group->id);
    if (!op) return;
    op->group = *group;
    op->group.id = op->id;
    op->group.title = keep(d, group->title);
    op->group.alt = keep(d, group->alt);
    op->group.outline = keep(d, group->outline);
    op->group.link = keep(d, group->link);
    d->groups++;
}

void show_group_end(struct show_drawing *d) {
    if (!add(d, SHOW_OP_GROUP_END, NULL)) return;
    assert(d->groups > 0);
    d->groups--;
}

void show_path_begin(struct show_drawing *d) {
    if (!is_dead(d)) d->path = d->n_steps;
}

void show_move_to(struct show_drawing *d, double x, double y) {
    step(d, SHOW_MOVE, 1, (double[]){x, y});
}

void show_line_to(struct show_drawing *d, double x, double y) {
    step(d, SHOW_LINE_TO, 1, (double[]){x, y});
}

void show_curve_to(struct show_drawing *d, double x1, double y1, double x2, double y2, double x,
                   double y) {
    step(d, SHOW_CURVE, 3, (double[]){x1, y1, x2, y2, x, y});
}

void show_close(struct show_drawing *d) {
    step(d, SHOW_CLOSE, 0, NULL);
}

/* Adds an op that takes over the path made since show_path_begin. */
static struct show_op *take_path(struct show_drawing *d, enum show_op_kind kind, const char *id) {
    struct show_op *op = add(d, kind, id);
    if (!op) return NULL;
    op->first = d->path;
    op->n = d->n_steps - d->path;
    d->path = d->n_steps;
    return op;
}

void show_path_end(struct show_drawing *d, const char *id, struct show_pen pen) {
    if (is_dead(d) || d->n_steps == d->path) return;
    struct show_op *op = take_path(d, SHOW_OP_PATH, id);
    if (op) op->pen = pen;
}

void show_window_begin(struct show_drawing *d) {
    if (take_path(d, SHOW_OP_WINDOW, NULL)) d->windows++;
}

void show_window_end(struct show_drawing *d) {
    if (!add(d, SHOW_OP_WINDOW_END, NULL)) return;
    assert(d->windows > 0);
    d->windows--;
}

void show_hatch_end(struct show_drawing *d, const char *id, enum show_hatch hatch, double x,
                    double y, double grain) {
    if (is_dead(d) || hatch == SHOW_NO_HATCH || d->n_steps == d->path) return;
    struct show_op *op = take_path(d, SHOW_OP_HATCH, id);
    if (!op) return;
    show_frame_point(d, &x, &y);
    op->hatch = hatch;
    op->x = x;
    op->y = y;
    op->turn = hatch == SHOW_HATCH_MODERN ? 0 : grain + show_frame_turn(d);
}

void show_segment(struct show_drawing *d, double x1, double y1, double x2, double y2,
                  struct show_pen pen) {
    show_path_begin(d);
    show_move_to(d, x1, y1);
    show_line_to(d, x2, y2);
    show_path_end(d, NULL, pen);
}

void show_polyline(struct show_drawing *d, const char *id, size_t n, const double *xy, bool closed,
                   struct show_pen pen) {
    show_path_begin(d);
    for (size_t i = 0; i < n; i++)
        i ? show_line_to(d, xy[2 * i], xy[2 * i + 1]) : show_move_to(d, xy[0], xy[1]);
    if (closed && n) show_close(d);
    show_path_end(d, id, pen);
}

void show_ring(struct show_drawing *d, size_t n, const double *xy) {
    for (size_t i = 0; i < n; i++)
        i ? show_line_to(d, xy[2 * i], xy[2 * i + 1]) : show_move_to(d, xy[0], xy[1]);
    if (n) show_close(d);
}

void show_rectangle(struct show_drawing *d, const char *id, double x, double y, double width,
                    double height, struct show_pen pen) {
    const double xy[] = {x, y, x + width, y, x + width, y + height, x, y + height};
    show_polyline(d, id, 4, xy, true, pen);
}

void show_circle(struct show_drawing *d, const char *id, double x, double y, double radius,
                 struct show_pen pen) {
    struct show_op *op = add(d, SHOW_OP_CIRCLE, id);
    if (!op) return;
    show_frame_point(d, &x, &y);
    op->x = x;
    op->y = y;
    op->size = radius * show_frame_scale(d);
    op->pen = pen;
    if (!isfinite(op->x + op->y + op->size))
        fail(&d->error, ERR_RANGE, "Look at the sizes and places that were entered.",
             "A circle of the drawing has no place or size (not a number).");
}

void show_text(struct show_drawing *d, const char *id, double x, double y, struct show_type type,
               const char *text) {
    if (!text || !*text) return;
    struct show_op *op = add(d, SHOW_OP_TEXT, id);
    if (!op) return;
    show_frame_point(d, &x, &y);
    if (type.colour == SHOW_NONE) type.colour = SHOW_INK;
    op->x = x;
    op->y = y;
    op->type = type;
    op->text = keep_clean(d, text);
}

bool show_is_png(const void *bytes, size_t n) {
    return n > 24 && !memcmp(bytes, "\x89PNG\r\n\x1a\n", 8);
}

void show_photo(struct show_drawing *d, const char *id, double x, double y, double width,
                double height, const void *bytes, size_t n) {
    struct show_op *op = add(d, SHOW_OP_PHOTO, id);
    if (!op) return;
    show_frame_point(d, &x, &y);
    op->x = x;
    op->y = y;
    op->width = width * show_frame_scale(d);
    op->height = height * show_frame_scale(d);
    op->text = arena_copy(d->arena, bytes, n);
    op->n = n;
    if (!op->text) fail_memory(&d->error);
}

/* Copies one op of another drawing, moved. */
static void place_op(struct show_drawing *d, const struct show_drawing *other,
                     const struct show_op *from, double x, double y) {
    size_t first = d->n_steps;
    for (size_t i = 0; from->kind != SHOW_OP_PHOTO && i < from->n; i++) {
        const struct show_step *s = &other->steps[from->first + i];
        double xy[6];
        for (int k = 0; k < 6; k++)
            xy[k] = s->xy[k] + (k % 2 ? y : x);
        step(d, s->kind, s->kind == SHOW_CURVE ? 3 : s->kind == SHOW_CLOSE ? 0 : 1, xy);
    }
    struct show_op *op = add(d, from->kind, NULL);
    if (!op) return;
    *op = *from;
    op->id = keep(d, from->id);
    op->first = first;
    op->x += x;
    op->y += y;
    if (from->kind == SHOW_OP_PHOTO)
        op->text = arena_copy(d->arena, from->text, from->n);
    else
        op->text = keep(d, from->text);
    op->group = (struct show_group){
        .id = op->id, .layer = from->group.layer, .link = keep(d, from->group.link)};
    if (from->text && !op->text) fail_memory(&d->error);
}

void show_drawing_place(struct show_drawing *d, const struct show_drawing *other, double x,
                        double y) {
    if (is_dead(d)) return;
    if (is_dead(other)) {
        show_drawing_status(other, &d->error);
        return;
    }
    int depth = d->depth; /* paper coordinates: the frames of `d` do not count */
    struct frame now = d->frames[0];
    d->depth = 0;
    d->frames[0] = (struct frame){.a = 1, .d = 1};
    for (size_t i = 0; i < other->n; i++)
        place_op(d, other, &other->ops[i], x, y);
    d->path = d->n_steps;
    d->frames[0] = now;
    d->depth = depth;
}

const struct show_op *show_drawing_ops(const struct show_drawing *d, size_t *n) {
    *n = d ? d->n : 0;
    return d ? d->ops : NULL;
}

const struct show_step *show_drawing_steps(const struct show_drawing *d) {
    return d ? d->steps : NULL;
}
