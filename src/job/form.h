/* form: the shape the leading making takes in space, as the strength step hands it on.
 *
 * One net of triangles, several states of it (as made; without laths, rim, grip; fresh off the
 * stem; day by day), and the named parts as lines on that net. Stored in the strength step's result
 * under "form":
 *
 *     {"note": "...", "thickness": mm, "footing": "...", "flat": [[x, y], ...], "triangles": [[i,
 * j, k], ...], "edge": [i, ...] all round, counter-clockwise, "states": [{"id": "made", "title":
 * "...", "points": [[x, y, z], ...], "day": d, "moisture": m, "parts": ["lath.1", ...], "grip":
 * n}], "parts": [{"id": "lath.1", "kind": "lath", "name": "...", "footing": "worked out", "side":
 * "...", "width": mm, "thickness": mm, "closed": false, "at": [[triangle, weight of its 1st, 2nd,
 * 3rd point], ...]}]}
 *
 * mm, x right, y up the plan, z towards the viewer who sees the outer face; the middle of the sheet
 * lies at z 0 and its plane there is z 0. States: "made", "no_laths", "no_rim", "no_grip", "bare"
 * (sheet alone, dry), "off_stem" (as peeled, let go), "day.N" (see day and moisture). A state
 * lacks a part whose id is not in its "parts". Everything lives in the arena handed in.
 */
#ifndef RELICT_JOB_FORM_H
#define RELICT_JOB_FORM_H

#include "base/arena.h"
#include "body/sheet.h"
#include "making/making.h"

#include <jansson.h>
#include <stdint.h>

struct form_state {
    const char *id, *title;
    double day, moisture; /* NAN: the end, dry */
    bool without[PART_KIND_COUNT];
    double (*x)[3]; /* [nv] mm */
};

struct form_part {
    const char *id, *name;
    long kind, footing, side;
    double width, thickness; /* mm; a round rod has both alike */
    bool closed;
    size_t n;       /* points of its line */
    int *triangle;  /* [n] */
    double (*w)[3]; /* [n] weights of the triangle's points */
};

enum { FORM_STATES = 72 }; /* with and without parts, and a day for each step of the work */

struct form {
    const char *note;
    double thickness; /* of the sheet, mm */
    long footing;     /* of the sheet */
    size_t nv, nf, edge;
    double (*flat)[2]; /* [nv]; the first `edge` run all round */
    int (*tri)[3];     /* [nf] */
    size_t n_states, n_parts;
    struct form_state state[FORM_STATES];
    struct form_part *part; /* [n_parts] */
};

/* Takes the net from a model and the lines of the parts from a making (sx, sy: outline asked for
 * over outline laid out). */
int form_begin(struct form *out, const struct plane_mesh *mesh, const struct makings *makings,
               const char *making, const double scale[2], struct arena *arena, struct error *err);

/* Adds the shell as it stands as a state; turned and shifted so that the middle lies flat at 0.
 * Returns NULL when memory is gone or there are too many. */
struct form_state *form_state_add(struct form *form, struct body_sheet_model *model, const char *id,
                                  const char *title, struct arena *arena);

json_t *form_encode(const struct form *form);
/* ERR_INPUT for what is none. */
int form_decode(struct form *out, const json_t *json, struct arena *arena, struct error *err);
const struct form_state *form_state_named(const struct form *form, const char *id);

/* The sheet and its parts in one state as closed surfaces, each with its name. */
struct form_surface {
    const char *id, *name;
    long footing;
    size_t n_points, n_triangles;
    double *points;      /* [n_points][3] mm */
    uint32_t *triangles; /* [n_triangles][3], counter-clockwise seen from outside */
};
int form_surfaces(struct form_surface **out, size_t *n, const struct form *form,
                  const struct form_state *state, struct arena *arena, struct error *err);

#endif
