/* What can be asked of a shell: strains, resultants, energies, reactions, mass. */
#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <string.h>

void body_shell_feel(const struct body_shell *s, size_t f, struct body_feel *out) {
    const struct face *face = &s->face[f];
    const struct body_laminate *l = &s->laminate[f];
    const double middle[3] = {1.0 / 3, 1.0 / 3, 1.0 / 3};
    double q[NQ], t[9], b[3][6];
    face_scalars(s, f, q);
    face_strain_rows(face->g, t);
    face_bending_rows(face->g, middle, b);
    for (int i = 0; i < 3; i++) {
        out->strain[i] = out->curvature[i] = 0;
        double rest = 0;
        for (int j = 0; j < 3; j++)
            out->strain[i] += 0.5 * t[3 * i + j] * (q[j] - face->rest[j]);
        for (int j = 0; j < 6; j++) {
            out->curvature[i] += b[i][j] * q[3 + j];
            rest += b[i][j] * face->rest[3 + j];
        }
        out->elastic_strain[i] = out->strain[i] - face->strain[i];
        out->elastic_curvature[i] = out->curvature[i] - rest - face->curvature[i];
    }
    for (int i = 0; i < 3; i++) {
        out->n[i] = out->m[i] = 0;
        for (int j = 0; j < 3; j++) {
            double e = out->elastic_strain[j], k = out->elastic_curvature[j];
            out->n[i] += l->a[3 * i + j] * e + l->c[3 * i + j] * k;
            out->m[i] += l->c[3 * i + j] * e + l->d[3 * i + j] * k;
        }
    }
}

/* Force of a row and what it stores. */
static double row_stretch(const struct body_shell *s, const struct row *r, double *energy) {
    double q[NQ];
    face_scalars(s, (size_t)r->face, q);
    return row_law(r, row_reading(r, q), NULL, energy);
}

double body_part_energy(const struct body_shell *s, int part, double *force) {
    const struct part *p = &s->part[part];
    double w = 0, most = 0, e;
    for (int i = 0; i < p->rows; i++) {
        const struct row *r = &s->row[p->first_row + i];
        double y = row_stretch(s, r, &e);
        w += e;
        if (r->kind == ROW_STRETCH && r->weight > 0) {
            double n = y / r->weight;
            if (fabs(n) > fabs(most)) most = n;
        }
    }
    for (size_t i = p->first_group; i < p->first_group + p->groups; i++) {
        const struct group *g = &s->group[i];
        w += group_energy(s, g);
        double r[GROUP_READINGS], n = 0;
        if (g->k == 0 ||
            (g->kind != GROUP_TIE && g->kind != GROUP_CORD && g->kind != GROUP_LINEAR &&
             g->kind != GROUP_CHORD && g->kind != GROUP_STRETCH && g->kind != GROUP_FORMER))
            continue;
        group_readings(s, g, r);
        for (int k = 0; k < g->m; k++)
            n += (r[k] - g->rest[k]) * (r[k] - g->rest[k]);
        n = g->k * sqrt(n);
        if (g->kind == GROUP_STRETCH) n = g->k * (r[0] - g->rest[0]) * 2 * sqrt(g->rest[0]);
        if (fabs(n) > fabs(most)) most = n;
    }
    if (force) *force = most;
    return w;
}

double body_shell_energy(const struct body_shell *s, double *parts) {
    double whole = s->smooth ? smooth_energy(s) : 0, of_parts = 0;
    for (size_t f = 0; f < s->nf; f++)
        whole += face_energy(s, f);
    for (size_t i = 0; i < s->groups; i++)
        whole += group_energy(s, &s->group[i]);
    if (parts) {
        for (size_t p = 0; p < s->parts; p++)
            of_parts += body_part_energy(s, (int)p, NULL);
        *parts = of_parts;
    }
    return whole;
}

double body_shell_potential(const struct body_shell *s) {
    double w = body_shell_energy(s, NULL);
    for (int set = 0; set < BODY_LOADS; set++) {
        double f = set == BODY_LOAD_PATH ? s->lambda : 1;
        for (size_t v = 0; v < s->nodes; v++)
            for (int c = 0; c < 3; c++)
                w -= f * s->load[set].force[v][c] * (s->x[v][c] - s->rest[v][c]);
    }
    return w;
}

double body_shell_mass(const struct body_shell *s) {
    double g = 0;
    for (size_t f = 0; f < s->nf; f++)
        g += s->face[f].area * s->laminate[f].mass;
    return g;
}

void body_shell_gravity(struct body_shell *s, int set, const double dir[3]) {
    const double newton = 0.00980665; /* per gram: standard gravity 9.80665 m/s2, ISO 80000-3 */
    for (size_t f = 0; f < s->nf; f++) {
        double w[3];
        for (int c = 0; c < 3; c++)
            w[c] = newton * s->laminate[f].mass * dir[c];
        body_shell_spread(s, set, f, w);
    }
    for (size_t p = 0; p < s->parts; p++) {
        const struct part *part = &s->part[p];
        if (part->kind != PART_LATH) continue;
        for (int i = 0; i < part->rows; i++) {
            const struct row *r = &s->row[part->first_row + i];
            if (r->kind != ROW_BEND) continue;
            for (int v = 0; v < 3; v++)
                for (int c = 0; c < 3; c++)
                    s->load[set].force[s->tri[r->face][v]][c] +=
                        newton * part->lath.mass * r->weight * dir[c] / 3;
        }
    }
}

/* Gradient of the energy less the loads at one node: what its supports must give. */
static void node_gradient(struct body_shell *s, const double *g, size_t node, double force[3]) {
    const double *p = g + node_dof(s, node);
    for (int c = 0; c < 3; c++)
        force[c] = p[c];
    if (s->axes_of[node] < 0) return;
    const double *q = s->axes[s->axes_of[node]];
    for (int c = 0; c < 3; c++)
        force[c] = q[c] * p[0] + q[3 + c] * p[1] + q[6 + c] * p[2];
}

int body_shell_gradient(struct body_shell *s, double *g, struct error *err) {
    (void)err;
    shell_refresh(s);
    matrix_assemble(s, g, TANGENT_NONE, NULL, 0);
    return 0;
}

void body_shell_reaction(struct body_shell *s, size_t node, double force[3]) {
    double *g = MEM_NEW(double, s->unknowns);
    memset(force, 0, 3 * sizeof *force);
    if (!g) return;
    body_shell_gradient(s, g, NULL);
    for (int c = 0; c < 3; c++)
        if (!s->fixed[node_dof(s, node) + (size_t)c]) g[node_dof(s, node) + (size_t)c] = 0;
    node_gradient(s, g, node, force);
    mem_free(g);
}

void body_shell_reactions(struct body_shell *s, double total[3]) {
    double *g = MEM_NEW(double, s->unknowns);
    memset(total, 0, 3 * sizeof *total);
    if (!g) return;
    body_shell_gradient(s, g, NULL);
    for (size_t v = 0; v < s->nodes; v++) {
        size_t d = node_dof(s, v);
        double force[3];
        if (!s->fixed[d] && !s->fixed[d + 1] && !s->fixed[d + 2]) continue;
        for (int c = 0; c < 3; c++)
            if (!s->fixed[d + (size_t)c]) g[d + (size_t)c] = 0;
        node_gradient(s, g, v, force);
        for (int c = 0; c < 3; c++)
            total[c] += force[c];
    }
    mem_free(g);
}
