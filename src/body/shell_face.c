/* One triangle: its scalars, its stiffness in them, and their derivatives.
 *
 * Edge i runs from corner i+1 to corner i+2, e_i = x_{i+2} - x_{i+1}. With rest length l:
 *   s = -n . e at either end; S, E = s + s^3 / (6 l^2)   (sine to angle, to third order)
 *   A = e . e + (2 S^2 - S E + 2 E^2) / 15               (squared arc length of a cubic with these
 *                                                         end slopes, to second order)
 * Membrane strain is constant; curvature is linear, by the discrete Kirchhoff construction of
 * Batoz, Bathe, Ho (1980) with slopes as data. */
#include "body/shell_parts.h"
#include "body/wide.h"

#include <float.h>
#include <math.h>
#include <string.h>

static const int START[3] = {1, 2, 0}, END[3] = {2, 0, 1};
static const double GAUSS3[3][3] = {
    {2.0 / 3, 1.0 / 6, 1.0 / 6}, {1.0 / 6, 2.0 / 3, 1.0 / 6}, {1.0 / 6, 1.0 / 6, 2.0 / 3}};

/* Inverse of the rows (u_i^2, v_i^2, u_i v_i): takes edge values e.(tensor).e to Voigt. */
void face_strain_rows(const double g[6], double t[9]) {
    double a[3][3];
    for (int i = 0; i < 3; i++) {
        a[i][0] = g[2 * i] * g[2 * i];
        a[i][1] = g[2 * i + 1] * g[2 * i + 1];
        a[i][2] = g[2 * i] * g[2 * i + 1];
    }
    double det = 0;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) { /* cofactor of a[j][i] */
            int r0 = (j + 1) % 3, r1 = (j + 2) % 3, c0 = (i + 1) % 3, c1 = (i + 2) % 3;
            t[3 * i + j] = a[r0][c0] * a[r1][c1] - a[r0][c1] * a[r1][c0];
        }
    for (int j = 0; j < 3; j++)
        det += a[0][j] * t[3 * j];
    for (int k = 0; k < 9; k++)
        t[k] /= det;
}

/* Slope vector at each corner from its two edges: g_v . e_{v+2} = S_{v+2}, g_v . e_{v+1} = E_{v+1}.
 */
static void corner_slopes(const double g[6], double out[3][2][6]) {
    memset(out, 0, 3 * sizeof *out);
    for (int v = 0; v < 3; v++) {
        int is = (v + 2) % 3, ie = (v + 1) % 3;
        double a = g[2 * is], b = g[2 * is + 1], c = g[2 * ie], d = g[2 * ie + 1];
        double det = a * d - b * c;
        out[v][0][2 * is] = d / det;
        out[v][0][2 * ie + 1] = -b / det;
        out[v][1][2 * is] = -c / det;
        out[v][1][2 * ie + 1] = a / det;
    }
}

static void add_gradient(double b[3][6], double gx, double gy, double slope[2][6]) {
    for (int m = 0; m < 6; m++) {
        b[0][m] += gx * slope[0][m];
        b[1][m] += gy * slope[1][m];
        b[2][m] += gy * slope[0][m] + gx * slope[1][m];
    }
}

/* Rows k11, k22, 2 k12 of (S0 E0 S1 E1 S2 E2) at a point. */
void face_bending_rows(const double g[6], const double bary[3], double b[3][6]) {
    double twice = g[0] * g[3] - g[1] * g[2], dl[3][2], corner[3][2][6];
    for (int i = 0; i < 3; i++) {
        dl[i][0] = -g[2 * i + 1] / twice;
        dl[i][1] = g[2 * i] / twice;
    }
    corner_slopes(g, corner);
    memset(b, 0, 18 * sizeof(double));
    for (int v = 0; v < 3; v++) {
        double k = 4 * bary[v] - 1;
        add_gradient(b, k * dl[v][0], k * dl[v][1], corner[v]);
    }
    for (int i = 0; i < 3; i++) {
        int p = START[i], q = END[i];
        double tx = g[2 * i], ty = g[2 * i + 1], l2 = tx * tx + ty * ty, mid[2][6];
        for (int m = 0; m < 6; m++) {
            double hx = 0.5 * (corner[p][0][m] + corner[q][0][m]);
            double hy = 0.5 * (corner[p][1][m] + corner[q][1][m]);
            double along =
                (m / 2 == i ? -0.25 : 0) - (hx * tx + hy * ty); /* mid slope of a cubic */
            mid[0][m] = hx + along * tx / l2;
            mid[1][m] = hy + along * ty / l2;
        }
        double gx = 4 * (bary[p] * dl[q][0] + bary[q] * dl[p][0]);
        double gy = 4 * (bary[p] * dl[q][1] + bary[q] * dl[p][1]);
        add_gradient(b, gx, gy, mid);
    }
}

