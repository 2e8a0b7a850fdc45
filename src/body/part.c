#include "body/part.h"

#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

static const int START[3] = {1, 2, 0}, END[3] = {2, 0, 1};

int part_add(struct body_shell *s, enum part_kind kind, int *out, struct error *err) {
    if (s->matrix.ready)
        return fail(err, ERR_REFUSED, "Add all parts first.",
                    "Parts cannot be added after the symbolic work.");
    if (shell_grow((void **)&s->part, &s->room_parts, s->parts + 1, sizeof *s->part))
        return fail_memory(err);
    s->part[s->parts] = (struct part){
        .kind = kind, .factor = 1, .first_group = s->groups, .first_row = (int)s->rows};
    if (out) *out = (int)s->parts;
    s->parts++;
    return 0;
}

static int bad_number(double v, double least) {
    return !isfinite(v) || v < least;
}

/* ---- rows ---- */

static int row_add(struct body_shell *s, const struct row *row) {
    if (shell_grow((void **)&s->row, &s->room_rows, s->rows + 1, sizeof *s->row)) return ERR_MEMORY;
    s->row[s->rows] = *row;
    s->row[s->rows].k0 = row->k;
    s->part[row->part].rows++;
    s->rows++;
    s->dirty = 1;
    return 0;
}

/* Hangs every row on its face, first rows first. */
static void chain_rows(struct body_shell *s) {
    for (size_t f = 0; f < s->nf; f++)
        s->face[f].first_row = -1;
    for (size_t i = s->rows; i-- > 0;) {
        s->row[i].next = s->face[s->row[i].face].first_row;
        s->face[s->row[i].face].first_row = (int)i;
    }
    s->dirty = 1;
}

static void rows_rest(struct body_shell *s) {
    for (size_t i = 0; i < s->rows; i++) {
        struct row *r = &s->row[i];
        r->target = r->own;
        if (r->kind == ROW_BEND) continue; /* curvature counts from straight */
        for (int j = 0; j < NQ; j++)
            r->target += r->v[j] * s->face[r->face].rest[j];
    }
}

/* A piece of line within a face, as barycentric ends. */
struct piece {
    int face;
    double from[3], to[3], arc;
};

/* Cuts face f with the upright plane of the line; the part between the ends. 0: none. */
static int cut_face(const struct body_shell *s, size_t f, const struct body_lath *l,
                    const double up[3], struct piece *out) {
    const int *v = s->tri[f];
    double along[3], side[3], at[3], t[3], len2 = 0, n[3], a[3], b[3];
    for (int c = 0; c < 3; c++) {
        along[c] = l->b[c] - l->a[c];
        len2 += along[c] * along[c];
        a[c] = s->rest[v[1]][c] - s->rest[v[0]][c];
        b[c] = s->rest[v[2]][c] - s->rest[v[0]][c];
    }
    cross3(a, b, n);
    if (dot3(n, up) <= 0.1 * sqrt(dot3(n, n))) return 0; /* the far side of a closed surface */
    cross3(up, along, side);
    double zero = 1e-11 * sqrt(dot3(side, side)) * (sqrt(dot3(a, a)) + sqrt(dot3(b, b)));
    int zeros = 0;
    for (int i = 0; i < 3; i++) {
        double d[3];
        for (int c = 0; c < 3; c++)
            d[c] = s->rest[v[i]][c] - l->a[c];
        at[i] = dot3(side, d);
        t[i] = dot3(along, d) / len2;
        if (fabs(at[i]) <= zero) {
            at[i] = 0;
            zeros++;
        }
    }
    if (zeros > 1) { /* along an edge: the face with the lower number has it */
        for (int i = 0; i < 3; i++)
            if (at[i] != 0 && s->edge_next[f][i] >= 0 && (size_t)s->edge_next[f][i] < f) return 0;
    }
    double end[2][3] = {{0}}, te[2];
    int k = 0;
    for (int i = 0; i < 3 && k < 2; i++)
        if (at[i] == 0) {
            end[k][i] = 1;
            te[k++] = t[i];
        }
    for (int i = 0; i < 3 && k < 2; i++) {
        int p = START[i], q = END[i];
        if (!((at[p] > 0 && at[q] < 0) || (at[p] < 0 && at[q] > 0))) continue;
        double w = at[p] / (at[p] - at[q]);
        end[k][p] = 1 - w;
        end[k][q] = w;
        te[k++] = (1 - w) * t[p] + w * t[q];
    }
    if (k < 2) return 0;
    int first = te[0] <= te[1] ? 0 : 1;
    double t0 = te[first], t1 = te[1 - first], lo = fmax(t0, 0), hi = fmin(t1, 1);
    if (!(hi - lo > 1e-10)) return 0;
    out->face = (int)f;
    for (int i = 0; i < 3; i++) {
        double p = end[first][i], q = end[1 - first][i];
        out->from[i] = p + (q - p) * (lo - t0) / (t1 - t0);
        out->to[i] = p + (q - p) * (hi - t0) / (t1 - t0);
    }
    out->arc = (lo + hi) / 2;
    return 1;
}

