#include "job/form.h"

#include "statement/statement.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LINE = 24, ROUND = 96 }; /* points of a part's line: across, all round */

/* ---- lines of parts ------------------------------------------------------------------------- */

/* Puts point i of the line onto the net. A point just outside (the net's edge runs in chords) is
 * drawn towards the middle until it is in. */
static bool place(struct form_part *p, size_t i, const struct plane_mesh *mesh, double x,
                  double y) {
    double at[2] = {x, y};
    for (int tries = 0; tries < 60; tries++) {
        int f = plane_mesh_locate(mesh, at, 0, p->w[i]);
        if (f >= 0) {
            p->triangle[i] = f;
            return true;
        }
        at[0] *= 0.99;
        at[1] *= 0.99;
    }
    return false;
}

static struct form_part *line_new(struct form *f, const struct part *p, size_t n,
                                  struct arena *arena) {
    struct form_part *l = &f->part[f->n_parts];
    *l = (struct form_part){.id = p->id,
                            .name = p->name ? p->name : p->id,
                            .kind = p->kind,
                            .footing = p->footing,
                            .side = p->side,
                            .width = p->width,
                            .thickness = p->thickness,
                            .n = n,
                            .triangle = ARENA_NEW(arena, int, n)};
    l->w = arena_alloc(arena, n, sizeof *l->w);
    return l->triangle && l->w ? l : NULL;
}

static double known(double v, double otherwise) {
    return isnan(v) ? otherwise : v;
}

/* A straight part: trimmed to the sheet, n points. */
static void add_straight(struct form *f, const struct part *p, const struct plane_mesh *mesh,
                         const double scale[2], size_t n, struct arena *arena) {
    double a = known(p->angle, p->kind == PART_LATH ? M_PI / 2 : 0), h = p->length / 2,
           x = known(p->x, 0), y = known(p->y, 0);
    double from[2] = {(x - h * cos(a)) * scale[0], (y - h * sin(a)) * scale[1]},
           to[2] = {(x + h * cos(a)) * scale[0], (y + h * sin(a)) * scale[1]};
    struct plane_mesh_piece *piece = ARENA_NEW(arena, struct plane_mesh_piece, mesh->nf);
    size_t pieces = piece && h > 0 ? plane_mesh_cut(mesh, from, to, piece, mesh->nf) : 0;
    struct form_part *l = pieces ? line_new(f, p, n, arena) : NULL;
    if (!l) return;
    double lo = piece[0].from + 1e-6, hi = piece[pieces - 1].to - 1e-6;
    for (size_t i = 0; i < n; i++) {
        double t = lo + (hi - lo) * (double)i / (double)(n - 1);
        if (!place(l, i, mesh, from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])))
            return;
    }
    f->n_parts++;
}

/* The point a length s along a closed path. */
static void along(const struct tuples *path, double s, double out[2]) {
    for (size_t turn = 0; turn < 2; turn++)
        for (size_t i = 0; i < path->n; i++) {
            const double *a = path->v + 2 * i, *b = path->v + 2 * ((i + 1) % path->n);
            double l = hypot(b[0] - a[0], b[1] - a[1]);
            if (s <= l && l > 0) {
                for (int c = 0; c < 2; c++)
                    out[c] = a[c] + s / l * (b[c] - a[c]);
                return;
            }
            s -= l;
        }
    memcpy(out, path->v, 2 * sizeof *out);
}

static double round_length(const struct tuples *path) {
    double sum = 0;
    for (size_t i = 0; i < path->n; i++) {
        const double *a = path->v + 2 * i, *b = path->v + 2 * ((i + 1) % path->n);
        sum += hypot(b[0] - a[0], b[1] - a[1]);
    }
    return sum;
}

/* A part along the edge: all round, or the stretch [from, from + share] of it. */
static void add_round(struct form *f, const struct part *p, const struct plane_mesh *mesh,
                      const double scale[2], double from, double share, struct arena *arena) {
    if (p->points.n < 3 || !(p->width > 0)) return;
    struct form_part *l = line_new(f, p, ROUND, arena);
    if (!l) return;
    double whole = round_length(&p->points);
    l->closed = share >= 1;
    for (size_t i = 0; i < ROUND; i++) {
        double at[2], t = share * (double)i / (double)(l->closed ? ROUND : ROUND - 1);
        along(&p->points, fmod(from + t, 1) * whole, at);
        if (!place(l, i, mesh, at[0] * scale[0], at[1] * scale[1])) return;
    }
    if (!(l->thickness > 0)) l->thickness = 0.2; /* paint */
    f->n_parts++;
}

