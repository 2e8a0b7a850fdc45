/* pocket: a lath between the layers of the sheet, with room to spare and rubbing.
 *
 * A lath with `play` (mm of room across its thickness) over a free length `span` may keep its own
 * curvature within +- 8 play / span^2 of the sheet's before it bears: the rise of an arc over its
 * chord is curvature span^2 / 8 (body_pocket_play). In the same way a lath of width b may lie
 * turned by play / b in its pocket at either end. That room stands in the energy (body_lath.play):
 * one equilibrium finds what bears.
 *
 * Pull along it is passed on by rubbing alone: at most friction times the contact forces, 8 |M| /
 * span for a lath held bent by M, and `gripped` where a tie or a wedge holds it. Rubbing has no
 * energy of its own: the limit is found by repeating equilibrium.
 *
 * A pocket parts the sheet into two leaves that slide on each other: body_pocket_ligament says what
 * is left of its stiffness in bending there.
 */
#ifndef RELICT_BODY_POCKET_H
#define RELICT_BODY_POCKET_H

#include "body/equilibrium.h"
#include "body/part.h"

/* Puts room and rubbing into a lath: play and twist_play, and the first limit of its pull. */
struct body_pocket_room {
    double play, width, span; /* mm */
    double friction;          /* coefficient; 0: slides freely */
    double gripped;           /* N held by other means; INFINITY: never slides */
};
void body_pocket_play(struct body_lath *lath, const struct body_pocket_room *room);

/* Share of the bending stiffness left of a sheet cut at `depth` (share of its thickness, 0 to 1)
 * into two leaves that slide on each other: depth^3 + (1 - depth)^3; of the stretch all. */
double body_pocket_ligament(double depth);

struct body_pocket {
    int part; /* a lath of the shell */
    double span, friction, gripped;
    /* found: */
    double pull;        /* N, tension positive */
    double moment;      /* N mm at its middle */
    int loose, slipped; /* 1: bears nothing; 1: pull is at its limit */
};

/* Brings the shell to equilibrium with the pockets as they are. `rounds` (may be NULL) says how
 * many times it was repeated. ERR_SOLVE when the rubbing does not settle within 30. */
int body_pocket_settle(struct body_shell *shell, struct body_pocket *pockets, size_t n,
                       const struct body_solve_options *options, struct body_solve *solve,
                       size_t *rounds, struct error *err);

#endif
