/* pocket: a lath between the layers of the sheet, with room to spare and rubbing.
 *
 * A lath with `play` (mm of room across its thickness) over a free length `span` may keep its own
 * curvature within +- 8 play / span^2 of the sheet's before it bears (three-point contact). Pull
 * along it is passed on by rubbing alone: at most friction times the contact forces, 8 |M| / span
 * for a lath held bent by M, or `gripped` where a tie or a wedge holds it. The forces are found by
 * repeating equilibrium until nothing changes.
 */
#ifndef RELICT_BODY_POCKET_H
#define RELICT_BODY_POCKET_H

#include "body/equilibrium.h"
#include "body/part.h"

struct body_pocket {
    int part;          /* a lath of the shell */
    double play, span; /* mm */
    double friction;   /* coefficient */
    double gripped;    /* N held by other means; INFINITY: never slides */
    /* found: */
    double pull;        /* N, tension positive */
    double moment;      /* N mm at its middle */
    int loose, slipped; /* 1: bears nothing; 1: pull is at its limit */
};

/* Brings the shell to equilibrium with the pockets as they are. `rounds` (may be NULL) says how
 * many times it was repeated. ERR_SOLVE when it does not settle within 30. */
int body_pocket_settle(struct body_shell *shell, struct body_pocket *pockets, size_t n,
                       const struct body_solve_options *options, struct body_solve *solve,
                       size_t *rounds, struct error *err);

#endif