struct edge_read {
    double e[3], s[2], d1[2], d2[2], val[2]; /* raw slopes, S' and S'', S and E */
};

INLINE double edge_scalars(const double (*x)[3], const double (*n)[3], const int *v, int i,
                           double l2, struct edge_read *r) {
    int a = v[START[i]], b = v[END[i]];
    for (int c = 0; c < 3; c++)
        r->e[c] = x[b][c] - x[a][c];
    r->s[0] = -dot3(n[a], r->e);
    r->s[1] = -dot3(n[b], r->e);
    for (int h = 0; h < 2; h++) {
        double s = r->s[h];
        r->d1[h] = 1 + s * s / (2 * l2);
        r->d2[h] = s / l2;
        r->val[h] = s + s * s * s / (6 * l2);
    }
    double S = r->val[0], E = r->val[1];
    return dot3(r->e, r->e) + (2 * S * S - S * E + 2 * E * E) / 15;
}

static void scalars_of(const double (*x)[3], const double (*n)[3], const int *v, const double l2[3],
                       double q[NQ]) {
    for (int i = 0; i < 3; i++) {
        struct edge_read r;
        q[i] = edge_scalars(x, n, v, i, l2[i], &r);
        q[3 + 2 * i] = r.val[0];
        q[4 + 2 * i] = r.val[1];
    }
}

void face_scalars(const struct body_shell *s, size_t f, double q[NQ]) {
    scalars_of((const double(*)[3])s->x, (const double(*)[3])s->n, s->tri[f], s->face[f].l2, q);
}

/* Each corner bears what lies nearest to it (the corner's part of the Voronoi cell; in a blunt
 * triangle half at the blunt corner): M. Meyer et al., Visualization and Mathematics III (2003)
 * 35-57. With equal thirds a faceted tube under pressure would bulge wherever eight triangles meet.
 */
static void load_shares(struct face *f) {
    double twice = 2 * f->area, cot[3];
    int blunt = -1;
    for (int i = 0; i < 3; i++) { /* angle at corner i lies between edges i+1 and i+2 */
        cot[i] = (f->l2[(i + 1) % 3] + f->l2[(i + 2) % 3] - f->l2[i]) / (2 * twice);
        if (cot[i] < 0) blunt = i;
    }
    for (int i = 0; i < 3; i++) {
        int j = (i + 1) % 3, k = (i + 2) % 3;
        f->share[i] = blunt < 0 ? (f->l2[j] * cot[j] + f->l2[k] * cot[k]) / (8 * f->area)
                                : (blunt == i ? 0.5 : 0.25);
    }
}

void face_geometry(struct body_shell *s, size_t f) {
    struct face *face = &s->face[f];
    const int *v = s->tri[f];
    double e[3][3], n[3], a[3], b[3];
    for (int i = 0; i < 3; i++)
        for (int c = 0; c < 3; c++)
            e[i][c] = s->rest[v[END[i]]][c] - s->rest[v[START[i]]][c];
    cross3(e[0], e[1], n);
    double l = sqrt(dot3(n, n));
    face->area = l / 2;
    for (int c = 0; c < 3; c++)
        n[c] /= l;
    double up = dot3(n, face->axis);
    for (int c = 0; c < 3; c++)
        a[c] = face->axis[c] - up * n[c];
    l = sqrt(dot3(a, a));
    for (int c = 0; c < 3; c++)
        a[c] /= l;
    cross3(n, a, b);
    for (int i = 0; i < 3; i++) {
        face->g[2 * i] = dot3(e[i], a);
        face->g[2 * i + 1] = dot3(e[i], b);
        face->l2[i] = dot3(e[i], e[i]);
    }
    load_shares(face);
    scalars_of((const double(*)[3])s->rest, (const double(*)[3])s->rest_n, v, face->l2, face->rest);
}

