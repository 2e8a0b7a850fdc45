/* laminate: from layers of bark, wood or cloth to the stiffness of the sheet they make.
 *
 * Classical lamination with the sign of this program: curvature is positive when the sheet bends
 * towards +n, so that the fibre at height z has strain eps - z kappa. Voigt order 11, 22, 12 with
 * engineering shear (gamma_12) and twist (2 kappa_12). Matrices are [9], row-major.
 *
 *     N = A eps + C kappa,  M = C eps + D kappa,  A = sum Q dz, C = -sum Q z dz, D = sum Q z^2 dz
 *
 * (R. M. Jones, Mechanics of Composite Materials, 2nd ed. 1999, section 4.3; his B is our -C.)
 * Pure, thread-safe.
 */
#ifndef RELICT_BODY_LAMINATE_H
#define RELICT_BODY_LAMINATE_H

#include "base/error.h"

#include <stddef.h>

/* One layer; 1 is the axis of the tree (along the grain), 2 across it in the sheet. */
struct body_ply {
    double e1, e2;       /* MPa */
    double nu12;         /* strain across over strain along, when pulled along 1 */
    double g12;          /* MPa */
    double thickness;    /* mm */
    double angle;        /* of the layer's 1-axis from the sheet's 1-axis, rad */
    double density;      /* g/mm3; 0: weightless */
    double free1, free2; /* free strain of the layer along its own axes (swelling positive) */
};

struct body_laminate {
    double a[9], c[9], d[9]; /* N/mm, N, N mm */
    double thickness;        /* mm */
    double mass;             /* g/mm2 */
    double strain[3];    /* natural strain of the middle surface from the layers' free strains */
    double curvature[3]; /* and natural curvature, 1/mm */
};

/* Stacks n plies from the inner face (z = -t/2) to the outer (z = +t/2) about the middle surface.
 * ERR_RANGE for a thickness or modulus that is not above 0, nu12 outside the energy limit
 * |nu12| < sqrt(E1/E2), or a ratio of moduli above 1e5. */
int body_laminate_make(struct body_laminate *out, const struct body_ply *plies, size_t n,
                       struct error *err);

/* Plane-stress stiffness of one ply in the sheet's axes. */
void body_ply_stiffness(double q[9], const struct body_ply *ply);

/* Multiplies all thicknesses by f: A by f, C by f^2, D by f^3; curvature by 1/f. */
void body_laminate_scale(struct body_laminate *out, const struct body_laminate *laminate, double f);

/* Multiplies the stiffness along axis 2 (row and column, so that it stays positive): what pulls by
 * `stretch`, what bends by `bend`; along axis 1 by stretch1 and bend1. Fissures, cuts. */
void body_laminate_weaken(struct body_laminate *laminate, double stretch1, double bend1,
                          double stretch2, double bend2);

/* Solves [A C; C D] [eps; kappa] = [n; m]. Returns 0, or ERR_SOLVE when the matrix is singular. */
int body_laminate_solve(double strain[3], double curvature[3], const struct body_laminate *laminate,
                        const double n[3], const double m[3]);

/* Turns a strain-like Voigt triple (11, 22, 2*12) given in axes turned by `angle` into the base
 * axes. */
void body_voigt_turn(double out[3], const double in[3], double angle);

#endif
