/* drying: the order of work on a shell: what a sheet does while it is damp, pressed, tied, dries,
 * is let go, and lives through weather.
 *
 * Moisture goes through the thickness by finite volumes (stuff/diffusion.h), one column for each
 * zone of the sheet (cork kept, cork scraped ...). Shrinkage of the depths gives a strain and a
 * curvature of the middle surface; what is held while it creeps takes a set: for branch j with
 * share g_j of the stiffness and time tau_j, a memory h_j follows the strain and curvature beyond
 * shrinkage, h <- x + (h - x) exp(-dt 10^(c m) / tau - chi |dm|), and the natural state is tree +
 * shrinkage + sum g_j h_j (generalised Maxwell solid, R. M. Christensen, Theory of Viscoelasticity,
 * 1982, chapter 1; mechano-sorptive term in the manner of A. Ranta-Maunus, Wood Sci. Technol. 9
 * (1975) 189-205). Stiffness goes with moisture depth by depth where a layer
 * says so, straight in its logarithm (Wood Handbook FPL-GTR-282 Eq 5-3). A sheet that stiffens
 * keeps its forces, so that strain it had when wet stays in (hygro-lock, after F. Dubois and
 * others); one that softens keeps its strain and lets forces go. After each step
 * the shell is brought to equilibrium from where it was.
 *
 * A run borrows the shell and keeps its memories; free it before the shell. Not for two threads.
 */
#ifndef RELICT_BODY_DRYING_H
#define RELICT_BODY_DRYING_H

#include "body/equilibrium.h"
#include "stuff/diffusion.h"

enum { BODY_DRYING_LAYERS = 4, BODY_DRYING_BRANCHES = 4, BODY_DRYING_ZONES = 8 };

/* One layer of a zone, from the -n face on. */
struct body_drying_layer {
    struct body_ply ply;     /* stiffness and thickness as in the shell's laminate */
    double diffusion;        /* mm2/s of bound water */
    double free;             /* mm2/s above saturation; 0: the same */
    double density;          /* dry, g/mm3 */
    double sorption;         /* resting moisture over wood's; 0: 1 */
    double saturation;       /* wood moisture; 0: 0.30 */
    double shrink1, shrink2; /* strain along the ply's axes from saturation to bone dry, positive */
    double wet1, wet2; /* stiffness along the ply's axes at saturation over that at wood moisture 12
                          %, for which `ply` holds; both 0: it does not change */
};

struct body_drying_branch {
    double share; /* of the stiffness that relaxes; all shares together under 1 */
    double tau;   /* s, of the dry sheet */
    double wet;   /* c: at wood moisture m (at most 0.30) it goes 10^(c m) times as fast */
};

struct body_drying {
    struct body_drying_layer layer[BODY_DRYING_ZONES][BODY_DRYING_LAYERS];
    size_t layers[BODY_DRYING_ZONES], zones;
    const unsigned char *zone; /* [faces] or NULL: all in zone 0 */
    struct body_drying_branch branch[BODY_DRYING_BRANCHES];
    size_t branches;
    double sorptive;            /* chi: per unit of wood moisture change */
    double surface;             /* coefficient at the faces, mm/s; INFINITY: they follow at once */
    double moisture;            /* wood moisture at first */
    int inner_open, outer_open; /* 1: that face is in the air */
};

struct body_drying_run;

/* Begins a run: the shell's natural state is taken as that of the tree at the first moisture, all
 * memories as empty. ERR_RANGE for numbers out of range. */
int body_drying_new(struct body_drying_run **out, struct body_shell *shell,
                    const struct body_drying *drying, struct error *err);
void body_drying_free(struct body_drying_run *run);

/* One thing that is done. */
enum body_doing_kind {
    BODY_DO_WAIT,     /* time passes in some air */
    BODY_DO_STRENGTH, /* a part is put in, tied, or taken away: its strength becomes `value` */
    BODY_DO_FACES,    /* which faces are in the air from now on: value 0 none, 1 inner, 2 outer, 3
                         both; moves nothing and leaves no record */
    BODY_DO_WET,      /* soaked through at once to wood moisture `value` */
    BODY_DO_SETTLE    /* equilibrium, nothing else */
};
struct body_doing {
    enum body_doing_kind kind;
    const char *name; /* what the maker calls it; borrowed */
    double seconds;   /* BODY_DO_WAIT */
    double air;       /* BODY_DO_WAIT: wood moisture of the air (stuff_emc) */
    size_t steps;     /* BODY_DO_WAIT: 0: 12, small at first */
    int part;         /* BODY_DO_STRENGTH; -1: no part */
    double value;
};

/* How it stands at one moment. */
struct body_drying_day {
    const char *name;
    double seconds;      /* since the run began */
    double moisture;     /* mean wood moisture over the sheet */
    double curvature[3]; /* mean, material axes, 1/mm */
    double natural[3];   /* mean natural curvature, 1/mm: what it would take if let go */
    double strain[3];    /* mean of the middle surface */
    double energy;       /* locked in, N mm */
    double force;        /* largest in any part, N */
    size_t iterations;
};

/* Does n things in order. `days` gets a record after each thing and each step of waiting, at most
 * `most`; *count says how many there were. On failure the shape stays at the last equilibrium and
 * the error says in which thing. */
int body_drying_do(struct body_drying_run *run, const struct body_doing *doings, size_t n,
                   struct body_drying_day *days, size_t most, size_t *count, struct error *err);

#endif
