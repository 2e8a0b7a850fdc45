/* diffusion: moisture through the thickness of a sheet, by series and by finite volumes.
 *
 * Lengths in mm, time in s, D in mm2/s, surface coefficients in mm/s; moisture as fractions. The
 * series are for one even layer; the finite volumes take layers with their own D, density and
 * sorption (cork rests at half of wood's moisture) and any weather at the two faces. In the finite
 * volumes moisture is written as that of wood in the same air ("wood moisture" u; a layer holds
 * sorption x u), so that it is continuous where layers meet.
 *
 *     struct stuff_moist *m;
 *     stuff_moist_new(&m, layers, 2, arena, err);
 *     stuff_moist_fill(m, 0.9);
 *     stuff_moist_step(m, 600, inner, outer);
 *     stuff_moist_mean(m)
 */
#ifndef RELICT_STUFF_DIFFUSION_H
#define RELICT_STUFF_DIFFUSION_H

#include "base/arena.h"
#include "base/error.h"

#include <stddef.h>

/* ---- one even sheet, initially even, faces suddenly at a new moisture --------------------------
 * fo = D t / l2, l HALF the thickness when both faces are open, the thickness when one is sealed.
 */

/* Share of the whole change done, mean over the thickness (Crank, Mathematics of Diffusion, 4.18;
 * for small fo the error-function series 4.20). */
double stuff_sheet_mean(double fo);
/* The same at the middle (or at the sealed face). */
double stuff_sheet_centre(double fo);
/* fo at which the mean share is `share`, 0 to under 1. */
double stuff_sheet_time(double share);

/* With a surface that resists: biot = h l / D. k-th root (from 1) of b tan b = biot. */
double stuff_biot_root(double biot, size_t k);
/* Mean share done (Crank 4.53, Newman). */
double stuff_biot_mean(double biot, double fo);
double stuff_biot_time(double biot, double share);

/* ---- layers by finite volumes --------------------------------------------------------------- */

struct stuff_moist_layer {
    double thickness;  /* mm */
    double diffusion;  /* mm2/s at 12 % (wood moisture) */
    double growth;     /* D = diffusion x exp(growth (min(u, 0.30) - 0.12)); 0 constant */
    double free;       /* mm2/s above `saturation`, where free water moves; 0: as below */
    double saturation; /* wood moisture; 0: 0.30 */
    double density;    /* dry, any one unit; weighs the layers against each other */
    double sorption;   /* moisture of the layer over that of wood in the same air */
    size_t cells;      /* 0: 24 */
};

struct stuff_moist_face {
    double coefficient; /* mm/s; 0 sealed; INFINITY: the face follows at once */
    double moisture;    /* wood moisture of the air (stuff_emc) */
};

struct stuff_moist; /* lives in the arena */

/* Lays out cells, finer towards the faces. ERR_RANGE for a layer that is none. */
int stuff_moist_new(struct stuff_moist **out, const struct stuff_moist_layer *layers, size_t n,
                    struct arena *arena, struct error *err);
/* Sets all cells to one wood moisture, or one cell. */
void stuff_moist_fill(struct stuff_moist *m, double moisture);
void stuff_moist_set(struct stuff_moist *m, size_t cell, double moisture);

/* Goes on by dt with implicit Euler: stable at any dt, first order. D is taken at the beginning of
 * the step. Returns the water that left through both faces during dt, per area, in (density unit)
 * mm. */
double stuff_moist_step(struct stuff_moist *m, double dt, struct stuff_moist_face inner,
                        struct stuff_moist_face outer);

/* Goes on for `time` in n steps that begin small and grow (for sudden changes). */
void stuff_moist_run(struct stuff_moist *m, double time, size_t n, struct stuff_moist_face inner,
                     struct stuff_moist_face outer);

size_t stuff_moist_cells(const struct stuff_moist *m);
/* Of a cell: middle z from the inner face, thickness, layer, wood moisture. */
double stuff_moist_z(const struct stuff_moist *m, size_t cell);
double stuff_moist_h(const struct stuff_moist *m, size_t cell);
size_t stuff_moist_layer_of(const struct stuff_moist *m, size_t cell);
double stuff_moist_at(const struct stuff_moist *m, size_t cell);
/* Mean moisture (water over dry mass) of the whole, and mean wood moisture of one layer. */
double stuff_moist_mean(const struct stuff_moist *m);
double stuff_moist_layer_mean(const struct stuff_moist *m, size_t layer);

#endif
