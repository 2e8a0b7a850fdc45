#include "stuff/diffusion.h"

#include <gsl/gsl_sf_erf.h>
#include <math.h>
#include <stdbool.h>

/* ---- series --------------------------------------------------------------------------------- */

#define SMALL_FO                                                                                   \
    0.2 /* below it the long-time series needs many terms, the other converges at once */

double stuff_sheet_mean(double fo) {
    if (!(fo > 0)) return 0;
    if (fo < SMALL_FO) {
        /* Crank 4.20: 2 sqrt(fo) [pi^-1/2 + 2 sum (-1)^n ierfc(n / sqrt(fo))] */
        double r = sqrt(fo), sum = 1 / sqrt(M_PI);
        for (int n = 1; n < 12; n++) {
            double x = n / r, ierfc = exp(-x * x) / sqrt(M_PI) - x * gsl_sf_erfc(x);
            sum += (n % 2 ? -2 : 2) * ierfc;
        }
        return 2 * r * sum;
    }
    double left = 0;
    for (int n = 0; n < 40; n++) {
        double a = (2 * n + 1) * M_PI;
        left += 8 / (a * a) * exp(-a * a * fo / 4); /* Crank 4.18 */
    }
    return 1 - left;
}

double stuff_sheet_centre(double fo) {
    if (!(fo > 0)) return 0;
    if (fo < SMALL_FO) {
        double sum = 0, r = sqrt(fo);
        for (int n = 0; n < 12; n++)
            sum += (n % 2 ? -2 : 2) * gsl_sf_erfc((2 * n + 1) / (2 * r)); /* Crank 4.16 at x = 0 */
        return sum;
    }
    double left = 0;
    for (int n = 0; n < 40; n++) {
        double a = (2 * n + 1) * M_PI;
        left += (n % 2 ? -4 : 4) / a * exp(-a * a * fo / 4); /* Crank 4.17 at x = 0 */
    }
    return 1 - left;
}

double stuff_biot_root(double biot, size_t k) {
    double low = (double)(k - 1) * M_PI, high = low + M_PI / 2;
    for (int i = 0; i < 200 && high - low > 1e-15 * high; i++) {
        double b = (low + high) / 2;
        if (b * sin(b) * (k % 2 ? 1 : -1) < biot * cos(b) * (k % 2 ? 1 : -1))
            low = b; /* b tan b < biot, kept free of the pole: cos has the sign of (-1)^(k-1) */
        else
            high = b;
    }
    return (low + high) / 2;
}

double stuff_biot_mean(double biot, double fo) {
    if (isinf(biot)) return stuff_sheet_mean(fo);
    if (!(fo > 0) || !(biot > 0)) return 0;
    double left = 0;
    for (size_t k = 1; k <= 400; k++) {
        double b = stuff_biot_root(biot, k), b2 = b * b;
        double term = 2 * biot * biot * exp(-b2 * fo) / (b2 * (b2 + biot * biot + biot));
        left += term; /* Crank 4.53 */
        if (term < 1e-14) break;
    }
    return 1 - left;
}

static double time_of(double biot, double share) {
    if (!(share > 0)) return 0;
    if (!(share < 1)) return INFINITY;
    double low = 0, high = 1;
    while (stuff_biot_mean(biot, high) < share && high < 1e9)
        high *= 2;
    for (int i = 0; i < 100 && high - low > 1e-12 * high; i++) {
        double fo = (low + high) / 2;
        if (stuff_biot_mean(biot, fo) < share)
            low = fo;
        else
            high = fo;
    }
    return (low + high) / 2;
}

double stuff_sheet_time(double share) {
    return time_of(INFINITY, share);
}
double stuff_biot_time(double biot, double share) {
    return time_of(biot, share);
}

/* ---- finite volumes ------------------------------------------------------------------------- */

