/* The smoother membrane: one strain for each edge, the area-weighted mean of its two triangles'
 * (G. R. Liu, T. Nguyen-Thoi, K. Y. Lam, J. Sound Vib. 320 (2009) 1100-1130: edge-based smoothing).
 * Energy 1/2 (a1 + a2)/3 eps A eps for an edge between triangles of areas a1, a2 (free edge: the
 * one triangle's). Takes the membrane's place in the triangles' own stiffness. */
#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <string.h>

enum { EDGES = SMOOTH_EDGES };

/* Local numbers: 0, 1 the edge's ends, 2 (and 3) the corners opposite in the first (second)
 * triangle. */
static int local_of(const struct smooth *d, int vertex, int corners) {
    for (int i = 0; i < corners; i++)
        if (d->node[i] == (size_t)vertex) return i;
    return -1;
}

/* Adds triangle k of the edge: its part of the mean strain in terms of the edges' A, its rest. */
static void add_triangle(const struct body_shell *s, struct smooth *d, int k, double whole,
                         double g[3][EDGES], double e0[3], double stiff[9]) {
    size_t f = (size_t)d->face[k];
    const struct face *face = &s->face[f];
    double t[9], w = face->area / whole;
    face_strain_rows(face->g, t);
    for (int j = 0; j < 3; j++) {
        int p = local_of(d, s->tri[f][(j + 1) % 3], 3 + k),
            q = local_of(d, s->tri[f][(j + 2) % 3], 3 + k);
        int e = p < 2 && q < 2 ? 0 : 1 + 2 * k + (p == 1 || q == 1);
        d->end[e][0] = p;
        d->end[e][1] = q;
        d->l2[e] = face->l2[j];
        d->bar[e] = face->bar[j];
        for (int r = 0; r < 3; r++) {
            g[r][e] += 0.5 * w * t[3 * r + j];
            e0[r] += 0.5 * w * t[3 * r + j] * face->bar[j];
        }
    }
    for (int i = 0; i < 9; i++)
        stiff[i] += w * s->laminate[f].a[i];
}

static void rebuild(const struct body_shell *s, struct smooth *d) {
    double whole = s->face[d->face[0]].area + (d->face[1] >= 0 ? s->face[d->face[1]].area : 0);
    double g[3][EDGES] = {{0}}, e0[3] = {0}, stiff[9] = {0}, ag[3][EDGES], ae[3], rest[3];
    for (int k = 0; k < 2 && d->face[k] >= 0; k++)
        add_triangle(s, d, k, whole, g, e0, stiff);
    for (int r = 0; r < 3; r++) { /* what the mean strain of the natural state leaves over */
        rest[r] = -e0[r];
        for (int e = 0; e < d->edges; e++)
            rest[r] += g[r][e] * d->bar[e];
    }
    for (int r = 0; r < 3; r++) {
        ae[r] = stiff[3 * r] * rest[0] + stiff[3 * r + 1] * rest[1] + stiff[3 * r + 2] * rest[2];
        for (int e = 0; e < d->edges; e++)
            ag[r][e] =
                stiff[3 * r] * g[0][e] + stiff[3 * r + 1] * g[1][e] + stiff[3 * r + 2] * g[2][e];
    }
    d->w0 = 0;
    for (int r = 0; r < 3; r++)
        d->w0 += whole / 6 * rest[r] * ae[r];
    for (int i = 0; i < d->edges; i++) {
        d->lx[i] = 0;
        for (int r = 0; r < 3; r++)
            d->lx[i] -= whole / 3 * g[r][i] * ae[r];
        for (int j = 0; j < d->edges; j++) {
            double m = 0;
            for (int r = 0; r < 3; r++)
                m += whole / 3 * g[r][i] * ag[r][j];
            d->m[i][j] = m;
        }
    }
}

void smooth_rebuild(struct body_shell *s) {
    for (size_t i = 0; i < s->smooths; i++)
        rebuild(s, &s->smooth[i]);
}

