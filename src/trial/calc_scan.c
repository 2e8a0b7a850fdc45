/* calc_scan: `relict calc scan-alignment` and `scan-curvature`. */
#include "gather/describe.h"
#include "trial/scan.h"
#include "trial/trial_methods.h"

#include <math.h>
#include <string.h>

struct align_in {
    struct tuples moving, points, triangles, pairs_from, pairs_to;
    double tolerance, correlation;
};
static const struct field align_in_fields[] = {
    {AT(align_in, moving), .label = "Scan", .unit = "mm", .type = FIELD_TUPLES, .width = 3,
     .required = true, .help = "Points to be laid on the surface."},
    {AT(align_in, points), .label = "Surface", .unit = "mm", .type = FIELD_TUPLES, .width = 3,
     .required = true, .help = "Its points."},
    {AT(align_in, triangles), .label = "Triangles", .type = FIELD_TUPLES, .width = 3,
     .required = true, .help = "Numbers of their corners, from 0."},
    {AT(align_in, pairs_from), .label = "Paired points, scan", .unit = "mm", .type = FIELD_TUPLES,
     .width = 3, .help = "A start; three or more."},
    {AT(align_in, pairs_to), .label = "Paired points, surface", .unit = "mm", .type = FIELD_TUPLES,
     .width = 3, .help = "The same points on the surface."},
    {AT(align_in, tolerance), .label = "Tolerance", .unit = "mm", .type = FIELD_REAL, .max = 1000,
     .above_min = true, .preset = "1", .help = "Within which the two agree."},
    {AT(align_in, correlation), .label = "Correlation length", .unit = "mm", .type = FIELD_REAL,
     .max = 1e5, .above_min = true, .preset = "20",
     .help = "Nearer differences are not independent."},
};
static const struct kind align_in_kind = {"scan_alignment", "A scan and a surface",
                                          sizeof(struct align_in), FIELDS(align_in_fields), ""};
struct align_out {
    struct reals rotation, shift, eigenvalues;
    double rms, share_kept, spread, median, p95, within, independent, pairs_rms;
    long determined, settled;
    const char *say;
};
static const struct field align_out_fields[] = {
    {AT(align_out, rotation), .label = "Rotation", .type = FIELD_REALS,
     .help = "Nine numbers, row by row."},
    {AT(align_out, shift), .label = "Shift", .unit = "mm", .type = FIELD_REALS,
     .help = "After the rotation."},
    {AT(align_out, eigenvalues), .label = "Eigenvalues", .type = FIELD_REALS,
     .help = "Of the normal matrix; one far below the others is a free motion."},
    {AT(align_out, determined), .label = "Determined", .type = FIELD_INT,
     .help = "1: no motion is free."},
    {AT(align_out, settled), .label = "Settled", .type = FIELD_INT,
     .help = "1: the last step was below 0.001 mm."},
    F_OUT(align_out, rms, "Misfit", "mm", "Along the normals, of the points kept."),
    F_OUT_SHARE(align_out, share_kept, "Points kept", "The others lie too far off."),
    F_OUT(align_out, spread, "Registration", "mm", "By how much the fit may be off at the rim."),
    F_OUT(align_out, pairs_rms, "Misfit of the pairs", "mm", "When they were given."),
    F_OUT(align_out, median, "Median difference", "mm", "Plus: outside the surface."),
    F_OUT(align_out, p95, "95 % within", "mm", "Of the absolute differences."),
    F_OUT_SHARE(align_out, within, "Within tolerance", "And the registration's own spread."),
    F_OUT(align_out, independent, "Independent readings", "",
          "Area over the square of the correlation length."),
    F_TEXT(align_out, say, "Note", "In words."),
};
static const struct kind align_out_kind = {"scan_alignment_answer", "How they lie",
                                           sizeof(struct align_out), FIELDS(align_out_fields), ""};