static int lath_check(const struct body_lath *l, struct error *err) {
    double len2 = 0;
    for (int c = 0; c < 3; c++) {
        if (!isfinite(l->a[c]) || !isfinite(l->b[c]) || !isfinite(l->up[c]))
            return fail(err, ERR_INPUT, "Give both ends in mm.",
                        "An end of a lath is not a number.");
        len2 += (l->b[c] - l->a[c]) * (l->b[c] - l->a[c]);
    }
    if (!(len2 > 0))
        return fail(err, ERR_RANGE, "Give two different ends.", "A lath has no length.");
    if (bad_number(l->ei, 0) || bad_number(l->gj, 0) || bad_number(l->ea, 0) || !isfinite(l->z) ||
        !isfinite(l->curvature) || !isfinite(l->strain) || bad_number(l->mass, 0) ||
        bad_number(l->play, 0) || bad_number(l->twist_play, 0) || bad_number(l->slides, 0))
        return fail(
            err, ERR_RANGE, "Give stiffnesses of 0 or more.",
            "A lath has a stiffness, height, curvature, strain, mass or play out of range.");
    return 0;
}

static int lath_rows(struct body_shell *s, int part, const struct body_lath *l, double inside,
                     struct error *err) {
    double whole = 0, found = 0, up[3] = {l->up[0], l->up[1], l->up[2]};
    if (dot3(up, up) == 0) up[2] = 1;
    double lu = sqrt(dot3(up, up));
    for (int c = 0; c < 3; c++) {
        up[c] /= lu;
        whole += (l->b[c] - l->a[c]) * (l->b[c] - l->a[c]);
    }
    whole = sqrt(whole);
    for (size_t f = 0; f < s->nf; f++) {
        struct piece p;
        if (!cut_face(s, f, l, up, &p)) continue;
        double bend[2][6], twist[2][6], stretch[3], length;
        face_line_rows(s, f, p.from, p.to, bend, twist, stretch, &length);
        found += length;
        for (int g = 0; g < 2; g++) {
            struct row r = {.face = (int)f, .part = part, .weight = length / 2, .arc = p.arc};
            r.kind = ROW_BEND;
            r.own = l->curvature;
            r.k = l->ei * length / 2;
            r.play = l->play;
            memcpy(r.v + 3, bend[g], sizeof bend[g]);
            if (row_add(s, &r)) return fail_memory(err);
            r.kind = ROW_TWIST;
            r.own = 0;
            r.k = l->gj * length / 2;
            r.play = l->twist_play;
            memcpy(r.v + 3, twist[g], sizeof twist[g]);
            if (row_add(s, &r)) return fail_memory(err);
            r.kind = ROW_STRETCH;
            r.own = l->strain;
            r.k = l->ea * length / 2;
            r.play = 0;
            r.most = l->slides * length / 2;
            memcpy(r.v, stretch, sizeof stretch);
            for (int m = 0; m < 6; m++)
                r.v[3 + m] = -l->z * bend[g][m];
            if (row_add(s, &r)) return fail_memory(err);
        }
    }
    if (found < inside * whole)
        return fail(err, ERR_RANGE, "Move or shorten the lath.",
                    "Only %.4g of %.4g mm of a lath lie in the sheet.", found, whole);
    return 0;
}

int body_part_lath(struct body_shell *s, const struct body_lath *l, double inside, int *out,
                   struct error *err) {
    int part, rc = lath_check(l, err);
    if (!rc) rc = part_add(s, PART_LATH, &part, err);
    if (rc) return rc;
    s->part[part].lath = *l;
    rc = lath_rows(s, part, l, inside, err);
    rows_rest(s);
    chain_rows(s);
    if (out) *out = part;
    return rc;
}

int body_part_lath_set(struct body_shell *s, int part, const struct body_lath *l, double inside,
                       struct error *err) {
    int rc = lath_check(l, err);
    if (rc) return rc;
    struct part *p = &s->part[part];
    size_t end = (size_t)(p->first_row + p->rows);
    memmove(s->row + p->first_row, s->row + end, (s->rows - end) * sizeof *s->row);
    s->rows -= (size_t)p->rows;
    for (size_t i = 0; i < s->parts; i++)
        if (s->part[i].first_row > p->first_row) s->part[i].first_row -= p->rows;
    p->first_row = (int)s->rows; /* the new rows stand last */
    p->rows = 0;
    p->lath = *l;
    rc = lath_rows(s, part, l, inside, err);
    for (int i = 0; i < p->rows; i++)
        s->row[p->first_row + i].k *= p->factor;
    rows_rest(s);
    chain_rows(s);
    return rc;
}

