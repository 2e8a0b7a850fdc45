#include "body/drying.h"

#include "base/mem.h"
#include "body/part.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* Six numbers a face and branch: memory of strain (3) and curvature (3). */
enum { MEMORY = 6 };

struct zone {
    struct stuff_moist *moist;
    struct body_laminate laminate;  /* as it is now */
    double strain[3], curvature[3]; /* from shrinkage since the beginning */
    double moisture, before;        /* mean wood moisture, now and a step ago */
};

struct body_drying_run {
    struct body_shell *shell;
    struct body_drying drying;
    struct arena *arena;
    struct zone zone[BODY_DRYING_ZONES];
    size_t faces;
    unsigned char *of;      /* [faces] zone */
    double (*tree)[MEMORY]; /* [faces] natural state at the beginning */
    double *memory;         /* [faces][branches][MEMORY] */
    double (*lock)[MEMORY]; /* [faces] strain that stiffening kept */
    int stiffens;           /* 1: a layer's stiffness goes with moisture */
    double seconds;
};

static int check(const struct body_drying *d, struct error *err) {
    double shares = 0;
    if (d->zones < 1 || d->zones > BODY_DRYING_ZONES || d->branches > BODY_DRYING_BRANCHES)
        return fail(err, ERR_RANGE, "Give 1 to 8 zones and at most 4 branches.",
                    "Drying has %zu zones and %zu branches.", d->zones, d->branches);
    for (size_t j = 0; j < d->branches; j++) {
        const struct body_drying_branch *b = &d->branch[j];
        shares += b->share;
        if (!(b->share >= 0) || !(b->tau > 0) || !isfinite(b->wet))
            return fail(err, ERR_RANGE, "Give a share of 0 or more and a time above 0.",
                        "Branch %zu of the set has share %g and time %g s.", j + 1, b->share,
                        b->tau);
    }
    if (!(shares < 1))
        return fail(err, ERR_RANGE, "Let some stiffness last: shares under 1 together.",
                    "The shares of the set add up to %g.", shares);
    if (!(d->sorptive >= 0) || !(d->surface >= 0) || !(d->moisture >= 0) || d->moisture > 5)
        return fail(err, ERR_RANGE, "Give moisture as a fraction of dry mass.",
                    "First moisture %g, surface coefficient %g mm/s or mechano-sorptive factor %g "
                    "is out of range.",
                    d->moisture, d->surface, d->sorptive);
    for (size_t z = 0; z < d->zones; z++)
        for (size_t k = 0; k < d->layers[z]; k++) {
            double a = d->layer[z][k].shrink1, b = d->layer[z][k].shrink2, w1 = d->layer[z][k].wet1,
                   w2 = d->layer[z][k].wet2;
            if (!((w1 == 0 && w2 == 0) || (w1 > 1e-4 && w2 > 1e-4 && w1 < 1e4 && w2 < 1e4)))
                return fail(err, ERR_RANGE, "Give wet over dry stiffness above 0, both or neither.",
                            "A layer keeps %g and %g of its stiffness when wet.", w1, w2);
            if (!(fabs(a) < 0.5) || !(fabs(b) < 0.5))
                return fail(err, ERR_RANGE, "Give shrinkage as a fraction.",
                            "A layer shrinks by %g and %g.", a, b);
        }
    return 0;
}

