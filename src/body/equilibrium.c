#include "body/equilibrium.h"

#include "base/mem.h"
#include "body/shell_parts.h"

#include <math.h>
#include <string.h>

/* Numbers of the method, with their reasons. */
static const double TILT_CAP = 1.0; /* rad a step: beyond, a normal could turn past 90 degrees */
static const double SHIFT_FIRST =
    1e-7; /* of the mean diagonal: far below any stiffness that counts */
static const double SHIFT_GROW = 8, SHIFT_SHRINK = 0.25, SHIFT_NONE = 1e-9;
enum { MIP_MOST = 60, PATIENCE = 15, WINDOW = 12, WINDOW_BAD = 8 };
enum { CONTACT_ROUNDS = 6, CONTACT_MOST = 20, CONTACT_QUICK = 5 };

struct work {
    struct body_shell *s;
    const struct body_solve_options *o;
    struct body_solve *out;
    double *g, *d, *push, *load, *second;
    struct body_state *entry, *here;
    double force_tol, energy_tol, scale;
    double shift;
    size_t most;
    unsigned failures; /* one bit for each of the last iterations whose factoring failed at first */
    int keep_saddles;  /* follow equilibria whether stable or not */
    int true_tangent;  /* the last factor was of the true Hessian without shift */
    int spring;        /* of displacement control, or -1 */
    double spring_at, *lambda;
};

static double norm(const double *a, size_t n) {
    double s = 0;
    for (size_t i = 0; i < n; i++)
        s += a[i] * a[i];
    return sqrt(s);
}

static double dot(const double *a, const double *b, size_t n) {
    double s = 0;
    for (size_t i = 0; i < n; i++)
        s += a[i] * b[i];
    return s;
}

/* Loads on free unknowns, as they stand. */
static double load_norm(struct work *w) {
    struct body_shell *s = w->s;
    double sum = 0;
    memset(w->load, 0, s->unknowns * sizeof *w->load);
    shell_load_gradient(s, w->load);
    for (size_t i = 0; i < s->unknowns; i++)
        if (!s->fixed[i]) sum += w->load[i] * w->load[i];
    return sqrt(sum);
}

/* Work of all loads as they stand from rest to here, every node counting positive; f is scratch. */
static double load_work(const struct body_shell *s, double *f) {
    double sum = 0;
    memset(f, 0, s->unknowns * sizeof *f);
    shell_load_gradient(s, f);
    for (size_t v = 0; v < s->nodes; v++) {
        const double *p = f + node_dof(s, v);
        double u[3], d[3];
        if (dot3(p, p) > 0) {
            for (int c = 0; c < 3; c++)
                u[c] = s->x[v][c] - s->rest[v][c];
            /* along axes of its own only sizes can be compared */
            sum += s->axes_of[v] < 0 ? fabs(dot3(p, u)) : sqrt(dot3(p, p) * dot3(u, u));
        }
        if (v >= s->nv || (p[3] == 0 && p[4] == 0)) continue;
        for (int c = 0; c < 3; c++)
            d[c] = s->n[v][c] - s->rest_n[v][c];
        sum += hypot(p[3], p[4]) * sqrt(dot3(d, d));
    }
    return sum;
}

static void forces_fresh(struct body_shell *s) {
    for (size_t f = 0; f < s->nf; f++)
        face_forces(s, f, s->face[f].fi);
    for (size_t i = 0; i < s->groups; i++)
        if (s->group[i].k != 0) group_forces_ahead(s, &s->group[i], NULL, s->group[i].fi);
    for (size_t i = 0; i < s->smooths; i++)
        smooth_forces_ahead(s, &s->smooth[i], NULL);
}

/* The step of one node's unknowns with its places in space. */
static void node_step(const struct body_shell *s, const double *d, double a, size_t node,
                      double *out) {
    const double *p = d + node_dof(s, node);
    for (int c = 0; c < node_size(s, node); c++)
        out[c] = a * p[c];
    if (s->axes_of[node] < 0) return;
    const double *q = s->axes[s->axes_of[node]];
    for (int c = 0; c < 3; c++)
        out[c] = a * (q[c] * p[0] + q[3 + c] * p[1] + q[6 + c] * p[2]);
}

