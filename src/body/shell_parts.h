/* shell_parts: the inside of a shell handle. Private to src/body. */
#ifndef RELICT_BODY_SHELL_PARTS_H
#define RELICT_BODY_SHELL_PARTS_H

#include "body/part.h"
#include "body/shell.h"

#include <cholmod.h>

/* Face scalars q = (A0 A1 A2, S0 E0 S1 E1 S2 E2): squared arc length of the edge opposite to corner
 * i, and slope angle times length at its start (corner i+1) and end (corner i+2). */
enum { NQ = 9, FACE_DOF = 15, LOCAL = 12 };

struct face {
    double g[6];  /* rest edges in the material's axes: u0 v0 u1 v1 u2 v2 */
    double l2[3]; /* their squared lengths */
    double area;
    double share[3];                /* part of its area that loads each corner */
    double axis[3];                 /* wanted 1-axis in space */
    double strain[3], curvature[3]; /* natural, beyond the rest shape */
    double m[NQ * NQ], rest[NQ], bar[NQ],
        lx[NQ]; /* energy 1/2 (q-bar) M (q-bar) - lx (q-bar) + w0 */
    double w0;
    double fi[NQ]; /* independent forces of the tangent */
    int has_material;
    int first_row; /* chain of stiff rows */
    int loose;     /* some of them have play or a limit */
};

/* A stiff row adds 1/2 k (row . q - target)^2 to a face: laths and rods along edges. */
enum row_kind { ROW_BEND, ROW_TWIST, ROW_STRETCH, ROW_KINDS };
struct row {
    int face, part, next;
    enum row_kind kind;
    double weight;               /* length it stands for, mm */
    double k, k0, target, v[NQ]; /* k0: at strength 1 */
    double own;                  /* natural value: curvature, or strain and twist beyond rest */
    double play;                 /* bears nothing within +- so much of its target; 0: none */
    double most;                 /* largest force (of k y) it passes on, then it slides; 0: any */
    int held;                    /* while what bears is sought: taken as known, see shell_row.c */
    double arc;                  /* place along the part, 0..1 */
};

/* The smoother membrane of one edge: up to five edges over up to four vertices. */
enum { SMOOTH_EDGES = 5, SMOOTH_DOF = 20 };
struct smooth {
    size_t node[4];
    int nodes, edges, face[2];
    int end[SMOOTH_EDGES][2];
    double l2[SMOOTH_EDGES], m[SMOOTH_EDGES][SMOOTH_EDGES], bar[SMOOTH_EDGES], lx[SMOOTH_EDGES], w0;
    double fi[SMOOTH_EDGES];
    size_t slot;
};

/* Readings of other parts, worked out with second derivatives (jet.h) or straight linear. */
enum group_kind {
    GROUP_STRETCH, /* 2 nodes: |e|^2 - l^2 */
    GROUP_BEND,    /* 3 nodes (+1 vertex): curvature binormal less the set one */
    GROUP_TWIST,   /* 2 vertices: turn of the normals about the edge */
    GROUP_INPLANE, /* 3 vertices: geodesic bend */
    GROUP_FLAT,    /* 3 nodes + vertex: curvature binormal . normal */
    GROUP_TIE,     /* 3 vertices + node: vector from point to node */
    GROUP_CORD,    /* the same: its length, one-sided */
    GROUP_CHORD,   /* 2 nodes: distance */
    GROUP_SLOPE,   /* vertex + 2 nodes: normal . unit chord */
    GROUP_FORMER,  /* vertex: depth in a former, one-sided */
    GROUP_LINEAR   /* any number of nodes: sum w . u - target */
};
enum { GROUP_NODES = 4, GROUP_READINGS = 3 };
struct group {
    enum group_kind kind;
    int part;
    int n, m;                    /* nodes, readings */
    size_t node[GROUP_NODES];    /* for GROUP_LINEAR: node[0] is an offset into the shell's lists */
    double k;                    /* stiffness now */
    double k0;                   /* at first */
    double c[16];                /* the kind's numbers */
    double set, strain;          /* natural state against rest */
    double modulus;              /* of the section: k follows from it and the rest lengths */
    double rest[GROUP_READINGS]; /* reading at which no force acts */
    double fi[GROUP_READINGS];
    size_t slot; /* first of its pair slots */
};