int body_shell_smooth(struct body_shell *s, struct error *err) {
    if (s->matrix.ready)
        return fail(err, ERR_REFUSED, "Choose it first.",
                    "The membrane cannot be changed after the symbolic work.");
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 9; i++)
            if (s->laminate[f].c[i] != 0)
                return fail(err, ERR_REFUSED,
                            "Use the plain membrane for layers that are not symmetric.",
                            "The smoother membrane is for layers alike about the middle; triangle "
                            "%zu is not.",
                            f + 1);
    s->smooth = MEM_NEW(struct smooth, 3 * s->nf);
    if (!s->smooth) return fail_memory(err);
    for (size_t f = 0; f < s->nf; f++)
        for (int i = 0; i < 3; i++) {
            int u = s->edge_next[f][i];
            if (u >= 0 && (size_t)u < f) continue;
            struct smooth *d = &s->smooth[s->smooths++];
            d->face[0] = (int)f;
            d->face[1] = u;
            d->node[0] = (size_t)s->tri[f][(i + 1) % 3];
            d->node[1] = (size_t)s->tri[f][(i + 2) % 3];
            d->node[2] = (size_t)s->tri[f][i];
            d->nodes = 3;
            d->edges = 3;
            if (u < 0) continue;
            for (int j = 0; j < 3; j++)
                if (s->edge_next[u][j] == (int)f) d->node[3] = (size_t)s->tri[u][j];
            d->nodes = 4;
            d->edges = 5;
        }
    s->dirty = 1;
    return 0;
}

/* A of an edge a-b with derivatives in (xa ta xb tb), 3 2 3 2. */
static double edge_value(const struct body_shell *s, size_t a, size_t b, double l2, double g[10],
                         double (*h)[10]) {
    double e[3], gs[10] = {0}, ge[10] = {0};
    const double *na = s->n[a], *nb = s->n[b];
    const double *pa[2] = {s->p1[a], s->p2[a]}, *pb[2] = {s->p1[b], s->p2[b]};
    for (int c = 0; c < 3; c++)
        e[c] = s->x[b][c] - s->x[a][c];
    double sa = -dot3(na, e), sb = -dot3(nb, e);
    double S = sa + sa * sa * sa / (6 * l2), E = sb + sb * sb * sb / (6 * l2);
    double value = dot3(e, e) + (2 * S * S - S * E + 2 * E * E) / 15;
    if (!g) return value;
    double u = 1 + sa * sa / (2 * l2), w = 1 + sb * sb / (2 * l2);
    double ds = (4 * S - E) / 15 * u, de = (4 * E - S) / 15 * w; /* dA/ds of either raw slope */
    for (int c = 0; c < 3; c++) {
        gs[c] = na[c], gs[5 + c] = -na[c];
        ge[c] = nb[c], ge[5 + c] = -nb[c];
    }
    for (int k = 0; k < 2; k++) {
        gs[3 + k] = -dot3(pa[k], e);
        ge[8 + k] = -dot3(pb[k], e);
    }
    for (int i = 0; i < 10; i++)
        g[i] = ds * gs[i] + de * ge[i];
    for (int c = 0; c < 3; c++) {
        g[c] -= 2 * e[c];
        g[5 + c] += 2 * e[c];
    }
    if (!h) return value;
    double ss = (4 * u * u + (4 * S - E) * sa / l2) / 15,
           ee = (4 * w * w + (4 * E - S) * sb / l2) / 15;
    double se = -u * w / 15;
    for (int i = 0; i < 10; i++)
        for (int j = 0; j < 10; j++)
            h[i][j] =
                ss * gs[i] * gs[j] + ee * ge[i] * ge[j] + se * (gs[i] * ge[j] + ge[i] * gs[j]);
    for (int c = 0; c < 3; c++) {
        h[c][c] += 2, h[5 + c][5 + c] += 2;
        h[c][5 + c] -= 2, h[5 + c][c] -= 2;
        for (int k = 0; k < 2; k++) {
            double p = ds * pa[k][c], q = de * pb[k][c];
            h[c][3 + k] += p, h[3 + k][c] += p, h[5 + c][3 + k] -= p, h[3 + k][5 + c] -= p;
            h[c][8 + k] += q, h[8 + k][c] += q, h[5 + c][8 + k] -= q, h[8 + k][5 + c] -= q;
        }
    }
    for (int k = 0; k < 2; k++) {
        h[3 + k][3 + k] -= ds * sa;
        h[8 + k][8 + k] -= de * sb;
    }
    return value;
}

