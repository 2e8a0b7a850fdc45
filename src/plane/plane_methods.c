#include "plane/plane_methods.h"

#include "plane/arc.h"
#include "plane/homography.h"
#include "plane/polygon.h"
#include "plane/similarity.h"

#include <math.h>
#include <string.h>

/* Angles go out in degrees. */
#define DEGREE (M_PI / 180)

static const struct plane_point *points_of(const struct tuples *t) {
    return (const struct plane_point *)t->v; /* two doubles each, as checked by width = 2 */
}

struct arc_in {
    double chord, rise, chord_u, rise_u;
};
struct arc_out {
    double radius, low, high, radius_u, bend, bend_u, angle, length;
    int weak;
};
static const struct field arc_in_fields[] = {
    {.name = "chord",
     .label = "Chord",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct arc_in, chord),
     .min = 0,
     .max = 1e5,
     .above_min = true,
     .help = "Straight distance between the ends of the arc.",
     .example = "126"},
    {.name = "rise",
     .label = "Rise",
     .unit = "mm",
     .type = FIELD_REAL,
     .required = true,
     .offset = offsetof(struct arc_in, rise),
     .min = 0,
     .max = 1e5,
     .help = "Greatest distance of the arc from its chord (sagitta).",
     .example = "17"},
    {.name = "chord_u",
     .label = "± of the chord",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0",
     .offset = offsetof(struct arc_in, chord_u),
     .min = 0,
     .max = 1e4,
     .help = "How far off the chord may be."},
    {.name = "rise_u",
     .label = "± of the rise",
     .unit = "mm",
     .type = FIELD_REAL,
     .preset = "0.5",
     .offset = offsetof(struct arc_in, rise_u),
     .min = 0,
     .max = 1e4,
     .help = "How far off the rise may be."},
};
static const struct field arc_out_fields[] = {
    {.name = "radius",
     .label = "Radius",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, radius),
     .help = "Left out when the rise is 0."},
    {.name = "low",
     .label = "Radius at least",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, low),
     .help = "With rise and chord at the ends of their ±."},
    {.name = "high",
     .label = "Radius at most",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, high),
     .help = "Left out when the arc may be straight: then only the lower limit holds."},
    {.name = "radius_u",
     .label = "± of the radius",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, radius_u),
     .help = "First order; skewed for weak arcs."},
    {.name = "bend",
     .label = "Bend",
     .unit = "1/mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, bend),
     .help = "1/radius."},
    {.name = "bend_u",
     .label = "± of the bend",
     .unit = "1/mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, bend_u),
     .help = "First order."},
    {.name = "angle",
     .label = "Turn",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct arc_out, angle),
     .help = "How far the arc turns from end to end."},
    {.name = "length",
     .label = "Length along the arc",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct arc_out, length),
     .help = "Length of the piece along its curve."},
    {.name = "weak",
     .label = "Weak",
     .type = FIELD_FLAG,
     .offset = offsetof(struct arc_out, weak),
     .help = "The rise is under eight times its ±: do not rest a size on this arc."},
};
static const struct kind arc_in_kind = {"arc_in", "Chord and rise", sizeof(struct arc_in),
                                        FIELDS(arc_in_fields), "One edge piece of even curve."};
static const struct kind arc_out_kind = {"arc_out", "Radius with its interval",
                                         sizeof(struct arc_out), FIELDS(arc_out_fields),
                                         "What chord and rise say about the radius."};

static int arc_run(const void *in, void *out, struct arena *arena, struct error *err) {
    (void)arena;
    const struct arc_in *i = in;
    struct arc_out *o = out;
    struct plane_arc a;
    int rc = plane_arc_from_rise(&a, i->chord, i->rise, i->chord_u, i->rise_u, err);
    if (rc) return rc;
    *o = (struct arc_out){a.radius, a.low,   a.high,   a.u_radius, a.bend,
                          a.u_bend, a.angle, a.length, a.weak};
    /* JSON has no infinity: an unknown upper end is left out. */
    if (isinf(o->radius)) o->radius = NAN;
    if (isinf(o->high)) o->high = NAN;
    if (isinf(o->radius_u)) o->radius_u = NAN;
    return 0;
}