static void add_ring(struct form *f, const struct part *p, const struct plane_mesh *mesh,
                     struct arena *arena) {
    double outer = p->diameter / 2, inner = known(p->inner_diameter, 0) / 2;
    if (!(outer > inner)) return;
    struct form_part *l = line_new(f, p, ROUND / 2, arena);
    if (!l) return;
    l->closed = true;
    l->width = outer - inner;
    for (size_t i = 0; i < l->n; i++) {
        double a = 2 * M_PI * (double)i / (double)l->n, r = (outer + inner) / 2;
        if (!place(l, i, mesh, known(p->x, 0) + r * cos(a), known(p->y, 0) + r * sin(a))) return;
    }
    f->n_parts++;
}

/* Pegs stand one at each end of the grip: points, not a line. */
static void add_pegs(struct form *f, const struct part *p, const struct part *grip,
                     const struct plane_mesh *mesh, struct arena *arena) {
    if (!grip || !(grip->length > 0) || !(p->diameter > 0) || !(p->length > 0)) return;
    struct form_part *l = line_new(f, p, 2, arena);
    if (!l) return;
    l->width = p->diameter;
    l->thickness = p->length;
    double a = known(grip->angle, 0), h = 0.42 * grip->length;
    for (size_t i = 0; i < 2; i++)
        if (!place(l, i, mesh, known(grip->x, 0) + (i ? h : -h) * cos(a),
                   known(grip->y, 0) + (i ? h : -h) * sin(a)))
            return;
    f->n_parts++;
}

/* Rods that do not go all round lie one after another; which begins where is not known, the last
 * is put about the left end. */
static void add_rims(struct form *f, const struct makings *all, const char *making,
                     const struct plane_mesh *mesh, const double scale[2], struct arena *arena) {
    const struct part *last = NULL;
    double sum = 0;
    for (const struct part *p = NULL; (p = makings_part(all, making, PART_RIM, p)); last = p)
        sum += p->length;
    if (!last || last->points.n < 3) return;
    bool whole = last == makings_part(all, making, PART_RIM, NULL);
    double from = 0;
    if (!whole) { /* where the path passes the left end */
        double best = INFINITY, s = 0;
        const struct tuples *o = &last->points;
        for (size_t i = 0; i < o->n; i++) {
            const double *a = o->v + 2 * i, *b = o->v + 2 * ((i + 1) % o->n);
            if (a[0] < best) {
                best = a[0];
                from = s;
            }
            s += hypot(b[0] - a[0], b[1] - a[1]);
        }
        from = from / s + last->length / sum / 2;
    }
    for (const struct part *p = NULL; (p = makings_part(all, making, PART_RIM, p));) {
        double share = whole ? 1 : p->length / sum;
        add_round(f, p, mesh, scale, fmod(from, 1), share, arena);
        from += share;
    }
}

int form_begin(struct form *out, const struct plane_mesh *mesh, const struct makings *makings,
               const char *making, const double scale[2], struct arena *arena, struct error *err) {
    *out = (struct form){.nv = mesh->nv, .nf = mesh->nf, .edge = mesh->loop_start[1], .note = ""};
    out->flat = arena_alloc(arena, mesh->nv, sizeof *out->flat);
    out->tri = arena_alloc(arena, mesh->nf, sizeof *out->tri);
    if (!out->flat || !out->tri) return fail_memory(err);
    memcpy(out->flat, mesh->p, mesh->nv * sizeof *out->flat);
    memcpy(out->tri, mesh->tri, mesh->nf * sizeof *out->tri);
    const struct part *grip = makings_part(makings, making, PART_GRIP, NULL),
                      *sheet = makings_part(makings, making, PART_SHEET, NULL);
    out->footing = sheet ? sheet->footing : FIELD_UNKNOWN;
    size_t all = 0; /* a line each at most */
    for (const struct part *p = NULL; (p = makings_part(makings, making, -1, p));)
        all++;
    out->part = ARENA_NEW(arena, struct form_part, all);
    if (!out->part) return fail_memory(err);
    for (const struct part *p = NULL; (p = makings_part(makings, making, -1, p));) {
        if (p->kind == PART_LATH) add_straight(out, p, mesh, scale, LINE, arena);
        if (p->kind == PART_GRIP) add_straight(out, p, mesh, scale, 2, arena);
        if (p->kind == PART_PAINT) add_round(out, p, mesh, scale, 0, 1, arena);
        if (p->kind == PART_CENTRE) add_ring(out, p, mesh, arena);
        if (p->kind == PART_PEG) add_pegs(out, p, grip, mesh, arena);
    }
    add_rims(out, makings, making, mesh, scale, arena);
    return 0;
}