static int read_surface(struct scan *s, const struct align_in *i, struct arena *arena,
                        struct error *err) {
    *s = (struct scan){i->points.n, i->points.v, i->triangles.n,
                       ARENA_NEW(arena, uint32_t, 3 * i->triangles.n)};
    if (!s->corner) return fail_memory(err);
    for (size_t k = 0; k < 3 * i->triangles.n; k++) {
        double v = i->triangles.v[k];
        if (!(v >= 0 && v < (double)i->points.n) || v != floor(v))
            return fail(err, ERR_RANGE, "Count the points from 0.",
                        "Triangle %zu names point %g of %zu.", k / 3 + 1, v, i->points.n);
        s->corner[k] = (uint32_t)v;
    }
    return 0;
}

static int run_align(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct align_in *i = in;
    struct align_out *o = out;
    struct scan fixed, moving = {i->moving.n, i->moving.v, 0, NULL};
    struct scan_surface surface;
    struct scan_fit fit;
    struct scan_map map;
    struct scan_motion first;
    struct scan_align_options options = {0};
    int rc = read_surface(&fixed, i, arena, err);
    if (!rc) rc = scan_surface_build(&surface, &fixed, arena, err);
    if (!rc && i->pairs_from.n != i->pairs_to.n)
        rc = fail(err, ERR_INPUT, "Give as many on the surface as on the scan.",
                  "%zu and %zu paired points.", i->pairs_from.n, i->pairs_to.n);
    if (!rc && i->pairs_from.n) {
        rc = scan_align_pairs(&first, &o->pairs_rms, i->pairs_from.v, i->pairs_to.v,
                              i->pairs_from.n, err);
        options.first = &first;
    }
    if (!rc) rc = scan_align(&fit, &moving, &surface, &options, arena, err);
    if (!rc)
        rc = scan_map_make(&map, &moving, &fit, &surface, i->tolerance, i->correlation, arena, err);
    if (rc) return rc;
    double *keep = ARENA_NEW(arena, double, 18);
    if (!keep) return fail_memory(err);
    memcpy(keep, fit.motion.r, sizeof fit.motion.r);
    memcpy(keep + 9, fit.motion.t, sizeof fit.motion.t);
    memcpy(keep + 12, fit.eigenvalue, sizeof fit.eigenvalue);
    o->rotation = (struct reals){9, keep};
    o->shift = (struct reals){3, keep + 9};
    o->eigenvalues = (struct reals){6, keep + 12};
    o->determined = fit.determined;
    o->settled = fit.settled;
    o->rms = fit.rms;
    o->share_kept = fit.share_kept;
    o->spread = fit.determined ? fit.spread : NAN;
    o->median = map.median;
    o->p95 = map.p95;
    o->within = fit.determined ? map.within : NAN;
    o->independent = map.independent;
    o->say = fit.determined
                 ? ""
                 : "The surface slides on itself (a plane, a cylinder, a sphere, or nearly): "
                   "differences "
                   "along it cannot be read. Give paired points, or bring in more of the edge.";
    return 0;
}

const struct method trial_method_alignment = {
    "scan-alignment",
    "Lays a scan on a surface and tells where they differ",
    "point to plane: Chen & Medioni 1992, Image Vis. Comput. 10, 145; pairs: Horn 1987, J. Opt. "
    "Soc. Am. A 4, 629",
    "Motions that the surface leaves free are found by the eigenvalues of the normal matrix (least "
    "under a thousandth of the "
    "largest) and told.",
    &align_in_kind,
    &align_out_kind,
    run_align,
    "{\"moving\": "
    "[[1,1,5],[59,1,5],[1,39,5],[30,20,5],[65,5,-1],[65,35,-2],[65,20,-8],[5,45,0],[30,45,-3],[55,"
    "45,-1],[40,10,5],"
    "[20,30,5]], \"points\": "
    "[[0,0,0],[60,0,0],[60,40,0],[0,40,0],[60,0,-20],[60,40,-20],[0,40,-20]], \"triangles\": "
    "[[0,1,2],[0,2,3],"
    "[1,4,5],[1,5,2],[3,2,5],[3,5,6]], \"tolerance\": 1}",
};