static void forces_ahead(struct body_shell *s, const double *d, double a) {
    double step[SMOOTH_DOF];
    for (size_t f = 0; f < s->nf; f++) {
        for (int i = 0; i < 3; i++)
            node_step(s, d, a, (size_t)s->tri[f][i], step + 5 * i);
        face_forces_ahead(s, f, step, s->face[f].fi);
    }
    for (size_t i = 0; i < s->groups; i++) {
        struct group *g = &s->group[i];
        if (g->k == 0 || g->kind == GROUP_LINEAR) continue;
        int at = 0;
        for (int k = 0; k < g->n; k++) {
            node_step(s, d, a, g->node[k], step + at);
            at += node_size(s, g->node[k]);
        }
        group_forces_ahead(s, g, step, g->fi);
    }
    for (size_t i = 0; i < s->smooths; i++) {
        struct smooth *q = &s->smooth[i];
        for (int k = 0; k < q->nodes; k++)
            node_step(s, d, a, q->node[k], step + 5 * k);
        smooth_forces_ahead(s, q, step);
    }
}

static double largest_tilt(const struct body_shell *s, const double *d) {
    double most = 0;
    for (size_t v = 0; v < s->nv; v++)
        most = fmax(most, fmax(fabs(d[5 * v + 3]), fabs(d[5 * v + 4])));
    return most;
}

static void move_from(struct body_shell *s, const struct body_state *from, const double *d,
                      double a) {
    shell_move(s, d, a, (const double(*)[3])from->x, (const double(*)[3])from->n,
               (const double(*)[3])from->p1, (const double(*)[3])from->p2);
}

/* Factors, raising the shift until it goes. 0: it never does. When saddles are wanted, an
 * indefinite tangent is taken as it is. `done`: what is assembled was factored already, unshifted.
 */
static int factor(struct work *w, int done) {
    if (w->shift == 0 && w->keep_saddles) {
        w->out->factors += !done;
        if (done || matrix_factor(w->s, 0)) return 1;
        w->out->factors++;
        if (matrix_factor_signed(w->s)) return 1;
    }
    w->failures = w->failures << 1 & ((1u << WINDOW) - 1);
    if (done) return 1;
    for (int k = 0; k < 40; k++) {
        w->out->factors++;
        if (matrix_factor(w->s, w->shift)) return 1;
        if (k == 0) w->failures |= 1;
        w->shift = w->shift < SHIFT_FIRST ? SHIFT_FIRST : w->shift * SHIFT_GROW;
        if (w->shift > 1e6) return 0;
    }
    return 0;
}

static void ease_shift(struct work *w) {
    w->shift *= SHIFT_SHRINK;
    if (w->shift < SHIFT_NONE) w->shift = 0;
}

/* Movement of the fixed unknowns still to be made; NULL when none. */
static const double *pending(struct work *w) {
    struct body_shell *s = w->s;
    double part = s->lambda - s->moved;
    if (!s->any_move || part == 0) return NULL;
    for (size_t i = 0; i < s->unknowns; i++)
        w->push[i] = s->fixed[i] ? part * s->move[i] : 0;
    return w->push;
}

static int converged(struct work *w, double residual, double forces) {
    /* unloaded: against the first residual, but near a solution that is small already, so not less
     * than a hundredth of the forces that cancel */
    if (w->scale == 0) w->scale = fmax(residual, 0.01 * forces);
    /* the sum of large forces that cancel cannot fall below their rounding; taken only when the
     * last step says that little is left to gain, and the more patiently the longer it lasts */
    double gained = w->out->iterations < 8 ? 1e-7 : 1e-4;
    double floor = w->out->iterations > 0 && w->out->step <= gained ? 0.5 * w->s->noise : 0;
    w->out->residual = w->scale > 0 ? residual / w->scale : 0;
    return residual <= w->force_tol * w->scale + floor;
}