static void sheet_stiffness(struct face *f, const struct body_laminate *l, int membrane) {
    double t[9], (*m)[NQ] = (double(*)[NQ])f->m;
    face_strain_rows(f->g, t);
    memset(f->m, 0, sizeof f->m);
    for (int i = 0; i < 3 && membrane; i++)
        for (int j = 0; j < 3; j++)
            for (int k = 0; k < 9; k++)
                m[i][j] += f->area / 4 * t[3 * (k / 3) + i] * l->a[k] * t[3 * (k % 3) + j];
    for (int g = 0; g < 3; g++) {
        double b[3][6], db[3][6], cb[3][6];
        face_bending_rows(f->g, GAUSS3[g], b);
        for (int r = 0; r < 3; r++)
            for (int j = 0; j < 6; j++) {
                db[r][j] =
                    l->d[3 * r] * b[0][j] + l->d[3 * r + 1] * b[1][j] + l->d[3 * r + 2] * b[2][j];
                cb[r][j] =
                    l->c[3 * r] * b[0][j] + l->c[3 * r + 1] * b[1][j] + l->c[3 * r + 2] * b[2][j];
            }
        for (int j = 0; j < 6; j++) {
            for (int i = 0; i < 6; i++)
                for (int r = 0; r < 3; r++)
                    m[3 + i][3 + j] += f->area / 3 * b[r][i] * db[r][j];
            for (int i = 0; i < 3; i++) {
                double v = 0;
                for (int r = 0; r < 3; r++)
                    v += f->area / 6 * t[3 * r + i] * cb[r][j];
                m[i][3 + j] += v;
                m[3 + j][i] += v;
            }
        }
    }
}

void face_rebuild(struct body_shell *s, size_t f) {
    struct face *face = &s->face[f];
    sheet_stiffness(face, &s->laminate[f], !s->smooth);
    const double *e = face->strain, *k = face->curvature;
    for (int i = 0; i < 3; i++) {
        double u = face->g[2 * i], v = face->g[2 * i + 1];
        double bend = 0.5 * (k[0] * u * u + k[1] * v * v + k[2] * u * v);
        face->bar[i] = face->rest[i] + 2 * (e[0] * u * u + e[1] * v * v + e[2] * u * v);
        face->bar[3 + 2 * i] = face->rest[3 + 2 * i] - bend;
        face->bar[4 + 2 * i] = face->rest[4 + 2 * i] + bend;
    }
    memset(face->lx, 0, sizeof face->lx);
    face->w0 = 0;
    face->loose = 0;
    for (int r = face->first_row; r >= 0; r = s->row[r].next) {
        const struct row *w = &s->row[r];
        if (row_is_loose(w)) {
            face->loose = 1;
            continue;
        }
        double y0 = -w->target;
        for (int j = 0; j < NQ; j++)
            y0 += w->v[j] * face->bar[j];
        for (int i = 0; i < NQ; i++) {
            face->lx[i] -= w->k * w->v[i] * y0;
            for (int j = 0; j < NQ; j++)
                face->m[NQ * i + j] += w->k * w->v[i] * w->v[j];
        }
        face->w0 += 0.5 * w->k * y0 * y0;
    }
}

/* Rounding of a face's forces: edge vectors are known to eps times the places, and a squared edge
 * length is off by twice its length times that. */
static double face_noise(const struct body_shell *s, size_t f, double far) {
    const struct face *face = &s->face[f];
    double most = 0, l = 0;
    for (int i = 0; i < 3; i++) {
        double sum = 0;
        for (int j = 0; j < 3; j++)
            sum += fabs(face->m[NQ * i + j]) * sqrt(face->l2[j]);
        if (s->smooth) /* its stiffness stands in the edges; as much as here */
            sum += s->laminate[f].a[0] * sqrt(face->l2[i]) / face->area;
        most = fmax(most, sum);
        l = fmax(l, sqrt(face->l2[i]));
    }
    return most * 2 * DBL_EPSILON * far * 2 * l;
}