static const struct method arc_method = {
    "arc",
    "The radius of an edge piece from chord and rise",
    "R = c²/(8 s) + s/2 by Pythagoras; first-order ±",
    "The piece is taken as an even arc. A rise over half the chord is refused.",
    &arc_in_kind,
    &arc_out_kind,
    arc_run,
    "{\"chord\": 126, \"rise\": 17.0, \"rise_u\": 0.5}"};

struct polygon_in {
    struct tuples corners;
    double offset;
};
struct polygon_out {
    double area, perimeter, x, y, offset_area, offset_perimeter;
    struct tuples moved;
};
static const struct field polygon_in_fields[] = {
    {.name = "corners",
     .label = "Corners",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct polygon_in, corners),
     .help = "x and y of each corner in order, either way round.",
     .example = "[[0,0],[300,0],[300,180],[0,180]]"},
    {.name = "offset",
     .label = "Move the edge by",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_in, offset),
     .min = -1e4,
     .max = 1e4,
     .help = "Outward above 0, inward below; corners become round.",
     .example = "-12"},
};
static const struct field polygon_out_fields[] = {
    {.name = "area",
     .label = "Area",
     .unit = "mm²",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, area),
     .help = "Shoelace sum."},
    {.name = "perimeter",
     .label = "Perimeter",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, perimeter),
     .help = "Length of the edge."},
    {.name = "x",
     .label = "Centroid x",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, x),
     .help = "Of the area."},
    {.name = "y",
     .label = "Centroid y",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, y),
     .help = "Of the area."},
    {.name = "offset_area",
     .label = "Area after moving",
     .unit = "mm²",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, offset_area),
     .help = "Of the largest ring left; 0 when nothing is left."},
    {.name = "offset_perimeter",
     .label = "Perimeter after moving",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct polygon_out, offset_perimeter),
     .help = "Of the largest ring left."},
    {.name = "moved",
     .label = "Moved edge",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .offset = offsetof(struct polygon_out, moved),
     .help = "The largest ring left."},
};
static const struct kind polygon_in_kind = {"polygon_in", "An outline by its corners",
                                            sizeof(struct polygon_in), FIELDS(polygon_in_fields),
                                            "A closed outline that does not cross itself."};
static const struct kind polygon_out_kind = {"polygon_out", "Area, edge and centre of an outline",
                                             sizeof(struct polygon_out), FIELDS(polygon_out_fields),
                                             "Measures of the ring."};

static int polygon_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct polygon_in *i = in;
    struct polygon_out *o = out;
    const struct plane_point *p = points_of(&i->corners);
    int rc = plane_polygon_check(p, i->corners.n, err);
    if (rc) return rc;
    o->area = fabs(plane_polygon_area(p, i->corners.n));
    o->perimeter = plane_polygon_perimeter(p, i->corners.n);
    struct plane_point c = plane_polygon_centroid(p, i->corners.n);
    o->x = c.x, o->y = c.y;
    if (isnan(i->offset)) return 0;
    struct plane_rings rings;
    rc = plane_polygon_offset(&rings, p, i->corners.n, i->offset, arena, err);
    if (rc) return rc;
    o->offset_area = o->offset_perimeter = 0;
    if (!rings.n) return 0;
    o->offset_area = plane_polygon_area(rings.v[0].v, rings.v[0].n);
    o->offset_perimeter = plane_polygon_perimeter(rings.v[0].v, rings.v[0].n);
    o->moved = (struct tuples){rings.v[0].n, 2, (double *)rings.v[0].v};
    return 0;
}