/* Solves for the step d; with displacement control the parameter moves along. Returns g . d. */
static int solve_step(struct work *w, const double *push, double *gd) {
    struct body_shell *s = w->s;
    if (matrix_solve(s, w->g, w->d)) return ERR_MEMORY;
    for (size_t i = 0; i < s->unknowns; i++)
        w->d[i] = -w->d[i];
    if (w->spring >= 0) {
        const struct group *c = &s->group[s->part[w->spring].first_group];
        double *f = w->load, r[GROUP_READINGS], along = 0, across = 0;
        group_readings(s, c, r);
        shell_load_vector(s, BODY_LOAD_PATH, f);
        for (size_t i = 0; i < s->unknowns; i++)
            if (s->fixed[i]) f[i] = 0;
        if (matrix_solve(s, f, w->second)) return ERR_MEMORY;
        for (int i = 0; i < c->n; i++) {
            size_t k = c->node[0] + (size_t)i, v = s->list_node[k];
            double a[5], b[5];
            node_step(s, w->d, 1, v, a);
            node_step(s, w->second, 1, v, b);
            along += dot3(s->list_weight[k], a);
            across += dot3(s->list_weight[k], b);
        }
        double more = across != 0 ? (w->spring_at - r[0] - along) / across : 0;
        s->lambda += more;
        shell_touch(s); /* of a pressure */
        for (size_t i = 0; i < s->unknowns; i++)
            w->d[i] += more * w->second[i];
    }
    *gd = dot(w->g, w->d, s->unknowns);
    for (size_t i = 0; push && i < s->unknowns; i++)
        if (s->fixed[i]) w->d[i] = push[i];
    return 0;
}

static double energy_here(struct work *w) {
    double e = body_shell_energy(w->s, NULL);
    if (fabs(e) > w->s->energy_scale) w->s->energy_scale = fabs(e);
    return e;
}

static int stopped(const struct work *w) {
    return w->o && w->o->stop && *w->o->stop;
}

enum { FOUND, WANDERED, BROKEN, TOLD_TO_STOP };

/* Newton with independent forces in the tangent. */
static int run_mip(struct work *w, size_t most) {
    struct body_shell *s = w->s;
    double best = INFINITY;
    int small = 0; /* close: the true tangent is used, whose factor then proves stability */
    forces_fresh(s);
    energy_here(w);
    for (size_t it = 0; it < most; it++) {
        if (stopped(w)) return TOLD_TO_STOP;
        const double *push = pending(w);
        enum tangent what = it == 0 || small ? TANGENT_TRUE : TANGENT_INDEPENDENT;
        double forces = matrix_assemble(s, w->g, what, push, 1);
        double residual = norm(w->g, s->unknowns), gd;
        if (!isfinite(residual)) return BROKEN;
        int met = w->spring < 0;
        if (!met) {
            double r[GROUP_READINGS];
            const struct group *c = &s->group[s->part[w->spring].first_group];
            group_readings(s, c, r);
            met = fabs(r[0] - w->spring_at) <= 1e-9 * (1 + fabs(w->spring_at));
        }
        if (!push && met && converged(w, residual, forces)) return FOUND;
        if (push || !met) converged(w, residual, forces); /* sets the scale */
        if (residual < best) best = residual;
        if (it > PATIENCE && residual > 1e3 * best) return WANDERED;
        int done = 0;
        if (it == 0 && (s->groups || s->loose) && w->shift == 0) {
            w->out->factors++;
            done = matrix_factor(s, 0);
            if (!done) {
                /* parts far from rest, or laths just taken as bearing: their forces say nothing
                 * yet about the stiffness to come */
                for (size_t i = 0; i < s->groups; i++)
                    memset(s->group[i].fi, 0, sizeof s->group[i].fi);
                for (size_t f = 0; f < s->nf && s->loose; f++)
                    memset(s->face[f].fi, 0, sizeof s->face[f].fi);
                what = TANGENT_INDEPENDENT;
                matrix_assemble(s, w->g, what, push, 1);
            }
        }
        if (!factor(w, done)) return BROKEN;
        w->true_tangent = what == TANGENT_TRUE && w->shift == 0 && !s->matrix.use_signed;
        if (solve_step(w, push, &gd)) return BROKEN;
        w->out->iterations++;
        w->out->step = fabs(gd) / (s->energy_scale + load_work(s, w->load) + 1e-300);
        if (it > 0 && w->shift == 0 && !push && met && w->out->step <= w->energy_tol) return FOUND;
        small = w->out->step < 1e-5 && !push;
        double tilt = largest_tilt(s, w->d), a = tilt > TILT_CAP ? TILT_CAP / tilt : 1;
        forces_ahead(s, w->d, a);
        state_store(w->here, s);
        move_from(s, w->here, w->d, a);
        if (push) s->moved += a * (s->lambda - s->moved);
        if (push && a == 1) s->moved = s->lambda;
        ease_shift(w);
        unsigned bad = 0;
        for (unsigned f = w->failures; f; f &= f - 1)
            bad++;
        if (bad > WINDOW_BAD) return WANDERED;
    }
    return WANDERED;
}