void shell_refresh(struct body_shell *s) {
    if (!s->dirty) return;
    shell_touch(s);
    double far = 0, sum = 0;
    for (size_t v = 0; v < s->nv; v++)
        for (int c = 0; c < 3; c++)
            far = fmax(far, fabs(s->rest[v][c]));
    for (size_t f = 0; f < s->nf; f++) {
        face_rebuild(s, f);
        double n = face_noise(s, f, far);
        sum += n * n;
    }
    s->noise = sqrt(sum);
    s->loose = 0;
    for (size_t i = 0; i < s->rows; i++)
        s->loose |= row_is_loose(&s->row[i]) && s->row[i].k > 0;
    if (s->smooth) smooth_rebuild(s);
    s->dirty = 0;
}

INLINE void forces_of(const struct face *face, const double q[NQ], double force[NQ]) {
    double d[NQ];
    for (int j = 0; j < NQ; j++)
        d[j] = q[j] - face->bar[j];
    for (int i = 0; i < NQ; i++) {
        double r = -face->lx[i];
        for (int j = 0; j < NQ; j++)
            r += face->m[NQ * i + j] * d[j];
        force[i] = r;
    }
}

/* Adds what the loose rows give at q; their tangents to m when given. */
static void add_loose(const struct body_shell *s, size_t f, const double q[NQ], double force[NQ],
                      double *m) {
    if (!s->face[f].loose) return;
    for (int i = s->face[f].first_row; i >= 0; i = s->row[i].next) {
        const struct row *r = &s->row[i];
        double k;
        if (!row_is_loose(r)) continue;
        double p = row_law(r, row_reading(r, q), &k, NULL);
        for (int a = 0; a < NQ; a++) {
            force[a] += p * r->v[a];
            for (int b = 0; m && b < NQ; b++)
                m[NQ * a + b] += k * r->v[a] * r->v[b];
        }
    }
}

void face_forces(const struct body_shell *s, size_t f, double force[NQ]) {
    double q[NQ];
    face_scalars(s, f, q);
    forces_of(&s->face[f], q, force);
    add_loose(s, f, q, force, NULL);
}

double face_energy(const struct body_shell *s, size_t f) {
    const struct face *face = &s->face[f];
    double q[NQ], force[NQ], w = face->w0;
    face_scalars(s, f, q);
    forces_of(face, q, force); /* M d - lx */
    for (int i = 0; i < NQ; i++)
        w += 0.5 * (force[i] - face->lx[i]) * (q[i] - face->bar[i]);
    for (int i = face->loose ? face->first_row : -1; i >= 0; i = s->row[i].next) {
        double e;
        if (!row_is_loose(&s->row[i])) continue;
        row_law(&s->row[i], row_reading(&s->row[i], q), NULL, &e);
        w += e;
    }
    return w;
}

void face_forces_ahead(const struct body_shell *s, size_t f, const double *d, double force[NQ]) {
    const struct face *face = &s->face[f];
    const int *v = s->tri[f];
    double q[NQ];
    for (int i = 0; i < 3; i++) {
        struct edge_read r;
        q[i] =
            edge_scalars((const double(*)[3])s->x, (const double(*)[3])s->n, v, i, face->l2[i], &r);
        const int end[2] = {START[i], END[i]};
        const double *da = d + 5 * end[0], *db = d + 5 * end[1];
        double de[3] = {db[0] - da[0], db[1] - da[1], db[2] - da[2]}, dv[2];
        for (int h = 0; h < 2; h++) {
            const double *t = d + 5 * end[h] + 3;
            int w = v[end[h]];
            dv[h] = -r.d1[h] *
                    (dot3(s->n[w], de) + t[0] * dot3(s->p1[w], r.e) + t[1] * dot3(s->p2[w], r.e));
            q[3 + 2 * i + h] = r.val[h] + dv[h];
        }
        q[i] += 2 * dot3(r.e, de) +
                ((4 * r.val[0] - r.val[1]) * dv[0] + (4 * r.val[1] - r.val[0]) * dv[1]) / 15;
    }
    forces_of(face, q, force);
    add_loose(s, f, q, force, NULL);
}