static const struct method polygon_method = {
    "polygon",
    "Area, edge length and centre of an outline, and the edge moved in or out",
    "Shoelace sum; moved edges by the GEOS library",
    "Outlines that cross or touch themselves are refused with the place.",
    &polygon_in_kind,
    &polygon_out_kind,
    polygon_run,
    "{\"corners\": [[0,0],[300,0],[300,180],[0,180]], \"offset\": -12}"};

struct similarity_in {
    struct tuples from, to;
    struct reals weights;
    int rigid;
};
struct similarity_out {
    double scale, angle, x, y, squares, rms;
    double mirrored_scale, mirrored_angle, mirrored_x, mirrored_y, mirrored_squares, mirrored_rms;
    int turned_over_fits_better;
};
static const struct field similarity_in_fields[] = {
    {.name = "from",
     .label = "Points to be moved",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct similarity_in, from),
     .help = "x and y of each point on the piece.",
     .example = "[[0,0],[1,0],[0,2]]"},
    {.name = "to",
     .label = "Where they belong",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct similarity_in, to),
     .help = "x and y of the same points in the plan, in the same order.",
     .example = "[[0,0],[-1,0],[0,2]]"},
    {.name = "weights",
     .label = "Weights",
     .type = FIELD_REALS,
     .offset = offsetof(struct similarity_in, weights),
     .help = "One a pair; all alike when absent."},
    {.name = "rigid",
     .label = "Keep the size",
     .type = FIELD_FLAG,
     .preset = "false",
     .offset = offsetof(struct similarity_in, rigid),
     .help = "Turn and shift only."},
};
static const struct field similarity_out_fields[] = {
    {.name = "scale",
     .label = "Scale",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, scale),
     .help = "Size after over size before."},
    {.name = "angle",
     .label = "Turn",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct similarity_out, angle),
     .help = "Counter-clockwise."},
    {.name = "x",
     .label = "Shift x",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, x),
     .help = "After turn and scale."},
    {.name = "y",
     .label = "Shift y",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, y),
     .help = "After turn and scale."},
    {.name = "squares",
     .label = "Sum of squares",
     .unit = "mm²",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, squares),
     .help = "Of the misfits."},
    {.name = "rms",
     .label = "Misfit",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, rms),
     .help = "Root mean square distance."},
    {.name = "mirrored_scale",
     .label = "Scale, turned over",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, mirrored_scale),
     .help = "y reversed first."},
    {.name = "mirrored_angle",
     .label = "Turn, turned over",
     .unit = "degrees",
     .type = FIELD_REAL,
     .scale = DEGREE,
     .offset = offsetof(struct similarity_out, mirrored_angle),
     .help = "After reversing y."},
    {.name = "mirrored_x",
     .label = "Shift x, turned over",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, mirrored_x),
     .help = "After turn and scale."},
    {.name = "mirrored_y",
     .label = "Shift y, turned over",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, mirrored_y),
     .help = "After turn and scale."},
    {.name = "mirrored_squares",
     .label = "Sum of squares, turned over",
     .unit = "mm²",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, mirrored_squares),
     .help = "Of the misfits."},
    {.name = "mirrored_rms",
     .label = "Misfit, turned over",
     .unit = "mm",
     .type = FIELD_REAL,
     .offset = offsetof(struct similarity_out, mirrored_rms),
     .help = "Root mean square distance."},
    {.name = "turned_over_fits_better",
     .label = "Turned over fits better",
     .type = FIELD_FLAG,
     .offset = offsetof(struct similarity_out, turned_over_fits_better),
     .help = "The mirrored misfit is the smaller one."},
};
static const struct kind similarity_in_kind = {
    "similarity_in", "Pairs of points", sizeof(struct similarity_in), FIELDS(similarity_in_fields),
    "Points on a piece and where they belong."};
static const struct kind similarity_out_kind = {
    "similarity_out", "Turn, shift and scale, both faces", sizeof(struct similarity_out),
    FIELDS(similarity_out_fields), "The best fit as it lies and turned over."};