enum part_kind {
    PART_LATH,
    PART_EDGE_ROD,
    PART_ROD,
    PART_TIE,
    PART_SPRING,
    PART_GRIP,
    PART_FORMER
};
struct part {
    enum part_kind kind;
    double factor; /* of strength */
    struct body_lath lath;
    size_t first_group, groups;
    size_t bar[2];       /* of a grip: the nodes of its seats; the bar's own follow the second */
    int first_row, rows; /* rows of one part stand together */
};

struct loads {
    double (*force)[3];  /* [nodes] */
    double (*moment)[3]; /* [nv] */
    double *pressure;    /* [nf] */
    int any_pressure, any_moment;
};

struct matrix {
    int ready;
    cholmod_common common;
    cholmod_sparse *h;
    cholmod_factor *factor;        /* symbolic: order and supernodes */
    struct frontal *frontal;       /* the numbers */
    cholmod_factor *signed_factor; /* LDL' for saddles, made when first wanted */
    int near; /* the factor is of the true Hessian, unshifted, of this state or one a hair away */
    int current; /* what is assembled is the true Hessian of the shell as it stands (shell_touch) */
    int use_signed; /* the last factoring was of that kind */
    cholmod_dense *rhs, *y, *e, *solution;
    int *face_slot; /* [nf][3]: row offset of the off-diagonal block of corners (1,0) (2,0) (2,1) */
    int *pair_slot; /* of groups */
    double *diagonal; /* [unknowns] of the Hessian as assembled */
};

struct body_shell {
    size_t nv, nf, nodes, unknowns;
    size_t room_nodes;
    int (*tri)[3];
    int (*edge_next)[3]; /* neighbour across edge i, or -1 */
    double (*rest)[3], (*rest_n)[3];
    double (*rest_p1)[3]; /* tangent axis 1 at rest */
    double (*x)[3], (*n)[3], (*p1)[3], (*p2)[3];
    struct face *face;
    struct body_laminate *laminate; /* [nf] */
    struct row *row;
    size_t rows, room_rows;
    struct smooth *smooth; /* NULL: the membrane is the triangles' own */
    size_t smooths;
    struct group *group;
    size_t groups, room_groups;
    size_t *list_node; /* of linear groups */
    double (*list_weight)[3];
    size_t lists, room_lists;
    struct part *part;
    size_t parts, room_parts;
    unsigned char *fixed; /* [unknowns] */
    int *axes_of;         /* [nodes] index into axes, or -1 */
    double (*axes)[9];
    size_t axes_n, axes_room;
    double *move; /* [unknowns] wanted movement of fixed unknowns at parameter 1 */
    int any_move;
    struct loads load[BODY_LOADS];
    double lambda;
    double moved;        /* parameter that the fixed unknowns have followed */
    double energy_scale; /* largest stored energy met */
    double noise;        /* rounding in the forces, of all faces together, N */
    int dirty;           /* faces' M must be made again */
    int loose;           /* some row has play or a limit */
    struct matrix matrix;
};

static inline double dot3(const double *a, const double *b) {
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}
static inline void cross3(const double *a, const double *b, double *c) {
    c[0] = a[1] * b[2] - a[2] * b[1];
    c[1] = a[2] * b[0] - a[0] * b[2];
    c[2] = a[0] * b[1] - a[1] * b[0];
}

/* Whoever changes what the Hessian depends on says so. */
static inline void shell_touch(struct body_shell *s) {
    s->matrix.current = 0;
}

static inline int node_size(const struct body_shell *s, size_t node) {
    return node < s->nv ? 5 : 3;
}
static inline size_t node_dof(const struct body_shell *s, size_t node) {
    return node < s->nv ? 5 * node : 5 * s->nv + 3 * (node - s->nv);
}

/* shell.c: completes one or two unit vectors to a rotation. */
void shell_complete(double q[3][3], int have);

/* shell_face.c */
void face_geometry(struct body_shell *s, size_t f); /* edges in material axes, rest scalars */
void face_rebuild(struct body_shell *s, size_t f);  /* M, bar, lx from material, natural, rows */
void shell_refresh(struct body_shell *s);           /* rebuilds all faces when dirty */
void face_scalars(const struct body_shell *s, size_t f, double q[NQ]);
double face_energy(const struct body_shell *s, size_t f);
/* gradient (node-major x,t of the three corners) and, when k is given, Hessian (lower part filled,
 * [15][15]) with geometric forces `fi` (NULL: the true ones). */
void face_derivatives(const struct body_shell *s, size_t f, const double *fi, double g[FACE_DOF],
                      double (*k)[FACE_DOF]);