struct stuff_moist {
    size_t n, n_layers;
    struct stuff_moist_layer *layers;
    size_t *layer; /* of each cell */
    double *z, *h; /* middle and thickness of each cell */
    double *u;     /* wood moisture */
    double *c, *d; /* scratch of the elimination */
    double *link;  /* [n+1] conductance between neighbours, ends unused */
};

enum { CELLS = 24, CELLS_MOST = 4000 };

static int layer_check(const struct stuff_moist_layer *l, struct error *err) {
    bool fine = l->thickness > 0 && l->thickness < 1e4 && l->diffusion > 0 && l->density > 0 &&
                l->sorption > 0 && l->free >= 0 && l->saturation >= 0 &&
                isfinite(l->diffusion + l->density + l->sorption + l->growth) &&
                l->cells <= CELLS_MOST;
    if (fine) return 0;
    return fail(err, ERR_RANGE, "Thickness, diffusion, density and sorption must all be above 0.",
                "A layer %g mm thick with D %g mm2/s, density %g, sorption %g", l->thickness,
                l->diffusion, l->density, l->sorption);
}

/* Cells of a layer: cosine spacing, fine at both of its faces. */
static void lay_out(struct stuff_moist *m, size_t layer, size_t first, double from) {
    size_t n = m->layers[layer].cells;
    double t = m->layers[layer].thickness;
    for (size_t i = 0; i < n; i++) {
        double a = (1 - cos(M_PI * (double)i / (double)n)) / 2;
        double b = (1 - cos(M_PI * (double)(i + 1) / (double)n)) / 2;
        m->h[first + i] = t * (b - a);
        m->z[first + i] = from + t * (a + b) / 2;
        m->layer[first + i] = layer;
    }
}

int stuff_moist_new(struct stuff_moist **out, const struct stuff_moist_layer *layers, size_t n,
                    struct arena *arena, struct error *err) {
    *out = NULL;
    if (!n) return fail(err, ERR_RANGE, "Give at least one layer.", "A sheet without layers");
    size_t cells = 0;
    for (size_t i = 0; i < n; i++) {
        int rc = layer_check(&layers[i], err);
        if (rc) return rc;
        cells += layers[i].cells ? layers[i].cells : CELLS;
    }
    struct stuff_moist *m = ARENA_NEW(arena, struct stuff_moist, 1);
    double *work = ARENA_NEW(arena, double, 5 * cells + cells + 1);
    if (m) m->layers = ARENA_NEW(arena, struct stuff_moist_layer, n);
    if (m) m->layer = ARENA_NEW(arena, size_t, cells);
    if (!m || !work || !m->layers || !m->layer) return fail_memory(err);
    m->n = cells;
    m->n_layers = n;
    m->z = work;
    m->h = work + cells;
    m->u = work + 2 * cells;
    m->c = work + 3 * cells;
    m->d = work + 4 * cells;
    m->link = work + 5 * cells;
    size_t first = 0;
    double from = 0;
    for (size_t i = 0; i < n; i++) {
        m->layers[i] = layers[i];
        if (!m->layers[i].cells) m->layers[i].cells = CELLS;
        lay_out(m, i, first, from);
        first += m->layers[i].cells;
        from += m->layers[i].thickness;
    }
    *out = m;
    return 0;
}

void stuff_moist_fill(struct stuff_moist *m, double moisture) {
    for (size_t i = 0; i < m->n; i++)
        m->u[i] = moisture;
}
void stuff_moist_set(struct stuff_moist *m, size_t cell, double moisture) {
    m->u[cell] = moisture;
}

/* D of bound water grows with moisture up to fibre saturation (Sonderegger and others 2011). */
#define BOUND_WATER 0.30