/* ---- groups ---- */

static struct group *group_add(struct body_shell *s, enum group_kind kind, int n, int m) {
    if (shell_grow((void **)&s->group, &s->room_groups, s->groups + 1, sizeof *s->group))
        return NULL;
    struct group *g = &s->group[s->groups++];
    *g = (struct group){.kind = kind, .part = (int)s->parts - 1, .n = n, .m = m};
    s->part[s->parts - 1].groups++;
    return g;
}

static double node_distance(const struct body_shell *s, size_t a, size_t b) {
    double d[3];
    for (int c = 0; c < 3; c++)
        d[c] = s->rest[b][c] - s->rest[a][c];
    return sqrt(dot3(d, d));
}

/* Rest value and stiffness of a group from the rest shape, in which the state is now. */
static void group_rest(struct body_shell *s, struct group *g) {
    double r[GROUP_READINGS], l = 0;
    switch (g->kind) {
    case GROUP_STRETCH:
        l = node_distance(s, g->node[0], g->node[1]) * (1 + g->strain);
        g->rest[0] = l * l;
        g->k0 = g->modulus / (4 * l * l * l);
        break;
    case GROUP_BEND:
    case GROUP_FLAT:
    case GROUP_INPLANE:
        l = (node_distance(s, g->node[0], g->node[1]) + node_distance(s, g->node[1], g->node[2])) /
            2;
        g->k0 = g->modulus / l;
        g->c[0] = 0;
        group_readings(s, g, r);
        if (g->kind != GROUP_BEND)
            g->rest[0] = g->set * r[0];
        else if (g->set != 0 && g->n > 3)
            g->c[0] = g->set * dot3(r, s->n[g->node[3]]);
        break;
    case GROUP_TWIST:
        g->k0 = g->modulus / node_distance(s, g->node[0], g->node[1]);
        group_readings(s, g, r);
        g->rest[0] = r[0];
        break;
    case GROUP_CORD:
        g->c[4] = 0;
        group_readings(s, g, r);
        g->c[4] = fmax(r[0] + g->set, 0);
        break;
    default:
        break;
    }
    g->k = g->k0 * s->part[g->part].factor;
}

void parts_rest(struct body_shell *s) {
    shell_touch(s);
    /* readings are taken of the state: put it to rest for the while */
    struct body_shell at_rest = *s;
    at_rest.x = s->rest;
    at_rest.n = s->rest_n;
    for (size_t i = 0; i < s->groups; i++)
        group_rest(&at_rest, &s->group[i]);
    rows_rest(s);
}

static void part_rest_of(struct body_shell *s, int part) {
    shell_touch(s);
    struct body_shell at_rest = *s;
    at_rest.x = s->rest;
    at_rest.n = s->rest_n;
    const struct part *p = &s->part[part];
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++)
        group_rest(&at_rest, &s->group[i]);
}

static void part_rest(struct body_shell *s) {
    part_rest_of(s, (int)s->parts - 1);
}

/* The face and side with the edge a-b, either way round; -1: none. */
static int edge_face(const struct body_shell *s, int a, int b, int *side) {
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 3; i++) {
            int p = s->tri[f][START[i]], q = s->tri[f][END[i]];
            if ((p == a && q == b) || (p == b && q == a)) {
                *side = i;
                return (int)f;
            }
        }
    return -1;
}

static int edge_rod_rows(struct body_shell *s, int part, const struct body_edge_rod *rod, size_t k,
                         struct error *err) {
    int i, f = edge_face(s, rod->vertices[k], rod->vertices[k + 1], &i);
    if (f < 0)
        return fail(err, ERR_INPUT, "Name vertices that follow each other along mesh edges.",
                    "There is no edge between vertices %d and %d.", rod->vertices[k] + 1,
                    rod->vertices[k + 1] + 1);
    double l2 = s->face[f].l2[i], l = sqrt(l2);
    for (int g = 0; g < 2; g++) {
        double at = 0.5 + (g ? 0.5 : -0.5) / sqrt(3);
        struct row r = {.face = f, .part = part, .weight = l / 2, .kind = ROW_BEND};
        r.arc = ((double)k + at) / (double)(rod->n - 1);
        r.v[3 + 2 * i] = (-4 + 6 * at) / l2; /* w'' of a cubic with these end slopes */
        r.v[4 + 2 * i] = (-2 + 6 * at) / l2;
        r.own = rod->set_normal;
        r.k = rod->ei_normal * l / 2;
        if (row_add(s, &r)) return fail_memory(err);
        r.v[3 + 2 * i] *= -rod->z;
        r.v[4 + 2 * i] *= -rod->z;
        r.v[i] = 1 / (2 * l2);
        r.kind = ROW_STRETCH;
        r.own = rod->strain;
        r.k = rod->ea * l / 2;
        if (row_add(s, &r)) return fail_memory(err);
    }
    return 0;
}

