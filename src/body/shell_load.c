/* Loads: kept in direction, moments, and pressure that follows the surface. */
#include "body/shell_parts.h"

#include <string.h>

void body_shell_force(struct body_shell *s, int set, size_t node, const double force[3]) {
    for (int c = 0; c < 3; c++)
        s->load[set].force[node][c] += force[c];
}

void body_shell_moment(struct body_shell *s, int set, size_t v, const double moment[3]) {
    for (int c = 0; c < 3; c++)
        s->load[set].moment[v][c] += moment[c];
    s->load[set].any_moment = 1;
}

void body_shell_spread(struct body_shell *s, int set, size_t f, const double load[3]) {
    for (int i = 0; i < 3; i++)
        for (int c = 0; c < 3; c++)
            s->load[set].force[s->tri[f][i]][c] += load[c] * s->face[f].area * s->face[f].share[i];
}

void body_shell_pressure(struct body_shell *s, int set, size_t f, double pressure) {
    s->load[set].pressure[f] += pressure;
    s->load[set].any_pressure = 1;
    shell_touch(s);
}

void body_shell_unload(struct body_shell *s, int set) {
    memset(s->load[set].force, 0, s->nodes * sizeof *s->load[set].force);
    memset(s->load[set].moment, 0, s->nv * sizeof *s->load[set].moment);
    memset(s->load[set].pressure, 0, s->nf * sizeof *s->load[set].pressure);
    s->load[set].any_pressure = s->load[set].any_moment = 0;
    shell_touch(s);
}

void body_shell_parameter(struct body_shell *s, double lambda) {
    s->lambda = lambda;
    shell_touch(s); /* of a pressure */
}

/* Twice the area vector of a face as it stands. */
static void area_vector(const struct body_shell *s, size_t f, double n[3]) {
    const int *v = s->tri[f];
    double a[3], b[3];
    for (int c = 0; c < 3; c++) {
        a[c] = s->x[v[1]][c] - s->x[v[0]][c];
        b[c] = s->x[v[2]][c] - s->x[v[0]][c];
    }
    cross3(a, b, n);
}

/* The unknowns' forces of one set, along the support axes. A moment turns the normal by w: the work
 * of moment m is m . (n x dn), which is -m.p1 on tilt 2 and m.p2 on tilt 1. */
void shell_load_vector(const struct body_shell *s, int set, double *f) {
    const struct loads *l = &s->load[set];
    memset(f, 0, s->unknowns * sizeof *f);
    for (size_t v = 0; v < s->nodes; v++)
        memcpy(f + node_dof(s, v), l->force[v], sizeof *l->force);
    for (size_t k = 0; l->any_pressure && k < s->nf; k++) {
        if (l->pressure[k] == 0) continue;
        double n[3];
        area_vector(s, k, n);
        for (int i = 0; i < 3; i++)
            for (int c = 0; c < 3; c++)
                f[5 * s->tri[k][i] + c] += l->pressure[k] * s->face[k].share[i] * n[c] / 2;
    }
    for (size_t v = 0; v < s->nodes; v++) {
        double *p = f + node_dof(s, v);
        if (s->axes_of[v] >= 0) {
            const double *q = s->axes[s->axes_of[v]];
            double t[3] = {p[0], p[1], p[2]};
            for (int r = 0; r < 3; r++)
                p[r] = dot3(q + 3 * r, t);
        }
        if (v < s->nv && l->any_moment) {
            p[3] = dot3(l->moment[v], s->p2[v]);
            p[4] = -dot3(l->moment[v], s->p1[v]);
        }
    }
}

/* Minus the derivative of the pressure's forces, made symmetric (exact where the edge is held or
 * the pressure uniform and the surface closed). Returns 0 when there is none. */
int pressure_tangent(const struct body_shell *s, size_t f, double k[9][9]) {
    double p = 0;
    for (int set = 0; set < BODY_LOADS; set++)
        if (s->load[set].any_pressure)
            p += s->load[set].pressure[f] * (set == BODY_LOAD_PATH ? s->lambda : 1);
    if (p == 0) return 0;
    /* force on corner i: p/2 share_i (x1-x0) x (x2-x0) = p/2 share_i sum of x_k x x_{k+1}; d/dx_j
     * of it is p/2 share_i [x_{j+2} - x_{j+1}] crossed onto dx_j */
    double raw[9][9];
    const int *v = s->tri[f];
    for (int j = 0; j < 3; j++) {
        const double *a = s->x[v[(j + 1) % 3]], *b = s->x[v[(j + 2) % 3]];
        double w[3] = {b[0] - a[0], b[1] - a[1],
                       b[2] - a[2]}; /* d(area) = dx_j x (a - b) = w x dx_j */
        double m[3][3] = {{0, -w[2], w[1]}, {w[2], 0, -w[0]}, {-w[1], w[0], 0}};
        for (int i = 0; i < 3; i++)
            for (int r = 0; r < 3; r++)
                for (int c = 0; c < 3; c++)
                    raw[3 * i + r][3 * j + c] = -p / 2 * s->face[f].share[i] * m[r][c];
    }
    for (int a = 0; a < 9; a++)
        for (int b = 0; b < 9; b++)
            k[a][b] = 0.5 * (raw[a][b] + raw[b][a]);
    return 1;
}

void shell_load_gradient(const struct body_shell *s, double *g) {
    for (int set = 0; set < BODY_LOADS; set++) {
        const struct loads *l = &s->load[set];
        double factor = set == BODY_LOAD_PATH ? s->lambda : 1;
        if (factor == 0) continue;
        for (size_t v = 0; v < s->nodes; v++) {
            double f[3] = {l->force[v][0], l->force[v][1], l->force[v][2]};
            double *to = g + node_dof(s, v);
            if (s->axes_of[v] >= 0) {
                const double *q = s->axes[s->axes_of[v]];
                for (int r = 0; r < 3; r++)
                    to[r] -= factor * dot3(q + 3 * r, l->force[v]);
            } else
                for (int c = 0; c < 3; c++)
                    to[c] -= factor * f[c];
            if (v < s->nv && l->any_moment) {
                to[3] -= factor * dot3(l->moment[v], s->p2[v]);
                to[4] += factor * dot3(l->moment[v], s->p1[v]);
            }
        }
        for (size_t k = 0; l->any_pressure && k < s->nf; k++) {
            if (l->pressure[k] == 0) continue;
            double n[3];
            area_vector(s, k, n);
            for (int i = 0; i < 3; i++) {
                size_t v = (size_t)s->tri[k][i];
                double f[3] = {n[0], n[1], n[2]};
                if (s->axes_of[v] >= 0)
                    for (int r = 0; r < 3; r++)
                        f[r] = dot3(s->axes[s->axes_of[v]] + 3 * r, n);
                for (int c = 0; c < 3; c++)
                    g[5 * v + (size_t)c] -=
                        factor * l->pressure[k] * s->face[k].share[i] * f[c] / 2;
            }
        }
    }
}
