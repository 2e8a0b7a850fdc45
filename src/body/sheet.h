/* sheet: a barky sheet with laths, rim and grip as a making describes it, and what comes of it.
 *
 * The long side lies along x, the plan is seen from the outer face; +n is the outer face. Natural
 * curvature about the tree is negative where the outer face is convex (it bends away from +n);
 * heights are told along -n so that a sheet that arches towards the viewer has a positive rise.
 *
 *     struct body_sheet_model *model;
 *     body_sheet_new(&model, &sheet, 600, err);
 *     body_sheet_solve(model, &out, err);
 *     body_sheet_change(model, &other, err);   // same kinds of part: no new symbolic work
 *
 * One model is for one thread at a time.
 */
#ifndef RELICT_BODY_SHEET_H
#define RELICT_BODY_SHEET_H

#include "body/equilibrium.h"
#include "plane/mesh.h"
#include "stuff/bark.h"

enum { BODY_SHEET_LAYERS = 4, BODY_SHEET_HOLES = 8, BODY_SHEET_PEGS = 16 };

struct body_sheet_lath {
    double from[2], to[2];    /* mm in the plan; trimmed to the outline */
    double width, thickness;  /* mm */
    double e, g, density;     /* MPa, MPa, g/mm3 */
    double curvature, strain; /* its own when free */
    double height;            /* of its axis over the middle of the sheet, mm */
    double play;              /* room in its pocket, mm; 0: tight */
    double friction;          /* against the pocket */
    double gripped;           /* N held by ties; INFINITY: sewn, never slides */
    double cut;               /* depth of the slits at its ends by which it went in, mm; 0: none */
};

/* What is known of the sheet place by place. */
struct body_sheet_place {
    double at[2], radius; /* mm; the radius is an area's */
    double value; /* of a reading: thickness, mm; of an area: share of the outermost layer left */
};

/* A flat coil sewn on: it adds its stiffness to the sheet's where it lies, each bending about its
 * own middle (the stitches let them slide). */
struct body_sheet_ring {
    double at[2], inner, outer;           /* mm */
    double thickness;                     /* mm */
    double e_round, e_radial, g, density; /* MPa, MPa, MPa, g/mm3 */
};

enum body_rim { BODY_RIM_NONE, BODY_RIM_SEWN, BODY_RIM_TIED };
/* A whole round rod; two halves, flat on each face; a half on one face. */
enum body_rim_form { BODY_RIM_ROUND, BODY_RIM_HALVES, BODY_RIM_OUTER, BODY_RIM_INNER };

/* Points, laths, readings and areas are borrowed; a model keeps its own copies of the last three.
 */
struct body_sheet {
    struct plane_loop outline, hole[BODY_SHEET_HOLES];
    size_t holes;
    struct body_ply layer[BODY_SHEET_LAYERS]; /* inner face first; angles from the grain */
    size_t layers;
    /* Readings of the thickness: only how they differ counts, the mean is the layers'. Between them
     * by distance, 1 / (d^2 + s^2) with s a twentieth of the sheet's length (D. Shepard, Proc. 23rd
     * ACM Nat. Conf. 1968, 517-524). */
    const struct body_sheet_place *reading;
    size_t readings;
    /* Where the outermost layer is thinner or gone; the others stay. Two layers or more. */
    const struct body_sheet_place *bared;
    size_t bareds;
    struct stuff_fissures fissures; /* along the grain, in the outer face; depth 0: none */
    double grain;                   /* direction of the grain from x, rad */
    double
        curvature[3]; /* natural, along the grain, across, twice the twist: 1/mm, tree and drying */
    double strain[3]; /* natural strain */
    const struct body_sheet_lath *lath; /* [laths], as many as there are */
    size_t laths;
    enum body_rim rim;
    double rim_diameter, rim_e, rim_g,
        rim_density; /* diameter of the rod, of the whole one when halved */
    enum body_rim_form rim_form;
    double rim_joint; /* halves: 0 slide on each other .. 1 as one piece (body_rim_joint) */
    double rim_set;   /* part of its plan curve that is set: 0 straight when free, 1 fully */
    double tie_every, tie_stiffness, tie_slack; /* tied rim: mm along it, N/mm, mm */
    size_t tie_group;               /* the same number of ties in groups of so many; 0: 1 */
    int grip;                       /* 1: there is a grip bar */
    double seat[2][2], seat_radius; /* centres in the plan and radius, mm */
    double grip_chord;              /* mm; 0: as far apart as the sheet lets them */
    double grip_slope;  /* chamfer at both ends, rad; positive: ends lie back from the viewer */
    double grip_moment; /* stiffness of the seats, N mm per rad */
    double grip_hold;   /* N/mm that keep the chord; 0: 1e4 */
    double grip_ei;     /* of the bar, N mm2; 0: it does not bend */
    double peg[BODY_SHEET_PEGS][2]; /* through rim and sheet: places in the plan, the nearest point
                                       of a tied rim is taken */
    size_t pegs;
    double peg_stiffness;        /* N/mm, every way */
    struct body_sheet_ring ring; /* a coiled piece sewn on; thickness 0: none */
    double other_mass;           /* g, of what weighs and does not stiffen */
    double patch_radius;         /* of a hand, mm; 0: 45 */
};