static int similarity_run(const void *in, void *out, struct arena *arena, struct error *err) {
    (void)arena;
    const struct similarity_in *i = in;
    struct similarity_out *o = out;
    if (i->from.n != i->to.n || (i->weights.n && i->weights.n != i->from.n))
        return fail(err, ERR_INPUT, "Give as many places (and weights) as points.",
                    "%zu points, %zu places, %zu weights.", i->from.n, i->to.n, i->weights.n);
    struct plane_similarity_options opt = {i->weights.n ? i->weights.v : NULL, false,
                                           i->rigid == 1};
    struct plane_similarity s, m;
    int rc = plane_similarity_fit(&s, points_of(&i->from), points_of(&i->to), i->from.n, &opt, err);
    opt.mirrored = true;
    if (!rc)
        rc = plane_similarity_fit(&m, points_of(&i->from), points_of(&i->to), i->from.n, &opt, err);
    if (rc) return rc;
    *o = (struct similarity_out){s.scale,
                                 s.angle,
                                 s.shift.x,
                                 s.shift.y,
                                 s.squares,
                                 s.rms,
                                 m.scale,
                                 m.angle,
                                 m.shift.x,
                                 m.shift.y,
                                 m.squares,
                                 m.rms,
                                 m.squares < s.squares};
    return 0;
}

static const struct method similarity_method = {
    "similarity",
    "Lay one set of points on another: turn, shift, scale; also turned over",
    "Umeyama, IEEE Trans. Pattern Anal. Mach. Intell. 13 (1991) 376-380",
    NULL,
    &similarity_in_kind,
    &similarity_out_kind,
    similarity_run,
    "{\"from\": [[0,0],[1,0],[0,2]], \"to\": [[0,0],[-1,0],[0,2]]}"};

struct homography_in {
    struct tuples plane, image, measure;
    double pointing;
};
struct homography_out {
    struct reals matrix;
    double rms, pointing;
    struct tuples measured;
    struct reals measured_u;
    struct ints outside;
};
static const struct field homography_in_fields[] = {
    {.name = "plane",
     .label = "Control points",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct homography_in, plane),
     .help = "x and y on the flat thing.",
     .example = "[[0,0],[600,0],[600,400],[0,400]]"},
    {.name = "image",
     .label = "The same in the photograph",
     .unit = "pixels",
     .type = FIELD_TUPLES,
     .width = 2,
     .required = true,
     .offset = offsetof(struct homography_in, image),
     .help = "After lens distortion has been taken out.",
     .example = "[[0,0],[1140,-60],[1200,760],[60,820]]"},
    {.name = "measure",
     .label = "Points to measure",
     .unit = "pixels",
     .type = FIELD_TUPLES,
     .width = 2,
     .offset = offsetof(struct homography_in, measure),
     .help = "In the photograph; on the same flat thing."},
    {.name = "pointing",
     .label = "± of pointing",
     .unit = "pixels",
     .type = FIELD_REAL,
     .offset = offsetof(struct homography_in, pointing),
     .min = 0,
     .max = 100,
     .help = "Used with four control points, which leave no misfit to judge by."},
};
static const struct field homography_out_fields[] = {
    {.name = "matrix",
     .label = "Matrix",
     .type = FIELD_REALS,
     .offset = offsetof(struct homography_out, matrix),
     .help = "Nine numbers by rows, last one 1: plane to photograph."},
    {.name = "rms",
     .label = "Misfit",
     .unit = "pixels",
     .type = FIELD_REAL,
     .offset = offsetof(struct homography_out, rms),
     .help = "Root mean square distance in the photograph; left out with four points, which always "
             "fit."},
    {.name = "pointing",
     .label = "Pointing",
     .unit = "pixels",
     .type = FIELD_REAL,
     .offset = offsetof(struct homography_out, pointing),
     .help = "Standard deviation of one coordinate, from the misfit or as given."},
    {.name = "measured",
     .label = "Measured points",
     .unit = "mm",
     .type = FIELD_TUPLES,
     .width = 2,
     .offset = offsetof(struct homography_out, measured),
     .help = "On the flat thing."},
    {.name = "measured_u",
     .label = "± of measured points",
     .unit = "mm",
     .type = FIELD_REALS,
     .offset = offsetof(struct homography_out, measured_u),
     .help = "Standard deviation of the distance from the true place; absent when nothing tells."},
    {.name = "outside",
     .label = "Outside the control points",
     .type = FIELD_INTS,
     .offset = offsetof(struct homography_out, outside),
     .help = "Numbers (from 1) of measured points outside the control points: do not use them."},
};
static const struct kind homography_in_kind = {
    "homography_in", "Control points of a photograph", sizeof(struct homography_in),
    FIELDS(homography_in_fields), "Four control points are exact; six or more show their error."};
