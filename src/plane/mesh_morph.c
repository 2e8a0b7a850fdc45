/* Carrying a mesh to a neighbouring outline without changing how its triangles hang together. */
#include "base/mem.h"
#include "plane/mesh_parts.h"

#include <math.h>
#include <string.h>

/* Arc lengths of the corners of a loop. */
static size_t corners_of(const struct mesh_walk *w, double least, double *s) {
    size_t n = 0;
    for (size_t i = 0; i < w->n; i++)
        if (fabs(mesh_walk_turn(w, i)) >= least) s[n++] = w->s[i];
    return n;
}

/* Places the outline vertices of loop l: between matching corners in proportion to arc length, else
 * in proportion along the whole loop. */
static int place_loop(double (*p)[2], const struct plane_mesh *m, size_t l,
                      const struct mesh_walk *walk, struct arena *arena, struct error *err) {
    size_t b = m->loop_start[l], n = m->loop_start[l + 1] - b, have = 0;
    double *s = ARENA_NEW(arena, double, walk->n + 1);
    size_t *at = ARENA_NEW(arena, size_t, n + 1);
    if (!s || !at) return fail_memory(err);
    for (size_t i = 0; i < n; i++)
        if (m->corner[b + i]) at[have++] = i;
    size_t corners = corners_of(walk, 25 * M_PI / 180, s);
    double whole = walk->s[walk->n];
    if (have == 0 || have != corners) {
        for (size_t i = 0; i < n; i++)
            mesh_walk_at(walk, m->loop_at[b + i] * whole, p[b + i]);
        return 0;
    }
    size_t shift = 0; /* the corner next along the new loop to the mesh's first one */
    for (size_t k = 1; k < corners; k++) {
        double want = m->loop_at[b + at[0]], d = fabs(s[k] / whole - want),
               e = fabs(s[shift] / whole - want);
        if (fmin(d, 1 - d) < fmin(e, 1 - e)) shift = k;
    }
    for (size_t k = 0; k < have; k++) {
        size_t i0 = at[k], i1 = k + 1 < have ? at[k + 1] : at[0] + n;
        double s0 = s[(k + shift) % have], s1 = s[(k + 1 + shift) % have];
        if (s1 <= s0) s1 += whole;
        double f0 = m->loop_at[b + i0], f1 = m->loop_at[b + i1 % n];
        if (f1 <= f0) f1 += 1;
        for (size_t i = i0; i < i1; i++) {
            double f = m->loop_at[b + i % n];
            if (f < f0) f += 1;
            mesh_walk_at(walk, s0 + (f - f0) / (f1 - f0) * (s1 - s0), p[b + i % n]);
        }
    }
    return 0;
}

/* Solves the net of springs (weights: inverse edge lengths squared) for the shift of the inner
 * vertices by Gauss-Seidel with over-relaxation: a smooth shift in, a smooth shift out. */
static int spread(double (*d)[2], const struct plane_mesh *m, struct arena *arena,
                  struct error *err) {
    struct mesh_star star = {ARENA_NEW(arena, int, m->nv + 1), ARENA_NEW(arena, int, 3 * m->nf)};
    if (!star.start || !star.list) return fail_memory(err);
    mesh_star_fill(&star, m->nv, m->nf, (const int(*)[3])m->tri);
    double most = 0, scale = 0;
    for (size_t v = 0; v < m->nb; v++)
        scale = fmax(scale, fmax(fabs(d[v][0]), fabs(d[v][1])));
    for (int sweep = 0; sweep < 400; sweep++) {
        most = 0;
        for (size_t v = m->nb; v < m->nv; v++) {
            double sum = 0, to[2] = {0, 0};
            for (int k = star.start[v]; k < star.start[v + 1]; k++)
                for (int i = 0; i < 3; i++) {
                    int u = m->tri[star.list[k]][i];
                    if (u == (int)v) continue;
                    double e[2] = {m->p[u][0] - m->p[v][0], m->p[u][1] - m->p[v][1]};
                    double w = 1 / (e[0] * e[0] + e[1] * e[1]);
                    sum += w;
                    to[0] += w * d[u][0];
                    to[1] += w * d[u][1];
                }
            for (int c = 0; c < 2; c++) {
                double step = 1.8 * (to[c] / sum - d[v][c]);
                d[v][c] += step;
                most = fmax(most, fabs(step));
            }
        }
        if (most <= 1e-6 * scale) break;
    }
    return 0;
}