/* Change of energy less the work of the loads, held as they are, since the state `here`. */
static double gain(struct work *w, double before) {
    struct body_shell *s = w->s;
    double e = body_shell_energy(s, NULL) - before;
    for (size_t v = 0; v < s->nodes; v++)
        for (int set = 0; set < BODY_LOADS; set++)
            for (int c = 0; c < 3; c++)
                e -= (set == BODY_LOAD_PATH ? s->lambda : 1) * s->load[set].force[v][c] *
                     (s->x[v][c] - w->here->x[v][c]);
    return e;
}

/* Work along d of loads that turn with the surface (moments, pressure), as they stand. */
static double turning_work(struct work *w) {
    struct body_shell *s = w->s;
    int any = 0;
    for (int set = 0; set < BODY_LOADS; set++)
        any |= s->load[set].any_moment || s->load[set].any_pressure;
    if (!any) return 0;
    double sum = 0;
    memset(w->load, 0, s->unknowns * sizeof *w->load);
    shell_load_gradient(s, w->load);
    for (size_t i = 0; i < s->unknowns; i++)
        sum -= w->load[i] * w->d[i];
    for (size_t v = 0; v < s->nodes; v++) { /* less the part that keeps its direction */
        double step[5];
        node_step(s, w->d, 1, v, step);
        for (int set = 0; set < BODY_LOADS; set++)
            sum -= (set == BODY_LOAD_PATH ? s->lambda : 1) * dot3(s->load[set].force[v], step);
    }
    return sum;
}

/* Descent on the energy with the true Hessian and a shift that follows success and failure: steps
 * of pseudo-time 1/shift. Hands back to the quick method once it factors unshifted three times. */
static int run_descent(struct work *w, int until_calm) {
    struct body_shell *s = w->s;
    int calm = 0;
    while (w->out->iterations < w->most) {
        if (stopped(w)) return TOLD_TO_STOP;
        double forces = matrix_assemble(s, w->g, TANGENT_TRUE, NULL, 1), gd;
        double residual = norm(w->g, s->unknowns), before = energy_here(w);
        if (!isfinite(residual)) return BROKEN;
        if (converged(w, residual, forces)) return FOUND;
        if (!factor(w, 0)) return BROKEN;
        double used = w->shift;
        w->true_tangent = used == 0;
        if (solve_step(w, NULL, &gd)) return BROKEN;
        w->out->iterations++;
        w->out->step = fabs(gd) / (s->energy_scale + load_work(s, w->load) + 1e-300);
        if (used == 0 && w->out->step <= w->energy_tol) return FOUND;
        double tilt = largest_tilt(s, w->d), a = tilt > TILT_CAP / 2 ? TILT_CAP / 2 / tilt : 1;
        double turning = turning_work(w), change = 0, noise = 1e-13 * s->energy_scale;
        state_store(w->here, s);
        int good = 0, tries = 0;
        for (; tries < 12 && !good; tries++, a *= good ? 1 : 0.5) {
            move_from(s, w->here, w->d, a);
            change = gain(w, before) - a * turning;
            good = change <= 1e-4 * a * gd + noise;
        }
        if (!good) {
            state_recall(s, w->here);
            w->shift = used < SHIFT_FIRST ? 1e-5 : used * SHIFT_GROW;
            if (w->shift > 1e5) return WANDERED;
            calm = 0;
            continue;
        }
        double promised = -gd * a * (1 - a / 2);
        if (tries == 1 && -change > 0.1 * promised)
            w->shift = used / 4;
        else if (tries > 2)
            w->shift = used < SHIFT_FIRST ? SHIFT_FIRST : used * 4;
        if (w->shift < SHIFT_NONE) w->shift = 0;
        calm = used == 0 && tries == 1 && tilt <= TILT_CAP / 2 ? calm + 1 : 0;
        if (until_calm && calm >= 3) return WANDERED;
    }
    return WANDERED;
}

