/* equilibrium: the shape in which all forces balance, and whether it would stay there.
 *
 * Newton's method with independent stresses in the tangent (D. Magisano, L. Leonetti, G. Garcea,
 * Int. J. Numer. Meth. Engng 109 (2017) 1237-1262: "mixed integration point"), guarded: when it
 * wanders, the last accepted state is taken up again by a descent on the energy with a shifted
 * tangent. A shape that is not in equilibrium is never handed out as one: `converged` tells.
 */
#ifndef RELICT_BODY_EQUILIBRIUM_H
#define RELICT_BODY_EQUILIBRIUM_H

#include "body/shell.h"

struct body_solve_options {
    double force;  /* stop when |g| is below this part of the load (or of the first |g|); 0: 1e-7 */
    double energy; /* or |g.d| below this part of energy and work; 0: 1e-13 */
    size_t most;   /* iterations in all; 0: 300 */
    int saddles;   /* 1: accept an equilibrium that is not stable; 0: leave it downhill */
    int unchecked; /* 1: skip the stability test (steps of a path) */
    int *stop;     /* a person may set it to 1; NULL */
};

struct body_solve {
    int converged;
    int stable;        /* 1: true Hessian positive; 0: a saddle; -1: not tested */
    size_t iterations; /* of all methods together */
    size_t factors;    /* matrices factored */
    size_t restarts;   /* times the guard changed method */
    double residual;   /* |g| over the force scale */
    double step;       /* |g.d| over the energy scale at the last step */
    double energy;     /* stored, N mm */
};

/* Finds the equilibrium near the present state for the present parameter. Returns 0 when converged
 * (and stable unless told otherwise); ERR_SOLVE with the residual in words otherwise, the state
 * then being the best one met; ERR_STOPPED; ERR_MEMORY. */
int body_equilibrium(struct body_solve *out, struct body_shell *shell,
                     const struct body_solve_options *options, struct error *err);

/* Displacement control: finds the state in which the reading of a spring part (part.h) has the
 * value asked for, with the path loads at whatever parameter that takes (*lambda). The spring
 * itself bears nothing at the end. For snap-through; a path that turns back in this reading cannot
 * be followed. */
int body_equilibrium_at(struct body_solve *out, double *lambda, struct body_shell *shell,
                        int spring, double value, const struct body_solve_options *options,
                        struct error *err);

/* Sensitivity: solves K a = h at an equilibrium (K true Hessian, h [unknowns] = d output / d
 * state), so that d output / d p = (explicit part) - a . dg/dp for any parameter p. */
int body_equilibrium_adjoint(double *a, struct body_shell *shell, const double *h,
                             struct error *err);

/* Several equilibria: runs from the flat sheet and from cylinders about both axes and both ways, a
 * little disturbed. The shapes found that differ are told with their energies, lowest first. */
struct body_branch {
    struct body_state *state; /* free with body_state_free */
    double energy;            /* stored, N mm */
    double curvature[3];      /* mean over the area, material axes */
    struct body_solve solve;
};
struct body_seeds {
    double along[3], across[3]; /* unit axes of the flat rest shape */
    double curvature;           /* of the seed cylinders, 1/mm */
    double apart;               /* shapes closer than this (root mean square, mm) are one */
};
int body_equilibria(struct body_branch *out, size_t most, size_t *n, struct body_shell *shell,
                    const struct body_seeds *seeds, const struct body_solve_options *options,
                    struct error *err);

/* Counts for tables: entries of the factor and multiplications of one factoring. */
void body_equilibrium_cost(const struct body_shell *shell, double *entries, double *flops);

#endif