static int zone_make(struct body_drying_run *r, size_t z, struct error *err) {
    const struct body_drying *d = &r->drying;
    struct stuff_moist_layer m[BODY_DRYING_LAYERS];
    struct body_ply ply[BODY_DRYING_LAYERS];
    if (d->layers[z] < 1 || d->layers[z] > BODY_DRYING_LAYERS)
        return fail(err, ERR_RANGE, "Give 1 to 4 layers.", "Zone %zu has %zu layers.", z + 1,
                    d->layers[z]);
    for (size_t k = 0; k < d->layers[z]; k++) {
        const struct body_drying_layer *l = &d->layer[z][k];
        ply[k] = l->ply;
        m[k] = (struct stuff_moist_layer){.thickness = l->ply.thickness,
                                          .diffusion = l->diffusion,
                                          .free = l->free,
                                          .saturation = l->saturation,
                                          .density = l->density,
                                          .sorption = l->sorption > 0 ? l->sorption : 1,
                                          .cells = 48};
    }
    int rc = body_laminate_make(&r->zone[z].laminate, ply, d->layers[z], err);
    if (!rc) rc = stuff_moist_new(&r->zone[z].moist, m, d->layers[z], r->arena, err);
    if (rc) return rc;
    stuff_moist_fill(r->zone[z].moist, d->moisture);
    r->zone[z].moisture = r->zone[z].before = d->moisture;
    return 0;
}

static double below(double moisture, double saturation) {
    return fmin(moisture, saturation > 0 ? saturation : 0.30);
}

/* The layer as stiff as at wood moisture u: P = P12 w^((u - 0.12)/(saturation - 0.12)), FPL-GTR-282
 * Eq 5-3 with w = Pg/P12. */
static struct body_ply ply_at(const struct body_drying_layer *l, double u) {
    struct body_ply p = l->ply;
    if (!(l->wet1 > 0)) return p;
    double top = l->saturation > 0 ? l->saturation : 0.30,
           t = (below(u, l->saturation) - 0.12) / fmax(top - 0.12, 0.02);
    double f1 = pow(l->wet1, t), f2 = pow(l->wet2, t);
    p.e1 *= f1;
    p.e2 *= f2;
    p.g12 *= sqrt(f1 * f2);
    p.nu12 = fmin(p.nu12, 0.9 * sqrt(p.e1 / p.e2)); /* within the limit of energy */
    return p;
}

/* Stiffness of the stack at the moisture of each depth; mass and thickness stay. */
static void stack(struct body_laminate *out, const struct body_drying_run *r, size_t z) {
    const struct zone *zone = &r->zone[z];
    double q[9], half = zone->laminate.thickness / 2;
    *out = zone->laminate;
    memset(out->a, 0, sizeof out->a);
    memset(out->c, 0, sizeof out->c);
    memset(out->d, 0, sizeof out->d);
    for (size_t c = 0; c < stuff_moist_cells(zone->moist); c++) {
        const struct body_drying_layer *l =
            &r->drying.layer[z][stuff_moist_layer_of(zone->moist, c)];
        const struct body_ply p = ply_at(l, stuff_moist_at(zone->moist, c));
        double h = stuff_moist_h(zone->moist, c), at = stuff_moist_z(zone->moist, c) - half;
        body_ply_stiffness(q, &p);
        for (int k = 0; k < 9; k++) {
            out->a[k] += q[k] * h;
            out->c[k] -= q[k] * h * at;
            out->d[k] += q[k] * (h * at * at + h * h * h / 12);
        }
    }
}

/* What a stiffer sheet is strained to bear the same forces. */
static int relieved(double out[MEMORY], const struct body_laminate *was,
                    const struct body_laminate *now, const double e[MEMORY]) {
    double n[3] = {0}, m[3] = {0};
    for (int k = 0; k < 9; k++) {
        n[k / 3] += was->a[k] * e[k % 3] + was->c[k] * e[3 + k % 3];
        m[k / 3] += was->c[k] * e[k % 3] + was->d[k] * e[3 + k % 3];
    }
    return body_laminate_solve(out, out + 3, now, n, m);
}

