/* What the open method `shell` takes and gives, field by field. */
#include "body/shell_case.h"

#define NUM(s, n, u, lo, hi, h, ...)                                                               \
    {                                                                                              \
        .name = #n, .label = #n, .unit = u, .type = FIELD_REAL, .offset = offsetof(struct s, n),   \
        .min = lo, .max = hi, .help = h, __VA_ARGS__                                               \
    }
#define WHOLE(s, n, lo, hi, h, ...)                                                                \
    {                                                                                              \
        .name = #n, .label = #n, .unit = "", .type = FIELD_INT, .offset = offsetof(struct s, n),   \
        .min = lo, .max = hi, .help = h, __VA_ARGS__                                               \
    }
#define FLAG(s, n, h)                                                                              \
    {                                                                                              \
        .name = #n, .label = #n, .unit = "", .type = FIELD_FLAG, .offset = offsetof(struct s, n),  \
        .preset = "false", .help = h                                                               \
    }
#define LIST(s, n, u, h, ...)                                                                      \
    {                                                                                              \
        .name = #n, .label = #n, .unit = u, .type = FIELD_REALS, .offset = offsetof(struct s, n),  \
        .help = h, __VA_ARGS__                                                                     \
    }
#define ROWS(s, n, u, w, h)                                                                        \
    {                                                                                              \
        .name = #n, .label = #n, .unit = u, .type = FIELD_TUPLES, .offset = offsetof(struct s, n), \
        .width = w, .help = h                                                                      \
    }
#define WORD(s, n, c, h, ...)                                                                      \
    {                                                                                              \
        .name = #n, .label = #n, .unit = "", .type = FIELD_CHOICE,                                 \
        .offset = offsetof(struct s, n), .choices = c, .help = h, __VA_ARGS__                      \
    }
#define ONE(s, n, k, h, ...)                                                                       \
    {                                                                                              \
        .name = #n, .label = #n, .unit = "", .type = FIELD_RECORD,                                 \
        .offset = offsetof(struct s, n), .sub = &k, .help = h, __VA_ARGS__                         \
    }
#define MANY(s, n, k, h, ...)                                                                      \
    {                                                                                              \
        .name = #n, .label = #n, .unit = "", .type = FIELD_RECORDS,                                \
        .offset = offsetof(struct s, n), .sub = &k, .help = h, __VA_ARGS__                         \
    }