struct body_sheet_out {
    double curvature[3]; /* mean along x, across, twice twist; 1/mm, positive when the middle stands
                            towards the viewer */
    double rise;         /* of the middle over the middles of the long edges, mm */
    double end_rise;     /* of the middle over the two ends, mm */
    double edge_lift;    /* largest height of the edge over its lowest place, mm */
    double twist;        /* turn of one end against the other about x, rad */
    double width, length; /* as it stands, mm */
    double stiffness;     /* N/mm: hand-sized patch in the middle, edge resting on a table */
    double mass;          /* g, with laths and rim */
    double energy;        /* locked in, N mm */
    double lath_moment;   /* largest in any lath, N mm */
    double lath_pull;     /* largest along any lath, N */
    size_t laths_sliding; /* rubbing laths whose pull is at its limit */
    double tie_force;     /* largest in any tie, N */
    double equal_lath;    /* lath thickness at which laths and sheet are equally stiff, mm (0: no
                             laths):    t* = (12 D22 s / (E b))^(1/3) */
    struct body_solve solve;
};

struct body_sheet_model;

/* Meshes the outline with about `triangles` triangles and joins the parts. Refuses with the reason
 * what cannot be: no thickness, laths outside, crossing outlines, a sheet wider than the tree is
 * round, numbers that are none. */
int body_sheet_new(struct body_sheet_model **out, const struct body_sheet *sheet, size_t triangles,
                   struct error *err);
void body_sheet_free(struct body_sheet_model *model);

/* Takes other numbers for the same kinds and counts of part; the mesh is carried to the new
 * outline. ERR_RANGE when the outlines differ too much: make a new model. */
int body_sheet_change(struct body_sheet_model *model, const struct body_sheet *sheet,
                      struct error *err);

/* Tells the model that the points of the outline it was given are about to go: the next change
 * carries the mesh to its outline whether it is another or not. */
void body_sheet_forget_outline(struct body_sheet_model *model);

/* Equilibrium from the flat sheet, and what comes of it. */
int body_sheet_solve(struct body_sheet_model *model, struct body_sheet_out *out, struct error *err);

/* Numbers of a sheet that shapes answer to. */
enum body_sheet_number {
    BODY_SHEET_THICKNESS, /* all layers, as a factor (1) */
    BODY_SHEET_ALONG,     /* stiffness along the grain, as a factor */
    BODY_SHEET_ACROSS,    /* stiffness across */
    BODY_SHEET_SHEAR,
    BODY_SHEET_CURVATURE, /* natural, as a factor */
    BODY_SHEET_LATH,      /* thickness of all laths, as a factor */
    BODY_SHEET_LATH_E,
    BODY_SHEET_NUMBERS
};
/* Sensitivities of the rise (mm for a doubling, at the present point) to each number, by one
 * adjoint solution. Call after body_sheet_solve. */
int body_sheet_sensitivity(struct body_sheet_model *model, double rise[BODY_SHEET_NUMBERS],
                           struct error *err);

/* Takes away rigid motion and nothing else, for whoever brings the shell to equilibrium himself. */
void body_sheet_hold(struct body_sheet_model *model);
/* What comes of the shell as it stands: heights, curvatures, widths; no loads, no forces. */
void body_sheet_look(const struct body_sheet_model *model, struct body_sheet_out *out);
/* Parts of the shell: laths are 0 .. *laths - 1, then rim and ties, *parts in all; the grip's
 * number or -1. */
void body_sheet_parts(const struct body_sheet_model *model, size_t *laths, size_t *parts);
int body_sheet_grip(const struct body_sheet_model *model);

/* Largest force in one tie of the rim, N (a point of the net may stand for several ties). */
double body_sheet_tie_force(const struct body_sheet_model *model);
/* Ties of the rim as they are now: all hold with strength 1, none with 0; slack in mm. */
void body_sheet_ties(struct body_sheet_model *model, double strength, double slack);

/* How far two halves of a rod tied face to face work as one, as the share of the stiffness that
 * joining adds: 1 / (1 + pi^2 E A s / (2 K l^2)) with area A of a half, ties s apart of stiffness
 * K, l half a wave of its bend (mechanically jointed beams, EN 1995-1-1:2004 Annex B, eqs B.1, B.5
 * and B.6 for two equal parts). */
double body_rim_joint(double e, double diameter, double every, double stiffness, double wave);

/* The shell and its mesh, borrowed: for load tests and drawings. */
struct body_shell *body_sheet_shell(struct body_sheet_model *model);
const struct plane_mesh *body_sheet_mesh(const struct body_sheet_model *model);

#endif