int body_part_edge_rod(struct body_shell *s, const struct body_edge_rod *rod, int *out,
                       struct error *err) {
    if (rod->n < 2 || bad_number(rod->ei_normal, 0) || bad_number(rod->ei_inplane, 0) ||
        bad_number(rod->gj, 0) || bad_number(rod->ea, 0) || !isfinite(rod->z) ||
        !isfinite(rod->strain) || !isfinite(rod->set_normal) || !isfinite(rod->set_inplane))
        return fail(err, ERR_RANGE, "Give two vertices or more and stiffnesses of 0 or more.",
                    "A rod along the edge has too few vertices or a number out of range.");
    for (size_t k = 0; k < rod->n; k++)
        if (rod->vertices[k] < 0 || (size_t)rod->vertices[k] >= s->nv)
            return fail(err, ERR_INPUT, "Name vertices of the sheet.", "A rod names vertex %d.",
                        rod->vertices[k]);
    int part, rc = part_add(s, PART_EDGE_ROD, &part, err);
    for (size_t k = 0; !rc && k + 1 < rod->n; k++) {
        rc = edge_rod_rows(s, part, rod, k, err);
        if (rc || rod->gj == 0) continue;
        struct group *g = group_add(s, GROUP_TWIST, 2, 1);
        if (!g) return fail_memory(err);
        g->node[0] = (size_t)rod->vertices[k];
        g->node[1] = (size_t)rod->vertices[k + 1];
        g->modulus = rod->gj;
    }
    int closed = rod->vertices[0] == rod->vertices[rod->n - 1];
    for (size_t k = closed ? 0 : 1; !rc && k + 1 < rod->n && rod->ei_inplane > 0; k++) {
        struct group *g = group_add(s, GROUP_INPLANE, 3, 1);
        if (!g) return fail_memory(err);
        g->node[0] = (size_t)rod->vertices[k ? k - 1 : rod->n - 2];
        g->node[1] = (size_t)rod->vertices[k];
        g->node[2] = (size_t)rod->vertices[k + 1];
        g->modulus = rod->ei_inplane;
        g->set = rod->set_inplane;
    }
    if (!rc) part_rest(s);
    rows_rest(s);
    chain_rows(s);
    if (out) *out = part;
    return rc;
}

static int grow_nodes(struct body_shell *s, size_t want) {
    if (want <= s->room_nodes) return 0;
    size_t room = 2 * s->room_nodes, old = s->room_nodes, u = 5 * s->nv;
    struct {
        void **array;
        size_t size, had, wants;
    } grow[] = {
        {(void **)&s->rest, sizeof *s->rest, old, room},
        {(void **)&s->x, sizeof *s->x, old, room},
        {(void **)&s->axes_of, sizeof *s->axes_of, old, room},
        {(void **)&s->load[0].force, sizeof *s->load[0].force, old, room},
        {(void **)&s->load[1].force, sizeof *s->load[1].force, old, room},
        {(void **)&s->fixed, 1, u + 3 * (old - s->nv), u + 3 * (room - s->nv)},
        {(void **)&s->move, sizeof *s->move, u + 3 * (old - s->nv), u + 3 * (room - s->nv)}};
    for (size_t i = 0; i < sizeof grow / sizeof *grow; i++)
        if (shell_grow(grow[i].array, &grow[i].had, grow[i].wants, grow[i].size)) return ERR_MEMORY;
    s->room_nodes = room;
    return 0;
}

int body_part_node(struct body_shell *s, const double x[3], size_t *node, struct error *err) {
    if (s->matrix.ready)
        return fail(err, ERR_REFUSED, "Add all nodes first.",
                    "Nodes cannot be added after the symbolic work.");
    for (int c = 0; c < 3; c++)
        if (!isfinite(x[c]))
            return fail(err, ERR_INPUT, "Give its place in mm.", "A node's place is not a number.");
    if (grow_nodes(s, s->nodes + 1)) return fail_memory(err);
    *node = s->nodes++;
    s->unknowns += 3;
    memcpy(s->rest[*node], x, sizeof *s->rest);
    memcpy(s->x[*node], x, sizeof *s->x);
    s->axes_of[*node] = -1;
    return 0;
}

