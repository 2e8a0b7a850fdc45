/* originals: some of the possible outlines one by one, and the shapes that readings exclude, for
 * the screen that turns them over. Stored in the outline step's result:
 *
 *     "originals": [{"family": "taper", "length": mm, "width": mm, "points": [[x, y], ...]}, ...]
 *     "excluded":  [{"family": "stadium", "by": "A04.length", "ratio": ln, "points": [...],
 *                    "at": [x, y], "placed": true}, ...]
 *
 * in the frame of the making (long axis along x, middle at the origin), fresh. The originals are
 * drawn by weight, so that each stands for as much as any other. An excluded family is shown by its
 * likeliest outline; `at` is where the excluding reading lies on the plan (placed), or where that
 * outline is farthest from the likely one when the reading has no place.
 */
#ifndef RELICT_JOB_ORIGINALS_H
#define RELICT_JOB_ORIGINALS_H

#include "num/rows.h"
#include "shape/outline.h"

#include <jansson.h>

enum { ORIGINALS_SHOWN = 48, ORIGINALS_POINTS = 96 };

struct originals_ask {
    const struct shape_outline_model *model;
    const struct num_rows *rows;
    const struct shape_outline *outline;
    const struct shape_evidence *evidence; /* [n] */
    size_t n;
    const char *family; /* column of the rows: "outline.family" */
};

/* Adds both lists to `result`. */
int originals_encode(json_t *result, const struct originals_ask *ask, struct error *err);

#endif
