#include "body/shell.h"

#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int shell_grow(void **array, size_t *room, size_t want, size_t size) {
    if (want <= *room) return 0;
    size_t more = *room ? 2 * *room : 16;
    if (more < want) more = want;
    void *p = mem_resize(*array, more, size);
    if (!p) return ERR_MEMORY;
    memset((char *)p + *room * size, 0, (more - *room) * size);
    *array = p;
    *room = more;
    return 0;
}

static int allocate(struct body_shell *s) {
    size_t nv = s->nv, nf = s->nf, n = nv;
    s->room_nodes = n;
    s->tri = mem_alloc(nf, sizeof *s->tri);
    s->edge_next = mem_alloc(nf, sizeof *s->edge_next);
    s->rest = mem_alloc(n, sizeof *s->rest);
    s->x = mem_alloc(n, sizeof *s->x);
    s->rest_n = mem_alloc(nv, sizeof *s->rest_n);
    s->n = mem_alloc(nv, sizeof *s->n);
    s->p1 = mem_alloc(nv, sizeof *s->p1);
    s->p2 = mem_alloc(nv, sizeof *s->p2);
    s->rest_p1 = mem_alloc(nv, sizeof *s->rest_p1);
    s->face = MEM_NEW(struct face, nf);
    s->laminate = MEM_NEW(struct body_laminate, nf);
    s->fixed = MEM_NEW(unsigned char, 5 * nv);
    s->move = MEM_NEW(double, 5 * nv);
    s->axes_of = MEM_NEW(int, n);
    int bad = !s->tri || !s->edge_next || !s->rest || !s->x || !s->rest_n || !s->n || !s->p1 ||
              !s->p2 || !s->rest_p1 || !s->face || !s->laminate || !s->fixed || !s->move ||
              !s->axes_of;
    for (int set = 0; set < BODY_LOADS; set++) {
        struct loads *l = &s->load[set];
        l->force = mem_alloc(n, sizeof *l->force);
        l->moment = mem_alloc(nv, sizeof *l->moment);
        l->pressure = MEM_NEW(double, nf);
        bad |= !l->force || !l->moment || !l->pressure;
    }
    return bad;
}

/* Half-edges sorted by their two vertices pair up the triangles. */
struct half {
    int lo, hi, face, side, up; /* up: runs from lo to hi */
};

static int half_order(const void *a, const void *b) {
    const struct half *p = a, *q = b;
    if (p->lo != q->lo) return p->lo < q->lo ? -1 : 1;
    if (p->hi != q->hi) return p->hi < q->hi ? -1 : 1;
    return p->face < q->face ? -1 : p->face > q->face;
}

static int pair_edges(struct body_shell *s, struct error *err) {
    size_t n = 3 * s->nf;
    struct half *h = MEM_NEW(struct half, n);
    if (!h) return fail_memory(err);
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 3; i++) {
            int a = s->tri[f][(i + 1) % 3], b = s->tri[f][(i + 2) % 3];
            h[3 * f + (size_t)i] = (struct half){a < b ? a : b, a < b ? b : a, (int)f, i, a < b};
            s->edge_next[f][i] = -1;
        }
    qsort(h, n, sizeof *h, half_order);
    int rc = 0;
    for (size_t i = 0; i < n && !rc;) {
        size_t j = i + 1;
        while (j < n && h[j].lo == h[i].lo && h[j].hi == h[i].hi)
            j++;
        if (j - i > 2)
            rc = fail(err, ERR_INPUT, "Let each edge belong to one or two triangles.",
                      "The edge between vertices %d and %d belongs to %zu triangles.", h[i].lo + 1,
                      h[i].hi + 1, j - i);
        else if (j - i == 2 && h[i].up == h[i + 1].up)
            rc = fail(
                err, ERR_INPUT, "Let all triangles run counter-clockwise seen from the same face.",
                "Triangles %d and %d are turned opposite ways.", h[i].face + 1, h[i + 1].face + 1);
        else if (j - i == 2) {
            s->edge_next[h[i].face][h[i].side] = h[i + 1].face;
            s->edge_next[h[i + 1].face][h[i + 1].side] = h[i].face;
        }
        i = j;
    }
    mem_free(h);
    return rc;
}

