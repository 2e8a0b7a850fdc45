/* hand: room for a hand behind a grip, and mass and balance.
 *
 * The grip is a bar between two seats across a sheet; the hand goes behind it. Lengths mm, masses
 * g, angles rad. Hand sizes come from data/hand.csv. Pure; thread-safe.
 */
#ifndef RELICT_BODY_HAND_H
#define RELICT_BODY_HAND_H

#include "base/field.h"
#include "num/dist.h"
#include "stuff/table.h"

#include <stddef.h>

struct hand_case {
    double span;      /* between the seats, inside */
    double seat;      /* height of the bar's underside over the sheet at the seats */
    double curvature; /* of the sheet across the span, 1/mm; positive bows away from the hand */
    double bow;       /* of the bar at its middle, away from the sheet positive */
    double width, thickness; /* of the bar where the hand closes */
    double glove;            /* added to every finger's depth; 0 bare */
};
struct hand_room {
    double middle;       /* room at the middle, mm */
    double breadth;      /* length of bar behind which an average finger passes, mm */
    double men, women;   /* share whose hand goes through */
    double perimeter;    /* of the bar */
    double off_best;     /* mean of width and thickness less the thickness for most force */
    const char *warning; /* NULL when none */
};

/* Room behind a bar at x from the middle of the span. */
double hand_room_at(const struct hand_case *c, double x);
int hand_room(struct hand_room *out, const struct stuff_shelf *shelf, const struct hand_case *c,
              struct arena *arena, struct error *err);

/* ---- mass and balance ----------------------------------------------------------------------- */

/* A part: its mass, or volume and density; where its middle is. */
struct hand_part {
    const char *name;
    double mass, volume, density; /* g, mm3, g/mm3 */
    double log_sd;                /* spread of the mass, of its logarithm */
    double x, y, z;               /* plan: right, up, toward the viewer */
};
struct hand_balance {
    double mass, p05, p95; /* g */
    double x, y, z;        /* of the centre of mass */
    double tilt;   /* rad the object hangs from level when held at the point, free to turn */
    double torque; /* N mm the wrist has to bear to keep it level */
};
/* The spread of the sum counts density shared between parts as one: log sd are added with
 * correlation `shared` (0 to 1). */
int hand_balance(struct hand_balance *out, const struct hand_part *parts, size_t n,
                 const double held[3], double shared, struct error *err);

#endif
