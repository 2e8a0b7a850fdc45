/* The open method `mesh`: triangles for a flat outline. */
#include "base/method.h"
#include "plane/mesh.h"

#include <math.h>
#include <string.h>

struct mesh_hole {
    struct tuples outline;
};
struct mesh_in {
    struct tuples outline, points;
    struct records holes;
    double size, corner, grading;
    long triangles;
};
struct mesh_out {
    long vertex_count, triangle_count;
    double angle_min, angle_max, edge_min, edge_max, area;
    struct tuples vertices, triangles;
    struct ints edge_vertices;
};

#define ROWS(s, n, w, u, h)                                                                        \
    {                                                                                              \
        .name = #n, .label = #n, .unit = u, .type = FIELD_TUPLES, .width = w,                      \
        .offset = offsetof(struct s, n), .help = h
#define REAL(s, n, u, h)                                                                           \
    {                                                                                              \
        .name = #n, .label = #n, .unit = u, .type = FIELD_REAL, .offset = offsetof(struct s, n),   \
        .help = h

static const struct field hole_fields[] = {
    ROWS(mesh_hole, outline, 2, "mm", "Points round the hole."), .required = true}
}
;
static const struct kind hole_kind = {"hole", "A hole", sizeof(struct mesh_hole),
                                      FIELDS(hole_fields), NULL};
static const struct field
    in_fields[] = {ROWS(mesh_in, outline, 2, "mm", "Points in order round the outline."),
                   .required = true, .example = "[[0,0],[100,0],[100,60],[0,60]]"},
    {.name = "holes",
     .label = "holes",
     .unit = "",
     .type = FIELD_RECORDS,
     .sub = &hole_kind,
     .offset = offsetof(struct mesh_in, holes),
     .help = "Holes."},
    ROWS(mesh_in, points, 2, "mm", "Inner points that become vertices.")
}
, REAL(mesh_in, size, "mm", "Edge length wanted."), .min = 0, .max = FIELD_NO_LIMIT,
                                                    .above_min = true, .example = "10"
}
,
    {.name = "triangles",
     .label = "triangles",
     .unit = "",
     .type = FIELD_INT,
     .min = 1,
     .max = 500000,
     .preset = "1000",
     .offset = offsetof(struct mesh_in, triangles),
     .help = "Number wanted when size is not given."},
    REAL(mesh_in, corner, "degrees", "A turn above this is a corner that stays."),
    .min = 1, .max = 170, .scale = 0.017453292519943295, .preset = "25"
}
, REAL(mesh_in, grading, "", "How fast edge lengths may grow."), .min = 0.05, .max = 2,
                                                                 .preset = "0.25"
}
}
;
static const struct kind in_kind = {"mesh_in", "An outline to mesh", sizeof(struct mesh_in),
                                    FIELDS(in_fields), NULL};
static const struct field out_fields[] = {{.name = "vertex_count",
                                           .label = "vertex_count",
                                           .unit = "",
                                           .type = FIELD_INT,
                                           .offset = offsetof(struct mesh_out, vertex_count),
                                           .help = "Vertices."},
                                          {.name = "triangle_count",
                                           .label = "triangle_count",
                                           .unit = "",
                                           .type = FIELD_INT,
                                           .offset = offsetof(struct mesh_out, triangle_count),
                                           .help = "Triangles."},
                                          REAL(mesh_out, angle_min, "degrees", "Smallest angle."),
                                          .scale = 0.017453292519943295},
                          REAL(mesh_out, angle_max, "degrees", "Largest angle."),
                          .scale = 0.017453292519943295
}
, REAL(mesh_out, edge_min, "mm", "Shortest edge.")
}
, REAL(mesh_out, edge_max, "mm", "Longest edge.")
}
, REAL(mesh_out, area, "mm2", "Area.")
}
, ROWS(mesh_out, vertices, 2, "mm", "Vertices; those on the outline come first, in order.")
}
, ROWS(mesh_out, triangles, 3, "", "Vertices of each triangle, from 0, counter-clockwise.")
}
, {
    .name = "edge_vertices", .label = "edge_vertices", .unit = "", .type = FIELD_INTS,
    .offset = offsetof(struct mesh_out, edge_vertices),
    .help = "How many vertices lie on each loop."
}
}
;
static const struct kind out_kind = {"mesh_out", "The triangles", sizeof(struct mesh_out),
                                     FIELDS(out_fields), NULL};

static int copy_mesh(struct mesh_out *o, const struct plane_mesh *m, struct arena *arena,
                     struct error *err) {
    o->vertices = (struct tuples){m->nv, 2, ARENA_NEW(arena, double, 2 * m->nv)};
    o->triangles = (struct tuples){m->nf, 3, ARENA_NEW(arena, double, 3 * m->nf)};
    o->edge_vertices = (struct ints){m->loops, ARENA_NEW(arena, long, m->loops)};
    if (!o->vertices.v || !o->triangles.v || !o->edge_vertices.v) return fail_memory(err);
    memcpy(o->vertices.v, m->p, m->nv * sizeof *m->p);
    for (size_t k = 0; k < 3 * m->nf; k++)
        o->triangles.v[k] = m->tri[k / 3][k % 3];
    for (size_t l = 0; l < m->loops; l++)
        o->edge_vertices.v[l] = (long)(m->loop_start[l + 1] - m->loop_start[l]);
    struct plane_mesh_quality q;
    plane_mesh_measure(&q, m);
    o->vertex_count = (long)m->nv;
    o->triangle_count = (long)m->nf;
    o->angle_min = q.angle_min;
    o->angle_max = q.angle_max;
    o->edge_min = q.edge_min;
    o->edge_max = q.edge_max;
    o->area = q.area;
    return 0;
}

static int run(const void *in, void *out, struct arena *arena, struct error *err) {
    const struct mesh_in *i = in;
    struct plane_loop *loops = ARENA_NEW(arena, struct plane_loop, 1 + i->holes.n);
    if (!loops) return fail_memory(err);
    loops[0] = (struct plane_loop){i->outline.v, i->outline.n};
    for (size_t k = 0; k < i->holes.n; k++) {
        const struct mesh_hole *h = (const struct mesh_hole *)i->holes.v + k;
        loops[1 + k] = (struct plane_loop){h->outline.v, h->outline.n};
    }
    struct plane_mesh_options o = {.size = isfinite(i->size) ? i->size : 0,
                                   .triangles = (size_t)i->triangles,
                                   .corner = i->corner,
                                   .grading = i->grading,
                                   .points = i->points.v,
                                   .n_points = i->points.n};
    struct plane_mesh *m;
    int rc = plane_mesh_new(&m, loops, 1 + i->holes.n, &o, err);
    if (!rc) rc = copy_mesh(out, m, arena, err);
    plane_mesh_free(m);
    return rc;
}

extern const struct method body_method_mesh;
const struct method body_method_mesh = {
    .name = "mesh",
    .title = "Divides a flat outline with holes into well-shaped triangles",
    .source = "C. L. Lawson (1977); S. W. Sloan, Computers & Structures 47 (1993) 441-450; L. "
              "Chen, J. Xu, "
              "J. Comput. Math. 22 (2004) 299-308; J. R. Shewchuk, Discrete Comput. Geom. 18 "
              "(1997) 305-363",
    .text = "Same outline, same triangles, bit for bit. On smooth outlines no angle is under 28 "
            "degrees; "
            "sharp corners of the outline keep their own angle.",
    .in = &in_kind,
    .out = &out_kind,
    .run = run,
    .example = "{\"outline\": [[0, 0], [100, 0], [100, 60], [0, 60]], \"size\": 20}"};