/* Takes the stiffness of every zone to its present moisture. */
static int stiffen(struct body_drying_run *r, struct error *err) {
    struct body_laminate now[BODY_DRYING_ZONES];
    if (!r->stiffens) return 0;
    for (size_t z = 0; z < r->drying.zones; z++)
        stack(&now[z], r, z);
    for (size_t f = 0; f < r->faces; f++) {
        const struct body_laminate *was = &r->zone[r->of[f]].laminate, *n = &now[r->of[f]];
        struct body_feel feel;
        double e[MEMORY], less[MEMORY];
        body_shell_feel(r->shell, f, &feel);
        memcpy(e, feel.elastic_strain, sizeof feel.elastic_strain);
        memcpy(e + 3, feel.elastic_curvature, sizeof feel.elastic_curvature);
        bool stiffer = n->d[0] + n->d[4] > was->d[0] + was->d[4];
        if (stiffer && relieved(less, was, n, e))
            return fail(err, ERR_SOLVE, "Check the layers.", "The stiffness is singular.");
        for (int c = 0; c < MEMORY && stiffer; c++)
            r->lock[f][c] += e[c] - less[c];
        body_shell_material(r->shell, f, n);
    }
    for (size_t z = 0; z < r->drying.zones; z++)
        r->zone[z].laminate = now[z];
    return 0;
}

/* Free strain of each depth against the beginning, turned into strain and curvature of the sheet:
 * N = sum Q e dz, M = - sum Q e z dz, [e; k] = ABD^-1 [N; M]. */
static int shrink(struct body_drying_run *r, size_t z, struct error *err) {
    struct zone *zone = &r->zone[z];
    const struct body_drying *d = &r->drying;
    double n[3] = {0}, m[3] = {0}, q[9], half = zone->laminate.thickness / 2;
    zone->before = zone->moisture;
    double sum = 0, whole = 0;
    for (size_t c = 0; c < stuff_moist_cells(zone->moist); c++) {
        const struct body_drying_layer *l = &d->layer[z][stuff_moist_layer_of(zone->moist, c)];
        double u = stuff_moist_at(zone->moist, c), h = stuff_moist_h(zone->moist, c);
        double at = stuff_moist_z(zone->moist, c) - half,
               top = l->saturation > 0 ? l->saturation : 0.30;
        double dry = (below(d->moisture, l->saturation) - below(u, l->saturation)) / top;
        double own[3] = {-l->shrink1 * dry, -l->shrink2 * dry, 0}, e[3];
        body_voigt_turn(e, own, l->ply.angle);
        const struct body_ply p = ply_at(l, u);
        body_ply_stiffness(q, &p);
        for (int i = 0; i < 3; i++)
            for (int j = 0; j < 3; j++) {
                n[i] += q[3 * i + j] * e[j] * h;
                m[i] -= q[3 * i + j] * e[j] * h * at;
            }
        sum += u * h;
        whole += h;
    }
    zone->moisture = sum / whole;
    struct body_laminate now = zone->laminate;
    if (r->stiffens) stack(&now, r, z);
    if (body_laminate_solve(zone->strain, zone->curvature, &now, n, m))
        return fail(err, ERR_SOLVE, "Check the layers.", "The stiffness of zone %zu is singular.",
                    z + 1);
    return 0;
}

/* Natural state of every face: tree, shrinkage, set. */
static void give_natural(struct body_drying_run *r) {
    const struct body_drying *d = &r->drying;
    for (size_t f = 0; f < r->faces; f++) {
        const struct zone *z = &r->zone[r->of[f]];
        double v[MEMORY];
        for (int c = 0; c < MEMORY; c++) {
            v[c] = r->tree[f][c] + r->lock[f][c] + (c < 3 ? z->strain[c] : z->curvature[c - 3]);
            for (size_t j = 0; j < d->branches; j++)
                v[c] += d->branch[j].share * r->memory[(f * d->branches + j) * MEMORY + (size_t)c];
        }
        body_shell_natural(r->shell, f, v, v + 3);
    }
}

