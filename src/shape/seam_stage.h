/* seam_stage: what rows of holes and dents say, as statements.
 *
 * Each row is one piece's; rows in a sheet and rows of dents on a rod of one zone, made by the same
 * stitches, give that sheet's shrinkage. Pure; the caller brings lengths to one state.
 */
#ifndef RELICT_SHAPE_SEAM_STAGE_H
#define RELICT_SHAPE_SEAM_STAGE_H

#include "shape/seam.h"
#include "statement/statement.h"

/* One row of holes or dents. NAN and NULL where nothing is known. */
struct shape_seam_find {
    const char *id;    /* of the measure */
    const char *name;  /* of the row, in statements; NULL: the id */
    const char *entry; /* its kind for the chain; NULL: "measure" */
    const char *zone;  /* rows of one zone are compared; NULL: none */
    bool rod;          /* dents along a rod, not holes in a sheet */
    double pitch;      /* mm, mean over the row; or gaps */
    double holes;      /* how many, with `pitch` */
    double u;          /* mm: ± of the whole row's length */
    double hole;       /* mm: diameter */
    size_t n_gaps;
    const double *gap; /* [n_gaps], mm, in order: wins over pitch */
    size_t n_torn;
    const int *torn;       /* [n_torn] flags of the holes in order */
    double torn_holes;     /* how many tore in line when nobody noted which; NAN: none */
    const char *torn_mark; /* the mark that shows it; NULL: the row itself */
};

struct shape_seam_input {
    size_t n;
    const struct shape_seam_find *row;
    double edge, u_edge; /* mm: whole edge the stitches ran along; NAN: no count */
    const char *state;   /* of all lengths */
};

/* Adds seam.<name>.pitch, .section, .torn, .missing, .grouping for each row, seam.shrink.<zone>
 * where a zone has both kinds, seam.grouping.<state> where several rows have single gaps, and
 * seam.count. Rows that say too little are left out, never a failure. */
int shape_seam_stage(const struct shape_seam_input *input, struct statement_set *said,
                     struct arena *arena, struct error *err);

#endif