/* Lowest direction of the Hessian by inverse iteration with the smallest shift that factors;
 * returns its Rayleigh quotient over the mean diagonal. The matrix holds the true Hessian. */
static double lowest(struct work *w, double *v) {
    struct body_shell *s = w->s;
    size_t n = s->unknowns;
    double shift = 1e-9, *kv = w->load;
    while (shift < 1e3 && !matrix_factor(s, shift))
        shift *= 4;
    for (size_t i = 0; i < n; i++) { /* any repeatable start with a bit of everything */
        unsigned z = (unsigned)i * 2654435761u;
        v[i] = s->fixed[i] ? 0 : (double)(z >> 8) / 16777216.0 - 0.5;
    }
    for (int k = 0; k < 12; k++) {
        if (matrix_solve(s, v, w->second)) return 0;
        double l = norm(w->second, n);
        for (size_t i = 0; i < n; i++)
            v[i] = s->fixed[i] ? 0 : w->second[i] / l;
    }
    double mean = 0;
    for (size_t c = 0; c < n; c++)
        mean += fabs(s->matrix.diagonal[c]) / (double)n;
    matrix_times(s, v, kv);
    return dot(v, kv, n) / mean;
}

/* Tests the state with the unshifted true Hessian. 1 stable, 0 saddle (w->d then points downhill).
 */
static int stable(struct work *w) {
    struct body_shell *s = w->s;
    if (!s->matrix.current) matrix_assemble(s, w->g, TANGENT_TRUE, NULL, 1);
    w->out->factors++;
    if (matrix_factor(s, 0)) return 1;
    /* rounding may spoil a neutral direction: only a clearly negative one counts */
    return lowest(w, w->d) > -1e-11;
}

/* Leaves a saddle along w->d to the side where the energy is lower. */
static void leave_saddle(struct work *w) {
    struct body_shell *s = w->s;
    double tilt = largest_tilt(s, w->d), size = 0, far = 0;
    for (size_t v = 0; v < s->nv; v++) {
        far = fmax(far, norm(w->d + 5 * v, 3));
        for (int c = 0; c < 3; c++)
            size = fmax(size, fabs(s->rest[v][c] - s->rest[0][c]));
    }
    double a = fmin(tilt > 0 ? 0.02 / tilt : INFINITY, far > 0 ? 0.02 * size / far : INFINITY);
    state_store(w->here, s);
    double before = body_shell_energy(s, NULL), change[2];
    for (int k = 0; k < 2; k++) {
        move_from(s, w->here, w->d, k ? -a : a);
        change[k] = gain(w, before);
    }
    move_from(s, w->here, w->d, change[0] <= change[1] ? a : -a);
}

static int work_make(struct work *w, struct error *err) {
    size_t n = w->s->unknowns;
    double **all[] = {&w->g, &w->d, &w->push, &w->load, &w->second};
    for (int k = 0; k < 5; k++)
        if (!(*all[k] = MEM_NEW(double, n))) return fail_memory(err);
    int rc = body_state_save(&w->entry, w->s, err);
    return rc ? rc : body_state_save(&w->here, w->s, err);
}

static void work_drop(struct work *w) {
    mem_free(w->g);
    mem_free(w->d);
    mem_free(w->push);
    mem_free(w->load);
    mem_free(w->second);
    body_state_free(w->entry);
    body_state_free(w->here);
}

/* From the state at entry, with what movement of supports is due made in one linear step. */
static void start_again(struct work *w) {
    struct body_shell *s = w->s;
    double lambda = s->lambda;
    state_recall(s, w->entry);
    if (w->spring < 0) s->lambda = lambda;
    shell_touch(s);
    w->shift = 0;
    w->failures = 0;
    w->out->restarts++;
    const double *push = pending(w);
    double gd;
    if (!push) return;
    matrix_assemble(s, w->g, TANGENT_TRUE, push, 1);
    if (!factor(w, 0) || solve_step(w, push, &gd)) return;
    state_store(w->here, s);
    double tilt = largest_tilt(s, w->d);
    if (tilt > TILT_CAP) /* keep the supports' movement whole, tame the rest */
        for (size_t i = 0; i < s->unknowns; i++)
            if (!s->fixed[i]) w->d[i] *= TILT_CAP / tilt;
    move_from(s, w->here, w->d, 1);
    s->moved = s->lambda;
}