/* The memories follow what the sheet bears now beyond tree and shrinkage, over dt. */
static void creep(struct body_drying_run *r, double dt) {
    const struct body_drying *d = &r->drying;
    for (size_t f = 0; f < r->faces; f++) {
        const struct zone *z = &r->zone[r->of[f]];
        struct body_feel feel;
        double x[MEMORY];
        body_shell_feel(r->shell, f, &feel);
        /* total less natural is elastic; natural = tree + shrinkage + set as given last */
        for (int c = 0; c < MEMORY; c++) {
            x[c] = c < 3 ? feel.elastic_strain[c] : feel.elastic_curvature[c - 3];
            for (size_t j = 0; j < d->branches; j++)
                x[c] += d->branch[j].share * r->memory[(f * d->branches + j) * MEMORY + (size_t)c];
        }
        for (size_t j = 0; j < d->branches; j++) {
            const struct body_drying_branch *b = &d->branch[j];
            double keep = exp(-dt * pow(10, b->wet * below(z->moisture, 0)) / b->tau -
                              d->sorptive * fabs(z->moisture - z->before));
            double *h = r->memory + (f * d->branches + j) * MEMORY;
            for (int c = 0; c < MEMORY; c++)
                h[c] = x[c] + (h[c] - x[c]) * keep;
        }
    }
}

int body_drying_new(struct body_drying_run **out, struct body_shell *shell,
                    const struct body_drying *d, struct error *err) {
    *out = NULL;
    int rc = check(d, err);
    if (rc) return rc;
    struct body_drying_run *r = MEM_NEW(struct body_drying_run, 1);
    if (!r) return fail_memory(err);
    r->shell = shell;
    r->drying = *d;
    r->faces = body_shell_faces(shell);
    r->arena = arena_new();
    r->of = MEM_NEW(unsigned char, r->faces);
    r->tree = mem_alloc(r->faces, sizeof *r->tree);
    r->memory = MEM_NEW(double, r->faces *MEMORY *(d->branches + 1));
    r->lock = mem_alloc(r->faces, sizeof *r->lock);
    for (size_t z = 0; z < d->zones; z++)
        for (size_t k = 0; k < d->layers[z] && k < BODY_DRYING_LAYERS; k++)
            r->stiffens |= d->layer[z][k].wet1 > 0;
    if (!r->arena || !r->of || !r->tree || !r->memory || !r->lock) rc = fail_memory(err);
    for (size_t f = 0; !rc && f < r->faces; f++) {
        r->of[f] = d->zone ? d->zone[f] : 0;
        if (r->of[f] >= d->zones)
            rc = fail(err, ERR_RANGE, "Name a zone that is described.",
                      "Triangle %zu is in zone %d of %zu.", f + 1, r->of[f], d->zones);
        else
            body_shell_natural_get(shell, f, r->tree[f], r->tree[f] + 3);
    }
    for (size_t z = 0; !rc && z < d->zones; z++)
        rc = zone_make(r, z, err);
    if (!rc) { /* as stiff as it is at first, without strain */
        rc = stiffen(r, err);
        memset(r->lock, 0, r->faces * sizeof *r->lock);
        give_natural(r);
    }
    if (rc)
        body_drying_free(r);
    else
        *out = r;
    return rc;
}

void body_drying_free(struct body_drying_run *r) {
    if (!r) return;
    arena_free(r->arena);
    mem_free(r->of);
    mem_free(r->tree);
    mem_free(r->memory);
    mem_free(r->lock);
    mem_free(r);
}

static void look(const struct body_drying_run *r, const char *name, const struct body_solve *s,
                 struct body_drying_day *out) {
    double area = 0;
    *out = (struct body_drying_day){
        .name = name, .seconds = r->seconds, .energy = s->energy, .iterations = s->iterations};
    for (size_t f = 0; f < r->faces; f++) {
        struct body_feel feel;
        double a = body_shell_area(r->shell, f);
        body_shell_feel(r->shell, f, &feel);
        area += a;
        out->moisture += a * r->zone[r->of[f]].moisture;
        for (int c = 0; c < 3; c++) {
            out->curvature[c] += a * feel.curvature[c];
            out->natural[c] += a * (feel.curvature[c] - feel.elastic_curvature[c]);
            out->strain[c] += a * feel.strain[c];
        }
    }
    out->moisture /= area;
    for (int c = 0; c < 3; c++) {
        out->curvature[c] /= area;
        out->natural[c] /= area;
        out->strain[c] /= area;
    }
    for (size_t p = 0; p < body_part_count(r->shell); p++) {
        double force;
        body_part_energy(r->shell, (int)p, &force);
        out->force = fmax(out->force, fabs(force));
    }
}