void face_forces(const struct body_shell *s, size_t f, double force[NQ]);
/* forces predicted after the move d of its 15 unknowns */
void face_forces_ahead(const struct body_shell *s, size_t f, const double *d, double force[NQ]);
void face_bending_rows(const double g[6], const double bary[3], double b[3][6]);
void face_strain_rows(const double g[6], double t[9]);
void face_line_rows(const struct body_shell *s, size_t f, const double from[3], const double to[3],
                    double bend[2][6], double twist[2][6], double stretch[3], double *length);

/* shell_row.c: rows with play or a limit are not part of the face's M. Force at reading y; tangent
 * and energy may be NULL. */
static inline int row_is_loose(const struct row *r) {
    return r->play > 0 || r->most > 0;
}
double row_law(const struct row *r, double y, double *tangent, double *energy);
double row_reading(const struct row *r, const double q[NQ]);
/* What bears and what slides, taken as known for a while so that each search is an ordinary one:
 * hold begins (as if tight from rest, else as it is now), follow takes the next guess from the
 * state and says how many rows changed, free ends it. */
enum { ROW_FREE, ROW_TIGHT, ROW_UP, ROW_DOWN, ROW_OFF };
void rows_hold(struct body_shell *s);
size_t rows_follow(struct body_shell *s);
void rows_free(struct body_shell *s);

/* shell_smooth.c */
void smooth_rebuild(struct body_shell *s);
double smooth_energy(const struct body_shell *s);
void smooth_forces_ahead(struct body_shell *s, struct smooth *d, const double *step);
void smooth_derivatives(const struct body_shell *s, const struct smooth *d, const double *fi,
                        double grad[SMOOTH_DOF], double *k);

/* shell_group.c */
double group_energy(const struct body_shell *s, const struct group *g);
void group_readings(const struct body_shell *s, const struct group *g, double r[GROUP_READINGS]);
int group_unknowns(const struct body_shell *s, const struct group *g, const size_t **nodes);
/* gradient and Hessian [n][n] full, n = group_unknowns; k may be NULL; fi NULL: true forces */
void group_derivatives(const struct body_shell *s, const struct group *g, const double *fi,
                       double *grad, double *k);
void group_forces_ahead(const struct body_shell *s, const struct group *g, const double *d,
                        double *fi);
int group_one_sided(const struct group *g);
enum { GROUP_UNKNOWNS = 18 };

/* shell_state.c */
void shell_frame(struct body_shell *s, size_t v);
void shell_move(struct body_shell *s, const double *d, double a, const double (*x0)[3],
                const double (*n0)[3], const double (*p0)[3], const double (*r0)[3]);
struct body_state {
    size_t nv, nodes;
    double (*x)[3], (*n)[3], (*p1)[3], (*p2)[3];
    double lambda, moved;
};
void state_store(struct body_state *state, const struct body_shell *s);
void state_recall(struct body_shell *s, const struct body_state *state);

/* shell_load.c: adds minus the loads to g, and the pressure's (symmetrised) tangent to the matrix
 * when wanted; the work of a move along d under loads held as they are */
void shell_load_gradient(const struct body_shell *s, double *g);
void shell_load_vector(const struct body_shell *s, int set, double *f);
int pressure_tangent(const struct body_shell *s, size_t f, double k[9][9]);

/* shell_matrix.c */
enum tangent { TANGENT_NONE, TANGENT_TRUE, TANGENT_INDEPENDENT };
int matrix_make(struct body_shell *s, struct error *err);
void matrix_drop(struct body_shell *s);
/* Assembles g (may not be NULL) and the matrix; `push` (may be NULL): movement of fixed unknowns to
 * be made in this step, whose effect is added to g. Returns the size of the forces before they
 * cancel. */
double matrix_assemble(struct body_shell *s, double *g, enum tangent what, const double *push,
                       int pinned);
/* Factors with shift * (mean diagonal of places or tilts) added. 1: positive definite. */
int matrix_factor(struct body_shell *s, double shift);
/* Factors with weight [unknowns] * shift added to the diagonal. */
/* Factors as LDL' whatever the signs of D. 0: a zero turned up. */
int matrix_factor_signed(struct body_shell *s);
void matrix_times(const struct body_shell *s, const double *x, double *y); /* as assembled */
int matrix_solve(struct body_shell *s, const double *b, double *x);        /* x = K^-1 b */

/* part.c */
void parts_rest(struct body_shell *s); /* rest values of rows and groups from the rest shape */
int part_add(struct body_shell *s, enum part_kind kind, int *out, struct error *err);
int shell_grow(void **array, size_t *room, size_t want, size_t size);

#endif
