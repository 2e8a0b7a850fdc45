/* nest: parts laid out on sheets round their faults, with the grain kept.
 *
 * A part may turn by half a turn when it says so, and be mirrored when its face does not matter;
 * nothing else. A sheet is any polygon; faults are polygons no part may touch. Two parts overlap
 * when the step between them lies inside their no-fit polygon (the Minkowski sum of one with the
 * other mirrored in the origin); how far inside is the least shift that parts them. Parts are put
 * down largest first, on a strip also part by part where most of the outline touches
 * (nest_build.h), the better is kept; then overlaps are driven out one part at a time, the weight
 * of stubborn pairs growing (guided local search: Umetani et al., Int. Trans. Oper. Res. 16, 2009,
 * 661; Egeblad, Nielsen & Odgaard, Eur. J. Oper. Res. 183, 2007, 1249). The grain runs along x.
 *
 * Deterministic for a seed: effort is counted in sweeps, never in time. Lengths in mm. Results
 * live in the arena. Not for lengths from poles: see cutting.h.
 */
#ifndef RELICT_GATHER_NEST_H
#define RELICT_GATHER_NEST_H

#include "base/arena.h"
#include "base/error.h"

#include <stdbool.h>
#include <stdint.h>

struct nest_ring {
    size_t n;
    const double *xy; /* [n][2] mm, either way round, not closed */
};

struct nest_part {
    const char *name;
    struct nest_ring ring;
    long number;    /* how many, 0 or more */
    bool half_turn; /* may be turned by 180 degrees */
    bool mirror;    /* may be turned over about the grain */
};

struct nest_sheet {
    const char *name;
    struct nest_ring ring;
    size_t faults;
    const struct nest_ring *fault;
};

struct nest_options {
    double gap;    /* mm kept between parts, 0 for a knife */
    uint64_t seed; /* of the sampled positions */
    long sweeps;   /* effort of one attempt; 0 stands for 120 */
};

struct nest_place {
    size_t part, copy, sheet; /* copy counts from 0 within the part */
    double x, y;              /* mm added to the part's (turned, mirrored) ring */
    bool turned, mirrored;    /* mirrored first (y -> -y), then turned, both about the origin */
};

struct nest_layout {
    size_t n;
    struct nest_place *place;
    long *missing;        /* [parts] copies that found no room */
    bool complete;        /* nothing missing */
    double *use;          /* [sheets] share of the sheet (faults taken off) that is parts */
    double part_area;     /* mm2 laid out */
    double sheet_area;    /* mm2 of the sheets that are used, faults taken off */
    double worst_overlap; /* mm, deepest overlap left: at most NEST_TOUCH */
    double length;        /* gather_nest_strip: mm of strip used; else 0 */
};

/* Parts may overlap by this much in mm: under the width of a pencil line. */
#define NEST_TOUCH 0.02

/* Lays parts on sheets, filling the sheets in the order given. What finds no room is counted as
 * missing: an answer, not an error. Errors: ERR_INPUT for a ring that crosses itself (with the
 * place), ERR_RANGE for too many parts (600) or points. */
int gather_nest(struct nest_layout *out, const struct nest_part *part, size_t parts,
                const struct nest_sheet *sheet, size_t sheets, const struct nest_options *options,
                struct arena *arena, struct error *err);

/* Lays all parts on a strip of the given width (along y) so that its length (along x) is short. */
int gather_nest_strip(struct nest_layout *out, const struct nest_part *part, size_t parts,
                      double width, const struct nest_options *options, struct arena *arena,
                      struct error *err);

/* The no-fit polygon of `fixed` and `moving`: where the origin of `moving` must not go (its
 * inside). Area and perimeter are of the union; rings as GEOS gives them, outer first, then holes.
 * A place where the two only fit without play (a jigsaw) has no area and is not in it. */
struct nest_no_fit {
    double area, perimeter;
    size_t rings;
    struct nest_ring *ring;
};
int gather_no_fit(struct nest_no_fit *out, const struct nest_ring *fixed,
                  const struct nest_ring *moving, struct arena *arena, struct error *err);

/* The ring of a placed part, mm on the sheet; xy has room for ring.n points. */
void gather_nest_ring(const struct nest_place *place, const struct nest_part *part, double *xy);

#endif