/* Local unknowns: r1 = x1 - x0, r2 = x2 - x0 (3 each), tilts of corners 0, 1, 2 (2 each). Edge 0 is
 * r2 - r1, edge 1 is -r2, edge 2 is r1. */
static const double ON_R1[3] = {-1, 0, 1}, ON_R2[3] = {1, -1, 0};

INLINE void spread(double row[LOCAL], int i, const double e[3], const double ta[2],
                   const double tb[2]) {
    double a = ON_R1[i], b = ON_R2[i], t[6];
    for (int k = 0; k < 2; k++) {
        t[2 * START[i] + k] = ta[k];
        t[2 * END[i] + k] = tb[k];
        t[2 * i + k] = 0;
    }
    /* written in fours as it is read: a wide load just after narrow stores would wait for them */
    TO_FOUR(row) = (four){a * e[0], a * e[1], a * e[2], b * e[0]};
    TO_FOUR(row + 4) = (four){b * e[1], b * e[2], t[0], t[1]};
    TO_FOUR(row + 8) = (four){t[2], t[3], t[4], t[5]};
}

INLINE void rows_of_edge(const struct body_shell *s, const int *v, int i, const struct edge_read *r,
                         double j[NQ][LOCAL]) {
    int a = v[START[i]], b = v[END[i]];
    double S = r->val[0], E = r->val[1], cs = (4 * S - E) / 15, ce = (4 * E - S) / 15;
    double es[3], ee[3], ea[3];
    double ts[2] = {-r->d1[0] * dot3(s->p1[a], r->e), -r->d1[0] * dot3(s->p2[a], r->e)};
    double te[2] = {-r->d1[1] * dot3(s->p1[b], r->e), -r->d1[1] * dot3(s->p2[b], r->e)};
    for (int c = 0; c < 3; c++) {
        es[c] = -r->d1[0] * s->n[a][c];
        ee[c] = -r->d1[1] * s->n[b][c];
        ea[c] = 2 * r->e[c] + cs * es[c] + ce * ee[c];
    }
    const double zero[2] = {0, 0};
    spread(j[3 + 2 * i], i, es, ts, zero);
    spread(j[4 + 2 * i], i, ee, zero, te);
    spread(j[i], i, ea, (double[2]){cs * ts[0], cs * ts[1]}, (double[2]){ce * te[0], ce * te[1]});
}

/* Forces conjugate to S and E of an edge, with what A passes on to them. */
INLINE void slope_forces(const struct edge_read *r, int i, const double *fi, double out[2]) {
    double fa = fi[i], S = r->val[0], E = r->val[1];
    out[0] = fi[3 + 2 * i] + fa * (4 * S - E) / 15;
    out[1] = fi[4 + 2 * i] + fa * (4 * E - S) / 15;
}

/* What goes with products of the slopes' own derivatives, f (4 dS dS' - dS dE' - dE dS' + 4 dE dE')
 * / 15 and S'': they are rows of J, so it stands beside M before J' M J is taken. By edge: on S, on
 * E, between them. */
INLINE void slope_products(const struct edge_read *r, int i, const double *fi, double out[3]) {
    double fa = fi[i], force[2];
    slope_forces(r, i, fi, force);
    out[0] = 4 * fa / 15 + force[0] * r->d2[0] / (r->d1[0] * r->d1[0]);
    out[1] = 4 * fa / 15 + force[1] * r->d2[1] / (r->d1[1] * r->d1[1]);
    out[2] = -fa / 15;
}

