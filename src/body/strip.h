/* strip: a strip of bark, wood, bast or hide drying day by day: what a maker can lay beside the one
 * in the hand.
 *
 * Moisture goes out through the thickness (stuff/diffusion.h); each depth shrinks as its own
 * moisture falls, stiffens, creeps and, held on a former, takes a set; width, length, thickness and
 * curl follow. Curvature is 1/mm, positive as on the tree (outer face convex); the strip is narrow,
 * so the two directions do not mix.
 *
 * Mechanics of a depth, each direction alone: mechanical strain x = total less shrinkage; stress =
 * Ew (x - g h) + (E(m) - Ew) x - b. Ew is the wet stiffness; h follows x with time constant tau(m)
 * (mechanics.md section 7) and with every change of moisture (mechano-sorptive); links that form on
 * drying form without stress at the strain of that moment (b), and wetting dissolves them in
 * proportion, so that rewetting gives part of the shape back.
 */
#ifndef RELICT_BODY_STRIP_H
#define RELICT_BODY_STRIP_H

#include "stuff/diffusion.h"
#include "stuff/material.h"

enum { STRIP_LAYERS = 2 };

/* One layer; directions as enum stuff_direction: along, around, through. */
struct strip_layer {
    double thickness;          /* mm, fresh */
    double diffusion;          /* mm2/s, of bound water */
    double free;               /* mm2/s above saturation; 0: the same */
    double density;            /* dry, g/mm3 */
    double sorption;           /* resting moisture over wood's */
    double saturation;         /* fibre saturation of the layer, fraction */
    double dry[3];             /* shrinkage fresh to 12 % wood moisture, by direction */
    double ovendry[3];         /* shrinkage fresh to ovendry */
    double e_wet[2], e_dry[2]; /* MPa along, around */
};

struct strip {
    struct strip_layer layer[STRIP_LAYERS]; /* from the inner face out */
    size_t layers;
    double moisture;      /* at first, of the whole, fraction of dry mass */
    double surface;       /* coefficient at the faces, mm/s */
    double width, length; /* around and along, mm, fresh */
    double curvature;     /* on the tree, 1/mm: 0 for wood */
    double growth;        /* growth strain, outer minus inner face, let go on peeling */
    double relaxed[2];    /* share of stress that relaxes, wet and dry */
    double tau[2];        /* its time constant, s, wet and dry */
    double sorptive;      /* mechano-sorptive pull of h to x, per unit of moisture change */
    double ring_radius;   /* of the growth rings in a wooden lath, mm; INFINITY: none; cups it */
};

struct strip_air {
    double temperature, humidity;
    int inner_open, outer_open; /* faces in the air */
};

/* What it looks like at one moment. */
struct strip_day {
    double day;
    double moisture; /* mean, fraction of dry mass */
    double mass;     /* share of the fresh mass */
    double width, length, thickness;
    double curvature; /* around; along in `bow` */
    double bow;
    double rise; /* of the curled width over its chord, mm; NAN when it rolls past half a turn */
    int held;    /* still on the former */
};

struct strip_state; /* lives in the arena */

/* Sets a strip up, fresh off the tree. ERR_RANGE says which number is off. */
int strip_new(struct strip_state **out, const struct strip *s, struct arena *arena,
              struct error *err);
/* Holds it at a curvature (around) and, with `flat_along`, straight along; lets it go. */
void strip_hold(struct strip_state *s, double curvature);
void strip_release(struct strip_state *s);
/* Goes on by dt seconds in air. */
void strip_step(struct strip_state *s, double dt, const struct strip_air *air);
/* Lets time pass for the mechanics alone, at constant moisture. */
void strip_wait(struct strip_state *s, double dt);
struct strip_day strip_look(const struct strip_state *s, double day);

/* ---- from the tables, with a band ----------------------------------------------------------- */

struct strip_case {
    const char *material;
    long class;
    double thickness;           /* mm, fresh whole */
    double outer_share;         /* of the thickness; NAN: from the tables; 0: scraped to the bast */
    double width, length, stem; /* stem: diameter over bark, mm; NAN: straight stuff */
    double moisture;            /* at first, NAN: green moisture of the tables */
    double diffusion;           /* mm2/s of the bast or the wood; NAN: from the tables */
    double shrinkage; /* around, fresh to dry, of the bast or the wood; NAN: from the tables */
    double ring_radius;
    const struct strip_air *air; /* of each day */
    size_t days;
    double held_days; /* on a former for so long; 0: free */
    double former;    /* its radius, mm; INFINITY or NAN: flat */
};

/* One number with its band. */
struct strip_band {
    double p05, p50, p95;
};
struct strip_outcome {
    double day;
    struct strip_band moisture, mass, width, length, thickness, curvature;
    double rise;
    int held;
};

/* One strip as draw number `draw` of evenly spread ones has it (any number), with the figures of
 * the tables. *standing is raised to that of the weakest figure. */
int strip_draw(struct strip *out, long *standing, const struct stuff_shelf *shelf,
               const struct strip_case *c, size_t draw, struct error *err);

/* Days 0 to c->days (days + 1 of them) in out. Draws the tables' figures evenly, 64 strips. */
int strip_days(struct strip_outcome *out, long *standing, const struct stuff_shelf *shelf,
               const struct strip_case *c, struct arena *arena, struct error *err);

/* Length of strip to cut from a stem for a sheet of finished width (trade rule R13): width / (1 -
 * shrink) + 2 trim, at mid thickness; and the girth over bark and diameter that takes at an allowed
 * share of the girth. */
struct strip_girth {
    double bark, girth, diameter;
};
struct strip_girth strip_girth_needed(double width, double shrink, double trim, double share);

#endif