static int check_mesh(const struct body_shell_mesh *m, struct error *err) {
    if (m->nv < 3 || m->nf < 1)
        return fail(err, ERR_INPUT, "Give at least one triangle.",
                    "The shell has %zu vertices and %zu triangles.", m->nv, m->nf);
    if (m->nv > 2000000 || m->nf > 4000000)
        return fail(err, ERR_RANGE, "Use a coarser mesh.", "%zu vertices are too many.", m->nv);
    for (size_t v = 0; v < m->nv; v++)
        for (int c = 0; c < 3; c++)
            if (!isfinite(m->x[v][c]) || fabs(m->x[v][c]) > 1e9)
                return fail(err, ERR_INPUT, "Give coordinates in mm.",
                            "Vertex %zu is not a number below 1e9.", v + 1);
    for (size_t f = 0; f < m->nf; f++)
        for (int i = 0; i < 3; i++)
            if (m->tri[f][i] < 0 || (size_t)m->tri[f][i] >= m->nv)
                return fail(err, ERR_INPUT, "Count vertices from 0 to one less than their number.",
                            "Triangle %zu names vertex %d of %zu.", f + 1, m->tri[f][i], m->nv);
    return 0;
}

/* Slopes count from the vertices' normals: a triangle they look through from behind has none. */
static int fold_check(const struct body_shell *s, struct error *err) {
    for (size_t f = 0; f < s->nf; f++) {
        const int *v = s->tri[f];
        double a[3], b[3], n[3];
        for (int c = 0; c < 3; c++) {
            a[c] = s->rest[v[1]][c] - s->rest[v[0]][c];
            b[c] = s->rest[v[2]][c] - s->rest[v[0]][c];
        }
        cross3(a, b, n);
        for (int i = 0; i < 3; i++)
            if (!(dot3(n, s->rest_n[v[i]]) > 0))
                return fail(err, ERR_INPUT,
                            "Let neighbours lie side by side; give sharp folds as sheets of their "
                            "own.",
                            "Triangle %zu is folded back on its neighbours at vertex %d.", f + 1,
                            v[i] + 1);
    }
    return 0;
}

/* Checks that each triangle has an area worth the name and each vertex a triangle and a normal. */
static int rest_check(struct body_shell *s, const double (*normal)[3], struct error *err) {
    memset(s->rest_n, 0, s->nv * sizeof *s->rest_n);
    for (size_t f = 0; f < s->nf; f++) {
        const int *v = s->tri[f];
        double a[3], b[3], n[3], long2 = 0;
        for (int i = 0; i < 3; i++) {
            double l2 = 0;
            for (int c = 0; c < 3; c++) {
                double d = s->rest[v[(i + 1) % 3]][c] - s->rest[v[i]][c];
                l2 += d * d;
                if (i == 0) a[c] = d;
                if (i == 2) b[c] = -d;
            }
            long2 = fmax(long2, l2);
        }
        cross3(a, b, n);
        if (!(sqrt(dot3(n, n)) > 1e-9 * long2))
            return fail(err, ERR_INPUT, "Mend the mesh.", "Triangle %zu has no area.", f + 1);
        for (int i = 0; i < 3; i++)
            for (int c = 0; c < 3; c++)
                s->rest_n[v[i]][c] += n[c];
    }
    for (size_t v = 0; v < s->nv; v++) {
        double *n = s->rest_n[v], l = sqrt(dot3(n, n));
        if (normal) {
            double w[3] = {normal[v][0], normal[v][1], normal[v][2]}, lw = sqrt(dot3(w, w));
            if (!(lw > 0) || !isfinite(lw) || dot3(w, n) <= 0.1 * lw * l)
                return fail(
                    err, ERR_INPUT,
                    "Give normals on the side from which the triangles run counter-clockwise.",
                    "The normal of vertex %zu does not fit its triangles.", v + 1);
            memcpy(n, w, sizeof w);
            l = lw;
        }
        if (!(l > 0))
            return fail(err, ERR_INPUT, "Leave it out or join it.",
                        "Vertex %zu belongs to no triangle, or to some that face each other.",
                        v + 1);
        for (int c = 0; c < 3; c++)
            n[c] /= l;
    }
    return fold_check(s, err);
}