/* Adds a 3x3 times identity, or column vectors, on the two local place blocks. */
INLINE void geometric(const struct body_shell *s, const int *v, int i, const struct edge_read *r,
                      const double *fi, double k[LOCAL][LOCAL]) {
    double fa = fi[i], m[2];
    slope_forces(r, i, fi, m);
    double aa = 2 * fa * ON_R1[i] * ON_R1[i], bb = 2 * fa * ON_R2[i] * ON_R2[i];
    double ab = 2 * fa * ON_R1[i] * ON_R2[i];
    for (int c = 0; c < 3; c++) {
        k[c][c] += aa;
        k[3 + c][3 + c] += bb;
        k[3 + c][c] += ab;
    }
    const int end[2] = {START[i], END[i]};
    for (int h = 0; h < 2; h++) {
        double mu = m[h] * r->d1[h];
        int t = 6 + 2 * end[h], w = v[end[h]];
        for (int c = 0; c < 3; c++) {
            double u1 = -mu * s->p1[w][c], u2 = -mu * s->p2[w][c];
            k[t][c] += ON_R1[i] * u1;
            k[t][3 + c] += ON_R2[i] * u1;
            k[t + 1][c] += ON_R1[i] * u2;
            k[t + 1][3 + c] += ON_R2[i] * u2;
        }
        k[t][t] -= mu * r->s[h];
        k[t + 1][t + 1] -= mu * r->s[h];
    }
}

/* From the 12 local unknowns to x, tilts of corner 0, 1, 2 in turn: x0 takes minus the sum. */
INLINE void widen(const double gl[LOCAL], double (*kl)[LOCAL], double g[FACE_DOF],
                  double (*k)[FACE_DOF]) {
    static const int to[LOCAL] = {5, 6, 7, 10, 11, 12, 3, 4, 8, 9, 13, 14};
    for (int a = 0; a < LOCAL; a++)
        g[to[a]] = gl[a];
    for (int c = 0; c < 3; c++)
        g[c] = -gl[c] - gl[3 + c];
    if (!k) return;
    for (int a = 0; a < LOCAL; a++)
        for (int b = 0; b <= a; b++) {
            int p = to[a], q = to[b];
            if (p >= q)
                k[p][q] = kl[a][b];
            else
                k[q][p] = kl[a][b];
        }
#define FULL(a, b) ((a) >= (b) ? kl[a][b] : kl[b][a])
    for (int c = 0; c < 3; c++) {
        for (int a = 0; a < LOCAL; a++) {
            double w = -FULL(a, c) - FULL(a, 3 + c);
            k[to[a]][c] = w; /* to[a] > c always */
        }
        for (int d = 0; d <= c; d++)
            k[c][d] = FULL(c, d) + FULL(3 + c, d) + FULL(c, 3 + d) + FULL(3 + c, 3 + d);
    }
#undef FULL
}

/* The lower half of k = J' (M + products) J (and rubbish above). The same sums in the same order
 * with wide vectors and without. */
INLINE void local_stiffness(const double *m, const double product[3][3], const double j[NQ][LOCAL],
                            double k[LOCAL][LOCAL]) {
    double mj[NQ][LOCAL];
    for (int i = 0; i < NQ; i++) {
        four s0 = {0}, s1 = {0}, s2 = {0};
#pragma GCC unroll 9
        for (int p = 0; p < NQ; p++) {
            double w = m[NQ * i + p];
            four f = {w, w, w, w};
            s0 += f * FOUR(j[p]);
            s1 += f * FOUR(j[p] + 4);
            s2 += f * FOUR(j[p] + 8);
        }
        if (i >= 3) {
            int end = (i - 3) % 2, mate = end ? i - 1 : i + 1;
            double w = product[(i - 3) / 2][end], v = product[(i - 3) / 2][2];
            four f = {w, w, w, w}, h = {v, v, v, v};
            s0 += f * FOUR(j[i]) + h * FOUR(j[mate]);
            s1 += f * FOUR(j[i] + 4) + h * FOUR(j[mate] + 4);
            s2 += f * FOUR(j[i] + 8) + h * FOUR(j[mate] + 8);
        }
        TO_FOUR(mj[i]) = s0;
        TO_FOUR(mj[i] + 4) = s1;
        TO_FOUR(mj[i] + 8) = s2;
    }
    for (int a = 0; a < LOCAL; a++) {
        four s0 = {0}, s1 = {0}, s2 = {0};
#pragma GCC unroll 9
        for (int i = 0; i < NQ; i++) {
            double w = j[i][a];
            four f = {w, w, w, w};
            s0 += f * FOUR(mj[i]);
            if (a >= 4) s1 += f * FOUR(mj[i] + 4);
            if (a >= 8) s2 += f * FOUR(mj[i] + 8);
        }
        TO_FOUR(k[a]) = s0;
        TO_FOUR(k[a] + 4) = s1;
        TO_FOUR(k[a] + 8) = s2;
    }
}