static void forces_of(const struct smooth *d, const double *a, double *force) {
    for (int i = 0; i < d->edges; i++) {
        force[i] = -d->lx[i];
        for (int j = 0; j < d->edges; j++)
            force[i] += d->m[i][j] * (a[j] - d->bar[j]);
    }
}

static void values(const struct body_shell *s, const struct smooth *d, double *a) {
    for (int e = 0; e < d->edges; e++)
        a[e] = edge_value(s, d->node[d->end[e][0]], d->node[d->end[e][1]], d->l2[e], NULL, NULL);
}

double smooth_energy(const struct body_shell *s) {
    double sum = 0, a[EDGES] = {0}, force[EDGES];
    for (size_t i = 0; i < s->smooths; i++) {
        const struct smooth *d = &s->smooth[i];
        values(s, d, a);
        forces_of(d, a, force);
        sum += d->w0;
        for (int e = 0; e < d->edges; e++)
            sum += 0.5 * (force[e] - d->lx[e]) * (a[e] - d->bar[e]);
    }
    return sum;
}

void smooth_forces_ahead(struct body_shell *s, struct smooth *d, const double *step) {
    double a[EDGES] = {0}, g[10];
    for (int e = 0; e < d->edges; e++) {
        int p = d->end[e][0], q = d->end[e][1];
        a[e] = edge_value(s, d->node[p], d->node[q], d->l2[e], g, NULL);
        for (int c = 0; step && c < 5; c++)
            a[e] += g[c] * step[5 * p + c] + g[5 + c] * step[5 * q + c];
    }
    forces_of(d, a, d->fi);
}

void smooth_derivatives(const struct body_shell *s, const struct smooth *d, const double *fi,
                        double grad[SMOOTH_DOF], double *k) {
    double a[EDGES] = {0}, force[EDGES], j[EDGES][SMOOTH_DOF], g[10], h[EDGES][10][10];
    int n = 5 * d->nodes;
    memset(j, 0, sizeof j);
    memset(grad, 0, SMOOTH_DOF * sizeof *grad);
    for (int e = 0; e < d->edges; e++) {
        int p = d->end[e][0], q = d->end[e][1];
        a[e] = edge_value(s, d->node[p], d->node[q], d->l2[e], g, k ? h[e] : NULL);
        for (int c = 0; c < 5; c++) {
            j[e][5 * p + c] = g[c];
            j[e][5 * q + c] = g[5 + c];
        }
    }
    forces_of(d, a, force);
    for (int e = 0; e < d->edges; e++)
        for (int c = 0; c < n; c++)
            grad[c] += force[e] * j[e][c];
    if (!k) return;
    memset(k, 0, (size_t)(n * n) * sizeof *k);
    for (int e = 0; e < d->edges; e++) {
        double mj[SMOOTH_DOF] = {0};
        for (int i = 0; i < d->edges; i++)
            for (int c = 0; c < n; c++)
                mj[c] += d->m[e][i] * j[i][c];
        for (int r = 0; r < n; r++)
            if (j[e][r] != 0)
                for (int c = 0; c < n; c++)
                    k[r * n + c] += j[e][r] * mj[c];
        double f = fi ? fi[e] : force[e];
        const int at[2] = {5 * d->end[e][0], 5 * d->end[e][1]};
        for (int r = 0; r < 10; r++)
            for (int c = 0; c < 10; c++)
                k[(at[r / 5] + r % 5) * n + at[c / 5] + c % 5] += f * h[e][r][c];
    }
}