void body_shell_reset(struct body_shell *s) {
    shell_touch(s);
    memcpy(s->x, s->rest, s->nodes * sizeof *s->x);
    memcpy(s->n, s->rest_n, s->nv * sizeof *s->n);
    for (size_t v = 0; v < s->nv; v++) {
        double p[3];
        memcpy(p, s->rest_p1[v], sizeof p);
        if (dot3(p, p) > 0.5 && fabs(dot3(p, s->n[v])) < 0.9)
            body_shell_tangent(s, v, p);
        else
            shell_frame(s, v);
    }
    s->moved = 0;
    s->energy_scale = 0; /* what was met before has no say in the next search */
}

int body_shell_rest(struct body_shell *s, const double (*x)[3], const double (*normal)[3],
                    struct error *err) {
    for (size_t v = 0; v < s->nv; v++)
        for (int c = 0; c < 3; c++)
            if (!isfinite(x[v][c]))
                return fail(err, ERR_INPUT, "Give coordinates in mm.",
                            "Vertex %zu is not a number.", v + 1);
    memcpy(s->rest, x, s->nv * sizeof *x);
    int rc = rest_check(s, normal, err);
    if (rc) return rc;
    for (size_t f = 0; f < s->nf; f++)
        face_geometry(s, f);
    s->dirty = 1;
    body_shell_reset(s);
    parts_rest(s);
    return 0;
}

int body_shell_new(struct body_shell **out, const struct body_shell_mesh *mesh, struct error *err) {
    *out = NULL;
    int rc = check_mesh(mesh, err);
    if (rc) return rc;
    struct body_shell *s = MEM_NEW(struct body_shell, 1);
    if (!s) return fail_memory(err);
    s->nv = s->nodes = mesh->nv;
    s->nf = mesh->nf;
    s->unknowns = 5 * s->nv;
    rc = allocate(s) ? fail_memory(err) : 0;
    if (!rc) {
        memcpy(s->tri, mesh->tri, s->nf * sizeof *s->tri);
        for (size_t v = 0; v < s->nodes; v++)
            s->axes_of[v] = -1;
        rc = pair_edges(s, err);
    }
    for (size_t f = 0; !rc && f < s->nf; f++) {
        s->face[f].first_row = -1;
        s->face[f].axis[0] = 1;
    }
    if (!rc) { /* where x stands upright on a face, y is its first axis */
        memcpy(s->rest, mesh->x, s->nv * sizeof *s->rest);
        rc = rest_check(s, mesh->normal, err);
    }
    for (size_t f = 0; !rc && f < s->nf; f++) {
        struct error ignored = {0};
        if (body_shell_axis(s, f, (double[3]){1, 0, 0}, &ignored))
            rc = body_shell_axis(s, f, (double[3]){0, 1, 0}, err);
    }
    if (!rc) {
        for (size_t v = 0; v < s->nv; v++) {
            memcpy(s->n[v], s->rest_n[v], sizeof *s->n);
            shell_frame(s, v);
        }
        body_shell_reset(s);
    }
    if (rc)
        body_shell_free(s);
    else
        *out = s;
    return rc;
}

void body_shell_free(struct body_shell *s) {
    if (!s) return;
    matrix_drop(s);
    for (int set = 0; set < BODY_LOADS; set++) {
        mem_free(s->load[set].force);
        mem_free(s->load[set].moment);
        mem_free(s->load[set].pressure);
    }
    void *all[] = {s->tri,       s->edge_next,   s->rest,  s->rest_n,   s->x,     s->n,
                   s->p1,        s->p2,          s->face,  s->laminate, s->row,   s->group,
                   s->list_node, s->list_weight, s->part,  s->rest_p1,  s->fixed, s->axes_of,
                   s->axes,      s->move,        s->smooth};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        mem_free(all[i]);
    mem_free(s);
}