int body_part_node_rest(struct body_shell *s, const size_t *nodes, const double (*x)[3], size_t n,
                        struct error *err) {
    for (size_t i = 0; i < n; i++) {
        if (nodes[i] < s->nv || nodes[i] >= s->nodes || !isfinite(x[i][0] + x[i][1] + x[i][2]))
            return fail(err, ERR_INPUT, "Name nodes that were added, with places in mm.",
                        "Node %zu is none of the parts' own, or its place is not a number.",
                        nodes[i]);
        memcpy(s->rest[nodes[i]], x[i], sizeof *s->rest);
    }
    body_shell_reset(s);
    parts_rest(s);
    return 0;
}

int body_part_rod(struct body_shell *s, const struct body_rod *rod, int *out, struct error *err) {
    if (rod->n < 2 || bad_number(rod->ei, 0) || bad_number(rod->ea, 0) || !isfinite(rod->set) ||
        !isfinite(rod->strain) || rod->strain <= -0.5 || bad_number(rod->ei_inplane, 0) ||
        (rod->ei_inplane > 0 && rod->ei_inplane < rod->ei) ||
        ((rod->set != 0 || rod->ei_inplane > rod->ei) && !rod->near))
        return fail(err, ERR_RANGE, "Give two nodes or more and stiffnesses of 0 or more.",
                    "A rod has too few nodes or a number out of range.");
    int rc = part_add(s, PART_ROD, out, err);
    size_t n = rod->n;
    for (size_t k = 0; !rc && k < n; k++) {
        size_t next = (k + 1) % n, last = (k + n - 1) % n;
        if (k + 1 < n || rod->closed) {
            struct group *g = group_add(s, GROUP_STRETCH, 2, 1);
            if (!g) return fail_memory(err);
            g->node[0] = rod->nodes[k];
            g->node[1] = rod->nodes[next];
            g->modulus = rod->ea;
            g->strain = rod->strain;
        }
        if ((k > 0 && k + 1 < n) || rod->closed) {
            struct group *g = group_add(s, GROUP_BEND, rod->set != 0 ? 4 : 3, 3);
            if (!g) return fail_memory(err);
            g->node[0] = rod->nodes[last];
            g->node[1] = rod->nodes[k];
            g->node[2] = rod->nodes[next];
            if (rod->set != 0) g->node[3] = (size_t)rod->near[k];
            g->modulus = rod->ei;
            g->set = rod->set;
        }
        if (((k > 0 && k + 1 < n) || rod->closed) && rod->ei_inplane > rod->ei) {
            struct group *g = group_add(s, GROUP_FLAT, 4, 1);
            if (!g) return fail_memory(err);
            g->node[0] = rod->nodes[last];
            g->node[1] = rod->nodes[k];
            g->node[2] = rod->nodes[next];
            g->node[3] = (size_t)rod->near[k];
            g->modulus = rod->ei_inplane - rod->ei;
            g->set = rod->set;
        }
    }
    if (!rc) part_rest(s);
    return rc;
}

void body_part_rod_set(struct body_shell *s, int part, double ei, double ei_inplane, double ea) {
    const struct part *p = &s->part[part];
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++) {
        struct group *g = &s->group[i];
        if (g->kind == GROUP_STRETCH) g->modulus = ea;
        if (g->kind == GROUP_BEND) g->modulus = ei;
        if (g->kind == GROUP_FLAT) g->modulus = fmax(ei_inplane - ei, 0);
    }
    part_rest_of(s, part);
}

void body_part_tie_set(struct body_shell *s, int part, double stiffness, double slack) {
    struct group *g = &s->group[s->part[part].first_group];
    g->kind = slack > 0 ? GROUP_CORD : GROUP_TIE;
    g->m = slack > 0 ? 1 : 3;
    g->k0 = stiffness;
    g->set = slack;
    memset(g->rest, 0, sizeof g->rest);
    part_rest_of(s, part);
}

int body_part_tie(struct body_shell *s, const struct body_tie *t, int *out, struct error *err) {
    if (t->node < s->nv || t->node >= s->nodes || t->face >= s->nf || bad_number(t->stiffness, 0) ||
        !isfinite(t->off) || !isfinite(t->slack) || !isfinite(t->bary[0] + t->bary[1] + t->bary[2]))
        return fail(
            err, ERR_INPUT, "Tie a point of the sheet to a node of a rod.",
            "A tie names a node or triangle that is not there, or has a number out of range.");
    int rc = part_add(s, PART_TIE, out, err);
    if (rc) return rc;
    struct group *g = group_add(s, t->cord ? GROUP_CORD : GROUP_TIE, 4, t->cord ? 1 : 3);
    if (!g) return fail_memory(err);
    for (int i = 0; i < 3; i++) {
        g->node[i] = (size_t)s->tri[t->face][i];
        g->c[i] = t->bary[i];
    }
    g->node[3] = t->node;
    g->c[3] = t->off;
    g->k0 = t->stiffness;
    g->set = t->slack;
    part_rest(s);
    return 0;
}