/* What bears in pockets and what slides, found first: each time taken as known, so that the search
 * is one without play, then guessed anew from the shape (active set; the state at entry follows). A
 * handful of rounds; what is left over the law itself settles. */
static void seek_contact(struct work *w) {
    struct body_shell *s = w->s;
    double force = w->force_tol, energy = w->energy_tol;
    int good = 0;
    w->force_tol = fmax(force, 1e-2); /* a guess is worth no more */
    w->energy_tol = fmax(energy, 1e-5);
    rows_hold(s);
    for (int round = 0; round < CONTACT_ROUNDS && w->out->iterations < w->most; round++) {
        int what = run_mip(w, CONTACT_MOST);
        if (what != FOUND) {
            if (what == BROKEN) good = 0;
            break;
        }
        good = 1;
        if (rows_follow(s) == 0) break;
    }
    rows_free(s);
    w->force_tol = force;
    w->energy_tol = energy;
    w->shift = 0;
    w->failures = 0;
    w->out->step = INFINITY;
    if (good)
        state_store(w->entry, s);
    else
        state_recall(s, w->entry);
}

static int search(struct work *w) {
    int loose = w->s->loose && w->spring < 0;
    if (loose) seek_contact(w);
    /* where a few pieces of laths are still undecided the quick steps may go to and fro between
     * two guesses: descent, which looks at the energy, ends that */
    size_t quick = loose ? CONTACT_QUICK : MIP_MOST;
    int what = run_mip(w, w->most < quick ? w->most : quick);
    if (what == FOUND || what == TOLD_TO_STOP || w->spring >= 0) return what;
    start_again(w);
    while (w->out->iterations < w->most) {
        what = run_descent(w, 1);
        if (what == FOUND || what == BROKEN || what == TOLD_TO_STOP) return what;
        if (w->out->iterations >= w->most) break;
        state_store(w->entry, w->s);
        size_t left = w->most - w->out->iterations;
        what = run_mip(w, left < 20 ? left : 20);
        if (what == FOUND || what == TOLD_TO_STOP) return what;
        state_recall(w->s, w->entry);
        w->out->restarts++;
        w->shift = 0;
        what = run_descent(w, 0);
        if (what != WANDERED) return what;
        if (w->shift > 1e5) break;
    }
    return what;
}

static int settle(struct work *w, struct error *err) {
    int what = FOUND;
    for (int round = 0; round < 8; round++) {
        what = search(w);
        if (what != FOUND || (w->o && w->o->unchecked)) break;
        w->out->stable = (w->true_tangent && w->out->step < 1e-9 && w->shift == 0) || stable(w);
        w->s->matrix.near = w->out->stable && !w->s->matrix.use_signed;
        if (w->out->stable || (w->o && w->o->saddles) || w->spring >= 0) break;
        w->out->restarts++;
        leave_saddle(w);
        w->shift = 0;
        state_store(w->entry, w->s);
        if (w->out->iterations < w->most) {
            what = run_descent(w, 1);
            if (what == TOLD_TO_STOP) break;
        }
    }
    w->out->converged = what == FOUND;
    w->out->energy = body_shell_energy(w->s, NULL);
    if (what == TOLD_TO_STOP)
        return fail(err, ERR_STOPPED, NULL, "The search for the shape was stopped.");
    if (what != FOUND)
        return fail(
            err, ERR_SOLVE, "Use smaller load steps, a finer mesh or displacement control.",
            "No equilibrium found in %zu iterations: the forces left over are %.3g of the load "
            "(wanted %.3g).",
            w->out->iterations, w->out->residual, w->force_tol);
    if (w->out->stable == 0 && !(w->o && w->o->saddles) && w->spring < 0)
        return fail(err, ERR_SOLVE, "Start from another seed.",
                    "The equilibrium found is not stable and no stable one was reached from it.");
    return 0;
}

static int solve(struct work *w, struct error *err) {
    struct body_shell *s = w->s;
    *w->out = (struct body_solve){.stable = -1, .step = INFINITY};
    if (!s->matrix.ready)
        return fail(err, ERR_MISSING, "Call body_shell_prepare first.",
                    "The shell was not prepared.");
    shell_refresh(s);
    w->force_tol = w->o && w->o->force > 0 ? w->o->force : 1e-7;
    w->energy_tol = w->o && w->o->energy > 0 ? w->o->energy : 1e-13;
    w->most = w->o && w->o->most ? w->o->most : 300;
    w->keep_saddles = (w->o && w->o->saddles) || w->spring >= 0;
    int rc = work_make(w, err);
    if (!rc) {
        w->scale = load_norm(w);
        rc = settle(w, err);
    }
    work_drop(w);
    return rc;
}