static const struct kind homography_out_kind = {
    "homography_out", "The view, and measured points", sizeof(struct homography_out),
    FIELDS(homography_out_fields), "Measured places with their ±."};

static int homography_measures(struct homography_out *o, const struct homography_in *i,
                               const struct plane_homography *h, struct arena *arena,
                               struct error *err) {
    size_t m = i->measure.n, hulled;
    o->measured = (struct tuples){m, 2, ARENA_NEW(arena, double, 2 * m)};
    o->measured_u.v = ARENA_NEW(arena, double, m);
    o->outside.v = ARENA_NEW(arena, long, m);
    struct plane_point *hull = ARENA_NEW(arena, struct plane_point, i->image.n);
    if (!o->measured.v || !o->measured_u.v || !o->outside.v || !hull) return fail_memory(err);
    hulled = plane_polygon_hull(hull, points_of(&i->image), i->image.n);
    if (!hulled) return fail_memory(err);
    if (!isnan(h->pointing)) o->measured_u.n = m;
    for (size_t k = 0; k < m; k++) {
        struct plane_point p = points_of(&i->measure)[k];
        struct plane_point x = plane_homography_measure(h, p, &o->measured_u.v[k]);
        o->measured.v[2 * k] = x.x, o->measured.v[2 * k + 1] = x.y;
        if (!plane_polygon_contains(hull, hulled, p)) o->outside.v[o->outside.n++] = (long)k + 1;
    }
    return 0;
}

static int homography_run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct homography_in *i = in;
    struct homography_out *o = out;
    if (i->plane.n != i->image.n)
        return fail(err, ERR_INPUT,
                    "Give each control point once in the plane and once in the photograph.",
                    "%zu points in the plane, %zu in the photograph.", i->plane.n, i->image.n);
    struct plane_homography h;
    int rc = plane_homography_fit(&h, points_of(&i->plane), points_of(&i->image), i->plane.n,
                                  i->pointing, err);
    if (rc) return rc;
    o->matrix = (struct reals){9, ARENA_NEW(arena, double, 9)};
    if (!o->matrix.v) return fail_memory(err);
    memcpy(o->matrix.v, h.h, sizeof h.h);
    if (h.n > 4) o->rms = h.rms;
    o->pointing = h.pointing;
    return i->measure.n ? homography_measures(o, i, &h, arena, err) : 0;
}

static const struct method homography_method = {
    "homography",
    "From a photograph of a flat thing to millimetres",
    "Hartley, IEEE Trans. Pattern Anal. Mach. Intell. 19 (1997) 580-593; least squares in the "
    "image",
    "Everything measured must lie in the plane of the control points. A point at height z above it "
    "is off by D z/(H - z): D its distance from the foot of the camera axis, H the camera's "
    "height.",
    &homography_in_kind,
    &homography_out_kind,
    homography_run,
    "{\"plane\": [[0,0],[300,0],[600,0],[0,400],[300,400],[600,400]], \"image\": "
    "[[120,80],[665.6,48.3],[1175.4,18.6],[186,929.8],[745.2,864.9],[1268.2,804.9]], \"measure\": "
    "[[700,450]]}"};

static const struct method *const methods[] = {&arc_method, &polygon_method, &similarity_method,
                                               &homography_method};
const struct method_list plane_methods = METHODS(methods);