/* Water a cell takes up per unit of u, and its conductance from middle to face. */
static double capacity(const struct stuff_moist *m, size_t i) {
    const struct stuff_moist_layer *l = &m->layers[m->layer[i]];
    return l->density * l->sorption * m->h[i];
}
static double half_link(const struct stuff_moist *m, size_t i) {
    const struct stuff_moist_layer *l = &m->layers[m->layer[i]];
    double saturation = l->saturation > 0 ? l->saturation : BOUND_WATER;
    double d = l->diffusion * exp(l->growth * (fmin(m->u[i], saturation) - 0.12));
    if (l->free > 0 && m->u[i] > saturation) d = l->free;
    return 2 * l->density * l->sorption * d / m->h[i];
}
/* Half a cell and the surface in series. */
static double face_link(const struct stuff_moist *m, size_t i, double coefficient) {
    if (!(coefficient > 0)) return 0;
    double half = half_link(m, i);
    if (isinf(coefficient)) return half;
    const struct stuff_moist_layer *l = &m->layers[m->layer[i]];
    double skin = coefficient * l->density * l->sorption;
    return half * skin / (half + skin);
}

double stuff_moist_step(struct stuff_moist *m, double dt, struct stuff_moist_face inner,
                        struct stuff_moist_face outer) {
    size_t n = m->n;
    for (size_t i = 0; i + 1 < n; i++) {
        double a = half_link(m, i), b = half_link(m, i + 1);
        m->link[i + 1] = a * b / (a + b);
    }
    double in = face_link(m, 0, inner.coefficient), out = face_link(m, n - 1, outer.coefficient);
    m->link[0] = m->link[n] = 0;
    /* (cap/dt + links) u_i - link u_{i-1} - link u_{i+1} = cap/dt u_old + face u_air; Thomas. */
    for (size_t i = 0; i < n; i++) {
        double cap = capacity(m, i) / dt, low = m->link[i], up = m->link[i + 1];
        double face = (i == 0 ? in : 0) + (i == n - 1 ? out : 0);
        double pull = (i == 0 ? in * inner.moisture : 0) + (i == n - 1 ? out * outer.moisture : 0);
        double diagonal = cap + low + up + face - (i ? low * m->c[i - 1] : 0);
        double right = cap * m->u[i] + pull + (i ? low * m->d[i - 1] : 0);
        m->c[i] = up / diagonal;
        m->d[i] = right / diagonal;
    }
    m->u[n - 1] = m->d[n - 1];
    for (size_t i = n - 1; i-- > 0;)
        m->u[i] = m->d[i] + m->c[i] * m->u[i + 1];
    return dt * (in * (m->u[0] - inner.moisture) + out * (m->u[n - 1] - outer.moisture));
}

void stuff_moist_run(struct stuff_moist *m, double time, size_t n, struct stuff_moist_face inner,
                     struct stuff_moist_face outer) {
    for (size_t k = 1; k <= n; k++) {
        double a = (double)(k - 1) / (double)n, b = (double)k / (double)n;
        stuff_moist_step(m, time * (b * b - a * a), inner, outer);
    }
}

size_t stuff_moist_cells(const struct stuff_moist *m) {
    return m->n;
}
double stuff_moist_z(const struct stuff_moist *m, size_t cell) {
    return m->z[cell];
}
double stuff_moist_h(const struct stuff_moist *m, size_t cell) {
    return m->h[cell];
}
size_t stuff_moist_layer_of(const struct stuff_moist *m, size_t cell) {
    return m->layer[cell];
}
double stuff_moist_at(const struct stuff_moist *m, size_t cell) {
    return m->u[cell];
}

double stuff_moist_mean(const struct stuff_moist *m) {
    double water = 0, dry = 0;
    for (size_t i = 0; i < m->n; i++) {
        water += capacity(m, i) * m->u[i];
        dry += m->layers[m->layer[i]].density * m->h[i];
    }
    return water / dry;
}

double stuff_moist_layer_mean(const struct stuff_moist *m, size_t layer) {
    double sum = 0, h = 0;
    for (size_t i = 0; i < m->n; i++)
        if (m->layer[i] == layer) {
            sum += m->u[i] * m->h[i];
            h += m->h[i];
        }
    return sum / h;
}
