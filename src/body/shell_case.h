/* shell_case: one problem of a thin sheet as plain numbers, for the open method `shell`: geometry,
 * layers, parts, supports, loads, what is asked; and its answer. doc/shell.md describes the fields.
 */
#ifndef RELICT_BODY_SHELL_CASE_H
#define RELICT_BODY_SHELL_CASE_H

#include "base/field.h"

struct case_geometry {
    long kind;
    double width, height, radius, inner_radius, outer_radius, from_angle, to_angle, from_latitude,
        to_latitude, exponent, size, jitter;
    long divide_u, divide_v, triangles, diagonals, seed;
    int closed;
    struct tuples outline, vertices, faces, points;
    struct records holes; /* struct case_hole */
};
struct case_hole {
    struct tuples outline;
};
struct case_layer {
    double e1, e2, e, nu12, g12, thickness, angle, density, free1, free2;
};
struct case_select {
    struct tuples points;
    long edge;
    struct reals box, plane, circle;
    struct ints vertices;
    int all;
};
struct case_natural {
    struct reals curvature, strain;
    double angle;
    struct case_select where;
};
struct case_lath {
    struct reals from, to, up;
    double width, thickness, e, g, ei, gj, ea, height, curvature, strain, density;
    double room, friction, gripped;
    int slides;
};
struct case_edge_rod {
    struct case_select on;
    double diameter, e, g, ei, ei_inplane, gj, ea, height, strain, curvature, set;
};
struct case_rod {
    struct tuples points;
    int closed, cord;
    double diameter, e, ei, ea, set, strain, tie_stiffness, tie_slack, tie_every;
};
struct case_spring {
    struct case_select at;
    struct reals direction;
    double stiffness, target;
};
struct case_grip {
    struct case_select seat_a, seat_b;
    double chord, chord_stiffness, slope_a, slope_b, slope_stiffness, bar_ei;
};
struct case_former {
    struct reals at, axis;
    double radius, stiffness;
};
struct case_support {
    struct case_select at;
    struct texts fix;
    struct reals normal, along, move, turn;
};
struct case_load {
    struct case_select at;
    struct reals force, line, area, moment, line_moment, gravity;
    double pressure;
    long spread;
    int steady;
};
struct case_control {
    struct case_select at;
    struct reals direction, values;
};
struct case_ask {
    const char *name;
    long what;
    struct case_select at, other;
    long part;
};
struct case_shell {
    struct case_geometry geometry;
    struct records layers; /* struct case_layer */
    struct tuples thickness_factor;
    struct reals axis;
    long axis_kind, membrane;
    struct records natural, laths, edge_rods, rods, springs, formers, supports, loads, ask;
    struct records grips;
    int hold;
    struct reals steps;
    struct records control; /* none or one */
    double tolerance;
    long most_iterations;
    int settle, timings, shapes;
    double seed_curvature;
};

struct case_answer {
    const char *name;
    struct reals values;
    const char *unit;
};
struct case_step {
    double parameter, residual, energy_left, energy;
    long iterations, factorisations, restarts;
    int stable;
    double largest_displacement;
    struct records answers; /* struct case_answer */
};
struct case_branch {
    double energy;
    struct reals curvature;
};
struct case_result {
    long vertices, triangles, unknowns;
    double area, mass, factor_entries, factor_flops;
    struct records steps;    /* struct case_step */
    struct records branches; /* struct case_branch */
    double seconds_symbolic, seconds_solve;
    struct tuples shape; /* x y z of all vertices at the end, when asked for */
};

extern const struct kind case_shell_kind, case_result_kind;

int body_shell_case(const void *in, void *out, struct arena *arena, struct error *err);

#endif