static int linear_add(struct body_shell *s, const size_t *nodes, const double (*weight)[3],
                      size_t n, double k, double target) {
    size_t room = s->room_lists;
    if (shell_grow((void **)&s->list_node, &room, s->lists + n, sizeof *s->list_node))
        return ERR_MEMORY;
    if (shell_grow((void **)&s->list_weight, &s->room_lists, s->lists + n, sizeof *s->list_weight))
        return ERR_MEMORY;
    struct group *g = group_add(s, GROUP_LINEAR, (int)n, 1);
    if (!g) return ERR_MEMORY;
    g->node[0] = s->lists;
    g->k = g->k0 = k;
    g->rest[0] = target;
    memcpy(s->list_node + s->lists, nodes, n * sizeof *nodes);
    memcpy(s->list_weight + s->lists, weight, n * sizeof *weight);
    s->lists += n;
    return 0;
}

int body_part_spring(struct body_shell *s, const struct body_spring *p, int *out,
                     struct error *err) {
    if (p->n == 0 || p->n > 400 || bad_number(p->stiffness, 0) || !isfinite(p->target))
        return fail(err, ERR_RANGE, "Name 1 to 400 nodes and a stiffness of 0 or more.",
                    "A spring has %zu nodes and a stiffness of %g N/mm.", p->n, p->stiffness);
    for (size_t i = 0; i < p->n; i++)
        if (p->nodes[i] >= s->nodes ||
            !isfinite(p->weight[i][0] + p->weight[i][1] + p->weight[i][2]))
            return fail(err, ERR_INPUT, "Name nodes of the shell.", "A spring names node %zu.",
                        p->nodes[i]);
    int rc = part_add(s, PART_SPRING, out, err);
    if (!rc && linear_add(s, p->nodes, p->weight, p->n, p->stiffness, p->target))
        rc = fail_memory(err);
    return rc;
}

enum { BAR_NODES = 5 }; /* of a bar that bends, between its seats */

/* Where the middle of a seat lies at rest. */
static void seat_middle(const struct body_shell *s, const int *seat, size_t n, double x[3]) {
    for (int c = 0; c < 3; c++) {
        x[c] = 0;
        for (size_t i = 0; i < n; i++)
            x[c] += s->rest[seat[i]][c] / (double)n;
    }
}

/* A seat's centre as a node that follows the mean of the seat's vertices. */
static int seat_centre(struct body_shell *s, const int *seat, size_t n, double stiffness,
                       size_t node, struct error *err) {
    double weight[64][3];
    size_t nodes[64];
    for (int c = 0; c < 3; c++) {
        memset(weight, 0, sizeof weight);
        nodes[n] = node;
        weight[n][c] = 1;
        for (size_t i = 0; i < n; i++) {
            nodes[i] = (size_t)seat[i];
            weight[i][c] = -1 / (double)n;
        }
        if (linear_add(s, nodes, (const double(*)[3])weight, n + 1, stiffness, 0))
            return fail_memory(err);
    }
    return 0;
}

static int check_grip(const struct body_shell *s, const struct body_grip *g, struct error *err) {
    if (!(g->chord > 0) || !isfinite(g->chord) || bad_number(g->chord_stiffness, 0) ||
        bad_number(g->slope_stiffness, 0) || bad_number(g->bar_ei, 0) ||
        !(fabs(g->slope[0]) < M_PI / 2) || !(fabs(g->slope[1]) < M_PI / 2))
        return fail(err, ERR_RANGE, "Give a chord above 0 and slopes under 90 degrees.",
                    "A grip has a chord of %g mm, slopes of %g and %g rad.", g->chord, g->slope[0],
                    g->slope[1]);
    for (int k = 0; k < 2; k++) {
        if (g->n[k] == 0 || g->n[k] > 63)
            return fail(err, ERR_RANGE, "Name 1 to 63 vertices.",
                        "A seat of the grip has %zu vertices.", g->n[k]);
        for (size_t i = 0; i < g->n[k]; i++)
            if (g->seat[k][i] < 0 || (size_t)g->seat[k][i] >= s->nv)
                return fail(err, ERR_INPUT, "Name vertices of the sheet.",
                            "A seat names vertex %d.", g->seat[k][i]);
    }
    return 0;
}

/* Nodes along the chain seat, bar, seat. */
static size_t bar_node(const struct part *p, size_t i) {
    return i == 0 ? p->bar[0] : i > BAR_NODES ? p->bar[1] : p->bar[1] + i;
}