struct log {
    struct body_drying_day *days;
    size_t most, n;
};

static int settle(struct body_drying_run *r, const char *name, struct log *log, struct error *err) {
    struct body_solve s;
    give_natural(r);
    int rc = body_equilibrium(&s, r->shell, NULL, err);
    if (rc) return rc;
    if (log->n < log->most) look(r, name, &s, &log->days[log->n]);
    log->n++;
    return 0;
}

static int wait(struct body_drying_run *r, const struct body_doing *w, struct log *log,
                struct error *err) {
    size_t n = w->steps ? w->steps : 12;
    const double growth = n > 1 ? 1.3 : 1; /* each step so much longer than the last */
    double unit =
        w->seconds * (growth > 1 ? (growth - 1) / (pow(growth, (double)n) - 1) : 1.0 / (double)n);
    if (!(w->seconds >= 0) || !isfinite(w->seconds) || !(w->air >= 0) || w->air > 5)
        return fail(err, ERR_RANGE,
                    "Give seconds of 0 or more and the air's wood moisture as a fraction.",
                    "Waiting %g s in air of wood moisture %g.", w->seconds, w->air);
    for (size_t k = 0; k < n; k++) {
        double dt = unit * (growth > 1 ? pow(growth, (double)k) : 1);
        struct stuff_moist_face in = {r->drying.inner_open ? r->drying.surface : 0, w->air};
        struct stuff_moist_face out = {r->drying.outer_open ? r->drying.surface : 0, w->air};
        for (size_t z = 0; z < r->drying.zones; z++) {
            stuff_moist_run(r->zone[z].moist, dt, 24, in, out);
            int rc = shrink(r, z, err);
            if (rc) return rc;
        }
        creep(r, dt);
        r->seconds += dt;
        int rc = stiffen(r, err);
        if (rc) return rc;
        rc = settle(r, w->name, log, err);
        if (rc) return rc;
    }
    return 0;
}

static int soak(struct body_drying_run *r, double moisture, struct error *err) {
    if (!(moisture >= 0) || moisture > 5)
        return fail(err, ERR_RANGE, "Give moisture as a fraction of dry mass.", "Wetting to %g.",
                    moisture);
    for (size_t z = 0; z < r->drying.zones; z++) {
        stuff_moist_fill(r->zone[z].moist, moisture);
        int rc = shrink(r, z, err);
        if (rc) return rc;
    }
    creep(r, 0); /* the change of moisture itself */
    return stiffen(r, err);
}

int body_drying_do(struct body_drying_run *r, const struct body_doing *doings, size_t n,
                   struct body_drying_day *days, size_t most, size_t *count, struct error *err) {
    struct log log = {days, most, 0};
    struct error own = {0};
    if (!err) err = &own;
    int rc = 0;
    for (size_t i = 0; i < n && !rc; i++) {
        const struct body_doing *w = &doings[i];
        const char *name = w->name ? w->name : "";
        if (w->kind == BODY_DO_WAIT) {
            rc = wait(r, w, &log, err);
        } else {
            if (w->kind == BODY_DO_STRENGTH) {
                if (w->part < 0 || (size_t)w->part >= body_part_count(r->shell) || !(w->value >= 0))
                    rc = fail(err, ERR_INPUT, "Name a part of the shell.",
                              "Part %d is to get strength %g.", w->part, w->value);
                else
                    body_part_strength(r->shell, w->part, w->value);
            } else if (w->kind == BODY_DO_FACES) {
                r->drying.inner_open = (int)w->value & 1;
                r->drying.outer_open = (int)w->value >> 1 & 1;
                continue; /* nothing moves yet */
            } else if (w->kind == BODY_DO_WET)
                rc = soak(r, w->value, err);
            if (!rc) rc = settle(r, name, &log, err);
        }
        if (rc) error_place(err, NULL, 0, NULL, name);
    }
    if (count) *count = log.n;
    return rc;
}
