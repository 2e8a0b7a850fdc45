/* shell: a thin sheet that bends far, as triangles with a position and a unit normal at each
 * vertex.
 *
 * Vertex-director discrete-Kirchhoff triangles: five unknowns a vertex (position, tilt of the
 * normal), bending after J.-L. Batoz, K.-J. Bathe, L.-W. Ho, Int. J. Numer. Meth. Engng 15 (1980)
 * 1771-1812 written in frame-free scalars (normal . edge), constant membrane strain from the edges'
 * arc lengths, orthotropic laminate (see laminate.h), natural curvature and strain in each
 * triangle. Turning or shifting the whole changes nothing. For thin sheets: shear through the
 * thickness is not followed.
 *
 * Order of calls: new -> material, natural, parts (part.h) -> prepare -> supports, loads ->
 * equilibrium (equilibrium.h) -> ask. After prepare, materials, natural state, stiffness of parts,
 * rest shape (same triangles), supports and loads may change freely; the symbolic work is kept.
 * One handle is for one thread at a time; different handles may run side by side.
 *
 * Units: mm, N, MPa, rad. Curvature is positive when the sheet bends towards +n, the side from
 * which the triangles run counter-clockwise. Voigt triples: 11, 22, and twice 12.
 */
#ifndef RELICT_BODY_SHELL_H
#define RELICT_BODY_SHELL_H

#include "base/error.h"
#include "body/laminate.h"

#include <stddef.h>

struct body_shell;

/* The rest shape. */
struct body_shell_mesh {
    size_t nv, nf;
    const double (*x)[3];      /* [nv] mm */
    const int (*tri)[3];       /* [nf] counter-clockwise seen from +n */
    const double (*normal)[3]; /* [nv] of a smooth rest surface; NULL: mean of the triangles' */
};

/* Makes a shell of triangles. ERR_INPUT for indices off the list, vertices in no triangle,
 * triangles without area, an edge of more than two triangles or turned about, numbers that are not
 * numbers. Free with body_shell_free. */
int body_shell_new(struct body_shell **out, const struct body_shell_mesh *mesh, struct error *err);
void body_shell_free(struct body_shell *shell); /* NULL is fine */

size_t body_shell_vertices(const struct body_shell *shell);
size_t body_shell_faces(const struct body_shell *shell);
/* The triangle across the edge opposite to corner i of a face, or -1. */
int body_shell_across(const struct body_shell *shell, size_t face, int i);
const int (*body_shell_triangles(const struct body_shell *shell))[3];

/* Sets the material's 1-axis of a face: dir [3] is laid into its plane. ERR_INPUT when dir stands
 * upright on the face. The first axis of a new shell is x (y where x stands upright). */
int body_shell_axis(struct body_shell *shell, size_t face, const double dir[3], struct error *err);

/* Sets the stiffness of a face; its natural strain and curvature are set to the laminate's. */
void body_shell_material(struct body_shell *shell, size_t face,
                         const struct body_laminate *laminate);

/* Sets natural strain and curvature of a face in the material's axes, measured from the rest shape
 * (flat sheet: absolute). NULL keeps what there is. */
void body_shell_natural(struct body_shell *shell, size_t face, const double strain[3],
                        const double curvature[3]);

/* What was set. */
void body_shell_natural_get(const struct body_shell *shell, size_t face, double strain[3],
                            double curvature[3]);

/* Replaces the rest positions (and normals, may be NULL); triangles, axes in space, materials and
 * parts stay. The state goes back to rest. */
int body_shell_rest(struct body_shell *shell, const double (*x)[3], const double (*normal)[3],
                    struct error *err);

/* Takes the smoother membrane (one strain for each edge): for curved rest shapes, where the plain
 * one is too stiff on coarse meshes. Twice the work. Call after the materials, before prepare; for
 * layers alike about the middle only (ERR_REFUSED otherwise). */
int body_shell_smooth(struct body_shell *shell, struct error *err);

/* Does the symbolic work. Call once after all parts were added. ERR_MEMORY, or ERR_MISSING for a
 * face without material. */
int body_shell_prepare(struct body_shell *shell, struct error *err);

/* Puts the state back to the rest shape. */
void body_shell_reset(struct body_shell *shell);

/* Supports. A support names unknowns of a node: x, y, z (along the node's own support axes, at
 * first those of space) and the tilts of the normal about its two tangent axes. */
enum body_fix {
    BODY_FIX_X = 1,
    BODY_FIX_Y = 2,
    BODY_FIX_Z = 4,
    BODY_FIX_TILT1 = 8, /* the normal tips along tangent axis 1 */
    BODY_FIX_TILT2 = 16,
    BODY_FIX_PLACE = 7,
    BODY_FIX_ALL = 31
};
void body_shell_fix(struct body_shell *shell, size_t node, unsigned which);
void body_shell_release(struct body_shell *shell, size_t node, unsigned which);
unsigned body_shell_fixed(const struct body_shell *shell, size_t node);