/* ---- states --------------------------------------------------------------------------------- */

/* Axes at the middle of the sheet: the normal there, and x laid into its plane. */
static void axes(double out[3][3], const double n[3]) {
    double ex = n[0], l = 0;
    for (int c = 0; c < 3; c++) {
        out[2][c] = n[c];
        out[0][c] = (c == 0) - ex * n[c];
        l += out[0][c] * out[0][c];
    }
    for (int c = 0; c < 3; c++)
        out[0][c] /= sqrt(l);
    for (int c = 0; c < 3; c++)
        out[1][c] = n[(c + 1) % 3] * out[0][(c + 2) % 3] - n[(c + 2) % 3] * out[0][(c + 1) % 3];
}

static size_t middle_of(const struct form *f) {
    size_t best = 0;
    for (size_t v = 1; v < f->nv; v++)
        if (hypot(f->flat[v][0], f->flat[v][1]) < hypot(f->flat[best][0], f->flat[best][1]))
            best = v;
    return best;
}

struct form_state *form_state_add(struct form *f, struct body_sheet_model *model, const char *id,
                                  const char *title, struct arena *arena) {
    if (f->n_states == FORM_STATES) return NULL;
    struct form_state *s = &f->state[f->n_states];
    *s = (struct form_state){.id = arena_strdup(arena, id),
                             .title = arena_strdup(arena, title),
                             .day = NAN,
                             .moisture = NAN,
                             .x = arena_alloc(arena, f->nv, sizeof *s->x)};
    if (!s->id || !s->title || !s->x) return NULL;
    struct body_shell *shell = body_sheet_shell(model);
    const double(*x)[3] = body_shell_place(shell);
    size_t mid = middle_of(f);
    double a[3][3];
    axes(a, body_shell_normal(shell)[mid]);
    for (size_t v = 0; v < f->nv; v++)
        for (int c = 0; c < 3; c++)
            for (int k = 0; k < 3; k++)
                s->x[v][c] += a[c][k] * (x[v][k] - x[mid][k]);
    for (size_t v = 0; v < f->nv; v++)
        for (int c = 0; c < 2; c++)
            s->x[v][c] += f->flat[mid][c];
    f->n_states++;
    return s;
}

const struct form_state *form_state_named(const struct form *f, const char *id) {
    for (size_t i = 0; i < f->n_states; i++)
        if (strcmp(f->state[i].id, id) == 0) return &f->state[i];
    return NULL;
}

/* ---- JSON ----------------------------------------------------------------------------------- */

static double hundredth(double v) {
    return round(v * 100) / 100 + 0.0;
}

static double weight4(double v) {
    return round(v * 1e4) / 1e4;
}

static json_t *encode_state(const struct form *f, const struct form_state *s) {
    json_t *points = json_array(), *parts = json_array();
    for (size_t v = 0; v < f->nv; v++)
        json_array_append_new(points, json_pack("[f,f,f]", hundredth(s->x[v][0]),
                                                hundredth(s->x[v][1]), hundredth(s->x[v][2])));
    for (size_t i = 0; i < f->n_parts; i++)
        if (!s->without[f->part[i].kind]) json_array_append_new(parts, json_string(f->part[i].id));
    json_t *o = json_pack("{s:s,s:s,s:o,s:o}", "id", s->id, "title", s->title, "points", points,
                          "parts", parts);
    if (!isnan(s->day)) json_object_set_new(o, "day", json_real(s->day));
    if (!isnan(s->moisture)) json_object_set_new(o, "moisture", json_real(weight4(s->moisture)));
    return o;
}

