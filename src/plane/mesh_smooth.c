/* Bettering a triangulation by moving its inner points: area-weighted circumcentres (L. Chen,
 * J. Xu, J. Comput. Math. 22 (2004) 299-308), flips between the sweeps, and at last a direct search
 * for the largest smallest angle where an angle is still poor. */
#include "plane/mesh_parts.h"
#include "plane/predicates.h"

#include <math.h>
#include <string.h>

double mesh_worst_cosine(const double *a, const double *b, const double *c) {
    double u[3][2], l[3], worst = -1;
    const double *p[3] = {a, b, c};
    for (int i = 0; i < 3; i++) {
        const double *s = p[(i + 1) % 3], *e = p[(i + 2) % 3];
        u[i][0] = e[0] - s[0];
        u[i][1] = e[1] - s[1];
        l[i] = u[i][0] * u[i][0] + u[i][1] * u[i][1];
    }
    if (u[0][0] * u[1][1] - u[0][1] * u[1][0] <= 0) return 2;
    for (int i = 0; i < 3; i++) {
        int j = (i + 1) % 3, k = (i + 2) % 3;
        double cosine = -(u[j][0] * u[k][0] + u[j][1] * u[k][1]) / sqrt(l[j] * l[k]);
        if (cosine > worst) worst = cosine;
    }
    return worst;
}

void mesh_star_fill(struct mesh_star *star, size_t nv, size_t nf, const int (*tri)[3]) {
    memset(star->start, 0, (nv + 1) * sizeof *star->start);
    for (size_t t = 0; t < nf; t++)
        for (int i = 0; i < 3; i++)
            star->start[tri[t][i] + 1]++;
    for (size_t v = 0; v < nv; v++)
        star->start[v + 1] += star->start[v];
    for (size_t t = 0; t < nf; t++)
        for (int i = 0; i < 3; i++)
            star->list[star->start[tri[t][i]]++] = (int)t;
    for (size_t v = nv; v-- > 0;)
        star->start[v + 1] = star->start[v];
    star->start[0] = 0;
}

/* Largest cosine round vertex v if it stood at p. */
static double worst_at(const struct mesh_net *net, const struct mesh_star *star, size_t v,
                       const double *p) {
    double worst = -1;
    for (int k = star->start[v]; k < star->start[v + 1]; k++) {
        const int *w = net->tri[star->list[k]];
        const double *q[3];
        for (int i = 0; i < 3; i++)
            q[i] = w[i] == (int)v ? p : net->p[w[i]];
        worst = fmax(worst, mesh_worst_cosine(q[0], q[1], q[2]));
    }
    return worst;
}

/* Mean of the circumcentres (of the centroids for blunt triangles, whose circumcentre lies
 * outside), weighted by area over wanted area. */
static void target(const struct mesh_net *net, const struct mesh_star *star, size_t v,
                   const struct mesh_size *size, double *out) {
    double sum = 0, x = 0, y = 0;
    for (int k = star->start[v]; k < star->start[v + 1]; k++) {
        const int *w = net->tri[star->list[k]];
        const double *a = net->p[w[0]], *b = net->p[w[1]], *c = net->p[w[2]];
        double bx = b[0] - a[0], by = b[1] - a[1], cx = c[0] - a[0], cy = c[1] - a[1];
        double d = 2 * (bx * cy - by * cx), lb = bx * bx + by * by, lc = cx * cx + cy * cy;
        double m[2] = {(bx + cx) / 3, (by + cy) / 3};
        double o[2] = {(cy * lb - by * lc) / d, (bx * lc - cx * lb) / d};
        double centroid[2] = {a[0] + m[0], a[1] + m[1]};
        double h = mesh_size_at(size, centroid), weight = d / (h * h);
        if (o[0] * o[0] + o[1] * o[1] > lb + lc) memcpy(o, m, sizeof o);
        sum += weight;
        x += weight * (a[0] + o[0]);
        y += weight * (a[1] + o[1]);
    }
    out[0] = x / sum;
    out[1] = y / sum;
}

static void sweep(struct mesh_net *net, const struct mesh_star *star, size_t first,
                  const struct mesh_size *size) {
    for (size_t v = first; v < net->nv; v++) {
        double p[2];
        target(net, star, v, size, p);
        double worst = worst_at(net, star, v, p);
        if (worst > 0.999 && worst > worst_at(net, star, v, net->p[v])) continue;
        memcpy(net->p[v], p, sizeof p);
    }
}

/* Tries places round about for the vertices of poor triangles; returns how many moved. */
static size_t search(struct mesh_net *net, const struct mesh_star *star, size_t first,
                     const struct mesh_size *size, double poor) {
    size_t moved = 0;
    for (size_t v = first; v < net->nv; v++) {
        double best = worst_at(net, star, v, net->p[v]), at[2];
        if (best < poor) continue;
        memcpy(at, net->p[v], sizeof at);
        double step = 0.2 * mesh_size_at(size, at);
        int any = 0;
        for (int round = 0; round < 5; round++) {
            double from[2] = {at[0], at[1]};
            int better = 0;
            for (int k = 0; k < 8; k++) {
                double p[2] = {from[0] + step * cos(k * M_PI / 4),
                               from[1] + step * sin(k * M_PI / 4)};
                double worst = worst_at(net, star, v, p);
                if (worst >= best - 1e-6) continue;
                best = worst;
                memcpy(at, p, sizeof at);
                better = any = 1;
            }
            if (!better) step /= 2;
        }
        if (!any) continue;
        memcpy(net->p[v], at, sizeof at);
        moved++;
    }
    return moved;
}

int mesh_net_smooth(struct mesh_net *net, size_t first, const struct mesh_size *size, size_t sweeps,
                    struct arena *arena, struct error *err) {
    struct mesh_star star = {ARENA_NEW(arena, int, net->nv + 1),
                             ARENA_NEW(arena, int, 3 * net->nf)};
    if (!star.start || !star.list) return fail_memory(err);
    for (size_t k = 0; k < sweeps; k++) {
        mesh_star_fill(&star, net->nv, net->nf, (const int(*)[3])net->tri);
        sweep(net, &star, first, size);
        mesh_net_flip_all(net);
    }
    double poor = cos(35 * M_PI / 180);
    for (int k = 0; k < 8; k++) {
        mesh_star_fill(&star, net->nv, net->nf, (const int(*)[3])net->tri);
        if (search(net, &star, first, size, poor) == 0) break;
        mesh_net_flip_all(net);
    }
    return 0;
}