/* Lets tangent axis 1 of a vertex lie along dir (laid into the tangent plane). */
void body_shell_tangent(struct body_shell *shell, size_t vertex, const double dir[3]);

/* Lets the node's x, y, z of supports and loads be the rows of `axes` (a rotation). */
void body_shell_support_axes(struct body_shell *shell, size_t node, const double axes[3][3]);

/* A plane of symmetry with normal dir through the vertex: no way along dir, no tilt along it.
 * Several planes through one vertex must stand at right angles; ERR_INPUT otherwise. */
int body_shell_symmetry(struct body_shell *shell, size_t vertex, const double dir[3],
                        struct error *err);

/* Takes away rigid motion: of each sheet of the mesh (triangles that hang together) as many ways as
 * supports, springs and the parts that join it to others leave it. A free sheet has one vertex near
 * its middle quite fixed and a second kept from swinging round. Call it when all parts are there.
 * Fails only with memory. */
int body_shell_hold(struct body_shell *shell, struct error *err);
/* Takes off all supports. */
void body_shell_unfix(struct body_shell *shell);

/* How far a fixed unknown is to be moved from the rest shape when the path parameter is 1 (mm or
 * rad), along the node's support axes. */
void body_shell_move(struct body_shell *shell, size_t node, const double by[5]);

/* Loads come in two sets: 0 stays as it is, 1 is multiplied by the path parameter. */
enum { BODY_LOAD_STEADY, BODY_LOAD_PATH, BODY_LOADS };
void body_shell_force(struct body_shell *shell, int set, size_t node,
                      const double force[3]); /* adds */
void body_shell_moment(struct body_shell *shell, int set, size_t vertex, const double moment[3]);
/* Adds a load per area of the rest surface, kept in direction (N/mm2). */
void body_shell_spread(struct body_shell *shell, int set, size_t face, const double load[3]);
/* Adds a pressure that follows the surface, positive towards +n (MPa). */
void body_shell_pressure(struct body_shell *shell, int set, size_t face, double pressure);
void body_shell_unload(struct body_shell *shell, int set);
void body_shell_parameter(struct body_shell *shell,
                          double lambda); /* the path parameter, first 0 */

/* The state. Borrowed arrays, good until the next call that changes the shell. */
const double (*body_shell_rest_place(const struct body_shell *shell))[3];
const double (*body_shell_place(const struct body_shell *shell))[3];
const double (*body_shell_normal(const struct body_shell *shell))[3];
/* Sets positions and unit normals (a seed, or a stored state). */
void body_shell_set(struct body_shell *shell, const double (*x)[3], const double (*n)[3]);
/* The tangent axes of a vertex as they stand. */
void body_shell_tangents(const struct body_shell *shell, size_t vertex, double p1[3], double p2[3]);
/* Copies of the whole state for going back; free with body_state_free. */
struct body_state;
int body_state_save(struct body_state **out, const struct body_shell *shell, struct error *err);
void body_state_load(struct body_shell *shell, const struct body_state *state);
void body_state_free(struct body_state *state);

/* What a face feels at its centroid, in the material's axes. */
struct body_feel {
    double strain[3], curvature[3]; /* total, from the rest metric and from flat */
    double n[3], m[3];              /* resultants N/mm and N, of the sheet without its parts */
    double elastic_strain[3], elastic_curvature[3];
};
void body_shell_feel(const struct body_shell *shell, size_t face, struct body_feel *out);

/* Stored energy of sheet and parts, N mm; `parts` (may be NULL) gets the parts' share. */
double body_shell_energy(const struct body_shell *shell, double *parts);
/* Sum of the loads' work is not part of it. */

/* Forces the supports give to a node [3], in space, and the total of all of them. */
void body_shell_reaction(struct body_shell *shell, size_t node, double force[3]);
void body_shell_reactions(struct body_shell *shell, double total[3]);

double body_shell_area(const struct body_shell *shell, size_t face); /* of the rest shape, mm2 */
double body_shell_mass(const struct body_shell *shell);              /* g, sheet only */
/* Adds the weight of sheet and laths with gravity along dir (a unit vector), N. */
void body_shell_gravity(struct body_shell *shell, int set, const double dir[3]);

/* For checks: gradient of (energy - work) by unknown, [unknowns]; its Hessian times a vector; the
 * state moved by d. Unknowns: five a vertex, then three a further node; fixed ones count as free
 * here. */
size_t body_shell_unknowns(const struct body_shell *shell);
int body_shell_gradient(struct body_shell *shell, double *g, struct error *err);
int body_shell_hessian_times(struct body_shell *shell, const double *d, double *out,
                             struct error *err);
void body_shell_shift(struct body_shell *shell, const double *d);
double body_shell_potential(const struct body_shell *shell); /* energy less work of dead loads */

#endif