static json_t *encode_part(const struct form_part *p) {
    json_t *at = json_array();
    for (size_t i = 0; i < p->n; i++)
        json_array_append_new(at, json_pack("[i,f,f,f]", p->triangle[i], weight4(p->w[i][0]),
                                            weight4(p->w[i][1]), weight4(p->w[i][2])));
    json_t *o = json_pack("{s:s,s:s,s:s,s:f,s:f,s:b,s:o}", "id", p->id, "kind", part_words[p->kind],
                          "name", p->name, "width", hundredth(p->width), "thickness",
                          hundredth(p->thickness), "closed", p->closed, "at", at);
    if (p->footing >= 0) json_object_set_new(o, "footing", json_string(footing_words[p->footing]));
    if (p->side >= 0) json_object_set_new(o, "side", json_string(side_words[p->side]));
    return o;
}

json_t *form_encode(const struct form *f) {
    json_t *flat = json_array(), *tri = json_array(), *edge = json_array(), *states = json_array(),
           *parts = json_array();
    for (size_t v = 0; v < f->nv; v++)
        json_array_append_new(
            flat, json_pack("[f,f]", hundredth(f->flat[v][0]), hundredth(f->flat[v][1])));
    for (size_t i = 0; i < f->nf; i++)
        json_array_append_new(tri, json_pack("[i,i,i]", f->tri[i][0], f->tri[i][1], f->tri[i][2]));
    for (size_t v = 0; v < f->edge; v++)
        json_array_append_new(edge, json_integer((json_int_t)v));
    for (size_t i = 0; i < f->n_states; i++)
        json_array_append_new(states, encode_state(f, &f->state[i]));
    for (size_t i = 0; i < f->n_parts; i++)
        json_array_append_new(parts, encode_part(&f->part[i]));
    json_t *o = json_pack("{s:s,s:f,s:o,s:o,s:o,s:o,s:o}", "note", f->note, "thickness",
                          hundredth(f->thickness), "flat", flat, "triangles", tri, "edge", edge,
                          "states", states, "parts", parts);
    if (f->footing >= 0) json_object_set_new(o, "footing", json_string(footing_words[f->footing]));
    return o;
}

static int no_form(struct error *err) {
    return fail(err, ERR_INPUT, "Work out Shape and strength again.",
                "The stored form cannot be read.");
}

static bool numbers(const json_t *row, double *out, size_t n) {
    if (json_array_size(row) != n) return false;
    for (size_t i = 0; i < n; i++) {
        const json_t *v = json_array_get(row, i);
        if (!json_is_number(v)) return false;
        out[i] = json_number_value(v);
    }
    return true;
}

static long word_of(const char *const *words, const json_t *v) {
    const char *text = json_string_value(v);
    for (long i = 0; text && words[i]; i++)
        if (strcmp(words[i], text) == 0) return i;
    return FIELD_UNKNOWN;
}

static double number_or_nan(const json_t *v) {
    return json_is_number(v) ? json_number_value(v) : NAN;
}

static int decode_part(struct form_part *p, const struct form *f, const json_t *o,
                       struct arena *arena, struct error *err) {
    const json_t *at = json_object_get(o, "at");
    *p = (struct form_part){.id = arena_strdup(arena, json_string_value(json_object_get(o, "id"))),
                            .kind = word_of(part_words, json_object_get(o, "kind")),
                            .footing = word_of(footing_words, json_object_get(o, "footing")),
                            .side = word_of(side_words, json_object_get(o, "side")),
                            .width = number_or_nan(json_object_get(o, "width")),
                            .thickness = number_or_nan(json_object_get(o, "thickness")),
                            .closed = json_is_true(json_object_get(o, "closed")),
                            .n = json_array_size(at),
                            .triangle = ARENA_NEW(arena, int, json_array_size(at))};
    p->w = arena_alloc(arena, p->n, sizeof *p->w);
    p->name = arena_strdup(arena, json_string_value(json_object_get(o, "name")));
    if (!p->id || !p->name || p->kind < 0 || p->n < 2) return no_form(err);
    if (!p->triangle || !p->w) return fail_memory(err);
    for (size_t i = 0; i < p->n; i++) {
        double row[4];
        if (!numbers(json_array_get(at, i), row, 4) || row[0] < 0 || row[0] >= (double)f->nf)
            return no_form(err);
        p->triangle[i] = (int)row[0];
        memcpy(p->w[i], row + 1, sizeof p->w[i]);
    }
    return 0;
}

