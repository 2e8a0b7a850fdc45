/* Closed surfaces of a form: the sheet with its thickness, laths and rods swept along their lines,
 * the grip as a straight bar from seat to seat. */
#include "job/form.h"

#include <math.h>
#include <string.h>

enum { SECTION = 8 };

struct making_of {
    const struct form *f;
    const struct form_state *s;
    double (*normal)[3]; /* [nv] */
    struct arena *arena;
};

static void cross(double out[3], const double a[3], const double b[3]) {
    for (int c = 0; c < 3; c++)
        out[c] = a[(c + 1) % 3] * b[(c + 2) % 3] - a[(c + 2) % 3] * b[(c + 1) % 3];
}

static void unit(double v[3]) {
    double l = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
    for (int c = 0; c < 3 && l > 0; c++)
        v[c] /= l;
}

static void less(double out[3], const double a[3], const double b[3]) {
    for (int c = 0; c < 3; c++)
        out[c] = a[c] - b[c];
}

static int normals(struct making_of *m, struct error *err) {
    m->normal = arena_alloc(m->arena, m->f->nv, sizeof *m->normal);
    if (!m->normal) return fail_memory(err);
    for (size_t i = 0; i < m->f->nf; i++) {
        const int *t = m->f->tri[i];
        double a[3], b[3], n[3];
        less(a, m->s->x[t[1]], m->s->x[t[0]]);
        less(b, m->s->x[t[2]], m->s->x[t[0]]);
        cross(n, a, b);
        for (int k = 0; k < 3; k++)
            for (int c = 0; c < 3; c++)
                m->normal[t[k]][c] += n[c];
    }
    for (size_t v = 0; v < m->f->nv; v++)
        unit(m->normal[v]);
    return 0;
}

static int room(struct form_surface *out, size_t points, size_t triangles, struct arena *arena,
                struct error *err) {
    out->points = ARENA_NEW(arena, double, 3 * points);
    out->triangles = ARENA_NEW(arena, uint32_t, 3 * triangles);
    return out->points && out->triangles ? 0 : fail_memory(err);
}

static void triangle(struct form_surface *s, size_t a, size_t b, size_t c) {
    uint32_t *t = s->triangles + 3 * s->n_triangles++;
    t[0] = (uint32_t)a;
    t[1] = (uint32_t)b;
    t[2] = (uint32_t)c;
}

static void quad(struct form_surface *s, size_t a, size_t b, size_t c, size_t d) {
    triangle(s, a, b, c);
    triangle(s, a, c, d);
}

/* Outer face, inner face and the wall round the edge. */
static int sheet(struct form_surface *out, const struct making_of *m, struct error *err) {
    const struct form *f = m->f;
    size_t nv = f->nv;
    *out = (struct form_surface){.id = "sheet", .name = "the sheet", .footing = f->footing};
    int rc = room(out, 2 * nv, 2 * f->nf + 2 * f->edge, m->arena, err);
    if (rc) return rc;
    out->n_points = 2 * nv;
    for (size_t v = 0; v < nv; v++)
        for (int c = 0; c < 3; c++) {
            double half = f->thickness / 2 * m->normal[v][c];
            out->points[3 * v + (size_t)c] = m->s->x[v][c] + half;
            out->points[3 * (nv + v) + (size_t)c] = m->s->x[v][c] - half;
        }
    for (size_t i = 0; i < f->nf; i++) {
        const int *t = f->tri[i];
        triangle(out, (size_t)t[0], (size_t)t[1], (size_t)t[2]);
        triangle(out, nv + (size_t)t[2], nv + (size_t)t[1], nv + (size_t)t[0]);
    }
    for (size_t i = 0; i < f->edge; i++) {
        size_t k = (i + 1) % f->edge;
        quad(out, nv + i, nv + k, k, i);
    }
    return 0;
}

/* Place and normal of the sheet at a point of a line. */
static void at(const struct making_of *m, const struct form_part *p, size_t i, double x[3],
               double n[3]) {
    const int *t = m->f->tri[p->triangle[i]];
    for (int c = 0; c < 3; c++) {
        x[c] = n[c] = 0;
        for (int k = 0; k < 3; k++) {
            x[c] += p->w[i][k] * m->s->x[t[k]][c];
            n[c] += p->w[i][k] * m->normal[t[k]][c];
        }
    }
    unit(n);
}

/* A section as a closed run of (sideways, upward) parts of width and thickness: a rod has its
 * corners off. */