static int copy_mesh(struct plane_mesh **out, const struct plane_mesh *m, struct error *err) {
    struct plane_mesh *c = MEM_NEW(struct plane_mesh, 1);
    *out = c;
    if (!c) return fail_memory(err);
    *c = *m;
    c->p = mem_alloc(m->nv, sizeof *c->p);
    c->tri = mem_alloc(m->nf, sizeof *c->tri);
    c->next = mem_alloc(m->nf, sizeof *c->next);
    c->loop_start = MEM_NEW(size_t, m->loops + 1);
    c->loop_at = MEM_NEW(double, m->nb);
    c->corner = MEM_NEW(int, m->nb);
    if (!c->p || !c->tri || !c->next || !c->loop_start || !c->loop_at || !c->corner) {
        plane_mesh_free(c);
        *out = NULL;
        return fail_memory(err);
    }
    memcpy(c->p, m->p, m->nv * sizeof *c->p);
    memcpy(c->tri, m->tri, m->nf * sizeof *c->tri);
    memcpy(c->next, m->next, m->nf * sizeof *c->next);
    memcpy(c->loop_start, m->loop_start, (m->loops + 1) * sizeof *c->loop_start);
    memcpy(c->loop_at, m->loop_at, m->nb * sizeof *c->loop_at);
    memcpy(c->corner, m->corner, m->nb * sizeof *c->corner);
    return 0;
}

static int shift_all(struct plane_mesh *to, const struct plane_mesh *m,
                     const struct plane_loop *loops, struct arena *arena, struct error *err) {
    double(*d)[2] = arena_alloc(arena, m->nv, sizeof *d);
    if (!d) return fail_memory(err);
    for (size_t l = 0; l < m->loops; l++) {
        struct mesh_walk walk;
        int rc = mesh_walk_make(&walk, &loops[l], l == 0, arena, err);
        if (!rc) rc = place_loop(to->p, m, l, &walk, arena, err);
        if (rc) return rc;
    }
    double scale[2][2] = {{INFINITY, -INFINITY}, {INFINITY, -INFINITY}}; /* first guess: stretch */
    double goal[2][2] = {{INFINITY, -INFINITY}, {INFINITY, -INFINITY}};
    for (size_t v = 0; v < m->nb; v++)
        for (int c = 0; c < 2; c++) {
            scale[c][0] = fmin(scale[c][0], m->p[v][c]);
            scale[c][1] = fmax(scale[c][1], m->p[v][c]);
            goal[c][0] = fmin(goal[c][0], to->p[v][c]);
            goal[c][1] = fmax(goal[c][1], to->p[v][c]);
        }
    for (size_t v = 0; v < m->nv; v++)
        for (int c = 0; c < 2; c++) {
            double f = (m->p[v][c] - scale[c][0]) / (scale[c][1] - scale[c][0]);
            double at = goal[c][0] + f * (goal[c][1] - goal[c][0]);
            d[v][c] = v < m->nb ? to->p[v][c] - at : 0;
            if (v >= m->nb) to->p[v][c] = at;
        }
    int rc = spread(d, m, arena, err);
    for (size_t v = m->nb; !rc && v < m->nv; v++)
        for (int c = 0; c < 2; c++)
            to->p[v][c] += d[v][c];
    return rc;
}

int plane_mesh_morph(struct plane_mesh **out, const struct plane_mesh *mesh,
                     const struct plane_loop *loops, size_t n_loops, double least_angle,
                     struct error *err) {
    *out = NULL;
    if (n_loops != mesh->loops)
        return fail(err, ERR_RANGE, "Mesh the outline afresh.",
                    "The new outline has %zu loops, the mesh %zu.", n_loops, mesh->loops);
    struct plane_mesh *to;
    if (copy_mesh(&to, mesh, err)) return ERR_MEMORY;
    struct arena *arena = arena_new();
    int rc = arena ? shift_all(to, mesh, loops, arena, err) : fail_memory(err);
    arena_free(arena);
    double most = cos(least_angle);
    for (size_t t = 0; !rc && t < to->nf; t++) {
        const int *w = to->tri[t];
        if (mesh_worst_cosine(to->p[w[0]], to->p[w[1]], to->p[w[2]]) > most)
            rc = fail(err, ERR_RANGE, "Mesh the outline afresh.",
                      "The new outline differs too much: triangle %zu would get an angle under "
                      "%.3g degrees.",
                      t + 1, least_angle * 180 / M_PI);
    }
    if (rc)
        plane_mesh_free(to);
    else
        *out = to;
    return rc;
}
