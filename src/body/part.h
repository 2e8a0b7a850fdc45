/* part: what is added to a sheet: laths, rods along or off its edge, ties, springs, grips, formers.
 *
 * Every part is a number of scalar readings r of the state with a stiffness: energy 1/2 k (r -
 * r0)^2. Parts are added before body_shell_prepare; afterwards their stiffness and rest values may
 * be changed, and a part is taken away by making its stiffness 0 (body_part_strength). Each call
 * returns the part's number through *out (may be NULL).
 */
#ifndef RELICT_BODY_PART_H
#define RELICT_BODY_PART_H

#include "body/shell.h"

/* A lath along a straight line a-b of the rest shape (for a flat rest shape in the plane z = const,
 * or any rest surface whose triangles the line's upright plane along `up` cuts). */
struct body_lath {
    double a[3], b[3]; /* ends in the rest shape, mm */
    double up[3];      /* the line's plane stands along this; all 0: z */
    double ei, gj, ea; /* N mm2, N mm2, N; ea = 0: slides in its slits */
    double z;          /* height of its axis over the middle surface along +n, mm */
    double curvature;  /* its own natural curvature, 1/mm */
    double strain;     /* its own natural strain (shrunk: negative) */
    double mass;       /* g per mm */
    /* In a pocket with room: the sheet may bend and twist by so much against it before it bears,
     * 1/mm; 0: none. Pull along it is passed on up to `slides` (N), then it slides; 0: never. */
    double play, twist_play, slides;
};
/* ERR_RANGE when less than `inside` of its length lies in the sheet (part of 1). */
int body_part_lath(struct body_shell *shell, const struct body_lath *lath, double inside, int *out,
                   struct error *err);
/* Gives a lath new numbers and a new place (also after body_shell_rest). */
int body_part_lath_set(struct body_shell *shell, int part, const struct body_lath *lath,
                       double inside, struct error *err);

/* A rod rigidly joined to a chain of mesh edges (the rim sewn all along). */
struct body_edge_rod {
    const int *vertices; /* [n] a chain of mesh vertices; closed when the last equals the first */
    size_t n;
    double ei_normal;   /* bending out of the sheet, N mm2 */
    double ei_inplane;  /* bending in the sheet, N mm2 */
    double gj, ea;      /* N mm2, N */
    double z;           /* height of its axis over the middle surface, mm */
    double strain;      /* natural strain */
    double set_normal;  /* natural curvature out of the sheet, 1/mm, counted from flat */
    double set_inplane; /* 1: set to the rest outline in the sheet's plane, 0: straight when free */
};
int body_part_edge_rod(struct body_shell *shell, const struct body_edge_rod *rod, int *out,
                       struct error *err);

/* A node of its own (three unknowns) at x: for rods, bars, hooks. Returns its number through *node.
 */
int body_part_node(struct body_shell *shell, const double x[3], size_t *node, struct error *err);

/* Gives n nodes another place at rest, for instance after body_shell_rest; rest values of all parts
 * follow and the state goes back to rest. */
int body_part_node_rest(struct body_shell *shell, const size_t *nodes, const double (*x)[3],
                        size_t n, struct error *err);

/* A round rod through nodes of its own, free to turn in its lashings. */
struct body_rod {
    const size_t *nodes; /* [n] */
    size_t n;
    int closed;
    double ei, ea;     /* N mm2, N */
    double ei_inplane; /* of a flat rod whose flat lies on the sheet, bending in the sheet's plane;
                          0: round, ei all ways. Not below ei; needs `near` */
    double set;    /* 0: straight when free .. 1: set to its curve at rest, lying in the sheet */
    double strain; /* natural strain */
    const int
        *near; /* [n] the sheet vertex whose normal carries the set; may be NULL when set = 0 */
};
int body_part_rod(struct body_shell *shell, const struct body_rod *rod, int *out,
                  struct error *err);
/* Another section: stiffnesses as above; round stays round. */
void body_part_rod_set(struct body_shell *shell, int part, double ei, double ei_inplane, double ea);

/* A tie from a point of the sheet to a node. */
struct body_tie {
    size_t node;
    size_t face; /* the point: barycentric in this face, */
    double bary[3];
    double off;       /* off the middle surface along the normal, mm */
    double stiffness; /* N/mm */
    int cord;         /* 1: pulls only, and only when longer than its length at rest plus slack */
    double slack;     /* mm; negative: tightened by so much */
};
int body_part_tie(struct body_shell *shell, const struct body_tie *tie, int *out,
                  struct error *err);
/* Another stiffness (0: untied) and slack: above 0 it is a cord that pulls only, else a tie that
 * holds every way. */
void body_part_tie_set(struct body_shell *shell, int part, double stiffness, double slack);

/* A spring on a weighted sum of displacements: r = sum w . u over nodes, 1/2 k (r - target)^2. */
struct body_spring {
    const size_t *nodes;       /* [n] */
    const double (*weight)[3]; /* [n] */
    size_t n;
    double stiffness, target;
};
int body_part_spring(struct body_shell *shell, const struct body_spring *spring, int *out,
                     struct error *err);

/* A grip: a bar between two seats that holds their distance and, through its chamfered ends, the
 * slope of the sheet there. */
struct body_grip {
    const int *seat[2]; /* vertices of the seats */
    size_t n[2];
    double chord;           /* distance of the seats' centres, mm */
    double chord_stiffness; /* N/mm; 0: free to slide along the bar */
    double slope[2]; /* angle between bar and sheet at each seat, rad; positive: the sheet's ends
                        rise towards +n from the middle */
    double slope_stiffness; /* N mm of moment per rad at each seat; 0: no chamfer */
    double bar_ei;          /* the bar's own bending stiffness, N mm2; 0: it does not bend */
};
int body_part_grip(struct body_shell *shell, const struct body_grip *grip, int *out,
                   struct error *err);
/* Gives it another chord and slopes, and puts its seats to the rest shape as it is now. */
void body_part_grip_set(struct body_shell *shell, int part, double chord, const double slope[2]);

/* Another bending stiffness of a bar that bends. */
void body_part_grip_bar(struct body_shell *shell, int part, double bar_ei);

/* A former the sheet may lie against but not enter: a plane (radius 0) or a round post. */
struct body_former {
    double at[3], axis[3]; /* a point; plane: its normal, towards the free side; post: its axis */
    double radius;         /* mm; 0: plane; negative: a hollow, the sheet stays inside */
    double stiffness;      /* N/mm for each mm2 of sheet */
};
int body_part_former(struct body_shell *shell, const struct body_former *former, int *out,
                     struct error *err);

/* Curvature and strain of a lath or edge rod along its length, averaged over its pieces; force and
 * bending moment it carries at the middle of its length (N, N mm). Any may be NULL. */
void body_part_line(const struct body_shell *shell, int part, double *curvature, double *strain,
                    double *force, double *moment);
/* Multiplies the stiffness of a part from its first value: 0 takes it away, 1 puts it back. */
void body_part_strength(struct body_shell *shell, int part, double factor);
/* Energy stored in one part, N mm, and the largest force in it (N; rods and laths: of the pull). */
double body_part_energy(const struct body_shell *shell, int part, double *force);
size_t body_part_count(const struct body_shell *shell);

#endif