/* Nodes of the seats, and of the bar between them when it bends. */
static int add_bar_nodes(struct body_shell *s, const struct body_grip *g, struct error *err) {
    double x[2][3], y[3];
    size_t made;
    int rc = 0;
    struct part *p = &s->part[s->parts - 1];
    for (int k = 0; k < 2 && !rc; k++) {
        seat_middle(s, g->seat[k], g->n[k], x[k]);
        rc = body_part_node(s, x[k], &p->bar[k], err);
    }
    for (int i = 1; i <= BAR_NODES && g->bar_ei > 0 && !rc; i++) {
        for (int c = 0; c < 3; c++)
            y[c] = x[0][c] + (x[1][c] - x[0][c]) * i / (BAR_NODES + 1);
        rc = body_part_node(s, y, &made, err);
    }
    return rc;
}

/* Pull stiffness of a bar along which the seats may slide: it yields along its length far more
 * easily than it bends, but its nodes keep their places. */
static double bar_easy(double ei, double apart) {
    return 12e-3 * ei / (apart * apart);
}

/* Joints stand between stiff pieces and the seats feel the outermost pieces: the joints have to
 * yield for the halves beyond them as well. */
static double bar_joint(double ei) {
    return ei * BAR_NODES / (BAR_NODES + 1);
}

/* The bar as a straight rod of its own. */
static int add_bar(struct body_shell *s, const struct body_grip *g, struct error *err) {
    const struct part *p = &s->part[s->parts - 1];
    double apart = node_distance(s, p->bar[0], p->bar[1]),
           ea = g->chord_stiffness > 0 ? g->chord_stiffness * g->chord : bar_easy(g->bar_ei, apart);
    for (size_t i = 0; i <= BAR_NODES; i++) {
        struct group *b = group_add(s, GROUP_STRETCH, 2, 1);
        if (!b) return fail_memory(err);
        b->node[0] = bar_node(p, i);
        b->node[1] = bar_node(p, i + 1);
        b->modulus = ea;
        b->strain = g->chord_stiffness > 0 ? g->chord / apart - 1 : 0;
        b->c[0] = g->chord_stiffness > 0; /* its length is the chord's */
        if (i == BAR_NODES) break;
        b = group_add(s, GROUP_BEND, 3, 3);
        if (!b) return fail_memory(err);
        for (size_t j = 0; j < 3; j++)
            b->node[j] = bar_node(p, i + j);
        b->modulus = bar_joint(g->bar_ei);
    }
    return 0;
}

static int add_slopes(struct body_shell *s, const struct body_grip *grip, struct error *err) {
    for (int k = 0; k < 2; k++)
        for (size_t i = 0; i < grip->n[k]; i++) {
            struct group *g = group_add(s, GROUP_SLOPE, 3, 1);
            if (!g) return fail_memory(err);
            const struct part *p = &s->part[s->parts - 1];
            bool bends = grip->bar_ei > 0;
            g->node[0] = (size_t)grip->seat[k][i];
            g->node[1] = bends && k ? bar_node(p, BAR_NODES) : p->bar[0];
            g->node[2] = bends && !k ? bar_node(p, 1) : p->bar[1];
            g->k = g->k0 = grip->slope_stiffness / (double)grip->n[k];
            g->rest[0] = (k ? -1 : 1) * sin(grip->slope[k]);
            g->set = k;
        }
    return 0;
}

int body_part_grip(struct body_shell *s, const struct body_grip *grip, int *out,
                   struct error *err) {
    int rc = check_grip(s, grip, err);
    if (!rc) rc = part_add(s, PART_GRIP, out, err);
    if (!rc) rc = add_bar_nodes(s, grip, err);
    double stiff =
        100 * fmax(grip->chord_stiffness, grip->slope_stiffness / (grip->chord * grip->chord));
    for (int k = 0; !rc && k < 2; k++)
        rc = seat_centre(s, grip->seat[k], grip->n[k], stiff, s->part[s->parts - 1].bar[k], err);
    if (rc) return rc;
    if (grip->bar_ei > 0) {
        rc = add_bar(s, grip, err);
    } else {
        struct group *g = group_add(s, GROUP_CHORD, 2, 1);
        if (!g) return fail_memory(err);
        memcpy(g->node, s->part[s->parts - 1].bar, sizeof s->part->bar);
        g->k = g->k0 = grip->chord_stiffness;
        g->rest[0] = grip->chord;
    }
    if (!rc) rc = add_slopes(s, grip, err);
    if (!rc) part_rest(s);
    return rc;
}