/* ---- scan-curvature ----------------------------------------------------------------------------
 */

struct curvature_in {
    struct tuples points;
    struct reals at;
    double radius;
};
static const struct field curvature_in_fields[] = {
    {AT(curvature_in, points), .label = "Scan", .unit = "mm", .type = FIELD_TUPLES, .width = 3,
     .required = true, .help = "Points."},
    {AT(curvature_in, at), .label = "Place", .unit = "mm", .type = FIELD_REALS, .required = true,
     .help = "Three numbers, on the surface."},
    {AT(curvature_in, radius), .label = "Patch", .unit = "mm", .type = FIELD_REAL, .max = 1e5,
     .above_min = true, .required = true,
     .help = "Radius of the patch that is fitted: it rules the error."},
};
static const struct kind curvature_in_kind = {"scan_curvature", "A place on a scan",
                                              sizeof(struct curvature_in),
                                              FIELDS(curvature_in_fields), ""};
struct curvature_out {
    double radius1, radius2, mean, gauss, residual, bias;
    long points;
};
static const struct field curvature_out_fields[] = {
    F_OUT(curvature_out, radius1, "Smaller radius", "mm",
          "1 over the greater principal curvature, signed."),
    F_OUT(curvature_out, radius2, "Greater radius", "mm",
          "1 over the lesser; the same sign: a dome or bowl."),
    F_OUT(curvature_out, mean, "Mean curvature", "1/mm", "Half the sum."),
    F_OUT(curvature_out, gauss, "Gaussian curvature", "1/mm2",
          "The product; 0: it can be laid flat."),
    F_OUT(curvature_out, residual, "Misfit", "mm", "Root mean square of the patch."),
    F_OUT_SHARE(curvature_out, bias, "Bias",
                "About (patch/radius)^2/4: choose the patch so that it equals the spread."),
    {AT(curvature_out, points), .label = "Points", .type = FIELD_INT, .help = "In the patch."},
};
static const struct kind curvature_out_kind = {"scan_curvature_answer", "Its curvature",
                                               sizeof(struct curvature_out),
                                               FIELDS(curvature_out_fields), ""};

/* NAN for a flat direction: no radius to name. */
static double known_inverse(double k) {
    return k != 0 && fabs(k) > 1e-9 ? 1 / k : NAN;
}

static int run_curvature(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct curvature_in *i = in;
    struct curvature_out *o = out;
    struct scan_points t;
    struct scan_curvature c;
    if (i->at.n != 3)
        return fail(err, ERR_INPUT, "Give x, y and z.", "The place has %zu numbers.", i->at.n);
    int rc = scan_points_build(&t, i->points.v, i->points.n, arena, err);
    if (!rc) rc = scan_curvature_at(&c, &t, i->at.v, i->radius, err);
    if (rc) return rc;
    o->radius1 = known_inverse(c.k1);
    o->radius2 = known_inverse(c.k2);
    o->mean = c.mean;
    o->gauss = c.gauss;
    o->residual = c.residual;
    o->bias = i->radius * i->radius * c.k1 * c.k1 / 4;
    o->points = (long)c.points;
    return 0;
}

const struct method trial_method_curvature = {
    "scan-curvature",
    "Works out the curvature of a scanned surface at a place",
    "quadric patch; fundamental forms: do Carmo 1976, Differential Geometry of Curves and "
    "Surfaces, 3.3",
    NULL,
    &curvature_in_kind,
    &curvature_out_kind,
    run_curvature,
    "{\"points\": "
    "[[-10,-10,0.5],[0,-10,0.25],[10,-10,0.5],[-10,0,0.25],[0,0,0],[10,0,0.25],[-10,10,0.5],[0,10,"
    "0.25],[10,10,0.5]], "
    "\"at\": [0, 0, 0], \"radius\": 20}",
};