#define DEG .scale = 0.017453292519943295
#define BIG FIELD_NO_LIMIT
#define KIND(var, s, t)                                                                            \
    { #var, t, sizeof(struct s), FIELDS(var##_fields), NULL }

static const char *const geometry_words[] = {"rectangle", "annulus",      "cylinder",
                                             "sphere",    "superellipse", "disc",
                                             "polygon",   "triangles",    NULL};
static const char *const diagonal_words[] = {"same", "alternating", "random", NULL};
static const char *const edge_words[] = {"none",  "u_min",    "u_max", "v_min",
                                         "v_max", "boundary", NULL};
static const char *const axis_words[] = {"straight", "around", "radial", NULL};
static const char *const membrane_words[] = {"plain", "smoothed", NULL};
static const char *const spread_words[] = {"equal", "each", "area", NULL};
static const char *const ask_words[] = {"displacement",
                                        "place",
                                        "normal",
                                        "curvature",
                                        "strain",
                                        "force",
                                        "moment",
                                        "mean_curvature",
                                        "distance",
                                        "reaction",
                                        "part",
                                        "energy",
                                        "mean_displacement",
                                        NULL};

static const struct field hole_fields[] = {
    ROWS(case_hole, outline, "mm", 2, "Points round the hole.")};
static const struct kind hole_kind = {"hole", "A hole", sizeof(struct case_hole),
                                      FIELDS(hole_fields), NULL};

static const struct field geometry_fields[] = {
    WORD(case_geometry, kind, geometry_words, "Shape of the sheet at rest.", .required = true,
         .example = "rectangle"),
    NUM(case_geometry, width, "mm", 0, BIG,
        "Rectangle, superellipse: size along x. Cylinder: length along its axis (y)."),
    NUM(case_geometry, height, "mm", 0, BIG, "Rectangle, superellipse: size along y."),
    NUM(case_geometry, radius, "mm", 0, BIG, "Disc, cylinder, sphere."),
    NUM(case_geometry, inner_radius, "mm", 0, BIG, "Annulus; disc with a round hole."),
    NUM(case_geometry, outer_radius, "mm", 0, BIG, "Annulus."),
    NUM(case_geometry, from_angle, "degrees", -360, 360,
        "Annulus, sphere: from x towards y; cylinder: from the crown (z) towards x.", DEG,
        .preset = "0"),
    NUM(case_geometry, to_angle, "degrees", -360, 360, "End of the range of angles.", DEG,
        .preset = "360"),
    NUM(case_geometry, from_latitude, "degrees", -89.9, 89.9, "Sphere: from this latitude ...", DEG,
        .preset = "0"),
    NUM(case_geometry, to_latitude, "degrees", -89.9, 89.9, "... to this one.", DEG,
        .preset = "72"),
    NUM(case_geometry, exponent, "", 1, 20, "Superellipse: 2 is an ellipse.", .preset = "2"),
    WHOLE(case_geometry, divide_u, 1, 2000, "Mapped shapes: cells along x or the angle.",
          .preset = "16"),
    WHOLE(case_geometry, divide_v, 1, 2000,
          "Mapped shapes: cells along y, the radius or the latitude.", .preset = "16"),
    NUM(case_geometry, jitter, "", 0, 0.35,
        "Mapped shapes: inner vertices shifted at random by up to this part of a cell.",
        .preset = "0"),
    WORD(case_geometry, diagonals, diagonal_words, "Mapped shapes: how cells are cut.",
         .preset = "alternating"),
    WHOLE(case_geometry, seed, 0, 1e9, "Of the random shifts.", .preset = "1"),
    FLAG(case_geometry, closed, "Cylinder, sphere: the ends of the angle are joined."),
    NUM(case_geometry, size, "mm", 0, BIG, "Meshed shapes: edge length of the triangles."),
    WHOLE(case_geometry, triangles, 1, 200000,
          "Meshed shapes: wanted number of triangles when size is not given.", .preset = "1500"),
    ROWS(case_geometry, outline, "mm", 2, "Polygon: points in order."),
    MANY(case_geometry, holes, hole_kind, "Meshed shapes: holes."),
    ROWS(case_geometry, points, "mm", 2, "Meshed shapes: inner points that become vertices."),
    ROWS(case_geometry, vertices, "mm", 3, "Kind triangles: all vertices, in space."),
    ROWS(case_geometry, faces, "", 3,
         "Kind triangles: three vertices each, counted from 0, counter-clockwise seen from +n.")};
static const struct kind geometry_kind = {"geometry", "Shape at rest and its mesh",
                                          sizeof(struct case_geometry), FIELDS(geometry_fields),
                                          NULL};

static const struct field layer_fields[] = {
    NUM(case_layer, thickness, "mm", 0, BIG, "Thickness.", .required = true, .above_min = true,
        .example = "6"),
    NUM(case_layer, e, "MPa", 0, BIG, "Modulus when alike in all directions.", .above_min = true),
    NUM(case_layer, e1, "MPa", 0, BIG, "Modulus along the layer's axis.", .above_min = true),
    NUM(case_layer, e2, "MPa", 0, BIG, "Modulus across it.", .above_min = true),
    NUM(case_layer, nu12, "", -1e3, 1e3, "Strain across over strain along, pulled along.",
        .preset = "0"),
    NUM(case_layer, g12, "MPa", 0, BIG,
        "Shear modulus; left out: E / 2(1 + nu) when alike in all directions.", .above_min = true),
    NUM(case_layer, angle, "degrees", -360, 360, "From the sheet's axis 1 to the layer's.", DEG,
        .preset = "0"),
    NUM(case_layer, density, "g/cm3", 0, 100, "Of mass.", .scale = 1e-3, .preset = "0"),
    NUM(case_layer, free1, "", -0.5, 0.5, "Free strain along the layer's axis.", .preset = "0"),
    NUM(case_layer, free2, "", -0.5, 0.5, "Free strain across it.", .preset = "0")};
static const struct kind layer_kind = {"layer", "A layer, the first one innermost (-n side)",
                                       sizeof(struct case_layer), FIELDS(layer_fields), NULL};

static const struct field select_fields[] = {
    ROWS(case_select, points, "mm", 3, "The vertex nearest to each point of the rest shape."),
    WORD(case_select, edge, edge_words,
         "Vertices on an edge: of the grid's u or v, or on any free edge.", .preset = "none"),
    LIST(case_select, box, "mm", "x, y, z of two opposite corners; vertices inside."),
    LIST(case_select, plane, "mm", "A point and a normal: vertices in that plane."),
    LIST(case_select, circle, "mm", "x, y, z, radius: vertices inside the ball."),
    {.name = "vertices",
     .label = "vertices",
     .unit = "",
     .type = FIELD_INTS,
     .offset = offsetof(struct case_select, vertices),
     .help = "Numbers from 0."},
    FLAG(case_select, all, "All vertices.")};
static const struct kind select_kind = {"select", "Vertices that meet every rule given here",
                                        sizeof(struct case_select), FIELDS(select_fields), NULL};

static const struct field natural_fields[] = {
    LIST(case_natural, curvature, "1/mm",
         "Natural curvature 11, 22, twice 12 (positive: bends towards +n), beyond the rest shape."),
    LIST(case_natural, strain, "", "Natural strain 11, 22, shear."),
    NUM(case_natural, angle, "degrees", -360, 360, "The axes 1, 2 used here, from the material's.",
        DEG, .preset = "0"),
    ONE(case_natural, where, select_kind,
        "Only triangles all of whose corners are selected; left out: everywhere.")};
static const struct kind natural_kind = {"natural", "Natural state", sizeof(struct case_natural),
                                         FIELDS(natural_fields), NULL};

static const struct field lath_fields[] = {
    LIST(case_lath, from, "mm", "Begin (x y or x y z).", .required = true, .example = "[0, -100]"),
    LIST(case_lath, to, "mm", "End.", .required = true, .example = "[0, 100]"),
    LIST(case_lath, up, "", "On curved rest shapes: the line's plane stands along this; preset z."),
    NUM(case_lath, width, "mm", 0, BIG, "Of a rectangular section."),
    NUM(case_lath, thickness, "mm", 0, BIG, "Of a rectangular section."),
    NUM(case_lath, e, "MPa", 0, BIG, "Modulus along the lath."),
    NUM(case_lath, g, "MPa", 0, BIG, "Shear modulus, for twist with J = b t^3 / 3.", .preset = "0"),
    NUM(case_lath, ei, "N mm2", 0, BIG, "Bending stiffness, instead of the section."),
    NUM(case_lath, gj, "N mm2", 0, BIG, "Twisting stiffness, instead."),
    NUM(case_lath, ea, "N", 0, BIG, "Pulling stiffness, instead."),
    FLAG(case_lath, slides, "Slides in its slits: takes no pull."),
    NUM(case_lath, room, "mm", 0, BIG, "Of its pocket, over its thickness: it bears once used up.",
        .preset = "0"),
    NUM(case_lath, friction, "", 0, 10,
        "Against its pocket: the pull it takes is at most so much of what it presses."),
    NUM(case_lath, gripped, "N", 0, BIG, "Pull it takes besides, by a wedge or a tie."),
    NUM(case_lath, height, "mm", -BIG, BIG, "Of its axis over the middle surface.", .preset = "0"),
    NUM(case_lath, curvature, "1/mm", -BIG, BIG, "Its own natural curvature.", .preset = "0"),
    NUM(case_lath, strain, "", -0.5, 0.5, "Its own natural strain.", .preset = "0"),
    NUM(case_lath, density, "g/cm3", 0, 100, "Of mass.", .scale = 1e-3, .preset = "0")};
static const struct kind lath_kind = {"lath", "A lath in the sheet", sizeof(struct case_lath),
                                      FIELDS(lath_fields), NULL};

static const struct field edge_rod_fields[] = {
    ONE(case_edge_rod, on, select_kind,
        "Vertices of the free edge it follows; left out: all of it."),
    NUM(case_edge_rod, diameter, "mm", 0, BIG, "Of a round rod."),
    NUM(case_edge_rod, e, "MPa", 0, BIG, "Its modulus."),
    NUM(case_edge_rod, g, "MPa", 0, BIG, "Its shear modulus.", .preset = "0"),
    NUM(case_edge_rod, ei, "N mm2", 0, BIG, "Bending stiffness out of the sheet, instead."),
    NUM(case_edge_rod, ei_inplane, "N mm2", 0, BIG, "Bending stiffness in the sheet, instead."),
    NUM(case_edge_rod, gj, "N mm2", 0, BIG, "Twisting stiffness, instead."),
    NUM(case_edge_rod, ea, "N", 0, BIG, "Pulling stiffness, instead."),
    NUM(case_edge_rod, height, "mm", -BIG, BIG, "Of its axis over the middle surface.",
        .preset = "0"),
    NUM(case_edge_rod, strain, "", -0.5, 0.5, "Natural strain.", .preset = "0"),
    NUM(case_edge_rod, curvature, "1/mm", -BIG, BIG, "Natural curvature out of the sheet.",
        .preset = "0"),
    NUM(case_edge_rod, set, "", 0, 1,
        "1: its curve in the sheet is natural; 0: straight when free.", .preset = "1")};
static const struct kind edge_rod_kind = {"edge_rod", "A rod sewn to the edge all along",
                                          sizeof(struct case_edge_rod), FIELDS(edge_rod_fields),
                                          NULL};

static const struct field rod_fields[] = {
    ROWS(case_rod, points, "mm", 3, "Nodes of the rod."),
    FLAG(case_rod, closed, "The last node joins the first."),
    NUM(case_rod, diameter, "mm", 0, BIG, "Of a round rod."),
    NUM(case_rod, e, "MPa", 0, BIG, "Its modulus."),
    NUM(case_rod, ei, "N mm2", 0, BIG, "Bending stiffness, instead."),
    NUM(case_rod, ea, "N", 0, BIG, "Pulling stiffness, instead."),
    NUM(case_rod, set, "", 0, 1, "1: its curve at rest is natural; 0: straight when free.",
        .preset = "0"),
    NUM(case_rod, strain, "", -0.4, 0.5, "Natural strain.", .preset = "0"),
    NUM(case_rod, tie_stiffness, "N/mm", 0, BIG, "Of each tie.", .preset = "1000"),
    NUM(case_rod, tie_every, "", 1, 1000, "Ties at every n-th node.", .preset = "1"),
    FLAG(case_rod, cord, "Ties only pull."),
    NUM(case_rod, tie_slack, "mm", -BIG, BIG, "Slack of pulling ties; negative: tightened.",
        .preset = "0")};
static const struct kind rod_kind = {"rod", "A rod tied to the sheet at its nodes",
                                     sizeof(struct case_rod), FIELDS(rod_fields), NULL};

static const struct field spring_fields[] = {
    ONE(case_spring, at, select_kind, "The mean displacement of these vertices ...",
        .required = true),
    LIST(case_spring, direction, "", "... along this unit direction.", .required = true),
    NUM(case_spring, stiffness, "N/mm", 0, BIG, "Stiffness.", .required = true),
    NUM(case_spring, target, "mm", -BIG, BIG, "Displacement at which it is free.", .preset = "0")};
static const struct kind spring_kind = {"spring", "A spring to the ground",
                                        sizeof(struct case_spring), FIELDS(spring_fields), NULL};

static const struct field grip_fields[] = {
    ONE(case_grip, seat_a, select_kind, "Vertices of one seat.", .required = true),
    ONE(case_grip, seat_b, select_kind, "Vertices of the other.", .required = true),
    NUM(case_grip, chord, "mm", 0, BIG, "Distance of the seats' centres.", .required = true,
        .above_min = true),
    NUM(case_grip, chord_stiffness, "N/mm", 0, BIG, "0: free along the bar.", .preset = "10000"),
    NUM(case_grip, slope_a, "degrees", -89, 89,
        "Angle of the sheet to the bar; positive: the ends rise towards +n.", DEG, .preset = "0"),
    NUM(case_grip, slope_b, "degrees", -89, 89, "At the other seat.", DEG, .preset = "0"),
    NUM(case_grip, slope_stiffness, "N mm", 0, BIG,
        "Moment per radian at each seat; 0: no chamfer.", .preset = "0"),
    NUM(case_grip, bar_ei, "N mm2", 0, BIG, "Bending stiffness of the bar; 0: it does not bend.",
        .preset = "0")};
static const struct kind grip_kind = {"grip", "A bar between two seats", sizeof(struct case_grip),
                                      FIELDS(grip_fields), NULL};

static const struct field former_fields[] = {
    LIST(case_former, at, "mm", "A point of it.", .required = true),
    LIST(case_former, axis, "", "Plane: its normal towards the free side; post: its axis.",
         .required = true),
    NUM(case_former, radius, "mm", -BIG, BIG,
        "0: plane; above 0: post; below 0: the sheet stays inside.", .preset = "0"),
    NUM(case_former, stiffness, "N/mm3", 0, BIG, "Push per depth and area.", .preset = "10")};
static const struct kind former_kind = {"former", "Something the sheet lies against",
                                        sizeof(struct case_former), FIELDS(former_fields), NULL};

static const struct field support_fields[] = {
    ONE(case_support, at, select_kind, "Where.", .required = true),
    {.name = "fix",
     .label = "fix",
     .unit = "",
     .type = FIELD_TEXTS,
     .offset = offsetof(struct case_support, fix),
     .help = "Words: x y z (no way along), rx ry rz (no turn about), pinned, clamped, symmetry_x "
             "symmetry_y symmetry_z."},
    LIST(case_support, normal, "", "Normal of a plane of symmetry through these vertices."),
    LIST(case_support, along, "", "No way along this direction."),
    LIST(case_support, move, "mm", "Way of the fixed x, y, z when the parameter is 1."),
    LIST(case_support, turn, "degrees",
         "Turn (vector x y z) of the fixed tilts when the parameter is 1.", DEG)};
static const struct kind support_kind = {"support", "A support", sizeof(struct case_support),
                                         FIELDS(support_fields), NULL};

static const struct field load_fields[] = {
    ONE(case_load, at, select_kind, "Where; left out: the whole sheet."),
    LIST(case_load, force, "N", "Force in all on the selected vertices (see spread)."),
    WORD(case_load, spread, spread_words,
         "equal: shared equally; each: on every vertex; area: by area of the sheet.",
         .preset = "equal"),
    LIST(case_load, line, "N/mm", "Force per length on mesh edges between selected vertices."),
    LIST(case_load, area, "N/mm2", "Force per area, kept in direction."),
    NUM(case_load, pressure, "MPa", -BIG, BIG, "Pressure towards +n that follows the surface."),
    LIST(case_load, moment, "N mm", "Moment in all on the selected vertices."),
    LIST(case_load, line_moment, "N", "Moment per length on mesh edges between selected vertices."),
    LIST(case_load, gravity, "",
         "Own weight along this direction, times its length (1 = standard gravity)."),
    FLAG(case_load, steady, "Not multiplied by the step's parameter.")};
static const struct kind load_kind = {"load", "A load", sizeof(struct case_load),
                                      FIELDS(load_fields), NULL};

static const struct field control_fields[] = {
    ONE(case_control, at, select_kind, "Mean displacement of these vertices ...", .required = true),
    LIST(case_control, direction, "", "... along this unit direction ...", .required = true),
    LIST(case_control, values, "mm", "... takes these values one after another.",
         .required = true)};
static const struct kind control_kind = {"control", "Displacement control",
                                         sizeof(struct case_control), FIELDS(control_fields), NULL};

static const struct field ask_fields[] = {
    {.name = "name",
     .label = "name",
     .unit = "",
     .type = FIELD_TEXT,
     .offset = offsetof(struct case_ask, name),
     .required = true,
     .help = "What the answer is called.",
     .example = "w"},
    WORD(case_ask, what, ask_words,
         "displacement, place, normal, reaction: x y z; curvature, strain, force, moment: 11 22 12 "
         "in the material's axes at the vertices; mean_curvature: over all triangles selected; "
         "part: energy, largest force, mean curvature, mean strain, force and moment at the "
         "middle; energy: stored, of the parts.",
         .required = true, .example = "displacement"),
    ONE(case_ask, at, select_kind, "Vertices, one answer each; reaction: their sum."),
    ONE(case_ask, other, select_kind, "distance: between the first vertex of each."),
    WHOLE(case_ask, part, 0, 1e6,
          "Number of a lath, edge rod, ... in the order of this file's lists.")};
static const struct kind ask_kind = {"ask", "A question", sizeof(struct case_ask),
                                     FIELDS(ask_fields), NULL};

static const struct field case_shell_fields[] = {
    ONE(case_shell, geometry, geometry_kind, "Shape at rest and its mesh.", .required = true),
    MANY(case_shell, layers, layer_kind, "Layers of the sheet from the -n side.", .required = true),
    ROWS(case_shell, thickness_factor, "", 3,
         "Thickness times the sum of c x^p y^q, rows c, p, q, at each triangle's middle."),
    LIST(case_shell, axis, "",
         "Material's axis 1, or the axis x y z that `around` and `radial` go round."),
    WORD(case_shell, axis_kind, axis_words,
         "straight: along axis; around, radial: about the line through the origin along axis.",
         .preset = "straight"),
    WORD(case_shell, membrane, membrane_words,
         "smoothed: softer and nearer the truth; layers alike about the middle only, twice the "
         "work. Left out: smoothed when it can be, something is loaded and there are 500 triangles "
         "or more."),
    MANY(case_shell, natural, natural_kind, "Natural curvature and strain."),
    MANY(case_shell, laths, lath_kind, "Laths."),
    MANY(case_shell, edge_rods, edge_rod_kind, "Rods sewn to the edge."),
    MANY(case_shell, rods, rod_kind, "Rods tied to the sheet."),
    MANY(case_shell, springs, spring_kind, "Springs."),
    MANY(case_shell, grips, grip_kind, "Grips."),
    MANY(case_shell, formers, former_kind, "Formers."),
    MANY(case_shell, supports, support_kind, "Supports."),
    FLAG(case_shell, hold, "Take away the rigid motion that supports leave."),
    MANY(case_shell, loads, load_kind, "Loads."),
    LIST(case_shell, steps, "", "Values of the path parameter; left out: 1."),
    MANY(case_shell, control, control_kind,
         "At most one: the path loads take whatever size the wanted displacement needs."),
    NUM(case_shell, tolerance, "", 0, 0.01, "Forces left over, of the load.", .preset = "1e-7"),
    WHOLE(case_shell, most_iterations, 1, 10000, "Iterations a step.", .preset = "300"),
    {.name = "settle",
     .label = "settle",
     .unit = "",
     .type = FIELD_FLAG,
     .offset = offsetof(struct case_shell, settle),
     .help = "Leave an equilibrium that is not stable downhill; left out: only when nothing is "
             "loaded. Otherwise it is kept and `stable` tells."},
    NUM(case_shell, seed_curvature, "1/mm", -BIG, BIG,
        "Look for several equilibria (flat rest shape) from cylinders of this curvature; the steps "
        "start from the lowest."),
    FLAG(case_shell, timings, "Give process seconds (the answer is then not the same every time)."),
    FLAG(case_shell, shapes, "Give the vertices' places at the end."),
    MANY(case_shell, ask, ask_kind, "Questions, answered at each step.")};
const struct kind case_shell_kind = {"shell", "A problem of a thin sheet",
                                     sizeof(struct case_shell), FIELDS(case_shell_fields), NULL};

static const struct field answer_fields[] = {{.name = "name",
                                              .label = "name",
                                              .unit = "",
                                              .type = FIELD_TEXT,
                                              .offset = offsetof(struct case_answer, name)},
                                             LIST(case_answer, values, "", "Numbers."),
                                             {.name = "unit",
                                              .label = "unit",
                                              .unit = "",
                                              .type = FIELD_TEXT,
                                              .offset = offsetof(struct case_answer, unit)}};
static const struct kind answer_kind = {"answer", "An answer", sizeof(struct case_answer),
                                        FIELDS(answer_fields), NULL};

static const struct field step_fields[] = {
    NUM(case_step, parameter, "", 0, 0,
        "Path parameter (with control: the factor the loads took)."),
    WHOLE(case_step, iterations, 0, 0, "Iterations."),
    WHOLE(case_step, factorisations, 0, 0, "Matrices factored."),
    WHOLE(case_step, restarts, 0, 0, "Changes of method."),
    NUM(case_step, residual, "", 0, 0, "Forces left over, of the load."),
    {.name = "stable",
     .label = "stable",
     .unit = "",
     .type = FIELD_FLAG,
     .offset = offsetof(struct case_step, stable),
     .help = "The tangent is positive definite."},
    NUM(case_step, energy_left, "", 0, 0,
        "Energy the last step could still gain, of energy and work: how near the answer is when "
        "the load is so small that rounding makes up the residual."),
    NUM(case_step, energy, "N mm", 0, 0, "Stored."),
    NUM(case_step, largest_displacement, "mm", 0, 0, "Of any vertex."),
    MANY(case_step, answers, answer_kind, "In the order of the questions.")};
static const struct kind step_kind = {"step", "A step", sizeof(struct case_step),
                                      FIELDS(step_fields), NULL};

static const struct field branch_fields[] = {
    NUM(case_branch, energy, "N mm", 0, 0, "Stored."),
    LIST(case_branch, curvature, "1/mm", "Mean, 11 22 12 twice.")};
static const struct kind branch_kind = {"branch", "An equilibrium", sizeof(struct case_branch),
                                        FIELDS(branch_fields), NULL};

static const struct field case_result_fields[] = {
    WHOLE(case_result, vertices, 0, 0, "Vertices."),
    WHOLE(case_result, triangles, 0, 0, "Triangles."),
    WHOLE(case_result, unknowns, 0, 0, "Unknowns."),
    NUM(case_result, area, "mm2", 0, 0, "Of the rest shape."),
    NUM(case_result, mass, "g", 0, 0, "Of the sheet."),
    NUM(case_result, factor_entries, "", 0, 0, "Entries of the factor."),
    NUM(case_result, factor_flops, "", 0, 0, "Operations of one factoring."),
    MANY(case_result, branches, branch_kind, "Several equilibria, lowest energy first."),
    MANY(case_result, steps, step_kind, "Steps."),
    NUM(case_result, seconds_symbolic, "s", 0, 0, "Process time of the symbolic work."),
    NUM(case_result, seconds_solve, "s", 0, 0, "Process time of all steps."),
    ROWS(case_result, shape, "mm", 3, "Places of the vertices at the end.")};
const struct kind case_result_kind = {"shell_result", "Its answer", sizeof(struct case_result),
                                      FIELDS(case_result_fields), NULL};