void body_part_grip_set(struct body_shell *s, int part, double chord, const double slope[2]) {
    const struct part *p = &s->part[part];
    double x[2][3] = {{0}}, n[2] = {0};
    bool bends = false;
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++) {
        const struct group *g = &s->group[i];
        bends |= g->kind == GROUP_BEND;
        if (g->kind != GROUP_SLOPE) continue;
        int k = g->set != 0;
        for (int c = 0; c < 3; c++)
            x[k][c] += s->rest[g->node[0]][c];
        n[k]++;
    }
    for (size_t i = 0; i < (bends ? BAR_NODES + 2 : 2); i++) {
        double t = bends ? (double)i / (BAR_NODES + 1) : (double)i;
        size_t node = bends ? bar_node(p, i) : p->bar[i];
        for (int c = 0; c < 3; c++)
            s->rest[node][c] = (1 - t) * x[0][c] / n[0] + t * x[1][c] / n[1];
    }
    double apart = node_distance(s, p->bar[0], p->bar[1]);
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++) {
        struct group *g = &s->group[i];
        if (g->kind == GROUP_CHORD) g->rest[0] = chord;
        if (g->kind == GROUP_STRETCH && g->c[0] != 0) g->strain = chord / apart - 1;
        if (g->kind == GROUP_SLOPE) g->rest[0] = g->set != 0 ? -sin(slope[1]) : sin(slope[0]);
    }
    body_shell_reset(s);
    parts_rest(s);
}

void body_part_grip_bar(struct body_shell *s, int part, double bar_ei) {
    const struct part *p = &s->part[part];
    double apart = node_distance(s, p->bar[0], p->bar[1]);
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++) {
        struct group *g = &s->group[i];
        if (g->kind == GROUP_BEND) g->modulus = bar_joint(bar_ei);
        if (g->kind == GROUP_STRETCH && g->c[0] == 0) g->modulus = bar_easy(bar_ei, apart);
    }
    body_shell_reset(s);
    parts_rest(s);
}

int body_part_former(struct body_shell *s, const struct body_former *f, int *out,
                     struct error *err) {
    double l = sqrt(dot3(f->axis, f->axis));
    if (!(l > 0) || !isfinite(l) || bad_number(f->stiffness, 0) || !isfinite(f->radius) ||
        !isfinite(f->at[0] + f->at[1] + f->at[2]))
        return fail(err, ERR_RANGE, "Give a place, an axis and a stiffness of 0 or more.",
                    "A former has a number out of range.");
    int rc = part_add(s, PART_FORMER, out, err);
    double *area = MEM_NEW(double, s->nv);
    if (!rc && !area) rc = fail_memory(err);
    for (size_t k = 0; !rc && k < s->nf; k++)
        for (int i = 0; i < 3; i++)
            area[s->tri[k][i]] += s->face[k].area / 3;
    for (size_t v = 0; !rc && v < s->nv; v++) {
        struct group *g = group_add(s, GROUP_FORMER, 1, 1);
        if (!g) {
            rc = fail_memory(err);
            break;
        }
        g->node[0] = v;
        for (int c = 0; c < 3; c++) {
            g->c[c] = f->at[c];
            g->c[3 + c] = f->axis[c] / l;
        }
        g->c[6] = f->radius;
        g->k = g->k0 = f->stiffness * area[v];
    }
    mem_free(area);
    return rc;
}

void body_part_strength(struct body_shell *s, int part, double factor) {
    struct part *p = &s->part[part];
    shell_touch(s);
    p->factor = factor;
    for (int i = 0; i < p->rows; i++)
        s->row[p->first_row + i].k = s->row[p->first_row + i].k0 * factor;
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++)
        s->group[i].k = s->group[i].k0 * factor;
    if (p->rows) s->dirty = 1;
}

size_t body_part_count(const struct body_shell *s) {
    return s->parts;
}

void body_part_line(const struct body_shell *s, int part, double *curvature, double *strain,
                    double *force, double *moment) {
    const struct part *p = &s->part[part];
    double sum[2] = {0}, weight[2] = {0}, mid[2] = {0}, near[2] = {2, 2};
    for (int i = 0; i < p->rows; i++) {
        const struct row *r = &s->row[p->first_row + i];
        if (r->kind == ROW_TWIST || !(r->weight > 0)) continue;
        double q[NQ], y = 0, rest = 0;
        int k = r->kind == ROW_STRETCH;
        face_scalars(s, (size_t)r->face, q);
        for (int j = 0; j < NQ; j++) {
            y += r->v[j] * q[j];
            if (k) rest += r->v[j] * s->face[r->face].rest[j];
        }
        sum[k] += r->weight * (y - rest);
        weight[k] += r->weight;
        if (fabs(r->arc - 0.5) < near[k]) {
            near[k] = fabs(r->arc - 0.5);
            mid[k] = row_law(r, y, NULL, NULL) / r->weight;
        }
    }
    if (curvature) *curvature = weight[0] > 0 ? sum[0] / weight[0] : NAN;
    if (strain) *strain = weight[1] > 0 ? sum[1] / weight[1] : NAN;
    if (force) *force = mid[1];
    if (moment) *moment = mid[0];
}