size_t body_shell_vertices(const struct body_shell *s) {
    return s->nv;
}
size_t body_shell_faces(const struct body_shell *s) {
    return s->nf;
}
const int (*body_shell_triangles(const struct body_shell *s))[3] {
    return (const int(*)[3])s->tri;
}
size_t body_shell_unknowns(const struct body_shell *s) {
    return s->unknowns;
}
double body_shell_area(const struct body_shell *s, size_t f) {
    return s->face[f].area;
}

int body_shell_axis(struct body_shell *s, size_t f, const double dir[3], struct error *err) {
    const int *v = s->tri[f];
    double a[3], b[3], n[3], l = sqrt(dot3(dir, dir));
    for (int c = 0; c < 3; c++) {
        a[c] = s->rest[v[1]][c] - s->rest[v[0]][c];
        b[c] = s->rest[v[2]][c] - s->rest[v[0]][c];
    }
    cross3(a, b, n);
    if (!(l > 0) || !isfinite(l) || fabs(dot3(n, dir)) > 0.999 * l * sqrt(dot3(n, n)))
        return fail(err, ERR_INPUT, "Give a direction that lies along the sheet.",
                    "The material's axis (%g, %g, %g) stands upright on triangle %zu.", dir[0],
                    dir[1], dir[2], f + 1);
    memcpy(s->face[f].axis, dir, 3 * sizeof *dir);
    face_geometry(s, f);
    s->dirty = 1;
    return 0;
}

void body_shell_material(struct body_shell *s, size_t f, const struct body_laminate *l) {
    s->laminate[f] = *l;
    s->face[f].has_material = 1;
    memcpy(s->face[f].strain, l->strain, sizeof l->strain);
    memcpy(s->face[f].curvature, l->curvature, sizeof l->curvature);
    s->dirty = 1;
}

void body_shell_natural(struct body_shell *s, size_t f, const double strain[3],
                        const double curvature[3]) {
    if (strain) memcpy(s->face[f].strain, strain, 3 * sizeof *strain);
    if (curvature) memcpy(s->face[f].curvature, curvature, 3 * sizeof *curvature);
    s->dirty = 1;
}

void body_shell_natural_get(const struct body_shell *s, size_t f, double strain[3],
                            double curvature[3]) {
    memcpy(strain, s->face[f].strain, 3 * sizeof *strain);
    memcpy(curvature, s->face[f].curvature, 3 * sizeof *curvature);
}

int body_shell_prepare(struct body_shell *s, struct error *err) {
    for (size_t f = 0; f < s->nf; f++)
        if (!s->face[f].has_material)
            return fail(err, ERR_MISSING, "Give a material for every triangle.",
                        "Triangle %zu has no material.", f + 1);
    shell_refresh(s);
    return matrix_make(s, err);
}

/* A factor made with other supports is no help any more (matrix.near). */
static void set_fixed(struct body_shell *s, size_t node, unsigned which, unsigned char to) {
    size_t d = node_dof(s, node);
    for (int c = 0; c < node_size(s, node); c++)
        if (which >> c & 1 && s->fixed[d + (size_t)c] != to) {
            s->fixed[d + (size_t)c] = to;
            s->matrix.near = 0;
            shell_touch(s);
        }
}

void body_shell_fix(struct body_shell *s, size_t node, unsigned which) {
    set_fixed(s, node, which, 1);
}

void body_shell_release(struct body_shell *s, size_t node, unsigned which) {
    set_fixed(s, node, which, 0);
}

unsigned body_shell_fixed(const struct body_shell *s, size_t node) {
    unsigned which = 0;
    size_t d = node_dof(s, node);
    for (int c = 0; c < node_size(s, node); c++)
        which |= (unsigned)s->fixed[d + (size_t)c] << c;
    return which;
}

void body_shell_unfix(struct body_shell *s) {
    memset(s->fixed, 0, s->unknowns);
    s->matrix.near = 0;
    shell_touch(s);
    memset(s->move, 0, s->unknowns * sizeof *s->move);
    s->any_move = 0;
}