int body_equilibrium(struct body_solve *out, struct body_shell *s,
                     const struct body_solve_options *o, struct error *err) {
    struct body_solve spare;
    struct work w = {.s = s, .o = o, .out = out ? out : &spare, .spring = -1};
    return solve(&w, err);
}

int body_equilibrium_at(struct body_solve *out, double *lambda, struct body_shell *s, int spring,
                        double value, const struct body_solve_options *o, struct error *err) {
    if (spring < 0 || (size_t)spring >= s->parts || s->part[spring].kind != PART_SPRING)
        return fail(err, ERR_INPUT, "Name a spring.", "Displacement control needs a spring part.");
    struct body_solve spare;
    struct work w = {
        .s = s, .o = o, .out = out ? out : &spare, .spring = spring, .spring_at = value};
    s->group[s->part[spring].first_group].rest[0] = value;
    int rc = solve(&w, err);
    *lambda = s->lambda;
    return rc;
}

/* Conjugate gradients with the factor that the search for the equilibrium left behind: a few
 * rounds, since that is of a state a hair away. 0: it is of another state after all. */
static int refine(struct body_shell *s, const double *b, double *x, double *r, double *p,
                  double *kp) {
    size_t n = s->unknowns;
    double size = norm(b, n), rz = 0;
    memset(x, 0, n * sizeof *x);
    memcpy(r, b, n * sizeof *r);
    for (int k = 0; k < 8; k++) {
        if (norm(r, n) <= 1e-9 * size) return 1;
        if (matrix_solve(s, r, kp)) return 0; /* kp holds the preconditioned residual for now */
        double rz_new = dot(r, kp, n), beta = k ? rz_new / rz : 0;
        rz = rz_new;
        for (size_t i = 0; i < n; i++)
            p[i] = kp[i] + (k ? beta * p[i] : 0);
        matrix_times(s, p, kp);
        double curve = dot(p, kp, n);
        if (!(curve > 0)) return 0;
        for (size_t i = 0; i < n; i++) {
            x[i] += rz / curve * p[i];
            r[i] -= rz / curve * kp[i];
        }
    }
    return norm(r, n) <= 1e-9 * size;
}

int body_equilibrium_adjoint(double *a, struct body_shell *s, const double *h, struct error *err) {
    if (!s->matrix.ready)
        return fail(err, ERR_MISSING, "Call body_shell_prepare first.",
                    "The shell was not prepared.");
    size_t n = s->unknowns;
    double *g = MEM_NEW(double, 4 * n);
    if (!g) return fail_memory(err);
    shell_refresh(s);
    if (!s->matrix.current) matrix_assemble(s, g, TANGENT_TRUE, NULL, 1);
    for (size_t i = 0; i < n; i++)
        g[i] = s->fixed[i] ? 0 : h[i];
    int rc = 0;
    if (!s->matrix.near || !refine(s, g, a, g + n, g + 2 * n, g + 3 * n)) {
        if (!matrix_factor(s, 0))
            rc = fail(err, ERR_SOLVE, "Find a stable equilibrium first.",
                      "Sensitivities are not defined where the shape is not stable.");
        else if (matrix_solve(s, g, a))
            rc = fail_memory(err);
        s->matrix.near = !rc;
    }
    mem_free(g);
    return rc;
}

void body_equilibrium_cost(const struct body_shell *s, double *entries, double *flops) {
    *entries = s->matrix.ready ? s->matrix.common.lnz : 0;
    *flops = s->matrix.ready ? s->matrix.common.fl : 0;
}

/* ---- several equilibria ---- */

static void mean_curvature(const struct body_shell *s, double k[3]) {
    double area = 0;
    memset(k, 0, 3 * sizeof *k);
    for (size_t f = 0; f < s->nf; f++) {
        struct body_feel feel;
        body_shell_feel(s, f, &feel);
        area += s->face[f].area;
        for (int c = 0; c < 3; c++)
            k[c] += s->face[f].area * feel.curvature[c];
    }
    for (int c = 0; c < 3; c++)
        k[c] /= area;
}