static int decode_state(struct form_state *s, const struct form *f, const json_t *o,
                        struct arena *arena, struct error *err) {
    const json_t *points = json_object_get(o, "points"), *parts = json_object_get(o, "parts");
    *s = (struct form_state){.id = arena_strdup(arena, json_string_value(json_object_get(o, "id"))),
                             .day = number_or_nan(json_object_get(o, "day")),
                             .moisture = number_or_nan(json_object_get(o, "moisture")),
                             .x = arena_alloc(arena, f->nv, sizeof *s->x)};
    s->title = arena_strdup(arena, json_string_value(json_object_get(o, "title")));
    if (!s->x) return fail_memory(err);
    if (!s->id || !s->title || json_array_size(points) != f->nv) return no_form(err);
    for (size_t v = 0; v < f->nv; v++)
        if (!numbers(json_array_get(points, v), s->x[v], 3)) return no_form(err);
    for (size_t i = 0; i < f->n_parts; i++) {
        bool has = false;
        size_t k;
        const json_t *id;
        json_array_foreach(parts, k, id) has |=
            json_is_string(id) && strcmp(json_string_value(id), f->part[i].id) == 0;
        s->without[f->part[i].kind] |= !has;
    }
    return 0;
}

static int decode_net(struct form *f, const json_t *json, struct arena *arena, struct error *err) {
    const json_t *flat = json_object_get(json, "flat"), *tri = json_object_get(json, "triangles");
    f->nv = json_array_size(flat);
    f->nf = json_array_size(tri);
    f->edge = json_array_size(json_object_get(json, "edge"));
    f->flat = arena_alloc(arena, f->nv, sizeof *f->flat);
    f->tri = arena_alloc(arena, f->nf, sizeof *f->tri);
    if (!f->flat || !f->tri) return fail_memory(err);
    if (f->nv < 3 || f->nf < 1 || f->edge > f->nv) return no_form(err);
    for (size_t v = 0; v < f->nv; v++)
        if (!numbers(json_array_get(flat, v), f->flat[v], 2)) return no_form(err);
    for (size_t i = 0; i < f->nf; i++) {
        double row[3];
        if (!numbers(json_array_get(tri, i), row, 3)) return no_form(err);
        for (int c = 0; c < 3; c++) {
            if (!(row[c] >= 0 && row[c] < (double)f->nv)) return no_form(err);
            f->tri[i][c] = (int)row[c];
        }
    }
    return 0;
}

int form_decode(struct form *out, const json_t *json, struct arena *arena, struct error *err) {
    const json_t *parts = json_object_get(json, "parts"), *states = json_object_get(json, "states");
    const char *note = json_string_value(json_object_get(json, "note"));
    *out = (struct form){.note = arena_strdup(arena, note ? note : ""),
                         .thickness = number_or_nan(json_object_get(json, "thickness")),
                         .footing = word_of(footing_words, json_object_get(json, "footing"))};
    out->part = ARENA_NEW(arena, struct form_part, json_array_size(parts));
    if (!out->note || !out->part) return fail_memory(err);
    if (!(out->thickness > 0) || json_array_size(states) > FORM_STATES) return no_form(err);
    int rc = decode_net(out, json, arena, err);
    for (size_t i = 0; i < json_array_size(parts) && !rc; i++, out->n_parts++)
        rc = decode_part(&out->part[i], out, json_array_get(parts, i), arena, err);
    for (size_t i = 0; i < json_array_size(states) && !rc; i++, out->n_states++)
        rc = decode_state(&out->state[i], out, json_array_get(states, i), arena, err);
    return rc;
}
