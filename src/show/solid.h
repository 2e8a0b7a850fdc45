/* solid: a shape in space with its parts, written as GLB, PLY and STL.
 *
 * Inside: mm, x right, y up the plan, z towards the viewer. GLB (glTF 2.0) is in metres with y up:
 * (x, y, z) becomes (x, z, -y) / 1000. PLY and STL keep mm; STL has no unit, so say it in the
 * file's name. Footings travel as names and extras, never as colours. Same solid, same bytes. The
 * writers need a machine that counts bytes from the lowest (checked at build).
 */
#ifndef RELICT_SHOW_SOLID_H
#define RELICT_SHOW_SOLID_H

#include "show/out.h"

#include <stdint.h>

struct solid_part {
    const char *id, *name;
    long footing;     /* enum footing; < 0 unknown */
    const char *said; /* statement behind it; NULL */
    size_t n_points, n_triangles;
    const double *points;      /* [n_points][3] mm */
    const uint32_t *triangles; /* [n_triangles][3] */
};

struct solid {
    const char *title, *note; /* note: state, and what it claims to be */
    const struct solid_part *parts;
    size_t n_parts;
};

/* ERR_RANGE for a point that is no number or a triangle that names no point; ERR_MISSING when
 * there is no triangle. */
int solid_check(const struct solid *solid, struct error *err);

int solid_glb(struct show_out *out, const struct solid *solid, struct error *err);
int solid_ply(struct show_out *out, const struct solid *solid, struct error *err);
int solid_stl(struct show_out *out, const struct solid *solid, struct error *err);

#endif