/* Bends the flat rest shape to a cylinder of curvature k with straight lines along `axis`, and a
 * little bend the other way that nobody asked for. */
static void seed(struct body_shell *s, const double axis[3], const double across[3], double k,
                 double odd) {
    double mid[3] = {0};
    for (size_t v = 0; v < s->nv; v++)
        for (int c = 0; c < 3; c++)
            mid[c] += s->rest[v][c] / (double)s->nv;
    body_shell_reset(s);
    for (size_t v = 0; v < s->nv; v++) {
        double d[3], n[3], up[3];
        for (int c = 0; c < 3; c++) {
            d[c] = s->rest[v][c] - mid[c];
            up[c] = s->rest_n[v][c];
        }
        double u = dot3(d, axis), w = dot3(d, across), a = k * w, b = odd * k * u;
        double side = k != 0 ? sin(a) / k : w, rise = k != 0 ? (1 - cos(a)) / k : 0;
        for (int c = 0; c < 3; c++) {
            s->x[v][c] =
                s->rest[v][c] + (side - w) * across[c] + (rise + odd * k * u * u / 2) * up[c];
            n[c] = cos(a) * up[c] - sin(a) * across[c] - b * axis[c];
        }
        double l = sqrt(dot3(n, n));
        for (int c = 0; c < 3; c++)
            s->n[v][c] = n[c] / l;
        double p[3] = {s->rest_p1[v][0], s->rest_p1[v][1], s->rest_p1[v][2]};
        for (int c = 0; c < 3; c++)
            up[c] = s->rest_p1[v][c];
        if (fabs(dot3(p, s->n[v])) < 0.95)
            body_shell_tangent(s, v, p);
        else
            shell_frame(s, v);
        memcpy(s->rest_p1[v], up, sizeof up);
    }
}

static int same_shape(const struct body_shell *s, const struct body_branch *a, double energy,
                      const double k[3], double apart) {
    (void)energy;
    /* curvature apart times the square of the size over 8 is about a rise apart */
    double size2 = 0, d = 0;
    for (size_t f = 0; f < s->nf; f++)
        size2 += s->face[f].area;
    for (int c = 0; c < 3; c++)
        d = fmax(d, fabs(a->curvature[c] - k[c]));
    return d * size2 / 8 < apart;
}

int body_equilibria(struct body_branch *out, size_t most, size_t *n, struct body_shell *s,
                    const struct body_seeds *seeds, const struct body_solve_options *o,
                    struct error *err) {
    const double bends[5][3] = {
        {0, 0, 0}, {0, 1, 0.01}, {0, -1, 0.01}, {1, 1, 0.01}, {1, -1, 0.01}};
    int rc = 0;
    *n = 0;
    for (int k = 0; k < 5 && !rc; k++) {
        struct body_solve solve;
        struct error ignored = {0};
        double curvature[3];
        int about = bends[k][0] != 0;
        body_shell_reset(s);
        if (k)
            seed(s, about ? seeds->across : seeds->along, about ? seeds->along : seeds->across,
                 bends[k][1] * seeds->curvature, bends[k][2]);
        int bad = body_equilibrium(&solve, s, o, &ignored);
        if (bad == ERR_STOPPED || bad == ERR_MEMORY) {
            if (err) *err = ignored;
            rc = bad;
        }
        if (bad) continue;
        mean_curvature(s, curvature);
        int known = 0;
        for (size_t i = 0; i < *n; i++)
            known |= same_shape(s, &out[i], solve.energy, curvature, seeds->apart);
        if (known || *n >= most) continue;
        size_t at = (*n)++;
        while (at > 0 && out[at - 1].energy > solve.energy) {
            out[at] = out[at - 1];
            at--;
        }
        out[at] = (struct body_branch){.energy = solve.energy, .solve = solve};
        memcpy(out[at].curvature, curvature, sizeof curvature);
        rc = body_state_save(&out[at].state, s, err);
    }
    if (!rc && *n == 0)
        rc = fail(err, ERR_SOLVE, "Check materials and supports.",
                  "No stable equilibrium was found from any seed.");
    if (!rc) body_state_load(s, out[0].state);
    return rc;
}