INLINE void derivatives(const struct body_shell *s, size_t f, const double *fi, double g[FACE_DOF],
                        double (*k)[FACE_DOF]) {
    const struct face *face = &s->face[f];
    const int *v = s->tri[f];
    struct edge_read r[3];
    double q[NQ], force[NQ], j[NQ][LOCAL], gl[LOCAL] = {0}, kl[LOCAL][LOCAL];
#pragma GCC unroll 3
    for (int i = 0; i < 3; i++) {
        q[i] = edge_scalars((const double(*)[3])s->x, (const double(*)[3])s->n, v, i, face->l2[i],
                            &r[i]);
        q[3 + 2 * i] = r[i].val[0];
        q[4 + 2 * i] = r[i].val[1];
        rows_of_edge(s, v, i, &r[i], j);
    }
    double own[NQ * NQ];
    const double *m = face->m;
    if (k && face->loose) m = memcpy(own, face->m, sizeof own);
    forces_of(face, q, force);
    add_loose(s, f, q, force, k && face->loose ? own : NULL);
    for (int i = 0; i < NQ; i++)
        for (int a = 0; a < LOCAL; a++)
            gl[a] += force[i] * j[i][a];
    if (k) {
        double product[3][3];
        for (int i = 0; i < 3; i++)
            slope_products(&r[i], i, fi ? fi : force, product[i]);
        local_stiffness(m, (const double(*)[3])product, (const double(*)[LOCAL])j, kl);
#pragma GCC unroll 3
        for (int i = 0; i < 3; i++)
            geometric(s, v, i, &r[i], fi ? fi : force, kl);
    }
    widen(gl, k ? kl : NULL, g, k);
}

#ifdef __x86_64__
__attribute__((target("avx2"))) static void derivatives_wide(const struct body_shell *s, size_t f,
                                                             const double *fi, double *g,
                                                             double (*k)[FACE_DOF]) {
    derivatives(s, f, fi, g, k);
}
#endif

void face_derivatives(const struct body_shell *s, size_t f, const double *fi, double g[FACE_DOF],
                      double (*k)[FACE_DOF]) {
#ifdef __x86_64__
    if (__builtin_cpu_supports("avx2")) {
        derivatives_wide(s, f, fi, g, k);
        return;
    }
#endif
    derivatives(s, f, fi, g, k);
}

/* Bending, twist and stretch of a straight line in the face, at its two Gauss points. */
void face_line_rows(const struct body_shell *s, size_t f, const double from[3], const double to[3],
                    double bend[2][6], double twist[2][6], double stretch[3], double *length) {
    const double *g = s->face[f].g;
    /* corners in the material's plane: 0 at the origin, 1 at e2, 2 at -e1 */
    double dx = (to[1] - from[1]) * g[4] - (to[2] - from[2]) * g[2];
    double dy = (to[1] - from[1]) * g[5] - (to[2] - from[2]) * g[3];
    *length = hypot(dx, dy);
    double c = *length > 0 ? dx / *length : 1, d = *length > 0 ? dy / *length : 0, t[9];
    face_strain_rows(g, t);
    for (int j = 0; j < 3; j++)
        stretch[j] = 0.5 * (c * c * t[j] + d * d * t[3 + j] + c * d * t[6 + j]);
    for (int p = 0; p < 2; p++) {
        double w = 0.5 + (p ? 0.5 : -0.5) / sqrt(3), at[3], b[3][6];
        for (int i = 0; i < 3; i++)
            at[i] = (1 - w) * from[i] + w * to[i];
        face_bending_rows(g, at, b);
        for (int m = 0; m < 6; m++) {
            bend[p][m] = c * c * b[0][m] + d * d * b[1][m] + c * d * b[2][m];
            twist[p][m] = c * d * (b[1][m] - b[0][m]) + 0.5 * (c * c - d * d) * b[2][m];
        }
    }
}