static size_t section(const struct form_part *p, double out[SECTION][2]) {
    static const double box[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    static const double rod[SECTION][2] = {{-0.5, -1}, {0.5, -1}, {1, -0.5}, {1, 0.5},
                                           {0.5, 1},   {-0.5, 1}, {-1, 0.5}, {-1, -0.5}};
    bool is_rod = p->kind == PART_RIM;
    memcpy(out, is_rod ? &rod[0][0] : &box[0][0], is_rod ? sizeof rod : sizeof box);
    return is_rod ? SECTION : 4;
}

/* Sweeps the part's section along its line, `up` mm off the middle of the sheet. */
static void sweep(struct form_surface *out, const struct making_of *m, const struct form_part *p,
                  double width, double thickness, double up) {
    double profile[SECTION][2];
    size_t k = section(p, profile), first = out->n_points;
    for (size_t i = 0; i < p->n; i++) {
        double x[3], n[3], before[3], after[3], t[3], side[3], ignored[3];
        at(m, p, i, x, n);
        at(m, p, p->closed ? (i + p->n - 1) % p->n : i - (i > 0), before, ignored);
        at(m, p, p->closed ? (i + 1) % p->n : i + (i + 1 < p->n), after, ignored);
        less(t, after, before);
        unit(t);
        cross(side, n, t);
        unit(side);
        for (size_t j = 0; j < k; j++, out->n_points++)
            for (int c = 0; c < 3; c++)
                out->points[3 * out->n_points + (size_t)c] =
                    x[c] + side[c] * profile[j][0] * width / 2 +
                    n[c] * (up + profile[j][1] * thickness / 2);
    }
    size_t steps = p->closed ? p->n : p->n - 1;
    for (size_t i = 0; i < steps; i++)
        for (size_t j = 0; j < k; j++) {
            size_t a = first + i * k, b = first + (i + 1) % p->n * k, l = (j + 1) % k;
            quad(out, a + j, a + l, b + l, b + j);
        }
    for (size_t j = 1; j + 1 < k && !p->closed; j++) {
        size_t end = first + (p->n - 1) * k;
        triangle(out, first, first + j + 1, first + j);
        triangle(out, end, end + j, end + j + 1);
    }
}

/* A straight bar under the sheet from seat to seat, its ends against the sheet. */
static void bar(struct form_surface *out, const struct making_of *m, const struct form_part *p) {
    double x[2][3], n[2][3], t[3], up[3], side[3];
    double off = (m->f->thickness + p->thickness) / 2 * (p->side == SIDE_OUTER ? 1 : -1);
    for (size_t i = 0; i < 2; i++)
        at(m, p, i ? p->n - 1 : 0, x[i], n[i]);
    less(t, x[1], x[0]);
    unit(t);
    for (int c = 0; c < 3; c++)
        up[c] = n[0][c] + n[1][c];
    cross(side, up, t);
    unit(side);
    cross(up, t, side);
    static const double corner[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    for (int i = 0; i < 2; i++)
        for (int j = 0; j < 4; j++, out->n_points++)
            for (int c = 0; c < 3; c++)
                out->points[3 * out->n_points + (size_t)c] =
                    x[i][c] + side[c] * corner[j][0] * p->width / 2 +
                    up[c] * (off + corner[j][1] * p->thickness / 2);
    for (size_t j = 0; j < 4; j++)
        quad(out, j, (j + 1) % 4, 4 + (j + 1) % 4, 4 + j);
    quad(out, 3, 2, 1, 0);
    quad(out, 4, 5, 6, 7);
}

/* Upright pegs through the sheet at the points of the line. */
static void pegs(struct form_surface *out, const struct making_of *m, const struct form_part *p) {
    for (size_t i = 0; i < p->n; i++) {
        double x[3], n[3], a[3] = {1, 0, 0}, b[3];
        size_t first = out->n_points;
        at(m, p, i, x, n);
        cross(b, n, a);
        unit(b);
        cross(a, b, n);
        for (int end = 0; end < 2; end++)
            for (int j = 0; j < SECTION; j++, out->n_points++)
                for (int c = 0; c < 3; c++)
                    out->points[3 * out->n_points + (size_t)c] =
                        x[c] +
                        p->width / 2 *
                            (a[c] * cos(2 * M_PI * j / SECTION) +
                             b[c] * sin(2 * M_PI * j / SECTION)) +
                        n[c] * (end - 0.5) * p->thickness;
        for (size_t j = 0; j < SECTION; j++) {
            size_t l = (j + 1) % SECTION;
            quad(out, first + j, first + l, first + SECTION + l, first + SECTION + j);
        }
        for (size_t j = 1; j + 1 < SECTION; j++) {
            triangle(out, first, first + j + 1, first + j);
            triangle(out, first + SECTION, first + SECTION + j, first + SECTION + j + 1);
        }
    }
}

/* What is between two faces is cut in halves, one on each; what lies within is about the middle. */
static int one(struct form_surface *out, const struct making_of *m, const struct form_part *p,
               struct error *err) {
    *out = (struct form_surface){.id = p->id, .name = p->name, .footing = p->footing};
    int rc = room(out, 2 * SECTION * p->n, 4 * SECTION * (p->n + 1), m->arena, err);
    if (rc) return rc;
    double sheet_half = m->f->thickness / 2;
    if (p->kind == PART_GRIP) {
        bar(out, m, p);
    } else if (p->kind == PART_PEG) {
        pegs(out, m, p);
    } else if (p->side == SIDE_BOTH) {
        double half = fmin(p->thickness, p->width / 2);
        sweep(out, m, p, p->width, half, sheet_half + half / 2);
        sweep(out, m, p, p->width, half, -sheet_half - half / 2);
    } else {
        double up = p->side == SIDE_OUTER   ? sheet_half + p->thickness / 2
                    : p->side == SIDE_INNER ? -sheet_half - p->thickness / 2
                                            : 0;
        sweep(out, m, p, p->width, p->thickness, up);
    }
    return 0;
}

int form_surfaces(struct form_surface **out, size_t *n, const struct form *f,
                  const struct form_state *s, struct arena *arena, struct error *err) {
    struct making_of m = {.f = f, .s = s, .arena = arena};
    *n = 0;
    *out = ARENA_NEW(arena, struct form_surface, f->n_parts + 1);
    int rc = *out ? normals(&m, err) : fail_memory(err);
    if (!rc) rc = sheet(&(*out)[0], &m, err);
    if (!rc) *n = 1;
    for (size_t i = 0; i < f->n_parts && !rc; i++) {
        if (s->without[f->part[i].kind]) continue;
        rc = one(&(*out)[*n], &m, &f->part[i], err);
        if (!rc) (*n)++;
    }
    return rc;
}