void body_shell_support_axes(struct body_shell *s, size_t node, const double axes[3][3]) {
    int k = s->axes_of[node];
    if (k < 0) {
        if (shell_grow((void **)&s->axes, &s->axes_room, s->axes_n + 1, sizeof *s->axes)) return;
        k = s->axes_of[node] = (int)s->axes_n++;
    }
    memcpy(s->axes[k], axes, sizeof *s->axes);
    shell_touch(s);
}

void shell_complete(double q[3][3], int have) {
    if (have == 1) {
        int k = 0;
        for (int c = 1; c < 3; c++)
            if (fabs(q[0][c]) < fabs(q[0][k])) k = c;
        double along = q[0][k], l = 0;
        for (int c = 0; c < 3; c++)
            q[1][c] = (c == k) - along * q[0][c];
        l = sqrt(dot3(q[1], q[1]));
        for (int c = 0; c < 3; c++)
            q[1][c] /= l;
    }
    cross3(q[0], q[1], q[2]);
}

int body_shell_symmetry(struct body_shell *s, size_t v, const double dir[3], struct error *err) {
    double u[3], l = sqrt(dot3(dir, dir));
    if (!(l > 0) || !isfinite(l))
        return fail(err, ERR_INPUT, "Give the normal of the plane.",
                    "A plane of symmetry has no normal.");
    for (int c = 0; c < 3; c++)
        u[c] = dir[c] / l;
    int straight = -1; /* along a space axis: no axes of its own needed */
    for (int c = 0; c < 3; c++)
        if (fabs(u[c]) > 1 - 1e-12) straight = c;
    unsigned had = body_shell_fixed(s, v);
    if (straight >= 0 && s->axes_of[v] < 0) {
        body_shell_fix(s, v, 1u << straight);
    } else {
        double q[3][3], rows[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
        if (s->axes_of[v] >= 0) memcpy(rows, s->axes[s->axes_of[v]], sizeof rows);
        int have = 0;
        for (int c = 0; c < 3; c++) {
            if (!(had >> c & 1)) continue;
            double along = dot3(rows[c], u);
            if (fabs(along) > 1 - 1e-9) goto tilts; /* already held that way */
            if (fabs(along) > 1e-6)
                return fail(err, ERR_INPUT,
                            "Let planes of symmetry meet at right angles, or hold the vertex in "
                            "all directions.",
                            "Vertex %zu is held in directions at an odd angle.", v + 1);
            memcpy(q[have++], rows[c], sizeof *q);
        }
        if (have < 3) {
            memcpy(q[have++], u, sizeof u);
            if (have < 3) shell_complete(q, have);
            body_shell_support_axes(s, v, (const double(*)[3])q);
            body_shell_release(s, v, BODY_FIX_PLACE);
            body_shell_fix(s, v, (1u << have) - 1);
        }
    }
tilts:
    if (had & BODY_FIX_TILT1) { /* a second plane: the normal lies along their line */
        body_shell_fix(s, v, BODY_FIX_TILT2);
    } else if (fabs(dot3(u, s->n[v])) < 0.9) {
        body_shell_tangent(s, v, u);
        body_shell_fix(s, v, BODY_FIX_TILT1);
    }
    return 0;
}

void body_shell_move(struct body_shell *s, size_t node, const double by[5]) {
    size_t d = node_dof(s, node);
    for (int c = 0; c < node_size(s, node); c++)
        s->move[d + (size_t)c] = by[c];
    s->any_move = 1;
}

const double (*body_shell_rest_place(const struct body_shell *s))[3] {
    return (const double(*)[3])s->rest;
}
const double (*body_shell_place(const struct body_shell *s))[3] {
    return (const double(*)[3])s->x;
}
const double (*body_shell_normal(const struct body_shell *s))[3] {
    return (const double(*)[3])s->n;
}

int body_shell_across(const struct body_shell *s, size_t f, int i) {
    return s->edge_next[f][i];
}

void body_shell_tangents(const struct body_shell *s, size_t v, double p1[3], double p2[3]) {
    memcpy(p1, s->p1[v], 3 * sizeof *p1);
    memcpy(p2, s->p2[v], 3 * sizeof *p2);
}
